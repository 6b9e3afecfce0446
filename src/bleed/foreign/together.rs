//! A machine that room noise makes inexact: its lines stray, but not together.
//!
//! In: the last turns of [`lines`](super::lines) and the mean power, per bin. Out: whether many lines stand over the noise that
//! hardly stray as one. Why: line by line a string in a quiet room's noise, or one that beats, strays as far as a very still
//! throat; but all harmonics of a throat stray by the same cents at the same time, and those of strings each by themselves. Method:
//! how far each line's turns lie from their mean, in cents; of those, turn by turn, the mean over the lines (weighed by
//! frequency squared and by what stands over the noise: the estimate of least variance), their median, which a few lines of
//! something else do not move, and the mean product of two different lines, in which what each has of its own cancels. Cost:
//! some hundred angles every 40 ms.
//!
//! Measured over 0.8 s, first hundredth and median of sung clips and recorded takes, of still Sas, and median and twentieth from the
//! last of strings of our own in noise 20 to 50 dB under them: deviation of the mean 0.35 1.0, 0.34 0.7, 0.27 0.43 cents; of
//! the median 0.30 0.9, 0.34 0.7, 0.15 0.35; product 0.3, 0.45 in the middle, 0.005 0.11 square cents.

use super::beside::{LOUD, beside};
use super::lines::{BIN_HZ, cents_of_turn};
use super::turns::Last;
use realfft::num_complex::Complex;

/// Bins in which lines are looked for: 117 Hz to 3.5 kHz.
const FIRST: usize = 30;
const LAST: usize = 900;
/// Power below the strongest at which a peak does not count: 40 dB.
const WEAK: f32 = 1e-4;
/// Where the noise beside a peak is looked for, bins from it, and the mean noise against the least of those (chosen).
const AROUND: std::ops::RangeInclusive<usize> = 4..=6;
const OVER_LEAST: f32 = 1.5;
/// Times the noise from which a peak is a line, 10 dB, and what counts at most, 40 dB: beyond it beats and neighbours stray by more.
const OVER: f32 = 10.0;
const MOST_OVER: f32 = 1e4;
/// A line has still so much of its mean power, or it was another note's.
const STILL: f32 = 0.1;
/// Fewer lines say nothing.
const LEAST: usize = 6;
/// So many are looked at.
const MOST: usize = 64;
/// Most turns that are looked at.
pub(super) const TURNS: usize = 20;
/// Over so many turns (0.56 and 0.8 s), what is too little for a throat: where nothing is called a voice, or what cannot be one by
/// its lines; and of what may be one. (No look at 87 sung clips without a drone, recorded takes and still Sas is below, nor at 304
/// others, transposed, with room and noise.)
const APART: [(usize, [Little; 2]); 2] = [
    (14, [Little { cents: 0.25, product: 0.05, looks: 3 }, Little { cents: 0.2, product: 0.02, looks: 4 }]),
    (TURNS, [Little { cents: 0.28, product: 0.05, looks: 3 }, Little { cents: 0.25, product: 0.02, looks: 4 }]),
];
/// Looks for which a note that has ended is in the window yet, 0.3 s.
const VOICES: usize = 8;
/// What a line of a throat strays by at least, cents: so much certainty no line has.
const OWN_CENTS: f64 = 0.3;

/// Straying of the mean and of the median, cents, and product of two either way, square cents, in so many looks in a row.
struct Little {
    cents: f64,
    product: f64,
    looks: u32,
}

/// How far the lines stray together: squares of the mean and of the median, and the product, square cents.
struct Strays {
    mean: f64,
    median: f64,
    product: f64,
}

impl Little {
    fn is(&self, strays: &Strays) -> bool {
        let most = self.cents * self.cents;
        strays.mean < most && strays.median < most && strays.product.abs() < self.product
    }
}

/// A line's place, its mean turn, and its weights in the mean and in the median and product.
#[derive(Clone, Copy)]
struct Line {
    bin: usize,
    mean: Complex<f32>,
    /// Cents of a turn of one radian.
    cents: f64,
    weight: f64,
    sure: f64,
}

pub(super) struct Together {
    lines: Vec<Line>,
    /// Cents from the mean turn, with the weight, turn by turn.
    cents: Vec<(f64, f64)>,
    looks: [[u32; 2]; APART.len()],
    /// What was called a voice of late, the newest first.
    voices: [Option<f64>; VOICES],
}

/// What is looked at besides the turns.
pub(super) struct Seen<'a> {
    /// The newest spectrum, the mean power per bin, and the greatest of it.
    pub(super) newest: &'a [Complex<f32>],
    pub(super) power: &'a [f32],
    pub(super) strongest: f32,
    /// F0 of what is called a voice, Hz.
    pub(super) voice: Option<f64>,
    /// Whether it has faded as what rings in a hall does.
    pub(super) faded: bool,
}

impl Together {
    pub(super) fn new() -> Self {
        Self {
            lines: Vec::with_capacity(MOST),
            cents: Vec::with_capacity(MOST * TURNS),
            looks: [[0; 2]; APART.len()],
            voices: [None; VOICES],
        }
    }

    /// Looks at the last turns. True for a machine.
    pub(super) fn look(&mut self, last: &Last, seen: &Seen<'_>) -> bool {
        self.voices.rotate_right(1);
        self.voices[0] = seen.voice;
        let found = !seen.faded && self.find(seen);
        let no_voice = found && self.no_voice(seen);
        let mut looks = self.looks;
        let mut apart = false;
        for ((turns, little), looks) in APART.iter().zip(&mut looks) {
            let strays = if found { self.strays(last, *turns, little) } else { None };
            for (little, (looks, asked)) in little.iter().zip(looks.iter_mut().zip([no_voice, true])) {
                let so_little = asked && strays.as_ref().is_some_and(|strays| little.is(strays));
                *looks = if so_little { looks.saturating_add(1) } else { 0 };
                apart |= *looks >= little.looks;
            }
        }
        self.looks = looks;
        apart
    }

    /// Finds the lines; false where there are too few.
    fn find(&mut self, seen: &Seen<'_>) -> bool {
        self.lines.clear();
        for (bin, around) in (1..).zip(seen.power.windows(3)).take(LAST).skip(FIRST) {
            let [left, here, right] = *around else { continue };
            let peak = here > left && here >= right && here > WEAK * seen.strongest;
            if !peak || self.lines.len() == MOST || seen.newest.get(bin).is_none_or(|now| now.norm_sqr() < STILL * here)
            {
                continue;
            }
            let at = |bin: usize| seen.power.get(bin).copied().unwrap_or(f32::INFINITY);
            let least = AROUND.map(|apart| at(bin - apart).min(at(bin + apart))).fold(f32::INFINITY, f32::min);
            let over = (here / (OVER_LEAST * least + f32::MIN_POSITIVE)).min(MOST_OVER);
            if over > OVER {
                let (hz, over) = (bin as f64 * BIN_HZ, f64::from(over));
                let cents = cents_of_turn(hz);
                let sure = 1.0 / (cents * cents / over + OWN_CENTS * OWN_CENTS);
                self.lines.push(Line { bin, mean: Complex::new(0.0, 0.0), cents, weight: hz * hz * over, sure });
            }
        }
        self.lines.len() >= LEAST
    }

    /// Whether nothing is called a voice, or what has lines that no voice has.
    fn no_voice(&self, seen: &Seen<'_>) -> bool {
        let loud = |line: &&Line| seen.power.get(line.bin).is_some_and(|power| *power > LOUD * seen.strongest);
        let lines = self.lines.iter().filter(loud).map(|line| line.bin as f64 * BIN_HZ);
        beside(self.voices.iter().flatten().copied(), lines, seen.power)
    }

    /// How far the lines stray together over so many turns; `None` before there were so many, and where it is not `little` by the
    /// mean already.
    fn strays(&mut self, last: &Last, turns: usize, little: &[Little]) -> Option<Strays> {
        if last.newest_of(turns).count() < turns {
            return None;
        }
        for line in &mut self.lines {
            line.mean = last.newest_of(turns).filter_map(|turn| turn.get(line.bin)).sum();
        }
        let (weights, sure, sure_square) = self.lines.iter().fold((0.0, 0.0, 0.0), |(weights, sure, square), line| {
            (weights + line.weight, sure + line.sure, square + line.sure * line.sure)
        });
        self.cents.clear();
        let (mut mean_square, mut product) = (0.0, 0.0);
        for turn in last.newest_of(turns) {
            let (mut mean, mut sum, mut square) = (0.0, 0.0, 0.0);
            for line in &self.lines {
                let turn = turn.get(line.bin).map_or(Complex::new(0.0, 0.0), |turn| turn * line.mean.conj());
                let cents = f64::from(turn.arg()) * line.cents;
                mean += line.weight * cents;
                sum += line.sure * cents;
                square += (line.sure * cents).powi(2);
                self.cents.push((cents, line.sure));
            }
            mean_square += (mean / weights).powi(2);
            product += (sum * sum - square) / (sure * sure - sure_square);
        }
        let share = 1.0 / turns as f64;
        if little.iter().all(|little| mean_square * share >= little.cents * little.cents) {
            return None;
        }
        let median_square: f64 =
            self.cents.chunks_mut(self.lines.len()).map(|turn| middle(turn, 0.5 * sure).powi(2)).sum();
        Some(Strays { mean: mean_square * share, median: median_square * share, product: product * share })
    }

    pub(super) fn reset(&mut self) {
        self.looks = [[0; 2]; APART.len()];
        self.voices = [None; VOICES];
    }
}

/// The value at which the weights of those up to it reach `half`.
fn middle(values: &mut [(f64, f64)], half: f64) -> f64 {
    values.sort_unstable_by(|one, other| one.0.total_cmp(&other.0));
    let mut sum = 0.0;
    let at = values.iter().find(|(_, weight)| {
        sum += weight;
        sum >= half
    });
    at.map_or(0.0, |(value, _)| *value)
}

#[cfg(test)]
mod tests {
    use super::super::lines::{APART_S, BINS, bin_of};
    use super::super::turns::turns;
    use super::*;
    use std::f64::consts::TAU;

    /// After how many looks lines at these frequencies, Hz, are a machine's, whose turns stray by so many cents (standard
    /// deviation) each by itself, and by so many all as one; `voice`: what is called one.
    fn looks(lines: &[f64], each: f64, all: f64, voice: Option<f64>) -> Option<usize> {
        let mut random = 1u32;
        // The sum of twelve numbers from 0 to 1 less 6 has a deviation of 1 (central limit).
        let mut normal = || {
            (0..12)
                .map(|_| {
                    random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    f64::from(random >> 8) / f64::from(1 << 24)
                })
                .sum::<f64>()
                - 6.0
        };
        let mut power = vec![1e-5f32; BINS];
        let before = vec![Complex::new(1.0, 0.0); BINS];
        lines.iter().for_each(|hz| power[bin_of(*hz)] = 1.0);
        let (mut last, mut together) = (Last::new(TURNS), Together::new());
        (0..100).find(|_| {
            let as_one = all * normal();
            let mut newest: Vec<Complex<f32>> = power.iter().map(|p| Complex::new(p.sqrt(), 0.0)).collect();
            for hz in lines {
                let hz = *hz * ((each * normal() + as_one) / 1200.0).exp2();
                newest[bin_of(hz)] = Complex::from_polar(1.0, crate::units::num::single(TAU * APART_S * hz));
            }
            last.step(turns(&newest, &before));
            let seen = Seen { newest: &newest, power: &power, strongest: 1.0, voice, faded: false };
            together.look(&last, &seen)
        })
    }

    const SA: f64 = 150.0;

    fn harmonics(ratios: &[f64]) -> Vec<f64> {
        let mut all: Vec<f64> = ratios.iter().flat_map(|r| (1..=9).map(move |k| r * SA * f64::from(k))).collect();
        all.sort_by(f64::total_cmp);
        all.dedup_by(|one, other| (*one - *other).abs() < 1.0);
        all
    }

    #[test]
    fn lines_that_stray_each_by_itself_are_a_machines() {
        let drone = harmonics(&[1.0, 1.5]);
        assert!(looks(&drone, 0.4, 0.0, None).is_some_and(|looks| looks < 30));
        assert!(looks(&drone, 0.4, 0.0, Some(SA)).is_some_and(|looks| looks < 30), "no voice has those lines");
        assert_eq!(looks(&drone, 0.0, 0.6, None), None, "together");
        assert_eq!(looks(&harmonics(&[1.0])[..5], 0.1, 0.0, None), None, "too few");
    }

    #[test]
    fn of_a_voices_own_lines_more_is_asked() {
        let voice = harmonics(&[1.0]);
        assert!(looks(&voice, 0.0, 0.23, None).is_some());
        assert_eq!(looks(&voice, 0.0, 0.4, Some(SA)), None);
    }
}
