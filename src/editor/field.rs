//! A field of one line, and where the keyboard is when what was typed there is finished.
//!
//! In: a text field, its place among the controls and its name. Out: its response. Of itself the toolkit leaves the keyboard nowhere
//! after Enter or Escape, so that the next Tab would begin at the top of the window. Here the field then *rests*: it keeps its
//! place and its ring, letters are keys again, Tab and Shift+Tab go to its neighbours, and Enter or a press types again.

use egui::accesskit::Role;
use egui::{Id, Key, Response, Sense, StrokeKind, TextEdit, Ui, WidgetInfo};

/// What has the keyboard while a field rests.
fn place(id: Id) -> Id {
    id.with("rests")
}

/// Whether the keyboard is at this field without typing in it.
#[must_use]
pub fn rests(ui: &Ui, id: Id) -> bool {
    ui.memory(|m| m.has_focus(place(id)))
}

/// The field is left as it is, and the keyboard stays at it.
pub fn rest(ui: &Ui, id: Id) {
    ui.memory_mut(|m| m.request_focus(place(id)));
}

/// Draws the field.
pub fn field(ui: &mut Ui, id: Id, name: &str, edit: TextEdit<'_>) -> Response {
    let resting = rests(ui, id);
    // One that rests is no stop of its own beside its place.
    let response = ui.add(edit.id(id).interactive(!resting));
    if resting {
        let place = ui.interact(response.rect, place(id), Sense::click());
        place.widget_info(|| WidgetInfo::labeled(Role::Button, true, format!("{name}: press to type again")));
        let ring = ui.visuals().widgets.active.bg_stroke;
        ui.painter().rect_stroke(response.rect, 0.0, ring, StrokeKind::Inside);
        // Assistive technology knows the field, not its place.
        let asked = ui.input(|i| i.has_accesskit_action_request(id, egui::accesskit::Action::Focus));
        if place.clicked() || asked {
            ui.memory_mut(|m| m.request_focus(id));
        }
    } else if response.lost_focus() && ended(ui) {
        rest(ui, id);
    }
    response
}

/// Whether the typing was ended in this frame, rather than left for another control.
#[must_use]
pub fn ended(ui: &Ui) -> bool {
    ui.input(|i| i.key_pressed(Key::Enter) || i.key_pressed(Key::Escape))
}

/// Whether what was typed was finished with Enter.
#[must_use]
pub fn entered(ui: &Ui, field: &Response) -> bool {
    field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter))
}
