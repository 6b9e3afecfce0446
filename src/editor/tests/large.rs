//! What is to be read from afar or with large text: sizes, and that figures stay.

use super::super::sheets::Sheet;
use super::super::view::{Choice, Face, View};
use super::super::{Look, Window, sample};
use super::{SIZES, TWICE, elided, oldest_first, pressing, shapes, texts};
use crate::swara::{Scale, Tuning};
use egui::{Rect, Shape, Vec2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;

/// Words that were broken within a letter's reach: the last of one row and the first of the next.
fn broken(shape: &Shape, out: &mut Vec<String>) {
    match shape {
        Shape::Vec(shapes) => shapes.iter().for_each(|s| broken(s, out)),
        Shape::Text(text) => {
            for rows in text.galley.rows.windows(2).filter(|rows| !rows[0].ends_with_newline) {
                let (last, first) = (rows[0].glyphs.last(), rows[1].glyphs.first());
                if last.zip(first).is_some_and(|(a, b)| a.chr.is_alphanumeric() && b.chr.is_alphanumeric()) {
                    out.push(format!("{:?} breaks before {:?}", text.galley.text(), rows[1].text()));
                }
            }
        }
        _ => {}
    }
}

#[test]
fn words_are_wrapped_at_words_only() {
    let sheets = super::SHEETS;
    for size in SIZES.into_iter().chain([vec2(960.0, 600.0)]) {
        for (sheet, text_scale) in
            sheets.into_iter().flat_map(|sheet| [1.0, 1.25, 1.5, 1.75, 2.0].map(|text_scale| (sheet, text_scale)))
        {
            for view in [sample::extreme(), sample::lesson(), sample::finding()] {
                let (mut window, mut view) = (Window::new(), view);
                window.memory.sheet = Some(sheet);
                view.look.text_scale = text_scale;
                let mut found = Vec::new();
                shapes(&mut window, &view, (size, 1.0)).iter().for_each(|clipped| broken(&clipped.shape, &mut found));
                assert!(found.is_empty(), "{sheet:?} {size:?} text {text_scale}: {found:#?}");
            }
        }
    }
}

#[test]
fn header_and_exercise_have_one_size_each() {
    let mut view = sample::normal();
    view.lesson = sample::lesson().lesson;
    let found = drawn(&view, SIZES[2]);
    let height = |name: &str| found.iter().find(|(text, _)| text == name).unwrap().1.height();
    for name in ["Singing", "Sa D3 · 2 kattai", "just", "71 % judged"] {
        assert!((height(name) - height("Checking")).abs() < 1.0, "{name}");
    }
    // How far a long tone is is read from where one sings.
    assert!(0.6 * height("steady 0:42 of 2:00") * 162.0 / SIZES[2].y >= 3.5);
}

#[test]
fn what_the_meters_figures_are_stands_above_them_with_the_unit() {
    let mut view = sample::normal();
    view.meter = sample::extreme().meter;
    assert!(drawn(&view, SIZES[2]).iter().any(|(text, _)| text == "longest, s"));
    assert!(drawn(&sample::normal(), SIZES[2]).iter().any(|(text, _)| text == "longest steady 4.6 s"));
}

#[test]
fn all_of_a_chosen_notes_row_stands_out() {
    let view = View { face: Face::Checking, ..sample::note_chosen() };
    for dark in [true, false] {
        let (mut window, mut view) = (oldest_first(), view.clone());
        view.look.dark = dark;
        window.memory.checking.chosen = Some(1);
        let look = Look::new(view.look, SIZES[2]);
        let (mut rows, mut found, mut colors) = (Vec::new(), Vec::new(), Vec::new());
        for clipped in shapes(&mut window, &view, (SIZES[2], 1.0)) {
            if let Shape::Rect(r) = &clipped.shape
                && r.fill == look.still
                && r.rect.left() > SIZES[2].x / 2.0
            {
                rows.push(r.rect);
            }
            texts(&clipped.shape, &mut found);
            if let Shape::Text(text) = &clipped.shape {
                let color = text.galley.job.sections[0].format.color;
                let color = if color == egui::Color32::PLACEHOLDER { text.fallback_color } else { color };
                colors.push((text.galley.rect.translate(text.pos.to_vec2()).center(), color));
            }
        }
        let row = rows.into_iter().max_by(|a, b| a.width().total_cmp(&b.width())).unwrap();
        let within = found.iter().filter(|(_, at)| row.y_range().contains(at.center().y) && row.contains(at.center()));
        assert_eq!(within.count(), 6, "name, bar and beat, time, offset, length and share: {row:?}");
        // As on anything that is chosen: the contrast of these two is checked with the look.
        let ink = if dark { look.ground } else { look.raised };
        assert!(
            colors.iter().filter(|(at, _)| row.contains(*at)).all(|(_, color)| *color == ink),
            "dark {dark}: {colors:?}"
        );
    }
}

/// Rows of the list of notes that are seen whole, by their times at the right of the window.
fn rows_seen(view: &View, size: Vec2) -> usize {
    let mut window = Window::new();
    window.memory.checking.chosen = Some(1);
    let mut whole = 0;
    for clipped in shapes(&mut window, view, (size, 1.0)) {
        let mut found = Vec::new();
        texts(&clipped.shape, &mut found);
        let time = |text: &str| text.len() == 4 && text.starts_with("0:");
        whole += found.iter().filter(|(text, at)| time(text) && clipped.clip_rect.contains_rect(*at)).count();
    }
    whole
}

#[test]
fn beside_an_open_note_three_rows_of_the_list_are_seen_whatever_the_text() {
    for text_scale in [1.0, 1.5, 2.0] {
        for size in [SIZES[2], TWICE, SIZES[3]] {
            let mut view = View { face: Face::Checking, ..sample::note_chosen() };
            view.look.text_scale = text_scale;
            let seen = rows_seen(&view, size);
            assert!(seen >= 3, "{size:?} text {text_scale}: {seen}");
        }
    }
}

#[test]
fn long_tone_practice_is_told_where_it_was_begun_and_is_not_cut() {
    let told = |view: &View, size: Vec2, sheet: Option<Sheet>| {
        let mut window = Window::new();
        window.memory.sheet = sheet;
        let mut found = Vec::new();
        shapes(&mut window, view, (size, 1.0)).iter().for_each(|clipped| texts(&clipped.shape, &mut found));
        found.into_iter().find(|(text, _)| text.starts_with("Steady Sa"))
    };
    let mut view = View { face: Face::Checking, ..sample::normal() };
    for (size, sheet) in [(SIZES[2], None), (SIZES[2], Some(Sheet::Settings)), (SIZES[1], Some(Sheet::Settings))] {
        let (text, _) = told(&view, size, sheet).unwrap();
        assert_eq!(text, "Steady Sa: 0:47 of 2:00; longest steady stretch 11.4 s", "{size:?} {sheet:?}");
    }
    view.long_tone.begun = false;
    assert_eq!(told(&view, SIZES[2], None), None);
}

#[test]
fn ones_own_microphone_is_no_connection() {
    let mut view = View { face: Face::Teaching, ..sample::normal() };
    pressing(view.clone(), None, None).get_by_label("Microphone: no fault heard");
    pressing(view.clone(), Some(Sheet::State), None).get_by_label_contains("Microphone since listening began");
    view.lesson.profiles.current = "A pupil".into();
    pressing(view, None, None).get_by_label("Connection: no fault heard");
}

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
        ("This time: Pa a little higher.", 1.0, 4.0),
        ("on it (+3)", 1.0, 4.0),
        ("35 cents low\nunsteady", 2.0, 4.0),
    ] {
        assert!(mm(text, lines) >= least, "{text}: {} mm", mm(text, lines));
    }
    pressing(view.clone(), None, None).get_by_label_contains("Pa a little higher. – Last round – Sa: on it (+3)");
    // On the other faces the bar of the exercise says it as large as warnings are.
    for face in [Face::Teaching, Face::Checking] {
        let found = drawn(&View { face, ..view.clone() }, SIZES[2]);
        for text in ["This time: Pa a little higher.", "Sa: on it (+3)"] {
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
    let height = found.iter().filter(|(t, _)| t == "steady 0:42 of 2:00").map(|(_, r)| r.height()).fold(0.0, f32::max);
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
            // With the largest text a picture and all cards have no room in one window: the swara that sounds keeps its figures.
            if face == Face::Teaching && text_scale > 1.5 {
                assert!(figure("+6").is_some(), "{size:?} {text_scale}: {found:?}");
                continue;
            }
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

/// Each text that is drawn: where, and whether it was cut short.
fn whole(window: &mut Window, view: &View, size: Vec2) -> Vec<(String, Rect, bool)> {
    fn each(shape: &Shape, clip: Rect, out: &mut Vec<(String, Rect, bool)>) {
        match shape {
            Shape::Vec(shapes) => shapes.iter().for_each(|s| each(s, clip, out)),
            Shape::Text(text) => {
                let at = text.galley.rect.translate(text.pos.to_vec2());
                let cut = text.galley.elided || at.right() > clip.right() + 1.5;
                out.push((text.galley.text().to_owned(), at, cut));
            }
            _ => {}
        }
    }
    let mut found = Vec::new();
    shapes(window, view, (size, 1.0)).iter().for_each(|s| each(&s.shape, s.clip_rect, &mut found));
    found
}

/// The open list of ragas, and the list of notes beside what else they were sung under: a name is wrapped or told shorter, never cut.
#[test]
fn no_line_of_a_list_ends_in_an_ellipsis() {
    let mut notes = View { face: Face::Checking, ..sample::normal() };
    for (i, row) in notes.notes.iter_mut().enumerate() {
        row.sa = crate::units::Hertz(220.0);
        (row.page, row.pupil) = (Some(("other".into(), "other".into())), 7 * u32::from(i % 2 == 0));
    }
    for size in SIZES.into_iter().chain([TWICE, vec2(960.0, 600.0)]) {
        for text_scale in [1.0, 1.5, 2.0] {
            notes.look.text_scale = text_scale;
            let mut found = Vec::new();
            shapes(&mut Window::new(), &notes, (size, 1.0)).iter().for_each(|s| elided(&s.shape, &mut found));
            assert!(found.is_empty(), "{size:?} text {text_scale}: {found:?}");
            let mut view = sample::normal();
            view.look.text_scale = text_scale;
            view.scale.options = Scale::built_in().map(|s| (s.key(), s.title())).collect();
            view.scale
                .options
                .insert(0, ("own".into(), "A raga whose name goes on and on and on, and on again".into()));
            let mut window = Window::new();
            window.memory.sheet = Some(Sheet::Settings);
            let mut harness = Harness::builder()
                .with_size(size)
                .build_ui_state(move |ui, window: &mut Window| window.ui(ui, &view, &mut Vec::new()), window);
            harness.run_steps(3);
            harness.get_by_label("Scale or raga").focus();
            harness.run_steps(3);
            assert!(harness.query_all_by_label_contains("on and on, and on again").next().is_some());
            harness.output().shapes.iter().for_each(|s| elided(&s.shape, &mut found));
            assert!(found.is_empty(), "{size:?} text {text_scale}: {found:?}");
        }
    }
}

#[test]
fn the_longest_raga_names_stand_whole_in_the_header() {
    let options: Vec<(String, String)> = Scale::built_in().map(|s| (s.key(), s.title())).collect();
    let longest = |kind: &str| {
        let of_kind = options.iter().filter(|(key, _)| key.starts_with(kind));
        of_kind.max_by_key(|(_, label)| label.split(" (").next().unwrap().chars().count()).unwrap().clone()
    };
    let tunings = [Tuning::Just, Tuning::Equal].map(|tuning| tuning.title());
    for (key, label) in [longest("mela-"), longest("janya-")] {
        for (size, text_scale) in [(SIZES[0], 1.0), (TWICE, 2.0), (SIZES[2], 1.0), (SIZES[2], 2.0)] {
            for tuning in &tunings {
                let mut view = sample::normal();
                view.scale = Choice { current: key.clone(), options: options.clone() };
                view.tuning = Choice { current: tuning.clone(), options: Vec::new() };
                view.look.text_scale = text_scale;
                let name = label.split(" (").next().unwrap().trim_start_matches(|c: char| !c.is_alphabetic());
                let mut found = whole(&mut Window::new(), &view, size);
                found.retain(|(_, at, _)| at.bottom() < size.y * 0.25);
                let told = format!("{size:?} {text_scale} {label}, {tuning}: {found:#?}");
                let (_, at, cut) = found.iter().find(|(text, ..)| text.contains(name)).expect(&told);
                assert!(!cut && at.right() <= size.x && at.height() >= 9.0, "{told}");
                assert!(found.iter().any(|(text, _, cut)| text == tuning && !cut), "{told}");
                assert!(found.iter().all(|(_, _, cut)| !cut), "{told}");
                // All of its name, its number and what it comes from are read without the pointer.
                let mut window = Window::new();
                window.memory.sheet = Some(Sheet::Settings);
                let sheet = whole(&mut window, &view, size);
                assert!(sheet.iter().any(|(text, _, cut)| *text == label && !cut), "{size:?} {text_scale} {label}");
            }
        }
    }
}

#[test]
fn what_one_goes_by_while_singing_is_read_from_two_metres_and_in_ink() {
    let lean = |mut view: View| {
        view.current.as_mut().unwrap().now.offset = crate::units::Cents(15.0);
        view
    };
    let moving = |mut view: View| {
        view.current.as_mut().unwrap().kind = Some(crate::note::Kind::Oscillating);
        view
    };
    let several = |mut view: View| {
        view.trouble.several = true;
        view
    };
    let views = [
        (lean(sample::normal()), ["held 2.4 s", "2.1 beats/s", "Sa D3 \u{b7} 2 kattai", "a touch high"]),
        (moving(sample::normal()), ["moving"; 4]),
        (several(sample::normal()), ["more than one voice"; 4]),
    ];
    for (size, (view, words)) in [SIZES[2], SIZES[3]].into_iter().flat_map(|s| views.clone().map(|v| (s, v))) {
        let look = Look::new(view.look, size);
        let drawn = shapes(&mut Window::new(), &view, (size, 1.0));
        for word in words {
            let text = drawn.iter().find_map(|clipped| match &clipped.shape {
                Shape::Text(text) if text.galley.text() == word => Some(text),
                _ => None,
            });
            let text = text.unwrap_or_else(|| panic!("{word} {size:?}"));
            // Of the height of a line some six tenths are the capital; 13 inches are 162 mm high.
            let lines = text.galley.rows.len() as f32;
            let mm = 0.6 * text.galley.rect.height() / lines * 162.0 / size.y;
            assert!(mm >= 3.5, "{word} {size:?}: {mm} mm");
            let color = text.galley.job.sections[0].format.color;
            let color = if color == egui::Color32::PLACEHOLDER { text.fallback_color } else { color };
            assert_eq!(text.override_text_color.unwrap_or(color), look.ink, "{word}");
        }
    }
}
