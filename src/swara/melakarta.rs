//! The 72 parent scales (melakarta): number, name, chakra and swaras.
//!
//! In: a number from 1 to 72. Out: the seven swaras. Method: the rule of the scheme (Govinda's, the
//! sampurna names): M1 up to 36, M2 after; the Ri and Ga pair changes every six numbers, the Da and Ni
//! pair with every number. Names compared with librosa 0.11 (after S. Bhagyalekshmy 1990). Cost: a few
//! divisions. Does not handle the asampurna names of the Dikshitar school.

use crate::swara::names::Swara;

/// A melakarta: a number from 1 to 72.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Mela(u8);

/// A number outside 1 to 72.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MelaError(pub u32);

impl std::fmt::Display for MelaError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "there is no melakarta {}: the numbers go from 1 to 72", self.0)
    }
}

impl std::error::Error for MelaError {}

/// The Ri and Ga pairs, in the order of the rule.
const RI_GA: [(Swara, Swara); 6] = [
    (Swara::R1, Swara::G1),
    (Swara::R1, Swara::G2),
    (Swara::R1, Swara::G3),
    (Swara::R2, Swara::G2),
    (Swara::R2, Swara::G3),
    (Swara::R3, Swara::G3),
];

/// The Da and Ni pairs, in the order of the rule.
const DA_NI: [(Swara, Swara); 6] = [
    (Swara::D1, Swara::N1),
    (Swara::D1, Swara::N2),
    (Swara::D1, Swara::N3),
    (Swara::D2, Swara::N2),
    (Swara::D2, Swara::N3),
    (Swara::D3, Swara::N3),
];

/// The twelve groups of six; each name stands for its own number.
const CHAKRAS: [&str; 12] =
    ["Indu", "Netra", "Agni", "Veda", "Bana", "Rutu", "Rishi", "Vasu", "Brahma", "Disi", "Rudra", "Aditya"];

/// Names 1 to 72.
#[rustfmt::skip]
const NAMES: [&str; 72] = [
    "Kanakangi", "Ratnangi", "Ganamurti", "Vanaspati", "Manavati", "Tanarupi",
    "Senavati", "Hanumatodi", "Dhenuka", "Natakapriya", "Kokilapriya", "Rupavati",
    "Gayakapriya", "Vakulabharanam", "Mayamalavagowla", "Chakravakam", "Suryakantam", "Hatakambari",
    "Jhankaradhvani", "Natabhairavi", "Keeravani", "Kharaharapriya", "Gourimanohari", "Varunapriya",
    "Mararanjani", "Charukesi", "Sarasangi", "Harikambhoji", "Dheerasankarabharanam", "Naganandini",
    "Yagapriya", "Ragavardhini", "Gangeyabhushani", "Vagadheeswari", "Shulini", "Chalanata",
    "Salagam", "Jalarnavam", "Jhalavarali", "Navaneetam", "Pavani", "Raghupriya",
    "Gavambhodi", "Bhavapriya", "Shubhapantuvarali", "Shadvidamargini", "Suvarnangi", "Divyamani",
    "Dhavalambari", "Namanarayani", "Kamavardhini", "Ramapriya", "Gamanashrama", "Vishvambari",
    "Shyamalangi", "Shanmukhapriya", "Simhendramadhyamam", "Hemavati", "Dharmavati", "Neetimati",
    "Kantamani", "Rishabhapriya", "Latangi", "Vachaspati", "Mechakalyani", "Chitrambari",
    "Sucharitra", "Jyotiswarupini", "Dhatuvardhani", "Nasikabhushani", "Kosalam", "Rasikapriya",
];

/// Names in use that a change of spelling does not explain (common practice; Chakravakom as in librosa).
const ALIASES: [(u8, &str); 10] = [
    (8, "Todi"),
    (15, "Malavagowla"),
    (16, "Chakravakom"),
    (25, "Mararanjini"),
    (29, "Shankarabharanam"),
    (36, "Nata"),
    (51, "Pantuvarali"),
    (56, "Shanmugapriya"),
    (65, "Kalyani"),
    (69, "Dhatuvardhini"),
];

impl Mela {
    /// The melakarta `number`.
    ///
    /// # Errors
    /// [`MelaError`] unless 1 to 72.
    pub fn new(number: u32) -> Result<Mela, MelaError> {
        u8::try_from(number).ok().filter(|n| (1..=72).contains(n)).map(Mela).ok_or(MelaError(number))
    }

    /// All 72, in order.
    pub fn all() -> impl Iterator<Item = Mela> {
        (1..=72).map(Mela)
    }

    /// 1 to 72.
    #[must_use]
    pub fn number(self) -> u8 {
        self.0
    }

    /// The usual name.
    #[must_use]
    pub fn name(self) -> &'static str {
        NAMES.get(usize::from(self.0) - 1).copied().unwrap_or("")
    }

    /// Other names in use.
    pub fn aliases(self) -> impl Iterator<Item = &'static str> {
        ALIASES.into_iter().filter(move |(number, _)| *number == self.0).map(|(_, alias)| alias)
    }

    /// The chakra's number, 1 to 12, and name; its six melas share Ri, Ga and Ma.
    #[must_use]
    pub fn chakra(self) -> (u8, &'static str) {
        let index = (self.0 - 1) / 6;
        (index + 1, CHAKRAS.get(usize::from(index)).copied().unwrap_or(""))
    }

    /// S R G M P D N, each with its number.
    #[must_use]
    pub fn swaras(self) -> [Swara; 7] {
        let index = usize::from(self.0 - 1);
        let ma = if self.0 <= 36 { Swara::M1 } else { Swara::M2 };
        let (ri, ga) = RI_GA[index % 36 / 6];
        let (da, ni) = DA_NI[index % 6];
        [Swara::S, ri, ga, ma, Swara::P, da, ni]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::swara::search::normalised;

    /// librosa 0.11.0's own table; see tests/data/melakarta-librosa.md.
    const LIBROSA: &str = include_str!("../../tests/data/melakarta-librosa.csv");

    #[test]
    fn all_72_agree_with_librosa() {
        let mut rows = 0;
        for line in LIBROSA.lines().skip(1) {
            let [number, name, semitones, svaras] = line.split(',').collect::<Vec<_>>()[..] else { panic!("{line}") };
            let mela = Mela::new(number.parse().unwrap()).unwrap();
            let ours: Vec<String> = mela.swaras().iter().map(|s| s.position().to_string()).collect();
            assert_eq!(ours.join(" "), semitones, "{number}");
            assert_eq!(mela.swaras().map(Swara::short).join(" "), svaras, "{number}");
            let spelled = normalised(name);
            assert!(
                normalised(mela.name()) == spelled || mela.aliases().any(|alias| normalised(alias) == spelled),
                "{number}: {} is not {name}",
                mela.name()
            );
            rows += 1;
        }
        assert_eq!(rows, 72);
    }

    #[test]
    fn chakras_share_ri_ga_ma() {
        for mela in Mela::all() {
            let first = Mela::new(u32::from((mela.chakra().0 - 1) * 6 + 1)).unwrap();
            assert_eq!(mela.swaras()[..4], first.swaras()[..4]);
        }
        assert_eq!(Mela::new(15).unwrap().chakra(), (3, "Agni"));
        assert_eq!(Mela::new(72).unwrap().chakra(), (12, "Aditya"));
    }

    #[test]
    fn numbers_outside_are_refused() {
        for number in [0, 73, 1000] {
            assert_eq!(Mela::new(number), Err(MelaError(number)));
        }
        assert!(MelaError(73).to_string().contains("1 to 72"));
    }
}
