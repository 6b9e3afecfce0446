//! What may be wrong or wants a word, and what to do about it: in words, and as the action that its button asks for.
//!
//! In: parts of [`View`]. Out: [`Remark`]s, worst first. Draws nothing.

use super::action::Action;
use super::view::{DroneTo, NoteRow, View};
use super::words;
use std::borrow::Cow;

/// What is said while a gate is at work.
const GATED: &str = "A noise gate cuts the note: it is not the voice.";

/// So many notes, held so long within so many seconds, and so far off, are no slip: a semitone is another swara (our choice).
const BEYOND_NOTES: usize = 3;
const BEYOND_S: (f64, f64) = (0.3, 60.0);
const BEYOND_CENTS: f64 = 100.0;

/// What hands us the sound, for people: there is no host about the stand-alone app.
#[must_use]
pub fn source(view: &View) -> &'static str {
    if view.device.is_some() { "sound system" } else { "host" }
}

/// That no sound is handed over any more; behind "the".
#[must_use]
pub fn stopped(view: &View) -> String {
    format!("{} has stopped sending audio", source(view))
}

/// Why nothing can be heard, and what to do, where the sound comes at a rate that cannot be listened to.
#[must_use]
pub fn unheard(view: &View) -> Option<String> {
    let khz = view.unheard_hz? / 1000.0;
    let what = if view.device.is_some() { "start the app again with --sample-rate 48000" } else { "set it to 48 kHz" };
    let source = source(view);
    Some(format!(
        "The {source} runs at {khz} kHz: the voice passes unheard, since 8 to 192 kHz can be listened to; {what}."
    ))
}

/// What wants a word, and what may be done about it: the word on its button, and what that asks for.
pub type Remark = (String, Option<(Cow<'static, str>, Action)>);

/// What is wrong with the sound that comes in, worst first; each with what to do about it.
#[must_use]
pub fn faults(view: &View) -> Vec<Remark> {
    let t = &view.trouble;
    let mut out: Vec<Remark> = Vec::new();
    out.extend(unheard(view).map(|text| (text, None)));
    let alone = view.device.is_some();
    let anew = alone.then_some(("Start it again".into(), Action::StartAnew));
    if t.host_silent {
        let what = if alone {
            "the machine was too busy, or the device was pulled out"
        } else {
            "nothing is heard until it does again"
        };
        out.push((format!("The {}: {what}.", stopped(view)), anew.clone()));
    }
    if view.device.as_ref().is_some_and(|d| d.nothing) {
        out.push((
            "No sound comes in: if you are singing, choose another input in Settings, or start the sound again."
                .to_owned(),
            anew,
        ));
    }
    let mut say = |when: bool, text: &str| {
        if when {
            out.push((text.to_owned(), None));
        }
    };
    say(t.clipped, "The input is too loud and clips: turn the microphone down.");
    say(t.several, "More than one voice sounds: shown, not counted.");
    say(t.gated, GATED);
    say(t.dropouts, "The sound drops out on its way here: the gaps are not the voice's.");
    out
}

/// What may be wrong or wants a word, worst first, the sound that comes in before all; each with what to do about it.
#[must_use]
pub fn troubles(view: &View) -> Vec<Remark> {
    let mut out = faults(view);
    let alone = view.device.is_some();
    if !view.listening {
        out.push(("Listening is off: notes are shown, not counted.".to_owned(), None));
    }
    // Its own button says that it waits: what is wrong with the sound and what keeps the voice from being judged comes before.
    if view.drone.silent_after_reopen {
        let text = match &view.device {
            Some(device) if device.anew => "The drone waits since the sound was started again.",
            Some(_) => "The drone waits: it was on when the app was closed.",
            None => "The drone waits: it starts with the transport.",
        };
        out.push((text.to_owned(), Some(("Start it now".into(), Action::WakeDrone))));
    }
    if let Some((text, follows)) = &view.octave {
        let ask = if *follows { "Take the stated octave" } else { "Follow it" };
        out.push((text.clone(), Some((ask.into(), Action::FollowOctave(!follows)))));
    }
    if let Some(shift) = view.shift {
        let (side, set) = if shift.0 > 0.0 { ("above", "low") } else { ("below", "high") };
        let text =
            format!("The held notes on Sa or Pa all lie some {:.0} cents {side}: is Sa set too {set}?", shift.0.abs());
        out.push((text, Some(("Move Sa there".into(), Action::AdoptSa(view.sa.up(shift))))));
    }
    if !view.hides() && beyond(view) {
        let text = format!(
            "Held notes lie a semitone or more from every swara of {}: is the raga set? (key S)",
            view.scale.label()
        );
        out.push((text, None));
    }
    if let Some(cents) = view.lesson.pupil_drone.filter(|cents| cents.0.abs() > words::DRONE_APART_CENTS) {
        let text = format!("A drone sounds there whose Sa is {} cents from ours.", words::signed(cents));
        out.push((text, Some(("Take its Sa".into(), Action::AdoptSa(view.sa.up(cents))))));
    }
    if let Some((sa, name)) = &view.sa_before {
        let text = format!("Sa is {} now, as it was heard.", view.tonic);
        out.push((text, Some((back_word(name), Action::AdoptSa(*sa)))));
    }
    out.extend(view.remarks.iter().map(|remark| (remark.clone(), None)));
    if view.drone.on && view.drone.octave_lower {
        out.push(("The drone sounds an octave lower: it does not reach up to this Sa.".to_owned(), None));
    }
    if !alone && view.drone.on && view.drone.to != DroneTo::Own {
        out.push(("The drone is in the main output: a recording in real time contains it.".to_owned(), None));
    }
    out
}

/// Whether of late so many held notes lie so far from every swara of the scale in force that another one is sung. One that was asked
/// for is measured from that alone, and says nothing of the others.
fn beyond(view: &View) -> bool {
    let now = view.notes.iter().rev().take_while(|row| view.now_s - row.end_s < BEYOND_S.1);
    let own = |row: &&NoteRow| {
        let same = row.page.as_ref().is_none_or(|page| *page == view.page && row.pupil == view.pupil);
        same && !row.under_another(view.sa)
    };
    let named = |row: &&NoteRow| !row.note.expected && row.note.offset.0.abs() >= BEYOND_CENTS;
    let far = |row: &&NoteRow| row.end_s - row.start_s >= BEYOND_S.0 && named(row);
    now.filter(own).filter(far).count() >= BEYOND_NOTES
}

/// The word on the button that undoes a Sa that was taken from the sound at once.
#[must_use]
pub fn back_word(name: &str) -> Cow<'static, str> {
    format!("Back to {name}").into()
}

/// Whether what the banner says now is that a noise gate cuts the note.
#[must_use]
pub fn gate_said(view: &View) -> bool {
    view.said.is_empty() && faults(view).first().is_some_and(|(text, _)| text == GATED)
}
