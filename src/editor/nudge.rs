//! Where the targets lie, on the settings sheet: the tuning, and how far the teacher moves single swaras from it.
//!
//! In: the tuning, the targets and the nudges. Out: [`Action`]s. Sa and Pa have no nudge: they follow the drone. Each other place
//! of a target opens a page of the meter of its own, so that a nudge counts from when it is let go.

use super::action::{Action, Chosen};
use super::controls::choice;
use super::look::Look;
use super::numbers::{Number, number};
use super::view::View;
use crate::swara::Nudges;
use egui::{CollapsingHeader, RichText, Ui};

/// What holds in every tuning.
pub const FIXED: &str =
    "In every tuning the drone's Pa and Ma stay 3/2 and 4/3 of Sa, and the targets of Sa and Pa follow the drone.";

/// Tuning and nudges.
pub fn block(ui: &mut Ui, look: &Look, view: &View, actions: &mut Vec<Action>) {
    choice(ui, "Tuning", (&view.tuning, Chosen::Tuning), actions);
    for text in std::iter::once(FIXED).chain(view.tuning_remarks.iter().map(String::as_str)) {
        ui.label(RichText::new(text).small().color(look.quiet));
    }
    let nudge = |position: u8| view.nudges.get(usize::from(position)).copied().unwrap_or(0.0);
    let movable = |position: u8| !matches!(position, 0 | 7) || nudge(position).abs() > 0.0;
    let all = view.targets.by_position.iter().flatten().filter(|t| movable(t.swara.position()));
    let swaras: Vec<_> = all.map(|t| t.swara).collect();
    if swaras.is_empty() {
        return;
    }
    let hover = "as the teacher sings them; each change begins a page of the meter, and back is the page before";
    let header = CollapsingHeader::new("Single swaras, away from the tuning").show(ui, |ui| {
        let range = (-Nudges::MAX_CENTS, Nudges::MAX_CENTS);
        for swara in swaras {
            let (name, value) = (swara.short(), nudge(swara.position()));
            let of = Number { name, value, range, step: 1.0, unit: "cents", plain: 0.0, live: false };
            if let Some(cents) = number(ui, &of) {
                actions.push(Action::Nudge(swara.position(), cents));
            }
        }
    });
    header.header_response.on_hover_text(hover);
}
