//! Whether what sounds is still the voice, or only its echo and what is left after it.
//!
//! In: the level of each frame, dBFS. Out: whether the frame counts as sung. A voice that fades does so slowly; a room's echo
//! (60 dB in its reverberation time) and a release fall fast. So the level is held against two memories of it, one that
//! forgets 10 dB a second and one that forgets half a decibel a second: 15 dB under the first is an echo or a release, 35 dB under
//! the second is not the singer. A diminuendo of up to 10 dB a second is followed. Constant cost.

use super::line::FRAMES_PER_S;

/// How fast the near memory forgets, dB a second (our choice: slower than any echo of 2 s or less, 30 dB a second).
const NEAR_FORGETS: f64 = 10.0;
/// How far under it is no longer the voice, dB (chosen by data: where a release is no longer judged by ear).
const NEAR_ROOM: f64 = 15.0;
/// How fast the far memory forgets, dB a second (our choice).
const FAR_FORGETS: f64 = 0.5;
/// How far under it is not the singer, dB (our choice: wider than a singer's soft and loud notes lie apart).
const FAR_ROOM: f64 = 35.0;
/// The level of silence, dBFS.
const SILENCE: f64 = -200.0;

/// The two memories of the level.
#[derive(Debug, Clone, Copy)]
pub(super) struct Loudness {
    near: f64,
    far: f64,
}

impl Loudness {
    pub(super) fn new() -> Self {
        Self { near: SILENCE, far: SILENCE }
    }

    /// Takes a frame's level, and whether it has a pitch (only those are remembered); true if it counts as sung.
    pub(super) fn sung(&mut self, level_db: f64, pitched: bool) -> bool {
        let level = if level_db.is_finite() { level_db.clamp(SILENCE, 20.0) } else { SILENCE };
        self.near -= NEAR_FORGETS / FRAMES_PER_S;
        self.far -= FAR_FORGETS / FRAMES_PER_S;
        if pitched {
            self.near = self.near.max(level);
            self.far = self.far.max(level);
        }
        pitched && level >= self.near - NEAR_ROOM && level >= self.far - FAR_ROOM
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Seconds that count as sung of a voice held at -20 dBFS for a second that then falls by `db_per_s` for two seconds.
    fn sung_s(db_per_s: f64) -> f64 {
        let mut loudness = Loudness::new();
        let level = |k: u32| -20.0 - db_per_s * (f64::from(k) / FRAMES_PER_S - 1.0).max(0.0);
        f64::from((0..600).filter(|k| loudness.sung(level(*k), true)).map(|_| 1).sum::<u32>()) / FRAMES_PER_S
    }

    #[test]
    fn a_diminuendo_is_sung_and_an_echo_is_not() {
        assert_eq!(sung_s(0.0), 3.0);
        assert_eq!(sung_s(10.0), 3.0);
        // An echo of RT60 1 s: 60 dB a second, 50 more than is forgotten; 15 dB are gone after 0.3 s.
        assert!((sung_s(60.0) - 1.3).abs() < 0.02, "{}", sung_s(60.0));
        assert!((sung_s(200.0) - 1.08).abs() < 0.02, "{}", sung_s(200.0));
    }

    #[test]
    fn a_faint_sound_after_a_rest_is_not_the_singer() {
        let mut loudness = Loudness::new();
        for _ in 0..200 {
            loudness.sung(-20.0, true);
        }
        for _ in 0..1000 {
            assert!(!loudness.sung(-80.0, false));
        }
        assert!(!loudness.sung(-70.0, true));
        assert!(loudness.sung(-45.0, true));
        assert!(!loudness.sung(f64::NAN, true));
    }
}
