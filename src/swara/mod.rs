//! Which swara a pitch is, and how far from it: names, registers, tunings, scales, the tonic.
//!
//! In: [`F0Frame`]s and the chosen [`Targets`]. Out: [`SwaraReading`]s.

use crate::pitch::F0Frame;
use crate::units::{Cents, Hertz};
use serde::{Deserialize, Serialize};

/// The 16 names of the 12 positions.
#[allow(missing_docs, reason = "the names are the documentation; see `short` and `full_name`")]
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Swara {
    S,
    R1,
    R2,
    R3,
    G1,
    G2,
    G3,
    M1,
    M2,
    P,
    D1,
    D2,
    D3,
    N1,
    N2,
    N3,
}

impl Swara {
    /// Semitone position above Sa, 0 to 11 (16 names on 12 swarasthanas).
    #[must_use]
    pub fn position(self) -> u8 {
        use Swara::*;
        match self {
            S => 0,
            R1 => 1,
            R2 | G1 => 2,
            R3 | G2 => 3,
            G3 => 4,
            M1 => 5,
            M2 => 6,
            P => 7,
            D1 => 8,
            D2 | N1 => 9,
            D3 | N2 => 10,
            N3 => 11,
        }
    }

    /// The short full name used in files: `S R1 R2 ... N3`.
    #[must_use]
    pub fn short(self) -> &'static str {
        use Swara::*;
        match self {
            S => "S",
            R1 => "R1",
            R2 => "R2",
            R3 => "R3",
            G1 => "G1",
            G2 => "G2",
            G3 => "G3",
            M1 => "M1",
            M2 => "M2",
            P => "P",
            D1 => "D1",
            D2 => "D2",
            D3 => "D3",
            N1 => "N1",
            N2 => "N2",
            N3 => "N3",
        }
    }
}

/// The register (sthayi): -2 anumandra, -1 mandra, 0 madhya, 1 tara, 2 atitara.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default, Serialize, Deserialize)]
pub struct Sthayi(pub i8);

/// One allowed swara: its name and where it lies above Sa.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Target {
    /// The name it bears in the scale in force.
    pub swara: Swara,
    /// Cents above Sa within the octave, nudges included.
    pub cents: Cents,
}

/// The swaras that count, by position; fixed size, so that it can be handed to the audio thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Targets {
    /// Entry p is the allowed swara at position p (semitones above Sa), `None` where the scale has none.
    pub by_position: [Option<Target>; 12],
}

/// A pitch named: the nearest allowed swara, its register, and the signed distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Named {
    /// The nearest allowed swara.
    pub swara: Swara,
    /// Its register.
    pub sthayi: Sthayi,
    /// Voice minus target, cents; positive is sharp.
    pub offset: Cents,
}

/// A frame against Sa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SwaraReading {
    /// The frame itself.
    pub frame: F0Frame,
    /// Cents above madhya Sa (negative below); `None` in an unvoiced frame.
    pub cents: Option<Cents>,
    /// The nearest allowed swara; `None` in an unvoiced frame.
    pub named: Option<Named>,
}

impl Targets {
    /// Names a pitch `cents` above madhya Sa; `None` when the scale is empty.
    #[must_use]
    pub fn nearest(&self, cents: Cents) -> Option<Named> {
        let mut best: Option<Named> = None;
        for target in self.by_position.iter().flatten() {
            let octave = ((cents.0 - target.cents.0) / 1200.0).round();
            let offset = cents.0 - target.cents.0 - 1200.0 * octave;
            if best.is_none_or(|b| offset.abs() < b.offset.0.abs()) {
                let sthayi = Sthayi(i8::try_from(crate::units::num::int(octave)).unwrap_or(0).clamp(-2, 2));
                best = Some(Named { swara: target.swara, sthayi, offset: Cents(offset) });
            }
        }
        best
    }

    /// The target of the swara at `position`, if the scale has it.
    #[must_use]
    pub fn at(&self, position: u8) -> Option<Target> {
        self.by_position.get(usize::from(position)).copied().flatten()
    }
}

/// Reads a frame against `sa` (madhya Sa).
#[must_use]
pub fn read(frame: &F0Frame, sa: Hertz, targets: &Targets) -> SwaraReading {
    let cents = frame.f0.filter(|_| frame.voiced).and_then(|f0| f0.cents_above(sa));
    SwaraReading { frame: *frame, cents, named: cents.and_then(|c| targets.nearest(c)) }
}
