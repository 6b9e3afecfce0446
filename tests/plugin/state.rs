//! What a project remembers.

use super::{id, plugin, run};
use inproc_host::Happening;
use std::f64::consts::{LN_2, TAU};

#[test]
fn saved_loaded_and_saved_again_is_the_same_to_the_byte() {
    let mut first = plugin();
    first.activate(44_100.0, 512).unwrap();
    let (sa, trim) = (id(&mut first, "Sa"), id(&mut first, "Sa trim"));
    let trimmed = first.read(trim, "-13.5 cents").unwrap();
    run(&mut first, 0.1, &[Happening::Set(sa, 7.0), Happening::Set(trim, trimmed)], false);
    sing(&mut first, 3.0);
    let text = first.save_text().unwrap();
    let mut second = plugin();
    second.restore_text(&text).unwrap();
    assert_eq!(second.save_text().unwrap(), text);
    second.activate(44_100.0, 512).unwrap();
    run(&mut second, 0.1, &[], false);
    assert_eq!(second.save_text().unwrap(), text, "after activation");
}

#[test]
fn the_version_is_in_the_state_from_the_first_day() {
    let text = plugin().save_text().unwrap();
    let state: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(state["fields"]["state-version"], "1");
    let chosen: serde_json::Value = serde_json::from_str(state["fields"]["chosen"].as_str().unwrap()).unwrap();
    assert_eq!(chosen["tuning"]["name"], "just");
    assert_eq!(chosen["scale"], "sa-pa-sa");
}

#[test]
fn a_reopened_project_shows_its_statistics() {
    let mut first = plugin();
    first.activate(48_000.0, 512).unwrap();
    sing(&mut first, 3.0);
    assert!(sung_of(&mut first).contains(r#""open":{"#), "something was sung: {}", sung_of(&mut first));
    let text = first.save_text().unwrap();
    let mut second = plugin();
    second.restore_text(&text).unwrap();
    second.activate(48_000.0, 512).unwrap();
    assert_eq!(sung_of(&mut first), sung_of(&mut second));
}

#[test]
fn a_preset_brings_no_statistics_to_who_has_sung() {
    let mut first = plugin();
    first.activate(48_000.0, 512).unwrap();
    sing(&mut first, 3.0);
    let own = sung_of(&mut first);
    let mut second = plugin();
    second.activate(48_000.0, 512).unwrap();
    sing(&mut second, 6.0);
    let preset = second.save_text().unwrap();
    assert_ne!(sung_of(&mut second), own);
    first.restore_text(&preset).unwrap();
    run(&mut first, 0.1, &[], false);
    assert_eq!(sung_of(&mut first), own);
    // The rest of the preset is taken, and a preset for another Sa lays the page aside.
    let sa = id(&mut second, "Sa");
    run(&mut second, 0.1, &[Happening::Set(sa, 4.0)], false);
    first.restore_text(&second.save_text().unwrap()).unwrap();
    run(&mut first, 0.1, &[], false);
    let after = pages(&mut first);
    assert!(after["open"].is_null(), "nothing was sung on the new page");
    assert_eq!(after["kept"].as_array().unwrap().len(), 1, "the old page is kept, the preset's is not there");
}

#[test]
fn another_tonic_opens_a_fresh_page_and_keeps_the_old_one() {
    let mut host = plugin();
    host.activate(48_000.0, 512).unwrap();
    sing(&mut host, 3.0);
    let before = pages(&mut host);
    let sa = id(&mut host, "Sa");
    run(&mut host, 0.1, &[Happening::Set(sa, 4.0)], false);
    let after = pages(&mut host);
    assert!(after["open"].is_null(), "nothing was sung on the new page");
    assert_eq!(after["kept"].as_array().unwrap().len(), 1);
    assert_eq!(after["kept"][0], before["open"], "the old page is whole");
}

#[test]
fn the_page_of_a_tonic_comes_back_with_it() {
    let mut host = plugin();
    host.activate(48_000.0, 512).unwrap();
    sing(&mut host, 3.0);
    let first = pages(&mut host)["open"].clone();
    let sa = id(&mut host, "Sa");
    let turn = |host: &mut inproc_host::Host, note: f64| {
        run(host, 0.1, &[Happening::Set(sa, note)], false);
        // The worker looks each 20 ms.
        std::thread::sleep(std::time::Duration::from_millis(200));
        run(host, 0.1, &[], false);
    };
    turn(&mut host, 4.0);
    sing(&mut host, 2.0);
    let second = pages(&mut host)["open"].clone();
    assert_ne!(first["key"], second["key"]);
    for _ in 0..12 {
        turn(&mut host, 2.0);
        let there = pages(&mut host);
        assert_eq!((&there["open"], &there["kept"]), (&first, &serde_json::json!([second])));
        turn(&mut host, 4.0);
        let there = pages(&mut host);
        assert_eq!((&there["open"], &there["kept"]), (&second, &serde_json::json!([first])));
    }
    // In a project that was opened again: the same.
    let mut again = plugin();
    again.restore_text(&host.save_text().unwrap()).unwrap();
    again.activate(48_000.0, 512).unwrap();
    turn(&mut again, 2.0);
    let there = pages(&mut again);
    assert_eq!((&there["open"], &there["kept"]), (&first, &serde_json::json!([second])));
    // And where Sa was moved while nothing was processed, here by a preset.
    host.deactivate();
    host.restore_text(&again.save_text().unwrap()).unwrap();
    host.activate(48_000.0, 512).unwrap();
    turn(&mut host, 2.0);
    let there = pages(&mut host);
    assert_eq!((&there["open"], &there["kept"]), (&first, &serde_json::json!([second])));
    // What is sung now is added to what there was.
    sing(&mut host, 3.0);
    let notes = |page: &serde_json::Value| page["meter"]["rows"][0]["notes"].as_u64().unwrap();
    assert_eq!(notes(&pages(&mut host)["open"]), notes(&first) + 1);
}

#[test]
fn nonsense_is_refused_or_ignored_and_nothing_breaks() {
    let mut host = plugin();
    assert!(host.restore(b"{ not a state").is_err());
    assert!(host.restore_text("{ not a state").is_err());
    let odd = host.save_text().unwrap().replace("sa-pa-sa", "janya-nobody-knows");
    host.restore_text(&odd).unwrap();
    host.activate(48_000.0, 512).unwrap();
    run(&mut host, 0.2, &[], false);
    assert!(
        host.save_text().unwrap().contains("janya-nobody-knows"),
        "an unknown name is kept for the version that knows it"
    );
}

/// Sings Sa of D3 so many seconds, with the flutter that every throat has (3 cents at 4 Hz; without it: a machine).
fn sing(host: &mut inproc_host::Host, seconds: f64) {
    let rate = host.rate();
    let (hz, flutter) = (146.832_383, TAU * 4.0);
    let blocks = (seconds * rate / 512.0) as usize;
    for i in 0..blocks + 100 {
        let tone = |j: usize| {
            let t = (i * 512 + j) as f64 / rate;
            let turns = hz * (t - 3.0 / 1200.0 * LN_2 * (flutter * t).cos() / flutter);
            (1..=6).map(|h| (TAU * f64::from(h) * turns).sin() / f64::from(h)).sum::<f64>()
        };
        let signal: Vec<f32> = (0..512).map(|j| if i < blocks { 0.2 * tone(j) as f32 } else { 0.0 }).collect();
        host.process(&mut super::stereo(&signal), &[], None).unwrap();
    }
}

fn pages(host: &mut inproc_host::Host) -> serde_json::Value {
    serde_json::from_str(&sung_of(host)).unwrap()
}

/// The pages as they stand in the saved state.
fn sung_of(host: &mut inproc_host::Host) -> String {
    let state: serde_json::Value = serde_json::from_str(&host.save_text().unwrap()).unwrap();
    state["fields"]["pages"].as_str().unwrap().to_owned()
}

#[test]
fn what_is_sung_while_the_host_has_listening_off_is_scored_nowhere() {
    let mut host = plugin();
    host.activate(48_000.0, 512).unwrap();
    let listening = id(&mut host, "Listening");
    run(&mut host, 0.1, &[Happening::Set(listening, 0.0)], false);
    sing(&mut host, 3.0);
    assert!(pages(&mut host)["open"].is_null(), "nothing was counted");
    run(&mut host, 0.1, &[Happening::Set(listening, 1.0)], false);
    sing(&mut host, 3.0);
    assert_eq!(pages(&mut host)["open"]["meter"]["rows"][0]["notes"].as_u64(), Some(1), "and then it is");
}
