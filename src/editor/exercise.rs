//! The exercise in the window: one strip while it runs, the sheet on which it is set up, and the page on which the ear comes first.
//!
//! In: parts of [`View`]. Out: drawing and [`Action`]s. What to do, how far and what was noticed was decided before; here it is
//! only written. While the ear comes first, nothing that tells the pitch is drawn on any face.

use super::action::{Action, Chosen, Ear, Run};
use super::controls::{choice, small};
use super::field::{entered, field};
use super::look::{Look, fitting, paragraph, write, write_wrapped};
use super::singing;
use super::view::{ExerciseOption, ExerciseView, Face, LessonView, View};
use egui::{Align2, Button, Label, Painter, Rect, RichText, TextEdit, Ui, UiBuilder, vec2};

/// The answers and their keys.
const EARS: [(&str, &str, Ear); 3] = [("low", "Down", Ear::Low), ("same", "0", Ear::Same), ("high", "Up", Ear::High)];
/// The key on its button, of the size of the answer.
const KEY_SIZE: f32 = 0.6;

/// How an order is written.
const STEPS_HOVER: &str =
    "a dot before a swara is low, ' behind it high, brackets about it what may be left out; Enter takes it";

/// What the large place gives to what to do now, and to what there is to think of, of its height.
const CALL: f32 = 0.4;
const TOLD: f32 = 0.26;
/// What stands there beside what to do now is larger by this than other words for two metres.
const FARTHER: f32 = 1.3;
/// What that is at least, of the height of the large place: in a small window there is room beside the call all the same.
const FARTHER_SHARE: f32 = 0.1;
/// What the name of the round that is over takes of their width.
const WHOSE: f32 = 0.14;
/// The least height of the marks there: a name and two lines, in the size of body text.
const LEAST_MARKS: f32 = 4.5;
/// What stands beside marks of the round that is over.
const LAST_ROUND: &str = "Last round";
/// What was not sung of it.
const LEFT_OUT: &str = "left out";
/// Gap between the things that the bar tells, units.
const APART: f32 = 16.0;

/// What to do now, as large as it fits: it is read from where one stands and sings.
pub fn call(painter: &Painter, area: Rect, look: &Look, text: &str) {
    let size = (area.height() * 0.5).max(look.body().size);
    write(painter, (area.center(), Align2::CENTER_CENTER), text, (look.words(size), look.ink), area.width());
}

/// The large place while nothing sounds: what to do now, and below it what there is to think of and how each swara went, or how far
/// it is. It stands there until the singer sings: then the letter does.
pub fn stage(painter: &Painter, area: Rect, look: &Look, running: &ExerciseView) {
    let far = (look.far * FARTHER).max(area.height() * FARTHER_SHARE);
    // In a low window the marks stand in the bar of the exercise alone: here they would be too small to be read.
    let marks = area.height() * (1.0 - CALL - TOLD) >= LEAST_MARKS * look.body().size;
    let told = if running.told.is_empty() { 0.0 } else { TOLD };
    let ends = if marks { [0.0, CALL, CALL + told, 1.0] } else { [0.0, 1.0 - told, 1.0, 1.0] };
    let part = |i: usize| {
        let y = |i: usize| area.top() + area.height() * ends.get(i).copied().unwrap_or(1.0);
        Rect::from_x_y_ranges(area.x_range(), y(i)..=y(i + 1))
    };
    if running.steps.is_empty() && running.told.is_empty() && running.progress_text.is_empty() {
        call(painter, area, look, &running.call);
        return;
    }
    call(painter, part(0), look, &running.call);
    write_wrapped(painter, part(1), &running.told, (look.words(far), look.ink));
    let below = part(2);
    if !marks {
        return;
    }
    if running.steps.is_empty() {
        let (words, line) = below.split_top_bottom_at_y(below.top() + below.height() * 0.7);
        write_wrapped(painter, words, &running.progress_text, (look.words(far * FARTHER), look.ink));
        if let Some(share) = running.progress {
            let line = Rect::from_center_size(line.center(), vec2(line.width() * 0.6, line.height() * 0.3));
            filled(painter, line, look, share);
        }
        return;
    }
    // Each swara of the round in its place, its mark below it, part by part; all of one size.
    // Marks of the round that is over stand under a name of their own.
    let (whose, below) =
        below.split_left_right_at_x(below.left() + if running.last_round { below.width() * WHOSE } else { 0.0 });
    let each = below.width() / running.steps.len() as f32;
    let cells = running.steps.iter().enumerate().map(|(i, (step, how))| {
        let cell = Rect::from_min_size(below.min + vec2(each * i as f32, 0.0), vec2(each, below.height()));
        let (name, mark) =
            cell.shrink2(vec2(each * 0.03, 0.0)).split_top_bottom_at_y(cell.top() + cell.height() * 0.36);
        (name, mark, step, how.as_deref().map(|how| how.replace(", ", "\n")))
    });
    let cells: Vec<_> = cells.collect();
    let words = look.words(far);
    let smallest = |all: &mut dyn Iterator<Item = (Rect, &str)>| {
        let size = |(place, text): (Rect, &str)| fitting(painter, place.size(), text, &words);
        look.words(all.filter_map(size).fold(far, f32::min))
    };
    let names = smallest(&mut cells.iter().map(|(name, _, step, _)| (*name, step.as_str())));
    let marks = smallest(&mut cells.iter().filter_map(|(_, mark, _, how)| Some((*mark, how.as_deref()?))));
    if running.last_round {
        write_wrapped(painter, whose, LAST_ROUND, (names.clone(), look.quiet));
    }
    for (name, mark, step, how) in &cells {
        write_wrapped(painter, *name, step, (names.clone(), look.ink));
        match how {
            Some(how) => write_wrapped(painter, *mark, how, (marks.clone(), look.ink)),
            None if running.last_round => write_wrapped(painter, *mark, LEFT_OUT, (marks.clone(), look.quiet)),
            // A place that is still to be filled.
            None => {
                let radius = (mark.height() * 0.22).min(far * 0.5);
                painter.circle_stroke(mark.center(), radius, egui::Stroke::new((far * 0.1).max(2.0), look.ink));
            }
        }
    }
}

/// How far it is, as a line that fills.
fn filled(painter: &Painter, line: Rect, look: &Look, share: f32) {
    painter.rect_stroke(line, 0.0, egui::Stroke::new(1.0, look.rule), egui::StrokeKind::Inside);
    painter.rect_filled(line.with_max_x(line.left() + line.width() * share.clamp(0.0, 1.0)), 0.0, look.still);
}

/// What the large place says, for assistive technology.
#[must_use]
pub fn spoken(running: &ExerciseView) -> String {
    let marks = running.steps.iter().filter_map(|(step, how)| how.as_ref().map(|how| format!("{step}: {how}")));
    let whose = if running.last_round { LAST_ROUND.to_owned() } else { String::new() };
    let parts = [running.call.clone(), running.told.clone(), whose].into_iter().chain(marks);
    let parts: Vec<String> = parts.filter(|part| !part.is_empty()).collect();
    parts.join(" – ")
}

/// How high the bar is at most, points: words take what they are laid out to, the row of tools and marks wraps.
#[must_use]
pub fn height(ui: &Ui, look: &Look, running: &ExerciseView) -> f32 {
    let (full, gap) = (ui.available_width() - 2.0 * look.u(APART), ui.spacing().item_spacing);
    let size = look.far;
    let laid = |text: &str, width: f32| ui.painter().layout(text.to_owned(), look.words(size), look.ink, width).size();
    let words = [&running.now, &running.told, &running.rest];
    let lines: f32 = words.iter().filter(|text| !text.is_empty()).map(|text| laid(text, full).y + gap.y).sum();
    let apart = look.u(APART);
    let steps = running.steps.iter().map(|(step, how)| format!("{step}: {}", how.as_deref().unwrap_or(LEFT_OUT)));
    let tools = ["Pause", "Leave it out", "Next note", "End", &running.progress_text].map(str::to_owned);
    let row: f32 = tools.into_iter().chain(steps).map(|text| laid(&text, f32::INFINITY).x + 2.0 * apart).sum();
    lines + (row / full).ceil() * (size * 1.4 + gap.y)
}

/// The exercise that runs where the letter needs the room: what is pressed, and how far it is; the rest stands on the stage between
/// two notes.
pub fn low_strip(ui: &mut Ui, running: &ExerciseView, actions: &mut Vec<Action>) {
    ui.horizontal_wrapped(|ui| {
        tools(ui, running, actions);
        if !running.progress_text.is_empty() {
            ui.add(Label::new(&running.progress_text).extend());
        }
    });
}

/// The exercise that runs: what to do, how far, what was noticed.
pub fn strip(ui: &mut Ui, look: &Look, view: &View, running: &ExerciseView, actions: &mut Vec<Action>) {
    // On the singing face it stands where the letter does, larger.
    let size = if view.face == Face::Singing { look.far_up_to(17.0) } else { look.far };
    // While the ear comes first, the page above says what to do.
    if !running.hides {
        ui.label(RichText::new(&running.now).size(size));
    }
    ui.horizontal_wrapped(|ui| {
        tools(ui, running, actions);
        ui.spacing_mut().item_spacing.x = look.u(APART);
        if !running.progress_text.is_empty() {
            ui.add(Label::new(RichText::new(&running.progress_text).size(look.far)).extend());
        }
        steps(ui, running, size);
    });
    // A rest comes before what was noticed.
    if !running.rest.is_empty() {
        ui.label(RichText::new(&running.rest).size(size));
    } else if !running.told.is_empty() && !running.hides {
        ui.label(RichText::new(&running.told).size(if running.stands { look.far } else { size }));
    }
}

/// Each step with its mark.
fn steps(ui: &mut Ui, running: &ExerciseView, size: f32) {
    if running.last_round {
        ui.add(Label::new(RichText::new(format!("{LAST_ROUND}:")).size(size)).extend());
    }
    for (step, how) in &running.steps {
        let text = match how {
            Some(how) => format!("{step}: {how}"),
            None if running.last_round => format!("{step}: {LEFT_OUT}"),
            None => format!("{step}: to come"),
        };
        ui.add(Label::new(RichText::new(text).size(size)).extend());
    }
}

/// Pause, skip, end.
fn tools(ui: &mut Ui, running: &ExerciseView, actions: &mut Vec<Action>) {
    let (word, hover) = if running.paused { ("Go on", "key P") } else { ("Pause", "key P: nothing counts meanwhile") };
    if small(ui, word).on_hover_text(hover).clicked() {
        actions.push(Action::Exercise(Run::Pause(!running.paused)));
    }
    if running.may_skip && small(ui, "Leave it out").on_hover_text("key N: without penalty").clicked() {
        actions.push(Action::Exercise(Run::Skip));
    }
    let next = "key N: the answer is put away, and the next note counts";
    if running.stands && small(ui, "Next note").on_hover_text(next).clicked() {
        actions.push(Action::Exercise(Run::Skip));
    }
    if small(ui, "End").on_hover_text("end the exercise").clicked() {
        actions.push(Action::Exercise(Run::End));
    }
}

/// Low, same, high.
fn ears(ui: &mut Ui, size: f32, look: &Look, actions: &mut Vec<Action>) {
    for (word, key, ear) in EARS {
        let size = look.u(17.0 * size);
        let mut text = egui::text::LayoutJob::default();
        let format = |points: f32| egui::TextFormat {
            font_id: look.words(points),
            // As on any button.
            color: egui::Color32::PLACEHOLDER,
            valign: egui::Align::Center,
            ..egui::TextFormat::default()
        };
        text.append(word, 0.0, format(size));
        text.append(&format!("key {key}"), size * KEY_SIZE, format(size * KEY_SIZE));
        let button = ui.add(Button::new(text));
        button.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, word));
        if button.on_hover_text(format!("key {key}")).clicked() {
            actions.push(Action::Ear(ear));
        }
    }
}

/// The page on which the ear comes first: what to do, and the question when a note was sung.
pub fn ear_first(ui: &mut Ui, area: Rect, look: &Look, view: &View, actions: &mut Vec<Action>) {
    let Some(running) = &view.lesson.exercise else { return };
    let area = area.shrink(look.u(14.0));
    let (top, bottom) = area.split_top_bottom_at_y(area.top() + area.height() * 0.4);
    // Nothing is asked of a singer whom nobody hears.
    if let Some(why) = singing::deaf(view) {
        call(ui.painter(), top, look, &why);
        return;
    }
    call(ui.painter(), top, look, &running.call);
    let (middle, bottom) = bottom.split_top_bottom_at_y(bottom.top() + bottom.height() * 0.4);
    // It is read from where one sings.
    let size = look.far.max(look.u(17.0));
    if !running.asks_ear {
        let lines = format!("{} The meter comes after your answer.", running.now);
        paragraph(ui, middle, RichText::new(lines).size(size));
        return;
    }
    // The question stands in the large place.
    paragraph(ui, middle, RichText::new(&running.now).size(size));
    ui.scope_builder(UiBuilder::new().max_rect(bottom), |ui| {
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing = vec2(look.u(16.0), look.u(8.0));
            ears(ui, 1.8, look, actions);
        });
    });
}

/// How far it is; what it says stands below, where there is room for it.
pub fn bar(ui: &mut Ui, look: &Look, share: f32) {
    let size = vec2(look.u(260.0).min(ui.available_width()), look.u(14.0));
    let (line, response) = ui.allocate_exact_size(size, egui::Sense::hover());
    let told = format!("{:.0} %", share * 100.0);
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::ProgressIndicator, true, &told));
    filled(ui.painter(), line, look, share);
}

/// An exercise is under way, perhaps another than the chosen one: whether to go on with it or to begin is asked, never decided.
fn under_way(ui: &mut Ui, look: &Look, (running, chosen): (&ExerciseView, &str), actions: &mut Vec<Action>) {
    let how = if running.paused { "is paused where you left it" } else { "is under way" };
    ui.label(RichText::new(format!("{} {how}.", running.name)).strong());
    if let Some(share) = running.progress {
        bar(ui, look, share);
    }
    ui.horizontal_wrapped(|ui| {
        tools(ui, running, actions);
        let other = running.name != chosen;
        let begin = if other { format!("Begin {chosen} instead") } else { "Begin anew".to_owned() };
        let hover = "what was counted of the one that is under way goes";
        if small(ui, begin).on_hover_text(hover).clicked() {
            actions.push(Action::Exercise(Run::Start));
        }
    });
}

/// Whether that has the singer sing an exercise: then the sheet is in the way.
#[must_use]
pub fn begins(action: &Action) -> bool {
    matches!(action, Action::Exercise(Run::Start | Run::Pause(false)))
}

/// What is typed for a setting.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Typed {
    /// Which.
    option: String,
    text: String,
    /// It was finished with Enter, and is not what is in force yet.
    entered: bool,
}

/// The field in which a setting is typed that may be, beside its list; Enter takes it.
fn typed(ui: &mut Ui, look: &Look, option: &ExerciseOption, typing: &mut Option<Typed>, actions: &mut Vec<Action>) {
    if option.typed_like.is_empty() {
        return;
    }
    // What was taken is the choice; what was not stays to be mended.
    typing.take_if(|typed| typed.entered && typed.option == option.key && typed.text == option.choice.current);
    ui.horizontal_wrapped(|ui| {
        let name = format!("{}, typed", option.name);
        let label = ui.label(&name);
        let mut text = match typing {
            Some(typed) if typed.option == option.key => typed.text.clone(),
            _ => option.choice.current.clone(),
        };
        let edit = TextEdit::singleline(&mut text).hint_text(&option.typed_like).desired_width(look.u(150.0));
        let id = ui.scope_id().with(("typed", &option.key));
        let edit = field(ui, id, &name, edit).labelled_by(label.id).on_hover_text(STEPS_HOVER);
        let own = |text: &str, entered: bool| Typed { option: option.key.clone(), text: text.to_owned(), entered };
        if entered(ui, &edit) {
            let value = text.trim().to_owned();
            *typing = Some(own(&value, true));
            actions.push(Action::ExerciseOption { option: option.key.clone(), value });
        } else if edit.has_focus() {
            *typing = Some(own(&text, false));
        } else {
            typing.take_if(|typed| typed.option == option.key && !typed.entered);
        }
        if typing.as_ref().is_some_and(|typed| typed.option == option.key && typed.entered) {
            ui.label(format!("Not taken: write up to eight swaras, like {}.", option.typed_like));
        }
    });
}

/// The part of the lesson's sheet that sets an exercise up.
pub fn set_up(ui: &mut Ui, look: &Look, lesson: &LessonView, typing: &mut Option<Typed>, actions: &mut Vec<Action>) {
    choice(ui, "Exercise", (&lesson.exercises, Chosen::Exercise), actions);
    if let Some(running) = &lesson.exercise {
        under_way(ui, look, (running, lesson.exercises.label()), actions);
    }
    ui.label(RichText::new(&lesson.about).color(look.quiet));
    for option in &lesson.options {
        let mut asked = Vec::new();
        choice(ui, &option.name, (&option.choice, Chosen::Exercise), &mut asked);
        for action in asked {
            if let Action::Choose(_, value) = action {
                actions.push(Action::ExerciseOption { option: option.key.clone(), value });
            }
        }
        typed(ui, look, option, typing, actions);
    }
    if lesson.exercise.is_none() && ui.button("Start the exercise").clicked() {
        actions.push(Action::Exercise(Run::Start));
    }
}
