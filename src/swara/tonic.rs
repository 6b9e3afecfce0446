//! Sa as a singer states it: a note, a kattai, a frequency or a key number.
//!
//! In: text (`D3`, `D3+12`, `C#4-30`, `Db4`, `k2/3`, `2kattai3`, `midi50`, `146.83Hz`) or the parts of a
//! setting. Out: hertz. Method: equal temperament from the concert pitch (MIDI Tuning Standard); kattai
//! 1 is the key C, white keys count on, black keys take the half (common practice). A kattai names no
//! octave, so one is asked: `k2/3` is 2 kattai in the octave that begins at C3. Cost: one power. Does
//! not handle a bare number: nobody can tell 2 kattai from 2 Hz, or 220 from a key.

use crate::units::{Cents, Hertz};
use serde::{Deserialize, Serialize};

/// The lowest madhya Sa, Hz: the lowest pitch that is tracked.
pub const MIN_SA_HZ: f64 = 60.0;
/// The highest madhya Sa, Hz: the highest pitch that is tracked.
pub const MAX_SA_HZ: f64 = 1000.0;
/// The usual concert pitch, A above middle C, Hz (ISO 16:1975).
pub const CONCERT_A4: Hertz = Hertz(440.0);
/// The widest trim that may be written after a note, cents: one key.
const MAX_TRIM_CENTS: f64 = 100.0;

/// Note names from C, sharps.
const NOTES: [&str; 12] = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
/// Kattai from C: white keys count, black keys take the half (common practice; there is no 3.5, no 7.5).
const KATTAI: [&str; 12] = ["1", "1.5", "2", "2.5", "3", "4", "4.5", "5", "5.5", "6", "6.5", "7"];

/// How a tonic was stated, so that it is shown in the same way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    Note,
    Kattai,
    Midi,
}

/// Sa as stated.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Tonic(Stated);

/// The two kinds of statement.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Stated {
    /// A key of the keyboard and a trim; follows the concert pitch.
    Key { form: Form, key: i32, trim_cents: f64 },
    /// A frequency; does not.
    Frequency(f64),
}

/// A tonic that cannot be read.
#[derive(Debug, Clone, PartialEq)]
pub enum TonicError {
    /// A number without a unit.
    BareNumber(String),
    /// A note or kattai without its octave.
    NoOctave(String),
    /// A kattai that does not exist.
    NoSuchKattai(String),
    /// A trim that is too wide.
    Trim(String),
    /// Outside the range in which Sa is measured.
    Range(String, f64),
    /// None of the forms.
    Unreadable(String),
}

/// All the forms, for messages.
const FORMS: &str = "write a note with its octave (D3, D3+12 with cents, C#4-30, Db4), a frequency (146.83Hz), \
a kattai with its octave (k2/3 is 2 kattai from C3 up), or a MIDI key (midi50)";

impl std::fmt::Display for TonicError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::BareNumber(text) => write!(f, "tonic \"{text}\" has no unit: {FORMS}"),
            Self::NoOctave(text) => write!(f, "tonic \"{text}\" has no octave: {FORMS}"),
            Self::NoSuchKattai(text) => write!(
                f,
                "tonic \"{text}\": there is no such kattai; they are {} (3.5 and 7.5 do not exist)",
                KATTAI.join(", ")
            ),
            Self::Trim(text) => {
                write!(f, "tonic \"{text}\": the cents must lie from -{MAX_TRIM_CENTS} to +{MAX_TRIM_CENTS}")
            }
            Self::Range(text, hz) => write!(
                f,
                "tonic \"{text}\" is {hz:.2} Hz, outside {MIN_SA_HZ} to {MAX_SA_HZ} Hz: choose an octave within"
            ),
            Self::Unreadable(text) => write!(f, "tonic \"{text}\" cannot be read: {FORMS}"),
        }
    }
}

impl std::error::Error for TonicError {}

impl TonicError {
    /// In one sentence, for a field of which the label says what it is.
    #[must_use]
    pub fn briefly(&self) -> String {
        match self {
            Self::BareNumber(text) | Self::NoOctave(text) | Self::Unreadable(text) => {
                format!("\"{text}\" is no Sa: type a note (G#3), a kattai (5.5) or a frequency (220 Hz).")
            }
            Self::NoSuchKattai(text) => {
                format!("\"{text}\" is no kattai (they are {}); a frequency needs its Hz.", KATTAI.join(", "))
            }
            Self::Trim(text) => {
                format!(
                    "\"{text}\" is trimmed too far: the cents must lie from -{MAX_TRIM_CENTS} to +{MAX_TRIM_CENTS}."
                )
            }
            Self::Range(text, hz) => {
                format!("\"{text}\" is {hz:.1} Hz: Sa must lie from {MIN_SA_HZ} to {MAX_SA_HZ} Hz.")
            }
        }
    }
}

impl Tonic {
    /// Reads any of the forms.
    ///
    /// # Errors
    /// [`TonicError`] quotes the text and shows the forms or the range.
    pub fn parse(text: &str) -> Result<Tonic, TonicError> {
        let trimmed = text.trim();
        let lower: String =
            trimmed.to_lowercase().replace('\u{266f}', "#").replace('\u{266d}', "b").replace('\u{2212}', "-");
        let packed: String = lower.chars().filter(|c| !c.is_whitespace()).collect();
        if packed.parse::<f64>().is_ok() {
            return Err(TonicError::BareNumber(trimmed.to_owned()));
        }
        let stated = if let Some(number) = packed.strip_suffix("hz") {
            let hz: f64 = plain_number(number).ok_or_else(|| TonicError::Unreadable(trimmed.to_owned()))?;
            Stated::Frequency(hz)
        } else {
            parse_key(&packed, trimmed)?
        };
        let tonic = Tonic(stated);
        let hz = tonic.hertz(CONCERT_A4).0;
        if !(MIN_SA_HZ..=MAX_SA_HZ).contains(&hz) {
            return Err(TonicError::Range(trimmed.to_owned(), hz));
        }
        Ok(tonic)
    }

    /// Reads what is typed into a field that shows Sa with its kattai and has an octave of its own: there a bare number is a
    /// kattai, a note or kattai without an octave lies in `octave`, a decimal comma is a point, and what is shown behind the
    /// note (`E3 +12 c` in `E3 +12 c · 3 kattai`) need not be taken away.
    ///
    /// # Errors
    /// [`TonicError`], to be told by [`TonicError::briefly`].
    pub fn parse_in(text: &str, octave: i32) -> Result<Tonic, TonicError> {
        let typed = text.trim();
        let stated = typed.split('\u{b7}').next().unwrap_or(typed).trim().replace(',', ".");
        let read = match Self::parse(&stated) {
            Err(TonicError::BareNumber(number)) => Self::parse(&format!("k{number}/{octave}")),
            Err(TonicError::NoOctave(_)) => {
                let (head, trim) = stated.find(['+', '-', '\u{2212}']).map_or((&*stated, ""), |at| stated.split_at(at));
                let (head, slash) = (head.trim(), if split_kattai(&head.to_lowercase()).is_some() { "/" } else { "" });
                Self::parse(&format!("{head}{slash}{octave}{trim}"))
            }
            other => other,
        };
        read.map_err(|error| match error {
            TonicError::BareNumber(_) | TonicError::NoOctave(_) | TonicError::Unreadable(_) => {
                TonicError::Unreadable(typed.to_owned())
            }
            TonicError::NoSuchKattai(_) => TonicError::NoSuchKattai(typed.to_owned()),
            TonicError::Trim(_) => TonicError::Trim(typed.to_owned()),
            TonicError::Range(_, hz) => TonicError::Range(typed.to_owned(), hz),
        })
    }

    /// A tonic at a frequency that was measured.
    ///
    /// # Errors
    /// [`TonicError::Range`] outside 60 to 1000 Hz.
    pub fn of_hertz(sa: Hertz) -> Result<Tonic, TonicError> {
        if (MIN_SA_HZ..=MAX_SA_HZ).contains(&sa.0) {
            Ok(Tonic(Stated::Frequency(sa.0)))
        } else {
            Err(TonicError::Range(format!("{}Hz", sa.0), sa.0))
        }
    }

    /// Madhya Sa at a concert pitch; a stated frequency stays what it is.
    #[must_use]
    pub fn hertz(&self, a4: Hertz) -> Hertz {
        match self.0 {
            Stated::Key { key, trim_cents, .. } => Hertz::of_midi_key(f64::from(key) + trim_cents / 100.0, a4),
            Stated::Frequency(hz) => Hertz(hz),
        }
    }
}

impl std::fmt::Display for Tonic {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.0 {
            Stated::Frequency(hz) => write!(f, "{hz}Hz"),
            Stated::Key { form, key, trim_cents } => {
                let (pitch_class, octave) = (key.rem_euclid(12), key.div_euclid(12) - 1);
                let pitch_class = u8::try_from(pitch_class).unwrap_or(0);
                match form {
                    Form::Note => write!(f, "{}{octave}", note_name(pitch_class))?,
                    Form::Kattai => write!(f, "k{}/{octave}", kattai_name(pitch_class))?,
                    Form::Midi => write!(f, "midi{key}")?,
                }
                if trim_cents != 0.0 { write!(f, "{trim_cents:+}") } else { Ok(()) }
            }
        }
    }
}

impl std::str::FromStr for Tonic {
    type Err = TonicError;

    fn from_str(text: &str) -> Result<Self, TonicError> {
        Tonic::parse(text)
    }
}

impl From<Tonic> for String {
    fn from(tonic: Tonic) -> Self {
        tonic.to_string()
    }
}

impl TryFrom<String> for Tonic {
    type Error = TonicError;

    fn try_from(text: String) -> Result<Self, TonicError> {
        Tonic::parse(&text)
    }
}

/// A number in plain digits (no `inf`, `nan`, exponent).
fn plain_number(text: &str) -> Option<f64> {
    let plain = text.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'+' | b'-'));
    text.parse().ok().filter(|_| plain)
}

/// A note, kattai or key number, with its trim.
fn parse_key(packed: &str, shown: &str) -> Result<Stated, TonicError> {
    let (head, trim) = match packed.find(['+', '-']) {
        Some(at) => packed.split_at(at),
        None => (packed, ""),
    };
    let unreadable = || TonicError::Unreadable(shown.to_owned());
    let trim_cents = if trim.is_empty() {
        0.0
    } else {
        let number = trim.strip_suffix("cents").or_else(|| trim.strip_suffix('c')).unwrap_or(trim);
        plain_number(number).ok_or_else(unreadable)?
    };
    if trim_cents.abs() > MAX_TRIM_CENTS {
        return Err(TonicError::Trim(shown.to_owned()));
    }
    if let Some(number) = head.strip_prefix("midi") {
        let key = number.parse::<u8>().map_err(|_| unreadable())?;
        return Ok(Stated::Key { form: Form::Midi, key: i32::from(key), trim_cents });
    }
    if let Some(kattai) = split_kattai(head) {
        let (number, octave) = kattai;
        let found = (0i32..).zip(KATTAI).find(|(_, name)| number == *name || number.strip_suffix(".0") == Some(*name));
        let (pitch_class, _) = found.ok_or_else(|| TonicError::NoSuchKattai(shown.to_owned()))?;
        let octave = one_digit(octave).ok_or_else(|| TonicError::NoOctave(shown.to_owned()))?;
        return Ok(Stated::Key { form: Form::Kattai, key: 12 * (octave + 1) + pitch_class, trim_cents });
    }
    let mut letters = head.chars();
    let natural = match letters.next() {
        Some('c') => 0,
        Some('d') => 2,
        Some('e') => 4,
        Some('f') => 5,
        Some('g') => 7,
        Some('a') => 9,
        Some('b') => 11,
        _ => return Err(unreadable()),
    };
    let (shift, octave) = match letters.as_str() {
        rest if rest.starts_with('#') => (1, &rest[1..]),
        rest if rest.starts_with('b') => (-1, &rest[1..]),
        rest => (0, rest),
    };
    if octave.is_empty() {
        return Err(TonicError::NoOctave(shown.to_owned()));
    }
    let octave = one_digit(octave).ok_or_else(unreadable)?;
    Ok(Stated::Key { form: Form::Note, key: 12 * (octave + 1) + natural + shift, trim_cents })
}

/// `k2/3`, `k5.5/4`, `2kattai3`, `2kattai/3`: the number and the octave (which may be empty).
fn split_kattai(head: &str) -> Option<(&str, &str)> {
    if let Some((number, octave)) = head.split_once("kattai") {
        return (!number.is_empty()).then(|| (number, octave.strip_prefix('/').unwrap_or(octave)));
    }
    let rest = head.strip_prefix('k')?;
    Some(rest.split_once('/').unwrap_or((rest, "")))
}

/// An octave: one digit.
fn one_digit(text: &str) -> Option<i32> {
    if text.len() == 1 { text.parse().ok() } else { None }
}

/// The note of a pitch class (0 = C; larger values fold), e.g. `C#`.
#[must_use]
pub fn note_name(pitch_class: u8) -> &'static str {
    NOTES.get(usize::from(pitch_class % 12)).copied().unwrap_or("C")
}

/// The kattai of a pitch class (0 = C; larger values fold), e.g. `1.5`.
#[must_use]
pub fn kattai_name(pitch_class: u8) -> &'static str {
    KATTAI.get(usize::from(pitch_class % 12)).copied().unwrap_or("1")
}

/// The label of a pitch class in both vocabularies: `D · 2 kattai`.
#[must_use]
pub fn label(pitch_class: u8) -> String {
    format!("{} \u{b7} {} kattai", note_name(pitch_class), kattai_name(pitch_class))
}

/// A setting as the window says it, the octave with the note so that no digit of it stands by the kattai: `E3 · 3 kattai`,
/// `E3 −12.5 c · 3 kattai`. [`Tonic::parse_in`] reads it.
#[must_use]
pub fn said(pitch_class: u8, octave: i32, trim: Cents) -> String {
    let (note, kattai) = (note_name(pitch_class), kattai_name(pitch_class));
    let trim = (trim.0 * 10.0).round() / 10.0;
    let trim = if trim == 0.0 { String::new() } else { format!(" {trim:+} c").replace('-', "\u{2212}") };
    format!("{note}{octave}{trim} \u{b7} {kattai} kattai")
}

/// Madhya Sa from the parts of a setting: one of 12 notes (0 = C), octave (3 = from C3), trim, concert pitch.
#[must_use]
pub fn sa_hertz(pitch_class: u8, octave: i8, trim: Cents, a4: Hertz) -> Hertz {
    let key = f64::from(pitch_class % 12) + 12.0 * (f64::from(octave) + 1.0);
    Hertz::of_midi_key(key + trim.0 / 100.0, a4)
}

/// The parts of a setting that make up a frequency: pitch class, octave, trim in -50 to +50 cents; `None`
/// unless `sa` and `a4` are positive and finite.
#[must_use]
pub fn parts(sa: Hertz, a4: Hertz) -> Option<(u8, i8, Cents)> {
    let key = sa.midi_key(a4);
    if !key.is_finite() {
        return None;
    }
    let nearest = crate::units::num::int(key);
    let pitch_class = u8::try_from(nearest.rem_euclid(12)).ok()?;
    let octave = i8::try_from(nearest.div_euclid(12) - 1).ok()?;
    Some((pitch_class, octave, Cents(100.0 * (key - nearest as f64))))
}

/// A frequency as people say it: `D3 +12 cents (2 kattai), 147.86 Hz`.
#[must_use]
pub fn describe(sa: Hertz, a4: Hertz) -> String {
    match parts(sa, a4) {
        Some((pitch_class, octave, trim)) => {
            let (note, kattai) = (note_name(pitch_class), kattai_name(pitch_class));
            let cents = if trim.0.abs() < 0.5 { String::new() } else { format!(" {:+.0} cents", trim.0) };
            format!("{note}{octave}{cents} ({kattai} kattai), {:.2} Hz", sa.0)
        }
        None => "no pitch".to_owned(),
    }
}

/// Madhyama shruti: the Ma of `sa` (4/3, as the drone's Ma string is tuned) taken as the new Sa.
#[must_use]
pub fn to_madhyama(sa: Hertz) -> Hertz {
    Hertz(sa.0 * 4.0 / 3.0)
}

/// Back from madhyama shruti.
#[must_use]
pub fn from_madhyama(sa: Hertz) -> Hertz {
    Hertz(sa.0 * 3.0 / 4.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hz(text: &str) -> f64 {
        Tonic::parse(text).unwrap().hertz(CONCERT_A4).0
    }

    #[test]
    fn worked_values() {
        // MIDI Tuning Standard f = 440 * 2^((n - 69)/12): middle C is key 60, 261.6256 Hz.
        assert!((hz("C4") - 261.6256).abs() < 5e-5);
        assert!((hz("midi60") - 261.6256).abs() < 5e-5);
        assert!((hz("A3") - 220.0).abs() < 1e-9);
        // GNU Emacs Calc manual, Musical Notes: 500 Hz is B4 plus 21.3094853649 cents.
        assert!((hz("B4+21.3094853649") - 500.0).abs() < 1e-8);
        assert!((hz("Db4") - hz("C#4")).abs() < 1e-12);
        assert!((hz("Cb4") - hz("B3")).abs() < 1e-12);
        assert!((hz("146.83Hz") - 146.83).abs() < 1e-12);
        assert!((hz("C#4-30") - 277.1826 * (-30.0f64 / 1200.0).exp2()).abs() < 1e-4);
    }

    #[test]
    fn kattai_count_the_white_keys() {
        // M. Subramanian, carnatic2000.tripod.com: 1 kattai is C; a singer "at 5 kattai" has Sa at G.
        for (text, note) in [("k1/3", "C3"), ("k2/3", "D3"), ("k5/3", "G3"), ("k5.5/3", "G#3"), ("k6.5/3", "A#3")] {
            assert_eq!(hz(text), hz(note), "{text}");
        }
        for text in ["2kattai3", "2 kattai 3", "2 Kattai/3", "K2/3", "k2.0/3"] {
            assert_eq!(hz(text), hz("D3"), "{text}");
        }
        assert_eq!(label(2), "D \u{b7} 2 kattai");
        assert_eq!(kattai_name(10), "6.5");
    }

    #[test]
    fn concert_pitch_moves_notes_but_not_frequencies() {
        let a435 = Hertz(435.0);
        let apart = |text: &str| Tonic::parse(text).unwrap().hertz(a435).cents_above(Hertz(hz(text))).unwrap().0;
        // 435 Hz lies 19.786 cents below 440 (Ellis 1885: 1200 log2).
        assert!((apart("D3") + 19.786).abs() < 1e-3);
        assert_eq!(apart("150Hz"), 0.0);
    }

    #[test]
    fn printed_and_read_again() {
        for text in ["D3", "D3+12", "C#4-30", "k2/3", "k5.5/3-7.5", "midi50", "midi57+38", "146.83Hz"] {
            let tonic = Tonic::parse(text).unwrap();
            assert_eq!(tonic.to_string(), text);
            let json = serde_json::to_string(&tonic).unwrap();
            assert_eq!(serde_json::from_str::<Tonic>(&json).unwrap(), tonic);
        }
        assert_eq!(Tonic::parse("db4 +12 cents").unwrap().to_string(), "C#4+12");
    }

    #[test]
    fn refusals_show_the_way() {
        for bare in ["2", "146.83", "-3", "1e2", "nan"] {
            let said = Tonic::parse(bare).unwrap_err().to_string();
            for form in ["D3", "146.83Hz", "k2/3", "midi50"] {
                assert!(said.contains(form), "{said}");
            }
        }
        let fault = |text: &str| Tonic::parse(text).unwrap_err();
        assert!(matches!(fault("D"), TonicError::NoOctave(_)));
        assert!(matches!(fault("k2"), TonicError::NoOctave(_)));
        assert!(matches!(fault("k3.5/3"), TonicError::NoSuchKattai(_)));
        assert!(matches!(fault("k8/3"), TonicError::NoSuchKattai(_)));
        assert!(matches!(fault("D3+150"), TonicError::Trim(_)));
        assert!(matches!(fault("D9"), TonicError::Range(..)));
        assert!(matches!(fault("20Hz"), TonicError::Range(..)));
        for text in ["", "H3", "D33", "midi", "midi300", "infHz", "D3+", "\u{938}\u{93e}", "D3+nan", "b#"] {
            assert!(Tonic::parse(text).is_err(), "{text}");
        }
    }

    #[test]
    fn a_field_that_says_kattai_takes_them_bare_and_knows_its_octave() {
        let read = |text: &str| Tonic::parse_in(text, 3).unwrap().hertz(CONCERT_A4).0;
        for text in ["G#3", "g#", "5.5", "5,5", "5.5 kattai", "k5.5", "Ab3", "G#3 \u{b7} 5.5 kattai", "207.6523 Hz"] {
            assert!((read(text) - 207.6523).abs() < 1e-3, "{text}: {}", read(text));
        }
        assert_eq!(read("D4"), hz("D4"), "an octave that is typed counts");
        assert_eq!(read("D +12"), hz("D3+12"));
        assert_eq!(read("2 kattai -7.5 c"), hz("D3-7.5"));
        assert_eq!(read("220 Hz"), 220.0);
        for (pitch_class, octave, trim) in [(4, 3, 0.0), (8, 2, -12.5), (11, 4, 50.0)] {
            let text = said(pitch_class, octave, Cents(trim));
            let octave8 = i8::try_from(octave).unwrap();
            let meant = sa_hertz(pitch_class, octave8, Cents(trim), CONCERT_A4).0;
            assert!((Tonic::parse_in(&text, 4).unwrap().hertz(CONCERT_A4).0 - meant).abs() < 1e-9, "{text}");
        }
        assert_eq!(said(4, 3, Cents(0.02)), "E3 \u{b7} 3 kattai");
        for (text, part) in [("220", "Hz"), ("3.5", "no kattai"), ("Sa", "G#3"), ("", "5.5"), ("D9", "1000 Hz")] {
            let told = Tonic::parse_in(text, 3).unwrap_err().briefly();
            assert!(told.contains(part) && told.contains(text) && told.ends_with('.'), "{told}");
        }
    }

    #[test]
    fn parts_and_back() {
        let (pitch_class, octave, trim) = parts(Hertz(224.8823), CONCERT_A4).unwrap();
        assert_eq!((pitch_class, octave), (9, 3));
        assert!((trim.0 - 38.0).abs() < 0.01);
        assert!((sa_hertz(pitch_class, octave, trim, CONCERT_A4).0 - 224.8823).abs() < 1e-9);
        assert_eq!(describe(Hertz(224.8823), CONCERT_A4), "A3 +38 cents (6 kattai), 224.88 Hz");
        assert_eq!(parts(Hertz(f64::NAN), CONCERT_A4), None);
        assert_eq!(parts(Hertz(0.0), CONCERT_A4), None);
    }

    #[test]
    fn madhyama_and_back() {
        let sa = Hertz(150.0);
        assert!((to_madhyama(sa).0 - 200.0).abs() < 1e-12);
        assert!((from_madhyama(to_madhyama(sa)).0 - 150.0).abs() < 1e-12);
    }
}
