//! How fast a held voice wavers, where it does so regularly.
//!
//! In: a note's judged line, freed of noise, frame by frame. Out: the rate in hertz, from the times between its turning points
//! of one direction; a turn counts from a way of 4 cents on. `None` unless there were three whole cycles whose lengths scatter by
//! less than 30 % (both chosen by data: the flutter that every voice has stays unnamed). Constant cost.

use super::line::FRAMES_PER_S;

/// A way this long is a turn, cents.
const TURN_CENTS: f64 = 4.0;
/// Cycles that are needed.
const CYCLES: f64 = 3.0;
/// Largest scatter of the cycles' lengths, as a share of their mean.
const SCATTER: f64 = 0.3;

/// Follows the turning points.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Waver {
    frame: f64,
    rising: Option<bool>,
    extreme: f64,
    extreme_at: f64,
    last_peak: Option<f64>,
    cycles: f64,
    sum: f64,
    squares: f64,
}

impl Waver {
    pub(super) fn clear(&mut self) {
        *self = Self::default();
    }

    /// Takes the next frame, cents; one without pitch (`NaN`) only lets time pass.
    pub(super) fn add(&mut self, cents: f64) {
        self.frame += 1.0;
        if !cents.is_finite() {
            return;
        }
        let Some(rising) = self.rising else {
            (self.rising, self.extreme, self.extreme_at) = (Some(true), cents, self.frame);
            return;
        };
        let onward = if rising { cents >= self.extreme } else { cents <= self.extreme };
        if onward {
            (self.extreme, self.extreme_at) = (cents, self.frame);
        } else if (cents - self.extreme).abs() >= TURN_CENTS {
            if rising {
                self.peak(self.extreme_at);
            }
            (self.rising, self.extreme, self.extreme_at) = (Some(!rising), cents, self.frame);
        }
    }

    fn peak(&mut self, at: f64) {
        if let Some(last) = self.last_peak {
            self.cycles += 1.0;
            self.sum += at - last;
            self.squares += (at - last).powi(2);
        }
        self.last_peak = Some(at);
    }

    /// The rate, Hz.
    pub(super) fn rate_hz(&self) -> Option<f64> {
        if self.cycles < CYCLES {
            return None;
        }
        let mean = self.sum / self.cycles;
        let scatter = (self.squares / self.cycles - mean * mean).max(0.0).sqrt() / mean;
        (scatter <= SCATTER).then(|| FRAMES_PER_S / mean)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rate(line: impl Fn(f64) -> f64) -> Option<f64> {
        let mut waver = Waver::default();
        (0..400).for_each(|k| waver.add(line(f64::from(k) / FRAMES_PER_S)));
        waver.rate_hz()
    }

    #[test]
    fn a_sine_has_its_rate_and_a_straight_line_none() {
        for hz in [2.0, 3.3, 5.0, 6.5] {
            let found = rate(|t| 8.0 * (std::f64::consts::TAU * hz * t).sin() - 3.0 * t).unwrap();
            assert!((found / hz - 1.0).abs() < 0.03, "{hz}: {found}");
        }
        assert_eq!(rate(|t| -8.0 * t), None);
        assert_eq!(rate(|t| (std::f64::consts::TAU * 5.0 * t).sin()), None);
        assert_eq!(rate(|t| 12.0 * (40.0 * t * t).sin()), None);
    }
}
