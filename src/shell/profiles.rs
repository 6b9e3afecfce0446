//! The teacher's own notes of each pupil's Sa, raga, tuning and goals: one small file per pupil, on this machine only.
//!
//! In: a [`Profile`]. Out: files in the user's own data folder (XDG on Linux, Known Folders on Windows, the standard
//! folder on macOS; by the `etcetera` library), `Achala/pupils/NAME.json`, never in a project. Format: JSON with `format` and
//! `version`; fields of a later version are ignored, missing ones take their default. Written whole or not at all. A file that
//! cannot be read is left as it is and named in words; delete removes the file. Of what was sung it
//! holds the share of right answers of *Ear first* and nothing else.

use super::state::{EarRecord, SaKnobs};
use crate::note::Band;
use crate::swara::tuning::SavedTuning;
use crate::take::write;
use etcetera::BaseStrategy;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::hash::{BuildHasher, Hasher};
use std::path::{Path, PathBuf};

/// What a profile's file says it is.
const FORMAT: &str = "achala-pupil";
/// The version that this build writes.
const VERSION: u32 = 1;
/// The longest name, letters.
const LONGEST_NAME: usize = 60;

/// What is kept of a pupil.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Profile {
    format: String,
    version: u32,
    /// The name, as the teacher writes it.
    pub name: String,
    /// What is set for the pupil.
    #[serde(flatten)]
    pub settings: Settings,
    /// What the pupil's ear said of their own notes.
    #[serde(default)]
    pub ear: EarRecord,
    /// The number under which a project keeps the pupil's pages of statistics; 0 where none was given yet.
    #[serde(default)]
    page: u32,
}

/// What is set for a pupil.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub struct Settings {
    /// Madhya Sa.
    pub sa: SaKnobs,
    /// Concert pitch, Hz.
    pub concert_pitch: f64,
    /// The scale's stable string.
    pub scale: String,
    /// The tuning.
    pub tuning: SavedTuning,
    /// Cents by which the teacher moved the targets.
    #[serde(default)]
    pub nudges: [f64; 12],
    /// In-tune half-widths.
    pub band: Band,
    /// Minutes of steady long tone to aim at.
    pub goal_minutes: f64,
    /// Settings of the exercises.
    #[serde(default)]
    pub exercises: BTreeMap<String, String>,
    /// Whether the voice's octave is followed.
    #[serde(default)]
    pub follow_octave: bool,
}

impl Settings {
    /// Whether two are the same to a hundredth of what the knobs show: a file keeps rounded figures.
    #[must_use]
    pub fn same(&self, other: &Self) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() < 0.01;
        let sa = (self.sa.note, self.sa.octave) == (other.sa.note, other.sa.octave)
            && near(self.sa.trim_cents, other.sa.trim_cents);
        let band = near(self.band.fixed.0, other.band.fixed.0) && near(self.band.others.0, other.band.others.0);
        let nudges = self.nudges.iter().zip(other.nudges).all(|(a, b)| near(*a, b));
        let numbers = near(self.concert_pitch, other.concert_pitch) && near(self.goal_minutes, other.goal_minutes);
        let named = (&self.scale, &self.tuning, &self.exercises) == (&other.scale, &other.tuning, &other.exercises);
        sa && band && nudges && numbers && named && self.follow_octave == other.follow_octave
    }
}

impl Profile {
    /// A profile of this name.
    #[must_use]
    pub fn new(name: &str, settings: Settings) -> Self {
        let name = name.trim().chars().take(LONGEST_NAME).collect();
        Self { format: FORMAT.to_owned(), version: VERSION, name, settings, ear: EarRecord::default(), page: 0 }
    }
}

/// What went wrong with a profile, in a sentence.
#[derive(Debug)]
pub enum ProfileError {
    /// The name holds no letter or digit.
    NoName(String),
    /// There is no such profile.
    Missing(String),
    /// The file cannot be read or is no profile; it is left as it is.
    Bad(PathBuf, String),
    /// The file cannot be written or removed.
    Write(PathBuf, String),
    /// The system names no folder for data.
    NoFolder,
}

impl std::fmt::Display for ProfileError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoName(name) => write!(f, "\"{name}\" is no name for a pupil: write at least one letter or digit"),
            Self::Missing(name) => write!(f, "there is no pupil \"{name}\" on this machine"),
            Self::Bad(path, why) => {
                write!(f, "{} cannot be read as a pupil ({why}); it is left as it is: mend or move it", path.display())
            }
            Self::Write(path, why) => write!(f, "{} cannot be changed: {why}", path.display()),
            Self::NoFolder => f.write_str("the system names no folder for the user's data: set HOME"),
        }
    }
}

impl std::error::Error for ProfileError {}

/// The folder of all that is ours among the user's own data; `None` where the system names none.
pub(super) fn data_folder() -> Option<PathBuf> {
    Some(etcetera::choose_base_strategy().ok()?.data_dir().join("Achala"))
}

/// The folder of profiles.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Profiles {
    folder: PathBuf,
}

impl Profiles {
    /// In the user's own data folder.
    ///
    /// # Errors
    /// [`ProfileError::NoFolder`] where the system names none.
    pub fn of_user() -> Result<Self, ProfileError> {
        Ok(Self::new(data_folder().ok_or(ProfileError::NoFolder)?.join("pupils")))
    }

    /// In a folder.
    #[must_use]
    pub fn new(folder: PathBuf) -> Self {
        Self { folder }
    }

    /// Key and name of each profile by name, and what was wrong with files that are none.
    #[must_use]
    pub fn list(&self) -> (Vec<(String, String)>, Vec<ProfileError>) {
        let (mut found, mut wrong) = (Vec::new(), Vec::new());
        // A folder that does not exist yet holds nobody.
        for entry in std::fs::read_dir(&self.folder).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.extension().is_none_or(|e| e != "json") {
                continue;
            }
            match (path.file_stem(), read(&path)) {
                (Some(stem), Ok(profile)) => found.push((stem.to_string_lossy().into_owned(), profile.name)),
                (_, Err(error)) => wrong.push(error),
                _ => {}
            }
        }
        found.sort_by_key(|(_, name)| name.to_lowercase());
        (found, wrong)
    }

    /// Reads a profile by its key.
    ///
    /// # Errors
    /// When there is none, or its file cannot be read.
    pub fn load(&self, key: &str) -> Result<Profile, ProfileError> {
        let path = self.path(key)?;
        if path.exists() { read(&path) } else { Err(ProfileError::Missing(key.to_owned())) }
    }

    /// Writes a profile, in place of an older one of the same name; what its ear heard right goes on. Its key.
    ///
    /// # Errors
    /// When the name is none, a file of that name is no profile, or the file cannot be written.
    pub fn save(&self, profile: &Profile) -> Result<String, ProfileError> {
        let key = key_of(&profile.name);
        let path = self.path(&key).map_err(|_| ProfileError::NoName(profile.name.clone()))?;
        let mut profile = profile.clone();
        if path.exists() {
            // A file that somebody else wrote, or a later version's, is not overwritten.
            let before = read(&path)?;
            (profile.ear, profile.page) = (before.ear, before.page);
        }
        put(&path, &profile)?;
        Ok(key)
    }

    /// Counts an answer of *Ear first* in a pupil's file; the record with it.
    ///
    /// # Errors
    /// When there is no such pupil, or the file cannot be read or written.
    pub fn count(&self, key: &str, right: bool) -> Result<EarRecord, ProfileError> {
        let mut profile = self.load(key)?;
        profile.ear.count(right);
        put(&self.path(key)?, &profile)?;
        Ok(profile.ear)
    }

    /// The number under which a project keeps a pupil's pages of statistics. It is drawn by lot, so that it says nothing of who that
    /// is.
    ///
    /// # Errors
    /// When there is no such pupil, or the file cannot be read or written.
    pub fn page(&self, key: &str) -> Result<u32, ProfileError> {
        let mut profile = self.load(key)?;
        if profile.page == 0 {
            profile.page = drawn();
            put(&self.path(key)?, &profile)?;
        }
        Ok(profile.page)
    }

    /// Deletes a profile: its file is gone.
    ///
    /// # Errors
    /// When there is none, or the file cannot be removed.
    pub fn delete(&self, key: &str) -> Result<(), ProfileError> {
        let path = self.path(key)?;
        std::fs::remove_file(&path).map_err(|why| match why.kind() {
            std::io::ErrorKind::NotFound => ProfileError::Missing(key.to_owned()),
            _ => ProfileError::Write(path, why.to_string()),
        })
    }

    fn path(&self, key: &str) -> Result<PathBuf, ProfileError> {
        // A key names a file in this folder and nothing else.
        if key.is_empty() || key_of(key) != key {
            return Err(ProfileError::NoName(key.to_owned()));
        }
        Ok(self.folder.join(format!("{key}.json")))
    }
}

/// A number over 0, drawn by lot.
fn drawn() -> u32 {
    // The library's own hasher is seeded by the system.
    let lot = std::collections::hash_map::RandomState::new().build_hasher().finish();
    u32::try_from(lot >> 32).unwrap_or(0).max(1)
}

/// The key of a name: its letters and digits in lower case (of any script), other runs as one hyphen.
fn key_of(name: &str) -> String {
    let mut key = String::new();
    for c in name.trim().chars().take(LONGEST_NAME) {
        if c.is_alphanumeric() || is_mark(c) {
            key.extend(c.to_lowercase());
        } else if !key.ends_with('-') && !key.is_empty() {
            key.push('-');
        }
    }
    let key = key.trim_end_matches('-');
    // Device names that Windows keeps to itself (Naming Files, Paths, and Namespaces).
    let device = ["con", "prn", "aux", "nul"].contains(&key)
        || ["com", "lpt"].iter().any(|d| key.strip_prefix(d).is_some_and(|n| n.len() == 1 && n != "0"));
    if device { format!("{key}-pupil") } else { key.to_owned() }
}

/// Vowel signs and the virama of the Indian scripts (Unicode blocks Devanagari to Malayalam): parts of a name, though no letters.
fn is_mark(c: char) -> bool {
    ('\u{0900}'..='\u{0D7F}').contains(&c)
}

fn put(path: &Path, profile: &Profile) -> Result<(), ProfileError> {
    let wrong = |why: String| ProfileError::Write(path.to_owned(), why);
    let text = serde_json::to_string_pretty(profile).map_err(|e| wrong(e.to_string()))?;
    write::whole(path, |out| out.write_all(text.as_bytes())).map_err(|e| wrong(e.to_string()))
}

fn read(path: &Path) -> Result<Profile, ProfileError> {
    let bad = |why: String| ProfileError::Bad(path.to_owned(), why);
    let text = std::fs::read_to_string(path).map_err(|e| bad(e.to_string()))?;
    let profile: Profile = serde_json::from_str(&text).map_err(|e| bad(e.to_string()))?;
    if profile.format != FORMAT {
        return Err(bad(format!("its format is \"{}\", not \"{FORMAT}\"", profile.format)));
    }
    if profile.version > VERSION {
        return Err(bad(format!("version {} is newer than this build's {VERSION}", profile.version)));
    }
    Ok(profile)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::swara::tuning::Tuning;
    use crate::units::Cents;

    fn profile(name: &str) -> Profile {
        let sa = SaKnobs { note: 7, octave: 3, trim_cents: -3.5 };
        let settings = Settings {
            sa,
            concert_pitch: 440.0,
            scale: "mela-15".into(),
            tuning: SavedTuning::from(Tuning::Pythagorean),
            nudges: [0.0; 12],
            band: Band { fixed: Cents(20.0), others: Cents(25.0) },
            goal_minutes: 3.0,
            exercises: BTreeMap::from([("long-tone.swara".into(), "P".into())]),
            follow_octave: true,
        };
        Profile::new(name, settings)
    }

    #[test]
    fn kept_read_and_deleted() {
        let folder = tempfile::tempdir().unwrap();
        let profiles = Profiles::new(folder.path().join("deep/er"));
        assert!(profiles.list().0.is_empty());
        let key = profiles.save(&profile("  Kamala R. (Mon)  ")).unwrap();
        let other = profiles.save(&profile("\u{0b95}\u{0bae}\u{0bb2}\u{0bbe}")).unwrap();
        assert_eq!((key.as_str(), other.as_str()), ("kamala-r-mon", "\u{0b95}\u{0bae}\u{0bb2}\u{0bbe}"));
        assert_eq!(profiles.load(&key).unwrap(), profile("Kamala R. (Mon)"));
        assert_eq!(profiles.list().0.len(), 2);
        profiles.delete(&key).unwrap();
        assert!(matches!(profiles.load(&key), Err(ProfileError::Missing(_))));
        assert!(matches!(profiles.delete(&key), Err(ProfileError::Missing(_))));
        assert_eq!(profiles.list().0, [(other.clone(), other)]);
    }

    #[test]
    fn each_pupil_has_their_own_share_of_right_answers_and_keeps_it() {
        let folder = tempfile::tempdir().unwrap();
        let profiles = Profiles::new(folder.path().to_owned());
        let [meena, ravi] = ["Meena", "Ravi"].map(|name| profiles.save(&profile(name)).unwrap());
        for right in [true, true, false] {
            profiles.count(&meena, right).unwrap();
        }
        assert_eq!(profiles.count(&ravi, false).unwrap(), EarRecord { answers: 1, right: 0 });
        // Other settings under the same name leave it as it is.
        profiles.save(&profile("Meena")).unwrap();
        assert_eq!(profiles.load(&meena).unwrap().ear, EarRecord { answers: 3, right: 2 });
        assert!(profiles.count("nobody", true).is_err());
        // And a number of their own, which stays and is no other's.
        let pages = [&meena, &ravi].map(|key| profiles.page(key).unwrap());
        assert!(pages[0] > 0 && pages[1] > 0 && pages[0] != pages[1]);
        profiles.save(&profile("Meena")).unwrap();
        assert_eq!(profiles.page(&meena).unwrap(), pages[0]);
        assert!(profiles.page("nobody").is_err());
    }

    #[test]
    fn a_bad_file_is_named_and_left_as_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let profiles = Profiles::new(folder.path().to_owned());
        let newer = serde_json::to_string(&Profile { version: 99, ..profile("later") }).unwrap();
        for (name, text) in [("broken", "{"), ("other", r#"{"format":"x"}"#), ("later", newer.as_str())] {
            std::fs::write(folder.path().join(format!("{name}.json")), text).unwrap();
            assert!(matches!(profiles.load(name), Err(ProfileError::Bad(..))), "{name}");
            let said = profiles.save(&profile(name)).unwrap_err().to_string();
            assert!(said.contains(name) && said.contains("left as it is"), "{said}");
            assert_eq!(std::fs::read_to_string(folder.path().join(format!("{name}.json"))).unwrap(), text);
        }
        let (found, wrong) = profiles.list();
        assert_eq!((found.len(), wrong.len()), (0, 3));
    }

    #[test]
    fn a_key_stays_in_its_folder_and_a_name_needs_a_letter() {
        let folder = tempfile::tempdir().unwrap();
        let profiles = Profiles::new(folder.path().to_owned());
        for key in ["../up", "a/b", "", "..", "A"] {
            assert!(matches!(profiles.load(key), Err(ProfileError::NoName(_))), "{key}");
            assert!(profiles.delete(key).is_err());
        }
        assert!(matches!(profiles.save(&profile(" ?! ")), Err(ProfileError::NoName(_))));
        assert_eq!(profiles.save(&profile("COM1")).unwrap(), "com1-pupil");
    }
}
