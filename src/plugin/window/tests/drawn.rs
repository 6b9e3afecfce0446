//! How late the drawn stroke is behind the voice: measured at the shapes that are handed to the painter.

use super::*;
use egui::{Color32, Context, RawInput, Rect, Shape, vec2};

/// The height of the stroke's head, the last round mark in the voice's colour; points.
fn head(ctx: &Context, window: &mut Window, view: &View, time_s: f64) -> Option<f32> {
    let screen_rect = Some(Rect::from_min_size(egui::Pos2::ZERO, vec2(1280.0, 720.0)));
    let input = RawInput { screen_rect, time: Some(time_s), ..RawInput::default() };
    let mut output = ctx.run_ui(input, |ui| window.ui(ui, view, &mut Vec::new()));
    output.textures_delta.clear();
    let voice = Color32::from_rgb(0xf6, 0xb0, 0x3c);
    output.shapes.iter().rev().find_map(|clipped| match &clipped.shape {
        Shape::Circle(circle) if circle.fill == voice => Some(circle.center.y),
        _ => None,
    })
}

/// What a singer sees: the stroke's pen is broad, and its head the mean of what it covers. Half of the way is where it is seen to move.
#[test]
fn the_head_of_the_drawn_stroke_follows_the_voice_in_60_ms() {
    for fps in [60.0, 30.0] {
        let mut instance = Instance::new();
        let mut session = Session::default();
        let mut filler = Filler::new(&instance.links);
        let (ctx, mut window) = (Context::default(), Window::new());
        window.opened(&ctx);
        let mut late = Vec::new();
        // To and fro about Sa within one held note, at uneven times so that the steps fall anywhere between two frames.
        let mut side = 24.0;
        instance.sing(above(side), 1.5, |_| {});
        for step in 0..60u32 {
            side = -side;
            let began = instance.seconds();
            let mut heads: Vec<(f64, f32)> = Vec::new();
            let mut drawn_at = f64::NEG_INFINITY;
            instance.sing(above(side), 0.4 + 0.0037 * f64::from(step % 7), |i| {
                if i.seconds() - drawn_at < 0.99 / fps {
                    return;
                }
                drawn_at = i.seconds();
                filler.fill(&i.links, &mut session, (drawn_at, false));
                heads.extend(head(&ctx, &mut window, &filler.view, drawn_at).map(|y| (drawn_at, y)));
            });
            let (first, last) = (heads[0].1, heads[heads.len() - 1].1);
            assert!((last < first) == (side > 0.0) && (last - first).abs() > 20.0, "step {step}: {heads:?}");
            let seen = heads.iter().find(|(_, y)| (y - first).abs() > (last - first).abs() / 2.0);
            late.push(1000.0 * (seen.unwrap().0 - began));
        }
        late.sort_by(f64::total_cmp);
        let at = |share: usize| late[late.len() * share / 100];
        println!(
            "measured: at {fps} pictures a second the head is {:.0} ms late in the median, {:.0} ms at 95 %",
            at(50),
            at(95)
        );
        assert!(at(50) <= 60.0 && at(95) <= 90.0, "{late:?}");
    }
}
