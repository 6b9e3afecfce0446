//! What a project remembers beside the parameters, keyed by stable strings.
//!
//! In: choices from the window, statistics from the audio thread. Out: JSON in the host's project.
//! Keys and their meaning never change; unknown keys from a newer version are ignored, missing ones
//! take their default. The audio thread never touches anything here: it gets a compiled copy
//! ([`super::setup::Setup`]).

use crate::meter::Meter;
use crate::swara::tuning::{SavedTuning, Tuning};
use crate::units::Hertz;
use nice_plug::params::persist::PersistentField;
use nice_plug::prelude::*;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::{Arc, Mutex, PoisonError, RwLock};

/// The version of the saved state that this build writes.
pub const STATE_VERSION: u32 = 1;

/// All that is persisted beside the parameters.
#[derive(Params)]
pub struct Saved {
    /// The state's version; also tells that a state was loaded.
    #[persist = "state-version"]
    pub version: Arc<StateVersion>,
    /// What was chosen by name.
    #[persist = "chosen"]
    pub chosen: Arc<RwLock<Chosen>>,
    /// The window's size and looks.
    #[persist = "window"]
    pub window: Arc<RwLock<WindowMemory>>,
    /// The statistics, page by page.
    #[persist = "pages"]
    pub pages: Arc<PageStore>,
    /// What the ear heard right, in all.
    #[persist = "ear"]
    pub ear: Arc<EarStore>,
}

impl Default for Saved {
    fn default() -> Self {
        let chosen = Arc::new(RwLock::new(Chosen::default()));
        Self {
            version: Arc::new(StateVersion::default()),
            window: Arc::new(RwLock::new(WindowMemory::default())),
            pages: Arc::new(PageStore::of(chosen.clone())),
            ear: Arc::new(EarStore { chosen: chosen.clone(), record: RwLock::default() }),
            chosen,
        }
    }
}

/// The choices that have names. Each is kept as the stable string that its own room prints and
/// parses, so that a name which this build does not know is kept and not lost.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, rename_all = "kebab-case")]
pub struct Chosen {
    /// `just`, `just-27-16`, `pythagorean`, `equal`, or a Scala file with its content.
    pub tuning: SavedTuning,
    /// `sa-pa-sa`, `twelve`, `mela-15`, ...
    pub scale: String,
    /// Cents by which the teacher moved the target at each position.
    pub nudges: [f64; 12],
    /// `strings` or `reed`.
    pub drone_kind: String,
    /// The first string: `pa`, `ma`, `ni`, `ga` or `none`.
    pub first_string: String,
    /// Whether a fifth string sounds Ni.
    pub fifth_string: bool,
    /// Seconds from pluck to pluck.
    pub pluck_seconds: f64,
    /// Cents by which the second of the two Sa strings is off the first.
    pub pair_cents: f64,
    /// Fine trim of each string, cents.
    pub string_trims: [f64; 5],
    /// Positions that the reed sounds; empty means the stringing's own set.
    pub reed_positions: Vec<u8>,
    /// Whether the project keeps the statistics; off before saving a preset to pass on.
    pub keep_statistics: bool,
    /// Minutes of steady long tone that the singer aims at.
    pub goal_minutes: f64,
    /// Settings of the exercises: exercise and setting with a full stop between, and the value.
    pub exercises: BTreeMap<String, String>,
    /// While Sa stands on Ma (madhyama shruti): where it stood before.
    pub madhyama: Option<Madhyama>,
    /// The number under which the pupil in force has their pages of statistics, whoever that is; 0: nobody was chosen.
    pub pupil_page: u32,
    /// The pupil whose profile is in force, where the teacher wants the project to remember it; else empty.
    pub pupil: String,
}

/// Sa as the knobs say it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct SaKnobs {
    /// Which of the twelve notes, 0 is C.
    pub note: u8,
    /// Its octave, scientific.
    pub octave: i32,
    /// Fine trim, cents.
    pub trim_cents: f64,
}

/// Where Sa stood and where it stands since madhyama shruti was asked for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct Madhyama {
    /// Before.
    pub before: SaKnobs,
    /// Since.
    pub since: SaKnobs,
}

impl Default for Chosen {
    fn default() -> Self {
        Self {
            tuning: SavedTuning::from(Tuning::default()),
            scale: "sa-pa-sa".to_owned(),
            nudges: [0.0; 12],
            drone_kind: "strings".to_owned(),
            first_string: "pa".to_owned(),
            fifth_string: false,
            pluck_seconds: 1.1,
            pair_cents: 1.5,
            string_trims: [0.0; 5],
            reed_positions: Vec::new(),
            keep_statistics: true,
            goal_minutes: 2.0,
            exercises: BTreeMap::new(),
            madhyama: None,
            pupil_page: 0,
            pupil: String::new(),
        }
    }
}

/// How the window looked last.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default, rename_all = "kebab-case")]
pub struct WindowMemory {
    /// Width in logical points.
    pub width: f32,
    /// Height in logical points.
    pub height: f32,
    /// Text size, 1 to 2.
    pub text_scale: f32,
    /// Light face instead of the dark one.
    pub light: bool,
    /// Less motion was chosen, whatever the system asks for.
    pub less_motion: bool,
    /// All motion was chosen, whatever the system asks for. Where neither was, it is as the system asks.
    pub all_motion: bool,
    /// Whether the caution about loudness and voice was read.
    pub caution_read: bool,
}

impl Default for WindowMemory {
    fn default() -> Self {
        Self {
            width: 960.0,
            height: 600.0,
            text_scale: 1.0,
            light: false,
            less_motion: false,
            all_motion: false,
            caution_read: false,
        }
    }
}

/// The version number in the state, and whether a state was loaded since the last look.
#[derive(Debug)]
pub struct StateVersion {
    loaded_from: AtomicU32,
    reopened: AtomicBool,
}

impl Default for StateVersion {
    fn default() -> Self {
        Self { loaded_from: AtomicU32::new(STATE_VERSION), reopened: AtomicBool::new(false) }
    }
}

impl StateVersion {
    /// Whether a saved state was loaded since this was last asked. Lock-free.
    pub fn take_reopened(&self) -> bool {
        self.reopened.swap(false, Ordering::AcqRel)
    }

    /// The version that the loaded state was written with.
    pub fn loaded_from(&self) -> u32 {
        self.loaded_from.load(Ordering::Relaxed)
    }
}

/// The number as it is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Written(pub u32);

impl PersistentField<'_, Written> for Arc<StateVersion> {
    fn set(&self, version: Written) {
        self.loaded_from.store(version.0, Ordering::Relaxed);
        self.reopened.store(true, Ordering::Release);
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&Written) -> R,
    {
        f(&Written(STATE_VERSION))
    }
}

/// What one page of statistics belongs to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct PageKey {
    /// Madhya Sa.
    pub sa: Hertz,
    /// The tuning's stable string.
    pub tuning: String,
    /// The scale's stable string.
    pub scale: String,
    /// Cents by which the teacher had moved the target at each position.
    #[serde(default)]
    pub nudges: [f64; 12],
    /// The number of the pupil, which says nothing of who that is; 0: nobody was chosen.
    #[serde(default)]
    pub pupil: u32,
}

impl PageKey {
    /// Whether two pages are of one tonic (to a hundredth of a cent), tuning, scale and pupil, and one place for every swara.
    #[must_use]
    pub fn same(a: &Self, b: &Self) -> bool {
        let apart = a.sa.cents_above(b.sa).map_or(f64::INFINITY, |c| c.0.abs());
        let nudged = |(a, b): (&f64, &f64)| (a - b).abs() < 0.01;
        let named = a.tuning == b.tuning && a.scale == b.scale && a.pupil == b.pupil;
        apart < 0.01 && named && a.nudges.iter().zip(&b.nudges).all(nudged)
    }
}

/// One page: the statistics of one tonic, tuning and scale.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct Page {
    /// What it belongs to.
    pub key: PageKey,
    /// The statistics.
    pub meter: Meter,
}

/// The pages that a project holds: those laid aside, and the one in force as it stood when last
/// copied from the audio thread. Kept out of the project where `keep-statistics` is off.
pub struct PageStore {
    chosen: Arc<RwLock<Chosen>>,
    inside: Mutex<Pages>,
    refresh: Mutex<Option<Refresh>>,
}

/// Brings pages up to date.
type Refresh = Box<dyn Fn(&mut Pages) + Send>;

/// Pages in the order in which they were opened; the last is the one in force.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Pages {
    /// Laid aside, oldest first.
    pub kept: Vec<Page>,
    /// The page in force; `None` before anything was sung.
    pub open: Option<Page>,
}

/// Pages that are kept; the oldest go first.
const PAGES_KEPT: usize = 64;

impl Pages {
    /// Lays a page aside; it comes back with its Sa, tuning and scale ([`super::bridge::Bridge::refresh`]).
    pub fn keep(&mut self, page: Page) {
        self.kept.push(page);
        let surplus = self.kept.len().saturating_sub(PAGES_KEPT);
        self.kept.drain(..surplus);
    }
}

impl PageStore {
    fn of(chosen: Arc<RwLock<Chosen>>) -> Self {
        Self { chosen, inside: Mutex::default(), refresh: Mutex::default() }
    }

    /// Has `refresh` bring the pages up to date before each look and each save.
    pub fn on_look(&self, refresh: impl Fn(&mut Pages) + Send + 'static) {
        *self.refresh.lock().unwrap_or_else(PoisonError::into_inner) = Some(Box::new(refresh));
    }

    /// Looks at the pages, brought up to date.
    pub fn look<R>(&self, f: impl FnOnce(&mut Pages) -> R) -> R {
        let mut pages = self.inside.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(refresh) = &*self.refresh.lock().unwrap_or_else(PoisonError::into_inner) {
            refresh(&mut pages);
        }
        f(&mut pages)
    }

    /// The pages of a pupil who is no more go.
    pub fn forget(&self, pupil: u32) {
        self.look(|pages| {
            pages.kept.retain(|page| page.key.pupil != pupil);
            pages.open.take_if(|page| page.key.pupil == pupil);
        });
    }

    /// The statistics to go on with for `key`, of a state just loaded; a page of another key is laid aside.
    pub fn go_on(&self, key: &PageKey) -> Meter {
        self.look(|pages| match pages.open.take() {
            Some(page) if PageKey::same(&page.key, key) => pages.open.insert(page).meter.clone(),
            Some(page) => {
                pages.keep(page);
                Meter::new()
            }
            None => Meter::new(),
        })
    }
}

impl PersistentField<'_, Pages> for Arc<PageStore> {
    /// Takes the statistics of an opened project. Where something was sung already, what is loaded is a preset (or an
    /// undo): the framework does not say, but a project is opened before anybody sings. Then this instance's own stay.
    fn set(&self, loaded: Pages) {
        self.look(|pages| {
            if pages.kept.is_empty() && pages.open.is_none() {
                *pages = loaded;
            }
        });
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&Pages) -> R,
    {
        if keeps(&self.chosen) { self.look(|pages| f(pages)) } else { f(&Pages::default()) }
    }
}

/// Whether the project is to keep what was sung.
fn keeps(chosen: &RwLock<Chosen>) -> bool {
    chosen.read().unwrap_or_else(PoisonError::into_inner).keep_statistics
}

/// What the ear said of the singer's own notes: of one pupil, or, where none is chosen, over all sessions of this project.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(default, rename_all = "kebab-case")]
pub struct EarRecord {
    /// Answers given.
    pub answers: u32,
    /// Right ones.
    pub right: u32,
}

impl EarRecord {
    /// Counts an answer.
    pub fn count(&mut self, right: bool) {
        self.answers = self.answers.saturating_add(1);
        self.right = self.right.saturating_add(u32::from(right));
    }
}

/// Keeps the record; left out of the project where `keep-statistics` is off.
pub struct EarStore {
    chosen: Arc<RwLock<Chosen>>,
    record: RwLock<EarRecord>,
}

impl EarStore {
    /// The record.
    #[must_use]
    pub fn record(&self) -> EarRecord {
        *self.record.read().unwrap_or_else(PoisonError::into_inner)
    }

    /// Counts an answer.
    pub fn count(&self, right: bool) {
        self.record.write().unwrap_or_else(PoisonError::into_inner).count(right);
    }
}

impl PersistentField<'_, EarRecord> for Arc<EarStore> {
    fn set(&self, record: EarRecord) {
        *self.record.write().unwrap_or_else(PoisonError::into_inner) = record;
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&EarRecord) -> R,
    {
        if keeps(&self.chosen) { f(&self.record()) } else { f(&EarRecord::default()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn statistics_stay_out_of_a_project_that_is_not_to_keep_them() {
        let saved = Saved::default();
        let key =
            PageKey { sa: Hertz(146.8), tuning: "just".into(), scale: "twelve".into(), nudges: [0.0; 12], pupil: 0 };
        saved.pages.set(Pages { kept: vec![Page { key, meter: Meter::new() }], open: None });
        saved.ear.count(true);
        assert_eq!(saved.pages.map(|pages| pages.kept.len()), 1);
        saved.chosen.write().unwrap().keep_statistics = false;
        assert_eq!(saved.pages.map(|pages| pages.kept.len()), 0);
        assert_eq!(saved.ear.map(|record| record.answers), 0);
        assert_eq!(saved.ear.record(), EarRecord { answers: 1, right: 1 }, "it goes on while the window is open");
        assert_eq!(saved.pages.look(|pages| pages.kept.len()), 1);
    }

    #[test]
    fn a_state_of_the_first_day_is_read_and_the_rest_is_default() {
        let old = r#"{"scale":"mela-15","keep-statistics":false,"from-a-later-version":1}"#;
        let chosen: Chosen = serde_json::from_str(old).unwrap();
        assert_eq!(chosen, Chosen { scale: "mela-15".into(), keep_statistics: false, ..Chosen::default() });
        // A page from before pupils had their own is nobody's.
        let key: PageKey = serde_json::from_str(r#"{"sa":146.8,"tuning":"just","scale":"twelve"}"#).unwrap();
        let now =
            PageKey { sa: Hertz(146.8), tuning: "just".into(), scale: "twelve".into(), nudges: [0.0; 12], pupil: 0 };
        assert!(PageKey::same(&key, &now) && !PageKey::same(&key, &PageKey { pupil: 7, ..now }));
    }
}
