//! A sung clip with its truth, read from `NAME.flac`, `.json`, `.f0.csv` and `.notes.csv`.

use achala::swara::Swara;
use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// One frame of the truth.
#[derive(Clone, Copy)]
pub(crate) struct Frame {
    pub(crate) time_s: f64,
    pub(crate) f0_hz: f64,
    pub(crate) state: State,
}

/// Whether a frame is scored, and as what.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum State {
    Voiced,
    Unvoiced,
    Uncertain,
}

/// A note as sung or as reported.
#[derive(Clone, Debug)]
pub(crate) struct Sung {
    pub(crate) start_s: f64,
    pub(crate) end_s: f64,
    /// Semitone above Sa, and register.
    pub(crate) place: (u8, i8),
    /// Offset from its target, cents.
    pub(crate) cents: f64,
    /// Target above madhya Sa, cents, by the ratios of the corpus (5-limit).
    pub(crate) target: f64,
    pub(crate) drift: f64,
    pub(crate) wobble: f64,
    pub(crate) held: bool,
}

/// A drone that sounds in a clip.
#[derive(Clone, Copy, PartialEq)]
pub(crate) struct Drone {
    /// Plucked strings, or a reed.
    pub(crate) strings: bool,
    /// Against the voice, dB.
    pub(crate) level_db: f64,
}

/// A clip.
pub(crate) struct Clip {
    pub(crate) sound: PathBuf,
    pub(crate) class: String,
    pub(crate) tonic_hz: f64,
    pub(crate) drone: Option<Drone>,
    pub(crate) frames: Vec<Frame>,
    pub(crate) notes: Vec<Sung>,
}

/// Ratios of the corpus, by semitone: its own table, so that a slip in the project's table shows.
const RATIOS: [f64; 12] = [
    1.0,
    16.0 / 15.0,
    9.0 / 8.0,
    6.0 / 5.0,
    5.0 / 4.0,
    4.0 / 3.0,
    45.0 / 32.0,
    1.5,
    8.0 / 5.0,
    5.0 / 3.0,
    9.0 / 5.0,
    15.0 / 8.0,
];

impl Sung {
    pub(crate) fn length(&self) -> f64 {
        self.end_s - self.start_s
    }

    /// Seconds shared with another note.
    pub(crate) fn shared(&self, other: &Sung) -> f64 {
        (self.end_s.min(other.end_s) - self.start_s.max(other.start_s)).max(0.0)
    }

    /// Cents above madhya Sa.
    pub(crate) fn position(&self) -> f64 {
        self.target + self.cents
    }
}

/// Target of a semitone in a register, cents above madhya Sa.
pub(crate) fn target(place: (u8, i8)) -> f64 {
    1200.0 * (RATIOS[usize::from(place.0)].log2() + f64::from(place.1))
}

/// The clips of a folder, by name, of those classes.
pub(crate) fn clips(folder: &Path, classes: &[&str]) -> Vec<Clip> {
    let mut names: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.to_string_lossy().ends_with(".json"))
        .collect();
    names.sort();
    names.iter().map(|p| clip(p)).filter(|c| classes.is_empty() || classes.contains(&c.class.as_str())).collect()
}

fn clip(json: &Path) -> Clip {
    let about: serde_json::Value = serde_json::from_str(&std::fs::read_to_string(json).unwrap()).unwrap();
    let frames = rows(&json.with_extension("f0.csv")).into_iter().map(|row| Frame {
        time_s: number(&row, "time_s"),
        f0_hz: number(&row, "f0_hz"),
        state: match row["state"].as_str() {
            "voiced" => State::Voiced,
            "unvoiced" => State::Unvoiced,
            _ => State::Uncertain,
        },
    });
    let notes = rows(&json.with_extension("notes.csv"));
    Clip {
        sound: json.with_extension("flac"),
        class: about["class"].as_str().unwrap().to_owned(),
        tonic_hz: about["tonic_hz"].as_f64().unwrap(),
        drone: about
            .get("drone")
            .map(|drone| Drone { strings: drone["kind"] == "string", level_db: drone["level_db"].as_f64().unwrap() }),
        frames: frames.collect(),
        notes: notes.iter().map(note).collect(),
    }
}

fn note(row: &HashMap<String, String>) -> Sung {
    let swara = Swara::ALL.into_iter().find(|s| s.short() == row["swara"]).unwrap();
    let place = (swara.position(), row["octave"].parse().unwrap());
    Sung {
        start_s: number(row, "start_s"),
        end_s: number(row, "end_s"),
        place,
        cents: number(row, "cents"),
        target: target(place),
        drift: number(row, "drift_cents_per_s"),
        wobble: number(row, "wobble_cents"),
        held: row["kind"] == "held",
    }
}

fn number(row: &HashMap<String, String>, column: &str) -> f64 {
    row[column].parse().unwrap_or(f64::NAN)
}

fn rows(path: &Path) -> Vec<HashMap<String, String>> {
    let table = std::fs::read_to_string(path).unwrap();
    let mut lines = table.lines();
    let head: Vec<&str> = lines.next().unwrap().split(',').collect();
    lines.map(|l| head.iter().map(|h| (*h).to_owned()).zip(l.split(',').map(str::to_owned)).collect()).collect()
}
