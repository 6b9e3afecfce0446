//! The way of the voice through the effect: untouched at 0 dB, scaled without clicks otherwise.
//!
//! In: the main input, in place. Out: each channel times the voice gain; a non-finite sample is 0.
//! No delay. At a standing gain of exactly 1 every finite sample keeps its bits (nothing is
//! multiplied, so that denormals survive the audio thread's flush-to-zero mode too).

use super::ramp::Ramp;
use crate::shell::params::VoiceFrom;

/// Whether `x` is NaN or infinite, decided on its bits.
fn is_bad(x: f32) -> bool {
    x.to_bits() & 0x7f80_0000 == 0x7f80_0000
}

/// Copies the voice out of the main channels for the listener: left, right or the mean of both.
pub(crate) fn take_voice(channels: &[&mut [f32]], from: VoiceFrom, at: usize, voice: &mut [f32]) {
    let part = |i: usize| channels.get(i).and_then(|c| c.get(at..)).unwrap_or(&[]);
    let (left, right) = (part(0), part(if channels.len() > 1 { 1 } else { 0 }));
    for (i, sample) in voice.iter_mut().enumerate() {
        let clean = |c: &[f32]| c.get(i).copied().filter(|x| !is_bad(*x)).unwrap_or(0.0);
        *sample = match from {
            VoiceFrom::Left => clean(left),
            VoiceFrom::Right => clean(right),
            VoiceFrom::Mix => 0.5 * clean(left) + 0.5 * clean(right),
        };
    }
}

/// Passes `n` samples of the voice on in place, from sample `at`.
pub(crate) fn pass(channels: &mut [&mut [f32]], (at, n): (usize, usize), gain: &mut Ramp) {
    let untouched = gain.stands_at(1.0);
    let mut end = *gain;
    for channel in channels {
        let mut own = *gain;
        for sample in channel.iter_mut().skip(at).take(n) {
            if is_bad(*sample) {
                *sample = 0.0;
            }
            if !untouched {
                *sample *= own.next();
            }
        }
        end = own;
    }
    *gain = end;
}

/// Passes a whole block at 0 dB.
pub(crate) fn pass_unheard(channels: &mut [&mut [f32]]) {
    for sample in channels.iter_mut().flat_map(|channel| channel.iter_mut()).filter(|x| is_bad(**x)) {
        *sample = 0.0;
    }
}

/// Adds the drone to every channel; silence adds nothing, so that the voice keeps its bits.
pub(crate) fn add(channels: &mut [&mut [f32]], at: usize, drone: &[f32], gain: &mut Ramp) {
    let mut end = *gain;
    let closed = gain.stands_at(0.0);
    for channel in channels {
        let mut own = *gain;
        for (sample, drone) in channel.iter_mut().skip(at).zip(drone) {
            let gain = if closed { 0.0 } else { own.next() };
            if *drone != 0.0 && gain != 0.0 {
                *sample += gain * drone;
            }
        }
        end = own;
    }
    *gain = end;
}

/// The largest magnitude, for the level display.
pub(crate) fn peak(voice: &[f32]) -> f32 {
    voice.iter().fold(0.0, |peak, x| peak.max(x.abs()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn at_unity_every_finite_sample_keeps_its_bits_and_the_rest_is_zero() {
        let odd =
            [0.0, -0.0, 1e-42, -1e-42, 1.5, f32::MAX, f32::MIN_POSITIVE, f32::NAN, f32::INFINITY, f32::NEG_INFINITY];
        let mut channel = odd;
        pass(&mut [&mut channel], (0, 10), &mut Ramp::new(48_000.0, 1.0));
        add(&mut [&mut channel], 0, &[0.0; 10], &mut Ramp::new(48_000.0, 1.0));
        for (was, is) in odd.iter().zip(channel) {
            let expected = if was.is_finite() { was.to_bits() } else { 0 };
            assert_eq!(is.to_bits(), expected, "{was} became {is}");
        }
    }

    #[test]
    fn the_voice_is_taken_from_the_side_that_was_chosen() {
        let (mut l, mut r) = ([1.0, f32::NAN], [0.5, 1.0]);
        let channels: [&mut [f32]; 2] = [&mut l, &mut r];
        let mut voice = [0.0; 2];
        for (from, expected) in
            [(VoiceFrom::Left, [1.0, 0.0]), (VoiceFrom::Right, [0.5, 1.0]), (VoiceFrom::Mix, [0.75, 0.5])]
        {
            take_voice(&channels, from, 0, &mut voice);
            assert_eq!(voice, expected, "{from:?}");
        }
        let mut mono = [0.25];
        take_voice(&[&mut mono], VoiceFrom::Right, 0, &mut voice[..1]);
        assert_eq!(voice[0], 0.25, "a mono input has one side");
    }
}
