//! The words of the command line.

use achala::take::{Side, Words};
use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Checks recorded takes of Carnatic singing: which swara each held note was, how far off, how steady, how long.
#[derive(Debug, Parser)]
#[command(name = "achala-take", version, arg_required_else_help = true, propagate_version = true)]
pub(crate) struct Args {
    /// What to do.
    #[command(subcommand)]
    pub(crate) verb: Verb,
}

/// What can be done.
#[derive(Debug, Subcommand)]
pub(crate) enum Verb {
    /// Judge the held notes of one take, several, or whole folders, and write a report of each
    Check(CheckArgs),
    /// List the pitch from moment to moment, as the live effect would show it
    Trace(TraceArgs),
    /// Estimate the Sa of a take, with its confidence and the runners-up
    Tonic(TonicArgs),
    /// Show where each swara of a raga lies above your Sa
    Swaras(SwarasArgs),
    /// Write a stretch of drone to a WAV file, to practise with
    Drone(DroneArgs),
    /// Sing the demo take with the built-in test voice, and write down the truth about it
    Demo(DemoArgs),
}

/// Which swaras there are, and where.
#[derive(Debug, ClapArgs)]
pub(crate) struct SwaraArgs {
    /// Madhya Sa: a note with its octave (D3, D3+12), a frequency (146.83Hz), a kattai with its octave
    /// (k2/3: 2 kattai from C3 up), or a MIDI key (midi50); check and trace also take `auto`: from the sound, where it is certain
    #[arg(long, value_name = "SA", allow_hyphen_values = true)]
    pub(crate) tonic: String,
    /// Raga, melakarta (name or number) or sa-pa-sa; without it all 12 swarasthanas count
    #[arg(long, value_name = "NAME")]
    pub(crate) raga: Option<String>,
    /// Where the swaras lie: just, just-27-16, pythagorean, equal, or a .scl file
    #[arg(long, value_name = "NAME", default_value = "just")]
    pub(crate) tuning: String,
}

/// What a take is measured against.
#[derive(Debug, ClapArgs)]
pub(crate) struct AgainstArgs {
    #[command(flatten)]
    pub(crate) swaras: SwaraArgs,
    /// In tune within (Sa and Pa / the others): beginner 20/25, working 15/20, concert 10/20 cents, or two numbers
    #[arg(long, value_name = "NAME", default_value = "beginner")]
    pub(crate) band: String,
}

impl SwaraArgs {
    /// The words as they were given, with a band's name.
    pub(crate) fn words<'a>(&'a self, band: &'a str) -> Words<'a> {
        Words { tonic: &self.tonic, raga: self.raga.as_deref(), tuning: &self.tuning, band }
    }
}

impl AgainstArgs {
    /// The words as they were given.
    pub(crate) fn words(&self) -> Words<'_> {
        self.swaras.words(&self.band)
    }
}

/// How a take is read.
#[derive(Debug, ClapArgs)]
pub(crate) struct SoundArgs {
    /// The drone as it was sent out, from the same start: what is known of it is taken out of the voice
    #[arg(long, value_name = "FILE")]
    pub(crate) known_drone: Option<PathBuf>,
    /// Where the voice is in a stereo take
    #[arg(long, value_enum, default_value_t = Channel::Mix)]
    pub(crate) channel: Channel,
}

/// Where the voice is.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum Channel {
    /// First channel
    Left,
    /// Second channel
    Right,
    /// Mean of all channels
    Mix,
}

impl From<Channel> for Side {
    fn from(channel: Channel) -> Self {
        match channel {
            Channel::Left => Side::Left,
            Channel::Right => Side::Right,
            Channel::Mix => Side::Mix,
        }
    }
}

/// `check`.
#[derive(Debug, ClapArgs)]
pub(crate) struct CheckArgs {
    /// Takes, or folders that are searched for takes
    #[arg(required = true, value_name = "FILE")]
    pub(crate) takes: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) against: AgainstArgs,
    #[command(flatten)]
    pub(crate) sound: SoundArgs,
    /// Folder for the reports
    #[arg(long, value_name = "DIR", default_value = ".")]
    pub(crate) out: PathBuf,
}

/// `trace`.
#[derive(Debug, ClapArgs)]
pub(crate) struct TraceArgs {
    /// The take
    #[arg(value_name = "FILE")]
    pub(crate) take: PathBuf,
    #[command(flatten)]
    pub(crate) against: AgainstArgs,
    #[command(flatten)]
    pub(crate) sound: SoundArgs,
    /// File for the table; without it, standard output
    #[arg(long, value_name = "OUT")]
    pub(crate) csv: Option<PathBuf>,
}

/// `tonic`.
#[derive(Debug, ClapArgs)]
pub(crate) struct TonicArgs {
    /// The take; 45 s or more with a drone are best
    #[arg(value_name = "FILE")]
    pub(crate) take: PathBuf,
    /// Where the voice is in a stereo take
    #[arg(long, value_enum, default_value_t = Channel::Mix)]
    pub(crate) channel: Channel,
    /// As JSON, for other programs
    #[arg(long)]
    pub(crate) json: bool,
}

/// `swaras`.
#[derive(Debug, ClapArgs)]
pub(crate) struct SwarasArgs {
    #[command(flatten)]
    pub(crate) swaras: SwaraArgs,
    /// As CSV, for other programs
    #[arg(long)]
    pub(crate) csv: bool,
}

/// `demo`.
#[derive(Debug, ClapArgs)]
pub(crate) struct DemoArgs {
    /// Folder for demo-take.wav, demo-take.f0.csv and demo-take.notes.csv
    #[arg(long, value_name = "DIR", default_value = ".")]
    pub(crate) out: PathBuf,
    /// Sample rate, Hz
    #[arg(long, value_name = "HZ", default_value_t = achala::voice::demo::RATE_HZ)]
    pub(crate) rate: f64,
}

/// `drone`.
#[derive(Debug, ClapArgs)]
pub(crate) struct DroneArgs {
    /// Madhya Sa: a note with its octave (D3, D3+12), a frequency (146.83Hz), a kattai with its octave (k2/3: 2 kattai from C3 up), or a MIDI key (midi50)
    #[arg(long, value_name = "SA", allow_hyphen_values = true)]
    pub(crate) tonic: String,
    /// Length, seconds (1 to 3600)
    #[arg(long, value_name = "N")]
    pub(crate) seconds: f64,
    /// The WAV file to be written
    #[arg(long, value_name = "FILE.wav")]
    pub(crate) out: PathBuf,
    /// Plucked strings, or a reed with Sa, Pa and upper Sa
    #[arg(long, value_enum, default_value_t = DroneKind::Strings)]
    pub(crate) kind: DroneKind,
    /// What the first string is tuned to
    #[arg(long, value_enum, default_value_t = FirstString::Pa)]
    pub(crate) first: FirstString,
    /// A Ni string after the first: five strings instead of four
    #[arg(long)]
    pub(crate) with_ni: bool,
    /// Raga that says which Ni and Ga the strings take
    #[arg(long, value_name = "NAME")]
    pub(crate) raga: Option<String>,
    /// Where they lie: just, just-27-16, pythagorean, equal, or a .scl file
    #[arg(long, value_name = "NAME", default_value = "just")]
    pub(crate) tuning: String,
    /// Seconds from pluck to pluck (0.6 to 2.5)
    #[arg(long, value_name = "S", default_value_t = 1.1)]
    pub(crate) pluck: f64,
    /// Peak level, dBFS (-60 to -3)
    #[arg(long, value_name = "DB", default_value_t = achala::drone::DEFAULT_LEVEL_DB, allow_hyphen_values = true)]
    pub(crate) level: f64,
    /// Sample rate, Hz (8000 to 192000)
    #[arg(long, value_name = "HZ", default_value_t = 48_000.0)]
    pub(crate) rate: f64,
}

/// Strings or reed.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum DroneKind {
    /// Plucked strings, four or five
    Strings,
    /// Steady reed
    Reed,
}

/// The first string.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum FirstString {
    /// Mandra Pa
    Pa,
    /// Mandra Ma
    Ma,
    /// Mandra Ni of the raga
    Ni,
    /// Mandra Ga of the raga
    Ga,
    /// No first string
    None,
}
