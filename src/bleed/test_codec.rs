//! What a call's codec does to a sound, for the tests of this room.

use crate::input::ANALYSIS_RATE_HZ;
use crate::units::num;

/// A sound as a codec leaves it, roughly: every 20 ms it runs ahead or lags behind by up to 40 us, and is louder or softer by up
/// to 1 dB, as chance has it; it stays so long, but no error adds up to another.
pub(super) fn unsteady(sound: &[f32]) -> Vec<f32> {
    unsteady_by(sound, 1.0)
}

/// The same with all errors so many times as great.
pub(super) fn unsteady_by(sound: &[f32], times: f64) -> Vec<f32> {
    const FRAME: usize = 320;
    let mut state = 7u64;
    let mut chance = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    };
    let ends: Vec<(f64, f64)> =
        (0..sound.len() / FRAME + 2).map(|_| (times * 40e-6 * ANALYSIS_RATE_HZ * chance(), times * chance())).collect();
    let at = |i: usize| {
        let (frame, along) = (i / FRAME, (i % FRAME) as f64 / FRAME as f64);
        let ((delay, db), (next_delay, next_db)) = (ends[frame], ends[frame + 1]);
        let t = i as f64 - 4.0 - (delay + (next_delay - delay) * along);
        let (whole, part) = (t.floor(), t - t.floor());
        // Cubic between the samples (Catmull and Rom 1974).
        let x = |k: f64| if whole + k < 0.0 { 0.0 } else { f64::from(sound[num::index(whole + k)]) };
        let (a, b, c, d) = (x(-1.0), x(0.0), x(1.0), x(2.0));
        let slope =
            b + 0.5 * part * (c - a + part * (2.0 * a - 5.0 * b + 4.0 * c - d + part * (3.0 * (b - c) + d - a)));
        num::single(slope * 10f64.powf((db + (next_db - db) * along) / 20.0))
    };
    (0..sound.len()).map(at).collect()
}
