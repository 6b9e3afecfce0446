//! What pitch sounds now, if any: one f0 frame every 5 ms.
//!
//! In: hops of 5 ms at 16 kHz. Out: [`F0Frame`]s, 55 to 1100 Hz. Causal, with one latency for every
//! frame: the time stamp is the middle of the windows, half a long window (19.3 ms) behind the end of
//! the hop, plus the resampling delay.
//!
//! Method, in the order of the files:
//! 1. [`spectrum`]: power spectra of concentric Hann windows up to 4 kHz.
//! 2. [`floor`]: what sounds without the voice, learned per bin while there is none, and taken away
//!    (spectral subtraction, Boll 1979).
//! 3. [`correlation`]: the window-normalised autocorrelation (Boersma 1993) of what is left, on a grid of
//!    20 cents, each lag from the shortest window that holds about three periods.
//! 4. [`path`]: the likely path over that grid, followed forward in time without look-ahead (Viterbi
//!    1967, the newest state taken).
//! 5. [`voicing`]: whether there is a voice, a decision with its own evidence.
//! 6. [`fine`]: the exact value near the path; [`smooth`]: a causal filter over cents and slope.
//! 7. [`steady`] and [`unmoved`]: hum, reeds and much of plucked strings, known by phases and by an f0 steadier than a
//!    throat's, are no voice and are learned as floor.
//! 8. [`several`]: a second harmonic series beside the voice.
//!
//! Accuracy, each asserted below: a voice with a flutter of 3 cents is followed to 1.7 cents at 55 Hz,
//! 0.9 at 110, 0.4 at 262, 0.16 from 880 Hz on (median), at most twice that, at any host rate; a glide
//! of an octave in 1.5 s is late by less than 0.1 ms; the turns of a kampita of 200 cents at 7 Hz are
//! shrunk by less than 3 cents; in white noise 15 and 5 dB down the error is 2.4 and 5.2 times the
//! Cramer-Rao bound of one window. Cost: seven real FFTs of at most 1024 points a hop,
//! one of 2048 every fourth, ten cosine sums of 257 terms: 16 us a hop (0.3 % of a core) on the machine
//! of the recorded bench, and 1.5 us since for a better look at second voices. Not handled: a voice as steady as a machine (a pitch pipe
//! is learned as floor after 0.15 s), plucked strings that nobody told of as loud as the voice, f0 below 55 Hz, where fewer than two periods fit.

mod correlation;
mod fine;
mod floor;
mod path;
mod several;
mod smooth;
mod spectrum;
mod steady;
mod unmoved;
mod voicing;

use crate::input::{ANALYSIS_RATE_HZ, Hop};
use crate::units::{Decibels, Hertz, SampleRate, SampleTime, num};
use correlation::Correlation;
use fine::Fine;
use floor::Floor;
use path::Path;
use several::Several;
use smooth::Smooth;
pub(crate) use spectrum::hann;
use spectrum::{Analyser, LONG};
use steady::Steady;
use unmoved::Unmoved;
use voicing::Voicing;

/// One f0 estimate. Unvoiced is `voiced == false`, never 0 Hz.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct F0Frame {
    /// The middle of what was weighed.
    pub time: SampleTime,
    /// End of the last host sample that was needed; `available - time` is the latency.
    pub available: SampleTime,
    /// The estimate; may be given in an unvoiced frame (a guess not to be shown), `None` where there is none.
    pub f0: Option<Hertz>,
    /// Whether a voice with a pitch sounds.
    pub voiced: bool,
    /// Strength of the evidence for a voice, 0 to 1.
    pub confidence: f32,
    /// RMS of the window, dBFS.
    pub level: Decibels,
    /// Whether the window holds clipped samples.
    pub clipped: bool,
    /// Whether more than one voice seems to sound (not to be scored).
    pub several: bool,
}

/// The causal tracker.
pub struct Tracker {
    rate: SampleRate,
    analyser: Analyser,
    floor: Floor,
    correlation: Correlation,
    path: Path,
    voicing: Voicing,
    fine: Fine,
    smooth: Smooth,
    steady: Steady,
    unmoved: Unmoved,
    several: Several,
    stands: bool,
    clipped_for: u8,
}

/// Bins in which a known sound is told to [`Tracker::process_with`].
pub const KNOWN_BINS: usize = spectrum::LONG_BINS;
/// Their width, Hz; bin 0 lies at 0 Hz. A bin's value is the squared magnitude of a transform of
/// [`KNOWN_FFT`] samples at the analysis rate under a Hann window of [`KNOWN_WINDOW`] samples.
pub const KNOWN_BIN_HZ: f64 = ANALYSIS_RATE_HZ / spectrum::LONG_FFT as f64;
/// Samples of that transform.
pub const KNOWN_FFT: usize = spectrum::LONG_FFT;
/// Samples of that window, which ends with the hop.
pub const KNOWN_WINDOW: usize = LONG;

/// What sounds besides the voice.
#[derive(Debug, Clone, Copy)]
pub struct Known<'a> {
    /// Its power per bin ([`KNOWN_BINS`] of [`KNOWN_BIN_HZ`]; what is missing is 0) under the long window.
    pub power: &'a [f32],
    /// Whether it is known so exactly that nothing else of it can be heard.
    pub exact: bool,
}

/// Hops that a clipped sample stays inside the long window.
const CLIPPED_HOPS: u8 = 8;

impl Tracker {
    /// All memory is taken here. `rate`: the host's, for time stamps.
    #[must_use]
    pub fn new(rate: SampleRate) -> Self {
        let correlation = Correlation::new();
        Self {
            rate,
            analyser: Analyser::new(),
            floor: Floor::new(),
            path: Path::new(correlation.points()),
            correlation,
            voicing: Voicing::new(),
            fine: Fine::new(),
            smooth: Smooth::new(),
            steady: Steady::new(),
            unmoved: Unmoved::new(),
            several: Several::new(),
            stands: false,
            clipped_for: 0,
        }
    }

    /// One hop in, one frame out (of an instant some 20 ms earlier). Never allocates.
    pub fn process(&mut self, hop: &Hop) -> F0Frame {
        self.process_with(hop, None)
    }

    /// The same, for a hop in which something besides the voice is known, which is weighed as part of the floor in this frame only.
    pub fn process_with(&mut self, hop: &Hop, known: Option<Known<'_>>) -> F0Frame {
        self.clipped_for = if hop.clipped > 0 { CLIPPED_HOPS } else { self.clipped_for.saturating_sub(1) };
        self.floor.know(known.map_or(&[], |known| known.power));
        self.analyser.push(&hop.voice);
        let spectra = self.analyser.spectra();
        let noise = self.floor.weigh(&spectra.long);
        let grid = self.correlation.grid(spectra, self.floor.gains(), self.floor.all(), noise.share);
        let best = self.path.step(grid, noise.share);
        let decision = self.voicing.step(best.value, noise, self.correlation.short_power(), spectra.power);
        let exact = self.fine.near(best.hz, spectra, self.floor.gains(), noise.share);
        let f0 = self.smooth.step(exact, decision.voiced, spectra.lean);
        let voiced = decision.voiced && f0.is_some();
        let still = self.unmoved.step(f0.filter(|_| voiced));
        let steady = self.steady.step(&hop.voice, self.floor.power());
        // A still voice beside a drone that is known exactly is not taken for another machine: that one is still in both ways.
        let (steady, unmoved) = match known {
            Some(Known { exact: true, .. }) if voiced => (steady && still, steady && still),
            _ => (steady, still),
        };
        self.stands = unmoved;
        if steady || unmoved {
            self.floor.learn_lines(self.steady.earlier());
        } else {
            self.floor.learn(&spectra.long, decision.voiced, best.value);
        }
        self.steady.keep(&spectra.long);
        let several = self.several.step(f0.filter(|_| voiced), self.steady.looked());
        let half = 0.5 * LONG as f64 / ANALYSIS_RATE_HZ * self.rate.hz();
        F0Frame {
            time: SampleTime(hop.describes.0 - num::int(half)),
            available: hop.available,
            f0,
            voiced: voiced && !unmoved,
            confidence: decision.confidence,
            level: Decibels::of_amplitude(spectra.power.sqrt()),
            clipped: self.clipped_for > 0,
            several,
        }
    }

    /// Whether all that sounds is at the moment steadier than a throat can be, and is being learned as floor.
    #[must_use]
    pub fn hears_a_machine(&self) -> bool {
        self.steady.agreed()
    }

    /// Whether the pitch that sounds stands stiller than a throat holds it; then the frame is not voiced.
    #[must_use]
    pub fn hears_unmoved(&self) -> bool {
        self.stands
    }

    /// Back to the state of [`Tracker::new`].
    pub fn reset(&mut self) {
        self.analyser.reset();
        self.floor.reset();
        self.path.reset();
        self.voicing.reset();
        self.smooth.reset();
        self.steady.reset();
        self.unmoved.reset();
        self.several.reset();
        self.stands = false;
        self.clipped_for = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::Front;
    use std::f64::consts::TAU;

    /// A voice-like sound: harmonics falling by 6 dB an octave up to 3.5 kHz, f0 given over time.
    fn voice(rate: f64, seconds: f64, hz: impl Fn(f64) -> f64) -> Vec<f32> {
        let mut phase = 0.0;
        (0..num::index(rate * seconds))
            .map(|i| {
                // The middle of the sample's span: the phase is then the integral to second order.
                let f = hz((i as f64 + 0.5) / rate);
                let most = num::index((3500.0f64.min(0.4 * rate) / f).floor()).max(1);
                let sum: f64 = (1..=most).map(|k| (phase * k as f64).sin() / k as f64).sum();
                phase = (phase + TAU * f / rate) % TAU;
                num::single(0.2 * sum)
            })
            .collect()
    }

    /// A held note with the flutter that every throat has: 3 cents at 4 Hz (without it: a machine).
    fn held(hz: f64) -> impl Fn(f64) -> f64 {
        move |t| hz * (3.0 * (TAU * 4.0 * t).sin() / 1200.0).exp2()
    }

    fn frames(rate: f64, samples: &[f32], blocks: impl IntoIterator<Item = usize>) -> Vec<F0Frame> {
        let rate = SampleRate::new(rate).unwrap();
        let (mut front, mut tracker, mut found) = (Front::new(rate), Tracker::new(rate), Vec::new());
        let mut rest = samples;
        for block in blocks {
            let (now, later) = rest.split_at(block.min(rest.len()));
            front.push(now, None, |hop| found.push(tracker.process(hop)));
            rest = later;
            if rest.is_empty() {
                break;
            }
        }
        found
    }

    /// Time and error in cents of every voiced frame from `from` seconds on; fails if one is not voiced.
    fn errors(rate: f64, samples: &[f32], from: f64, hz: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
        let end = samples.len() as f64 / rate - 0.04;
        let timed = frames(rate, samples, std::iter::repeat(256)).into_iter().map(|f| (f.time.0 as f64 / rate, f));
        let inside = timed.filter(|(t, _)| (from..end).contains(t));
        let found: Vec<_> = inside
            .map(|(t, f)| {
                assert!(f.voiced, "unvoiced at {t}");
                (t, f.f0.unwrap().cents_above(Hertz(hz(t))).unwrap().0)
            })
            .collect();
        assert!(found.len() > 50);
        found
    }

    fn quantile(values: &[f64], share: f64) -> f64 {
        let mut values = values.to_vec();
        values.sort_by(f64::total_cmp);
        values[num::index(share * (values.len() - 1) as f64)]
    }

    fn sizes(found: &[(f64, f64)]) -> Vec<f64> {
        found.iter().map(|e| e.1.abs()).collect()
    }

    #[test]
    fn held_notes_are_exact_at_every_rate() {
        for rate in [8000.0, 16_000.0, 44_100.0, 48_000.0, 192_000.0] {
            // f0, median and greatest error allowed, cents: what smoothing takes off the flutter.
            for (hz, middle, most) in [
                (55.0, 1.7, 3.6),
                (73.4, 1.2, 1.8),
                (82.4, 1.2, 1.6),
                (110.0, 0.9, 1.3),
                (261.6, 0.4, 0.6),
                (440.0, 0.25, 0.35),
                (880.0, 0.16, 0.25),
                (1100.0, 0.16, 0.25),
            ] {
                let found = sizes(&errors(rate, &voice(rate, 1.0, held(hz)), 0.1, held(hz)));
                let (median, greatest) = (quantile(&found, 0.5), quantile(&found, 1.0));
                assert!(median < middle && greatest < most, "{hz} Hz at {rate}: {median} {greatest}");
            }
        }
    }

    #[test]
    fn a_glide_is_neither_late_nor_early() {
        for (low, rate) in [(65.0, 48_000.0), (130.0, 44_100.0), (260.0, 16_000.0), (520.0, 48_000.0)] {
            // An octave in a second and a half, up and down.
            for sign in [1.0, -1.0] {
                let hz = |t: f64| low * std::f64::consts::SQRT_2 * (sign * (t - 0.75) / 1.5).exp2();
                let found = errors(rate, &voice(rate, 1.5, hz), 0.1, hz);
                let late: Vec<f64> = found.iter().map(|e| -e.1 / (sign * 1200.0 / 1.5)).collect();
                let late = quantile(&late, 0.5);
                assert!(late.abs() < 0.000_1, "{low} Hz, {sign}: {late} s");
            }
        }
    }

    #[test]
    fn a_glide_that_fades_or_swells_is_neither_late_nor_early() {
        // By 100 dB a second, which moves the middle of the power under a Hann window of 38.6 ms by 0.7 ms.
        for (db_s, sign) in [(-100.0, 1.0), (-100.0, -1.0), (100.0, 1.0)] {
            let hz = |t: f64| 220.0 * (sign * (t - 0.25) / 0.5).exp2();
            let mut sound = voice(16_000.0, 0.5, hz);
            for (i, x) in sound.iter_mut().enumerate() {
                let t = i as f64 / 16_000.0;
                *x *= num::single(10f64.powf(db_s * (if db_s < 0.0 { t } else { t - 0.5 }) / 20.0));
            }
            let late: Vec<f64> = errors(16_000.0, &sound, 0.15, hz).iter().map(|e| -e.1 / (sign * 2400.0)).collect();
            let late = quantile(&late, 0.5);
            assert!(late.abs() < 0.000_15, "{db_s} dB/s, {sign}: {late} s");
        }
    }

    #[test]
    fn a_fast_kampita_is_hardly_shrunk() {
        for low in [110.0, 220.0, 440.0] {
            // 7 Hz, 200 cents from turn to turn.
            let turn = |t: f64| (TAU * 7.0 * t).sin();
            let hz = |t: f64| low * (100.0 * turn(t) / 1200.0).exp2();
            let found = errors(48_000.0, &voice(48_000.0, 2.0, hz), 0.1, hz);
            let turns = found.iter().filter(|(t, _)| turn(*t).abs() > 0.98);
            let shrunk = quantile(&turns.map(|(t, e)| -e * turn(*t).signum()).collect::<Vec<_>>(), 0.5);
            let median = quantile(&sizes(&found), 0.5);
            assert!(shrunk < 3.0 && median < 2.0, "{low} Hz: {shrunk} {median}");
        }
    }

    #[test]
    fn a_still_voice_beside_a_drone_that_is_known_exactly_is_no_other_machine() {
        let voiced = |cents: f64, exact: bool| {
            let sound = voice(16_000.0, 3.0, |t| 331.0 * (cents * (TAU * 4.0 * t).sin() / 1200.0).exp2());
            let rate = SampleRate::new(16_000.0).unwrap();
            let (mut front, mut tracker, mut frames, mut voiced) = (Front::new(rate), Tracker::new(rate), 0, 0);
            front.push(&sound, None, |hop| {
                frames += 1;
                let known = Known { power: &[], exact };
                voiced += u32::from(tracker.process_with(hop, Some(known)).voiced && frames > 200);
            });
            f64::from(voiced) / f64::from(frames - 200)
        };
        // Stiller than any throat without a drone; the second is still in both ways.
        assert!(voiced(0.6, true) > 0.99 && voiced(0.6, false) < 0.5, "{} {}", voiced(0.6, true), voiced(0.6, false));
        assert!(voiced(0.0, true) < 0.01, "{}", voiced(0.0, true));
    }

    /// White noise of standard deviation 1, nearly normal (the sum of twelve even numbers).
    fn noise(count: usize) -> Vec<f64> {
        let mut state = 1u64;
        let mut even = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1u64 << 53) as f64
        };
        (0..count).map(|_| (0..12).map(|_| even()).sum::<f64>() - 6.0).collect()
    }

    #[test]
    fn noise_costs_no_more_than_stated() {
        // Cramer-Rao bound for f0 of harmonics of amplitude A_k in white noise, N samples
        // (Christensen and Jakobsson 2009, Multi-Pitch Estimation, eq. 1.20, real signal):
        // var(w) = 24 s^2 / (N (N^2 - 1) sum k^2 A_k^2).
        // Standard deviation of the noise (15.5 and 5 dB below the voice), times the bound allowed. The
        // bound knows the amplitudes and weighs each harmonic as it deserves; correlation does not.
        let (hz, amplitude) = (220.0, 0.2);
        for (deviation, allowed) in [(0.03, 2.4), (0.1, 5.2)] {
            let mut sound = voice(16_000.0, 4.0, held(hz));
            sound[..8000].fill(0.0);
            for (x, n) in sound.iter_mut().zip(noise(64_000)) {
                *x += num::single(deviation * n);
            }
            let found = errors(16_000.0, &sound, 1.0, held(hz));
            let rms = (found.iter().map(|e| e.1 * e.1).sum::<f64>() / found.len() as f64).sqrt();
            // A_k = amplitude / k: each of the 15 harmonics adds the same.
            let n = LONG as f64;
            let variance = 24.0 * deviation * deviation / (n * (n * n - 1.0) * 15.0 * amplitude * amplitude);
            let bound = 1200.0 * std::f64::consts::LOG2_E * variance.sqrt() / (TAU * hz / 16_000.0);
            assert!(rms < allowed * bound, "{rms} cents, bound {bound}");
        }
    }

    /// Some real voices have next to nothing above their fundamental: it must not drag behind, nor be heard an octave low.
    #[test]
    fn a_voice_that_is_nearly_a_sine_is_followed() {
        let rate = 16_000.0;
        let swing = |t: f64| 250.0 * (150.0 * (TAU * 1.5 * t).sin() / 1200.0).exp2();
        let hz = |t: f64| swing(t) * (3.0 * (TAU * 4.0 * t).sin() / 1200.0).exp2();
        let mut phase = 0.0;
        let mut sound: Vec<f32> = noise(48_000).into_iter().map(|x| num::single(0.001 * x)).collect();
        for (i, x) in sound.iter_mut().enumerate().skip(8_000) {
            phase += TAU * hz((i as f64 + 0.5) / rate) / rate;
            *x += num::single(0.2 * phase.sin() + 0.01 * (2.0 * phase).sin() + 0.005 * (3.0 * phase).sin());
        }
        let found = sizes(&errors(rate, &sound, 0.6, hz));
        let (median, worst) = (quantile(&found, 0.5), quantile(&found, 1.0));
        assert!(median < 7.0 && worst < 20.0, "{median} {worst}");
    }

    #[test]
    fn noise_silence_and_hum_are_no_voice() {
        let rate = 16_000.0;
        let white: Vec<f32> = noise(80_000).into_iter().map(|x| num::single(0.05 * x)).collect();
        let hum = |hz: f64| -> Vec<f32> {
            let at = |t: f64| (1..9).map(|k| 0.1 / f64::from(k) * (TAU * hz * f64::from(k) * t).sin()).sum();
            (0..80_000).map(|i| num::single(at(f64::from(i) / rate))).collect()
        };
        for sound in [vec![0.0; 80_000], white, hum(50.0), hum(60.0), hum(100.0)] {
            let found = frames(rate, &sound, std::iter::repeat(512));
            // A hum needs three quarters of a second to be known.
            let voiced = found.iter().skip(150).filter(|f| f.voiced).count();
            assert!(voiced * 100 <= found.len(), "{voiced} of {}", found.len());
        }
    }

    #[test]
    fn blocks_cuts_and_resets_change_nothing() {
        let rate = 44_100.0;
        let hz = |t: f64| 150.0 * (200.0 * (TAU * 2.0 * t).sin() / 1200.0).exp2();
        let sound = voice(rate, 1.5, hz);
        let whole = frames(rate, &sound, [sound.len()]);
        for block in [1, 7, 64, 4096] {
            assert_eq!(whole, frames(rate, &sound, std::iter::repeat(block)), "{block}");
        }
        assert_eq!(whole, frames(rate, &sound, (0..).map(|i| (i * 7919) % 1500)), "blocks of many sizes");
        let cut = frames(rate, &sound[..40_000], std::iter::repeat(256));
        assert!(cut.len() > 150);
        assert_eq!(whole[..cut.len()], cut);
        let rate = SampleRate::new(rate).unwrap();
        let (mut front, mut tracker) = (Front::new(rate), Tracker::new(rate));
        for _ in 0..2 {
            let mut again = Vec::new();
            front.push(&sound, None, |hop| again.push(tracker.process(hop)));
            assert_eq!(whole, again);
            front.reset();
            tracker.reset();
        }
    }

    #[test]
    fn bad_samples_leave_the_next_second_right() {
        let mut sound = voice(48_000.0, 3.0, held(196.0));
        for (i, x) in sound.iter_mut().enumerate().skip(48_000).take(4800) {
            *x = [f32::NAN, f32::INFINITY, f32::NEG_INFINITY][i % 3];
        }
        for frame in frames(48_000.0, &sound, std::iter::repeat(100)) {
            assert!(frame.f0.is_none_or(|f| f.0.is_finite()) && frame.level.0.is_finite());
            let t = frame.time.0 as f64 / 48_000.0;
            if (2.1..2.9).contains(&t) {
                let apart = frame.f0.unwrap().cents_above(Hertz(held(196.0)(t))).unwrap().0;
                assert!(frame.voiced && apart.abs() < 1.0, "{t}: {apart}");
            }
        }
    }

    /// Seconds at which more than one voice is heard.
    fn shared(sound: &[f32]) -> Vec<f64> {
        let found = frames(16_000.0, sound, [sound.len()]);
        found.iter().filter(|f| f.several).map(|f| f.time.0 as f64 / 16_000.0).collect()
    }

    fn add(to: &mut [f32], from_s: f64, sound: &[f32], gain: f32) {
        for (to, x) in to.iter_mut().skip(num::index(16_000.0 * from_s)).zip(sound) {
            *to += gain * x;
        }
    }

    #[test]
    fn a_second_voice_is_heard_while_it_sounds() {
        // Above and below, in ratios simple and not; half as strong; from 3.5 s to 5.5 s.
        for ratio in [4.0 / 3.0, 1.31, 5.0 / 3.0, 2.0 / 3.0, 1.5, 9.0 / 8.0, 1.63] {
            let mut sound = vec![0.0; 136_000];
            add(&mut sound, 1.5, &voice(16_000.0, 7.0, held(196.0)), 1.0);
            assert!(shared(&sound).is_empty());
            let other = voice(16_000.0, 2.0, |t| 196.0 * ratio * (8.0 * (TAU * 5.0 * t).sin() / 1200.0).exp2());
            add(&mut sound, 3.5, &other, 0.5);
            let times = shared(&sound);
            assert!(times.iter().all(|t| (3.5..6.8).contains(t)), "{ratio}: {times:?}");
            assert!(times.first().is_some_and(|t| *t < 3.9) && times.len() > 400, "{ratio}: {}", times.len());
        }
    }

    /// Seconds in which a second voice is heard that sounds from 2 s on, for 3 s.
    fn beside(first: impl Fn(f64) -> f64, second: impl Fn(f64) -> f64, gain: f32) -> Vec<f64> {
        let mut sound = vec![0.0; 96_000];
        add(&mut sound, 0.5, &voice(16_000.0, 5.0, first), 1.0);
        add(&mut sound, 2.0, &voice(16_000.0, 3.0, second), gain);
        shared(&sound)
    }

    #[test]
    fn a_second_voice_is_heard_beside_one_that_swings() {
        let swing = |t: f64| 196.0 * (75.0 * (TAU * 5.0 * t).sin() / 1200.0).exp2();
        let times = beside(swing, |t| held(257.0)(t + 0.1), 0.5);
        assert!(times.first().is_some_and(|t| (2.0..2.4).contains(t)) && times.len() > 560, "{}", times.len());
    }

    #[test]
    fn two_voices_are_heard_where_the_tracker_follows_neither() {
        // As strong as the first one: what is followed is a period that both have nearly in common, at 76 Hz and the like.
        for ratio in [1.42, 1.55, 1.6] {
            let mut sound = vec![0.0; 160_000];
            add(&mut sound, 0.5, &voice(16_000.0, 9.0, held(147.0)), 0.5);
            add(&mut sound, 5.0, &voice(16_000.0, 3.0, |t| held(147.0 * ratio)(t + 0.1)), 0.5);
            let times = shared(&sound);
            let said = times.iter().filter(|t| (5.3..7.95).contains(*t)).count();
            assert!(times.first().is_some_and(|t| *t > 5.0) && said == 530, "{ratio}: {said}");
        }
    }

    #[test]
    fn a_long_note_of_a_second_voice_is_no_drone() {
        let mut sound = vec![0.0; 192_000];
        add(&mut sound, 0.5, &voice(16_000.0, 11.0, held(196.0)), 1.0);
        add(&mut sound, 5.0, &voice(16_000.0, 4.0, |t| held(257.0)(t + 0.1)), 0.5);
        let times = shared(&sound);
        assert!(times.first().is_some_and(|t| (5.0..5.4).contains(t)) && times.len() > 760, "{}", times.len());
    }

    #[test]
    fn what_fades_is_no_second_voice() {
        // A note that goes on ringing under the next one, half as strong at first.
        for db_s in [20.0, 30.0] {
            let mut ring = voice(16_000.0, 2.0, |t| held(257.0)(t + 0.1));
            for (i, x) in ring.iter_mut().enumerate() {
                *x *= num::single(10f64.powf(-db_s * i as f64 / 16_000.0 / 20.0));
            }
            let mut sound = vec![0.0; 96_000];
            add(&mut sound, 0.5, &voice(16_000.0, 1.5, held(257.0)), 1.0);
            add(&mut sound, 2.0, &voice(16_000.0, 3.5, held(196.0)), 1.0);
            add(&mut sound, 2.0, &ring, 0.5);
            assert!(shared(&sound).is_empty(), "{db_s}: {:?}", shared(&sound));
        }
    }

    #[test]
    fn a_drone_and_what_a_room_keeps_are_no_second_voice() {
        // A reed on Pa and Sa under a voice that rests now and then.
        let (mut sound, reed) = (vec![0.0; 160_000], voice(16_000.0, 10.0, |_| 146.8));
        add(&mut sound, 0.0, &reed, 0.2);
        add(&mut sound, 0.0, &voice(16_000.0, 10.0, |_| 110.1), 0.2);
        for start in [1.5, 4.5, 7.5] {
            add(&mut sound, start, &voice(16_000.0, 2.0, held(184.0)), 1.0);
        }
        assert!(shared(&sound).is_empty(), "{:?}", shared(&sound));
        // Notes of 0.3 s that ring on over the next ones, by 60 dB in a second.
        let mut sound = vec![0.0; 160_000];
        for (i, ratio) in [1.0, 9.0 / 8.0, 5.0 / 4.0, 3.0 / 2.0].into_iter().cycle().take(24).enumerate() {
            let (start, hz) = (0.5 + 0.3 * i as f64, 196.0 * ratio);
            let mut note = voice(16_000.0, 1.3, held(hz));
            for (n, x) in note.iter_mut().enumerate() {
                let after = (n as f64 / 16_000.0 - 0.3).max(0.0);
                *x *= num::single(if after > 0.0 { 0.3 * 10f64.powf(-3.0 * after) } else { 1.0 });
            }
            add(&mut sound, start, &note, 1.0);
        }
        assert!(shared(&sound).is_empty(), "{:?}", shared(&sound));
    }

    #[test]
    fn what_is_known_is_taken_away() {
        // A known steady tone alone, told as it is, is no voice from the first frame on.
        let rate = SampleRate::new(16_000.0).unwrap();
        let sound = voice(16_000.0, 1.0, held(147.0));
        let (mut front, mut tracker, mut analyser) = (Front::new(rate), Tracker::new(rate), Analyser::new());
        front.push(&sound, None, |hop| {
            analyser.push(&hop.voice);
            assert!(!tracker.process_with(hop, Some(Known { power: &analyser.spectra().long, exact: false })).voiced);
        });
    }
}
