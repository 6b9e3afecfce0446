//! Pictures of the window without a screen: draws egui's triangles into pixels.
//!
//! In: a size in points, a scale (pixels per point), and something that draws into a `Ui`. Out: [`Image`], 8-bit
//! RGBA, and PNG files. Method: egui's own tessellation; each triangle filled by its edge functions at pixel centres
//! (Pineda 1988), with the top-left rule so that shared edges are drawn once; colour and texture interpolated,
//! blended with premultiplied alpha in gamma space as egui does. Cost: about as many operations as pixels covered.
//! Not handled: paint callbacks; textures other than egui's own fonts and images.

use crate::units::num;
use egui::epaint::{Primitive, Vertex};
use egui::{ClippedPrimitive, Color32, Context, Pos2, RawInput, Rect, TextureId, TexturesDelta, Ui, Vec2};
use std::collections::HashMap;
use std::io::BufWriter;
use std::path::Path;

/// Frames drawn before the picture is taken: panels learn their size in the first ones.
const FRAMES: u32 = 4;
/// Time between those frames, seconds.
const FRAME_S: f64 = 0.25;

/// Pixels, row by row from the top.
#[derive(Debug, Clone, PartialEq)]
pub struct Image {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Opaque or premultiplied colour of each.
    pub pixels: Vec<Color32>,
}

impl Image {
    fn new(width: usize, height: usize) -> Self {
        Self { width, height, pixels: vec![Color32::TRANSPARENT; width * height] }
    }

    /// The pixel at `x`, `y`; transparent outside.
    #[must_use]
    pub fn at(&self, x: usize, y: usize) -> Color32 {
        if x < self.width {
            self.pixels.get(y * self.width + x).copied().unwrap_or_default()
        } else {
            Color32::default()
        }
    }

    /// Writes a PNG file.
    ///
    /// # Errors
    /// When the file cannot be made or written.
    pub fn save(&self, path: &Path) -> std::io::Result<()> {
        let side = |n: usize| u32::try_from(n).map_err(std::io::Error::other);
        let file = BufWriter::new(std::fs::File::create(path)?);
        let mut encoder = png::Encoder::new(file, side(self.width)?, side(self.height)?);
        encoder.set_color(png::ColorType::Rgba);
        encoder.set_depth(png::BitDepth::Eight);
        let mut writer = encoder.write_header().map_err(std::io::Error::other)?;
        let bytes: Vec<u8> = self.pixels.iter().flat_map(|p| p.to_srgba_unmultiplied()).collect();
        writer.write_image_data(&bytes).map_err(std::io::Error::other)
    }
}

/// Draws `ui` at `size` points and `scale` pixels per point, after a few frames to settle.
pub fn render(size: Vec2, scale: f32, mut ui: impl FnMut(&mut Ui)) -> Image {
    let ctx = Context::default();
    let mut textures = Textures::default();
    let mut image = Image::new(pixels(size.x * scale), pixels(size.y * scale));
    for frame in 0..FRAMES {
        let mut input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, size)),
            time: Some(f64::from(frame) * FRAME_S),
            ..RawInput::default()
        };
        input.viewports.entry(input.viewport_id).or_default().native_pixels_per_point = Some(scale);
        let output = ctx.run_ui(input, |root| ui(root));
        textures.apply(output.textures_delta);
        if frame + 1 == FRAMES {
            for primitive in ctx.tessellate(output.shapes, output.pixels_per_point) {
                textures.draw(&mut image, &primitive, scale);
            }
        }
    }
    image
}

fn pixels(length: f32) -> usize {
    num::index(f64::from(length))
}

/// The textures as egui has sent them.
#[derive(Default)]
struct Textures(HashMap<TextureId, Image>);

impl Textures {
    fn apply(&mut self, mut delta: TexturesDelta) {
        for (id, changes) in std::mem::take(&mut delta.set) {
            for change in changes {
                let egui::ImageData::Color(new) = change.image;
                let [w, h] = new.size;
                let Some([x0, y0]) = change.pos else {
                    self.0.insert(id, Image { width: w, height: h, pixels: new.pixels.clone() });
                    continue;
                };
                let Some(old) = self.0.get_mut(&id) else { continue };
                for (row, line) in new.pixels.chunks_exact(w.max(1)).enumerate() {
                    let start = (y0 + row) * old.width + x0;
                    if let Some(place) = old.pixels.get_mut(start..start + w) {
                        place.copy_from_slice(line);
                    }
                }
            }
        }
        for id in std::mem::take(&mut delta.free) {
            self.0.remove(&id);
        }
    }

    fn draw(&self, image: &mut Image, primitive: &ClippedPrimitive, scale: f32) {
        let Primitive::Mesh(mesh) = &primitive.primitive else { return };
        let Some(texture) = self.0.get(&mesh.texture_id) else { return };
        let clip = primitive.clip_rect * scale;
        for corners in mesh.indices.as_chunks::<3>().0 {
            let vertex = |i: u32| usize::try_from(i).ok().and_then(|i| mesh.vertices.get(i));
            if let [Some(a), Some(b), Some(c)] = corners.map(vertex) {
                triangle(image, texture, clip, [a, b, c].map(|v| Corner::new(v, scale)));
            }
        }
    }
}

/// One corner of a triangle, in pixels.
#[derive(Clone, Copy)]
struct Corner {
    at: Pos2,
    uv: Pos2,
    color: [f32; 4],
}

impl Corner {
    fn new(v: &Vertex, scale: f32) -> Self {
        Self { at: (v.pos.to_vec2() * scale).to_pos2(), uv: v.uv, color: v.color.to_array().map(f32::from) }
    }
}

/// Twice the signed area of a, b, p.
fn edge(a: Pos2, b: Pos2, p: Pos2) -> f32 {
    (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x)
}

/// Whether an edge of a clockwise triangle (y down) owns the pixel centres that lie on it.
fn owns(a: Pos2, b: Pos2) -> bool {
    b.y < a.y || (b.y == a.y && b.x > a.x)
}

fn triangle(image: &mut Image, texture: &Image, clip: Rect, [a, b, c]: [Corner; 3]) {
    let area = edge(a.at, b.at, c.at);
    if area == 0.0 || !area.is_finite() {
        return;
    }
    let (b, c, area) = if area < 0.0 { (c, b, -area) } else { (b, c, area) };
    let bounds = Rect::from_points(&[a.at, b.at, c.at]).intersect(clip.expand(0.0));
    let limit = |v: f32, max: usize| pixels(v.clamp(0.0, 65_535.0)).min(max);
    // Clip rectangles are rounded to whole pixels, as on a graphics card.
    let (left, right) =
        (bounds.left().floor().max(clip.left().round()), bounds.right().ceil().min(clip.right().round()));
    let (top, bottom) =
        (bounds.top().floor().max(clip.top().round()), bounds.bottom().ceil().min(clip.bottom().round()));
    let owned = [owns(b.at, c.at), owns(c.at, a.at), owns(a.at, b.at)];
    for y in limit(top, image.height)..limit(bottom, image.height) {
        let (from, to) = span([a.at, b.at, c.at], y as f32 + 0.5);
        let (from, to) = (left.max(from - 1.0), right.min(to + 1.0));
        for x in limit(from, image.width)..limit(to, image.width) {
            let p = Pos2::new(x as f32 + 0.5, y as f32 + 0.5);
            let w = [edge(b.at, c.at, p), edge(c.at, a.at, p), edge(a.at, b.at, p)];
            if w.iter().zip(owned).any(|(w, own)| *w < 0.0 || (*w == 0.0 && !own)) {
                continue;
            }
            let [wa, wb, wc] = w.map(|w| w / area);
            let mix = |i: usize| {
                let part = |corner: &Corner, w: f32| corner.color.get(i).copied().unwrap_or(0.0) * w;
                part(&a, wa) + part(&b, wb) + part(&c, wc)
            };
            let uv = a.uv.to_vec2() * wa + b.uv.to_vec2() * wb + c.uv.to_vec2() * wc;
            let texel = sample(texture, uv);
            let source = [0, 1, 2, 3].map(|i| mix(i) * texel.get(i).copied().unwrap_or(0.0));
            if let Some(pixel) = image.pixels.get_mut(y * image.width + x) {
                *pixel = over(*pixel, source);
            }
        }
    }
}

/// Where the row at height `y` enters and leaves a triangle.
fn span(corners: [Pos2; 3], y: f32) -> (f32, f32) {
    let [a, b, c] = corners;
    let mut out = (f32::INFINITY, f32::NEG_INFINITY);
    for (p, q) in [(a, b), (b, c), (c, a)] {
        if (p.y <= y && q.y >= y) || (q.y <= y && p.y >= y) {
            let t = if p.y == q.y { 0.0 } else { (y - p.y) / (q.y - p.y) };
            let ends = if p.y == q.y { [p.x, q.x] } else { [p.x + (q.x - p.x) * t; 2] };
            out = (out.0.min(ends[0]).min(ends[1]), out.1.max(ends[0]).max(ends[1]));
        }
    }
    (out.0.floor(), out.1.ceil())
}

/// A texture's colour at `uv`, 0 to 1, blended between its four neighbours.
fn sample(texture: &Image, uv: Vec2) -> [f32; 4] {
    let (w, h) = (texture.width as f32, texture.height as f32);
    let (x, y) = ((uv.x * w - 0.5).clamp(0.0, w - 1.0), (uv.y * h - 0.5).clamp(0.0, h - 1.0));
    let (x0, y0) = (pixels(x.floor()), pixels(y.floor()));
    let (fx, fy) = (x - x.floor(), y - y.floor());
    let (x1, y1) = ((x0 + 1).min(texture.width.saturating_sub(1)), (y0 + 1).min(texture.height.saturating_sub(1)));
    let get = |x, y| texture.at(x, y).to_array().map(|v| f32::from(v) / 255.0);
    let (p, q, r, s) = (get(x0, y0), get(x1, y0), get(x0, y1), get(x1, y1));
    let mut out = [0.0; 4];
    for (((out, (p, q)), r), s) in out.iter_mut().zip(p.iter().zip(&q)).zip(&r).zip(&s) {
        *out = (p * (1.0 - fx) + q * fx) * (1.0 - fy) + (r * (1.0 - fx) + s * fx) * fy;
    }
    out
}

/// Premultiplied `source` (0 to 255) over `under`.
fn over(under: Color32, source: [f32; 4]) -> Color32 {
    let alpha = source[3] / 255.0;
    let byte = |v: f32| u8::try_from(num::int(f64::from(v.clamp(0.0, 255.0)))).unwrap_or(u8::MAX);
    let [r, g, b, a] = under.to_array().map(|u| f32::from(u) * (1.0 - alpha));
    let [sr, sg, sb, sa] = source;
    Color32::from_rgba_premultiplied(byte(r + sr), byte(g + sg), byte(b + sb), byte(a + sa))
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::{pos2, vec2};

    #[test]
    fn a_rectangle_covers_its_pixels_once() {
        let half = Color32::from_rgba_unmultiplied(255, 0, 0, 128);
        for scale in [1.0, 2.0] {
            let image = render(vec2(40.0, 30.0), scale, |ui| {
                let all = ui.max_rect();
                ui.painter().rect_filled(all, 0.0, Color32::BLACK);
                // A mesh without soft edges: two triangles that share a diagonal.
                let mut mesh = egui::Mesh::default();
                mesh.add_colored_rect(Rect::from_min_max(pos2(10.0, 5.0), pos2(30.0, 25.0)), half);
                ui.painter().add(mesh);
            });
            let s = pixels(scale);
            assert_eq!(image.at(5 * s, 15 * s), Color32::BLACK);
            // Drawn twice anywhere, it would be 191 there.
            for y in 5 * s..25 * s {
                for x in 10 * s..30 * s {
                    let red = image.at(x, y).r();
                    assert!((126..=130).contains(&red), "{x} {y} {red}");
                }
            }
            assert_eq!(image.at(30 * s, 15 * s), Color32::BLACK);
            assert_eq!(image.at(9 * s + s - 1, 15 * s), Color32::BLACK);
        }
    }

    #[test]
    fn letters_appear_and_clipping_holds() {
        let image = render(vec2(200.0, 60.0), 1.0, |ui| {
            let all = ui.max_rect();
            ui.painter().rect_filled(all, 0.0, Color32::BLACK);
            let clip = Rect::from_min_max(pos2(0.0, 0.0), pos2(100.0, 60.0));
            let painter = ui.painter().with_clip_rect(clip);
            let font = egui::FontId::proportional(40.0);
            painter.text(pos2(5.0, 5.0), egui::Align2::LEFT_TOP, "MMMMMMMMM", font, Color32::WHITE);
        });
        let lit = |from: usize, to: usize| {
            (0..60).flat_map(|y| (from..to).map(move |x| (x, y))).filter(|(x, y)| image.at(*x, *y).r() > 128).count()
        };
        assert!(lit(0, 100) > 300);
        assert_eq!(lit(100, 200), 0);
    }
}
