//! A raga of the user's own, typed as two lines of swaras.
//!
//! In: a name, the way up, the way down. Out: [`OwnRaga`], saved in a project as one line of text. Method:
//! [`crate::swara::phrase`]. Cost: one pass. Does not handle phrases or gamaka.

use crate::swara::names::{Step, Swara};
use crate::swara::phrase::{PhraseError, parse_line, print_line};

/// The longest name, in characters: what a list in the window can show.
pub const MAX_NAME: usize = 40;

/// A raga typed by the user.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OwnRaga {
    /// Its name; never empty, without `|`.
    name: String,
    /// The way up.
    arohana: Vec<Step>,
    /// The way down.
    avarohana: Vec<Step>,
}

/// What is wrong with a typed raga.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum OwnRagaError {
    /// No name.
    NoName,
    /// A name that is too long, or holds the sign that parts the saved line.
    BadName(String),
    /// The way up is at fault.
    Arohana(PhraseError),
    /// The way down is at fault.
    Avarohana(PhraseError),
    /// There is no Sa.
    NoSa,
    /// Two names for one position.
    SamePlace(Swara, Swara),
    /// A saved line that has not three parts.
    BadLine(String),
}

impl std::fmt::Display for OwnRagaError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoName => write!(f, "the raga has no name: type one of up to {MAX_NAME} characters"),
            Self::BadName(name) => {
                write!(f, "the name \"{name}\" does not serve: use up to {MAX_NAME} characters and no | sign")
            }
            Self::Arohana(error) => write!(f, "arohana: {error}"),
            Self::Avarohana(error) => write!(f, "avarohana: {error}"),
            Self::NoSa => write!(f, "there is no S: every scale is measured from Sa, so write it"),
            Self::SamePlace(a, b) => {
                write!(f, "{a} and {b} are the same place: use one of the two names, and the next place for the other")
            }
            Self::BadLine(line) => write!(f, "\"{line}\" is not a raga: write NAME|arohana|avarohana"),
        }
    }
}

impl std::error::Error for OwnRagaError {}

impl OwnRaga {
    /// A raga from what was typed.
    ///
    /// # Errors
    /// [`OwnRagaError`] says which line and which word, and how to mend it.
    pub fn new(name: &str, arohana: &str, avarohana: &str) -> Result<Self, OwnRagaError> {
        let name = name.trim();
        if name.is_empty() {
            return Err(OwnRagaError::NoName);
        }
        if name.chars().count() > MAX_NAME || name.contains(['|', '\n', '\r']) {
            return Err(OwnRagaError::BadName(name.to_owned()));
        }
        let arohana = parse_line(arohana).map_err(OwnRagaError::Arohana)?;
        let avarohana = parse_line(avarohana).map_err(OwnRagaError::Avarohana)?;
        let mut seen: [Option<Swara>; 12] = [None; 12];
        for step in arohana.iter().chain(&avarohana) {
            if let Some(slot) = seen.get_mut(usize::from(step.swara.position())) {
                match *slot {
                    Some(other) if other != step.swara => return Err(OwnRagaError::SamePlace(other, step.swara)),
                    _ => *slot = Some(step.swara),
                }
            }
        }
        if seen[0].is_none() {
            return Err(OwnRagaError::NoSa);
        }
        Ok(Self { name: name.to_owned(), arohana, avarohana })
    }

    /// A raga from its saved line, `NAME|arohana|avarohana`.
    ///
    /// # Errors
    /// As [`OwnRaga::new`], and [`OwnRagaError::BadLine`].
    pub fn from_saved(line: &str) -> Result<Self, OwnRagaError> {
        let mut parts = line.split('|');
        match (parts.next(), parts.next(), parts.next(), parts.next()) {
            (Some(name), Some(up), Some(down), None) => Self::new(name, up, down),
            _ => Err(OwnRagaError::BadLine(line.to_owned())),
        }
    }

    /// The line that [`OwnRaga::from_saved`] reads.
    #[must_use]
    pub fn to_saved(&self) -> String {
        format!("{}|{}|{}", self.name, print_line(&self.arohana), print_line(&self.avarohana))
    }

    /// The name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The way up.
    #[must_use]
    pub fn arohana(&self) -> &[Step] {
        &self.arohana
    }

    /// The way down.
    #[must_use]
    pub fn avarohana(&self) -> &[Step] {
        &self.avarohana
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn saved_and_read_again() {
        let raga = OwnRaga::new(" My raga ", "s r1 g3 p n3 s'", "S' N3 P G3 R1 S .N3 S").unwrap();
        assert_eq!(raga.to_saved(), "My raga|S R1 G3 P N3 S'|S' N3 P G3 R1 S .N3 S");
        assert_eq!(OwnRaga::from_saved(&raga.to_saved()), Ok(raga));
    }

    #[test]
    fn errors_name_the_line() {
        let fault = |name, up, down| OwnRaga::new(name, up, down).unwrap_err().to_string();
        assert!(fault("", "S", "S").contains("no name"));
        assert!(fault("a|b", "S", "S").contains("no | sign"));
        assert!(fault("x", "S R", "S").starts_with("arohana: \"R\" has no number"));
        assert!(fault("x", "S", "S q").starts_with("avarohana: \"q\""));
        assert!(fault("x", "R2 G3", "G3").contains("no S"));
        assert!(fault("x", "S R2 S'", "S' G1 S").contains("R2 and G1 are the same place"));
        assert!(OwnRaga::from_saved("x|S").is_err());
    }
}
