//! Papers from the outside: files that the verb writes, what stands in them, and what other programs make of them.

use std::path::Path;
use std::process::{Command, Output};

use gapwright::findings::{Memo, Study, check};
use gapwright::layout::{self, Decided, Decision, DecisionId, Layout};
use gapwright::papers::{MOST_TILES, NoPapers, PaperFile, Request, SHEETS, papers};

use super::samples::{FOLDER, layouts};

mod outside;

fn made(layout: &Layout, request: &Request) -> Vec<PaperFile> {
    let study = Study::of(layout, &Memo::default());
    papers(&study, request, &mut |_, _, _| true).unwrap()
}

fn of_sample(name: &str, request: &Request) -> Vec<PaperFile> {
    let path = format!("{FOLDER}/{name}.gapwright");
    made(&layout::read_path(Path::new(&path)).unwrap().layout, request)
}

fn all() -> Request {
    Request {
        html: true,
        file: "a.gapwright".into(),
        date: "2024-05-06".into(),
        ..Request::default()
    }
}

fn only(sheets: &[&str]) -> Request {
    let only = sheets.iter().map(|name| (*name).to_owned()).collect();
    Request { only, html: false, ..all() }
}

fn text<'f>(files: &'f [PaperFile], name: &str) -> &'f str {
    let file = files.iter().find(|file| file.name == name).unwrap_or_else(|| panic!("no {name}"));
    std::str::from_utf8(&file.bytes).unwrap()
}

fn gapwright(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_gapwright")).args(arguments).output().unwrap()
}

fn said(output: &Output) -> (i32, String, String) {
    let utf8 = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (output.status.code().unwrap(), utf8(&output.stdout), utf8(&output.stderr))
}

/// A straight run of 1000 mm without anything on it.
fn bare(more: &str) -> Layout {
    let text = format!(
        r#"(version: 1, joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 1000, y_mm: 0)],
        runs: [(id: "r1", from: "j1", to: "j2")], {more})"#
    );
    layout::load(&text).unwrap_or_else(|errors| panic!("{errors:?}")).layout
}

#[test]
fn papers_of_every_sample_are_made_whole() {
    for (name, layout) in layouts() {
        let files = made(&layout, &all());
        for file in &files {
            let bytes = &file.bytes;
            let begins = match file.name.rsplit('.').next().unwrap() {
                "pdf" => bytes.starts_with(b"%PDF-") && bytes.ends_with(b"%%EOF"),
                "png" => bytes.starts_with(b"\x89PNG\r\n\x1a\n"),
                "svg" => bytes.starts_with(b"<?xml") && bytes.ends_with(b"</svg>\n"),
                "html" => bytes.starts_with(b"<!DOCTYPE html>") && bytes.ends_with(b"</html>\n"),
                "csv" => !bytes.is_empty(),
                other => panic!("{name}: {other}"),
            };
            assert!(begins, "{name}: {}", file.name);
        }
        // The work order is made where there is an old design.
        for sheet in SHEETS.iter().filter(|sheet| sheet.name != "work") {
            let has = files.iter().any(|file| file.name == format!("{}.pdf", sheet.name));
            assert!(has, "{name}: {}", sheet.name);
        }
    }
}

#[test]
fn papers_name_every_gap_and_every_feeder() {
    for (name, layout) in layouts() {
        let files = made(&layout, &Request { html: true, ..only(&["plan", "cuts", "feeders"]) });
        let (plan, html) = (text(&files, "plan.svg"), text(&files, "layout.html"));
        let (cuts, feeders) = (text(&files, "cuts.csv"), text(&files, "feeders.csv"));
        for cut in check(&layout).cuts {
            let id = cut.id;
            let labelled = |end: &str| plan.contains(&format!(">{id}{end}"));
            assert!(labelled("</text>") || labelled(" "), "{name}: {id} on the plan");
            let listed = |line: &str| {
                line.starts_with(&format!("{id},")) || line.starts_with(&format!("{id} "))
            };
            assert!(
                cuts.lines().map(|line| line.trim_start_matches('"')).any(listed),
                "{name}: {id} in the cut list"
            );
            let carded = |end: &str| html.contains(&format!("<h3>Gap {id}{end}"));
            assert!(carded("</h3>") || carded(" "), "{name}: {id} on a card");
        }
        for feed in layout.feeds.values() {
            let legs = usize::from(feed.p.is_some()) + usize::from(feed.m.is_some());
            let begins = format!("{},", feed.id);
            let count = feeders.lines().filter(|line| line.starts_with(&begins)).count();
            assert_eq!(count, legs, "{name}: {}", feed.id);
        }
    }
}

#[test]
fn papers_are_the_same_each_time_and_know_no_clock() {
    for name in ["wye", "two-cabs"] {
        let request = Request { scale: Some(8.0), ..all() };
        let (one, two) = (of_sample(name, &request), of_sample(name, &request));
        assert!(one == two, "{name}");
        let other = of_sample(name, &Request { date: "2024-05-07".into(), ..request });
        assert!(one != other, "{name}");
        assert!(text(&one, "layout.html").contains("file of 2024-05-06"));
    }
}

/// A name that XML, HTML, a spreadsheet and a terminal would obey.
const EVIL: &str = r#"</text></title><script>alert(1)</script>\"&'\u{1b}[2J\u{202e}"#;

#[test]
fn papers_escape_names_that_a_reader_would_obey() {
    let path = format!("{FOLDER}/two-cabs.gapwright");
    let mut layout = layout::read_path(Path::new(&path)).unwrap().layout;
    let evil = EVIL.replace("\\u{1b}", "\u{1b}").replace("\\u{202e}", "\u{202e}");
    layout.name.clone_from(&evil);
    layout.cuts.values_mut().for_each(|cut| cut.name.clone_from(&evil));
    layout.labels.values_mut().for_each(|label| label.name = format!("=1+1{evil}"));
    layout.drivers.values_mut().for_each(|driver| driver.name = format!("@{evil}"));
    layout.vehicles.values_mut().for_each(|vehicle| vehicle.name.clone_from(&evil));
    let files = made(&layout, &all());
    let html = text(&files, "layout.html");
    assert_eq!(html.matches("<script").count(), 1);
    assert!(html.contains("&lt;script&gt;alert(1)"));
    let svg = text(&files, "plan.svg");
    assert!(!svg.contains("<script") && svg.contains("&lt;script&gt;"));
    for file in files.iter().filter(|f| !f.name.ends_with(".pdf") && !f.name.ends_with(".png")) {
        let text = text(&files, &file.name);
        assert!(!text.contains(['\u{1b}', '\u{202e}']), "{}", file.name);
    }
    for line in text(&files, "feeders.csv").lines().flat_map(|line| line.split(',')) {
        assert!(!line.trim_matches('"').starts_with(['=', '@', '+']), "{line}");
    }
}

#[test]
fn papers_html_needs_no_other_file() {
    let files = of_sample("wye", &Request { html: true, ..only(&["cuts"]) });
    let html = text(&files, "layout.html");
    for word in ["http://", "https://", "src=", "@import", "url("] {
        // The policy names where pictures may come from; the name of SVG is no address.
        assert!(!html.contains(word), "{word}");
    }
    for part in [
        "<html lang=\"en\">",
        "name=\"viewport\"",
        "<main id=\"main\">",
        "scope=\"col\"",
        "<label for=\"search\">",
    ] {
        assert!(html.contains(part), "{part}");
    }
    // Each heading is at most one level below the one before it.
    let mut level = 0;
    for part in html.split("<h").skip(1) {
        let Some(next) = part.chars().next().and_then(|c| c.to_digit(10)) else { continue };
        assert!(next <= level + 1, "h{next} after h{level}");
        level = next;
    }
}

#[test]
fn papers_of_an_empty_layout_say_so() {
    let empty = layout::load("(version: 1)").unwrap().layout;
    for layout in [empty, bare("")] {
        let files = made(&layout, &Request { scale: Some(10.0), ..all() });
        assert!(files.iter().any(|file| file.name == "plan-tiles.pdf"));
        assert_eq!(files.iter().filter(|file| file.name.ends_with(".pdf")).count(), 11);
    }
}

#[test]
fn papers_can_be_stopped_and_say_how_far_they_are() {
    let study = Study::of(&bare(""), &Memo::default());
    let mut seen = Vec::new();
    let stopped = papers(&study, &all(), &mut |done, of, title| {
        seen.push((done, of, title.to_owned()));
        title != "Feeder list"
    });
    assert_eq!(stopped, Err(NoPapers::Stopped));
    assert_eq!(seen.last(), Some(&(2, 11, "Feeder list".to_owned())));
}

#[test]
fn papers_refuse_what_cannot_be_made_and_say_what_can() {
    let study = Study::of(&bare(""), &Memo::default());
    let asked = |request: &Request| match papers(&study, request, &mut |_, _, _| true) {
        Err(NoPapers::Refused(why)) => why,
        other => panic!("{other:?}"),
    };
    let why = asked(&only(&["plan", "cutz"]));
    assert!(why.contains("\"cutz\"") && why.contains("plan, cuts, feeders"), "{why}");
    let why = asked(&Request { scale: Some(0.0001), ..only(&["plan"]) });
    assert!(why.contains("1:0.1"), "{why}");
    let long = layout::load(
        r#"(version: 1, joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 900000, y_mm: 90000)],
        runs: [(id: "r1", from: "j1", to: "j2")])"#,
    );
    let study = Study::of(&long.unwrap().layout, &Memo::default());
    let request = Request { scale: Some(1.0), ..only(&["plan"]) };
    let why = papers(&study, &request, &mut |_, _, _| true).unwrap_err().to_string();
    assert!(why.contains(&MOST_TILES.to_string()) && why.contains("smaller scale"), "{why}");
}

#[test]
fn papers_are_written_by_the_verb_with_the_status_of_the_check() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("new/papers");
    let out = out.to_str().unwrap();
    let file = format!("{FOLDER}/brake-idle.gapwright");
    let call = |more: &[&str]| said(&gapwright(&[&["papers", &file, "--out", out], more].concat()));
    let (status, told, error) = call(&["--only", "cuts,plan", "--html", "--paper", "letter"]);
    assert_eq!((status, error.as_str()), (1, ""));
    let names: Vec<&str> = told.lines().map(|line| line.rsplit('/').next().unwrap()).collect();
    assert_eq!(names, ["plan.pdf", "plan.svg", "plan.png", "cuts.pdf", "cuts.csv", "layout.html"]);
    assert!(told.lines().all(|line| Path::new(line).is_file()), "{told}");
    // Again over its own files; then one of them was changed by hand.
    assert_eq!(call(&["--only", "cuts"]).0, 1);
    let cuts = format!("{out}/cuts.csv");
    std::fs::write(&cuts, "notes by hand").unwrap();
    let (status, told, error) = call(&["--only", "cuts"]);
    assert_eq!((status, told.as_str()), (2, ""));
    assert!(error.contains("cuts.csv") && error.contains("Move it away"), "{error}");
    assert_eq!(std::fs::read_to_string(&cuts).unwrap(), "notes by hand");
    let sound = format!("{FOLDER}/matched-throttles.gapwright");
    let fine = folder.path().join("fine");
    let sound = gapwright(&["papers", &sound, "--out", fine.to_str().unwrap(), "--only", "cards"]);
    assert_eq!(said(&sound).0, 0);
}

#[test]
fn papers_say_what_is_wrong_with_a_call() {
    let folder = tempfile::tempdir().unwrap();
    let file = format!("{FOLDER}/wye.gapwright");
    let in_the_way = folder.path().join("file");
    std::fs::write(&in_the_way, "").unwrap();
    let in_the_way = in_the_way.to_str().unwrap();
    let out = folder.path().to_str().unwrap();
    for (arguments, word) in [
        (vec!["papers", &file], "--out"),
        (vec!["papers", &file, "--out", "-"], "Name a folder"),
        (vec!["papers", &file, "--out", in_the_way], "is a file"),
        (vec!["papers", &file, "--out", out, "--only", "nothing"], "The sheets are"),
        (vec!["papers", &file, "--out", out, "--paper", "a9"], "a4 and letter"),
        (vec!["papers", &file, "--out", out, "--scale", "big"], "1:5"),
        (vec!["papers", "not-there.gapwright", "--out", out], "not-there.gapwright"),
    ] {
        let arguments: Vec<&str> = arguments.iter().map(|a| &**a).collect();
        let (status, told, error) = said(&gapwright(&arguments));
        assert_eq!((status, told.as_str()), (2, ""), "{arguments:?}");
        assert!(error.to_lowercase().contains(&word.to_lowercase()), "{arguments:?}: {error}");
    }
    assert_eq!(std::fs::read_dir(out).unwrap().count(), 1, "nothing is written");
}

/// The sample with crossed wires, with a decision on its first finding and one on a finding that is past.
fn decided() -> Layout {
    let path = format!("{FOLDER}/swapped-feed.gapwright");
    let mut layout = layout::read_path(Path::new(&path)).unwrap().layout;
    let finding = &check(&layout).findings[0];
    let decision = |finding: &str, ground: &str, owner: &str| Decision {
        id: DecisionId(0),
        finding: finding.to_owned(),
        said: "What it said <then>".into(),
        ground: ground.to_owned(),
        state: Decided::ToDo,
        decision: "Exchange the wires.".into(),
        owner: owner.to_owned(),
        date: "2026-12-01".into(),
        lineup: None,
        notes: String::new(),
    };
    let id = finding.id().to_string();
    for one in [decision(&id, "short, 1.0 A", "Ada"), decision("half-fed@r1", "stall", "Ben & Co")]
    {
        layout::apply(&mut layout, layout::Edit::Add(one.into())).unwrap();
    }
    layout
}

#[test]
fn papers_tell_what_was_decided_and_whether_its_ground_has_changed() {
    let files = made(&decided(), &all());
    let page = text(&files, "layout.html");
    for words in [
        "Decision: To do, Ada, 2026-12-01. Exchange the wires.",
        "The ground has changed since: it was &quot;short, 1.0 A&quot; and is &quot;short, 22 A&quot;.",
        "Decided, and no longer found",
        "What it said &lt;then&gt;",
        "Decision: To do, Ben &amp; Co, 2026-12-01.",
    ] {
        assert!(page.contains(words), "{words}");
    }
}

#[test]
fn papers_have_a_work_order_from_an_old_design() {
    let old = decided();
    let mut new = old.clone();
    let feed = *old.feeds.keys().next().unwrap();
    layout::apply(&mut new, layout::Edit::Swap { feed }).unwrap();
    let from = |old: &Layout| Some(("as <it> is.gapwright".to_owned(), old.clone()));
    let files = made(&new, &Request { old: from(&old), ..only(&["work"]) });
    let csv = text(&files, "work.csv");
    assert!(
        csv.contains("1,Exchange the two wires of feeder") && csv.contains("nothing new"),
        "{csv}"
    );
    assert!(files.iter().any(|file| file.name == "work.pdf"));
    // From itself there is nothing to do, though its decisions differ.
    let mut plain = old.clone();
    plain.decisions.clear();
    let files = made(&old, &Request { old: from(&plain), ..only(&["work"]) });
    assert_eq!(text(&files, "work.csv").lines().count(), 1);
    // Among all sheets it is left out without an old design; asked for by name, it says what it needs.
    assert!(!made(&old, &all()).iter().any(|file| file.name.starts_with("work.")));
    let study = Study::of(&old, &Memo::default());
    let refused = papers(&study, &only(&["work"]), &mut |_, _, _| true).unwrap_err();
    assert!(refused.to_string().contains("--from"), "{refused}");
}
