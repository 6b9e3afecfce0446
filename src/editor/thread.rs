//! Two threads, the still one and the voice: their gap is the error, the rungs between them are the beats.
//!
//! In: the voice's line over a span of seconds. Out: two lines on a painter, with the letter of each held swara
//! where it begins. The voice's line is where the voice was and nothing else: what it does beside a drone never bends it. Where
//! a held note beats against a drone, a rung joins the two threads at each beat, so that the rungs come wider apart as the beats
//! slow; in tune there are none, and the threads run as one. Held stretches are drawn as the mean of a tenth of a second, so
//! that the flutter of single readings is no saw tooth and a waver of five a second keeps its swings. Swings
//! (gamaka) and glides are drawn thin and free: they are shown, never judged. *Flat*: every swara on one level, for
//! a strip, at the scale of the stroke above it, between the hairlines of the band; *stepped*: the level follows the melody, each
//! swara of the scale one step, wherever the voice goes (no lanes). Cost: a piece every two points of width, two points for
//! each stretch of the still thread.

mod run;

use super::letters;
use super::look::Look;
use super::range::{Far, range};
use super::stroke;
use super::stroke::height;
use super::view::LinePoint;
use super::ways::Ways;
use crate::note::{Band, Kind};
use crate::swara::{Named, Sthayi, Swara, Targets};
use crate::units::num;
use egui::{Painter, Rect, Shape, Stroke, pos2, vec2};
use run::{Drawn, Run};

/// Rungs closer together than this would blur: there the gap alone tells, units.
const LEAST_RUNG: f32 = 7.0;
/// How far a rung reaches beyond the threads, units: seen however near they are.
const RUNG_OUT: f32 = 3.5;
/// Held readings are drawn as the mean over so long on either side, taken twice, seconds (chosen: of the throat's flutter, 10 times
/// a second and faster, less than half is left; a waver of 5 Hz keeps eight tenths).
const MEAN_S: f64 = 0.025;
/// A stretch of voice shorter than this is a slip of the reading, not sung: it is not drawn and gets no room, seconds.
const LEAST_RUN_S: f64 = 0.05;
/// Farther from one reading to the next than a throat gets, cents: there a stretch begins.
const LEAP_CENTS: f32 = 300.0;
/// A held swara shorter than this gets no letter, seconds.
const LEAST_LETTER_S: f64 = 0.25;

/// Size of the tick of a swara that belongs to one way only, of its letter.
const WAY: f32 = 0.45;

/// Stepped: the offset drawn half way to the next step, cents; steeper than the stroke, since a step is small (chosen by eye).
const HALF_WAY_CENTS: f64 = 20.0;
/// Without a sound for no longer than this, the same swara is one, seconds: shorter than a breath.
const DROPOUT_S: f64 = 0.15;

/// On one level, what moves is drawn at this share of its height, so that it does not shout over what is held.
const MOVING_SHARE: f32 = 0.5;

/// How levels are laid out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Levels<'a> {
    /// All on one level, with the band's edges.
    Flat(Band),
    /// Each swara of the scale a step of its own; which of them belong to the way up or down only.
    Stepped(&'a Targets, Ways),
}

/// Steps from madhya Sa to a named swara, counted in swaras of the scale.
fn step(named: &Named, targets: &Targets) -> f32 {
    let count = targets.by_position.iter().flatten().count() as f32;
    let below = targets.by_position.iter().flatten().take_while(|t| t.swara != named.swara).count() as f32;
    f32::from(named.sthayi.0) * count + below
}

/// What each reading is, slips left out: a stretch that lasts for some readings only, as at the onset of a note an octave off.
fn names(points: &[LinePoint]) -> Vec<Option<Named>> {
    let mut out: Vec<Option<Named>> = points.iter().map(|p| p.named).collect();
    let mut first = 0;
    for i in 0..points.len() {
        let [here, next] = [points.get(i), points.get(i + 1)];
        let goes_on = here.zip(next).is_some_and(|(a, b)| {
            let near = |(a, b): (f32, f32)| (a - b).abs() <= LEAP_CENTS;
            a.named.is_some() == b.named.is_some() && a.cents.zip(b.cents).is_none_or(near)
        });
        if goes_on {
            continue;
        }
        let seconds = here.zip(points.get(first)).map_or(0.0, |(last, first)| last.time_s - first.time_s);
        if seconds < LEAST_RUN_S {
            out.iter_mut().take(i + 1).skip(first).for_each(|named| *named = None);
        }
        first = i + 1;
    }
    out
}

/// How far beyond the outermost swara a stray is drawn, steps: within the picture.
const EDGE_STEPS: f32 = 0.4;

/// Where a pitch lies: its target's level and its own, points.
struct Place {
    targets: Option<Targets>,
    low: f32,
    high: f32,
    step: f32,
    bottom: f32,
    half_way: f64,
}

impl Place {
    fn new(area: Rect, levels: Levels<'_>, (points, names): (&[LinePoint], &[Option<Named>])) -> Self {
        match levels {
            Levels::Flat(_) => {
                let (step, bottom) = (area.height(), area.center().y);
                Self { targets: None, low: 0.0, high: 0.0, step, bottom, half_way: stroke::HALF_WAY_CENTS }
            }
            Levels::Stepped(targets, _) => {
                let steps = points.iter().zip(names).map(|(p, named)| (p.time_s, named.map(|n| step(&n, targets))));
                let (low, high) = range(steps, Far { leap: MOST_STEPS, stray: MOST_STEPS }).unwrap_or((0.0, 4.0));
                // At least five steps, so that a single held note does not fill the room.
                let pad = (4.0 - (high - low)).max(0.0) / 2.0;
                let (low, high) = (low - pad, high + pad);
                let each = area.height() / (high - low + 1.0);
                let bottom = area.bottom() - each / 2.0;
                Self { targets: Some(*targets), low, high, step: each, bottom, half_way: HALF_WAY_CENTS }
            }
        }
    }

    fn step_of(&self, named: &Named) -> f32 {
        self.targets.as_ref().map_or(0.0, |t| step(named, t))
    }

    fn target(&self, named: &Named) -> f32 {
        // What strays is drawn at the edge.
        let step = self.step_of(named).clamp(self.low - EDGE_STEPS, self.high + EDGE_STEPS);
        self.bottom - (step - self.low) * self.step
    }

    fn voice(&self, named: &Named) -> f32 {
        self.target(named) - self.rise(named.offset.0)
    }

    /// How far above its target an offset is drawn, points.
    fn rise(&self, offset_cents: f64) -> f32 {
        height(offset_cents, self.half_way) * self.step / 2.0
    }
}

/// Steps of the scale beyond which two readings one after the other are not joined: no throat gets so far in 5 ms; the first
/// reading of a note may be an octave off.
const MOST_STEPS: f32 = 3.0;

/// The two threads over `points` from `from_s` to `to_s`; rungs only where a drone sounds to beat against.
pub fn threads(
    painter: &Painter,
    area: Rect,
    look: &Look,
    (points, from_s, to_s, drone): (&[LinePoint], f64, f64, bool),
    levels: Levels<'_>,
) {
    let letter = look.u(20.0).min(area.height() * 0.3);
    let room = Rect::from_min_max(area.min + vec2(0.0, letter), area.max);
    let since = points.partition_point(|p| p.time_s < from_s);
    let end = points.partition_point(|p| p.time_s <= to_s);
    let shown = points.get(since..end).unwrap_or_default();
    let span = (to_s - from_s).max(0.1);
    let scale = Scale { left: area.left(), from_s, px_per_s: f64::from(area.width()) / span };
    // Beats are counted from the note's beginning, in sight or not: rungs move with the line.
    let first = beginning(points, since);
    let points = points.get(first..end).unwrap_or_default();
    let names = names(points);
    let place = Place::new(room, levels, (shown, names.get(since - first..).unwrap_or_default()));
    let drawn = lay((points, &names), &place, &scale, (levels, drone, look.u(LEAST_RUNG)));
    drawn.paint(painter, look, (area.x_range(), &place));
    let ways = if let Levels::Stepped(_, ways) = levels { ways } else { Ways::default() };
    letters_along(painter, look, (shown, letter, area), (&place, ways), |t| scale.x_of(t));
}

/// Where the held stretch begins in which point `at` lies.
fn beginning(points: &[LinePoint], at: usize) -> usize {
    let held = |p: &&LinePoint| matches!(p.kind, Some(Kind::Held));
    at - points.get(..at).unwrap_or_default().iter().rev().take_while(held).count()
}

/// Time to width.
struct Scale {
    left: f32,
    from_s: f64,
    px_per_s: f64,
}

impl Scale {
    fn x_of(&self, t: f64) -> f32 {
        self.left + num::single((t - self.from_s) * self.px_per_s)
    }
}

/// Lays the threads out.
fn lay(
    (points, names): (&[LinePoint], &[Option<Named>]),
    place: &Place,
    scale: &Scale,
    (levels, drone, least): (Levels<'_>, bool, f32),
) -> Drawn {
    let mut run = Run::over(num::single(MEAN_S * scale.px_per_s));
    let (mut phase, mut before) = (0.0f64, None::<(f64, Named)>);
    for (p, named) in points.iter().zip(names) {
        let dt = before.map_or(0.0, |(time_s, _)| (p.time_s - time_s).clamp(0.0, 0.1));
        let Some(named) = *named else {
            run.break_off();
            before = None;
            continue;
        };
        let held = matches!(p.kind, Some(Kind::Held));
        let last = before.map(|(_, named)| named);
        let leaps = last.is_some_and(|n| (n.swara, n.sthayi) != (named.swara, named.sthayi));
        let far = last.is_some_and(|n| (place.step_of(&n) - place.step_of(&named)).abs() > MOST_STEPS);
        if far || (leaps && matches!(levels, Levels::Flat(_))) {
            run.break_off();
        }
        before = Some((p.time_s, named));
        let (target, mut voice) = (place.target(&named), place.voice(&named));
        let mut half = None;
        if let Levels::Flat(band) = levels {
            half = Some(band.of(named.swara).0);
            if !held {
                voice = target + (voice - target) * MOVING_SHARE;
            }
        }
        let beats = f64::from(p.beats_hz.unwrap_or(0.0));
        phase = if held { phase + beats * dt } else { 0.0 };
        // A beat is over: the next one is counted from here.
        let beat = phase >= 1.0;
        phase -= if beat { phase.floor() } else { 0.0 };
        let rung = beat && drone && num::single(scale.px_per_s / beats.max(1e-9)) >= least;
        run.add((scale.x_of(p.time_s), target, voice), (held, leaps, half), rung);
    }
    run.break_off();
    run.drawn
}

impl Drawn {
    fn paint(&self, painter: &Painter, look: &Look, (width, place): (egui::Rangef, &Place)) {
        let still = Stroke::new(look.u(2.0), look.still);
        for stretch in self.still.iter().filter(|s| s.to > s.from && s.to >= width.min) {
            let across = egui::Rangef::new(stretch.from.max(width.min), stretch.to);
            painter.hline(across, stretch.y, still);
            for edge in stretch.half.into_iter().flat_map(|half| [half, -half]) {
                painter.hline(across, stretch.y - place.rise(edge), Stroke::new(1.0, look.rule));
            }
        }
        let rung = Stroke::new(look.u(1.6), look.ink);
        for [a, b] in self.rungs.iter().filter(|[a, _]| width.contains(a.x)) {
            let out = look.u(RUNG_OUT);
            painter.vline(a.x, (a.y.min(b.y) - out)..=(a.y.max(b.y) + out), rung);
        }
        for (line, held) in self.sung.iter().filter(|(line, _)| line.len() > 1) {
            let pen = Stroke::new(look.u(if *held { 3.2 } else { 1.3 }), look.voice);
            // What lies before the picture was only counted.
            let first = line.partition_point(|p| p.x < width.min).saturating_sub(1);
            painter.add(Shape::line(line.get(first..).unwrap_or_default().to_vec(), pen));
        }
    }
}

/// The letters of held swaras, each where it begins, with a slanted mark for having come up or down to it.
fn letters_along(
    painter: &Painter,
    look: &Look,
    (points, size, area): (&[LinePoint], f32, Rect),
    (place, ways): (&Place, Ways),
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
        // What strays out of the picture has its letter at the edge.
        let y = if place.targets.is_some() { top.min(area.bottom() - size).max(area.top()) } else { area.top() };
        let rect = Rect::from_min_size(pos2(x, y), vec2(size * 1.15, size));
        letters::swara(painter, rect, named.swara, named.sthayi, look.ink);
        let beside = rect.right_center() + vec2(size * 0.1, 0.0);
        ways.tick(painter, look, named.swara, (beside, size * WAY));
        if came.abs() > 0.0 && x - size * 0.4 > last_right {
            let (from, to) = if came > 0.0 { (0.8, 0.3) } else { (0.3, 0.8) };
            let mark = [pos2(x - size * 0.32, y + size * from), pos2(x - size * 0.05, y + size * to)];
            painter.line_segment(mark, Stroke::new(look.u(1.6), look.quiet));
        }
        last_right = rect.right() + if ways.way(named.swara).is_some() { size * WAY } else { 0.0 };
    }
}

/// Stretches of one held swara: start, end, and what it is.
fn held_runs(points: &[LinePoint]) -> Vec<(f64, f64, Named)> {
    let mut runs: Vec<(f64, f64, Named)> = Vec::new();
    let mut open = false;
    for p in points {
        let held = p.named.filter(|_| matches!(p.kind, Some(Kind::Held)));
        let Some(named) = held else {
            // Where the sound was gone for a moment the same note goes on.
            open &= p.cents.is_none() && runs.last().is_some_and(|run| p.time_s - run.1 <= DROPOUT_S);
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

    fn named(points: &[LinePoint]) -> Vec<Option<Named>> {
        points.iter().map(|p| p.named).collect()
    }

    #[test]
    fn some_readings_an_octave_off_are_no_voice() {
        let at = |i: usize| (i as f64 / 200.0, if (100..106).contains(&i) { 1200.0 } else { 5.0 });
        let points: Vec<_> = (0..300)
            .map(at)
            .map(|(t, cents)| LinePoint { cents: Some(cents), ..point(t, Swara::S, 0, 5.0, Kind::Held) })
            .collect();
        let names = names(&points);
        assert!((0..300).all(|i| names[i].is_some() != (100..106).contains(&i)));
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
        let place = Place::new(area, Levels::Stepped(&targets(), Ways::default()), (&points, &named(&points)));
        for named in points.iter().filter_map(|p| p.named) {
            assert!(area.expand(0.01).y_range().contains(place.voice(&named)));
            assert!(area.y_range().contains(place.target(&named)));
        }
    }

    #[test]
    fn a_swara_that_goes_on_after_a_dropout_is_named_once() {
        let runs = |gap: std::ops::Range<usize>| {
            let mut points: Vec<_> = (0..300).map(|i| point(i as f64 / 200.0, Swara::S, 0, 0.0, Kind::Held)).collect();
            for p in &mut points[gap] {
                (p.named, p.cents, p.kind) = (None, None, None);
            }
            held_runs(&points).len()
        };
        assert_eq!((runs(100..100), runs(100..116), runs(100..160)), (1, 1, 2));
    }

    #[test]
    fn a_bit_that_slips_by_octaves_gets_no_room_and_is_drawn_at_the_edge() {
        let area = Rect::from_min_size(pos2(0.0, 0.0), vec2(300.0, 120.0));
        let place = |strays: usize| {
            let octave = |i| if (100..100 + strays).contains(&i) { 3 } else { 0 };
            let points: Vec<_> =
                (0..300).map(|i| point(i as f64 / 200.0, Swara::S, octave(i), 0.0, Kind::Held)).collect();
            let place = Place::new(area, Levels::Stepped(&targets(), Ways::default()), (&points, &named(&points)));
            (place.step, area.y_range().contains(place.voice(&named(&points)[100].unwrap())))
        };
        let (plain, _) = place(0);
        for strays in [1, 10, 30] {
            assert_eq!(place(strays), (plain, true), "{strays} readings");
        }
        assert!(place(50).0 < plain, "long enough to be sung, it has its room");
    }

    const BAND: Band = Band { fixed: Cents(20.0), others: Cents(25.0) };

    /// A held Sa of `seconds`, so far off at each instant, beating so often.
    fn sa(seconds: f64, beats: f32, offset: impl Fn(f64) -> f64) -> Vec<LinePoint> {
        let at = |i: usize| i as f64 / 200.0;
        (0..num::index(seconds * 200.0))
            .map(|i| LinePoint { beats_hz: Some(beats), ..point(at(i), Swara::S, 0, offset(at(i)), Kind::Held) })
            .collect()
    }

    /// Laid out in 600 x 120 points over 10 s.
    fn laid(points: &[LinePoint], flat: bool, drone: bool) -> Drawn {
        let (area, targets) = (Rect::from_min_size(pos2(0.0, 0.0), vec2(600.0, 120.0)), targets());
        let levels = if flat { Levels::Flat(BAND) } else { Levels::Stepped(&targets, Ways::default()) };
        let names = names(points);
        let place = Place::new(area, levels, (points, &names));
        lay((points, &names), &place, &Scale { left: 0.0, from_s: 0.0, px_per_s: 60.0 }, (levels, drone, 7.0))
    }

    fn heights(drawn: &Drawn) -> (f32, f32) {
        let all = drawn.sung.iter().flat_map(|(line, _)| line.iter().map(|p| p.y));
        all.fold((f32::INFINITY, f32::NEG_INFINITY), |(a, b), y| (a.min(y), b.max(y)))
    }

    #[test]
    fn a_steady_sharp_sa_is_straight_and_apart_and_its_beats_are_rungs() {
        for flat in [true, false] {
            let drawn = laid(&sa(8.0, 1.5, |_| 12.0), flat, true);
            let (top, bottom) = heights(&drawn);
            assert!(bottom - top < 0.01, "the beats bend the voice: {top} to {bottom}");
            assert_eq!(drawn.still.len(), 1);
            assert!(drawn.still[0].y - bottom > 4.0, "{} beside {bottom}", drawn.still[0].y);
            // One and a half a second over 8 s, each on the voice and on the still thread.
            assert!((11..=12).contains(&drawn.rungs.len()), "{}", drawn.rungs.len());
            assert!(drawn.rungs.iter().all(|[a, b]| (a.y - drawn.still[0].y).abs() < 0.01 && (b.y - top).abs() < 0.01));
            let apart: Vec<f32> = drawn.rungs.windows(2).map(|w| w[1][0].x - w[0][0].x).collect();
            assert!(apart.iter().all(|d| (d - 40.0).abs() < 1.0), "{apart:?}");
            assert!(laid(&sa(8.0, 1.5, |_| 12.0), flat, false).rungs.is_empty(), "no drone, no beats");
        }
        let slow = laid(&sa(8.0, 0.5, |_| 4.0), true, true);
        assert!((3..=4).contains(&slow.rungs.len()), "slower beats come wider apart: {}", slow.rungs.len());
        assert!(laid(&sa(8.0, 20.0, |_| 45.0), true, true).rungs.is_empty(), "too close to be told apart");
    }

    #[test]
    fn rungs_go_with_the_line_when_it_moves_out_of_the_picture() {
        let points = sa(9.0, 1.5, |_| 12.0);
        for from in [300, 333, 777] {
            assert_eq!(beginning(&points, from), 0);
        }
        let mut broken = points;
        broken[500].kind = Some(Kind::Gliding);
        assert_eq!((beginning(&broken, 777), beginning(&broken, 500)), (501, 0));
    }

    #[test]
    fn the_flutter_of_single_readings_is_no_saw_tooth_and_a_waver_is_a_waver() {
        let mut sign = 1.0;
        let points: Vec<_> = sa(6.0, 0.0, |_| 0.0)
            .into_iter()
            .map(|p| {
                sign = -sign;
                point(p.time_s, Swara::S, 0, 2.5 * sign, Kind::Held)
            })
            .collect();
        let (top, bottom) = heights(&laid(&points, true, true));
        assert!(bottom - top < 1.5, "flutter of 2.5 cents is drawn {} points high", bottom - top);
        let (top, bottom) = heights(&laid(&sa(6.0, 0.0, |t| 20.0 * (t * 31.4).sin()), true, true));
        let band = 2.0 * height(20.0, stroke::HALF_WAY_CENTS) * 60.0;
        assert!(bottom - top > 0.75 * band, "{} of {band}", bottom - top);
    }

    #[test]
    fn few_corners_are_drawn() {
        let drawn = laid(&sa(10.0, 1.0, |t| 10.0 + 3.0 * (t * 27.0).sin()), true, true);
        let corners: usize = drawn.sung.iter().map(|(line, _)| line.len()).sum();
        assert!(corners <= 305, "{corners} for 600 points of width");
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
