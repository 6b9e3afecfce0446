//! A recorded take becomes a report: decode, run the same listener to the end, render.
