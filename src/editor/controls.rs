//! The edges of the window: what it is tuned to, what may be wrong, and the controls at hand.
//!
//! In: parts of [`View`]. Out: [`Action`]s. Every control has a name, a key (see the table of keys) and takes the
//! keyboard's focus.

use super::action::{Action, Chosen, Field};
use super::fonts;
use super::keys::Press;
use super::look::{LEAST_POINTS, Look};
use super::view::{Choice, DroneTo, Face, Knob, NoteRow, View};
use super::words;
use egui::{Button, ComboBox, Response, RichText, Slider, Ui};
use std::borrow::Cow;

/// The faces, their names, and what each is for.
pub const FACES: [(Face, &str, &str); 3] = [
    (Face::Singing, "Singing", "where the voice is now and which way to go, read from two metres"),
    (Face::Teaching, "Teaching", "what the voice did over the last minute, and the whole lesson frozen"),
    (Face::Checking, "Checking", "what is worth singing again, and every held note"),
];

/// The least that the header's words are made smaller before they take a line of their own.
const HEADER_SHARE: f32 = 0.7;

/// The largest that Sa and the raga are written, units.
const HEADER: f32 = 18.0;
/// A sentence longer than this is to be read close by, letters.
const LONG_WORDS: usize = 150;
/// A second press within so long is the end of a double click, seconds.
pub(super) const TWICE_S: f64 = 0.6;
/// The widest that the button to more is.
const MOST_MORE: &str = "and 10 more";
/// Above and below the letters of a low button, of what others have.
const SMALL_PAD: f32 = 0.7;
/// The least room for words beside the banner's buttons, units.
const LEAST_WORDS: f32 = 420.0;

/// What is said while a gate is at work.
const GATED: &str = "A noise gate cuts the note: it is not the voice.";

/// So many notes, held so long within so many seconds, and so far off, are no slip: a semitone is another swara (our choice).
const BEYOND_NOTES: usize = 3;
const BEYOND_S: (f64, f64) = (0.3, 60.0);
const BEYOND_CENTS: f64 = 100.0;

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

/// What may be wrong or wants a word, worst first; each with what to do about it.
#[must_use]
pub fn troubles(view: &View) -> Vec<Remark> {
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
    say(!view.listening, "Listening is off: notes are shown, not counted.");
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

/// Whether of late so many held notes lie so far from every swara of the scale in force that another one is sung.
fn beyond(view: &View) -> bool {
    let now = view.notes.iter().rev().take_while(|row| view.now_s - row.end_s < BEYOND_S.1);
    let own = |row: &&NoteRow| {
        let same = row.page.as_ref().is_none_or(|page| *page == view.page && row.pupil == view.pupil);
        same && !row.under_another(view.sa)
    };
    let far = |row: &&NoteRow| row.end_s - row.start_s >= BEYOND_S.0 && row.note.offset.0.abs() >= BEYOND_CENTS;
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
    view.caution_read && view.said.is_empty() && troubles(view).first().is_some_and(|(text, _)| text == GATED)
}

/// Whether what the banner says may wait until nobody sings: where the sound has ended, nothing is sung before that is mended.
#[must_use]
pub fn may_wait(view: &View) -> bool {
    !view.trouble.host_silent && view.unheard_hz.is_none()
}

/// Whether the banner has anything to say.
#[must_use]
pub fn has_banner(view: &View) -> bool {
    !view.caution_read || !view.said.is_empty() || !troubles(view).is_empty()
}

/// The banner: the caution once, else what is wrong, else what was just done. Its words are read from two metres where the
/// window has the room; its buttons stand in the corner, whatever the words are.
pub fn banner(ui: &mut Ui, look: &Look, view: &View, presses: &mut Vec<Press>, actions: &mut Vec<Action>) {
    // Without sound nothing can be sung: the way out comes before the caution.
    let dead = view.trouble.host_silent && view.device.is_some();
    if !view.caution_read && view.said.is_empty() && !dead {
        let does = "puts this line away";
        if said(ui, look, (words::CAUTION, false), [Some("Understood"), None], does) == Some(0) {
            actions.push(Action::CautionRead);
        }
        return;
    }
    let troubles = troubles(view);
    let first = troubles.first().cloned();
    let shown = if view.said.is_empty() {
        first
    } else {
        // The way to have sound again stands beside whatever is said; else the way back to the Sa that was just left.
        let back = view.sa_before.clone().filter(|_| !dead).map(|(sa, name)| (back_word(&name), Action::AdoptSa(sa)));
        let anew = first.and_then(|(_, ask)| ask).filter(|_| dead);
        Some((view.said.clone(), anew.or(back)))
    };
    let Some((text, ask)) = shown else { return };
    // A line about what was just done stands in nobody's place but that of the one whose button it bears.
    let told = usize::from(view.said.is_empty() || ask.is_some());
    let more = Some(troubles.len().saturating_sub(told)).filter(|n| *n > 0).map(|n| format!("and {n} more"));
    let text = fonts::shown(ui.ctx(), &text);
    let buttons = [ask.as_ref().map(|(word, _)| word.as_ref()), more.as_deref()];
    let does =
        if view.said.is_empty() || dead { "what can be done about it" } else { "Sa is again what it was before" };
    match (said(ui, look, (&text, view.said.is_empty()), buttons, does), ask) {
        (Some(0), Some((_, action))) => actions.push(action),
        (Some(_), _) => presses.push(Press::State),
        (None, _) => {}
    }
}

/// Words with their button and the one that tells of more, which stand in the right lower corner whatever the words are; which
/// of the two was pressed. `does`: what the first of them does.
fn said(
    ui: &mut Ui,
    look: &Look,
    (text, wrong): (&str, bool),
    buttons: [Option<&str>; 2],
    does: &str,
) -> Option<usize> {
    let (gap, pad) = (ui.spacing().item_spacing.x, ui.spacing().button_padding);
    let button = look.words(look.far_up_to(17.0));
    let size_of = |word: &str| {
        let size = ui.painter().layout_no_wrap(word.to_owned(), button.clone(), look.ink).size() + 2.0 * pad;
        egui::vec2(size.x.ceil(), size.y.max(ui.spacing().interact_size.y))
    };
    // The place of what tells of more is kept while there is a button beside it.
    let more = size_of(MOST_MORE);
    let [own, second] = buttons.map(|word| word.map(size_of));
    let taken = own.map_or(0.0, |size| size.x + gap) + if own.or(second).is_some() { more.x + gap } else { 0.0 };
    let full = ui.available_width();
    let sign = if wrong { look.far_up_to(19.0) } else { 0.0 };
    let font = look.words(if text.len() > LONG_WORDS { look.body().size } else { look.far });
    // Where too little room is left beside the buttons, they have a line of their own.
    let beside = full - taken >= look.u(LEAST_WORDS);
    let room = full - sign - gap - if beside { taken } else { 0.0 };
    let height = ui.painter().layout(text.to_owned(), font.clone(), look.ink, room).size().y;
    let tall = match (taken > 0.0, beside) {
        (false, _) => height,
        (true, true) => height.max(more.y),
        (true, false) => height + gap + more.y,
    };
    let (all, _) = ui.allocate_exact_size(egui::vec2(full, tall), egui::Sense::hover());
    let words = egui::Rect::from_min_size(all.min + egui::vec2(sign + gap, 0.0), egui::vec2(room, height));
    if wrong {
        let at = egui::pos2(all.left() + sign / 2.0, words.top() + font.size * 0.6);
        paint_triangle(ui, look, egui::Rect::from_center_size(at, egui::Vec2::splat(sign * 0.8)));
    }
    super::look::paragraph(ui, words, RichText::new(text).font(font));
    let mut pressed = None;
    let places = [all.right() - more.x - gap, all.right()];
    let hovers = [does, "key I: all that wants a word"];
    for (i, ((word, right), hover)) in buttons.into_iter().zip(places).zip(hovers).enumerate() {
        let Some(word) = word else { continue };
        let size = own.filter(|_| i == 0).unwrap_or(more);
        let place = egui::Rect::from_min_size(egui::pos2(right - size.x, all.bottom() - size.y), size);
        let button = Button::new(RichText::new(word).font(button.clone())).wrap_mode(egui::TextWrapMode::Extend);
        if ui.put(place, button).on_hover_text(hover).clicked() && once(ui) {
            pressed = Some(i);
        }
    }
    pressed
}

/// The sign beside a line that wants attention.
pub fn triangle(ui: &mut Ui, look: &Look) {
    let (rect, _) = ui.allocate_exact_size(egui::vec2(look.u(13.0), look.u(13.0)), egui::Sense::hover());
    paint_triangle(ui, look, rect);
}

fn paint_triangle(ui: &Ui, look: &Look, rect: egui::Rect) {
    let points = vec![rect.center_top(), rect.right_bottom(), rect.left_bottom()];
    ui.painter().add(egui::Shape::convex_polygon(points, look.alert, egui::Stroke::NONE));
}

/// A button of the bar that may go behind *More*, and what it does.
pub type Door = (&'static str, &'static str, Press);

/// The doors of the bar, in the order in which they stand.
pub const DOORS: [Door; 5] = [
    ("Mark", "key M: mark this moment; then a word for it", Press::Mark),
    ("Exercises", "key E: exercises and pupils", Press::Lesson),
    ("Settings", "key S: all settings", Press::Settings),
    ("Words", "key I: the words explained, and the state of the sound", Press::State),
    ("Keys", "H or ?: what each key does", Press::Keys),
];

/// What is left out of the bar where it is too narrow, the first first. The drone, the listening and the freeze always stand there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    Door(Press),
    Clear,
    Level,
}

const LEFT_OUT: [Part; 7] = [
    Part::Door(Press::Keys),
    Part::Door(Press::State),
    Part::Clear,
    Part::Level,
    Part::Door(Press::Mark),
    Part::Door(Press::Lesson),
    Part::Door(Press::Settings),
];

/// What the drone's button is called: it is as wide as the wider, so that nothing beside it moves.
const DRONE_ON: &str = "Drone on";
const DRONE_OFF: &str = "Drone off";
/// What rounding to pixels may add to the width of the drone's button, and to that of all others, points.
const SPARE: f32 = 3.0;

/// How the drone's button is named, whether it is lit, and what its hover says: on is what sounds.
fn drone_button(view: &View) -> (bool, &'static str, String) {
    if !view.drone.on {
        return (false, DRONE_OFF, "key D: the drone, on Sa".to_owned());
    }
    if view.trouble.host_silent {
        return (false, "Drone waits", format!("it is switched on, and silent since the {}", stopped(view)));
    }
    if view.drone_waits() {
        return (false, "Drone waits", "key D: start it; it is switched on, and silent since it was opened".to_owned());
    }
    (true, DRONE_ON, "key D: the drone, on Sa".to_owned())
}

/// Whether a press here is the first for a while: the buttons of the banner follow one another in one place, and a double click on
/// the one must not start the drone with the next; nor may Sa be moved twice.
pub fn once(ui: &Ui) -> bool {
    let (key, now) = (egui::Id::unique("last press of those that count once"), ui.input(|i| i.time));
    let last: Option<f64> = ui.data(|data| data.get_temp(key));
    ui.data_mut(|data| data.insert_temp(key, now));
    last.is_none_or(|last| now - last > TWICE_S)
}

/// What Clear says: it asks once more, and can be undone.
#[must_use]
pub fn clear_word(view: &View, armed: bool) -> &'static str {
    match (view.cleared, armed) {
        (true, _) => "Undo clear",
        (false, true) => "Clear: sure?",
        (false, false) => "Clear",
    }
}

/// What Clear does.
pub const CLEAR_HOVER: &str = "key C, twice: start this meter page anew; C again undoes it";

/// The footer: drone, listening, freeze, clear, mark, and the doors to the sheets, in one line. What has no room in it stands on
/// the sheet behind *More*.
pub fn footer(
    ui: &mut Ui,
    look: &Look,
    view: &View,
    clear_armed: bool,
    presses: &mut Vec<Press>,
    actions: &mut Vec<Action>,
) {
    let (lit, drone, drone_hover) = drone_button(view);
    let listens = if view.listening { "Listening" } else { "Not counting" };
    let freeze = if view.frozen { "Frozen" } else { "Freeze" };
    let clear = clear_word(view, clear_armed);
    let knob = view.knob(Field::DroneLevel);
    let (gap, pad) = (ui.spacing().item_spacing.x, 2.0 * ui.spacing().button_padding.x);
    let font = egui::TextStyle::Button.resolve(ui.style());
    let word = |text: &str| ui.painter().layout_no_wrap(text.to_owned(), font.clone(), look.ink).size().x.ceil();
    let widest = |all: &[&str]| all.iter().map(|text| word(text) + pad).fold(0.0, f32::max);
    let (drone_w, listens_w) = (widest(&[drone, DRONE_ON, DRONE_OFF]) + SPARE, widest(&[listens]));
    let freeze_w = widest(&["Frozen", "Freeze"]);
    let width_of = |part: Part| match part {
        Part::Door(press) => {
            DOORS.iter().find(|(_, _, p)| *p == press).map_or(0.0, |(name, _, _)| word(name) + pad + gap)
        }
        Part::Clear => word(clear) + pad + gap,
        Part::Level => knob.map_or(0.0, |knob| ui.spacing().slider_width + word(&knob.text) + 2.0 * gap),
    };
    let fixed = look.u(LEVEL.x) + drone_w + listens_w + freeze_w + 3.0 * gap;
    let mut needed = fixed + LEFT_OUT.iter().map(|part| width_of(*part)).sum::<f32>();
    let full = ui.available_width();
    let more = word(MORE) + pad + gap;
    let mut out: &[Part] = &[];
    for (i, part) in LEFT_OUT.iter().enumerate() {
        if needed + SPARE + if out.is_empty() { 0.0 } else { more } <= full {
            break;
        }
        needed -= width_of(*part);
        out = LEFT_OUT.get(..=i).unwrap_or_default();
    }
    let stands = |part: Part| !out.contains(&part);
    ui.horizontal_wrapped(|ui| {
        level(ui, look, view);
        toggle(ui, (lit, drone, &drone_hover), (Press::Drone, drone_w), presses);
        if let Some(knob) = knob.filter(|_| stands(Part::Level)) {
            drone_level(ui, knob, actions);
        }
        let hover = "key L: count held notes, or only show them";
        toggle(ui, (view.listening, listens, hover), (Press::Listening, listens_w), presses);
        let hover = "space: letter, figures and lines stand still; listening and the meter go on";
        toggle(ui, (view.frozen, freeze, hover), (Press::Freeze, freeze_w), presses);
        if stands(Part::Clear) {
            toggle(ui, (clear_armed, clear, CLEAR_HOVER), (Press::Clear, 0.0), presses);
        }
        for (name, hover, press) in DOORS {
            if stands(Part::Door(press)) && ui.button(name).on_hover_text(hover).clicked() {
                presses.push(press);
            }
        }
        if !out.is_empty() && ui.button(MORE).on_hover_text("key B: what else the bar has").clicked() {
            presses.push(Press::More);
        }
    });
}

/// The name of the door to what the bar has no room for.
const MORE: &str = "More";

/// The drone's level with its value.
pub fn drone_level(ui: &mut Ui, knob: &Knob, actions: &mut Vec<Action>) {
    let hint = format!("{}: {} (double click: default)", knob.name, knob.text);
    knob_slider(ui, knob, actions).on_hover_text(hint);
    ui.label(&knob.text);
}

/// A button of the bar, at least so wide.
fn toggle(ui: &mut Ui, (on, name, hover): (bool, &str, &str), (press, width): (Press, f32), presses: &mut Vec<Press>) {
    let button = Button::selectable(on, name).frame_when_inactive(true).min_size(egui::vec2(width, 0.0));
    if ui.add(button).on_hover_text(hover).clicked() {
        presses.push(press);
    }
}

/// A button that is low, so that a line of words is hardly higher for it; its frame stands clear of its letters all the same.
pub fn small(ui: &mut Ui, word: impl Into<egui::WidgetText>) -> Response {
    let (pad, high) = (ui.spacing().button_padding.y, ui.spacing().interact_size.y);
    ui.spacing_mut().button_padding.y = pad * SMALL_PAD;
    ui.spacing_mut().interact_size.y = 0.0;
    let button = ui.button(word);
    ui.spacing_mut().button_padding.y = pad;
    ui.spacing_mut().interact_size.y = high;
    button
}

/// Size of the input's level, units.
const LEVEL: egui::Vec2 = egui::vec2(60.0, 20.0);

/// The input's level as a bar that grows, with a notch at -12 dBFS.
fn level(ui: &mut Ui, look: &Look, view: &View) {
    let (rect, response) = ui.allocate_exact_size(look.u(1.0) * LEVEL, egui::Sense::hover());
    let share = |db: f64| crate::units::num::single(((db + 60.0) / 60.0).clamp(0.0, 1.0));
    let bar = rect.shrink2(egui::vec2(0.0, look.u(7.0)));
    let painter = ui.painter();
    painter.rect_stroke(bar, 0.0, egui::Stroke::new(1.0, look.rule), egui::StrokeKind::Inside);
    let full = egui::Rect::from_min_size(bar.min, egui::vec2(bar.width() * share(view.level.0), bar.height()));
    painter.rect_filled(full, 0.0, look.voice);
    let notch = bar.left() + bar.width() * share(-12.0);
    painter.vline(notch, rect.y_range(), egui::Stroke::new(1.0, look.quiet));
    let text = format!("input level {:.0} dB", view.level.0.max(-99.0));
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Label, true, &text));
    response.on_hover_text(text.clone());
}

/// A knob as a slider.
pub fn knob_slider(ui: &mut Ui, knob: &Knob, actions: &mut Vec<Action>) -> Response {
    let mut value = knob.normalised;
    let mut slider = Slider::new(&mut value, 0.0..=1.0).show_value(false);
    if let Some(steps) = knob.steps.filter(|s| *s > 0) {
        slider = slider.step_by(1.0 / f64::from(steps));
    }
    let response = framed(ui, slider);
    let named = format!("{}: {}", knob.name, knob.text);
    response.widget_info(|| egui::WidgetInfo::slider(true, f64::from(knob.normalised), &named));
    let (began, changed, ended) = (response.drag_started(), response.changed(), response.drag_stopped());
    let dragged = response.dragged();
    let back = response.double_clicked();
    // Rounding to steps may call a value changed that nobody touched, at every frame.
    let moved = knob.steps.is_none_or(|steps| (value - knob.normalised).abs() * steps as f32 > 0.5);
    let focused = moved && (response.has_focus() || response.clicked());
    if began {
        actions.push(Action::Begin(knob.field));
    }
    if back {
        whole(knob.field, knob.default, actions);
    } else if changed && (dragged || began || ended) {
        actions.push(Action::Set(knob.field, value));
    } else if changed && focused {
        whole(knob.field, value, actions);
    }
    if ended {
        actions.push(Action::End(knob.field));
    }
    response
}

/// A slider in a place of its own: in a row that wraps it would ask for all of the row.
pub fn framed(ui: &mut Ui, slider: Slider<'_>) -> Response {
    let size = egui::vec2(ui.spacing().slider_width, ui.spacing().interact_size.y);
    let layout = egui::Layout::left_to_right(egui::Align::Center);
    ui.allocate_ui_with_layout(size, layout, |ui| {
        // The rail, seen on any ground.
        ui.visuals_mut().widgets.inactive.bg_fill = ui.visuals().window_stroke.color;
        let slider = ui.add(slider);
        // A slider's own handle does not tell where the keyboard is.
        if slider.has_focus() {
            let ring = ui.visuals().widgets.active.bg_stroke;
            ui.painter().rect_stroke(slider.rect, 0.0, ring, egui::StrokeKind::Inside);
        }
        slider
    })
    .inner
}

/// One whole gesture.
pub fn whole(field: Field, value: f32, actions: &mut Vec<Action>) {
    actions.extend([Action::Begin(field), Action::Set(field, value.clamp(0.0, 1.0)), Action::End(field)]);
}

/// A choice among named things.
pub fn choice(ui: &mut Ui, name: &str, of: (&Choice, Chosen), actions: &mut Vec<Action>) -> Response {
    let (choice, chosen) = of;
    let label = words::explained(ui.label(name), name);
    let width = (ui.spacing().combo_width * 3.2).min(ui.available_width());
    let current = fonts::shown(ui.ctx(), choice.label());
    let combo = ComboBox::from_id_salt(("choice", name)).selected_text(current).width(width).wrap();
    let options =
        choice.options.iter().map(|(key, text)| (*key == choice.current, fonts::shown(ui.ctx(), text).into_owned()));
    let (response, taken) = list(ui, name, combo, options.collect());
    if let Some((key, _)) = taken.and_then(|i| choice.options.get(i)) {
        actions.push(Action::Choose(chosen, key.clone()));
    }
    words::explained(response.labelled_by(label.id), name)
}

/// A list that opens, and which of its lines was taken. With that it closes: of itself it would do so for the mouse alone. Where the
/// keyboard opened it, the keyboard is at the line in force, and back at the list when that closes.
pub fn list(ui: &mut Ui, name: &str, list: ComboBox, lines: Vec<(bool, String)>) -> (Response, Option<usize>) {
    let mut taken = None;
    let key = ui.scope_id().with(("a list lay open", name));
    let was_open: bool = ui.data(|data| data.get_temp(key)).unwrap_or_default();
    let pointed = ui.input(|i| i.pointer.any_click());
    let in_force = lines.iter().position(|(chosen, _)| *chosen).unwrap_or_default();
    let shown = list.show_ui(ui, |ui| {
        for (i, (chosen, line)) in lines.into_iter().enumerate() {
            let line = ui.selectable_label(chosen, line);
            if i == in_force && !was_open && !pointed {
                line.request_focus();
            }
            if line.clicked() && was_open {
                taken = Some(i);
                ui.close();
            }
        }
        super::sight::follow(ui);
    });
    let open = shown.inner.is_some() && taken.is_none();
    ui.data_mut(|data| data.insert_temp(key, open));
    if was_open && !open && !pointed {
        shown.response.request_focus();
    }
    (shown.response, taken)
}
