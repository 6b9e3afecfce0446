//! The house rules that a compiler does not check: who may know whom, and that every file opens
//! with a sentence about itself.

#![expect(clippy::print_stdout, reason = "a command speaks on the terminal")]

use anyhow::{Context, Result, bail};
use std::path::{Path, PathBuf};

/// Which rooms a room may import; a room may always import itself. In the order of the flow.
const MAY_KNOW: &[(&str, &[&str])] = &[
    ("units", &[]),
    ("input", &["units"]),
    ("pitch", &["units", "input"]),
    ("bleed", &["units", "input", "pitch"]),
    ("swara", &["units", "pitch"]),
    ("tonic", &["units", "input", "pitch", "swara"]),
    ("note", &["units", "pitch", "swara"]),
    ("meter", &["units", "swara", "note"]),
    ("exercise", &["units", "pitch", "swara", "note"]),
    ("listener", &["units", "input", "pitch", "bleed", "swara", "tonic", "note", "meter", "exercise"]),
    ("drone", &["units", "swara"]),
    ("voice", &["units", "swara"]),
    ("take", &["units", "input", "pitch", "swara", "tonic", "note", "meter", "listener", "drone", "voice"]),
    ("shell", &["units", "input", "pitch", "swara", "tonic", "note", "meter", "exercise", "listener", "drone", "take"]),
    (
        "editor",
        &["units", "pitch", "swara", "tonic", "note", "meter", "exercise", "listener", "take", "drone", "shell"],
    ),
    (
        "plugin",
        &[
            "units", "input", "pitch", "swara", "tonic", "note", "meter", "exercise", "listener", "drone", "take",
            "shell", "editor",
        ],
    ),
];

/// Rooms below the line: they may use the plugin framework and the window.
const OUTER: &[&str] = &["shell", "editor", "plugin", "bin"];

/// Words that do not occur in the core, and why.
const NOT_IN_CORE: &[(&str, &str)] = &[
    ("nice_plug", "the core does not know the plugin framework"),
    ("egui", "the core does not know the window"),
    ("std::thread", "the core runs on its caller's thread"),
    ("Mutex", "the core never locks"),
    ("std::time", "time in the core is counted in samples"),
];

/// Fails with every place that breaks a rule.
pub(crate) fn tidy() -> Result<()> {
    let mut wrong = Vec::new();
    let files = rust_files(Path::new("src"))?;
    for file in &files {
        let text = std::fs::read_to_string(file).with_context(|| format!("{} cannot be read", file.display()))?;
        look(file, &text, &mut wrong);
    }
    if !wrong.is_empty() {
        bail!("{} breaches of the house rules:\n  {}", wrong.len(), wrong.join("\n  "));
    }
    println!("Tidy: {} files keep the house rules.", files.len());
    Ok(())
}

fn look(file: &Path, text: &str, wrong: &mut Vec<String>) {
    let name = file.display();
    if !text.starts_with("//!") {
        wrong.push(format!("{name}: opens without a `//!` sentence"));
    }
    let Some(room) = room_of(file) else { return };
    let rule = MAY_KNOW.iter().find(|(r, _)| *r == room);
    if rule.is_none() && !OUTER.contains(&room.as_str()) && room != "lib" {
        wrong.push(format!("{name}: the room '{room}' is not in the list of rooms"));
    }
    // Tests may time, read files and look at other rooms.
    let only_tests = file.file_name().is_some_and(|name| name == "tests.rs");
    let shipped = text.lines().enumerate().take_while(|(_, line)| !only_tests && *line != "mod tests {");
    for (number, line) in shipped {
        let code = line.split("//").next().unwrap_or("");
        if let Some((_, known)) = rule {
            for used in used_rooms(code) {
                let exists = MAY_KNOW.iter().any(|(r, _)| *r == used);
                if exists && used != room && !known.contains(&used.as_str()) {
                    wrong.push(format!("{name}:{}: '{room}' may not know '{used}'", number + 1));
                }
            }
        }
        if !OUTER.contains(&room.as_str()) && room != "lib" {
            for (word, why) in NOT_IN_CORE.iter().filter(|(w, _)| code.contains(w)) {
                wrong.push(format!("{name}:{}: '{word}': {why}", number + 1));
            }
            if code.contains("std::fs") && room != "take" {
                wrong.push(format!("{name}:{}: only 'take' touches files", number + 1));
            }
        }
    }
}

/// The rooms named after `crate::` in a line, `use crate::{a, b}` included.
fn used_rooms(code: &str) -> Vec<String> {
    let mut found = Vec::new();
    for tail in code.split("crate::").skip(1) {
        let word = |s: &str| s.trim().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>();
        if let Some(list) = tail.strip_prefix('{') {
            found.extend(list.split(',').map(word).filter(|w| !w.is_empty()));
        } else {
            found.push(word(tail));
        }
    }
    found
}

fn room_of(file: &Path) -> Option<String> {
    let inside = file.strip_prefix("src").ok()?;
    let first = inside.components().next()?.as_os_str().to_str()?;
    Some(first.trim_end_matches(".rs").to_owned())
}

fn rust_files(folder: &Path) -> Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).with_context(|| format!("{} cannot be listed", folder.display()))? {
        let path = entry?.path();
        if path.is_dir() {
            found.extend(rust_files(&path)?);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_room_that_looks_ahead_is_named_with_its_line() {
        let mut wrong = Vec::new();
        look(Path::new("src/pitch/mod.rs"), "//! x\nuse crate::note::Note;\nuse crate::{units, meter};\n", &mut wrong);
        assert_eq!(wrong.len(), 2, "{wrong:?}");
        assert!(wrong[0].contains("src/pitch/mod.rs:2"));
    }

    #[test]
    fn tests_may_look_at_other_rooms() {
        let mut wrong = Vec::new();
        look(Path::new("src/bleed/tests.rs"), "//! x\nuse crate::drone::render;\n", &mut wrong);
        look(Path::new("src/bleed/x.rs"), "//! x\n#[cfg(test)]\nmod tests {\n    use crate::drone;\n}\n", &mut wrong);
        assert!(wrong.is_empty(), "{wrong:?}");
    }

    #[test]
    fn the_core_may_not_name_the_framework_or_lock() {
        let mut wrong = Vec::new();
        look(Path::new("src/note/mod.rs"), "//! x\nuse nice_plug::prelude::*;\nuse std::sync::Mutex;\n", &mut wrong);
        assert_eq!(wrong.len(), 2, "{wrong:?}");
    }

    #[test]
    fn a_file_without_its_sentence_is_named() {
        let mut wrong = Vec::new();
        look(Path::new("src/units.rs"), "pub struct X;\n", &mut wrong);
        assert_eq!(wrong.len(), 1, "{wrong:?}");
    }
}
