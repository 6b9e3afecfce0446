//! What the line does to the voice on its way: samples that went missing, and a noise gate that eats held notes.
//!
//! In: each hop as it came in and the frame that was made of it. Out: [`Faults`], counted since the reset. Method our own, from what
//! a voice cannot do: it falls and rises over tens of milliseconds, and never repeats a sample for 10 ms.
//! - *dropout*: the samples stand still for 10 to 300 ms, with full voice within a hop on either side.
//! - *cut note*: the voice comes back from 40 dB down to all of its level within 15 ms, on the pitch that it left 0.1 to 3 s
//!   before. One such entry can be a hard onset after a breath; said from the second within half a minute on, the first then
//!   counted too.
//!
//! A gate that closes at once and for less than 0.3 s looks like missing samples, and counts as such. Cost: one sum of squares a hop.

use crate::input::Hop;
use crate::pitch::F0Frame;
use crate::units::{Cents, Decibels, Hertz};

/// Full voice: no farther than this below its recent level, dB (the swing of a held note's level is half of it).
const FULL_DB: f64 = 12.0;
/// Empty: farther than this below it, dB (a room's echo and a consonant's closure mostly stay above).
const EMPTY_DB: f64 = 40.0;
/// How fast the voice's recent level is forgotten while it sounds, dB a hop: 10 dB a second, as in the judging of notes.
const FORGET_DB: f64 = 0.05;
/// Hops from full to empty or back that are too quick for a throat: the one in which it happens lies between.
const ABRUPT: u64 = 2;
/// The same for a gate that opens, which may ramp for some milliseconds (15 ms; sung onsets in the clips take 20 to 70), and how
/// far below the level that follows the voice is all there, dB.
const OPENS: u64 = 3;
const ALL_DB: f64 = 3.0;
/// Shortest and longest dropout, hops: 10 to 300 ms (one lost packet of a call to fifteen in a row).
const DROPOUT: std::ops::RangeInclusive<u64> = 2..=60;
/// Shortest and longest silence of a gate in a note, hops: 0.1 s (longer than a stop consonant's closure) to 3 s (our choice).
const GATED: std::ops::RangeInclusive<u64> = 20..=600;
/// When level and pitch after a silence are looked at, hops after its end (100 ms: the tracker has settled), and until when a
/// pitch is waited for.
const SETTLED: (u64, u64) = (LEVELS as u64, 60);
/// Levels kept of the voice that is back, hops.
const LEVELS: usize = 20;
/// The same note goes on: no farther apart than this, cents (half a semitone).
const SAME_NOTE: f64 = 50.0;
/// Entries within so many hops of each other are the line's: 30 s (our choice).
const TOGETHER: u64 = 6_000;

/// What the line did since the reset.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Faults {
    /// Times that samples went missing within the voice.
    pub dropouts: u64,
    /// Held notes that a noise gate cut.
    pub cut_notes: u64,
}

impl Faults {
    /// How often each happened, in a few words.
    #[must_use]
    pub fn counted(&self) -> Vec<String> {
        self.counts(" by a noise gate")
    }

    /// The same beside words that name the gate already.
    #[must_use]
    pub fn counted_beside(&self) -> Vec<String> {
        self.counts("")
    }

    fn counts(&self, by: &str) -> Vec<String> {
        let count = |n: u64, one: &str, more: &str| match n {
            0 => None,
            1 => Some(format!("1 {one}")),
            n => Some(format!("{n} {more}")),
        };
        let cut = count(self.cut_notes, &format!("held note cut{by}"), &format!("held notes cut{by}"));
        cut.into_iter().chain(count(self.dropouts, "dropout", "dropouts")).collect()
    }

    /// Each in a line that says whose it is.
    #[must_use]
    pub fn told(&self) -> Vec<String> {
        self.counted().into_iter().map(|counted| format!("the line, not the voice: {counted}")).collect()
    }
}

/// A silence after full voice.
#[derive(Debug, Clone, Copy)]
struct Gap {
    from: u64,
    to: u64,
    /// Hops of it that stood still.
    still: u64,
}

impl Gap {
    fn length(&self) -> u64 {
        self.to + 1 - self.from
    }
}

/// The voice after such a silence.
#[derive(Debug, Clone, Copy)]
struct Back {
    /// The last hop of the silence.
    from: u64,
    /// The pitch before it.
    before: Hertz,
    /// The level of each hop since, dBFS.
    levels: [f64; LEVELS],
}

impl Back {
    /// Hops from silence to all of the level that follows.
    fn rise(&self) -> u64 {
        let late = self.levels.get(LEVELS / 2..).unwrap_or_default();
        let level = late.iter().sum::<f64>() / late.len() as f64;
        self.levels.iter().position(|l| *l >= level - ALL_DB).map_or(u64::MAX, |at| at as u64 + 1)
    }
}

/// Listens for what the line does.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Watch {
    hops: u64,
    /// The voice's recent level, dBFS.
    loud_db: Option<f64>,
    /// The last hop of full voice, and the last pitch there.
    full: Option<u64>,
    pitch: Option<Hertz>,
    gap: Option<Gap>,
    back: Option<Back>,
    /// The last entry that looked like a gate's, and whether it was counted.
    cut: Option<(u64, bool)>,
    faults: Faults,
}

impl Watch {
    /// Takes a hop and the frame that was made of it.
    pub(super) fn step(&mut self, hop: &Hop, frame: &F0Frame) {
        self.hops += 1;
        let power = hop.voice.iter().map(|x| f64::from(x * x)).sum::<f64>() / hop.voice.len() as f64;
        let level = Decibels::of_amplitude(power.sqrt()).0;
        let pitch = frame.f0.filter(|_| frame.voiced);
        if pitch.is_some() {
            self.loud_db = Some(self.loud_db.map_or(level, |loud| (loud - FORGET_DB).max(level)));
        }
        self.settle(level, pitch);
        let Some(loud) = self.loud_db else { return };
        if hop.still || level < loud - EMPTY_DB {
            let gap = self.gap.get_or_insert(Gap { from: self.hops, to: self.hops, still: 0 });
            gap.to = self.hops;
            gap.still += u64::from(hop.still);
            self.back = None;
        } else if self.back.is_none()
            && let (Some(gap), Some(pitch)) = (self.gap, self.pitch)
            && GATED.contains(&gap.length())
            && self.hops == gap.to + 1
        {
            self.back = Some(Back { from: gap.to, before: pitch, levels: [level; LEVELS] });
        }
        if self.gap.is_none_or(|gap| gap.to < self.hops) && level >= loud - FULL_DB {
            self.returned();
            self.full = Some(self.hops);
            self.pitch = pitch.or(self.pitch);
        }
    }

    /// What has been since the reset.
    pub(super) fn faults(&self) -> Faults {
        self.faults
    }

    /// Full voice in this hop: did samples go missing before it?
    fn returned(&mut self) {
        let (Some(gap), Some(full)) = (self.gap.take(), self.full) else { return };
        let (fall, rise) = (gap.from - full, self.hops - gap.to);
        // The hop in which the voice goes or comes may be as good as empty.
        let whole = gap.length() - gap.still <= 1 && DROPOUT.contains(&gap.still);
        if whole && fall <= ABRUPT && rise <= ABRUPT {
            self.faults.dropouts += 1;
            self.back = None;
        }
    }

    /// Whether the voice that came back at once is on the note that it left.
    fn settle(&mut self, level: f64, pitch: Option<Hertz>) {
        let Some(mut back) = self.back else { return };
        let since = self.hops - back.from;
        if let Some(place) = usize::try_from(since - 1).ok().and_then(|at| back.levels.get_mut(at)) {
            *place = level;
        }
        self.back = (since <= SETTLED.1).then_some(back);
        let Some(now) = pitch.filter(|_| since > SETTLED.0) else { return };
        self.back = None;
        if back.rise() <= OPENS && now.cents_above(back.before).is_some_and(|Cents(c)| c.abs() <= SAME_NOTE) {
            let last = self.cut.filter(|(last, _)| back.from - last <= TOGETHER);
            self.faults.cut_notes += last.map_or(0, |(_, counted)| if counted { 1 } else { 2 });
            self.cut = Some((back.from, last.is_some()));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::Front;
    use crate::pitch::Tracker;
    use crate::swara::Swara;
    use crate::units::{SampleRate, num};
    use crate::voice::{Phrase, Singer, Sung, sing};

    const RATE: f64 = 44_100.0;

    /// A Sa of three seconds, a breath, the same Sa again, a Pa after it.
    fn voice() -> Vec<f32> {
        let sa = Sung::held(Swara::S, 0.0, 3.0);
        let phrase =
            Phrase::new().rest(0.4).sing(sa).rest(0.5).sing(sa).sing(Sung::held(Swara::P, 702.0, 2.0)).rest(0.3);
        let singer = Singer { jitter: Cents(4.0), breath: Decibels(-45.0), ..Singer::clear(Hertz(196.0)) };
        sing(&phrase, &singer, SampleRate::new(RATE).unwrap()).samples
    }

    fn faults(samples: &[f32]) -> Faults {
        let rate = SampleRate::new(RATE).unwrap();
        let (mut front, mut tracker, mut watch) = (Front::new(rate), Tracker::new(rate), Watch::default());
        front.push(samples, None, |hop| {
            let frame = tracker.process(hop);
            watch.step(hop, &frame);
        });
        watch.faults()
    }

    fn at(seconds: f64) -> usize {
        num::index(seconds * RATE)
    }

    #[test]
    fn a_clean_voice_has_no_faults() {
        assert_eq!(faults(&voice()), Faults::default());
        assert!(Faults::default().told().is_empty());
    }

    #[test]
    fn samples_that_went_missing_are_dropouts() {
        // Zeros, and the last value held, in the middle of a note; nothing where nobody sings.
        let mut samples = voice();
        samples[at(1.0)..at(1.02)].fill(0.0);
        let held = samples[at(2.0)];
        samples[at(2.0)..at(2.04)].fill(held);
        samples[at(3.6)..at(3.64)].fill(0.0);
        assert_eq!(faults(&samples), Faults { dropouts: 2, cut_notes: 0 });
    }

    /// A gate that fades out over `closes` seconds and is open again at `until`.
    fn gate(samples: &mut [f32], from: f64, until: f64, closes: f64) {
        for (i, x) in samples[at(from)..at(until)].iter_mut().enumerate() {
            let closed = i as f64 / RATE / closes;
            *x *= num::single(if closed < 1.0 { 10f64.powf(-4.0 * closed) } else { 0.0 });
        }
    }

    #[test]
    fn a_gate_is_told_from_the_second_note_that_it_cuts() {
        for closes in [0.02, 0.2] {
            let mut samples = voice();
            gate(&mut samples, 1.2, 1.9, closes);
            assert_eq!(faults(&samples), Faults::default(), "one may be a hard onset");
            gate(&mut samples, 4.8, 5.5, closes);
            assert_eq!(faults(&samples), Faults { dropouts: 0, cut_notes: 2 }, "closes in {closes} s");
            gate(&mut samples, 7.6, 8.2, closes);
            assert_eq!(faults(&samples).cut_notes, 3, "closes in {closes} s");
        }
    }

    #[test]
    fn each_fault_is_told_with_whose_it_is() {
        let told = Faults { dropouts: 1, cut_notes: 3 }.told();
        assert_eq!(told.len(), 2);
        assert!(told[0].contains("3 held notes") && told[1].contains("1 dropout"), "{told:?}");
        assert!(told.iter().all(|line| line.contains("not the voice")), "{told:?}");
    }
}
