//! The plucked drone as it plays: one string after another in the traditional order, no two plucks the same.
//!
//! In: [`Material`] made elsewhere and handed over, the time per pluck. Out: the sum of all strings, sample by sample at
//! the host's rate, never above 1. Each pluck blends two takes of its string in its own proportion, with its own strength
//! and brightness, drawn from the seed and the pluck's number: the same seed gives the same sound. New material takes
//! over in the middle of every ringing string in 0.15 s, without a gap, at the same place of its decay. At rates above
//! 88.2 kHz the strings play at a whole part of the rate and are interpolated. Never allocates or frees after `new`:
//! what has had its day waits in [`Strings::retired`] until someone off the audio thread takes it.
//! Cost: about 30 ns a sample.

use super::interpolate::Interpolator;
use super::material::{Grade, Material, REST_SLOTS, spacing};
use super::ramp::Fade;
use super::setting::{DroneSetting, STRINGS};
use crate::units::{SampleRate, num};

/// Time in which new material takes over, seconds: with what the plain one takes to be made, another Sa is wholly there in less than
/// 0.3 s at any timing.
const CROSS_S: f64 = 0.15;
/// Time in which a string's last pluck ends when it is plucked again, seconds (the finger stops the string first).
const STOP_S: f64 = 0.02;
/// The softest pluck, the strongest being 1: about 1.5 dB (chosen so that the cycle stays even).
const SOFTEST: f64 = 0.84;
/// Largest share of a pluck that goes through the darkening filter.
const DARKEST: f64 = 0.35;
/// Corner of the darkening filter, Hz.
const DARK_HZ: f64 = 900.0;

/// One pluck, sounding.
#[derive(Clone, Copy, Default)]
struct Pluck {
    sounding: bool,
    elapsed: usize,
    drawn: (f64, f64),
    takes: (usize, usize),
    blend: f32,
    gain: f32,
    dark: f32,
    low: f32,
    stop: Option<f32>,
}

/// The strings on one material.
#[derive(Default)]
struct Deck {
    material: Option<Box<Material>>,
    ringing: [Pluck; STRINGS],
    stopping: [Pluck; STRINGS],
}

/// Plays the strings.
pub(super) struct Strings {
    rate: SampleRate,
    own_rate_hz: f64,
    front: Deck,
    back: Deck,
    incoming: Option<Box<Material>>,
    cross: Fade,
    slot: usize,
    until_pluck: f64,
    plucks: u64,
    setting: DroneSetting,
    ready: bool,
    incoming_fits: bool,
    dark_share: f32,
    stop_step: f32,
    interpolator: Interpolator,
}

/// A number from 0 to 1 that depends on its three arguments alone (SplitMix64; Steele, Lea and Flood 2014).
pub(super) fn draw(seed: u64, pluck: u64, what: u64) -> f64 {
    let mut z = seed.wrapping_add((pluck * 8 + what + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15));
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
}

impl Pluck {
    fn new(seed: u64, number: u64) -> Self {
        let share = |what| num::single(draw(seed, number, what));
        Self {
            sounding: true,
            drawn: (draw(seed, number, 0), draw(seed, number, 1)),
            blend: share(2),
            gain: num::single(SOFTEST + (1.0 - SOFTEST) * draw(seed, number, 3)),
            dark: num::single(DARKEST * draw(seed, number, 4)),
            ..Self::default()
        }
    }

    /// Chooses its two takes among `count`.
    fn among(mut self, count: usize) -> Self {
        let choose = |drawn: f64| num::floor_index(drawn * count as f64);
        self.takes = (choose(self.drawn.0), choose(self.drawn.1));
        self
    }

    #[inline]
    fn next(&mut self, takes: &[Box<[f32]>], dark_share: f32, stop_step: f32) -> f32 {
        let read = |take: usize| takes.get(take).and_then(|take| take.get(self.elapsed)).copied();
        let (Some(a), Some(b)) = (read(self.takes.0), read(self.takes.1)) else {
            self.sounding = false;
            return 0.0;
        };
        self.elapsed += 1;
        let raw = a + self.blend * (b - a);
        self.low += dark_share * (raw - self.low);
        let mut out = self.gain * (raw + self.dark * (self.low - raw));
        if let Some(left) = self.stop {
            out *= left;
            self.stop = Some((left - stop_step).max(0.0));
            self.sounding = left > 0.0;
        }
        out
    }
}

impl Deck {
    fn pluck(&mut self, string: usize, pluck: Pluck) {
        if let (Some(ringing), Some(stopping)) = (self.ringing.get_mut(string), self.stopping.get_mut(string)) {
            *stopping = *ringing;
            stopping.stop = Some(1.0);
            *ringing = pluck.among(self.material.as_ref().map_or(0, |material| material.takes(string).len()));
        }
    }

    #[inline]
    fn next(&mut self, dark_share: f32, stop_step: f32) -> f32 {
        let Some(material) = &self.material else { return 0.0 };
        let mut sum = 0.0;
        for (string, (ringing, stopping)) in self.ringing.iter_mut().zip(&mut self.stopping).enumerate() {
            for pluck in [ringing, stopping] {
                if pluck.sounding {
                    sum += pluck.next(material.takes(string), dark_share, stop_step);
                }
            }
        }
        sum
    }

    fn silence(&mut self) {
        self.ringing = [Pluck::default(); STRINGS];
        self.stopping = [Pluck::default(); STRINGS];
    }
}

impl Strings {
    /// All memory but the material is taken here.
    pub(super) fn new(rate: SampleRate) -> Self {
        let factor = spacing(rate);
        let own_rate_hz = rate.hz() / factor as f64;
        let mut cross = Fade::new(CROSS_S, CROSS_S, own_rate_hz);
        cross.full();
        Self {
            rate,
            own_rate_hz,
            front: Deck::default(),
            back: Deck::default(),
            incoming: None,
            cross,
            slot: 0,
            until_pluck: 0.0,
            plucks: 0,
            setting: DroneSetting::default(),
            ready: false,
            incoming_fits: false,
            dark_share: num::single(1.0 - (-std::f64::consts::TAU * DARK_HZ / own_rate_hz).exp()),
            stop_step: num::single(1.0 / (STOP_S * own_rate_hz)),
            interpolator: Interpolator::new(factor),
        }
    }

    /// What shall sound; a change of timing is heard from the next pluck on, other changes when their material comes.
    pub(super) fn set(&mut self, setting: &DroneSetting) {
        self.setting = *setting;
        self.refresh();
    }

    fn fits(&self, material: Option<&Material>) -> bool {
        material.is_some_and(|material| material.fits(&self.setting, self.rate))
    }

    fn refresh(&mut self) {
        self.ready = self.fits(self.front.material.as_deref());
        self.incoming_fits = self.fits(self.incoming.as_deref());
    }

    /// The best material at hand for the setting.
    pub(super) fn grade(&self) -> Option<Grade> {
        let at_hand = [self.front.material.as_deref(), self.incoming.as_deref()];
        at_hand.into_iter().filter(|material| self.fits(*material)).flatten().map(Material::grade).max()
    }

    /// Whether what sounds now is what the setting needs.
    #[inline]
    pub(super) fn ready(&self) -> bool {
        self.ready
    }

    /// Takes new material; hands back the new one when it does not fit, else what was still waiting to be heard.
    pub(super) fn swap(&mut self, material: Box<Material>) -> Option<Box<Material>> {
        if !self.fits(Some(&material)) {
            return Some(material);
        }
        let waiting = self.incoming.replace(material);
        self.refresh();
        waiting
    }

    /// Material that is no longer heard.
    pub(super) fn retired(&mut self) -> Option<Box<Material>> {
        if self.cross.is_moving() { None } else { self.back.material.take() }
    }

    /// Lets waiting material take over as soon as the last crossover is done.
    #[inline]
    pub(super) fn advance(&mut self, sounding: bool) {
        if self.incoming_fits && self.free() {
            self.take_over(sounding);
        }
    }

    /// Whether new material would begin to take over at once: the last crossover is done and what it left was taken away.
    pub(super) fn free(&self) -> bool {
        !self.cross.is_moving() && self.back.material.is_none()
    }

    fn take_over(&mut self, sounding: bool) {
        std::mem::swap(&mut self.front, &mut self.back);
        self.front.material = self.incoming.take();
        self.front.silence();
        if sounding && self.back.material.is_some() {
            // The same plucks at the same place of their decay, now on the new material.
            self.front.ringing = self.back.ringing;
            for (string, pluck) in self.front.ringing.iter_mut().enumerate() {
                let count = self.front.material.as_ref().map_or(0, |material| material.takes(string).len());
                *pluck = pluck.among(count);
            }
            self.cross.reset();
            self.cross.go(true);
        } else {
            self.cross.full();
        }
        self.refresh();
    }

    /// The cycle begins anew with its first string; nothing rings (only where nothing is heard).
    pub(super) fn restart(&mut self) {
        self.front.silence();
        self.back.silence();
        self.cross.full();
        (self.slot, self.until_pluck, self.plucks) = (0, 0.0, 0);
        self.interpolator.reset();
    }

    /// The next sample at the host's rate.
    #[inline]
    pub(super) fn next(&mut self) -> f32 {
        if self.interpolator.wants_input() {
            let sample = self.own_next();
            self.interpolator.push(sample);
        }
        self.interpolator.pull()
    }

    #[inline]
    fn own_next(&mut self) -> f32 {
        if self.until_pluck <= 0.0 {
            self.pluck_next();
        }
        self.until_pluck -= 1.0;
        let front = self.front.next(self.dark_share, self.stop_step);
        if !self.cross.is_moving() {
            return front;
        }
        let share = num::single(self.cross.next());
        let sum = share * front + (1.0 - share) * self.back.next(self.dark_share, self.stop_step);
        if !self.cross.is_moving() {
            self.back.silence();
        }
        sum
    }

    fn pluck_next(&mut self) {
        let Some(material) = &self.front.material else { return };
        let has = |slot: usize| slot < STRINGS && !material.takes(slot).is_empty();
        while self.slot < STRINGS && !has(self.slot) {
            self.slot += 1;
        }
        if has(self.slot) {
            let pluck = Pluck::new(self.setting.seed, self.plucks);
            self.front.pluck(self.slot, pluck);
            if self.cross.is_moving() {
                self.back.pluck(self.slot, pluck);
            }
        }
        self.plucks += 1;
        self.slot = (self.slot + 1) % (STRINGS + REST_SLOTS);
        self.until_pluck += self.setting.pluck_s * self.own_rate_hz;
    }
}
