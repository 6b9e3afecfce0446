//! The named choices in force: changed by the window, compiled, and sent to the audio thread.

use super::bridge::Bridge;
use super::setup::{Compiled, Setup, compile};
use super::state::{Chosen, PageKey};
use crate::swara::Tuning;
use crate::units::Hertz;
use std::sync::{Arc, Mutex, PoisonError, RwLock};

/// The choices, with whom to tell.
pub struct Choices {
    chosen: Arc<RwLock<Chosen>>,
    compiled: Mutex<Compiled>,
    bridge: Option<Arc<Bridge>>,
}

impl Choices {
    /// Compiles the choices as they stand.
    #[must_use]
    pub fn new(chosen: Arc<RwLock<Chosen>>) -> (Setup, Self) {
        let compiled = compile(&chosen.read().unwrap_or_else(PoisonError::into_inner), None);
        (compiled.setup, Self { chosen, compiled: Mutex::new(compiled), bridge: None })
    }

    /// Connected to the audio thread.
    #[must_use]
    pub fn with(mut self, bridge: Arc<Bridge>) -> Self {
        self.bridge = Some(bridge);
        self.reload();
        self
    }

    /// A copy of the choices.
    #[must_use]
    pub fn chosen(&self) -> Chosen {
        self.chosen.read().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Changes the choices and tells the audio thread.
    pub fn change(&self, change: impl FnOnce(&mut Chosen)) {
        change(&mut self.chosen.write().unwrap_or_else(PoisonError::into_inner));
        self.reload();
    }

    /// Compiles again, as after a project was loaded.
    pub fn reload(&self) {
        let mut compiled = self.compiled.lock().unwrap_or_else(PoisonError::into_inner);
        *compiled = compile(&self.chosen.read().unwrap_or_else(PoisonError::into_inner), Some(&compiled));
        if let Some(bridge) = &self.bridge {
            bridge.set_up(compiled.setup, key(&compiled, Hertz(0.0)));
        }
    }

    /// Looks at what is in force.
    pub fn look<R>(&self, f: impl FnOnce(&Compiled) -> R) -> R {
        f(&self.compiled.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// What a page of statistics under these choices belongs to.
    #[must_use]
    pub fn page_key(&self, sa: Hertz) -> PageKey {
        self.look(|c| key(c, sa))
    }
}

/// What a page of statistics under such choices belongs to.
#[must_use]
pub fn key(compiled: &Compiled, sa: Hertz) -> PageKey {
    let (tuning, scale) = (tuning_key(&compiled.tuning), compiled.scale.key());
    PageKey { sa, tuning, scale, nudges: compiled.nudges.into(), pupil: compiled.pupil }
}

/// The tuning's name; of a Scala file its title as well, since two files may bear one name.
fn tuning_key(tuning: &Tuning) -> String {
    match tuning {
        Tuning::Scl(_) => format!("{}:{}", tuning.name(), tuning.title()),
        _ => tuning.name().to_owned(),
    }
}
