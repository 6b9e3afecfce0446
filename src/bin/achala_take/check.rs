//! `check`: a summary on the terminal and the report files of each take.

use crate::args::CheckArgs;
use crate::tonic::Against;
use crate::trace::hear;
use crate::{FAILED, print, say_error, status_of, table};
use achala::take::html::Entry;
use achala::take::write::{Place, places, result_path, whole};
use achala::take::{Report, TakeError, csv, html};
use std::path::Path;
use std::process::ExitCode;

pub(crate) fn run(args: &CheckArgs) -> Result<ExitCode, TakeError> {
    let against = Against::parse(&args.against)?;
    let (places, mut errors) = places(&args.takes);
    for error in &errors {
        say_error(error);
    }
    let several = places.len() > 1;
    let mut entries = Vec::new();
    for place in &places {
        entries.push(match one(place, args, &against) {
            Ok(report) => Entry::checked(&place.stem, &report),
            Err(error) => {
                say_error(&error);
                let entry = Entry::failed(&place.take, &error);
                errors.push(error);
                entry
            }
        });
    }
    if several {
        let page = html::index(&entries, &against.asked, against.auto)?;
        let index = args.out.join("index.html");
        whole(&index, |out| out.write_all(page.as_bytes()))?;
        print(|out| writeln!(out, "All takes on one page: {}", shown(&index)))?;
    }
    // One take alone has its own status. Of several the rest is done, and the run as a whole has failed.
    Ok(match &errors[..] {
        [] => ExitCode::SUCCESS,
        [only] if !several && args.takes.len() == 1 => status_of(only),
        _ => ExitCode::from(FAILED),
    })
}

/// Checks one take, writes its files and prints its table.
fn one(place: &Place, args: &CheckArgs, against: &Against) -> Result<Report, TakeError> {
    let (asked, sa_confidence) = against.of(&place.take, &args.sound)?;
    let heard = hear(&place.take, &args.sound, &asked)?;
    let name = place.take.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let report = Report { sa_confidence, ..Report::new(&name, &heard, &asked) };
    let json = report.json().map_err(|e| TakeError::Render(e.to_string()))?;
    let page = html::page(&report, &heard, &asked)?;
    let [csv_path, json_path, page_path] =
        [".notes.csv", ".json", ".html"].map(|ending| result_path(&args.out, &place.stem, ending));
    whole(&csv_path, |out| csv::notes(&heard, asked.sa, out))?;
    whole(&json_path, |out| out.write_all(json.as_bytes()))?;
    whole(&page_path, |out| out.write_all(page.as_bytes()))?;
    print(|out| {
        table::write(&report, out)?;
        writeln!(out, "  report: {} (open it in a browser)", shown(&page_path))?;
        writeln!(out, "  notes:  {}", shown(&csv_path))?;
        writeln!(out, "  data:   {} (for other programs)\n", shown(&json_path))
    })?;
    Ok(report)
}

/// A path as it is told to people: without the dot of the folder they are in.
fn shown(path: &Path) -> std::path::Display<'_> {
    path.strip_prefix(".").unwrap_or(path).display()
}
