//! Papers as other programs read them: poppler, librsvg and Chromium. `.ci/run` installs them and calls these tests.

use std::path::{Path, PathBuf};
use std::process::Command;

use gapwright::findings::Caution;

use super::super::samples::layouts;
use super::{all, bare, decided, made, only};
use gapwright::layout::Layout;
use gapwright::papers::{PaperFile, Request};

/// Writes files into a folder of the test.
fn written(files: &[PaperFile]) -> (tempfile::TempDir, impl Fn(&str) -> PathBuf + use<>) {
    let folder = tempfile::tempdir().unwrap();
    for file in files {
        std::fs::write(folder.path().join(&file.name), &file.bytes).unwrap();
    }
    let root = folder.path().to_owned();
    (folder, move |name: &str| root.join(name))
}

fn ran(program: &str, arguments: &[&str]) -> String {
    let out = Command::new(program).args(arguments).output();
    let out = out.unwrap_or_else(|why| panic!("{program}: {why}. Install it to run this test"));
    let error = String::from_utf8_lossy(&out.stderr).into_owned();
    assert!(out.status.success(), "{program} {arguments:?}: {error}");
    String::from_utf8_lossy(&out.stdout).into_owned()
}

fn words_of(pdf: &Path) -> String {
    let text = ran("pdftotext", &["-layout", pdf.to_str().unwrap(), "-"]);
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn some() -> Vec<(String, Layout)> {
    let names = ["club", "wye", "two-cabs", "terminus"];
    layouts().into_iter().filter(|(name, _)| names.contains(&name.as_str())).collect()
}

#[test]
#[ignore = "needs poppler-utils; called by .ci/run"]
fn live_papers_pdftotext_finds_decisions() {
    let files = made(&decided(), &only(&["findings"]));
    let (_folder, at) = written(&files);
    let words = words_of(&at("findings.pdf"));
    for wanted in
        ["Decision: To do, Ada, 2026-12-01. Exchange the wires.", "no longer found", "Ben & Co"]
    {
        assert!(words.contains(wanted), "{wanted}: {words}");
    }
}

#[test]
#[ignore = "needs poppler-utils; called by .ci/run"]
fn live_papers_pdftotext_finds_gaps_feeders_and_cautions() {
    for (name, layout) in some() {
        let files =
            made(&layout, &only(&["plan", "cuts", "feeders", "ring-out", "cards", "settings"]));
        let (_folder, at) = written(&files);
        let has = |text: &str, word: &str| text.split([' ', '(', ')', ',', '.']).any(|w| w == word);
        let [plan, cuts, cards, ring, feeders] = ["plan", "cuts", "cards", "ring-out", "feeders"]
            .map(|n| words_of(&at(&format!("{n}.pdf"))));
        for cut in layout.cuts.keys() {
            let id = cut.to_string();
            for (sheet, text) in
                [("plan", &plan), ("cuts", &cuts), ("cards", &cards), ("ring-out", &ring)]
            {
                assert!(has(text, &id), "{name}: {id} on {sheet}");
            }
        }
        for feed in layout.feeds.keys() {
            assert!(has(&feeders, &feed.to_string()), "{name}: {feed}");
        }
        for (sheet, cautions) in [
            ("cuts", &[Caution::Power, Caution::Saw, Caution::Solder][..]),
            ("ring-out", &[Caution::Power, Caution::Measure, Caution::Mains]),
            ("settings", &[Caution::Power, Caution::Guard, Caution::Fuse, Caution::Listed]),
        ] {
            let text = words_of(&at(&format!("{sheet}.pdf")));
            for caution in cautions {
                assert!(text.contains(caution.line()), "{name}, {sheet}: {}", caution.line());
            }
        }
    }
}

#[test]
#[ignore = "needs poppler-utils; called by .ci/run"]
fn live_papers_have_their_faces_embedded_and_are_tagged() {
    for (name, layout) in some() {
        let request = Request { scale: Some(10.0), ..all() };
        let files = made(&layout, &request);
        let (_folder, at) = written(&files);
        for file in files.iter().filter(|file| file.name.ends_with(".pdf")) {
            let path = at(&file.name);
            let fonts = ran("pdffonts", &[path.to_str().unwrap()]);
            let rows: Vec<&str> = fonts.lines().skip(2).collect();
            assert!(!rows.is_empty(), "{name}: {} has no face", file.name);
            for row in rows {
                let cells: Vec<&str> = row.split_whitespace().collect();
                // The last columns: embedded, subset, Unicode, object and generation.
                let embedded = cells[cells.len() - 5];
                assert_eq!(embedded, "yes", "{name}: {}: {row}", file.name);
                assert!(row.contains("ClearSans"), "{row}");
            }
            let info = ran("pdfinfo", &[path.to_str().unwrap()]);
            let line = |what: &str| info.lines().find(|line| line.starts_with(what)).unwrap_or("");
            assert!(line("Tagged").ends_with("yes"), "{name}: {}", file.name);
            assert!(line("Title").len() > 20, "{name}: {info}");
        }
    }
}

/// Longest dark stretch of any row of a grey picture, pixels, in the rows from `from` to `to` (parts of its height).
fn longest_dark(pgm: &[u8], from: f64, to: f64) -> usize {
    let mut parts = pgm.splitn(4, |byte| byte.is_ascii_whitespace());
    assert_eq!(parts.next(), Some(&b"P5"[..]));
    let mut number =
        || std::str::from_utf8(parts.next().unwrap()).unwrap().parse::<usize>().unwrap();
    let (width, height) = (number(), number());
    let rest = parts.next().unwrap();
    let pixels = &rest[rest.iter().position(u8::is_ascii_whitespace).unwrap() + 1..];
    let rows = pixels.chunks(width).take(height).enumerate();
    let within = |at: usize| (from..to).contains(&(at as f64 / height as f64));
    let longest = rows
        .filter(|(at, _)| within(*at))
        .map(|(_, row)| row.split(|grey| *grey >= 200).map(<[u8]>::len).max().unwrap_or(0));
    longest.max().unwrap_or(0)
}

#[test]
#[ignore = "needs poppler-utils; called by .ci/run"]
fn live_papers_keep_their_scale() {
    for scale in [5.0, 8.0] {
        let files = made(&bare(""), &Request { scale: Some(scale), ..only(&["plan"]) });
        let (folder, at) = written(&files);
        let to = folder.path().join("tile");
        let pdf = at("plan-tiles.pdf");
        let arguments = [
            "-r",
            "508",
            "-gray",
            "-f",
            "2",
            "-l",
            "2",
            "-singlefile",
            pdf.to_str().unwrap(),
            to.to_str().unwrap(),
        ];
        ran("pdftoppm", &arguments);
        let picture = std::fs::read(to.with_extension("pgm")).unwrap();
        // 508 dots per inch are 20 per mm.
        let bar = longest_dark(&picture, 0.0, 0.1) as f64 / 20.0;
        assert!((bar / 100.0 - 1.0).abs() < 0.002, "the bar is {bar} mm");
        let run = longest_dark(&picture, 0.1, 0.9) as f64 / 20.0;
        let expected = 1000.0 / scale;
        assert!(
            (run / expected - 1.0).abs() < 0.002,
            "the run is {run} mm instead of {expected} mm"
        );
    }
}

#[test]
#[ignore = "needs librsvg2-bin; called by .ci/run"]
fn live_papers_svg_is_drawn_by_another_renderer() {
    for (name, layout) in some() {
        let (folder, at) = written(&made(&layout, &only(&["plan"])));
        let png = folder.path().join("other.png");
        ran("rsvg-convert", &["-o", png.to_str().unwrap(), at("plan.svg").to_str().unwrap()]);
        let pixmap = |path: &Path| resvg::tiny_skia::Pixmap::load_png(path).unwrap();
        let dark = |pixmap: &resvg::tiny_skia::Pixmap| {
            let count = pixmap.pixels().iter().filter(|p| p.red() < 128).count();
            count as f64 / f64::from(pixmap.width() * pixmap.height())
        };
        let (own, other) = (pixmap(&at("plan.png")), pixmap(&png));
        let (a, b) = (dark(&own), dark(&other));
        // The same drawing in another size: about as much of it is ink.
        assert!(a > 0.001 && b > 0.2 * a && b < 5.0 * a, "{name}: {a} and {b}");
        let shape = |p: &resvg::tiny_skia::Pixmap| f64::from(p.width()) / f64::from(p.height());
        assert!((shape(&own) / shape(&other) - 1.0).abs() < 0.01, "{name}");
    }
}

#[test]
#[ignore = "needs chromium; called by .ci/run"]
fn live_papers_html_is_quiet_on_a_phone() {
    for (name, layout) in some() {
        let (folder, at) = written(&made(&layout, &Request { html: true, ..only(&["cuts"]) }));
        let url = format!("file://{}", at("layout.html").display());
        let profile = format!("--user-data-dir={}", folder.path().join("profile").display());
        let flags = [
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--enable-logging=stderr",
            "--v=0",
            "--window-size=390,844",
            &profile,
            "--dump-dom",
            &url,
        ];
        let out = Command::new("chromium").args(flags).output();
        let out = out.unwrap_or_else(|why| panic!("chromium: {why}. Install it to run this test"));
        let (dom, log) =
            (String::from_utf8_lossy(&out.stdout), String::from_utf8_lossy(&out.stderr));
        assert!(!log.contains("CONSOLE"), "{name}: {log}");
        assert!(dom.contains("id=\"search\""), "{name}");
        for cut in layout.cuts.keys() {
            assert!(dom.contains(&format!("Gap {cut}")), "{name}: {cut}");
        }
    }
}
