//! The checking face: the notes most worth singing again, the meter large, and every held note.
//!
//! In: parts of [`View`]. Out: drawing and [`Action`]s. Which notes are worth it was decided before.

use super::action::{Action, Export};
use super::again::{again, hear, place};
use super::figure::Figure;
use super::look::{Look, write};
use super::meter::{Meter, meter};
use super::view::{NoteRow, View};
use super::ways::Ways;
use super::words;
use crate::note::Kind;
use egui::{Button, Grid, Rect, RichText, ScrollArea, Ui, UiBuilder, pos2, vec2};

/// Seconds of line shown before and after a note.
pub const AROUND_S: f64 = 0.5;

/// What is not judged at either end of a note, seconds.
const EDGE_S: f64 = 0.15;

/// Columns of the list as wide as this or more are spread over its width, units.
const LEAST_COLUMN: f32 = 74.0;
/// What a spread column takes of its part at least: the widest may need more.
const COLUMN_SHARE: f32 = 0.94;

/// How the list is sorted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Sort {
    /// As sung.
    #[default]
    Time,
    /// Swara by swara.
    Swara,
    /// Farthest off first.
    Offset,
    /// Longest first.
    Length,
}

/// What this face remembers.
#[derive(Debug, Clone, Default)]
pub struct Checking {
    /// The order of the list.
    pub sort: Sort,
    /// Only notes outside the band.
    pub outside: bool,
    /// The note whose line is shown.
    pub chosen: Option<usize>,
    /// It was chosen elsewhere: the list is to come to it.
    pub reveal: bool,
}

/// Indices of the held notes, filtered and sorted.
#[must_use]
pub fn listed(notes: &[NoteRow], sort: Sort, outside: bool) -> Vec<usize> {
    let mut list: Vec<(usize, &NoteRow)> =
        notes.iter().enumerate().filter(|(_, n)| n.note.kind == Kind::Held && (!outside || n.outside)).collect();
    match sort {
        Sort::Time => {}
        Sort::Swara => list.sort_by_key(|(_, n)| (n.note.swara, n.note.sthayi)),
        Sort::Offset => list.sort_by(|(_, a), (_, b)| b.note.offset.0.abs().total_cmp(&a.note.offset.0.abs())),
        Sort::Length => list.sort_by(|(_, a), (_, b)| (b.end_s - b.start_s).total_cmp(&(a.end_s - a.start_s))),
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

/// The checking face.
pub fn checking(
    ui: &mut Ui,
    area: Rect,
    look: &Look,
    (view, memory): (&View, &mut Checking),
    actions: &mut Vec<Action>,
) {
    let area = area.shrink2(vec2(look.u(12.0), look.u(4.0)));
    // They lead, whatever the window's shape.
    let lead = ui.scope_builder(UiBuilder::new().max_rect(area), |ui| again(ui, look, view, memory, actions));
    let top = (lead.response.rect.bottom() + look.u(6.0)).min(area.bottom());
    let area = Rect::from_min_max(pos2(area.left(), top), area.max);
    let wide = area.width() >= look.u(780.0);
    let (left, right) = if wide {
        area.split_left_right_at_x(area.left() + area.width() * 0.5)
    } else {
        area.split_top_bottom_at_y(area.top() + area.height() * 0.42)
    };
    let right = if wide { Rect::from_min_max(right.min + vec2(look.u(14.0), 0.0), right.max) } else { right };
    let practice = words::long_tone(&view.long_tone);
    let foot = if practice.is_some() { look.u(22.0) } else { 0.0 };
    let (left, foot) = left.split_top_bottom_at_y(left.bottom() - foot);
    meter(ui, left, look, &Meter::of(view), actions);
    if let Some(practice) = practice {
        let response = ui.interact(foot, ui.scope_id().with("practice"), egui::Sense::hover());
        response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Label, true, &practice));
        let at = (foot.left_center(), egui::Align2::LEFT_CENTER);
        write(ui.painter(), at, &practice, (look.body(), look.quiet), foot.width());
    }
    ui.scope_builder(UiBuilder::new().max_rect(right), |ui| {
        ui.set_clip_rect(right.intersect(ui.clip_rect()));
        if wide {
            notes(ui, look, view, memory, actions);
        } else {
            // Too low for a list under its tools: all of it scrolls.
            ScrollArea::vertical().id_salt("checking").auto_shrink(false).show(ui, |ui| {
                notes(ui, look, view, memory, actions);
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
fn looked_at(ui: &mut Ui, look: &Look, view: &View, index: usize, actions: &mut Vec<Action>) {
    let Some(row) = view.notes.get(index) else { return };
    ui.horizontal_wrapped(|ui| {
        let sounds = view.sounding == Some(index);
        let sung = ui.add(Button::selectable(sounds, "Hear it as sung").frame_when_inactive(true));
        if sung
            .on_hover_text("its line as a tone, drift and waver included: against the drone it beats as it did")
            .clicked()
        {
            hear(view, index, actions);
        }
        if ui.button("Hear the swara").on_hover_text("where it should have been").clicked() {
            actions.push(Action::PlayTarget(index));
        }
        ui.label(RichText::new(words::noticed(&row.note)).color(look.quiet));
    });
    let height = (ui.available_height() * 0.4).clamp(look.u(90.0), look.u(150.0));
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), egui::Sense::hover());
    let said = format!("the line of {} at {}", row.note.swara.short(), place(row));
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Label, true, &said));
    let Some(shown) = view.shown_note.as_ref().filter(|shown| shown.index == index) else { return };
    let painter = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
    let span = (row.start_s - AROUND_S, row.end_s + AROUND_S);
    // A spike of its onset is no reason to draw the rest small.
    let meant = Some((row.start_s + EDGE_S, row.end_s - EDGE_S)).filter(|(from, to)| to > from);
    let ways = Ways::of(view);
    Figure { line: &shown.line, targets: &view.targets, ways, marks: &[], span, meant }.draw(&painter, rect, look);
}

/// Every held note.
fn notes(ui: &mut Ui, look: &Look, view: &View, memory: &mut Checking, actions: &mut Vec<Action>) {
    let list = listed(&view.notes, memory.sort, memory.outside);
    ui.horizontal_wrapped(|ui| {
        for (sort, name) in
            [(Sort::Time, "time"), (Sort::Swara, "swara"), (Sort::Offset, "offset"), (Sort::Length, "length")]
        {
            let button = Button::selectable(memory.sort == sort, name);
            if ui.add(button).on_hover_text("sort the list").clicked() {
                memory.sort = sort;
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
    if let Some(i) = memory.chosen {
        looked_at(ui, look, view, i, actions);
    }
    if list.is_empty() {
        ui.label(RichText::new("No held note in the list.").color(look.quiet));
        return;
    }
    let row = ui.spacing().interact_size.y;
    // All of the width is used, where the list has more than it needs.
    let others = list.iter().any(|i| view.notes.get(*i).is_some_and(|row| row.under_another(view.sa)));
    // Bar and beat, and the time, each in its place.
    let bars = list.iter().any(|i| view.notes.get(*i).is_some_and(|row| row.bar_beat.is_some()));
    let columns = 5 + usize::from(others) + usize::from(bars);
    let each = ui.available_width() / columns as f32 - ui.spacing().item_spacing.x;
    let each = if each >= look.u(LEAST_COLUMN) { each * COLUMN_SHARE } else { 0.0 };
    let size = if each > 0.0 { look.far_up_to(17.0) } else { look.body().size };
    let mut area = ScrollArea::vertical().id_salt("notes").auto_shrink(false);
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
    area.show_rows(ui, row, list.len(), |ui, shown| {
        let grid = Grid::new(("notes", columns)).with_row_color(color).num_columns(columns).min_col_width(each);
        grid.min_row_height(row).start_row(shown.start).show(ui, |ui| {
            for i in list.into_iter().skip(shown.start).take(shown.len()) {
                let Some(row) = view.notes.get(i) else { continue };
                let n = &row.note;
                let name = format!("{} {}", n.swara.short(), n.sthayi.name());
                let chosen = memory.chosen == Some(i);
                let name = Button::selectable(chosen, RichText::new(name).size(size));
                let hover = format!("show its line\nsthayi: {}", words::explain("sthayi"));
                if ui.add(name).on_hover_text(hover).clicked() {
                    choose(memory, (!chosen).then_some(i), actions);
                }
                let ink = if chosen { on_lit } else { look.ink };
                let cell = |text: String| RichText::new(text).size(size).color(ink);
                if bars {
                    ui.label(cell(row.bar_beat.map_or_else(|| "–".to_owned(), |_| place(row))));
                }
                ui.label(cell(words::clock(row.start_s)));
                ui.label(cell(words::signed(n.offset)).monospace());
                ui.label(cell(format!("{:.1} s", row.end_s - row.start_s)));
                ui.label(cell(format!("{:.0} % in", n.in_tune * 100.0)));
                if row.under_another(view.sa) {
                    let quiet = if chosen { on_lit } else { look.quiet };
                    let text = RichText::new(format!("from Sa {:.1} Hz", row.sa.0)).color(quiet);
                    ui.label(text).on_hover_text("sung while Sa was set there: its swara and offset count from it");
                }
                ui.end_row();
            }
        });
    });
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
        let all = listed(&view.notes, Sort::Time, false);
        let outside = listed(&view.notes, Sort::Offset, true);
        assert!(!all.is_empty() && outside.len() < all.len());
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
