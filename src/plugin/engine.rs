//! One host block: the voice through, the drone in, the listener fed, the bridge kept up to date.
//!
//! In: the host's channels, the knobs, the transport. Out: the same channels. Knows nothing of the
//! framework, so that it is tested without a host. Never allocates, locks, blocks, logs or panics
//! after [`Engine::new`]; any block length.

use super::passage;
use super::ramp::Ramp;
use crate::drone::{self, Player};
use crate::listener::{Block, Event, Listener};
use crate::meter::Meter;
use crate::note::Band;
use crate::shell::bridge::{AudioEnd, Command, LinePoint, Live};
use crate::shell::params::{DroneTo, VoiceFrom, gain_of};
use crate::shell::setup::Setup;
use crate::swara::{Sthayi, Swara};
use crate::units::{Cents, Decibels, Hertz, SampleRate, num};
use std::sync::atomic::Ordering;

/// The knobs as they stand for one block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Knobs {
    pub(crate) sa: Hertz,
    pub(crate) sa_key: u8,
    pub(crate) band: Band,
    pub(crate) voice_from: VoiceFrom,
    pub(crate) voice_db: f32,
    pub(crate) drone_on: bool,
    pub(crate) drone_db: f32,
    pub(crate) drone_to: DroneTo,
    pub(crate) print: bool,
    pub(crate) listening: bool,
    pub(crate) follow_octave: bool,
    pub(crate) bypass: bool,
}

/// Where the host's transport is.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Transport {
    pub(crate) playing: bool,
    pub(crate) position: Option<i64>,
}

/// The host's channels for one block; `own` is empty when that port is inactive.
pub(crate) struct Channels<'a, 'b> {
    pub(crate) main: &'a mut [&'b mut [f32]],
    pub(crate) side: &'a [&'b mut [f32]],
    pub(crate) own: &'a mut [&'b mut [f32]],
}

/// How this instance runs, fixed at activation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Frame {
    pub(crate) rate: SampleRate,
    pub(crate) max_block: usize,
    pub(crate) offline: bool,
    /// The voice starts muted towards the loudspeakers (stand-alone app: it would howl).
    pub(crate) stand_alone: bool,
    /// A project was just opened: the drone waits for the transport or the user.
    pub(crate) reopened: bool,
}

/// All that one block needs, sized once.
pub(crate) struct Engine {
    frame: Frame,
    listener: Listener,
    player: Player,
    setup: Setup,
    expected: Option<(Swara, Sthayi)>,
    page: (Hertz, u32),
    voice: Vec<f32>,
    known: Vec<f32>,
    drone: Vec<f32>,
    voice_gain: Ramp,
    main_gain: Ramp,
    own_gain: Ramp,
    monitor: bool,
    waits: bool,
    was_on: bool,
    transport: Transport,
    wanted: Option<drone::Setting>,
    returning: Option<Box<drone::Material>>,
    hop_age: usize,
}

/// What the caller must see to after a block.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct After {
    /// The background worker should gather notes and pages.
    pub(crate) gather: bool,
    /// The background worker should make drone material.
    pub(crate) material: bool,
    /// The drone sounds, or will: the host must not put us to sleep.
    pub(crate) sounds: bool,
}

impl Engine {
    /// Takes all memory. `meter` is the page to go on with.
    pub(crate) fn new(frame: Frame, setup: Setup, knobs: &Knobs, meter: &Meter) -> Self {
        let rate = num::single(frame.rate.hz());
        let mut listener = Listener::new(frame.rate, setup.listening(knobs.sa, knobs.band, None));
        listener.meter_mut().clone_from(meter);
        let length = frame.max_block.max(1);
        Self {
            frame,
            listener,
            player: Player::new(frame.rate),
            setup,
            expected: None,
            page: (knobs.sa, setup.id),
            voice: vec![0.0; length],
            known: vec![0.0; length],
            drone: vec![0.0; length],
            voice_gain: Ramp::new(rate, if frame.stand_alone { 0.0 } else { gain_of(knobs.voice_db) }),
            main_gain: Ramp::new(rate, 0.0),
            own_gain: Ramp::new(rate, 0.0),
            monitor: !frame.stand_alone,
            waits: frame.reopened,
            was_on: knobs.drone_on,
            transport: Transport::default(),
            wanted: None,
            returning: None,
            hop_age: 0,
        }
    }

    /// The statistics of the page in force, to be carried over a new activation.
    pub(crate) fn meter(&self) -> &Meter {
        self.listener.meter()
    }

    /// What the page in force belongs to.
    pub(crate) fn page(&self) -> (Hertz, u32) {
        self.page
    }

    /// Forgets all sound; the statistics stay.
    pub(crate) fn reset(&mut self) {
        self.listener.reset();
        self.player.reset();
        self.transport = Transport::default();
    }

    /// The drone setting that the knobs ask for.
    pub(crate) fn drone_setting(&self, knobs: &Knobs) -> drone::Setting {
        let on = knobs.drone_on && !self.waits && !knobs.bypass;
        self.setup.drone(knobs.sa, Decibels(f64::from(knobs.drone_db)), on)
    }

    /// Puts material in place at once, before the first block (activation, offline rendering).
    pub(crate) fn install(&mut self, setting: drone::Setting, material: Box<drone::Material>) {
        self.wanted = Some(setting.for_material());
        self.returning = self.player.install(material);
    }

    /// A key of the host's MIDI: the reference tone sounds it, the tonic key being Sa.
    pub(crate) fn key(&mut self, key: u8, down: Option<f32>, knobs: &Knobs) {
        let interval = self.setup.of_key(i32::from(key) - i32::from(knobs.sa_key));
        match down {
            Some(velocity) => self.player.note_on(key, knobs.sa.up(interval), velocity),
            None => self.player.note_off(key),
        }
    }

    /// Plays one block.
    pub(crate) fn block(&mut self, channels: &mut Channels<'_, '_>, knobs: &Knobs, transport: Transport, end: &mut AudioEnd) -> After {
        let mut after = After::default();
        self.take_orders(end, knobs);
        self.follow(transport, knobs, channels.main.first().map_or(0, |c| c.len()), end, &mut after);
        self.settings(knobs, end, &mut after);
        let frames = channels.main.first().map_or(0, |c| c.len());
        let mut at = 0;
        while at < frames {
            let n = (frames - at).min(self.voice.len());
            self.part(channels, knobs, at, n, end, &mut after);
            at += n;
        }
        passage::pass(channels.main, &mut self.voice_gain);
        self.mix_drone(channels, frames);
        after.sounds = self.player.sounds() || self.drone_setting(knobs).on;
        self.tell(knobs, frames, end);
        after
    }

    fn take_orders(&mut self, end: &mut AudioEnd, knobs: &Knobs) {
        while let Ok(command) = end.commands.try_recv() {
            match command {
                Command::Clear => {
                    self.listener.meter_mut().clear();
                    end.copy_page(self.page.0, self.page.1, self.listener.meter());
                }
                Command::Sound => self.waits = false,
                Command::Expect(expected) => self.expected = expected,
                Command::Reference(hz) => self.player.reference(hz),
                Command::Monitor(on) => self.monitor = on,
            }
        }
        // Switching the drone off and on again is asking for it.
        if knobs.drone_on && !self.was_on {
            self.waits = false;
        }
        self.was_on = knobs.drone_on;
        if let Some(material) = self.returning.take().or_else(|| self.player.retired()) {
            self.returning = end.retire(material);
        }
        if self.returning.is_none() && let Ok(material) = end.materials.try_recv() {
            self.returning = self.player.install(material);
        }
    }

    /// Follows the transport: a start or a jump opens a new pass; a start wakes a waiting drone.
    fn follow(&mut self, now: Transport, knobs: &Knobs, frames: usize, end: &mut AudioEnd, after: &mut After) {
        let started = now.playing && !self.transport.playing;
        let jumped = now.playing && self.transport.playing && now.position != self.transport.position;
        if now.playing {
            self.waits = false;
        }
        if started || jumped {
            self.listener.new_pass(&mut |event| speak(end, event, after));
        }
        let next = now.position.map(|p| p.saturating_add(num::time(frames)));
        self.transport = Transport { playing: now.playing, position: next };
        let _ = knobs;
    }

    /// Takes over new choices and knobs; another tonic, tuning or scale opens a fresh page.
    fn settings(&mut self, knobs: &Knobs, end: &mut AudioEnd, after: &mut After) {
        self.setup = *end.setup.read();
        let mut setting = self.setup.listening(knobs.sa, knobs.band, self.expected);
        setting.listening = knobs.listening && !knobs.bypass;
        setting.follow_octave = knobs.follow_octave;
        let page = (knobs.sa, self.setup.page);
        if page.0.0.to_bits() != self.page.0.0.to_bits() || page.1 != self.page.1 {
            self.listener.finish(&mut |event| speak(end, event, after));
            // A page that finds no room goes on being counted into rather than being lost.
            if self.listener.meter().is_empty() || end.seal(self.page.0, self.page.1, self.listener.meter()) {
                self.listener.meter_mut().clear();
            }
            self.page = page;
            end.copy_page(page.0, page.1, self.listener.meter());
            after.gather = true;
        }
        self.listener.set(setting);
        let drone = self.drone_setting(knobs);
        self.player.set(&drone);
        let wanted = drone.for_material();
        if drone.on && self.wanted != Some(wanted) {
            self.wanted = Some(wanted);
            end.want(wanted);
            after.material = true;
        }
        let prints = !self.frame.offline || knobs.print;
        let (main, own) = match knobs.drone_to {
            DroneTo::Main => (1.0, 0.0),
            DroneTo::Own => (0.0, 1.0),
            DroneTo::Both => (1.0, 1.0),
        };
        self.main_gain.to(if prints { main } else { 0.0 });
        self.own_gain.to(if prints { own } else { 0.0 });
        let voice = if knobs.bypass { 1.0 } else { gain_of(knobs.voice_db) };
        self.voice_gain.to(if self.monitor { voice } else { 0.0 });
    }

    /// Up to one scratch length: the drone is made, the listener hears the voice and what is known of the drone.
    fn part(&mut self, channels: &Channels<'_, '_>, knobs: &Knobs, at: usize, n: usize, end: &mut AudioEnd, after: &mut After) {
        let (Some(voice), Some(known)) = (self.voice.get_mut(..n), self.known.get_mut(..n)) else { return };
        let Some(drone) = self.drone.get_mut(..n) else { return };
        passage::take_voice(channels.main, knobs.voice_from, at, voice);
        let peak = passage::peak(voice);
        end.shared().voice_peak.fetch_max(peak, Ordering::Relaxed);
        self.player.process(drone);
        passage::take_voice(channels.side, VoiceFrom::Mix, at, known);
        let side_sounds = known.iter().any(|x| *x != 0.0);
        for (known, drone) in known.iter_mut().zip(drone.iter()) {
            *known += *drone;
        }
        let heard = (side_sounds || self.player.sounds()).then_some(&*known);
        let timeline = self.transport.position.filter(|_| self.transport.playing);
        let block = Block { voice, drone: heard, timeline };
        self.listener.process(&block, &mut |event| speak(end, event, after));
        let _ = at;
    }

    fn mix_drone(&mut self, channels: &mut Channels<'_, '_>, frames: usize) {
        let _ = (channels, frames);
    }

    fn tell(&mut self, knobs: &Knobs, frames: usize, end: &mut AudioEnd) {
        end.shared().blocks.fetch_add(1, Ordering::Relaxed);
        self.hop_age = self.hop_age.saturating_add(frames);
        // A window draws 60 times a second; a snapshot each 5 ms is always newer than that.
        if num::index(self.frame.rate.hz() * 0.005) > self.hop_age {
            return;
        }
        self.hop_age = 0;
        end.publish(Live {
            snapshot: Some(self.listener.snapshot()),
            sa: knobs.sa,
            setup: self.setup.id,
            drone_sounds: self.player.sounds(),
            drone_waits: knobs.drone_on && self.waits,
            drone_not_printed: self.frame.offline && !knobs.print,
            playing: self.transport.playing,
        });
    }
}

/// Hands what the listener says to the bridge.
fn speak(end: &mut AudioEnd, event: Event<'_>, after: &mut After) {
    match event {
        Event::Reading(reading) => end.line(LinePoint {
            time: reading.frame.time,
            cents: reading.cents.map_or(f32::NAN, |Cents(c)| num::single(c)),
            several: reading.frame.several,
        }),
        Event::Note(note) => {
            end.note(note);
            after.gather = true;
        }
        _ => {}
    }
}
