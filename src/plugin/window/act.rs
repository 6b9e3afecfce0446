//! Does what the user asks of the window.

use super::knobs::{self, Move};
use super::{Links, Session};
use crate::editor::action::{Action, Chosen, Export, Field};
use crate::editor::view::{LookChoice, View};
use crate::shell::bridge::{Command, Mark};
use crate::shell::export;
use crate::swara::tuning::{SavedTuning, Tuning};
use nice_plug::context::gui::GuiContext;

use std::sync::PoisonError;

/// Longest word of a mark, letters.
const WORD: usize = 40;

pub(super) struct Doer<'a> {
    pub(super) links: &'a Links,
    pub(super) session: &'a mut Session,
    pub(super) gui: &'a GuiContext,
    pub(super) view: &'a View,
    pub(super) ctx: egui::Context,
}

impl Doer<'_> {
    pub(super) fn act(&mut self, action: Action) {
        match action {
            Action::Begin(field) => self.set(field, Move::Begin),
            Action::Set(field, value) => self.set(field, Move::Set(value)),
            Action::End(field) => self.set(field, Move::End),
            Action::Enter(field, text) => self.set(field, Move::Enter(&text)),
            Action::Choose(what, key) => self.choose(what, &key),
            Action::Clear => self.ask(Command::Clear, "The statistics start anew."),
            Action::Freeze(on) => {
                self.session.until_s = on.then_some(self.view.now_s);
                self.set(Field::Freeze, Move::Whole(if on { 1.0 } else { 0.0 }));
            }
            Action::ShowUntil(at) => self.session.until_s = Some(at.clamp(0.0, self.view.now_s)),
            Action::Mark(word) => self.mark(&word),
            Action::Replay(which) => self.session.replay = which,
            Action::Show(face) => {
                let index = match face {
                    crate::editor::view::Face::Singing => 0.0,
                    crate::editor::view::Face::Teaching => 0.5,
                    crate::editor::view::Face::Checking => 1.0,
                };
                self.set(Field::Face, Move::Whole(index));
            }
            Action::Look(look) => self.look(look),
            Action::FollowOctave(on) => {
                let setter = self.gui.param_setter();
                setter.begin_set_parameter(&self.links.params.follow_octave);
                setter.set_parameter(&self.links.params.follow_octave, on);
                setter.end_set_parameter(&self.links.params.follow_octave);
            }
            Action::WakeDrone => self.ask(Command::Sound, ""),
            Action::PlayNote(index) => self.play(index),
            Action::Copy(text) => self.ctx.copy_text(text),
            Action::Export(what) => self.export(what),
            Action::CautionRead => self.window(|w| w.caution_read = true),
            Action::TakeSa
            | Action::ExerciseOption { .. }
            | Action::Ear(_)
            | Action::SaveProfile(_)
            | Action::DeleteProfile(_) => {
                self.say("This build cannot do that yet.");
            }
        }
    }

    fn set(&mut self, field: Field, step: Move<'_>) {
        let setter = self.gui.param_setter();
        if !knobs::set(&self.links.params, field, &setter, step)
            && let Move::Enter(text) = step
        {
            let name = knobs::knob(&self.links.params, field).name;
            self.say(&format!("'{text}' is no value for {name}: type a number, with or without its unit."));
        }
    }

    fn say(&mut self, words: &str) {
        words.clone_into(&mut self.session.said);
    }

    fn ask(&mut self, command: Command, done: &str) {
        if self.links.bridge.ask(command) {
            self.say(done);
        } else {
            self.say("The host is not sending audio: start it, then try again.");
        }
    }

    fn choose(&mut self, what: Chosen, key: &str) {
        let choices = &self.links.choices;
        match what {
            Chosen::Scale => choices.change(|c| key.clone_into(&mut c.scale)),
            Chosen::Tuning => match Tuning::from_name(key) {
                Ok(tuning) => choices.change(|c| c.tuning = SavedTuning::from(tuning)),
                Err(error) => self.say(&error.to_string()),
            },
            Chosen::Stringing => choices.change(|c| key.clone_into(&mut c.first_string)),
            Chosen::DroneKind => choices.change(|c| key.clone_into(&mut c.drone_kind)),
            Chosen::InputDevice if key == "hear" => {
                self.session.monitor = !self.session.monitor;
                let on = self.session.monitor;
                self.ask(
                    Command::Monitor(on),
                    if on { "Your voice is sent on." } else { "Your voice is kept from the loudspeakers." },
                );
            }
            Chosen::InputDevice => self.say(&format!("Start the app again with --input-device \"{key}\".")),
            Chosen::Exercise | Chosen::Profile => self.say("This build cannot do that yet."),
        }
    }

    fn mark(&mut self, word: &str) {
        let word: String = word.chars().take(WORD).collect();
        self.links.bridge.history(|history| {
            let time = history.line.back().map_or_else(Default::default, |point| point.time);
            history.marks.push(Mark { time, word });
        });
        self.say("Marked.");
    }

    fn play(&mut self, index: usize) {
        let target = self.view.notes.get(index).map(|row| (row.note.swara, row.note.sthayi));
        self.ask(Command::Reference(target), "The reference tone sounds; choose the note again to stop it.");
    }

    fn look(&mut self, look: LookChoice) {
        self.window(|w| {
            w.light = !look.dark;
            w.text_scale = look.text_scale;
            w.less_motion = look.less_motion;
        });
    }

    fn window(&self, change: impl FnOnce(&mut crate::shell::state::WindowMemory)) {
        change(&mut self.links.params.saved.window.write().unwrap_or_else(PoisonError::into_inner));
    }

    fn export(&mut self, what: Export) {
        let lesson = export::Lesson {
            bridge: &self.links.bridge,
            choices: &self.links.choices,
            sa: self.links.params.sa_hz(),
            band: self.view.band,
        };
        let written = match what {
            Export::Csv => export::csv(&lesson),
            Export::Report => export::report(&lesson),
            Export::Markers => export::markers(&lesson),
        };
        match written {
            Ok(path) => self.say(&format!("Saved {}", path.display())),
            Err(error) => self.say(&error.to_string()),
        }
    }
}
