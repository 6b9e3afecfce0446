//! Reads a tuning file in the Scala format, so that a teacher's own table can be used.
//!
//! In: the bytes of a `.scl` file. Out: the degrees in cents and, per swarasthana, the degree that
//! serves it. Method: the format as published with Scala (M. Op de Coul, huygens-fokker.org): lines
//! that begin with `!` are comments; then the description; then the number of notes; then one pitch a
//! line, cents where there is a period, else a ratio or a whole number; what follows the pitch is
//! ignored. LF, CRLF and CR line ends; UTF-8 or Latin-1. Cost: one pass. Does not handle keyboard
//! mappings (`.kbm`): a swara table needs none.
//!
//! How degrees serve swarasthanas: a file of 12 notes, rising and each within [`REACH_CENTS`] of the
//! 5-limit reference, is taken in order (degree k is position k; the twelfth is the octave). From any
//! other file each position takes the degree nearest to its 5-limit reference within [`REACH_CENTS`];
//! a position without one is left out, and [`SclScale::remarks`] says so. Sa is always degree 0. Pa is
//! always 3/2, since that is where the drone sounds it, and the octave stays 2/1 in the analysis; what
//! the file has instead is said.

use crate::swara::names::Swara;
use crate::swara::tuning::Tuning;
use crate::units::Cents;

/// The furthest a degree may lie from the 5-limit reference of the position it serves, cents: over half
/// a step, so that every 12-note table in use fits, and under a whole one.
pub const REACH_CENTS: f64 = 60.0;
/// The largest file accepted, bytes: it travels inside a host's project.
pub const MAX_BYTES: usize = 262_144;
/// How far a file's Pa may be from 3/2 and its last degree from 2/1 before the reader is told, cents: under what two tones can show.
const FIXED_SLACK_CENTS: f64 = 0.5;

/// A Scala file, read.
#[derive(Debug, Clone, PartialEq)]
pub struct SclScale {
    /// The file's name, for display.
    pub file: String,
    /// The whole text, kept so that a project opens elsewhere (Latin-1 turned into UTF-8).
    pub content: String,
    /// The description line.
    pub description: String,
    /// The listed degrees, cents above 1/1 (which is implied and not listed), in the file's order.
    pub degrees: Vec<Cents>,
}

/// What is wrong with a Scala file, and where.
#[derive(Debug, Clone, PartialEq)]
pub struct SclError {
    /// The file's name.
    pub file: String,
    /// The line, counted from 1.
    pub line: usize,
    /// What is wrong.
    pub fault: SclFault,
}

/// The faults a Scala file can have.
#[derive(Debug, Clone, PartialEq)]
pub enum SclFault {
    /// More than [`MAX_BYTES`].
    TooLarge(usize),
    /// The file ends before the description line.
    NoDescription,
    /// The file ends before the number of notes.
    NoCount,
    /// The number of notes is not a whole number.
    BadCount(String),
    /// Fewer pitch lines than announced.
    Missing {
        /// As many as the file announces.
        announced: usize,
        /// As many as it has.
        found: usize,
    },
    /// A line that begins with no pitch.
    BadPitch(String),
    /// A ratio that is negative.
    NegativeRatio(String),
    /// A ratio with a zero in it.
    ZeroInRatio(String),
    /// A number that does not fit.
    TooBig(String),
}

impl std::fmt::Display for SclError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}, line {}: ", self.file, self.line)?;
        match &self.fault {
            SclFault::TooLarge(bytes) => {
                write!(f, "{bytes} bytes are too many for a tuning (at most {MAX_BYTES}): is this a .scl file?")
            }
            SclFault::NoDescription => {
                write!(f, "the file ends before its description: the first line without ! must describe the scale")
            }
            SclFault::NoCount => {
                write!(f, "the file ends before the number of notes: write it on the line after the description")
            }
            SclFault::BadCount(text) => {
                write!(f, "\"{text}\" is not a number of notes: write a whole number such as 12")
            }
            SclFault::Missing { announced, found } => {
                write!(f, "{announced} notes are announced but {found} follow: correct the number or add the notes")
            }
            SclFault::BadPitch(text) => {
                write!(f, "\"{text}\" is not a pitch: write cents with a period (701.955) or a ratio (3/2)")
            }
            SclFault::NegativeRatio(text) => {
                write!(f, "\"{text}\" is a negative ratio: write a positive ratio, or cents with a period")
            }
            SclFault::ZeroInRatio(text) => {
                write!(f, "\"{text}\" has a zero in its ratio: both numbers must be 1 or more")
            }
            SclFault::TooBig(text) => {
                write!(f, "\"{text}\" has a number that is too large: use at most 2147483647, or cents")
            }
        }
    }
}

impl std::error::Error for SclError {}

impl SclScale {
    /// Reads a file's bytes.
    ///
    /// # Errors
    /// [`SclError`] names the line and says how to mend it.
    pub fn from_bytes(file: &str, bytes: &[u8]) -> Result<Self, SclError> {
        let error = |line, fault| SclError { file: file.to_owned(), line, fault };
        if bytes.len() > MAX_BYTES {
            return Err(error(1, SclFault::TooLarge(bytes.len())));
        }
        let content = decode(bytes);
        let lines = split_lines(&content);
        let last_line = lines.len().max(1);
        let mut rest = lines.iter().enumerate().filter(|(_, text)| !text.starts_with('!')).map(|(i, t)| (i + 1, *t));

        let (_, description) = rest.next().ok_or_else(|| error(last_line, SclFault::NoDescription))?;
        let (line, count_text) = rest.next().ok_or_else(|| error(last_line, SclFault::NoCount))?;
        let first_word = count_text.split_whitespace().next().unwrap_or("");
        let announced: usize =
            first_word.parse().map_err(|_| error(line, SclFault::BadCount(count_text.trim().to_owned())))?;
        let mut degrees = Vec::new();
        while degrees.len() < announced {
            let found = degrees.len();
            let Some((line, text)) = rest.next() else {
                return Err(error(last_line, SclFault::Missing { announced, found }));
            };
            degrees.push(pitch(text).map_err(|fault| error(line, fault))?);
        }
        let description = description.trim().to_owned();
        Ok(Self { file: file.to_owned(), description, degrees, content })
    }

    /// Whether the degrees serve the positions in the file's order (see the head of this file).
    fn in_order(&self) -> bool {
        let Some((_, inner)) = self.degrees.split_last().filter(|(_, inner)| inner.len() == 11) else {
            return false;
        };
        (1u8..).zip(inner).all(|(position, degree)| (degree.0 - reference(position)).abs() <= REACH_CENTS)
            && self.degrees.windows(2).all(|pair| matches!(pair, [a, b] if a.0 < b.0))
    }

    /// Cents above Sa that serve each position, Sa and Pa as the drone has them; `None` where no degree comes near.
    #[must_use]
    pub fn positions(&self) -> [Option<Cents>; 12] {
        let mut table = self.of_the_file();
        (table[0], table[7]) = (Some(Cents(0.0)), Some(fifth()));
        table
    }

    /// The same, with the file's own Pa where it has one.
    fn of_the_file(&self) -> [Option<Cents>; 12] {
        let mut table = [None; 12];
        if self.in_order() {
            for (slot, degree) in table.iter_mut().skip(1).zip(&self.degrees) {
                *slot = Some(*degree);
            }
        } else {
            for (position, slot) in (0u8..).zip(table.iter_mut()) {
                *slot = self.nearest_degree(reference(position));
            }
        }
        table
    }

    /// The degree nearest to `wanted` cents, repeated at the file's period, within reach.
    fn nearest_degree(&self, wanted: f64) -> Option<Cents> {
        let period = self.degrees.last().map_or(0.0, |last| last.0);
        let mut best: Option<f64> = None;
        for degree in std::iter::once(0.0).chain(self.degrees.iter().map(|degree| degree.0)) {
            for shifted in [degree - period, degree, degree + period] {
                let nearer = best.is_none_or(|b| (shifted - wanted).abs() < (b - wanted).abs());
                if nearer && (shifted - wanted).abs() <= REACH_CENTS {
                    best = Some(shifted);
                }
            }
        }
        best.map(Cents)
    }

    /// What a user should know about how the file is used, one sentence each.
    #[must_use]
    pub fn remarks(&self) -> Vec<String> {
        let mut remarks = Vec::new();
        let missing: Vec<&str> = (0u8..12)
            .zip(self.positions())
            .filter(|(_, cents)| cents.is_none())
            .map(|(position, _)| Swara::chromatic(position).short())
            .collect();
        if !missing.is_empty() {
            remarks.push(format!(
                "{} has no degree within {REACH_CENTS} cents of {}: these are left out",
                self.file,
                missing.join(", ")
            ));
        }
        if !self.in_order() {
            remarks.push(format!(
                "{} has {} notes, not twelve in order: each swara takes the degree nearest to its place",
                self.file,
                self.degrees.len()
            ));
        }
        let own = self.of_the_file()[7];
        let kept = format!("Pa stays 3/2, {:.2} cents, as the drone sounds it", fifth().0);
        match own {
            None => remarks.push(format!("{} has no Pa; {kept}", self.file)),
            Some(own) if (own.0 - fifth().0).abs() > FIXED_SLACK_CENTS => {
                remarks.push(format!("{} has Pa at {:.2} cents; {kept}", self.file, own.0));
            }
            Some(_) => {}
        }
        if let Some(last) = self.degrees.last().filter(|last| (last.0 - 1200.0).abs() > FIXED_SLACK_CENTS) {
            remarks.push(format!("its octave is {:.2} cents; the analysis keeps 1200", last.0));
        }
        remarks
    }
}

/// The 5-limit place of a position, cents.
fn reference(position: u8) -> f64 {
    Tuning::Just.cents_at(position).map_or(0.0, |cents| cents.0)
}

/// The drone's Pa above Sa.
fn fifth() -> Cents {
    Cents::of_ratio(3.0 / 2.0)
}

/// UTF-8 where it is valid, else Latin-1, whose bytes are the first 256 code points.
fn decode(bytes: &[u8]) -> String {
    std::str::from_utf8(bytes).map_or_else(|_| bytes.iter().map(|&byte| char::from(byte)).collect(), str::to_owned)
}

/// Lines without their ends: LF, CRLF or CR; no empty line for the end of the last.
fn split_lines(content: &str) -> Vec<&str> {
    let content = content.strip_prefix('\u{feff}').unwrap_or(content);
    let ends = if content.contains('\n') { '\n' } else { '\r' };
    let mut lines: Vec<&str> = content.split(ends).map(|line| line.strip_suffix('\r').unwrap_or(line)).collect();
    if lines.last().is_some_and(|last| last.is_empty()) {
        lines.pop();
    }
    lines
}

/// The pitch at the start of a line.
fn pitch(line: &str) -> Result<Cents, SclFault> {
    let text = line.trim();
    let end = text.find(|c: char| !(c.is_ascii_digit() || "+-./".contains(c))).unwrap_or(text.len());
    let token = &text[..end];
    let bad = || SclFault::BadPitch(text.to_owned());
    if token.contains('.') {
        // "100." and ".5" are cents too, so the number is read up to its second sign, period or slash.
        let cents: f64 = token.parse().map_err(|_| bad())?;
        return Ok(Cents(cents));
    }
    let (numerator, denominator) = match token.split_once('/') {
        Some((n, d)) => (n, d),
        None => (token, "1"),
    };
    let digits = |part: &str| {
        let unsigned = part.strip_prefix(['+', '-']).unwrap_or(part);
        !unsigned.is_empty() && unsigned.bytes().all(|b| b.is_ascii_digit())
    };
    if !digits(numerator) || !digits(denominator) {
        return Err(bad());
    }
    if numerator.starts_with('-') || denominator.starts_with('-') {
        return Err(SclFault::NegativeRatio(token.to_owned()));
    }
    let number = |part: &str| part.parse::<u64>().map_err(|_| SclFault::TooBig(token.to_owned()));
    let (n, d) = (number(numerator)?, number(denominator)?);
    if n == 0 || d == 0 {
        return Err(SclFault::ZeroInRatio(token.to_owned()));
    }
    Ok(Cents(1200.0 * ((n as f64).log2() - (d as f64).log2())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Hertz;

    fn cents(text: &str) -> Vec<f64> {
        SclScale::from_bytes("t.scl", text.as_bytes()).unwrap().degrees.iter().map(|degree| degree.0).collect()
    }

    fn fault(text: &str) -> (usize, SclFault) {
        let error = SclScale::from_bytes("t.scl", text.as_bytes()).unwrap_err();
        assert!(error.to_string().starts_with(&format!("t.scl, line {}: ", error.line)));
        (error.line, error.fault)
    }

    /// Cents and hertz of Raja S. M. Tagore's sruti vina, 1/1 = 241.2 Hz, measured by Ellis and Hipkins
    /// 1886; the cents as in `indian-srutivina.scl` of the Scala archive (in crate serde_scala 0.1.2).
    const SRUTI_VINA: [(&str, f64); 22] = [
        ("45.338", 247.6),
        ("111.193", 257.2),
        ("169.436", 266.0),
        ("222.630", 274.3),
        ("267.486", 281.5),
        ("316.000", 289.5),
        ("389.182", 302.0),
        ("436.121", 310.3),
        ("505.565", 323.0),
        ("544.256", 330.3),
        ("583.127", 337.8),
        ("640.588", 349.2),
        ("712.450", 364.0),
        ("749.156", 371.8),
        ("806.854", 384.4),
        ("855.262", 395.3),
        ("916.783", 409.6),
        ("953.997", 418.5),
        ("1012.565", 432.9),
        ("1076.939", 449.3),
        ("1136.401", 465.0),
        ("1219.981", 488.0),
    ];

    #[test]
    fn the_measured_vina_reads_and_gives_its_hertz() {
        let mut text = "! vina\r\n!\r\nmeasured 1886   \r\n 22\r\n!\r\n".to_owned();
        for (value, _) in SRUTI_VINA {
            text.push_str(&format!(" {value} cents\r\n"));
        }
        for (read, (_, hz)) in cents(&text).iter().zip(SRUTI_VINA) {
            // The table was measured to 0.1 Hz.
            assert!((Hertz(241.2).up(Cents(*read)).0 - hz).abs() <= 0.05001, "{read} {hz}");
        }
    }

    #[test]
    fn every_form_of_the_published_format() {
        // The forms the format's page lists (M. Op de Coul, huygens-fokker.org, Scala scale file format).
        let text = "!c\n\n  8 notes\n81/64\n408.0\n408.\n5\n-5.0\n\t10/20\n100.0 C#\n5/4   E\\ \n9/8 beyond\n";
        let read = cents(text);
        let expected = [407.820, 408.0, 408.0, 2786.314, -5.0, -1200.0, 100.0, 386.314];
        assert_eq!(read.len(), expected.len());
        for (a, b) in read.iter().zip(expected) {
            assert!((a - b).abs() < 1e-3, "{a} {b}");
        }
        assert!((cents("x\n1\n2147483647/2147483646\n")[0] - 8.06e-7).abs() < 1e-8);
        assert!(cents("only 1/1\n0\n").is_empty());
        assert_eq!(cents("mac\r1\r3/2\r").len(), 1);
        assert_eq!(cents("no end of line\n1\n2/1").len(), 1);
    }

    #[test]
    fn latin_1_is_kept_as_text() {
        let scl = SclScale::from_bytes("t.scl", b"G\xf6tz\n1\n2/1\n").unwrap();
        assert_eq!(scl.description, "G\u{f6}tz");
        assert_eq!(SclScale::from_bytes("t.scl", scl.content.as_bytes()).unwrap().degrees, scl.degrees);
    }

    #[test]
    fn faults_name_their_line() {
        assert_eq!(fault(""), (1, SclFault::NoDescription));
        assert_eq!(fault("! c\nd\n"), (2, SclFault::NoCount));
        assert_eq!(fault("d\ntwelve\n"), (2, SclFault::BadCount("twelve".into())));
        assert_eq!(fault("d\n-1\n"), (2, SclFault::BadCount("-1".into())));
        assert_eq!(fault("d\n2\n! c\n3/2\n"), (4, SclFault::Missing { announced: 2, found: 1 }));
        assert_eq!(fault("d\n1\n! c\n-3/2\n"), (4, SclFault::NegativeRatio("-3/2".into())));
        assert_eq!(fault("d\n1\n3/-2\n"), (3, SclFault::NegativeRatio("3/-2".into())));
        assert_eq!(fault("d\n1\n3/0\n"), (3, SclFault::ZeroInRatio("3/0".into())));
        assert_eq!(fault("d\n1\n1/2/3\n"), (3, SclFault::BadPitch("1/2/3".into())));
        assert_eq!(fault("d\n1\n1.2.3\n"), (3, SclFault::BadPitch("1.2.3".into())));
        assert_eq!(fault("d\n1\nC#\n"), (3, SclFault::BadPitch("C#".into())));
        assert_eq!(fault("d\n1\n\n2/1\n"), (3, SclFault::BadPitch(String::new())));
        assert_eq!(fault("d\n1\n99999999999999999999999\n"), (3, SclFault::TooBig("99999999999999999999999".into())));
        assert_eq!(fault(&"x".repeat(MAX_BYTES + 1)), (1, SclFault::TooLarge(MAX_BYTES + 1)));
    }

    #[test]
    fn twelve_in_order_serve_in_order() {
        // Ellis's south Indian vina: `indian-vina.scl` of the Scala archive (in crate serde_scala 0.1.2).
        let vina = [97, 195, 312, 397, 515, 596, 692, 782, 883, 997, 1092, 1207];
        let lines: String = vina.iter().map(|value| format!("{value}.00000\n")).collect();
        let scl = SclScale::from_bytes("vina.scl", format!("d\n12\n{lines}").as_bytes()).unwrap();
        let positions = scl.positions().map(|slot| slot.unwrap().0);
        assert_eq!(positions[0], 0.0);
        for (position, (at, value)) in (1..).zip(positions[1..].iter().zip(vina)) {
            // Pa is the drone's, 10 cents above the file's.
            let expected = if position == 7 { Cents::of_ratio(1.5).0 } else { f64::from(value) };
            assert_eq!(*at, expected, "{position}");
        }
        let pa = "vina.scl has Pa at 692.00 cents; Pa stays 3/2, 701.96 cents, as the drone sounds it";
        assert_eq!(scl.remarks(), [pa, "its octave is 1207.00 cents; the analysis keeps 1200"]);
    }

    #[test]
    fn pa_is_the_drones_whatever_the_file_says() {
        let pure = Cents::of_ratio(1.5);
        let pa = |text: &str| {
            let scl = SclScale::from_bytes("t.scl", text.as_bytes()).unwrap();
            assert_eq!(scl.positions()[7], Some(pure), "{text}");
            scl.remarks().into_iter().filter(|said| said.contains("Pa")).collect::<Vec<_>>()
        };
        assert_eq!(pa("five\n5\n9/8\n5/4\n712.45\n5/3\n2/1\n").len(), 1);
        assert!(pa("five\n5\n9/8\n5/4\n712.45\n5/3\n2/1\n")[0].contains("712.45"));
        assert!(pa("few\n2\n5/4\n2/1\n")[0].contains("t.scl has no Pa; Pa stays 3/2"));
        // A Pa that is written to the cent is the pure one.
        assert!(pa("round\n2\n702.0\n2/1\n").is_empty());
    }

    #[test]
    fn other_sizes_serve_by_nearness() {
        // `indian.scl`, 22 notes, gives the 5-limit table back; see tuning's tests for its ratios.
        let text = "d\n7\n9/8\n5/4\n4/3\n3/2\n5/3\n15/8\n2/1\n";
        let scl = SclScale::from_bytes("seven.scl", text.as_bytes()).unwrap();
        let positions = scl.positions();
        let has: Vec<usize> = (0..12).filter(|&p| positions[p].is_some()).collect();
        assert_eq!(has, [0, 2, 4, 5, 7, 9, 11]);
        assert!(scl.remarks()[0].contains("R1, G2, M2, D1, N2"), "{:?}", scl.remarks());
        let empty = SclScale::from_bytes("none.scl", b"d\n0\n").unwrap();
        assert_eq!(empty.positions().iter().flatten().count(), 2, "Sa and Pa");
    }
}
