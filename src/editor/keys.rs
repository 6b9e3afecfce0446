//! Every key and what it does, in one table: the list of keys is drawn from it, and a test presses each.
//!
//! In: egui's input. Out: [`Press`]es. Letters are free while no text is being typed and no list lies open; the space bar
//! and the arrows belong to a focused control first.

use super::action::Ear;
use super::view::Face;
use egui::{Context, Event, Key, Modifiers, Popup};

/// What a key asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Press {
    /// The list of keys.
    Keys,
    /// Another face.
    Face(Face),
    /// Freeze or run.
    Freeze,
    /// Start the statistics anew (asks once more).
    Clear,
    /// Hear the first, second or third note worth singing again.
    Hear(usize),
    /// Mark this moment.
    Mark,
    /// Drone on or off.
    Drone,
    /// Count notes or only show them.
    Listening,
    /// The settings sheet.
    Settings,
    /// What the bar has no room for.
    More,
    /// All marked moments.
    Marks,
    /// The whole meter.
    Meter,
    /// The state of the line.
    State,
    /// Exercises and pupils.
    Lesson,
    /// The sheet on which Sa is found.
    Tonic,
    /// Find Sa from the sound.
    TakeSa,
    /// Madhyama shruti and back.
    Madhyama,
    /// Pause the exercise, or go on.
    Pause,
    /// Leave the due step out.
    Skip,
    /// What the singer heard.
    Ear(Ear),
    /// Follow the voice's octave or not.
    Octave,
    /// Drone louder.
    Louder,
    /// Drone softer.
    Softer,
    /// Frozen: earlier.
    Back,
    /// Frozen: later.
    Forward,
    /// Frozen: the lesson's start.
    Start,
    /// Back to now.
    Now,
    /// Larger text, and round again.
    Larger,
    /// Dark or light.
    Light,
    /// Less motion or all.
    Motion,
    /// Save the lesson's report.
    Report,
    /// Export the notes as CSV.
    Csv,
    /// Close a sheet.
    Close,
}

/// One line of the list.
#[derive(Debug, Clone, Copy)]
pub struct Shortcut {
    /// The key.
    pub key: Key,
    /// As it is written on the list.
    pub label: &'static str,
    /// What it does, in words.
    pub does: &'static str,
    /// What it asks for.
    pub press: Press,
    /// Whether a focused control has it first.
    pub shared: bool,
}

const fn on(key: Key, label: &'static str, press: Press, does: &'static str) -> Shortcut {
    Shortcut { key, label, does, press, shared: false }
}

const fn shared(key: Key, label: &'static str, press: Press, does: &'static str) -> Shortcut {
    Shortcut { key, label, does, press, shared: true }
}

/// All keys.
pub const KEYS: [Shortcut; 40] = [
    on(Key::H, "H", Press::Keys, "this list"),
    on(Key::Questionmark, "?", Press::Keys, "this list"),
    on(Key::Num1, "1", Press::Face(Face::Singing), "singing face"),
    on(Key::Num2, "2", Press::Face(Face::Teaching), "teaching face"),
    on(Key::Num3, "3", Press::Face(Face::Checking), "checking face"),
    on(Key::Num4, "4", Press::Hear(0), "hear the first note worth singing again"),
    on(Key::Num5, "5", Press::Hear(1), "hear the second of them"),
    on(Key::Num6, "6", Press::Hear(2), "hear the third of them"),
    shared(Key::Space, "Space", Press::Freeze, "letter, figures and lines stand still, or run"),
    on(Key::M, "M", Press::Mark, "mark this moment; then a word and Enter"),
    on(Key::W, "W", Press::Marks, "all marked moments, and their words"),
    on(Key::F, "F", Press::Meter, "the meter: each swara with its figures"),
    on(Key::L, "L", Press::Listening, "count notes, or only show them"),
    on(Key::D, "D", Press::Drone, "drone on or off"),
    on(Key::Plus, "+", Press::Louder, "drone louder"),
    on(Key::Equals, "=", Press::Louder, "drone louder"),
    on(Key::Minus, "-", Press::Softer, "drone softer"),
    on(Key::T, "T", Press::TakeSa, "find Sa from the sound"),
    on(Key::Y, "Y", Press::Madhyama, "madhyama shruti: Sa to Ma, and back"),
    on(Key::O, "O", Press::Octave, "follow the voice's octave, or not"),
    on(Key::C, "C", Press::Clear, "start the meter anew (press twice); once more: undo that"),
    on(Key::S, "S", Press::Settings, "settings"),
    on(Key::B, "B", Press::More, "the rest of the bar of buttons"),
    on(Key::E, "E", Press::Lesson, "exercises and pupils"),
    on(Key::P, "P", Press::Pause, "exercise: pause, or go on"),
    on(Key::N, "N", Press::Skip, "exercise: leave a step out; next note"),
    shared(Key::ArrowDown, "Down", Press::Ear(Ear::Low), "ear first: my note was low"),
    on(Key::Num0, "0", Press::Ear(Ear::Same), "ear first: my note was the same"),
    shared(Key::ArrowUp, "Up", Press::Ear(Ear::High), "ear first: my note was high"),
    on(Key::I, "I", Press::State, "state of the line, and words explained"),
    shared(Key::ArrowLeft, "Left", Press::Back, "frozen: earlier"),
    shared(Key::ArrowRight, "Right", Press::Forward, "frozen: later"),
    shared(Key::Home, "Home", Press::Start, "frozen: the start of the lesson"),
    shared(Key::End, "End", Press::Now, "frozen: the newest moment"),
    on(Key::R, "R", Press::Report, "save the report"),
    on(Key::X, "X", Press::Csv, "export the notes as CSV"),
    on(Key::G, "G", Press::Light, "dark or light ground"),
    on(Key::A, "A", Press::Larger, "larger text; after 200 % back to 100 %"),
    on(Key::V, "V", Press::Motion, "less motion, or all"),
    on(Key::Escape, "Esc", Press::Close, "end the tone that was asked for; close a sheet; end a comparison"),
];

impl Shortcut {
    /// Whether written text is this key: some hosts and window libraries hand signs and capitals over only as text.
    fn written(&self, text: &str) -> bool {
        self.label.chars().count() == 1 && text.to_uppercase() == self.label
    }
}

/// Whether what is typed belongs to a text field or to an open list.
#[must_use]
pub fn typing(ctx: &Context) -> bool {
    ctx.text_edit_focused() || Popup::is_any_open(ctx)
}

/// What was pressed since the last frame, in the order of the table. `typed`: what [`typing`] said when that frame had been
/// drawn (Escape has left a field before this is asked).
#[must_use]
pub fn pressed(ctx: &Context, typed: bool) -> Vec<Press> {
    let typing = typed || typing(ctx);
    let focused = ctx.memory(|m| m.focused().is_some());
    let mut out = Vec::new();
    ctx.input_mut(|input| {
        let plain = !input.modifiers.command && !input.modifiers.ctrl && !input.modifiers.alt;
        for shortcut in KEYS {
            let taken = typing || (shortcut.shared && focused);
            let written = |e: &Event| matches!(e, Event::Text(text) if shortcut.written(text));
            // A question mark or plus is typed with shift on some keyboards, without on others.
            let hit = !taken
                && (input.consume_key(Modifiers::NONE, shortcut.key)
                    || (matches!(shortcut.key, Key::Questionmark | Key::Plus)
                        && input.consume_key(Modifiers::SHIFT, shortcut.key))
                    || (plain && input.events.iter().any(written)));
            if hit {
                out.push(shortcut.press);
            }
        }
    });
    // Whoever types fast has written more by the time of this frame: behind M it is the word.
    if out.contains(&Press::Mark) {
        let word = behind_mark(ctx);
        let in_word = |key: &Shortcut| word.chars().any(|c| key.written(&c.to_string()));
        out.retain(|press| *press == Press::Mark || !KEYS.iter().any(|key| key.press == *press && in_word(key)));
    }
    out
}

/// What was written in this frame behind the M that marks.
#[must_use]
pub fn behind_mark(ctx: &Context) -> String {
    let text = |event: &Event| if let Event::Text(text) = event { Some(text.clone()) } else { None };
    let all: String = ctx.input(|input| input.events.iter().filter_map(text).collect());
    all.split_once(['m', 'M']).map_or_else(String::new, |(_, behind)| behind.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_key_has_two_meanings() {
        for (i, a) in KEYS.iter().enumerate() {
            for b in KEYS.iter().skip(i + 1) {
                assert_ne!(a.key, b.key, "{} and {}", a.does, b.does);
            }
        }
    }
}
