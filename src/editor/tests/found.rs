//! What a new user stumbled over, and how it is now.

use super::super::action::Action;
use super::super::sheets::Sheet;
use super::super::view::{Device, Face, MeterRow, Replay, View};
use super::super::{Window, sample};
use super::{SIZES, asked, click, harness, oldest_first, pressing, shapes, texts};
use crate::units::Hertz;
use egui::{Key, Rect, Shape, Vec2, vec2};
use egui_kittest::kittest::Queryable;

fn drawn(view: &View, sheet: Option<Sheet>, size: Vec2) -> Vec<(String, Rect)> {
    let (mut window, mut found) = (oldest_first(), Vec::new());
    window.memory.sheet = sheet;
    shapes(&mut window, view, (size, 1.0)).iter().for_each(|clipped| texts(&clipped.shape, &mut found));
    found
}

#[test]
fn escape_ends_a_comparison_after_what_lies_in_front() {
    let line = sample::normal().line;
    let replay = Some(Replay { time_s: 62.0, word: "good Ga".into(), line });
    let view = View { face: Face::Teaching, replay, ..sample::normal() };
    assert!(drawn(&view, None, SIZES[2]).iter().any(|(text, _)| text == "Esc ends this"));
    let mut harness = pressing(view, Some(Sheet::Marks), None);
    harness.key_press(Key::Escape);
    assert_eq!(asked(&mut harness), [], "the sheet is in front");
    assert_eq!(harness.state().0.memory.sheet, None);
    harness.key_press(Key::Escape);
    assert_eq!(asked(&mut harness), [Action::Replay(None)]);
}

#[test]
fn a_sa_that_was_taken_at_once_can_be_given_back() {
    let sa = Hertz(130.8);
    let before = Some((sa, "C3 · 1 kattai".to_owned()));
    let view = View { sa_before: before, ..sample::normal() };
    // In the banner, whatever is said there, and on the sheet.
    let mut plain = pressing(view.clone(), None, None);
    assert_eq!(click(&mut plain, "Back to C3 · 1 kattai"), [Action::AdoptSa(sa)]);
    let said = View { said: "Sa is D3 · 2 kattai (146.8 Hz).".into(), ..view.clone() };
    let mut said = pressing(said, None, None);
    said.get_by_label("Back to C3 · 1 kattai").focus();
    said.run_steps(2);
    said.key_press(Key::Enter);
    assert_eq!(asked(&mut said), [Action::AdoptSa(sa)], "by the keyboard");
    let sheet = pressing(view, Some(Sheet::Tonic), None);
    assert_eq!(sheet.get_all_by_label("Back to C3 · 1 kattai").count(), 2);
    assert!(pressing(sample::normal(), Some(Sheet::Tonic), None).query_by_label_contains("Back to C").is_none());
}

#[test]
fn how_long_marks_and_notes_last_is_said_where_they_stand() {
    let view = View { face: Face::Checking, ..sample::normal() };
    let alone = View { device: Some(Device::default()), ..view.clone() };
    for (view, ends) in [(view, "until the host ends"), (alone, "until the program ends")] {
        let says = |sheet| drawn(&view, sheet, SIZES[2]).iter().filter(|(text, _)| text.contains(ends)).count();
        assert_eq!((says(None), says(Some(Sheet::Marks))), (1, 2), "{ends}");
    }
}

#[test]
fn nothing_beside_the_drones_switch_moves_when_it_is_pressed() {
    for size in [SIZES[0], vec2(960.0, 600.0), SIZES[2]] {
        let place = |on: bool, name: &str| {
            let mut view = sample::normal();
            view.drone.on = on;
            drawn(&view, None, size).into_iter().find(|(text, _)| text == name).unwrap().1.left()
        };
        for name in ["Listening", "Freeze", "Exercises"] {
            let (on, off) = (place(true, name), place(false, name));
            assert!((on - off).abs() < 0.1, "{size:?} {name}: {on} {off}");
        }
    }
}

#[test]
fn a_line_that_is_empty_looks_like_no_switch() {
    let mut view = sample::lesson();
    let running = view.lesson.exercise.as_mut().unwrap();
    (running.paused, running.progress) = (true, Some(0.0));
    let mut window = Window::new();
    window.memory.sheet = Some(Sheet::Lesson);
    let look = super::super::Look::new(view.look, SIZES[2]);
    for clipped in shapes(&mut window, &view, (SIZES[2], 1.0)) {
        if let Shape::Rect(rect) = &clipped.shape {
            let blue = rect.fill == look.still && rect.rect.left() > window.memory.face_area.right();
            assert!(!blue || rect.rect.width() < 0.5 || rect.rect.height() > 18.0, "{rect:?}");
        }
        assert!(!matches!(&clipped.shape, Shape::Circle(c) if c.fill == look.still), "{:?}", clipped.shape);
    }
    pressing(view, Some(Sheet::Lesson), None).get_by_label("0 %");
}

#[test]
fn what_a_trim_is_is_said_and_the_reed_has_no_first_string() {
    let mut view = sample::normal();
    let mut harness = pressing(view.clone(), Some(Sheet::Settings), None);
    harness.get_by_label("Each string by itself").click_accesskit();
    harness.run_steps(3);
    harness.get_by_label_contains("another first string begins at 0");
    assert_eq!(harness.get_all_by_label("Trim of the Pa string: 0.0 cents").count(), 2, "the slider and its words");
    view.drone.kind.current = "reed".into();
    let reed = pressing(view, Some(Sheet::Settings), None);
    assert!(reed.query_all_by_label("First string").next().is_none());
    reed.get_by_label_contains("a first string is for plucked strings only");
}

#[test]
fn a_face_says_what_it_is_for() {
    let mut harness = pressing(sample::normal(), None, None);
    harness.get_by_label("Checking").hover();
    harness.run_steps(12);
    harness.get_by_label("key 3: what is worth singing again, and every held note");
}

#[test]
fn an_empty_stretch_of_a_frozen_lesson_leads_to_what_was_sung() {
    let mut view = View { face: Face::Teaching, frozen: true, ..sample::normal() };
    (view.now_s, view.kept_s, view.shown_until_s) = (500.0, 500.0, 300.0);
    view.line.clear();
    for row in view.notes.iter_mut().skip(10) {
        (row.start_s, row.end_s) = (row.start_s + 300.0, row.end_s + 300.0);
    }
    let (last, next) = (view.notes[9].end_s, view.notes[10].end_s);
    let mut harness = pressing(view.clone(), None, None);
    harness.get_by_label("Nothing sung here.");
    assert!(harness.query_by_label_contains("Nothing sung yet").is_none());
    assert_eq!(click(&mut harness, "Earlier: 0:29"), [Action::ShowUntil(last + 1.0)]);
    assert_eq!(click(&mut harness, "Later: 5:32"), [Action::ShowUntil(next + 1.0)]);
    // Before anything was sung the picture says what will be there.
    view.notes.clear();
    pressing(view, None, None).get_by_label_contains("Nothing sung yet");
}

#[test]
fn a_note_of_another_raga_or_tuning_says_so_in_the_list() {
    let mut view = View { face: Face::Checking, ..sample::normal() };
    view.page = ("Dheerasankarabharanam".into(), "just".into());
    view.notes[0].page = Some(view.page.clone());
    view.notes[1].page = Some(("all 12".into(), "just".into()));
    view.notes[2].page = Some(("all 12".into(), "equal".into()));
    let found = drawn(&view, None, SIZES[2]);
    let says = |text: &str| found.iter().filter(|(t, _)| t == text).count();
    assert_eq!((says("other raga"), says("other raga, other tuning")), (1, 1), "{found:?}");
    let told = view.others_of(&view.notes[2]);
    assert_eq!(told[0].1, "sung while the raga was all 12");
    assert_eq!(told[1].1, "sung while the tuning was equal");
    // What is not known is not claimed.
    view.notes[1].page = None;
    assert!(view.others_of(&view.notes[1]).is_empty());
}

#[test]
fn the_digit_beside_a_small_letter_is_seen() {
    // The lowest window with a bar of an exercise and a warning has the lowest columns.
    let mut view = sample::normal();
    view.meter.retain(|row: &MeterRow| row.swara.short().len() > 1);
    let look = super::super::Look::new(view.look, SIZES[0]);
    let mut lines: Vec<Rect> = Vec::new();
    for clipped in shapes(&mut Window::new(), &view, (SIZES[0], 1.0)) {
        if let Shape::Path(path) = &clipped.shape
            && path.stroke.color == egui::epaint::ColorMode::Solid(look.ink)
        {
            lines.push(path.visual_bounding_rect());
        }
    }
    let low = lines.iter().filter(|line| line.top() > SIZES[0].y * 0.75);
    let high = low.clone().filter(|line| line.height() >= 10.0).count();
    assert!(high >= 2 * view.meter.len(), "{:?}", low.collect::<Vec<_>>());
}

/// A line is not kept for ever: a mark that is older opens no empty picture, nor does a note, and a frozen picture says where it begins.
#[test]
fn what_is_kept_no_longer_is_said() {
    let replay = Some(Replay { time_s: 62.0, word: "good Ga".into(), line: Vec::new() });
    let long = View { now_s: 18_000.0, shown_until_s: 18_000.0, kept_s: 14_400.0, ..sample::normal() };
    let view = View { face: Face::Teaching, replay, ..long.clone() };
    pressing(view.clone(), None, None).get_by_label_contains("kept no longer: the line begins at 1:00:00");
    // Of a lesson that is kept whole, a silence is a silence.
    let whole = View { kept_s: view.now_s, ..view };
    assert!(pressing(whole, None, None).query_by_label_contains("kept no longer").is_none());
    let frozen = View { face: Face::Teaching, frozen: true, ..long };
    pressing(frozen, None, None).get_by_label("kept from 1:00:00 on");
    let mut note = View { face: Face::Checking, ..sample::note_chosen() };
    note.shown_note.as_mut().unwrap().line.clear();
    let chosen = note.shown_note.as_ref().map(|shown| shown.index);
    pressing(note, None, chosen).get_by_label_contains("The line of this note is kept no longer");
}

/// The checking face's own tools change what is listed, in which order, and what is copied.
#[test]
fn the_list_is_sorted_filtered_and_copied_by_its_buttons() {
    use super::super::checking::{Order, Sort, csv, listed};
    let view = View { face: Face::Checking, ..sample::normal() };
    let notes = view.notes.clone();
    let mut harness = pressing(view, None, None);
    let mut copied = |outside: bool, by: Sort, press: &str| {
        click(&mut harness, press);
        let list = listed(&notes, Order { by, turned: false }, outside);
        assert_eq!(click(&mut harness, "Copy"), [Action::Copy(csv(&notes, &list))], "{press}");
        // The first of the list stands at the top: its name is the highest of all.
        let name = |i: usize| format!("{} {}", notes[i].note.swara.short(), notes[i].note.sthayi.name());
        let top = |i: usize| {
            let name = name(i);
            let rows = harness.get_all_by_label(&name).map(|node| node.rect().top());
            rows.fold(f32::MAX, f32::min)
        };
        let tops = list.iter().map(|i| top(*i)).fold(f32::MAX, f32::min);
        assert!((top(list[0]) - tops).abs() < 0.5, "{press}");
        list
    };
    let mut seen = std::collections::BTreeSet::new();
    for (press, sort) in
        [("swara", Sort::Swara), ("offset", Sort::Offset), ("length", Sort::Length), ("time", Sort::Time)]
    {
        seen.insert(copied(false, sort, press));
    }
    assert_eq!(seen.len(), 4, "four orders");
    let outside = copied(true, Sort::Time, "outside the band only");
    assert!(
        !outside.is_empty() && outside.len() < notes.iter().filter(|n| n.note.kind == crate::note::Kind::Held).count()
    );
}

/// Of a take of minutes the first view of the list is what was just sung; its button says so, and turns it round by keys too.
#[test]
fn the_newest_notes_are_seen_first_and_the_order_is_turned_by_keys() {
    let mut view = View { face: Face::Checking, ..sample::normal() };
    let one = view.notes[0].clone();
    view.notes = (0..90u32)
        .map(|i| {
            let start_s = 2.0 * f64::from(i);
            super::super::view::NoteRow { start_s, end_s: start_s + 1.5, bar_beat: None, ..one.clone() }
        })
        .collect();
    // The times of the rows that are drawn whole, from the top.
    fn times(found: &[(String, Rect)]) -> Vec<String> {
        let mut rows: Vec<_> =
            found.iter().filter(|(text, _)| text.len() == 4 && text.as_bytes()[1] == b':').cloned().collect();
        rows.sort_by(|(_, a), (_, b)| a.top().total_cmp(&b.top()));
        rows.into_iter().map(|(text, _)| text).collect()
    }
    for size in SIZES {
        let mut found = Vec::new();
        shapes(&mut Window::new(), &view, (size, 1.0)).iter().for_each(|clipped| texts(&clipped.shape, &mut found));
        assert_eq!(times(&found)[..2], ["2:58", "2:56"], "{size:?}");
    }
    let mut harness = harness(view);
    harness.run_steps(3);
    let seen = |harness: &egui_kittest::Harness<'static, Window>| {
        let mut found = Vec::new();
        harness.output().shapes.iter().for_each(|clipped| texts(&clipped.shape, &mut found));
        times(&found)
    };
    harness.get_by_label("newest first").focus();
    harness.run_steps(1);
    for (word, times) in [("oldest first", ["0:00", "0:02"]), ("newest first", ["2:58", "2:56"])] {
        harness.key_press(Key::Enter);
        harness.run_steps(3);
        assert!(harness.get_by_label(word).is_focused(), "{word}");
        assert_eq!(seen(&harness)[..2], times, "{word}");
    }
    // Another order begins as it is meant, whichever way the one before was turned.
    harness.key_press(Key::Enter);
    harness.run_steps(2);
    harness.get_by_label("offset").click();
    harness.run_steps(2);
    harness.get_by_label("farthest first");
    harness.get_by_label("time");
}

#[test]
fn what_is_not_there_yet_is_said() {
    let mut view = View { face: Face::Checking, caution_read: true, ..sample::empty() };
    let empty = pressing(view.clone(), None, None);
    empty.get_by_label("No note to sing again yet.");
    empty.get_by_label("No held note in the list.");
    view.meter.clear();
    pressing(view, None, None).get_by_label_contains("No swara is chosen: pick a scale in Settings.");
}
