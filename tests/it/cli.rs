//! The command line's contract: exit status, streams, and what the JSON report says.

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
fn the_document_of_every_sample_is_sound() {
    for path in files() {
        let document = json(&gapwright(&["check", "--json", &path.to_string_lossy()]));
        sound::document(&document, &stem(&path));
    }
    let bare = fed(&["check", "--json", "-"], b"(version: 1)");
    assert_eq!(status(&bare), 0, "{}", err(&bare));
    sound::document(&json(&bare), "an empty layout");
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

/// What holds in every document beyond the form of its fields.
mod sound {
    use serde_json::Value;

    use crate::support::schema;

    fn list(value: &Value) -> &[Value] {
        value.as_array().map_or(&[], Vec::as_slice)
    }

    pub fn document(document: &Value, what: &str) {
        let complaints = schema::complaints(document);
        assert!(complaints.is_empty(), "{what}: {complaints:?}");
        let (blocks, cuts) = (list(&document["blocks"]), list(&document["cuts"]));
        let is_block = |id: &Value| blocks.iter().any(|block| block["id"] == *id);
        let is_cut = |id: &Value| cuts.iter().any(|cut| cut["id"] == *id);
        for cut in cuts {
            let what = &format!("{what}, {}", cut["id"]);
            assert!(list(&cut["blocks"]).iter().all(is_block), "{what}");
            for line in ["agree", "disagree", "one_dead", "now"] {
                situation(&cut[line], &format!("{what}, {line}"));
            }
        }
        for finding in list(&document["findings"]) {
            let what = &format!("{what}, {}", finding["id"]);
            assert!(!finding["says"].as_str().unwrap().contains('\n'), "{what}");
            let places = list(&finding["places"]);
            assert!(places.iter().filter_map(|at| at.get("cut")).all(is_cut), "{what}");
            assert!(places.iter().filter_map(|at| at.get("block")).all(is_block), "{what}");
            assert!(list(&finding["blocks"]).iter().all(is_block), "{what}");
            let Some(rests) = finding.get("situation") else { continue };
            match rests["line"].as_str() {
                Some(line) => {
                    let cut = cuts.iter().find(|cut| cut["id"] == rests["cut"]).unwrap();
                    assert!(cut[line].is_object(), "{what}: {rests}");
                }
                None => situation(rests, what),
            }
        }
    }

    fn situation(situation: &Value, what: &str) {
        let states = list(&situation["states"]);
        if !states.is_empty() {
            let whole: f64 = states.iter().map(|state| state["share"].as_f64().unwrap()).sum();
            assert!((whole - 1.0).abs() < 1e-3, "{what}: the states cover {whole} of the time");
        }
        for driver in list(&situation["drivers"]).iter().chain(list(&situation["loaded"])) {
            ["p", "m", "supply", "sensed"].iter().for_each(|at| current(&driver[at], what));
        }
    }

    /// Whatever the waveform: |mean| ≤ mean of the magnitude ≤ RMS ≤ peak.
    fn current(current: &Value, what: &str) {
        let Some(peak) = current["peak"].as_f64() else { return };
        let largest = |figure: &str| match &current[figure] {
            Value::Null => peak,
            Value::Array(range) => {
                let [least, most] = [0, 1].map(|at| range[at].as_f64().unwrap());
                assert!(least < most, "{what}: {current}");
                least.abs().max(most.abs())
            }
            figure => figure.as_f64().unwrap().abs(),
        };
        let [mean, mean_abs, rms] = ["mean", "mean_abs", "rms"].map(largest);
        let rounded = 1e-9 + 1e-4 * peak;
        assert!(mean <= mean_abs + rounded, "{what}: {current}");
        assert!(mean_abs <= rms + rounded && rms <= peak + rounded, "{what}: {current}");
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

#[test]
fn a_cure_is_written_and_the_layout_is_then_sound() {
    let dir = tempfile::tempdir().unwrap();
    let out_file = dir.path().join("cured.gapwright");
    let name = out_file.display().to_string();
    let ran = gapwright(&["cure", &sample("club"), "--apply", &name]);
    assert_eq!(status(&ran), 0, "{}", err(&ran));
    assert!(out(&ran).contains("2 jobs end 2 of 2 faults, about 8 min:"), "{}", out(&ran));
    assert!(
        out(&ran).ends_with(&format!("Written with the changes made: {name}\n")),
        "{}",
        out(&ran)
    );
    assert_eq!(status(&gapwright(&["check", &name])), 0);
    // Nothing is left to cure, and nothing is written.
    let other = dir.path().join("other.gapwright");
    let ran = gapwright(&["cure", &name, "--apply", &other.display().to_string()]);
    assert_eq!(status(&ran), 0, "{}", err(&ran));
    assert!(out(&ran).contains("No fault, so nothing to cure.") && !other.exists());
}

#[test]
fn a_cure_that_cannot_be_had_or_written_is_told() {
    let stalls = gapwright(&["cure", &sample("split-pickup")]);
    assert_eq!(status(&stalls), 1);
    assert!(out(&stalls).contains("No cure of the 1 fault could be proved."), "{}", out(&stalls));
    let nowhere = gapwright(&["cure", &sample("club"), "--apply", "/no/such/folder/x.gapwright"]);
    assert_eq!(status(&nowhere), 2);
    assert!(
        err(&nowhere).contains("/no/such/folder/x.gapwright: cannot be written"),
        "{}",
        err(&nowhere)
    );
    assert!(nowhere.stdout.is_empty());
    let piped = gapwright(&["cure", &sample("club"), "--apply", "-"]);
    assert_eq!(status(&piped), 2);
}

#[test]
fn the_documents_of_cures_and_plans_are_what_is_described() {
    use crate::support::schema;
    for (name, _) in EXPECTED {
        let ran = gapwright(&["cure", &sample(name), "--json"]);
        let document = json(&ran);
        let complaints = schema::complaints(&document);
        assert!(complaints.is_empty(), "{name}: {complaints:?}");
    }
    let planned = json(&gapwright(&["plan", &sample("wiring-day"), "--json"]));
    let steps = planned["steps"].as_array().unwrap();
    assert!(!steps.is_empty() && planned["fewest_by_labels"] == true, "{planned}");
    assert_eq!(planned["faults"], Value::Array(Vec::new()), "{planned}");
}

#[test]
fn planning_of_loops_and_audits_of_cuts_are_told_as_text_and_as_a_document() {
    let plan = gapwright(&["plan", &sample("dogbone")]);
    assert_eq!(status(&plan), 0, "{}", out(&plan));
    assert!(out(&plan).contains("2 rail cuts, 2 wires, 1 reverser"), "{}", out(&plan));
    let document = json(&gapwright(&["plan", &sample("dogbone"), "--json"]));
    assert_eq!(document["reversing_sections"][0]["turned"], "by-switch");
    let audit = gapwright(&["plan", &sample("club"), "--audit"]);
    assert!(out(&audit).contains("Without "), "{}", out(&audit));
    let document = json(&gapwright(&["plan", &sample("club"), "--audit", "--json"]));
    let cuts = document["cuts"].as_array().unwrap();
    assert!(cuts.iter().any(|cut| cut["needed"] == true), "{document}");
    let needless = cuts.iter().any(|cut| cut["needed"] == false);
    assert_eq!(status(&audit), i32::from(needless));
}

#[test]
fn diagnose_says_the_suspects_the_next_test_and_what_is_wrong_with_a_call() {
    let file = sample("directions-must-match");
    let text = gapwright(&["diagnose", &file, "--at", "c1"]);
    assert_eq!(status(&text), 1, "nothing is sure before anything was seen");
    assert!(out(&text).contains("Suspects:") && out(&text).contains("Next, the best for its time"));
    let document = json(&gapwright(&["diagnose", &file, "--at", "c1", "--json"]));
    assert_eq!(document["standing"], "open");
    let shares =
        document["classes"].as_array().unwrap().iter().map(|c| c["share"].as_f64().unwrap());
    assert!(shares.sum::<f64>() + document["outside"].as_f64().unwrap() <= 1.0 + 1e-6);
    assert!(!document["next"].as_array().unwrap().is_empty());
    let no_gap = gapwright(&["diagnose", &file, "--at", "c99"]);
    assert_eq!(status(&no_gap), 2);
    assert!(err(&no_gap).contains("gap \"c99\" is not there. There are: "), "{}", err(&no_gap));
    let folder = tempfile::tempdir().unwrap();
    let saw = folder.path().join("seen.ron");
    std::fs::write(&saw, "(saw: [NoTrain(saw: Flickers)])").unwrap();
    let broken = gapwright(&["diagnose", &file, "--at", "c1", "--saw", saw.to_str().unwrap()]);
    assert_eq!(status(&broken), 2);
    assert!(err(&broken).contains("seen.ron: line 1, column"), "{}", err(&broken));
    let no_file = gapwright(&["diagnose", &file, "--at", "c1", "--saw", "/nowhere/seen.ron"]);
    assert_eq!(status(&no_file), 2);
}
