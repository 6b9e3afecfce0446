//! What the host can automate: every knob, its unit, and its text both ways.
//!
//! The ids and the number of steps never change their meaning: projects and automation depend on
//! them (a test loads an old state). What is chosen by name (tuning, scale, stringing) is saved
//! state, not a parameter: see [`super::state`].

use super::state::{SaKnobs, Saved};
use crate::note::Band;
use crate::units::{Cents, Hertz};
use nice_plug::prelude::*;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// Sa as one of the twelve notes, with its kattai (C is 1; a black key has the half number).
#[derive(Enum, Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names are the notes")]
pub enum SaNote {
    #[id = "c"]
    #[name = "C · 1 kattai"]
    C,
    #[id = "cs"]
    #[name = "C# · 1.5 kattai"]
    CSharp,
    #[id = "d"]
    #[name = "D · 2 kattai"]
    D,
    #[id = "ds"]
    #[name = "D# · 2.5 kattai"]
    DSharp,
    #[id = "e"]
    #[name = "E · 3 kattai"]
    E,
    #[id = "f"]
    #[name = "F · 4 kattai"]
    F,
    #[id = "fs"]
    #[name = "F# · 4.5 kattai"]
    FSharp,
    #[id = "g"]
    #[name = "G · 5 kattai"]
    G,
    #[id = "gs"]
    #[name = "G# · 5.5 kattai"]
    GSharp,
    #[id = "a"]
    #[name = "A · 6 kattai"]
    A,
    #[id = "as"]
    #[name = "A# · 6.5 kattai"]
    ASharp,
    #[id = "b"]
    #[name = "B · 7 kattai"]
    B,
}

/// Which channels of the main input carry the voice.
#[derive(Enum, Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum VoiceFrom {
    #[id = "mix"]
    #[name = "Mix"]
    Mix,
    #[id = "left"]
    #[name = "Left"]
    Left,
    #[id = "right"]
    #[name = "Right"]
    Right,
}

/// Where the drone goes.
#[derive(Enum, Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum DroneTo {
    #[id = "main"]
    #[name = "Main output"]
    Main,
    #[id = "own"]
    #[name = "Own output"]
    Own,
    #[id = "both"]
    #[name = "Both"]
    Both,
}

/// Which face of the window is shown.
#[derive(Enum, Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum Face {
    #[id = "singing"]
    #[name = "Singing"]
    Singing,
    #[id = "teaching"]
    #[name = "Teaching"]
    Teaching,
    #[id = "checking"]
    #[name = "Checking"]
    Checking,
}

/// All parameters, and the saved state beside them.
#[derive(Params)]
pub struct AchalaParams {
    /// Sa's note.
    #[id = "sa"]
    pub sa: EnumParam<SaNote>,
    /// The octave of madhya Sa, scientific (middle C is C4).
    #[id = "saoct"]
    pub sa_octave: IntParam,
    /// Fine trim of Sa, cents.
    #[id = "satrim"]
    pub sa_trim: FloatParam,
    /// Concert pitch: A4, Hz.
    #[id = "a4"]
    pub concert_pitch: FloatParam,
    /// In-tune half-width for Sa and Pa, cents.
    #[id = "bandsp"]
    pub band_fixed: FloatParam,
    /// In-tune half-width for the other swaras, cents.
    #[id = "bandot"]
    pub band_others: FloatParam,
    /// Which channels carry the voice.
    #[id = "vfrom"]
    pub voice_from: EnumParam<VoiceFrom>,
    /// Level at which the voice is passed on, dB.
    #[id = "vlevel"]
    pub voice_level: FloatParam,
    /// Whether the drone sounds.
    #[id = "drone"]
    pub drone_on: BoolParam,
    /// Level of the drone, dB.
    #[id = "drlev"]
    pub drone_level: FloatParam,
    /// Where the drone goes.
    #[id = "drto"]
    pub drone_to: EnumParam<DroneTo>,
    /// Whether the drone is in what the host renders offline.
    #[id = "print"]
    pub drone_print: BoolParam,
    /// Whether notes are scored: the pupil's turn.
    #[id = "listen"]
    pub listening: BoolParam,
    /// Whether a voice an octave from Sa is followed.
    #[id = "follow"]
    pub follow_octave: BoolParam,
    /// Which face of the window is shown.
    #[id = "face"]
    pub face: EnumParam<Face>,
    /// Whether the picture stands still.
    #[id = "freeze"]
    pub freeze: BoolParam,
    /// Rising edge: mark this moment.
    #[id = "mark"]
    pub mark: BoolParam,
    /// The voice passes untouched, the drone is silent, nothing is scored.
    #[id = "bypass"]
    pub bypass: BoolParam,

    /// What is saved beside the parameters.
    #[nested]
    pub saved: Saved,
}

/// The lowest level that a level knob has; it means silence.
pub const SILENCE_DB: f32 = -60.0;
/// The drone's level at first load, dB.
pub const DRONE_LEVEL_DEFAULT_DB: f32 = -12.0;

/// Octaves that madhya Sa can have.
const OCTAVES: (i32, i32) = (2, 5);

/// The knobs' values under their ids, as the stand-alone app writes them down. What stands for a moment only (freeze, mark) is
/// not among them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default)]
#[allow(missing_docs, reason = "the names are the ids of the parameters")]
pub struct Values {
    pub sa: String,
    pub saoct: i32,
    pub satrim: f32,
    pub a4: f32,
    pub bandsp: f32,
    pub bandot: f32,
    pub vfrom: String,
    pub vlevel: f32,
    pub drone: bool,
    pub drlev: f32,
    pub drto: String,
    pub print: bool,
    pub listen: bool,
    pub follow: bool,
    pub face: String,
    pub bypass: bool,
}

impl Default for Values {
    fn default() -> Self {
        Self {
            sa: "d".to_owned(),
            saoct: 3,
            satrim: 0.0,
            a4: 440.0,
            bandsp: 20.0,
            bandot: 25.0,
            vfrom: "mix".to_owned(),
            vlevel: 0.0,
            drone: false,
            drlev: DRONE_LEVEL_DEFAULT_DB,
            drto: "main".to_owned(),
            print: false,
            listen: true,
            follow: false,
            face: "singing".to_owned(),
            bypass: false,
        }
    }
}

impl Values {
    /// As the knobs stand.
    #[must_use]
    pub fn of(p: &AchalaParams) -> Self {
        Self {
            sa: id_of(&p.sa),
            saoct: p.sa_octave.value(),
            satrim: p.sa_trim.value(),
            a4: p.concert_pitch.value(),
            bandsp: p.band_fixed.value(),
            bandot: p.band_others.value(),
            vfrom: id_of(&p.voice_from),
            vlevel: p.voice_level.value(),
            drone: p.drone_on.value(),
            drlev: p.drone_level.value(),
            drto: id_of(&p.drone_to),
            print: p.drone_print.value(),
            listen: p.listening.value(),
            follow: p.follow_octave.value(),
            face: id_of(&p.face),
            bypass: p.bypass.value(),
        }
    }
}

fn id_of<T: Enum + PartialEq + 'static>(param: &EnumParam<T>) -> String {
    let ids = T::ids().unwrap_or_default();
    ids.get(param.value().to_index()).copied().unwrap_or_default().to_owned()
}

/// The value of an id; `default` where there is none such.
fn by_id<T: Enum>(id: &str, default: T) -> T {
    let place = T::ids().and_then(|ids| ids.iter().position(|known| *known == id));
    place.map_or(default, T::from_index)
}

impl Default for AchalaParams {
    fn default() -> Self {
        Self::starting(&Values::default())
    }
}

impl AchalaParams {
    /// The knobs at these values, each within its range; they count as the defaults of this instance.
    #[must_use]
    pub fn starting(at: &Values) -> Self {
        let (min, max) = OCTAVES;
        Self {
            sa: EnumParam::new("Sa", by_id(&at.sa, SaNote::D)),
            sa_octave: IntParam::new("Sa octave", at.saoct.clamp(min, max), IntRange::Linear { min, max }),
            sa_trim: knob("Sa trim", at.satrim, (-50.0, 50.0), 0.1, " cents"),
            concert_pitch: knob("Concert pitch", at.a4, (400.0, 480.0), 0.1, " Hz"),
            band_fixed: knob("In tune, Sa and Pa, within", at.bandsp, (3.0, 50.0), 0.5, " cents"),
            band_others: knob("In tune, others, within", at.bandot, (3.0, 50.0), 0.5, " cents"),
            voice_from: EnumParam::new("Voice from", by_id(&at.vfrom, VoiceFrom::Mix)),
            voice_level: level("Voice level", at.vlevel, 12.0),
            drone_on: BoolParam::new("Drone", at.drone),
            drone_level: level("Drone level", at.drlev, -3.0),
            drone_to: EnumParam::new("Drone to", by_id(&at.drto, DroneTo::Main)),
            drone_print: BoolParam::new("Print drone in offline renders", at.print),
            listening: BoolParam::new("Listening", at.listen),
            follow_octave: BoolParam::new("Follow the voice's octave", at.follow),
            face: EnumParam::new("Face", by_id(&at.face, Face::Singing)),
            freeze: BoolParam::new("Freeze", false),
            mark: BoolParam::new("Mark", false),
            bypass: BoolParam::new("Bypass", at.bypass).make_bypass(),
            saved: Saved::default(),
        }
    }
}

/// A stepped linear knob with its unit shown and accepted in typed text.
fn knob(name: &str, default: f32, (min, max): (f32, f32), step: f32, unit: &'static str) -> FloatParam {
    FloatParam::new(name, default.clamp(min, max), FloatRange::Linear { min, max })
        .with_step_size(step)
        .with_unit(unit)
        .with_value_to_string(formatters::v2s_f32_rounded(1))
        .with_string_to_value(Arc::new(parse_number))
}

/// A level knob in dB; its lowest value is silence and is written so.
fn level(name: &str, default: f32, max: f32) -> FloatParam {
    FloatParam::new(name, default.clamp(SILENCE_DB, max), FloatRange::Linear { min: SILENCE_DB, max })
        .with_step_size(0.1)
        .with_unit(" dB")
        .with_value_to_string(Arc::new(|db| {
            if db <= SILENCE_DB { "silent".to_owned() } else { format!("{:.1}", if db == 0.0 { 0.0 } else { db }) }
        }))
        .with_string_to_value(Arc::new(|text| {
            if text.trim().to_lowercase().starts_with("silent") { Some(SILENCE_DB) } else { parse_number(text) }
        }))
}

/// The number at the head of `text`, whatever unit follows; a decimal comma counts as a point.
fn parse_number(text: &str) -> Option<f32> {
    let text = text.trim().replace(',', ".").replace('\u{2212}', "-");
    let end = text.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+'))).unwrap_or(text.len());
    text.get(..end)?.parse::<f32>().ok().filter(|x| x.is_finite())
}

/// Linear factor of a level knob, 0 at its lowest value.
#[must_use]
pub fn gain_of(level_db: f32) -> f32 {
    if level_db <= SILENCE_DB { 0.0 } else { 10f32.powf(level_db / 20.0) }
}

impl AchalaParams {
    /// Madhya Sa as the knobs stand now: equal temperament on A4, trimmed.
    #[must_use]
    pub fn sa_hz(&self) -> Hertz {
        let key = 12.0 * f64::from(self.sa_octave.value() + 1) + self.sa.value().to_index() as f64;
        Hertz::of_midi_key(key, Hertz(f64::from(self.concert_pitch.value()))).up(Cents(f64::from(self.sa_trim.value())))
    }

    /// Sa as its three knobs stand.
    #[must_use]
    pub fn sa_knobs(&self) -> SaKnobs {
        SaKnobs {
            note: u8::try_from(self.sa.value().to_index()).unwrap_or(0),
            octave: self.sa_octave.value(),
            // The knob has tenths of a cent.
            trim_cents: (f64::from(self.sa_trim.value()) * 10.0).round() / 10.0,
        }
    }

    /// In-tune half-widths as the knobs stand.
    #[must_use]
    pub fn band(&self) -> Band {
        Band { fixed: Cents(f64::from(self.band_fixed.value())), others: Cents(f64::from(self.band_others.value())) }
    }

    /// The MIDI key of madhya Sa.
    #[must_use]
    pub fn sa_key(&self) -> u8 {
        u8::try_from(12 * (self.sa_octave.value() + 1)).unwrap_or(0)
            + u8::try_from(self.sa.value().to_index()).unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_text_comes_back_as_its_value() {
        let p = AchalaParams::default();
        for knob in [&p.sa_trim, &p.concert_pitch, &p.band_fixed, &p.band_others, &p.voice_level, &p.drone_level] {
            for i in 0..=100u8 {
                let normalized = knob.preview_normalized(knob.preview_plain(f32::from(i) / 100.0));
                for unit in [false, true] {
                    let text = knob.normalized_value_to_string(normalized, unit);
                    let back = knob.string_to_normalized_value(&text).expect(&text);
                    assert!(
                        (back - normalized).abs() < 1e-4,
                        "{}: {text} came back as {back}, was {normalized}",
                        knob.name()
                    );
                }
            }
        }
        for note in 0..12u8 {
            let text = p.sa.normalized_value_to_string(f32::from(note) / 11.0, true);
            assert_eq!(p.sa.string_to_normalized_value(&text), Some(f32::from(note) / 11.0), "{text}");
        }
    }

    /// What a new instance starts with is what a new user is told.
    #[test]
    fn the_readme_says_how_it_starts() {
        let told = "shows the singing face, with Sa at D3 (2 kattai), the scale Sa Pa Sa', the just tuning, listening on and the drone off";
        assert!(include_str!("../../README.md").contains(told));
        let (p, chosen) = (AchalaParams::default(), crate::shell::state::Chosen::default());
        assert_eq!((p.face.value(), p.listening.value(), p.drone_on.value()), (Face::Singing, true, false));
        assert_eq!((p.sa_key(), crate::swara::tonic::said(2, 3, Cents(0.0)).as_str()), (50, "D3 \u{b7} 2 kattai"));
        assert_eq!(crate::swara::Scale::parse(&chosen.scale).unwrap().title(), "Sa Pa Sa'");
        assert_eq!(chosen.tuning.name, crate::swara::Tuning::Just.name());
    }

    #[test]
    fn typed_text_with_its_unit_or_a_decimal_comma_is_understood() {
        assert_eq!(parse_number("-3,5 cents"), Some(-3.5));
        assert_eq!(parse_number("442Hz"), Some(442.0));
        assert_eq!(parse_number("Sa"), None);
    }

    #[test]
    fn sa_follows_the_midi_tuning_formula() {
        // MIDI Tuning Standard: f = 440 x 2^((n - 69)/12); D3 is key 50: 146.832 Hz.
        let p = AchalaParams::default();
        assert_eq!(p.sa_key(), 50);
        assert!((p.sa_hz().0 - 146.832).abs() < 5e-4, "{:?}", p.sa_hz());
    }

    #[test]
    fn zero_decibels_is_exactly_one() {
        assert_eq!(gain_of(0.0).to_bits(), 1f32.to_bits());
        assert_eq!(gain_of(SILENCE_DB), 0.0);
    }
}
