//! Pages of statistics on their way between the audio thread, which counts, and the store, which keeps.
//!
//! In: the page in force and those that were turned over, copied into memory taken beforehand. Out: [`Pages`] up to date; and the
//! other way, the page that was laid aside under the same Sa, tuning and scale, once those are in force again. It is merged into
//! what was counted since, so that nothing waits for it. A page on its way back stays among the kept ones until the audio
//! thread's own copy says that it holds it: whenever a project is saved, each note is in it once.

use super::state::{Page, PageKey, Pages};
use crate::meter::Meter;
use crate::take::run::same_sa;
use crate::units::Hertz;
use crossbeam_channel::{Receiver, Sender, bounded};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Pages that may wait to be laid aside.
const PAGES_WAITING: usize = 8;
/// Names of pages that are remembered: only what waits to be laid aside and what is in force ask for them.
const NAMES_KEPT: usize = 4 * PAGES_WAITING;

/// What a page is counted under, as the audio thread knows it: Sa, and the number of the compiled choices' page.
pub type Under = (Hertz, u32);

/// A copy of a page.
#[derive(Debug, Clone)]
struct Copied {
    under: Under,
    /// The number of the last page that came back and is in it; 0 before the first.
    took: u32,
    meter: Meter,
}

impl Copied {
    fn is_under(&self, (sa, page): Under) -> bool {
        self.under.1 == page && same_sa(self.under.0, sa)
    }
}

/// What the audio thread holds.
pub(super) struct Out {
    copy: triple_buffer::Input<Copied>,
    sealed: Sender<Box<Copied>>,
    spares: Receiver<Box<Copied>>,
    lent: Receiver<Box<Copied>>,
    back: Sender<Box<Copied>>,
    took: u32,
}

/// What the others hold.
pub(super) struct In {
    copy: Mutex<triple_buffer::Output<Copied>>,
    sealed: Receiver<Box<Copied>>,
    spares: Sender<Box<Copied>>,
    lend: Sender<Box<Copied>>,
    back: Receiver<Box<Copied>>,
    lending: Mutex<Lending>,
    names: Mutex<Vec<(u32, PageKey)>>,
    /// Pupils who are no more: what the audio thread still lays aside of theirs is not kept.
    gone: Mutex<Vec<u32>>,
}

/// What is on its way to the audio thread: one at a time.
struct Lending {
    /// The box that it goes in, while it is here.
    here: Option<Box<Copied>>,
    number: u32,
    /// The kept pages that went in it.
    pages: Vec<Page>,
}

impl Lending {
    /// A copy says what it holds: a page that has arrived is no longer kept beside it.
    fn arrived(&mut self, took: u32, pages: &mut Pages) {
        if took == self.number && !self.pages.is_empty() {
            pages.kept.retain(|kept| !self.pages.contains(kept));
            self.pages.clear();
        }
    }
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // A panic elsewhere must not take the window or the saver down with it.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Both ends, connected.
pub(super) fn connected() -> (Out, In) {
    let empty = Copied { under: (Hertz(0.0), 0), took: 0, meter: Meter::new() };
    let (copy_in, copy_out) = triple_buffer::triple_buffer(&empty);
    let (sealed_in, sealed_out) = bounded(PAGES_WAITING);
    let (spares_in, spares_out) = bounded(PAGES_WAITING);
    for _ in 0..PAGES_WAITING {
        // The channel was made for just so many.
        let _ = spares_in.try_send(Box::new(empty.clone()));
    }
    let (lend_in, lend_out) = bounded(1);
    let (back_in, back_out) = bounded(1);
    let out = Out { copy: copy_in, sealed: sealed_in, spares: spares_out, lent: lend_out, back: back_in, took: 0 };
    let lending = Lending { here: Some(Box::new(empty)), number: 0, pages: Vec::new() };
    let others = In {
        copy: Mutex::new(copy_out),
        sealed: sealed_out,
        spares: spares_in,
        lend: lend_in,
        back: back_out,
        lending: Mutex::new(lending),
        names: Mutex::new(Vec::new()),
        gone: Mutex::new(Vec::new()),
    };
    (out, others)
}

impl Out {
    /// Copies the page in force: plain memory, no lock.
    pub(super) fn copy(&mut self, under: Under, meter: &Meter) {
        let page = self.copy.input_buffer_mut();
        (page.under, page.took) = (under, self.took);
        page.meter.copy_from(meter);
        self.copy.publish();
    }

    /// Lays the page aside and begins another. False when too many already wait (the caller keeps counting on it).
    pub(super) fn turn(&mut self, old: Under, new: Under, meter: &mut Meter) -> bool {
        let mut laid = None;
        if !meter.is_empty() {
            let Ok(mut page) = self.spares.try_recv() else { return false };
            (page.under, page.took) = (old, self.took);
            page.meter.copy_from(meter);
            laid = Some(page);
        }
        meter.clear();
        // First that it is no longer in force: what is laid aside must not be seen in both places.
        self.copy(new, meter);
        if let Some(page) = laid {
            // There are only as many spares as places: this cannot fail, nor free memory here.
            let _ = self.sealed.try_send(page);
        }
        true
    }

    /// Whether a page has come back.
    pub(super) fn waits(&self) -> bool {
        !self.lent.is_empty()
    }

    /// Adds the page that has come back to the one in force, where it still is that.
    pub(super) fn take_back(&mut self, under: Under, meter: &mut Meter) {
        let Ok(page) = self.lent.try_recv() else { return };
        if page.is_under(under) {
            meter.merge(&page.meter);
            self.took = page.took;
            self.copy(under, meter);
        }
        // There is one box, and a place for it: this cannot fail, nor free memory here.
        let _ = self.back.try_send(page);
    }
}

impl In {
    /// Remembers what the page of some compiled choices is called; its Sa is the audio thread's to say.
    pub(super) fn name(&self, page: u32, key: PageKey) {
        let mut names = lock(&self.names);
        if names.last().is_none_or(|(last, _)| *last != page) {
            names.push((page, key));
            let surplus = names.len().saturating_sub(NAMES_KEPT);
            names.drain(..surplus);
        }
    }

    /// What a page is called; `None` where that was not said, or is no longer remembered.
    pub(super) fn key(&self, (sa, page): Under) -> Option<PageKey> {
        let names = lock(&self.names);
        let (_, key) = names.iter().rev().find(|(id, _)| *id == page)?;
        Some(PageKey { sa, ..key.clone() })
    }

    /// What was counted of that pupil is not kept any more.
    pub(super) fn forget(&self, pupil: u32) {
        lock(&self.gone).push(pupil);
    }

    /// Brings the kept pages up to date, and sends back the one that is wanted again. `cleared`: the page in force was emptied.
    pub(super) fn refresh(&self, pages: &mut Pages, cleared: bool) {
        let mut lending = lock(&self.lending);
        // Before the copies are looked at: whoever sends the box back has said before whether it was taken.
        if let Ok(page) = self.back.try_recv() {
            lending.here = Some(page);
        }
        while let Ok(sealed) = self.sealed.try_recv() {
            lending.arrived(sealed.took, pages);
            let kept = self.key(sealed.under).filter(|key| !lock(&self.gone).contains(&key.pupil));
            if let Some(key) = kept {
                pages.open = None;
                pages.keep(Page { key, meter: sealed.meter.clone() });
            }
            let _ = self.spares.try_send(sealed);
        }
        let mut copy = lock(&self.copy);
        let page = copy.read();
        lending.arrived(page.took, pages);
        let gone = |key: &PageKey| lock(&self.gone).contains(&key.pupil);
        let Some(key) = self.key(page.under).filter(|key| !gone(key)) else { return };
        if !page.meter.is_empty() {
            pages.open = Some(Page { key: key.clone(), meter: page.meter.clone() });
        } else if cleared {
            // Before anything was sung, a page that was loaded stands; one that was cleared does not.
            pages.open = None;
        }
        let Some(mut out) = lending.here.take() else { return };
        lending.pages = pages.kept.iter().filter(|kept| PageKey::same(&kept.key, &key)).cloned().collect();
        if lending.pages.is_empty() {
            lending.here = Some(out);
            return;
        }
        lending.number = lending.number.wrapping_add(1);
        (out.under, out.took) = (page.under, lending.number);
        out.meter.clear();
        lending.pages.iter().for_each(|kept| out.meter.merge(&kept.meter));
        lending.here = self.lend.try_send(out).err().map(crossbeam_channel::TrySendError::into_inner);
    }

    /// A copy of the statistics that are counted `under`: empty while the page in force is still another's, as it is until the
    /// host's next block after a change.
    pub(super) fn meter(&self, under: Under) -> Meter {
        let mut page = lock(&self.copy);
        let page = page.read();
        if page.is_under(under) { page.meter.clone() } else { Meter::new() }
    }
}
