//! The seven letters and the digits beside them, drawn as strokes so that they read from across the room.
//!
//! In: a [`Swara`], a [`Sthayi`], a box. Out: strokes on a painter. Each letter is a handful of lines and arcs in a
//! square of one unit, as a singer writes them in a notebook; one stroke width everywhere, round ends. The
//! register's dots are drawn, not typed: below for mandra, above for tara, two for the registers beyond
//! (the notation's own convention). Cost: some tens of line pieces for a letter.

use crate::swara::{Sthayi, Swara};
use egui::{Color32, Painter, Pos2, Rect, Shape, Stroke, pos2, vec2};
use std::f32::consts::PI;

/// Width of a letter against its cap height.
const LETTER_WIDTH: f32 = 0.72;
/// Width of the stroke against the cap height.
const WEIGHT: f32 = 0.13;
/// Height of the digit against the cap height: as it is, and at most beside a small letter.
const DIGIT: (f32, f32) = (0.42, 1.0);
/// A digit lower than this is not told from a stroke of its letter, points.
const LEAST_DIGIT: f32 = 10.0;
/// Gap between letter and digit against the cap height.
const GAP: f32 = 0.2;
/// A turn sharper than this is a corner, radians.
const SHARP: f32 = 0.6;
/// Points nearer together than this are one, against the cap height.
const SAME: f32 = 0.004;
/// The shortest piece of a bend, points: shorter ones are not seen.
const LEAST_PIECE: f32 = 1.5;
/// Size of a register dot and its distance from the letter, against the cap height.
const DOT: (f32, f32) = (0.07, 0.15);

/// A point on an ellipse round (`x`, `y`), angle from the right, clockwise as seen, in half turns.
fn arc((x, y): (f32, f32), (rx, ry): (f32, f32), from: f32, to: f32) -> Vec<(f32, f32)> {
    (0..=32u8)
        .map(|i| {
            let t = (from + (to - from) * f32::from(i) / 32.0) * PI;
            (x + rx * t.cos(), y + ry * t.sin())
        })
        .collect()
}

/// The strokes of a letter or digit in the unit square, y downwards.
fn strokes(sign: char) -> Vec<Vec<(f32, f32)>> {
    match sign {
        'S' => {
            let mut s = arc((0.5, 0.27), (0.42, 0.27), -0.12, -1.0);
            s.extend(arc((0.5, 0.27), (0.42, 0.25), 1.0, 0.5));
            s.extend(arc((0.5, 0.76), (0.46, 0.24), -0.5, 0.0));
            s.extend(arc((0.5, 0.76), (0.46, 0.24), 0.0, 0.88));
            vec![s]
        }
        'R' => {
            let mut bowl = vec![(0.06, 0.0), (0.5, 0.0)];
            bowl.extend(arc((0.55, 0.27), (0.38, 0.27), -0.5, 0.5));
            bowl.push((0.06, 0.54));
            vec![vec![(0.06, 1.0), (0.06, 0.0)], bowl, vec![(0.5, 0.54), (0.96, 1.0)]]
        }
        'G' => {
            let mut g = arc((0.52, 0.5), (0.46, 0.5), -0.22, -1.0);
            g.extend(arc((0.52, 0.5), (0.46, 0.5), 1.0, 0.12));
            g.extend([(0.95, 0.56), (0.58, 0.56)]);
            vec![g]
        }
        'M' => vec![vec![(0.0, 1.0), (0.06, 0.0), (0.5, 0.66), (0.94, 0.0), (1.0, 1.0)]],
        'P' => {
            let mut bowl = vec![(0.08, 0.0), (0.5, 0.0)];
            bowl.extend(arc((0.55, 0.29), (0.4, 0.29), -0.5, 0.5));
            bowl.push((0.08, 0.58));
            vec![vec![(0.08, 1.0), (0.08, 0.0)], bowl]
        }
        'D' => {
            let mut bowl = vec![(0.06, 0.0), (0.4, 0.0)];
            bowl.extend(arc((0.45, 0.5), (0.5, 0.5), -0.5, 0.5));
            bowl.extend([(0.06, 1.0), (0.06, 0.0)]);
            vec![bowl]
        }
        'N' => vec![vec![(0.04, 1.0), (0.04, 0.0), (0.94, 1.0), (0.94, 0.0)]],
        // With a foot: without one it is a stroke of the letter beside it.
        '1' => vec![vec![(0.14, 0.3), (0.52, 0.0), (0.52, 1.0)], vec![(0.12, 1.0), (0.92, 1.0)]],
        '2' => {
            let mut s = arc((0.5, 0.3), (0.42, 0.3), -0.95, 0.2);
            s.extend([(0.08, 1.0), (0.95, 1.0)]);
            vec![s]
        }
        '3' => {
            let mut s = arc((0.48, 0.25), (0.4, 0.25), -0.9, 0.5);
            s.extend(arc((0.48, 0.74), (0.44, 0.26), -0.5, 0.9));
            vec![s]
        }
        _ => Vec::new(),
    }
}

/// Where a written swara lies in its box: the letter's box, and the digit's where there is one. `dots`: whether the register's have
/// their room.
fn places(area: Rect, digit: bool, dots: bool) -> (Rect, Option<Rect>) {
    let tall = 1.0 + if dots { 2.0 * (DOT.1 + DOT.0) } else { WEIGHT };
    let mut share = DIGIT.0;
    let (mut cap, mut width) = (0.0, LETTER_WIDTH);
    // A larger digit may leave its letter less room, and so has to be the larger beside it.
    for _ in 0..4 {
        width = LETTER_WIDTH + if digit { GAP + share * LETTER_WIDTH } else { 0.0 };
        cap = (area.height() / tall).min(area.width() / (width + WEIGHT));
        share = (LEAST_DIGIT / cap.max(1.0)).clamp(share, DIGIT.1);
    }
    let letter = Rect::from_min_size(
        pos2(area.center().x - width * cap / 2.0, area.center().y - cap / 2.0),
        vec2(LETTER_WIDTH * cap, cap),
    );
    let share = (width - LETTER_WIDTH - GAP) / LETTER_WIDTH;
    let digit = digit.then(|| {
        let size = vec2(share * LETTER_WIDTH, share) * cap;
        Rect::from_min_size(letter.right_bottom() + vec2(GAP * cap, -size.y), size)
    });
    (letter, digit)
}

/// The cap height of a swara written into `area`, points.
#[must_use]
pub fn cap_height(area: Rect, swara: Swara) -> f32 {
    places(area, swara.short().len() > 1, true).0.height()
}

/// A line cut at its sharp corners, each run from corner to corner: there the round ends make the joint.
fn runs(points: &[Pos2]) -> Vec<&[Pos2]> {
    let sharp = |at: usize| {
        let [a, b, c] = points.get(at - 1..=at + 1).unwrap_or_default() else { return false };
        let turn = (*b - *a).angle() - (*c - *b).angle();
        turn.cos() < SHARP.cos()
    };
    let corners = (1..points.len().saturating_sub(1)).filter(|at| sharp(*at));
    let ends: Vec<usize> = std::iter::once(0).chain(corners).chain(points.len().checked_sub(1)).collect();
    ends.windows(2).filter_map(|pair| points.get(pair[0]..=pair[1])).collect()
}

fn sign(painter: &Painter, area: Rect, of: char, (width, color): (f32, Color32)) {
    for line in strokes(of) {
        let mut points: Vec<Pos2> =
            line.iter().map(|(x, y)| pos2(area.min.x + x * area.width(), area.min.y + y * area.height())).collect();
        // Where two arcs meet, the same point twice would have no direction, and its joint would be square.
        points.dedup_by(|a, b| a.distance(*b) < (SAME * area.height()).max(LEAST_PIECE));
        for run in runs(&points) {
            // Round ends and corners: the painter's own joints are mitred.
            for p in run.first().into_iter().chain(run.last()) {
                painter.circle_filled(*p, width / 2.0, color);
            }
            painter.add(Shape::line(run.to_vec(), Stroke::new(width, color)));
        }
    }
}

/// Writes a swara with its register's dots, as large as `area` allows.
pub fn swara(painter: &Painter, area: Rect, swara: Swara, sthayi: Sthayi, color: Color32) {
    let letter = write(painter, area, (swara, true), color);
    dots(painter, letter, sthayi, color);
}

/// Writes a swara without a register, as large as `area` allows.
pub fn name(painter: &Painter, area: Rect, swara: Swara, color: Color32) {
    write(painter, area, (swara, false), color);
}

fn write(painter: &Painter, area: Rect, (swara, dots): (Swara, bool), color: Color32) -> Rect {
    let mut signs = swara.short().chars();
    let (letter, digit) = (signs.next().unwrap_or(' '), signs.next());
    let (at, small) = places(area, digit.is_some(), dots);
    sign(painter, at, letter, (WEIGHT * at.height(), color));
    if let (Some(digit), Some(small)) = (digit, small) {
        sign(painter, small, digit, (WEIGHT * 0.75 * at.height(), color));
    }
    at
}

/// The register's dots about a letter's box.
pub fn dots(painter: &Painter, letter: Rect, sthayi: Sthayi, color: Color32) {
    let (size, away) = (DOT.0 * letter.height(), DOT.1 * letter.height());
    let y = if sthayi.0 > 0 { letter.top() - away } else { letter.bottom() + away };
    let xs: &[f32] = match sthayi.0.unsigned_abs() {
        0 => &[],
        1 => &[0.0],
        _ => &[-1.6, 1.6],
    };
    for x in xs {
        painter.circle_filled(pos2(letter.center().x + x * size, y), size, color);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [Swara; 16] = {
        use Swara::*;
        [S, R1, R2, R3, G1, G2, G3, M1, M2, P, D1, D2, D3, N1, N2, N3]
    };

    #[test]
    fn every_swara_has_its_strokes_inside_the_square() {
        for swara in ALL {
            for sign in swara.short().chars() {
                let lines = strokes(sign);
                assert!(!lines.is_empty(), "{sign}");
                for (x, y) in lines.into_iter().flatten() {
                    assert!((-0.01..=1.01).contains(&x) && (-0.01..=1.01).contains(&y), "{sign} {x} {y}");
                }
            }
        }
    }

    #[test]
    fn lines_are_cut_at_corners_and_not_in_bends() {
        let points = |c: char| strokes(c).remove(0).into_iter().map(|(x, y)| pos2(x, y)).collect::<Vec<_>>();
        for (sign, count) in [('S', 1), ('M', 4), ('N', 3)] {
            let mut points = points(sign);
            points.dedup_by(|a, b| a.distance(*b) < SAME);
            assert_eq!(runs(&points).len(), count, "{sign}");
        }
        assert!(runs(&[]).is_empty());
    }

    #[test]
    fn letter_digit_and_dots_stay_in_their_box() {
        for area in [vec2(100.0, 40.0), vec2(300.0, 300.0), vec2(40.0, 100.0), vec2(26.0, 20.0)] {
            let area = Rect::from_min_size(pos2(7.0, 9.0), area);
            for dots in [true, false] {
                let (letter, digit) = places(area, true, dots);
                let half = WEIGHT * letter.height() / 2.0;
                assert!(area.expand(0.5).contains_rect(letter.expand(half * 0.99)), "{area:?} {letter:?}");
                assert!(area.expand(0.5).contains_rect(digit.unwrap()), "{area:?} {digit:?}");
            }
            let (letter, _) = places(area, true, true);
            let reach = (DOT.0 + DOT.1) * letter.height();
            assert!(letter.top() - reach >= area.top() - 0.01);
        }
    }

    #[test]
    fn the_digit_of_a_small_letter_is_read() {
        for high in [14.0, 16.0, 20.0, 30.0, 60.0] {
            let area = Rect::from_min_size(Pos2::ZERO, vec2(60.0, high));
            let (letter, digit) = places(area, true, false);
            assert!(digit.unwrap().height() >= LEAST_DIGIT - 0.01, "{high}: {digit:?} beside {letter:?}");
        }
        // A large letter keeps its small digit.
        let (letter, digit) = places(Rect::from_min_size(Pos2::ZERO, vec2(300.0, 300.0)), true, true);
        assert!((digit.unwrap().height() / letter.height() - DIGIT.0).abs() < 1e-3);
    }
}
