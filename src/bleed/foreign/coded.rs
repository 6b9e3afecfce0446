//! A machine that a call's codec has made unsteady: it passes as a voice where its lines are looked at one by one.
//!
//! In: the spectra of [`lines`](super::lines), look by look. Out: whether the lines of the machine that sounds are less exact
//! than a machine's; and how well the harmonics of an f0 keep their phases, 0 to 1.
//!
//! 1. Over a short while, as in a singer's rest, some lines of a machine turn exactly. Through a codec of 24 kbit/s they never
//!    do (shares of the looks, measured: sung clips over a drone at -12 dB and above 0.06 to 1, the same and drones alone through
//!    the codec 0 to 0.01). Softer drones are held for coded too, and it costs them little.
//! 2. What a codec does to a steady tone is forgotten from one frame of it to the next: the phase strays by as much over half a
//!    second as over a tenth, and comes back. A throat's does not: over half a second at 1 kHz one cent is a third of a turn.
//!    (Mean length of the turns, measured: voices 0.2 to 0.6, at most 0.76 in 20 s of a Sa that wavers by less than 2 cents;
//!    reeds through the codec 0.75 to 1, half of them above 0.9. Plucked strings begin anew too often: as voices.)
//!
//! Cost: some operations a bin every 40 ms.

use super::lines::{Line, MACHINE, STEADY_FROM_HZ, around};
use super::turns::{Turns, turns};
use realfft::num_complex::Complex;

/// Looks from one phase to the other of a turn that tells a throat from a codec: 480 ms.
pub(super) const FAR: usize = 12;
/// Share of a new look in the mean of those: about a second of them; before so many nothing is said.
const FAR_NEW: f32 = 0.04;
const FAR_ENOUGH: u32 = 25;
/// Power below the strongest at which a harmonic says nothing: 30 dB.
const WEAK: f32 = 1e-3;
/// Fewer harmonics say nothing, and those above are not looked at.
const LEAST: u32 = 3;
const HIGHEST: u32 = 24;

/// Share of a new look in the mean over a short while: a rest of a singer.
const BRIEF_NEW: f32 = 0.1;
/// Length of those above which a line turns exactly.
const EXACT: f32 = 0.999_55;
/// Looks that must have been at the drone alone, or what is brief is the voice's yet: 0.6 s.
const ALONE_LOOKS: u32 = 16;
/// Memory of the share of the looks at which one was: 8 s. Below the other share it is held for coded, after so many looks: 4 s.
const SHARE_NEW: f32 = 0.005;
const CODED_SHARE: f32 = 0.03;
const CODED_ENOUGH: u32 = 100;

pub(super) struct Coded {
    brief: Turns,
    far: Turns,
    /// Looks in a row at the drone alone.
    alone: u32,
    exact: f32,
    watched: u32,
}

impl Coded {
    pub(super) fn new() -> Self {
        Self { brief: Turns::new(BRIEF_NEW), far: Turns::new(FAR_NEW), alone: 0, exact: 0.0, watched: 0 }
    }

    /// Takes the turns that the lines are told by.
    pub(super) fn step(&mut self, turns: impl Iterator<Item = Complex<f32>>) {
        self.brief.step(turns);
    }

    /// Takes the newest spectrum and the one [`FAR`] looks before it.
    pub(super) fn step_far(&mut self, newest: &[Complex<f32>], far: &[Complex<f32>]) {
        self.far.step(turns(newest, far));
    }

    /// Forgets how phases were kept.
    pub(super) fn begin(&mut self) {
        self.far.reset();
    }

    /// Watches whether the lines of the machine that sounds turn exactly; `power` per bin, of which less than `loud`
    /// is not looked at; `alone`: no voice hides them.
    pub(super) fn watch(&mut self, lines: &[Line], power: &[f32], loud: f32, alone: bool) {
        self.alone = if alone { self.alone.saturating_add(1) } else { 0 };
        if self.alone < ALONE_LOOKS {
            return;
        }
        let exact =
            power.windows(3).zip(lines.iter().zip(self.brief.mean()).skip(1)).filter(|(power, (line, mean))| {
                let peak = matches!(power, [left, here, right] if *here > loud && here >= left && here > right);
                peak && line.is() && mean.norm_sqr() > EXACT * EXACT
            });
        let exact = if exact.count() >= MACHINE { 1.0 } else { 0.0 };
        self.watched = self.watched.saturating_add(1);
        self.exact += (exact - self.exact) * SHARE_NEW.max(1.0 / self.watched as f32);
    }

    /// No machine sounds.
    pub(super) fn rest(&mut self) {
        self.alone = 0;
        self.watched = 0;
    }

    /// Whether a codec has made the machine inexact.
    pub(super) fn is(&self) -> bool {
        self.watched > CODED_ENOUGH && self.exact < CODED_SHARE
    }

    /// How well the harmonics of `f0`, Hz, keep their phases; `None` where too few are loud enough.
    pub(super) fn kept(&self, f0: f64, power: &[f32], strongest: f32) -> Option<f32> {
        let (mut sum, mut count) = (0.0, 0);
        for hz in (1..=HIGHEST).map(|k| f0 * f64::from(k)).filter(|hz| *hz > STEADY_FROM_HZ) {
            let bins = around(hz);
            let (Some(powers), Some(means)) = (power.get(bins.clone()), self.far.mean().get(bins)) else { break };
            let loudest = powers.iter().zip(means).max_by(|one, other| one.0.total_cmp(other.0));
            if let Some((_, mean)) = loudest.filter(|(power, _)| **power > WEAK * strongest) {
                sum += mean.norm_sqr().sqrt();
                count += 1;
            }
        }
        (count >= LEAST && self.far.seen() >= FAR_ENOUGH).then(|| sum / count as f32)
    }

    pub(super) fn reset(&mut self) {
        self.brief.reset();
        self.far.reset();
        self.alone = 0;
        self.exact = 0.0;
        self.watched = 0;
    }
}
