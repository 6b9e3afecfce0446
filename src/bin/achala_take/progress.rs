//! A bar on long work, only where a person watches.

use indicatif::{ProgressBar, ProgressStyle};

/// Shows how far a take has been heard.
pub(crate) struct Progress {
    bar: ProgressBar,
}

impl Progress {
    /// A bar over `seconds` of audio, or a moving sign where the length is unknown. It draws on standard error and
    /// only on a terminal.
    pub(crate) fn over(name: &str, seconds: Option<f64>) -> Self {
        let bar = match seconds {
            Some(s) => ProgressBar::new(whole(s)),
            None => ProgressBar::new_spinner(),
        };
        if let Ok(style) = ProgressStyle::with_template("{msg} {wide_bar} {pos} of {len} s") {
            bar.set_style(style);
        }
        bar.set_message(name.to_owned());
        Self { bar }
    }

    /// `seconds` of the take are done.
    pub(crate) fn at(&self, seconds: f64) {
        self.bar.set_position(whole(seconds));
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}

fn whole(seconds: f64) -> u64 {
    achala::units::num::index(seconds) as u64
}
