//! The newest samples of a sound, in one piece, without moving them at every hop.
//!
//! In: hops. Out: the newest samples in order. Cost: a copy of what is kept each time as much has come in again.

pub(super) struct Line {
    samples: Vec<f32>,
    kept: usize,
    end: usize,
}

impl Line {
    /// Keeps at least the newest `kept` samples, silence at first.
    pub(super) fn new(kept: usize) -> Self {
        Self { samples: vec![0.0; 2 * kept], kept, end: kept }
    }

    pub(super) fn push(&mut self, sound: &[f32]) {
        if self.end + sound.len() > self.samples.len() {
            self.samples.copy_within(self.end - self.kept..self.end, 0);
            self.end = self.kept;
        }
        for (to, from) in self.samples.iter_mut().skip(self.end).zip(sound) {
            *to = *from;
        }
        self.end = (self.end + sound.len()).min(self.samples.len());
    }

    /// `count` samples in order, the newest of them `ago` samples before the newest of all. Fewer where fewer are kept.
    pub(super) fn last(&self, count: usize, ago: usize) -> &[f32] {
        let end = self.end.saturating_sub(ago);
        self.samples.get(end.saturating_sub(count)..end).unwrap_or(&[])
    }

    pub(super) fn reset(&mut self) {
        self.samples.fill(0.0);
        self.end = self.kept;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_samples_are_there_in_order() {
        let mut line = Line::new(10);
        for n in 0..50_u16 {
            line.push(&[f32::from(2 * n), f32::from(2 * n + 1)]);
            let expected: Vec<f32> = (0..8_u8).map(|k| (f32::from(2 * n + 1) - 9.0 + f32::from(k)).max(0.0)).collect();
            assert_eq!(line.last(8, 2), expected);
        }
        line.reset();
        assert_eq!(line.last(10, 0), [0.0; 10]);
    }
}
