//! Host audio becomes evenly spaced hops at the one analysis rate.
//!
//! In: blocks of any length at the host's rate, the voice and, where there is one, the known drone.
//! Out: [`Hop`]s of 5 ms at 16 kHz; non-finite samples count as silence. The same samples in any
//! blocks give the same hops, each as soon as the host samples that it needs are there. Resampling
//! by windowed sinc interpolation (the `rubato` crate), then a high pass at 30 Hz ([`highpass`]); its delay is known and taken out of the time
//! stamps. Nothing above 4 kHz is promised: the filter is short, for the sake of latency, and what
//! it lets alias lies above that.

mod highpass;

use crate::units::{SampleRate, SampleTime, num};
use highpass::HighPass;
use rubato::audioadapter_buffers::direct::SequentialSlice;
use rubato::{
    Async, FixedAsync, Indexing, Resampler, SincInterpolationParameters, SincInterpolationType, WindowFunction,
};

/// The one rate at which everything is analysed, Hz.
pub const ANALYSIS_RATE_HZ: f64 = 16_000.0;
/// Samples in a hop at the analysis rate: 5 ms.
pub const HOP: usize = 80;
/// The same in seconds.
pub const HOP_S: f64 = HOP as f64 / ANALYSIS_RATE_HZ;
/// Half length of the resampling filter, seconds, above 16 kHz: its transition band then spans
/// about 4 to 12 kHz, so that nothing aliases below 4 kHz.
const HALF_FILTER_S: f64 = 0.000_5;
/// Fewest taps, for host rates near or below the analysis rate.
const FEWEST_TAPS: f64 = 24.0;
/// A sample at or beyond this magnitude counts as clipped (two 16-bit steps below full scale).
const CLIPPED: f32 = 0.999_94;

/// 5 ms of the voice at [`ANALYSIS_RATE_HZ`], beside the same 5 ms of the known drone as it was sent out.
#[derive(Debug, Clone, Copy)]
pub struct Hop {
    /// The microphone, full scale 1.
    pub voice: [f32; HOP],
    /// The drone that we know of, as sent; `None` where there is none.
    pub drone: Option<[f32; HOP]>,
    /// End of the last host sample that was needed for this hop.
    pub available: SampleTime,
    /// The host time of the end of the hop's last sample (resampling delay taken out).
    pub describes: SampleTime,
    /// Host samples in this hop at or beyond full scale (clipping).
    pub clipped: u16,
    /// Whether every host sample in this hop repeats the one before it: no microphone does that, a line that lost samples does.
    pub still: bool,
}

/// Resamples and cuts; same samples in any blocks give the same hops.
pub struct Front {
    rate: SampleRate,
    resampler: Option<Async<f32>>,
    /// Told to the resampler while there is no drone, which then costs nothing.
    voice_only: Indexing,
    /// One for the voice, one for the drone, so that both stay in step.
    highpass: [HighPass; 2],
    /// Host samples that wait, voice first, then drone; each `capacity` long.
    waiting: Vec<f32>,
    capacity: usize,
    filled: usize,
    /// Host samples taken in before those that wait.
    taken: i64,
    hops: i64,
    drone_waits: bool,
    clipped: u16,
    /// The last host sample, and whether none in the hop under way differed from its predecessor.
    last: f32,
    still: bool,
}

impl Front {
    /// All memory is taken here.
    #[must_use]
    pub fn new(rate: SampleRate) -> Self {
        let resampler = resampler(rate);
        let capacity = resampler.as_ref().map_or(HOP, Resampler::input_frames_max);
        Self {
            rate,
            resampler,
            voice_only: Indexing { active_channels_mask: Some(vec![true, false]), ..Indexing::default() },
            highpass: [HighPass::new(), HighPass::new()],
            waiting: vec![0.0; 2 * capacity],
            capacity,
            filled: 0,
            taken: 0,
            hops: 0,
            drone_waits: false,
            clipped: 0,
            last: f32::NAN,
            still: true,
        }
    }

    /// Takes a block; hands on each hop that became complete. `drone` has the block's length (what
    /// is missing of it counts as silence).
    pub fn push(&mut self, voice: &[f32], drone: Option<&[f32]>, mut hop: impl FnMut(&Hop)) {
        for (i, sample) in voice.iter().enumerate() {
            let known = drone.and_then(|d| d.get(i)).copied();
            self.take(*sample, known);
            while self.filled >= self.needed() {
                let Some(next) = self.cut() else { break };
                hop(&next);
            }
        }
    }

    /// Back to the state of [`Front::new`].
    pub fn reset(&mut self) {
        if let Some(resampler) = &mut self.resampler {
            resampler.reset();
        }
        self.highpass.iter_mut().for_each(HighPass::reset);
        self.waiting.fill(0.0);
        self.filled = 0;
        self.taken = 0;
        self.hops = 0;
        self.drone_waits = false;
        self.clipped = 0;
        (self.last, self.still) = (f32::NAN, true);
    }

    fn take(&mut self, voice: f32, drone: Option<f32>) {
        // Neither NaN nor infinite, and no subnormal either: some processors take ten times as long over those.
        let clean = |x: f32| if x.is_normal() { x } else { 0.0 };
        if voice.abs() >= CLIPPED {
            self.clipped = self.clipped.saturating_add(1);
        }
        self.still &= voice == self.last;
        self.last = voice;
        self.drone_waits |= drone.is_some();
        let (filled, capacity) = (self.filled, self.capacity);
        for (at, value) in [(filled, clean(voice)), (capacity + filled, drone.map_or(0.0, clean))] {
            if let Some(place) = self.waiting.get_mut(at) {
                *place = value;
            }
        }
        self.filled = (filled + 1).min(capacity);
    }

    fn needed(&self) -> usize {
        self.resampler.as_ref().map_or(HOP, Resampler::input_frames_next).min(self.capacity)
    }

    /// Cuts one hop out of what waits.
    fn cut(&mut self) -> Option<Hop> {
        let used = self.needed();
        let mut out = [0.0f32; 2 * HOP];
        let mut ahead = 0.0;
        if let Some(resampler) = &mut self.resampler {
            let input = SequentialSlice::new(&self.waiting, 2, self.capacity).ok()?;
            let mut output = SequentialSlice::new_mut(&mut out, 2, HOP).ok()?;
            let channels = if self.drone_waits { None } else { Some(&self.voice_only) };
            resampler.process_into_buffer(&input, &mut output, channels).ok()?;
            // rubato's first output lies one output step in (measured by the phase test below).
            ahead = self.rate.hz() / ANALYSIS_RATE_HZ - half_taps(self.rate);
        } else {
            out.get_mut(..HOP)?.copy_from_slice(self.waiting.get(..HOP)?);
            out.get_mut(HOP..)?.copy_from_slice(self.waiting.get(self.capacity..self.capacity + HOP)?);
        }
        self.taken += num::time(used);
        self.hops += 1;
        let mut hop = Hop {
            voice: [0.0; HOP],
            drone: None,
            available: SampleTime(self.taken),
            describes: SampleTime(num::int(
                (self.hops * num::time(HOP)) as f64 * self.rate.hz() / ANALYSIS_RATE_HZ + ahead,
            )),
            clipped: self.clipped,
            still: self.still,
        };
        let [voice_pass, drone_pass] = &mut self.highpass;
        hop.voice.copy_from_slice(out.get(..HOP)?);
        voice_pass.run(&mut hop.voice);
        if self.drone_waits {
            let mut drone = [0.0; HOP];
            drone.copy_from_slice(out.get(HOP..)?);
            drone_pass.run(&mut drone);
            hop.drone = Some(drone);
        }
        // What was not used moves to the front of its channel.
        for start in [0, self.capacity] {
            self.waiting.copy_within(start + used..start + self.capacity, start);
        }
        self.filled -= used;
        self.drone_waits = false;
        (self.clipped, self.still) = (0, true);
        Some(hop)
    }
}

/// Taps on each side of the resampling filter, host samples.
fn half_taps(rate: SampleRate) -> f64 {
    // rubato rounds the length up to a multiple of 8.
    let length = (2.0 * HALF_FILTER_S * rate.hz()).max(FEWEST_TAPS);
    (length / 8.0).ceil() * 4.0
}

fn resampler(rate: SampleRate) -> Option<Async<f32>> {
    if rate.hz() == ANALYSIS_RATE_HZ {
        return None;
    }
    let parameters = SincInterpolationParameters {
        sinc_len: num::index(2.0 * half_taps(rate)),
        // Half way between the 4 kHz that must pass and the 12 kHz that would alias onto them.
        f_cutoff: (rate.hz() > ANALYSIS_RATE_HZ).then_some(0.95),
        interpolation: SincInterpolationType::Linear,
        oversampling_factor: 256,
        window: WindowFunction::Blackman,
    };
    Async::new_sinc(ANALYSIS_RATE_HZ / rate.hz(), 1.0, &parameters, HOP, 2, FixedAsync::Output).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    fn hops(rate: f64, samples: &[f32], block: usize) -> Vec<Hop> {
        let mut front = Front::new(SampleRate::new(rate).unwrap());
        let mut found = Vec::new();
        for part in samples.chunks(block) {
            front.push(part, None, |hop| found.push(*hop));
        }
        found
    }

    fn tone(rate: f64, hz: f64, seconds: f64) -> Vec<f32> {
        (0..num::index(rate * seconds)).map(|i| num::single(0.5 * (TAU * hz * i as f64 / rate).sin())).collect()
    }

    #[test]
    fn a_tone_keeps_its_phase_at_every_rate() {
        // Theory: the sample at host time t of a tone is sin(2 pi f t), turned and weakened by the high
        // pass (Butterworth, second order: s^2 / (s^2 + sqrt(2) s + 1), s = i f / 30 Hz); the hop's
        // last sample lies one analysis sample before its end.
        let after_high_pass = |hz: f64| {
            let x = hz / 30.0;
            let (re, im) = (1.0 - x * x, std::f64::consts::SQRT_2 * x);
            (x * x / re.hypot(im), std::f64::consts::PI - im.atan2(re))
        };
        for rate in [8000.0, 11025.0, 16000.0, 22050.0, 44100.0, 48000.0, 88200.0, 96000.0, 192000.0] {
            // 8 kHz host audio carries nothing near 4 kHz through a filter this short.
            for hz in [100.0, 997.0, if rate < 11_000.0 { 1900.0 } else { 3000.0 }] {
                let hop = hops(rate, &tone(rate, hz, 0.5), 64)[60];
                let (mut wrong, mut power) = (0.0, 0.0);
                for (i, x) in hop.voice.iter().enumerate() {
                    // `describes` is a whole host sample: half of one is the most it may be off.
                    let t = hop.describes.0 as f64 / rate - (HOP - i) as f64 / ANALYSIS_RATE_HZ;
                    let (gain, turn) = after_high_pass(hz);
                    let expected = 0.5 * gain * (TAU * hz * t + turn).sin();
                    wrong += (f64::from(*x) - expected).powi(2);
                    power += expected.powi(2);
                }
                let error = (wrong / power).sqrt();
                let allowed = 0.02 + TAU * hz * 0.5 / rate;
                assert!(error < allowed, "{rate} Hz, tone {hz} Hz: relative error {error}");
            }
        }
    }

    #[test]
    fn what_would_alias_below_4_khz_is_gone() {
        for rate in [44100.0, 48000.0, 96000.0, 192000.0] {
            for hz in [12_500.0, 14_000.0, 17_000.0] {
                let found = hops(rate, &tone(rate, hz, 0.3), 512);
                let rms: f64 = found[20..].iter().flat_map(|h| h.voice).map(|x| f64::from(x).powi(2)).sum::<f64>();
                let rms = (rms / ((found.len() - 20) * HOP) as f64).sqrt();
                assert!(rms < 0.354 * 0.01, "{rate} Hz, tone {hz} Hz: rms {rms}");
            }
        }
    }

    #[test]
    fn blocks_of_any_size_give_the_same_hops() {
        let samples = tone(44_100.0, 233.0, 0.4);
        let whole = hops(44_100.0, &samples, samples.len());
        for block in [1, 7, 64, 4096] {
            let cut = hops(44_100.0, &samples, block);
            assert_eq!(whole.len(), cut.len());
            assert!(whole.iter().zip(&cut).all(|(a, b)| a.voice == b.voice && a.available == b.available), "{block}");
        }
    }

    #[test]
    fn only_a_hop_in_which_nothing_moves_is_still() {
        let mut samples = tone(48_000.0, 233.0, 0.3);
        // 20 ms of one value, as a line that lost samples sends: four hops, of which the two at the ends are cut.
        samples[4_900..5_860].fill(0.25);
        let still: Vec<usize> =
            hops(48_000.0, &samples, 77).iter().enumerate().filter(|(_, h)| h.still).map(|(i, _)| i).collect();
        assert!((2..=3).contains(&still.len()) && still.windows(2).all(|w| w[1] == w[0] + 1), "{still:?}");
    }

    #[test]
    fn bad_samples_are_silence_and_reset_is_new() {
        let mut front = Front::new(SampleRate::new(48_000.0).unwrap());
        let mut count = 0;
        front.push(&[f32::NAN; 4800], Some(&[f32::INFINITY; 4800]), |hop| {
            count += 1;
            assert!(hop.voice.iter().chain(hop.drone.iter().flatten()).all(|x| *x == 0.0));
        });
        assert!(count > 15);
        front.push(&tone(48_000.0, 400.0, 0.1), None, |_| {});
        front.reset();
        let mut again = Vec::new();
        front.push(&tone(48_000.0, 400.0, 0.1), None, |h| again.push(h.voice));
        let fresh: Vec<_> = hops(48_000.0, &tone(48_000.0, 400.0, 0.1), 1 << 20).iter().map(|h| h.voice).collect();
        assert_eq!(again, fresh);
    }
}
