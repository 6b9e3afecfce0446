//! Writes what a lesson came to into the user's own folder: notes, report, markers.
//!
//! In: the history and what it was measured against. Out: files in `Achala` in the user's home folder, the
//! same as the take checker's. No sound is written and nothing leaves the machine.

use super::bridge::{Bridge, LinePoint, Mark};
use super::choices::Choices;
use super::markers;
use super::state::PageKey;
use crate::note::{Band, Kind, Note, again};
use crate::pitch::F0Frame;
use crate::swara::{self, Scale, SwaraReading, Tuning};
use crate::take::csv::Beside;
use crate::take::report::MarkRow;
use crate::take::run::same_sa;
use crate::take::{Asked, Heard, Report, TakeError, csv as take_csv, html, write};
use crate::units::{Cents, Decibels, Hertz};
use std::path::PathBuf;
use std::sync::Arc;
use time::OffsetDateTime;

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

    /// The lesson in the form of a take, and what is known beside each note. The statistics are those of the page in force: of
    /// what was sung since this Sa, scale and tuning were set.
    fn heard(&self, asked: &Asked) -> Option<(Heard, Vec<Beside>)> {
        let page = self.choices.page_key(self.sa);
        let meter = self.bridge.page_meter((self.sa, self.choices.look(|c| c.setup.page)));
        let warnings = self.bridge.live().snapshot.map_or_else(Vec::new, |s| s.faults.told());
        self.bridge.history(|history| {
            let rate = history.rate?;
            let seconds = history.line.back()?.time.seconds(rate);
            let frames = history.line.iter().map(|point| reading(point, asked)).collect();
            let notes = history.notes.iter().copied().collect();
            let measured_from = history.measured_from.iter().copied().collect();
            let beside = |(note, of): (&Note, &Option<Arc<PageKey>>)| Beside {
                place: history.bar_beat(note.start),
                others: of.as_ref().map_or_else(Vec::new, |of| others(of, &page)),
            };
            let beside = history.notes.iter().zip(&history.pages).map(beside).collect();
            Some((Heard { rate, seconds, frames, notes, measured_from, meter, octave: None, warnings }, beside))
        })
    }

    fn known(&self) -> Result<(Asked, Heard, Vec<Beside>), TakeError> {
        let asked = self.asked();
        let (heard, beside) =
            self.heard(&asked).ok_or(TakeError::Usage("nothing was heard yet: sing first, then save".into()))?;
        Ok((asked, heard, beside))
    }
}

/// What was chosen for a note's page and is not for the one in force, in the words of the window's list. No name of a pupil:
/// a report is passed on.
fn others(of: &PageKey, now: &PageKey) -> Vec<String> {
    let scale = || Scale::parse(&of.scale).map_or_else(|_| of.scale.clone(), |scale| scale.title());
    let tuning = || Tuning::from_name(&of.tuning).map_or_else(|_| of.tuning.clone(), |tuning| tuning.title());
    let pupil = (of.pupil != now.pupil).then(|| "other pupil".to_owned());
    let scale = (of.scale != now.scale).then(|| format!("other raga: {}", scale()));
    let tuning = (of.tuning != now.tuning).then(|| format!("other tuning: {}", tuning()));
    pupil.into_iter().chain(scale).chain(tuning).collect()
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
    let (_, heard, beside) = lesson.known()?;
    let mut text = Vec::new();
    // Memory takes all that is written.
    let _ = take_csv::lesson_notes(&heard, &beside, &mut text);
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
    let (asked, heard, beside) = lesson.known()?;
    let mut report = Report::new("Lesson", &heard, &asked);
    report.tool = "Achala";
    report.saved = Some(stamp(OffsetDateTime::now_utc()));
    let cleared = lesson.bridge.history(|history| history.cleared);
    let counts = |i: usize| beside.get(i).is_some_and(|b| b.others.is_empty());
    let kept = |note: &Note| cleared.is_none_or(|cleared| note.end > cleared);
    report.worth = Some(worth(&heard, &asked, |i, note| counts(i) && kept(note)));
    for (note, beside) in report.notes.iter_mut().zip(beside) {
        note.others = beside.others;
    }
    report.marks = lesson.bridge.history(|history| {
        let row = |mark: &Mark| MarkRow { time_s: mark.time.seconds(heard.rate), word: mark.word.clone() };
        history.marks.iter().map(row).collect()
    });
    html::page(&report, &heard, &asked)
}

/// An instant in words: in UTC, since what the local time is cannot be asked safely beside other threads.
fn stamp(at: OffsetDateTime) -> String {
    let (year, month, day) = (at.year(), u8::from(at.month()), at.day());
    format!("{year}-{month:02}-{day:02} {:02}:{:02} UTC", at.hour(), at.minute())
}

/// The notes most worth singing again of all that was sung from the Sa in force and `counts`: the window's.
fn worth(heard: &Heard, asked: &Asked, counts: impl Fn(usize, &Note) -> bool) -> Vec<usize> {
    let all = heard.notes.iter().zip(&heard.measured_from).enumerate();
    let outside = all.filter(|(i, (note, sa))| {
        note.outside(asked.band) && same_sa(**sa, asked.sa) && !asked.targets.lack(note.cents) && counts(*i, note)
    });
    again(outside.map(|(i, (note, _))| (i, note)))
}

/// Marks and held notes as markers in a Standard MIDI File: at the host's bars and beats where it has a timeline.
///
/// # Errors
/// As [`csv`].
pub fn markers(lesson: &Lesson<'_>) -> Result<PathBuf, TakeError> {
    let bytes = marked(lesson)?;
    let path = fresh(".mid");
    write::whole(&path, |out| out.write_all(&bytes))?;
    Ok(path)
}

/// What [`markers()`] writes.
///
/// # Errors
/// Nothing heard yet.
pub fn marked(lesson: &Lesson<'_>) -> Result<Vec<u8>, TakeError> {
    let (_, heard, _) = lesson.known()?;
    let held = heard.notes.iter().filter(|note| note.kind == Kind::Held);
    let mut moments: Vec<Mark> = held.map(|note| Mark { time: note.start, word: label(note) }).collect();
    let file = lesson.bridge.history(|history| {
        moments.extend(history.marks.iter().map(|mark| Mark { word: word(mark).to_owned(), ..*mark }));
        moments.sort_by_key(|moment| moment.time);
        markers::file(&moments, history.bars.make_contiguous(), heard.rate)
    });
    file.ok_or(TakeError::Usage("the markers do not fit a MIDI file".into()))
}

/// A host shows a marker by its name.
fn word(mark: &Mark) -> &str {
    if mark.word.is_empty() { "mark" } else { &mark.word }
}

/// "G3 -14 c", plain text as MIDI asks.
fn label(note: &Note) -> String {
    format!("{} {:+.0} c", note.swara.short(), note.offset.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::note::Onset;
    use crate::shell::bridge::{AudioEnd, Bars, bridge};
    use crate::shell::state::Chosen;
    use crate::swara::{Sthayi, Swara};
    use crate::units::SampleTime;
    use midly::{MetaMessage, Smf, Timing, TrackEventKind};
    use std::sync::atomic::Ordering;
    use std::sync::{Arc, RwLock};

    const RATE: f64 = 48_000.0;

    fn at(seconds: f64) -> SampleTime {
        SampleTime(crate::units::num::int(seconds * RATE))
    }

    fn held(start_s: f64, swara: Swara, offset: f64) -> Note {
        Note {
            kind: Kind::Held,
            start: at(start_s),
            end: at(start_s + 0.5),
            swara,
            sthayi: Sthayi(0),
            offset: Cents(offset),
            cents: Cents(offset),
            expected: false,
            octaves_off: 0,
            drift_per_s: 0.0,
            drift_said: false,
            drift_error_per_s: 0.0,
            wobble: Cents(3.0),
            waver_hz: None,
            in_tune: 1.0,
            onset: Onset { scoop: Cents(0.0), seconds: 0.0 },
            longest_steady_s: 0.5,
            judged_s: 0.5,
            timeline: None,
            pass: 0,
        }
    }

    /// What is in the file that is written of twelve seconds: the tick of each tempo (quarters a minute), signature and marker.
    fn written(play: impl FnOnce(&mut AudioEnd)) -> Vec<(u32, String)> {
        let (setup, choices) = Choices::new(Arc::new(RwLock::new(Chosen::default())));
        let (bridge, mut end) = bridge(setup);
        bridge.shared.rate_hz.store(48_000.0, Ordering::Relaxed);
        for k in 0..2_400 {
            end.line(LinePoint { time: SampleTime(240 * k), cents: 0.0, several: false, counts: true });
        }
        play(&mut end);
        let band = Band { fixed: Cents(20.0), others: Cents(25.0) };
        let bytes = marked(&Lesson { bridge: &bridge, choices: &choices, sa: Hertz(146.83), band }).unwrap();
        // Standard MIDI Files 1.0 (MIDI Manufacturers Association): MThd, length 6, format 0, one track.
        assert_eq!(&bytes[..12], b"MThd\0\0\0\x06\0\0\0\x01");
        let file = Smf::parse(&bytes).unwrap();
        assert_eq!(file.header.timing, Timing::Metrical(480.into()));
        let mut tick = 0;
        let mut found = Vec::new();
        for event in &file.tracks[0] {
            tick += event.delta.as_int();
            let said = match event.kind {
                TrackEventKind::Meta(MetaMessage::Tempo(us)) => format!("{:.2}", 6e7 / f64::from(us.as_int())),
                TrackEventKind::Meta(MetaMessage::TimeSignature(beats, power, ..)) => format!("{beats}/{}", 1 << power),
                TrackEventKind::Meta(MetaMessage::Marker(word)) => String::from_utf8(word.to_vec()).unwrap(),
                TrackEventKind::Meta(MetaMessage::EndOfTrack) => continue,
                other => panic!("{other:?}"),
            };
            found.push((tick, said));
        }
        found
    }

    fn bars(time_s: f64, playing: bool, (quarters, tempo): (f64, f64)) -> Bars {
        let signature = (3, 4);
        let bar = (quarters / 3.0).floor();
        let bar_start = 3.0 * bar;
        let bar = i32::try_from(crate::units::num::int(bar)).unwrap();
        Bars { time: at(time_s), playing, quarters, bar_start, bar, tempo, signature }
    }

    fn said(expected: &[(u32, &str)]) -> Vec<(u32, String)> {
        expected.iter().map(|(tick, what)| (*tick, (*what).to_owned())).collect()
    }

    #[test]
    fn a_report_says_when_it_was_saved_and_in_which_time() {
        let at = OffsetDateTime::from_unix_timestamp(1_796_000_700).unwrap();
        // 1796000700 s after 1970 began, counted in UTC.
        assert_eq!(stamp(at), "2026-11-30 01:05 UTC");
    }

    #[test]
    fn markers_lie_at_the_hosts_bars_with_its_tempo_and_only_the_last_pass_is_there() {
        let sa = Hertz(146.83);
        let found = written(|end| {
            end.bars(bars(0.0, true, (12.0, 120.0)));
            end.note(&held(1.0, Swara::S, 9.0), (sa, 0));
            // The loop goes back: bar 3 of three beats, sung again; the tempo drops to 90 at its fifth quarter.
            end.bars(bars(4.0, true, (6.0, 120.0)));
            end.note(&held(5.0, Swara::S, 3.0), (sa, 0));
            end.bars(bars(6.5, true, (11.0, 90.0)));
            end.note(&held(8.5, Swara::P, -14.0), (sa, 0));
            // Stopped; somebody tries a note while it stands, and it starts for a moment.
            end.bars(bars(10.0, false, (16.25, 90.0)));
            end.note(&held(10.5, Swara::P, 40.0), (sa, 0));
            end.bars(bars(11.5, true, (16.25, 90.0)));
        });
        // 1 s at 120 from quarter 6; 2 s at 90 from quarter 11; 480 ticks a quarter.
        let expected = [
            (0, "120.00"),
            (0, "3/4"),
            (6 * 480, "3/4"),
            (8 * 480, "S +3 c"),
            (11 * 480, "90.00"),
            (14 * 480, "P -14 c"),
        ];
        assert_eq!(found, said(&expected));
    }

    #[test]
    fn another_signature_begins_with_its_bar_and_a_mark_is_a_marker() {
        let found = written(|end| {
            end.bars(bars(0.0, true, (0.0, 60.0)));
            // Told 10 ms after its bar began.
            end.bars(Bars { signature: (5, 8), bar_start: 3.0, ..bars(3.01, true, (3.01, 60.0)) });
            end.line(LinePoint { time: at(12.0), cents: f32::NAN, several: false, counts: true });
            end.mark();
        });
        assert_eq!(found, said(&[(0, "60.00"), (0, "3/4"), (3 * 480, "5/8"), (12 * 480, "mark")]));
    }

    #[test]
    fn without_a_timeline_markers_lie_at_their_seconds() {
        let found = written(|end| {
            end.bars(bars(0.0, false, (16.0, 90.0)));
            end.note(&held(1.0, Swara::S, 3.0), (Hertz(146.83), 0));
            end.note(&held(2.5, Swara::P, -2.0), (Hertz(146.83), 0));
        });
        // At 120 quarters a minute a second is two of them.
        assert_eq!(found, said(&[(0, "120.00"), (960, "S +3 c"), (2_400, "P -2 c")]));
    }
}
