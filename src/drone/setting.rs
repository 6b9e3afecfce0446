//! What the drone shall be: Sa, strings or reed, which string is first, how fast it is plucked, how loud.
//!
//! In: what a person chose. Out: one plain, fixed-size [`DroneSetting`] that can be handed to the audio thread, and
//! from it the exact frequency of every string and every reed (Hz). Drone Pa is 3/2 and drone Ma 4/3 of Sa in every
//! tuning; only Ri, Ga, Dha and Ni follow the tuning in force. Costs nothing; validated once, before it is used.
//!
//! What it does not handle: choosing a stringing for a raga (`proposal.rs` proposes one; it is never switched by itself).

use crate::units::{Cents, Decibels, Hertz};
use serde::{Deserialize, Serialize};

/// The most strings a stringing has: first, Ni, the pair of madhya Sa, mandra Sa.
pub const STRINGS: usize = 5;
/// How many reeds there are: the twelve positions from madhya Sa up, and tara Sa.
pub const REEDS: usize = 13;

/// Lowest and highest madhya Sa, Hz: below the lowest male and above the highest child's Sa (common practice, no source).
pub const SA_HZ: (f64, f64) = (50.0, 600.0);
/// Sa as the drone can sound it: octaves lower where it lies above the highest of [`SA_HZ`]. Every swara is the same an octave
/// away, so that the drone goes on being the ruler.
#[must_use]
pub fn folded(sa: Hertz) -> Hertz {
    let octaves = (sa.0 / SA_HZ.1).log2().ceil().max(0.0);
    Hertz(sa.0 * (-octaves).exp2())
}

/// Shortest and longest time per pluck, seconds (common practice 0.8 to 1.5 s, no source; wider on purpose).
pub const PLUCK_S: (f64, f64) = (0.6, 2.5);
/// Trim of one string, cents either way: enough to mistune a string on purpose, not to make another swara of it.
pub const TRIM_CENTS: f64 = 50.0;
/// Lowest and highest Ni of a Ni string, cents above Sa: from N1 (5/3) to N3 (15/8), and as far beyond as a tuning file and a
/// nudge may put them.
const NI_CENTS: (f64, f64) = (770.0, 1200.0);
/// Lowest and highest Ga of a Ga string, cents above Sa: from G1 (9/8) to G3 (5/4), and as far beyond.
const GA_CENTS: (f64, f64) = (90.0, 500.0);
/// Widest detuning of the pair of madhya Sa strings, cents.
pub const PAIR_CENTS: f64 = 10.0;
/// Lowest and highest level, dBFS: the level *is* the peak that nothing exceeds.
pub const LEVEL_DB: (f64, f64) = (-60.0, -3.0);
/// The default level, dBFS: a quarter of full scale.
pub const DEFAULT_LEVEL_DB: f64 = -12.0;

/// Strings or reed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// Plucked strings over a curved bridge.
    Strings,
    /// Steady free reeds.
    Reed,
}

/// What the first string is tuned to (always below madhya Sa).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum First {
    /// Mandra Pa, 3/4 of madhya Sa.
    Pa,
    /// Mandra Ma, 2/3 of madhya Sa.
    Ma,
    /// Mandra Ni, the raga's own variant.
    Ni,
    /// Mandra Ga, the raga's own variant.
    Ga,
    /// No first string.
    None,
}

/// Which strings there are.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Stringing {
    /// The first string.
    pub first: First,
    /// Whether a Ni string follows the first (five strings).
    pub with_ni: bool,
    /// Ni of the raga, cents above Sa (in the octave above it; the string sounds an octave lower).
    pub ni: Cents,
    /// Ga of the raga, cents above Sa (the string sounds an octave lower).
    pub ga: Cents,
}

/// Which reeds sound, and where the twelve swaras lie.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Reeds {
    /// Entry p: the reed at position p (semitones above madhya Sa) sounds; 12 is tara Sa.
    pub sounding: [bool; REEDS],
    /// Entry p: cents above Sa of position p in the tuning in force. Sa, Ma (5) and Pa (7) are taken as 1, 4/3, 3/2.
    pub cents: [Cents; 12],
}

/// Everything that says what the drone shall be.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DroneSetting {
    /// Whether it sounds.
    pub on: bool,
    /// Madhya Sa, Hz.
    pub sa: Hertz,
    /// Strings or reed.
    pub kind: Kind,
    /// Which strings.
    pub stringing: Stringing,
    /// Seconds from pluck to pluck; mandra Sa takes two of these.
    pub pluck_s: f64,
    /// Trim of each string in the order of [`StringRole`], cents.
    pub trims: [Cents; STRINGS],
    /// How far apart the two madhya Sa strings lie, cents; half down, half up.
    pub pair_detune: Cents,
    /// Which reeds.
    pub reeds: Reeds,
    /// The peak that drone, reference tone and MIDI tones together never exceed, dBFS.
    pub level: Decibels,
    /// Seed of the small differences from pluck to pluck: the same seed gives the same sound.
    pub seed: u64,
}

/// The strings in the order in which they are plucked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum StringRole {
    /// First string: Pa, Ma, Ni or Ga.
    First,
    /// The Ni string of a five-stringed instrument.
    Ni,
    /// First of the pair of madhya Sa strings, the lower one.
    PairLow,
    /// Second of the pair, the higher one.
    PairHigh,
    /// Mandra Sa.
    Low,
}

impl StringRole {
    /// All roles, in pluck order.
    pub const ALL: [StringRole; STRINGS] =
        [StringRole::First, StringRole::Ni, StringRole::PairLow, StringRole::PairHigh, StringRole::Low];
}

/// Why a setting cannot be used.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BadSetting {
    /// Which field.
    pub field: &'static str,
    /// Its value.
    pub value: f64,
    /// Lowest allowed value.
    pub low: f64,
    /// Highest allowed value.
    pub high: f64,
    /// Unit of the three numbers.
    pub unit: &'static str,
}

impl std::fmt::Display for BadSetting {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let BadSetting { field, value, low, high, unit } = self;
        write!(f, "the drone's {field} is {value} {unit}: choose a value from {low} to {high} {unit}")
    }
}

impl std::error::Error for BadSetting {}

/// The 5-limit table as most modern writers give it, cents of 1, 16/15, 9/8, 6/5, 5/4, 4/3, 45/32, 3/2, 8/5, 5/3, 9/5, 15/8.
const JUST: [(f64, f64); 12] = [
    (1.0, 1.0),
    (16.0, 15.0),
    (9.0, 8.0),
    (6.0, 5.0),
    (5.0, 4.0),
    (4.0, 3.0),
    (45.0, 32.0),
    (3.0, 2.0),
    (8.0, 5.0),
    (5.0, 3.0),
    (9.0, 5.0),
    (15.0, 8.0),
];

impl Default for Stringing {
    fn default() -> Self {
        let (ga, ni) = (Cents::of_ratio(5.0 / 4.0), Cents::of_ratio(15.0 / 8.0));
        Self { first: First::Pa, with_ni: false, ni, ga }
    }
}

impl Default for Reeds {
    /// S P S' in the 5-limit tuning.
    fn default() -> Self {
        let mut sounding = [false; REEDS];
        for (position, on) in sounding.iter_mut().enumerate() {
            *on = matches!(position, 0 | 7 | 12);
        }
        Self { sounding, cents: JUST.map(|(p, q)| Cents::of_ratio(p / q)) }
    }
}

impl Default for DroneSetting {
    /// Off, Sa = D3 (146.83 Hz), strings Pa Sa Sa Sa, 1.1 s a pluck, -12 dBFS.
    fn default() -> Self {
        Self {
            on: false,
            sa: Hertz::of_midi_key(50.0, Hertz(440.0)),
            kind: Kind::Strings,
            stringing: Stringing::default(),
            pluck_s: 1.1,
            trims: [Cents(0.0); STRINGS],
            pair_detune: Cents(1.5),
            reeds: Reeds::default(),
            level: Decibels(DEFAULT_LEVEL_DB),
            seed: 1,
        }
    }
}

fn within(field: &'static str, value: f64, (low, high): (f64, f64), unit: &'static str) -> Result<(), BadSetting> {
    if (low..=high).contains(&value) { Ok(()) } else { Err(BadSetting { field, value, low, high, unit }) }
}

impl DroneSetting {
    /// Says whether every value can be used.
    ///
    /// # Errors
    /// [`BadSetting`] names the first field out of range, with its value and the range.
    pub fn validate(&self) -> Result<(), BadSetting> {
        within("Sa", self.sa.0, SA_HZ, "Hz")?;
        within("time per pluck", self.pluck_s, PLUCK_S, "s")?;
        for trim in self.trims {
            within("string trim", trim.0, (-TRIM_CENTS, TRIM_CENTS), "cents")?;
        }
        within("detuning of the pair", self.pair_detune.0, (0.0, PAIR_CENTS), "cents")?;
        within("Ni string", self.stringing.ni.0, NI_CENTS, "cents")?;
        within("Ga string", self.stringing.ga.0, GA_CENTS, "cents")?;
        for cents in self.reeds.cents {
            within("reed", cents.0, (-100.0, 1300.0), "cents")?;
        }
        within("level", self.level.0, LEVEL_DB, "dBFS")
    }

    /// The frequency of a string, trim and detuning included; `None` when the stringing has no such string.
    #[must_use]
    pub fn string_hz(&self, role: StringRole) -> Option<Hertz> {
        let octave_down = Cents(-1200.0);
        let ratio = match role {
            StringRole::First => match self.stringing.first {
                First::Pa => 3.0 / 4.0,
                First::Ma => 2.0 / 3.0,
                First::Ni => self.stringing.ni.ratio() * octave_down.ratio(),
                First::Ga => self.stringing.ga.ratio() * octave_down.ratio(),
                First::None => return None,
            },
            StringRole::Ni if !self.stringing.with_ni => return None,
            StringRole::Ni => self.stringing.ni.ratio() * octave_down.ratio(),
            StringRole::PairLow => Cents(-0.5 * self.pair_detune.0).ratio(),
            StringRole::PairHigh => Cents(0.5 * self.pair_detune.0).ratio(),
            StringRole::Low => 0.5,
        };
        let index = StringRole::ALL.iter().position(|r| *r == role).unwrap_or(0);
        let trim = self.trims.get(index).copied().unwrap_or_default();
        Some(Hertz(self.sa.0 * ratio).up(trim))
    }

    /// All strings in pluck order.
    #[must_use]
    pub fn strings_hz(&self) -> [Option<Hertz>; STRINGS] {
        StringRole::ALL.map(|role| self.string_hz(role))
    }

    /// The frequency of the reed at `position` (0 madhya Sa to 12 tara Sa); `None` when it does not sound.
    #[must_use]
    pub fn reed_hz(&self, position: usize) -> Option<Hertz> {
        let ratio = match position {
            0 => 1.0,
            5 => 4.0 / 3.0,
            7 => 3.0 / 2.0,
            12 => 2.0,
            _ => self.reeds.cents.get(position)?.ratio(),
        };
        self.reeds.sounding.get(position).filter(|on| **on).map(|_| Hertz(self.sa.0 * ratio))
    }

    /// All reeds that sound.
    #[must_use]
    pub fn reeds_hz(&self) -> [Option<Hertz>; REEDS] {
        std::array::from_fn(|position| self.reed_hz(position))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drone_pa_and_ma_are_pure_in_every_tuning() {
        // Just ratios of the tambura's strings: Pa a fourth below Sa is 3/4, Ma a fifth below is 2/3 (common practice;
        // at C#3 = 138.59 Hz: Pa 103.94 Hz, mandra Sa 69.30 Hz).
        let mut setting = DroneSetting { sa: Hertz(138.591_3), ..DroneSetting::default() };
        setting.reeds.cents = std::array::from_fn(|p| Cents(100.0 * p as f64));
        setting.reeds.sounding = [true; REEDS];
        let pa = setting.string_hz(StringRole::First).expect("Pa");
        assert!((pa.0 - 103.94).abs() < 0.005, "{pa:?}");
        assert!((setting.string_hz(StringRole::Low).expect("low Sa").0 - 69.30).abs() < 0.005);
        assert_eq!(setting.reed_hz(7), Some(Hertz(138.591_3 * 1.5)));
        let ma = setting.reed_hz(5).expect("Ma");
        assert!((ma.0 - 138.591_3 * 4.0 / 3.0).abs() < 1e-9, "{ma:?}");
        let ri = setting.reed_hz(2).expect("Ri").cents_above(setting.sa).expect("cents");
        assert!((ri.0 - 200.0).abs() < 1e-9, "Ri follows the tuning: {ri:?}");
        setting.stringing.first = First::Ma;
        let ma = setting.string_hz(StringRole::First).expect("Ma");
        assert!((ma.0 - 138.591_3 * 2.0 / 3.0).abs() < 1e-9, "{ma:?}");
        setting.stringing.first = First::Ni;
        let ni = setting.string_hz(StringRole::First).expect("Ni");
        assert!((ni.0 - 138.591_3 * 15.0 / 16.0).abs() < 1e-6, "Ni below Sa is 15/16: {ni:?}");
    }

    #[test]
    fn a_bad_value_is_named_with_its_range() {
        let setting = DroneSetting { pluck_s: 0.1, ..DroneSetting::default() };
        let error = setting.validate().expect_err("too fast").to_string();
        assert!(error.contains("0.1") && error.contains("0.6") && error.contains("2.5"), "{error}");
        let nan = DroneSetting { sa: Hertz(f64::NAN), ..DroneSetting::default() };
        assert!(nan.validate().is_err());
        assert_eq!(DroneSetting::default().validate(), Ok(()));
    }

    #[test]
    fn a_sa_beyond_the_drones_reach_is_folded_by_octaves() {
        for (sa, sounds) in [(146.83, 146.83), (600.0, 600.0), (987.77, 493.885), (2_000.0, 500.0), (50.0, 50.0)] {
            assert_eq!(folded(Hertz(sa)), Hertz(sounds));
        }
    }

    #[test]
    fn saved_words_stay_the_same() {
        let words = serde_json::to_string(&[First::Pa, First::Ma, First::Ni, First::Ga, First::None]).expect("json");
        assert_eq!(words, r#"["pa","ma","ni","ga","none"]"#);
        assert_eq!(serde_json::to_string(&[Kind::Strings, Kind::Reed]).expect("json"), r#"["strings","reed"]"#);
    }
}
