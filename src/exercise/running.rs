//! An exercise under way: fed with what the listener hears, it says what to do, what to sound and how it goes.
//!
//! In: readings and final notes in time order, the singer's answers, pause and skip. Out: [`Progress`], plain data and plain
//! words; the swara that the listener is to expect; the reference tone that is due. Runs beside the audio thread, at any pace
//! (time is counted in readings), and allocates only for words. While it is paused, nothing counts and nothing sounds.

use super::catalogue::{Exercise, Machine, Place, keys};
use super::rest::Rest;
use super::told;
use super::{EarAnswer, EarFirst, EarTable, FRAME_S, LongTone, LongToneTable, Manner, Round, RoundTable};
use crate::note::{Expected, Note};
use crate::swara::{Sthayi, Swara, SwaraReading};
use crate::units::{Cents, SampleRate, SampleTime};

/// Voiced readings after which a new note sounds and the meter hides again: 0.1 s (our choice).
const HIDES_AFTER: u32 = 20;
/// How long an answer stands at least, seconds (our choice: long enough to read it and to listen back); said in the catalogue.
pub(super) const ANSWER_S: f64 = 4.0;

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
    /// The due step may be left out.
    pub may_skip: bool,
    /// The answer stands until the singer goes on: by the next note, or at once.
    pub stands: bool,
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
    rest: Rest,
    paused: bool,
    /// From when on a note is an answer to what was asked.
    asked_from: SampleTime,
    /// The newest reading.
    now: SampleTime,
}

#[derive(Debug, Clone)]
enum Engine {
    LongTone { tone: Box<LongTone>, table: LongToneTable, along: bool },
    Round { round: Box<Round>, table: RoundTable },
    Ear { ear: EarFirst, table: EarTable, answer: Option<Standing> },
}

/// An answer that stands before the singer.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Standing {
    /// For so long, seconds.
    seconds: f64,
    /// Voiced readings without a break.
    voiced: u32,
    /// The newest silence after it stood long enough: a note that begins there is the next one.
    quiet: Option<SampleTime>,
}

impl Standing {
    /// Whether the next note puts it away.
    pub(super) fn long_enough(&self) -> bool {
        self.seconds >= ANSWER_S
    }

    /// Takes a reading; from when on the next note sounds, where it does.
    fn push(&mut self, reading: &SwaraReading) -> Option<SampleTime> {
        self.seconds += FRAME_S;
        if reading.cents.is_none() {
            self.voiced = 0;
            // What sounded when the time was over was begun too early to be the next one.
            self.quiet = self.long_enough().then_some(reading.frame.time);
            return None;
        }
        self.voiced = self.voiced.saturating_add(1);
        self.quiet.filter(|_| self.voiced >= HIDES_AFTER)
    }
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
                Engine::Ear { ear: EarFirst::new(table), table, answer: None }
            }
        };
        let (asked_from, now) = (SampleTime(i64::MIN), SampleTime(i64::MIN));
        Self { exercise, engine, rest: Rest::default(), paused: false, asked_from, now }
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
        // A pause is a rest as well: while it lasts, only silence counts.
        if !self.paused || reading.cents.is_none() {
            self.rest.push(reading);
        }
        if self.paused {
            return;
        }
        self.now = reading.frame.time;
        match &mut self.engine {
            Engine::LongTone { tone, .. } => tone.push(reading),
            Engine::Round { round, .. } => {
                let before = round.state();
                round.push(reading);
                if round.state().sing && !before.sing {
                    self.asked_from = reading.frame.time;
                }
            }
            Engine::Ear { ear, answer, .. } => {
                if let Some(begun) = answer.as_mut().and_then(|standing| standing.push(reading)) {
                    // With the next note the eyes rest again.
                    *answer = None;
                    ear.put_away();
                    self.asked_from = begun;
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
            // What is sung while an answer stands is not asked about.
            Engine::Ear { ear, answer: None, .. } if asked => ear.note(note, seconds),
            Engine::Round { .. } | Engine::Ear { .. } => {}
        }
    }

    /// Takes the singer's answer; whether it was right, `None` if nothing was asked.
    pub fn answer(&mut self, answer: EarAnswer) -> Option<bool> {
        let Engine::Ear { ear, answer: standing, .. } = &mut self.engine else { return None };
        let right = ear.answer(answer)?;
        *standing = Some(Standing::default());
        Some(right)
    }

    /// Leaves the due step out, where it may be, or puts the answer away that stands; true if there was one.
    pub fn skip(&mut self) -> bool {
        match &mut self.engine {
            Engine::Round { round, .. } => round.skip(),
            Engine::Ear { ear, answer, .. } => {
                let stood = answer.take().is_some();
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
            Engine::Ear { ear, table, answer } => told::ear_first(&ear.state(), table, answer.as_ref()),
        };
        if self.rest.due() {
            let done = matches!(&self.engine, Engine::LongTone { tone, .. } if tone.state().done >= 1.0);
            told::rest(&mut progress, done);
        }
        if self.paused {
            "Paused".clone_into(&mut progress.call);
            "Paused: nothing counts. Go on when you like.".clone_into(&mut progress.now);
            (progress.asks, progress.hides, progress.may_skip, progress.stands) = (false, false, false, false);
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
        assert!(done.rest && done.call == "Done" && done.now.starts_with("Done: 0:30 of steady Pa. Rest"), "{done:?}");
    }

    #[test]
    fn a_round_listens_first_marks_each_and_says_one_thing_to_do() {
        let mut round = start("fixed-round", &[("steps", "S P (S')")]);
        assert!(round.tone().is_some());
        let mut early = note(0.0, 2.5);
        round.note(&early, rate());
        assert_eq!(round.progress().steps[0].1, None, "nobody was asked to sing yet");
        assert_eq!(round.progress().told, "");
        for cents in [4.0, 660.0] {
            for k in 0..401 {
                let mut silent = reading(None);
                silent.frame.time = SampleTime(k * 240);
                round.push(&silent);
            }
            // Too short, by however little: the reason stands where the advice does.
            for (samples, held) in [(28_700, "0.5 of 2 s held"), (95_900, "1.9 of 2 s held")] {
                early = note(cents, 2.5);
                (early.start, early.end) = (SampleTime(96_000), SampleTime(96_000 + samples));
                round.note(&early, rate());
                let told = round.progress().told;
                assert!(told.starts_with(held), "{told}");
            }
            early.end = SampleTime(96_000 + 120_000);
            round.note(&early, rate());
            assert_eq!(round.progress().told, "");
        }
        let last = round.progress();
        assert!(last.may_skip, "{last:?}");
        assert_eq!(last.call, "Listen: tara Sa");
        assert!(last.steps[1].1.as_deref().is_some_and(|s| s.contains("low")), "{last:?}");
        assert!(round.skip());
        let anew = round.progress();
        // What is due and what to think of in this round are two things.
        assert_eq!((anew.call.as_str(), anew.told.as_str()), ("Listen: Sa", "This time: Pa a little higher."));
        round.pause(true);
        assert_eq!(round.progress().call, "Paused");
    }

    #[test]
    fn the_meter_hides_until_the_answer_and_again_with_the_next_note() {
        let mut ear = start("ear-first", &[("swara", "S")]);
        assert!(ear.progress().hides && !ear.progress().asks);
        assert_eq!(ear.progress().call, "Now sing Sa");
        assert_eq!(ear.answer(EarAnswer::Low), None);
        ear.note(&note(-40.0, 1.5), rate());
        assert_eq!(ear.progress().call, "Low, same or high?");
        assert!(ear.progress().asks);
        assert_eq!(ear.answer(EarAnswer::Low), Some(true));
        let shown = ear.progress();
        assert!(!shown.hides && shown.stands && shown.told.contains("40"), "{shown:?}");
        let mut at = 0;
        let mut hear = |ear: &mut Running, seconds: f64, cents: Option<f64>| {
            for _ in 0..crate::units::num::int(seconds / 0.005) {
                at += 240;
                let mut reading = reading(cents);
                reading.frame.time = SampleTime(at);
                ear.push(&reading);
            }
            SampleTime(at)
        };
        // A note sung too early neither hides the answer nor is asked about, however long it is held.
        hear(&mut ear, 1.0, None);
        let end = hear(&mut ear, 4.0, Some(0.0));
        let mut early = note(10.0, 2.0);
        (early.start, early.end) = (SampleTime(end.0 - 96_000), end);
        ear.note(&early, rate());
        assert!(ear.progress().told.contains("40") && !ear.progress().asks && !ear.progress().hides);
        // The next one does.
        let quiet = hear(&mut ear, 0.5, None);
        hear(&mut ear, 0.05, Some(0.0));
        assert!(!ear.progress().hides);
        let end = hear(&mut ear, 1.5, Some(0.0));
        assert!(ear.progress().hides && ear.progress().told.is_empty() && !ear.progress().stands);
        let mut next = note(30.0, 1.5);
        (next.start, next.end) = (quiet, end);
        ear.note(&next, rate());
        assert!(ear.progress().asks);
        // A key goes on at once.
        assert_eq!(ear.answer(EarAnswer::High), Some(true));
        assert!(ear.progress().stands && ear.skip() && !ear.skip());
        assert!(ear.progress().hides && ear.progress().told.is_empty());
    }
}
