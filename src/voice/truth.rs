//! What is true of a sung phrase: its pitch from moment to moment and its notes.
//!
//! Frames every 5 ms: the written pitch in hertz with [`State`]; a moment more than 15 dB below full voice is
//! `Uncertain` and not to be scored. Notes: from the end of the join before to the start of the join after; offset, drift
//! and wobble over the middle (150 ms off each end, a quarter for short notes), as straight-line fit of the curve.

use super::phrase::{Manner, Phrase, Sung};
use super::sing::Singer;
use crate::swara::{Sthayi, Swara};
use crate::units::{Cents, Hertz, SampleRate, num};
use std::io::{self, Write};

/// Distance of two frames of truth, seconds.
pub const FRAME_S: f64 = 0.005;

/// Below this loudness (relative to full voice) a moment is uncertain: 15 dB down.
const UNCERTAIN_BELOW: f64 = 0.178;

/// What is left out at each end of a note when it is measured, seconds; and at most this share of its length.
const ENDS: (f64, f64) = (0.15, 0.25);

/// Whether a voice sounds at an instant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// Full voice.
    Voiced,
    /// Silence.
    Unvoiced,
    /// Too soft to be scored.
    Uncertain,
}

/// What a note is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TruthKind {
    /// To be judged.
    Held,
    /// Swings.
    Oscillating,
    /// On its way.
    Gliding,
}

/// One true note.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TruthNote {
    /// Start, seconds.
    pub start_s: f64,
    /// End, seconds.
    pub end_s: f64,
    /// Name.
    pub swara: Swara,
    /// Register.
    pub sthayi: Sthayi,
    /// Median offset from the target.
    pub offset: Cents,
    /// Slope, cents per second.
    pub drift_per_s: f64,
    /// Deviation about the straight line.
    pub wobble: Cents,
    /// Kind.
    pub kind: TruthKind,
}

/// The truth about a performance.
#[derive(Debug, Clone, PartialEq)]
pub struct Truth {
    /// Every [`FRAME_S`] from the first sample: pitch (`None` in silence) and state.
    pub frames: Vec<(Option<Hertz>, State)>,
    /// Every note, in time order.
    pub notes: Vec<TruthNote>,
}

impl Truth {
    /// `curve`: pitch in hertz and loudness of every sample.
    pub(super) fn new(phrase: &Phrase, singer: &Singer, rate: SampleRate, curve: &[Option<(f64, f64)>]) -> Self {
        let at = |t: f64| curve.get(num::index(t * rate.hz())).copied().flatten();
        let count = num::index((phrase.seconds() / FRAME_S).floor());
        let frames = (0..count)
            .map(|i| match at(i as f64 * FRAME_S) {
                None => (None, State::Unvoiced),
                Some((hz, gain)) if gain < UNCERTAIN_BELOW => (Some(Hertz(hz)), State::Uncertain),
                Some((hz, _)) => (Some(Hertz(hz)), State::Voiced),
            })
            .collect();
        let pitch = |t: f64| at(t).and_then(|(hz, _)| Hertz(hz).cents_above(singer.sa)).map(|c| c.0);
        let notes = phrase.notes().map(|(start, end, sung)| note(start, end, &sung, &pitch)).collect();
        Self { frames, notes }
    }

    /// Writes the frames as `time_s,f0_hz,state` (0 Hz in silence).
    ///
    /// # Errors
    /// Those of `out`.
    pub fn write_frames(&self, out: &mut dyn Write) -> io::Result<()> {
        writeln!(out, "time_s,f0_hz,state")?;
        for (i, (f0, state)) in self.frames.iter().enumerate() {
            let word = match state {
                State::Voiced => "voiced",
                State::Unvoiced => "unvoiced",
                State::Uncertain => "uncertain",
            };
            writeln!(out, "{:.3},{:.4},{word}", i as f64 * FRAME_S, f0.map_or(0.0, |f| f.0))?;
        }
        Ok(())
    }

    /// Writes the notes as `start_s,end_s,swara,octave,cents,drift_cents_per_s,wobble_cents,kind`.
    ///
    /// # Errors
    /// Those of `out`.
    pub fn write_notes(&self, out: &mut dyn Write) -> io::Result<()> {
        writeln!(out, "start_s,end_s,swara,octave,cents,drift_cents_per_s,wobble_cents,kind")?;
        for n in &self.notes {
            let word = match n.kind {
                TruthKind::Held => "held",
                TruthKind::Oscillating => "oscillating",
                TruthKind::Gliding => "gliding",
            };
            let (start, end, swara, octave) = (n.start_s, n.end_s, n.swara.short(), n.sthayi.0);
            let (cents, drift, wobble) = (n.offset.0, n.drift_per_s, n.wobble.0);
            writeln!(out, "{start:.3},{end:.3},{swara},{octave},{cents:.2},{drift:.2},{wobble:.2},{word}")?;
        }
        Ok(())
    }
}

/// Measures one note on the written curve.
fn note(start_s: f64, end_s: f64, sung: &Sung, pitch: &dyn Fn(f64) -> Option<f64>) -> TruthNote {
    let margin = ENDS.0.min(ENDS.1 * (end_s - start_s));
    let count = num::index((end_s - start_s - 2.0 * margin) / 0.001);
    let points: Vec<(f64, f64)> = (0..count)
        .filter_map(|i| {
            let t = start_s + margin + i as f64 * 0.001;
            Some((t, pitch(t)? - sung.place()))
        })
        .collect();
    let mut sorted: Vec<f64> = points.iter().map(|p| p.1).collect();
    sorted.sort_by(f64::total_cmp);
    let (drift_per_s, wobble) = line(&points);
    TruthNote {
        start_s,
        end_s,
        swara: sung.swara,
        sthayi: sung.sthayi,
        offset: Cents(sorted.get(sorted.len() / 2).copied().unwrap_or(sung.offset)),
        drift_per_s,
        wobble: Cents(wobble),
        kind: match sung.manner {
            Manner::Held { .. } | Manner::Vibrato { .. } => TruthKind::Held,
            Manner::Kampita { .. } => TruthKind::Oscillating,
            Manner::Glide { .. } => TruthKind::Gliding,
        },
    }
}

/// Slope of the least-squares line through the points, and the deviation about it.
fn line(points: &[(f64, f64)]) -> (f64, f64) {
    let n = points.len().max(1) as f64;
    let (mt, mc) = points.iter().fold((0.0, 0.0), |(t, c), p| (t + p.0 / n, c + p.1 / n));
    let over = points.iter().map(|p| (p.0 - mt) * (p.1 - mc)).sum::<f64>();
    let under = points.iter().map(|p| (p.0 - mt).powi(2)).sum::<f64>();
    let slope = if under > 0.0 { over / under } else { 0.0 };
    let rest = points.iter().map(|p| (p.1 - mc - slope * (p.0 - mt)).powi(2)).sum::<f64>() / n;
    (slope, rest.sqrt())
}

#[cfg(test)]
mod tests {
    use super::super::{Phrase, Singer, sing};
    use super::*;

    #[test]
    fn a_note_is_measured_as_it_was_written() {
        let drifting = Sung::held(Swara::P, 701.955, 3.0).off(-18.0).manner(Manner::Held { drift_per_s: 4.0 });
        let vibrato = Sung::held(Swara::S, 0.0, 3.0).manner(Manner::Vibrato { width: 80.0, hz: 5.0 });
        let phrase = Phrase::new().sing(drifting).rest(0.5).sing(vibrato);
        let truth = sing(&phrase, &Singer::clear(Hertz(196.0)), SampleRate::new(16_000.0).unwrap()).truth;
        let [one, two] = truth.notes[..] else { panic!("two notes") };
        assert!((one.offset.0 - -18.0).abs() < 0.05 && (one.drift_per_s - 4.0).abs() < 0.01);
        assert!(one.wobble.0 < 0.01);
        // A sine of 40 cents has an RMS of 40 / sqrt 2.
        assert!(two.offset.0.abs() < 0.5 && (two.wobble.0 - 28.28).abs() < 0.5 && two.kind == TruthKind::Held);
        assert_eq!(truth.frames.len(), 1300);
        assert_eq!(truth.frames[0].1, State::Uncertain);
        assert_eq!(truth.frames[620].1, State::Unvoiced);
    }
}
