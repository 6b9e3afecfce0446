//! Notices that held notes share one shift: then it is Sa that is set wrong, rather than the voice that is off.
//!
//! In: offsets of final held notes on Sa and Pa, which no raga and no tuning moves. Out: the shift, cents; `None` while there is none
//! to tell. Method: the median of the last notes, and how many of them lie near it. A singer who is merely unsure scatters
//! to both sides; one who sings all of them flat by the same amount is told too, and cannot be told apart. Cost: a sort of
//! twelve numbers a note.

use crate::units::Cents;

/// Notes that are looked at, and how many there must be (our choice: two rounds of Sa, Pa and the upper Sa).
const LAST: usize = 12;
const ENOUGH: usize = 6;
/// A shift from here on is told, cents: beyond the usual band for Sa and Pa.
const LEAST: f64 = 25.0;
/// Near the median, cents: twice the standard deviation of some 10 that good singers' held notes have.
const NEAR: f64 = 20.0;
/// The share that must lie near it (our choice: one slip in six).
const SHARE: f64 = 5.0 / 6.0;

/// Follows the offsets.
#[derive(Debug, Clone, Default)]
pub(super) struct ShiftWatch {
    last: [f64; LAST],
    /// Notes so far.
    notes: usize,
}

impl ShiftWatch {
    /// Another Sa, scale or tuning: what was sung before says nothing of it.
    pub(super) fn clear(&mut self) {
        self.notes = 0;
    }

    /// A held note on Sa or Pa has ended, so far from it.
    pub(super) fn note(&mut self, offset: Cents) -> Option<Cents> {
        if let Some(place) = self.last.get_mut(self.notes % LAST) {
            *place = offset.0;
        }
        self.notes += 1;
        let mut offsets = self.last;
        let offsets = offsets.get_mut(..self.notes.min(LAST)).filter(|kept| kept.len() >= ENOUGH)?;
        let shift = median(offsets);
        let near = offsets.iter().filter(|offset| (*offset - shift).abs() <= NEAR).count();
        (shift.abs() >= LEAST && near as f64 >= SHARE * offsets.len() as f64).then_some(Cents(shift))
    }
}

/// The middle value, of two the mean; sorts.
fn median(values: &mut [f64]) -> f64 {
    values.sort_unstable_by(f64::total_cmp);
    let at = |i: usize| values.get(i).copied().unwrap_or(0.0);
    let half = values.len() / 2;
    if values.len() % 2 == 1 { at(half) } else { f64::midpoint(at(half.saturating_sub(1)), at(half)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(offsets: &[f64]) -> Option<Cents> {
        let mut watch = ShiftWatch::default();
        offsets.iter().fold(None, |_, offset| watch.note(Cents(*offset)))
    }

    #[test]
    fn one_shift_in_six_notes_is_told_and_less_is_not() {
        let off = [38.0, 45.0, 33.0, 41.0, 36.0, 43.0];
        assert_eq!(after(&off), Some(Cents(39.5)));
        assert_eq!(after(&off.map(|x| -x)), Some(Cents(-39.5)));
        assert_eq!(after(&off[..5]), None, "five notes are too few");
        assert_eq!(after(&off.map(|x| x - 20.0)), None, "within what a singer may be off");
        assert_eq!(after(&[38.0, -45.0, 33.0, 41.0, -36.0, 43.0]), None, "to both sides");
        assert_eq!(after(&[60.0, 5.0, 95.0, 20.0, 80.0, 40.0]), None, "off, but by no one amount");
    }

    #[test]
    fn one_slip_does_not_hide_it_and_it_ends_when_the_voice_is_on_the_note_or_sa_moved() {
        assert!(after(&[38.0, 45.0, 33.0, 41.0, 36.0, 43.0, -300.0]).is_some());
        let mut watch = ShiftWatch::default();
        for _ in 0..20 {
            watch.note(Cents(-60.0));
        }
        let told: Vec<bool> = (0..LAST).map(|_| watch.note(Cents(2.0)).is_some()).collect();
        assert!(told[0] && !told[LAST - 1], "{told:?}");
        watch.clear();
        assert!((0..ENOUGH - 1).all(|_| watch.note(Cents(50.0)).is_none()));
    }
}
