//! Fixed-tone round: the swaras that never move, S, P and S', one after another, each with its mark.
//!
//! In: readings' time and final notes. Out: [`RoundState`]: which step, whether the reference tone is due, the marks, and after
//! each round one thing to do next. A note counts for a step when it lasted long enough; an optional step may be skipped without
//! penalty. "Ready" is a rule with numbers, in [`RoundTable`]. Rounds hold up to eight steps.

use super::{FRAME_S, folded};
use crate::note::{Advice, Expected, Kind, Note};
use crate::swara::{Sthayi, Swara, SwaraReading, Target};
use crate::units::Cents;

/// Steps that a round can have.
pub const STEPS: usize = 8;

/// One swara of the round.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// The swara in its register.
    pub swara: Expected,
    /// Whether it may be left out.
    pub optional: bool,
}

/// How the reference tone and the voice go together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Manner {
    /// The tone first, then the voice alone.
    ListenThenSing,
    /// The tone all along.
    Together,
    /// No tone.
    Alone,
}

/// The exercise as a teacher sets it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoundTable {
    /// The steps in order; the first `None` ends the round.
    pub steps: [Option<Step>; STEPS],
    /// Tone and voice.
    pub manner: Manner,
    /// How long the tone sounds before the voice, seconds.
    pub listen_s: f64,
    /// Shortest note that gets a mark, seconds.
    pub hold_s: f64,
    /// Half-width of the band, cents.
    pub band: Cents,
    /// Largest wobble of a settled note, cents.
    pub steady: Cents,
    /// Rounds in a row that must be good throughout to be ready.
    pub ready_rounds: u32,
}

impl RoundTable {
    /// S P S' with tara Sa optional; two seconds each, 12 cents, ready after three good rounds in a row (our choices).
    #[must_use]
    pub fn new(manner: Manner, band: Cents) -> Self {
        /// A pure fifth, 1200 log2(3/2) cents.
        const FIFTH: f64 = 701.955_000_865_387_4;
        let step = |swara, cents, sthayi, optional| {
            let target = Target { swara, cents: Cents(cents) };
            Some(Step { swara: Expected { target, sthayi: Sthayi(sthayi) }, optional })
        };
        let mut steps = [None; STEPS];
        let [first, second, third, ..] = &mut steps;
        *first = step(Swara::S, 0.0, 0, false);
        *second = step(Swara::P, FIFTH, 0, false);
        *third = step(Swara::S, 0.0, 1, true);
        Self { steps, manner, listen_s: 2.0, hold_s: 2.0, band, steady: Cents(12.0), ready_rounds: 3 }
    }
}

/// How one swara went.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Median minus target, octaves folded, cents.
    pub offset: Cents,
    /// RMS about the line, cents.
    pub wobble: Cents,
    /// Length, seconds.
    pub seconds: f64,
    /// Sung this many octaves from the register that was asked for.
    pub octaves_off: i8,
    /// In the band, steady and in the register.
    pub good: bool,
}

/// The one thing to do next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NextThing {
    /// Sing step `step` again, `advice` (up or down).
    Again {
        /// Which step, from 0.
        step: usize,
        /// Up or down.
        advice: Advice,
    },
    /// Step `step` was in tune but not steady: hold it more quietly.
    Steadier {
        /// Which step, from 0.
        step: usize,
    },
    /// Step `step` was in another register.
    OtherRegister {
        /// Which step, from 0.
        step: usize,
    },
    /// All good: the same round once more.
    OnceMore,
    /// All good often enough: ready for what comes after.
    Ready,
}

/// Where the round stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoundState {
    /// The step that is due, from 0.
    pub step: usize,
    /// The swara that is due; also what the listener is to expect.
    pub due: Option<Expected>,
    /// The reference tone that should sound now.
    pub tone: Option<Expected>,
    /// Whether the voice is asked for now.
    pub sing: bool,
    /// This round's marks so far (skipped steps stay `None`).
    pub marks: [Option<Mark>; STEPS],
    /// Rounds done.
    pub rounds: u32,
    /// Good rounds in a row.
    pub good_rounds: u32,
    /// What to do next, after each round.
    pub next: Option<NextThing>,
    /// How long the due step was held last, where that was too short for a mark, seconds.
    pub short_s: Option<f64>,
}

/// The machine.
#[derive(Debug, Clone, Copy)]
pub struct Round {
    table: RoundTable,
    listened_s: f64,
    state: RoundState,
}

impl Round {
    /// At the first step of the first round.
    #[must_use]
    pub fn new(table: RoundTable) -> Self {
        let state = RoundState {
            step: 0,
            due: None,
            tone: None,
            sing: false,
            marks: [None; STEPS],
            rounds: 0,
            good_rounds: 0,
            next: None,
            short_s: None,
        };
        let mut round = Self { table, listened_s: 0.0, state };
        round.due();
        round
    }

    /// Takes a reading: time passes.
    pub fn push(&mut self, _reading: &SwaraReading) {
        self.listened_s += FRAME_S;
        self.due();
    }

    /// Takes a final note that lasted `seconds`; true if it got the due step's mark.
    pub fn note(&mut self, note: &Note, seconds: f64) -> bool {
        let Some(due) = self.state.due.filter(|_| self.state.sing) else { return false };
        if note.kind != Kind::Held {
            return false;
        }
        if seconds < self.table.hold_s {
            self.state.short_s = Some(seconds);
            return false;
        }
        let offset = folded(note.cents.0, &due);
        let register = note.cents.0 - offset.0 - due.target.cents.0 - 1200.0 * f64::from(due.sthayi.0);
        let octaves_off = i8::try_from(crate::units::num::int(register / 1200.0)).unwrap_or(0);
        let in_band = offset.0.abs() <= self.table.band.0;
        let good = in_band && note.wobble.0 <= self.table.steady.0 && octaves_off == 0;
        if self.state.step == 0 {
            self.state.marks = [None; STEPS];
            self.state.next = None;
        }
        if let Some(mark) = self.state.marks.get_mut(self.state.step) {
            *mark = Some(Mark { offset, wobble: note.wobble, seconds, octaves_off, good });
        }
        self.advance();
        true
    }

    /// Leaves the due step out, if it is optional; true if it was.
    pub fn skip(&mut self) -> bool {
        let optional = self.step().is_some_and(|step| step.optional);
        if optional {
            self.advance();
        }
        optional
    }

    /// Where it stands.
    #[must_use]
    pub fn state(&self) -> RoundState {
        self.state
    }

    fn step(&self) -> Option<Step> {
        self.table.steps.get(self.state.step).copied().flatten()
    }

    fn advance(&mut self) {
        self.state.step += 1;
        self.state.short_s = None;
        self.listened_s = 0.0;
        if self.step().is_none() {
            self.round_over();
            self.state.step = 0;
        }
        self.due();
    }

    fn due(&mut self) {
        let due = self.step().map(|step| step.swara);
        let listening = self.table.manner == Manner::ListenThenSing && self.listened_s < self.table.listen_s;
        self.state.due = due;
        self.state.sing = due.is_some() && !listening;
        self.state.tone = due.filter(|_| listening || self.table.manner == Manner::Together);
    }

    fn round_over(&mut self) {
        let state = &mut self.state;
        state.rounds += 1;
        let marks = state.marks.iter().enumerate().filter_map(|(step, mark)| mark.map(|mark| (step, mark)));
        let worst = marks.filter(|(_, mark)| !mark.good).max_by(|(_, a), (_, b)| badness(a).total_cmp(&badness(b)));
        let any = state.marks.iter().any(Option::is_some);
        state.good_rounds = if worst.is_none() && any { state.good_rounds + 1 } else { 0 };
        state.next = Some(match worst {
            Some((step, mark)) if mark.octaves_off != 0 => NextThing::OtherRegister { step },
            Some((step, mark)) => match Advice::of(mark.offset, self.table.band) {
                Advice::Stay => NextThing::Steadier { step },
                advice => NextThing::Again { step, advice },
            },
            None if any && state.good_rounds >= self.table.ready_rounds => NextThing::Ready,
            None => NextThing::OnceMore,
        });
    }
}

/// How much a mark asks for attention: another register first, then the cents off, then the wobble.
fn badness(mark: &Mark) -> f64 {
    1200.0 * f64::from(mark.octaves_off).abs() + mark.offset.0.abs() + 0.1 * mark.wobble.0
}

#[cfg(test)]
mod tests {
    use super::super::testing::{note, reading};
    use super::*;

    fn sung(round: &mut Round, cents: [f64; 3]) {
        for c in cents {
            assert!(round.note(&note(c, 2.5), 2.5));
        }
    }

    #[test]
    fn three_good_rounds_are_ready() {
        let mut round = Round::new(RoundTable::new(Manner::Alone, Cents(20.0)));
        for k in 0..3 {
            sung(&mut round, [3.0, 700.0, 1190.0]);
            let expected = if k < 2 { NextThing::OnceMore } else { NextThing::Ready };
            assert_eq!(round.state().next, Some(expected));
        }
        sung(&mut round, [3.0, 660.0, 1240.0]);
        assert_eq!(round.state().next, Some(NextThing::Again { step: 1, advice: Advice::Up }));
        assert_eq!((round.state().good_rounds, round.state().rounds), (0, 4));
    }

    #[test]
    fn tara_sa_may_be_skipped_and_pa_may_not() {
        let mut round = Round::new(RoundTable::new(Manner::Alone, Cents(20.0)));
        assert!(!round.skip());
        assert!(round.note(&note(0.0, 2.5), 2.5));
        assert!(!round.skip());
        assert!(round.note(&note(702.0, 2.5), 2.5));
        assert!(round.skip());
        assert_eq!(round.state().next, Some(NextThing::OnceMore));
        assert_eq!(round.state().good_rounds, 1);
        assert_eq!(round.state().marks[2], None);
    }

    #[test]
    fn the_tone_comes_first_and_short_notes_get_no_mark() {
        let mut round = Round::new(RoundTable::new(Manner::ListenThenSing, Cents(20.0)));
        assert!(round.state().tone.is_some() && !round.state().sing);
        assert!(!round.note(&note(0.0, 2.5), 2.5));
        (0..401).for_each(|_| round.push(&reading(None)));
        assert!(round.state().tone.is_none() && round.state().sing);
        assert!(!round.note(&note(0.0, 1.0), 1.0));
        assert_eq!(round.state().short_s, Some(1.0), "why is known");
        assert!(round.note(&note(-80.0, 2.5), 2.5));
        assert_eq!(round.state().short_s, None);
        assert_eq!(round.state().marks[0].map(|m| (m.offset, m.good)), Some((Cents(-80.0), false)));
        assert!(round.state().tone.is_some());
        let together = Round::new(RoundTable::new(Manner::Together, Cents(20.0)));
        assert!(together.state().tone.is_some() && together.state().sing);
    }

    #[test]
    fn another_register_is_said_and_wavering_too() {
        let mut round = Round::new(RoundTable::new(Manner::Alone, Cents(20.0)));
        sung(&mut round, [-1200.0, 702.0, 1200.0]);
        assert_eq!(round.state().next, Some(NextThing::OtherRegister { step: 0 }));
        assert_eq!(round.state().marks[0].map(|m| m.octaves_off), Some(-1));
        let mut shaky = note(702.0, 3.0);
        shaky.wobble = Cents(20.0);
        assert!(round.note(&note(0.0, 3.0), 3.0) && round.note(&shaky, 3.0) && round.skip());
        assert_eq!(round.state().next, Some(NextThing::Steadier { step: 1 }));
    }
}
