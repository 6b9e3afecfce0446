//! One strip of the drawing: some seconds of singing, in drawing units.
//!
//! In: the line, its held notes and what was [`Asked`]. Out: a [`Strip`], as high as what is sung in it. A held note is one
//! [`ribbon`](super::ribbon) about its own target's thread, with its swara and signed offset written below; everything that moves is
//! a thin line and bears no number. Whatever its seconds, the strip fills its width. Points closer than a drawing unit are merged.

use super::ask::Asked;
use super::ribbon::{Knot, outline};
use super::stretch::{goes_on, within};
use super::written::{clock, name, signed, state};
use crate::note::Note;
use crate::swara::{Sthayi, Swara};
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
pub(super) const RIGHT: f64 = 14.0;
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
pub(super) const LABEL: f64 = 37.0;
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

/// A held note on the take's clock.
pub(super) struct Sung<'a> {
    pub(super) note: &'a Note,
    /// Seconds.
    pub(super) time: Range<f64>,
    /// Its target above madhya Sa, cents.
    pub(super) target: f64,
    pub(super) knots: Vec<Knot>,
    /// Its strip keeps the whole width.
    pub(super) large: bool,
}

/// One strip in the making.
pub(super) struct Drawing<'a> {
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
    pub(super) fn new(
        line: &'a [(f64, f64)],
        held: &'a [Sung<'a>],
        asked: &'a Asked,
        time: Range<f64>,
    ) -> Option<Self> {
        let line = within(line, &time);
        let a = held.partition_point(|s| s.time.end <= time.start);
        let b = held.partition_point(|s| s.time.start < time.end);
        let held = held.get(a..b).unwrap_or_default();
        let (low, high) = reach(line, held)?;
        let wide = held.len() > FEW || held.iter().any(|sung| sung.large);
        Some(Self { line, held, asked, time, low, high, width: if wide { WIDTH } else { 0.5 * WIDTH } })
    }

    pub(super) fn strip(&self) -> Strip {
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

fn tenth(x: f64) -> f64 {
    (x * 10.0).round() / 10.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn offsets_lean_to_the_voices_side_enlarged_and_in_order() {
        let drawn: Vec<f64> = (-40..=40).map(|c| lean(10.0 * f64::from(c))).collect();
        assert!(drawn.windows(2).all(|w| w[0] < w[1]));
        assert!(lean(20.0) > 1.6 * 20.0 / 1200.0 * OCTAVE && (lean(300.0) - 66.0).abs() < 1e-9);
        assert_eq!(lean(-20.0), -lean(20.0));
    }
}
