//! What each swara is called, in short and in full, and how its register is written.
//!
//! In: nothing. Out: the 16 names of the 12 swarasthanas, the five registers, their plain-text signs.
//! Method: the 16-name system of P. Sriram, A Karnatic Music Primer, CMANA 1990 (R1 to R3, G1 to G3;
//! not the informal one in which G1 means Sadharana Gandhara). Cost: table look-ups. Does not handle
//! Hindustani names or scripts other than Latin.
//!
//! Plain text (CSV, terminal, typed ragas): one full stop before the name for each register below
//! madhya, one apostrophe after it for each register above: `..P` anumandra, `.P` mandra, `P` madhya,
//! `P'` tara, `P''` atitara. There is no published plain-text standard; this is ours.

use serde::{Deserialize, Serialize};

/// The 16 names of the 12 positions.
#[allow(missing_docs, reason = "the names are the documentation; see `short` and `full_name`")]
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Swara {
    S,
    R1,
    R2,
    R3,
    G1,
    G2,
    G3,
    M1,
    M2,
    P,
    D1,
    D2,
    D3,
    N1,
    N2,
    N3,
}

impl Swara {
    /// All 16 names, in the order of the solfa syllables.
    pub const ALL: [Swara; 16] = {
        use Swara::*;
        [S, R1, R2, R3, G1, G2, G3, M1, M2, P, D1, D2, D3, N1, N2, N3]
    };

    /// Semitone position above Sa, 0 to 11 (16 names on 12 swarasthanas).
    #[must_use]
    pub fn position(self) -> u8 {
        use Swara::*;
        match self {
            S => 0,
            R1 => 1,
            R2 | G1 => 2,
            R3 | G2 => 3,
            G3 => 4,
            M1 => 5,
            M2 => 6,
            P => 7,
            D1 => 8,
            D2 | N1 => 9,
            D3 | N2 => 10,
            N3 => 11,
        }
    }

    /// The short full name used in files: `S R1 R2 ... N3`.
    #[must_use]
    pub fn short(self) -> &'static str {
        use Swara::*;
        match self {
            S => "S",
            R1 => "R1",
            R2 => "R2",
            R3 => "R3",
            G1 => "G1",
            G2 => "G2",
            G3 => "G3",
            M1 => "M1",
            M2 => "M2",
            P => "P",
            D1 => "D1",
            D2 => "D2",
            D3 => "D3",
            N1 => "N1",
            N2 => "N2",
            N3 => "N3",
        }
    }

    /// The name in words, e.g. "Chatushruti Rishabha".
    #[must_use]
    pub fn full_name(self) -> &'static str {
        use Swara::*;
        match self {
            S => "Shadja",
            R1 => "Shuddha Rishabha",
            R2 => "Chatushruti Rishabha",
            R3 => "Shatshruti Rishabha",
            G1 => "Shuddha Gandhara",
            G2 => "Sadharana Gandhara",
            G3 => "Antara Gandhara",
            M1 => "Shuddha Madhyama",
            M2 => "Prati Madhyama",
            P => "Panchama",
            D1 => "Shuddha Dhaivata",
            D2 => "Chatushruti Dhaivata",
            D3 => "Shatshruti Dhaivata",
            N1 => "Shuddha Nishada",
            N2 => "Kaisiki Nishada",
            N3 => "Kakali Nishada",
        }
    }

    /// The syllable that is sung: Sa, Ri, Ga, Ma, Pa, Da, Ni.
    #[must_use]
    pub fn syllable(self) -> &'static str {
        use Swara::*;
        match self {
            S => "Sa",
            R1 | R2 | R3 => "Ri",
            G1 | G2 | G3 => "Ga",
            M1 | M2 => "Ma",
            P => "Pa",
            D1 | D2 | D3 => "Da",
            N1 | N2 | N3 => "Ni",
        }
    }

    /// One plain line about the swara, for a reader who points at its name.
    #[must_use]
    pub fn explanation(self) -> &'static str {
        use Swara::*;
        match self {
            S => "The home note, always in the drone; it has one place only.",
            R1 => "The lowest Ri, one step above Sa.",
            R2 => "The middle Ri, two steps above Sa.",
            R3 => "The highest Ri, three steps above Sa; the place that is called Ga (G2) in other scales.",
            G1 => "The lowest Ga, two steps above Sa; the place that is called Ri (R2) in other scales.",
            G2 => "The middle Ga, three steps above Sa.",
            G3 => "The highest Ga, four steps above Sa; a well-tuned drone sounds it by itself.",
            M1 => "The lower Ma, five steps above Sa.",
            M2 => "The higher Ma, six steps above Sa, just below Pa.",
            P => "The fifth, seven steps above Sa; like Sa it has one place only.",
            D1 => "The lowest Da, one step above Pa.",
            D2 => "The middle Da, two steps above Pa.",
            D3 => "The highest Da, three steps above Pa; the place that is called Ni (N2) in other scales.",
            N1 => "The lowest Ni, two steps above Pa; the place that is called Da (D2) in other scales.",
            N2 => "The middle Ni, two steps below the upper Sa.",
            N3 => "The highest Ni, one step below the upper Sa.",
        }
    }

    /// The name at a position in all 12 swarasthanas when no scale decides: S R1 R2 G2 G3 M1 M2 P D1
    /// D2 N2 N3 (common practice, no source). Positions beyond 11 fold.
    #[must_use]
    pub fn chromatic(position: u8) -> Swara {
        use Swara::*;
        match position % 12 {
            0 => S,
            1 => R1,
            2 => R2,
            3 => G2,
            4 => G3,
            5 => M1,
            6 => M2,
            7 => P,
            8 => D1,
            9 => D2,
            10 => N2,
            _ => N3,
        }
    }

    /// The swara with this short name, in any case.
    #[must_use]
    pub fn from_short(name: &str) -> Option<Swara> {
        Swara::ALL.into_iter().find(|swara| swara.short().eq_ignore_ascii_case(name))
    }
}

impl std::fmt::Display for Swara {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(self.short())
    }
}

/// The register (sthayi): -2 anumandra, -1 mandra, 0 madhya, 1 tara, 2 atitara.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default, Serialize, Deserialize)]
pub struct Sthayi(pub i8);

impl Sthayi {
    /// The lowest register.
    pub const ANUMANDRA: Sthayi = Sthayi(-2);
    /// The register below the middle one.
    pub const MANDRA: Sthayi = Sthayi(-1);
    /// The middle register: the one from the stated Sa upwards.
    pub const MADHYA: Sthayi = Sthayi(0);
    /// The register above the middle one.
    pub const TARA: Sthayi = Sthayi(1);
    /// The highest register.
    pub const ATITARA: Sthayi = Sthayi(2);

    /// The register's name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self.0 {
            i8::MIN..=-2 => "anumandra",
            -1 => "mandra",
            0 => "madhya",
            1 => "tara",
            2.. => "atitara",
        }
    }
}

/// A swara in its register, e.g. mandra Pa; printed `.P`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Step {
    /// The swara.
    pub swara: Swara,
    /// Its register.
    pub sthayi: Sthayi,
}

impl Step {
    /// Equal-tempered steps above madhya Sa, negative below.
    #[must_use]
    pub fn height(self) -> i32 {
        i32::from(self.swara.position()) + 12 * i32::from(self.sthayi.0)
    }
}

impl std::fmt::Display for Step {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let octaves = usize::from(self.sthayi.0.unsigned_abs()).min(2);
        match self.sthayi.0 {
            0 => write!(f, "{}", self.swara),
            1.. => write!(f, "{}{}", self.swara, &"''"[..octaves]),
            _ => write!(f, "{}{}", &".."[..octaves], self.swara),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sixteen_names_on_twelve_positions() {
        // P. Sriram, A Karnatic Music Primer, CMANA 1990: 12 swarasthanas, four of them with two names.
        let mut count = [0u8; 12];
        for swara in Swara::ALL {
            count[usize::from(swara.position())] += 1;
        }
        assert_eq!(count, [1, 1, 2, 2, 1, 1, 1, 1, 1, 2, 2, 1]);
    }

    #[test]
    fn names_are_distinct_and_read_back() {
        for (i, a) in Swara::ALL.into_iter().enumerate() {
            assert_eq!(Swara::from_short(a.short()), Some(a));
            assert_eq!(Swara::from_short(&a.short().to_lowercase()), Some(a));
            for b in Swara::ALL.into_iter().skip(i + 1) {
                assert_ne!(a.full_name(), b.full_name());
                assert_ne!(a.explanation(), b.explanation());
            }
        }
        assert_eq!(Swara::from_short("R4"), None);
    }

    #[test]
    fn chromatic_names_sit_at_their_positions() {
        for position in 0..12 {
            assert_eq!(Swara::chromatic(position).position(), position);
        }
    }

    #[test]
    fn registers_are_written_with_dots_and_apostrophes() {
        let written: Vec<String> =
            (-2..=2).map(|octave| Step { swara: Swara::P, sthayi: Sthayi(octave) }.to_string()).collect();
        assert_eq!(written, ["..P", ".P", "P", "P'", "P''"]);
        assert_eq!(Sthayi::MANDRA.name(), "mandra");
        assert_eq!(Step { swara: Swara::N3, sthayi: Sthayi::MANDRA }.height(), -1);
    }
}
