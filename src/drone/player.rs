//! Everything that we make sound: the drone, the reference tone and the MIDI tones, under one ceiling and without clicks.
//!
//! In: a [`DroneSetting`], [`Material`] made off the audio thread, tones by name or key. Out: mono samples at the host's
//! rate. Nothing is ever louder than the setting's level (dBFS, a peak): each part comes with a bound on its size, and
//! where the bounds add to more than 1 all parts are turned down by that much. Since the bounds move as slowly as the
//! fades, that gain neither distorts nor pumps. The strings' bound is not the sum of all their peaks, which never meet in
//! one sample, but 4 dB less; should they meet, a gain that gives way at once and comes back slowly keeps the ceiling.
//! Fade-in 1 s; silent, to the last bit, 0.4 s after off; every change of Sa, tuning, strings, kind, level, on, bypass
//! crosses over. Never allocates, frees, locks or panics after `new`. Cost, 64-sample blocks at
//! 48 kHz: 0.19 % of a core with five strings, 0.17 % with three reeds, 0.03 % more for each tone; 0.7 % at 192 kHz.
//!
//! What it does not handle: when to sound (transport, a reopened project): the caller sets `on`.

use super::material::{Grade, Material};
use super::ramp::{Fade, Glide};
use super::reed::Reed;
use super::setting::{BadSetting, DroneSetting, Kind};
use super::strings::Strings;
use super::tones::{ReferenceTone, Tones};
use crate::units::{Hertz, SampleRate, num};

/// Fade-in and fade-out of the drone, seconds.
pub const FADE_IN_S: f64 = 1.0;
/// After this long the drone is silent once it is off, seconds.
pub const FADE_OUT_S: f64 = 0.4;
/// Crossover between strings and reed, seconds.
const KIND_S: f64 = 0.4;
/// Bypass, seconds.
const BYPASS_S: f64 = 0.03;
/// Time constant of a change of level, seconds.
const LEVEL_S: f64 = 0.04;
/// The drone's share of the ceiling; the rest is room for a reference tone before anything is turned down.
const DRONE_SHARE: f64 = 0.8;
/// Gain of the strings above the worst that they could add to, all peaks in one sample: what the plucks stay below (the tests play
/// a minute of them; ten minutes at eleven stringings and three seeds came no nearer to the ceiling than 1.5 dB).
const STRINGS_GAIN: f64 = 1.6;
/// Time constant with which the guard of the ceiling comes back, seconds: slower than any beat of the low Sa.
const GUARD_S: f64 = 0.3;
/// Gain of the reed, so that strings and reed are about equally loud at one level (chosen by RMS, see the tests).
const REED_GAIN: f64 = 0.43;

/// Plays the drone and the tones.
pub struct Player {
    setting: DroneSetting,
    strings: Strings,
    reed: Reed,
    tones: Tones,
    drone: Fade,
    kind: Fade,
    kind_now: Kind,
    bypass: Fade,
    level: Glide,
    guard: f64,
    guard_share: f64,
    guarded: u64,
}

impl Player {
    /// All memory is taken here; the drone is off.
    #[must_use]
    pub fn new(rate: SampleRate) -> Self {
        let setting = DroneSetting::default();
        let mut bypass = Fade::new(BYPASS_S, BYPASS_S, rate.hz());
        bypass.full();
        let mut kind = Fade::new(KIND_S, KIND_S, rate.hz());
        kind.full();
        let mut player = Self {
            setting,
            strings: Strings::new(rate),
            reed: Reed::new(rate),
            tones: Tones::new(rate),
            drone: Fade::new(FADE_IN_S, FADE_OUT_S, rate.hz()),
            kind,
            kind_now: Kind::Strings,
            bypass,
            level: Glide::new(setting.level.amplitude(), LEVEL_S, rate.hz()),
            guard: 1.0,
            guard_share: 1.0 - (-1.0 / (GUARD_S * rate.hz())).exp(),
            guarded: 0,
        };
        player.strings.set(&setting);
        player.reed.set(setting.reeds_hz());
        player
    }

    /// Says what the drone shall be from now on.
    ///
    /// # Errors
    /// A setting that does not validate changes nothing.
    pub fn set(&mut self, setting: &DroneSetting) -> Result<(), BadSetting> {
        setting.validate()?;
        self.setting = *setting;
        self.strings.set(setting);
        self.reed.set(setting.reeds_hz());
        self.level.go(setting.level.amplitude());
        if self.drone.is_silent() && self.tones.is_silent() {
            self.level.jump(setting.level.amplitude());
        }
        Ok(())
    }

    /// The best string material at hand for the setting in force: `None` means that the strings need some.
    #[must_use]
    pub fn grade(&self) -> Option<Grade> {
        self.strings.grade()
    }

    /// Whether new material would begin to take over at once, rather than wait for the end of a crossover.
    #[must_use]
    pub fn takes_over(&self) -> bool {
        self.strings.free()
    }

    /// Takes material over from the thread that made it. What comes back is for that thread to drop: the same material
    /// when it does not fit the setting in force, or older material that never came to sound.
    pub fn swap(&mut self, material: Box<Material>) -> Option<Box<Material>> {
        self.strings.swap(material)
    }

    /// Material that is no longer heard, to be dropped off the audio thread; ask now and then until `None`.
    pub fn retired(&mut self) -> Option<Box<Material>> {
        self.strings.retired()
    }

    /// Sounds a reference tone, changes it, or lets it go.
    pub fn reference(&mut self, tone: Option<ReferenceTone>) {
        self.tones.reference(tone);
    }

    /// A MIDI key goes down: a tone at `hz`, as strong as `velocity` (0 to 1).
    pub fn note_on(&mut self, key: u8, hz: Hertz, velocity: f64) {
        self.tones.key_on(key, hz, velocity);
    }

    /// A MIDI key comes up.
    pub fn note_off(&mut self, key: u8) {
        self.tones.key_off(key);
    }

    /// Keys that are held go where `hz` says that they sound by now, as after another Sa or another tuning.
    pub fn keys_at(&mut self, hz: impl Fn(u8) -> Hertz) {
        self.tones.keys_at(hz);
    }

    /// All reference and MIDI tones fade out.
    pub fn tones_off(&mut self) {
        self.tones.all_off();
    }

    /// Fades everything to silence, or back, in 30 ms.
    pub fn bypass(&mut self, on: bool) {
        self.bypass.go(!on);
    }

    /// Whether nothing sounds, nor will without a new call.
    #[must_use]
    pub fn is_silent(&self) -> bool {
        self.drone.is_silent() && !self.wants_drone() && self.tones.is_silent()
    }

    /// In how many samples the guard of the ceiling had to give way: 0 in ordinary use.
    #[must_use]
    pub fn guarded(&self) -> u64 {
        self.guarded
    }

    /// Back to silence at once, as after `new` with the same setting and material: a host's reset cuts what sounds, and what goes on
    /// after it fades in.
    pub fn reset(&mut self) {
        self.drone.reset();
        self.tones.reset();
        self.bypass.full();
        self.guard = 1.0;
        self.level.jump(self.setting.level.amplitude());
    }

    /// Fills `out`.
    pub fn process(&mut self, out: &mut [f32]) {
        for sample in out {
            *sample = self.next();
        }
    }

    fn can_sound(&self) -> bool {
        match self.setting.kind {
            Kind::Reed => true,
            Kind::Strings => self.strings.ready(),
        }
    }

    fn wants_drone(&self) -> bool {
        self.setting.on && self.can_sound()
    }

    #[inline]
    fn next(&mut self) -> f32 {
        let silent = self.drone.is_silent();
        self.strings.advance(!silent);
        if self.drone.is_silent() && self.wants_drone() {
            self.begin();
        } else if !self.setting.on {
            self.drone.go(false);
        } else if self.can_sound() {
            self.drone.go(true);
            self.turn_kind();
        }
        let drone = if self.drone.is_silent() { 0.0 } else { self.drone_next() };
        let (tones, tones_bound) = self.tones.next();
        let bound = DRONE_SHARE * self.drone.value() + tones_bound;
        let sum = (drone + tones) / bound.max(1.0) * self.bypass.next();
        num::single(self.guarded_sum(sum) * self.level.next())
    }

    /// `sum`, held within 1.
    #[inline]
    fn guarded_sum(&mut self, sum: f64) -> f64 {
        self.guard += self.guard_share * (1.0 - self.guard);
        if sum.abs() * self.guard > 1.0 {
            self.guard = 1.0 / sum.abs();
            self.guarded += 1;
        }
        (sum * self.guard).clamp(-1.0, 1.0)
    }

    fn begin(&mut self) {
        self.strings.restart();
        self.reed.restart();
        self.kind_now = self.setting.kind;
        self.kind.reset();
        if self.kind_now == Kind::Strings {
            self.kind.full();
        }
        self.drone.go(true);
    }

    fn turn_kind(&mut self) {
        if self.kind_now != self.setting.kind && !self.kind.is_moving() {
            self.kind_now = self.setting.kind;
            match self.kind_now {
                Kind::Strings => self.strings.restart(),
                Kind::Reed => self.reed.restart(),
            }
            self.kind.go(self.kind_now == Kind::Strings);
        }
    }

    #[inline]
    fn drone_next(&mut self) -> f64 {
        let share = self.kind.next();
        let mut sum = 0.0;
        if share > 0.0 {
            sum += share * STRINGS_GAIN * f64::from(self.strings.next());
        }
        if share < 1.0 {
            sum += (1.0 - share) * REED_GAIN * f64::from(self.reed.next());
        }
        DRONE_SHARE * self.drone.next() * sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Cents, Decibels};

    const RATE: f64 = 48_000.0;

    fn rate() -> SampleRate {
        SampleRate::new(RATE).expect("rate")
    }

    fn player(setting: &DroneSetting) -> Player {
        let mut player = Player::new(rate());
        player.set(setting).expect("a good setting");
        assert!(player.swap(Material::plain(setting, rate())).is_none());
        player
    }

    fn sound(player: &mut Player, seconds: f64) -> Vec<f32> {
        let mut out = vec![0.0; num::index(seconds * RATE)];
        player.process(&mut out);
        out
    }

    fn peak(sound: &[f32]) -> f64 {
        f64::from(sound.iter().fold(0.0f32, |peak, x| peak.max(x.abs())))
    }

    fn largest_step(sound: &[f32]) -> f64 {
        sound.windows(2).map(|pair| f64::from((pair[1] - pair[0]).abs())).fold(0.0, f64::max)
    }

    fn on(kind: Kind) -> DroneSetting {
        DroneSetting { on: true, kind, ..DroneSetting::default() }
    }

    #[test]
    fn nothing_exceeds_the_level_with_everything_sounding() {
        for (kind, level) in [(Kind::Strings, -3.0), (Kind::Reed, -3.0), (Kind::Strings, -12.0), (Kind::Reed, -30.0)] {
            let level = Decibels(level);
            let setting = DroneSetting { level, pluck_s: 0.6, ..on(kind) };
            let mut player = player(&setting);
            player.reference(Some(ReferenceTone { hz: setting.sa, level: Decibels(20.0) }));
            for key in 0..12 {
                player.note_on(60 + key, Hertz::of_midi_key(f64::from(60 + key), Hertz(440.0)), 1.0);
            }
            let loudest = peak(&sound(&mut player, 12.0));
            assert!(loudest <= level.amplitude() * 1.000_001, "{kind:?} {level:?}: {loudest}");
            let share = player.guarded() as f64 / (12.0 * RATE);
            assert!(share < 1e-3, "{kind:?}: the guard gave way in {share} of the samples");
        }
    }

    #[test]
    fn fades_in_over_a_second_and_is_silent_after_off() {
        for kind in [Kind::Strings, Kind::Reed] {
            let setting = on(kind);
            let mut steady = player(&setting);
            let mut player = player(&setting);
            let start = sound(&mut player, 4.0);
            let loudest = peak(&start);
            assert!(peak(&start[..4_800]) < 0.05 * loudest, "{kind:?}: quiet in the first tenth of a second");
            // Beside a player that was faded in long ago and begins its plucks at the same instant, the fade is the gain alone:
            // half a cosine, 0.146, 0.5 and 1 after 0.25, 0.5 and 1 s.
            steady.begin();
            steady.drone.full();
            let steady = sound(&mut steady, 1.2);
            let gain = |at_s: f64| {
                let around = num::index((at_s - 0.01) * RATE)..num::index((at_s + 0.01) * RATE);
                let energy = |x: &[f32]| x.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>();
                (energy(&start[around.clone()]) / energy(&steady[around])).sqrt()
            };
            for (at_s, low, high) in [(0.25, 0.12, 0.17), (0.5, 0.47, 0.53), (0.75, 0.83, 0.88), (1.02, 0.999, 1.001)] {
                let gain = gain(at_s);
                assert!((low..=high).contains(&gain), "{kind:?}: {gain} of the level after {at_s} s");
            }
            player.set(&DroneSetting { on: false, ..setting }).expect("off");
            let _tail = sound(&mut player, FADE_OUT_S + 0.001);
            assert!(sound(&mut player, 2.0).iter().all(|x| *x == 0.0), "{kind:?}: silent to the last bit");
            assert!(player.is_silent());
        }
    }

    /// By how much a change may exceed the largest step that the sound itself has before it or after it. A hard cut to silence
    /// at a crest exceeds it, which the tests show wherever there is something to cut.
    const STEPS: f64 = 1.2;
    /// A whole cycle of plucks and more, seconds: the sound's own largest step is in it.
    const CYCLE_S: f64 = 7.0;

    /// Plays on to a crest of the sound, where a switch without a fade steps furthest: within some cycles, of which no two are alike.
    fn to_a_crest(player: &mut Player, peak: f64, out: &mut Vec<f32>) {
        let mut sample = [0.0];
        for _ in 0..if peak > 0.0 { num::index(3.0 * CYCLE_S * RATE) } else { 0 } {
            player.process(&mut sample);
            out.push(sample[0]);
            if f64::from(sample[0].abs()) >= 0.6 * peak {
                break;
            }
        }
    }

    /// Lets `change` happen at a crest; it is told how high that is. What follows, from the last sample before it on, has no step
    /// that the sound itself has not, before and after; a cut to silence in the place of the change would have one.
    fn no_click(what: &str, player: &mut Player, change: impl FnOnce(&mut Player, f64, &mut Vec<f32>)) {
        let before = sound(player, CYCLE_S);
        let mut across = vec![before[before.len() - 1]];
        to_a_crest(player, peak(&before), &mut across);
        let cut = f64::from(across[across.len() - 1].abs());
        change(player, peak(&before), &mut across);
        let after = sound(player, CYCLE_S);
        let own = largest_step(&before).max(largest_step(&after));
        let step = largest_step(&across);
        assert!(step < STEPS * own, "{what}: step {step}, the sound's own {own}");
        // Out of silence, or of what is far softer, there is nothing to cut.
        if peak(&before) > 0.5 * peak(&after) {
            assert!(cut > STEPS * own, "{what}: a cut by {cut} would not be seen beside the sound's own {own}");
        }
    }

    /// Another setting, and its material a little later, as the worker has it; that too comes at a crest.
    fn turn(player: &mut Player, setting: &DroneSetting, grade: Grade, (peak, out): (f64, &mut Vec<f32>)) {
        player.set(setting).expect("a good setting");
        out.extend(sound(player, 0.05));
        drop(player.retired());
        let full = grade == Grade::Full;
        let material = if full { Material::full(setting, rate()) } else { Material::plain(setting, rate()) };
        to_a_crest(player, peak, out);
        drop(player.swap(material));
        out.extend(sound(player, 0.5));
        drop(player.retired());
        assert_eq!(player.grade(), Some(grade), "it has taken over");
        out.extend(sound(player, 1.0));
    }

    #[test]
    fn no_change_of_the_reed_clicks() {
        let first = on(Kind::Reed);
        let mut player = player(&first);
        let mut bare = DroneSetting { sa: Hertz(140.0), ..first };
        bare.reeds.sounding[7] = false;
        let mut three = bare;
        three.reeds.sounding[4] = true;
        // 5/4 becomes 81/64, as where the tuning is turned from just to Pythagorean; and back.
        let mut wide = three;
        wide.reeds.cents[4] = Cents::of_ratio(81.0 / 64.0);
        let strings = DroneSetting { kind: Kind::Strings, ..three };
        no_click("on", &mut player, |p, peak, out| turn(p, &first, Grade::Plain, (peak, out)));
        for (what, setting) in [
            ("tonic", DroneSetting { sa: Hertz(140.0), ..first }),
            ("a reed less", bare),
            ("Ga beside Sa", three),
            ("tuning", wide),
            ("tuning back", three),
            ("softer", DroneSetting { level: Decibels(-40.0), ..three }),
            ("as before", three),
            ("kind to strings", strings),
            ("kind to reed", three),
            ("off", DroneSetting { on: false, ..three }),
        ] {
            no_click(what, &mut player, |p, peak, out| turn(p, &setting, Grade::Plain, (peak, out)));
        }
    }

    #[test]
    fn no_change_of_the_strings_clicks() {
        let first = DroneSetting { sa: Hertz(155.0), ..on(Kind::Strings) };
        let mut player = player(&on(Kind::Strings));
        let with = |change: fn(&mut DroneSetting)| {
            let mut setting = first;
            change(&mut setting);
            setting
        };
        let ma = with(|s| s.stringing.first = crate::drone::First::Ma);
        let five = with(|s| s.stringing.with_ni = true);
        for (what, setting) in [
            ("tonic", first),
            ("first string Ma", ma),
            ("first string Ni", with(|s| s.stringing.first = crate::drone::First::Ni)),
            // 15/8 becomes 243/128.
            (
                "tuning",
                with(|s| {
                    (s.stringing.first, s.stringing.ni) = (crate::drone::First::Ni, Cents::of_ratio(243.0 / 128.0))
                }),
            ),
            ("a Ni string as well", five),
            ("without it", first),
            ("trims", with(|s| (s.trims[0], s.trims[4]) = (Cents(7.0), Cents(-30.0)))),
            ("the pair apart", with(|s| s.pair_detune = Cents(8.0))),
            ("faster", with(|s| s.pluck_s = 0.7)),
            ("slower", with(|s| s.pluck_s = 1.1)),
            ("softer", with(|s| s.level = Decibels(-40.0))),
            ("as before", first),
            ("off", with(|s| s.on = false)),
            ("on", first),
        ] {
            no_click(what, &mut player, |p, peak, out| turn(p, &setting, Grade::Plain, (peak, out)));
        }
        for bypassed in [true, false] {
            no_click("bypass", &mut player, |p, _, out| {
                p.bypass(bypassed);
                out.extend(sound(p, 0.5));
            });
        }
    }

    #[test]
    fn full_strings_take_over_from_plain_and_full_ones_without_a_click() {
        let first = on(Kind::Strings);
        let moved = DroneSetting { sa: Hertz(155.0), ..first };
        let reed = DroneSetting { kind: Kind::Reed, ..first };
        let off = DroneSetting { on: false, ..first };
        let mut player = player(&first);
        let _start = sound(&mut player, 2.0);
        no_click("plain to full", &mut player, |p, peak, out| turn(p, &first, Grade::Full, (peak, out)));
        no_click("full to plain", &mut player, |p, peak, out| turn(p, &moved, Grade::Plain, (peak, out)));
        no_click("plain to full again", &mut player, |p, peak, out| turn(p, &moved, Grade::Full, (peak, out)));
        no_click("full to full", &mut player, |p, peak, out| turn(p, &first, Grade::Full, (peak, out)));
        no_click("full to reed", &mut player, |p, peak, out| turn(p, &reed, Grade::Full, (peak, out)));
        no_click("reed to full", &mut player, |p, peak, out| turn(p, &first, Grade::Full, (peak, out)));
        no_click("off", &mut player, |p, peak, out| turn(p, &off, Grade::Full, (peak, out)));
    }

    #[test]
    fn no_change_of_the_full_strings_clicks() {
        let first = on(Kind::Strings);
        let mut player = player(&first);
        // The plain one was waiting to be heard.
        assert!(player.swap(Material::full(&first, rate())).is_some());
        let _start = sound(&mut player, 2.0);
        let with = |change: fn(&mut DroneSetting)| {
            let mut setting = first;
            change(&mut setting);
            setting
        };
        let ni = with(|s| s.stringing.first = crate::drone::First::Ni);
        let mut wide = ni;
        // 15/8 becomes 243/128, as where the tuning is turned from just to Pythagorean.
        wide.stringing.ni = Cents::of_ratio(243.0 / 128.0);
        let five = with(|s| s.stringing.with_ni = true);
        for (what, setting) in
            [("first string Ni", ni), ("tuning", wide), ("a Ni string as well", five), ("back", first)]
        {
            no_click(what, &mut player, |p, peak, out| turn(p, &setting, Grade::Full, (peak, out)));
        }
        // These need no other material; off and on is what the transport does to a drone that waits for it.
        for (what, setting) in [
            ("softer", with(|s| s.level = Decibels(-40.0))),
            ("as before", first),
            ("off", with(|s| s.on = false)),
            ("on", first),
        ] {
            no_click(what, &mut player, |p, _, out| {
                p.set(&setting).expect("a good setting");
                out.extend(sound(p, 1.5));
            });
        }
        for bypassed in [true, false] {
            no_click("bypass", &mut player, |p, _, out| {
                p.bypass(bypassed);
                out.extend(sound(p, 0.5));
            });
        }
        assert_eq!(player.grade(), Some(Grade::Full));
    }

    #[test]
    fn plain_material_begins_to_take_over_at_once_and_is_there_in_150_ms() {
        let first = on(Kind::Strings);
        let mut player = player(&first);
        let _start = sound(&mut player, 3.0);
        let moved = DroneSetting { sa: Hertz(155.0), ..first };
        player.set(&moved).expect("moved");
        assert!(player.swap(Material::plain(&moved, rate())).is_none());
        assert!(player.takes_over());
        let _one = sound(&mut player, 1.5 / RATE);
        assert!(!player.takes_over(), "it crosses over from the next sample on");
        let _cross = sound(&mut player, 0.150);
        assert!(player.retired().is_some(), "and what was before is gone");
    }

    /// In the rest of the slowest pluck mandra Sa has rung for up to five seconds: another Sa takes it over even there.
    #[test]
    fn another_sa_leaves_no_gap_in_the_longest_rest() {
        let first = DroneSetting { pluck_s: 2.5, ..on(Kind::Strings) };
        let moved = DroneSetting { sa: Hertz(155.0), ..first };
        let mut player = player(&first);
        // Four plucks and the rest are 12.5 s.
        let _cycle = sound(&mut player, 12.0);
        let rms =
            |sound: &[f32]| (sound.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / sound.len() as f64).sqrt();
        let before = rms(&sound(&mut player, 0.2));
        player.set(&moved).expect("moved");
        assert!(player.swap(Material::plain(&moved, rate())).is_none());
        let _cross = sound(&mut player, 0.16);
        let after = rms(&sound(&mut player, 0.13));
        assert!(after > 0.5 * before, "{after} after, {before} before");
    }

    #[test]
    fn a_reset_cuts_and_what_goes_on_fades_in() {
        let mut player = player(&on(Kind::Strings));
        let before = sound(&mut player, 8.0);
        player.reset();
        let after = sound(&mut player, 8.0);
        assert_eq!(after[0], 0.0);
        assert!(peak(&after[..4_800]) < 0.05 * peak(&before) && peak(&after) > 0.9 * peak(&before));
    }

    #[test]
    fn the_same_seed_sounds_the_same_in_blocks_of_any_size() {
        let setting = on(Kind::Strings);
        let whole = sound(&mut player(&setting), 4.0);
        for size in [1, 7, 64, 4096] {
            let mut player = player(&setting);
            let mut pieces = vec![0.0; whole.len()];
            pieces.chunks_mut(size).for_each(|block| player.process(block));
            assert!(whole == pieces, "blocks of {size}");
        }
        let other = sound(&mut player(&DroneSetting { seed: 2, ..setting }), 4.0);
        assert!(whole != other, "another seed, another sound");
        let mut again = player(&setting);
        let _first = sound(&mut again, 3.0);
        again.reset();
        assert!(whole == sound(&mut again, 4.0), "reset gives the initial state");
    }

    #[test]
    fn strings_and_reed_are_about_equally_loud_and_the_ceiling_of_the_default_is_a_quarter() {
        let loud = |kind| {
            let out = sound(&mut player(&on(kind)), 8.0);
            let energy: f64 = out[48_000..].iter().map(|x| f64::from(*x).powi(2)).sum();
            Decibels::of_amplitude((energy / (out.len() - 48_000) as f64).sqrt()).0
        };
        let (strings, reed) = (loud(Kind::Strings), loud(Kind::Reed));
        println!("RMS at the default level: strings {strings:.1} dBFS, reed {reed:.1} dBFS");
        assert!((strings - reed).abs() < 2.0, "strings {strings} dBFS, reed {reed} dBFS");
    }

    #[test]
    fn every_rate_works() {
        for hz in [8e3, 16e3, 22.05e3, 44.1e3, 48e3, 88.2e3, 96e3, 176.4e3, 192e3] {
            let rate = SampleRate::new(hz).expect("rate");
            for kind in [Kind::Strings, Kind::Reed] {
                let setting = on(kind);
                let mut player = Player::new(rate);
                player.set(&setting).expect("setting");
                drop(player.swap(Material::plain(&setting, rate)));
                let mut out = vec![0.0; num::index(hz * 2.0)];
                player.process(&mut out);
                assert!(peak(&out) > 0.02 && out.iter().all(|x| x.is_finite()), "{kind:?} at {hz} Hz");
            }
        }
    }

    #[test]
    fn material_is_handed_back_and_never_lost() {
        let setting = on(Kind::Strings);
        let mut player = player(&setting);
        let _first = sound(&mut player, 2.0);
        let moved = DroneSetting { sa: Hertz(150.0), ..setting };
        assert!(player.swap(Material::plain(&moved, rate())).is_some(), "not what is wanted now");
        player.set(&moved).expect("moved");
        assert_eq!(player.grade(), None);
        assert!(player.swap(Material::plain(&moved, rate())).is_none());
        assert_eq!(player.grade(), Some(Grade::Plain));
        let _cross = sound(&mut player, 0.1);
        assert!(player.retired().is_none(), "still fading out");
        let _cross = sound(&mut player, 0.3);
        assert!(player.retired().is_some_and(|old| old.fits(&setting, rate())));
    }

    #[test]
    fn bad_notes_and_settings_change_nothing() {
        let mut player = Player::new(rate());
        player.note_on(60, Hertz(f64::NAN), 1.0);
        player.note_on(61, Hertz(220.0), f64::NAN);
        player.reference(Some(ReferenceTone { hz: Hertz(f64::INFINITY), level: Decibels(0.0) }));
        assert!(player.set(&DroneSetting { level: Decibels(f64::NAN), ..on(Kind::Reed) }).is_err());
        assert!(sound(&mut player, 0.5).iter().all(|x| *x == 0.0));
    }
}
