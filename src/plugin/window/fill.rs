//! Looks at the bridge, the parameters and the choices, and keeps up to date what there is to see.
//!
//! In: what the instance holds, once for each frame drawn. Out: one [`View`] that lives as long as the window: names and lists are
//! only written when they changed.

use super::knobs::{self, FIELDS};
use super::lesson;
use super::line::{Lines, LookedAt, strongest};
use super::{Links, Session};
use super::{drone, finding};
use crate::editor::motion::Motion;
use crate::editor::view::{Choice, Device, Face, Knob, LongToneView, LookChoice, MeterRow, NoteRow, Trouble, View};
use crate::listener::{DroneSa, Faults};
use crate::meter::{LongTone, RowSummary, SungTime};
use crate::note::Current;
use crate::shell::bridge::{Live, Under};
use crate::shell::choices;
use crate::shell::params::{self, AchalaParams};
use crate::shell::setup::Compiled;
use crate::shell::state::PageKey;
use crate::swara::tonic::said;
use crate::swara::tuning::Tuning;
use crate::swara::{Named, Scale, Swara};
use crate::units::{Cents, Decibels, Hertz};
use std::sync::PoisonError;
use std::sync::atomic::Ordering;

/// Without a new block for this long the host has stopped sending audio, seconds.
const STOPPED_S: f64 = 0.7;
/// Below this peak nothing comes in (a microphone's own noise lies above it).
const NOTHING: f32 = 1e-5;
/// How long nothing may come in before it is said, seconds: at the start, and later, where a pupil may rest.
const NOTHING_YET_S: f64 = 5.0;
const NOTHING_S: f64 = 60.0;
/// How fast the level display falls, dB a second.
const FALL_DB_PER_S: f64 = 24.0;
/// How long a clipped input is shown, seconds.
const CLIPPED_SHOWN_S: f64 = 3.0;
/// How long a fault of the line is shown: until the singer looks up, seconds.
const FAULT_SHOWN_S: f64 = 20.0;
/// How long a second voice is said after its last frame, so that the words do not flicker, seconds.
const SEVERAL_SHOWN_S: f64 = 1.0;
/// Nearer than this, an instant is the right edge of a frozen picture, seconds: some readings.
const EDGE_S: f64 = 0.05;
/// How long a page that was cleared may have its statistics back, seconds (our choice).
const UNDO_S: f64 = 30.0;
/// How long a line about what was just done stands, seconds.
const SAID_S: f64 = 8.0;

/// How long a shift that held notes share is said: until the singer looks up, seconds.
const SHIFT_SHOWN_S: f64 = 60.0;

/// Says once for each Sa that it may be set wrong.
#[derive(Debug, Clone, Copy, Default)]
struct Hint {
    /// For which Sa it was said, Hz, and since when, window's clock.
    said: Option<(f64, f64)>,
}

impl Hint {
    fn show(&mut self, shift: Option<Cents>, sa: Hertz, time_s: f64) -> Option<Cents> {
        let shift = shift?;
        let since = match self.said {
            Some((hz, since)) if hz.to_bits() == sa.0.to_bits() => since,
            _ => time_s,
        };
        self.said = Some((sa.0, since));
        (time_s - since < SHIFT_SHOWN_S).then_some(shift)
    }
}

/// Remembers between frames what needs time, and what there was to see.
#[derive(Debug, Clone)]
pub(super) struct Filler {
    /// What there is to see.
    pub(super) view: View,
    lines: Lines,
    /// The setup whose names stand in the view.
    named: Option<u32>,
    blocks: u64,
    moved_s: f64,
    level_db: f64,
    /// When something last came in.
    heard_s: Option<f64>,
    last_s: f64,
    clipped: u64,
    clipped_s: f64,
    faults: Faults,
    /// When samples last went missing, when a note was last cut, when several voices last sounded.
    dropped_s: f64,
    cut_s: f64,
    several_s: f64,
    was_playing: bool,
    hint: Hint,
    stood: Option<Stood>,
    /// What is known of the drone in the room.
    drone: DroneSa,
}

/// Letter and figures as they stood when the picture was frozen.
#[derive(Debug, Clone, Copy)]
struct Stood {
    /// The right edge of the picture then, seconds.
    at_s: f64,
    reading: Option<Named>,
    current: Option<Current>,
    beats_hz: Option<f64>,
}

impl Filler {
    pub(super) fn new(links: &Links) -> Self {
        let view = links.choices.look(|compiled| View::empty(links.params.sa_hz(), compiled.setup.targets));
        Self {
            view,
            lines: Lines::default(),
            named: None,
            blocks: 0,
            moved_s: 0.0,
            level_db: -120.0,
            heard_s: None,
            last_s: 0.0,
            clipped: 0,
            clipped_s: f64::NEG_INFINITY,
            faults: Faults::default(),
            dropped_s: f64::NEG_INFINITY,
            cut_s: f64::NEG_INFINITY,
            several_s: f64::NEG_INFINITY,
            was_playing: false,
            hint: Hint::default(),
            stood: None,
            drone: DroneSa::default(),
        }
    }

    /// `time_s`: the window's clock.
    pub(super) fn fill(&mut self, links: &Links, session: &mut Session, (time_s, stand_alone): (f64, bool)) {
        let params = &links.params;
        let live = links.bridge.live();
        self.view.sa = params.sa_hz();
        links.choices.look(|compiled| self.names(links, compiled));
        let view = &mut self.view;
        let frozen = session.own.frozen.unwrap_or(params.freeze.value());
        if frozen && !view.frozen && session.until_s.is_none() {
            session.until_s = Some(view.now_s);
        } else if !frozen {
            session.until_s = None;
        }
        view.frozen = frozen;
        let face = match params.face.value() {
            params::Face::Singing => Face::Singing,
            params::Face::Teaching => Face::Teaching,
            params::Face::Checking => Face::Checking,
        };
        view.face = session.own.face.unwrap_or(face);
        knobs_of(params, view);
        drone::knobs(params, &live, view);
        newest(&live, (&mut self.drone, time_s), view);
        if live.snapshot.is_none() {
            carried(links, view);
        }
        let looked_at = LookedAt { until_s: session.until_s, replay: session.replay, note: session.note };
        let voice_sa = view.voice_sa;
        let settled = links.bridge.history(|history| {
            self.lines.fill(history, looked_at, voice_sa, view);
            lesson::keep_up(links, history, session);
            view.lesson.exercise = lesson::running(links, history, session);
            view.long_tone.begun = history.practice.long_tone_begun();
            history.practice.settled()
        });
        if let Some(right) = settled {
            lesson::count(links, session, right);
        }
        lesson::choices(links, session, view);
        finding::fill(session, params, view);
        view.sa_before = finding::before(session, view.sa, time_s, Hertz(f64::from(params.concert_pitch.value())));
        view.shift = self.hint.show(live.snapshot.and_then(|s| s.shift).filter(|_| !view.hides()), view.sa, time_s);
        self.sound((links, session), &live, (time_s, stand_alone));
        self.stand();
        self.stopped(links, session);
        self.saved(links);
        let page = links.choices.look(|compiled| compiled.setup.page);
        let here = |(at, under): (f64, Under)| time_s - at < UNDO_S && under == (self.view.sa, page);
        self.view.cleared = session.cleared.is_some_and(here);
        self.say(session, time_s);
    }

    /// Names and targets, where another setup is in force.
    fn names(&mut self, links: &Links, compiled: &Compiled) {
        if self.named == Some(compiled.setup.id) {
            return;
        }
        self.named = Some(compiled.setup.id);
        let view = &mut self.view;
        view.targets = compiled.setup.targets;
        let all = compiled.setup.targets.by_position.iter().flatten();
        view.meter =
            all.map(|t| MeterRow { swara: t.swara, target: t.cents, summary: RowSummary::default() }).collect();
        let built_in = Scale::built_in().map(|s| (s.key(), s.title())).collect();
        view.scale = Choice { current: compiled.scale.key(), options: built_in };
        if matches!(compiled.scale, Scale::Own(_)) {
            view.scale.options.push((compiled.scale.key(), compiled.scale.title()));
        }
        let built_in = [Tuning::Just, Tuning::JustHighD2, Tuning::Pythagorean, Tuning::Equal];
        let names = compiled.scale.names();
        view.tuning = Choice {
            current: compiled.tuning.name().to_owned(),
            options: built_in.iter().map(|t| (t.name().to_owned(), t.title_in(&names))).collect(),
        };
        // Where two differ in nothing that the scale uses, the one in force stands for both.
        if let Some(now) = view.tuning.options.iter().find(|(key, _)| *key == view.tuning.current).cloned() {
            view.tuning.options.retain(|(key, title)| *key == now.0 || *title != now.1);
        }
        if matches!(compiled.tuning, Tuning::Scl(_)) {
            view.tuning.options.push((compiled.tuning.name().to_owned(), compiled.tuning.title()));
        }
        view.tuning_remarks = compiled.tuning.remarks();
        let swaras = |steps: Vec<crate::swara::Step>| steps.iter().map(|s| s.swara).collect::<Vec<Swara>>();
        let (up, down) = (swaras(compiled.scale.arohana()), swaras(compiled.scale.avarohana()));
        let mut reversed = down.clone();
        reversed.reverse();
        view.up_down = (up != reversed).then_some((up, down));
        let page = choices::key(compiled, view.sa);
        (view.page, view.pupil) = ((page.scale, page.tuning), page.pupil);
        view.remarks.clone_from(&compiled.remarks);
        drone::names(&links.choices.chosen(), compiled, view);
        view.nudges = compiled.nudges.into();
    }

    fn sound(&mut self, (links, session): (&Links, &mut Session), live: &Live, (time_s, stand_alone): (f64, bool)) {
        let was_alarmed = self.alarms();
        let shared = &links.bridge.shared;
        let blocks = shared.blocks.load(Ordering::Relaxed);
        if blocks != self.blocks {
            self.blocks = blocks;
            self.moved_s = time_s;
        }
        let peak = shared.voice_peak.swap(0.0, Ordering::Relaxed);
        if peak > NOTHING {
            self.heard_s = Some(time_s);
        }
        let fallen = self.level_db - FALL_DB_PER_S * (time_s - self.last_s).max(0.0);
        self.level_db = Decibels::of_amplitude(f64::from(peak)).0.max(fallen).max(-120.0);
        self.last_s = time_s;
        self.view.level = Decibels(self.level_db);
        let clipped = live.snapshot.map_or(0, |s| s.clipped_samples);
        if clipped > self.clipped {
            self.clipped_s = time_s;
        }
        self.clipped = clipped;
        let faults = live.snapshot.map_or_else(Faults::default, |s| s.faults);
        if faults.dropouts > self.faults.dropouts {
            self.dropped_s = time_s;
        }
        if faults.cut_notes > self.faults.cut_notes {
            self.cut_s = time_s;
        }
        (self.faults, self.view.faults) = (faults, faults);
        if live.snapshot.and_then(|s| s.reading).is_some_and(|r| r.frame.several) {
            self.several_s = time_s;
        }
        let hz = f64::from(shared.rate_hz.load(Ordering::Relaxed));
        self.view.unheard_hz = Some(hz).filter(|hz| *hz > 0.0 && links.bridge.rate().is_none());
        self.view.trouble = Trouble {
            clipped: time_s - self.clipped_s < CLIPPED_SHOWN_S,
            several: time_s - self.several_s < SEVERAL_SHOWN_S,
            // At a rate that cannot be listened to, nothing counts the blocks.
            host_silent: time_s - self.moved_s > STOPPED_S && self.view.unheard_hz.is_none(),
            dropouts: time_s - self.dropped_s < FAULT_SHOWN_S,
            gated: time_s - self.cut_s < FAULT_SHOWN_S,
        };
        if self.view.trouble.host_silent {
            // What sounded last is not what sounds now.
            (self.view.reading, self.view.current, self.view.beats_hz) = (None, None, None);
        }
        if self.alarms() && !was_alarmed {
            // What was said before it is no longer what matters most.
            session.said.clear();
        }
        if let Some(remark) = links.keeper.as_ref().and_then(|keeper| keeper.take_remark()) {
            session.say(&remark);
        }
        if stand_alone {
            let anew = links.keeper.as_ref().is_some_and(|keeper| keeper.lesson().is_some());
            let nothing = self.heard_s.map_or(time_s > NOTHING_YET_S, |heard| time_s - heard > NOTHING_S);
            device(&mut self.view, (nothing, anew), session.monitor);
        }
    }

    /// Whether nothing can be heard.
    fn alarms(&self) -> bool {
        self.view.trouble.host_silent || self.view.unheard_hz.is_some()
    }

    /// While the picture is frozen, letter and figures tell its right edge: as they stood there, or, where it was scrolled, the
    /// note that lies there.
    fn stand(&mut self) {
        let view = &mut self.view;
        if !view.frozen {
            self.stood = None;
            return;
        }
        let until = view.shown_until_s;
        let stood = *self.stood.get_or_insert(Stood {
            at_s: until,
            reading: view.reading,
            current: view.current,
            beats_hz: view.beats_hz,
        });
        if (until - stood.at_s).abs() < EDGE_S {
            (view.reading, view.current, view.beats_hz) = (stood.reading, stood.current, stood.beats_hz);
            return;
        }
        let edge = view.line.last().filter(|p| until - p.time_s < EDGE_S);
        view.reading = edge.and_then(|p| p.named);
        view.beats_hz = edge.and_then(|p| p.beats_hz).map(f64::from);
        let note = view.notes.iter().rev().find(|row| (row.start_s..=row.end_s).contains(&until));
        view.current = note.map(|row| at(row, until));
    }

    /// When the transport stops, the notes most worth singing again are pointed at.
    fn stopped(&mut self, links: &Links, session: &mut Session) {
        let playing = links.bridge.shared.playing.load(Ordering::Relaxed);
        let stopped = self.was_playing && !playing;
        self.was_playing = playing;
        if stopped && !self.view.again.is_empty() && self.view.face != Face::Checking {
            let count = match self.view.again.len() {
                1 => "One note is".to_owned(),
                n => format!("{n} notes are"),
            };
            session.say(&format!("Stopped. {count} most worth singing again: see Checking (key 3)."));
        }
    }

    /// What the project holds besides parameters.
    fn saved(&mut self, links: &Links) {
        let memory = *links.params.saved.window.read().unwrap_or_else(PoisonError::into_inner);
        let view = &mut self.view;
        let motion = match (memory.less_motion, memory.all_motion) {
            (true, _) => Motion::Less,
            (false, true) => Motion::All,
            (false, false) => Motion::AsSystem,
        };
        view.look = LookChoice { dark: !memory.light, text_scale: memory.text_scale, motion };
        view.system_asks_less = links.wish.less();
        view.caution_read = memory.caution_read;
        let chosen = links.params.saved.chosen.read().unwrap_or_else(PoisonError::into_inner);
        view.keep_statistics = chosen.keep_statistics;
        view.long_tone.goal_minutes = chosen.goal_minutes;
        view.madhyama = chosen.madhyama.is_some_and(|m| m.since == links.params.sa_knobs());
    }

    fn say(&mut self, session: &mut Session, time_s: f64) {
        if !session.said.is_empty() && time_s - *session.said_s.get_or_insert(time_s) > SAID_S {
            session.said.clear();
        }
        if self.view.said != session.said {
            self.view.said.clone_from(&session.said);
        }
        self.view.sounding = session.replaying.as_ref().and_then(|replaying| replaying.index);
        self.view.drone.lent = session.replaying.as_ref().is_some_and(|replaying| replaying.lends);
        self.view.reference = session.reference;
    }
}

/// A final note as it is shown at an instant within it.
fn at(row: &NoteRow, until_s: f64) -> Current {
    let note = &row.note;
    let named = Named { swara: note.swara, sthayi: note.sthayi, offset: note.offset };
    Current {
        start: note.start,
        seconds: until_s - row.start_s,
        kind: Some(note.kind),
        named,
        cents: note.cents,
        now: named,
        now_cents: note.cents,
        expected: note.expected,
        octaves_off: note.octaves_off,
        uncertainty: Cents(0.0),
        wobble: note.wobble,
        drift_per_s: note.drift_per_s,
    }
}

/// The stand-alone app's input as it was started with.
fn device(view: &mut View, (nothing, anew): (bool, bool), sends_voice: bool) {
    let device = view.device.get_or_insert_with(|| {
        let mut options: Vec<(String, String)> =
            crate::shell::device::inputs().into_iter().map(|name| (name.clone(), name)).collect();
        let current = crate::shell::device::input();
        if current.is_empty() {
            options.insert(0, (String::new(), "no input is open".to_owned()));
        }
        Device { input: Choice { current, options }, nothing, anew, sends_voice }
    });
    (device.nothing, device.sends_voice) = (nothing, sends_voice);
}

fn knobs_of(params: &AchalaParams, view: &mut View) {
    let sa = params.sa_knobs();
    view.tonic = said(sa.note, sa.octave, Cents(sa.trim_cents));
    view.band = params.band();
    view.listening = params.listening.value();
    let moved = |knob: &Knob| knobs::value(params, knob.field) != knob.normalised;
    if view.knobs.is_empty() {
        // What the stand-alone app started with is no default.
        let plain = AchalaParams::default();
        let knob = |field| Knob { default: knobs::value(&plain, field), ..knobs::knob(params, field) };
        view.knobs = FIELDS.iter().map(|field| knob(*field)).collect();
    }
    for knob in view.knobs.iter_mut().filter(|knob| moved(knob)) {
        *knob = Knob { default: knob.default, ..knobs::knob(params, knob.field) };
    }
}

/// Before the sound runs, the meter's page is what it was: as it was kept.
fn carried(links: &Links, view: &mut View) {
    let key = links.choices.page_key(view.sa);
    let meter = links.params.saved.pages.look(|pages| {
        let mut all = pages.open.iter().chain(&pages.kept);
        all.find(|page| PageKey::same(&page.key, &key)).map(|page| page.meter.clone())
    });
    let Some(meter) = meter else { return };
    for row in &mut view.meter {
        row.summary = meter.row(row.swara.position());
    }
    counted(&meter.sung_time(), &meter.long_tone(), view);
}

/// How the sung time divides, and the practice on Sa.
fn counted(sung: &SungTime, tone: &LongTone, view: &mut View) {
    view.page_age_s = sung.sung_s;
    // The first note counts when it ends: until then there is no share, not one of nothing.
    view.judged_share = sung.held_share().filter(|_| sung.held_s + sung.oscillating_s > 0.0);
    view.long_tone =
        LongToneView { steady_s: tone.total_steady_s(), longest_s: tone.longest_steady_s, ..view.long_tone };
}

/// What the listener has newest.
fn newest(live: &Live, (drone, time_s): (&mut DroneSa, f64), view: &mut View) {
    let Some(snapshot) = live.snapshot else { return };
    view.reading = snapshot.reading.and_then(|r| r.named);
    view.current = snapshot.current;
    view.voice_sa = snapshot.voice_sa;
    view.lesson.pupil_drone = drone.look(&snapshot.drone, view.sa, time_s).and_then(|sa| sa.cents_above(view.sa));
    view.machine = snapshot.machine;
    let beats = |c: Current| strongest(view.voice_sa.up(c.now_cents), view.sa, c.seconds);
    view.beats_hz = snapshot.current.and_then(beats);
    for row in &mut view.meter {
        if let Some(summary) = snapshot.rows.get(usize::from(row.swara.position())) {
            row.summary = *summary;
        }
    }
    counted(&snapshot.sung, &snapshot.long_tone, view);
    view.octave = snapshot.octave_remark.map(|octaves| {
        let side = if octaves > 0 { "above" } else { "below" };
        (format!("The voice lies an octave {side} the Sa that is set"), snapshot.octave_followed != 0)
    });
}
