//! Whether a second voice sounds beside the one that is followed.
//!
//! In: every 20 ms a power spectrum of 128 ms, and the f0 of the hops. Out: more than one voice, or not. Method: what stands
//! between the harmonics of the voice that is followed is a second voice if it makes a harmonic series of its own that
//! goes on for 160 ms (harmonic sieve: Duifhuis, Willems and Sluyter 1982). A drone goes on for longer, under the
//! voice and in its rests: a line that sounded for half of the last seconds in which it could be seen is no voice's. What a
//! room keeps of the note before makes no series for so long. Two voices in a simple ratio are often followed by their
//! common period; then harmonics are missing that a voice would have. Measured on the development corpus: said in 66 and
//! 69 % of the time in which two sing 6 dB apart, rests included; in one of 98 other clips, for 1.3 s (strings as loud as
//! the voice), and in none of 7 published takes. It is said some 0.3 s after the second voice begins, and believed for a
//! second. Not heard: a second voice at an octave of the first, one that is 17 dB softer, two that both move; where one of
//! two rests, the other is followed. Cost: a pass over 257 bins every 20 ms, and where something stands between the
//! harmonics up to 48 sieves of 16 peaks.

use super::steady::{EVERY, WINDOW};
use crate::input::{ANALYSIS_RATE_HZ, HOP};
use crate::units::{Hertz, num};

/// Samples a second.
const RATE: f32 = 16_000.0;
const _: () = assert!(ANALYSIS_RATE_HZ == 16_000.0);
/// Width of a bin, Hz.
const BIN_HZ: f32 = RATE / WINDOW as f32;
/// Bins looked at, up to 2 kHz.
const BINS: usize = WINDOW / 8 + 1;
/// Looks in a second.
const LOOKS: f32 = RATE / (EVERY * HOP) as f32;
/// Hops whose f0 falls into a look.
const HOPS: usize = WINDOW / HOP;
/// Share of them that must have a voice, and how far it may move meanwhile as a ratio (60 cents): else its harmonics smear.
const VOICED: f32 = 0.8;
const STILL: f32 = 1.035_265;
/// Half the main lobe of the window and a little: within it of a harmonic, all is the voice's, Hz.
const MASK_HZ: f32 = 20.0;
/// Peaks below this, Hz, are hum and handling.
const LOWEST_HZ: f32 = 70.0;
/// Power under the strongest peak at which one still counts: 40 dB.
const WEAK: f32 = 1e-4;
/// Power under the strongest sound, a drone's too, at which nothing is looked at: 60 dB.
const FAINT: f32 = 1e-6;
/// The most peaks that are weighed, the strongest.
const MOST: usize = 16;
/// Peaks that a series must have; two of them among its first four harmonics.
const LEAST: u32 = 3;
/// How far a peak may lie from its harmonic: Hz, a share of its frequency, and at most a share of the f0.
const OFF: (f32, f32, f32) = (4.0, 0.004, 0.16);
/// f0 of a second voice, Hz.
const RANGE: std::ops::Range<f32> = 65.0..800.0;
/// A partial above this is no fundamental, second or third harmonic, Hz.
const LOW_PARTIAL_HZ: f32 = 1000.0;
/// What a series must explain (of the amplitudes between the harmonics) times what it must fill (of its own harmonics).
const SERIES: f32 = 0.45;
/// Its power against that of the voice that is followed: -17 dB.
const LOUD: f32 = 0.02;
/// How far a second voice moves from look to look, as a ratio: 100 cents.
const NEXT: f32 = 1.059_463;
/// Looks that it must go on for, and the most that are counted; how many one without it takes back; and for how many more it
/// is then believed: a second.
const LONG: usize = 8;
const MOST_LONG: usize = 2 * LONG;
const BACK: usize = 2;
const BELIEVED: usize = 50;
/// Time over which lines that stay are known, s; for how long a place must have been seen; the share of it that makes a line.
const STAYS_S: f32 = 3.0;
const SEEN_S: f32 = 1.0;
const STAYS: f32 = 0.5;
/// What that keeps from look to look.
const KEEPS: f32 = 1.0 - 1.0 / (STAYS_S * LOOKS);
/// How fast the loudest of late is forgotten, per look: 10 dB/s.
const FORGET: f32 = 0.955;

/// Ratios of two voices whose common period is within the range: fifth, fourth, sixth, third.
const RATIOS: [(usize, usize); 4] = [(2, 3), (3, 4), (3, 5), (4, 5)];
/// Harmonics of it that are looked at.
const HARMONICS: usize = 16;
/// Power against the strongest under which a harmonic is missing: 33 dB.
const MISSING: f32 = 5e-4;

#[derive(Clone, Copy, Default)]
struct Peak {
    hz: f32,
    power: f32,
}

pub(crate) struct Several {
    /// f0 of the last hops, 0 where there was no voice.
    sung: [f32; HOPS],
    newest: usize,
    power: Vec<f32>,
    /// How often of late a bin could be seen beside the voice, and how often there was a peak, in looks.
    seen: Vec<f32>,
    present: Vec<f32>,
    loudest: f32,
    last: f32,
    run: usize,
    believed: usize,
}

/// The voice that is followed, as it went during a look: its f0 from lowest to highest, and their middle.
#[derive(Clone, Copy)]
struct Followed {
    low: f32,
    high: f32,
    middle: f32,
    /// It sang nearly all the time and moved little, so that its harmonics do not smear.
    still: bool,
}

impl Followed {
    fn covers(self, hz: f32) -> bool {
        let k = (hz / self.middle).round();
        k >= 1.0 && (k * self.low - MASK_HZ..k * self.high + MASK_HZ).contains(&hz)
    }
}

impl Several {
    pub(crate) fn new() -> Self {
        Self {
            sung: [0.0; HOPS],
            newest: 0,
            power: vec![0.0; BINS],
            seen: vec![0.0; BINS],
            present: vec![0.0; BINS],
            loudest: 0.0,
            last: 0.0,
            run: 0,
            believed: 0,
        }
    }

    /// One hop and, where there is a new one, its look; true while more than one voice sounds.
    pub(crate) fn step(&mut self, f0: Option<Hertz>, look: Option<impl Iterator<Item = f32>>) -> bool {
        self.newest = (self.newest + 1) % HOPS;
        if let Some(place) = self.sung.get_mut(self.newest) {
            *place = f0.map_or(0.0, |f0| num::single(f0.0));
        }
        if let Some(look) = look {
            for (to, power) in self.power.iter_mut().zip(look) {
                *to = power;
            }
            self.look();
        }
        self.believed > 0
    }

    fn followed(&self) -> Option<Followed> {
        let voiced = || self.sung.iter().filter(|hz| **hz > 0.0);
        let count = voiced().count();
        if count == 0 {
            return None;
        }
        let (low, high) = voiced().fold((f32::MAX, 0.0f32), |(low, high), hz| (low.min(*hz), high.max(*hz)));
        let still = count as f32 >= VOICED * HOPS as f32 && high < STILL * low;
        Some(Followed { low, high, middle: 0.5 * (low + high), still })
    }

    fn look(&mut self) {
        self.believed = self.believed.saturating_sub(1);
        let followed = self.followed();
        let loudest = self.power.iter().skip(1).fold(0.0f32, |most, power| most.max(*power));
        self.loudest = loudest.max(FORGET * self.loudest);
        let (mut own, mut strongest) = (0.0f32, 0.0f32);
        let mut between = Strongest::default();
        let mut common = Common::default();
        for at in 1..BINS - 1 {
            let Some(peak) = self.peak(at, FAINT * loudest) else { continue };
            let covered = followed.is_some_and(|voice| voice.covers(peak.hz));
            let (seen, present) = (self.seen.get(at), self.present.get(at));
            let (seen, present) = (seen.copied().unwrap_or(0.0), present.copied().unwrap_or(0.0));
            let fresh = seen > SEEN_S * LOOKS && present < STAYS * seen;
            if covered {
                own += peak.power;
                if let Some(voice) = followed {
                    common.add(peak.hz / voice.middle, peak.power, fresh);
                }
            } else if fresh {
                between.add(peak);
            }
            if covered || fresh {
                strongest = strongest.max(peak.power);
            }
        }
        self.learn_lines(followed);
        let Some(voice) = followed.filter(|voice| voice.still) else { return };
        between.drop_under(WEAK * strongest);
        match common.of_two().then_some(voice.middle).or_else(|| between.series(voice, own)) {
            Some(hz) => {
                let goes_on = self.run > 0 && hz < NEXT * self.last && self.last < NEXT * hz;
                self.run = if goes_on { (self.run + 1).min(MOST_LONG) } else { 1 };
                self.last = hz;
            }
            None => self.run = self.run.saturating_sub(BACK),
        }
        if self.run >= LONG {
            self.believed = BELIEVED;
        }
    }

    /// The powers at a bin and on both sides of it, if it is a peak of some power.
    fn around(&self, at: usize, above: f32) -> Option<[f32; 3]> {
        let [left, here, right] = *self.power.get(at - 1..=at + 1)?.as_array::<3>()?;
        (here > left && here >= right && here >= above).then_some([left, here, right])
    }

    /// The peak at a bin, if there is one above a power, its place by the parabola through the logarithms.
    fn peak(&self, at: usize, above: f32) -> Option<Peak> {
        let [left, here, right] = self.around(at, above).filter(|_| (at as f32 + 0.5) * BIN_HZ >= LOWEST_HZ)?;
        let [l, h, r] = [left, here, right].map(|power| power.max(f32::MIN_POSITIVE).ln());
        let bend = l - 2.0 * h + r;
        let off = if bend < 0.0 { (0.5 * (l - r) / bend).clamp(-0.5, 0.5) } else { 0.0 };
        Some(Peak { hz: (at as f32 + off) * BIN_HZ, power: here })
    }

    /// Where a peak is seen beside the voice, look after look, there is a line.
    fn learn_lines(&mut self, followed: Option<Followed>) {
        let mut peak_at = [false; BINS];
        for at in 1..BINS - 1 {
            if self.around(at, WEAK * self.loudest).is_some() {
                peak_at.iter_mut().skip(at - 1).take(3).for_each(|near| *near = true);
            }
        }
        let places = self.seen.iter_mut().zip(&mut self.present).zip(peak_at);
        for (at, ((seen, present), peak)) in places.enumerate() {
            if followed.is_none_or(|voice| !voice.covers(at as f32 * BIN_HZ)) {
                *seen = *seen * KEEPS + 1.0;
                *present = *present * KEEPS + f32::from(u8::from(peak));
            }
        }
    }

    pub(crate) fn reset(&mut self) {
        for bins in [&mut self.power, &mut self.seen, &mut self.present] {
            bins.fill(0.0);
        }
        self.sung = [0.0; HOPS];
        self.newest = 0;
        self.loudest = 0.0;
        self.last = 0.0;
        self.run = 0;
        self.believed = 0;
    }
}

/// Two voices in a simple ratio have a common period, and it may be taken for the voice's: then only the harmonics that
/// are multiples of the ratio's two numbers are there.
#[derive(Default)]
struct Common {
    /// Power by harmonic number, and whether all of it that weighs is new.
    power: [f32; HARMONICS],
    fresh: [bool; HARMONICS],
}

impl Common {
    fn add(&mut self, harmonic: f32, power: f32, fresh: bool) {
        let k = num::index(f64::from(harmonic.round()));
        if let (Some(sum), Some(new)) = (self.power.get_mut(k), self.fresh.get_mut(k)) {
            *new = if power > *sum { fresh } else { *new };
            *sum += power;
        }
    }

    fn of_two(&self) -> bool {
        let strongest = self.power.iter().fold(0.0f32, |most, p| most.max(*p));
        strongest > 0.0 && RATIOS.iter().any(|ratio| self.of_ratio(*ratio, strongest))
    }

    fn of_ratio(&self, (a, b): (usize, usize), strongest: f32) -> bool {
        let (mut first, mut second) = ((0, 0.0f32), (0, 0.0f32));
        for (k, (power, fresh)) in self.power.iter().zip(&self.fresh).enumerate().skip(1) {
            let strong = *power > WEAK * strongest;
            match (k % a == 0, k % b == 0) {
                (false, false) if *power > MISSING * strongest => return false,
                (true, false) if strong && *fresh => first = (first.0 + 1, first.1 + power),
                (false, true) if strong && *fresh => second = (second.0 + 1, second.1 + power),
                _ => {}
            }
        }
        first.0 >= 2 && second.0 >= 2 && first.1 > LOUD * second.1 && second.1 > LOUD * first.1
    }
}

/// The bit of a harmonic.
fn harmonic(k: f32) -> u64 {
    u32::try_from(num::index(f64::from(k))).ok().and_then(|k| 1u64.checked_shl(k)).unwrap_or(0)
}

/// The strongest peaks between the harmonics.
#[derive(Default)]
struct Strongest {
    peaks: [Peak; MOST],
    count: usize,
}

impl Strongest {
    fn add(&mut self, peak: Peak) {
        if let Some(free) = self.peaks.get_mut(self.count) {
            *free = peak;
            self.count += 1;
        } else if let Some(weakest) = self.peaks.iter_mut().min_by(|a, b| a.power.total_cmp(&b.power))
            && weakest.power < peak.power
        {
            *weakest = peak;
        }
    }

    fn drop_under(&mut self, power: f32) {
        for peak in &mut self.peaks {
            if peak.power < power {
                *peak = Peak::default();
            }
        }
    }

    fn iter(&self) -> impl Iterator<Item = &Peak> {
        self.peaks.iter().filter(|peak| peak.power > 0.0)
    }

    /// The f0 of the series that explains most and is filled best, where it is enough of one; `own`: power of the voice.
    fn series(&self, voice: Followed, own: f32) -> Option<f32> {
        if self.iter().count() < LEAST as usize {
            return None;
        }
        let all: f32 = self.iter().map(|peak| peak.power.sqrt()).sum();
        let highest = self.iter().map(|peak| peak.hz).fold(0.0, f32::max);
        let mut best = (SERIES, None);
        for peak in self.iter().filter(|peak| peak.hz < LOW_PARTIAL_HZ) {
            for hz in [1.0, 2.0, 3.0].map(|harmonic| peak.hz / harmonic) {
                if !RANGE.contains(&hz) {
                    continue;
                }
                let (mut found, mut amplitude, mut power) = (0u64, 0.0f32, 0.0f32);
                for Peak { hz: at, power: p } in self.iter() {
                    let k = (at / hz).round();
                    if k >= 1.0 && (at - k * hz).abs() < (OFF.0 + OFF.1 * at).min(OFF.2 * hz) {
                        found |= harmonic(k);
                        amplitude += p.sqrt();
                        power += p;
                    }
                }
                // Those of its harmonics that the voice does not cover.
                let mut expected = 0;
                let mut k = 1.0;
                while k * hz < highest + 0.5 * hz {
                    if !voice.covers(k * hz) {
                        expected |= harmonic(k);
                    }
                    k += 1.0;
                }
                let filled = (found & expected).count_ones() as f32 / expected.count_ones().max(1) as f32;
                let enough = found.count_ones() >= LEAST && (found & 0b1_1110).count_ones() >= 2 && power > LOUD * own;
                let series = amplitude / all * filled;
                if enough && series > best.0 {
                    best = (series, Some(hz));
                }
            }
        }
        best.1
    }
}
