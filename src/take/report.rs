//! The result of a checked take in one plain record, the same for the table, the page and other programs.
//!
//! In: what was [`Heard`] and what was [`Asked`]. Out: [`Report`], which serialises to the JSON file as it stands.
//! Offsets, spread, drift and wobble in cents (positive is sharp), times in seconds, shares 0 to 1. Only held
//! notes carry a judgement; of the others it says where they were and nothing more. Fields may be added,
//! none is ever renamed.

use super::ask::Asked;
use super::csv::kind_word;
use super::run::{Heard, same_sa};
use super::written::name;
use crate::input::HOP_S;
use crate::meter::{ENOUGH_NOTES, RowSummary};
use crate::note::{Band, Kind, Note};
use crate::swara::{Sthayi, Target};
use crate::units::Hertz;
use serde::Serialize;

/// What a report of a take was made by: the command, which writes its tables beside it.
pub const TAKE_CHECKER: &str = "achala-take";
/// The form of the record; counts up when a field changes its meaning (which it should not).
pub const FORM: u32 = 1;

/// From here on several voices are worth a sentence, seconds (our choice: shorter than any note that could be lost by it).
const SEVERAL_SAID_S: f64 = 0.2;

/// A checked take.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Report {
    /// [`FORM`].
    pub form: u32,
    /// Version of the program.
    pub version: &'static str,
    /// The program.
    pub tool: &'static str,
    /// File name of the take.
    pub take: String,
    /// Length of the take.
    pub seconds: f64,
    /// What it was measured against.
    pub against: Against,
    /// What is wrong with the file although it could be read.
    pub warnings: Vec<String>,
    /// Octaves that the voice lives above the stated Sa (+1 or -1), where it does not live on it.
    pub octave_from_sa: Option<i8>,
    /// Share of the evidence that Sa has, where it was taken from the sound (its octave from the voice's range).
    pub sa_confidence: Option<f64>,
    /// Time in which more than one voice sounds.
    pub several_s: f64,
    /// Time with a voice. Of a lesson in which Sa was moved, this and what follows up to the swaras counts what was sung from
    /// the Sa in `against` since it was last set.
    pub sung_s: f64,
    /// Time in held notes.
    pub held_s: f64,
    /// Time judged.
    pub judged_s: f64,
    /// Share of the sung time in held notes.
    pub held_share: Option<f64>,
    /// Share of the sung time that was judged.
    pub judged_share: Option<f64>,
    /// One row for each swara of the scale, upwards from Sa.
    pub swaras: Vec<Row>,
    /// Every note, in time order: the lines of the table of notes.
    pub notes: Vec<NoteRow>,
    /// Moments marked in a lesson, in time order; a take has none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub marks: Vec<MarkRow>,
    /// When a lesson was saved, in words; a take has its own date.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub saved: Option<String>,
    /// Of a lesson, which may be long: the notes most worth singing again, by their places; what is drawn of others may be smaller.
    #[serde(skip)]
    pub worth: Option<Vec<usize>>,
}

/// A marked moment.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MarkRow {
    /// When.
    pub time_s: f64,
    /// Its word; may be empty.
    pub word: String,
}

/// What a take was measured against.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Against {
    /// Madhya Sa as people say it.
    pub tonic: String,
    /// Madhya Sa, Hz.
    pub tonic_hz: f64,
    /// Stable name of the target table (`scl` for a Scala file).
    pub tuning: String,
    /// Name of the target table for people.
    pub tuning_title: String,
    /// What should be known of how a Scala file is used, one sentence each; empty for the built-in tables.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub tuning_remarks: Vec<String>,
    /// Stable key of the scale.
    pub scale: String,
    /// Name of the scale for people.
    pub scale_title: String,
    /// Name of the band.
    pub band: String,
    /// In-tune half-widths, cents.
    pub half_widths: Band,
}

/// One swara's figures: all registers together, or one of them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    /// Short full name.
    pub swara: &'static str,
    /// Full name.
    pub full_name: &'static str,
    /// The register, -2 to 2; none where all are taken together.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub octave: Option<i8>,
    /// Where it lies above Sa, cents.
    pub target_cents: f64,
    /// In-tune half-width, cents.
    pub half_width_cents: f64,
    /// Held notes.
    pub notes: u32,
    /// Held notes that only are nearest to it, by more than 150 cents off: another swara was sung, which the scale lacks. No other
    /// figure counts them.
    pub far_notes: u32,
    /// Time judged.
    pub judged_s: f64,
    /// Median offset over the judged time.
    pub median_cents: Option<f64>,
    /// Half the width of the middle 68 %.
    pub spread_cents: Option<f64>,
    /// Share of the judged time inside the band.
    pub in_tune_share: Option<f64>,
    /// The longest steady stretch of one note.
    pub longest_steady_s: Option<f64>,
    /// Where it was sung in more than one register: the same of each of those, from the lowest.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub registers: Vec<Row>,
}

/// One note. Of a note that moves only place, time and kind are given.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NoteRow {
    /// First frame.
    pub start_s: f64,
    /// End of the last frame.
    pub end_s: f64,
    /// Short full name.
    pub swara: &'static str,
    /// Register, -2 to 2.
    pub octave: i8,
    /// Name with the dot of its register, as printed.
    pub name: String,
    /// In-tune half-width, cents.
    pub half_width_cents: f64,
    /// `held`, `oscillating` or `gliding`.
    pub kind: &'static str,
    /// Madhya Sa that it was measured from, Hz.
    pub sa_hz: f64,
    /// Whether that is another than the Sa in `against`: the swaras' figures leave the note out.
    pub under_another_sa: bool,
    /// Of a lesson: what else was in force as it was sung and is not in `against`, each in a few words (another raga, tuning
    /// or pupil). The swaras' figures leave such a note out too.
    #[serde(skip)]
    pub others: Vec<String>,
    /// The judgement of a held note.
    pub judged: Option<Judged>,
}

/// The judgement of one held note.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Judged {
    /// Median offset.
    pub cents: f64,
    /// Slope.
    pub drift_cents_per_s: f64,
    /// Whether the slope is worth saying.
    pub drift_said: bool,
    /// RMS about the straight line.
    pub wobble_cents: f64,
    /// Rate of a regular waver or vibrato, Hz.
    pub waver_hz: Option<f64>,
    /// Share of the judged frames inside the band.
    pub in_tune_share: f64,
    /// Whether it lies so far off that another swara was sung: the swara's figures leave it out.
    pub far: bool,
    /// Length of the judged part.
    pub judged_s: f64,
    /// Where it was entered, relative to where it was held.
    pub onset_scoop_cents: f64,
    /// How long the way took.
    pub onset_s: f64,
    /// The longest steady stretch.
    pub longest_steady_s: f64,
}

impl Report {
    /// Gathers the result of the take called `take`.
    #[must_use]
    pub fn new(take: &str, heard: &Heard, asked: &Asked) -> Self {
        let time = heard.meter.sung_time();
        let swaras = rows(heard, asked);
        let judged_s = swaras.iter().map(|row| row.judged_s).sum::<f64>();
        Self {
            form: FORM,
            version: env!("CARGO_PKG_VERSION"),
            tool: TAKE_CHECKER,
            take: take.to_owned(),
            seconds: heard.seconds,
            against: Against {
                tonic: asked.tonic(),
                tonic_hz: asked.sa.0,
                tuning: asked.tuning.name().to_owned(),
                tuning_title: asked.tuning.title(),
                tuning_remarks: asked.tuning.remarks(),
                scale: asked.scale.key(),
                scale_title: asked.scale.title(),
                band: asked.band_name.clone(),
                half_widths: asked.band,
            },
            warnings: heard.warnings.clone(),
            octave_from_sa: heard.octave,
            sa_confidence: None,
            several_s: heard.frames.iter().filter(|r| r.frame.several).count() as f64 * HOP_S,
            sung_s: time.sung_s,
            held_s: time.held_s,
            judged_s,
            held_share: time.held_share(),
            judged_share: (time.sung_s > 0.0).then(|| (judged_s / time.sung_s).min(1.0)),
            swaras,
            notes: heard
                .notes
                .iter()
                .zip(&heard.measured_from)
                .map(|(n, sa)| NoteRow::new(n, *sa, heard, asked))
                .collect(),
            marks: Vec::new(),
            saved: None,
            worth: None,
        }
    }

    /// The record as JSON text, indented, with a line end.
    ///
    /// # Errors
    /// Only if the record could not be serialised, which its types exclude.
    pub fn json(&self) -> serde_json::Result<String> {
        Ok(serde_json::to_string_pretty(self)? + "\n")
    }

    /// How many notes were held, and how many of those from another Sa than the one in `against`.
    #[must_use]
    pub fn held(&self) -> (usize, usize) {
        let held = || self.notes.iter().filter(|n| n.judged.is_some());
        (held().count(), held().filter(|n| n.under_another_sa).count())
    }

    /// How many notes were held with another raga, tuning or pupil chosen.
    #[must_use]
    pub fn elsewhere(&self) -> usize {
        self.notes.iter().filter(|n| n.judged.is_some() && !n.others.is_empty()).count()
    }

    /// Held notes that lie far from every swara of the scale.
    #[must_use]
    pub fn far(&self) -> u32 {
        self.swaras.iter().map(|row| row.far_notes).sum()
    }

    /// Held notes that the swaras' figures count.
    #[must_use]
    pub fn counted(&self) -> u32 {
        self.swaras.iter().map(|row| row.notes).sum()
    }

    /// What should be known before the numbers are read: the voice's octave, where Sa is from, whether it was moved, other
    /// voices, how a tuning file is used, the file's faults.
    #[must_use]
    pub fn remarks(&self) -> Vec<String> {
        let octave = self.octave_from_sa.map(|octaves| {
            let side = if octaves > 0 { "above" } else { "below" };
            format!(
                "the voice lives an octave {side} the stated Sa; give that Sa as --tonic if the registers should follow"
            )
        });
        let found = self.sa_confidence.map(|share| {
            format!(
                "Sa was taken from the sound ({:.0} % of the evidence) and its octave from the voice's range; if it is \
                 another, state it with --tonic",
                100.0 * share
            )
        });
        let several = (self.several_s >= SEVERAL_SAID_S).then(|| {
            format!(
                "more than one voice sounds for {:.1} s; from where another voice or an instrument comes in, a note is not judged",
                self.several_s
            )
        });
        let (held, others) = self.held();
        let moved = (others > 0).then(|| {
            let (were, beside, them) = if others == 1 { ("was", "it", "it") } else { ("were", "each", "them") };
            format!(
                "Sa was moved: {others} of {held} held notes {were} sung from another Sa, which stands beside {beside}; the \
                 sung time and the swaras' figures leave {them} out"
            )
        });
        let elsewhere = self.elsewhere();
        let elsewhere = (elsewhere > 0).then(|| {
            let (were, beside, them) = if elsewhere == 1 { ("was", "it", "it") } else { ("were", "each", "them") };
            format!(
                "{elsewhere} of {held} held notes {were} sung with another raga, tuning or pupil chosen, which stands beside \
                 {beside}; the sung time and the swaras' figures leave {them} out"
            )
        });
        let said = octave.into_iter().chain(found).chain(moved).chain(elsewhere).chain(several);
        said.chain(self.against.tuning_remarks.iter().cloned()).chain(self.warnings.iter().cloned()).collect()
    }

    /// "31 % held, the rest moved", or that nothing was sung.
    #[must_use]
    pub fn summary(&self) -> String {
        match self.held_share {
            None => "no voice was found".to_owned(),
            Some(share) if share >= 0.995 => "all of it held".to_owned(),
            Some(share) => format!("{:.0} % held, the rest moved", 100.0 * share),
        }
    }
}

impl Row {
    fn new(target: &Target, octave: Option<Sthayi>, band: Band, figures: RowSummary) -> Self {
        Self {
            swara: target.swara.short(),
            full_name: target.swara.full_name(),
            octave: octave.map(|octave| octave.0),
            target_cents: target.cents.0,
            half_width_cents: band.of(target.swara).0,
            notes: figures.notes,
            far_notes: figures.far,
            judged_s: figures.judged_s,
            median_cents: figures.median.map(|c| c.0),
            spread_cents: figures.spread.map(|c| c.0),
            in_tune_share: figures.in_tune,
            longest_steady_s: figures.longest_steady_s,
            registers: Vec::new(),
        }
    }

    /// The row, and below it those of its registers.
    pub fn with_registers(&self) -> impl Iterator<Item = &Row> {
        std::iter::once(self).chain(&self.registers)
    }

    /// The in-tune share in whole percent; `None` where there are too few notes for one to mean anything.
    #[must_use]
    pub fn percent(&self) -> Option<f64> {
        self.in_tune_share.filter(|_| self.notes >= ENOUGH_NOTES).map(|share| (100.0 * share).round())
    }
}

impl NoteRow {
    fn new(note: &Note, sa: Hertz, heard: &Heard, asked: &Asked) -> Self {
        Self {
            start_s: note.start.seconds(heard.rate),
            end_s: note.end.seconds(heard.rate),
            swara: note.swara.short(),
            octave: note.sthayi.0,
            name: name(note.swara, note.sthayi),
            half_width_cents: asked.band.of(note.swara).0,
            kind: kind_word(note.kind),
            sa_hz: sa.0,
            under_another_sa: !same_sa(sa, asked.sa),
            others: Vec::new(),
            judged: (note.kind == Kind::Held).then_some(Judged {
                cents: note.offset.0,
                drift_cents_per_s: note.drift_per_s,
                drift_said: note.drift_said,
                wobble_cents: note.wobble.0,
                waver_hz: note.waver_hz,
                in_tune_share: note.in_tune,
                far: note.far(),
                judged_s: note.judged_s,
                onset_scoop_cents: note.onset.scoop.0,
                onset_s: note.onset.seconds,
                longest_steady_s: note.longest_steady_s,
            }),
        }
    }
}

fn rows(heard: &Heard, asked: &Asked) -> Vec<Row> {
    let meter = &heard.meter;
    let of = |target: &Target| {
        let position = target.swara.position();
        Row {
            registers: meter
                .registers(position)
                .map(|(octave, figures)| Row::new(target, Some(octave), asked.band, figures))
                .collect(),
            ..Row::new(target, None, asked.band, meter.row(position))
        }
    };
    asked.targets.by_position.iter().flatten().map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::Meter;
    use crate::pitch::F0Frame;
    use crate::swara::{SwaraReading, Tuning};
    use crate::take::Words;
    use crate::units::{Decibels, SampleRate, SampleTime};

    /// A take of a second in whose first `shared` frames more than one voice sounds.
    fn report(shared: i64) -> Report {
        report_in(shared, Tuning::Just)
    }

    fn report_in(shared: i64, tuning: Tuning) -> Report {
        let frames = (0..200).map(|k| {
            let time = SampleTime(k * 240);
            let frame = F0Frame {
                time,
                available: time,
                f0: Some(Hertz(220.0)),
                voiced: true,
                confidence: 1.0,
                level: Decibels(-20.0),
                clipped: false,
                several: k < shared,
            };
            SwaraReading { frame, cents: None, named: None }
        });
        let heard = Heard {
            rate: SampleRate::new(48_000.0).unwrap(),
            seconds: 1.0,
            frames: frames.collect(),
            notes: Vec::new(),
            measured_from: Vec::new(),
            meter: Meter::new(),
            octave: None,
            warnings: Vec::new(),
        };
        let words = Words { tonic: "D3", raga: None, tuning: "just", band: "beginner" };
        Report::new("duet.wav", &heard, &Asked { tuning, ..Asked::parse(words).unwrap() })
    }

    #[test]
    fn more_than_one_voice_is_said_with_how_long() {
        let duet = report(120);
        assert!((duet.several_s - 0.6).abs() < 1e-9);
        let [said] = &duet.remarks()[..] else { panic!("{:?}", duet.remarks()) };
        assert!(said.contains("more than one voice") && said.contains("0.6 s") && said.contains("not judged"));
        // Some stray frames are not worth a word.
        assert!(report(10).remarks().is_empty() && report(0).remarks().is_empty());
    }

    #[test]
    fn a_tuning_files_own_pa_is_said_in_the_report() {
        let file = Tuning::from_scl("vina.scl", b"d\n3\n5/4\n712.45\n2/1\n").unwrap();
        let said = report_in(0, file).remarks();
        assert!(said.iter().any(|remark| remark.contains("vina.scl has Pa at 712.45 cents; Pa stays 3/2")), "{said:?}");
    }
}
