//! Whether the lines of a machine change their levels: plucked strings do, a reed does not.
//!
//! In: look by look, by how much the level of each loud line has changed over a turn. Out: whether the lines fade, and whether
//! they swing at all. Strings without anything that holds them fade all the time; others rise as their overtones travel, and
//! beat, and only swing. Method: the mean of the median change; and the stillest fifth of the last looks, for a voice over a
//! reed makes its lines swing now and then, never always. (Median change of 120 ms without its sign, stillest fifth of the
//! looks, measured: reeds alone and under a voice 0.1 to 0.3 dB, strings 0.6 to 1.4.) Cost: a median of some dozen numbers
//! every 40 ms.

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
/// Change over a turn, whichever way, above which even the stillest looks swing, dB.
const SWINGS_DB: f32 = 0.5;

pub(super) struct Swings {
    /// Changes of this look: all, and without their signs those of lines that no voice covers.
    changes: Vec<f32>,
    sizes: Vec<f32>,
    /// Mean of the median change, dB; `None`: none seen yet.
    change_db: Option<f32>,
    /// Median sizes of the last looks, the newest first, and how many there are.
    looks: [f32; LOOKS],
    seen: usize,
    still_db: f32,
}

impl Swings {
    /// For at most so many lines.
    pub(super) fn new(lines: usize) -> Self {
        Self {
            changes: Vec::with_capacity(lines),
            sizes: Vec::with_capacity(lines),
            change_db: None,
            looks: [0.0; LOOKS],
            seen: 0,
            still_db: 0.0,
        }
    }

    /// A look: the change of each line's level, dB, and whether a voice covers it.
    pub(super) fn look(&mut self, lines: impl Iterator<Item = (f32, bool)>) {
        self.changes.clear();
        self.sizes.clear();
        for (change_db, covered) in lines {
            self.changes.push(change_db);
            if !covered {
                self.sizes.push(change_db.abs());
            }
        }
        if let Some(median) = median(&mut self.changes) {
            let mean = self.change_db.unwrap_or(median);
            self.change_db = Some(mean + CHANGE_NEW * (median.clamp(-MOST_CHANGE_DB, MOST_CHANGE_DB) - mean));
        }
        if let Some(median) = median(&mut self.sizes) {
            self.looks.rotate_right(1);
            self.looks[0] = median;
            self.seen = (self.seen + 1).min(LOOKS);
            let mut sorted = self.looks;
            if let Some(seen) = sorted.get_mut(..self.seen) {
                let (_, still, _) = seen.select_nth_unstable_by(self.seen / FIFTH, f32::total_cmp);
                self.still_db = *still;
            }
        }
    }

    /// Whether the lines fade.
    pub(super) fn fade(&self) -> bool {
        self.change_db.is_some_and(|db| db < FADES_DB)
    }

    /// Whether they never keep their levels.
    pub(super) fn swing(&self) -> bool {
        self.seen >= ENOUGH && self.still_db > SWINGS_DB
    }

    pub(super) fn reset(&mut self) {
        self.change_db = None;
        self.seen = 0;
        self.still_db = 0.0;
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

    /// After so many looks at eight lines with these changes, of which a voice covers so many.
    fn after(looks: usize, covered: usize, change: impl Fn(usize, usize) -> f32) -> Swings {
        let mut swings = Swings::new(8);
        for look in 0..looks {
            swings.look((0..8).map(|line| (change(look, line), line < covered)));
        }
        swings
    }

    #[test]
    fn strings_fade_or_swing_and_a_reed_does_neither() {
        let reed = |look: usize, line: usize| if (look + line).is_multiple_of(2) { 0.2 } else { -0.2 };
        assert!(!after(200, 0, reed).swing() && !after(200, 0, reed).fade());
        let fading = after(200, 0, |_, _| -0.6);
        assert!(fading.fade() && fading.swing());
        let beating = |look: usize, line: usize| if (look / 10 + line).is_multiple_of(2) { 1.0 } else { -1.0 };
        assert!(after(200, 0, beating).swing() && !after(200, 0, beating).fade());
        assert!(!after(20, 0, beating).swing(), "too early");
    }

    #[test]
    fn a_voice_over_a_reed_makes_no_strings_of_it() {
        // Three of the lines are the voice's, and in two thirds of the looks it disturbs all.
        let sung = |look: usize, line: usize| if line < 3 || !look.is_multiple_of(3) { 4.0 } else { 0.1 };
        assert!(!after(300, 3, sung).swing());
        assert!(after(300, 5, sung).still_db == 0.0, "too few lines are left");
    }
}
