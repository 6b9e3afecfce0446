//! What moves, and how often: shapes with every frame, digits five times a second, with less motion all of it.

use super::super::motion::Motion;
use super::super::view::View;
use super::super::{Window, sample};
use super::{SIZES, texts};
use egui::epaint::ClippedShape;
use egui::{Context, Pos2, RawInput, Rect, Shape};

/// A window that is drawn at instants of its own clock.
struct Drawn {
    ctx: Context,
    window: Window,
}

impl Drawn {
    fn new() -> Self {
        Self { ctx: Context::default(), window: Window::new() }
    }

    fn at(&mut self, view: &View, time_s: f64) -> Vec<ClippedShape> {
        let screen_rect = Some(Rect::from_min_size(Pos2::ZERO, SIZES[2]));
        let input = RawInput { screen_rect, time: Some(time_s), ..RawInput::default() };
        let mut output = self.ctx.run_ui(input, |ui| self.window.ui(ui, view, &mut Vec::new()));
        output.textures_delta.clear();
        output.shapes
    }
}

/// Pa so many seconds after the sample's, moved as a voice moves.
fn sung(since_s: f64, less_motion: bool) -> View {
    let mut view = sample::normal();
    view.look.motion = if less_motion { Motion::Less } else { Motion::AsSystem };
    let offset = 9.0 + 30.0 * (since_s * 7.0).sin();
    (view.now_s, view.shown_until_s) = (view.now_s + since_s, view.now_s + since_s);
    let mut last = *view.line.last().unwrap();
    let from = last.time_s;
    while last.time_s < from + since_s {
        last.time_s += 0.005;
        last.cents = Some(crate::units::num::single(701.955 + 9.0 + 30.0 * ((last.time_s - from) * 7.0).sin()));
        view.line.push(last);
    }
    if let (Some(current), Some(reading)) = (&mut view.current, &mut view.reading) {
        current.now.offset = crate::units::Cents(offset);
        current.seconds += since_s;
        reading.offset = current.now.offset;
    }
    view
}

/// All that is drawn besides words; and the words.
fn parts(shapes: &[ClippedShape]) -> (String, Vec<String>) {
    let mut words = Vec::new();
    shapes.iter().for_each(|clipped| texts(&clipped.shape, &mut words));
    let drawn: Vec<_> = shapes.iter().filter(|c| !matches!(c.shape, Shape::Text(_))).map(|c| &c.shape).collect();
    (format!("{drawn:?}"), words.into_iter().map(|(text, _)| text).collect())
}

#[test]
fn the_stroke_moves_from_frame_to_frame_and_the_digits_stand() {
    let mut window = Drawn::new();
    for frame in 0..4u32 {
        window.at(&sung(0.0, false), f64::from(frame) * 0.25);
    }
    let before = parts(&window.at(&sung(0.0, false), 2.0));
    let after = parts(&window.at(&sung(0.016, false), 2.016));
    assert_ne!(before.0, after.0, "16 ms later the shape has moved");
    assert_eq!(before.1, after.1, "and the digits have not");
}

#[test]
fn with_less_motion_nothing_changes_more_than_five_times_a_second() {
    let changes = |less_motion: bool| {
        let mut window = Drawn::new();
        for frame in 0..4u32 {
            window.at(&sung(0.0, less_motion), f64::from(frame) * 0.25);
        }
        let mut last = parts(&window.at(&sung(0.0, less_motion), 2.0)).0;
        (1..=60u32)
            .filter(|frame| {
                let since = f64::from(*frame) / 60.0;
                let now = parts(&window.at(&sung(since, less_motion), 2.0 + since)).0;
                std::mem::replace(&mut last, now.clone()) != now
            })
            .count()
    };
    let less = changes(true);
    assert!((1..=5).contains(&less), "{less} changes within a second");
    assert!(changes(false) >= 55, "without it the shape moves with every frame");
}

/// How long the window would wait after it was drawn for so long, seconds.
fn waits(view: &View, drawn_s: f64) -> f64 {
    let mut window = Drawn::new();
    let mut wait = 0.0;
    for step in 0..=10 {
        let screen_rect = Some(Rect::from_min_size(Pos2::ZERO, SIZES[2]));
        let time = Some(drawn_s * f64::from(step) / 10.0);
        let input = RawInput { screen_rect, time, ..RawInput::default() };
        let voice = View { reading: sample::normal().reading, ..view.clone() };
        let view = if step == 0 { &voice } else { view };
        let mut output = window.ctx.run_ui(input, |ui| window.window.ui(ui, view, &mut Vec::new()));
        output.textures_delta.clear();
        wait = output.viewport_output[&egui::ViewportId::ROOT].repaint_delay.as_secs_f64();
    }
    wait
}

#[test]
fn an_exercise_that_waits_is_drawn_once_a_second() {
    let mut view = View { reading: None, current: None, ..sample::lesson() };
    let mut at = |paused: bool, moves: bool, drawn_s: f64| {
        let running = view.lesson.exercise.as_mut().unwrap();
        (running.paused, running.moves) = (paused, moves);
        waits(&view, drawn_s)
    };
    assert!(at(true, false, 0.5) > 0.9, "paused");
    assert!(at(false, false, 5.0) > 0.9, "it waits for a voice");
    assert!(at(false, false, 1.0) < 0.1, "what a note was comes after its end");
    assert!(at(false, true, 5.0) < 0.1, "it goes on by itself");
}
