//! What has the keyboard is in sight, in whatever scrolls.
//!
//! In: a scrolled part that was just drawn. Out: it scrolls as far as the control wants that just got the keyboard, and no farther.
//! A long list draws one row more above and below than is seen, so that Tab finds the next one; its
//! controls are named by what they stand for, not by where they are drawn.

use egui::style::ScrollAnimation;
use egui::{Id, Rect, ScrollArea, Ui, UiBuilder, vec2};
use std::ops::Range;

/// To be called last within what scrolls.
pub fn follow(ui: &Ui) {
    let key = ui.scope_id().with("had the keyboard");
    let focused = ui.memory(|m| m.focused());
    let before: Option<Option<Id>> = ui.data(|data| data.get_temp(key));
    ui.data_mut(|data| data.insert_temp(key, focused));
    // What is pressed with the pointer is seen, and must not move away below it.
    let pointed = ui.input(|i| i.pointer.any_down() || i.pointer.any_click());
    let Some(id) = focused.filter(|_| before.flatten() != focused && !pointed) else { return };
    let layer = ui.layer_id();
    let found = ui.ctx().viewport(|v| v.this_pass.widgets.get(id).copied());
    let Some(place) = found.filter(|w| w.layer_id == layer).map(|w| w.rect) else { return };
    // What lies elsewhere in the window is not in here.
    if !ui.min_rect().expand(1.0).contains(place.center()) {
        return;
    }
    let room = vec2(0.0, ui.spacing().item_spacing.y);
    ui.scroll_to_rect_animation(place.expand2(room), None, ScrollAnimation::none());
}

/// A list of rows of one height, of which those are drawn that are seen and one beside them at either end.
pub fn rows(area: ScrollArea, ui: &mut Ui, height: f32, count: usize, mut draw: impl FnMut(&mut Ui, Range<usize>)) {
    let each = height + ui.spacing().item_spacing.y;
    area.show_viewport(ui, |ui, seen| {
        ui.set_height((each * count as f32 - ui.spacing().item_spacing.y).max(0.0));
        let at = |y: f32| crate::units::num::index(f64::from((y / each).max(0.0)));
        let first = at(seen.min.y).saturating_sub(1).min(count);
        let last = (at(seen.max.y) + 2).min(count);
        let top = ui.max_rect().top() + first as f32 * each;
        let bottom = ui.max_rect().top() + last as f32 * each;
        let place = Rect::from_x_y_ranges(ui.max_rect().x_range(), top..=bottom);
        ui.scope_builder(UiBuilder::new().max_rect(place), |ui| draw(ui, first..last));
        follow(ui);
    });
}
