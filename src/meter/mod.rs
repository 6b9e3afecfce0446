//! What each swara came to: how often and how long it was held, where it lay, how much of it was in tune.
//!
//! In: final notes with the time they spent at each offset ([`Offsets`]). Out: one [`RowSummary`] per swara, per register
//! or folded. A page is of fixed size (12 swarasthanas x 5 registers, a histogram of judged time in 1-cent bins out to
//! +-600 cents each, some 290 kB) and holds whole counts of 5 ms frames, so that two halves of a lesson merge to exactly the whole's
//! numbers; medians are exact to 1 cent (to the bin; inside it they are interpolated). Saved, only filled bins are
//! written. [`Meter::add`] never allocates; a summary walks at most five histograms.
//!
//! A page does not know its tonic, tuning and scale: who keeps pages keeps those beside them.

mod row;
mod saved;

use crate::note::{Band, Kind, Note, Offsets, STEADY_CENTS};
use crate::swara::Sthayi;
use crate::units::Cents;
use row::{FRAME_S, Row};
use serde::{Deserialize, Serialize};

/// Held notes of one swara below which no share is shown: a percentage of two notes says nothing (our choice).
pub const ENOUGH_NOTES: u32 = 5;

/// Swarasthanas in an octave.
pub const POSITIONS: usize = 12;
/// Registers from anumandra (-2) to atitara (2).
pub const REGISTERS: usize = 5;

/// One swara's figures, ready to show.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct RowSummary {
    /// Held notes.
    pub notes: u32,
    /// Held notes that only are nearest to it: they lie so far off that another swara was sung, which the scale lacks. No other figure
    /// counts them.
    pub far: u32,
    /// Time judged, seconds.
    pub judged_s: f64,
    /// Median offset over the judged time, cents; `None` without notes.
    pub median: Option<Cents>,
    /// Spread: half the width of the middle 68 %, cents.
    pub spread: Option<Cents>,
    /// Share of the judged time in the band.
    pub in_tune: Option<f64>,
    /// The longest steady stretch of one note, seconds; `None` without notes, and where all are from a project in which the
    /// lengths of whole notes were kept instead.
    pub longest_steady_s: Option<f64>,
}

/// How the sung time divides, seconds.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SungTime {
    /// A voice with a pitch sounded.
    pub sung_s: f64,
    /// In held notes, start to end.
    pub held_s: f64,
    /// In oscillating notes.
    pub oscillating_s: f64,
    /// In slides.
    pub gliding_s: f64,
}

impl SungTime {
    /// Share of the sung time that was held and so judged, 0 to 1; `None` before anything was sung.
    #[must_use]
    pub fn held_share(&self) -> Option<f64> {
        (self.sung_s > 0.0).then(|| (self.held_s / self.sung_s).min(1.0))
    }
}

/// The singer's long-tone practice on Sa.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct LongTone {
    /// Longest steady stretch of one Sa, seconds.
    pub longest_steady_s: f64,
    /// All steady time on Sa in the band, 5 ms frames.
    steady_frames: u64,
    /// The goal that the singer set, minutes; `None`: none set.
    pub goal_minutes: Option<f64>,
}

impl LongTone {
    /// All steady time on Sa, seconds.
    #[must_use]
    pub fn total_steady_s(&self) -> f64 {
        self.steady_frames as f64 * FRAME_S
    }

    /// How much of the goal is done, 0 and up; `None` without a goal.
    #[must_use]
    pub fn done(&self) -> Option<f64> {
        self.goal_minutes.filter(|goal| *goal > 0.0).map(|goal| self.total_steady_s() / (60.0 * goal))
    }
}

/// The statistics of one page (one tonic, tuning and scale).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "saved::Page", into = "saved::Page")]
pub struct Meter {
    /// Register by register from anumandra, position by position.
    rows: Box<[Row]>,
    sung: u64,
    held: u64,
    oscillating: u64,
    gliding: u64,
    long_tone: LongTone,
}

impl Default for Meter {
    fn default() -> Self {
        Self::new()
    }
}

impl Meter {
    /// An empty page. All memory is taken here.
    #[must_use]
    pub fn new() -> Self {
        Self {
            rows: (0..POSITIONS * REGISTERS).map(|_| Row::new()).collect(),
            sung: 0,
            held: 0,
            oscillating: 0,
            gliding: 0,
            long_tone: LongTone::default(),
        }
    }

    /// Counts one final note and the time it spent at each offset; only `held` ones enter the rows, the others count as
    /// sung and not judged, and so does one that lies far from every swara, beside its number. `seconds`: its length; `band`: what counts as in tune.
    pub fn add(&mut self, note: &Note, offsets: &Offsets<'_>, seconds: f64, band: Band) {
        let frames = row::frames(seconds);
        match note.kind {
            Kind::Oscillating => self.oscillating += frames,
            Kind::Gliding => self.gliding += frames,
            Kind::Held => {
                self.held += frames;
                if note.swara.position() == 0 && note.wobble.0 <= STEADY_CENTS && note.offset.0.abs() <= band.fixed.0 {
                    self.long_tone.longest_steady_s = self.long_tone.longest_steady_s.max(note.longest_steady_s);
                    self.long_tone.steady_frames += row::frames(note.longest_steady_s);
                }
                match self.row_mut(note.swara.position(), note.sthayi) {
                    Some(row) if note.far() => row.add_far(),
                    Some(row) => row.add(note, offsets),
                    None => {}
                }
            }
        }
    }

    /// Counts `frames` readings (5 ms each) in which a voice with a pitch sounded.
    pub fn add_sung(&mut self, frames: u64) {
        self.sung = self.sung.saturating_add(frames);
    }

    /// Adds another part of the same page: the result is as if all had been counted in one.
    pub fn merge(&mut self, other: &Meter) {
        for (mine, theirs) in self.rows.iter_mut().zip(&other.rows) {
            mine.merge(theirs);
        }
        self.sung += other.sung;
        self.held += other.held;
        self.oscillating += other.oscillating;
        self.gliding += other.gliding;
        let (mine, theirs) = (&mut self.long_tone, &other.long_tone);
        mine.longest_steady_s = mine.longest_steady_s.max(theirs.longest_steady_s);
        mine.steady_frames += theirs.steady_frames;
        mine.goal_minutes = mine.goal_minutes.or(theirs.goal_minutes);
    }

    /// The figures of the swara at `position` (0 to 11), all registers folded.
    #[must_use]
    pub fn row(&self, position: u8) -> RowSummary {
        let rows = self.rows.iter().skip(usize::from(position)).step_by(POSITIONS);
        if usize::from(position) < POSITIONS { row::summary(rows) } else { RowSummary::default() }
    }

    /// The figures of the swara at `position` (0 to 11) in one register.
    #[must_use]
    pub fn row_in(&self, position: u8, sthayi: Sthayi) -> RowSummary {
        Self::slot(position, sthayi)
            .and_then(|slot| self.rows.get(slot))
            .map_or_else(RowSummary::default, |row| row::summary(std::iter::once(row)))
    }

    /// The figures of the swara at `position` (0 to 11) in each register in which it was held, from the lowest; nothing where there
    /// is one alone, which [`Meter::row`] gives.
    pub fn registers(&self, position: u8) -> impl Iterator<Item = (Sthayi, RowSummary)> + '_ {
        let row = move |sthayi: &Sthayi| Self::slot(position, *sthayi).and_then(|slot| self.rows.get(slot));
        let held = move |sthayi: &Sthayi| row(sthayi).is_some_and(|row| row.notes > 0);
        let all = || [-2, -1, 0, 1, 2].map(Sthayi).into_iter();
        let several = all().filter(held).count() > 1;
        all().filter(move |sthayi| several && held(sthayi)).map(move |sthayi| (sthayi, self.row_in(position, sthayi)))
    }

    /// How the sung time divides.
    #[must_use]
    pub fn sung_time(&self) -> SungTime {
        let seconds = |frames: u64| frames as f64 * FRAME_S;
        SungTime {
            sung_s: seconds(self.sung),
            held_s: seconds(self.held),
            oscillating_s: seconds(self.oscillating),
            gliding_s: seconds(self.gliding),
        }
    }

    /// The long-tone practice on Sa.
    #[must_use]
    pub fn long_tone(&self) -> LongTone {
        self.long_tone
    }

    /// Whether nothing was counted yet.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.sung == 0 && self.held == 0 && self.oscillating == 0 && self.gliding == 0
    }

    /// Sets the long-tone goal, minutes; `None` or a non-positive one: no goal.
    pub fn set_goal(&mut self, minutes: Option<f64>) {
        self.long_tone.goal_minutes = minutes.filter(|m| m.is_finite() && *m > 0.0);
    }

    /// Takes over another page's numbers without allocating.
    pub fn copy_from(&mut self, other: &Meter) {
        for (mine, theirs) in self.rows.iter_mut().zip(&other.rows) {
            mine.copy_from(theirs);
        }
        (self.sung, self.held) = (other.sung, other.held);
        (self.oscillating, self.gliding) = (other.oscillating, other.gliding);
        self.long_tone = other.long_tone;
    }

    /// Forgets everything but the goal. Never allocates.
    pub fn clear(&mut self) {
        self.rows.iter_mut().for_each(Row::clear);
        (self.sung, self.held, self.oscillating, self.gliding) = (0, 0, 0, 0);
        self.long_tone = LongTone { goal_minutes: self.long_tone.goal_minutes, ..LongTone::default() };
    }

    fn slot(position: u8, sthayi: Sthayi) -> Option<usize> {
        let register = usize::try_from(i16::from(sthayi.0) + 2).ok()?;
        let position = usize::from(position);
        (register < REGISTERS && position < POSITIONS).then_some(register * POSITIONS + position)
    }

    fn row_mut(&mut self, position: u8, sthayi: Sthayi) -> Option<&mut Row> {
        Self::slot(position, sthayi).and_then(|slot| self.rows.get_mut(slot))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::note::tests::reading_at;
    use crate::note::{Expected, Judge};
    use crate::swara::{Swara, SwaraReading, Target, Targets};
    use crate::units::{SampleRate, SampleTime};
    use proptest::prelude::*;

    const BAND: Band = Band { fixed: Cents(20.0), others: Cents(25.0) };

    fn targets() -> Targets {
        let mut by_position = [None; 12];
        by_position[0] = Some(Target { swara: Swara::S, cents: Cents(0.0) });
        by_position[7] = Some(Target { swara: Swara::P, cents: Cents(701.955) });
        Targets { by_position }
    }

    fn reading(k: i64, cents: Option<f64>) -> SwaraReading {
        reading_at(SampleTime(k * 80), cents, &targets())
    }

    /// Sings `line` (one value per 5 ms, `None` silence) onto `page`.
    fn sing(page: &mut Meter, line: &[Option<f64>], expected: Option<Expected>) {
        let rate = SampleRate::new(16_000.0).unwrap();
        let mut judge = Judge::new(rate);
        judge.expect(expected);
        for (k, cents) in (0..).zip(line) {
            page.add_sung(u64::from(cents.is_some()));
            judge.push(&reading(k, *cents), &targets(), BAND, &mut |n, o| page.add(n, o, n.seconds(rate), BAND));
        }
        judge.finish(&targets(), BAND, &mut |n, o| page.add(n, o, n.seconds(rate), BAND));
    }

    /// A note of `frames` at `cents` with a slow waver, then a rest.
    fn note(cents: f64, frames: u16) -> Vec<Option<f64>> {
        let waver = |k: u16| 4.0 * (f64::from(k) * 0.07).sin();
        (0..frames).map(|k| Some(cents + waver(k))).chain((0..60).map(|_| None)).collect()
    }

    fn rows(page: &Meter) -> Vec<RowSummary> {
        let every = (0..12).flat_map(|p| (-2..=2).map(move |s| (p, s)));
        (0..12).map(|p| page.row(p)).chain(every.map(|(p, s)| page.row_in(p, Sthayi(s)))).collect()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]

        /// Two halves of a lesson give the whole's numbers, wherever it is cut, and a saved page is the page.
        #[test]
        fn halves_merge_to_the_whole(
            notes in prop::collection::vec((-1300.0..2500.0f64, 40u16..400), 1..8),
            cut in 0usize..8,
        ) {
            let cut = cut.min(notes.len());
            let (mut whole, mut first, mut second) = (Meter::new(), Meter::new(), Meter::new());
            for (k, (cents, frames)) in notes.iter().enumerate() {
                let line = note(*cents, *frames);
                sing(&mut whole, &line, None);
                sing(if k < cut { &mut first } else { &mut second }, &line, None);
            }
            first.merge(&second);
            prop_assert_eq!(&first, &whole);
            prop_assert_eq!(rows(&first), rows(&whole));
            let saved = serde_json::to_string(&whole).unwrap();
            prop_assert_eq!(serde_json::from_str::<Meter>(&saved).unwrap(), whole);
        }
    }

    #[test]
    fn one_row_by_hand() {
        let mut page = Meter::new();
        sing(&mut page, &note(12.0, 400), None);
        sing(&mut page, &note(1230.0, 200), None);
        sing(&mut page, &[None; 400], None);
        let low = page.row_in(0, Sthayi(0));
        // 2 s and 1 s, 150 ms off either end (to the frame), medians to 1 cent.
        assert_eq!((low.notes, low.in_tune), (1, Some(1.0)));
        assert!((low.judged_s - 1.7).abs() < 0.011 && (low.median.unwrap().0 - 12.0).abs() < 1.0, "{low:?}");
        assert!((low.longest_steady_s.unwrap() - 1.7).abs() < 0.011);
        // Of a note of 2 s, 0.9 s of which are steady, those are counted and not its length.
        let rate = SampleRate::new(16_000.0).unwrap();
        let (mut judge, mut half) = (Judge::new(rate), Meter::new());
        for (k, cents) in (0..).zip(note(12.0, 400)) {
            judge.push(&reading(k, cents), &targets(), BAND, &mut |n, o| {
                half.add(&Note { longest_steady_s: 0.9, ..*n }, o, n.seconds(rate), BAND);
            });
        }
        assert!((half.row_in(0, Sthayi(0)).longest_steady_s.unwrap() - 0.9).abs() < 0.006);
        half.merge(&page);
        assert_eq!(half.row_in(0, Sthayi(0)).longest_steady_s, low.longest_steady_s, "the longer of the two");
        let high = page.row_in(0, Sthayi(1));
        assert!(high.in_tune == Some(0.0) && (high.median.unwrap().0 - 30.0).abs() < 1.0, "{high:?}");
        let folded = page.row(0);
        assert_eq!(folded.notes, 2);
        assert_eq!(page.registers(0).collect::<Vec<_>>(), [(Sthayi(0), low), (Sthayi(1), high)]);
        assert!((folded.in_tune.unwrap() - low.judged_s / folded.judged_s).abs() < 1e-9);
        assert_eq!(page.row(7), RowSummary::default());
        assert_eq!(page.row_in(3, Sthayi(7)), RowSummary::default());
        let sung = page.sung_time();
        assert!((sung.sung_s - 3.0).abs() < 1e-9 && sung.held_share().unwrap() > 0.99);
        page.clear();
        assert_eq!(page, Meter::new());
    }

    #[test]
    fn an_expected_sa_far_off_has_its_row() {
        let target = Target { swara: Swara::S, cents: Cents(0.0) };
        let mut page = Meter::new();
        sing(&mut page, &note(-180.0, 300), Some(Expected { target, sthayi: Sthayi(0) }));
        let row = page.row_in(0, Sthayi(0));
        assert!((row.median.unwrap().0 + 180.0).abs() < 1.0 && row.in_tune == Some(0.0), "{row:?}");
    }

    #[test]
    fn a_note_far_from_every_swara_is_counted_by_itself() {
        let mut page = Meter::new();
        sing(&mut page, &note(12.0, 400), None);
        let before = page.row(0);
        assert_eq!(page.registers(0).count(), 0, "one register is the whole row");
        // Ga, of which Sa, Pa and Sa know nothing; nearest is Pa.
        sing(&mut page, &note(386.0, 300), None);
        sing(&mut page, &note(-240.0, 200), None);
        assert_eq!(page.row(0), RowSummary { far: 1, ..before });
        assert_eq!(page.row(7), RowSummary { far: 1, ..RowSummary::default() });
        assert!((page.sung_time().held_s - 4.5).abs() < 0.02, "held all the same: {:?}", page.sung_time());
        let mut twice = page.clone();
        twice.merge(&page);
        assert_eq!((twice.row(0).notes, twice.row(0).far), (2, 2));
        let mut copy = Meter::new();
        copy.copy_from(&page);
        assert_eq!(copy, page);
        assert_eq!(serde_json::from_str::<Meter>(&serde_json::to_string(&page).unwrap()).unwrap(), page);
        copy.clear();
        assert_eq!(copy, Meter::new());
    }

    #[test]
    fn an_old_projects_far_row_is_far() {
        let page = r#"{"sung":400,"held":400,"oscillating":0,"gliding":0,"rows":[
            {"sthayi":0,"position":7,"notes":3,"in_tune":0,"longest_steady":200,"offsets":[[-316,340]]},
            {"sthayi":0,"position":0,"notes":1,"in_tune":340,"longest_steady":200,"offsets":[[3,340]]}]}"#;
        let old: Meter = serde_json::from_str(page).unwrap();
        assert_eq!(old.row(7), RowSummary { far: 3, ..RowSummary::default() });
        assert_eq!((old.row(0).notes, old.row(0).far), (1, 0));
    }

    #[test]
    fn moving_notes_are_sung_and_not_judged() {
        let mut page = Meter::new();
        let swing: Vec<_> = (0..500).map(|k| Some(100.0 * (f64::from(k) * 0.1).sin())).collect();
        sing(&mut page, &swing, None);
        assert!((page.sung_time().oscillating_s - 2.5).abs() < 0.3, "{:?}", page.sung_time());
        assert!(rows(&page).iter().all(|row| row.notes == 0));
    }

    #[test]
    fn the_long_tone_has_its_row_and_goal() {
        let mut page = Meter::new();
        page.set_goal(Some(2.0));
        sing(&mut page, &note(3.0, 2400), None);
        sing(&mut page, &note(60.0, 2400), None);
        let row = page.long_tone();
        assert!((row.longest_steady_s - 11.7).abs() < 0.02 && (row.total_steady_s() - 11.7).abs() < 0.02);
        assert!((row.done().unwrap() - 11.7 / 120.0).abs() < 1e-3);
        page.set_goal(Some(f64::NAN));
        assert_eq!(page.long_tone().done(), None);
    }

    /// Percentiles against numpy 2.4.6 (`np.percentile`); see the head of the data file.
    #[test]
    fn quantiles_as_a_statistics_library_gives_them() {
        let file = include_str!("../../tests/data/pitch_line.txt");
        let figure = |name: &str| -> f64 {
            file.lines().find_map(|l| l.strip_prefix("# ")?.strip_prefix(name)?.trim().parse().ok()).unwrap()
        };
        let mut row = Row::new();
        for offset in file.lines().filter_map(|l| l.parse::<f64>().ok()).map(|x| x - 701.955) {
            row.bins[crate::units::num::index(offset + 600.0)] += 1;
        }
        let summary = row::summary(std::iter::once(&row));
        assert!((summary.median.unwrap().0 - (figure("median") - 701.955)).abs() < 0.5);
        assert!((summary.spread.unwrap().0 - 0.5 * (figure("p84") - figure("p16"))).abs() < 0.5);
    }

    #[test]
    fn an_old_projects_lengths_of_notes_are_no_steady_stretches() {
        let page = r#"{"sung":400,"held":400,"oscillating":0,"gliding":0,"rows":[
            {"sthayi":0,"position":0,"notes":1,"in_tune":340,"longest":400,"offsets":[[3,340]]}]}"#;
        let old: Meter = serde_json::from_str(page).unwrap();
        assert_eq!((old.row(0).notes, old.row(0).longest_steady_s), (1, None));
        let mut page = old;
        sing(&mut page, &note(3.0, 200), None);
        let steady = page.row(0).longest_steady_s;
        assert!(steady.is_some_and(|s| (s - 0.7).abs() < 0.011), "{steady:?}");
        let again: Meter = serde_json::from_str(&serde_json::to_string(&page).unwrap()).unwrap();
        assert_eq!(again.row(0).longest_steady_s, steady);
    }

    #[test]
    fn a_damaged_saved_page_is_refused_in_words() {
        let page = r#"{"sung":0,"held":0,"oscillating":0,"gliding":0,"rows":[
            {"sthayi":3,"position":0,"notes":1,"in_tune":0,"longest":1,"offsets":[[0,1]]}]}"#;
        let refusal = serde_json::from_str::<Meter>(page).unwrap_err().to_string();
        assert!(refusal.contains("register 3") && refusal.contains("-2 to 2"), "{refusal}");
        let far = page.replace("\"sthayi\":3", "\"sthayi\":0").replace("[[0,1]]", "[[700,1]]");
        let refusal = serde_json::from_str::<Meter>(&far).unwrap_err().to_string();
        assert!(refusal.contains("700 cents"), "{refusal}");
    }
}
