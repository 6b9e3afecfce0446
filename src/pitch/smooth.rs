//! A causal filter over the line: it follows level and slope, so that a glide is not shrunk.
//!
//! In: f0 per hop, and the time that it is of. Out: f0 per hop, no later. The periods of a throat jitter without a slow
//! part, so that readings 10 ms apart err each on their own, in cents about in proportion to the period: averaging helps,
//! the more the lower the voice. A reading is of the time at which its window's power has its middle, which is before the
//! frame's where the sound fades: that much of the slope is made up for. After a surprise the filter is the straight line
//! through the reading before it and all since (least squares, growing memory: Brookner 1998, Tracking and Kalman
//! Filtering Made Easy), then an alpha-beta filter of constant gains that follow from jitter and flutter by the tracking
//! index of Kalata 1984. Cost: a few dozen operations. It does not look ahead: a turn is seen a little late and low where
//! it stays under the surprise (figures in the parent module's tests).

use crate::units::{Cents, Hertz};

/// What a reading errs by, times f0, cents times Hz: 1 cent at 200 Hz (held notes of four voices).
const JITTER: f64 = 200.0;
/// Least and most of it, cents: above, other errors weigh more; below, no voice is.
const JITTER_RANGE: (f64, f64) = (0.35, 5.0);
/// How far a throat strays from a straight line in one hop, cents: with 1 cent of jitter the tracking index.
const STRAY: f64 = 0.055;
/// Surprise, in jitters, at which the filter starts again.
const SURPRISE: f64 = 4.0;
/// The same while only one reading is there and the slope is not yet known.
const FIRST_SURPRISE: f64 = 12.0;
/// Cents up to which two readings that surprise are a glide, and not a leap (chosen by data; 50 to 150 differ by 0.03 %).
const GLIDE: f64 = 60.0;
/// Hops that two readings must lie apart for a slope to be drawn through them.
const APART: f64 = 0.5;

#[derive(Debug, Clone, Copy, PartialEq)]
struct State {
    reference: Hertz,
    /// Level over the reference, cents.
    cents: f64,
    /// Cents per hop.
    slope: f64,
    /// Readings since the filter started.
    age: f64,
}

pub(crate) struct Smooth {
    state: Option<State>,
    /// The last reading, and its lean.
    before: Option<(Hertz, f64)>,
}

impl Smooth {
    pub(crate) fn new() -> Self {
        Self { state: None, before: None }
    }

    /// `lean`: by how many hops the reading is of a later time than the frame's, where the sound swells or fades.
    pub(crate) fn step(&mut self, exact: Option<Hertz>, voiced: bool, lean: f64) -> Option<Hertz> {
        let Some(exact) = exact.filter(|hz| hz.0.is_finite() && hz.0 > 0.0) else {
            self.state = None;
            self.before = None;
            return None;
        };
        let fresh = State { reference: exact, cents: 0.0, slope: 0.0, age: 1.0 };
        let before = std::mem::replace(&mut self.before, voiced.then_some((exact, lean)));
        let Some(mut state) = self.state.filter(|_| voiced) else {
            self.state = Some(fresh);
            return Some(exact);
        };
        let jitter = (JITTER / exact.0).clamp(JITTER_RANGE.0, JITTER_RANGE.1);
        let foreseen = state.cents + state.slope;
        let surprise =
            exact.cents_above(state.reference).map_or(f64::INFINITY, |Cents(c)| c) - foreseen - state.slope * lean;
        let allowed = if state.age < 2.0 { FIRST_SURPRISE } else { SURPRISE };
        if surprise.abs() > allowed * jitter {
            let apart = before.and_then(|(hz, at)| Some((exact.cents_above(hz)?.0, 1.0 + lean - at)));
            let glide = apart.filter(|(cents, hops)| (allowed * jitter..GLIDE).contains(&cents.abs()) && *hops > APART);
            let state = glide.map_or(fresh, |(cents, hops)| {
                let slope = cents / hops;
                State { cents: -slope * lean, slope, age: 2.0, ..fresh }
            });
            self.state = Some(state);
            return Some(state.reference.up(Cents(state.cents)));
        }
        state.age += 1.0;
        let (growing, steady) = (growing(state.age), steady(STRAY / jitter));
        state.cents = foreseen + growing.0.max(steady.0) * surprise;
        state.slope += growing.1.max(steady.1) * surprise;
        self.state = Some(state);
        Some(state.reference.up(Cents(state.cents)))
    }

    pub(crate) fn reset(&mut self) {
        self.state = None;
        self.before = None;
    }
}

/// Gains on level and slope of the straight line through `n` readings (Brookner 1998, table 1.3-1,
/// counted from 1).
fn growing(n: f64) -> (f64, f64) {
    (2.0 * (2.0 * n - 1.0) / (n * (n + 1.0)), 6.0 / (n * (n + 1.0)))
}

/// Constant gains for a tracking index (Kalata 1984, equations 15 and 16).
fn steady(index: f64) -> (f64, f64) {
    let r = (4.0 + index - (8.0 * index + index * index).sqrt()) / 4.0;
    let alpha = 1.0 - r * r;
    (alpha, 2.0 * (2.0 - alpha) - 4.0 * (1.0 - alpha).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn growing_gains_are_those_of_a_straight_line() {
        // Least squares by the normal equations, the slow obvious way.
        let readings = [3.0, 5.5, 6.0, 9.0, 10.5, 11.0, 15.5];
        let (mut level, mut slope) = (readings[0], 0.0);
        for (i, y) in readings.iter().enumerate().skip(1) {
            let gains = growing((i + 1) as f64);
            let surprise = y - level - slope;
            level += slope + gains.0 * surprise;
            slope += gains.1 * surprise;
            let n = (i + 1) as f64;
            let mean_x = i as f64 / 2.0;
            let mean_y = readings[..=i].iter().sum::<f64>() / n;
            let over: f64 = readings[..=i].iter().enumerate().map(|(k, v)| (k as f64 - mean_x) * (v - mean_y)).sum();
            let under: f64 = (0..=i).map(|k| (k as f64 - mean_x).powi(2)).sum();
            let expected = mean_y + over / under * (i as f64 - mean_x);
            assert!((level - expected).abs() < 1e-9 && (slope - over / under).abs() < 1e-9, "{i}: {level} {expected}");
        }
    }

    #[test]
    fn a_straight_glide_passes_unchanged_and_a_leap_at_once() {
        let mut smooth = Smooth::new();
        for hop in 0..100 {
            let hz = Hertz(200.0).up(Cents(2.0 * f64::from(hop)));
            let out = smooth.step(Some(hz), true, 0.0).unwrap();
            assert!(out.cents_above(hz).unwrap().0.abs() < 1e-6, "{hop}");
        }
        assert_eq!(smooth.step(Some(Hertz(400.0)), true, 0.0), Some(Hertz(400.0)));
        assert_eq!(smooth.step(None, true, 0.0), None);
    }
}
