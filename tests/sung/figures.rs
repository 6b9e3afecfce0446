//! The figures of frames and notes, by definitions that any melody evaluation shares.
//!
//! Frames: an estimate belongs to the truth's instants by interpolation in cents between two voiced rows no more than
//! 15 ms apart; RPA n is the share of truly voiced frames that are called voiced and lie within n cents (raw pitch
//! accuracy as in MIREX and mir_eval, except that an unvoiced estimate counts as wrong). Notes: a true held note is
//! found where one reported held note, used for no other, covers half of it; precision is the share of reported held
//! notes that lie by half in a true one.

use crate::truth::{Clip, Frame, State, Sung, target};
use achala::note::Kind;
use achala::take::Heard;

/// Rows farther apart than this are not joined, seconds.
const HOLD_S: f64 = 0.015;
/// True notes from this length on are counted as long ones, seconds.
const LONG_S: f64 = 0.4;
/// Names are only asked where the truth lies this near to its swara, cents.
const NAMED_CENTS: f64 = 45.0;
/// Notes that share this much of either one's length are partners.
const PARTNER: f64 = 0.2;

/// What was measured, pooled over clips.
#[derive(Default)]
pub(crate) struct Facts {
    voiced: f64,
    called: f64,
    unvoiced: f64,
    false_calls: f64,
    octaves: f64,
    errors: Vec<f64>,
    held_errors: Vec<f64>,
    latency: Vec<f64>,
    long: Vec<bool>,
    short: Vec<bool>,
    good: Vec<bool>,
    single: Vec<bool>,
    named: Vec<bool>,
    moving_judged: Vec<bool>,
    offset: Vec<f64>,
    start: Vec<f64>,
    length: Vec<f64>,
    drift: Vec<f64>,
    wobble: Vec<bool>,
}

/// The figures; shares 0 to 1.
#[derive(Debug)]
pub(crate) struct Figures {
    pub(crate) recall: f64,
    pub(crate) false_alarm: f64,
    /// Within 50, 25, 10 and 5 cents.
    pub(crate) rpa: [f64; 4],
    pub(crate) octaves: f64,
    /// Median and 95th percentile, cents.
    pub(crate) error: (f64, f64),
    pub(crate) held_error: f64,
    /// Median and greatest, seconds.
    pub(crate) latency: (f64, f64),
    pub(crate) found: f64,
    pub(crate) found_short: f64,
    pub(crate) precision: f64,
    pub(crate) one_to_one: f64,
    pub(crate) named: f64,
    pub(crate) moving_judged: f64,
    pub(crate) offset: (f64, f64),
    pub(crate) start: (f64, f64),
    pub(crate) length: f64,
    pub(crate) drift: f64,
    pub(crate) wobble: f64,
}

impl Facts {
    pub(crate) fn add(&mut self, clip: &Clip, heard: &Heard) {
        self.frames_from(0.0, clip, heard);
        self.notes(clip, heard);
    }

    /// Frames alone, from so many seconds on: what comes before is learned from.
    pub(crate) fn frames_from(&mut self, from_s: f64, clip: &Clip, heard: &Heard) {
        let rows: Vec<(f64, f64)> = heard
            .frames
            .iter()
            .map(|r| (r.frame.time.seconds(heard.rate), r.frame.f0.filter(|_| r.frame.voiced).map_or(0.0, |f| f.0)))
            .collect();
        self.latency.extend(
            heard.frames.iter().map(|r| r.frame.available.seconds(heard.rate) - r.frame.time.seconds(heard.rate)),
        );
        let held: Vec<(f64, f64)> = clip.notes.iter().filter(|n| n.held).map(middle).collect();
        let mut at = 0;
        for truth in &clip.frames {
            while rows.get(at + 1).is_some_and(|r| r.0 <= truth.time_s + 1e-6) {
                at += 1;
            }
            if truth.time_s < from_s {
                continue;
            }
            self.frame(truth, interpolated(&rows, at, truth.time_s), &held);
        }
    }

    fn frame(&mut self, truth: &Frame, hz: f64, held: &[(f64, f64)]) {
        match truth.state {
            State::Uncertain => {}
            State::Unvoiced => {
                self.unvoiced += 1.0;
                self.false_calls += f64::from(u8::from(hz > 0.0));
            }
            State::Voiced => {
                self.voiced += 1.0;
                if hz <= 0.0 {
                    return;
                }
                self.called += 1.0;
                let error = 1200.0 * (hz / truth.f0_hz).log2();
                let folded = error - 1200.0 * (error / 1200.0).round();
                self.octaves += f64::from(u8::from(error.abs() > 50.0 && folded.abs() <= 50.0));
                self.errors.push(error.abs());
                if held.iter().any(|(from, to)| (*from..=*to).contains(&truth.time_s)) {
                    self.held_errors.push(error.abs());
                }
            }
        }
    }

    fn notes(&mut self, clip: &Clip, heard: &Heard) {
        let said: Vec<Sung> =
            heard.notes.iter().filter(|n| n.kind == Kind::Held).map(|n| reported(n, heard.rate)).collect();
        let (held, moving): (Vec<&Sung>, Vec<&Sung>) = clip.notes.iter().partition(|n| n.held);
        let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
        for (i, truth) in held.iter().enumerate() {
            for (j, note) in said.iter().enumerate() {
                if truth.shared(note) >= 0.5 * truth.length() {
                    pairs.push((truth.shared(note), i, j));
                }
            }
        }
        pairs.sort_by(|a, b| b.0.total_cmp(&a.0));
        let (mut matched, mut used) = (vec![None; held.len()], vec![false; said.len()]);
        for (_, i, j) in pairs {
            if matched[i].is_none() && !used[j] {
                matched[i] = Some(j);
                used[j] = true;
            }
        }
        let partner = |a: &Sung, b: &Sung| a.shared(b) >= PARTNER * a.length().min(b.length());
        for (truth, found) in held.iter().zip(&matched) {
            if truth.length() >= LONG_S {
                self.long.push(found.is_some());
                let partners: Vec<&Sung> = said.iter().filter(|n| partner(truth, n)).collect();
                self.single.push(partners.len() == 1 && held.iter().filter(|t| partner(t, partners[0])).count() == 1);
            } else {
                self.short.push(found.is_some());
            }
            if let Some(j) = found {
                self.pair(truth, &said[*j]);
            }
        }
        self.good.extend(said.iter().map(|n| held.iter().any(|t| t.shared(n) >= 0.5 * n.length())));
        let covered = |t: &Sung| said.iter().any(|n| t.shared(n) >= 0.5 * t.length().min(n.length()));
        self.moving_judged.extend(moving.iter().map(|t| covered(t)));
    }

    fn pair(&mut self, truth: &Sung, note: &Sung) {
        self.offset.push((note.position() - truth.position()).abs());
        self.start.push((note.start_s - truth.start_s).abs());
        self.length.push(((note.length() - truth.length()) / truth.length()).abs());
        if truth.cents.abs() <= NAMED_CENTS {
            self.named.push(note.place == truth.place);
        }
        if truth.length() >= 1.0 {
            self.drift.push((note.drift - truth.drift).abs());
            // Right to 15 % or 1 cent, whichever is more.
            self.wobble.push((note.wobble - truth.wobble).abs() <= (0.15 * truth.wobble).max(1.0));
        }
    }

    pub(crate) fn figures(&self) -> Figures {
        let within = |cents: f64| self.errors.iter().filter(|e| **e <= cents).count() as f64 / self.voiced;
        let near: Vec<f64> = self.errors.iter().copied().filter(|e| *e <= 50.0).collect();
        Figures {
            recall: self.called / self.voiced,
            false_alarm: self.false_calls / self.unvoiced,
            rpa: [50.0, 25.0, 10.0, 5.0].map(within),
            octaves: self.octaves / self.voiced,
            error: (quantile(&near, 0.5), quantile(&near, 0.95)),
            held_error: quantile(&self.held_errors, 0.5),
            latency: (quantile(&self.latency, 0.5), quantile(&self.latency, 1.0)),
            found: share(&self.long),
            found_short: share(&self.short),
            precision: share(&self.good),
            one_to_one: share(&self.single),
            named: share(&self.named),
            moving_judged: share(&self.moving_judged),
            offset: (quantile(&self.offset, 0.5), quantile(&self.offset, 0.95)),
            start: (quantile(&self.start, 0.5), quantile(&self.start, 0.95)),
            length: quantile(&self.length, 0.5),
            drift: quantile(&self.drift, 0.5),
            wobble: share(&self.wobble),
        }
    }
}

fn reported(note: &achala::note::Note, rate: achala::units::SampleRate) -> Sung {
    let place = (note.swara.position(), note.sthayi.0);
    Sung {
        start_s: note.start.seconds(rate),
        end_s: note.end.seconds(rate),
        place,
        cents: note.offset.0,
        target: target(place),
        drift: note.drift_per_s,
        wobble: note.wobble.0,
        held: true,
    }
}

/// The part of a note in which its own figures were taken: 150 ms inside both ends, a quarter of a short one.
fn middle(note: &Sung) -> (f64, f64) {
    let margin = (0.25 * note.length()).min(0.15);
    (note.start_s + margin, note.end_s - margin)
}

/// The estimate at an instant, 0 where there is none; `at` is the newest row not after it.
fn interpolated(rows: &[(f64, f64)], at: usize, time: f64) -> f64 {
    let Some(&(before, low)) = rows.get(at) else { return 0.0 };
    if low <= 0.0 || before > time + 1e-6 || time - before > HOLD_S + 1e-6 {
        return 0.0;
    }
    match rows.get(at + 1) {
        Some(&(after, high)) if high > 0.0 && after - before <= HOLD_S + 1e-6 && after > before => {
            let way = ((time - before) / (after - before)).clamp(0.0, 1.0);
            low * (high / low).powf(way)
        }
        _ => low,
    }
}

fn share(found: &[bool]) -> f64 {
    found.iter().filter(|f| **f).count() as f64 / found.len() as f64
}

/// Linear between order statistics, as numpy's `percentile`.
fn quantile(values: &[f64], share: f64) -> f64 {
    let mut values = values.to_vec();
    values.sort_by(f64::total_cmp);
    let place = share * (values.len().max(1) - 1) as f64;
    let low = values.get(achala::units::num::floor_index(place)).copied().unwrap_or(f64::NAN);
    let high = values.get(achala::units::num::floor_index(place) + 1).copied().unwrap_or(low);
    low + (high - low) * place.fract()
}
