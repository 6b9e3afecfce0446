//! Where notes begin and end, and which of them stand still, swing or slide.
//!
//! In: the pitch line. Out: [`Act`]s: a note opens, goes on, closes. The line is cut into level stretches and slopes (by
//! how fast it moves); a stretch that is short beside the slopes at its sides and between slopes of opposite direction is
//! a turn, several turns in a row are a swing (see [`Swing`]), every other stretch is level. Level stretches of one pitch and
//! steady swings about it are one note; a slope that leads elsewhere, or a silence, ends it. A slope out of
//! silence belongs to its note (a scoop), unless it only is the rest of a way begun before a consonant. Constant cost per
//! frame, but for the mean of a few frames at each turn. Method our own; limits chosen by data, each at its line.

use super::Kind;
use super::line::{LOOK, Line, Motion};
use super::swing::{Swing, Turn};

/// Silences up to this long inside one pitch are bridged, frames (30 ms; a consonant
/// takes longer. Chosen by data; Gulati's rule for resting notes bridges 50 ms).
const BRIDGE: u64 = 6;
/// A slope that leads nowhere: a net way under this is part of the level stretch, cents (chosen by data).
const NOWHERE_CENTS: f64 = 20.0;
/// Two level stretches this near each other are one pitch, cents (chosen by data).
const SAME_CENTS: f64 = 18.0;
/// A dip or bulge this small between two stretches of one pitch is part of the note, cents (chosen by data; the touch
/// of a spurita is a semitone or more).
const DENT_CENTS: f64 = 45.0;
/// Shortest level stretch that is a note, frames (70 ms; chosen by data).
pub(super) const SHORTEST: u64 = 14;
/// From here on a stretch is level, whatever the slopes beside it, frames (200 ms; chosen by data).
const SURELY_LEVEL: u64 = 40;
/// A stretch is level if it is this much longer than the slopes at its sides (chosen by data).
const LEVEL_BY_SLOPES: f64 = 1.4;
/// Turns in a row that make a swing: one and a half cycles.
const SWING_TURNS: u32 = 4;
/// A rest this short within a swing's range belongs to the swing, frames (200 ms; chosen by data).
const SWING_REST: u64 = 40;
/// A slope this long is a slide, a note of its own, frames (150 ms; joins last 80 to 100 ms; chosen by data).
const SLIDE: u64 = 30;
/// Silence before a slope that makes it a scoop rather than the rest of a join, frames (120 ms; chosen by data).
const SCOOP_AFTER: u64 = 24;
/// A way of this much or more into a note is no scoop, cents (our choice: a fifth).
const NO_SCOOP_CENTS: f64 = 700.0;
/// Longest stretch between two leaps that is a slip of the tracker, frames (150 ms; chosen by data).
const SLIP: u64 = 30;
/// Level frames kept for a stretch's pitch at its ends (200 ms).
const END_FRAMES: u64 = 40;

/// What happened to the notes.
#[derive(Debug, Clone, Copy)]
pub(super) enum Act {
    /// A note began at frame `start`; it was level from `level_from` on, and had a scoop before.
    Open { start: u64, level_from: u64, scoop: Option<Scoop> },
    /// The open note ended with frame `end`.
    Close { end: u64, kind: Kind, rate_hz: Option<f64> },
    /// A slide, complete.
    Slide { start: u64, end: u64 },
}

/// The way out of silence into a note.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scoop {
    /// Its first frame: where the voice came in, after whatever the tracker leapt over.
    pub(super) from: u64,
    /// The pitch there, cents.
    pub(super) cents: f64,
}

/// A stretch of the line without a slope in it.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    start: u64,
    end: u64,
    /// Length of the slope that led here, frames; 0 where there was none.
    slope_in: u64,
    /// Where that slope began, if it began out of silence, and how long the silence was, frames.
    out_of_silence: Option<(u64, u64)>,
    /// Whether a slip was taken out of its beginning: what leaps away from it is no second one.
    after_slip: bool,
    /// Pitch of the first and last part, cents.
    head: f64,
    tail: f64,
    /// Taken as level already, while it still sounds.
    begun: bool,
}

#[derive(Debug, Clone, Copy)]
enum Phase {
    Silent { since: u64 },
    Level,
    Slope { start: u64, motion: Motion },
}

/// The note that is open.
#[derive(Debug, Clone, Copy)]
struct Open {
    start: u64,
    end: u64,
    tail: f64,
    /// Frames in swings that may not be judged, and in steady ones.
    swung: u64,
    vibrato: u64,
    rate_hz: Option<f64>,
}

/// Cuts the line into notes.
pub(super) struct Shape {
    phase: Phase,
    stretch: Option<Stretch>,
    /// The silence before the voice that sounds now, frames.
    silence: u64,
    open: Option<Open>,
    swing: Swing,
    swing_taken: bool,
    dents: f64,
    /// The level stretch before a leap, to be taken up again after a slip.
    before: Option<Stretch>,
    /// Whether the last stretch was such a slip.
    slipped: bool,
    /// Where the voice came in after a slip out of silence.
    came_in: Option<u64>,
    slide: Option<(u64, u64)>,
}

impl Shape {
    pub(super) fn new() -> Self {
        Self {
            phase: Phase::Silent { since: 0 },
            stretch: None,
            silence: 0,
            open: None,
            swing: Swing::default(),
            swing_taken: false,
            dents: 0.0,
            before: None,
            slipped: false,
            came_in: None,
            slide: None,
        }
    }

    /// Looks at the newest finished frame of the line.
    pub(super) fn step(&mut self, line: &mut Line, act: &mut dyn FnMut(Act, &Line)) {
        let Some(m) = line.next().checked_sub(LOOK + 1) else { return };
        let motion = line.motion(m);
        match self.phase {
            Phase::Silent { since } => self.while_silent(m, since, motion, line, act),
            Phase::Level => match motion {
                Motion::Silent => self.phase = Phase::Silent { since: m },
                Motion::Still => self.level(m, line, act),
                Motion::Up | Motion::Down => self.phase = Phase::Slope { start: m, motion },
            },
            Phase::Slope { start, motion: before } => {
                if motion == Motion::Silent {
                    self.slope_done(start, m, line, act);
                    self.phase = Phase::Silent { since: m };
                } else if motion != before {
                    self.slope_done(start, m, line, act);
                    self.go_on(m, motion, line, act);
                }
            }
        }
    }

    /// What the sounding note looks like so far.
    pub(super) fn seems(&self) -> Kind {
        if self.swing.turns() >= SWING_TURNS - 1 && !self.swing.steady() { Kind::Oscillating } else { Kind::Held }
    }

    /// Up to which frame the open note has certainly sounded.
    pub(super) fn sounded_to(&self) -> Option<u64> {
        self.open.map(|open| open.end)
    }

    /// Rate of the vibrato that the open note has, Hz.
    pub(super) fn vibrato_hz(&self) -> Option<f64> {
        let now = (self.swing_taken && self.swing.steady()).then(|| self.swing.rate_hz()).flatten();
        now.or(self.open.and_then(|open| open.rate_hz))
    }

    /// Ends whatever sounds.
    pub(super) fn finish(&mut self, line: &mut Line, act: &mut dyn FnMut(Act, &Line)) {
        self.silence_begins(line, act);
        *self = Self::new();
        self.phase = Phase::Silent { since: line.next().saturating_sub(LOOK) };
    }

    fn while_silent(&mut self, m: u64, since: u64, motion: Motion, line: &mut Line, act: &mut dyn FnMut(Act, &Line)) {
        let gap = m.saturating_sub(since);
        if motion == Motion::Silent {
            if gap == BRIDGE {
                (self.slipped, self.came_in) = (false, None);
                self.silence_begins(line, act);
            }
            return;
        }
        if gap <= BRIDGE
            && let Some(stretch) = self.stretch
        {
            let away = line.clean(m) - stretch.tail;
            if away.abs() >= NOWHERE_CENTS {
                self.ended(Some(gap.max(1)), line, act);
                self.begin(m, gap.max(1), None, line);
            }
        } else {
            self.silence = gap;
        }
        self.go_on(m, motion, line, act);
    }

    /// Enters the phase that `motion` asks for at frame `m`.
    fn go_on(&mut self, m: u64, motion: Motion, line: &mut Line, act: &mut dyn FnMut(Act, &Line)) {
        if matches!(motion, Motion::Up | Motion::Down) {
            self.phase = Phase::Slope { start: m, motion };
        } else {
            self.phase = Phase::Level;
            self.level(m, line, act);
        }
    }

    fn begin(&mut self, m: u64, slope_in: u64, out_of_silence: Option<(u64, u64)>, line: &Line) {
        let pitch = line.clean(m);
        if std::mem::take(&mut self.slipped)
            && let Some(before) = self.before.take()
            && (pitch - before.tail).abs() < SAME_CENTS
        {
            self.stretch = Some(before);
            return;
        }
        let came_in = self.came_in.take().filter(|_| out_of_silence.is_some());
        let (slope_in, out_of_silence) = match came_in {
            Some(from) => (m.saturating_sub(from), Some((from, self.silence))),
            None => (slope_in, out_of_silence),
        };
        let after_slip = came_in.is_some();
        let (head, tail) = (pitch, pitch);
        self.stretch =
            Some(Stretch { start: m, end: m, slope_in, out_of_silence, after_slip, head, tail, begun: false });
    }

    fn level(&mut self, m: u64, line: &mut Line, act: &mut dyn FnMut(Act, &Line)) {
        if self.stretch.is_none() {
            self.begin(m, 0, Some((m, self.silence)), line);
        }
        let Some(stretch) = self.stretch.as_mut() else { return };
        stretch.end = m;
        let length = (m + 1).saturating_sub(stretch.start);
        stretch.tail = line.mean(stretch.start.max((m + 1).saturating_sub(END_FRAMES)), m);
        if length <= END_FRAMES {
            stretch.head = stretch.tail;
        }
        if length >= SURELY_LEVEL && !stretch.begun {
            stretch.begun = true;
            let stretch = *stretch;
            self.level_begins(stretch, line, act);
        }
        if let (true, Some(open)) = (self.stretch.is_some_and(|s| s.begun), self.open.as_mut()) {
            open.end = m;
        }
    }

    /// A slope from frame `start` up to before `m` is over.
    fn slope_done(&mut self, start: u64, m: u64, line: &mut Line, act: &mut dyn FnMut(Act, &Line)) {
        let way = line.clean(m.saturating_sub(1)) - line.clean(start);
        let length = m.saturating_sub(start);
        match self.stretch.as_mut() {
            Some(stretch) if way.abs() < NOWHERE_CENTS => stretch.end = m.saturating_sub(1),
            Some(_) => {
                self.ended(Some(length), line, act);
                if self.came_in.is_none() {
                    if length >= SLIDE {
                        self.slide = Some((start, m.saturating_sub(1)));
                    }
                    self.begin(m.min(line.next().saturating_sub(1)), length, None, line);
                }
                if line.motion(m) == Motion::Silent {
                    self.stretch = None;
                }
            }
            None => {
                let from = self.came_in.unwrap_or(start);
                let settled = line.unbroken(from, m);
                let goes_on = matches!(line.motion(m), Motion::Up | Motion::Down);
                if goes_on && settled > from {
                    // A slip and then the way into the note.
                    line.forget(from, settled.saturating_sub(1));
                    self.came_in = Some(settled);
                } else if line.motion(m) != Motion::Silent {
                    self.begin(m, length, Some((start, self.silence)), line);
                }
            }
        }
    }

    /// The stretch is over: by a slope of `slope_out` frames, or by silence (`None`).
    fn ended(&mut self, slope_out: Option<u64>, line: &mut Line, act: &mut dyn FnMut(Act, &Line)) {
        let Some(stretch) = self.stretch.take() else { return };
        let length = (stretch.end + 1).saturating_sub(stretch.start);
        if length < SLIP && !stretch.begun && slipped(&stretch, slope_out, line) {
            let from = stretch.start.saturating_sub(stretch.slope_in);
            let to = stretch.end + slope_out.unwrap_or(0);
            if stretch.out_of_silence.is_some() && slope_out.is_some() {
                // What comes after the leap is how the voice came in.
                let came_in = line.unbroken(stretch.end, to);
                line.forget(from, came_in.saturating_sub(1));
                self.came_in = Some(came_in);
            } else {
                line.forget(from, to);
                self.slipped = true;
            }
            return;
        }
        self.before = None;
        let slopes = match (stretch.slope_in, slope_out) {
            (0, None) => 0.0,
            (one, None) => one as f64,
            (0, Some(other)) => other as f64,
            (one, Some(other)) => 0.5 * (one + other) as f64,
        };
        let level = stretch.begun || (length >= SHORTEST && length as f64 >= LEVEL_BY_SLOPES * slopes);
        if level {
            if !stretch.begun {
                self.level_begins(stretch, line, act);
            }
            if let Some(open) = self.open.as_mut() {
                open.end = stretch.end;
                open.tail = stretch.tail;
                self.before = Some(Stretch { begun: true, ..stretch });
            }
        } else {
            let turn = Turn { start: stretch.start, end: stretch.end, level: stretch.tail };
            self.turn(turn, line, act);
        }
    }

    fn turn(&mut self, turn: Turn, line: &mut Line, act: &mut dyn FnMut(Act, &Line)) {
        if !self.swing.fits(turn) {
            self.swing_over(line);
        }
        if let Some(open) = self.open {
            self.dents = self.dents.max((turn.level - open.tail).abs());
        }
        self.slide = None;
        self.swing.add(turn, line);
        if self.swing.turns() == SWING_TURNS {
            self.take_swing(line, act);
        }
        if self.swing_taken
            && let Some(open) = self.open.as_mut()
        {
            open.end = turn.end;
        }
    }

    /// The run of turns is long enough to be a note, or part of the one that is open.
    fn take_swing(&mut self, line: &mut Line, act: &mut dyn FnMut(Act, &Line)) {
        let Some(centre) = self.swing.centre() else { return };
        self.swing_taken = true;
        if let Some(open) = self.open {
            let short = open.end.saturating_sub(open.start) < SWING_REST;
            let joins = if self.swing.steady() {
                (open.tail - centre).abs() < SAME_CENTS
            } else {
                short && widened(self.swing.range(), 30.0).contains(&open.tail)
            };
            if joins {
                return;
            }
            self.close(line, act);
        }
        let start = self.swing.start();
        self.open_at(start, start, None, line, act);
    }

    /// A swing ends: what it was enters the open note.
    fn swing_over(&mut self, line: &Line) {
        let _ = line;
        if self.swing_taken
            && let Some(open) = self.open.as_mut()
        {
            let frames = self.swing.end().saturating_sub(self.swing.start()) + 1;
            if self.swing.steady() {
                open.vibrato += frames;
            } else {
                open.swung += frames;
            }
            open.tail = self.swing.centre().unwrap_or(open.tail);
            if frames > open.swung.max(open.vibrato) / 2 {
                open.rate_hz = self.swing.rate_hz();
            }
        }
        self.swing = Swing::default();
        self.swing_taken = false;
        self.dents = 0.0;
    }

    /// A level stretch is there: the open note goes on, or another begins.
    fn level_begins(&mut self, stretch: Stretch, line: &mut Line, act: &mut dyn FnMut(Act, &Line)) {
        let swing = self.swing;
        let taken = self.swing_taken;
        let dents = self.dents;
        self.swing_over(line);
        let slide = self.slide.take();
        if let Some(open) = self.open {
            let same = if taken && !swing.steady() {
                !stretch.begun
                    && stretch.end.saturating_sub(stretch.start) < SWING_REST
                    && widened(swing.range(), 30.0).contains(&stretch.head)
            } else {
                (stretch.head - open.tail).abs() < SAME_CENTS && dents <= DENT_CENTS
            };
            if same || (taken && swing.steady() && (stretch.head - open.tail).abs() < SAME_CENTS) {
                return;
            }
            self.close(line, act);
        }
        if let Some((start, end)) = slide {
            act(Act::Slide { start, end }, line);
        }
        let (start, scoop) = match stretch.out_of_silence {
            Some((from, silence)) if silence >= SCOOP_AFTER => (from, scoop(from, &stretch, line)),
            _ => (stretch.start, None),
        };
        self.open_at(start, stretch.start, scoop, line, act);
        if let Some(open) = self.open.as_mut() {
            open.tail = stretch.tail;
            open.end = stretch.end;
        }
    }

    fn open_at(
        &mut self,
        start: u64,
        level_from: u64,
        scoop: Option<Scoop>,
        line: &mut Line,
        act: &mut dyn FnMut(Act, &Line),
    ) {
        self.open = Some(Open { start, end: start, tail: f64::NAN, swung: 0, vibrato: 0, rate_hz: None });
        act(Act::Open { start, level_from, scoop }, line);
    }

    fn close(&mut self, line: &mut Line, act: &mut dyn FnMut(Act, &Line)) {
        let Some(open) = self.open.take() else { return };
        let length = open.end.saturating_sub(open.start) + 1;
        let kind = if 3 * open.swung > length { Kind::Oscillating } else { Kind::Held };
        act(Act::Close { end: open.end, kind, rate_hz: open.rate_hz }, line);
    }

    /// A silence longer than the bridge: everything ends.
    fn silence_begins(&mut self, line: &mut Line, act: &mut dyn FnMut(Act, &Line)) {
        self.ended(None, line, act);
        self.swing_over(line);
        self.close(line, act);
        (self.slide, self.before) = (None, None);
    }
}

fn widened(range: std::ops::RangeInclusive<f64>, by: f64) -> std::ops::RangeInclusive<f64> {
    range.start() - by..=range.end() + by
}

/// The scoop from frame `from` into a level stretch. What the tracker read before it leapt (a creaky beginning, an octave off)
/// is no part of it, and a way of [`NO_SCOOP_CENTS`] is none.
fn scoop(from: u64, stretch: &Stretch, line: &Line) -> Option<Scoop> {
    let from = line.unbroken(from, stretch.start);
    let cents = line.clean(from);
    (from < stretch.start && (cents - stretch.head).abs() < NO_SCOOP_CENTS).then_some(Scoop { from, cents })
}

/// Whether a short stretch lies between two leaps, or between a leap and silence: nothing a voice can do.
fn slipped(stretch: &Stretch, slope_out: Option<u64>, line: &Line) -> bool {
    let leapt_in =
        stretch.slope_in > 0 && line.leaps(stretch.start.saturating_sub(stretch.slope_in + 1), stretch.start);
    let leapt_out = slope_out.is_some_and(|slope| line.leaps(stretch.end, stretch.end + slope));
    let from_silence = stretch.out_of_silence.is_some() && !stretch.after_slip;
    (leapt_in && (leapt_out || slope_out.is_none())) || (leapt_out && from_silence)
}
