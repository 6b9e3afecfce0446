//! The checking face: the notes most worth singing again, the meter large, and every held note.
//!
//! In: parts of [`View`]. Out: drawing and [`Action`]s. Which notes are worth it was decided before.

use super::action::{Action, Export};
use super::again::{again, hear, named, place, unheard};
use super::controls;
use super::figure::Figure;
use super::look::{Look, paragraph, write};
use super::meter::{Meter, meter};
use super::sight;
use super::view::{NoteRow, View};
use super::ways::Ways;
use super::words;
use crate::note::{Kind, Note};
use crate::swara::{Target, Targets};
use crate::units::Cents;
use egui::{Button, Grid, Id, Key, Rect, RichText, ScrollArea, Ui, UiBuilder, pos2, vec2};

/// Seconds of line shown before and after a note.
pub const AROUND_S: f64 = 0.5;

/// What is not judged at either end of a note, seconds.
const EDGE_S: f64 = 0.15;

/// Columns of the list as wide as this or more are spread over its width, units.
const LEAST_COLUMN: f32 = 74.0;
/// What a spread column takes of its part at least: the widest may need more.
const COLUMN_SHARE: f32 = 0.94;

/// A face lower than this is low, units of text at 100 %.
const LOW: f32 = 400.0;
/// So many rows of the list are seen at least: on a low face, and on any other.
const LEAST_ROWS: (f32, f32) = (2.0, 3.0);
/// The least height of the chosen note's line, of the meter, and of a meter with a line of words below it, units.
const LEAST_LINE: f32 = 48.0;
const LEAST_METER: f32 = 48.0;
const LEAST_PRACTICE: f32 = 90.0;

/// So far below it a target is still Sa, cents: half a semitone.
const BELOW_SA: f64 = 50.0;

/// What the list is sorted by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Sort {
    /// When it was sung: the newest first, since after a take of minutes that is what was just sung.
    #[default]
    Time,
    /// Swara by swara, upwards from Sa.
    Swara,
    /// Farthest off first.
    Offset,
    /// Longest first.
    Length,
}

/// Each with its name, and with what stands first: as it is, and turned round.
const SORTS: [(Sort, &str, [&str; 2]); 4] = [
    (Sort::Time, "time", ["newest first", "oldest first"]),
    (Sort::Swara, "swara", ["swara, up", "swara, down"]),
    (Sort::Offset, "offset", ["farthest first", "nearest first"]),
    (Sort::Length, "length", ["longest first", "shortest first"]),
];

/// The order of the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Order {
    /// What it is sorted by.
    pub by: Sort,
    /// What would stand first stands last.
    pub turned: bool,
}

/// What this face remembers.
#[derive(Debug, Clone, Default)]
pub struct Checking {
    /// The order of the list.
    pub order: Order,
    /// Only notes outside the band.
    pub outside: bool,
    /// The note whose line is shown.
    pub chosen: Option<usize>,
    /// It was chosen elsewhere: the list is to come to it.
    pub reveal: bool,
    /// The note of the list that was pressed last, and when, window's clock.
    clicked: Option<(usize, f64)>,
    /// What the tools above the list took when they were last drawn, points.
    tools: f32,
}

/// Indices of the held notes, filtered and sorted.
#[must_use]
pub fn listed(notes: &[NoteRow], order: Order, outside: bool) -> Vec<usize> {
    let mut list: Vec<(usize, &NoteRow)> =
        notes.iter().enumerate().filter(|(_, n)| n.note.kind == Kind::Held && (!outside || n.outside)).collect();
    match order.by {
        Sort::Time => list.reverse(),
        Sort::Swara => list.sort_by_key(|(_, n)| (n.note.swara, n.note.sthayi)),
        Sort::Offset => list.sort_by(|(_, a), (_, b)| b.note.offset.0.abs().total_cmp(&a.note.offset.0.abs())),
        Sort::Length => list.sort_by(|(_, a), (_, b)| (b.end_s - b.start_s).total_cmp(&(a.end_s - a.start_s))),
    }
    if order.turned {
        list.reverse();
    }
    list.into_iter().map(|(i, _)| i).collect()
}

/// The list as CSV, for the clipboard.
#[must_use]
pub fn csv(notes: &[NoteRow], list: &[usize]) -> String {
    let mut out = String::from("start_s,end_s,bar,beat,swara,octave,cents,in_tune_share,sa_hz\n");
    for row in list.iter().filter_map(|i| notes.get(*i)) {
        let (n, place) =
            (&row.note, row.bar_beat.map_or_else(|| ",".to_owned(), |(bar, beat)| format!("{bar},{beat}")));
        let line = format!(
            "{:.3},{:.3},{place},{},{},{:.1},{:.3},{:.2}\n",
            row.start_s,
            row.end_s,
            n.swara.short(),
            n.sthayi.0,
            n.offset.0,
            n.in_tune,
            row.sa.0
        );
        out.push_str(&line);
    }
    out
}

/// What has to have room on this face, whatever the window.
#[derive(Debug, Clone, Copy)]
struct Needs {
    /// The window is low: a line of words less.
    low: bool,
    /// What leads has one line: the window is low, or large text beside an open note makes it so.
    brief: bool,
    /// Rows of the list that are seen, points.
    rows: f32,
}

impl Needs {
    fn new(ui: &Ui, area: Rect, look: &Look, opened: bool) -> Self {
        let low = area.height() < look.p(LOW);
        let brief = low || (opened && area.height() < look.u(LOW));
        let rows = if low { LEAST_ROWS.0 } else { LEAST_ROWS.1 };
        Self { low, brief, rows: rows * (ui.spacing().interact_size.y + ui.spacing().item_spacing.y) }
    }
}

/// The checking face.
pub fn checking(
    ui: &mut Ui,
    area: Rect,
    look: &Look,
    (view, memory): (&View, &mut Checking),
    actions: &mut Vec<Action>,
) {
    let area = area.shrink2(vec2(look.u(12.0), look.u(4.0)));
    let needs = Needs::new(ui, area, look, memory.chosen.is_some());
    // They lead, whatever the window's shape.
    let place = UiBuilder::new().max_rect(area);
    let lead = ui.scope_builder(place, |ui| again(ui, look, (view, needs.brief), memory, actions));
    let top = (lead.response.rect.bottom() + look.u(6.0)).min(area.bottom());
    let area = Rect::from_min_max(pos2(area.left(), top), area.max);
    let wide = area.width() >= look.u(780.0);
    let (left, right) = if wide {
        area.split_left_right_at_x(area.left() + area.width() * 0.5)
    } else {
        // The meter has what the list leaves, and stands on the singing face where that is too little.
        let line = if memory.chosen.is_some() { ui.spacing().interact_size.y * 1.5 + look.p(LEAST_LINE) } else { 0.0 };
        let rest = area.height() - memory.tools - line - needs.rows - look.u(12.0);
        let meter = rest.min(area.height() * 0.42);
        area.split_top_bottom_at_y(area.top() + if meter < look.p(LEAST_METER) { 0.0 } else { meter })
    };
    let right = if wide { Rect::from_min_max(right.min + vec2(look.u(14.0), 0.0), right.max) } else { right };
    let practice = words::long_tone(&view.long_tone).filter(|_| wide || left.height() > look.u(LEAST_PRACTICE));
    let foot = if practice.is_some() { look.u(22.0) } else { 0.0 };
    let (left, foot) = left.split_top_bottom_at_y(left.bottom() - foot);
    if left.height() > 0.0 {
        meter(ui, left, look, &Meter::of(view), actions);
    }
    if let Some(practice) = practice {
        let response = ui.interact(foot, ui.scope_id().with("practice"), egui::Sense::hover());
        response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Label, true, &practice));
        let at = (foot.left_center(), egui::Align2::LEFT_CENTER);
        write(ui.painter(), at, &practice, (look.body(), look.quiet), foot.width());
    }
    ui.scope_builder(UiBuilder::new().max_rect(right), |ui| {
        ui.set_clip_rect(right.intersect(ui.clip_rect()));
        if wide {
            notes(ui, look, (view, needs), memory, actions);
        } else {
            // Too low for a list under its tools: all of it scrolls.
            ScrollArea::vertical().id_salt("checking").auto_shrink(false).show(ui, |ui| {
                notes(ui, look, (view, needs), memory, actions);
                sight::follow(ui);
            });
        }
    });
}

/// Another note is looked at, or none.
pub fn choose(memory: &mut Checking, which: Option<usize>, actions: &mut Vec<Action>) {
    memory.chosen = which;
    actions.push(Action::ShowNote(which));
}

/// The chosen note: how it went, its line, and its sound against the drone.
fn looked_at(ui: &mut Ui, look: &Look, (view, needs): (&View, Needs), index: usize, actions: &mut Vec<Action>) {
    let Some(row) = view.notes.get(index) else { return };
    let others = view.others_of(row);
    ui.horizontal_wrapped(|ui| {
        let sounds = view.heard_note() == Some(index);
        // Which note that is stands on it: the list below may have been scrolled.
        let word = format!("{} {}", if sounds { "Stop" } else { "Hear" }, named(row));
        let sung = ui.add(Button::selectable(sounds, word).frame_when_inactive(true));
        let silent = unheard(view);
        let told = |text: &str| silent.clone().unwrap_or_else(|| text.to_owned());
        if sung
            .on_hover_text(told(
                "as it was sung: its line as a tone, drift and waver included; against the drone it beats as it did",
            ))
            .clicked()
        {
            hear(view, index, actions);
        }
        if ui.button("Hear the swara").on_hover_text(told("where it should have been")).clicked() {
            actions.push(Action::PlayTarget(index));
        }
        if let Some(why) = &silent {
            ui.label(why);
        }
        ui.label(RichText::new(words::noticed(&row.note)).color(look.quiet));
        let (short, whole): (Vec<String>, Vec<String>) = others.iter().cloned().unzip();
        if !short.is_empty() {
            ui.label(RichText::new(short.join(", ")).color(look.quiet)).on_hover_text(whole.join("\n"));
        }
    });
    let left = ui.available_height() - needs.rows - ui.spacing().item_spacing.y;
    if !needs.low && left < look.p(LEAST_LINE) {
        // The list that is chosen from comes before the picture of what was chosen.
        return;
    }
    let height = (ui.available_height() * 0.4).max(look.u(90.0)).min(left).clamp(look.p(LEAST_LINE), look.u(150.0));
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), egui::Sense::hover());
    let elsewhere = others.iter().map(|(_, whole)| format!(", {whole}")).collect::<String>();
    let said = format!("the line of {} at {}{elsewhere}", row.note.swara.short(), place(row));
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Label, true, &said));
    let Some(shown) = view.shown_note.as_ref().filter(|shown| shown.index == index) else { return };
    if shown.line.is_empty() {
        let gone = RichText::new("The line of this note is kept no longer.").color(look.quiet);
        return paragraph(ui, rect, gone);
    }
    let painter = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
    let span = (row.start_s - AROUND_S, row.end_s + AROUND_S);
    // A spike of its onset is no reason to draw the rest small.
    let meant = Some((row.start_s + EDGE_S, row.end_s - EDGE_S)).filter(|(from, to)| to > from);
    // It was judged against other swaras than those in force: of them the note keeps its own only. Another Sa moves all alike.
    let own = row.page.as_ref().is_none_or(|page| *page == view.page);
    let (targets, ways) = if own { (view.targets, Ways::of(view)) } else { (target_alone(&row.note), Ways::default()) };
    Figure { line: &shown.line, targets: &targets, ways, marks: &[], span, meant }.draw(&painter, rect, look);
}

/// The swara that a note was judged against, and no other.
fn target_alone(note: &Note) -> Targets {
    let above_sa = note.cents.0 - note.offset.0;
    // What lies just below Sa for its tuning or a nudge is still Sa of that register.
    let octave = ((above_sa + BELOW_SA) / 1200.0).floor();
    let target = Target { swara: note.swara, cents: Cents(above_sa - 1200.0 * octave) };
    let mut by_position = [None; 12];
    if let Some(slot) = by_position.get_mut(usize::from(note.swara.position())) {
        *slot = Some(target);
    }
    Targets { by_position }
}

/// Width of a column that holds `text`, with the gap beside it.
fn column(ui: &Ui, look: &Look, text: &str, size: f32) -> f32 {
    let words = ui.painter().layout_no_wrap(text.to_owned(), look.words(size), look.ink).size().x;
    words + ui.spacing().item_spacing.x
}

fn share_width(ui: &Ui, look: &Look, size: f32) -> f32 {
    column(ui, look, "100 % in", size)
}

/// What the longest of the words needs that say under what else a note was sung.
fn others_width(ui: &Ui, look: &Look, view: &View, list: &[usize]) -> f32 {
    let told = |row: &NoteRow| view.others_of(row).into_iter().map(|(short, _)| short).collect::<Vec<_>>().join(", ");
    let rows = list.iter().filter_map(|i| view.notes.get(*i));
    let longest = rows.map(told).max_by_key(|text| text.chars().count()).unwrap_or_default();
    column(ui, look, &longest, look.body().size)
}

/// What a note was sung under that has `room`: all of it, else how much there is; all of it stands in the hover.
fn shortened(ui: &Ui, look: &Look, others: &[String], room: f32) -> String {
    let fits = |text: &String| column(ui, look, text, look.body().size) - ui.spacing().item_spacing.x <= room;
    let all = others.join(", ");
    let count = if others.len() > 1 { format!("{} others", others.len()) } else { "other".to_owned() };
    if fits(&all) { all } else { Some(count).filter(fits).unwrap_or_default() }
}

/// What all columns need at least, points: as much as their longest.
fn needed(ui: &Ui, look: &Look, view: &View, list: &[usize], (size, bars, others): (f32, bool, bool)) -> f32 {
    let rows = || list.iter().filter_map(|i| view.notes.get(*i));
    let longest =
        |texts: &mut dyn Iterator<Item = String>| texts.max_by_key(|text| text.chars().count()).unwrap_or_default();
    let register = longest(&mut rows().map(|row| row.note.sthayi.name().to_owned()));
    let bar = if bars { longest(&mut rows().map(place)) } else { String::new() };
    let time = longest(&mut rows().map(|row| words::clock(row.start_s)));
    let texts = [format!("G3 {register}"), bar, time, "−100".to_owned(), "10.0 s".to_owned()];
    let known: f32 = texts.iter().filter(|text| !text.is_empty()).map(|text| column(ui, look, text, size)).sum();
    let other = if others { column(ui, look, "from Sa 146.8 Hz", look.body().size) } else { 0.0 };
    known + share_width(ui, look, size) + other + 2.0 * ui.spacing().button_padding.x
}

/// Every held note.
fn notes(ui: &mut Ui, look: &Look, (view, needs): (&View, Needs), memory: &mut Checking, actions: &mut Vec<Action>) {
    let list = listed(&view.notes, memory.order, memory.outside);
    let tools = ui.horizontal_wrapped(|ui| {
        for (by, name, first) in SORTS {
            // The one in force says what stands first; pressed again, it turns that round.
            let (chosen, [as_it_is, turned]) = (memory.order.by == by, first);
            let (now, then) = if memory.order.turned { (turned, as_it_is) } else { (as_it_is, turned) };
            let (word, hover) = if chosen { (now, then) } else { (name, as_it_is) };
            let button = Button::selectable(chosen, word);
            if ui.add(button).on_hover_text(format!("sort the list: {hover}")).clicked() {
                memory.order = Order { by, turned: chosen && !memory.order.turned };
            }
        }
        ui.checkbox(&mut memory.outside, "outside the band only");
        if ui.button("Copy").clicked() {
            let text = csv(&view.notes, &list);
            ui.ctx().copy_text(text.clone());
            actions.push(Action::Copy(text));
        }
        for (name, export) in [("CSV", Export::Csv), ("Markers", Export::Markers), ("Report", Export::Report)] {
            if ui.button(name).clicked() {
                actions.push(Action::Export(export));
            }
        }
    });
    memory.tools = tools.response.rect.height();
    if let Some(i) = memory.chosen {
        looked_at(ui, look, (view, needs), i, actions);
    }
    // The line of the first press may have moved the row from under the pointer: the second is meant for it all the same.
    let (now, double) = ui.input(|i| (i.time, i.pointer.button_double_clicked(egui::PointerButton::Primary)));
    let meant = memory.clicked.filter(|(_, when)| double && now - when < controls::TWICE_S).map(|(i, _)| i);
    let twice = meant.is_some();
    if let Some(i) = meant {
        memory.clicked = None;
        if memory.chosen != Some(i) {
            choose(memory, Some(i), actions);
        }
        hear(view, i, actions);
    }
    if list.is_empty() {
        ui.label(RichText::new("No held note in the list.").color(look.quiet));
        return;
    }
    let row = ui.spacing().interact_size.y;
    // All of the width is used, where the list has more than it needs.
    let others = list.iter().any(|i| view.notes.get(*i).is_some_and(|row| !view.others_of(row).is_empty()));
    // Bar and beat, and the time, each in its place.
    let bars = list.iter().any(|i| view.notes.get(*i).is_some_and(|row| row.bar_beat.is_some()));
    let all = 5 + usize::from(others) + usize::from(bars);
    // What a note was sung under has the width of its words: the others share what that leaves.
    let widest = if others { others_width(ui, look, view, &list) } else { 0.0 };
    let shared = (ui.available_width() - widest) / (all - usize::from(others)) as f32;
    let each = shared - ui.spacing().item_spacing.x;
    let each = if each >= look.u(LEAST_COLUMN) { each * COLUMN_SHARE } else { 0.0 };
    let size = if each > 0.0 { look.far_up_to(17.0) } else { look.body().size };
    // Where they have no room, the less important columns go: the share, then how long it was held.
    let room = ui.available_width() - needed(ui, look, view, &list, (size, bars, others));
    let short = if each > 0.0 || room >= 0.0 { 0 } else { usize::from(room + share_width(ui, look, size) < 0.0) + 1 };
    let columns = all - short;
    // Said below the list, where that costs none of the rows that have to be seen.
    let lasts = words::lasts(view, "Notes and marks are here");
    let high = ui.painter().layout(lasts.clone(), look.small(), look.quiet, ui.available_width()).size().y;
    let below = high + ui.spacing().item_spacing.y;
    let says = !needs.low && ui.available_height() - below >= needs.rows;
    let high = ui.available_height() - if says { below } else { 0.0 };
    let mut area = ScrollArea::vertical().id_salt("notes").auto_shrink(false);
    area = area.max_height(high).min_scrolled_height(needs.rows);
    if std::mem::take(&mut memory.reveal)
        && let Some(at) = list.iter().position(|i| memory.chosen == Some(*i))
    {
        area = area.vertical_scroll_offset(at as f32 * (row + ui.spacing().item_spacing.y));
    }
    // All of the chosen note's row stands out, not its name alone.
    let (at, visuals) = (list.iter().position(|i| memory.chosen == Some(*i)), ui.visuals());
    let (lit, striped, on_lit) = (visuals.selection.bg_fill, visuals.faint_bg_color, visuals.selection.stroke.color);
    let color =
        move |row: usize, _: &egui::Style| if at == Some(row) { Some(lit) } else { (row % 2 == 1).then_some(striped) };
    sight::rows(area, ui, row, list.len(), |ui, shown| {
        let grid = Grid::new(("notes", columns)).with_row_color(color).num_columns(columns).min_col_width(each);
        grid.min_row_height(row).start_row(shown.start).show(ui, |ui| {
            for i in list.iter().copied().skip(shown.start).take(shown.len()) {
                let Some(row) = view.notes.get(i) else { continue };
                let n = &row.note;
                let name = format!("{} {}", n.swara.short(), n.sthayi.name());
                let chosen = memory.chosen == Some(i);
                let name = Button::selectable(chosen, RichText::new(name).size(size));
                let hover =
                    format!("show its line; twice, or Enter: hear it too\nsthayi: {}", words::explain("sthayi"));
                // Named by the note: whichever rows are drawn, the keyboard stays at this one.
                let own = UiBuilder::new().scope_id(Id::unique(("note of the list", i)));
                let name = ui.scope_builder(own, |ui| ui.add(name)).inner;
                if name.on_hover_text(hover).clicked() && !twice {
                    let entered = ui.input(|i| i.key_pressed(Key::Enter));
                    choose(memory, (entered || !chosen).then_some(i), actions);
                    if entered {
                        hear(view, i, actions);
                    }
                    memory.clicked = Some((i, now));
                }
                let ink = if chosen { on_lit } else { look.ink };
                let cell = |text: String| RichText::new(text).size(size).color(ink);
                if bars {
                    ui.label(cell(row.bar_beat.map_or_else(|| "–".to_owned(), |_| place(row))));
                }
                ui.label(cell(words::clock(row.start_s)));
                ui.label(cell(words::signed(n.offset)).monospace());
                if short < 2 {
                    ui.label(cell(format!("{:.1} s", row.end_s - row.start_s)));
                }
                if short < 1 {
                    ui.label(cell(format!("{:.0} % in", n.in_tune * 100.0)));
                }
                let (short, told): (Vec<String>, Vec<String>) = view.others_of(row).into_iter().unzip();
                if !short.is_empty() {
                    let quiet = if chosen { on_lit } else { look.quiet };
                    // A column is as wide as it was: without a width of its own the first long row would stay cut.
                    let room = if each > 0.0 { widest } else { ui.available_width() };
                    let text = RichText::new(shortened(ui, look, &short, room)).color(quiet);
                    let label = egui::Label::new(text).extend();
                    let place = vec2(room, ui.spacing().interact_size.y);
                    let layout = egui::Layout::left_to_right(egui::Align::Center);
                    ui.allocate_ui_with_layout(place, layout, |ui| ui.add(label).on_hover_text(told.join("\n")));
                }
                ui.end_row();
            }
        });
    });
    if says {
        ui.add(egui::Label::new(RichText::new(lasts).font(look.small()).color(look.quiet)).wrap());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::editor::sample;

    #[test]
    fn a_note_tells_under_which_sa_it_was_sung() {
        let mut view = sample::normal();
        assert!(!view.notes[0].under_another(view.sa));
        view.notes[0].sa = crate::units::Hertz(220.0);
        assert!(view.notes[0].under_another(view.sa));
        let text = csv(&view.notes, &[0, 1]);
        let lines: Vec<&str> = text.lines().collect();
        assert!(
            lines[0].ends_with(",sa_hz") && lines[1].ends_with(",220.00") && lines[2].ends_with(",146.83"),
            "{text}"
        );
    }

    #[test]
    fn the_list_filters_and_sorts() {
        let view = sample::normal();
        let oldest = Order { by: Sort::Time, turned: true };
        let all = listed(&view.notes, oldest, false);
        let outside = listed(&view.notes, Order { by: Sort::Offset, turned: false }, true);
        assert!(!all.is_empty() && outside.len() < all.len() && all.is_sorted());
        let newest = listed(&view.notes, Order::default(), false);
        assert!(newest.iter().rev().eq(&all), "what was just sung leads");
        assert!(outside.iter().all(|i| view.notes[*i].outside));
        let offsets: Vec<f64> = outside.iter().map(|i| view.notes[*i].note.offset.0.abs()).collect();
        assert!(offsets.is_sorted_by(|a, b| a >= b));
        let text = csv(&view.notes, &all);
        assert_eq!(text.lines().count(), all.len() + 1);
        // The first note stands at bar 1, beat 1; the second has none, as where the transport stood.
        let lines: Vec<Vec<&str>> = text.lines().map(|line| line.split(',').collect()).collect();
        assert_eq!(lines[0][2..4], ["bar", "beat"]);
        assert_eq!((&lines[1][2..4], &lines[2][2..4]), (&["1", "1"][..], &["", ""][..]));
        assert!(lines.iter().all(|line| line.len() == lines[0].len()));
    }
}
