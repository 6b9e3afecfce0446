//! The exercise that runs in this instance: fed beside the audio thread, with the window open or closed.
//!
//! In: the line and the final notes as they are gathered, the user's choices and answers. Out: how it stands, and what the audio
//! thread is to expect and to sound ([`Practice::orders`]); each order is repeated until it was taken.

use super::bridge::Command;
use super::history::LinePoint;
use crate::exercise::catalogue::{self, Exercise, Place};
use crate::exercise::{EarAnswer, Progress, Running};
use crate::note::{Expected, Note};
use crate::pitch::F0Frame;
use crate::swara::{Sthayi, Swara, SwaraReading};
use crate::units::{Cents, Decibels, SampleRate};

/// A swara in its register, as commands name it.
type Asked = Option<(Swara, Sthayi)>;

/// What the audio thread was told, and took.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Told {
    expect: Option<Asked>,
    sound: Option<Asked>,
}

/// The exercise under way, if one is.
#[derive(Debug, Default)]
pub struct Practice {
    running: Option<Running>,
    /// Which compiled page of choices it was begun on.
    page: u32,
    told: Told,
    /// A long tone was begun.
    long_tone: bool,
}

impl Practice {
    /// Begins an exercise; the one that ran is over.
    pub fn start(
        &mut self,
        exercise: &'static Exercise,
        chosen: &dyn Fn(&str) -> Option<String>,
        (place, page): (&Place, u32),
    ) {
        self.running = Some(Running::start(exercise, chosen, place));
        self.page = page;
        self.long_tone |= exercise.machine == catalogue::Machine::LongTone;
        self.tell_again();
    }

    /// Whether a long tone was begun, now or before.
    #[must_use]
    pub fn long_tone_begun(&self) -> bool {
        self.long_tone
    }

    /// Ends the exercise.
    pub fn end(&mut self) {
        if self.running.take().is_some() {
            self.tell_again();
        }
    }

    /// Which exercise runs, and the page of choices it was begun on.
    #[must_use]
    pub fn exercise(&self) -> Option<(&'static Exercise, u32)> {
        self.running.as_ref().map(|running| (running.exercise(), self.page))
    }

    /// How it stands.
    #[must_use]
    pub fn progress(&self) -> Option<Progress> {
        self.running.as_ref().map(Running::progress)
    }

    /// Stops the counting, or goes on.
    pub fn pause(&mut self, paused: bool) {
        if let Some(running) = &mut self.running {
            running.pause(paused);
        }
    }

    /// Leaves the due step out, where it may be.
    pub fn skip(&mut self) -> bool {
        self.running.as_mut().is_some_and(Running::skip)
    }

    /// Takes the singer's answer.
    pub fn answer(&mut self, answer: EarAnswer) {
        if let Some(running) = &mut self.running {
            running.answer(answer);
        }
    }

    /// Whether the answer was right that was judged since this was last asked.
    pub fn settled(&mut self) -> Option<bool> {
        self.running.as_mut()?.settled()
    }

    pub(super) fn point(&mut self, point: &LinePoint) {
        if let Some(running) = &mut self.running {
            running.push(&reading(point));
        }
    }

    pub(super) fn note(&mut self, note: &Note, rate: SampleRate) {
        if let Some(running) = &mut self.running {
            running.note(note, rate);
        }
    }

    /// The audio thread has forgotten, or the exercise has changed: everything is said once more.
    pub fn tell_again(&mut self) {
        self.told = Told::default();
    }

    /// Has `ask` tell the audio thread what it was not told yet; `ask` says whether it was taken.
    pub(super) fn orders(&mut self, ask: impl Fn(Command) -> bool) {
        let named = |e: Expected| (e.target.swara, e.sthayi);
        let (expect, sound) = match &self.running {
            Some(running) => (running.expected().map(named), running.tone().map(named)),
            None => (None, None),
        };
        if self.told.expect != Some(expect) && ask(Command::Expect(expect)) {
            self.told.expect = Some(expect);
        }
        if self.told.sound != Some(sound) && ask(Command::Reference(sound)) {
            self.told.sound = Some(sound);
        }
    }
}

/// The exercise of a key.
#[must_use]
pub fn find(key: &str) -> Option<&'static Exercise> {
    catalogue::find(key)
}

/// A point of the line as the exercises take it: when, and where above Sa. What is sung out of the pupil's turn is no pupil's
/// voice: for the exercise it is silence, in which the pupil rests.
fn reading(point: &LinePoint) -> SwaraReading {
    let cents = (point.counts && !point.cents.is_nan()).then(|| Cents(f64::from(point.cents)));
    let frame = F0Frame {
        time: point.time,
        available: point.time,
        f0: None,
        voiced: cents.is_some(),
        confidence: 1.0,
        level: Decibels(0.0),
        clipped: false,
        several: point.several && point.counts,
    };
    SwaraReading { frame, cents, named: None }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::note::Band;
    use crate::swara::{Nudges, Scale, Tuning};
    use std::cell::RefCell;

    #[test]
    fn orders_are_given_once_and_again_when_they_were_not_taken() {
        let targets = Scale::SaPaSa.targets(&Tuning::Just, &Nudges::default());
        let place =
            Place { targets, positions: [Cents(0.0); 12], band: Band { fixed: Cents(20.0), others: Cents(25.0) } };
        let mut practice = Practice::default();
        practice.start(find("fixed-round").unwrap(), &|_| None, (&place, 1));
        let given = RefCell::new(Vec::new());
        let round = |practice: &mut Practice, takes: bool| {
            practice.orders(|command| {
                given.borrow_mut().push(command);
                takes
            });
            given.take()
        };
        let sa = Some((Swara::S, Sthayi(0)));
        let both = [Command::Expect(sa), Command::Reference(sa)];
        assert_eq!(round(&mut practice, false), both);
        assert_eq!(round(&mut practice, true), both);
        assert!(round(&mut practice, true).is_empty());
        practice.pause(true);
        assert_eq!(round(&mut practice, true), [Command::Expect(None), Command::Reference(None)]);
        practice.end();
        assert_eq!(round(&mut practice, true).len(), 2);
        assert!(round(&mut practice, true).is_empty());
    }
}
