//! The drone as a host meets it: when it sounds, where it goes, how loud it gets.

use super::{id, partial, peak, plugin, rms, run, step, stereo};
use achala::drone::{DroneSetting, Grade, Material, Player};
use achala::units::{Hertz, SampleRate};
use inproc_host::{Happening, Host};

/// An instance with the reed on (which needs no material) going to `to` (0 main, 1 own, 2 both).
fn droning(to: f64) -> (Host, Vec<Happening>) {
    let mut host = plugin();
    let text = host.save_text().unwrap().replace(r#"\"strings\""#, r#"\"reed\""#);
    host.restore_text(&text).unwrap();
    host.activate(48_000.0, 512).unwrap();
    run(&mut host, 0.05, &[], false);
    let on = Happening::Set(id(&mut host, "Drone"), 1.0);
    let to = Happening::Set(id(&mut host, "Drone to"), to);
    (host, vec![to, on])
}

#[test]
fn it_is_off_at_first_load() {
    let mut host = plugin();
    host.activate(48_000.0, 512).unwrap();
    let (main, own) = run(&mut host, 1.0, &[], true);
    assert_eq!(peak(&main).max(peak(&own)), 0.0);
}

#[test]
fn it_goes_where_it_is_sent_and_on_over_silence_with_the_transport_stopped() {
    for (to, main_sounds, own_sounds) in [(0.0, true, false), (1.0, false, true), (2.0, true, true)] {
        let (mut host, on) = droning(to);
        let (main, own) = run(&mut host, 4.0, &on, false);
        let tail = main.len() - 48_000;
        assert_eq!(rms(&main[tail..]) > 0.01, main_sounds, "main, drone to {to}: {}", rms(&main[tail..]));
        assert_eq!(rms(&own[tail..]) > 0.01, own_sounds, "own, drone to {to}");
        if !main_sounds {
            assert_eq!(peak(&main), 0.0, "not a trace in the recording");
        }
    }
}

#[test]
fn it_fades_in_and_is_silent_soon_after_off() {
    let (mut host, on) = droning(0.0);
    let (main, _) = run(&mut host, 3.0, &on, false);
    let level = rms(&main[96_000..]);
    assert!(rms(&main[..4_800]) < 0.2 * level, "the first tenth of a second is soft");
    let off = Happening::Set(id(&mut host, "Drone"), 0.0);
    let (main, _) = run(&mut host, 1.0, &[off], false);
    assert_eq!(peak(&main[24_000..]), 0.0, "half a second after off");
}

/// A host resets where its sound stands still, and may cut: what goes on after it begins with its fade.
#[test]
fn a_reset_cuts_it_and_it_fades_in_anew() {
    let (mut host, on) = droning(0.0);
    let (main, _) = run(&mut host, 3.0, &on, false);
    let level = rms(&main[96_000..]);
    host.reset();
    let (main, _) = run(&mut host, 3.0, &[], false);
    assert!(main[..LATE].iter().all(|x| *x == 0.0), "nothing of what was made before");
    assert!(rms(&main[..4_800]) < 0.2 * level && rms(&main[96_000..]) > 0.9 * level);
}

#[test]
fn a_reopened_project_is_silent_until_the_transport_starts_or_somebody_asks() {
    let (mut host, on) = droning(0.0);
    run(&mut host, 1.0, &on, false);
    let saved = host.save().unwrap();
    let mut again = plugin();
    again.restore(&saved).unwrap();
    again.activate(48_000.0, 512).unwrap();
    let (main, _) = run(&mut again, 2.0, &[], false);
    assert_eq!(peak(&main), 0.0, "reopened: it waits");
    let (main, _) = run(&mut again, 2.0, &[], true);
    assert!(rms(&main[48_000..]) > 0.01, "the transport started");
    let mut asked = plugin();
    asked.restore(&saved).unwrap();
    asked.activate(48_000.0, 512).unwrap();
    let drone = id(&mut asked, "Drone");
    run(&mut asked, 0.1, &[Happening::Set(drone, 0.0)], false);
    let (main, _) = run(&mut asked, 2.0, &[Happening::Set(drone, 1.0)], false);
    assert!(rms(&main[48_000..]) > 0.01, "somebody asked");
}

#[test]
fn offline_renders_are_without_it_unless_asked() {
    let (mut host, on) = droning(0.0);
    run(&mut host, 0.5, &on, false);
    for (print, sounds) in [(0.0, false), (1.0, true)] {
        let set = Happening::Set(id(&mut host, "Print drone in offline renders"), print);
        host.offline(true).unwrap();
        host.activate(48_000.0, 512).unwrap();
        let (main, own) = run(&mut host, 3.0, &[set], true);
        assert_eq!(rms(&main[96_000..]) > 0.01, sounds, "print {print}");
        assert!(sounds || peak(&main[4_800..]).max(peak(&own[4_800..])) == 0.0);
    }
}

/// What the drone sounds like offline where it is switched on at the second block and Sa moves from D3 to F3 three seconds
/// later, and what the player with a material of `grade` makes of the same.
fn rendered(grade: Grade) -> (Vec<f32>, Vec<f32>) {
    let mut host = plugin();
    host.offline(true).unwrap();
    host.activate(48_000.0, 512).unwrap();
    let set = |host: &mut Host, name, value| Happening::Set(id(host, name), value);
    let print = set(&mut host, "Print drone in offline renders", 1.0);
    let on = set(&mut host, "Drone", 1.0);
    let moved = set(&mut host, "Sa", 5.0);
    let mut main = run(&mut host, 0.01, &[print], true).0;
    main.extend(run(&mut host, 3.0, &[on], true).0);
    main.extend(run(&mut host, 4.0, &[moved], true).0);

    let rate = SampleRate::new(48_000.0).unwrap();
    let mut player = Player::new(rate);
    let mut alone = vec![0.0; main.len()];
    for (i, block) in alone.chunks_mut(512).enumerate().skip(1) {
        let key = if i * 512 < 512 + 144_384 { 50.0 } else { 53.0 };
        let setting = DroneSetting { on: true, sa: Hertz::of_midi_key(key, Hertz(440.0)), ..DroneSetting::default() };
        player.set(&setting).unwrap();
        drop(player.retired());
        if player.grade().is_none() {
            let full = grade == Grade::Full;
            drop(player.swap(if full { Material::full(&setting, rate) } else { Material::plain(&setting, rate) }));
        }
        player.process(block);
    }
    // It is sent 25 ms later than it is made.
    let late = 1_200;
    alone.rotate_right(late);
    alone[..late].fill(0.0);
    (main, alone)
}

#[test]
fn offline_the_full_model_sounds_from_the_change_on_and_two_renders_are_the_same() {
    let (first, full) = rendered(Grade::Full);
    assert!(rms(&first[96_000..]) > 0.01);
    assert!(first == full, "not the full model's sound");
    let (again, plain) = rendered(Grade::Plain);
    assert!(first == again, "two renders differ");
    assert!(first != plain);
}

#[test]
fn nothing_that_we_make_sound_exceeds_the_stated_peak() {
    let (mut host, mut on) = droning(2.0);
    let level = id(&mut host, "Drone level");
    let highest = host.parameter("Drone level").unwrap().max;
    on.push(Happening::Set(level, highest));
    on.extend((0..8).map(|i| Happening::NoteOn(50 + 3 * i, 1.0)));
    let (main, own) = run(&mut host, 6.0, &on, true);
    let ceiling = 10f32.powf(-3.0 / 20.0);
    assert!(peak(&main) <= ceiling + 1e-6 && peak(&own) <= ceiling + 1e-6, "{} {}", peak(&main), peak(&own));
    assert!(peak(&main) > 0.2, "it does sound");
}

/// By how much a change may exceed the largest step of the sound itself, before it and after it.
const STEPS: f32 = 1.2;
/// What we make is sent so much later than a change of it, samples at 48 kHz.
const LATE: usize = 1_200;

/// Two periods of the lowest string, in which all strings come back to where they were, samples: low Sa is half of Sa, and the
/// first string three quarters of it.
fn period(sa_hz: f64) -> f64 {
    4.0 * 48_000.0 / sa_hz
}

/// D3 and A3, hertz.
const D3_HZ: f64 = 146.832_384;
const A3_HZ: f64 = 220.0;

/// A change at a crest of what is sent at this Sa: where it takes effect after `late` samples, a switch without a fade steps furthest. What
/// follows, from the last sample before it on, has no step that the sound itself has not; a cut to silence would have one.
fn no_click(host: &mut Host, what: &str, (late, sa_hz): (usize, f64), change: impl FnOnce(&mut Host) -> Vec<f32>) {
    let blocks = |host: &mut Host, seconds: f64| {
        let mut out = Vec::new();
        while out.len() < (seconds * 48_000.0) as usize {
            let mut block = stereo(&[0.0; 64]);
            host.process(&mut block, &[], None).unwrap();
            out.extend_from_slice(&block.main[0]);
        }
        out
    };
    let mut before = blocks(host, 7.0);
    let loud = peak(&before[before.len() - 48_000..]);
    // The sample that is cut lies `late` samples ahead: a period back is what it will be.
    let back = (period(sa_hz) * (late as f64 / period(sa_hz)).ceil()) as usize - late + 1;
    for _ in 0..2_000 {
        if loud > 0.0 && before[before.len() - back].abs() > 0.75 * loud {
            break;
        }
        before.extend(blocks(host, 0.0005));
    }
    let mut across = vec![before[before.len() - 1]];
    across.extend(change(host));
    let cut = across[late].abs();
    let after = blocks(host, 7.0);
    let own = step(&before).max(step(&after));
    assert!(step(&across) < STEPS * own, "{what}: step {} beside the sound's own {own}", step(&across));
    // Out of silence, or of what is far softer, there is nothing to cut.
    if peak(&before) > 0.5 * peak(&after) {
        assert!(cut > STEPS * own, "{what}: a cut by {cut} would not be seen beside the sound's own {own}");
    }
}

/// Switch, level, bypass, the way out and Sa, one after another.
fn changes_without_a_click(host: &mut Host) {
    let soft = id(host, "Drone level");
    let softer = host.read(soft, "-30 dB").unwrap();
    let usual = host.read(soft, "-12 dB").unwrap();
    let mut sa_hz = D3_HZ;
    for (name, value, late) in [
        ("Drone level", softer, LATE),
        ("Drone level", usual, LATE),
        ("Drone to", 1.0, 0),
        ("Drone to", 0.0, 0),
        ("Bypass", 1.0, LATE),
        ("Bypass", 0.0, LATE),
        ("Sa", 9.0, LATE),
        ("Sa", 2.0, LATE),
        ("Drone", 0.0, LATE),
        ("Drone", 1.0, LATE),
    ] {
        let set = Happening::Set(id(host, name), value);
        no_click(host, &format!("{name} to {value}"), (late, sa_hz), |host| {
            let (mut main, _) = run(host, 0.7, &[set], false);
            // The worker has the time of the clock on the wall for another Sa.
            std::thread::sleep(std::time::Duration::from_millis(if name == "Sa" { 600 } else { 0 }));
            main.extend(run(host, 1.0, &[], false).0);
            main
        });
        if name == "Sa" {
            sa_hz = if value > 2.0 { A3_HZ } else { D3_HZ };
        }
    }
    for playing in [true, false] {
        no_click(host, &format!("playing {playing}"), (0, sa_hz), |host| run(host, 0.7, &[], playing).0);
    }
}

#[test]
fn no_change_of_the_reed_clicks() {
    let (mut host, on) = droning(0.0);
    run(&mut host, 3.0, &on, false);
    changes_without_a_click(&mut host);
}

#[test]
fn no_change_of_the_strings_clicks() {
    let mut host = plugin();
    host.activate(48_000.0, 512).unwrap();
    assert!(strings_sound(&mut host));
    changes_without_a_click(&mut host);
}

#[test]
fn the_start_that_a_reopened_projects_drone_waits_for_does_not_click() {
    let (mut host, on) = droning(0.0);
    run(&mut host, 3.0, &on, false);
    let usual = step(&run(&mut host, 2.0, &[], false).0);
    let mut again = plugin();
    again.restore(&host.save().unwrap()).unwrap();
    again.activate(48_000.0, 512).unwrap();
    run(&mut again, 0.5, &[], false);
    let (main, _) = run(&mut again, 3.0, &[], true);
    assert!(rms(&main[96_000..]) > 0.01 && step(&main) < STEPS * usual, "step {} beside {usual}", step(&main));
}

#[test]
fn strings_sound_once_their_material_is_made() {
    let mut host = plugin();
    host.activate(48_000.0, 512).unwrap();
    assert!(strings_sound(&mut host));
}

/// How much stronger the partials of F3 are than those of D3, one to six, as a ratio of powers.
fn f_over_d(sound: &[f32]) -> f64 {
    let power = |key: f64| {
        let sa = Hertz::of_midi_key(key, Hertz(440.0)).0;
        let partials = (1..=6).map(|n| partial(sound, 48_000.0, sa * f64::from(n)));
        partials.map(|(re, im)| re * re + im * im).sum::<f64>()
    };
    power(53.0) / power(50.0)
}

/// The softest 50 ms.
fn softest(sound: &[f32]) -> f64 {
    let length = 2_400;
    (0..=sound.len() - length).step_by(480).map(|at| rms(&sound[at..at + length])).fold(f64::MAX, f64::min)
}

#[test]
fn another_sa_sounds_within_300_ms_and_crosses_over_without_a_gap() {
    let mut host = plugin();
    host.activate(48_000.0, 512).unwrap();
    assert!(strings_sound(&mut host));
    // A whole cycle of plucks takes 6.6 s.
    let (before, _) = run(&mut host, 8.0, &[], false);
    let mut moved = vec![Happening::Set(id(&mut host, "Sa"), 5.0)];
    // What is counted is processed time. The worker has the time of the clock on the wall: rests between short blocks, six
    // seconds in all, let it do its part on a machine that is busy too.
    let mut change = Vec::new();
    while change.len() < 14_400 {
        let mut block = stereo(&[0.0; 64]);
        host.process(&mut block, &moved, None).unwrap();
        moved.clear();
        change.extend_from_slice(&block.main[0]);
        std::thread::sleep(std::time::Duration::from_millis(27));
    }
    let by_then = f_over_d(&change[9_600..]);
    change.extend(run(&mut host, 2.0, &[], false).0);
    let (after, _) = run(&mut host, 8.0, &[], false);
    let (d, f) = (f_over_d(&before[before.len() - 4_800..]), f_over_d(&after[after.len() - 4_800..]));
    assert!(f > 100.0 * d, "{d} before, {f} after");
    assert!(by_then > (d * f).sqrt(), "from 200 to 300 ms after the change: {by_then}, {d} before, {f} after");
    // Where two sounds that do not know each other are half and half, their sum is 3 dB down; silence would be far below.
    let (gap, own) = (softest(&change), softest(&before).min(softest(&after)));
    assert!(gap > 0.5 * own, "the softest 50 ms: {gap} in the crossover, {own} before and after");
}

#[test]
fn an_instance_that_goes_while_its_strings_are_made_takes_nothing_from_the_others() {
    let (mut stays, mut goes) = (plugin(), plugin());
    stays.activate(48_000.0, 512).unwrap();
    goes.activate(48_000.0, 512).unwrap();
    let on = Happening::Set(id(&mut goes, "Drone"), 1.0);
    run(&mut goes, 0.1, &[on], false);
    drop(goes);
    assert!(strings_sound(&mut stays));
}

/// Whether the strings sound within 20 s of being switched on.
fn strings_sound(host: &mut Host) -> bool {
    let on = Happening::Set(id(host, "Drone"), 1.0);
    run(host, 0.1, &[on], false);
    let started = std::time::Instant::now();
    while started.elapsed().as_secs() < 20 {
        let (main, _) = run(host, 0.5, &[], false);
        if rms(&main) > 0.005 {
            return true;
        }
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    false
}
