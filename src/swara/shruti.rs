//! The list of 22 shrutis that many books print, as named reference positions and nothing more.
//!
//! In: nothing. Out: 22 names with ratios and the swarasthana each lies near. Method: the ratios as
//! modern authors print them (associated with P. Sambamoorthy); cents computed. Cost: none. Does not
//! handle the other lists in print (64/45 for 729/512, 40/27 as a low Pa), which differ; never a
//! target table of its own. See [`CAUTION`].

use crate::units::Cents;

/// What has to stand beside the list wherever it is shown.
pub const CAUTION: &str = "These 22 ratios are modern reconstructions: the old books describe shrutis by ear and \
give no ratios, and tracked performances show 12 flexible places in an octave, not 22 fixed ones. Take them as \
names for reference positions, not as the pitches to sing.";

/// One named reference position.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shruti {
    /// The name in the books; a vocabulary apart from the 16 swara names.
    pub name: &'static str,
    /// Swarasthana it lies near, 0 to 11.
    pub position: u8,
    /// Numerator and denominator above Sa.
    pub ratio: (u32, u32),
}

impl Shruti {
    /// Cents above Sa.
    #[must_use]
    pub fn cents(&self) -> Cents {
        Cents::of_ratio(f64::from(self.ratio.0) / f64::from(self.ratio.1))
    }
}

/// A row of the table.
const fn row(name: &'static str, position: u8, ratio: (u32, u32)) -> Shruti {
    Shruti { name, position, ratio }
}

/// The 22, rising. Ratios as in `shruti22`-type files of the Scala archive (M. Op de Coul); names 8 to
/// 22 common practice, no source.
pub const SHRUTIS: [Shruti; 22] = [
    row("Shadja", 0, (1, 1)),
    row("Ekasruti Rishabha", 1, (256, 243)),
    row("Dvisruti Rishabha", 1, (16, 15)),
    row("Trisruti Rishabha", 2, (10, 9)),
    row("Chatussruti Rishabha", 2, (9, 8)),
    row("Komala Sadharana Gandhara", 3, (32, 27)),
    row("Sadharana Gandhara", 3, (6, 5)),
    row("Antara Gandhara", 4, (5, 4)),
    row("Chyuta Madhyama Gandhara", 4, (81, 64)),
    row("Suddha Madhyama", 5, (4, 3)),
    row("Tivra Suddha Madhyama", 5, (27, 20)),
    row("Prati Madhyama", 6, (45, 32)),
    row("Chyuta Panchama Madhyama", 6, (729, 512)),
    row("Panchama", 7, (3, 2)),
    row("Ekasruti Dhaivata", 8, (128, 81)),
    row("Dvisruti Dhaivata", 8, (8, 5)),
    row("Trisruti Dhaivata", 9, (5, 3)),
    row("Chatussruti Dhaivata", 9, (27, 16)),
    row("Komala Kaisiki Nishada", 10, (16, 9)),
    row("Kaisiki Nishada", 10, (9, 5)),
    row("Kakali Nishada", 11, (15, 8)),
    row("Chyuta Shadja Nishada", 11, (243, 128)),
];

/// The shruti nearest to a pitch `cents` above Sa (folded into the octave) and the signed distance.
#[must_use]
pub fn nearest(cents: Cents) -> (Shruti, Cents) {
    let distance = |shruti: &Shruti| {
        let apart = cents.0 - shruti.cents().0;
        apart - 1200.0 * (apart / 1200.0).round()
    };
    let mut best = (SHRUTIS[0], Cents(distance(&SHRUTIS[0])));
    for shruti in &SHRUTIS[1..] {
        let apart = distance(shruti);
        if apart.abs() < best.1.0.abs() {
            best = (*shruti, Cents(apart));
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twenty_two_rising_within_a_comma_of_their_swarasthana() {
        for pair in SHRUTIS.windows(2) {
            assert!(pair[0].cents().0 < pair[1].cents().0);
        }
        for shruti in &SHRUTIS {
            // No shruti of the list lies further than a syntonic comma (81/80, 21.51 cents) from its step.
            assert!((shruti.cents().0 - 100.0 * f64::from(shruti.position)).abs() < 21.51, "{}", shruti.name);
        }
    }

    #[test]
    fn nearest_is_signed_and_folds() {
        let (shruti, apart) = nearest(Cents(1195.0));
        assert_eq!(shruti.name, "Shadja");
        assert!((apart.0 + 5.0).abs() < 1e-9);
        assert_eq!(nearest(Cents(885.0)).0.name, "Trisruti Dhaivata");
    }
}
