//! How each swara fared: one row (or card, or in a small window one column) per swara of the scale.
//!
//! In: [`MeterRow`]s and the band. Out: a drawing with, per swara, a signed axis whose still middle is the swara,
//! brackets for the band, a stroke at the median with its spread, and words: how many held notes, the share of the
//! time in tune, the longest steady stretch. Three states told apart by shape and word: none yet (an empty place), few (a
//! ring, no share: a percentage of two notes says nothing), enough (a solid stroke). Each row is a button that sounds its swara, with
//! its own line for assistive technology. Where only columns have room, the figures of the one that has the keyboard, or that sounds,
//! stand below them. Cost: some ten shapes a row.

use super::action::Action;
use super::hint::hint;
use super::letters;
use super::look::{LEAST_POINTS, Look, paragraph, write, write_first};
use super::view::{MeterRow, View};
use super::words;
use crate::meter::{ENOUGH_NOTES, RowSummary};
use crate::note::Band;
use crate::swara::Swara;
use crate::units::{Cents, num};
use egui::accesskit::Role;
use egui::{Align2, Painter, Rect, Sense, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, pos2, vec2};

/// Half of the drawn axis, cents; a median beyond it is drawn at the edge as an arrow.
const AXIS_CENTS: f64 = 60.0;
/// A row lower than this many units cannot carry words: columns are drawn instead.
const LEAST_ROW: f32 = 17.0;
/// A row of this height carries a large median, and its other figures below the axis, units; a lower one too, where its figures
/// are larger for that.
const TALL_ROW: f32 = 54.0;
/// Above and below a row's letter, of the row's height.
const LETTER_AIR: f32 = 0.12;
/// How far the frame of a row stands beside it, units.
const FRAME: f32 = 5.0;
/// Cards stand side by side where each gets so much, units.
const LEAST_CARD: Vec2 = vec2(86.0, 96.0);

/// What the headings of the meter mean.
const HEADINGS: &str = "median: the middle of all offsets, half lie above, half below; ± spread: how far the middle two thirds scatter; \
     in tune: the share of the held time within the band; all registers of a swara count together here, the report has each by itself";

/// Whether so many rows have room for cards with their figures beside one another.
#[must_use]
pub fn cards_fit(area: Vec2, look: &Look, rows: usize) -> bool {
    area.x / rows.max(1) as f32 >= look.u(LEAST_CARD.x) && area.y >= look.u(LEAST_CARD.y)
}

/// What a row says in words, complete.
#[must_use]
pub fn told(row: &MeterRow) -> String {
    let s = &row.summary;
    let name = format!("{} {}", row.swara.short(), row.swara.full_name());
    let notes = |n: u32| if n == 1 { "1 note".to_owned() } else { format!("{n} notes") };
    let far = format!("{}, {FAR}: another swara was sung, which this scale lacks", notes(s.far));
    match (s.notes, s.median) {
        (0, _) | (_, None) if s.far > 0 => format!("{name}: {far}"),
        (0, _) | (_, None) => format!("{name}: not held yet"),
        (n, Some(median)) => {
            let spread = s.spread.map_or_else(String::new, |c| format!(", spread {:.0}", c.0));
            let notes = notes(n);
            let share = match s.in_tune {
                Some(share) if n >= ENOUGH_NOTES => format!(", {:.0} % in tune", share * 100.0),
                _ => ", too few to say a share".to_owned(),
            };
            let longest = s.longest_steady_s.map_or_else(String::new, |s| format!(", longest steady stretch {s:.1} s"));
            let longest = format!("{longest}, {:.1} s judged", s.judged_s);
            let beside = if s.far > 0 { format!("; {far}") } else { String::new() };
            format!("{name}: {notes}, median {} cents{spread}{share}{longest}{beside}", words::signed(median))
        }
    }
}

/// The longest steady stretch of a row, where it is known.
fn steady(s: &RowSummary) -> String {
    s.longest_steady_s.map_or_else(|| "–".to_owned(), |s| format!("{s:.1} s"))
}

/// What the meter shows.
#[derive(Debug, Clone, Copy)]
pub struct Meter<'a> {
    /// One row per swara of the scale.
    pub rows: &'a [MeterRow],
    /// In-tune half-widths.
    pub band: Band,
    /// The swara whose reference tone sounds.
    pub reference: Option<Swara>,
    /// The swara that is sung, or was held last.
    pub present: Option<Swara>,
}

impl<'a> Meter<'a> {
    /// All of it.
    #[must_use]
    pub fn of(view: &'a View) -> Self {
        let present = super::teaching::present(view).map(|row| row.swara);
        Self { rows: &view.meter, band: view.band, reference: view.reference, present }
    }
}

/// The meter: rows where they fit, else cards side by side, else columns.
pub fn meter(ui: &mut Ui, area: Rect, look: &Look, of: &Meter<'_>, actions: &mut Vec<Action>) {
    let rows = of.rows;
    if rows.is_empty() {
        let hint = egui::RichText::new("No swara is chosen: pick a scale in Settings.").color(look.quiet);
        paragraph(ui, area, hint);
        return;
    }
    let head = look.u(18.0).max(look.far_up_to(17.0) * 1.3);
    let each = (area.height() - head) / rows.len() as f32;
    if each < look.u(LEAST_ROW) || area.width() < look.p(300.0) {
        if cards_fit(area.size(), look, rows.len()) {
            cards(ui, area, look, of, actions);
        } else {
            columns(ui, area, look, of, actions);
        }
        return;
    }
    let each = each.min(look.u(80.0));
    let parts = Parts::new(area, look, each);
    parts.headings(ui.painter(), (area, head), look);
    let headings = ui.interact(area.with_max_y(area.top() + head), ui.scope_id().with("headings"), Sense::hover());
    hint(ui, look, (&headings, area), HEADINGS);
    for (i, row) in rows.iter().enumerate() {
        let top = area.top() + head + each * i as f32;
        let rect = Rect::from_min_size(pos2(area.left(), top), vec2(area.width(), each));
        parts.row(ui, look, (rect, area), (row, of), actions);
    }
}

/// One row alone and without headings, as high as `area`: where nothing else of the meter has room.
pub fn line(ui: &mut Ui, area: Rect, look: &Look, (row, of): (&MeterRow, &Meter<'_>), actions: &mut Vec<Action>) {
    Parts::new(area, look, area.height()).row(ui, look, (area, area), (row, of), actions);
}

/// What stands for a median where all notes lie so far off that another swara was sung.
const FAR: &str = "far from it";

/// Whether all that was sung nearest to a swara is another one, which the scale lacks.
fn strays(row: &MeterRow) -> bool {
    row.summary.notes == 0 && row.summary.far > 0
}

/// What stands in a row without figures.
fn without(row: &MeterRow) -> &'static str {
    if strays(row) { FAR } else { "not held yet" }
}

/// The median with its spread, as written.
fn median(row: &MeterRow) -> Option<String> {
    let spread = row.summary.spread.map_or_else(String::new, |c| format!(" ±{:.0}", c.0.min(999.0)));
    held(row).map(|median| format!("{}{spread}", words::signed(median)))
}

/// The median of a swara that was held.
fn held(row: &MeterRow) -> Option<Cents> {
    row.summary.median.filter(|_| row.summary.notes > 0)
}

/// The share in tune, where there are notes enough to say one.
fn share(row: &MeterRow) -> Option<String> {
    row.summary.in_tune.filter(|_| row.summary.notes >= ENOUGH_NOTES).map(|share| format!("{:.0} %", share * 100.0))
}

/// Where the parts of a row stand. A low row has all in one line: letter, axis, four figures; a tall one has only the median
/// beside the axis, large, and the others below.
struct Parts {
    letter: egui::Rangef,
    axis: egui::Rangef,
    /// Right ends of median, held, in tune, longest.
    columns: [f32; 4],
    /// Size of the median, and of the others.
    size: (f32, f32),
    tall: bool,
    /// The others say what they are.
    worded: bool,
}

/// Widths of the figures below the axis of a tall row, in their size: with their words, and without; where share ends in each.
const BELOW: [f32; 2] = [25.0, 15.0];
const SHARE_ENDS: [f32; 2] = [12.6, 10.0];
/// The least of their size that they are made smaller to before the words go.
const WORDED: f32 = 0.85;

impl Parts {
    fn new(area: Rect, look: &Look, each: f32) -> Self {
        let tall = each >= look.u(TALL_ROW) || Self::below(area, look, each).0 > Self::size_beside(area, look, each);
        let letter_w = look.u(if tall { 44.0 } else { 34.0 });
        let letter = egui::Rangef::new(area.left(), area.left() + letter_w);
        let room = area.right() - letter.max;
        if tall {
            let size = (each * 0.42).min(look.u(27.0)).min(room * 0.45 / MEDIAN_EMS);
            let (other, worded) = Self::below(area, look, each);
            let share_ends = SHARE_ENDS[usize::from(!worded)];
            let axis = egui::Rangef::new(letter.max + look.u(6.0), area.right() - size * MEDIAN_EMS - look.u(6.0));
            let columns = [area.right(), axis.min + other * 4.2, axis.min + other * share_ends, area.right()];
            return Self { letter, axis, columns, size: (size, other), tall, worded };
        }
        // The figures grow smaller before the last of them leaves its place.
        let size = Self::size_beside(area, look, each);
        let figures = WIDTHS.map(|w| size * w);
        let end = area.right() - figures.iter().sum::<f32>();
        let axis = egui::Rangef::new(letter.max + look.u(6.0), end - look.u(6.0));
        let mut x = end;
        let columns = figures.map(|w| {
            x += w;
            x
        });
        Self { letter, axis, columns, size: (size, size), tall, worded: false }
    }

    /// Size of the figures below the axis of a tall row, and whether their words have room beside them.
    fn below(area: Rect, look: &Look, each: f32) -> (f32, bool) {
        let whole = (each * 0.3).min(look.u(17.0));
        let [worded, bare] = BELOW.map(|width| whole.min((area.width() - look.u(44.0)) / width));
        if worded >= whole * WORDED { (worded, true) } else { (bare, false) }
    }

    /// Size of the figures that all stand beside the axis.
    fn size_beside(area: Rect, look: &Look, each: f32) -> f32 {
        let room = area.width() - look.u(34.0);
        let most = (room - look.u(100.0)).max(room * 0.55);
        (each * 0.62).min(look.u(20.0)).min(most / WIDTHS.iter().sum::<f32>())
    }

    fn letter_at(&self, row: Rect) -> Rect {
        Rect::from_x_y_ranges(self.letter, row.y_range()).shrink2(vec2(0.0, row.height() * LETTER_AIR))
    }

    /// Where axis and median stand in a row.
    fn upper(&self, row: Rect) -> egui::Rangef {
        let share = if self.tall { 0.64 } else { 1.0 };
        egui::Rangef::new(row.top(), row.top() + row.height() * share)
    }

    fn headings(&self, painter: &Painter, (area, head): (Rect, f32), look: &Look) {
        let size = look.far_up_to(17.0).min(self.size.1.max(look.u(13.0)));
        let ink = || (look.words(size), look.quiet);
        let y = area.top() + head / 2.0;
        if self.tall {
            let room = self.size.0 * MEDIAN_EMS;
            write(painter, (pos2(self.columns[0], y), Align2::RIGHT_CENTER), "median ± spread", ink(), room);
        } else {
            let rooms = WIDTHS.map(|w| self.size.1 * (w - 0.2));
            for ((word, x), room) in ["median", "held", "in tune", "longest, s"].iter().zip(self.columns).zip(rooms) {
                write(painter, (pos2(x, y), Align2::RIGHT_CENTER), word, ink(), room);
            }
        }
        let (l, c, r) = (self.axis.min, self.axis.center(), self.axis.max);
        let third = self.axis.span() * 0.29;
        write_first(painter, (pos2(l, y), Align2::LEFT_CENTER), &["− below", "−"], ink(), third);
        write(painter, (pos2(c, y), Align2::CENTER_CENTER), "swara", ink(), third);
        write_first(painter, (pos2(r, y), Align2::RIGHT_CENTER), &["above +", "+"], ink(), third);
    }

    /// A whole row in its place, within all that is drawn of the meter.
    fn row(
        &self,
        ui: &mut Ui,
        look: &Look,
        (rect, all): (Rect, Rect),
        (row, of): (&MeterRow, &Meter<'_>),
        actions: &mut Vec<Action>,
    ) {
        pressed(ui, look, (rect, all), (row, of), actions);
        let painter = ui.painter();
        letters::name(painter, self.letter_at(rect), row.swara, look.ink);
        axis(painter, Rect::from_x_y_ranges(self.axis, self.upper(rect)), look, row, of.band, true);
        self.figures(painter, rect, look, row);
    }

    fn figures(&self, painter: &Painter, rect: Rect, look: &Look, row: &MeterRow) {
        let s = &row.summary;
        let y = self.upper(rect).center();
        let low = if self.tall { rect.top() + rect.height() * 0.8 } else { y };
        let [median_x, held_x, share_x, longest_x] = self.columns;
        let (large, size) = self.size;
        let Some(median) = median(row) else {
            let at = if self.tall { low } else { y };
            let ink = (look.words(size), look.quiet);
            write(painter, (pos2(longest_x, at), Align2::RIGHT_CENTER), without(row), ink, size * 8.0);
            return;
        };
        let put = |text: &str, x: f32, room: f32, color| {
            write(painter, (pos2(x, low), Align2::RIGHT_CENTER), text, (look.figures(size), color), room);
        };
        let at = (pos2(median_x, y), Align2::RIGHT_CENTER);
        write(painter, at, &median, (look.figures(large), look.ink), large * (MEDIAN_EMS - 0.1));
        put(&format!("{}×", s.notes), held_x, size * if self.tall { 4.0 } else { 2.9 }, look.ink);
        let (in_tune, longest) = if self.worded { (" in tune", "longest steady ") } else { ("", "") };
        match share(row) {
            Some(share) => {
                put(&format!("{share}{in_tune}"), share_x, size * if self.tall { 8.0 } else { 3.4 }, look.ink)
            }
            None if self.tall => put("few notes", share_x, size * 8.0, look.quiet),
            None => put("–", share_x, size * 3.4, look.quiet),
        }
        let room = if self.tall { longest_x - share_x - size } else { size * 3.7 };
        put(&format!("{longest}{}", steady(s)), longest_x, room, look.ink);
    }
}

/// Widths of median, held, in tune and longest beside the axis, in their size.
const WIDTHS: [f32; 4] = [5.2, 3.1, 3.6, 4.6];
/// Widest median with its spread, in its size: eight figures of one width, and some air.
const MEDIAN_EMS: f32 = 5.2;

/// One swara's axis: across (`across`) or upright. The middle is the swara, right or up is above.
fn axis(painter: &Painter, area: Rect, look: &Look, row: &MeterRow, band: Band, across: bool) {
    let (len, wide) = if across { (area.width(), area.height()) } else { (area.height(), area.width()) };
    let at = |cents: f64, side: f32| {
        let along = num::single((cents / AXIS_CENTS).clamp(-1.0, 1.0)) * len / 2.0;
        if across {
            area.center() + vec2(along, side * wide / 2.0)
        } else {
            area.center() + vec2(side * wide / 2.0, -along)
        }
    };
    let tick = |cents: f64, reach: f32, pen: Stroke| {
        painter.line_segment([at(cents, -reach), at(cents, reach)], pen);
    };
    painter.line_segment([at(-AXIS_CENTS, 0.0), at(AXIS_CENTS, 0.0)], Stroke::new(1.0, look.rule));
    tick(0.0, 0.5, Stroke::new(look.u(2.0), look.still));
    let half = band.of(row.swara).0;
    for (edge, inward) in [(-half, 3.0), (half, -3.0)] {
        tick(edge, 0.32, Stroke::new(look.u(1.5), look.still));
        for side in [-0.32, 0.32] {
            painter.line_segment([at(edge, side), at(edge + inward, side)], Stroke::new(look.u(1.5), look.still));
        }
    }
    let s = &row.summary;
    let Some(median) = held(row) else { return };
    let heavy = Stroke::new(look.u(3.5), look.voice);
    if s.notes < ENOUGH_NOTES {
        // Few: a ring, so that nobody takes it for a settled value.
        painter.circle_stroke(at(median.0, 0.0), (wide * 0.18).min(look.u(6.0)), Stroke::new(look.u(2.0), look.voice));
        return;
    }
    if let Some(spread) = s.spread {
        let (a, b) = (at(median.0 - spread.0, 0.0), at(median.0 + spread.0, 0.0));
        painter.line_segment([a, b], Stroke::new((wide * 0.16).clamp(2.0, look.u(7.0)), look.voice));
    }
    tick(median.0, 0.36, heavy);
    if median.0.abs() > AXIS_CENTS {
        // Off the axis: an arrow that points on.
        let back = median.0.signum() * (AXIS_CENTS - 6.0);
        for side in [-0.36, 0.36] {
            painter.line_segment([at(back, side), at(median.0, 0.0)], heavy);
        }
    }
}

/// Beside one another over the whole width: letter and median above, the axis across, spread, count, share and longest stretch below.
fn cards(ui: &mut Ui, area: Rect, look: &Look, of: &Meter<'_>, actions: &mut Vec<Action>) {
    let each = area.width() / of.rows.len() as f32;
    let high = area.height().min(look.u(140.0));
    for (i, row) in of.rows.iter().enumerate() {
        let rect = Rect::from_min_size(pos2(area.left() + each * i as f32, area.top()), vec2(each, high));
        pressed(ui, look, (rect, area), (row, of), actions);
        let inner = rect.shrink2(vec2((each * 0.06).min(look.u(10.0)), 0.0));
        let painter = ui.painter();
        let (top, rest) = inner.split_top_bottom_at_y(inner.top() + high * 0.38);
        let (across, foot) = rest.split_top_bottom_at_y(rest.top() + high * 0.22);
        let (letter, figure) = top.split_left_right_at_x(top.left() + (top.height() * 1.1).min(top.width() * 0.46));
        letters::name(painter, letter, row.swara, look.ink);
        axis(painter, across, look, row, of.band, true);
        let small = (high * 0.17).min(look.u(18.0)).max(LEAST_POINTS);
        let (first, second) = foot.split_top_bottom_at_y(foot.center().y);
        let Some(median) = held(row) else {
            let ink = (look.words(small), look.quiet);
            write(painter, (foot.center(), Align2::CENTER_CENTER), without(row), ink, inner.width());
            continue;
        };
        let ink = (look.figures((high * 0.27).min(look.u(30.0))), look.ink);
        let at = (figure.center(), Align2::CENTER_CENTER);
        write(painter, at, &words::signed(median), ink, figure.width() - look.u(4.0));
        let s = &row.summary;
        let count = format!("{}×", s.notes);
        let counted = share(row).map_or_else(|| count.clone(), |share| format!("{count}  {share}"));
        let spread = s.spread.map_or_else(String::new, |c| format!("±{:.0} ", c.0.min(999.0)));
        let longest = format!("{spread}longest {}", steady(s));
        let short = format!("{spread}{}", steady(s));
        let ink = || (look.figures(small), look.ink);
        let middle = |part: Rect| (part.center(), Align2::CENTER_CENTER);
        write_first(painter, middle(first), &[&counted, &count], ink(), inner.width());
        write_first(painter, middle(second), &[&longest, &short, spread.trim_end()], ink(), inner.width());
    }
}

/// The least height that columns keep above the line of figures, units.
const LEAST_COLUMN: f32 = 34.0;

/// Above and below a column's letter, of its height.
const COLUMN_AIR: f32 = 0.07;
/// What a letter with its digit needs to be read, points.
const LEAST_LETTER: f32 = 16.0;

/// In a small window: one upright axis per swara, its letter below, its count below that; then the figures of one of them.
fn columns(ui: &mut Ui, area: Rect, look: &Look, of: &Meter<'_>, actions: &mut Vec<Action>) {
    let line = look.small().size * 1.35;
    let has_line = area.height() - line >= look.u(LEAST_COLUMN);
    let (area, foot) = area.split_top_bottom_at_y(area.bottom() - if has_line { line } else { 0.0 });
    let each = (area.width() / of.rows.len() as f32).min(look.u(110.0));
    let left = area.center().x - each * of.rows.len() as f32 / 2.0;
    let letter_h = (area.height() * 0.34).max(LEAST_LETTER.min(area.height() * 0.6)).min(look.u(34.0));
    let count_h = if area.height() > look.u(64.0) { look.u(15.0) } else { 0.0 };
    let mut looked_at = None;
    for (i, row) in of.rows.iter().enumerate() {
        let rect = Rect::from_min_size(pos2(left + each * i as f32, area.top()), vec2(each, area.height()));
        if pressed(ui, look, (rect, area), (row, of), actions) {
            looked_at = Some(row);
        }
        let painter = ui.painter();
        let (axis_rect, rest) = rect.split_top_bottom_at_y(rect.bottom() - letter_h - count_h);
        axis(painter, axis_rect.shrink2(vec2(each * 0.18, look.u(2.0))), look, row, of.band, false);
        let (letter, count) = rest.split_top_bottom_at_y(rest.bottom() - count_h);
        letters::name(painter, letter.shrink2(vec2(0.0, letter.height() * COLUMN_AIR)), row.swara, look.ink);
        if count_h > 0.0 {
            let text = match row.summary.notes {
                0 => "–".to_owned(),
                n => format!("{n}×"),
            };
            let ink = (look.figures(look.u(13.0).max(10.0)), look.quiet);
            write(painter, (count.center(), Align2::CENTER_CENTER), &text, ink, each);
        }
    }
    let of_swara = |swara: Option<Swara>| of.rows.iter().find(|row| Some(row.swara) == swara);
    let Some(row) = looked_at.or_else(|| of_swara(of.reference)).or_else(|| of_swara(of.present)) else { return };
    if has_line {
        let (long, short) = in_a_line(row);
        let at = (foot.center(), Align2::CENTER_CENTER);
        write_first(ui.painter(), at, &[&long, &short], (look.figures(look.small().size), look.ink), foot.width());
    }
}

/// A row's figures in one line, and in a shorter one.
fn in_a_line(row: &MeterRow) -> (String, String) {
    let name = row.swara.short();
    let s = &row.summary;
    let Some(median) = median(row) else {
        let none = format!("{name}: {}", without(row));
        return (none.clone(), none);
    };
    let few = || "few notes".to_owned();
    let long = share(row).map_or_else(few, |share| format!("{share} in tune"));
    let short = share(row).unwrap_or_else(few);
    (
        format!("{name}: {median} cents, {}×, {long}, longest {}", s.notes, steady(s)),
        format!("{name} {median} {}× {short} {}", s.notes, steady(s)),
    )
}

/// The row as a button that sounds its swara, with its line for hover and assistive technology; whether it has the keyboard. The line is
/// shown beside the whole meter: never over another row.
fn pressed(
    ui: &mut Ui,
    look: &Look,
    (rect, all): (Rect, Rect),
    (row, of): (&MeterRow, &Meter<'_>),
    actions: &mut Vec<Action>,
) -> bool {
    let response = ui.interact(rect, ui.scope_id().with(("meter", row.swara.short())), Sense::click());
    let sounds = of.reference == Some(row.swara);
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, sounds, told(row)));
    let press =
        if sounds { "press again, or Esc, to end its tone" } else { "press to hear it, in the tuning in force" };
    hint(ui, look, (&response, all), &format!("{}\n{}\n{press}", told(row), row.swara.explanation()));
    if response.clicked() {
        actions.push(Action::Reference((!sounds).then_some(row.swara)));
    }
    // A frame tells which one sounds, a heavier one where the keyboard is.
    let pen = |focus: bool| if focus { Stroke::new(2.0, look.ink) } else { Stroke::new(2.0, look.still) };
    let focus = response.has_focus();
    if sounds || focus {
        // Beside the figures, not over them.
        let rect = rect.expand2(vec2(look.u(FRAME), 0.0));
        ui.painter().rect_stroke(rect, 0.0, pen(focus), StrokeKind::Inside);
    }
    if sounds && focus {
        ui.painter().rect_stroke(rect.shrink(look.u(3.0)), 0.0, pen(false), StrokeKind::Inside);
    }
    focus
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::RowSummary;
    use crate::swara::Swara;

    fn row(notes: u32) -> MeterRow {
        let some = notes > 0;
        MeterRow {
            swara: Swara::G3,
            target: Cents(386.0),
            summary: RowSummary {
                notes,
                far: 0,
                judged_s: f64::from(notes) * 2.0,
                median: some.then_some(Cents(-7.2)),
                spread: some.then_some(Cents(9.0)),
                in_tune: some.then_some(0.825),
                longest_steady_s: some.then_some(4.25),
            },
        }
    }

    #[test]
    fn none_few_and_enough_are_told_apart() {
        assert_eq!(told(&row(0)), "G3 Antara Gandhara: not held yet");
        let few = told(&row(2));
        assert!(few.contains("2 notes") && few.contains("too few") && !few.contains('%'), "{few}");
        let enough = told(&row(ENOUGH_NOTES));
        assert!(enough.contains("82 % in tune") || enough.contains("83 % in tune"), "{enough}");
        assert!(enough.contains("median −7 cents, spread 9"), "{enough}");
    }
}
