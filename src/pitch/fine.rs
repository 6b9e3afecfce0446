//! The exact pitch near the path: the top of the correlation's peak.
//!
//! In: a grid point and the spectra. Out: f0 in Hz. Two values: the top of the long window's
//! autocorrelation, exact for a steady voice; and that of a compressed spectrum (power to the 0.4,
//! after Tolonen and Karjalainen 2000), coarser but unbent by formants that move. Where they differ the
//! second is believed.

use super::correlation::{Correlation, Lags, lags};
use super::spectrum::{LONG_FFT, SECOND, Spectra};
use crate::input::ANALYSIS_RATE_HZ;
use crate::units::{Cents, Hertz};

/// Exponent of the compressed spectrum (Tolonen and Karjalainen use 0.33 of the power; chosen by data).
const COMPRESSION: f32 = 0.4;
/// Search range around the grid point, cents: a little more than two steps.
const RANGE_CENTS: f64 = 45.0;
/// Steps of the search over that range, each way.
const SEARCH: i32 = 3;
/// Difference of the two values from which the second gains weight, and at which it has all, cents.
const DIFFER: (f64, f64) = (10.0, 20.0);
/// Above this f0 the compressed spectrum has too few harmonics: differences count a fifth.
const FEW_HARMONICS_HZ: f64 = 444.0;

pub(crate) struct Fine {
    second: Lags,
}

impl Fine {
    pub(crate) fn new() -> Self {
        Self { second: lags(SECOND, LONG_FFT) }
    }

    pub(crate) fn near(
        &mut self,
        hz: f64,
        correlation: &Correlation,
        spectra: &Spectra,
        gains: &[f32],
    ) -> Option<Hertz> {
        let first = top(correlation.long(), hz)?;
        self.second.of(spectra.second.iter().zip(gains).map(|(p, g)| (p * g).powf(COMPRESSION)));
        let Some(second) = top(&self.second, hz) else { return Some(first) };
        let apart = second.cents_above(first)?.0;
        let stretch = if hz > FEW_HARMONICS_HZ { 5.0 } else { 1.0 };
        let weight = ((apart.abs() / stretch - DIFFER.0) / (DIFFER.1 - DIFFER.0)).clamp(0.0, 1.0);
        Some(first.up(Cents(weight * apart)))
    }
}

/// The highest point of the correlation within reach of `hz`.
fn top(lags: &Lags, hz: f64) -> Option<Hertz> {
    let centre = ANALYSIS_RATE_HZ / hz;
    let step = centre * ((RANGE_CENTS / f64::from(SEARCH) / 1200.0).exp2() - 1.0);
    let value = |k: f64| f64::from(lags.at(centre + k * step));
    let mut best = (f64::MIN, 0.0);
    for k in -SEARCH..=SEARCH {
        let v = value(f64::from(k));
        if v > best.0 {
            best = (v, f64::from(k));
        }
    }
    let mut at = best.1;
    let mut width = 1.0;
    // Three parabolas, each through a narrower triple around the last top.
    for _ in 0..3 {
        let (left, middle, right) = (value(at - width), value(at), value(at + width));
        let bend = left - 2.0 * middle + right;
        if bend < 0.0 {
            at += (width * 0.5 * (left - right) / bend).clamp(-width, width);
        }
        width *= 0.3;
    }
    let lag = centre + at * step;
    (lag > 1.0 && lag.is_finite()).then(|| Hertz(ANALYSIS_RATE_HZ / lag))
}
