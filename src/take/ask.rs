//! Turns what was asked on the command line (tonic, raga, tuning, band) into a setting of the listener.
//!
//! In: the words of the user. Out: [`Asked`], with the names under which results are reported. What cannot be
//! understood is refused in one sentence that shows the forms or the nearest name.

use super::error::TakeError;
use crate::listener::Setting;
use crate::note::Band;
use crate::swara::tonic::{CONCERT_A4, describe};
use crate::swara::{Nudges, Scale, Targets, Tonic, Tuning};
use crate::units::{Cents, Hertz};
use std::path::Path;

/// A setting and the names it goes by.
#[derive(Debug, Clone)]
pub struct Asked {
    /// Madhya Sa.
    pub sa: Hertz,
    /// The allowed swaras.
    pub scale: Scale,
    /// Where they lie.
    pub tuning: Tuning,
    /// The band's name.
    pub band_name: String,
    /// In-tune half-widths.
    pub band: Band,
    /// The allowed swaras with their places.
    pub targets: Targets,
}

/// The words of the command line that say what to measure against.
#[derive(Debug, Clone, Copy)]
pub struct Words<'a> {
    /// Sa: a note, a frequency, a kattai.
    pub tonic: &'a str,
    /// A raga or scale; all 12 swarasthanas where it is missing.
    pub raga: Option<&'a str>,
    /// A tuning's name or the path of a Scala file.
    pub tuning: &'a str,
    /// A band's name or two numbers.
    pub band: &'a str,
}

impl Asked {
    /// Understands the words of the command line.
    ///
    /// # Errors
    /// [`TakeError::Usage`] with the forms that are understood or the nearest name; a Scala file that cannot be read.
    pub fn parse(words: Words<'_>) -> Result<Self, TakeError> {
        let tonic = Tonic::parse(words.tonic).map_err(usage)?;
        Self::on(tonic.hertz(CONCERT_A4), words)
    }

    /// The same on a Sa that is known already; `words.tonic` is not looked at.
    ///
    /// # Errors
    /// As [`Asked::parse`].
    pub fn on(sa: Hertz, words: Words<'_>) -> Result<Self, TakeError> {
        let scale = words.raga.map_or(Ok(Scale::Twelve), Scale::find).map_err(usage)?;
        let tuning = parse_tuning(words.tuning)?;
        let targets = scale.targets(&tuning, &Nudges::default());
        if targets.is_empty() {
            return Err(TakeError::Usage(format!(
                "tuning \"{}\" has no place for any swara of {}: choose another table or raga",
                words.tuning,
                scale.name()
            )));
        }
        Ok(Self { sa, scale, tuning, band_name: words.band.to_owned(), band: parse_band(words.band)?, targets })
    }

    /// The same on another Sa: where the swaras lie above it does not change.
    #[must_use]
    pub fn at(&self, sa: Hertz) -> Self {
        Self { sa, ..self.clone() }
    }

    /// What the listener needs of it.
    #[must_use]
    pub fn setting(&self) -> Setting {
        Setting::new(self.sa, self.targets, self.band)
    }

    /// Sa as people say it.
    #[must_use]
    pub fn tonic(&self) -> String {
        describe(self.sa, CONCERT_A4)
    }
}

fn usage(error: impl std::error::Error) -> TakeError {
    TakeError::Usage(error.to_string())
}

/// Largest Scala file that is read, bytes: published ones have a few thousand.
const LARGEST_SCALA: u64 = 1 << 20;

fn parse_tuning(words: &str) -> Result<Tuning, TakeError> {
    let path = Path::new(words);
    if !path.extension().is_some_and(|e| e.eq_ignore_ascii_case("scl")) {
        return Tuning::from_name(words).map_err(usage);
    }
    let unreadable = |why: std::io::Error| match why.kind() {
        std::io::ErrorKind::NotFound => TakeError::Missing(path.to_owned()),
        _ => TakeError::Unreadable(path.to_owned(), why),
    };
    let size = std::fs::metadata(path).map_err(unreadable)?.len();
    if size > LARGEST_SCALA {
        return Err(TakeError::Usage(format!("{words}: {size} bytes are too many for a Scala file; check the name")));
    }
    let bytes = std::fs::read(path).map_err(unreadable)?;
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    Tuning::from_scl(&name, &bytes).map_err(usage)
}

/// Widest half-width that can be asked, cents: half a semitone; beyond it bands of neighbours would overlap.
const WIDEST_CENTS: f64 = 50.0;

/// The named bands: half-widths for Sa and Pa, and for the others, cents. Common practice, no source; professionals' held notes
/// scatter by 9 to 15 cents (Viraraghavan et al., JASA 2020), so that a band of 10 would fail a third of them.
pub const BANDS: [(&str, f64, f64); 3] = [("beginner", 20.0, 25.0), ("working", 15.0, 20.0), ("concert", 10.0, 20.0)];

/// `beginner`, `working`, `concert` ([`BANDS`]), or two numbers: Sa and Pa / the others, in cents.
///
/// # Errors
/// [`TakeError::Usage`] with the names and the range.
pub fn parse_band(words: &str) -> Result<Band, TakeError> {
    if let Some((_, fixed, others)) = BANDS.iter().find(|(name, ..)| *name == words) {
        return Ok(Band { fixed: Cents(*fixed), others: Cents(*others) });
    }
    let numbers: Vec<f64> =
        words.split(['/', ',', ' ']).filter(|w| !w.is_empty()).map(|w| w.parse().unwrap_or(f64::NAN)).collect();
    match numbers[..] {
        [fixed, others] if [fixed, others].iter().all(|w| (1.0..=WIDEST_CENTS).contains(w)) => {
            Ok(Band { fixed: Cents(fixed), others: Cents(others) })
        }
        _ => Err(TakeError::Usage(format!(
            "band \"{words}\" is not known: give beginner, working, concert, or two half-widths from 1 to \
             {WIDEST_CENTS} cents for Sa and Pa / the others, such as 15/20"
        ))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAIN: Words<'static> = Words { tonic: "D3", raga: None, tuning: "just", band: "beginner" };

    fn refusal(words: Words<'_>) -> String {
        Asked::parse(words).unwrap_err().to_string()
    }

    #[test]
    fn without_a_raga_all_twelve_count_and_d3_is_in_the_midi_tuning() {
        let asked = Asked::parse(PLAIN).unwrap();
        assert_eq!(asked.targets.len(), 12);
        // MIDI Tuning Standard: key 50 with A4 = 440 Hz.
        assert!((asked.sa.0 - 440.0 * 2f64.powf(-19.0 / 12.0)).abs() < 1e-9);
    }

    #[test]
    fn what_cannot_be_understood_is_refused_with_a_way_out() {
        assert!(refusal(Words { tonic: "146.83", ..PLAIN }).contains("146.83Hz"));
        assert!(refusal(Words { raga: Some("Mayamalavagaula x"), ..PLAIN }).contains("Mayamalavagowla"));
        assert!(refusal(Words { tuning: "bent", ..PLAIN }).contains("pythagorean"));
        assert!(refusal(Words { tuning: "no/such.scl", ..PLAIN }).contains("no/such.scl"));
        assert!(refusal(Words { band: "strict", ..PLAIN }).contains("beginner"));
    }

    #[test]
    fn bands_go_by_name_or_by_two_numbers() {
        let widths = |words| parse_band(words).map(|b| (b.fixed.0, b.others.0));
        assert_eq!(widths("beginner").unwrap(), (20.0, 25.0));
        assert_eq!(widths("working").unwrap(), (15.0, 20.0));
        assert_eq!(widths("concert").unwrap(), (10.0, 20.0));
        assert_eq!(widths("12/18.5").unwrap(), (12.0, 18.5));
        for bad in ["", "12", "0/20", "12/60", "a/b", "1/2/3", "12/NaN"] {
            assert!(widths(bad).is_err(), "{bad}");
        }
    }
}
