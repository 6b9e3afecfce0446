//! Opens a recorded take, whatever common format it has, and reads one voice out of it.
//!
//! In: a WAV, FLAC, MP3, Ogg Vorbis, AAC (M4A) or AIFF file at 8 to 192 kHz. Out: samples of the chosen
//! [`Side`], full scale 1, at the file's own rate, read piece by piece so that an hour of audio is never held
//! in memory. Decoding is the symphonia library's. A damaged packet becomes silence of its own length, so
//! that what follows keeps its time; a file that stops early is read as far as it goes. Both are told in
//! [`Voice::warnings`]. Cost: one packet of memory. The encoder delay that an M4A edit list declares is not
//! taken out (about 20 ms), and of a file with several streams only the first is read.

use super::error::TakeError;
use crate::units::SampleRate;
use std::fs::File;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use symphonia::core::codecs::audio::{AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, TrackType};
use symphonia::core::io::MediaSourceStream;
use symphonia::core::meta::MetadataOptions;

/// Endings of files that count as takes when a folder is given.
pub const ENDINGS: [&str; 10] = ["wav", "wave", "flac", "mp3", "ogg", "oga", "m4a", "aac", "aif", "aiff"];

/// How far a file may stay behind the length in its header before that is said, seconds: one packet of the
/// longest kind (8192 samples of Vorbis at 44.1 kHz) is 0.19 s.
const LENGTH_SLACK_S: f64 = 0.25;

/// Which part of a stereo take holds the voice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Side {
    /// The first channel.
    Left,
    /// The second channel (the first of a mono take).
    Right,
    /// The mean of all channels.
    #[default]
    Mix,
}

/// An open take, read from its start to its end.
pub struct Voice {
    path: PathBuf,
    side: Side,
    rate: SampleRate,
    format: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    track: u32,
    /// Frames that the header announces.
    announced: Option<u64>,
    /// Decoded samples of the chosen side that were not yet read.
    waiting: Vec<f32>,
    read: usize,
    interleaved: Vec<f32>,
    decoded: u64,
    damaged: u64,
    ended: bool,
    cut: bool,
}

impl Voice {
    /// Opens `path` and decodes its first packet, so that a file that cannot be read is refused here.
    ///
    /// # Errors
    /// A missing, empty, unreadable or non-audio file, one without a sample, or a rate outside 8 to 192 kHz.
    pub fn open(path: &Path, side: Side) -> Result<Self, TakeError> {
        let format = probe(path)?;
        let track = format.default_track(TrackType::Audio).ok_or_else(|| no_audio(path))?;
        let params = track.codec_params.as_ref().and_then(|p| p.audio()).ok_or_else(|| no_audio(path))?;
        let (id, announced) = (track.id, track.num_frames);
        let decoder = symphonia::default::get_codecs()
            .make_audio_decoder(params, &AudioDecoderOptions::default())
            .map_err(|_| TakeError::UnknownCoding(path.to_owned()))?;
        // Replaced by the rate of the first decoded packet, below.
        let rate = SampleRate::new(SampleRate::MIN_HZ).map_err(|_| no_audio(path))?;
        let mut voice = Self {
            path: path.to_owned(),
            side,
            rate,
            format,
            decoder,
            track: id,
            announced,
            waiting: Vec::new(),
            read: 0,
            interleaved: Vec::new(),
            decoded: 0,
            damaged: 0,
            ended: false,
            cut: false,
        };
        let hz = voice.first_packet()?;
        voice.rate = SampleRate::new(f64::from(hz)).map_err(|_| TakeError::Rate(path.to_owned(), hz))?;
        Ok(voice)
    }

    /// The file's sample rate.
    #[must_use]
    pub fn rate(&self) -> SampleRate {
        self.rate
    }

    /// The file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Frames that the header announces, where it does.
    #[must_use]
    pub fn announced(&self) -> Option<u64> {
        self.announced
    }

    /// Fills `out` with the next samples; returns how many there were, 0 only at the end.
    pub fn fill(&mut self, out: &mut [f32]) -> usize {
        let mut filled = 0;
        while filled < out.len() {
            if self.read >= self.waiting.len() {
                self.waiting.clear();
                self.read = 0;
                if self.decode_packet().is_none() {
                    break;
                }
                continue;
            }
            let ready = self.waiting.get(self.read..).unwrap_or_default();
            let n = ready.len().min(out.len() - filled);
            if let (Some(to), Some(from)) = (out.get_mut(filled..filled + n), ready.get(..n)) {
                to.copy_from_slice(from);
            }
            self.read += n;
            filled += n;
        }
        filled
    }

    /// What is wrong with the file although it could be read; complete once [`Voice::fill`] has returned 0.
    #[must_use]
    pub fn warnings(&self) -> Vec<String> {
        let mut said = Vec::new();
        let seconds = |frames: u64| frames as f64 / self.rate.hz();
        let missing = self.announced.map_or(0.0, |n| seconds(n.saturating_sub(self.decoded)));
        if self.ended && missing > LENGTH_SLACK_S {
            said.push(format!(
                "the file stops early: {:.1} s of {:.1} s are there and were checked",
                seconds(self.decoded),
                seconds(self.decoded) + missing
            ));
        } else if self.cut {
            said.push(format!("the file is cut short: the first {:.1} s were checked", seconds(self.decoded)));
        }
        if self.damaged > 0 {
            said.push(format!("{:.1} s of the file are damaged and counted as silence", seconds(self.damaged)));
        }
        said
    }

    /// Decodes up to the first packet with sound in it and returns its rate, Hz.
    fn first_packet(&mut self) -> Result<u32, TakeError> {
        while let Some(hz) = self.decode_packet() {
            if !self.waiting.is_empty() {
                return Ok(hz);
            }
        }
        if self.cut || self.damaged > 0 {
            Err(TakeError::NotAudio(self.path.clone(), "it breaks off before any sound".into()))
        } else {
            Err(TakeError::NoSamples(self.path.clone()))
        }
    }

    /// Decodes one packet into `waiting` and returns the rate, Hz; `None` at the end of the file.
    fn decode_packet(&mut self) -> Option<u32> {
        if self.ended {
            return None;
        }
        let packet = loop {
            match self.format.next_packet() {
                Ok(Some(packet)) if packet.track_id == self.track => break packet,
                Ok(Some(_)) => {}
                Ok(None) => {
                    self.ended = true;
                    return None;
                }
                Err(_) => {
                    self.ended = true;
                    self.cut = true;
                    return None;
                }
            }
        };
        let rate = match self.decoder.decode(&packet) {
            Ok(sound) => {
                let channels = sound.num_planes().max(1);
                let rate = sound.spec().rate();
                sound.copy_to_vec_interleaved(&mut self.interleaved);
                let side = self.side;
                self.waiting.extend(self.interleaved.chunks_exact(channels).map(|frame| pick(frame, side)));
                self.decoded += (self.interleaved.len() / channels) as u64;
                rate
            }
            Err(_) => {
                let lost = packet.dur.get();
                self.waiting.resize(usize::try_from(lost).unwrap_or(0), 0.0);
                self.decoded += lost;
                self.damaged += lost;
                0
            }
        };
        Some(rate)
    }
}

/// One sample of the chosen side out of one frame of all channels.
fn pick(frame: &[f32], side: Side) -> f32 {
    let left = frame.first().copied().unwrap_or(0.0);
    match side {
        Side::Left => left,
        Side::Right => frame.get(1).copied().unwrap_or(left),
        Side::Mix => frame.iter().sum::<f32>() / frame.len().max(1) as f32,
    }
}

/// Opens the file and finds out its format.
fn probe(path: &Path) -> Result<Box<dyn FormatReader>, TakeError> {
    let unreadable = |why: std::io::Error| match why.kind() {
        ErrorKind::NotFound => TakeError::Missing(path.to_owned()),
        _ => TakeError::Unreadable(path.to_owned(), why),
    };
    let file = File::open(path).map_err(unreadable)?;
    let about = file.metadata().map_err(unreadable)?;
    if about.is_dir() {
        return Err(TakeError::Unreadable(path.to_owned(), std::io::Error::other("it is a folder")));
    }
    if about.is_file() && about.len() == 0 {
        return Err(TakeError::Empty(path.to_owned()));
    }
    let mut hint = Hint::new();
    if let Some(ending) = path.extension().and_then(|e| e.to_str()) {
        hint.with_extension(ending);
    }
    let stream = MediaSourceStream::new(Box::new(file), Default::default());
    symphonia::default::get_probe().probe(&hint, stream, FormatOptions::default(), MetadataOptions::default()).map_err(
        |why| match why {
            Error::IoError(io) if io.kind() == ErrorKind::UnexpectedEof => {
                TakeError::NotAudio(path.to_owned(), "it breaks off inside its header".into())
            }
            Error::Unsupported(_) => TakeError::NotAudio(path.to_owned(), "no known audio format".into()),
            other => TakeError::NotAudio(path.to_owned(), other.to_string()),
        },
    )
}

fn no_audio(path: &Path) -> TakeError {
    TakeError::NotAudio(path.to_owned(), "no audio track in it".into())
}
