//! What can go wrong with a recorded take, each in one sentence that names the file and how to mend it.
//!
//! In: what failed, where. Out: [`TakeError`], whose `Display` is what the singer reads.
//! [`TakeError::is_input`] tells unreadable input and bad usage (exit status 2) from a failed run (1).

use crate::units::SampleRate;
use std::fmt;
use std::path::PathBuf;

/// The formats that can be read, as people name them.
pub const FORMATS: &str = "WAV, FLAC, MP3, Ogg Vorbis, AAC (M4A) or AIFF";

/// Why a take could not be checked.
#[derive(Debug)]
pub enum TakeError {
    /// There is no such file.
    Missing(PathBuf),
    /// The file is there but cannot be opened or read.
    Unreadable(PathBuf, std::io::Error),
    /// The file has no bytes in it.
    Empty(PathBuf),
    /// The bytes are not audio that we can read; the second part says what the reader found.
    NotAudio(PathBuf, String),
    /// The container is known, the coding inside is not.
    UnknownCoding(PathBuf),
    /// Audio with no sample in it.
    NoSamples(PathBuf),
    /// Less audio than [`MIN_TAKE_S`](super::MIN_TAKE_S); seconds found.
    TooShort(PathBuf, f64),
    /// A sample rate outside 8 to 192 kHz; the rate found, Hz.
    Rate(PathBuf, u32),
    /// The known drone and the take have different sample rates, Hz.
    DroneRate {
        /// The drone's file.
        drone: PathBuf,
        /// The drone's rate, Hz.
        drone_hz: f64,
        /// The take's rate, Hz.
        take_hz: f64,
    },
    /// A folder in which no take was found.
    NoTakes(PathBuf),
    /// Sa was to be taken from the sound and is not certain; the sentence says why and how to state it.
    Sa(PathBuf, String),
    /// Something on the command line cannot be understood; the sentence says what and how to mend it.
    Usage(String),
    /// A result could not be written.
    Write(PathBuf, std::io::Error),
    /// A report could not be made from the result.
    Render(String),
}

impl TakeError {
    /// Whether the cause lies in what was given (bad usage, unreadable input) and not in the run.
    #[must_use]
    pub fn is_input(&self) -> bool {
        !matches!(self, Self::Write(..) | Self::Render(_))
    }
}

impl fmt::Display for TakeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Missing(path) => {
                write!(f, "{}: there is no such file; check the name and the folder", path.display())
            }
            Self::Unreadable(path, why) => {
                write!(f, "{}: cannot be read ({why}); check that it is a file you may open", path.display())
            }
            Self::Empty(path) => {
                write!(f, "{}: the file is empty (0 bytes); copy or record it again", path.display())
            }
            Self::NotAudio(path, why) => {
                write!(f, "{}: this is not audio that can be read ({why}); give a {FORMATS} file", path.display())
            }
            Self::UnknownCoding(path) => write!(
                f,
                "{}: the audio inside is coded in a way that cannot be read; export it as {FORMATS}",
                path.display()
            ),
            Self::NoSamples(path) => {
                write!(f, "{}: the file holds no sound (zero length); record or export it again", path.display())
            }
            Self::TooShort(path, seconds) => write!(
                f,
                "{}: only {seconds:.3} s of sound, less than the {} s a take needs; record or export it again",
                path.display(),
                super::MIN_TAKE_S
            ),
            Self::Rate(path, hz) => write!(
                f,
                "{}: the sample rate is {hz} Hz, outside {} to {} Hz; export the take at 44100 or 48000 Hz",
                path.display(),
                SampleRate::MIN_HZ,
                SampleRate::MAX_HZ
            ),
            Self::DroneRate { drone, drone_hz, take_hz } => write!(
                f,
                "{}: the known drone has {drone_hz} Hz and the take {take_hz} Hz; export the drone at {take_hz} Hz",
                drone.display()
            ),
            Self::NoTakes(path) => {
                write!(f, "{}: no take in this folder; put {FORMATS} files into it", path.display())
            }
            Self::Sa(path, sentence) => write!(f, "{}: {sentence}", path.display()),
            Self::Usage(sentence) => f.write_str(sentence),
            Self::Write(path, why) => {
                write!(f, "{}: cannot be written ({why}); choose a folder you may write to with --out", path.display())
            }
            Self::Render(why) => write!(f, "the report could not be made ({why})"),
        }
    }
}

impl std::error::Error for TakeError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Unreadable(_, why) | Self::Write(_, why) => Some(why),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_sentence_names_the_file_and_the_value() {
        let path = PathBuf::from("lesson/first take.wav");
        let rate = TakeError::Rate(path.clone(), 4000).to_string();
        assert!(rate.contains("first take.wav") && rate.contains("4000 Hz") && rate.contains("8000 to 192000"));
        let short = TakeError::TooShort(path.clone(), 0.05).to_string();
        assert!(short.contains("0.050 s") && short.contains("0.1 s"));
        assert!(TakeError::Missing(path.clone()).is_input());
        assert!(!TakeError::Write(path, std::io::Error::other("full")).is_input());
    }
}
