//! The system's wish for less motion, asked when a window opens.
//!
//! In: a function that asks the system. Out: whether it asks for less, `false` until it has said so. The answer may be long in coming
//! (under Linux it comes over D-Bus), so that the question has a short-lived thread of its own: no window waits for it. One question
//! is out at a time, and the answer stands for the windows that follow until the next has come. Under Linux it lives for as long as
//! the system may take to answer and as long again at most, under Windows as long as the system's own call; under macOS there is none.

use mundy::{Interest, Preferences};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// How long the system may take to answer.
const BOUND: Duration = Duration::from_millis(300);
/// How long a question may take in all: to be answered, and to put its connection away.
const WHOLE: Duration = Duration::from_millis(1000);
/// How often it is looked whether a question has ended that the instance waits for.
const LOOK: Duration = Duration::from_millis(1);

/// Asks the system; `None` where it does not answer in time. Where nobody is there who could be asked, it asks for nothing.
type Source = fn() -> Option<bool>;

/// What the system wishes, as far as it has said so.
pub(crate) struct Wish {
    source: Source,
    less: AtomicBool,
    asking: Mutex<Option<JoinHandle<Option<bool>>>>,
}

impl Wish {
    /// The wish of the system that this runs on.
    pub(crate) fn of_system() -> Self {
        Self::of(|| preferences().map(|wish| wish.reduced_motion.is_reduce()))
    }

    pub(super) fn of(source: Source) -> Self {
        Self { source, less: AtomicBool::new(false), asking: Mutex::default() }
    }

    /// Asks, unless a question is still out. Call on the thread on which windows are opened.
    pub(super) fn ask(&self) {
        let mut asking = self.asking.lock().unwrap_or_else(PoisonError::into_inner);
        self.take(&mut asking);
        if cfg!(target_os = "macos") {
            // There the answer is at hand, but for the main thread only; the library insists on it.
            self.hear(std::panic::catch_unwind(self.source).ok().flatten());
        } else if asking.is_none() {
            // Where no thread can be had, what was known stays in force.
            *asking = std::thread::Builder::new().name("wish for less motion".to_owned()).spawn(self.source).ok();
        }
    }

    /// Whether the system asks for less motion.
    pub(super) fn less(&self) -> bool {
        self.take(&mut self.asking.lock().unwrap_or_else(PoisonError::into_inner));
        self.less.load(Ordering::Relaxed)
    }

    fn take(&self, asking: &mut Option<JoinHandle<Option<bool>>>) {
        if let Some(ended) = asking.take_if(|thread| thread.is_finished()) {
            self.hear(ended.join().ok().flatten());
        }
    }

    fn hear(&self, answer: Option<bool>) {
        if let Some(less) = answer {
            self.less.store(less, Ordering::Relaxed);
        }
    }
}

#[cfg(not(target_os = "linux"))]
fn preferences() -> Option<Preferences> {
    Preferences::once_blocking(Interest::ReducedMotion, BOUND)
}

/// Not by the library's own question with a bound: that lets its connection go outside of the runtime, which ends the program.
#[cfg(target_os = "linux")]
fn preferences() -> Option<Preferences> {
    use futures_lite::StreamExt;
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().ok()?;
    let handle = runtime.handle().clone();
    let _within = handle.enter();
    let answer = runtime.block_on(async {
        let mut wishes = Preferences::stream(Interest::ReducedMotion);
        tokio::time::timeout(BOUND, wishes.next()).await.ok().flatten()
    });
    // The threads that have made the connection and put it away end within this; a bus that takes none is waited for no longer.
    runtime.shutdown_timeout(BOUND);
    answer
}

/// A host may unload the code once its last instance has gone, so that no thread should be in it then: a question that is out is
/// waited for, but not without an end, lest a system that hangs hold up the host.
impl Drop for Wish {
    fn drop(&mut self) {
        let Some(thread) = self.asking.get_mut().unwrap_or_else(PoisonError::into_inner).take() else { return };
        let began = Instant::now();
        while !thread.is_finished() && began.elapsed() < WHOLE {
            std::thread::sleep(LOOK);
        }
        if thread.is_finished() {
            // What it said is no longer asked for; it is out of the code when this returns.
            let _ = thread.join();
        }
    }
}

#[cfg(test)]
mod tests;
