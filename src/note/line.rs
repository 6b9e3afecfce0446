//! The pitch line of the last seconds, cleaned, with how fast it moves at every instant.
//!
//! In: one reading per 5 ms (cents above Sa or unvoiced). Out, 40 ms later: the line with stray frames taken out
//! (running median of seven frames, as in G. K. Koduri's `intonation` library) and its slope in cents per second
//! (least squares over eleven frames). Cost: constant per frame. Older frames than [`LENGTH`] are forgotten.

use super::loud::Loudness;
use crate::swara::SwaraReading;
use crate::units::SampleTime;

/// Frames in a second: the hop is 5 ms.
pub(super) const FRAMES_PER_S: f64 = 200.0;
/// Frames kept (10 s): longer than any decision looks back.
const LENGTH: usize = 2048;
/// Half-width of the cleaning median, frames (seven points in all, Koduri's setting).
const MEDIAN_HALF: u64 = 3;
/// Points of the cleaning median.
const MEDIAN_POINTS: usize = 7;
/// Half-width of the slope's least-squares fit, frames (25 ms; chosen by data).
const SLOPE_HALF: u64 = 5;
/// How far behind the newest frame the finished line is, frames.
pub(super) const LOOK: u64 = MEDIAN_HALF + SLOPE_HALF;

/// A second voice sounds for so long before it is said, frames (0.4 s: nine of ten are said by then; measured on mixes).
const SAID_AFTER: u64 = 80;

/// From one frame to the next farther than a voice can go: 60 cents in 5 ms, 12 000 cents a second; quick joins of sung
/// swaras reach a third of that.
const LEAP_CENTS: f64 = 60.0;

/// What the line does at one frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Motion {
    /// No pitch.
    Silent,
    /// Slower than [`STILL_CENTS_PER_S`].
    Still,
    /// Rising.
    Up,
    /// Falling.
    Down,
}

/// Below this slope the line counts as still, cents per second. Published rules allow 1500 (Koduri) for belonging
/// to a swara at all; a vibrato of 40 cents at 5 Hz reaches 628, a slow waver of 25 cents at 2 Hz 157. Chosen by data.
const STILL_CENTS_PER_S: f64 = 220.0;

/// One frame of the line; `NaN` cents where there is no pitch (kept inside this room only).
#[derive(Debug, Clone, Copy)]
struct Point {
    time: SampleTime,
    raw: f64,
    clean: f64,
    slope: f64,
    /// More than one voice: the pitch may be anybody's, and counts as none.
    several: bool,
}

const EMPTY: Point = Point { time: SampleTime(0), raw: f64::NAN, clean: f64::NAN, slope: f64::NAN, several: false };

/// A ring of the newest frames, addressed by their number since the reset.
pub(super) struct Line {
    ring: Box<[Point]>,
    next: u64,
    loudness: Loudness,
}

impl Line {
    pub(super) fn new() -> Self {
        Self { ring: vec![EMPTY; LENGTH].into_boxed_slice(), next: 0, loudness: Loudness::new() }
    }

    pub(super) fn reset(&mut self) {
        self.ring.fill(EMPTY);
        self.next = 0;
        self.loudness = Loudness::new();
    }

    /// Number of the next frame to come.
    pub(super) fn next(&self) -> u64 {
        self.next
    }

    fn slot(n: u64) -> usize {
        usize::try_from(n % LENGTH as u64).unwrap_or(0)
    }

    fn point(&self, n: u64) -> Point {
        if n >= self.next || self.next - n > LENGTH as u64 {
            return EMPTY;
        }
        self.ring.get(Self::slot(n)).copied().unwrap_or(EMPTY)
    }

    /// Takes a frame.
    pub(super) fn push(&mut self, reading: &SwaraReading) {
        let pitch = reading.cents.filter(|c| c.0.is_finite());
        let sung = self.loudness.sung(reading.frame.level.0, pitch.is_some());
        let several = reading.frame.several;
        let raw = pitch.filter(|_| sung && !several).map_or(f64::NAN, |c| c.0);
        let n = self.next;
        if several && !self.several(n.saturating_sub(1)) {
            for before in n.saturating_sub(SAID_AFTER)..n {
                if let Some(p) = self.ring.get_mut(Self::slot(before)) {
                    p.several = true;
                }
            }
        }
        self.next += 1;
        if let Some(p) = self.ring.get_mut(Self::slot(n)) {
            *p = Point { time: reading.frame.time, raw, several, ..EMPTY };
        }
        if n >= MEDIAN_HALF {
            let at = n - MEDIAN_HALF;
            let clean = self.median(at);
            if let Some(p) = self.ring.get_mut(Self::slot(at)) {
                p.clean = clean;
            }
        }
        if n >= LOOK {
            let at = n - LOOK;
            let slope = self.fit(at);
            if let Some(p) = self.ring.get_mut(Self::slot(at)) {
                p.slope = slope;
            }
        }
    }

    /// Median of the voiced frames around `at`; unvoiced stays unvoiced.
    fn median(&self, at: u64) -> f64 {
        if self.point(at).raw.is_nan() {
            return f64::NAN;
        }
        let mut near = [0.0; MEDIAN_POINTS];
        let mut count = 0;
        for n in at.saturating_sub(MEDIAN_HALF)..=at + MEDIAN_HALF {
            let raw = self.point(n).raw;
            if !raw.is_nan()
                && let Some(slot) = near.get_mut(count)
            {
                *slot = raw;
                count += 1;
            }
        }
        let Some(near) = near.get_mut(..count) else { return f64::NAN };
        near.sort_unstable_by(f64::total_cmp);
        let high = near.get(count / 2).copied().unwrap_or(f64::NAN);
        let low = near.get(count.saturating_sub(1) / 2).copied().unwrap_or(f64::NAN);
        0.5 * (high + low)
    }

    /// Least-squares slope about `at` over the unbroken voice there, cents per second.
    fn fit(&self, at: u64) -> f64 {
        if self.point(at).clean.is_nan() {
            return f64::NAN;
        }
        let (mut n, mut st, mut stt, mut sx, mut stx) = (0.0, 0.0, 0.0, 0.0, 0.0);
        let mut take = |t: f64, x: f64| {
            n += 1.0;
            st += t;
            stt += t * t;
            sx += x;
            stx += t * x;
        };
        let mut t = 0.0;
        for k in at..=at + SLOPE_HALF {
            let x = self.point(k).clean;
            if x.is_nan() {
                break;
            }
            take(t, x);
            t += 1.0 / FRAMES_PER_S;
        }
        t = -1.0 / FRAMES_PER_S;
        for k in (at.saturating_sub(SLOPE_HALF)..at).rev() {
            let x = self.point(k).clean;
            if x.is_nan() {
                break;
            }
            take(t, x);
            t -= 1.0 / FRAMES_PER_S;
        }
        let spread = n * stt - st * st;
        if spread > 0.0 { (n * stx - st * sx) / spread } else { 0.0 }
    }

    /// What the line does at frame `n` (`n + LOOK < next`).
    pub(super) fn motion(&self, n: u64) -> Motion {
        let p = self.point(n);
        if p.clean.is_nan() || p.slope.is_nan() {
            Motion::Silent
        } else if p.slope > STILL_CENTS_PER_S {
            Motion::Up
        } else if p.slope < -STILL_CENTS_PER_S {
            Motion::Down
        } else {
            Motion::Still
        }
    }

    /// The cleaned line at frame `n`, cents; `NaN` where there is no pitch.
    pub(super) fn clean(&self, n: u64) -> f64 {
        self.point(n).clean
    }

    /// Whether more than one voice sounded in frame `n`, as far as is known by now.
    pub(super) fn several(&self, n: u64) -> bool {
        self.point(n).several
    }

    /// The measured line at frame `n`, cents; `NaN` where there is none, where more than one voice sounds or where it strays
    /// from the cleaned line.
    pub(super) fn measured(&self, n: u64) -> f64 {
        /// A frame farther than this from its neighbours' median is a slip of the tracker, cents (chosen by data).
        const STRAY_CENTS: f64 = 40.0;
        let p = self.point(n);
        if !p.several && (p.raw - p.clean).abs() <= STRAY_CENTS { p.raw } else { f64::NAN }
    }

    /// The line at frame `n` freed of the tracker's noise: a parabola through the frames within 50 ms that lie near their
    /// median (Savitzky and Golay 1964, 21 points: passes what is slower than 8 Hz). `NaN` where there is no pitch. Not for
    /// a wide vibrato, whose turns would count as strays.
    pub(super) fn smooth(&self, n: u64) -> f64 {
        /// Half-width of the parabola, frames.
        const HALF: u64 = 10;
        /// Points of the parabola.
        const POINTS: usize = 21;
        /// Frames farther than this from the median are clicks or slips, cents (chosen by data).
        const NEAR_CENTS: f64 = 15.0;
        let mut near = [0.0; POINTS];
        let mut count = 0;
        let window = n.saturating_sub(HALF)..=n + HALF;
        for x in window.clone().map(|k| self.point(k).raw).filter(|x| !x.is_nan()) {
            if let Some(slot) = near.get_mut(count) {
                *slot = x;
                count += 1;
            }
        }
        if self.point(n).raw.is_nan() || self.point(n).several || count == 0 {
            return f64::NAN;
        }
        let Some(sorted) = near.get_mut(..count) else { return f64::NAN };
        sorted.sort_unstable_by(f64::total_cmp);
        let median = sorted.get(count / 2).copied().unwrap_or(f64::NAN);
        let mut sums = Parabola::default();
        for k in window {
            let x = self.point(k).raw - median;
            if x.abs() <= NEAR_CENTS {
                sums.add((k as f64 - n as f64) / HALF as f64, x);
            }
        }
        median + sums.at_zero()
    }

    /// How far the line moves from frame `n` to the next, cents; `NaN` where either has no pitch.
    fn step(&self, n: u64) -> f64 {
        (self.clean(n + 1) - self.clean(n)).abs()
    }

    /// Whether the line leaps somewhere in `from..=to`: from one frame to the next farther than a voice can go.
    pub(super) fn leaps(&self, from: u64, to: u64) -> bool {
        (from..=to).any(|n| self.step(n) > LEAP_CENTS)
    }

    /// The earliest frame from `from` on after which the line neither leaps nor breaks off before `to`.
    pub(super) fn unbroken(&self, from: u64, to: u64) -> u64 {
        let broken = |n: &u64| {
            let step = self.step(*n);
            step.is_nan() || step > LEAP_CENTS
        };
        (from..to).rev().find(broken).map_or(from, |n| n + 1)
    }

    /// Takes the pitch out of frames `from..=to`: a slip of the tracker.
    pub(super) fn forget(&mut self, from: u64, to: u64) {
        for n in from.max(self.next.saturating_sub(LENGTH as u64))..=to.min(self.next.saturating_sub(1)) {
            if let Some(p) = self.ring.get_mut(Self::slot(n)) {
                (p.raw, p.clean) = (f64::NAN, f64::NAN);
            }
        }
    }

    /// Mean of the cleaned line over frames `from..=to`; `NaN` if none is voiced.
    pub(super) fn mean(&self, from: u64, to: u64) -> f64 {
        let (mut sum, mut count) = (0.0, 0.0);
        for n in from.max(self.next.saturating_sub(LENGTH as u64))..=to {
            let x = self.clean(n);
            if !x.is_nan() {
                sum += x;
                count += 1.0;
            }
        }
        if count > 0.0 { sum / count } else { f64::NAN }
    }

    /// The instant that frame `n` describes.
    pub(super) fn time(&self, n: u64) -> SampleTime {
        self.point(n).time
    }
}

/// Sums for a least-squares parabola.
#[derive(Debug, Clone, Copy, Default)]
struct Parabola {
    s: [f64; 5],
    x: [f64; 3],
}

impl Parabola {
    fn add(&mut self, t: f64, x: f64) {
        let mut power = 1.0;
        for (k, s) in self.s.iter_mut().enumerate() {
            *s += power;
            if let Some(sum) = self.x.get_mut(k) {
                *sum += power * x;
            }
            power *= t;
        }
    }

    /// The parabola's value at t = 0 (Cramer's rule); the mean where the points do not bend.
    fn at_zero(&self) -> f64 {
        let [s0, s1, s2, s3, s4] = self.s;
        let [x0, x1, x2] = self.x;
        let whole = s0 * (s2 * s4 - s3 * s3) - s1 * (s1 * s4 - s2 * s3) + s2 * (s1 * s3 - s2 * s2);
        if s0 < 8.0 || whole.abs() < 1e-6 {
            return if s0 > 0.0 { x0 / s0 } else { f64::NAN };
        }
        let top = x0 * (s2 * s4 - s3 * s3) - s1 * (x1 * s4 - s3 * x2) + s2 * (x1 * s3 - s2 * x2);
        top / whole
    }
}
