//! Takes Sa from what sounds while a button is held: a drone, or a voice that sings Sa.
//!
//! In: hops and f0 frames from the moment the button goes down. Out: after 3 s for a reed or a voice,
//! some 6 to 10 s for plucked strings (two plucks of the low Sa), 15 s at most, a [`TonicEstimate`]; its
//! doubt is set rather than a wrong Sa adopted. Method: steady lines against drone templates
//! ([`crate::tonic::roots`]); a voice by the median of its f0. The pitch class of a steady reed within 2
//! cents, of plucked strings within 3. Cost: as [`crate::tonic`]; a search of the lines every half
//! second. Does not handle a drone under loud talk.

use crate::input::Hop;
use crate::pitch::F0Frame;
use crate::tonic::lines::{Found, Lines};
use crate::tonic::roots::{Kind, Root, Roots, folded_cents, roots};
use crate::tonic::{Doubt, MAX_CANDIDATES, Octave, TonicEstimate, candidates};

/// Hops in a second.
const HOPS_PER_S: u32 = 200;
/// The first look, hops: 2.5 s, when the first two windows are full.
const FIRST_LOOK: u32 = 500;
/// From one look to the next, hops: half a second.
const LOOK_EVERY: u32 = 100;
/// The soonest answer, hops: 3 s.
const SOONEST: u32 = 3 * HOPS_PER_S;
/// The soonest answer for plucked strings whose template leads clearly, hops: 6 s, a full cycle of
/// plucks (common practice: 4 to 6 s).
const SOONEST_PLUCKED: u32 = 6 * HOPS_PER_S;
/// The soonest answer for other plucked strings, hops: 10 s.
const LATER_PLUCKED: u32 = 10 * HOPS_PER_S;
/// The latest answer, hops: 15 s.
const LATEST: u32 = 15 * HOPS_PER_S;
/// f0 kept for the voice's median.
const MAX_F0: usize = 3_000;
/// Hops of one look at the level: 0.1 s, shorter than any time between plucks.
const LEVEL_HOPS: u32 = 20;
/// A sound whose level stays within this is a reed, dB (over 3 s: reeds 1.8 to 2.2; plucked strings mostly 5 and more, those
/// that ring on 2 to 3.5, and then the soonest answer of a reed is now and then their Pa: from 3.4 on).
const REED_DB: f64 = 3.0;
/// The level is followed from here on, hops: 0.3 s, when the room has filled.
const LEVEL_FROM: u32 = 60;
/// A template that fits less well is no answer.
const LEAST_FIT: f64 = 0.6;
/// How far the best must lead: clearly, and at all (chosen by data: the Pa of a string drone, heard as
/// Sa with Ma strings, trails by 0.03 and more after 8 s).
const LEAD: (f64, f64) = (0.05, 0.025);
/// Two looks agree within this, cents.
const AGREE_CENTS: f64 = 1.0;
/// A voice sounds in at least this share of the frames.
const VOICED_SHARE: f64 = 0.6;
/// The middle half of a held Sa's frames lies within this, cents: over a beginner's waver.
const VOICE_SPREAD_CENTS: f64 = 60.0;
/// A reed's or string's frames lie nearer together than this, cents; a voice's do not (every voice
/// flutters by a few cents).
const FLUTTER_CENTS: f64 = 1.0;
/// The voice's f0 and the lines mean the same tone within this, cents: a held voice's median and its mean
/// spectrum differ by a few.
const SAME_TONE_CENTS: f64 = 12.0;

/// What the button shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Capture {
    /// Still listening; seconds heard, of at most 15.
    Listening {
        /// Seconds so far.
        heard_s: f64,
    },
    /// Done; push does nothing more until [`Taker::start`].
    Done(TonicEstimate),
}

/// Listens while the button is held.
pub struct Taker {
    lines: Lines,
    f0_cents: Vec<f64>,
    sorted: Vec<f64>,
    frames: u32,
    hops: u32,
    last_look_hz: Option<f64>,
    /// Power of the 0.1 s that is being heard, and the lowest and highest so far.
    power: f64,
    power_extremes: Option<(f64, f64)>,
    done: Option<TonicEstimate>,
}

impl Default for Taker {
    fn default() -> Self {
        Self::new()
    }
}

/// A voice that holds a tone: its median and how far the middle half of its frames lies apart.
#[derive(Debug, Clone, Copy)]
struct Voice {
    hz: f64,
    spread_cents: f64,
}

impl Taker {
    /// All memory is taken here.
    #[must_use]
    pub fn new() -> Self {
        Self {
            lines: Lines::new(),
            f0_cents: Vec::with_capacity(MAX_F0),
            sorted: Vec::with_capacity(MAX_F0),
            frames: 0,
            hops: 0,
            last_look_hz: None,
            power: 0.0,
            power_extremes: None,
            done: None,
        }
    }

    /// The button goes down: forget what was.
    pub fn start(&mut self) {
        self.lines.reset();
        self.f0_cents.clear();
        (self.frames, self.hops) = (0, 0);
        (self.last_look_hz, self.done) = (None, None);
        (self.power, self.power_extremes) = (0.0, None);
    }

    /// Takes a hop and the frame that came with it. Never allocates.
    pub fn push(&mut self, hop: &Hop, frame: &F0Frame) -> Capture {
        if let Some(done) = self.done {
            return Capture::Done(done);
        }
        self.lines.push(&hop.voice);
        self.hops += 1;
        self.frames += 1;
        self.weigh_level(hop);
        if let Some(f0) = frame.f0.filter(|f0| frame.voiced && f0.0.is_finite() && f0.0 > 0.0)
            && self.f0_cents.len() < MAX_F0
        {
            self.f0_cents.push(1200.0 * f0.0.log2());
        }
        if self.hops >= FIRST_LOOK && (self.hops - FIRST_LOOK).is_multiple_of(LOOK_EVERY) {
            self.done = self.look();
        }
        match self.done {
            Some(done) => Capture::Done(done),
            None => Capture::Listening { heard_s: f64::from(self.hops) / f64::from(HOPS_PER_S) },
        }
    }

    /// The button comes up, or the recording ends: what can be said now.
    pub fn finish(&mut self) -> TonicEstimate {
        let now = self.done.unwrap_or_else(|| self.last_word());
        self.done = Some(now);
        now
    }

    /// Follows the level in steps of 0.1 s.
    fn weigh_level(&mut self, hop: &Hop) {
        let square = |sample: &f32| if sample.is_finite() { f64::from(*sample).powi(2) } else { 0.0 };
        self.power += hop.voice.iter().map(square).sum::<f64>();
        if self.hops <= LEVEL_FROM {
            self.power = 0.0;
        } else if self.hops.is_multiple_of(LEVEL_HOPS) {
            let (low, high) = self.power_extremes.unwrap_or((self.power, self.power));
            self.power_extremes = Some((low.min(self.power), high.max(self.power)));
            self.power = 0.0;
        }
    }

    /// How far the level of the 0.1 s steps lies apart, dB: little for a reed, more for plucks and voices.
    fn level_range_db(&self) -> f64 {
        // 1e-12 keeps the logarithm finite in silence.
        self.power_extremes.map_or(0.0, |(low, high)| 10.0 * ((high + 1e-12) / (low + 1e-12)).log10())
    }

    /// The steady voice, if one sounds.
    fn voice(&mut self) -> Option<Voice> {
        let enough = self.f0_cents.len() as f64 >= VOICED_SHARE * f64::from(self.frames);
        if !enough || self.f0_cents.len() < 4 {
            return None;
        }
        self.sorted.clear();
        self.sorted.extend_from_slice(&self.f0_cents);
        self.sorted.sort_unstable_by(f64::total_cmp);
        let at = |share: usize| self.sorted.get(self.sorted.len() * share / 4).copied();
        let (low, middle, high) = (at(1)?, at(2)?, at(3)?);
        Some(Voice { hz: (middle / 1200.0).exp2(), spread_cents: high - low })
            .filter(|voice| voice.spread_cents <= VOICE_SPREAD_CENTS)
    }

    /// An answer, if it is time and sure.
    fn look(&mut self) -> Option<TonicEstimate> {
        let found = self.lines.find();
        let roots = roots(found.lines());
        let voice = self.voice();
        let sung = voice.filter(|voice| sung_alone(voice, &roots, &found));
        if let Some(voice) = sung.filter(|_| self.hops >= SOONEST) {
            return Some(of_voice(&voice));
        }
        let best = roots.best().filter(|root| root.score >= LEAST_FIT);
        let steady = match (best, self.last_look_hz) {
            (Some(root), Some(hz)) => folded_cents(root.hz / hz).abs() <= AGREE_CENTS,
            _ => false,
        };
        self.last_look_hz = best.map(|root| root.hz);
        let lead = roots.lead();
        let soonest = if self.level_range_db() < REED_DB {
            SOONEST
        } else if lead >= LEAD.0 {
            SOONEST_PLUCKED
        } else {
            LATER_PLUCKED
        };
        if let Some(root) = best.filter(|_| steady && lead >= LEAD.1 && self.hops >= soonest) {
            return Some(of_drone(&roots, root, None));
        }
        (self.hops >= LATEST).then(|| self.last_word())
    }

    /// The answer when there is no more time.
    fn last_word(&mut self) -> TonicEstimate {
        if self.lines.windows() == 0 {
            return TonicEstimate::none(Doubt::TooQuiet);
        }
        let found = self.lines.find();
        let roots = roots(found.lines());
        if let Some(voice) = self.voice().filter(|voice| sung_alone(voice, &roots, &found)) {
            return of_voice(&voice);
        }
        match roots.best() {
            Some(root) if root.score >= LEAST_FIT => {
                let too_soon = self.hops < SOONEST;
                let doubt = (roots.lead() < LEAD.1 || too_soon).then_some(Doubt::TwoFit);
                of_drone(&roots, root, doubt)
            }
            _ => TonicEstimate::none(Doubt::NothingSteady),
        }
    }
}

/// Whether the f0 is that of a voice which sounds alone: it flutters, and the lines are its own, its
/// fundamental among them, or too unsteady to be any drone's.
fn sung_alone(voice: &Voice, roots: &Roots, found: &Found) -> bool {
    let apart = |hz: f64| (1200.0 * (hz / voice.hz).log2()).abs();
    let lines_agree = match roots.best() {
        Some(root) if root.score >= LEAST_FIT => {
            root.kind == Kind::Single
                && folded_cents(root.hz / voice.hz).abs() < SAME_TONE_CENTS
                && found.lines().iter().any(|line| apart(line.hz) < SAME_TONE_CENTS)
        }
        _ => true,
    };
    voice.spread_cents >= FLUTTER_CENTS && lines_agree
}

/// The estimate of a voice.
fn of_voice(voice: &Voice) -> TonicEstimate {
    let list = candidates(std::iter::once((voice.hz, 1.0)));
    TonicEstimate { candidates: list, octave: Octave::Sung, drone: false, doubt: None }
}

/// The estimate of a drone.
fn of_drone(roots: &Roots, best: Root, doubt: Option<Doubt>) -> TonicEstimate {
    let list = candidates(roots.iter().take(MAX_CANDIDATES).map(|root| (root.hz, root.score)));
    TonicEstimate { candidates: list, octave: Octave::Ask, drone: best.kind != Kind::Single, doubt }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tonic::test_sound::{frame, hops, noise, reed, strings, voice};

    /// Holds the button over a sound; the answer and after how many seconds it came.
    fn hold(taker: &mut Taker, sound: &[f64], f0: impl Fn(f64) -> Option<f64>) -> (TonicEstimate, f64) {
        taker.start();
        let mut seconds = 0.0;
        for hop in hops(sound) {
            seconds += 0.005;
            if let Capture::Done(done) = taker.push(&hop, &frame(f0(seconds))) {
                return (done, seconds);
            }
        }
        (taker.finish(), seconds)
    }

    fn apart(estimate: &TonicEstimate, sa: f64) -> f64 {
        folded_cents(estimate.sure().expect("sure").0 / sa)
    }

    #[test]
    fn a_reed_in_three_seconds_within_two_cents() {
        let mut taker = Taker::new();
        for sa in [98.7, 131.1, 146.0, 188.8, 224.88, 262.4] {
            for tones in [&[1.0, 1.5, 2.0][..], &[1.0, 4.0 / 3.0, 2.0], &[1.0, 2.0]] {
                let (done, seconds) = hold(&mut taker, &reed(sa, tones, 4.0), |_| Some(sa));
                assert!(apart(&done, sa).abs() < 2.0, "{sa} {tones:?} {done:?}");
                assert!(seconds < 3.51, "{seconds}");
                assert_eq!(done.octave, Octave::Ask);
            }
        }
    }

    #[test]
    fn plucked_strings_within_three_cents_in_fifteen_seconds() {
        let mut taker = Taker::new();
        for sa in [110.3, 132.1, 146.9, 218.5, 255.5] {
            for first in [0.75, 2.0 / 3.0, 15.0 / 16.0] {
                let (done, seconds) = hold(&mut taker, &strings(sa, first, 16.0), |_| None);
                assert!(apart(&done, sa).abs() < 3.0, "{sa} {first} {done:?}");
                assert!(seconds < 15.01, "{seconds}");
            }
        }
    }

    /// Our own strings, the button pressed anywhere in their cycle: right, or not sure.
    #[test]
    fn strings_begun_anywhere_in_the_cycle_are_never_taken_for_another_sa() {
        use crate::drone::{DroneSetting, render};
        use crate::units::{Hertz, SampleRate};
        let rate = SampleRate::new(16_000.0).unwrap();
        for sa in [130.81, 146.83, 220.0] {
            let sound = render(&DroneSetting { sa: Hertz(sa), ..DroneSetting::default() }, rate, 24.0).unwrap();
            for tenths in (10..70).step_by(7) {
                let from = crate::units::num::index(f64::from(tenths) * 1_600.0);
                let heard: Vec<f64> = sound[from..from + 16 * 16_000].iter().map(|x| f64::from(*x)).collect();
                let (done, seconds) = hold(&mut Taker::new(), &heard, |_| None);
                if done.sure().is_some() {
                    assert!(apart(&done, sa).abs() < 3.0, "{sa} {tenths} {done:?} after {seconds}");
                }
            }
        }
    }

    #[test]
    fn a_voice_in_its_own_octave() {
        let waver = |t: f64| 233.0 * ((8.0 * (31.0 * t).sin() + 4.0 * (5.0 * t).sin()) / 1200.0).exp2();
        let (done, seconds) = hold(&mut Taker::new(), &voice(4.0, waver), |t| Some(waver(t)));
        assert!((1200.0 * (done.sure().unwrap().0 / 233.0).log2()).abs() < 2.0, "{done:?}");
        assert_eq!((done.octave, done.drone), (Octave::Sung, false));
        assert!(seconds < 3.01, "{seconds}");
    }

    #[test]
    fn a_reed_that_a_tracker_mishears_is_still_a_reed() {
        let misheard = |t: f64| Some(54.0 + 0.5 * (40.0 * t).sin());
        let (done, _) = hold(&mut Taker::new(), &reed(218.5, &[1.0, 2.0], 4.0), misheard);
        assert!(apart(&done, 218.5).abs() < 2.0, "{done:?}");
        assert_eq!(done.octave, Octave::Ask);
    }

    #[test]
    fn not_sure_rather_than_wrong() {
        let mut taker = Taker::new();
        let silence = vec![0.0; 16_000 * 16];
        assert_eq!(hold(&mut taker, &silence, |_| None).0.doubt, Some(Doubt::TooQuiet));
        assert_eq!(hold(&mut taker, &noise(0.1, 16.0), |_| None).0.doubt, Some(Doubt::NothingSteady));
        let glide = |t: f64| 150.0 * (t / 8.0).exp2();
        let (slid, _) = hold(&mut taker, &voice(16.0, glide), |t| Some(glide(t)));
        assert!(slid.sure().is_none(), "{slid:?}");
        let (short, _) = hold(&mut taker, &reed(150.0, &[1.0, 1.5, 2.0], 2.7), |_| None);
        assert!(short.sure().is_none(), "{short:?}");
        assert!(hold(&mut taker, &vec![f64::NAN; 16_000 * 4], |_| Some(f64::NAN)).0.sure().is_none());
    }

    #[test]
    fn starting_again_forgets() {
        let mut taker = Taker::new();
        let first = hold(&mut taker, &reed(150.0, &[1.0, 1.5, 2.0], 4.0), |_| None);
        hold(&mut taker, &noise(0.1, 4.0), |_| Some(300.0));
        assert_eq!(hold(&mut taker, &reed(150.0, &[1.0, 1.5, 2.0], 4.0), |_| None), first);
    }
}
