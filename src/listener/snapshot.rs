//! All that a viewer may see of the listener, as one plain copy.
//!
//! Fixed size (some 5 kB), `Copy`, so that it can cross to the window through a triple buffer. Everything in it is final or
//! marked as so far; a viewer computes nothing but pictures from it.

use super::Faults;
use crate::bleed::Tones;
use crate::meter::{LongTone, POSITIONS, REGISTERS, RowSummary, SungTime};
use crate::note::{Current, Note};
use crate::swara::SwaraReading;
use crate::units::{Cents, Hertz};

/// The listener at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Snapshot {
    /// The newest reading; `None` before the first.
    pub reading: Option<SwaraReading>,
    /// The note that sounds now.
    pub current: Option<Current>,
    /// The newest final note.
    pub last: Option<Note>,
    /// Final notes since the reset; a viewer that missed some sees it here.
    pub notes: u64,
    /// The Sa that the voice is measured against, octave followed included.
    pub voice_sa: Hertz,
    /// Each position's figures, registers folded.
    pub rows: [RowSummary; POSITIONS],
    /// The same by register, from anumandra to atitara.
    pub rows_by_register: [[RowSummary; POSITIONS]; REGISTERS],
    /// How the sung time divides.
    pub sung: SungTime,
    /// Long-tone practice on Sa.
    pub long_tone: LongTone,
    /// Host samples at or beyond full scale since the reset.
    pub clipped_samples: u64,
    /// What the line did to the voice since the reset.
    pub faults: Faults,
    /// The voice was recognised this many octaves from the stated Sa; `None`: nothing to say.
    pub octave_remark: Option<i8>,
    /// Octaves followed because of that.
    pub octave_followed: i8,
    /// Held notes on Sa and Pa share this shift: Sa may be set wrong by so much.
    pub shift: Option<Cents>,
    /// The strongest tones of a drone that nobody told of, anew each second; [`super::DroneSa`] makes its Sa of them.
    pub drone: Tones,
    /// What sounds is steadier than a throat can be: a machine's tone.
    pub machine: bool,
    /// Which pass of the transport this is, from 0.
    pub pass: u32,
    /// How often the page of statistics changed since the listener was made.
    pub page: u32,
}

impl Snapshot {
    pub(super) fn new(sa: Hertz) -> Self {
        Self {
            reading: None,
            current: None,
            last: None,
            notes: 0,
            voice_sa: sa,
            rows: [RowSummary::default(); POSITIONS],
            rows_by_register: [[RowSummary::default(); POSITIONS]; REGISTERS],
            sung: SungTime::default(),
            long_tone: LongTone::default(),
            clipped_samples: 0,
            faults: Faults::default(),
            octave_remark: None,
            octave_followed: 0,
            shift: None,
            drone: [None; 16],
            machine: false,
            pass: 0,
            page: 0,
        }
    }
}
