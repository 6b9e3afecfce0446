//! What a new user tried: Sa taken from a voice that sings, a sound that ends while something else is said, a size of text.

use super::super::act::text_size_again;
use super::*;

#[test]
fn what_is_sung_to_say_what_sa_is_counts_nowhere() {
    let mut instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    // The note sounds already when the button is pressed, and goes on when Sa is found.
    instance.sing(above(130.0), 0.8, |_| {});
    let capture = Capture::start(&instance.links.bridge, false).unwrap();
    session.finding = Some(Finding::new(capture, false));
    instance.sing(above(130.0), 4.0, |i| filler.fill(&i.links, &mut session, (i.seconds(), false)));
    assert!(session.adopt.is_some());
    instance.sing(above(130.0), 1.0, |_| {});
    instance.sing(0.0, 0.7, |_| {});
    filler.fill(&instance.links, &mut session, (instance.seconds(), false));
    let counted: u32 = (0..12).map(|position| instance.engine.meter().row(position).notes).sum();
    assert_eq!((counted, filler.view.notes.len()), (0, 0), "{:?}", filler.view.notes);
    // After a pause it is a note again.
    instance.sing(above(0.0), 1.5, |_| {});
    instance.sing(0.0, 0.7, |_| {});
    filler.fill(&instance.links, &mut session, (instance.seconds(), false));
    assert_eq!(filler.view.notes.len(), 1);
}

#[test]
fn a_sound_that_ends_puts_away_what_was_said_before() {
    let mut instance = Instance::started(true);
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    instance.block(0.0);
    filler.fill(&instance.links, &mut session, (1.0, true));
    session.say("Saved lesson-1.html");
    filler.fill(&instance.links, &mut session, (1.1, true));
    assert_eq!(filler.view.said, "Saved lesson-1.html");
    filler.fill(&instance.links, &mut session, (2.5, true));
    assert!(filler.view.trouble.host_silent && filler.view.said.is_empty(), "{}", filler.view.said);
    // What is said of it afterwards is about it.
    session.say("Sa cannot be changed");
    filler.fill(&instance.links, &mut session, (2.6, true));
    assert_eq!(filler.view.said, "Sa cannot be changed");
}

#[test]
fn what_was_said_of_the_text_size_follows_the_window() {
    let mut filler = Filler::new(&Instance::new().links);
    let view = &mut filler.view;
    view.look.text_scale = 2.0;
    let mut session = Session { said: "Text size 200 %.".into(), ..Session::default() };
    session.text_size = Some(session.said.clone());
    for (face, size, told) in [
        (Face::Teaching, (480.0, 320.0), "Text size 200 %; this window has room for 100 %."),
        (Face::Singing, (480.0, 320.0), "Text size 200 %; this window has room for 150 %."),
        (Face::Teaching, (720.0, 480.0), "Text size 200 %; this window has room for 150 %."),
        (Face::Teaching, (1280.0, 720.0), "Text size 200 %."),
    ] {
        view.face = face;
        text_size_again(&mut session, view, size.into());
        assert_eq!(session.said, told);
    }
    // Something else that is said since stays.
    session.say("Marked.");
    text_size_again(&mut session, view, egui::vec2(480.0, 320.0));
    assert_eq!(session.said, "Marked.");
}

/// A reed on Pa and Sa, 23 cents above the Sa that is set: said when a second list of its tones agrees with the first, held while
/// none tells it, and "take its Sa" measures it anew from there.
#[test]
fn the_drone_there_is_measured_from_the_sa_in_force_and_does_not_flicker() {
    let mut instance = Instance::new();
    instance.sing(0.0, 0.2, |_| {});
    let mut live = instance.links.bridge.live();
    let there = super::sa().up(Cents(23.0));
    let tones = [0.0, 702.0].map(|cents| there.up(Cents(cents)).0);
    let tones = tones.into_iter().flat_map(|hz| (1..=6).map(move |k| (hz * f64::from(k), -2.0 * f64::from(k))));
    let tones = tones.collect::<Vec<_>>();
    let (mut session, mut filler) = (Session::default(), Filler::new(&instance.links));
    // Lists of so many tones, a second apart, none of them quite as loud as the one before.
    let mut apart = |links: &Links, heard: usize, time_s: f64| {
        let snapshot = live.snapshot.as_mut().unwrap();
        snapshot.drone = [None; 16];
        for (slot, (hz, db)) in snapshot.drone.iter_mut().zip(tones.iter().take(heard)) {
            *slot = Some(crate::listener::Tone { hz: *hz, db: db - 0.01 * time_s });
        }
        instance.end.publish(live);
        filler.fill(links, &mut session, (time_s, false));
        filler.view.lesson.pupil_drone.map(|cents| cents.0)
    };
    assert_eq!(apart(&instance.links, 12, 1.0), None);
    for (heard, time_s) in [(12, 2.0), (2, 3.0), (2, 9.0), (0, 11.0)] {
        let said = apart(&instance.links, heard, time_s);
        assert!(said.is_some_and(|cents| (cents - 23.0).abs() < 1.0), "{time_s} s: {said:?}");
    }
    let taken = turned(&instance.links, |knobs| knobs.satrim = 23.0);
    assert_eq!(apart(&taken, 12, 12.0), None);
    assert!(apart(&taken, 12, 13.0).is_some_and(|cents| cents.abs() < 1.0), "from another Sa");
    assert_eq!(apart(&taken, 0, 30.0), None);
}

#[test]
fn another_band_judges_the_list_anew_at_once() {
    let mut instance = Instance::new();
    for cents in [12.0, 22.0, 40.0] {
        instance.sing(above(cents), 1.2, |_| {});
        instance.sing(0.0, 0.8, |_| {});
    }
    let listed = |filler: &mut Filler, links: &Links| {
        filler.fill(links, &mut Session::default(), (1.0, false));
        let outside = filler.view.notes.iter().map(|row| row.outside).collect::<Vec<_>>();
        let again = filler.view.again.iter().copied().collect::<std::collections::BTreeSet<_>>();
        (outside, again.into_iter().collect::<Vec<_>>())
    };
    let mut filler = Filler::new(&instance.links);
    for (band, outside, again) in [
        (20.0, vec![false, true, true], vec![1, 2]),
        (30.0, vec![false, false, true], vec![2]),
        (10.0, vec![true, true, true], vec![0, 1, 2]),
    ] {
        let links = turned(&instance.links, |knobs| knobs.bandsp = band);
        assert_eq!(listed(&mut filler, &links), (outside, again), "{band}");
        // A window that is opened with that band shows the same.
        assert_eq!(listed(&mut Filler::new(&links), &links), listed(&mut filler, &links), "{band}");
    }
}
