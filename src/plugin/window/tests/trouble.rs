//! What may be wrong with the sound: that it is said, and that the words go with it.

use super::*;

#[test]
fn a_sa_that_is_set_wrong_is_told_once_and_no_more_when_it_is_moved() {
    let mut instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    for _ in 0..7 {
        instance.sing(above(38.0), 1.2, |_| {});
        instance.sing(0.0, 0.7, |_| {});
    }
    filler.fill(&instance.links, &mut session, (1.0, false));
    let shift = filler.view.shift.expect("seven notes share a shift");
    assert!((shift.0 - 38.0).abs() < 5.0, "{shift:?}");
    filler.fill(&instance.links, &mut session, (62.0, false));
    assert_eq!(filler.view.shift, None, "said for a minute, once");
    instance.knobs.sa = sa().up(shift);
    instance.sing(above(38.0), 1.2, |_| {});
    instance.sing(0.0, 0.7, |_| {});
    let live = instance.links.bridge.live();
    assert_eq!(live.snapshot.and_then(|s| s.shift), None);
}

/// Its sound driver counts whole periods while it hands over shorter blocks: to a host's timeline each would be a jump.
#[test]
fn the_stand_alone_app_judges_whatever_its_driver_counts() {
    let mut instance = Instance::started(true);
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    let until = 4.0;
    while instance.seconds() < until {
        let counted = num::time(2 * instance.at);
        instance.transport = Transport { playing: true, position: Some(counted), bars: None };
        let sings = (0.5..3.0).contains(&instance.seconds());
        instance.block(if sings { above(0.0) } else { 0.0 });
    }
    filler.fill(&instance.links, &mut session, (until, true));
    assert_eq!(filler.view.notes.len(), 1, "one held note");
    let row = filler.view.notes.first().unwrap();
    assert!(row.end_s - row.start_s > 2.0, "{} to {}", row.start_s, row.end_s);
}

#[test]
fn a_gate_in_the_line_is_said_and_goes_from_the_words_again() {
    let mut instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    let mut look = |i: &Instance, time_s: f64| {
        filler.fill(&i.links, &mut session, (time_s, false));
        (filler.view.trouble, filler.view.faults)
    };
    for _ in 0..2 {
        instance.sing(above(0.0), 1.2, |_| {});
        instance.sing(0.0, 0.5, |_| {});
    }
    let (trouble, faults) = look(&instance, 1.0);
    assert!(!trouble.gated && faults.cut_notes == 0, "one entry may be the singer's");
    instance.sing(above(0.0), 1.2, |_| {});
    let (trouble, faults) = look(&instance, 2.0);
    assert!(trouble.gated && faults.cut_notes == 2, "{faults:?}");
    let (trouble, faults) = look(&instance, 60.0);
    assert!(!trouble.gated && faults.cut_notes == 2, "what was is still counted");
}

/// All words that are drawn.
fn words(shape: &egui::Shape, found: &mut String) {
    match shape {
        egui::Shape::Vec(shapes) => shapes.iter().for_each(|shape| words(shape, found)),
        egui::Shape::Text(text) => {
            found.push_str(text.galley.text());
            found.push('\n');
        }
        _ => {}
    }
}

#[test]
fn an_input_that_clips_is_said_on_every_face_and_goes_from_the_words_again() {
    const TOO_LOUD: &str = "too loud and clips";
    let mut instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    let mut said = |i: &Instance, time_s: f64| {
        filler.fill(&i.links, &mut session, (time_s, false));
        let shows = |face| {
            let view = View { face, caution_read: true, ..filler.view.clone() };
            let screen_rect = Some(egui::Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(1280.0, 720.0)));
            let input = egui::RawInput { screen_rect, ..egui::RawInput::default() };
            let mut window = Window::new();
            let ctx = egui::Context::default();
            let mut found = String::new();
            // The second frame knows the sizes of all.
            for _ in 0..2 {
                let mut output = ctx.run_ui(input.clone(), |ui| window.ui(ui, &view, &mut Vec::new()));
                output.textures_delta.clear();
                found.clear();
                output.shapes.iter().for_each(|shape| words(&shape.shape, &mut found));
            }
            found.contains(TOO_LOUD)
        };
        (filler.view.trouble.clipped, [Face::Singing, Face::Teaching, Face::Checking].map(shows))
    };
    instance.sing(above(0.0), 1.0, |_| {});
    assert_eq!(said(&instance, 1.0), (false, [false; 3]), "a good level");
    instance.loud = 2.0;
    instance.sing(above(0.0), 0.5, |_| {});
    instance.loud = 0.12;
    instance.sing(above(0.0), 0.5, |_| {});
    assert_eq!(said(&instance, 2.0), (true, [true; 3]), "it stands for a while after the moment");
    assert_eq!(said(&instance, 6.0), (false, [false; 3]));
}

#[test]
fn a_rate_that_cannot_be_listened_to_is_told() {
    let instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    instance.links.bridge.shared.rate_hz.store(384_000.0, Ordering::Relaxed);
    filler.fill(&instance.links, &mut session, (5.0, false));
    assert_eq!(filler.view.unheard_hz, Some(384_000.0));
    assert!(!filler.view.trouble.host_silent, "it is not silent, it is unheard");
    instance.links.bridge.shared.rate_hz.store(48_000.0, Ordering::Relaxed);
    filler.fill(&instance.links, &mut session, (5.1, false));
    assert_eq!(filler.view.unheard_hz, None);
    assert!(filler.view.trouble.host_silent);
}

#[test]
fn a_pupil_who_rests_is_no_fault_of_the_input() {
    let mut instance = Instance::started(true);
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    let mut nothing = |instance: &Instance, time_s: f64| {
        filler.fill(&instance.links, &mut session, (time_s, true));
        filler.view.device.as_ref().unwrap().nothing
    };
    assert_eq!([4.0, 6.0].map(|t| nothing(&instance, t)), [false, true], "nothing since the start");
    instance.sing(above(0.0), 0.5, |_| {});
    assert!(!nothing(&instance, 7.0));
    assert_eq!([60.0, 70.0].map(|t| nothing(&instance, t)), [false, true]);
}

#[test]
fn without_sound_another_face_and_the_freeze_still_work_and_nothing_else_moves() {
    use super::super::Own;
    use super::super::knobs::Move;
    use crate::editor::action::Field;
    let instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    assert!(!session.own.takes(Field::Face, Move::Whole(1.0), false), "with sound the parameter moves");
    assert!(session.own.takes(Field::Face, Move::Whole(0.5), true));
    assert!(session.own.takes(Field::Freeze, Move::Whole(1.0), true));
    assert!(!session.own.takes(Field::DroneOn, Move::Whole(1.0), true));
    filler.fill(&instance.links, &mut session, (1.0, true));
    assert_eq!((filler.view.face, filler.view.frozen), (Face::Teaching, true));
    // With sound the parameter counts again.
    assert!(!session.own.takes(Field::Face, Move::Whole(0.0), false));
    let Own { face, frozen } = session.own;
    assert_eq!((face, frozen), (None, Some(true)));
}
