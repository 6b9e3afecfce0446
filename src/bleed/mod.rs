//! What a drone leaves in the microphone, and how it is taken out.
//!
//! In: hops of the microphone beside the drone as it was sent out. Out: [`Cleaned`]: the hop without what of the drone
//! could be foretold, and the power of the rest per bin, for the tracker to weigh as floor.

mod filter;
mod half;
mod path;
mod transform;

use crate::input::{HOP, Hop};
use crate::pitch::{KNOWN_BINS, KNOWN_FFT, KNOWN_WINDOW};
use crate::units::num;
use filter::Filter;
use path::{Path, TAPS};
use transform::Transform;

/// A hop with the known drone taken out.
#[derive(Debug, Clone, Copy)]
pub struct Cleaned<'a> {
    /// The hop, its voice cleaned.
    pub hop: Hop,
    /// Power of the drone that is still in it, per bin as the tracker asks for it.
    pub left: &'a [f32],
}

/// Takes a known drone out of the microphone.
pub struct KnownDrone {
    path: Path,
    filter: Filter,
    transform: Transform,
    heard: Vec<f32>,
    shape: Vec<f32>,
    left: Vec<f32>,
    silent_for: usize,
    voiced: bool,
}

/// Mean square of a hop below which the drone is silent: -100 dBFS.
const SILENT: f32 = 1e-10;
/// Bin from which on the path is not known (3.6 kHz, where the half-band filter begins to fall): all counts as drone.
const KNOWN_TO: usize = 230;
/// Power that no sound within full scale has.
const HIDDEN: f32 = 1e12;
/// Power of the drone that is left in a cleaned hop, against what was foretold of it (chosen on own mixtures).
const LEFT: f32 = 0.6;
/// Hops of silence after which nothing of the drone is left in the path.
const SILENT_HOPS: usize = TAPS / HOP;

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
            filter: Filter::new(TAPS / HOP),
            transform: Transform::new(KNOWN_FFT),
            heard: vec![0.0; KNOWN_WINDOW],
            shape: (0..KNOWN_WINDOW)
                .map(|i| {
                    num::single(0.5 - 0.5 * (std::f64::consts::TAU * (i as f64 + 0.5) / KNOWN_WINDOW as f64).cos())
                })
                .collect(),
            left: vec![0.0; KNOWN_BINS],
            silent_for: SILENT_HOPS,
            voiced: false,
        }
    }

    /// Takes a hop; `None` where no drone sounds, and the hop is to be used as it is.
    pub fn clean(&mut self, hop: &Hop) -> Option<Cleaned<'_>> {
        let sent = hop.drone.unwrap_or([0.0; HOP]);
        let power = sent.iter().map(|x| x * x).sum::<f32>() / HOP as f32;
        self.silent_for = if power < SILENT { self.silent_for.saturating_add(1) } else { 0 };
        if self.silent_for >= SILENT_HOPS {
            return None;
        }
        let heard = self.filter.step(&sent);
        if self.path.step(&sent, &hop.voice, self.voiced) {
            self.filter.set(self.path.taps());
        }
        let mut cleaned = *hop;
        for (y, d) in cleaned.voice.iter_mut().zip(&heard) {
            *y -= d;
        }
        self.heard.copy_within(HOP.., 0);
        for (to, from) in self.heard.iter_mut().skip(KNOWN_WINDOW - HOP).zip(&heard) {
            *to = *from;
        }
        let windowed = self.heard.iter().zip(&self.shape).map(|(x, w)| x * w);
        for (to, from) in self.left.iter_mut().zip(self.transform.forward(windowed)) {
            *to = LEFT * from.norm_sqr();
        }
        for to in self.left.iter_mut().skip(KNOWN_TO) {
            *to = HIDDEN;
        }
        Some(Cleaned { hop: cleaned, left: &self.left })
    }

    /// Tells whether the tracker heard a voice in the hop: while it does, the path is believed and hardly learned.
    pub fn voiced(&mut self, voiced: bool) {
        self.voiced = voiced;
    }

    /// Back to the state of [`KnownDrone::new`].
    pub fn reset(&mut self) {
        self.path.reset();
        self.filter.reset();
        self.heard.fill(0.0);
        self.left.fill(0.0);
        self.silent_for = SILENT_HOPS;
        self.voiced = false;
    }
}
