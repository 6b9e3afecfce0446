//! Everything the user may ask for; the window only asks, others do it.
//!
//! Out of [`super::Window::ui`], in the order in which it was asked. Values of parameters are normalised, 0 to 1.

use super::view::{Face, LookChoice};
use crate::swara::Swara;
use crate::units::Hertz;

/// A parameter, named once for good.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Field {
    /// Sa as one of 12 notes.
    Sa,
    /// The octave of Sa.
    SaOctave,
    /// Fine trim of Sa, cents.
    SaTrim,
    /// Concert pitch, Hz.
    ConcertPitch,
    /// In-tune half-width of Sa and Pa, cents.
    BandFixed,
    /// In-tune half-width of the others, cents.
    BandOthers,
    /// Level of the voice, dB.
    VoiceLevel,
    /// Drone on or off.
    DroneOn,
    /// Level of the drone, dB.
    DroneLevel,
    /// Where the drone goes.
    DroneTo,
    /// Whether offline renders contain the drone.
    PrintDrone,
    /// Whether notes are scored.
    Listening,
    /// Everything passed by.
    Bypass,
    /// The picture stands still.
    Freeze,
    /// A moment is marked.
    Mark,
    /// Which face is up.
    Face,
}

/// What is chosen by its stable key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Chosen {
    /// The scale.
    Scale,
    /// The tuning.
    Tuning,
    /// The drone's first string.
    Stringing,
    /// Strings or reed.
    DroneKind,
    /// The stand-alone app's input device.
    InputDevice,
    /// The exercise to set up.
    Exercise,
    /// The pupil's profile; an empty key is none.
    Profile,
}

/// What can be written to a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Export {
    /// The notes as CSV.
    Csv,
    /// The lesson's report.
    Report,
    /// Markers as a Standard MIDI File.
    Markers,
}

/// What the singer heard of their own note.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ear {
    /// Below the target.
    Low,
    /// On it.
    Same,
    /// Above it.
    High,
}

/// Listening for Sa, or for the range of a voice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Listen {
    /// For Sa: a drone, or a voice that holds it.
    Sa,
    /// For a glide down and up.
    Range,
    /// That is enough: what can be said?
    Enough,
    /// Forget it.
    Away,
}

/// What is asked of the chosen exercise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Run {
    /// Begin, or begin anew.
    Start,
    /// Stop the counting, or go on.
    Pause(bool),
    /// Leave the due step out.
    Skip,
    /// End.
    End,
}

/// What is set of the drone beside its kind and its first string.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DroneChange {
    /// Whether a Ni string follows the first.
    Fifth(bool),
    /// From pluck to pluck, seconds.
    Pluck(f64),
    /// How far the two strings of madhya Sa lie apart, cents.
    Pair(f64),
    /// Trim of the string at this place, cents.
    Trim(usize, f64),
    /// Whether the reed at this position sounds.
    Reed(u8, bool),
    /// The reeds follow the first string again.
    PlainReeds,
}

/// What the user asks for.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// A gesture on a parameter begins.
    Begin(Field),
    /// A parameter is set, 0 to 1 (between `Begin` and `End`).
    Set(Field, f32),
    /// The gesture ends.
    End(Field),
    /// A parameter's value was typed.
    Enter(Field, String),
    /// One among named things was chosen, by its key.
    Choose(Chosen, String),
    /// The page of statistics in force is to be emptied.
    Clear,
    /// What was just cleared is to be there again.
    Unclear,
    /// The picture stands still, or runs again.
    Freeze(bool),
    /// In the frozen picture: show what lies before this instant, seconds.
    ShowUntil(f64),
    /// Mark this moment.
    Mark,
    /// The word of the moment that was marked last; may be empty.
    Word(String),
    /// Another word for this marked moment; may be empty.
    NameMark(u64, String),
    /// This marked moment goes.
    DropMark(u64),
    /// Something of the drone is set.
    Drone(DroneChange),
    /// The target at this position (semitones above Sa) lies so many cents from where the tuning has it.
    Nudge(u8, f64),
    /// Sound this swara in the tuning in force and the singer's register; `None` ends it.
    Reference(Option<Swara>),
    /// Lay this marked moment beside now; `None` takes it away.
    Replay(Option<u64>),
    /// Sound note `n` of the list against the drone, as it was sung.
    PlayNote(usize),
    /// Sound the swara that note `n` of the list was to be.
    PlayTarget(usize),
    /// What sounds is enough.
    Hush,
    /// Show the line of note `n` of the list; `None` takes it away.
    ShowNote(Option<usize>),
    /// Another face.
    Show(Face),
    /// Another look.
    Look(LookChoice),
    /// Find Sa, or a comfortable one, from the sound that comes in.
    Listen(Listen),
    /// Take this as madhya Sa.
    AdoptSa(Hertz),
    /// Madhyama shruti: Sa to where Ma lies, or back.
    Madhyama,
    /// Follow the voice's octave, or take the stated one.
    FollowOctave(bool),
    /// Let the drone sound that waits since the project was reopened.
    WakeDrone,
    /// Write a file.
    Export(Export),
    /// Put the list of held notes on the clipboard; the text is the list.
    Copy(String),
    /// An exercise's own setting, by the keys of the setting and of its value.
    ExerciseOption {
        /// Which setting.
        option: String,
        /// Which value.
        value: String,
    },
    /// Begin, pause, skip, end.
    Exercise(Run),
    /// The singer says what they heard.
    Ear(Ear),
    /// The project keeps the statistics, or leaves them out.
    KeepStatistics(bool),
    /// The stand-alone app sends the voice to the loudspeakers, or keeps it from them.
    SendVoice(bool),
    /// The project remembers whose profile is in force, or does not.
    PupilInProject(bool),
    /// Keep the settings in force as a pupil's profile of this name.
    SaveProfile(String),
    /// Delete a profile, by its key.
    DeleteProfile(String),
    /// The stand-alone app's sound has ended: start the app anew.
    StartAnew,
    /// The caution was read.
    CautionRead,
}
