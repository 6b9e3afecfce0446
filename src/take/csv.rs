//! Writes frames and notes as plain tables that a spreadsheet opens.
//!
//! In: what was [`Heard`]. Out: CSV text with LF line ends, a dot as decimal sign and these headers, which
//! never change (columns may be added at the end): [`FRAMES_HEADER`], [`NOTES_HEADER`], and behind all columns of a note's line `far`. Times in seconds from
//! the first sample, pitch in hertz, intervals in cents. A field is empty where there is nothing to say: no
//! estimate in a frame, no judgement on a note that moves. `swara` is the short full name (`S R1 ... N3`),
//! `octave` -2 to 2 (anumandra, mandra, madhya, tara, atitara).
//!
//! Columns of the notes, in the words of [`crate::note`]; x is the judged part's line in cents over t in seconds:
//! `start_s`, `end_s` the note over voice only; `cents` offset, median of x minus the target; `drift_cents_per_s` b, the
//! least-squares slope of x = a + b t, and `drift_said` whether it is worth saying; `wobble_cents`
//! sqrt(mean (x - a - b t)^2); `in_tune_share` judged frames within the band over judged frames; `kind`; `judged_s`
//! length of the judged part; `onset_scoop_cents`, `onset_s` where the voice came in minus where it was held, and how long the
//! way took; `longest_steady_s` the longest run with a standard deviation of at most 12 cents over the last second; `waver_hz`
//! rate of a regular waver; `far` whether no swara of the scale was sung; `beats_*_hz` beats of the strongest coinciding partials against the drone's Sa, Pa, upper Sa.

use super::run::Heard;
use crate::note::{Kind, Note};
use crate::units::{Hertz, SampleRate};
use std::io::{self, Write};

/// First line of the frames.
pub const FRAMES_HEADER: &str = "time_s,available_s,f0_hz,confidence,voiced,swara,octave,cents";

/// First line of the notes.
pub const NOTES_HEADER: &str = "start_s,end_s,swara,octave,cents,drift_cents_per_s,wobble_cents,in_tune_share,kind,\
judged_s,onset_scoop_cents,onset_s,longest_steady_s,drift_said,waver_hz,beats_sa_hz,beats_pa_hz,beats_upper_sa_hz";

/// Writes the frames.
///
/// # Errors
/// Those of `out`.
pub fn frames(heard: &Heard, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "{FRAMES_HEADER}")?;
    for reading in &heard.frames {
        let frame = &reading.frame;
        let f0 = optional(frame.f0.map(|f| f.0), 4);
        let (time, available) = (frame.time.seconds(heard.rate), frame.available.seconds(heard.rate));
        write!(out, "{time:.6},{available:.6},{f0},{:.4},{},", frame.confidence, u8::from(frame.voiced))?;
        match reading.named {
            Some(named) => {
                writeln!(out, "{},{},{:.2}", named.swara.short(), named.sthayi.0, named.offset.0)?;
            }
            None => writeln!(out, ",,")?,
        }
    }
    Ok(())
}

/// Writes the notes, in order of their starts. `sa`: the drone's Sa, for the beats (empty where none fits into the note).
///
/// # Errors
/// Those of `out`.
pub fn notes(heard: &Heard, sa: Hertz, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "{NOTES_HEADER},far")?;
    for note in &heard.notes {
        writeln!(out, "{},{}", note_line(note, heard.rate, sa), far_field(note))?;
    }
    Ok(())
}

/// What a lesson knows of a note beside its judgement.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Beside {
    /// Bar and beat of its start, from 1, where the host gave them.
    pub place: Option<(i64, i64)>,
    /// Another raga, tuning or pupil than the one in force, each in a few words.
    pub others: Vec<String>,
}

/// The same of a lesson, with four more columns before the last: `bar` and `beat` of a host's timeline at each note's start, from 1 (empty
/// where it stood); `sa_hz`, the Sa that the note was measured from, which the beats are against; and `other`, what raga,
/// tuning or pupil was chosen where it is not the one of now. `beside`: in the order of the notes.
///
/// # Errors
/// Those of `out`.
pub fn lesson_notes(heard: &Heard, beside: &[Beside], out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "{NOTES_HEADER},bar,beat,sa_hz,other,far")?;
    for ((note, sa), Beside { place, others }) in heard.notes.iter().zip(&heard.measured_from).zip(beside) {
        let place = place.map_or_else(|| ",".to_owned(), |(bar, beat)| format!("{bar},{beat}"));
        let others = quoted(&others.join("; "));
        let line = note_line(note, heard.rate, *sa);
        writeln!(out, "{line},{place},{:.2},{others},{}", sa.0, far_field(note))?;
    }
    Ok(())
}

/// A field that may hold a raga's own name, as RFC 4180 asks.
fn quoted(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) { format!("\"{}\"", text.replace('"', "\"\"")) } else { text.to_owned() }
}

/// The word for a kind, as in the `kind` column.
#[must_use]
pub fn kind_word(kind: Kind) -> &'static str {
    match kind {
        Kind::Held => "held",
        Kind::Oscillating => "oscillating",
        Kind::Gliding => "gliding",
    }
}

/// Whether a held note lies so far from its swara that another one was sung, and the swara's figures leave it out.
fn far_field(note: &Note) -> String {
    optional((note.kind == Kind::Held).then_some(f64::from(u8::from(note.far()))), 0)
}

fn note_line(note: &Note, rate: SampleRate, sa: Hertz) -> String {
    let judged = |value: f64, digits: usize| optional((note.kind == Kind::Held).then_some(value), digits);
    let beats = note.beats(sa, rate).map(|b| b.filter(|b| b.heard && note.kind == Kind::Held).map(|b| b.rate_hz));
    let [beats_sa, beats_pa, beats_upper_sa] = beats.map(|b| optional(b, 2));
    [
        format!("{:.4}", note.start.seconds(rate)),
        format!("{:.4}", note.end.seconds(rate)),
        note.swara.short().to_owned(),
        note.sthayi.0.to_string(),
        judged(note.offset.0, 2),
        judged(note.drift_per_s, 2),
        judged(note.wobble.0, 2),
        judged(note.in_tune, 3),
        kind_word(note.kind).to_owned(),
        judged(note.judged_s, 3),
        judged(note.onset.scoop.0, 1),
        judged(note.onset.seconds, 3),
        judged(note.longest_steady_s, 3),
        judged(f64::from(u8::from(note.drift_said)), 0),
        optional(note.waver_hz.filter(|_| note.kind == Kind::Held), 2),
        beats_sa,
        beats_pa,
        beats_upper_sa,
    ]
    .join(",")
}

/// A number with `digits` decimals, or nothing where there is none or it is not finite.
fn optional(value: Option<f64>, digits: usize) -> String {
    value.filter(|v| v.is_finite()).map_or_else(String::new, |v| format!("{v:.digits$}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::Meter;
    use crate::note::Onset;
    use crate::pitch::F0Frame;
    use crate::swara::{Named, Sthayi, Swara, SwaraReading};
    use crate::units::{Cents, Decibels, SampleTime};

    fn reading(f0: Option<f64>, voiced: bool) -> SwaraReading {
        let frame = F0Frame {
            time: SampleTime(44_100),
            available: SampleTime(45_000),
            f0: f0.map(Hertz),
            voiced,
            confidence: 0.5,
            level: Decibels(-20.0),
            clipped: false,
            several: false,
        };
        let named = Named { swara: Swara::P, sthayi: Sthayi(-1), offset: Cents(-12.345) };
        SwaraReading { frame, cents: voiced.then_some(Cents(-510.39)), named: voiced.then_some(named) }
    }

    fn note(kind: Kind) -> Note {
        Note {
            kind,
            start: SampleTime(44_100),
            end: SampleTime(88_200),
            swara: Swara::S,
            sthayi: Sthayi(0),
            offset: Cents(-3.0),
            cents: Cents(-3.0),
            expected: false,
            octaves_off: 0,
            drift_per_s: f64::NAN,
            drift_said: false,
            drift_error_per_s: 0.1,
            wobble: Cents(2.0),
            waver_hz: None,
            in_tune: 1.0,
            onset: Onset { scoop: Cents(0.0), seconds: 0.0 },
            longest_steady_s: 0.9,
            judged_s: 0.7,
            timeline: None,
            pass: 0,
        }
    }

    fn heard() -> Heard {
        Heard {
            rate: SampleRate::new(44_100.0).unwrap(),
            seconds: 3.0,
            frames: vec![reading(Some(109.25), true), reading(Some(50.0), false), reading(None, false)],
            notes: vec![note(Kind::Held), note(Kind::Oscillating)],
            measured_from: vec![Hertz(200.0), Hertz(220.0)],
            meter: Meter::new(),
            octave: None,
            warnings: Vec::new(),
        }
    }

    fn lines(write: impl FnOnce(&mut Vec<u8>) -> io::Result<()>) -> Vec<String> {
        let mut out = Vec::new();
        write(&mut out).unwrap();
        String::from_utf8(out).unwrap().lines().map(str::to_owned).collect()
    }

    #[test]
    fn frames_say_nothing_where_there_is_nothing_to_say() {
        assert_eq!(
            lines(|out| frames(&heard(), out)),
            [
                "time_s,available_s,f0_hz,confidence,voiced,swara,octave,cents",
                "1.000000,1.020408,109.2500,0.5000,1,P,-1,-12.35",
                "1.000000,1.020408,50.0000,0.5000,0,,,",
                "1.000000,1.020408,,0.5000,0,,,",
            ]
        );
    }

    #[test]
    fn a_note_that_moves_bears_no_judgement() {
        let table = lines(|out| notes(&heard(), Hertz(200.0), out));
        let head = "start_s,end_s,swara,octave,cents,drift_cents_per_s,wobble_cents,in_tune_share,kind";
        assert!(table[0].starts_with(head));
        assert!(table[1].starts_with("1.0000,2.0000,S,0,-3.00,,2.00,1.000,held,0.700,"), "{}", table[1]);
        assert!(table[2].starts_with("1.0000,2.0000,S,0,,,,,oscillating,,"), "{}", table[2]);
        assert!(table.iter().all(|l| l.split(',').count() == NOTES_HEADER.split(',').count() + 1));
        assert!(table[0].ends_with(",far") && table[1].ends_with(",0") && table[2].ends_with(','), "{table:?}");
        let mut another = heard();
        another.notes[0].offset = crate::units::Cents(-317.0);
        assert!(lines(|out| notes(&another, Hertz(200.0), out))[1].ends_with(",1"));
        // Who was asked for a swara missed it.
        another.notes[0].expected = true;
        assert!(lines(|out| notes(&another, Hertz(200.0), out))[1].ends_with(",0"));
    }

    #[test]
    fn a_lessons_note_says_the_sa_that_it_was_measured_from() {
        let here = Beside { place: Some((3, 2)), others: Vec::new() };
        let there = Beside { place: None, others: vec!["other pupil".into(), "other raga: Mine, \"old\"".into()] };
        let table = lines(|out| lesson_notes(&heard(), &[here, there], out));
        assert!(table[0].ends_with(",bar,beat,sa_hz,other,far"), "{}", table[0]);
        assert!(table[1].ends_with(",3,2,200.00,,0"), "{table:?}");
        assert!(table[2].ends_with(",,,220.00,\"other pupil; other raga: Mine, \"\"old\"\"\","), "{table:?}");
    }
}
