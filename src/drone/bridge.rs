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
//! `material`); thread place, contact stiffness, losses by measuring the sound that comes out: low partials ring for
//! several seconds, and the centre of the overtones above the fourth falls, in 2.5 s, from the 12th to the 8th partial on
//! the pair, from the 10th to the 7th on Pa, from the 9th to the 8th on mandra Sa (D3). All of these are of an instrument
//! with a metre of string; what a longer or a shorter one does to them is in `material`.
//!
//! Cost: about 0.1 s a take of six seconds.
//!
//! What it does not handle: the second plane of vibration and friction on the thread, tension that rises with the swing,
//! a body with resonances of its own (only its slope is here), other strings moving with this one.

use crate::units::{Hertz, num};
use std::f64::consts::{PI, TAU};

/// Rate of the simulation, Hz: five times the highest mode.
pub(super) const SIM_RATE_HZ: f64 = 64_000.0;
/// Modes are simulated up to this frequency, Hz.
const MODES_TO_HZ: f64 = 12_000.0;
/// At most so many modes: several times the partials of the travelling band. More make the contact so sharp on the low
/// strings that it turns to noise between the partials (seen in the spectrograms).
const MOST_MODES: usize = 90;
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

/// What a string is, apart from its pitch, and the instrument that it is on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Build {
    /// Stiffness B.
    pub(super) stiffness: f64,
    /// Distance of the thread from the string's end, share of the length.
    pub(super) thread: f64,
    /// [`LOSS`], [`LOSS_HIGH`] and the corners of the body, beside those of an instrument with a metre of string.
    pub(super) loss: f64,
    pub(super) loss_high: f64,
    pub(super) body: f64,
}

impl Build {
    /// A string on an instrument with a metre of string.
    pub(super) fn metre(stiffness: f64, thread: f64) -> Self {
        Self { stiffness, thread, loss: 1.0, loss_high: 1.0, body: 1.0 }
    }
}

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

/// One mode: recurrence, share in the contact, share in the output, start.
#[derive(Clone, Copy, Default)]
struct Mode {
    turn: f64,
    keep: f64,
    shape: f64,
    pushed: f64,
    heard: f64,
    start: f64,
}

/// Modes that are moved together, so that the machine does two or four at a time.
const LANES: usize = 4;

/// [`LANES`] modes and their state; a missing mode is all zeros and stays at rest.
#[derive(Clone, Copy, Default)]
struct Lanes {
    turn: [f64; LANES],
    keep: [f64; LANES],
    shape: [f64; LANES],
    pushed: [f64; LANES],
    heard: [f64; LANES],
    now: [f64; LANES],
    before: [f64; LANES],
}

impl Lanes {
    fn of(modes: &[Mode]) -> Self {
        let each = |of: fn(&Mode) -> f64| std::array::from_fn(|k| modes.get(k).map_or(0.0, of));
        let start = each(|mode| mode.start);
        Self {
            turn: each(|mode| mode.turn),
            keep: each(|mode| mode.keep),
            shape: each(|mode| mode.shape),
            pushed: each(|mode| mode.pushed),
            heard: each(|mode| mode.heard),
            now: start,
            before: start,
        }
    }

    /// One step after a `push` in the step before; adds the free height at the thread and what is heard of it.
    #[inline]
    fn step(&mut self, push: f64, free: &mut [f64; LANES], heard: &mut [f64; LANES]) {
        for k in 0..LANES {
            // The force of the last step is added only here, which saves a second pass over the modes.
            let now = self.now[k] + self.pushed[k] * push;
            let next = self.turn[k] * now + self.keep[k] * self.before[k];
            self.before[k] = now;
            self.now[k] = next;
            free[k] += self.shape[k] * next;
            heard[k] += self.heard[k] * next;
        }
    }
}

fn mode((order, hz): (f64, f64), fundamental: Hertz, build: Build, finger: &Finger, top_hz: f64) -> Mode {
    let dt = 1.0 / SIM_RATE_HZ;
    let loss = build.loss * LOSS + build.loss_high * LOSS_HIGH * hz * hz;
    let decay = (-loss * dt).exp();
    let damped = ((TAU * hz).powi(2) - loss * loss).max(1.0).sqrt();
    let shape = (order * PI * (1.0 - build.thread)).sin();
    // Units of the pushes: contact stiffness is counted in (2 pi f_1)^2, hence the factor.
    let unit = (TAU * fundamental.0).powi(2);
    let side = if order.rem_euclid(2.0) == 0.0 { 1.0 } else { -1.0 };
    let (low, high) = (build.body * BODY_LOW_HZ, build.body * BODY_HIGH_HZ);
    let body = 1.0 / (1.0 + (low / hz).powi(2)).sqrt() / (1.0 + (hz / high).powi(2));
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
        start,
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

/// Steps from one question whether to go on to the next: some milliseconds of work.
const ASKED: usize = 6_400;

/// One pluck: `seconds` of bridge force, partials above `top_hz` left out of the sound (not of the string); `None` as soon as
/// `go_on` says no.
pub(super) fn pluck(
    hz: Hertz,
    build: Build,
    finger: &Finger,
    (seconds, top_hz): (f64, f64),
    go_on: impl Fn() -> bool,
) -> Option<Vec<f32>> {
    let b = build.stiffness;
    let partial = |order: f64| order * hz.0 * ((1.0 + b * order * order) / (1.0 + b)).sqrt();
    let modes: Vec<Mode> = (1..=MOST_MODES)
        .map(|n| (n as f64, partial(n as f64)))
        .take_while(|(_, f)| *f < MODES_TO_HZ)
        .map(|partial| mode(partial, hz, build, finger, top_hz))
        .collect();
    let give: f64 = modes.iter().map(|mode| mode.shape * mode.pushed).sum();
    let heard_push: f64 = modes.iter().map(|mode| mode.heard * mode.pushed).sum();
    let stiff = 0.5 * give * CONTACT;
    let mut height: f64 = modes.iter().map(|mode| mode.shape * mode.start).sum();
    let mut string: Vec<Lanes> = modes.chunks(LANES).map(Lanes::of).collect();
    let (mut before, mut push) = (height, 0.0);
    let mut sound = Vec::with_capacity(num::index(seconds * SIM_RATE_HZ));
    for step in 0..num::index(seconds * SIM_RATE_HZ) {
        if step % ASKED == 0 && !go_on() {
            return None;
        }
        let (mut free, mut heard) = ([0.0; LANES], [0.0; LANES]);
        for lanes in &mut string {
            lanes.step(push, &mut free, &mut heard);
        }
        let (free, heard) = (free.iter().sum::<f64>(), heard.iter().sum::<f64>());
        // Penetration is the height below the thread; a push lifts the string, so it takes `give` of it for each unit.
        push = ((-free - after_contact(-before, -free, stiff)) / give).max(0.0);
        sound.push(num::single(heard + heard_push * push));
        before = height;
        height = free + give * push;
    }
    Some(sound)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The discrete gradient (Chatziioannou and van Walstijn 2015): force times way equals the change of the spring's
    /// energy, so that (free - after) (after - before) = stiff (after^2 - before^2), each square only inside the thread.
    #[test]
    fn the_contact_neither_adds_nor_takes_energy() {
        let inside = |x: f64| x.max(0.0).powi(2);
        let values: Vec<f64> = (-20..=20).map(|i| f64::from(i) * 0.05 + 0.003).collect();
        for stiff in [0.01, 0.3, 5.0] {
            for before in &values {
                for free in &values {
                    let after = after_contact(*before, *free, stiff);
                    let work = (free - after) * (after - before);
                    let stored = stiff * (inside(after) - inside(*before));
                    assert!((work - stored).abs() < 1e-12, "before {before}, free {free}, stiff {stiff}: {after}");
                    assert!(after <= *free + 1e-12, "the thread only pushes");
                }
            }
        }
    }
}
