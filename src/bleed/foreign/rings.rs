//! Strings whose levels do not fade (pairs that beat, a resonant box): told by what they do, not by their levels.
//!
//! In: hop by hop, the level, the f0 that the tracker calls a voice, and whether it is one of the drone's pitches at about the
//! drone's own level. Out: whether for the last seconds nearly all that was called a voice was the drone's own, on more than
//! one pitch. A reed is learned as floor and not called a voice; who sings over one is louder than it, or sings other swaras
//! too, or rests. Cost: a few operations.

use crate::input::HOP_S;
use crate::units::Hertz;

/// Memory, s (chosen on own drones and sung clips: two pluck cycles).
const MEMORY_S: f64 = 10.0;
/// Seconds of that which must have been called a voice on the lines,
const ON_S: f64 = 0.6;
/// the share of them that may have been called one elsewhere,
const ELSEWHERE: f64 = 0.2;
/// and how often the pitch must have leapt from one of the drone's to another,
const LEAPS: f64 = 1.5;
/// without the level having dipped by more, dB: who sings rests, and leaves the softer drone alone;
const DIP_DB: f64 = 3.0;
/// a dip is forgotten so fast, dB/s.
const DIP_FORGOTTEN_DB_S: f64 = 6.0;
/// A leap, as a ratio: 80 cents.
const LEAP: f64 = 1.047_294;

#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Rings {
    on: f64,
    elsewhere: f64,
    leaps: f64,
    last: f64,
    /// Softest level of late, dBFS.
    dip: f64,
    alone: bool,
}

impl Rings {
    /// A hop; `heard`: what is called a voice, and whether it may be the drone; `fading`: strings are known, whose plucks leap up
    /// as who sings does after a rest. True where it has just become certain.
    pub(super) fn step(&mut self, heard: Option<(Hertz, bool)>, level: f64, fading: bool) -> bool {
        self.dip = self.dip.min(level) + DIP_FORGOTTEN_DB_S * HOP_S;
        for sum in [&mut self.on, &mut self.elsewhere, &mut self.leaps] {
            *sum *= 1.0 - HOP_S / MEMORY_S;
        }
        match heard {
            Some((f0, true)) => {
                self.on += HOP_S;
                let leapt = f0.0 > LEAP * self.last || self.last > LEAP * f0.0;
                if leapt && self.last > 0.0 && (fading || level < self.dip + DIP_DB) {
                    self.leaps += 1.0;
                }
                self.last = f0.0;
            }
            Some((_, false)) => self.elsewhere += HOP_S,
            None => {}
        }
        let was = self.alone;
        self.alone |= self.on > ON_S && self.elsewhere < ELSEWHERE * self.on && self.leaps > LEAPS;
        self.alone && !was
    }

    /// Whether the drone's own strings passed as a voice; once told apart they pass no more, and it is known until a reset.
    pub(super) fn alone(&self) -> bool {
        self.alone
    }

    pub(super) fn reset(&mut self) {
        *self = Self::default();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(seconds: f64, pitch: impl Fn(f64) -> Option<(f64, bool)>) -> bool {
        after_at(seconds, |_| -40.0, pitch)
    }

    fn after_at(seconds: f64, level: impl Fn(f64) -> f64, pitch: impl Fn(f64) -> Option<(f64, bool)>) -> bool {
        let mut rings = Rings::default();
        let mut t = 0.0;
        while t < seconds {
            rings.step(pitch(t).map(|(hz, own)| (Hertz(hz), own)), level(t), false);
            t += HOP_S;
        }
        rings.alone()
    }

    #[test]
    fn strings_in_turn_are_known_and_singers_are_not() {
        let turn = |t: f64| if t % 3.0 < 1.5 { 147.0 } else { 73.4 };
        assert!(after(8.0, |t| Some((turn(t), true))));
        assert!(!after(8.0, |t| Some((turn(t), t % 3.0 < 1.8))), "other swaras are sung too");
        assert!(!after(20.0, |t| (t % 10.0 < 9.0).then_some((147.0, true))), "one long Sa");
        assert!(!after(8.0, |_| None));
        let breath = |t: f64| t % 1.5 < 0.4;
        let rests = |t: f64| (!breath(t)).then_some((turn(t), true));
        assert!(!after_at(20.0, |t| if breath(t) { -46.0 } else { -40.0 }, rests), "the drone is softer in the rests");
        assert!(after(20.0, rests), "it sounds on in them");
    }
}
