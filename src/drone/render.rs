//! A stretch of drone, ready to be written to a file or sung to from one.
//!
//! In: a [`DroneSetting`], a rate, a length in seconds. Out: mono samples at that rate, with the fade-in, as the
//! [`Player`] makes them from the best material; the same setting gives the same samples. Cost: the material once, then
//! a few milliseconds a second.

use super::material::Material;
use super::player::Player;
use super::setting::{BadSetting, DroneSetting, Kind};
use crate::units::{SampleRate, num};

/// The drone of `setting` (taken as on), `seconds` long.
///
/// # Errors
/// [`BadSetting`] when the setting does not validate.
pub fn render(setting: &DroneSetting, rate: SampleRate, seconds: f64) -> Result<Vec<f32>, BadSetting> {
    let setting = DroneSetting { on: true, ..*setting };
    let mut player = Player::new(rate);
    player.set(&setting)?;
    if setting.kind == Kind::Strings {
        drop(player.swap(Material::full(&setting, rate)));
    }
    let mut sound = vec![0.0; num::index(seconds * rate.hz())];
    player.process(&mut sound);
    Ok(sound)
}
