//! Listening for Sa in the window: what was found, in words, and each Sa that may be taken.
//!
//! In: the capture under way. Out: [`FindingView`]. Where Sa is sure and a voice sang it, it is taken over at once; a drone does
//! not tell the octave, so it is asked; where it is not sure, the reason stands beside the candidates.

use super::Session;
use crate::editor::view::{FindingView, Offer, View};
use crate::shell::capture::{Capture, Heard};
use crate::shell::params::AchalaParams;
use crate::swara::tonic::{parts, said};
use crate::tonic::comfort::Comfort;
use crate::tonic::{Octave, TonicEstimate};
use crate::units::{Cents, Hertz, num};

/// The registers in which a drone's Sa is offered, semitones: about the one that was heard.
const OCTAVES: [f64; 3] = [0.0, 1.0, -1.0];
/// Candidates that are offered where it is not sure.
const UNSURE: usize = 2;

/// How long the Sa before is offered, seconds.
const BACK_S: f64 = 30.0;
/// A Sa is set no finer than this, cents.
const KNOB_CENTS: f64 = 1.0;

/// What became of a capture.
pub(super) struct Finding {
    pub(super) capture: Option<Capture>,
    pub(super) range: bool,
    heard: Heard,
}

impl Finding {
    /// Begins.
    pub(super) fn new(capture: Capture, range: bool) -> Self {
        Self { capture: Some(capture), range, heard: Heard::Listening(0.0) }
    }

    /// The button came up.
    pub(super) fn enough(&mut self, a4: Hertz) {
        if let Some(mut capture) = self.capture.take() {
            self.heard = capture.finish(a4);
        }
    }
}

/// Goes on listening, and fills in how far it is.
pub(super) fn fill(session: &mut Session, params: &AchalaParams, view: &mut View) {
    let Some(finding) = &mut session.finding else {
        view.finding = None;
        return;
    };
    let a4 = Hertz(f64::from(params.concert_pitch.value()));
    if let Some(capture) = &mut finding.capture {
        finding.heard = capture.gather();
        if let Heard::Sa(estimate) = finding.heard {
            finding.capture = None;
            // A voice that sang Sa has said its octave too.
            session.adopt = estimate.sure().filter(|_| estimate.octave == Octave::Sung);
        }
    }
    view.finding = Some(match finding.heard {
        Heard::Listening(seconds) => {
            FindingView { heard_s: Some(seconds), range: finding.range, ..FindingView::default() }
        }
        Heard::Sa(estimate) => of_estimate(&estimate, view.sa, a4),
        Heard::Range(Ok(comfort)) => of_comfort(&comfort, a4),
        Heard::Range(Err(doubt)) => FindingView { range: true, told: doubt.to_string(), ..FindingView::default() },
    });
}

/// The Sa that may be had back for a while: nobody was asked before another was taken over.
pub(super) fn before(session: &Session, now: Hertz, time_s: f64, a4: Hertz) -> Option<(Hertz, String)> {
    let (taken_s, old, new) = session.before?;
    let apart = |a: Hertz, b: Hertz| a.cents_above(b).is_none_or(|cents| cents.0.abs() >= KNOB_CENTS);
    let stands = time_s - taken_s < BACK_S && !apart(now, new) && apart(old, new);
    stands.then(|| (old, name(old, a4)))
}

/// "D3 −4 c · 2 kattai".
pub(super) fn name(sa: Hertz, a4: Hertz) -> String {
    let Some((pitch_class, octave, trim)) = parts(sa, a4) else { return format!("{:.1} Hz", sa.0) };
    // What was heard is no surer than a cent.
    said(pitch_class, i32::from(octave), Cents(trim.0.round()))
}

fn of_estimate(estimate: &TonicEstimate, now: Hertz, a4: Hertz) -> FindingView {
    let octaves = |sa: Hertz| {
        // From the register nearest to the Sa in force outwards.
        let near = now.cents_above(sa).map_or(0.0, |c| (c.0 / 1200.0).round());
        OCTAVES.map(|octave| sa.up(Cents(1200.0 * (near + octave))))
    };
    let offer = |sa: Hertz, reason: &str| Offer { sa, name: name(sa, a4), reason: reason.to_owned() };
    let best = estimate.sure();
    let (told, offers): (String, Vec<Offer>) = match (best, estimate.octave) {
        (Some(sa), Octave::Sung) => {
            // Only who has gone back may want it again.
            let left = sa.cents_above(now).is_none_or(|apart| apart.0.abs() >= KNOB_CENTS);
            let offers = left.then(|| offer(sa, "as it was sung")).into_iter().collect();
            (format!("Sa is {}: taken over.", name(sa, a4)), offers)
        }
        (Some(sa), Octave::FromRange) => {
            ("Sa was found; its register is likely, not certain.".to_owned(), vec![offer(sa, "from the range")])
        }
        (Some(sa), Octave::Ask) => {
            let asked = "Sa was found. A drone alone does not tell the register: which one is yours?".to_owned();
            (asked, octaves(sa).map(|sa| offer(sa, &format!("{:.1} Hz", sa.0))).to_vec())
        }
        (None, _) => {
            let doubt = estimate.doubt.map_or_else(|| "not sure".to_owned(), |doubt| doubt.to_string());
            let candidates = estimate.candidates.iter().flatten().take(UNSURE);
            let share = |c: f32| format!("{} % of what speaks for any", num::int(100.0 * f64::from(c)));
            (doubt, candidates.map(|c| offer(c.sa, &share(c.confidence))).collect())
        }
    };
    FindingView { heard_s: None, range: false, told, offers }
}

fn of_comfort(comfort: &Comfort, a4: Hertz) -> FindingView {
    let told = format!(
        "At ease from {} to {}. Where mandra Pa to tara Pa lie within reach (a teacher decides):",
        name(comfort.low, a4),
        name(comfort.high, a4)
    );
    let offer = |s: &crate::tonic::comfort::Suggestion| Offer { sa: s.sa, name: name(s.sa, a4), reason: s.reason(a4) };
    FindingView { heard_s: None, range: true, told, offers: comfort.suggestions.iter().flatten().map(offer).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tonic::{Candidate, Doubt, MAX_CANDIDATES};

    fn estimate(octave: Octave, doubt: Option<Doubt>) -> TonicEstimate {
        let mut candidates = [None; MAX_CANDIDATES];
        candidates[0] = Some(Candidate { sa: Hertz(146.832), confidence: 0.6 });
        candidates[1] = Some(Candidate { sa: Hertz(220.0), confidence: 0.4 });
        TonicEstimate { candidates, octave, drone: true, doubt }
    }

    #[test]
    fn the_register_is_asked_where_a_drone_does_not_tell_it() {
        let found = of_estimate(&estimate(Octave::Ask, None), Hertz(290.0), Hertz(440.0));
        let hz: Vec<f64> = found.offers.iter().map(|o| o.sa.0.round()).collect();
        assert_eq!(hz, [294.0, 587.0, 147.0]);
        assert_eq!(found.offers[0].name, "D4 · 2 kattai");
    }

    #[test]
    fn not_sure_says_why_and_offers_the_first_two() {
        let found = of_estimate(&estimate(Octave::Ask, Some(Doubt::TwoFit)), Hertz(146.8), Hertz(440.0));
        assert!(found.told.contains("two notes fit"), "{}", found.told);
        assert_eq!(found.offers.len(), 2);
        assert_eq!(found.offers[1].reason, "40 % of what speaks for any");
    }
}
