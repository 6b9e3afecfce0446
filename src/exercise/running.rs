//! An exercise under way: fed with what the listener hears, it says what to do, what to sound and how it goes.
//!
//! In: readings and final notes in time order, the singer's answers, pause and skip. Out: [`Progress`], plain data and plain
//! words; the swara that the listener is to expect; the reference tone that is due. Runs beside the audio thread, at any pace
//! (time is counted in readings), and allocates only for words. While it is paused, nothing counts and nothing sounds.

use super::catalogue::{Exercise, Machine, Place, keys};
use super::told;
use super::{EarAnswer, EarFirst, EarTable, LongTone, LongToneTable, Manner, Round, RoundTable};
use crate::note::{Expected, Note};
use crate::swara::{Sthayi, Swara, SwaraReading};
use crate::units::{Cents, SampleRate, SampleTime};

/// Voiced readings after which a new note sounds and the meter hides again: 0.1 s (our choice).
const HIDES_AFTER: u32 = 20;

/// How an exercise stands, for people.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Progress {
    /// What to do now.
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
    /// The due step may be left out.
    pub may_skip: bool,
    /// A rest is due; the caution about the voice belongs beside it.
    pub rest: bool,
    /// Nothing counts until it goes on.
    pub paused: bool,
}

/// An exercise under way.
#[derive(Debug, Clone)]
pub struct Running {
    exercise: &'static Exercise,
    engine: Engine,
    paused: bool,
    /// From when on a note is an answer to what was asked.
    asked_from: SampleTime,
}

#[derive(Debug, Clone)]
enum Engine {
    LongTone { tone: Box<LongTone>, table: LongToneTable, along: bool },
    Round { round: Box<Round>, table: RoundTable },
    Ear { ear: EarFirst, table: EarTable, hides: bool, voiced: u32 },
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
                Engine::Ear { ear: EarFirst::new(table), table, hides: true, voiced: 0 }
            }
        };
        Self { exercise, engine, paused: false, asked_from: SampleTime(i64::MIN) }
    }

    /// Which exercise it is.
    #[must_use]
    pub fn exercise(&self) -> &'static Exercise {
        self.exercise
    }

    /// Stops the counting, or goes on.
    pub fn pause(&mut self, paused: bool) {
        self.paused = paused;
    }

    /// Takes a reading: time passes.
    pub fn push(&mut self, reading: &SwaraReading) {
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
            Engine::Ear { ear, hides, voiced, .. } => {
                *voiced = if reading.cents.is_some() { voiced.saturating_add(1) } else { 0 };
                // The answered note was shown; with the next one the eyes rest again.
                *hides |= *voiced >= HIDES_AFTER && !ear.state().asking;
            }
        }
    }

    /// Takes a final note.
    pub fn note(&mut self, note: &Note, rate: SampleRate) {
        if self.paused {
            return;
        }
        let seconds = note.seconds(rate);
        match &mut self.engine {
            Engine::LongTone { tone, .. } => tone.note(note),
            Engine::Round { round, .. } => {
                // Humming along while one is to listen is no answer: most of the note must lie after that.
                let middle = SampleTime(note.start.0.midpoint(note.end.0));
                if middle >= self.asked_from {
                    round.note(note, seconds);
                }
            }
            Engine::Ear { ear, hides, .. } => {
                ear.note(note, seconds);
                *hides |= ear.state().asking;
            }
        }
    }

    /// Takes the singer's answer; whether it was right, `None` if nothing was asked.
    pub fn answer(&mut self, answer: EarAnswer) -> Option<bool> {
        let Engine::Ear { ear, hides, voiced, .. } = &mut self.engine else { return None };
        let right = ear.answer(answer)?;
        (*hides, *voiced) = (false, 0);
        Some(right)
    }

    /// Leaves the due step out, where it may be; true if it was.
    pub fn skip(&mut self) -> bool {
        if let Engine::Round { round, .. } = &mut self.engine { round.skip() } else { false }
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
            Engine::Ear { ear, table, hides, .. } => told::ear_first(&ear.state(), table, *hides),
        };
        if self.paused {
            "Paused: nothing counts. Go on when you like.".clone_into(&mut progress.now);
            (progress.asks, progress.hides, progress.may_skip) = (false, false, false);
        }
        progress.paused = self.paused;
        progress
    }
}

#[cfg(test)]
mod tests {
    use super::super::catalogue::find;
    use super::super::testing::{note, reading};
    use super::*;
    use crate::note::Band;
    use crate::swara::{Nudges, Scale, Tuning};

    fn start(key: &str, settings: &[(&str, &str)]) -> Running {
        let targets = Scale::SaPaSa.targets(&Tuning::Just, &Nudges::default());
        let positions = std::array::from_fn(|i| Cents(100.0 * i as f64));
        let place = Place { targets, positions, band: Band { fixed: Cents(20.0), others: Cents(25.0) } };
        let chosen = |key: &str| settings.iter().find(|(k, _)| *k == key).map(|(_, v)| (*v).to_owned());
        Running::start(find(key).unwrap(), &chosen, &place)
    }

    fn rate() -> SampleRate {
        SampleRate::new(48_000.0).unwrap()
    }

    #[test]
    fn a_long_tone_counts_toward_its_goal_and_rests_are_asked_for() {
        let mut tone = start("long-tone", &[("swara", "P"), ("minutes", "0.5")]);
        assert_eq!(tone.expected().map(|e| e.target.swara), Some(Swara::P));
        assert_eq!(tone.tone(), None);
        (0..3001).for_each(|_| tone.push(&reading(Some(702.0))));
        let half = tone.progress();
        assert!((half.share.unwrap() - 0.5).abs() < 0.001, "{half:?}");
        assert_eq!(half.share_text, "0:15 of 0:30");
        tone.pause(true);
        (0..3000).for_each(|_| tone.push(&reading(Some(702.0))));
        assert_eq!(tone.progress().share, half.share);
        assert_eq!((tone.expected(), tone.progress().paused), (None, true));
        tone.pause(false);
        (0..40_000).for_each(|_| tone.push(&reading(Some(702.0))));
        let done = tone.progress();
        assert!(done.rest && done.now.contains("Rest"), "{done:?}");
    }

    #[test]
    fn a_round_listens_first_marks_each_and_says_one_thing_to_do() {
        let mut round = start("fixed-round", &[("steps", "S P (S')")]);
        assert!(round.tone().is_some());
        let mut early = note(0.0, 2.5);
        round.note(&early, rate());
        assert_eq!(round.progress().steps[0].1, None, "nobody was asked to sing yet");
        for cents in [4.0, 660.0] {
            for k in 0..401 {
                let mut silent = reading(None);
                silent.frame.time = SampleTime(k * 240);
                round.push(&silent);
            }
            early = note(cents, 2.5);
            (early.start, early.end) = (SampleTime(96_000), SampleTime(96_000 + 120_000));
            round.note(&early, rate());
        }
        let last = round.progress();
        assert!(last.may_skip, "{last:?}");
        assert!(last.steps[1].1.as_deref().is_some_and(|s| s.contains("low")), "{last:?}");
        assert!(round.skip());
        assert!(round.progress().told.contains("P") && round.progress().told.contains("higher"), "{round:?}");
    }

    #[test]
    fn the_meter_hides_until_the_answer_and_again_with_the_next_note() {
        let mut ear = start("ear-first", &[("swara", "S")]);
        assert!(ear.progress().hides && !ear.progress().asks);
        assert_eq!(ear.answer(EarAnswer::Low), None);
        ear.note(&note(-40.0, 1.5), rate());
        assert!(ear.progress().asks);
        assert_eq!(ear.answer(EarAnswer::Low), Some(true));
        let shown = ear.progress();
        assert!(!shown.hides && shown.told.contains("40"), "{shown:?}");
        (0..10).for_each(|_| ear.push(&reading(Some(0.0))));
        assert!(!ear.progress().hides);
        (0..10).for_each(|_| ear.push(&reading(Some(0.0))));
        assert!(ear.progress().hides);
    }
}
