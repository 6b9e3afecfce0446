//! Pictures of the window as it stands at a moment of the demo take.

use crate::Result;
use crate::play::Checked;
use achala::editor::Window;
use achala::editor::picture::render;
use achala::editor::view::{DroneView, Face, LinePoint, LookChoice, NoteRow, View};
use achala::note::{Against, Current, Kind, Note, again, beat};
use achala::shell::bridge::Bars;
use achala::swara::tonic::said;
use achala::units::{Cents, SampleTime};
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

/// What the window sees at `at` seconds.
fn view(checked: &Checked, at: f64, face: Face, dark: bool) -> View {
    let Checked { heard, asked, .. } = checked;
    let at = at.min(heard.seconds);
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
        row.summary = heard.meter.row(row.swara.position());
    }
    view.judged_share = heard.meter.sung_time().held_share();
    view.page_age_s = heard.meter.sung_time().sung_s;
    let sounding = |n: &&Note| n.start.seconds(heard.rate) <= at && at < n.end.seconds(heard.rate);
    view.line = heard
        .frames
        .iter()
        .filter(|r| (at - SPAN_S..=at).contains(&r.frame.time.seconds(heard.rate)))
        .map(|r| LinePoint {
            time_s: r.frame.time.seconds(heard.rate),
            cents: r.cents.map(|c| achala::units::num::single(c.0)),
            named: r.named,
            kind: heard.notes.iter().find(|n| n.start <= r.frame.time && r.frame.time <= n.end).map(|n| n.kind),
            beats_hz: None,
            several: r.frame.several,
        })
        .collect();
    for point in view.line.iter_mut().filter(|p| p.kind == Some(Kind::Held)) {
        let voice = point.cents.map(|c| asked.sa.up(Cents(f64::from(c))));
        let heard = voice.and_then(|voice| Against::ALL.into_iter().find_map(|a| beat(voice, asked.sa, a, 1.0)));
        point.beats_hz = heard.map(|beat| achala::units::num::single(beat.rate_hz));
    }
    view.beats_hz = view.line.last().and_then(|p| p.beats_hz).map(f64::from);
    view.reading = view.line.last().and_then(|p| p.named);
    view.current = heard.notes.iter().find(sounding).map(|n| current(n, at - n.start.seconds(heard.rate)));
    view.notes = heard.notes.iter().filter(|n| n.end.seconds(heard.rate) <= at).map(|n| row(n, checked)).collect();
    let outside = view.notes.iter().enumerate().filter(|(_, row)| row.outside);
    view.again = again(outside.map(|(i, row)| (i, &row.note)));
    view
}

/// The note as it would be shown while it sounds.
fn current(note: &Note, seconds: f64) -> Current {
    let named = achala::swara::Named { swara: note.swara, sthayi: note.sthayi, offset: note.offset };
    Current {
        start: note.start,
        seconds,
        kind: Some(note.kind),
        named,
        cents: note.cents,
        now: named,
        now_cents: note.cents,
        expected: note.expected,
        octaves_off: note.octaves_off,
        uncertainty: Cents(2.0 * note.wobble.0 / (seconds / 0.1).max(1.0).sqrt()),
        wobble: note.wobble,
        drift_per_s: note.drift_per_s,
    }
}

fn row(note: &Note, checked: &Checked) -> NoteRow {
    let rate = checked.heard.rate;
    NoteRow {
        note: *note,
        start_s: note.start.seconds(rate),
        end_s: note.end.seconds(rate),
        bar_beat: BARS.place(note.start, rate),
        outside: note.kind == Kind::Held && note.offset.0.abs() > checked.asked.band.of(note.swara).0,
        sa: checked.asked.sa,
        pupil: 0,
        page: None,
    }
}
