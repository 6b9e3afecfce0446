//! Letters for names in Tamil, Devanagari and the other scripts of the music, taken from the system's own fonts.
//!
//! In: the folders where systems keep fonts. Out: egui's font definitions, its own fonts first, the found ones as
//! fallbacks; and names as they can be drawn: what has no font on the machine is left out and said, see [`shown`]. Cost: once per opening, a
//! walk over the folders' names and the reading of a few files. Only whole font files are taken: one that cannot
//! be parsed is passed over.

use super::scripts;
use egui::{Context, FontData, FontDefinitions, FontFamily, FontId};
use std::borrow::Cow;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Beginnings of file names, lower case without spaces, that carry these scripts on the usual systems; one of each
/// group is enough: the first holds all of them, the others one each.
const WANTED: [(&str, &[&str]); 11] = [
    ("all", &["nirmala."]),
    ("tamil", &["notosanstamil-regular", "notosanstamil[", "lohit-tamil.", "tamilsangammn", "tamilmn"]),
    (
        "devanagari",
        &["notosansdevanagari-regular", "notosansdevanagari[", "lohit-devanagari", "kohinoor.", "devanagarisangammn"],
    ),
    ("telugu", &["notosanstelugu-regular", "notosanstelugu[", "lohit-telugu", "kohinoortelugu", "telugusangammn"]),
    (
        "kannada",
        &["notosanskannada-regular", "notosanskannada[", "lohit-kannada", "notosanskannada.", "kannadasangammn"],
    ),
    ("malayalam", &["notosansmalayalam-regular", "notosansmalayalam[", "lohit-malayalam", "malayalamsangammn"]),
    ("bengali", &["notosansbengali-regular", "notosansbengali[", "lohit-bengali", "banglasangammn", "banglamn"]),
    (
        "gurmukhi",
        &["notosansgurmukhi-regular", "notosansgurmukhi[", "lohit-gurmukhi", "gurmukhisangammn", "gurmukhimn"],
    ),
    (
        "gujarati",
        &["notosansgujarati-regular", "notosansgujarati[", "lohit-gujarati", "gujaratisangammn", "gujaratimn"],
    ),
    ("odia", &["notosansoriya-regular", "notosansoriya[", "lohit-odia", "lohit-oriya", "oriyasangammn", "oriyamn"]),
    ("sinhala", &["notosanssinhala-regular", "notosanssinhala[", "lklug", "sinhalasangammn", "sinhalamn"]),
];
/// How deep folders are walked, and how many names are looked at: a bound, not a need.
const WALK: (usize, usize) = (5, 20_000);

/// Where systems keep fonts.
fn folders() -> Vec<PathBuf> {
    let mut out: Vec<PathBuf> =
        ["/usr/share/fonts", "/usr/local/share/fonts", "/System/Library/Fonts", "/Library/Fonts"]
            .map(PathBuf::from)
            .to_vec();
    if let Some(windows) = std::env::var_os("WINDIR") {
        out.push(PathBuf::from(windows).join("Fonts"));
    }
    if let Some(home) = std::env::var_os("HOME") {
        let home = PathBuf::from(home);
        out.extend([home.join(".local/share/fonts"), home.join(".fonts"), home.join("Library/Fonts")]);
    }
    out
}

/// The font files for the wanted scripts under `folders`, at most one for each script.
fn found(folders: &[PathBuf]) -> Vec<(&'static str, PathBuf)> {
    let mut best: [Option<(usize, PathBuf)>; WANTED.len()] = Default::default();
    let mut left: Vec<(PathBuf, usize)> = folders.iter().map(|f| (f.clone(), 0)).collect();
    let mut seen = 0;
    while let Some((folder, depth)) = left.pop() {
        let Ok(entries) = std::fs::read_dir(&folder) else { continue };
        for entry in entries.flatten() {
            seen += 1;
            if seen > WALK.1 {
                break;
            }
            let path = entry.path();
            if entry.file_type().is_ok_and(|t| t.is_dir()) {
                if depth < WALK.0 {
                    left.push((path, depth + 1));
                }
                continue;
            }
            let name = entry.file_name().to_string_lossy().to_lowercase().replace(' ', "");
            for ((_, starts), best) in WANTED.iter().zip(&mut best) {
                let rank = starts.iter().position(|s| name.starts_with(s));
                if let Some(rank) = rank.filter(|r| best.as_ref().is_none_or(|(old, _)| r < old)) {
                    *best = Some((rank, path.clone()));
                }
            }
        }
    }
    WANTED.iter().zip(best).filter_map(|((script, _), best)| best.map(|(_, path)| (*script, path))).collect()
}

/// Reads a font file, if it is one.
fn read(path: &Path) -> Option<Vec<u8>> {
    let bytes = std::fs::read(path).ok()?;
    skrifa::FontRef::from_index(&bytes, 0).is_ok().then_some(bytes)
}

/// egui's fonts, with the system's as fallbacks for the scripts of the music.
#[must_use]
pub(super) fn definitions() -> FontDefinitions {
    with(&folders())
}

fn with(folders: &[PathBuf]) -> FontDefinitions {
    let mut fonts = FontDefinitions::default();
    scripts::widthless(&mut fonts);
    for (script, path) in found(folders) {
        let Some(bytes) = read(&path) else { continue };
        fonts.font_data.insert(script.to_owned(), Arc::new(FontData::from_owned(bytes)));
        for family in [FontFamily::Proportional, FontFamily::Monospace] {
            fonts.families.entry(family).or_default().push(script.to_owned());
        }
    }
    fonts
}

/// `text` as it can be drawn here, with breaks where a long word may have them: a word with a letter that has no font is left out, since
/// what is left of it would be another name, and its script is named in its place.
pub(super) fn shown<'a>(ctx: &Context, text: &'a str) -> Cow<'a, str> {
    if text.is_ascii() {
        return Cow::Borrowed(text);
    }
    let font = FontId::default();
    let missing = |word: &str| {
        ctx.fonts_mut(|fonts| {
            let mut has = |c: char| !scripts::arabic(c) && fonts.has_glyph(&font, c);
            word.chars().find(|c| !c.is_whitespace() && !scripts::joiner(*c) && !has(*c))
        })
    };
    let Some(first) = missing(text) else {
        return if text.chars().any(|c| scripts::of(c).is_some()) {
            Cow::Owned(scripts::parted(text))
        } else {
            Cow::Borrowed(text)
        };
    };
    let left: Vec<&str> = text.split_whitespace().filter(|word| missing(word).is_none()).collect();
    let why = if scripts::arabic(first) {
        "Arabic: not drawn here".to_owned()
    } else {
        format!("{}: no font here", scripts::of(first).unwrap_or("another script"))
    };
    Cow::Owned(format!("{} ({why})", scripts::parted(&left.join(" "))).trim_start().to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(fonts: FontDefinitions, text: &str) -> String {
        let ctx = Context::default();
        ctx.set_fonts(fonts);
        let mut out = String::new();
        let mut output = ctx.run_ui(egui::RawInput::default(), |ui| out = shown(ui.ctx(), text).into_owned());
        output.textures_delta.clear();
        out
    }

    #[test]
    fn a_name_without_a_font_is_left_out_and_its_script_said() {
        let plain = FontDefinitions::default;
        assert_eq!(drawn(plain(), "Meena"), "Meena");
        assert_eq!(drawn(plain(), "Sa −13 · Ré"), "Sa −13 · Ré");
        assert_eq!(drawn(plain(), "மீனா"), "(Tamil: no font here)");
        assert_eq!(drawn(plain(), "मीना 2"), "2 (Devanagari: no font here)");
        assert_eq!(drawn(plain(), "Meena-मीना 2"), "2 (Devanagari: no font here)", "half a word is another word");
        for (name, script) in
            [("মীনা", "Bengali"), ("ਮੀਨਾ", "Gurmukhi"), ("મીના", "Gujarati"), ("ମୀନା", "Odia"), ("මීනා", "Sinhala")]
        {
            assert_eq!(drawn(plain(), name), format!("({script}: no font here)"));
            assert!(WANTED.iter().any(|(wanted, _)| wanted.eq_ignore_ascii_case(script)), "{script} is sought");
        }
        assert_eq!(drawn(definitions(), "مینا 2"), "2 (Arabic: not drawn here)");
        let system = definitions();
        if system.font_data.contains_key("tamil") {
            assert_eq!(drawn(system, "மீனா"), "மீனா");
        } else {
            println!("skipped: there is no Tamil font on this machine");
        }
    }

    #[test]
    fn the_better_font_is_taken_and_a_broken_one_passed_over() {
        let folder = tempfile::tempdir().unwrap();
        let deep = folder.path().join("truetype/lohit");
        std::fs::create_dir_all(&deep).unwrap();
        let whole = FontDefinitions::default().font_data.values().next().unwrap().font.clone();
        std::fs::write(deep.join("Lohit-Tamil.ttf"), (*whole).as_ref()).unwrap();
        std::fs::write(folder.path().join("NotoSansTamil-Regular.ttf"), (*whole).as_ref()).unwrap();
        std::fs::write(folder.path().join("NotoSansDevanagari-Regular.ttf"), b"not a font").unwrap();
        for other in
            ["Bangla MN.ttc", "Lohit-Gurmukhi.ttf", "NotoSansGujarati[wght].ttf", "lohit-odia.ttf", "lklug.ttf"]
        {
            std::fs::write(folder.path().join(other), (*whole).as_ref()).unwrap();
        }
        let folders = [folder.path().to_path_buf(), folder.path().join("missing")];
        let names: Vec<_> = found(&folders).into_iter().map(|(s, p)| (s, p.file_name().unwrap().to_owned())).collect();
        assert_eq!(names.len(), 7);
        assert!(names.contains(&("tamil", "NotoSansTamil-Regular.ttf".into())));
        let fonts = with(&folders);
        assert!(fonts.font_data.contains_key("tamil"));
        assert!(!fonts.font_data.contains_key("devanagari"));
        for script in ["bengali", "gurmukhi", "gujarati", "odia", "sinhala"] {
            assert!(fonts.font_data.contains_key(script), "{script}");
        }
    }

    /// The shapes of a text from left to right, each as the size that it is drawn with, pixels.
    fn shapes(fonts: &FontDefinitions, text: &str) -> Vec<egui::Vec2> {
        let ctx = Context::default();
        ctx.set_fonts(fonts.clone());
        let mut found = Vec::new();
        let mut output = ctx.run_ui(egui::RawInput::default(), |ui| {
            let font = FontId::proportional(24.0);
            let galley = ui.painter().layout_no_wrap(text.to_owned(), font, egui::Color32::WHITE);
            found = galley.rows.iter().flat_map(|row| &row.glyphs).map(|glyph| glyph.uv_rect.size).collect();
        });
        output.textures_delta.clear();
        found.retain(|size| size.x > 0.0);
        found
    }

    /// The sign for i stands before ka, though it is typed after it; ka and ssa are one shape; the sign for o stands about ka, as e before
    /// it and aa after it: as HarfBuzz 12 gives them with Noto Sans.
    #[test]
    fn signs_stand_where_their_script_has_them_and_conjuncts_are_one_shape() {
        // To the pixel: a shape may stand between two of them.
        let alike = |a: &egui::Vec2, b: &egui::Vec2| (*a - *b).abs().max_elem() <= 1.0;
        let fonts = definitions();
        if fonts.font_data.contains_key("devanagari") {
            let (ka, ki) = (shapes(&fonts, "क"), shapes(&fonts, "कि"));
            assert!(ki.len() == 2 && !alike(&ki[0], &ka[0]) && alike(&ki[1], &ka[0]), "{ka:?} {ki:?}");
            assert_eq!(shapes(&fonts, "क्ष").len(), 1);
        } else {
            println!("skipped: there is no Devanagari font on this machine");
        }
        if fonts.font_data.contains_key("tamil") {
            let (ka, e, aa, ko) =
                (shapes(&fonts, "க"), shapes(&fonts, "கெ"), shapes(&fonts, "கா"), shapes(&fonts, "கொ"));
            assert!(e.len() == 2 && alike(&e[1], &ka[0]) && !alike(&e[0], &ka[0]), "{ka:?} {e:?}");
            assert!(ko.len() == 3 && ko.iter().zip([&e[0], &ka[0], &aa[1]]).all(|(a, b)| alike(a, b)), "{ko:?} {aa:?}");
        } else {
            println!("skipped: there is no Tamil font on this machine");
        }
    }
}
