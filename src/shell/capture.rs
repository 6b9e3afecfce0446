//! Listens for Sa, or for the range of a voice, while the user holds a button.
//!
//! In: the raw voice as the audio thread hands it out while asked to (bounded pieces; it only ever tries). Out: Sa as far as
//! the sound tells it ([`TonicEstimate`]), or suggestions for a comfortable Sa ([`Comfort`]). Runs where the window draws: the
//! search of the spectrum takes a fraction of a millisecond every half second, which the audio thread need not bear, and an
//! own front and tracker make the result the same as `achala-take tonic`, whatever the instance itself listens to.

use super::bridge::{Bridge, Command};
use crate::input::Front;
use crate::pitch::Tracker;
use crate::tonic::TonicEstimate;
use crate::tonic::comfort::{Comfort, ComfortDoubt, Glide};
use crate::tonic::live::{self, Taker};
use crate::units::{Hertz, SampleRate};
use std::sync::Arc;

/// What is listened for.
enum Ear {
    Sa(Box<Taker>),
    Range(Box<Glide>),
}

/// How far it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Heard {
    /// Still listening; seconds heard.
    Listening(f64),
    /// Sa, as far as can be said.
    Sa(TonicEstimate),
    /// The range and what follows from it.
    Range(Result<Comfort, ComfortDoubt>),
}

/// Listening under way.
pub struct Capture {
    bridge: Arc<Bridge>,
    ear: Ear,
    front: Front,
    tracker: Tracker,
    samples: usize,
    rate: SampleRate,
    done: Option<Heard>,
}

impl Capture {
    /// The button goes down. `None` before the host has ever sent audio. `range`: a glide for the comfortable Sa rather than Sa itself.
    #[must_use]
    pub fn start(bridge: &Arc<Bridge>, range: bool) -> Option<Self> {
        let rate = bridge.rate()?;
        if !bridge.ask(Command::Capture(true)) {
            return None;
        }
        // What waits from an earlier time is not what sounds now.
        bridge.raw(|_| {});
        let ear = if range { Ear::Range(Box::default()) } else { Ear::Sa(Box::default()) };
        Some(Self {
            bridge: bridge.clone(),
            ear,
            front: Front::new(rate),
            tracker: Tracker::new(rate),
            samples: 0,
            rate,
            done: None,
        })
    }

    /// Takes what has come in since; says how far it is.
    pub fn gather(&mut self) -> Heard {
        let Self { bridge, ear, front, tracker, samples, done, .. } = self;
        bridge.raw(|voice| {
            *samples += voice.len();
            front.push(voice, None, |hop| {
                let frame = tracker.process(hop);
                match ear {
                    Ear::Range(glide) => glide.push(&frame),
                    Ear::Sa(taker) => {
                        if let live::Capture::Done(estimate) = taker.push(hop, &frame) {
                            *done = Some(Heard::Sa(estimate));
                        }
                    }
                }
            });
        });
        if self.done.is_some() {
            self.bridge.ask(Command::Capture(false));
        }
        self.done.unwrap_or(Heard::Listening(self.samples as f64 / self.rate.hz()))
    }

    /// The button comes up: what can be said now.
    pub fn finish(&mut self, a4: Hertz) -> Heard {
        self.gather();
        self.bridge.ask(Command::Capture(false));
        let done = self.done.unwrap_or_else(|| match &mut self.ear {
            Ear::Sa(taker) => Heard::Sa(taker.finish()),
            Ear::Range(glide) => Heard::Range(glide.suggest(a4)),
        });
        self.done = Some(done);
        done
    }
}

impl Drop for Capture {
    fn drop(&mut self) {
        self.bridge.ask(Command::Capture(false));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shell::bridge::bridge;
    use crate::shell::setup::compile;
    use crate::shell::state::Chosen;
    use std::sync::atomic::Ordering;

    /// A reed's Sa and Pa, partials falling as 1/n.
    fn reed(sa: f64, seconds: f64) -> Vec<f32> {
        let count = crate::units::num::index(seconds * 48_000.0);
        (0..count)
            .map(|i| {
                let t = i as f64 / 48_000.0;
                let tone = |hz: f64| {
                    (1..=12).map(|h| (std::f64::consts::TAU * hz * f64::from(h) * t).sin() / f64::from(h)).sum::<f64>()
                };
                crate::units::num::single(0.03 * (tone(sa) + tone(1.5 * sa) + tone(2.0 * sa)))
            })
            .collect()
    }

    #[test]
    fn the_raw_voice_crosses_whole_and_sa_is_found_in_it() {
        let (bridge, mut end) = bridge(compile(&Chosen::default(), None).setup);
        assert!(Capture::start(&bridge, false).is_none(), "no audio was ever sent");
        end.shared().rate_hz.store(48_000.0, Ordering::Relaxed);
        let mut capture = Capture::start(&bridge, false).unwrap();
        assert!(end.commands.try_iter().any(|c| c == Command::Capture(true)));
        let mut heard = Heard::Listening(0.0);
        // The window looks 50 times a second.
        for block in reed(146.0, 6.0).chunks(960) {
            end.raw(block);
            heard = capture.gather();
            if !matches!(heard, Heard::Listening(_)) {
                break;
            }
        }
        let Heard::Sa(estimate) = heard else { panic!("{heard:?}") };
        let cents = estimate.sure().unwrap().cents_above(Hertz(146.0)).unwrap().0;
        let folded = cents - 1200.0 * (cents / 1200.0).round();
        assert!(folded.abs() < 2.0, "{estimate:?}");
        assert_eq!(end.shared().missed.load(Ordering::Relaxed), 0);
        assert!(end.commands.try_iter().any(|c| c == Command::Capture(false)));
    }

    #[test]
    fn a_button_let_go_too_soon_gives_no_sa() {
        let (bridge, mut end) = bridge(compile(&Chosen::default(), None).setup);
        end.shared().rate_hz.store(48_000.0, Ordering::Relaxed);
        let mut capture = Capture::start(&bridge, false).unwrap();
        end.raw(&[0.0; 4096]);
        assert!(matches!(capture.finish(Hertz(440.0)), Heard::Sa(e) if e.sure().is_none()));
        let mut range = Capture::start(&bridge, true).unwrap();
        assert!(matches!(range.finish(Hertz(440.0)), Heard::Range(Err(_))));
    }
}
