//! A recorded take becomes a report: decode, run the same listener to the end, render.
//!
//! In: files and the words of the command line. Out: [`Report`] as a table, a page and JSON; frames and notes as
//! CSV. The one room of the core that touches files.

pub mod ask;
pub mod csv;
pub mod decode;
pub mod error;
pub mod html;
pub mod plot;
pub mod report;
mod ribbon;
pub mod run;
pub mod sa;
mod stretch;
pub mod strip;
pub mod wav;
pub mod write;
pub mod written;

pub use ask::{Asked, Words};
pub use decode::{Side, Voice};
pub use error::TakeError;
pub use report::{Report, Row};
pub use run::{Heard, MIN_TAKE_S, listen};
pub use sa::{FoundSa, find_sa};
