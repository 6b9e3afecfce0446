//! The word for a moment that was just marked: it is typed at once, on whatever face is up.
//!
//! In: [`Marking`], begun when the moment is marked. Out: [`Action::Word`], once. The moment is marked before its word is there, so
//! that typing takes nothing from its time; Enter keeps the word, Escape leaves the moment without one, and whoever goes elsewhere
//! keeps what was typed.

use super::action::Action;
use super::field::ended;
use super::look::Look;
use super::words;
use egui::{Id, Key, RichText, TextEdit, Ui};

/// Width of the field, units.
const FIELD: f32 = 160.0;

/// A moment whose word is being typed.
#[derive(Debug, Clone)]
pub struct Marking {
    /// When it is, seconds.
    at_s: f64,
    word: String,
    /// The field was not drawn yet.
    fresh: bool,
    /// What had the keyboard before: it has it again when the word is finished.
    before: Option<Id>,
}

impl Marking {
    /// `word` is what was typed already; from the next frame on the keyboard belongs to the field.
    #[must_use]
    pub fn begin(ctx: &egui::Context, at_s: f64, word: String) -> Self {
        let before = ctx.memory(|m| m.focused());
        ctx.memory_mut(|m| m.request_focus(field()));
        Self { at_s, word, fresh: true, before }
    }
}

fn field() -> Id {
    Id::unique("the word of a mark")
}

/// Draws the field; what is left of it after this frame.
pub fn strip(ui: &mut Ui, look: &Look, mut marking: Marking, actions: &mut Vec<Action>) -> Option<Marking> {
    let (left, escaped) = ui
        .horizontal_wrapped(|ui| {
            let size = look.far_up_to(17.0);
            ui.label(RichText::new(format!("Marked at {}.", words::clock(marking.at_s))).size(size));
            let label = ui.label(RichText::new("Word").size(size));
            let edit = TextEdit::singleline(&mut marking.word).id(field()).font(look.words(size));
            let edit = ui.add(edit.desired_width(look.u(FIELD))).labelled_by(label.id);
            ui.label(RichText::new("Enter keeps the word, Esc none").color(look.quiet));
            (!edit.has_focus(), ui.input(|i| i.key_pressed(Key::Escape)))
        })
        .inner;
    if std::mem::take(&mut marking.fresh) || !left {
        return Some(marking);
    }
    if let Some(before) = marking.before.filter(|_| ended(ui)) {
        ui.memory_mut(|m| m.request_focus(before));
    }
    actions.push(Action::Word(if escaped { String::new() } else { marking.word }));
    None
}
