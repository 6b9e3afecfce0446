//! Copies the bundles to the user's own plugin folders; never over somebody else's plugin.
//!
//! The folders are the standard ones: CLAP's from the header `clap/entry.h` of the CLAP standard,
//! VST3's from Steinberg's "VST 3 locations / format structure" page.

#![expect(clippy::print_stdout, reason = "a command speaks on the terminal")]

use crate::run::target_dir;
use anyhow::{Context, Result, bail};
use std::path::{Path, PathBuf};

/// Proves that an installed bundle is ours: a file in the bundle, or beside a single-file bundle.
const MARK: &str = "achala-installed.txt";

/// Copies what `cargo xtask bundle achala --release` made and says what went where.
pub(crate) fn install() -> Result<()> {
    let bundled = target_dir().join("bundled");
    let mut found = 0;
    for (name, folder) in [("Achala.clap", plugin_folder("CLAP")?), ("Achala.vst3", plugin_folder("VST3")?)] {
        let from = bundled.join(name);
        if !from.exists() {
            continue;
        }
        found += 1;
        let to = folder.join(name);
        place(&from, &to)?;
        println!("{} -> {}", from.display(), to.display());
    }
    if found == 0 {
        bail!("there are no bundles in {}: run `cargo xtask bundle achala --release` first", bundled.display());
    }
    println!("Now let your host rescan its plugins.");
    Ok(())
}

/// Puts a bundle in place; what stands there is replaced only if we put it there.
fn place(from: &Path, to: &Path) -> Result<()> {
    let folder = to.parent().context("the plugin folder has no parent")?;
    std::fs::create_dir_all(folder).with_context(|| format!("cannot make {}", folder.display()))?;
    let mark = folder.join(format!(".{}.{MARK}", to.file_name().unwrap_or_default().to_string_lossy()));
    if to.exists() && !mark.exists() {
        bail!("{} is there and was not put there by this command: move it away, then run this again", to.display());
    }
    // The new copy stands complete beside the old one before it takes its name.
    let fresh = folder.join(format!(".{}.new", to.file_name().unwrap_or_default().to_string_lossy()));
    remove(&fresh)?;
    copy(from, &fresh)?;
    remove(to)?;
    std::fs::rename(&fresh, to).with_context(|| format!("cannot rename {} to {}", fresh.display(), to.display()))?;
    std::fs::write(&mark, "Put here by `cargo xtask install`; it may replace the bundle beside it.\n")?;
    Ok(())
}

fn remove(path: &Path) -> Result<()> {
    if path.is_dir() {
        std::fs::remove_dir_all(path).with_context(|| format!("cannot remove {}", path.display()))?;
    } else if path.exists() {
        std::fs::remove_file(path).with_context(|| format!("cannot remove {}", path.display()))?;
    }
    Ok(())
}

fn copy(from: &Path, to: &Path) -> Result<()> {
    if from.is_dir() {
        std::fs::create_dir_all(to)?;
        for entry in std::fs::read_dir(from)? {
            let entry = entry?;
            copy(&entry.path(), &to.join(entry.file_name()))?;
        }
    } else {
        std::fs::copy(from, to).with_context(|| format!("cannot copy {} to {}", from.display(), to.display()))?;
    }
    Ok(())
}

fn home() -> Result<PathBuf> {
    let variable = if cfg!(windows) { "LOCALAPPDATA" } else { "HOME" };
    std::env::var_os(variable).map(PathBuf::from).with_context(|| format!("the variable {variable} is not set"))
}

/// The user's folder for a format: `CLAP` or `VST3`.
fn plugin_folder(format: &str) -> Result<PathBuf> {
    let home = home()?;
    Ok(if cfg!(windows) {
        home.join("Programs/Common").join(format)
    } else if cfg!(target_os = "macos") {
        home.join("Library/Audio/Plug-Ins").join(format)
    } else {
        home.join(format!(".{}", format.to_lowercase()))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ours_is_replaced_and_anothers_is_left_alone() {
        let dir = std::env::temp_dir().join(format!("achala-install-{}", std::process::id()));
        let (from, to) = (dir.join("new/Achala.clap"), dir.join("plugins/Achala.clap"));
        std::fs::create_dir_all(dir.join("new")).unwrap();
        std::fs::write(&from, "one").unwrap();
        place(&from, &to).unwrap();
        std::fs::write(&from, "two").unwrap();
        place(&from, &to).unwrap();
        assert_eq!(std::fs::read_to_string(&to).unwrap(), "two");
        let other = dir.join("others/Achala.clap");
        std::fs::create_dir_all(dir.join("others")).unwrap();
        std::fs::write(&other, "somebody else's").unwrap();
        let error = place(&from, &other).unwrap_err().to_string();
        assert!(error.contains("move it away"), "{error}");
        assert_eq!(std::fs::read_to_string(&other).unwrap(), "somebody else's");
        std::fs::remove_dir_all(&dir).unwrap();
    }
}
