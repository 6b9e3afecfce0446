//! Where everything stands: nothing is cut or pushed out at any size, and the large letter keeps its place.

use super::*;
use crate::note::Kind;
use crate::swara::Swara;

#[test]
fn no_word_is_cut_at_any_size() {
    let sizes = SIZES.into_iter().chain([TWICE, BETWEEN]);
    for (size, scale) in sizes.flat_map(|size| scales(size).map(move |scale| (size, scale))) {
        for face in FACES {
            for (name, mut view) in
                [("empty", sample::empty()), ("normal", sample::normal()), ("extreme", sample::extreme())]
            {
                // A denser screen only rounds to finer steps.
                let texts = if scale > 1.0 { &[1.0, 2.0][..] } else { &TEXTS[..] };
                for text_scale in texts.iter().copied() {
                    // A frozen picture has words of its own.
                    view.frozen = text_scale > 1.0;
                    view.face = face;
                    view.look.text_scale = text_scale;
                    let shapes = shapes(&mut Window::new(), &view, (size, scale));
                    // The list scrolls, and so do the tools above a picture that has little room.
                    let scrolls = face == Face::Checking || (face == Face::Teaching && text_scale > 1.0);
                    let cut = cut(&shapes, size, scrolls);
                    assert!(cut.is_empty(), "{face:?} {name} {size:?} at {scale} text {text_scale}: {cut:#?}");
                }
            }
        }
    }
}

#[test]
fn no_sheet_is_cut_at_its_sides() {
    for size in SIZES.into_iter().chain([vec2(960.0, 600.0), TWICE, BETWEEN]) {
        for (sheet, text_scale) in SHEETS.into_iter().flat_map(|sheet| TEXTS.map(|text_scale| (sheet, text_scale))) {
            let (mut window, mut view) = (Window::new(), sample::extreme());
            window.memory.sheet = Some(sheet);
            view.look.text_scale = text_scale;
            view.face = Face::Checking;
            let shapes = shapes(&mut window, &view, (size, 1.0));
            let cut = cut(&shapes, size, true);
            assert!(cut.is_empty(), "{sheet:?} {size:?} text {text_scale}: {cut:#?}");
            // Nothing of the sheet lies under the face.
            let mut found = Vec::new();
            shapes.iter().for_each(|clipped| texts(&clipped.shape, &mut found));
            // A door of the same name may stand in the bar below.
            let title = found.iter().find(|(text, at)| text == sheet.title() && at.top() < size.y / 2.0).unwrap().1;
            let face = window.memory.face_area;
            let apart = face.width() < 1.0 || title.left() >= face.right();
            assert!(apart, "{sheet:?} {size:?} text {text_scale}: {title:?} {face:?}");
        }
    }
}

#[test]
fn larger_text_leaves_the_face_beside_a_sheet() {
    let (mut window, mut view) = (Window::new(), sample::normal());
    window.memory.sheet = Some(Sheet::Settings);
    for (size, text_scale) in [(vec2(960.0, 600.0), 1.5), (SIZES[2], 2.0)] {
        view.look.text_scale = text_scale;
        let shapes = shapes(&mut window, &view, (size, 1.0));
        let mut found = Vec::new();
        shapes.iter().for_each(|clipped| texts(&clipped.shape, &mut found));
        assert!(found.iter().any(|(text, _)| text == "stay"), "{size:?} {text_scale}");
    }
}

#[test]
fn a_long_scale_name_takes_a_second_line_and_pushes_nothing_out() {
    let long = "A raga whose name goes on and on and on and does not end here";
    for (size, text_scale) in [SIZES[0], vec2(960.0, 600.0)].into_iter().flat_map(|s| TEXTS.map(|text| (s, text))) {
        let mut view = sample::normal();
        view.look.text_scale = text_scale;
        view.scale.options[0].1 = long.into();
        view.scale.current = view.scale.options[0].0.clone();
        let mut found = Vec::new();
        shapes(&mut Window::new(), &view, (size, 1.0)).iter().for_each(|clipped| texts(&clipped.shape, &mut found));
        let of = |name: &str| found.iter().find(|(text, _)| text == name).unwrap().1;
        let (face, name, judged) = (of("Singing"), of(long), of("71 % judged"));
        // What may wrap counts from the line's beginning, so only its end tells that it stands behind the name.
        assert!(judged.right() <= size.x && name.right() < judged.right(), "{size:?} {name:?} {judged:?}");
        assert!((judged.center().y - name.center().y).abs() < 4.0, "{size:?} {name:?} {judged:?}");
        assert!(judged.bottom() - face.bottom() < 3.0 * face.height(), "{size:?} {face:?} {judged:?}");
    }
}

#[test]
fn a_text_size_that_has_no_room_is_told_with_the_one_in_force() {
    let told = |size: Vec2, text_scale: f32| {
        let mut view = sample::normal();
        view.look.text_scale = text_scale;
        super::super::words::text_size(text_scale, super::super::Look::new(view.look, size).room)
    };
    assert_eq!(told(SIZES[2], 1.5), "150 %");
    assert_eq!(told(SIZES[0], 1.5), "150 %; this window has room for 100 %");
    assert_eq!(told(vec2(960.0, 600.0), 2.0), "200 %; this window has room for 188 %");
    // Twice the smallest has room for twice the size, and that is what it then has.
    for size in [TWICE, SIZES[2], SIZES[3]] {
        assert_eq!(told(size, 2.0), "200 %");
        let at = |text_scale: f32| {
            super::super::Look::new(super::super::view::LookChoice { text_scale, ..Default::default() }, size)
                .body()
                .size
        };
        assert!((at(2.0) / at(1.0) - 2.0).abs() < 0.001, "{size:?}");
    }
}

#[test]
fn in_a_small_window_text_grows_as_far_as_its_face_holds_it() {
    let room = |view: &View, size: Vec2| {
        let look = super::super::Look::of(view, size);
        assert!((look.body().size - 11.2 * (look.plain / 0.8) * look.room).abs() < 0.01, "{size:?}");
        look.room
    };
    for (face, smallest) in FACES.into_iter().zip([1.5, 1.0, 1.25]) {
        let mut view = View { face, caution_read: true, ..sample::normal() };
        view.look.text_scale = 2.0;
        assert_eq!(room(&view, SIZES[0]), smallest, "{face:?}");
        assert!(room(&view, BETWEEN) >= smallest && room(&view, TWICE) == 2.0, "{face:?}");
        // It is said where the size is chosen.
        let mut window = Window::new();
        window.memory.sheet = Some(Sheet::Settings);
        let percent = format!("200 %; this window has room for {:.0} %", smallest * 100.0);
        let shown = view.clone();
        let mut harness = Harness::builder()
            .with_size(SIZES[0])
            .build_ui_state(move |ui, window: &mut Window| window.ui(ui, &shown, &mut Vec::new()), window);
        harness.run_steps(3);
        harness.get_by_label(&percent);
        // An exercise has its own words.
        view.lesson = sample::lesson().lesson;
        assert_eq!(room(&view, SIZES[0]), 1.0, "{face:?}");
    }
    // What the singing face holds: the letter and the way to go as with text at 100 % (see the test of what is read from afar), what
    // the meter and the last seconds leave, and all of the bar in one line.
    let mut view = View { caution_read: true, ..sample::normal() };
    view.look.text_scale = 2.0;
    let mut found = Vec::new();
    shapes(&mut Window::new(), &view, (SIZES[0], 1.0)).iter().for_each(|clipped| texts(&clipped.shape, &mut found));
    let of = |name: &str| found.iter().find(|(text, _)| text == name).unwrap_or_else(|| panic!("{name}: {found:?}")).1;
    for name in ["+9", "stay", "cents", "held 2.4 s", "2.1 beats/s"] {
        assert!(of(name).height() >= 9.0, "{name}");
    }
    for name in ["Listening", "Freeze", "More"] {
        assert!((of(name).center().y - of("Drone on").center().y).abs() < 2.0, "{name}");
    }
    // The checking face: what is worth singing again, and a row of the list.
    view.face = Face::Checking;
    let mut whole = 0;
    for clipped in shapes(&mut Window::new(), &view, (SIZES[0], 1.0)) {
        let mut found = Vec::new();
        texts(&clipped.shape, &mut found);
        whole += found.iter().filter(|(text, at)| text == "80 % in" && clipped.clip_rect.contains_rect(*at)).count();
    }
    assert!(whole >= 1);
}

/// The row of a swara (or its card) on a teaching face, and what is written in it.
fn row_on_teaching(view: &View, size: Vec2, name: &str) -> (Rect, String) {
    let shown = view.clone();
    // The harness keeps 8 points about what it draws.
    let mut harness = Harness::builder()
        .with_size(size + vec2(16.0, 16.0))
        .build_ui_state(move |ui, window: &mut Window| window.ui(ui, &shown, &mut Vec::new()), Window::new());
    harness.run_steps(3);
    let row = harness.query_by_label_contains(name).unwrap_or_else(|| panic!("{size:?} {name}")).rect();
    let mut found = Vec::new();
    harness.output().shapes.iter().for_each(|clipped| texts(&clipped.shape, &mut found));
    let inside = found.into_iter().filter(|(_, at)| row.expand(2.0).contains_rect(*at));
    (row, inside.map(|(text, _)| text).collect::<Vec<_>>().join("  "))
}

#[test]
fn the_smallest_teaching_face_has_the_row_of_the_swara_that_sounds_or_sounded_last() {
    let face = |view: View| View { face: Face::Teaching, caution_read: true, ..view };
    let plenty = face(sample::normal());
    let last = |swara: Swara| {
        let mut over = View { current: None, reading: None, ..plenty.clone() };
        over.notes.iter_mut().rev().find(|row| row.note.kind == Kind::Held).unwrap().note.swara = swara;
        over
    };
    for size in [SIZES[0], BETWEEN] {
        // Nothing sung yet: the swara with which all begin.
        let (_, none) = row_on_teaching(&face(sample::empty()), size, "S Shadja: not held yet");
        assert_eq!(none, "not held yet");
        // Plenty: it sounds, or was held last.
        let all = |(row, written): (Rect, String)| {
            for figure in ["+6", "±9", "15×", "90 %", "5.5 s"] {
                assert!(written.contains(figure), "{size:?} {figure} in {row:?}: {written}");
            }
            row
        };
        let row = all(row_on_teaching(&plenty, size, "P Panchama: "));
        all(row_on_teaching(&last(Swara::P), size, "P Panchama: "));
        // Few: no share.
        let (_, few) = row_on_teaching(&last(Swara::G3), size, "G3 Antara");
        assert!(few.contains("2×") && !few.contains('%'), "{size:?} {few}");
        // A long line of tools, a banner and an exercise leave it less room, but its place.
        let extreme = sample::extreme();
        let mut full = View { lesson: extreme.lesson, trouble: extreme.trouble, ..plenty.clone() };
        (full.faults, full.up_down, full.marks) = (extreme.faults, extreme.up_down, extreme.marks);
        let low = all(row_on_teaching(&full, size, "P Panchama: "));
        assert!(low.height() >= 16.0 && low.height() <= row.height(), "{size:?} {low:?} {row:?}");
        assert!(low.bottom() <= size.y, "{size:?} {low:?}");
    }
}

#[test]
fn one_key_shows_the_whole_meter_on_any_face_and_size() {
    for (face, size) in FACES.into_iter().flat_map(|face| [SIZES[0], BETWEEN, SIZES[2]].map(|size| (face, size))) {
        let view = View { face, ..sample::normal() };
        let (_, mut window) = press(Key::F, &view);
        assert_eq!(window.memory.sheet, Some(Sheet::Meter), "{face:?}");
        let mut found = Vec::new();
        shapes(&mut window, &view, (size, 1.0)).iter().for_each(|clipped| texts(&clipped.shape, &mut found));
        // What lies below is scrolled to.
        for figure in
            ["median", "held", "in tune", "longest, s", "+6 ±9", "15×", "90 %", "5.5 s", "−12 ±4", "not held yet"]
        {
            assert!(found.iter().any(|(text, _)| text == figure), "{face:?} {size:?} {figure}: {found:?}");
        }
    }
    // Another face that is asked for is seen.
    let mut harness = pressing(sample::normal(), Some(Sheet::Meter), None);
    harness.key_press(Key::Num2);
    harness.run_steps(2);
    assert!(harness.state().0.memory.sheet.is_none());
    assert!(harness.state().1.contains(&Action::Show(Face::Teaching)));
    // Where the ear comes first, no sheet tells the pitch.
    let harness = pressing(sample::ear_asked(), Some(Sheet::Meter), None);
    assert!(harness.query_all_by_label_contains("median").next().is_none());
}

#[test]
fn the_words_have_a_button_and_a_sheet_says_that_it_goes_on() {
    let mut harness = pressing(sample::normal(), None, None);
    click(&mut harness, "Words");
    assert_eq!(harness.state().0.memory.sheet, Some(Sheet::State));
    let mut window = Window::new();
    window.memory.sheet = Some(Sheet::Keys);
    let view = sample::normal();
    let mut harness = Harness::builder()
        .with_size(vec2(800.0, 500.0))
        .build_ui_state(move |ui, window: &mut Window| window.ui(ui, &view, &mut Vec::new()), window);
    harness.run_steps(3);
    harness.get_by_label_contains("More below");
    for _ in 0..4 {
        harness.key_press(Key::PageDown);
        harness.run_steps(3);
    }
    assert!(harness.query_by_label_contains("More below").is_none(), "the end is in sight");
}

/// The letter's capital on the singing face, of the window's height.
fn cap_share(view: &View, marks: bool, size: Vec2) -> f32 {
    use super::super::{letters, singing};
    let (ctx, mut window) = (Context::default(), Window::new());
    for _ in 0..3 {
        if marks && window.memory.marking.is_none() {
            window.memory.marking = Some(super::super::Marking::begin(&ctx, 0.0, String::new()));
        }
        let input = RawInput { screen_rect: Some(Rect::from_min_size(Pos2::ZERO, size)), ..RawInput::default() };
        let mut output = ctx.run_ui(input, |ui| window.ui(ui, view, &mut Vec::new()));
        output.textures_delta.clear();
    }
    let look = super::super::Look::of(view, size);
    let area = singing::letter_area(singing::places(window.memory.face_area, &look).0);
    letters::cap_height(area, crate::swara::Swara::G3) / size.y
}

#[test]
fn the_letter_takes_a_fifth_of_the_window_whatever_stands_about_it() {
    let mut failed = Vec::new();
    for size in SIZES.into_iter().chain([TWICE, BETWEEN]) {
        for text_scale in [1.0, 2.0] {
            let plain = || View { caution_read: true, said: String::new(), ..sample::normal() };
            let views = [
                ("plain", plain()),
                ("caution", View { caution_read: false, ..plain() }),
                ("banner", View { said: "The exercise begins anew with that.".into(), ..plain() }),
                ("exercise", View { lesson: sample::lesson().lesson, ..plain() }),
                ("round", View { lesson: sample::round_over().lesson, ..plain() }),
                ("round, caution", View { lesson: sample::round_over().lesson, caution_read: false, ..plain() }),
                ("everything", View { reading: plain().reading, current: plain().current, ..sample::extreme() }),
            ];
            for ((name, mut view), marks) in views.into_iter().flat_map(|v| [false, true].map(|m| (v.clone(), m))) {
                view.look.text_scale = text_scale;
                let share = cap_share(&view, marks, size);
                println!("{size:?} text {text_scale} {name}, marking {marks}: {share:.3}");
                if share < 0.2 {
                    failed.push(format!("{size:?} text {text_scale} {name}, marking {marks}: {share:.3}"));
                }
            }
        }
    }
    assert!(failed.is_empty(), "{failed:#?}");
}

#[test]
fn larger_text_keeps_one_bar_and_the_rest_is_one_key_away() {
    for (size, text_scale) in [(SIZES[0], 1.0), (SIZES[0], 2.0), (SIZES[1], 2.0), (SIZES[2], 2.0), (SIZES[3], 2.0)] {
        let mut view = sample::normal();
        view.look.text_scale = text_scale;
        let (mut window, mut found) = (Window::new(), Vec::new());
        shapes(&mut window, &view, (size, 1.0)).iter().for_each(|clipped| texts(&clipped.shape, &mut found));
        let at = |name: &str| found.iter().find(|(text, _)| text == name).map(|(_, rect)| rect.center().y);
        let line = at("Drone on").unwrap();
        for name in ["Listening", "Freeze", "More"] {
            assert!((at(name).unwrap() - line).abs() < 2.0, "{name} at {size:?} text {text_scale}: {found:?}");
        }
        assert_eq!(at("Keys"), None, "{size:?} text {text_scale}");
    }
    // In the usual window nothing is left out.
    let mut usual = pressing(sample::normal(), None, None);
    assert!(usual.query_by_label("More").is_none());
    // What may be left out stands behind the key all the same.
    usual.key_press(Key::B);
    usual.run_steps(2);
    assert_eq!(usual.state().0.memory.sheet, Some(Sheet::More));
    for (name, _, _) in super::super::footer::DOORS {
        assert_eq!(usual.query_all_by_label(name).count(), 2, "{name} in the bar and on the sheet");
    }
}

/// Where the text of a button stands.
fn place_of(view: &View, name: &str) -> Rect {
    let mut found = Vec::new();
    shapes(&mut Window::new(), view, (SIZES[2], 1.0)).iter().for_each(|clipped| texts(&clipped.shape, &mut found));
    found.iter().find(|(text, _)| text.starts_with(name)).unwrap_or_else(|| panic!("{name}: {found:?}")).1
}

#[test]
fn the_banners_button_stays_where_it_is_whatever_the_words_are() {
    let mut view = sample::normal();
    view.said.clear();
    view.drone.silent_after_reopen = true;
    let short = place_of(&view, "Start it now");
    view.device = Some(super::super::view::Device::default());
    let other = place_of(&view, "Start it now");
    view.remarks.push("Something less urgent.".into());
    let more = place_of(&view, "Start it now");
    assert_eq!((short, short), (other, more), "another sentence, and one more of them");
    let told = place_of(&view, "and 1 more");
    view.remarks.push("And something else.".into());
    assert!((place_of(&view, "and 2 more").center() - told.center()).length() < 3.0);
}

#[test]
fn warnings_and_medians_are_large_enough_for_two_metres() {
    let mut view = sample::normal();
    view.trouble.gated = true;
    for (face, size) in FACES.into_iter().flat_map(|face| [SIZES[2], SIZES[3]].map(|size| (face, size))) {
        view.face = face;
        let mut found = Vec::new();
        shapes(&mut Window::new(), &view, (size, 1.0)).iter().for_each(|clipped| texts(&clipped.shape, &mut found));
        // Of the height of a line some six tenths are the capital; 13 inches are 162 mm high.
        let mm = |starts: &str| {
            let (_, rect) = found.iter().find(|(text, _)| text.starts_with(starts)).unwrap();
            0.6 * rect.height() * 162.0 / size.y
        };
        assert!(mm("A noise gate cuts") >= 3.5, "{face:?} {size:?}: {}", mm("A noise gate cuts"));
        assert!(mm("−26") >= 4.0, "{face:?} {size:?}: {}", mm("−26"));
        assert!(mm("12×") >= 2.5, "{face:?} {size:?}: {}", mm("12×"));
    }
}

#[test]
fn the_teaching_faces_meter_takes_the_whole_width() {
    let view = View { face: Face::Teaching, ..sample::normal() };
    let mut harness = harness(view);
    harness.run_steps(3);
    let first = harness.get_by_label_contains("S Shadja").rect();
    let last = harness.get_by_label_contains("N3 Kakali").rect();
    assert!(first.left() < 25.0 && last.right() > 1255.0, "{first:?} {last:?}");
}

#[test]
fn the_list_takes_the_whole_width() {
    let view = View { face: Face::Checking, ..sample::normal() };
    let mut found = Vec::new();
    shapes(&mut Window::new(), &view, (SIZES[2], 1.0)).iter().for_each(|clipped| texts(&clipped.shape, &mut found));
    let right = found.iter().filter(|(text, _)| text == "80 % in").map(|(_, rect)| rect.right()).fold(0.0, f32::max);
    assert!(right > 1150.0, "{right}");
}

#[test]
fn what_hovers_over_the_meter_covers_none_of_its_rows() {
    for face in FACES {
        let mut harness = harness(View { face, ..sample::normal() });
        harness.run_steps(3);
        let rows: Vec<Rect> =
            ["S Shadja", "G3 Antara", "N3 Kakali"].map(|n| harness.get_by_label_contains(n).rect()).to_vec();
        harness.get_by_label_contains("G3 Antara").hover();
        harness.run_steps(12);
        let all = harness.query_all_by_label_contains("G3 Antara");
        let hints: Vec<Rect> = all.map(|node| node.rect()).filter(|rect| *rect != rows[1]).collect();
        assert!(!hints.is_empty(), "{face:?}: a hint is shown");
        for (hint, row) in hints.iter().flat_map(|hint| rows.iter().map(move |row| (hint, row))) {
            let common = hint.intersect(*row);
            assert!(common.width() <= 1.0 || common.height() <= 1.0, "{face:?}: {hint:?} over {row:?}");
        }
    }
}
