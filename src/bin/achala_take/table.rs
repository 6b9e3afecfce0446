//! The summary of a take as a table that a singer can read in a terminal.

use achala::meter::ENOUGH_NOTES;
use achala::swara::Sthayi;
use achala::take::written::signed;
use achala::take::{Report, Row};
use std::io::{self, Write};

/// Writes the summary: what was measured against what, one row for each swara that was held, below it one for each of its
/// registers where those are several, and how much was judged.
pub(crate) fn write(report: &Report, out: &mut dyn Write) -> io::Result<()> {
    let against = &report.against;
    writeln!(out, "{}  ({:.1} s)", report.take, report.seconds)?;
    writeln!(
        out,
        "  Sa = {} · {} · targets: {} · in tune within {:.0} cents (Sa, Pa) / {:.0} (others): band \"{}\"",
        against.tonic,
        against.scale_title,
        against.tuning_title,
        against.half_widths.fixed.0,
        against.half_widths.others.0,
        against.band
    )?;
    writeln!(out, "  sung {:.1} s: {}", report.sung_s, report.summary())?;
    for remark in report.remarks() {
        writeln!(out, "  note: {remark}")?;
    }
    let sung: Vec<_> = report.swaras.iter().filter(|row| row.notes > 0).collect();
    if !sung.is_empty() {
        writeln!(
            out,
            "\n  from Sa upwards; offset: + is sharp, − is flat, in cents; –: under {ENOUGH_NOTES} notes, too few for a share"
        )?;
        writeln!(out, "  swara         held   time  offset  spread  in tune  longest")?;
    }
    for row in sung.into_iter().flat_map(Row::with_registers).filter(|row| row.notes > 0) {
        let name = row.octave.map_or_else(|| row.swara.to_owned(), |octave| format!("  {}", Sthayi(octave).name()));
        let line = format!(
            "  {name:<11} {:>5}x {:>5.1}s {:>7} {:>7} {:>8} {:>8}  {}",
            row.notes,
            row.judged_s,
            row.median_cents.map_or_else(String::new, signed),
            row.spread_cents.map_or_else(String::new, |c| format!("±{c:.0}")),
            row.percent().map_or_else(|| "–".to_owned(), |p| format!("{p:.0}%")),
            row.longest_steady_s.map_or_else(|| "–".to_owned(), |s| format!("{s:.1}s")),
            direction(row.median_cents, row.half_width_cents),
        );
        writeln!(out, "{}", line.trim_end())?;
    }
    let far = report.far();
    if far > 0 {
        let notes = if far == 1 { "note lies" } else { "notes lie" };
        writeln!(out, "  {far} held {notes} more than 150 cents from every swara of the scale: not counted above")?;
    }
    writeln!(out)
}

/// Which way to go, in words.
fn direction(median: Option<f64>, half_width: f64) -> &'static str {
    match median {
        Some(c) if c > half_width => "sharp: come down",
        Some(c) if c < -half_width => "flat: go up",
        _ => "",
    }
}
