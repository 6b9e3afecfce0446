//! A drone that nobody told us of: found by its lines, taken out, and kept from passing as a voice.
//!
//! In: hops of the microphone, the frames that the tracker made of them, and the chosen Sa. Out: [`Cleaned`] hops once
//! plucked strings are found, and frames in which a drone is no voice.
//!
//! 1. [`lines`]: steady spectral lines with their exact frequencies; a few that are steadier than a throat make a machine, and
//!    if they fade, plucked strings. A reed is left to the tracker, which learns it as floor.
//!    Strings that do not fade are told by their pitches that take turns and pass as a voice ([`rings`]).
//! 2. [`bank`]: narrow notches at the strings' lines, which learn but where a voice has its harmonics.
//! 3. The rest is told to the tracker as floor: a share of what was taken, and the mean of what is left while there is no voice.
//!    What is louder than the drone has been alone is not learned as drone ([`ceiling`]).
//! 4. [`verdict`]: what the tracker still calls a voice must be likelier one than a string, by how far its f0 strays from a
//!    straight line ([`straight`]) and by its level. It decides without any known drone too, then much in favour of a voice.
//!
//! Cost: one real FFT of 2048 every 40 ms; with strings two of 1024 a hop and the bank on top. Not handled: a drone that is
//! masked by the voice from its first second on, until the voice rests; a first voice on the drone's own pitch that is hardly
//! louder than the drone (3 dB), until it leaves that pitch or grows.

mod bank;
mod ceiling;
mod lines;
mod rings;
mod straight;
mod verdict;

use super::Cleaned;
use super::newest::Newest;
use super::transform::Transform;
use crate::input::Hop;
use crate::pitch::{F0Frame, KNOWN_BINS, KNOWN_FFT, KNOWN_WINDOW, hann};
use crate::units::{Hertz, num};
use bank::Bank;
use ceiling::Ceiling;
use lines::Lines;
pub use lines::{Tone, Tones};
use rings::Rings;
use straight::Straight;
use verdict::{Heard, Known, Levels, Verdict};

/// How near to a harmonic a line is covered by it, Hz: the width of the notch and a throat's flutter.
const NEAR_HZ: f64 = 12.0;
/// Power left of the lines against what was taken of them (chosen on sung clips with drones; 0.05 to 0.2 differ little).
const LEFT: f32 = 0.2;
/// How fast the mean of the rest is learned, per hop: half a second.
const REST: f32 = 0.01;
/// How near the first four harmonics must lie to lines for the f0 to be the drone's: cents, and hertz on top.
const ON_LINE_CENTS: f64 = 12.0;
const ON_LINE_HZ: f64 = 0.7;
/// Above this f0 what is left of a single partial passes as a voice, and its own line decides.
const PARTIAL_HZ: f64 = 450.0;
/// What drones play, against the chosen Sa: low Sa, the first string, Sa and their first harmonics. A drone is usually at
/// the chosen Sa, and a voice covers the lines that it sings on.
const USUAL: [f64; 7] = [0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0];
/// How near to those, cents: stiff strings are heard up to 12 cents sharp.
const USUAL_CENTS: f64 = 14.0;
/// Above this, as a ratio to Sa, a single line is no voice's f0 but a partial: a minor third over tara Sa.
const HIGH_OVER_SA: f64 = 2.4;

/// Hops for which the notches learn strings that were taken for a voice, and nothing is one: 2 s.
const LEARNING: u32 = 400;

fn near_harmonic(hz: f64, f0: f64) -> bool {
    let harmonic = (hz / f0).round().max(1.0);
    (hz - harmonic * f0).abs() < NEAR_HZ
}

/// What the tracker calls a voice, beside the drone's pitches.
#[derive(Clone, Copy)]
struct Called {
    f0: Hertz,
    /// One of the drone's own.
    on_pitch: bool,
    /// A single line of the drone, above what people sing.
    high: bool,
}

/// Takes an unknown drone out of the microphone.
pub struct ForeignDrone {
    sa: Hertz,
    lines: Lines,
    bank: Bank,
    straight: Straight,
    verdict: Verdict,
    rings: Rings,
    ceiling: Ceiling,
    learning: u32,
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
    left: Vec<f32>,
    voice: Option<f64>,
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
            verdict: Verdict::default(),
            rings: Rings::default(),
            ceiling: Ceiling::default(),
            learning: 0,
            transform: Transform::new(KNOWN_FFT),
            shape: hann(KNOWN_WINDOW).map(num::single).collect(),
            heard: Newest::new(),
            taken: Newest::new(),
            cleaned: Newest::new(),
            level: f64::NEG_INFINITY,
            rest: vec![0.0; KNOWN_BINS],
            left: vec![0.0; KNOWN_BINS],
            voice: None,
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
        let looked = self.lines.step(&hop.voice, self.voice);
        if !self.strings() {
            self.cleaned.push(&hop.voice);
            return None;
        }
        if looked {
            self.bank.follow(self.lines.lines());
        }
        let louder = self.ceiling.passed(self.level);
        let riddle = self.ceiling.far_passed(self.level) && self.voice.is_none();
        self.bank.guard(self.voice, riddle);
        let taken = self.bank.step(&hop.voice, louder);
        let mut cleaned = *hop;
        for (y, d) in cleaned.voice.iter_mut().zip(&taken) {
            *y -= d;
        }
        self.taken.push(&taken);
        self.cleaned.push(&cleaned.voice);
        let spectrum = self.transform.forward(self.taken.windowed(&self.shape));
        for ((to, from), rest) in self.left.iter_mut().zip(spectrum).zip(&self.rest) {
            *to = LEFT * from.norm_sqr() + rest;
        }
        Some(Cleaned { hop: cleaned, left: &self.left })
    }

    /// What the tracker made of the hop, less what is the drone.
    #[must_use]
    pub fn judge(&mut self, frame: F0Frame) -> F0Frame {
        let called = frame.f0.filter(|_| frame.voiced).map(|f0| {
            let on_line = self.on_lines(f0.0);
            Called { f0, on_pitch: on_line || self.usual(f0), high: on_line && f0.0 > HIGH_OVER_SA * self.sa.0 }
        });
        self.ring(called, frame.level.0);
        let known = if self.strings() {
            Known::Strings
        } else if self.lines.machine() {
            Known::Reed
        } else {
            Known::Nothing
        };
        let called = called.filter(|_| self.learning == 0);
        let strays = self.straight.step(called.map(|called| called.f0));
        let seen = called.map(|Called { on_pitch, high, .. }| Heard { strays, on_pitch, high });
        let louder = self.ceiling.passed(self.level);
        let levels = Levels {
            heard: if known == Known::Strings { self.level } else { frame.level.0 },
            left: frame.level.0,
            louder,
        };
        let voiced = self.verdict.step(levels, seen, known);
        if !(voiced && self.verdict.of_a_voice()) {
            self.ceiling.learn(self.level, known == Known::Nothing);
        }
        if known == Known::Strings && !voiced {
            let spectrum = self.transform.forward(self.cleaned.windowed(&self.shape));
            for (rest, new) in self.rest.iter_mut().zip(spectrum) {
                *rest += REST * (new.norm_sqr() - *rest);
            }
        }
        // While it is not decided, the notches must not learn away what may be a voice.
        self.voice = called.filter(|_| voiced || self.verdict.undecided()).map(|called| called.f0.0);
        F0Frame { voiced: frame.voiced && voiced, ..frame }
    }

    /// Whether plucked strings are known to sound.
    fn strings(&self) -> bool {
        self.lines.strings() || self.lines.machine() && self.rings.alone()
    }

    /// Notices strings that do not fade and pass as a voice.
    fn ring(&mut self, called: Option<Called>, level: f64) {
        self.learning = self.learning.saturating_sub(1);
        if !self.lines.machine() {
            self.rings.reset();
            return;
        }
        let own = called.map(|called| (called.f0, called.on_pitch && self.verdict.soft(level)));
        if self.rings.step(own, level) && !self.lines.strings() {
            // What was taken for a voice was the drone: its level is no voice's, and the notches need a while.
            self.verdict.reset();
            self.learning = LEARNING;
        }
    }

    /// Whether a drone at the chosen Sa sounds at this f0.
    fn usual(&self, f0: Hertz) -> bool {
        let apart = |ratio: f64| f0.cents_above(Hertz(ratio * self.sa.0)).map_or(f64::INFINITY, |c| c.0.abs());
        USUAL.into_iter().any(|ratio| apart(ratio) < USUAL_CENTS)
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
        self.verdict.reset();
        self.rings.reset();
        self.ceiling.reset();
        self.learning = 0;
        for newest in [&mut self.heard, &mut self.taken, &mut self.cleaned] {
            newest.reset();
        }
        self.level = f64::NEG_INFINITY;
        self.rest.fill(0.0);
        self.left.fill(0.0);
        self.voice = None;
        self.fed = false;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drone::{DroneSetting, Kind, render};
    use crate::input::Front;
    use crate::pitch::Tracker;
    use crate::swara::Swara;
    use crate::units::{Cents, SampleRate};
    use crate::voice::{Performance, Phrase, Singer, State, Sung, sing};

    const RATE: f64 = 16_000.0;
    const SA: Hertz = Hertz(146.832);

    fn rate() -> SampleRate {
        SampleRate::new(RATE).unwrap()
    }

    /// A drone whose level over the stretch is as told, dBFS (RMS).
    fn drone(kind: Kind, seconds: f64, level_db: f64) -> Vec<f32> {
        let mut sound = render(&DroneSetting { sa: SA, kind, ..DroneSetting::default() }, rate(), seconds).unwrap();
        let power = sound.iter().map(|x| f64::from(x * x)).sum::<f64>() / sound.len() as f64;
        let gain = num::single(10f64.powf(level_db / 20.0) / power.sqrt());
        sound.iter_mut().for_each(|x| *x *= gain);
        sound
    }

    /// Sa, Ri, Ga, Pa and a rest, so many times, with the flutter of a throat, after a second of nothing; -20 dBFS.
    fn song(times: usize) -> Performance {
        let mut phrase = Phrase::new().rest(1.0);
        for _ in 0..times {
            for (swara, cents, seconds) in
                [(Swara::S, 0.0, 0.8), (Swara::R2, 203.9, 0.6), (Swara::G3, 386.3, 0.6), (Swara::P, 702.0, 0.8)]
            {
                phrase = phrase.sing(Sung::held(swara, cents, seconds).off(6.0));
            }
            phrase = phrase.rest(0.7);
        }
        sing(&phrase, &Singer { flutter: Cents(12.0), ..Singer::clear(SA) }, rate())
    }

    /// The frames of a sound, with or without the foreign drone taken out.
    fn frames(sound: &[f32], taken_out: bool) -> Vec<F0Frame> {
        let (mut front, mut tracker, mut foreign) = (Front::new(rate()), Tracker::new(rate()), ForeignDrone::new(SA));
        let mut found = Vec::new();
        front.push(sound, None, |hop| {
            found.push(if taken_out {
                let frame = match foreign.clean(hop) {
                    Some(Cleaned { hop, left }) => tracker.process_with(&hop, Some(left)),
                    None => tracker.process(hop),
                };
                foreign.judge(frame)
            } else {
                tracker.process(hop)
            });
        });
        found
    }

    fn share(of: impl Iterator<Item = bool>) -> f64 {
        let (mut yes, mut all) = (0, 0);
        for is in of {
            yes += i32::from(is);
            all += 1;
        }
        f64::from(yes) / f64::from(all.max(1))
    }

    /// Shares of the frames in a stretch: sung ones within 25 cents, unsung ones called a voice.
    fn figures(frames: &[F0Frame], song: &Performance, seconds: std::ops::Range<f64>) -> (f64, f64) {
        let timed = frames.iter().map(|f| (f.time.0 as f64 / RATE, f)).filter(|(t, _)| seconds.contains(t));
        let (mut right, mut false_alarm) = (Vec::new(), Vec::new());
        for (t, frame) in timed {
            let heard = frame.f0.filter(|_| frame.voiced);
            let Some((f0, state)) = song.truth.frames.get(num::index((t / crate::voice::truth::FRAME_S).round()))
            else {
                continue;
            };
            match state {
                State::Voiced => {
                    right.push(heard.and_then(|f| f.cents_above((*f0)?)).is_some_and(|apart| apart.0.abs() < 25.0))
                }
                State::Unvoiced => false_alarm.push(heard.is_some()),
                State::Uncertain => {}
            }
        }
        (share(right.into_iter()), share(false_alarm.into_iter()))
    }

    /// Share of a drone alone that is called a voice after two seconds.
    fn called(kind: Kind) -> f64 {
        share(frames(&drone(kind, 15.0, -30.0), true).iter().skip(400).map(|f| f.voiced))
    }

    #[test]
    fn a_reed_alone_is_no_voice() {
        assert!(called(Kind::Reed) < 0.005, "{}", called(Kind::Reed));
    }

    /// Our own model's pairs beat, so that its levels do not fade: told by its level, and by its pitches taking turns.
    #[test]
    fn strings_that_do_not_fade_are_no_voice_after_their_first_second() {
        let found = frames(&drone(Kind::Strings, 25.0, -30.0), true);
        let called = |from, to| share(found.iter().skip(from).take(to - from).map(|f| f.voiced));
        assert!(called(200, 1000) < 0.05, "{}", called(200, 1000));
        assert!(called(1000, 5000) < 0.01, "{}", called(1000, 5000));
    }

    /// Who sings nothing but Sa and Pa over them, and begins late, is heard.
    #[test]
    fn sa_and_pa_over_strings_that_do_not_fade_are_heard() {
        let mut phrase = Phrase::new().rest(10.0);
        for _ in 0..4 {
            for (swara, cents) in [(Swara::S, 0.0), (Swara::P, 702.0)] {
                phrase = phrase.sing(Sung::held(swara, cents, 1.5).off(4.0)).rest(0.6);
            }
        }
        let song = sing(&phrase, &Singer { flutter: Cents(12.0), ..Singer::clear(SA) }, rate());
        let mut sound = song.samples.clone();
        for (x, d) in sound.iter_mut().zip(drone(Kind::Strings, 30.0, -32.0)) {
            *x += d;
        }
        let (right, false_alarm) = figures(&frames(&sound, true), &song, 9.0..27.0);
        assert!(right > 0.95 && false_alarm < 0.05, "{right} {false_alarm}");
    }

    #[test]
    fn without_a_drone_nothing_changes() {
        let song = song(3);
        assert!(frames(&song.samples, true) == frames(&song.samples, false));
        // Nor for the steadiest of singers, twenty seconds on Sa.
        let phrase = Phrase::new().rest(0.5).sing(Sung::held(Swara::S, 0.0, 20.0));
        let held = sing(&phrase, &Singer { flutter: Cents(6.0), ..Singer::clear(SA) }, rate());
        assert!(frames(&held.samples, true) == frames(&held.samples, false));
    }

    /// Strings as other instruments have them: partials that fade by so many decibels a second, one of four plucked every 1.15 s.
    fn plucked(seconds: f64, fade_db_s: f64, level_db: f64) -> Vec<f32> {
        let mut sound = vec![0.0f32; num::index(seconds * RATE)];
        for pluck in 0..num::index(seconds / 1.15) {
            let (start, string) = (pluck as f64 * 1.15, [0.75, 1.0, 1.001, 0.5][pluck % 4]);
            for (i, x) in sound.iter_mut().enumerate().skip(num::index(start * RATE)) {
                let t = i as f64 / RATE - start;
                let fade = 10f64.powf(-fade_db_s / 20.0 * t) * (1.0 - (-t / 0.003).exp());
                if t > 8.0 {
                    break;
                }
                let partial = |k: f64| {
                    let hz = string * SA.0 * k * (1.0 + 0.00002 * k * k);
                    (std::f64::consts::TAU * hz * t + k * k).sin() / k
                };
                *x += num::single(fade * (1..24).map(|k| partial(f64::from(k))).sum::<f64>());
            }
        }
        let power = sound.iter().map(|x| f64::from(x * x)).sum::<f64>() / sound.len() as f64;
        let gain = num::single(10f64.powf(level_db / 20.0) / power.sqrt());
        sound.iter_mut().for_each(|x| *x *= gain);
        sound
    }

    /// A minute over strings that nobody told of, 10 dB softer: it is at its best at once and stays there.
    #[test]
    fn a_minute_over_strings_gets_no_worse() {
        let song = song(17);
        let mut sound = song.samples.clone();
        for (x, d) in sound.iter_mut().zip(plucked(61.0, 8.0, -30.0)) {
            *x += d;
        }
        let found = frames(&sound, true);
        for seconds in [1.0..16.0, 16.0..31.0, 45.0..60.0] {
            let (right, false_alarm) = figures(&found, &song, seconds.clone());
            assert!(right > 0.96 && false_alarm < 0.05, "{seconds:?} s: {right} {false_alarm}");
        }
    }

    /// Sa, Pa and tara Sa in turn, 2 s each, four times: pitches of the drone's, but a singer's.
    fn round(rest: f64, off: f64, flutter: f64) -> Performance {
        let mut phrase = Phrase::new().rest(2.0);
        for _ in 0..4 {
            for (swara, cents) in [(Swara::S, 0.0), (Swara::P, 702.0), (Swara::S, 1200.0)] {
                phrase = phrase.sing(Sung::held(swara, cents, 2.0).off(off)).rest(rest);
            }
        }
        sing(&phrase, &Singer { flutter: Cents(flutter), ..Singer::clear(SA) }, rate())
    }

    fn over(song: &Performance, drone: &[f32]) -> Vec<F0Frame> {
        let mixed: Vec<f32> = song.samples.iter().zip(drone).map(|(x, d)| x + d).collect();
        frames(&mixed, true)
    }

    #[test]
    fn a_round_on_the_drones_own_pitches_is_heard_over_a_reed() {
        for (rest, off, flutter, reed_db) in
            [(0.6, 4.0, 12.0, -32.0), (0.6, 0.0, 5.0, -32.0), (0.6, 3.0, 12.0, -26.0), (0.0, 2.0, 12.0, -32.0)]
        {
            let song = round(rest, off, flutter);
            let (right, false_alarm) = figures(&over(&song, &drone(Kind::Reed, 40.0, reed_db)), &song, 1.0..32.0);
            assert!(right > 0.975 && false_alarm < 0.005, "{rest} {off} {flutter} {reed_db}: {right} {false_alarm}");
        }
    }

    #[test]
    fn a_round_on_the_drones_own_pitches_is_heard_over_strings() {
        let own = drone(Kind::Strings, 40.0, -32.0);
        let plucked = plucked(40.0, 8.0, -32.0);
        for (name, strings, rest, least) in [
            ("even", &own, 0.6, 0.975),
            ("even, no rests", &own, 0.0, 0.975),
            ("fading", &plucked, 0.6, 0.955),
            ("fading, no rests", &plucked, 0.0, 0.975),
        ] {
            let song = round(rest, 3.0, 12.0);
            let found = over(&song, strings);
            let (first, _) = figures(&found, &song, 1.0..9.0);
            let (right, false_alarm) = figures(&found, &song, 9.0..32.0);
            assert!(first > 0.84 && right > least && false_alarm < 0.07, "{name}: {first} {right} {false_alarm}");
        }
    }

    #[test]
    fn reset_is_a_new_start() {
        let sound = plucked(4.0, 8.0, -30.0);
        let (mut front, mut foreign) = (Front::new(rate()), ForeignDrone::new(SA));
        let mut run = |foreign: &mut ForeignDrone| {
            let mut sum = Vec::new();
            front.push(&sound, None, |hop| sum.push(foreign.clean(hop).map(|c| (c.hop.voice, c.left.to_vec()))));
            front.reset();
            foreign.reset();
            sum
        };
        let once = run(&mut foreign);
        assert!(once.iter().flatten().count() > 100);
        assert!(once == run(&mut foreign));
    }
}
