//! Plays a recorded take to the same listener that the live effect uses, and keeps what it says.
//!
//! In: an open [`Voice`], where there is one the known drone from the same start, and a [`Setting`]. Out:
//! [`Heard`]: every frame, every note and the statistics. The take is handed over in blocks of
//! [`BLOCK`] samples, as a host would; block size changes nothing in the result. Cost: that of the listener,
//! and about 150 bytes of memory a frame (30 kB a second of audio).

use super::decode::Voice;
use super::error::TakeError;
use crate::listener::{Event, Listener, Setting};
use crate::meter::Meter;
use crate::note::Note;
use crate::swara::SwaraReading;
use crate::units::{Hertz, SampleRate};

/// Samples handed over at a time: a usual host block.
pub const BLOCK: usize = 512;

/// The least length that is worth checking, seconds: half of the shortest swara of a run at 4 a second.
pub const MIN_TAKE_S: f64 = 0.1;

/// Above this level something sounds, dBFS: far under a quiet voice (-50), far over a quiet line.
const SOUNDS_DBFS: f64 = -60.0;
/// A smaller share of the sounding time in voice than this is no sung take (a tone is taken for a voice for its first half
/// second).
const HARDLY_SUNG: f64 = 0.2;

/// Nearer than this, two Sa are one, cents: what a knob's steps and rounding make.
const SAME_SA_CENTS: f64 = 0.05;

/// Whether two Sa are one.
#[must_use]
pub fn same_sa(a: Hertz, b: Hertz) -> bool {
    a.cents_above(b).is_some_and(|apart| apart.0.abs() <= SAME_SA_CENTS)
}

/// What the listener said over a whole take.
#[derive(Debug, Clone)]
pub struct Heard {
    /// The take's sample rate; all times are counted in its samples.
    pub rate: SampleRate,
    /// Length of the take, seconds.
    pub seconds: f64,
    /// Every frame, in time order.
    pub frames: Vec<SwaraReading>,
    /// Every note, in the order in which they became final.
    pub notes: Vec<Note>,
    /// The Sa that each was measured from, in the same order: a take has one, a lesson may have had several.
    pub measured_from: Vec<Hertz>,
    /// Statistics per swara.
    pub meter: Meter,
    /// Octaves that the voice lives above the stated Sa (+1 or -1), where it does not live on it.
    pub octave: Option<i8>,
    /// What is wrong with the file although it could be read.
    pub warnings: Vec<String>,
}

/// Runs the listener over the take from its start to its end.
///
/// `progress` is told the seconds done after every block.
///
/// # Errors
/// A known drone at another rate, or less than [`MIN_TAKE_S`] of sound.
pub fn listen(
    voice: &mut Voice,
    mut drone: Option<&mut Voice>,
    setting: Setting,
    progress: &mut dyn FnMut(f64),
) -> Result<Heard, TakeError> {
    let rate = voice.rate();
    if let Some(drone) = &drone
        && drone.rate() != rate
    {
        return Err(TakeError::DroneRate {
            drone: drone.path().to_owned(),
            drone_hz: drone.rate().hz(),
            take_hz: rate.hz(),
        });
    }
    let sa = setting.sa;
    let mut listener = Listener::new(rate, setting);
    let (mut frames, mut notes, mut octave) = (Vec::new(), Vec::new(), None);
    let mut keep = |event: Event<'_>| match event {
        Event::Reading(reading) => frames.push(*reading),
        Event::Note(note) => notes.push(*note),
        Event::Octave(octaves) => octave = Some(octaves),
        // A take is one pass.
        Event::Pass(_) => {}
    };
    let (mut sung, mut sent) = ([0.0; BLOCK], [0.0; BLOCK]);
    let mut done = 0_usize;
    loop {
        let n = voice.fill(&mut sung);
        let Some(block) = sung.get(..n).filter(|b| !b.is_empty()) else { break };
        // A known drone that ends before the take is silent from there on.
        sent.fill(0.0);
        if let Some(drone) = &mut drone {
            drone.fill(sent.get_mut(..n).unwrap_or_default());
        }
        listener.process(block, drone.is_some().then(|| sent.get(..n).unwrap_or_default()), &mut keep);
        done += n;
        progress(done as f64 / rate.hz());
    }
    listener.finish(&mut keep);
    let seconds = done as f64 / rate.hz();
    if seconds < MIN_TAKE_S {
        return Err(TakeError::TooShort(voice.path().to_owned(), seconds));
    }
    let mut warnings = voice.warnings();
    warnings.extend(machine(&frames).filter(|_| listener.heard_a_machine()));
    warnings.extend(listener.snapshot().faults.told());
    let (measured_from, meter) = (vec![sa; notes.len()], listener.meter().clone());
    Ok(Heard { rate, seconds, frames, notes, measured_from, octave, meter, warnings })
}

/// What to say where next to nothing of the sound was a voice although something steadier than a throat sounded.
fn machine(frames: &[SwaraReading]) -> Option<String> {
    let loud = frames.iter().filter(|r| r.frame.level.0 > SOUNDS_DBFS).count();
    let voiced = frames.iter().filter(|r| r.frame.voiced).count();
    (loud > 0 && (voiced as f64) < HARDLY_SUNG * loud as f64).then(|| {
        "what sounds is steadier than any throat (a machine's tone: a pitch pipe, a reed, a generator) and counts as \
         drone, not as a voice; check a take that was sung"
            .to_owned()
    })
}
