//! What is to be read from afar or with large text: sizes, and that figures stay.

use super::super::view::{Face, View};
use super::super::{Window, sample};
use super::{SIZES, pressing, shapes, texts};
use egui::{Rect, Vec2, vec2};
use egui_kittest::kittest::Queryable;

/// The words drawn in a window of that size, and where.
fn drawn(view: &View, size: Vec2) -> Vec<(String, Rect)> {
    let mut found = Vec::new();
    shapes(&mut Window::new(), view, (size, 1.0)).iter().for_each(|clipped| texts(&clipped.shape, &mut found));
    found
}

#[test]
fn a_rounds_marks_and_its_advice_stand_large_beside_what_is_due() {
    let view = sample::round_over();
    let found = drawn(&view, SIZES[2]);
    // Of the height of a line some six tenths are the capital; 13 inches are 162 mm high.
    let mm = |text: &str, lines: f32| {
        let rects = found.iter().filter(|(t, _)| t == text).map(|(_, rect)| rect.height());
        0.6 * rects.fold(0.0, f32::max) / lines * 162.0 / SIZES[2].y
    };
    for (text, lines, least) in [
        ("Listen: Sa", 1.0, 10.0),
        ("In this round: Pa a little higher.", 1.0, 4.0),
        ("on it (+3)", 1.0, 4.0),
        ("35 cents low\nunsteady", 2.0, 4.0),
    ] {
        assert!(mm(text, lines) >= least, "{text}: {} mm", mm(text, lines));
    }
    pressing(view.clone(), None, None).get_by_label_contains("Pa a little higher. – Sa: on it (+3)");
    // On the other faces the bar of the exercise says it as large as warnings are.
    for face in [Face::Teaching, Face::Checking] {
        let found = drawn(&View { face, ..view.clone() }, SIZES[2]);
        for text in ["In this round: Pa a little higher.", "Sa: on it (+3)"] {
            let height = found.iter().find(|(t, _)| t == text).unwrap().1.height();
            assert!(0.6 * height * 162.0 / SIZES[2].y >= 3.5, "{face:?} {text}: {height}");
        }
    }
}

#[test]
fn how_far_a_long_tone_is_stands_large_between_two_tones() {
    let mut view = View { lesson: sample::lesson().lesson, caution_read: true, ..sample::empty() };
    view.lesson.exercise.as_mut().unwrap().steps.clear();
    let found = drawn(&view, SIZES[2]);
    let height = found.iter().filter(|(t, _)| t == "0:42 of 2:00").map(|(_, r)| r.height()).fold(0.0, f32::max);
    assert!(0.6 * height * 162.0 / SIZES[2].y >= 5.0, "{height}");
}

#[test]
fn larger_text_keeps_the_meters_rows_and_their_figures() {
    for (size, text_scale) in
        [vec2(960.0, 600.0), SIZES[2]].into_iter().flat_map(|size| [1.0, 1.5, 1.75, 2.0].map(|text| (size, text)))
    {
        for face in [Face::Singing, Face::Teaching] {
            let mut view = View { face, ..sample::normal() };
            view.look.text_scale = text_scale;
            let found = drawn(&view, size);
            let figure = |starts: &str| found.iter().find(|(text, _)| text.starts_with(starts)).map(|(_, rect)| *rect);
            // A median of each swara that was held, and its share or count.
            for median in ["+3", "−9", "+18", "+6", "−26", "−12"] {
                let rect =
                    figure(median).unwrap_or_else(|| panic!("{median}: {face:?} {size:?} {text_scale} {found:?}"));
                assert!(rect.height() >= 16.0, "{median}: {face:?} {size:?} {text_scale}: {rect:?}");
            }
            assert!(found.iter().any(|(text, _)| text.contains("94 %")), "{face:?} {size:?} {text_scale}");
        }
    }
}

#[test]
fn more_swaras_than_cards_fit_leave_the_figures_of_the_one_that_sounds() {
    let mut view = View { face: Face::Teaching, ..sample::extreme() };
    (view.lesson.exercise, view.unheard_hz, view.look.text_scale) = (None, None, 1.25);
    view.trouble = super::super::view::Trouble::default();
    let found = drawn(&view, SIZES[2]);
    assert!(found.iter().any(|(text, _)| text.starts_with("−100") && text.contains('±')), "{found:?}");
}
