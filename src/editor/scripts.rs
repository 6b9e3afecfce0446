//! The scripts that names are written in: what each is called, and where a word of it may be parted.
//!
//! In: text. Out: the script of a letter; the text with places to break a line. The toolkit shapes a run (vowel signs before their
//! consonant, conjuncts), but takes all of a run for one script, and where a word is wider than its place it breaks between any two
//! shapes of it, within a syllable too. So a break of no width stands between syllables of a long word and between two scripts;
//! [`widthless`] makes it one. Syllables: extended grapheme clusters (Unicode Standard Annex 29), and what a virama joins.

use egui::FontDefinitions;
use std::ops::RangeInclusive;
use std::sync::Arc;
use unicode_segmentation::UnicodeSegmentation;

/// Where these scripts lie in Unicode (The Unicode Standard, Blocks.txt), and what they are called.
const SCRIPTS: [(RangeInclusive<char>, &str); 10] = [
    ('\u{900}'..='\u{97f}', "Devanagari"),
    ('\u{980}'..='\u{9ff}', "Bengali"),
    ('\u{a00}'..='\u{a7f}', "Gurmukhi"),
    ('\u{a80}'..='\u{aff}', "Gujarati"),
    ('\u{b00}'..='\u{b7f}', "Odia"),
    ('\u{b80}'..='\u{bff}', "Tamil"),
    ('\u{c00}'..='\u{c7f}', "Telugu"),
    ('\u{c80}'..='\u{cff}', "Kannada"),
    ('\u{d00}'..='\u{d7f}', "Malayalam"),
    ('\u{d80}'..='\u{dff}', "Sinhala"),
];
/// Arabic, which Urdu is written in too, with its supplement: it runs from right to left, which egui does not draw, whatever fonts
/// there are.
const ARABIC: [RangeInclusive<char>; 2] = ['\u{600}'..='\u{6ff}', '\u{750}'..='\u{77f}'];
/// Joiners, which have no shape of their own.
const JOINERS: RangeInclusive<char> = '\u{200b}'..='\u{200d}';
/// The signs of these scripts that take a consonant's vowel away and may join it to the next.
const VIRAMAS: [char; 10] =
    ['\u{94d}', '\u{9cd}', '\u{a4d}', '\u{acd}', '\u{b4d}', '\u{bcd}', '\u{c4d}', '\u{ccd}', '\u{d4d}', '\u{dca}'];
/// A word of so many syllables has room everywhere and is not parted (our choice: the toolkit would rather break it than begin a line
/// with it).
const WHOLE: usize = 6;
/// The break: to the toolkit a space whose width is told with the font.
const BREAK: char = '\u{2009}';

/// What the script of a letter is called; `None` for others than these.
#[must_use]
pub(super) fn of(c: char) -> Option<&'static str> {
    SCRIPTS.iter().find(|(range, _)| range.contains(&c)).map(|(_, name)| *name)
}

/// Whether a letter is Arabic.
#[must_use]
pub(super) fn arabic(c: char) -> bool {
    ARABIC.iter().any(|range| range.contains(&c))
}

/// Whether it joins or parts letters and has no shape.
#[must_use]
pub(super) fn joiner(c: char) -> bool {
    JOINERS.contains(&c)
}

/// The text with breaks.
#[must_use]
pub(super) fn parted(text: &str) -> String {
    text.split_inclusive(char::is_whitespace).map(word).collect()
}

fn word(word: &str) -> String {
    let mut syllables: Vec<String> = Vec::new();
    for cluster in word.graphemes(true) {
        match syllables.last_mut() {
            Some(last) if last.ends_with(VIRAMAS) || last.ends_with(joiner) => last.push_str(cluster),
            _ => syllables.push(cluster.to_owned()),
        }
    }
    let long = syllables.len() > WHOLE;
    let script = |syllable: &str| syllable.chars().next().and_then(of);
    let mut out = String::with_capacity(word.len());
    let mut before = None;
    for syllable in &syllables {
        let here = script(syllable);
        if before.is_some() && here.is_some() && (long || before != here) {
            out.push(BREAK);
        }
        out.push_str(syllable);
        before = here;
    }
    out
}

/// Fonts in which a break has no width.
pub(super) fn widthless(fonts: &mut FontDefinitions) {
    for data in fonts.font_data.values_mut() {
        Arc::make_mut(data).tweak.thin_space_width = 0.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::{Color32, FontId};

    #[test]
    fn a_word_is_parted_between_syllables_only() {
        for whole in ["Meena", "கொம்பு", "श्रीराग", "क्षिति 2", "A Latin word of any length: Dheerasankarabharanam"]
        {
            assert_eq!(parted(whole), whole);
        }
        let marked = |text: &str| parted(text).replace(BREAK, "|");
        // The sign that is drawn before its consonant stays with it, and so do both halves of one that stands about it.
        assert_eq!(marked("शङ्कराभरणम्कल्याणि"), "श|ङ्क|रा|भ|र|ण|म्क|ल्या|णि");
        assert_eq!(marked("தோடிகொம்புகௌரிகல்யாணி"), "தோ|டி|கொ|ம்பு|கௌ|ரி|க|ல்யா|ணி");
        assert_eq!(marked("க்ஷிதிக்ஷிதிகொகோகௌகி"), "க்ஷி|தி|க்ஷி|தி|கொ|கோ|கௌ|கி");
        assert_eq!(marked("മോഹനശ്രീരാഗകൊമ്പ"), "മോ|ഹ|ന|ശ്രീ|രാ|ഗ|കൊ|മ്പ");
        // The shaper takes a run of one font for one script.
        assert_eq!(marked("किகொ"), "कि|கொ");
    }

    #[test]
    fn a_break_has_no_width_and_begins_a_line() {
        let ctx = egui::Context::default();
        let mut fonts = FontDefinitions::default();
        widthless(&mut fonts);
        ctx.set_fonts(fonts);
        let mut output = ctx.run_ui(egui::RawInput::default(), |ui| {
            let laid = |text: &str, width: f32| {
                ui.painter().layout(text.to_owned(), FontId::proportional(20.0), Color32::WHITE, width)
            };
            let (whole, broken) = (laid("nnnnnn", 900.0), laid("nnn\u{2009}nnn", 900.0));
            assert!((whole.size().x - broken.size().x).abs() < 1.0, "{:?} {:?}", whole.size(), broken.size());
            let narrow = laid("nnn\u{2009}nnn", 0.9 * whole.size().x);
            assert_eq!(narrow.rows.iter().map(|row| row.text().trim().len()).collect::<Vec<_>>(), [3, 3]);
        });
        output.textures_delta.clear();
    }
}
