//! The report of a take as one page that opens anywhere: no network, no script, no sound in it.
//!
//! In: a [`Report`] and the drawing of the pitch line. Out: HTML text with its style and pictures inside; every word
//! from outside (file names, scale names) is escaped by the template engine. [`index`] is the page over several takes.

use super::ask::{Asked, BANDS};
use super::error::TakeError;
use super::plot::strips;
use super::report::{NoteRow, Report, Row, TAKE_CHECKER};
use super::run::Heard;
use super::strip::{self, Strip};
use super::written;
use crate::meter::ENOUGH_NOTES;
use crate::note::{Band, STEADY_CENTS};
use crate::swara::{Sthayi, Swara};
use crate::units::Hertz;
use minijinja::Environment;
use minijinja::value::{Serde, Value};
use serde::Serialize;
use std::path::Path;

/// Half the width of the per-swara scale, cents; marks beyond it stand at its edge.
const SCALE_CENTS: f64 = 60.0;
/// What stands in the place of a percentage of too few notes, as in the window.
const FEW: &str = "–";
/// Width of the per-swara scale, drawing units.
const SCALE_WIDTH: f64 = 300.0;

/// One row of the per-swara plot: a swara, or one register of the swara above it.
#[derive(Debug, Serialize)]
struct RowView {
    /// With the dot of its register, where it is one.
    swara: String,
    /// Of the swara, or of the register.
    full_name: &'static str,
    register: bool,
    target: String,
    notes: u32,
    far: u32,
    judged: String,
    longest: String,
    median: Option<String>,
    spread: Option<String>,
    in_tune: String,
    state: &'static str,
    band: (f64, f64),
    bar: Option<(f64, f64)>,
    mark: Option<f64>,
}

/// One held note in the table.
#[derive(Debug, Serialize)]
struct NoteView {
    /// Its line in the table of notes, from 1; moving notes have theirs too.
    line: usize,
    start: String,
    name: String,
    offset: String,
    state: &'static str,
    length: String,
    drift: Option<String>,
    wobble: String,
    waver: Option<String>,
    onset: Option<String>,
    in_tune: String,
    steady: String,
    /// The Sa that it was sung from, where that is another than the one in force.
    from: Option<String>,
}

/// Which of the columns that may be empty say something of any note; the others are left out.
#[derive(Debug, Serialize)]
struct Columns {
    drift: bool,
    waver: bool,
}

/// All that the template of one take sees.
#[derive(Debug, Serialize)]
struct Page<'a> {
    report: &'a Report,
    remarks: Vec<String>,
    summary: String,
    /// Upwards from Sa; below a swara its registers, where it was sung in several.
    rows: Vec<RowView>,
    /// Whether one was.
    registers: bool,
    strips: Vec<Strip>,
    held: Vec<NoteView>,
    /// Marked moments: when, and the word.
    marks: Vec<(String, &'a str)>,
    columns: Columns,
    /// Whether a note was sung from another Sa.
    moved: bool,
    /// Whether one was sung with another raga, tuning or pupil chosen.
    elsewhere: bool,
    /// Held notes that the swaras' figures count.
    counted: u32,
    /// Held notes that lie far from every swara.
    far: u32,
    /// Whether the tables were written beside the page.
    files_beside: bool,
    /// Whether a share is left unsaid.
    few: bool,
    /// Notes that are not listed.
    moving: usize,
    enough: u32,
    bands: [(&'static str, f64, f64); 3],
    clean: f64,
    steady: f64,
    left: f64,
    scale_width: f64,
    scale_cents: f64,
}

/// All that the template over several takes sees.
#[derive(Debug, Serialize)]
struct Index<'a> {
    entries: &'a [Entry],
    /// Whether a share is left unsaid.
    few: bool,
    enough: u32,
    tonic: String,
    scale: String,
    tuning: String,
    band: &'a str,
    half_widths: Band,
    version: &'static str,
}

/// The page of one take.
///
/// # Errors
/// [`TakeError::Render`] if the template fails, which no input should bring about.
pub fn page(report: &Report, heard: &Heard, asked: &Asked) -> Result<String, TakeError> {
    let held: Vec<NoteView> = (1..).zip(&report.notes).filter_map(|(line, note)| note_view(line, note)).collect();
    let any = |says: fn(&NoteView) -> bool| held.iter().any(says);
    let columns = Columns { drift: any(|n| n.drift.is_some()), waver: any(|n| n.waver.is_some()) };
    let page = Page {
        report,
        remarks: report.remarks(),
        summary: report.summary(),
        rows: report.swaras.iter().flat_map(Row::with_registers).map(row_view).collect(),
        registers: report.swaras.iter().any(|row| !row.registers.is_empty()),
        strips: strips(heard, asked, report.worth.as_deref()),
        moving: report.notes.len() - held.len(),
        held,
        marks: report.marks.iter().map(|m| (written::clock(m.time_s), m.word.as_str())).collect(),
        columns,
        moved: report.held().1 > 0,
        elsewhere: report.elsewhere() > 0,
        counted: report.counted(),
        far: report.far(),
        files_beside: report.tool == TAKE_CHECKER,
        few: report.swaras.iter().flat_map(Row::with_registers).any(|row| row.notes > 0 && row.percent().is_none()),
        enough: ENOUGH_NOTES,
        bands: BANDS,
        clean: CLEAN_CENTS,
        steady: STEADY_CENTS,
        left: strip::LEFT,
        scale_width: SCALE_WIDTH,
        scale_cents: SCALE_CENTS,
    };
    render("report.html", Value::from(Serde(&page)))
}

/// A take in the page over several.
#[derive(Debug, Clone, Serialize)]
pub struct Entry {
    /// Path of the take as it was found.
    pub name: String,
    /// Address of its page relative to the index, percent-encoded; `None` where it could not be checked.
    pub page: Option<String>,
    /// Seconds, held share and the like in words; or why it could not be checked.
    pub words: String,
    /// Held notes.
    pub held: usize,
    /// Share of the judged time in tune with its sign, or that there are too few notes for one.
    pub in_tune: Option<String>,
}

impl Entry {
    /// An entry for a checked take.
    #[must_use]
    pub fn checked(stem: &Path, report: &Report) -> Self {
        let judged: f64 = report.swaras.iter().map(|r| r.judged_s).sum();
        let in_tune: f64 = report.swaras.iter().filter_map(|r| Some(r.in_tune_share? * r.judged_s)).sum();
        Self {
            name: stem.to_string_lossy().into_owned(),
            page: Some(address(stem)),
            words: format!("{}, {}", written::clock(report.seconds), report.summary()),
            held: report.held().0,
            in_tune: (judged > 0.0).then(|| {
                let enough = report.counted() >= ENOUGH_NOTES;
                if enough { format!("{} %", percent(in_tune / judged)) } else { FEW.to_owned() }
            }),
        }
    }

    /// An entry for a take that could not be checked.
    #[must_use]
    pub fn failed(name: &Path, why: &TakeError) -> Self {
        let name = name.to_string_lossy().into_owned();
        Self { name, page: None, words: why.to_string(), held: 0, in_tune: None }
    }
}

/// The page over several takes; `asked` without a Sa of its own (`each_sa`) where every take brought its own.
///
/// # Errors
/// As [`page`].
pub fn index(entries: &[Entry], asked: &Asked, each_sa: bool) -> Result<String, TakeError> {
    let index = Index {
        entries,
        few: entries.iter().any(|entry| entry.in_tune.as_deref() == Some(FEW)),
        enough: ENOUGH_NOTES,
        tonic: if each_sa { "taken from the sound of each take".to_owned() } else { asked.tonic() },
        scale: asked.scale.title(),
        tuning: asked.tuning.title_in(&asked.scale.names()),
        band: &asked.band_name,
        half_widths: asked.band,
        version: env!("CARGO_PKG_VERSION"),
    };
    render("index.html", Value::from(Serde(&index)))
}

fn render(name: &str, values: Value) -> Result<String, TakeError> {
    let mut pages = Environment::new();
    let failed = |e: minijinja::Error| TakeError::Render(e.to_string());
    // The names' endings turn escaping on.
    pages.add_template("style.css", include_str!("style.css")).map_err(failed)?;
    pages.add_template("report.html", include_str!("report.html")).map_err(failed)?;
    pages.add_template("index.html", include_str!("index.html")).map_err(failed)?;
    pages.get_template(name).and_then(|page| page.render(values)).map_err(failed)
}

/// Place of an offset on the per-swara scale.
fn place(cents: f64) -> f64 {
    let x = (cents / SCALE_CENTS).clamp(-1.0, 1.0);
    ((0.5 + 0.5 * x) * SCALE_WIDTH * 10.0).round() / 10.0
}

fn row_view(row: &Row) -> RowView {
    let spread = row.spread_cents.unwrap_or(0.0);
    let register = row.octave.map(Sthayi);
    RowView {
        swara: match (register, Swara::from_short(row.swara)) {
            (Some(register), Some(swara)) => written::name(swara, register),
            _ => row.swara.to_owned(),
        },
        full_name: register.map_or(row.full_name, Sthayi::name),
        register: register.is_some(),
        target: format!("{:.1}", row.target_cents),
        notes: row.notes,
        far: row.far_notes,
        judged: format!("{:.1}", row.judged_s),
        longest: row.longest_steady_s.map_or_else(|| "–".to_owned(), |s| format!("{s:.1} s")),
        median: row.median_cents.map(written::signed),
        spread: row.spread_cents.map(|s| format!("{s:.0}")),
        in_tune: row.percent().map_or_else(|| FEW.to_owned(), |p| format!("{p:.0} %")),
        state: row.median_cents.map_or("none", |m| written::state(m, row.half_width_cents)),
        band: (place(-row.half_width_cents), place(row.half_width_cents)),
        bar: row.median_cents.map(|m| (place(m - spread), place(m + spread))),
        mark: row.median_cents.map(place),
    }
}

fn note_view(line: usize, note: &NoteRow) -> Option<NoteView> {
    let judged = note.judged.as_ref()?;
    let scoop = judged.onset_scoop_cents;
    Some(NoteView {
        line,
        start: format!("{:.2}", note.start_s),
        name: note.name.clone(),
        offset: written::signed(judged.cents),
        state: if judged.far { "far" } else { written::state(judged.cents, note.half_width_cents) },
        length: format!("{:.2}", note.end_s - note.start_s),
        drift: judged.drift_said.then(|| written::signed(judged.drift_cents_per_s)),
        wobble: format!("{:.0}", judged.wobble_cents),
        waver: judged.waver_hz.map(|hz| format!("{hz:.1}")),
        onset: (scoop.abs() >= CLEAN_CENTS).then(|| {
            let (way, side) = if scoop < 0.0 { ("scooped up", "below") } else { ("came down", "above") };
            format!("{way} from {:.0} cents {side} in {:.2} s", scoop.abs(), judged.onset_s)
        }),
        in_tune: percent(judged.in_tune_share),
        steady: format!("{:.1}", judged.longest_steady_s),
        from: {
            let sa = note.under_another_sa.then(|| written::from_sa(Hertz(note.sa_hz)));
            let told: Vec<String> = sa.into_iter().chain(note.others.iter().cloned()).collect();
            (!told.is_empty()).then(|| told.join(", "))
        },
    })
}

/// An onset closer than this is called clean, cents: half a semitone is the least that is heard as a scoop in the
/// flow (common practice, no source).
const CLEAN_CENTS: f64 = 50.0;

fn percent(share: f64) -> String {
    format!("{:.0}", 100.0 * share)
}

/// The address of a page beside the index: every byte but letters, digits and `-._~/` is percent-encoded (RFC 3986).
fn address(stem: &Path) -> String {
    let path = format!("{}.html", stem.to_string_lossy().replace('\\', "/"));
    let plain = |b: u8| b.is_ascii_alphanumeric() || b"-._~/".contains(&b);
    path.bytes().map(|b| if plain(b) { char::from(b).to_string() } else { format!("%{b:02X}") }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::take::plot::tests::heard;

    fn page_of(heard: &Heard, asked: &Asked) -> String {
        page(&Report::new("take.wav", heard, asked), heard, asked).unwrap()
    }

    /// The page of notes of 1.7 s, `cents` sharp, with as many as there is time for.
    fn page_of_notes(seconds: f64, cents: impl Fn(f64) -> f64) -> String {
        let (heard, asked) = heard(seconds, |t| (t % 2.0 < 1.7).then(|| cents(t)));
        page_of(&heard, &asked)
    }

    /// The cells of each row of the tables: names of the head's, then how many each row of the body has.
    fn tables(page: &str) -> Vec<(Vec<String>, Vec<usize>)> {
        let tables = page.split("<table class=\"figures\">").skip(1).map(|t| t.split("</table>").next().unwrap());
        let table = |table: &str| {
            let (head, body) = table.split_once("</thead>").unwrap();
            let word = |cell: &str| cell.split_once('>').unwrap().1.split('<').next().unwrap().to_owned();
            let names = head.split("<th").skip(2).map(word).collect();
            (names, body.split("<tr").skip(1).map(|row| row.matches("<td").count()).collect())
        };
        tables.map(table).collect()
    }

    #[test]
    fn a_column_that_would_be_empty_is_left_out_and_every_row_has_the_others() {
        let vibrato = |t: f64| 40.0 * (std::f64::consts::TAU * 5.5 * t).sin();
        let drift = |t: f64| 30.0 * (t % 2.0);
        for (page, there, gone) in [
            (page_of_notes(20.0, |_| 5.0), "Wobble, cents", vec!["Vibrato", "Drift, cents/s"]),
            (page_of_notes(20.0, vibrato), "Vibrato", vec!["Drift, cents/s"]),
            (page_of_notes(20.0, drift), "Drift, cents/s", vec!["Vibrato"]),
        ] {
            let tables = tables(&page);
            assert_eq!(tables.len(), 2);
            for (names, rows) in &tables {
                assert!(rows.iter().all(|cells| *cells == names.len()) && !rows.is_empty(), "{names:?}: {rows:?}");
            }
            let names = &tables[1].0;
            assert!(names.iter().any(|n| n == there), "{there} in {names:?}");
            assert!(gone.iter().all(|word| !names.iter().any(|n| n == word)), "{gone:?} in {names:?}");
        }
    }

    #[test]
    fn a_share_of_few_notes_is_a_dash_and_the_dash_is_told() {
        let (two, ten) = (page_of_notes(4.0, |_| 5.0), page_of_notes(20.0, |_| 5.0));
        let told = "–: fewer than 5 notes were held";
        assert!(two.contains("data-of=\"in tune\">–</td>") && two.contains(told) && !two.contains("few<"));
        assert!(ten.contains("data-of=\"in tune\">100 %</td>") && !ten.contains(told));
        let entry = |seconds: f64| {
            let (heard, asked) = heard(seconds, |t| (t % 2.0 < 1.7).then_some(5.0));
            let entry = Entry::checked(Path::new("take"), &Report::new("take.wav", &heard, &asked));
            index(&[entry], &asked, false).unwrap()
        };
        assert!(entry(4.0).contains(told) && entry(4.0).contains("data-of=\"in tune\">–</td>"));
        assert!(entry(20.0).contains(">100 %</td>") && !entry(20.0).contains(told));
    }

    #[test]
    fn a_note_far_from_every_swara_is_told_by_itself() {
        let (mut heard, asked) = heard(11.7, |t| (t % 2.0 < 1.7).then_some(5.0));
        heard.meter = serde_json::from_str(
            r#"{"sung":2000,"held":2000,"oscillating":0,"gliding":0,"rows":[
            {"sthayi":0,"position":0,"notes":4,"far":1,"in_tune":900,"longest_steady":200,"offsets":[[5,900]]},
            {"sthayi":0,"position":7,"notes":0,"far":1,"in_tune":0,"longest_steady":0,"offsets":[]}]}"#,
        )
        .unwrap();
        for note in &mut heard.notes[..2] {
            note.offset = crate::units::Cents(-317.0);
        }
        let report = Report::new("take.wav", &heard, &asked);
        assert_eq!((report.counted(), report.far(), report.swaras[0].notes), (4, 2, 4));
        let page = page_of(&heard, &asked);
        assert!(page.contains("Far: 2 held notes more than 150 cents from every swara") && !page.contains("Counted:"));
        assert!(page.contains("4×<small>far: 1×</small>") && page.contains("<td class=\"median soft\">far: 1×</td>"));
        assert_eq!(page.matches("<span class=\"off-word\">far</span>").count(), 2);
        assert!(!page.contains("▲ flat<"), "far is neither flat nor sharp");
    }

    #[test]
    fn a_swara_of_several_registers_has_a_row_of_each_below_its_own() {
        // Six of madhya Sa, right; then two of tara Sa, flat.
        let line = |t: f64| (t % 2.0 < 1.7).then_some(if t < 12.0 { 5.0 } else { 1162.0 });
        let (heard, asked) = heard(16.0, line);
        let report = Report::new("take.wav", &heard, &asked);
        let sa = &report.swaras[0];
        let told = |row: &Row| (row.octave, row.notes, row.median_cents.unwrap().round(), row.percent());
        assert_eq!(told(sa), (None, 8, 5.0, Some(75.0)));
        assert_eq!(
            sa.registers.iter().map(told).collect::<Vec<_>>(),
            [(Some(0), 6, 5.0, Some(100.0)), (Some(1), 2, -38.0, None)]
        );
        assert!(report.swaras[1..].iter().all(|row| row.registers.is_empty()));
        let page = page_of(&heard, &asked);
        let names = ["S<small>Shadja</small>", "S<small>madhya</small>", "S\u{307}<small>tara</small>"];
        let places = names.map(|name| page.find(name).unwrap_or_else(|| panic!("{name}: {page}")));
        assert!(places.is_sorted() && page.matches("<tr class=\"register\">").count() == 2);
        // Two notes say no share, whatever the others do; and the dash is told.
        assert!(page.contains("–: fewer than 5 notes were held"));
        let json: serde_json::Value = serde_json::from_str(&report.json().unwrap()).unwrap();
        assert_eq!(
            (&json["swaras"][0]["registers"][1]["octave"], &json["swaras"][0]["octave"]),
            (&1.into(), &().into())
        );
        assert!(json["swaras"][1].get("registers").is_none());
        // One register needs no row of its own.
        let single = page_of_notes(12.0, |_| 5.0);
        assert!(!single.contains("class=\"register\"") && !single.contains("more than one register"));
    }

    #[test]
    fn notes_from_another_sa_say_so_and_the_figures_leave_them_out() {
        let (mut heard, asked) = heard(11.7, |t| (t % 2.0 < 1.7).then_some(5.0));
        // Four of six were sung before Sa was moved: the statistics began anew there.
        heard.measured_from[..4].fill(Hertz(220.0));
        let (later, _) = super::super::plot::tests::heard(3.7, |t| (t % 2.0 < 1.7).then_some(5.0));
        heard.meter = later.meter;
        let page = page_of(&heard, &asked);
        assert!(page.contains("4 of 6 held notes were sung from another Sa"), "{page}");
        assert_eq!(page.matches("<small>from Sa 220.0 Hz</small>").count(), 4);
        assert!(page.contains("Counted: 2 held notes since this Sa") && page.contains("data-of=\"held\">2×</td>"));
        assert!(page.contains("Sung from this Sa for 3.4 s"));
        let report = Report::new("take.wav", &heard, &asked);
        assert_eq!((report.held(), report.counted()), ((6, 4), 2));
        assert_eq!(
            (report.notes[0].sa_hz, report.notes[0].under_another_sa, report.notes[5].under_another_sa),
            (220.0, true, false)
        );
        assert!(report.judged_s < report.sung_s);
        // Moved, and nothing was sung since: no table of swaras, and not that no voice was found.
        heard.measured_from.fill(Hertz(220.0));
        heard.meter = crate::meter::Meter::new();
        let page = page_of(&heard, &asked);
        assert!(page.contains("Nothing was sung from this Sa yet") && !page.contains("No voice was found"));
        assert!(!page.contains("Swara by swara") && page.contains("The held notes"));
    }

    #[test]
    fn a_lessons_page_says_when_it_was_saved_and_a_takes_page_does_not() {
        let (heard, asked) = heard(20.0, |t| (t % 2.0 < 1.7).then_some(5.0));
        let mut report = Report::new("Lesson", &heard, &asked);
        assert!(!page(&report, &heard, &asked).unwrap().contains("<dt>Saved</dt>"));
        report.saved = Some("2026-11-27 10:05 UTC".into());
        assert!(page(&report, &heard, &asked).unwrap().contains("<dt>Saved</dt><dd>2026-11-27 10:05 UTC</dd>"));
    }

    #[test]
    fn on_a_narrow_screen_every_figure_has_its_name_and_the_drawing_is_moved() {
        let page = page_of_notes(20.0, |_| 5.0);
        assert!(page.contains("width=device-width") && page.contains("class=\"hint\""));
        // Where the head of a table is put away each number says what it is of.
        let unnamed = page
            .split("<td class=\"n")
            .skip(1)
            .filter(|cell| !cell.starts_with(" at") && !cell.starts_with("\" data-of="));
        assert_eq!(unnamed.count(), 0);
        assert_eq!(page.matches("<svg class=\"strip\"").count(), page.matches("<div class=\"sheet scroll\"").count());
        assert_eq!(page.matches("<table").count(), page.matches("<table class=\"figures\"").count());
    }
}
