//! Parameters as the window knows them: found by field, shown as knobs, set with the host's knowledge.

use crate::editor::action::Field;
use crate::editor::view::Knob;
use crate::shell::params::AchalaParams;
use nice_plug::prelude::*;

/// All fields that have a parameter, in the order to show.
pub(super) const FIELDS: &[Field] = &[
    Field::Sa,
    Field::SaOctave,
    Field::SaTrim,
    Field::ConcertPitch,
    Field::BandFixed,
    Field::BandOthers,
    Field::VoiceLevel,
    Field::DroneOn,
    Field::DroneLevel,
    Field::DroneTo,
    Field::PrintDrone,
    Field::Listening,
    Field::Bypass,
];

/// What is done with a parameter whose type is not known.
trait Use {
    type Out;
    fn with<P: Param>(self, param: &P) -> Self::Out;
}

fn find<U: Use>(p: &AchalaParams, field: Field, using: U) -> U::Out {
    match field {
        Field::Sa => using.with(&p.sa),
        Field::SaOctave => using.with(&p.sa_octave),
        Field::SaTrim => using.with(&p.sa_trim),
        Field::ConcertPitch => using.with(&p.concert_pitch),
        Field::BandFixed => using.with(&p.band_fixed),
        Field::BandOthers => using.with(&p.band_others),
        Field::VoiceLevel => using.with(&p.voice_level),
        Field::DroneOn => using.with(&p.drone_on),
        Field::DroneLevel => using.with(&p.drone_level),
        Field::DroneTo => using.with(&p.drone_to),
        Field::PrintDrone => using.with(&p.drone_print),
        Field::Listening => using.with(&p.listening),
        Field::Bypass => using.with(&p.bypass),
        Field::Freeze => using.with(&p.freeze),
        Field::Mark => using.with(&p.mark),
        Field::Face => using.with(&p.face),
    }
}

struct Show(Field);

impl Use for Show {
    type Out = Knob;
    fn with<P: Param>(self, param: &P) -> Knob {
        let normalised = param.unmodulated_normalized_value();
        Knob {
            field: self.0,
            name: param.name().to_owned(),
            text: param.normalized_value_to_string(normalised, true),
            normalised,
            default: param.default_normalized_value(),
            steps: param.step_count().and_then(|n| u32::try_from(n).ok()),
            names: if self.0 == Field::DroneTo { names(param) } else { Vec::new() },
        }
    }
}

/// What each value of a stepped parameter is called.
fn names<P: Param>(param: &P) -> Vec<String> {
    let steps = param.step_count().unwrap_or(0).max(1);
    (0..=steps).map(|i| param.normalized_value_to_string(i as f32 / steps as f32, true)).collect()
}

/// The knob of a field.
pub(super) fn knob(params: &AchalaParams, field: Field) -> Knob {
    find(params, field, Show(field))
}

struct Value;

impl Use for Value {
    type Out = f32;
    fn with<P: Param>(self, param: &P) -> f32 {
        param.unmodulated_normalized_value()
    }
}

/// A field's value, 0 to 1.
pub(super) fn value(params: &AchalaParams, field: Field) -> f32 {
    find(params, field, Value)
}

struct Text;

impl Use for Text {
    type Out = String;
    fn with<P: Param>(self, param: &P) -> String {
        param.normalized_value_to_string(param.unmodulated_normalized_value(), true)
    }
}

/// A field's value as text.
pub(super) fn text(params: &AchalaParams, field: Field) -> String {
    find(params, field, Text)
}

/// A part of a gesture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Move<'a> {
    Begin,
    Set(f32),
    End,
    /// A whole gesture from typed text.
    Enter(&'a str),
    /// A whole gesture.
    Whole(f32),
}

struct Do<'a, 'b>(&'a ParamSetter<'b>, Move<'a>);

impl Use for Do<'_, '_> {
    type Out = bool;
    fn with<P: Param>(self, param: &P) -> bool {
        let Do(setter, step) = self;
        let whole = |value: f32| {
            setter.begin_set_parameter(param);
            setter.set_parameter_normalized(param, value);
            setter.end_set_parameter(param);
        };
        match step {
            Move::Begin => setter.begin_set_parameter(param),
            Move::Set(value) => setter.set_parameter_normalized(param, value.clamp(0.0, 1.0)),
            Move::End => setter.end_set_parameter(param),
            Move::Whole(value) => whole(value.clamp(0.0, 1.0)),
            Move::Enter(text) => match param.string_to_normalized_value(text) {
                Some(value) => whole(value),
                None => return false,
            },
        }
        true
    }
}

/// Does a part of a gesture; false when typed text was not understood.
pub(super) fn set(params: &AchalaParams, field: Field, setter: &ParamSetter<'_>, step: Move<'_>) -> bool {
    find(params, field, Do(setter, step))
}
