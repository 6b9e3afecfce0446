//! The Sa of a drone that nobody told of, as it may be said: one that stays while its strings take their turns.
//!
//! In: the drone's strongest tones, listed anew each second, the chosen Sa, and a clock. Out: Sa of the drone in the octave
//! nearest to the chosen one, or nothing. Method: of plucked strings a second holds only what sounds then, so that Sa is
//! sought in the tones of a whole pluck cycle; it is believed when estimates in a row agree, and held over seconds that tell
//! nothing. Cost: a fraction of a millisecond for a new list, nothing between. For a viewer: one who looks as seldom as once
//! a second may miss a list and waits longer. Not handled: strings on Pa beside a chosen Sa near the Pa that they hold down,
//! which are heard as strings on Ma that are a little off.

use super::foreign;
use crate::bleed::{Tone, Tones};
use crate::units::Hertz;

/// Lists that a pluck cycle fills: 6 s.
const CYCLE: usize = 6;
/// Tones so near are one, Hz: more than two strings on Sa lie apart, less than the 15 Hz by which lines are told apart.
const SAME_HZ: f64 = 3.0;
/// Estimates agree that lie within this, cents (over our own strings they stray by 2.6).
const AGREE_CENTS: f64 = 5.0;
/// Estimates in a row that make one believed; and farther from the chosen Sa than a semitone, where a wrong one is likelier
/// and all strings must have been heard.
const IN_A_ROW: u32 = 2;
const FAR_IN_A_ROW: u32 = 3;
const FAR_CENTS: f64 = 100.0;
/// How long it is held after it was last seen, seconds: longer than a pluck cycle.
const HELD_S: f64 = 10.0;

/// What is known of the drone from one look to the next.
#[derive(Debug, Clone)]
pub struct DroneSa {
    chosen: Hertz,
    /// Newest first.
    lists: [Tones; CYCLE],
    /// The newest estimate, and how many in a row agree on it.
    newest: Option<(Hertz, u32)>,
    /// What is believed, and when it was last seen.
    believed: Option<(Hertz, f64)>,
}

impl Default for DroneSa {
    fn default() -> Self {
        Self { chosen: Hertz(0.0), lists: [[None; 16]; CYCLE], newest: None, believed: None }
    }
}

impl DroneSa {
    /// What may be said at `time_s`, on any clock that goes on. A chosen Sa that moved begins anew.
    pub fn look(&mut self, tones: &Tones, chosen: Hertz, time_s: f64) -> Option<Hertz> {
        if chosen != self.chosen {
            (self.chosen, self.newest, self.believed) = (chosen, None, None);
        }
        if *tones != self.lists[0] {
            self.list(tones);
            if let Some(sa) = foreign::sa(self.strongest().iter(), chosen) {
                self.estimate(sa, time_s);
            }
        }
        self.believed = self.believed.filter(|(_, seen_s)| time_s - seen_s < HELD_S);
        self.believed.map(|(sa, _)| sa)
    }

    fn list(&mut self, tones: &Tones) {
        if tones[0].is_none() {
            // No drone is known any more: what comes is another one.
            self.lists = [[None; 16]; CYCLE];
        } else {
            self.lists.rotate_right(1);
            self.lists[0] = *tones;
        }
    }

    /// The tones of the last cycle, each where it was heard last and as loud as it ever was, strongest first.
    fn strongest(&self) -> Vec<Tone> {
        let mut all: Vec<Tone> = Vec::new();
        for tone in self.lists.iter().flatten().flatten() {
            match all.iter_mut().find(|other| (other.hz - tone.hz).abs() < SAME_HZ) {
                Some(same) => same.db = same.db.max(tone.db),
                None => all.push(*tone),
            }
        }
        all.sort_by(|a, b| b.db.total_cmp(&a.db));
        all
    }

    fn estimate(&mut self, sa: Hertz, time_s: f64) {
        let far = sa.cents_above(self.chosen).is_none_or(|apart| apart.0.abs() > FAR_CENTS);
        if far && self.lists.iter().any(|list| list[0].is_none()) {
            self.newest = None;
            return;
        }
        let agrees = |other: Hertz| sa.cents_above(other).is_some_and(|apart| apart.0.abs() < AGREE_CENTS);
        let row = self.newest.filter(|(newest, _)| agrees(*newest)).map_or(1, |(_, row)| row.saturating_add(1));
        self.newest = Some((sa, row));
        let enough = if far { FAR_IN_A_ROW } else { IN_A_ROW };
        if row >= enough || self.believed.is_some_and(|(believed, _)| agrees(believed)) {
            self.believed = Some((sa, time_s));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Cents, num};

    const CHOSEN: Hertz = Hertz(146.832);

    /// A second of strings on Ma, Sa, Sa and low Sa: the one that was plucked, and what is left of the one before.
    fn second(sa: Hertz, number: u32) -> Tones {
        let string = |back: u32, db: f64| {
            let hz = [2.0 / 3.0, 1.0, 1.001, 0.5][num::index(f64::from((number + 4 - back) % 4))] * sa.0;
            (1..=6).map(move |k| Tone { hz: hz * f64::from(k), db: db - 2.0 * f64::from(k - 1) })
        };
        // No two seconds are the same to the bit.
        let jitter = -0.01 * f64::from(number);
        let mut list = [None; 16];
        for (slot, tone) in list.iter_mut().zip(string(0, jitter).chain(string(1, -6.0))) {
            *slot = Some(tone);
        }
        list
    }

    /// What is said of so many seconds of strings, each looked at three times, in cents from the chosen Sa.
    fn said(drone: &mut DroneSa, sa: Hertz, seconds: std::ops::Range<u32>) -> Vec<Option<f64>> {
        let looks = seconds.flat_map(|second| [0.0, 0.33, 0.66].map(|part| (second, part)));
        let cents = |(number, part)| {
            let found = drone.look(&second(sa, number), CHOSEN, f64::from(number) + part)?;
            Some(found.cents_above(CHOSEN).unwrap().0)
        };
        looks.map(cents).collect()
    }

    #[test]
    fn strings_that_take_turns_are_said_without_a_break() {
        for off in [60.0, -45.0, 250.0, -250.0] {
            let sa = CHOSEN.up(Cents(off));
            let alone = (0..20).filter(|n| foreign::sa(second(sa, *n).iter().flatten(), CHOSEN).is_some()).count();
            assert!(alone < 20, "every second by itself tells Sa: {off}");
            let said = said(&mut DroneSa::default(), sa, 0..30);
            let from = said.iter().position(Option::is_some).unwrap();
            assert!(from <= 3 * if off.abs() > FAR_CENTS { 9 } else { 5 }, "{off}: {from}");
            assert!(said[from..].iter().all(|cents| cents.is_some_and(|cents| (cents - off).abs() < 2.0)), "{said:?}");
        }
    }

    /// Estimates at these seconds, in cents from the chosen Sa, of a drone whose strings were all heard.
    fn believed(estimates: &[(f64, f64)], asked_s: f64) -> Option<f64> {
        let mut drone = DroneSa { chosen: CHOSEN, lists: [second(CHOSEN, 0); CYCLE], ..DroneSa::default() };
        for (time_s, cents) in estimates {
            drone.estimate(CHOSEN.up(Cents(*cents)), *time_s);
        }
        let found = drone.look(&second(CHOSEN, 0), CHOSEN, asked_s)?;
        Some(found.cents_above(CHOSEN).unwrap().0.round())
    }

    #[test]
    fn two_estimates_in_a_row_are_believed_and_three_of_a_sa_far_off() {
        assert_eq!(believed(&[(1.0, 60.0)], 1.0), None);
        assert_eq!(believed(&[(1.0, 60.0), (3.0, 62.0)], 3.0), Some(62.0));
        assert_eq!(believed(&[(1.0, 60.0), (2.0, 40.0), (3.0, 60.0)], 3.0), None);
        assert_eq!(believed(&[(1.0, -437.0), (2.0, -437.0)], 2.0), None);
        assert_eq!(believed(&[(1.0, -437.0), (2.0, -437.0), (3.0, -436.0)], 3.0), Some(-436.0));
    }

    #[test]
    fn what_is_believed_is_held_for_ten_seconds_and_gives_way_to_what_is_agreed_on() {
        let seen = [(1.0, 60.0), (2.0, 60.0)];
        assert_eq!(believed(&seen, 11.9), Some(60.0));
        assert_eq!(believed(&seen, 12.1), None);
        let again = [&seen[..], &[(9.0, 61.0)]].concat();
        assert_eq!(believed(&again, 18.9), Some(61.0));
        let another = [&seen[..], &[(3.0, 20.0)]].concat();
        assert_eq!(believed(&another, 3.0), Some(60.0));
        let agreed = [&another[..], &[(4.0, 20.0)]].concat();
        assert_eq!(believed(&agreed, 4.0), Some(20.0));
    }

    #[test]
    fn a_sa_far_off_waits_until_all_strings_were_heard() {
        let mut drone = DroneSa { chosen: CHOSEN, ..DroneSa::default() };
        for number in 0..5 {
            drone.list(&second(CHOSEN, number));
            drone.estimate(CHOSEN.up(Cents(-437.0)), 0.0);
        }
        assert_eq!((drone.newest, drone.believed), (None, None));
    }

    #[test]
    fn a_chosen_sa_that_moves_begins_anew_and_a_drone_that_ends_is_forgotten() {
        let sa = CHOSEN.up(Cents(60.0));
        let mut drone = DroneSa::default();
        assert!(said(&mut drone, sa, 0..8).last().unwrap().is_some());
        assert_eq!(drone.look(&second(sa, 7), sa, 8.0), None);
        assert_eq!(drone.look(&second(sa, 8), sa, 9.0), None);
        assert!(drone.look(&second(sa, 9), sa, 10.0).is_some_and(|found| (found.0 / sa.0 - 1.0).abs() < 1e-3));
        // What is left of it is held, and no tone of it counts for another drone.
        assert!(drone.look(&[None; 16], sa, 11.0).is_some());
        assert!(drone.strongest().is_empty());
    }
}
