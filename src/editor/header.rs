//! The top edge of the window: the faces, and what it is tuned to.
//!
//! In: parts of [`View`]. Out: drawing and presses. All of it in one size while the raga's name has the room; else the name is
//! shortened, and then it has a line of its own.

use super::fonts;
use super::keys::Press;
use super::look::{LEAST_POINTS, Look};
use super::view::{Face, View};
use super::words;
use egui::{Button, RichText, Ui};

/// The faces, their names, and what each is for.
pub const FACES: [(Face, &str, &str); 3] = [
    (Face::Singing, "Singing", "where the voice is now and which way to go, read from two metres"),
    (Face::Teaching, "Teaching", "what the voice did over the last minute, and the whole lesson frozen"),
    (Face::Checking, "Checking", "what is worth singing again, and every held note"),
];

/// The least that the header's words are made smaller before they take a line of their own.
const HEADER_SHARE: f32 = 0.7;

/// The largest that Sa and the raga are written, units: as large as a warning, since what one sings from is read from where one sings.
const HEADER: f32 = 21.0;

/// The header: tonic, scale and tuning on the left, the faces on the right.
pub fn header(ui: &mut Ui, look: &Look, view: &View, presses: &mut Vec<Press>) {
    // All of it in one size, while the raga's name has the room.
    let size = look.far_up_to(HEADER);
    let below = ui.horizontal(|ui| {
        for (i, (face, name, what)) in FACES.iter().enumerate() {
            let chosen = view.face == *face;
            let response = ui
                .add(Button::selectable(chosen, RichText::new(*name).size(size)))
                .on_hover_text(format!("key {}: {what}", i + 1));
            if response.clicked() {
                presses.push(Press::Face(*face));
            }
        }
        ui.add_space(look.u(8.0));
        let hz = format!("{:.1} Hz", view.sa.0);
        // The share that was judged always stands beside the score, and no part of a name is cut: for one line the kattai is left out.
        let whole = format!("Sa {}", view.tonic);
        let wide =
            |text: &str| ui.painter().layout_no_wrap(text.to_owned(), look.words(size), look.ink).size().x.ceil();
        let words = Belonging::new(ui, view);
        let gaps = ui.spacing().item_spacing.x + 2.0 * ui.spacing().button_padding.x;
        let left = |sa: &str| ui.available_width() - wide(sa) - gaps;
        let beside = |sa: &str| words.fitting(ui, look, size, left(sa)).is_some();
        let drops = |short: &&str| !beside(&whole) && (beside(short) || left(&whole) < 0.0);
        let short = whole.split(" \u{b7} ").next().filter(drops).unwrap_or(&whole);
        let name = RichText::new(short).strong().size(size);
        let tonic = ui.add(Button::new(name).frame_when_inactive(false));
        if tonic
            .on_hover_text(format!("madhya Sa at {hz}: find it, or shift it to Ma and back\n{}", words::about_sa()))
            .clicked()
        {
            presses.push(Press::Tonic);
        }
        let fits = words.fitting(ui, look, size, ui.available_width());
        if let Some(how) = fits {
            words.show(ui, look, view, how);
        }
        fits.is_none().then_some(words)
    });
    if let Some(words) = below.inner {
        // They have a line of their own, and more where even that is too short.
        let how = words.fitting(ui, look, size, ui.available_width());
        let how = how.unwrap_or(How { raga: &words.raga, size });
        ui.horizontal_wrapped(|ui| words.show(ui, look, view, how));
    }
}

/// The tuning's name, and whether a target was moved from it.
fn tuning(ui: &Ui, view: &View) -> String {
    let mut tuning = fonts::shown(ui.ctx(), view.tuning.label()).into_owned();
    if view.nudges.iter().any(|cents| *cents != 0.0) {
        tuning.push_str(", nudged");
    }
    tuning
}

/// How much of the sung time was judged.
fn judged(view: &View) -> Option<String> {
    view.judged_share.map(|share| format!("{:.0} % judged", share * 100.0))
}

/// The widest that the share judged is: what stands beside it does not move as it grows.
const MOST_JUDGED: &str = "100 % judged";

/// What stands behind Sa: raga, tuning and the share judged.
struct Belonging {
    /// The raga with its number, or the scale's name.
    raga: String,
    /// The same without what it comes from, and without its number too: the first are dropped last.
    shorter: Vec<String>,
    tuning: String,
    judged: Option<String>,
}

/// How that is written: which name of the raga, and how large.
#[derive(Debug, Clone, Copy)]
struct How<'a> {
    raga: &'a str,
    size: f32,
}

impl Belonging {
    fn new(ui: &Ui, view: &View) -> Self {
        let raga = fonts::shown(ui.ctx(), view.scale.label()).into_owned();
        // A scale of one's own is called what it is called.
        let known = ["mela-", "janya-"].iter().any(|kind| view.scale.current.starts_with(kind));
        let bare = raga.split(" (").next().filter(|_| known).unwrap_or(&raga).to_owned();
        let name = bare.trim_start_matches(|c: char| c.is_ascii_digit() || c == ' ').to_owned();
        let shorter = if known { vec![bare, name] } else { Vec::new() };
        Self { raga, shorter, tuning: tuning(ui, view), judged: judged(view) }
    }

    /// How wide it is, gaps included.
    fn width(&self, ui: &Ui, look: &Look, how: How<'_>) -> f32 {
        let wide = |text: &str| {
            let words = ui.painter().layout_no_wrap(text.to_owned(), look.words(how.size), look.quiet);
            words.size().x.ceil() + ui.spacing().item_spacing.x
        };
        let judged = self.judged.as_ref().map(|_| MOST_JUDGED);
        [how.raga, &self.tuning].into_iter().chain(judged).map(wide).sum()
    }

    /// How it fits `room`: what the raga comes from goes first and its number next, then all is made smaller; `None` where not even
    /// that is enough.
    fn fitting(&self, ui: &Ui, look: &Look, size: f32, room: f32) -> Option<How<'_>> {
        let least = (size * HEADER_SHARE).max(LEAST_POINTS).min(size);
        let names = || std::iter::once(&self.raga).chain(&self.shorter).map(String::as_str);
        let smaller = std::iter::successors(Some(size), |size| (*size > least).then(|| (size * 0.96).max(least)));
        let shortest =
            names().next_back().into_iter().flat_map(|raga| smaller.clone().map(move |size| How { raga, size }));
        let mut all = names().map(|raga| How { raga, size }).chain(shortest);
        all.find(|how| self.width(ui, look, *how) <= room)
    }

    fn show(&self, ui: &mut Ui, look: &Look, view: &View, how: How<'_>) {
        let quiet = |text: &str| egui::Label::new(RichText::new(text).color(look.quiet).size(how.size));
        let mut raga = format!("scale or raga: {}\nraga: {}", self.raga, words::explain("raga"));
        if self.raga.ends_with(" chakra)") {
            raga.push_str(&format!("\nchakra: {}", words::explain("chakra")));
        }
        ui.add(quiet(how.raga)).on_hover_text(raga);
        let tuning = format!("tuning: {}\n{}", self.tuning, words::explain("tuning"));
        ui.add(quiet(&self.tuning)).on_hover_text(tuning);
        if let Some(text) = &self.judged {
            let page = words::clock(view.page_age_s);
            let hover = format!("of the sung time this share could be judged; {page} sung on this page");
            ui.add(quiet(text)).on_hover_text(hover);
        }
    }
}
