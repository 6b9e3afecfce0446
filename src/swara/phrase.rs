//! Reads a line of swaras as a teacher would type it.
//!
//! In: text such as `S R2 G3 P D2 S'`, swaras apart by spaces or commas. Out: [`Step`]s, or an error
//! that shows the word at fault and how to write it. Method: the plain-text form of
//! [`crate::swara::names`]; `Sa`, `Ri2`, `ga3`, `Dha1` are understood too, in any case. Cost: one pass.
//! Does not handle time signs (comma as a hold, semicolon, bars).

use crate::swara::names::{Step, Sthayi, Swara};

/// The longest line, in swaras: more than any scale in the books, few enough to fit a window.
pub const MAX_STEPS: usize = 32;

/// What is wrong with a line of swaras.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PhraseError {
    /// Nothing was typed.
    Empty,
    /// More than [`MAX_STEPS`].
    TooLong(usize),
    /// A word that is no swara.
    NotASwara(String),
    /// R, G, M, D or N without its number: the word and the names it may mean.
    WhichOne(String, &'static str),
    /// Below anumandra or above atitara.
    OutOfRegister(String),
}

impl std::fmt::Display for PhraseError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Empty => write!(f, "no swaras: type them with spaces between, for example S R2 G3 P D2 S'"),
            Self::TooLong(count) => write!(f, "{count} swaras are too many for one line: at most {MAX_STEPS}"),
            Self::NotASwara(word) => write!(
                f,
                "\"{word}\" is not a swara: use S R1 R2 R3 G1 G2 G3 M1 M2 P D1 D2 D3 N1 N2 N3, S' for the upper Sa, \
                 .P for mandra Pa"
            ),
            Self::WhichOne(word, names) => write!(f, "\"{word}\" has no number: write {names}"),
            Self::OutOfRegister(word) => write!(f, "\"{word}\" has too many dots or apostrophes: at most two"),
        }
    }
}

impl std::error::Error for PhraseError {}

/// Reads one line.
///
/// # Errors
/// [`PhraseError`] shows the first word at fault.
pub fn parse_line(line: &str) -> Result<Vec<Step>, PhraseError> {
    let words = line.split(|c: char| c.is_whitespace() || c == ',').filter(|word| !word.is_empty());
    let steps: Vec<Step> = words.map(parse_step).collect::<Result<_, _>>()?;
    match steps.len() {
        0 => Err(PhraseError::Empty),
        count if count > MAX_STEPS => Err(PhraseError::TooLong(count)),
        _ => Ok(steps),
    }
}

/// Reads one word.
fn parse_step(word: &str) -> Result<Step, PhraseError> {
    // Word processors turn an apostrophe into its curly forms.
    let is_tick = |c: char| matches!(c, '\'' | '\u{2019}' | '\u{2032}');
    let body = word.trim_start_matches('.');
    let below = word.len() - body.len();
    let name = body.trim_end_matches(is_tick);
    let above = body[name.len()..].chars().count();
    if below > 2 || above > 2 || (below > 0 && above > 0) {
        return Err(PhraseError::OutOfRegister(word.to_owned()));
    }
    let swara = parse_name(name).map_err(|which| match which {
        Some(names) => PhraseError::WhichOne(word.to_owned(), names),
        None => PhraseError::NotASwara(word.to_owned()),
    })?;
    let octave = i8::try_from(above).unwrap_or(0) - i8::try_from(below).unwrap_or(0);
    Ok(Step { swara, sthayi: Sthayi(octave) })
}

/// The swara of a name; the error tells which numbered names a bare one may mean.
fn parse_name(name: &str) -> Result<Swara, Option<&'static str>> {
    let lower = name.to_ascii_lowercase();
    let letters = lower.trim_end_matches(|c: char| c.is_ascii_digit());
    let number = &lower[letters.len()..];
    let (letter, choices) = match letters {
        "s" | "sa" => ("S", None),
        "r" | "ri" | "re" => ("R", Some("R1, R2 or R3")),
        "g" | "ga" => ("G", Some("G1, G2 or G3")),
        "m" | "ma" => ("M", Some("M1 or M2")),
        "p" | "pa" => ("P", None),
        "d" | "da" | "dha" => ("D", Some("D1, D2 or D3")),
        "n" | "ni" => ("N", Some("N1, N2 or N3")),
        _ => return Err(None),
    };
    match choices {
        Some(names) if number.is_empty() => Err(Some(names)),
        _ => Swara::from_short(&format!("{letter}{number}")).ok_or(None),
    }
}

/// Writes a line in the form that [`parse_line`] reads.
#[must_use]
pub fn print_line(steps: &[Step]) -> String {
    steps.iter().map(Step::to_string).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forms_of_typing() {
        let steps = parse_line("  sa Ri2,g3  Pa dha2 S\u{2019} ..n3 .P R2''").unwrap();
        assert_eq!(print_line(&steps), "S R2 G3 P D2 S' ..N3 .P R2''");
        assert_eq!(parse_line(&print_line(&steps)), Ok(steps));
    }

    #[test]
    fn errors_show_the_word() {
        assert_eq!(parse_line(" "), Err(PhraseError::Empty));
        assert_eq!(parse_line("S R G3"), Err(PhraseError::WhichOne("R".into(), "R1, R2 or R3")));
        assert_eq!(parse_line("S M3"), Err(PhraseError::NotASwara("M3".into())));
        assert_eq!(parse_line("S1"), Err(PhraseError::NotASwara("S1".into())));
        assert_eq!(parse_line("S'''"), Err(PhraseError::OutOfRegister("S'''".into())));
        assert_eq!(parse_line(".S'"), Err(PhraseError::OutOfRegister(".S'".into())));
        assert_eq!(parse_line(&"S ".repeat(33)), Err(PhraseError::TooLong(33)));
        assert_eq!(parse_line("S \u{939}"), Err(PhraseError::NotASwara("\u{939}".into())));
    }
}
