//! Which spectral lines keep their frequency as only a machine does.
//!
//! In: hops of the microphone at 16 kHz, and the f0 of a voice. Out: the lines, each with its exact frequency, once
//! enough of them are steadier than any throat. Method: the phase vocoder (Flanagan and Golden 1966): in windows of 256 ms
//! at 8 kHz the phase of each bin turns, from one look to another 120 ms on, by 2 pi f t. The running mean of these turns
//! as unit phasors knows no loudness, so that a loud voice weighs no more than a soft drone; its length tells how far f
//! strays, its angle f itself. Cost: one real FFT of 2048 every 40 ms.

use super::super::half::Half;
use super::super::transform::Transform;
use super::at_once::AtOnce;
use super::beside;
use super::coded::{Coded, FAR};
use super::swings::{Change, Swings};
use super::turns::{Turns, turns};
use crate::input::{ANALYSIS_RATE_HZ, HOP};
use crate::pitch::hann;
use crate::units::num;
use realfft::num_complex::Complex;
use std::f64::consts::{LN_2, TAU};

/// Samples of the window at 8 kHz: lines 15 Hz apart are two.
const WINDOW: usize = 2048;
/// Width of a bin, Hz.
pub(super) const BIN_HZ: f64 = 0.5 * ANALYSIS_RATE_HZ / WINDOW as f64;
/// Bins that are looked at: 62 Hz to 3.6 kHz, where the half-band filter begins to fall.
const FIRST: usize = 16;
pub(super) const BINS: usize = 922;
/// Hops from one look to the next: 40 ms.
const EVERY: usize = 8;
/// Looks from one phase to the other of a turn.
const APART: usize = 3;
/// Seconds of that.
pub(super) const APART_S: f64 = (APART * EVERY * HOP) as f64 / ANALYSIS_RATE_HZ;
/// Share of a new look in the running means: about a second of them.
const NEW: f32 = 0.04;
/// Turns before anything is said.
const ENOUGH: u32 = 14;
/// A line lies in the bin nearest to it, or nearly.
const NEAREST: f64 = 0.55;
/// Power below the strongest at which nothing counts: 50 dB.
pub(super) const WEAK: f32 = 1e-5;
/// Straying in cents, over a second, below which a line is no throat's (single strings and reeds stray by 0.00 to 0.2, the
/// steadiest held voices by 0.35 to 1.2).
pub(super) const STEADY_CENTS: f64 = 0.25;
/// Lines of strings that beat with each other stray by more: of so many there must be more of them, none a harmonic of what is
/// called a voice, in so many looks in a row, after so many turns (1.2 s: of fewer a voice keeps a few by chance). Measured:
/// beside or in voices, some of them resynthesised, at most 2; drones of our own 5 to 17 within a cycle or two.
const NEARLY_CENTS: f64 = 0.5;
const NEARLY_MACHINE: usize = 5;
const NEARLY_LOOKS: u32 = 2;
const NEARLY_FROM: u32 = 30;
/// Below this frequency straying so small drowns in what neighbours do.
pub(super) const STEADY_FROM_HZ: f64 = 350.0;
/// So many lines make a machine.
pub(super) const MACHINE: usize = 4;
/// How long it is believed without new proof, looks: a minute, ten pluck cycles.
const BELIEVED: u32 = 1500;
/// Length of the mean turn above which, beside a machine, a bin is a line.
const LINE: f32 = 0.8;
/// How long a line is kept that is not seen, looks: 6 s, a pluck cycle.
const KEPT: u32 = 150;

/// Power below the strongest at which a line's level is not looked at, 35 dB, and looks since it was seen.
const LOUD: f32 = 3e-4;
const FRESH: u32 = 8;

/// Looks for which nothing has begun, 0.24 s, when something begins anew.
const BEGINS_ANEW: u32 = 6;
/// Bins that lie beside a line, not in it: there noise is looked at.
const FARTHER: std::ops::Range<usize> = 3..7;
const BESIDE: usize = 2 * (FARTHER.end - FARTHER.start);
/// A line was there before where its bin, or one beside it, had so many times the power of those.
const THERE: f32 = 4.0;

/// A tone of a drone, as strong as it was on the average of the last second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tone {
    /// Frequency.
    pub hz: f64,
    /// Level below the strongest, dB.
    pub db: f64,
}

/// The strongest tones of a drone, strongest first; all `None` while none is known.
pub type Tones = [Option<Tone>; 16];
/// Looks from one list of tones to the next: a second.
const TONES_EVERY: u32 = 25;

/// A line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Line {
    pub(super) hz: f64,
    /// Looks since it was last seen; more than [`KEPT`]: none.
    unseen: u32,
}

impl Line {
    const NONE: Self = Self { hz: 0.0, unseen: u32::MAX };

    pub(super) fn is(&self) -> bool {
        self.unseen <= KEPT
    }
}

/// The bin of a frequency.
pub(super) fn bin_of(hz: f64) -> usize {
    num::index((hz / BIN_HZ).round())
}

/// The bin of a frequency, and its neighbours.
pub(super) fn around(hz: f64) -> std::ops::Range<usize> {
    let bin = bin_of(hz);
    bin.saturating_sub(1)..(bin + 2).min(BINS)
}

/// The bins beside a line in this one, on both sides.
fn farther(bin: usize) -> impl Iterator<Item = usize> {
    FARTHER.flat_map(move |apart| [bin.saturating_sub(apart), bin + apart])
}

/// How far a frequency, Hz, is off where a turn is off by one radian, cents.
pub(super) fn cents_of_turn(hz: f64) -> f64 {
    1200.0 / LN_2 / (TAU * APART_S * hz)
}

/// The frequency of a line in a bin, Hz, and how far it strays, cents, from the mean of its turns; `None` where there is none.
fn line_in(bin: usize, mean: Complex<f32>) -> Option<(f64, f64)> {
    let square = mean.norm_sqr();
    if square < LINE * LINE {
        return None;
    }
    let centre = bin as f64 * BIN_HZ;
    // What the angle says beyond that of the bin's own centre.
    let beyond = f64::from(mean.arg()) / TAU - centre * APART_S;
    let off = (beyond - beyond.round()) / APART_S;
    let hz = centre + off;
    let length = f64::from(square.sqrt().min(1.0));
    let strays = (-2.0 * length.ln()).max(0.0).sqrt() * cents_of_turn(hz);
    (off.abs() <= NEAREST * BIN_HZ).then_some((hz, strays))
}

/// The frequency of a line in a bin, Hz, that strays by less than so many cents; `None` where there is none.
pub(super) fn steady_in(bin: usize, mean: Complex<f32>, cents: f64) -> Option<f64> {
    line_in(bin, mean).filter(|(_, strays)| *strays < cents).map(|(hz, _)| hz)
}

pub(super) struct Lines {
    half: Half,
    samples: Vec<f32>,
    shape: Vec<f32>,
    transform: Transform,
    looks: [Vec<Complex<f32>>; FAR + 1],
    turns: Turns,
    at_once: AtOnce,
    coded: Coded,
    power: Vec<f32>,
    strongest: f32,
    lines: Vec<Line>,
    swings: Swings,
    /// Looks in a row with many lines that hardly stray.
    nearly: u32,
    tones: Tones,
    hops: usize,
    unproven: u32,
    /// Power per bin before what began last, and looks since it began.
    before: Vec<f32>,
    begun: u32,
}

impl Lines {
    pub(super) fn new() -> Self {
        Self {
            half: Half::new(),
            samples: vec![0.0; WINDOW],
            shape: hann(WINDOW).map(num::single).collect(),
            transform: Transform::new(WINDOW),
            looks: std::array::from_fn(|_| vec![Complex::new(0.0, 0.0); BINS]),
            turns: Turns::new(NEW),
            at_once: AtOnce::new(),
            coded: Coded::new(),
            power: vec![0.0; BINS],
            strongest: f32::MIN_POSITIVE,
            lines: vec![Line::NONE; BINS],
            swings: Swings::new(BINS),
            nearly: 0,
            tones: [None; 16],
            hops: 0,
            unproven: u32::MAX,
            before: vec![0.0; BINS],
            begun: u32::MAX,
        }
    }

    /// Takes a hop; true where it was looked at the lines. `voice`: f0 of a voice that is surely one; `alone`: whether the
    /// level is that of the drone alone.
    pub(super) fn step(&mut self, hop: &[f32; HOP], voice: Option<f64>, alone: bool) -> bool {
        self.samples.copy_within(HOP / 2.., 0);
        for (to, from) in self.samples.iter_mut().skip(WINDOW - HOP / 2).zip(self.half.step(hop)) {
            *to = from;
        }
        self.hops += 1;
        if !self.hops.is_multiple_of(EVERY) {
            return false;
        }
        self.look();
        self.begun = self.begun.saturating_add(1);
        if self.hops >= 2 * WINDOW / HOP + APART * EVERY {
            self.turn();
            self.strongest = self.power.iter().copied().fold(f32::MIN_POSITIVE, f32::max);
            self.choose(voice);
            self.watch_levels(voice);
            if self.machine() {
                self.coded.watch(&self.lines, &self.power, LOUD * self.strongest, alone);
            } else {
                self.coded.rest();
            }
            if self.turns.seen().is_multiple_of(TONES_EVERY) {
                self.list();
            }
        }
        true
    }

    fn look(&mut self) {
        self.looks.rotate_right(1);
        let windowed = self.samples.iter().zip(&self.shape).map(|(x, w)| x * w);
        let [newest, ..] = &mut self.looks;
        for (to, from) in newest.iter_mut().zip(self.transform.forward(windowed)) {
            *to = *from;
        }
    }

    fn turn(&mut self) {
        let [newest, _, _, earlier, .., far] = &self.looks;
        self.at_once.turn(turns(newest, earlier));
        self.turns.step(self.at_once.newest());
        let share = NEW.max(1.0 / self.turns.seen() as f32);
        self.coded.step(self.at_once.newest());
        if self.hops >= 2 * WINDOW / HOP + FAR * EVERY {
            self.coded.step_far(newest, far);
        }
        for (power, new) in self.power.iter_mut().zip(newest) {
            *power += (new.norm_sqr() - *power) * share;
        }
    }

    fn choose(&mut self, voice: Option<f64>) {
        let weak = WEAK * self.strongest;
        let at_once = self.at_once.look(&self.looks, (&self.power, self.strongest), voice);
        let (mut sure, mut nearly) = (0, 0);
        for line in &mut self.lines {
            line.unseen = line.unseen.saturating_add(1);
        }
        self.unproven = self.unproven.saturating_add(1);
        let machine = self.unproven <= BELIEVED;
        for (bin, ((mean, power), line)) in
            self.turns.mean().iter().zip(&self.power).zip(&mut self.lines).enumerate().skip(FIRST)
        {
            if *power < weak || self.turns.seen() < ENOUGH {
                continue;
            }
            let Some((hz, strays)) = line_in(bin, *mean) else { continue };
            let steady = hz > STEADY_FROM_HZ && strays < STEADY_CENTS;
            sure += usize::from(steady);
            let sung = voice.is_some_and(|f0| super::near_harmonic(hz, f0));
            nearly += usize::from(hz > STEADY_FROM_HZ && strays < NEARLY_CENTS && !sung);
            if machine && (steady || !sung) {
                *line = Line { hz, unseen: 0 };
            }
        }
        let many = nearly >= NEARLY_MACHINE && self.turns.seen() > NEARLY_FROM;
        self.nearly = if many { self.nearly.saturating_add(1) } else { 0 };
        if sure >= MACHINE || self.nearly >= NEARLY_LOOKS || at_once {
            self.unproven = 0;
        }
    }

    /// Whether nothing but steady lines has sounded of late.
    pub(super) fn only(&self) -> bool {
        self.at_once.only()
    }

    /// Whether the lines that sound have strayed each by itself of late: nothing else is as loud.
    pub(super) fn apart(&self) -> bool {
        self.at_once.apart()
    }

    /// Watches how the lines' levels change over a turn.
    fn watch_levels(&mut self, voice: Option<f64>) {
        let [newest, _, _, oldest, ..] = &self.looks;
        let loud = LOUD * self.strongest;
        let db = |look: &Complex<f32>| 10.0 * look.norm_sqr().max(f32::MIN_POSITIVE).log10();
        let noise = |look: &[Complex<f32>], bin: usize, line: &Complex<f32>| {
            let at = |bin: usize| look.get(bin).map_or(0.0, Complex::norm_sqr);
            let mut powers = [0.0; BESIDE];
            for (to, bin) in powers.iter_mut().zip(farther(bin)) {
                *to = at(bin);
            }
            *powers.select_nth_unstable_by(BESIDE / 2 - 1, f32::total_cmp).1 / line.norm_sqr().max(f32::MIN_POSITIVE)
        };
        let lines = self.lines.iter().zip(&self.power).zip(newest.iter().zip(oldest)).enumerate();
        let lines = lines.filter(|(_, ((line, power), _))| line.unseen < FRESH && **power > loud);
        self.swings.look(lines.map(|(bin, ((line, _), (new, old)))| Change {
            db: db(new) - db(old),
            noise: noise(newest, bin, new) + noise(oldest, bin, old),
            covered: voice.is_some_and(|f0| super::near_harmonic(line.hz, f0)),
        }));
    }

    /// Lists the strongest tones anew.
    fn list(&mut self) {
        self.tones = [None; 16];
        if !self.machine() {
            return;
        }
        for (line, power) in self.lines.iter().zip(&self.power).filter(|(line, _)| line.is()) {
            let tone =
                Tone { hz: line.hz, db: 10.0 * f64::from(power.max(f32::MIN_POSITIVE) / self.strongest).log10() };
            let place = self.tones.iter().position(|other| other.is_none_or(|other| other.db < tone.db));
            if let Some(tail) = place.and_then(|at| self.tones.get_mut(at..)) {
                tail.rotate_right(1);
                tail[0] = Some(tone);
            }
        }
    }

    /// The strongest tones, as of the last second.
    pub(super) fn tones(&self) -> &Tones {
        &self.tones
    }

    /// Whether a machine sounds whose lines do not keep their levels: plucked strings, or a drone that a codec has made as unsteady.
    pub(super) fn strings(&self) -> bool {
        self.machine() && (self.swings.fade() || self.swings.swing() || self.coded.is() && self.swings.stir())
    }

    /// The lines, by bin; those that are none included.
    pub(super) fn lines(&self) -> &[Line] {
        &self.lines
    }

    /// Whether there is a line within so many hertz.
    pub(super) fn near(&self, hz: f64, within: f64) -> bool {
        let (low, high) = (num::index((hz - within) / BIN_HZ), num::index((hz + within) / BIN_HZ));
        let around = self.lines.get(low.saturating_sub(1)..(high + 2).min(BINS)).unwrap_or(&[]);
        around.iter().any(|line| line.is() && (line.hz - hz).abs() < within)
    }

    /// Whether a machine sounds that a codec has made inexact, or its own beats have.
    pub(super) fn coded(&self) -> bool {
        self.machine() && self.coded.is()
    }

    /// How well the harmonics of `f0`, Hz, keep their phases, 0 to 1; `None`: that cannot be said.
    pub(super) fn kept(&self, f0: f64) -> Option<f32> {
        self.coded.kept(f0, &self.power, self.strongest)
    }

    /// Something begins to sound: how phases are kept is told by what comes from now on.
    pub(super) fn begin(&mut self) {
        self.coded.begin();
        if std::mem::take(&mut self.begun) > BEGINS_ANEW {
            let [_, _, _, earlier, ..] = &self.looks;
            for (to, from) in self.before.iter_mut().zip(earlier) {
                *to = from.norm_sqr();
            }
        }
    }

    /// Whether most of the lines sounded already before what began last: then that is no part of the machine.
    pub(super) fn sounded_before(&self) -> bool {
        let loud = beside::LOUD * self.strongest;
        let lines = self.lines.iter().zip(&self.power).enumerate();
        let (mut all, mut there) = (0, 0);
        for (bin, _) in lines.filter(|(_, (line, power))| line.is() && **power > loud) {
            let at = |bin: usize| self.before.get(bin).copied().unwrap_or_default();
            let peak = at(bin).max(at(bin.saturating_sub(1))).max(at(bin + 1));
            let beside: f32 = farther(bin).map(at).sum();
            all += 1;
            there += usize::from(peak > THERE * beside / BESIDE as f32);
        }
        2 * there > all
    }

    /// Whether a machine sounds with lines that no voice at `f0`, Hz, has.
    pub(super) fn beside(&self, f0: f64) -> bool {
        let loud = beside::LOUD * self.strongest;
        let lines = self.lines.iter().zip(&self.power).filter(|(line, power)| line.is() && **power > loud);
        beside::beside(std::iter::once(f0), lines.map(|(line, _)| line.hz), &self.power)
    }

    /// Whether a machine sounds, or did of late.
    pub(super) fn machine(&self) -> bool {
        self.unproven <= BELIEVED
    }

    pub(super) fn reset(&mut self) {
        self.half.reset();
        self.samples.fill(0.0);
        for look in &mut self.looks {
            look.fill(Complex::new(0.0, 0.0));
        }
        self.turns.reset();
        self.at_once.reset();
        self.coded.reset();
        self.power.fill(0.0);
        self.strongest = f32::MIN_POSITIVE;
        self.lines.fill(Line::NONE);
        self.swings.reset();
        self.nearly = 0;
        self.tones = [None; 16];
        self.hops = 0;
        self.unproven = u32::MAX;
        self.before.fill(0.0);
        self.begun = u32::MAX;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The lines after so many seconds of harmonics of `hz` with so many cents of flutter.
    fn heard(hz: f64, cents: f64, seconds: f64) -> Lines {
        heard_all(&[1.0], hz, cents, seconds, None)
    }

    /// The same of several tones at these ratios to `hz`.
    fn heard_all(ratios: &[f64], hz: f64, cents: f64, seconds: f64, voice: Option<f64>) -> Lines {
        let mut lines = Lines::new();
        let mut phase = 0.0;
        let tone = |phase: f64| (1..16).map(|k| 0.1 / f64::from(k) * (phase * f64::from(k)).sin()).sum::<f64>();
        for hop in 0..num::index(seconds * ANALYSIS_RATE_HZ / HOP as f64) {
            let mut samples = [0.0; HOP];
            for (i, x) in samples.iter_mut().enumerate() {
                let t = (hop * HOP + i) as f64 / ANALYSIS_RATE_HZ;
                phase += TAU * hz * (cents * (TAU * 4.0 * t).sin() / 1200.0).exp2() / ANALYSIS_RATE_HZ;
                *x = num::single(ratios.iter().map(|ratio| tone(ratio * phase)).sum());
            }
            lines.step(&samples, voice, true);
        }
        lines
    }

    #[test]
    fn a_machine_is_found_with_its_exact_lines_and_a_throat_is_none() {
        let machine = heard(147.3, 0.0, 3.0);
        assert!(machine.machine());
        for k in 1..15 {
            let hz = 147.3 * f64::from(k);
            assert!(machine.near(hz, 0.05), "{hz}");
            assert!(!machine.near(hz + 60.0, 20.0));
        }
        assert!(!heard(147.3, 2.5, 20.0).machine());
        // A stiller one is none where it is heard as a voice.
        assert!(!heard_all(&[1.0], 147.3, 1.5, 20.0, Some(147.3)).machine());
    }

    #[test]
    fn a_machine_after_a_noise_is_told_in_a_second_and_nothing_else_sounds() {
        let noise = crate::tonic::test_sound::noise(1e-3, 5.0);
        let heard = |cents: f64| {
            let (mut lines, mut found) = (Lines::new(), None);
            for (hop, noise) in noise.chunks(HOP).enumerate() {
                let mut samples = [0.0; HOP];
                for (i, (x, noise)) in samples.iter_mut().zip(noise).enumerate() {
                    let t = (hop * HOP + i) as f64 / ANALYSIS_RATE_HZ - 2.0;
                    let phase = TAU * 147.3 * t + 147.3 * cents * LN_2 / 1200.0 * (TAU * 5.0 * t).sin() / 5.0;
                    let tone = (1..16).map(|k| 0.1 / f64::from(k) * (phase * f64::from(k)).sin()).sum::<f64>();
                    *x = num::single(if t < 0.0 { *noise } else { tone + noise });
                }
                lines.step(&samples, None, true);
                if lines.machine() && found.is_none() {
                    found = Some((hop as f64 * (HOP as f64 / ANALYSIS_RATE_HZ) - 2.0, lines.only()));
                }
            }
            found
        };
        assert!(heard(0.0).is_some_and(|(after_s, only)| (0.5..1.0).contains(&after_s) && only), "{:?}", heard(0.0));
        assert_eq!(heard(2.5), None);
    }

    #[test]
    fn what_no_voice_has_is_beside_its_harmonics_or_missing_among_them() {
        assert!(!heard(147.3, 0.0, 3.0).beside(147.3));
        // Sa and Pa: beside the one the other, and of what they have in common the first, fifth and seventh are missing.
        let two = heard_all(&[1.0, 1.5], 147.3, 0.0, 3.0, None);
        assert!(two.beside(147.3) && two.beside(73.65));
    }
}
