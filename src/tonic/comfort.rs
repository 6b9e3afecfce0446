//! Finds a comfortable Sa for a new singer from one easy glide down and up.
//!
//! In: f0 frames of the glide. Out: the range that was sung and up to three suggestions for Sa, each with
//! the reason. Method: training aims at two octaves, mandra Pa to tara Pa (3/4 to 3 times Sa: "from Paa in the
//! lower octave to Paa in the higher octave", notes on sarali varisai at shivkumar.org/music/basics); the keys whose mandra Pa and tara Pa lie best within the
//! range are offered, the range being the 2nd to 98th percentile of the sung frames, so that a squeak
//! does not count. The teacher decides. Cost: one count a frame; memory is fixed. Does not handle a
//! range that training will widen: ask again later.

use crate::pitch::F0Frame;
use crate::swara::tonic::{kattai_name, note_name, parts};
use crate::units::{Hertz, num};

/// What has to stand beside the suggestions.
pub const CAUTION: &str = "Glide easily, without pushing and not loudly; stop if it hurts or the voice turns hoarse. \
The suggestion is where this voice is at ease today; a teacher decides, and the range grows with practice. A hoarse \
voice that lasts, a strained throat, lost high notes or a voice that suddenly turns deeper are reasons to see a \
doctor or a voice specialist; this tool neither diagnoses nor treats.";

/// The lowest pitch counted, Hz.
const BASE_HZ: f64 = 55.0;
/// Width of a bin, cents: half a key.
const BIN_CENTS: f64 = 50.0;
/// Bins in all: five octaves.
const BINS: usize = 120;
/// Least sung time, frames of 5 ms: 3 s.
const LEAST_FRAMES: u32 = 600;
/// Least range, cents: under an octave the glide was not one.
const LEAST_RANGE_CENTS: f64 = 1_200.0;
/// Share of the frames left out at either end.
const TRIM: f64 = 0.02;
/// Mandra Pa and tara Pa over Sa.
const REACH: (f64, f64) = (0.75, 3.0);
/// As many suggestions as are made.
const MAX_SUGGESTIONS: usize = 3;
/// A suggestion is made while it is short of mandra Pa or tara Pa by at most this, cents, more than the
/// best one is.
const WORSE_CENTS: f64 = 150.0;

/// A possible Sa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suggestion {
    /// Madhya Sa.
    pub sa: Hertz,
    /// How far the range goes below mandra Pa, cents; negative: it does not reach.
    pub below_cents: f64,
    /// How far it goes above tara Pa, cents; negative: it does not reach.
    pub above_cents: f64,
}

impl Suggestion {
    /// The suggestion and its reason in a sentence.
    #[must_use]
    pub fn reason(&self, a4: Hertz) -> String {
        let name = parts(self.sa, a4).map_or_else(String::new, |(pitch_class, octave, _)| {
            format!("{} kattai ({}{octave})", kattai_name(pitch_class), note_name(pitch_class))
        });
        let keys = |cents: f64| match (-cents / 100.0).round().max(1.0) {
            1.0 => "1 semitone".to_owned(),
            n => format!("{n:.0} semitones"),
        };
        let why = match (self.below_cents >= 0.0, self.above_cents >= 0.0) {
            (true, true) => "mandra Pa and tara Pa are both within easy reach".to_owned(),
            (false, true) => format!("tara Pa is within reach; mandra Pa is {} too low", keys(self.below_cents)),
            (true, false) => format!("mandra Pa is within reach; tara Pa is {} too high", keys(self.above_cents)),
            (false, false) => format!(
                "the range lies evenly about it; mandra Pa is {} too low, tara Pa {} too high",
                keys(self.below_cents),
                keys(self.above_cents)
            ),
        };
        format!("{name}: {why}")
    }
}

/// What a glide says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Comfort {
    /// The lowest pitch at ease.
    pub low: Hertz,
    /// The highest.
    pub high: Hertz,
    /// Best first.
    pub suggestions: [Option<Suggestion>; MAX_SUGGESTIONS],
}

/// Why a glide says nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ComfortDoubt {
    /// Too little was sung; seconds.
    TooShort(f64),
    /// The glide stayed within less than an octave; cents.
    TooNarrow(f64),
}

impl std::fmt::Display for ComfortDoubt {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::TooShort(seconds) => {
                write!(f, "only {seconds:.1} s of voice were heard: glide slowly down and up, for 3 s or more")
            }
            Self::TooNarrow(cents) => write!(
                f,
                "the glide covered {:.0} keys: let it go as low and as high as is easy, an octave or more",
                cents / 100.0
            ),
        }
    }
}

impl std::error::Error for ComfortDoubt {}

/// Gathers a glide.
#[derive(Debug, Clone)]
pub struct Glide {
    counts: [u32; BINS],
    frames: u32,
}

impl Default for Glide {
    fn default() -> Self {
        Self::new()
    }
}

impl Glide {
    /// An empty one.
    #[must_use]
    pub fn new() -> Self {
        Self { counts: [0; BINS], frames: 0 }
    }

    /// Takes a frame in.
    pub fn push(&mut self, frame: &F0Frame) {
        let Some(f0) = frame.f0.filter(|f0| frame.voiced && f0.0.is_finite() && f0.0 >= BASE_HZ) else { return };
        if let Some(count) = self.counts.get_mut(num::index(1200.0 * (f0.0 / BASE_HZ).log2() / BIN_CENTS)) {
            *count = count.saturating_add(1);
            self.frames = self.frames.saturating_add(1);
        }
    }

    /// The cents above 55 Hz that a share of the frames lies below.
    fn percentile(&self, share: f64) -> f64 {
        let mut sum = 0.0;
        let wanted = share * f64::from(self.frames);
        let bin = self.counts.iter().position(|&count| {
            sum += f64::from(count);
            sum >= wanted
        });
        bin.unwrap_or(0) as f64 * BIN_CENTS
    }

    /// Up to three keys for Sa, at a concert pitch.
    ///
    /// # Errors
    /// [`ComfortDoubt`] when too little was sung, with what to do.
    pub fn suggest(&self, a4: Hertz) -> Result<Comfort, ComfortDoubt> {
        if self.frames < LEAST_FRAMES {
            return Err(ComfortDoubt::TooShort(f64::from(self.frames) * 0.005));
        }
        let (low, high) = (self.percentile(TRIM), self.percentile(1.0 - TRIM));
        if high - low < LEAST_RANGE_CENTS {
            return Err(ComfortDoubt::TooNarrow(high - low));
        }
        let hertz = |cents: f64| Hertz(BASE_HZ * (cents / 1200.0).exp2());
        let (low, high) = (hertz(low), hertz(high));
        // The middle of mandra Pa to tara Pa is 1.5 Sa: the best Sa has the range's middle there.
        let middle = Hertz((low.0 * high.0).sqrt() / (REACH.0 * REACH.1).sqrt());
        let nearest = middle.midi_key(a4).round();
        let mut list = [None; MAX_SUGGESTIONS];
        let mut best_short = f64::INFINITY;
        // The nearest key, then its neighbour on the side of the middle, then the other one.
        let side = if middle.midi_key(a4) >= nearest { 1.0 } else { -1.0 };
        for (slot, step) in list.iter_mut().zip([0.0, side, -side]) {
            let sa = Hertz::of_midi_key(nearest + step, a4);
            let below_cents = 1200.0 * (sa.0 * REACH.0 / low.0).log2();
            let above_cents = 1200.0 * (high.0 / (sa.0 * REACH.1)).log2();
            let short = (-below_cents).max(-above_cents).max(0.0);
            best_short = best_short.min(short);
            if short <= best_short + WORSE_CENTS {
                *slot = Some(Suggestion { sa, below_cents, above_cents });
            }
        }
        Ok(Comfort { low, high, suggestions: list })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::swara::tonic::CONCERT_A4;
    use crate::tonic::test_sound::frame;

    /// A glide down and up between two pitches, evenly in cents.
    fn glide(low: f64, high: f64, frames: u32) -> Glide {
        let mut glide = Glide::new();
        for i in 0..frames {
            let part = 1.0 - (2.0 * f64::from(i) / f64::from(frames) - 1.0).abs();
            glide.push(&frame(Some(high * (low / high).powf(part))));
        }
        glide
    }

    #[test]
    fn two_octaves_suggest_the_sa_whose_pa_bound_them() {
        // Mandra Pa and tara Pa of 2 kattai (D3, 146.832 Hz): 110.124 and 440.497 Hz; a little room at either end.
        let comfort = glide(104.0, 466.0, 2_000).suggest(CONCERT_A4).unwrap();
        let best = comfort.suggestions[0].unwrap();
        assert!((best.sa.0 - 146.832).abs() < 0.01, "{best:?}");
        let reason = best.reason(CONCERT_A4);
        assert_eq!(reason, "2 kattai (D3): mandra Pa and tara Pa are both within easy reach");
        assert!(comfort.suggestions.iter().flatten().count() >= 2);
    }

    #[test]
    fn a_smaller_range_says_what_is_lacking() {
        let comfort = glide(196.0, 523.0, 1_000).suggest(CONCERT_A4).unwrap();
        let best = comfort.suggestions[0].unwrap();
        // The middle of 196 to 523 Hz is 320 Hz, 1.5 times 213 Hz: G#3.
        assert!((best.sa.0 - 207.652).abs() < 0.01, "{best:?}");
        let reason = best.reason(CONCERT_A4);
        assert!(reason.contains("5.5 kattai (G#3)") && reason.contains("semitone"), "{reason}");
    }

    #[test]
    fn a_squeak_does_not_count_and_too_little_is_said() {
        let mut one = glide(104.0, 466.0, 2_000);
        let calm = one.suggest(CONCERT_A4).unwrap().suggestions[0];
        for _ in 0..10 {
            one.push(&frame(Some(990.0)));
        }
        assert_eq!(one.suggest(CONCERT_A4).unwrap().suggestions[0], calm);
        assert!(matches!(glide(104.0, 466.0, 400).suggest(CONCERT_A4), Err(ComfortDoubt::TooShort(_))));
        let narrow = glide(200.0, 300.0, 1_000).suggest(CONCERT_A4).unwrap_err();
        assert!(narrow.to_string().contains("an octave or more"), "{narrow}");
        let mut nothing = Glide::new();
        nothing.push(&frame(Some(f64::NAN)));
        assert!(nothing.suggest(CONCERT_A4).is_err());
    }
}
