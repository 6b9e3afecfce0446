//! Moments as markers in a Standard MIDI File, where the host's own bars have them.
//!
//! In: moments in the history's time, and where the bars lay. Out: the bytes of a file of format 0. A pass is a stretch in
//! which the transport ran on without a jump; of the last one that holds a moment, each lies at its quarter note from the
//! start of the project, with the tempo and the signatures that the host had (before the pass: those of its start). Where
//! no moment lies in a pass, for want of a timeline, they lie at their seconds, at 120 quarters a minute.

use super::history::{Bars, Mark};
use crate::units::{SampleRate, SampleTime, num};
use midly::num::{u15, u24, u28};
use midly::{Format, Header, MetaMessage, Smf, Timing, TrackEvent, TrackEventKind};

/// Ticks a quarter note; at 120 quarters a minute a tick is about a millisecond.
const TICKS: u16 = 480;
/// Quarters a minute where the host has no timeline.
const PLAIN_TEMPO: f64 = 120.0;
/// Nearer than this to where the transport was to be, it ran on, quarter notes: hosts round and change their tempo
/// within a block, and nobody loops less than this.
const NEAR: f64 = 0.25;
/// The slowest tempo that the format can say, quarters a minute (its 24 bits of microseconds).
const SLOWEST: f64 = 4.0;

/// A stretch in which the transport ran on.
struct Pass<'a> {
    bars: &'a [Bars],
    until: SampleTime,
}

impl Pass<'_> {
    /// The quarter note of an instant in this pass.
    fn quarters(&self, time: SampleTime, rate: SampleRate) -> Option<f64> {
        let before = self.bars.partition_point(|bars| bars.time <= time).checked_sub(1)?;
        let bars = self.bars.get(before).filter(|_| time < self.until)?;
        Some(bars.quarters_at(time, rate))
    }
}

/// Whether the transport ran from `bars` to `later` without a jump.
fn runs_on(bars: &Bars, later: &Bars, rate: SampleRate) -> bool {
    bars.playing && later.playing && (bars.quarters_at(later.time, rate) - later.quarters).abs() < NEAR
}

fn passes(bars: &[Bars], rate: SampleRate) -> Vec<Pass<'_>> {
    let (mut found, mut end) = (Vec::new(), 0);
    for part in bars.chunk_by(|a, b| runs_on(a, b, rate)) {
        end += part.len();
        if part.first().is_some_and(|first| first.playing) {
            let until = bars.get(end).map_or(SampleTime(i64::MAX), |next| next.time);
            found.push(Pass { bars: part, until });
        }
    }
    found
}

/// The file; `None` where the moments do not fit the format. `moments` and `bars`: oldest first.
pub(super) fn file(moments: &[Mark], bars: &[Bars], rate: SampleRate) -> Option<Vec<u8>> {
    let placed = passes(bars, rate).into_iter().rev().find_map(|pass| {
        let lies = moments.iter().filter_map(|moment| Some((pass.quarters(moment.time, rate)?, moment)));
        let markers: Vec<_> = lies.map(|(quarters, moment)| (tick(quarters), marker(moment))).collect();
        (!markers.is_empty()).then(|| [timeline(pass.bars), markers].concat())
    });
    let events = placed.unwrap_or_else(|| {
        let quarters = |moment: &Mark| moment.time.seconds(rate) * PLAIN_TEMPO / 60.0;
        let lies = moments.iter().map(|moment| (tick(quarters(moment)), marker(moment)));
        std::iter::once((0, tempo(PLAIN_TEMPO))).chain(lies).collect()
    });
    write(events)
}

/// A quarter note's place in the file; a count-in before the start of the project lies at that.
fn tick(quarters: f64) -> u32 {
    u32::try_from(num::index(quarters.max(0.0) * f64::from(TICKS))).unwrap_or(u32::MAX)
}

fn marker(moment: &Mark) -> MetaMessage<'_> {
    MetaMessage::Marker(moment.word.as_bytes())
}

fn tempo(quarters_a_minute: f64) -> MetaMessage<'static> {
    let us = num::index(6e7 / quarters_a_minute.max(SLOWEST));
    MetaMessage::Tempo(u24::new(u32::try_from(us).unwrap_or(0)))
}

/// `None` where the note of a beat is none that the format knows.
fn signature((beats, unit): (i32, i32)) -> Option<MetaMessage<'static>> {
    let unit = u32::try_from(unit).ok().filter(|unit| unit.is_power_of_two())?;
    // A click each quarter (24 MIDI clocks), which has eight thirty-seconds.
    Some(MetaMessage::TimeSignature(u8::try_from(beats).ok()?, u8::try_from(unit.trailing_zeros()).ok()?, 24, 8))
}

/// Tempo and signature from the start of the project, and each change of them in the pass.
fn timeline(pass: &[Bars]) -> Vec<(u32, MetaMessage<'static>)> {
    let Some(first) = pass.first() else { return Vec::new() };
    let mut events = vec![(0, tempo(first.tempo))];
    events.extend(signature(first.signature).map(|signature| (0, signature)));
    // What lay before may have had other bars: one begins here.
    let begins = tick(first.bar_start);
    events.extend(signature(first.signature).filter(|_| begins > 0).map(|signature| (begins, signature)));
    for (before, now) in pass.iter().zip(pass.iter().skip(1)) {
        if (now.tempo - before.tempo).abs() > 1e-6 {
            events.push((tick(now.quarters), tempo(now.tempo)));
        }
        if now.signature != before.signature {
            events.extend(signature(now.signature).map(|signature| (tick(now.bar_start), signature)));
        }
    }
    events
}

fn write(mut events: Vec<(u32, MetaMessage<'_>)>) -> Option<Vec<u8>> {
    events.sort_by_key(|(tick, _)| *tick);
    let mut last = 0;
    let mut track = Vec::with_capacity(events.len() + 1);
    for (tick, message) in events {
        let delta = u28::try_from(tick - last)?;
        track.push(TrackEvent { delta, kind: TrackEventKind::Meta(message) });
        last = tick;
    }
    track.push(TrackEvent { delta: u28::new(0), kind: TrackEventKind::Meta(MetaMessage::EndOfTrack) });
    let file = Smf { header: Header::new(Format::SingleTrack, Timing::Metrical(u15::new(TICKS))), tracks: vec![track] };
    let mut bytes = Vec::new();
    file.write(&mut bytes).ok()?;
    Some(bytes)
}
