//! Listens along and says of every note what it was, how far off, how steady.
//!
//! In: readings, one per 5 ms, with the targets and the in-tune band. Out: each [`Note`] some 0.1 to 0.5 s after its end,
//! and at any time the note that sounds ([`Current`]). The judged part of a note lies 150 ms inside both ends (25 % of a
//! note under 0.6 s), so that settling and release do not count. All memory is taken in [`Judge::new`]; the work per
//! reading is bounded; a note may last for hours.

use super::line::{FRAMES_PER_S, LOOK, Line};
use super::part::{Fit, Histogram, Part};
use super::shape::{Act, SHORTEST, Scoop, Shape};
use super::steady::Steady;
use super::waver::Waver;
use super::{Band, Current, Kind, Note, Onset};
use crate::swara::{Named, Sthayi, SwaraReading, Target, Targets};
use crate::units::{Cents, SampleRate, SampleTime, num};

/// Settling and release at either end that are not judged, seconds (the corpus's own rule for a note's middle).
const MARGIN_S: f64 = 0.15;
/// The same for short notes, as a share of their length.
const MARGIN_SHARE: f64 = 0.25;
/// Frames of [`MARGIN_S`].
const MARGIN: u64 = 30;
/// How far the sums of the judged part stay behind, frames (1.5 s): longer than the end of a note stays undecided.
const BEHIND: u64 = 300;
/// A drift is said from this much change over the note on, cents; from this many standard errors; from this length, s.
const DRIFT_SAID: (f64, f64, f64) = (8.0, 2.0, 1.0);
/// A note shorter than this has narrower margins, frames (0.6 s): before it is longer, none of it is summed.
const LONG: u64 = 120;
/// What moves on by more than this, cents per second and in all, is on its way, however slowly: no singer who holds a swara drifts
/// by half a semitone at such a pace (drifts of the corpus's held notes: up to 10 cents per second; limits our choice).
const GLIDES: (f64, f64) = (120.0, 60.0);
/// And by so many times what it strays from its straight line.
const STRAIGHT: f64 = 4.0;
/// The first judgement of a sounding note, seconds after its beginning.
const SHOWN_FROM_S: f64 = 0.25;
/// Where a held note is now is told by the median of so many frames, 400 ms, two cycles of a slow vibrato (our choice).
const NOW: usize = 80;
/// A note that begins so soon after more than one voice sounded began among them, frames (150 ms: a join and a consonant; our
/// choice): it may be either's.
const AMONG: u64 = 30;
/// Half of a 95 % interval in standard errors of a mean, and how much wider a median's is (normal distribution).
const HALF_95: f64 = 1.96 * 1.2533;

/// A swara that the singer is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// The swara and where it lies.
    pub target: Target,
    /// The register it is asked in.
    pub sthayi: Sthayi,
}

/// The judged line of a note that just became final: time over offset from its target.
pub struct Offsets<'a> {
    histogram: &'a Histogram,
    target: f64,
    octaves: f64,
}

impl Offsets<'_> {
    /// Calls `each` with an offset in cents and the number of 5 ms frames spent there (bins of 0.2 cents).
    pub fn each(&self, each: &mut dyn FnMut(Cents, u32)) {
        for (middle, frames) in self.histogram.filled() {
            each(Cents(middle - self.target - 1200.0 * self.octaves), frames);
        }
    }
}

/// Farther than this from the swara that is expected, another was sung, and it is named: a minor third (our choice).
const ANOTHER_CENTS: f64 = 300.0;

/// What a pitch is judged against.
#[derive(Debug, Clone, Copy)]
struct Aim {
    named: Named,
    /// Cents above madhya Sa of what the offset is measured from.
    target: f64,
    octaves: i8,
    expected: bool,
}

/// The note being summed.
#[derive(Debug, Clone, Copy)]
struct Sounding {
    start: u64,
    level_from: u64,
    scoop: Option<Scoop>,
    /// Whether more than one voice sounded as it began.
    among: bool,
    time: SampleTime,
    fed: u64,
    fed_live: u64,
    pass: u32,
    place: Option<i64>,
}

/// Cuts readings into notes and judges them. Never allocates after `new`.
pub struct Judge {
    line: Line,
    shape: Shape,
    sums: Sums,
    aims: (Targets, Band),
    expected: Option<Expected>,
}

/// Everything that belongs to the open note.
struct Sums {
    sounding: Option<Sounding>,
    judged: Part,
    quiet: Part,
    raw: Part,
    live: Part,
    steady: Steady,
    waver: Waver,
    place: Option<i64>,
    pass: u32,
    hop: i64,
}

impl Judge {
    /// All memory is taken here. `rate`: the host's, in which times are counted.
    #[must_use]
    pub fn new(rate: SampleRate) -> Self {
        let hop = num::int(rate.hz() / FRAMES_PER_S);
        Self {
            line: Line::new(),
            shape: Shape::new(),
            sums: Sums {
                sounding: None,
                judged: Part::new(),
                quiet: Part::new(),
                raw: Part::new(),
                live: Part::new(),
                steady: Steady::new(),
                waver: Waver::default(),
                place: None,
                pass: 0,
                hop,
            },
            aims: (Targets { by_position: [None; 12] }, Band { fixed: Cents(20.0), others: Cents(25.0) }),
            expected: None,
        }
    }

    /// Judges against this swara from the next note on that becomes final; `None`: against the nearest allowed one.
    pub fn expect(&mut self, expected: Option<Expected>) {
        self.expected = expected;
    }

    /// Where the host's timeline stands, as timeline position minus [`SampleTime`], and which pass it is in.
    pub fn place(&mut self, timeline_ahead: Option<i64>, pass: u32) {
        self.sums.place = timeline_ahead;
        self.sums.pass = pass;
    }

    /// Takes one reading; hands on each note that became final, with the time it spent at each offset.
    pub fn push(
        &mut self,
        reading: &SwaraReading,
        targets: &Targets,
        band: Band,
        done: &mut dyn FnMut(&Note, &Offsets<'_>),
    ) {
        self.aims = (*targets, band);
        self.line.push(reading);
        let aims = Aims { targets, band, expected: self.expected };
        let Self { line, shape, sums, .. } = self;
        shape.step(line, &mut |act, line| sums.act(act, line, &aims, done));
        sums.feed(line, shape.vibrato_hz(), shape.sounded_to());
    }

    /// Ends whatever sounds (end of a take, the pupil's turn over, another tonic).
    pub fn finish(&mut self, targets: &Targets, band: Band, done: &mut dyn FnMut(&Note, &Offsets<'_>)) {
        let aims = Aims { targets, band, expected: self.expected };
        let silence = SwaraReading { cents: None, named: None, ..silent() };
        for _ in 0..=LOOK {
            self.line.push(&silence);
            let Self { line, shape, sums, .. } = self;
            shape.step(line, &mut |act, line| sums.act(act, line, &aims, done));
        }
        let Self { line, shape, sums, .. } = self;
        shape.finish(line, &mut |act, line| sums.act(act, line, &aims, done));
    }

    /// The note that sounds now, from 250 ms on.
    #[must_use]
    pub fn current(&self) -> Option<Current> {
        let sounding = self.sums.sounding?;
        let newest = self.line.next().checked_sub(LOOK + 1)?;
        let seconds = newest.saturating_sub(sounding.start) as f64 / FRAMES_PER_S;
        let aims = Aims { targets: &self.aims.0, band: self.aims.1, expected: self.expected };
        let median = self.sums.live.median()?;
        let aim = aims.aim(median)?;
        let fit = self.sums.live.fit();
        let kind = (seconds >= SHOWN_FROM_S).then(|| match self.shape.seems() {
            Kind::Held if glides(&fit, seconds) => Kind::Gliding,
            seems => seems,
        });
        // What moves is no nearer to its swara at one moment than at another.
        let held = kind == Some(Kind::Held);
        let now = self.sums.now(&sounding, newest, &self.line).filter(|_| held).unwrap_or(median);
        Some(Current {
            start: sounding.time,
            seconds,
            kind,
            named: aim.named,
            cents: Cents(median),
            now: aims.aim(now).unwrap_or(aim).named,
            now_cents: Cents(now),
            expected: aim.expected,
            octaves_off: aim.octaves,
            uncertainty: Cents(HALF_95 * fit.wobble / fit.independent.max(1.0).sqrt()),
            wobble: Cents(fit.wobble),
            drift_per_s: fit.slope,
        })
    }

    /// Back to the state of [`Judge::new`].
    pub fn reset(&mut self) {
        self.line.reset();
        self.shape = Shape::new();
        self.sums.sounding = None;
        self.sums.place = None;
        self.sums.pass = 0;
        self.expected = None;
    }
}

/// Whether a line of so many seconds is on its way rather than held.
fn glides(fit: &Fit, seconds: f64) -> bool {
    let (pace, least) = GLIDES;
    let way = fit.slope.abs() * seconds;
    fit.slope.abs() > pace && way > least && way > STRAIGHT * fit.wobble
}

/// Whether more than one voice sounded where a note begins.
fn among(start: u64, line: &Line) -> bool {
    (start.saturating_sub(AMONG)..=start).any(|n| line.several(n))
}

fn silent() -> SwaraReading {
    use crate::pitch::F0Frame;
    use crate::units::Decibels;
    let frame = F0Frame {
        time: SampleTime(0),
        available: SampleTime(0),
        f0: None,
        voiced: false,
        confidence: 0.0,
        level: Decibels(-200.0),
        clipped: false,
        several: false,
    };
    SwaraReading { frame, cents: None, named: None }
}

/// What notes are judged against.
struct Aims<'a> {
    targets: &'a Targets,
    band: Band,
    expected: Option<Expected>,
}

impl Aims<'_> {
    fn aim(&self, cents: f64) -> Option<Aim> {
        if let Some(Expected { target, sthayi }) = self.expected {
            let at = target.cents.0 + 1200.0 * f64::from(sthayi.0);
            let octaves = ((cents - at) / 1200.0).round();
            let offset = cents - at - 1200.0 * octaves;
            let named = Named { swara: target.swara, sthayi, offset: Cents(offset) };
            let octaves = i8::try_from(num::int(octaves)).unwrap_or(0);
            if offset.abs() <= ANOTHER_CENTS {
                return Some(Aim { named, target: at, octaves, expected: true });
            }
        }
        let named = self.targets.nearest(Cents(cents))?;
        Some(Aim { named, target: cents - named.offset.0, octaves: 0, expected: false })
    }
}

impl Sums {
    fn act(&mut self, act: Act, line: &Line, aims: &Aims<'_>, done: &mut dyn FnMut(&Note, &Offsets<'_>)) {
        match act {
            Act::Open { start, level_from, scoop } => {
                self.clear();
                let (fed, fed_live) = (start + MARGIN, level_from.max(start + MARGIN / 2));
                let (time, pass, place) = (line.time(start), self.pass, self.place);
                let among = among(start, line);
                self.sounding = Some(Sounding { start, level_from, scoop, among, time, fed, fed_live, pass, place });
            }
            Act::Close { end, kind, rate_hz } => {
                if let Some(sounding) = self.sounding.take() {
                    self.close(sounding, end, kind, rate_hz, line, aims, done);
                }
            }
            Act::Slide { start, end } => {
                self.clear();
                let sounding = Sounding {
                    start,
                    level_from: start,
                    scoop: None,
                    among: among(start, line),
                    time: line.time(start),
                    fed: start,
                    fed_live: end,
                    pass: self.pass,
                    place: self.place,
                };
                self.close(sounding, end, Kind::Gliding, None, line, aims, done);
            }
        }
    }

    fn clear(&mut self) {
        self.judged.clear();
        self.quiet.clear();
        self.raw.clear();
        self.live.clear();
        self.steady.clear();
        self.waver.clear();
    }

    /// Sums the line up to where it is certain to belong to the open note.
    fn feed(&mut self, line: &Line, vibrato_hz: Option<f64>, sounded_to: Option<u64>) {
        let Some(mut open) = self.sounding else { return };
        let Some(newest) = line.next().checked_sub(LOOK + 1) else { return };
        // What has left the note, a slide of any length, is not summed though it has not ended yet.
        let long = sounded_to.filter(|to| *to >= open.start + LONG);
        while open.fed + BEHIND <= newest && long.is_some_and(|to| open.fed + MARGIN <= to) {
            self.take(open.fed, line, vibrato_hz);
            open.fed += 1;
        }
        while open.fed_live <= newest {
            self.live.add(open.fed_live, line.measured(open.fed_live));
            open.fed_live += 1;
        }
        self.sounding = Some(open);
    }

    /// The median of the open note's newest frames, cents; `None` where too few of them have a pitch.
    fn now(&self, open: &Sounding, newest: u64, line: &Line) -> Option<f64> {
        let mut last = [0.0; NOW];
        let first = open.level_from.max(open.start + MARGIN / 2).max((newest + 1).saturating_sub(NOW as u64));
        let measured = (first..=newest).map(|frame| line.measured(frame)).filter(|cents| cents.is_finite());
        let count = last.iter_mut().zip(measured).map(|(to, cents)| *to = cents).count();
        let last = last.get_mut(..count).filter(|last| last.len() >= NOW / 2)?;
        Some(*last.select_nth_unstable_by(count / 2, f64::total_cmp).1)
    }

    /// Sums one frame: of a vibrato the mean over the cycle about it, of everything else the pitch itself.
    fn take(&mut self, frame: u64, line: &Line, vibrato_hz: Option<f64>) {
        let (measured, smooth) = (line.measured(frame), line.smooth(frame));
        let centre = match vibrato_hz {
            Some(rate) if measured.is_finite() => {
                let cycle = num::index(FRAMES_PER_S / rate.max(1.0)) as u64;
                let from = frame.saturating_sub(cycle / 2);
                line.mean(from, from + cycle.max(1) - 1)
            }
            _ => measured,
        };
        self.judged.add(frame, centre);
        self.raw.add(frame, measured);
        self.quiet.add(frame, smooth);
        self.steady.add(if vibrato_hz.is_some() { centre } else { smooth });
        self.waver.add(smooth);
    }

    #[expect(clippy::too_many_arguments, reason = "the note's own facts and what it is judged against")]
    fn close(
        &mut self,
        open: Sounding,
        end: u64,
        kind: Kind,
        rate_hz: Option<f64>,
        line: &Line,
        aims: &Aims<'_>,
        done: &mut dyn FnMut(&Note, &Offsets<'_>),
    ) {
        // It is judged up to where another voice came in.
        let alone = (open.start..=end).rev().find(|n| !line.several(*n));
        let Some(end) = alone.filter(|to| !open.among && (*to == end || *to + 1 >= open.start + SHORTEST)) else {
            return;
        };
        let length_s = (end + 1).saturating_sub(open.start) as f64 / FRAMES_PER_S;
        let margin = num::index(MARGIN_S.min(MARGIN_SHARE * length_s) * FRAMES_PER_S) as u64;
        let begun = self.judged.count() > 0.0;
        let from = if begun { open.fed } else { open.start + margin };
        for frame in from..=end.saturating_sub(margin) {
            self.take(frame, line, rate_hz);
        }
        let Some(median) = self.judged.median() else { return };
        let Some(aim) = aims.aim(median) else { return };
        // How much a vibrato moves is measured as it is; everything else is freed of the tracker's noise.
        let fit = if rate_hz.is_some() || kind != Kind::Held { self.raw.fit() } else { self.quiet.fit() };
        let judged_s = self.judged.count() / FRAMES_PER_S;
        let kind = if kind == Kind::Held && rate_hz.is_none() && glides(&fit, length_s) { Kind::Gliding } else { kind };
        let held = kind == Kind::Held;
        let target = aim.target + 1200.0 * f64::from(aim.octaves);
        let (change, errors, seconds) = DRIFT_SAID;
        let onset = open.scoop.map_or(Onset { scoop: Cents(0.0), seconds: 0.0 }, |scoop| Onset {
            scoop: Cents(scoop.cents - median),
            seconds: open.level_from.saturating_sub(scoop.from) as f64 / FRAMES_PER_S,
        });
        let note = Note {
            kind,
            start: open.time,
            end: SampleTime(line.time(end).0.saturating_add(self.hop)),
            swara: aim.named.swara,
            sthayi: aim.named.sthayi,
            offset: aim.named.offset,
            cents: Cents(median),
            expected: aim.expected,
            octaves_off: aim.octaves,
            drift_per_s: fit.slope,
            drift_error_per_s: fit.slope_error,
            drift_said: held
                && length_s >= seconds
                && fit.slope.abs() * length_s > change
                && fit.slope.abs() > errors * fit.slope_error,
            wobble: Cents(fit.wobble),
            waver_hz: rate_hz.or(self.waver.rate_hz()),
            in_tune: self.judged.in_tune(target, aims.band.of(aim.named.swara).0),
            onset,
            longest_steady_s: self.steady.longest_s(),
            judged_s: if held { judged_s } else { 0.0 },
            timeline: open.place.map(|ahead| open.time.0.saturating_add(ahead)),
            pass: open.pass,
        };
        done(
            &note,
            &Offsets { histogram: self.judged.histogram(), target: aim.target, octaves: f64::from(aim.octaves) },
        );
    }
}
