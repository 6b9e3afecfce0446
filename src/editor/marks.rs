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

/// The word that is being typed: which mark's, and what.
#[derive(Debug, Clone, Default)]
pub struct Typing(Option<(u64, String)>);

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
    let mut word = match &typing.0 {
        Some((id, word)) if *id == mark.id => word.clone(),
        _ => mark.word.clone(),
    };
    let edit = TextEdit::singleline(&mut word).hint_text("a word");
    let (id, name) = (ui.scope_id().with(("word", mark.id)), format!("Word at {time}"));
    let edit = field(ui, id, &name, edit.desired_width(look.u(FIELD).min(ui.available_width())));
    edit.widget_info(|| {
        let mut info = egui::WidgetInfo::text_edit(true, &mark.word, &word, "a word");
        info.label = Some(name.clone());
        info
    });
    if edit.lost_focus() {
        let left = typing.0.take().filter(|(id, _)| *id == mark.id && !ui.input(|i| i.key_pressed(Key::Escape)));
        if let Some((id, word)) = left.filter(|(_, word)| *word != mark.word) {
            actions.push(Action::NameMark(id, word));
        }
    } else if edit.has_focus() {
        typing.0 = Some((mark.id, word));
    }
}
