//! The swaras that count and how far a pitch is from the nearest of them.
//!
//! In: cents above madhya Sa. Out: [`Named`], the nearest allowed swara with its register and the
//! signed distance (cents, voice minus target, positive is sharp). Method: nearest neighbour on the
//! octave circle. Cost: 12 comparisons. Does not handle melodic context: it names places, it does not
//! judge ragas.

use crate::swara::names::{Sthayi, Swara};
use crate::units::Cents;
use serde::{Deserialize, Serialize};

/// One allowed swara: its name and where it lies above Sa.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Target {
    /// The name it bears in the scale in force.
    pub swara: Swara,
    /// Cents above Sa within the octave, nudges included.
    pub cents: Cents,
}

/// The swaras that count, by position; fixed size, so that it can be handed to the audio thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Targets {
    /// Entry p is the allowed swara at position p (semitones above Sa), `None` where the scale has none.
    pub by_position: [Option<Target>; 12],
}

/// A pitch named: the nearest allowed swara, its register, and the signed distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Named {
    /// The nearest allowed swara.
    pub swara: Swara,
    /// Its register.
    pub sthayi: Sthayi,
    /// Voice minus target, cents; positive is sharp.
    pub offset: Cents,
}

/// Farther than this from a swara another one is sung, cents (our choice: a semitone and a half is no slip).
pub const LACKED_CENTS: f64 = 150.0;

impl Target {
    /// Names a pitch `cents` above madhya Sa as this swara in its nearest register, whatever lies nearer.
    #[must_use]
    pub fn named(&self, cents: Cents) -> Named {
        let octave = ((cents.0 - self.cents.0) / 1200.0).round();
        let offset = cents.0 - self.cents.0 - 1200.0 * octave;
        let sthayi = Sthayi(i8::try_from(crate::units::num::int(octave)).unwrap_or(0).clamp(-2, 2));
        Named { swara: self.swara, sthayi, offset: Cents(offset) }
    }
}

impl Targets {
    /// Names a pitch `cents` above madhya Sa; `None` when the scale is empty.
    #[must_use]
    pub fn nearest(&self, cents: Cents) -> Option<Named> {
        let mut best: Option<Named> = None;
        for target in self.by_position.iter().flatten() {
            let named = target.named(cents);
            if best.is_none_or(|b| named.offset.0.abs() < b.offset.0.abs()) {
                best = Some(named);
            }
        }
        best
    }

    /// The target of the swara at `position`, if the scale has it.
    #[must_use]
    pub fn at(&self, position: u8) -> Option<Target> {
        self.by_position.get(usize::from(position)).copied().flatten()
    }

    /// The target that bears the name `swara`, if the scale has it.
    #[must_use]
    pub fn of(&self, swara: Swara) -> Option<Target> {
        self.at(swara.position()).filter(|target| target.swara == swara)
    }

    /// Whether a pitch lies so far from every swara of the scale that it is one that the scale lacks.
    #[must_use]
    pub fn lack(&self, cents: Cents) -> bool {
        self.nearest(cents).is_some_and(|named| named.offset.0.abs() > LACKED_CENTS)
    }

    /// How many swaras count.
    #[must_use]
    pub fn len(&self) -> usize {
        self.by_position.iter().flatten().count()
    }

    /// Whether no swara counts.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::swara::{Nudges, Scale, Tuning};

    #[test]
    fn registers_and_signs() {
        let targets = Scale::SaPaSa.targets(&Tuning::Just, &Nudges::default());
        let flat_upper_sa = targets.nearest(Cents(1190.0)).unwrap();
        assert_eq!((flat_upper_sa.swara, flat_upper_sa.sthayi), (Swara::S, Sthayi::TARA));
        assert!((flat_upper_sa.offset.0 + 10.0).abs() < 1e-9);
        let low_pa = targets.nearest(Cents(-498.0)).unwrap();
        assert_eq!((low_pa.swara, low_pa.sthayi), (Swara::P, Sthayi::MANDRA));
        // 3/2 is 701.955 cents (Ellis 1885), so mandra Pa lies 498.045 below Sa.
        assert!((low_pa.offset.0 - 0.045).abs() < 1e-3);
    }

    /// Sung 32 cents flat it lies 68 to 80 cents above N3, in every register and every raga that has both.
    #[test]
    fn a_flat_upper_sa_is_no_n3() {
        let mut ragas = 0;
        for scale in Scale::built_in().filter(|scale| scale.swaras().contains(&Swara::N3)) {
            for tuning in [Tuning::Just, Tuning::JustHighD2, Tuning::Pythagorean, Tuning::Equal] {
                let targets = scale.targets(&tuning, &Nudges::default());
                for octave in [-1200.0, 0.0, 1200.0, 2400.0] {
                    let named = targets.nearest(Cents(octave - 32.0)).unwrap();
                    assert_eq!(named.swara, Swara::S, "{} {} {octave}", scale.key(), tuning.name());
                    assert_eq!(f64::from(named.sthayi.0) * 1200.0, octave);
                    assert!((named.offset.0 + 32.0).abs() < 1e-9);
                }
                // And where N3 is nearer, it is N3.
                assert_eq!(targets.nearest(Cents(1200.0 - 62.0)).unwrap().swara, Swara::N3, "{}", scale.key());
            }
            ragas += 1;
        }
        assert!(ragas > 40, "{ragas}");
    }

    #[test]
    fn a_swara_outside_the_scale_is_named_by_its_neighbour() {
        let targets = Scale::parse("mela-29").unwrap().targets(&Tuning::Equal, &Nudges::default());
        let named = targets.nearest(Cents(110.0)).unwrap();
        assert_eq!(named.swara, Swara::R2);
        assert_eq!(targets.of(Swara::G1), None);
        assert_eq!(targets.len(), 7);
    }

    #[test]
    fn what_the_scale_lacks_is_far_from_all_of_it() {
        let targets = Scale::SaPaSa.targets(&Tuning::Just, &Nudges::default());
        assert!(targets.lack(Cents(386.0)) && targets.lack(Cents(386.0 - 1200.0)));
        assert!(!targets.lack(Cents(840.0)) && !targets.lack(Cents(1190.0)));
    }

    #[test]
    fn an_empty_scale_names_nothing() {
        let none = Targets { by_position: [None; 12] };
        assert!(none.is_empty());
        assert_eq!(none.nearest(Cents(0.0)), None);
    }
}
