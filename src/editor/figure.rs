//! The frozen view: the voice's line over the swaras' levels, to be read like a figure in a paper.
//!
//! In: the line, the targets, a span. Out: a drawing with a time axis, a level per swara of the scale (named at the
//! left, with its register's dots), the line (thick where held, thin where moving), marks. Heights are true cents.
//! Cost: one point per pixel column.

use super::fonts;
use super::letters;
use super::look::{Look, write};
use super::range::{Far, range};
use super::view::{LinePoint, Mark};
use super::ways::Ways;
use super::words;
use crate::note::Kind;
use crate::swara::{Sthayi, Targets};
use crate::units::num;
use egui::{Align2, Painter, Pos2, Rect, Shape, Stroke, pos2, vec2};

/// The least distance between two names at the left, in their size: letters and dots stay apart.
const LETTER_ROOM: f32 = 1.1;

/// The least height of a figure, cents: of a line a fifth, of a note a major third.
const LEAST_LINE: f32 = 700.0;
const LEAST_NOTE: f32 = 400.0;
/// Size of the tick of a swara that belongs to one way only, and where it stands, units.
const WAY: f32 = 9.0;
/// What is far in cents: a throat's leap, and from what is sung a fourth.
const FAR: Far = Far { leap: 300.0, stray: 500.0 };

/// What a figure shows.
pub struct Figure<'a> {
    /// The line.
    pub line: &'a [LinePoint],
    /// Where the swaras lie.
    pub targets: &'a Targets,
    /// Which of them belong to the way up or down only.
    pub ways: Ways,
    /// Marked moments.
    pub marks: &'a [Mark],
    /// From when to when, seconds.
    pub span: (f64, f64),
    /// What its height is made for, from when to when: what strays farther leaves it. `None`: for all that is shown.
    pub meant: Option<(f64, f64)>,
}

impl Figure<'_> {
    /// The lowest and highest pitch to show, cents: what was sung, a tone around it, a fifth at least.
    fn range(&self) -> (f32, f32) {
        let (from, to) = self.meant.unwrap_or(self.span);
        let sung = self.line.iter().filter(|p| (from..=to).contains(&p.time_s)).map(|p| (p.time_s, p.cents));
        let Some((low, high)) = range(sung, FAR) else { return (-200.0, 1400.0) };
        let least = if self.meant.is_some() { LEAST_NOTE } else { LEAST_LINE };
        let pad = ((least - (high - low)) / 2.0).max(120.0);
        (low - pad, high + pad)
    }

    /// Draws it.
    pub fn draw(&self, painter: &Painter, area: Rect, look: &Look) {
        let (low, high) = self.range();
        let left = look.u(44.0);
        let plot = Rect::from_min_max(area.min + vec2(left, look.u(20.0)), area.max - vec2(look.u(8.0), look.u(22.0)));
        let y_of = |cents: f32| plot.bottom() - (cents - low) / (high - low) * plot.height();
        let (from, to) = self.span;
        let x_of = |t: f64| plot.left() + num::single((t - from) / (to - from).max(0.1)) * plot.width();
        self.levels(painter, (plot, look), (low, high), &y_of);
        self.times(painter, plot, look, &x_of);
        self.voice(&painter.with_clip_rect(plot.intersect(painter.clip_rect())), look, &x_of, &y_of);
        for mark in self.marks.iter().filter(|m| (from..=to).contains(&m.time_s)) {
            let x = x_of(mark.time_s);
            painter.vline(x, plot.y_range(), Stroke::new(look.u(1.5), look.ink));
            let word = if mark.word.is_empty() { "mark".into() } else { fonts::shown(painter.ctx(), &mark.word) };
            let room = (plot.right() - x).max(look.u(30.0));
            let ink = (look.small(), look.ink);
            write(painter, (pos2(x + look.u(3.0), area.top()), Align2::LEFT_TOP), &word, ink, room);
        }
    }

    fn levels(
        &self,
        painter: &Painter,
        (plot, look): (Rect, &Look),
        (low, high): (f32, f32),
        y_of: &dyn Fn(f32) -> f32,
    ) {
        // Sa and Pa are named first; another name only where it has room beside those that stand.
        let mut named: Vec<f32> = Vec::new();
        let size = look.u(17.0);
        for fixed in [true, false] {
            for octave in -3i8..=3 {
                for target in self.targets.by_position.iter().flatten() {
                    let cents = num::single(target.cents.0) + 1200.0 * f32::from(octave);
                    if fixed != matches!(target.swara.position(), 0 | 7) || !(low..=high).contains(&cents) {
                        continue;
                    }
                    let y = y_of(cents);
                    let pen = if fixed { Stroke::new(look.u(1.6), look.still) } else { Stroke::new(1.0, look.rule) };
                    painter.hline(plot.x_range(), y, pen);
                    if named.iter().all(|other| (other - y).abs() >= size * LETTER_ROOM) {
                        let at = pos2(plot.left() - look.u(22.0), y);
                        let at = Rect::from_center_size(at, vec2(size * 2.2, size * 1.2));
                        letters::swara(painter, at, target.swara, Sthayi(octave), look.ink);
                        let beside = pos2(plot.left() + look.u(WAY), y - look.u(WAY));
                        self.ways.tick(painter, look, target.swara, (beside, look.u(WAY)));
                        named.push(y);
                    }
                }
            }
        }
    }

    fn times(&self, painter: &Painter, plot: Rect, look: &Look, x_of: &dyn Fn(f64) -> f32) {
        let (from, to) = self.span;
        let each = if to - from > 30.0 { 10.0 } else { 5.0 };
        // Nothing was before the lesson began.
        let mut t = (from / each).ceil().max(0.0) * each;
        while t <= to {
            let x = x_of(t);
            painter.vline(x, plot.bottom()..=plot.bottom() + look.u(4.0), Stroke::new(1.0, look.quiet));
            let ink = (look.small(), look.quiet);
            let at =
                pos2(x.clamp(plot.left() + look.u(12.0), plot.right() - look.u(12.0)), plot.bottom() + look.u(5.0));
            write(painter, (at, Align2::CENTER_TOP), &words::clock(t), ink, look.u(60.0));
            t += each;
        }
    }

    fn voice(&self, painter: &Painter, look: &Look, x_of: &dyn Fn(f64) -> f32, y_of: &dyn Fn(f32) -> f32) {
        let (from, to) = self.span;
        let mut run: Vec<Pos2> = Vec::new();
        let (mut held, mut last) = (false, None::<f64>);
        let pen = |held: bool| Stroke::new(look.u(if held { 3.2 } else { 1.4 }), look.voice);
        let flush = |run: &mut Vec<Pos2>, held: bool| {
            let line = std::mem::take(run);
            if line.len() > 1 {
                painter.add(Shape::line(line, pen(held)));
            }
        };
        for p in self.line.iter().filter(|p| (from..=to).contains(&p.time_s)) {
            let now_held = matches!(p.kind, Some(Kind::Held));
            let Some(cents) = p.cents else {
                flush(&mut run, held);
                continue;
            };
            let at = pos2(x_of(p.time_s), y_of(cents));
            if last.is_some_and(|t| p.time_s - t > 0.1) {
                flush(&mut run, held);
            } else if now_held != held {
                let joint = run.last().copied();
                flush(&mut run, held);
                run.extend(joint);
            }
            last = Some(p.time_s);
            held = now_held;
            if run.last().is_none_or(|q| at.x - q.x >= 0.7 || (at.y - q.y).abs() >= 2.0) {
                run.push(at);
            }
        }
        flush(&mut run, held);
    }
}
