//! Numbers with their units, as a builder reads them.

/// Current: "8.09 A", "0.21 A".
pub fn amps(value: f64) -> String {
    let value = if value.abs() < 0.005 { 0.0 } else { value };
    if value.abs() >= 99.5 { format!("{value:.0} A") } else { format!("{} A", three(value)) }
}

/// Voltage: "14.0 V".
pub fn volts(value: f64) -> String {
    format!("{value:.1} V")
}

/// Length: "600 mm", "28.5 mm"; from 100 mm on in whole mm.
pub fn mm(value: f64) -> String {
    if value.abs() >= 100.0 || (value - value.round()).abs() < 0.05 {
        format!("{value:.0} mm")
    } else {
        format!("{value:.1} mm")
    }
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
    fn figures_read_well() {
        assert_eq!(amps(8.0925), "8.09 A");
        assert_eq!(amps(22.062), "22.1 A");
        assert_eq!(amps(-0.001), "0.00 A");
        assert_eq!(ms(0.00204), "2.04 ms");
        assert_eq!(ms(58e-6), "58.0 µs");
        assert_eq!(percent(0.56), "56 %");
        assert_eq!(percent(0.004), "0.4 %");
        assert_eq!(mm(600.0), "600 mm");
        assert_eq!(mm(1637.7), "1638 mm");
        assert_eq!(mm(28.46), "28.5 mm");
    }
}
