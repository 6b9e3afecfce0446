//! What is told where the pointer rests: when it comes, where it stands, and that it goes.

use super::super::hint::{RESTS_S, STANDS_S};
use super::super::view::{Face, View};
use super::super::{Window, sample, words};
use super::texts;
use egui::{Context, Event, Order, Pos2, RawInput, Rect, Vec2, pos2, vec2};

/// A window that is pointed at, and a clock.
struct Pointed {
    ctx: Context,
    window: Window,
    view: View,
    size: Vec2,
    time_s: f64,
}

impl Pointed {
    fn new(view: View, size: Vec2) -> Self {
        let mut new = Self { ctx: Context::default(), window: Window::new(), view, size, time_s: 0.0 };
        for _ in 0..4 {
            new.frame(0.1, None);
        }
        new
    }

    /// The next frame; all that is written in it.
    fn frame(&mut self, after_s: f64, to: Option<Pos2>) -> Vec<(String, Rect)> {
        self.time_s += after_s;
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, self.size)),
            time: Some(self.time_s),
            events: to.map(Event::PointerMoved).into_iter().collect(),
            ..RawInput::default()
        };
        let mut output = self.ctx.run_ui(input, |ui| self.window.ui(ui, &self.view, &mut Vec::new()));
        output.textures_delta.clear();
        let mut found = Vec::new();
        output.shapes.iter().for_each(|clipped| texts(&clipped.shape, &mut found));
        found
    }

    /// Some frames that take so long together.
    fn rests(&mut self, seconds: f32) -> Vec<(String, Rect)> {
        for _ in 0..9 {
            self.frame(f64::from(seconds) / 10.0, None);
        }
        self.frame(f64::from(seconds) / 10.0, None)
    }
}

/// Where it is told.
fn told(found: &[(String, Rect)], word: &str) -> Option<Rect> {
    let meaning = words::explain(word);
    found.iter().find(|(text, _)| text.contains(meaning)).map(|(_, rect)| *rect)
}

#[test]
fn it_comes_after_a_moment_of_rest_and_goes_until_the_pointer_moves() {
    for size in [vec2(480.0, 320.0), vec2(1280.0, 720.0)] {
        let mut pointed = Pointed::new(sample::normal(), size);
        let letter = pos2(size.x * 0.1, size.y * 0.3);
        pointed.frame(0.1, Some(letter));
        assert_eq!(told(&pointed.rests(RESTS_S - 0.2), "sthayi"), None, "not at once");
        assert!(told(&pointed.rests(0.6), "sthayi").is_some(), "{size:?}");
        assert!(told(&pointed.rests(STANDS_S - 1.0), "sthayi").is_some());
        assert_eq!(told(&pointed.rests(1.2), "sthayi"), None, "a pointer that was left there asks nothing");
        assert_eq!(told(&pointed.rests(60.0), "sthayi"), None);
        pointed.frame(0.1, Some(letter + vec2(2.0, 0.0)));
        assert!(told(&pointed.rests(1.2), "sthayi").is_some(), "it moved");
    }
}

/// Where what is pressed lies.
fn controls(pointed: &Pointed) -> Vec<Rect> {
    let layer = egui::LayerId::background();
    let takes = |w: &egui::WidgetRect| w.sense.is_focusable().then_some(w.interact_rect);
    pointed.ctx.viewport(|v| v.prev_pass.widgets.get_layer(layer).filter_map(takes).collect())
}

#[test]
fn it_covers_no_control_and_little_of_what_it_explains() {
    let sizes = [vec2(480.0, 320.0), vec2(960.0, 600.0), vec2(1280.0, 720.0)];
    for (size, text_scale) in sizes.into_iter().flat_map(|size| [1.0, 2.0].map(|text| (size, text))) {
        for (face, at, word) in [(Face::Singing, pos2(0.1, 0.3), "sthayi"), (Face::Teaching, pos2(0.5, 0.5), "gamaka")]
        {
            let mut view = View { face, ..sample::normal() };
            view.look.text_scale = text_scale;
            let mut pointed = Pointed::new(view, size);
            let at = pos2(at.x * size.x, at.y * size.y);
            pointed.frame(0.1, Some(at));
            let place = told(&pointed.rests(1.4), word).unwrap_or_else(|| panic!("{face:?} {size:?}: {word}"));
            let name = format!("{face:?} {size:?} text {text_scale}");
            // The picture that is explained is dragged where it is frozen; all else is a control.
            let covered: Vec<Rect> =
                controls(&pointed).into_iter().filter(|r| r.intersects(place) && !r.contains(at)).collect();
            assert!(covered.is_empty(), "{name}: {place:?} over {covered:?}");
            assert!(place.left() >= 0.0 && place.right() <= size.x && place.top() >= 0.0, "{name}: {place:?}");
            assert!(place.bottom() <= size.y && (text_scale > 1.0 || !place.contains(at)), "{name}: {place:?}");
        }
    }
}

#[test]
fn the_meters_headings_say_what_they_mean() {
    let mut pointed = Pointed::new(sample::normal(), vec2(1280.0, 720.0));
    let found = pointed.frame(0.1, None);
    let heading = found.iter().find(|(text, _)| text.starts_with("median")).unwrap().1;
    pointed.frame(0.1, Some(heading.center()));
    let told = pointed.rests(1.4);
    for words in ["half lie above", "the report has each by itself"] {
        assert!(told.iter().any(|(text, _)| text.contains(words)), "{words}: {told:?}");
    }
    let boxes =
        pointed.ctx.memory(|m| m.areas().visible_layer_ids().into_iter().filter(|l| l.order == Order::Tooltip).count());
    assert_eq!(boxes, 1, "one at a time");
}
