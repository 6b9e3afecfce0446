//! Long tone: one swara, held steady, toward a goal in minutes.
//!
//! In: readings (5 ms each) and final notes. Out: [`LongToneState`]: steady time so far, and what last unsettled the tone in
//! plain terms. Time counts while the pitch's standard deviation over the last second is within the limit and its mean lies in
//! the band; the second that leads there counts too; nothing is gained by holding on. Constant cost.

use super::{FRAME_S, folded};
use crate::note::{Expected, Kind, LastSecond, Note, STEADY_CENTS};
use crate::swara::SwaraReading;
use crate::units::{Cents, SampleRate, SampleTime};
use std::collections::VecDeque;

/// The exercise as a teacher sets it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LongToneTable {
    /// The swara, in its register; an octave above or below is taken too.
    pub swara: Expected,
    /// Steady time to reach, minutes.
    pub goal_minutes: f64,
    /// Half-width of the band about the swara, cents.
    pub band: Cents,
    /// Largest standard deviation over a second that counts as steady, cents.
    pub steady: Cents,
}

impl LongToneTable {
    /// The default: two minutes, 12 cents (our choices).
    #[must_use]
    pub fn new(swara: Expected, band: Cents) -> Self {
        Self { swara, goal_minutes: 2.0, band, steady: Cents(STEADY_CENTS) }
    }
}

/// What unsettled a tone; each part only where it is worth saying.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Unsettled {
    /// Held this far from the swara, cents (signed), outside the band.
    pub off: Option<Cents>,
    /// Drifting, cents per second (signed).
    pub drifting_per_s: Option<f64>,
    /// Wavering this many times a second.
    pub wavering_hz: Option<f64>,
    /// Unsteady without a rate: RMS in cents.
    pub unsteady: Option<Cents>,
    /// Started this far from where it was then held, cents (negative: low).
    pub started: Option<Cents>,
}

impl Unsettled {
    /// From here on a scoop is worth a word, cents (our choice: a third of a semitone).
    const SCOOP_CENTS: f64 = 33.0;

    /// What unsettled `note`, sung for `table`'s swara.
    #[must_use]
    pub fn of(note: &Note, table: &LongToneTable) -> Self {
        let off = folded(note.cents.0, &table.swara);
        let wavers = note.wobble.0 > table.steady.0;
        Self {
            off: (off.0.abs() > table.band.0).then_some(off),
            drifting_per_s: note.drift_said.then_some(note.drift_per_s),
            wavering_hz: note.waver_hz.filter(|_| wavers),
            unsteady: (wavers && note.waver_hz.is_none()).then_some(note.wobble),
            started: (note.onset.scoop.0.abs() >= Self::SCOOP_CENTS).then_some(note.onset.scoop),
        }
    }

    /// Whether there is anything to say.
    #[must_use]
    pub fn any(&self) -> bool {
        *self != Self::default()
    }
}

/// How the practice stands.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LongToneState {
    /// Steady time on the swara, seconds.
    pub steady_s: f64,
    /// The same as a share of the goal; 1 and more: reached.
    pub done: f64,
    /// Whether the tone counts at this moment.
    pub steady_now: bool,
    /// How long the tone has counted without a break, seconds.
    pub run_s: f64,
    /// The longest such run, seconds.
    pub longest_s: f64,
    /// What unsettled the last note.
    pub unsettled: Unsettled,
    /// Why the last note was counted apart from the one before, where both were one tone to the singer.
    pub split: Option<Split>,
}

/// Held notes on the swara that lie nearer together than this may have been one tone to the singer, seconds (our choice: a quick
/// breath is in it, a rest is not).
const ONE_TONE_S: f64 = 2.0;
/// Silence from here on is a breath or a pause; a shorter one is the voice breaking off, seconds (our choice).
const BREATH_S: f64 = 0.15;
/// A note's ends are found this exactly, seconds: what lies so near to them belongs to the gap.
const ENDS_S: f64 = 0.15;
/// Breaks that are remembered: enough for the longest note.
const BREAKS: usize = 64;

/// Why one tone was counted as two notes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Split {
    /// A breath or a pause, seconds.
    Breath(f64),
    /// The voice broke off for a moment.
    Gap,
    /// It left the band; how far it was at most, cents (signed).
    Off(Cents),
    /// It wavered.
    Wavered,
    /// The pitch moved on and came back, within the band.
    Moved,
}

/// A stretch in which the voice was not on the swara.
#[derive(Debug, Clone, Copy)]
struct Break {
    from: SampleTime,
    to: SampleTime,
    readings: u32,
    /// How far off at most; `None` where nothing sounded.
    off: Option<Cents>,
}

/// The machine.
#[derive(Debug, Clone)]
pub struct LongTone {
    table: LongToneTable,
    window: LastSecond,
    uncounted: usize,
    state: LongToneState,
    /// The newest breaks, the newest last; the last one may go on.
    breaks: VecDeque<Break>,
    /// Whether it does.
    broken: bool,
    /// Where the last held note on the swara ended, and whether the voice has swung since.
    before: Option<(SampleTime, bool)>,
}

impl LongTone {
    /// At the beginning.
    #[must_use]
    pub fn new(table: LongToneTable) -> Self {
        Self {
            table,
            window: LastSecond::new(),
            uncounted: 0,
            state: LongToneState::default(),
            breaks: VecDeque::new(),
            broken: false,
            before: None,
        }
    }

    /// Takes a reading; one in which another voice sounds too counts as none.
    pub fn push(&mut self, reading: &SwaraReading) {
        self.breaks(reading);
        let state = &mut self.state;
        let alone = reading.cents.filter(|c| c.0.is_finite() && !reading.frame.several);
        let Some(cents) = alone else {
            self.window.clear();
            self.uncounted = 0;
            (state.steady_now, state.run_s) = (false, 0.0);
            return;
        };
        self.window.push(cents.0);
        self.uncounted = (self.uncounted + 1).min(LastSecond::FRAMES);
        let on_swara = self.window.mean().is_some_and(|m| folded(m, &self.table.swara).0.abs() <= self.table.band.0);
        state.steady_now = self.window.full() && on_swara && self.window.deviation() <= self.table.steady.0;
        if state.steady_now {
            let counted = std::mem::take(&mut self.uncounted) as f64 * FRAME_S;
            state.steady_s += counted;
            state.run_s += counted;
            state.longest_s = state.longest_s.max(state.run_s);
            state.done = state.steady_s / (60.0 * self.table.goal_minutes.max(FRAME_S));
        } else {
            state.run_s = 0.0;
        }
    }

    /// Remembers when the voice was not on the swara.
    fn breaks(&mut self, reading: &SwaraReading) {
        let off = reading.cents.filter(|c| c.0.is_finite()).map(|c| folded(c.0, &self.table.swara));
        if off.is_some_and(|off| off.0.abs() <= self.table.band.0) {
            self.broken = false;
            return;
        }
        let to = reading.frame.time;
        match self.breaks.back_mut().filter(|last| self.broken && last.off.is_some() == off.is_some()) {
            Some(last) => {
                (last.to, last.readings) = (to, last.readings + 1);
                if off.is_some_and(|off| last.off.is_none_or(|most| off.0.abs() > most.0.abs())) {
                    last.off = off;
                }
            }
            None => self.breaks.push_back(Break { from: to, to, readings: 1, off }),
        }
        self.broken = true;
        if self.breaks.len() > BREAKS {
            self.breaks.pop_front();
        }
    }

    /// Takes a final note.
    pub fn note(&mut self, note: &Note, rate: SampleRate) {
        self.state.unsettled = Unsettled::of(note, &self.table);
        if note.kind != Kind::Held {
            if let Some((_, swung)) = &mut self.before {
                *swung |= note.kind == Kind::Oscillating;
            }
            return;
        }
        let on_swara = note.swara == self.table.swara.target.swara;
        let before = self.before.filter(|(end, _)| {
            let apart = note.start.since(*end) as f64 / rate.hz();
            on_swara && (-ENDS_S..=ONE_TONE_S).contains(&apart)
        });
        self.state.split = before.map(|(end, swung)| self.why((end, note.start), swung, rate));
        self.before = on_swara.then_some((note.end, false));
    }

    /// What lay between two notes, the plainest reason first.
    fn why(&self, (end, start): (SampleTime, SampleTime), swung: bool, rate: SampleRate) -> Split {
        let reach = crate::units::num::int(ENDS_S * rate.hz());
        let between = self.breaks.iter().filter(|b| b.to.0 >= end.0 - reach && b.from.0 <= start.0 + reach);
        let (silent, off): (Vec<&Break>, Vec<&Break>) = between.partition(|b| b.off.is_none());
        let longest = silent.iter().map(|b| f64::from(b.readings) * FRAME_S).fold(0.0, f64::max);
        let farthest = off.iter().filter_map(|b| b.off).max_by(|a, b| a.0.abs().total_cmp(&b.0.abs()));
        match farthest {
            _ if longest >= BREATH_S => Split::Breath(longest),
            _ if swung => Split::Wavered,
            Some(off) => Split::Off(off),
            None if longest > 0.0 => Split::Gap,
            None => Split::Moved,
        }
    }

    /// How it stands.
    #[must_use]
    pub fn state(&self) -> LongToneState {
        self.state
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{expected, note, reading};
    use super::*;
    use crate::swara::Swara;

    fn sa() -> LongTone {
        LongTone::new(LongToneTable::new(expected(Swara::S, 0.0, 0), Cents(20.0)))
    }

    fn sing(tone: &mut LongTone, seconds: f64, line: impl Fn(f64) -> f64) {
        let frames = crate::units::num::int(seconds / FRAME_S);
        (0..frames).for_each(|k| tone.push(&reading(Some(line(k as f64 * FRAME_S)))));
    }

    #[test]
    fn only_steady_time_on_the_swara_counts() {
        let mut tone = sa();
        sing(&mut tone, 0.9, |_| 5.0);
        assert_eq!(tone.state().steady_s, 0.0);
        sing(&mut tone, 4.1, |_| 5.0);
        assert!((tone.state().steady_s - 5.0).abs() < 0.006);
        tone.push(&reading(None));
        sing(&mut tone, 5.0, |_| 40.0);
        sing(&mut tone, 5.0, |t| 30.0 * (std::f64::consts::TAU * 3.0 * t).sin());
        assert!((tone.state().steady_s - 5.0).abs() < 0.006, "{:?}", tone.state());
        tone.push(&reading(None));
        sing(&mut tone, 115.0, |_| 1200.0);
        assert!((tone.state().done - 1.0).abs() < 1e-3, "{:?}", tone.state());
        assert!((tone.state().longest_s - 115.0).abs() < 0.01);
    }

    #[test]
    fn a_dip_is_not_counted_twice() {
        let mut tone = sa();
        sing(&mut tone, 3.0, |t| if (1.5..1.6).contains(&t) { 60.0 } else { 0.0 });
        assert!(tone.state().steady_s <= 3.0);
        assert!(tone.state().steady_s >= 1.5);
    }

    /// A Sa of 3 s, something else for `seconds`, and Sa again; what is said of the second note.
    fn split(seconds: f64, between: Option<f64>, kind: Option<Kind>) -> Option<Split> {
        let rate = SampleRate::new(48_000.0).unwrap();
        let mut tone = sa();
        let mut at = 0;
        let mut sing = |tone: &mut LongTone, seconds: f64, cents: Option<f64>| {
            for _ in 0..crate::units::num::int(seconds / FRAME_S) {
                let mut reading = reading(cents);
                reading.frame.time = SampleTime(at);
                at += 240;
                tone.push(&reading);
            }
            SampleTime(at)
        };
        let between_s = |start: SampleTime, end: SampleTime, kind| Note { kind, start, end, ..note(3.0, 3.0) };
        let end = sing(&mut tone, 3.0, Some(3.0));
        tone.note(&between_s(SampleTime(0), end, Kind::Held), rate);
        assert_eq!(tone.state().split, None, "the first of them");
        let start = sing(&mut tone, seconds, between);
        if let Some(kind) = kind {
            tone.note(&between_s(end, start, kind), rate);
        }
        let last = sing(&mut tone, 3.0, Some(-2.0));
        tone.note(&between_s(start, last, Kind::Held), rate);
        tone.state().split
    }

    #[test]
    fn why_a_tone_was_counted_as_two_is_told() {
        let near =
            |found: Option<Split>, seconds: f64| matches!(found, Some(Split::Breath(s)) if (s - seconds).abs() < 0.01);
        assert!(near(split(0.4, None, None), 0.4), "{:?}", split(0.4, None, None));
        assert_eq!(split(0.05, None, None), Some(Split::Gap));
        assert_eq!(split(0.3, Some(46.0), Some(Kind::Gliding)), Some(Split::Off(Cents(46.0))));
        assert_eq!(split(0.5, Some(40.0), Some(Kind::Oscillating)), Some(Split::Wavered));
        assert_eq!(split(0.2, Some(10.0), None), Some(Split::Moved));
        assert_eq!(split(3.0, None, None), None, "a rest lies between two tones");
    }

    #[test]
    fn what_unsettles_is_told() {
        let table = LongToneTable::new(expected(Swara::S, 0.0, 0), Cents(20.0));
        let mut bad = note(-31.0, 4.0);
        bad.drift_said = true;
        bad.drift_per_s = -5.0;
        bad.wobble = Cents(16.0);
        bad.waver_hz = Some(5.0);
        bad.onset.scoop = Cents(-40.0);
        let told = Unsettled::of(&bad, &table);
        assert_eq!(told.off, Some(Cents(-31.0)));
        assert_eq!((told.drifting_per_s, told.wavering_hz, told.unsteady), (Some(-5.0), Some(5.0), None));
        assert_eq!(told.started, Some(Cents(-40.0)));
        assert!(!Unsettled::of(&note(1195.0, 4.0), &table).any());
    }
}
