//! The exercises there are, as a table: a new one on a machine that exists is a row here and no code.
//!
//! In: nothing. Out: [`EXERCISES`] with their settings, and for a scale the values that each setting may take. The first value of a
//! setting is its default, where none is named. A round's steps are written as in notation: `.P` mandra, `P` madhya, `S'` tara, in brackets what may
//! be left out: `(S')`.

use super::fixed_round::STEPS;
use super::{Manner, Step};
use crate::note::{Band, Expected};
use crate::swara::{Sthayi, Swara, Target, Targets};
use crate::units::Cents;

/// Which machine walks through an exercise.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Machine {
    /// One swara, steady, toward a goal in minutes.
    LongTone,
    /// Swaras one after another, each with its mark.
    Round,
    /// The ear answers before the meter shows.
    EarFirst,
}

/// The values that a setting may take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Values {
    /// These: key and label.
    Named(&'static [(&'static str, &'static str)]),
    /// These in their order, and which of them is the default.
    Ranked(&'static [(&'static str, &'static str)], &'static str),
    /// These orders of swaras, or any other as it is written.
    Steps(&'static [(&'static str, &'static str)]),
    /// The swaras of the scale, Sa first; with `true` also "any", first.
    Swaras(bool),
}

/// A setting of an exercise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Setting {
    /// Its stable key.
    pub key: &'static str,
    /// Its name.
    pub name: &'static str,
    /// What it may be.
    pub values: Values,
}

/// One exercise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Exercise {
    /// Its stable key.
    pub key: &'static str,
    /// Its name.
    pub name: &'static str,
    /// What it is for, in a sentence.
    pub about: &'static str,
    /// Who walks through it.
    pub machine: Machine,
    /// What the teacher sets.
    pub settings: &'static [Setting],
}

/// Setting keys that the machines know.
pub(super) mod keys {
    pub(crate) const SWARA: &str = "swara";
    pub(crate) const STHAYI: &str = "sthayi";
    pub(crate) const MINUTES: &str = "minutes";
    pub(crate) const STEADY: &str = "steady";
    pub(crate) const TONE: &str = "tone";
    pub(crate) const STEPS: &str = "steps";
    pub(crate) const MANNER: &str = "manner";
    pub(crate) const HOLD: &str = "hold";
    pub(crate) const READY: &str = "ready";
}

const STHAYIS: Values = Values::Named(&[("0", "madhya"), ("-1", "mandra"), ("1", "tara")]);

/// All exercises.
pub const EXERCISES: &[Exercise] = &[
    Exercise {
        key: "long-tone",
        name: "Long tone",
        about: "one swara, held steady, toward a goal in minutes; rests belong to it",
        machine: Machine::LongTone,
        settings: &[
            Setting { key: keys::SWARA, name: "Swara", values: Values::Swaras(false) },
            Setting { key: keys::STHAYI, name: "Register", values: STHAYIS },
            Setting {
                key: keys::MINUTES,
                name: "Goal",
                values: Values::Ranked(
                    &[
                        ("0.5", "half a minute steady"),
                        ("1", "1 minute steady"),
                        ("2", "2 minutes steady"),
                        ("3", "3 minutes steady"),
                        ("5", "5 minutes steady"),
                        ("10", "10 minutes steady"),
                    ],
                    "2",
                ),
            },
            Setting {
                key: keys::STEADY,
                name: "Steady is",
                values: Values::Ranked(
                    &[
                        ("8", "within 8 cents (strict)"),
                        ("12", "within 12 cents (usual)"),
                        ("18", "within 18 cents (gentle)"),
                        ("25", "within 25 cents (first weeks)"),
                    ],
                    "12",
                ),
            },
            Setting {
                key: keys::TONE,
                name: "Reference tone",
                values: Values::Named(&[("none", "none: voice and drone"), ("along", "sounds along")]),
            },
        ],
    },
    Exercise {
        key: "fixed-round",
        name: "Fixed-tone round",
        about: "S, P and the upper S, one after another; each gets its mark as it is sung",
        machine: Machine::Round,
        settings: &[
            Setting {
                key: keys::STEPS,
                name: "Order",
                values: Values::Steps(&[
                    ("S P (S')", "S P S', the upper S may be left out"),
                    ("S P S'", "S P S'"),
                    ("S P", "S P"),
                    ("S P S' P S", "S P S' P S"),
                    ("S (S') P S", "S S' P S, the upper S may be left out"),
                    ("S .P S P", "S, low P, S, P"),
                ]),
            },
            Setting {
                key: keys::MANNER,
                name: "Tone and voice",
                values: Values::Named(&[
                    ("listen", "listen, then sing"),
                    ("together", "together"),
                    ("alone", "alone, with the drone"),
                ]),
            },
            Setting {
                key: keys::HOLD,
                name: "Hold each",
                values: Values::Ranked(&[("1", "1 s"), ("2", "2 s"), ("4", "4 s"), ("8", "8 s")], "2"),
            },
            Setting {
                key: keys::READY,
                name: "Ready after",
                values: Values::Ranked(
                    &[
                        ("2", "2 good rounds in a row"),
                        ("3", "3 good rounds in a row"),
                        ("5", "5 good rounds in a row"),
                    ],
                    "3",
                ),
            },
        ],
    },
    Exercise {
        key: "ear-first",
        name: "Ear first",
        about: "say low, same or high about your own note; only then the meter shows it. The answer stands until you begin the \
                next note, or press N",
        machine: Machine::EarFirst,
        settings: &[
            Setting { key: keys::SWARA, name: "Swara", values: Values::Swaras(true) },
            Setting { key: keys::STHAYI, name: "Register", values: STHAYIS },
            Setting {
                key: keys::HOLD,
                name: "Asked about notes of",
                values: Values::Named(&[("1", "1 s or more"), ("2", "2 s or more"), ("4", "4 s or more")]),
            },
        ],
    },
];

/// The exercise of a key.
#[must_use]
pub fn find(key: &str) -> Option<&'static Exercise> {
    EXERCISES.iter().find(|exercise| exercise.key == key)
}

impl Setting {
    /// Key and label of each value in a scale.
    #[must_use]
    pub fn options(&self, targets: &Targets) -> Vec<(String, String)> {
        match self.values {
            Values::Named(values) | Values::Ranked(values, _) | Values::Steps(values) => {
                values.iter().map(|(k, l)| ((*k).to_owned(), (*l).to_owned())).collect()
            }
            Values::Swaras(any) => {
                let all = targets.by_position.iter().flatten();
                let named = all.map(|t| (t.swara.short().to_owned(), format!("{} ({})", t.swara, t.swara.full_name())));
                let any = any.then(|| ("any".to_owned(), "any of the scale".to_owned()));
                any.into_iter().chain(named).collect()
            }
        }
    }

    /// The chosen value where it is one in this scale, else the default. Where values are numbers, any number over 0 and up to 60
    /// is taken, listed or not; where they are orders, any that can be read.
    #[must_use]
    pub fn value(&self, chosen: Option<&str>, targets: &Targets) -> String {
        let options = self.options(targets);
        if let Some(own) = chosen.filter(|own| matches!(self.values, Values::Steps(_)) && readable(own, targets)) {
            return own.to_owned();
        }
        let number = |text: &str| text.parse::<f64>().ok().filter(|x| *x > 0.0 && *x <= 60.0);
        if let Some(own) = chosen.filter(|c| number(c).is_some())
            && options.first().is_some_and(|(key, _)| number(key).is_some())
        {
            return own.to_owned();
        }
        let usual = if let Values::Ranked(_, usual) = self.values { Some(usual) } else { None };
        let named = |name: Option<&str>| options.iter().find(|(key, _)| Some(key.as_str()) == name);
        let found = named(chosen).or_else(|| named(usual)).or_else(|| options.first());
        found.map_or_else(String::new, |(key, _)| key.clone())
    }
}

/// Whether every word of an order is a swara, and there are not too many.
fn readable(written: &str, targets: &Targets) -> bool {
    let mut words = written.split_whitespace();
    (1..=STEPS).contains(&words.clone().count()) && words.all(|word| read(word, targets).is_some())
}

/// One word of an order: the swara, its register, and whether it may be left out. A letter without its digit is the scale's own.
fn read(word: &str, targets: &Targets) -> Option<(Swara, Sthayi, bool)> {
    let inside = word.strip_prefix('(').and_then(|w| w.strip_suffix(')'));
    let name = inside.unwrap_or(word);
    let low = name.chars().take_while(|c| *c == '.').count();
    let high = name.chars().rev().take_while(|c| *c == '\'').count();
    let name = name.trim_matches(['.', '\'']);
    let of_scale = || {
        let mut own = targets.by_position.iter().flatten().map(|t| t.swara);
        own.find(|swara| name.len() == 1 && swara.short().get(..1).is_some_and(|c| c.eq_ignore_ascii_case(name)))
    };
    let swara = Swara::from_short(name).or_else(of_scale)?;
    let sthayi = i8::try_from(high).ok()?.checked_sub(i8::try_from(low).ok()?)?;
    (-2..=2).contains(&sthayi).then_some((swara, Sthayi(sthayi), inside.is_some()))
}

/// What an exercise is sung against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// The swaras that count.
    pub targets: Targets,
    /// Where each of the twelve positions lies above Sa, in the scale or not.
    pub positions: [Cents; 12],
    /// In-tune half-widths.
    pub band: Band,
}

impl Place {
    /// A swara in its register.
    #[must_use]
    pub fn swara(&self, swara: Swara, sthayi: Sthayi) -> Expected {
        let position = swara.position();
        let plain = self.positions.get(usize::from(position)).copied().unwrap_or(Cents(0.0));
        let cents = self.targets.at(position).map_or(plain, |t| t.cents);
        Expected { target: Target { swara, cents }, sthayi }
    }

    /// Steps as written; what is no swara is left out, and so is a ninth step.
    #[must_use]
    pub fn steps(&self, written: &str) -> [Option<Step>; STEPS] {
        let mut steps = [None; STEPS];
        let read = written.split_whitespace().filter_map(|word| self.step(word));
        for (slot, step) in steps.iter_mut().zip(read) {
            *slot = Some(step);
        }
        steps
    }

    fn step(&self, word: &str) -> Option<Step> {
        let (swara, sthayi, optional) = read(word, &self.targets)?;
        Some(Step { swara: self.swara(swara, sthayi), optional })
    }
}

impl Manner {
    /// The manner of a key; listening first for any other.
    pub(super) fn of_key(key: &str) -> Self {
        match key {
            "together" => Self::Together,
            "alone" => Self::Alone,
            _ => Self::ListenThenSing,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::swara::{Nudges, Scale, Tuning};

    pub(super) fn place() -> Place {
        let targets = Scale::SaPaSa.targets(&Tuning::Just, &Nudges::default());
        let positions = std::array::from_fn(|i| Cents(100.0 * i as f64));
        Place { targets, positions, band: Band { fixed: Cents(20.0), others: Cents(25.0) } }
    }

    #[test]
    fn steps_are_read_as_notation() {
        let steps = place().steps("S .P (S') x G3");
        let seen: Vec<_> =
            steps.iter().flatten().map(|s| (s.swara.target.swara, s.swara.sthayi.0, s.optional)).collect();
        assert_eq!(seen, [(Swara::S, 0, false), (Swara::P, -1, false), (Swara::S, 1, true), (Swara::G3, 0, false)]);
        // Pa is a pure fifth (3/2) in the scale; Ga, outside it, lies where the tuning has it.
        let cents: Vec<f64> = steps.iter().flatten().map(|s| s.swara.target.cents.0).collect();
        assert!((cents[1] - 701.955).abs() < 1e-3 && (cents[3] - 400.0).abs() < 1e-9);
    }

    #[test]
    fn keys_are_told_apart_and_every_order_can_be_read() {
        for (i, a) in EXERCISES.iter().enumerate() {
            assert!(EXERCISES.iter().skip(i + 1).all(|b| a.key != b.key));
            for setting in a.settings {
                assert!(!setting.options(&place().targets).is_empty(), "{} {}", a.key, setting.key);
            }
            for setting in a.settings.iter().filter(|s| s.key == keys::STEPS) {
                for (written, _) in setting.options(&place().targets) {
                    let read = place().steps(&written).iter().flatten().count();
                    assert_eq!(read, written.split_whitespace().count(), "{written}");
                }
            }
        }
    }

    #[test]
    fn an_order_that_a_teacher_types_is_taken_where_every_word_is_a_swara() {
        let order = EXERCISES[1].settings[0];
        let seven = Scale::parse("mela-15").unwrap().targets(&Tuning::Just, &Nudges::default());
        for own in ["S P S' P S", "s .p s", "S R G P S'", "S R1 (P)"] {
            assert_eq!(order.value(Some(own), &seven), own);
        }
        // Of nine steps, of a word that is no swara, of nothing, the default stands.
        for bad in ["S P S P S P S P S", "S X P", "", "S'''"] {
            assert_eq!(order.value(Some(bad), &seven), "S P (S')", "{bad}");
        }
        let place = Place { targets: seven, ..place() };
        let named: Vec<_> = place.steps("S R G P").iter().flatten().map(|s| s.swara.target.swara).collect();
        assert_eq!(named, [Swara::S, Swara::R1, Swara::G3, Swara::P], "the raga's own");
    }

    #[test]
    fn a_value_that_the_scale_lacks_gives_the_default() {
        let setting = EXERCISES[0].settings[0];
        assert_eq!(setting.value(Some("P"), &place().targets), "P");
        assert_eq!(setting.value(Some("G3"), &place().targets), "S");
        assert_eq!(setting.value(None, &place().targets), "S");
        let goal = EXERCISES[0].settings[2];
        for (chosen, taken) in [("7", "7"), ("0", "2"), ("NaN", "2"), ("61", "2"), ("0.5", "0.5")] {
            assert_eq!(goal.value(Some(chosen), &place().targets), taken);
        }
        // In the order of their sizes, whichever is the default.
        let steady = EXERCISES[0].settings[3];
        let sizes: Vec<f64> = steady.options(&place().targets).iter().map(|(key, _)| key.parse().unwrap()).collect();
        assert!(sizes.is_sorted(), "{sizes:?}");
        assert_eq!(steady.value(None, &place().targets), "12");
    }
}
