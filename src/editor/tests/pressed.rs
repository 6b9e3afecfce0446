//! What is asked for when something is pressed or typed.

use super::super::motion::Motion;
use super::super::view::LookChoice;
use super::*;

#[test]
fn enter_in_a_name_does_what_its_button_does() {
    let mut harness = pressing(sample::lesson(), Some(Sheet::Lesson), None);
    harness.get_by_label("Keep these settings as").focus();
    harness.run_steps(1);
    harness.get_by_label("Keep these settings as").type_text("here");
    harness.run_steps(2);
    harness.key_press(Key::Enter);
    assert_eq!(asked(&mut harness), [Action::SaveProfile("here".into())]);
}

#[test]
fn the_ear_comes_first_and_nothing_that_tells_the_pitch_is_there() {
    for face in FACES {
        let mut harness = pressing(View { face, ..sample::ear_asked() }, None, None);
        assert!(harness.query_by_label_contains("P madhya").is_none(), "{face:?}");
        assert!(harness.query_by_label_contains("median").is_none(), "{face:?}");
        for (name, ear) in [("low", Ear::Low), ("same", Ear::Same), ("high", Ear::High)] {
            assert_eq!(click(&mut harness, name), [Action::Ear(ear)]);
        }
    }
}

#[test]
fn an_answer_stands_until_the_singer_goes_on() {
    let mut view = sample::normal();
    view.lesson.exercise = Some(ExerciseView {
        now: "Sing Sa again when you like: the answer stands until then. N puts it away.".into(),
        told: "You said low, and so it was: 24 cents low.".into(),
        stands: true,
        ..ExerciseView::default()
    });
    let mut harness = pressing(view, None, None);
    harness.get_by_label_contains("so it was: 24 cents low");
    assert_eq!(click(&mut harness, "Next note"), [Action::Exercise(Run::Skip)]);
    harness.key_press(Key::N);
    assert_eq!(asked(&mut harness), [Action::Exercise(Run::Skip), Action::Exercise(Run::Skip)]);
}

#[test]
fn an_exercise_is_begun_paused_skipped_and_ended() {
    let mut view = sample::lesson();
    view.lesson.exercise = None;
    let mut still = pressing(view, Some(Sheet::Lesson), None);
    assert_eq!(click(&mut still, "Start the exercise"), [Action::Exercise(Run::Start)]);
    let mut runs = pressing(sample::lesson(), None, None);
    runs.get_by_label("steady 0:42 of 2:00");
    runs.get_by_label("Wavering at 5 times a second.");
    assert_eq!(click(&mut runs, "Pause"), [Action::Exercise(Run::Pause(true))]);
    assert_eq!(click(&mut runs, "Leave it out"), [Action::Exercise(Run::Skip)]);
    assert_eq!(click(&mut runs, "End"), [Action::Exercise(Run::End)]);
}

#[test]
fn a_pupil_is_kept_and_deleted_only_when_asked_twice() {
    let mut harness = pressing(sample::lesson(), Some(Sheet::Lesson), None);
    assert!(click(&mut harness, "Delete this pupil").is_empty());
    assert_eq!(click(&mut harness, "Delete for good?"), [Action::DeleteProfile("A pupil".into())]);
    let remembered = click(&mut harness, "The project remembers the pupil's name");
    assert_eq!(remembered, [Action::PupilInProject(false)]);
    harness.get_by_label("Keep these settings as").focus();
    harness.run_steps(1);
    harness.get_by_label("Keep these settings as").type_text("Meena");
    harness.run_steps(2);
    assert_eq!(click(&mut harness, "Keep"), [Action::SaveProfile("Meena".into())]);
}

#[test]
fn sa_is_offered_and_taken_by_a_press() {
    let mut harness = pressing(sample::finding(), Some(Sheet::Tonic), None);
    harness.get_by_label_contains("A drone alone does not tell the register");
    harness.get_by_label_contains("neither diagnoses nor treats");
    assert_eq!(click(&mut harness, "Take D4 · 2 kattai"), [Action::AdoptSa(crate::units::Hertz(293.7))]);
    assert_eq!(click(&mut harness, "Sa to where Ma lies"), [Action::Madhyama]);
    assert_eq!(click(&mut harness, "Put this away"), [Action::Listen(Listen::Away)]);
    // A short press begins and goes on by itself.
    assert_eq!(click(&mut harness, "Take Sa"), [Action::Listen(Listen::Sa)]);
    assert_eq!(click(&mut harness, "Hear the glide"), [Action::Listen(Listen::Range)]);
}

#[test]
fn listening_goes_on_while_the_button_is_held_and_ends_when_it_is_let_go() {
    let mut window = Window::new();
    window.memory.sheet = Some(Sheet::Tonic);
    let mut view = View { finding: None, ..sample::finding() };
    let mut harness = Harness::builder().with_size(vec2(1280.0, 900.0)).build_ui_state(
        move |ui, (window, actions): &mut (Window, Vec<Action>)| {
            window.ui(ui, &view, actions);
            let listens = actions.last() == Some(&Action::Listen(Listen::Sa));
            let hearing =
                super::super::view::FindingView { heard_s: Some(1.0), ..super::super::view::FindingView::default() };
            view.finding = listens.then_some(hearing);
        },
        (window, Vec::new()),
    );
    harness.run_steps(3);
    let pos = harness.get_by_label("Take Sa").rect().center();
    let button = |pressed| egui::Event::PointerButton {
        pos,
        button: egui::PointerButton::Primary,
        pressed,
        modifiers: egui::Modifiers::NONE,
    };
    harness.event(egui::Event::PointerMoved(pos));
    harness.event(button(true));
    // Twelve steps of a quarter of a second.
    harness.run_steps(12);
    assert_eq!(harness.state().1, [Action::Listen(Listen::Sa)]);
    harness.event(button(false));
    harness.run_steps(3);
    assert_eq!(harness.state().1, [Action::Listen(Listen::Sa), Action::Listen(Listen::Enough)]);
}

#[test]
fn a_note_is_chosen_heard_and_its_line_shown() {
    let mut view = View { face: Face::Checking, ..sample::note_chosen() };
    view.notes[0].sa = crate::units::Hertz(220.0);
    let hear = format!("Hear {}", super::super::again::named(&view.notes[1]));
    let mut harness = pressing(view, None, Some(1));
    harness.get_by_label_contains("the line of R2");
    harness.get_by_label("from Sa 220.0 Hz");
    assert_eq!(click(&mut harness, &hear), [Action::PlayNote(1)]);
    assert_eq!(click(&mut harness, "Hear the swara"), [Action::PlayTarget(1)]);
    assert_eq!(click(&mut harness, "Markers"), [Action::Export(Export::Markers)]);
    let again = click(&mut harness, "R2 +40 at bar 7.3");
    assert_eq!(again, [Action::ShowNote(Some(6))]);
    harness.get_by_label_contains("Steady Sa: 0:47 of 2:00; longest steady stretch 11.4 s");
}

#[test]
fn a_raga_is_found_by_typing_and_no_letter_of_it_is_a_key() {
    let mut harness = pressing(sample::normal(), Some(Sheet::Settings), None);
    harness.get_by_label("Scale or raga").focus();
    asked(&mut harness);
    harness.get_by_label("all 12");
    type_keys(&mut harness, "mayamalava gowla");
    assert_eq!(asked(&mut harness), [], "no letter is a key of its own");
    harness.get_by_label_contains("15 Mayamalavagowla");
    harness.key_press(Key::Enter);
    assert_eq!(asked(&mut harness), [Action::Choose(Chosen::Scale, "mela-15".into())]);
    // The list is away: letters are keys again.
    assert!(harness.query_by_label_contains("15 Mayamalavagowla").is_none());
    harness.key_press(Key::M);
    assert_eq!(asked(&mut harness), [Action::Mark]);
}

#[test]
fn the_raga_list_is_walked_pressed_and_put_away() {
    let mut harness = pressing(sample::normal(), Some(Sheet::Settings), None);
    harness.get_by_label("Scale or raga").focus();
    asked(&mut harness);
    type_keys(&mut harness, "priya");
    for key in [Key::ArrowDown, Key::ArrowDown, Key::ArrowUp, Key::Enter] {
        harness.key_press(key);
        harness.run_steps(1);
    }
    let second = crate::swara::search::search("priya")[1].key();
    assert_eq!(asked(&mut harness), [Action::Choose(Chosen::Scale, second)]);
    harness.get_by_label("Scale or raga").focus();
    asked(&mut harness);
    type_keys(&mut harness, "todi");
    harness.get_by_label_contains("8 Hanumatodi").click();
    assert_eq!(asked(&mut harness), [Action::Choose(Chosen::Scale, "mela-8".into())]);
    harness.get_by_label("Scale or raga").focus();
    asked(&mut harness);
    type_keys(&mut harness, "qqqq");
    harness.get_by_label_contains("No raga by that name");
    harness.key_press(Key::Escape);
    assert_eq!(asked(&mut harness), []);
    assert!(harness.query_by_label_contains("No raga by that name").is_none());
    assert_eq!(harness.state().0.memory.sheet, Some(Sheet::Settings), "Escape closed the list, not the sheet");
    harness.key_press(Key::Escape);
    harness.run_steps(2);
    assert_eq!(harness.state().0.memory.sheet, None);
}

#[test]
fn no_letter_is_a_key_while_a_list_lies_open() {
    let mut harness = pressing(sample::normal(), Some(Sheet::Settings), None);
    harness.get_by_label("Tuning").click();
    asked(&mut harness);
    type_keys(&mut harness, "dmc");
    assert_eq!(asked(&mut harness), []);
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    assert_eq!(harness.state().0.memory.sheet, Some(Sheet::Settings), "Escape closed the list, not the sheet");
}

#[test]
fn a_hint_under_the_pointer_takes_no_key_away() {
    let mut harness = pressing(sample::normal(), None, None);
    harness.get_by_label("Freeze").hover();
    harness.run_steps(12);
    harness.get_by_label_contains("letter, figures and lines stand still");
    harness.state_mut().1.clear();
    harness.key_press(Key::M);
    assert_eq!(asked(&mut harness), [Action::Mark]);
}

#[test]
fn a_value_is_typed_over_the_one_that_is_there() {
    let mut harness = pressing(sample::normal(), Some(Sheet::Settings), None);
    // The first of its kind is Sa's.
    harness.get_all_by_label("type").next().unwrap().click();
    harness.run_steps(3);
    harness.state_mut().1.clear();
    type_keys(&mut harness, "5.5");
    harness.key_press(Key::Enter);
    assert_eq!(asked(&mut harness), [Action::Enter(Field::Sa, "5.5".into())]);
}

#[test]
fn signs_and_capitals_that_come_only_as_text_are_keys_too() {
    for (text, press) in [("-", Press::Softer), ("?", Press::Keys), ("M", Press::Mark)] {
        let ctx = Context::default();
        let mut input = RawInput::default();
        input.events.push(Event::Text(text.to_owned()));
        let mut found = Vec::new();
        let mut output = ctx.run_ui(input, |ui| found.extend(super::super::keys::pressed(ui.ctx(), false)));
        output.textures_delta.clear();
        assert_eq!(found.first(), Some(&press), "{text}");
    }
}

#[test]
fn clear_asks_twice() {
    let (view, mut window, mut actions) = (sample::normal(), Window::new(), Vec::new());
    window.press(Press::Clear, &view, 1.0, &mut actions);
    window.press(Press::Clear, &view, 9.0, &mut actions);
    assert!(actions.is_empty(), "the second came too late");
    window.press(Press::Clear, &view, 10.0, &mut actions);
    assert_eq!(actions, [Action::Clear]);
    let view = View { cleared: true, ..view };
    window.press(Press::Clear, &view, 11.0, &mut actions);
    assert_eq!(actions, [Action::Clear, Action::Unclear]);
}

#[test]
fn the_keyboard_is_back_where_it_was_when_something_is_put_away() {
    // A window whose finding is gone once it was put away.
    let mut window = Window::new();
    window.memory.sheet = Some(Sheet::Tonic);
    let mut view = sample::finding();
    let mut harness = Harness::builder().with_size(vec2(1280.0, 900.0)).build_ui_state(
        move |ui, (window, actions): &mut (Window, Vec<Action>)| {
            window.ui(ui, &view, actions);
            if actions.contains(&Action::Listen(Listen::Away)) {
                view.finding = None;
            }
        },
        (window, Vec::new()),
    );
    harness.run_steps(3);
    harness.get_by_label("Put this away").focus();
    harness.run_steps(1);
    harness.key_press(Key::Enter);
    harness.run_steps(3);
    assert!(harness.query_by_label("Put this away").is_none());
    assert!(harness.get_by_label("Take Sa").is_focused());
    // A sheet gives the keyboard back to the button that opened it.
    let mut sheets = pressing(sample::normal(), None, None);
    sheets.get_by_label("Exercises").focus();
    sheets.run_steps(1);
    sheets.key_press(Key::Enter);
    sheets.run_steps(3);
    assert_eq!(sheets.state().0.memory.sheet, Some(Sheet::Lesson));
    sheets.get_by_label("Close").focus();
    sheets.run_steps(1);
    sheets.key_press(Key::Enter);
    sheets.run_steps(3);
    assert_eq!(sheets.state().0.memory.sheet, None);
    assert!(sheets.get_by_label("Exercises").is_focused());
}

#[test]
fn the_settings_say_which_motion_is_in_force_and_why_and_offer_the_others() {
    let told = |motion: Motion, system_asks_less: bool| {
        let view = View { system_asks_less, ..sample::normal() };
        let look = LookChoice { motion, ..view.look };
        pressing(View { look, ..view }, Some(Sheet::Settings), None)
    };
    told(Motion::AsSystem, true).get_by_label("less: the system asks for it");
    told(Motion::AsSystem, false).get_by_label("all: the system has not asked for less");
    told(Motion::All, true).get_by_label("all: chosen here, though the system asks for less");
    let mut harness = told(Motion::Less, false);
    harness.get_by_label("less: chosen here");
    choose_by_keys(&mut harness, "Motion", "all");
    let [Action::Look(look)] = asked(&mut harness)[..] else { panic!("one choice") };
    assert_eq!(look.motion, Motion::All);
    // The key turns round what is in force.
    let view = View { system_asks_less: true, ..sample::normal() };
    let [Action::Look(look)] = press(Key::V, &view).0[..] else { panic!("one choice") };
    assert_eq!(look.motion, Motion::All);
}
