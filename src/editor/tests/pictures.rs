//! Pictures of every face, into `target/pictures`, and what it takes to draw one.

use super::*;

/// All three faces at three sizes in both looks, into `target/pictures`.
#[test]
fn pictures_show_something() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("target/pictures");
    std::fs::create_dir_all(&folder).unwrap();
    let mut views = Vec::new();
    for (name, face) in [("singing", Face::Singing), ("teaching", Face::Teaching), ("checking", Face::Checking)] {
        views.push((name.to_owned(), View { face, ..sample::normal() }, None));
    }
    views.push(("frozen".into(), View { face: Face::Teaching, frozen: true, ..sample::normal() }, None));
    views.push(("empty".into(), sample::empty(), None));
    views.push(("sa".into(), sample::on_sa(), None));
    views.push(("waver".into(), sample::wavering(), None));
    views.push(("long".into(), sample::long_hold(), None));
    views.push(("line".into(), View { face: Face::Teaching, ..sample::bad_line() }, None));
    views.push(("shared".into(), sample::bad_line(), None));
    views.push(("unheard".into(), View { unheard_hz: Some(384_000.0), caution_read: true, ..sample::empty() }, None));
    views.push(("extreme".into(), sample::extreme(), None));
    views.push(("meter".into(), View { face: Face::Teaching, ..sample::normal() }, Some(Sheet::Meter)));
    views.push(("full".into(), View { face: Face::Teaching, ..sample::extreme() }, None));
    views.push(("settings".into(), sample::normal(), Some(Sheet::Settings)));
    let device = sample::extreme().device;
    let mut larger = View { device, shift: Some(crate::units::Cents(38.0)), ..sample::on_sa() };
    larger.look.text_scale = 2.0;
    views.push(("larger".into(), larger, Some(Sheet::Settings)));
    views.push(("marks".into(), View { face: Face::Teaching, ..sample::extreme() }, Some(Sheet::Marks)));
    let mut reed =
        View { up_down: sample::extreme().up_down, reference: Some(crate::swara::Swara::P), ..sample::normal() };
    (reed.drone.kind.current, reed.drone.own_reeds) = ("reed".into(), true);
    views.push(("reed".into(), reed.clone(), Some(Sheet::Settings)));
    views.push(("ways".into(), View { face: Face::Teaching, ..reed.clone() }, None));
    views.push(("ways-frozen".into(), View { face: Face::Teaching, frozen: true, ..reed }, None));
    views.push(("words".into(), sample::normal(), Some(Sheet::State)));
    views.push(("keys".into(), sample::normal(), Some(Sheet::Keys)));
    views.push(("lesson".into(), sample::lesson(), Some(Sheet::Lesson)));
    views.push(("tonic".into(), sample::finding(), Some(Sheet::Tonic)));
    views.push(("ear".into(), sample::ear_asked(), None));
    let asks = View { lesson: sample::lesson().lesson, ..sample::empty() };
    views.push(("asks".into(), asks, None));
    views.push(("round".into(), sample::round_over(), None));
    views.push(("round-teaching".into(), View { face: Face::Teaching, ..sample::round_over() }, None));
    let line = sample::normal().line;
    let replay = Some(super::super::view::Replay { time_s: 62.0, word: "good Ga".into(), line });
    views.push(("beside".into(), View { face: Face::Teaching, replay, ..sample::normal() }, None));
    views.push(("stands".into(), View { frozen: true, ..sample::normal() }, None));
    let chosen = View { face: Face::Checking, ..sample::note_chosen() };
    views.push(("note".into(), chosen, None));
    for (name, mut view, sheet) in views {
        let sizes = [
            (vec2(480.0, 320.0), 1.0),
            (vec2(960.0, 600.0), 1.0),
            (vec2(1280.0, 720.0), 1.0),
            (vec2(1920.0, 1080.0), 2.0),
        ];
        for (size, scale) in sizes {
            for dark in [true, false] {
                view.look.dark = dark;
                let mut window = Window::new();
                window.memory.sheet = sheet;
                window.memory.checking.chosen = view.shown_note.as_ref().map(|n| n.index);
                let image = picture::render(size, scale, |ui| window.ui(ui, &view, &mut Vec::new()));
                let ground = image.at(1, image.height / 2);
                assert!(image.pixels.iter().filter(|p| **p != ground).count() > image.pixels.len() / 50, "{name}");
                let look = if dark { "dark" } else { "light" };
                image.save(&folder.join(format!("{name}-{}-{look}.png", image.width))).unwrap();
            }
        }
    }
}

/// The largest screen, every scale factor, and the smallest window with its text at 200 %, into `target/pictures`.
#[test]
fn pictures_at_every_scale_show_something() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("target/pictures");
    std::fs::create_dir_all(&folder).unwrap();
    let largest = [(SIZES[3], 1.0, 1.0)].into_iter();
    let scaled = scales(SIZES[2]).map(|scale| (SIZES[2], scale, 1.0));
    let smallest = scales(SIZES[0]).map(|scale| (SIZES[0], scale, 2.0));
    for (size, scale, text) in largest.chain(scaled).chain(smallest) {
        for face in FACES {
            let mut view = View { face, ..sample::normal() };
            view.look.text_scale = text;
            let image = picture::render(size, scale, |ui| Window::new().ui(ui, &view, &mut Vec::new()));
            let ground = image.at(1, image.height / 2);
            assert!(
                image.pixels.iter().filter(|p| **p != ground).count() > image.pixels.len() / 50,
                "{face:?} {size:?}"
            );
            let name = format!("{face:?}-{}x{}-at-{scale}-text-{text}.png", size.x, size.y).to_lowercase();
            image.save(&folder.join(name)).unwrap();
        }
    }
}

/// The faces with larger text, into `target/pictures`.
#[test]
fn pictures_with_larger_text_show_something() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("target/pictures");
    std::fs::create_dir_all(&folder).unwrap();
    for (size, text) in [vec2(960.0, 600.0), SIZES[2]].into_iter().flat_map(|s| [1.5, 1.75, 2.0].map(|t| (s, t))) {
        for face in FACES {
            let mut view = View { face, ..sample::normal() };
            view.look.text_scale = text;
            let image = picture::render(size, 1.0, |ui| Window::new().ui(ui, &view, &mut Vec::new()));
            let ground = image.at(1, image.height / 2);
            assert!(image.pixels.iter().filter(|p| **p != ground).count() > image.pixels.len() / 50, "{size:?}");
            image.save(&folder.join(format!("{face:?}-{}-text-{text}.png", size.x).to_lowercase())).unwrap();
        }
    }
}

/// A sheet beside each face at every text size, into `target/pictures`.
#[test]
fn pictures_with_a_sheet_show_something() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("target/pictures");
    std::fs::create_dir_all(&folder).unwrap();
    for (size, text) in [vec2(960.0, 600.0), SIZES[0]].into_iter().flat_map(|s| TEXTS.map(|text| (s, text))) {
        for (face, sheet) in [(Face::Checking, Sheet::Keys), (Face::Singing, Sheet::Settings)] {
            let mut view = View { face, ..sample::extreme() };
            view.look.text_scale = text;
            let mut window = Window::new();
            window.memory.sheet = Some(sheet);
            let image = picture::render(size, 1.0, |ui| window.ui(ui, &view, &mut Vec::new()));
            let ground = image.at(1, image.height / 2);
            assert!(image.pixels.iter().filter(|p| **p != ground).count() > image.pixels.len() / 50, "{size:?}");
            let name = format!("sheet-{sheet:?}-{}-text-{text}.png", size.x).to_lowercase();
            image.save(&folder.join(name)).unwrap();
        }
    }
}

/// Names of pupils in two scripts, as this machine draws them: with its fonts, or left out and said.
#[test]
fn a_pupils_name_is_drawn_or_left_out_and_said() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("target/pictures");
    std::fs::create_dir_all(&folder).unwrap();
    for (name, script) in [("மீனாட்சி", "Tamil"), ("मीनाक्षी", "Devanagari")] {
        let mut view = sample::lesson();
        view.lesson.profiles.current = "key".into();
        view.lesson.profiles.options = vec![("key".into(), name.into())];
        let (ctx, mut window) = (Context::default(), Window::new());
        window.memory.sheet = Some(Sheet::Lesson);
        window.opened(&ctx);
        let mut found = Vec::new();
        for _ in 0..3 {
            let input =
                RawInput { screen_rect: Some(Rect::from_min_size(Pos2::ZERO, SIZES[2])), ..RawInput::default() };
            let mut output = ctx.run_ui(input, |ui| window.ui(ui, &view, &mut Vec::new()));
            output.textures_delta.clear();
            found.clear();
            output.shapes.iter().for_each(|clipped| texts(&clipped.shape, &mut found));
        }
        let said = format!("({script}: no font here)");
        let shown: Vec<&String> = found.iter().map(|(text, _)| text).filter(|t| **t == name || **t == said).collect();
        assert_eq!(shown.len(), 1, "{script}: {found:?}");
        let mut opened = false;
        let image = picture::render(vec2(900.0, 700.0), 1.0, |ui| {
            if !std::mem::replace(&mut opened, true) {
                window.opened(ui.ctx());
            }
            window.ui(ui, &view, &mut Vec::new());
        });
        image.save(&folder.join(format!("name-{script}.png").to_lowercase())).unwrap();
    }
}

/// Most of what a picture costs with software drawing goes with the triangles and the points that they cover: both stay bounded.
#[test]
fn every_corner_bears_the_ground() {
    for dark in [true, false] {
        let mut view = View { face: Face::Teaching, ..sample::normal() };
        view.look.dark = dark;
        view.trouble.gated = true;
        let image = picture::render(SIZES[0], 1.0, |ui| Window::new().ui(ui, &view, &mut Vec::new()));
        let ground = Window::ground(&view);
        for (x, y) in [(1, 1), (1, image.height - 2), (image.width - 2, image.height - 2), (1, image.height / 2)] {
            assert_eq!(image.at(x, y), ground, "{x} {y}");
        }
    }
}

#[test]
fn a_picture_is_made_of_few_triangles_and_covers_little() {
    for (face, most) in [(Face::Singing, (11_500, 200_000.0)), (Face::Teaching, (11_500, 140_000.0))] {
        let (view, ctx) = (View { face, ..sample::normal() }, Context::default());
        // As in its host, the ground is there already.
        let mut window = Window { on_ground: true, ..Window::new() };
        let (mut triangles, mut covered) = (0, 0.0f32);
        for frame in 0..4u32 {
            let screen_rect = Some(Rect::from_min_size(Pos2::ZERO, SIZES[2]));
            let input = RawInput { screen_rect, time: Some(f64::from(frame) * 0.1), ..RawInput::default() };
            let mut output = ctx.run_ui(input, |ui| window.ui(ui, &view, &mut Vec::new()));
            output.textures_delta.clear();
            (triangles, covered) = (0, 0.0);
            for primitive in ctx.tessellate(output.shapes, 1.0) {
                let egui::epaint::Primitive::Mesh(mesh) = &primitive.primitive else { continue };
                for corners in mesh.indices.as_chunks::<3>().0 {
                    let [a, b, c] = corners.map(|i| mesh.vertices[usize::try_from(i).unwrap()].pos);
                    triangles += 1;
                    covered += ((b - a).x * (c - a).y - (b - a).y * (c - a).x).abs() / 2.0;
                }
            }
        }
        println!("{face:?}: {triangles} triangles over {covered:.0} points");
        assert!(triangles <= most.0 && covered <= most.1, "{face:?}: {triangles} triangles, {covered} points");
    }
}
