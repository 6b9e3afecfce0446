//! How everything looks: colours, sizes and type, in one place, for a dark and a light room.
//!
//! In: [`LookChoice`] and the window's size in points. Out: [`Look`], handed to every panel. Two colours have a
//! meaning, everything else is ink on a ground: *voice* (turmeric) is what was sung; *still* (river blue) is what
//! does not move: Sa, the target, the band, the drone. They were chosen to differ in lightness and along the
//! yellow-blue axis, which the two frequent colour-vision deficiencies keep. A third, *alert*, is only ever seen
//! beside a triangle and a sentence. Contrast is checked below by the formula of WCAG 2.1 and, for simulated
//! deficiencies, with the matrices of Machado, Oliveira and Fernandes 2009.

use super::view::{Face, LookChoice, View};
use egui::{Align2, Color32, FontFamily, FontId, Galley, Painter, Pos2, Rect, Vec2, vec2};
use std::sync::Arc;

/// Width and height for which the sizes below are meant, points.
const MEANT_FOR: Vec2 = vec2(1000.0, 620.0);
/// The smallest window, points.
pub const SMALLEST: Vec2 = vec2(480.0, 320.0);
/// Body text at unit 1, points.
const BODY: f32 = 14.0;
/// The factor below which text becomes hard to read at arm's length (our choice): 11 points.
const LEAST_UNIT: f32 = 0.8;
/// Words to be read from two metres, points at unit 1: capitals as high as four millimetres on a screen of 13 inches.
const FAR: f32 = 21.0;
/// From this unit on (a window of 1280 x 720) there is room for them.
const ROOM_FOR_FAR: f32 = 1.15;

/// The stage that a letter of a fifth of the window's height needs, of that height: its capital takes 0.62 of the stage.
const STAGE_SHARE: f32 = 0.2 / 0.615;
/// The stage of the smallest window with text at 100 %, nothing but header and bar about it, of the window's height.
const KEPT_SHARE: f32 = 0.49;
/// Above and below the stage, units of text at 100 %.
pub const STAGE_PAD: f32 = 4.0;

/// The largest text for which the smallest window has room. The singing face leaves out what is least needed first (the meter, the last
/// seconds), the checking face keeps a row of its list. The teaching face has too many tools beside its picture, and an exercise too much
/// to say: with them text stays at 100 % there.
fn held(view: &View) -> f32 {
    match view.face {
        _ if view.lesson.exercise.is_some() => 1.0,
        Face::Singing => 1.5,
        Face::Checking => 1.25,
        Face::Teaching => 1.0,
    }
}

/// Colours and sizes of one frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    /// The ground on which everything stands.
    pub ground: Color32,
    /// A raised ground: header, footer, sheets.
    pub raised: Color32,
    /// Ink: text and letters.
    pub ink: Color32,
    /// Quiet ink: captions.
    pub quiet: Color32,
    /// Lines that only part things.
    pub hair: Color32,
    /// Thin lines that say something: levels, axes, edges of a band, rails.
    pub rule: Color32,
    /// What was sung.
    pub voice: Color32,
    /// What does not move: Sa, target, band, drone.
    pub still: Color32,
    /// Something is wrong with the sound.
    pub alert: Color32,
    /// One unit of length, points; 1 in a window of 1000 x 620 with text at 100 %.
    pub unit: f32,
    /// The same with text at 100 %, whatever is chosen: what is large already is measured in it.
    pub plain: f32,
    /// The largest text size that this window has room for, 1 to 2.
    pub room: f32,
    /// Size of words that matter while singing, points: read from two metres where the window has the room.
    pub far: f32,
    /// Height of the stage whose letter takes a fifth of the window's height, points.
    pub stage: f32,
    /// Height that text leaves to the stage which has grown by more than the window, points; else 0.
    pub kept: f32,
    /// Dark or light.
    pub dark: bool,
}

impl Look {
    /// The look of what a window of `size` points shows.
    #[must_use]
    pub fn of(view: &View, size: Vec2) -> Self {
        Self::chosen(view.look, view, size)
    }

    /// The same with another choice than the view's.
    #[must_use]
    pub fn chosen(choice: LookChoice, view: &View, size: Vec2) -> Self {
        Self::holding(choice, size, held(view))
    }

    /// The look for a window of `size` points, whatever it shows.
    #[must_use]
    pub fn new(choice: LookChoice, size: Vec2) -> Self {
        Self::holding(choice, size, 1.0)
    }

    /// `held`: the largest text for which the smallest window has room.
    fn holding(choice: LookChoice, size: Vec2, held: f32) -> Self {
        let fit = (size.x / MEANT_FOR.x).min(size.y / MEANT_FOR.y).max(LEAST_UNIT);
        // No text size may push words out of the window: text grows by as much as the window is larger than the smallest, and in any
        // window as far as what it shows holds it.
        let larger = (size.x / SMALLEST.x).min(size.y / SMALLEST.y).clamp(1.0, 2.0);
        let room = larger.max(held);
        let unit = fit * choice.text_scale.clamp(1.0, room);
        // What is as large already does not grow with the text.
        let far = (BODY * unit).max(if fit >= ROOM_FOR_FAR { FAR * fit } else { 0.0 });
        let stage = size.y * STAGE_SHARE + 2.0 * STAGE_PAD * fit;
        let kept = if unit > fit * larger { size.y * KEPT_SHARE } else { 0.0 };
        let rgb = Color32::from_rgb;
        if choice.dark {
            Self {
                ground: rgb(0x10, 0x14, 0x1b),
                raised: rgb(0x1a, 0x20, 0x2b),
                ink: rgb(0xf1, 0xea, 0xdc),
                quiet: rgb(0xb3, 0xae, 0xa3),
                hair: rgb(0x3a, 0x42, 0x50),
                rule: rgb(0x74, 0x7d, 0x8c),
                voice: rgb(0xf6, 0xb0, 0x3c),
                still: rgb(0x5d, 0x9b, 0xd6),
                alert: rgb(0xff, 0x8f, 0x85),
                unit,
                plain: fit,
                room,
                far,
                stage,
                kept,
                dark: true,
            }
        } else {
            Self {
                ground: rgb(0xf7, 0xf2, 0xe7),
                raised: rgb(0xec, 0xe4, 0xd3),
                ink: rgb(0x1d, 0x1a, 0x16),
                quiet: rgb(0x5a, 0x53, 0x48),
                hair: rgb(0xc9, 0xbf, 0xab),
                rule: rgb(0x7a, 0x71, 0x63),
                voice: rgb(0xb0, 0x5c, 0x00),
                still: rgb(0x12, 0x48, 0x86),
                alert: rgb(0xa0, 0x16, 0x2c),
                unit,
                plain: fit,
                room,
                far,
                stage,
                kept,
                dark: false,
            }
        }
    }

    /// `n` units in points.
    #[must_use]
    pub fn u(&self, n: f32) -> f32 {
        n * self.unit
    }

    /// `n` units in points as they are with text at 100 %.
    #[must_use]
    pub fn p(&self, n: f32) -> f32 {
        n * self.plain
    }

    /// Words at body size.
    #[must_use]
    pub fn body(&self) -> FontId {
        FontId::new(self.u(BODY), FontFamily::Proportional)
    }

    /// As [`Look::far`], but no larger than `n` units where those are more than body text.
    #[must_use]
    pub fn far_up_to(&self, n: f32) -> f32 {
        self.far.min(self.u(n.max(BODY)))
    }

    /// Captions.
    #[must_use]
    pub fn small(&self) -> FontId {
        FontId::new(self.u(12.5).max(10.5), FontFamily::Proportional)
    }

    /// Figures: all digits of one width, so that they do not jump.
    #[must_use]
    pub fn figures(&self, points: f32) -> FontId {
        FontId::new(points, FontFamily::Monospace)
    }

    /// Words of a given size in points.
    #[must_use]
    pub fn words(&self, points: f32) -> FontId {
        FontId::new(points, FontFamily::Proportional)
    }

    /// Dresses egui's own widgets.
    pub fn dress(&self, style: &mut egui::Style) {
        use egui::{Stroke, TextStyle, Visuals};
        let mut v = if self.dark { Visuals::dark() } else { Visuals::light() };
        v.panel_fill = self.ground;
        v.window_fill = self.raised;
        v.window_stroke = Stroke::new(1.0, self.quiet);
        v.extreme_bg_color = self.ground;
        v.selection.bg_fill = self.still;
        v.selection.stroke = Stroke::new(2.0, if self.dark { self.ground } else { self.raised });
        v.hyperlink_color = self.still;
        // What an empty field asks for.
        v.weak_text_color = Some(self.quiet);
        for w in [&mut v.widgets.inactive, &mut v.widgets.hovered, &mut v.widgets.active, &mut v.widgets.open] {
            w.weak_bg_fill = self.ground;
            w.bg_stroke = Stroke::new(1.0, self.quiet);
            w.fg_stroke = Stroke::new(1.5, self.ink);
            // Round corners would be most of a button's triangles.
            w.corner_radius = egui::CornerRadius::ZERO;
            w.bg_fill = self.ground;
            w.expansion = 0.0;
        }
        v.widgets.noninteractive.fg_stroke.color = self.ink;
        v.widgets.noninteractive.bg_stroke.color = self.hair;
        v.slider_trailing_fill = true;
        v.widgets.hovered.bg_stroke = Stroke::new(2.0, self.ink);
        v.widgets.active.bg_stroke = Stroke::new(3.0, self.voice);
        style.visuals = v;
        style.animation_time = 0.0;
        style.text_styles.insert(TextStyle::Body, self.body());
        style.text_styles.insert(TextStyle::Button, self.body());
        style.text_styles.insert(TextStyle::Small, self.small());
        style.text_styles.insert(TextStyle::Heading, self.words(self.u(18.0)));
        style.text_styles.insert(TextStyle::Monospace, self.figures(self.u(BODY)));
        style.spacing.item_spacing = vec2(self.u(6.0), self.u(5.0));
        style.spacing.button_padding = vec2(self.u(7.0), self.u(3.0));
        style.spacing.interact_size.y = self.u(24.0);
        style.spacing.slider_width = self.u(110.0);
        style.spacing.icon_width = self.u(16.0);
        style.spacing.combo_width = self.u(80.0);
    }
}

/// The least size of anything that is written, points (our choice: what is smaller is not read even close by).
pub const LEAST_POINTS: f32 = 9.0;

/// Writes `text` anchored at `at`, made smaller until it fits `room` points in width; returns where it stands. What would become too
/// small to be read is left out: whoever calls has the more important elsewhere, or gives a shorter text.
pub fn write(
    painter: &Painter,
    (at, anchor): (Pos2, Align2),
    text: &str,
    (font, color): (FontId, Color32),
    room: f32,
) -> Rect {
    let mut size = font.size;
    let mut galley = painter.layout_no_wrap(text.to_owned(), font.clone(), color);
    // Advance widths are rounded to pixels, so one division may not be enough.
    while galley.size().x > room && size > LEAST_POINTS {
        size = (size * (room / galley.size().x).clamp(0.5, 0.97)).max(LEAST_POINTS);
        galley = painter.layout_no_wrap(text.to_owned(), FontId::new(size, font.family.clone()), color);
    }
    if galley.size().x > room || size < LEAST_POINTS {
        return anchor.anchor_size(at, Vec2::ZERO);
    }
    let rect = anchor.anchor_size(at, galley.size());
    painter.galley(rect.min, galley, color);
    rect
}

/// The least that a text is made smaller before a shorter one is taken.
const NEARLY_WHOLE: f32 = 0.85;

/// Writes the first of `texts` that fits `room` points in width nearly as large as it is meant, else the first that is large enough to
/// be read; returns where it stands.
pub fn write_first(
    painter: &Painter,
    at: (Pos2, Align2),
    texts: &[&str],
    (font, color): (FontId, Color32),
    room: f32,
) -> Rect {
    let fits = |text: &str, size: f32| {
        let font = FontId::new(size, font.family.clone());
        painter.layout_no_wrap(text.to_owned(), font, color).size().x <= room
    };
    let whole = texts.iter().find(|text| fits(text, font.size * NEARLY_WHOLE));
    let found = whole.or_else(|| texts.iter().find(|text| fits(text, font.size.min(LEAST_POINTS))));
    found.map_or(at.1.anchor_size(at.0, Vec2::ZERO), |text| write(painter, at, text, (font.clone(), color), room))
}

fn wrapped(painter: &Painter, width: f32, text: &str, (font, color): (FontId, Color32)) -> Arc<Galley> {
    let mut job = egui::text::LayoutJob::simple(text.to_owned(), font, color, width);
    job.halign = egui::Align::Center;
    painter.layout_job(job)
}

/// The size in which `text`, wrapped at words, fits `room`: that of `font`, or less; `None` where it would be too small to be read.
#[must_use]
pub fn fitting(painter: &Painter, room: Vec2, text: &str, font: &FontId) -> Option<f32> {
    let high = |size: f32| {
        let font = FontId::new(size, font.family.clone());
        wrapped(painter, room.x, text, (font, Color32::PLACEHOLDER)).size().y
    };
    let mut size = font.size;
    while high(size) > room.y && size > LEAST_POINTS {
        size = (size * 0.92).max(LEAST_POINTS);
    }
    (high(size) <= room.y).then_some(size)
}

/// Writes `text` in the middle of `area`, wrapped at words, made smaller until it fits; left out where it would be too small.
pub fn write_wrapped(painter: &Painter, area: Rect, text: &str, (font, color): (FontId, Color32)) {
    let Some(size) = fitting(painter, area.size(), text, &font) else { return };
    let galley = wrapped(painter, area.width(), text, (FontId::new(size, font.family), color));
    painter.galley(Pos2::new(area.center().x, area.center().y - galley.size().y / 2.0), galley, color);
}

/// A paragraph inside `area`, wrapped, also read by assistive technology.
pub fn paragraph(ui: &mut egui::Ui, area: Rect, text: egui::RichText) {
    ui.scope_builder(egui::UiBuilder::new().max_rect(area), |ui| {
        ui.set_clip_rect(area.intersect(ui.clip_rect()));
        ui.add(egui::Label::new(text).wrap());
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance (WCAG 2.1, "relative luminance").
    fn luminance(rgb: [f64; 3]) -> f64 {
        0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2]
    }

    fn linear(c: Color32) -> [f64; 3] {
        [c.r(), c.g(), c.b()].map(|v| {
            let v = f64::from(v) / 255.0;
            if v <= 0.03928 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
        })
    }

    /// WCAG 2.1 contrast ratio.
    fn contrast(a: [f64; 3], b: [f64; 3]) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    /// Severity 1.0 of Machado, Oliveira, Fernandes, "A Physiologically-based Model for Simulation of Color Vision
    /// Deficiency", IEEE TVCG 15(6), 2009: protanomaly, deuteranomaly, tritanomaly; on linear RGB.
    const MACHADO: [[[f64; 3]; 3]; 3] = [
        [[0.152_286, 1.052_583, -0.204_868], [0.114_503, 0.786_281, 0.099_216], [-0.003_882, -0.048_116, 1.051_998]],
        [[0.367_322, 0.860_646, -0.227_968], [0.280_085, 0.672_501, 0.047_413], [-0.011_820, 0.042_940, 0.968_881]],
        [[1.255_528, -0.076_749, -0.178_779], [-0.078_411, 0.930_809, 0.147_602], [0.004_733, 0.691_367, 0.303_900]],
    ];

    fn seen(m: &[[f64; 3]; 3], c: [f64; 3]) -> [f64; 3] {
        [0, 1, 2].map(|i| (m[i][0] * c[0] + m[i][1] * c[1] + m[i][2] * c[2]).clamp(0.0, 1.0))
    }

    /// CIE 1976 L*a*b* from linear sRGB, D65 (IEC 61966-2-1 matrix).
    fn lab(c: [f64; 3]) -> [f64; 3] {
        let x = (0.4124 * c[0] + 0.3576 * c[1] + 0.1805 * c[2]) / 0.950_47;
        let y = 0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2];
        let z = (0.0193 * c[0] + 0.1192 * c[1] + 0.9505 * c[2]) / 1.088_83;
        let f = |t: f64| if t > 0.008_856 { t.cbrt() } else { 7.787 * t + 16.0 / 116.0 };
        [116.0 * f(y) - 16.0, 500.0 * (f(x) - f(y)), 200.0 * (f(y) - f(z))]
    }

    fn looks() -> [Look; 2] {
        [true, false].map(|dark| Look::new(LookChoice { dark, ..LookChoice::default() }, vec2(1280.0, 720.0)))
    }

    #[test]
    fn text_and_marks_keep_their_contrast_for_every_eye() {
        let identity = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        for look in looks() {
            for m in std::iter::once(&identity).chain(&MACHADO) {
                for ground in [look.ground, look.raised] {
                    let ground = seen(m, linear(ground));
                    for text in [look.ink, look.quiet, look.alert] {
                        assert!(contrast(seen(m, linear(text)), ground) >= 4.5, "{text:?} dark {}", look.dark);
                    }
                    for mark in [look.voice, look.still, look.ink, look.quiet, look.rule] {
                        assert!(contrast(seen(m, linear(mark)), ground) >= 3.0, "{mark:?} dark {}", look.dark);
                    }
                }
            }
        }
    }

    #[test]
    fn chosen_controls_keep_their_text_readable() {
        for look in looks() {
            let mut style = egui::Style::default();
            look.dress(&mut style);
            let chosen = style.visuals.selection;
            assert!(contrast(linear(chosen.stroke.color), linear(chosen.bg_fill)) >= 4.5, "dark {}", look.dark);
            let (hint, field) = (style.visuals.weak_text_color(), style.visuals.text_edit_bg_color());
            assert!(contrast(linear(hint), linear(field)) >= 4.5, "dark {}", look.dark);
        }
    }

    #[test]
    fn voice_and_still_stay_apart_for_every_eye() {
        for look in looks() {
            for m in &MACHADO {
                let (a, b) = (lab(seen(m, linear(look.voice))), lab(seen(m, linear(look.still))));
                let distance = ((a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2) + (a[2] - b[2]).powi(2)).sqrt();
                // 2.3 is a just noticeable difference (Mahy et al. 1994); ten of them read at a glance (our choice).
                assert!(distance >= 23.0, "dark {}: {distance}", look.dark);
            }
        }
    }

    #[test]
    fn sizes_stay_readable_and_bounded() {
        let at = |scale, size| Look::new(LookChoice { text_scale: scale, ..LookChoice::default() }, size);
        assert!(at(1.0, SMALLEST).body().size >= 11.0);
        assert!(at(2.0, vec2(1280.0, 720.0)).unit > 1.5 * at(1.0, vec2(1280.0, 720.0)).unit);
        assert!(at(1.0, vec2(3840.0, 2160.0)).unit > 3.0);
        // A screen of 13 inches has 0.225 mm to the point; capitals are 0.7 of the size.
        assert!(0.7 * 0.225 * at(1.0, vec2(1280.0, 720.0)).far >= 3.8);
        assert!(at(1.0, SMALLEST).far <= at(1.0, SMALLEST).body().size);
    }
}
