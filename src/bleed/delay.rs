//! How late the drone comes to the microphone: buffers, a wireless loudspeaker.
//!
//! In: now and then the newest second of the drone as sent and the newest half second of the microphone, at 8 kHz. Out: the
//! delay, 0 to 530 ms, where it shows. Method: generalised cross-correlation with the phase transform (Knapp and
//! Carter 1976). A steady drone repeats itself and has no delay of its own; onsets and plucks have. So a delay counts only
//! where its peak stands out by [`CLEAR`], and the delay that is believed is the majority's (Boyer and Moore 1991, MJRTY).
//! Cost: three real FFTs of 9216, on three hops.

use super::transform::Transform;
use crate::input::HOP;
use crate::pitch::hann;
use crate::units::num;
use realfft::num_complex::Complex;

/// Greatest delay sought, samples at 8 kHz: 530 ms.
pub(super) const LATEST: usize = 106 * HOP / 2;
/// The window on the microphone: half a second.
const WINDOW: usize = 4096;
/// Samples over which the drone's window rises and falls.
const SLOPE: usize = 512;
/// The window on the drone: what may have come into the microphone's.
const SENT: usize = WINDOW + LATEST + SLOPE;
/// 9216 samples: nothing that is sought wraps.
const FFT: usize = 9 << 10;
/// How far the greatest square must stand above those beyond [`APART`]: 9.5 dB. On own mixtures, tried every 65 ms, 8 to 12 dB
/// find the first onset of each, and less than 1 % of those that are found are wrong.
const CLEAR: f32 = 9.0;
/// What lies nearer to the greatest is the room: 50 ms.
const APART: usize = 400;
/// Delays nearer than this are the same: 5 ms.
const SAME: usize = 40;
/// As many agreeing finds at most are remembered.
const MOST: u8 = 4;
/// Bins weaker than this share of the mean are not raised to the mean: they hold nothing.
const EMPTY: f32 = 1e-3;

pub(super) struct Delay {
    transform: Transform,
    microphone: Vec<f32>,
    shape: Vec<f32>,
    cross: Vec<Complex<f32>>,
    rise: Vec<f32>,
    votes: u8,
    believed: usize,
}

impl Delay {
    pub(super) fn new() -> Self {
        Self {
            transform: Transform::new(FFT),
            microphone: vec![0.0; WINDOW],
            cross: vec![Complex::new(0.0, 0.0); FFT / 2 + 1],
            shape: hann(WINDOW).map(num::single).collect(),
            rise: hann(2 * SLOPE).take(SLOPE).map(num::single).collect(),
            votes: 0,
            believed: 0,
        }
    }

    /// Samples of the drone that [`Delay::take`] needs.
    pub(super) const DRONE: usize = SENT;
    /// Samples of the microphone that it needs.
    pub(super) const MICROPHONE: usize = WINDOW;

    /// Takes both; the newest sample is the last.
    pub(super) fn take(&mut self, drone: &[f32], microphone: &[f32]) {
        for ((to, from), shape) in self.microphone.iter_mut().zip(microphone).zip(&self.shape) {
            *to = from * shape;
        }
        let rise = self.rise.iter().copied().chain(std::iter::repeat(1.0));
        let fall = std::iter::repeat_n(1.0, SENT - SLOPE).chain(self.rise.iter().rev().copied());
        let sent = drone.iter().zip(rise.zip(fall)).map(|(x, (up, down))| x * up * down);
        for (to, from) in self.cross.iter_mut().zip(self.transform.forward(sent)) {
            *to = from.conj();
        }
    }

    /// The next of three steps after [`Delay::take`]: crosses both.
    pub(super) fn cross(&mut self) {
        let before = std::iter::repeat_n(0.0, SENT - WINDOW);
        let heard = self.transform.forward(before.chain(self.microphone.iter().copied()));
        for (to, from) in self.cross.iter_mut().zip(heard) {
            *to *= *from;
        }
        let mean = self.cross.iter().map(|c| c.norm()).sum::<f32>() / self.cross.len() as f32;
        for value in &mut self.cross {
            *value /= value.norm() + EMPTY * mean + f32::MIN_POSITIVE;
        }
    }

    /// The last step: the delay that is believed now.
    pub(super) fn weigh(&mut self) -> Option<usize> {
        let squares = self.transform.inverse(self.cross.iter().copied());
        let mut best = (0usize, 0.0f32);
        for (lag, value) in squares.iter().enumerate().take(LATEST) {
            if value * value > best.1 {
                best = (lag, value * value);
            }
        }
        let (lag, top) = best;
        let far = |(at, value): (usize, &f32)| if at.abs_diff(lag) > APART { value * value } else { 0.0 };
        let other = squares.iter().enumerate().take(LATEST).map(far).fold(0.0, f32::max);
        if top > CLEAR * other && top > 0.0 {
            if self.votes > 0 && lag.abs_diff(self.believed) <= SAME {
                self.votes = (self.votes + 1).min(MOST);
            } else if self.votes > 0 {
                self.votes -= 1;
            } else {
                self.believed = lag;
                self.votes = 1;
            }
        }
        (self.votes > 0).then_some(self.believed)
    }

    /// Whether so many agree that it need not be sought any more.
    pub(super) fn sure(&self) -> bool {
        self.votes == MOST
    }

    pub(super) fn reset(&mut self) {
        self.votes = 0;
        self.believed = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: f64 = 8000.0;

    fn at(delay: &mut Delay, drone: &[f32], microphone: &[f32]) -> Option<usize> {
        delay.take(&drone[drone.len() - Delay::DRONE..], &microphone[microphone.len() - Delay::MICROPHONE..]);
        delay.cross();
        delay.weigh()
    }

    fn tone(hz: f64, seconds: f64, fall: f64) -> Vec<f32> {
        let at = |t: f64| (1..9).map(f64::from).map(|k| (std::f64::consts::TAU * hz * k * t).sin() / k).sum::<f64>();
        (0..num::index(seconds * RATE))
            .map(|i| i as f64 / RATE)
            .map(|t| num::single((-fall * t).exp() * at(t)))
            .collect()
    }

    #[test]
    fn an_onset_tells_the_delay_under_a_louder_voice() {
        for late in [0, 40, 960, 2800, 4000] {
            let mut drone = vec![0.0; 10_000];
            drone.extend(tone(147.0, 0.25 + late as f64 / RATE, 1.0));
            let mut microphone = vec![0.0; late];
            microphone.extend_from_slice(&drone[..drone.len() - late]);
            for (x, voice) in microphone.iter_mut().zip(tone(220.0, 3.0, 0.0)) {
                *x = 0.3 * *x + 0.5 * voice;
            }
            let found = at(&mut Delay::new(), &drone, &microphone);
            assert!(found.is_some_and(|found| found.abs_diff(late) < 8), "{late}: {found:?}");
        }
    }

    #[test]
    fn what_repeats_itself_has_no_delay_and_one_wrong_find_changes_nothing() {
        let steady = tone(147.0, 2.0, 0.0);
        assert_eq!(at(&mut Delay::new(), &steady, &steady), None);
        let mut drone = vec![0.0; 10_000];
        drone.extend(tone(147.0, 0.25, 1.0));
        let mut late = vec![0.0; 800];
        late.extend_from_slice(&drone[..drone.len() - 800]);
        let mut delay = Delay::new();
        for microphone in [&drone, &drone, &late] {
            assert!(at(&mut delay, &drone, microphone).is_some_and(|found| found < 8));
        }
        delay.reset();
        assert!(at(&mut delay, &drone, &late).is_some_and(|found| found.abs_diff(800) < 8));
    }
}
