//! The full plucked string: a stiff string that grazes the thread on its bridge, which makes the overtones travel.
//!
//! In: a string's frequency (Hz), its stiffness, how it is plucked. Out: the force on the bridge at [`SIM_RATE_HZ`], to be
//! tuned by `tuning`. Method: modal synthesis of a stiff lossy string in one plane with a unilateral contact at the thread,
//! a short way in front of the string's end (the two-point bridge: Valette 1995; modal form and contact: van Walstijn,
//! Bridges and Mehes, DAFx 2016; Issanchou, Bilbao, Le Carrou, Touze and Doare, J. Sound Vib. 2017). Each mode turns
//! by its exact two-step recurrence; the contact force is the difference quotient of the spring's energy, F = -dV / dy
//! between the steps around, solved in closed form (a quadratic), so that the contact itself neither adds nor takes energy
//! (Chatziioannou and van Walstijn 2015). While the string decays it lets go of the thread ever less: the pulse that runs
//! ahead by dispersion loses its high end, and a band of overtones travels downwards.
//!
//! Parameters: the published tables of the instrument were not at hand. Estimated: stiffness from string mechanics (see
//! `material`); thread place, contact stiffness, losses by measuring the sound that comes out (band from about the 20th
//! to the 10th partial within two seconds, low partials ringing for several seconds).
//! Cost: about 1.3 ns a mode and step: 50 to 150 ms for a take of six seconds.
//!
//! What it does not handle: the second plane of vibration and friction on the thread, tension that rises with the swing,
//! a body with resonances of its own (only its slope is here), other strings moving with this one.

use crate::units::{Hertz, num};
use std::f64::consts::{PI, TAU};

/// Rate of the simulation, Hz: five times the highest mode.
pub(super) const SIM_RATE_HZ: f64 = 64_000.0;
/// Modes are simulated up to this frequency, Hz.
const MODES_TO_HZ: f64 = 12_000.0;
/// At most so many modes: what a very low string needs to reach its band twice over.
const MOST_MODES: usize = 160;
/// Distance of the thread from the string's end, share of the length (estimated; 6 mm of 1 m).
const THREAD: f64 = 0.006;
/// Contact stiffness in units of (2 pi f_1)^2, modal mass 1 (estimated: harder turns to noise, softer loses the band).
const CONTACT: f64 = 40.0;
/// Loss common to all partials, 1/s (estimated: 60 dB in 20 s).
const LOSS: f64 = 0.35;
/// Loss that grows with the square of frequency, 1/s per Hz^2 (estimated).
const LOSS_HIGH: f64 = 3e-8;
/// Corner of the body's slope, Hz: below it the soundboard radiates ever less (estimated).
const BODY_LOW_HZ: f64 = 420.0;
/// Corner of the upper slope, Hz (estimated).
const BODY_HIGH_HZ: f64 = 4_500.0;

/// How the finger plucks.
#[derive(Debug, Clone, Copy)]
pub(super) struct Finger {
    /// Where, share of the length from the far end.
    pub(super) place: f64,
    /// How far, 1 being usual.
    pub(super) pull: f64,
    /// Above this frequency (Hz) the soft fingertip excites little.
    pub(super) soft_hz: f64,
}

/// One mode: recurrence, share in the contact, share in the output, state.
#[derive(Clone, Copy, Default)]
struct Mode {
    turn: f64,
    keep: f64,
    shape: f64,
    pushed: f64,
    heard: f64,
    now: f64,
    before: f64,
}

fn mode(order: f64, hz: f64, fundamental: Hertz, finger: &Finger, top_hz: f64) -> Mode {
    let dt = 1.0 / SIM_RATE_HZ;
    let loss = LOSS + LOSS_HIGH * hz * hz;
    let decay = (-loss * dt).exp();
    let damped = ((TAU * hz).powi(2) - loss * loss).max(1.0).sqrt();
    let shape = (order * PI * (1.0 - THREAD)).sin();
    // Units of the pushes: contact stiffness is counted in (2 pi f_1)^2, hence the factor.
    let unit = (TAU * fundamental.0).powi(2);
    let side = if order.rem_euclid(2.0) == 0.0 { 1.0 } else { -1.0 };
    let body = 1.0 / (1.0 + (BODY_LOW_HZ / hz).powi(2)).sqrt() / (1.0 + (hz / BODY_HIGH_HZ).powi(2));
    let audible = if hz <= top_hz { 1.0 } else { 0.0 };
    // A triangle pulled aside at the finger, rounded by the fingertip (ideal plucked string).
    let triangle =
        2.0 * (order * PI * finger.place).sin() / ((order * PI).powi(2) * finger.place * (1.0 - finger.place));
    let start = finger.pull * triangle / (1.0 + (hz / finger.soft_hz).powi(2));
    Mode {
        turn: 2.0 * decay * (damped * dt).cos(),
        keep: -decay * decay,
        shape,
        pushed: shape * unit * dt * decay * (damped * dt).sin() / damped,
        heard: side * order * body * audible,
        now: start,
        before: start,
    }
}

/// The penetration after a step, from the one two steps before and the one without force; `stiff` = push x spring / 2.
fn after_contact(before: f64, free: f64, stiff: f64) -> f64 {
    if before > 0.0 {
        let inside = (free - stiff * before) / (1.0 + stiff);
        if inside > 0.0 {
            return inside;
        }
        let (b, c) = (free + before, free * before - stiff * before * before);
        return 0.5 * (b - (b * b - 4.0 * c).max(0.0).sqrt());
    }
    if free <= 0.0 {
        return free;
    }
    let (a, b) = (1.0 + stiff, free + before);
    (b + (b * b - 4.0 * a * free * before).max(0.0).sqrt()) / (2.0 * a)
}

/// One pluck: `seconds` of bridge force, partials above `top_hz` left out of the sound (not of the string).
pub(super) fn pluck(hz: Hertz, b: f64, finger: &Finger, seconds: f64, top_hz: f64) -> Vec<f32> {
    let partial = |order: f64| order * hz.0 * ((1.0 + b * order * order) / (1.0 + b)).sqrt();
    let mut modes: Vec<Mode> = (1..=MOST_MODES)
        .map(|n| (n as f64, partial(n as f64)))
        .take_while(|(_, f)| *f < MODES_TO_HZ)
        .map(|(order, f)| mode(order, f, hz, finger, top_hz))
        .collect();
    let give: f64 = modes.iter().map(|mode| mode.shape * mode.pushed).sum();
    let heard_push: f64 = modes.iter().map(|mode| mode.heard * mode.pushed).sum();
    let stiff = 0.5 * give * CONTACT;
    let mut height: f64 = modes.iter().map(|mode| mode.shape * mode.now).sum();
    let (mut before, mut push) = (height, 0.0);
    let mut sound = Vec::with_capacity(num::index(seconds * SIM_RATE_HZ));
    for _ in 0..num::index(seconds * SIM_RATE_HZ) {
        let (mut free, mut heard) = (0.0, 0.0);
        for mode in &mut modes {
            // The force of the last step is added only here, which saves a second pass over the modes.
            let now = mode.now + mode.pushed * push;
            let next = mode.turn * now + mode.keep * mode.before;
            (mode.before, mode.now) = (now, next);
            free += mode.shape * next;
            heard += mode.heard * next;
        }
        // Penetration is the height below the thread; a push lifts the string, so it takes `give` of it for each unit.
        push = ((-free - after_contact(-before, -free, stiff)) / give).max(0.0);
        sound.push(num::single(heard + heard_push * push));
        before = height;
        height = free + give * push;
    }
    sound
}
