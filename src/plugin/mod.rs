//! The host's door: ports, ids, parameters to knobs, one host block to [`engine`].
//!
//! All ports are there from the first day, since changing them breaks saved projects: main in and out
//! (stereo or mono), a side-chain input for a drone track of the host, the drone's own output, MIDI in.
//! The latency is 0 and is reported so.

mod engine;
mod later;
mod offline;
mod passage;
mod ramp;
mod window;
pub use window::AchalaEditor;
mod worker;

use crate::meter::Meter;
use crate::shell::bridge::{AudioEnd, Bars, Bridge, bridge};
use crate::shell::choices::Choices;
use crate::shell::kept::{self, Keeper};
use crate::shell::params::{AchalaParams, Face};
use crate::units::{SampleRate, SampleTime};
use atomic_float::AtomicF32;
use engine::{Channels, Engine, Frame, Knobs};
use nice_plug::midi::Key;
use nice_plug::prelude::*;
use nice_plug_egui::RepaintNotifier;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use worker::Worker;

/// The effect.
pub struct Achala {
    params: Arc<AchalaParams>,
    choices: Arc<Choices>,
    bridge: Arc<Bridge>,
    end: AudioEnd,
    engine: Option<Engine>,
    worker: Option<Worker>,
    repaint: RepaintNotifier,
    /// The stand-alone app's: there is no project.
    keeper: Option<Arc<Keeper>>,
    /// What the host's knobs were when the window was last told.
    seen: Option<(Knobs, Face, bool)>,
}

impl Default for Achala {
    fn default() -> Self {
        let keeper = kept::keeper();
        let params = Arc::new(keeper.as_ref().map_or_else(AchalaParams::default, |keeper| keeper.start()));
        let (setup, choices) = Choices::new(params.saved.chosen.clone());
        let (bridge, end) = bridge(setup);
        let choices = Arc::new(choices.with(bridge.clone()));
        if let Some(lesson) = keeper.as_ref().and_then(|keeper| keeper.lesson()) {
            bridge.history(|history| lesson.put_into(history));
        }
        let refresher = bridge.clone();
        params.saved.pages.on_look(move |pages| refresher.refresh(pages));
        let repaint = RepaintNotifier::new();
        Self { params, choices, bridge, end, engine: None, worker: None, repaint, keeper, seen: None }
    }
}

impl Achala {
    fn knobs(&self) -> Knobs {
        let p = &self.params;
        Knobs {
            sa: p.sa_hz(),
            sa_key: p.sa_key(),
            band: p.band(),
            voice_from: p.voice_from.value(),
            voice_db: p.voice_level.value(),
            drone_on: p.drone_on.value(),
            drone_db: p.drone_level.value(),
            drone_to: p.drone_to.value(),
            print: p.drone_print.value(),
            listening: p.listening.value(),
            follow_octave: p.follow_octave.value(),
            bypass: p.bypass.value(),
            mark: p.mark.value(),
        }
    }

    /// The page to go on with: of a state just loaded the one that fits it, else the one in force.
    fn page(&self, knobs: &Knobs, reopened: bool) -> Meter {
        if let (Some(engine), false) = (&self.engine, reopened) {
            return engine.meter().clone();
        }
        self.params.saved.pages.go_on(&self.choices.page_key(knobs.sa))
    }
}

/// A key of the host's MIDI goes down or up; a wildcard lets all go.
fn press(engine: &mut Engine, key: Key, velocity: Option<f32>, knobs: &Knobs) {
    match key {
        Key::Number(key) => engine.key(key, velocity, knobs),
        Key::Wildcard => engine.all_keys_up(),
    }
}

/// Where the host's bars lie, where it says so.
fn bars(transport: &Transport) -> Option<Bars> {
    Some(Bars {
        time: SampleTime::default(),
        playing: transport.playing,
        quarters: transport.pos_beats()?,
        bar_start: transport.bar_start_pos_beats()?,
        bar: transport.bar_number()?,
        tempo: transport.tempo?,
        signature: (transport.time_sig_numerator?, transport.time_sig_denominator?),
    })
}

impl Plugin for Achala {
    const NAME: &'static str = "Achala";
    const VENDOR: &'static str = "Achala";
    const URL: &'static str = "";
    const EMAIL: &'static str = "";
    const VERSION: &'static str = env!("CARGO_PKG_VERSION");

    const AUDIO_IO_LAYOUTS: &'static [AudioIOLayout] = &[
        AudioIOLayout {
            main_input_channels: NonZeroU32::new(2),
            main_output_channels: NonZeroU32::new(2),
            aux_input_ports: &[new_nonzero_u32(2)],
            aux_output_ports: &[new_nonzero_u32(2)],
            names: PortNames { layout: Some("Stereo"), ..PORT_NAMES },
        },
        AudioIOLayout {
            main_input_channels: NonZeroU32::new(1),
            main_output_channels: NonZeroU32::new(1),
            aux_input_ports: &[new_nonzero_u32(2)],
            aux_output_ports: &[new_nonzero_u32(2)],
            names: PortNames { layout: Some("Mono"), ..PORT_NAMES },
        },
    ];
    const MIDI_INPUT: MidiConfig = MidiConfig::Basic;

    type Editor = window::AchalaEditor;
    type SysExMessage = ();
    type BackgroundTask = ();

    fn params(&self) -> Arc<dyn Params> {
        self.params.clone()
    }

    fn editor(&mut self, _executor: AsyncExecutor<Self>) -> Option<Self::Editor> {
        let links = window::Links {
            params: self.params.clone(),
            choices: self.choices.clone(),
            bridge: self.bridge.clone(),
            pupil: self.choices.chosen().pupil.into(),
            repaint: self.repaint.clone(),
            keeper: self.keeper.clone(),
            scale: AtomicF32::new(1.0),
            wish: window::Wish::of_system(),
        };
        Some(window::editor(Arc::new(links)))
    }

    fn activate(
        &mut self,
        _layout: &AudioIOLayout,
        config: &BufferConfig,
        context: &mut impl ActivateContext<Self>,
    ) -> bool {
        let Ok(rate) = SampleRate::new(f64::from(config.sample_rate)) else {
            // The voice must not stop for it: it passes unheard, and the log says why.
            nice_warn!("{}", crate::units::UnsupportedRate(f64::from(config.sample_rate)));
            self.engine = None;
            self.end.shared().rate_hz.store(config.sample_rate, Ordering::Relaxed);
            context.set_latency_samples(0);
            return true;
        };
        if self.worker.is_none() {
            match Worker::start(self.bridge.clone(), self.params.clone(), self.keeper.clone()) {
                Ok(worker) => self.worker = Some(worker),
                Err(error) => {
                    nice_error!("no thread could be started for the drone's sound and the lesson's notes: {error}");
                    return false;
                }
            }
        }
        let reopened = self.params.saved.version.take_reopened();
        if reopened {
            self.choices.reload();
        }
        let knobs = self.knobs();
        let setup = *self.end.setup.read();
        if let Some(engine) = &mut self.engine {
            // Sa or the choices may have been changed while nothing was processed.
            engine.turn_to((knobs.sa, setup.page), &mut self.end);
        }
        let frame = Frame {
            rate,
            max_block: config.max_buffer_size.try_into().unwrap_or(usize::MAX),
            offline: config.process_mode == ProcessMode::Offline,
            stand_alone: context.plugin_api() == PluginApi::Standalone,
            reopened,
        };
        let meter = self.page(&knobs, reopened);
        let mut engine = Engine::new(frame, setup, &knobs, &meter);
        self.end.copy_page((knobs.sa, setup.page), &meter);
        if let Some(worker) = &self.worker {
            // There may be a page of this Sa and these choices to come back.
            worker.gather();
        }
        let drone = engine.drone_setting(&knobs);
        if drone.on
            && !frame.offline
            && let Some(material) = worker::plain(&drone, rate)
        {
            engine.install(drone, material);
        }
        self.end.anew();
        self.end.shared().rate_hz.store(config.sample_rate, Ordering::Relaxed);
        self.engine = Some(engine);
        context.set_latency_samples(0);
        true
    }

    fn deactivate(&mut self) {
        if let Some(keeper) = &self.keeper {
            keeper.keep(&self.params);
        }
    }

    fn reset(&mut self) {
        if let Some(engine) = &mut self.engine {
            engine.reset(&mut self.end);
        }
    }

    fn process(
        &mut self,
        buffer: &mut Buffer,
        aux: &mut AuxiliaryBuffers,
        context: &mut impl ProcessContext<Self>,
    ) -> ProcessStatus {
        let knobs = self.knobs();
        let Some(engine) = &mut self.engine else {
            passage::pass_unheard(buffer.as_slice());
            return ProcessStatus::Normal;
        };
        while let Some(event) = context.next_event() {
            match event {
                NoteEvent::NoteOn { key, velocity, .. } => press(engine, key, Some(velocity), &knobs),
                NoteEvent::NoteOff { key, .. } | NoteEvent::Choke { key, .. } => press(engine, key, None, &knobs),
                _ => {}
            }
        }
        let transport = context.transport();
        let transport =
            engine::Transport { playing: transport.playing, position: transport.pos_samples(), bars: bars(transport) };
        let mut channels = Channels {
            main: buffer.as_slice(),
            side: aux.inputs.first_mut().map_or(&[], |b| b.as_slice()),
            own: aux.outputs.first_mut().map_or(&mut [], |b| b.as_slice()),
        };
        let after = engine.block(&mut channels, &knobs, transport, &mut self.end);
        // One flag is set; the window looks at it.
        let seen = (knobs, self.params.face.value(), self.params.freeze.value());
        self.repaint.request_repaint_with(after.heard || self.seen != Some(seen));
        self.seen = Some(seen);
        if let Some(worker) = &self.worker {
            if after.gather {
                worker.gather();
            }
            if after.material {
                worker.material();
            }
        }
        if after.sounds { ProcessStatus::KeepAlive } else { ProcessStatus::Normal }
    }
}

const PORT_NAMES: PortNames = PortNames {
    layout: None,
    main_input: Some("Voice"),
    main_output: Some("Voice and drone"),
    aux_inputs: &["Known drone"],
    aux_outputs: &["Drone alone"],
};

impl ClapPlugin for Achala {
    const CLAP_ID: &'static str = "org.achala.achala";
    const CLAP_DESCRIPTION: Option<&'static str> =
        Some("Listens to a voice against Sa, mixes in a drone, shows how every swara fared");
    const CLAP_MANUAL_URL: Option<&'static str> = None;
    const CLAP_SUPPORT_URL: Option<&'static str> = None;
    const CLAP_FEATURES: &'static [ClapFeature] =
        &[ClapFeature::AudioEffect, ClapFeature::Analyzer, ClapFeature::Stereo, ClapFeature::Mono];
}

impl Vst3Plugin for Achala {
    const VST3_CLASS_ID: [u8; 16] = *b"AchalaVoiceDrone";
    const VST3_SUBCATEGORIES: &'static [Vst3SubCategory] =
        &[Vst3SubCategory::Fx, Vst3SubCategory::Analyzer, Vst3SubCategory::Tools];
}

nice_export_clap!(Achala);
nice_export_vst3!(Achala);
