//! The singing face: where the voice is now, to be read from two metres, and how the swaras fared.
//!
//! In: parts of [`View`] and the readout that changes at most five times a second. Out: drawing. The letter takes a
//! fifth of the window's height or more; beside it the signed cents and the way to go in word and shape; the stroke
//! of the held note; below it the last seconds as two threads; at the side, or below in a small window, the meter.

use super::action::Action;
use super::exercise;
use super::hint::hint;
use super::letters;
use super::look::{Look, STAGE_PAD, write, write_wrapped};
use super::meter::{Meter, meter};
use super::stroke;
use super::thread::{Levels, threads};
use super::troubles;
use super::view::{ExerciseView, QUIET_ROOM, View};
use super::words;
use crate::note::Advice;
use crate::note::Kind;
use crate::swara::Named;
use crate::units::Cents;
use egui::accesskit::Role;
use egui::{Align2, Painter, Pos2, Rect, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

/// Digits stand at least this long, seconds: five changes a second.
pub const DIGITS_S: f64 = 0.2;
/// What the captions below the stroke take of their height at most: a line is higher than its letters.
const FOOT_SHARE: f32 = 0.8;
/// What the time of a frozen strip takes of its height at most.
const STANDS_SHARE: f32 = 0.4;
/// The words that say which side a note on its swara leans to, and why a note is not judged, of the size of the cents.
const LEAN: f32 = 0.42;
const UNJUDGED: f32 = 0.5;
/// The strip of the last seconds on this face, seconds.
const STRIP_S: f64 = 12.0;

/// The meter stands at the side where it gets such a width there, units, and the stage so many points, and both such a height, units.
const LEAST_SIDE: f32 = 330.0;
const LEAST_STAGE: f32 = 300.0;
const LEAST_HEIGHT: f32 = 200.0;
/// The least height of the last seconds and of a meter below the stage, units.
const LEAST_STRIP: f32 = 24.0;
const LEAST_METER: f32 = 40.0;

/// What the digits say; taken anew five times a second.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Readout {
    taken_s: Option<f64>,
    /// The swara named, and the offset.
    pub named: Option<Named>,
    /// Seconds held; `None` between notes.
    pub held_s: Option<f64>,
    /// Whether the note swings or glides (then nothing is judged).
    pub moving: bool,
    /// Beats per second.
    pub beats_hz: Option<f64>,
    /// More than one voice sounds: nothing is judged.
    pub several: bool,
}

impl Readout {
    /// Takes new digits when the old ones have stood long enough; `time_s` is the window's clock.
    pub fn take(&mut self, view: &View, time_s: f64) {
        if self.taken_s.is_some_and(|t| (0.0..DIGITS_S).contains(&(time_s - t))) {
            return;
        }
        let current = view.current.as_ref().filter(|_| view.reading.is_some());
        *self = Self {
            taken_s: Some(time_s),
            named: current.map(|c| c.now).or(view.reading),
            held_s: current.map(|c| c.seconds),
            moving: current.is_some_and(|c| matches!(c.kind, Some(Kind::Oscillating | Kind::Gliding))),
            // There is nothing to beat against where no drone sounds.
            beats_hz: view.beats_hz.filter(|_| view.drone_sounds()),
            // Frozen, it is what was sung then.
            several: if view.frozen { view.line.last().is_some_and(|p| p.several) } else { view.trouble.several },
        };
    }
}

/// Where the stage, the strip and the meter stand.
#[must_use]
pub fn places(area: Rect, look: &Look) -> (Rect, Rect, Rect) {
    // The meter's rows keep their figures at any text size: only where both have no room side by side it goes below. What is read from
    // afar is no smaller for larger text: the stage keeps the width that it has at 100 %.
    let side = (area.width() * 0.44).max(look.p(LEAST_SIDE));
    let wide = area.width() - side >= LEAST_STAGE && area.height() >= look.p(LEAST_HEIGHT);
    let gap = look.p(14.0);
    // The letter comes first, and larger text takes nothing from it: what lies below has what that leaves, and is left out where it
    // would be too low.
    // Where text has grown by more than the window, so has what lies below: less of it is left, and none of it is squeezed.
    let each = if look.kept > 0.0 { look.unit } else { look.plain };
    let below = |share: f32, least: f32| {
        let stage = (area.height() * share).max(look.stage).max(look.kept).min(area.height());
        area.top() + if area.height() - stage < each * least { area.height() } else { stage }
    };
    let (stage, strip, side) = if wide {
        let (left, side) = area.split_left_right_at_x(area.right() - side);
        let (stage, strip) = left.split_top_bottom_at_y(below(0.66, LEAST_STRIP));
        (stage, strip, side.shrink2(vec2(gap, 0.0)))
    } else {
        let (stage, rest) = area.split_top_bottom_at_y(below(0.58, LEAST_METER));
        // The meter tells more than the last seconds do.
        let strip = if rest.height() < each * (LEAST_STRIP + LEAST_METER) { 0.0 } else { rest.height() * 0.48 };
        let (strip, side) = rest.split_top_bottom_at_y(rest.top() + strip);
        (stage, strip, side)
    };
    let within = vec2(0.0, look.p(STAGE_PAD));
    let side = if wide { side.shrink2(within) } else { side.shrink2(vec2(gap, within.y)) };
    (stage.shrink2(vec2(gap, within.y)), strip.shrink2(vec2(gap, within.y)), side)
}

/// Where the letter stands on the stage.
#[must_use]
pub fn letter_area(stage: Rect) -> Rect {
    let side = stage.height().min(stage.width() * 0.38);
    stage.split_left_right_at_x(stage.left() + side).0
}

/// The singing face.
pub fn singing(ui: &mut Ui, area: Rect, look: &Look, (view, readout): (&View, &Readout), actions: &mut Vec<Action>) {
    let (stage, strip, side) = places(area, look);
    now(ui, stage, look, view, readout);
    if strip.height() > 0.0 {
        last_seconds(ui, strip, look, view);
    }
    if side.height() > 0.0 {
        meter(ui, side, look, &Meter::of(view), actions);
    }
}

/// Where the voice is now.
pub fn now(ui: &mut Ui, area: Rect, look: &Look, view: &View, readout: &Readout) {
    let spoken = spoken(view, readout);
    let response = ui.interact(area, ui.scope_id().with("now"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &spoken));
    if let Some(named) = readout.named.as_ref().filter(|_| listening(view).is_none()) {
        hint(ui, look, (&response, area), &words::letter(named));
    }
    let painter = ui.painter().with_clip_rect(area.intersect(ui.clip_rect()));
    if let Some(text) = listening(view) {
        exercise::call(&painter, area, look, &text);
        return;
    }
    let letter = letter_area(area);
    let rest = Rect::from_min_max(pos2(letter.right() + look.p(14.0), area.top()), area.max);
    let Some(named) = readout.named else {
        quiet(&painter, area, look, view);
        return;
    };
    letters::swara(&painter, letter, named.swara, named.sthayi, look.ink);
    let (top, rest) = rest.split_top_bottom_at_y(rest.top() + rest.height() * 0.3);
    let (mid, foot) = rest.split_top_bottom_at_y(rest.bottom() - rest.height() * 0.2);
    let half = view.band.of(named.swara);
    figures(&painter, top, look, (named.offset, half), readout);
    stroke::target(&painter, mid, look, half.0);
    if let Some(current) = &view.current {
        // What the offset is measured from, octaves folded away included.
        let target = current.now_cents.0 - current.now.offset.0;
        stroke::stroke(&painter, mid, look, &view.line, (view.shown_until_s - current.seconds, target));
    }
    captions(&painter, foot, look, readout);
}

/// Signed cents, and the way to go in shape and word.
fn figures(painter: &Painter, area: Rect, look: &Look, (offset, half): (Cents, Cents), readout: &Readout) {
    let size = (area.height() * 0.78).min(area.width() * 0.2);
    let (left, right) = area.split_left_right_at_x(area.left() + area.width() * 0.5);
    let ink = (look.figures(size), look.ink);
    let digits = write(
        painter,
        (left.left_center(), Align2::LEFT_CENTER),
        &words::signed(offset),
        ink,
        left.width() - size * 0.8,
    );
    let cents_at = digits.right_bottom() + vec2(size * 0.12, -digits.height() * 0.2);
    let room = left.right() - cents_at.x;
    write(painter, (cents_at, Align2::LEFT_BOTTOM), "cents", (look.words(size * 0.3), look.quiet), room);
    if let Some(word) = unjudged(readout) {
        write_wrapped(painter, right, word, (look.words(size * UNJUDGED), look.ink));
        return;
    }
    let way = Advice::of(offset, half);
    let sign = Rect::from_center_size(
        pos2(right.left() + size * 0.65, right.center().y),
        vec2(size * 0.72, size * 0.72).min(right.size()),
    );
    way_sign(painter, sign, look, way);
    let at = pos2(sign.right() + size * 0.25, right.center().y);
    let room = right.right() - at.x;
    write(painter, (at, Align2::LEFT_CENTER), words::way(way), (look.words(size * 0.8), look.ink), room);
    if let Some(lean) = words::lean(offset, half) {
        // It has the width of the sign as well: beside that it would be too small for two metres.
        let below = pos2(right.right(), right.center().y + size * 0.6);
        let ink = (look.words(size * LEAN), look.ink);
        write(painter, (below, Align2::RIGHT_CENTER), lean, ink, right.width());
    }
}

/// Why there is no way to go: the note moves, or is not the singer's alone.
fn unjudged(readout: &Readout) -> Option<&'static str> {
    if readout.several {
        Some("more than one voice")
    } else if readout.moving {
        Some("moving")
    } else {
        None
    }
}

/// Up: a roof. Down: a bowl. Stay: a level bar.
fn way_sign(painter: &Painter, area: Rect, look: &Look, way: Advice) {
    let pen = Stroke::new((area.height() * 0.16).max(2.0), look.ink);
    let (l, c, r) = (area.left(), area.center(), area.right());
    let rise = area.height() * 0.28;
    let draw = |a: Pos2, b: Pos2| {
        painter.line_segment([a, b], pen);
        for p in [a, b] {
            painter.circle_filled(p, pen.width / 2.0, pen.color);
        }
    };
    match way {
        Advice::Stay => draw(pos2(l, c.y), pos2(r, c.y)),
        Advice::Up | Advice::Down => {
            let lift = if way == Advice::Up { -rise } else { rise };
            let tip = c + vec2(0.0, lift);
            draw(pos2(l, c.y - lift), tip);
            draw(tip, pos2(r, c.y - lift));
        }
    }
}

/// How long it has been held, and the beats.
fn captions(painter: &Painter, area: Rect, look: &Look, readout: &Readout) {
    let size = (area.height() * 0.72).min(area.width() * 0.07).max(look.u(11.0)).min(area.height() * FOOT_SHARE);
    let ink = (look.figures(size), look.ink);
    if let Some(held) = readout.held_s {
        let text = format!("held {held:.1} s");
        write(painter, (area.left_center(), Align2::LEFT_CENTER), &text, ink.clone(), area.width() * 0.46);
    }
    if let Some(beats) = readout.beats_hz {
        let text = format!("{beats:.1} beats/s");
        write(painter, (area.right_center(), Align2::RIGHT_CENTER), &text, ink, area.width() * 0.48);
    }
}

/// Nothing sounds: the target's thread alone, and what is being waited for.
fn quiet(painter: &Painter, area: Rect, look: &Look, view: &View) {
    if let Some(running) = asked(view) {
        exercise::stage(painter, area, look, running);
        return;
    }
    painter.hline(area.x_range(), area.center().y, Stroke::new(look.u(2.0), look.still));
    let text = &waiting(view);
    let at = area.center() - vec2(0.0, look.u(8.0));
    let ink = (look.words((area.height() * 0.13).max(look.u(14.0))), look.quiet);
    write(painter, (at, Align2::CENTER_BOTTOM), text, ink, area.width());
}

/// What is listened for while Sa is being found. Whoever sings to say what Sa is must not be told how far off the Sa is that is to go.
fn listening(view: &View) -> Option<String> {
    let finding = view.finding.as_ref().filter(|_| !view.trouble.host_silent)?;
    let whole = finding.heard_s?.floor();
    let what = if finding.range { "Glide down, and up again" } else { "Listening for Sa" };
    Some(format!("{what}: {whole:.0} s"))
}

/// The exercise that asks for something, where sound can come in at all.
fn asked(view: &View) -> Option<&ExerciseView> {
    view.lesson.exercise.as_ref().filter(|_| deaf(view).is_none())
}

/// Why nothing at all can be heard, in words.
pub fn deaf(view: &View) -> Option<String> {
    if view.unheard_hz.is_some() {
        Some("the voice passes unheard at this sample rate".to_owned())
    } else {
        view.trouble.host_silent.then(|| format!("the {}", troubles::stopped(view)))
    }
}

/// What the window waits for, or what sounds instead, in words.
fn waiting(view: &View) -> String {
    if let Some(text) = deaf(view) {
        text
    } else if view.device.as_ref().is_some_and(|d| d.nothing) {
        "no sound comes in: the inputs are in Settings".to_owned()
    } else if view.level.0 > QUIET_ROOM.0 && view.machine {
        "a machine's tone, no voice".to_owned()
    } else if view.level.0 > QUIET_ROOM.0 {
        "sound, no sung note".to_owned()
    } else if !view.listening {
        "listening is off: notes are shown, not counted".to_owned()
    } else if view.has_sung() {
        "sing: nothing sounds now".to_owned()
    } else {
        "sing: nothing sounds yet".to_owned()
    }
}

/// The same for assistive technology.
fn spoken(view: &View, readout: &Readout) -> String {
    if let Some(text) = listening(view) {
        return text;
    }
    let Some(named) = readout.named else { return asked(view).map_or_else(|| waiting(view), exercise::spoken) };
    let half = view.band.of(named.swara);
    let way = words::way(Advice::of(named.offset, half));
    let lean = words::lean(named.offset, half).map_or_else(String::new, |lean| format!(", {lean}"));
    let held = readout.held_s.map_or_else(String::new, |s| format!(", held {s:.1} seconds"));
    let beats = readout.beats_hz.map_or_else(String::new, |b| format!(", {b:.1} beats a second"));
    match unjudged(readout) {
        Some(word) => format!("{}, {word}, not judged", words::spoken(&named)),
        None => format!("{}, {way}{lean}{held}{beats}", words::spoken(&named)),
    }
}

/// Which instant a frozen picture shows.
fn stands(view: &View) -> Option<String> {
    view.frozen.then(|| format!("frozen at {}", words::clock(view.shown_until_s)))
}

/// The last seconds as two threads on one level.
pub fn last_seconds(ui: &mut Ui, area: Rect, look: &Look, view: &View) {
    let response = ui.interact(area, ui.scope_id().with("strip"), Sense::hover());
    let until = view.shown_until_s;
    let text =
        format!("the last {STRIP_S:.0} seconds: thin where the voice moves, thick where it holds, a rung at each beat");
    let told = stands(view).map_or_else(|| text.clone(), |at| format!("{at}: {text}"));
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &told));
    let explained = "thick: held; thin: gamaka and other moves, never judged; rungs: beats";
    hint(ui, look, (&response, area), explained);
    let painter = ui.painter().with_clip_rect(area.intersect(ui.clip_rect()));
    let part = (view.line.as_slice(), until - STRIP_S, until, view.drone_sounds());
    let Some(text) = stands(view) else {
        threads(&painter, area, look, part, Levels::Flat(view.band));
        return;
    };
    // The time has a line of its own: the threads and their names take all of the rest.
    let size = look.far_up_to(17.0).min(area.height() * STANDS_SHARE);
    let (area, foot) = area.split_top_bottom_at_y(area.bottom() - size * 1.3);
    threads(&painter, area, look, part, Levels::Flat(view.band));
    write(&painter, (foot.right_center(), Align2::RIGHT_CENTER), &text, (look.words(size), look.ink), foot.width());
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::editor::sample;
    use crate::units::Decibels;

    #[test]
    fn what_is_no_voice_is_called_what_it_is() {
        let mut view = sample::empty();
        assert!(waiting(&view).contains("nothing sounds"));
        view.machine = true;
        assert!(waiting(&view).contains("nothing sounds"), "silence is no machine's tone");
        view.level = Decibels(-20.0);
        assert!(waiting(&view).contains("machine's tone"));
        view.machine = false;
        assert!(waiting(&view).contains("no sung note"));
    }

    #[test]
    fn a_pause_is_not_the_beginning() {
        let before = sample::empty();
        assert!(waiting(&before).contains("nothing sounds yet"));
        // After a pause, or where the transport began anew.
        let pause = View { reading: None, current: None, level: Decibels(-90.0), ..sample::normal() };
        assert!(waiting(&pause).contains("nothing sounds now"));
    }

    #[test]
    fn digits_change_at_most_five_times_a_second() {
        let mut view = sample::normal();
        let mut readout = Readout::default();
        let mut changes = 0;
        let mut last = readout.named;
        for frame in 0..120u32 {
            if let Some(current) = &mut view.current {
                current.now.offset = Cents(f64::from(frame));
            }
            readout.take(&view, f64::from(frame) / 60.0);
            if readout.named != last {
                changes += 1;
                last = readout.named;
            }
        }
        assert!((9..=10).contains(&changes), "{changes} changes in two seconds");
    }
}
