//! A gain that never jumps: it walks to its target in a straight line of 20 ms.

/// How long a full change takes, seconds: short to the ear, long against a click.
const WALK_S: f32 = 0.02;

/// A click-free gain. At exactly 1 it leaves samples alone, bit for bit.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ramp {
    now: f32,
    target: f32,
    step: f32,
    samples: f32,
}

impl Ramp {
    /// Standing at `gain`.
    pub(crate) fn new(rate_hz: f32, gain: f32) -> Self {
        Self { now: gain, target: gain, step: 0.0, samples: (rate_hz * WALK_S).max(1.0) }
    }

    /// Walks to `target` from the next sample on.
    pub(crate) fn to(&mut self, target: f32) {
        if target.to_bits() != self.target.to_bits() {
            self.target = target;
            self.step = (target - self.now) / self.samples;
        }
    }

    /// Stands at `gain` at once: for when nothing sounds through it.
    pub(crate) fn jump(&mut self, gain: f32) {
        (self.now, self.target, self.step) = (gain, gain, 0.0);
    }

    /// Whether it stands still at exactly `gain`.
    pub(crate) fn stands_at(&self, gain: f32) -> bool {
        self.step == 0.0 && self.now.to_bits() == gain.to_bits()
    }

    /// The gain of the next sample.
    pub(crate) fn next(&mut self) -> f32 {
        if self.step != 0.0 {
            let next = self.now + self.step;
            let arrived = if self.step > 0.0 { next >= self.target } else { next <= self.target };
            if arrived {
                self.now = self.target;
                self.step = 0.0;
            } else {
                self.now = next;
            }
        }
        self.now
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_arrives_exactly_and_within_its_time() {
        let mut ramp = Ramp::new(48_000.0, 0.0);
        ramp.to(1.0);
        let walked: Vec<f32> = (0..1000).map(|_| ramp.next()).collect();
        assert!(walked.windows(2).all(|w| w[1] >= w[0] && w[1] - w[0] < 1.1 / 960.0));
        assert!(ramp.stands_at(1.0));
        // 20 ms at 48 kHz are 960 samples; the sum of so many steps may round to one more or less.
        let on_the_way = walked.iter().filter(|g| **g < 1.0).count();
        assert!((958..=961).contains(&on_the_way), "{on_the_way}");
    }
}
