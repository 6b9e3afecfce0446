//! One host block: the voice through, the drone in, the listener fed, the bridge kept up to date.
//!
//! In: the host's channels, the knobs, the transport. Out: the same channels. Knows nothing of the
//! framework, so that it is tested without a host. Never allocates, locks, blocks, logs or panics
//! after [`Engine::new`], but for [`offline`] where the host waits; any block length.

use super::later::Later;
use super::offline;
use super::passage;
use super::ramp::Ramp;
use crate::drone::{DroneSetting, Material, Player, ReferenceTone};
use crate::editor::view::QUIET_ROOM;
use crate::listener::{Block, Event, Listener, Turn};
use crate::meter::Meter;
use crate::note::Band;
use crate::shell::bridge::{AudioEnd, Bars, Command, LinePoint, Live, Under};
use crate::shell::params::{DroneTo, VoiceFrom, gain_of};
use crate::shell::setup::Setup;
use crate::swara::{Sthayi, Swara};
use crate::units::{Cents, Decibels, Hertz, SampleRate, SampleTime, num};
use std::sync::atomic::Ordering;

/// Seconds between snapshots.
const TELL_S: f64 = 0.005;

/// What is loud and no voice moves a level alone, which is drawn so often: it is read at that rate, seconds.
const LEVEL_S: f64 = 1.0 / 3.0;

/// After so much silence the voice has paused, seconds: longer than a consonant.
const PAUSE_S: f64 = 0.2;

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
    /// Its rising edge marks the moment.
    pub(crate) mark: bool,
}

/// Where the host's transport is.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Transport {
    pub(crate) playing: bool,
    pub(crate) position: Option<i64>,
    /// Where the bars lie at the block's first sample, where the host says so (its time is filled in here).
    pub(crate) bars: Option<Bars>,
}

/// The host's channels for one block; `own` is empty when that port is inactive.
pub(crate) struct Channels<'a, 'm, 's, 'o> {
    pub(crate) main: &'a mut [&'m mut [f32]],
    pub(crate) side: &'a [&'s mut [f32]],
    pub(crate) own: &'a mut [&'o mut [f32]],
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
    page: Under,
    /// What was last cleared, and which page that was.
    cleared: (Under, Meter),
    voice: Vec<f32>,
    known: Vec<f32>,
    drone: Vec<f32>,
    /// Between what is made, and known to the listener, and what is sent.
    later: Later,
    voice_gain: Ramp,
    main_gain: Ramp,
    own_gain: Ramp,
    monitor: bool,
    waits: bool,
    was_on: bool,
    wanted: Option<DroneSetting>,
    returning: Option<Box<Material>>,
    reference: Option<(Swara, Sthayi)>,
    /// A note that is played as it was sung: cents above the voice's Sa, samples left.
    played: Option<(Cents, i64)>,
    /// How long the drone sounds for it though it is switched off, samples.
    lent: i64,
    /// The raw voice is handed out.
    captures: bool,
    /// While that is so, and until the voice has paused after it, what is sung says what Sa is and is measured from none: samples
    /// of silence since the voice.
    asked_sa: Option<i64>,
    mark_was: bool,
    /// Samples that the listener has taken since the reset.
    heard: i64,
    bars: Option<Bars>,
    since_told: usize,
    /// Samples since a level was asked to be drawn.
    since_level: usize,
    /// Nothing was sent in the last block.
    drone_rests: bool,
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
    /// A voice sounds, however soft, a note has become final, or something has been louder than a quiet room for as long as a level is
    /// to stand: the window is to draw at once.
    pub(crate) heard: bool,
}

impl Engine {
    /// Takes all memory. `meter` is the page to go on with.
    pub(crate) fn new(frame: Frame, setup: Setup, knobs: &Knobs, meter: &Meter) -> Self {
        let rate = num::single(frame.rate.hz());
        let mut listener = Listener::new(frame.rate, setup.listening(knobs.sa, knobs.band, None));
        listener.with_meter(|page| page.copy_from(meter));
        let length = frame.max_block.max(1);
        Self {
            frame,
            listener,
            player: Player::new(frame.rate),
            setup,
            expected: None,
            page: (knobs.sa, setup.page),
            cleared: ((knobs.sa, setup.page), Meter::new()),
            voice: vec![0.0; length],
            known: vec![0.0; length],
            drone: vec![0.0; length],
            later: Later::new(frame.rate),
            voice_gain: Ramp::new(rate, if frame.stand_alone { 0.0 } else { gain_of(knobs.voice_db) }),
            main_gain: Ramp::new(rate, 0.0),
            own_gain: Ramp::new(rate, 0.0),
            monitor: !frame.stand_alone,
            waits: frame.reopened,
            was_on: knobs.drone_on,
            wanted: None,
            returning: None,
            reference: None,
            played: None,
            lent: 0,
            captures: false,
            asked_sa: None,
            mark_was: knobs.mark,
            heard: 0,
            bars: None,
            since_told: 0,
            since_level: usize::MAX,
            drone_rests: true,
        }
    }

    /// The statistics of the page in force, to be carried over a new activation.
    pub(crate) fn meter(&self) -> &Meter {
        self.listener.meter()
    }

    /// Forgets all sound; the statistics stay.
    pub(crate) fn reset(&mut self, end: &mut AudioEnd) {
        self.listener.reset();
        self.player.reset();
        self.later.reset();
        (self.heard, self.bars) = (0, None);
        end.anew();
    }

    /// The drone setting that the knobs ask for.
    pub(crate) fn drone_setting(&self, knobs: &Knobs) -> DroneSetting {
        let on = (knobs.drone_on && !self.waits || self.lent > 0) && !knobs.bypass;
        self.setup.drone(knobs.sa, Decibels(f64::from(knobs.drone_db)), on)
    }

    /// Puts material in place before the first block. It is plain: the first block asks for the full model.
    pub(crate) fn install(&mut self, setting: DroneSetting, material: Box<Material>) {
        // A setting that does not validate leaves the player as it is, which is silent.
        let _ = self.player.set(&setting);
        self.returning = self.player.swap(material);
    }

    /// A key of the host's MIDI: the reference tone sounds it, the tonic key being Sa.
    pub(crate) fn key(&mut self, key: u8, down: Option<f32>, knobs: &Knobs) {
        match down {
            Some(velocity) => self.player.note_on(key, key_hz(&self.setup, knobs, key), f64::from(velocity)),
            None => self.player.note_off(key),
        }
    }

    /// All keys are let go.
    pub(crate) fn all_keys_up(&mut self) {
        self.player.tones_off();
    }

    /// Plays one block.
    pub(crate) fn block(
        &mut self,
        channels: &mut Channels<'_, '_, '_, '_>,
        knobs: &Knobs,
        transport: Transport,
        end: &mut AudioEnd,
    ) -> After {
        let mut after = After::default();
        // The stand-alone app has no host: what its sound driver counts is no timeline (its blocks and its count differ, so
        // that each block would open a pass).
        let standing = Transport { playing: false, position: None, bars: None };
        let transport = if self.frame.stand_alone { standing } else { transport };
        self.take_orders(end, knobs);
        self.settings(knobs, end, &mut after);
        self.waits &= !transport.playing;
        self.transport(transport, end);
        if knobs.mark && !self.mark_was {
            end.mark();
        }
        self.mark_was = knobs.mark;
        let frames = channels.main.first().map_or(0, |c| c.len());
        self.played = self.played.map(|(cents, left)| (cents, left - num::time(frames))).filter(|(_, left)| *left > 0);
        self.lent = (self.lent - num::time(frames)).max(0);
        let mut at = 0;
        while at < frames {
            let n = (frames - at).min(self.voice.len());
            self.part(channels, knobs, (at, n), transport, end, &mut after);
            at += n;
        }
        self.wait_for_a_pause(frames);
        after.sounds = !self.player.is_silent() || !self.later.is_silent() || self.drone_setting(knobs).on;
        if after.gather {
            end.copy_page(self.page, self.listener.meter());
        }
        self.tell(knobs, frames, end);
        after
    }

    fn take_orders(&mut self, end: &mut AudioEnd, knobs: &Knobs) {
        while let Ok(command) = end.commands.try_recv() {
            match command {
                Command::Clear => {
                    self.cleared.0 = self.page;
                    let kept = &mut self.cleared.1;
                    self.listener.with_meter(|meter| {
                        kept.copy_from(meter);
                        meter.clear();
                    });
                    end.copy_page(self.page, self.listener.meter());
                    end.shared().cleared.store(true, Ordering::Relaxed);
                }
                Command::Unclear => {
                    let (of, kept) = &mut self.cleared;
                    if *of == self.page {
                        self.listener.with_meter(|meter| meter.merge(kept));
                        kept.clear();
                        end.copy_page(self.page, self.listener.meter());
                    }
                }
                Command::Sound => self.waits = false,
                Command::Expect(expected) => self.expected = expected,
                Command::Reference(swara) => (self.reference, self.played) = (swara, None),
                Command::Play(cents, seconds) => {
                    self.played = Some((cents, num::int(f64::from(seconds) * self.frame.rate.hz())));
                }
                // What is rendered has the drone of the project, and none that a window asks for.
                Command::Lend(_) if self.frame.offline => {}
                Command::Lend(seconds) => self.lent = num::int(f64::from(seconds) * self.frame.rate.hz()),
                Command::Capture(on) => {
                    self.captures = on;
                    if on {
                        self.asked_sa = Some(0);
                        self.listener.drop_note();
                    }
                }
                Command::Monitor(on) => self.monitor = on,
            }
        }
        // Switching the drone off and on again is asking for it.
        if knobs.drone_on && !self.was_on {
            self.waits = false;
        }
        self.was_on = knobs.drone_on;
        if self.frame.offline {
            offline::clear_away(&mut self.player, end);
            return;
        }
        if let Some(material) = self.returning.take().or_else(|| self.player.retired()) {
            self.returning = end.retire(material);
        }
        if self.returning.is_none()
            && let Ok(material) = end.materials.try_recv()
        {
            self.returning = self.player.swap(material);
        }
    }

    /// Takes over new choices and knobs; another tonic, tuning or scale turns the page.
    fn settings(&mut self, knobs: &Knobs, end: &mut AudioEnd, after: &mut After) {
        self.setup = *end.setup.read();
        let mut setting = self.setup.listening(knobs.sa, knobs.band, self.expected);
        setting.turn = if knobs.bypass || self.asked_sa.is_some() {
            Turn::Nobody
        } else if knobs.listening {
            Turn::Pupil
        } else {
            Turn::Teacher
        };
        setting.follow_octave = knobs.follow_octave;
        let page = (knobs.sa, self.setup.page);
        // The note that sounds is counted on the page that it began on.
        let under = (self.page, self.listener.setting().turn);
        self.listener.set(setting, &mut |event| speak(end, event, under, after));
        after.gather |= self.turn_to(page, end);
        if end.page_waits() {
            let page = self.page;
            self.listener.with_meter(|meter| end.take_page_back(page, meter));
            after.gather = true;
        }
        self.sounds(knobs, end, after);
    }

    /// Counts on the page of this Sa and these choices from now on; the one in force is laid aside. Whether it is another one.
    pub(crate) fn turn_to(&mut self, page: Under, end: &mut AudioEnd) -> bool {
        let other = page != self.page;
        if other {
            let old = std::mem::replace(&mut self.page, page);
            // A page that finds no room goes on being counted into rather than being lost.
            self.listener.with_meter(|meter| {
                end.turn_page(old, page, meter);
            });
        }
        other
    }

    /// Takes over what concerns the sound that we make.
    fn sounds(&mut self, knobs: &Knobs, end: &mut AudioEnd, after: &mut After) {
        let drone = self.drone_setting(knobs);
        // What does not validate changes nothing; the setup was validated when it was compiled, and its Sa is folded.
        let taken = self.player.set(&drone).is_ok();
        if !self.frame.offline {
            self.want(&drone, end, after);
        } else if taken && knobs.print {
            offline::renew(&mut self.player, &drone, self.frame.rate);
        }
        let asked = self
            .reference
            .map(|(swara, sthayi)| Cents(self.setup.target(swara).cents.0 + 1200.0 * f64::from(sthayi.0)));
        let tone = self.played.map(|(cents, _)| cents).or(asked);
        // In the singer's own register, where the voice's octave is followed.
        let tone =
            tone.map(|cents| ReferenceTone { hz: self.listener.snapshot().voice_sa.up(cents), level: Decibels(0.0) });
        self.player.reference(tone);
        let setup = &self.setup;
        self.player.keys_at(|key| key_hz(setup, knobs, key));
        self.player.bypass(knobs.bypass);
        self.gains(knobs);
    }

    /// Asks the worker for the string material that is needed.
    fn want(&mut self, drone: &DroneSetting, end: &mut AudioEnd, after: &mut After) {
        let wanted = for_material(drone);
        if drone.on && drone.kind == crate::drone::Kind::Strings && self.wanted != Some(wanted) {
            self.wanted = Some(wanted);
            end.want(wanted);
            after.material = true;
        }
    }

    fn gains(&mut self, knobs: &Knobs) {
        let prints = !self.frame.offline || knobs.print;
        let (main, own) = match knobs.drone_to {
            DroneTo::Main => (1.0, 0.0),
            DroneTo::Own => (0.0, 1.0),
            DroneTo::Both => (1.0, 1.0),
        };
        for (ramp, gain) in [(&mut self.main_gain, main), (&mut self.own_gain, own)] {
            let gain = if prints { gain } else { 0.0 };
            // While nothing sounds the way is opened or shut at once: not a trace goes where it was not sent.
            if self.drone_rests { ramp.jump(gain) } else { ramp.to(gain) }
        }
        let voice = if knobs.bypass { 1.0 } else { gain_of(knobs.voice_db) };
        self.voice_gain.to(if self.monitor { voice } else { 0.0 });
    }

    /// Up to one scratch length: the drone is made, the listener hears the voice and what is known of the
    /// drone, the voice is passed on and the drone mixed in.
    fn part(
        &mut self,
        channels: &mut Channels<'_, '_, '_, '_>,
        knobs: &Knobs,
        (at, n): (usize, usize),
        transport: Transport,
        end: &mut AudioEnd,
        after: &mut After,
    ) {
        let (Some(voice), Some(known), Some(drone)) =
            (self.voice.get_mut(..n), self.known.get_mut(..n), self.drone.get_mut(..n))
        else {
            return;
        };
        passage::take_voice(channels.main, knobs.voice_from, at, voice);
        let peak = passage::peak(voice);
        let loud = Decibels::of_amplitude(f64::from(peak)).0 > QUIET_ROOM.0;
        if loud && self.since_level >= num::index(LEVEL_S * self.frame.rate.hz()) {
            after.heard = true;
            self.since_level = 0;
        }
        self.since_level = self.since_level.saturating_add(n);
        end.shared().voice_peak.fetch_max(peak, Ordering::Relaxed);
        self.player.process(drone);
        passage::take_voice(channels.side, VoiceFrom::Mix, at, known);
        // Our own drone is told before it is sent; another track's cannot be.
        if !self.player.is_silent() {
            self.listener.told_ahead(true);
        } else if known.iter().any(|x| *x != 0.0) {
            self.listener.told_ahead(false);
        }
        let mut anything = false;
        for (known, drone) in known.iter_mut().zip(drone.iter()) {
            *known += *drone;
            anything |= *known != 0.0;
        }
        if !knobs.bypass {
            if self.captures {
                end.raw(voice);
            }
            self.heard = self.heard.saturating_add(num::time(n));
            let timeline = transport.position.filter(|_| transport.playing).map(|p| p.saturating_add(num::time(at)));
            let block = Block { voice, drone: anything.then_some(&*known), timeline };
            let under = (self.page, self.listener.setting().turn);
            self.listener.process_block(block, &mut |event| speak(end, event, under, after));
        }
        self.later.step(drone);
        self.drone_rests = drone.iter().all(|x| *x == 0.0);
        passage::pass(channels.main, (at, n), &mut self.voice_gain);
        passage::add(channels.main, at, drone, &mut self.main_gain);
        passage::add(channels.own, at, drone, &mut self.own_gain);
    }

    /// What was sung to say what Sa is goes on until the voice pauses, found or not: it is no note of any page.
    fn wait_for_a_pause(&mut self, frames: usize) {
        let Some(quiet) = self.asked_sa else { return };
        let voiced = self.listener.snapshot().reading.is_some_and(|reading| reading.cents.is_some());
        let quiet = if voiced { 0 } else { quiet.saturating_add(num::time(frames)) };
        let over = !self.captures && quiet >= num::int(PAUSE_S * self.frame.rate.hz());
        self.asked_sa = (!over).then_some(quiet);
    }

    /// Keeps track of where the bars lie, for those who read notes by bar and beat.
    fn transport(&mut self, transport: Transport, end: &mut AudioEnd) {
        end.shared().playing.store(transport.playing, Ordering::Relaxed);
        let Some(bars) = transport.bars else { return };
        let bars = Bars { time: SampleTime(self.heard), ..bars };
        if self.bars.is_none_or(|old| !old.leads_to(&bars, self.frame.rate)) {
            end.bars(bars);
            self.bars = Some(bars);
        }
    }

    fn tell(&mut self, knobs: &Knobs, frames: usize, end: &mut AudioEnd) {
        end.shared().blocks.fetch_add(1, Ordering::Relaxed);
        self.since_told = self.since_told.saturating_add(frames);
        // A window draws 60 times a second; a snapshot each 5 ms is always newer than that.
        if self.since_told < num::index(self.frame.rate.hz() * TELL_S) {
            return;
        }
        self.since_told = 0;
        end.publish(Live { snapshot: Some(self.listener.snapshot()), drone_waits: knobs.drone_on && self.waits });
    }
}

#[cfg(test)]
mod tests;

/// What a key of the host's MIDI sounds, the tonic key being Sa.
fn key_hz(setup: &Setup, knobs: &Knobs, key: u8) -> Hertz {
    knobs.sa.up(setup.of_key(i32::from(key) - i32::from(knobs.sa_key)))
}

/// What string material depends on: switching and level make no new material.
fn for_material(setting: &DroneSetting) -> DroneSetting {
    DroneSetting { on: true, level: Decibels(crate::drone::DEFAULT_LEVEL_DB), ..*setting }
}

/// Hands what the listener says to the bridge, with what it measures from and whose turn it is.
fn speak(end: &mut AudioEnd, event: Event<'_>, (under, turn): (Under, Turn), after: &mut After) {
    match event {
        Event::Reading(reading) => {
            end.line(LinePoint {
                time: reading.frame.time,
                cents: reading.cents.map_or(f32::NAN, |Cents(c)| num::single(c)),
                several: reading.frame.several,
                counts: turn == Turn::Pupil,
            });
            after.heard |= reading.cents.is_some();
        }
        Event::Note(note) => {
            end.note(note, under);
            (after.gather, after.heard) = (true, true);
        }
        _ => {}
    }
}
