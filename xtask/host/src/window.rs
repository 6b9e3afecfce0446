//! The plugin's window in a display: opened in a window of ours, looked at, and given keys as a keyboard gives them.
//!
//! In: a running X11 display (`DISPLAY`; a virtual one does). Out: the plugin's window embedded as a host embeds it, its pixels, and
//! key presses through the server's test extension (XTEST). Linux only.

use super::{Host, Result};
use clack_extensions::gui::{GuiApiType, GuiConfiguration, GuiSize, PluginGui, Window as Parent};
use std::time::Duration;
use x11rb::connection::Connection;
use x11rb::protocol::xproto::{
    AtomEnum, BUTTON_PRESS_EVENT, BUTTON_RELEASE_EVENT, ConfigureWindowAux, ConnectionExt as _, CreateWindowAux,
    ImageFormat, InputFocus, KEY_PRESS_EVENT, KEY_RELEASE_EVENT, MOTION_NOTIFY_EVENT, PropMode, WindowClass,
};
use x11rb::protocol::xtest::ConnectionExt as _;
use x11rb::rust_connection::RustConnection;
use x11rb::wrapper::ConnectionExt as _;

/// How long a server and a window may take to answer, at most.
const ANSWERS: Duration = Duration::from_secs(5);

/// Between the parts of a click: some frames.
const HAND: Duration = Duration::from_millis(120);

/// A window of ours in a display.
pub struct Display {
    connection: RustConnection,
    root: u32,
    parent: u32,
    size: (u16, u16),
}

impl Display {
    /// Connects to the display and makes a window.
    ///
    /// # Errors
    /// When there is no display.
    pub fn new(width: u16, height: u16) -> Result<Self> {
        let (connection, screen) = x11rb::connect(None)?;
        let screen = connection.setup().roots.get(screen).ok_or("the display has no screen")?;
        let (root, visual) = (screen.root, screen.root_visual);
        let parent = connection.generate_id()?;
        let aux = CreateWindowAux::new();
        connection.create_window(0, parent, root, 0, 0, width, height, 0, WindowClass::INPUT_OUTPUT, visual, &aux)?;
        connection.map_window(parent)?;
        connection.flush()?;
        Ok(Self { connection, root, parent, size: (width, height) })
    }

    /// The plugin's window inside ours, if it is there.
    ///
    /// # Errors
    /// When the display is gone.
    pub fn child(&self) -> Result<Option<u32>> {
        Ok(self.connection.query_tree(self.parent)?.reply()?.children.first().copied())
    }

    /// Waits until the plugin's window is there.
    ///
    /// # Errors
    /// When it does not come.
    pub fn wait_for_child(&self) -> Result<()> {
        let began = std::time::Instant::now();
        while self.child()?.is_none() {
            if began.elapsed() > ANSWERS {
                return Err("the plugin's window did not come".into());
            }
            std::thread::sleep(Duration::from_millis(2));
        }
        Ok(())
    }

    /// The number of our window.
    #[must_use]
    pub fn handle(&self) -> u32 {
        self.parent
    }

    /// The size of our window, pixels.
    #[must_use]
    pub fn size(&self) -> (u16, u16) {
        self.size
    }

    /// The size of the plugin's window, pixels.
    ///
    /// # Errors
    /// When it is not there.
    pub fn child_size(&self) -> Result<(u16, u16)> {
        let child = self.child()?.ok_or("the plugin's window is not there")?;
        let shape = self.connection.get_geometry(child)?.reply()?;
        Ok((shape.width, shape.height))
    }

    /// Another size for our window, pixels.
    ///
    /// # Errors
    /// When the display is gone.
    pub fn resize(&mut self, width: u16, height: u16) -> Result<()> {
        let aux = ConfigureWindowAux::new().width(u32::from(width)).height(u32::from(height));
        self.connection.configure_window(self.parent, &aux)?;
        self.connection.sync()?;
        self.size = (width, height);
        Ok(())
    }

    /// Says how dense the screen is, as a desktop does (the resource `Xft.dpi`; 96 is a scale factor of 1). Windows that are
    /// opened from now on follow it.
    ///
    /// # Errors
    /// When the display is gone.
    pub fn dots_per_inch(&self, dpi: u32) -> Result<()> {
        let said = format!("Xft.dpi:\t{dpi}\n");
        let (kind, name) = (AtomEnum::STRING, AtomEnum::RESOURCE_MANAGER);
        self.connection.change_property8(PropMode::REPLACE, self.root, name, kind, said.as_bytes())?;
        self.connection.sync()?;
        Ok(())
    }

    /// Moves the pointer.
    ///
    /// # Errors
    /// When the display is gone.
    pub fn point(&self, (x, y): (i16, i16)) -> Result<()> {
        self.connection.xtest_fake_input(MOTION_NOTIFY_EVENT, 0, 0, self.root, x, y, 0)?.check()?;
        Ok(())
    }

    /// Clicks with the pointer's first button.
    ///
    /// # Errors
    /// When the display is gone.
    pub fn click(&self, at: (i16, i16)) -> Result<()> {
        self.point(at)?;
        std::thread::sleep(HAND);
        for kind in [BUTTON_PRESS_EVENT, BUTTON_RELEASE_EVENT] {
            self.connection.xtest_fake_input(kind, 1, 0, self.root, 0, 0, 0)?.check()?;
            // A frame may pass between two of them, as with a hand.
            std::thread::sleep(HAND);
        }
        Ok(())
    }

    /// What is to be seen: four bytes a pixel (blue, green, red, unused), row by row.
    ///
    /// # Errors
    /// When the display is gone.
    pub fn pixels(&self) -> Result<Vec<u8>> {
        self.part((0, 0), self.size)
    }

    /// A part of it, from a corner.
    ///
    /// # Errors
    /// When the display is gone, or the part lies outside.
    pub fn part(&self, (x, y): (i16, i16), (width, height): (u16, u16)) -> Result<Vec<u8>> {
        Ok(self.connection.get_image(ImageFormat::Z_PIXMAP, self.parent, x, y, width, height, !0)?.reply()?.data)
    }

    /// Gives the keyboard to the plugin's window.
    ///
    /// # Errors
    /// When it is not there.
    pub fn focus(&self) -> Result<()> {
        let child = self.child()?.ok_or("the plugin's window is not there")?;
        self.connection.set_input_focus(InputFocus::PARENT, child, x11rb::CURRENT_TIME)?;
        self.connection.sync()?;
        Ok(())
    }

    /// Presses and lets go of the key that bears this symbol (X11 keysym), shift as the keyboard needs it.
    ///
    /// # Errors
    /// When the keyboard has no such key.
    pub fn press(&self, symbol: u32) -> Result<()> {
        let (code, shifted) = self.code(symbol)?;
        let shift = if shifted { Some(self.code(SHIFT)?.0) } else { None };
        let root = self.root;
        let give = |kind: u8, code: u8| -> Result<()> {
            self.connection.xtest_fake_input(kind, code, 0, root, 0, 0, 0)?.check()?;
            Ok(())
        };
        if let Some(shift) = shift {
            give(KEY_PRESS_EVENT, shift)?;
        }
        give(KEY_PRESS_EVENT, code)?;
        give(KEY_RELEASE_EVENT, code)?;
        if let Some(shift) = shift {
            give(KEY_RELEASE_EVENT, shift)?;
        }
        self.connection.sync()?;
        Ok(())
    }

    /// The key that bears a symbol, and whether shift goes with it.
    fn code(&self, symbol: u32) -> Result<(u8, bool)> {
        let setup = self.connection.setup();
        let count = setup.max_keycode - setup.min_keycode + 1;
        let map = self.connection.get_keyboard_mapping(setup.min_keycode, count)?.reply()?;
        let each = usize::from(map.keysyms_per_keycode.max(1));
        for shifted in [false, true] {
            let at = map.keysyms.chunks(each).position(|k| k.get(usize::from(shifted)) == Some(&symbol));
            if let Some(at) = at {
                return Ok((setup.min_keycode + u8::try_from(at)?, shifted));
            }
        }
        Err(format!("the keyboard has no key for {symbol:#x}").into())
    }
}

/// The keysym of the left shift key.
const SHIFT: u32 = 0xffe1;

impl Host {
    /// Opens the plugin's window inside `display`'s and waits until it is there.
    ///
    /// # Errors
    /// When the plugin has none, or it does not come.
    pub fn open(&mut self, display: &Display) -> Result<()> {
        let gui = self.made()?;
        let (width, height) = display.size;
        // A plugin that keeps its own size says so; nothing depends on it.
        let _ = gui.set_size(&self.instance.plugin_handle(), GuiSize { width: width.into(), height: height.into() });
        self.show(gui, display)
    }

    /// The same, but it is our window that takes the size which the plugin says.
    ///
    /// # Errors
    /// As [`Host::open`].
    pub fn open_as_remembered(&mut self, display: &mut Display) -> Result<()> {
        let gui = self.made()?;
        let size = gui.get_size(&self.instance.plugin_handle()).ok_or("the plugin says no size")?;
        display.resize(u16::try_from(size.width)?, u16::try_from(size.height)?)?;
        self.show(gui, display)
    }

    /// The size that the plugin says its window has, pixels.
    ///
    /// # Errors
    /// When it says none.
    pub fn said_size(&mut self) -> Result<(u32, u32)> {
        let handle = self.instance.plugin_handle();
        let gui: PluginGui = handle.get_extension().ok_or("no window extension")?;
        let size = gui.get_size(&handle).ok_or("the plugin says no size")?;
        Ok((size.width, size.height))
    }

    fn made(&mut self) -> Result<PluginGui> {
        let handle = self.instance.plugin_handle();
        let gui: PluginGui = handle.get_extension().ok_or("no window extension")?;
        gui.create(&handle, GuiConfiguration { api_type: GuiApiType::X11, is_floating: false })?;
        Ok(gui)
    }

    fn show(&mut self, gui: PluginGui, display: &Display) -> Result<()> {
        let handle = self.instance.plugin_handle();
        #[expect(
            unsafe_code,
            reason = "the window outlives the plugin's: `display` is borrowed by every caller that opens one"
        )]
        unsafe {
            gui.set_parent(&handle, Parent::from_x11_handle(display.parent.into()))?;
        }
        gui.show(&handle)?;
        display.wait_for_child()
    }

    /// Gives an open window and ours another size, as when the user pulls at a corner.
    ///
    /// # Errors
    /// When the plugin refuses it.
    pub fn resize(&mut self, display: &mut Display, width: u16, height: u16) -> Result<()> {
        display.resize(width, height)?;
        let handle = self.instance.plugin_handle();
        let gui: PluginGui = handle.get_extension().ok_or("no window extension")?;
        gui.set_size(&handle, GuiSize { width: width.into(), height: height.into() })?;
        Ok(())
    }

    /// Closes the plugin's window.
    pub fn close(&mut self) {
        let handle = self.instance.plugin_handle();
        if let Some(gui) = handle.get_extension::<PluginGui>() {
            gui.destroy(&handle);
        }
    }
}
