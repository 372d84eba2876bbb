//! The command line's contract: exit status, streams, and the fields of the JSON report.

use std::io::Write;
use std::process::{Command, Output, Stdio};

use serde_json::Value;

use super::samples::{EXPECTED, FOLDER, files, stem};

/// Verdicts in ascending weight.
const VERDICTS: [&str; 7] =
    ["clear", "caution", "not-known", "stall", "back-feed", "overload", "short"];

fn gapwright(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_gapwright")).args(arguments).output().unwrap()
}

fn fed(arguments: &[&str], input: &[u8]) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_gapwright"))
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(input).unwrap();
    child.wait_with_output().unwrap()
}

fn sample(name: &str) -> String {
    format!("{FOLDER}/{name}.gapwright")
}

fn status(output: &Output) -> i32 {
    output.status.code().unwrap()
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

fn json(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn exit_status_of_every_sample_is_the_expected_one() {
    for (file, expected) in EXPECTED {
        let text = gapwright(&["check", &sample(file)]);
        assert_eq!(status(&text), *expected, "{file}");
        assert!(text.stderr.is_empty(), "{file}: {}", err(&text));
    }
}

#[test]
fn the_text_ends_with_the_summary_line() {
    for path in files() {
        let text = out(&gapwright(&["check", &path.to_string_lossy()]));
        assert!(text.ends_with('\n'));
        let last = text.lines().last().unwrap();
        assert!(last.ends_with("clear") || last.ends_with("no cuts"), "{}: {last}", stem(&path));
        assert!(last.contains("cut"), "{}: {last}", stem(&path));
    }
    let text = out(&gapwright(&["check", &sample("brake-idle")]));
    assert_eq!(text.lines().last().unwrap(), "1 short, 1 operating rule, 0 cuts clear");
    let text = out(&gapwright(&["check", &sample("directions-must-match")]));
    assert_eq!(text.lines().last().unwrap(), "1 operating rule, 2 cuts clear");
    // A cut at which nothing could be judged is not called clear.
    let text = out(&gapwright(&["check", &sample("wiring-day")]));
    let last = text.lines().last().unwrap();
    assert!(last.ends_with(", 2 cuts not fed on both sides, 1 cut clear"), "{last}");
    let text = out(&gapwright(&["check", &sample("directions-must-match")]));
    // Before it, a line per cut.
    let lines: Vec<&str> = text.lines().rev().collect();
    assert!(lines[1].starts_with("North gap: ") && lines[2].starts_with("South gap: "));
}

#[test]
fn findings_come_worst_first() {
    let rank = |finding: &Value| {
        let fault = finding["class"] == "fault";
        let verdict = VERDICTS.iter().position(|v| finding["verdict"] == **v).unwrap();
        (fault, if fault { verdict } else { 0 })
    };
    for path in files() {
        let document = json(&gapwright(&["check", "--json", &path.to_string_lossy()]));
        let ranks: Vec<_> = document["findings"].as_array().unwrap().iter().map(rank).collect();
        assert!(ranks.is_sorted_by(|a, b| a >= b), "{}: {ranks:?}", stem(&path));
    }
}

#[test]
fn several_files_give_the_worst_status_and_an_array() {
    let both = gapwright(&["check", &sample("coasting-bridges"), &sample("brake-idle")]);
    assert_eq!(status(&both), 1);
    let text = out(&both);
    assert!(
        text.contains("Mirrowby and the quarry line")
            && text.contains("Pimmerton, both bridges brake")
    );

    let documents =
        json(&gapwright(&["check", "--json", &sample("coasting-bridges"), &sample("brake-idle")]));
    let names: Vec<&str> =
        documents.as_array().unwrap().iter().map(|d| d["layout"].as_str().unwrap()).collect();
    assert_eq!(names, ["Mirrowby and the quarry line", "Pimmerton, both bridges brake"]);

    let sound = gapwright(&["check", &sample("coasting-bridges"), &sample("matched-throttles")]);
    assert_eq!(status(&sound), 0);

    let folder = tempfile::tempdir().unwrap();
    let bad = folder.path().join("bad.gapwright");
    std::fs::write(&bad, "(version: 1,").unwrap();
    for order in [
        [sample("brake-idle"), bad.display().to_string()],
        [bad.display().to_string(), sample("brake-idle")],
    ] {
        for more in [&["check"][..], &["check", "--json"]] {
            let arguments: Vec<&str> =
                more.iter().copied().chain(order.iter().map(String::as_str)).collect();
            let unreadable = gapwright(&arguments);
            assert_eq!(status(&unreadable), 2);
            assert!(unreadable.stdout.is_empty());
            assert!(err(&unreadable).contains("bad.gapwright"));
        }
    }
}

#[test]
fn a_dash_reads_standard_input() {
    let text = std::fs::read(sample("brake-idle")).unwrap();
    let through = fed(&["check", "--json", "-"], &text);
    assert_eq!(status(&through), 1);
    let (mut through, mut direct) =
        (json(&through), json(&gapwright(&["check", "--json", &sample("brake-idle")])));
    assert_eq!(through["file"], "-");
    through["file"].take();
    direct["file"].take();
    assert_eq!(through, direct);
    assert_eq!(
        status(&fed(&["check", "-"], &std::fs::read(sample("coasting-bridges")).unwrap())),
        0
    );
}

#[test]
fn what_cannot_be_read_is_told_on_standard_error_only() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        path.display().to_string()
    };
    let cases = [
        folder.path().join("not there.gapwright").display().to_string(),
        folder.path().display().to_string(),
        write("empty.gapwright", b""),
        write("letter.gapwright", b"Dear builder,\nthe gap is by the bridge.\n"),
        write("bytes.gapwright", &[0xff, 0xfe, 0x00, 0x80]),
        write("version.gapwright", b"(version: 999)"),
    ];
    for case in &cases {
        for more in [&["check"][..], &["check", "--json"]] {
            let arguments: Vec<&str> = more.iter().copied().chain([case.as_str()]).collect();
            let output = gapwright(&arguments);
            assert_eq!(status(&output), 2, "{case}");
            assert!(output.stdout.is_empty(), "{case}");
            assert!(err(&output).contains(case.as_str()), "{case}: {}", err(&output));
            assert!(!err(&output).contains("panicked"), "{case}");
        }
    }
    for input in [&b"(version: 1, name: 7)"[..], &[0xff, 0xfe]] {
        let output = fed(&["check", "-"], input);
        assert_eq!(status(&output), 2);
        assert!(output.stdout.is_empty());
        assert!(!err(&output).is_empty());
    }
}

#[test]
fn a_fault_in_the_file_is_told_with_file_line_column_and_a_hint() {
    let text = std::fs::read_to_string(sample("brake-idle")).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("slip.gapwright");

    // A misspelt field.
    let bad = text.replacen("rail_ohm_per_m", "rail_ohms_per_m", 1);
    std::fs::write(&path, &bad).unwrap();
    let line = 1 + bad.lines().position(|l| l.contains("rail_ohms_per_m")).unwrap();
    let column = 1 + bad.lines().nth(line - 1).unwrap().find("rail_ohms_per_m").unwrap();
    let output = gapwright(&["check", &path.to_string_lossy()]);
    assert_eq!(status(&output), 2);
    assert!(output.stdout.is_empty());
    let said = err(&output);
    assert!(said.contains("slip.gapwright"), "{said}");
    assert!(
        said.contains(&format!("line {line}, column {column}"))
            || said.contains(&format!(":{line}:{column}")),
        "{said}"
    );
    assert!(said.contains("did you mean `rail_ohm_per_m`"), "{said}");

    // Two faults of meaning: both told, each at its place, with what was expected.
    let bad =
        text.replacen("at_mm: 1000", "at_mm: 9000", 1).replacen("open_v: 14", "open_v: -14", 1);
    std::fs::write(&path, &bad).unwrap();
    let output = gapwright(&["check", &path.to_string_lossy()]);
    assert_eq!(status(&output), 2);
    let said = err(&output);
    for (wrong, expected) in
        [("at_mm: 9000", "expected a number from 0 to 1"), ("open_v: -14", "from 0.001 to 100 V")]
    {
        let line = 1 + bad.lines().position(|l| l.contains(wrong)).unwrap();
        let told = said
            .lines()
            .find(|l| l.contains(&format!("line {line},")) || l.contains(&format!(":{line}:")))
            .unwrap_or_else(|| panic!("line {line} is not told: {said}"));
        assert!(told.contains(expected), "{told}");
        assert!(told.contains('('), "a hint: {told}");
    }
}

#[test]
fn a_wrong_call_is_told_and_help_is_not_an_error() {
    for call in [&["check"][..], &["check", "--jsonn", "x"], &["chekc", "x", "y"], &["--nonsense"]]
    {
        let output = gapwright(call);
        assert_eq!(status(&output), 2, "{call:?}");
        assert!(output.stdout.is_empty(), "{call:?}");
        assert!(!output.stderr.is_empty(), "{call:?}");
    }
    for call in [&["--help"][..], &["check", "--help"], &["--version"]] {
        let output = gapwright(call);
        assert_eq!(status(&output), 0, "{call:?}");
        assert!(!output.stdout.is_empty(), "{call:?}");
    }
    assert!(out(&gapwright(&["check", "--help"])).contains("Exit status"));
}

#[test]
fn json_is_the_only_thing_on_standard_output_and_says_the_same_as_the_text() {
    for path in files() {
        let path = path.to_string_lossy();
        let output = gapwright(&["check", "--json", &path]);
        assert!(output.stderr.is_empty());
        let document = json(&output);
        let text = out(&gapwright(&["check", &path]));
        let findings = document["findings"].as_array().unwrap();
        for finding in findings {
            assert!(text.contains(finding["says"].as_str().unwrap()), "{path}");
        }
        // Every finding's kind stands once behind its line.
        let told = text.lines().filter(|line| line.ends_with(']') && line.contains("  [")).count();
        assert_eq!(told, findings.len(), "{path}");
    }
}

#[test]
fn the_top_verdict_is_the_worst_fault_and_decides_the_status() {
    for path in files() {
        let output = gapwright(&["check", "--json", &path.to_string_lossy()]);
        let document = json(&output);
        let weight = |v: &Value| VERDICTS.iter().position(|word| v == *word).unwrap();
        let worst = document["findings"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|f| f["class"] == "fault")
            .map(|f| weight(&f["verdict"]))
            .max()
            .unwrap_or(0);
        assert_eq!(weight(&document["verdict"]), worst, "{}", stem(&path));
        assert_eq!(status(&output), i32::from(worst >= 3), "{}", stem(&path));
    }
    // Settings that disagree do not count.
    let document = json(&gapwright(&["check", "--json", &sample("coasting-bridges")]));
    assert_eq!(document["cuts"][0]["disagree"]["verdict"], "short");
    assert_eq!(document["verdict"], "clear");
}

#[test]
fn every_sample_has_every_field_of_schema_1() {
    for path in files() {
        let document = json(&gapwright(&["check", "--json", &path.to_string_lossy()]));
        schema::document(&document, &stem(&path));
    }
    let bare = fed(&["check", "--json", "-"], b"(version: 1)");
    assert_eq!(status(&bare), 0, "{}", err(&bare));
    schema::document(&json(&bare), "an empty layout");
}

#[test]
fn a_reader_that_closes_the_pipe_early_is_no_error() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_gapwright"))
        .args(["check", "--json", &sample("wiring-day")])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(status(&output), 1);
    assert!(output.stderr.is_empty(), "{}", err(&output));
}

/// Schema 1, field by field.
mod schema {
    use serde_json::Value;

    use super::VERDICTS;

    const SETTINGS: [&str; 6] = ["forward", "reverse", "stopped", "on", "off", "unpowered"];
    const STATES: [&str; 5] = ["forward", "reverse", "brake-low", "brake-high", "high-impedance"];
    const KINDS: [&str; 34] = [
        "opposed-polarity",
        "swapped-feed",
        "idle-clamp",
        "back-feed",
        "mixed-drive",
        "phase-opposed",
        "common-rail-fight",
        "shared-negative-short",
        "loop-uncut",
        "loop-one-cut",
        "unbalanced-loop",
        "section-too-short",
        "fed-beyond-frog",
        "frog-wired-wrong",
        "blocks-merged",
        "unfed",
        "half-fed",
        "doubly-fed",
        "one-rail-cut",
        "dead-spot",
        "stall",
        "gap-may-close",
        "coin-test-fails",
        "wire-too-thin",
        "volt-drop",
        "supply-too-small",
        "supply-gives-up-first",
        "inrush",
        "surge",
        "reversers-race",
        "trip-out-of-order",
        "rests-on-joiners",
        "throttle-backwards",
        "trip-never-acts",
    ];

    #[track_caller]
    fn text<'v>(v: &'v Value, what: &str) -> &'v str {
        v.as_str().unwrap_or_else(|| panic!("{what}: {v} is no text"))
    }

    #[track_caller]
    fn list<'v>(v: &'v Value, what: &str) -> &'v [Value] {
        v.as_array().unwrap_or_else(|| panic!("{what}: {v} is no list"))
    }

    #[track_caller]
    fn number(v: &Value, what: &str) -> f64 {
        let number = v.as_f64().unwrap_or_else(|| panic!("{what}: {v} is no number"));
        assert!(number.is_finite(), "{what}");
        number
    }

    /// Present, and a number or null.
    #[track_caller]
    fn maybe(object: &Value, field: &str, what: &str) {
        let v = object.get(field).unwrap_or_else(|| panic!("{what}: no {field}"));
        assert!(v.is_null() || v.as_f64().is_some_and(f64::is_finite), "{what}, {field}: {v}");
    }

    /// The largest magnitude of a figure: a number, or the least and the largest over a phase.
    #[track_caller]
    fn largest(v: &Value, what: &str) -> f64 {
        let Some(range) = v.as_array() else { return number(v, what).abs() };
        let [least, most] = &range[..] else { panic!("{what}: {v}") };
        let (least, most) = (number(least, what), number(most, what));
        assert!(least <= most, "{what}: {v}");
        least.abs().max(most.abs())
    }

    /// A length of time, or what stands for it.
    #[track_caller]
    fn longest(v: &Value, what: &str) {
        let map = v.as_object().unwrap_or_else(|| panic!("{what}: {v}"));
        assert_eq!(map.len(), 1, "{what}: {v}");
        for (word, value) in map {
            match word.as_str() {
                "value" | "at_most" => assert!(number(value, what) >= 0.0, "{what}: {v}"),
                "endless" => assert_eq!(value, true, "{what}: {v}"),
                "not_computed" => assert!(!text(value, what).is_empty(), "{what}: {v}"),
                _ => panic!("{what}: {v}"),
            }
        }
    }

    #[track_caller]
    fn one_of(v: &Value, words: &[&str], what: &str) {
        assert!(words.contains(&text(v, what)), "{what}: {v}");
    }

    #[track_caller]
    fn share(v: &Value, what: &str) -> f64 {
        let share = number(v, what);
        assert!((-1e-9..=1.0 + 1e-9).contains(&share), "{what}: {share}");
        share
    }

    #[track_caller]
    fn texts(v: &Value, what: &str) {
        list(v, what).iter().for_each(|v| assert!(!text(v, what).is_empty(), "{what}"));
    }

    pub fn document(d: &Value, what: &str) {
        assert_eq!(d["schema"], 1, "{what}");
        text(&d["file"], what);
        text(&d["layout"], what);
        one_of(&d["verdict"], &VERDICTS, what);
        let blocks = list(&d["blocks"], what);
        for block in blocks {
            text(&block["id"], what);
            assert!(!text(&block["name"], what).is_empty());
            texts(&block["drivers"], what);
            assert!(number(&block["length_mm"], what) >= 0.0);
        }
        let known = |id: &Value| blocks.iter().any(|b| b["id"] == *id);
        let cuts = list(&d["cuts"], what);
        for cut in cuts {
            let what = &format!("{what}, {}", cut["id"]);
            text(&cut["id"], what);
            text(&cut["name"], what);
            assert_eq!(list(&cut["blocks"], what).len(), 2);
            assert!(list(&cut["blocks"], what).iter().all(known), "{what}");
            one_of(&cut["rails"], &["both", "left", "right"], what);
            text(&cut["run"], what);
            number(&cut["at_mm"], what);
            for field in ["agree", "disagree", "one_dead"] {
                let told = cut.get(field).unwrap_or_else(|| panic!("{what}: no {field}"));
                if !told.is_null() {
                    situation(told, &format!("{what}, {field}"));
                }
            }
            situation(&cut["now"], &format!("{what}, now"));
        }
        for finding in list(&d["findings"], what) {
            let kind = text(&finding["kind"], what);
            let mut kinds = gapwright::findings::Kind::ALL.iter().map(|k| k.word());
            assert!(kinds.any(|k| k == kind), "{kind}");
            // Kinds may be added; none that was promised is missing.
            let there = |promised: &&str| {
                gapwright::findings::Kind::ALL.iter().any(|k| k.word() == *promised)
            };
            assert!(KINDS.iter().all(there));
            let what = &format!("{what}, {kind}");
            one_of(&finding["class"], &["fault", "rule", "note"], what);
            one_of(&finding["verdict"], &VERDICTS, what);
            texts(&finding["cuts"], what);
            for cut in list(&finding["cuts"], what) {
                assert!(cuts.iter().any(|c| c["id"] == *cut), "{what}: {cut}");
            }
            texts(&finding["blocks"], what);
            assert!(list(&finding["blocks"], what).iter().all(known), "{what}");
            for selector in list(&finding["selectors"], what) {
                text(&selector["id"], what);
                assert!(selector.get("position").is_some());
            }
            texts(&finding["drivers"], what);
            let vehicle = finding.get("vehicle").unwrap_or_else(|| panic!("{what}: no vehicle"));
            assert!(vehicle.is_null() || vehicle.is_string(), "{what}");
            let says = text(&finding["says"], what);
            assert!(!says.is_empty() && !says.contains('\n'), "{what}");
            assert!(!text(&finding["why"], what).is_empty(), "{what}");
            texts(&finding["advice"], what);
            texts(&finding["cures"], what);
        }
    }

    fn situation(s: &Value, what: &str) {
        one_of(&s["verdict"], &VERDICTS, what);
        maybe(s, "margin", what);
        let vehicle = s.get("vehicle").unwrap_or_else(|| panic!("{what}: no vehicle"));
        assert!(vehicle.is_null() || vehicle.is_string(), "{what}");
        one_of(&s["facing"], &["a-to-b", "b-to-a"], what);
        number(&s["position_mm"], what);
        one_of(&s["motion"], &["moving", "standing"], what);
        maybe(s, "speed_mm_s", what);
        share(&s["share"], what);
        longest(&s["longest_s"], what);
        for (driver, set) in s["settings"].as_object().unwrap() {
            assert!(!driver.is_empty());
            one_of(&set["state"], &SETTINGS, what);
            share(&set["throttle"], what);
        }
        for join in list(&s["joins"], what) {
            one_of(&join["side"], &["left", "right"], what);
            texts(&join["nets"], what);
            let contacts = list(&join["contact_ohm"], what);
            assert_eq!(contacts.len(), list(&join["nets"], what).len(), "{what}");
            assert!(contacts.iter().all(|ohm| number(ohm, what) > 0.0));
        }
        let mut whole = 0.0;
        for state in list(&s["states"], what) {
            whole += share(&state["share"], what);
            for (_, word) in state["drivers"].as_object().unwrap() {
                one_of(word, &STATES, what);
            }
        }
        assert!((whole - 1.0).abs() < 1e-9, "{what}: the states cover {whole} of the time");
        drivers(&s["drivers"], what);
        texts(&s["first"], what);
        let loaded = s.get("loaded").unwrap_or_else(|| panic!("{what}: no loaded"));
        if !loaded.is_null() {
            drivers(loaded, what);
        }
    }

    fn drivers(v: &Value, what: &str) {
        for driver in list(v, what) {
            text(&driver["id"], what);
            for field in ["p", "m", "supply"] {
                let current = &driver[field];
                let peak = number(&current["peak"], what);
                let [mean, mean_abs, rms] =
                    ["mean", "mean_abs", "rms"].map(|figure| largest(&current[figure], what));
                // Whatever the waveform: |mean| ≤ mean of the magnitude ≤ RMS ≤ peak.
                assert!(mean <= mean_abs + 1e-9, "{what}");
                assert!(mean_abs <= rms + 1e-9 && rms <= peak + 1e-9, "{what}");
            }
            maybe(driver, "positive_pole_v", what);
            one_of(&driver["trips"], &["no", "yes", "sometimes"], what);
            share(&driver["trips_share"], what);
            maybe(driver, "trip_after_s", what);
        }
    }
}

/// Two lineups of a layout: as it is, and with the neighbour set the other way.
#[test]
fn each_lineup_is_checked_when_asked_for() {
    let text = std::fs::read_to_string(sample("directions-must-match")).unwrap();
    let close = text.rfind(')').unwrap();
    let lineups = r#"    lineups: [
        (id: "l901", name: "Meet", throttles: [(driver: "d1", setting: (direction: Reverse, throttle: 0.5))]),
        (id: "l902", throttles: [(driver: "d1", setting: (direction: Off, throttle: 0.0))]),
    ],
"#;
    let text =
        format!("{}{lineups}{}", &text[..close], &text[close..]).replace("next_id", "// next_id");
    let plain = fed(&["check", "--json", "-"], text.as_bytes());
    assert!(json(&plain).is_object(), "{}", err(&plain));
    let all = fed(&["check", "--json", "--lineups", "-"], text.as_bytes());
    let all = json(&all);
    let names: Vec<&Value> = all.as_array().unwrap().iter().map(|one| &one["lineup"]).collect();
    assert_eq!(names, [&Value::Null, &Value::from("Meet"), &Value::from("l902")]);
    let verdict = |n: usize| all[n]["cuts"][0]["now"]["verdict"].as_str().unwrap().to_owned();
    assert_eq!(all[0], json(&plain), "as it is set");
    assert_ne!(verdict(0), verdict(1), "the neighbour is set the other way");
    let told = out(&fed(&["check", "--lineups", "-"], text.as_bytes()));
    assert!(told.contains("(-, lineup \"Meet\")"), "{told}");
}
