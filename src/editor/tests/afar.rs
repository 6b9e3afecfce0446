//! What is read from where one stands and sings, in every window and with every text size.

use super::super::view::{Face, View};
use super::super::{Look, Window, letters, sample, singing};
use super::{SIZES, shapes, texts};
use crate::swara::Swara;
use egui::epaint::ClippedShape;
use egui::{Context, Pos2, RawInput, Rect, Shape, Vec2, vec2};

/// Words that are drawn, and where they are cut.
fn drawn(shapes: &[ClippedShape]) -> Vec<(String, Rect, Rect)> {
    let mut all = Vec::new();
    for clipped in shapes {
        let mut found = Vec::new();
        texts(&clipped.shape, &mut found);
        all.extend(found.into_iter().map(|(text, at)| (text, at, clipped.clip_rect)));
    }
    all
}

#[test]
fn a_rounds_marks_and_its_advice_are_read_in_a_smaller_window_too() {
    let mut view = sample::round_over();
    let size = vec2(960.0, 600.0);
    for banner in [true, false] {
        view.lesson.pupil_drone = view.lesson.pupil_drone.filter(|_| banner);
        let (mut window, look) = (Window::new(), Look::new(view.look, size));
        let shapes = shapes(&mut window, &view, (size, 1.0));
        let found = drawn(&shapes);
        // Of the height of a line some six tenths are the capital; a point is 0.225 mm on a screen of 13 inches.
        let mm = |text: &str, lines: f32| {
            let heights = found.iter().filter(|(t, ..)| t == text).map(|(_, at, _)| at.height());
            0.6 * 0.225 * heights.fold(0.0, f32::max) / lines
        };
        for (text, lines) in [
            ("This time: Pa a little higher.", 1.0),
            ("on it (+3)", 1.0),
            ("35 cents low\nunsteady", 2.0),
            ("Sa", 1.0),
            ("tara Sa", 1.0),
        ] {
            assert!(mm(text, lines) >= 3.2, "banner {banner} {text}: {} mm", mm(text, lines));
        }
        // Names in full ink; what is still to come is a ring that is seen, and what was left out of the last round is called that.
        assert!(found.iter().any(|(text, ..)| text == "left out"));
        let mut under_way = view.clone();
        under_way.lesson.exercise.as_mut().unwrap().last_round = false;
        let shapes = super::shapes(&mut Window::new(), &under_way, (size, 1.0));
        let mut inks = Vec::new();
        let mut rings = Vec::new();
        for clipped in &shapes {
            match &clipped.shape {
                Shape::Text(text) if ["Sa", "Pa", "tara Sa"].contains(&text.galley.text()) => {
                    inks.push(text.galley.job.sections[0].format.color);
                }
                Shape::Circle(ring) if ring.fill == egui::Color32::TRANSPARENT => {
                    rings.push((ring.radius, ring.stroke))
                }
                _ => {}
            }
        }
        assert!(inks.len() >= 3 && inks.iter().all(|ink| *ink == look.ink), "{inks:?}");
        let ring = rings.iter().find(|(radius, _)| *radius >= 9.0).unwrap_or_else(|| panic!("{rings:?}"));
        assert!(ring.1.color == look.ink && ring.1.width >= 2.0, "{ring:?}");
    }
}

/// The large letter's cap height, and the heights of the cents and of the way to go.
fn large(view: &View, size: Vec2) -> [f32; 3] {
    let (mut window, ctx, mut all) = (Window::new(), Context::default(), Vec::new());
    for _ in 0..4 {
        let input = RawInput { screen_rect: Some(Rect::from_min_size(Pos2::ZERO, size)), ..RawInput::default() };
        let mut output = ctx.run_ui(input, |ui| window.ui(ui, view, &mut Vec::new()));
        output.textures_delta.clear();
        all = output.shapes;
    }
    let look = Look::of(view, size);
    let area = singing::letter_area(singing::places(window.memory.face_area, &look).0);
    let found = drawn(&all);
    let height =
        |text: &str| found.iter().filter(|(t, ..)| t == text).map(|(_, at, _)| at.height()).fold(0.0, f32::max);
    [letters::cap_height(area, Swara::G3), height("+9"), height("stay")]
}

#[test]
fn larger_text_makes_nothing_smaller_that_is_read_from_afar() {
    for size in [vec2(960.0, 600.0), SIZES[2], SIZES[0], super::BETWEEN, SIZES[1], SIZES[3]] {
        for banner in [false, true] {
            let mut view = sample::normal();
            view.trouble.gated = banner;
            let plain = large(&view, size);
            assert!(plain.iter().all(|height| *height > 10.0), "{size:?}: {plain:?}");
            for text_scale in [1.25, 1.5, 1.75, 2.0] {
                view.look.text_scale = text_scale;
                let now = large(&view, size);
                for (was, is) in plain.iter().zip(now) {
                    assert!(is >= was - 0.01, "{size:?} banner {banner} text {text_scale}: {plain:?} became {now:?}");
                }
            }
        }
    }
}

/// Rows of the list of which all is seen.
fn rows(view: &View, size: Vec2, chosen: Option<usize>) -> usize {
    let mut window = Window::new();
    window.memory.checking.chosen = chosen;
    let all = shapes(&mut window, view, (size, 1.0));
    let whole = |(text, at, clip): &&(String, Rect, Rect)| {
        text.ends_with(" madhya") && at.top() >= clip.top() - 1.0 && at.bottom() <= clip.bottom() + 1.0
    };
    drawn(&all).iter().filter(whole).count()
}

#[test]
fn the_list_of_notes_is_seen_in_every_window() {
    let view = View { face: Face::Checking, ..sample::normal() };
    let fresh = View { caution_read: false, ..view.clone() };
    let gated = View { face: Face::Checking, ..sample::bad_line() };
    for (name, view) in [("plain", &view), ("a new user", &fresh), ("a warning", &gated)] {
        let seen = rows(view, SIZES[0], None);
        assert!(seen >= 2, "{name}: {seen}");
    }
    for text_scale in [1.0, 1.25] {
        let mut view = View { face: Face::Checking, ..sample::note_chosen() };
        view.look.text_scale = text_scale;
        let seen = rows(&view, vec2(960.0, 600.0), Some(1));
        assert!(seen >= 3, "text {text_scale}: {seen}");
    }
}

#[test]
fn the_less_important_word_goes_before_any_gets_small() {
    for (face, size) in [(Face::Teaching, vec2(960.0, 600.0)), (Face::Checking, vec2(960.0, 600.0))] {
        let view = View { face, ..sample::normal() };
        let found = drawn(&shapes(&mut Window::new(), &view, (size, 1.0)));
        let cards = found.iter().filter(|(text, ..)| text.starts_with('±'));
        for (text, at, _) in cards {
            assert!(at.height() >= 13.0, "{face:?} {text}: {at:?}");
        }
    }
}
