//! Everything there is to see, as plain data: the window draws this and knows nothing else.
//!
//! In: filled by the bridge, once for each frame drawn. Out: read by the panels, which are functions of parts
//! of it. Times are seconds since listening began; pitches are cents above madhya Sa. Nothing here judges:
//! which notes are held, in the band or worth singing again was decided before.

mod drone;
mod lesson;

use super::action::Field;
use super::motion::Motion;
use crate::listener::Faults;
use crate::meter::RowSummary;
use crate::note::{Band, Current, Kind, Note};
use crate::swara::{Named, Swara, Targets};
use crate::take::run::same_sa;
use crate::units::{Cents, Decibels, Hertz};
pub use drone::{DroneTo, DroneView, Proposal, ReedView};
pub use lesson::{ExerciseOption, ExerciseView, FindingView, LessonView, LongToneView, Offer};

/// The shortest and longest span of the live line, seconds.
pub const SPAN_S: (f64, f64) = (10.0, 60.0);

/// A louder peak than this is sound: a breath at a microphone lies above, a quiet room below (our choice).
pub const QUIET_ROOM: Decibels = Decibels(-45.0);

/// Which face of the window is up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Face {
    /// The answer at a glance, for the singer two metres away.
    #[default]
    Singing,
    /// What the voice did, for a lesson with a shared screen.
    Teaching,
    /// How it went, once the transport stops.
    Checking,
}

/// How the window is to look; remembered in the project by whoever calls.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LookChoice {
    /// Light letters on a dark ground, or dark on light.
    pub dark: bool,
    /// Text size, 1 to 2.
    pub text_scale: f32,
    /// Whether shapes move at the pace of the digits (five times a second) instead of every frame.
    pub motion: Motion,
}

impl Default for LookChoice {
    fn default() -> Self {
        Self { dark: true, text_scale: 1.0, motion: Motion::default() }
    }
}

/// One moment of the voice's line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinePoint {
    /// The instant, seconds.
    pub time_s: f64,
    /// Cents above madhya Sa; `None` where no voice sounds.
    pub cents: Option<f32>,
    /// The nearest allowed swara, its register and the distance.
    pub named: Option<Named>,
    /// Held, swinging or on its way; `None` while that cannot be said.
    pub kind: Option<Kind>,
    /// Beats against the drone per second, where there are any to hear.
    pub beats_hz: Option<f32>,
    /// More than one voice: drawn, never judged.
    pub several: bool,
}

/// One final note, with where it lies for people.
#[derive(Debug, Clone, PartialEq)]
pub struct NoteRow {
    /// The note itself.
    pub note: Note,
    /// Its start, seconds.
    pub start_s: f64,
    /// Its end, seconds.
    pub end_s: f64,
    /// Bar and beat of the host, each from 1; `None` where the host gave none.
    pub bar_beat: Option<(i64, i64)>,
    /// Whether it lies outside the band in force.
    pub outside: bool,
    /// The Sa that it was measured from.
    pub sa: Hertz,
    /// The scale and the tuning that it was measured in, by their keys; `None` where that is not known.
    pub page: Option<(String, String)>,
    /// The number of the pupil for whom it was counted; 0 where nobody was chosen.
    pub pupil: u32,
}

impl NoteRow {
    /// Whether it was measured from another Sa than the one in force.
    #[must_use]
    pub fn under_another(&self, sa: Hertz) -> bool {
        !same_sa(self.sa, sa)
    }
}

/// The meter's row of one swara of the scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeterRow {
    /// Its name in the scale in force.
    pub swara: Swara,
    /// Where it lies above Sa, cents.
    pub target: Cents,
    /// How it fared.
    pub summary: RowSummary,
}

/// One thing to choose among named ones.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Choice {
    /// The key of the one in force (the stable string of the saved state).
    pub current: String,
    /// Key and label of each.
    pub options: Vec<(String, String)>,
}

impl Choice {
    /// The label of the one in force, or its key where it is not among the options.
    #[must_use]
    pub fn label(&self) -> &str {
        self.options.iter().find(|(key, _)| *key == self.current).map_or(&self.current, |(_, label)| label)
    }
}

/// One parameter as a plain knob.
#[derive(Debug, Clone, PartialEq)]
pub struct Knob {
    /// Which.
    pub field: Field,
    /// Its name.
    pub name: String,
    /// Its value as text, with unit.
    pub text: String,
    /// Its value, 0 to 1.
    pub normalised: f32,
    /// Its default, 0 to 1.
    pub default: f32,
    /// Number of steps between its values (1 for a switch); `None` if continuous.
    pub steps: Option<u32>,
    /// The names of its values, in their order, where they have names; else empty.
    pub names: Vec<String>,
}

/// The sound device of the stand-alone app.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Device {
    /// The input in use and those to choose among.
    pub input: Choice,
    /// Nothing has come in for some seconds.
    pub nothing: bool,
    /// The app was started anew from its own window, and goes on with its lesson.
    pub anew: bool,
    /// The voice is sent to the loudspeakers.
    pub sends_voice: bool,
}

/// What may be wrong with the sound that comes in; several at once are possible.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Trouble {
    /// The input reached full scale lately.
    pub clipped: bool,
    /// More than one voice seems to sound: not scored.
    pub several: bool,
    /// The host has stopped sending audio.
    pub host_silent: bool,
    /// The line dropped out (a call, a cable) lately.
    pub dropouts: bool,
    /// A gate cuts held notes: the call does it, not the singer.
    pub gated: bool,
}

/// A moment marked in the lesson.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Which (stable within the lesson).
    pub id: u64,
    /// When, seconds.
    pub time_s: f64,
    /// A short word; may be empty.
    pub word: String,
}

/// A marked moment's line, laid beside now's.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Replay {
    /// The marked moment, seconds.
    pub time_s: f64,
    /// Its word.
    pub word: String,
    /// The line around it.
    pub line: Vec<LinePoint>,
}

/// A note of the list, looked at.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ShownNote {
    /// Which, in the list of notes.
    pub index: usize,
    /// The line around it.
    pub line: Vec<LinePoint>,
}

/// Everything to see.
#[derive(Debug, Clone, PartialEq)]
pub struct View {
    /// The newest instant that was listened to, seconds.
    pub now_s: f64,
    /// Nearest swara, register and offset of the latest frame; `None` where no voice sounds.
    pub reading: Option<Named>,
    /// The note that sounds now.
    pub current: Option<Current>,
    /// Beats per second against the drone.
    pub beats_hz: Option<f64>,
    /// The voice's line up to `shown_until_s`, oldest first, at least [`SPAN_S`].1 long where there is so much.
    pub line: Vec<LinePoint>,
    /// Right edge of the frozen view, seconds; equals `now_s` while live.
    pub shown_until_s: f64,
    /// How much of the lesson is kept, seconds.
    pub kept_s: f64,
    /// Final notes, oldest first.
    pub notes: Vec<NoteRow>,
    /// Indices into `notes` of those most worth singing again, at most three.
    pub again: Vec<usize>,
    /// One row per swara of the scale, upwards from Sa.
    pub meter: Vec<MeterRow>,
    /// Age of the statistics in force, seconds of sung time since they were opened.
    pub page_age_s: f64,
    /// Share of the sung time that could be judged, 0 to 1; `None` before anything was sung.
    pub judged_share: Option<f64>,
    /// The scale.
    pub scale: Choice,
    /// Swaras of the scale on the way up and on the way down, where they differ.
    pub up_down: Option<(Vec<Swara>, Vec<Swara>)>,
    /// The tuning.
    pub tuning: Choice,
    /// How a tuning file is used where that is not as it stands there, one sentence each.
    pub tuning_remarks: Vec<String>,
    /// The keys of scale and tuning in force, as those of the notes are.
    pub page: (String, String),
    /// The number of the pupil in force, as those of the notes are.
    pub pupil: u32,
    /// How far the teacher moved each position from the tuning, cents.
    pub nudges: [f64; 12],
    /// The tonic as people say it: "D3 · 2 kattai".
    pub tonic: String,
    /// Madhya Sa.
    pub sa: Hertz,
    /// The Sa that the voice is measured from: octaves away where the voice is followed.
    pub voice_sa: Hertz,
    /// Where the swaras lie.
    pub targets: Targets,
    /// In-tune half-widths.
    pub band: Band,
    /// Level of the input, RMS, dBFS.
    pub level: Decibels,
    /// What may be wrong with the sound.
    pub trouble: Trouble,
    /// What the line did since listening began.
    pub faults: Faults,
    /// The rate at which the sound comes in, Hz, where it is one that cannot be listened to.
    pub unheard_hz: Option<f64>,
    /// The voice lies octaves from the stated Sa: "Your voice is an octave below Sa"; and whether it is followed.
    pub octave: Option<(String, bool)>,
    /// Held notes on Sa and Pa share this shift: Sa may be set wrong; while that is being said.
    pub shift: Option<Cents>,
    /// What sounds is a machine's tone.
    pub machine: bool,
    /// The drone.
    pub drone: DroneView,
    /// Whether notes are scored (the pupil's turn).
    pub listening: bool,
    /// Whether the picture stands still.
    pub frozen: bool,
    /// Which face is up.
    pub face: Face,
    /// How it looks.
    pub look: LookChoice,
    /// The system asks for less motion.
    pub system_asks_less: bool,
    /// Parameters, in the order to show.
    pub knobs: Vec<Knob>,
    /// The stand-alone app's device; `None` in a host.
    pub device: Option<Device>,
    /// Marked moments, oldest first.
    pub marks: Vec<Mark>,
    /// A marked moment laid beside now.
    pub replay: Option<Replay>,
    /// Exercises and pupils.
    pub lesson: LessonView,
    /// Listening for Sa or for a range, under way or just over.
    pub finding: Option<FindingView>,
    /// The Sa that was in force before one was taken from the sound at once, and what it is called; while it is offered back.
    pub sa_before: Option<(Hertz, String)>,
    /// Sa stands on Ma (madhyama shruti).
    pub madhyama: bool,
    /// Long-tone practice on Sa.
    pub long_tone: LongToneView,
    /// The note of the list that is looked at.
    pub shown_note: Option<ShownNote>,
    /// The note of the list that sounds now.
    pub sounding: Option<usize>,
    /// The swara that sounds because it was asked for.
    pub reference: Option<Swara>,
    /// Whether the project keeps the statistics.
    pub keep_statistics: bool,
    /// Choices that could not be used, in words.
    pub remarks: Vec<String>,
    /// The caution about hearing and voice has been read.
    pub caution_read: bool,
    /// The page was just cleared, and may have its statistics back.
    pub cleared: bool,
    /// A line about what was just done or failed ("Saved lesson.html"); empty if nothing.
    pub said: String,
}

impl View {
    /// The right edge of a frozen picture of `span_s` that is nearest to `until_s` and leaves no page empty: of a lesson that is
    /// shorter there is one page.
    #[must_use]
    pub fn scrolled(&self, until_s: f64, span_s: f64) -> f64 {
        let first = (self.now_s - self.kept_s + span_s).min(self.now_s);
        until_s.clamp(first, self.now_s)
    }

    /// From when on the line is kept, seconds, where something before is kept no longer.
    #[must_use]
    pub fn kept_from(&self) -> Option<f64> {
        Some(self.now_s - self.kept_s).filter(|from| *from > 1.0)
    }

    /// What is seen before anything was heard, with the given Sa and targets.
    #[must_use]
    pub fn empty(sa: Hertz, targets: Targets) -> Self {
        let meter = targets.by_position.iter().flatten();
        Self {
            now_s: 0.0,
            reading: None,
            current: None,
            beats_hz: None,
            line: Vec::new(),
            shown_until_s: 0.0,
            kept_s: 0.0,
            notes: Vec::new(),
            again: Vec::new(),
            meter: meter
                .map(|t| MeterRow { swara: t.swara, target: t.cents, summary: RowSummary::default() })
                .collect(),
            page_age_s: 0.0,
            judged_share: None,
            scale: Choice::default(),
            up_down: None,
            tuning: Choice::default(),
            tuning_remarks: Vec::new(),
            page: Default::default(),
            pupil: 0,
            nudges: [0.0; 12],
            tonic: String::new(),
            sa,
            voice_sa: sa,
            targets,
            band: Band { fixed: Cents(20.0), others: Cents(25.0) },
            level: Decibels(-200.0),
            trouble: Trouble::default(),
            faults: Faults::default(),
            unheard_hz: None,
            octave: None,
            shift: None,
            machine: false,
            drone: DroneView::default(),
            listening: true,
            frozen: false,
            face: Face::Singing,
            look: LookChoice::default(),
            system_asks_less: false,
            knobs: Vec::new(),
            device: None,
            marks: Vec::new(),
            replay: None,
            lesson: LessonView::default(),
            finding: None,
            sa_before: None,
            madhyama: false,
            long_tone: LongToneView::default(),
            shown_note: None,
            sounding: None,
            reference: None,
            keep_statistics: true,
            remarks: Vec::new(),
            caution_read: false,
            cleared: false,
            said: String::new(),
        }
    }

    /// Whether the drone is on and silent only because nobody has asked for it since the project was reopened.
    #[must_use]
    pub fn drone_waits(&self) -> bool {
        self.drone.on && self.drone.silent_after_reopen && !self.trouble.host_silent
    }

    /// What a note was measured under that is not in force now: Sa, scale, tuning; each as a few words and as a sentence.
    #[must_use]
    pub fn others_of(&self, row: &NoteRow) -> Vec<(String, String)> {
        let mut out = Vec::new();
        if row.under_another(self.sa) {
            let sa = format!("from Sa {:.1} Hz", row.sa.0);
            out.push((sa.clone(), format!("sung {sa}: its swara and offset count from there")));
        }
        let Some((scale, tuning)) = &row.page else { return out };
        if row.pupil != self.pupil {
            out.push(("other pupil".to_owned(), "sung while another pupil was chosen, or none".to_owned()));
        }
        let label = |choice: &Choice, key: &str| {
            let known = choice.options.iter().find(|(known, _)| known == key);
            known.map_or_else(|| key.to_owned(), |(_, label)| label.clone())
        };
        for (name, here, there, choice) in
            [("raga", &self.page.0, scale, &self.scale), ("tuning", &self.page.1, tuning, &self.tuning)]
        {
            if here != there {
                let told = format!("sung while the {name} was {}", label(choice, there));
                out.push((format!("other {name}"), told));
            }
        }
        out
    }

    /// The note of the list that is heard: what was asked for stands still while nothing sounds.
    #[must_use]
    pub fn heard_note(&self) -> Option<usize> {
        self.sounding.filter(|_| !self.trouble.host_silent)
    }

    /// Whether a drone sounds for a voice to beat against: ours, or one in the room.
    #[must_use]
    pub fn drone_sounds(&self) -> bool {
        let asked = self.drone.lent || self.drone.on && !self.drone.silent_after_reopen;
        let ours = asked && !self.trouble.host_silent;
        ours || self.lesson.pupil_drone.is_some()
    }

    /// Whether anything was sung that the window knows of: in this lesson, or on this page of the meter.
    #[must_use]
    pub fn has_sung(&self) -> bool {
        !self.notes.is_empty() || self.page_age_s > 0.0
    }

    /// Whether shapes move at the pace of the digits.
    #[must_use]
    pub fn less_motion(&self) -> bool {
        self.look.motion.less(self.system_asks_less)
    }

    /// Whether the ear comes first now: nothing that tells the pitch may be seen.
    #[must_use]
    pub fn hides(&self) -> bool {
        self.lesson.exercise.as_ref().is_some_and(|exercise| exercise.hides)
    }

    /// The knob of a parameter, if the caller gave one.
    #[must_use]
    pub fn knob(&self, field: Field) -> Option<&Knob> {
        self.knobs.iter().find(|k| k.field == field)
    }
}
