//! Writes what a lesson came to into the user's own folder: notes, report, markers.
//!
//! In: the history and what it was measured against. Out: files in `Achala` in the user's home folder, the
//! same as the take checker's. No sound is written and nothing leaves the machine.

use super::bridge::{Bridge, LinePoint};
use super::choices::Choices;
use super::history::Mark;
use crate::note::{Band, Kind, Note};
use crate::pitch::F0Frame;
use crate::swara::{self, SwaraReading};
use crate::take::report::MarkRow;
use crate::take::{Asked, Heard, Report, TakeError, csv as take_csv, html, write};
use crate::units::{Cents, Decibels, Hertz, num};
use midly::num::{u15, u24, u28};
use midly::{Format, Header, MetaMessage, Smf, Timing, TrackEvent, TrackEventKind};
use std::path::PathBuf;

/// Ticks per quarter note in the markers' file; at the file's 120 quarters a minute a tick is about a millisecond.
const TICKS: u16 = 480;
/// Microseconds a quarter: 120 a minute.
const QUARTER_US: u32 = 500_000;

/// Bar and beat of each note, where the host gave them.
type Places = Vec<Option<(i64, i64)>>;

/// What is written out.
pub struct Lesson<'a> {
    /// Where the history is.
    pub bridge: &'a Bridge,
    /// What was chosen.
    pub choices: &'a Choices,
    /// Madhya Sa.
    pub sa: Hertz,
    /// In-tune half-widths.
    pub band: Band,
}

/// The folder for all that is written: `Achala` in the user's home.
fn folder() -> PathBuf {
    let home = std::env::var_os(if cfg!(windows) { "USERPROFILE" } else { "HOME" });
    home.map_or_else(|| PathBuf::from("."), PathBuf::from).join("Achala")
}

/// A name that is not taken yet: `lesson-1`, `lesson-2`, ...
fn fresh(ending: &str) -> PathBuf {
    let folder = folder();
    let mut number = 1_u32;
    loop {
        let path = folder.join(format!("lesson-{number}{ending}"));
        if !path.exists() {
            return path;
        }
        number += 1;
    }
}

impl Lesson<'_> {
    fn asked(&self) -> Asked {
        self.choices.look(|c| Asked {
            sa: self.sa,
            scale: c.scale.clone(),
            tuning: c.tuning.clone(),
            band_name: format!("{} / {}", self.band.fixed.0, self.band.others.0),
            band: self.band,
            targets: c.setup.targets,
        })
    }

    /// The lesson in the form of a take, and bar and beat of each note. The statistics are those of the page in force: of
    /// what was sung since this Sa, scale and tuning were set.
    fn heard(&self, asked: &Asked) -> Option<(Heard, Places)> {
        let meter = self.bridge.page_meter((self.sa, self.choices.look(|c| c.setup.page)));
        let warnings = self.bridge.live().snapshot.map_or_else(Vec::new, |s| s.faults.told());
        self.bridge.history(|history| {
            let rate = history.rate?;
            let seconds = history.line.back()?.time.seconds(rate);
            let frames = history.line.iter().map(|point| reading(point, asked)).collect();
            let notes = history.notes.iter().copied().collect();
            let measured_from = history.measured_from.iter().copied().collect();
            let places = history.notes.iter().map(|note| history.bar_beat(note.start)).collect();
            Some((Heard { rate, seconds, frames, notes, measured_from, meter, octave: None, warnings }, places))
        })
    }

    fn known(&self) -> Result<(Asked, Heard, Places), TakeError> {
        let asked = self.asked();
        let (heard, places) =
            self.heard(&asked).ok_or(TakeError::Usage("nothing was heard yet: sing first, then save".into()))?;
        Ok((asked, heard, places))
    }
}

fn reading(point: &LinePoint, asked: &Asked) -> SwaraReading {
    let cents = (!point.cents.is_nan()).then(|| Cents(f64::from(point.cents)));
    let frame = F0Frame {
        time: point.time,
        available: point.time,
        f0: cents.map(|c| asked.sa.up(c)),
        voiced: cents.is_some(),
        confidence: 1.0,
        level: Decibels(0.0),
        clipped: false,
        several: point.several,
    };
    swara::read(&frame, asked.sa, &asked.targets)
}

/// The notes as CSV, with the host's bar and beat and the Sa of each.
///
/// # Errors
/// Nothing heard yet, or the file cannot be written.
pub fn csv(lesson: &Lesson<'_>) -> Result<PathBuf, TakeError> {
    let path = fresh(".notes.csv");
    let text = table(lesson)?;
    write::whole(&path, |out| out.write_all(&text))?;
    Ok(path)
}

/// What [`csv`] writes.
///
/// # Errors
/// Nothing heard yet.
pub fn table(lesson: &Lesson<'_>) -> Result<Vec<u8>, TakeError> {
    let (_, heard, places) = lesson.known()?;
    let mut text = Vec::new();
    // Memory takes all that is written.
    let _ = take_csv::lesson_notes(&heard, &places, &mut text);
    Ok(text)
}

/// The lesson's report, the same as the take checker's.
///
/// # Errors
/// As [`csv`].
pub fn report(lesson: &Lesson<'_>) -> Result<PathBuf, TakeError> {
    let path = fresh(".html");
    let page = page(lesson)?;
    write::whole(&path, |out| out.write_all(page.as_bytes()))?;
    Ok(path)
}

/// What [`report`] writes.
///
/// # Errors
/// Nothing heard yet.
pub fn page(lesson: &Lesson<'_>) -> Result<String, TakeError> {
    let (asked, heard, _) = lesson.known()?;
    let mut report = Report::new("Lesson", &heard, &asked);
    report.marks = lesson.bridge.history(|history| {
        let row = |mark: &Mark| MarkRow { time_s: mark.time.seconds(heard.rate), word: mark.word.clone() };
        history.marks.iter().map(row).collect()
    });
    html::page(&report, &heard, &asked)
}

/// Marks and held notes as markers in a Standard MIDI File (format 0), at 120 quarters a minute.
///
/// # Errors
/// As [`csv`].
pub fn markers(lesson: &Lesson<'_>) -> Result<PathBuf, TakeError> {
    let (_, heard, _) = lesson.known()?;
    let mut moments: Vec<(f64, String)> =
        heard.notes.iter().filter(|n| n.kind == Kind::Held).map(|n| (n.start.seconds(heard.rate), label(n))).collect();
    lesson.bridge.history(|h| moments.extend(h.marks.iter().map(|m| (m.time.seconds(heard.rate), m.word.clone()))));
    moments.sort_by(|a, b| a.0.total_cmp(&b.0));
    let bytes = midi(&moments)?;
    let path = fresh(".mid");
    write::whole(&path, |out| out.write_all(&bytes))?;
    Ok(path)
}

/// "G3 -14 c", plain text as MIDI asks.
fn label(note: &Note) -> String {
    format!("{} {:+.0} c", note.swara.short(), note.offset.0)
}

fn midi(moments: &[(f64, String)]) -> Result<Vec<u8>, TakeError> {
    let meta = |delta: u32, message| TrackEvent { delta: u28::new(delta), kind: TrackEventKind::Meta(message) };
    let mut track = vec![meta(0, MetaMessage::Tempo(u24::new(QUARTER_US)))];
    let mut last = 0;
    for (seconds, word) in moments {
        let tick = u32::try_from(num::index(seconds * f64::from(TICKS) * 1e6 / f64::from(QUARTER_US))).unwrap_or(last);
        track.push(meta(tick.saturating_sub(last), MetaMessage::Marker(word.as_bytes())));
        last = tick;
    }
    track.push(meta(0, MetaMessage::EndOfTrack));
    let file = Smf { header: Header::new(Format::SingleTrack, Timing::Metrical(u15::new(TICKS))), tracks: vec![track] };
    let mut bytes = Vec::new();
    file.write(&mut bytes).map_err(|_| TakeError::Usage("the markers do not fit a MIDI file".into()))?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markers_are_a_standard_midi_file_with_the_moments_in_it() {
        let bytes = midi(&[(1.0, "S +3 c".into()), (2.5, "again".into())]).unwrap();
        // Standard MIDI Files 1.0 (MIDI Manufacturers Association): MThd, length 6, format 0, one track.
        assert_eq!(&bytes[..12], b"MThd\0\0\0\x06\0\0\0\x01");
        let file = Smf::parse(&bytes).unwrap();
        let mut tick = 0;
        let mut found = Vec::new();
        for event in &file.tracks[0] {
            tick += event.delta.as_int();
            if let TrackEventKind::Meta(MetaMessage::Marker(word)) = event.kind {
                found.push((tick, String::from_utf8(word.to_vec()).unwrap()));
            }
        }
        assert_eq!(found, [(960, "S +3 c".to_owned()), (2400, "again".to_owned())]);
    }
}
