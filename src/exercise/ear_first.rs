//! Ear first: say low, same or high about your own note before the meter shows it.
//!
//! In: final notes and the singer's answers. Out: [`EarState`]: whether the meter may be seen, and the share of right answers. An
//! answer is right when it is what the band says of the note; the asked-for swara is in [`EarTable`], or the nearest one is taken.

use super::folded;
use crate::note::{Advice, Expected, Kind, Note};
use crate::swara::Step;
use crate::units::Cents;

/// The exercise as a teacher sets it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EarTable {
    /// The swara to sing; `None`: any, judged against the nearest.
    pub swara: Option<Expected>,
    /// Half-width of what counts as the same, cents.
    pub band: Cents,
    /// Shortest note that is asked about, seconds (our choice: one second is long enough to hear it).
    pub hold_s: f64,
}

/// What the singer says of the note.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum EarAnswer {
    /// It was below the swara.
    Low,
    /// It was on the swara.
    Same,
    /// It was above the swara.
    High,
}

/// Why an answer was none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum NoAnswer {
    /// Nothing was sung that it could be about.
    NothingSung,
    /// The note had hardly begun.
    TooSoon,
    /// The note was over before it was long enough to be asked about.
    TooShort,
    /// The note moved: there is no telling where it was.
    Moved,
}

/// Where the exercise stands.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct EarState {
    /// A note waits for its answer.
    pub asking: bool,
    /// What was answered while the note still sounds: it is judged when that is over.
    pub early: Option<EarAnswer>,
    /// Why the last answer was none, until the next note.
    pub no_answer: Option<NoAnswer>,
    /// What was answered last.
    pub answered: Option<EarAnswer>,
    /// The note's offset, cents; `None` until the answer is given: the meter stays hidden.
    pub shown: Option<Cents>,
    /// Which swara that is off: where any may be sung, the singer need not know which one it was taken for.
    pub of: Option<Step>,
    /// Whether the last answer was right.
    pub right: Option<bool>,
    /// Answers given.
    pub answers: u32,
    /// Right ones.
    pub right_answers: u32,
}

impl EarState {
    /// Share of right answers, 0 to 1; `None` before the first.
    #[must_use]
    pub fn share(&self) -> Option<f64> {
        (self.answers > 0).then(|| f64::from(self.right_answers) / f64::from(self.answers))
    }
}

/// The machine.
#[derive(Debug, Clone, Copy)]
pub struct EarFirst {
    table: EarTable,
    hidden: Option<(Cents, Step)>,
    state: EarState,
}

impl EarFirst {
    /// Before the first note.
    #[must_use]
    pub fn new(table: EarTable) -> Self {
        Self { table, hidden: None, state: EarState::default() }
    }

    /// Takes a final note that lasted `seconds`; a new one takes the place of one that was not answered. Where it was answered
    /// while it sounded: whether that was right.
    pub fn note(&mut self, note: &Note, seconds: f64) -> Option<bool> {
        let early = self.state.early.take();
        if note.kind != Kind::Held || seconds < self.table.hold_s {
            let why = if note.kind == Kind::Held { NoAnswer::TooShort } else { NoAnswer::Moved };
            self.state.no_answer = early.map(|_| why).or(self.state.no_answer);
            return None;
        }
        let sung = (note.offset, Step { swara: note.swara, sthayi: note.sthayi });
        let asked =
            |swara: Expected| (folded(note.cents.0, &swara), Step { swara: swara.target.swara, sthayi: swara.sthayi });
        self.hidden = Some(self.table.swara.map_or(sung, asked));
        (self.state.asking, self.state.shown, self.state.right, self.state.no_answer) = (true, None, None, None);
        self.answer(early?)
    }

    /// Takes an answer while no note waits for one; `sung`: how much of a note there is that it can be about.
    pub fn answer_early(&mut self, answer: EarAnswer, sung: Result<(), NoAnswer>) {
        self.state.early = sung.is_ok().then_some(answer);
        self.state.no_answer = sung.err();
    }

    /// The voice has paused for long and no note has come of it that an early answer could be about.
    pub fn lapse(&mut self) {
        if self.state.early.take().is_some() {
            self.state.no_answer = Some(NoAnswer::TooShort);
        }
    }

    /// Takes the singer's answer; whether it was right, `None` if nothing was asked.
    pub fn answer(&mut self, answer: EarAnswer) -> Option<bool> {
        let (offset, of) = self.hidden.take()?;
        let truth = match Advice::of(offset, self.table.band) {
            Advice::Up => EarAnswer::Low,
            Advice::Stay => EarAnswer::Same,
            Advice::Down => EarAnswer::High,
        };
        let right = answer == truth;
        self.state.answers = self.state.answers.saturating_add(1);
        self.state.right_answers = self.state.right_answers.saturating_add(u32::from(right));
        (self.state.asking, self.state.shown, self.state.right) = (false, Some(offset), Some(right));
        (self.state.answered, self.state.of) = (Some(answer), Some(of));
        Some(right)
    }

    /// Drops the question that is open, and what was answered while its note sounds: no answer is taken for it any more.
    pub fn drop_question(&mut self) {
        self.hidden = None;
        (self.state.asking, self.state.early, self.state.no_answer) = (false, None, None);
    }

    /// Puts the answer away: the next note is to come.
    pub fn put_away(&mut self) {
        (self.state.shown, self.state.right, self.state.no_answer) = (None, None, None);
    }

    /// Where it stands.
    #[must_use]
    pub fn state(&self) -> EarState {
        self.state
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{expected, note};
    use super::*;
    use crate::swara::Swara;

    #[test]
    fn the_meter_stays_hidden_until_the_ear_has_spoken() {
        let swara = Some(expected(Swara::P, 701.955, 0));
        let mut ear = EarFirst::new(EarTable { swara, band: Cents(20.0), hold_s: 1.0 });
        assert_eq!(ear.answer(EarAnswer::Low), None);
        assert_eq!(ear.note(&note(660.0, 0.5), 0.5), None);
        assert!(!ear.state().asking);
        for (cents, answer, right) in [
            (660.0, EarAnswer::Low, true),
            (690.0, EarAnswer::Low, false),
            (702.0 - 1200.0, EarAnswer::Same, true),
            (760.0, EarAnswer::High, true),
        ] {
            ear.note(&note(cents, 1.5), 1.5);
            assert!(ear.state().asking && ear.state().shown.is_none());
            assert_eq!(ear.answer(answer), Some(right), "{cents}");
            assert!(ear.state().shown.is_some() && !ear.state().asking);
        }
        assert_eq!(ear.state().share(), Some(0.75));
        ear.put_away();
        assert_eq!((ear.state().shown, ear.state().answers), (None, 4));
    }

    #[test]
    fn an_answer_while_the_note_sounds_is_judged_when_that_is_over() {
        let swara = Some(expected(Swara::P, 701.955, 0));
        let mut ear = EarFirst::new(EarTable { swara, band: Cents(20.0), hold_s: 1.0 });
        ear.answer_early(EarAnswer::Low, Err(NoAnswer::TooSoon));
        assert_eq!((ear.state().early, ear.state().no_answer), (None, Some(NoAnswer::TooSoon)));
        ear.answer_early(EarAnswer::High, Ok(()));
        ear.answer_early(EarAnswer::Low, Ok(()));
        assert_eq!(ear.note(&note(660.0, 1.5), 1.5), Some(true), "the last one counts");
        assert_eq!((ear.state().answered, ear.state().answers), (Some(EarAnswer::Low), 1));
        // Of a note that is none there is nothing to say, and that is told.
        ear.answer_early(EarAnswer::Low, Ok(()));
        assert_eq!(ear.note(&note(660.0, 0.7), 0.7), None);
        assert_eq!((ear.state().no_answer, ear.state().answers), (Some(NoAnswer::TooShort), 1));
        ear.answer_early(EarAnswer::Low, Ok(()));
        ear.lapse();
        assert_eq!((ear.state().early, ear.state().no_answer), (None, Some(NoAnswer::TooShort)));
        assert_eq!(ear.note(&note(660.0, 1.5), 1.5), None);
        assert!(ear.state().asking && ear.state().no_answer.is_none());
    }
}
