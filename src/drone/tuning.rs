//! Brings a simulated string exactly to its pitch, as a player turns the bead until the beats stand still.
//!
//! In: one pluck at the simulation's rate, and its target (Hz). Out: the pluck at the rate wanted, its first partial at the
//! target throughout, to a tenth of a cent on a tone that settles steadily. Why: against the thread a string sounds 2 to 3
//! cents above its free pitch and settles by one cent while it decays; the ruler must not move. Method: the phase of the
//! first partial is measured piece by piece (`measure`), its way ahead of the target is smoothed, and the sound is read at
//! the places where it is not ahead: a windowed-sinc resampling with a slowly varying step (Smith and Gossett 1984). All
//! takes of a string come out in phase, so that blending two of them never thins the tone. Cost: 48 multiply-adds a sample.
//!
//! What it does not handle: a sound whose first partial is missing altogether.

use super::measure::{partial_hz, pieces};
use crate::units::{Hertz, num};
use std::f64::consts::{PI, TAU};

/// Length of the pieces over which the phase is taken, seconds.
const PIECE_S: f64 = 0.4;
/// Reach of the smoothing, seconds (one standard deviation).
const FIT_S: f64 = 0.3;
/// The sustained part, over which the mean pitch is brought to the target, seconds from the pluck.
const SUSTAINED_S: (f64, f64) = (0.4, 4.0);
/// Taps either side. The simulated sound ends far below half its rate, so few are enough: images are 80 dB down.
const HALF: usize = 12;
/// Stored fractions between two samples.
const FRACTIONS: usize = 512;

/// How far the first partial is ahead of the target, seconds, on a grid of equal steps. Not the pieces themselves but a
/// line fitted around each place, weighted by energy, because a partial may fade to nothing and its phase with it.
struct Lead {
    step_s: f64,
    first_s: f64,
    grid: Vec<f64>,
    quicker: f64,
}

impl Lead {
    fn measured(sound: &[f32], rate_hz: f64, target: Hertz) -> Self {
        let (mut turns, mut last) = (0.0, 0.0);
        let ahead = |(centre, re, im): (f64, f64, f64)| {
            let phase = im.atan2(re) / TAU;
            turns += (phase - last) - (phase - last).round();
            last = phase;
            (centre / rate_hz, turns / target.0, re * re + im * im)
        };
        let points: Vec<(f64, f64, f64)> = pieces(sound, rate_hz, target, PIECE_S).into_iter().map(ahead).collect();
        let first_s = points.first().map_or(0.0, |point| point.0);
        let step_s = points.get(1).map_or(1.0, |point| point.0 - first_s);
        let grid = points.iter().map(|point| fitted(&points, point.0)).collect();
        Self { step_s, first_s, grid, quicker: 0.0 }
    }

    /// Takes the rest that the fit leaves: the whole sounds `ratio` too high.
    fn quicken(&mut self, ratio: f64) {
        self.quicker += ratio - 1.0;
    }

    /// The lead at time `t`, linear on the grid and beyond its ends.
    fn at(&self, t: f64) -> f64 {
        let place = (t - self.first_s) / self.step_s;
        let below = num::floor_index(place).min(self.grid.len().saturating_sub(2));
        let share = place - below as f64;
        match self.grid.get(below..below + 2) {
            Some([a, b]) => a + share * (b - a) + self.quicker * t,
            _ => 0.0,
        }
    }
}

/// The value at `t` of the line through (time, lead, energy) points near `t`.
fn fitted(points: &[(f64, f64, f64)], t: f64) -> f64 {
    let (mut w0, mut w1, mut w2, mut y0, mut y1) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (time, lead, energy) in points {
        let x = time - t;
        let w = energy * (-0.5 * (x / FIT_S).powi(2)).exp() + f64::MIN_POSITIVE;
        w0 += w;
        w1 += w * x;
        w2 += w * x * x;
        y0 += w * lead;
        y1 += w * x * lead;
    }
    let spread = w0 * w2 - w1 * w1;
    if spread > 0.0 { (y0 * w2 - y1 * w1) / spread } else { y0 / w0 }
}

/// Windowed-sinc taps for every stored fraction.
fn taps() -> Vec<[f32; 2 * HALF]> {
    let tap = |x: f64| {
        let sinc = if x.abs() < 1e-12 { 1.0 } else { (PI * x).sin() / (PI * x) };
        let place = (x / HALF as f64).clamp(-1.0, 1.0);
        sinc * (0.42 + 0.5 * (PI * place).cos() + 0.08 * (TAU * place).cos())
    };
    (0..=FRACTIONS)
        .map(|f| {
            std::array::from_fn(|k| num::single(tap(k as f64 - (HALF as f64 - 1.0) - f as f64 / FRACTIONS as f64)))
        })
        .collect()
}

/// `sound` at `from_hz`, its first partial brought to `target`, as `samples` samples at `to_hz`.
pub(super) fn tuned(sound: &[f32], from_hz: f64, target: Hertz, to_hz: f64, samples: usize) -> Vec<f32> {
    let mut lead = Lead::measured(sound, from_hz, target);
    let taps = taps();
    let first_try = read((sound, from_hz), &lead, &taps, to_hz, samples);
    let sustained = num::index(SUSTAINED_S.0 * to_hz)..num::index(SUSTAINED_S.1 * to_hz).min(samples);
    let Some(stretch) = first_try.get(sustained) else { return first_try };
    lead.quicken(partial_hz(stretch, to_hz, target).0 / target.0);
    read((sound, from_hz), &lead, &taps, to_hz, samples)
}

/// Reads `sound` where `lead` says, at `to_hz`, with stored `taps`.
fn read(
    (sound, from_hz): (&[f32], f64),
    lead: &Lead,
    taps: &[[f32; 2 * HALF]],
    to_hz: f64,
    samples: usize,
) -> Vec<f32> {
    let at = |n: usize| {
        let t = n as f64 / to_hz;
        let near = t - lead.at(t);
        let place = (t - lead.at(near)) * from_hz;
        let first = place.floor() - (HALF as f64 - 1.0);
        let fraction = num::index((place - place.floor()) * FRACTIONS as f64);
        let start = num::index(first);
        match (sound.get(start..start + 2 * HALF), taps.get(fraction)) {
            (Some(stretch), Some(taps)) if first >= 0.0 => stretch.iter().zip(taps).map(|(x, tap)| x * tap).sum(),
            _ => 0.0,
        }
    };
    (0..samples).map(at).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gliding_tone_comes_out_steady_and_exact() {
        let rate = 64_000.0;
        // From 3 cents above 146 Hz down to 1 cent above over four seconds.
        let mut phase = 0.0f64;
        let sound: Vec<f32> = (0..256_000)
            .map(|n| {
                let cents = 3.0 - 2.0 * f64::from(n) / 256_000.0;
                phase += 146.0 * (cents / 1200.0).exp2() / rate;
                num::single((TAU * phase).cos())
            })
            .collect();
        let out = tuned(&sound, rate, Hertz(146.0), 44_100.0, 44_100 * 3);
        for second in 0..3 {
            let part = &out[44_100 * second + 2_000..44_100 * (second + 1)];
            let off = partial_hz(part, 44_100.0, Hertz(146.0)).cents_above(Hertz(146.0)).expect("cents");
            assert!(off.0.abs() < 0.1, "second {second}: {off:?}");
        }
    }
}
