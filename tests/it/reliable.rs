//! What the command line does when something is in its way: input without an end, output without room, characters that a
//! terminal obeys. `docs/reliability.md` has the promises.

use std::fs::File;
use std::io::{BufRead, BufReader};
use std::process::{Command, Output, Stdio};

use gapwright::layout::{LARGEST_FILE, shown};

use super::samples::FOLDER;

const CASES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/cases");

fn gapwright() -> Command {
    Command::new(env!("CARGO_BIN_EXE_gapwright"))
}

fn sample(name: &str) -> String {
    format!("{FOLDER}/{name}.gapwright")
}

/// Exit status, standard output and standard error. No test's program may panic.
fn ran(command: &mut Command) -> (i32, String, String) {
    let Output { status, stdout, stderr } = command.output().unwrap();
    let error = String::from_utf8(stderr).unwrap();
    assert!(!error.contains("panicked"), "{error}");
    (status.code().unwrap(), String::from_utf8(stdout).unwrap(), error)
}

/// No line holds a character that a terminal obeys.
#[track_caller]
fn plain(text: &str) {
    for line in text.lines() {
        assert_eq!(shown(line), line);
    }
}

/// A name that moves the cursor, colours, turns the reading direction, and begins a line like a finding.
const HOSTILE: &str =
    "a\u{1b}[31m\u{1b}]0;t\u{7}\u{9b}2J\u{202e}b\u{2066}\u{3164}\r\nSHORT  c  [short]";

#[cfg(unix)]
#[test]
fn what_has_no_end_or_no_content_is_refused_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let pipe = folder.path().join("pipe");
    // Nobody writes to it: whoever opens it waits.
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let socket = folder.path().join("socket");
    let _listens = std::os::unix::net::UnixListener::bind(&socket).unwrap();
    for (path, word) in [
        ("/dev/zero", "this is a device, not a file. Name a layout file"),
        ("/dev/full", "this is a device, not a file"),
        (&*pipe.to_string_lossy(), "this is a pipe, not a file"),
        (&*socket.to_string_lossy(), "this is a socket, not a file"),
        (&*folder.path().to_string_lossy(), "this is a folder. Name a file in it"),
    ] {
        let (status, out, error) = ran(gapwright().args(["check", path]));
        assert_eq!((status, out.as_str()), (2, ""), "{path}");
        assert!(error.starts_with(&format!("{path}: {word}")), "{error}");
    }
}

#[cfg(unix)]
#[test]
fn standard_input_without_an_end_is_read_to_the_limit() {
    let zeros = || File::open("/dev/zero").unwrap();
    let (status, out, error) = ran(gapwright().args(["check", "-"]).stdin(zeros()));
    assert_eq!((status, out.as_str()), (2, ""));
    let mib = LARGEST_FILE / 1024 / 1024;
    assert!(error.starts_with(&format!("-: it is longer than {mib} MiB")), "{error}");

    let mut yes = Command::new("yes").stdout(Stdio::piped()).spawn().unwrap();
    let endless = yes.stdout.take().unwrap();
    let (status, _, error) = ran(gapwright().args(["check", "--json", "-"]).stdin(endless));
    assert_eq!(status, 2);
    assert!(error.starts_with("-: it is longer than"), "{error}");
    // The reader has left, so it ends by itself.
    yes.wait().unwrap();

    let folder = File::open(FOLDER).unwrap();
    let (status, _, error) = ran(gapwright().args(["check", "-"]).stdin(folder));
    assert_eq!(status, 2);
    assert!(error.starts_with("-: this is a folder"), "{error}");
}

#[cfg(target_os = "linux")]
#[test]
fn output_that_cannot_be_written_is_a_failure() {
    let full = || File::options().write(true).open("/dev/full").unwrap();
    let sample = sample("coasting-bridges");
    for call in [
        &["check", &sample][..],
        &["check", "--json", &sample],
        &["check", &sample, &sample],
        &["--help"],
        &["check", "--help"],
        &["--version"],
    ] {
        let (status, _, error) = ran(gapwright().args(call).stdout(full()));
        assert_eq!(status, 2, "{call:?}");
        assert!(error.starts_with("Standard output cannot be written"), "{call:?}: {error}");
        let (status, ..) = ran(gapwright().args(call).stdout(full()).stderr(full()));
        assert_eq!(status, 2, "{call:?}");
    }
    for call in [&["check", "/no/such/file"][..], &["check"], &["--nonsense"]] {
        let (status, out, _) = ran(gapwright().args(call).stderr(full()));
        assert_eq!((status, out.as_str()), (2, ""), "{call:?}");
    }
}

#[test]
fn a_reader_of_one_line_gets_it_and_nobody_complains() {
    for more in [&["check"][..], &["check", "--json"]] {
        let mut child = gapwright()
            .args(more)
            .args([sample("club"), sample("wiring-day")])
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        // Far more follows than the reader takes, and than a pipe holds.
        let mut out = BufReader::with_capacity(16, child.stdout.take().unwrap());
        if more.len() == 1 {
            out.read_line(&mut line).unwrap();
        }
        drop(out);
        let output = child.wait_with_output().unwrap();
        assert_eq!(output.status.code(), Some(1));
        assert_eq!(String::from_utf8(output.stderr).unwrap(), "");
    }
}

#[test]
fn arguments_are_repeated_as_they_can_be_shown() {
    let option = format!("--{HOSTILE}");
    for call in [
        &["check", "x", &option][..],
        &[&option],
        &["x", HOSTILE],
        &["check", HOSTILE],
        &["check", "--json", HOSTILE, "-"],
    ] {
        let (status, out, error) = ran(gapwright().args(call).stdin(Stdio::null()));
        assert_eq!((status, out.as_str()), (2, ""), "{call:?}");
        plain(&error);
        assert!(error.contains("\\u{1b}[31m") && error.contains("\\u{3164}\\r\\nSHORT"), "{error}");
        assert!(!error.lines().any(|line| line.starts_with("SHORT")), "{error}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_path_that_is_no_text_is_shown_all_the_same() {
    use std::os::unix::ffi::OsStrExt;
    let path = std::ffi::OsStr::from_bytes(b"/tmp/\xff\x1b[31m\x9b.gapwright");
    let (status, _, error) = ran(gapwright().arg("check").arg(path));
    assert_eq!(status, 2);
    plain(&error);
    assert!(error.contains("there is no such file"), "{error}");
}

#[test]
fn what_is_quoted_from_a_bad_file_is_shown() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a\u{1b}[31m\u{202e}.gapwright");
    let bad = |text: &str| {
        std::fs::write(&path, text).unwrap();
        let (status, out, error) = ran(gapwright().arg("check").arg(&path));
        assert_eq!((status, out.as_str()), (2, ""), "{text:?}");
        plain(&error);
        assert!(error.contains("a\\u{1b}[31m\\u{202e}.gapwright"), "{error}");
        error
    };
    for text in [
        format!("(version: 1, r#{HOSTILE}: 1)"),
        format!("(version: 1, name: {HOSTILE})"),
        format!("(version: 1, joints: [(id: \"{HOSTILE}\", x_mm: 0, y_mm: 0)])"),
        format!("(version: 1, scale: \"{HOSTILE}\")"),
        format!("(version: 1, name: \"\\q{HOSTILE}\")"),
        HOSTILE.to_owned(),
    ] {
        bad(&text);
    }
    let supply = "(id: \"s1\", open_v: 14, source_ohm: 0.1)";
    let device = |id: u32, cabs: &str| {
        format!("(id: \"x{id}\", kind: CabSelector(cabs: [{cabs}]), gang: {HOSTILE:?})")
    };
    let gangs = format!(
        "(version: 1, supplies: [{supply}], devices: [{}, {}])",
        device(1, "None"),
        device(2, "None, None")
    );
    assert!(bad(&gangs).contains("in the gang"), "the fault names the gang");
}

#[test]
fn hostile_names_are_shown_in_every_report() {
    let case = format!("{CASES}/escape-names.gapwright");
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(HOSTILE);
    // A lineup with the same name as everything else.
    let text = std::fs::read_to_string(&case).unwrap();
    let name = text.split("name:\"").nth(1).unwrap().split('"').next().unwrap();
    let lineup = format!("lineups:[(id:\"l1\",name:\"{name}\")],\n)");
    let end = text.trim_end().strip_suffix(')').unwrap();
    std::fs::write(&path, format!("{end}{lineup}")).unwrap();
    let (status, text, error) = ran(gapwright().args(["check", "--lineups"]).arg(&path));
    assert_eq!((status, error.as_str()), (1, ""));
    plain(&text);
    assert!(text.contains("\\u{1b}[31mEVIL"), "{text}");
    // What begins like a finding is one.
    let (_, json, _) = ran(gapwright().args(["check", "--lineups", "--json"]).arg(&path));
    plain(&json);
    let documents: serde_json::Value = serde_json::from_str(&json).unwrap();
    let documents = documents.as_array().unwrap();
    assert_eq!(documents.len(), 2);
    assert!(documents[0]["layout"].as_str().unwrap().starts_with("\u{1b}[31mEVIL"));
    assert_eq!(documents[1]["lineup"], documents[0]["layout"]);
    assert!(documents[0]["file"].as_str().unwrap().contains(HOSTILE));
    let findings: usize = documents.iter().map(|d| d["findings"].as_array().unwrap().len()).sum();
    let told = |word: &str| text.lines().filter(|line| line.starts_with(word)).count();
    let classes =
        ["SHORT  ", "OVERLOAD  ", "BACK-FEED  ", "STALL  ", "CAUTION  ", "RULE  ", "NOTE  "];
    assert_eq!(classes.iter().map(|word| told(word)).sum::<usize>(), findings, "{text}");
}

/// Writes more than a pipe holds into the program's standard input, so that it must have begun to read: by then it knows
/// what to do at Ctrl+C.
#[cfg(unix)]
#[test]
fn ctrl_c_ends_it_with_a_status_of_its_own_and_without_half_a_report() {
    use std::io::Write;
    for more in [&["check"][..], &["check", "--json"]] {
        let mut child = gapwright()
            .args(more)
            .args([&sample("brake-idle"), "-"])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut input = child.stdin.take().unwrap();
        input.write_all(&vec![b' '; 1 << 21]).unwrap();
        let id = child.id().to_string();
        // The shell has a `kill` of its own wherever there is a shell.
        let killed = Command::new("sh").args(["-c", &format!("kill -INT {id}")]).status();
        assert!(killed.unwrap().success());
        let output = child.wait_with_output().unwrap();
        assert_eq!(output.status.code(), Some(130));
        assert_eq!((output.stdout.len(), output.stderr.len()), (0, 0));
        drop(input);
    }
}
