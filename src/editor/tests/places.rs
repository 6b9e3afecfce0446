//! The keyboard's place: kept by a field that was finished, in sight wherever it goes, and moved by the first press in a list.

use super::super::action::{Action, Chosen, Field};
use super::super::sheets::Sheet;
use super::super::view::{Face, View};
use super::super::{Window, sample};
use super::{asked, pressing, type_keys};
use egui::accesskit::Role;
use egui::{Key, Modifiers, Rect, Vec2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{By, NodeT, Queryable};

type Pressing = Harness<'static, (Window, Vec<Action>)>;

/// Name, role and place of what has the keyboard.
fn focused(harness: &Pressing) -> Option<(String, Role, Rect)> {
    let node =
        harness.query_all(By::new().predicate(|node| node.is_focused() && node.role() != Role::Window)).last()?;
    let (name, role) = (node.accesskit_node().label().unwrap_or_default(), node.accesskit_node().role());
    Some((name, role, node.rect()))
}

fn name(harness: &Pressing) -> String {
    focused(harness).map(|(name, _, _)| name).unwrap_or_default()
}

fn tab(harness: &mut Pressing, back: bool) -> String {
    if back {
        harness.key_press_modifiers(Modifiers::SHIFT, Key::Tab);
    } else {
        harness.key_press(Key::Tab);
    }
    harness.run_steps(3);
    name(harness)
}

/// A field whose typing has begun, on a window of its own.
struct Typed {
    what: &'static str,
    open: fn() -> Pressing,
    text: &'static str,
    asks: Action,
}

fn at(view: View, sheet: Sheet, field: &str) -> Pressing {
    let mut harness = pressing(view, Some(sheet), None);
    harness.get_by_role_and_label(Role::TextInput, field).focus();
    harness.run_steps(2);
    harness
}

fn fields() -> [Typed; 5] {
    let value = || {
        let mut harness = pressing(sample::normal(), Some(Sheet::Settings), None);
        harness.get_all_by_label("type").next().unwrap().focus();
        harness.run_steps(2);
        harness.key_press(Key::Enter);
        harness.run_steps(3);
        harness
    };
    let order = || {
        let mut view = sample::lesson();
        view.lesson.options[0].typed_like = "S P S' P S".into();
        let harness = at(view, Sheet::Lesson, "On, typed");
        harness.key_press(Key::Backspace);
        harness
    };
    [
        Typed { what: "Sa", open: value, text: "5.5", asks: Action::Enter(Field::Sa, "5.5".into()) },
        Typed {
            what: "raga",
            open: || at(sample::normal(), Sheet::Settings, "Scale or raga"),
            text: "15",
            asks: Action::Choose(Chosen::Scale, "mela-15".into()),
        },
        Typed {
            what: "the word of a mark",
            open: || at(sample::normal(), Sheet::Marks, "Word at 1:06"),
            text: "dms",
            asks: Action::NameMark(2, "dms".into()),
        },
        Typed {
            what: "an order",
            open: order,
            text: "s p g",
            asks: Action::ExerciseOption { option: "swara".into(), value: "s p g".into() },
        },
        Typed {
            what: "a pupil",
            open: || at(sample::lesson(), Sheet::Lesson, "Keep these settings as"),
            text: "meena",
            asks: Action::SaveProfile("meena".into()),
        },
    ]
}

#[test]
fn after_enter_the_keyboard_stays_at_the_field_and_letters_are_keys_again() {
    for Typed { what, open, text, asks } in fields() {
        for back in [false, true] {
            let mut left = open();
            type_keys(&mut left, text);
            let neighbour = tab(&mut left, back);
            for ends in [Key::Enter, Key::Escape] {
                let mut harness = open();
                harness.state_mut().1.clear();
                type_keys(&mut harness, text);
                harness.key_press(ends);
                let asked_for = asked(&mut harness);
                assert_eq!(
                    asked_for,
                    if ends == Key::Enter { vec![asks.clone()] } else { Vec::new() },
                    "{what} {ends:?}"
                );
                assert!(harness.state().0.memory.sheet.is_some(), "{what}: {ends:?} is the field's");
                harness.key_press(Key::M);
                assert_eq!(asked(&mut harness), [Action::Mark], "{what}: letters are keys");
                harness.run_steps(1);
                harness.key_press(Key::Escape);
                asked(&mut harness);
                harness.run_steps(2);
                // Of a pupil that was kept nothing is left to keep: the button beside the field is no stop then.
                if (what, back, ends) == ("a pupil", false, Key::Enter) {
                    assert_eq!(tab(&mut harness, back), "The project remembers the pupil's name");
                } else {
                    assert_eq!(tab(&mut harness, back), neighbour, "{what} {ends:?}, back: {back}");
                }
            }
        }
    }
}

#[test]
fn a_field_that_rests_types_again_with_enter_or_a_press() {
    for by_press in [false, true] {
        let mut harness = at(sample::normal(), Sheet::Marks, "Word at 1:06");
        type_keys(&mut harness, "ga");
        harness.key_press(Key::Enter);
        harness.run_steps(3);
        assert_eq!(name(&harness), "Word at 1:06: press to type again");
        if by_press {
            harness.get_by_label("Word at 1:06: press to type again").click();
        } else {
            harness.key_press(Key::Enter);
        }
        harness.run_steps(3);
        harness.state_mut().1.clear();
        type_keys(&mut harness, "d");
        assert_eq!(asked(&mut harness), [], "no letter is a key");
        assert_eq!(focused(&harness).map(|(_, role, _)| role), Some(Role::TextInput));
    }
}

#[test]
fn the_word_of_a_fresh_mark_gives_the_keyboard_back() {
    for ends in [Key::Enter, Key::Escape] {
        let mut harness = pressing(sample::normal(), None, None);
        harness.get_by_label("Freeze").focus();
        harness.run_steps(1);
        harness.key_press(Key::M);
        harness.run_steps(2);
        type_keys(&mut harness, "ga");
        harness.key_press(ends);
        harness.run_steps(3);
        assert_eq!(name(&harness), "Freeze", "{ends:?}");
    }
}

/// A window of any size with something open.
fn sized(view: View, sheet: Option<Sheet>, size: Vec2) -> Pressing {
    let mut window = Window::new();
    window.memory.sheet = sheet;
    let mut harness = Harness::builder().with_size(size).build_ui_state(
        move |ui, (window, actions): &mut (Window, Vec<Action>)| window.ui(ui, &view, actions),
        (window, Vec::new()),
    );
    harness.run_steps(3);
    harness
}

#[test]
fn whatever_gets_the_keyboard_is_in_sight() {
    let size = vec2(480.0, 320.0);
    let mut lesson = sample::lesson();
    lesson.lesson.options[0].typed_like = "S P S' P S".into();
    let checking = View { face: Face::Checking, ..sample::normal() };
    for (view, sheet, least) in [
        (sample::normal(), Some(Sheet::Settings), 25),
        (lesson, Some(Sheet::Lesson), 6),
        (sample::extreme(), Some(Sheet::Marks), 60),
        (checking, None, 30),
    ] {
        let face = view.face;
        let mut harness = sized(view, sheet, size);
        // Between the header and the bar of buttons.
        let (head, foot) = (harness.get_by_label("Checking").rect(), harness.get_by_label("Freeze").rect());
        let mut seen = std::collections::BTreeSet::new();
        for (back, _) in [false, true].into_iter().flat_map(|back| (0..80).map(move |i| (back, i))) {
            let before = name(&harness);
            tab(&mut harness, back);
            let Some((name, _, rect)) = focused(&harness) else { continue };
            let within = rect.top() >= head.top() - 1.0 && rect.bottom() <= foot.bottom() + 1.0;
            let inside = rect.center().y > head.bottom() && rect.center().y < foot.top();
            let whole = !inside || rect.bottom() <= foot.top() + 1.0;
            assert!(within && whole, "{face:?} {sheet:?}: {name} after {before}, back {back}: {rect:?}, bar {foot:?}");
            seen.insert(format!("{name} {}", rect.top()));
        }
        assert!(seen.len() >= least, "{face:?} {sheet:?}: {} places", seen.len());
    }
}

#[test]
fn tab_walks_through_all_of_a_long_list_of_notes() {
    let view = View { face: Face::Checking, ..sample::normal() };
    let held = view.notes.iter().filter(|row| row.note.kind == crate::note::Kind::Held).count();
    let mut harness = sized(view, None, vec2(960.0, 600.0));
    for back in [false, true] {
        let walked: Vec<String> = (0..60).map(|_| tab(&mut harness, back)).collect();
        let rows = walked.iter().filter(|name| name.ends_with(" madhya")).count();
        assert!(rows >= held, "back {back}: {rows} of {held}: {walked:?}");
    }
}

#[test]
fn the_first_press_in_a_list_moves() {
    let mut harness = pressing(sample::lesson(), Some(Sheet::Lesson), None);
    harness.get_by_role_and_label(Role::ComboBox, "Exercise").focus();
    harness.run_steps(1);
    harness.key_press(Key::Enter);
    harness.run_steps(3);
    assert_eq!(name(&harness), "Long tone", "the line in force has the keyboard");
    harness.key_press(Key::ArrowDown);
    harness.run_steps(3);
    assert_eq!(name(&harness), "Fixed-tone round");
    harness.state_mut().1.clear();
    harness.key_press(Key::Enter);
    assert_eq!(asked(&mut harness), [Action::Choose(Chosen::Exercise, "Fixed-tone round".into())]);
    // Escape closes it, takes nothing, and the keyboard is back.
    harness.run_steps(2);
    harness.key_press(Key::Enter);
    harness.run_steps(3);
    harness.key_press(Key::Escape);
    assert_eq!(asked(&mut harness), []);
    harness.run_steps(2);
    assert_eq!(focused(&harness).map(|(name, role, _)| (name, role)), Some(("Exercise".into(), Role::ComboBox)));
    assert_eq!(harness.state().0.memory.sheet, Some(Sheet::Lesson));
}
