//! What a drone leaves in the microphone, and how it is taken out.
//!
//! In: hops of the microphone beside the drone as it was sent out. Out: [`Cleaned`]: the hop without what of the drone
//! could be foretold, and the power of the rest per bin, for the tracker to weigh as floor. Method: [`path`] learns the way
//! around the delay that [`delay`] finds, and leaves alone what [`harmonics`] says is the voice's; [`filter`] sends the
//! drone along it. Cost: about as much as the tracker; no hop does more than one long transform.

mod delay;
mod echo;
mod filter;
mod foreign;
mod fresh;
mod half;
mod harmonics;
mod line;
mod newest;
mod path;
mod transform;
mod worth;

use crate::input::{ANALYSIS_RATE_HZ, HOP, Hop};
use crate::pitch::{KNOWN_BINS, KNOWN_FFT, KNOWN_WINDOW, Known, hann};
use crate::units::{Hertz, num};
use filter::Filter;
pub use foreign::{ForeignDrone, Tone, Tones};
use fresh::Fresh;
use newest::Newest;
use path::{HOPS, LATEST_HOPS, Path};
use transform::Transform;
use worth::Worth;

/// A hop with the known drone taken out.
#[derive(Debug, Clone, Copy)]
pub struct Cleaned<'a> {
    /// The hop, its voice cleaned.
    pub hop: Hop,
    /// What of the drone is still in it.
    pub left: Known<'a>,
    /// Whether it is so soft beside what was taken out that nothing in it is a voice.
    pub faint: bool,
    /// Whether it is known that the drone was in it at all.
    pub sure: bool,
}

/// By how much a drone should be told before it is sent, seconds. A host that makes up for the latency of its devices can put
/// the microphone up to 20 ms ahead of what was sent, and what is not known yet cannot be taken out of it; 5 ms more, since
/// a way that begins at once is learned badly by filters that look both ways.
pub const DRONE_AHEAD_S: f64 = (AHEAD_HOPS * HOP) as f64 / ANALYSIS_RATE_HZ;
const AHEAD_HOPS: usize = 5;

/// Takes a known drone out of the microphone.
pub struct KnownDrone {
    path: Path,
    filter: Filter,
    transform: Transform,
    heard: Newest,
    /// What is left of the microphone, and whether it is so soft that a voice in it may be the drone's own.
    rest: Newest,
    unsure: bool,
    worth: Worth,
    fresh: Fresh,
    /// Whether a string has just sounded for the first time; whether something is called a voice, which is that string.
    new_string: bool,
    sounds: bool,
    is_string: bool,
    shape: Vec<f32>,
    left: Vec<f32>,
    silent_for: usize,
    f0: Option<Hertz>,
}

/// Mean square of a hop below which the drone is silent: -100 dBFS.
const SILENT: f32 = 1e-10;
/// Bin from which on the path is not known (3.6 kHz, where the half-band filter begins to fall): all counts as drone.
const KNOWN_TO: usize = 230;
/// Power that no sound within full scale has.
const HIDDEN: f32 = 1e12;
/// Power of the drone that is left in a cleaned hop, against what was foretold of it, besides what the path's own
/// uncertainty leaves (chosen on sung clips: 0.03 to 0.1 differ by a fifth of a point of the frames, more hides soft voices).
const LEFT: f32 = 0.03;
/// And at least so many times what is left of its strongest lines, where the way has been seen to be inexact: through a codec the
/// weaker ones are left by more (chosen on own mixtures through one; 10 to 25 differ by a point of the frames).
const WEAKER: f32 = 16.0;
/// How much more than the mean a bin may have: the power of what is not known is spread exponentially, and 95 of 100 lie below
/// three times their mean.
const SPREAD: f32 = 3.0;
/// How much more that uncertainty counts while the drone is new: what is seen of it in its first half second says little of the
/// rest, and passed as short notes before anyone sang (chosen on sung clips; 2 and 3 differ little).
const NEW: f32 = 2.0;
/// What is left so far under what was taken out is no voice, dB: a voice as loud as the drone comes down to 10 under it, what
/// is left of the drone alone seldom up to that.
const FAINT_DB: f64 = 13.0;
/// So far under it may be the drone's, whose way would never be learned if it were left alone as a voice (chosen on sung
/// clips; 6 to 10 differ by a fifth of a point of the frames at 0 dB).
const UNSURE_DB: f64 = 8.0;
/// Both, where the way is known badly (chosen likewise; 4.5 costs 3 points of the frames there).
const ROUGH_DB: f64 = 6.0;
/// Hops of silence after which nothing of the drone is left in the path.
const SILENT_HOPS: usize = HOPS + LATEST_HOPS;

impl Default for KnownDrone {
    fn default() -> Self {
        Self::new()
    }
}

impl KnownDrone {
    /// All memory is taken here.
    #[must_use]
    pub fn new() -> Self {
        Self {
            path: Path::new(),
            filter: Filter::new(HOPS, LATEST_HOPS),
            transform: Transform::new(KNOWN_FFT),
            heard: Newest::new(),
            rest: Newest::new(),
            unsure: false,
            worth: Worth::new(),
            fresh: Fresh::new(),
            new_string: false,
            sounds: false,
            is_string: false,
            shape: hann(KNOWN_WINDOW).map(num::single).collect(),
            left: vec![0.0; KNOWN_BINS],
            silent_for: SILENT_HOPS,
            f0: None,
        }
    }

    /// Says whether the drone is told [`DRONE_AHEAD_S`] before it is sent.
    pub fn told_ahead(&mut self, ahead: bool) {
        if self.path.expect(if ahead { AHEAD_HOPS } else { 0 }) {
            self.filter.reset();
        }
    }

    /// Takes a hop; `None` where no drone sounds or none of it is heard, and the hop is to be used as it is.
    pub fn clean(&mut self, hop: &Hop) -> Option<Cleaned<'_>> {
        let sent = hop.drone.unwrap_or([0.0; HOP]);
        let power = sent.iter().map(|x| x * x).sum::<f32>() / HOP as f32;
        self.silent_for = if power < SILENT { self.silent_for.saturating_add(1) } else { 0 };
        if self.silent_for >= SILENT_HOPS {
            if hop.drone.is_some() {
                self.path.wait(&sent, &hop.voice, self.f0);
            }
            self.new_string = false;
            return None;
        }
        let heard = self.filter.step(&sent);
        let late = self.path.late();
        if self.path.step(&sent, &hop.voice, self.f0) {
            self.filter.set(self.path.response(), self.path.late());
            if self.path.late() != late {
                self.worth.reset();
            }
        }
        self.new_string = self.path.is_young() && self.fresh.step(&sent, self.path.late());
        let mut cleaned = *hop;
        for (y, d) in cleaned.voice.iter_mut().zip(&heard) {
            *y -= d;
        }
        self.heard.push(&heard);
        let foretold = self.transform.forward(self.heard.windowed(&self.shape));
        let inexact = (WEAKER * self.path.left()).clamp(LEFT, 1.0);
        let doubted = if self.path.is_new() { NEW * SPREAD } else { SPREAD };
        for ((to, from), doubt) in self.left.iter_mut().zip(foretold).zip(self.path.doubt()) {
            *to = (inexact + doubted * doubt) * from.norm_sqr();
        }
        for to in self.left.iter_mut().skip(KNOWN_TO) {
            *to = HIDDEN;
        }
        self.rest.push(&cleaned.voice);
        if self.f0.is_none() {
            self.worth.hop(&hop.voice, &cleaned.voice);
        }
        if !self.worth.is_given() {
            self.unsure = false;
            return None;
        }
        let under = self.heard.level() - self.rest.level();
        let (unsure, faint) = if self.path.is_rough() { (ROUGH_DB, ROUGH_DB) } else { (UNSURE_DB, FAINT_DB) };
        self.unsure = under > unsure;
        let faint = under > faint;
        let left = Known { power: &self.left, exact: self.path.is_exact() };
        Some(Cleaned { hop: cleaned, left, faint, sure: self.worth.is_known() })
    }

    /// Tells what voice the tracker heard in the hop: what is known of the path there is not changed by it. False where it is
    /// none: it began with a new string of a drone that is heard.
    pub fn voice(&mut self, f0: Option<Hertz>) -> bool {
        self.f0 = f0.filter(|_| !self.unsure);
        // A voice that sounds is not ended by a new string.
        let begins = !self.sounds || self.is_string;
        self.sounds = f0.is_some();
        // In its first second what comes through may be anything, or nothing, and who sings loses nothing by it.
        let heard = self.path.has_swelled() && self.worth.is_given();
        self.is_string = self.sounds && begins && self.new_string && heard;
        !self.is_string
    }

    /// Back to the state of [`KnownDrone::new`].
    pub fn reset(&mut self) {
        self.path.reset();
        self.filter.reset();
        self.heard.reset();
        self.rest.reset();
        self.unsure = false;
        self.worth.reset();
        self.fresh.reset();
        self.new_string = false;
        self.sounds = false;
        self.is_string = false;
        self.left.fill(0.0);
        self.silent_for = SILENT_HOPS;
        self.f0 = None;
    }
}

#[cfg(test)]
mod test_codec;
#[cfg(test)]
mod tests;
