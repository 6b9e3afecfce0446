//! Achala listens to a voice, measures it against Sa, and shows how each swara fared.
//!
//! The flow, in the order of the rooms below; each room imports only rooms above it:
//!
//! ```text
//! host audio -> input -> (bleed) -> pitch -> swara -> note -> meter
//!                                              \        \-> exercise
//!                    listener: the chain above, wired once; used by the plugin and by take
//! Sa -> drone -> host audio
//! a written phrase -> voice: sings it with a known pitch, for tests and the demo
//! ```
//!
//! Everything up to [`take`] is the core: it knows neither the plugin framework nor the window and
//! builds alone with `--no-default-features`.

pub mod units;

pub mod input;

pub mod pitch;

pub mod swara;

pub mod note;

pub mod meter;

pub mod exercise;

pub mod bleed;

pub mod listener;

pub mod drone;

pub mod voice;

pub mod take;

#[cfg(feature = "plugin")]
pub mod shell;

#[cfg(feature = "plugin")]
pub mod editor;

#[cfg(feature = "plugin")]
pub mod plugin;
