//! How each swara fared: one row (or, in a small window, one column) per swara of the scale.
//!
//! In: [`MeterRow`]s and the band. Out: a drawing with, per swara, a signed axis whose still middle is the swara,
//! brackets for the band, a stroke at the median with its spread, and words: how many held notes, the share of the
//! time in tune, the longest hold. Three states told apart by shape and word: none yet (an empty place), few (a
//! ring, no share: a percentage of two notes says nothing), enough (a solid stroke). Each row has its own line for
//! assistive technology. Cost: some ten shapes a row.

use super::letters;
use super::look::{Look, paragraph, write};
use super::view::MeterRow;
use super::words;
use crate::meter::ENOUGH_NOTES;
use crate::note::Band;
use crate::swara::Sthayi;
use crate::units::num;
use egui::accesskit::Role;
use egui::{Align2, Painter, Rect, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

/// Half of the drawn axis, cents; a median beyond it is drawn at the edge as an arrow.
const AXIS_CENTS: f64 = 60.0;
/// A row lower than this many units cannot carry words: columns are drawn instead.
const LEAST_ROW: f32 = 17.0;

/// What a row says in words, complete.
#[must_use]
pub fn told(row: &MeterRow) -> String {
    let s = &row.summary;
    let name = format!("{} {}", row.swara.short(), row.swara.full_name());
    match (s.notes, s.median) {
        (0, _) | (_, None) => format!("{name}: not held yet"),
        (n, Some(median)) => {
            let spread = s.spread.map_or_else(String::new, |c| format!(", spread {:.0}", c.0));
            let notes = if n == 1 { "1 note".to_owned() } else { format!("{n} notes") };
            let share = match s.in_tune {
                Some(share) if n >= ENOUGH_NOTES => format!(", {:.0} % in tune", share * 100.0),
                _ => ", too few to say a share".to_owned(),
            };
            let longest = format!(", longest {:.1} s, {:.1} s judged", s.longest_s, s.judged_s);
            format!("{name}: {notes}, median {} cents{spread}{share}{longest}", words::signed(median))
        }
    }
}

/// The meter, as rows where they fit and as columns where they do not.
pub fn meter(ui: &mut Ui, area: Rect, look: &Look, rows: &[MeterRow], band: Band) {
    if rows.is_empty() {
        let hint = egui::RichText::new("No swara is chosen: pick a scale in Settings.").color(look.quiet);
        paragraph(ui, area, hint);
        return;
    }
    let head = look.u(18.0);
    let each = (area.height() - head) / rows.len() as f32;
    if each < look.u(LEAST_ROW) || area.width() < look.u(300.0) {
        columns(ui, area, look, rows, band);
        return;
    }
    let each = each.min(look.u(64.0));
    let parts = Parts::new(area, look, each);
    parts.headings(ui.painter(), area, look);
    for (i, row) in rows.iter().enumerate() {
        let top = area.top() + head + each * i as f32;
        let rect = Rect::from_min_size(pos2(area.left(), top), vec2(area.width(), each));
        let (painter, mid) = (ui.painter(), rect.center().y);
        letters::swara(painter, parts.letter_at(rect), row.swara, Sthayi(0), look.ink);
        axis(painter, Rect::from_x_y_ranges(parts.axis, rect.y_range()), look, row, band, true);
        parts.figures(painter, mid, look, row);
        said(ui, rect, row);
    }
}

/// Where the parts of a row stand, left to right.
struct Parts {
    letter: egui::Rangef,
    axis: egui::Rangef,
    columns: [f32; 4],
    size: f32,
}

impl Parts {
    fn new(area: Rect, look: &Look, each: f32) -> Self {
        let letter = egui::Rangef::new(area.left(), area.left() + look.u(34.0));
        // The figures grow smaller before the last of them leaves its place.
        let room = area.right() - letter.max - look.u(60.0);
        let widths = [5.4, 3.1, 3.6, 3.6];
        let size = (each * 0.62).min(look.u(15.0)).min(room / widths.iter().sum::<f32>());
        let figures = widths.map(|w| size * w);
        let end = area.right() - figures.iter().sum::<f32>();
        let axis = egui::Rangef::new(letter.max + look.u(6.0), end - look.u(6.0));
        let mut x = end;
        let columns = figures.map(|w| {
            x += w;
            x
        });
        Self { letter, axis, columns, size }
    }

    fn letter_at(&self, row: Rect) -> Rect {
        Rect::from_x_y_ranges(self.letter, row.y_range())
    }

    fn headings(&self, painter: &Painter, area: Rect, look: &Look) {
        let ink = |size: f32| (look.words(size), look.quiet);
        let y = area.top() + look.u(8.0);
        let small = look.u(11.0).max(10.0).min(self.size);
        for (word, x) in ["median", "held", "in tune", "longest"].iter().zip(self.columns) {
            write(painter, (pos2(x, y), Align2::RIGHT_CENTER), word, ink(small), self.size * 3.5);
        }
        let (l, c, r) = (self.axis.min, self.axis.center(), self.axis.max);
        let third = self.axis.span() / 3.0;
        write(painter, (pos2(l, y), Align2::LEFT_CENTER), "− below", ink(small), third);
        write(painter, (pos2(c, y), Align2::CENTER_CENTER), "swara", ink(small), third);
        write(painter, (pos2(r, y), Align2::RIGHT_CENTER), "above +", ink(small), third);
    }

    fn figures(&self, painter: &Painter, y: f32, look: &Look, row: &MeterRow) {
        let s = &row.summary;
        let put = |text: &str, x: f32, room: f32, color| {
            write(painter, (pos2(x, y), Align2::RIGHT_CENTER), text, (look.figures(self.size), color), room);
        };
        let [median_x, held_x, share_x, longest_x] = self.columns;
        let Some(median) = s.median.filter(|_| s.notes > 0) else {
            write(
                painter,
                (pos2(longest_x, y), Align2::RIGHT_CENTER),
                "not held yet",
                (look.words(self.size), look.quiet),
                self.size * 8.0,
            );
            return;
        };
        let spread = s.spread.map_or_else(String::new, |c| format!(" ±{:.0}", c.0.min(999.0)));
        put(&format!("{}{spread}", words::signed(median)), median_x, self.size * 5.2, look.ink);
        put(&format!("{}×", s.notes), held_x, self.size * 2.9, look.ink);
        match s.in_tune {
            Some(share) if s.notes >= ENOUGH_NOTES => {
                put(&format!("{:.0} %", share * 100.0), share_x, self.size * 3.4, look.ink);
            }
            _ => put("–", share_x, self.size * 3.4, look.quiet),
        }
        put(&format!("{:.1} s", s.longest_s), longest_x, self.size * 3.4, look.ink);
    }
}

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
    painter.line_segment([at(-AXIS_CENTS, 0.0), at(AXIS_CENTS, 0.0)], Stroke::new(1.0, look.hair));
    tick(0.0, 0.5, Stroke::new(look.u(2.0), look.still));
    let half = band.of(row.swara).0;
    for (edge, inward) in [(-half, 3.0), (half, -3.0)] {
        tick(edge, 0.32, Stroke::new(look.u(1.5), look.still));
        for side in [-0.32, 0.32] {
            painter.line_segment([at(edge, side), at(edge + inward, side)], Stroke::new(look.u(1.5), look.still));
        }
    }
    let s = &row.summary;
    let Some(median) = s.median.filter(|_| s.notes > 0) else { return };
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

/// In a small window: one upright axis per swara, its letter below, its count below that.
fn columns(ui: &mut Ui, area: Rect, look: &Look, rows: &[MeterRow], band: Band) {
    let each = (area.width() / rows.len() as f32).min(look.u(90.0));
    let left = area.center().x - each * rows.len() as f32 / 2.0;
    let letter_h = (area.height() * 0.34).min(look.u(34.0));
    let count_h = if area.height() > look.u(64.0) { look.u(15.0) } else { 0.0 };
    for (i, row) in rows.iter().enumerate() {
        let rect = Rect::from_min_size(pos2(left + each * i as f32, area.top()), vec2(each, area.height()));
        let painter = ui.painter();
        let (axis_rect, rest) = rect.split_top_bottom_at_y(rect.bottom() - letter_h - count_h);
        axis(painter, axis_rect.shrink2(vec2(each * 0.18, look.u(2.0))), look, row, band, false);
        let (letter, count) = rest.split_top_bottom_at_y(rest.bottom() - count_h);
        letters::swara(painter, letter, row.swara, Sthayi(0), look.ink);
        if count_h > 0.0 {
            let text = match row.summary.notes {
                0 => "–".to_owned(),
                n => format!("{n}×"),
            };
            let ink = (look.figures(look.u(11.0).max(10.0)), look.quiet);
            write(painter, (count.center(), Align2::CENTER_CENTER), &text, ink, each);
        }
        said(ui, rect, row);
    }
}

/// The row's line for hover and assistive technology.
fn said(ui: &mut Ui, rect: Rect, row: &MeterRow) {
    let response = ui.interact(rect, ui.scope_id().with(("meter", row.swara.short())), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, told(row)));
    response.on_hover_text(told(row));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::RowSummary;
    use crate::swara::Swara;
    use crate::units::Cents;

    fn row(notes: u32) -> MeterRow {
        let some = notes > 0;
        MeterRow {
            swara: Swara::G3,
            target: Cents(386.0),
            summary: RowSummary {
                notes,
                judged_s: f64::from(notes) * 2.0,
                median: some.then_some(Cents(-7.2)),
                spread: some.then_some(Cents(9.0)),
                in_tune: some.then_some(0.825),
                longest_s: if some { 4.25 } else { 0.0 },
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
