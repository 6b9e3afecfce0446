//! The pitch line of a take against the swaras, as drawing instructions for the page.
//!
//! In: what was [`Heard`] and the [`Targets`]. Out: [`Strip`]s of equal length, one under the other like lines of a
//! score, in drawing units ([`WIDTH`] across). Held notes are strong strokes, marked by shape where they lie outside
//! the band; everything that moves is a light line and bears no mark. Strips without a voice are left out. Cost: one pass
//! over the frames; points closer than a drawing unit are merged.

use super::ask::Asked;
use super::run::Heard;
use crate::note::{Kind, Note};
use crate::swara::{Sthayi, Swara, SwaraReading, Targets};
use serde::Serialize;
use std::fmt::Write;
use std::ops::Range;

/// Width of a strip, drawing units.
pub const WIDTH: f64 = 1000.0;
/// Room for the swaras' names at the left, drawing units.
const LEFT: f64 = 56.0;
/// Room for the seconds below, drawing units.
const BELOW: f64 = 26.0;
/// Room above the highest line, drawing units.
const ABOVE: f64 = 14.0;
/// Height of an octave, drawing units: a semitone is then wider than a line of text.
const OCTAVE: f64 = 240.0;
/// Drawn beyond the lowest and highest pitch, cents.
const MARGIN_CENTS: f64 = 130.0;
/// Share of the frames that may lie beyond the drawing at each end: lone misreadings do not squeeze the rest.
const OUTSIDE: f64 = 0.005;
/// Two frames further apart than this are not joined by a line, seconds (3 frames).
const GAP_S: f64 = 0.016;
/// A stroke shorter than this has no room for its number, drawing units.
const ROOM_FOR_NUMBER: f64 = 34.0;

/// Some seconds of the take.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Strip {
    /// First second.
    pub from: String,
    /// Last second.
    pub to: String,
    /// Height, drawing units.
    pub height: f64,
    /// One line for each swara of each register in view.
    pub lines: Vec<Line>,
    /// Seconds along the lower edge.
    pub ticks: Vec<Tick>,
    /// What moves: path data.
    pub moving: String,
    /// The held notes.
    pub strokes: Vec<Stroke>,
}

/// Where a swara lies.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Line {
    /// Height.
    pub y: f64,
    /// Its name with the dot of its register.
    pub name: String,
    /// Whether it is Sa or Pa.
    pub fixed: bool,
}

/// A second.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tick {
    /// Place.
    pub x: f64,
    /// What is written there.
    pub text: String,
}

/// A held note.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stroke {
    /// Path data.
    pub path: String,
    /// Its middle, where number and mark stand.
    pub x: f64,
    /// Upper edge there.
    pub top: f64,
    /// Lower edge there.
    pub bottom: f64,
    /// `in`, `sharp` or `flat`.
    pub state: &'static str,
    /// Signed offset in whole cents, where there is room.
    pub number: Option<String>,
    /// What is said of it when pointed at.
    pub about: String,
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

/// Draws the whole take.
#[must_use]
pub fn strips(heard: &Heard, asked: &Asked) -> Vec<Strip> {
    let Some((low, high)) = reach(heard) else { return Vec::new() };
    let seconds = strip_seconds(heard.seconds);
    let count = crate::units::num::index((heard.seconds / seconds).ceil()).max(1);
    (0..count)
        .filter_map(|i| {
            let from = i as f64 * seconds;
            Drawing { heard, asked, low, high, from, seconds }.strip()
        })
        .collect()
}

/// Seconds in a strip: 12 up to ten minutes, longer for longer takes, so that the page stays of a readable length.
fn strip_seconds(take: f64) -> f64 {
    match take {
        t if t <= 600.0 => 12.0,
        t if t <= 3600.0 => 30.0,
        _ => 60.0,
    }
}

/// Lowest and highest pitch to draw, cents above madhya Sa.
fn reach(heard: &Heard) -> Option<(f64, f64)> {
    let mut cents: Vec<f64> = heard.frames.iter().filter_map(|r| Some(r.cents?.0)).collect();
    cents.sort_by(f64::total_cmp);
    let skip = crate::units::num::index(OUTSIDE * cents.len() as f64);
    let low = cents.get(skip)?;
    let high = cents.get(cents.len().checked_sub(skip + 1)?)?;
    Some((low - MARGIN_CENTS, high + MARGIN_CENTS))
}

/// One strip in the making.
struct Drawing<'a> {
    heard: &'a Heard,
    asked: &'a Asked,
    low: f64,
    high: f64,
    from: f64,
    seconds: f64,
}

impl Drawing<'_> {
    fn strip(&self) -> Option<Strip> {
        let frames = self.frames(self.from..self.from + self.seconds);
        if !frames.iter().any(|r| r.cents.is_some()) {
            return None;
        }
        let held: Vec<&Note> = self.heard.notes.iter().filter(|n| n.kind == Kind::Held).collect();
        Some(Strip {
            from: clock(self.from),
            to: clock((self.from + self.seconds).min(self.heard.seconds)),
            height: tenth(self.y(self.low) + BELOW),
            lines: self.lines(&self.asked.targets),
            ticks: self.ticks(),
            moving: self.path(frames),
            strokes: held.into_iter().filter_map(|n| self.stroke(n)).collect(),
        })
    }

    fn x(&self, seconds: f64) -> f64 {
        LEFT + (seconds - self.from) / self.seconds * (WIDTH - LEFT)
    }

    fn y(&self, cents: f64) -> f64 {
        ABOVE + (self.high - cents) / 1200.0 * OCTAVE
    }

    fn time(&self, reading: &SwaraReading) -> f64 {
        reading.frame.time.seconds(self.heard.rate)
    }

    /// The frames of a stretch of time.
    fn frames(&self, stretch: Range<f64>) -> &[SwaraReading] {
        let frames = &self.heard.frames;
        let a = frames.partition_point(|r| self.time(r) < stretch.start);
        let b = frames.partition_point(|r| self.time(r) < stretch.end);
        frames.get(a..b).unwrap_or_default()
    }

    fn lines(&self, targets: &Targets) -> Vec<Line> {
        let mut lines = Vec::new();
        for octave in -2..=2_i8 {
            for target in targets.by_position.iter().flatten() {
                let cents = target.cents.0 + 1200.0 * f64::from(octave);
                if (self.low..=self.high).contains(&cents) {
                    let fixed = matches!(target.swara, Swara::S | Swara::P);
                    lines.push(Line { y: tenth(self.y(cents)), name: name(target.swara, Sthayi(octave)), fixed });
                }
            }
        }
        lines
    }

    fn ticks(&self) -> Vec<Tick> {
        let step = self.seconds / 6.0;
        (0..=6)
            .map(|i| self.from + f64::from(i) * step)
            .filter(|t| *t <= self.heard.seconds)
            .map(|t| Tick { x: tenth(self.x(t).min(WIDTH - 14.0)), text: clock(t) })
            .collect()
    }

    /// Path data through the voiced frames; broken where the voice stops or leaves the drawing.
    fn path(&self, frames: &[SwaraReading]) -> String {
        let mut data = String::new();
        let mut last: Option<(f64, f64, f64)> = None;
        for reading in frames {
            let Some(cents) = reading.cents.map(|c| c.0).filter(|c| (self.low..=self.high).contains(c)) else {
                continue;
            };
            let time = self.time(reading);
            let (x, y) = (self.x(time), self.y(cents));
            let joined = last.is_some_and(|(t, ..)| time - t <= GAP_S * self.seconds.max(12.0) / 12.0);
            if !joined {
                let _ = write!(data, "M{x:.1} {y:.1}");
            } else if last.is_some_and(|(_, lx, ly)| x - lx < 1.0 && (y - ly).abs() < 1.0) {
                continue;
            } else {
                let _ = write!(data, "L{x:.1} {y:.1}");
            }
            last = Some((time, x, y));
        }
        data
    }

    fn stroke(&self, note: &Note) -> Option<Stroke> {
        let (start, end) = (note.start.seconds(self.heard.rate), note.end.seconds(self.heard.rate));
        let (from, to) = (start.max(self.from), end.min(self.from + self.seconds));
        if from >= to {
            return None;
        }
        let frames = self.frames(from..to);
        // Number and mark stand clear of the middle of the stroke, however far that swings.
        let middle = frames.get(frames.len() / 4..frames.len().div_ceil(4) * 3).unwrap_or(frames);
        let heights = middle.iter().filter_map(|r| r.cents).map(|c| self.y(c.0));
        let (top, bottom) = heights.fold((f64::MAX, f64::MIN), |(a, b), y| (a.min(y), b.max(y)));
        if top > bottom {
            return None;
        }
        let first_part = start >= self.from;
        let room = self.x(to) - self.x(from) >= ROOM_FOR_NUMBER;
        let half_width = self.asked.band.of(note.swara).0;
        Some(Stroke {
            path: self.path(frames),
            x: tenth(self.x(0.5 * (from + to))),
            top: tenth(top),
            bottom: tenth(bottom),
            state: state(note.offset.0, half_width),
            number: (first_part && room).then(|| signed(note.offset.0)),
            about: format!(
                "{} at {start:.1} s: {} cents, {:.1} s",
                name(note.swara, note.sthayi),
                signed(note.offset.0),
                end - start
            ),
        })
    }
}

/// Whole cents with a sign; a true minus.
#[must_use]
pub fn signed(cents: f64) -> String {
    match crate::units::num::int(cents) {
        0 => "0".to_owned(),
        c if c < 0 => format!("\u{2212}{}", c.unsigned_abs()),
        c => format!("+{c}"),
    }
}

fn tenth(x: f64) -> f64 {
    (x * 10.0).round() / 10.0
}

#[cfg(test)]
mod tests {
    use super::*;

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
