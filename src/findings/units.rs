//! Numbers with their units, as a builder reads them.

use std::cell::Cell;

/// Units of length.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// Millimetres and metres.
    #[default]
    Metric,
    /// Inches and feet.
    Imperial,
}

/// Millimetres in an inch (exact).
pub const INCH_MM: f64 = 25.4;

thread_local! {
    static UNITS: Cell<Units> = const { Cell::new(Units::Metric) };
}

/// Lengths that this thread writes from now on are in these units. Like the language of a text it is a matter of the
/// reader, and every text is written on one thread.
pub fn speak(units: Units) {
    UNITS.set(units);
}

/// The units in which this thread writes lengths.
pub fn spoken() -> Units {
    UNITS.get()
}

/// Inches below ten feet, feet above.
fn inches(mm: f64) -> String {
    let inches = mm / INCH_MM;
    match inches.abs() {
        size if size >= 120.0 => format!("{:.1} ft", inches / 12.0),
        size if size >= 10.0 => format!("{inches:.1} in"),
        size if size >= 0.1 => format!("{inches:.2} in"),
        0.0 => "0 in".to_owned(),
        _ => format!("{inches:.3} in"),
    }
}

impl Units {
    /// A length on a plan: mm below a metre and m above, or inches and feet.
    pub fn length(self, mm: f64) -> String {
        if self == Units::Imperial {
            return inches(mm);
        }
        if mm.abs() >= 1000.0 {
            let m = mm / 1000.0;
            if (m * 10.0 - (m * 10.0).round()).abs() < 1e-6 {
                format!("{m:.1} m")
            } else {
                format!("{m:.2} m")
            }
        } else if (mm - mm.round()).abs() < 0.05 {
            format!("{mm:.0} mm")
        } else {
            format!("{mm:.1} mm")
        }
    }

    /// Length: "600 mm", "28.5 mm"; from 100 mm on in whole mm. In inches for imperial units.
    pub fn mm(self, value: f64) -> String {
        if self == Units::Imperial {
            return inches(value);
        }
        if value.abs() >= 100.0 || (value - value.round()).abs() < 0.05 {
            format!("{value:.0} mm")
        } else {
            format!("{value:.1} mm")
        }
    }

    /// A small length: "0.53 mm", or "0.021 in".
    pub fn fine_mm(self, value: f64) -> String {
        match self {
            Units::Metric => format!("{value:.2} mm"),
            Units::Imperial => format!("{:.3} in", value / INCH_MM),
        }
    }

    /// A temperature of the room, given in °C: "20 °C", or "68 °F".
    pub fn temperature(self, celsius: f64) -> String {
        match self {
            Units::Metric => format!("{celsius:.0} °C"),
            Units::Imperial => format!("{:.0} °F", fahrenheit(celsius)),
        }
    }
}

/// [`Units::length`] in the units of this thread.
pub fn length(mm: f64) -> String {
    spoken().length(mm)
}

/// [`Units::mm`] in the units of this thread.
pub fn mm(value: f64) -> String {
    spoken().mm(value)
}

/// Degrees Fahrenheit of degrees Celsius (exact).
pub fn fahrenheit(celsius: f64) -> f64 {
    celsius * 1.8 + 32.0
}

/// Current: "8.09 A", "0.21 A".
pub fn amps(value: f64) -> String {
    let value = if value.abs() < 0.005 { 0.0 } else { value };
    if value.abs() >= 99.5 { format!("{value:.0} A") } else { format!("{} A", three(value)) }
}

/// Voltage: "14.0 V".
pub fn volts(value: f64) -> String {
    format!("{value:.1} V")
}

/// Time: "2.04 ms", "0.53 s", "58 µs".
pub fn ms(seconds: f64) -> String {
    if seconds >= 1.0 {
        format!("{seconds:.1} s")
    } else if seconds >= 0.1 {
        format!("{seconds:.2} s")
    } else if seconds >= 1e-3 {
        format!("{} ms", three(seconds * 1e3))
    } else {
        format!("{} µs", three(seconds * 1e6))
    }
}

/// Share of time: "56 %".
pub fn percent(share: f64) -> String {
    let percent = share * 100.0;
    if percent > 0.0 && percent < 0.95 {
        format!("{percent:.1} %")
    } else {
        format!("{percent:.0} %")
    }
}

/// Three figures, at most two behind the point.
fn three(value: f64) -> String {
    if value.abs() >= 9.995 { format!("{value:.1}") } else { format!("{value:.2}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_on_a_plan_read_well() {
        let length = |mm| Units::Metric.length(mm);
        assert_eq!(length(1200.0), "1.2 m");
        assert_eq!(length(1234.0), "1.23 m");
        assert_eq!(length(250.0), "250 mm");
        assert_eq!(length(0.8), "0.8 mm");
    }

    #[test]
    fn lengths_read_well_in_inches() {
        let told = [0.0, 0.8, 16.5, 600.0, 3048.0, -254.0].map(|mm| Units::Imperial.mm(mm));
        assert_eq!(told, ["0 in", "0.031 in", "0.65 in", "23.6 in", "10.0 ft", "-10.0 in"]);
        assert_eq!(Units::Imperial.length(600.0), "23.6 in");
        assert_eq!(Units::Imperial.fine_mm(0.53), "0.021 in");
        assert_eq!(
            [-40.0, 0.0, 20.0, 100.0].map(|c| Units::Imperial.temperature(c)),
            ["-40 °F", "32 °F", "68 °F", "212 °F"]
        );
        assert_eq!(Units::Metric.mm(600.0), "600 mm");
        assert_eq!(Units::Metric.fine_mm(0.53), "0.53 mm");
        assert_eq!(Units::Metric.temperature(20.0), "20 °C");
    }

    #[test]
    fn figures_read_well() {
        assert_eq!(amps(8.0925), "8.09 A");
        assert_eq!(amps(22.062), "22.1 A");
        assert_eq!(amps(-0.001), "0.00 A");
        assert_eq!(ms(0.00204), "2.04 ms");
        assert_eq!(ms(58e-6), "58.0 µs");
        assert_eq!(percent(0.56), "56 %");
        assert_eq!(percent(0.004), "0.4 %");
        assert_eq!(Units::Metric.mm(600.0), "600 mm");
        assert_eq!(Units::Metric.mm(1637.7), "1638 mm");
        assert_eq!(Units::Metric.mm(28.46), "28.5 mm");
    }
}
