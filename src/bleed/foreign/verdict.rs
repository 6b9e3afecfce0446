//! Whether what the tracker calls a voice is one, where a drone that nobody told of may sound.
//!
//! In: each frame's f0 where it is called voiced and whether it is one of the drone's own, the level, and what drone is
//! known to sound. Out: a voice or none. Method: a sum of logarithms of likelihood ratios (Wald 1945), a voice against a
//! string: how far f0 strays from a straight line ([`straight`](super::straight)), the more at an onset, where a throat
//! scoops and a string does not; how far the level lies under the voice of late; how far it lies over the drone's, and,
//! beside a drone that keeps its level, how far the first voice on its pitch lies over what sounded before. Off the
//! drone's pitches a voice is the likelier beforehand; where no drone is known it is much the likelier. On the drone's pitches
//! the looks at straying are summed up too, as long as something is called a voice (a sequential test): who is no louder than
//! the drone is believed in time, and what rings on from the first second on is none. Medians and spreads
//! as measured on sung clips with string and reed drones, the rest chosen on them, far from where it would tip (halved or
//! doubled, each moves the shares of right and false frames by a point or two). Cost: a few dozen operations.

use super::straight::{FULL, Strays};
use crate::input::HOP_S;
use crate::units::Hertz;

/// Median and spread (of the logarithm) of how far f0 strays, cents: a voice's onset, a voice that holds, a string's onset, a
/// string. Measured: onsets 1.4 and 0.1, later 0.3 to 0.5 and 0.05 to 0.3.
const ONSET: (f64, f64) = (1.3, 1.0);
const HELD: (f64, f64) = (0.4, 0.5);
const STRING_ONSET: (f64, f64) = (0.12, 0.9);
const STRING: (f64, f64) = (0.1, 0.9);
/// Straying below this counts as this, cents: what the tracker resolves.
const LEAST_CENTS: f64 = 0.01;
/// No look speaks louder, for a string and for a voice.
const LOUDEST: (f64, f64) = (-4.0, 2.5);
/// How fast is forgotten what straying has said, seconds.
const MEMORY_S: f64 = 0.12;
/// Looks that overlap count as so many.
const LOOKS: f64 = 2.0;
/// The most that straying may say for a voice: what slides off a string's pitch strays too.
const MOST_FOR: f64 = 0.5;
/// Below this it says that a string sounds alone.
const ALONE: f64 = -1.0;
/// From here on it may be a voice yet.
const UNDECIDED: f64 = -0.5;
/// For a voice beforehand; and on top of it off the drone's pitches.
const STRINGS: f64 = 0.3;
const REED: f64 = 1.8;
const NOTHING_KNOWN: f64 = 3.1;
const OFF_PITCH: f64 = 2.5;
/// While no voice has been heard yet, what insists off the drone's pitches counts for one: seconds, and for a voice. Strings that
/// slide do so for a moment; without it, who is no louder than they are would never be heard.
const INSISTS: Corners = Corners { x: [0.0, 0.03, 0.06, 0.1], y: [0.0, 0.75, 1.0, 1.5] };
/// It insists while straying says so much for a voice; else that is forgotten, by so much of a second each second.
const INSISTS_FROM: f64 = 1.0;
const INSISTS_FORGOTTEN: f64 = 0.1;
const INSISTS_MOST_S: f64 = 1.0;
/// For so long, seconds, where it may be what has just been learned of the drone (chosen on own drones alone and under voices).
const INSISTS_DOUBTED_S: f64 = 0.3;
/// For so long, seconds, that from then on what is not heard may be a voice (chosen as that was: 0.15 loses a point of the frames
/// under voices as loud as strings).
const INSISTED_S: f64 = 0.08;
/// How far f0 strays on the drone's own pitches while somebody sings over it, and while it is its own strings, cents (measured
/// over reeds that are as loud as the voice, and on strings alone until they are known to fade).
const SUNG: (f64, f64) = (1.0, 1.0);
const RUNG: (f64, f64) = (0.18, 0.75);
/// Full looks overlap: each counts for so much of one,
const LOOK: f64 = 1.0 / FULL as f64;
/// and says at most so much for a voice: a string that is plucked while another sounds draws f0 along for as long as a short note.
const MOST_OF_A_LOOK: f64 = 1.0;
/// Below this f0 low strings stray as voices do, Hz: no look speaks for a voice.
const LOW_HZ: f64 = 90.0;
/// The least and the most that all of them say, how much of that is forgotten in a second without a voice, and from where on
/// somebody sings (chosen on drones alone and under voices; at 1 and 1.3 the shares of both differ by one to three points).
const SINGS: (f64, f64) = (-1.0, 3.0);
const FORGOTTEN: f64 = 1.0;
const SINGS_FROM: f64 = 1.2;
/// What that says for a first voice that is no louder than strings.
const SINGING: Corners = Corners { x: [0.5, 0.8, 1.2, 1.8], y: [0.0, 1.0, 2.2, 3.0] };
/// The least and the most that is said for a throat that holds a note, against a string, and what of it says against a first voice
/// on the drone's own pitch: it rings on.
const STILL: (f64, f64) = (-1.2, 1.0);
const RINGING: Corners = Corners { x: [-1.0, -0.5, 0.0, 1.0], y: [-4.0, 0.0, 0.0, 0.0] };
/// Against a voice beyond what people sing.
const BEYOND: f64 = 2.0;
/// What the level under the voice of late says for a voice, beside strings and else: decibels, and for a voice.
const UNDER: Corners = Corners { x: [-22.0, -10.0, -3.0, 3.0], y: [-6.0, -3.0, 0.5, 1.5] };
const UNDER_ELSE: Corners = Corners { x: [-16.0, -12.0, -3.0, 3.0], y: [-4.0, -2.5, 0.5, 1.5] };
/// The same while no voice has been heard yet, and beside strings: who sings on their pitches must be louder than they are.
const UNHEARD: f64 = -1.0;
const UNHEARD_STRINGS: f64 = -3.0;
/// How fast the level of the voice is forgotten, dB/s.
const FORGOTTEN_DB_S: f64 = 3.0;
/// So far under the drone's the level of the voice is forgotten for good beside a drone that a codec made unsteady, dB: it would
/// be a voice by its straying, and by its level where any is one.
const GONE_DB: f64 = 3.0;
/// What the level over the drone's says for a voice, decibels, and for a voice; far under the voice of late it says nothing:
/// there a voice dies away.
const OVER: Corners = Corners { x: [2.0, 4.0, 8.0, 12.0], y: [0.0, 1.0, 4.0, 7.0] };
const DYING: Corners = Corners { x: [-12.0, -7.0, 0.0, 3.0], y: [0.0, 1.0, 1.0, 1.0] };
/// Against a voice that is both far under the one of late and hardly over the drone.
const FAINT: f64 = 5.0;
const FAR: Corners = Corners { x: [-8.0, -4.0, 0.0, 3.0], y: [1.0, 0.0, 0.0, 0.0] };
const NEAR: Corners = Corners { x: [0.0, 3.0, 6.0, 9.0], y: [1.0, 1.0, 0.0, 0.0] };
/// The share of it while no voice has been heard yet.
const UNHEARD_FAR: f64 = 0.3;
/// How fast the drone's level follows what is no voice up and down, per hop: it stays near the loudest, and what was learned
/// wrongly is gone after two seconds of rest.
const DRONE_UP: f64 = 0.03;
const DRONE_DOWN: f64 = 0.003;
/// The level while nothing is called a voice beside a drone that keeps its level is a mean of power over the last hops of it:
/// half a second, less in the beginning; what was heard before a drone was known counts as so many.
const QUIET_HOPS: f64 = 100.0;
const QUIET_BEFORE: f64 = 20.0;
/// What the level over that says, decibels, and for a voice, of the first one on the drone's own pitch. A voice as loud as the
/// drone lies 3 dB over it.
const OVER_QUIET: Corners = Corners { x: [0.0, 1.5, 3.0, 5.0], y: [-6.0, -6.0, -3.0, 0.0] };
/// So little over it may be the drone itself, dB: our own strings vary by 3, and the first voice is not learned from it.
const SOFT_DB: f64 = 4.0;
/// So much over it strings are not, dB: their next ones bring 3 to 6.
const LOUD_DB: f64 = 8.0;

/// So much over the drone's loudest is more than it, dB.
const OVER_DRONE_DB: f64 = 2.0;
/// The level of the voice is less than so much over the drone's where the drone hides notes of it, dB.
const RIVALS_DB: f64 = 6.0;

/// What drone is known to sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Known {
    /// None; there may be one.
    Nothing,
    /// One that keeps its level.
    Reed,
    /// One that fades between plucks.
    Strings,
    /// One that a codec has made unsteady.
    Coded,
}

impl Known {
    /// Whether its lines are taken out, as those of strings are.
    pub(super) fn taken_out(self) -> bool {
        matches!(self, Self::Strings | Self::Coded)
    }
}

/// Levels of a frame, dBFS.
#[derive(Debug, Clone, Copy)]
pub(super) struct Levels {
    /// Of the microphone.
    pub(super) heard: f64,
    /// Of what is left without the lines.
    pub(super) left: f64,
    /// Of the drone alone, where something began just before it was known and none is learned yet.
    pub(super) alone: Option<f64>,
    /// Whether the microphone is louder than the drone alone has been.
    pub(super) louder: bool,
}

/// A frame that the tracker calls voiced.
#[derive(Debug, Clone, Copy)]
pub(super) struct Heard {
    /// How far f0 has strayed of late; `None` within the first hops of a note.
    pub(super) strays: Option<Strays>,
    /// Whether f0 is one of the drone's own.
    pub(super) on_pitch: bool,
    /// Whether it is beyond what people sing.
    pub(super) beyond: bool,
    /// Whether it is neither, nor a partial over what people sing.
    pub(super) apart: bool,
    /// Whether it may yet be what has just been learned of the drone, unless it insists.
    pub(super) doubtful: bool,
}

/// A line through four corners, level beyond them.
struct Corners {
    x: [f64; 4],
    y: [f64; 4],
}

impl Corners {
    fn at(&self, x: f64) -> f64 {
        let [first, .., last] = self.y;
        let mut y = if x < self.x[0] { first } else { last };
        for (ends, values) in self.x.windows(2).zip(self.y.windows(2)) {
            if let ([left, right], [low, high]) = (ends, values)
                && (*left..*right).contains(&x)
            {
                y = low + (high - low) * (x - left) / (right - left);
            }
        }
        y
    }
}

#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Verdict {
    /// Levels, dB; `None`: not known.
    drone: Option<f64>,
    voice: Option<f64>,
    /// Of what sounds on while nothing is called a voice, and over how many hops.
    quiet: Option<f64>,
    quiet_hops: f64,
    /// What straying says, for a voice if above 0.
    said: f64,
    /// Seconds for which something has strayed as voices do off the drone's pitches, less those in which nothing has.
    insists: f64,
    /// What straying on the drone's own pitches has said so far for somebody who sings, and for a throat that holds a note.
    sings: f64,
    still: f64,
    /// Whether that, or insisting, has ever said that somebody sings.
    sung: bool,
    /// Whether something has ever strayed as voices do off the drone's pitches for a short note.
    insisted: bool,
}

/// The logarithm of how much likelier a voice strays so than a string; both log-normal (median, spread). What strays more
/// than a voice does no less speak for one.
fn likelier(cents: f64, voice: (f64, f64), string: (f64, f64)) -> f64 {
    let cents = cents.clamp(LEAST_CENTS, voice.0);
    let of = |(median, spread): (f64, f64)| -0.5 * ((cents / median).ln() / spread).powi(2) - spread.ln();
    (of(voice) - of(string)).clamp(LOUDEST.0, LOUDEST.1)
}

impl Verdict {
    /// A frame; `heard`: where the tracker calls it voiced. True for a voice.
    pub(super) fn step(&mut self, level: Levels, heard: Option<Heard>, known: Known) -> bool {
        self.voice = self.voice.map(|voice| voice - FORGOTTEN_DB_S * HOP_S);
        if known == Known::Coded {
            let gone = self.drone.unwrap_or(f64::NEG_INFINITY) - GONE_DB;
            self.voice = self.voice.filter(|voice| *voice > gone);
        }
        let strings = known.taken_out();
        let insists = heard.is_some_and(|heard| {
            let long = heard.strays.is_some_and(|strays| strays.hops == FULL);
            long && heard.apart && self.said > INSISTS_FROM
        });
        self.insists =
            (self.insists + if insists { HOP_S } else { -INSISTS_FORGOTTEN * HOP_S }).clamp(0.0, INSISTS_MOST_S);
        let Some(heard) = heard else {
            self.said = 0.0;
            if strings && !level.louder {
                self.learn(level.heard);
            } else if !strings {
                self.rest(level.heard, known);
            }
            return false;
        };
        self.sung |= self.insists > INSISTS_DOUBTED_S;
        self.insisted |= self.insists > INSISTED_S;
        self.listen(heard.strays, known);
        let voiced = self.sum(level, heard, known) > 0.0 && (!heard.doubtful || self.insists > INSISTS_DOUBTED_S);
        if strings && !level.louder && !voiced && self.said < ALONE {
            self.learn(level.heard);
        }
        let long = heard.strays.is_some_and(|strays| strays.hops == FULL);
        let unsure = match known {
            Known::Nothing => heard.on_pitch,
            Known::Reed => self.soft(level.heard),
            Known::Strings | Known::Coded => false,
        };
        let own = self.voice.is_none() && unsure && !self.sings();
        if voiced && long && self.said > 0.0 && !own {
            self.voice = Some(self.voice.map_or(level.left, |voice| voice.max(level.left)));
        }
        voiced
    }

    /// Gathers what straying says of what is called a voice with this `f0`; `own`: one of the drone's pitches.
    pub(super) fn gather(&mut self, f0: Option<Hertz>, strays: Option<Strays>, own: bool) {
        match (f0, strays) {
            (Some(f0), Some(Strays { cents, hops: FULL })) if own => {
                let most = if f0.0 > LOW_HZ { MOST_OF_A_LOOK } else { 0.0 };
                let said = |voice, string| LOOK * likelier(cents, voice, string).min(most);
                self.sings = (self.sings + said(SUNG, RUNG)).clamp(SINGS.0, SINGS.1);
                self.still = (self.still + said(HELD, STRING)).clamp(STILL.0, STILL.1);
                self.sung |= self.sings();
            }
            (Some(_), _) => {}
            (None, _) => {
                for sum in [&mut self.sings, &mut self.still] {
                    *sum -= sum.clamp(-FORGOTTEN * HOP_S, FORGOTTEN * HOP_S);
                }
            }
        }
    }

    /// Something begins to sound: it need not be as still as what sounded.
    pub(super) fn begin(&mut self) {
        self.still = self.still.max(0.0);
    }

    /// Whether it has been said that somebody sings.
    pub(super) fn sings(&self) -> bool {
        self.sings > SINGS_FROM
    }

    /// Whether somebody was ever known to sing.
    pub(super) fn sung(&self) -> bool {
        self.sung
    }

    /// Whether more has been said for somebody who sings than against.
    pub(super) fn may_sing(&self) -> bool {
        self.sings > 0.0
    }

    /// What straying says.
    fn listen(&mut self, strays: Option<Strays>, known: Known) {
        match strays {
            None => self.said = 0.0,
            Some(Strays { cents, hops }) if hops < FULL => {
                let said = likelier(cents, ONSET, STRING_ONSET);
                // Short looks are straight now and then: without strings no onset is given up for one.
                self.said = if known.taken_out() { said } else { said.max(ALONE) };
            }
            Some(Strays { cents, .. }) => {
                self.said += (likelier(cents, HELD, STRING) - self.said) * HOP_S / MEMORY_S;
            }
        }
    }

    /// All that speaks for a voice, less what speaks against it.
    fn sum(&self, level: Levels, heard: Heard, known: Known) -> f64 {
        let under = self.voice.map(|voice| level.left - voice);
        let beforehand = match known {
            Known::Nothing => NOTHING_KNOWN,
            Known::Reed => REED,
            Known::Strings | Known::Coded => STRINGS,
        };
        let pitch = if heard.on_pitch { 0.0 } else { OFF_PITCH };
        let straying = LOOKS * self.said.min(MOST_FOR);
        let corners = if known.taken_out() { UNDER } else { UNDER_ELSE };
        let unheard = if known.taken_out() { UNHEARD_STRINGS } else { UNHEARD };
        let insisting = if heard.apart { INSISTS.at(self.insists) } else { 0.0 };
        let singing = if known == Known::Strings { SINGING.at(self.sings) } else { 0.0 };
        let loudness = under.map_or(unheard + insisting.max(singing), |under| corners.at(under));
        beforehand
            + pitch
            + straying
            + loudness
            + match known {
                Known::Strings | Known::Coded => self.beside(level, under, heard, known),
                Known::Reed if heard.on_pitch => self.over_quiet(level.heard) + self.ringing(),
                Known::Nothing if heard.on_pitch => self.ringing(),
                _ => 0.0,
            }
    }

    /// What the level over that of a drone that keeps its own says, until a voice has been heard.
    fn over_quiet(&self, level: f64) -> f64 {
        let first = self.quiet.filter(|_| self.voice.is_none() && !self.sings());
        first.map_or(0.0, |quiet| OVER_QUIET.at(level - quiet))
    }

    /// What was said so far against a first voice on the drone's own pitch.
    fn ringing(&self) -> f64 {
        if self.voice.is_none() { RINGING.at(self.still) } else { 0.0 }
    }

    /// The level while nothing is called a voice.
    fn rest(&mut self, level: f64, known: Known) {
        let hops = if known == Known::Reed { (self.quiet_hops + 1.0).min(QUIET_HOPS) } else { QUIET_BEFORE };
        let quiet = self.quiet.unwrap_or(level);
        self.quiet = Some(quiet + 10.0 * (1.0 + (10f64.powf((level - quiet) / 10.0) - 1.0) / hops).log10());
        self.quiet_hops = hops;
    }

    /// Whether a level is about that of the drone alone, where it keeps its own.
    pub(super) fn soft(&self, level: f64) -> bool {
        self.quiet.is_some_and(|quiet| level < quiet + SOFT_DB)
    }

    /// Whether a level is over that of the drone alone where it fades, by more than strings that sound together are.
    pub(super) fn is_over_drone(&self, level: f64) -> bool {
        self.drone.is_some_and(|drone| level > drone + OVER_DRONE_DB)
    }

    /// Whether no voice has been heard yet and what sounds on while nothing is called one is louder than this.
    pub(super) fn is_first_below(&self, level: f64) -> bool {
        self.voice.is_none() && self.quiet.is_some_and(|quiet| level < quiet)
    }

    /// What the drone's own level says, and that it is beyond what people sing.
    fn beside(&self, level: Levels, under: Option<f64>, heard: Heard, known: Known) -> f64 {
        let beyond = if heard.beyond { BEYOND } else { 0.0 };
        let Some(over) = self.drone.or(level.alone).map(|drone| level.heard - drone) else {
            // Strings that have just been told have no level yet, but are not this much louder than what sounded before.
            let before = self.quiet.filter(|_| known == Known::Strings).map(|quiet| quiet + LOUD_DB);
            return before.map_or(0.0, |before| OVER.at(level.heard - before)) - beyond;
        };
        let alive = under.map_or(1.0, |under| DYING.at(under));
        let far = under.map_or(UNHEARD_FAR, |under| FAR.at(under));
        alive * OVER.at(over) - FAINT * far * NEAR.at(over) - beyond
    }

    /// The level of what is no voice.
    fn learn(&mut self, level: f64) {
        let drone = self.drone.unwrap_or(level);
        self.drone = Some(drone + (level - drone) * if level > drone { DRONE_UP } else { DRONE_DOWN });
    }

    /// All that has sounded of late is a drone, at this level.
    pub(super) fn alone(&mut self, level: f64) {
        *self = Self { drone: Some(level + SOFT_DB), quiet: Some(level), quiet_hops: QUIET_BEFORE, ..Self::default() };
    }

    /// Whether what was refused may be a voice yet, after one that was.
    pub(super) fn undecided(&self) -> bool {
        self.voice.is_some() && self.may_be_a_voice()
    }

    /// Whether what is called a voice strays as one may.
    pub(super) fn may_be_a_voice(&self) -> bool {
        self.said > UNDECIDED
    }

    /// Whether somebody has been heard off the drone's pitches who is hardly louder than it.
    pub(super) fn rivals(&self) -> bool {
        let over = self.voice.zip(self.drone).map_or(0.0, |(voice, drone)| voice - drone);
        self.insisted && over < RIVALS_DB
    }

    /// Whether no voice has been heard yet.
    pub(super) fn is_first(&self) -> bool {
        self.voice.is_none()
    }

    /// Whether what is said so far is of a voice.
    pub(super) fn of_a_voice(&self) -> bool {
        self.said >= 0.0
    }

    pub(super) fn reset(&mut self) {
        *self = Self::default();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame(cents: f64, on_pitch: bool) -> Option<Heard> {
        Some(Heard {
            strays: Some(Strays { cents, hops: FULL }),
            on_pitch,
            beyond: false,
            apart: !on_pitch,
            doubtful: false,
        })
    }

    fn both(level: f64) -> Levels {
        Levels { heard: level, left: level, alone: None, louder: false }
    }

    /// Hops that are called a voice, of `hops`.
    fn called(verdict: &mut Verdict, level: f64, heard: Option<Heard>, known: Known, hops: usize) -> usize {
        let look = |_: &usize| {
            let strays = heard.and_then(|heard| heard.strays);
            verdict.gather(heard.map(|_| Hertz(150.0)), strays, heard.is_some_and(|heard| heard.on_pitch));
            verdict.step(both(level), heard, known)
        };
        (0..hops).filter(look).count()
    }

    /// A second of strings alone at -40 dB, then a second of a voice at -28 dB off their pitches.
    fn sung() -> Verdict {
        let mut verdict = Verdict::default();
        assert!(called(&mut verdict, -40.0, frame(0.08, true), Known::Strings, 200) <= 10);
        verdict.step(both(-40.0), None, Known::Strings);
        assert!(called(&mut verdict, -28.0, frame(0.4, false), Known::Strings, 200) >= 199);
        verdict
    }

    /// A second of a reed alone at -45 dB.
    fn reed_alone() -> Verdict {
        let mut verdict = Verdict::default();
        assert_eq!(called(&mut verdict, -45.0, None, Known::Reed, 200), 0);
        verdict
    }

    #[test]
    fn strings_alone_are_no_voice_and_a_louder_one_on_their_pitch_is() {
        let mut verdict = sung();
        assert!(called(&mut verdict, -28.0, frame(0.4, true), Known::Strings, 400) >= 399);
        // It stops and a string is plucked, half as loud as it was and as straight as strings are.
        verdict.step(both(-36.0), None, Known::Strings);
        assert_eq!(called(&mut verdict, -36.0, frame(0.1, true), Known::Strings, 200), 0);
    }

    #[test]
    fn the_first_voice_on_their_pitch_is_heard_for_its_flutter() {
        let mut verdict = Verdict::default();
        called(&mut verdict, -40.0, frame(0.08, true), Known::Strings, 200);
        verdict.step(both(-40.0), None, Known::Strings);
        assert!(called(&mut verdict, -30.0, frame(0.5, true), Known::Strings, 200) >= 180);
    }

    #[test]
    fn who_is_no_louder_than_the_strings_is_heard_where_they_insist_off_their_pitches() {
        let learned = || {
            let mut verdict = Verdict::default();
            called(&mut verdict, -40.0, frame(0.08, true), Known::Strings, 200);
            verdict.step(both(-40.0), None, Known::Strings);
            verdict
        };
        assert!(called(&mut learned(), -40.0, frame(0.5, false), Known::Strings, 200) >= 160);
        assert_eq!(called(&mut learned(), -40.0, frame(0.5, true), Known::Strings, 200), 0, "their own pitch");
        // What slides for a moment does not insist.
        assert_eq!(called(&mut learned(), -40.0, frame(0.5, false), Known::Strings, 10), 0);
        // While it may be what has just been learned, it takes a little longer.
        let doubtful = frame(0.5, false).map(|heard| Heard { doubtful: true, ..heard });
        assert_eq!(called(&mut learned(), -40.0, doubtful, Known::Strings, 60), 0);
        assert!(called(&mut learned(), -40.0, doubtful, Known::Strings, 200) >= 100);
    }

    #[test]
    fn the_level_before_it_began_tells_a_first_voice_from_strings() {
        let begun = |alone| {
            let mut verdict = Verdict::default();
            let levels = Levels { alone, ..both(-28.0) };
            (0..200).filter(|_| verdict.step(levels, frame(0.4, true), Known::Strings)).count()
        };
        assert_eq!((begun(None), begun(Some(-29.0)), begun(Some(-36.0))), (0, 0, 200));
    }

    #[test]
    fn a_level_learned_wrongly_is_gone_after_two_seconds_of_rest() {
        let mut verdict = sung();
        verdict.drone = Some(-24.0);
        called(&mut verdict, -40.0, None, Known::Strings, 400);
        assert!(verdict.drone.is_some_and(|db| db < -34.0), "{:?}", verdict.drone);
    }

    #[test]
    fn a_first_voice_on_the_pitch_of_a_drone_that_keeps_its_level_is_louder_than_it() {
        assert_eq!(called(&mut reed_alone(), -43.0, frame(0.4, true), Known::Reed, 200), 0);
        assert_eq!(called(&mut reed_alone(), -38.0, frame(0.4, true), Known::Reed, 200), 200);
        assert_eq!(called(&mut reed_alone(), -43.0, frame(0.4, false), Known::Reed, 200), 200, "none of its pitches");
        // Once heard, it may be as soft as it likes.
        let mut heard = reed_alone();
        called(&mut heard, -38.0, frame(0.4, true), Known::Reed, 100);
        assert_eq!(called(&mut heard, -43.0, frame(0.4, true), Known::Reed, 100), 100);
    }

    #[test]
    fn who_strays_long_enough_on_the_pitch_of_a_reed_sings() {
        // By hand: 1 cent says 0 - (-0.5 (ln(1 / 0.18) / 0.75)^2 - ln 0.75) = 2.3, of which 1 counts, a twentieth of it each
        // hop: 1.2 is passed at the 24th hop.
        let mut sung = reed_alone();
        assert_eq!(called(&mut sung, -43.0, frame(1.0, true), Known::Reed, 200), 200 - 23);
        assert_eq!(called(&mut sung, -43.0, frame(0.2, true), Known::Reed, 20), 20, "it was heard");
        // A string is not, nor one that is plucked, nor a low one.
        assert_eq!(called(&mut reed_alone(), -43.0, frame(0.3, true), Known::Reed, 400), 0);
        let mut plucked = reed_alone();
        for cents in [1.5, 0.2, 1.5, 0.2] {
            assert_eq!(called(&mut plucked, -43.0, frame(cents, true), Known::Reed, 20), 0, "{cents}");
        }
        let mut low = reed_alone();
        for _ in 0..200 {
            low.gather(Some(Hertz(73.4)), frame(1.0, true).and_then(|heard| heard.strays), true);
        }
        assert!(!low.sings() && !low.may_sing());
    }

    #[test]
    fn what_rings_on_is_no_first_voice_and_what_begins_may_be_one() {
        let mut verdict = Verdict::default();
        // As still as the steadiest throats for a moment, yet for too long.
        assert!(called(&mut verdict, -40.0, frame(0.17, true), Known::Nothing, 200) < 40);
        verdict.begin();
        assert!(called(&mut verdict, -30.0, frame(0.4, true), Known::Nothing, 200) > 195);
        assert_eq!(
            called(&mut Verdict::default(), -40.0, frame(0.17, false), Known::Nothing, 200),
            200,
            "no drone's pitch"
        );
    }

    #[test]
    fn what_was_the_drone_alone_is_forgotten_as_a_voice() {
        let mut verdict = Verdict::default();
        assert!(called(&mut verdict, -40.0, frame(0.4, true), Known::Nothing, 200) >= 199);
        assert!(!verdict.is_first_below(-44.0), "a voice was heard");
        verdict.alone(-40.0);
        assert!(verdict.is_first_below(-40.5) && !verdict.is_first_below(-39.5));
        // One that begins on its pitch must be louder now.
        assert_eq!(called(&mut verdict, -39.0, frame(0.4, true), Known::Reed, 200), 0);
    }

    #[test]
    fn the_quiet_is_a_mean_of_power() {
        let mut verdict = Verdict::default();
        for hop in 0..400 {
            verdict.step(both(if hop % 2 == 0 { -40.0 } else { -60.0 }), None, Known::Reed);
        }
        // By hand: half of 10^-4 and 10^-6 is 5.05e-5, -42.97 dB.
        assert!(verdict.quiet.is_some_and(|db| (db + 42.97).abs() < 0.1), "{:?}", verdict.quiet);
    }

    #[test]
    fn without_a_drone_the_tracker_is_believed() {
        let mut verdict = Verdict::default();
        for (level, cents) in [(-20.0, 0.6), (-20.0, 0.15), (-30.0, 0.4)] {
            assert_eq!(called(&mut verdict, level, frame(cents, true), Known::Nothing, 200), 200, "{level} {cents}");
            verdict.step(both(-60.0), None, Known::Nothing);
        }
    }

    #[test]
    fn a_likelihood_is_that_of_the_two_bells() {
        // By hand: ln 0.2 / 0.4 = -0.693, over 0.5: -1.386, half its square 0.961, less ln 0.5; against 0.1: 0.693 over 0.9.
        let by_hand = (-0.961 + 0.693) - (-0.297 + 0.105);
        assert!((likelier(0.2, HELD, STRING) - by_hand).abs() < 0.002);
        assert!((likelier(50.0, HELD, STRING) - likelier(0.4, HELD, STRING)).abs() < 1e-12);
    }
}
