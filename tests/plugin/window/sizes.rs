//! The window's size: as the user left it, in the project, and in points where the screen is dense.

use super::pictures::{drawn, keep};
use super::{BLOCK, EFFECT, RATE, SIZE, Stage, letter, looks};
use crate::{change, plugin};
use inproc_host::Host;
use inproc_host::window::Display;
use std::time::Instant;

/// Width and height in the project, points.
fn remembered_size(host: &mut Host) -> (u64, u64) {
    let looks = looks(host);
    let of = |part: &str| looks[part].as_f64().unwrap().round() as u64;
    (of("width"), of("height"))
}

/// Plays until the window has a size, pixels.
fn wait_for(stage: &mut Stage, size: (u16, u16)) {
    let began = Instant::now();
    while stage.display.child_size().unwrap() != size {
        assert!(began.elapsed() < EFFECT, "{:?}, not {size:?}", stage.display.child_size());
        stage.singer.play(&mut stage.host, 0.05);
    }
    stage.singer.play(&mut stage.host, 0.3);
}

#[test]
#[ignore = "runs inside a display: see the_size_is_remembered_in_the_project"]
fn remembered() {
    let mut stage = Stage::new();
    assert_ne!(remembered_size(&mut stage.host), (1003, 641));
    stage.host.resize(&mut stage.display, 1003, 641).unwrap();
    wait_for(&mut stage, (1003, 641));
    assert_eq!(remembered_size(&mut stage.host), (1003, 641));
    let saved = stage.host.save().unwrap();
    stage.host.close();
    stage.singer.play(&mut stage.host, 0.5);
    stage.host = plugin();
    stage.host.restore(&saved).unwrap();
    stage.host.activate(RATE, BLOCK as u32).unwrap();
    stage.display.resize(SIZE.0, SIZE.1).unwrap();
    stage.host.open_as_remembered(&mut stage.display).unwrap();
    assert_eq!(stage.display.size(), (1003, 641), "what a host is told");
    wait_for(&mut stage, (1003, 641));
    assert_eq!(remembered_size(&mut stage.host), (1003, 641));
    stage.host.close();
    stage.singer.play(&mut stage.host, 0.5);
}

#[test]
#[ignore = "runs inside a display: see on_a_dense_screen_the_window_is_as_large_in_points"]
fn dense() {
    let mut host = plugin();
    change(&mut host, "window", |w| w["caution-read"] = true.into());
    // A server that nobody is connected to forgets what it was told.
    let desktop = Display::new(1, 1).unwrap();
    desktop.dots_per_inch(192).unwrap();
    let mut stage = Stage::of(host);
    wait_for(&mut stage, SIZE);
    assert_eq!(remembered_size(&mut stage.host), (640, 360), "points are kept, not pixels");
    assert_eq!(stage.host.said_size().unwrap(), (1280, 720), "a host is told pixels");
    stage.display.focus().unwrap();
    stage.turns("2", letter('2'), "Face");
    let share = drawn(&keep(&stage, "real-dense"));
    println!("measured: at a scale factor of 2 {:.1} % of the picture is drawn on", 100.0 * share);
    assert!((0.02..0.6).contains(&share), "{share}");
    stage.host.close();
    stage.singer.play(&mut stage.host, 0.5);
    assert!(stage.idle.is_empty(), "{:?}", stage.idle);
}

/// The window on a screen with so many dots to the inch, and how large it then is, points: 96 dots are a scale factor of 1.
fn at_scale(dots: u32) -> (u64, u64) {
    let mut host = plugin();
    change(&mut host, "window", |w| w["caution-read"] = true.into());
    let desktop = Display::new(1, 1).unwrap();
    desktop.dots_per_inch(dots).unwrap();
    let mut stage = Stage::of(host);
    wait_for(&mut stage, SIZE);
    let share = drawn(&keep(&stage, &format!("real-{dots}-dots")));
    println!("measured: at {dots} dots an inch {:.1} % of the picture is drawn on", 100.0 * share);
    assert!((0.02..0.6).contains(&share), "{dots}: {share}");
    stage.display.focus().unwrap();
    stage.turns("2", letter('2'), "Face");
    let size = remembered_size(&mut stage.host);
    stage.host.close();
    stage.singer.play(&mut stage.host, 0.5);
    assert!(stage.idle.is_empty(), "{:?}", stage.idle);
    size
}

#[test]
#[ignore = "runs inside a display: see at_other_scale_factors_and_in_a_tall_narrow_window_it_is_drawn_whole"]
fn one_and_a_half() {
    assert_eq!(at_scale(144), (853, 480), "points are kept, not pixels");
}

#[test]
#[ignore = "runs inside a display: see at_other_scale_factors_and_in_a_tall_narrow_window_it_is_drawn_whole"]
fn three() {
    assert_eq!(at_scale(288), (427, 240), "smaller than it is meant for, and drawn all the same");
}

#[test]
#[ignore = "runs inside a display: see at_other_scale_factors_and_in_a_tall_narrow_window_it_is_drawn_whole"]
fn tall() {
    let mut host = plugin();
    change(&mut host, "window", |w| w["caution-read"] = true.into());
    let mut stage = Stage::of(host);
    stage.host.resize(&mut stage.display, 500, 700).unwrap();
    wait_for(&mut stage, (500, 700));
    assert_eq!(remembered_size(&mut stage.host), (500, 700));
    let share = drawn(&keep(&stage, "real-tall"));
    assert!((0.02..0.6).contains(&share), "{share}");
    stage.host.close();
    stage.singer.play(&mut stage.host, 0.5);
}
