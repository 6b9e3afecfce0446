//! The whole flow, wired once: the live plugin and the take checker drive this same chain.
//!
//! In: blocks of the voice at the host's rate (and the known drone, and where the host's timeline stands). Out: [`Event`]s
//! as they come, and at any time a [`Snapshot`]. Same samples in any blocks give the same events; nothing allocates after
//! [`Listener::new`]. Times are host samples since the last reset.

mod drone_sa;
mod faults;
mod foreign;
mod octave;
mod pass;
mod setting;
mod shift;
mod snapshot;

pub use drone_sa::DroneSa;
pub use faults::Faults;
pub use setting::{Setting, Turn};
pub use snapshot::Snapshot;

use crate::bleed::{Cleaned, ForeignDrone, KnownDrone};
pub use crate::bleed::{DRONE_AHEAD_S, Tone, Tones};
use crate::input::Front;
use crate::meter::{Meter, POSITIONS};
use crate::note::{Current, Judge, Kind, Note, Offsets};
use crate::pitch::{F0Frame, Tracker};
use crate::swara::{self, Sthayi, Swara, SwaraReading};
use crate::units::{SampleRate, num};
use faults::Watch;
use octave::OctaveWatch;
use pass::Transport;
use shift::ShiftWatch;

/// What the listener has to say.
#[derive(Debug, Clone, Copy)]
pub enum Event<'a> {
    /// A frame was read (every 5 ms).
    Reading(&'a SwaraReading),
    /// A note became final.
    Note(&'a Note),
    /// The voice lives this many octaves from the stated Sa (+1 or -1); said once per Sa.
    Octave(i8),
    /// The transport started or jumped: a new pass, counted from 0.
    Pass(u32),
}

/// A block of sound as the host hands it over.
#[derive(Debug, Clone, Copy)]
pub struct Block<'a> {
    /// The voice, mono.
    pub voice: &'a [f32],
    /// The known drone of the same length, where it can be [`DRONE_AHEAD_S`] before it is sent out; `None` where there is none.
    pub drone: Option<&'a [f32]>,
    /// The host's timeline position of the first sample; `None` while the transport stands.
    pub timeline: Option<i64>,
}

/// The chain: input, bleed, pitch, swara, note, meter.
pub struct Listener {
    front: Front,
    bleed: KnownDrone,
    foreign: ForeignDrone,
    tracker: Tracker,
    watch: Watch,
    notes: Notes,
    transport: Transport,
    heard: i64,
    machine_hops: u64,
}

impl Listener {
    /// All memory is taken here.
    #[must_use]
    pub fn new(rate: SampleRate, setting: Setting) -> Self {
        Self {
            front: Front::new(rate),
            bleed: KnownDrone::new(),
            foreign: ForeignDrone::new(setting.sa),
            tracker: Tracker::new(rate),
            watch: Watch::default(),
            notes: Notes::new(rate, setting),
            transport: Transport::default(),
            heard: 0,
            machine_hops: 0,
        }
    }

    /// Takes a block of the voice (and the known drone of the same length, as sent out).
    pub fn process(&mut self, voice: &[f32], drone: Option<&[f32]>, say: &mut dyn FnMut(Event<'_>)) {
        self.process_block(Block { voice, drone, timeline: None }, say);
    }

    /// Takes a block with its place on the host's timeline; a start or a jump closes the note and opens a new pass.
    pub fn process_block(&mut self, block: Block<'_>, say: &mut dyn FnMut(Event<'_>)) {
        let length = num::time(block.voice.len());
        if self.transport.block(block.timeline, length) {
            self.notes.new_pass(say);
        }
        self.notes.judge.place(block.timeline.map(|at| at.saturating_sub(self.heard)), self.notes.view.pass);
        self.heard = self.heard.saturating_add(length);
        let Self { front, bleed, foreign, tracker, watch, notes, machine_hops, .. } = self;
        front.push(block.voice, block.drone, |hop| {
            notes.view.clipped_samples += u64::from(hop.clipped);
            let frame = match bleed.clean(hop) {
                Some(Cleaned { hop: cleaned, left, faint, sure }) => {
                    let frame = tracker.process_with(&cleaned, Some(left));
                    let frame = F0Frame { voiced: frame.voiced && !faint, ..frame };
                    if sure {
                        foreign.pass();
                    } else {
                        foreign.listen(hop, frame);
                    }
                    frame
                }
                None => {
                    let frame = match foreign.clean(hop) {
                        Some(Cleaned { hop, left, .. }) => tracker.process_with(&hop, Some(left)),
                        None => tracker.process(hop),
                    };
                    foreign.judge(frame)
                }
            };
            let of_a_voice = bleed.voice(frame.f0.filter(|_| frame.voiced));
            let frame = F0Frame { voiced: frame.voiced && of_a_voice, ..frame };
            watch.step(hop, &frame);
            notes.view.faults = watch.faults();
            notes.frame(&frame, say);
            notes.view.machine = tracker.hears_a_machine() || tracker.hears_unmoved();
            *machine_hops += u64::from(tracker.hears_a_machine());
        });
    }

    /// Says whether the known drone is told [`DRONE_AHEAD_S`] before it is sent; at first it is not.
    pub fn told_ahead(&mut self, ahead: bool) {
        self.bleed.told_ahead(ahead);
    }

    /// Opens a new pass by hand: the note that sounds ends here.
    pub fn new_pass(&mut self, say: &mut dyn FnMut(Event<'_>)) {
        self.notes.new_pass(say);
    }

    /// The note that sounds is none: what was sung of it counts nowhere.
    pub fn drop_note(&mut self) {
        self.notes.drop_note();
    }

    /// Ends whatever sounds, at the end of a take.
    pub fn finish(&mut self, say: &mut dyn FnMut(Event<'_>)) {
        self.notes.finish(say);
    }

    /// Measures against something else from the next hop on. True if that is another page of statistics: the note that
    /// sounded has been counted on the old page, which is still in [`Listener::meter`]; the caller keeps it and puts the
    /// new one in its place.
    pub fn set(&mut self, setting: Setting, say: &mut dyn FnMut(Event<'_>)) -> bool {
        self.foreign.expect(setting.sa);
        self.notes.set(setting, say)
    }

    /// What is measured against.
    #[must_use]
    pub fn setting(&self) -> &Setting {
        &self.notes.setting
    }

    /// The note that sounds now.
    #[must_use]
    pub fn current(&self) -> Option<Current> {
        self.notes.judge.current()
    }

    /// All that a viewer may see.
    #[must_use]
    pub fn snapshot(&self) -> Snapshot {
        let (sung, long_tone) = (self.notes.meter.sung_time(), self.notes.meter.long_tone());
        Snapshot { current: self.current(), sung, long_tone, drone: *self.foreign.tones(), ..self.notes.view }
    }

    /// Whether, since the last reset, something sounded alone that is steadier than a throat can be: it counts as drone.
    #[must_use]
    pub fn heard_a_machine(&self) -> bool {
        self.machine_hops > 0
    }

    /// The statistics of the page in force.
    #[must_use]
    pub fn meter(&self) -> &Meter {
        &self.notes.meter
    }

    /// Changes the page in force (clear, load a saved one); the snapshot's rows follow.
    pub fn with_meter(&mut self, change: impl FnOnce(&mut Meter)) {
        change(&mut self.notes.meter);
        self.notes.summarise_all();
    }

    /// Forgets the sound heard so far; the statistics stay.
    pub fn reset(&mut self) {
        self.front.reset();
        self.bleed.reset();
        self.foreign.reset();
        self.tracker.reset();
        self.watch = Watch::default();
        self.notes.reset();
        self.transport = Transport::default();
        self.heard = 0;
        self.machine_hops = 0;
    }
}

/// The part of the chain behind the tracker.
struct Notes {
    rate: SampleRate,
    judge: Judge,
    meter: Meter,
    setting: Setting,
    watch: OctaveWatch,
    shift: ShiftWatch,
    view: Snapshot,
}

impl Notes {
    fn new(rate: SampleRate, setting: Setting) -> Self {
        let mut notes = Self {
            rate,
            judge: Judge::new(rate),
            meter: Meter::new(),
            setting,
            watch: OctaveWatch::default(),
            shift: ShiftWatch::default(),
            view: Snapshot::new(setting.voice_sa(0)),
        };
        notes.judge.expect(setting.expected);
        notes
    }

    fn frame(&mut self, frame: &F0Frame, say: &mut dyn FnMut(Event<'_>)) {
        let reading = swara::read(frame, self.view.voice_sa, &self.setting.targets);
        self.view.reading = Some(reading);
        say(Event::Reading(&reading));
        match self.setting.turn {
            Turn::Pupil => {
                // With another voice the pitch may be anybody's.
                self.meter.add_sung(u64::from(reading.cents.is_some() && !frame.several));
                self.counted(say, |judge, setting, done| judge.push(&reading, &setting.targets, setting.band, done));
            }
            Turn::Teacher => self.judge.push(&reading, &self.setting.targets, self.setting.band, &mut |_, _| {}),
            Turn::Nobody => {}
        }
    }

    fn finish(&mut self, say: &mut dyn FnMut(Event<'_>)) {
        if self.setting.turn != Turn::Pupil {
            return self.judge.finish(&self.setting.targets, self.setting.band, &mut |_, _| {});
        }
        self.counted(say, |judge, setting, done| judge.finish(&setting.targets, setting.band, done));
    }

    /// Lets the judge do its work, and counts every note that becomes final by it.
    fn counted(
        &mut self,
        say: &mut dyn FnMut(Event<'_>),
        work: impl FnOnce(&mut Judge, &Setting, &mut dyn FnMut(&Note, &Offsets<'_>)),
    ) {
        let Self { rate, judge, meter, setting, watch, shift, view } = self;
        let mut counter = Counter { rate: *rate, meter, setting, watch, shift, view, remark: None };
        work(judge, setting, &mut |note, offsets| counter.note(note, offsets, say));
        let remark = counter.remark;
        self.octave(remark, say);
    }

    fn octave(&mut self, remark: Option<i8>, say: &mut dyn FnMut(Event<'_>)) {
        let Some(octaves) = remark else { return };
        self.view.octave_remark = Some(octaves);
        say(Event::Octave(octaves));
        if self.setting.follow_octave {
            self.follow(octaves, say);
        }
    }

    /// Follows the voice: what sounds is ended, so that no note is measured against two Sa.
    fn follow(&mut self, octaves: i8, say: &mut dyn FnMut(Event<'_>)) {
        self.finish(say);
        self.view.octave_followed = self.view.octave_followed.saturating_add(octaves).clamp(-2, 2);
        self.view.voice_sa = self.setting.voice_sa(self.view.octave_followed);
    }

    fn drop_note(&mut self) {
        self.judge.reset();
        self.judge.place(None, self.view.pass);
        self.judge.expect(self.setting.expected);
    }

    fn new_pass(&mut self, say: &mut dyn FnMut(Event<'_>)) {
        self.finish(say);
        self.view.pass = self.view.pass.saturating_add(1);
        self.judge.place(None, self.view.pass);
        say(Event::Pass(self.view.pass));
    }

    fn set(&mut self, setting: Setting, say: &mut dyn FnMut(Event<'_>)) -> bool {
        if setting == self.setting {
            return false;
        }
        let other_page = !setting.same_page(&self.setting);
        let other_sa = setting.sa != self.setting.sa || setting.octave != self.setting.octave;
        let other_rule = setting.expected != self.setting.expected || setting.turn != self.setting.turn;
        if other_page || other_sa || other_rule {
            self.finish(say);
        }
        if other_sa || !setting.follow_octave {
            self.view.octave_followed = 0;
        }
        if other_page || other_sa {
            self.shift.clear();
            self.view.shift = None;
        }
        if other_sa {
            self.watch.clear();
            self.view.octave_remark = None;
        } else if setting.follow_octave && !self.setting.follow_octave {
            self.view.octave_followed = self.view.octave_remark.unwrap_or(0);
        }
        self.setting = setting;
        self.view.voice_sa = setting.voice_sa(self.view.octave_followed);
        self.view.page = self.view.page.saturating_add(u32::from(other_page));
        self.judge.expect(setting.expected);
        other_page
    }

    fn summarise_all(&mut self) {
        for position in 0..12 {
            summarise(&self.meter, &mut self.view, position);
        }
    }

    fn reset(&mut self) {
        self.judge.reset();
        self.judge.expect(self.setting.expected);
        self.watch.clear();
        self.shift.clear();
        let page = self.view.page;
        self.view = Snapshot { page, ..Snapshot::new(self.setting.voice_sa(0)) };
        self.summarise_all();
    }
}

/// Counts a final note everywhere it counts.
struct Counter<'a> {
    rate: SampleRate,
    meter: &'a mut Meter,
    setting: &'a Setting,
    watch: &'a mut OctaveWatch,
    shift: &'a mut ShiftWatch,
    view: &'a mut Snapshot,
    remark: Option<i8>,
}

impl Counter<'_> {
    fn note(&mut self, note: &Note, offsets: &Offsets<'_>, say: &mut dyn FnMut(Event<'_>)) {
        let seconds = note.seconds(self.rate);
        self.meter.add(note, offsets, seconds, self.setting.band);
        self.view.last = Some(*note);
        self.view.notes += 1;
        if note.kind == Kind::Held {
            summarise(self.meter, self.view, note.swara.position());
            self.remark = self.watch.note(note.cents.0, seconds).or(self.remark);
            if matches!(note.swara, Swara::S | Swara::P) {
                self.view.shift = self.shift.note(note.offset);
            }
        }
        say(Event::Note(note));
    }
}

/// Brings the snapshot's figures of one position up to date.
fn summarise(meter: &Meter, view: &mut Snapshot, position: u8) {
    debug_assert!(usize::from(position) < POSITIONS);
    if let Some(row) = view.rows.get_mut(usize::from(position)) {
        *row = meter.row(position);
    }
    for (sthayi, register) in (-2..).zip(view.rows_by_register.iter_mut()) {
        if let Some(row) = register.get_mut(usize::from(position)) {
            *row = meter.row_in(position, Sthayi(sthayi));
        }
    }
}

#[cfg(test)]
mod tests;
