//! Estimates Sa of a whole recorded take.
//!
//! In: the hops of the take and the f0 frames of a tracker. Out: [`TonicEstimate`] with runners-up.
//! Method: with a drone, its steady lines; always, how much of the held time and of the phrase ends lies
//! on each pitch class, and whether its Pa or Ma is sung too (of the family of histogram methods that are
//! compared by S. Gulati, A. Bellur, J. Salamon, Ranjani H. G., V. Ishwar, H. A. Murthy and X. Serra,
//! "Automatic Tonic Identification in Indian Art Music: Approaches and Evaluation", Journal of New Music
//! Research 43(1), 2014; weights our own). Cost: as [`crate::tonic`].
//! Without a drone the top two are offered and never adopted silently. Does not handle a Sa that changes
//! within the take.

use crate::input::Hop;
use crate::pitch::F0Frame;
use crate::tonic::held::{Held, OCTAVE, Profiles, class_bin};
use crate::tonic::lines::Lines;
use crate::tonic::roots::{Kind, Roots, folded_cents, roots};
use crate::tonic::{Doubt, MAX_CANDIDATES, Octave, TonicEstimate, candidates};

/// Bins of Pa and Ma above a class (702 and 498 cents, 5 cents a bin).
const PA_BINS: usize = 140;
/// See [`PA_BINS`].
const MA_BINS: usize = 100;
/// What the time held at phrase ends counts on top of being held: as much again.
const ENDING: f64 = 1.0;
/// What a sung Pa and a sung Ma count against the class itself.
const SUPPORT: (f64, f64) = (0.3, 0.1);
/// What the voice counts against a full drone.
const VOICE: f64 = 0.5;
/// A drone of strings or reeds shows at least so many steady lines; a voice's held notes show a few.
const DRONE_LINES: f64 = 7.0;
/// A drone's lines scatter by less from window to window, a voice's held notes by more, dB (chosen by data:
/// drones under song 1 to 9 with a few above, voices alone 13 and more).
const STEADY_DB: f64 = 11.0;
/// Fewer steady lines than this are not a drone.
const FEWEST_DRONE_LINES: usize = 5;
/// A drone's template fits at least so well.
const DRONE_FIT: f64 = 0.6;
/// Less held voice than this says nothing, seconds.
const LEAST_HELD_S: f64 = 1.0;
/// The first leads the second by this share of its evidence, or the doubt is said.
const CLEAR_LEAD: f64 = 0.06;
/// Where the middle of a singer's range lies above madhya Sa, cents: between that of mandra Pa to the
/// upper Sa, a beginner's (351), and of mandra Pa to tara Pa, the trained one (702).
const MIDDLE_CENTS: f64 = 500.0;
/// Classes nearer than this are one, cents.
const SAME_CENTS: f64 = 35.0;
/// As many classes as are weighed.
const MAX_CLASSES: usize = 24;

/// One pitch class and what speaks for it.
#[derive(Debug, Clone, Copy)]
struct Class {
    hz: f64,
    evidence: f64,
}

/// Gathers a take.
pub struct Whole {
    lines: Lines,
    held: Held,
}

impl Default for Whole {
    fn default() -> Self {
        Self::new()
    }
}

impl Whole {
    /// All memory is taken here.
    #[must_use]
    pub fn new() -> Self {
        Self { lines: Lines::new(), held: Held::new() }
    }

    /// Takes a hop and its frame in.
    pub fn push(&mut self, hop: &Hop, frame: &F0Frame) {
        self.lines.push(&hop.voice);
        self.held.push(frame);
    }

    /// Back to the state of [`Whole::new`].
    pub fn reset(&mut self) {
        self.lines.reset();
        self.held.reset();
    }

    /// What all that was taken in says. Never allocates.
    pub fn finish(&mut self) -> TonicEstimate {
        self.held.end_phrase();
        if self.lines.windows() == 0 {
            return TonicEstimate::none(Doubt::TooQuiet);
        }
        let found = self.lines.find().steady(STEADY_DB);
        let roots = roots(found.lines());
        let count = found.lines().len();
        let drone = count >= FEWEST_DRONE_LINES
            && roots.best().is_some_and(|root| root.score >= DRONE_FIT && root.kind != Kind::Single);
        let presence = if drone { (count as f64 / DRONE_LINES).min(1.0) } else { 0.0 };
        let profiles = self.held.profiles();
        let sung = self.held.seconds() >= LEAST_HELD_S;
        let mut classes = [None; MAX_CLASSES];
        gather(&mut classes, &roots, &profiles, presence, sung);
        classes.sort_unstable_by(|a, b| b.map_or(-1.0, |c| c.evidence).total_cmp(&a.map_or(-1.0, |c| c.evidence)));
        let middle = self.held.middle_hz().filter(|_| sung);
        let placed = classes.iter().flatten().take(MAX_CANDIDATES).map(|class| {
            let octave = middle.map_or(0.0, |hz| ((1200.0 * (hz / class.hz).log2() - MIDDLE_CENTS) / 1200.0).round());
            (class.hz * octave.exp2(), class.evidence)
        });
        let list = candidates(placed);
        let doubt = match (classes[0], classes[1]) {
            (None, _) => Some(Doubt::NothingSteady),
            _ if !drone => Some(Doubt::NoDrone),
            (Some(first), Some(second)) if first.evidence - second.evidence < CLEAR_LEAD * first.evidence => {
                Some(Doubt::TwoFit)
            }
            _ => None,
        };
        let octave = if middle.is_some() { Octave::FromRange } else { Octave::Ask };
        TonicEstimate { candidates: list, octave, drone, doubt }
    }
}

/// Lists the classes that the drone or the voice proposes, with their evidence.
fn gather(classes: &mut [Option<Class>; MAX_CLASSES], roots: &Roots, profiles: &Profiles, presence: f64, sung: bool) {
    let voice = |hz: f64| {
        if !sung {
            return 0.0;
        }
        let bin = class_bin(hz);
        let at = profiles.held_at(bin);
        let pa = profiles.held_at((bin + PA_BINS) % OCTAVE).min(at);
        let ma = profiles.held_at((bin + MA_BINS) % OCTAVE).min(at);
        at + ENDING * profiles.ending_at(bin) + SUPPORT.0 * pa + SUPPORT.1 * ma
    };
    let mut slots = classes.iter_mut();
    if presence > 0.0 {
        for (root, slot) in roots.iter().zip(slots.by_ref()) {
            *slot = Some(Class { hz: root.hz, evidence: presence * root.score + VOICE * voice(root.hz) });
        }
    }
    if sung {
        let fresh = profiles
            .peaks()
            .map(|bin| profiles.centre_hz(bin))
            .filter(|hz| presence <= 0.0 || roots.iter().all(|root| folded_cents(root.hz / hz).abs() > SAME_CENTS));
        for (hz, slot) in fresh.zip(slots) {
            *slot = Some(Class { hz, evidence: VOICE * voice(hz) });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tonic::test_sound::{frame, hops, reed, strings, voice};

    /// Notes of one second with a rest after every fourth, in cents above Sa; ends on Sa.
    const SONG: [f64; 16] = [
        0.0, 203.91, 386.31, 701.96, 0.0, 884.36, 701.96, 386.31, 203.91, 0.0, -498.04, 0.0, 1200.0, 884.36, 701.96,
        0.0,
    ];

    /// The sung pitch at a time; unvoiced in the last 0.4 s of every fourth note.
    fn sung(sa: f64, t: f64) -> Option<f64> {
        let note = crate::units::num::index(t.floor()).min(SONG.len() - 1);
        let rest = note % 4 == 3 && t - t.floor() > 0.6;
        // A voice flutters by some cents, as every voice does.
        let flutter = 9.0 * (23.0 * t).sin() + 5.0 * (3.1 * t).sin();
        (!rest).then(|| sa * ((SONG[note] + flutter) / 1200.0).exp2())
    }

    fn listen(sa: f64, drone: Option<Vec<f64>>) -> TonicEstimate {
        let mut sound = voice(16.0, |t| sung(sa, t).unwrap_or(1e-6));
        for (to, from) in sound.iter_mut().zip(drone.unwrap_or_default()) {
            *to += 0.2 * from;
        }
        let mut whole = Whole::new();
        for (i, hop) in hops(&sound).enumerate() {
            whole.push(&hop, &frame(sung(sa, i as f64 * 0.005)));
        }
        whole.finish()
    }

    #[test]
    fn with_a_drone_it_is_sure() {
        for sa in [141.3, 203.6] {
            for drone in [reed(sa, &[1.0, 1.5, 2.0], 16.0), strings(sa, 0.75, 16.0)] {
                let found = listen(sa, Some(drone));
                assert!(folded_cents(found.sure().expect("sure").0 / sa).abs() < 2.0, "{found:?}");
                assert!(found.drone);
                // The song runs from mandra Pa to the upper Sa, so the octave comes out right as well.
                assert!((found.best().unwrap().sa.0 / sa - 1.0).abs() < 0.01);
            }
        }
    }

    #[test]
    fn alone_it_offers_and_does_not_adopt() {
        let found = listen(141.3, None);
        assert_eq!((found.doubt, found.drone, found.sure()), (Some(Doubt::NoDrone), false, None));
        let near = |c: &crate::tonic::Candidate| (1200.0 * (c.sa.0 / 141.3).log2()).abs() < 5.0;
        assert!(found.candidates.iter().flatten().take(2).any(near), "{found:?}");
    }

    #[test]
    fn nothing_is_found_in_nothing() {
        let mut whole = Whole::new();
        assert_eq!(whole.finish().doubt, Some(Doubt::TooQuiet));
        for hop in hops(&vec![0.0; 80_000]) {
            whole.push(&hop, &frame(None));
        }
        assert_eq!(whole.finish().candidates, [None; MAX_CANDIDATES]);
    }
}
