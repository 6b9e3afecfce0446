//! A drone that nobody told us of: found by its lines, taken out, and kept from passing as a voice.
//!
//! In: hops of the microphone, the frames that the tracker made of them, and the chosen Sa. Out: [`Cleaned`] hops once
//! plucked strings are found, and frames in which a drone is no voice.
//!
//! 1. [`lines`]: steady spectral lines with their exact frequencies; a few that are steadier than a throat make a machine, and
//!    if they fade, plucked strings. A reed is left to the tracker, which learns it as floor. A machine is known within a second
//!    of its first sound by what came last alone ([`at_once`]), in noise by lines that stray, but not together ([`together`]);
//!    where nothing else has sounded, what was called a voice until then is forgotten, and none begins that is no louder while its
//!    other strings sound for the first time. Strings whose overtones rise and beat while they fade are told by never keeping a
//!    level ([`swings`]), others that do not fade by their pitches that take turns and pass as a voice ([`rings`]); a drone that
//!    came through a call's codec by how inexact it is and by the phases that it keeps all the same ([`coded`]).
//! 2. [`bank`]: narrow notches at the strings' lines, which learn but where a voice has its harmonics ([`spared`]).
//! 3. The rest is told to the tracker as floor: a share of what was taken, the mean of what is left while there is no voice, and
//!    under a voice, whose harmonics are left alone, what is usually taken there.
//!    What is louder than the drone has been alone is not learned as drone ([`ceiling`]).
//! 4. [`verdict`]: what the tracker still calls a voice must be likelier one than a string, by how far its f0 strays from a
//!    straight line ([`straight`]) and by its level; who is no louder than the drone, by straying for as long as no string does.
//!    It decides without any known drone too, then much in favour of a voice.
//!
//! Cost: one real FFT of 2048 every 40 ms; with strings two of 1024 a hop and the bank on top. Not handled: a drone that is
//! masked by the voice from its first second on, until the voice rests; a first voice on the drone's own pitch that is hardly
//! louder than the drone (3 dB), until it leaves that pitch, grows or has strayed as throats do for a quarter of a second and more.

mod at_once;
mod bank;
mod beside;
mod ceiling;
mod coded;
mod lines;
mod rings;
mod spared;
mod straight;
mod swings;
mod together;
mod turns;
mod verdict;

use super::Cleaned;
use super::newest::Newest;
use super::transform::Transform;
use crate::input::Hop;
use crate::pitch::{self, F0Frame, KNOWN_BINS, KNOWN_FFT, KNOWN_WINDOW, hann};
use crate::units::{Hertz, num};
use bank::Bank;
use ceiling::Ceiling;
use lines::Lines;
pub use lines::{Tone, Tones};
use rings::Rings;
use spared::{Spared, Sung};
use straight::Straight;
use verdict::{Heard, Known, Levels, Verdict};

/// How near to a harmonic a line is covered by it, Hz: the width of the notch and a throat's flutter.
const NEAR_HZ: f64 = 12.0;
/// Power left of the lines against what was taken of them (chosen on sung clips with drones; 0.05 to 0.2 differ little).
const LEFT: f32 = 0.2;
/// How fast the mean of the rest is learned, per hop: half a second.
const REST: f32 = 0.01;
/// The same once somebody was heard who is hardly louder than they are: 1.7 s. A note that is not heard at once would be learned,
/// and never be heard.
const REST_RIVAL: f32 = 0.003;
/// How near the first four harmonics must lie to lines for the f0 to be the drone's: cents, and hertz on top.
const ON_LINE_CENTS: f64 = 12.0;
const ON_LINE_HZ: f64 = 0.7;
/// Above this f0 what is left of a single partial passes as a voice, and its own line decides.
const PARTIAL_HZ: f64 = 450.0;
/// What drones play, against the chosen Sa: low Sa, the first string, Sa and their first harmonics, and the octave under low Sa, of
/// which the first string and Sa are harmonics. A drone is usually at the chosen Sa, and a voice covers the lines that it sings on.
const USUAL: [f64; 8] = [0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0];
/// How near to those, cents: stiff strings are heard up to 12 cents sharp.
const USUAL_CENTS: f64 = 14.0;
/// The low strings, low Sa and Ma or Pa above it, and how far from their pitch f0 is heard when one is plucked for the first time
/// while others ring (measured: 17 to 28 cents).
const LOW: [f64; 3] = [0.5, 2.0 / 3.0, 0.75];
const LOW_CENTS: f64 = 32.0;
/// How fast the mean of what is taken of the drone is learned, per hop: 1.7 s, the greater part of a pluck cycle.
const TAKEN: f32 = 0.003;
/// How much of it is floor where a voice covers the lines (chosen on our own strings under sung Sa, Pa and tara Sa; 0.3 and 1
/// differ by a point of the frames at -6 dB).
const COVERED: f32 = 0.5;
/// Above this, as a ratio to Sa, a single line is no voice's f0 but a partial: a minor third over tara Sa.
const HIGH_OVER_SA: f64 = 2.4;
/// Beside strings any f0 above this is hardly a voice's, as a ratio to Sa, but what is left of their partials: over tara Pa.
const SUNG_OVER_SA: f64 = 3.05;

/// How well phases are kept where what is called a voice is the drone alone, through a codec; and until it is no more.
const KEPT: f32 = 0.85;
const KEPT_STILL: f32 = 0.75;
/// Hops in a row until that is believed: 0.3 s.
const KEPT_HOPS: u32 = 60;
/// Hops for which the notches learn strings that were taken for a voice, and nothing is one: 2 s.
const LEARNING: u32 = 400;

/// Hops in a row without what may be a voice until a machine is alone, 50 ms: the tracker loses a voice for a hop or two where it is
/// not sure of the octave.
const UNCALLED: u32 = 10;

/// So little over the level of the drone alone is no voice yet, dB: in its first second, in which the next string brings 3, and
/// after that until every string was heard; a voice that is softer than the drone by 9 brings half a decibel.
const HARDLY_LOUDER_DB: f64 = 4.0;
const NO_LOUDER_DB: f64 = 0.5;

fn near_harmonic(hz: f64, f0: f64) -> bool {
    let harmonic = (hz / f0).round().max(1.0);
    (hz - harmonic * f0).abs() < NEAR_HZ
}

/// What the tracker calls a voice, beside the drone's pitches.
#[derive(Clone, Copy)]
struct Called {
    f0: Hertz,
    /// One of the drone's own, or beyond what people sing.
    on_pitch: bool,
    /// A single line of the drone above what people sing, or whatever is beyond that.
    beyond: bool,
    /// Neither: none of the drone's other strings, or what it is taken for while they are learned.
    apart: bool,
}

/// Takes an unknown drone out of the microphone.
pub struct ForeignDrone {
    sa: Hertz,
    lines: Lines,
    bank: Bank,
    straight: Straight,
    /// The same of all that is called a voice, doubtful or not.
    throughout: Straight,
    verdict: Verdict,
    rings: Rings,
    ceiling: Ceiling,
    learning: u32,
    /// Hops in a row that were called a voice and kept the drone's phases; whether so many were that it is coded.
    kept: u32,
    passed: bool,
    /// Hops in a row in which nothing was called a voice that may be one, and nothing began.
    uncalled: u32,
    /// Whether the machine that sounds was heard alone as it became known.
    found: bool,
    transform: Transform,
    shape: Vec<f32>,
    /// The microphone as it is, what was taken of it, and what was left.
    heard: Newest,
    taken: Newest,
    cleaned: Newest,
    /// The level of the microphone as it is, as of the last hop, dBFS.
    level: f64,
    /// Mean power of what is left while the drone is alone.
    rest: Vec<f32>,
    /// Power of what was taken of the last hop, and its mean while the drone is alone.
    took: Vec<f32>,
    drone: Vec<f32>,
    left: Vec<f32>,
    spared: Spared,
    /// Whether the last hop came here.
    fed: bool,
}

impl ForeignDrone {
    /// All memory is taken here.
    #[must_use]
    pub fn new(sa: Hertz) -> Self {
        Self {
            sa,
            lines: Lines::new(),
            bank: Bank::new(),
            straight: Straight::new(),
            throughout: Straight::new(),
            verdict: Verdict::default(),
            rings: Rings::default(),
            ceiling: Ceiling::default(),
            learning: 0,
            kept: 0,
            passed: false,
            uncalled: 0,
            found: false,
            transform: Transform::new(KNOWN_FFT),
            shape: hann(KNOWN_WINDOW).map(num::single).collect(),
            heard: Newest::new(),
            taken: Newest::new(),
            cleaned: Newest::new(),
            level: f64::NEG_INFINITY,
            rest: vec![0.0; KNOWN_BINS],
            took: vec![0.0; KNOWN_BINS],
            drone: vec![0.0; KNOWN_BINS],
            left: vec![0.0; KNOWN_BINS],
            spared: Spared::default(),
            fed: false,
        }
    }

    /// The Sa that is chosen, where a drone is expected.
    pub fn expect(&mut self, sa: Hertz) {
        self.sa = sa;
    }

    /// Takes a hop; `None` where no drone is found, and the hop is to be used as it is.
    pub fn clean(&mut self, hop: &Hop) -> Option<Cleaned<'_>> {
        self.fed = true;
        self.heard.push(&hop.voice);
        self.level = self.heard.level();
        self.ceiling.follow(self.level);
        if self.ceiling.begins() {
            // The phases of the drone alone say nothing of what has begun over it.
            self.lines.begin();
            self.verdict.begin();
        }
        let voice = self.spared.f0();
        let looked = self.lines.step(&hop.voice, voice, self.ceiling.is_soft(self.level));
        if !self.strings() {
            self.cleaned.push(&hop.voice);
            return None;
        }
        if looked {
            self.bank.follow(self.lines.lines());
        }
        let louder = self.ceiling.passed(self.level);
        let riddle = self.ceiling.far_passed(self.level) && voice.is_none();
        self.bank.guard(voice, riddle, self.spared.plucked());
        let taken = self.bank.step(&hop.voice, louder);
        let mut cleaned = *hop;
        for (y, d) in cleaned.voice.iter_mut().zip(&taken) {
            *y -= d;
        }
        self.taken.push(&taken);
        self.cleaned.push(&cleaned.voice);
        let spectrum = self.transform.forward(self.taken.windowed(&self.shape));
        for (to, from) in self.took.iter_mut().zip(spectrum) {
            *to = from.norm_sqr();
        }
        // The lines that a voice covers are left in the sound, and fade: some of what is usually taken there is floor.
        let share = if voice.is_some() { COVERED } else { 0.0 };
        for (((to, took), rest), drone) in self.left.iter_mut().zip(&self.took).zip(&self.rest).zip(&self.drone) {
            *to = LEFT * took + rest + share * (drone - took).max(0.0);
        }
        let left = pitch::Known { power: &self.left, exact: false };
        Some(Cleaned { hop: cleaned, left, faint: false, sure: true })
    }

    /// What the tracker made of the hop, less what is the drone.
    #[must_use]
    pub fn judge(&mut self, frame: F0Frame) -> F0Frame {
        let called = frame.f0.filter(|_| frame.voiced).map(|f0| {
            let on_line = self.on_lines(f0.0);
            let over_sa = f0.0 / self.sa.0;
            let outside = self.strings() && self.ceiling.known_for_long() && over_sa > SUNG_OVER_SA;
            let on_pitch = on_line || self.usual(f0) || outside || self.low_string(f0);
            let beyond = outside || on_line && over_sa > HIGH_OVER_SA;
            Called { f0, on_pitch, beyond, apart: !on_pitch && over_sa < HIGH_OVER_SA }
        });
        let machine = self.lines.machine();
        let f0 = called.map(|called| called.f0);
        let strays = self.throughout.step(f0);
        self.verdict.gather(f0, strays, called.is_some_and(|called| called.on_pitch));
        self.ceiling.hear(self.level, machine);
        self.passed &= machine;
        let maybe = called.is_some() && self.verdict.may_be_a_voice();
        self.uncalled = if maybe || self.ceiling.begins() { 0 } else { self.uncalled.saturating_add(1) };
        let only = self.lines.only() || self.lines.apart();
        let still = self.uncalled >= UNCALLED && !self.ceiling.rises();
        let nobody = !self.verdict.sung() && !self.verdict.may_sing();
        if !self.found && still && !self.ceiling.settled() && machine && only && nobody {
            // What was taken for a voice until now was the drone.
            self.verdict.alone(self.level);
            self.found = true;
        }
        self.found &= machine;
        let called = called.filter(|called| !self.drone_alone(*called));
        self.ring(called, frame.level.0);
        let known = if self.strings() {
            if self.coded() { Known::Coded } else { Known::Strings }
        } else if machine {
            Known::Reed
        } else {
            Known::Nothing
        };
        // Its other strings may not have sounded yet: what is no louder than it was alone is one of them.
        let over = if self.ceiling.settled() { NO_LOUDER_DB } else { HARDLY_LOUDER_DB };
        let another = self.found && !self.ceiling.known_for_long() && self.verdict.is_first_below(self.level - over);
        // While strings are learned that were taken for one, none is, but what is louder than the drone has been by itself.
        let learning = self.learning > 0 && !self.ceiling.passed(self.level);
        let doubtful = (learning || another) && !self.verdict.sings();
        let called = called.filter(|called| !doubtful || called.apart);
        let strays = self.straight.step(called.map(|called| called.f0));
        let seen =
            called.map(|Called { on_pitch, beyond, apart, .. }| Heard { strays, on_pitch, beyond, apart, doubtful });
        let louder = self.ceiling.passed(self.level);
        let levels = Levels {
            heard: if known.taken_out() { self.level } else { frame.level.0 },
            left: frame.level.0,
            alone: self.ceiling.under(),
            louder,
        };
        let voiced = self.verdict.step(levels, seen, known);
        if voiced && self.verdict.of_a_voice() {
            if self.ceiling.far_passed(self.level) {
                self.ceiling.sung();
            }
        } else {
            self.ceiling.learn(self.level, known == Known::Nothing);
        }
        if known.taken_out() && !voiced {
            let spectrum = self.transform.forward(self.cleaned.windowed(&self.shape));
            let slowly = known == Known::Strings && self.verdict.rivals();
            let speed = if slowly { REST_RIVAL } else { REST };
            for (rest, new) in self.rest.iter_mut().zip(spectrum) {
                *rest += speed * (new.norm_sqr() - *rest);
            }
            for (drone, took) in self.drone.iter_mut().zip(&self.took) {
                *drone += TAKEN * (took - *drone);
            }
        }
        // While it is not decided, the notches must not learn away what may be a voice.
        // What is left of a partial covers nothing: the harmonics between would be learned away.
        let sung = called.filter(|called| !called.beyond && (voiced || self.verdict.undecided()));
        let string = known == Known::Strings && !self.ceiling.begins();
        let grows = self.ceiling.swells();
        self.spared.step(sung.map(|called| Sung { f0: called.f0.0, string: string && called.on_pitch, grows, voiced }));
        F0Frame { voiced: frame.voiced && voiced, ..frame }
    }

    /// Whether a drone is known to sound whose lines are to be taken out: plucked strings, or one that a codec has made too
    /// unsteady to be learned as floor.
    fn strings(&self) -> bool {
        self.lines.strings() || self.lines.machine() && (self.rings.alone() || self.passed)
    }

    /// Whether a codec has made the drone unsteady.
    fn coded(&self) -> bool {
        self.lines.machine() && (self.passed || self.lines.coded())
    }

    /// Whether what is called a voice is the drone, which passes as one for what a codec has done to it.
    fn drone_alone(&mut self, called: Called) -> bool {
        let enough = if self.kept > 0 { KEPT_STILL } else { KEPT };
        // What has begun over the drone is louder than it; the phases of the last second are the drone's yet.
        let softest = self.lines.machine() && called.on_pitch && self.ceiling.is_softest(self.level);
        let own = softest && !self.lines.sounded_before();
        let kept =
            own && self.lines.kept(called.f0.0).is_some_and(|kept| kept > enough) && self.lines.beside(called.f0.0);
        self.kept = if kept { self.kept.saturating_add(1) } else { 0 };
        self.passed |= self.kept > KEPT_HOPS;
        self.passed && kept
    }

    /// Notices strings that do not fade and pass as a voice.
    fn ring(&mut self, called: Option<Called>, level: f64) {
        if !self.ceiling.passed(self.level) {
            self.learning = self.learning.saturating_sub(1);
        }
        if !self.lines.machine() {
            self.rings.reset();
            return;
        }
        let soft = self.verdict.soft(level) && !self.verdict.is_over_drone(self.level);
        let own = called.map(|called| (called.f0, called.on_pitch && soft));
        let told = self.rings.step(own, level, self.lines.strings());
        if told && (self.ceiling.begins() || self.verdict.may_sing()) {
            // What begins may be a voice, which leaps to its pitch as a string does.
            self.rings.reset();
        } else if told {
            // What was taken for a voice was the drone: its level is no voice's, and the notches need a while.
            self.verdict.reset();
            self.learning = LEARNING;
        }
    }

    /// Whether a drone at the chosen Sa sounds at this f0.
    fn usual(&self, f0: Hertz) -> bool {
        self.near_any(f0, &USUAL, USUAL_CENTS)
    }

    /// Whether this may be one of the low strings, plucked for the first time: while another rings, f0 is not heard exactly.
    fn low_string(&self, f0: Hertz) -> bool {
        let first = self.strings() && !self.ceiling.known_for_long() && self.verdict.is_first();
        first && self.near_any(f0, &LOW, LOW_CENTS)
    }

    /// Whether an f0 is nearer than so many cents to any of these ratios to Sa.
    fn near_any(&self, f0: Hertz, ratios: &[f64], cents: f64) -> bool {
        let apart = |ratio: f64| f0.cents_above(Hertz(ratio * self.sa.0)).map_or(f64::INFINITY, |c| c.0.abs());
        ratios.iter().any(|ratio| apart(*ratio) < cents)
    }

    /// Whether the first harmonics of this f0 are lines, all but one of them.
    fn on_lines(&self, f0: f64) -> bool {
        let is_line = |hz: f64| self.lines.near(hz, hz * ON_LINE_CENTS * std::f64::consts::LN_2 / 1200.0 + ON_LINE_HZ);
        if f0 > PARTIAL_HZ {
            return is_line(f0);
        }
        (1..=4).filter(|k| is_line(f0 * f64::from(*k))).count() >= 3
    }

    /// The strongest tones of the drone that is known to sound.
    #[must_use]
    pub fn tones(&self) -> &Tones {
        self.lines.tones()
    }

    /// Takes a hop and what was heard in it another way, while it is not sure that the drone is the one that is known.
    pub fn listen(&mut self, hop: &Hop, frame: F0Frame) {
        self.clean(hop);
        let _ = self.judge(frame);
    }

    /// A hop goes another way, in which the drone is known: what was heard here ends.
    pub fn pass(&mut self) {
        if self.fed {
            self.reset();
        }
    }

    /// Back to the state of [`ForeignDrone::new`].
    pub fn reset(&mut self) {
        self.lines.reset();
        self.bank.reset();
        self.straight.reset();
        self.throughout.reset();
        self.verdict.reset();
        self.rings.reset();
        self.ceiling.reset();
        self.learning = 0;
        self.kept = 0;
        self.passed = false;
        self.uncalled = 0;
        self.found = false;
        for newest in [&mut self.heard, &mut self.taken, &mut self.cleaned] {
            newest.reset();
        }
        self.level = f64::NEG_INFINITY;
        for power in [&mut self.rest, &mut self.took, &mut self.drone, &mut self.left] {
            power.fill(0.0);
        }
        self.spared.reset();
        self.fed = false;
    }
}

#[cfg(test)]
mod tests;
