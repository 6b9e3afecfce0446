//! Notices that a voice sings an octave away from the Sa that is set, and says so once.
//!
//! In: final held notes. Out: at most one remark, +1 or -1 octave, until the next [`OctaveWatch::clear`]. Evidence is held
//! time: when, of the last minute or so of held notes, at least 15 s in all, four fifths lie at or above tara Sa (or below
//! madhya Sa and nearer to mandra Sa than to madhya Sa's own neighbourhood), the voice is taken to live there. Constant cost.
//! It cannot tell a singer who practises only tara sthayi for that long; the remark is therefore a question, not a verdict.

/// Held time before anything is said, seconds (our choice: three or four long notes).
const ENOUGH_S: f64 = 15.0;
/// Share of the held time that must lie an octave away (our choice).
const SHARE: f64 = 0.8;
/// Held time after which a note's weight has fallen to 1/e, seconds (our choice).
const MEMORY_S: f64 = 60.0;
/// How far below a register's Sa a note still counts into it, cents.
const BELOW_SA_CENTS: f64 = 50.0;

/// Weighs where the held time lies.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct OctaveWatch {
    low: f64,
    middle: f64,
    high: f64,
    said: bool,
}

impl OctaveWatch {
    /// Counts a held note of `seconds` at `cents` above madhya Sa; gives the remark when it is due.
    pub(super) fn note(&mut self, cents: f64, seconds: f64) -> Option<i8> {
        if !cents.is_finite() || !seconds.is_finite() || seconds <= 0.0 {
            return None;
        }
        let keep = (-seconds / MEMORY_S).exp();
        self.low *= keep;
        self.middle *= keep;
        self.high *= keep;
        if cents >= 1200.0 - BELOW_SA_CENTS {
            self.high += seconds;
        } else if cents < -BELOW_SA_CENTS {
            self.low += seconds;
        } else {
            self.middle += seconds;
        }
        let all = self.low + self.middle + self.high;
        if self.said || all < ENOUGH_S {
            return None;
        }
        let octave = if self.high >= SHARE * all {
            1
        } else if self.low >= SHARE * all {
            -1
        } else {
            return None;
        };
        self.said = true;
        Some(octave)
    }

    /// Forgets the evidence, and that it was said.
    pub(super) fn clear(&mut self) {
        *self = Self::default();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sarali varisai an octave up: mostly tara, its few notes below tara Sa do not hide it.
    #[test]
    fn an_octave_up_is_said_once() {
        let mut watch = OctaveWatch::default();
        let line = [1200.0, 1404.0, 1586.0, 1698.0, 1902.0, 2084.0, 2288.0, 2400.0, 1088.0, 1200.0];
        let said: Vec<i8> = line.iter().cycle().take(60).filter_map(|cents| watch.note(*cents, 1.0)).collect();
        assert_eq!(said, [1]);
    }

    #[test]
    fn an_octave_down_is_said_and_a_usual_range_is_not() {
        let mut watch = OctaveWatch::default();
        let low = [-1200.0, -996.0, -814.0, -702.0, -498.0, -1200.0, -316.0, -112.0, 0.0, -1200.0];
        assert_eq!(low.iter().cycle().take(60).filter_map(|c| watch.note(*c, 1.0)).collect::<Vec<_>>(), [-1]);
        watch.clear();
        let usual = [-498.0, -112.0, 0.0, 204.0, 386.0, 498.0, 702.0, 884.0, 1088.0, 1200.0, 1404.0, 1586.0];
        assert_eq!(usual.iter().cycle().take(200).filter_map(|c| watch.note(*c, 1.0)).count(), 0);
    }

    #[test]
    fn bad_notes_are_left_out() {
        let mut watch = OctaveWatch::default();
        assert_eq!(watch.note(f64::NAN, 100.0), None);
        assert_eq!(watch.note(1200.0, f64::NAN), None);
        assert_eq!(watch.note(1200.0, 16.0), Some(1));
    }
}
