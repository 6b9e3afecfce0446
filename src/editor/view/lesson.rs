//! What a lesson shows: the exercise under way, what the teacher may choose of exercises and pupils, and Sa being sought.

use super::Choice;
use crate::units::{Cents, Hertz};

/// The exercise that runs, told in lines; the exercise decides, the window shows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ExerciseView {
    /// Its name.
    pub name: String,
    /// What to do now, in the few words that are read from far away.
    pub call: String,
    /// The same as a sentence.
    pub now: String,
    /// What was noticed, in plain words.
    pub told: String,
    /// Progress toward the goal, 0 to 1, where there is a goal.
    pub progress: Option<f32>,
    /// Progress in words, "steady 0:42 of 2:00".
    pub progress_text: String,
    /// The steps with a mark each: `None` not yet sung, `Some(words)` how it went.
    pub steps: Vec<(String, Option<String>)>,
    /// The singer is asked whether their own note was low, same or high.
    pub asks_ear: bool,
    /// The meter and every line are hidden: the ear comes first.
    pub hides: bool,
    /// The marks are those of the round before: nothing of this one is sung yet.
    pub last_round: bool,
    /// The due step may be left out.
    pub may_skip: bool,
    /// The answer stands until the singer goes on: by the next note, or at once.
    pub stands: bool,
    /// Nothing counts until it goes on.
    pub paused: bool,
    /// It goes on by itself in a while, though nobody sings.
    pub moves: bool,
    /// A rest is due: the caution about the voice, else empty.
    pub rest: String,
}

/// A setting of the exercise: which swara, how many minutes, in which order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ExerciseOption {
    /// Its stable key.
    pub key: String,
    /// Its name.
    pub name: String,
    /// Its values.
    pub choice: Choice,
    /// It may be typed as well: what it is written like; else empty.
    pub typed_like: String,
}

/// What the teacher may choose for exercises and pupils.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LessonView {
    /// The exercises there are.
    pub exercises: Choice,
    /// The settings of the chosen exercise.
    pub options: Vec<ExerciseOption>,
    /// The one that runs.
    pub exercise: Option<ExerciseView>,
    /// What the chosen exercise is for.
    pub about: String,
    /// The pupils' profiles; an empty key is 'none'.
    pub profiles: Choice,
    /// Whether the project remembers whose profile is in force.
    pub pupil_in_project: bool,
    /// Whether what is set is not what that profile keeps.
    pub pupil_changed: bool,
    /// The Sa of a drone that nobody told of against ours, where it is known, cents.
    pub pupil_drone: Option<Cents>,
}

/// Long-tone practice on Sa, over all of this page.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LongToneView {
    /// Steady time in the band, seconds.
    pub steady_s: f64,
    /// The longest steady stretch, seconds.
    pub longest_s: f64,
    /// Minutes to aim at.
    pub goal_minutes: f64,
    /// The exercise was begun since listening began.
    pub begun: bool,
}

/// Listening for Sa, or for the range of a voice.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FindingView {
    /// Seconds heard so far; `None` when it is over.
    pub heard_s: Option<f64>,
    /// Whether a glide is listened for (a comfortable Sa) rather than Sa itself.
    pub range: bool,
    /// What was found, or what to do.
    pub told: String,
    /// Each Sa that may be taken.
    pub offers: Vec<Offer>,
}

/// A Sa that may be taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Offer {
    /// Madhya Sa.
    pub sa: Hertz,
    /// As it is called: "D3 · 2 kattai".
    pub name: String,
    /// Why, or how sure.
    pub reason: String,
}
