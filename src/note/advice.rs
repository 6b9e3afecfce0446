//! Whether to go up, to go down or to stay.
//!
//! In: a signed offset in cents and the in-tune half-width. Out: one of three words as plain data; the window chooses the
//! shape and the language.

use crate::units::Cents;

/// What a singer should do next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Advice {
    /// The voice lies below the band.
    Up,
    /// The voice lies above the band.
    Down,
    /// The voice lies in the band.
    Stay,
}

impl Advice {
    /// The advice for a voice `offset` cents from its target; a non-finite offset gives no reason to move.
    #[must_use]
    pub fn of(offset: Cents, half_width: Cents) -> Self {
        if offset.0 < -half_width.0 {
            Self::Up
        } else if offset.0 > half_width.0 {
            Self::Down
        } else {
            Self::Stay
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sharp_goes_down_flat_goes_up() {
        let band = Cents(20.0);
        for (offset, expected) in [
            (-80.0, Advice::Up),
            (-20.0, Advice::Stay),
            (0.0, Advice::Stay),
            (20.1, Advice::Down),
            (600.0, Advice::Down),
        ] {
            assert_eq!(Advice::of(Cents(offset), band), expected, "{offset}");
        }
    }
}
