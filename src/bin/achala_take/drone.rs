//! `drone`: a stretch of drone as a WAV file.

use crate::args::{DroneArgs, DroneKind, FirstString};
use crate::print;
use achala::drone::{DroneSetting, First, Kind, Stringing, own_variant, render};
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

/// The strings asked for; Ni and Ga are the raga's own. Without a raga they are kakali Ni and antara Ga.
fn stringing(args: &DroneArgs, asked: &Asked) -> Result<Stringing, TakeError> {
    let first = match args.first {
        FirstString::Pa => First::Pa,
        FirstString::Ma => First::Ma,
        FirstString::Ni => First::Ni,
        FirstString::Ga => First::Ga,
        FirstString::None => First::None,
    };
    let own = |string: First, major: Swara| match args.raga {
        Some(_) => own_variant(&asked.scale.names(), string),
        None => Some(major),
    };
    let at = |string: First, major: Swara| own(string, major).and_then(|swara| asked.targets.of(swara));
    let (ni, ga) = (at(First::Ni, Swara::N3), at(First::Ga, Swara::G3));
    let lacks = |option: &str, swara: &str| {
        let raga = asked.scale.name();
        Err(TakeError::Usage(format!("{option}: {raga} has no {swara}; choose other strings or another raga")))
    };
    match first {
        First::Ni if ni.is_none() => lacks("--first ni", "Ni"),
        First::Ga if ga.is_none() => lacks("--first ga", "Ga"),
        _ if args.with_ni && ni.is_none() => lacks("--with-ni", "Ni"),
        _ => {
            let plain = Stringing::default();
            let (ni, ga) = (ni.map_or(plain.ni, |t| t.cents), ga.map_or(plain.ga, |t| t.cents));
            Ok(Stringing { first, with_ni: args.with_ni, ni, ga })
        }
    }
}
