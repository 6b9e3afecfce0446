//! The exercise in the window: one strip while it runs, the sheet on which it is set up, and the page on which the ear comes first.
//!
//! In: parts of [`View`]. Out: drawing and [`Action`]s. What to do, how far and what was noticed was decided before; here it is
//! only written. While the ear comes first, nothing that tells the pitch is drawn on any face.

use super::action::{Action, Chosen, Ear, Run};
use super::controls::choice;
use super::look::{Look, paragraph, write};
use super::view::{ExerciseView, Face, LessonView, View};
use egui::{Align2, Button, Label, Painter, Rect, RichText, Ui, UiBuilder, vec2};

/// The answers and their keys.
const EARS: [(&str, &str, Ear); 3] =
    [("low", "key Down", Ear::Low), ("same", "key 0", Ear::Same), ("high", "key Up", Ear::High)];

/// What to do now, as large as it fits: it is read from where one stands and sings.
pub fn call(painter: &Painter, area: Rect, look: &Look, text: &str) {
    let size = (area.height() * 0.5).max(look.body().size);
    write(painter, (area.center(), Align2::CENTER_CENTER), text, (look.words(size), look.ink), area.width());
}

/// The exercise that runs: what to do, how far, what was noticed.
pub fn strip(ui: &mut Ui, look: &Look, view: &View, running: &ExerciseView, actions: &mut Vec<Action>) {
    // While the ear comes first, the page above says what to do.
    if !running.hides {
        let size = look.u(17.0);
        // On the singing face it stands where the letter does, larger.
        let size = if view.face == Face::Singing { size } else { size.max(look.far) };
        ui.label(RichText::new(&running.now).size(size));
    }
    ui.horizontal_wrapped(|ui| {
        tools(ui, running, actions);
        if !running.progress_text.is_empty() {
            ui.add(Label::new(&running.progress_text).extend());
        }
        steps(ui, running);
    });
    if !running.told.is_empty() && !running.hides {
        let told = RichText::new(&running.told);
        // An answer is what the singer waits for; what was noticed is there to be looked up.
        ui.label(if running.stands { told.size(look.far) } else { told.color(look.quiet) });
    }
}

/// Each step with its mark.
fn steps(ui: &mut Ui, running: &ExerciseView) {
    for (step, how) in &running.steps {
        let text = match how {
            Some(how) => format!("{step}: {how}"),
            None => format!("{step} ·"),
        };
        ui.add(Label::new(text).extend());
    }
}

/// Pause, skip, end.
fn tools(ui: &mut Ui, running: &ExerciseView, actions: &mut Vec<Action>) {
    let (word, hover) = if running.paused { ("Go on", "key P") } else { ("Pause", "key P: nothing counts meanwhile") };
    if ui.small_button(word).on_hover_text(hover).clicked() {
        actions.push(Action::Exercise(Run::Pause(!running.paused)));
    }
    if running.may_skip && ui.small_button("Leave it out").on_hover_text("key N: without penalty").clicked() {
        actions.push(Action::Exercise(Run::Skip));
    }
    let next = "key N: the answer is put away, and the next note counts";
    if running.stands && ui.small_button("Next note").on_hover_text(next).clicked() {
        actions.push(Action::Exercise(Run::Skip));
    }
    if ui.small_button("End").on_hover_text("end the exercise").clicked() {
        actions.push(Action::Exercise(Run::End));
    }
}

/// Low, same, high.
fn ears(ui: &mut Ui, size: f32, look: &Look, actions: &mut Vec<Action>) {
    for (word, hover, ear) in EARS {
        let button = Button::new(RichText::new(word).size(look.u(17.0 * size)));
        if ui.add(button).on_hover_text(hover).clicked() {
            actions.push(Action::Ear(ear));
        }
    }
}

/// The page on which the ear comes first: what to do, and the question when a note was sung.
pub fn ear_first(ui: &mut Ui, area: Rect, look: &Look, view: &View, actions: &mut Vec<Action>) {
    let Some(running) = &view.lesson.exercise else { return };
    let area = area.shrink(look.u(14.0));
    let (top, bottom) = area.split_top_bottom_at_y(area.top() + area.height() * 0.4);
    call(ui.painter(), top, look, &running.call);
    let (middle, bottom) = bottom.split_top_bottom_at_y(bottom.top() + bottom.height() * 0.4);
    if !running.asks_ear {
        let lines = format!("{} The meter comes after your answer.", running.now);
        paragraph(ui, middle, RichText::new(lines).size(look.u(17.0)));
        return;
    }
    // The question stands in the large place.
    paragraph(ui, middle, RichText::new("Your own note, before the meter shows it.").size(look.u(17.0)));
    ui.scope_builder(UiBuilder::new().max_rect(bottom), |ui| {
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing = vec2(look.u(16.0), look.u(8.0));
            ears(ui, 1.8, look, actions);
        });
    });
}

/// How far it is; what it says stands below, where there is room for it.
pub fn bar(ui: &mut Ui, look: &Look, share: f32) {
    let width = look.u(260.0).min(ui.available_width());
    ui.add(egui::ProgressBar::new(share).fill(look.still).desired_width(width));
}

/// The part of the lesson's sheet that sets an exercise up.
pub fn set_up(ui: &mut Ui, look: &Look, lesson: &LessonView, actions: &mut Vec<Action>) {
    choice(ui, "Exercise", (&lesson.exercises, Chosen::Exercise), actions);
    ui.label(RichText::new(&lesson.about).color(look.quiet));
    for option in &lesson.options {
        let mut asked = Vec::new();
        choice(ui, &option.name, (&option.choice, Chosen::Exercise), &mut asked);
        for action in asked {
            if let Action::Choose(_, value) = action {
                actions.push(Action::ExerciseOption { option: option.key.clone(), value });
            }
        }
    }
    let Some(running) = &lesson.exercise else {
        if ui.button("Start the exercise").clicked() {
            actions.push(Action::Exercise(Run::Start));
        }
        return;
    };
    ui.separator();
    ui.label(RichText::new(&running.name).heading());
    ui.label(RichText::new(&running.now).size(look.u(18.0)));
    if let Some(share) = running.progress {
        bar(ui, look, share);
    }
    ui.label(&running.progress_text);
    steps(ui, running);
    ui.label(&running.told);
    ui.horizontal_wrapped(|ui| tools(ui, running, actions));
}
