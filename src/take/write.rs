//! Puts a result on the disk so that a reader finds either the old file or the whole new one.
//!
//! In: a path and what to write. Out: the file, made beside its place under a passing name and moved there when
//! complete; folders on the way are made. A failure leaves what was there before. A link is followed, and what is no file but
//! a device or a pipe is written to as it is: it must never be put aside for a file. [`places`] says where
//! the results of each take go: a take given as a file lies directly in the folder, one found inside a folder
//! keeps its relative path, and no two takes share a name.

use super::error::TakeError;
use std::collections::HashSet;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

/// Writes `path` whole or not at all.
///
/// # Errors
/// [`TakeError::Write`] names the file.
pub fn whole(path: &Path, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<(), TakeError> {
    let failed = |why| TakeError::Write(path.to_owned(), why);
    let to = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    if std::fs::metadata(&to).is_ok_and(|there| !there.is_file() && !there.is_dir()) {
        let mut out = BufWriter::new(std::fs::OpenOptions::new().write(true).open(&to).map_err(failed)?);
        return fill(&mut out).and_then(|()| out.flush()).map_err(failed);
    }
    let folder = to.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or_else(|| Path::new("."));
    std::fs::create_dir_all(folder).map_err(failed)?;
    let mut builder = tempfile::Builder::new();
    builder.prefix(".achala-");
    share_with_readers(&mut builder);
    let mut passing = builder.tempfile_in(folder).map_err(failed)?;
    let mut out = BufWriter::new(passing.as_file_mut());
    fill(&mut out).and_then(|()| out.flush()).map_err(failed)?;
    drop(out);
    passing.persist(&to).map_err(|e| failed(e.error))?;
    Ok(())
}

/// Passing files are private by default; results get the rights of any new file (the user's mask applies).
fn share_with_readers(builder: &mut tempfile::Builder<'_, '_>) {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    #[cfg(not(unix))]
    let _ = builder;
}

/// A take to be checked and where its results belong, relative to the output folder and without an ending.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// The take.
    pub take: PathBuf,
    /// Relative path of the results, without `.html`, `.notes.csv` and `.json`.
    pub stem: PathBuf,
}

/// The takes among `given` files and folders, in order, with a place for each.
///
/// Folders are searched through, hidden entries left out, by name. Where two takes would share a place (`a.wav` and
/// `a.mp3`, or equal names from two folders), the later ones bear their ending and, if need be, a number.
///
/// The second list names each given folder that cannot be read or holds no take; the others are still in the first.
#[must_use]
pub fn places(given: &[PathBuf]) -> (Vec<Place>, Vec<TakeError>) {
    let (mut found, mut errors, mut used) = (Vec::new(), Vec::new(), HashSet::new());
    for path in given {
        if !path.is_dir() {
            let name = path.file_name().map_or_else(|| path.clone(), PathBuf::from);
            found.push(place(path.clone(), &name, &mut used));
            continue;
        }
        let mut inside = Vec::new();
        if let Err(why) = search(path, &mut inside, 0) {
            errors.push(TakeError::Unreadable(path.clone(), why));
        } else if inside.is_empty() {
            errors.push(TakeError::NoTakes(path.clone()));
        }
        for take in inside {
            let relative = take.strip_prefix(path).map_or_else(|_| take.clone(), Path::to_path_buf);
            found.push(place(take, &relative, &mut used));
        }
    }
    (found, errors)
}

/// Folders deeper than this are not searched: a loop of links ends here.
const DEEPEST: usize = 32;

fn search(folder: &Path, found: &mut Vec<PathBuf>, depth: usize) -> io::Result<()> {
    let mut entries = std::fs::read_dir(folder)?.map(|e| e.map(|e| e.path())).collect::<io::Result<Vec<_>>>()?;
    entries.sort();
    for path in entries {
        let hidden = path.file_name().is_some_and(|n| n.to_string_lossy().starts_with('.'));
        if hidden {
            continue;
        }
        if path.is_dir() {
            if depth < DEEPEST {
                search(&path, found, depth + 1)?;
            }
        } else if is_take(&path) {
            found.push(path);
        }
    }
    Ok(())
}

fn is_take(path: &Path) -> bool {
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
    ending.is_some_and(|e| super::decode::ENDINGS.contains(&e.as_str()))
}

fn place(take: PathBuf, relative: &Path, used: &mut HashSet<String>) -> Place {
    let ending = relative.extension().map(|e| e.to_string_lossy().to_lowercase()).unwrap_or_default();
    let plain = relative.with_extension("");
    let name = plain.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let numbered = (2..).map(|n| plain.with_file_name(format!("{name}-{ending}-{n}")));
    let choices = [plain.clone(), plain.with_file_name(format!("{name}-{ending}"))].into_iter().chain(numbered);
    // Compared without case, since some file systems do not tell `A.html` from `a.html`; `index` belongs to the
    // page over all takes.
    let mut free = |p: &PathBuf| {
        let key = p.to_string_lossy().to_lowercase();
        key != "index" && used.insert(key)
    };
    let stem = choices.into_iter().find(|p| free(p)).unwrap_or(plain);
    Place { take, stem }
}

/// `stem` under `folder` with `ending` put behind it (a dot in the name stays).
#[must_use]
pub fn result_path(folder: &Path, stem: &Path, ending: &str) -> PathBuf {
    let mut name = folder.join(stem).into_os_string();
    name.push(ending);
    PathBuf::from(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_write_leaves_the_old_file_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("report.html");
        whole(&path, |out| out.write_all(b"old")).unwrap();
        let failed = whole(&path, |out| {
            out.write_all(&[b'n'; 100_000])?;
            Err(io::Error::other("the disk is full"))
        });
        assert!(failed.unwrap_err().to_string().contains("report.html"));
        assert_eq!(std::fs::read(&path).unwrap(), b"old");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
        whole(&path, |out| out.write_all(b"new")).unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"new");
    }

    #[cfg(unix)]
    #[test]
    fn a_link_stays_one_and_a_device_is_never_put_aside() {
        let folder = tempfile::tempdir().unwrap();
        let (file, link, device) =
            (folder.path().join("file"), folder.path().join("link"), folder.path().join("device"));
        std::fs::write(&file, b"old").unwrap();
        std::os::unix::fs::symlink(&file, &link).unwrap();
        std::os::unix::fs::symlink("/dev/null", &device).unwrap();
        for to in [&link, &device] {
            whole(to, |out| out.write_all(b"new")).unwrap();
            assert!(std::fs::symlink_metadata(to).unwrap().is_symlink(), "{}", to.display());
        }
        assert_eq!(std::fs::read(&file).unwrap(), b"new");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 3);
    }

    #[test]
    fn no_two_takes_share_a_place() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        for name in
            ["in/a.wav", "in/a.mp3", "in/A.wav", "in/sub/a.wav", "in/index.wav", "in/.hidden.wav", "in/notes.txt"]
        {
            std::fs::create_dir_all(at(name).parent().unwrap()).unwrap();
            std::fs::write(at(name), b"").unwrap();
        }
        let (places, errors) = places(&[at("in"), at("in/sub/a.wav"), at("gone.wav")]);
        assert!(errors.is_empty());
        let stems: Vec<_> = places.iter().map(|p| p.stem.to_string_lossy().replace('\\', "/")).collect();
        assert_eq!(stems, ["A", "a-mp3", "a-wav", "index-wav", "sub/a", "a-wav-2", "gone"]);
    }

    #[test]
    fn dots_in_a_name_stay() {
        assert_eq!(result_path(Path::new("out"), Path::new("take.1"), ".notes.csv"), Path::new("out/take.1.notes.csv"));
    }
}
