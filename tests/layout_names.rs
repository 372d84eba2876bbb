//! Names that a terminal would obey: they are kept as they are, and never displayed raw.
#![allow(clippy::unwrap_used)]

use std::io::Write;
use std::process::{Command, Output, Stdio};

use gapwright::layout::{load, save};

/// Colours, a window title, a cleared screen, a turned reading direction, C1 controls, a forged finding, in RON.
const HOSTILE: &str = r"\u{1b}[31mEVIL\u{1b}[0m\u{1b}]0;title\u{7}\u{1b}[2J\u{202e}RTL\u{202c}\u{200b}\u{9b}31m\r\u{8}\u{0}\u{7f}NL\nSHORT  fake finding  [short]";

/// Two brake-low bridges that agree: a clamp, with the same name on everything that has one.
fn text(more: &str) -> String {
    let stage = "high_ohm: 0.15, low_ohm: 0.15, diode_v: 0.7, diode_ohm: 0.05, \
        trip: (amps: 3, senses: LargerLeg, kind: Instant(blanking_s: 2e-05)), setting: (direction: Forward, throttle: 0.4)";
    format!(
        r#"(version: 1, name: "{HOSTILE}",
    joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 2000, y_mm: 0)],
    runs: [(id: "r1", from: "j1", to: "j2")],
    cuts: [(id: "c1", name: "{HOSTILE}", run: "r1", at_mm: 1000, rails: Both)],
    labels: [(id: "n1", name: "{HOSTILE}", run: "r1", at_mm: 300), (id: "n2", name: "{HOSTILE}", run: "r1", at_mm: 1500)],
    supplies: [(id: "s1", name: "{HOSTILE}", open_v: 14, source_ohm: 0.1), (id: "s2", name: "{HOSTILE}", open_v: 14, source_ohm: 0.1)],
    drivers: [(id: "d1", name: "{HOSTILE}", supply: "s1", drive: PwmBridge(clock: (hz: 490), idle: BrakeLow), {stage}),
        (id: "d2", name: "{HOSTILE}", supply: "s2", drive: PwmBridge(clock: (hz: 125), idle: BrakeLow), {stage})],
    feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 100, p: Right, m: Left),
        (id: "f2", driver: "d2", run: "r1", at_mm: 1900, p: Right, m: Left)],
    vehicles: [(id: "v1", name: "{HOSTILE}", length_mm: 210, axles: [(at_mm: 25), (at_mm: 185)], load: Motor(ohm: 12, emf_v: 5))],
    {more})"#
    )
}

fn run(arguments: &[&str], text: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_gapwright"))
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(text.as_bytes()).unwrap();
    child.wait_with_output().unwrap()
}

/// True if nothing in a text moves a terminal or turns the reading direction.
fn is_plain(text: &str) -> bool {
    !text.chars().any(|c| {
        (c.is_control() && c != '\n')
            || ('\u{200b}'..='\u{200f}').contains(&c)
            || ('\u{2028}'..='\u{202e}').contains(&c)
    })
}

#[test]
fn names_are_kept_as_they_are() {
    let layout = load(&text("")).unwrap().layout;
    assert!(layout.name.contains("\u{1b}[2J\u{202e}RTL") && layout.name.contains("NL\nSHORT"));
    let again = load(&save(&layout)).unwrap().layout;
    assert_eq!(again, layout);
}

#[test]
fn a_report_displays_no_name_raw_and_no_name_forges_a_finding() {
    let output = run(&["check", "-"], &text(""));
    assert_eq!(output.status.code(), Some(1));
    let report = String::from_utf8(output.stdout).unwrap();
    assert!(is_plain(&report), "{report:?}");
    assert!(report.contains(r"\u{1b}[31mEVIL"), "the name is there, written out");
    let honest = run(&["check", "-"], &text("").replace(HOSTILE, "Mill"));
    let honest = String::from_utf8(honest.stdout).unwrap();
    let shorts = |report: &str| report.lines().filter(|line| line.starts_with("SHORT")).count();
    assert!(shorts(&honest) > 0);
    assert_eq!(shorts(&report), shorts(&honest));
    assert_eq!(report.lines().filter(|line| line.ends_with("[short]")).count(), 0);
}

#[test]
fn a_json_document_holds_the_name_and_shows_it_escaped() {
    let output = run(&["check", "-", "--json"], &text(""));
    let document = String::from_utf8(output.stdout).unwrap();
    assert!(is_plain(&document), "{document:?}");
    let value: serde_json::Value = serde_json::from_str(&document).unwrap();
    assert_eq!(value["layout"], load(&text("")).unwrap().layout.name);
}

#[test]
fn an_error_displays_no_name_raw() {
    let devices = format!(
        r#"devices: [(id: "x1", gang: "{HOSTILE}", kind: Breaker(from: "d1", amps: 3, trip: Instant(blanking_s: 0))),
        (id: "x2", gang: "{HOSTILE}", kind: ReversingSwitch(from: "d1"))],"#
    );
    // A fault that names the gang; a fault of the notation whose token is quoted; a file whose name is hostile.
    for (arguments, text) in [
        (&["check", "-"][..], text(&devices)),
        (&["check", "-"][..], text("").replace("rails: Both", "rails: \"\u{1b}[31m\u{202e}\"")),
        (&["check", "/nowhere/\u{1b}[31m\u{202e}\nSHORT.gapwright"][..], String::new()),
    ] {
        let output = run(arguments, &text);
        assert_eq!(output.status.code(), Some(2));
        assert!(output.stdout.is_empty());
        let errors = String::from_utf8(output.stderr).unwrap();
        assert!(is_plain(&errors), "{errors:?}");
        assert_eq!(errors.lines().count(), 1, "{errors}");
    }
}
