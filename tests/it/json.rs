//! The JSON report against its schema, its description and its size. Documents of random layouts are held against the schema
//! by the silence law (`laws/silence.rs`).

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use gapwright::cure::Surgery;
use gapwright::findings::{Kind, Memo, Report, Study, check};
use gapwright::layout::{self, Layout};
use gapwright::report::{self, Units};
use serde_json::{Value, json};

use super::samples::{layouts as samples, sample, stem};
use super::support::schema;

/// The documentation of the report.
const DESCRIBED: &str = include_str!("../../docs/json.md");

/// A document may take so many bytes for each cut, its findings included; of crowded layouts, without their words.
const MOST_BYTES: usize = 12 * 1024;

fn text(layout: &Layout, report: &Report) -> String {
    report::document("layout.gapwright", layout, report).to_string()
}

/// The document of a layout, with the cures of its findings.
fn document(layout: &Layout) -> Value {
    let surgery = Surgery::of(&Study::of(layout, &Memo::default()));
    let (cures, report) = (surgery.all(), surgery.report());
    let document = report::document("layout.gapwright", layout, report).with_cures(&cures);
    serde_json::from_str(&document.to_string()).unwrap()
}

/// Takes minutes to check (see `cases::grown_cases_end`).
const SLOW: &str = "train-3x10-12-blocks";

/// Layouts of `tests/cases` that are layouts.
fn cases() -> Vec<(String, Layout)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases");
    let mut paths: Vec<PathBuf> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    let loaded = paths.iter().filter(|path| stem(path) != SLOW).filter_map(|path| {
        let layout = layout::load(&std::fs::read_to_string(path).unwrap()).ok()?.layout;
        Some((stem(path), layout))
    });
    loaded.collect()
}

#[track_caller]
fn valid(name: &str, document: &Value) {
    let complaints = schema::complaints(document);
    assert!(complaints.is_empty(), "{name}:\n{}", complaints.join("\n"));
}

#[test]
fn the_document_of_every_sample_and_case_is_valid() {
    let cases = cases();
    assert!(cases.len() >= 8, "{} cases", cases.len());
    for (name, layout) in samples() {
        valid(&name, &document(&layout));
    }
    for (name, layout) in cases {
        let document = serde_json::from_str(&text(&layout, &check(&layout))).unwrap();
        valid(&name, &document);
    }
    valid("nothing", &document(&Layout::default()));
}

/// How many faults, rules, notes and cuts the text tells of: by the lines that begin findings, and by the summary.
fn counts_of_text(text: &str) -> (BTreeMap<String, usize>, BTreeMap<String, usize>) {
    let mut lines = BTreeMap::new();
    for line in text.lines().filter(|line| !line.starts_with(' ')) {
        if let Some((class, _)) = line.split_once("  ").filter(|_| line.ends_with(']')) {
            *lines.entry(class.to_lowercase()).or_default() += 1;
        } else if line.contains("; one dead: ") {
            *lines.entry("cut".to_owned()).or_default() += 1;
        }
    }
    let mut summary = BTreeMap::new();
    for part in text.lines().last().unwrap().split(", ").filter(|part| !part.contains("cut")) {
        let (n, word) = part.split_once(' ').unwrap();
        let word = word
            .strip_suffix('s')
            .unwrap_or(word)
            .replace("operating ", "")
            .replace("not known", "not-known");
        summary.insert(word, n.parse().unwrap());
    }
    (lines, summary)
}

#[test]
fn the_text_and_the_document_count_alike() {
    for (name, layout) in samples().into_iter().chain(cases()) {
        let found = check(&layout);
        let document: Value = serde_json::from_str(&text(&layout, &found)).unwrap();
        let (lines, summary) =
            counts_of_text(&report::text("layout.gapwright", &layout, &found, Units::Metric));
        let mut expected: BTreeMap<String, usize> = BTreeMap::new();
        for finding in document["findings"].as_array().unwrap() {
            let word = if finding["class"] == "fault" { "verdict" } else { "class" };
            *expected.entry(finding[word].as_str().unwrap().to_owned()).or_default() += 1;
        }
        let cuts = document["cuts"].as_array().unwrap().len();
        let mut with_cuts = expected.clone();
        with_cuts.extend((cuts > 0).then(|| ("cut".to_owned(), cuts)));
        assert_eq!(lines, with_cuts, "{name}");
        expected.retain(|word, _| word != "note" && word != "clear");
        assert_eq!(summary, expected, "{name}");
    }
}

/// What keeps a valid document from being so, one thing at a time.
#[test]
fn a_broken_document_is_refused() {
    let sound = document(&sample("brake-idle"));
    valid("brake-idle", &sound);
    type Break = fn(&mut Value);
    let breaks: &[(&str, Break)] = &[
        ("another schema", |d| d["schema"] = 1.into()),
        ("no verdict", |d| drop(d.as_object_mut().unwrap().remove("verdict"))),
        ("a verdict that is none", |d| d["verdict"] = "fine".into()),
        ("a field that is none", |d| d["verdikt"] = "clear".into()),
        ("a number without a value", |d| d["cuts"][0]["at_mm"] = Value::Null),
        ("a share above 1", |d| d["cuts"][0]["agree"]["share"] = 1.5.into()),
        ("two answers at once", |d| {
            d["cuts"][0]["agree"]["longest_s"] = json!({ "value": 1, "endless": true });
        }),
        ("no answer", |d| d["cuts"][0]["agree"]["longest_s"] = json!({})),
        ("currents that are known of what could not be solved", |d| {
            d["cuts"][0]["agree"]["share"] = Value::Null;
        }),
        ("a facing of nothing", |d| d["cuts"][0]["agree"]["motion"] = "no train".into()),
        ("no facing", |d| {
            drop(d["cuts"][0]["agree"].as_object_mut().unwrap().remove("facing"));
        }),
        ("a trip that acts at no time", |d| {
            let driver = d["cuts"][0]["agree"]["drivers"][0].as_object_mut().unwrap();
            drop(driver.remove("trip_after_s"));
        }),
        ("a kind that is none", |d| d["findings"][0]["kind"] = "idle".into()),
        ("no headline", |d| d["findings"][0]["says"] = "".into()),
        ("a place of two kinds", |d| {
            d["findings"][0]["places"][0] = json!({ "cut": "c1", "special": "w2" });
        }),
        ("an id that is none", |d| d["findings"][0]["drivers"][0] = 1.into()),
        ("a cure without edits", |d| d["findings"][0]["cures"][0]["edits"] = json!([])),
    ];
    for (name, change) in breaks {
        let mut broken = sound.clone();
        change(&mut broken);
        assert_ne!(broken, sound, "{name}");
        assert!(!schema::complaints(&broken).is_empty(), "{name} is not refused");
    }
}

/// Every object that the schema describes says what it may hold.
#[test]
fn the_schema_is_strict() {
    fn walk(at: &str, value: &Value, loose: &mut Vec<String>) {
        match value {
            Value::Object(all) => {
                if value["type"] == "object" && all.get("additionalProperties").is_none() {
                    loose.push(at.to_owned());
                }
                all.iter().for_each(|(k, v)| walk(&format!("{at}/{k}"), v, loose));
            }
            Value::Array(all) => {
                all.iter().enumerate().for_each(|(k, v)| walk(&format!("{at}/{k}"), v, loose));
            }
            _ => {}
        }
    }
    let mut loose = Vec::new();
    walk("", &schema::SCHEMA, &mut loose);
    assert_eq!(loose, Vec::<String>::new());
    let kinds: BTreeSet<&str> = Kind::ALL.iter().map(|kind| kind.word()).collect();
    let listed = schema::SCHEMA["$defs"]["finding"]["properties"]["kind"]["enum"].as_array();
    let listed: BTreeSet<&str> =
        listed.unwrap().iter().map(|kind| kind.as_str().unwrap()).collect();
    assert_eq!(listed, kinds);
}

#[test]
fn every_field_of_the_schema_is_described() {
    fn names(value: &Value, found: &mut BTreeSet<String>) {
        if let Some(properties) = value["properties"].as_object() {
            let described = properties.iter().filter(|(_, schema)| **schema != false);
            found.extend(described.map(|(name, _)| name.clone()));
        }
        match value {
            Value::Object(all) => all.values().for_each(|value| names(value, found)),
            Value::Array(all) => all.iter().for_each(|value| names(value, found)),
            _ => {}
        }
    }
    let mut fields = BTreeSet::new();
    names(&schema::SCHEMA, &mut fields);
    assert!(fields.len() > 60, "{fields:?}");
    fields.retain(|field| !DESCRIBED.contains(&format!("`{field}`")));
    assert_eq!(fields, BTreeSet::new(), "not described in docs/json.md");
}

/// The bytes of a document for each of its cuts: all of it, and without the words of its findings.
fn bytes_a_cut(layout: &Layout) -> (usize, usize) {
    let report = check(layout);
    let whole = text(layout, &report);
    let words = |finding: &Value| -> usize {
        let fields = ["says", "why", "more", "advice", "cautions"].map(|field| &finding[field]);
        fields.iter().map(|words| words.to_string().len()).sum()
    };
    let document: Value = serde_json::from_str(&whole).unwrap();
    let words: usize = document["findings"].as_array().unwrap().iter().map(words).sum();
    (whole.len() / report.cuts.len(), (whole.len() - words) / report.cuts.len())
}

#[test]
fn a_cut_takes_at_most_12_kilobytes() {
    let kb = |bytes: usize| bytes as f64 / 1024.0;
    let mut large = Vec::new();
    let samples = samples().into_iter().map(|layout| (true, layout));
    let cases = cases().into_iter().map(|layout| (false, layout));
    for (is_sample, (name, layout)) in samples.chain(cases) {
        if layout.cuts.is_empty() {
            continue;
        }
        let (whole, figures) = bytes_a_cut(&layout);
        println!("{:6.2} KB a cut, {:6.2} KB without words: {name}", kb(whole), kb(figures));
        if figures > MOST_BYTES || (is_sample && whole > MOST_BYTES) {
            large.push(name);
        }
    }
    assert!(large.is_empty(), "{large:?}");
}

/// The examples in the documentation are what the program says: each stands behind a comment with a sample and a path.
#[test]
fn the_examples_of_the_documentation_are_real() {
    let mut count = 0;
    for example in DESCRIBED.split("<!-- ").skip(1) {
        let (of, rest) = example.split_once(" -->").unwrap();
        let (name, pointer) = of.split_once(' ').unwrap();
        let shown =
            rest.trim_start().strip_prefix("```json").and_then(|rest| rest.split_once("```"));
        let shown = shown.unwrap_or_else(|| panic!("no example of {of}")).0;
        let shown: Value = serde_json::from_str(shown).unwrap_or_else(|e| panic!("{of}: {e}"));
        let document = document(&sample(name));
        let said = document.pointer(pointer).unwrap_or_else(|| panic!("{name} has no {pointer}"));
        assert_eq!(shown, *said, "{of} is now\n{said:#}");
        count += 1;
    }
    assert!(count >= 5, "{count} examples");
}
