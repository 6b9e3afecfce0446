//! The line and the list of notes as the window shows them, brought up to date from frame to frame.
//!
//! In: the history. Out: the parts of the view that come from it. Only what is new is added; everything is made anew when the
//! frozen picture is scrolled, or when Sa or the scale changed. Cost: a few points a frame.

use crate::editor::checking::AROUND_S;
use crate::editor::view::{Face, LinePoint, Mark, NoteRow, Replay, ShownNote, View};
use crate::note::{Against, Band, Current, Kind, Note, beat};
use crate::shell::bridge::{self, History};
use crate::shell::state::PageKey;
use crate::swara::Targets;
use crate::units::{Cents, Hertz, SampleRate, SampleTime, num};

/// Seconds of line that the singing face needs, and that the others show at most.
const SINGING_S: f64 = 12.0;
const LONGEST_S: f64 = 60.0;
/// Seconds on either side of a marked moment that are laid beside now: half of the longest span.
const REPLAY_S: f64 = 30.0;
/// How long the notes of a teacher keep what they looked like, seconds: as long as a frozen picture is scrolled back in a lesson.
const PENDING_S: f64 = 600.0;
/// Within so many seconds two beginnings are one note's: the line and the note come from the audio thread by two ways.
const SAME_NOTE_S: f64 = 0.1;
/// Points that may be too old before they are dropped together.
const OLD_POINTS: usize = 1_000;

/// What the line depends on besides the history.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Basis {
    targets: Targets,
    voice_sa: Hertz,
    sa: Hertz,
    span_s: f64,
    /// Right edge of a frozen picture.
    until: Option<f64>,
}

/// What the user looks at besides now.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct LookedAt {
    /// Right edge of the frozen picture, seconds.
    pub(super) until_s: Option<f64>,
    /// The marked moment that lies beside now.
    pub(super) replay: Option<u64>,
    /// The note of the list whose line is shown.
    pub(super) note: Option<usize>,
}

/// Remembers what was shown last.
#[derive(Debug, Clone, Default)]
pub(super) struct Lines {
    basis: Option<Basis>,
    /// Points and notes of the history that were taken in.
    taken: (u64, u64),
    /// Notes that the list has, the Sa in force when it was made, and when the page was cleared.
    listed: (u64, Option<Hertz>, Option<SampleTime>),
    /// The scale and the tuning that were in force then.
    page: (String, String),
    /// The pupil in force then.
    pupil: u32,
    /// The band by which the list was judged.
    band: Option<Band>,
    replayed: Option<(u64, u64)>,
    /// Notes that sound, or sounded and are not final yet, and those of a teacher, which never become final.
    pending: Vec<Pending>,
}

/// A note as it looked while it sounded.
#[derive(Debug, Clone, Copy)]
struct Pending {
    /// From when to when, seconds.
    start: f64,
    end: f64,
    kind: Option<Kind>,
    /// It becomes final: it was the pupil's turn.
    counts: bool,
}

impl Lines {
    /// Brings line, notes, marks, replay and the chosen note's line up to date. `voice_sa`: what the line is measured from.
    pub(super) fn fill(&mut self, history: &History, looked_at: LookedAt, voice_sa: Hertz, view: &mut View) {
        let Some(rate) = history.rate else { return };
        let now = history.now().seconds(rate);
        view.now_s = now;
        view.kept_s = now - history.line.front().map_or(now, |p| p.time.seconds(rate));
        view.shown_until_s = if view.frozen { looked_at.until_s.unwrap_or(now) } else { now };
        let span_s = if view.face == Face::Singing { SINGING_S } else { LONGEST_S };
        let until = view.frozen.then_some(view.shown_until_s);
        let basis = Basis { targets: view.targets, voice_sa, sa: view.sa, span_s, until };
        let draw = Draw { rate, basis };
        self.remember(history, rate, view);
        // What becomes final while the picture stands still may belong to it.
        let settled = until.is_some() && self.taken.1 != history.taken.1;
        if self.basis != Some(basis) || self.taken.0 > history.taken.0 || settled {
            let until = view.shown_until_s;
            view.line = draw.stretch(history, (until - span_s, until));
            self.look_like(&draw, &mut view.line);
            self.basis = Some(basis);
        } else if until.is_none() {
            self.extend(history, &draw, view);
        }
        self.taken = history.taken;
        if until.is_none() {
            sounding(view);
        }
        self.list(history, rate, view);
        self.marks(history, looked_at.replay, &draw, view);
        chosen(history, looked_at.note, &draw, view);
    }

    /// Remembers what the notes look like that are not final yet: a line that is made anew shows them as they were shown.
    fn remember(&mut self, history: &History, rate: SampleRate, view: &View) {
        let settled = history.notes.back().map_or(f64::NEG_INFINITY, |note| note.end.seconds(rate));
        let oldest = view.now_s - PENDING_S;
        self.pending.retain(|note| {
            let waits = if note.counts { note.start >= settled } else { note.end >= oldest };
            waits && note.start <= view.now_s
        });
        let Some(Current { seconds, kind, .. }) = view.current else { return };
        let (start, counts) = (view.now_s - seconds, view.listening);
        // What never becomes final is kept note by note, since nothing parts it later on.
        let same = |last: &Pending| start <= if counts { last.end } else { last.start + SAME_NOTE_S };
        match self.pending.last_mut() {
            Some(last) if last.counts == counts && same(last) => {
                (last.end, last.kind) = (view.now_s, kind.or(last.kind))
            }
            _ if start >= settled => self.pending.push(Pending { start, end: view.now_s, kind, counts }),
            _ => {}
        }
    }

    /// Gives a line that was made from final notes what the others look like so far.
    fn look_like(&self, draw: &Draw, line: &mut [LinePoint]) {
        for note in &self.pending {
            let first = line.partition_point(|p| p.time_s < note.start);
            let within = line.iter_mut().skip(first).take_while(|p| p.time_s <= note.end);
            for point in within.filter(|p| judged(p) && p.kind.is_none()) {
                point.kind = note.kind;
                point.beats_hz = draw.beats(point);
            }
        }
    }

    /// Adds the points that are new, and what new notes say of older ones.
    fn extend(&self, history: &History, draw: &Draw, view: &mut View) {
        let new = usize::try_from(history.taken.0 - self.taken.0).unwrap_or(usize::MAX).min(history.line.len());
        view.line.extend(history.line.range(history.line.len() - new..).map(|p| draw.point(p, None)));
        let notes = usize::try_from(history.taken.1 - self.taken.1).unwrap_or(usize::MAX).min(history.notes.len());
        // What looked like a note before is settled by what became final.
        let mut settled = view.notes.last().map_or(f64::NEG_INFINITY, |row| row.end_s);
        for note in history.notes.range(history.notes.len() - notes..) {
            let within = note.start.seconds(draw.rate)..=note.end.seconds(draw.rate);
            let first = view.line.partition_point(|p| p.time_s <= settled);
            for point in view.line.iter_mut().skip(first) {
                let inside = judged(point) && within.contains(&point.time_s);
                point.kind = Some(note.kind).filter(|_| inside);
                point.beats_hz = draw.beats(point);
            }
            settled = *within.end();
        }
        if notes > 0 {
            self.look_like(draw, &mut view.line);
        }
        let old = view.line.partition_point(|p| p.time_s < view.now_s - draw.basis.span_s);
        if old > OLD_POINTS {
            view.line.drain(..old);
        }
    }

    /// The list of notes.
    fn list(&mut self, history: &History, rate: SampleRate, view: &mut View) {
        let now = (history.taken.1, Some(view.sa), history.cleared);
        let band = view.band;
        let another = self.band.replace(band) != Some(band);
        if another {
            view.notes.iter_mut().for_each(|row| row.outside = row.note.outside(band));
        }
        if self.listed == now && self.page == view.page && self.pupil == view.pupil && !another {
            return;
        }
        self.pupil = view.pupil;
        self.page.clone_from(&view.page);
        let new = usize::try_from(history.taken.1 - self.listed.0).unwrap_or(usize::MAX).min(history.notes.len());
        let from = history.notes.len() - new;
        let notes =
            history.notes.range(from..).zip(history.measured_from.range(from..)).zip(history.pages.range(from..));
        view.notes.extend(notes.map(|((note, sa), page)| row(history, note, (*sa, page.as_deref()), (rate, band))));
        let dropped = view.notes.len().saturating_sub(history.notes.len());
        view.notes.drain(..dropped);
        let cleared = history.cleared.map_or(f64::NEG_INFINITY, |time| time.seconds(rate));
        view.again = again(&view.notes, &view.targets, (view.sa, &view.page, view.pupil), cleared);
        self.listed = now;
    }

    /// The marks, and the marked moment that lies beside now.
    fn marks(&mut self, history: &History, replay: Option<u64>, draw: &Draw, view: &mut View) {
        if !view.marks.iter().map(|m| &m.word).eq(history.marks.iter().map(|m| &m.word)) {
            let of = |(id, mark): (u64, &bridge::Mark)| Mark {
                id,
                time_s: mark.time.seconds(draw.rate),
                word: mark.word.clone(),
            };
            view.marks = (0..).zip(&history.marks).map(of).collect();
        }
        let marked = replay.and_then(|id| view.marks.iter().find(|m| m.id == id));
        let Some(mark) = marked else {
            (view.replay, self.replayed) = (None, None);
            return;
        };
        // The line after a fresh mark is still being sung.
        let grows = mark.time_s + REPLAY_S > view.now_s;
        let key = (mark.id, if grows { history.taken.0 } else { 0 });
        if self.replayed != Some(key) {
            let line = draw.stretch(history, (mark.time_s - REPLAY_S, mark.time_s + REPLAY_S));
            view.replay = Some(Replay { time_s: mark.time_s, word: mark.word.clone(), line });
            self.replayed = Some(key);
        }
    }
}

/// The line of the note that the user looks at.
fn chosen(history: &History, which: Option<usize>, draw: &Draw, view: &mut View) {
    let Some((index, row)) = which.and_then(|i| view.notes.get(i).map(|row| (i, row))) else {
        view.shown_note = None;
        return;
    };
    if view.shown_note.as_ref().is_none_or(|shown| shown.index != index) {
        let line = draw.stretch(history, (row.start_s - AROUND_S, row.end_s + AROUND_S));
        view.shown_note = Some(ShownNote { index, line });
    }
}

/// The note that sounds is drawn as what it looks like so far.
fn sounding(view: &mut View) {
    let Some(Current { seconds, kind, .. }) = view.current else { return };
    let start = view.now_s - seconds;
    let first = view.line.partition_point(|p| p.time_s < start);
    let (sa, voice_sa) = (view.sa, view.voice_sa);
    for point in view.line.iter_mut().skip(first).filter(|p| judged(p) && p.kind != kind) {
        point.kind = kind;
        point.beats_hz = beats(point, sa, voice_sa);
    }
}

/// Whether a moment can belong to a note: one voice, and a pitch.
fn judged(point: &LinePoint) -> bool {
    point.cents.is_some() && !point.several
}

/// How points are drawn.
struct Draw {
    rate: SampleRate,
    basis: Basis,
}

impl Draw {
    /// The line between two instants, with what each moment belongs to.
    fn stretch(&self, history: &History, (from, until): (f64, f64)) -> Vec<LinePoint> {
        let at = |seconds: f64| SampleTime(num::int(seconds * self.rate.hz()));
        let (from, until) = (at(from), at(until));
        let first = history.line.partition_point(|p| p.time < from);
        let mut note = history.notes.partition_point(|n| n.end < from);
        let mut points = Vec::new();
        for point in history.line.range(first..).take_while(|p| p.time <= until) {
            while history.notes.get(note).is_some_and(|n| n.end < point.time) {
                note += 1;
            }
            let inside = history.notes.get(note).filter(|n| n.start <= point.time);
            points.push(self.point(point, inside.map(|n| n.kind)));
        }
        points
    }

    fn point(&self, point: &bridge::LinePoint, kind: Option<Kind>) -> LinePoint {
        let cents = (!point.cents.is_nan()).then_some(point.cents);
        let mut drawn = LinePoint {
            time_s: point.time.seconds(self.rate),
            cents,
            named: cents.and_then(|c| self.basis.targets.nearest(Cents(f64::from(c)))),
            kind: kind.filter(|_| cents.is_some() && !point.several),
            beats_hz: None,
            several: point.several,
        };
        drawn.beats_hz = self.beats(&drawn);
        drawn
    }

    fn beats(&self, point: &LinePoint) -> Option<f32> {
        beats(point, self.basis.sa, self.basis.voice_sa)
    }
}

/// Beats a second of a held moment against the drone's lowest tone that it beats with.
fn beats(point: &LinePoint, sa: Hertz, voice_sa: Hertz) -> Option<f32> {
    let cents = point.cents.filter(|_| point.kind == Some(Kind::Held))?;
    strongest(voice_sa.up(Cents(f64::from(cents))), sa, 1.0).map(num::single)
}

/// The beat rate of a voice against the first of Sa, Pa and the upper Sa with which low partials nearly coincide.
pub(super) fn strongest(voice: Hertz, sa: Hertz, seconds: f64) -> Option<f64> {
    Against::ALL.into_iter().find_map(|against| beat(voice, sa, against, seconds)).map(|beat| beat.rate_hz)
}

fn row(
    history: &History,
    note: &Note,
    (sa, page): (Hertz, Option<&PageKey>),
    (rate, band): (SampleRate, Band),
) -> NoteRow {
    NoteRow {
        note: *note,
        start_s: note.start.seconds(rate),
        end_s: note.end.seconds(rate),
        bar_beat: history.bar_beat(note.start),
        outside: note.outside(band),
        sa,
        page: page.map(|page| (page.scale.clone(), page.tuning.clone())),
        pupil: page.map_or(0, |page| page.pupil),
    }
}

/// The held notes of the last pass, from Sa, scale, tuning and pupil in force and since the page was cleared, most worth singing again.
/// What lies far from every swara is another swara, not one to be sung better.
pub(super) fn again(
    rows: &[NoteRow],
    targets: &Targets,
    (sa, page, pupil): (Hertz, &(String, String), u32),
    cleared_s: f64,
) -> Vec<usize> {
    let pass = rows.last().map_or(0, |row| row.note.pass);
    let own = |row: &NoteRow| row.page.as_ref().is_none_or(|of| of == page && row.pupil == pupil);
    let here = |row: &NoteRow| !row.under_another(sa) && own(row);
    let counts =
        |row: &NoteRow| row.note.pass == pass && row.end_s > cleared_s && here(row) && !targets.lack(row.note.cents);
    let outside = rows.iter().enumerate().filter(|(_, row)| row.outside && counts(row));
    crate::note::again(outside.map(|(i, row)| (i, &row.note)))
}
