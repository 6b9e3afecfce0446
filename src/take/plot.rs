//! The singing of a take as a figure, as drawing instructions for the page.
//!
//! In: what was [`Heard`] and what was [`Asked`]. Out: [`Strip`]s, one under the other like lines of a score. Which seconds a strip
//! holds is [`stretch`](super::stretch)'s: only a note longer than a strip is cut, and each part bears its number then; silence before
//! and after a strip is left out, and the strips are made about as long as one another. Leaps that no voice can do and lone misreadings
//! are not drawn (the frames' CSV has them). Cost: one pass over the frames.

use super::ask::Asked;
use super::ribbon::ribbon;
use super::run::{Heard, same_sa};
use super::stretch::{drawn, next_stretch, sections, strip_seconds, within};
use super::strip::{Drawing, Strip, Sung};
use super::written::from_sa;
use crate::note::{Kind, Note};

/// Draws the whole take. `worth`: the places, among the notes, of those whose strips keep the whole width; of the others those with
/// few notes have half of it, two side by side. Without it all are wide.
#[must_use]
pub fn strips(heard: &Heard, asked: &Asked, worth: Option<&[usize]>) -> Vec<Strip> {
    let at = |n: &Note| n.start.seconds(heard.rate)..n.end.seconds(heard.rate);
    let line: Vec<(f64, f64)> =
        heard.frames.iter().filter_map(|r| Some((r.frame.time.seconds(heard.rate), r.cents?.0))).collect();
    let line = drawn(&line);
    let held: Vec<Sung<'_>> = heard
        .notes
        .iter()
        .enumerate()
        .filter(|(_, n)| n.kind == Kind::Held)
        .map(|(i, note)| {
            let (time, target) = (at(note), note.cents.0 - note.offset.0);
            let knots = ribbon(within(&line, &time), target);
            Sung { note, time, target, knots, large: worth.is_none_or(|worth| worth.contains(&i)) }
        })
        .collect();
    let longest = strip_seconds(heard.seconds);
    let sections = sections(heard, asked.sa);
    let moved = sections.iter().any(|(_, sa)| !same_sa(*sa, asked.sa));
    let mut strips = Vec::new();
    for (time, sa) in sections {
        let line = within(&line, &time);
        let a = held.partition_point(|s| s.time.start < time.start);
        let b = held.partition_point(|s| s.time.start < time.end);
        let held = held.get(a..b).unwrap_or_default();
        let mut from = time.start;
        let starts: Vec<f64> = held.iter().map(|s| s.time.start).collect();
        while let Some(stretch) = next_stretch(line, &starts, from, longest) {
            from = stretch.end;
            let drawing = Drawing::new(line, held, asked, stretch);
            strips.extend(drawing.map(|d| Strip { sa: moved.then(|| from_sa(sa)), ..d.strip() }));
        }
    }
    strips
}

#[cfg(test)]
pub(super) mod tests {
    use super::super::strip::{Held, LABEL, LEFT, Label, RIGHT, WIDTH};
    use super::*;
    use crate::meter::Meter;
    use crate::note::{Judge, Offsets, Onset};
    use crate::pitch::F0Frame;
    use crate::swara::read;
    use crate::take::Words;
    use crate::units::{Cents, Decibels, Hertz, SampleRate, SampleTime};

    const RATE: f64 = 48_000.0;

    /// What is heard of a line of `seconds`, cents above Sa, on a frame every 5 ms.
    pub(in crate::take) fn heard(seconds: f64, line: impl Fn(f64) -> Option<f64>) -> (Heard, Asked) {
        let words = Words { tonic: "D3", raga: None, tuning: "just", band: "beginner" };
        let asked = Asked::parse(words).unwrap();
        let rate = SampleRate::new(RATE).unwrap();
        let (mut judge, mut frames, mut notes) = (Judge::new(rate), Vec::new(), Vec::new());
        let mut meter = Meter::new();
        let mut keep = |note: &Note, offsets: &Offsets<'_>| {
            meter.add(note, offsets, note.end.since(note.start) as f64 / RATE, asked.band);
            notes.push(*note);
        };
        let mut sung = 0;
        for k in 0..crate::units::num::int(seconds * 200.0) {
            let (time, cents) = (SampleTime(k * 240), line(k as f64 / 200.0));
            let frame = F0Frame {
                time,
                available: time,
                f0: cents.map(|c| asked.sa.up(Cents(c))),
                voiced: cents.is_some(),
                confidence: 1.0,
                level: Decibels(-20.0),
                clipped: false,
                several: false,
            };
            frames.push(read(&frame, asked.sa, &asked.targets));
            judge.push(&frames[frames.len() - 1], &asked.targets, asked.band, &mut keep);
            sung += u64::from(cents.is_some());
        }
        judge.finish(&asked.targets, asked.band, &mut keep);
        meter.add_sung(sung);
        assert!(notes.iter().all(|n| n.onset == Onset { scoop: Cents(0.0), seconds: 0.0 }));
        let measured_from = vec![asked.sa; notes.len()];
        let heard = Heard { rate, seconds, frames, notes, measured_from, meter, octave: None, warnings: Vec::new() };
        (heard, asked)
    }

    #[test]
    fn beside_those_worth_singing_again_short_strips_have_half_the_width_and_all_their_words() {
        // A note every fifteen seconds: each has a strip of its own.
        let (heard, asked) = heard(89.7, |t| (t % 15.0 < 3.0).then_some(10.0));
        let wide = strips(&heard, &asked, None);
        let some = strips(&heard, &asked, Some(&[2]));
        assert_eq!((wide.len(), some.len()), (6, 6));
        assert!(wide.iter().all(|strip| !strip.small));
        let large: Vec<usize> = (0..6).filter(|i| !some[*i].small).collect();
        assert_eq!(large, [2]);
        for strip in some.iter().filter(|strip| strip.small) {
            assert!(strip.right <= 0.5 * WIDTH && strip.width == 0.5 * WIDTH && strip.ticks.len() >= 2, "{strip:?}");
            assert!(strip.held.iter().all(|held| held.label.is_some()) && !strip.names.is_empty());
        }
    }

    #[test]
    fn every_held_note_is_drawn_whole_and_bears_its_number() {
        // Notes of 1.7 s with rests of 0.3 s: strips of a fixed length would cut one in six.
        let (heard, asked) = heard(59.7, |t| (t % 2.0 < 1.7).then_some(10.0));
        let strips = strips(&heard, &asked, None);
        let drawn: Vec<&Held> = strips.iter().flat_map(|s| &s.held).collect();
        assert_eq!(drawn.len(), heard.notes.len());
        assert!(drawn.len() == 30 && drawn.iter().all(|h| h.label.as_ref().is_some_and(|l| l.number == "+10")));
        assert!(strips.iter().all(|s| s.right <= WIDTH));
    }

    #[test]
    fn a_note_longer_than_a_strip_bears_its_number_on_each_part() {
        let (heard, asked) = heard(30.0, |t| (0.5..29.0).contains(&t).then_some(-30.0));
        let strips = strips(&heard, &asked, None);
        assert_eq!((heard.notes.len(), strips.len()), (1, 3));
        for strip in &strips {
            let [part] = &strip.held[..] else { panic!("{strip:?}") };
            assert!(part.state == "flat" && part.label.is_some(), "{part:?}");
        }
    }

    /// The right end of what is drawn.
    fn drawn_to(strip: &Strip) -> f64 {
        let points =
            strip.held.iter().flat_map(|h| h.path.split(['M', 'L', 'Z'])).chain(strip.moving.split(['M', 'L']));
        points.filter_map(|p| p.split(' ').next()?.parse().ok()).fold(0.0, f64::max)
    }

    #[test]
    fn every_strip_fills_the_width_and_none_is_left_over() {
        // Phrases of 1.7 s; of 5 s with silences that reach past where a strip must end; one alone; a glide without a silence.
        let phrases = |t: f64| (t % 2.0 < 1.7).then_some(10.0);
        let apart = |t: f64| (t % 40.0 < 5.0).then_some(10.0);
        for (heard, asked) in [
            heard(59.7, phrases),
            heard(37.0, phrases),
            heard(170.0, apart),
            heard(3.0, phrases),
            heard(25.0, |t| Some(40.0 * t)),
        ] {
            let strips = strips(&heard, &asked, None);
            let room = WIDTH - RIGHT - LEFT;
            for strip in &strips {
                let drawn = (drawn_to(strip) - LEFT) / room;
                assert!((strip.right - (WIDTH - RIGHT)).abs() < 0.2 && drawn > 0.9, "{drawn} of {:?}", strip.ticks);
                assert!((1..=9).contains(&strip.ticks.len()), "{:?}", strip.ticks);
            }
            let seconds = |s: &Strip| (s.to.clone(), s.from.clone());
            assert!(strips.len() <= 8, "{:?}", strips.iter().map(seconds).collect::<Vec<_>>());
        }
        // A lone moment is not drawn out over all of the width.
        let (heard, asked) = heard(0.5, |_| Some(0.0));
        assert!(strips(&heard, &asked, None).iter().all(|s| s.right < 0.5 * WIDTH));
    }

    #[test]
    fn a_strip_has_one_sa_and_says_it_where_that_was_moved() {
        let (mut heard, asked) = heard(19.7, |t| (t % 2.0 < 1.7).then_some(10.0));
        assert!(strips(&heard, &asked, None).iter().all(|s| s.sa.is_none()));
        heard.measured_from[..3].fill(Hertz(220.0));
        let strips = strips(&heard, &asked, None);
        let told: Vec<(&str, usize)> = strips.iter().map(|s| (s.sa.as_deref().unwrap(), s.held.len())).collect();
        assert_eq!(told[0], ("from Sa 220.0 Hz", 3), "{told:?}");
        assert!(told.len() == 3 && told[1..].iter().all(|(sa, _)| *sa == "from Sa 146.8 Hz"), "{told:?}");
        assert_eq!(told.iter().map(|(_, held)| held).sum::<usize>(), 10);
    }

    #[test]
    fn runs_are_labelled_as_far_as_there_is_room_and_never_over_one_another() {
        let (heard, asked) = heard(12.0, |t| Some(if t % 0.5 < 0.25 { 0.0 } else { 203.91 }));
        let strips = strips(&heard, &asked, None);
        let mut count = 0;
        for strip in &strips {
            let labels: Vec<&Label> = strip.held.iter().filter_map(|h| h.label.as_ref()).collect();
            for (i, a) in labels.iter().enumerate() {
                assert!(labels[..i].iter().all(|b| (a.y - b.y).abs() > 1.0 || (a.x - b.x).abs() >= LABEL - 0.11));
            }
            count += labels.len();
        }
        assert!(count > 35, "{count} of {}", heard.notes.len());
    }

    #[test]
    fn neither_a_leap_nor_a_lone_misreading_is_drawn() {
        let slip = |t: f64| if (2.0..2.03).contains(&t) { 1200.0 } else { 0.0 };
        let (heard, asked) = heard(4.0, |t| Some(slip(t)));
        let strips = strips(&heard, &asked, None);
        let [strip] = &strips[..] else { panic!("{}", strips.len()) };
        let heights =
            strip.held.iter().flat_map(|h| h.path.split(['M', 'L', 'Z'])).chain(strip.moving.split(['M', 'L']));
        let heights: Vec<f64> = heights.filter_map(|p| p.split(' ').nth(1)?.parse().ok()).collect();
        let sa = strip.names.iter().find(|n| n.name == "S").unwrap().y;
        assert!(heights.len() > 100 && heights.iter().all(|y| (y - sa).abs() < 10.0), "the slip is drawn: {strip:?}");
        assert!(strip.height < 200.0, "an octave's slip makes no room for itself: {}", strip.height);
    }
}
