#![allow(clippy::unwrap_used)]

use super::*;
use gapwright::findings;

/// A stream that takes nothing.
struct Refuses(io::ErrorKind);

impl Write for Refuses {
    fn write(&mut self, _: &[u8]) -> io::Result<usize> {
        Err(self.0.into())
    }

    fn flush(&mut self) -> io::Result<()> {
        Err(self.0.into())
    }
}

fn sample(name: &str) -> String {
    format!("{}/sample-layouts/{name}.gapwright", env!("CARGO_MANIFEST_DIR"))
}

fn call(files: &[&str], json: bool) -> Call {
    Call { files: files.iter().map(PathBuf::from).collect(), json, lineups: false }
}

/// The check, without cures.
fn check(layout: &Layout) -> Outcome {
    Outcome { report: findings::check(layout), cures: None }
}

/// Exit status, standard output, standard error of a check that panics at the layouts with this name.
fn ran(call: &Call, falls_over: &str, message: &str) -> (u8, String, String) {
    let (mut output, mut error) = (Vec::new(), Vec::new());
    let check = |layout: &Layout| {
        assert!(layout.name != falls_over, "{message}");
        check(layout)
    };
    let streams =
        Streams { input: io::empty(), output: &mut output, error: &mut error, pretty: false };
    let status = run(call, check, streams);
    (status, String::from_utf8(output).unwrap(), String::from_utf8(error).unwrap())
}

const IDLE: &str = "Pimmerton, both bridges brake";

#[test]
fn a_check_that_breaks_down_is_reported_and_the_other_files_are_checked() {
    let (idle, coasting) = (sample("brake-idle"), sample("coasting-bridges"));
    let both = call(&[&idle, &coasting], false);
    assert_eq!(ran(&both, "", "").0, FAULT);
    let (status, output, error) = ran(&both, IDLE, "no gap \u{1b}[31m\nSHORT  [short]");
    assert_eq!(status, FAILED);
    assert!(output.starts_with("Mirrowby and the quarry line ("), "{output}");
    assert!(error.starts_with(&format!("{idle}: the check broke down: ")), "{error}");
    assert!(error.contains("no gap \\u{1b}[31m\\nSHORT  [short]"), "{error}");
    assert_eq!(error.lines().count(), 1, "{error}");

    // A list with one document left out looks complete.
    let (status, output, error) = ran(&call(&[&idle, &coasting], true), IDLE, "no gap");
    assert_eq!((status, output.as_str()), (FAILED, ""));
    assert!(error.contains("brake-idle.gapwright: the check broke down"), "{error}");
}

#[test]
fn every_layout_that_breaks_down_is_named() {
    let (idle, coasting) = (sample("brake-idle"), sample("coasting-bridges"));
    let (mut output, mut error) = (Vec::new(), Vec::new());
    let streams =
        Streams { input: io::empty(), output: &mut output, error: &mut error, pretty: false };
    let check = |_: &Layout| -> Outcome { std::panic::panic_any(7) };
    assert_eq!(run(&call(&[&idle, &coasting], false), check, streams), FAILED);
    let error = String::from_utf8(error).unwrap();
    assert_eq!(error.lines().count(), 2, "{error}");
    assert!(error.contains("brake-idle") && error.contains("coasting-bridges"), "{error}");
    assert!(output.is_empty());
}

#[test]
fn a_report_that_cannot_be_written_is_a_failure_unless_the_reader_has_left() {
    let idle = sample("brake-idle");
    for json in [false, true] {
        for (kind, status, word) in [
            (io::ErrorKind::StorageFull, FAILED, "the disk is full"),
            (io::ErrorKind::BrokenPipe, FAULT, ""),
        ] {
            let mut error = Vec::new();
            let streams = Streams {
                input: io::empty(),
                output: Refuses(kind),
                error: &mut error,
                pretty: false,
            };
            assert_eq!(run(&call(&[&idle], json), check, streams), status);
            let error = String::from_utf8(error).unwrap();
            assert_eq!(error.is_empty(), word.is_empty(), "{error}");
            assert!(error.contains(word), "{error}");
        }
    }
}

#[test]
fn nothing_is_left_to_say_where_standard_error_is_full() {
    let streams = Streams {
        input: io::empty(),
        output: Vec::new(),
        error: Refuses(io::ErrorKind::StorageFull),
        pretty: false,
    };
    assert_eq!(run(&call(&["/no/such/file"], false), check, streams), FAILED);
}

#[test]
fn an_endless_source_is_read_to_the_limit_only() {
    struct Endless(u64);
    impl Read for Endless {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            into.fill(b' ');
            self.0 += into.len() as u64;
            Ok(into.len())
        }
    }
    let mut endless = Endless(0);
    let mut error = Vec::new();
    let streams =
        Streams { input: &mut endless, output: Vec::new(), error: &mut error, pretty: false };
    assert_eq!(run(&call(&["-"], false), check, streams), FAILED);
    assert_eq!(endless.0, gapwright::layout::LARGEST_FILE + 1);
    let error = String::from_utf8(error).unwrap();
    assert!(error.starts_with("-: it is longer than 64 MiB"), "{error}");
}
