//! Parameters: ids and steps that never change, text both ways.

use super::{id, plugin, run};
use inproc_host::Happening;

/// Names, lowest and highest values as projects have them saved. A change here breaks projects.
const KNOWN: &[(&str, f64, f64)] = &[
    ("Sa", 0.0, 11.0),
    ("Sa octave", 0.0, 3.0),
    ("Sa trim", 0.0, 1.0),
    ("Concert pitch", 0.0, 1.0),
    ("In tune, Sa and Pa, within", 0.0, 1.0),
    ("In tune, others, within", 0.0, 1.0),
    ("Voice from", 0.0, 2.0),
    ("Voice level", 0.0, 1.0),
    ("Drone", 0.0, 1.0),
    ("Drone level", 0.0, 1.0),
    ("Drone to", 0.0, 2.0),
    ("Print drone in offline renders", 0.0, 1.0),
    ("Listening", 0.0, 1.0),
    ("Follow the voice's octave", 0.0, 1.0),
    ("Face", 0.0, 2.0),
    ("Freeze", 0.0, 1.0),
    ("Mark", 0.0, 1.0),
    ("Bypass", 0.0, 1.0),
];

/// Those of them that are switches.
const SWITCHES: &[&str] =
    &["Drone", "Print drone in offline renders", "Listening", "Follow the voice's octave", "Freeze", "Mark", "Bypass"];

#[test]
fn the_parameters_are_those_that_projects_know() {
    let mut host = plugin();
    let found: Vec<(String, f64, f64)> = host.parameters().into_iter().map(|p| (p.name, p.min, p.max)).collect();
    let known: Vec<(String, f64, f64)> = KNOWN.iter().map(|(n, a, b)| ((*n).to_owned(), *a, *b)).collect();
    assert_eq!(found, known);
}

#[test]
fn text_comes_back_as_the_value_it_was_written_from() {
    let mut host = plugin();
    for p in host.parameters() {
        let stepped = p.max > 1.0 || SWITCHES.contains(&p.name.as_str());
        for step in 0..=20 {
            let value = p.min + (p.max - p.min) * f64::from(step) / 20.0;
            let value = if stepped { value.round() } else { value };
            let text = host.text(p.id, value).unwrap();
            let back = host.read(p.id, &text).unwrap_or_else(|| panic!("{}: '{text}' was not understood", p.name));
            assert!((back - value).abs() < 0.006, "{}: {value} was written '{text}' and read {back}", p.name);
        }
    }
}

#[test]
fn sa_shows_its_kattai() {
    let mut host = plugin();
    let sa = id(&mut host, "Sa");
    assert_eq!(host.text(sa, 2.0).unwrap(), "D · 2 kattai");
    assert_eq!(host.text(sa, 10.0).unwrap(), "A# · 6.5 kattai");
}

#[test]
fn a_changed_value_reaches_the_plugin_while_it_plays() {
    let mut host = plugin();
    host.activate(48_000.0, 512).unwrap();
    let level = id(&mut host, "Voice level");
    let twelve_down = host.read(level, "-12 dB").unwrap();
    run(&mut host, 0.1, &[Happening::Set(level, twelve_down)], false);
    let mut block = super::stereo(&[0.5; 512]);
    host.process(&mut block, &[], None).unwrap();
    let expected = 0.5 * 10f32.powf(-12.0 / 20.0);
    assert!((block.main[0][511] - expected).abs() < 1e-6);
}
