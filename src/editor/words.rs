//! The words: what each sign of the trade means in one plain line, and how numbers are said.
//!
//! In: core types. Out: text for labels, hovers and assistive technology. Names as in the usual Carnatic
//! solfege of 16 names on 12 places; the plain lines are ours.

use super::view::{LongToneView, View};
use crate::listener::Faults;
use crate::note::{Advice, Note};
use crate::swara::Named;
use crate::units::Cents;

/// From here on a scoop is worth a word, cents (our choice: a third of a semitone).
const SCOOP_CENTS: f64 = 33.0;

/// From here on another drone's Sa is another Sa, cents.
pub const DRONE_APART_CENTS: f64 = 10.0;

/// A signed number of cents: "+7", "−12", "0".
#[must_use]
pub fn signed(cents: Cents) -> String {
    Cents(cents.0.clamp(-9999.0, 9999.0)).signed()
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
    format!("{} {}, {side}", named.swara.short(), named.sthayi.name())
}

/// The word for what a singer should do next.
#[must_use]
pub fn way(advice: Advice) -> &'static str {
    match advice {
        Advice::Up => "up",
        Advice::Stay => "stay",
        Advice::Down => "down",
    }
}

/// Within the band, which way the voice leans, where it is nearer to the edge than to the swara.
#[must_use]
pub fn lean(offset: Cents, half: Cents) -> Option<&'static str> {
    let leans = (0.5 * half.0..=half.0).contains(&offset.0.abs());
    leans.then_some(if offset.0 < 0.0 { "a touch low" } else { "a touch high" })
}

/// Long-tone practice on Sa in a line; `None` where nobody has begun it.
#[must_use]
pub fn long_tone(tone: &LongToneView) -> Option<String> {
    if !tone.begun {
        return None;
    }
    let (steady, longest) = (clock(tone.steady_s), tone.longest_s);
    let goal = if tone.goal_minutes > 0.0 { format!(" of {}", clock(60.0 * tone.goal_minutes)) } else { String::new() };
    Some(format!("Steady Sa: {steady}{goal}; longest steady stretch {longest:.1} s"))
}

/// The text size that is set, and the one in force where the window has no room for it.
#[must_use]
pub fn text_size(set: f32, room: f32) -> String {
    let percent = |scale: f32| format!("{:.0} %", scale * 100.0);
    if set <= room + 0.005 {
        percent(set)
    } else {
        format!("{}; this window has room for {}", percent(set), percent(room))
    }
}

/// What the voice comes over: a pupil's may come over a call, one's own comes from a microphone.
#[must_use]
pub fn way_here(view: &View) -> &'static str {
    if view.lesson.profiles.current.is_empty() { "Microphone" } else { "Connection" }
}

/// How long what the project does not keep is there.
#[must_use]
pub fn lasts(view: &View, what: &str) -> String {
    let ends = if view.device.is_some() { "the program" } else { "the host" };
    format!("{what} until {ends} ends; the report and the CSV keep them.")
}

/// The state of the line since listening began, in a line.
#[must_use]
pub fn line(faults: &Faults) -> String {
    let told = faults.counted();
    if told.is_empty() { "no fault heard".to_owned() } else { told.join(", ") }
}

/// What is worth saying of a held note besides its offset, in plain words; empty if nothing is.
#[must_use]
pub fn noticed(note: &Note) -> String {
    let mut parts = Vec::new();
    if note.onset.scoop.0.abs() >= SCOOP_CENTS {
        let side = if note.onset.scoop.0 < 0.0 { "low" } else { "high" };
        parts.push(format!("started {:.0} cents {side}", note.onset.scoop.0.abs()));
    }
    if note.drift_said {
        let way = if note.drift_per_s < 0.0 { "down" } else { "up" };
        parts.push(format!("drifted {way} {:.0} cents a second", note.drift_per_s.abs()));
    }
    if let Some(hz) = note.waver_hz {
        parts.push(format!("wavered {hz:.0} times a second"));
    }
    if note.octaves_off != 0 {
        parts.push(format!("an octave {}", if note.octaves_off > 0 { "high" } else { "low" }));
    }
    parts.join(", ")
}

/// Word and meaning, for hovers and the state of the line's sheet.
pub const GLOSSARY: [(&str, &str); 22] = [
    ("Sa", "the singer's home note; everything is measured from it"),
    ("kattai", "a number for the pitch of Sa, as on a harmonium's white keys from C"),
    ("swara", "a note by its place above Sa: S R G M P D N, with a digit for its variant"),
    ("sthayi, register", "how high a swara lies: mandra is low (dot below), madhya middle, tara high (dot above)"),
    ("anumandra", "the register below mandra (two dots below)"),
    ("atitara", "the register above tara (two dots above)"),
    ("cents", "hundredths of a semitone; + is above the swara, − below"),
    ("band", "how far from the swara still counts as in tune"),
    ("held", "a note kept steady: only these are judged"),
    ("gamaka", "the swing between notes that belongs to the music: drawn thin, never judged"),
    ("raga, scale", "which swaras count"),
    ("melakarta", "one of the 72 parent scales, each with a number; every raga belongs to one"),
    ("chakra", "a group of six melakartas that have Ri, Ga and Ma in common; there are twelve"),
    ("tuning", "the table that says where exactly each swara lies above Sa"),
    ("madhyama shruti", "Sa is put where Ma lay, a fourth up; for songs that lie low"),
    ("arohana", "the swaras on the way up"),
    ("avarohana", "the swaras on the way down"),
    ("beats", "the slow throb of voice against drone: the nearer, the slower"),
    ("median", "the middle of all offsets: half lie above, half below"),
    ("spread", "how far the middle two thirds scatter"),
    ("listening", "on: held notes are counted; off: shown only (the teacher sings)"),
    ("freeze", "letter, figures and lines stand still; listening and the meter go on"),
];

/// What a word of the trade means, in one line; empty for any other word.
#[must_use]
pub fn explain(word: &str) -> &'static str {
    let is = |names: &str| names.split(", ").any(|name| name.eq_ignore_ascii_case(word));
    GLOSSARY.iter().find(|(names, _)| is(names)).map_or("", |(_, meaning)| meaning)
}

/// A label that is a word of the trade, or begins with one, says what it means when it is pointed at.
pub fn explained(label: egui::Response, name: &str) -> egui::Response {
    let first = name.split(' ').next().unwrap_or(name);
    match [name, first].map(explain).into_iter().find(|meaning| !meaning.is_empty()) {
        Some(meaning) => label.on_hover_text(meaning),
        None => label,
    }
}

/// Sa and the number that it goes by.
#[must_use]
pub fn about_sa() -> String {
    format!("Sa: {}\nkattai: {}", explain("Sa"), explain("kattai"))
}

/// The large letter, in words.
#[must_use]
pub fn letter(named: &Named) -> String {
    let (swara, sthayi) = (named.swara, named.sthayi);
    let names = format!("{} {}, {}", swara.short(), swara.full_name(), sthayi.name());
    let register = match explain(sthayi.name()) {
        "" => String::new(),
        meaning => format!("\n{}: {meaning}", sthayi.name()),
    };
    let plain = swara.explanation();
    format!("{names}\n{plain}\nswara: {}\nsthayi: {}{register}", explain("swara"), explain("sthayi"))
}

/// The caution, shown once.
pub const CAUTION: &str = "Start quiet; keep headphones low. Stop when the throat feels tired or hoarse, drink \
     water, and rest. If hoarseness stays, see a doctor. This window is a practice aid; it does not replace a teacher.";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::swara::{Sthayi, Swara};

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
    fn the_state_of_the_line_is_counted() {
        assert_eq!(line(&Faults::default()), "no fault heard");
        let told = line(&Faults { dropouts: 2, cut_notes: 3 });
        assert!(told.contains("3 held notes") && told.ends_with("2 dropouts"), "{told}");
    }

    #[test]
    fn the_outer_half_of_the_band_says_which_way_it_leans() {
        let at = |cents| lean(Cents(cents), Cents(20.0));
        assert_eq!((at(-14.0), at(20.0)), (Some("a touch low"), Some("a touch high")));
        assert_eq!((at(9.0), at(-9.9), at(21.0)), (None, None, None));
    }

    #[test]
    fn the_way_leads_back_into_the_band() {
        assert_eq!(Advice::of(Cents(-21.0), Cents(20.0)), Advice::Up);
        assert_eq!(Advice::of(Cents(20.0), Cents(20.0)), Advice::Stay);
        assert_eq!(Advice::of(Cents(33.0), Cents(25.0)), Advice::Down);
    }
}
