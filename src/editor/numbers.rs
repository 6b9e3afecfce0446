//! A number that no parameter holds: a slider with its name, its value and its unit, for the pointer and the keyboard.
//!
//! In: [`Number`]. Out: the new value, where there is one. A double click gives the default. What costs a page of the meter is
//! handed over when the pointer lets go, what is tuned by ear at once.

use super::controls::framed;
use egui::{Slider, Ui, WidgetInfo};

/// A number and how it may be changed.
#[derive(Debug, Clone, Copy)]
pub struct Number<'a> {
    /// Its name.
    pub name: &'a str,
    /// Its value.
    pub value: f64,
    /// Least and most.
    pub range: (f64, f64),
    /// One press of an arrow key.
    pub step: f64,
    /// Its unit.
    pub unit: &'a str,
    /// Its default.
    pub plain: f64,
    /// Whether it is heard while it is dragged.
    pub live: bool,
}

impl Number<'_> {
    fn said(&self, value: f64) -> String {
        let figures = if self.step < 1.0 { format!("{value:.1}") } else { format!("{value:.0}") };
        let signed =
            if self.range.0 < 0.0 && value > 0.0 { format!("+{figures}") } else { figures.replace('-', "−") };
        format!("{signed} {}", self.unit)
    }

    fn told(&self) -> String {
        let (low, high) = self.range;
        format!("{} to {}; double click: {}", self.said(low), self.said(high), self.said(self.plain))
    }
}

/// Draws it; the value that is asked for.
pub fn number(ui: &mut Ui, of: &Number<'_>) -> Option<f64> {
    let key = ui.scope_id().with(("number", of.name));
    let dragged: Option<f64> = ui.data(|data| data.get_temp(key));
    let mut value = dragged.unwrap_or(of.value);
    let (low, high) = of.range;
    ui.horizontal_wrapped(|ui| {
        let slider = Slider::new(&mut value, low..=high).step_by(of.step).show_value(false);
        let response = framed(ui, slider);
        ui.label(format!("{}: {}", of.name, of.said(value)));
        let named = format!("{}: {}", of.name, of.said(of.value));
        response.widget_info(|| WidgetInfo::slider(true, of.value, &named));
        let response = response.on_hover_text(of.told());
        if response.double_clicked() {
            ui.data_mut(|data| data.remove::<f64>(key));
            return Some(of.plain);
        }
        if response.drag_stopped() {
            ui.data_mut(|data| data.remove::<f64>(key));
            return Some(value).filter(|value| (value - of.value).abs() > 1e-9);
        }
        if response.dragged() {
            ui.data_mut(|data| data.insert_temp(key, value));
            return (of.live && response.changed()).then_some(value);
        }
        // Rounding to steps may call a value changed that nobody touched.
        response.changed().then_some(value).filter(|value| (value - of.value).abs() > of.step / 2.0)
    })
    .inner
}
