//! Rows of a form: a label and a control, each with an accessible name, each telling whether it changed.

use std::ops::RangeInclusive;

use eframe::egui::{self, ComboBox, DragValue, Id, Response, TextEdit, Ui, vec2};

use super::theme::{LABEL_WIDTH, SPACE, TIGHT, length_units, small, tokens};
use crate::layout::{Quantity, Source};
use crate::report::{INCH_MM, Units, fahrenheit};

/// How a value is shown: what it is multiplied by, and what stands behind it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// Shown behind the number.
    pub suffix: &'static str,
    /// The shown number is the value times this, and [`Unit::zero`] more.
    pub scale: f64,
    /// What is shown of a value of 0.
    pub zero: f64,
    /// Change per point of dragging, in shown units.
    pub step: f64,
}

impl Unit {
    /// The unit in which it is shown and typed: inches and feet for imperial units.
    fn shown(self, units: Units) -> Self {
        if units == Units::Metric {
            return self;
        }
        let per = |suffix, factor: f64| Self {
            suffix,
            scale: self.scale * factor,
            zero: self.zero,
            step: self.step * factor,
        };
        match self.suffix {
            " mm" => per(" in", 1.0 / INCH_MM),
            " m" => per(" ft", 1000.0 / INCH_MM / 12.0),
            " mm/s" => per(" in/s", 1.0 / INCH_MM),
            " Ω/m" => per(" Ω/ft", INCH_MM * 12.0 / 1000.0),
            " °C" => {
                Self { zero: fahrenheit(0.0), ..per(" °F", fahrenheit(1.0) - fahrenheit(0.0)) }
            }
            _ => self,
        }
    }
}

/// A number as it is typed, with its unit behind it or without.
fn typed(text: &str, suffix: &str) -> Option<f64> {
    let text = text.trim();
    text.strip_suffix(suffix.trim()).unwrap_or(text).trim().parse().ok()
}

/// A length as it is typed, mm: a bare number is in the units given; `mm`, `cm`, `m`, `in`, `ft`, `\"` and `'`
/// may stand behind it.
pub fn length_typed(text: &str, units: Units) -> Option<f64> {
    let text = text.trim();
    let digits = text.trim_end_matches(|c: char| !c.is_ascii_digit() && c != '.');
    let number: f64 = digits.trim().parse().ok()?;
    let factor = match text[digits.len()..].trim() {
        "" if units == Units::Imperial => INCH_MM,
        "" | "mm" => 1.0,
        "cm" => 10.0,
        "m" => 1000.0,
        "in" | "\"" => INCH_MM,
        "ft" | "'" => 12.0 * INCH_MM,
        _ => return None,
    };
    Some(number * factor)
}

macro_rules! units {
    ($($(#[$doc:meta])* $name:ident $suffix:literal $scale:literal $step:literal;)*) => {
        $($(#[$doc])* pub const $name: Unit = Unit { suffix: $suffix, scale: $scale, zero: 0.0, step: $step };)*
    };
}

units! {
    /// Millimetres.
    MM " mm" 1.0 1.0;
    /// Tenths of millimetres.
    FINE_MM " mm" 1.0 0.05;
    /// Metres.
    METRE " m" 1.0 0.05;
    /// Degrees.
    DEGREE "°" 1.0 1.0;
    /// Volts.
    VOLT " V" 1.0 0.1;
    /// Amperes.
    AMPERE " A" 1.0 0.05;
    /// Ohms.
    OHM " Ω" 1.0 0.005;
    /// Ohms per metre.
    OHM_PER_M " Ω/m" 1.0 0.005;
    /// Hertz.
    HERTZ " Hz" 1.0 1.0;
    /// Seconds.
    SECOND " s" 1.0 0.1;
    /// Milliseconds, of a value in seconds.
    MS " ms" 1e3 0.05;
    /// Microseconds, of a value in seconds.
    US " µs" 1e6 0.5;
    /// Microfarads, of a value in farads.
    UF " µF" 1e6 10.0;
    /// Per cent, of a fraction.
    PERCENT " %" 100.0 0.5;
    /// Degrees Celsius.
    CELSIUS " °C" 1.0 0.5;
    /// Micrometres per metre and kelvin.
    UM_PER_M_K " µm/m·K" 1.0 0.1;
    /// Millimetres per metre.
    MM_PER_M " mm/m" 1.0 0.01;
    /// Millimetres per second.
    MM_PER_S " mm/s" 1.0 1.0;
    /// Square millimetres.
    MM2 " mm²" 1.0 0.01;
    /// A bare number.
    NUMBER "" 1.0 0.5;
}

/// Temperatures of a room, °C.
pub const ROOM: RangeInclusive<f64> = -50.0..=100.0;
/// No bound that a finite number could meet.
pub const ANY: RangeInclusive<f64> = -1e7..=1e7;
/// Not negative.
pub const FROM_ZERO: RangeInclusive<f64> = 0.0..=1e7;

/// What changed in a form.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Changed {
    /// The control.
    pub field: Id,
    /// Whether more of the same may follow at once (a drag, typing).
    pub flowing: bool,
}

/// A form being filled in.
pub struct Form<'u> {
    /// Where it is drawn.
    pub ui: &'u mut Ui,
    prefix: String,
    label_width: f32,
    /// The control that changed in this frame.
    pub changed: Option<Changed>,
}

impl<'u> Form<'u> {
    /// A form whose controls are named `prefix: label` in the accessibility tree; an empty prefix leaves the label.
    pub fn new(ui: &'u mut Ui, prefix: impl Into<String>) -> Self {
        Self { ui, prefix: prefix.into(), label_width: LABEL_WIDTH, changed: None }
    }

    /// Sets the width of the column of labels.
    pub fn label_width(mut self, width: f32) -> Self {
        self.label_width = width;
        self
    }

    fn name(&self, label: &str) -> String {
        if self.prefix.is_empty() { label.to_owned() } else { format!("{}: {label}", self.prefix) }
    }

    fn note(&mut self, response: &Response, flowing: bool) {
        if response.changed() {
            self.changed = Some(Changed { field: response.id, flowing });
        }
    }

    /// A row with a label and whatever `add` puts beside it.
    pub fn row<R>(&mut self, label: &str, add: impl FnOnce(&mut Ui) -> R) -> R {
        let width = self.label_width;
        self.ui
            .horizontal(|ui| {
                let height = ui.spacing().interact_size.y;
                ui.allocate_ui_with_layout(
                    vec2(width, height),
                    egui::Layout::left_to_right(egui::Align::Center),
                    |ui| {
                        ui.set_min_size(vec2(width, height));
                        let text = egui::RichText::new(label).color(tokens(ui).weak);
                        ui.add(egui::Label::new(text).truncate());
                    },
                );
                add(ui)
            })
            .inner
    }

    /// A number; `value` is in the program's unit.
    pub fn number(
        &mut self,
        label: &str,
        value: &mut f64,
        unit: Unit,
        range: RangeInclusive<f64>,
    ) -> Response {
        let name = self.name(label);
        let response = self.row(label, |ui| number_ui(ui, value, unit, range));
        let response = response.accessible_name(name);
        self.note(&response, true);
        response
    }

    /// A whole number.
    pub fn whole(&mut self, label: &str, value: &mut u32, range: RangeInclusive<u32>) -> Response {
        let name = self.name(label);
        let before = *value;
        let response = self.row(label, |ui| {
            let response = ui.add(DragValue::new(value).range(range).update_while_editing(false));
            *value = if kept_by_escape(ui, &response) { before } else { *value };
            response
        });
        let response = response.accessible_name(name);
        self.note(&response, true);
        response
    }

    /// A number that may be absent: a tick box, and the number if it is ticked.
    pub fn optional_number(
        &mut self,
        label: &str,
        value: &mut Option<f64>,
        first: f64,
        unit: Unit,
        range: RangeInclusive<f64>,
    ) {
        let name = self.name(label);
        let (tick, number) = self.row(label, |ui| {
            let mut on = value.is_some();
            let tick = ui.checkbox(&mut on, "");
            if tick.changed() {
                *value = on.then_some(first);
            }
            let number = value.as_mut().map(|v| number_ui(ui, v, unit, range));
            (tick, number)
        });
        let tick = tick.accessible_name(format!("{name} stated"));
        self.note(&tick, false);
        if let Some(number) = number {
            let number = number.accessible_name(name);
            self.note(&number, true);
        }
    }

    /// A value with its source. Typing a value makes an assumed one *given*.
    pub fn quantity(
        &mut self,
        label: &str,
        quantity: &mut Quantity,
        unit: Unit,
        range: RangeInclusive<f64>,
    ) {
        let name = self.name(label);
        let id = self.ui.scope_id().with(("source", label));
        let (number, source) = self.row(label, |ui| {
            let before = quantity.value;
            let number = number_ui(ui, &mut quantity.value, unit, range.clone());
            if quantity.value != before && quantity.is_assumed() {
                quantity.source = Source::Given;
            }
            (number, source_ui(ui, id, &name, quantity))
        });
        let number = number.accessible_name(name.clone());
        self.note(&number, true);
        if source {
            self.changed = Some(Changed { field: id, flowing: false });
        }
        if let Source::Assumed { from, to } = &mut quantity.source {
            let (low, high) = self.row("", |ui| {
                ui.label(small(ui, "from"));
                let low = number_ui(ui, from, unit, range.clone());
                ui.label(small(ui, "to"));
                let high = number_ui(ui, to, unit, range.clone());
                (low, high)
            });
            let low = low.accessible_name(format!("{name}, least"));
            let high = high.accessible_name(format!("{name}, most"));
            self.note(&low, true);
            self.note(&high, true);
        }
    }

    /// A value with its source that may be absent.
    pub fn optional_quantity(
        &mut self,
        label: &str,
        quantity: &mut Option<Quantity>,
        first: f64,
        unit: Unit,
        range: RangeInclusive<f64>,
    ) {
        match quantity {
            Some(q) => {
                self.quantity(label, q, unit, range);
                let name = format!("{}, leave out", self.name(label));
                let width = self.label_width + SPACE;
                let gone = self
                    .ui
                    .horizontal(|ui| {
                        ui.add_space(width);
                        ui.add(egui::Button::new(small(ui, "leave out")).frame(false))
                    })
                    .inner
                    .accessible_name(name);
                if gone.clicked() {
                    *quantity = None;
                    self.changed = Some(Changed { field: gone.id, flowing: false });
                }
            }
            None => {
                let name = format!("{}, state", self.name(label));
                let add = self.row(label, |ui| {
                    ui.label(small(ui, "not stated"));
                    ui.add(egui::Button::new(small(ui, "state")))
                });
                let add = add.accessible_name(name);
                if add.clicked() {
                    *quantity = Some(Quantity::given(first));
                    self.changed = Some(Changed { field: add.id, flowing: false });
                }
            }
        }
    }

    /// A line of text.
    pub fn text(&mut self, label: &str, value: &mut String, hint: &str) -> Response {
        let name = self.name(label);
        let hint = hint.to_owned();
        let response = self.row(label, |ui| {
            let hint = small(ui, hint);
            ui.add(TextEdit::singleline(value).hint_text(hint).desired_width(f32::INFINITY))
        });
        let response = response.accessible_name(name);
        self.note(&response, true);
        response
    }

    /// Several lines of text, under their label.
    pub fn notes(&mut self, label: &str, value: &mut String) {
        let name = self.name(label);
        let hint = small(self.ui, "Free words");
        let text = egui::RichText::new(label).color(tokens(self.ui).weak);
        self.ui.label(text);
        let response = self
            .ui
            .add(
                TextEdit::multiline(value)
                    .hint_text(hint)
                    .desired_rows(2)
                    .desired_width(f32::INFINITY),
            )
            .accessible_name(name);
        self.note(&response, true);
    }

    /// A tick box with its words beside it.
    pub fn tick(&mut self, label: &str, value: &mut bool) -> Response {
        let name = self.name(label);
        let response = self.ui.checkbox(value, label).accessible_name(name);
        self.note(&response, false);
        response
    }

    /// One of several.
    pub fn choice<T: PartialEq + Clone>(
        &mut self,
        label: &str,
        value: &mut T,
        choices: &[(T, String)],
    ) -> Response {
        let name = self.name(label);
        let id = self.ui.scope_id().with(("choice", &name));
        let (response, changed) =
            self.row(label, |ui| choice_ui(ui, id, &name, value, choices, None));
        if changed {
            self.changed = Some(Changed { field: id, flowing: false });
        }
        response
    }

    /// Words under the form's rows.
    pub fn hint(&mut self, text: &str) {
        let text = small(self.ui, text);
        self.ui.label(text);
    }
}

/// A box that opens to one of several choices. Returns its response and whether the choice changed.
pub fn choice_ui<T: PartialEq + Clone>(
    ui: &mut Ui,
    id: Id,
    name: &str,
    value: &mut T,
    choices: &[(T, String)],
    width: Option<f32>,
) -> (Response, bool) {
    let shown = choices.iter().find(|(v, _)| v == value).map_or("choose", |(_, w)| w.as_str());
    let mut changed = false;
    let width = width.unwrap_or_else(|| ui.available_width().min(260.0));
    let inner = ComboBox::from_id_salt(id)
        .width(width)
        .selected_text(egui::RichText::new(shown))
        .truncate()
        .show_ui(ui, |ui| {
            for (choice, word) in choices {
                let chosen = choice == value;
                if ui.selectable_label(chosen, word).clicked() {
                    if !chosen {
                        *value = choice.clone();
                        changed = true;
                    }
                    // A click of assistive technology is no click of the pointer, which would close it by itself.
                    ui.close();
                }
            }
        });
    (inner.response.accessible_name(name), changed)
}

fn number_ui(ui: &mut Ui, value: &mut f64, unit: Unit, range: RangeInclusive<f64>) -> Response {
    let is_length = unit.suffix == MM.suffix;
    let units = length_units(ui);
    let unit = unit.shown(units);
    let mut shown = *value * unit.scale + unit.zero;
    // Values in small units must not turn up as 0.30000000000000004.
    shown = (shown * 1e6).round() / 1e6;
    let [least, most] = [range.start(), range.end()].map(|end| end * unit.scale + unit.zero);
    let response = ui.add(
        DragValue::new(&mut shown)
            .suffix(unit.suffix)
            .speed(unit.step)
            .range(least..=most)
            .max_decimals(if units == Units::Metric { 6 } else { 4 })
            .custom_parser(move |text| match is_length {
                true => length_typed(text, units).map(|mm| mm * unit.scale),
                false => typed(text, unit.suffix),
            })
            .clamp_existing_to_range(false)
            .update_while_editing(false)
            .min_size(vec2(72.0, ui.spacing().interact_size.y)),
    );
    let kept = kept_by_escape(ui, &response);
    if response.changed() && shown.is_finite() && !kept {
        *value = (shown - unit.zero) / unit.scale;
    }
    response
}

/// Whether Escape has just ended the typing in a number: the toolkit takes the text in all the same, one frame later.
fn kept_by_escape(ui: &Ui, number: &Response) -> bool {
    let key = number.id.with("escaped");
    let before = ui.data_mut(|d| d.remove_temp::<bool>(key)).is_some();
    let escaped = number.lost_focus() && ui.input(|i| i.key_pressed(egui::Key::Escape));
    escaped.then(|| ui.data_mut(|d| d.insert_temp(key, true)));
    escaped || before
}

const SOURCES: [(&str, &str); 4] = [
    ("given", "Stated without a source; taken as exact"),
    ("measured", "Measured on the real thing"),
    ("data sheet", "From a data sheet"),
    (
        "assumed",
        "Assumed: the true value lies in a range, and a verdict that changes in it is not known",
    ),
];

fn source_ui(ui: &mut Ui, id: Id, name: &str, quantity: &mut Quantity) -> bool {
    let now = match quantity.source {
        Source::Given => 0,
        Source::Measured => 1,
        Source::DataSheet => 2,
        Source::Assumed { .. } => 3,
    };
    let mut next = now;
    let inner =
        ComboBox::from_id_salt(id).width(86.0).selected_text(SOURCES[now].0).show_ui(ui, |ui| {
            ui.spacing_mut().item_spacing.y = TIGHT;
            for (n, (word, why)) in SOURCES.iter().enumerate() {
                if ui.selectable_label(n == now, *word).on_hover_text(*why).clicked() {
                    next = n;
                    ui.close();
                }
            }
        });
    inner.response.accessible_name(format!("{name}, source"));
    if next == now {
        return false;
    }
    let v = quantity.value;
    quantity.source = match next {
        1 => Source::Measured,
        2 => Source::DataSheet,
        3 => Source::Assumed { from: v.min(v * 0.7), to: v.max(v * 1.3) },
        _ => Source::Given,
    };
    true
}
