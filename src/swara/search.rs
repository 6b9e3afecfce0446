//! Finds a scale by name in any usual spelling, by number, or by its swaras.
//!
//! In: what a person typed. Out: scales, best first. Method: names are reduced to a form in which the
//! usual ways of writing Indian sounds in Latin letters coincide (dh and d, ee and i, w and v, sh and s,
//! ow and au); unknown names get the one at the smallest edit distance (V. Levenshtein 1966). Cost:
//! some 130 short comparisons. Does not handle Indian scripts.

use crate::swara::janya;
use crate::swara::melakarta::Mela;
use crate::swara::names::Swara;
use crate::swara::phrase::parse_line;
use crate::swara::scale::Scale;

/// A suggestion may differ from what was typed by one letter in so many (chosen so that the names
/// above, which are 8 letters or longer, bear two slips and a five-letter one bears one).
const LETTERS_PER_SLIP: usize = 4;

/// The form in which usual spellings of one name coincide.
#[must_use]
pub fn normalised(name: &str) -> String {
    let mut letters: String = name.to_lowercase().chars().filter(char::is_ascii_alphabetic).collect();
    for (from, to) in [
        ("ow", "au"),
        ("ou", "au"),
        ("ee", "i"),
        ("ea", "i"),
        ("oo", "u"),
        ("aa", "a"),
        ("w", "v"),
        ("ksh", "ks"),
        ("x", "ks"),
        ("z", "l"),
    ] {
        letters = letters.replace(from, to);
    }
    let mut out = String::with_capacity(letters.len());
    for letter in letters.chars() {
        let last = out.chars().last();
        let aspirate = letter == 'h' && last.is_some_and(|l| "bcdgjkpst".contains(l));
        if !aspirate && last != Some(letter) {
            out.push(letter);
        }
    }
    // Mohanam and Mohana, Hindolam and Hindola are one name.
    if out.len() > 4 && out.ends_with("am") {
        out.pop();
    }
    out
}

/// Every name that may be typed, with its scale.
fn all_names() -> impl Iterator<Item = (&'static str, Scale)> {
    let others = [
        ("Sa Pa Sa", Scale::SaPaSa),
        ("Sa Pa", Scale::SaPaSa),
        ("All 12 swarasthanas", Scale::Twelve),
        ("Twelve", Scale::Twelve),
        ("Chromatic", Scale::Twelve),
    ];
    let melas = Mela::all()
        .flat_map(|mela| std::iter::once(mela.name()).chain(mela.aliases()).map(move |name| (name, Scale::Mela(mela))));
    let janyas = janya::JANYAS.iter().map(|raga| (raga.name, Scale::Janya(raga)));
    let janya_aliases = janya::ALIASES.into_iter().filter_map(|(alias, name)| {
        janya::JANYAS.iter().find(|raga| raga.name == name).map(|raga| (alias, Scale::Janya(raga)))
    });
    others.into_iter().chain(melas).chain(janyas).chain(janya_aliases)
}

/// The scale of a name in any usual spelling; `None` where no name is the same.
#[must_use]
pub fn by_name(name: &str) -> Option<Scale> {
    let wanted = normalised(name);
    all_names().find(|(known, _)| !wanted.is_empty() && normalised(known) == wanted).map(|(_, scale)| scale)
}

/// The known name nearest to an unknown one, where one is near.
#[must_use]
pub fn suggestion(name: &str) -> Option<String> {
    let wanted = normalised(name.strip_prefix("janya-").unwrap_or(name));
    let allowed = (wanted.chars().count() / LETTERS_PER_SLIP).max(1);
    let (slips, near) = all_names()
        .map(|(known, _)| (edit_distance(&wanted, &normalised(known)), known))
        .min_by_key(|(slips, _)| *slips)?;
    (wanted.chars().count() > 1 && slips <= allowed).then(|| near.to_owned())
}

/// The scales whose swaras are exactly these (order and registers do not matter).
#[must_use]
pub fn by_swaras(swaras: &[Swara]) -> Vec<Scale> {
    let mut wanted = [None; 12];
    for swara in swaras {
        if let Some(slot) = wanted.get_mut(usize::from(swara.position())) {
            *slot = Some(*swara);
        }
    }
    Scale::built_in().filter(|scale| scale.names() == wanted).collect()
}

/// What a search field shows for what was typed, best first: a melakarta's number, a set of swaras, or
/// names that equal, begin with or contain it; if there are none, the nearest name.
#[must_use]
pub fn search(text: &str) -> Vec<Scale> {
    let text = text.trim();
    if let Some(mela) = text.parse().ok().and_then(|number| Mela::new(number).ok()) {
        return vec![Scale::Mela(mela)];
    }
    if let Ok(steps) = parse_line(text) {
        return by_swaras(&steps.iter().map(|step| step.swara).collect::<Vec<_>>());
    }
    let wanted = normalised(text);
    if wanted.is_empty() {
        return Vec::new();
    }
    let mut ranked: Vec<(u8, Scale)> = Vec::new();
    for (known, scale) in all_names() {
        let name = normalised(known);
        let rank = match name.find(&wanted) {
            Some(0) if name == wanted => 0,
            Some(0) => 1,
            Some(_) => 2,
            None => continue,
        };
        match ranked.iter_mut().find(|(_, other)| *other == scale) {
            Some((other_rank, _)) => *other_rank = rank.min(*other_rank),
            None => ranked.push((rank, scale)),
        }
    }
    ranked.sort_by_key(|(rank, _)| *rank);
    if ranked.is_empty() {
        return suggestion(text).and_then(|name| by_name(&name)).into_iter().collect();
    }
    ranked.into_iter().map(|(_, scale)| scale).collect()
}

/// Insertions, deletions and substitutions between two words.
fn edit_distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, letter) in a.chars().enumerate() {
        let mut diagonal = i;
        let mut left = i + 1;
        for (cell, other) in row.iter_mut().skip(1).zip(&b) {
            let substituted = diagonal + usize::from(letter != *other);
            diagonal = *cell;
            left = substituted.min(left + 1).min(*cell + 1);
            *cell = left;
        }
        row[0] = i + 1;
    }
    row.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn usual_spellings_find_their_raga() {
        // Spellings seen in public lists and concert programmes (common practice, no source).
        for (typed, key) in [
            ("Kalyani", "mela-65"),
            ("kalyaani", "mela-65"),
            ("Todi", "mela-8"),
            ("Thodi", "mela-8"),
            ("Hanumathodi", "mela-8"),
            ("Mayamalavagaula", "mela-15"),
            ("Mayamalava Gowla", "mela-15"),
            ("Maayaamaalavagoula", "mela-15"),
            ("Sankarabharanam", "mela-29"),
            ("Shankarabharanam", "mela-29"),
            ("Dhira Sankarabharanam", "mela-29"),
            ("Pantuvarali", "mela-51"),
            ("Panthuvarali", "mela-51"),
            ("Subhapantuvarali", "mela-45"),
            ("Keeravani", "mela-21"),
            ("Kiravani", "mela-21"),
            ("Karaharapriya", "mela-22"),
            ("Shanmukhapriya", "mela-56"),
            ("Shanmugapriya", "mela-56"),
            ("Simhendramadhyamam", "mela-57"),
            ("Mohana", "janya-mohanam"),
            ("Hamsadhvani", "janya-hamsadhwani"),
            ("Abogi", "janya-abhogi"),
            ("Kamboji", "janya-kambhoji"),
            ("Shuddha Saveri", "janya-suddha-saveri"),
            ("Suddhasaveri", "janya-suddha-saveri"),
            ("Sriragam", "janya-sri"),
            ("Brindavanasaranga", "janya-brindavana-saranga"),
            ("28", "mela-28"),
            ("twelve", "twelve"),
        ] {
            assert_eq!(Scale::find(typed).map(|scale| scale.key()), Ok(key.to_owned()), "{typed}");
        }
    }

    #[test]
    fn no_two_scales_share_a_normalised_name() {
        let names: Vec<(String, Scale)> = all_names().map(|(name, scale)| (normalised(name), scale)).collect();
        for (i, (name, scale)) in names.iter().enumerate() {
            for (other, other_scale) in names.iter().skip(i + 1) {
                assert!(name != other || scale == other_scale, "{name}: {} and {}", scale.name(), other_scale.name());
            }
        }
    }

    #[test]
    fn search_by_part_number_and_swaras() {
        assert_eq!(search("kaly")[0].key(), "mela-65");
        assert!(search("priya").len() >= 8);
        assert_eq!(search("15")[0].key(), "mela-15");
        assert_eq!(search("S R2 G3 P D2").first().map(Scale::key), Some("janya-mohanam".to_owned()));
        assert_eq!(search("S R1 G3 M1 P D1 N3")[0].key(), "mela-15");
        assert_eq!(search("mohanm")[0].key(), "janya-mohanam");
        assert!(search("").is_empty());
    }

    #[test]
    fn distances() {
        // The textbook pair: kitten to sitting takes three edits.
        assert_eq!(edit_distance("kitten", "sitting"), 3);
        assert_eq!(edit_distance("", "abc"), 3);
        assert_eq!(edit_distance("abc", "abc"), 0);
    }
}
