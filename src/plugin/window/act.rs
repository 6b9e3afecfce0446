//! Does what the user asks of the window.

use super::knobs::{self, Move};
use super::{Links, Own, Session, drone, lesson};
use crate::editor::action::{Action, Chosen, Export, Field};
use crate::editor::look::Look;
use crate::editor::motion::Motion;
use crate::editor::view::{Face, LookChoice, View};
use crate::editor::{troubles, words};
use crate::shell::bridge::Command;
use crate::shell::{device, export};
use crate::swara::tuning::{SavedTuning, Tuning};
use nice_plug::context::gui::GuiContext;

use std::sync::PoisonError;

/// Longest word of a mark, letters.
const WORD: usize = 40;

impl Own {
    /// Whether this is for the window alone to do: without sound another face and the freeze still work.
    pub(super) fn takes(&mut self, field: Field, step: Move<'_>, without_sound: bool) -> bool {
        let value = match step {
            Move::Whole(value) if without_sound => Some(value),
            _ => None,
        };
        match field {
            Field::Face => {
                self.face = value.map(|value| match value {
                    v if v < 0.25 => Face::Singing,
                    v if v < 0.75 => Face::Teaching,
                    _ => Face::Checking,
                });
            }
            Field::Freeze => self.frozen = value.map(|value| value > 0.5),
            _ => return false,
        }
        value.is_some()
    }
}

/// The text size that was chosen, and what there is room for in a window of that size that shows this.
fn text_size(look: LookChoice, view: &View, window: egui::Vec2) -> String {
    format!("Text size {}.", words::text_size(look.text_scale, Look::chosen(look, view, window).room))
}

/// What was said of the text size follows the window's size and face while it stands.
pub(super) fn text_size_again(session: &mut Session, view: &View, window: egui::Vec2) {
    if session.text_size.as_ref() == Some(&session.said) {
        session.said = text_size(view.look, view, window);
        session.text_size = Some(session.said.clone());
    } else {
        session.text_size = None;
    }
}

/// Whether that changes what a pupil's file keeps.
fn changes_settings(action: &Action) -> bool {
    let field = |field: &Field| !matches!(field, Field::Face | Field::Freeze | Field::Mark | Field::Listening);
    match action {
        Action::Begin(of) | Action::Set(of, _) | Action::Enter(of, _) => field(of),
        Action::Choose(what, _) => matches!(what, Chosen::Scale | Chosen::Tuning | Chosen::Exercise),
        Action::AdoptSa(_) | Action::Madhyama | Action::Nudge(..) | Action::ExerciseOption { .. } => true,
        Action::FollowOctave(_) => true,
        _ => false,
    }
}

pub(super) struct Doer<'a> {
    pub(super) links: &'a Links,
    pub(super) session: &'a mut Session,
    pub(super) gui: &'a GuiContext,
    pub(super) view: &'a View,
    pub(super) ctx: egui::Context,
    /// The window's clock, seconds.
    pub(super) time_s: f64,
}

impl Doer<'_> {
    pub(super) fn act(&mut self, action: Action) {
        if changes_settings(&action) && self.session.settings_of.take().is_some_and(|told| told == self.session.said) {
            self.session.said.clear();
        }
        match action {
            Action::Begin(field) => self.set(field, Move::Begin),
            Action::Set(field, value) => self.set(field, Move::Set(value)),
            Action::End(field) => self.set(field, Move::End),
            Action::Enter(Field::Sa, text) => self.enter_sa(&text),
            Action::Enter(field, text) => self.set(field, Move::Enter(&text)),
            Action::Choose(what, key) => self.choose(what, &key),
            Action::Clear => self.clear(),
            Action::Unclear => self.unclear(),
            Action::Freeze(on) => {
                self.session.until_s = on.then_some(self.view.now_s);
                self.set(Field::Freeze, Move::Whole(if on { 1.0 } else { 0.0 }));
            }
            Action::ShowUntil(at) => self.session.until_s = Some(at.clamp(0.0, self.view.now_s)),
            Action::Mark => self.mark(),
            Action::Word(word) => self.word(&word),
            Action::Replay(which) => self.session.replay = which,
            Action::Show(face) => {
                let index = match face {
                    Face::Singing => 0.0,
                    Face::Teaching => 0.5,
                    Face::Checking => 1.0,
                };
                self.set(Field::Face, Move::Whole(index));
            }
            Action::Look(look) => self.look(look),
            Action::FollowOctave(on) => self.follow_octave(on),
            Action::WakeDrone => self.ask(Command::Sound, ""),
            Action::PlayNote(index) => self.play(index, false),
            Action::PlayTarget(index) => self.play(index, true),
            Action::Hush => self.hush(),
            Action::Reference(swara) => self.reference(swara),
            Action::NameMark(id, word) => self.rename(id, &word),
            Action::DropMark(id) => self.drop_mark(id),
            Action::Drone(asked) => self.drone(asked),
            Action::Nudge(position, cents) => self.nudge(position, cents),
            Action::ShowNote(which) => self.session.note = which,
            Action::Listen(what) => self.listen(what),
            Action::AdoptSa(sa) => self.adopt(sa),
            Action::Madhyama => self.madhyama(),
            Action::Copy(text) => self.ctx.copy_text(text),
            Action::Export(what) => self.export(what),
            Action::StartAnew => self.start_anew(None),
            Action::CautionRead => self.window(|w| w.caution_read = true),
            Action::Exercise(run) => self.exercise(run),
            Action::ExerciseOption { option, value } => self.option(&option, value),
            Action::Ear(ear) => self.ear(ear),
            Action::KeepStatistics(on) => self.links.choices.change(|c| c.keep_statistics = on),
            Action::SendVoice(on) => self.send_voice(on),
            Action::PupilInProject(on) => self.remember_pupil(on),
            Action::SaveProfile(name) => self.save_profile(&name),
            Action::DeleteProfile(key) => self.delete_profile(&key),
        }
    }

    pub(super) fn follow_octave(&mut self, on: bool) {
        if self.stuck("It") {
            return;
        }
        let setter = self.gui.param_setter();
        setter.begin_set_parameter(&self.links.params.follow_octave);
        setter.set_parameter(&self.links.params.follow_octave, on);
        setter.end_set_parameter(&self.links.params.follow_octave);
    }

    pub(super) fn set(&mut self, field: Field, step: Move<'_>) {
        if self.session.own.takes(field, step, self.without_sound()) {
            return;
        }
        if self.stuck(&knobs::knob(&self.links.params, field).name) {
            return;
        }
        let setter = self.gui.param_setter();
        if !knobs::set(&self.links.params, field, &setter, step)
            && let Move::Enter(text) = step
        {
            let name = knobs::knob(&self.links.params, field).name;
            self.say(&format!("'{text}' is no value for {name}: type a number, with or without its unit."));
        }
    }

    /// The stand-alone app's sound has ended, and with it what moves parameters.
    pub(super) fn without_sound(&self) -> bool {
        self.view.device.is_some() && self.view.trouble.host_silent
    }

    /// Whether a parameter cannot be moved now, which is said with the way out.
    pub(super) fn stuck(&mut self, name: &str) -> bool {
        let stuck = self.without_sound();
        if stuck {
            self.say(&format!("{name} cannot be changed while the sound system is stopped: start it again first."));
        }
        stuck
    }

    pub(super) fn say(&mut self, words: &str) {
        self.session.say(words);
    }

    fn send_voice(&mut self, on: bool) {
        let done = if on { "Your voice is sent on." } else { "Your voice is kept from the loudspeakers." };
        if self.links.bridge.ask(Command::Monitor(on)) {
            self.session.monitor = on;
            self.say(done);
        } else {
            self.say_silent();
        }
    }

    fn ask(&mut self, command: Command, done: &str) {
        if self.links.bridge.ask(command) {
            if !done.is_empty() {
                self.say(done);
            }
        } else {
            self.say_silent();
        }
    }

    fn clear(&mut self) {
        if !self.links.bridge.ask(Command::Clear) {
            self.say_silent();
            return;
        }
        let page = self.links.choices.look(|c| c.setup.page);
        self.session.cleared = Some((self.time_s, (self.view.sa, page)));
        self.links.bridge.history(|history| history.cleared = Some(history.now()));
        self.say("This meter page is empty; C once more undoes that.");
    }

    fn unclear(&mut self) {
        self.session.cleared = None;
        self.links.bridge.history(|history| history.cleared = None);
        self.ask(Command::Unclear, "The meter page is as it was.");
    }

    /// What was asked for needs sound, and none is handed over.
    pub(super) fn say_silent(&mut self) {
        let source = troubles::source(self.view);
        self.say(&format!("The {source} is not sending audio: start it, then try again."));
    }

    fn choose(&mut self, what: Chosen, key: &str) {
        let choices = &self.links.choices;
        match what {
            Chosen::Scale => choices.change(|c| key.clone_into(&mut c.scale)),
            Chosen::Tuning => match Tuning::from_name(key) {
                Ok(tuning) => choices.change(|c| c.tuning = SavedTuning::from(tuning)),
                Err(error) => self.say(&error.to_string()),
            },
            Chosen::Stringing => choices.change(|c| drone::restring(key, c)),
            Chosen::DroneKind => choices.change(|c| key.clone_into(&mut c.drone_kind)),
            // The list's first line may stand for no input at all.
            Chosen::InputDevice => self.start_anew(Some(key).filter(|key| !key.is_empty())),
            Chosen::Exercise => lesson::select(self.links, key),
            Chosen::Profile => self.load_profile(key),
        }
    }

    /// The stand-alone app, from the beginning; with another input where one is named. What was set and sung is kept, and the
    /// lesson goes on.
    fn start_anew(&mut self, input: Option<&str>) {
        if let Some(keeper) = &self.links.keeper {
            keeper.keep(&self.links.params);
            self.links.bridge.history(|history| keeper.leave(history));
        }
        let why = device::start_anew(input);
        if let Some(keeper) = &self.links.keeper {
            keeper.stay();
        }
        self.say(&format!("The app could not be started anew ({why}): close it and start it again."));
    }

    fn mark(&mut self) {
        let now = self.links.bridge.history(|history| {
            let now = history.now();
            history.mark_at(now, String::new());
            now
        });
        self.session.marked = Some(now);
    }

    /// The moment that was marked last gets its word.
    fn word(&mut self, word: &str) {
        let word: String = word.trim().chars().take(WORD).collect();
        let Some(time) = self.session.marked.take() else { return };
        self.say(&if word.is_empty() { "Marked.".to_owned() } else { format!("Marked: {word}.") });
        self.links.bridge.history(|history| history.name_mark(time, word));
    }

    /// A marked moment gets another word.
    fn rename(&mut self, id: u64, word: &str) {
        let word: String = word.trim().chars().take(WORD).collect();
        self.links.bridge.history(|history| history.rename_mark(id, word));
    }

    /// A marked moment goes; the later ones move up, so that none is compared any more.
    fn drop_mark(&mut self, id: u64) {
        self.links.bridge.history(|history| history.drop_mark(id));
        self.session.replay = None;
    }

    /// The teacher moves a target from the tuning.
    fn nudge(&mut self, position: u8, cents: f64) {
        let most = crate::swara::Nudges::MAX_CENTS;
        self.links.choices.change(|chosen| {
            if let Some(nudge) = chosen.nudges.get_mut(usize::from(position)) {
                *nudge = cents.clamp(-most, most);
            }
        });
        self.say("A nudged target has a meter page of its own; back at 0 cents the old one is back.");
    }

    fn look(&mut self, look: LookChoice) {
        if look.text_scale.to_bits() != self.view.look.text_scale.to_bits() {
            let told = text_size(look, self.view, self.ctx.content_rect().size());
            self.say(&told);
            self.session.text_size = Some(told);
        }
        if look.motion != self.view.look.motion {
            self.say(&format!("Motion is {}.", look.motion.told(self.view.system_asks_less)));
        }
        self.window(|w| {
            w.light = !look.dark;
            w.text_scale = look.text_scale;
            (w.less_motion, w.all_motion) = (look.motion == Motion::Less, look.motion == Motion::All);
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
