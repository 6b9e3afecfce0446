//! The sheet on which Sa is found: from what sounds, or where a new voice is at ease; and madhyama shruti.
//!
//! In: [`FindingView`] and the tonic in force. Out: [`Action`]s. A button listens while it is held; a short press listens until it
//! is sure or pressed again. Nothing is taken over without a press where it is not sure. The caution stands beside the glide.

use super::action::{Action, Listen};
use super::controls::small;
use super::exercise::bar;
use super::look::Look;
use super::troubles::back_word;
use super::view::{FindingView, View};
use super::words;
use crate::tonic::comfort::CAUTION;
use egui::{Response, RichText, Ui};

/// A press shorter than this is a click, which starts and lets it run, seconds.
const CLICK_S: f64 = 0.5;
/// How long a drone or a voice takes to be sure of, seconds; beyond it plucked strings, at most.
const USUAL_S: (f64, f64) = (3.0, 15.0);

/// Draws the sheet.
pub fn sheet(ui: &mut Ui, look: &Look, view: &View, actions: &mut Vec<Action>) {
    ui.label(RichText::new(format!("Sa {}  ({:.2} Hz)", view.tonic, view.sa.0)).strong())
        .on_hover_text(words::about_sa());
    let finding = view.finding.as_ref();
    let listens = |range: bool| finding.is_some_and(|f| f.heard_s.is_some() && f.range == range);
    ui.separator();
    ui.label(RichText::new("From what sounds").heading());
    ui.label(
        "Hold the button, or press it once and let it run (key T), while a drone or a voice sounds Sa: 3 s for a reed or a \
         voice, up to 15 s for plucked strings.",
    );
    let take = held(ui, "Take Sa", Listen::Sa, listens(false), actions);
    told_below(ui, look, (finding, false), &take, actions);
    if let Some((sa, name)) = &view.sa_before
        && ui.button(back_word(name).as_ref()).on_hover_text("the Sa before the one that was just heard").clicked()
    {
        actions.push(Action::AdoptSa(*sa));
    }
    ui.separator();
    ui.label(RichText::new("A comfortable Sa for a new singer").heading());
    ui.label(
        "Hold the button, or press it once, and glide easily down as far as it goes without pushing, and up again.",
    );
    ui.label(RichText::new(CAUTION).small().color(look.quiet));
    let glide = held(ui, "Hear the glide", Listen::Range, listens(true), actions);
    told_below(ui, look, (finding, true), &glide, actions);
    ui.separator();
    ui.label(RichText::new("Madhyama shruti").heading()).on_hover_text(words::explain("madhyama shruti"));
    let word = if view.madhyama { "Sa back to where it was" } else { "Sa to where Ma lies" };
    let hover = format!("key Y; madhyama shruti: {}", words::explain("madhyama shruti"));
    if ui.button(word).on_hover_text(hover).clicked() {
        actions.push(Action::Madhyama);
    }
}

/// How far it is and what was found, below the button that began it.
fn told_below(
    ui: &mut Ui,
    look: &Look,
    (finding, range): (Option<&FindingView>, bool),
    began: &Response,
    actions: &mut Vec<Action>,
) {
    let Some(finding) = finding.filter(|finding| finding.range == range) else { return };
    if found(ui, look, finding, actions) {
        // Its button is gone with it: the keyboard is back at the one that began.
        began.request_focus();
    }
}

/// A button that listens while it is held, or from one press to the next.
fn held(ui: &mut Ui, name: &str, what: Listen, listens: bool, actions: &mut Vec<Action>) -> Response {
    let word = if listens { "That is enough" } else { name };
    let response: Response = ui.button(word);
    let key = ui.scope_id().with(("held since", name));
    let now = ui.input(|i| i.time);
    let since: Option<f64> = ui.data(|data| data.get_temp(key));
    // A button that is pressed for long is no longer down to the toolkit: a click is not that long.
    let still_down = since.is_some() && ui.input(|i| i.pointer.primary_down());
    if response.is_pointer_button_down_on() || still_down {
        if since.is_none() {
            ui.data_mut(|data| data.insert_temp(key, now));
            actions.push(Action::Listen(if listens { Listen::Enough } else { what }));
        }
        return response;
    }
    ui.data_mut(|data| data.remove::<f64>(key));
    let long = since.is_some_and(|since| now - since >= CLICK_S);
    if long && listens {
        actions.push(Action::Listen(Listen::Enough));
    } else if response.clicked() && since.is_none() {
        // The keyboard, or assistive technology: no pointer was down.
        actions.push(Action::Listen(if listens { Listen::Enough } else { what }));
    }
    response
}

/// How far it is, what was found, and what may be taken; true when it was put away.
fn found(ui: &mut Ui, look: &Look, finding: &FindingView, actions: &mut Vec<Action>) -> bool {
    if let Some(seconds) = finding.heard_s {
        let whole = if finding.range || seconds < USUAL_S.0 { USUAL_S.0 } else { USUAL_S.1 };
        let share = crate::units::num::single((seconds / whole).min(1.0));
        bar(ui, look, share);
        // Words that change at each frame are not read.
        ui.label(format!("listening, {:.0} s", seconds.floor()));
    }
    if !finding.told.is_empty() {
        ui.label(&finding.told);
    }
    for offer in &finding.offers {
        ui.horizontal_wrapped(|ui| {
            if ui.button(format!("Take {}", offer.name)).clicked() {
                actions.push(Action::AdoptSa(offer.sa));
            }
            ui.label(RichText::new(&offer.reason).color(look.quiet));
        });
    }
    let away = finding.heard_s.is_none() && small(ui, "Put this away").clicked();
    if away {
        actions.push(Action::Listen(Listen::Away));
    }
    away
}
