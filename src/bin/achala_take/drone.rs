//! `drone`: a stretch of drone as a WAV file.

use crate::args::{DroneArgs, DroneKind, FirstString};
use crate::print;
use achala::drone::{DroneSetting, First, Kind, Stringing, render};
use achala::swara::Swara;
use achala::take::{Asked, TakeError, Words, wav};
use achala::units::{Decibels, SampleRate};

/// Shortest and longest drone, seconds: an hour in 16 bits is 345 MB at 48 kHz.
const LENGTH_S: (f64, f64) = (1.0, 3600.0);

pub(crate) fn run(args: &DroneArgs) -> Result<(), TakeError> {
    let usage = |e: &dyn std::error::Error| TakeError::Usage(e.to_string());
    let words = Words { tonic: &args.tonic, raga: args.raga.as_deref(), tuning: &args.tuning, band: "beginner" };
    let asked = Asked::parse(words)?;
    let rate = SampleRate::new(args.rate).map_err(|e| usage(&e))?;
    if !(LENGTH_S.0..=LENGTH_S.1).contains(&args.seconds) {
        return Err(TakeError::Usage(format!(
            "--seconds {}: choose a length from {} to {} seconds",
            args.seconds, LENGTH_S.0, LENGTH_S.1
        )));
    }
    let setting = DroneSetting {
        sa: asked.sa,
        kind: match args.kind {
            DroneKind::Strings => Kind::Strings,
            DroneKind::Reed => Kind::Reed,
        },
        stringing: stringing(args, &asked)?,
        pluck_s: args.pluck,
        level: Decibels(args.level),
        ..DroneSetting::default()
    };
    let sound = render(&setting, rate, args.seconds).map_err(|e| usage(&e))?;
    wav::write(&args.out, &[&sound], rate)?;
    print(|out| writeln!(out, "{}: {:.1} s of drone on Sa = {}", args.out.display(), args.seconds, asked.tonic()))
}

/// The strings asked for; a Ni string takes the raga's Ni, kakali Ni where the raga leaves it open.
fn stringing(args: &DroneArgs, asked: &Asked) -> Result<Stringing, TakeError> {
    let plain = Stringing::default();
    let first = match args.first {
        FirstString::Pa => First::Pa,
        FirstString::Ma => First::Ma,
        FirstString::Ni => First::Ni,
        FirstString::None => First::None,
    };
    let ni = [Swara::N3, Swara::N2, Swara::N1].into_iter().find_map(|n| asked.targets.of(n));
    match (ni, first) {
        (Some(ni), _) => Ok(Stringing { first, ni: ni.cents, ..plain }),
        (None, First::Ni) => Err(TakeError::Usage(format!(
            "--first ni: {} has no Ni; choose pa, ma or none, or another raga",
            asked.scale.name()
        ))),
        (None, _) => Ok(Stringing { first, ..plain }),
    }
}
