//! The bottom edge of the window: the input's level, the drone, the listening, the freeze, and the doors to the sheets.
//!
//! In: parts of [`View`]. Out: presses and [`Action`]s. Every button has a key (see the table of keys); what has no room stands
//! behind *More*.

use super::action::{Action, Field};
use super::controls::knob_slider;
use super::keys::Press;
use super::look::Look;
use super::troubles::stopped;
use super::view::{Knob, View};
use egui::{Button, Ui};

/// A button of the bar that may go behind *More*, and what it does.
pub type Door = (&'static str, &'static str, Press);

/// The doors of the bar, in the order in which they stand.
pub const DOORS: [Door; 5] = [
    ("Mark", "key M: mark this moment; then a word for it", Press::Mark),
    ("Exercises", "key E: exercises and pupils", Press::Lesson),
    ("Settings", "key S: all settings", Press::Settings),
    ("Words", "key I: the words explained, and the state of the sound", Press::State),
    ("Keys", "H or ?: what each key does", Press::Keys),
];

/// What is left out of the bar where it is too narrow, the first first. The drone, the listening and the freeze always stand there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    Door(Press),
    Clear,
    Level,
}

const LEFT_OUT: [Part; 7] = [
    Part::Door(Press::Keys),
    Part::Door(Press::State),
    Part::Clear,
    Part::Level,
    Part::Door(Press::Mark),
    Part::Door(Press::Lesson),
    Part::Door(Press::Settings),
];

/// What the drone's button is called: it is as wide as the wider, so that nothing beside it moves.
const DRONE_ON: &str = "Drone on";

const DRONE_OFF: &str = "Drone off";

/// What rounding to pixels may add to the width of the drone's button, and to that of all others, points.
const SPARE: f32 = 3.0;

/// How the drone's button is named, whether it is lit, and what its hover says: on is what sounds.
fn drone_button(view: &View) -> (bool, &'static str, String) {
    if view.drone.lent && !view.drone.on {
        return (true, DRONE_ON, "key D: keep it on; it sounds for as long as the note is heard".to_owned());
    }
    if !view.drone.on {
        return (false, DRONE_OFF, "key D: the drone, on Sa".to_owned());
    }
    if view.trouble.host_silent {
        return (false, "Drone waits", format!("it is switched on, and silent since the {}", stopped(view)));
    }
    if view.drone_waits() {
        return (false, "Drone waits", "key D: start it; it is switched on, and silent since it was opened".to_owned());
    }
    (true, DRONE_ON, "key D: the drone, on Sa".to_owned())
}

/// What Clear says: it asks once more, and can be undone.
#[must_use]
pub fn clear_word(view: &View, armed: bool) -> &'static str {
    match (view.cleared, armed) {
        (true, _) => "Undo clear",
        (false, true) => "Clear: sure?",
        (false, false) => "Clear",
    }
}

/// What Clear does.
pub const CLEAR_HOVER: &str = "key C, twice: start this meter page anew; C again undoes it";

/// The footer: drone, listening, freeze, clear, mark, and the doors to the sheets, in one line. What has no room in it stands on
/// the sheet behind *More*.
pub fn footer(
    ui: &mut Ui,
    look: &Look,
    view: &View,
    clear_armed: bool,
    presses: &mut Vec<Press>,
    actions: &mut Vec<Action>,
) {
    let (lit, drone, drone_hover) = drone_button(view);
    let listens = if view.listening { "Listening" } else { "Not counting" };
    let freeze = if view.frozen { "Frozen" } else { "Freeze" };
    let clear = clear_word(view, clear_armed);
    let knob = view.knob(Field::DroneLevel);
    let (gap, pad) = (ui.spacing().item_spacing.x, 2.0 * ui.spacing().button_padding.x);
    let font = egui::TextStyle::Button.resolve(ui.style());
    let word = |text: &str| ui.painter().layout_no_wrap(text.to_owned(), font.clone(), look.ink).size().x.ceil();
    let widest = |all: &[&str]| all.iter().map(|text| word(text) + pad).fold(0.0, f32::max);
    let (drone_w, listens_w) = (widest(&[drone, DRONE_ON, DRONE_OFF]) + SPARE, widest(&[listens]));
    let freeze_w = widest(&["Frozen", "Freeze"]);
    let width_of = |part: Part| match part {
        Part::Door(press) => {
            DOORS.iter().find(|(_, _, p)| *p == press).map_or(0.0, |(name, _, _)| word(name) + pad + gap)
        }
        Part::Clear => word(clear) + pad + gap,
        Part::Level => knob.map_or(0.0, |knob| ui.spacing().slider_width + word(&knob.text) + 2.0 * gap),
    };
    let fixed = look.u(LEVEL.x) + drone_w + listens_w + freeze_w + 3.0 * gap;
    let mut needed = fixed + LEFT_OUT.iter().map(|part| width_of(*part)).sum::<f32>();
    let full = ui.available_width();
    let more = word(MORE) + pad + gap;
    let mut out: &[Part] = &[];
    for (i, part) in LEFT_OUT.iter().enumerate() {
        if needed + SPARE + if out.is_empty() { 0.0 } else { more } <= full {
            break;
        }
        needed -= width_of(*part);
        out = LEFT_OUT.get(..=i).unwrap_or_default();
    }
    let stands = |part: Part| !out.contains(&part);
    ui.horizontal_wrapped(|ui| {
        level(ui, look, view);
        toggle(ui, (lit, drone, &drone_hover), (Press::Drone, drone_w), presses);
        if let Some(knob) = knob.filter(|_| stands(Part::Level)) {
            drone_level(ui, knob, actions);
        }
        let hover = "key L: count held notes, or only show them";
        toggle(ui, (view.listening, listens, hover), (Press::Listening, listens_w), presses);
        let hover = "space: letter, figures and lines stand still; listening and the meter go on";
        toggle(ui, (view.frozen, freeze, hover), (Press::Freeze, freeze_w), presses);
        if stands(Part::Clear) {
            toggle(ui, (clear_armed, clear, CLEAR_HOVER), (Press::Clear, 0.0), presses);
        }
        for (name, hover, press) in DOORS {
            if stands(Part::Door(press)) && ui.button(name).on_hover_text(hover).clicked() {
                presses.push(press);
            }
        }
        if !out.is_empty() && ui.button(MORE).on_hover_text("key B: what else the bar has").clicked() {
            presses.push(Press::More);
        }
    });
}

/// The name of the door to what the bar has no room for.
const MORE: &str = "More";

/// The drone's level with its value.
pub fn drone_level(ui: &mut Ui, knob: &Knob, actions: &mut Vec<Action>) {
    let hint = format!("{}: {} (double click: default)", knob.name, knob.text);
    knob_slider(ui, knob, actions).on_hover_text(hint);
    ui.label(&knob.text);
}

/// A button of the bar, at least so wide.
fn toggle(ui: &mut Ui, (on, name, hover): (bool, &str, &str), (press, width): (Press, f32), presses: &mut Vec<Press>) {
    let button = Button::selectable(on, name).frame_when_inactive(true).min_size(egui::vec2(width, 0.0));
    if ui.add(button).on_hover_text(hover).clicked() {
        presses.push(press);
    }
}

/// Size of the input's level, units.
const LEVEL: egui::Vec2 = egui::vec2(60.0, 20.0);

/// The input's level as a bar that grows, with a notch at -12 dBFS.
fn level(ui: &mut Ui, look: &Look, view: &View) {
    let (rect, response) = ui.allocate_exact_size(look.u(1.0) * LEVEL, egui::Sense::hover());
    let share = |db: f64| crate::units::num::single(((db + 60.0) / 60.0).clamp(0.0, 1.0));
    let bar = rect.shrink2(egui::vec2(0.0, look.u(7.0)));
    let painter = ui.painter();
    painter.rect_stroke(bar, 0.0, egui::Stroke::new(1.0, look.rule), egui::StrokeKind::Inside);
    let full = egui::Rect::from_min_size(bar.min, egui::vec2(bar.width() * share(view.level.0), bar.height()));
    painter.rect_filled(full, 0.0, look.voice);
    let notch = bar.left() + bar.width() * share(-12.0);
    painter.vline(notch, rect.y_range(), egui::Stroke::new(1.0, look.quiet));
    let text = format!("input level {:.0} dB", view.level.0.max(-99.0));
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Label, true, &text));
    response.on_hover_text(text.clone());
}
