//! What is said, in words and to assistive technology: what sounds, what is wrong, and the way out.

use super::*;

#[test]
fn two_pictures_say_which_is_which() {
    let mut view = View { face: Face::Teaching, ..sample::normal() };
    assert!(pressing(view.clone(), None, None).query_by_label_contains("now: ").is_none());
    view.replay = Some(super::super::view::Replay { time_s: 62.0, word: "here".into(), line: view.line.clone() });
    let harness = pressing(view, None, None);
    harness.get_by_label_contains("now: two threads");
    harness.get_by_label_contains("marked at 1:02 here: ");
}

#[test]
fn settings_begin_with_sa_and_name_what_there_is_to_choose() {
    let view = sample::normal();
    let mut harness = pressing(view.clone(), Some(Sheet::Settings), None);
    let top = |name: &str| harness.get_all_by_label(name).map(|node| node.rect().top()).fold(f32::MAX, f32::min);
    assert!(top("Sa") < top("Scale or raga") && top("Trim") < top("Tuning"));
    // It may lie below the edge of the sheet.
    harness.get_by_role_and_label(egui::accesskit::Role::ComboBox, "Drone to").scroll_to_me();
    harness.run_steps(3);
    harness.get_by_role_and_label(egui::accesskit::Role::ComboBox, "Drone to").click();
    harness.run_steps(2);
    assert_eq!(click(&mut harness, "Own output")[1], Action::Set(Field::DroneTo, 0.5));
    let alone = View { device: Some(super::super::view::Device::default()), ..view };
    let harness = pressing(alone, Some(Sheet::Settings), None);
    assert!(harness.query_by_label("Drone to").is_none() && harness.query_by_label_contains("project").is_none());
}

#[test]
fn a_frozen_picture_is_not_scrolled_off_the_lesson_and_tells_its_time() {
    let mut window = Window::new();
    let span = window.memory.teaching.span_s;
    let mut until = |now_s: f64, press: Press| {
        let view = View { frozen: true, now_s, kept_s: now_s, shown_until_s: now_s, ..sample::normal() };
        let mut actions = Vec::new();
        window.press(press, &view, 0.0, &mut actions);
        actions
    };
    for press in [Press::Back, Press::Start] {
        assert_eq!(until(8.0, press), [Action::ShowUntil(8.0)], "a short lesson has one page");
        assert_eq!(until(span + 1.0, press), [Action::ShowUntil(span)]);
    }
    let view = View { frozen: true, now_s: 70.0, shown_until_s: 65.0, ..sample::normal() };
    pressing(view, None, None).get_by_label_contains("frozen at 1:05");
}

#[test]
fn the_singing_face_says_it_all_to_assistive_technology() {
    let mut harness = harness(sample::normal());
    harness.run_steps(3);
    harness.get_by_label_contains("P madhya, 9 cents above, stay, held 2.4 seconds, 2.1 beats a second");
    harness.get_by_label_contains("S Shadja: 12 notes, median +3 cents");
    harness.get_by_label_contains("G3 Antara Gandhara: 2 notes");
    harness.get_by_label_contains("M1 Shuddha Madhyama: not held yet");
    for name in ["Drone on", "Listening", "Freeze", "Clear", "Mark", "Exercises", "Settings", "Keys"] {
        harness.get_by_label(name);
    }
}

#[test]
fn nothing_heard_is_said_plainly() {
    let mut harness = harness(sample::empty());
    harness.run_steps(3);
    harness.get_by_label_contains("nothing sounds yet");
    harness.get_by_label("Understood");
}

#[test]
fn the_other_faces_name_their_parts() {
    let mut view = sample::normal();
    view.face = Face::Checking;
    let mut checking = harness(view.clone());
    checking.run_steps(3);
    checking.get_by_label_contains("Most worth singing again");
    checking.get_by_label("outside the band only");
    view.face = Face::Teaching;
    let mut teaching = harness(view.clone());
    teaching.run_steps(3);
    teaching.get_by_label_contains("two threads");
    teaching.get_by_label("good Ga");
    view.frozen = true;
    let mut frozen = harness(view);
    frozen.run_steps(3);
    frozen.get_by_label_contains("over the swaras");
}

#[test]
fn while_nothing_sounds_the_large_place_says_what_an_exercise_asks_for() {
    let mut view = View { lesson: sample::lesson().lesson, ..sample::empty() };
    if let Some(running) = &mut view.lesson.exercise {
        running.call = "Listen: tara Sa".into();
    }
    let harness = pressing(view.clone(), None, None);
    harness.get_by_label_contains("Listen: tara Sa");
    assert!(harness.query_by_label_contains("nothing sounds yet").is_none());
    // Where no sound can come in, that comes first.
    view.trouble.host_silent = true;
    assert!(pressing(view, None, None).query_by_label_contains("Listen: tara Sa").is_none());
}

#[test]
fn sound_that_ended_has_its_way_out_beside_whatever_is_said() {
    let mut view = sample::normal();
    (view.trouble.host_silent, view.device) = (true, Some(super::super::view::Device::default()));
    view.said = "Sa cannot be changed while the sound system is stopped: start it again first.".into();
    assert_eq!(click(&mut pressing(view, None, None), "Start it again"), [Action::StartAnew]);
}

#[test]
fn the_line_and_the_pupils_drone_are_told_and_its_sa_taken() {
    use crate::listener::Faults;
    let mut view = View { face: Face::Teaching, ..sample::normal() };
    let harness = pressing(view.clone(), None, None);
    harness.get_by_label("Microphone: no fault heard");
    assert!(harness.query_by_label_contains("drone there").is_none());
    view.trouble.gated = true;
    view.faults = Faults { dropouts: 0, cut_notes: 2 };
    view.lesson.pupil_drone = Some(crate::units::Cents(-13.0));
    let sa = view.sa;
    // Once is enough: in the banner, or, where that says something else, in the line.
    let said = View { said: "Saved.".into(), ..view.clone() };
    let harness = pressing(said, None, None);
    assert_eq!(harness.query_all_by_label_contains("noise gate").count(), 1);
    harness.get_by_label("Microphone: 2 held notes cut by a noise gate");
    let mut harness = pressing(view, None, None);
    assert_eq!(harness.query_all_by_label_contains("noise gate").count(), 1);
    harness.get_by_label("A noise gate cuts the note: it is not the voice.");
    harness.get_by_label("Microphone: 2 held notes cut");
    harness.get_by_label("The drone there: Sa −13 cents from ours");
    assert_eq!(click(&mut harness, "Take its Sa"), [Action::AdoptSa(sa.up(crate::units::Cents(-13.0)))]);
}

#[test]
fn more_than_one_voice_is_said_and_not_judged() {
    let mut view = sample::normal();
    view.trouble.several = true;
    let harness = pressing(view, None, None);
    harness.get_by_label("P madhya, 9 cents above, more than one voice, not judged");
    harness.get_by_label_contains("More than one voice sounds: shown, not counted.");
}

#[test]
fn a_rate_that_cannot_be_heard_is_named_with_what_to_do() {
    let mut view = sample::empty();
    (view.unheard_hz, view.caution_read) = (Some(384_000.0), true);
    let harness = pressing(view.clone(), None, None);
    harness.get_by_label_contains("The host runs at 384 kHz");
    harness.get_by_label_contains("set it to 48 kHz");
    harness.get_by_label_contains("passes unheard at this sample rate");
    view.device = Some(super::super::view::Device::default());
    let harness = pressing(view, None, None);
    harness.get_by_label_contains("The sound system runs at 384 kHz");
    harness.get_by_label_contains("--sample-rate 48000");
}

#[test]
fn the_stand_alone_app_speaks_of_the_sound_system() {
    let mut view = sample::empty();
    view.caution_read = true;
    view.trouble.host_silent = true;
    for (device, says) in
        [(None, "The host has stopped"), (Some(super::super::view::Device::default()), "The sound system has stopped")]
    {
        view.device = device;
        let harness = pressing(view.clone(), None, None);
        harness.get_by_label_contains(says);
        assert_eq!(harness.query_all_by_label_contains("host").count() > 0, view.device.is_none());
    }
}

#[test]
fn statistics_and_unknown_names_are_told() {
    let mut view = sample::normal();
    view.remarks = vec!["there is no scale 'janya-nobody'".into()];
    let mut harness = pressing(view, Some(Sheet::Settings), None);
    harness.get_by_label_contains("there is no scale 'janya-nobody'");
    // It lies below the edge of the sheet: assistive technology reaches it all the same.
    harness.get_by_label("The project keeps the statistics").click_accesskit();
    harness.run_steps(2);
    assert_eq!(harness.state().1, [Action::KeepStatistics(false)]);
}

#[test]
fn a_shift_of_sa_is_told_with_the_offer_to_take_it() {
    let mut view = sample::normal();
    view.shift = Some(crate::units::Cents(38.0));
    let sa = view.sa;
    let mut harness = pressing(view, None, None);
    harness.get_by_label_contains("some 38 cents above: is Sa set too low?");
    assert_eq!(click(&mut harness, "Move Sa there"), [Action::AdoptSa(sa.up(crate::units::Cents(38.0)))]);
}

#[test]
fn sound_that_has_ended_is_told_with_a_way_to_have_it_again() {
    let mut view = sample::normal();
    view.trouble.host_silent = true;
    let harness = pressing(view.clone(), None, None);
    harness.get_by_label_contains("until it does again");
    view.device = Some(super::super::view::Device::default());
    let mut harness = pressing(view, None, None);
    harness.get_by_label_contains("too busy");
    assert_eq!(click(&mut harness, "Start it again"), [Action::StartAnew]);
}

#[test]
fn a_drone_on_another_sa_is_told_on_every_face_and_its_sa_taken() {
    use crate::units::Cents;
    let mut view = View { caution_read: true, ..sample::normal() };
    view.said.clear();
    view.lesson.pupil_drone = Some(Cents(-9.0));
    assert!(pressing(view.clone(), None, None).query_by_label_contains("A drone sounds").is_none());
    view.lesson.pupil_drone = Some(Cents(-23.0));
    let sa = view.sa;
    let mut harness = pressing(view, None, None);
    harness.get_by_label_contains("A drone sounds there whose Sa is −23 cents from ours.");
    assert_eq!(click(&mut harness, "Take its Sa"), [Action::AdoptSa(sa.up(Cents(-23.0)))]);
}

#[test]
fn a_drone_that_waits_or_cannot_sound_is_called_so() {
    let mut view = sample::normal();
    pressing(view.clone(), None, None).get_by_label("Drone on");
    view.drone.silent_after_reopen = true;
    assert_eq!(click(&mut pressing(view.clone(), None, None), "Drone waits"), [Action::WakeDrone]);
    view.drone.silent_after_reopen = false;
    view.trouble.host_silent = true;
    pressing(view.clone(), None, None).get_by_label("Drone waits");
    assert!(!view.drone_sounds());
    view.drone.on = false;
    pressing(view, None, None).get_by_label("Drone off");
}

#[test]
fn what_is_wrong_with_the_sound_stands_above_the_caution_of_the_first_opening() {
    let silent =
        View { device: Some(super::super::view::Device { nothing: true, ..Default::default() }), ..sample::empty() };
    let fault = |wrong: fn(&mut super::super::view::Trouble)| {
        let mut view = sample::empty();
        wrong(&mut view.trouble);
        view
    };
    let views = [
        ("No sound comes in", silent),
        ("The input is too loud", fault(|t| t.clipped = true)),
        ("The sound drops out", fault(|t| t.dropouts = true)),
    ];
    for (words, view) in &views {
        for ((face, size), text_scale) in
            FACES.into_iter().flat_map(|f| SIZES.map(|s| (f, s))).flat_map(|a| TEXTS.map(|t| (a, t)))
        {
            let mut view = View { face, ..view.clone() };
            view.look.text_scale = text_scale;
            let drawn = shapes(&mut Window::new(), &view, (size, 1.0));
            let mut found = Vec::new();
            drawn.iter().for_each(|clipped| texts(&clipped.shape, &mut found));
            let at = |words: &str| found.iter().find(|(text, _)| text.starts_with(words)).map(|(_, rect)| *rect);
            let told = format!("{words}: {face:?} {size:?} text {text_scale}: {found:#?}");
            let (caution, understood) = (at("Start quiet"), at("Understood"));
            if caution.is_none() && face == Face::Singing && size == SIZES[0] && text_scale > 1.0 {
                // Where the letter has the room of both, all of it waits.
                assert!(at(words).is_none() && super::super::banner::may_wait(&view), "{told}");
                continue;
            }
            assert!(caution.is_some() && understood.is_some(), "{told}");
            match at(words) {
                Some(above) => assert!(above.bottom() <= caution.unwrap().top() + 1.0, "{told}"),
                // In so small a window so large a text leaves room for one of the two beside the letter.
                None => assert!(text_scale > 1.0 && size == SIZES[0] && at("and 1 more").is_some(), "{told}"),
            }
            let cut = cut(&drawn, size, face != Face::Singing);
            assert!(cut.is_empty(), "{told}: {cut:#?}");
        }
    }
    // Each has its own button, and that of the one asks nothing of the other.
    let mut harness = pressing(views[0].1.clone(), None, None);
    assert_eq!(click(&mut harness, "Start it again"), [Action::StartAnew]);
    harness.run_steps(40);
    assert_eq!(click(&mut harness, "Understood"), [Action::CautionRead]);
}
