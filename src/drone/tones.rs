//! The reference tones: a swara on demand, or under the host's MIDI keys, with clear harmonics to match a voice to.
//!
//! In: frequencies (Hz) and strengths, as "reference tone on, off" and "key down, key up". Out: their sum, sample by
//! sample at the host's rate, with a bound that the sum does not exceed at that instant. Method: one stored period per
//! tone (see `wavetable`), its partials those of an open vowel: a falling source times two resonances fixed in hertz, so
//! that the tone is voice-like in every register. Filled once when a tone starts (about 40 microseconds, no allocation).
//! Cost: 5 ns a tone and sample. At most [`TONES`] sound; a key that finds none free is not heard.
//!
//! What it does not handle: bends, sustain pedal, vibrato (a reference must not move).

use super::ramp::Fade;
use super::wavetable::{Sine, Turning, Wavetable, harmonics_that_fit};
use crate::units::{Decibels, Hertz, SampleRate};

/// Tones that can sound together, those fading out included.
const TONES: usize = 12;
/// Keys that can be held together; one more lets go of the oldest.
const HELD: usize = 6;
/// Partials of a tone at most.
const PARTIALS: usize = 24;
/// No partial above this, Hz: where a sung vowel has little (common practice, no source).
const TOP_HZ: f64 = 5_000.0;
/// A tone follows steps up to this without a new onset, cents: less than from one swara to the next.
const FOLLOWED_CENTS: f64 = 60.0;
/// Attack and release, seconds: soft, so that the beats, not the onset, are heard.
const ATTACK_S: f64 = 0.08;
const RELEASE_S: f64 = 0.12;
/// Fall of the source: amplitude as a power of the order (6 dB an octave: glottal 12, mouth radiation +6; Fant 1960).
const FALL: f64 = 1.0;
/// Resonances of an open "a": centre and bandwidth, Hz, gain (Fant 1960, order of magnitude).
const FORMANTS: [(f64, f64, f64); 3] = [(700.0, 130.0, 2.0), (1_150.0, 150.0, 1.4), (2_600.0, 250.0, 0.8)];
/// Lowest and highest frequency that is played, Hz.
const RANGE_HZ: (f64, f64) = (30.0, 3_000.0);
/// Peak of a tone at full strength, relative to the ceiling: sits beside the drone without pushing it down much.
const FULL: f64 = 0.35;

/// A reference tone: what to sound and how strong.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReferenceTone {
    /// Its frequency.
    pub hz: Hertz,
    /// Its strength: 0 dB full, lower is softer; values above 0 count as 0.
    pub level: Decibels,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Owner {
    Reference,
    Key(u8),
}

struct Tone {
    owner: Owner,
    table: Wavetable,
    turning: Turning,
    hz: Hertz,
    fade: Fade,
    held: bool,
    gain: f64,
    age: u64,
}

/// Plays the tones. Never allocates after `new`.
pub(super) struct Tones {
    rate_hz: f64,
    sine: Sine,
    tones: Vec<Tone>,
    reference: Option<ReferenceTone>,
    started: u64,
    silent: bool,
}

fn vowel(hz: f64) -> f64 {
    let resonances = FORMANTS.iter().map(|(centre, width, gain)| gain / (1.0 + ((hz - centre) / width).powi(2)));
    0.25 + resonances.sum::<f64>()
}

impl Tones {
    /// All memory is taken here.
    pub(super) fn new(rate: SampleRate) -> Self {
        let tone = |_| Tone {
            owner: Owner::Reference,
            table: Wavetable::new(),
            turning: Turning::default(),
            hz: Hertz(0.0),
            fade: Fade::new(ATTACK_S, RELEASE_S, rate.hz()),
            held: false,
            gain: 0.0,
            age: 0,
        };
        let tones = (0..TONES).map(tone).collect();
        Self { rate_hz: rate.hz(), sine: Sine::new(), tones, reference: None, started: 0, silent: true }
    }

    /// Starts, changes or ends the reference tone.
    pub(super) fn reference(&mut self, tone: Option<ReferenceTone>) {
        if self.reference != tone {
            let before = std::mem::replace(&mut self.reference, tone);
            let as_strong = before.zip(tone).filter(|(a, b)| a.level == b.level);
            if as_strong.is_some_and(|(_, tone)| self.follows(Owner::Reference, tone.hz)) {
                return;
            }
            self.release(Owner::Reference);
            if let Some(ReferenceTone { hz, level }) = tone {
                self.start(Owner::Reference, hz, level.amplitude());
            }
        }
    }

    /// A tone that moves by a small step goes on sounding there, without a new onset: what is heard as it was sung.
    fn follows(&mut self, owner: Owner, to: Hertz) -> bool {
        let Some(tone) = self.tones.iter_mut().find(|tone| tone.held && tone.owner == owner) else { return false };
        let near = to.cents_above(tone.hz).is_some_and(|cents| cents.0.abs() <= FOLLOWED_CENTS);
        if near {
            tone.turning.turn_at(to.0, self.rate_hz);
            tone.hz = to;
        }
        near
    }

    /// Every held key goes where `hz` says that it sounds by now: as the reference does, by a small step without a new onset.
    pub(super) fn keys_at(&mut self, hz: impl Fn(u8) -> Hertz) {
        for index in 0..self.tones.len() {
            let held = self.tones.get(index).filter(|tone| tone.held).map(|tone| (tone.owner, tone.hz, tone.gain));
            let Some((Owner::Key(key), was, gain)) = held else { continue };
            let to = hz(key);
            if to != was && !self.follows(Owner::Key(key), to) {
                self.key_on(key, to, gain / FULL);
            }
        }
    }

    /// A key goes down; `strength` 0 to 1.
    pub(super) fn key_on(&mut self, key: u8, hz: Hertz, strength: f64) {
        self.release(Owner::Key(key));
        let held = |tone: &&mut Tone| tone.held && tone.owner != Owner::Reference;
        if self.tones.iter_mut().filter(held).count() >= HELD
            && let Some(oldest) = self.tones.iter_mut().filter(held).min_by_key(|tone| tone.age)
        {
            oldest.held = false;
            oldest.fade.go(false);
        }
        self.start(Owner::Key(key), hz, strength);
    }

    /// A key comes up.
    pub(super) fn key_off(&mut self, key: u8) {
        self.release(Owner::Key(key));
    }

    /// Lets every tone fade out.
    pub(super) fn all_off(&mut self) {
        self.reference = None;
        for tone in &mut self.tones {
            tone.held = false;
            tone.fade.go(false);
        }
    }

    /// Silent at once.
    pub(super) fn reset(&mut self) {
        self.all_off();
        self.tones.iter_mut().for_each(|tone| tone.fade.reset());
    }

    fn release(&mut self, owner: Owner) {
        for tone in self.tones.iter_mut().filter(|tone| tone.held && tone.owner == owner) {
            tone.held = false;
            tone.fade.go(false);
        }
    }

    fn start(&mut self, owner: Owner, hz: Hertz, strength: f64) {
        let harmonics = harmonics_that_fit(hz.0, self.rate_hz.min(TOP_HZ / super::wavetable::BAND), PARTIALS);
        let playable = (RANGE_HZ.0..=RANGE_HZ.1).contains(&hz.0) && strength > 0.0 && harmonics > 0;
        let free = self.tones.iter_mut().find(|tone| tone.fade.is_silent() && !tone.held);
        let Some(tone) = free.filter(|_| playable) else { return };
        tone.table.fill(&self.sine, harmonics, |h| (h as f64).powf(-FALL) * vowel(hz.0 * h as f64));
        tone.turning = Turning::new(hz.0, self.rate_hz);
        tone.hz = hz;
        tone.gain = FULL * strength.min(1.0);
        tone.owner = owner;
        tone.held = true;
        tone.fade.reset();
        tone.fade.go(true);
        self.started += 1;
        self.silent = false;
        tone.age = self.started;
    }

    /// Whether nothing sounds.
    pub(super) fn is_silent(&self) -> bool {
        self.silent || self.tones.iter().all(|tone| tone.fade.is_silent())
    }

    /// The next sample and the bound on its size.
    #[inline]
    pub(super) fn next(&mut self) -> (f64, f64) {
        if self.silent {
            return (0.0, 0.0);
        }
        let (mut sum, mut bound) = (0.0, 0.0);
        self.silent = true;
        for tone in self.tones.iter_mut().filter(|tone| !tone.fade.is_silent()) {
            let gain = tone.gain * tone.fade.next();
            sum += gain * f64::from(tone.table.at(tone.turning.next()));
            bound += gain;
            self.silent = false;
        }
        (sum, bound)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drone::measure::{partial_hz, pieces};
    use crate::units::num;

    #[test]
    fn the_reference_is_exact_and_its_harmonics_are_clear() {
        let rate = SampleRate::new(44_100.0).expect("rate");
        let mut tones = Tones::new(rate);
        let hz = Hertz(220.25);
        tones.reference(Some(ReferenceTone { hz, level: Decibels(0.0) }));
        let sound: Vec<f32> = (0..88_200).map(|_| num::single(tones.next().0)).collect();
        let steady = &sound[8_820..];
        let cents = partial_hz(steady, rate.hz(), hz).cents_above(hz).expect("cents");
        assert!(cents.0.abs() < 0.005, "{cents:?}");
        let strength = |h: f64| pieces(steady, rate.hz(), Hertz(hz.0 * h), 0.4).first().map_or(0.0, |p| p.1.hypot(p.2));
        for h in 2..=6 {
            let below = Decibels::of_amplitude(strength(f64::from(h)) / strength(1.0)).0;
            assert!(below > -25.0, "harmonic {h} is {below} dB");
        }
    }

    #[test]
    fn a_seventh_key_lets_go_of_the_first_and_the_bound_holds() {
        let mut tones = Tones::new(SampleRate::new(48_000.0).expect("rate"));
        for key in 0..7 {
            tones.key_on(key, Hertz(110.0 * (f64::from(key) / 12.0).exp2()), 1.0);
        }
        for _ in 0..48_000 {
            let (sample, bound) = tones.next();
            assert!(sample.abs() <= bound + 1e-9);
        }
        let held = tones.tones.iter().filter(|tone| tone.held).count();
        assert_eq!(held, HELD);
        for key in 0..7 {
            tones.key_off(key);
        }
        (0..48_000).for_each(|_| {
            tones.next();
        });
        assert!(tones.is_silent());
    }

    /// A small step goes on in the same tone, a large one is another tone; neither steps in the sound.
    #[test]
    fn a_held_key_goes_where_it_sounds_by_now() {
        let rate = SampleRate::new(48_000.0).expect("rate");
        let mut tones = Tones::new(rate);
        let sound =
            |tones: &mut Tones, samples| (0..samples).map(|_| num::single(tones.next().0)).collect::<Vec<f32>>();
        let step = |sound: &[f32]| sound.windows(2).map(|pair| (pair[1] - pair[0]).abs()).fold(0.0, f32::max);
        let exact = |sound: &[f32], hz: Hertz| partial_hz(sound, rate.hz(), hz).cents_above(hz).expect("cents").0.abs();
        let sounding = |tones: &Tones| tones.tones.iter().filter(|tone| !tone.fade.is_silent()).count();
        tones.key_on(50, Hertz(147.0), 0.8);
        let mut heard = sound(&mut tones, 24_000);
        let own = step(&heard);
        // By 20 cents.
        tones.keys_at(|_| Hertz(148.708));
        assert_eq!(sounding(&tones), 1, "the small step is no new tone");
        heard.extend(sound(&mut tones, 24_000));
        assert!(step(&heard) < 1.05 * own, "step {} beside the sound's own {own}", step(&heard));
        // By 100 cents: one fades while the other begins, so that for a while there are two.
        let moved = |key| Hertz(if key == 50 { 157.551 } else { 208.124 });
        tones.keys_at(moved);
        assert_eq!(sounding(&tones), 2);
        heard.extend(sound(&mut tones, 24_000));
        assert!(step(&heard) < 2.0 * own, "step {} beside the sound's own {own}", step(&heard));
        tones.key_on(57, Hertz(220.5), 0.8);
        sound(&mut tones, 24_000);
        tones.keys_at(moved);
        sound(&mut tones, 12_000);
        let after = sound(&mut tones, 48_000);
        for key in [50, 57] {
            assert!(exact(&after, moved(key)) < 0.01, "key {key} is off");
        }
        assert_eq!(sounding(&tones), 2);
        // And it is still the same key's to let go.
        [50, 57].into_iter().for_each(|key| tones.key_off(key));
        sound(&mut tones, 12_000);
        assert!(tones.is_silent());
    }
}
