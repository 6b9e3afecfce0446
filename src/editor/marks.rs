//! The sheet of all marked moments: each with its word, each opens its moment.
//!
//! In: the marks. Out: [`Action`]s. A mark that a pedal or the host made has its word here. Enter keeps a word, and so does going
//! elsewhere; Escape leaves it as it was.

use super::action::Action;
use super::field::field;
use super::look::Look;
use super::view::{Face, Mark, View};
use super::words;
use egui::{Button, Key, RichText, TextEdit, Ui};

/// Width of a word's field, units.
const FIELD: f32 = 200.0;
/// And the least, units.
const LEAST_FIELD: f32 = 60.0;
/// What the button that takes a mark away says, and what at the second press.
const REMOVE: &str = "Remove";
const SURE: &str = "Yes, remove";
/// How long it waits for that, seconds.
const ASKS_S: f64 = 4.0;

/// What is being done with a mark.
#[derive(Debug, Clone, Default)]
pub struct Typing {
    /// The word that is being typed: which mark's, and what.
    word: Option<(u64, String)>,
    /// The mark that was asked to go, and until when it waits for the second press, window's clock.
    going: Option<(u64, f64)>,
}

/// Draws the sheet.
pub fn sheet(ui: &mut Ui, look: &Look, view: &View, typing: &mut Typing, actions: &mut Vec<Action>) {
    if view.marks.is_empty() {
        ui.label("No moment is marked yet: key M marks one, and so does the parameter Mark on a pedal.");
        return;
    }
    let about = format!(
        "Press a time to lay that moment beside now; each may have a word. {}",
        words::lasts(view, "Marks and notes are here")
    );
    ui.label(RichText::new(about).color(look.quiet));
    // The newest is what one looks for.
    for mark in view.marks.iter().rev() {
        ui.horizontal(|ui| row(ui, look, (view, mark), typing, actions));
    }
}

fn row(ui: &mut Ui, look: &Look, (view, mark): (&View, &Mark), typing: &mut Typing, actions: &mut Vec<Action>) {
    let shown = view.replay.as_ref().is_some_and(|r| (r.time_s - mark.time_s).abs() < 1e-9);
    let time = words::clock(mark.time_s);
    let open = ui.add(Button::selectable(shown, &time).frame_when_inactive(true));
    if open.on_hover_text("lay this moment beside now").clicked() {
        actions.push(Action::Replay((!shown).then_some(mark.id)));
        if !shown {
            actions.push(Action::Show(Face::Teaching));
        }
    }
    let mut word = match &typing.word {
        Some((id, word)) if *id == mark.id => word.clone(),
        _ => mark.word.clone(),
    };
    let edit = TextEdit::singleline(&mut word).hint_text("a word");
    let (id, name) = (ui.scope_id().with(("word", mark.id)), format!("Word at {time}"));
    // The widest that the button behind it gets.
    let button = ui.painter().layout_no_wrap(SURE.to_owned(), look.body(), look.ink).size().x;
    let button = button + 2.0 * ui.spacing().button_padding.x + ui.spacing().item_spacing.x;
    let room = (ui.available_width() - button).max(look.u(LEAST_FIELD));
    let edit = field(ui, id, &name, edit.desired_width(look.u(FIELD).min(room)));
    edit.widget_info(|| {
        let mut info = egui::WidgetInfo::text_edit(true, &mark.word, &word, "a word");
        info.label = Some(name.clone());
        info
    });
    if edit.lost_focus() {
        let left = typing.word.take().filter(|(id, _)| *id == mark.id && !ui.input(|i| i.key_pressed(Key::Escape)));
        if let Some((id, word)) = left.filter(|(_, word)| *word != mark.word) {
            actions.push(Action::NameMark(id, word));
        }
    } else if edit.has_focus() {
        typing.word = Some((mark.id, word));
    }
    remove(ui, mark, &time, typing, actions);
}

/// The button that takes a mark away, at the second press.
fn remove(ui: &mut Ui, mark: &Mark, time: &str, typing: &mut Typing, actions: &mut Vec<Action>) {
    let now = ui.input(|i| i.time);
    let sure = typing.going.is_some_and(|(id, until)| id == mark.id && now <= until);
    let word = if sure { SURE } else { REMOVE };
    let button = ui.button(word);
    let name = format!("{word} the mark at {time}");
    button.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, &name));
    let button = button.on_hover_text("this mark and its word go; asked once more");
    if button.clicked() {
        typing.going = (!sure).then_some((mark.id, now + ASKS_S));
        if sure {
            actions.push(Action::DropMark(mark.id));
        }
    }
}
