//! Looks at the bridge, the parameters and the choices, and fills in what there is to see.

use super::knobs::{self, FIELDS};
use super::{Links, Session};
use crate::editor::action::Field;
use crate::editor::view::{
    Choice, Device, DroneTo, DroneView, Face, LessonView, LinePoint, LookChoice, Mark, NoteRow, Replay, Trouble, View,
};
use crate::note::{Band, Kind, Note};
use crate::shell::bridge::{History, Live};
use crate::shell::params::{self, AchalaParams};
use crate::shell::setup::Compiled;
use crate::shell::state::Chosen;
use crate::swara::tuning::Tuning;
use crate::swara::{Scale, Swara, Targets};
use crate::units::{Cents, Decibels, SampleRate, SampleTime, num};
use std::sync::PoisonError;
use std::sync::atomic::Ordering;

/// Seconds of line that the singing face needs, and that the others show at most.
const SINGING_S: f64 = 12.0;
const LONGEST_S: f64 = 60.0;
/// Seconds around a marked moment that are laid beside now.
const REPLAY_S: f64 = 5.0;
/// Without a new block for this long the host has stopped sending audio, seconds.
const STOPPED_S: f64 = 0.7;
/// Below this peak nothing comes in (a microphone's own noise lies above it), for so many seconds.
const NOTHING: f32 = 1e-5;
const NOTHING_S: f64 = 3.0;
/// How fast the level display falls, dB a second.
const FALL_DB_PER_S: f64 = 24.0;
/// How long a clipped input is shown, seconds.
const CLIPPED_SHOWN_S: f64 = 3.0;

/// Remembers between frames what needs time: level, stopped blocks, clipping.
#[derive(Debug, Clone)]
pub(super) struct Filler {
    blocks: u64,
    moved_s: f64,
    level_db: f64,
    heard_s: f64,
    last_s: f64,
    clipped: u64,
    clipped_s: f64,
    scales: Vec<(String, String)>,
}

impl Default for Filler {
    fn default() -> Self {
        Self {
            blocks: 0,
            moved_s: 0.0,
            level_db: -120.0,
            heard_s: 0.0,
            last_s: 0.0,
            clipped: 0,
            clipped_s: f64::NEG_INFINITY,
            scales: Scale::built_in().map(|s| (s.key(), s.title())).collect(),
        }
    }
}

impl Filler {
    /// `time_s`: the window's clock.
    pub(super) fn fill(&mut self, links: &Links, session: &mut Session, (time_s, stand_alone): (f64, bool)) -> View {
        let params = &links.params;
        let live = links.bridge.live();
        let chosen = links.choices.chosen();
        let hz = f64::from(links.bridge.shared.rate_hz.load(Ordering::Relaxed));
        let rate = SampleRate::new(hz).ok();
        let sa = params.sa_hz();
        let mut view = links.choices.look(|compiled| {
            let mut view = View::empty(sa, compiled.setup.targets);
            self.named(&mut view, compiled, &chosen);
            view
        });
        view.frozen = params.freeze.value();
        view.face = match params.face.value() {
            params::Face::Singing => Face::Singing,
            params::Face::Teaching => Face::Teaching,
            params::Face::Checking => Face::Checking,
        };
        knobs_of(params, &mut view);
        drone_of(params, &live, &chosen, &mut view);
        if let Some(rate) = rate {
            newest(&live, &mut view);
            mark_by_parameter(links, session);
            links.bridge.history(|history| heard(history, rate, session, &mut view));
        }
        self.sound(links, &live, (time_s, stand_alone), &mut view);
        let memory = *params.saved.window.read().unwrap_or_else(PoisonError::into_inner);
        view.look = LookChoice { dark: !memory.light, text_scale: memory.text_scale, less_motion: memory.less_motion };
        view.caution_read = memory.caution_read;
        view.said.clone_from(&session.said);
        view.lesson = LessonView::default();
        view
    }

    fn named(&self, view: &mut View, compiled: &Compiled, chosen: &Chosen) {
        view.scale = Choice { current: compiled.scale.key(), options: self.scales.clone() };
        if matches!(compiled.scale, Scale::Own(_)) {
            view.scale.options.push((compiled.scale.key(), compiled.scale.title()));
        }
        let built_in = [Tuning::Just, Tuning::JustHighD2, Tuning::Pythagorean, Tuning::Equal];
        view.tuning = Choice {
            current: compiled.tuning.name().to_owned(),
            options: built_in.iter().map(|t| (t.name().to_owned(), t.title())).collect(),
        };
        if matches!(compiled.tuning, Tuning::Scl(_)) {
            view.tuning.options.push((compiled.tuning.name().to_owned(), compiled.tuning.title()));
        }
        let swaras = |steps: Vec<crate::swara::Step>| steps.iter().map(|s| s.swara).collect::<Vec<Swara>>();
        let (up, down) = (swaras(compiled.scale.arohana()), swaras(compiled.scale.avarohana()));
        let mut reversed = down.clone();
        reversed.reverse();
        view.up_down = (up != reversed).then_some((up, down));
        view.said = compiled.remarks.join(" ");
        view.drone.kind = choice(&chosen.drone_kind, &[("strings", "Plucked strings"), ("reed", "Reed")]);
        view.drone.stringing = choice(
            &chosen.first_string,
            &[
                ("pa", "First string Pa"),
                ("ma", "First string Ma"),
                ("ni", "First string Ni"),
                ("ga", "First string Ga"),
                ("none", "No first string"),
            ],
        );
    }

    fn sound(&mut self, links: &Links, live: &Live, (time_s, stand_alone): (f64, bool), view: &mut View) {
        let shared = &links.bridge.shared;
        let blocks = shared.blocks.load(Ordering::Relaxed);
        if blocks != self.blocks {
            self.blocks = blocks;
            self.moved_s = time_s;
        }
        let peak = shared.voice_peak.swap(0.0, Ordering::Relaxed);
        if peak > NOTHING {
            self.heard_s = time_s;
        }
        let fallen = self.level_db - FALL_DB_PER_S * (time_s - self.last_s).max(0.0);
        self.level_db = Decibels::of_amplitude(f64::from(peak)).0.max(fallen).max(-120.0);
        self.last_s = time_s;
        view.level = Decibels(self.level_db);
        let clipped = live.snapshot.map_or(0, |s| s.clipped_samples);
        if clipped > self.clipped {
            self.clipped_s = time_s;
        }
        self.clipped = clipped;
        view.trouble = Trouble {
            clipped: time_s - self.clipped_s < CLIPPED_SHOWN_S,
            several: live.snapshot.and_then(|s| s.reading).is_some_and(|r| r.frame.several),
            host_silent: time_s - self.moved_s > STOPPED_S,
            ..Trouble::default()
        };
        if stand_alone {
            view.device = Some(device(time_s - self.heard_s > NOTHING_S));
        }
    }
}

/// The stand-alone app's input as it was started with.
fn device(nothing: bool) -> Device {
    let current = crate::shell::device::input();
    let mut options: Vec<(String, String)> =
        crate::shell::device::inputs().into_iter().map(|name| (name.clone(), name)).collect();
    options.push(("hear".to_owned(), "Send my voice to the loudspeakers, or keep it from them (may howl)".to_owned()));
    Device { input: Choice { current, options }, nothing }
}

fn choice(current: &str, options: &[(&str, &str)]) -> Choice {
    Choice {
        current: current.to_owned(),
        options: options.iter().map(|(k, l)| ((*k).to_owned(), (*l).to_owned())).collect(),
    }
}

fn knobs_of(params: &AchalaParams, view: &mut View) {
    view.tonic = format!("{} {}", knobs::text(params, Field::Sa), params.sa_octave.value());
    let trim = params.sa_trim.value();
    if trim != 0.0 {
        view.tonic.push_str(&format!(" {trim:+.1} c"));
    }
    view.band = Band {
        fixed: Cents(f64::from(params.band_fixed.value())),
        others: Cents(f64::from(params.band_others.value())),
    };
    view.listening = params.listening.value();
    view.knobs = FIELDS.iter().map(|field| knobs::knob(params, *field)).collect();
}

fn drone_of(params: &AchalaParams, live: &Live, chosen: &Chosen, view: &mut View) {
    let _ = chosen;
    view.drone = DroneView {
        on: params.drone_on.value(),
        kind: view.drone.kind.clone(),
        stringing: view.drone.stringing.clone(),
        level: knobs::text(params, Field::DroneLevel),
        to: match params.drone_to.value() {
            params::DroneTo::Main => DroneTo::Main,
            params::DroneTo::Own => DroneTo::Own,
            params::DroneTo::Both => DroneTo::Both,
        },
        silent_after_reopen: live.drone_waits,
        printed: params.drone_print.value(),
    };
}

/// What the listener has newest.
fn newest(live: &Live, view: &mut View) {
    let Some(snapshot) = live.snapshot else { return };
    view.reading = snapshot.reading.and_then(|r| r.named);
    view.current = snapshot.current;
    view.beats_hz = snapshot.current.and_then(|c| {
        let strongest = c.beats(view.sa).into_iter().flatten().next();
        strongest.map(|beat| beat.rate_hz)
    });
    for row in &mut view.meter {
        if let Some(summary) = snapshot.rows.get(usize::from(row.swara.position())) {
            row.summary = *summary;
        }
    }
    view.page_age_s = snapshot.sung.sung_s;
    view.judged_share = snapshot.sung.held_share();
    view.octave = snapshot.octave_remark.map(|octaves| {
        let side = if octaves > 0 { "above" } else { "below" };
        (format!("The voice lies an octave {side} the Sa that is set"), snapshot.octave_followed != 0)
    });
}

/// A rising edge of the mark parameter marks this moment.
fn mark_by_parameter(links: &Links, session: &mut Session) {
    let up = links.params.mark.value();
    if up && !session.mark_was {
        links.bridge.history(|history| {
            let time = history.line.back().map_or_else(SampleTime::default, |p| p.time);
            history.marks.push(crate::shell::bridge::Mark { time, word: String::new() });
        });
    }
    session.mark_was = up;
}

/// The line, the notes and the marks.
fn heard(history: &mut History, rate: SampleRate, session: &Session, view: &mut View) {
    let Some(last) = history.line.back() else { return };
    view.now_s = last.time.seconds(rate);
    view.kept_s = view.now_s - history.line.front().map_or(view.now_s, |p| p.time.seconds(rate));
    view.shown_until_s = if view.frozen { session.until_s.unwrap_or(view.now_s) } else { view.now_s };
    let span = if view.face == Face::Singing { SINGING_S } else { LONGEST_S };
    view.line = stretch(history, rate, (view.shown_until_s - span, view.shown_until_s), &view.targets);
    view.notes = history.notes.iter().map(|note| row(note, rate, view.band)).collect();
    view.again = again(&view.notes);
    view.marks = (0..)
        .zip(&history.marks)
        .map(|(id, mark)| Mark { id, time_s: mark.time.seconds(rate), word: mark.word.clone() })
        .collect();
    let marked = session.replay.and_then(|id| view.marks.iter().find(|m| m.id == id));
    view.replay = marked.map(|mark| Replay {
        time_s: mark.time_s,
        word: mark.word.clone(),
        line: stretch(history, rate, (mark.time_s - REPLAY_S, mark.time_s + REPLAY_S), &view.targets),
    });
}

/// The line between two instants, with what each moment belongs to.
fn stretch(history: &History, rate: SampleRate, (from, until): (f64, f64), targets: &Targets) -> Vec<LinePoint> {
    let at = |seconds: f64| SampleTime(num::int(seconds * rate.hz()));
    let (from, until) = (at(from), at(until));
    let first = history.line.partition_point(|p| p.time < from);
    let mut note = history.notes.partition_point(|n| n.end < from);
    let mut points = Vec::new();
    for point in history.line.iter().skip(first).take_while(|p| p.time <= until) {
        while history.notes.get(note).is_some_and(|n| n.end < point.time) {
            note += 1;
        }
        let cents = (!point.cents.is_nan()).then_some(point.cents);
        let inside = history.notes.get(note).filter(|n| n.start <= point.time);
        points.push(LinePoint {
            time_s: point.time.seconds(rate),
            cents,
            named: cents.and_then(|c| targets.nearest(Cents(f64::from(c)))),
            kind: inside.filter(|_| cents.is_some()).map(|n| n.kind),
            beats_hz: None,
        });
    }
    points
}

fn row(note: &Note, rate: SampleRate, band: Band) -> NoteRow {
    NoteRow {
        note: *note,
        start_s: note.start.seconds(rate),
        end_s: note.end.seconds(rate),
        bar_beat: None,
        outside: note.kind == Kind::Held && note.offset.0.abs() > band.of(note.swara).0,
    }
}

/// The three held notes of the last pass most worth singing again: farthest outside the band, the longer first
/// among equals.
fn again(rows: &[NoteRow]) -> Vec<usize> {
    let pass = rows.last().map_or(0, |row| row.note.pass);
    let mut found: Vec<(f64, usize)> = rows
        .iter()
        .enumerate()
        .filter(|(_, row)| row.outside && row.note.pass == pass)
        .map(|(i, row)| (row.note.offset.0.abs() * row.note.judged_s.min(3.0), i))
        .collect();
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.into_iter().take(3).map(|(_, i)| i).collect()
}
