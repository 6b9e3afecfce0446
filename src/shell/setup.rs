//! The choices that have names, compiled into plain numbers for the audio thread.
//!
//! In: [`Chosen`] (strings, as saved). Out: [`Setup`], `Copy` and of fixed size. A name that this
//! build does not know is told in words and stands for the default; the saved text is left as it is.

use super::state::Chosen;
use crate::drone::{DroneSetting, First, Kind, Reeds, STRINGS, Stringing, folded, own_variant};
use crate::listener;
use crate::note::{Band, Expected};
use crate::swara::{Nudges, Scale, Sthayi, Swara, Target, Targets, Tuning};
use crate::units::{Cents, Decibels, Hertz};
use std::sync::atomic::{AtomicU32, Ordering};

/// What the audio thread needs of the named choices.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setup {
    /// Counts compilations.
    pub id: u32,
    /// Changes only when tuning, nudges, scale or pupil change: statistics belong to one.
    pub page: u32,
    /// The allowed swaras and where they lie.
    pub targets: Targets,
    /// Where each of the twelve positions lies in the tuning, cents above Sa, nudges included.
    pub positions: [Cents; 12],
    /// The drone as chosen; Sa, level and on are the parameters'.
    pub drone: DroneSetting,
}

/// Setups compiled so far in this process.
static COMPILED: AtomicU32 = AtomicU32::new(1);

/// A compiled setup, what it stands for, and what had to be replaced to make it.
#[derive(Debug, Clone, PartialEq)]
pub struct Compiled {
    /// For the audio thread.
    pub setup: Setup,
    /// The tuning that it stands for.
    pub tuning: Tuning,
    /// The scale that it stands for.
    pub scale: Scale,
    /// How far the teacher moved the targets.
    pub nudges: Nudges,
    /// The number of the pupil whose statistics are counted.
    pub pupil: u32,
    /// Choices that could not be used, in words.
    pub remarks: Vec<String>,
}

/// Compiles the choices. `previous` keeps its page when tuning, nudges, scale and pupil are the same.
#[must_use]
pub fn compile(chosen: &Chosen, previous: Option<&Compiled>) -> Compiled {
    let mut remarks = Vec::new();
    let tuning = or_default(Tuning::try_from(chosen.tuning.clone()), &mut remarks);
    let scale = or_default(Scale::parse(&chosen.scale), &mut remarks);
    let nudges = or_default(Nudges::try_from(chosen.nudges), &mut remarks);
    let targets = scale.targets(&tuning, &nudges);
    let positions = std::array::from_fn(|i| {
        let position = u8::try_from(i).unwrap_or(0);
        let plain = Cents(100.0 * f64::from(position));
        Cents(tuning.cents_at(position).unwrap_or(plain).0 + nudges.at(position).0)
    });
    let drone = drone(chosen, &scale, positions, &mut remarks);
    let id = COMPILED.fetch_add(1, Ordering::Relaxed);
    let pupil = chosen.pupil_page;
    let same = |p: &&Compiled| p.scale == scale && p.tuning == tuning && p.setup.targets == targets && p.pupil == pupil;
    let page = previous.filter(same).map_or(id, |p| p.setup.page);
    Compiled { setup: Setup { id, page, targets, positions, drone }, tuning, scale, nudges, pupil, remarks }
}

fn or_default<T: Default, E: std::fmt::Display>(result: Result<T, E>, remarks: &mut Vec<String>) -> T {
    result.unwrap_or_else(|error| {
        remarks.push(error.to_string());
        T::default()
    })
}

fn drone(chosen: &Chosen, scale: &Scale, positions: [Cents; 12], remarks: &mut Vec<String>) -> DroneSetting {
    let plain = DroneSetting::default();
    let kind = match chosen.drone_kind.as_str() {
        "reed" => Kind::Reed,
        "strings" => Kind::Strings,
        other => {
            remarks.push(format!("unknown drone kind '{other}': choose strings or reed"));
            plain.kind
        }
    };
    let first = match chosen.first_string.as_str() {
        "pa" => First::Pa,
        "ma" => First::Ma,
        "ni" => First::Ni,
        "ga" => First::Ga,
        "none" => First::None,
        other => {
            remarks.push(format!("unknown first string '{other}': choose pa, ma, ni, ga or none"));
            First::Pa
        }
    };
    // Ni and Ga strings take the raga's own variant; without one, the major one.
    let names = scale.names();
    let at = |first: First, major: Swara| {
        let position = own_variant(&names, first).unwrap_or(major).position();
        positions.get(usize::from(position)).copied().unwrap_or(Cents(0.0))
    };
    let (ni, ga) = (at(First::Ni, Swara::N3), at(First::Ga, Swara::G3));
    let stringing = Stringing { first, with_ni: chosen.fifth_string, ni, ga };
    let mut reeds = Reeds { cents: positions, ..Reeds::default() };
    if !chosen.reed_positions.is_empty() {
        reeds.sounding = std::array::from_fn(|i| chosen.reed_positions.iter().any(|p| usize::from(*p) == i));
    } else if first == First::Ma {
        reeds.sounding = std::array::from_fn(|i| matches!(i, 0 | 5 | 12));
    }
    let mut trims = [Cents(0.0); STRINGS];
    for (trim, cents) in trims.iter_mut().zip(chosen.string_trims) {
        *trim = Cents(cents);
    }
    let drone = DroneSetting {
        kind,
        stringing,
        pluck_s: chosen.pluck_seconds,
        trims,
        pair_detune: Cents(chosen.pair_cents),
        reeds,
        ..plain
    };
    if let Err(error) = drone.validate() {
        remarks.push(error.to_string());
        return DroneSetting { kind, stringing, reeds, ..plain };
    }
    drone
}

impl Setup {
    /// What the listener measures against, for the knobs' Sa and band.
    #[must_use]
    pub fn listening(&self, sa: Hertz, band: Band, expected: Option<(Swara, Sthayi)>) -> listener::Setting {
        let mut setting = listener::Setting::new(sa, self.targets, band);
        setting.expected = expected.map(|(swara, sthayi)| Expected { target: self.target(swara), sthayi });
        setting
    }

    /// The drone for the knobs' Sa and level. A Sa beyond its reach is folded by octaves: so it can always be switched off and
    /// turned down, and never stays on a Sa that is gone.
    #[must_use]
    pub fn drone(&self, sa: Hertz, level: Decibels, on: bool) -> DroneSetting {
        let (low, high) = crate::drone::LEVEL_DB;
        DroneSetting {
            sa: folded(sa),
            level: Decibels(level.0.clamp(low, high)),
            on: on && level.0 > low,
            ..self.drone
        }
    }

    /// Where a swara lies above Sa, in the scale or not.
    #[must_use]
    pub fn target(&self, swara: Swara) -> Target {
        let position = swara.position();
        let cents = self.positions.get(usize::from(position)).copied().unwrap_or(Cents(0.0));
        Target { swara, cents: self.targets.at(position).map_or(cents, |t| t.cents) }
    }

    /// The interval above Sa of a key so many semitones above the tonic key.
    #[must_use]
    pub fn of_key(&self, semitones: i32) -> Cents {
        let octave = semitones.div_euclid(12);
        let position = usize::try_from(semitones.rem_euclid(12)).unwrap_or(0);
        let within = self.positions.get(position).copied().unwrap_or(Cents(0.0));
        Cents(within.0 + 1200.0 * f64::from(octave))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unknown_names_are_told_and_stand_for_the_default() {
        let chosen = Chosen { scale: "janya-nobody".into(), drone_kind: "bells".into(), ..Chosen::default() };
        let compiled = compile(&chosen, None);
        assert_eq!(compiled.remarks.len(), 2, "{:?}", compiled.remarks);
        assert_eq!(compiled.scale, Scale::default());
        assert_eq!(compiled.setup.drone.kind, Kind::Strings);
    }

    #[test]
    fn only_tuning_nudges_scale_and_pupil_open_a_page() {
        let first = compile(&Chosen::default(), None);
        let reed = compile(&Chosen { drone_kind: "reed".into(), ..Chosen::default() }, Some(&first));
        assert_eq!(reed.setup.page, first.setup.page);
        let raga = compile(&Chosen { scale: "mela-15".into(), ..Chosen::default() }, Some(&first));
        assert_ne!(raga.setup.page, first.setup.page);
        let pupil = compile(&Chosen { pupil_page: 7, ..Chosen::default() }, Some(&first));
        assert_ne!(pupil.setup.page, first.setup.page);
    }

    #[test]
    fn at_the_highest_sa_the_drone_is_still_a_setting_that_can_be_used() {
        let setup = compile(&Chosen::default(), None).setup;
        for (sa, sounds) in [(987.77, 493.885), (1_000.0, 500.0), (146.83, 146.83)] {
            for on in [true, false] {
                let drone = setup.drone(Hertz(sa), Decibels(-20.0), on);
                assert_eq!((drone.validate(), drone.on, drone.sa), (Ok(()), on, Hertz(sounds)));
            }
        }
    }

    #[test]
    fn ni_and_ga_strings_sound_the_ragas_own_variant() {
        let strings = |scale: &str, tuning: Tuning| {
            let chosen = Chosen { scale: scale.into(), tuning: tuning.into(), ..Chosen::default() };
            let compiled = compile(&chosen, None);
            assert!(compiled.remarks.is_empty(), "{scale}: {:?}", compiled.remarks);
            let Stringing { ni, ga, .. } = compiled.setup.drone.stringing;
            (ni.0, ga.0)
        };
        let close = |(ni, ga): (f64, f64), expected: (f64, f64)| {
            assert!((ni - expected.0).abs() < 1e-3 && (ga - expected.1).abs() < 1e-3, "{ni} {ga}, not {expected:?}");
        };
        // 5/3, 15/8, 9/8 and 5/4, cents (Ellis 1885).
        close(strings("mela-1", Tuning::Just), (884.359, 203.910));
        close(strings("mela-36", Tuning::Just), (1088.269, 386.314));
        close(strings("mela-31", Tuning::Just), (884.359, 386.314));
        close(strings("mela-1", Tuning::Equal), (900.0, 200.0));
        close(strings("sa-pa-sa", Tuning::Just), (1088.269, 386.314));
        // A nudge as far down as it goes is still a string.
        let mut chosen = Chosen { scale: "mela-1".into(), ..Chosen::default() };
        (chosen.nudges[2], chosen.nudges[9]) = (-50.0, -50.0);
        let compiled = compile(&chosen, None);
        assert!(compiled.remarks.is_empty(), "{:?}", compiled.remarks);
        assert!((compiled.setup.drone.stringing.ga.0 - 153.910).abs() < 1e-3);
    }

    #[test]
    fn the_tonic_key_is_sa_and_the_seventh_above_it_is_a_pure_fifth() {
        let setup = compile(&Chosen::default(), None).setup;
        assert_eq!(setup.of_key(0), Cents(0.0));
        assert!((setup.of_key(7).0 - 701.955).abs() < 1e-3);
        assert!((setup.of_key(-5).0 - (701.955 - 1200.0)).abs() < 1e-3);
    }
}
