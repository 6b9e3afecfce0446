//! How strong each harmonic of the test voice is: the fall of the source and the resonances of a vowel.
//!
//! In: a vowel (or a mixture of two) and a frequency in hertz. Out: an amplitude, 1 at low frequencies before the
//! first formant. Formant frequencies of the grown woman: Peterson and Barney 1952, table II; bandwidths and the
//! cascade of two-pole resonances: Klatt 1980. Fixed upper formants stand for the rest of the tract.

/// An open vowel of the swara names: Sa, Pa, Ga, Ma, Dha have `A`; Ri, Ni have `I`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Vowel {
    /// As in Sa.
    #[default]
    A,
    /// As in Ri.
    I,
    /// As in the hummed U.
    U,
}

/// Formants of a voice, hertz, and how wide each is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tract {
    formants_hz: [f64; FORMANTS],
}

/// Resonances that are modelled.
const FORMANTS: usize = 5;

/// Bandwidths, hertz (Klatt 1980, table I and the rule of section II; typical values of vowels).
const WIDTHS_HZ: [f64; FORMANTS] = [80.0, 100.0, 140.0, 250.0, 300.0];

/// The fourth and fifth formant, alike for all vowels, hertz (Klatt 1980's default 3300 and 3750 for a man,
/// raised by a sixth for the shorter tract of a woman).
const UPPER_HZ: [f64; 2] = [3850.0, 4375.0];

impl Tract {
    /// The tract of a vowel.
    #[must_use]
    pub fn of(vowel: Vowel) -> Self {
        // Peterson and Barney 1952, women: the vowels of "hod", "heed", "who'd".
        let [one, two, three] = match vowel {
            Vowel::A => [850.0, 1220.0, 2810.0],
            Vowel::I => [310.0, 2790.0, 3310.0],
            Vowel::U => [370.0, 950.0, 2670.0],
        };
        Self { formants_hz: [one, two, three, UPPER_HZ[0], UPPER_HZ[1]] }
    }

    /// A tract `part` (0 to 1) of the way to another.
    #[must_use]
    pub fn towards(self, other: Self, part: f64) -> Self {
        let mut formants_hz = self.formants_hz;
        for (mine, theirs) in formants_hz.iter_mut().zip(other.formants_hz) {
            *mine += part * (theirs - *mine);
        }
        Self { formants_hz }
    }

    /// Amplitude at `hz`: the product of two-pole resonances, each 1 at zero frequency, times the source, which
    /// falls by 6 dB an octave (12 of the glottis less 6 of the radiation at the lips) above `fundamental_hz`.
    #[must_use]
    pub fn amplitude(&self, hz: f64, fundamental_hz: f64) -> f64 {
        let resonances = self.formants_hz.iter().zip(WIDTHS_HZ).map(|(centre, width)| {
            let squared = centre * centre;
            squared / ((squared - hz * hz).powi(2) + (width * hz).powi(2)).sqrt()
        });
        resonances.product::<f64>() * fundamental_hz / hz.max(fundamental_hz)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formants_stand_out_and_the_rest_falls() {
        let a = Tract::of(Vowel::A);
        assert!(a.amplitude(850.0, 200.0) > 3.0 * a.amplitude(400.0, 200.0));
        assert!(a.amplitude(8000.0, 200.0) < 0.01 * a.amplitude(850.0, 200.0));
        let half = a.towards(Tract::of(Vowel::I), 0.5);
        assert!((half.formants_hz[0] - 580.0).abs() < 1e-9);
    }
}
