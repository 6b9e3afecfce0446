//! The edges of the window: what it is tuned to, what may be wrong, and the controls at hand.
//!
//! In: parts of [`View`]. Out: [`Action`]s. Every control has a name, a key (see the table of keys) and takes the
//! keyboard's focus.

use super::action::{Action, Chosen, Field};
use super::fonts;
use super::keys::Press;
use super::look::Look;
use super::view::{Choice, DroneTo, Face, Knob, View};
use super::words;
use egui::{Button, ComboBox, Response, RichText, Slider, Ui};

/// The faces and their names.
pub const FACES: [(Face, &str); 3] =
    [(Face::Singing, "Singing"), (Face::Teaching, "Teaching"), (Face::Checking, "Checking")];

/// In a narrower window the share judged is only told on the state sheet, units.
const LEAST_JUDGED: f32 = 700.0;

/// The header: tonic, scale and tuning on the left, the faces on the right.
pub fn header(ui: &mut Ui, look: &Look, view: &View, presses: &mut Vec<Press>) {
    ui.horizontal_wrapped(|ui| {
        for (i, (face, name)) in FACES.iter().enumerate() {
            let chosen = view.face == *face;
            let response = ui.add(Button::selectable(chosen, *name)).on_hover_text(format!("key {}", i + 1));
            if response.clicked() {
                presses.push(Press::Face(*face));
            }
        }
        ui.add_space(look.u(8.0));
        let hz = format!("{:.1} Hz", view.sa.0);
        let tonic =
            ui.add(Button::new(RichText::new(format!("Sa {}", view.tonic)).strong()).frame_when_inactive(false));
        if tonic.on_hover_text(format!("madhya Sa at {hz}: find it, or shift it to Ma and back")).clicked() {
            presses.push(Press::Tonic);
        }
        for (text, hover) in [(view.scale.label(), "scale or raga"), (view.tuning.label(), "tuning")] {
            let text = fonts::shown(ui.ctx(), text);
            ui.add(egui::Label::new(RichText::new(text).color(look.quiet)).truncate()).on_hover_text(hover);
        }
        if let Some(share) = view.judged_share.filter(|_| ui.max_rect().width() >= look.u(LEAST_JUDGED)) {
            let hover = format!(
                "of the sung time this share could be judged; {} sung on this page",
                words::clock(view.page_age_s)
            );
            let text = format!("{:.0} % judged", share * 100.0);
            ui.add(egui::Label::new(RichText::new(text).color(look.quiet)).extend()).on_hover_text(hover);
        }
    });
}

/// What hands us the sound, for people: there is no host about the stand-alone app.
#[must_use]
pub fn source(view: &View) -> &'static str {
    if view.device.is_some() { "sound system" } else { "host" }
}

/// That no sound is handed over any more; behind "the".
#[must_use]
pub fn stopped(view: &View) -> String {
    format!("{} has stopped sending audio", source(view))
}

/// Why nothing can be heard, and what to do, where the sound comes at a rate that cannot be listened to.
fn unheard(view: &View) -> Option<String> {
    let khz = view.unheard_hz? / 1000.0;
    let what = if view.device.is_some() { "start the app again with --sample-rate 48000" } else { "set it to 48 kHz" };
    let source = source(view);
    Some(format!(
        "The {source} runs at {khz} kHz: the voice passes unheard, since 8 to 192 kHz can be listened to; {what}."
    ))
}

/// What may be wrong or wants a word, worst first; each with what to do about it.
#[must_use]
pub fn troubles(view: &View) -> Vec<(String, Option<(&'static str, Action)>)> {
    let t = &view.trouble;
    let mut out: Vec<(String, Option<(&'static str, Action)>)> = Vec::new();
    out.extend(unheard(view).map(|text| (text, None)));
    let alone = view.device.is_some();
    let anew = alone.then_some(("Start it again", Action::StartAnew));
    if t.host_silent {
        let what = if alone {
            "the machine was too busy, or the device was pulled out"
        } else {
            "nothing is heard until it does again"
        };
        out.push((format!("The {}: {what}.", stopped(view)), anew.clone()));
    }
    if view.drone.silent_after_reopen {
        let text = if alone {
            "The drone was on when the app was closed."
        } else {
            "The drone waits: it starts with the transport."
        };
        out.push((text.to_owned(), Some(("Start it now", Action::WakeDrone))));
    }
    if view.device.as_ref().is_some_and(|d| d.nothing) {
        out.push(("Nothing comes in: choose another input in Settings, or start the sound again.".to_owned(), anew));
    }
    let mut say = |when: bool, text: &str| {
        if when {
            out.push((text.to_owned(), None));
        }
    };
    say(t.clipped, "The input is too loud and clips: turn the microphone down.");
    say(t.several, "More than one voice sounds: shown, not counted.");
    say(t.gated, "The call is cutting the note: its noise gate, not the voice.");
    say(t.dropouts, "The connection drops out: the gaps are its own, not the voice's.");
    say(!view.listening, "Listening is off: notes are shown, not counted.");
    if let Some((text, follows)) = &view.octave {
        let ask = if *follows { "Take the stated octave" } else { "Follow it" };
        out.push((text.clone(), Some((ask, Action::FollowOctave(!follows)))));
    }
    if let Some(shift) = view.shift {
        let (side, set) = if shift.0 > 0.0 { ("above", "low") } else { ("below", "high") };
        let text =
            format!("The held notes on Sa or Pa all lie some {:.0} cents {side}: is Sa set too {set}?", shift.0.abs());
        out.push((text, Some(("Move Sa there", Action::AdoptSa(view.sa.up(shift))))));
    }
    if let Some(cents) = view.lesson.pupil_drone.filter(|cents| cents.0.abs() > words::DRONE_APART_CENTS) {
        let text = format!("A drone sounds there whose Sa is {} cents from ours.", words::signed(cents));
        out.push((text, Some(("Take its Sa", Action::AdoptSa(view.sa.up(cents))))));
    }
    out.extend(view.remarks.iter().map(|remark| (remark.clone(), None)));
    if !alone && view.drone.on && view.drone.to != DroneTo::Own {
        out.push(("The drone is in the main output: a recording in real time contains it.".to_owned(), None));
    }
    out
}

/// Whether the banner has anything to say.
#[must_use]
pub fn has_banner(view: &View) -> bool {
    !view.caution_read || !view.said.is_empty() || !troubles(view).is_empty()
}

/// One line of the banner: the caution once, else what is wrong, else what was just done.
pub fn banner(ui: &mut Ui, look: &Look, view: &View, presses: &mut Vec<Press>, actions: &mut Vec<Action>) {
    // Without sound nothing can be sung: the way out comes before the caution.
    let dead = view.trouble.host_silent && view.device.is_some();
    if !view.caution_read && view.said.is_empty() && !dead {
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new(words::CAUTION).small());
            if ui.button("Understood").clicked() {
                actions.push(Action::CautionRead);
            }
        });
        return;
    }
    let troubles = troubles(view);
    let shown = if view.said.is_empty() { troubles.first().cloned() } else { Some((view.said.clone(), None)) };
    let Some((text, ask)) = shown else { return };
    ui.horizontal_wrapped(|ui| {
        if view.said.is_empty() {
            triangle(ui, look);
        }
        ui.label(RichText::new(fonts::shown(ui.ctx(), &text)).small());
        if let Some((word, action)) = ask
            && ui.small_button(word).clicked()
        {
            actions.push(action);
        }
        if troubles.len() > 1 {
            let more = ui.small_button(format!("and {} more", troubles.len() - 1));
            if more.on_hover_text("key I: all that wants a word").clicked() {
                presses.push(Press::State);
            }
        }
    });
}

/// The sign beside a line that wants attention.
pub fn triangle(ui: &mut Ui, look: &Look) {
    let (rect, _) = ui.allocate_exact_size(egui::vec2(look.u(13.0), look.u(13.0)), egui::Sense::hover());
    let points = vec![rect.center_top(), rect.right_bottom(), rect.left_bottom()];
    ui.painter().add(egui::Shape::convex_polygon(points, look.alert, egui::Stroke::NONE));
}

/// The footer: drone, listening, freeze, clear, mark, and the doors to the sheets.
pub fn footer(
    ui: &mut Ui,
    look: &Look,
    view: &View,
    clear_armed: bool,
    presses: &mut Vec<Press>,
    actions: &mut Vec<Action>,
) {
    ui.horizontal_wrapped(|ui| {
        level(ui, look, view);
        let drone = if view.drone.on { "Drone on" } else { "Drone off" };
        toggle(ui, (view.drone.on, drone, "key D: the drone, on Sa"), Press::Drone, presses);
        if let Some(knob) = view.knob(Field::DroneLevel) {
            let hint = format!("{}: {} (double click: default)", knob.name, knob.text);
            knob_slider(ui, knob, actions).on_hover_text(hint);
            ui.label(&knob.text);
        }
        let listens = if view.listening { "Listening" } else { "Not counting" };
        toggle(ui, (view.listening, listens, "key L: count held notes, or only show them"), Press::Listening, presses);
        let freeze = if view.frozen { "Frozen" } else { "Freeze" };
        toggle(ui, (view.frozen, freeze, "space: the picture stands still"), Press::Freeze, presses);
        let clear = if clear_armed { "Clear: sure?" } else { "Clear" };
        toggle(ui, (clear_armed, clear, "key C, twice: start the meter anew"), Press::Clear, presses);
        for (name, hover, press) in [
            ("Mark", "key M: mark this moment", Press::Mark),
            ("Exercises", "key E: exercises and pupils", Press::Lesson),
            ("Settings", "key S", Press::Settings),
            ("Words", "key I: the words explained, and the state of the line", Press::State),
            ("Keys", "H or ?: what each key does", Press::Keys),
        ] {
            if ui.button(name).on_hover_text(hover).clicked() {
                presses.push(press);
            }
        }
    });
}

fn toggle(ui: &mut Ui, (on, name, hover): (bool, &str, &str), press: Press, presses: &mut Vec<Press>) {
    if ui.add(Button::selectable(on, name).frame_when_inactive(true)).on_hover_text(hover).clicked() {
        presses.push(press);
    }
}

/// The input's level as a bar that grows, with a notch at -12 dBFS.
fn level(ui: &mut Ui, look: &Look, view: &View) {
    let (rect, response) = ui.allocate_exact_size(egui::vec2(look.u(60.0), look.u(20.0)), egui::Sense::hover());
    let share = |db: f64| crate::units::num::single(((db + 60.0) / 60.0).clamp(0.0, 1.0));
    let bar = rect.shrink2(egui::vec2(0.0, look.u(7.0)));
    let painter = ui.painter();
    painter.rect_filled(bar, 0.0, look.hair);
    let full = egui::Rect::from_min_size(bar.min, egui::vec2(bar.width() * share(view.level.0), bar.height()));
    painter.rect_filled(full, 0.0, look.voice);
    let notch = bar.left() + bar.width() * share(-12.0);
    painter.vline(notch, rect.y_range(), egui::Stroke::new(1.0, look.quiet));
    let text = format!("input level {:.0} dB", view.level.0.max(-99.0));
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Label, true, &text));
    response.on_hover_text(text.clone());
}

/// A knob as a slider.
pub fn knob_slider(ui: &mut Ui, knob: &Knob, actions: &mut Vec<Action>) -> Response {
    let mut value = knob.normalised;
    let mut slider = Slider::new(&mut value, 0.0..=1.0).show_value(false);
    if let Some(steps) = knob.steps.filter(|s| *s > 0) {
        slider = slider.step_by(1.0 / f64::from(steps));
    }
    let response = framed(ui, slider);
    let named = format!("{}: {}", knob.name, knob.text);
    response.widget_info(|| egui::WidgetInfo::slider(true, f64::from(knob.normalised), &named));
    let (began, changed, ended) = (response.drag_started(), response.changed(), response.drag_stopped());
    let dragged = response.dragged();
    let back = response.double_clicked();
    // Rounding to steps may call a value changed that nobody touched.
    let focused = response.has_focus() || response.clicked();
    if began {
        actions.push(Action::Begin(knob.field));
    }
    if back {
        whole(knob.field, knob.default, actions);
    } else if changed && (dragged || began || ended) {
        actions.push(Action::Set(knob.field, value));
    } else if changed && focused {
        whole(knob.field, value, actions);
    }
    if ended {
        actions.push(Action::End(knob.field));
    }
    response
}

/// A slider in a place of its own: in a row that wraps it would ask for all of the row.
pub fn framed(ui: &mut Ui, slider: Slider<'_>) -> Response {
    let size = egui::vec2(ui.spacing().slider_width, ui.spacing().interact_size.y);
    let layout = egui::Layout::left_to_right(egui::Align::Center);
    ui.allocate_ui_with_layout(size, layout, |ui| {
        // The rail, seen on any ground.
        let rail = ui.visuals().widgets.noninteractive.bg_stroke.color;
        ui.visuals_mut().widgets.inactive.bg_fill = rail;
        ui.add(slider)
    })
    .inner
}

/// One whole gesture.
pub fn whole(field: Field, value: f32, actions: &mut Vec<Action>) {
    actions.extend([Action::Begin(field), Action::Set(field, value.clamp(0.0, 1.0)), Action::End(field)]);
}

/// A choice among named things.
pub fn choice(ui: &mut Ui, name: &str, of: (&Choice, Chosen), actions: &mut Vec<Action>) -> Response {
    let (choice, chosen) = of;
    let label = ui.label(name);
    let width = (ui.spacing().combo_width * 3.2).min(ui.available_width());
    let current = fonts::shown(ui.ctx(), choice.label());
    let combo = ComboBox::from_id_salt(("choice", name)).selected_text(current).width(width).wrap();
    let shown = combo.show_ui(ui, |ui| {
        for (key, text) in &choice.options {
            let text = fonts::shown(ui.ctx(), text);
            if ui.selectable_label(*key == choice.current, text).clicked() {
                actions.push(Action::Choose(chosen, key.clone()));
            }
        }
    });
    shown.response.labelled_by(label.id)
}
