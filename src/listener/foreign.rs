//! Which Sa a drone that nobody told of stands on, by the tones that are handed over.
//!
//! In: its strongest tones, strongest first. Out: Sa, or nothing where two fit or mains hum is all there is. Method: the
//! templates of the usual drones ([`crate::tonic::roots`]). Cost: a fraction of a millisecond.

use crate::bleed::Tone;
use crate::tonic::lines::Line;
use crate::tonic::roots::{self, Kind, Root};
use crate::units::Hertz;

/// The least fit of a template, and its lead before the next Sa where none is near the chosen one (those of `tonic`).
const LEAST_FIT: f64 = 0.6;
const LEAST_LEAD: f64 = 0.05;
/// A Sa within this of the chosen one is near it, cents: a semitone, as far as somebody tunes by mistake.
const NEAR_CENTS: f64 = 100.0;
/// So far behind the best one it is not meant after all (strings on Pa and a reed on Ma lie 0.01 to 0.14 apart).
const MOST_BEHIND: f64 = 0.2;
/// Tones that make a drone.
const LEAST_TONES: usize = 4;
/// The strongest tones are looked at, as many of them.
const MOST: usize = 24;
/// Mains frequencies, and how near to their multiples hum lies, Hz (the grid keeps to 0.2 Hz, common practice).
const MAINS_HZ: [f64; 2] = [50.0, 60.0];
const MAINS_NEAR_HZ: f64 = 0.8;
/// Lines of its tones above this are stiff strings' and move Sa, Hz.
const TOP_HZ: f64 = 1_600.0;

/// Sa of the drone with these tones, in the octave nearest to `near`.
pub(super) fn sa<'a>(tones: impl Iterator<Item = &'a Tone>, near: Hertz) -> Option<Hertz> {
    let mut lines = [Line { hz: 0.0, db: 0.0, scatter_db: 0.0 }; MOST];
    let mut count = 0;
    for (line, tone) in lines.iter_mut().zip(tones.filter(|tone| tone.hz < TOP_HZ)) {
        *line = Line { hz: tone.hz, db: tone.db, scatter_db: 0.0 };
        count += 1;
    }
    let lines = lines.get(..count)?;
    let hum = |line: &Line, mains: f64| (line.hz - mains * (line.hz / mains).round()).abs() < MAINS_NEAR_HZ;
    if count < LEAST_TONES || MAINS_HZ.into_iter().any(|mains| lines.iter().all(|line| hum(line, mains))) {
        return None;
    }
    let found = roots::roots(lines);
    // Strings on Pa are much like a reed on Ma: the one near the chosen Sa is meant, if any; another must lead clearly.
    let fits = |root: &Root| root.score >= LEAST_FIT && root.kind != Kind::Single;
    let best = found.best().filter(fits)?;
    let near_chosen = |root: &Root| roots::folded_cents(root.hz / near.0).abs() < NEAR_CENTS;
    let meant = found.iter().find(|root| fits(root) && near_chosen(root) && best.score - root.score < MOST_BEHIND);
    let meant = meant.or_else(|| Some(best).filter(|_| found.lead() >= LEAST_LEAD))?;
    Some(Hertz(meant.hz * (near.0 / meant.hz).log2().round().exp2()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Six partials of each of these, falling by 2 dB from one to the next.
    fn tones(of: &[f64]) -> Vec<Tone> {
        let mut all: Vec<Tone> = Vec::new();
        for hz in of {
            for k in 1..=6 {
                let hz = hz * f64::from(k);
                if !all.iter().any(|tone| (tone.hz - hz).abs() < 0.5) {
                    all.push(Tone { hz, db: -2.0 * f64::from(k - 1) });
                }
            }
        }
        all.sort_by(|a, b| b.db.total_cmp(&a.db));
        all
    }

    #[test]
    fn the_sa_of_strings_and_reeds_is_found_in_the_octave_asked_for() {
        for drone in [&[0.5, 0.75, 1.0][..], &[1.0, 1.5, 2.0], &[0.5, 2.0 / 3.0, 1.0]] {
            let of: Vec<f64> = drone.iter().map(|ratio| ratio * 147.0).collect();
            for near in [143.0, 286.0, 300.0] {
                let found = sa(tones(&of).iter(), Hertz(near)).unwrap();
                let octave = if near > 200.0 { 294.0 } else { 147.0 };
                assert!(found.cents_above(Hertz(octave)).unwrap().0.abs() < 0.5, "{drone:?} {near} {found:?}");
            }
        }
    }

    #[test]
    fn a_chosen_sa_on_the_ni_string_is_not_taken_for_the_drones() {
        let of = [0.5, 15.0 / 16.0, 1.0].map(|ratio| ratio * 147.0);
        let found = sa(tones(&of).iter(), Hertz(15.0 / 16.0 * 147.0)).unwrap();
        assert!(found.cents_above(Hertz(147.0)).unwrap().0.abs() < 0.5, "{found:?}");
    }

    #[test]
    fn hum_a_single_tone_and_silence_are_no_drone() {
        assert_eq!(sa(tones(&[50.0, 100.0, 150.0]).iter(), Hertz(146.8)), None);
        assert_eq!(sa(tones(&[60.0, 120.0, 180.0]).iter(), Hertz(146.8)), None);
        assert_eq!(sa(tones(&[147.0]).iter(), Hertz(146.8)), None);
        assert_eq!(sa([].iter(), Hertz(146.8)), None);
    }
}
