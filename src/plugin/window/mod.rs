//! The window in its host: each frame the bridge is looked at, the panels draw, and what the user asks is done.
//!
//! The panels (`editor`) know neither host nor bridge; here both meet. Closing the window changes no number:
//! everything that counts lives with the listener.

mod act;
mod door;
mod drone;
mod fill;
mod finding;
mod knobs;
mod lesson;
mod line;
mod replay;
#[cfg(test)]
mod tests;
mod wish;

use crate::editor::Window;
use crate::editor::action::Action;
use crate::editor::view::Face;
use crate::shell::bridge::{Bridge, Command, Under};
use crate::shell::choices::Choices;
use crate::shell::kept::Keeper;
use crate::shell::params::AchalaParams;
use crate::shell::profiles::Settings;
use crate::shell::state::EarRecord;
use crate::swara::Swara;
use crate::units::{Hertz, SampleTime};
use act::Doer;
use atomic_float::AtomicF32;
pub use door::AchalaEditor;
pub(crate) use door::editor;
use fill::Filler;
use nice_plug::context::gui::GuiContext;
use nice_plug_egui::{Frame, NiceEguiApp, RepaintNotifier, baseview};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};
pub(crate) use wish::Wish;

/// What window, filler and doer share.
pub(crate) struct Links {
    pub(crate) params: Arc<AchalaParams>,
    pub(crate) choices: Arc<Choices>,
    pub(crate) bridge: Arc<Bridge>,
    /// The key of the pupil whose profile is in force; outlives the window, not the instance.
    pub(crate) pupil: Mutex<String>,
    /// The audio thread sets it when something comes in; the window draws seldom while it does not.
    pub(crate) repaint: RepaintNotifier,
    /// What the stand-alone app keeps; `None` in a host.
    pub(crate) keeper: Option<Arc<Keeper>>,
    /// Pixels a point of the screen on which the window was last, 1 before it was on any.
    pub(crate) scale: AtomicF32,
    /// What the system wishes about motion.
    pub(crate) wish: Wish,
}

/// What the choices of exercises and pupils were made from: settings, goal, pupil, page.
type LessonKey = (BTreeMap<String, String>, u64, String, u32);

/// What belongs to the window alone and outlives a frame.
#[derive(Default)]
pub(crate) struct Session {
    /// Right edge of the frozen picture, seconds.
    until_s: Option<f64>,
    /// A line about what was just done or failed, and since when it stands.
    said: String,
    said_s: Option<f64>,
    /// What was said of whose settings are in force: true until one is changed.
    settings_of: Option<String>,
    /// What was said of the text size, which depends on the window's.
    text_size: Option<String>,
    /// Which marked moment lies beside now.
    replay: Option<u64>,
    /// The moment that the window marked and whose word is still to come.
    marked: Option<SampleTime>,
    /// Which note's line is shown.
    note: Option<usize>,
    /// The note that sounds.
    replaying: Option<replay::Replaying>,
    /// The swara that sounds because it was asked for.
    reference: Option<Swara>,
    /// Whether the stand-alone app sends the voice on.
    monitor: bool,
    /// Listening for Sa.
    finding: Option<finding::Finding>,
    /// A Sa to take over.
    adopt: Option<Hertz>,
    /// When a Sa was taken over at once, window's clock, the one before it, and that one.
    before: Option<(f64, Hertz, Hertz)>,
    lesson_key: Option<LessonKey>,
    /// What the ear of the pupil in force heard right.
    ear: Option<EarRecord>,
    /// What that pupil's file keeps.
    kept: Option<Settings>,
    /// When the page was cleared that is in force, window's clock, and which one that was.
    cleared: Option<(f64, Under)>,
    own: Own,
}

/// What is the window's own business though a parameter says it: in the stand-alone app parameters move only with the sound, and
/// when that has ended the window is still to be looked through.
#[derive(Debug, Clone, Copy, Default)]
struct Own {
    face: Option<Face>,
    frozen: Option<bool>,
}

impl Session {
    fn say(&mut self, words: &str) {
        words.clone_into(&mut self.said);
        self.said_s = None;
    }
}

/// The app that the framework opens and closes.
pub(crate) struct App {
    links: Arc<Links>,
    window: Window,
    session: Session,
    filler: Filler,
    gui: Option<GuiContext>,
    actions: Vec<Action>,
}

impl App {
    pub(crate) fn new(links: Arc<Links>) -> Self {
        Self {
            filler: Filler::new(&links),
            links,
            window: Window::new(),
            session: Session::default(),
            gui: None,
            actions: Vec::new(),
        }
    }
}

/// What sounds because the window asked for it ends with the window.
impl Drop for App {
    fn drop(&mut self) {
        if self.session.reference.take().is_some() {
            self.links.bridge.ask(Command::Reference(None));
            self.links.bridge.history(|history| history.practice.tell_again());
        }
        replay::end(&self.links, &mut self.session);
    }
}

impl NiceEguiApp for App {
    fn build(&mut self, ctx: egui::Context, gui: GuiContext, _frame: &mut Frame) -> Result<(), baseview::HandlerError> {
        self.gui = Some(gui);
        self.window.opened(&ctx);
        Ok(())
    }

    fn ui(&mut self, ui: &mut egui::Ui, frame: &mut Frame) {
        let Some(gui) = &self.gui else { return };
        let stand_alone = gui.plugin_api() == nice_plug::prelude::PluginApi::Standalone;
        let time_s = ui.input(|i| i.time);
        act::text_size_again(&mut self.session, &self.filler.view, ui.ctx().content_rect().size());
        self.filler.fill(&self.links, &mut self.session, (time_s, stand_alone));
        let view = &self.filler.view;
        // The canvas is cleared to these numbers as they stand.
        let [r, g, b, a] = Window::ground(view).to_normalized_gamma_f32();
        frame.set_clear_color(egui::Rgba::from_rgba_premultiplied(r, g, b, a));
        self.window.on_ground = true;
        self.actions.clear();
        self.window.ui(ui, view, &mut self.actions);
        if let Some(sa) = self.session.adopt.take() {
            self.session.before = Some((time_s, view.sa, sa));
            self.actions.push(Action::AdoptSa(sa));
        }
        replay::lapse(&self.links, &mut self.session, view);
        replay::go_on(&self.links, &mut self.session, time_s);
        let ctx = ui.ctx().clone();
        if self.session.replaying.is_some() {
            // It follows its line from frame to frame.
            ctx.request_repaint();
        }
        let mut doer = Doer { links: &self.links, session: &mut self.session, gui, view, ctx, time_s };
        for action in self.actions.drain(..) {
            doer.act(action);
        }
    }

    fn resized(&mut self, size: baseview::WindowSize) {
        door::remember(&self.links, size);
    }
}
