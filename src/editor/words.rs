//! The words: what each sign of the trade means in one plain line, and how numbers are said.
//!
//! In: core types. Out: text for labels, hovers and assistive technology. Names as in the usual Carnatic
//! solfege of 16 names on 12 places; the plain lines are ours.

use crate::swara::{Named, Sthayi, Swara};
use crate::units::Cents;

/// The full name of a swara.
#[must_use]
pub fn full_name(swara: Swara) -> &'static str {
    use Swara::*;
    match swara {
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

/// The name of a register.
#[must_use]
pub fn sthayi(s: Sthayi) -> &'static str {
    match s.0 {
        i8::MIN..=-2 => "anumandra",
        -1 => "mandra",
        0 => "madhya",
        1 => "tara",
        2..=i8::MAX => "atitara",
    }
}

/// A signed number of cents: "+7", "−12", "0".
#[must_use]
pub fn signed(cents: Cents) -> String {
    let whole = crate::units::num::int(cents.0.clamp(-9999.0, 9999.0));
    match whole {
        0 => "0".into(),
        1.. => format!("+{whole}"),
        _ => format!("−{}", whole.abs()),
    }
}

/// Minutes and seconds: "1:05".
#[must_use]
pub fn clock(seconds: f64) -> String {
    let whole = crate::units::num::index(seconds.max(0.0).floor());
    if whole < 3600 {
        format!("{}:{:02}", whole / 60, whole % 60)
    } else {
        format!("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60)
    }
}

/// A pitch for assistive technology: "R2 madhya, 7 cents above".
#[must_use]
pub fn spoken(named: &Named) -> String {
    let whole = crate::units::num::int(named.offset.0.abs());
    let side = match whole {
        0 => "on it".to_owned(),
        n if named.offset.0 > 0.0 => format!("{n} cents above"),
        n => format!("{n} cents below"),
    };
    format!("{} {}, {side}", named.swara.short(), sthayi(named.sthayi))
}

/// Which way the voice has to go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Higher.
    Up,
    /// It is in the band.
    Stay,
    /// Lower.
    Down,
}

impl Way {
    /// The way from `offset` into a band of `half` cents either side.
    #[must_use]
    pub fn of(offset: Cents, half: Cents) -> Self {
        if offset.0.abs() <= half.0 {
            Way::Stay
        } else if offset.0 < 0.0 {
            Way::Up
        } else {
            Way::Down
        }
    }

    /// The word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Way::Up => "up",
            Way::Stay => "stay",
            Way::Down => "down",
        }
    }
}

/// Word and meaning, for hovers and the list behind F1.
pub const GLOSSARY: [(&str, &str); 16] = [
    ("Sa", "the singer's home note; everything is measured from it"),
    ("kattai", "a number for the pitch of Sa, as on a harmonium's white keys from C"),
    ("swara", "a note by its place above Sa: S R G M P D N, with a digit for its variant"),
    ("sthayi", "register: mandra is low (dot below), madhya middle, tara high (dot above)"),
    ("cents", "hundredths of a semitone; + is above the swara, − below"),
    ("band", "how far from the swara still counts as in tune"),
    ("held", "a note kept steady: only these are judged"),
    ("gamaka", "the swing between notes that belongs to the music: drawn thin, never judged"),
    ("raga, scale", "which swaras count"),
    ("arohana", "the swaras on the way up"),
    ("avarohana", "the swaras on the way down"),
    ("beats", "the slow throb of voice against drone: the nearer, the slower"),
    ("median", "the middle of all offsets: half lie above, half below"),
    ("spread", "how far the middle two thirds scatter"),
    ("listening", "on: held notes are counted; off: shown only (the teacher sings)"),
    ("freeze", "the picture stands still; listening goes on"),
];

/// The caution, shown once.
pub const CAUTION: &str = "Start quiet; keep headphones low. Stop when the throat feels tired or hoarse, drink \
     water, and rest. If hoarseness stays, see a doctor. This window is a practice aid; it does not replace a teacher.";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_said_plainly() {
        assert_eq!(signed(Cents(7.4)), "+7");
        assert_eq!(signed(Cents(-12.0)), "−12");
        assert_eq!(signed(Cents(-0.3)), "0");
        assert_eq!(signed(Cents(f64::NAN)), "0");
        assert_eq!(clock(65.9), "1:05");
        assert_eq!(clock(3725.0), "1:02:05");
        let low = Named { swara: Swara::R2, sthayi: Sthayi(-1), offset: Cents(-7.0) };
        assert_eq!(spoken(&low), "R2 mandra, 7 cents below");
    }

    #[test]
    fn the_way_leads_back_into_the_band() {
        assert_eq!(Way::of(Cents(-21.0), Cents(20.0)), Way::Up);
        assert_eq!(Way::of(Cents(20.0), Cents(20.0)), Way::Stay);
        assert_eq!(Way::of(Cents(33.0), Cents(25.0)), Way::Down);
    }
}
