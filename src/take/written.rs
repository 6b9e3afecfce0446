//! Names and numbers of a take in print, the same in its table, on its page and in its drawing.
//!
//! In: swaras, registers, cents, seconds. Out: a few letters.

use crate::swara::{Sthayi, Swara};
use crate::units::Hertz;

/// Sharp, flat or in the band.
#[must_use]
pub fn state(offset: f64, half_width: f64) -> &'static str {
    if offset > half_width {
        "sharp"
    } else if offset < -half_width {
        "flat"
    } else {
        "in"
    }
}

/// `m:ss` from a minute on, seconds before.
#[must_use]
pub fn clock(seconds: f64) -> String {
    let whole = crate::units::num::int(seconds);
    if whole < 60 { format!("{whole} s") } else { format!("{}:{:02}", whole / 60, whole % 60) }
}

/// A swara's name with its register in print: a dot below for mandra, above for tara, two beyond.
#[must_use]
pub fn name(swara: Swara, sthayi: Sthayi) -> String {
    let dots = match sthayi.0 {
        i8::MIN..=-2 => "\u{324}",
        -1 => "\u{323}",
        0 => "",
        1 => "\u{307}",
        2..=i8::MAX => "\u{308}",
    };
    let (letter, number) = swara.short().split_at(1);
    format!("{letter}{dots}{number}")
}

/// A Sa that was moved in words, the window's.
#[must_use]
pub fn from_sa(sa: Hertz) -> String {
    format!("from Sa {:.1} Hz", sa.0)
}

/// Whole cents with a sign; a true minus.
#[must_use]
pub fn signed(cents: f64) -> String {
    crate::units::Cents(cents).signed()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_bear_the_dot_of_their_register() {
        assert_eq!(name(Swara::S, Sthayi(1)), "S\u{307}");
        assert_eq!(name(Swara::R1, Sthayi(-1)), "R\u{323}1");
        assert_eq!(name(Swara::P, Sthayi(0)), "P");
    }

    #[test]
    fn numbers_are_signed_and_times_read_like_a_clock() {
        assert_eq!((signed(-23.6).as_str(), signed(0.3).as_str(), signed(8.5).as_str()), ("\u{2212}24", "0", "+9"));
        assert_eq!((clock(59.0), clock(61.0)), ("59 s".to_owned(), "1:01".to_owned()));
        assert_eq!((state(21.0, 20.0), state(-21.0, 20.0), state(20.0, 20.0)), ("sharp", "flat", "in"));
    }
}
