//! The reed drone: steady free-reed tones, exactly in tune, any swaras of the scale together.
//!
//! In: the frequencies of the reeds that sound (Hz). Out: their sum, sample by sample at the host's rate, never above 1.
//! Method: each reed reads a stored period (see `wavetable`) whose partials fall slowly, since the partials of a free
//! reed can be heard one by one up to the sixteenth and beyond (Helmholtz 1863, on reeds and the harmonium). The partials
//! are strictly harmonic and strictly steady: real reeds drift with the bellows, a ruler must not. A change of the set or
//! of Sa crosses over in 0.2 s. Cost: about 5 ns a reed and sample; nothing is computed for a new Sa.
//!
//! What it does not handle: bellows, the beating of two reed banks, the box.

use super::ramp::Fade;
use super::setting::REEDS;
use super::wavetable::{Sine, Turning, Wavetable, harmonics_that_fit};
use crate::units::{Hertz, SampleRate, num};

/// How many partials the tables hold, richest first: the richest that fits below half the rate is read.
const PARTIALS: [usize; 12] = [40, 32, 26, 20, 16, 12, 9, 7, 5, 3, 2, 1];
/// Fall of the partials, as a power of their order: 4.8 dB an octave, flatter than a sawtooth's 6 (estimated).
const FALL: f64 = 0.8;
/// The partial above which a second fall sets in (estimated; keeps the tone from being harsh for an hour).
const BREAK: f64 = 14.0;
/// Time of a crossover, seconds.
const CROSS_S: f64 = 0.2;

/// One reed that sounds.
#[derive(Clone, Copy)]
struct Tongue {
    hz: Hertz,
    turning: Turning,
    table: usize,
}

/// The reeds of one setting.
#[derive(Clone, Copy, Default)]
struct Bank {
    tongues: [Option<Tongue>; REEDS],
    gain: f32,
}

/// Plays the reeds. Never allocates after `new`.
pub(super) struct Reed {
    rate_hz: f64,
    tables: Vec<Wavetable>,
    front: Bank,
    back: Bank,
    cross: Fade,
    wanted: [Option<Hertz>; REEDS],
    stale: bool,
}

fn partial_amplitude(order: usize) -> f64 {
    let order = order as f64;
    order.powf(-FALL) / (1.0 + (order / BREAK).powi(2))
}

impl Reed {
    /// All tables are filled here.
    pub(super) fn new(rate: SampleRate) -> Self {
        let sine = Sine::new();
        let tables = PARTIALS
            .iter()
            .map(|partials| {
                let mut table = Wavetable::new();
                table.fill(&sine, *partials, partial_amplitude);
                table
            })
            .collect();
        let mut cross = Fade::new(CROSS_S, CROSS_S, rate.hz());
        cross.full();
        let (front, back) = (Bank::default(), Bank::default());
        Self { rate_hz: rate.hz(), tables, front, back, cross, wanted: [None; REEDS], stale: false }
    }

    /// Which reeds shall sound from now on.
    pub(super) fn set(&mut self, wanted: [Option<Hertz>; REEDS]) {
        if self.wanted != wanted {
            self.wanted = wanted;
            self.stale = true;
        }
    }

    /// Takes the wanted reeds at once, from phase 0 (only where nothing sounds).
    pub(super) fn restart(&mut self) {
        self.front = Bank::default();
        self.front = self.bank();
        self.stale = false;
        self.cross.full();
    }

    fn bank(&self) -> Bank {
        let mut bank = Bank::default();
        let mut count = 0u32;
        for ((slot, hz), before) in bank.tongues.iter_mut().zip(self.wanted).zip(self.front.tongues) {
            let Some(hz) = hz else { continue };
            let fit = harmonics_that_fit(hz.0, self.rate_hz, usize::MAX);
            let Some(table) = PARTIALS.iter().position(|partials| *partials <= fit) else { continue };
            let same = before.filter(|tongue| tongue.hz == hz).map(|tongue| tongue.turning);
            let turning = same.unwrap_or_else(|| Turning::new(hz.0, self.rate_hz));
            *slot = Some(Tongue { hz, turning, table });
            count += 1;
        }
        bank.gain = num::single(1.0 / f64::from(count.max(1)));
        bank
    }

    /// The next sample, -1 to 1.
    #[inline]
    pub(super) fn next(&mut self) -> f32 {
        if self.stale && !self.cross.is_moving() {
            let bank = self.bank();
            self.back = std::mem::replace(&mut self.front, bank);
            self.stale = false;
            self.cross.reset();
            self.cross.go(true);
        }
        let front = sum(&self.tables, &mut self.front);
        if !self.cross.is_moving() {
            return front;
        }
        let share = num::single(self.cross.next());
        share * front + (1.0 - share) * sum(&self.tables, &mut self.back)
    }
}

#[inline]
fn sum(tables: &[Wavetable], bank: &mut Bank) -> f32 {
    let mut out = 0.0;
    for tongue in bank.tongues.iter_mut().flatten() {
        if let Some(table) = tables.get(tongue.table) {
            out += table.at(tongue.turning.next());
        }
    }
    bank.gain * out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drone::measure::partial_hz;

    #[test]
    fn every_reed_is_exact_to_the_sixth_partial() {
        let rate = SampleRate::new(48_000.0).expect("rate");
        let mut reed = Reed::new(rate);
        let mut wanted = [None; REEDS];
        wanted[0] = Some(Hertz(146.832));
        reed.set(wanted);
        reed.restart();
        let sound: Vec<f32> = (0..96_000).map(|_| reed.next()).collect();
        for partial in 1..=6 {
            let target = Hertz(146.832 * f64::from(partial));
            let cents = partial_hz(&sound, 48_000.0, target).cents_above(target).expect("cents");
            assert!(cents.0.abs() < 0.01, "partial {partial}: {cents:?}");
        }
    }

    #[test]
    fn the_sum_never_exceeds_one() {
        let mut reed = Reed::new(SampleRate::new(8_000.0).expect("rate"));
        reed.set(std::array::from_fn(|p| Some(Hertz(300.0 * (p as f64 / 12.0).exp2()))));
        reed.restart();
        assert!((0..80_000).map(|_| reed.next().abs()).fold(0.0, f32::max) <= 1.0);
    }
}
