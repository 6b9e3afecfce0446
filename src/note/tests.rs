//! The room as a whole: sung lines of known shape in, notes out.

use super::*;
use crate::pitch::F0Frame;
use crate::swara::{SwaraReading, Target, Targets, read};
use crate::units::{Decibels, num};
use std::f64::consts::TAU;

const HZ: f64 = 48_000.0;
const BAND: Band = Band { fixed: Cents(20.0), others: Cents(25.0) };

/// Twelve swarasthanas, 5-limit ratios.
fn targets() -> Targets {
    use Swara::*;
    let table = [
        (S, 1.0),
        (R1, 16.0 / 15.0),
        (R2, 9.0 / 8.0),
        (G2, 6.0 / 5.0),
        (G3, 5.0 / 4.0),
        (M1, 4.0 / 3.0),
        (M2, 45.0 / 32.0),
        (P, 3.0 / 2.0),
        (D1, 8.0 / 5.0),
        (D2, 5.0 / 3.0),
        (N2, 9.0 / 5.0),
        (N3, 15.0 / 8.0),
    ];
    Targets { by_position: table.map(|(swara, ratio)| Some(Target { swara, cents: Cents::of_ratio(ratio) })) }
}

/// The reading at `time` of a voice at `cents` above Sa = D3; `None`: silence.
pub(crate) fn reading_at(time: SampleTime, cents: Option<f64>, targets: &Targets) -> SwaraReading {
    let sa = Hertz(146.832);
    let frame = F0Frame {
        time,
        available: time,
        f0: cents.map(|c| sa.up(Cents(c))),
        voiced: cents.is_some(),
        confidence: 1.0,
        level: Decibels(-20.0),
        clipped: false,
        several: false,
    };
    read(&frame, sa, targets)
}

/// The same of frame `k`.
fn reading(k: i64, cents: Option<f64>) -> SwaraReading {
    reading_at(SampleTime(k * 240), cents, &targets())
}

/// The notes of a line over `seconds`, and what was shown while they sounded.
fn judge(seconds: f64, expected: Option<Expected>, line: impl Fn(f64) -> Option<f64>) -> (Vec<Note>, Vec<Current>) {
    let mut judge = Judge::new(SampleRate::new(HZ).unwrap());
    judge.expect(expected);
    let (mut notes, mut shown) = (Vec::new(), Vec::new());
    for k in 0..num::int(seconds * 200.0) {
        let cents = line(k as f64 / 200.0);
        judge.push(&reading(k, cents), &targets(), BAND, &mut |note, _| notes.push(*note));
        shown.extend(judge.current());
    }
    judge.finish(&targets(), BAND, &mut |note, _| notes.push(*note));
    (notes, shown)
}

/// Sounds from 0.5 s for `length` seconds.
fn sung(t: f64, length: f64, cents: f64) -> Option<f64> {
    (0.5..0.5 + length).contains(&t).then_some(cents)
}

/// A join of a raised cosine over 80 ms that ends at `at`.
fn joined(t: f64, at: f64, from: f64, to: f64) -> f64 {
    let way = ((t - at + 0.08) / 0.08).clamp(0.0, 1.0);
    from + (to - from) * 0.5 * (1.0 - (std::f64::consts::PI * way).cos())
}

#[test]
fn a_straight_pa_is_one_held_note() {
    let (notes, _) = judge(3.0, None, |t| sung(t, 2.0, 701.955 + 12.0));
    assert_eq!(notes.len(), 1);
    let note = notes[0];
    assert_eq!((note.kind, note.swara, note.sthayi), (Kind::Held, Swara::P, crate::swara::Sthayi(0)));
    assert!((note.offset.0 - 12.0).abs() < 0.1 && note.wobble.0 < 0.01 && note.in_tune == 1.0);
    assert!((note.seconds(SampleRate::new(HZ).unwrap()) - 2.0).abs() < 0.011);
    assert_eq!((note.start, note.octaves_off, note.expected), (SampleTime(24_000), 0, false));
    assert!((note.longest_steady_s - note.judged_s).abs() < 0.006);
    assert_eq!(note.advice(BAND), Advice::Stay);
}

/// A held tara Sa of -32 cents is a low Sa and no high N3, also where it is come to from N3.
#[test]
fn a_flat_tara_sa_is_a_low_sa() {
    let n3 = Cents::of_ratio(15.0 / 8.0).0;
    let alone = |t: f64| sung(t, 1.5, 1168.0);
    let from_below = |t: f64| match t {
        t if (0.5..1.2).contains(&t) => Some(joined(t, 1.2, n3, 1168.0)),
        t => sung(t - 0.7, 1.5, 1168.0),
    };
    for line in [&alone as &dyn Fn(f64) -> Option<f64>, &from_below] {
        let (notes, shown) = judge(3.5, None, line);
        let last = notes.last().unwrap();
        assert_eq!((last.kind, last.swara, last.sthayi), (Kind::Held, Swara::S, crate::swara::Sthayi(1)), "{notes:?}");
        assert!((last.offset.0 + 32.0).abs() < 0.5, "{notes:?}");
        assert!(shown.last().is_some_and(|last| last.named.swara == Swara::S));
    }
}

/// A beginner under Sa hears "below Sa", not the name of another swara; a wrong swara is never in tune.
#[test]
fn an_expected_sa_stays_sa() {
    let target = Target { swara: Swara::S, cents: Cents(0.0) };
    let sa = Expected { target, sthayi: crate::swara::Sthayi(0) };
    let cases = [(-180.0, Advice::Up), (-80.0, Advice::Up), (70.0, Advice::Down), (150.0, Advice::Down)];
    for (cents, advice) in cases {
        for octave in [-1200.0, 0.0, 1200.0] {
            let (notes, shown) = judge(2.5, Some(sa), |t| sung(t, 1.5, cents + octave));
            assert_eq!(notes.len(), 1);
            let note = notes[0];
            assert_eq!((note.swara, note.expected, note.in_tune), (Swara::S, true, 0.0), "{cents}");
            assert!((note.offset.0 - cents).abs() < 0.1 && note.advice(BAND) == advice);
            assert_eq!(f64::from(note.octaves_off) * 1200.0, octave);
            let last = shown.last().unwrap();
            assert!(last.named.swara == Swara::S && last.expected && (last.named.offset.0 - cents).abs() < 0.1);
        }
    }
}

/// Who sings Pa where Sa is asked for has sung Pa, not a Sa of 702 cents.
#[test]
fn another_swara_than_the_expected_one_is_named() {
    let target = Target { swara: Swara::S, cents: Cents(0.0) };
    let sa = Expected { target, sthayi: crate::swara::Sthayi(0) };
    for cents in [702.0, 498.0, -500.0] {
        let (notes, shown) = judge(2.5, Some(sa), |t| sung(t, 1.5, cents));
        assert_eq!(notes.len(), 1);
        assert!(notes[0].swara != Swara::S && !notes[0].expected && notes[0].offset.0.abs() < 5.0, "{:?}", notes[0]);
        assert!(shown.last().is_some_and(|last| last.named.swara == notes[0].swara && !last.expected));
    }
}

#[test]
fn drift_is_said_when_it_is_worth_saying() {
    let drifting = |per_s: f64, length: f64| {
        let waver = |t: f64| 1.5 * (TAU * 1.7 * t).sin() + (TAU * 4.1 * t).sin();
        judge(length + 1.0, None, move |t| sung(t, length, per_s * (t - 0.5) + waver(t))).0[0]
    };
    let up = drifting(6.0, 3.0);
    assert!(up.drift_said && (up.drift_per_s - 6.0).abs() < 1.0, "{up:?}");
    assert!(drifting(-5.0, 3.0).drift_said && !drifting(2.0, 3.0).drift_said && !drifting(9.0, 0.95).drift_said);
    // As much change, but no more than its own waver explains.
    let (notes, _) = judge(3.0, None, |t| sung(t, 1.6, 6.0 * (t - 0.5) + 14.0 * (TAU * 0.9 * t).sin()));
    assert!(!notes[0].drift_said, "{:?}", notes[0]);
}

#[test]
fn vibrato_is_judged_and_a_gamaka_is_not() {
    let swing = |hz: f64, width: f64| {
        let (notes, _) = judge(4.0, None, move |t| sung(t, 2.5, 5.0 + 0.5 * width * (TAU * hz * (t - 0.5)).sin()));
        assert_eq!(notes.len(), 1, "{hz} Hz, {width} c: {notes:?}");
        notes[0]
    };
    for (hz, width) in [(5.0, 60.0), (6.0, 100.0), (7.0, 110.0), (5.5, 30.0)] {
        let note = swing(hz, width);
        assert_eq!(note.kind, Kind::Held, "{hz} Hz, {width} c");
        assert!((note.offset.0 - 5.0).abs() < 2.0, "{note:?}");
        assert!((note.waver_hz.unwrap() - hz).abs() < 0.2, "{note:?}");
        // A sine's RMS is its width over 2 sqrt 2; the cleaning median takes a little off its turns.
        assert!((note.wobble.0 / (width / 8f64.sqrt()) - 1.0).abs() < 0.1, "{note:?}");
        assert!(width < 50.0 || note.in_tune > 0.9, "{note:?}");
    }
    for (hz, width) in [(5.5, 180.0), (3.0, 80.0), (2.7, 70.0), (4.0, 250.0)] {
        assert_eq!(swing(hz, width).kind, Kind::Oscillating, "{hz} Hz, {width} c");
    }
}

/// A swing of vibrato's rate and width whose centre wanders from cycle to cycle is a kampita.
#[test]
fn a_wandering_centre_gives_a_kampita_away() {
    let line = |t: f64| 0.5 * 100.0 * (TAU * 5.5 * t).sin() + 14.0 * (TAU * 1.3 * t).sin();
    let (notes, _) = judge(4.0, None, |t| sung(t, 2.5, line(t)));
    assert!(notes.iter().all(|note| note.kind == Kind::Oscillating), "{notes:?}");
}

#[test]
fn a_slide_is_gliding_and_its_ends_are_held() {
    let way = |t: f64| 350.0 * (1.0 - (std::f64::consts::PI * ((t - 1.5) / 0.7).clamp(0.0, 1.0)).cos());
    let (notes, _) = judge(4.0, None, |t| sung(t, 2.7, way(t)));
    let kinds: Vec<Kind> = notes.iter().map(|note| note.kind).collect();
    assert_eq!(kinds, [Kind::Held, Kind::Gliding, Kind::Held]);
    assert_eq!((notes[0].swara, notes[2].swara, notes[1].judged_s), (Swara::S, Swara::P, 0.0));
}

#[test]
fn swaras_on_one_vowel_are_notes_of_their_own() {
    let line = |t: f64| joined(t, 2.0, joined(t, 1.5, joined(t, 1.0, 0.0, 203.91), 386.31), 203.91);
    let (notes, _) = judge(3.0, None, |t| sung(t, 2.0, line(t)));
    let names: Vec<Swara> = notes.iter().map(|note| note.swara).collect();
    assert_eq!(names, [Swara::S, Swara::R2, Swara::G3, Swara::R2]);
    for (note, start) in notes.iter().zip([0.5, 1.0, 1.5, 2.0]) {
        assert!((note.start.seconds(SampleRate::new(HZ).unwrap()) - start).abs() < 0.03, "{note:?}");
    }
}

/// The touch from below in a janta pair divides the two swaras and bends neither.
#[test]
fn a_spurita_touch_is_no_error() {
    let touch = |t: f64| -110.0 * 0.5 * (1.0 - (TAU * ((t - 1.0) / 0.11).clamp(0.0, 1.0)).cos());
    let (notes, _) = judge(2.5, None, |t| sung(t, 1.2, touch(t)));
    assert_eq!(notes.len(), 2, "{notes:?}");
    assert!(notes.iter().all(|n| n.kind == Kind::Held && n.swara == Swara::S && n.offset.0.abs() < 1.0));
}

/// A tracker that slips by octaves for a moment, within a note or at its beginning, neither cuts nor hides it.
#[test]
fn slips_of_the_tracker_do_not_count() {
    let slip = |t: f64| if (1.2..1.26).contains(&t) || (2.6..2.64).contains(&t) { 1200.0 } else { 0.0 };
    let line = |t: f64| sung(t, 1.5, 6.0 + slip(t)).or(sung(t - 2.1, 1.0, 6.0 + slip(t)));
    let (notes, _) = judge(4.0, None, line);
    assert_eq!(notes.len(), 2, "{notes:?}");
    assert!(notes.iter().all(|n| n.kind == Kind::Held && (n.offset.0 - 6.0).abs() < 0.2 && n.wobble.0 < 0.1));
    assert!((notes[0].judged_s - 1.2).abs() < 0.15 && notes[1].judged_s > 0.6, "{notes:?}");
}

#[test]
fn a_scoop_belongs_to_its_note_and_is_told() {
    let (notes, _) = judge(3.0, None, |t| sung(t, 2.0, -150.0 * (-(t - 0.5) / 0.07).exp()));
    assert_eq!(notes.len(), 1);
    assert_eq!(notes[0].start, SampleTime(24_000));
    assert!((-155.0..-120.0).contains(&notes[0].onset.scoop.0), "{:?}", notes[0].onset);
    assert!((0.1..0.3).contains(&notes[0].onset.seconds) && notes[0].offset.0.abs() < 1.0);
}

/// A creaky beginning that reads an octave off for some frames is no scoop; a scoop that comes after it still is.
#[test]
fn an_octave_slip_at_the_beginning_is_no_scoop() {
    for slip in [-1200.0, 1200.0, -600.0] {
        let creaky = |t: f64| if t < 0.53 { slip } else { 0.0 };
        let (notes, _) = judge(3.0, None, |t| sung(t, 2.0, creaky(t)));
        assert_eq!(notes.len(), 1, "{notes:?}");
        assert!(notes[0].onset.scoop.0.abs() < 1.0 && notes[0].offset.0.abs() < 0.2, "{:?}", notes[0]);
    }
    for (slip, per_s) in
        [(-1200.0, 0.0), (1200.0, 0.0), (1900.0, 800.0), (1900.0, -800.0), (-1200.0, 1000.0), (-600.0, 1000.0)]
    {
        let after = |t: f64| if t < 0.53 { slip + per_s * (t - 0.5) } else { -150.0 * (-(t - 0.53) / 0.07).exp() };
        let (notes, _) = judge(3.0, None, |t| sung(t, 2.0, after(t)));
        assert_eq!(notes.len(), 1, "{notes:?}");
        assert!((-155.0..-100.0).contains(&notes[0].onset.scoop.0), "{slip}: {:?}", notes[0].onset);
        assert!((0.05..0.3).contains(&notes[0].onset.seconds), "{:?}", notes[0].onset);
    }
    // An octave's glide without a leap: a way, but no scoop.
    let (notes, _) = judge(3.0, None, |t| sung(t, 2.0, 1200.0 * ((t - 0.5) / 0.14).min(1.0)));
    assert!(notes.iter().all(|note| note.onset.scoop.0.abs() < 1.0), "{notes:?}");
    assert!(notes.iter().any(|note| note.kind == Kind::Held && (note.cents.0 - 1200.0).abs() < 1.0), "{notes:?}");
}

/// Ten minutes of Sa are one note, its figures as exact as a short one's.
#[test]
fn a_hold_of_minutes_is_one_note() {
    let (notes, shown) = judge(601.0, None, |t| sung(t, 600.0, 3.0 + 0.01 * (t - 0.5)));
    assert_eq!(notes.len(), 1);
    assert!((notes[0].judged_s - 599.7).abs() < 0.03, "{}", notes[0].judged_s);
    assert!((notes[0].offset.0 - 6.0).abs() < 0.1 && (notes[0].drift_per_s - 0.01).abs() < 1e-4);
    assert!(shown.last().unwrap().seconds > 599.9);
}

#[test]
fn silence_and_bad_numbers_make_no_note() {
    let (notes, shown) = judge(3.0, None, |_| None);
    assert!(notes.is_empty() && shown.is_empty());
    let mut judge = Judge::new(SampleRate::new(HZ).unwrap());
    let mut notes = 0;
    for k in 0..600 {
        let mut bad = reading(k, Some(0.0));
        bad.cents = Some(Cents([f64::NAN, f64::INFINITY, f64::NEG_INFINITY][usize::try_from(k % 3).unwrap()]));
        bad.frame.level = Decibels(f64::NAN);
        judge.push(&bad, &targets(), BAND, &mut |_, _| notes += 1);
        assert!(judge.current().is_none());
    }
    judge.finish(&targets(), BAND, &mut |_, _| notes += 1);
    assert_eq!(notes, 0);
    // Nothing is poisoned: what is sung next is judged as ever.
    for k in 0..300 {
        judge.push(&reading(k, Some(4.0)), &targets(), BAND, &mut |_, _| notes += 1);
    }
    judge.finish(&targets(), BAND, &mut |note, _| assert!((note.offset.0 - 4.0).abs() < 0.1));
}

#[test]
fn the_sounding_note_is_shown_from_a_quarter_second_on() {
    let (notes, shown) = judge(2.5, None, |t| sung(t, 1.5, 7.0 + 3.0 * (TAU * 2.0 * t).sin()));
    let first = shown.iter().find(|current| current.kind.is_some()).unwrap();
    assert!((0.25..0.3).contains(&first.seconds), "{first:?}");
    let last = shown.last().unwrap();
    assert!(last.uncertainty.0 < first.uncertainty.0.max(4.0) && last.uncertainty.0 > 0.0);
    assert!((last.cents.0 - notes[0].cents.0).abs() < 3.0);
}

/// Who strays within a note is told so within half a second, not when most of the note has strayed; likewise on the way
/// back, and who goes on to another swara without a breath is told its name.
#[test]
fn a_sounding_note_is_told_by_where_it_is_now() {
    let strays = |t: f64| sung(t, 9.0, -80.0 * ((t - 5.0).clamp(0.0, 0.5) - (t - 8.0).clamp(0.0, 0.5)));
    let (_, shown) = judge(10.0, None, strays);
    let at = |seconds: f64| shown.iter().find(|now| now.seconds >= seconds).unwrap();
    for (seconds, advice, offset) in
        [(4.4, Advice::Stay, 0.0), (5.5, Advice::Up, -40.0), (7.4, Advice::Up, -40.0), (8.5, Advice::Stay, 0.0)]
    {
        let now = at(seconds);
        assert!(now.advice(BAND) == advice && (now.now.offset.0 - offset).abs() < 1.0, "{seconds}: {now:?}");
    }
    assert!(at(7.4).named.offset.0.abs() < 1.0, "the note as a whole is still what it was");
    // A vibrato of 60 cents at 5.3 Hz does not carry the figure along.
    let (_, shown) = judge(5.0, None, |t| sung(t, 4.0, 30.0 * (TAU * 5.3 * t).sin()));
    assert!(shown.iter().filter(|now| now.seconds > 1.0).all(|now| now.now.offset.0.abs() < 8.0));
}

#[test]
fn reset_gives_the_initial_state() {
    let rate = SampleRate::new(HZ).unwrap();
    let run = |judge: &mut Judge| {
        let mut notes = Vec::new();
        for k in 0..500 {
            judge.push(&reading(k, sung(k as f64 / 200.0, 1.5, 9.0)), &targets(), BAND, &mut |n, _| notes.push(*n));
        }
        notes
    };
    let mut judge = Judge::new(rate);
    let first = run(&mut judge);
    judge.push(&reading(500, Some(300.0)), &targets(), BAND, &mut |_, _| ());
    judge.reset();
    assert_eq!(run(&mut judge), first);
    assert_eq!(first.len(), 1);
}

/// Median, slope, spread and share against numpy 2.4.6 (median, polyfit, std, mean); see the file's head.
#[test]
fn figures_as_a_statistics_library_gives_them() {
    let file = include_str!("../../tests/data/pitch_line.txt");
    let figure = |name: &str| -> f64 {
        file.lines().find_map(|l| l.strip_prefix("# ")?.strip_prefix(name)?.trim().parse().ok()).unwrap()
    };
    let mut part = part::Part::new();
    for (k, x) in file.lines().filter_map(|l| l.parse::<f64>().ok()).enumerate() {
        part.add(k as u64, x);
    }
    let fit = part.fit();
    assert!((part.median().unwrap() - figure("median")).abs() < 0.1);
    assert!((fit.slope - figure("slope_per_s")).abs() < 1e-5);
    assert!((fit.wobble - figure("wobble")).abs() < 1e-5);
    assert!((part.in_tune(701.955, 8.0) - figure("share_within_8")).abs() < 0.01);
}

/// However slowly, a way is no held note, live neither; a drift as singers have it is one.
#[test]
fn a_slow_glide_is_drawn_and_never_judged() {
    for pace in [-200.0, 150.0] {
        let (notes, shown) = judge(6.0, None, |t| sung(t, 5.0, 0.0).map(|_| 200.0 + pace * (t - 0.5)));
        assert!(notes.iter().all(|note| note.kind == Kind::Gliding && note.judged_s == 0.0), "{pace}: {notes:?}");
        let held = shown.iter().filter(|now| now.kind == Some(Kind::Held) && now.seconds > 0.5).count();
        assert_eq!(held, 0, "{pace}");
    }
    let (notes, _) = judge(6.0, None, |t| sung(t, 5.0, 0.0).map(|_| 702.0 - 10.0 * (t - 0.5)));
    assert_eq!(notes.iter().map(|note| note.kind).collect::<Vec<_>>(), [Kind::Held]);
}

/// A slide of seconds after a note is not judged with it.
#[test]
fn a_long_slide_out_of_a_note_is_none_of_it() {
    for length in [0.4, 1.0, 3.0] {
        let end = 0.5 + length;
        let line = |t: f64| sung(t, length + 4.0, 0.0).map(|_| 702.0 + 370.0 * (t - end).max(0.0));
        let (notes, _) = judge(end + 4.5, None, line);
        let note = notes.iter().find(|note| note.kind == Kind::Held).unwrap();
        let rate = SampleRate::new(HZ).unwrap();
        assert!(note.judged_s < note.seconds(rate) && (note.seconds(rate) - length).abs() < 0.1, "{length}: {note:?}");
        assert!(note.offset.0.abs() < 0.5 && note.wobble.0 < 6.0, "{length}: {note:?}");
    }
}

#[cfg(not(feature = "plugin"))]
#[test]
fn judging_never_allocates() {
    let mut judge = Judge::new(SampleRate::new(HZ).unwrap());
    let (targets, mut notes, mut k) = (targets(), 0, 0);
    let line = |t: f64| sung(t % 4.0, 3.0, joined(t % 4.0, 2.0, 40.0 * (TAU * 6.0 * t).sin(), 700.0));
    nice_assert_no_alloc::assert_no_alloc(|| {
        while k < 4_000 {
            judge.push(&reading(k, line(k as f64 / 200.0)), &targets, BAND, &mut |_, _| notes += 1);
            k += 1;
        }
        judge.finish(&targets, BAND, &mut |_, _| notes += 1);
        judge.reset();
    });
    assert!(notes >= 8, "{notes}");
}

/// The notes of a straight Pa of two seconds with a second voice over the part of it that `both` names, seconds.
fn with_another(both: std::ops::Range<f64>) -> Vec<Note> {
    let (mut judge, mut notes) = (Judge::new(SampleRate::new(HZ).unwrap()), Vec::new());
    for k in 0..600 {
        let t = k as f64 / 200.0;
        let mut reading = reading(k, sung(t, 2.0, 701.955 + 12.0));
        // What the other voice does to the reading: a fifth of a tone beside it.
        if both.contains(&t) {
            reading.frame.several = true;
            reading.cents = reading.cents.map(|c| Cents(c.0 + 15.0));
        }
        judge.push(&reading, &targets(), BAND, &mut |note, _| notes.push(*note));
    }
    judge.finish(&targets(), BAND, &mut |note, _| notes.push(*note));
    notes
}

#[test]
fn a_note_is_judged_up_to_where_another_voice_comes_in() {
    let rate = SampleRate::new(HZ).unwrap();
    // It is said 0.4 s after it came in, at the latest.
    for said in [1.2, 1.6, 2.2] {
        let notes = with_another(said..2.9);
        let [note] = notes[..] else { panic!("{said}: {notes:?}") };
        assert_eq!(note.kind, Kind::Held);
        assert!((note.offset.0 - 12.0).abs() < 0.2 && note.wobble.0 < 1.0, "{said}: {note:?}");
        assert!((note.seconds(rate) - (said - 0.4 - 0.5)).abs() < 0.03, "{said}: {note:?}");
        assert!(note.judged_s < note.seconds(rate), "{said}: {note:?}");
    }
    assert_eq!(with_another(9.0..9.0).len(), 1);
}

#[test]
fn what_begins_among_two_voices_is_no_note() {
    // Said as the note begins, and until 0.6 s before it ends.
    assert!(with_another(0.4..1.9).is_empty());
    // Said 0.42 s after it began: what was alone of it is shorter than any note.
    assert!(with_another(0.92..1.9).is_empty());
    // In the middle: only what was before.
    let notes = with_another(1.4..1.6);
    assert_eq!(notes.len(), 1, "{notes:?}");
    assert!(notes[0].end.0 < num::int(1.05 * HZ), "{notes:?}");
}
