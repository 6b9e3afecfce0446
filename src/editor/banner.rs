//! The lines above the bar: the caution once, what is wrong, what was just done.
//!
//! In: parts of [`View`]. Out: drawing, presses, and the [`Action`] of its button.

use super::action::Action;
use super::controls::once;
use super::fonts;
use super::keys::Press;
use super::look::Look;
use super::troubles::{Remark, back_word, faults, troubles};
use super::view::View;
use super::words;
use egui::{Button, FontId, RichText, Ui};

/// A sentence longer than this is to be read close by, letters.
const LONG_WORDS: usize = 150;

/// The widest that the button to more is.
const MOST_MORE: &str = "and 10 more";

/// What the button of a remark does.
const TO_DO: &str = "what can be done about it";

/// The least room for words beside the banner's buttons, units.
const LEAST_WORDS: f32 = 420.0;

/// Whether what the banner says may wait until nobody sings: where no sound comes, nothing is sung before that is mended.
#[must_use]
pub fn may_wait(view: &View) -> bool {
    let nothing = view.device.as_ref().is_some_and(|device| device.nothing);
    !view.trouble.host_silent && !nothing && view.unheard_hz.is_none()
}

/// Whether the banner has anything to say.
#[must_use]
pub fn has_banner(view: &View) -> bool {
    !view.caution_read || !view.said.is_empty() || !troubles(view).is_empty()
}

/// The banner: the caution once, with what is wrong with the sound above it; else what is wrong, else what was just done. Its words
/// are read from two metres where the window has the room; its buttons stand in the corner, whatever the words are. `room`: the
/// height that it may take beside what must stay in sight.
pub fn banner(ui: &mut Ui, look: &Look, view: &View, room: f32, presses: &mut Vec<Press>, actions: &mut Vec<Action>) {
    if !view.caution_read && view.said.is_empty() {
        first_opening(ui, look, view, room, presses, actions);
        return;
    }
    let troubles = troubles(view);
    if view.said.is_empty() {
        if let Some(first) = troubles.first() {
            trouble(ui, look, first, troubles.len() - 1, presses, actions);
        }
        return;
    }
    // The way to have sound again stands beside whatever is said; else the way back to the Sa that was just left.
    let dead = view.trouble.host_silent && view.device.is_some();
    let back = view.sa_before.clone().filter(|_| !dead).map(|(sa, name)| (back_word(&name), Action::AdoptSa(sa)));
    let anew = troubles.first().and_then(|(_, ask)| ask.clone()).filter(|_| dead);
    let ask = anew.or(back);
    // A line about what was just done stands in nobody's place but that of the one whose button it bears.
    let more = and_more(troubles.len().saturating_sub(usize::from(ask.is_some())));
    let text = fonts::shown(ui.ctx(), &view.said);
    let buttons = [ask.as_ref().map(|(word, _)| word.as_ref()), more.as_deref()];
    let does = if dead { TO_DO } else { "Sa is again what it was before" };
    let pressed = Line { text: &text, wrong: false, buttons, does }.show(ui, look);
    answer(pressed, ask.map(|(_, action)| action), presses, actions);
}

/// The caution, above it the worst that is wrong with the sound: who opens the window for the first time has no other line that says
/// so. Where both have no room beside what must stay in sight, a button tells that there is more.
fn first_opening(
    ui: &mut Ui,
    look: &Look,
    view: &View,
    room: f32,
    presses: &mut Vec<Press>,
    actions: &mut Vec<Action>,
) {
    let faults = faults(view);
    let caution = |more| Line {
        text: words::CAUTION,
        wrong: false,
        buttons: [Some("Understood"), more],
        does: "puts this line away",
    };
    let above = faults.first().filter(|first| {
        let text = fonts::shown(ui.ctx(), &first.0);
        let high = wrong(&text, first, None).places(ui, look).all.y;
        (high + ui.spacing().item_spacing.y + caution(None).places(ui, look).all.y).ceil() <= room
    });
    let untold = faults.len() - usize::from(above.is_some());
    if let Some(first) = above {
        trouble(ui, look, first, untold, presses, actions);
    }
    let more = and_more(if above.is_some() { 0 } else { untold });
    answer(caution(more.as_deref()).show(ui, look), Some(Action::CautionRead), presses, actions);
}

/// One remark with its button, and the one that tells of so many `others`.
fn trouble(
    ui: &mut Ui,
    look: &Look,
    remark: &Remark,
    others: usize,
    presses: &mut Vec<Press>,
    actions: &mut Vec<Action>,
) {
    let (text, more) = (fonts::shown(ui.ctx(), &remark.0), and_more(others));
    let pressed = wrong(&text, remark, more.as_deref()).show(ui, look);
    answer(pressed, remark.1.clone().map(|(_, action)| action), presses, actions);
}

/// What is wrong as a line: `text` is the remark's as the fonts have it.
fn wrong<'a>(text: &'a str, (_, ask): &'a Remark, more: Option<&'a str>) -> Line<'a> {
    Line { text, wrong: true, buttons: [ask.as_ref().map(|(word, _)| word.as_ref()), more], does: TO_DO }
}

/// The word on the button to so many others.
fn and_more(others: usize) -> Option<String> {
    Some(others).filter(|n| *n > 0).map(|n| format!("and {n} more"))
}

/// What the button that was pressed asks for.
fn answer(pressed: Option<usize>, own: Option<Action>, presses: &mut Vec<Press>, actions: &mut Vec<Action>) {
    match (pressed, own) {
        (Some(0), Some(action)) => actions.push(action),
        (Some(_), _) => presses.push(Press::State),
        (None, _) => {}
    }
}

/// Words with their button and the one that tells of more, which stand in the right lower corner whatever the words are.
struct Line<'a> {
    text: &'a str,
    /// Whether the sign of what is wrong stands before them.
    wrong: bool,
    buttons: [Option<&'a str>; 2],
    /// What the first button does.
    does: &'a str,
}

/// Where the parts of a line have room.
struct Places {
    /// The whole line.
    all: egui::Vec2,
    /// The words, wrapped.
    words: egui::Vec2,
    font: FontId,
    /// Width of the sign.
    sign: f32,
    /// The button of its own, and the place of the one that tells of more.
    own: Option<egui::Vec2>,
    more: egui::Vec2,
}

impl Line<'_> {
    fn places(&self, ui: &Ui, look: &Look) -> Places {
        let (gap, pad) = (ui.spacing().item_spacing.x, ui.spacing().button_padding);
        let size_of = |word: &str| {
            let size = ui.painter().layout_no_wrap(word.to_owned(), button_font(look), look.ink).size() + 2.0 * pad;
            egui::vec2(size.x.ceil(), size.y.max(ui.spacing().interact_size.y))
        };
        // The place of what tells of more is kept while there is a button beside it.
        let more = size_of(MOST_MORE);
        let [own, second] = self.buttons.map(|word| word.map(size_of));
        let taken = own.map_or(0.0, |size| size.x + gap) + if own.or(second).is_some() { more.x + gap } else { 0.0 };
        let full = ui.available_width();
        let sign = if self.wrong { look.far_up_to(19.0) } else { 0.0 };
        let font = look.words(if self.text.len() > LONG_WORDS { look.body().size } else { look.far });
        // Where too little room is left beside the buttons, they have a line of their own.
        let beside = full - taken >= look.u(LEAST_WORDS);
        let room = full - sign - gap - if beside { taken } else { 0.0 };
        let height = ui.painter().layout(self.text.to_owned(), font.clone(), look.ink, room).size().y;
        let tall = match (taken > 0.0, beside) {
            (false, _) => height,
            (true, true) => height.max(more.y),
            (true, false) => height + gap + more.y,
        };
        Places { all: egui::vec2(full, tall), words: egui::vec2(room, height), font, sign, own, more }
    }

    /// Draws it; which of the two buttons was pressed.
    fn show(&self, ui: &mut Ui, look: &Look) -> Option<usize> {
        let at = self.places(ui, look);
        let gap = ui.spacing().item_spacing.x;
        let (all, _) = ui.allocate_exact_size(at.all, egui::Sense::hover());
        let words = egui::Rect::from_min_size(all.min + egui::vec2(at.sign + gap, 0.0), at.words);
        if self.wrong {
            let middle = egui::pos2(all.left() + at.sign / 2.0, words.top() + at.font.size * 0.6);
            paint_triangle(ui, look, egui::Rect::from_center_size(middle, egui::Vec2::splat(at.sign * 0.8)));
        }
        super::look::paragraph(ui, words, RichText::new(self.text).font(at.font));
        let mut pressed = None;
        let places = [all.right() - at.more.x - gap, all.right()];
        let hovers = [self.does, "key I: all that wants a word"];
        for (i, ((word, right), hover)) in self.buttons.into_iter().zip(places).zip(hovers).enumerate() {
            let Some(word) = word else { continue };
            let size = at.own.filter(|_| i == 0).unwrap_or(at.more);
            let place = egui::Rect::from_min_size(egui::pos2(right - size.x, all.bottom() - size.y), size);
            let button = Button::new(RichText::new(word).font(button_font(look))).wrap_mode(egui::TextWrapMode::Extend);
            if ui.put(place, button).on_hover_text(hover).clicked() && once(ui) {
                pressed = Some(i);
            }
        }
        pressed
    }
}

fn button_font(look: &Look) -> FontId {
    look.words(look.far_up_to(17.0))
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
