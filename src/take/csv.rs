//! Writes frames and notes as plain tables that a spreadsheet opens.
//!
//! In: what was [`Heard`]. Out: CSV text with LF line ends, a dot as decimal sign and these headers, which
//! never change (columns may be added at the end): [`FRAMES_HEADER`], [`NOTES_HEADER`]. Times in seconds from
//! the first sample, pitch in hertz, intervals in cents. A field is empty where there is nothing to say: no
//! estimate in a frame, no judgement on a note that moves. `swara` is the short full name (`S R1 ... N3`),
//! `octave` -2 to 2 (anumandra, mandra, madhya, tara, atitara).

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
    writeln!(out, "{NOTES_HEADER}")?;
    for note in &heard.notes {
        writeln!(out, "{}", note_line(note, heard.rate, sa))?;
    }
    Ok(())
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
