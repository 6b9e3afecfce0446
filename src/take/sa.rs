//! Finds the Sa of a recorded take by listening through it once.
//!
//! In: an open [`Voice`]. Out: [`FoundSa`]: the estimate with its runners-up, for people and for other programs.
//! Method: that of [`crate::tonic::whole`], over the hops and frames of the same tracker that checks the take. Cost: that of
//! the tracker and one long transform every half second of sound. [`FoundSa::adopt`] hands Sa on only where nothing
//! stands against it; otherwise it names the first two and how to state one.

use super::decode::Voice;
use super::error::TakeError;
use super::run::{BLOCK, MIN_TAKE_S};
use crate::input::Front;
use crate::pitch::Tracker;
use crate::swara::tonic::{CONCERT_A4, describe, kattai_name, note_name, parts};
use crate::tonic::whole::Whole;
use crate::tonic::{Candidate, Doubt, Octave, TonicEstimate};
use crate::units::Hertz;
use serde::Serialize;
use std::path::PathBuf;

/// A runner-up with a smaller share of the evidence is not worth a line.
const LEAST_SHARE: f32 = 0.01;

/// The word that stands for "take Sa from the sound" where a tonic is stated.
pub const AUTO: &str = "auto";

/// What a take says about its Sa.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundSa {
    /// The take.
    pub take: PathBuf,
    /// Its length, seconds.
    pub seconds: f64,
    /// Best first, at most four; none but the first with less than a hundredth of the evidence.
    pub candidates: Vec<Candidate>,
    /// How the octave is known.
    pub octave: Octave,
    /// Whether a drone of more than one tone sounds in it.
    pub drone: bool,
    /// What stands against adopting the first: a sentence.
    pub doubt: Option<String>,
    /// The same in a few words, to stand inside a sentence.
    reason: Option<&'static str>,
}

/// A possible Sa in every form in which it can be read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SaRow {
    /// As people say it.
    pub tonic: String,
    /// As `--tonic` takes it.
    pub state_as: String,
    /// Madhya Sa, Hz.
    pub tonic_hz: f64,
    /// Note with octave.
    pub note: String,
    /// Cents from that note.
    pub cents: f64,
    /// Kattai of that note.
    pub kattai: &'static str,
    /// Share of the evidence, 0 to 1 (not a probability).
    pub confidence: f64,
}

/// The record that other programs read. Fields may be added, none is ever renamed.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct Record<'a> {
    form: u32,
    version: &'static str,
    tool: &'static str,
    take: String,
    seconds: f64,
    /// The first candidate, whatever the doubt.
    tonic: Option<&'a str>,
    tonic_hz: Option<f64>,
    kattai: Option<&'static str>,
    confidence: Option<f64>,
    /// Whether `--tonic auto` would adopt it.
    sure: bool,
    doubt: Option<&'a str>,
    /// `sung`, `range` (likely) or `ask` (not known).
    octave_from: &'static str,
    drone: bool,
    candidates: &'a [SaRow],
    runners_up: &'a [SaRow],
}

/// Listens through the take. `progress` is told the seconds done after every block.
///
/// # Errors
/// Less than [`MIN_TAKE_S`] of sound.
pub fn find_sa(voice: &mut Voice, progress: &mut dyn FnMut(f64)) -> Result<FoundSa, TakeError> {
    let rate = voice.rate();
    let (mut front, mut tracker, mut whole) = (Front::new(rate), Tracker::new(rate), Whole::new());
    let mut sung = [0.0; BLOCK];
    let mut done = 0_usize;
    loop {
        let n = voice.fill(&mut sung);
        let Some(block) = sung.get(..n).filter(|b| !b.is_empty()) else { break };
        front.push(block, None, |hop| whole.push(hop, &tracker.process(hop)));
        done += n;
        progress(done as f64 / rate.hz());
    }
    let seconds = done as f64 / rate.hz();
    if seconds < MIN_TAKE_S {
        return Err(TakeError::TooShort(voice.path().to_owned(), seconds));
    }
    Ok(FoundSa::new(voice.path().to_owned(), seconds, &whole.finish()))
}

/// What to do about a doubt when the sound is a file.
fn way_out(doubt: Doubt, estimate: &TonicEstimate) -> &'static str {
    let runner_up = estimate.candidates.iter().flatten().skip(1).any(|c| c.confidence >= LEAST_SHARE);
    match doubt {
        Doubt::TooQuiet => "give a longer or louder take, or state Sa with --tonic",
        Doubt::NothingSteady => "give a longer take, best with its drone, or state Sa with --tonic",
        Doubt::TwoFit | Doubt::NoDrone if runner_up => "choose the one that is Sa",
        Doubt::TwoFit | Doubt::NoDrone => "state it if it is your Sa, or state another",
    }
}

impl FoundSa {
    fn new(take: PathBuf, seconds: f64, estimate: &TonicEstimate) -> Self {
        Self {
            take,
            seconds,
            candidates: estimate
                .candidates
                .iter()
                .flatten()
                .enumerate()
                .filter_map(|(rank, candidate)| {
                    (rank == 0 || candidate.confidence >= LEAST_SHARE).then_some(*candidate)
                })
                .collect(),
            octave: estimate.octave,
            drone: estimate.drone,
            doubt: estimate.doubt.map(|d| format!("not sure: {}; {}", d.reason(), way_out(d, estimate))),
            reason: estimate.doubt.map(crate::tonic::Doubt::reason),
        }
    }

    /// Sa with its confidence, where it may be adopted without asking: no doubt, and a voice that tells the octave.
    ///
    /// # Errors
    /// [`TakeError::Sa`]: why not, the first two, and how to state one.
    pub fn adopt(&self) -> Result<Candidate, TakeError> {
        match (self.candidates.first(), self.reason) {
            (Some(first), None) if self.octave != Octave::Ask => Ok(*first),
            (Some(_), None) => Err(self.refusal("no voice tells its octave", "")),
            (Some(_), Some(reason)) => Err(self.refusal(reason, "")),
            (None, reason) => Err(self.refusal(
                reason.unwrap_or("nothing stays at one pitch"),
                "state it, for example --tonic D3, --tonic 146.83Hz or --tonic k2/3",
            )),
        }
    }

    /// Whether [`FoundSa::adopt`] would hand Sa on.
    #[must_use]
    pub fn sure(&self) -> bool {
        self.adopt().is_ok()
    }

    /// The candidates in every form.
    #[must_use]
    pub fn rows(&self) -> Vec<SaRow> {
        self.candidates.iter().map(SaRow::new).collect()
    }

    /// The record as JSON text, indented, with a line end.
    ///
    /// # Errors
    /// Only if the record could not be serialised, which its types exclude.
    pub fn json(&self) -> serde_json::Result<String> {
        let rows = self.rows();
        let first = rows.first();
        let record = Record {
            form: super::report::FORM,
            version: env!("CARGO_PKG_VERSION"),
            tool: "achala-take",
            take: self.take.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default(),
            seconds: self.seconds,
            tonic: first.map(|r| r.tonic.as_str()),
            tonic_hz: first.map(|r| r.tonic_hz),
            kattai: first.map(|r| r.kattai),
            confidence: first.map(|r| r.confidence),
            sure: self.sure(),
            doubt: self.doubt.as_deref(),
            octave_from: match self.octave {
                Octave::Sung => "sung",
                Octave::FromRange => "range",
                Octave::Ask => "ask",
            },
            drone: self.drone,
            candidates: &rows,
            runners_up: rows.get(1..3.min(rows.len())).unwrap_or_default(),
        };
        Ok(serde_json::to_string_pretty(&record)? + "\n")
    }

    fn refusal(&self, reason: &str, otherwise: &str) -> TakeError {
        let rows = self.rows();
        let way = match &rows[..] {
            [] => otherwise.to_owned(),
            [one] => format!("it may be {}; state it, for example with --tonic {}", one.tonic, one.state_as),
            [one, two, ..] => format!(
                "it may be {} or {}; state it with --tonic {} or --tonic {}",
                one.tonic, two.tonic, one.state_as, two.state_as
            ),
        };
        TakeError::Sa(self.take.clone(), format!("Sa was not adopted from the sound, since {reason}: {way}"))
    }
}

impl SaRow {
    fn new(candidate: &Candidate) -> Self {
        let Hertz(hz) = candidate.sa;
        let (pitch_class, octave, trim) = parts(candidate.sa, CONCERT_A4).unwrap_or_default();
        Self {
            tonic: describe(candidate.sa, CONCERT_A4),
            state_as: format!("{hz:.2}Hz"),
            tonic_hz: hz,
            note: format!("{}{octave}", note_name(pitch_class)),
            cents: trim.0,
            kattai: kattai_name(pitch_class),
            confidence: f64::from(candidate.confidence),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(hz: &[f64], octave: Octave, doubt: Option<Doubt>) -> FoundSa {
        let mut estimate = TonicEstimate { octave, doubt, drone: true, ..TonicEstimate::none(Doubt::TooQuiet) };
        for (slot, hz) in estimate.candidates.iter_mut().zip(hz) {
            *slot = Some(Candidate { sa: Hertz(*hz), confidence: 0.5 });
        }
        FoundSa::new(PathBuf::from("song.wav"), 45.0, &estimate)
    }

    #[test]
    fn only_a_sure_sa_with_a_known_octave_is_adopted() {
        assert_eq!(found(&[224.88, 150.0], Octave::FromRange, None).adopt().unwrap().sa, Hertz(224.88));
        let said = |found: FoundSa| found.adopt().unwrap_err().to_string();
        let two = said(found(&[224.8823, 146.8324], Octave::FromRange, Some(Doubt::NoDrone)));
        for word in ["song.wav", "without a drone", "A3 +38 cents (6 kattai), 224.88 Hz", "D3 (2 kattai)"] {
            assert!(two.contains(word), "{two}");
        }
        assert!(two.contains("--tonic 224.88Hz or --tonic 146.83Hz") && !two.contains('\n'), "{two}");
        assert!(said(found(&[146.83], Octave::Ask, None)).contains("octave"));
        assert!(said(found(&[], Octave::Ask, Some(Doubt::TooQuiet))).contains("--tonic D3"));
    }

    #[test]
    fn runners_up_without_weight_are_left_out() {
        let mut estimate = TonicEstimate { doubt: None, ..TonicEstimate::none(Doubt::TooQuiet) };
        for (slot, confidence) in estimate.candidates.iter_mut().zip([0.98, 0.013, 0.004, 0.003]) {
            *slot = Some(Candidate { sa: Hertz(200.0), confidence });
        }
        assert_eq!(FoundSa::new(PathBuf::from("song.wav"), 45.0, &estimate).rows().len(), 2);
    }

    #[test]
    fn the_record_holds_the_first_and_two_more() {
        let record = found(&[200.0, 150.0, 300.0, 100.0], Octave::FromRange, None).json().unwrap();
        let record: serde_json::Value = serde_json::from_str(&record).unwrap();
        assert_eq!((record["tonic_hz"].as_f64(), record["sure"].as_bool()), (Some(200.0), Some(true)));
        assert_eq!(record["candidates"].as_array().unwrap().len(), 4);
        assert_eq!(record["runners_up"].as_array().unwrap().len(), 2);
        assert_eq!((record["octave_from"].as_str(), record["doubt"].is_null()), (Some("range"), true));
        let nothing: serde_json::Value =
            serde_json::from_str(&found(&[], Octave::Ask, Some(Doubt::NothingSteady)).json().unwrap()).unwrap();
        assert!(nothing["tonic_hz"].is_null() && nothing["sure"] == false && nothing["doubt"].is_string());
    }
}
