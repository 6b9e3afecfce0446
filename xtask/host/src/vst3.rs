//! A small VST3 host in process: the plugin's editor opened in a display, its parameters, and the run loop that Linux hosts lend.
//!
//! In: a bundle (`*.vst3`) or the plugin's own factory; a running X11 display. Out: the embedded window, parameters by name, what the
//! plugin has registered with the run loop. One thread plays the host's; no audio is played. Linux only.

#![expect(
    unsafe_code,
    reason = "the interface of VST3 is all raw pointers; each is the plugin's own or outlives the call, and the plugin is the one just built"
)]

use super::Result;
use super::window::Display;
use libloading::Library;
use std::cell::{Cell, RefCell};
use std::ffi::c_void;
use std::path::Path;
use vst3::Steinberg::Linux::{
    FileDescriptor, IEventHandler, IEventHandlerTrait, IRunLoop, IRunLoopTrait, ITimerHandler, TimerInterval,
};
use vst3::Steinberg::Vst::{IComponent, IEditController, IEditControllerTrait, ParamID, ParameterInfo};
use vst3::Steinberg::{
    IPlugFrame, IPlugFrameTrait, IPlugView, IPlugViewTrait, IPluginBaseTrait, IPluginFactory, IPluginFactoryTrait,
    PClassInfo, ViewRect, kInvalidArgument, kNotImplemented, kPlatformTypeX11EmbedWindowID, kResultOk, tresult,
};
use vst3::{Class, ComPtr, ComRef, ComWrapper, Interface};

/// What a module gives its host.
pub type GetFactory = extern "system" fn() -> *mut c_void;

/// The host's side of an open view.
#[derive(Default)]
struct Frame {
    /// What waits for something to be read, and where.
    handlers: RefCell<Vec<(ComPtr<IEventHandler>, FileDescriptor)>>,
    /// The size that the view last asked for.
    asked: Cell<Option<(i32, i32)>>,
}

impl Class for Frame {
    type Interfaces = (IPlugFrame, IRunLoop);
}

impl IPlugFrameTrait for Frame {
    unsafe fn resizeView(&self, _view: *mut IPlugView, size: *mut ViewRect) -> tresult {
        // SAFETY: the view's own rectangle, for the time of the call.
        let Some(size) = (unsafe { size.as_ref() }) else { return kInvalidArgument };
        self.asked.set(Some((size.right - size.left, size.bottom - size.top)));
        kResultOk
    }
}

impl IRunLoopTrait for Frame {
    unsafe fn registerEventHandler(&self, handler: *mut IEventHandler, fd: FileDescriptor) -> tresult {
        // SAFETY: an object of the plugin's, which is counted from here on.
        let Some(handler) = (unsafe { ComRef::from_raw(handler) }) else { return kInvalidArgument };
        self.handlers.borrow_mut().push((handler.to_com_ptr(), fd));
        kResultOk
    }

    unsafe fn unregisterEventHandler(&self, handler: *mut IEventHandler) -> tresult {
        self.handlers.borrow_mut().retain(|(known, _)| known.as_ptr() != handler);
        kResultOk
    }

    unsafe fn registerTimer(&self, _handler: *mut ITimerHandler, _milliseconds: TimerInterval) -> tresult {
        kNotImplemented
    }

    unsafe fn unregisterTimer(&self, _handler: *mut ITimerHandler) -> tresult {
        kNotImplemented
    }
}

/// One instance of the plugin, component and controller in one.
pub struct Vst3 {
    view: Option<ComPtr<IPlugView>>,
    controller: ComPtr<IEditController>,
    component: ComPtr<IComponent>,
    frame: ComWrapper<Frame>,
    /// Goes last: all of the above runs its code.
    _library: Option<Library>,
}

impl Vst3 {
    /// Loads the first plugin of a bundle.
    ///
    /// # Errors
    /// When there is no module for this machine in it, or its plugin cannot be made.
    pub fn load(bundle: &Path) -> Result<Self> {
        let name = bundle.file_stem().ok_or("the bundle has no name")?;
        let folder = bundle.join("Contents").join(format!("{}-linux", std::env::consts::ARCH));
        // SAFETY: the plugin's own binary, its entry points as the interface names them.
        unsafe {
            let library = Library::new(folder.join(name).with_extension("so"))?;
            let enter: libloading::Symbol<'_, unsafe extern "C" fn(*mut c_void) -> bool> =
                library.get(b"ModuleEntry")?;
            if !enter(std::ptr::null_mut()) {
                return Err("the module refuses to be entered".into());
            }
            let factory = *library.get::<GetFactory>(b"GetPluginFactory")?;
            Self::start(factory, Some(library))
        }
    }

    /// The first plugin of a factory that is linked into this program.
    ///
    /// # Errors
    /// When the plugin cannot be made.
    pub fn linked(factory: GetFactory) -> Result<Self> {
        Self::start(factory, None)
    }

    fn start(factory: GetFactory, library: Option<Library>) -> Result<Self> {
        // SAFETY: each pointer is checked where it is taken, and lives as long as what it is taken from.
        unsafe {
            let factory: ComPtr<IPluginFactory> =
                ComPtr::from_raw(factory().cast()).ok_or("the module has no factory")?;
            let mut class: PClassInfo = std::mem::zeroed();
            done(factory.getClassInfo(0, &raw mut class), "the factory has no class")?;
            let mut made = std::ptr::null_mut();
            let interface = IComponent::IID.as_ptr().cast();
            done(factory.createInstance(class.cid.as_ptr(), interface, &raw mut made), "the component cannot be made")?;
            let component: ComPtr<IComponent> = ComPtr::from_raw(made.cast()).ok_or("the component is nothing")?;
            done(component.initialize(std::ptr::null_mut()), "the component cannot begin")?;
            let controller: ComPtr<IEditController> = component.cast().ok_or("the component has no controller")?;
            Ok(Self { view: None, controller, component, frame: ComWrapper::new(Frame::default()), _library: library })
        }
    }

    /// A parameter's id by its name.
    ///
    /// # Errors
    /// When there is none of that name.
    pub fn parameter(&self, name: &str) -> Result<u32> {
        // SAFETY: plain numbers, and a record that the plugin fills.
        unsafe {
            for i in 0..self.controller.getParameterCount() {
                let mut info: ParameterInfo = std::mem::zeroed();
                done(self.controller.getParameterInfo(i, &raw mut info), "a parameter says nothing of itself")?;
                let title: Vec<u16> = info.title.iter().copied().take_while(|c| *c != 0).collect();
                if String::from_utf16_lossy(&title) == name {
                    return Ok(info.id);
                }
            }
        }
        Err(format!("no parameter '{name}'").into())
    }

    /// A parameter's value now, 0 to 1.
    #[must_use]
    pub fn value(&self, id: ParamID) -> f64 {
        // SAFETY: plain numbers.
        unsafe { self.controller.getParamNormalized(id) }
    }

    /// Gives a parameter a value, 0 to 1.
    ///
    /// # Errors
    /// When the plugin refuses it.
    pub fn set(&self, id: ParamID, value: f64) -> Result<()> {
        // SAFETY: plain numbers.
        done(unsafe { self.controller.setParamNormalized(id, value) }, "the value was refused")
    }

    /// Makes a view and opens it inside `display`'s window; waits until it is there. `run_loop`: whether the host has one.
    ///
    /// # Errors
    /// When the plugin has none, or it does not come.
    pub fn open(&mut self, display: &Display, run_loop: bool) -> Result<()> {
        // SAFETY: view and frame are counted; the window outlives the view, as `display` is borrowed by whoever opens one.
        unsafe {
            let view = self.controller.createView(c"editor".as_ptr());
            let view = ComPtr::from_raw(view).ok_or("the plugin has no view")?;
            done(view.isPlatformTypeSupported(kPlatformTypeX11EmbedWindowID), "no view for X11")?;
            if run_loop {
                let frame = self.frame.as_com_ref::<IPlugFrame>().ok_or("the frame is none")?;
                done(view.setFrame(frame.as_ptr()), "the frame was refused")?;
            }
            self.view = Some(view);
        }
        self.attach(display)
    }

    /// Opens the view that there is once more.
    ///
    /// # Errors
    /// When there is none, or it does not come.
    pub fn attach(&mut self, display: &Display) -> Result<()> {
        let view = self.view.as_ref().ok_or("no view was made")?;
        let parent = std::ptr::without_provenance_mut(usize::try_from(display.handle())?);
        // SAFETY: an X11 window goes by its number.
        done(unsafe { view.attached(parent, kPlatformTypeX11EmbedWindowID) }, "the view cannot be attached")?;
        display.wait_for_child()
    }

    /// Takes the view out of the window, and keeps it.
    ///
    /// # Errors
    /// When it was in none.
    pub fn remove(&mut self) -> Result<()> {
        let view = self.view.as_ref().ok_or("no view was made")?;
        // SAFETY: the view is ours.
        done(unsafe { view.removed() }, "the view cannot be removed")
    }

    /// Takes the view out of the window and lets go of it.
    ///
    /// # Errors
    /// When it was in none.
    pub fn close(&mut self) -> Result<()> {
        self.remove()?;
        if let Some(view) = self.view.take() {
            // SAFETY: no frame is one, too.
            done(unsafe { view.setFrame(std::ptr::null_mut()) }, "the frame was kept")?;
        }
        Ok(())
    }

    /// The size of the view, pixels.
    ///
    /// # Errors
    /// When it says none.
    pub fn size(&self) -> Result<(i32, i32)> {
        let view = self.view.as_ref().ok_or("no view was made")?;
        let mut rect = ViewRect { left: 0, top: 0, right: 0, bottom: 0 };
        // SAFETY: a record that the plugin fills.
        done(unsafe { view.getSize(&raw mut rect) }, "the view says no size")?;
        Ok((rect.right - rect.left, rect.bottom - rect.top))
    }

    /// Gives view and window another size, as when the user pulls at a corner; the size that the view agreed to.
    ///
    /// # Errors
    /// When it keeps its own.
    pub fn resize(&mut self, display: &mut Display, (width, height): (u16, u16)) -> Result<(u16, u16)> {
        let view = self.view.as_ref().ok_or("no view was made")?;
        let mut rect = ViewRect { left: 0, top: 0, right: width.into(), bottom: height.into() };
        // SAFETY: a record for the time of the calls.
        unsafe {
            done(view.canResize(), "the view keeps its size")?;
            done(view.checkSizeConstraint(&raw mut rect), "the view refuses that size")?;
            let size = (u16::try_from(rect.right - rect.left)?, u16::try_from(rect.bottom - rect.top)?);
            display.resize(size.0, size.1)?;
            done(view.onSize(&raw mut rect), "the view did not take its size")?;
            Ok(size)
        }
    }

    /// One turn of the run loop: whatever is registered may read what waits for it.
    pub fn turn(&self) {
        let handlers = self.frame.handlers.borrow().clone();
        for (handler, fd) in handlers {
            // SAFETY: a counted object of the plugin's; where nothing waits it reads nothing.
            unsafe { handler.onFDIsSet(fd) };
        }
    }

    /// How much is registered with the run loop.
    #[must_use]
    pub fn registered(&self) -> usize {
        self.frame.handlers.borrow().len()
    }

    /// The size that the view last asked its host for, pixels.
    #[must_use]
    pub fn asked(&self) -> Option<(i32, i32)> {
        self.frame.asked.get()
    }
}

impl Drop for Vst3 {
    fn drop(&mut self) {
        if self.view.is_some() {
            // It may lie in no window any more.
            let _ = self.close();
        }
        // SAFETY: the last call to the component.
        unsafe { self.component.terminate() };
    }
}

fn done(result: tresult, otherwise: &'static str) -> Result<()> {
    if result == kResultOk { Ok(()) } else { Err(otherwise.into()) }
}
