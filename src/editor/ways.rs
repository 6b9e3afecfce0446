//! Which swaras belong to the way up only, or to the way down only.
//!
//! In: arohana and avarohana, where they differ. Out: a small tick that points up or down beside the level or the letter of such a
//! swara: told by shape, and never without the swara's own name.

use super::look::Look;
use super::view::View;
use crate::swara::Swara;
use egui::{Painter, Pos2, Shape, Stroke, vec2};

/// Up or down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Arohana only.
    Up,
    /// Avarohana only.
    Down,
}

/// The way of each position that has one, semitones above Sa.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Ways([Option<Way>; 12]);

impl Ways {
    /// Those of the scale in force.
    #[must_use]
    pub fn of(view: &View) -> Self {
        let mut ways = Self::default();
        let Some((up, down)) = &view.up_down else { return ways };
        for (here, other, way) in [(up, down, Way::Up), (down, up, Way::Down)] {
            let at = |swara: &Swara| swara.position();
            for swara in here.iter().filter(|s| !other.iter().any(|o| at(o) == at(s))) {
                if let Some(slot) = ways.0.get_mut(usize::from(at(swara))) {
                    *slot = Some(way);
                }
            }
        }
        ways
    }

    /// The way of a swara that belongs to one only.
    #[must_use]
    pub fn way(&self, swara: Swara) -> Option<Way> {
        self.0.get(usize::from(swara.position())).copied().flatten()
    }

    /// The tick of a swara that has one, `size` points high about `at`.
    pub fn tick(&self, painter: &Painter, look: &Look, swara: Swara, (at, size): (Pos2, f32)) {
        let Some(way) = self.way(swara) else { return };
        let tip = size / 2.0 * if way == Way::Up { -1.0 } else { 1.0 };
        let (half, pen) = (size * 0.35, Stroke::new(look.u(1.6), look.ink));
        let points = [vec2(-half, -tip), vec2(0.0, tip), vec2(half, -tip)].map(|to| at + to);
        painter.add(Shape::line(points.to_vec(), pen));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::editor::sample;

    #[test]
    fn swaras_of_one_way_only_have_their_tick() {
        let mut view = sample::normal();
        assert_eq!(Ways::of(&view), Ways::default(), "both ways are one");
        view.up_down = sample::extreme().up_down;
        let ways = Ways::of(&view);
        assert_eq!([Swara::G3, Swara::N3].map(|s| ways.way(s)), [Some(Way::Down); 2]);
        assert_eq!([Swara::S, Swara::R2, Swara::M1, Swara::P, Swara::D2].map(|s| ways.way(s)), [None; 5]);
        let up = Some((vec![Swara::S, Swara::M2, Swara::P], vec![Swara::P, Swara::M1, Swara::S]));
        let ways = Ways::of(&View { up_down: up, ..view });
        assert_eq!((ways.way(Swara::M2), ways.way(Swara::M1)), (Some(Way::Up), Some(Way::Down)));
    }
}
