//! The singing of a take as a figure, as drawing instructions for the page.
//!
//! In: what was [`Heard`] and what was [`Asked`]. Out: [`Strip`]s, one under the other like lines of a score, in drawing units
//! ([`WIDTH`] across), each as high as what is sung in it. A held note is one [`ribbon`](super::ribbon) about its own target's
//! thread, with its swara and signed offset written below; everything that moves is a thin line and bears no number.
//! Which seconds a strip holds is [`stretch`](super::stretch)'s: only a note longer than a strip is cut, and each part bears
//! its number then; silence before and after a strip is left out. Like a line of a score
//! each fills the width, whatever its seconds, and the strips are made about as long as one another. Leaps that no voice can do
//! and lone misreadings are not drawn (the frames' CSV has them). Cost: one pass over the frames; points closer than a drawing unit are merged.

use super::ask::Asked;
use super::ribbon::{Knot, outline, ribbon};
use super::run::{Heard, same_sa};
use super::stretch::{drawn, goes_on, next_stretch, sections, strip_seconds, within};
use crate::note::{Kind, Note};
use crate::swara::{Sthayi, Swara};
use crate::units::Hertz;
use serde::Serialize;
use std::fmt::Write;
use std::ops::Range;

/// Width of a strip, drawing units.
pub const WIDTH: f64 = 1000.0;
/// So many held notes have room for their numbers in half of it.
const FEW: usize = 5;
/// Room for the swaras' names at the left, drawing units.
pub const LEFT: f64 = 52.0;
/// Room after the last moment, drawing units.
const RIGHT: f64 = 14.0;
/// Room above the highest pitch, drawing units.
const ABOVE: f64 = 10.0;
/// Height of an octave, drawing units: a semitone is then wider than a line of text.
const OCTAVE: f64 = 264.0;
/// Drawn beyond the lowest and highest pitch, cents.
const MARGIN_CENTS: f64 = 110.0;
/// The least that a strip shows from its lowest to its highest pitch, cents: a fourth.
const LEAST_CENTS: f64 = 500.0;
/// Share of a strip's frames that may lie beyond the drawing at each end: misreadings do not squeeze the rest.
const OUTSIDE: f64 = 0.03;
/// The least time that takes the whole width, seconds: a lone short note is not drawn out over all of it.
const LEAST_SPAN_S: f64 = 2.0;
/// Times that may lie between two ticks, seconds.
const STEPS_S: [f64; 5] = [1.0, 2.0, 5.0, 10.0, 20.0];
/// The most of them over the width.
const TICKS: f64 = 8.0;
/// A held note's offset is drawn up to 1.9 times as large as the figure's scale: half of [`LEAN`] at this offset, cents. The
/// shape is the window's (an arctangent), so that 10 cents show and a semitone still fits.
const HALF_WAY_CENTS: f64 = 38.0;
/// Greatest height of an enlarged offset, drawing units: from about a semitone on the figure's own scale is the greater.
const LEAN: f64 = 25.0;
/// The enlargement comes in and goes out over this time beside a held note, seconds.
const BLEND_S: f64 = 0.06;
/// The thin line reaches this far into a held note, seconds (2 frames).
const OVERLAP_S: f64 = 0.011;
/// Width of a swara's name with its number, drawing units.
const LABEL: f64 = 37.0;
/// Height of the same.
const LABEL_HEIGHT: f64 = 31.0;
/// Rows of them: what finds no room in the last has none (the table has it).
const LABEL_ROWS: usize = 3;
/// Room for the seconds below, drawing units.
const CLOCK: f64 = 24.0;

/// Some seconds of the take.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Strip {
    /// First second.
    pub from: String,
    /// Last second.
    pub to: String,
    /// The Sa that it was sung from, where that was moved.
    pub sa: Option<String>,
    /// Width and height, drawing units.
    pub width: f64,
    /// See there.
    pub height: f64,
    /// Whether it has half of the width.
    pub small: bool,
    /// Where its time ends.
    pub right: f64,
    /// Where the seconds' rule lies.
    pub rule: f64,
    /// One name for each swara of each register in view.
    pub names: Vec<Name>,
    /// Seconds along the lower edge.
    pub ticks: Vec<Tick>,
    /// What moves: path data.
    pub moving: String,
    /// The held notes.
    pub held: Vec<Held>,
}

/// Where a swara lies.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Name {
    /// Height.
    pub y: f64,
    /// Its name with the dot of its register.
    pub name: String,
    /// Whether it is Sa or Pa.
    pub fixed: bool,
    /// Whether it is held in this strip.
    pub held: bool,
}

/// A second.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tick {
    /// Place.
    pub x: f64,
    /// What is written there.
    pub text: String,
}

/// A held note, or the part of it that lies in a strip.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Held {
    /// Its outline: path data.
    pub path: String,
    /// Its target's thread: left end, right end, height.
    pub thread: (f64, f64, f64),
    /// `in`, `sharp` or `flat`.
    pub state: &'static str,
    /// What is written below, where there is room.
    pub label: Option<Label>,
    /// What is said of it when pointed at.
    pub about: String,
}

/// A held note in writing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Label {
    /// Its middle.
    pub x: f64,
    /// Its first line.
    pub y: f64,
    /// Where the stroke's underside is, from which a hair leads here.
    pub from: f64,
    /// Name with the dot of its register.
    pub name: String,
    /// Signed offset, whole cents.
    pub number: String,
}

/// Sharp, flat or in the band.
#[must_use]
pub fn state(offset: f64, half_width: f64) -> &'static str {
    if offset > half_width {
        "sharp"
    } else if offset < -half_width {
        "flat"
    } else {
        "in"
    }
}

/// `m:ss` from a minute on, seconds before.
#[must_use]
pub fn clock(seconds: f64) -> String {
    let whole = crate::units::num::int(seconds);
    if whole < 60 { format!("{whole} s") } else { format!("{}:{:02}", whole / 60, whole % 60) }
}

/// A swara's name with its register in print: a dot below for mandra, above for tara, two beyond.
#[must_use]
pub fn name(swara: Swara, sthayi: Sthayi) -> String {
    let dots = match sthayi.0 {
        i8::MIN..=-2 => "\u{324}",
        -1 => "\u{323}",
        0 => "",
        1 => "\u{307}",
        2..=i8::MAX => "\u{308}",
    };
    let (letter, number) = swara.short().split_at(1);
    format!("{letter}{dots}{number}")
}

/// A held note on the take's clock.
struct Sung<'a> {
    note: &'a Note,
    /// Seconds.
    time: Range<f64>,
    /// Its target above madhya Sa, cents.
    target: f64,
    knots: Vec<Knot>,
    /// Its strip keeps the whole width.
    large: bool,
}

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

/// A Sa that was moved in words, the window's.
#[must_use]
pub fn from_sa(sa: Hertz) -> String {
    format!("from Sa {:.1} Hz", sa.0)
}

/// One strip in the making.
struct Drawing<'a> {
    line: &'a [(f64, f64)],
    held: &'a [Sung<'a>],
    asked: &'a Asked,
    time: Range<f64>,
    low: f64,
    high: f64,
    width: f64,
}

impl<'a> Drawing<'a> {
    /// `None` where nothing sounds.
    fn new(line: &'a [(f64, f64)], held: &'a [Sung<'a>], asked: &'a Asked, time: Range<f64>) -> Option<Self> {
        let line = within(line, &time);
        let a = held.partition_point(|s| s.time.end <= time.start);
        let b = held.partition_point(|s| s.time.start < time.end);
        let held = held.get(a..b).unwrap_or_default();
        let (low, high) = reach(line, held)?;
        let wide = held.len() > FEW || held.iter().any(|sung| sung.large);
        Some(Self { line, held, asked, time, low, high, width: if wide { WIDTH } else { 0.5 * WIDTH } })
    }

    fn strip(&self) -> Strip {
        let figure = self.y(self.low);
        let (held, rows) = self.held(figure);
        let rule = figure + LABEL_HEIGHT * rows as f64 + 6.0;
        Strip {
            from: clock(self.time.start),
            to: clock(self.time.end),
            sa: None,
            width: self.width,
            height: tenth(rule + CLOCK),
            small: self.width < WIDTH,
            right: tenth(self.x(self.time.end)),
            rule: tenth(rule),
            names: self.names(),
            ticks: self.ticks(),
            moving: self.moving(),
            held,
        }
    }

    fn x(&self, seconds: f64) -> f64 {
        LEFT + (seconds - self.time.start) / self.span() * (self.width - LEFT - RIGHT)
    }

    /// Seconds over the whole width.
    fn span(&self) -> f64 {
        (self.time.end - self.time.start).max(LEAST_SPAN_S)
    }

    fn y(&self, cents: f64) -> f64 {
        ABOVE + (self.high - cents) / 1200.0 * OCTAVE
    }

    /// Height of an instant of the line: on a held note its offset is enlarged about the target, beside it less and less.
    fn height(&self, time: f64, cents: f64) -> f64 {
        let away = |s: &Sung<'_>| (s.time.start - time).max(time - s.time.end).max(0.0);
        let near = self.held.iter().map(|s| (away(s), s)).min_by(|a, b| a.0.total_cmp(&b.0));
        match near {
            Some((away, sung)) if away < BLEND_S => {
                let part = 1.0 - away / BLEND_S;
                part * self.leaning(cents, sung.target) + (1.0 - part) * self.y(cents)
            }
            _ => self.y(cents),
        }
    }

    /// Height of a pitch about the target of a held note.
    fn leaning(&self, cents: f64, target: f64) -> f64 {
        self.y(target) - lean(cents - target)
    }

    fn names(&self) -> Vec<Name> {
        let mut names = Vec::new();
        for octave in -2..=2_i8 {
            for target in self.asked.targets.by_position.iter().flatten() {
                let cents = target.cents.0 + 1200.0 * f64::from(octave);
                if (self.low..=self.high).contains(&cents) {
                    let held = self.held.iter().any(|s| s.note.swara == target.swara && s.note.sthayi.0 == octave);
                    let fixed = matches!(target.swara, Swara::S | Swara::P);
                    names.push(Name { y: tenth(self.y(cents)), name: name(target.swara, Sthayi(octave)), fixed, held });
                }
            }
        }
        names
    }

    /// Whole multiples of a step that leaves room for them.
    fn ticks(&self) -> Vec<Tick> {
        let most = TICKS * self.width / WIDTH;
        let fits = |step: &f64| self.span() / step <= most;
        let step = STEPS_S.into_iter().find(fits).unwrap_or(STEPS_S[STEPS_S.len() - 1]);
        let first = (self.time.start / step).ceil() * step;
        std::iter::successors(Some(first), |t| Some(t + step))
            .take_while(|t| *t <= self.time.end)
            .map(|t| Tick { x: tenth(self.x(t)), text: clock(t) })
            .collect()
    }

    /// Path data along what is not held; it reaches into the ribbons, so that a note and the way to it are one stroke.
    fn moving(&self) -> String {
        let mut data = String::new();
        let mut last: Option<((f64, f64), f64, f64)> = None;
        let shown = |(time, cents): &&(f64, f64)| {
            let covered = |s: &Sung<'_>| *time > s.time.start + OVERLAP_S && *time < s.time.end - OVERLAP_S;
            (self.low..=self.high).contains(cents) && !self.held.iter().any(covered)
        };
        for (time, cents) in self.line.iter().filter(shown) {
            let (x, y) = (self.x(*time), self.height(*time, *cents));
            match last {
                Some((before, lx, ly)) if goes_on(before, (*time, *cents)) => {
                    if x - lx < 1.0 && (y - ly).abs() < 1.0 {
                        last = Some(((*time, *cents), lx, ly));
                        continue;
                    }
                    let _ = write!(data, "L{x:.1} {y:.1}");
                }
                _ => {
                    let _ = write!(data, "M{x:.1} {y:.1}");
                }
            }
            last = Some(((*time, *cents), x, y));
        }
        data
    }

    /// The held notes, and how many rows their labels take.
    fn held(&self, figure: f64) -> (Vec<Held>, usize) {
        let mut ends = [f64::MIN; LABEL_ROWS];
        let held = self.held.iter().filter_map(|sung| self.note(sung, figure, &mut ends)).collect();
        (held, ends.iter().filter(|end| **end > f64::MIN).count())
    }

    fn note(&self, sung: &Sung<'_>, figure: f64, ends: &mut [f64; LABEL_ROWS]) -> Option<Held> {
        let note = sung.note;
        let (from, to) = (sung.time.start.max(self.time.start), sung.time.end.min(self.time.end));
        let part = sung.knots.iter().filter(|k| (from..to).contains(&k.time));
        let middle: Vec<(f64, f64, f64)> =
            part.map(|k| (self.x(k.time), self.leaning(k.cents, sung.target), k.half)).collect();
        let (left, right) = (middle.first()?.0, middle.last()?.0);
        let x = (0.5 * (left + right)).max(LEFT + 0.5 * LABEL - 8.0);
        let row = ends.iter().position(|end| x - 0.5 * LABEL >= *end);
        let label = row.map(|row| {
            if let Some(end) = ends.get_mut(row) {
                *end = x + 0.5 * LABEL;
            }
            let under = middle.iter().min_by(|a, b| (a.0 - x).abs().total_cmp(&(b.0 - x).abs()));
            Label {
                x: tenth(x),
                y: tenth(figure + LABEL_HEIGHT * row as f64 + 12.0),
                from: tenth(under.map_or(figure, |(_, y, half)| y + half + 3.0)),
                name: name(note.swara, note.sthayi),
                number: signed(note.offset.0),
            }
        });
        Some(Held {
            path: outline(&middle),
            thread: (tenth(left - 5.0), tenth(right + 5.0), tenth(self.y(sung.target))),
            state: if note.far() { "far" } else { state(note.offset.0, self.asked.band.of(note.swara).0) },
            label,
            about: format!(
                "{} at {:.1} s: {} cents, {:.1} s",
                name(note.swara, note.sthayi),
                sung.time.start,
                signed(note.offset.0),
                sung.time.end - sung.time.start
            ),
        })
    }
}

/// Lowest and highest pitch of a strip, cents above madhya Sa.
fn reach(line: &[(f64, f64)], held: &[Sung<'_>]) -> Option<(f64, f64)> {
    let mut cents: Vec<f64> = line.iter().map(|(_, cents)| *cents).collect();
    cents.sort_by(f64::total_cmp);
    let skip = crate::units::num::index(OUTSIDE * cents.len() as f64);
    let (low, high) = (*cents.get(skip)?, *cents.get(cents.len().checked_sub(skip + 1)?)?);
    let (low, high) =
        held.iter().fold((low, high), |(low, high), s| (low.min(s.note.cents.0), high.max(s.note.cents.0)));
    let more = (0.5 * (LEAST_CENTS - (high - low))).max(MARGIN_CENTS);
    Some((low - more, high + more))
}

/// How far off its thread an offset is drawn, drawing units upwards.
fn lean(offset_cents: f64) -> f64 {
    let large = (offset_cents / HALF_WAY_CENTS).atan() / std::f64::consts::FRAC_PI_2 * LEAN;
    let true_to_scale = offset_cents / 1200.0 * OCTAVE;
    if large.abs() > true_to_scale.abs() { large } else { true_to_scale }
}

/// Whole cents with a sign; a true minus.
#[must_use]
pub fn signed(cents: f64) -> String {
    crate::units::Cents(cents).signed()
}

fn tenth(x: f64) -> f64 {
    (x * 10.0).round() / 10.0
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::meter::Meter;
    use crate::note::{Judge, Offsets, Onset};
    use crate::pitch::F0Frame;
    use crate::swara::read;
    use crate::take::Words;
    use crate::units::{Cents, Decibels, SampleRate, SampleTime};

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

    #[test]
    fn offsets_lean_to_the_voices_side_enlarged_and_in_order() {
        let drawn: Vec<f64> = (-40..=40).map(|c| lean(10.0 * f64::from(c))).collect();
        assert!(drawn.windows(2).all(|w| w[0] < w[1]));
        assert!(lean(20.0) > 1.6 * 20.0 / 1200.0 * OCTAVE && (lean(300.0) - 66.0).abs() < 1e-9);
        assert_eq!(lean(-20.0), -lean(20.0));
    }

    #[test]
    fn names_bear_the_dot_of_their_register() {
        assert_eq!(name(Swara::S, Sthayi(1)), "S\u{307}");
        assert_eq!(name(Swara::R1, Sthayi(-1)), "R\u{323}1");
        assert_eq!(name(Swara::P, Sthayi(0)), "P");
    }

    #[test]
    fn numbers_are_signed_and_times_read_like_a_clock() {
        assert_eq!((signed(-23.6).as_str(), signed(0.3).as_str(), signed(8.5).as_str()), ("\u{2212}24", "0", "+9"));
        assert_eq!((clock(59.0), clock(61.0)), ("59 s".to_owned(), "1:01".to_owned()));
        assert_eq!((state(21.0, 20.0), state(-21.0, 20.0), state(20.0, 20.0)), ("sharp", "flat", "in"));
    }
}
