//! The line above the bar: the caution once, what is wrong, what was just done.
//!
//! In: parts of [`View`]. Out: drawing, presses, and the [`Action`] of its button.

use super::action::Action;
use super::controls::once;
use super::fonts;
use super::keys::Press;
use super::look::Look;
use super::troubles::{back_word, troubles};
use super::view::View;
use super::words;
use egui::{Button, RichText, Ui};

/// A sentence longer than this is to be read close by, letters.
const LONG_WORDS: usize = 150;

/// The widest that the button to more is.
const MOST_MORE: &str = "and 10 more";

/// The least room for words beside the banner's buttons, units.
const LEAST_WORDS: f32 = 420.0;

/// Whether what the banner says may wait until nobody sings: where the sound has ended, nothing is sung before that is mended.
#[must_use]
pub fn may_wait(view: &View) -> bool {
    !view.trouble.host_silent && view.unheard_hz.is_none()
}

/// Whether the banner has anything to say.
#[must_use]
pub fn has_banner(view: &View) -> bool {
    !view.caution_read || !view.said.is_empty() || !troubles(view).is_empty()
}

/// The banner: the caution once, else what is wrong, else what was just done. Its words are read from two metres where the
/// window has the room; its buttons stand in the corner, whatever the words are.
pub fn banner(ui: &mut Ui, look: &Look, view: &View, presses: &mut Vec<Press>, actions: &mut Vec<Action>) {
    // Without sound nothing can be sung: the way out comes before the caution.
    let dead = view.trouble.host_silent && view.device.is_some();
    if !view.caution_read && view.said.is_empty() && !dead {
        let does = "puts this line away";
        if said(ui, look, (words::CAUTION, false), [Some("Understood"), None], does) == Some(0) {
            actions.push(Action::CautionRead);
        }
        return;
    }
    let troubles = troubles(view);
    let first = troubles.first().cloned();
    let shown = if view.said.is_empty() {
        first
    } else {
        // The way to have sound again stands beside whatever is said; else the way back to the Sa that was just left.
        let back = view.sa_before.clone().filter(|_| !dead).map(|(sa, name)| (back_word(&name), Action::AdoptSa(sa)));
        let anew = first.and_then(|(_, ask)| ask).filter(|_| dead);
        Some((view.said.clone(), anew.or(back)))
    };
    let Some((text, ask)) = shown else { return };
    // A line about what was just done stands in nobody's place but that of the one whose button it bears.
    let told = usize::from(view.said.is_empty() || ask.is_some());
    let more = Some(troubles.len().saturating_sub(told)).filter(|n| *n > 0).map(|n| format!("and {n} more"));
    let text = fonts::shown(ui.ctx(), &text);
    let buttons = [ask.as_ref().map(|(word, _)| word.as_ref()), more.as_deref()];
    let does =
        if view.said.is_empty() || dead { "what can be done about it" } else { "Sa is again what it was before" };
    match (said(ui, look, (&text, view.said.is_empty()), buttons, does), ask) {
        (Some(0), Some((_, action))) => actions.push(action),
        (Some(_), _) => presses.push(Press::State),
        (None, _) => {}
    }
}

/// Words with their button and the one that tells of more, which stand in the right lower corner whatever the words are; which
/// of the two was pressed. `does`: what the first of them does.
fn said(
    ui: &mut Ui,
    look: &Look,
    (text, wrong): (&str, bool),
    buttons: [Option<&str>; 2],
    does: &str,
) -> Option<usize> {
    let (gap, pad) = (ui.spacing().item_spacing.x, ui.spacing().button_padding);
    let button = look.words(look.far_up_to(17.0));
    let size_of = |word: &str| {
        let size = ui.painter().layout_no_wrap(word.to_owned(), button.clone(), look.ink).size() + 2.0 * pad;
        egui::vec2(size.x.ceil(), size.y.max(ui.spacing().interact_size.y))
    };
    // The place of what tells of more is kept while there is a button beside it.
    let more = size_of(MOST_MORE);
    let [own, second] = buttons.map(|word| word.map(size_of));
    let taken = own.map_or(0.0, |size| size.x + gap) + if own.or(second).is_some() { more.x + gap } else { 0.0 };
    let full = ui.available_width();
    let sign = if wrong { look.far_up_to(19.0) } else { 0.0 };
    let font = look.words(if text.len() > LONG_WORDS { look.body().size } else { look.far });
    // Where too little room is left beside the buttons, they have a line of their own.
    let beside = full - taken >= look.u(LEAST_WORDS);
    let room = full - sign - gap - if beside { taken } else { 0.0 };
    let height = ui.painter().layout(text.to_owned(), font.clone(), look.ink, room).size().y;
    let tall = match (taken > 0.0, beside) {
        (false, _) => height,
        (true, true) => height.max(more.y),
        (true, false) => height + gap + more.y,
    };
    let (all, _) = ui.allocate_exact_size(egui::vec2(full, tall), egui::Sense::hover());
    let words = egui::Rect::from_min_size(all.min + egui::vec2(sign + gap, 0.0), egui::vec2(room, height));
    if wrong {
        let at = egui::pos2(all.left() + sign / 2.0, words.top() + font.size * 0.6);
        paint_triangle(ui, look, egui::Rect::from_center_size(at, egui::Vec2::splat(sign * 0.8)));
    }
    super::look::paragraph(ui, words, RichText::new(text).font(font));
    let mut pressed = None;
    let places = [all.right() - more.x - gap, all.right()];
    let hovers = [does, "key I: all that wants a word"];
    for (i, ((word, right), hover)) in buttons.into_iter().zip(places).zip(hovers).enumerate() {
        let Some(word) = word else { continue };
        let size = own.filter(|_| i == 0).unwrap_or(more);
        let place = egui::Rect::from_min_size(egui::pos2(right - size.x, all.bottom() - size.y), size);
        let button = Button::new(RichText::new(word).font(button.clone())).wrap_mode(egui::TextWrapMode::Extend);
        if ui.put(place, button).on_hover_text(hover).clicked() && once(ui) {
            pressed = Some(i);
        }
    }
    pressed
}

/// The sign beside a line that wants attention.
pub fn triangle(ui: &mut Ui, look: &Look) {
    let (rect, _) = ui.allocate_exact_size(egui::vec2(look.u(13.0), look.u(13.0)), egui::Sense::hover());
    paint_triangle(ui, look, rect);
}

fn paint_triangle(ui: &Ui, look: &Look, rect: egui::Rect) {
    let points = vec![rect.center_top(), rect.right_bottom(), rect.left_bottom()];
    ui.painter().add(egui::Shape::convex_polygon(points, look.alert, egui::Stroke::NONE));
}
