//! What the project's own specification asks beside a drone that is told or not, cell by cell.

use crate::figures::{Facts, Figures};
use crate::truth::{Clip, clips};
use crate::{corpus, drone_of, heard};
use achala::take::Heard;

/// A row of the specification's table: what is asked over the clips of a class whose drone is in a range of levels, pooled.
struct Row {
    name: &'static str,
    class: &'static str,
    /// dB against the voice.
    levels: (f64, f64),
    from_s: f64,
    figure: fn(&Figures) -> f64,
    asked: Asked,
    /// Over strings, over a reed.
    bounds: (f64, f64),
}

/// Which side of its bound a figure keeps to.
#[derive(Clone, Copy)]
enum Asked {
    Least,
    Most,
}
use Asked::{Least, Most};

const ANY: (f64, f64) = (f64::NEG_INFINITY, f64::INFINITY);
const SOFT: (f64, f64) = (f64::NEG_INFINITY, -12.0);

fn right(f: &Figures) -> f64 {
    100.0 * f.rpa[1]
}

fn false_alarm(f: &Figures) -> f64 {
    100.0 * f.false_alarm
}

fn voiced(f: &Figures) -> f64 {
    100.0 * f.recall
}

fn held(f: &Figures) -> f64 {
    f.held_error
}

const fn row(
    (name, class): (&'static str, &'static str),
    levels: (f64, f64),
    figure: fn(&Figures) -> f64,
    asked: Asked,
    bounds: (f64, f64),
) -> Row {
    Row { name, class, levels, from_s: 1.0, figure, asked, bounds }
}

/// Per cent and cents, strings and reed, from the second second on.
const TOLD: [Row; 9] = [
    row(("the drone alone, called a voice", "drone_only"), ANY, false_alarm, Most, (0.3, 0.3)),
    row(("RPA25 up to -12 dB", "bleed"), SOFT, right, Least, (97.5, 98.5)),
    row(("RPA25 at -6 dB", "bleed"), (-6.0, -6.0), right, Least, (96.5, 97.5)),
    row(("RPA25 at 0 dB", "bleed"), (0.0, 0.0), right, Least, (95.0, 95.0)),
    row(("false alarm", "bleed"), ANY, false_alarm, Most, (2.0, 2.0)),
    row(("RPA25 of a late drone", "late_bleed"), ANY, right, Least, (96.0, 96.0)),
    row(("false alarm of a late drone", "late_bleed"), ANY, false_alarm, Most, (3.0, 3.0)),
    row(("held notes at -12 dB, cents", "bleed"), (-12.0, -12.0), held, Most, (0.6, 0.6)),
    row(("a long Sa, voiced", "long_hold"), ANY, voiced, Least, (99.0, 99.0)),
];

/// The same; of takes of 45 s from the 15th second on.
const UNTOLD: [Row; 11] = [
    row(("the drone alone, called a voice", "drone_only"), ANY, false_alarm, Most, (3.0, 0.5)),
    row(("RPA25 up to -12 dB", "bleed"), SOFT, right, Least, (92.0, 97.5)),
    row(("RPA25 at -6 dB", "bleed"), (-6.0, -6.0), right, Least, (85.0, 94.0)),
    row(("RPA25 at 0 dB", "bleed"), (0.0, 0.0), right, Least, (70.0, 85.0)),
    row(("false alarm", "bleed"), ANY, false_alarm, Most, (10.0, 1.0)),
    row(("RPA25 of a late drone", "late_bleed"), ANY, right, Least, (85.0, 85.0)),
    row(("false alarm of a late drone", "late_bleed"), ANY, false_alarm, Most, (15.0, 15.0)),
    row(("held notes at -12 dB, cents", "bleed"), (-12.0, -12.0), held, Most, (1.2, 1.2)),
    Row { from_s: 15.0, ..row(("RPA25 of a long take", "tonic"), ANY, right, Least, (95.0, 95.0)) },
    Row { from_s: 15.0, ..row(("false alarm of a long take", "tonic"), ANY, false_alarm, Most, (8.0, 8.0)) },
    row(("a long Sa, voiced", "long_hold"), ANY, voiced, Least, (99.0, 99.0)),
];

impl Row {
    fn is_of(&self, clip: &Clip, strings: bool) -> bool {
        let (low, high) = self.levels;
        let level = |drone: crate::truth::Drone| (low..=high).contains(&drone.level_db) && drone.strings == strings;
        clip.class.starts_with(self.class) && clip.drone.is_some_and(level)
    }

    /// What misses its bound, in words.
    fn missed(&self, takes: &[(&Clip, Heard)], told: &str) -> Vec<String> {
        let mut missed = Vec::new();
        for (strings, drone, bound) in [(true, "strings", self.bounds.0), (false, "reed", self.bounds.1)] {
            let mut facts = Facts::default();
            for (clip, heard) in takes.iter().filter(|(clip, _)| self.is_of(clip, strings)) {
                facts.frames_from(self.from_s, clip, heard);
            }
            let found = (self.figure)(&facts.figures());
            println!("{told}, {drone}, {}: {found:.2} ({bound})", self.name);
            // A figure that is no number holds neither.
            let holds = match self.asked {
                Least => found >= bound,
                Most => found <= bound,
            };
            if !holds {
                missed.push(format!("{told}, {drone}, {}: {found} ({bound})", self.name));
            }
        }
        missed
    }
}

#[test]
fn every_cell_of_the_specification_holds_beside_a_drone() {
    let Some(folder) = corpus() else { return };
    let classes = ["drone_only", "bleed_string", "bleed_reed", "late_bleed", "long_hold", "tonic"];
    let mut clips = clips(&folder, &classes);
    clips.retain(|clip| clip.drone.is_some());
    let told = clips.iter().filter_map(|clip| Some((clip, heard(clip, Some(&drone_of(clip)?))))).collect::<Vec<_>>();
    let untold = clips.iter().map(|clip| (clip, heard(clip, None))).collect::<Vec<_>>();
    let mut missed: Vec<String> = TOLD.iter().flat_map(|row| row.missed(&told, "told")).collect();
    missed.extend(UNTOLD.iter().flat_map(|row| row.missed(&untold, "not told")));
    assert!(missed.is_empty(), "{missed:#?}");
}
