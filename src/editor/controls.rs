//! The controls that stand anywhere: sliders, lists, low buttons, and what counts as one press.
//!
//! In: a knob or a choice. Out: [`Action`]s. Every control has a name and takes the keyboard's focus.

use super::action::{Action, Chosen, Field};
use super::fonts;
use super::view::{Choice, Knob};
use super::words;
use egui::{ComboBox, Response, Slider, Ui};

/// A second press within so long is the end of a double click, seconds.
pub(super) const TWICE_S: f64 = 0.6;
/// Above and below the letters of a low button, of what others have.
const SMALL_PAD: f32 = 0.7;

/// Whether a press here is the first for a while: the buttons of the banner follow one another in one place, and a double click on
/// the one must not start the drone with the next; nor may Sa be moved twice.
pub fn once(ui: &Ui) -> bool {
    let (key, now) = (egui::Id::unique("last press of those that count once"), ui.input(|i| i.time));
    let last: Option<f64> = ui.data(|data| data.get_temp(key));
    ui.data_mut(|data| data.insert_temp(key, now));
    last.is_none_or(|last| now - last > TWICE_S)
}

/// A button that is low, so that a line of words is hardly higher for it; its frame stands clear of its letters all the same.
pub fn small(ui: &mut Ui, word: impl Into<egui::WidgetText>) -> Response {
    let (pad, high) = (ui.spacing().button_padding.y, ui.spacing().interact_size.y);
    ui.spacing_mut().button_padding.y = pad * SMALL_PAD;
    ui.spacing_mut().interact_size.y = 0.0;
    let button = ui.button(word);
    ui.spacing_mut().button_padding.y = pad;
    ui.spacing_mut().interact_size.y = high;
    button
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
    // Rounding to steps may call a value changed that nobody touched, at every frame.
    let moved = knob.steps.is_none_or(|steps| (value - knob.normalised).abs() * steps as f32 > 0.5);
    let focused = moved && (response.has_focus() || response.clicked());
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
        ui.visuals_mut().widgets.inactive.bg_fill = ui.visuals().window_stroke.color;
        let slider = ui.add(slider);
        // A slider's own handle does not tell where the keyboard is.
        if slider.has_focus() {
            let ring = ui.visuals().widgets.active.bg_stroke;
            ui.painter().rect_stroke(slider.rect, 0.0, ring, egui::StrokeKind::Inside);
        }
        slider
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
    let label = words::explained(ui.label(name), name);
    let width = (ui.spacing().combo_width * 3.2).min(ui.available_width());
    let current = fonts::shown(ui.ctx(), choice.label());
    let combo = ComboBox::from_id_salt(("choice", name)).selected_text(current).width(width).wrap();
    let options =
        choice.options.iter().map(|(key, text)| (*key == choice.current, fonts::shown(ui.ctx(), text).into_owned()));
    let (response, taken) = list(ui, name, combo, options.collect());
    if let Some((key, _)) = taken.and_then(|i| choice.options.get(i)) {
        actions.push(Action::Choose(chosen, key.clone()));
    }
    words::explained(response.labelled_by(label.id), name)
}

/// A list that opens, and which of its lines was taken. With that it closes: of itself it would do so for the mouse alone. Where the
/// keyboard opened it, the keyboard is at the line in force, and back at the list when that closes.
pub fn list(ui: &mut Ui, name: &str, list: ComboBox, lines: Vec<(bool, String)>) -> (Response, Option<usize>) {
    let mut taken = None;
    let key = ui.scope_id().with(("a list lay open", name));
    let was_open: bool = ui.data(|data| data.get_temp(key)).unwrap_or_default();
    let pointed = ui.input(|i| i.pointer.any_click());
    let in_force = lines.iter().position(|(chosen, _)| *chosen).unwrap_or_default();
    let shown = list.show_ui(ui, |ui| {
        for (i, (chosen, line)) in lines.into_iter().enumerate() {
            let line = ui.selectable_label(chosen, line);
            if i == in_force && !was_open && !pointed {
                line.request_focus();
            }
            if line.clicked() && was_open {
                taken = Some(i);
                ui.close();
            }
        }
        super::sight::follow(ui);
    });
    let open = shown.inner.is_some() && taken.is_none();
    ui.data_mut(|data| data.insert_temp(key, open));
    if was_open && !open && !pointed {
        shown.response.request_focus();
    }
    (shown.response, taken)
}
