//! How a page of statistics is kept in the singer's project: only what was counted.
//!
//! Out and in: a plain list of filled rows, each with its filled bins as (whole cents, 5 ms frames). A page with a
//! register, position or offset outside the page's size is refused with the value and the range.

use super::row::{self, BINS, Row};
use super::{LongTone, Meter, POSITIONS, REGISTERS};
use crate::swara::LACKED_CENTS;
use serde::{Deserialize, Serialize};

/// The outermost bin, cents.
const REACH: i32 = 600;

/// A page as saved. Keys never change meaning; new ones are added with a default.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Page {
    sung: u64,
    held: u64,
    oscillating: u64,
    gliding: u64,
    #[serde(default)]
    long_tone: LongTone,
    rows: Vec<SavedRow>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
struct SavedRow {
    sthayi: i8,
    position: u8,
    notes: u32,
    /// Before it, these were counted as all others.
    #[serde(default)]
    far: Option<u32>,
    in_tune: u64,
    /// Before it there was `longest`, the length of the longest whole note.
    #[serde(default)]
    longest_steady: u64,
    offsets: Vec<(i32, u32)>,
}

impl From<Meter> for Page {
    fn from(meter: Meter) -> Self {
        let mut rows = Vec::new();
        for (slot, row) in meter.rows.iter().enumerate().filter(|(_, row)| row.notes > 0 || row.far > 0) {
            let offsets = (-REACH..=REACH)
                .zip(&row.bins)
                .filter(|(_, count)| **count > 0)
                .map(|(cents, count)| (cents, *count))
                .collect();
            rows.push(SavedRow {
                sthayi: i8::try_from(slot / POSITIONS).unwrap_or(0) - 2,
                position: u8::try_from(slot % POSITIONS).unwrap_or(0),
                notes: row.notes,
                far: Some(row.far),
                in_tune: row.in_tune,
                longest_steady: row.longest_steady,
                offsets,
            });
        }
        let Meter { sung, held, oscillating, gliding, long_tone, .. } = meter;
        Self { sung, held, oscillating, gliding, long_tone, rows }
    }
}

impl TryFrom<Page> for Meter {
    type Error = String;

    fn try_from(page: Page) -> Result<Self, String> {
        let mut meter = Meter::new();
        for saved in page.rows {
            let register = usize::try_from(i16::from(saved.sthayi) + 2).unwrap_or(REGISTERS);
            let position = usize::from(saved.position);
            if register >= REGISTERS || position >= POSITIONS {
                return Err(format!(
                    "saved statistics name register {} and position {}; registers go from -2 to 2 and positions from 0 to 11: \
                     start a fresh page",
                    saved.sthayi, saved.position
                ));
            }
            let mut row = Row::new();
            for (cents, count) in saved.offsets {
                let bin = usize::try_from(cents.saturating_add(REACH)).unwrap_or(BINS);
                let Some(slot) = row.bins.get_mut(bin) else {
                    return Err(format!(
                        "saved statistics hold an offset of {cents} cents; offsets go from -600 to 600: start a fresh page"
                    ));
                };
                *slot = count;
            }
            (row.notes, row.in_tune, row.longest_steady) = (saved.notes, saved.in_tune, saved.longest_steady);
            let median = row::summary(std::iter::once(&row)).median;
            match saved.far {
                Some(far) => row.far = far,
                // Which of them were far is lost; where most were, the row is another swara's, as it was told then.
                None if median.is_some_and(|median| median.0.abs() > LACKED_CENTS) => {
                    row = Row { far: saved.notes, ..Row::new() };
                }
                None => {}
            }
            if let Some(slot) = meter.rows.get_mut(register * POSITIONS + position) {
                *slot = row;
            }
        }
        (meter.sung, meter.held) = (page.sung, page.held);
        (meter.oscillating, meter.gliding) = (page.oscillating, page.gliding);
        meter.long_tone = page.long_tone;
        if !meter.long_tone.longest_steady_s.is_finite() {
            meter.long_tone.longest_steady_s = 0.0;
        }
        Ok(meter)
    }
}
