//! What a new user tried, and what the window does with it.

use super::super::action::{Action, Ear};
use super::super::keys::Press;
use super::super::sheets::Sheet;
use super::super::view::{Device, Face, FindingView, Replay, View};
use super::super::{Window, sample};
use super::{SIZES, asked, click, oldest_first, pressing, shapes, texts};
use egui::{Key, Shape, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;

#[test]
fn what_is_listened_for_is_told_at_the_button_that_began_it() {
    for range in [false, true] {
        let mut view = sample::normal();
        view.finding = Some(FindingView { heard_s: Some(1.2), range, ..FindingView::default() });
        let harness = pressing(view, Some(Sheet::Tonic), None);
        let top = |name: &str| harness.get_by_label_contains(name).rect().top();
        let (told, button) = (top("listening, 1 s"), top("That is enough"));
        let glide = top("A comfortable Sa for a new singer");
        assert_eq!((told > button, told > glide, button > glide), (true, range, range));
    }
}

#[test]
fn a_row_of_the_list_is_heard_by_enter_and_by_a_double_click() {
    let view = View { face: Face::Checking, ..sample::note_chosen() };
    let name = format!("{} madhya", view.notes[1].note.swara.short());
    let mut harness = pressing(view.clone(), None, None);
    harness.get_all_by_label(&name).next().unwrap().focus();
    harness.run_steps(1);
    harness.key_press(Key::Enter);
    assert_eq!(asked(&mut harness), [Action::ShowNote(Some(1)), Action::PlayNote(1)]);
    // Space only shows it, and puts it away.
    harness.key_press(Key::Space);
    assert_eq!(asked(&mut harness), [Action::ShowNote(None)]);
    // The first press shows its line, which moves the row; the second is meant for the same note.
    let mut harness = Harness::builder().with_size(vec2(1280.0, 900.0)).with_step_dt(0.02).build_ui_state(
        move |ui, (window, actions): &mut (Window, Vec<Action>)| window.ui(ui, &view, actions),
        (oldest_first(), Vec::new()),
    );
    harness.run_steps(3);
    let pos = harness.get_all_by_label(&name).next().unwrap().rect().center();
    for _ in 0..2 {
        harness.event(egui::Event::PointerMoved(pos));
        for pressed in [true, false] {
            let (button, modifiers) = (egui::PointerButton::Primary, egui::Modifiers::NONE);
            harness.event(egui::Event::PointerButton { pos, button, pressed, modifiers });
        }
        harness.step();
    }
    assert_eq!(asked(&mut harness), [Action::ShowNote(Some(1)), Action::PlayNote(1)]);
    assert_eq!(harness.state().0.memory.checking.chosen, Some(1));
}

#[test]
fn what_hear_will_play_stands_on_it() {
    let view = View { face: Face::Checking, ..sample::note_chosen() };
    let row = &view.notes[1];
    let named = super::super::again::named(row);
    let mut harness = pressing(view.clone(), None, Some(1));
    assert_eq!(click(&mut harness, &format!("Hear {named}")), [Action::PlayNote(1)]);
    let mut harness = pressing(View { sounding: Some(1), ..view.clone() }, None, Some(1));
    assert_eq!(click(&mut harness, &format!("Stop {named}")), [Action::Hush]);
}

#[test]
fn without_sound_the_settings_open_at_the_input() {
    for (size, nothing) in [SIZES[0], vec2(960.0, 600.0), SIZES[2]].into_iter().flat_map(|s| [(s, true), (s, false)]) {
        let device = Some(Device { nothing, ..Device::default() });
        let view = View { device, ..sample::normal() };
        let mut harness = Harness::builder()
            .with_size(size)
            .build_ui_state(move |ui, window: &mut Window| window.ui(ui, &view, &mut Vec::new()), Window::new());
        harness.run_steps(3);
        harness.key_press(Key::S);
        harness.run_steps(6);
        let input = harness.get_by_role_and_label(egui::accesskit::Role::ComboBox, "Input");
        assert_eq!(input.is_focused(), nothing, "{size:?}");
        let at = input.rect();
        let seen = at.top() > 0.1 * size.y && at.bottom() < 0.95 * size.y;
        assert!(seen || !nothing, "{size:?}: in sight: {at:?}");
    }
}

#[test]
fn an_arrow_is_an_answer_or_is_answered_while_the_ear_comes_first() {
    let mut view = sample::ear_asked();
    view.lesson.exercise.as_mut().unwrap().asks_ear = false;
    let mut actions = Vec::new();
    Window::new().press(Press::Ear(Ear::Low), &view, 0.0, &mut actions);
    assert_eq!(actions, [Action::Ear(Ear::Low)]);
    // Each button says its key.
    for (size, text_scale) in [(SIZES[0], 1.0), (SIZES[2], 2.0)] {
        let mut view = sample::ear_asked();
        view.look.text_scale = text_scale;
        let mut found = Vec::new();
        shapes(&mut Window::new(), &view, (size, 1.0)).iter().for_each(|clipped| texts(&clipped.shape, &mut found));
        for key in ["lowkey Down", "samekey 0", "highkey Up"] {
            assert!(found.iter().any(|(text, _)| text == key), "{key}: {found:?}");
        }
    }
}

#[test]
fn while_ear_first_is_paused_nothing_is_an_answer() {
    let mut view = sample::ear_asked();
    let running = view.lesson.exercise.as_mut().unwrap();
    (running.paused, running.hides, running.asks_ear) = (true, false, false);
    let mut harness = pressing(view, None, None);
    for name in ["low", "same", "high"] {
        assert!(harness.query_by_label(name).is_none(), "{name}");
    }
    for key in [Key::ArrowDown, Key::Num0, Key::ArrowUp] {
        harness.key_press(key);
        assert_eq!(asked(&mut harness), [], "{key:?}");
    }
    assert_eq!(click(&mut harness, "Go on"), [Action::Exercise(super::Run::Pause(false))]);
}

#[test]
fn an_order_that_cannot_be_read_stays_to_be_mended() {
    let mut view = sample::lesson();
    let option = view.lesson.options.first_mut().unwrap();
    option.typed_like = "S P S' P S".into();
    let name = format!("{}, typed", option.name);
    let mut harness = pressing(view, Some(Sheet::Lesson), None);
    harness.get_by_label(&name).focus();
    harness.run_steps(1);
    harness.get_by_label(&name).type_text("s x p");
    harness.run_steps(2);
    harness.key_press(Key::Enter);
    harness.run_steps(3);
    let value = harness.get_by_label(&name).value().unwrap_or_default();
    assert!(value.contains("s x p"), "{value}");
    harness.get_by_label_contains("Not taken: write up to eight swaras");
}

#[test]
fn a_comparison_shows_the_marked_instant() {
    let line = sample::normal().line;
    let replay = Some(Replay { time_s: 62.0, word: "good Ga".into(), line });
    let view = View { face: Face::Teaching, replay, ..sample::normal() };
    let mut window = Window::new();
    let all = shapes(&mut window, &view, (SIZES[2], 1.0));
    let middle = window.memory.face_area.center().x;
    let upright = |shape: &Shape| match shape {
        Shape::LineSegment { points: [a, b], .. } => (a.x - b.x).abs() < 0.1 && (a.x - middle).abs() < 2.0,
        _ => false,
    };
    assert!(all.iter().any(|clipped| upright(&clipped.shape)));
}

#[test]
fn about_the_stand_alone_app_there_is_no_project() {
    let mut view = View { device: Some(Device::default()), ..sample::lesson() };
    view.lesson.profiles.current = "one".into();
    let harness = pressing(view.clone(), Some(Sheet::Lesson), None);
    assert!(harness.query_by_label_contains("project").is_none());
    harness.get_by_label_contains("The next start is with this pupil");
    view.device = None;
    pressing(view, Some(Sheet::Lesson), None).get_by_label_contains("The project remembers");
}

#[test]
fn the_frame_of_a_low_button_stands_clear_of_its_letters() {
    let view = View { lesson: sample::lesson().lesson, ..sample::normal() };
    for size in [SIZES[0], vec2(960.0, 600.0), SIZES[2]] {
        let all = shapes(&mut Window::new(), &view, (size, 1.0));
        let mut found = Vec::new();
        all.iter().for_each(|clipped| texts(&clipped.shape, &mut found));
        let word = found.iter().find(|(text, _)| text == "Pause").unwrap().1;
        let frame = all.iter().find_map(|clipped| match &clipped.shape {
            Shape::Rect(r) if r.rect.contains_rect(word.shrink(1.0)) && r.rect.height() < word.height() * 2.0 => {
                Some(r.rect)
            }
            _ => None,
        });
        let frame = frame.unwrap();
        assert!(frame.height() >= word.height() + 2.0, "{size:?}: {frame:?} {word:?}");
    }
}

#[test]
fn the_bar_of_buttons_is_one_line_whatever_they_say() {
    for size in [SIZES[0], SIZES[1], vec2(960.0, 600.0), SIZES[2]] {
        let mut found = Vec::new();
        let view = sample::extreme();
        shapes(&mut Window::new(), &view, (size, 1.0)).iter().for_each(|clipped| texts(&clipped.shape, &mut found));
        let level = |word: &str| found.iter().rfind(|(text, _)| text == word).map(|(_, at)| at.center().y);
        let bar = level("Freeze").unwrap();
        for word in ["Drone waits", "Not counting", "Settings", "More"] {
            assert!(level(word).is_none_or(|y| (y - bar).abs() < 3.0), "{size:?} {word}: {found:?}");
        }
    }
}

#[test]
fn who_sings_to_say_what_sa_is_is_not_told_how_far_off_it_is() {
    let mut view = sample::normal();
    view.finding = Some(FindingView { heard_s: Some(2.7), ..FindingView::default() });
    let said = |view: &View, size| {
        let mut found = Vec::new();
        shapes(&mut Window::new(), view, (size, 1.0)).iter().for_each(|s| texts(&s.shape, &mut found));
        found.into_iter().map(|(text, _)| text).collect::<Vec<_>>()
    };
    for size in SIZES {
        let words = said(&view, size);
        assert!(words.iter().any(|text| text == "Listening for Sa: 2 s"), "{size:?} {words:?}");
        assert!(
            words.iter().all(|text| !["stay", "up", "down", "cents"].contains(&text.as_str())),
            "{size:?} {words:?}"
        );
    }
    pressing(view.clone(), None, None).get_by_label("Listening for Sa: 2 s");
    view.finding = Some(FindingView { heard_s: Some(2.7), range: true, ..FindingView::default() });
    pressing(view.clone(), None, None).get_by_label("Glide down, and up again: 2 s");
    // It is over: the voice is judged again.
    view.finding = Some(FindingView::default());
    assert!(said(&view, SIZES[2]).iter().any(|text| text == "stay"));
}

#[test]
fn an_input_that_clips_is_not_called_faultless() {
    let mut view = View { face: Face::Teaching, ..sample::normal() };
    view.trouble.clipped = true;
    let harness = pressing(view.clone(), None, None);
    harness.get_by_label("The input is too loud and clips.");
    assert!(harness.query_by_label_contains("no fault heard").is_none());
    // A line about what was just done hides it: that there is more is said.
    view.said = "Text size 100 %.".into();
    pressing(view, None, None).get_by_label("and 1 more");
}

#[test]
fn whose_page_is_counted_on_stands_on_the_teaching_face() {
    let mut view = View { face: Face::Teaching, ..sample::normal() };
    assert!(pressing(view.clone(), None, None).query_by_label_contains("Pupil:").is_none());
    view.lesson.profiles.current = "divya".into();
    view.lesson.profiles.options = vec![(String::new(), "no pupil".into()), ("divya".into(), "Divya".into())];
    pressing(view, None, None).get_by_label("Pupil: Divya");
}

#[test]
fn what_was_changed_for_a_pupil_is_kept_by_one_press() {
    let mut view = sample::lesson();
    let name = "Keep what was changed for A pupil";
    assert!(pressing(view.clone(), Some(Sheet::Lesson), None).query_by_label(name).is_none());
    view.lesson.pupil_changed = true;
    let mut harness = pressing(view, Some(Sheet::Lesson), None);
    assert_eq!(click(&mut harness, name), [Action::SaveProfile("A pupil".into())]);
}

#[test]
fn the_share_that_was_judged_stands_beside_the_score_whatever_the_text_size() {
    let mut view = sample::normal();
    view.tonic = "C3 +18.1 c \u{b7} 1 kattai".into();
    view.scale.current = "15 Mayamalavagowla (Agni chakra)".into();
    for (size, text_scale) in
        [(SIZES[0], 1.0), (vec2(960.0, 600.0), 1.5), (vec2(960.0, 640.0), 2.0), (SIZES[2], 2.0), (SIZES[2], 1.0)]
    {
        view.look.text_scale = text_scale;
        let mut found = Vec::new();
        shapes(&mut Window::new(), &view, (size, 1.0)).iter().for_each(|s| texts(&s.shape, &mut found));
        let right = |name: &str| found.iter().find(|(text, _)| text == name).map(|(_, at)| at.right());
        let share = right("71 % judged").unwrap_or_else(|| panic!("{size:?} {text_scale}: {found:?}"));
        assert!(share <= size.x, "{size:?} {text_scale}: {share}");
        // Where there is room the kattai stands there too.
        let whole = right("Sa C3 +18.1 c \u{b7} 1 kattai").is_some();
        assert!(whole || text_scale > 1.0, "{size:?} {text_scale}");
        assert!(whole || right("Sa C3 +18.1 c").is_some(), "{size:?} {text_scale}");
    }
}

#[test]
fn under_what_else_a_note_was_sung_is_not_cut_where_the_list_has_room() {
    let mut view = View { face: Face::Checking, ..sample::normal() };
    for row in view.notes.iter_mut().take(6) {
        (row.page, row.pupil) = (Some(("other".into(), view.page.1.clone())), 7);
    }
    for (size, chosen) in [(vec2(960.0, 600.0), None), (SIZES[2], None), (SIZES[2], Some(0)), (SIZES[3], None)] {
        let mut window = oldest_first();
        window.memory.checking.chosen = chosen;
        let (mut whole, mut cut) = (0, 0);
        for clipped in shapes(&mut window, &view, (size, 1.0)) {
            if let Shape::Text(text) = &clipped.shape
                && text.galley.text().starts_with("other pupil")
            {
                let at = text.galley.rect.translate(text.pos.to_vec2());
                let fits = !text.galley.elided && at.right() <= clipped.clip_rect.right().min(size.x) + 1.5;
                (whole, cut) = (whole + i32::from(fits), cut + i32::from(!fits));
            }
        }
        assert!(whole >= 2 && cut == 0, "{size:?} {chosen:?}: {whole} whole, {cut} cut");
    }
}

#[test]
fn ones_own_voice_is_asked_for_beside_the_input_and_stands_as_it_is() {
    let name = "Send my voice to the loudspeakers";
    let mut view = sample::normal();
    assert!(pressing(view.clone(), Some(Sheet::Settings), None).query_by_label(name).is_none(), "a host does that");
    for sends_voice in [false, true] {
        view.device = Some(Device { sends_voice, ..Device::default() });
        let mut harness = pressing(view.clone(), Some(Sheet::Settings), None);
        // It may lie below what is seen: the keyboard comes to it.
        harness.get_by_label(name).focus();
        harness.run_steps(2);
        harness.key_press(Key::Enter);
        assert_eq!(asked(&mut harness), [Action::SendVoice(!sends_voice)]);
    }
}

#[test]
fn ear_first_asks_nothing_where_no_sound_comes() {
    let mut view = sample::ear_asked();
    view.trouble.host_silent = true;
    let mut found = Vec::new();
    shapes(&mut Window::new(), &view, (SIZES[2], 1.0)).iter().for_each(|s| texts(&s.shape, &mut found));
    assert!(found.iter().any(|(text, _)| text == "the host has stopped sending audio"), "{found:?}");
    assert!(!found.iter().any(|(text, _)| text.starts_with("Low, same")), "{found:?}");
}

#[test]
fn who_sings_what_the_scale_lacks_is_asked_about_the_raga() {
    let mut view = sample::normal();
    let told =
        |view: &View| super::super::troubles::troubles(view).iter().any(|(text, _)| text.contains("is the raga set?"));
    assert!(!told(&view));
    let last = view.notes.len() - 1;
    for i in [last - 4, last - 2, last] {
        assert!(!told(&view));
        view.notes[i].note.offset = crate::units::Cents(-317.0);
        view.notes[i].note.expected = false;
        view.now_s = view.notes[last].end_s + 1.0;
    }
    assert!(told(&view));
    // Neither a minute later nor in another raga, nor where nothing that tells the pitch may be seen.
    assert!(!told(&View { now_s: view.now_s + 60.0, ..view.clone() }));
    // Nor of what was measured from the one swara that an exercise asks for.
    let mut asked = view.clone();
    asked.notes[last].note.expected = true;
    assert!(!told(&asked));
    let mut other = view.clone();
    for row in &mut other.notes {
        row.page = Some(("other".into(), "other".into()));
    }
    assert!(!told(&other));
    view.lesson = sample::ear_asked().lesson;
    assert!(view.hides() && !told(&view));
}

#[test]
fn a_drone_that_waits_hides_no_fault_and_the_way_back_says_what_it_does() {
    let mut view = View { caution_read: true, ..sample::normal() };
    view.drone.silent_after_reopen = true;
    view.trouble.clipped = true;
    let told: Vec<String> = super::super::troubles::troubles(&view).into_iter().map(|(text, _)| text).collect();
    assert!(told[0].contains("clips") && told[1].contains("The drone waits"), "{told:?}");
    let mut view = View { caution_read: true, said: "Sa was taken.".into(), ..sample::normal() };
    view.sa_before = Some((view.sa, "C3".into()));
    let mut harness = pressing(view, None, None);
    harness.get_by_label("Back to C3").hover();
    harness.run_steps(40);
    harness.get_by_label("Sa is again what it was before");
}
