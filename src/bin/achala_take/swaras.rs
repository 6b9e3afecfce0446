//! `swaras`: where each swara of a raga lies above Sa.

use crate::args::SwarasArgs;
use crate::print;
use achala::swara::{Step, Target};
use achala::take::{Asked, TakeError, written};
use achala::units::Cents;
use std::io::{self, Write};

pub(crate) fn run(args: &SwarasArgs) -> Result<(), TakeError> {
    // The table holds no score: any band will do.
    let asked = Asked::parse(args.swaras.words("beginner"))?;
    print(|out| if args.csv { csv(&asked, out) } else { table(&asked, out) })
}

/// Hertz of a swara, `octave` registers from madhya.
fn hertz(asked: &Asked, target: Target, octave: i8) -> f64 {
    asked.sa.up(Cents(target.cents.0 + 1200.0 * f64::from(octave))).0
}

fn csv(asked: &Asked, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "swara,full_name,semitone,cents,hz,definition")?;
    for target in asked.targets.by_position.iter().flatten() {
        let position = target.swara.position();
        writeln!(
            out,
            "{},{},{position},{:.4},{:.4},{}",
            target.swara.short(),
            target.swara.full_name(),
            target.cents.0,
            hertz(asked, *target, 0),
            asked.tuning.definition(position)
        )?;
    }
    Ok(())
}

fn table(asked: &Asked, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "Sa = {} · {} · targets: {}", asked.tonic(), asked.scale.title(), asked.tuning.title())?;
    for (word, steps) in [("up", asked.scale.arohana()), ("down", asked.scale.avarohana())] {
        writeln!(out, "  {word:<4} {}", line(&steps))?;
    }
    writeln!(out, "\n  swara  full name                  cents  definition   mandra Hz  madhya Hz    tara Hz")?;
    for target in asked.targets.by_position.iter().flatten() {
        writeln!(
            out,
            "  {:<6} {:<24} {:>7.2}  {:<12} {:>9.2}  {:>9.2}  {:>9.2}",
            target.swara.short(),
            target.swara.full_name(),
            target.cents.0,
            asked.tuning.definition(target.swara.position()),
            hertz(asked, *target, -1),
            hertz(asked, *target, 0),
            hertz(asked, *target, 1)
        )?;
    }
    for remark in asked.tuning.remarks() {
        writeln!(out, "  {remark}")?;
    }
    writeln!(
        out,
        "\n  Only Sa and Pa are fixed; the others are reference positions, on which tables differ by up to 22 cents."
    )
}

fn line(steps: &[Step]) -> String {
    steps.iter().map(|s| written::name(s.swara, s.sthayi)).collect::<Vec<_>>().join(" ")
}
