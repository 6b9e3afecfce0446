//! What leads the checking face: the three notes most worth singing again, across its top, each heard by one press.
//!
//! In: parts of [`View`]. Out: drawing and [`Action`]s. Which notes they are was decided before.

use super::action::Action;
use super::checking::{Checking, choose};
use super::look::Look;
use super::troubles;
use super::view::{NoteRow, View};
use super::words;
use crate::swara::Sthayi;
use egui::accesskit::Role;
use egui::{Button, RichText, Ui, WidgetInfo};

/// So many are pointed at.
pub const MOST: usize = 3;
/// The word on the button that sounds one.
const HEAR: &str = "Hear";
/// The least size of their names, units.
const NAME: f32 = 18.0;

/// Bar and beat of a note, or its time where the host gave none.
#[must_use]
pub fn place(row: &NoteRow) -> String {
    row.bar_beat.map_or_else(|| words::clock(row.start_s), |(bar, beat)| format!("bar {bar}.{beat}"))
}

/// Note `index` of the list is to be heard as it was sung; the one that sounds ends.
pub fn hear(view: &View, index: usize, actions: &mut Vec<Action>) {
    let sounds = view.heard_note() == Some(index);
    actions.push(if sounds { Action::Hush } else { Action::PlayNote(index) });
}

/// Why no note can be heard, where none can.
#[must_use]
pub fn unheard(view: &View) -> Option<String> {
    view.trouble.host_silent.then(|| format!("nothing can be heard: the {}", troubles::stopped(view)))
}

/// The place in the list of the `nth` note that is pointed at.
#[must_use]
pub fn nth(view: &View, nth: usize) -> Option<usize> {
    view.again.iter().take(MOST).copied().filter(|i| *i < view.notes.len()).nth(nth)
}

/// The notes most worth singing again; `low`: in one line.
pub fn again(ui: &mut Ui, look: &Look, (view, low): (&View, bool), memory: &mut Checking, actions: &mut Vec<Action>) {
    if view.again.is_empty() {
        ui.label(RichText::new("No note to sing again yet.").color(look.quiet));
        return;
    }
    let size = if low { look.body().size } else { look.far.max(look.u(NAME)) };
    if !low {
        ui.label(RichText::new("Most worth singing again").strong().size(size));
    }
    ui.horizontal_wrapped(|ui| {
        if low {
            ui.label(RichText::new("Again").strong().size(size)).on_hover_text("most worth singing again");
        }
        for key in 0..MOST {
            let Some(index) = nth(view, key) else { break };
            let Some(row) = view.notes.get(index) else { break };
            // Name and way to hear it stay together.
            let text = name(row, low);
            let pad = 2.0 * ui.spacing().button_padding.x + ui.spacing().item_spacing.x;
            let width = |text: &str| {
                let font = look.words(size);
                ui.painter().layout_no_wrap(text.to_owned(), font, look.ink).size().x + pad
            };
            if width(&text) + width(HEAR) > ui.available_size_before_wrap().x && key > 0 {
                ui.end_row();
            }
            one(ui, size, (view, &text, index, key), memory, actions);
        }
    });
}

/// Which note it is: its swara, its register and its place.
#[must_use]
pub fn named(row: &NoteRow) -> String {
    format!("{}{} at {}", register(row), row.note.swara.short(), place(row))
}

/// Its register, where that is not madhya, and a gap.
fn register(row: &NoteRow) -> String {
    let sthayi = row.note.sthayi;
    if sthayi == Sthayi::MADHYA { String::new() } else { format!("{} ", sthayi.name()) }
}

/// Swara, offset and place of a note.
fn name(row: &NoteRow, short: bool) -> String {
    let n = &row.note;
    let register = register(row);
    let at = if short { "" } else { "at " };
    format!("{register}{} {} {at}{}", n.swara.short(), words::signed(n.offset), place(row))
}

fn one(
    ui: &mut Ui,
    size: f32,
    (view, text, index, key): (&View, &str, usize, usize),
    memory: &mut Checking,
    actions: &mut Vec<Action>,
) {
    let chosen = memory.chosen == Some(index);
    let name = Button::selectable(chosen, RichText::new(text).size(size)).frame_when_inactive(true);
    if ui.add(name).on_hover_text("show its line").clicked() {
        choose(memory, Some(index), actions);
        memory.reveal = true;
    }
    let sounds = view.heard_note() == Some(index);
    let word = if sounds { "Stop" } else { HEAR };
    let button = ui.add(Button::selectable(sounds, RichText::new(word).size(size)).frame_when_inactive(true));
    // In words too, for whoever does not point at it.
    let why = unheard(view).map_or_else(String::new, |why| format!(": {why}"));
    let told = format!("{word} {text}{why}");
    button.widget_info(|| WidgetInfo::selected(Role::Button, true, sounds, &told));
    let hover = || format!("key {}: as it was sung, its drift and its waver too, against the drone", key + 4);
    if button.on_hover_text(unheard(view).unwrap_or_else(hover)).clicked() {
        hear(view, index, actions);
    }
}
