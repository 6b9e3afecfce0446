//! One echo that explains most of what is wrong with a path.
//!
//! In: how the error of a second goes with the drone as sent, at each tap, and both of them. Out: a tap and its gain, where
//! one by itself is most of it. Why: it holds for strings that have not sounded yet, of which bins that have
//! been heard say nothing. Method: a step of matching pursuit (Mallat and Zhang 1993) among the greatest maxima of the
//! cross-correlation: a tone has one at every period, and the window favours the early ones. Cost: two sums a sample and place.

/// Share of the error that one tap explains, from which it is taken alone (chosen on our own drones and sung clips: at 0.65
/// what is left of strings passes as a voice).
const MOST: f32 = 0.8;
/// Places that are tried.
const PLACES: usize = 8;

pub(super) struct Echo {
    /// The greatest maxima and their values, greatest first.
    places: [(usize, f32); PLACES],
}

impl Echo {
    pub(super) fn new() -> Self {
        Self { places: [(0, 0.0); PLACES] }
    }

    /// Takes how the error goes with the drone at each tap.
    pub(super) fn seek(&mut self, crossed: &[f32]) {
        *self = Self::new();
        for (at, value) in crossed.iter().map(|c| c.abs()).enumerate() {
            let beside = |i: Option<usize>| i.and_then(|i| crossed.get(i)).map_or(0.0, |c| c.abs());
            if value > beside(at.checked_sub(1)) && value >= beside(Some(at + 1)) {
                let place = self.places.partition_point(|(_, other)| *other >= value);
                if let Some([.., smallest]) = self.places.get_mut(place..) {
                    *smallest = (at, value);
                    self.places.get_mut(place..).unwrap_or_default().rotate_right(1);
                }
            }
        }
    }

    /// The tap and its gain. `sent` begins `taps` samples before `error`, which `shape` weighs.
    pub(super) fn best(&self, sent: &[f32], taps: usize, error: &[f32], shape: &[f32]) -> Option<(usize, f32)> {
        let (mut most, mut best) = (MOST, None);
        let wrong = error.iter().zip(shape).fold(f32::MIN_POSITIVE, |sum, (e, w)| sum + (e * w) * (e * w));
        for (at, _) in self.places {
            let (mut power, mut both) = (f32::MIN_POSITIVE, 0.0f32);
            let sent = sent.get(taps.saturating_sub(at)..).unwrap_or_default();
            for ((x, e), w) in sent.iter().zip(error).zip(shape) {
                let (x, e) = (x * w, e * w);
                power += x * x;
                both += x * e;
            }
            let explains = both / power * (both / wrong);
            if explains > most {
                (most, best) = (explains, Some((at, both / power)));
            }
        }
        best
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::num;
    use std::f64::consts::TAU;

    /// A tone that swells, as sent from 40 samples before to 1000 after.
    fn sent(i: i32) -> f32 {
        let t = f64::from(i + 40);
        num::single(t * t * ((TAU * t / 50.0).sin() + (TAU * t / 33.3).sin()))
    }

    #[test]
    fn a_single_echo_is_found_among_its_periods_and_two_are_not_one() {
        let before: Vec<f32> = (-40..1000).map(sent).collect();
        let shape = [1.0; 1000];
        let find = |heard: &dyn Fn(i32) -> f32| {
            let error: Vec<f32> = (0..1000).map(heard).collect();
            let crossed: Vec<f32> =
                (0..40).map(|at| before[40 - at..].iter().zip(&error).map(|(x, e)| x * e).sum()).collect();
            let mut echo = Echo::new();
            echo.seek(&crossed);
            echo.best(&before, 40, &error, &shape)
        };
        let (at, gain) = find(&|i| -0.3 * sent(i - 17)).unwrap();
        assert!(at == 17 && (gain + 0.3).abs() < 1e-4, "{at} {gain}");
        assert_eq!(find(&|_| 0.0), None);
        let noise = |i: i32| f32::from(u8::try_from(i * i % 251).unwrap()) - 125.0;
        assert_eq!(find(&|i| 1e4 * noise(i)), None);
    }
}
