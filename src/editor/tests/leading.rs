//! What leads a face, and what is told apart in its picture.

use super::super::action::Action;
use super::super::view::{Face, View};
use super::super::{Window, look, sample};
use super::{SIZES, click, oldest_first, pressing, shapes, texts};
use egui::{Rect, Shape, Vec2};
use egui_kittest::kittest::Queryable;

fn drawn(view: &View, size: Vec2) -> Vec<(String, Rect)> {
    let mut found = Vec::new();
    shapes(&mut oldest_first(), view, (size, 1.0)).iter().for_each(|clipped| texts(&clipped.shape, &mut found));
    found
}

#[test]
fn the_three_notes_worth_singing_again_lead_across_the_top_and_are_larger() {
    let view = View { face: Face::Checking, ..sample::normal() };
    for size in [SIZES[0], SIZES[1], SIZES[2], SIZES[3]] {
        let found = drawn(&view, size);
        let at = |starts: &str| found.iter().find(|(text, _)| text.starts_with(starts)).unwrap().1;
        let list = at("outside the band only");
        for (name, ..) in view.again.iter().map(|i| (super::super::again::place(&view.notes[*i]), ())) {
            // In the lowest window all of them stand in one line, shorter.
            let (before, larger) = if size == SIZES[0] { ("", 0.99) } else { ("at ", 1.15) };
            let lead = found.iter().find(|(text, _)| text.ends_with(&format!(" {before}{name}"))).unwrap().1;
            assert!(lead.height() > larger * list.height(), "{size:?}: {lead:?} {list:?}");
            assert!(lead.bottom() < list.top(), "{size:?}");
        }
        let hear: Vec<Rect> = found.iter().filter(|(text, _)| text == "Hear").map(|(_, at)| *at).collect();
        assert_eq!(hear.len(), 3, "{size:?}");
        if size == SIZES[0] {
            assert!(hear.iter().all(|at| (at.center().y - hear[0].center().y).abs() < 1.0), "in one line: {hear:?}");
        }
        if size.x >= SIZES[2].x {
            assert!(hear[2].left() - hear[0].left() > size.x * 0.3, "across the top: {hear:?}");
        }
    }
}

#[test]
fn each_is_heard_by_one_press_and_ended_by_another() {
    let view = View { face: Face::Checking, ..sample::normal() };
    let mut harness = pressing(view.clone(), None, None);
    assert_eq!(click(&mut harness, "Hear R2 +40 at bar 7.3"), [Action::PlayNote(6)]);
    let mut harness = pressing(View { sounding: Some(6), ..view }, None, None);
    assert_eq!(click(&mut harness, "Stop R2 +40 at bar 7.3"), [Action::Hush]);
}

#[test]
fn without_sound_no_note_is_said_to_sound_and_it_is_told_why() {
    let mut view = View { face: Face::Checking, sounding: Some(6), ..sample::note_chosen() };
    view.trouble.host_silent = true;
    let why = "nothing can be heard: the host has stopped sending audio";
    for chosen in [None, Some(6)] {
        let mut harness = pressing(view.clone(), None, chosen);
        assert!(harness.query_by_label_contains("Stop R2").is_none());
        assert_eq!(click(&mut harness, &format!("Hear R2 +40 at bar 7.3: {why}")), [Action::PlayNote(6)]);
        assert_eq!(harness.query_by_label(why).is_some(), chosen.is_some(), "beside the line");
    }
    view.trouble.host_silent = false;
    pressing(view, None, Some(6)).get_by_label("Stop R2 +40 at bar 7.3");
}

/// Heights of the levels drawn across the chosen note's picture.
fn levels(view: &View) -> Vec<f32> {
    let look = look::Look::new(view.look, SIZES[2]);
    let mut window = Window::new();
    window.memory.checking.chosen = Some(1);
    let mut found = Vec::new();
    for clipped in shapes(&mut window, view, (SIZES[2], 1.0)) {
        if let Shape::LineSegment { points: [a, b], stroke } = &clipped.shape
            && a.y == b.y
            && b.x - a.x > SIZES[2].x * 0.3
            && a.x > SIZES[2].x / 2.0
            && [look.still, look.rule].contains(&stroke.color)
        {
            found.push(a.y);
        }
    }
    found
}

#[test]
fn a_note_sung_in_another_raga_is_drawn_over_its_own_swara_only() {
    let mut view = View { face: Face::Checking, ..sample::note_chosen() };
    view.notes[1].note.cents = crate::units::Cents(203.91 + view.notes[1].note.offset.0);
    let here = levels(&view);
    assert!(here.len() > 1, "{here:?}");
    view.notes[1].page = Some(("another".into(), view.page.1.clone()));
    let own = levels(&view);
    assert!(own.len() == 1 && here.contains(&own[0]), "{own:?} of {here:?}");
    let harness = pressing(view.clone(), None, Some(1));
    harness.get_by_label_contains("the line of R2 at 0:03, sung while the raga was another");
    assert_eq!(harness.query_all_by_label("other raga").count(), 2, "beside the picture as in the list");
    // Another Sa moves voice and swaras alike.
    (view.notes[1].page, view.notes[1].sa) = (None, crate::units::Hertz(220.0));
    assert_eq!(levels(&view), here);
    assert_eq!(pressing(view, None, Some(1)).query_all_by_label("from Sa 220.0 Hz").count(), 2);
}

#[test]
fn what_the_scale_lacks_is_no_median() {
    let mut view = sample::normal();
    view.meter[4].summary = crate::meter::RowSummary { far: 3, ..crate::meter::RowSummary::default() };
    view.meter[0].summary.far = 1;
    for face in [Face::Singing, Face::Teaching, Face::Checking] {
        for size in [SIZES[0], SIZES[1], SIZES[2]] {
            view.face = face;
            let found = drawn(&view, size);
            assert!(!found.iter().any(|(text, _)| text.contains("−317")), "{face:?} {size:?}: {found:?}");
            if size == SIZES[2] {
                assert!(found.iter().any(|(text, _)| text == "far from it"), "{face:?} {size:?}: {found:?}");
            }
        }
        let harness = pressing(view.clone(), None, None);
        harness.get_by_label("P Panchama: 3 notes, far from it: another swara was sung, which this scale lacks");
        harness.get_by(|node| {
            let told = node.label().unwrap_or_default();
            told.starts_with("S Shadja: ")
                && told.ends_with("; 1 note, far from it: another swara was sung, which this scale lacks")
        });
    }
}

#[test]
fn the_list_shows_bar_and_beat_and_the_time() {
    let view = View { face: Face::Checking, ..sample::normal() };
    let found = drawn(&view, SIZES[2]);
    let row = |text: &str| found.iter().find(|(t, _)| t == text).unwrap().1;
    // The third note: six seconds into the lesson, at bar 3.
    let (bar, time) = (row("bar 3.3"), row("0:06"));
    assert!((bar.center().y - time.center().y).abs() < 3.0 && bar.right() < time.left(), "{bar:?} {time:?}");
}

/// Ticks of three points that open downwards (`true`: they point up), about their middles.
fn ticks(view: &View, dark: bool) -> Vec<bool> {
    let mut view = view.clone();
    view.look.dark = dark;
    let ink = look::Look::new(view.look, SIZES[2]).ink;
    let mut found = Vec::new();
    for clipped in shapes(&mut Window::new(), &view, (SIZES[2], 1.0)) {
        let Shape::Path(path) = &clipped.shape else { continue };
        let [a, b, c] = path.points.as_slice() else { continue };
        let even = (a.y - c.y).abs() < 0.01 && (b.x - (a.x + c.x) / 2.0).abs() < 0.01 && (a.y - b.y).abs() > 1.0;
        if even && !path.closed && path.stroke.color == egui::epaint::ColorMode::Solid(ink) {
            found.push(b.y < a.y);
        }
    }
    found
}

#[test]
fn swaras_of_one_way_only_are_ticked_in_the_live_picture_and_in_the_frozen_one() {
    use crate::swara::Swara;
    let mut view = View { face: Face::Teaching, frozen: true, ..sample::normal() };
    assert!(ticks(&view, true).is_empty());
    // Ga is of the way up only here, Dha of the way down.
    let up = vec![Swara::S, Swara::R2, Swara::G3, Swara::M1, Swara::P];
    let down = vec![Swara::P, Swara::D2, Swara::M1, Swara::R2, Swara::S];
    view.up_down = Some((up, down));
    for dark in [true, false] {
        let found = ticks(&view, dark);
        assert!(found.contains(&true), "frozen: {found:?}");
    }
    view.frozen = false;
    let found = ticks(&view, true);
    assert!(found.contains(&true), "live: {found:?}");
    let up = vec![Swara::S, Swara::M1, Swara::P];
    view.up_down = Some((up.clone(), vec![Swara::P, Swara::M1, Swara::R2, Swara::S]));
    let found = ticks(&view, true);
    assert!(!found.is_empty() && !found.contains(&true), "down only: {found:?}");
}

#[test]
fn what_a_thin_line_says_is_drawn_in_no_parting_hair() {
    for (dark, frozen, face) in [true, false]
        .into_iter()
        .flat_map(|dark| [(dark, true, Face::Teaching), (dark, false, Face::Singing), (dark, false, Face::Teaching)])
    {
        let mut view = View { face, frozen, ..sample::normal() };
        view.look.dark = dark;
        let mut window = Window::new();
        let drawn = shapes(&mut window, &view, (SIZES[2], 1.0));
        let look = look::Look::new(view.look, SIZES[2]);
        let inside = window.memory.face_area.shrink(2.0);
        // Each has its contrast by the test of the colours.
        let known = [look.voice, look.still, look.ink, look.quiet, look.rule];
        let (mut rules, mut lines) = (0, 0);
        for clipped in &drawn {
            let Shape::LineSegment { points, stroke } = &clipped.shape else { continue };
            if points.iter().all(|p| inside.contains(*p)) {
                assert!(known.contains(&stroke.color), "{face:?} dark {dark}: {points:?} in {:?}", stroke.color);
                rules += u32::from(stroke.color == look.rule);
                lines += 1;
            }
        }
        assert!(rules > 5 && lines > rules, "{face:?} frozen {frozen}: {rules} of {lines}");
    }
}

/// Sizes in which something is written too small to be read.
fn too_small(shape: &Shape, out: &mut Vec<(String, f32)>) {
    match shape {
        Shape::Vec(shapes) => shapes.iter().for_each(|s| too_small(s, out)),
        Shape::Text(text) => {
            let sizes = text.galley.job.sections.iter().map(|s| s.format.font_id.size);
            let least = sizes.fold(f32::INFINITY, f32::min);
            if least < look::LEAST_POINTS {
                out.push((text.galley.text().to_owned(), least));
            }
        }
        _ => {}
    }
}

#[test]
fn nothing_is_written_too_small_to_be_read() {
    for size in SIZES {
        for face in super::FACES {
            for (name, view) in [
                ("empty", sample::empty()),
                ("normal", sample::normal()),
                ("extreme", sample::extreme()),
                ("round", sample::round_over()),
                ("ear", sample::ear_asked()),
            ] {
                for (text_scale, frozen) in [(1.0, false), (2.0, true)] {
                    let mut view = View { face, frozen, ..view.clone() };
                    view.look.text_scale = text_scale;
                    let mut found = Vec::new();
                    let drawn = shapes(&mut Window::new(), &view, (size, 1.0));
                    drawn.iter().for_each(|clipped| too_small(&clipped.shape, &mut found));
                    assert!(found.is_empty(), "{name} {face:?} {size:?} text {text_scale}: {found:?}");
                }
            }
        }
    }
}

#[test]
fn what_matters_is_written_even_where_there_is_little_room() {
    for size in SIZES {
        let found = drawn(&sample::normal(), size);
        for text in ["+9", "cents", "stay", "held 2.4 s", "2.1 beats/s"] {
            assert!(found.iter().any(|(t, _)| t == text), "{text} {size:?}: {found:?}");
        }
        let found = drawn(&View { caution_read: true, ..sample::empty() }, size);
        assert!(found.iter().any(|(t, _)| t.starts_with("sing: nothing")), "{size:?}: {found:?}");
    }
}
