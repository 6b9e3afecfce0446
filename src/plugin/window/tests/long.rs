//! A lesson of four hours: what it costs the window to draw.

use super::*;
use crate::shell::state::PageKey;
use std::time::Instant;

/// All that is kept: points of the line, and notes.
const POINTS: i64 = 4 * 3600 * 200;
const NOTES: i64 = 20_000;
/// Samples from point to point.
const STEP: i64 = 240;
/// What the length of a lesson may add to a frame, seconds.
const FRAME_S: f64 = 0.004;

/// The usual time that a frame of the teaching face takes, and the longest where a note has come, over a lesson of so many of both;
/// seconds.
fn frame(points: i64, notes: i64) -> (f64, f64) {
    let mut instance = Instance::new();
    let links = turned(&instance.links, |knobs| knobs.face = "teaching".into());
    let rate = SampleRate::new(RATE).unwrap();
    instance.sing(above(8.0), 1.5, |_| {});
    instance.sing(0.0, 0.7, |_| {});
    let note = links.bridge.history(|history| *history.notes.back().unwrap());
    let key = links.choices.page_key(sa());
    let page = || Some(PageKey::clone(&key));
    let sung = |history: &mut History, at: i64| {
        let cents = num::single(8.0 * (at as f64 / 20_000.0).sin());
        history.point(0, bridge::LinePoint { time: SampleTime(at), cents, several: false, counts: true }, rate);
    };
    let held = |history: &mut History, end: i64| {
        let of = crate::note::Note { start: SampleTime(end - 20 * STEP), end: SampleTime(end), ..note };
        history.note(0, of, (sa(), page()), rate);
    };
    links.bridge.history(|history| {
        let each = points / notes;
        for k in 0..points {
            sung(history, k * STEP);
            if k % each == each - 1 {
                held(history, k * STEP);
            }
        }
    });
    let mut filler = Filler::new(&links);
    let mut session = Session::default();
    let mut window = Window::new();
    let ctx = egui::Context::default();
    let (mut usual, mut with_note) = (Vec::new(), 0.0f64);
    for i in 0..200i64 {
        let at = (points + 3 * i) * STEP;
        links.bridge.history(|history| {
            (0..3).for_each(|k| sung(history, at + k * STEP));
            if i % 20 == 19 {
                held(history, at);
            }
        });
        let time_s = i as f64 / FPS;
        let screen_rect = Some(egui::Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(1280.0, 720.0)));
        let began = Instant::now();
        filler.fill(&links, &mut session, (time_s, false));
        let input = egui::RawInput { screen_rect, time: Some(time_s), ..egui::RawInput::default() };
        let mut output = ctx.run_ui(input, |ui| window.ui(ui, &filler.view, &mut Vec::new()));
        let took = began.elapsed().as_secs_f64();
        output.textures_delta.clear();
        if i % 20 == 19 {
            with_note = with_note.max(took);
        } else if i > 20 {
            usual.push(took);
        }
    }
    assert_eq!(filler.view.face, Face::Teaching);
    usual.sort_by(f64::total_cmp);
    (usual[usual.len() / 2], with_note)
}

#[test]
fn four_hours_add_nothing_that_is_felt_to_a_frame() {
    let short = frame(60 * 200, 60);
    let long = frame(POINTS, NOTES);
    let ms = |s: f64| 1000.0 * s;
    println!(
        "a frame: {:.2} ms after a minute, {:.2} after four hours; with a new note {:.2} and {:.2} at most",
        ms(short.0),
        ms(long.0),
        ms(short.1),
        ms(long.1)
    );
    assert!(long.0 - short.0 < FRAME_S, "{short:?} {long:?}");
}
