//! What the window shows of an engine that plays, without a host and without a screen: up to date, in time, and leaving nothing.

mod asked;
mod drawn;
mod line;
mod long;
mod motion;
mod practice;
mod pupils;
mod tried;
mod trouble;

use super::fill::Filler;
use super::finding::Finding;
use super::{App, Links, Session, Wish, lesson};
use crate::editor::Window;
use crate::editor::view::{Face, LinePoint, View};
use crate::exercise::catalogue::{Place, find};
use crate::meter::Meter;
use crate::plugin::engine::{Channels, Engine, Frame, Knobs, Transport};
use crate::shell::bridge::{self, AudioEnd, Bars, Command, History, bridge};
use crate::shell::capture::Capture;
use crate::shell::choices::Choices;
use crate::shell::export;
use crate::shell::params::{AchalaParams, Values};
use crate::shell::state::Page;
use crate::units::{Cents, Hertz, SampleRate, SampleTime, num};
use atomic_float::AtomicF32;
use nice_plug_egui::RepaintNotifier;
use std::sync::Arc;
use std::sync::atomic::Ordering;

const RATE: f64 = 48_000.0;
const BLOCK: usize = 128;
/// Frames drawn a second.
const FPS: f64 = 60.0;

/// An instance without its host.
struct Instance {
    links: Arc<Links>,
    engine: Engine,
    end: AudioEnd,
    knobs: Knobs,
    phase: f64,
    at: usize,
    transport: Transport,
    out: f32,
    /// Amplitude of the voice's first partial.
    loud: f64,
    /// The last block as it came out.
    sound: Vec<f32>,
}

impl Instance {
    fn new() -> Self {
        Self::started(false)
    }

    fn started(stand_alone: bool) -> Self {
        let params = Arc::new(AchalaParams::default());
        let (setup, choices) = Choices::new(params.saved.chosen.clone());
        let (bridge, end) = bridge(setup);
        let choices = Arc::new(choices.with(bridge.clone()));
        choices.change(|c| c.scale = "twelve".into());
        let rate = SampleRate::new(RATE).unwrap();
        bridge.shared.rate_hz.store(num::single(RATE), Ordering::Relaxed);
        let knobs = Knobs::plain(&params);
        let frame = Frame { rate, max_block: BLOCK, offline: false, stand_alone, reopened: false };
        let engine = Engine::new(frame, setup, &knobs, &Meter::new());
        let links = Arc::new(Links {
            params,
            choices,
            bridge,
            pupil: String::new().into(),
            repaint: RepaintNotifier::new(),
            keeper: None,
            scale: AtomicF32::new(1.0),
            wish: Wish::of(|| None),
        });
        let transport = Transport { playing: false, position: None, bars: None };
        Self { links, engine, end, knobs, phase: 0.0, at: 0, transport, out: 0.0, loud: 0.12, sound: Vec::new() }
    }

    /// The largest sample that came out in the last block beside the voice.
    fn out(&self) -> f32 {
        self.out
    }

    /// One block of a voice at `hz` (silence at 0), ten partials falling as 1/n, with a throat's flutter of a few cents: what
    /// stands as still as a machine is taken for a drone.
    fn block(&mut self, hz: f64) {
        let mut samples = [0.0f32; BLOCK];
        for (i, sample) in samples.iter_mut().enumerate().filter(|_| hz > 0.0) {
            let t = (self.at + i) as f64 / RATE;
            let flutter = 4.0 * (31.0 * t).sin() + 3.0 * (19.0 * t).sin();
            self.phase += hz * (flutter / 1200.0).exp2() / RATE;
            let tone = |h: i32| (std::f64::consts::TAU * self.phase * f64::from(h)).sin() / f64::from(h);
            // A converter cuts what is too loud.
            *sample = num::single((self.loud * (1..=10).map(tone).sum::<f64>()).clamp(-1.0, 1.0));
        }
        let voice = samples;
        let mut main: [&mut [f32]; 1] = [&mut samples];
        let mut channels = Channels { main: &mut main, side: &[], own: &mut [] };
        self.engine.block(&mut channels, &self.knobs, self.transport, &mut self.end);
        self.out = samples.iter().zip(voice).fold(0.0, |peak, (out, voice)| peak.max((out - voice).abs()));
        self.sound = samples.to_vec();
        self.at += BLOCK;
    }

    fn seconds(&self) -> f64 {
        self.at as f64 / RATE
    }

    /// Sings `hz` for so long, the window looking on `FPS` times a second where there is one.
    fn sing(&mut self, hz: f64, seconds: f64, mut look: impl FnMut(&Self)) {
        let until = self.seconds() + seconds;
        while self.seconds() < until {
            let before = (self.seconds() * FPS).floor();
            self.block(hz);
            if (self.seconds() * FPS).floor() > before {
                look(self);
            }
        }
    }
}

/// The same instance with its knobs moved: in place only a host moves them.
fn turned(links: &Links, change: impl FnOnce(&mut Values)) -> Links {
    let mut values = Values::of(&links.params);
    change(&mut values);
    Links {
        params: Arc::new(AchalaParams::starting(&values)),
        choices: links.choices.clone(),
        bridge: links.bridge.clone(),
        pupil: String::new().into(),
        repaint: links.repaint.clone(),
        keeper: None,
        scale: AtomicF32::new(1.0),
        wish: Wish::of(|| None),
    }
}

fn sa() -> Hertz {
    AchalaParams::default().sa_hz()
}

fn above(cents: f64) -> f64 {
    sa().0 * (cents / 1200.0).exp2()
}

#[test]
fn before_the_sound_runs_the_meter_shows_what_was_kept() {
    let mut sung = Instance::new();
    sung.sing(above(5.0), 1.5, |_| {});
    sung.sing(0.0, 0.7, |_| {});
    let (instance, mut session) = (Instance::new(), Session::default());
    let links = &instance.links;
    let key = links.choices.page_key(links.params.sa_hz());
    links.params.saved.pages.look(|pages| pages.open = Some(Page { key, meter: sung.engine.meter().clone() }));
    let mut filler = Filler::new(links);
    filler.fill(links, &mut session, (0.0, true));
    assert_eq!(filler.view.meter[0].summary, sung.engine.meter().row(0));
    assert!(filler.view.meter[0].summary.notes == 1 && filler.view.judged_share.is_some());
}

#[test]
fn no_share_is_told_before_a_note_has_counted() {
    let mut instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    instance.sing(above(0.0), 2.0, |_| {});
    filler.fill(&instance.links, &mut session, (2.0, false));
    assert_eq!(filler.view.judged_share, None);
    instance.sing(0.0, 0.7, |_| {});
    filler.fill(&instance.links, &mut session, (2.7, false));
    assert!(filler.view.judged_share.is_some_and(|share| share > 0.8), "{:?}", filler.view.judged_share);
}

#[test]
fn a_note_is_played_as_long_as_asked_and_sa_is_taken_from_the_voice() {
    let mut instance = Instance::new();
    instance.sing(0.0, 0.2, |_| {});
    assert!(instance.links.bridge.ask(Command::Play(Cents(-35.0), 1.0)));
    instance.sing(0.0, 0.8, |_| {});
    assert!(instance.out() > 0.01);
    instance.sing(0.0, 0.6, |_| {});
    assert!(instance.out() < 1e-4);
    let mut session = Session::default();
    let capture = Capture::start(&instance.links.bridge, false).unwrap();
    session.finding = Some(Finding::new(capture, false));
    let mut filler = Filler::new(&instance.links);
    instance.sing(above(130.0), 4.0, |i| filler.fill(&i.links, &mut session, (i.seconds(), false)));
    let adopted = session.adopt.expect("a voice that holds Sa says its octave too");
    assert!((adopted.cents_above(sa()).unwrap().0 - 130.0).abs() < 2.0, "{adopted:?}");
    assert!(filler.view.finding.as_ref().is_some_and(|f| f.told.contains("taken over")));
    // What is taken over is not offered once more; it is to whoever has gone back.
    assert_eq!(filler.view.finding.as_ref().unwrap().offers.len(), 1, "the knobs are still to be turned");
    let gui = inproc_host::context::willing();
    let (links, view, ctx) = (&instance.links, &filler.view, egui::Context::default());
    let time_s = instance.seconds();
    super::act::Doer { links, session: &mut session, gui: &gui, view, ctx, time_s }
        .act(crate::editor::action::Action::AdoptSa(adopted));
    filler.fill(&instance.links, &mut session, (time_s, false));
    assert!(filler.view.finding.as_ref().unwrap().offers.is_empty());
}

#[test]
fn a_tuning_is_named_by_what_the_raga_uses() {
    let instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    for (scale, tuning, title) in
        [("mela-15", "just", "just"), ("mela-29", "just", "just, D2 = 5/3"), ("sa-pa-sa", "just-27-16", "just")]
    {
        instance.links.choices.change(|c| {
            c.scale = scale.into();
            c.tuning = crate::swara::tuning::SavedTuning::from(crate::swara::Tuning::from_name(tuning).unwrap());
        });
        filler.fill(&instance.links, &mut session, (1.0, false));
        assert_eq!(filler.view.tuning.label(), title, "{scale}");
    }
}

#[test]
fn what_was_cleared_is_gone_and_comes_back() {
    let mut instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    for cents in [40.0, 40.0, 40.0, 734.0] {
        instance.sing(above(cents), 1.5, |_| {});
        instance.sing(0.0, 0.7, |_| {});
    }
    filler.fill(&instance.links, &mut session, (1.0, false));
    let counted = instance.engine.meter().clone();
    let swaras: Vec<u8> = filler.view.again.iter().map(|i| filler.view.notes[*i].note.swara.position()).collect();
    assert_eq!((swaras.as_slice(), filler.view.cleared), ([0, 7, 0].as_slice(), false), "first one of each kind");
    assert!(instance.links.bridge.ask(Command::Clear));
    instance.links.bridge.history(|history| history.cleared = Some(history.now()));
    let page = instance.links.choices.look(|c| c.setup.page);
    session.cleared = Some((1.0, (filler.view.sa, page)));
    instance.sing(0.0, 0.1, |_| {});
    filler.fill(&instance.links, &mut session, (2.0, false));
    assert!(filler.view.again.is_empty() && filler.view.cleared && instance.engine.meter().is_empty());
    assert_eq!(filler.view.notes.len(), 4, "the lesson's list stays");
    filler.fill(&instance.links, &mut session, (60.0, false));
    assert!(!filler.view.cleared, "that is over after half a minute");
    // Not into another page, and once.
    instance.knobs.sa = sa().up(Cents(200.0));
    instance.sing(0.0, 0.1, |_| {});
    assert!(instance.links.bridge.ask(Command::Unclear));
    instance.sing(0.0, 0.1, |_| {});
    assert!(instance.engine.meter().is_empty());
    instance.knobs.sa = sa();
    instance.sing(0.0, 0.1, |_| {});
    for _ in 0..2 {
        assert!(instance.links.bridge.ask(Command::Unclear));
        instance.sing(0.0, 0.1, |_| {});
        assert!(*instance.engine.meter() == counted);
    }
}

/// From the first changed sample to the frame drawn with the change in it: tracker, bridge and the window's clock, at 60 frames a
/// second and blocks of 128 at 48 kHz; the sound card's and the screen's own delay are not in it.
#[test]
fn the_drawn_line_follows_the_voice_in_60_ms() {
    let mut instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    let mut late = Vec::new();
    let (mut from, mut steps) = (0.0, 0u32);
    instance.sing(above(from), 1.0, |_| {});
    for step in 0..60u32 {
        // Jumps of one to five semitones to and fro, at uneven times so that they fall anywhere between two frames.
        let to = if from > 0.0 { 0.0 } else { 100.0 * f64::from(1 + step % 5) };
        let (began, half) = (instance.seconds(), (to + from) / 2.0);
        let mut seen = None;
        instance.sing(above(to), 0.3 + 0.0037 * f64::from(step % 7), |i| {
            filler.fill(&i.links, &mut session, (i.seconds(), false));
            let drawn = filler.view.line.last().and_then(|p| p.cents).map(f64::from);
            // More than half of the way to the new pitch.
            if drawn.is_some_and(|c| (c - half) * (to - from) > 0.0) {
                seen.get_or_insert(i.seconds());
            }
        });
        let tail: Vec<_> = filler.view.line.iter().rev().take(40).map(|p| p.cents).collect();
        late.push(1000.0 * (seen.unwrap_or_else(|| panic!("jump {step} from {from} to {to}: {tail:?}")) - began));
        (from, steps) = (to, steps + 1);
    }
    late.sort_by(f64::total_cmp);
    let at = |share: usize| late[late.len() * share / 100];
    println!("drawn {:.0} ms late in the median, {:.0} ms at 95 % of {steps} jumps", at(50), at(95));
    assert!(at(50) <= 60.0 && at(95) <= 90.0, "{late:?}");
}

#[test]
fn two_hundred_windows_leave_nothing_and_change_no_number() {
    let mut instance = Instance::new();
    instance.sing(above(5.0), 1.5, |_| {});
    instance.sing(0.0, 1.0, |_| {});
    let before = instance.engine.meter().clone();
    for opening in 0..200u32 {
        let mut app = App::new(instance.links.clone());
        let ctx = egui::Context::default();
        app.window.opened(&ctx);
        app.filler.fill(&app.links, &mut app.session, (f64::from(opening), false));
        let mut output =
            ctx.run_ui(egui::RawInput::default(), |ui| app.window.ui(ui, &app.filler.view, &mut Vec::new()));
        output.textures_delta.clear();
    }
    assert_eq!(Arc::strong_count(&instance.links), 1);
    assert_eq!(*instance.engine.meter(), before);
}

/// What a frame costs without the painting: looking, laying out, turning into triangles.
#[test]
fn a_frame_is_made_in_a_third_of_its_time() {
    let mut instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    for k in 0..30u32 {
        instance.sing(above(100.0 * f64::from(k % 5)), 1.0, |_| {});
    }
    let ctx = egui::Context::default();
    let mut window = Window::new();
    for face in [Face::Singing, Face::Teaching, Face::Checking] {
        let mut spent = Vec::new();
        for _ in 0..60 {
            instance.sing(above(0.0), 1.0 / FPS, |_| {});
            let began = std::time::Instant::now();
            filler.fill(&instance.links, &mut session, (instance.seconds(), false));
            let view = View { face, ..filler.view.clone() };
            let input = egui::RawInput {
                screen_rect: Some(egui::Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(1280.0, 720.0))),
                time: Some(instance.seconds()),
                ..egui::RawInput::default()
            };
            let mut output = ctx.run_ui(input, |ui| window.ui(ui, &view, &mut Vec::new()));
            output.textures_delta.clear();
            let triangles = ctx.tessellate(output.shapes, output.pixels_per_point);
            assert!(!triangles.is_empty());
            spent.push(1000.0 * began.elapsed().as_secs_f64());
        }
        spent.sort_by(f64::total_cmp);
        println!("{face:?}: {:.1} ms a frame in the median", spent[30]);
        // 30 frames a second leave 33 ms; two thirds are the painter's.
        assert!(spent[30] < 11.0, "{face:?}: {spent:?}");
    }
}

#[test]
fn a_lessons_report_keeps_apart_what_was_sung_from_another_sa() {
    let mut instance = Instance::new();
    let moved = sa().up(Cents(200.0));
    for (tonic, times) in [(sa(), 3), (moved, 2)] {
        instance.knobs.sa = tonic;
        for _ in 0..times {
            instance.sing(tonic.0, 1.2, |_| {});
            instance.sing(0.0, 0.7, |_| {});
        }
    }
    let links = &instance.links;
    let lesson = |sa| export::Lesson { bridge: &links.bridge, choices: &links.choices, sa, band: links.params.band() };
    let page = export::page(&lesson(moved)).unwrap();
    assert!(page.contains("3 of 5 held notes were sung from another Sa"));
    assert_eq!(page.matches(&format!(">from Sa {:.1} Hz</small>", sa().0)).count(), 3);
    assert!(page.contains("data-of=\"held\">2×</td>") && page.contains("Counted: 2 held notes"));
    let table = String::from_utf8(export::table(&lesson(moved)).unwrap()).unwrap();
    let of = |sa: Hertz| table.lines().filter(|line| line.ends_with(&format!(",{:.2},,0", sa.0))).count();
    assert_eq!((of(sa()), of(moved)), (3, 2), "{table}");
    // The knob was turned and the host has not come round yet: the statistics at hand are not of this Sa.
    let page = export::page(&lesson(sa().up(Cents(500.0)))).unwrap();
    assert!(page.contains("Nothing was sung from this Sa yet") && !page.contains("Swara by swara"));
}
