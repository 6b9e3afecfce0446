//! Between the audio thread and everybody else: readings out, snapshot out, commands in; nobody waits.
//!
//! The audio thread holds [`AudioEnd`] and only ever tries: a full channel is counted and passed
//! over, a triple buffer always takes the newest. The window, the saver and the background worker
//! share [`Bridge`]; its locks are taken by them alone. What the audio thread hands out is gathered
//! into a [`History`] by whoever looks first, and at every note by the background worker, so that a
//! lesson is kept with the window closed. No statistic travels through a lossy channel: the meter
//! itself lives with the listener and is copied whole.

use super::setup::Setup;
use super::state::{Page, PageKey, Pages};
use crate::drone::{DroneSetting, Material};
use crate::listener::Snapshot;
use crate::meter::Meter;
use crate::note::Note;
use crate::swara::{Sthayi, Swara};
use crate::units::{Hertz, SampleTime};
use atomic_float::AtomicF32;
use crossbeam_channel::{Receiver, Sender, bounded};
use std::collections::VecDeque;
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Line points that may wait to be gathered: a minute of 5 ms frames.
const LINE_WAITING: usize = 12_000;
/// Notes that may wait to be gathered: the background worker is called at each.
const NOTES_WAITING: usize = 1_024;
/// Pages that may wait to be laid aside.
const PAGES_WAITING: usize = 8;
/// Points of the line that are kept: two hours of 5 ms frames.
const LINE_KEPT: usize = 2 * 3600 * 200;
/// Notes that are kept for the list.
const NOTES_KEPT: usize = 20_000;

/// One frame of the voice's line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinePoint {
    /// The instant it describes.
    pub time: SampleTime,
    /// Cents above madhya Sa; NaN where there was no voice.
    pub cents: f32,
    /// Drone's foreign Sa, level and the like are in the snapshot; here only whether several voices sounded.
    pub several: bool,
}

/// What the window asks of the audio thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Command {
    /// Forget the statistics of the page in force.
    Clear,
    /// The user wants the drone to sound although the project was just reopened.
    Sound,
    /// Judge against this swara, or freely.
    Expect(Option<(Swara, Sthayi)>),
    /// Sound this swara as the reference tone, or stop.
    Reference(Option<(Swara, Sthayi)>),
    /// Send the voice on (stand-alone app) or keep it from the loudspeakers.
    Monitor(bool),
}

/// The newest of everything that a viewer may see.
#[derive(Debug, Clone, Copy)]
pub struct Live {
    /// The listener's own.
    pub snapshot: Option<Snapshot>,
    /// Sa that the snapshot was measured against.
    pub sa: Hertz,
    /// Which compilation of the named choices was in force.
    pub setup: u32,
    /// Whether the drone sounds now.
    pub drone_sounds: bool,
    /// Whether the drone is on but waits for the transport or the user (project just reopened).
    pub drone_waits: bool,
    /// Whether a render is being printed without the drone.
    pub drone_not_printed: bool,
    /// Whether the host's transport runs.
    pub playing: bool,
}

/// A copy of a page, in memory that was taken beforehand.
#[derive(Debug, Clone)]
struct Copied {
    sa: Hertz,
    setup: u32,
    meter: Meter,
}

/// What the audio thread holds.
pub struct AudioEnd {
    /// The newest compiled choices.
    pub setup: triple_buffer::Output<Setup>,
    /// What the window asks.
    pub commands: Receiver<Command>,
    /// New drone material.
    pub materials: Receiver<Box<Material>>,
    retired: Sender<Box<Material>>,
    wanted: triple_buffer::Input<Option<DroneSetting>>,
    live: triple_buffer::Input<Live>,
    page: triple_buffer::Input<Copied>,
    line: Sender<LinePoint>,
    notes: Sender<Note>,
    sealed: Sender<Box<Copied>>,
    spares: Receiver<Box<Copied>>,
    shared: Arc<Shared>,
}

/// Single numbers that change too often for anything heavier.
#[derive(Debug, Default)]
pub struct Shared {
    /// Largest sample of the voice since the window last looked, full scale 1.
    pub voice_peak: AtomicF32,
    /// Blocks processed since activation: standing still means that the host sends nothing.
    pub blocks: AtomicU64,
    /// Host sample rate, Hz.
    pub rate_hz: AtomicF32,
    /// Line points or notes that found their channel full.
    pub missed: AtomicU32,
    /// Whether the window is open.
    pub open: AtomicBool,
    /// Channels of the main input.
    pub channels: AtomicU32,
}

/// What everybody but the audio thread holds.
pub struct Bridge {
    setup: Mutex<triple_buffer::Input<Setup>>,
    commands: Sender<Command>,
    materials: Sender<Box<Material>>,
    retired: Receiver<Box<Material>>,
    wanted: Mutex<triple_buffer::Output<Option<DroneSetting>>>,
    live: Mutex<triple_buffer::Output<Live>>,
    page: Mutex<triple_buffer::Output<Copied>>,
    line: Receiver<LinePoint>,
    notes: Receiver<Note>,
    sealed: Receiver<Box<Copied>>,
    spares: Sender<Box<Copied>>,
    history: Mutex<History>,
    names: Mutex<Vec<(u32, String, String)>>,
    /// Numbers shared with the audio thread.
    pub shared: Arc<Shared>,
}

/// Everything heard since the instance was made, for scrolling back and for the list.
#[derive(Debug, Default)]
pub struct History {
    /// The line, oldest first.
    pub line: VecDeque<LinePoint>,
    /// The final notes, oldest first.
    pub notes: VecDeque<Note>,
    /// Moments that somebody marked.
    pub marks: Vec<Mark>,
}

/// A marked moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// When.
    pub time: SampleTime,
    /// A short word, may be empty.
    pub word: String,
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // A panic elsewhere must not take the window or the saver down with it.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Both ends, connected.
#[must_use]
pub fn bridge(setup: Setup) -> (Arc<Bridge>, AudioEnd) {
    let (setup_in, setup_out) = triple_buffer::triple_buffer(&setup);
    let (wanted_in, wanted_out) = triple_buffer::triple_buffer(&None);
    let live = Live {
        snapshot: None,
        sa: Hertz(0.0),
        setup: 0,
        drone_sounds: false,
        drone_waits: false,
        drone_not_printed: false,
        playing: false,
    };
    let (live_in, live_out) = triple_buffer::triple_buffer(&live);
    let empty = Copied { sa: Hertz(0.0), setup: 0, meter: Meter::new() };
    let (page_in, page_out) = triple_buffer::triple_buffer(&empty);
    let (commands_in, commands_out) = bounded(64);
    let (materials_in, materials_out) = bounded(4);
    let (retired_in, retired_out) = bounded(8);
    let (line_in, line_out) = bounded(LINE_WAITING);
    let (notes_in, notes_out) = bounded(NOTES_WAITING);
    let (sealed_in, sealed_out) = bounded(PAGES_WAITING);
    let (spares_in, spares_out) = bounded(PAGES_WAITING);
    for _ in 0..PAGES_WAITING {
        // The channel was made for just so many.
        let _ = spares_in.try_send(Box::new(empty.clone()));
    }
    let shared = Arc::new(Shared::default());
    let audio = AudioEnd {
        setup: setup_out,
        commands: commands_out,
        materials: materials_out,
        retired: retired_in,
        wanted: wanted_in,
        live: live_in,
        page: page_in,
        line: line_in,
        notes: notes_in,
        sealed: sealed_in,
        spares: spares_out,
        shared: shared.clone(),
    };
    let bridge = Bridge {
        setup: Mutex::new(setup_in),
        commands: commands_in,
        materials: materials_in,
        retired: retired_out,
        wanted: Mutex::new(wanted_out),
        live: Mutex::new(live_out),
        page: Mutex::new(page_out),
        line: line_out,
        notes: notes_out,
        sealed: sealed_out,
        spares: spares_in,
        history: Mutex::new(History::default()),
        names: Mutex::new(Vec::new()),
        shared,
    };
    (Arc::new(bridge), audio)
}

impl AudioEnd {
    /// Hands out one frame of the line.
    pub fn line(&mut self, point: LinePoint) {
        if self.line.try_send(point).is_err() {
            self.shared.missed.fetch_add(1, Ordering::Relaxed);
        }
    }

    /// Hands out a final note.
    pub fn note(&mut self, note: &Note) {
        if self.notes.try_send(*note).is_err() {
            self.shared.missed.fetch_add(1, Ordering::Relaxed);
        }
    }

    /// Publishes the newest of everything.
    pub fn publish(&mut self, live: Live) {
        self.live.write(live);
    }

    /// Copies the page in force for the saver: plain memory, no lock.
    pub fn copy_page(&mut self, sa: Hertz, setup: u32, meter: &Meter) {
        let page = self.page.input_buffer_mut();
        page.sa = sa;
        page.setup = setup;
        page.meter.copy_from(meter);
        self.page.publish();
    }

    /// Lays the page aside. False when too many already wait (the caller keeps counting on it).
    pub fn seal(&mut self, sa: Hertz, setup: u32, meter: &Meter) -> bool {
        let Ok(mut page) = self.spares.try_recv() else { return false };
        page.sa = sa;
        page.setup = setup;
        page.meter.copy_from(meter);
        // There are only as many spares as places: this cannot fail, nor free memory here.
        self.sealed.try_send(page).is_ok()
    }

    /// Says which drone material is wanted; the caller then calls the background worker.
    pub fn want(&mut self, setting: DroneSetting) {
        self.wanted.write(Some(setting));
    }

    /// Gives old material back to be freed elsewhere; gives it back to the caller when that waits.
    pub fn retire(&mut self, material: Box<Material>) -> Option<Box<Material>> {
        self.retired.try_send(material).err().map(crossbeam_channel::TrySendError::into_inner)
    }

    /// Numbers shared with the window.
    #[must_use]
    pub fn shared(&self) -> &Shared {
        &self.shared
    }
}

impl Bridge {
    /// Sends compiled choices to the audio thread and remembers what they are called.
    pub fn set_up(&self, setup: Setup, tuning: &str, scale: &str) {
        lock(&self.names).push((setup.page, tuning.to_owned(), scale.to_owned()));
        lock(&self.setup).write(setup);
    }

    /// Asks something of the audio thread. False when it has not taken the last 64 requests.
    pub fn ask(&self, command: Command) -> bool {
        self.commands.try_send(command).is_ok()
    }

    /// The newest of everything.
    pub fn live(&self) -> Live {
        *lock(&self.live).read()
    }

    /// The drone material that the audio thread wants now.
    pub fn wanted(&self) -> Option<DroneSetting> {
        *lock(&self.wanted).read()
    }

    /// Hands new material over; it comes back when the audio thread takes none.
    pub fn give(&self, material: Box<Material>) -> Result<(), Box<Material>> {
        self.materials.try_send(material).map_err(crossbeam_channel::TrySendError::into_inner)
    }

    /// Frees what the audio thread no longer needs.
    pub fn free_retired(&self) {
        while let Ok(material) = self.retired.try_recv() {
            drop(material);
        }
    }

    /// Gathers what waits and looks at all that was heard.
    pub fn history<R>(&self, look: impl FnOnce(&mut History) -> R) -> R {
        let mut history = lock(&self.history);
        history.line.extend(self.line.try_iter());
        history.notes.extend(self.notes.try_iter());
        let surplus = history.line.len().saturating_sub(LINE_KEPT);
        history.line.drain(..surplus);
        let surplus = history.notes.len().saturating_sub(NOTES_KEPT);
        history.notes.drain(..surplus);
        look(&mut history)
    }

    /// Brings saved pages up to date: lays aside what was sealed, copies the page in force.
    pub fn refresh(&self, pages: &mut Pages) {
        while let Ok(sealed) = self.sealed.try_recv() {
            if let Some(key) = self.key(sealed.sa, sealed.setup) {
                pages.open = None;
                pages.keep(Page { key, meter: sealed.meter.clone() });
            }
            let _ = self.spares.try_send(sealed);
        }
        let mut copy = lock(&self.page);
        let page = copy.read();
        if page.meter.is_empty() {
            return;
        }
        if let Some(key) = self.key(page.sa, page.setup) {
            pages.open = Some(Page { key, meter: page.meter.clone() });
        }
    }

    /// A copy of the statistics of the page in force.
    pub fn page_meter(&self) -> Meter {
        lock(&self.page).read().meter.clone()
    }

    fn key(&self, sa: Hertz, setup: u32) -> Option<PageKey> {
        let names = lock(&self.names);
        let (_, tuning, scale) = names.iter().rev().find(|(id, ..)| *id == setup)?;
        Some(PageKey { sa, tuning: tuning.clone(), scale: scale.clone() })
    }
}
