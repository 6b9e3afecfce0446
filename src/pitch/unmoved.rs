//! An f0 that does not move: a machine's, not a throat's.
//!
//! In: the f0 of each frame, where there is one with a voice. Out: whether it has kept within [`MOST_CENTS`] for
//! [`HOPS`]. Every throat flutters by some cents; a reed and a string between two plucks do not. Cost: a minimum and
//! a maximum of 31 numbers a hop.

use crate::units::{Hertz, num};

/// Hops that are looked back upon: 150 ms.
const HOPS: usize = 30;
/// Range of f0 over them that no throat keeps to, cents (chosen on sung clips: of the steadiest 20 s Sa over a reed 1 in 1000
/// stretches lies below 0.65, of other voices below 0.75 to 1.3; of reeds three in four lie below 0.25 to 1.1).
const MOST_CENTS: f32 = 0.5;

pub(crate) struct Unmoved {
    /// Cents above 1 Hz of the last frames that were voiced.
    cents: [f32; HOPS],
    newest: usize,
    voiced: usize,
}

impl Unmoved {
    pub(crate) fn new() -> Self {
        Self { cents: [0.0; HOPS], newest: 0, voiced: 0 }
    }

    /// Takes a frame; true where f0 has not moved.
    pub(crate) fn step(&mut self, f0: Option<Hertz>) -> bool {
        let Some(f0) = f0 else {
            self.voiced = 0;
            return false;
        };
        self.newest = (self.newest + 1) % HOPS;
        if let Some(place) = self.cents.get_mut(self.newest) {
            *place = num::single(1200.0 * f0.0.log2());
        }
        self.voiced = self.voiced.saturating_add(1);
        if self.voiced < HOPS {
            return false;
        }
        let (least, most) = self.cents.iter().fold((f32::MAX, f32::MIN), |(a, b), c| (a.min(*c), b.max(*c)));
        most - least < MOST_CENTS
    }

    pub(crate) fn reset(&mut self) {
        self.voiced = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hops of a second that are called unmoved, of a tone that swings by so many cents to each side, 4 times a second.
    fn called(cents: f64) -> usize {
        let mut unmoved = Unmoved::new();
        let f0 = |hop: i32| {
            let swing = (std::f64::consts::TAU * 4.0 * f64::from(hop) / 200.0).sin();
            Hertz(196.0 * (cents * swing / 1200.0).exp2())
        };
        (0..200).filter(|hop| unmoved.step(Some(f0(*hop)))).count()
    }

    #[test]
    fn a_machine_is_known_after_150_ms_and_a_throat_never() {
        assert_eq!(called(0.0), 200 - (HOPS - 1));
        // Least of all within 150 ms about a turn: 1 - cos (pi 4 0.15) = 1.3 of the swing to one side.
        assert_eq!(called(0.6), 0);
        assert_eq!(called(2.0), 0);
    }

    #[test]
    fn a_silence_begins_anew() {
        let mut unmoved = Unmoved::new();
        for hop in 0..200 {
            let f0 = (hop % HOPS != 0).then_some(Hertz(196.0));
            assert!(!unmoved.step(f0), "{hop}");
        }
        let since = (1..=HOPS).find(|_| unmoved.step(Some(Hertz(196.0))));
        // Hops 181 to 199 were of one stretch.
        assert_eq!(since, Some(HOPS - 19));
        unmoved.reset();
        assert!(!unmoved.step(Some(Hertz(196.0))));
    }
}
