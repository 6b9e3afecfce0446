//! What the plucked strings play: a few recorded plucks of each string, made off the audio thread.
//!
//! In: a [`DroneSetting`] and the host's rate. Out: boxed [`Material`]: for each string one or more takes (samples at
//! [`Material::rate_hz`], the host's rate or a whole part of it, at most 88.2 kHz), in balance with each other and scaled so
//! that in no order of plucks at the fastest timing their sum exceeds 1. Two grades: `plain` (additive, ready in under
//! 0.1 s) and `full` (the string against its bridge, a few seconds).
//! Cost, five strings on one core: plain 0.04 s at any timing, full 1.0 to 2.0 s; 4 bytes a sample, 5 to 30 MB in all.
//!
//! What it does not handle: threads; whoever calls it decides where it runs.

use super::bridge::{self, Build, Finger, SIM_RATE_HZ};
use super::plain;
use super::setting::{DroneSetting, PLUCK_S, STRINGS, StringRole};
use super::strings::draw;
use super::tuning::tuned;
use crate::units::{Hertz, SampleRate, num};

/// The player's own rate is at least this wherever the host's is, Hz.
const OWN_RATE_HZ: f64 = 44_100.0;
/// Highest partial kept, Hz: above it neither strings nor ears have much.
const TOP_HZ: f64 = 16_000.0;
/// Fade at the end of a take, seconds.
const END_S: f64 = 0.4;
/// Fade at the start of a take, seconds: a fingertip leaves a string no faster.
const START_S: f64 = 0.002;
/// A take lasts one cycle and this much more, seconds.
const SPARE_S: f64 = 0.5;
/// Slots of the cycle that mandra Sa rings alone.
pub(super) const REST_SLOTS: usize = 1;
/// The longest plain take, seconds: until the full ones are there, a string rings on through the rest at the slowest pluck, so that
/// there is no gap wherever in the cycle it takes over; more would be time lost before anything sounds.
const PLAIN_S: f64 = (1 + REST_SLOTS) as f64 * PLUCK_S.1 + END_S + 0.1;
/// Takes of each string in the full grade, and where takes are longer than [`LONG_S`] (a slow pluck), so that these are
/// ready in time too.
const TAKES: usize = 3;
const TAKES_LONG: usize = 2;
/// A long take, seconds.
const LONG_S: f64 = 8.0;
/// Lowest and highest Sa of an instrument with a metre of string, Hz (C3 to C#4, by the choice of strings: common practice, no
/// source).
const METRE_SA_HZ: (f64, f64) = (130.8, 277.2);
/// Where and how the finger plucks, and by how much it differs from take to take (place near the middle of the string:
/// common practice; the rest chosen by ear of the measured spectra, no source).
const PLACE: (f64, f64) = (0.38, 0.06);
const PULL: (f64, f64) = (0.92, 0.16);
const SOFT_HZ: (f64, f64) = (2_200.0, 1_600.0);
/// The plain grade is turned down by this much, to be as loud as the full one (which has the higher crest; see the marks).
const PLAIN_SOFTER: f64 = 1.55;
/// Stretch over which the strings are balanced, seconds from the pluck.
const BALANCE_S: (f64, f64) = (0.05, 1.0);

/// How the material was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Grade {
    /// Exact and plain.
    Plain,
    /// The full string model.
    Full,
}

/// The plucks of every string.
#[derive(Debug)]
pub struct Material {
    grade: Grade,
    host_rate: SampleRate,
    hz: [Option<Hertz>; STRINGS],
    pluck_s: f64,
    seed: u64,
    takes: [Vec<Box<[f32]>>; STRINGS],
}

/// Stiffness B (f_n = n f_0 sqrt(1 + B n^2)) and thread of a string: steel on the upper strings, brass on mandra Sa.
/// B from string mechanics, pi^3 E d^4 / (64 T L^2), for 0.30 mm steel and 0.45 mm brass over 1 m; estimated, the published
/// tables of the instrument were not at hand, and the brass rounded down so that six partials stay within 2 cents. The
/// thread lies 4 to 6 mm in front of the end of a metre (estimated: nearer on the low strings, where the same distance
/// makes noise of the band and pulls the first partial away from the others).
///
/// An instrument for a Sa below C3 is longer, with wires thicker in proportion: B stays, and a partial of one order loses in each
/// period what it loses on the metre (of losses per second that makes `deeper` times the common one and, by order, as much of the
/// high one). The thread's share falls faster than the string grows, or it pulls the first partial away from the second.
///
/// One for a Sa above C#4 is shorter in proportion, the body too: its corners rise by more, since its wood is not as much thinner
/// (a plate's resonances go with its thickness and with the square of its smallness; between the two, estimated). Its wires are
/// thinner than in proportion, so that B falls. What a wire loses inside by being bent goes with f_1 B n^3 (of the energy of partial n the share
/// B n^2 lies in the bending): by order the same in each second. That the common loss falls too, since a light string gives less to
/// its bridge, and how near the thread lies, is estimated: so that strings ring from pluck to pluck as they do on the metre (the
/// loudness undulates by 6 dB at most) and the band does not travel down before it is heard.
fn build(role: StringRole, sa: Hertz) -> Build {
    let deeper = (sa.0 / METRE_SA_HZ.0).min(1.0);
    let higher = (sa.0 / METRE_SA_HZ.1).max(1.0);
    let (stiffness, thread) = match role {
        StringRole::Low => (4e-5, 0.004_5),
        StringRole::First | StringRole::Ni => (3e-5, 0.005),
        StringRole::PairLow | StringRole::PairHigh => (2e-5, 0.006),
    };
    Build {
        loss: deeper / higher,
        loss_high: 1.0 / (deeper * higher * higher),
        body: higher.powf(1.5),
        ..Build::metre(stiffness / higher, thread * deeper.powf(1.5) / higher)
    }
}

/// By how many host samples one of the material's samples is spaced.
pub(super) fn spacing(host_rate: SampleRate) -> usize {
    num::floor_index(host_rate.hz() / OWN_RATE_HZ).clamp(1, 4)
}

impl Material {
    /// The plain grade.
    #[must_use]
    pub fn plain(setting: &DroneSetting, host_rate: SampleRate) -> Box<Material> {
        let rate_hz = host_rate.hz() / spacing(host_rate) as f64;
        let samples = length(setting, rate_hz).min(num::index(PLAIN_S * rate_hz));
        let top_hz = top_hz(rate_hz);
        let takes = StringRole::ALL.map(|role| {
            let hz = setting.string_hz(role);
            hz.map(|hz| plain::pluck(hz, build(role, setting.sa).stiffness, rate_hz, samples, top_hz))
                .into_iter()
                .collect()
        });
        Self::assemble(setting, host_rate, Grade::Plain, takes)
    }

    /// The full grade: every take simulated, tuned and brought to the rate. The same setting gives the same material.
    #[must_use]
    pub fn full(setting: &DroneSetting, host_rate: SampleRate) -> Box<Material> {
        // Nobody says no.
        Self::full_while(setting, host_rate, || true).unwrap_or_else(|| Self::plain(setting, host_rate))
    }

    /// The same, given up (`None`) as soon as `go_on` says no: it is asked all the while, some ten times for each take.
    pub fn full_while(
        setting: &DroneSetting,
        host_rate: SampleRate,
        go_on: impl Fn() -> bool,
    ) -> Option<Box<Material>> {
        let mut takes: [Vec<Vec<f32>>; STRINGS] = std::array::from_fn(|_| Vec::new());
        for (takes, role) in takes.iter_mut().zip(StringRole::ALL) {
            *takes = Self::simulated(setting, host_rate, role, &go_on)?;
        }
        go_on().then(|| Self::assemble(setting, host_rate, Grade::Full, takes))
    }

    /// The takes of one string, each simulated and tuned, as loud as they come; none for a string that is not there.
    pub(super) fn simulated(
        setting: &DroneSetting,
        host_rate: SampleRate,
        role: StringRole,
        go_on: &impl Fn() -> bool,
    ) -> Option<Vec<Vec<f32>>> {
        let rate_hz = host_rate.hz() / spacing(host_rate) as f64;
        let samples = length(setting, rate_hz);
        let seconds = samples as f64 / rate_hz + SPARE_S;
        let count = if seconds > LONG_S { TAKES_LONG } else { TAKES };
        let Some(hz) = setting.string_hz(role) else { return Some(Vec::new()) };
        let take = |number: usize| {
            let of = |(least, range): (f64, f64), what| {
                least + range * draw(setting.seed, (role as u64) << 16 | number as u64, what)
            };
            let finger = Finger { place: of(PLACE, 5), pull: of(PULL, 6), soft_hz: of(SOFT_HZ, 7) };
            let sound = bridge::pluck(hz, build(role, setting.sa), &finger, (seconds, top_hz(rate_hz)), go_on)?;
            Some(tuned(&sound, SIM_RATE_HZ, hz, rate_hz, samples))
        };
        (0..count).map(take).collect()
    }

    /// Balances and scales `raw` takes (any level, at the material's rate).
    pub(super) fn assemble(
        setting: &DroneSetting,
        host_rate: SampleRate,
        grade: Grade,
        mut raw: [Vec<Vec<f32>>; STRINGS],
    ) -> Box<Material> {
        let rate_hz = host_rate.hz() / spacing(host_rate) as f64;
        for take in raw.iter_mut().flatten() {
            trim_ends(take, rate_hz);
        }
        for (takes, role) in raw.iter_mut().zip(StringRole::ALL) {
            balance(takes, role, rate_hz);
        }
        let bound = worst_sum(&raw, rate_hz).max(1e-9) * if grade == Grade::Plain { PLAIN_SOFTER } else { 1.0 };
        let scale = num::single(1.0 / bound);
        let takes =
            raw.map(|takes| takes.into_iter().map(|take| take.into_iter().map(|x| scale * x).collect()).collect());
        Box::new(Self {
            grade,
            host_rate,
            hz: setting.strings_hz(),
            pluck_s: setting.pluck_s,
            seed: setting.seed,
            takes,
        })
    }

    /// Plain or full.
    #[must_use]
    pub fn grade(&self) -> Grade {
        self.grade
    }

    /// The rate of the takes, Hz.
    #[must_use]
    pub fn rate_hz(&self) -> f64 {
        self.host_rate.hz() / spacing(self.host_rate) as f64
    }

    /// Whether this is what `setting` needs at `host_rate`: same strings, same seed, takes long enough for its timing.
    #[must_use]
    pub fn fits(&self, setting: &DroneSetting, host_rate: SampleRate) -> bool {
        self.host_rate == host_rate
            && self.hz == setting.strings_hz()
            && self.seed == setting.seed
            && self.pluck_s >= setting.pluck_s
    }

    /// The takes of a string, in pluck order of the roles; empty for a string that is not there.
    #[must_use]
    pub fn takes(&self, string: usize) -> &[Box<[f32]>] {
        self.takes.get(string).map_or(&[], Vec::as_slice)
    }
}

/// Samples of a take: one whole cycle of the setting's strings and a little more.
pub(super) fn length(setting: &DroneSetting, rate_hz: f64) -> usize {
    let plucks = setting.strings_hz().iter().flatten().count();
    num::index(((plucks + REST_SLOTS) as f64 * setting.pluck_s + SPARE_S) * rate_hz)
}

/// The highest partial at a rate, Hz.
pub(super) fn top_hz(rate_hz: f64) -> f64 {
    TOP_HZ.min(super::wavetable::BAND * rate_hz)
}

fn trim_ends(take: &mut [f32], rate_hz: f64) {
    let (start, end) = (START_S * rate_hz, END_S * rate_hz);
    let samples = take.len() as f64;
    for (i, x) in take.iter_mut().enumerate() {
        let share = ((i as f64 / start).min(1.0)).min(((samples - 1.0 - i as f64) / end).min(1.0));
        *x *= num::single(0.5 - 0.5 * (std::f64::consts::PI * share).cos());
    }
}

/// Brings each take to the same energy over [`BALANCE_S`]; mandra Sa a little above, the Ni string below (common
/// practice, no source: the low Sa carries the drone, Ni must not cover the others).
fn balance(takes: &mut [Vec<f32>], role: StringRole, rate_hz: f64) {
    let share = match role {
        StringRole::Low => 1.15,
        StringRole::Ni => 0.7,
        StringRole::First => 0.95,
        StringRole::PairLow | StringRole::PairHigh => 1.0,
    };
    for take in takes {
        let (from, to) = (num::index(BALANCE_S.0 * rate_hz), num::index(BALANCE_S.1 * rate_hz));
        let stretch = take.get(from..to.min(take.len())).unwrap_or(&[]);
        let energy: f64 = stretch.iter().map(|x| f64::from(*x).powi(2)).sum();
        let rms = (energy / stretch.len().max(1) as f64).sqrt().max(1e-9);
        let gain = num::single(share / rms);
        take.iter_mut().for_each(|x| *x *= gain);
    }
}

/// The largest that the sum of all strings can be, at the fastest timing: for each slot, the peak of the string plucked in
/// it and the largest that every other string still holds since its own pluck.
fn worst_sum(takes: &[Vec<Vec<f32>>; STRINGS], rate_hz: f64) -> f64 {
    let present: Vec<&Vec<Vec<f32>>> = takes.iter().filter(|takes| !takes.is_empty()).collect();
    let slots = present.len() + REST_SLOTS;
    let slot = PLUCK_S.0 * rate_hz;
    let remaining = |takes: &Vec<Vec<f32>>, from: usize| {
        takes.iter().filter_map(|take| take.get(from..)).flatten().fold(0.0f32, |peak, x| peak.max(x.abs()))
    };
    let sums = (0..slots).map(|now| {
        let parts = present.iter().enumerate().map(|(index, takes)| {
            let since = (now + slots - index) % slots;
            // The string plucked now still lets go of its last pluck.
            let last = if since == 0 { remaining(takes, num::floor_index(slot * slots as f64)) } else { 0.0 };
            f64::from(remaining(takes, num::floor_index(slot * since as f64)) + last)
        });
        parts.sum::<f64>()
    });
    sums.fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drone::Stringing;
    use crate::units::Cents;

    #[test]
    fn material_fits_its_own_setting_only() {
        let rate = SampleRate::new(48_000.0).expect("rate");
        let setting = DroneSetting::default();
        let material = Material::plain(&setting, rate);
        assert!(material.fits(&setting, rate));
        assert!(material.fits(&DroneSetting { pluck_s: 0.8, on: true, ..setting }, rate));
        assert!(!material.fits(&DroneSetting { pluck_s: 2.0, ..setting }, rate));
        assert!(!material.fits(&DroneSetting { sa: setting.sa.up(Cents(1.0)), ..setting }, rate));
        assert!(!material.fits(&setting, SampleRate::new(44_100.0).expect("rate")));
        assert!(material.takes(1).is_empty() && material.takes(0).len() == 1);
    }

    /// What must be made before anything sounds: one take of each string, which rings for as long as it may have to and no longer.
    #[test]
    fn the_plain_grade_makes_no_more_than_is_needed_at_first() {
        let rate = SampleRate::new(48_000.0).expect("rate");
        for (pluck_s, most_s) in [(PLUCK_S.0, 4.1), (1.1, 5.5), (PLUCK_S.1, 5.5)] {
            let stringing = Stringing { with_ni: true, ..Stringing::default() };
            let material = Material::plain(&DroneSetting { pluck_s, stringing, ..DroneSetting::default() }, rate);
            let lengths: Vec<f64> = material.takes.iter().flatten().map(|take| take.len() as f64 / rate.hz()).collect();
            assert_eq!(lengths.len(), STRINGS, "one of each");
            let rings_s = 2.0 * pluck_s + END_S;
            for length in lengths {
                assert!(length <= most_s + 1e-3 && length > rings_s, "{pluck_s} s a pluck: {length} s");
            }
        }
    }

    #[test]
    fn the_material_rate_is_a_whole_part_of_the_host_rate() {
        for (host, own) in [(8e3, 8e3), (48e3, 48e3), (88.2e3, 44.1e3), (96e3, 48e3), (176.4e3, 44.1e3), (192e3, 48e3)]
        {
            let rate = SampleRate::new(host).expect("rate");
            assert!((host / spacing(rate) as f64 - own).abs() < 1e-9);
        }
    }
}
