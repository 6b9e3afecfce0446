//! Forty ragas (janya) for beginners and early students, each with its way up and its way down.
//!
//! In: nothing. Out: names, parent melakarta, arohana and avarohana (zigzag where the raga turns), and
//! how well sourced each is. Method: a table typed from public raga lists and lesson pages; scales are
//! traditional. Cost: none. Does not handle what makes a raga more than its scale: foreign notes,
//! characteristic phrases, gamaka. No raga is judged by its parent's missing notes.

/// How well a row is sourced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seen {
    /// The same scale in two or more public lists, which may share an ancestor.
    TwoOrMoreLists,
    /// In one public list.
    OneList,
    /// Common practice, no source.
    Practice,
}

impl Seen {
    /// The mark in words.
    #[must_use]
    pub fn in_words(self) -> &'static str {
        match self {
            Self::TwoOrMoreLists => "the same in two or more public lists",
            Self::OneList => "in one public list",
            Self::Practice => "common practice, no source",
        }
    }
}

/// One raga.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Janya {
    /// The usual name.
    pub name: &'static str,
    /// Number of the melakarta it is said to come from; convention, and lists differ.
    pub parent: u8,
    /// The way up, in the plain-text form of [`crate::swara::names`].
    pub arohana: &'static str,
    /// The way down.
    pub avarohana: &'static str,
    /// How well this row is sourced.
    pub seen: Seen,
    /// Variants and cautions; may be empty.
    pub note: &'static str,
}

/// A row of the table.
const fn row(
    name: &'static str,
    parent: u8,
    arohana: &'static str,
    avarohana: &'static str,
    (seen, note): (Seen, &'static str),
) -> Janya {
    Janya { name, parent, arohana, avarohana, seen, note }
}

/// The forty, easiest first, as beginners' books tend to order them.
#[rustfmt::skip]
pub const JANYAS: [Janya; 40] = [
    row("Malahari", 15, "S R1 M1 P D1 S'", "S' D1 P M1 G3 R1 S",
        (Seen::TwoOrMoreLists, "no Ni, so 13 and 14 fit too")),
    row("Mohanam", 28, "S R2 G3 P D2 S'", "S' D2 P G3 R2 S", (Seen::TwoOrMoreLists, "other lists: parent 65")),
    row("Suddha Saveri", 29, "S R2 M1 P D2 S'", "S' D2 P M1 R2 S",
        (Seen::TwoOrMoreLists, "other lists: parent 22, 28")),
    row("Hamsadhwani", 29, "S R2 G3 P N3 S'", "S' N3 P G3 R2 S", (Seen::TwoOrMoreLists, "")),
    row("Abhogi", 22, "S R2 G2 M1 D2 S'", "S' D2 M1 G2 R2 S", (Seen::TwoOrMoreLists, "")),
    row("Hindolam", 20, "S G2 M1 D1 N2 S'", "S' N2 D1 M1 G2 S",
        (Seen::TwoOrMoreLists, "other lists: parent 8; no Ri, no Pa: Ma drone")),
    row("Bilahari", 29, "S R2 G3 P D2 S'", "S' N3 D2 P M1 G3 R2 S",
        (Seen::TwoOrMoreLists, "N2 also in some phrases")),
    row("Arabhi", 29, "S R2 M1 P D2 S'", "S' N3 D2 P M1 G3 R2 S", (Seen::TwoOrMoreLists, "G3, N3 weak")),
    row("Kambhoji", 28, "S R2 G3 M1 P D2 S'", "S' N2 D2 P M1 G3 R2 S",
        (Seen::OneList, "N3 in the phrase S' N3 P D2 S'")),
    row("Sri", 22, "S R2 M1 P N2 S'", "S' N2 P D2 N2 P M1 R2 G2 R2 S",
        (Seen::OneList, "also called Sriragam; some drop the P D2 N2 P turn")),
    row("Madhyamavati", 22, "S R2 M1 P N2 S'", "S' N2 P M1 R2 S", (Seen::TwoOrMoreLists, "")),
    row("Anandabhairavi", 20, "S G2 R2 G2 M1 P D2 P S'", "S' N2 D2 P M1 G2 R2 S",
        (Seen::TwoOrMoreLists, "other lists: parent 22; G3, D1 as occasional foreign notes")),
    row("Kedaragowla", 28, "S R2 M1 P N2 S'", "S' N2 D2 P M1 G3 R2 S", (Seen::OneList, "")),
    row("Saveri", 15, "S R1 M1 P D1 S'", "S' N3 D1 P M1 G3 R1 S", (Seen::OneList, "")),
    row("Gowla", 15, "S R1 M1 P N3 S'", "S' N3 P M1 G3 R1 S",
        (Seen::OneList, "many give a zigzag descent M1 R1 G3 M1 R1 S")),
    row("Suddha Dhanyasi", 22, "S G2 M1 P N2 S'", "S' N2 P M1 G2 S", (Seen::OneList, "other lists: parent 20")),
    row("Abheri", 22, "S G2 M1 P N2 S'", "S' N2 D2 P M1 G2 R2 S",
        (Seen::TwoOrMoreLists, "other lists: parent 20, D1; D1 vs D2 differs by school")),
    row("Dhanyasi", 8, "S G2 M1 P N2 S'", "S' N2 D1 P M1 G2 R1 S", (Seen::OneList, "")),
    row("Kapi", 22, "S R2 M1 P N3 S'", "S' N2 D2 N2 P M1 G2 R2 S",
        (Seen::TwoOrMoreLists, "one list omits the second N2")),
    row("Bhairavi", 20, "S R2 G2 M1 P D2 N2 S'", "S' N2 D1 P M1 G2 R2 S",
        (Seen::TwoOrMoreLists, "two Dhaivatas; not the northern Bhairavi")),
    row("Kedaram", 29, "S M1 G3 M1 P N3 S'", "S' N3 P M1 G3 R2 S", (Seen::TwoOrMoreLists, "")),
    row("Begada", 29, "S G3 R2 G3 M1 P D2 P S'", "S' N3 D2 P M1 G3 R2 S",
        (Seen::TwoOrMoreLists, "another list: ... P D2 N2 D2 P S'")),
    row("Atana", 29, "S R2 M1 P N3 S'", "S' N3 D2 P M1 P G3 R2 S", (Seen::TwoOrMoreLists, "")),
    row("Sahana", 28, "S R2 G3 M1 P M1 D2 N2 S'", "S' N2 D2 P M1 G3 M1 R2 S",
        (Seen::OneList, "others end ... M1 R2 G3 R2 S")),
    row("Ritigowla", 22, "S G2 R2 G2 M1 N2 D2 M1 N2 N2 S'", "S' N2 D2 M1 G2 M1 P M1 G2 R2 S",
        (Seen::TwoOrMoreLists, "")),
    row("Sriranjani", 22, "S R2 G2 M1 D2 N2 S'", "S' N2 D2 M1 G2 R2 S", (Seen::TwoOrMoreLists, "")),
    row("Amritavarshini", 66, "S G3 M2 P N3 S'", "S' N3 P M2 G3 S", (Seen::TwoOrMoreLists, "")),
    row("Hamsanandi", 53, "S R1 G3 M2 D2 N3 S'", "S' N3 D2 M2 G3 R1 S", (Seen::OneList, "no Pa")),
    row("Ranjani", 59, "S R2 G2 M2 D2 S'", "S' N3 D2 M2 G2 R2 S", (Seen::OneList, "others: ... M2 G2 S")),
    row("Valaji", 28, "S G3 P D2 N2 S'", "S' N2 D2 P G3 S", (Seen::OneList, "other lists: parent 16")),
    row("Revati", 2, "S R1 M1 P N2 S'", "S' N2 P M1 R1 S", (Seen::OneList, "")),
    row("Khamas", 28, "S M1 G3 M1 P D2 N2 S'", "S' N2 D2 P M1 G3 R2 S",
        (Seen::Practice, "another printed ascent: S M1 G3 M1 N2 D2 N2 P D2 N2 S'")),
    row("Kanada", 22, "S R2 G2 M1 D2 N2 S'", "S' N2 P M1 G2 M1 R2 S", (Seen::OneList, "")),
    row("Mukhari", 22, "S R2 M1 P N2 D2 S'", "S' N2 D1 P M1 G2 R2 S", (Seen::OneList, "")),
    row("Saramati", 20, "S R2 G2 M1 P D1 N2 S'", "S' N2 D1 M1 G2 S", (Seen::TwoOrMoreLists, "")),
    row("Nalinakanti", 27, "S G3 R2 M1 P N3 S'", "S' N3 P M1 G3 R2 S",
        (Seen::Practice, "one list prints the ascent S R2 G3 M1 P N3 S'")),
    row("Kuntalavarali", 28, "S M1 P D2 N2 D2 S'", "S' N2 D2 P M1 S", (Seen::OneList, "")),
    row("Nagaswaravali", 28, "S G3 M1 P D2 S'", "S' D2 P M1 G3 S", (Seen::OneList, "")),
    row("Brindavana Saranga", 22, "S R2 M1 P N3 S'", "S' N2 P M1 R2 S", (Seen::OneList, "some add G2 in descent")),
    row("Behag", 29, "S G3 M1 P N3 D2 N3 S'", "S' N3 D2 P M1 G3 R2 S",
        (Seen::TwoOrMoreLists, "second list adds M2 and a zigzag in the descent")),
];

/// Other names in use that a change of spelling does not explain (common practice).
pub const ALIASES: [(&str, &str); 4] =
    [("Sriragam", "Sri"), ("Sree Ragam", "Sri"), ("Karnataka Devagandhari", "Abheri"), ("Bihag", "Behag")];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::swara::melakarta::Mela;
    use crate::swara::phrase::parse_line;

    #[test]
    fn every_line_reads_and_runs_from_sa_to_sa() {
        for janya in &JANYAS {
            let up = parse_line(janya.arohana).unwrap();
            let down = parse_line(janya.avarohana).unwrap();
            assert_eq!((up[0].height(), up[up.len() - 1].height()), (0, 12), "{}", janya.name);
            assert_eq!((down[0].height(), down[down.len() - 1].height()), (12, 0), "{}", janya.name);
        }
    }

    #[test]
    fn most_swaras_come_from_the_parent() {
        // Common practice: a janya takes its parent's swaras; these have foreign ones (bhashanga).
        let foreign = ["Anandabhairavi", "Kapi", "Bhairavi", "Atana", "Ritigowla", "Mukhari", "Brindavana Saranga"];
        for janya in &JANYAS {
            let parent = Mela::new(u32::from(janya.parent)).unwrap().swaras();
            let all = [parse_line(janya.arohana).unwrap(), parse_line(janya.avarohana).unwrap()].concat();
            let outside = all.iter().any(|step| !parent.contains(&step.swara));
            assert!(!outside || foreign.contains(&janya.name), "{}", janya.name);
        }
    }

    #[test]
    fn names_are_distinct_and_aliases_point_somewhere() {
        for (i, a) in JANYAS.iter().enumerate() {
            assert!(JANYAS.iter().skip(i + 1).all(|b| a.name != b.name), "{}", a.name);
        }
        for (_, name) in ALIASES {
            assert!(JANYAS.iter().any(|janya| janya.name == name), "{name}");
        }
    }
}
