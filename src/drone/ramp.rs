//! Gains that move smoothly, so that no switch, fade or level change is ever heard as a click.
//!
//! In: where a gain shall go. Out: its value sample by sample, 0 to 1 or any level. A [`Fade`] runs between 0 and 1 in a
//! set time along half a cosine; a [`Glide`] follows a level by a one-pole, 99 % of the way in about five time constants.
//! Both never overshoot. Cost: a few multiplications a sample.

use std::f64::consts::PI;

/// A gain between 0 and 1 that takes a set time from end to end.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fade {
    place: f64,
    step: f64,
    up: f64,
    down: f64,
}

impl Fade {
    /// At 0, `up_s` seconds to 1 and `down_s` back.
    pub(super) fn new(up_s: f64, down_s: f64, rate_hz: f64) -> Self {
        Self { place: 0.0, step: 0.0, up: 1.0 / (up_s * rate_hz), down: -1.0 / (down_s * rate_hz) }
    }

    /// Sets off towards 1 or 0 from wherever it is.
    pub(super) fn go(&mut self, up: bool) {
        self.step = if up { self.up } else { self.down };
    }

    /// Back to 0 at once (only where nothing sounds).
    pub(super) fn reset(&mut self) {
        (self.place, self.step) = (0.0, 0.0);
    }

    /// Jumps to 1 (only where nothing sounds yet).
    pub(super) fn full(&mut self) {
        (self.place, self.step) = (1.0, 0.0);
    }

    /// The gain now, and one sample on.
    #[inline]
    pub(super) fn next(&mut self) -> f64 {
        if self.step != 0.0 {
            self.place += self.step;
            if self.place >= 1.0 {
                self.full();
            } else if self.place <= 0.0 {
                self.reset();
            }
        }
        self.value()
    }

    /// The gain now: 0.5 - 0.5 cos(pi place), so that two opposed fades add to 1.
    #[inline]
    pub(super) fn value(&self) -> f64 {
        if self.step == 0.0 { self.place } else { 0.5 - 0.5 * (PI * self.place).cos() }
    }

    /// At 0 and staying there.
    pub(super) fn is_silent(&self) -> bool {
        self.place == 0.0 && self.step <= 0.0
    }

    /// Whether it moves.
    pub(super) fn is_moving(&self) -> bool {
        self.step != 0.0
    }
}

/// A level that follows its target.
#[derive(Debug, Clone, Copy)]
pub(super) struct Glide {
    value: f64,
    target: f64,
    share: f64,
}

impl Glide {
    /// At `value`, with time constant `tau_s`.
    pub(super) fn new(value: f64, tau_s: f64, rate_hz: f64) -> Self {
        Self { value, target: value, share: 1.0 - (-1.0 / (tau_s * rate_hz)).exp() }
    }

    /// Where to go.
    pub(super) fn go(&mut self, target: f64) {
        self.target = target;
    }

    /// There at once (only where nothing sounds).
    pub(super) fn jump(&mut self, target: f64) {
        (self.value, self.target) = (target, target);
    }

    /// The level now, and one sample on.
    #[inline]
    pub(super) fn next(&mut self) -> f64 {
        self.value += self.share * (self.target - self.value);
        self.value
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fade_takes_its_time_and_opposed_fades_add_to_one() {
        let (mut up, mut down) = (Fade::new(0.5, 0.5, 1000.0), Fade::new(0.5, 0.5, 1000.0));
        down.full();
        up.go(true);
        down.go(false);
        for n in 1..=500 {
            let (a, b) = (up.next(), down.next());
            assert!((a + b - 1.0).abs() < 1e-9, "sample {n}: {a} + {b}");
        }
        up.next();
        down.next();
        assert!((up.value() - 1.0).abs() < 1e-12 && !up.is_moving());
        assert!(down.is_silent());
    }
}
