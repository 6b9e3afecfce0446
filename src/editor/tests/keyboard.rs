//! Ways of the keyboard through the window: where it is after a key, and what is typed there.

use super::super::action::{Action, Chosen, Run};
use super::super::sheets::Sheet;
use super::super::view::{Face, View};
use super::super::{Window, sample};
use super::{SIZES, asked, choose_by_keys, cut, pressing, texts, type_keys};
use egui::accesskit::Role;
use egui::epaint::ClippedShape;
use egui::{Context, Event, Key, Modifiers, Pos2, RawInput, Rect, Shape};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};

#[test]
fn a_moment_is_marked_by_one_key_and_a_word_and_no_letter_of_it_is_a_key() {
    for face in [Face::Singing, Face::Teaching, Face::Checking] {
        let mut harness = pressing(View { face, ..sample::normal() }, None, None);
        for (last, word) in [(Key::Enter, "dms good"), (Key::Escape, "")] {
            harness.key_press(Key::M);
            harness.run_steps(1);
            // Typed at once, before the field was ever drawn.
            type_keys(&mut harness, "dms good");
            assert_eq!(asked(&mut harness), [Action::Mark], "{face:?}: no letter is a key of its own");
            assert!(harness.get_by_label("Word").is_focused());
            harness.key_press(last);
            assert_eq!(asked(&mut harness), [Action::Word(word.into())], "{face:?} {last:?}");
            assert!(harness.query_by_label("Word").is_none(), "the field is away");
        }
        harness.key_press(Key::M);
        assert_eq!(asked(&mut harness), [Action::Mark], "letters are keys again");
    }
}

#[test]
fn letters_that_come_with_the_key_itself_stay_out_of_the_word() {
    let view = sample::normal();
    let key = |key, pressed| Event::Key { key, physical_key: None, pressed, repeat: false, modifiers: Modifiers::NONE };
    let text = |text: &str| Event::Text(text.into());
    let typed = [
        vec![key(Key::M, true), text("m"), key(Key::M, false)],
        vec![key(Key::G, true), text("g"), key(Key::G, false)],
        vec![key(Key::A, true), text("a"), key(Key::A, false)],
        vec![key(Key::M, true), text("m"), key(Key::M, false)],
    ];
    // Frame by frame, and all of it within one, as where drawing is slow.
    for frames in [typed.to_vec(), vec![typed.concat()]] {
        let (ctx, mut window, mut actions) = (Context::default(), Window::new(), Vec::new());
        for events in std::iter::once(vec![]).chain(frames).chain([vec![], vec![key(Key::Enter, true)]]) {
            let screen_rect = Some(Rect::from_min_size(Pos2::ZERO, SIZES[2]));
            let input = RawInput { screen_rect, events, ..RawInput::default() };
            let mut output = ctx.run_ui(input, |ui| window.ui(ui, &view, &mut actions));
            output.textures_delta.clear();
        }
        assert_eq!(actions, [Action::Mark, Action::Word("gam".into())]);
    }
}

#[test]
fn the_words_field_is_not_cut_in_any_window() {
    for (size, text_scale) in SIZES.into_iter().flat_map(|size| [1.0, 2.0].map(|text_scale| (size, text_scale))) {
        let (ctx, mut window, mut view) = (Context::default(), Window::new(), sample::normal());
        view.look.text_scale = text_scale;
        let mut shapes = Vec::new();
        for frame in 0..4 {
            let m = Event::Key {
                key: Key::M,
                physical_key: None,
                pressed: true,
                repeat: false,
                modifiers: Modifiers::NONE,
            };
            let events = if frame == 1 { vec![m] } else { Vec::new() };
            let screen_rect = Some(Rect::from_min_size(Pos2::ZERO, size));
            let input = RawInput { screen_rect, events, ..RawInput::default() };
            let mut output = ctx.run_ui(input, |ui| window.ui(ui, &view, &mut Vec::new()));
            output.textures_delta.clear();
            shapes = output.shapes;
        }
        let mut found = Vec::new();
        shapes.iter().for_each(|clipped| texts(&clipped.shape, &mut found));
        assert!(found.iter().any(|(text, _)| text == "Marked at 1:12."), "{size:?} text {text_scale}");
        let cut = cut(&shapes, size, false);
        assert!(cut.is_empty(), "{size:?} text {text_scale}: {cut:#?}");
    }
}

#[test]
fn a_sheet_that_a_key_opens_has_the_keyboard_and_gives_it_back() {
    let view = || View { finding: None, ..sample::normal() };
    for (key, first, role) in [
        (Key::E, "Exercise", Role::ComboBox),
        (Key::S, "Sa: D · 2 kattai", Role::Slider),
        (Key::T, "Take Sa", Role::Button),
        (Key::B, "Drone level: -18 dB", Role::Slider),
        (Key::H, "Close", Role::Button),
        (Key::I, "Close", Role::Button),
    ] {
        let mut view = view();
        view.lesson.exercises = sample::lesson().lesson.exercises;
        let mut harness = pressing(view, None, None);
        harness.get_by_label("Freeze").focus();
        harness.run_steps(1);
        harness.key_press(key);
        harness.run_steps(3);
        let focused = harness.query_all_by_role(role).find(|node| node.is_focused());
        assert_eq!(focused.and_then(|node| node.accesskit_node().label()).as_deref(), Some(first), "{key:?}");
        harness.key_press(Key::Escape);
        harness.run_steps(3);
        assert_eq!(harness.state().0.memory.sheet, None);
        assert!(harness.get_by_label("Freeze").is_focused(), "{key:?}");
        // Whoever clicks keeps the space bar for the freeze.
    }
    let mut harness = pressing(view(), None, None);
    harness.get_by_label("Settings").click();
    asked(&mut harness);
    harness.key_press(Key::Space);
    assert_eq!(asked(&mut harness), [Action::Freeze(true)]);
}

#[test]
fn a_slider_shows_that_it_has_the_keyboard() {
    for (sheet, name) in [(None, "Drone level: -18 dB"), (Some(Sheet::Settings), "Text size")] {
        let mut harness = pressing(sample::normal(), sheet, None);
        let pen = harness.ctx.global_style().visuals.widgets.active.bg_stroke;
        let place = harness.get_by_label(name).rect();
        let rings = |harness: &Harness<'static, (Window, Vec<Action>)>| {
            let shapes = &harness.output().shapes;
            let ring = |s: &&ClippedShape| matches!(&s.shape, Shape::Rect(r) if r.stroke == pen && r.rect.expand(3.0).contains_rect(place));
            shapes.iter().filter(ring).count()
        };
        assert_eq!(rings(&harness), 0, "{name}");
        harness.get_by_label(name).focus();
        harness.run_steps(2);
        assert_eq!(rings(&harness), 1, "{name}");
    }
}

#[test]
fn a_list_closes_with_enter_and_the_keyboard_is_back_at_it() {
    let mut harness = pressing(sample::lesson(), Some(Sheet::Lesson), None);
    choose_by_keys(&mut harness, "Exercise", "Ear first");
    assert_eq!(asked(&mut harness), [Action::Choose(Chosen::Exercise, "Ear first".into())]);
    harness.run_steps(2);
    assert!(harness.query_by_label("Ear first").is_none(), "the list is closed");
    assert!(harness.get_by_role_and_label(Role::ComboBox, "Exercise").is_focused());
}

#[test]
fn an_exercise_that_is_paused_goes_on_or_begins_anew_only_when_asked() {
    let mut view = sample::lesson();
    view.lesson.exercise.as_mut().unwrap().paused = true;
    let on_sheet = |view: &View, name: &str| {
        let mut harness = pressing(view.clone(), Some(Sheet::Lesson), None);
        harness.state_mut().1.clear();
        // The last of its name: the bar has one too.
        harness.get_all_by_label(name).last().unwrap().click();
        harness.run_steps(2);
        (harness.state().1.clone(), harness.state().0.memory.sheet)
    };
    pressing(view.clone(), Some(Sheet::Lesson), None).get_by_label("Long tone is paused where you left it.");
    // With either the sheet is out of the way.
    assert_eq!(on_sheet(&view, "Go on"), (vec![Action::Exercise(Run::Pause(false))], None));
    assert_eq!(on_sheet(&view, "Begin anew"), (vec![Action::Exercise(Run::Start)], None));
    view.lesson.exercises.current = "Ear first".into();
    assert_eq!(on_sheet(&view, "Begin Ear first instead"), (vec![Action::Exercise(Run::Start)], None));
    view.lesson.exercise = None;
    assert_eq!(on_sheet(&view, "Start the exercise"), (vec![Action::Exercise(Run::Start)], None));
}
