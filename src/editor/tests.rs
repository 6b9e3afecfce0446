//! The window as a whole, headless: every face with nothing, an ordinary minute and everything at once; keys; sizes.

mod afar;
mod asked;
mod fits;
mod found;
mod hints;
mod keyboard;
mod large;
mod leading;
mod pictures;
mod places;
mod pressed;
mod reach;
mod still;
mod told;
mod tried;

use super::action::{Chosen, Ear, Export, Field, Listen, Run};
use super::keys::Press;
use super::sheets::Sheet;
use super::view::{ExerciseView, Face, View};
use super::{Action, Window, picture, sample};
use egui::accesskit::Role;
use egui::{Context, Event, Key, Modifiers, Pos2, RawInput, Rect, Shape, Vec2, epaint::ClippedShape, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;

const FACES: [Face; 3] = [Face::Singing, Face::Teaching, Face::Checking];
const TEXTS: [f32; 5] = [1.0, 1.25, 1.5, 1.75, 2.0];
const SIZES: [Vec2; 4] = [vec2(480.0, 320.0), vec2(800.0, 500.0), vec2(1280.0, 720.0), vec2(3840.0, 2160.0)];
/// Between the smallest window and twice that.
const BETWEEN: Vec2 = vec2(640.0, 400.0);
/// Twice the smallest window: text of twice the size fits.
const TWICE: Vec2 = vec2(960.0, 640.0);

const SHEETS: [Sheet; 8] =
    [Sheet::Settings, Sheet::Keys, Sheet::State, Sheet::Lesson, Sheet::Tonic, Sheet::More, Sheet::Marks, Sheet::Meter];

/// Pixels per point of the screens there are, as far as the largest of them goes.
fn scales(size: Vec2) -> impl Iterator<Item = f32> {
    [1.0, 1.5, 2.0, 3.0].into_iter().filter(move |scale| size.x * scale <= 3840.0)
}

/// Runs some frames; hands back the shapes of the last.
fn shapes(window: &mut Window, view: &View, (size, scale): (Vec2, f32)) -> Vec<ClippedShape> {
    let ctx = Context::default();
    let mut shapes = Vec::new();
    for frame in 0..4u32 {
        let mut input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, size)),
            time: Some(f64::from(frame) * 0.1),
            ..RawInput::default()
        };
        input.viewports.entry(input.viewport_id).or_default().native_pixels_per_point = Some(scale);
        let mut output = ctx.run_ui(input, |ui| window.ui(ui, view, &mut Vec::new()));
        output.textures_delta.clear();
        shapes = output.shapes;
    }
    shapes
}

/// Texts that end in an ellipsis, as what does not fit is cut by a control.
fn elided(shape: &Shape, out: &mut Vec<String>) {
    match shape {
        Shape::Vec(shapes) => shapes.iter().for_each(|s| elided(s, out)),
        Shape::Text(text) if text.galley.elided => out.push(format!("{:?} is elided", text.galley.text())),
        _ => {}
    }
}

fn texts(shape: &Shape, out: &mut Vec<(String, Rect)>) {
    match shape {
        Shape::Vec(shapes) => shapes.iter().for_each(|s| texts(s, out)),
        Shape::Text(text) if !text.galley.text().trim().is_empty() => {
            out.push((text.galley.text().to_owned(), text.galley.rect.translate(text.pos.to_vec2())));
        }
        _ => {}
    }
}

/// Words cut by the window's edge or by their panel; what merely scrolls may be cut above and below.
fn cut(shapes: &[ClippedShape], size: Vec2, scrolls: bool) -> Vec<String> {
    let screen = Rect::from_min_size(Pos2::ZERO, size);
    let mut out = Vec::new();
    for clipped in shapes {
        elided(&clipped.shape, &mut out);
        let mut found = Vec::new();
        texts(&clipped.shape, &mut found);
        for (text, rect) in found {
            let room = clipped.clip_rect.intersect(screen).expand(1.5);
            let wide = rect.left() >= room.left() && rect.right() <= room.right();
            let tall = scrolls || (rect.top() >= room.top() && rect.bottom() <= room.bottom());
            if !(wide && tall) {
                out.push(format!("{text:?} {rect:?} in {room:?}"));
            }
        }
    }
    out
}

/// The window as it stands.
fn harness(view: View) -> Harness<'static, Window> {
    Harness::builder()
        .with_size(vec2(1280.0, 720.0))
        .build_ui_state(move |ui, window: &mut Window| window.ui(ui, &view, &mut Vec::new()), Window::new())
}

/// A window whose list of notes begins with the oldest, as the notes of the samples are counted.
fn oldest_first() -> Window {
    let mut window = Window::new();
    window.memory.checking.order.turned = true;
    window
}

/// The window as a user presses it: what was asked for, in order.
fn pressing(view: View, sheet: Option<Sheet>, chosen: Option<usize>) -> Harness<'static, (Window, Vec<Action>)> {
    let mut window = oldest_first();
    window.memory.sheet = sheet;
    window.memory.checking.chosen = chosen;
    let mut harness = Harness::builder().with_size(vec2(1280.0, 900.0)).build_ui_state(
        move |ui, (window, actions): &mut (Window, Vec<Action>)| window.ui(ui, &view, actions),
        (window, Vec::new()),
    );
    harness.run_steps(3);
    harness
}

/// Opens a list and chooses of it, by the keyboard alone.
fn choose_by_keys(harness: &mut Harness<'static, (Window, Vec<Action>)>, list: &str, entry: &str) {
    harness.get_by_role_and_label(Role::ComboBox, list).focus();
    harness.run_steps(1);
    harness.key_press(Key::Enter);
    harness.run_steps(2);
    harness.get_by_label(entry).focus();
    harness.run_steps(1);
    harness.key_press(Key::Enter);
}

/// Presses the button of a name.
fn click(harness: &mut Harness<'static, (Window, Vec<Action>)>, name: &str) -> Vec<Action> {
    harness.state_mut().1.clear();
    harness.get_by_label(name).click();
    harness.run_steps(2);
    harness.state().1.clone()
}

/// What was asked for since the last look.
fn asked(harness: &mut Harness<'static, (Window, Vec<Action>)>) -> Vec<Action> {
    harness.run_steps(2);
    std::mem::take(&mut harness.state_mut().1)
}

/// Types as a keyboard does: each letter as a key and as text.
fn type_keys(harness: &mut Harness<'static, (Window, Vec<Action>)>, text: &str) {
    for letter in text.chars() {
        let key = Key::from_name(&letter.to_uppercase().to_string()).unwrap_or(Key::Space);
        harness.key_down(key);
        harness.event(Event::Text(letter.to_string()));
        harness.key_up(key);
        harness.run_steps(1);
    }
}

/// Presses one key in a fresh window and hands back what was asked for, and the window.
fn press(key: Key, view: &View) -> (Vec<Action>, Window) {
    let (ctx, mut window, mut actions) = (Context::default(), Window::new(), Vec::new());
    for pressed in [false, true, false] {
        let mut input =
            RawInput { screen_rect: Some(Rect::from_min_size(Pos2::ZERO, vec2(1280.0, 720.0))), ..RawInput::default() };
        if pressed {
            let modifiers = Modifiers::NONE;
            input.events.push(Event::Key { key, physical_key: None, pressed, repeat: false, modifiers });
        }
        let mut output = ctx.run_ui(input, |ui| window.ui(ui, view, &mut actions));
        output.textures_delta.clear();
    }
    (actions, window)
}
