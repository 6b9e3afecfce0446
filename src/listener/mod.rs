//! The whole flow, wired once: the live plugin and the take checker drive this same chain.

use crate::input::Front;
use crate::meter::Meter;
use crate::note::{Band, Current, Judge, Note};
use crate::pitch::Tracker;
use crate::swara::{self, SwaraReading, Targets};
use crate::units::{Hertz, SampleRate};

/// What the listener measures against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// Madhya Sa.
    pub sa: Hertz,
    /// The allowed swaras and where they lie.
    pub targets: Targets,
    /// In-tune half-widths.
    pub band: Band,
    /// Whether notes are scored (the pupil's turn).
    pub listening: bool,
}

/// What the listener has to say.
#[derive(Debug, Clone, Copy)]
pub enum Event<'a> {
    /// A frame was read (every 5 ms).
    Reading(&'a SwaraReading),
    /// A note became final.
    Note(&'a Note),
}

/// The chain: input, bleed, pitch, swara, note, meter.
pub struct Listener {
    rate: SampleRate,
    front: Front,
    tracker: Tracker,
    judge: Judge,
    meter: Meter,
    setting: Setting,
}

impl Listener {
    /// All memory is taken here.
    #[must_use]
    pub fn new(rate: SampleRate, setting: Setting) -> Self {
        Self {
            rate,
            front: Front::new(rate),
            tracker: Tracker::new(rate),
            judge: Judge::new(rate),
            meter: Meter::new(),
            setting,
        }
    }

    /// Takes a block of the voice (and the known drone of the same length, as sent out).
    pub fn process(&mut self, voice: &[f32], drone: Option<&[f32]>, say: &mut dyn FnMut(Event<'_>)) {
        let Self { rate, front, tracker, judge, meter, setting } = self;
        front.push(voice, drone, |hop| {
            let frame = tracker.process(hop);
            let reading = swara::read(&frame, setting.sa, &setting.targets);
            say(Event::Reading(&reading));
            if setting.listening {
                meter.add_sung(u64::from(reading.cents.is_some()));
                judge.push(&reading, &setting.targets, setting.band, &mut |note, offsets| {
                    meter.add(note, offsets, note.seconds(*rate), setting.band);
                    say(Event::Note(note));
                });
            }
        });
    }

    /// Ends whatever sounds, at the end of a take.
    pub fn finish(&mut self, say: &mut dyn FnMut(Event<'_>)) {
        let Self { rate, judge, meter, setting, .. } = self;
        judge.finish(&setting.targets, setting.band, &mut |note, offsets| {
            meter.add(note, offsets, note.seconds(*rate), setting.band);
            say(Event::Note(note));
        });
    }

    /// Measures against something else from the next hop on.
    pub fn set(&mut self, setting: Setting) {
        self.setting = setting;
    }

    /// The note that sounds now.
    #[must_use]
    pub fn current(&self) -> Option<Current> {
        self.judge.current()
    }

    /// The statistics of the page in force.
    #[must_use]
    pub fn meter(&self) -> &Meter {
        &self.meter
    }

    /// The same, to clear or to load a saved page into.
    pub fn meter_mut(&mut self) -> &mut Meter {
        &mut self.meter
    }

    /// Forgets the sound heard so far; the statistics stay.
    pub fn reset(&mut self) {
        self.front.reset();
        self.tracker.reset();
        self.judge.reset();
    }
}
