//! The teaching face: what the voice did over the last seconds; frozen, the whole lesson as a figure to scroll.
//!
//! In: parts of [`View`]. Out: drawing and [`Action`]s. Live: two threads stepped along the melody. Frozen: the line
//! over the swaras' levels. A marked moment can lie beside either.

use super::action::{Action, Export};
use super::banner::triangle;
use super::controls::{self, framed};
use super::figure::Figure;
use super::fonts;
use super::hint::hint;
use super::look::{Look, paragraph, write};
use super::meter::{Meter, line, meter};
use super::sight;
use super::thread::{Levels, threads};
use super::troubles;
use super::view::{MeterRow, SPAN_S, View};
use super::ways::Ways;
use super::words;
use crate::note::Kind;
use crate::swara::Swara;
use egui::accesskit::Role;
use egui::{Align2, Rect, RichText, ScrollArea, Sense, Slider, Stroke, Ui, UiBuilder, WidgetInfo, vec2};

/// Height of the meter below the picture, units: as it likes to be, and at least; where both are too much, of the row of the swara
/// that sounds, with its headings and without.
const FOOT: f32 = 124.0;
const LEAST_FOOT: f32 = 106.0;
const FOOT_ROW: f32 = 44.0;
const FOOT_LINE: f32 = 22.0;
/// Behind what was sung so much is shown when one goes there, seconds.
const AFTER_S: f64 = 1.0;
/// The gap above the meter, units.
const FOOT_GAP: f32 = 8.0;
/// What is left of the lowest face for its picture, units of text at 100 %.
const LEAST_LOW: f32 = 56.0;
/// The least height of a picture above the whole meter, and above that row, units.
const LEAST_PICTURE: f32 = 176.0;
const LEAST_ABOVE_LOW: f32 = 100.0;
const LEAST_ABOVE_ROW: f32 = 60.0;

/// What this face remembers.
#[derive(Debug, Clone)]
pub struct Teaching {
    /// Seconds shown.
    pub span_s: f64,
    /// The sheet of marks was asked for.
    pub marks: bool,
}

impl Default for Teaching {
    fn default() -> Self {
        Self { span_s: 20.0, marks: false }
    }
}

/// The teaching face.
pub fn teaching(
    ui: &mut Ui,
    area: Rect,
    look: &Look,
    (view, memory): (&View, &mut Teaching),
    actions: &mut Vec<Action>,
) {
    let area = area.shrink2(vec2(look.u(12.0), look.u(4.0)));
    // In a low window with large text the tools scroll before they take the picture's place.
    let most = (area.height() - look.p(LEAST_LOW)).max(ui.spacing().interact_size.y);
    let bar = ui.scope_builder(UiBuilder::new().max_rect(area), |ui| {
        let tools_area = ScrollArea::vertical().id_salt("tools").max_height(most);
        tools_area.auto_shrink([false, true]).show(ui, |ui| {
            tools(ui, look, view, memory, actions);
            sight::follow(ui);
        });
    });
    let top = (bar.response.rect.bottom() + look.u(4.0)).min(area.bottom());
    let rest = Rect::from_min_max(egui::pos2(area.left(), top), area.max);
    let foot = Foot::new(rest, look, view);
    let (main, below) = rest.split_top_bottom_at_y(rest.bottom() - look.u(foot.height()));
    let (main, beside) = match &view.replay {
        Some(replay) => {
            let (a, b) = main.split_top_bottom_at_y(main.center().y);
            (a, Some((b, replay)))
        }
        None => (main, None),
    };
    let until = if view.frozen { view.shown_until_s } else { view.now_s };
    let span = (until - memory.span_s, until);
    let name = beside.map(|_| if view.frozen { "frozen" } else { "now" }.to_owned());
    let dragged = picture(ui, main, look, (view, &view.line, span), name.as_deref());
    if view.frozen && silent(&view.line) && !view.notes.is_empty() {
        elsewhere(ui, main, look, (view, memory.span_s), actions);
    }
    if view.frozen && dragged.abs() > 0.0 {
        let per_point = memory.span_s / f64::from(main.width().max(1.0));
        let until = view.shown_until_s - f64::from(dragged) * per_point;
        actions.push(Action::ShowUntil(view.scrolled(until, memory.span_s)));
    }
    if let Some((rect, replay)) = beside {
        let half = memory.span_s / 2.0;
        let word = fonts::shown(ui.ctx(), &replay.word);
        let name = format!("marked at {} {word}", words::clock(replay.time_s));
        let span = (replay.time_s - half, replay.time_s + half);
        picture(ui, rect, look, (view, &replay.line, span), Some(name.trim_end()));
        if !view.frozen {
            // A frozen picture has its marks already.
            marked_instant(ui, rect, look);
        }
        ui.painter().hline(rect.x_range(), rect.top(), Stroke::new(look.u(1.5), look.quiet));
        let ends = (rect.right_top() + vec2(0.0, look.body().size * 0.75), Align2::RIGHT_CENTER);
        write(ui.painter(), ends, "Esc ends this", (look.body(), look.quiet), rect.width() * 0.4);
    }
    let all = Meter::of(view);
    match foot {
        Foot::All(_) => {
            let cards = Rect::from_min_max(below.min + vec2(0.0, look.u(FOOT_GAP)), below.max);
            meter(ui, cards, look, &all, actions);
        }
        Foot::AllAndRow(row) => {
            let (first, rest) = below.split_top_bottom_at_y(below.top() + look.u(FOOT_ROW));
            let one = Meter { rows: std::slice::from_ref(row), ..all };
            ui.push_id("present", |ui| meter(ui, first, look, &one, actions));
            meter(ui, rest, look, &all, actions);
        }
        Foot::Row(row) => meter(ui, below, look, &Meter { rows: std::slice::from_ref(row), ..all }, actions),
        Foot::Line(row) => line(ui, below, look, (row, &all), actions),
        Foot::Nothing => {}
    }
}

/// The instant that was marked lies in the middle of its picture.
fn marked_instant(ui: &Ui, picture: Rect, look: &Look) {
    let x = picture.center().x;
    let top = picture.top() + look.body().size * 1.5;
    ui.painter().vline(x, top..=picture.bottom(), Stroke::new(look.u(1.5), look.ink));
}

/// What of the meter has room below the picture, its figures included.
enum Foot<'a> {
    /// All of it as cards, so many units high.
    All(f32),
    /// More swaras than cards have room: all without their figures, and the row of the one that sounds.
    AllAndRow(&'a MeterRow),
    /// The row of the swara that sounds.
    Row(&'a MeterRow),
    /// The same without headings.
    Line(&'a MeterRow),
    /// Nothing: the scale has no swara, and there is no room to say so.
    Nothing,
}

impl<'a> Foot<'a> {
    fn new(rest: Rect, look: &Look, view: &'a View) -> Self {
        let leaves = |foot: f32, picture: f32| rest.height() > look.u(foot + picture);
        let cards = |foot: f32| {
            let room = vec2(rest.width(), look.u(foot - FOOT_GAP));
            view.meter.is_empty() || super::meter::cards_fit(room, look, view.meter.len())
        };
        // Before the first note it is the row of the swara with which all begin.
        match present(view).or(view.meter.first()) {
            _ if leaves(FOOT, LEAST_PICTURE) && cards(FOOT) => Foot::All(FOOT),
            _ if leaves(LEAST_FOOT, LEAST_ABOVE_LOW) && cards(LEAST_FOOT) => Foot::All(LEAST_FOOT),
            Some(row) if leaves(FOOT, LEAST_PICTURE) => Foot::AllAndRow(row),
            Some(row) if leaves(FOOT_ROW, LEAST_ABOVE_ROW) => Foot::Row(row),
            Some(row) => Foot::Line(row),
            None => Foot::Nothing,
        }
    }

    /// Units.
    fn height(&self) -> f32 {
        match self {
            Foot::All(height) => *height,
            Foot::AllAndRow(_) => FOOT,
            Foot::Row(_) => FOOT_ROW,
            Foot::Line(_) => FOOT_LINE,
            Foot::Nothing => 0.0,
        }
    }
}

/// The row of the swara that sounds, or that was held last.
#[must_use]
pub fn present(view: &View) -> Option<&MeterRow> {
    let sounds = view.current.map(|c| c.now).or(view.reading).map(|named| named.swara);
    let held = || view.notes.iter().rev().find(|row| row.note.kind == Kind::Held).map(|row| row.note.swara);
    let swara = sounds.or_else(held)?;
    view.meter.iter().find(|row| row.swara == swara)
}

/// Live or frozen picture of a stretch; returns by how many points it was dragged.
fn picture(
    ui: &mut Ui,
    area: Rect,
    look: &Look,
    (view, line, span): (&View, &[super::view::LinePoint], (f64, f64)),
    name: Option<&str>,
) -> f32 {
    // Only what stands still is moved.
    let sense = if view.frozen { Sense::drag() } else { Sense::hover() };
    let response = ui.interact(area, ui.scope_id().with(("picture", area.top().to_bits())), sense);
    let dragged = response.drag_delta().x;
    hint(ui, look, (&response, area), &format!("gamaka: {}", words::explain("gamaka")));
    let text = if view.frozen {
        format!("the line from {} to {} over the swaras", words::clock(span.0), words::clock(span.1))
    } else {
        format!("two threads, the last {:.0} seconds: gap is error, rungs are beats", span.1 - span.0)
    };
    let text = name.map_or_else(|| text.clone(), |name| format!("{name}: {text}"));
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &text));
    let area = match name {
        // Which of two pictures it is stands above it.
        Some(name) => {
            let (head, rest) = area.split_top_bottom_at_y(area.top() + look.body().size * 1.5);
            let at = (head.left_center(), Align2::LEFT_CENTER);
            write(ui.painter(), at, name, (look.body(), look.ink), head.width() * 0.6);
            rest
        }
        None => area,
    };
    if let Some(from) = view.kept_from().filter(|from| silent(line) && span.1 < *from) {
        let text = format!("This stretch is kept no longer: the line begins at {}.", words::clock(from));
        paragraph(ui, area, RichText::new(text).color(look.quiet));
        return dragged;
    }
    if silent(line) {
        if view.frozen && !view.notes.is_empty() {
            return dragged;
        }
        if !view.notes.is_empty() {
            let text = format!("Nothing sung in the last {:.0} seconds.", span.1 - span.0);
            paragraph(ui, area, RichText::new(text).color(look.quiet));
            return dragged;
        }
        let hint = "Nothing sung yet. Two threads will run here: the still one and the voice. Their gap is the error, \
             the rungs between them are the beats against the drone, the slower the wider apart; thin stretches are \
             gamaka, drawn and never judged.";
        paragraph(ui, area, RichText::new(hint).color(look.quiet));
        return dragged;
    }
    let painter = ui.painter().with_clip_rect(area.intersect(ui.clip_rect()));
    if view.frozen {
        let ways = Ways::of(view);
        Figure { line, targets: &view.targets, ways, marks: &view.marks, span, meant: None }.draw(&painter, area, look);
    } else {
        let part = (line, span.0, span.1, view.drone_sounds());
        threads(&painter, area, look, part, Levels::Stepped(&view.targets, Ways::of(view)));
    }
    dragged
}

/// Whether nothing was sung in a stretch.
fn silent(line: &[super::view::LinePoint]) -> bool {
    line.iter().all(|p| p.named.is_none())
}

/// A frozen picture of a time in which nothing was sung: the way to what was sung before and after it.
fn elsewhere(ui: &mut Ui, area: Rect, look: &Look, (view, span_s): (&View, f64), actions: &mut Vec<Action>) {
    let (from, until) = (view.shown_until_s - span_s, view.shown_until_s);
    let before = view.notes.iter().rev().find(|row| row.end_s <= from).map(|row| ("Earlier", row.end_s));
    let after = view.notes.iter().find(|row| row.start_s >= until).map(|row| ("Later", row.end_s));
    ui.scope_builder(UiBuilder::new().max_rect(area), |ui| {
        ui.label(RichText::new("Nothing sung here.").size(look.far_up_to(17.0)));
        ui.horizontal_wrapped(|ui| {
            for (way, at) in before.into_iter().chain(after) {
                let word = format!("{way}: {}", words::clock(at));
                if ui.button(word).on_hover_text("the nearest that was sung").clicked() {
                    actions.push(Action::ShowUntil(view.scrolled(at + AFTER_S, span_s)));
                }
            }
        });
    });
}

/// Names of swaras in a row.
fn names(swaras: &[Swara]) -> String {
    swaras.iter().map(|s| s.short()).collect::<Vec<_>>().join(" ")
}

/// The tools above the picture.
fn tools(ui: &mut Ui, look: &Look, view: &View, memory: &mut Teaching, actions: &mut Vec<Action>) {
    ui.horizontal_wrapped(|ui| {
        let label = ui.label("Seconds");
        let slider = Slider::new(&mut memory.span_s, SPAN_S.0..=SPAN_S.1).step_by(5.0).show_value(false);
        framed(ui, slider).labelled_by(label.id);
        ui.label(format!("{:.0}", memory.span_s));
        if view.frozen {
            let mut until = view.shown_until_s;
            let label = ui.label("Until");
            let first = view.scrolled(f64::NEG_INFINITY, memory.span_s);
            let slider = Slider::new(&mut until, first..=view.now_s).show_value(false);
            if framed(ui, slider).labelled_by(label.id).changed() {
                actions.push(Action::ShowUntil(until));
            }
            ui.label(words::clock(view.shown_until_s));
            if let Some(from) = view.kept_from() {
                let text = RichText::new(format!("kept from {} on", words::clock(from))).color(look.quiet);
                ui.label(text)
                    .on_hover_text("what was sung before is in the list of notes and in the report, without its line");
            }
        }
        for mark in view.marks.iter().rev().take(4) {
            let word = if mark.word.is_empty() {
                words::clock(mark.time_s)
            } else {
                fonts::shown(ui.ctx(), &mark.word).into_owned()
            };
            let shown = view.replay.as_ref().is_some_and(|r| (r.time_s - mark.time_s).abs() < 1e-9);
            let button = ui.add(egui::Button::selectable(shown, word).frame_when_inactive(true));
            let button = button.on_hover_text("lay this moment beside now");
            if button.clicked() {
                actions.push(Action::Replay((!shown).then_some(mark.id)));
            }
        }
        if !view.marks.is_empty() {
            let all = format!("All marks ({})", view.marks.len());
            if ui.button(all).on_hover_text("key W: each marked moment and its word").clicked() {
                memory.marks = true;
            }
        }
        if ui.button("Report").on_hover_text("key R: save the lesson's report").clicked() {
            actions.push(Action::Export(Export::Report));
        }
        if let Some((up, down)) = &view.up_down {
            let text = format!("up {} · down {}", names(up), names(down));
            ui.label(RichText::new(text).color(look.quiet)).on_hover_text(format!(
                "arohana: {}\navarohana: {}",
                words::explain("arohana"),
                words::explain("avarohana")
            ));
        }
    });
    ui.horizontal_wrapped(|ui| {
        // Whose page of the meter is counted on: a lesson with another pupil begins with choosing them.
        let pupil = &view.lesson.profiles;
        if !pupil.current.is_empty() {
            ui.label(fonts::shown(ui.ctx(), &format!("Pupil: {}", pupil.label())).as_ref());
        }
        other_end(ui, look, view, actions);
    });
}

/// What is known of the other end of the line: its faults, and the drone that sounds there.
fn other_end(ui: &mut Ui, look: &Look, view: &View, actions: &mut Vec<Action>) {
    let trouble = &view.trouble;
    let wrong = trouble.gated || trouble.dropouts || trouble.clipped;
    if wrong {
        triangle(ui, look);
    }
    // Each thing once: what the count names, or the banner, is not named here as well.
    let said = troubles::gate_said(view);
    let now = if trouble.gated && !said && view.faults.cut_notes == 0 {
        "A noise gate cuts the note"
    } else if trouble.dropouts && view.faults.dropouts == 0 {
        "The sound drops out"
    } else if trouble.clipped {
        "The input is too loud and clips"
    } else {
        words::way_here(view)
    };
    let counted = if said { view.faults.counted_beside() } else { view.faults.counted() };
    let text = if trouble.host_silent {
        format!("{now}: no sound comes")
    } else if wrong && counted.is_empty() {
        // What is wrong now and leaves no count behind: that there is no fault would gainsay it.
        format!("{now}.")
    } else if counted.is_empty() {
        format!("{now}: {}", words::line(&view.faults))
    } else {
        format!("{now}: {}", counted.join(", "))
    };
    let hover = "what a call, a cable or a noise gate did since listening began: it is not the voice's doing";
    ui.label(RichText::new(text).color(if wrong { look.ink } else { look.quiet })).on_hover_text(hover);
    let Some(cents) = view.lesson.pupil_drone else { return };
    ui.label(format!("The drone there: Sa {} cents from ours", words::signed(cents)));
    if cents.0.abs() <= words::DRONE_APART_CENTS {
        return;
    }
    let take = ui.button("Take its Sa").on_hover_text("Sa here becomes the Sa of the drone that sounds there");
    if take.clicked() && controls::once(ui) {
        actions.push(Action::AdoptSa(view.sa.up(cents)));
    }
}
