//! `trace`: the frames of one take as CSV.

use crate::args::{SoundArgs, TraceArgs};
use crate::progress::Progress;
use crate::tonic::Against;
use achala::take::{Asked, Heard, TakeError, Voice, csv, listen, write};
use std::path::Path;

pub(crate) fn run(args: &TraceArgs) -> Result<(), TakeError> {
    let (asked, found) = Against::parse(&args.against)?.of(&args.take, &args.sound)?;
    let heard = hear(&args.take, &args.sound, &asked)?;
    if found.is_some() {
        crate::say_aside(&format!(
            "achala-take: {}: Sa = {}, taken from the sound",
            args.take.display(),
            asked.tonic()
        ));
    }
    warn(&args.take, &heard);
    match &args.csv {
        Some(path) => write::whole(path, |out| csv::frames(&heard, out)),
        None => crate::print(|out| csv::frames(&heard, out)),
    }
}

/// Opens the take and the known drone and runs the listener over them.
pub(crate) fn hear(take: &Path, sound: &SoundArgs, asked: &Asked) -> Result<Heard, TakeError> {
    let mut voice = Voice::open(take, sound.channel.into())?;
    let mut drone = match &sound.known_drone {
        Some(path) => Some(Voice::open(path, achala::take::Side::Mix)?),
        None => None,
    };
    let name = take.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let progress = Progress::over(&name, voice.announced().map(|n| n as f64 / voice.rate().hz()));
    listen(&mut voice, drone.as_mut(), asked.setting(), &mut |seconds| progress.at(seconds))
}

/// Says what is wrong with a take that could be read all the same.
pub(crate) fn warn(take: &Path, heard: &Heard) {
    for warning in &heard.warnings {
        crate::say_aside(&format!("achala-take: {}: {warning}", take.display()));
    }
}
