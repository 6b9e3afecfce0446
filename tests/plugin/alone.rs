//! The stand-alone app as a user starts it, without a sound device: what it keeps between starts, and its list of inputs.

use super::window::{TURN, display};
use achala::meter::Meter;
use achala::shell::state::{Page, PageKey};
use achala::units::Hertz;
use serde_json::{Value, json};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// How long a start may take until what is kept is written.
const STARTED: Duration = Duration::from_secs(30);

/// The app, ended with this.
struct App(Child);

impl Drop for App {
    fn drop(&mut self) {
        // It may have ended by itself.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn app(home: &Path) -> Command {
    let mut app = Command::new(env!("CARGO_BIN_EXE_achala"));
    app.env("HOME", home).env("XDG_DATA_HOME", home.join("data")).env_remove("WAYLAND_DISPLAY");
    app
}

/// Starts the app, waits until what it keeps is `done`, and ends it as a switched-off machine would.
fn start(home: &Path, display: &str, done: impl Fn(&Value) -> bool) -> Value {
    let mut command = app(home);
    command.args(["--backend", "dummy"]).env("DISPLAY", display).stdout(Stdio::null()).stderr(Stdio::null());
    let _app = App(command.spawn().unwrap());
    let began = Instant::now();
    loop {
        let text = std::fs::read_to_string(home.join("data/Achala/settings.json")).unwrap_or_default();
        match serde_json::from_str(&text) {
            Ok(kept) if done(&kept) => return kept,
            _ => assert!(began.elapsed() < STARTED, "not written: {text}"),
        }
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn what_was_set_is_there_at_the_next_start() {
    let _turn = TURN.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let Some(display) = display() else {
        println!("skipped: there is no Xvfb on this machine");
        return;
    };
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("data/Achala");
    let mut kept = start(home.path(), &display.1, Value::is_object);
    assert_eq!(kept["knobs"]["sa"], "d");
    kept["knobs"]["sa"] = json!("gs");
    kept["saved"]["chosen"]["scale"] = json!("mela-15");
    kept["saved"]["window"]["caution-read"] = json!(true);
    // A minute was sung against that Sa and scale.
    let mut meter = Meter::new();
    meter.add_sung(12_000);
    let sa = Hertz::of_midi_key(56.0, Hertz(440.0));
    let page = Page {
        key: PageKey { sa, tuning: "just".into(), scale: "mela-15".into(), nudges: [0.0; 12], pupil: 0 },
        meter,
    };
    kept["saved"]["pages"]["open"] = serde_json::to_value(&page).unwrap();
    // What this build does not know is gone once it has written: then it has read the rest.
    kept["knobs"]["of-another-build"] = json!(1);
    std::fs::write(folder.join("settings.json"), kept.to_string()).unwrap();
    // What a restart would have left is taken away by the start.
    let lesson = folder.join("lesson.json");
    std::fs::write(&lesson, "{}").unwrap();
    let again = start(home.path(), &display.1, |kept| kept["knobs"]["of-another-build"].is_null());
    assert_eq!(again["knobs"]["sa"], "gs");
    assert!(!lesson.exists());
    assert_eq!(again["saved"]["chosen"]["scale"], "mela-15");
    assert_eq!(again["saved"]["pages"], kept["saved"]["pages"], "the statistics go on");
    assert_eq!(again["saved"]["window"]["caution-read"], true);
    std::fs::write(folder.join("settings.json"), "{ not ours").unwrap();
    let fresh = start(home.path(), &display.1, Value::is_object);
    assert_eq!(fresh["knobs"]["sa"], "d");
    assert_eq!(std::fs::read_to_string(folder.join("settings-unreadable-1.json")).unwrap(), "{ not ours");
}

#[test]
fn an_empty_name_lists_the_inputs_and_is_no_error() {
    let home = tempfile::tempdir().unwrap();
    for arguments in [&["--input-device", ""][..], &["--input-device="]] {
        let out = app(home.path()).args(arguments).env_remove("DISPLAY").output().unwrap();
        let said = String::from_utf8_lossy(&out.stdout);
        assert!(out.status.success(), "{said}");
        assert!(said.starts_with("Inputs, to be chosen") || said.contains("no input"), "{said}");
    }
}
