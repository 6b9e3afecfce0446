//! Exercises: what they sound, listen to and count.

use super::*;

#[test]
fn a_round_sounds_its_tone_listens_and_marks_what_was_sung() {
    let mut instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    instance.sing(0.0, 0.5, |_| {});
    let place = lesson::place(&instance.links);
    let start = |h: &mut History| h.practice.start(find("fixed-round").unwrap(), &|_| None, (&place.0, place.1));
    instance.links.bridge.history(start);
    let mut look = |i: &Instance| filler.fill(&i.links, &mut session, (i.seconds(), false));
    instance.sing(0.0, 1.5, &mut look);
    assert!(instance.out() > 0.01, "the tone of Sa sounds first");
    instance.sing(0.0, 1.5, &mut look);
    assert!(instance.out() < 1e-4, "then it is the singer's turn");
    instance.sing(above(-35.0), 2.6, &mut look);
    instance.sing(0.0, 1.0, &mut look);
    assert!(instance.out() > 0.01, "the tone of Pa");
    let running = filler.view.lesson.exercise.as_ref().unwrap();
    let mark = running.steps[0].1.as_deref().unwrap();
    assert!(mark.ends_with("cents low"), "{mark}");
    assert!(running.now.contains("Listen: Pa"), "{}", running.now);
    // Another scale: the exercise begins anew and says so.
    instance.links.choices.change(|c| c.scale = "mela-15".into());
    filler.fill(&instance.links, &mut session, (instance.seconds(), false));
    assert!(filler.view.said.contains("begins anew"), "{}", filler.view.said);
    assert_eq!(filler.view.lesson.exercise.as_ref().unwrap().steps[0].1, None);
    instance.links.bridge.history(|h| h.practice.end());
    instance.sing(0.0, 0.5, |_| {});
    assert!(instance.out() < 1e-4, "with the exercise its tone ends");
}

#[test]
fn an_exercise_that_is_chosen_again_goes_on_where_it_was() {
    let instance = Instance::new();
    let (links, mut session) = (&instance.links, Session::default());
    let mut filler = Filler::new(links);
    let place = lesson::place(links);
    links.bridge.history(|h| {
        h.practice.start(find("long-tone").unwrap(), &|_| None, (&place.0, place.1));
        h.practice.pause(true);
    });
    for (key, chosen) in [("long-tone", "Long tone"), ("ear-first", "Ear first")] {
        lesson::select(links, key);
        filler.fill(links, &mut session, (1.0, false));
        let running = filler.view.lesson.exercise.as_ref().expect("it was not ended");
        assert!(running.paused && running.name == "Long tone");
        assert_eq!(filler.view.lesson.exercises.label(), chosen);
    }
}

#[test]
fn the_practice_on_sa_is_told_once_a_long_tone_was_begun() {
    let (instance, mut session) = (Instance::new(), Session::default());
    let links = &instance.links;
    let mut filler = Filler::new(links);
    let place = lesson::place(links);
    for (key, begun) in [("fixed-round", false), ("long-tone", true)] {
        links.bridge.history(|h| h.practice.start(find(key).unwrap(), &|_| None, (&place.0, place.1)));
        links.bridge.history(|h| h.practice.end());
        filler.fill(links, &mut session, (0.0, false));
        assert_eq!(filler.view.long_tone.begun, begun, "{key}");
    }
}

/// What a teacher sings is no tone of the pupil's, and no work of the pupil's voice.
#[test]
fn the_exercise_under_way_takes_nothing_that_is_sung_out_of_turn() {
    let mut instance = Instance::new();
    let links = instance.links.clone();
    let exercise = find("long-tone").unwrap();
    let place = links.choices.look(|c| Place {
        targets: c.setup.targets,
        positions: c.setup.positions,
        band: instance.knobs.band,
    });
    links.bridge.history(|history| history.practice.start(exercise, &|_| None, (&place, 0)));
    let stood = |links: &Links| links.bridge.history(|history| history.practice.progress());
    instance.knobs.listening = false;
    let before = stood(&links);
    instance.sing(sa().0, 6.0, |_| {});
    assert_eq!(stood(&links), before, "the teacher's turn");
    instance.sing(0.0, 1.0, |_| {});
    instance.knobs.listening = true;
    instance.sing(sa().0, 6.0, |_| {});
    assert_ne!(stood(&links), before, "the pupil's turn");
}
