//! Every rate, every block size, every kind of bad sound; nothing is allocated on the way
//! (the framework's check is on in debug builds and ends the program if anything is).

use super::{plugin, stereo};

const RATES: [f64; 9] = [8e3, 16e3, 22.05e3, 44.1e3, 48e3, 88.2e3, 96e3, 176.4e3, 192e3];

/// A small generator of repeatable noise (Knuth's multiplicative constants, MMIX).
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f32 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 40) as f32 / (1 << 23) as f32 - 1.0
    }
}

#[test]
fn the_voice_passes_bit_for_bit_at_every_rate_and_block_size() {
    // The last ones are no rates of ours: nothing is measured there, but the voice must pass.
    for rate in RATES.into_iter().chain([1_000.0, 384_000.0, 768_000.0]) {
        let mut host = plugin();
        host.activate(rate, 4096).unwrap();
        let mut noise = Noise(1);
        for size in [1, 7, 64, 512, 4096, 3, 4095, 1] {
            let signal: Vec<f32> = (0..size).map(|_| noise.next()).collect();
            let mut block = stereo(&signal);
            host.process(&mut block, &[], None).unwrap();
            for (was, is) in signal.iter().zip(&block.main[0]) {
                assert_eq!(was.to_bits(), is.to_bits(), "{rate} Hz, block of {size}");
            }
            assert!(block.own[0].iter().all(|x| *x == 0.0));
        }
    }
}

#[test]
fn bad_samples_come_out_as_nothing_and_leave_no_trace() {
    for rate in RATES {
        let mut host = plugin();
        host.activate(rate, 512).unwrap();
        for bad in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, f32::MAX] {
            let mut block = stereo(&[bad; 512]);
            host.process(&mut block, &[], None).unwrap();
            let expected = if bad.is_finite() { bad } else { 0.0 };
            assert!(block.main.iter().flatten().all(|x| x.to_bits() == expected.to_bits()), "{bad} at {rate} Hz");
        }
        let mut noise = Noise(2);
        let signal: Vec<f32> = (0..512).map(|_| noise.next()).collect();
        let mut block = stereo(&signal);
        host.process(&mut block, &[], None).unwrap();
        assert_eq!(block.main[0], signal);
    }
}

#[test]
fn an_inactive_own_output_and_a_mono_sum_are_no_trouble() {
    let mut host = plugin();
    host.activate(48_000.0, 256).unwrap();
    let signal = [0.25; 256];
    let mut block = stereo(&signal);
    block.own = Vec::new();
    host.process(&mut block, &[], None).unwrap();
    assert_eq!(block.main[1], signal);
}
