//! A note heard as it was sung: its own line as a tone, against the drone.
//!
//! In: the note of the list and the line that the history keeps of it. Out: from frame to frame, the pitch that is due
//! ([`Command::Play`]); the player follows small steps without a new onset. Where the drone is off, it sounds for as long as that
//! takes ([`Command::Lend`]: its parameter is the host's, and stays as it is), and comes in first. Where the line is no longer kept,
//! the tone stands at the note's median. What is not heard whole is said.
//! While no block is processed or bypass is on, nothing is asked for: what waited there would sound with the first block, long after.

use super::act::Doer;
use super::{Links, Session};
use crate::drone::FADE_IN_S;
use crate::editor::troubles;
use crate::editor::view::{NoteRow, View};
use crate::note::Kind;
use crate::shell::bridge::{Command, History};
use crate::swara::Swara;
use crate::units::{Cents, SampleTime, num};

/// Longest that a note is played as it was sung, seconds: longer than a breath lasts (our choice); and a pitch that stands still.
const PLAYED_S: f64 = 30.0;
const STANDS_S: f64 = 4.0;
/// How long each pitch sounds if no frame follows, seconds: longer than any frame takes, and soon over with a window that is closed.
const LEFT_S: f64 = 0.25;
/// What is left out at either end of a note, seconds: the voice comes and goes there.
const ENDS_S: f64 = 0.02;

/// A note that sounds.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Replaying {
    /// Which of the list; `None` for the swara that it was to be.
    pub(super) index: Option<usize>,
    /// Seconds since its beginning and cents above Sa.
    line: Vec<(f64, f64)>,
    /// From when to when, window's clock, seconds.
    from_s: f64,
    until_s: f64,
    /// The drone is off, and sounds for it.
    pub(super) lends: bool,
    /// When it was last asked to, window's clock, seconds.
    lent_s: f64,
}

impl Replaying {
    /// `line` from `from_s` on.
    pub(super) fn new(index: Option<usize>, line: Vec<(f64, f64)>, (from_s, seconds): (f64, f64), lends: bool) -> Self {
        Self { index, line, from_s, until_s: from_s + seconds, lends, lent_s: f64::NEG_INFINITY }
    }

    /// Whether the drone is to be asked for again: not with every frame, or the queue would be full of it before it is seen that no
    /// block is processed.
    fn lend(&mut self, time_s: f64) -> bool {
        let due = self.lends && time_s >= self.lent_s + 0.5 * LEFT_S;
        if due {
            self.lent_s = time_s;
        }
        due
    }

    /// What is to be asked for at an instant; `None` when it is over.
    pub(super) fn at(&self, time_s: f64) -> Option<Option<Command>> {
        if time_s > self.until_s {
            return None;
        }
        let since = time_s - self.from_s;
        if since < 0.0 {
            return Some(None);
        }
        let next = self.line.partition_point(|(at, _)| *at < since);
        let cents = match (self.line.get(next.saturating_sub(1)), self.line.get(next)) {
            (Some(a), Some(b)) if b.0 > a.0 => a.1 + (b.1 - a.1) * ((since - a.0) / (b.0 - a.0)).clamp(0.0, 1.0),
            (a, b) => a.or(b)?.1,
        };
        let left = self.until_s - time_s;
        let left = if self.line.len() > 1 { left.min(LEFT_S) } else { left };
        Some(Some(Command::Play(Cents(cents), num::single(left))))
    }
}

/// The line of a note as it is kept: seconds since its beginning and cents above Sa, at most for as long as one is played; empty
/// where it is kept no longer.
pub(super) fn line(history: &History, row: &NoteRow) -> Vec<(f64, f64)> {
    let Some(rate) = history.rate else { return Vec::new() };
    let at = |seconds: f64| SampleTime(num::int(seconds * rate.hz()));
    let (from, until) = (row.start_s + ENDS_S, row.end_s.min(row.start_s + PLAYED_S) - ENDS_S);
    let first = history.line.partition_point(|p| p.time < at(from));
    let within = history.line.range(first..).take_while(|p| p.time <= at(until));
    let sung = within.filter(|p| !p.cents.is_nan() && !p.several);
    sung.map(|p| (p.time.seconds(rate) - row.start_s, f64::from(p.cents))).collect()
}

/// What is heard of a note that is not heard whole, in words.
fn told(row: &NoteRow, kept: bool) -> Option<String> {
    let whole = row.end_s - row.start_s;
    if !kept {
        Some("The line of this note is kept no longer: a tone at its median is heard.".to_owned())
    } else if whole > PLAYED_S {
        Some(format!("The note lasts {whole:.0} s: its first {PLAYED_S:.0} s are heard."))
    } else {
        None
    }
}

/// Why nothing that is asked for now would be heard, in words.
pub(super) fn deaf(links: &Links, view: &View) -> Option<String> {
    if view.trouble.host_silent {
        let source = troubles::source(view);
        return Some(format!("The {source} is not sending audio: start it, then try again."));
    }
    let bypassed =
        || links.params.bypass.value().then(|| "Bypass is on, so nothing sounds: switch it off first.".into());
    troubles::unheard(view).or_else(bypassed)
}

/// What sounded when the sound ended ends with it, so that it is not heard again with the first block.
pub(super) fn lapse(links: &Links, session: &mut Session, view: &View) {
    if session.reference.is_none() && session.replaying.is_none() {
        return;
    }
    if let Some(why) = deaf(links, view) {
        reference(links, session, view, None);
        end(links, session);
        session.say(&why);
    }
}

/// Goes on with the note that sounds, and with the drone where it is lent.
pub(super) fn go_on(links: &Links, session: &mut Session, time_s: f64) {
    let Some(replaying) = &mut session.replaying else { return };
    match replaying.at(time_s) {
        Some(command) => {
            // What finds no room is asked for again.
            let _ = replaying.lend(time_s) && links.bridge.ask(Command::Lend(num::single(LEFT_S)));
            let _ = command.is_none_or(|command| links.bridge.ask(command));
        }
        None => end(links, session),
    }
}

/// Ends the note that sounds.
pub(super) fn end(links: &Links, session: &mut Session) {
    let Some(replaying) = session.replaying.take() else { return };
    let _ = links.bridge.ask(Command::Play(Cents(0.0), 0.0));
    if replaying.lends {
        // What finds no room here ends by itself.
        let _ = links.bridge.ask(Command::Lend(0.0));
    }
}

/// Begins to sound a note of the list as it was sung, or the swara that it was to be; whether that was taken. `time_s` is the window's
/// clock.
pub(super) fn begin(
    (links, session): (&Links, &mut Session),
    view: &View,
    (index, target): (usize, bool),
    time_s: f64,
) -> bool {
    let Some(row) = view.notes.get(index) else { return false };
    let note = &row.note;
    let mut line = if target { Vec::new() } else { links.bridge.history(|history| line(history, row)) };
    let kept = !line.is_empty();
    if !kept {
        // What was to be lies the offset away from what was sung.
        line.push((0.0, note.cents.0 - if target { note.offset.0 } else { 0.0 }));
    }
    let seconds = (row.end_s - row.start_s).clamp(1.0, if kept { PLAYED_S } else { STANDS_S });
    let lends = !view.drone.on;
    // The drone is there before the tone; from one note to the next it goes on.
    let from_s = time_s + if lends && !view.drone.lent { FADE_IN_S } else { 0.0 };
    if !links.bridge.ask(Command::Play(Cents(0.0), 0.0)) {
        return false;
    }
    if view.drone_waits() {
        links.bridge.ask(Command::Sound);
    }
    if let Some(told) = told(row, kept).filter(|_| !target) {
        session.say(&told);
    }
    session.replaying = Some(Replaying::new((!target).then_some(index), line, (from_s, seconds), lends));
    true
}

/// Sounds a swara until it is asked to end, in the register that was sung last; whether that was taken.
pub(super) fn reference(links: &Links, session: &mut Session, view: &View, swara: Option<Swara>) -> bool {
    if session.reference.is_none() && swara.is_none() {
        return true;
    }
    let sung = view.current.map(|c| c.now).or(view.reading).map(|named| named.sthayi);
    let held = view.notes.iter().rev().find(|row| row.note.kind == Kind::Held);
    let sthayi = sung.or_else(|| held.map(|row| row.note.sthayi)).unwrap_or_default();
    if !links.bridge.ask(Command::Reference(swara.map(|swara| (swara, sthayi)))) {
        return false;
    }
    session.reference = swara;
    if swara.is_none() {
        // An exercise that runs has its own tone again.
        links.bridge.history(|history| history.practice.tell_again());
    }
    true
}

impl Doer<'_> {
    /// Sounds a note of the list as it was sung, or the swara that it was to be.
    pub(super) fn play(&mut self, index: usize, target: bool) {
        if let Some(why) = deaf(self.links, self.view) {
            return self.say(&why);
        }
        self.reference(None);
        if !begin((self.links, self.session), self.view, (index, target), self.time_s) {
            self.say_silent();
        }
    }

    /// That is enough.
    pub(super) fn hush(&mut self) {
        end(self.links, self.session);
    }

    /// Sounds a swara until it is asked to end.
    pub(super) fn reference(&mut self, swara: Option<Swara>) {
        if swara.is_some() {
            if let Some(why) = deaf(self.links, self.view) {
                return self.say(&why);
            }
            self.hush();
        }
        if !reference(self.links, self.session, self.view, swara) {
            self.say_silent();
        }
    }
}
