//! The drone to listen to: each kind at three Sa, with a picture of its spectrum over time.
//!
//! Out: `drone-KIND-SA.wav` (24 s, mono, 48 kHz) and `drone-KIND-SA.png`. Method of the pictures: power of Hann windows of
//! 85 ms every 12 ms, in decibels under the strongest, 80 of them from dark to light.

use crate::Result;
use achala::drone::{DroneSetting, Kind, render};
use achala::editor::picture;
use achala::units::{Hertz, SampleRate, num};
use egui::{Align2, Color32, ColorImage, FontId, Painter, Pos2, Rect, TextureOptions, Vec2, pos2, vec2};
use realfft::RealFftPlanner;
use std::path::{Path, PathBuf};
use std::thread;

/// Names and MIDI keys of the three Sa.
const SAS: [(&str, f64); 3] = [("C3", 48.0), ("D3", 50.0), ("A3", 57.0)];
const KINDS: [(&str, Kind); 2] = [("strings", Kind::Strings), ("reed", Kind::Reed)];
const RATE_HZ: f64 = 48_000.0;
/// Four cycles of the strings at the default timing.
const SECONDS: f64 = 24.0;
const WINDOW: usize = 4096;
const HOP: usize = 576;
/// Stretch shown: the fade-in and two cycles.
const SHOWN_S: f64 = 12.0;
/// Highest frequency shown: the travelling band lies below it at every Sa.
const TOP_HZ: f64 = 5_000.0;
/// Range of the colours, dB.
const RANGE_DB: f64 = 80.0;
/// Size of the picture and room around the figure, points.
const SIZE: Vec2 = vec2(1000.0, 520.0);
const MARGIN: f32 = 56.0;

/// Writes all of them; two at a time, since the strings take a while to make.
pub(crate) fn write(folder: &Path) -> Result<Vec<PathBuf>> {
    let mut made = Vec::new();
    for (kind_name, kind) in KINDS {
        let sounds: Vec<std::result::Result<Vec<f32>, String>> = thread::scope(|scope| {
            let jobs = SAS.map(|(_, key)| scope.spawn(move || sound(kind, key)));
            jobs.map(|job| job.join().unwrap_or_else(|_| Err("the drone could not be made".to_owned()))).into()
        });
        for ((name, key), sound) in SAS.into_iter().zip(sounds) {
            let sound = sound?;
            let stem = folder.join(format!("drone-{kind_name}-{name}"));
            let (wav, png) = (stem.with_extension("wav"), stem.with_extension("png"));
            achala::take::wav::write(&wav, &[&sound], SampleRate::new(RATE_HZ)?)?;
            let title = format!("Drone, {kind_name}, Sa = {name} ({:.2} Hz): spectrum over time", hz(key).0);
            drawn(&sound, &title).save(&png)?;
            made.extend([wav, png]);
        }
    }
    Ok(made)
}

fn hz(key: f64) -> Hertz {
    Hertz::of_midi_key(key, Hertz(440.0))
}

fn sound(kind: Kind, key: f64) -> std::result::Result<Vec<f32>, String> {
    let setting = DroneSetting { kind, sa: hz(key), ..DroneSetting::default() };
    let rate = SampleRate::new(RATE_HZ).map_err(|e| e.to_string())?;
    render(&setting, rate, SECONDS).map_err(|e| e.to_string())
}

/// Power per bin up to [`TOP_HZ`], column by column, dB under the strongest.
fn spectra(sound: &[f32]) -> (Vec<Vec<f64>>, usize) {
    let fft = RealFftPlanner::<f32>::new().plan_fft_forward(WINDOW);
    let (mut input, mut output) = (fft.make_input_vec(), fft.make_output_vec());
    let rows = num::index(TOP_HZ / RATE_HZ * WINDOW as f64);
    let hann = |i: usize| 0.5 - 0.5 * (std::f64::consts::TAU * i as f64 / WINDOW as f64).cos();
    let mut columns: Vec<Vec<f64>> = Vec::new();
    for stretch in sound.windows(WINDOW).step_by(HOP).take(num::index(SHOWN_S * RATE_HZ / HOP as f64)) {
        for (i, (to, from)) in input.iter_mut().zip(stretch).enumerate() {
            *to = from * num::single(hann(i));
        }
        if fft.process(&mut input, &mut output).is_ok() {
            columns.push(output.iter().take(rows).map(|c| f64::from(c.norm_sqr())).collect());
        }
    }
    let strongest = columns.iter().flatten().copied().fold(f64::MIN_POSITIVE, f64::max);
    for power in columns.iter_mut().flatten() {
        *power = 10.0 * (*power / strongest).max(1e-12).log10();
    }
    (columns, rows)
}

/// From nearly black through deep blue and clay to cream: lightness alone tells the level.
fn colour(db: f64) -> Color32 {
    const STOPS: [Color32; 4] = [
        Color32::from_rgb(14, 16, 24),
        Color32::from_rgb(44, 58, 104),
        Color32::from_rgb(190, 112, 84),
        Color32::from_rgb(250, 238, 214),
    ];
    let place = (1.0 + db / RANGE_DB).clamp(0.0, 1.0) * (STOPS.len() - 1) as f64;
    let below = num::index(place).min(STOPS.len() - 2);
    STOPS[below].lerp_to_gamma(STOPS[below + 1], num::single(place - below as f64))
}

fn drawn(sound: &[f32], title: &str) -> picture::Image {
    let (columns, rows) = spectra(sound);
    let mut image = ColorImage::filled([columns.len(), rows], Color32::BLACK);
    for (x, column) in columns.iter().enumerate() {
        for (y, db) in column.iter().enumerate() {
            if let Some(pixel) = image.pixels.get_mut((rows - 1 - y) * columns.len() + x) {
                *pixel = colour(*db);
            }
        }
    }
    let figure = Rect::from_min_max(pos2(MARGIN + 24.0, MARGIN), pos2(SIZE.x - MARGIN, SIZE.y - MARGIN));
    let mut texture = None;
    picture::render(SIZE, 1.0, |ui| {
        let texture =
            texture.get_or_insert_with(|| ui.ctx().load_texture("spectrum", image.clone(), TextureOptions::LINEAR));
        let painter = ui.painter();
        painter.rect_filled(Rect::from_min_size(Pos2::ZERO, SIZE), 0.0, Color32::from_rgb(248, 246, 240));
        painter.image(texture.id(), figure, Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0)), Color32::WHITE);
        axes(painter, figure, title);
    })
}

fn axes(painter: &Painter, figure: Rect, title: &str) {
    let ink = Color32::from_rgb(30, 30, 34);
    let text = |at: Pos2, side: Align2, words: String| painter.text(at, side, words, FontId::proportional(15.0), ink);
    text(pos2(figure.center().x, MARGIN / 2.0), Align2::CENTER_CENTER, title.to_owned());
    for second in (0..=12).step_by(2) {
        let x = figure.left() + figure.width() * num::single(f64::from(second) / SHOWN_S);
        painter.line_segment([pos2(x, figure.bottom()), pos2(x, figure.bottom() + 5.0)], (1.0, ink));
        text(pos2(x, figure.bottom() + 8.0), Align2::CENTER_TOP, format!("{second} s"));
    }
    for kilo in 0..=5 {
        let y = figure.bottom() - figure.height() * num::single(f64::from(kilo) * 1_000.0 / TOP_HZ);
        painter.line_segment([pos2(figure.left() - 5.0, y), pos2(figure.left(), y)], (1.0, ink));
        text(pos2(figure.left() - 8.0, y), Align2::RIGHT_CENTER, format!("{kilo} kHz"));
    }
    text(
        pos2(figure.right(), SIZE.y - 14.0),
        Align2::RIGHT_CENTER,
        format!("light: strongest; dark: {RANGE_DB:.0} dB under it"),
    );
}
