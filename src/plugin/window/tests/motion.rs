//! Less motion: what the system wishes, what was chosen above it, and what old projects chose.

use super::super::fill::Filler;
use super::super::wish::Wish;
use super::super::{Links, Session, act};
use super::{AtomicF32, Instance};
use crate::editor::action::Action;
use crate::editor::motion::Motion;
use crate::editor::view::{LookChoice, View};
use crate::shell::state::WindowMemory;

/// What a window shows that is opened where the system wishes so and the project remembers that.
fn opened(wish: Wish, memory: &str) -> (Links, View) {
    let instance = Instance::new();
    let of = &instance.links;
    let links = Links {
        params: of.params.clone(),
        choices: of.choices.clone(),
        bridge: of.bridge.clone(),
        pupil: String::new().into(),
        repaint: of.repaint.clone(),
        keeper: None,
        scale: AtomicF32::new(1.0),
        wish,
    };
    *links.params.saved.window.write().unwrap() = serde_json::from_str::<WindowMemory>(memory).unwrap();
    links.wish.ask();
    links.wish.wait();
    let mut filler = Filler::new(&links);
    filler.fill(&links, &mut Session::default(), (0.0, false));
    (links, filler.view)
}

#[test]
fn the_systems_wish_is_followed_where_nothing_was_chosen() {
    let less = |source: fn() -> Option<bool>, memory: &str| opened(Wish::of(source), memory).1.less_motion();
    assert!(less(|| Some(true), "{}"), "it asks for less");
    assert!(!less(|| Some(false), "{}"), "it asks for nothing");
    assert!(!less(|| None, "{}"), "it does not say");
    assert!(!less(|| panic!("a broken connection"), "{}"));
    // A project from before this was asked: what was chosen holds, what was not is the system's.
    assert!(less(|| Some(false), r#"{"less-motion":true}"#));
    assert!(less(|| Some(true), r#"{"less-motion":false}"#));
    assert!(!less(|| Some(true), r#"{"less-motion":false,"all-motion":true}"#));
}

#[test]
fn what_is_chosen_is_remembered_above_the_wish() {
    for (choice, less) in [(Motion::All, false), (Motion::Less, true), (Motion::AsSystem, true)] {
        let (links, view) = opened(Wish::of(|| Some(true)), "{}");
        let (gui, ctx, mut session) = (inproc_host::context::willing(), egui::Context::default(), Session::default());
        act::Doer { links: &links, session: &mut session, gui: &gui, view: &view, ctx, time_s: 0.0 }
            .act(Action::Look(LookChoice { motion: choice, ..view.look }));
        assert_eq!(session.said.contains("Motion is"), choice != Motion::AsSystem, "{}", session.said);
        let kept = serde_json::to_string(&*links.params.saved.window.read().unwrap()).unwrap();
        let again = opened(Wish::of(|| Some(true)), &kept).1;
        assert_eq!((again.look.motion, again.less_motion()), (choice, less));
    }
}
