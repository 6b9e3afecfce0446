//! Between the audio thread and everybody else: readings out, snapshot out, commands in; nobody waits.
//!
//! The audio thread holds [`AudioEnd`] and only ever tries: a full channel is counted and passed
//! over, a triple buffer always takes the newest. The window, the saver and the background worker
//! share [`Bridge`]; its locks are taken by them alone. What the audio thread hands out is gathered
//! into a [`History`] by whoever looks first, and at every note by the background worker, so that a
//! lesson is kept with the window closed. No statistic travels through a lossy channel: the meter
//! itself lives with the listener and is copied whole.

pub use super::history::{Bars, History, LinePoint, Mark};
use super::pages;
pub use super::pages::Under;
use super::setup::Setup;
use super::state::{PageKey, Pages};
use crate::drone::{DroneSetting, Material};
use crate::listener::Snapshot;
use crate::meter::Meter;
use crate::note::Note;
use crate::swara::{Sthayi, Swara};
use crate::units::{Cents, SampleRate, SampleTime};
use atomic_float::AtomicF32;
use crossbeam_channel::{Receiver, Sender, bounded};
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Line points that may wait to be gathered: a minute of 5 ms frames.
const LINE_WAITING: usize = 12_000;
/// Notes that may wait to be gathered: the background worker is called at each.
const NOTES_WAITING: usize = 1_024;
/// Marks and changes of bars that may wait: each is a rare event.
const RARE_WAITING: usize = 256;
/// Samples of raw voice in one piece.
const RAW_PIECE: usize = 256;
/// Pieces of raw voice that may wait: a third of a second at the highest rate.
const RAW_WAITING: usize = 256;

/// A piece of the raw voice, at the host's rate.
#[derive(Debug, Clone, Copy)]
pub struct Raw {
    samples: [f32; RAW_PIECE],
    filled: usize,
}

impl Raw {
    const EMPTY: Raw = Raw { samples: [0.0; RAW_PIECE], filled: 0 };

    /// The samples.
    #[must_use]
    pub fn samples(&self) -> &[f32] {
        self.samples.get(..self.filled).unwrap_or(&[])
    }
}

/// What the window asks of the audio thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Command {
    /// Forget the statistics of the page in force.
    Clear,
    /// Add again what was last cleared, where its page is still in force.
    Unclear,
    /// The user wants the drone to sound although the project was just reopened.
    Sound,
    /// Judge against this swara, or freely.
    Expect(Option<(Swara, Sthayi)>),
    /// Sound this swara as the reference tone, or stop.
    Reference(Option<(Swara, Sthayi)>),
    /// Sound a pitch so many cents above Sa, for so many seconds: a note as it was sung.
    Play(Cents, f32),
    /// The drone sounds for so many seconds though it is switched off: a note is heard against it, and its knob is the user's.
    Lend(f32),
    /// Hand out the raw voice, or stop that.
    Capture(bool),
    /// Send the voice on (stand-alone app) or keep it from the loudspeakers.
    Monitor(bool),
}

/// The newest of everything that a viewer may see.
#[derive(Debug, Clone, Copy)]
pub struct Live {
    /// The listener's own.
    pub snapshot: Option<Snapshot>,
    /// Whether the drone is on but waits for the transport or the user (project just reopened).
    pub drone_waits: bool,
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
    pages: pages::Out,
    line: Sender<(u32, LinePoint)>,
    notes: Sender<(u32, Note, Under)>,
    marks: Sender<(u32, SampleTime)>,
    bars: Sender<(u32, Bars)>,
    raw: Sender<Raw>,
    piece: Raw,
    epoch: u32,
    now: SampleTime,
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
    /// Line points, notes or pieces of raw voice that found their channel full.
    pub missed: AtomicU32,
    /// Whether the host's transport runs.
    pub playing: AtomicBool,
    /// The page in force was cleared since the saver last looked.
    pub cleared: AtomicBool,
}

/// What everybody but the audio thread holds.
pub struct Bridge {
    setup: Mutex<triple_buffer::Input<Setup>>,
    commands: Sender<Command>,
    materials: Sender<Box<Material>>,
    retired: Receiver<Box<Material>>,
    wanted: Mutex<triple_buffer::Output<Option<DroneSetting>>>,
    live: Mutex<triple_buffer::Output<Live>>,
    pages: pages::In,
    line: Receiver<(u32, LinePoint)>,
    notes: Receiver<(u32, Note, Under)>,
    marks: Receiver<(u32, SampleTime)>,
    bars: Receiver<(u32, Bars)>,
    raw: Receiver<Raw>,
    history: Mutex<History>,
    /// Numbers shared with the audio thread.
    pub shared: Arc<Shared>,
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
    let live = Live { snapshot: None, drone_waits: false };
    let (live_in, live_out) = triple_buffer::triple_buffer(&live);
    let (pages_out, pages_in) = pages::connected();
    let (commands_in, commands_out) = bounded(64);
    let (materials_in, materials_out) = bounded(4);
    let (retired_in, retired_out) = bounded(8);
    let (line_in, line_out) = bounded(LINE_WAITING);
    let (notes_in, notes_out) = bounded(NOTES_WAITING);
    let (marks_in, marks_out) = bounded(RARE_WAITING);
    let (bars_in, bars_out) = bounded(RARE_WAITING);
    let (raw_in, raw_out) = bounded(RAW_WAITING);
    let shared = Arc::new(Shared::default());
    let audio = AudioEnd {
        setup: setup_out,
        commands: commands_out,
        materials: materials_out,
        retired: retired_in,
        wanted: wanted_in,
        live: live_in,
        pages: pages_out,
        line: line_in,
        notes: notes_in,
        marks: marks_in,
        bars: bars_in,
        raw: raw_in,
        piece: Raw::EMPTY,
        epoch: 0,
        now: SampleTime(0),
        shared: shared.clone(),
    };
    let bridge = Bridge {
        setup: Mutex::new(setup_in),
        commands: commands_in,
        materials: materials_in,
        retired: retired_out,
        wanted: Mutex::new(wanted_out),
        live: Mutex::new(live_out),
        pages: pages_in,
        line: line_out,
        notes: notes_out,
        marks: marks_out,
        bars: bars_out,
        raw: raw_out,
        history: Mutex::new(History::default()),
        shared,
    };
    (Arc::new(bridge), audio)
}

impl AudioEnd {
    /// Times begin at 0 again: what follows belongs to a new epoch.
    pub fn anew(&mut self) {
        self.epoch = self.epoch.wrapping_add(1);
        (self.now, self.piece) = (SampleTime(0), Raw::EMPTY);
    }

    /// Hands out one frame of the line.
    pub fn line(&mut self, point: LinePoint) {
        self.now = point.time;
        let full = self.line.try_send((self.epoch, point)).is_err();
        self.missed(full);
    }

    /// Hands out a final note and what it was measured under.
    pub fn note(&mut self, note: &Note, under: Under) {
        let full = self.notes.try_send((self.epoch, *note, under)).is_err();
        self.missed(full);
    }

    /// Marks the newest frame of the line.
    pub fn mark(&mut self) {
        let full = self.marks.try_send((self.epoch, self.now)).is_err();
        self.missed(full);
    }

    /// Hands out where the bars lie from now on.
    pub fn bars(&mut self, bars: Bars) {
        let full = self.bars.try_send((self.epoch, bars)).is_err();
        self.missed(full);
    }

    /// Hands out raw voice, piece by piece.
    pub fn raw(&mut self, voice: &[f32]) {
        for sample in voice {
            if let Some(place) = self.piece.samples.get_mut(self.piece.filled) {
                *place = *sample;
                self.piece.filled += 1;
            }
            if self.piece.filled == RAW_PIECE {
                let full = self.raw.try_send(self.piece).is_err();
                self.missed(full);
                self.piece.filled = 0;
            }
        }
    }

    fn missed(&self, full: bool) {
        if full {
            self.shared.missed.fetch_add(1, Ordering::Relaxed);
        }
    }

    /// Publishes the newest of everything.
    pub fn publish(&mut self, live: Live) {
        self.live.write(live);
    }

    /// Copies the page in force for the saver: plain memory, no lock.
    pub fn copy_page(&mut self, under: Under, meter: &Meter) {
        self.pages.copy(under, meter);
    }

    /// Lays the page aside and begins another. False when too many already wait (the caller keeps counting on it).
    pub fn turn_page(&mut self, old: Under, new: Under, meter: &mut Meter) -> bool {
        self.pages.turn(old, new, meter)
    }

    /// Whether a page that was laid aside has come back.
    #[must_use]
    pub fn page_waits(&self) -> bool {
        self.pages.waits()
    }

    /// Adds the page that has come back to the one in force, where it still is that.
    pub fn take_page_back(&mut self, under: Under, meter: &mut Meter) {
        self.pages.take_back(under, meter);
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
    pub fn set_up(&self, setup: Setup, key: PageKey) {
        self.pages.name(setup.page, key);
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
        if let Some(rate) = self.rate() {
            // The line first: a new epoch begins after all of it.
            self.line.try_iter().for_each(|(epoch, point)| history.point(epoch, point, rate));
            self.bars.try_iter().for_each(|(epoch, bars)| history.bars(epoch, bars, rate));
            let notes = self.notes.try_iter();
            notes.for_each(|(epoch, note, under)| {
                history.note(epoch, note, (under.0, self.pages.key(under)), rate);
            });
            self.marks.try_iter().for_each(|(epoch, time)| history.mark(epoch, time, rate));
        }
        let looked = look(&mut history);
        history.practice.orders(|command| self.ask(command));
        looked
    }

    /// Hands the raw voice that waits to `take`, oldest first.
    pub fn raw(&self, mut take: impl FnMut(&[f32])) {
        self.raw.try_iter().for_each(|piece| take(piece.samples()));
    }

    /// Brings saved pages up to date: lays aside what was turned over, copies the page in force, brings back what is wanted again.
    pub fn refresh(&self, pages: &mut Pages) {
        self.pages.refresh(pages, self.shared.cleared.swap(false, Ordering::Relaxed));
    }

    /// What is counted of that pupil is not kept any more.
    pub fn forget(&self, pupil: u32) {
        self.pages.forget(pupil);
    }

    /// The host's rate; `None` before the first activation.
    pub fn rate(&self) -> Option<SampleRate> {
        SampleRate::new(f64::from(self.shared.rate_hz.load(Ordering::Relaxed))).ok()
    }

    /// A copy of the statistics under `sa` and `setup`: empty while the page in force is still another's, as it is until the
    /// host's next block after a change.
    pub fn page_meter(&self, under: Under) -> Meter {
        self.pages.meter(under)
    }
}
