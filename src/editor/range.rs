//! The range of a picture: of what is sung, not of what strays from it.
//!
//! In: heights over time, `None` where no voice sounds. Out: the lowest and the highest to show. A bit that is shorter than
//! [`LEAST_S`] and lies far from the rest (a reading that slipped by octaves, a cough) gets no room: it leaves the picture at its
//! edge. Cost: one pass, and a list of the bits.

/// A bit shorter than this may be a stray, seconds (our choice: nobody reaches and leaves a far swara in that time).
const LEAST_S: f64 = 0.2;
/// Two heights farther apart in time than this are two bits, seconds.
const GAP_S: f64 = 0.1;

/// What counts as far, in the heights' own measure.
#[derive(Debug, Clone, Copy)]
pub struct Far {
    /// From one height to the next: a new bit begins.
    pub leap: f32,
    /// From the rest: a short bit is a stray.
    pub stray: f32,
}

/// A stretch without a leap or a gap.
#[derive(Debug, Clone, Copy)]
struct Bit {
    low: f32,
    high: f32,
    last: f32,
    from_s: f64,
    to_s: f64,
}

impl Bit {
    fn long(&self) -> bool {
        self.to_s - self.from_s >= LEAST_S
    }
}

/// The lowest and the highest height to show; `None` where there is none.
pub fn range(heights: impl Iterator<Item = (f64, Option<f32>)>, far: Far) -> Option<(f32, f32)> {
    let mut bits: Vec<Bit> = Vec::new();
    for (time_s, height) in heights {
        let Some(height) = height else { continue };
        match bits.last_mut() {
            Some(bit) if (height - bit.last).abs() <= far.leap && time_s - bit.to_s <= GAP_S => {
                (bit.low, bit.high) = (bit.low.min(height), bit.high.max(height));
                (bit.last, bit.to_s) = (height, time_s);
            }
            _ => bits.push(Bit { low: height, high: height, last: height, from_s: time_s, to_s: time_s }),
        }
    }
    let over = |bits: &mut dyn Iterator<Item = &Bit>| {
        bits.fold(None, |all: Option<(f32, f32)>, bit| {
            Some(all.map_or((bit.low, bit.high), |(low, high)| (low.min(bit.low), high.max(bit.high))))
        })
    };
    let Some((low, high)) = over(&mut bits.iter().filter(|bit| bit.long())) else { return over(&mut bits.iter()) };
    let near = |bit: &&Bit| bit.long() || (bit.low >= low - far.stray && bit.high <= high + far.stray);
    over(&mut bits.iter().filter(near))
}

#[cfg(test)]
mod tests {
    use super::*;

    const FAR: Far = Far { leap: 300.0, stray: 500.0 };

    /// Readings of 5 ms: so many seconds at each height.
    fn sung(parts: &[(f64, f32)]) -> Vec<(f64, Option<f32>)> {
        let mut out = Vec::new();
        for (seconds, height) in parts {
            for _ in 0..crate::units::num::index(seconds * 200.0) {
                out.push((out.len() as f64 / 200.0, Some(*height)));
            }
        }
        out
    }

    fn of(parts: &[(f64, f32)]) -> Option<(f32, f32)> {
        range(sung(parts).into_iter(), FAR)
    }

    #[test]
    fn a_short_bit_far_away_gets_no_room_and_what_is_sung_does() {
        assert_eq!(of(&[(2.0, 0.0), (0.15, 2400.0), (2.0, 702.0), (0.1, -1200.0)]), Some((0.0, 702.0)));
        assert_eq!(of(&[(2.0, 0.0), (0.3, 1200.0)]), Some((0.0, 1200.0)), "long enough to be sung");
        assert_eq!(of(&[(2.0, 0.0), (0.1, 400.0)]), Some((0.0, 400.0)), "near enough to be sung");
        assert_eq!(of(&[(0.1, 0.0), (0.1, 1200.0)]), Some((0.0, 1200.0)), "nothing else is there");
        assert_eq!(of(&[]), None);
    }
}
