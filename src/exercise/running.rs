//! An exercise under way: fed with what the listener hears, it says what to do, what to sound and how it goes.
//!
//! In: readings and final notes in time order, the singer's answers, pause and skip. Out: [`Progress`], plain data and plain
//! words; the swara that the listener is to expect; the reference tone that is due. Runs beside the audio thread, at any pace
//! (time is counted in readings), and allocates only for words. While it is paused, nothing counts and nothing sounds.

#[cfg(test)]
mod tests;
mod voice;

use super::catalogue::{Exercise, Machine, Place, keys};
use super::rest::Rest;
use super::told;
use super::{EarAnswer, EarFirst, EarTable, LongTone, LongToneTable, Manner, NoAnswer, Round, RoundTable};
use crate::note::{Expected, Note};
use crate::swara::{Sthayi, Swara, SwaraReading};
use crate::units::{Cents, SampleRate, SampleTime};
use voice::Voice;

/// Voiced readings after which a new note sounds and the meter hides again: 0.1 s (our choice).
const HIDES_AFTER: u32 = 20;

/// How an exercise stands, for people.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Progress {
    /// What to do now, in the few words that are read from far away.
    pub call: String,
    /// The same as a sentence.
    pub now: String,
    /// What was noticed.
    pub told: String,
    /// Share of the goal, 0 to 1, where there is one.
    pub share: Option<f64>,
    /// The same in words.
    pub share_text: String,
    /// Each step with how it went.
    pub steps: Vec<(String, Option<String>)>,
    /// The singer is asked: low, same or high.
    pub asks: bool,
    /// The meter is to stay hidden.
    pub hides: bool,
    /// The marks are those of the round before.
    pub last_round: bool,
    /// The due step may be left out.
    pub may_skip: bool,
    /// The answer stands until the singer goes on: by the next note, or at once.
    pub stands: bool,
    /// A rest is due; the caution about the voice belongs beside it.
    pub rest: bool,
    /// Nothing counts until it goes on.
    pub paused: bool,
    /// It goes on by itself in a while, though nobody sings.
    pub moves: bool,
}

/// An exercise under way.
#[derive(Debug, Clone)]
pub struct Running {
    exercise: &'static Exercise,
    engine: Engine,
    rest: Rest,
    paused: bool,
    /// From when on a note is an answer to what was asked.
    asked_from: SampleTime,
    /// The newest reading.
    now: SampleTime,
    /// Whether the last answer was right, until somebody has counted it.
    settled: Option<bool>,
}

/// A machine with its table. `seen`: what sounds was seen in a pause, and is not asked about.
#[derive(Debug, Clone)]
enum Engine {
    LongTone { tone: Box<LongTone>, table: LongToneTable, along: bool },
    Round { round: Box<Round>, table: RoundTable },
    Ear { ear: EarFirst, table: EarTable, voice: Voice, stands: Option<Stands>, seen: bool },
}

/// An answer that stands before the singer, until the next note.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Stands {
    /// The voice has paused since: what it sings now is the next note.
    paused: bool,
}

impl Running {
    /// At the beginning. `chosen` gives the value of a setting by its key; what it does not know is the default.
    #[must_use]
    pub fn start(exercise: &'static Exercise, chosen: &dyn Fn(&str) -> Option<String>, place: &Place) -> Self {
        let value = |key: &str| {
            let setting = exercise.settings.iter().find(|s| s.key == key);
            setting.map_or_else(String::new, |s| s.value(chosen(key).as_deref(), &place.targets))
        };
        let number = |key: &str, default: f64| value(key).parse::<f64>().unwrap_or(default);
        let swara = || {
            let sthayi = Sthayi(value(keys::STHAYI).parse().unwrap_or(0));
            Swara::from_short(&value(keys::SWARA)).map(|swara| place.swara(swara, sthayi))
        };
        let engine = match exercise.machine {
            Machine::LongTone => {
                let swara = swara().unwrap_or_else(|| place.swara(Swara::S, Sthayi(0)));
                let mut table = LongToneTable::new(swara, place.band.of(swara.target.swara));
                table.goal_minutes = number(keys::MINUTES, table.goal_minutes);
                table.steady = Cents(number(keys::STEADY, table.steady.0));
                Engine::LongTone { tone: Box::new(LongTone::new(table)), table, along: value(keys::TONE) == "along" }
            }
            Machine::Round => {
                let mut table = RoundTable::new(Manner::of_key(&value(keys::MANNER)), place.band.fixed);
                let steps = place.steps(&value(keys::STEPS));
                if steps.iter().any(Option::is_some) {
                    table.steps = steps;
                }
                table.hold_s = number(keys::HOLD, table.hold_s);
                let rounds = value(keys::READY).parse();
                table.ready_rounds = rounds.unwrap_or(table.ready_rounds);
                Engine::Round { round: Box::new(Round::new(table)), table }
            }
            Machine::EarFirst => {
                let swara = swara();
                let band = swara.map_or(place.band.others, |s| place.band.of(s.target.swara));
                let table = EarTable { swara, band, hold_s: number(keys::HOLD, 1.0) };
                Engine::Ear { ear: EarFirst::new(table), table, voice: Voice::default(), stands: None, seen: false }
            }
        };
        let (asked_from, now) = (SampleTime(i64::MIN), SampleTime(i64::MIN));
        Self { exercise, engine, rest: Rest::default(), paused: false, asked_from, now, settled: None }
    }

    /// Which exercise it is.
    #[must_use]
    pub fn exercise(&self) -> &'static Exercise {
        self.exercise
    }

    /// Stops the counting, or goes on. In a pause every face shows the pitch: where the ear comes first, what was asked is dropped,
    /// and what still sounds when it goes on is not asked about.
    pub fn pause(&mut self, paused: bool) {
        let was = std::mem::replace(&mut self.paused, paused);
        let Engine::Ear { ear, voice, stands, seen, .. } = &mut self.engine else { return };
        if paused {
            ear.drop_question();
        } else if was {
            *seen = !voice.paused();
            *stands = stands.map(|_| Stands { paused: !*seen });
            self.asked_from = voice.silent.unwrap_or(self.now);
        }
    }

    /// Takes a reading: time passes.
    pub fn push(&mut self, reading: &SwaraReading) {
        // A pause is a rest as well: while it lasts, only silence counts.
        if !self.paused || reading.cents.is_none() {
            self.rest.push(reading);
        }
        self.now = reading.frame.time;
        if let Engine::Ear { voice, .. } = &mut self.engine {
            voice.push(reading);
        }
        if self.paused {
            return;
        }
        match &mut self.engine {
            Engine::LongTone { tone, .. } => tone.push(reading),
            Engine::Round { round, .. } => {
                let before = round.state();
                round.push(reading);
                if round.state().sing && !before.sing {
                    self.asked_from = reading.frame.time;
                }
            }
            Engine::Ear { ear, voice, stands, seen, .. } => {
                if *seen && voice.paused() {
                    *seen = false;
                    self.asked_from = reading.frame.time;
                }
                if voice.lapses() {
                    ear.lapse();
                }
                let Some(standing) = stands else { return };
                standing.paused |= voice.paused();
                if standing.paused && voice.quiet == 0 && voice.voiced >= HIDES_AFTER {
                    // With the next note the eyes rest again.
                    *stands = None;
                    ear.put_away();
                    self.asked_from = voice.silent.unwrap_or(reading.frame.time);
                }
            }
        }
    }

    /// Takes a final note.
    pub fn note(&mut self, note: &Note, rate: SampleRate) {
        if self.paused {
            return;
        }
        let seconds = note.seconds(rate);
        // Humming along while one is to listen is no answer: most of the note must lie after that.
        let asked = SampleTime(note.start.0.midpoint(note.end.0)) >= self.asked_from;
        match &mut self.engine {
            Engine::LongTone { tone, .. } => tone.note(note, rate),
            Engine::Round { round, .. } if asked => {
                round.note(note, seconds);
            }
            // What was sung before the answer is not asked about again.
            Engine::Ear { ear, stands: stands @ None, seen: false, .. } if asked => {
                if let Some(right) = ear.note(note, seconds) {
                    *stands = Some(Stands::default());
                    self.settled = Some(right);
                }
            }
            Engine::Round { .. } | Engine::Ear { .. } => {}
        }
    }

    /// Takes the singer's answer; whether it was right is then [`Running::settled`]: at once, or, where the note still sounds, when
    /// that is over.
    pub fn answer(&mut self, answer: EarAnswer) {
        let Engine::Ear { ear, stands: stands @ None, voice, seen, .. } = &mut self.engine else { return };
        if self.paused {
            return;
        }
        match ear.answer(answer) {
            Some(right) => {
                *stands = Some(Stands::default());
                self.settled = Some(right);
            }
            None => ear.answer_early(answer, if *seen { Err(NoAnswer::NothingSung) } else { voice.sung() }),
        }
    }

    /// Whether the answer was right that was judged since this was last asked.
    pub fn settled(&mut self) -> Option<bool> {
        self.settled.take()
    }

    /// Leaves the due step out, where it may be, or puts the answer away that stands; true if there was one.
    pub fn skip(&mut self) -> bool {
        match &mut self.engine {
            Engine::Round { round, .. } => round.skip(),
            Engine::Ear { ear, stands, .. } => {
                let stood = stands.take().is_some();
                if stood {
                    ear.put_away();
                    self.asked_from = self.now;
                }
                stood
            }
            Engine::LongTone { .. } => false,
        }
    }

    /// The swara that notes are to be judged against; `None`: freely.
    #[must_use]
    pub fn expected(&self) -> Option<Expected> {
        if self.paused {
            return None;
        }
        match &self.engine {
            Engine::LongTone { table, .. } => Some(table.swara),
            Engine::Round { round, .. } => round.state().due,
            Engine::Ear { table, .. } => table.swara,
        }
    }

    /// The reference tone that is to sound.
    #[must_use]
    pub fn tone(&self) -> Option<Expected> {
        if self.paused {
            return None;
        }
        match &self.engine {
            Engine::LongTone { table, along, .. } => along.then_some(table.swara),
            Engine::Round { round, .. } => round.state().tone,
            Engine::Ear { .. } => None,
        }
    }

    /// How it stands, in words.
    #[must_use]
    pub fn progress(&self) -> Progress {
        let mut progress = match &self.engine {
            Engine::LongTone { tone, table, .. } => told::long_tone(&tone.state(), table),
            Engine::Round { round, table } => told::round(&round.state(), table),
            Engine::Ear { ear, table, voice, stands, seen } => {
                let answerable = !seen && !voice.paused() && voice.sung().is_ok();
                told::ear_first(&ear.state(), table, (stands.is_some(), answerable))
            }
        };
        if self.rest.due() {
            let stays = match &self.engine {
                Engine::LongTone { tone, .. } => tone.state().done >= 1.0,
                Engine::Ear { ear, stands, .. } => ear.state().asking || stands.is_some(),
                Engine::Round { .. } => false,
            };
            told::rest(&mut progress, stays);
        }
        if self.paused {
            "Paused".clone_into(&mut progress.call);
            "Paused: nothing counts. Go on when you like.".clone_into(&mut progress.now);
            (progress.asks, progress.hides, progress.may_skip, progress.stands) = (false, false, false, false);
        }
        progress.moves = !self.paused && matches!(&self.engine, Engine::Round { round, .. } if !round.state().sing);
        progress.paused = self.paused;
        progress
    }
}
