//! One stroke per held note: it starts where the note starts, thickens while the voice is steady, and strays where
//! the voice strays.
//!
//! In: the voice's line since the note began, its target and band. Out: one ribbon on a painter. The still thread
//! through the middle is the target. Height is the offset, drawn ever less steeply far out (an arctangent), so that
//! 10 cents show and 100 still fit. The head is now; it moves on ever more slowly, so that a note of any length fits, and
//! what lies behind it is drawn the closer the older it is: a wobble of now is seen swing by swing, an old one as the
//! mean that it was. The ribbon swells with the steady seconds and thins while the voice is unsteady, never within a swing.
//! Cost: one mesh and one line of at most [`PIECES`] pieces.

use super::look::Look;
use super::view::LinePoint;
use crate::note::STEADY_CENTS;
use crate::units::num;
use egui::epaint::Mesh;
use egui::{Color32, Painter, Pos2, Rect, Shape, Stroke, Vec2, pos2, vec2};

/// The most pieces of one stroke: finer is not seen.
const PIECES: usize = 200;
/// The shortest piece, points.
const LEAST_PIECE: f32 = 2.0;
/// The offset that lies half way between thread and edge, cents (chosen so that a 20-cent band takes the middle).
pub(super) const HALF_WAY_CENTS: f64 = 38.0;
/// Seconds after which the head has covered 63 % of its room (chosen: a long tone stays on the move).
const REACH_S: f64 = 6.0;
/// Age at which the line is drawn 2.7 times as close as at the head, seconds (chosen: half a dozen swings of a waver of 5 a second
/// stay apart).
const CLOSER_S: f64 = 4.0;
/// Swings closer together than this are drawn as their mean, units: those of a waver that is some seconds old.
const FINEST: f32 = 7.0;
/// How many times as far the edge of the steepest stretch is softened.
const STEEPEST: f32 = 4.0;
/// Steady seconds after which it has 63 % of its full thickness; unsteady ones take it away as fast.
const THICKEN_S: f64 = 2.0;
/// Time constant of the mean and the spread that tell steady from unsteady, seconds: longer than one swing of a waver, so that
/// the ribbon does not pulse with it.
const RECENT_S: f64 = 0.3;

/// Height of an offset, -1 (far below) to 1 (far above); `half_way` cents give a half.
#[must_use]
pub fn height(offset_cents: f64, half_way: f64) -> f32 {
    num::single((offset_cents / half_way).atan() / std::f64::consts::FRAC_PI_2)
}

fn y_of(area: Rect, offset_cents: f64) -> f32 {
    area.center().y - height(offset_cents, HALF_WAY_CENTS) * area.height() / 2.0
}

/// The target's still thread and its band, across `area`.
pub fn target(painter: &Painter, area: Rect, look: &Look, half_width_cents: f64) {
    let (top, bottom) = (y_of(area, half_width_cents), y_of(area, -half_width_cents));
    painter.hline(area.x_range(), area.center().y, Stroke::new(look.u(2.0), look.still));
    // The band is told by shape: a bracket at either end, joined by lines as thin as a hair.
    for y in [top, bottom] {
        painter.hline(area.x_range(), y, Stroke::new(1.0, look.rule));
    }
    for (x, inward) in [(area.left(), 1.0), (area.right(), -1.0)] {
        let (a, b) = (pos2(x + inward * look.u(9.0), top), pos2(x + inward * look.u(9.0), bottom));
        let pen = Stroke::new(look.u(2.5), look.still);
        painter.line_segment([a, pos2(x, top)], pen);
        painter.line_segment([pos2(x, top), pos2(x, bottom)], pen);
        painter.line_segment([pos2(x, bottom), b], pen);
    }
}

/// How much of the voice is steady, seconds, told from its recent mean and spread.
#[derive(Default)]
struct Ink {
    mean: Option<f64>,
    variance: f64,
    seconds: f64,
}

impl Ink {
    /// Takes an offset, `dt` seconds after the last: grows while the spread is within what counts as steady, shrinks from half as
    /// much again on.
    fn take(&mut self, offset: f64, dt: f64) -> f64 {
        let part = (dt / RECENT_S).min(1.0);
        let mean = self.mean.get_or_insert(offset);
        let away = offset - *mean;
        *mean += away * part;
        self.variance += (away * away - self.variance) * part;
        let unsteady = (2.0 * (self.variance.sqrt() / STEADY_CENTS - 1.0)).clamp(0.0, 1.0);
        self.seconds = (self.seconds + dt * (1.0 - 2.0 * unsteady)).max(0.0);
        1.0 - (-self.seconds / THICKEN_S).exp()
    }
}

/// The middle of the stroke from start to head, and how thick it is there, 0 to 1. `target`: cents above Sa.
fn shape(line: &[LinePoint], (start_s, target): (f64, f64), area: Rect) -> Vec<(Pos2, f32)> {
    let first = line.partition_point(|p| p.time_s < start_s);
    let since = line.get(first..).unwrap_or_default();
    let Some(now) = since.last().map(|p| p.time_s) else { return Vec::new() };
    let length = area.width() * num::single(1.0 - (-(now - start_s) / REACH_S).exp());
    let whole = 1.0 - (-(now - start_s) / CLOSER_S).exp();
    let x_of = |t: f64| {
        let back = if whole > 0.0 { (1.0 - (-(now - t) / CLOSER_S).exp()) / whole } else { 0.0 };
        area.left() + length * num::single(1.0 - back)
    };
    let piece = (length / PIECES as f32).max(LEAST_PIECE);
    let mut out: Vec<(Pos2, f32)> = Vec::with_capacity(PIECES + 2);
    let (mut ink, mut before) = (Ink::default(), start_s);
    // The points of one piece are drawn as their mean.
    let (mut sum, mut thick, mut count, mut next) = (Vec2::ZERO, 0.0, 0.0f32, area.left());
    let mut head = None;
    for p in since {
        let dt = (p.time_s - before).clamp(0.0, 0.1);
        before = p.time_s;
        let Some(cents) = p.cents.filter(|_| !p.several) else { continue };
        let offset = f64::from(cents) - target;
        thick = num::single(ink.take(offset, dt));
        let at = pos2(x_of(p.time_s), y_of(area, offset));
        (sum, count) = (sum + at.to_vec2(), count + 1.0);
        head = Some(at);
        if at.x >= next {
            out.push(((sum / count).to_pos2(), thick));
            (sum, count, next) = (Vec2::ZERO, 0.0, at.x + piece);
        }
    }
    // The newest is no mean: it would be late by half a piece.
    out.extend(head.filter(|_| count > 0.0).map(|at| (at, thick)));
    out
}

/// The line as a pen of its own height draws it: what is finer than half of that, or than `finest` points, is its mean. As far
/// ahead as back, so that nothing lags: the head is where the voice is now.
fn broad(middle: &[(Pos2, f32)], finest: f32) -> Vec<(Pos2, f32)> {
    let head = middle.last().map_or(0.0, |(p, _)| p.x);
    let mut first = 0;
    let each = middle.iter().map(|(p, half)| {
        let reach = (0.5 * half).max(finest / 2.0).min(head - p.x);
        while middle.get(first).is_some_and(|(q, _)| q.x < p.x - reach) {
            first += 1;
        }
        let near = middle.iter().skip(first).take_while(|(q, _)| q.x <= p.x + reach);
        let (sum, count) = near.fold((0.0, 0.0), |(sum, count), (q, _)| (sum + q.y, count + 1.0f32));
        (pos2(p.x, sum / count.max(1.0)), *half)
    });
    each.collect()
}

/// A ribbon along `middle`, which runs from left to right: each point with half its height, its edges softened over `soft` points.
/// Upright rather than across, so that both edges are the line itself and a wobble shows in them.
fn ribbon(middle: &[(Pos2, f32)], color: Color32, soft: f32) -> Mesh {
    let mut mesh = Mesh::default();
    let at = |i: usize| middle.get(i).map(|(p, _)| *p);
    for (row, (i, (p, half))) in (0u32..).zip(middle.iter().enumerate()) {
        let (before, after) = (at(i.saturating_sub(1)).unwrap_or(*p), at(i + 1).unwrap_or(*p));
        let along = after - before;
        // As soft across a steep edge as across a level one, within reason.
        let soft = soft * (along.length() / along.x.abs().max(1e-3)).clamp(1.0, STEEPEST);
        let clear = Color32::TRANSPARENT;
        for (away, color) in [(-half - soft, clear), (-half, color), (*half, color), (half + soft, clear)] {
            mesh.colored_vertex(*p + vec2(0.0, away), color);
        }
        if row > 0 {
            for strip in 0..3 {
                let (a, b) = (4 * (row - 1) + strip, 4 * row + strip);
                mesh.add_triangle(a, a + 1, b);
                mesh.add_triangle(b, a + 1, b + 1);
            }
        }
    }
    mesh
}

/// The note that sounds, as one stroke since `start_s`, about its target (cents above Sa).
pub fn stroke(painter: &Painter, area: Rect, look: &Look, line: &[LinePoint], (start_s, target): (f64, f64)) {
    let thin = look.u(4.0);
    let thick = (area.height() * 0.18).max(thin);
    let room = area.shrink(look.u(4.0) + thick / 2.0);
    let room = Rect::from_x_y_ranges(room.x_range(), area.y_range());
    let shape = shape(line, (start_s, target), room);
    let middle: Vec<(Pos2, f32)> = shape.into_iter().map(|(p, t)| (p, (thin + (thick - thin) * t) / 2.0)).collect();
    let middle = broad(&middle, look.u(FINEST));
    painter.add(ribbon(&middle, look.voice, 1.0 / painter.pixels_per_point()));
    // Where the voice leaps, the upright ribbon would be a hair: the pen never is.
    let pen = Stroke::new(thin, look.voice);
    painter.add(Shape::line(middle.iter().map(|(p, _)| *p).collect(), pen));
    for (p, half) in middle.first().into_iter().chain(middle.last()) {
        painter.circle_filled(*p, *half, look.voice);
    }
    // The head is now: seen while the stroke is still thin.
    if let Some((p, half)) = middle.last() {
        painter.circle_filled(*p, half.max(look.u(6.0)), look.voice);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::swara::{Named, Sthayi, Swara};
    use crate::units::Cents;

    fn line(seconds: f64, offset: impl Fn(f64) -> f64) -> Vec<LinePoint> {
        (0..num::index(seconds * 200.0))
            .map(|i| {
                let time_s = i as f64 / 200.0;
                let named = Named { swara: Swara::S, sthayi: Sthayi(0), offset: Cents(offset(time_s)) };
                LinePoint {
                    time_s,
                    cents: Some(num::single(offset(time_s))),
                    named: Some(named),
                    kind: None,
                    beats_hz: None,
                    several: false,
                }
            })
            .collect()
    }

    #[test]
    fn it_thickens_when_steady_and_not_when_wavering() {
        let area = Rect::from_min_size(Pos2::ZERO, egui::vec2(400.0, 100.0));
        let steady = shape(&line(5.0, |_| 4.0), (0.0, 0.0), area);
        let wavering = shape(&line(5.0, |t| 60.0 * (t * 30.0).sin()), (0.0, 0.0), area);
        assert!(steady.last().unwrap().1 > 0.8);
        assert!(wavering.last().unwrap().1 < 0.2);
        assert!(steady.len() <= PIECES + 2);
    }

    #[test]
    fn it_strays_to_the_voices_side_and_stays_in_its_room() {
        let area = Rect::from_min_size(Pos2::ZERO, egui::vec2(400.0, 100.0));
        for (offset, above) in [(30.0, true), (-30.0, false), (1.0e6, true), (-1.0e6, false)] {
            for (p, _) in shape(&line(100.0, |_| offset), (0.0, 0.0), area) {
                assert!(area.expand(0.01).contains(p), "{p:?}");
                assert_eq!(p.y < area.center().y, above);
            }
        }
        assert!(shape(&[], (0.0, 0.0), area).is_empty());
    }

    #[test]
    fn it_is_one_stroke_that_swells_and_thins_without_beads() {
        let area = Rect::from_min_size(Pos2::ZERO, egui::vec2(500.0, 160.0));
        // Steady for 3 s, then a waver of 25 cents at 5 Hz.
        let waver = |t: f64| if t < 3.0 { 0.0 } else { 25.0 * (t * 31.4).sin() };
        let points = shape(&line(6.0, waver), (0.0, 0.0), area);
        assert!(points.windows(2).all(|w| w[1].0.x >= w[0].0.x), "it runs from start to head");
        let top = points.iter().map(|p| p.1).fold(0.0, f32::max);
        let at = points.iter().position(|p| p.1 >= top).unwrap();
        let back =
            |part: &[(Pos2, f32)], way: f32| part.windows(2).map(|w| (way * (w[0].1 - w[1].1)).max(0.0)).sum::<f32>();
        let pulses = back(&points[..=at], 1.0) + back(&points[at..], -1.0);
        assert!(top > 0.7 && points.last().unwrap().1 < 0.75 * top, "swells to {top}, then thins");
        assert!(pulses < 0.05, "its thickness pulses by {pulses}");
        // The waver is the line itself: fifteen swings are fifteen ups and downs of its middle.
        let crossings = points.windows(2).filter(|w| (w[0].0.y - 80.0) * (w[1].0.y - 80.0) < 0.0).count();
        assert!((26..=32).contains(&crossings), "{crossings} crossings");
    }

    #[test]
    fn it_is_drawn_against_its_own_target_however_far_it_strays() {
        let area = Rect::from_min_size(Pos2::ZERO, egui::vec2(500.0, 160.0));
        // A glide from 40 to 70 cents above: past the half of a semitone, where the nearest swara is another.
        let points = shape(&line(2.0, |t| 40.0 + 15.0 * t), (0.0, 0.0), area);
        assert!(points.windows(2).all(|w| w[1].0.y <= w[0].0.y + 0.01), "no leap");
    }

    #[test]
    fn a_broad_pen_leaves_the_fine_out_and_keeps_the_coarse() {
        let waver = |every: f32| -> Vec<(Pos2, f32)> {
            let y = |x: f32| 50.0 + 10.0 * (std::f32::consts::TAU * x / every).sin();
            (0..200u16).map(|i| f32::from(i) * 2.0).map(|x| (pos2(x, y(x)), 4.0)).collect()
        };
        let swing = |drawn: Vec<(Pos2, f32)>| {
            // Away from the ends, which have a half of the neighbours.
            drawn[10..190].iter().map(|(p, _)| (p.y - 50.0).abs()).fold(0.0, f32::max)
        };
        assert!(swing(broad(&waver(8.0), 8.0)) < 3.0);
        assert!(swing(broad(&waver(40.0), 8.0)) > 8.5);
        assert!(broad(&[], 8.0).is_empty());
    }

    #[test]
    fn a_ribbon_is_as_wide_as_asked() {
        let middle = [(pos2(0.0, 50.0), 4.0), (pos2(10.0, 50.0), 4.0), (pos2(20.0, 50.0), 9.0)];
        let mesh = ribbon(&middle, Color32::WHITE, 1.0);
        assert_eq!((mesh.vertices.len(), mesh.indices.len()), (12, 36));
        assert!(mesh.is_valid());
        let solid = mesh.vertices.iter().filter(|v| v.color == Color32::WHITE).map(|v| v.pos.y);
        assert_eq!(solid.clone().fold(f32::INFINITY, f32::min), 41.0);
        assert_eq!(solid.fold(f32::NEG_INFINITY, f32::max), 59.0);
        assert!(ribbon(&[], Color32::WHITE, 1.0).is_empty());
    }
}
