//! Lines that no voice has: others beside its harmonics, or gaps among them.
//!
//! In: what f0 was called a voice, the loud lines that sound, and the power per bin. Out: whether they cannot be that voice's. Cost: some operations a line.

use super::lines::around;

/// Power below the strongest at which a line counts: 30 dB.
pub(super) const LOUD: f32 = 1e-3;
/// So many of them are a drone's.
const SOME_BESIDE: usize = 2;
/// A harmonic so far under a neighbour is a gap, 15 dB; so many among the first are no voice's.
const GAP: f32 = 0.03;
const SOME_GAPS: usize = 3;
const GAPS_TO: u32 = 13;

/// Whether these lines, Hz, are not only harmonics of these `f0s`, Hz; or whether of each so many are missing that it is only what
/// several tones have in common. Of several the voice leapt from one to the other while the lines sounded.
pub(super) fn beside(
    mut f0s: impl Iterator<Item = f64> + Clone,
    lines: impl Iterator<Item = f64>,
    power: &[f32],
) -> bool {
    let foreign = lines.filter(|hz| !f0s.clone().any(|f0| super::near_harmonic(*hz, f0))).count();
    let gaps = |f0: f64| {
        let at = |k: u32| {
            let around = power.get(around(f0 * f64::from(k))).unwrap_or(&[]);
            around.iter().copied().fold(0.0, f32::max)
        };
        (2..=GAPS_TO).filter(|k| at(*k) < GAP * at(k - 1).max(at(k + 1))).count()
    };
    foreign >= SOME_BESIDE || f0s.all(|f0| gaps(f0) >= SOME_GAPS)
}

#[cfg(test)]
mod tests {
    use super::super::lines::{BINS, bin_of};
    use super::*;

    /// Power per bin of lines at these multiples of 100 Hz.
    fn of(multiples: &[f64]) -> (Vec<f64>, Vec<f32>) {
        let lines: Vec<f64> = multiples.iter().map(|k| k * 100.0).collect();
        let mut power = vec![1e-6; BINS];
        for hz in &lines {
            power[bin_of(*hz)] = 1.0;
        }
        (lines, power)
    }

    #[test]
    fn a_voice_has_its_harmonics_and_no_others() {
        let all: Vec<f64> = (1..=14).map(f64::from).collect();
        let heard = |multiples: &[f64], f0: f64| {
            let (lines, power) = of(multiples);
            beside(std::iter::once(f0), lines.into_iter(), &power)
        };
        assert!(!heard(&all, 100.0));
        // A note and the next one, a fourth higher.
        let both: Vec<f64> = all.iter().copied().chain((1..=9).map(|k| f64::from(k) * 4.0 / 3.0)).collect();
        let (lines, power) = of(&both);
        assert!(beside(std::iter::once(400.0 / 3.0), lines.iter().copied(), &power));
        assert!(!beside([400.0 / 3.0, 100.0].into_iter(), lines.into_iter(), &power));
        assert!(heard(&[1.0, 1.5, 2.0, 3.0, 4.0, 4.5, 5.0, 6.0], 100.0), "Pa beside Sa");
        assert!(heard(&[2.0, 3.0, 4.0, 6.0, 8.0, 9.0, 10.0, 12.0], 100.0), "what they have in common");
    }
}
