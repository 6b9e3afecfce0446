//! Every control is reached by Tab, on every face and every sheet; and every key does what its name says.

use super::super::action::{Action, Ear, Export, Field, Run};
use super::super::keys::KEYS;
use super::super::motion::Motion;
use super::super::sheets::Sheet;
use super::super::view::{Face, LookChoice, View};
use super::super::{Window, sample};
use super::press;
use egui::accesskit::Role;
use egui::{Key, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use std::collections::BTreeSet;

/// The controls there are: role and name.
fn controls(harness: &Harness<'static, (Window, Vec<Action>)>) -> BTreeSet<(String, String)> {
    let roles = [
        Role::Button,
        Role::Slider,
        Role::CheckBox,
        Role::ComboBox,
        Role::TextInput,
        Role::RadioButton,
        Role::SpinButton,
    ];
    let mut found = BTreeSet::new();
    for role in roles {
        for node in harness.query_all_by_role(role) {
            let node = node.accesskit_node();
            if !node.is_disabled() {
                found.insert((format!("{role:?}"), node.label().unwrap_or_default()));
            }
        }
    }
    found
}

fn reached(view: &View, sheet: Option<Sheet>) {
    let (mut window, view) = (Window::new(), view.clone());
    window.memory.sheet = sheet;
    let (face, frozen) = (view.face, view.frozen);
    let mut harness = Harness::builder().with_size(vec2(1280.0, 900.0)).build_ui_state(
        move |ui, (window, actions): &mut (Window, Vec<Action>)| window.ui(ui, &view, actions),
        (window, Vec::new()),
    );
    harness.run_steps(3);
    let all = controls(&harness);
    assert!(all.iter().all(|(_, name)| !name.is_empty()), "{face:?} {sheet:?}: a control without a name: {all:?}");
    let mut found = BTreeSet::new();
    for _ in 0..all.len() * 2 + 40 {
        harness.key_press(Key::Tab);
        harness.run_steps(1);
        for (role, name) in &all {
            if found.contains(&(role.clone(), name.clone())) {
                continue;
            }
            let has = harness.query_all_by_label(name).any(|node| node.is_focused());
            if has {
                found.insert((role.clone(), name.clone()));
            }
        }
        if found.len() == all.len() {
            break;
        }
    }
    let missed: Vec<_> = all.difference(&found).collect();
    assert!(missed.is_empty(), "{face:?} frozen {frozen} {sheet:?}: not reached by Tab: {missed:?}");
}

#[test]
fn tab_reaches_every_control_of_every_face() {
    for face in super::FACES {
        for frozen in [false, true] {
            reached(&View { face, frozen, ..sample::normal() }, None);
        }
        reached(&View { face, ..sample::bad_line() }, None);
    }
    reached(&sample::ear_asked(), None);
    reached(&sample::lesson(), None);
}

#[test]
fn tab_reaches_every_control_of_every_sheet() {
    for sheet in super::SHEETS {
        reached(&sample::finding(), Some(sheet));
    }
    let mut reed = sample::lesson();
    (reed.drone.kind.current, reed.drone.own_reeds) = ("reed".into(), true);
    reached(&reed, Some(Sheet::Settings));
    reached(&reed, Some(Sheet::Lesson));
}

/// What each key is to ask for, by name; what a sheet's key opens.
fn named(key: Key, view: &View) -> (Vec<Action>, Option<Sheet>) {
    let whole = |field, value| vec![Action::Begin(field), Action::Set(field, value), Action::End(field)];
    let look = |look: LookChoice| vec![Action::Look(look)];
    let sheet = |sheet| (Vec::new(), Some(sheet));
    let level = view.knob(Field::DroneLevel).unwrap().normalised;
    let actions = match key {
        Key::H | Key::Questionmark => return sheet(Sheet::Keys),
        Key::S => return sheet(Sheet::Settings),
        Key::B => return sheet(Sheet::More),
        Key::E => return sheet(Sheet::Lesson),
        Key::I => return sheet(Sheet::State),
        Key::W => return sheet(Sheet::Marks),
        Key::F => return sheet(Sheet::Meter),
        Key::T => return (vec![Action::Listen(super::super::action::Listen::Sa)], Some(Sheet::Tonic)),
        Key::Num1 => vec![Action::Show(Face::Singing)],
        Key::Num2 => vec![Action::Show(Face::Teaching)],
        Key::Num3 => vec![Action::Show(Face::Checking)],
        Key::Num4 => vec![Action::PlayNote(1)],
        Key::Num5 => vec![Action::PlayNote(5)],
        Key::Num6 => vec![Action::PlayNote(6)],
        Key::Space => vec![Action::Freeze(false)],
        Key::M => vec![Action::Mark],
        Key::L => whole(Field::Listening, 0.0),
        Key::D => whole(Field::DroneOn, 0.0),
        Key::Plus | Key::Equals => whole(Field::DroneLevel, level + 0.03),
        Key::Minus => whole(Field::DroneLevel, level - 0.03),
        Key::Y => vec![Action::Madhyama],
        Key::O => vec![Action::FollowOctave(true)],
        // The first press only asks; Esc has nothing to close.
        Key::C | Key::Escape => Vec::new(),
        Key::P => vec![Action::Exercise(Run::Pause(true))],
        Key::N => vec![Action::Exercise(Run::Skip)],
        Key::ArrowDown => vec![Action::Ear(Ear::Low)],
        Key::Num0 => vec![Action::Ear(Ear::Same)],
        Key::ArrowUp => vec![Action::Ear(Ear::High)],
        Key::ArrowLeft => vec![Action::ShowUntil(45.0)],
        Key::ArrowRight => vec![Action::ShowUntil(55.0)],
        Key::Home => vec![Action::ShowUntil(20.0)],
        Key::End => vec![Action::ShowUntil(view.now_s)],
        Key::R => vec![Action::Export(Export::Report)],
        Key::X => vec![Action::Export(Export::Csv)],
        Key::G => look(LookChoice { dark: !view.look.dark, ..view.look }),
        Key::A => look(LookChoice { text_scale: 1.25, ..view.look }),
        Key::V => look(LookChoice { motion: Motion::Less, ..view.look }),
        other => panic!("{other:?} stands on the list and nothing is said of it here"),
    };
    (actions, None)
}

#[test]
fn every_key_asks_for_what_its_name_says() {
    let mut view = View { frozen: true, shown_until_s: 50.0, ..sample::normal() };
    let running = super::ExerciseView { asks_ear: true, may_skip: true, ..super::ExerciseView::default() };
    view.lesson.exercise = Some(running);
    for shortcut in KEYS {
        let (actions, window) = press(shortcut.key, &view);
        let (wanted, sheet) = named(shortcut.key, &view);
        assert_eq!(actions, wanted, "{}: {}", shortcut.label, shortcut.does);
        assert_eq!(window.memory.sheet, sheet, "{}: {}", shortcut.label, shortcut.does);
    }
}

/// What every panel is read by: with nothing, an ordinary minute and everything at once each face names its parts and each sheet its
/// title and its way out, and no control is without a name.
#[test]
fn every_panel_is_named_with_nothing_with_an_ordinary_minute_and_with_everything() {
    let panels = std::iter::once(None).chain(super::SHEETS.map(Some));
    for (sheet, face) in panels.flat_map(|sheet| super::FACES.map(|face| (sheet, face))) {
        for (name, data) in [("empty", sample::empty()), ("normal", sample::normal()), ("extreme", sample::extreme())] {
            let told = format!("{face:?} {sheet:?} {name}");
            let harness = super::pressing(View { face, ..data }, sheet, None);
            let all = controls(&harness);
            assert!(all.iter().all(|(_, name)| !name.is_empty()), "{told}: a control without a name: {all:?}");
            let stands = |part: &str| harness.query_all_by_label(part).next().is_some();
            assert!(["Singing", "Teaching", "Checking"].into_iter().all(stands), "{told}: the faces");
            assert!(stands("Keys") || stands("More"), "{told}: the keys");
            if let Some(sheet) = sheet {
                assert!(stands(sheet.title()) && stands("Close"), "{told}");
                continue;
            }
            // Each face by what only it has.
            let part = match face {
                Face::Singing => "the last 12 seconds",
                Face::Teaching => "Seconds",
                Face::Checking => "outside the band only",
            };
            assert!(harness.query_all_by_label_contains(part).next().is_some(), "{told}: {part}");
        }
    }
}
