//! What a new user tried: Sa taken from a voice that sings, a sound that ends while something else is said, a size of text.

use super::super::act::text_size_again;
use super::*;
use crate::editor::view::LookChoice;

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
    let look = LookChoice { text_scale: 2.0, ..LookChoice::default() };
    let mut session = Session { said: "Text size 200 %.".into(), ..Session::default() };
    session.text_size = Some(session.said.clone());
    for (size, told) in [
        ((480.0, 320.0), "Text size 200 %; this window has room for 100 %."),
        ((720.0, 480.0), "Text size 200 %; this window has room for 150 %."),
        ((1280.0, 720.0), "Text size 200 %."),
    ] {
        text_size_again(&mut session, look, size.into());
        assert_eq!(session.said, told);
    }
    // Something else that is said since stays.
    session.say("Marked.");
    text_size_again(&mut session, look, egui::vec2(480.0, 320.0));
    assert_eq!(session.said, "Marked.");
}
