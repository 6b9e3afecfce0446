//! Which Sa would make these steady tones a drone, or one held voice.
//!
//! In: spectral lines. Out: candidates for Sa with scores from 0 to 1, best first. Method: a template of
//! partials for each usual drone (strings Pa Sa Sa low-Sa, or with Ma or Ni first; reed Sa Pa Sa' or Sa Ma
//! Sa') and for a single tone is laid over the lines at every Sa that a line can stand for; the score is
//! the cosine of the angle between what the template foresees and what is there. The fine value is the
//! weighted median of what the low partials say. Cost: about 100 positions of 6 templates over 40 lines,
//! a fraction of a millisecond. Does not handle drones with other first strings.

use crate::tonic::lines::Line;

/// Sa is sought from here to there, Hz: the research software's usual range is 100 to 375 Hz (Essentia
/// reference, `TonicIndianArtMusic`); children and low men lie outside it.
const SA_RANGE_HZ: (f64, f64) = (75.0, 530.0);
/// The usual range of Sa within it, Hz (the same source), and what a Sa outside it is worth.
const USUAL_HZ: (f64, f64) = (100.0, 375.0);
/// See [`USUAL_HZ`]: enough to decide between near equals only.
const UNUSUAL: f64 = 0.97;
/// A line belongs to a partial within this many cents: under half the smallest distance of two partials
/// of one template that matter (16/15 is 112), over what a stiff string or a voice strays.
const REACH_CENTS: f64 = 22.0;
/// Lines this far below the strongest count nothing, dB.
const FLOOR_DB: f64 = 45.0;
/// Each partial is foreseen this much weaker than the one below it (factor; plucked strings and reeds
/// have strong high partials, so the fall is slight).
const FALL: f64 = 0.9;
/// The highest partial frequency compared, Hz: the band of the lines.
const TOP_HZ: f64 = 1_600.0;
/// Small loudspeakers and microphones lose what lies below, Hz: not foreseen there.
const BOTTOM_HZ: f64 = 90.0;
/// Two Sa this near, cents, are one candidate.
const SAME_CENTS: f64 = 35.0;
/// As many candidates as are handed on.
pub const MAX_ROOTS: usize = 4;
/// Lines that may propose an Sa: the strongest.
const PROPOSERS: usize = 14;
/// Partials up to this multiple of Sa take part in the fine value: above, strings are stiff.
const FINE_MULTIPLE: f64 = 3.1;

/// What seems to sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Plucked strings, the first on Pa.
    StringsPa,
    /// Plucked strings, the first on Ma.
    StringsMa,
    /// Plucked strings, the first on Ni.
    StringsNi,
    /// A reed on Sa, Pa, upper Sa.
    ReedPa,
    /// A reed on Sa, Ma, upper Sa.
    ReedMa,
    /// One tone: a voice, or a single reed or string.
    Single,
}

/// The tones of a template: ratio to Sa, strength.
type Tones = &'static [(f64, f64)];

/// The templates; string tunings after musicalinstrumentsofindia.com (tanpura tuning), reeds common
/// practice. Pa a fourth below, Ma a fifth below, Ni a semitone below middle Sa.
const TEMPLATES: [(Kind, Tones); 6] = [
    (Kind::StringsPa, &[(0.5, 0.8), (0.75, 0.8), (1.0, 1.0)]),
    (Kind::StringsMa, &[(0.5, 0.8), (2.0 / 3.0, 0.8), (1.0, 1.0)]),
    (Kind::StringsNi, &[(0.5, 0.8), (15.0 / 16.0, 0.8), (1.0, 1.0)]),
    (Kind::ReedPa, &[(1.0, 1.0), (1.5, 0.8), (2.0, 0.9)]),
    (Kind::ReedMa, &[(1.0, 1.0), (4.0 / 3.0, 0.8), (2.0, 0.9)]),
    (Kind::Single, &[(1.0, 1.0)]),
];

/// What a line may be of Sa: the ratios of lines that propose one.
const PROPOSALS: [f64; 8] = [0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0];

/// A possible Sa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Root {
    /// Sa, Hz, in the octave that fits the template.
    pub hz: f64,
    /// How well the template fits, 0 to 1.
    pub score: f64,
    /// The template.
    pub kind: Kind,
}

/// Candidates, best first; no two of one pitch class.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Roots {
    roots: [Option<Root>; MAX_ROOTS],
}

impl Roots {
    /// The candidates, best first.
    pub fn iter(&self) -> impl Iterator<Item = Root> + Clone + '_ {
        self.roots.iter().flatten().copied()
    }

    /// The best.
    #[must_use]
    pub fn best(&self) -> Option<Root> {
        self.roots[0]
    }

    /// By how much the best leads the next pitch class; its score where it is alone.
    #[must_use]
    pub fn lead(&self) -> f64 {
        match (self.roots[0], self.roots[1]) {
            (Some(first), Some(second)) => first.score - second.score,
            (Some(first), None) => first.score,
            _ => 0.0,
        }
    }

    /// Takes a candidate in, once per pitch class.
    fn offer(&mut self, root: Root) {
        let same = |other: &Root| folded_cents(root.hz / other.hz).abs() < SAME_CENTS;
        if let Some(at) = self.roots.iter().position(|slot| slot.as_ref().is_some_and(same)) {
            if self.roots.get(at).copied().flatten().is_some_and(|other| other.score >= root.score) {
                return;
            }
            if let Some(tail) = self.roots.get_mut(at..) {
                tail[0] = None;
                tail.rotate_left(1);
            }
        }
        let place = self.roots.iter().position(|slot| slot.is_none_or(|other| other.score < root.score));
        if let Some(tail) = place.and_then(|at| self.roots.get_mut(at..)) {
            tail.rotate_right(1);
            tail[0] = Some(root);
        }
    }
}

/// The interval of a ratio, folded to -600..=600 cents.
#[must_use]
pub fn folded_cents(ratio: f64) -> f64 {
    let cents = 1200.0 * ratio.log2();
    cents - 1200.0 * (cents / 1200.0).round()
}

/// How much a line counts, 0 to 1.
fn weight(line: &Line) -> f64 {
    (1.0 + line.db / FLOOR_DB).clamp(0.0, 1.0)
}

/// The candidates that the lines speak for.
#[must_use]
pub fn roots(lines: &[Line]) -> Roots {
    let mut roots = Roots::default();
    for line in lines.iter().take(PROPOSERS) {
        for ratio in PROPOSALS {
            let hz = line.hz / ratio;
            if !(SA_RANGE_HZ.0..=SA_RANGE_HZ.1).contains(&hz) {
                continue;
            }
            let usual = if (USUAL_HZ.0..=USUAL_HZ.1).contains(&hz) { 1.0 } else { UNUSUAL };
            for (kind, tones) in TEMPLATES {
                let score = usual * fit(lines, hz, tones);
                roots.offer(Root { hz, score, kind });
            }
        }
    }
    for root in roots.roots.iter_mut().flatten() {
        root.hz = fine(lines, root);
    }
    roots
}

/// The cosine between a template at `sa` and the lines.
fn fit(lines: &[Line], sa: f64, tones: Tones) -> f64 {
    let mut dot = 0.0;
    let mut foreseen_square = 0.0;
    for (index, &(ratio, strength)) in tones.iter().enumerate() {
        let tone_hz = sa * ratio;
        let mut partial = 1.0;
        let mut level = strength;
        while partial * tone_hz <= TOP_HZ {
            let hz = partial * tone_hz;
            // Partials that two tones share are foreseen once, as the stronger of the two.
            let shared = tones.iter().enumerate().any(|(other, &(r, s))| {
                let multiple = hz / (sa * r);
                let whole = multiple.round();
                let theirs = s * FALL.powf(whole - 1.0);
                other != index
                    && whole >= 1.0
                    && (multiple - whole).abs() < 1e-6
                    && (theirs > level || (theirs == level && other < index))
            });
            if hz >= BOTTOM_HZ && !shared {
                foreseen_square += level * level;
                dot += level * near(lines, hz);
            }
            partial += 1.0;
            level *= FALL;
        }
    }
    let there_square: f64 = lines.iter().filter(|line| line.hz >= BOTTOM_HZ).map(|l| weight(l).powi(2)).sum();
    let product = foreseen_square * there_square;
    if product > 0.0 { dot / product.sqrt() } else { 0.0 }
}

/// The weight of the strongest line within reach of `hz`.
fn near(lines: &[Line], hz: f64) -> f64 {
    let reach = (REACH_CENTS / 1200.0).exp2();
    lines.iter().find(|line| line.hz < hz * reach && line.hz > hz / reach).map_or(0.0, weight)
}

/// The weighted median of what the low partials of a root's template say about Sa.
fn fine(lines: &[Line], root: &Root) -> f64 {
    let Some((_, tones)) = TEMPLATES.iter().find(|(kind, _)| *kind == root.kind) else { return root.hz };
    let mut said = [(0.0, 0.0); 64];
    let mut count = 0;
    for line in lines.iter().filter(|line| line.hz <= FINE_MULTIPLE * root.hz) {
        for &(ratio, _) in *tones {
            let multiple = line.hz / (root.hz * ratio);
            let whole = multiple.round().max(1.0);
            let apart = 1200.0 * (multiple / whole).log2();
            if apart.abs() < REACH_CENTS
                && let Some(slot) = said.get_mut(count)
            {
                // Low partials first: a string's stretch grows with the square of the partial.
                *slot = (apart, weight(line) / whole);
                count += 1;
                break;
            }
        }
    }
    let said = said.get_mut(..count).unwrap_or(&mut []);
    said.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let half = said.iter().map(|(_, weight)| weight).sum::<f64>() / 2.0;
    let mut sum = 0.0;
    for &(apart, weight) in said.iter() {
        sum += weight;
        if sum >= half {
            return root.hz * (apart / 1200.0).exp2();
        }
    }
    root.hz
}

#[cfg(test)]
mod tests {
    use super::*;

    fn harmonic(tones: &[f64], sa: f64) -> Vec<Line> {
        let mut lines = Vec::new();
        for tone in tones {
            for h in 1..=8 {
                let hz = sa * tone * f64::from(h);
                if hz < 1_600.0 && !lines.iter().any(|l: &Line| (l.hz - hz).abs() < 0.5) {
                    lines.push(Line { hz, db: -2.0 * f64::from(h - 1), scatter_db: 0.0 });
                }
            }
        }
        lines.sort_by(|a, b| b.db.total_cmp(&a.db));
        lines
    }

    #[test]
    fn usual_drones_give_their_sa() {
        for (tones, sa) in [
            (&[1.0, 1.5, 2.0][..], 138.0),
            (&[1.0, 4.0 / 3.0, 2.0], 207.0),
            (&[0.5, 0.75, 1.0], 146.0),
            (&[0.5, 2.0 / 3.0, 1.0], 220.0),
            (&[0.5, 15.0 / 16.0, 1.0], 185.0),
            (&[1.0], 262.0),
        ] {
            let best = roots(&harmonic(tones, sa)).best().unwrap();
            assert!(folded_cents(best.hz / sa).abs() < 0.01, "{tones:?} {best:?}");
            assert!(best.score > 0.8, "{tones:?} {best:?}");
        }
    }

    #[test]
    fn nothing_gives_nothing() {
        let none = roots(&[]);
        assert_eq!((none.best(), none.lead()), (None, 0.0));
    }

    #[test]
    fn candidates_are_distinct_and_in_order() {
        let found = roots(&harmonic(&[0.5, 0.75, 1.0], 132.0));
        let list: Vec<Root> = found.iter().collect();
        assert!(list.len() >= 2);
        for pair in list.windows(2) {
            assert!(pair[0].score >= pair[1].score);
            assert!(folded_cents(pair[0].hz / pair[1].hz).abs() > SAME_CENTS / 2.0);
        }
    }
}
