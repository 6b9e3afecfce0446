//! A voice that swings: is it a vibrato about a steady centre, or a gamaka?
//!
//! In: the turning points of the line, one after another. Out: rate, width, centre, and whether the swing is regular
//! enough to be judged: 4.5 to 8 Hz, up to 120 cents from peak to peak, its mean over each cycle steady. Kampita of the
//! same rate and width gives itself away by its cycle means, which move by 5 to 13 cents. Constant cost per turn.

use super::line::{FRAMES_PER_S, Line};

/// Slowest and fastest vibrato, Hz (singers: 5.5 to 8, Timmers and Desain 2000; half a hertz of margin for measuring).
const VIBRATO_HZ: std::ops::RangeInclusive<f64> = 4.3..=8.5;
/// Widest vibrato from peak to peak, cents: 120 (common practice, no source) and a margin for measuring.
const VIBRATO_CENTS: f64 = 128.0;
/// How far the mean over a cycle may wander over the swing, standard deviation in cents (chosen by data).
const WANDER_CENTS: f64 = 4.5;
/// How far it may step from one half cycle to the next, RMS in cents (chosen by data: vibratos step by 1 to 1.8 cents,
/// kampitas of the same rate and width by 2.9 to 15).
const STEP_CENTS: f64 = 2.4;
/// A swing this narrow is a waver of the voice, whatever its rate: RMS of 12 cents, peak to peak 34.
const WAVER_CENTS: f64 = 34.0;

/// One turning point: where the line turns, or rests for a moment between two slopes of opposite direction.
#[derive(Debug, Clone, Copy)]
pub(super) struct Turn {
    pub(super) start: u64,
    pub(super) end: u64,
    pub(super) level: f64,
}

impl Turn {
    fn middle(self) -> f64 {
        0.5 * (self.start as f64 + self.end as f64)
    }
}

/// Running figures of an unbroken run of turns.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Swing {
    turns: u32,
    start: u64,
    last: [Option<Turn>; 3],
    half_mean: f64,
    half_frames: f64,
    cycles: f64,
    period: f64,
    width: f64,
    widths: f64,
    centre: f64,
    centre_squares: f64,
    before: Option<f64>,
    steps: f64,
    step_squares: f64,
    low: f64,
    high: f64,
}

impl Swing {
    pub(super) fn turns(&self) -> u32 {
        self.turns
    }

    /// First frame of the first turn.
    pub(super) fn start(&self) -> u64 {
        self.start
    }

    /// Last frame of the last turn.
    pub(super) fn end(&self) -> u64 {
        self.last[0].map_or(self.start, |t| t.end)
    }

    /// Whether `turn` could go on with this swing: not far outside what it swung between so far.
    pub(super) fn fits(&self, turn: Turn) -> bool {
        let room = (0.6 * (self.high - self.low)).max(40.0);
        self.turns < 2 || (self.low - room..=self.high + room).contains(&turn.level)
    }

    /// Takes the next turn; `line` still holds the way from the last one.
    pub(super) fn add(&mut self, turn: Turn, line: &Line) {
        if self.turns == 0 {
            *self = Self { start: turn.start, low: turn.level, high: turn.level, ..Self::default() };
        }
        self.turns += 1;
        self.low = self.low.min(turn.level);
        self.high = self.high.max(turn.level);
        if let Some(last) = self.last[0] {
            self.width += (turn.level - last.level).abs();
            self.widths += 1.0;
            let (from, to) = ((last.start + last.end) / 2, (turn.start + turn.end) / 2);
            let half = line.mean(from, to.saturating_sub(1).max(from));
            let frames = to.saturating_sub(from).max(1) as f64;
            if let Some(earlier) = self.last[1] {
                let mean = (half * frames + self.half_mean * self.half_frames) / (frames + self.half_frames);
                self.cycle(mean, turn.middle() - earlier.middle());
            }
            (self.half_mean, self.half_frames) = (half, frames);
        }
        self.last = [Some(turn), self.last[0], self.last[1]];
    }

    fn cycle(&mut self, mean: f64, frames: f64) {
        if !mean.is_finite() {
            return;
        }
        self.cycles += 1.0;
        self.period += frames / FRAMES_PER_S;
        self.centre += mean;
        self.centre_squares += mean * mean;
        if let Some(before) = self.before {
            self.steps += 1.0;
            self.step_squares += (mean - before).powi(2);
        }
        self.before = Some(mean);
    }

    /// Mean over its cycles, cents; `None` before the first whole one.
    pub(super) fn centre(&self) -> Option<f64> {
        (self.cycles > 0.0).then(|| self.centre / self.cycles)
    }

    /// Mean width from peak to peak, cents.
    pub(super) fn width(&self) -> f64 {
        if self.widths > 0.0 { self.width / self.widths } else { 0.0 }
    }

    /// Lowest and highest turn, cents.
    pub(super) fn range(&self) -> std::ops::RangeInclusive<f64> {
        self.low..=self.high
    }

    /// Mean rate, Hz; `None` before the first whole cycle.
    pub(super) fn rate_hz(&self) -> Option<f64> {
        (self.cycles > 0.0 && self.period > 0.0).then(|| self.cycles / self.period)
    }

    /// Whether the mean over a cycle stays where it is.
    fn centred(&self) -> bool {
        let mean = self.centre / self.cycles.max(1.0);
        let wander = (self.centre_squares / self.cycles.max(1.0) - mean * mean).max(0.0).sqrt();
        let step = (self.step_squares / self.steps.max(1.0)).sqrt();
        wander <= WANDER_CENTS && step <= STEP_CENTS
    }

    /// Whether the swing may be judged: a mere waver, or a regular vibrato about a steady centre.
    pub(super) fn steady(&self) -> bool {
        let regular = self.rate_hz().is_some_and(|rate| VIBRATO_HZ.contains(&rate));
        self.width() <= WAVER_CENTS || (regular && self.width() <= VIBRATO_CENTS && self.centred())
    }
}
