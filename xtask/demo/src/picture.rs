//! Pictures of the window as it stands at a moment of the demo take.

use crate::Result;
use crate::play::Checked;
use achala::editor::Window;
use achala::editor::picture::render;
use achala::editor::view::{DroneView, Face, LinePoint, LookChoice, NoteRow, View};
use achala::listener::{Event, Listener, Snapshot};
use achala::note::{Against, Kind, Note, again, beat};
use achala::shell::bridge::Bars;
use achala::swara::SwaraReading;
use achala::swara::tonic::said;
use achala::units::{Cents, SampleTime, num};
use std::path::{Path, PathBuf};

/// A moment inside the take's first held Sa, seconds: long enough for the stroke to stand.
const MOMENT_S: f64 = 3.4;
/// Seconds of line shown.
const SPAN_S: f64 = 60.0;

/// Sizes at which the window must be readable, logical points.
const SIZES: [(&str, f32, f32); 3] = [("small", 480.0, 320.0), ("usual", 1280.0, 720.0), ("large", 1920.0, 1080.0)];

/// Where the bars lie in a project into which the take was sung: four beats to the bar, from the first sample on.
const BARS: Bars =
    Bars { time: SampleTime(0), playing: true, quarters: 0.0, bar_start: 0.0, bar: 0, tempo: 72.0, signature: (4, 4) };

/// One picture of the singing face.
pub(crate) fn save(checked: &Checked, path: &Path) -> Result<()> {
    shot(&view(checked, MOMENT_S, Face::Singing, true), (1280.0, 720.0), path)
}

/// Every face at every size in both looks.
pub(crate) fn all(checked: &Checked, folder: &Path) -> Result<Vec<PathBuf>> {
    let mut made = Vec::new();
    let faces =
        [("singing", Face::Singing, MOMENT_S), ("teaching", Face::Teaching, 20.0), ("checking", Face::Checking, 1e9)];
    for (name, face, at) in faces {
        for (size, width, height) in SIZES {
            for (look, dark) in [("dark", true), ("light", false)] {
                let path = folder.join(format!("{name}-{size}-{look}.png"));
                shot(&view(checked, at, face, dark), (width, height), &path)?;
                made.push(path);
            }
        }
    }
    Ok(made)
}

fn shot(view: &View, (width, height): (f32, f32), path: &Path) -> Result<()> {
    let mut window = Window::new();
    let image = render(egui::vec2(width, height), 1.0, |ui| window.ui(ui, view, &mut Vec::new()));
    image.save(path)?;
    Ok(())
}

/// What the listener has said by a moment of the take, and nothing of what is sung after it.
struct Until {
    snapshot: Snapshot,
    readings: Vec<SwaraReading>,
    notes: Vec<Note>,
}

/// Sings the take to the listener up to `at` seconds; at its end the last note is final.
fn until(checked: &Checked, at: f64) -> Until {
    let Checked { samples, heard, asked, .. } = checked;
    let mut listener = Listener::new(heard.rate, asked.setting());
    let (mut readings, mut notes) = (Vec::new(), Vec::new());
    let mut keep = |event: Event<'_>| match event {
        Event::Reading(reading) => readings.push(*reading),
        Event::Note(note) => notes.push(*note),
        _ => {}
    };
    let length = num::index(at * heard.rate.hz()).min(samples.len());
    listener.process(&samples[..length], None, &mut keep);
    if length == samples.len() {
        listener.finish(&mut keep);
    }
    Until { snapshot: listener.snapshot(), readings, notes }
}

/// What the window sees at `at` seconds.
fn view(checked: &Checked, at: f64, face: Face, dark: bool) -> View {
    let Checked { heard, asked, .. } = checked;
    let at = at.min(heard.seconds);
    let Until { snapshot, readings, notes } = until(checked, at);
    let mut view = View::empty(asked.sa, asked.targets);
    view.now_s = at;
    view.shown_until_s = at;
    view.kept_s = at;
    view.face = face;
    view.look = LookChoice { dark, ..LookChoice::default() };
    view.caution_read = true;
    view.tonic = said(8, 3, Cents(0.0));
    view.band = asked.band;
    view.scale.current = asked.scale.title();
    view.tuning.current = asked.tuning.title_in(&asked.scale.names());
    view.drone = DroneView { on: true, level: "-12.0 dB".to_owned(), ..DroneView::default() };
    view.drone.kind.current = "Plucked strings".to_owned();
    view.drone.stringing.current = "First string Pa".to_owned();
    view.level = achala::units::Decibels(-18.0);
    for row in &mut view.meter {
        row.summary = snapshot.rows[usize::from(row.swara.position())];
    }
    let sung = snapshot.sung;
    view.judged_share = sung.held_share().filter(|_| sung.held_s + sung.oscillating_s > 0.0);
    view.page_age_s = sung.sung_s;
    view.current = snapshot.current;
    let kind = |time: SampleTime| {
        let sounding = view.current.filter(|current| current.start <= time).and_then(|current| current.kind);
        notes.iter().find(|n| n.start <= time && time <= n.end).map(|n| n.kind).or(sounding)
    };
    view.line = readings
        .iter()
        .filter(|r| r.frame.time.seconds(heard.rate) >= at - SPAN_S)
        .map(|r| LinePoint {
            time_s: r.frame.time.seconds(heard.rate),
            cents: r.cents.map(|c| num::single(c.0)),
            named: r.named,
            kind: kind(r.frame.time).filter(|_| r.cents.is_some()),
            beats_hz: None,
            several: r.frame.several,
        })
        .collect();
    for point in view.line.iter_mut().filter(|p| p.kind == Some(Kind::Held)) {
        let voice = point.cents.map(|c| asked.sa.up(Cents(f64::from(c))));
        let heard = voice.and_then(|voice| Against::ALL.into_iter().find_map(|a| beat(voice, asked.sa, a, 1.0)));
        point.beats_hz = heard.map(|beat| num::single(beat.rate_hz));
    }
    view.beats_hz = view.line.last().and_then(|p| p.beats_hz).map(f64::from);
    view.reading = snapshot.reading.and_then(|r| r.named);
    view.notes = notes.iter().map(|n| row(n, checked)).collect();
    let outside = view.notes.iter().enumerate().filter(|(_, row)| row.outside);
    view.again = again(outside.map(|(i, row)| (i, &row.note)));
    view
}

fn row(note: &Note, checked: &Checked) -> NoteRow {
    let rate = checked.heard.rate;
    NoteRow {
        note: *note,
        start_s: note.start.seconds(rate),
        end_s: note.end.seconds(rate),
        bar_beat: BARS.place(note.start, rate),
        outside: note.outside(checked.asked.band),
        sa: checked.asked.sa,
        pupil: 0,
        page: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::play;

    #[test]
    fn a_picture_shows_what_was_sung_until_its_moment_and_no_more() {
        let checked = play::check(&play::take().unwrap()).unwrap();
        let held = |view: &View| view.notes.iter().filter(|row| row.note.kind == Kind::Held).count();
        let counted = |view: &View| view.meter.iter().map(|row| row.summary.notes as usize).sum::<usize>();
        let mut before = 0.0;
        for at in [MOMENT_S, 20.0, 1e9] {
            let view = view(&checked, at, Face::Singing, true);
            assert!(view.page_age_s > before && view.page_age_s <= view.now_s, "{} s at {at}", view.page_age_s);
            before = view.page_age_s;
            assert_eq!(counted(&view), held(&view), "at {at} s");
            assert!(view.notes.iter().all(|row| row.end_s <= view.now_s));
            assert!(view.line.iter().all(|point| point.time_s <= view.now_s));
        }
        let first = view(&checked, MOMENT_S, Face::Singing, true);
        assert!(first.current.is_some_and(|c| c.kind == Some(Kind::Held) && c.seconds > 1.0), "{:?}", first.current);
        assert!(counted(&first) < 2, "the first held note sounds still");
        let whole = view(&checked, 1e9, Face::Checking, true);
        for row in &whole.meter {
            assert_eq!(row.summary, checked.heard.meter.row(row.swara.position()));
        }
    }
}
