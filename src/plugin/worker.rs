//! What the audio thread leaves to others: making string material, gathering notes and pages; in the stand-alone app also
//! writing down what is kept.
//!
//! One thread per instance, from the first activation until the instance goes. The audio thread sets a flag and goes on;
//! the worker looks every [`LOOK`], so that nobody has to be woken. Not the framework's background thread: that one is
//! shared by all instances, ends when one of them goes while work waits for it, and takes the host down with the last.

use crate::drone::{DroneSetting, Kind, Material};
use crate::shell::bridge::Bridge;
use crate::shell::kept::Keeper;
use crate::shell::params::AchalaParams;
use crate::units::SampleRate;
use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// From one look to the next: what is plain and exact has 300 ms in all to be ready, and takes up to 200 of them.
const LOOK: Duration = Duration::from_millis(20);

/// From one writing of what the stand-alone app keeps to the next: no more is lost when the machine is switched off.
const KEEP: Duration = Duration::from_secs(5);

/// What waits to be done.
#[derive(Debug, Default)]
struct Waiting {
    /// Gather what waits in the channels, so that a lesson is kept with the window closed.
    gather: AtomicBool,
    /// Make the string material that the audio thread wants.
    material: AtomicBool,
    /// The instance goes.
    end: AtomicBool,
}

/// The worker thread of an instance; ends when dropped.
pub(super) struct Worker {
    waiting: Arc<Waiting>,
    thread: Option<JoinHandle<()>>,
}

impl Worker {
    /// Starts the thread.
    pub(super) fn start(
        bridge: Arc<Bridge>,
        params: Arc<AchalaParams>,
        keeper: Option<Arc<Keeper>>,
    ) -> io::Result<Self> {
        let waiting = Arc::new(Waiting::default());
        let shared = waiting.clone();
        let thread = thread::Builder::new()
            .name("achala-worker".into())
            .spawn(move || work(&bridge, &shared, &params, keeper.as_deref()))?;
        Ok(Self { waiting, thread: Some(thread) })
    }

    /// Asks for notes and pages to be gathered; never waits.
    pub(super) fn gather(&self) {
        self.waiting.gather.store(true, Ordering::Release);
    }

    /// Asks for the string material that is wanted; never waits.
    pub(super) fn material(&self) {
        self.waiting.material.store(true, Ordering::Release);
    }
}

impl Drop for Worker {
    fn drop(&mut self) {
        self.waiting.end.store(true, Ordering::Release);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            // A worker that panicked has nothing left to end.
            let _ = thread.join();
        }
    }
}

fn work(bridge: &Bridge, waiting: &Waiting, params: &AchalaParams, keeper: Option<&Keeper>) {
    let mut kept = Instant::now();
    while !waiting.end.load(Ordering::Acquire) {
        bridge.free_retired();
        if waiting.gather.swap(false, Ordering::AcqRel) {
            bridge.history(|_| {});
            // Looking brings the pages up to date, and back what is wanted again.
            params.saved.pages.look(|_| {});
        }
        if let Some(keeper) = keeper
            && kept.elapsed() >= KEEP
        {
            keeper.keep(params);
            kept = Instant::now();
        }
        if waiting.material.swap(false, Ordering::AcqRel) {
            make(bridge, waiting);
        } else {
            thread::park_timeout(LOOK);
        }
    }
}

/// Something exact and plain first, then the full model; given up as soon as something else is wanted.
fn make(bridge: &Bridge, waiting: &Waiting) {
    let go_on = || !waiting.end.load(Ordering::Acquire) && !waiting.material.load(Ordering::Acquire);
    let (Some(rate), Some(wanted)) = (bridge.rate(), bridge.wanted()) else { return };
    if !has_material(&wanted) {
        return;
    }
    // Nobody takes it when the host has stopped processing; it is made again when that goes on.
    drop(bridge.give(Material::plain(&wanted, rate)));
    if let Some(material) = Material::full_while(&wanted, rate, go_on) {
        drop(bridge.give(material));
    }
}

/// Something exact and plain for a setting, at once; `None` where no strings are needed.
pub(super) fn plain(setting: &DroneSetting, rate: SampleRate) -> Option<Box<Material>> {
    has_material(setting).then(|| Material::plain(setting, rate))
}

/// Not for a reed, which needs none, nor for a setting out of range.
fn has_material(setting: &DroneSetting) -> bool {
    setting.kind == Kind::Strings && setting.validate().is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drone::Grade;
    use crate::shell::bridge::bridge;
    use crate::shell::choices::Choices;
    use crate::units::Hertz;

    #[test]
    fn for_another_sa_the_plain_grade_comes_first_and_the_full_one_after_it() {
        let params = AchalaParams::default();
        let (setup, _choices) = Choices::new(params.saved.chosen.clone());
        let (bridge, mut end) = bridge(setup);
        bridge.shared.rate_hz.store(48_000.0, Ordering::Relaxed);
        let setting = DroneSetting { on: true, sa: Hertz(174.6), ..DroneSetting::default() };
        end.want(setting);
        let waiting = Waiting::default();
        make(&bridge, &waiting);
        let made: Vec<Box<Material>> = end.materials.try_iter().collect();
        let grades: Vec<Grade> = made.iter().map(|material| material.grade()).collect();
        assert_eq!(grades, [Grade::Plain, Grade::Full]);
        assert!(made.iter().all(|material| material.fits(&setting, bridge.rate().unwrap())));
        // Something else is wanted by now: the full one is not waited for.
        waiting.material.store(true, Ordering::Release);
        make(&bridge, &waiting);
        let grades: Vec<Grade> = end.materials.try_iter().map(|material| material.grade()).collect();
        assert_eq!(grades, [Grade::Plain]);
        end.want(DroneSetting { kind: Kind::Reed, ..setting });
        make(&bridge, &Waiting::default());
        assert!(end.materials.try_iter().next().is_none(), "reeds need none");
    }
}
