//! Where the twelve swarasthanas lie: the tables a teacher may choose between.
//!
//! In: a name (`just`, `just-27-16`, `pythagorean`, `equal`) or a Scala file. Out: cents above Sa for
//! each of the 12 positions. Method: cents are computed from exact ratios, 1200 log2(r) (A. J. Ellis
//! 1885); Sa is 1 and Pa 3/2 in every table, a Scala file's too, so that they agree with the drone, and
//! `equal` tempers the other ten. Cost: 12 logarithms a table. Does not handle
//! raga-dependent intonation: nudge single swaras for that. The positions other than Sa and Pa are
//! reference positions, not "the correct pitch": measured voices scatter more than the tables differ
//! (A. Krishnaswamy, AES 115, 2003).

use crate::swara::Swara;
use crate::swara::scl::{SclError, SclScale};
use crate::units::Cents;
use serde::{Deserialize, Serialize};

/// Numerator and denominator.
type Ratio = (u32, u32);

/// The set most modern writers give first; also the reference library's 5-limit table (cents in the
/// tests below from A. J. Ellis's tables of intervals).
const JUST: [Ratio; 12] =
    [(1, 1), (16, 15), (9, 8), (6, 5), (5, 4), (4, 3), (45, 32), (3, 2), (8, 5), (5, 3), (9, 5), (15, 8)];

/// Fifths only, from D1 four below Sa to M2 six above; M2 = 729/512.
const PYTHAGOREAN: [Ratio; 12] = [
    (1, 1),
    (256, 243),
    (9, 8),
    (32, 27),
    (81, 64),
    (4, 3),
    (729, 512),
    (3, 2),
    (128, 81),
    (27, 16),
    (16, 9),
    (243, 128),
];

/// Position of D2, whose ratio distinguishes the two 5-limit tables.
const D2: usize = 9;
/// Position of Pa.
const PA: u8 = 7;

/// A table of the twelve swarasthanas.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(try_from = "SavedTuning", into = "SavedTuning")]
pub enum Tuning {
    /// 5-limit, D2 = 5/3: the default.
    #[default]
    Just,
    /// 5-limit, D2 = 27/16.
    JustHighD2,
    /// Pure fifths.
    Pythagorean,
    /// Twelve equal steps, except that Pa stays 3/2.
    Equal,
    /// A Scala file of the user's.
    Scl(Box<SclScale>),
}

/// How a tuning is written into a project: a stable name, and the whole file where it is a file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SavedTuning {
    /// `just`, `just-27-16`, `pythagorean`, `equal` or `scl`.
    pub name: String,
    /// File name of the Scala file, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// The file's text.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub content: Option<String>,
}

/// A tuning that cannot be had.
#[derive(Debug, Clone, PartialEq)]
pub enum TuningError {
    /// No built-in table has this name.
    Unknown(String),
    /// The Scala file is not in order.
    Scl(SclError),
}

impl std::fmt::Display for TuningError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Unknown(name) => write!(
                f,
                "unknown tuning \"{name}\": use just, just-27-16, pythagorean, equal, or the path of a .scl file"
            ),
            Self::Scl(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for TuningError {}

impl Tuning {
    /// The tables that come with the tool, the default first.
    pub const BUILT_IN: [Tuning; 4] = [Tuning::Just, Tuning::JustHighD2, Tuning::Pythagorean, Tuning::Equal];

    /// The built-in table of this name.
    ///
    /// # Errors
    /// [`TuningError::Unknown`] quotes the name and lists the tables.
    pub fn from_name(name: &str) -> Result<Tuning, TuningError> {
        let wanted = name.trim();
        Tuning::BUILT_IN
            .into_iter()
            .find(|tuning| tuning.name().eq_ignore_ascii_case(wanted))
            .ok_or_else(|| TuningError::Unknown(name.to_owned()))
    }

    /// A tuning from the bytes of a Scala file; `file` is its name, for display.
    ///
    /// # Errors
    /// [`TuningError::Scl`] gives the line at fault and how to mend it.
    pub fn from_scl(file: &str, bytes: &[u8]) -> Result<Tuning, TuningError> {
        SclScale::from_bytes(file, bytes).map(|scl| Tuning::Scl(Box::new(scl))).map_err(TuningError::Scl)
    }

    /// The stable name; `scl` for any Scala file.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Self::Just => "just",
            Self::JustHighD2 => "just-27-16",
            Self::Pythagorean => "pythagorean",
            Self::Equal => "equal",
            Self::Scl(_) => "scl",
        }
    }

    /// The name to show beside every score.
    #[must_use]
    pub fn title(&self) -> String {
        match self {
            Self::Just => "just, D2 = 5/3".to_owned(),
            Self::JustHighD2 => "just, D2 = 27/16".to_owned(),
            Self::Pythagorean => "Pythagorean".to_owned(),
            Self::Equal => "equal steps, Pa = 3/2".to_owned(),
            Self::Scl(scl) => scl.file.clone(),
        }
    }

    /// What it is called beside a scale with these names: it tells only of positions that the scale has.
    #[must_use]
    pub fn title_in(&self, names: &[Option<Swara>; 12]) -> String {
        let [.., pa, _, nine, _, _] = names;
        match (self, nine, pa) {
            (Self::Just, Some(swara), _) => format!("just, {} = 5/3", swara.short()),
            (Self::JustHighD2, Some(swara), _) => format!("just, {} = 27/16", swara.short()),
            (Self::Just | Self::JustHighD2, None, _) => "just".to_owned(),
            (Self::Equal, _, None) => "equal steps".to_owned(),
            _ => self.title(),
        }
    }

    /// The exact ratio of a position where the table has one.
    fn ratio(&self, position: u8) -> Option<Ratio> {
        let index = usize::from(position);
        match self {
            Self::JustHighD2 if index == D2 => Some((27, 16)),
            Self::Just | Self::JustHighD2 => JUST.get(index).copied(),
            Self::Pythagorean => PYTHAGOREAN.get(index).copied(),
            Self::Equal | Self::Scl(_) if position == PA => Some((3, 2)),
            Self::Equal | Self::Scl(_) => None,
        }
    }

    /// Where a position (0 to 11) lies, cents above Sa; `None` where a Scala file has no degree for it.
    #[must_use]
    pub fn cents_at(&self, position: u8) -> Option<Cents> {
        if position > 11 {
            return None;
        }
        if let Self::Scl(scl) = self {
            return scl.positions().get(usize::from(position)).copied().flatten();
        }
        let tempered = Cents(100.0 * f64::from(position));
        Some(self.ratio(position).map_or(tempered, |(n, d)| Cents::of_ratio(f64::from(n) / f64::from(d))))
    }

    /// How the position is defined, for people: `16/15`, or cents where there is no simple ratio.
    #[must_use]
    pub fn definition(&self, position: u8) -> String {
        if let Some((n, d)) = self.ratio(position) {
            return format!("{n}/{d}");
        }
        self.cents_at(position).map_or_else(|| "none".to_owned(), |cents| format!("{:.2} cents", cents.0))
    }

    /// What a user should be told about this table, one sentence each; empty for the built-in ones.
    #[must_use]
    pub fn remarks(&self) -> Vec<String> {
        if let Self::Scl(scl) = self { scl.remarks() } else { Vec::new() }
    }
}

impl From<Tuning> for SavedTuning {
    fn from(tuning: Tuning) -> Self {
        let name = tuning.name().to_owned();
        match tuning {
            Tuning::Scl(scl) => Self { name, file: Some(scl.file), content: Some(scl.content) },
            _ => Self { name, file: None, content: None },
        }
    }
}

impl TryFrom<SavedTuning> for Tuning {
    type Error = TuningError;

    fn try_from(saved: SavedTuning) -> Result<Self, TuningError> {
        match saved.content {
            Some(content) if saved.name == "scl" => {
                Tuning::from_scl(saved.file.as_deref().unwrap_or("scale.scl"), content.as_bytes())
            }
            _ => Tuning::from_name(&saved.name),
        }
    }
}

/// How far a teacher moved each position from the table, cents; zero is the table.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(try_from = "[f64; 12]", into = "[f64; 12]")]
pub struct Nudges([f64; 12]);

/// A nudge outside the allowed range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NudgeError(pub f64);

impl std::fmt::Display for NudgeError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "a nudge of {} cents is outside -{max} to +{max} cents: choose one within, or the neighbouring swara",
            self.0,
            max = Nudges::MAX_CENTS
        )
    }
}

impl std::error::Error for NudgeError {}

impl Nudges {
    /// The widest nudge, cents: half a step, beyond which it would be another swarasthana.
    pub const MAX_CENTS: f64 = 50.0;

    /// Moves `position` (0 to 11; others are ignored) by `cents` from the table.
    ///
    /// # Errors
    /// [`NudgeError`] when `cents` is not within plus or minus [`Nudges::MAX_CENTS`].
    pub fn set(&mut self, position: u8, cents: Cents) -> Result<(), NudgeError> {
        if cents.0.is_nan() || cents.0.abs() > Self::MAX_CENTS {
            return Err(NudgeError(cents.0));
        }
        if let Some(slot) = self.0.get_mut(usize::from(position)) {
            *slot = cents.0;
        }
        Ok(())
    }

    /// The nudge of a position.
    #[must_use]
    pub fn at(&self, position: u8) -> Cents {
        Cents(self.0.get(usize::from(position)).copied().unwrap_or(0.0))
    }

    /// Whether anything is nudged.
    #[must_use]
    pub fn any(&self) -> bool {
        self.0.iter().any(|&cents| cents != 0.0)
    }
}

impl From<Nudges> for [f64; 12] {
    fn from(nudges: Nudges) -> Self {
        nudges.0
    }
}

impl TryFrom<[f64; 12]> for Nudges {
    type Error = NudgeError;

    fn try_from(cents: [f64; 12]) -> Result<Self, NudgeError> {
        let mut nudges = Nudges::default();
        for (position, value) in (0u8..).zip(cents) {
            nudges.set(position, Cents(value))?;
        }
        Ok(nudges)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ratios of `indian_12.scl` ("North Indian gamut") of the Scala archive, in crate serde_scala 0.1.2;
    /// it differs from `just` in D2 only.
    const INDIAN_12: &str =
        "gamut\n 12\n!\n 16/15\n 9/8\n 6/5\n 5/4\n 4/3\n 45/32\n 3/2\n 8/5\n 27/16\n 9/5\n 15/8\n 2/1\n";
    /// `indian.scl` of the same archive: 22 shrutis.
    const INDIAN_22: &str = "22\n22\n256/243\n16/15\n10/9\n9/8\n32/27\n6/5\n5/4\n81/64\n4/3\n27/20\n45/32\n729/512\n3/2\n\
                             128/81\n8/5\n5/3\n27/16\n16/9\n9/5\n15/8\n243/128\n2/1\n";
    /// `pyth_12.scl` of the same archive with its apotomes 2187/2048 and 6561/4096 as they stand there.
    const PYTH_12: &str =
        "p\n12\n2187/2048\n9/8\n32/27\n81/64\n4/3\n729/512\n3/2\n6561/4096\n27/16\n16/9\n243/128\n2/1\n";

    fn all(tuning: &Tuning) -> Vec<f64> {
        (0..12).map(|position| tuning.cents_at(position).unwrap().0).collect()
    }

    fn agree(a: &[f64], b: &[f64], within: f64) {
        for (x, y) in a.iter().zip(b) {
            assert!((x - y).abs() < within, "{x} {y}");
        }
    }

    #[test]
    fn published_files_give_our_tables() {
        let north = Tuning::from_scl("indian_12.scl", INDIAN_12.as_bytes()).unwrap();
        agree(&all(&north), &all(&Tuning::JustHighD2), 1e-9);
        assert!(north.remarks().is_empty());
        let shrutis = Tuning::from_scl("indian.scl", INDIAN_22.as_bytes()).unwrap();
        agree(&all(&shrutis), &all(&Tuning::Just), 1e-9);
        // Ours takes the limmas 256/243 and 128/81 for R1 and D1, the file the apotomes, a Pythagorean comma
        // (23.460 cents) higher.
        let pythagorean = Tuning::from_scl("pyth_12.scl", PYTH_12.as_bytes()).unwrap();
        let mut ours = all(&Tuning::Pythagorean);
        ours[1] += 23.460;
        ours[8] += 23.460;
        agree(&all(&pythagorean), &ours, 1e-3);
    }

    #[test]
    fn cents_of_ellis() {
        // A. J. Ellis's table of intervals (in his Helmholtz, appendix XX), rounded there to whole cents: just
        // diatonic semitone 112, major tone 204, minor third 316, major third 386, fourth 498, tritone 590,
        // fifth 702, minor sixth 814, major sixth 884, acute minor seventh 1018, major seventh 1088.
        let ellis = [0.0, 112.0, 204.0, 316.0, 386.0, 498.0, 590.0, 702.0, 814.0, 884.0, 1018.0, 1088.0];
        agree(&all(&Tuning::Just), &ellis, 0.5);
    }

    #[test]
    fn sa_and_pa_are_pure_in_every_built_in_table() {
        for tuning in Tuning::BUILT_IN {
            let cents = all(&tuning);
            assert_eq!(cents[0], 0.0);
            assert!((cents[7] - 701.955).abs() < 1e-3, "{}", tuning.name());
        }
        agree(&all(&Tuning::Equal)[..7], &[0.0, 100.0, 200.0, 300.0, 400.0, 500.0, 600.0], 1e-9);
    }

    #[test]
    fn saved_and_read_again() {
        let file = Tuning::from_scl("indian_12.scl", INDIAN_12.as_bytes()).unwrap();
        for tuning in Tuning::BUILT_IN.into_iter().chain([file]) {
            let json = serde_json::to_string(&tuning).unwrap();
            assert_eq!(serde_json::from_str::<Tuning>(&json).unwrap(), tuning);
        }
        assert_eq!(serde_json::to_string(&Tuning::JustHighD2).unwrap(), r#"{"name":"just-27-16"}"#);
        assert!(serde_json::from_str::<Tuning>(r#"{"name":"meantone"}"#).is_err());
    }

    #[test]
    fn unknown_names_list_the_tables() {
        assert_eq!(Tuning::from_name(" Just "), Ok(Tuning::Just));
        let said = Tuning::from_name("tempered").unwrap_err().to_string();
        assert!(said.contains("\"tempered\"") && said.contains("pythagorean"), "{said}");
    }

    #[test]
    fn definitions_for_people() {
        assert_eq!(Tuning::Just.definition(1), "16/15");
        assert_eq!(Tuning::JustHighD2.definition(9), "27/16");
        assert_eq!(Tuning::Equal.definition(4), "400.00 cents");
        assert_eq!(Tuning::Equal.definition(7), "3/2");
    }

    #[test]
    fn nudges_are_checked_when_read() {
        let mut nudges = Nudges::default();
        assert!(!nudges.any());
        nudges.set(9, Cents(12.5)).unwrap();
        let json = serde_json::to_string(&nudges).unwrap();
        assert_eq!(serde_json::from_str::<Nudges>(&json).unwrap(), nudges);
        assert!(nudges.set(9, Cents(f64::NAN)).is_err());
        assert!(serde_json::from_str::<Nudges>("[0,60,0,0,0,0,0,0,0,0,0,0]").is_err());
    }
}
