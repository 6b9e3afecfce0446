//! What a picture means, told where the pointer rests.
//!
//! In: the response of what is pointed at, and words. Out: a box at the foot of the window, over the bar of buttons; or at its head,
//! where it would else lie over what it explains. It comes once the pointer has rested for a moment and goes by itself, since a
//! pointer that was left there is not asking; moving it asks anew. Assistive technology reads it as text.

use super::look::Look;
use egui::{Area, Frame, Label, Order, Rect, Response, RichText, Stroke, Ui, pos2, vec2};

/// How long the pointer rests before it is told, and how long that stands, seconds.
pub const RESTS_S: f32 = 0.8;
/// How long what is told stands, seconds.
pub const STANDS_S: f32 = 6.0;
/// Between words and the edge of their box, units.
const PAD: f32 = 6.0;

/// Tells `text` about `response`, whose picture lies within `about`.
pub fn hint(ui: &Ui, look: &Look, (response, about): (&Response, Rect), text: &str) {
    if !response.hovered() || ui.input(|i| i.pointer.any_down()) {
        return;
    }
    let rested = ui.input(|i| i.pointer.time_since_last_movement());
    let ends = RESTS_S + STANDS_S;
    // The frame in which it comes or goes is drawn, also while nothing sounds.
    if let Some(next) = [RESTS_S, ends].into_iter().find(|t| rested < *t) {
        ui.ctx().request_repaint_after_secs(next - rested);
    }
    if !(RESTS_S..ends).contains(&rested) {
        return;
    }
    let screen = ui.ctx().content_rect();
    let pad = look.u(PAD);
    // Wide rather than high: the bar is low.
    let widest = screen.width() - 4.0 * pad;
    let words = ui.painter().layout(text.to_owned(), look.body(), look.ink, widest);
    let size = words.size() + vec2(2.0 * pad, 2.0 * pad);
    let left = about.left().min(screen.right() - size.x).max(screen.left());
    let foot = Rect::from_min_size(pos2(left, screen.bottom() - size.y), size);
    let head = Rect::from_min_size(pos2(left, screen.top()), size);
    let covers = |place: Rect| {
        let common = place.intersect(about);
        common.width().max(0.0) * common.height().max(0.0)
    };
    let place = if covers(foot) <= covers(head) { foot } else { head };
    // Not in the way of anything that is pressed.
    let area = Area::new(response.id.with("told")).order(Order::Tooltip).fixed_pos(place.min).interactable(false);
    area.show(ui.ctx(), |ui| {
        let frame = Frame::NONE.fill(look.raised).stroke(Stroke::new(1.0, look.quiet)).inner_margin(pad - 1.0);
        frame.show(ui, |ui| {
            ui.set_width(words.size().x);
            ui.add(Label::new(RichText::new(text).font(look.body()).color(look.ink)).wrap());
        });
    });
}
