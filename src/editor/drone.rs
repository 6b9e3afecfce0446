//! The drone on the settings sheet: its kind, its strings or its reeds.
//!
//! In: [`DroneView`]. Out: [`Action`]s. A first string that suits the raga is proposed beside the raga; it is never switched by
//! itself.

use super::action::{Action, Chosen, DroneChange};
use super::controls::choice;
use super::look::Look;
use super::numbers::{Number, number};
use super::view::DroneView;
use super::words;
use crate::drone::{PAIR_CENTS, PLUCK_S, TRIM_CENTS};
use egui::{CollapsingHeader, RichText, Ui};

/// One press of an arrow key: seconds a pluck, cents of a trim, cents of the pair.
const STEPS: (f64, f64, f64) = (0.1, 0.5, 0.1);
/// The usual time a pluck, seconds, and the usual detuning of the pair, cents.
const USUAL: (f64, f64) = (1.1, 1.5);

/// The proposal for the first string, where there is one.
pub fn proposal(ui: &mut Ui, drone: &DroneView, actions: &mut Vec<Action>) {
    let Some(proposal) = &drone.proposal else { return };
    ui.horizontal_wrapped(|ui| {
        ui.label(&proposal.told);
        if ui.button(&proposal.take).on_hover_text("the drone's first string").clicked() {
            actions.push(Action::Choose(Chosen::Stringing, proposal.key.clone()));
        }
    });
}

/// The drone's part of the sheet.
pub fn block(ui: &mut Ui, look: &Look, drone: &DroneView, actions: &mut Vec<Action>) {
    choice(ui, "Drone", (&drone.kind, Chosen::DroneKind), actions);
    if drone.kind.current == "reed" {
        reeds(ui, look, drone, actions);
    } else {
        choice(ui, "First string", (&drone.stringing, Chosen::Stringing), actions);
        strings(ui, look, drone, actions);
    }
}

fn strings(ui: &mut Ui, look: &Look, drone: &DroneView, actions: &mut Vec<Action>) {
    let mut fifth = drone.fifth;
    let hover = "after the first string, in the raga's own variant: five strings instead of four";
    if ui.checkbox(&mut fifth, "A Ni string as well").on_hover_text(hover).changed() {
        actions.push(Action::Drone(DroneChange::Fifth(fifth)));
    }
    let pluck = Number {
        name: "From pluck to pluck",
        value: drone.pluck_s,
        range: PLUCK_S,
        step: STEPS.0,
        unit: "s",
        plain: USUAL.0,
        live: false,
    };
    let pair = Number {
        name: "The two Sa strings apart",
        value: drone.pair_cents,
        range: (0.0, PAIR_CENTS),
        step: STEPS.2,
        unit: "cents",
        plain: USUAL.1,
        live: true,
    };
    let changes = [number(ui, &pluck).map(DroneChange::Pluck), number(ui, &pair).map(DroneChange::Pair)];
    actions.extend(changes.into_iter().flatten().map(Action::Drone));
    CollapsingHeader::new("Each string by itself").show(ui, |ui| trims(ui, look, drone, actions));
}

/// How far each string is tuned from where it belongs, cents.
fn trims(ui: &mut Ui, look: &Look, drone: &DroneView, actions: &mut Vec<Action>) {
    ui.label(RichText::new("A trim belongs to its string: another first string begins at 0.").color(look.quiet));
    for (place, name, cents) in &drone.trims {
        let name = format!("Trim of {name}");
        let range = (-TRIM_CENTS, TRIM_CENTS);
        let trim = Number { name: &name, value: *cents, range, step: STEPS.1, unit: "cents", plain: 0.0, live: true };
        if let Some(cents) = number(ui, &trim) {
            actions.push(Action::Drone(DroneChange::Trim(*place, cents)));
        }
    }
}

fn reeds(ui: &mut Ui, look: &Look, drone: &DroneView, actions: &mut Vec<Action>) {
    // What the strings have to choose is theirs: here each reed is.
    ui.label(RichText::new("Sounding together (a first string is for plucked strings only)").color(look.quiet));
    let last = drone.reeds.iter().filter(|reed| reed.sounds).count() < 2;
    ui.horizontal_wrapped(|ui| {
        for reed in &drone.reeds {
            let mut sounds = reed.sounds;
            // The last one stays: silence is what the drone's own switch is for.
            let check = ui.add_enabled(!(sounds && last), egui::Checkbox::new(&mut sounds, &reed.name));
            if check.on_hover_text(words::explain("swara")).changed() {
                actions.push(Action::Drone(DroneChange::Reed(reed.position, sounds)));
            }
        }
    });
    let word = "As with strings";
    let hover = "Sa, the swara of the strings' first string and the upper Sa";
    if drone.own_reeds && ui.button(word).on_hover_text(hover).clicked() {
        actions.push(Action::Drone(DroneChange::PlainReeds));
    }
}
