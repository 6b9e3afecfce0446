//! A drone track on the side-chain input is taken out of the voice, while our own drone is off.

use super::{plugin, rms, stereo};
use achala::drone::{DroneSetting, Kind, render};
use achala::units::SampleRate;
use std::f64::consts::{LN_2, TAU};

const RATE: f64 = 48_000.0;
const SECONDS: usize = 16;
/// Pa of D3, 30 cents high: 3/2 of 146.832 Hz.
const SUNG_HZ: f64 = 220.248_576 * 1.017_479_7;

/// Four notes of two seconds, a second of rest before each, with a throat's flutter of 3 cents.
fn voice() -> Vec<f32> {
    let flutter = TAU * 4.0;
    let at = |i: usize| {
        let t = i as f64 / RATE;
        let sings = (3.0..14.5).contains(&t) && (t % 3.0) < 2.0;
        let turns = SUNG_HZ * (t - 3.0 / 1200.0 * LN_2 * (flutter * t).cos() / flutter);
        let tone = || (1..=8).map(|h| (TAU * f64::from(h) * turns).sin() / f64::from(h)).sum::<f64>();
        if sings { 0.1 * tone() as f32 } else { 0.0 }
    };
    (0..SECONDS * 48_000).map(at).collect()
}

/// What was counted of the voice.
#[derive(Debug, Default, PartialEq)]
struct Counted {
    /// Notes on Pa, and their judged frames.
    notes: u64,
    frames: u64,
    /// Those of them within 5 cents of what was sung.
    near: u64,
    /// Judged frames elsewhere: no voice sang there.
    stray: u64,
}

/// What the meter has where a microphone hears the voice and, 30 ms late, the drone, as loud as the voice; the drone track is on
/// the side-chain or not.
fn heard(kind: Kind, side_chain: bool) -> Counted {
    let rate = SampleRate::new(RATE).unwrap();
    let drone = render(&DroneSetting { kind, ..DroneSetting::default() }, rate, SECONDS as f64).unwrap();
    let voice = voice();
    let gain = (rms(&voice[144_000..192_000]) / rms(&drone[144_000..])) as f32;
    let late = 1_440;
    let mut host = plugin();
    host.activate(RATE, 512).unwrap();
    for at in (0..voice.len()).step_by(512) {
        let part = at..voice.len().min(at + 512);
        let microphone: Vec<f32> =
            part.clone().map(|i| voice[i] + i.checked_sub(late).map_or(0.0, |i| gain * drone[i])).collect();
        let mut block = stereo(&microphone);
        if side_chain {
            block.side_chain = vec![drone[part].to_vec(); 2];
        }
        host.process(&mut block, &[], None).unwrap();
        assert!(block.main[0] == microphone, "the voice passes as it is, and no drone of ours is in it");
    }
    let state: serde_json::Value = serde_json::from_str(&host.save_text().unwrap()).unwrap();
    let pages: serde_json::Value = serde_json::from_str(state["fields"]["pages"].as_str().unwrap()).unwrap();
    let rows = pages["open"]["meter"]["rows"].as_array().cloned().unwrap_or_default();
    let mut counted = Counted::default();
    for row in &rows {
        let sung = row["position"] == 7 && row["sthayi"] == 0;
        counted.notes += if sung { row["notes"].as_u64().unwrap() } else { 0 };
        for bin in row["offsets"].as_array().unwrap() {
            let (cents, frames) = (bin[0].as_i64().unwrap(), bin[1].as_u64().unwrap());
            let place = if sung { &mut counted.frames } else { &mut counted.stray };
            *place += frames;
            counted.near += if sung && (cents - 30).abs() <= 5 { frames } else { 0 };
        }
    }
    counted
}

#[test]
fn a_drone_on_the_side_chain_is_taken_out_of_the_voice() {
    for kind in [Kind::Strings, Kind::Reed] {
        let (told, untold) = (heard(kind, true), heard(kind, false));
        println!("{kind:?}: {told:?} told, {untold:?} untold");
        // The four notes, each judged for nearly all of its two seconds and where it was sung.
        assert!(told.notes == 4 && told.frames > 4 * 300, "{kind:?}: {told:?}");
        assert!(told.near * 100 > told.frames * 98, "{kind:?}: {told:?}");
        // Until the way into the microphone is known, in the first second, a string may pass for a tenth of a second.
        assert!(told.stray <= 20, "{kind:?}: {told:?}");
        // A reed that nobody told of is learned as what stays, too; a second of the voice goes with it.
        assert!(untold.near + 200 < told.near, "{kind:?}: without the side-chain it is {untold:?}");
    }
}
