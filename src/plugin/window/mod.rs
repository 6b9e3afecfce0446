//! The window in its host: each frame the bridge is looked at, the panels draw, and what the user asks is done.
//!
//! The panels (`editor`) know neither host nor bridge; here both meet. Closing the window changes no number:
//! everything that counts lives with the listener.

mod act;
mod door;
mod fill;
mod knobs;

use crate::editor::Window;
use crate::editor::action::Action;
use crate::shell::bridge::Bridge;
use crate::shell::choices::Choices;
use crate::shell::params::AchalaParams;
use act::Doer;
pub use door::AchalaEditor;
pub(crate) use door::editor;
use fill::Filler;
use nice_plug::context::gui::GuiContext;
use nice_plug_egui::{Frame, NiceEguiApp, RepaintNotifier, baseview};
use std::sync::Arc;
use std::sync::atomic::Ordering;

/// What window, filler and doer share.
pub(crate) struct Links {
    pub(crate) params: Arc<AchalaParams>,
    pub(crate) choices: Arc<Choices>,
    pub(crate) bridge: Arc<Bridge>,
}

/// What belongs to the window alone and outlives a frame.
#[derive(Debug, Clone, Default)]
pub(crate) struct Session {
    /// Right edge of the frozen picture, seconds.
    pub(crate) until_s: Option<f64>,
    /// A line about what was just done or failed.
    pub(crate) said: String,
    /// Which marked moment lies beside now.
    pub(crate) replay: Option<u64>,
    /// Whether the mark parameter was up last time.
    pub(crate) mark_was: bool,
    /// Whether the stand-alone app sends the voice on.
    pub(crate) monitor: bool,
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
            links,
            window: Window::new(),
            session: Session::default(),
            filler: Filler::default(),
            gui: None,
            actions: Vec::new(),
        }
    }
}

impl NiceEguiApp for App {
    fn build(&mut self, ctx: egui::Context, gui: GuiContext, _frame: &mut Frame) -> Result<(), baseview::HandlerError> {
        self.gui = Some(gui);
        self.window.opened(&ctx);
        self.links.bridge.shared.open.store(true, Ordering::Relaxed);
        Ok(())
    }

    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut Frame) {
        let Some(gui) = &self.gui else { return };
        let stand_alone = gui.plugin_api() == nice_plug::prelude::PluginApi::Standalone;
        let time_s = ui.input(|i| i.time);
        let view = self.filler.fill(&self.links, &mut self.session, (time_s, stand_alone));
        self.actions.clear();
        self.window.ui(ui, &view, &mut self.actions);
        let mut doer = Doer { links: &self.links, session: &mut self.session, gui, view: &view, ctx: ui.ctx().clone() };
        for action in self.actions.drain(..) {
            doer.act(action);
        }
    }

    fn resized(&mut self, size: baseview::WindowSize) {
        door::remember(&self.links.params, size);
    }

    fn editor_closed(&mut self) {
        self.gui = None;
        self.links.bridge.shared.open.store(false, Ordering::Relaxed);
    }
}

/// Makes the framework's notifier; the window asks for its own frames.
pub(crate) fn notifier() -> RepaintNotifier {
    RepaintNotifier::new()
}
