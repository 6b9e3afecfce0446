//! How loud the drone has been: what is louder is not the drone alone.
//!
//! In: the level of the microphone hop by hop, and whether a voice was heard. Out: whether the hop is louder than the drone has
//! ever been by itself. Then nothing is learned of it: a voice on the drone's own pitch, which the tracker does not find at
//! once, would be taken for the drone, taken out, and never be found. Method: the greatest level without a voice, which grows
//! slowly where it is passed, as when somebody turns the drone up. Also: whether something has just begun to sound.

use crate::input::HOP_S;

/// Louder than this over the greatest level so far is not the drone alone, dB.
const OVER_DB: f64 = 2.0;
/// Louder than this it is surely something else: a voice that is as loud as the drone brings 3 dB.
const FAR_OVER_DB: f64 = 5.0;
/// Hops without a voice after which none is reckoned with: 10 s.
const SUNG_HOPS: u32 = 2000;
/// While one is, a drone swings by no more than this over the least level of so many times 200 ms, 6 s: what is louder, and was so
/// for less, is a voice that is not found at once, and note by note the drone would be held for as loud.
const SWINGS_DB: f64 = 3.0;
const LEAST_OF: usize = 30;
/// How fast the greatest level grows where it is passed, and falls where it is not reached, dB/s.
const GROWS_DB_S: f64 = 3.0;
const FALLS_DB_S: f64 = 0.3;

/// Over the least level of late by so much something has begun to sound, dB: a voice as loud as the drone brings 3.
const BEGUN_DB: f64 = 3.0;
/// By so much a voice hides the drone, and plucked strings swing, dB.
const HIDES_DB: f64 = 10.0;
/// Hops until a drone that begins has faded in: 1 s from when it is known.
const SETTLED_HOPS: u32 = 200;
/// Hops of a pluck cycle and more: 8 s.
const LONG_HOPS: u32 = 1600;
/// How fast the least level rises, dB/s: a long tone is no softer for it.
const RISES_DB_S: f64 = 0.3;
/// By so much more something begins within so many hops, 200 ms, dB: a drone in a codec's hands swings by 4.
const BEGINS_DB: f64 = 5.0;
const BEGINS_HOPS: usize = 40;
/// By so much more a string may have been plucked under a voice, dB.
const SWELLS_DB: f64 = 1.5;
/// By so much it may be about to.
const RISES_DB: f64 = 3.0;
/// What began within so many hops, 300 ms, before a machine is known may be a voice.
const BEGUN_HOPS: u32 = 60;
/// It is where it brings more than another string does, dB.
const STRING_DB: f64 = 5.0;
/// The first levels are of a window that is not full yet, hops.
const FIRST_HOPS: usize = 13;

#[derive(Debug, Clone, Copy)]
pub(super) struct Ceiling {
    /// dBFS; `None`: nothing heard yet.
    greatest: Option<f64>,
    /// The least level of late, voice or none, and for how many hops a drone has been known.
    least: f64,
    known: u32,
    /// Levels of late, the newest first, not looked at before there were any; and how many there were.
    lately: [f64; BEGINS_HOPS + 1],
    followed: usize,
    /// Hops since something began, whether it still grows, and the greatest level as it began.
    begun: u32,
    rising: bool,
    until_begun: Option<f64>,
    /// That level, where a drone was known just then.
    under: Option<f64>,
    /// Hops without a voice for which one is still reckoned with.
    sung: u32,
    /// The least of each 200 ms, the newest first.
    floors: [f64; LEAST_OF],
}

impl Default for Ceiling {
    fn default() -> Self {
        Self {
            greatest: None,
            least: 0.0,
            known: 0,
            lately: [0.0; BEGINS_HOPS + 1],
            begun: BEGUN_HOPS,
            rising: false,
            until_begun: None,
            under: None,
            followed: 0,
            sung: 0,
            floors: [f64::INFINITY; LEAST_OF],
        }
    }
}

impl Ceiling {
    /// A hop that surely has a voice.
    pub(super) fn sung(&mut self) {
        self.sung = SUNG_HOPS;
    }

    /// A hop without a voice, or one that may have none; `first`: no drone is known yet, and what sounds may be all of it.
    pub(super) fn learn(&mut self, level: f64, first: bool) {
        self.sung = self.sung.saturating_sub(1);
        let greatest = self.greatest.unwrap_or(level);
        self.greatest = Some(if first {
            greatest.max(level)
        } else if level > greatest {
            let swings_to = self.floors.into_iter().fold(f64::INFINITY, f64::min) + SWINGS_DB;
            let most = if self.sung > 0 { swings_to.max(greatest) } else { f64::INFINITY };
            (greatest + GROWS_DB_S * HOP_S).min(level).min(most)
        } else {
            greatest - FALLS_DB_S * HOP_S
        });
    }

    /// Any hop, first of all.
    pub(super) fn follow(&mut self, level: f64) {
        self.followed = self.followed.saturating_add(1);
        if self.followed <= FIRST_HOPS {
            self.lately.fill(level);
        }
        self.lately.rotate_right(1);
        self.lately[0] = level;
        if self.followed.is_multiple_of(BEGINS_HOPS) {
            self.floors.rotate_right(1);
            self.floors[0] = f64::INFINITY;
        }
        self.floors[0] = self.floors[0].min(level);
        self.begun = self.begun.saturating_add(1);
        let begins = self.begins();
        if begins && !self.rising {
            self.begun = 0;
            self.until_begun = self.greatest;
        }
        self.rising = begins;
    }

    /// Whether something begins to sound over what sounds.
    pub(super) fn begins(&self) -> bool {
        self.grew_by(BEGINS_DB)
    }

    /// Whether something may begin: a string, or a voice that is as loud as the drone.
    pub(super) fn rises(&self) -> bool {
        self.grew_by(RISES_DB)
    }

    /// Whether it has grown by what a string brings to a voice that is as loud.
    pub(super) fn swells(&self) -> bool {
        self.grew_by(SWELLS_DB)
    }

    /// Whether it is louder by so much than 200 ms ago, dB.
    fn grew_by(&self, db: f64) -> bool {
        let [now, .., before] = self.lately;
        now > before + db
    }

    /// Any hop, and whether a drone is known.
    pub(super) fn hear(&mut self, level: f64, known: bool) {
        let under = self.until_begun.filter(|before| self.begun < BEGUN_HOPS && level > before + STRING_DB);
        if known && self.known == 0 && under.is_some() {
            self.greatest = under;
            self.under = under;
        }
        self.under = self.under.filter(|_| known && self.known < SETTLED_HOPS);
        self.known = if known { self.known.saturating_add(1) } else { 0 };
        if !known {
            self.floors = [f64::INFINITY; LEAST_OF];
        }
        self.least = if self.known < SETTLED_HOPS { level } else { level.min(self.least + RISES_DB_S * HOP_S) };
    }

    /// Whether it has never been much softer of late: nothing has begun to sound over the drone.
    pub(super) fn is_softest(&self, level: f64) -> bool {
        level < self.least + BEGUN_DB
    }

    /// Whether it has never been so much softer that a voice must have begun that hides the drone.
    pub(super) fn is_soft(&self, level: f64) -> bool {
        level < self.least + HIDES_DB
    }

    /// Whether a drone has been known for a second.
    pub(super) fn settled(&self) -> bool {
        self.known >= SETTLED_HOPS
    }

    /// Whether a drone has been known for so long that every string of it was heard.
    pub(super) fn known_for_long(&self) -> bool {
        self.known >= LONG_HOPS
    }

    /// The level of the drone alone, dBFS, where something began just before it was known, for a second.
    pub(super) fn under(&self) -> Option<f64> {
        self.under
    }

    /// Whether it is louder than the drone alone.
    pub(super) fn passed(&self, level: f64) -> bool {
        self.greatest.is_some_and(|greatest| level > greatest + OVER_DB)
    }

    /// Whether it is so much louder that something else must sound.
    pub(super) fn far_passed(&self, level: f64) -> bool {
        self.greatest.is_some_and(|greatest| level > greatest + FAR_OVER_DB)
    }

    pub(super) fn reset(&mut self) {
        *self = Self::default();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_grows_slowly_once_a_drone_is_known() {
        let mut ceiling = Ceiling::default();
        assert!(!ceiling.passed(0.0), "nothing is known");
        for level in [-50.0, -40.0, -45.0] {
            ceiling.learn(level, true);
        }
        assert!(ceiling.passed(-37.9) && !ceiling.passed(-38.1));
        // A second of something 20 dB louder: 3 dB.
        (0..200).for_each(|_| ceiling.learn(-20.0, false));
        assert!(ceiling.passed(-34.9) && !ceiling.passed(-35.1));
        // Ten of something softer.
        (0..2000).for_each(|_| ceiling.learn(-45.0, false));
        assert!(ceiling.passed(-37.9) && !ceiling.passed(-38.1));
    }

    /// Levels of a drone at -40 dB, and from `begins` seconds on 12 dB more, until it is known at one second.
    fn known_after(begins: f64) -> Ceiling {
        let mut ceiling = Ceiling::default();
        for hop in 0..200 {
            let level = if f64::from(hop) * HOP_S < begins { -40.0 } else { -28.0 };
            ceiling.follow(level);
            ceiling.hear(level, false);
            ceiling.learn(level, true);
        }
        ceiling.follow(-28.0);
        ceiling.hear(-28.0, true);
        ceiling
    }

    #[test]
    fn what_began_just_before_a_drone_was_known_is_not_its_level() {
        let just = known_after(0.8);
        assert_eq!(just.under(), Some(-40.0));
        assert!(just.passed(-28.0));
        // What has sounded for half a second is the drone.
        let long = known_after(0.5);
        assert_eq!(long.under(), None);
        assert!(!long.passed(-28.0));
    }
}
