//! The window as a whole, headless: every face with nothing, an ordinary minute and everything at once; keys; sizes.

mod afar;
mod asked;
mod found;
mod hints;
mod keyboard;
mod large;
mod leading;
mod places;
mod reach;
mod still;
mod tried;

use super::action::{Chosen, Ear, Export, Field, Listen, Run};
use super::keys::Press;
use super::sheets::Sheet;
use super::view::{ExerciseView, Face, View};
use super::{Action, Window, picture, sample};
use egui::{Context, Event, Key, Modifiers, Pos2, RawInput, Rect, Shape, Vec2, epaint::ClippedShape, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;

const FACES: [Face; 3] = [Face::Singing, Face::Teaching, Face::Checking];
const TEXTS: [f32; 5] = [1.0, 1.25, 1.5, 1.75, 2.0];
const SIZES: [Vec2; 4] = [vec2(480.0, 320.0), vec2(800.0, 500.0), vec2(1280.0, 720.0), vec2(3840.0, 2160.0)];
/// Twice the smallest window: text of twice the size fits.
const TWICE: Vec2 = vec2(960.0, 640.0);

/// Pixels per point of the screens there are, as far as the largest of them goes.
fn scales(size: Vec2) -> impl Iterator<Item = f32> {
    [1.0, 1.5, 2.0, 3.0].into_iter().filter(move |scale| size.x * scale <= 3840.0)
}

/// Runs some frames; hands back the shapes of the last.
fn shapes(window: &mut Window, view: &View, (size, scale): (Vec2, f32)) -> Vec<ClippedShape> {
    let ctx = Context::default();
    let mut shapes = Vec::new();
    for frame in 0..4u32 {
        let mut input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, size)),
            time: Some(f64::from(frame) * 0.1),
            ..RawInput::default()
        };
        input.viewports.entry(input.viewport_id).or_default().native_pixels_per_point = Some(scale);
        let mut output = ctx.run_ui(input, |ui| window.ui(ui, view, &mut Vec::new()));
        output.textures_delta.clear();
        shapes = output.shapes;
    }
    shapes
}

/// Texts that end in an ellipsis, as what does not fit is cut by a control.
fn elided(shape: &Shape, out: &mut Vec<String>) {
    match shape {
        Shape::Vec(shapes) => shapes.iter().for_each(|s| elided(s, out)),
        Shape::Text(text) if text.galley.elided => out.push(format!("{:?} is elided", text.galley.text())),
        _ => {}
    }
}

fn texts(shape: &Shape, out: &mut Vec<(String, Rect)>) {
    match shape {
        Shape::Vec(shapes) => shapes.iter().for_each(|s| texts(s, out)),
        Shape::Text(text) if !text.galley.text().trim().is_empty() => {
            out.push((text.galley.text().to_owned(), text.galley.rect.translate(text.pos.to_vec2())));
        }
        _ => {}
    }
}

/// Words cut by the window's edge or by their panel; what merely scrolls may be cut above and below.
fn cut(shapes: &[ClippedShape], size: Vec2, scrolls: bool) -> Vec<String> {
    let screen = Rect::from_min_size(Pos2::ZERO, size);
    let mut out = Vec::new();
    for clipped in shapes {
        elided(&clipped.shape, &mut out);
        let mut found = Vec::new();
        texts(&clipped.shape, &mut found);
        for (text, rect) in found {
            let room = clipped.clip_rect.intersect(screen).expand(1.5);
            let wide = rect.left() >= room.left() && rect.right() <= room.right();
            let tall = scrolls || (rect.top() >= room.top() && rect.bottom() <= room.bottom());
            if !(wide && tall) {
                out.push(format!("{text:?} {rect:?} in {room:?}"));
            }
        }
    }
    out
}

#[test]
fn no_word_is_cut_at_any_size() {
    let sizes = SIZES.into_iter().chain([TWICE]);
    for (size, scale) in sizes.flat_map(|size| scales(size).map(move |scale| (size, scale))) {
        for face in FACES {
            for (name, mut view) in
                [("empty", sample::empty()), ("normal", sample::normal()), ("extreme", sample::extreme())]
            {
                for text_scale in [1.0, 2.0] {
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
    for size in SIZES.into_iter().chain([vec2(960.0, 600.0), TWICE]) {
        for (sheet, text_scale) in
            [Sheet::Settings, Sheet::Keys, Sheet::State, Sheet::Lesson, Sheet::Tonic, Sheet::More, Sheet::Marks]
                .into_iter()
                .flat_map(|sheet| TEXTS.map(|text_scale| (sheet, text_scale)))
        {
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
        super::words::text_size(text_scale, super::Look::new(view.look, size).room)
    };
    assert_eq!(told(SIZES[2], 1.5), "150 %");
    assert_eq!(told(SIZES[0], 1.5), "150 %; this window has room for 100 %");
    assert_eq!(told(vec2(960.0, 600.0), 2.0), "200 %; this window has room for 188 %");
    // Twice the smallest has room for twice the size, and that is what it then has.
    for size in [TWICE, SIZES[2], SIZES[3]] {
        assert_eq!(told(size, 2.0), "200 %");
        let at = |text_scale: f32| {
            super::Look::new(super::view::LookChoice { text_scale, ..Default::default() }, size).body().size
        };
        assert!((at(2.0) / at(1.0) - 2.0).abs() < 0.001, "{size:?}");
    }
}

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
fn two_pictures_say_which_is_which() {
    let mut view = View { face: Face::Teaching, ..sample::normal() };
    assert!(pressing(view.clone(), None, None).query_by_label_contains("now: ").is_none());
    view.replay = Some(super::view::Replay { time_s: 62.0, word: "here".into(), line: view.line.clone() });
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
    let alone = View { device: Some(super::view::Device::default()), ..view };
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
fn a_small_teaching_face_shows_the_swara_that_sounds() {
    let view = View { face: Face::Teaching, caution_read: true, ..sample::normal() };
    let swara = view.current.unwrap().named.swara;
    let mut harness = Harness::builder()
        .with_size(SIZES[0])
        .build_ui_state(move |ui, window: &mut Window| window.ui(ui, &view, &mut Vec::new()), Window::new());
    harness.run_steps(3);
    let name = format!("{} {}: ", swara.short(), swara.full_name());
    assert!(harness.get_by_label_contains(&name).rect().height() > 10.0);
}

fn harness(view: View) -> Harness<'static, Window> {
    Harness::builder()
        .with_size(vec2(1280.0, 720.0))
        .build_ui_state(move |ui, window: &mut Window| window.ui(ui, &view, &mut Vec::new()), Window::new())
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

/// The window as a user presses it: what was asked for, in order.
fn pressing(view: View, sheet: Option<Sheet>, chosen: Option<usize>) -> Harness<'static, (Window, Vec<Action>)> {
    let mut window = Window::new();
    window.memory.sheet = sheet;
    window.memory.checking.chosen = chosen;
    let mut harness = Harness::builder().with_size(vec2(1280.0, 900.0)).build_ui_state(
        move |ui, (window, actions): &mut (Window, Vec<Action>)| window.ui(ui, &view, actions),
        (window, Vec::new()),
    );
    harness.run_steps(3);
    harness
}

/// Presses the button of a name.
fn click(harness: &mut Harness<'static, (Window, Vec<Action>)>, name: &str) -> Vec<Action> {
    harness.state_mut().1.clear();
    harness.get_by_label(name).click();
    harness.run_steps(2);
    harness.state().1.clone()
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
fn sound_that_ended_has_its_way_out_beside_whatever_is_said() {
    let mut view = sample::normal();
    (view.trouble.host_silent, view.device) = (true, Some(super::view::Device::default()));
    view.said = "Sa cannot be changed while the sound system is stopped: start it again first.".into();
    assert_eq!(click(&mut pressing(view, None, None), "Start it again"), [Action::StartAnew]);
}

#[test]
fn an_exercise_is_begun_paused_skipped_and_ended() {
    let mut view = sample::lesson();
    view.lesson.exercise = None;
    let mut still = pressing(view, Some(Sheet::Lesson), None);
    assert_eq!(click(&mut still, "Start the exercise"), [Action::Exercise(Run::Start)]);
    let mut runs = pressing(sample::lesson(), None, None);
    runs.get_by_label("0:42 of 2:00");
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
            let hearing = super::view::FindingView { heard_s: Some(1.0), ..super::view::FindingView::default() };
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
    let hear = format!("Hear {}", super::again::named(&view.notes[1]));
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
    view.device = Some(super::view::Device::default());
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
        [(None, "The host has stopped"), (Some(super::view::Device::default()), "The sound system has stopped")]
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

/// What was asked for since the last look.
fn asked(harness: &mut Harness<'static, (Window, Vec<Action>)>) -> Vec<Action> {
    harness.run_steps(2);
    std::mem::take(&mut harness.state_mut().1)
}

/// Types as a keyboard does: each letter as a key and as text.
fn type_keys(harness: &mut Harness<'static, (Window, Vec<Action>)>, text: &str) {
    for letter in text.chars() {
        let key = Key::from_name(&letter.to_uppercase().to_string()).unwrap_or(Key::Space);
        harness.key_down(key);
        harness.event(Event::Text(letter.to_string()));
        harness.key_up(key);
        harness.run_steps(1);
    }
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
    view.device = Some(super::view::Device::default());
    let mut harness = pressing(view, None, None);
    harness.get_by_label_contains("too busy");
    assert_eq!(click(&mut harness, "Start it again"), [Action::StartAnew]);
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

/// Presses one key in a fresh window and hands back what was asked for, and the window.
fn press(key: Key, view: &View) -> (Vec<Action>, Window) {
    let (ctx, mut window, mut actions) = (Context::default(), Window::new(), Vec::new());
    for pressed in [false, true, false] {
        let mut input =
            RawInput { screen_rect: Some(Rect::from_min_size(Pos2::ZERO, vec2(1280.0, 720.0))), ..RawInput::default() };
        if pressed {
            let modifiers = Modifiers::NONE;
            input.events.push(Event::Key { key, physical_key: None, pressed, repeat: false, modifiers });
        }
        let mut output = ctx.run_ui(input, |ui| window.ui(ui, view, &mut actions));
        output.textures_delta.clear();
    }
    (actions, window)
}

#[test]
fn signs_and_capitals_that_come_only_as_text_are_keys_too() {
    for (text, press) in [("-", Press::Softer), ("?", Press::Keys), ("M", Press::Mark)] {
        let ctx = Context::default();
        let mut input = RawInput::default();
        input.events.push(Event::Text(text.to_owned()));
        let mut found = Vec::new();
        let mut output = ctx.run_ui(input, |ui| found.extend(super::keys::pressed(ui.ctx(), false)));
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

/// The letter's capital on the singing face, of the window's height.
fn cap_share(view: &View, marks: bool, size: Vec2) -> f32 {
    use super::{letters, singing};
    let (ctx, mut window) = (Context::default(), Window::new());
    for _ in 0..3 {
        if marks && window.memory.marking.is_none() {
            window.memory.marking = Some(super::Marking::begin(&ctx, 0.0, String::new()));
        }
        let input = RawInput { screen_rect: Some(Rect::from_min_size(Pos2::ZERO, size)), ..RawInput::default() };
        let mut output = ctx.run_ui(input, |ui| window.ui(ui, view, &mut Vec::new()));
        output.textures_delta.clear();
    }
    let look = super::Look::new(view.look, size);
    let area = singing::letter_area(singing::places(window.memory.face_area, &look).0);
    letters::cap_height(area, crate::swara::Swara::G3) / size.y
}

#[test]
fn the_letter_takes_a_fifth_of_the_window_whatever_stands_about_it() {
    let mut failed = Vec::new();
    for size in SIZES.into_iter().chain([TWICE]) {
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

/// All three faces at three sizes in both looks, into `target/pictures`.
#[test]
fn pictures_show_something() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("target/pictures");
    std::fs::create_dir_all(&folder).unwrap();
    let mut views = Vec::new();
    for (name, face) in [("singing", Face::Singing), ("teaching", Face::Teaching), ("checking", Face::Checking)] {
        views.push((name.to_owned(), View { face, ..sample::normal() }, None));
    }
    views.push(("frozen".into(), View { face: Face::Teaching, frozen: true, ..sample::normal() }, None));
    views.push(("empty".into(), sample::empty(), None));
    views.push(("sa".into(), sample::on_sa(), None));
    views.push(("waver".into(), sample::wavering(), None));
    views.push(("long".into(), sample::long_hold(), None));
    views.push(("line".into(), View { face: Face::Teaching, ..sample::bad_line() }, None));
    views.push(("shared".into(), sample::bad_line(), None));
    views.push(("unheard".into(), View { unheard_hz: Some(384_000.0), caution_read: true, ..sample::empty() }, None));
    views.push(("extreme".into(), sample::extreme(), None));
    views.push(("settings".into(), sample::normal(), Some(Sheet::Settings)));
    let device = sample::extreme().device;
    let mut larger = View { device, shift: Some(crate::units::Cents(38.0)), ..sample::on_sa() };
    larger.look.text_scale = 2.0;
    views.push(("larger".into(), larger, Some(Sheet::Settings)));
    views.push(("marks".into(), View { face: Face::Teaching, ..sample::extreme() }, Some(Sheet::Marks)));
    let mut reed =
        View { up_down: sample::extreme().up_down, reference: Some(crate::swara::Swara::P), ..sample::normal() };
    (reed.drone.kind.current, reed.drone.own_reeds) = ("reed".into(), true);
    views.push(("reed".into(), reed.clone(), Some(Sheet::Settings)));
    views.push(("ways".into(), View { face: Face::Teaching, ..reed.clone() }, None));
    views.push(("ways-frozen".into(), View { face: Face::Teaching, frozen: true, ..reed }, None));
    views.push(("words".into(), sample::normal(), Some(Sheet::State)));
    views.push(("keys".into(), sample::normal(), Some(Sheet::Keys)));
    views.push(("lesson".into(), sample::lesson(), Some(Sheet::Lesson)));
    views.push(("tonic".into(), sample::finding(), Some(Sheet::Tonic)));
    views.push(("ear".into(), sample::ear_asked(), None));
    let asks = View { lesson: sample::lesson().lesson, ..sample::empty() };
    views.push(("asks".into(), asks, None));
    views.push(("round".into(), sample::round_over(), None));
    views.push(("round-teaching".into(), View { face: Face::Teaching, ..sample::round_over() }, None));
    let line = sample::normal().line;
    let replay = Some(super::view::Replay { time_s: 62.0, word: "good Ga".into(), line });
    views.push(("beside".into(), View { face: Face::Teaching, replay, ..sample::normal() }, None));
    views.push(("stands".into(), View { frozen: true, ..sample::normal() }, None));
    let chosen = View { face: Face::Checking, ..sample::note_chosen() };
    views.push(("note".into(), chosen, None));
    for (name, mut view, sheet) in views {
        let sizes = [
            (vec2(480.0, 320.0), 1.0),
            (vec2(960.0, 600.0), 1.0),
            (vec2(1280.0, 720.0), 1.0),
            (vec2(1920.0, 1080.0), 2.0),
        ];
        for (size, scale) in sizes {
            for dark in [true, false] {
                view.look.dark = dark;
                let mut window = Window::new();
                window.memory.sheet = sheet;
                window.memory.checking.chosen = view.shown_note.as_ref().map(|n| n.index);
                let image = picture::render(size, scale, |ui| window.ui(ui, &view, &mut Vec::new()));
                let ground = image.at(1, image.height / 2);
                assert!(image.pixels.iter().filter(|p| **p != ground).count() > image.pixels.len() / 50, "{name}");
                let look = if dark { "dark" } else { "light" };
                image.save(&folder.join(format!("{name}-{}-{look}.png", image.width))).unwrap();
            }
        }
    }
}

/// The largest screen, every scale factor, and the smallest window with its text at 200 %, into `target/pictures`.
#[test]
fn pictures_at_every_scale_show_something() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("target/pictures");
    std::fs::create_dir_all(&folder).unwrap();
    let largest = [(SIZES[3], 1.0, 1.0)].into_iter();
    let scaled = scales(SIZES[2]).map(|scale| (SIZES[2], scale, 1.0));
    let smallest = scales(SIZES[0]).map(|scale| (SIZES[0], scale, 2.0));
    for (size, scale, text) in largest.chain(scaled).chain(smallest) {
        for face in FACES {
            let mut view = View { face, ..sample::normal() };
            view.look.text_scale = text;
            let image = picture::render(size, scale, |ui| Window::new().ui(ui, &view, &mut Vec::new()));
            let ground = image.at(1, image.height / 2);
            assert!(
                image.pixels.iter().filter(|p| **p != ground).count() > image.pixels.len() / 50,
                "{face:?} {size:?}"
            );
            let name = format!("{face:?}-{}x{}-at-{scale}-text-{text}.png", size.x, size.y).to_lowercase();
            image.save(&folder.join(name)).unwrap();
        }
    }
}

/// The faces with larger text, into `target/pictures`.
#[test]
fn pictures_with_larger_text_show_something() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("target/pictures");
    std::fs::create_dir_all(&folder).unwrap();
    for (size, text) in [vec2(960.0, 600.0), SIZES[2]].into_iter().flat_map(|s| [1.5, 1.75, 2.0].map(|t| (s, t))) {
        for face in FACES {
            let mut view = View { face, ..sample::normal() };
            view.look.text_scale = text;
            let image = picture::render(size, 1.0, |ui| Window::new().ui(ui, &view, &mut Vec::new()));
            let ground = image.at(1, image.height / 2);
            assert!(image.pixels.iter().filter(|p| **p != ground).count() > image.pixels.len() / 50, "{size:?}");
            image.save(&folder.join(format!("{face:?}-{}-text-{text}.png", size.x).to_lowercase())).unwrap();
        }
    }
}

/// A sheet beside each face at every text size, into `target/pictures`.
#[test]
fn pictures_with_a_sheet_show_something() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("target/pictures");
    std::fs::create_dir_all(&folder).unwrap();
    for (size, text) in [vec2(960.0, 600.0), SIZES[0]].into_iter().flat_map(|s| TEXTS.map(|text| (s, text))) {
        for (face, sheet) in [(Face::Checking, Sheet::Keys), (Face::Singing, Sheet::Settings)] {
            let mut view = View { face, ..sample::extreme() };
            view.look.text_scale = text;
            let mut window = Window::new();
            window.memory.sheet = Some(sheet);
            let image = picture::render(size, 1.0, |ui| window.ui(ui, &view, &mut Vec::new()));
            let ground = image.at(1, image.height / 2);
            assert!(image.pixels.iter().filter(|p| **p != ground).count() > image.pixels.len() / 50, "{size:?}");
            let name = format!("sheet-{sheet:?}-{}-text-{text}.png", size.x).to_lowercase();
            image.save(&folder.join(name)).unwrap();
        }
    }
}

/// Names of pupils in two scripts, as this machine draws them: with its fonts, or left out and said.
#[test]
fn a_pupils_name_is_drawn_or_left_out_and_said() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("target/pictures");
    std::fs::create_dir_all(&folder).unwrap();
    for (name, script) in [("மீனாட்சி", "Tamil"), ("मीनाक्षी", "Devanagari")] {
        let mut view = sample::lesson();
        view.lesson.profiles.current = "key".into();
        view.lesson.profiles.options = vec![("key".into(), name.into())];
        let (ctx, mut window) = (Context::default(), Window::new());
        window.memory.sheet = Some(Sheet::Lesson);
        window.opened(&ctx);
        let mut found = Vec::new();
        for _ in 0..3 {
            let input =
                RawInput { screen_rect: Some(Rect::from_min_size(Pos2::ZERO, SIZES[2])), ..RawInput::default() };
            let mut output = ctx.run_ui(input, |ui| window.ui(ui, &view, &mut Vec::new()));
            output.textures_delta.clear();
            found.clear();
            output.shapes.iter().for_each(|clipped| texts(&clipped.shape, &mut found));
        }
        let said = format!("({script}: no font here)");
        let shown: Vec<&String> = found.iter().map(|(text, _)| text).filter(|t| **t == name || **t == said).collect();
        assert_eq!(shown.len(), 1, "{script}: {found:?}");
        let mut opened = false;
        let image = picture::render(vec2(900.0, 700.0), 1.0, |ui| {
            if !std::mem::replace(&mut opened, true) {
                window.opened(ui.ctx());
            }
            window.ui(ui, &view, &mut Vec::new());
        });
        image.save(&folder.join(format!("name-{script}.png").to_lowercase())).unwrap();
    }
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
    for (name, _, _) in super::controls::DOORS {
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
    view.device = Some(super::view::Device::default());
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

/// Most of what a picture costs with software drawing goes with the triangles and the points that they cover: both stay bounded.
#[test]
fn every_corner_bears_the_ground() {
    for dark in [true, false] {
        let mut view = View { face: Face::Teaching, ..sample::normal() };
        view.look.dark = dark;
        view.trouble.gated = true;
        let image = picture::render(SIZES[0], 1.0, |ui| Window::new().ui(ui, &view, &mut Vec::new()));
        let ground = Window::ground(&view);
        for (x, y) in [(1, 1), (1, image.height - 2), (image.width - 2, image.height - 2), (1, image.height / 2)] {
            assert_eq!(image.at(x, y), ground, "{x} {y}");
        }
    }
}

#[test]
fn a_picture_is_made_of_few_triangles_and_covers_little() {
    for (face, most) in [(Face::Singing, (11_500, 200_000.0)), (Face::Teaching, (11_500, 140_000.0))] {
        let (view, ctx) = (View { face, ..sample::normal() }, Context::default());
        // As in its host, the ground is there already.
        let mut window = Window { on_ground: true, ..Window::new() };
        let (mut triangles, mut covered) = (0, 0.0f32);
        for frame in 0..4u32 {
            let screen_rect = Some(Rect::from_min_size(Pos2::ZERO, SIZES[2]));
            let input = RawInput { screen_rect, time: Some(f64::from(frame) * 0.1), ..RawInput::default() };
            let mut output = ctx.run_ui(input, |ui| window.ui(ui, &view, &mut Vec::new()));
            output.textures_delta.clear();
            (triangles, covered) = (0, 0.0);
            for primitive in ctx.tessellate(output.shapes, 1.0) {
                let egui::epaint::Primitive::Mesh(mesh) = &primitive.primitive else { continue };
                for corners in mesh.indices.as_chunks::<3>().0 {
                    let [a, b, c] = corners.map(|i| mesh.vertices[usize::try_from(i).unwrap()].pos);
                    triangles += 1;
                    covered += ((b - a).x * (c - a).y - (b - a).y * (c - a).x).abs() / 2.0;
                }
            }
        }
        println!("{face:?}: {triangles} triangles over {covered:.0} points");
        assert!(triangles <= most.0 && covered <= most.1, "{face:?}: {triangles} triangles, {covered} points");
    }
}
