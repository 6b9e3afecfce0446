//! The live plugin and the take checker drive the same chain: the same numbers from both.

use super::{plugin, stereo};
use achala::listener::{Listener, Setting};
use achala::note::Band;
use achala::swara::{Nudges, Scale, Tuning};
use achala::units::{Cents, Hertz, SampleRate};
use std::path::PathBuf;

/// Sounds to run through: real takes where they are at hand, and always the demo take.
fn sounds() -> Vec<(String, f64, Vec<f32>)> {
    let rate = SampleRate::new(48_000.0).unwrap();
    let demo = achala::voice::demo::demo_take(rate);
    let mut found = vec![("the demo take".to_owned(), 48_000.0, demo.samples)];
    let real = std::env::var_os("ACHALA_CORPUS")
        .map_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared/corpus"), PathBuf::from)
        .join("real");
    let takes = std::fs::read_dir(&real).map(|d| d.flatten().map(|e| e.path()).collect::<Vec<_>>()).unwrap_or_default();
    let mut flacs: Vec<PathBuf> = takes.into_iter().filter(|p| p.extension().is_some_and(|e| e == "flac")).collect();
    flacs.sort();
    if flacs.is_empty() {
        println!("skipped: no real takes beside the project");
    }
    for path in flacs {
        let mut voice = achala::take::Voice::open(&path, achala::take::Side::Mix).unwrap();
        let mut samples = vec![0.0; 60 * 192_000];
        let mut filled = 0;
        loop {
            match voice.fill(&mut samples[filled..]) {
                0 => break,
                n => filled += n,
            }
        }
        samples.truncate(filled);
        found.push((path.display().to_string(), voice.rate().hz(), samples));
    }
    found
}

#[test]
fn the_plugin_and_the_take_checker_give_the_same_statistics() {
    for (name, rate, mut samples) in sounds() {
        // A second of silence, so that the last note is final in both.
        samples.extend(std::iter::repeat_n(0.0, rate as usize));
        // The plugin, in blocks of 256, as a host drives it.
        let mut host = plugin();
        let text = super::saved(&mut host).replace("sa-pa-sa", "twelve");
        super::restore(&mut host, &text).unwrap();
        host.activate(rate, 256).unwrap();
        for part in samples.chunks(256) {
            host.process(&mut stereo(part), &[], None).unwrap();
        }
        let state: serde_json::Value = serde_json::from_str(&super::saved(&mut host)).unwrap();
        let pages: serde_json::Value = serde_json::from_str(state["fields"]["pages"].as_str().unwrap()).unwrap();
        // The chain of the take checker, in other blocks.
        let targets = Scale::Twelve.targets(&Tuning::default(), &Nudges::default());
        let sa = Hertz::of_midi_key(50.0, Hertz(440.0));
        let band = Band { fixed: Cents(20.0), others: Cents(25.0) };
        let mut listener = Listener::new(SampleRate::new(rate).unwrap(), Setting::new(sa, targets, band));
        for part in samples.chunks(4096) {
            listener.process(part, None, &mut |_| {});
        }
        // The plugin copies its page at every final note; the running count of sung frames follows with the next.
        let mut expected = serde_json::to_value(listener.meter()).unwrap();
        let mut found = pages["open"]["meter"].clone();
        for meter in [&mut expected, &mut found] {
            if let Some(map) = meter.as_object_mut() {
                map.remove("sung");
            }
        }
        assert_eq!(found, expected, "{name}");
    }
}
