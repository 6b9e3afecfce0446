//! What a picture means, told where the pointer rests.
//!
//! In: the response of what is pointed at, and words. Out: a box beside what it explains, where nothing is pressed; where controls
//! lie all about it, over the foot of what it explains. It comes once the pointer has rested for a moment and goes by itself, since a
//! pointer that was left there is not asking; moving it asks anew. Assistive technology reads it as text.

use super::look::Look;
use egui::{Area, Frame, Label, Order, Rect, Response, RichText, Stroke, Ui, pos2, vec2};

/// How long the pointer rests before it is told, and how long that stands, seconds.
pub const RESTS_S: f32 = 0.8;
/// How long what is told stands, seconds.
pub const STANDS_S: f32 = 6.0;
/// Between words and the edge of their box, units.
const PAD: f32 = 6.0;
/// The least width of the words, units.
const LEAST: f32 = 240.0;

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
    // As wide as what it explains: beside that lies something else.
    let widest = (screen.width() - 4.0 * pad).min(about.width() - 2.0 * pad).max(look.u(LEAST));
    let words = ui.painter().layout(text.to_owned(), look.body(), look.ink, widest);
    let size = words.size() + vec2(2.0 * pad, 2.0 * pad);
    let inside = |x: f32, y: f32| {
        let x = x.min(screen.right() - size.x).max(screen.left());
        Rect::from_min_size(pos2(x, y.min(screen.bottom() - size.y).max(screen.top())), size)
    };
    let (left, level) = (about.left(), response.rect.center().y - size.y / 2.0);
    // Beside what it explains, then within it, then at the window's edges: the first where nothing is pressed.
    let places = [
        inside(left, about.bottom() + 1.0),
        inside(left, about.top() - size.y - 1.0),
        inside(about.left() - size.x - 1.0, level),
        inside(about.right() + 1.0, level),
        inside(left, about.bottom() - size.y),
        inside(left, about.top()),
        inside(left, screen.bottom()),
        inside(left, screen.top()),
    ];
    // A row is a control like its neighbours; a picture that is explained is none.
    let controls = controls(ui, (response.rect == about).then_some(response));
    let pointer = ui.input(|i| i.pointer.latest_pos());
    let covered = |place: &Rect| {
        let covered = controls.iter().map(|control| common(*control, *place)).sum::<f32>();
        covered + if pointer.is_some_and(|at| place.contains(at)) { 1.0 } else { 0.0 }
    };
    let least = places.into_iter().min_by(|a, b| covered(a).total_cmp(&covered(b)));
    let place = least.unwrap_or_else(|| inside(left, screen.bottom()));
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

/// Where what is pressed lay in the frame before; but for a picture that is explained.
fn controls(ui: &Ui, picture: Option<&Response>) -> Vec<Rect> {
    let explained = picture.map(|picture| picture.id);
    let pressed = |w: &egui::WidgetRect| Some(w.id) != explained && w.sense.is_focusable();
    ui.ctx().viewport(|v| {
        let all = v.prev_pass.widgets.get_layer(ui.layer_id());
        all.filter(|w| pressed(w)).map(|w| w.interact_rect).collect()
    })
}

/// How much two places have in common, square points.
fn common(a: Rect, b: Rect) -> f32 {
    let common = a.intersect(b);
    common.width().max(0.0) * common.height().max(0.0)
}
