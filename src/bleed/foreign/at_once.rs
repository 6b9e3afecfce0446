//! A machine that is told by its last second alone.
//!
//! In: the spectra of [`lines`](super::lines), look by look, and the f0 of what is called a voice. Out: whether a machine
//! sounds, and whether nothing else does. Why: a running mean needs seconds to forget the silence before a drone, or a pluck, and
//! until then all strings pass as a voice. Method: plain means of the last turns; many steady lines that are no harmonics
//! of what is called a voice make a machine, and fewer do where they are nearly all that sounds. Cost: some operations a
//! bin every 40 ms.

use super::lines::{STEADY_CENTS, STEADY_FROM_HZ, WEAK, bin_of, steady_in};
use super::together::{Seen, TURNS, Together};
use super::turns::Last;
use realfft::num_complex::Complex;

/// Over the last so many turns so many steady lines make a machine, in so many looks in a row. (Most in voices, some of them
/// resynthesised, 3 and 3; half of our own strings have 6 to 8 and 4 to 6 in their first second.)
const MANY: [(usize, usize, u32); 2] = [(14, 6, 4), (20, 5, 1)];
/// So many of them tell whether nothing but a machine sounds, by lines that stray by less, cents, in which so much of the power
/// of so many looks (200 ms) lies: 2.2 dB. (Measured as a machine becomes known: drones of our own alone -0.9 to 0 dB, under a
/// voice that is no louder than the drone -4 at most.)
const ONLY_TURNS: usize = 14;
const ONLY_CENTS: f64 = 0.5;
const ONLY_LOOKS: usize = 5;
const ONLY_SHARE: f32 = 0.6;
/// Then fewer lines will do, in so many looks in a row, while nothing is called a voice and none has just ended: of one that held
/// still its lines are all that is left. It has where the power fell to this share within a second.
const FEW: usize = 3;
const FEW_LOOKS: u32 = 2;
const ENDED: f32 = 0.5;
const ENDED_LOOKS: usize = 25;
/// What has fallen to this share in that time rings in a hall.
const RINGS: f32 = 0.1;

pub(super) struct AtOnce {
    last: Last,
    together: Together,
    /// Looks in a row with many steady lines, and with few and nothing else.
    many: [u32; MANY.len()],
    few: u32,
    only: bool,
    apart: bool,
    /// Power of the last looks, the newest first.
    loudness: [f32; ENDED_LOOKS],
}

impl AtOnce {
    pub(super) fn new() -> Self {
        Self {
            last: Last::new(MANY.into_iter().map(|(turns, ..)| turns).fold(TURNS, usize::max)),
            together: Together::new(),
            many: [0; MANY.len()],
            few: 0,
            only: false,
            apart: false,
            loudness: [0.0; ENDED_LOOKS],
        }
    }

    /// Takes the turns of a look.
    pub(super) fn turn(&mut self, turns: impl Iterator<Item = Complex<f32>>) {
        self.last.step(turns);
    }

    /// The newest turns, per bin.
    pub(super) fn newest(&self) -> impl Iterator<Item = Complex<f32>> + '_ {
        self.last.newest()
    }

    /// Looks at the turns; `looks`: the newest spectra, newest first; `power`: its mean per bin, and the greatest of it.
    /// True for a machine.
    pub(super) fn look(
        &mut self,
        looks: &[Vec<Complex<f32>>],
        (power, strongest): (&[f32], f32),
        voice: Option<f64>,
    ) -> bool {
        let [newest, ..] = looks else { return false };
        let weak = WEAK * strongest;
        self.loudness.rotate_right(1);
        self.loudness[0] = newest.iter().map(|x| x.norm_sqr()).sum();
        let (mut told, mut few) = (false, false);
        for ((turns, least, in_a_row), seen) in MANY.into_iter().zip(&mut self.many) {
            let Some(mean) = self.last.mean(turns) else { continue };
            let many = steady(mean, (power, weak), voice) >= least;
            *seen = if many { seen.saturating_add(1) } else { 0 };
            told |= *seen >= in_a_row;
            if turns == ONLY_TURNS {
                self.only = only(mean, looks);
                few = self.only && voice.is_none() && steady(mean, (power, weak), None) >= FEW;
            }
        }
        let faded_to = |share: f32| self.loudness.iter().any(|before| self.loudness[0] < share * before);
        few &= !faded_to(ENDED);
        self.few = if few { self.few.saturating_add(1) } else { 0 };
        let seen = Seen { newest, power, strongest, voice, faded: faded_to(RINGS) };
        self.apart = self.together.look(&self.last, &seen);
        told || self.apart || self.few >= FEW_LOOKS
    }

    /// Whether nothing but steady lines has sounded of late, a machine's or those of a very still voice.
    pub(super) fn only(&self) -> bool {
        self.only
    }

    /// Whether the lines that sound have strayed each by itself: the louder ones are a machine's, and nobody's else.
    pub(super) fn apart(&self) -> bool {
        self.apart
    }

    pub(super) fn reset(&mut self) {
        self.last.reset();
        self.together.reset();
        self.many = [0; MANY.len()];
        self.few = 0;
        self.only = false;
        self.apart = false;
        self.loudness = [0.0; ENDED_LOOKS];
    }
}

/// Steady lines that are no harmonics of what is called a voice.
fn steady(mean: &[Complex<f32>], (power, weak): (&[f32], f32), voice: Option<f64>) -> usize {
    let loud =
        mean.iter().zip(power).enumerate().skip(bin_of(STEADY_FROM_HZ)).filter(|(_, (_, power))| **power >= weak);
    let lines = loud.filter_map(|(bin, (mean, _))| steady_in(bin, *mean, STEADY_CENTS));
    lines.filter(|hz| *hz > STEADY_FROM_HZ && !voice.is_some_and(|f0| super::near_harmonic(*hz, f0))).count()
}

/// Whether nearly all power above [`STEADY_FROM_HZ`] lies in lines that hardly stray.
fn only(mean: &[Complex<f32>], looks: &[Vec<Complex<f32>>]) -> bool {
    let first = bin_of(STEADY_FROM_HZ);
    let is_line = |bin: usize| {
        let mean = mean.get(bin).filter(|_| bin >= first);
        mean.is_some_and(|mean| steady_in(bin, *mean, ONLY_CENTS).is_some())
    };
    let (mut all, mut lines) = (f32::MIN_POSITIVE, 0.0);
    // A line fills the bins beside its own too.
    let (mut before, mut here) = (false, is_line(first));
    for bin in first..mean.len() {
        let after = is_line(bin + 1);
        let power = looks.iter().take(ONLY_LOOKS).filter_map(|look| look.get(bin)).map(|x| x.norm_sqr()).sum::<f32>();
        all += power;
        lines += if before || here || after { power } else { 0.0 };
        (before, here) = (here, after);
    }
    lines > ONLY_SHARE * all
}
