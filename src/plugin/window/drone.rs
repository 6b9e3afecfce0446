//! The drone in the window: what there is to set of it, and what the user sets.

use super::act::Doer;
use super::knobs;
use crate::drone::{First, StringRole, folded, proposed};
use crate::editor::action::{DroneChange, Field};
use crate::editor::view::{Choice, DroneTo, Proposal, ReedView, View};
use crate::shell::bridge::Live;
use crate::shell::params::{self, AchalaParams};
use crate::shell::setup::Compiled;
use crate::shell::state::Chosen;
use crate::swara::{Scale, Swara};

/// A choice among names.
fn choice(current: &str, options: &[(&str, &str)]) -> Choice {
    Choice {
        current: current.to_owned(),
        options: options.iter().map(|(k, l)| ((*k).to_owned(), (*l).to_owned())).collect(),
    }
}

/// What the drone's choices are called, where they changed.
pub(super) fn names(chosen: &Chosen, compiled: &Compiled, view: &mut View) {
    let drone = &mut view.drone;
    drone.kind = choice(&chosen.drone_kind, &[("strings", "Plucked strings"), ("reed", "Reed")]);
    drone.stringing = choice(
        &chosen.first_string,
        &[
            ("pa", "First string Pa"),
            ("ma", "First string Ma"),
            ("ni", "First string Ni"),
            ("ga", "First string Ga"),
            ("none", "No first string"),
        ],
    );
    let setting = &compiled.setup.drone;
    drone.proposal = proposal(&compiled.scale, setting.stringing.first);
    (drone.fifth, drone.pluck_s, drone.pair_cents) =
        (setting.stringing.with_ni, setting.pluck_s, setting.pair_detune.0);
    let strings = StringRole::ALL.iter().enumerate().zip(setting.trims);
    drone.trims = strings
        .filter(|((_, role), _)| setting.string_hz(**role).is_some())
        .map(|((place, role), trim)| (place, string(*role, setting.stringing.first), trim.0))
        .collect();
    let names = compiled.scale.names();
    drone.own_reeds = !chosen.reed_positions.is_empty();
    drone.reeds = (0u8..)
        .zip(setting.reeds.sounding)
        .filter_map(|(position, sounds)| {
            let of_scale = names.get(usize::from(position % 12)).copied().flatten();
            let shown = position == 12 || of_scale.is_some() || sounds;
            let name = reed(position, of_scale);
            shown.then_some(ReedView { position, name, sounds })
        })
        .collect();
}

/// A string as it is called.
fn string(role: StringRole, first: First) -> String {
    let name = match role {
        StringRole::First => word(first),
        StringRole::Ni => "Ni",
        StringRole::PairLow => "first Sa",
        StringRole::PairHigh => "second Sa",
        StringRole::Low => "low Sa",
    };
    format!("the {name} string")
}

fn word(first: First) -> &'static str {
    match first {
        First::Pa => "Pa",
        First::Ma => "Ma",
        First::Ni => "Ni",
        First::Ga => "Ga",
        First::None => "none",
    }
}

/// A reed's swara, by the scale's name for it where it has one.
fn reed(position: u8, of_scale: Option<Swara>) -> String {
    let plain = || Swara::ALL.into_iter().find(|swara| swara.position() == position % 12);
    let name = of_scale.or_else(plain).map_or("S", Swara::short);
    if position == 12 { format!("{name}'") } else { name.to_owned() }
}

/// What is said where the first string sounds a swara that the raga lacks.
fn proposal(scale: &Scale, first: First) -> Option<Proposal> {
    let better = proposed(&scale.names(), first)?;
    let lacks = format!("This raga has no {}", word(first));
    let key = word(better).to_lowercase();
    Some(match better {
        First::None => {
            Proposal { told: format!("{lacks}, and no other first string suits it."), take: "Take it away".into(), key }
        }
        _ => {
            let name = word(better);
            Proposal { told: format!("{lacks}: {name} as first string suits it."), take: format!("Take {name}"), key }
        }
    })
}

/// What the knobs say of the drone.
pub(super) fn knobs(params: &AchalaParams, live: &Live, view: &mut View) {
    let drone = &mut view.drone;
    drone.on = params.drone_on.value();
    drone.octave_lower = folded(params.sa_hz()) != params.sa_hz();
    drone.level = knobs::text(params, Field::DroneLevel);
    drone.to = match params.drone_to.value() {
        params::DroneTo::Main => DroneTo::Main,
        params::DroneTo::Own => DroneTo::Own,
        params::DroneTo::Both => DroneTo::Both,
    };
    drone.silent_after_reopen = live.drone_waits;
    drone.printed = params.drone_print.value();
}

/// Another first string: its trim was another string's, and begins at 0.
pub(super) fn restring(key: &str, chosen: &mut Chosen) {
    if chosen.first_string != key
        && let Some(place) = StringRole::ALL.iter().position(|role| *role == StringRole::First)
        && let Some(trim) = chosen.string_trims.get_mut(place)
    {
        *trim = 0.0;
    }
    key.clone_into(&mut chosen.first_string);
}

/// Keeps what was set.
pub(super) fn change(change: DroneChange, chosen: &mut Chosen, sounding: &[ReedView]) {
    match change {
        DroneChange::Fifth(on) => chosen.fifth_string = on,
        DroneChange::Pluck(seconds) => chosen.pluck_seconds = seconds,
        DroneChange::Pair(cents) => chosen.pair_cents = cents,
        DroneChange::Trim(place, cents) => {
            if let Some(trim) = chosen.string_trims.get_mut(place) {
                *trim = cents;
            }
        }
        DroneChange::Reed(position, on) => {
            let now = sounding.iter().filter(|reed| reed.sounds && reed.position != position).map(|reed| reed.position);
            chosen.reed_positions = now.chain(on.then_some(position)).collect();
            chosen.reed_positions.sort_unstable();
        }
        DroneChange::PlainReeds => chosen.reed_positions.clear(),
    }
}

impl Doer<'_> {
    pub(super) fn drone(&mut self, asked: DroneChange) {
        self.links.choices.change(|chosen| change(asked, chosen, &self.view.drone.reeds));
    }
}
