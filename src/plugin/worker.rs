//! What the audio thread leaves to others: making string material, gathering notes and pages.

use super::Achala;
use crate::drone::{DroneSetting, Material};
use crate::shell::bridge::Bridge;
use crate::units::SampleRate;
use nice_plug::prelude::*;
use std::sync::Arc;

/// Work for the background thread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Task {
    /// Gather what waits in the channels, so that a lesson is kept with the window closed.
    Gather,
    /// Make the string material that the audio thread wants, at this rate in Hz.
    Material(i64),
}

/// The closure that does the work.
pub(super) fn executor(bridge: Arc<Bridge>) -> TaskExecutor<Achala> {
    Box::new(move |task| {
        bridge.free_retired();
        match task {
            Task::Gather => bridge.history(|_| {}),
            Task::Material(rate) => make(&bridge, rate),
        }
    })
}

/// Something exact and plain first, then the full model; given up as soon as something else is wanted.
fn make(bridge: &Bridge, rate: i64) {
    let Some(rate) = i32::try_from(rate).ok().and_then(|hz| SampleRate::new(f64::from(hz)).ok()) else { return };
    for full in [false, true] {
        let Some(wanted) = bridge.wanted() else { return };
        let Some(material) = material(&wanted, rate, full) else { return };
        // Nobody takes it when the host has stopped processing; it is made again when that goes on.
        drop(bridge.give(material));
        bridge.free_retired();
    }
}

/// String material for a setting; `None` for a reed, which needs none, and for a setting out of range.
pub(super) fn material(setting: &DroneSetting, rate: SampleRate, full: bool) -> Option<Box<Material>> {
    if setting.kind != crate::drone::Kind::Strings || setting.validate().is_err() {
        return None;
    }
    Some(if full { Material::full(setting, rate) } else { Material::plain(setting, rate) })
}
