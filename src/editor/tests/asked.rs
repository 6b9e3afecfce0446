//! What the settings sheet, the meter and the marks ask for, and what they say when they are pointed at.

use super::super::action::{Action, Chosen, DroneChange};
use super::super::keys::Press;
use super::super::sheets::Sheet;
use super::super::view::{Face, Proposal, View};
use super::super::{Window, nudge, sample, words};
use super::{SIZES, asked, click, cut, pressing, shapes, texts, type_keys};
use crate::swara::Swara;
use egui::Key;
use egui::accesskit::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};

type Pressing = Harness<'static, (Window, Vec<Action>)>;

/// Moves a slider by the keyboard, as many presses of an arrow.
fn move_by(harness: &mut Pressing, name: &str, key: Key, times: usize) -> Vec<Action> {
    harness.get_by_role_and_label(Role::Slider, name).focus();
    harness.run_steps(2);
    harness.state_mut().1.clear();
    for _ in 0..times {
        harness.key_press(key);
        harness.run_steps(1);
    }
    asked(harness)
}

#[test]
fn every_control_of_the_drone_asks_for_what_it_says() {
    let mut harness = pressing(sample::normal(), Some(Sheet::Settings), None);
    harness.get_by_label("A Ni string as well").click_accesskit();
    assert_eq!(asked(&mut harness), [Action::Drone(DroneChange::Fifth(true))]);
    let near = |action: &[Action], wanted: DroneChange| match (action, wanted) {
        ([Action::Drone(DroneChange::Pluck(a))], DroneChange::Pluck(b))
        | ([Action::Drone(DroneChange::Pair(a))], DroneChange::Pair(b)) => (a - b).abs() < 1e-9,
        ([Action::Drone(DroneChange::Trim(at, a))], DroneChange::Trim(i, b)) => *at == i && (a - b).abs() < 1e-9,
        _ => false,
    };
    for (name, key, wanted) in [
        ("From pluck to pluck: 1.1 s", Key::ArrowRight, DroneChange::Pluck(1.2)),
        ("The two Sa strings apart: 1.5 cents", Key::ArrowLeft, DroneChange::Pair(1.4)),
        ("Trim of the low Sa string: 0.0 cents", Key::ArrowRight, DroneChange::Trim(4, 0.5)),
    ] {
        if matches!(wanted, DroneChange::Trim(..)) {
            harness.get_by_label("Each string by itself").click_accesskit();
            harness.run_steps(3);
        }
        let actions = move_by(&mut harness, name, key, 1);
        assert!(near(&actions, wanted), "{name}: {actions:?}");
    }
    let mut view = sample::normal();
    view.drone.kind.current = "reed".into();
    let mut harness = pressing(view.clone(), Some(Sheet::Settings), None);
    harness.get_by_label("G3").click_accesskit();
    assert_eq!(asked(&mut harness), [Action::Drone(DroneChange::Reed(4, true))]);
    assert!(harness.query_by_label("As with strings").is_none());
    view.drone.own_reeds = true;
    let mut harness = pressing(view, Some(Sheet::Settings), None);
    harness.get_by_label("As with strings").click_accesskit();
    assert_eq!(asked(&mut harness), [Action::Drone(DroneChange::PlainReeds)]);
}

#[test]
fn a_first_string_is_proposed_beside_the_raga_and_taken_by_a_press_only() {
    let mut view = sample::normal();
    assert!(pressing(view.clone(), Some(Sheet::Settings), None).query_by_label("Take Ma").is_none());
    let told = "This raga has no Pa: Ma as first string suits it.";
    view.drone.proposal = Some(Proposal { told: told.into(), take: "Take Ma".into(), key: "ma".into() });
    let mut harness = pressing(view, Some(Sheet::Settings), None);
    harness.get_by_label(told);
    assert_eq!(asked(&mut harness), [], "nothing switches by itself");
    assert_eq!(click(&mut harness, "Take Ma"), [Action::Choose(Chosen::Stringing, "ma".into())]);
}

#[test]
fn under_the_tuning_stands_what_it_leaves_alone_and_each_other_swara_can_be_nudged() {
    let mut view = sample::normal();
    view.nudges[4] = -3.0;
    view.tuning_remarks = vec!["vina.scl has Pa at 692.00 cents; Pa stays 3/2".into()];
    let mut harness = pressing(view, Some(Sheet::Settings), None);
    assert!(harness.query_by_label("just, nudged").is_some(), "the header says so");
    assert!(pressing(sample::normal(), None, None).query_by_label("just").is_some());
    harness.get_by_label("Single swaras, away from the tuning").click_accesskit();
    harness.run_steps(3);
    let below = harness.get_by_label(nudge::FIXED).rect().top();
    assert!(harness.get_by_label_contains("vina.scl has Pa at 692.00 cents").rect().top() > below);
    assert!(below > harness.get_by_role_and_label(Role::ComboBox, "Tuning").rect().top());
    assert_eq!(move_by(&mut harness, "G3: −3 cents", Key::ArrowRight, 1), [Action::Nudge(4, -2.0)]);
    assert_eq!(move_by(&mut harness, "R2: 0 cents", Key::ArrowLeft, 1), [Action::Nudge(2, -1.0)]);
    for fixed in ["S: 0 cents", "P: 0 cents"] {
        assert!(harness.query_by_label(fixed).is_none(), "{fixed} follows the drone");
    }
}

#[test]
fn a_swaras_row_sounds_it_by_press_and_by_keyboard_and_escape_ends_it() {
    for face in super::FACES {
        let mut harness = pressing(View { face, ..sample::normal() }, None, None);
        let labels: Vec<String> =
            harness.query_all_by_role(Role::Button).filter_map(|n| n.accesskit_node().label()).collect();
        let label = labels.into_iter().find(|label| label.starts_with("P Panchama")).unwrap();
        harness.get_by_label(&label).click();
        assert_eq!(asked(&mut harness), [Action::Reference(Some(Swara::P))], "{face:?}");
        harness.get_by_label(&label).focus();
        harness.run_steps(2);
        harness.key_press(Key::Enter);
        assert_eq!(asked(&mut harness), [Action::Reference(Some(Swara::P))], "{face:?}");
        harness.get_by_label(&label).hover();
        harness.run_steps(12);
        harness.get_by_label_contains("press to hear it");
    }
    let view = View { reference: Some(Swara::P), ..sample::normal() };
    let mut harness = pressing(view, Some(Sheet::Keys), None);
    harness.get_all_by_label_contains("P Panchama").next().unwrap().click();
    assert_eq!(asked(&mut harness), [Action::Reference(None)]);
    harness.key_press(Key::Escape);
    assert_eq!(asked(&mut harness), [Action::Reference(None)]);
    assert_eq!(harness.state().0.memory.sheet, Some(Sheet::Keys), "the sheet is for the next press");
}

#[test]
fn in_a_small_window_the_figures_of_the_swara_that_has_the_keyboard_stand_below_the_columns() {
    let view = sample::normal();
    let mut harness = Harness::builder()
        .with_size(SIZES[0])
        .build_ui_state(move |ui, window: &mut Window| window.ui(ui, &view, &mut Vec::new()), Window::new());
    harness.run_steps(3);
    let drawn = |harness: &Harness<'static, Window>| {
        let mut found = Vec::new();
        harness.output().shapes.iter().for_each(|clipped| texts(&clipped.shape, &mut found));
        found.into_iter().map(|(text, _)| text).collect::<Vec<_>>()
    };
    // The one that sounds.
    assert!(drawn(&harness).iter().any(|t| t.starts_with("P: ") || t.starts_with("P not")), "{:?}", drawn(&harness));
    harness.get_by_label_contains("R2 Chatushruti").focus();
    harness.run_steps(2);
    let told = drawn(&harness).into_iter().find(|text| text.starts_with("R2: ")).unwrap();
    for figure in ["−9 ±11", "7×", "81 % in tune", "longest 3.1 s"] {
        assert!(told.contains(figure), "{told}");
    }
}

#[test]
fn cards_tell_spread_and_longest_hold() {
    let view = View { face: Face::Teaching, ..sample::normal() };
    let mut found = Vec::new();
    shapes(&mut Window::new(), &view, (SIZES[2], 1.0)).iter().for_each(|clipped| texts(&clipped.shape, &mut found));
    for figure in ["12×  94 %", "±8 4.6 s", "+3"] {
        assert!(found.iter().any(|(text, _)| text == figure), "{figure}: {found:?}");
    }
}

#[test]
fn every_mark_has_its_word_and_opens_its_moment() {
    let mut harness = pressing(View { face: Face::Teaching, ..sample::normal() }, None, None);
    click(&mut harness, "All marks (2)");
    assert_eq!(harness.state().0.memory.sheet, Some(Sheet::Marks));
    harness.get_by_role_and_label(Role::TextInput, "Word at 1:06").focus();
    harness.run_steps(2);
    harness.state_mut().1.clear();
    type_keys(&mut harness, "dms");
    harness.key_press(Key::Enter);
    assert_eq!(asked(&mut harness), [Action::NameMark(2, "dms".into())], "no letter is a key");
    let actions = click(&mut harness, "1:00");
    assert_eq!(actions, [Action::Replay(Some(1)), Action::Show(Face::Teaching)]);
    asked(&mut harness);
    // Escape leaves the word as it was.
    harness.get_by_role_and_label(Role::TextInput, "Word at 1:00").focus();
    harness.run_steps(2);
    type_keys(&mut harness, "x");
    harness.key_press(Key::Escape);
    assert_eq!(asked(&mut harness), []);
    // One goes at the second press, and not where that comes late.
    assert_eq!(click(&mut harness, "Remove the mark at 1:00"), []);
    harness.run_steps(20);
    assert_eq!(click(&mut harness, "Remove the mark at 1:00"), []);
    assert_eq!(click(&mut harness, "Yes, remove the mark at 1:00"), [Action::DropMark(1)]);
    // All of fifty are there.
    let harness = pressing(sample::extreme(), Some(Sheet::Marks), None);
    assert_eq!(harness.query_all_by_role(Role::TextInput).count(), 50);
}

#[test]
fn a_round_takes_an_order_that_is_typed() {
    let mut view = sample::lesson();
    view.lesson.options[0].typed_like = "S P S' P S".into();
    let mut harness = pressing(view, Some(Sheet::Lesson), None);
    harness.get_by_label("On, typed").focus();
    harness.run_steps(2);
    harness.key_press(Key::Backspace);
    harness.run_steps(1);
    type_keys(&mut harness, "s p g");
    harness.key_press(Key::Enter);
    let option = Action::ExerciseOption { option: "swara".into(), value: "s p g".into() };
    assert_eq!(asked(&mut harness), [option]);
}

#[test]
fn a_rest_that_is_due_is_told_beside_the_exercise() {
    let mut view = sample::lesson();
    view.lesson.exercise.as_mut().unwrap().rest = crate::exercise::REST.into();
    for face in super::FACES {
        pressing(View { face, ..view.clone() }, None, None).get_by_label_contains("Rest the voice, drink water");
    }
    for (size, face) in SIZES.into_iter().flat_map(|size| super::FACES.map(|face| (size, face))) {
        for text_scale in [1.0, 2.0] {
            let mut view = View { face, ..view.clone() };
            view.look.text_scale = text_scale;
            let cut = cut(&shapes(&mut Window::new(), &view, (size, 1.0)), size, face == Face::Checking);
            assert!(cut.is_empty(), "{face:?} {size:?} text {text_scale}: {cut:#?}");
        }
    }
    let mut view = sample::ear_asked();
    view.lesson.exercise.as_mut().unwrap().rest = crate::exercise::REST.into();
    pressing(view, None, None).get_by_label_contains("Rest the voice, drink water");
}

/// Points at what bears that name and waits for what is said.
fn points_at(view: View, sheet: Option<Sheet>, label: &str, says: &[&str]) {
    let mut harness = pressing(view, sheet, None);
    // A sheet may have it below its edge.
    if sheet.is_some() {
        harness.get_all_by_label_contains(label).next().unwrap().scroll_to_me();
        harness.run_steps(3);
    }
    harness.get_all_by_label_contains(label).next().unwrap().hover();
    harness.run_steps(12);
    for word in says {
        let meaning = words::explain(word);
        assert!(!meaning.is_empty(), "{word} is explained");
        assert!(harness.query_all_by_label_contains(meaning).next().is_some(), "{label}: {word}");
    }
}

#[test]
fn every_word_of_the_trade_is_explained_where_it_stands() {
    let teaching = || View { face: Face::Teaching, up_down: sample::extreme().up_down, ..sample::normal() };
    let settings = Some(Sheet::Settings);
    points_at(sample::normal(), None, "Sa D3 · 2 kattai", &["Sa", "kattai"]);
    points_at(sample::normal(), None, "Dheerasankarabharanam", &["raga"]);
    let mut mela = sample::normal();
    mela.scale.current = "15 Mayamalavagowla (Agni chakra)".into();
    points_at(mela, None, "15 Mayamalavagowla (Agni chakra)", &["raga", "chakra"]);
    points_at(sample::normal(), None, "P madhya, 9 cents", &["swara", "sthayi"]);
    points_at(sample::normal(), None, "just", &["tuning"]);
    // Without the Sanskrit names, too: at the large letter and in the meter.
    for (label, plain) in [
        ("P madhya, 9 cents", "The fifth, seven steps above Sa"),
        ("R2 Chatushruti", "The middle Ri, two steps above Sa."),
    ] {
        let mut harness = pressing(sample::normal(), None, None);
        harness.get_by_label_contains(label).hover();
        harness.run_steps(12);
        harness.get_by_label_contains(plain);
    }
    points_at(sample::normal(), settings, "Scale or raga", &["raga"]);
    points_at(sample::normal(), settings, "Band for Sa and Pa", &["band"]);
    points_at(teaching(), None, "up S R2", &["arohana", "avarohana"]);
    points_at(teaching(), None, "two threads", &["gamaka"]);
    points_at(sample::finding(), Some(Sheet::Tonic), "Madhyama shruti", &["madhyama shruti"]);
    points_at(sample::finding(), Some(Sheet::Tonic), "Sa to where Ma lies", &["madhyama shruti"]);
    points_at(View { face: Face::Checking, ..sample::normal() }, None, "S madhya", &["sthayi"]);
    let mut harness = pressing(sample::normal(), settings, None);
    harness.get_by_label("Scale or raga").focus();
    asked(&mut harness);
    type_keys(&mut harness, "mayamalava gowla");
    harness.get_by_label_contains("15 Mayamalavagowla").hover();
    harness.run_steps(12);
    harness.get_by_label_contains(words::explain("melakarta"));
}

#[test]
fn the_readme_explains_the_same_words() {
    let readme = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).unwrap();
    let table = readme.split("## Words").nth(1).unwrap();
    for word in [
        "madhyama shruti",
        "melakarta",
        "chakra",
        "tuning",
        "sthayi",
        "kattai",
        "arohana",
        "avarohana",
        "gamaka",
        "anumandra",
        "atitara",
    ] {
        assert!(table.lines().any(|line| line.starts_with('|') && line.contains(word)), "{word}");
        assert!(!words::explain(word).is_empty(), "{word}");
    }
    assert!(readme.contains("3/2") && readme.contains("4/3"));
}

#[test]
fn keys_hear_the_notes_worth_singing_again() {
    let view = sample::normal();
    for (nth, index) in view.again.iter().enumerate() {
        let (mut window, mut actions) = (Window::new(), Vec::new());
        window.press(Press::Hear(nth), &view, 0.0, &mut actions);
        assert_eq!(actions, [Action::PlayNote(*index)]);
    }
    let sounds = View { sounding: Some(view.again[1]), ..view };
    let (mut window, mut actions) = (Window::new(), Vec::new());
    window.press(Press::Hear(1), &sounds, 0.0, &mut actions);
    window.press(Press::Close, &sounds, 0.0, &mut actions);
    assert_eq!(actions, [Action::Hush, Action::Hush]);
}

/// The buttons of the banner follow one another in one place: a double click on the one must not press the next.
#[test]
fn a_double_click_in_the_banner_is_one_press() {
    let view = View { caution_read: false, ..sample::normal() };
    let mut harness = Harness::builder().with_size(SIZES[2]).with_step_dt(0.05).build_ui_state(
        move |ui, (window, actions): &mut (Window, Vec<Action>)| window.ui(ui, &view, actions),
        (Window::new(), Vec::new()),
    );
    harness.run_steps(3);
    assert_eq!(click(&mut harness, "Understood"), [Action::CautionRead]);
    assert_eq!(click(&mut harness, "Understood"), []);
    // Later it is a press of its own.
    harness.run_steps(20);
    assert_eq!(click(&mut harness, "Understood"), [Action::CautionRead]);
}

#[test]
fn a_double_click_moves_sa_to_the_drone_there_once() {
    let mut view = View { face: Face::Teaching, caution_read: true, ..sample::normal() };
    view.lesson.pupil_drone = Some(crate::units::Cents(-13.0));
    view.said = "The banner is about something else.".into();
    let mut harness = Harness::builder().with_size(SIZES[2]).with_step_dt(0.05).build_ui_state(
        move |ui, (window, actions): &mut (Window, Vec<Action>)| window.ui(ui, &view, actions),
        (Window::new(), Vec::new()),
    );
    harness.run_steps(3);
    assert_eq!(click(&mut harness, "Take its Sa").len(), 1);
    assert_eq!(click(&mut harness, "Take its Sa"), []);
    harness.run_steps(20);
    assert_eq!(click(&mut harness, "Take its Sa").len(), 1);
}
