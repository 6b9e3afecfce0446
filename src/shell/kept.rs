//! What the stand-alone app keeps from one start to the next, as a host keeps it in a project.
//!
//! In: the parameters and what is saved beside them. Out: one file in the user's own data folder, `Achala/settings.json`, beside
//! the pupils' files: JSON with `format` and `version`, the knobs under their ids, and the saved state under its keys. Written
//! whole or not at all, and only where something changed. A file that cannot be read is moved aside under another name before
//! anything is written; where that is not possible, nothing is written at all. In a host there is no keeper: the project keeps.
//! Over a restart that the window asks for, the lesson lies beside it for a moment ([`super::carried`]).

use super::carried::Carried;
use super::history::History;
use super::params::{AchalaParams, Values};
use super::profiles::data_folder;
use crate::take::write;
use nice_plug::prelude::Params;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// What the file says it is.
const FORMAT: &str = "achala-settings";
/// The version that this build writes.
const VERSION: u32 = 1;
/// Files that are kept aside at most; with so many lying there, nothing is written.
const MOST_ASIDE: u32 = 99;

/// All that is kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Kept {
    format: String,
    version: u32,
    #[serde(default)]
    knobs: Values,
    #[serde(default)]
    saved: BTreeMap<String, serde_json::Value>,
}

/// Reads and writes the file.
#[derive(Debug)]
pub struct Keeper {
    path: PathBuf,
    inside: Mutex<Inside>,
}

#[derive(Debug, Default)]
struct Inside {
    /// What stands in the file, so far as this process knows.
    written: String,
    /// A file lies there that cannot be read and could not be moved.
    locked: bool,
    /// That writing failed was said.
    failed: bool,
    /// What the user must be told.
    remark: Option<String>,
    /// The lesson that the app had before it was started anew.
    lesson: Option<Arc<Carried>>,
}

static KEEPER: OnceLock<Arc<Keeper>> = OnceLock::new();

/// This process is the stand-alone app: instances made from now on start from the user's file and write it.
pub fn keep_for_user() {
    if let Some(folder) = data_folder() {
        KEEPER.get_or_init(|| Arc::new(Keeper::new(folder.join("settings.json"))));
    }
}

/// The stand-alone app's keeper; `None` in a host.
#[must_use]
pub fn keeper() -> Option<Arc<Keeper>> {
    KEEPER.get().cloned()
}

impl Keeper {
    /// For a file.
    #[must_use]
    pub fn new(path: PathBuf) -> Self {
        Self { path, inside: Mutex::default() }
    }

    /// The parameters as they were kept, what is saved beside them included; as of the first start where nothing was.
    #[must_use]
    pub fn start(&self) -> AchalaParams {
        if let Some(lesson) = Carried::take(&self.lesson_path()) {
            self.look(|inside| inside.lesson = Some(Arc::new(lesson)));
        }
        let text = match std::fs::read_to_string(&self.path) {
            Ok(text) => text,
            Err(why) if why.kind() == std::io::ErrorKind::NotFound => return AchalaParams::default(),
            Err(why) => {
                self.put_aside(&why.to_string());
                return AchalaParams::default();
            }
        };
        match read(&text) {
            Ok(kept) => {
                let params = AchalaParams::starting(&kept.knobs);
                let saved: BTreeMap<String, String> =
                    kept.saved.into_iter().map(|(key, value)| (key, value.to_string())).collect();
                params.deserialize_fields(&saved);
                self.look(|inside| inside.written = text);
                params
            }
            Err(why) => {
                self.put_aside(&why);
                AchalaParams::default()
            }
        }
    }

    /// Writes what is to be kept, where it changed.
    pub fn keep(&self, params: &AchalaParams) {
        let mut saved = BTreeMap::new();
        for (key, text) in params.serialize_fields() {
            if let Ok(value) = serde_json::from_str(&text) {
                saved.insert(key, value);
            }
        }
        let kept = Kept { format: FORMAT.to_owned(), version: VERSION, knobs: Values::of(params), saved };
        let Ok(text) = serde_json::to_string_pretty(&kept) else { return };
        self.look(|inside| {
            if inside.locked || inside.written == text {
                return;
            }
            match write::whole(&self.path, |out| out.write_all(text.as_bytes())) {
                Ok(()) => inside.written = text,
                Err(error) => {
                    // Tried again with the next change, but said once.
                    if !std::mem::replace(&mut inside.failed, true) {
                        inside.remark = Some(format!("The settings cannot be kept: {error}."));
                    }
                }
            }
        });
    }

    /// Leaves the lesson for the app that takes this one's place. Where it cannot be written, it is lost as it would be without.
    pub fn leave(&self, history: &History) {
        let carried = Carried::of(history);
        let written = write::whole(&self.lesson_path(), |out| serde_json::to_writer(out, &carried).map_err(Into::into));
        self.look(|inside| {
            inside.remark = written.err().map(|error| format!("The lesson cannot be carried over: {error}."))
        });
    }

    /// No other app takes this one's place after all.
    pub fn stay(&self) {
        // Where nothing could be left, there is nothing to be removed.
        let _ = std::fs::remove_file(self.lesson_path());
    }

    /// The lesson that the app had before it was started anew; `None` at any other start.
    #[must_use]
    pub fn lesson(&self) -> Option<Arc<Carried>> {
        self.look(|inside| inside.lesson.clone())
    }

    fn lesson_path(&self) -> PathBuf {
        self.path.with_file_name("lesson.json")
    }

    /// What the user must be told, once.
    pub fn take_remark(&self) -> Option<String> {
        self.look(|inside| inside.remark.take())
    }

    fn put_aside(&self, why: &str) {
        let moved = (1..=MOST_ASIDE)
            .map(|n| self.path.with_file_name(format!("settings-unreadable-{n}.json")))
            .find(|aside| !aside.exists())
            .filter(|aside| std::fs::rename(&self.path, aside).is_ok());
        self.look(|inside| {
            let path = self.path.display();
            inside.locked = moved.is_none();
            inside.remark = Some(match &moved {
                Some(aside) => format!("The kept settings could not be read ({why}): they lie as {}.", name(aside)),
                None => format!("{path} cannot be read ({why}) nor moved: nothing is kept until you move it."),
            });
        });
    }

    fn look<R>(&self, f: impl FnOnce(&mut Inside) -> R) -> R {
        f(&mut self.inside.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

fn name(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

fn read(text: &str) -> Result<Kept, String> {
    let kept: Kept = serde_json::from_str(text).map_err(|error| error.to_string())?;
    if kept.format != FORMAT {
        return Err(format!("its format is \"{}\", not \"{FORMAT}\"", kept.format));
    }
    if kept.version > VERSION {
        return Err(format!("version {} is newer than this build's {VERSION}", kept.version));
    }
    Ok(kept)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::Meter;
    use crate::shell::state::{Page, PageKey};
    use crate::units::{Hertz, SampleRate, SampleTime};

    fn keeper(folder: &Path) -> Keeper {
        Keeper::new(folder.join("deep/er/settings.json"))
    }

    #[test]
    fn the_next_start_is_as_the_last_one_ended() {
        let folder = tempfile::tempdir().unwrap();
        let first = keeper(folder.path()).start();
        assert_eq!(Values::of(&first), Values::default());
        let values = Values { sa: "gs".into(), saoct: 4, satrim: -3.5, drone: true, drlev: -20.0, ..Values::default() };
        let params = AchalaParams::starting(&values);
        params.saved.chosen.write().unwrap().scale = "mela-15".into();
        *params.saved.window.write().unwrap() =
            crate::shell::state::WindowMemory { width: 1111.0, caution_read: true, ..Default::default() };
        let key =
            PageKey { sa: params.sa_hz(), tuning: "just".into(), scale: "mela-15".into(), nudges: [0.0; 12], pupil: 0 };
        params.saved.pages.look(|pages| pages.open = Some(Page { key, meter: Meter::new() }));
        keeper(folder.path()).keep(&params);
        let again = keeper(folder.path());
        let second = again.start();
        assert_eq!(Values::of(&second), values);
        assert_eq!(second.sa_knobs(), params.sa_knobs());
        assert_eq!(second.serialize_fields(), params.serialize_fields());
        assert!(second.saved.version.take_reopened(), "it goes on as a reopened project does");
        assert_eq!(again.take_remark(), None);
        // What did not change is not written again.
        let path = folder.path().join("deep/er/settings.json");
        std::fs::remove_file(&path).unwrap();
        again.keep(&second);
        assert!(!path.exists());
        second.saved.chosen.write().unwrap().scale = "mela-29".into();
        again.keep(&second);
        assert!(path.exists());
    }

    #[test]
    fn a_lesson_is_carried_over_a_restart_and_over_no_other_start() {
        use crate::shell::history::{LinePoint, Mark};
        let folder = tempfile::tempdir().unwrap();
        let rate = SampleRate::new(48_000.0).unwrap();
        let mut history = History::default();
        let point = |k: i64| LinePoint {
            time: SampleTime(240 * k),
            cents: if k % 3 == 0 { f32::NAN } else { 12.5 },
            several: k == 7,
            counts: true,
        };
        (0..400).for_each(|k| history.point(0, point(k), rate));
        let page =
            PageKey { sa: Hertz(146.8), tuning: "just".into(), scale: "mela-15".into(), nudges: [0.0; 12], pupil: 0 };
        history.note(0, crate::exercise::testing::note(702.0, 1.5), (Hertz(146.8), Some(page)), rate);
        history.mark_at(SampleTime(24_000), "here".into());
        let first = keeper(folder.path());
        first.leave(&history);
        let second = keeper(folder.path());
        let _ = second.start();
        let mut after = History::default();
        second.lesson().unwrap().put_into(&mut after);
        let seen = |h: &History| -> Vec<_> { h.line.iter().map(|p| (p.time, p.cents.to_bits(), p.several)).collect() };
        assert_eq!(seen(&after), seen(&history));
        assert_eq!((&after.notes, &after.measured_from), (&history.notes, &history.measured_from));
        assert_eq!(after.pages, history.pages);
        assert_eq!(after.marks, [Mark { time: SampleTime(24_000), word: "here".into() }]);
        // What comes then lies behind it, and at another rate too.
        after.point(0, point(1), SampleRate::new(96_000.0).unwrap());
        assert!(after.line.iter().map(|p| p.time).is_sorted() && after.taken == (401, 1));
        // It was removed, and what nobody followed does not wait for a later day.
        let third = keeper(folder.path());
        let _ = third.start();
        assert!(third.lesson().is_none());
        third.leave(&history);
        third.stay();
        let _ = third.start();
        assert!(third.lesson().is_none());
        third.leave(&history);
        let long_ago = std::time::SystemTime::now() - std::time::Duration::from_secs(3600);
        std::fs::File::options().write(true).open(third.lesson_path()).unwrap().set_modified(long_ago).unwrap();
        let _ = third.start();
        assert!(third.lesson().is_none() && !third.lesson_path().exists());
    }

    #[test]
    fn what_cannot_be_read_is_kept_aside_and_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("settings.json");
        for (n, text) in
            [r#"{"format":"#, r#"{"format":"x","version":1}"#, r#"{"format":"achala-settings","version":9}"#]
                .into_iter()
                .enumerate()
        {
            std::fs::write(&path, text).unwrap();
            let keeper = Keeper::new(path.clone());
            let params = keeper.start();
            assert_eq!(Values::of(&params), Values::default());
            let aside = folder.path().join(format!("settings-unreadable-{}.json", n + 1));
            assert_eq!(std::fs::read_to_string(&aside).unwrap(), text);
            assert!(keeper.take_remark().unwrap().contains(&name(&aside)));
            assert_eq!(keeper.take_remark(), None);
            keeper.keep(&params);
            assert!(read(&std::fs::read_to_string(&path).unwrap()).is_ok());
        }
        // Neither text nor movable: a folder in the file's place, all names aside taken.
        std::fs::remove_file(&path).unwrap();
        std::fs::create_dir(&path).unwrap();
        for n in 1..=MOST_ASIDE {
            std::fs::write(folder.path().join(format!("settings-unreadable-{n}.json")), "").unwrap();
        }
        let keeper = Keeper::new(path.clone());
        keeper.keep(&keeper.start());
        assert!(path.is_dir());
        assert!(keeper.take_remark().unwrap().contains("nothing is kept"));
    }

    #[test]
    fn what_cannot_be_written_is_told_once_and_tried_again() {
        let folder = tempfile::tempdir().unwrap();
        let keeper = Keeper::new(folder.path().join("in-the-way/settings.json"));
        let params = keeper.start();
        std::fs::write(folder.path().join("in-the-way"), "").unwrap();
        keeper.keep(&params);
        assert!(keeper.take_remark().unwrap().contains("cannot be kept"));
        keeper.keep(&params);
        assert_eq!(keeper.take_remark(), None);
        std::fs::remove_file(folder.path().join("in-the-way")).unwrap();
        keeper.keep(&params);
        assert!(folder.path().join("in-the-way/settings.json").exists());
    }

    #[test]
    fn values_out_of_range_and_unknown_ids_are_mended() {
        let text = r#"{"format":"achala-settings","version":1,"knobs":{"sa":"q","saoct":99,"a4":1e9,"later":1}}"#;
        let params = AchalaParams::starting(&read(text).unwrap().knobs);
        assert_eq!(params.sa_knobs().note, 2);
        assert_eq!((params.sa_octave.value(), params.concert_pitch.value()), (5, 480.0));
        assert!(params.sa_hz() > Hertz(60.0));
    }
}
