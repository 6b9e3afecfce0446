//! Each exercise under way, fed with made-up readings and notes.

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
    assert_eq!(half.share_text, "steady 0:15 of 0:30");
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
    assert!(round.tone().is_some() && round.progress().moves);
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
    assert!(anew.moves, "it listens, and goes on by itself");
    round.pause(true);
    assert_eq!((round.progress().call.as_str(), round.progress().moves), ("Paused", false));
}

/// What is heard by an exercise, on one clock.
#[derive(Default)]
struct Sung(i64);

impl Sung {
    /// For so long at one pitch, or nothing; when it ends.
    fn hear(&mut self, ear: &mut Running, seconds: f64, cents: Option<f64>) -> SampleTime {
        for _ in 0..crate::units::num::int(seconds / 0.005) {
            self.0 += 240;
            let mut reading = reading(cents);
            reading.frame.time = SampleTime(self.0);
            ear.push(&reading);
        }
        SampleTime(self.0)
    }

    /// A note that was sung for so long until now.
    fn note(&self, ear: &mut Running, seconds: f64, cents: f64) {
        let mut note = note(cents, seconds);
        let samples = note.end.0;
        (note.start, note.end) = (SampleTime(self.0 - samples), SampleTime(self.0));
        ear.note(&note, rate());
    }
}

#[test]
fn the_meter_hides_until_the_answer_and_again_with_the_next_note() {
    let (mut ear, mut sung) = (start("ear-first", &[("swara", "S")]), Sung::default());
    assert!(ear.progress().hides && !ear.progress().asks);
    assert_eq!(ear.progress().call, "Now sing Sa");
    ear.answer(EarAnswer::Low);
    assert_eq!(ear.settled(), None);
    assert!(ear.progress().now.contains("Sing first"), "{:?}", ear.progress());
    sung.hear(&mut ear, 1.5, Some(-40.0));
    sung.note(&mut ear, 1.5, -40.0);
    sung.hear(&mut ear, 0.3, None);
    assert_eq!(ear.progress().call, "Low, same or high?");
    assert!(ear.progress().asks);
    ear.answer(EarAnswer::Low);
    assert_eq!((ear.settled(), ear.settled()), (Some(true), None), "counted once");
    let shown = ear.progress();
    assert!(!shown.hides && shown.stands, "{shown:?}");
    assert_eq!(shown.call, "Sa: 40 cents low", "which swara it was, too");
    assert_eq!(shown.told, "You said low, and so it was: Sa, 40 cents low.");
    // A note begun right after the answer is the next one, and is asked about.
    sung.hear(&mut ear, 0.3, None);
    sung.hear(&mut ear, 0.05, Some(0.0));
    assert!(!ear.progress().hides);
    sung.hear(&mut ear, 1.5, Some(0.0));
    assert!(ear.progress().hides && ear.progress().told.is_empty() && !ear.progress().stands);
    sung.note(&mut ear, 1.5, 30.0);
    assert!(ear.progress().asks);
    ear.answer(EarAnswer::Low);
    assert_eq!(ear.settled(), Some(false));
    assert_eq!(ear.progress().told, "You said low; it was Sa, 30 cents high.", "both stand beside one another");
    // A key goes on at once.
    assert!(ear.progress().stands && ear.skip() && !ear.skip());
    assert!(ear.progress().hides && ear.progress().told.is_empty());
}

#[test]
fn an_answer_while_the_note_sounds_is_taken() {
    let (mut ear, mut sung) = (start("ear-first", &[("swara", "S")]), Sung::default());
    sung.hear(&mut ear, 0.3, Some(-40.0));
    ear.answer(EarAnswer::High);
    assert!(!ear.progress().asks && ear.progress().now.contains("half a second"), "{:?}", ear.progress());
    sung.hear(&mut ear, 0.4, Some(-40.0));
    assert!(ear.progress().asks && ear.progress().hides);
    ear.answer(EarAnswer::Low);
    assert_eq!((ear.progress().call.as_str(), ear.settled()), ("You say low", None));
    assert!(ear.progress().hides, "the eyes wait for the end of the note");
    sung.hear(&mut ear, 0.6, Some(-40.0));
    sung.note(&mut ear, 1.3, -40.0);
    assert_eq!(ear.settled(), Some(true));
    assert!(ear.progress().stands && ear.progress().told.starts_with("You said low"));
    // The same voice goes on: it is not asked again.
    sung.hear(&mut ear, 1.0, Some(-40.0));
    assert!(ear.progress().stands);
    // One that ends too soon is told as that.
    sung.hear(&mut ear, 0.3, None);
    sung.hear(&mut ear, 0.6, Some(0.0));
    ear.answer(EarAnswer::Same);
    sung.hear(&mut ear, 1.6, None);
    assert!(ear.progress().now.starts_with("Too short"), "{:?}", ear.progress());
    assert_eq!(ear.settled(), None);
}

/// In a pause every face shows the note that waits for its answer: it is not asked about any more, whether it is over, was
/// answered while it sounded, or still sounds when it goes on.
#[test]
fn what_was_asked_when_it_was_paused_is_dropped() {
    let (mut ear, mut sung) = (start("ear-first", &[("swara", "S")]), Sung::default());
    let answers = |ear: &mut Running, what: &str| {
        ear.answer(EarAnswer::Low);
        assert_eq!((ear.settled(), ear.progress().stands), (None, false), "{what}");
    };
    // It was over.
    sung.hear(&mut ear, 1.5, Some(-40.0));
    sung.note(&mut ear, 1.5, -40.0);
    assert!(ear.progress().asks);
    ear.pause(true);
    sung.hear(&mut ear, 0.5, None);
    ear.pause(false);
    assert!(!ear.progress().asks && ear.progress().hides && ear.progress().call == "Now sing Sa");
    answers(&mut ear, "over");
    // It was answered while it sounded.
    sung.hear(&mut ear, 1.5, Some(-40.0));
    answers(&mut ear, "early");
    ear.pause(true);
    ear.pause(false);
    sung.hear(&mut ear, 0.5, Some(-40.0));
    assert!(!ear.progress().asks, "what was seen is not asked about while it sounds");
    answers(&mut ear, "sounds");
    sung.note(&mut ear, 2.0, -40.0);
    sung.hear(&mut ear, 0.3, None);
    // It sounded through all of the pause, and is final only after a silence.
    sung.hear(&mut ear, 1.0, Some(-40.0));
    ear.pause(true);
    sung.hear(&mut ear, 1.0, Some(-40.0));
    ear.pause(false);
    let end = sung.hear(&mut ear, 3.0, Some(-40.0));
    sung.hear(&mut ear, 0.5, None);
    let mut last = note(-40.0, 5.0);
    (last.start, last.end) = (SampleTime(end.0 - 5 * 48_000), end);
    ear.note(&last, rate());
    assert!(!ear.progress().asks);
    answers(&mut ear, "long");
    // The next one is asked about as ever.
    sung.hear(&mut ear, 1.5, Some(-40.0));
    sung.note(&mut ear, 1.5, -40.0);
    ear.answer(EarAnswer::Low);
    assert_eq!(ear.settled(), Some(true));
    // An answer stands over a pause; what is sung in it does not put that away.
    ear.pause(true);
    sung.hear(&mut ear, 0.5, None);
    sung.hear(&mut ear, 1.0, Some(0.0));
    ear.pause(false);
    sung.hear(&mut ear, 1.0, Some(0.0));
    assert!(ear.progress().stands);
    // What begins right after it went on is a note of its own.
    ear.pause(true);
    sung.hear(&mut ear, 0.5, None);
    ear.pause(false);
    sung.hear(&mut ear, 1.5, Some(-40.0));
    sung.note(&mut ear, 1.5, -40.0);
    assert!(ear.progress().asks && ear.progress().hides);
}
