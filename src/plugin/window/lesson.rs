//! Exercises and pupils in the window: what there is to choose, what runs, and what the user asks of either.

use super::act::Doer;
use super::finding::{Finding, name};
use super::knobs::Move;
use super::{Links, Session};
use crate::editor::action::{Ear, Field, Listen, Run};
use crate::editor::view::{Choice, ExerciseOption, ExerciseView, View};
use crate::exercise::EarAnswer;
use crate::exercise::catalogue::{EXERCISES, Exercise, Place, Setting, Values, find};
use crate::shell::bridge::History;
use crate::shell::capture::Capture;
use crate::shell::profiles::{Profile, Profiles, Settings};
use crate::shell::state::{Chosen, Madhyama, SaKnobs};
use crate::swara::tonic::{Tonic, parts};
use crate::units::{Cents, Hertz, num};
use std::sync::PoisonError;

/// The setting that is kept with the project's goal.
const GOAL: &str = "long-tone.minutes";
/// The choice of exercise itself, among the settings.
const SELECTED: &str = "selected";
/// Octaves that the knob of Sa has.
const OCTAVES: std::ops::RangeInclusive<i32> = 2..=5;

/// The value of an exercise's setting as chosen.
fn value(chosen: &Chosen, exercise: &Exercise, setting: &str) -> Option<String> {
    let key = format!("{}.{setting}", exercise.key);
    if key == GOAL {
        return Some(chosen.goal_minutes.to_string());
    }
    chosen.exercises.get(&key).cloned()
}

/// The exercise that is chosen; the first by default.
fn selected(chosen: &Chosen) -> &'static Exercise {
    const FIRST: &Exercise = &EXERCISES[0];
    chosen.exercises.get(SELECTED).and_then(|key| find(key)).unwrap_or(FIRST)
}

/// What exercises are sung against, and the page of choices it belongs to.
pub(super) fn place(links: &Links) -> (Place, u32) {
    let band = links.params.band();
    links.choices.look(|c| (Place { targets: c.setup.targets, positions: c.setup.positions, band }, c.setup.page))
}

/// An exercise begun on another scale or tuning begins anew.
pub(super) fn keep_up(links: &Links, history: &mut History, session: &mut Session) {
    let Some((exercise, page)) = history.practice.exercise() else { return };
    let (place, now) = place(links);
    if page != now {
        let chosen = links.choices.chosen();
        history.practice.start(exercise, &|key| value(&chosen, exercise, key), (&place, now));
        session.say("Scale, tuning or pupil changed: the exercise begins anew.");
    }
}

/// The exercise that runs, in words.
pub(super) fn running(links: &Links, history: &History, session: &Session) -> Option<ExerciseView> {
    let (exercise, _) = history.practice.exercise()?;
    let progress = history.practice.progress()?;
    // A pupil's own, else the project's.
    let record = session.ear.unwrap_or_else(|| links.params.saved.ear.record());
    let mut progress_text = progress.share_text;
    if exercise.machine == crate::exercise::catalogue::Machine::EarFirst && record.answers > 0 {
        progress_text.push_str(&format!(" (in all {} of {})", record.right, record.answers));
    }
    Some(ExerciseView {
        name: exercise.name.to_owned(),
        call: progress.call,
        now: progress.now,
        told: progress.told,
        progress: progress.share.map(num::single),
        progress_text,
        steps: progress.steps,
        asks_ear: progress.asks,
        hides: progress.hides,
        last_round: progress.last_round,
        may_skip: progress.may_skip,
        stands: progress.stands,
        paused: progress.paused,
        moves: progress.moves,
        rest: if progress.rest { crate::exercise::REST.to_owned() } else { String::new() },
    })
}

/// Counts an answer for the pupil in force, or in the project where there is none.
pub(super) fn count(links: &Links, session: &mut Session, right: bool) {
    let pupil = links.pupil.lock().unwrap_or_else(PoisonError::into_inner).clone();
    if pupil.is_empty() {
        links.params.saved.ear.count(right);
        return;
    }
    match Profiles::of_user().and_then(|profiles| profiles.count(&pupil, right)) {
        Ok(record) => session.ear = Some(record),
        Err(error) => session.say(&error.to_string()),
    }
}

/// What there is to choose; made anew where a choice or the list of pupils changed.
pub(super) fn choices(links: &Links, session: &mut Session, view: &mut View) {
    let chosen = links.choices.chosen();
    let pupil = {
        let mut pupil = links.pupil.lock().unwrap_or_else(PoisonError::into_inner);
        // A project that was opened may know whose it is.
        if pupil.is_empty() {
            pupil.clone_from(&chosen.pupil);
        }
        pupil.clone()
    };
    let key = (chosen.exercises.clone(), chosen.goal_minutes.to_bits(), pupil, links.choices.look(|c| c.setup.page));
    // The knobs may be turned without a choice being made.
    view.lesson.pupil_changed = changed(links, session);
    if session.lesson_key.as_ref() == Some(&key) {
        return;
    }
    // A project that was opened counts for whoever is shown; of a pupil who is not known on this machine it knows the number.
    let known = || Profiles::of_user().and_then(|profiles| profiles.page(&key.2)).unwrap_or(chosen.pupil_page);
    let page = if key.2.is_empty() { 0 } else { known() };
    if page != chosen.pupil_page {
        links.choices.change(|c| c.pupil_page = page);
    }
    let exercise = selected(&chosen);
    let lesson = &mut view.lesson;
    lesson.exercises = Choice {
        current: exercise.key.to_owned(),
        options: EXERCISES.iter().map(|e| (e.key.to_owned(), e.name.to_owned())).collect(),
    };
    exercise.about.clone_into(&mut lesson.about);
    let option = |setting: &crate::exercise::catalogue::Setting| ExerciseOption {
        key: setting.key.to_owned(),
        typed_like: if matches!(setting.values, Values::Steps(_)) { "S P S' P S".to_owned() } else { String::new() },
        name: setting.name.to_owned(),
        choice: Choice {
            current: setting.value(value(&chosen, exercise, setting.key).as_deref(), &view.targets),
            options: setting.options(&view.targets),
        },
    };
    lesson.options = exercise.settings.iter().map(option).collect();
    let mut options = vec![(String::new(), "no pupil".to_owned())];
    (session.ear, session.kept) = (None, None);
    match Profiles::of_user() {
        Ok(profiles) => {
            let (found, wrong) = profiles.list();
            options.extend(found);
            (session.ear, session.kept) = profiles.load(&key.2).ok().map(|p| (p.ear, p.settings)).unzip();
            if let Some(error) = wrong.first() {
                session.say(&error.to_string());
            }
        }
        Err(error) => session.say(&error.to_string()),
    }
    lesson.profiles = Choice { current: key.2.clone(), options };
    lesson.pupil_in_project = !chosen.pupil.is_empty();
    session.lesson_key = Some(key);
    view.lesson.pupil_changed = changed(links, session);
}

/// What is set now, as a pupil's file keeps it.
fn settings(links: &Links) -> Settings {
    let (chosen, params) = (links.choices.chosen(), &links.params);
    Settings {
        sa: params.sa_knobs(),
        concert_pitch: f64::from(params.concert_pitch.value()),
        scale: chosen.scale,
        tuning: chosen.tuning,
        nudges: chosen.nudges,
        band: params.band(),
        goal_minutes: chosen.goal_minutes,
        exercises: chosen.exercises,
        follow_octave: params.follow_octave.value(),
    }
}

/// Whether what is set differs from what the file of the pupil in force keeps.
fn changed(links: &Links, session: &Session) -> bool {
    session.kept.as_ref().is_some_and(|kept| !kept.same(&settings(links)))
}

/// The number of a pupil's pages of statistics; 0 where nobody is chosen, or the file cannot be read, which is said.
fn page_of(session: &mut Session, key: &str) -> u32 {
    if key.is_empty() {
        return 0;
    }
    Profiles::of_user().and_then(|profiles| profiles.page(key)).unwrap_or_else(|error| {
        session.say(&error.to_string());
        0
    })
}

/// Chooses an exercise to set up. One that runs, this or another, goes on: it ends when the user begins anew or ends it.
pub(super) fn select(links: &Links, key: &str) {
    if find(key).is_some() {
        links.choices.change(|c| {
            c.exercises.insert(SELECTED.to_owned(), key.to_owned());
        });
    }
}

impl Doer<'_> {
    pub(super) fn exercise(&mut self, run: Run) {
        let chosen = self.links.choices.chosen();
        let exercise = selected(&chosen);
        let (place, page) = place(self.links);
        self.links.bridge.history(|history| match run {
            Run::Start => history.practice.start(exercise, &|key| value(&chosen, exercise, key), (&place, page)),
            Run::Pause(paused) => history.practice.pause(paused),
            Run::Skip => {
                history.practice.skip();
            }
            Run::End => history.practice.end(),
        });
    }

    /// Keeps a setting; an exercise that runs begins anew with it.
    pub(super) fn option(&mut self, setting: &str, value: String) {
        let chosen = self.links.choices.chosen();
        let exercise = selected(&chosen);
        let key = format!("{}.{setting}", exercise.key);
        let now = exercise.settings.iter().find(|s| s.key == setting);
        let now = now.map(|s| s.value(self::value(&chosen, exercise, setting).as_deref(), &self.view.targets));
        let taken = |s: &&Setting| s.key == setting && s.value(Some(&value), &self.view.targets) == value;
        if exercise.settings.iter().find(taken).is_none() {
            self.say(&format!("'{value}' cannot be read: write up to eight swaras, like S P S' .P (S')."));
            return;
        }
        // What is chosen again changes nothing.
        if now.as_ref() == Some(&value) {
            return;
        }
        self.links.choices.change(|c| match value.parse() {
            Ok(minutes) if key == GOAL => c.goal_minutes = minutes,
            _ => {
                c.exercises.insert(key, value);
            }
        });
        let runs = self.links.bridge.history(|history| history.practice.exercise().map(|(e, _)| e.key));
        if runs == Some(exercise.key) {
            self.exercise(Run::Start);
            self.say("The exercise begins anew with that.");
        }
    }

    pub(super) fn ear(&mut self, ear: Ear) {
        let answer = match ear {
            Ear::Low => EarAnswer::Low,
            Ear::Same => EarAnswer::Same,
            Ear::High => EarAnswer::High,
        };
        self.links.bridge.history(|history| history.practice.answer(answer));
    }

    pub(super) fn listen(&mut self, what: Listen) {
        let a4 = self.a4();
        match what {
            Listen::Sa | Listen::Range => {
                let range = what == Listen::Range;
                self.session.finding = None;
                match Capture::start(&self.links.bridge, range) {
                    Some(capture) => self.session.finding = Some(Finding::new(capture, range)),
                    None => self.say_silent(),
                }
            }
            Listen::Enough => {
                if let Some(finding) = &mut self.session.finding {
                    finding.enough(a4);
                }
            }
            Listen::Away => self.session.finding = None,
        }
    }

    fn a4(&self) -> Hertz {
        Hertz(f64::from(self.links.params.concert_pitch.value()))
    }

    /// Sets the knobs of Sa to a frequency.
    pub(super) fn adopt(&mut self, sa: Hertz) {
        if self.stuck("Sa") {
            return;
        }
        match knobs_of(sa, self.a4()) {
            Some(knobs) => {
                self.turn(&knobs);
                self.say(&format!("Sa is {} ({:.1} Hz); each Sa has its own meter page.", name(sa, self.a4()), sa.0));
            }
            None => self.say(&format!("{:.1} Hz lies outside the octaves that Sa can have (C2 to B5).", sa.0)),
        }
    }

    /// Sa as it was typed.
    pub(super) fn enter_sa(&mut self, text: &str) {
        match Tonic::parse_in(text, self.links.params.sa_knobs().octave) {
            Ok(tonic) => self.adopt(tonic.hertz(self.a4())),
            Err(error) => self.say(&error.briefly()),
        }
    }

    fn turn(&mut self, sa: &SaKnobs) {
        let place = |x: f64, low: f64, high: f64| Move::Whole(num::single((x - low) / (high - low)));
        let (low, high) = (f64::from(*OCTAVES.start()), f64::from(*OCTAVES.end()));
        self.set(Field::Sa, place(f64::from(sa.note), 0.0, 11.0));
        self.set(Field::SaOctave, place(f64::from(sa.octave), low, high));
        self.set(Field::SaTrim, place(sa.trim_cents, -50.0, 50.0));
    }

    /// Sa to where Ma lies, a pure fourth up, and back to where it was.
    pub(super) fn madhyama(&mut self) {
        /// A pure fourth, 1200 log2(4/3) cents.
        const FOURTH: Cents = Cents(498.044_999_134_612_6);
        if self.stuck("Sa") {
            return;
        }
        let params = &self.links.params;
        let now = params.sa_knobs();
        let shifted = self.links.choices.chosen().madhyama.filter(|m| m.since == now);
        if let Some(Madhyama { before, .. }) = shifted {
            self.turn(&before);
            self.links.choices.change(|c| c.madhyama = None);
            self.say("Sa is back where it was, and its meter page with it.");
            return;
        }
        let Some(up) = knobs_of(params.sa_hz().up(FOURTH), self.a4()) else {
            self.say("Ma lies above the octaves that Sa can have: choose a lower octave for Sa first.");
            return;
        };
        self.turn(&up);
        // As it was asked for: the host turns the knobs when it likes.
        self.links.choices.change(|c| c.madhyama = Some(Madhyama { before: now, since: up }));
        self.say("Madhyama shruti: Sa stands where Ma lay, on a meter page of its own; the same key brings both back.");
    }

    fn profiles(&mut self) -> Option<Profiles> {
        match Profiles::of_user() {
            Ok(profiles) => Some(profiles),
            Err(error) => {
                self.say(&error.to_string());
                None
            }
        }
    }

    fn pupil(&mut self, key: &str) {
        key.clone_into(&mut self.links.pupil.lock().unwrap_or_else(PoisonError::into_inner));
        let page = page_of(self.session, key);
        self.links.choices.change(|c| {
            c.pupil_page = page;
            if !c.pupil.is_empty() {
                key.clone_into(&mut c.pupil);
            }
        });
        self.session.lesson_key = None;
    }

    pub(super) fn remember_pupil(&mut self, on: bool) {
        let key = self.links.pupil.lock().unwrap_or_else(PoisonError::into_inner).clone();
        self.links.choices.change(|c| c.pupil = if on { key } else { String::new() });
        self.session.lesson_key = None;
    }

    pub(super) fn save_profile(&mut self, name: &str) {
        let settings = settings(self.links);
        let Some(profiles) = self.profiles() else { return };
        match profiles.save(&Profile::new(name, settings)) {
            Ok(key) => {
                self.pupil(&key);
                self.say(&format!(
                    "Kept the settings as {name}, on this machine only; {name} has a meter page of their own."
                ));
            }
            Err(error) => self.say(&error.to_string()),
        }
    }

    pub(super) fn load_profile(&mut self, key: &str) {
        let before = self.view.lesson.profiles.label();
        let left = changed(self.links, self.session).then(|| format!("What was changed for {before} was not kept."));
        if key.is_empty() {
            self.pupil("");
            if let Some(left) = left {
                self.say(&left);
            }
            return;
        }
        if self.stuck("What a pupil has set") {
            self.session.lesson_key = None;
            return;
        }
        let Some(profiles) = self.profiles() else { return };
        match profiles.load(key) {
            Ok(profile) => {
                self.apply(&profile.settings);
                self.pupil(key);
                let left = left.map_or_else(String::new, |left| format!(" {left}"));
                self.say(&format!("The settings are those of {}.{left}", profile.name));
                self.session.settings_of = Some(self.session.said.clone());
            }
            Err(error) => {
                self.session.lesson_key = None;
                self.say(&error.to_string());
            }
        }
    }

    fn apply(&mut self, settings: &Settings) {
        self.set(Field::ConcertPitch, Move::Enter(&settings.concert_pitch.to_string()));
        self.turn(&settings.sa);
        self.set(Field::BandFixed, Move::Enter(&settings.band.fixed.0.to_string()));
        self.set(Field::BandOthers, Move::Enter(&settings.band.others.0.to_string()));
        self.follow_octave(settings.follow_octave);
        self.links.choices.change(|c| {
            c.scale.clone_from(&settings.scale);
            c.tuning = settings.tuning.clone();
            c.nudges = settings.nudges;
            c.goal_minutes = settings.goal_minutes;
            c.exercises.clone_from(&settings.exercises);
        });
    }

    pub(super) fn delete_profile(&mut self, key: &str) {
        let Some(profiles) = self.profiles() else { return };
        let page = profiles.page(key).unwrap_or_default();
        match profiles.delete(key) {
            Ok(()) => {
                self.pupil("");
                if page != 0 {
                    self.links.bridge.forget(page);
                    self.links.params.saved.pages.forget(page);
                }
                self.links.choices.change(|c| c.pupil.clear());
                self.say("Deleted: nothing of it is left on this machine.");
            }
            Err(error) => self.say(&error.to_string()),
        }
    }
}

/// The knobs that give a Sa, if its octave is one that they have.
fn knobs_of(sa: Hertz, a4: Hertz) -> Option<SaKnobs> {
    let (note, octave, trim) = parts(sa, a4)?;
    // The knob has tenths of a cent.
    let trim_cents = (trim.0 * 10.0).round() / 10.0;
    let octave = i32::from(octave);
    OCTAVES.contains(&octave).then_some(SaKnobs { note, octave, trim_cents })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_frequency_becomes_note_octave_and_trim() {
        let a4 = Hertz(440.0);
        // D3 is 146.832 Hz (MIDI Tuning Standard); its pure fourth is G3 less 1.955 cents.
        assert_eq!(knobs_of(Hertz(146.832_384), a4), Some(SaKnobs { note: 2, octave: 3, trim_cents: 0.0 }));
        assert_eq!(
            knobs_of(Hertz(146.832_384 * 4.0 / 3.0), a4),
            Some(SaKnobs { note: 7, octave: 3, trim_cents: -2.0 })
        );
        assert_eq!(knobs_of(Hertz(60.0), a4), None);
    }
}
