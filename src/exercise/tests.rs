//! Each exercise sung through the whole chain: what it says and counts does not hang on how loud the voice is.

use super::catalogue::{Place, find};
use super::{EarAnswer, Progress, Running};
use crate::listener::{Event, Listener, Setting};
use crate::note::{Band, Note};
use crate::swara::{Nudges, Scale, Swara, SwaraReading, Tuning};
use crate::units::{Cents, Decibels, Hertz, SampleRate, num};
use crate::voice::{Manner, Phrase, Singer, Sung, sing};

const SA: Hertz = Hertz(146.832);
/// Blocks as a host sends them.
const BLOCK: usize = 256;

/// An exercise as it is set, what is sung, and what the singer says about each note.
struct Case {
    key: &'static str,
    settings: &'static [(&'static str, &'static str)],
    phrase: Phrase,
    answer: Option<EarAnswer>,
    /// How it ends, as the singer reads it: the share of the goal, and what was noticed.
    ends: (&'static str, &'static str),
}

/// Sa, so far off, after a rest that ends what was sung before.
fn sa(phrase: Phrase, off: f64, seconds: f64) -> Phrase {
    phrase.rest(1.0).sing(Sung::held(Swara::S, 0.0, seconds).off(off))
}

fn cases() -> [Case; 3] {
    let long = sa(sa(Phrase::new(), 0.0, 5.0), -8.0, 4.0).rest(1.0);
    let round = (0..2).fold(Phrase::new(), |phrase, _| sa(sa(phrase, 6.0, 2.5), -4.0, 2.5)).rest(1.0);
    let ear = sa(sa(Phrase::new(), 40.0, 2.0), -40.0, 2.0).rest(1.0);
    [
        Case {
            key: "long-tone",
            settings: &[("swara", "S"), ("minutes", "0.5")],
            phrase: long,
            answer: None,
            ends: (
                "steady 0:08 of 0:30",
                "Counted as two notes: a breath, a pause or a gap in the sound of 1.0 s lay between.",
            ),
        },
        Case {
            key: "fixed-round",
            settings: &[("steps", "S S"), ("manner", "alone"), ("ready", "2")],
            phrase: round,
            answer: None,
            ends: ("2 of 2 good rounds in a row", "Ready: 2 rounds in a row in tune and steady."),
        },
        Case {
            key: "ear-first",
            settings: &[("swara", "S")],
            phrase: ear,
            answer: Some(EarAnswer::High),
            ends: ("1 of 2 heard right", "You said high; it was Sa, 40 cents low."),
        },
    ]
}

/// What the listener hears of a block, in order.
enum Heard {
    Reading(SwaraReading),
    Note(Note),
}

/// How the exercise stands whenever that changes, and at the end the share of its goal.
fn practised(case: &Case, louder: Decibels) -> (Vec<Progress>, f64) {
    let (stood, last, _) = followed(case, louder);
    assert_eq!((last.share_text.as_str(), last.told.as_str()), case.ends, "{} {:+} dB", case.key, louder.0);
    (stood, last.share.unwrap())
}

/// How the exercise stands whenever that changes, and at the end; and the notes.
fn followed(case: &Case, louder: Decibels) -> (Vec<Progress>, Progress, Vec<Note>) {
    let rate = SampleRate::new(48_000.0).unwrap();
    let targets = Scale::SaPaSa.targets(&Tuning::Just, &Nudges::default());
    let band = Band { fixed: Cents(20.0), others: Cents(25.0) };
    let place = Place { targets, positions: std::array::from_fn(|i| Cents(100.0 * i as f64)), band };
    let chosen = |key: &str| case.settings.iter().find(|(k, _)| *k == key).map(|(_, v)| (*v).to_owned());
    let mut running = Running::start(find(case.key).unwrap(), &chosen, &place);
    let singer = Singer { level: Decibels(-34.0), flutter: Cents(3.0), ..Singer::clear(SA) };
    let gain = louder.amplitude();
    let voice: Vec<f32> =
        sing(&case.phrase, &singer, rate).samples.iter().map(|x| num::single(f64::from(*x) * gain)).collect();
    let mut listener = Listener::new(rate, Setting::new(SA, targets, band));
    let (mut stood, mut notes) = (Vec::new(), Vec::new());
    for block in voice.chunks(BLOCK) {
        let mut heard = Vec::new();
        let mut hear = |event: Event<'_>| match event {
            Event::Reading(reading) => heard.push(Heard::Reading(*reading)),
            Event::Note(note) => heard.push(Heard::Note(*note)),
            Event::Octave(_) | Event::Pass(_) => {}
        };
        listener.set(Setting { expected: running.expected(), ..*listener.setting() }, &mut hear);
        listener.process(block, None, &mut hear);
        for heard in heard {
            match heard {
                Heard::Reading(reading) => running.push(&reading),
                Heard::Note(note) => {
                    running.note(&note, rate);
                    notes.push(note);
                }
            }
            if let Some(answer) = case.answer.filter(|_| {
                let now = running.progress();
                now.asks && now.call == "Low, same or high?"
            }) {
                running.answer(answer);
            }
        }
        let now = running.progress();
        if stood.last().is_none_or(|last: &Progress| last.told != now.told || last.steps != now.steps) {
            stood.push(now);
        }
    }
    (stood, running.progress(), notes)
}

#[test]
fn a_soft_voice_and_a_loud_one_are_told_and_counted_the_same() {
    for case in cases() {
        let (told, share) = practised(&case, Decibels(0.0));
        for louder in [-20.0, 20.0] {
            let (other, other_share) = practised(&case, Decibels(louder));
            let words = |stood: &[Progress]| {
                stood.iter().map(|p| (p.told.clone(), p.steps.clone(), p.call.clone())).collect::<Vec<_>>()
            };
            assert_eq!(words(&other), words(&told), "{} {louder:+} dB", case.key);
            assert_eq!(other_share, share, "{} {louder:+} dB", case.key);
        }
    }
}

/// The exercise's clock and the held time that the window shows: of a steady voice the same, of one that wavers not; the meter judges
/// a note without its two ends of 150 ms, and so its stretch is shorter by them.
#[test]
fn a_long_tones_clock_counts_what_is_steady_of_what_is_held_and_says_so() {
    let counted = |sung: Sung| {
        let phrase = Phrase::new().rest(1.0).sing(sung).rest(1.0);
        let settings = &[("swara", "S"), ("minutes", "0.5")];
        let (_, last, notes) =
            followed(&Case { key: "long-tone", settings, phrase, answer: None, ends: ("", "") }, Decibels(0.0));
        assert!(last.share_text.starts_with("steady 0:"), "{}", last.share_text);
        let rate = SampleRate::new(48_000.0).unwrap();
        let held: f64 = notes.iter().map(|n| n.seconds(rate)).sum();
        let stretch = notes.iter().map(|n| n.longest_steady_s).fold(0.0, f64::max);
        (30.0 * last.share.unwrap(), held, stretch)
    };
    let tone = Sung::held(Swara::S, 0.0, 5.0);
    for tone in [tone, tone.scooped(-120.0)] {
        let (steady, held, stretch) = counted(tone);
        assert!((held - 5.0).abs() < 0.1 && (steady - held).abs() < 0.05, "{steady} of {held}");
        assert!((held - stretch - 0.3).abs() < 0.011, "{stretch} of {held}");
    }
    let wavers = Sung { manner: Manner::Vibrato { width: 80.0, hz: 5.5 }, ..tone };
    let (steady, held, _) = counted(wavers);
    assert!(held > 4.5 && steady == 0.0, "{steady} of {held}");
}
