//! A stretch of the threads under way: moments become the voice's line, the still thread below it and the rungs between them.
//!
//! In: one moment after the other, in points. Out: [`Drawn`]. Held moments are drawn as the mean of those about them; the line has a
//! corner at most every [`PIECE`] points.

use egui::{Pos2, pos2};

/// The voice's line has a corner at most every so many points.
const PIECE: f32 = 2.0;

/// A stretch of one still level under a held note.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Still {
    pub(super) from: f32,
    pub(super) to: f32,
    pub(super) y: f32,
    /// Half of the band about it, cents, where it is drawn.
    pub(super) half: Option<f64>,
}

/// What is drawn.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Drawn {
    pub(super) still: Vec<Still>,
    /// The voice, stretch by stretch; thick where held.
    pub(super) sung: Vec<(Vec<Pos2>, bool)>,
    pub(super) rungs: Vec<[Pos2; 2]>,
}

/// One moment of a run under way.
#[derive(Debug, Clone, Copy)]
struct Step {
    at: Pos2,
    target: f32,
    held: bool,
    /// Which stretch of one swara, held or moving, it belongs to.
    part: u32,
    rung: bool,
}

/// Lines under way.
#[derive(Default)]
pub(super) struct Run {
    pub(super) drawn: Drawn,
    steps: Vec<Step>,
    part: u32,
    /// Points on either side over which held moments are averaged.
    reach: f32,
}

impl Run {
    /// `reach`: points on either side over which held moments are averaged.
    pub(super) fn over(reach: f32) -> Self {
        Self { reach, ..Self::default() }
    }

    pub(super) fn add(
        &mut self,
        (x, target, voice): (f32, f32, f32),
        (held, leaps, half): (bool, bool, Option<f64>),
        rung: bool,
    ) {
        if leaps || self.steps.last().is_some_and(|step| step.held != held) {
            self.part += 1;
        }
        let goes_on = self.steps.last().is_some_and(|step| step.part == self.part);
        // What moves is measured against nothing.
        match self.drawn.still.last_mut() {
            Some(still) if held && goes_on => still.to = x,
            _ if held => self.drawn.still.push(Still { from: x, to: x, y: target, half }),
            _ => {}
        }
        self.steps.push(Step { at: pos2(x, voice), target, held, part: self.part, rung });
    }

    /// The run is over: it becomes lines and rungs.
    pub(super) fn break_off(&mut self) {
        self.part += 1;
        let mut steps = std::mem::take(&mut self.steps);
        for _ in 0..2 {
            average(&mut steps, self.reach);
        }
        let mut line: Vec<Pos2> = Vec::new();
        let mut was_held = false;
        for (i, step) in steps.iter().enumerate() {
            if step.rung {
                self.drawn.rungs.push([pos2(step.at.x, step.target), step.at]);
            }
            if step.held != was_held && !line.is_empty() {
                let joint = line.last().copied();
                self.drawn.sung.push((std::mem::take(&mut line), was_held));
                line.extend(joint);
            }
            was_held = step.held;
            let last = i + 1 == steps.len();
            let far = |q: &Pos2| step.at.x - q.x >= PIECE || (step.at.y - q.y).abs() >= PIECE;
            if last || line.last().is_none_or(far) {
                line.push(step.at);
            }
        }
        self.drawn.sung.push((line, was_held));
    }
}

/// Puts each held moment at the mean height of those of its part that lie within `reach` points of it.
fn average(steps: &mut [Step], reach: f32) {
    let heights: Vec<f32> = steps.iter().map(|step| step.at.y).collect();
    let (mut first, mut next, mut sum) = (0, 0, 0.0f32);
    for i in 0..steps.len() {
        let Some(here) = steps.get(i).copied() else { continue };
        let near = |j: usize| steps.get(j).is_some_and(|s| s.part == here.part && (s.at.x - here.at.x).abs() <= reach);
        while next <= i || near(next) {
            sum += heights.get(next).copied().unwrap_or_default();
            next += 1;
        }
        while first < i && !near(first) {
            sum -= heights.get(first).copied().unwrap_or_default();
            first += 1;
        }
        let mean = sum / (next - first) as f32;
        if let Some(step) = steps.get_mut(i).filter(|step| step.held) {
            step.at.y = mean;
        }
    }
}
