//! What a window's actions ask of their host, answered without a host: parameters move at once.
//!
//! In: parameters and the places that they shall take. Out: a [`GuiContext`] for tests of the actions. Nothing else is answered: there
//! is no state to hand out or take, and nothing to start again.

use nice_plug_core::context::PluginApi;
use nice_plug_core::context::gui::{GuiContext, GuiContextInner};
use nice_plug_core::params::internals::ParamPtr;
use nice_plug_core::plugin::PluginState;
use std::collections::BTreeMap;
use std::sync::Arc;

struct Willing;

/// A host that does with parameters as it is asked.
#[must_use]
pub fn willing() -> GuiContext {
    GuiContext::new(Arc::new(Willing))
}

#[expect(unsafe_code, reason = "the framework's trait hands parameters over by pointer; the tests keep them alive")]
impl GuiContextInner for Willing {
    fn plugin_api(&self) -> PluginApi {
        PluginApi::Clap
    }

    unsafe fn raw_begin_set_parameter(&self, _param: ParamPtr) {}

    unsafe fn raw_set_parameter_normalized(&self, param: ParamPtr, normalized: f32) {
        // SAFETY: the caller vouches for the pointer: it is a parameter of the setter that it borrows.
        let _changed = unsafe { param._internal_set_normalized_value(normalized) };
    }

    unsafe fn raw_end_set_parameter(&self, _param: ParamPtr) {}

    fn get_state(&self) -> PluginState {
        PluginState { version: String::new(), params: BTreeMap::new(), fields: BTreeMap::new() }
    }

    fn set_state(&self, _state: PluginState) {}

    fn request_restart(&self) {}
}
