//! The raga list: a field to search in, the matches below it.
//!
//! In: the scales there are, and what is typed. Out: [`Action::Choose`]. A name in any usual spelling, a melakarta's number
//! or the swaras find it ([`search`]); the arrow keys walk through the matches, Enter takes one, Escape puts the list away.
//! While nothing is typed the list holds all. Cost: one search a frame while the list is open.

use super::action::{Action, Chosen};
use super::field;
use super::fonts;
use super::look::Look;
use super::view::Choice;
use super::words;
use crate::swara::search::{normalised, search};
use egui::{Align, Button, Id, Key, Modifiers, Rect, RichText, ScrollArea, Sense, TextEdit, Ui};

/// How high the open list is at most, units: some seven names.
const LIST: f32 = 190.0;

/// What the search remembers.
#[derive(Debug, Clone)]
pub struct Search {
    /// What is typed.
    text: String,
    /// Whether the list lies open.
    open: bool,
    /// Which match Enter takes.
    at: usize,
    /// Where the list was drawn last.
    list: Rect,
}

impl Default for Search {
    fn default() -> Self {
        Self { text: String::new(), open: false, at: 0, list: Rect::NOTHING }
    }
}

impl Search {
    fn close(&mut self) {
        *self = Self::default();
    }
}

/// The scales that fit what is typed, best first: key and label; all where nothing is typed.
fn matches(scales: &Choice, text: &str) -> Vec<(String, String)> {
    if text.trim().is_empty() {
        return scales.options.clone();
    }
    let mut found: Vec<(String, String)> = search(text).iter().map(|s| (s.key(), s.title())).collect();
    // A scale of the singer's own stands only in the list, and a parent's name only in its label.
    let wanted = normalised(text);
    for (key, label) in &scales.options {
        let fits = !wanted.is_empty() && normalised(label).contains(&wanted);
        if fits && !found.iter().any(|(known, _)| known == key) {
            found.push((key.clone(), label.clone()));
        }
    }
    found
}

/// What the keyboard asks of the open list.
#[derive(Debug, Clone, Copy, Default)]
struct Asked {
    down: usize,
    up: usize,
    take: bool,
}

/// Takes the list's keys before the field sees them.
fn asked(ui: &Ui, field: Id, search: &Search) -> Asked {
    if !search.open || !ui.memory(|m| m.has_focus(field)) {
        return Asked::default();
    }
    ui.input_mut(|i| Asked {
        down: i.count_and_consume_key(Modifiers::NONE, Key::ArrowDown),
        up: i.count_and_consume_key(Modifiers::NONE, Key::ArrowUp),
        take: i.consume_key(Modifiers::NONE, Key::Enter),
    })
}

/// Draws the field and, while it is used, the list.
pub fn raga(ui: &mut Ui, look: &Look, scales: &Choice, search: &mut Search, actions: &mut Vec<Action>) {
    let label = ui.label("Scale or raga");
    let label = label.on_hover_text(format!("raga: {}", words::explain("raga")));
    ui.label(RichText::new(fonts::shown(ui.ctx(), scales.label())).strong());
    let id = ui.scope_id().with("raga");
    let asked = asked(ui, id, search);
    let before = search.text.clone();
    let edit = TextEdit::singleline(&mut search.text)
        .hint_text("find: a name, a number or swaras")
        .desired_width(look.u(250.0));
    let edit = field::field(ui, id, "Scale or raga", edit).labelled_by(label.id);
    let edit = edit.on_hover_text(format!("raga: {}", words::explain("raga")));
    if edit.gained_focus() {
        search.open = true;
        search.at = scales.options.iter().position(|(key, _)| *key == scales.current).unwrap_or(0);
    }
    if search.text != before {
        (search.open, search.at) = (true, 0);
    }
    // A press on the list takes the focus from the field before it becomes a click.
    let on_list = ui.input(|i| i.pointer.latest_pos().is_some_and(|at| search.list.contains(at)));
    if !edit.has_focus() && !on_list {
        search.close();
    }
    if !search.open {
        return;
    }
    let found = matches(scales, &search.text);
    let last = found.len().saturating_sub(1);
    let at = (search.at + asked.down).saturating_sub(asked.up).min(last);
    // The list opens at the scale in force.
    let moved = at != search.at || edit.gained_focus();
    search.at = at;
    let mut taken = found.get(at).filter(|_| asked.take).map(|(key, _)| key.clone());
    if found.is_empty() {
        let text = "No raga by that name: try another spelling, a number from 1 to 72, or its swaras (S R2 G3 P D2).";
        ui.label(RichText::new(text).color(look.quiet));
    }
    let area = ScrollArea::vertical().id_salt("ragas").max_height(look.u(LIST)).auto_shrink([false, true]);
    let shown = area.show(ui, |ui| {
        for (i, (key, label)) in found.iter().enumerate() {
            // The arrow keys walk here: Tab goes on behind the list, which is gone by then.
            let button = Button::selectable(i == at, fonts::shown(ui.ctx(), label)).wrap().sense(Sense::CLICK);
            let mut button = ui.add(button);
            if key.starts_with("mela-") {
                button = button.on_hover_text(format!("melakarta: {}", words::explain("melakarta")));
            }
            if i == at && moved {
                button.scroll_to_me(Some(Align::Center));
            }
            if button.clicked() {
                taken = Some(key.clone());
            }
        }
    });
    search.list = shown.inner_rect;
    if let Some(key) = taken {
        actions.push(Action::Choose(Chosen::Scale, key));
        field::rest(ui, id);
        search.close();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::swara::Scale;

    fn all() -> Choice {
        let mut options: Vec<(String, String)> = Scale::built_in().map(|s| (s.key(), s.title())).collect();
        options.push(("own-x".into(), "Kalyani of the house".into()));
        Choice { current: "twelve".into(), options }
    }

    #[test]
    fn a_spelling_a_number_swaras_and_an_own_scale_are_found() {
        let first = |text: &str| matches(&all(), text).first().map(|(key, _)| key.clone());
        assert_eq!(first("mayamalava gowla").as_deref(), Some("mela-15"));
        assert_eq!(first("29").as_deref(), Some("mela-29"));
        assert_eq!(first("S R2 G3 P D2").as_deref(), Some("janya-mohanam"));
        assert!(matches(&all(), "kalyaani").iter().any(|(key, _)| key == "own-x"));
        assert!(matches(&all(), "qqqq").is_empty());
        assert_eq!(matches(&all(), " ").len(), all().options.len());
    }
}
