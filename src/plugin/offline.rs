//! Offline rendering, where the host waits: string material is made, and freed, in the middle of a block.
//!
//! In: the player and the setting in force. Out: the full model in the player before the next sample, so that two renders of one
//! project are the same to the bit. The only place where the audio thread may allocate, and it is said so to the framework's check.
//! In real time nothing of this is called, and the check stays on. Cost: see [`Material::full`], some two seconds.

use crate::drone::{DroneSetting, Grade, Kind, Material, Player};
use crate::shell::bridge::AudioEnd;
use crate::units::SampleRate;
use nice_plug::util::permit_alloc;

/// Gives the player the full model of a setting that it has taken, where it has none and could take one over now: while strings
/// cross over, an automation's further steps are waited for.
pub(super) fn renew(player: &mut Player, setting: &DroneSetting, rate: SampleRate) {
    let lacks = setting.on && setting.kind == Kind::Strings && player.grade() != Some(Grade::Full);
    if lacks && player.takes_over() {
        permit_alloc(|| drop(player.swap(Material::full(setting, rate))));
    }
}

/// Frees what is no longer heard, and what the worker made at its own pace while this ran in real time.
pub(super) fn clear_away(player: &mut Player, end: &AudioEnd) {
    permit_alloc(|| {
        drop(player.retired());
        end.materials.try_iter().for_each(drop);
    });
}
