//! A take as each face of the real window shows it: looked at, and kept to be looked at by people.

use super::{BLOCK, GROUND, RATE, Stage, differ};
use crate::{change, id, plugin, stereo};
use achala::editor::letters;
use achala::editor::look::Look;
use achala::editor::picture::render;
use achala::editor::view::LookChoice;
use achala::swara::{Sthayi, Swara};
use achala::take::{Side, Voice};
use achala::units::SampleRate;
use inproc_host::Happening;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// The recorded take, or the same as the test voice sings it today.
fn samples() -> Vec<f32> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/demo-take.flac");
    let rate = SampleRate::new(RATE).unwrap();
    let Some(mut voice) = Voice::open(&file, Side::Mix).ok().filter(|voice| voice.rate() == rate) else {
        println!("skipped: {} is not there, the built-in take is played", file.display());
        return achala::voice::demo::demo_take(rate).samples;
    };
    let (mut sound, mut block) = (Vec::new(), [0.0; BLOCK]);
    loop {
        match voice.fill(&mut block) {
            0 => return sound,
            n => sound.extend_from_slice(&block[..n]),
        }
    }
}

/// Turns to a face (0 singing, 1 teaching, 2 checking) and plays a stretch of a take in real time, seconds.
fn play(stage: &mut Stage, take: &[f32], face: f64, (from_s, to_s): (f64, f64)) {
    let mut turn = vec![Happening::Set(id(&mut stage.host, "Face"), face)];
    let part = &take[(from_s * RATE) as usize..(to_s * RATE) as usize];
    let began = Instant::now();
    for (i, block) in part.chunks(BLOCK).enumerate() {
        stage.host.process(&mut stereo(block), &turn, None).unwrap();
        turn.clear();
        let due = Duration::from_secs_f64((i + 1) as f64 * BLOCK as f64 / RATE);
        std::thread::sleep(due.saturating_sub(began.elapsed()));
    }
}

/// Writes a picture of the window down, with the three colours in the order of the format.
pub(super) fn keep(stage: &Stage, name: &str) -> Vec<u8> {
    let (width, height) = stage.display.child_size().unwrap();
    let picture = stage.display.part((0, 0), (width, height)).unwrap();
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("target/pictures");
    std::fs::create_dir_all(&folder).unwrap();
    let file = std::fs::File::create(folder.join(format!("{name}.png"))).unwrap();
    let mut encoder = png::Encoder::new(file, u32::from(width), u32::from(height));
    encoder.set_color(png::ColorType::Rgb);
    let colours: Vec<u8> = picture.chunks_exact(4).flat_map(|p| [p[2], p[1], p[0]]).collect();
    encoder.write_header().unwrap().write_image_data(&colours).unwrap();
    picture
}

/// Which part of a picture is not ground.
pub(super) fn drawn(picture: &[u8]) -> f64 {
    let marks = picture.chunks_exact(4).filter(|p| p[..3] != GROUND).count();
    marks as f64 / (picture.len() / 4) as f64
}

/// Cells of the grid on which letters are compared.
const CELLS: usize = 12;
/// Where the letter stands on the singing face of 1280 x 720, with air about it: no other ink is there.
const LETTER: ((usize, usize), (usize, usize)) = ((8, 60), (272, 400));

/// What is inked within a stretch of a picture, cut to its own size and laid on the grid: the share of ink in each cell.
fn grid(inked: impl Fn(usize, usize) -> bool, (from, to): ((usize, usize), (usize, usize))) -> Vec<f64> {
    let points: Vec<(usize, usize)> =
        (from.1..to.1).flat_map(|y| (from.0..to.0).map(move |x| (x, y))).filter(|(x, y)| inked(*x, *y)).collect();
    let ends = |of: fn(&(usize, usize)) -> usize| {
        let all = points.iter().map(of);
        (all.clone().min().expect("something is written"), all.max().unwrap_or(0) + 1)
    };
    let ((left, right), (top, bottom)) = (ends(|p| p.0), ends(|p| p.1));
    let cell = (right - left) as f64 * (bottom - top) as f64 / (CELLS * CELLS) as f64;
    let mut grid = vec![0.0; CELLS * CELLS];
    for (x, y) in points {
        grid[(y - top) * CELLS / (bottom - top) * CELLS + (x - left) * CELLS / (right - left)] += 1.0 / cell;
    }
    grid
}

/// The letter that is most like the one in the picture of the singing face.
fn read_letter(picture: &[u8], width: usize) -> Swara {
    let ink = Look::new(LookChoice::default(), egui::vec2(1280.0, 720.0)).ink;
    let near = |a: u8, b: u8| a.abs_diff(b) < 60;
    let seen = grid(
        |x, y| {
            let at = 4 * (y * width + x);
            near(picture[at], ink.b()) && near(picture[at + 1], ink.g()) && near(picture[at + 2], ink.r())
        },
        LETTER,
    );
    let apart = |swara: Swara| {
        let drawn = render(egui::vec2(300.0, 300.0), 1.0, |ui| {
            let area = egui::Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(300.0, 300.0));
            letters::swara(ui.painter(), area, swara, Sthayi::MADHYA, ink);
        });
        let known = grid(|x, y| near(drawn.at(x, y).r(), ink.r()), ((0, 0), (300, 300)));
        seen.iter().zip(known).map(|(a, b)| (a - b).abs()).sum::<f64>()
    };
    let all = [Swara::S, Swara::R1, Swara::G3, Swara::M1, Swara::P, Swara::D1, Swara::N3];
    all.into_iter().min_by(|a, b| apart(*a).total_cmp(&apart(*b))).unwrap()
}

#[test]
#[ignore = "runs inside a display: see a_take_is_seen_on_every_face_of_the_real_window"]
fn take() {
    let take = samples();
    let mut host = plugin();
    change(&mut host, "chosen", |c| c["scale"] = "mela-15".into());
    change(&mut host, "window", |w| w["caution-read"] = true.into());
    let mut stage = Stage::opened(host, false);
    // Out of the way: what it rests on explains itself.
    let (width, height) = stage.display.size();
    stage.display.point((width.cast_signed() - 1, height.cast_signed() - 1)).unwrap();
    // The take's Sa is G#3.
    let sa = Happening::Set(id(&mut stage.host, "Sa"), 8.0);
    stage.host.process(&mut stereo(&[0.0; BLOCK]), &[sa], None).unwrap();
    // A held Sa from 0.6 to 4.1 s, Pa to 7.6 s, tara Sa to 10.4 s, the scale from 15.7 s on.
    play(&mut stage, &take, 0.0, (0.0, 3.0));
    let singing = keep(&stage, "real-singing");
    assert_eq!(read_letter(&singing, usize::from(stage.display.child_size().unwrap().0)), Swara::S, "a held Sa");
    play(&mut stage, &take, 0.0, (3.0, 6.0));
    let pa = keep(&stage, "real-singing-pa");
    assert_eq!(read_letter(&pa, usize::from(stage.display.child_size().unwrap().0)), Swara::P, "a held Pa");
    play(&mut stage, &take, 1.0, (6.0, 10.0));
    let teaching = keep(&stage, "real-teaching");
    play(&mut stage, &take, 2.0, (10.0, 18.0));
    let checking = keep(&stage, "real-checking");
    for (name, picture) in [("singing", &singing), ("teaching", &teaching), ("checking", &checking)] {
        let share = drawn(picture);
        println!("measured: {name}: {:.1} % of the picture is drawn on", 100.0 * share);
        assert!((0.02..0.6).contains(&share), "{name}: {share}");
    }
    let least = singing.len() / 50;
    assert!(differ(&singing, &teaching) > least && differ(&teaching, &checking) > least, "three faces");
    stage.host.close();
    stage.singer.play(&mut stage.host, 0.5);
}
