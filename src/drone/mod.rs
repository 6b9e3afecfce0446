//! The drone: Sa and a stringing become samples; knows no voice.
//!
//! In: a [`DroneSetting`] (Sa in Hz, strings or reed, timing, level), string [`Material`] made off the audio thread, and
//! reference or MIDI tones. Out: mono samples at the host's rate from [`Player`], under a stated peak. [`render()`] does the
//! same at once, for files and tests.
//!
//! How the parts hang together: [`Material::plain`] is ready in under 0.1 s, [`Material::full`] in a few; both are
//! handed to [`Player::swap`], and what comes back from it or from [`Player::retired`] is dropped where it was made.

mod bridge;
mod interpolate;
#[cfg(test)]
mod marks;
mod material;
mod measure;
mod plain;
mod player;
mod proposal;
mod ramp;
mod reed;
mod render;
mod setting;
mod strings;
mod tones;
mod tuning;
mod wavetable;

pub use material::{Grade, Material};
pub use player::{FADE_IN_S, FADE_OUT_S, Player};
pub use proposal::{own_variant, proposed};
pub use render::render;
pub use setting::{
    BadSetting, DEFAULT_LEVEL_DB, DroneSetting, First, Kind, LEVEL_DB, PAIR_CENTS, PLUCK_S, REEDS, Reeds, SA_HZ,
    STRINGS, StringRole, Stringing, TRIM_CENTS, folded,
};
pub use tones::ReferenceTone;
