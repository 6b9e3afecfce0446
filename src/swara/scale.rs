//! The scale in use: which swaras count, and which of its two names each position bears.
//!
//! In: a stable key (`sa-pa-sa`, `twelve`, `mela-15`, `janya-mohanam`, `own:NAME|UP|DOWN`). Out: the way
//! up and down, the names by position, and [`Targets`] for a tuning. Method: the union of the swaras of
//! arohana and avarohana. Cost: reads two short lines, which allocates, so not for the audio thread; the
//! [`Targets`] it makes are. Does not handle swaras that are allowed in one direction only: both
//! directions' swaras count at all times.

use crate::swara::janya::{JANYAS, Janya};
use crate::swara::melakarta::Mela;
use crate::swara::names::{Step, Sthayi, Swara};
use crate::swara::own::{OwnRaga, OwnRagaError};
use crate::swara::phrase::parse_line;
use crate::swara::search;
use crate::swara::target::{Target, Targets};
use crate::swara::tuning::{Nudges, Tuning};
use crate::units::Cents;
use serde::{Deserialize, Serialize};

/// A set of swaras to sing.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub enum Scale {
    /// Only the fixed swaras: S P S'. What a first run shows.
    #[default]
    SaPaSa,
    /// All 12 swarasthanas.
    Twelve,
    /// A parent scale.
    Mela(Mela),
    /// One of the forty ragas.
    Janya(&'static Janya),
    /// The user's own.
    Own(OwnRaga),
}

/// A scale that cannot be had.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ScaleError {
    /// No scale has this name; the nearest name, where one is near.
    Unknown(String, Option<String>),
    /// A melakarta number outside 1 to 72.
    Number(String),
    /// The user's own raga is not in order.
    Own(OwnRagaError),
}

impl std::fmt::Display for ScaleError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Unknown(name, Some(near)) => write!(f, "unknown raga or scale \"{name}\": did you mean {near}?"),
            Self::Unknown(name, None) => write!(
                f,
                "unknown raga or scale \"{name}\": use a melakarta's name or number (1 to 72), one of the 40 ragas, \
                 twelve, or sa-pa-sa"
            ),
            Self::Number(text) => write!(f, "there is no melakarta {text}: the numbers go from 1 to 72"),
            Self::Own(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for ScaleError {}

/// The key's part for a name: lower case, words joined by hyphens.
fn slug(name: &str) -> String {
    name.to_lowercase().replace(' ', "-")
}

impl Scale {
    /// Every scale that comes with the tool: Sa Pa Sa', all 12, the 72, the 40.
    pub fn built_in() -> impl Iterator<Item = Scale> {
        [Scale::SaPaSa, Scale::Twelve]
            .into_iter()
            .chain(Mela::all().map(Scale::Mela))
            .chain(JANYAS.iter().map(Scale::Janya))
    }

    /// The scale with this stable key.
    ///
    /// # Errors
    /// [`ScaleError`] quotes the key and says what would serve.
    pub fn parse(key: &str) -> Result<Scale, ScaleError> {
        if let Some(line) = key.strip_prefix("own:") {
            return OwnRaga::from_saved(line).map(Scale::Own).map_err(ScaleError::Own);
        }
        if let Some(number) = key.strip_prefix("mela-") {
            let mela = number.parse().ok().and_then(|n| Mela::new(n).ok());
            return mela.map(Scale::Mela).ok_or_else(|| ScaleError::Number(number.to_owned()));
        }
        Scale::built_in()
            .find(|scale| scale.key() == key)
            .ok_or_else(|| ScaleError::Unknown(key.to_owned(), search::suggestion(key)))
    }

    /// The scale that a person means: a key, a name in any usual spelling, or a melakarta's number.
    ///
    /// # Errors
    /// [`ScaleError`] quotes the name and gives the nearest one.
    pub fn find(text: &str) -> Result<Scale, ScaleError> {
        let text = text.trim();
        if let Ok(scale) = Scale::parse(text) {
            return Ok(scale);
        }
        if text.starts_with("own:") || text.starts_with("mela-") {
            return Scale::parse(text);
        }
        if !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit()) {
            return Scale::parse(&format!("mela-{text}"));
        }
        search::by_name(text).ok_or_else(|| ScaleError::Unknown(text.to_owned(), search::suggestion(text)))
    }

    /// The stable key for saved state.
    #[must_use]
    pub fn key(&self) -> String {
        match self {
            Self::SaPaSa => "sa-pa-sa".to_owned(),
            Self::Twelve => "twelve".to_owned(),
            Self::Mela(mela) => format!("mela-{}", mela.number()),
            Self::Janya(janya) => format!("janya-{}", slug(janya.name)),
            Self::Own(raga) => format!("own:{}", raga.to_saved()),
        }
    }

    /// The name for people.
    #[must_use]
    pub fn name(&self) -> &str {
        match self {
            Self::SaPaSa => "Sa Pa Sa'",
            Self::Twelve => "All 12 swarasthanas",
            Self::Mela(mela) => mela.name(),
            Self::Janya(janya) => janya.name,
            Self::Own(raga) => raga.name(),
        }
    }

    /// The name with what places it: `15 Mayamalavagowla (Agni chakra)`, `Mohanam (from 28 Harikambhoji)`.
    #[must_use]
    pub fn title(&self) -> String {
        match self {
            Self::Mela(mela) => format!("{} {} ({} chakra)", mela.number(), mela.name(), mela.chakra().1),
            Self::Janya(janya) => match Mela::new(u32::from(janya.parent)) {
                Ok(mela) => format!("{} (from {} {})", janya.name, mela.number(), mela.name()),
                Err(_) => janya.name.to_owned(),
            },
            _ => self.name().to_owned(),
        }
    }

    /// The way up, from Sa to the upper Sa; zigzag where the raga is.
    #[must_use]
    pub fn arohana(&self) -> Vec<Step> {
        match self {
            Self::Janya(janya) => parse_line(janya.arohana).unwrap_or_default(),
            Self::Own(raga) => raga.arohana().to_vec(),
            Self::SaPaSa | Self::Twelve | Self::Mela(_) => rising(&self.straight()),
        }
    }

    /// The way down.
    #[must_use]
    pub fn avarohana(&self) -> Vec<Step> {
        match self {
            Self::Janya(janya) => parse_line(janya.avarohana).unwrap_or_default(),
            Self::Own(raga) => raga.avarohana().to_vec(),
            Self::SaPaSa | Self::Twelve | Self::Mela(_) => {
                let mut steps = rising(&self.straight());
                steps.reverse();
                steps
            }
        }
    }

    /// The swaras of a scale that is the same up and down.
    fn straight(&self) -> Vec<Swara> {
        match self {
            Self::SaPaSa => vec![Swara::S, Swara::P],
            Self::Mela(mela) => mela.swaras().to_vec(),
            _ => (0..12).map(Swara::chromatic).collect(),
        }
    }

    /// The name that each position bears in this scale; `None` where it has no swara.
    #[must_use]
    pub fn names(&self) -> [Option<Swara>; 12] {
        let mut names = [None; 12];
        for step in self.arohana().iter().chain(&self.avarohana()) {
            if let Some(slot) = names.get_mut(usize::from(step.swara.position())) {
                *slot = Some(step.swara);
            }
        }
        names
    }

    /// The swaras that count, rising.
    #[must_use]
    pub fn swaras(&self) -> Vec<Swara> {
        self.names().into_iter().flatten().collect()
    }

    /// Where the swaras of this scale lie in a tuning, the teacher's nudges added.
    #[must_use]
    pub fn targets(&self, tuning: &Tuning, nudges: &Nudges) -> Targets {
        let mut by_position = [None; 12];
        for (position, (slot, name)) in (0u8..).zip(by_position.iter_mut().zip(self.names())) {
            if let (Some(swara), Some(cents)) = (name, tuning.cents_at(position)) {
                *slot = Some(Target { swara, cents: Cents(cents.0 + nudges.at(position).0) });
            }
        }
        Targets { by_position }
    }
}

/// Madhya swaras and the upper Sa after them.
fn rising(swaras: &[Swara]) -> Vec<Step> {
    let upper = Step { swara: Swara::S, sthayi: Sthayi::TARA };
    swaras.iter().map(|&swara| Step { swara, sthayi: Sthayi::MADHYA }).chain([upper]).collect()
}

impl From<Scale> for String {
    fn from(scale: Scale) -> Self {
        scale.key()
    }
}

impl TryFrom<String> for Scale {
    type Error = ScaleError;

    fn try_from(key: String) -> Result<Self, ScaleError> {
        Scale::parse(&key)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::swara::phrase::print_line;

    #[test]
    fn keys_round_trip() {
        let own = Scale::Own(OwnRaga::new("Mine", "S R1 M1 P S'", "S' P M1 R1 S").unwrap());
        let all: Vec<Scale> = Scale::built_in().chain([own]).collect();
        assert_eq!(all.len(), 2 + 72 + 40 + 1);
        for scale in all {
            assert_eq!(Scale::parse(&scale.key()), Ok(scale.clone()), "{}", scale.key());
            let json = serde_json::to_string(&scale).unwrap();
            assert_eq!(serde_json::from_str::<Scale>(&json).unwrap(), scale);
        }
        assert_eq!(Scale::Janya(&JANYAS[2]).key(), "janya-suddha-saveri");
    }

    #[test]
    fn names_follow_the_scale() {
        // P. Sriram, A Karnatic Music Primer, CMANA 1990: position 2 is G1 in Kanakangi, R2 elsewhere.
        let name_at = |key: &str, position: usize| Scale::parse(key).unwrap().names()[position];
        assert_eq!(name_at("mela-1", 2), Some(Swara::G1));
        assert_eq!(name_at("mela-29", 2), Some(Swara::R2));
        assert_eq!(name_at("mela-36", 3), Some(Swara::R3));
        assert_eq!(name_at("mela-36", 10), Some(Swara::D3));
        assert_eq!(name_at("twelve", 3), Some(Swara::G2));
        assert_eq!(name_at("sa-pa-sa", 3), None);
    }

    #[test]
    fn zigzag_ragas_keep_their_turns() {
        let scale = Scale::parse("janya-ritigowla").unwrap();
        assert_eq!(print_line(&scale.arohana()), "S G2 R2 G2 M1 N2 D2 M1 N2 N2 S'");
        assert_eq!(scale.swaras().len(), 7);
        assert_eq!(print_line(&Scale::SaPaSa.avarohana()), "S' P S");
    }

    #[test]
    fn bhairavi_has_both_da() {
        let swaras = Scale::find("bhairavi").unwrap().swaras();
        assert!(swaras.contains(&Swara::D1) && swaras.contains(&Swara::D2));
    }

    #[test]
    fn nudges_move_targets() {
        let mut nudges = Nudges::default();
        nudges.set(4, Cents(-7.0)).unwrap();
        let targets = Scale::Twelve.targets(&Tuning::Just, &nudges);
        // 5/4 is 386.314 cents (Ellis 1885).
        assert!((targets.at(4).unwrap().cents.0 - (386.314 - 7.0)).abs() < 1e-3);
        assert_eq!(nudges.set(4, Cents(51.0)).unwrap_err().0, 51.0);
    }

    #[test]
    fn unknown_names_get_the_nearest() {
        let said = Scale::find("Mayamalavagola").unwrap_err().to_string();
        assert!(said.contains("did you mean Mayamalavagowla"), "{said}");
        assert!(Scale::find("73").unwrap_err().to_string().contains("1 to 72"));
        assert!(Scale::find("zzzzqqq").unwrap_err().to_string().contains("melakarta's name or number"));
    }
}
