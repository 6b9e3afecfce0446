//! The window: draws what the listener found; decides nothing.
//!
//! In: a [`view::View`], plain data, anew for each frame. Out: drawing, and [`action::Action`]s. [`Window`] keeps only
//! what belongs to looking (which sheet is open, what is being typed); closing it changes no number.
//!
//! How it looks, and why: `DEVELOPERS.md`, the section of that name.

pub mod action;
pub mod again;
pub mod banner;
pub mod checking;
pub mod controls;
pub mod drone;
pub mod exercise;
pub mod field;
pub mod figure;
mod fonts;
pub mod footer;
pub mod header;
pub mod hint;
pub mod keys;
pub mod letters;
pub mod look;
pub mod marking;
pub mod marks;
pub mod meter;
pub mod motion;
pub mod nudge;
pub mod numbers;
pub mod picture;
pub mod raga;
pub mod range;
mod scripts;
pub mod sheets;
pub mod sight;
pub mod singing;
pub mod stroke;
pub mod teaching;
pub mod thread;
pub mod tonic;
pub mod troubles;
pub mod view;
pub mod ways;
pub mod words;

#[cfg(test)]
mod sample;
#[cfg(test)]
mod tests;

use action::{Action, Export, Field, Listen, Run};
use egui::{Frame, Margin, Panel, Ui};
use keys::Press;
use look::Look;
use marking::Marking;
use sheets::Sheet;
use view::{Face, View};

/// How long 'clear' waits for the second press, seconds.
const CLEAR_ASKS_S: f64 = 4.0;
/// One press of louder or softer, of the drone level's whole range.
const LEVEL_STEP: f32 = 0.03;
/// One press of earlier or later, as a share of the span shown.
const SCROLL_SHARE: f64 = 0.25;
/// Width of a sheet at the side, units; where the face beside it would be narrower than so many points, the sheet takes all.
const SHEET: f32 = 390.0;
const BESIDE: f32 = 320.0;
/// What the caution and a fault above it leave to a face without the letter: its words, lines of body text.
const FACE_LINES: f32 = 6.0;
/// A face narrower than this (beside or under a sheet) is not drawn, units of text at 100 %.
const LEAST_FACE: f32 = 200.0;
/// Seconds between drawings when nothing sounds: whoever calls has the window drawn at once when something does.
const QUIET_S: f32 = 1.0;
/// Seconds between drawings while the window itself listens for Sa, a note is heard again, or an exercise goes on by itself.
const BUSY_S: f32 = 0.05;
/// After a voice has ended, what an exercise makes of its note is drawn for so long as it comes, seconds.
const SETTLES_S: f64 = 3.0;

/// What belongs to looking only.
#[derive(Debug, Clone)]
pub struct Memory {
    /// The sheet that lies open.
    pub sheet: Option<Sheet>,
    /// What is being typed.
    pub typing: sheets::Typing,
    /// The teaching face's own.
    pub teaching: teaching::Teaching,
    /// The checking face's own.
    pub checking: checking::Checking,
    /// The digits as they stand.
    readout: singing::Readout,
    /// While a sheet lies open: which, and what had the keyboard before it.
    opened: Option<(Sheet, Option<egui::Id>)>,
    /// The last frame had a click of the pointer: what it opened leaves the keyboard where it is.
    clicked: bool,
    /// Until when 'clear' waits for its second press, window's clock.
    clear_until: Option<f64>,
    /// The moment whose word is being typed.
    marking: Option<Marking>,
    /// Text was being typed, or a list lay open, when the last frame was drawn: Escape is theirs then.
    typed: bool,
    /// How egui's widgets are dressed.
    dressed: Option<Look>,
    /// Where the face was last drawn.
    face_area: egui::Rect,
    /// The picture as last drawn, for less motion.
    slow: Option<(f64, Box<View>)>,
    /// When a voice last sounded, window's clock.
    voiced_s: Option<f64>,
    /// How high the banner was when it was last drawn, points.
    banner: f32,
}

impl Default for Memory {
    fn default() -> Self {
        Self {
            sheet: None,
            typing: sheets::Typing::default(),
            teaching: teaching::Teaching::default(),
            checking: checking::Checking::default(),
            readout: singing::Readout::default(),
            opened: None,
            clicked: false,
            clear_until: None,
            marking: None,
            typed: false,
            dressed: None,
            face_area: egui::Rect::ZERO,
            slow: None,
            voiced_s: None,
            banner: 0.0,
        }
    }
}

/// The window.
#[derive(Debug, Clone, Default)]
pub struct Window {
    /// What belongs to looking only.
    pub memory: Memory,
    /// Whether what is drawn on bears [`Window::ground`] already: then it is not filled once more, which costs much with
    /// software drawing.
    pub on_ground: bool,
}

impl Window {
    /// A window with nothing open.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// The colour on which everything stands.
    #[must_use]
    pub fn ground(view: &View) -> egui::Color32 {
        Look::new(view.look, look::SMALLEST).ground
    }

    /// Call when the window is opened in a new egui context: sets the fonts, forgets how widgets were dressed.
    pub fn opened(&mut self, ctx: &egui::Context) {
        ctx.set_fonts(fonts::definitions());
        self.memory.dressed = None;
    }

    /// Draws one frame into all of `ui`; pushes what the user asks for.
    pub fn ui(&mut self, ui: &mut Ui, view: &View, actions: &mut Vec<Action>) {
        let look = Look::of(view, ui.max_rect().size());
        if self.memory.dressed != Some(look) {
            ui.ctx().all_styles_mut(|style| look.dress(style));
            look.dress(ui.style_mut());
            self.memory.dressed = Some(look);
        }
        let (time_s, asked_before) = (ui.input(|i| i.time), actions.len());
        let mut presses = keys::pressed(ui.ctx(), self.memory.typed);
        let behind_mark = keys::behind_mark(ui.ctx());
        self.memory.readout.take(view, time_s);
        self.edges(ui, &look, view, &mut presses, actions);
        self.open_sheet(ui, &look, view, &mut presses, actions);
        let frame = if self.on_ground { Frame::NONE } else { Frame::NONE.fill(look.ground) };
        let moving = self.at_its_pace(view, time_s);
        let memory = &mut self.memory;
        egui::CentralPanel::no_frame().frame(frame).show(ui, |ui| {
            let area = ui.max_rect();
            memory.face_area = area;
            if area.width() < look.p(LEAST_FACE) {
                return;
            }
            let view = moving.as_deref().unwrap_or(view);
            match view.face {
                _ if view.hides() => exercise::ear_first(ui, area, &look, view, actions),
                Face::Singing => singing::singing(ui, area, &look, (view, &memory.readout), actions),
                Face::Teaching => teaching::teaching(ui, area, &look, (view, &mut memory.teaching), actions),
                Face::Checking => checking::checking(ui, area, &look, (view, &mut memory.checking), actions),
            }
        });
        if std::mem::take(&mut memory.teaching.marks) {
            presses.push(Press::Marks);
        }
        for press in presses {
            self.press(press, view, time_s, actions);
            if press == Press::Mark {
                self.memory.marking = Some(Marking::begin(ui.ctx(), view.now_s, behind_mark.clone()));
            }
        }
        self.memory.clicked = ui.input(|i| i.pointer.any_click());
        // Letters belong to the word even before its field was drawn.
        self.memory.typed = keys::typing(ui.ctx()) || self.memory.marking.is_some();
        if view.reading.is_some() {
            self.memory.voiced_s = Some(time_s);
        }
        let settles = self.memory.voiced_s.is_some_and(|voiced| time_s - voiced < SETTLES_S);
        let runs =
            view.lesson.exercise.as_ref().is_some_and(|exercise| !exercise.paused && (exercise.moves || settles));
        let listens = view.finding.as_ref().is_some_and(|f| f.heard_s.is_some());
        let busy = listens || view.sounding.is_some() || runs;
        if actions.len() > asked_before {
            // What was asked for is seen at once.
            ui.ctx().request_repaint();
        }
        if view.reading.is_some() && !view.frozen && !view.less_motion() {
            ui.ctx().request_repaint();
        } else {
            ui.ctx().request_repaint_after_secs(if busy { BUSY_S } else { QUIET_S });
        }
    }

    /// Header, footer and banner.
    fn edges(&mut self, ui: &mut Ui, look: &Look, view: &View, presses: &mut Vec<Press>, actions: &mut Vec<Action>) {
        let inner = Margin::symmetric(8, 3);
        let raised = Frame::NONE.fill(look.raised).inner_margin(inner);
        // A hairline parts them from the face: to fill them would be a third of all that is drawn.
        let edge = if self.on_ground { Frame::NONE } else { Frame::NONE.fill(look.ground) }.inner_margin(inner);
        let armed = self.memory.clear_until.is_some();
        Panel::top("header").frame(edge).show_separator_line(true).show(ui, |ui| {
            header::header(ui, look, view, presses);
        });
        Panel::bottom("footer").frame(edge).show_separator_line(true).show(ui, |ui| {
            footer::footer(ui, look, view, armed, presses, actions);
        });
        if let Some(marking) = self.memory.marking.take() {
            let panel = Panel::bottom("mark").frame(raised).show_separator_line(false);
            self.memory.marking = panel.show(ui, |ui| marking::strip(ui, look, marking, actions)).inner;
        }
        // The large letter comes before words, also while it is not there yet, so that nothing moves when it comes: the bar of an
        // exercise is made low for it, and the banner waits.
        let letter = view.face == Face::Singing && !view.hides();
        if !banner::has_banner(view) {
            self.memory.banner = 0.0;
        }
        let least = if letter { look.stage } else { 0.0 };
        if let Some(running) = &view.lesson.exercise {
            let low = ui.available_height() - exercise::height(ui, look, running) < least + self.memory.banner;
            Panel::bottom("exercise").frame(raised).show_separator_line(false).show(ui, |ui| {
                if letter && low {
                    exercise::low_strip(ui, running, actions);
                } else {
                    exercise::strip(ui, look, view, running, actions);
                }
            });
        }
        let may_wait = letter && banner::may_wait(view);
        let room = ui.available_height() - if may_wait { least } else { FACE_LINES * look.body().size };
        let waits = may_wait && self.memory.banner > room;
        if waits || !banner::has_banner(view) {
            return;
        }
        let banner = Panel::bottom("banner").frame(edge).show_separator_line(false).show(ui, |ui| {
            banner::banner(ui, look, view, room - inner.sum().y, presses, actions);
        });
        self.memory.banner = banner.response.rect.height();
    }

    /// The open sheet: at the side where there is room, else over the face.
    fn open_sheet(
        &mut self,
        ui: &mut Ui,
        look: &Look,
        view: &View,
        presses: &mut Vec<Press>,
        actions: &mut Vec<Action>,
    ) {
        let opened = self.memory.opened.take();
        let Some(which) = self.memory.sheet else {
            // The keyboard goes back to where it was before the sheet lay open.
            if let Some((_, Some(before))) = opened {
                ui.memory_mut(|m| m.request_focus(before));
            }
            return;
        };
        let fresh = opened.is_none_or(|(before, _)| before != which);
        let enters = fresh && !self.memory.clicked;
        let before = opened.map_or_else(|| ui.memory(|m| m.focused()), |(_, before)| before);
        self.memory.opened = Some((which, before));
        let full = ui.available_width();
        let width = look.u(SHEET);
        // The list of notes is worked with: what is left beside a sheet must hold its tools.
        let least = if view.face == Face::Checking { look.u(BESIDE) } else { BESIDE };
        let width = if full - width >= least { width } else { full };
        let frame = Frame::NONE.fill(look.raised).inner_margin(Margin::symmetric(10, 6));
        let typing = &mut self.memory.typing;
        let panel = Panel::right("sheet").frame(frame).exact_size(width).resizable(false).show_separator_line(false);
        let clear_armed = self.memory.clear_until.is_some();
        let asked_before = actions.len();
        let mut asked = sheets::Asked { presses, actions, clear_armed, enters, fresh };
        let sheet = panel.show(ui, |ui| sheets::sheet(ui, look, (which, view), typing, &mut asked)).inner;
        let begun = actions.iter().skip(asked_before).any(exercise::begins);
        self.memory.sheet = sheet.filter(|_| !begun);
    }

    /// With less motion, shapes too stand for as long as the digits do.
    fn at_its_pace(&mut self, view: &View, time_s: f64) -> Option<Box<View>> {
        if !view.less_motion() {
            self.memory.slow = None;
            return None;
        }
        let keeps = matches!(&self.memory.slow, Some((taken, old))
            if (0.0..singing::DIGITS_S).contains(&(time_s - taken)) && old.face == view.face && old.frozen == view.frozen);
        if !keeps {
            self.memory.slow = Some((time_s, Box::new(view.clone())));
        }
        self.memory.slow.as_ref().map(|(_, v)| v.clone())
    }

    /// Does what a key or its button asks.
    pub fn press(&mut self, press: Press, view: &View, time_s: f64, actions: &mut Vec<Action>) {
        let was_armed = self.memory.clear_until.take().is_some_and(|until| time_s <= until);
        let switch = |field: Field, on: bool, actions: &mut Vec<Action>| {
            controls::whole(field, if on { 1.0 } else { 0.0 }, actions);
        };
        match press {
            Press::Keys => self.toggle(Sheet::Keys),
            Press::Settings => self.toggle(Sheet::Settings),
            Press::State => self.toggle(Sheet::State),
            Press::Lesson => self.toggle(Sheet::Lesson),
            Press::Tonic => self.toggle(Sheet::Tonic),
            Press::More => self.toggle(Sheet::More),
            Press::Marks => self.toggle(Sheet::Marks),
            Press::Meter => self.toggle(Sheet::Meter),
            // Esc is first for what sounds.
            Press::Close if view.reference.is_some() => actions.push(Action::Reference(None)),
            Press::Close if view.sounding.is_some() => actions.push(Action::Hush),
            Press::Close => {
                // A comparison lies behind a sheet.
                if self.memory.sheet.is_none() && view.replay.is_some() {
                    actions.push(Action::Replay(None));
                }
                // What is being listened to, or was found, goes with its sheet.
                if self.memory.sheet == Some(Sheet::Tonic) && view.finding.is_some() {
                    actions.push(Action::Listen(Listen::Away));
                }
                self.memory.sheet = None;
            }
            Press::Face(face) => {
                // What is asked for is not hidden by what was looked at.
                self.memory.sheet = self.memory.sheet.filter(|sheet| *sheet != Sheet::Meter);
                actions.push(Action::Show(face));
            }
            Press::Freeze => actions.push(Action::Freeze(!view.frozen)),
            Press::Clear if view.cleared => actions.push(Action::Unclear),
            Press::Clear if was_armed => actions.push(Action::Clear),
            Press::Clear => self.memory.clear_until = Some(time_s + CLEAR_ASKS_S),
            Press::Mark => actions.push(Action::Mark),
            Press::Hear(nth) => {
                if let Some(index) = again::nth(view, nth).filter(|_| !view.hides()) {
                    again::hear(view, index, actions);
                }
            }
            // One that waits is asked to sound, not switched off.
            Press::Drone if view.drone_waits() => actions.push(Action::WakeDrone),
            Press::Drone => switch(Field::DroneOn, !view.drone.on, actions),
            Press::Listening => switch(Field::Listening, !view.listening, actions),
            Press::TakeSa => self.take_sa(view, actions),
            Press::Madhyama => actions.push(Action::Madhyama),
            Press::Pause | Press::Skip | Press::Ear(_) => exercise_press(press, view, actions),
            Press::Octave => {
                let follows = view.octave.as_ref().is_some_and(|(_, follows)| *follows);
                actions.push(Action::FollowOctave(!follows));
            }
            Press::Louder | Press::Softer => {
                if let Some(knob) = view.knob(Field::DroneLevel) {
                    let step = if press == Press::Louder { LEVEL_STEP } else { -LEVEL_STEP };
                    controls::whole(Field::DroneLevel, knob.normalised + step, actions);
                }
            }
            Press::Back | Press::Forward | Press::Start | Press::Now => self.scroll(press, view, actions),
            Press::Larger => {
                let text_scale = if view.look.text_scale >= 2.0 { 1.0 } else { view.look.text_scale + 0.25 };
                actions.push(Action::Look(view::LookChoice { text_scale, ..view.look }));
            }
            Press::Light => actions.push(Action::Look(view::LookChoice { dark: !view.look.dark, ..view.look })),
            Press::Motion => {
                let motion = view.look.motion.turned(view.system_asks_less);
                actions.push(Action::Look(view::LookChoice { motion, ..view.look }));
            }
            Press::Report => actions.push(Action::Export(Export::Report)),
            Press::Csv => actions.push(Action::Export(Export::Csv)),
        }
    }

    fn scroll(&self, press: Press, view: &View, actions: &mut Vec<Action>) {
        if !view.frozen {
            return;
        }
        let span = self.memory.teaching.span_s;
        let until = match press {
            Press::Back => view.shown_until_s - span * SCROLL_SHARE,
            Press::Forward => view.shown_until_s + span * SCROLL_SHARE,
            Press::Start => f64::NEG_INFINITY,
            _ => view.now_s,
        };
        actions.push(Action::ShowUntil(view.scrolled(until, span)));
    }

    /// Opens the sheet and begins to listen; pressed again, that was enough.
    fn take_sa(&mut self, view: &View, actions: &mut Vec<Action>) {
        self.memory.sheet = Some(Sheet::Tonic);
        let listens = view.finding.as_ref().is_some_and(|f| f.heard_s.is_some());
        actions.push(Action::Listen(if listens { Listen::Enough } else { Listen::Sa }));
    }

    fn toggle(&mut self, sheet: Sheet) {
        self.memory.sheet = if self.memory.sheet == Some(sheet) { None } else { Some(sheet) };
    }
}

/// What a key asks of the exercise, where one runs that can be asked so.
fn exercise_press(press: Press, view: &View, actions: &mut Vec<Action>) {
    let Some(running) = &view.lesson.exercise else { return };
    match press {
        Press::Pause => actions.push(Action::Exercise(Run::Pause(!running.paused))),
        Press::Skip if running.may_skip || running.stands => actions.push(Action::Exercise(Run::Skip)),
        // One that comes too soon is answered in words.
        Press::Ear(ear) if running.hides || running.asks_ear => actions.push(Action::Ear(ear)),
        _ => {}
    }
}
