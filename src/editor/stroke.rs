//! One stroke per held note: it starts where the note starts, thickens while the voice is steady, and strays where
//! the voice strays.
//!
//! In: the voice's line since the note began, its target's band. Out: strokes on a painter. The still thread
//! through the middle is the target. Height is the offset, drawn ever less steeply far out (an arctangent), so that
//! 10 cents show and 100 still fit. Length grows ever more slowly, so that a stroke of any duration fits.
//! Cost: at most [`PIECES`] short lines.

use super::look::Look;
use super::view::LinePoint;
use crate::units::num;
use egui::{Painter, Pos2, Rect, Stroke, pos2};

/// The most pieces of one stroke: finer is not seen.
const PIECES: usize = 220;
/// The offset that lies half way between thread and edge, cents (chosen so that a 20-cent band takes the middle).
const HALF_WAY_CENTS: f64 = 38.0;
/// Seconds after which the stroke has covered 63 % of its room (chosen: a long tone stays on the move).
const REACH_S: f64 = 6.0;
/// Steady seconds after which it has 63 % of its full thickness.
const THICKEN_S: f64 = 2.5;
/// Distance from its own recent mean beyond which the voice is not steady, cents: the drawn counterpart of a
/// singer's ordinary scatter of 9 to 15 cents on held notes.
const STEADY_CENTS: f64 = 15.0;
/// Time constant of that recent mean, seconds.
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
    // The band is told by shape: a bracket at either end, joined by hairlines.
    for y in [top, bottom] {
        painter.hline(area.x_range(), y, Stroke::new(1.0, look.still.gamma_multiply(0.55)));
    }
    for (x, inward) in [(area.left(), 1.0), (area.right(), -1.0)] {
        let (a, b) = (pos2(x + inward * look.u(9.0), top), pos2(x + inward * look.u(9.0), bottom));
        let pen = Stroke::new(look.u(2.5), look.still);
        painter.line_segment([a, pos2(x, top)], pen);
        painter.line_segment([pos2(x, top), pos2(x, bottom)], pen);
        painter.line_segment([pos2(x, bottom), b], pen);
    }
}

/// A point of the stroke: where, and how thick, 0 to 1.
fn shape(line: &[LinePoint], start_s: f64, area: Rect) -> Vec<(Pos2, f32)> {
    let first = line.partition_point(|p| p.time_s < start_s);
    let since = line.get(first..).unwrap_or_default();
    let every = since.len().div_ceil(PIECES).max(1);
    let (mut mean, mut ink, mut before) = (None::<f64>, 0.0f64, start_s);
    let mut out = Vec::with_capacity(PIECES + 1);
    for (i, p) in since.iter().enumerate() {
        let dt = (p.time_s - before).clamp(0.0, 0.1);
        before = p.time_s;
        let Some(named) = p.named else { continue };
        let offset = named.offset.0;
        let recent = mean.get_or_insert(offset);
        *recent += (offset - *recent) * (dt / RECENT_S).min(1.0);
        let steady = (offset - *recent).abs() <= STEADY_CENTS;
        ink = if steady { ink + dt } else { (ink - 3.0 * dt).max(0.0) };
        if i % every == 0 || i + 1 == since.len() {
            let along = 1.0 - (-(p.time_s - start_s).max(0.0) / REACH_S).exp();
            let x = area.left() + area.width() * num::single(along);
            out.push((pos2(x, y_of(area, offset)), num::single(1.0 - (-ink / THICKEN_S).exp())));
        }
    }
    out
}

/// The note that sounds, as one stroke since `start_s`.
pub fn stroke(painter: &Painter, area: Rect, look: &Look, line: &[LinePoint], start_s: f64) {
    let thin = look.u(2.5);
    let thick = (area.height() * 0.2).max(thin);
    let room = area.shrink(look.u(4.0) + thick / 2.0);
    let room = Rect::from_x_y_ranges(room.x_range(), area.y_range());
    let points = shape(line, start_s, room);
    let wide = |t: f32| thin + (thick - thin) * t;
    for pair in points.windows(2) {
        if let [(a, _), (b, t)] = pair {
            painter.line_segment([*a, *b], Stroke::new(wide(*t), look.voice));
            if wide(*t) > 3.0 {
                painter.circle_filled(*b, wide(*t) / 2.0, look.voice);
            }
        }
    }
    if let Some((p, t)) = points.last() {
        painter.circle_filled(*p, (wide(*t) / 2.0).max(look.u(4.0)), look.voice);
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
                LinePoint { time_s, cents: Some(0.0), named: Some(named), kind: None, beats_hz: None }
            })
            .collect()
    }

    #[test]
    fn it_thickens_when_steady_and_not_when_wavering() {
        let area = Rect::from_min_size(Pos2::ZERO, egui::vec2(400.0, 100.0));
        let steady = shape(&line(5.0, |_| 4.0), 0.0, area);
        let wavering = shape(&line(5.0, |t| 60.0 * (t * 30.0).sin()), 0.0, area);
        assert!(steady.last().unwrap().1 > 0.8);
        assert!(wavering.last().unwrap().1 < 0.2);
        assert!(steady.len() <= PIECES + 1);
    }

    #[test]
    fn it_strays_to_the_voices_side_and_stays_in_its_room() {
        let area = Rect::from_min_size(Pos2::ZERO, egui::vec2(400.0, 100.0));
        for (offset, above) in [(30.0, true), (-30.0, false), (1.0e6, true), (-1.0e6, false)] {
            for (p, _) in shape(&line(100.0, |_| offset), 0.0, area) {
                assert!(area.expand(0.01).contains(p), "{p:?}");
                assert_eq!(p.y < area.center().y, above);
            }
        }
        assert!(shape(&[], 0.0, area).is_empty());
    }
}
