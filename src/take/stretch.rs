//! Which stretches of a take are drawn, and where one line of the score ends and the next begins.
//!
//! In: what was [`Heard`], the line of the voice, where held notes begin. Out: the line without what no voice can do, and stretches of
//! time, each from one Sa, about as long as one another, that end in a silence or between two notes.

use super::run::{Heard, same_sa};
use crate::units::Hertz;
use std::ops::Range;

/// Voice that lasts this long after a silence or a leap is drawn; shorter bits are lone misreadings, seconds (chosen on sung takes).
const LEAST_S: f64 = 0.04;

/// Faster than this the line leaps, cents a second: quick joins of sung swaras reach a third (as where notes are cut).
const LEAP_PER_S: f64 = 12_000.0;

/// Two frames further apart than this are not joined by a line, seconds (3 frames).
const GAP_S: f64 = 0.016;

/// A silence this long may end a strip, seconds.
const REST_S: f64 = 0.1;

/// A strip may be shorter than an even share of the time by this part of it, and as much longer.
const UNEVEN: f64 = 0.3;

/// Shown of a silence beside a strip, seconds.
const BESIDE_S: f64 = 0.15;

/// The stretches of time that were sung from one Sa: a move counts from the first note that was measured from the new one.
pub(super) fn sections(heard: &Heard, sa: Hertz) -> Vec<(Range<f64>, Hertz)> {
    let mut sections: Vec<(Range<f64>, Hertz)> = Vec::new();
    for (note, sa) in heard.notes.iter().zip(&heard.measured_from) {
        let start = note.start.seconds(heard.rate);
        match sections.last_mut() {
            Some((_, before)) if same_sa(*before, *sa) => continue,
            Some((time, _)) => time.end = start,
            None => {}
        }
        let start = if sections.is_empty() { 0.0 } else { start };
        sections.push((start..f64::INFINITY, *sa));
    }
    if sections.is_empty() {
        sections.push((0.0..f64::INFINITY, sa));
    }
    sections
}

/// Seconds in a strip at most: 12 up to ten minutes, longer for longer takes, so that the page stays of a readable length.
pub(super) fn strip_seconds(take: f64) -> f64 {
    match take {
        t if t <= 600.0 => 12.0,
        t if t <= 3600.0 => 30.0,
        _ => 60.0,
    }
}

/// Whether the line goes on from one frame to the next: no silence and no leap between them.
pub(super) fn goes_on((t0, c0): (f64, f64), (t1, c1): (f64, f64)) -> bool {
    t1 - t0 <= GAP_S && (c1 - c0).abs() <= LEAP_PER_S * (t1 - t0)
}

/// The line without lone misreadings.
pub(super) fn drawn(line: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let lasts = |bit: &&[(f64, f64)]| match (bit.first(), bit.last()) {
        (Some((from, _)), Some((to, _))) => to - from >= LEAST_S,
        _ => false,
    };
    line.chunk_by(|a, b| goes_on(*a, *b)).filter(lasts).flatten().copied().collect()
}

/// The points of a stretch of time.
pub(super) fn within<'a>(line: &'a [(f64, f64)], time: &Range<f64>) -> &'a [(f64, f64)] {
    let a = line.partition_point(|(t, _)| *t < time.start);
    let b = line.partition_point(|(t, _)| *t < time.end);
    line.get(a..b).unwrap_or_default()
}

/// The next strip's time from `from` on, about as long as those that follow: from shortly before the voice to a silence, else to a
/// held note's beginning (`starts`), else an even share of the time.
pub(super) fn next_stretch(line: &[(f64, f64)], starts: &[f64], from: f64, longest: f64) -> Option<Range<f64>> {
    let rest = line.get(line.partition_point(|(t, _)| *t < from)..).unwrap_or_default();
    let start = from.max(rest.first()?.0 - BESIDE_S);
    let left = rest.last()?.0 + BESIDE_S - start;
    if left <= longest {
        return Some(start..start + left);
    }
    let even = left / (left / longest).ceil();
    let (earliest, limit) = (start + (1.0 - UNEVEN) * even, start + longest.min((1.0 + UNEVEN) * even));
    let rests = rest.windows(2).filter_map(|w| match w {
        [(a, _), (b, _)] if *a >= earliest && *a + REST_S <= *b && *a + BESIDE_S <= limit => {
            Some((b - a, a + BESIDE_S.min(0.5 * (b - a))))
        }
        _ => None,
    });
    let silence = rests.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, end)| end);
    let note = || starts.iter().copied().rfind(|t| (earliest..limit).contains(t));
    let end = silence.or_else(note).unwrap_or(start + even);
    // The last that sounds before it: a long silence that goes on past the end is left out too.
    let sounds = rest.get(rest.partition_point(|(t, _)| *t < end).checked_sub(1)?)?.0;
    Some(start..end.min(sounds + BESIDE_S))
}
