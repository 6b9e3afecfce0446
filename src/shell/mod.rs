//! What surrounds the listener in a host: parameters, saved state, and the bridge to the audio thread.

pub mod bridge;
pub mod capture;
pub mod carried;
pub mod choices;
pub mod device;
pub mod export;
pub mod history;
pub mod kept;
mod markers;
mod pages;
pub mod params;
pub mod practice;
pub mod profiles;
pub mod setup;
pub mod state;
