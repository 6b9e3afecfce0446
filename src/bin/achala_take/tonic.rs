//! `tonic`: the Sa of a take; and what `--tonic auto` stands for in the other verbs.

use crate::args::{AgainstArgs, SoundArgs, TonicArgs};
use crate::print;
use crate::progress::Progress;
use achala::take::sa::AUTO;
use achala::take::{Asked, FoundSa, Side, TakeError, Voice, Words, find_sa};
use std::io::{self, Write};
use std::path::Path;

pub(crate) fn run(args: &TonicArgs) -> Result<(), TakeError> {
    let found = find(&args.take, args.channel.into())?;
    if args.json {
        let json = found.json().map_err(|e| TakeError::Render(e.to_string()))?;
        return print(|out| out.write_all(json.as_bytes()));
    }
    print(|out| table(&found, out))
}

/// What takes are measured against, with Sa stated or to be taken from each take.
pub(crate) struct Against {
    /// With the stated Sa; with `auto` its Sa means nothing until [`Against::of`] sets it.
    pub(crate) asked: Asked,
    pub(crate) auto: bool,
}

impl Against {
    /// Understands the words of the command line.
    pub(crate) fn parse(args: &AgainstArgs) -> Result<Self, TakeError> {
        let words = args.words();
        let auto = words.tonic.trim().eq_ignore_ascii_case(AUTO);
        // Any Sa will do to have the other words looked at before a take is heard.
        let asked = Asked::parse(if auto { Words { tonic: "D3", ..words } } else { words })?;
        Ok(Self { asked, auto })
    }

    /// What this take is measured against, and the share of the evidence that its Sa has, where it was taken from the sound.
    pub(crate) fn of(&self, take: &Path, sound: &SoundArgs) -> Result<(Asked, Option<f64>), TakeError> {
        if !self.auto {
            return Ok((self.asked.clone(), None));
        }
        let found = find(take, sound.channel.into())?.adopt()?;
        Ok((self.asked.at(found.sa), Some(f64::from(found.confidence))))
    }
}

fn find(take: &Path, side: Side) -> Result<FoundSa, TakeError> {
    let mut voice = Voice::open(take, side)?;
    let name = take.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let progress = Progress::over(&name, voice.announced().map(|n| n as f64 / voice.rate().hz()));
    find_sa(&mut voice, &mut |seconds| progress.at(seconds))
}

fn table(found: &FoundSa, out: &mut dyn Write) -> io::Result<()> {
    let name = found.take.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    writeln!(out, "{name}  ({:.1} s)", found.seconds)?;
    let rows = found.rows();
    let sure = found.sure();
    // A share of the evidence reads as certainty: it stands only where there is one. Programs have it in any case (`--json`).
    let (words, width) = if found.doubt.is_some() { (["perhaps", "or", "or"], 8) } else { (["Sa =", "or", "or"], 5) };
    for (word, row) in words.iter().zip(&rows) {
        let share = if found.doubt.is_none() {
            format!("{:>3.0} % of the evidence", 100.0 * row.confidence)
        } else {
            String::new()
        };
        writeln!(out, "{}", format!("  {word:<width$}{:<40}{share}", row.tonic).trim_end())?;
    }
    match &found.doubt {
        Some(doubt) => writeln!(out, "  {doubt}")?,
        None if !sure => writeln!(out, "  sure of the note, but no voice tells its octave: choose it")?,
        None => writeln!(out, "  sure of the note; its octave is the one that suits the voice's range")?,
    }
    match rows.first() {
        Some(first) if sure => {
            writeln!(out, "  state it as --tonic {}, or let check find it: --tonic auto", first.state_as)
        }
        Some(first) => writeln!(out, "  state it, for example as --tonic {}", first.state_as),
        None => Ok(()),
    }
}
