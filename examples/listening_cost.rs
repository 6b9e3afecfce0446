//! Runs the whole listening chain over takes that are held in memory, so that its cost can be measured from outside.
//!
//! `listening_cost TIMES FILE...`, a file with a known drone as `TAKE=DRONE`: the difference of the processor time of two runs with different TIMES is that of
//! the chain alone, without decoding and start-up.

#![expect(clippy::print_stdout, clippy::expect_used, reason = "a tool for measuring speaks and stops at once")]

use achala::listener::{Event, Listener};
use achala::take::{Asked, Side, Voice, Words};
use achala::units::{Hertz, SampleRate};
use std::path::Path;

/// Samples handed over at a time: a usual host block.
const BLOCK: usize = 512;

fn sound(path: &str) -> (Vec<f32>, SampleRate) {
    let mut voice = Voice::open(Path::new(path), Side::Mix).expect("a take that can be read");
    let (mut sound, mut block) = (Vec::new(), [0.0; BLOCK]);
    loop {
        let n = voice.fill(&mut block);
        if n == 0 {
            return (sound, voice.rate());
        }
        sound.extend(block.iter().take(n));
    }
}

fn main() {
    let mut args = std::env::args().skip(1);
    let times: usize = args.next().and_then(|n| n.parse().ok()).expect("how often, then the takes");
    let words = Words { tonic: "", raga: None, tuning: "just", band: "beginner" };
    let asked = Asked::on(Hertz(200.0), words).expect("the words are known");
    let (mut seconds, mut notes) = (0.0, 0_usize);
    for take in args {
        let (take, known) = take.split_once('=').map_or((take.as_str(), None), |(take, drone)| (take, Some(drone)));
        let (heard, rate) = sound(take);
        let sent = known.map(|drone| {
            let (mut sent, _) = sound(drone);
            sent.resize(heard.len(), 0.0);
            sent
        });
        seconds += heard.len() as f64 / rate.hz();
        for _ in 0..times {
            let mut listener = Listener::new(rate, asked.setting());
            let mut count = |event: Event<'_>| notes += usize::from(matches!(event, Event::Note(_)));
            for (n, block) in heard.chunks(BLOCK).enumerate() {
                let at = n * BLOCK;
                let drone = sent.as_ref().and_then(|sent| sent.get(at..at + block.len()));
                listener.process(block, drone, &mut count);
            }
            listener.finish(&mut count);
        }
    }
    println!("{seconds} s of sound, {times} times, {notes} notes");
}
