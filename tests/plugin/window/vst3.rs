//! The VST3 editor in the virtual display, over the module's own factory: drawn, resized, taken out and put in again.

use super::pictures::drawn;
use super::{EFFECT, LEAK_KB, OPENINGS, SIZE, burden, differ};
use inproc_host::vst3::Vst3;
use inproc_host::window::Display;
use std::path::Path;
use std::time::{Duration, Instant};

/// Openings before the memory is measured first, and after.
const AGAIN: (usize, usize) = (10, 20);
/// The least and the most of a face that is drawn on: the same for the CLAP window.
const DRAWN: std::ops::Range<f64> = 0.02..0.6;

/// A new instance: of the VST3 bundle beside the one that `ACHALA_BUNDLE` names, or else of what is linked in.
fn instance() -> Vst3 {
    let made = match std::env::var_os("ACHALA_BUNDLE") {
        Some(bundle) => Vst3::load(&Path::new(&bundle).with_extension("vst3")),
        None => Vst3::linked(achala::plugin::GetPluginFactory),
    };
    made.expect("the plugin can be made")
}

/// Turns the run loop so long.
fn turn(plugin: &Vst3, seconds: f64) {
    let began = Instant::now();
    while began.elapsed().as_secs_f64() < seconds {
        plugin.turn();
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// Turns until the picture is as asked, and gives it.
fn seen(plugin: &Vst3, display: &Display, what: &str, mut done: impl FnMut(&[u8]) -> bool) -> Vec<u8> {
    let began = Instant::now();
    loop {
        turn(plugin, 0.05);
        let picture = display.pixels().unwrap();
        if done(&picture) {
            return picture;
        }
        assert!(began.elapsed() < EFFECT, "{what}: {:.3} of the picture is drawn on", drawn(&picture));
    }
}

#[test]
#[ignore = "runs inside a display: see the_vst3_editor_is_drawn_resized_and_opened_again"]
fn editor() {
    let mut display = Display::new(SIZE.0, SIZE.1).unwrap();
    let mut plugin = instance();
    plugin.open(&display, true).unwrap();
    let size = plugin.size().unwrap();
    assert!(size.0 >= 480 && size.1 >= 320, "{size:?}");
    plugin.resize(&mut display, SIZE).unwrap();
    let singing = seen(&plugin, &display, "the first face", |picture| DRAWN.contains(&drawn(picture)));
    assert_eq!(display.child_size().unwrap(), SIZE);

    // A parameter is read and written, and the window follows.
    let face = plugin.parameter("Face").unwrap();
    assert!(plugin.value(face).abs() < 1e-6);
    plugin.set(face, 1.0).unwrap();
    assert!((plugin.value(face) - 1.0).abs() < 1e-6);
    let least = singing.len() / 50;
    seen(&plugin, &display, "another face", |picture| differ(picture, &singing) > least);

    let asked = plugin.resize(&mut display, (1003, 641)).unwrap();
    assert_eq!(asked, (1003, 641));
    seen(&plugin, &display, "another size", |picture| DRAWN.contains(&drawn(picture)));
    assert_eq!(display.child_size().unwrap(), asked);
    assert_eq!(plugin.size().unwrap(), (1003, 641));

    // The same view in and out of the window, as hosts do that hide it.
    // Before a picture is taken: it is memory too.
    let (first, last) = again(|| {
        plugin.remove().unwrap();
        turn(&plugin, 0.05);
        plugin.attach(&display).unwrap();
        turn(&plugin, 0.1);
    });
    println!("measured: {} times attached again: {first:?} -> {last:?}", AGAIN.1);
    light(first, last);
    seen(&plugin, &display, "again", |picture| DRAWN.contains(&drawn(picture)));

    // A view of its own for each opening, as most hosts do, where the host lends no run loop.
    plugin.close().unwrap();
    let (first, last) = again(|| {
        plugin.open(&display, false).unwrap();
        turn(&plugin, 0.1);
        plugin.close().unwrap();
        turn(&plugin, 0.05);
    });
    println!("measured: {} views: {first:?} -> {last:?}", AGAIN.1);
    light(first, last);

    // With one, the framework keeps a handler and its two sockets of each view, since the handler counts itself: no more than that.
    let (before, registered) = (burden(), plugin.registered());
    for _ in 0..AGAIN.0 {
        plugin.open(&display, true).unwrap();
        turn(&plugin, 0.1);
        plugin.close().unwrap();
    }
    turn(&plugin, 0.3);
    let after = burden();
    let kept = plugin.registered() - registered;
    println!("measured: {} views with a run loop: {before:?} -> {after:?}, {kept} handlers kept", AGAIN.0);
    assert!(kept <= AGAIN.0 && after.1 <= before.1 + 2 * kept && after.2 <= before.2, "{before:?} -> {after:?}");
}

/// What the process bears after the first openings, and after the others.
fn again(mut open: impl FnMut()) -> ((i64, usize, usize), (i64, usize, usize)) {
    (0..AGAIN.0).for_each(|_| open());
    let first = burden();
    (0..AGAIN.1).for_each(|_| open());
    (first, burden())
}

/// No more files or threads, and of memory no more than the CLAP window may keep of as many openings.
fn light(first: (i64, usize, usize), last: (i64, usize, usize)) {
    let each = LEAK_KB / i64::try_from(OPENINGS.0 - OPENINGS.1).unwrap();
    assert!(last.0 - first.0 < each * i64::try_from(AGAIN.1).unwrap(), "{first:?} -> {last:?}");
    assert!(last.1 <= first.1 && last.2 <= first.2, "files or threads stay open: {first:?} -> {last:?}");
}
