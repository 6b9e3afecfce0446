//! Whether the lines of a machine change their levels: plucked strings do, a reed does not.
//!
//! In: look by look, by how much the level of each loud line has changed over a turn, and how much noise lies beside it. Out:
//! whether the lines fade, and whether they swing at all. Strings without anything that holds them fade all the time; others rise
//! as their overtones travel, and beat, and only swing. Method: the mean of the median change; and the stillest fifth of the last
//! looks, for a voice over a reed makes its lines swing now and then, never always. Breath and gliding harmonics do so always, but
//! by no more than what lies beside the lines: the median of what goes beyond that is added. (Median change of 120 ms without its
//! sign, measured over a second and more: stillest fifth of the looks 0.1 to 0.7 dB for reeds alone and under a voice, 0.7 to 1.9
//! for strings; with what goes beyond noise 0.1 to 0.9 and 1.2 to 2.9.) Cost: three medians of some dozen numbers every 40 ms.

/// Fewer lines say nothing.
const LEAST: usize = super::lines::MACHINE;
/// Share of a new look in the mean change of levels: some two seconds.
const CHANGE_NEW: f32 = 0.02;
/// A pluck changes all levels by more, dB: it counts as so much.
const MOST_CHANGE_DB: f32 = 2.0;
/// Change over a turn below which the lines fade, dB: 3 dB/s (strings under a voice lose 3 to 9, reeds 0.2 at most).
const FADES_DB: f32 = -0.36;
/// Looks that are remembered, 4 s, and how many must have been seen, 1 s.
const LOOKS: usize = 100;
const ENOUGH: usize = 25;
/// Every which of the looks, from the stillest on, is still.
const FIFTH: usize = 5;
/// The sum of both, dB, above which the lines swing.
const SWINGS_DB: f32 = 1.2;
/// The stillest fifth above which they stir, whether by themselves or in noise, dB.
const STIRS_DB: f32 = 0.5;
/// What noise of a line's own power beside it adds to the square of a change, dB^2: its level strays by 20 / ln 10 times the part
/// in phase, half of it; the median of powers beside a line is ln 2 of their mean.
const NOISE_DB2: f32 = 54.4;

/// A line in a look.
#[derive(Debug, Clone, Copy)]
pub(super) struct Change {
    /// Of its level over a turn, dB.
    pub(super) db: f32,
    /// Power beside it as a share of its own, the sum of both ends of the turn.
    pub(super) noise: f32,
    /// Whether a voice covers it.
    pub(super) covered: bool,
}

/// Medians of the last looks, the newest first.
struct Last {
    db: [f32; LOOKS],
    seen: usize,
}

impl Last {
    const NONE: Self = Self { db: [0.0; LOOKS], seen: 0 };

    fn push(&mut self, db: f32) {
        self.db.rotate_right(1);
        self.db[0] = db;
        self.seen = (self.seen + 1).min(LOOKS);
    }

    /// What one of so many is below.
    fn below(&self, one_of: usize) -> f32 {
        let mut sorted = self.db;
        match sorted.get_mut(..self.seen) {
            Some(seen) if !seen.is_empty() => *seen.select_nth_unstable_by(self.seen / one_of, f32::total_cmp).1,
            _ => 0.0,
        }
    }
}

pub(super) struct Swings {
    /// Changes of this look: all, those of lines that no voice covers without their signs, and what of these goes beyond noise.
    changes: Vec<f32>,
    sizes: Vec<f32>,
    beyond: Vec<f32>,
    /// Mean of the median change, dB; `None`: none seen yet.
    change_db: Option<f32>,
    /// Median sizes, and what goes beyond noise.
    last: Last,
    last_beyond: Last,
    /// The stillest fifth of the one, and with the median of the other on top, dB.
    still_db: f32,
    swing_db: f32,
}

impl Swings {
    /// For at most so many lines.
    pub(super) fn new(lines: usize) -> Self {
        Self {
            changes: Vec::with_capacity(lines),
            sizes: Vec::with_capacity(lines),
            beyond: Vec::with_capacity(lines),
            change_db: None,
            last: Last::NONE,
            last_beyond: Last::NONE,
            still_db: 0.0,
            swing_db: 0.0,
        }
    }

    /// Takes a look.
    pub(super) fn look(&mut self, lines: impl Iterator<Item = Change>) {
        for values in [&mut self.changes, &mut self.sizes, &mut self.beyond] {
            values.clear();
        }
        for Change { db, noise, covered } in lines {
            self.changes.push(db);
            if !covered {
                self.sizes.push(db.abs());
                self.beyond.push((db * db - NOISE_DB2 * noise).max(0.0).sqrt());
            }
        }
        if let Some(median) = median(&mut self.changes) {
            let mean = self.change_db.unwrap_or(median);
            self.change_db = Some(mean + CHANGE_NEW * (median.clamp(-MOST_CHANGE_DB, MOST_CHANGE_DB) - mean));
        }
        if let (Some(size), Some(beyond)) = (median(&mut self.sizes), median(&mut self.beyond)) {
            self.last.push(size);
            self.last_beyond.push(beyond);
            self.still_db = self.last.below(FIFTH);
            self.swing_db = self.still_db + self.last_beyond.below(2);
        }
    }

    /// Whether the lines fade.
    pub(super) fn fade(&self) -> bool {
        self.change_db.is_some_and(|db| db < FADES_DB)
    }

    /// Whether they never keep their levels.
    pub(super) fn swing(&self) -> bool {
        self.last.seen >= ENOUGH && self.swing_db > SWINGS_DB
    }

    /// Whether they never keep them, be it for the noise that there is.
    pub(super) fn stir(&self) -> bool {
        self.last.seen >= ENOUGH && self.still_db > STIRS_DB
    }

    pub(super) fn reset(&mut self) {
        self.change_db = None;
        self.last.seen = 0;
        self.last_beyond.seen = 0;
        self.still_db = 0.0;
        self.swing_db = 0.0;
    }
}

/// The median; `None`: of too few.
fn median(values: &mut [f32]) -> Option<f32> {
    if values.len() < LEAST {
        return None;
    }
    let half = values.len() / 2;
    Some(*values.select_nth_unstable_by(half, f32::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// After so many looks at eight lines with these changes, of which a voice covers so many, in so much noise.
    fn after(looks: usize, covered: usize, noise: f32, change: impl Fn(usize, usize) -> f32) -> Swings {
        let mut swings = Swings::new(8);
        for look in 0..looks {
            swings.look((0..8).map(|line| Change { db: change(look, line), noise, covered: line < covered }));
        }
        swings
    }

    #[test]
    fn strings_fade_or_swing_and_a_reed_does_neither() {
        let reed = |look: usize, line: usize| if (look + line).is_multiple_of(2) { 0.2 } else { -0.2 };
        assert!(!after(200, 0, 0.0, reed).swing() && !after(200, 0, 0.0, reed).fade());
        let fading = after(200, 0, 0.0, |_, _| -0.7);
        assert!(fading.fade() && fading.swing());
        let beating = |look: usize, line: usize| if (look / 10 + line).is_multiple_of(2) { 1.0 } else { -1.0 };
        assert!(after(200, 0, 0.0, beating).swing() && !after(200, 0, 0.0, beating).fade());
        assert!(!after(20, 0, 0.0, beating).swing(), "too early");
    }

    #[test]
    fn a_voice_over_a_reed_makes_no_strings_of_it() {
        // Three of the lines are the voice's, and in two of five looks it disturbs all.
        let sung = |look: usize, line: usize| if line < 3 || look % 5 < 2 { 4.0 } else { 0.1 };
        assert!(!after(300, 3, 0.0, sung).swing());
        assert!(after(300, 5, 0.0, sung).last.seen == 0, "too few lines are left");
    }

    #[test]
    fn breath_over_a_reed_makes_no_strings_of_it_and_strings_in_noise_are_some() {
        // By hand: beside lines with 3 % of their power at both ends of a turn it makes for sqrt(54.4 * 0.06) = 1.8 dB.
        let breath = |look: usize, line: usize| if (look + line).is_multiple_of(2) { 1.0 } else { -0.9 };
        assert!(!after(200, 0, 0.06, breath).swing());
        assert!(after(200, 0, 0.0, breath).swing());
        let strings = |look: usize, line: usize| if (look + line).is_multiple_of(2) { 2.2 } else { -0.9 };
        assert!(after(200, 0, 0.06, strings).swing());
    }
}
