//! One stroke per held note: it thickens while the voice is steady and strays where the voice strays (the window's, on paper).
//!
//! In: a held note's line. Out: its [`Knot`]s, and their [`outline`] as path data. Thickness tells steady time: it grows with
//! every moment at which the standard deviation over the last second is within what counts as steady ([`STEADY_CENTS`]),
//! and is taken away as fast by the others. Cost: one pass over the note's frames.

use crate::note::{LastSecond, STEADY_CENTS};
use std::fmt::Write;

/// Half the height of the thinnest and of the thickest ribbon, drawing units.
const HALF: (f64, f64) = (1.2, 6.5);
/// Steady seconds after which it has 63 % of its full thickness (the window's).
const THICKEN_S: f64 = 2.0;
/// A longer step of time than this is a silence, not a steady moment, seconds.
const LONGEST_STEP_S: f64 = 0.1;
/// Two knots closer than this are drawn as their mean, drawing units.
const PIECE: f64 = 1.5;
/// What is finer than this share of the ribbon's height is drawn as its mean, as a pen of that height would.
const PEN: f64 = 0.5;

/// An instant of a held note.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Knot {
    /// Seconds.
    pub(super) time: f64,
    /// Cents above madhya Sa.
    pub(super) cents: f64,
    /// Half the ribbon's height, drawing units.
    pub(super) half: f64,
}

/// The knots of a note on `target`, both in cents above madhya Sa; what the tracker read an octave off is left out.
pub(super) fn ribbon(line: &[(f64, f64)], target: f64) -> Vec<Knot> {
    let (mut second, mut steady_s, mut before) = (LastSecond::new(), 0.0f64, None);
    let near = line.iter().filter(|(_, cents)| (cents - target).abs() < 600.0);
    near.map(|(time, cents)| {
        let step = (time - before.replace(*time).unwrap_or(*time)).min(LONGEST_STEP_S);
        second.push(*cents);
        let sign = if second.deviation() <= STEADY_CENTS { 1.0 } else { -1.0 };
        steady_s = (steady_s + sign * step).max(0.0);
        let half = HALF.0 + (HALF.1 - HALF.0) * (1.0 - (-steady_s / THICKEN_S).exp());
        Knot { time: *time, cents: *cents, half }
    })
    .collect()
}

/// Path data around a ribbon whose middle runs from left to right: x, y and half its height at each point.
pub(super) fn outline(middle: &[(f64, f64, f64)]) -> String {
    let mut points: Vec<(f64, f64, f64)> = Vec::new();
    let (mut sum, mut count) = ((0.0, 0.0, 0.0), 0.0);
    let Some((first, ..)) = middle.first() else { return String::new() };
    let mut next = first + PIECE;
    for (x, y, half) in middle {
        if *x >= next && count > 0.0 {
            points.push((sum.0 / count, sum.1 / count, sum.2 / count));
            (sum, count, next) = ((0.0, 0.0, 0.0), 0.0, x + PIECE);
        }
        sum = (sum.0 + x, sum.1 + y, sum.2 + half);
        count += 1.0;
    }
    points.push((sum.0 / count, sum.1 / count, sum.2 / count));
    let points = broad(&points);
    let mut data = String::new();
    let above = points.iter().map(|(x, y, half)| (x, y - half));
    let below = points.iter().rev().map(|(x, y, half)| (x, y + half));
    for (i, (x, y)) in above.chain(below).enumerate() {
        let _ = write!(data, "{}{x:.1} {y:.1}", if i == 0 { 'M' } else { 'L' });
    }
    data.push('Z');
    data
}

/// The ribbon's middle as a pen of its height draws it.
fn broad(points: &[(f64, f64, f64)]) -> Vec<(f64, f64, f64)> {
    let mut first = 0;
    let each = points.iter().map(|(x, _, half)| {
        let reach = PEN * half;
        while points.get(first).is_some_and(|(other, ..)| *other < x - reach) {
            first += 1;
        }
        let near = points.iter().skip(first).take_while(|(other, ..)| *other <= x + reach);
        let (sum, count) = near.fold((0.0, 0.0), |(sum, count), (_, y, _)| (sum + y, count + 1.0));
        (*x, sum / count, *half)
    });
    each.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn knots(seconds: u32, cents: impl Fn(f64) -> f64) -> Vec<Knot> {
        let line: Vec<(f64, f64)> = (0..200 * seconds).map(|k| f64::from(k) / 200.0).map(|t| (t, cents(t))).collect();
        ribbon(&line, 0.0)
    }

    #[test]
    fn it_thickens_with_steady_time_and_thins_with_a_wobble() {
        let steady = knots(6, |_| 4.0);
        assert!(steady.windows(2).all(|w| w[0].half <= w[1].half));
        assert!(steady[0].half < 1.3 && steady[1199].half > 5.5);
        // Two steady seconds, then swings of 40 cents.
        let wobbling = knots(6, |t| if t < 2.0 { 0.0 } else { 40.0 * (30.0 * t).sin() });
        assert!(wobbling[400].half > 4.0 && wobbling[1199].half < 1.3, "{:?}", wobbling[1199]);
    }

    #[test]
    fn its_outline_is_closed_and_as_high_as_asked() {
        let data = outline(&[(0.0, 50.0, 2.0), (2.0, 50.0, 2.0), (4.0, 40.0, 3.0)]);
        assert_eq!(data, "M0.0 48.0L2.0 48.0L4.0 37.0L4.0 43.0L2.0 52.0L0.0 52.0Z");
        assert_eq!(outline(&[]), "");
        // A ripple finer than the pen is smoothed, a swing is kept.
        let y = |every: f64| {
            let points =
                (0..100).map(|i| 1.6 * f64::from(i)).map(|x| (x, 3.0 * (x * std::f64::consts::TAU / every).sin(), 6.0));
            broad(&points.collect::<Vec<_>>())[20..80].iter().map(|p| p.1.abs()).fold(0.0, f64::max)
        };
        assert!(y(4.0) < 1.0 && y(20.0) > 2.5, "{} {}", y(4.0), y(20.0));
    }

    #[test]
    fn an_octaves_slip_is_no_part_of_it() {
        let slipping = knots(1, |t| if (0.3..0.35).contains(&t) { 1200.0 } else { 3.0 });
        assert!(slipping.len() == 190 && slipping.iter().all(|k| k.cents < 4.0));
    }
}
