//! Learns the drone's way from the loudspeaker to the microphone while both go on.
//!
//! In: hops of the drone as sent and of the microphone, 16 kHz, and the f0 of a voice where there is one. Out: from time to
//! time, new taps of the path: 255 ms up to 4 kHz, and by how many hops they are late.
//!
//! Method: a Kalman filter in the frequency domain (Enzner and Vary 2006), one complex gain a bin with its own
//! uncertainty, at 8 kHz. Against the paper's rectangular blocks, the update sees the last second through a Hann window:
//! the partials of a voice then stay in few bins and leave the others clean, and so do the drone's (by 4 to 10 dB more of
//! it removed on own mixtures). The error in that window is computed anew with the newest path, so that nothing
//! old is counted. A bin in which the path is known is left alone while a voice has a harmonic there ([`Harmonics`]): a true
//! Sa is coherent with the drone. What lies outside the voice tells by its coherence with the drone that the path has
//! changed; the uncertainty is then raised everywhere (beside a voice not above what it was). Where the path begins comes
//! from [`Delay`], while it is not known. What one tap explains is taken before all else ([`Echo`]).
//! A microphone that is ahead of the drone is hardly learned: nothing can be foretold. So whoever makes a drone tells it
//! before it is sent.
//! Cost: an update is seven or eight real FFTs of 8192 and 10240, one a hop, every 65 ms while the path is not known, with
//! three of the search, else every 260 ms.

use super::delay::{Delay, LATEST};
use super::echo::Echo;
use super::half::{Half, OUT, SIDE, between, double};
use super::harmonics::Harmonics;
use super::line::Line;
use super::transform::Transform;
use crate::input::{ANALYSIS_RATE_HZ, HOP};
use crate::pitch::{KNOWN_BINS, KNOWN_FFT, hann};
use crate::units::{Hertz, num};
use realfft::num_complex::Complex;
use std::f64::consts::LN_10;

/// Hops that the path lasts: 255 ms.
pub(super) const HOPS: usize = 51;
/// Hops by which it may begin late.
pub(super) const LATEST_HOPS: usize = LATEST / OUT;
/// Taps at 8 kHz.
const TAPS: usize = HOPS * OUT;
/// The window that an update sees, samples at 8 kHz: 1.02 s, long against the path.
const WINDOW: usize = 8192;
const BINS: usize = WINDOW / 2 + 1;
/// Transform in which the path's output over a whole window does not wrap: 10240.
const LONG: usize = 5 << 11;
/// A delay up to this leaves the path where it is, samples at 8 kHz: it begins with the sending, and there is room enough.
const NEAR: usize = 160;
/// One that is shorter is moved, where the path can begin sooner: 1 ms.
const AT_ONCE: usize = 8;
/// What arrives within so many samples of its telling is learned badly: 2 ms.
const ROUGH_TO: usize = 16;
/// The path begins so much before the delay that was found: 10 ms, since the greatest echo need not be the first.
const EARLY: usize = 80;
/// Hops from one update to the next while the path is not known, 65 ms.
const SOON: usize = 13;
/// And when it is, 260 ms (chosen on own mixtures: at twice that, plucks that bring something new are heard as a voice).
const SELDOM: usize = 52;
/// Hops of drone without which no delay is sought: a quarter of a second.
const DRONE_HOPS: usize = 50;

/// Hops for which a drone is new: half a second.
const NEW_HOPS: usize = 100;
/// Hops within which the drone may yet arrive, or be heard for the first time, though somebody sings: 2 s.
const YOUNG_HOPS: usize = 400;
/// A first look at what is louder than the drone as sent, as a ratio of powers (3 dB), says nothing within so many hops: 1 s, the
/// window and the time in which a drone swells.
const LOUDER: f32 = 2.0;
const FULL_HOPS: usize = 200;
/// Uncertainty of a bin at first, times the share of the drone's power that comes through: a little more than one, so that
/// the first update takes most of what it sees (chosen on own mixtures; 1 to 16 differ by 3 dB).
const SURE: f32 = 4.0;
/// How much more than the error is counted as noise while a voice is heard, in bins of which little is known (chosen on own
/// mixtures).
const HOLD: f32 = 3.0;
/// A voice that stays in a bin for more than this share of the window is coherent with a steady drone there, and nothing can
/// be learned of the path (chosen on sung clips; 0.3 to 0.7 differ little),
const STAYED: f32 = 0.5;
/// unless it is so much softer than the drone can be, as a share of the first uncertainty (0.06 to 0.25 differ little; from
/// 0.5 on a singer's long Sa is learned as drone and heard as voice when it ends).
const MASKED: f32 = 0.12;
/// How much more may come through than is seen and foretold on the mean (chosen on sung clips: 1 to 4 differ little, less lets
/// strings through that are late).
const LOWER: f32 = 2.0;
/// Windows overlap, and each sees but a part that is new: certainty grows by so much of a whole window's worth per new
/// share (chosen on own mixtures; 2 to 4.5 differ by 1 dB).
const FASTER: f32 = 3.0;
/// How far the path may have strayed in [`SOON`] hops, as a share of its power (Enzner and Vary 2006: 1 - A^2).
const DRIFT: f32 = 2e-4;
/// Power of the drone in the window below which nothing is learned: -100 dBFS.
const SILENT: f32 = 1e-4;
/// A bin is known when its uncertainty has fallen to this share of the first.
const KNOWN: f32 = 0.03;
/// Bins over which a path of 255 ms hardly changes.
const GROUP: usize = 4;
/// Half the greater part of the main lobe of the tracker's long window, in its bins: 31 of 52 Hz.
const LOBE: usize = 2;
/// More than this much of what is foretold is never left, 26 dB: a way that has just been begun, from nothing, says little of it.
const MOST_DOUBT: f32 = 400.0;
/// Share of the error in such a group that one gain on the drone explains, above which it is the drone's (a voice: 0.3).
const COHERENT: f32 = 0.7;
/// Error against the drone, as a share of the greatest so far, above which the path has changed: 6 dB down.
const MOVED: f32 = 0.25;
/// Hops over which is averaged what is left of the drone's strongest lines, 1.5 s; that it is more is believed at once, since who
/// moves has changed the way (chosen on own mixtures; 1.5 s for both has a quarter more false frames while somebody moves).
const LEFT_HOPS: f64 = 300.0;
/// Below this it is known exactly.
const EXACT_DB: f64 = -20.0;
/// For so many hops after it was seen, 0.75 s: what is left of a way that has changed may cover all of the drone as a voice does.
const EXACT_HOPS: usize = 150;
/// Share of the drone that must lie outside a voice for that to be seen (chosen: most of its strings).
const LEFT_SEEN: f32 = 0.3;
/// Share of the drone's power that must lie outside a voice for that to be said.
const SEEN: f32 = 0.01;
/// And for it to be said that more comes through than ever before.
const ENOUGH: f32 = 0.1;

pub(super) struct Path {
    drone: Line,
    microphone: Line,
    halves: [Half; 2],
    harmonics: Harmonics,
    delay: Delay,
    echo: Echo,
    /// Hops by which the path is expected to begin late, and by which it does.
    expected: usize,
    late: usize,
    /// Hops since the drone began, and since the update began; how many lie between two updates.
    heard: usize,
    hops: usize,
    every: usize,
    taps: Vec<f32>,
    /// Which of them is the greatest.
    greatest: usize,
    wide: Vec<f32>,
    between: [f32; 2 * SIDE],
    uncertain: Vec<f32>,
    coupled: f32,
    /// What is left of the drone's strongest lines on the mean, against what is foretold of them, dB; `None`: not seen yet.
    left_db: Option<f64>,
    /// Hops for which it is yet believed to be known exactly, after so little was seen to be left.
    exact_for: usize,
    shape: Vec<f32>,
    /// The update's own copies of the sound.
    sent_before: Vec<f32>,
    error: Vec<f32>,
    long: Transform,
    short: Transform,
    sent: Vec<Complex<f32>>,
    wrong: Vec<Complex<f32>>,
    gained: Vec<Complex<f32>>,
    strength: Vec<f32>,
    voices: Vec<f32>,
    /// Power of the drone that may be left and that is taken out, per bin of the tracker's, and their ratio as it sees them.
    left: Vec<f32>,
    taken: Vec<f32>,
    doubt: Vec<f32>,
}

fn keep(to: &mut [Complex<f32>], from: &[Complex<f32>]) {
    for (to, from) in to.iter_mut().zip(from) {
        *to = *from;
    }
}

impl Path {
    pub(super) fn new() -> Self {
        let nothing = Complex::new(0.0, 0.0);
        Self {
            drone: Line::new(WINDOW + TAPS + LATEST),
            microphone: Line::new(WINDOW),
            halves: [Half::new(), Half::new()],
            harmonics: Harmonics::new(WINDOW, ANALYSIS_RATE_HZ / 2.0, OUT),
            delay: Delay::new(),
            echo: Echo::new(),
            expected: 0,
            late: 0,
            heard: 0,
            hops: 0,
            every: SOON,
            taps: vec![0.0; TAPS],
            greatest: 0,
            wide: vec![0.0; 2 * TAPS],
            between: between(),
            uncertain: vec![0.0; BINS],
            coupled: 0.0,
            left_db: None,
            exact_for: 0,
            shape: hann(WINDOW).map(num::single).collect(),
            sent_before: vec![0.0; WINDOW + TAPS],
            error: vec![0.0; WINDOW],
            long: Transform::new(LONG),
            short: Transform::new(WINDOW),
            sent: vec![nothing; BINS],
            wrong: vec![nothing; BINS],
            gained: vec![nothing; LONG / 2 + 1],
            strength: vec![0.0; BINS],
            voices: vec![0.0; BINS],
            left: vec![0.0; KNOWN_BINS],
            taken: vec![0.0; KNOWN_BINS],
            doubt: vec![0.0; KNOWN_BINS],
        }
    }

    /// Takes a hop of both before the drone can be heard: it fades in, and what was sent then is still on its way when it can.
    pub(super) fn wait(&mut self, sent: &[f32; HOP], heard: &[f32; HOP], f0: Option<Hertz>) {
        let [of_drone, of_microphone] = &mut self.halves;
        self.drone.push(&of_drone.step(sent));
        self.microphone.push(&of_microphone.step(heard));
        self.harmonics.push(f0);
    }

    /// Takes a hop of both; true where the taps have changed.
    pub(super) fn step(&mut self, sent: &[f32; HOP], heard: &[f32; HOP], f0: Option<Hertz>) -> bool {
        self.wait(sent, heard, f0);
        self.heard = self.heard.saturating_add(1);
        self.exact_for = self.exact_for.saturating_sub(1);
        self.hops += 1;
        // One piece of the work a hop, so that no hop is long.
        match self.hops {
            1 => self.begin(),
            2 => {
                let spectrum = self.long.forward(self.sent_before.iter().copied());
                for (to, from) in self.gained.iter_mut().zip(spectrum) {
                    *to *= *from;
                }
            }
            3 => {
                let foretold = self.long.inverse(self.gained.iter().copied());
                for (y, d) in self.error.iter_mut().zip(foretold.iter().skip(TAPS)) {
                    *y -= d / LONG as f32;
                }
            }
            4 => {
                let windowed = self.sent_before.iter().skip(TAPS).zip(&self.shape).map(|(x, w)| x * w);
                keep(&mut self.sent, self.short.forward(windowed));
            }
            5 => {
                let windowed = self.error.iter().zip(&self.shape).map(|(x, w)| x * w);
                keep(&mut self.wrong, self.short.forward(windowed));
                self.harmonics.mark(&mut self.voices);
                if self.every == SELDOM {
                    // What is known holds for all strings; nothing is left that one tap could explain.
                    self.hops = 7;
                }
            }
            6 => self.seek_echo(),
            7 => self.take_echo(),
            8 => self.weigh(),
            9 => {
                let change = self.short.inverse(self.gained.iter().take(BINS).copied());
                let mut greatest = (0, 0.0);
                for (i, (tap, d)) in self.taps.iter_mut().zip(change).enumerate() {
                    *tap += d / WINDOW as f32;
                    if tap.abs() > greatest.1 {
                        greatest = (i, tap.abs());
                    }
                }
                self.greatest = greatest.0;
                let at_once = self.late == 0 && self.greatest < SIDE;
                double(&self.taps, &self.between, at_once, &mut self.wide);
                return true;
            }
            10 if self.seeks() => {
                self.delay.take(self.drone.last(Delay::DRONE, 0), self.microphone.last(Delay::MICROPHONE, 0));
            }
            11 if self.seeks() => self.delay.cross(),
            12 if self.seeks() => {
                let found = self.delay.weigh();
                return self.place(found);
            }
            hops if hops >= self.every => self.hops = 0,
            _ => {}
        }
        false
    }

    fn seeks(&self) -> bool {
        self.every == SOON && self.heard > DRONE_HOPS && self.alone() && !self.delay.sure()
    }

    /// Whether no voice sounds that could be taken for the drone's way, or the drone is so new that it is to be found all
    /// the same.
    fn alone(&self) -> bool {
        self.is_young() || self.harmonics.share() == 0.0
    }

    /// Copies what the update sees, and transforms the path.
    fn begin(&mut self) {
        for (to, from) in self.sent_before.iter_mut().zip(self.drone.last(WINDOW + TAPS, self.late * OUT)) {
            *to = *from;
        }
        for (to, from) in self.error.iter_mut().zip(self.microphone.last(WINDOW, 0)) {
            *to = *from;
        }
        let spectrum = self.long.forward(self.taps.iter().copied());
        keep(&mut self.gained, spectrum);
        // The same frequencies, near enough: 10240 against 8192 points.
        for (k, to) in self.strength.iter_mut().enumerate() {
            *to = spectrum.get(k * LONG / WINDOW).map_or(0.0, Complex::norm_sqr);
        }
    }

    /// Begins the path anew where the drone was found to arrive; true where that is elsewhere.
    fn place(&mut self, found: Option<usize>) -> bool {
        let Some(delay) = found else { return false };
        let begins = self.late * OUT;
        let soonest = if begins > 0 { begins + AT_ONCE } else { 0 };
        if (soonest..=begins + NEAR).contains(&delay) {
            return false;
        }
        self.late = if delay > NEAR { (delay - EARLY) / OUT } else { 0 };
        self.forget();
        true
    }

    /// Nothing is known of the way.
    fn forget(&mut self) {
        self.taps.fill(0.0);
        self.wide.fill(0.0);
        self.uncertain.fill(0.0);
        self.coupled = 0.0;
        self.left_db = None;
        self.exact_for = 0;
    }

    /// How loud the error is against the drone, outside the voice and by the drone's strongest bins: the geometric mean
    /// over them, since what else sounds fills but few of them. With it, the share of it that is the drone's, and
    /// the share of the drone that lies there.
    fn seen(&self) -> (f32, f32, f32) {
        let (mut all, mut free, mut ratio, mut coherent) = (0.0f32, 0.0f32, 0.0f32, 0.0f32);
        let groups = self.sent.chunks(GROUP).zip(self.wrong.chunks(GROUP)).zip(self.voices.chunks(GROUP));
        for ((sent, wrong), voices) in groups {
            let power: f32 = sent.iter().map(|x| x.norm_sqr()).sum();
            all += power;
            if voices.iter().any(|share| *share > 0.0) {
                continue;
            }
            let mut both = Complex::new(0.0, 0.0);
            let mut error = 0.0f32;
            for (x, e) in sent.iter().zip(wrong) {
                let (x2, e2) = (x.norm_sqr(), e.norm_sqr());
                ratio += x2 * ((e2 + 1e-12) / (x2 + 1e-12)).ln();
                both += x.conj() * e;
                error += e2;
            }
            free += power;
            coherent += both.norm_sqr() / (error + 1e-12);
        }
        let free_or_some = free.max(f32::MIN_POSITIVE);
        ((ratio / free_or_some).exp(), coherent / free_or_some, free / all.max(f32::MIN_POSITIVE))
    }

    /// What is left outside a voice against what is foretold, by the drone's strongest bins: their geometric mean, since noise and a
    /// voice's breath fill the weak ones.
    fn see_left(&mut self, most: bool) {
        let (mut left, mut free) = (0.0f32, 0.0f32);
        let sound = self.sent.iter().zip(&self.wrong).zip(&self.strength).zip(&self.voices);
        for (((sent, wrong), strength), _) in sound.filter(|(_, voice)| **voice == 0.0) {
            let power = sent.norm_sqr();
            left += power * ((wrong.norm_sqr() + 1e-12) / (power * strength + 1e-12)).ln();
            free += power;
        }
        let db = (f64::from(left / free.max(f32::MIN_POSITIVE)) * 10.0 / LN_10).min(0.0);
        self.exact_for = if db < EXACT_DB { EXACT_HOPS } else { 0 };
        if most {
            let mean = self.left_db.unwrap_or(db);
            self.left_db = Some(db.max(mean + (db - mean) * self.every as f64 / LEFT_HOPS));
        }
    }

    /// Where no voice was for a second, a coherent error in the drone's stronger bins is the path's, wherever it came
    /// from: a voice that was learned with it, a partial that moved more than others.
    fn doubt_what_is_left(&mut self, mean: f32) {
        let groups = self.sent.chunks(GROUP).zip(self.wrong.chunks(GROUP)).zip(self.uncertain.chunks_mut(GROUP));
        for ((sent, wrong), uncertain) in groups {
            let power: f32 = sent.iter().map(|x| x.norm_sqr()).sum();
            let error: f32 = wrong.iter().map(|e| e.norm_sqr()).sum();
            let both: Complex<f32> = sent.iter().zip(wrong).map(|(x, e)| x.conj() * e).sum();
            if power > GROUP as f32 * mean && both.norm_sqr() > COHERENT * power * error {
                let possible = (both.norm_sqr() / (power * power)).min(self.coupled);
                uncertain.iter_mut().for_each(|p| *p = p.max(possible));
            }
        }
    }

    /// How the error goes with the drone outside the voice, at each tap.
    fn seek_echo(&mut self) {
        for (((to, voice), x), e) in self.gained.iter_mut().zip(&self.voices).zip(&self.sent).zip(&self.wrong) {
            *to = if *voice == 0.0 { x.conj() * e } else { Complex::new(0.0, 0.0) };
        }
        let crossed = self.short.inverse(self.gained.iter().take(BINS).copied());
        self.echo.seek(crossed.get(..TAPS).unwrap_or_default());
    }

    /// Takes one tap into the path where it alone is most of what is wrong.
    fn take_echo(&mut self) {
        let Some((at, gain)) = self.echo.best(&self.sent_before, TAPS, &self.error, &self.shape) else { return };
        if let Some(tap) = self.taps.get_mut(at) {
            *tap += gain;
        }
        for (e, x) in self.error.iter_mut().zip(self.sent_before.iter().skip(TAPS - at)) {
            *e -= gain * x;
        }
        let windowed = self.error.iter().zip(&self.shape).map(|(x, w)| x * w);
        keep(&mut self.wrong, self.short.forward(windowed));
    }

    /// What comes through is no more than what is seen of it and what is foretold: the first look may have taken a step or a
    /// noise for the drone.
    fn lower(&mut self, ratio: f32, weight: f32) {
        let foretold: f32 = self.sent.iter().zip(&self.strength).map(|(x, s)| x.norm_sqr() * s).sum();
        let most = LOWER * SURE * (ratio + foretold / weight);
        self.coupled = self.coupled.min(most);
        self.uncertain.iter_mut().for_each(|p| *p = p.min(most));
    }

    fn weigh(&mut self) {
        let elapsed = self.every as f32;
        let weight: f32 = self.sent.iter().map(|x| x.norm_sqr()).sum();
        if weight < SILENT {
            self.gained.fill(Complex::new(0.0, 0.0));
            return;
        }
        if self.coupled == 0.0 {
            self.voices.fill(0.0);
        }
        let (ratio, coherent, free) = self.seen();
        if self.coupled == 0.0 && ratio > LOUDER && self.heard < FULL_HOPS {
            // Whoever sings before the drone has swelled would be taken for it.
            self.gained.fill(Complex::new(0.0, 0.0));
            return;
        }
        // Of a way that has just been begun anew nothing is foretold yet.
        if self.coupled > 0.0 && free > ENOUGH && self.has_swelled() {
            self.see_left(free > LEFT_SEEN);
        }
        let coupling = SURE * ratio;
        if self.coupled == 0.0 {
            self.uncertain.fill(coupling);
            self.coupled = coupling;
        } else if free > SEEN && coherent > COHERENT && coupling > MOVED * self.coupled {
            // From little of the drone, or beside a voice, no more is concluded than was possible before: the onsets of a
            // voice and of a string are alike, and who wears headphones would sing a way into being.
            if self.every == SELDOM && self.alone() {
                self.delay.reset();
            }
            let possible = if free > ENOUGH && self.alone() { coupling } else { coupling.min(self.coupled) };
            self.uncertain.iter_mut().for_each(|p| *p = p.max(possible));
            self.coupled = self.coupled.max(possible);
        }
        if free > ENOUGH {
            self.lower(ratio, weight);
        }
        let noise = 1.0 + HOLD * self.harmonics.share();
        if self.harmonics.share() == 0.0 {
            self.doubt_what_is_left(weight / BINS as f32);
        }
        let new = elapsed * OUT as f32 / WINDOW as f32;
        let (fade, drift) = (FASTER * new, DRIFT * elapsed / SOON as f32);
        let mut unknown = 0.0f32;
        let bins = self.gained.iter_mut().zip(&mut self.uncertain).zip(&self.voices);
        let sound = self.sent.iter().zip(&self.wrong).zip(&self.strength);
        for (((to, p), voice), ((x, e), s)) in bins.zip(sound) {
            let (x2, e2) = (x.norm_sqr(), e.norm_sqr());
            let masked = *voice > STAYED && e2 > MASKED * self.coupled * x2;
            let left_alone = masked || *voice > 0.0 && *p < KNOWN * self.coupled;
            let share = if left_alone { 0.0 } else { *p / (*p * x2 + noise * e2 + 1e-12) };
            *to = x.conj() * e * share;
            *p = *p * (1.0 - fade * share * x2).max(0.1) + drift * s;
            unknown += *p * x2;
        }
        // The tracker's bins are wider; each is centred on one of ours.
        let wide = 2 * WINDOW / KNOWN_FFT;
        for (k, (left, taken)) in self.left.iter_mut().zip(&mut self.taken).enumerate() {
            (*left, *taken) = (0.0, 0.0);
            let ours = self.sent.iter().zip(&self.uncertain).zip(&self.strength);
            for ((x, p), s) in ours.skip((k * wide).saturating_sub(wide / 2)).take(wide) {
                *left += x.norm_sqr() * p;
                *taken += x.norm_sqr() * s;
            }
        }
        // Its window is shorter, and what it sees between two lines is the lines'.
        for (k, doubt) in self.doubt.iter_mut().enumerate() {
            let lobe = |of: &[f32]| of.iter().skip(k.saturating_sub(LOBE)).take(2 * LOBE + 1).sum::<f32>();
            *doubt = (lobe(&self.left) / (lobe(&self.taken) + f32::MIN_POSITIVE)).min(MOST_DOUBT);
        }
        self.every = if unknown > KNOWN * self.coupled * weight { SOON } else { SELDOM };
    }

    /// The taps at 16 kHz.
    pub(super) fn response(&self) -> &[f32] {
        &self.wide
    }

    /// Whether the drone began less than half a second ago.
    pub(super) fn is_new(&self) -> bool {
        self.heard < NEW_HOPS
    }

    /// Whether the path is known badly: the drone began less than two seconds ago, or it arrives as soon as it is told.
    pub(super) fn is_rough(&self) -> bool {
        self.is_young() || self.late == 0 && self.greatest < ROUGH_TO
    }

    /// Power of the drone that may be left, against what is foretold of it, per bin of the tracker's.
    pub(super) fn doubt(&self) -> &[f32] {
        &self.doubt
    }

    /// Whether the drone began a second ago or more.
    pub(super) fn has_swelled(&self) -> bool {
        self.heard >= FULL_HOPS
    }

    /// Whether the drone began less than two seconds ago.
    pub(super) fn is_young(&self) -> bool {
        self.heard < YOUNG_HOPS
    }

    /// Power that is left of the drone's strongest lines, against what is foretold of them; 0 until it is seen. A way that is linear
    /// leaves 24 dB less and more of strings, through a call's codec at 16 kbit/s 10 to 18 less (own mixtures).
    pub(super) fn left(&self) -> f32 {
        self.left_db.map_or(0.0, |db| num::single(10f64.powf(db / 10.0)))
    }

    /// Whether it is known so exactly that nothing that is left of the drone's strongest lines passes as a voice.
    pub(super) fn is_exact(&self) -> bool {
        self.exact_for > 0
    }

    /// By how many hops they are late.
    pub(super) fn late(&self) -> usize {
        self.late
    }

    /// Expects the path to begin so many hops late; true where what was learned of another is forgotten.
    pub(super) fn expect(&mut self, late: usize) -> bool {
        let other = self.expected != late;
        if other {
            self.expected = late;
            self.reset();
        }
        other
    }

    pub(super) fn reset(&mut self) {
        self.drone.reset();
        self.microphone.reset();
        self.halves.iter_mut().for_each(Half::reset);
        self.harmonics.reset();
        self.delay.reset();
        self.late = self.expected;
        self.heard = 0;
        self.hops = 0;
        self.every = SOON;
        self.forget();
        self.greatest = 0;
        self.doubt.fill(0.0);
    }
}
