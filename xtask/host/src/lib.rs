//! A small CLAP host in process, and beside it one for the VST3 window (`vst3.rs`): it plays audio through the plugin as a host would.
//!
//! In: a plugin bundle or the plugin's own entry; blocks of audio, parameter changes, notes, a
//! transport. Out: what the plugin sends to its ports, its parameters as text, its saved state.
//! One thread plays both main and audio thread in turn, which CLAP allows. On Linux, with the feature `window`,
//! the plugin's window can be opened in a display.

use clack_extensions::audio_ports::{AudioPortInfoBuffer, PluginAudioPorts};
use clack_extensions::gui::{GuiSize, HostGui, HostGuiImpl};
use clack_extensions::latency::PluginLatency;
use clack_extensions::params::{ParamInfoBuffer, PluginParams};
use clack_extensions::render::{PluginRender, RenderMode};
use clack_extensions::state::PluginState;
use clack_host::events::event_types::{NoteOffEvent, NoteOnEvent, ParamValueEvent, TransportEvent, TransportFlags};
use clack_host::factory::plugin::PluginFactory;
use clack_host::prelude::*;
use clack_host::utils::{BeatTime, SecondsTime};
use std::error::Error;
use std::ffi::{CStr, CString};
use std::path::Path;

#[cfg(feature = "context")]
pub mod context;
#[cfg(all(target_os = "linux", feature = "window"))]
pub mod vst3;
#[cfg(all(target_os = "linux", feature = "window"))]
pub mod window;

pub use clack_host::entry::EntryDescriptor;

/// Anything that goes wrong, in words.
pub type Result<T> = std::result::Result<T, Box<dyn Error>>;

struct Shared;

impl SharedHandler<'_> for Shared {
    fn request_restart(&self) {}
    fn request_process(&self) {}
    fn request_callback(&self) {}
}

struct Handlers;

impl HostHandlers for Handlers {
    type Shared<'a> = Shared;
    type MainThread<'a> = ();
    type AudioProcessor<'a> = ();

    fn declare_extensions(builder: &mut HostExtensions<Self>, _shared: &Self::Shared<'_>) {
        builder.register::<HostGui>();
    }
}

/// The window keeps the size that we gave it.
impl HostGuiImpl for Shared {
    fn resize_hints_changed(&self) {}

    fn request_resize(&self, _new_size: GuiSize) -> std::result::Result<(), HostError> {
        Err(HostError::Message("the window keeps its size"))
    }

    fn request_show(&self) -> std::result::Result<(), HostError> {
        Ok(())
    }

    fn request_hide(&self) -> std::result::Result<(), HostError> {
        Ok(())
    }

    fn closed(&self, _was_destroyed: bool) {}
}

/// A parameter as a host sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct Parameter {
    /// The host's number for it.
    pub id: u32,
    /// Its name.
    pub name: String,
    /// Lowest value.
    pub min: f64,
    /// Highest value.
    pub max: f64,
    /// Default value.
    pub default: f64,
}

/// A port as a host sees it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Port {
    /// Its name.
    pub name: String,
    /// How many channels it has.
    pub channels: u32,
}

/// Something that happens at the first sample of a block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Happening {
    /// A parameter takes a plain value.
    Set(u32, f64),
    /// A key goes down with a velocity of 0 to 1.
    NoteOn(u16, f64),
    /// A key goes up.
    NoteOff(u16),
}

/// Where the host's transport is.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Position {
    /// Whether it runs.
    pub playing: bool,
    /// Seconds from the start of the project.
    pub seconds: f64,
}

/// What goes in and comes out of one block.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Block {
    /// Main input in, main output out: one vector a channel, all of one length.
    pub main: Vec<Vec<f32>>,
    /// Side-chain input, likewise; silence where empty.
    pub side_chain: Vec<Vec<f32>>,
    /// The drone's own output; empty when the host leaves that port inactive.
    pub own: Vec<Vec<f32>>,
}

/// One instance of the plugin.
pub struct Host {
    instance: PluginInstance<Handlers>,
    processor: Option<StartedPluginAudioProcessor<Handlers>>,
    rate: f64,
    inputs: AudioPorts,
    outputs: AudioPorts,
    steady: u64,
}

impl Host {
    /// Loads the first plugin of a bundle file (`*.clap`).
    ///
    /// # Errors
    /// When the file is no CLAP bundle or its plugin cannot be made.
    pub fn load(bundle: &Path) -> Result<Self> {
        #[expect(unsafe_code, reason = "running a plugin binary means trusting it: here it is the one just built")]
        let entry = unsafe { PluginEntry::load(bundle)? };
        Self::start(&entry)
    }

    /// The first plugin of an entry that is linked into this program.
    ///
    /// # Errors
    /// When the plugin cannot be made.
    pub fn linked(entry: &'static EntryDescriptor) -> Result<Self> {
        #[expect(unsafe_code, reason = "the entry is the plugin's own, made by its framework and linked in")]
        let entry = unsafe { PluginEntry::load_from_raw(entry, c"linked")? };
        Self::start(&entry)
    }

    fn start(entry: &PluginEntry) -> Result<Self> {
        let factory = entry.get_factory::<PluginFactory>().ok_or("the bundle has no plugin factory")?;
        let descriptor = factory.plugin_descriptor(0).ok_or("the bundle has no plugin")?;
        let id: CString = descriptor.id().ok_or("the plugin has no id")?.to_owned();
        let info = HostInfo::new("In-process host", "Achala", "", env!("CARGO_PKG_VERSION"))?;
        let instance = PluginInstance::<Handlers>::new(|_| Shared, |_| (), entry, &id, &info)?;
        Ok(Self {
            instance,
            processor: None,
            rate: 48_000.0,
            inputs: AudioPorts::with_capacity(8, 4),
            outputs: AudioPorts::with_capacity(8, 4),
            steady: 0,
        })
    }

    /// Activates for a rate and a largest block; whatever ran before is stopped first.
    ///
    /// # Errors
    /// When the plugin refuses.
    pub fn activate(&mut self, rate: f64, max_block: u32) -> Result<()> {
        self.deactivate();
        self.rate = rate;
        let config = PluginAudioConfiguration { sample_rate: rate, min_frames_count: 1, max_frames_count: max_block };
        let stopped = self.instance.activate(|_, _| (), config)?;
        self.processor = Some(stopped.start_processing().map_err(|e| e.to_string())?);
        Ok(())
    }

    /// Stops processing and frees what `activate` took.
    pub fn deactivate(&mut self) {
        if let Some(processor) = self.processor.take() {
            self.instance.deactivate(processor.stop_processing());
        }
    }

    /// Offline rendering or real time; takes effect at the next activation.
    ///
    /// # Errors
    /// When the plugin cannot be told or refuses.
    pub fn offline(&mut self, offline: bool) -> Result<()> {
        let handle = self.instance.plugin_handle();
        let render: PluginRender = handle.get_extension().ok_or("no render extension")?;
        render.set(&handle, if offline { RenderMode::Offline } else { RenderMode::Realtime })?;
        Ok(())
    }

    /// Forgets all sound, as when a host jumps.
    pub fn reset(&mut self) {
        if let Some(processor) = &mut self.processor {
            processor.reset();
        }
    }

    /// Plays one block through the plugin, in place. `own` decides whether the drone's output is active.
    ///
    /// # Errors
    /// When the plugin is not active or reports failure.
    pub fn process(
        &mut self,
        block: &mut Block,
        happenings: &[Happening],
        at: Option<Position>,
    ) -> Result<ProcessStatus> {
        let frames = block.main.first().map_or(0, Vec::len);
        let processor = self.processor.as_mut().ok_or("not active")?;
        let mut events = EventBuffer::new();
        for happening in happenings {
            push(&mut events, *happening)?;
        }
        let mut input = block.main.clone();
        block.side_chain.resize_with(2, || vec![0.0; frames]);
        let (inputs, outputs) = (&mut self.inputs, &mut self.outputs);
        let side = &mut block.side_chain;
        let audio_in = inputs.with_input_buffers([
            port_in(input.iter_mut().map(Vec::as_mut_slice).collect()),
            port_in(side.iter_mut().map(Vec::as_mut_slice).collect()),
        ]);
        let mut ports_out = vec![port_out(block.main.iter_mut().map(Vec::as_mut_slice).collect())];
        if !block.own.is_empty() {
            ports_out.push(port_out(block.own.iter_mut().map(Vec::as_mut_slice).collect()));
        }
        let mut audio_out = outputs.with_output_buffers(ports_out);
        let transport = at.map(transport);
        let status = processor.process(
            &audio_in,
            &mut audio_out,
            &InputEvents::from_buffer(&events),
            &mut OutputEvents::void(),
            Some(self.steady),
            transport.as_ref(),
        )?;
        self.steady += u64::try_from(frames)?;
        self.instance.call_on_main_thread_callback();
        Ok(status)
    }

    /// The latency that the plugin reports, samples.
    pub fn latency(&mut self) -> Option<u32> {
        let handle = self.instance.plugin_handle();
        let latency: PluginLatency = handle.get_extension()?;
        Some(latency.get(&handle))
    }

    /// The ports of one side.
    pub fn ports(&mut self, input: bool) -> Vec<Port> {
        let handle = self.instance.plugin_handle();
        let Some(ports) = handle.get_extension::<PluginAudioPorts>() else { return Vec::new() };
        (0..ports.count(&handle, input))
            .filter_map(|i| {
                let mut buffer = AudioPortInfoBuffer::new();
                let info = ports.get(&handle, i, input, &mut buffer)?;
                Some(Port { name: String::from_utf8_lossy(info.name).into_owned(), channels: info.channel_count })
            })
            .collect()
    }

    /// All parameters.
    pub fn parameters(&mut self) -> Vec<Parameter> {
        let handle = self.instance.plugin_handle();
        let Some(params) = handle.get_extension::<PluginParams>() else { return Vec::new() };
        (0..params.count(&handle))
            .filter_map(|i| {
                let mut buffer = ParamInfoBuffer::new();
                let info = params.get_info(&handle, i, &mut buffer)?;
                Some(Parameter {
                    id: info.id.get(),
                    name: String::from_utf8_lossy(info.name).into_owned(),
                    min: info.min_value,
                    max: info.max_value,
                    default: info.default_value,
                })
            })
            .collect()
    }

    /// A parameter by its name.
    ///
    /// # Errors
    /// Names the parameters that there are.
    pub fn parameter(&mut self, name: &str) -> Result<Parameter> {
        let all = self.parameters();
        let names: Vec<&str> = all.iter().map(|p| p.name.as_str()).collect();
        let message = format!("no parameter '{name}'; there are {names:?}");
        all.iter().find(|p| p.name == name).cloned().ok_or_else(|| message.into())
    }

    /// A parameter's value now.
    pub fn value(&mut self, id: u32) -> Option<f64> {
        let handle = self.instance.plugin_handle();
        handle.get_extension::<PluginParams>()?.get_value(&handle, ClapId::from_raw(id)?)
    }

    /// A value as the plugin writes it.
    pub fn text(&mut self, id: u32, value: f64) -> Option<String> {
        let handle = self.instance.plugin_handle();
        let mut buffer = [0u8; 256];
        let text = handle
            .get_extension::<PluginParams>()?
            .value_to_text(&handle, ClapId::from_raw(id)?, value, &mut buffer)
            .ok()?;
        Some(String::from_utf8_lossy(text).into_owned())
    }

    /// A value as the plugin reads it from text.
    pub fn read(&mut self, id: u32, text: &str) -> Option<f64> {
        let handle = self.instance.plugin_handle();
        let text = CString::new(text).ok()?;
        let text: &CStr = &text;
        handle.get_extension::<PluginParams>()?.text_to_value(&handle, ClapId::from_raw(id)?, text)
    }

    /// The project's copy of the plugin's state.
    ///
    /// # Errors
    /// When the plugin cannot save.
    pub fn save(&mut self) -> Result<Vec<u8>> {
        let handle = self.instance.plugin_handle();
        let state: PluginState = handle.get_extension().ok_or("no state extension")?;
        let mut bytes = Vec::new();
        state.save(&handle, &mut bytes)?;
        Ok(bytes)
    }

    /// Gives the plugin a saved state.
    ///
    /// # Errors
    /// When the plugin refuses it.
    pub fn restore(&mut self, bytes: &[u8]) -> Result<()> {
        let handle = self.instance.plugin_handle();
        let state: PluginState = handle.get_extension().ok_or("no state extension")?;
        state.load(&handle, &mut std::io::Cursor::new(bytes))?;
        Ok(())
    }

    /// The state as text. The plugin's framework writes its length before it: 8 bytes, little-endian.
    ///
    /// # Errors
    /// When the plugin cannot save, or the length in front is not the text's.
    pub fn save_text(&mut self) -> Result<String> {
        let bytes = self.save()?;
        let (length, text) = bytes.split_first_chunk().ok_or("the state is too short to hold its length")?;
        if u64::from_le_bytes(*length) != u64::try_from(text.len())? {
            return Err("the length in front of the state is not the state's".into());
        }
        Ok(String::from_utf8(text.to_vec())?)
    }

    /// Gives the plugin a state that was saved as text.
    ///
    /// # Errors
    /// When the plugin refuses it.
    pub fn restore_text(&mut self, text: &str) -> Result<()> {
        let mut bytes = u64::try_from(text.len())?.to_le_bytes().to_vec();
        bytes.extend_from_slice(text.as_bytes());
        self.restore(&bytes)
    }

    /// The rate it was activated with.
    #[must_use]
    pub fn rate(&self) -> f64 {
        self.rate
    }
}

impl Drop for Host {
    fn drop(&mut self) {
        self.deactivate();
    }
}

type In<'a> = AudioPortBuffer<Vec<InputChannel<'a, f32>>, Vec<InputChannel<'a, f64>>>;
type Out<'a> = AudioPortBuffer<Vec<&'a mut [f32]>, Vec<&'a mut [f64]>>;

fn port_in(channels: Vec<&mut [f32]>) -> In<'_> {
    let channels = channels.into_iter().map(|buffer| InputChannel { buffer, is_constant: false }).collect();
    AudioPortBuffer { latency: 0, channels: AudioPortBufferType::F32(channels) }
}

fn port_out(channels: Vec<&mut [f32]>) -> Out<'_> {
    AudioPortBuffer { latency: 0, channels: AudioPortBufferType::F32(channels) }
}

fn push(events: &mut EventBuffer, happening: Happening) -> Result<()> {
    match happening {
        Happening::Set(id, value) => {
            let id = ClapId::from_raw(id).ok_or("a parameter id that CLAP reserves")?;
            events.push(&ParamValueEvent::new(0, id, Pckn::match_all(), value));
        }
        Happening::NoteOn(key, velocity) => {
            events.push(&NoteOnEvent::new(0, Pckn::new(0u16, 0u16, key, clack_host::events::Match::All), velocity));
        }
        Happening::NoteOff(key) => {
            events.push(&NoteOffEvent::new(0, Pckn::new(0u16, 0u16, key, clack_host::events::Match::All), 0.0));
        }
    }
    Ok(())
}

fn transport(at: Position) -> TransportEvent {
    let mut flags =
        TransportFlags::HAS_SECONDS_TIMELINE | TransportFlags::HAS_TEMPO | TransportFlags::HAS_BEATS_TIMELINE;
    if at.playing {
        flags |= TransportFlags::IS_PLAYING;
    }
    TransportEvent {
        header: clack_host::events::EventHeader::new_core(0, clack_host::events::EventFlags::empty()),
        flags,
        song_pos_beats: BeatTime::from_float(at.seconds * 2.0),
        song_pos_seconds: SecondsTime::from_float(at.seconds),
        tempo: 120.0,
        tempo_inc: 0.0,
        loop_start_beats: BeatTime::from_float(0.0),
        loop_end_beats: BeatTime::from_float(0.0),
        loop_start_seconds: SecondsTime::from_float(0.0),
        loop_end_seconds: SecondsTime::from_float(0.0),
        bar_start: BeatTime::from_float(0.0),
        bar_number: 0,
        time_signature_numerator: 4,
        time_signature_denominator: 4,
    }
}
