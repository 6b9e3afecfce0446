//! The sheets behind the controls: settings, keys, the state of the line with the words explained, exercises, the whole meter.
//!
//! In: parts of [`View`]. Out: [`Action`]s. A sheet scrolls where it does not fit; Esc closes it.

use super::action::{Action, Chosen, Field};
use super::controls::{self, choice, framed, knob_slider, whole};
use super::keys::{KEYS, Press};
use super::look::Look;
use super::meter::{Meter, meter};
use super::motion::Motion;
use super::raga::{Search, raga};
use super::view::{Knob, View};
use super::{banner, footer, troubles};
use super::{drone, exercise, field, fonts, nudge, sight, tonic, words};
use egui::text::{CCursor, CCursorRange};
use egui::text_edit::TextEditState;
use egui::{ComboBox, Grid, RichText, ScrollArea, Slider, TextEdit, Ui};

/// How much of a sheet Page Down moves it by: some lines stay in sight.
const PAGE: f32 = 0.8;
/// What the list of keys gives to what each of them does, of its width.
const DOES_SHARE: f32 = 0.68;
/// Height that the sheet of the meter gives to a row, units: its figures stand in one line, below their headings.
const METER_ROW: f32 = 36.0;

/// Which sheet lies open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sheet {
    /// All parameters and choices.
    Settings,
    /// What each key does.
    Keys,
    /// What may be wrong; the words explained.
    State,
    /// Exercises and pupils.
    Lesson,
    /// Finding Sa.
    Tonic,
    /// What the bar of buttons has no room for.
    More,
    /// Marked moments.
    Marks,
    /// Each swara with its figures.
    Meter,
}

impl Sheet {
    pub(super) fn title(self) -> &'static str {
        match self {
            Sheet::Settings => "Settings",
            Sheet::Keys => "Keys",
            Sheet::State => "The sound, and the words",
            Sheet::Lesson => "Exercises and pupils",
            Sheet::Tonic => "Finding Sa",
            Sheet::More => "More",
            Sheet::Marks => "Marked moments",
            Sheet::Meter => "The meter",
        }
    }
}

/// What is being typed in a sheet.
#[derive(Debug, Clone, Default)]
pub struct Typing {
    /// A parameter's value under edit.
    pub value: Option<Value>,
    /// A value was typed, or was not, and the keyboard goes back to the button that asked for the field.
    pub typed: Option<Field>,
    /// The raga that is sought.
    pub raga: Search,
    /// The word of a mark.
    pub marks: super::marks::Typing,
    /// What is typed for a setting of the exercise.
    pub option: Option<exercise::Typed>,
    /// The name of a profile to keep.
    pub profile: String,
    /// A profile about to be deleted: asked once more.
    pub delete: Option<String>,
}

/// A parameter's value under edit.
#[derive(Debug, Clone)]
pub struct Value {
    /// Which parameter.
    pub field: Field,
    /// What is typed.
    pub text: String,
    /// The field was just opened: all of its text is selected.
    pub fresh: bool,
    /// What stood there when it was entered: while that does not change, what was typed stays to be mended.
    pub entered: Option<String>,
}

/// What is asked for on a sheet: what keys ask for too, and the rest.
pub struct Asked<'a> {
    /// As keys do.
    pub presses: &'a mut Vec<Press>,
    /// The rest.
    pub actions: &'a mut Vec<Action>,
    /// Clear waits for its second press.
    pub clear_armed: bool,
    /// The sheet was just opened by the keyboard: it goes to the first control.
    pub enters: bool,
    /// The sheet was just opened, by whatever.
    pub fresh: bool,
}

/// Draws the sheet; returns which is to lie open after it.
pub fn sheet(
    ui: &mut Ui,
    look: &Look,
    (which, view): (Sheet, &View),
    typing: &mut Typing,
    asked: &mut Asked<'_>,
) -> Option<Sheet> {
    let (mut opens, mut leads) = (Some(which), None);
    let close = ui
        .horizontal(|ui| {
            ui.label(RichText::new(which.title()).heading());
            ui.button("Close").on_hover_text("Esc")
        })
        .inner;
    let before = widgets(ui).len();
    let foot = ui.text_style_height(&egui::TextStyle::Small) + ui.spacing().item_spacing.y;
    let area = ScrollArea::vertical().id_salt(("sheet", which.title())).auto_shrink(false);
    let shown = area.max_height(ui.available_height() - foot).show(ui, |ui| {
        page(ui);
        match which {
            Sheet::Settings => {
                let (asks, found) = settings(ui, look, view, typing, asked);
                (opens, leads) = (asks.or(opens), found);
            }
            Sheet::Keys => keys(ui),
            Sheet::State => state(ui, look, view, asked.actions),
            Sheet::Lesson => lesson(ui, look, view, typing, asked.actions),
            Sheet::Tonic => tonic::sheet(ui, look, view, asked.actions),
            Sheet::More => more(ui, view, asked),
            Sheet::Marks => super::marks::sheet(ui, look, view, &mut typing.marks, asked.actions),
            Sheet::Meter => whole_meter(ui, look, view, asked.actions),
        }
        sight::follow(ui);
    });
    if let Some(lead) = leads {
        ui.memory_mut(|m| m.request_focus(lead));
    } else if asked.enters {
        // A sheet that is only read has nothing but the way out.
        let first = widgets(ui).into_iter().skip(before).find(|(_, takes)| *takes);
        ui.memory_mut(|m| m.request_focus(first.map_or(close.id, |(id, _)| id)));
    }
    let below = shown.content_size.y - shown.inner_rect.height() - shown.state.clamped_offset().y;
    if below > 1.0 {
        ui.label(RichText::new("More below: scroll, or Page Down").small().color(look.quiet));
    }
    opens.filter(|_| !close.clicked())
}

/// What was drawn so far on this layer, and whether it takes the keyboard.
fn widgets(ui: &Ui) -> Vec<(egui::Id, bool)> {
    let takes = |w: &egui::WidgetRect| (w.id, w.enabled && w.sense.is_focusable());
    ui.ctx().viewport(|v| v.this_pass.widgets.get_layer(ui.layer_id()).map(takes).collect())
}

/// All that the bar may have no room for, each with what it does.
fn more(ui: &mut Ui, view: &View, asked: &mut Asked<'_>) {
    if let Some(knob) = view.knob(Field::DroneLevel) {
        ui.horizontal_wrapped(|ui| {
            ui.label("Drone level");
            footer::drone_level(ui, knob, asked.actions);
        });
    }
    let clear = (footer::clear_word(view, asked.clear_armed), footer::CLEAR_HOVER, Press::Clear);
    let meter = (Sheet::Meter.title(), "key F: each swara with its figures", Press::Meter);
    for (name, does, press) in [clear, meter].into_iter().chain(footer::DOORS) {
        ui.horizontal_wrapped(|ui| {
            if ui.button(name).clicked() {
                asked.presses.push(press);
            }
            ui.label(does);
        });
    }
}

/// The meter with all its figures, as high as they need: a face that has no room for it is thus never without it.
fn whole_meter(ui: &mut Ui, look: &Look, view: &View, actions: &mut Vec<Action>) {
    if view.hides() {
        ui.label("Shown again when you have said what you heard.");
        return;
    }
    let high = look.u(METER_ROW) * (view.meter.len() + 1) as f32;
    let (area, _) = ui.allocate_exact_size(egui::vec2(ui.available_width(), high), egui::Sense::hover());
    meter(ui, area, look, &Meter::of(view), actions);
}

/// Page Down and Page Up move the sheet by most of its height.
fn page(ui: &Ui) {
    let (down, up) = ui.input_mut(|i| {
        let mut pressed = |key| i.count_and_consume_key(egui::Modifiers::NONE, key) as f32;
        (pressed(egui::Key::PageDown), pressed(egui::Key::PageUp))
    });
    if down != up {
        ui.scroll_with_delta(egui::vec2(0.0, (up - down) * PAGE * ui.clip_rect().height()));
    }
}

/// The settings; the sheet that is asked for from here, and the control at which they open where that is not the first.
fn settings(
    ui: &mut Ui,
    look: &Look,
    view: &View,
    typing: &mut Typing,
    asked: &mut Asked<'_>,
) -> (Option<Sheet>, Option<egui::Id>) {
    let (actions, fresh) = (&mut *asked.actions, asked.fresh);
    let mut leads = None;
    let is_sa = |knob: &&Knob| matches!(knob.field, Field::Sa | Field::SaOctave | Field::SaTrim);
    for knob in view.knobs.iter().filter(is_sa) {
        one_knob(ui, look, (knob, &view.tonic), typing, actions);
    }
    let finds =
        ui.button("Find Sa").on_hover_text("key T: from what sounds, or where a new voice is at ease").clicked();
    ui.separator();
    raga(ui, look, &view.scale, &mut typing.raga, actions);
    drone::proposal(ui, &view.drone, actions);
    nudge::block(ui, look, view, actions);
    ui.separator();
    drone::block(ui, look, &view.drone, actions);
    if let Some(device) = &view.device {
        let input = choice(ui, "Input", (&device.input, Chosen::InputDevice), actions);
        // Where no sound comes in, that is what the settings are opened for.
        leads = (fresh && device.nothing).then_some(input.id);
        let mut sends = device.sends_voice;
        let hover = "with headphones only: over loudspeakers it comes back into the microphone and howls";
        if ui.checkbox(&mut sends, "Send my voice to the loudspeakers").on_hover_text(hover).changed() {
            actions.push(Action::SendVoice(sends));
        }
    }
    ui.separator();
    for knob in view.knobs.iter().filter(|knob| !is_sa(knob) && stands(view, knob)) {
        one_knob(ui, look, (knob, &view.tonic), typing, actions);
    }
    ui.separator();
    looks(ui, look, view, actions);
    ui.separator();
    let mut keep = view.keep_statistics;
    let hover = "off before saving a project or preset to pass on: it then holds no statistics";
    // About the stand-alone app there is no project.
    let (name, hover) = match view.device {
        None => ("The project keeps the statistics", hover),
        Some(_) => ("Keep the statistics for the next start", "off: the next start begins with an empty meter"),
    };
    if ui.checkbox(&mut keep, name).on_hover_text(hover).changed() {
        actions.push(Action::KeepStatistics(keep));
    }
    ui.separator();
    ui.label(RichText::new(words::CAUTION).small());
    (finds.then_some(Sheet::Tonic), leads)
}

/// Whether a knob belongs on the sheet: some have keys of their own, and some mean nothing where there is no host.
fn stands(view: &View, knob: &Knob) -> bool {
    match knob.field {
        Field::Freeze | Field::Mark | Field::Face => false,
        Field::DroneTo | Field::PrintDrone | Field::Bypass => view.device.is_none(),
        _ => true,
    }
}

/// A knob whose few values have names.
fn named(ui: &mut Ui, knob: &Knob, actions: &mut Vec<Action>) {
    let label = ui.label(&knob.name);
    let list = ComboBox::from_id_salt(("knob", &knob.name)).selected_text(&knob.text);
    let names = knob.names.iter().map(|name| (*name == knob.text, name.clone()));
    let (response, taken) = controls::list(ui, &knob.name, list, names.collect());
    if let Some(i) = taken {
        let steps = knob.names.len().saturating_sub(1).max(1) as f32;
        whole(knob.field, i as f32 / steps, actions);
    }
    response.labelled_by(label.id);
}

fn one_knob(ui: &mut Ui, look: &Look, (knob, tonic): (&Knob, &str), typing: &mut Typing, actions: &mut Vec<Action>) {
    if knob.steps == Some(1) {
        let mut on = knob.normalised > 0.5;
        if ui.checkbox(&mut on, &knob.name).changed() {
            whole(knob.field, if on { 1.0 } else { 0.0 }, actions);
        }
        return;
    }
    if !knob.names.is_empty() {
        named(ui, knob, actions);
        return;
    }
    let label = ui.label(RichText::new(&knob.name).color(look.quiet));
    words::explained(label, &knob.name);
    // Sa is typed as it is said, octave and trim included.
    let now = if knob.field == Field::Sa { tonic } else { &knob.text };
    ui.horizontal_wrapped(|ui| {
        knob_slider(ui, knob, actions);
        ui.label(&knob.text);
        match &mut typing.value {
            Some(value) if value.field == knob.field => {
                let taken = value.entered.as_ref().is_some_and(|before| before != now);
                let (id, name) = (ui.scope_id().with("value"), format!("{}, typed", knob.name));
                let left = typed(ui, look, value, (id, &name));
                if field::rests(ui, id) && (taken || (left.is_some() && value.entered.is_none())) {
                    typing.typed = Some(knob.field);
                }
                match left {
                    _ if taken => typing.value = None,
                    Some(Some(text)) => {
                        value.entered = Some(now.to_owned());
                        actions.push(Action::Enter(knob.field, text));
                    }
                    Some(None) if value.entered.is_none() => typing.value = None,
                    _ => {}
                }
            }
            _ => {
                let hint = format!("type a value for {} (double click on the slider: default)", knob.name);
                let button = controls::small(ui, "type").on_hover_text(hint);
                if typing.typed.take_if(|field| *field == knob.field).is_some() {
                    button.request_focus();
                }
                if button.clicked() {
                    typing.value = Some(Value { field: knob.field, text: now.to_owned(), fresh: true, entered: None });
                }
            }
        }
    });
}

/// The field in which a value is typed; once it is left, what was entered, if anything was.
fn typed(ui: &mut Ui, look: &Look, value: &mut Value, (id, name): (egui::Id, &str)) -> Option<Option<String>> {
    let edit = TextEdit::singleline(&mut value.text).desired_width(look.u(150.0));
    let response = field::field(ui, id, name, edit);
    if value.fresh {
        let mut state = TextEditState::load(ui.ctx(), id).unwrap_or_default();
        let all = CCursorRange::two(CCursor::new(0), CCursor::new(value.text.chars().count()));
        state.cursor.set_char_range(Some(all));
        state.store(ui.ctx(), response.id);
        response.request_focus();
        value.fresh = false;
        return None;
    }
    if response.gained_focus() {
        // It is being mended.
        value.entered = None;
    }
    let left = response.lost_focus() || !response.has_focus();
    left.then(|| field::entered(ui, &response).then(|| value.text.clone()))
}

fn looks(ui: &mut Ui, look: &Look, view: &View, actions: &mut Vec<Action>) {
    let now = view.look;
    let mut next = now;
    ui.checkbox(&mut next.dark, "Dark ground");
    next.motion = motion(ui, view);
    ui.horizontal_wrapped(|ui| {
        let label = ui.label("Text size");
        let slider = Slider::new(&mut next.text_scale, 1.0..=2.0).step_by(0.25).show_value(false);
        framed(ui, slider).labelled_by(label.id);
        ui.label(words::text_size(now.text_scale, look.room));
    });
    if next != now {
        actions.push(Action::Look(next));
    }
}

/// What is chosen of motion, and which is in force and why.
fn motion(ui: &mut Ui, view: &View) -> Motion {
    let now = view.look.motion;
    let (_, name) = Motion::NAMED.into_iter().find(|(choice, _)| *choice == now).unwrap_or(Motion::NAMED[0]);
    ui.horizontal_wrapped(|ui| {
        let label = ui.label("Motion");
        let lines = Motion::NAMED.map(|(choice, name)| (choice == now, name.to_owned()));
        let list = ComboBox::from_id_salt("motion").selected_text(name);
        let (response, taken) = controls::list(ui, "Motion", list, lines.into());
        response
            .labelled_by(label.id)
            .on_hover_text("less: shapes move no oftener than the digits, five times a second");
        ui.label(now.told(view.system_asks_less));
        taken.map_or(now, |i| Motion::NAMED[i].0)
    })
    .inner
}

fn keys(ui: &mut Ui) {
    // What a key does is wrapped: a sheet that grew would lie under the face.
    let widest = ui.available_width() * DOES_SHARE;
    Grid::new("keys").num_columns(2).max_col_width(widest).show(ui, |ui| {
        for shortcut in KEYS {
            ui.label(RichText::new(shortcut.label).strong());
            ui.label(shortcut.does);
            ui.end_row();
        }
        ui.label(RichText::new("Tab, Enter").strong());
        ui.label("next control; press it");
        ui.end_row();
        ui.label(RichText::new("PgDn, PgUp").strong());
        ui.label("move an open sheet");
        ui.end_row();
    });
}

fn state(ui: &mut Ui, look: &Look, view: &View, actions: &mut Vec<Action>) {
    let troubles = troubles::troubles(view);
    if troubles.is_empty() {
        ui.label("Nothing is wrong with the sound.");
    }
    for (text, ask) in troubles {
        ui.horizontal_wrapped(|ui| {
            banner::triangle(ui, look);
            ui.label(text);
            if let Some((word, action)) = ask
                && ui.button(word.as_ref()).clicked()
            {
                actions.push(action);
            }
        });
    }
    ui.label(format!("{} since listening began: {}.", words::way_here(view), words::line(&view.faults)));
    if let Some(share) = view.judged_share {
        let page = words::clock(view.page_age_s);
        ui.label(format!("{:.0} % of the sung time could be judged; {page} sung on this page.", share * 100.0));
    }
    if let Some(practice) = words::long_tone(&view.long_tone) {
        ui.label(practice);
    }
    ui.separator();
    ui.label(RichText::new("The words").heading());
    for (word, meaning) in words::GLOSSARY {
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new(word).strong());
            ui.label(RichText::new(meaning).color(look.quiet));
        });
    }
}

fn lesson(ui: &mut Ui, look: &Look, view: &View, typing: &mut Typing, actions: &mut Vec<Action>) {
    let lesson = &view.lesson;
    exercise::set_up(ui, look, lesson, &mut typing.option, actions);
    ui.separator();
    choice(ui, "Pupil", (&lesson.profiles, Chosen::Profile), actions);
    ui.horizontal_wrapped(|ui| {
        let label = ui.label("Keep these settings as");
        let edit = TextEdit::singleline(&mut typing.profile).desired_width(look.u(120.0));
        let id = ui.scope_id().with("pupil's name");
        let field = field::field(ui, id, "Keep these settings as", edit).labelled_by(label.id);
        let typed = field::entered(ui, &field);
        let name = typing.profile.trim();
        let keep = ui.add_enabled(!name.is_empty(), egui::Button::new("Keep"));
        if keep.clicked() || (typed && !name.is_empty()) {
            actions.push(Action::SaveProfile(name.to_owned()));
            typing.profile.clear();
        }
    });
    if lesson.profiles.current.is_empty() {
        return;
    }
    let name = lesson.profiles.label();
    if lesson.pupil_changed {
        let word = fonts::shown(ui.ctx(), &format!("Keep what was changed for {name}")).into_owned();
        let hover = "the pupil's file has what was kept last: with another pupil, or at the next start, that is back";
        if ui.button(word).on_hover_text(hover).clicked() {
            actions.push(Action::SaveProfile(name.to_owned()));
        }
    }
    let mut remembered = lesson.pupil_in_project;
    // About the stand-alone app there is no project.
    let (name, hover) = match view.device {
        None => {
            ("The project remembers the pupil's name", "off: the project holds the settings, but not whose they are")
        }
        Some(_) => {
            ("The next start is with this pupil", "off: the next start has the settings, but not whose they are")
        }
    };
    if ui.checkbox(&mut remembered, name).on_hover_text(hover).changed() {
        actions.push(Action::PupilInProject(remembered));
    }
    let asked = typing.delete.as_ref() == Some(&lesson.profiles.current);
    let word = if asked { "Delete for good?" } else { "Delete this pupil" };
    if ui.button(word).clicked() {
        typing.delete = if asked {
            actions.push(Action::DeleteProfile(lesson.profiles.current.clone()));
            None
        } else {
            Some(lesson.profiles.current.clone())
        };
    }
}
