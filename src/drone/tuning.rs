//! Brings a simulated string exactly to its pitch, as a player turns the bead until the beats stand still.
//!
//! In: one pluck at the simulation's rate, and its target (Hz). Out: the pluck at the rate wanted, its first partial at the
//! target throughout, to a few hundredths of a cent. Why: against the thread a string sounds 2 to 3 cents above its free
//! pitch and settles by one cent while it decays; the ruler must not move. Method: the phase of the first partial is
//! measured piece by piece (`measure`), its way ahead of the target is taken as a function of time, and the sound is read
//! at the places where it is not ahead: a windowed-sinc resampling with a slowly varying step (Smith and Gossett 1984).
//! All takes of a string come out in phase, so that blending two of them never thins the tone. Cost: 24 taps a sample.

use super::measure::pieces;
use crate::units::{Hertz, num};
use std::f64::consts::{PI, TAU};

/// Length of the pieces over which the phase is taken, seconds.
const PIECE_S: f64 = 0.4;
/// Taps either side. The simulated sound ends far below half its rate, so few are enough: images are 80 dB down.
const HALF: usize = 12;
/// Stored fractions between two samples.
const FRACTIONS: usize = 512;

/// How far the first partial is ahead of the target: (time s, lead s).
fn leads(sound: &[f32], rate_hz: f64, target: Hertz) -> Vec<(f64, f64)> {
    let mut turns = 0.0;
    let mut last = 0.0;
    let mut out = Vec::new();
    for (centre, re, im) in pieces(sound, rate_hz, target, PIECE_S) {
        let phase = im.atan2(re) / TAU;
        turns += (phase - last) - (phase - last).round();
        last = phase;
        out.push((centre / rate_hz, turns / target.0));
    }
    out
}

/// The lead at time `t`, linear between the pieces and beyond the ends.
fn lead_at(leads: &[(f64, f64)], t: f64) -> f64 {
    let after = leads.partition_point(|(time, _)| *time < t).clamp(1, leads.len().saturating_sub(1).max(1));
    match leads.get(after - 1..=after) {
        Some([(t0, l0), (t1, l1)]) => l0 + (l1 - l0) * (t - t0) / (t1 - t0),
        _ => leads.first().map_or(0.0, |(_, lead)| *lead),
    }
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
    let leads = leads(sound, from_hz, target);
    let taps = taps();
    let read = |place: f64| {
        let first = place.floor() - (HALF as f64 - 1.0);
        let fraction = num::index((place - place.floor()) * FRACTIONS as f64);
        if first < 0.0 {
            return 0.0;
        }
        let start = num::index(first);
        let (Some(stretch), Some(taps)) = (sound.get(start..start + 2 * HALF), taps.get(fraction)) else { return 0.0 };
        stretch.iter().zip(taps).map(|(x, tap)| x * tap).sum::<f32>()
    };
    let at = |n: usize| {
        let t = n as f64 / to_hz;
        let near = t - lead_at(&leads, t);
        read((t - lead_at(&leads, near)) * from_hz)
    };
    (0..samples).map(at).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drone::measure::partial_hz;

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
            assert!(off.0.abs() < 0.03, "second {second}: {off:?}");
        }
    }
}
