//! Writes sound as a WAV file that every program opens: 16 bit, any number of channels.
//!
//! In: channels of equal length, full scale 1. Out: the file, whole or not at all. Values beyond full scale are cut
//! there, non-finite ones are silence. Rounded to the nearest step, without dither.

use super::error::TakeError;
use super::write::whole;
use crate::units::{SampleRate, num};
use std::io::{self, Cursor};
use std::path::Path;

/// Steps from silence to full scale in 16 bits.
const STEPS: f64 = 32_767.0;

/// Writes `channels` to `path`; the shortest channel decides the length.
///
/// # Errors
/// [`TakeError::Write`] names the file.
pub fn write(path: &Path, channels: &[&[f32]], rate: SampleRate) -> Result<(), TakeError> {
    let bytes = bytes(channels, rate).map_err(|e| TakeError::Write(path.to_owned(), io::Error::other(e)))?;
    whole(path, |out| out.write_all(&bytes))
}

fn bytes(channels: &[&[f32]], rate: SampleRate) -> Result<Vec<u8>, hound::Error> {
    let form = hound::WavSpec {
        channels: u16::try_from(channels.len()).map_err(|_| hound::Error::Unsupported)?,
        sample_rate: u32::try_from(num::int(rate.hz())).map_err(|_| hound::Error::Unsupported)?,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut bytes = Cursor::new(Vec::new());
    let mut file = hound::WavWriter::new(&mut bytes, form)?;
    let frames = channels.iter().map(|c| c.len()).min().unwrap_or(0);
    for n in 0..frames {
        for channel in channels {
            file.write_sample(step(channel.get(n).copied().unwrap_or(0.0)))?;
        }
    }
    file.finalize()?;
    Ok(bytes.into_inner())
}

/// A sample in 16 bits.
fn step(x: f32) -> i16 {
    let x = if x.is_finite() { f64::from(x).clamp(-1.0, 1.0) } else { 0.0 };
    i16::try_from(num::int(x * STEPS)).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_again() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("two.wav");
        let left: Vec<f32> = (0..4000).map(|n| 0.5 * (n as f32 * 0.05).sin()).collect();
        let right = vec![f32::NAN; 4000];
        write(&path, &[&left, &right], SampleRate::new(16_000.0).unwrap()).unwrap();
        let mut read = vec![0.0; 5000];
        let mut voice = super::super::Voice::open(&path, super::super::Side::Left).unwrap();
        assert_eq!((voice.fill(&mut read), voice.rate().hz()), (4000, 16_000.0));
        assert!(left.iter().zip(&read).all(|(a, b)| (a - b).abs() < 1e-4));
        let mut other = super::super::Voice::open(&path, super::super::Side::Right).unwrap();
        other.fill(&mut read);
        assert!(read[..4000].iter().all(|x| *x == 0.0));
    }
}
