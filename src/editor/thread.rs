//! Two threads, the still one and the voice: their gap is the error, their crossings are the beats.
//!
//! In: the voice's line over a span of seconds. Out: two lines on a painter, with the letter of each held swara
//! where it begins. Where a held note beats against the drone the two threads are plaited, crossing once a beat;
//! the plait is as wide as the error and lies on the error's side. In tune they run together as one line. Swings
//! (gamaka) and glides are drawn thin and free: they are shown, never judged. *Flat*: every swara on one level, for
//! a strip; *stepped*: the level follows the melody, each swara of the scale one step, wherever the voice goes (no
//! lanes). Cost: one point per pixel column.

use super::letters;
use super::look::Look;
use super::stroke::height;
use super::view::LinePoint;
use crate::note::Kind;
use crate::swara::{Named, Sthayi, Swara, Targets};
use crate::units::num;
use egui::{Painter, Pos2, Rect, Shape, Stroke, pos2, vec2};

/// Beats drawn closer than this many points would blur: there the threads run side by side.
const LEAST_CROSSING: f64 = 5.0;
/// A held swara shorter than this gets no letter, seconds.
const LEAST_LETTER_S: f64 = 0.25;

/// The offset drawn half way to the next step, cents: steeper than the stroke, since a step is small (chosen by eye).
const HALF_WAY_CENTS: f64 = 20.0;
/// On one level, what moves is drawn at this share of its height, so that it does not shout over what is held.
const MOVING_SHARE: f32 = 0.5;

/// How levels are laid out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Levels<'a> {
    /// All on one level.
    Flat,
    /// Each swara of the scale a step of its own.
    Stepped(&'a Targets),
}

/// Steps from madhya Sa to a named swara, counted in swaras of the scale.
fn step(named: &Named, targets: &Targets) -> f32 {
    let count = targets.by_position.iter().flatten().count() as f32;
    let below = targets.by_position.iter().flatten().take_while(|t| t.swara != named.swara).count() as f32;
    f32::from(named.sthayi.0) * count + below
}

/// Steps of the readings that are joined to the one before or after: only these are drawn and need room.
fn joined<'a>(points: &'a [LinePoint], targets: &'a Targets) -> impl Iterator<Item = f32> + 'a {
    let at = |i: usize| points.get(i).and_then(|p| p.named).map(|named| step(&named, targets));
    (0..points.len()).filter_map(move |i| {
        let here = at(i)?;
        let near = |other: Option<f32>| other.is_some_and(|other| (other - here).abs() <= MOST_STEPS);
        (near(at(i + 1)) || i.checked_sub(1).is_some_and(|before| near(at(before)))).then_some(here)
    })
}

/// Where a pitch lies: its target's level and its own, points.
struct Place {
    targets: Option<Targets>,
    low: f32,
    step: f32,
    bottom: f32,
}

impl Place {
    fn new(area: Rect, levels: Levels<'_>, points: &[LinePoint]) -> Self {
        match levels {
            Levels::Flat => Self { targets: None, low: 0.0, step: area.height(), bottom: area.center().y },
            Levels::Stepped(targets) => {
                let steps = joined(points, targets);
                let (low, high) = steps.fold((f32::INFINITY, f32::NEG_INFINITY), |(a, b), s| (a.min(s), b.max(s)));
                let (low, high) = if low.is_finite() { (low, high) } else { (0.0, 4.0) };
                // At least five steps, so that a single held note does not fill the room.
                let pad = (4.0 - (high - low)).max(0.0) / 2.0;
                let (low, high) = (low - pad, high + pad);
                let each = area.height() / (high - low + 1.0);
                Self { targets: Some(*targets), low, step: each, bottom: area.bottom() - each / 2.0 }
            }
        }
    }

    fn step_of(&self, named: &Named) -> f32 {
        self.targets.as_ref().map_or(0.0, |t| step(named, t))
    }

    fn target(&self, named: &Named) -> f32 {
        self.bottom - (self.step_of(named) - self.low) * self.step
    }

    fn voice(&self, named: &Named) -> f32 {
        self.target(named) - height(named.offset.0, HALF_WAY_CENTS) * self.step / 2.0
    }
}

/// Steps of the scale beyond which two readings one after the other are not joined: no throat gets so far in 5 ms; the first
/// reading of a note may be an octave off.
const MOST_STEPS: f32 = 3.0;

/// The two threads over `points` from `from_s` to `to_s`.
pub fn threads(
    painter: &Painter,
    area: Rect,
    look: &Look,
    (points, from_s, to_s): (&[LinePoint], f64, f64),
    levels: Levels<'_>,
) {
    let span = (to_s - from_s).max(0.1);
    let first = points.partition_point(|p| p.time_s < from_s);
    let end = points.partition_point(|p| p.time_s <= to_s);
    let points = points.get(first..end).unwrap_or_default();
    let letter = look.u(20.0).min(area.height() * 0.3);
    let room = Rect::from_min_max(area.min + vec2(0.0, letter), area.max);
    let place = Place::new(room, levels, points);
    let px_per_s = f64::from(area.width()) / span;
    let x_of = |t: f64| area.left() + num::single((t - from_s) * px_per_s);
    let mut run = Run::new(look);
    let (mut phase, mut before, mut last_x) = (0.0f64, None::<&LinePoint>, f32::NEG_INFINITY);
    for p in points {
        let dt = before.map_or(0.0, |b| (p.time_s - b.time_s).clamp(0.0, 0.1));
        let Some(named) = p.named else {
            run.break_off(painter);
            before = None;
            continue;
        };
        let beats = f64::from(p.beats_hz.unwrap_or(0.0));
        phase += beats * dt;
        let held = matches!(p.kind, Some(Kind::Held));
        let last = before.and_then(|b| b.named);
        let leaps = last.is_some_and(|n| (n.swara, n.sthayi) != (named.swara, named.sthayi));
        if last.is_some_and(|n| (place.step_of(&n) - place.step_of(&named)).abs() > MOST_STEPS) {
            run.break_off(painter);
        }
        before = Some(p);
        let x = x_of(p.time_s);
        if x - last_x < 0.8 && !leaps {
            continue;
        }
        last_x = x;
        let (target, mut voice) = (place.target(&named), place.voice(&named));
        if !held && levels == Levels::Flat {
            voice = target + (voice - target) * MOVING_SHARE;
        }
        let plaited = held && beats > 0.0 && px_per_s / beats >= LEAST_CROSSING;
        let (still, sung) = if plaited {
            let (mid, half) = ((target + voice) / 2.0, (voice - target) / 2.0);
            let turn = num::single((std::f64::consts::PI * phase).cos());
            (mid - half * turn, mid + half * turn)
        } else {
            (target, voice)
        };
        match levels {
            Levels::Stepped(_) if leaps => run.still_break(painter),
            Levels::Flat if leaps => run.break_off(painter),
            _ => {}
        }
        run.add(painter, (x, still, sung), held);
    }
    run.break_off(painter);
    letters_along(painter, look, (points, letter, area), &place, x_of);
}

/// Lines under way.
struct Run {
    still: Vec<Pos2>,
    sung: Vec<Pos2>,
    held: bool,
    pens: [Stroke; 3],
}

impl Run {
    fn new(look: &Look) -> Self {
        let pens = [
            Stroke::new(look.u(2.0), look.still),
            Stroke::new(look.u(3.2), look.voice),
            Stroke::new(look.u(1.3), look.voice),
        ];
        Self { still: Vec::new(), sung: Vec::new(), held: false, pens }
    }

    fn add(&mut self, painter: &Painter, (x, still, sung): (f32, f32, f32), held: bool) {
        if held != self.held {
            let joint = self.sung.last().copied();
            self.sung_break(painter);
            self.sung.extend(joint);
            self.held = held;
        }
        if held {
            self.still.push(pos2(x, still));
        } else {
            // What moves is measured against nothing.
            self.still_break(painter);
        }
        self.sung.push(pos2(x, sung));
    }

    fn still_break(&mut self, painter: &Painter) {
        let line = std::mem::take(&mut self.still);
        if line.len() > 1 {
            painter.add(Shape::line(line, self.pens[0]));
        }
    }

    fn sung_break(&mut self, painter: &Painter) {
        let line = std::mem::take(&mut self.sung);
        if line.len() > 1 {
            painter.add(Shape::line(line, if self.held { self.pens[1] } else { self.pens[2] }));
        }
    }

    fn break_off(&mut self, painter: &Painter) {
        self.still_break(painter);
        self.sung_break(painter);
    }
}

/// The letters of held swaras, each where it begins, with a slanted mark for having come up or down to it.
fn letters_along(
    painter: &Painter,
    look: &Look,
    (points, size, area): (&[LinePoint], f32, Rect),
    place: &Place,
    x_of: impl Fn(f64) -> f32,
) {
    let mut last_right = f32::NEG_INFINITY;
    let mut previous: Option<f32> = None;
    for (start, end, named) in held_runs(points) {
        let pitch = f32::from(named.swara.position()) + 12.0 * f32::from(named.sthayi.0);
        let came = previous.map_or(0.0, |p| pitch - p);
        previous = Some(pitch);
        let x = x_of(start);
        if end - start < LEAST_LETTER_S || x < last_right || x + size * 1.2 > area.right() {
            continue;
        }
        let top = (place.target(&named) - place.step / 2.0).min(place.voice(&named) - look.u(4.0)) - size;
        let y = if place.targets.is_some() { top.max(area.top()) } else { area.top() };
        let rect = Rect::from_min_size(pos2(x, y), vec2(size * 1.15, size));
        letters::swara(painter, rect, named.swara, named.sthayi, look.ink);
        if came.abs() > 0.0 && x - size * 0.4 > last_right {
            let (from, to) = if came > 0.0 { (0.8, 0.3) } else { (0.3, 0.8) };
            let mark = [pos2(x - size * 0.32, y + size * from), pos2(x - size * 0.05, y + size * to)];
            painter.line_segment(mark, Stroke::new(look.u(1.6), look.quiet));
        }
        last_right = rect.right();
    }
}

/// Stretches of one held swara: start, end, and what it is.
fn held_runs(points: &[LinePoint]) -> Vec<(f64, f64, Named)> {
    let mut runs: Vec<(f64, f64, Named)> = Vec::new();
    let mut open = false;
    for p in points {
        let held = p.named.filter(|_| matches!(p.kind, Some(Kind::Held)));
        let Some(named) = held else {
            open = false;
            continue;
        };
        let key = |n: &Named| -> (Swara, Sthayi) { (n.swara, n.sthayi) };
        match runs.last_mut() {
            Some(run) if open && key(&run.2) == key(&named) => run.1 = p.time_s,
            _ => runs.push((p.time_s, p.time_s, named)),
        }
        open = true;
    }
    runs
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::swara::Target;
    use crate::units::Cents;

    fn targets() -> Targets {
        let mut by_position = [None; 12];
        by_position[0] = Some(Target { swara: Swara::S, cents: Cents(0.0) });
        by_position[7] = Some(Target { swara: Swara::P, cents: Cents(701.955) });
        Targets { by_position }
    }

    fn point(time_s: f64, swara: Swara, octave: i8, offset: f64, kind: Kind) -> LinePoint {
        let named = Named { swara, sthayi: Sthayi(octave), offset: Cents(offset) };
        LinePoint { time_s, cents: Some(0.0), named: Some(named), kind: Some(kind), beats_hz: None, several: false }
    }

    #[test]
    fn steps_count_swaras_of_the_scale() {
        let at = |swara, octave| step(&Named { swara, sthayi: Sthayi(octave), offset: Cents(0.0) }, &targets());
        assert!((at(Swara::S, 0) - 0.0).abs() < 1e-6);
        assert!((at(Swara::P, 0) - 1.0).abs() < 1e-6);
        assert!((at(Swara::S, 1) - 2.0).abs() < 1e-6);
        assert!((at(Swara::P, -1) + 1.0).abs() < 1e-6);
    }

    #[test]
    fn every_level_stays_in_the_room() {
        let area = Rect::from_min_size(pos2(0.0, 0.0), vec2(300.0, 120.0));
        let points: Vec<_> = [(Swara::S, -2, 500.0), (Swara::P, 2, -500.0), (Swara::S, 0, 0.0)]
            .into_iter()
            .flat_map(|reading| [reading; 2])
            .enumerate()
            .map(|(i, (s, o, c))| point(i as f64, s, o, c, Kind::Held))
            .collect();
        let place = Place::new(area, Levels::Stepped(&targets()), &points);
        for named in points.iter().filter_map(|p| p.named) {
            assert!(area.expand(0.01).y_range().contains(place.voice(&named)));
            assert!(area.y_range().contains(place.target(&named)));
        }
    }

    #[test]
    fn a_reading_that_slips_by_an_octave_gets_no_room() {
        let mut points: Vec<_> = (0..10).map(|i| point(f64::from(i), Swara::S, 0, 0.0, Kind::Held)).collect();
        let area = Rect::from_min_size(pos2(0.0, 0.0), vec2(300.0, 120.0));
        let plain = Place::new(area, Levels::Stepped(&targets()), &points).step;
        points[4] = point(4.0, Swara::S, 3, 0.0, Kind::Held);
        assert!((Place::new(area, Levels::Stepped(&targets()), &points).step - plain).abs() < 1e-6);
        points[5] = point(5.0, Swara::S, 3, 0.0, Kind::Held);
        assert!(Place::new(area, Levels::Stepped(&targets()), &points).step < plain, "two of them are drawn");
    }

    #[test]
    fn only_held_stretches_become_runs() {
        let points = vec![
            point(0.0, Swara::S, 0, 0.0, Kind::Held),
            point(0.5, Swara::S, 0, 0.0, Kind::Held),
            point(0.6, Swara::S, 0, 90.0, Kind::Gliding),
            point(0.8, Swara::P, 0, 0.0, Kind::Held),
        ];
        let runs = held_runs(&points);
        assert_eq!(runs.len(), 2);
        assert!((runs[0].1 - 0.5).abs() < 1e-9);
        assert_eq!(runs[1].2.swara, Swara::P);
    }
}
