//! How fast a sung note beats against the drone: what an ear hears when a note is a little off.
//!
//! In: the voice's pitch, madhya Sa, and how long the note lasted. Out: for the drone's Sa, Pa and upper Sa the beat rate of
//! the strongest pair of partials that nearly coincide: |p f_voice - q f_drone| in hertz, p and q the smallest whole numbers whose
//! ratio q/p is near the interval (Helmholtz, On the Sensations of Tone, ch. 8 and 10). One beat of b hertz takes 1/b seconds, so
//! a shorter note holds none. Beats do not tell up from down; the offset does. Constant cost.

use crate::units::{Cents, Hertz};

/// Highest partial weighed on either side: above the sixth they are weak in a voice (common practice, no source).
const PARTIALS: u8 = 6;
/// Farthest from coincidence that is still heard as beating of that pair, cents. Ratios of numbers up to six lie at least
/// 70 cents apart (6/5 and 5/4), and the nearest one is taken.
const NEAR_CENTS: f64 = 50.0;

/// A tone of the drone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Against {
    /// Madhya Sa.
    Sa,
    /// Pa above it, a pure fifth.
    Pa,
    /// The Sa above that.
    UpperSa,
}

impl Against {
    /// All three, from low to high.
    pub const ALL: [Against; 3] = [Against::Sa, Against::Pa, Against::UpperSa];

    /// The tone's pitch for a drone on `sa`.
    #[must_use]
    pub fn pitch(self, sa: Hertz) -> Hertz {
        match self {
            Against::Sa => sa,
            Against::Pa => Hertz(1.5 * sa.0),
            Against::UpperSa => Hertz(2.0 * sa.0),
        }
    }
}

/// One pair of nearly coinciding partials.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beat {
    /// The drone's tone.
    pub against: Against,
    /// Partial of the voice.
    pub voice_partial: u8,
    /// Partial of the drone's tone.
    pub drone_partial: u8,
    /// Beats per second.
    pub rate_hz: f64,
    /// Whether the note lasted for one beat or more; if not: "no beat within the note".
    pub heard: bool,
}

/// The beat of a voice at `voice` that lasted `seconds` against a tone of the drone on `sa`; `None` where no low
/// partials nearly coincide.
#[must_use]
pub fn beat(voice: Hertz, sa: Hertz, against: Against, seconds: f64) -> Option<Beat> {
    let drone = against.pitch(sa);
    let interval = voice.cents_above(drone)?;
    let mut best: Option<(f64, u8, u8)> = None;
    for voice_partial in 1..=PARTIALS {
        for drone_partial in 1..=PARTIALS {
            let pure = Cents::of_ratio(f64::from(drone_partial) / f64::from(voice_partial));
            let away = (interval.0 - pure.0).abs();
            // Multiples of a pair (2:2 beside 1:1) are equally far; the first, lowest one is kept.
            if away <= NEAR_CENTS && best.is_none_or(|(nearest, ..)| away < nearest - 1e-9) {
                best = Some((away, voice_partial, drone_partial));
            }
        }
    }
    let (_, voice_partial, drone_partial) = best?;
    let rate_hz = (f64::from(voice_partial) * voice.0 - f64::from(drone_partial) * drone.0).abs();
    Some(Beat { against, voice_partial, drone_partial, rate_hz, heard: rate_hz * seconds >= 1.0 })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rate(sa_hz: f64, cents: f64) -> f64 {
        let sa = Hertz(sa_hz);
        beat(sa.up(Cents(cents)), sa, Against::Sa, 1.0).unwrap().rate_hz
    }

    /// Beats per second of the first partial: f (2^(c/1200) - 1), worked out by hand for the usual tonics.
    #[test]
    fn unison_table() {
        let table = [
            (110.0, [0.0636, 0.127, 0.3181, 0.637, 0.957, 1.278, 1.600]),
            (130.813, [0.076, 0.151, 0.378, 0.758, 1.138, 1.520, 1.903]),
            (146.832, [0.085, 0.170, 0.425, 0.851, 1.278, 1.706, 2.136]),
            (195.998, [0.113, 0.227, 0.567, 1.135, 1.706, 2.277, 2.851]),
            (207.652, [0.120, 0.240, 0.601, 1.203, 1.807, 2.413, 3.020]),
            (220.0, [0.127, 0.254, 0.636, 1.274, 1.914, 2.556, 3.200]),
            (261.626, [0.151, 0.302, 0.757, 1.516, 2.277, 3.040, 3.805]),
            (440.0, [0.254, 0.509, 1.273, 2.549, 3.829, 5.113, 6.400]),
        ];
        for (sa, row) in table {
            for (cents, expected) in [1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 25.0].into_iter().zip(row) {
                assert!((rate(sa, cents) - expected).abs() < 6e-4, "{sa} Hz, {cents} c: {}", rate(sa, cents));
            }
        }
        for (sa, expected) in [(110.0, 3.223), (130.813, 3.833), (261.626, 7.666), (440.0, 12.893)] {
            assert!((rate(sa, 49.999) - expected).abs() < 2e-3);
        }
    }

    #[test]
    fn pa_and_ga_against_sa() {
        let pa = 1200.0 * 1.5f64.log2();
        for (off, expected) in [(2.0, 0.454), (5.0, 1.135), (10.0, 2.273), (20.0, 4.560), (-1.955, 0.443)] {
            assert!((rate(130.813, pa + off) - expected).abs() < 1e-3, "Pa {off}: {}", rate(130.813, pa + off));
        }
        let ga = 1200.0 * 1.25f64.log2();
        for (off, expected) in [(5.0, 1.892), (10.0, 3.789), (13.686, 5.191), (21.506, 8.176)] {
            assert!((rate(130.813, ga + off) - expected).abs() < 1e-3, "Ga {off}: {}", rate(130.813, ga + off));
        }
        // The tempered fifth on A4.
        assert!((rate(440.0, 700.0) - 1.490).abs() < 1e-3);
    }

    /// Tuners' tables: the tempered thirds F3-A3 and C4-E4 beat 6.93 and 10.38 times a second.
    #[test]
    fn piano_thirds() {
        let key = |n: f64| Hertz::of_midi_key(n, Hertz(440.0));
        for (low, high, expected) in [(53.0, 57.0, 6.93), (60.0, 64.0, 10.38)] {
            let found = beat(key(high), key(low), Against::Sa, 1.0).unwrap();
            assert_eq!((found.voice_partial, found.drone_partial), (4, 5));
            assert!((found.rate_hz - expected).abs() < 6e-3, "{}", found.rate_hz);
        }
    }

    #[test]
    fn short_note_holds_no_beat() {
        let sa = Hertz(220.0);
        assert!(!beat(sa.up(Cents(2.0)), sa, Against::Sa, 3.0).unwrap().heard);
        assert!(beat(sa.up(Cents(2.0)), sa, Against::Sa, 4.0).unwrap().heard);
        assert!(beat(Hertz(f64::NAN), sa, Against::Sa, 1.0).is_none());
        assert!(beat(sa.up(Cents(100.0)), sa, Against::Sa, 1.0).is_none());
        assert_eq!(beat(Hertz(440.0), sa, Against::UpperSa, 1.0).unwrap().rate_hz, 0.0);
    }
}
