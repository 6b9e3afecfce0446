//! A causal filter over the line: it follows level and slope, so that a glide is not shrunk.
//!
//! In: f0 per hop. Out: f0 per hop, no later. An alpha-beta filter whose gain falls as the line goes
//! on being foreseen and starts again at a surprise (Kalata 1984 for the relation of the two gains).

use crate::units::{Cents, Hertz};

/// The least gain on the newest value.
const LEAST_GAIN: f64 = 0.3;
/// Surprise at which the filter starts again, cents.
const SURPRISE: f64 = 3.0;

#[derive(Debug, Clone, Copy, PartialEq)]
struct State {
    reference: Hertz,
    cents: f64,
    slope: f64,
    gain: f64,
}

pub(crate) struct Smooth {
    state: Option<State>,
}

impl Smooth {
    pub(crate) fn new() -> Self {
        Self { state: None }
    }

    pub(crate) fn step(&mut self, exact: Option<Hertz>, voiced: bool) -> Option<Hertz> {
        let Some(exact) = exact.filter(|hz| hz.0.is_finite() && hz.0 > 0.0) else {
            self.state = None;
            return None;
        };
        let fresh = State { reference: exact, cents: 0.0, slope: 0.0, gain: 1.0 };
        let Some(mut state) = self.state.filter(|_| voiced) else {
            self.state = Some(fresh);
            return Some(exact);
        };
        let foreseen = state.cents + state.slope;
        let surprise = exact.cents_above(state.reference).map_or(f64::INFINITY, |Cents(c)| c) - foreseen;
        if surprise.abs() > SURPRISE {
            self.state = Some(fresh);
            return Some(exact);
        }
        state.gain = (state.gain / (1.0 + state.gain)).max(LEAST_GAIN);
        // Kalata 1984: beta = 2 (2 - alpha) - 4 sqrt(1 - alpha).
        let beta = 2.0 * (2.0 - state.gain) - 4.0 * (1.0 - state.gain).sqrt();
        state.cents = foreseen + state.gain * surprise;
        state.slope += beta * surprise;
        self.state = Some(state);
        Some(state.reference.up(Cents(state.cents)))
    }

    pub(crate) fn reset(&mut self) {
        self.state = None;
    }
}
