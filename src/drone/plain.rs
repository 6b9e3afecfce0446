//! The plain plucked string: exact and quick to make, for the moment until the full string model is ready.
//!
//! In: a string's frequency (Hz), its stiffness, a rate and a length. Out: one pluck as samples. Method: sums of decaying
//! sines at the partials of a stiff string, f_n = n f_1 sqrt((1 + B n^2) / (1 + B)) (Fletcher 1964), struck with the
//! amplitudes of an ideal string plucked at a point, sin(n pi p) / n, and decaying faster the higher they are. The first
//! partial is the target itself. A recurrence of second order in double precision: its drift over 15 s is far below a
//! thousandth of a cent. Cost: about 8 ms a string.
//!
//! What it does not have: the bridge. No travelling band of overtones, and partials that the pluck point leaves out stay
//! out; see `bridge` for those.

use crate::units::{Hertz, num};
use std::f64::consts::{PI, TAU};

/// Most partials that are summed.
const PARTIALS: usize = 24;
/// Where the finger plucks, share of the length: near the middle of the string (common practice, no source).
const PLUCK_POINT: f64 = 0.41;
/// Decay time (to 1/e) of a string at 100 Hz, first partial, seconds (estimated).
const DECAY_S: f64 = 2.6;
/// Loss per partial: partial n decays 1 + DAMP n times as fast (estimated).
const DAMP: f64 = 0.12;
/// A partial is dropped when it has fallen this far below its start (80 dB).
const FLOOR: f64 = 1e-4;

/// Partials that are moved together, so that the machine does two or four at a time.
const LANES: usize = 4;

/// A decaying sine, amplitude exp(-t / tau) sin(2 pi f t), t in samples, as its recurrence; all zeros is silence.
#[derive(Clone, Copy, Default)]
struct Partial {
    turn: f64,
    keep: f64,
    before: f64,
    audible: usize,
}

impl Partial {
    fn new(amplitude: f64, f: f64, tau: f64) -> Self {
        let decay = (-1.0 / tau).exp();
        Self {
            turn: 2.0 * decay * (TAU * f).cos(),
            keep: -decay * decay,
            before: -amplitude * (TAU * f).sin() / decay,
            audible: num::index(-FLOOR.ln() * tau),
        }
    }
}

/// One pluck of a string at `hz` with stiffness `b`, for `samples` samples at `rate_hz`, partials below `top_hz`.
pub(super) fn pluck(hz: Hertz, b: f64, rate_hz: f64, samples: usize, top_hz: f64) -> Vec<f32> {
    let partials: Vec<Partial> = (1..=PARTIALS)
        .map(|n| n as f64)
        .map(|order| (order, order * hz.0 * ((1.0 + b * order * order) / (1.0 + b)).sqrt()))
        .take_while(|(_, f)| *f <= top_hz)
        .map(|(order, f)| {
            let amplitude = (order * PI * PLUCK_POINT).sin() / order;
            let tau_s = DECAY_S * (100.0 / hz.0).sqrt() / (1.0 + DAMP * order);
            Partial::new(amplitude, f / rate_hz, tau_s * rate_hz)
        })
        .collect();
    let mut sound = vec![0.0; samples];
    partials.chunks(LANES).for_each(|together| add(&mut sound, together));
    sound.iter().map(|x| num::single(*x)).collect()
}

/// Adds up to [`LANES`] partials for as long as one of them is heard.
fn add(sound: &mut [f64], together: &[Partial]) {
    let each = |of: fn(&Partial) -> f64| -> [f64; LANES] { std::array::from_fn(|k| together.get(k).map_or(0.0, of)) };
    let (turn, keep) = (each(|partial| partial.turn), each(|partial| partial.keep));
    let (mut before, mut now) = (each(|partial| partial.before), [0.0; LANES]);
    let audible = together.iter().map(|partial| partial.audible).max().unwrap_or(0);
    for x in sound.iter_mut().take(audible) {
        *x += now.iter().sum::<f64>();
        for k in 0..LANES {
            let next = turn[k] * now[k] + keep[k] * before[k];
            before[k] = now[k];
            now[k] = next;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drone::measure::partial_hz;

    #[test]
    fn first_partial_is_the_target_and_the_others_are_those_of_a_stiff_string() {
        let (rate, hz, b) = (44_100.0, Hertz(110.0), 3e-5);
        let sound = pluck(hz, b, rate, 132_300, 20_000.0);
        for n in [1.0f64, 2.0, 4.0, 6.0] {
            // Fletcher 1964, relative to the first partial.
            let want = Hertz(n * hz.0 * ((1.0 + b * n * n) / (1.0 + b)).sqrt());
            let off = partial_hz(&sound[22_050..], rate, want).cents_above(want).expect("cents");
            assert!(off.0.abs() < 0.05, "partial {n}: {off:?}");
        }
    }
}
