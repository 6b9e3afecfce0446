//! What the window asks of an instance that plays: the drone as it is set, a swara on demand, a note as it was sung.

use super::super::drone;
use super::super::replay::{self, Replaying};
use super::{Filler, Instance, Links, Session, above, sa, turned};
use crate::drone::{First, Kind};
use crate::editor::action::DroneChange;
use crate::editor::troubles;
use crate::editor::view::View;
use crate::shell::bridge::Command;
use crate::shell::setup::Setup;
use crate::swara::{Swara, Tuning};
use crate::units::Cents;

fn setup(links: &Links) -> Setup {
    links.choices.look(|compiled| compiled.setup)
}

fn shown(instance: &Instance) -> View {
    let mut filler = Filler::new(&instance.links);
    filler.fill(&instance.links, &mut Session::default(), (1.0, false));
    filler.view.clone()
}

#[test]
fn what_is_set_of_the_drone_is_kept_and_sounds() {
    let instance = Instance::new();
    let links = &instance.links;
    let set = |change| {
        let view = shown(&instance);
        links.choices.change(|chosen| drone::change(change, chosen, &view.drone.reeds));
        (setup(links).drone, shown(&instance).drone, links.choices.chosen())
    };
    let (drone, view, chosen) = set(DroneChange::Fifth(true));
    assert!(drone.stringing.with_ni && view.fifth && chosen.fifth_string);
    assert!(view.trims.iter().any(|(place, name, _)| (*place, name.as_str()) == (1, "the Ni string")));
    let (drone, view, chosen) = set(DroneChange::Pluck(2.0));
    assert_eq!((drone.pluck_s, view.pluck_s, chosen.pluck_seconds), (2.0, 2.0, 2.0));
    let (drone, view, chosen) = set(DroneChange::Pair(4.0));
    assert_eq!((drone.pair_detune, view.pair_cents, chosen.pair_cents), (Cents(4.0), 4.0, 4.0));
    let (drone, view, chosen) = set(DroneChange::Trim(4, -7.5));
    assert_eq!((drone.trims[4], chosen.string_trims[4]), (Cents(-7.5), -7.5));
    assert!(view.trims.contains(&(4, "the low Sa string".to_owned(), -7.5)));
    links.choices.change(|chosen| chosen.drone_kind = "reed".into());
    let (drone, view, _) = set(DroneChange::Reed(4, true));
    let sounding = |sounding: [bool; 13]| (0..13).filter(|i| sounding[*i]).collect::<Vec<_>>();
    assert_eq!((drone.kind, sounding(drone.reeds.sounding)), (Kind::Reed, vec![0, 4, 7, 12]));
    assert!(view.own_reeds);
    let (drone, ..) = set(DroneChange::Reed(7, false));
    assert_eq!(sounding(drone.reeds.sounding), [0, 4, 12]);
    let (drone, view, _) = set(DroneChange::PlainReeds);
    assert_eq!((sounding(drone.reeds.sounding), view.own_reeds), (vec![0, 7, 12], false));
}

#[test]
fn above_the_drones_reach_the_window_says_that_it_sounds_an_octave_lower() {
    let instance = Instance::new();
    // B5 is 988 Hz, D3 147.
    for (sa, octave, lower) in [("b", 5, true), ("d", 3, false)] {
        let links = turned(&instance.links, |knobs| {
            (knobs.sa, knobs.saoct, knobs.drone) = (sa.to_owned(), octave, true);
        });
        let mut filler = Filler::new(&links);
        filler.fill(&links, &mut Session::default(), (1.0, false));
        let said = troubles::troubles(&filler.view);
        let said =
            said.iter().any(|(text, _)| text == "The drone sounds an octave lower: it does not reach up to this Sa.");
        assert_eq!(said, lower, "{sa}{octave}");
    }
}

#[test]
fn a_tuning_files_own_pa_is_said_beside_the_tuning() {
    let instance = Instance::new();
    let file = Tuning::from_scl("vina.scl", b"d\n3\n5/4\n712.45\n2/1\n").unwrap();
    instance.links.choices.change(|chosen| chosen.tuning = file.into());
    let pa =
        |view: &View| view.tuning_remarks.iter().filter(|said| said.contains("712.45 cents; Pa stays 3/2")).count();
    assert_eq!(pa(&shown(&instance)), 1);
    assert_eq!(setup(&instance.links).positions[7], Cents::of_ratio(1.5), "the target stays with the drone");
    instance.links.choices.change(|chosen| chosen.tuning = Tuning::Just.into());
    assert!(shown(&instance).tuning_remarks.is_empty());
}

#[test]
fn another_first_string_begins_without_the_trim_of_the_one_before() {
    let instance = Instance::new();
    let links = &instance.links;
    links.choices.change(|chosen| {
        drone::change(DroneChange::Trim(0, 4.0), chosen, &[]);
        drone::change(DroneChange::Trim(4, -2.0), chosen, &[]);
        // Pa again is no other string.
        drone::restring("pa", chosen);
    });
    assert_eq!(links.choices.chosen().string_trims, [4.0, 0.0, 0.0, 0.0, -2.0]);
    links.choices.change(|chosen| drone::restring("ma", chosen));
    assert_eq!(links.choices.chosen().first_string, "ma");
    assert_eq!(links.choices.chosen().string_trims, [0.0, 0.0, 0.0, 0.0, -2.0]);
}

#[test]
fn the_sa_before_is_offered_for_a_while_after_another_was_taken_at_once() {
    let instance = Instance::new();
    let (links, mut session) = (&instance.links, Session::default());
    let (mut filler, now) = (Filler::new(links), sa());
    let mut offered = |session: &mut Session, time_s: f64| {
        filler.fill(links, session, (time_s, false));
        filler.view.sa_before.clone()
    };
    assert_eq!(offered(&mut session, 1.0), None);
    let old = now.up(Cents(-200.0));
    session.before = Some((1.0, old, now));
    let (back, name) = offered(&mut session, 2.0).expect("it was taken at once");
    assert_eq!(back, old);
    assert!(name.contains("kattai"), "{name}");
    assert!(offered(&mut session, 30.0).is_some());
    assert_eq!(offered(&mut session, 31.1), None, "after half a minute it stands");
    // Where Sa has moved on since, or did not move at all, there is nothing to go back to.
    session.before = Some((40.0, old, now.up(Cents(300.0))));
    assert_eq!(offered(&mut session, 41.0), None);
    session.before = Some((40.0, now.up(Cents(0.2)), now));
    assert_eq!(offered(&mut session, 41.0), None);
}

#[test]
fn a_note_says_in_which_raga_and_tuning_it_was_sung() {
    let mut instance = Instance::new();
    let (mut session, mut filler) = (Session::default(), Filler::new(&instance.links));
    let sing = |instance: &mut Instance| {
        instance.sing(super::above(40.0), 1.2, |_| {});
        instance.sing(0.0, 0.8, |_| {});
    };
    sing(&mut instance);
    filler.fill(&instance.links, &mut session, (1.0, false));
    assert_eq!((filler.view.notes.len(), filler.view.again.as_slice()), (1, &[0][..]));
    assert!(filler.view.others_of(&filler.view.notes[0]).is_empty());
    instance.links.choices.change(|chosen| chosen.scale = "mela-15".into());
    filler.fill(&instance.links, &mut session, (2.0, false));
    assert!(filler.view.again.is_empty(), "it is another raga's");
    sing(&mut instance);
    filler.fill(&instance.links, &mut session, (3.0, false));
    let told = |view: &View| view.notes.iter().map(|row| view.others_of(row)).collect::<Vec<_>>();
    let first = told(&filler.view);
    assert_eq!((first[0].len(), first[1].len()), (1, 0), "{first:?}");
    assert_eq!(first[0][0].0, "other raga");
    instance
        .links
        .choices
        .change(|chosen| chosen.tuning = crate::swara::tuning::SavedTuning::from(crate::swara::Tuning::Equal));
    filler.fill(&instance.links, &mut session, (4.0, false));
    let both = told(&filler.view);
    assert_eq!((both[0].len(), both[1].len()), (2, 1), "{both:?}");
    // A window that is opened later says the same.
    let mut anew = Filler::new(&instance.links);
    anew.fill(&instance.links, &mut Session::default(), (5.0, false));
    assert_eq!(told(&anew.view), both);
}

#[test]
fn a_first_string_is_proposed_and_never_switched_by_itself() {
    let instance = Instance::new();
    let links = &instance.links;
    let scale = |key: &str| {
        links.choices.change(|chosen| chosen.scale = key.into());
        (shown(&instance).drone.proposal, setup(links).drone.stringing.first, links.choices.chosen().first_string)
    };
    assert_eq!(scale("mela-15"), (None, First::Pa, "pa".into()));
    let (proposal, first, kept) = scale("janya-hindolam");
    let proposal = proposal.expect("it has no Pa");
    assert_eq!(proposal.told, "This raga has no Pa: Ma as first string suits it.");
    assert_eq!((proposal.take.as_str(), proposal.key.as_str()), ("Take Ma", "ma"));
    assert_eq!((first, kept.as_str()), (First::Pa, "pa"), "nothing switches by itself");
    // Taken, it stays when the raga changes, and is only asked about again.
    links.choices.change(|chosen| chosen.first_string = proposal.key.clone());
    assert_eq!(scale("janya-hindolam"), (None, First::Ma, "ma".into()));
    let (proposal, first, _) = scale("janya-mohanam");
    assert_eq!((proposal.expect("it has no Ma").key.as_str(), first), ("pa", First::Ma));
}

#[test]
fn in_every_tuning_the_fixed_targets_are_the_drones() {
    let instance = Instance::new();
    let links = &instance.links;
    for name in ["just", "just-27-16", "pythagorean", "equal"] {
        links.choices.change(|c| c.tuning = Tuning::from_name(name).unwrap().into());
        let setup = setup(links);
        let pa = setup.targets.at(7).unwrap().cents;
        let drone = setup.drone(sa(), crate::units::Decibels(-12.0), true);
        let string = drone.strings_hz()[0].unwrap();
        assert!((string.0 / sa().0 - 0.75).abs() < 1e-9, "{name}");
        assert!((pa.ratio() - 1.5).abs() < 1e-9 && setup.targets.at(0).unwrap().cents.0.abs() < 1e-9, "{name}");
    }
}

#[test]
fn a_nudge_moves_its_target_and_opens_a_page() {
    let instance = Instance::new();
    let links = &instance.links;
    let (before, page) = (setup(links).targets.at(4).unwrap().cents.0, setup(links).page);
    links.choices.change(|chosen| chosen.nudges[4] = -12.0);
    assert!((setup(links).targets.at(4).unwrap().cents.0 - before + 12.0).abs() < 1e-9);
    assert_ne!(setup(links).page, page);
    assert_eq!(shown(&instance).nudges[4], -12.0);
}

/// The strongest pitch of what comes out over so long, cents above Sa.
fn heard(instance: &mut Instance, seconds: f64) -> f64 {
    let mut sound = Vec::new();
    let until = instance.seconds() + seconds;
    while instance.seconds() < until {
        instance.block(0.0);
        sound.extend_from_slice(&instance.sound);
    }
    // Energy at every cent about the singer's octave.
    let energy = |cents: f64| {
        let step = std::f64::consts::TAU * above(cents) / super::RATE;
        let (a, b) = sound.iter().enumerate().fold((0.0, 0.0), |(a, b), (i, x)| {
            let (sin, cos) = (step * i as f64).sin_cos();
            (a + cos * f64::from(*x), b + sin * f64::from(*x))
        });
        a * a + b * b
    };
    let near = (-300..1500).step_by(20).map(f64::from);
    near.max_by(|a, b| energy(*a).total_cmp(&energy(*b))).unwrap()
}

#[test]
fn a_swara_on_demand_sounds_in_the_tuning_and_the_singers_register_and_ends() {
    let mut instance = Instance::new();
    instance.links.choices.change(|chosen| chosen.nudges[4] = -20.0);
    let links = instance.links.clone();
    let mut session = Session::default();
    let mut view = shown(&instance);
    assert!(replay::reference(&links, &mut session, &view, Some(Swara::G3)));
    instance.sing(0.0, 0.3, |_| {});
    let cents = heard(&mut instance, 0.4);
    let target = setup(&links).targets.at(4).unwrap().cents.0;
    assert!((cents - target).abs() <= 12.0, "{cents} instead of {target}");
    assert_eq!(session.reference, Some(Swara::G3));
    assert!(replay::reference(&links, &mut session, &view, None));
    instance.sing(0.0, 0.5, |_| {});
    assert!(instance.out() < 1e-4 && session.reference.is_none());
    // Whoever sings in tara hears it there.
    view.reading = Some(crate::swara::Named { swara: Swara::S, sthayi: crate::swara::Sthayi(1), offset: Cents(0.0) });
    assert!(replay::reference(&links, &mut session, &view, Some(Swara::S)));
    instance.sing(0.0, 0.3, |_| {});
    let cents = heard(&mut instance, 0.4);
    assert!((cents - 1200.0).abs() <= 12.0, "{cents}");
}

/// No block is processed, or bypass is on: what is asked for then is not heard when the sound is back, and the window says why.
#[test]
fn what_is_asked_for_without_sound_is_dropped_and_said() {
    use super::super::act::Doer;
    use crate::editor::action::Action;
    let gui = inproc_host::context::willing();
    for (bypass, told) in [(false, "not sending audio"), (true, "Bypass is on")] {
        let mut instance = Instance::new();
        // As the host has it: this one's knobs move where the test says.
        let links = turned(&instance.links, |knobs| knobs.bypass = bypass);
        let mut session = Session::default();
        let mut filler = Filler::new(&links);
        instance.sing(above(0.0), 1.5, |_| {});
        instance.sing(0.0, 1.0, |_| {});
        filler.fill(&links, &mut session, (instance.seconds(), false));
        let row = filler.view.notes.len();
        assert_eq!(row, 1);
        // The sound ends while a swara sounds that was asked for in time.
        assert!(replay::reference(&links, &mut session, &filler.view, Some(Swara::P)));
        instance.sing(0.0, 0.3, |_| {});
        assert!(instance.out() > 0.01);
        filler.fill(&links, &mut session, (instance.seconds(), false));
        let later_s = instance.seconds() + 2.0;
        instance.knobs.bypass = bypass;
        if bypass {
            instance.sing(0.0, 2.0, |_| {});
        }
        filler.fill(&links, &mut session, (later_s, false));
        assert_eq!(filler.view.trouble.host_silent, !bypass);
        replay::lapse(&links, &mut session, &filler.view);
        assert!(session.reference.is_none() && session.said.contains(told), "{}", session.said);
        session.said.clear();
        for action in [Action::Reference(Some(Swara::P)), Action::PlayNote(0), Action::PlayTarget(0)] {
            let (view, ctx) = (&filler.view, egui::Context::default());
            Doer { links: &links, session: &mut session, gui: &gui, view, ctx, time_s: later_s }.act(action.clone());
            assert!(std::mem::take(&mut session.said).contains(told), "{action:?}");
            assert!(session.reference.is_none() && session.replaying.is_none(), "{action:?}");
        }
        instance.knobs.bypass = false;
        let mut loudest = 0.0f32;
        instance.sing(0.0, 0.3, |_| {});
        instance.sing(0.0, 2.0, |i| loudest = loudest.max(i.out()));
        assert!(loudest < 1e-4, "bypass {bypass}: {loudest}");
    }
}

#[test]
fn an_exercise_has_its_own_tone_again_when_the_one_asked_for_ends() {
    let mut instance = Instance::new();
    let links = instance.links.clone();
    let mut session = Session::default();
    let place = super::lesson::place(&links);
    let exercise = super::find("long-tone").unwrap();
    let along = |key: &str| (key == "tone").then(|| "along".to_owned());
    links.bridge.history(|h| h.practice.start(exercise, &along, (&place.0, place.1)));
    instance.sing(0.0, 0.3, |_| {});
    let view = shown(&instance);
    assert!(replay::reference(&links, &mut session, &view, Some(Swara::P)));
    assert!(replay::reference(&links, &mut session, &view, None));
    links.bridge.history(|_| {});
    instance.sing(0.0, 0.3, |_| {});
    assert!(instance.out() > 0.01);
}

#[test]
fn a_note_as_it_was_sung_follows_its_line_and_has_the_drone_first() {
    let mut instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    // A Sa that drifts from 0 to 48 cents within two and a half seconds.
    for step in 0..50u32 {
        instance.sing(above(f64::from(step)), 0.05, |_| {});
    }
    instance.sing(0.0, 1.0, |_| {});
    filler.fill(&instance.links, &mut session, (instance.seconds(), false));
    let view = &filler.view;
    let row = &view.notes[0];
    let line = instance.links.bridge.history(|history| replay::line(history, row));
    let cents: Vec<f64> = line.iter().map(|(_, cents)| *cents).collect();
    assert!(cents.len() > 100 && cents[cents.len() - 10] - cents[10] > 25.0, "the drift is in it: {cents:?}");
    let links = instance.links.clone();
    assert!(replay::begin((&links, &mut session), view, (0, false), 10.0));
    let replaying = session.replaying.clone().unwrap();
    assert!(replaying.lends, "the drone is off: it is lent");
    assert_eq!(replaying.at(10.5), Some(None), "the drone comes first");
    let pitch = |time_s: f64| match replaying.at(time_s) {
        Some(Some(Command::Play(cents, _))) => cents.0,
        other => panic!("{time_s}: {other:?}"),
    };
    let (early, late) = (pitch(11.3), pitch(12.6));
    assert!(late - early > 15.0, "{early} {late}");
    assert_eq!(replaying.at(20.0), None, "it ends");
    // With the drone on nothing is lent and nothing waits; the swara that it was to be stands still.
    let mut with_drone = view.clone();
    with_drone.drone.on = true;
    assert!(replay::begin((&links, &mut session), &with_drone, (0, true), 10.0));
    let target = session.replaying.clone().unwrap();
    assert!(!target.lends);
    let pitches = [10.1, 11.0].map(|time_s| match target.at(time_s) {
        Some(Some(Command::Play(cents, _))) => cents,
        other => panic!("{time_s}: {other:?}"),
    });
    assert_eq!((target.index, pitches[0]), (None, pitches[1]));
}

/// The drone is off and its parameter the host's: a note is heard against it, and the host is told of no change.
#[test]
fn a_note_is_heard_against_a_drone_that_is_off_without_its_knob_being_moved() {
    use super::super::act::Doer;
    use crate::editor::action::Action;
    let mut instance = Instance::new();
    instance.sing(above(30.0), 1.5, |_| {});
    instance.sing(0.0, 1.0, |_| {});
    let links = turned(&instance.links, |knobs| knobs.drone = false);
    links.choices.change(|chosen| chosen.drone_kind = "reed".into());
    let (mut session, mut filler) = (Session::default(), Filler::new(&links));
    let gui = inproc_host::context::willing();
    filler.fill(&links, &mut session, (instance.seconds(), false));
    let (view, ctx, time_s) = (&filler.view, egui::Context::default(), instance.seconds());
    Doer { links: &links, session: &mut session, gui: &gui, view, ctx, time_s }.act(Action::PlayNote(0));
    let (mut before, mut during) = (0.0f32, 0.0f32);
    instance.sing(0.0, 4.0, |i| {
        filler.fill(&links, &mut session, (i.seconds(), false));
        assert!(!links.params.drone_on.value() && !filler.view.drone.on);
        assert_eq!(filler.view.drone_sounds(), session.replaying.is_some());
        replay::go_on(&links, &mut session, i.seconds());
        let since = i.seconds() - time_s;
        // The tone waits for a second.
        let loudest = if since < 0.9 { &mut before } else { &mut during };
        *loudest = loudest.max(i.out());
    });
    assert!(before > 0.01 && during > before, "the drone alone, then with the tone: {before} {during}");
    assert!(session.replaying.is_none() && instance.out() < 1e-4, "both end: {}", instance.out());
    // The sound ends while both sound. What was asked for until that is seen leaves room to be ended, and is not heard later.
    let from_s = instance.seconds();
    let ctx = egui::Context::default();
    Doer { links: &links, session: &mut session, gui: &gui, view: &filler.view, ctx, time_s: from_s }
        .act(Action::PlayNote(0));
    instance.sing(0.0, 1.2, |i| replay::go_on(&links, &mut session, i.seconds()));
    let from_s = instance.seconds();
    for frame in 0..60 {
        replay::go_on(&links, &mut session, from_s + f64::from(frame) / 60.0);
        filler.fill(&links, &mut session, (from_s + f64::from(frame) / 60.0, false));
        replay::lapse(&links, &mut session, &filler.view);
    }
    assert!(filler.view.trouble.host_silent && session.replaying.is_none());
    // What sounded goes with the first block; the drone fades out.
    instance.sing(0.0, 0.5, |_| {});
    let mut loudest = 0.0f32;
    instance.sing(0.0, 4.0, |i| loudest = loudest.max(i.out()));
    assert!(loudest < 1e-4, "{loudest}");
}

/// The late drift of a long tone is heard too; of what is longer than a breath it is said how much is heard, and of what has no line
/// any more, what sounds in its place.
#[test]
fn a_long_note_is_heard_to_its_end_or_said_to_be_cut() {
    let mut instance = Instance::new();
    instance.sing(0.0, 0.2, |_| {});
    let (mut session, mut filler) = (Session::default(), Filler::new(&instance.links));
    let links = instance.links.clone();
    links.bridge.history(|history| {
        let (rate, from) = (history.rate.unwrap(), history.now().0);
        // Sa, steady for 10 s, then falling by 5 cents a second.
        for k in 1..=9_000i64 {
            let seconds = k as f64 * 0.005;
            let cents = crate::units::num::single(-5.0 * (seconds - 10.0).max(0.0));
            let time = crate::units::SampleTime(from + k * 240);
            history.point(0, crate::shell::bridge::LinePoint { time, cents, several: false, counts: true }, rate);
        }
        for seconds in [16.0, 45.0] {
            let mut note = crate::exercise::testing::note(0.0, seconds);
            (note.start.0, note.end.0) = (from, from + crate::units::num::int(seconds * 48_000.0));
            history.note(0, note, (sa(), None), rate);
        }
    });
    filler.fill(&links, &mut session, (1.0, false));
    // No drone has to come in first.
    filler.view.drone.on = true;
    let mut heard = |index: usize, target: bool, at_s: f64| {
        session.say("");
        replay::begin((&links, &mut session), &filler.view, (index, target), 0.0);
        let replaying = session.replaying.clone().unwrap();
        let Some(Some(Command::Play(cents, _))) = replaying.at(at_s) else { return (None, session.said.clone()) };
        (Some(cents.0), session.said.clone())
    };
    let (late, said) = heard(0, false, 15.0);
    assert!((late.unwrap() + 25.0).abs() < 1.0 && said.is_empty(), "{late:?} {said}");
    assert_eq!(heard(0, false, 16.1).0, None);
    assert_eq!(heard(0, true, 4.1).0, None, "the swara itself stands still");
    assert_eq!(heard(1, false, 29.0).1, "The note lasts 45 s: its first 30 s are heard.");
    links.bridge.history(|history| history.line.clear());
    let (steady, said) = heard(0, false, 3.0);
    assert_eq!((steady, said.contains("kept no longer")), (Some(0.0), true));
}

#[test]
fn a_tone_that_follows_a_line_does_so_without_a_break() {
    let mut instance = Instance::new();
    instance.sing(0.0, 0.1, |_| {});
    let line: Vec<(f64, f64)> = (0..200).map(|i| (f64::from(i) * 0.005, 40.0 * (f64::from(i) * 0.157).sin())).collect();
    let replaying = Replaying::new(Some(0), line, (0.0, 1.0), false);
    let (from, mut quiet) = (instance.seconds(), 0);
    instance.sing(0.0, 0.95, |i| {
        let since = i.seconds() - from;
        if let Some(Some(command)) = replaying.at(since) {
            assert!(i.links.bridge.ask(command));
        }
        // After its onset it never falls away.
        quiet += u32::from(since > 0.2 && i.out() < 0.02);
    });
    assert_eq!(quiet, 0);
    instance.sing(0.0, 0.6, |_| {});
    assert!(instance.out() < 1e-4, "and it ends by itself");
}

#[test]
fn a_mark_of_the_host_gets_its_word() {
    let mut instance = Instance::new();
    instance.sing(above(0.0), 0.5, |_| {});
    instance.knobs.mark = true;
    instance.sing(above(0.0), 0.1, |_| {});
    let view = shown(&instance);
    assert_eq!((view.marks.len(), view.marks[0].word.as_str()), (1, ""));
    instance.links.bridge.history(|history| history.rename_mark(view.marks[0].id, "good Ga".into()));
    assert_eq!(shown(&instance).marks[0].word, "good Ga");
}

#[test]
fn an_exercise_that_was_long_tells_the_window_of_the_rest() {
    let mut instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    instance.sing(0.0, 0.1, |_| {});
    let place = super::lesson::place(&instance.links);
    let start = |key: &str| {
        let exercise = super::find(key).unwrap();
        instance.links.bridge.history(|h| h.practice.start(exercise, &|_| None, (&place.0, place.1)));
    };
    for key in ["long-tone", "fixed-round", "ear-first"] {
        start(key);
        instance.links.bridge.history(|history| {
            let rate = history.rate.unwrap();
            let from = history.now().0;
            for k in 1..=37_000 {
                let time = crate::units::SampleTime(from + k * 240);
                let point = crate::shell::bridge::LinePoint { time, cents: 0.0, several: false, counts: true };
                history.point(0, point, rate);
            }
        });
        filler.fill(&instance.links, &mut session, (1.0, false));
        let running = filler.view.lesson.exercise.as_ref().unwrap();
        assert!(running.rest.contains("Rest the voice"), "{key}: {running:?}");
        assert_eq!(running.call, if key == "long-tone" { "Done" } else { "Rest now" }, "{key}");
    }
}

#[test]
fn the_share_of_right_answers_is_the_pupils_own() {
    let instance = Instance::new();
    let (mut session, mut filler) = (Session::default(), Filler::new(&instance.links));
    let place = super::lesson::place(&instance.links);
    let exercise = super::find("ear-first").unwrap();
    instance.links.bridge.history(|h| h.practice.start(exercise, &|_| None, (&place.0, place.1)));
    instance.links.params.saved.ear.count(true);
    let mut told = |session: &mut Session| {
        filler.fill(&instance.links, session, (1.0, false));
        filler.view.lesson.exercise.as_ref().unwrap().progress_text.clone()
    };
    assert!(told(&mut session).contains("in all 1 of 1"), "the project's, where no pupil is chosen");
    session.ear = Some(crate::shell::state::EarRecord { answers: 4, right: 3 });
    assert!(told(&mut session).contains("in all 3 of 4"));
}

/// The faces show the pitch while it is paused: what was asked before is neither hidden nor taken an answer for any more.
#[test]
fn a_pause_is_no_way_to_look_at_the_note_that_is_asked_about() {
    let mut instance = Instance::new();
    let (mut session, mut filler) = (Session::default(), Filler::new(&instance.links));
    let place = super::lesson::place(&instance.links);
    let exercise = super::find("ear-first").unwrap();
    instance.links.bridge.history(|h| h.practice.start(exercise, &|_| None, (&place.0, place.1)));
    let mut look = |instance: &Instance| {
        filler.fill(&instance.links, &mut session, (1.0, false));
        let running = filler.view.lesson.exercise.clone().unwrap();
        (filler.view.hides(), running.asks_ear, running.stands)
    };
    let practice = |instance: &Instance, does: &dyn Fn(&mut crate::shell::practice::Practice)| {
        instance.links.bridge.history(|h| does(&mut h.practice));
    };
    let answer = |instance: &Instance| practice(instance, &|p| p.answer(crate::exercise::EarAnswer::High));
    for sounds in [false, true] {
        instance.sing(above(45.0), 1.5, |_| {});
        instance.sing(0.0, if sounds { 0.0 } else { 0.8 }, |_| {});
        assert_eq!(look(&instance), (true, true, false), "sounds: {sounds}");
        practice(&instance, &|p| p.pause(true));
        assert_eq!(look(&instance), (false, false, false), "sounds: {sounds}");
        practice(&instance, &|p| p.pause(false));
        assert_eq!(look(&instance), (true, false, false), "sounds: {sounds}");
        answer(&instance);
        instance.sing(above(45.0), if sounds { 1.0 } else { 0.0 }, |_| {});
        answer(&instance);
        instance.sing(0.0, 0.8, |_| {});
        answer(&instance);
        assert_eq!(look(&instance), (true, false, false), "sounds: {sounds}");
        assert_eq!(instance.links.params.saved.ear.record().answers, 0, "sounds: {sounds}");
    }
    // The next note has its answer again.
    instance.sing(above(45.0), 1.5, |_| {});
    instance.sing(0.0, 0.8, |_| {});
    look(&instance);
    answer(&instance);
    assert_eq!(look(&instance), (false, false, true));
    assert_eq!(instance.links.params.saved.ear.record().answers, 1);
}
