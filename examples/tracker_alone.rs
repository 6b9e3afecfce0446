//! The tracker by itself, with nothing taken out of the microphone: what the whole chain is compared with.
//!
//! `tracker_alone FILE` writes the columns of `achala-take trace` that a comparison needs.

#![expect(clippy::print_stdout, clippy::expect_used, reason = "a tool for measuring speaks and stops at once")]

use achala::input::Front;
use achala::pitch::Tracker;
use achala::take::{Side, Voice};
use std::path::Path;

fn main() {
    let path = std::env::args().nth(1).expect("the take");
    let mut voice = Voice::open(Path::new(&path), Side::Mix).expect("a take that can be read");
    let rate = voice.rate();
    let (mut front, mut tracker) = (Front::new(rate), Tracker::new(rate));
    let mut block = [0.0; 512];
    println!("time_s,available_s,f0_hz,voiced");
    loop {
        let n = voice.fill(&mut block);
        if n == 0 {
            return;
        }
        front.push(block.get(..n).expect("a block holds what it was given"), None, |hop| {
            let frame = tracker.process(hop);
            let f0 = frame.f0.map_or_else(String::new, |f0| format!("{:.4}", f0.0));
            let (time, available) = (frame.time.seconds(rate), frame.available.seconds(rate));
            println!("{time:.6},{available:.6},{f0},{}", u8::from(frame.voiced));
        });
    }
}
