//! The keys of an exercise, each by what it does to the answers that the project counts.

use super::{ESCAPE, Stage, differ, edge, figure, letter};
use crate::{change, plugin};
use achala::editor::Window;
use achala::editor::view::{Choice, ExerciseOption, View};
use achala::exercise::catalogue::{EXERCISES, find};
use achala::swara::{Nudges, Scale, Tuning};
use achala::units::Hertz;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use inproc_host::Host;

/// X11 keysyms.
const UP: u32 = 0xff52;
const DOWN: u32 = 0xff54;

/// Where the button that begins the exercise stands: the same sheet, laid out without a screen.
fn start_button((width, height): (u16, u16)) -> (i16, i16) {
    let targets = Scale::default().targets(&Tuning::default(), &Nudges::default());
    let mut view = View::empty(Hertz(146.832), targets);
    let exercise = find("ear-first").unwrap();
    view.lesson.exercises = Choice {
        current: exercise.key.to_owned(),
        options: EXERCISES.iter().map(|e| (e.key.to_owned(), e.name.to_owned())).collect(),
    };
    exercise.about.clone_into(&mut view.lesson.about);
    let options = exercise.settings.iter().map(|setting| ExerciseOption {
        key: setting.key.to_owned(),
        name: setting.name.to_owned(),
        choice: Choice { current: setting.value(None, &targets), options: setting.options(&targets) },
        typed_like: String::new(),
    });
    view.lesson.options = options.collect();
    let mut window = Window::new();
    let mut dressed = false;
    let size = egui::vec2(f32::from(width), f32::from(height));
    let mut harness = Harness::builder().with_size(size).build_ui(|ui| {
        if !std::mem::replace(&mut dressed, true) {
            window.opened(ui.ctx());
        }
        window.ui(ui, &view, &mut Vec::new());
    });
    harness.key_press(egui::Key::E);
    harness.run_steps(4);
    let at = harness.get_by_label("Start the exercise").rect().center();
    (at.x as i16, at.y as i16)
}

/// Answers given and right ones, as the project has them.
fn answers(host: &mut Host) -> (u64, u64) {
    let state: serde_json::Value = serde_json::from_str(&host.save_text().unwrap()).unwrap();
    let ear: serde_json::Value = serde_json::from_str(state["fields"]["ear"].as_str().unwrap()).unwrap();
    (ear["answers"].as_u64().unwrap(), ear["right"].as_u64().unwrap())
}

impl Stage {
    /// A note so far off Sa, until it is final.
    fn sing_off(&mut self, cents: f64) {
        self.singer.cents = cents;
        self.sing();
    }

    /// Presses a key that is to answer rightly, as the `count`th answer.
    fn answers(&mut self, name: &str, symbol: u32, count: u64) {
        self.press(name, symbol, |host, _| answers(host) == (count, count));
    }

    /// Presses a key that is to count for nothing now.
    fn counts_nothing(&mut self, name: &str, symbol: u32) {
        let before = answers(&mut self.host);
        self.display.press(symbol).unwrap();
        self.singer.play(&mut self.host, 0.6);
        assert_eq!(answers(&mut self.host), before, "{name}");
    }
}

/// Begins the exercise that is chosen, and leaves no sheet open.
pub(super) fn begin(stage: &mut Stage) {
    let size = stage.display.child_size().unwrap();
    let without = edge(&stage.display);
    stage.turns_sheet("e", letter('e'));
    stage.display.click(start_button(size)).unwrap();
    stage.singer.play(&mut stage.host, 0.5);
    // The sheet may have gone by itself when the exercise began.
    stage.display.press(ESCAPE).unwrap();
    stage.singer.play(&mut stage.host, 0.6);
    assert!(edge(&stage.display) == without, "no sheet lies open any more");
}

#[test]
#[ignore = "runs inside a display: see the_keys_of_an_exercise_do_what_the_list_says"]
fn keys() {
    let mut host = plugin();
    change(&mut host, "chosen", |c| c["exercises"] = serde_json::json!({ "selected": "ear-first" }));
    let mut stage = Stage::of(host);
    stage.counts_nothing("Up before anything was begun", UP);
    begin(&mut stage);
    stage.sing_off(45.0);
    stage.answers("Up", UP, 1);
    // One note has one answer; the next is asked about, after N or without it.
    stage.counts_nothing("Down while the answer stands", DOWN);
    // With the answer stands the line of the note; N puts both away while nobody sings.
    let stood = figure(&stage.display);
    stage.press("N", letter('n'), |_, display| differ(&figure(display), &stood) > 4_000);
    stage.counts_nothing("Down once the answer is away", DOWN);
    stage.sing_off(-45.0);
    stage.answers("Down", DOWN, 2);
    stage.sing_off(45.0);
    stage.answers("Up again", UP, 3);
    stage.counts_nothing("N", letter('n'));
    // While it pauses, nothing is asked about.
    stage.counts_nothing("P", letter('p'));
    stage.sing_off(0.0);
    stage.counts_nothing("0 in the pause", letter('0'));
    stage.counts_nothing("P again", letter('p'));
    stage.sing_off(0.0);
    stage.answers("0", letter('0'), 4);
    stage.host.close();
    stage.singer.play(&mut stage.host, 0.5);
    assert!(stage.idle.is_empty(), "keys without effect: {:?}", stage.idle);
}
