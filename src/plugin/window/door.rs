//! Opens the window at the size at which the project last had it.
//!
//! The framework's own editor takes its first size when the plugin is made, before a project is loaded; this
//! one makes a fresh editor each time the window is opened.

use super::{App, Links};
use crate::shell::state::WindowMemory;
use nice_plug::context::gui::GuiContext;
use nice_plug::editor::dpi::{LogicalSize, NativeSize, Size};
use nice_plug::editor::{Editor, HostMethods, ParentWindowHandle, ResizeHint, SizeConstraints, SpawnedEditor};
use nice_plug_egui::{
    EguiEditor, EguiEditorHandle, EguiEditorState, EguiNiceSettings, GraphicsConfig, baseview, create_egui_editor,
};
use std::error::Error;
use std::sync::atomic::Ordering;
use std::sync::{Arc, PoisonError};

/// The smallest window in which nothing is cut, logical points.
const SMALLEST: LogicalSize<f32> = LogicalSize { width: 480.0, height: 320.0 };

/// Our editor.
pub struct AchalaEditor {
    links: Arc<Links>,
}

/// The editor of an instance.
pub(crate) fn editor(links: Arc<Links>) -> AchalaEditor {
    AchalaEditor { links }
}

/// Writes the window's size down in the project; how dense its screen is belongs to the screen.
pub(super) fn remember(links: &Links, size: baseview::WindowSize) {
    links.scale.store(crate::units::num::single(size.scale_factor), Ordering::Relaxed);
    let mut memory = links.params.saved.window.write().unwrap_or_else(PoisonError::into_inner);
    memory.width = crate::units::num::single(size.logical.width);
    memory.height = crate::units::num::single(size.logical.height);
}

impl AchalaEditor {
    fn memory(&self) -> WindowMemory {
        *self.links.params.saved.window.read().unwrap_or_else(PoisonError::into_inner)
    }

    fn logical(&self) -> LogicalSize<f32> {
        let memory = self.memory();
        LogicalSize { width: memory.width.clamp(480.0, 3840.0), height: memory.height.clamp(320.0, 2160.0) }
    }

    fn hint() -> ResizeHint {
        ResizeHint {
            can_resize: true,
            can_resize_horizontally: true,
            can_resize_vertically: true,
            size_constraints: SizeConstraints::min_logical_size(SMALLEST),
            ..ResizeHint::default()
        }
    }

    fn inner(&self) -> Option<EguiEditor<App>> {
        let state = EguiEditorState::from_size(Size::Logical(self.logical().cast()), 1.0);
        // Two colours of ink on a plain ground show no banding: dithering would only cost.
        let mut graphics = GraphicsConfig { dithering: false, ..GraphicsConfig::default() };
        // Flat pictures need neither depth nor stencil.
        (graphics.gl_config.depth_bits, graphics.gl_config.stencil_bits) = (0, 0);
        let settings =
            EguiNiceSettings::new().with_tile("Achala").with_resize_hint(Self::hint()).with_graphics_config(graphics);
        create_egui_editor(state, self.links.repaint.clone(), settings, App::new(self.links.clone()))
    }
}

impl Editor for AchalaEditor {
    type Handle = EguiEditorHandle;

    fn spawn(
        &self,
        parent: Option<ParentWindowHandle>,
        wait_for_parent: bool,
        fallback_scale_factor: Option<f64>,
        gui_context: GuiContext,
        host: Option<HostMethods>,
    ) -> Result<SpawnedEditor<Self::Handle>, Box<dyn Error>> {
        if let Some(scale) = fallback_scale_factor {
            self.links.scale.store(crate::units::num::single(scale), Ordering::Relaxed);
        }
        self.links.wish.ask();
        let inner = self.inner().ok_or("the window could not be made")?;
        inner.spawn(parent, wait_for_parent, fallback_scale_factor, gui_context, host)
    }

    fn size(&self) -> NativeSize<u32> {
        let scale = self.links.scale.load(Ordering::Relaxed);
        NativeSize::from_size(Size::Logical(self.logical().cast()), f64::from(scale))
    }

    fn resize_hint(&self) -> ResizeHint {
        Self::hint()
    }
}
