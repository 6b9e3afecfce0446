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
    for (word, row) in ["Sa =", "or", "or"].iter().zip(&rows) {
        writeln!(out, "  {word:<5}{:<40}{:>3.0} % of the evidence", row.tonic, 100.0 * row.confidence)?;
    }
    match (&found.doubt, rows.first()) {
        (Some(doubt), _) => writeln!(out, "  {doubt}")?,
        (None, Some(_)) if !found.sure() => writeln!(out, "  the octave is not told: no voice sings; choose it")?,
        (None, _) => writeln!(out, "  sure; the octave is the one that suits the voice's range")?,
    }
    if let Some(first) = rows.first() {
        writeln!(out, "  state it as --tonic {}", first.state_as)?;
    }
    Ok(())
}
