//! Made-up views for the tests of the panels: nothing, an ordinary minute, and everything at once.

use super::action::Field;
use super::view::*;
use crate::listener::Faults;
use crate::meter::RowSummary;
use crate::note::{Current, Kind, Note, Onset};
use crate::swara::{Named, Sthayi, Swara, Target, Targets};
use crate::units::{Cents, Decibels, Hertz, SampleTime, num};

/// Mela 29's seven, in the 5-limit table.
pub(super) fn seven() -> Targets {
    let mut by_position = [None; 12];
    for (swara, cents) in [
        (Swara::S, 0.0),
        (Swara::R2, 203.91),
        (Swara::G3, 386.314),
        (Swara::M1, 498.045),
        (Swara::P, 701.955),
        (Swara::D2, 884.359),
        (Swara::N3, 1088.269),
    ] {
        by_position[usize::from(swara.position())] = Some(Target { swara, cents: Cents(cents) });
    }
    Targets { by_position }
}

/// All twelve places.
pub(super) fn twelve() -> Targets {
    use Swara::*;
    let mut by_position = [None; 12];
    for (i, swara) in [S, R1, R2, G2, G3, M1, M2, P, D1, D2, N2, N3].into_iter().enumerate() {
        by_position[i] = Some(Target { swara, cents: Cents(i as f64 * 100.0) });
    }
    Targets { by_position }
}

fn choice(labels: &[&str]) -> Choice {
    Choice { current: labels[0].into(), options: labels.iter().map(|l| ((*l).to_owned(), (*l).to_owned())).collect() }
}

/// Before anything was heard.
pub(super) fn empty() -> View {
    let mut view = View::empty(SA, seven());
    view.tonic = "D3 · 2 kattai".into();
    view.scale = choice(&["Dheerasankarabharanam", "all 12"]);
    view.tuning = choice(&["just", "pythagorean", "equal"]);
    view.drone.kind = choice(&["strings", "reed"]);
    view.drone.stringing = choice(&["Pa", "Ma", "Ni", "none"]);
    view.drone.level = "-18 dB".into();
    (view.drone.pluck_s, view.drone.pair_cents) = (1.1, 1.5);
    let strings =
        [(0, "the Pa string"), (2, "the first Sa string"), (3, "the second Sa string"), (4, "the low Sa string")];
    view.drone.trims = strings.map(|(place, name)| (place, name.to_owned(), 0.0)).to_vec();
    let reed =
        |(position, name): (u8, &str)| ReedView { position, name: name.into(), sounds: matches!(position, 0 | 7 | 12) };
    view.drone.reeds = [(0, "S"), (2, "R2"), (4, "G3"), (7, "P"), (12, "S'")].map(reed).to_vec();
    view.knobs = [
        (Field::Sa, "Sa", "D · 2 kattai", Some(11)),
        (Field::SaTrim, "Trim", "0 cents", None),
        (Field::ConcertPitch, "Concert pitch", "440.0 Hz", None),
        (Field::BandFixed, "Band for Sa and Pa", "20 cents", None),
        (Field::DroneLevel, "Drone level", "-18 dB", None),
        (Field::DroneTo, "Drone to", "Both", Some(2)),
        (Field::PrintDrone, "Print the drone in offline renders", "off", Some(1)),
    ]
    .map(|(field, name, text, steps)| Knob {
        field,
        name: name.into(),
        text: text.into(),
        normalised: 0.4,
        default: 0.5,
        steps,
        names: if steps == Some(2) {
            ["Main output", "Own output", "Both"].map(String::from).to_vec()
        } else {
            Vec::new()
        },
    })
    .to_vec();
    view
}

/// The line of a phrase that goes up and down, with a glide, a swing and a rest.
fn line(targets: &Targets, until_s: f64) -> Vec<LinePoint> {
    let phrase = [0.0, 203.91, 386.314, 498.045, 701.955, 701.955, 386.314, 203.91, 0.0, -498.045];
    let mut out = Vec::new();
    let mut t = until_s - 60.0;
    while t <= until_s {
        let at = (t / 1.6).floor();
        let (i, part) = (num::index(at.rem_euclid(10.0)), t / 1.6 - at);
        let target = phrase[i.min(9)];
        let before = phrase[(i + 9) % 10];
        let (cents, kind) = if part < 0.08 {
            (before + (target - before) * part / 0.08, Kind::Gliding)
        } else if i == 6 {
            (target + 90.0 * (part * 50.0).sin(), Kind::Oscillating)
        } else {
            (target + 14.0 * (at * 1.7).sin() + 4.0 * (t * 33.0).sin(), Kind::Held)
        };
        let rest = i == 9 && part > 0.7;
        let cents = (!rest).then_some(cents);
        let named = cents.and_then(|c| targets.nearest(Cents(c)));
        let beats = named.filter(|n| n.swara.position() == 0 || n.swara.position() == 7);
        out.push(LinePoint {
            time_s: t,
            cents: cents.map(num::single),
            named,
            kind: named.map(|_| kind),
            beats_hz: beats.map(|n| num::single(n.offset.0.abs() * 0.17)),
            several: false,
        });
        t += 0.005;
    }
    out
}

/// The Sa of the scene.
const SA: Hertz = Hertz(146.83);

fn note(i: u32, swara: Swara, octave: i8, offset: f64) -> NoteRow {
    let start_s = f64::from(i) * 3.0;
    let note = Note {
        kind: if i % 7 == 3 { Kind::Oscillating } else { Kind::Held },
        start: SampleTime(i64::from(i) * 144_000),
        end: SampleTime(i64::from(i) * 144_000 + 100_000),
        swara,
        sthayi: Sthayi(octave),
        offset: Cents(offset),
        cents: Cents(1200.0 * f64::from(octave) + offset),
        expected: true,
        octaves_off: 0,
        drift_per_s: 0.0,
        drift_error_per_s: 0.5,
        drift_said: false,
        wobble: Cents(6.0),
        waver_hz: None,
        in_tune: 0.8,
        onset: Onset { scoop: Cents(0.0), seconds: 0.0 },
        longest_steady_s: 1.5,
        judged_s: 1.8,
        timeline: None,
        pass: 0,
    };
    let bar_beat = i.is_multiple_of(2).then(|| (i64::from(i) + 1, i64::from(i) % 4 + 1));
    NoteRow {
        note,
        start_s,
        end_s: start_s + 2.1,
        bar_beat,
        outside: offset.abs() > 20.0,
        sa: SA,
        page: None,
        pupil: 0,
    }
}

/// An ordinary minute of singing, holding Pa a little high.
pub(super) fn normal() -> View {
    let mut view = empty();
    view.now_s = 72.4;
    view.shown_until_s = 72.4;
    view.kept_s = 72.4;
    view.caution_read = true;
    view.line = line(&view.targets, 70.0);
    // The note that sounds: Pa, entered low, settled 9 cents high.
    let mut t = 70.0;
    while t <= 72.4 {
        let offset = 9.0 - 40.0 * (-(t - 70.0) * 6.0f64).exp() + 2.5 * (t * 31.0).sin();
        let named = Named { swara: Swara::P, sthayi: Sthayi(0), offset: Cents(offset) };
        view.line.push(LinePoint {
            time_s: t,
            cents: Some(num::single(701.955 + offset)),
            named: Some(named),
            kind: Some(Kind::Held),
            beats_hz: Some(2.1),
            several: false,
        });
        t += 0.005;
    }
    let named = Named { swara: Swara::P, sthayi: Sthayi(0), offset: Cents(9.2) };
    view.reading = Some(named);
    view.current = Some(Current {
        start: SampleTime(0),
        seconds: 2.4,
        kind: Some(Kind::Held),
        named,
        cents: Cents(711.2),
        now: named,
        now_cents: Cents(711.2),
        expected: true,
        octaves_off: 0,
        uncertainty: Cents(1.5),
        wobble: Cents(4.0),
        drift_per_s: 0.0,
    });
    view.beats_hz = Some(2.1);
    view.long_tone = LongToneView { steady_s: 47.0, longest_s: 11.4, goal_minutes: 2.0, begun: true };
    view.level = Decibels(-20.0);
    view.judged_share = Some(0.71);
    view.page_age_s = 64.0;
    view.drone.on = true;
    view.drone.to = DroneTo::Own;
    let figures = [(12, 3.0, 8.0, 0.94), (7, -9.0, 11.0, 0.81), (2, 18.0, 6.0, 0.6), (0, 0.0, 0.0, 0.0)];
    let more = [(15, 6.0, 9.0, 0.9), (5, -26.0, 13.0, 0.44), (1, -12.0, 4.0, 0.9)];
    for (row, (notes, median, spread, in_tune)) in view.meter.iter_mut().zip(figures.into_iter().chain(more)) {
        row.summary = summary(notes, median, spread, in_tune);
    }
    let swaras = [Swara::S, Swara::R2, Swara::G3, Swara::P, Swara::D2];
    view.notes = (0..20u32)
        .map(|i| {
            let swara = swaras[num::index(f64::from(i % 5))];
            note(i, swara, 0, 40.0 * (f64::from(i) * 1.3).sin())
        })
        .collect();
    view.again = vec![1, 5, 6];
    view.marks =
        vec![Mark { id: 1, time_s: 60.0, word: "good Ga".into() }, Mark { id: 2, time_s: 66.0, word: String::new() }];
    view
}

pub(super) fn summary(notes: u32, median: f64, spread: f64, in_tune: f64) -> RowSummary {
    let some = notes > 0;
    RowSummary {
        notes,
        far: 0,
        judged_s: f64::from(notes) * 1.9,
        median: some.then_some(Cents(median)),
        spread: some.then_some(Cents(spread)),
        in_tune: some.then_some(in_tune),
        longest_steady_s: some.then(|| 1.0 + f64::from(notes) * 0.3),
    }
}

/// Everything at once, and every number as large as it can get.
pub(super) fn extreme() -> View {
    let mut view = normal();
    view.targets = twelve();
    view.now_s = 86_399.0;
    view.shown_until_s = 86_399.0;
    view.kept_s = 86_399.0;
    view.line = line(&view.targets, 86_399.0);
    view.meter = view
        .targets
        .by_position
        .iter()
        .flatten()
        .map(|t| MeterRow { swara: t.swara, target: t.cents, summary: summary(99_999, -99.6, 88.8, 1.0) })
        .collect();
    let named = Named { swara: Swara::G3, sthayi: Sthayi(2), offset: Cents(-599.9) };
    view.reading = Some(named);
    if let Some(current) = &mut view.current {
        (current.named, current.now) = (named, named);
        current.seconds = 3_599.9;
    }
    view.beats_hz = Some(99.9);
    view.level = Decibels(12.0);
    view.faults = Faults { dropouts: 9_999, cut_notes: 9_999 };
    view.unheard_hz = Some(384_000.0);
    view.trouble = Trouble { clipped: true, several: true, host_silent: true, dropouts: true, gated: true };
    view.octave = Some(("Your voice lies two octaves above the stated Sa.".into(), false));
    view.listening = false;
    view.drone.to = DroneTo::Both;
    view.drone.silent_after_reopen = true;
    view.device = Some(Device {
        input: choice(&["A microphone with a name that goes on and on and on"]),
        nothing: true,
        anew: false,
        sends_voice: false,
    });
    view.judged_share = Some(0.0);
    view.notes = (0..2000u32).map(|i| note(i, Swara::D3, -2, -599.0)).collect();
    view.again = vec![0, 1, 2, 99_999];
    view.marks = (0..50u32)
        .map(|i| Mark { id: u64::from(i), time_s: 86_000.0 + f64::from(i), word: "a rather long word".into() })
        .collect();
    view.up_down = Some((
        vec![Swara::S, Swara::R2, Swara::M1, Swara::P, Swara::D2],
        vec![Swara::N3, Swara::D2, Swara::P, Swara::M1, Swara::G3, Swara::R2, Swara::S],
    ));
    view.lesson = LessonView {
        exercises: choice(&["Long tone", "Fixed-tone round", "Ear first"]),
        options: vec![ExerciseOption {
            key: "swara".into(),
            name: "On".into(),
            choice: choice(&["S", "P"]),
            typed_like: String::new(),
        }],
        exercise: Some(ExerciseView {
            name: "Long tone".into(),
            call: "Hold Sa".into(),
            now: "Hold Sa; breathe when you like.".into(),
            told: "Wavering at 5 times a second.".into(),
            progress: Some(0.35),
            progress_text: "steady 0:42 of 2:00".into(),
            steps: vec![("S".into(), Some("on it".into())), ("P".into(), None)],
            may_skip: true,
            ..ExerciseView::default()
        }),
        about: "one swara, held steady, toward a goal in minutes; rests belong to it".into(),
        pupil_in_project: true,
        pupil_changed: false,
        profiles: choice(&["A pupil"]),
        pupil_drone: Some(Cents(-13.0)),
    };
    view
}

/// A round under way, on the sheet and in the strip.
pub(super) fn lesson() -> View {
    let mut view = normal();
    view.lesson = extreme().lesson;
    view
}

/// A round is over, the next begins: what there is to think of stands beside what is due.
pub(super) fn round_over() -> View {
    let mut view = View { lesson: extreme().lesson, caution_read: true, ..empty() };
    view.lesson.exercises.current = "Fixed-tone round".into();
    view.lesson.exercise = Some(ExerciseView {
        name: "Fixed-tone round".into(),
        call: "Listen: Sa".into(),
        now: "Listen: Sa.".into(),
        told: "This time: Pa a little higher.".into(),
        progress: Some(0.0),
        progress_text: "0 of 3 good rounds in a row".into(),
        steps: vec![
            ("Sa".into(), Some("on it (+3)".into())),
            ("Pa".into(), Some("35 cents low, unsteady".into())),
            ("tara Sa".into(), None),
        ],
        last_round: true,
        ..ExerciseView::default()
    });
    view
}

/// A note was sung and the ear is asked.
pub(super) fn ear_asked() -> View {
    let mut view = normal();
    view.lesson.exercise = Some(ExerciseView {
        name: "Ear first".into(),
        call: "Low, same or high?".into(),
        now: "Your own note, before the meter shows it: was it low, the same, or high?".into(),
        progress_text: "7 of 9 heard right (in all 34 of 50)".into(),
        asks_ear: true,
        hides: true,
        ..ExerciseView::default()
    });
    view
}

/// A drone's Sa was found; its register is asked.
pub(super) fn finding() -> View {
    let mut view = normal();
    let offer = |hz: f64, name: &str| Offer { sa: Hertz(hz), name: name.into(), reason: format!("{hz:.1} Hz") };
    view.finding = Some(FindingView {
        heard_s: None,
        range: false,
        told: "Sa was found. A drone alone does not tell the register: which one is yours?".into(),
        offers: vec![offer(146.8, "D3 · 2 kattai"), offer(293.7, "D4 · 2 kattai"), offer(73.4, "D2 · 2 kattai")],
    });
    view
}

/// A note of the list is looked at.
pub(super) fn note_chosen() -> View {
    let mut view = normal();
    let row = &view.notes[1];
    let line = line(&view.targets, row.end_s + 0.5).into_iter().filter(|p| p.time_s >= row.start_s - 0.5).collect();
    view.shown_note = Some(ShownNote { index: 1, line });
    view
}

/// Sa held in tara, its letter large.
pub(super) fn on_sa() -> View {
    let mut view = normal();
    let named = Named { swara: Swara::S, sthayi: Sthayi(1), offset: Cents(-14.0) };
    view.reading = Some(named);
    if let Some(current) = &mut view.current {
        (current.named, current.now) = (named, named);
    }
    view
}

/// Pa held for so long, `offset` cents off at each second of it.
fn holding(seconds: f64, offset: impl Fn(f64) -> f64) -> View {
    let mut view = normal();
    view.line = line(&view.targets, 70.0);
    let mut t = 0.0;
    while t <= seconds {
        let cents = 701.955 + offset(t);
        view.line.push(LinePoint {
            time_s: 70.0 + t,
            cents: Some(num::single(cents)),
            named: view.targets.nearest(Cents(cents)),
            kind: Some(Kind::Held),
            beats_hz: Some(1.0),
            several: false,
        });
        t += 0.005;
    }
    (view.now_s, view.shown_until_s) = (70.0 + seconds, 70.0 + seconds);
    if let Some(current) = &mut view.current {
        current.seconds = seconds;
    }
    view
}

/// A Pa of 6 s that is entered low, holds for 3 s and then wavers at 5 Hz.
pub(super) fn wavering() -> View {
    holding(6.0, |t| {
        let scoop = -60.0 * (-t * 7.0).exp();
        let waver = if t > 3.0 { 26.0 * (t * 31.4).sin() } else { 2.0 * (t * 27.0).sin() };
        9.0 + scoop + waver
    })
}

/// A Pa of 20 s that sinks slowly from a little high to a little low.
pub(super) fn long_hold() -> View {
    holding(20.0, |t| 14.0 - 1.5 * t + 3.0 * (t * 29.0).sin() + 2.0 * (t * 3.1).sin())
}

/// The call cuts notes, and a second voice sounds.
pub(super) fn bad_line() -> View {
    let mut view = normal();
    view.faults = Faults { dropouts: 1, cut_notes: 3 };
    view.trouble = Trouble { gated: true, several: true, ..Trouble::default() };
    view.lesson.pupil_drone = Some(Cents(-13.0));
    view
}
