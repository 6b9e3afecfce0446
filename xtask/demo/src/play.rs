//! Plays the demo take through the plugin as a host would, in blocks of 256 with the drone on.

use crate::Result;
use achala::meter::Meter;
use achala::swara::Scale;
use achala::take::{Asked, Heard, Report, Side, Voice, Words, listen};
use achala::units::SampleRate;
use achala::voice::demo;
use inproc_host::{Block, Happening, Host, Position};
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Samples a block: a usual one for playing live.
const BLOCK: usize = 256;
/// How long the plugin may take to make its strings before the demo goes on without them.
const STRINGS: Duration = Duration::from_secs(6);

/// The demo take.
pub(crate) struct Take {
    pub(crate) path: PathBuf,
    pub(crate) samples: Vec<f32>,
    pub(crate) rate: SampleRate,
}

impl Take {
    pub(crate) fn seconds(&self) -> f64 {
        self.samples.len() as f64 / self.rate.hz()
    }
}

/// What came out of the plugin.
pub(crate) struct Played {
    pub(crate) mixed: Vec<f32>,
    meter: Meter,
    scale: Scale,
}

/// What the take checker makes of the same take.
pub(crate) struct Checked {
    pub(crate) samples: Vec<f32>,
    pub(crate) heard: Heard,
    pub(crate) asked: Asked,
    pub(crate) report: Report,
}

/// Reads the demo take.
pub(crate) fn take() -> Result<Take> {
    let path = PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/data/demo-take.flac"));
    let mut voice = Voice::open(&path, Side::Mix)?;
    let (mut samples, mut part) = (Vec::new(), [0.0; 4096]);
    loop {
        match voice.fill(&mut part) {
            0 => break,
            n => samples.extend_from_slice(&part[..n]),
        }
    }
    Ok(Take { path, samples, rate: voice.rate() })
}

/// Loads the bundle and plays the take through it.
pub(crate) fn through(bundle: &Path, take: &Take) -> Result<Played> {
    let mut host = Host::load(bundle)?;
    let scale = Scale::find(demo::RAGA)?;
    choose_scale(&mut host, &scale)?;
    host.activate(take.rate.hz(), u32::try_from(BLOCK)?)?;
    let set = |host: &mut Host, name: &str, text: &str| -> Result<Happening> {
        let id = host.parameter(name)?.id;
        let value = host.read(id, text).ok_or_else(|| format!("{name} does not understand '{text}'"))?;
        Ok(Happening::Set(id, value))
    };
    let knobs =
        [set(&mut host, "Sa", "G# · 5.5 kattai")?, set(&mut host, "Sa octave", "3")?, set(&mut host, "Drone", "On")?];
    let mut block = silence();
    host.process(&mut block, &knobs, None)?;
    wait_for_drone(&mut host)?;
    let mut mixed = Vec::with_capacity(take.samples.len());
    // A second more, so that the last note becomes final.
    let second = std::iter::repeat_n(0.0, achala::units::num::index(take.rate.hz()));
    let padded: Vec<f32> = take.samples.iter().copied().chain(second).collect();
    for (i, part) in padded.chunks(BLOCK).enumerate() {
        let mut block = Block { main: vec![part.to_vec(); 2], own: vec![vec![0.0; part.len()]; 2], ..Block::default() };
        let at = Position { playing: true, seconds: (i * BLOCK) as f64 / take.rate.hz() };
        host.process(&mut block, &[], Some(at))?;
        mixed.extend_from_slice(&block.main[0]);
    }
    Ok(Played { mixed, meter: meter(&mut host)?, scale })
}

fn silence() -> Block {
    Block { main: vec![vec![0.0; BLOCK]; 2], side_chain: Vec::new(), own: vec![vec![0.0; BLOCK]; 2] }
}

/// The plugin makes its strings beside the audio thread; a host in real time would not wait, the demo does.
fn wait_for_drone(host: &mut Host) -> Result<()> {
    let began = Instant::now();
    while began.elapsed() < STRINGS {
        let mut block = silence();
        host.process(&mut block, &[], None)?;
        if block.main[0].iter().any(|x| x.abs() > 0.01) {
            return Ok(());
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    Ok(())
}

fn choose_scale(host: &mut Host, scale: &Scale) -> Result<()> {
    let text = host.save_text()?.replace("sa-pa-sa", &scale.key());
    host.restore_text(&text)
}

/// The statistics as the project would keep them.
fn meter(host: &mut Host) -> Result<Meter> {
    let state: serde_json::Value = serde_json::from_str(&host.save_text()?)?;
    let pages = state["fields"]["pages"].as_str().ok_or("the saved state holds no pages")?;
    let pages: serde_json::Value = serde_json::from_str(pages)?;
    Ok(serde_json::from_value(pages["open"]["meter"].clone())?)
}

impl Played {
    /// The meter as a table.
    pub(crate) fn table(&self) -> String {
        let mut text =
            String::from("\nswara  notes   held s  median c  spread c  in tune  longest s   (5-limit table)\n");
        for swara in self.scale.swaras() {
            let row = self.meter.row(swara.position());
            let number = |x: Option<f64>, digits: usize| x.map_or("-".to_owned(), |x| format!("{x:+.digits$}"));
            // No percentage of a few notes.
            let share =
                row.in_tune.filter(|_| row.notes >= 5).map_or("-".to_owned(), |s| format!("{:.0} %", 100.0 * s));
            let spread = row.spread.map_or("-".to_owned(), |s| format!("{:.1}", s.0));
            let _ = writeln!(
                text,
                "{:<6} {:>5} {:>8.1} {:>9} {:>9} {:>8} {:>10}",
                swara.short(),
                row.notes,
                row.judged_s,
                number(row.median.map(|m| m.0), 1),
                spread,
                share,
                row.longest_steady_s.map_or("-".to_owned(), |s| format!("{s:.1}"))
            );
        }
        let time = self.meter.sung_time();
        if let Some(share) = time.held_share() {
            let _ = writeln!(text, "{:.0} % of the singing was held and judged, the rest moved.", 100.0 * share);
        }
        text
    }
}

/// Runs the take checker over the same take.
pub(crate) fn check(take: &Take) -> Result<Checked> {
    let asked = Asked::parse(Words { tonic: demo::TONIC, raga: Some(demo::RAGA), tuning: "just", band: "beginner" })?;
    let heard = listen(&mut Voice::open(&take.path, Side::Mix)?, None, asked.setting(), &mut |_| {})?;
    let report = Report::new("demo-take.flac", &heard, &asked);
    Ok(Checked { samples: take.samples.clone(), heard, asked, report })
}
