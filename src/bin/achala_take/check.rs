//! `check`: a summary on the terminal and the report files of each take.

use crate::args::CheckArgs;
use crate::trace::{hear, warn};
use crate::{FAILED, print, say_error, status_of, table};
use achala::take::write::{Place, places, result_path, whole};
use achala::take::{Asked, Report, TakeError, csv};
use std::process::ExitCode;

pub(crate) fn run(args: &CheckArgs) -> Result<ExitCode, TakeError> {
    let against = &args.against;
    let asked = Asked::parse(&against.tonic, against.raga.as_deref(), &against.tuning, &against.band)?;
    let (places, mut errors) = places(&args.takes);
    for error in &errors {
        say_error(error);
    }
    let mut checked = Vec::new();
    for place in places {
        match one(&place, args, &asked) {
            Ok(report) => checked.push((place, report)),
            Err(error) => {
                say_error(&error);
                errors.push(error);
            }
        }
    }
    // One take alone: its own status. Several: the rest is done, and the run as a whole has failed.
    Ok(match (&errors[..], checked.is_empty()) {
        ([], _) => ExitCode::SUCCESS,
        ([only], true) => status_of(only),
        _ => ExitCode::from(FAILED),
    })
}

/// Checks one take, writes its files and prints its table.
fn one(place: &Place, args: &CheckArgs, asked: &Asked) -> Result<Report, TakeError> {
    let heard = hear(&place.take, &args.sound, asked)?;
    warn(&place.take, &heard);
    let name = place.take.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let report = Report::new(&name, &heard, asked);
    let json = report.json().map_err(|e| TakeError::Render(e.to_string()))?;
    whole(&result_path(&args.out, &place.stem, ".notes.csv"), |out| csv::notes(&heard, out))?;
    whole(&result_path(&args.out, &place.stem, ".json"), |out| out.write_all(json.as_bytes()))?;
    print(|out| table::write(&report, out))?;
    Ok(report)
}
