//! Numbers with their units, as a builder reads them.

/// Units of lengths and temperatures.
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

/// Degrees Fahrenheit of degrees Celsius (exact).
pub fn fahrenheit(celsius: f64) -> f64 {
    celsius * 1.8 + 32.0
}

/// Current: "8.1 A", "0.21 A".
pub fn amps(value: f64) -> String {
    format!("{} A", digits(value, 2))
}

/// A multiple: "11 times".
pub fn times(value: f64) -> String {
    format!("{} times", digits(value, 2))
}

/// Voltage: "14 V".
pub fn volts(value: f64) -> String {
    format!("{} V", digits(value, 2))
}

/// Resistance: "3.0 Ω".
pub fn ohms(value: f64) -> String {
    format!("{} Ω", digits(value, 2))
}

/// Two currents that a sentence compares, with as many digits as it takes to tell them apart, at most four.
pub fn amps_apart(a: f64, b: f64) -> [String; 2] {
    apart(a, b).map(|number| format!("{number} A"))
}

/// The same for voltages.
pub fn volts_apart(a: f64, b: f64) -> [String; 2] {
    apart(a, b).map(|number| format!("{number} V"))
}

fn apart(a: f64, b: f64) -> [String; 2] {
    let with = |count: i32| [digits(a, count), digits(b, count)];
    (2..4).map(with).find(|[a, b]| a != b).unwrap_or_else(|| with(4))
}

/// A number with so many significant digits, at most two behind the point.
fn digits(value: f64, count: i32) -> String {
    if !value.is_finite() || value == 0.0 {
        return format!("{value:.0}");
    }
    let lead = value.abs().log10().floor() as i32;
    // Rounding may carry into a digit more: 9.96 is 10.
    let step = 10f64.powi(lead + 1 - count);
    let rounded = (value / step).round() * step;
    let lead = rounded.abs().log10().floor().max(f64::from(lead)) as i32;
    let behind = (count - 1 - lead).clamp(0, 2) as usize;
    let text = format!("{rounded:.behind$}");
    if text.chars().all(|c| "-0.".contains(c)) { "0".to_owned() } else { text }
}

/// Time: "2.0 ms", "0.53 s", "58 µs".
pub fn ms(seconds: f64) -> String {
    if seconds >= 0.0995 {
        format!("{} s", digits(seconds, 2))
    } else if seconds >= 0.995e-3 {
        format!("{} ms", digits(seconds * 1e3, 2))
    } else {
        format!("{} µs", digits(seconds * 1e6, 2))
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
        assert_eq!(
            [8.0925, 22.062, 128.4, 9.96, 0.209].map(amps),
            ["8.1 A", "22 A", "130 A", "10 A", "0.21 A"]
        );
        assert_eq!(
            [-0.001, 0.0, 0.004, 0.006, 3.0].map(amps),
            ["0 A", "0 A", "0 A", "0.01 A", "3.0 A"]
        );
        assert_eq!([14.0, 12.6, 4.5].map(volts), ["14 V", "13 V", "4.5 V"]);
        assert_eq!(
            [0.00204, 58e-6, 0.53, 12.34, 0.0996].map(ms),
            ["2.0 ms", "58 µs", "0.53 s", "12 s", "0.10 s"]
        );
        assert_eq!(amps_apart(3.04, 3.0), ["3.04 A", "3.00 A"]);
        assert_eq!(amps_apart(8.09, 3.0), ["8.1 A", "3.0 A"]);
        assert_eq!(volts_apart(12.6, 13.0), ["12.6 V", "13.0 V"]);
        assert_eq!(percent(0.56), "56 %");
        assert_eq!(percent(0.004), "0.4 %");
        assert_eq!(Units::Metric.mm(600.0), "600 mm");
        assert_eq!(Units::Metric.mm(1637.7), "1638 mm");
        assert_eq!(Units::Metric.mm(28.46), "28.5 mm");
    }
}
