//! Whether a second voice sounds beside the one that is followed.
//!
//! In: every 20 ms a power spectrum of 128 ms, and the f0 of the hops. Out: more than one voice, or not. Method: what stands
//! between the harmonics of the voice that is followed is a second voice if it makes a harmonic series of its own (harmonic
//! sieve: Duifhuis, Willems and Sluyter 1982). Where two sound, the tracker often follows neither, but a common period: if
//! there is nothing beside its voice, the series that explains most of all that sounds takes its place. Two looks in a row
//! with the same second voice are evidence, which is forgotten within a second; so much of it and more than one voice is
//! said, and believed until 0.8 s after the last that speaks for it. A drone goes on for longer, under the voice and in its
//! rests: a line that sounded for most of the last seconds in which it could be seen is no voice's. What a room keeps
//! of the note before, and a plucked string, fade: what falls by more than 5 dB/s is no evidence.
//!
//! Measured on mixes of two sung clips, and of one with a bowed string, 0, 6 and 12 dB apart: after the first 0.3 s it is
//! said in 93 % of the frames in which both sound (within 12 dB at that moment, at no octave of each other), on mixes by
//! which no limit was chosen in 87 %; half the time within 0.1 s, nine times in ten within 0.4 and 0.6. It is never said in
//! 153 runs over clips with one voice, drones known and unknown among them; in a room of 1.6 s once in ten clips, for 1.7 s.
//! Not heard: a second voice at an octave of the first or 14 dB softer; two that both swing widely; one in noise as strong
//! as its harmonics. Heard for a second only: one note against one note that both stand for many seconds, where the tracker
//! goes over from the one to the other, since what is seen for the first time and stays is a drone. Where one of two rests,
//! the other is followed. Cost: a pass over 257 bins every 20 ms and up to 130 sieves of 20 peaks, in all 3 us a hop.

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
/// Half the main lobe of the window, two bins: within it of a harmonic, all is the voice's, Hz.
const MASK_HZ: f32 = 2.0 * BIN_HZ;
/// Peaks below this, Hz, are hum and handling.
const LOWEST_HZ: f32 = 70.0;
/// Power under the strongest peak at which one still counts: 40 dB.
const WEAK: f32 = 1e-4;
/// Power under the strongest sound, a drone's too, at which nothing is looked at: 60 dB.
const FAINT: f32 = 1e-6;
/// The most peaks that are weighed, the strongest: between a voice's harmonics, and of all that sounds.
const MOST: usize = 16;
const MOST_OF_ALL: usize = 20;
/// Peaks of all that sounds from which on two voices are sought in them: three of each.
const LEAST_OF_ALL: usize = 6;
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
/// Its power against that of the other voice: -14 dB, a little under the 12 dB within which it is to be heard.
const LOUD: f32 = 0.04;
/// A second f0 this near to a multiple or a part of the first, as a share of the ratio, is its octave or its twelfth: the
/// first was read too high or too low.
const MULTIPLE: f32 = 0.04;
/// How far a second voice moves from look to look, as a ratio: 100 cents.
const NEXT: f32 = 1.059_463;
/// Looks in a row that are evidence, the most that are counted, and how many one without it takes back.
const IN_A_ROW: usize = 2;
const MOST_IN_A_ROW: usize = 16;
const BACK: usize = 2;
/// How the level of the second voice is smoothed from look to look (a time constant of 0.1 s), and how fast it may fall, dB a
/// look (5 dB/s; what any room keeps falls faster. Chosen by data: from 0.05 to 0.2 nothing tips, at 0.4 strings pass).
const SMOOTH: f32 = 0.2;
const FALLS_DB: f32 = -0.1;
/// What evidence keeps from look to look (a time constant of a second), the most of it, and from how much on it is said
/// (chosen by data: at 5 a clip in fifty has a false alarm, at 9 it is said in 3 % less).
const REMEMBERS: f32 = 1.0 - 1.0 / LOOKS;
const MOST_EVIDENCE: f32 = 20.0;
const ENOUGH: f32 = 7.0;
/// For how many looks it is believed after the last evidence: 0.8 s.
const BELIEVED: usize = 40;
/// Time over which lines that stay are known, s; for how long a place must have been seen; the share of it that makes a line
/// (chosen by data: at 0.5 it is said in 4 % less, at 0.7 strings pass).
const STAYS_S: f32 = 8.0;
const SEEN_S: f32 = 0.5;
const STAYS: f32 = 0.6;
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
    /// Not one of the lines that stay.
    fresh: bool,
}

pub(crate) struct Several {
    /// f0 of the last hops, 0 where there was no voice.
    sung: [f32; HOPS],
    newest: usize,
    power: Vec<f32>,
    /// The peaks of the look.
    peaks: Vec<Peak>,
    /// How often of late a bin could be seen beside the voice, and how often there was a peak, in looks.
    seen: Vec<f32>,
    present: Vec<f32>,
    loudest: f32,
    /// The two voices of the last look that had two, Hz; the second one's level and how it went, dB and dB a look.
    last: [f32; 2],
    level: f32,
    falls: f32,
    run: usize,
    evidence: f32,
    believed: usize,
}

/// The voice that is followed, as it went during a look: its f0 from lowest to highest, and their middle.
#[derive(Clone, Copy)]
struct Followed {
    low: f32,
    high: f32,
    middle: f32,
}

/// Two voices in one look: their f0, and the power of the second.
#[derive(Clone, Copy)]
struct Two {
    hz: [f32; 2],
    power: f32,
}

impl Followed {
    fn covers(self, hz: f32) -> bool {
        let k = nearest(hz / self.middle);
        k >= 1.0 && (k * self.low - MASK_HZ..k * self.high + MASK_HZ).contains(&hz)
    }
}

impl Several {
    pub(crate) fn new() -> Self {
        Self {
            sung: [0.0; HOPS],
            newest: 0,
            power: vec![0.0; BINS],
            // No two bins side by side are both peaks.
            peaks: Vec::with_capacity(BINS / 2),
            seen: vec![0.0; BINS],
            present: vec![0.0; BINS],
            loudest: 0.0,
            last: [0.0; 2],
            level: 0.0,
            falls: 0.0,
            run: 0,
            evidence: 0.0,
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
        let voiced = self.sung.iter().filter(|hz| **hz > 0.0);
        let (low, high) = voiced.fold((f32::MAX, 0.0f32), |(low, high), hz| (low.min(*hz), high.max(*hz)));
        (high > 0.0).then_some(Followed { low, high, middle: 0.5 * (low + high) })
    }

    fn look(&mut self) {
        self.believed = self.believed.saturating_sub(1);
        self.evidence *= REMEMBERS;
        let followed = self.followed();
        let loudest = self.power.iter().skip(1).fold(0.0f32, |most, power| most.max(*power));
        self.loudest = loudest.max(FORGET * self.loudest);
        self.find_peaks(loudest);
        let two = followed.and_then(|voice| self.beside(voice).or_else(|| self.of_all()));
        self.learn_lines(followed);
        match two {
            Some(two) => self.weigh(two),
            None if followed.is_some() => self.run = self.run.saturating_sub(BACK),
            None => {}
        }
    }

    /// What a look with two voices adds to the evidence.
    fn weigh(&mut self, two: Two) {
        let near = |a: f32, b: f32| a < NEXT * b && b < NEXT * a;
        let level = 10.0 * two.power.max(f32::MIN_POSITIVE).log10();
        let [_, second] = two.hz;
        // Which of the two is followed may change: the second goes on where the first was, too.
        if self.run > 0 && self.last.iter().any(|last| near(*last, second)) {
            self.run = (self.run + 1).min(MOST_IN_A_ROW);
            self.falls += SMOOTH * (level - self.level - self.falls);
        } else {
            self.run = 1;
            self.falls = 0.0;
        }
        (self.last, self.level) = (two.hz, level);
        if self.run < IN_A_ROW {
            return;
        }
        if self.falls >= FALLS_DB {
            self.evidence = (self.evidence + 1.0).min(MOST_EVIDENCE);
        }
        if self.believed > 0 || (self.falls >= FALLS_DB && self.evidence >= ENOUGH) {
            self.believed = BELIEVED;
        }
    }

    fn find_peaks(&mut self, loudest: f32) {
        self.peaks.clear();
        for at in 1..BINS - 1 {
            if let Some(peak) = self.peak(at, FAINT * loudest) {
                self.peaks.push(peak);
            }
        }
    }

    /// A second voice beside one that is known.
    fn beside(&self, voice: Followed) -> Option<Two> {
        let (mut own, mut strongest) = (0.0f32, 0.0f32);
        let mut between = Strongest::<MOST>::default();
        let mut common = Common::default();
        for peak in &self.peaks {
            let covered = voice.covers(peak.hz);
            if covered {
                own += peak.power;
                common.add(peak.hz / voice.middle, peak);
            } else if peak.fresh {
                between.add(*peak);
            }
            if covered || peak.fresh {
                strongest = strongest.max(peak.power);
            }
        }
        if common.of_two() {
            return Some(Two { hz: [voice.middle; 2], power: own });
        }
        between.drop_under(WEAK * strongest);
        between.series(voice, own).map(|(hz, power)| Two { hz: [voice.middle, hz], power })
    }

    /// Two voices in all that is new: the series that explains most, and one beside it. What the tracker follows where two
    /// sound may be neither.
    fn of_all(&self) -> Option<Two> {
        let mut all = Strongest::<MOST_OF_ALL>::default();
        self.peaks.iter().filter(|peak| peak.fresh).for_each(|peak| all.add(*peak));
        all.drop_under(WEAK * all.iter().fold(0.0, |most, peak| peak.power.max(most)));
        let hz = all.first()?;
        self.beside(Followed { low: hz, high: hz, middle: hz }).filter(|Two { hz: [first, second], .. }| {
            let ratio = (second / first).max(first / second);
            first == second || (ratio - ratio.round()).abs() > MULTIPLE * ratio
        })
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
        let (seen, present) = (self.seen.get(at)?, self.present.get(at)?);
        let fresh = *seen > SEEN_S * LOOKS && *present < STAYS * seen;
        Some(Peak { hz: (at as f32 + off) * BIN_HZ, power: here, fresh })
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
        self.peaks.clear();
        for bins in [&mut self.power, &mut self.seen, &mut self.present] {
            bins.fill(0.0);
        }
        self.sung = [0.0; HOPS];
        self.newest = 0;
        self.loudest = 0.0;
        self.last = [0.0; 2];
        self.level = 0.0;
        self.falls = 0.0;
        self.run = 0;
        self.evidence = 0.0;
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
    fn add(&mut self, harmonic: f32, peak: &Peak) {
        let k = num::index(f64::from(harmonic.round()));
        if let (Some(sum), Some(new)) = (self.power.get_mut(k), self.fresh.get_mut(k)) {
            *new = if peak.power > *sum { peak.fresh } else { *new };
            *sum += peak.power;
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

/// A number from 0 to 4 million rounded: above 2^23 a single has no places after the point. (`round` is a call.)
fn nearest(x: f32) -> f32 {
    const WHOLE: f32 = 8_388_608.0;
    (x + WHOLE) - WHOLE
}

/// The bit of a harmonic.
fn harmonic(k: f32) -> u64 {
    u32::try_from(num::index(f64::from(k))).ok().and_then(|k| 1u64.checked_shl(k)).unwrap_or(0)
}

/// Whether a peak belongs to the series of an f0.
fn belongs(at: f32, hz: f32, per_hz: f32) -> bool {
    (at - nearest(at * per_hz) * hz).abs() < (OFF.0 + OFF.1 * at).min(OFF.2 * hz)
}

/// The strongest peaks of a kind, at most `N`.
struct Strongest<const N: usize> {
    peaks: [Peak; N],
    count: usize,
}

impl<const N: usize> Default for Strongest<N> {
    fn default() -> Self {
        Self { peaks: [Peak::default(); N], count: 0 }
    }
}

impl<const N: usize> Strongest<N> {
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

    fn highest(&self) -> f32 {
        self.iter().map(|peak| peak.hz).fold(0.0, f32::max)
    }

    /// The places and amplitudes of all, in rows.
    fn rows(&self) -> Rows<N> {
        let mut rows = Rows { hz: [0.0; N], amplitude: [0.0; N], all: 0.0 };
        for ((hz, amplitude), peak) in rows.hz.iter_mut().zip(&mut rows.amplitude).zip(&self.peaks) {
            (*hz, *amplitude) = (peak.hz, peak.power.sqrt());
            rows.all += *amplitude;
        }
        rows
    }

    /// The candidates for an f0: a peak's frequency over its number in the series.
    fn candidates(&self, harmonics: &'static [f32]) -> impl Iterator<Item = f32> {
        let low = self.iter().filter(|peak| peak.hz < LOW_PARTIAL_HZ);
        low.flat_map(move |peak| harmonics.iter().map(move |k| peak.hz / k)).filter(|hz| RANGE.contains(hz))
    }

    /// The bits of the harmonics of an f0 that are there, and their power.
    fn harmonics(&self, hz: f32) -> (u64, f32) {
        let inside = |peak: &&Peak| belongs(peak.hz, hz, 1.0 / hz);
        self.iter()
            .filter(inside)
            .fold((0, 0.0), |(bits, power), peak| (bits | harmonic(peak.hz / hz), power + peak.power))
    }

    /// The f0 of the series that explains most of all peaks, where its harmonics are there.
    fn first(&self) -> Option<f32> {
        if self.iter().count() < LEAST_OF_ALL {
            return None;
        }
        let (rows, highest) = (self.rows(), self.highest());
        let mut best = (0.0, None);
        for hz in self.candidates(&[1.0, 2.0, 3.0, 4.0]) {
            let amplitude = rows.of(hz);
            if amplitude <= best.0 {
                continue;
            }
            let found = self.harmonics(hz).0.count_ones();
            // The root: a voice's own harmonics may be too weak to be seen, or drowned by the other's.
            let explains = amplitude * (found as f32 / (highest / hz).floor().max(1.0)).min(1.0).sqrt();
            if found >= LEAST && explains > best.0 {
                best = (explains, Some(hz));
            }
        }
        best.1
    }

    /// The f0 and the power of the series that explains most and is filled best, where it is enough of one; `own`: power of
    /// the voice beside which it stands.
    fn series(&self, voice: Followed, own: f32) -> Option<(f32, f32)> {
        if self.iter().count() < LEAST as usize {
            return None;
        }
        let (rows, highest) = (self.rows(), self.highest());
        let mut best = (SERIES, None);
        for hz in self.candidates(&[1.0, 2.0, 3.0]) {
            let share = rows.of(hz) / rows.all;
            if share <= best.0 {
                continue;
            }
            let (found, power) = self.harmonics(hz);
            if found.count_ones() < LEAST || (found & 0b1_1110).count_ones() < 2 || power <= LOUD * own {
                continue;
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
            if share * filled > best.0 {
                best = (share * filled, Some((hz, power)));
            }
        }
        best.1
    }
}

/// Places and amplitudes of peaks, side by side so that a processor takes several at once.
struct Rows<const N: usize> {
    hz: [f32; N],
    amplitude: [f32; N],
    all: f32,
}

impl<const N: usize> Rows<N> {
    /// The amplitude of the harmonics of an f0.
    fn of(&self, hz: f32) -> f32 {
        let per_hz = 1.0 / hz;
        let mut parts = [0.0f32; 4];
        for (at, amplitude) in self.hz.as_chunks::<4>().0.iter().zip(self.amplitude.as_chunks::<4>().0) {
            for ((part, at), amplitude) in parts.iter_mut().zip(at).zip(amplitude) {
                *part += if belongs(*at, hz, per_hz) { *amplitude } else { 0.0 };
            }
        }
        parts.iter().sum()
    }
}
