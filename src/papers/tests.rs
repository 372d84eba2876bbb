//! What stands on the sheets, and that it stands within them.

#![allow(clippy::unwrap_used)]

use std::path::Path;

use super::*;
use crate::drawing::{Area, Page, Placed, Shape};
use crate::layout::{Layout, read_path};
use crate::study::Memo;

fn sample(name: &str) -> Layout {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-layouts");
    read_path(Path::new(&format!("{folder}/{name}.gapwright"))).unwrap().layout
}

/// Every sheet of a layout as a document.
fn documents(facts: &Facts, request: &Request) -> Vec<(&'static str, Document)> {
    vec![
        ("plan", plan::document(facts, request)),
        ("cuts", cut_list::document(facts, request, &cut_list::table(facts))),
        ("feeders", feeder_list::document(facts, request, &feeder_list::table(facts))),
        (
            "ring-out",
            ring_out::document(facts, request, &ring_out::off(facts), &ring_out::on(facts)),
        ),
        ("cards", gap_cards::document(facts, request)),
        ("labels", label_strips::document(facts, request)),
        ("operators", operators::document(facts, request)),
        ("settings", driver_settings::document(facts, request)),
        ("findings", findings::document(facts, request)),
    ]
}

/// The texts of a page with the rectangles around them; those in windows too.
fn texts(shapes: &[Placed]) -> Vec<(Area, String)> {
    let mut out = Vec::new();
    for Placed { shape, .. } in shapes {
        match shape {
            Shape::Text(text) => {
                // The letters alone: from the height of a capital to what hangs below the line.
                let area = shape.bounds().unwrap();
                let (y, h) = (text.y_mm - 0.75 * text.size_mm, 0.9 * text.size_mm);
                out.push((Area { y, h, ..area }, text.text.clone()));
            }
            Shape::Window { shapes, .. } => out.extend(texts(shapes)),
            Shape::Path { .. } => {}
        }
    }
    out
}

fn words(document: &Document) -> String {
    let all = document.pages.iter().flat_map(|page| texts(&page.shapes));
    all.map(|(_, text)| text.replace('\u{a0}', " ")).collect::<Vec<_>>().join(" ")
}

const TRIED: [&str; 5] = ["club", "wye", "two-cabs", "terminus", "wiring-day"];

fn each(mut look: impl FnMut(&str, &Facts, &str, &Document)) {
    for name in TRIED {
        let layout = sample(name);
        let study = Study::of(&layout, &Memo::default());
        let facts = Facts::of(&study);
        for paper in [Paper::A4, Paper::LETTER] {
            let request = Request { paper, file: "a.gapwright".into(), ..Request::default() };
            for (sheet, document) in documents(&facts, &request) {
                look(name, &facts, sheet, &document);
            }
        }
    }
}

#[test]
fn papers_have_all_their_words_on_the_page() {
    each(|name, _, sheet, document| {
        for (n, page) in document.pages.iter().enumerate() {
            let Page { width_mm, height_mm, .. } = *page;
            for (area, text) in texts(&page.shapes) {
                let inside = area.x >= 3.0
                    && area.y >= 3.0
                    && area.x + area.w <= width_mm - 3.0
                    && area.y + area.h <= height_mm - 3.0;
                assert!(inside, "{name}, {sheet}, page {}: {text} at {area:?}", n + 1);
            }
        }
    });
}

#[test]
fn papers_have_no_words_on_other_words() {
    each(|name, _, sheet, document| {
        for (n, page) in document.pages.iter().enumerate() {
            let texts = texts(&page.shapes);
            for (at, (area, text)) in texts.iter().enumerate() {
                for (other, second) in &texts[at + 1..] {
                    let over = area.grown(-0.12).meets(&other.grown(-0.12));
                    assert!(!over, "{name}, {sheet}, page {}: {text} | {second}", n + 1);
                }
            }
        }
    });
}

#[test]
fn papers_name_every_gap_on_plan_cut_list_ring_out_and_cards() {
    each(|name, facts, sheet, document| {
        if !["plan", "cuts", "ring-out", "cards", "labels"].contains(&sheet) {
            return;
        }
        let words = words(document);
        for cut in &facts.report.cuts {
            let id = cut.id.to_string();
            assert!(words.split(' ').any(|word| word == id), "{name}, {sheet}: {id}");
        }
    });
}

#[test]
fn papers_have_their_cautions_in_full() {
    use crate::findings::Caution;
    each(|name, facts, sheet, document| {
        let cautions: &[Caution] = match sheet {
            "cuts" => &[Caution::Power, Caution::Saw, Caution::Solder, Caution::Fumes],
            "feeders" => {
                &[Caution::Power, Caution::Rewire, Caution::Solder, Caution::Fumes, Caution::Fuse]
            }
            "ring-out" => &[Caution::Power, Caution::Measure, Caution::Mains],
            "operators" => &[Caution::Guard, Caution::Mains],
            "settings" => &[Caution::Power, Caution::Measure, Caution::Guard, Caution::Listed],
            _ => return,
        };
        if facts.report.cuts.is_empty() && ["cuts", "ring-out"].contains(&sheet) {
            return;
        }
        let words = words(document);
        for caution in cautions {
            assert!(words.contains(caution.line()), "{name}, {sheet}: {}", caution.line());
        }
    });
}

#[test]
fn papers_of_a_turntable_say_how_it_is_reversed() {
    let layout = sample("turntable");
    let study = Study::of(&layout, &Memo::default());
    let facts = Facts::of(&study);
    let words = words(&operators::document(&facts, &Request::default()));
    assert!(words.contains("Reversing") && words.contains("is the reversing section"), "{words}");
}

#[test]
fn papers_say_where_an_auto_reverser_lets_a_train_pass() {
    let layout = sample("wye");
    let study = Study::of(&layout, &Memo::default());
    let facts = Facts::of(&study);
    let east =
        facts.report.cuts.iter().find(|cut| facts.gap(cut.id).ends_with("East gap")).unwrap();
    assert_eq!(facts.pairs(east), ["on with on (the auto-reverser turns)"]);
    assert!(
        words(&gap_cards::document(&facts, &Request::default()))
            .contains("the auto-reverser turns")
    );
}

#[test]
fn papers_ring_out_each_set_of_positions_once() {
    use readings::{Ring, rings};
    let layout = sample("two-cabs");
    let study = Study::of(&layout, &Memo::default());
    let facts = Facts::of(&study);
    let all = rings(&facts, facts.report.cuts[0].id);
    // Both selectors on one cab: its wires join the rail that is cut. Elsewhere it is open. The other rail is whole.
    let across = |at: usize| all[at].across;
    assert_eq!(all.len(), 2);
    assert!(matches!(across(0), [None, Some(Ring::Wires(Some(ohm)))] if ohm > 0.1), "{all:?}");
    assert_eq!(across(1), [None, Some(Ring::Open)]);
    assert_eq!(all[0].positions[0], []);
    let mut sets: Vec<_> = all.iter().flat_map(|rings| &rings.positions).collect();
    let count = sets.len();
    sets.sort();
    sets.dedup();
    assert_eq!(sets.len(), count);
    assert!(count > 4, "{all:?}");
}

#[test]
fn papers_ring_out_what_the_wires_join() {
    use readings::{Ring, Volts, powered, rings};
    // Each block has a driver of its own, so nothing joins the rails of a gap.
    let layout = sample("brake-idle");
    let study = Study::of(&layout, &Memo::default());
    let facts = Facts::of(&study);
    let cut = &facts.report.cuts[0];
    let all = rings(&facts, cut.id);
    assert_eq!(all.len(), 1);
    assert_eq!(all[0].across, [Some(Ring::Open); 2]);
    assert_eq!((all[0].between, all[0].crosswise), ([Ring::Open; 2], [Ring::Open; 2]));
    // Two isolated supplies: nothing joins the two sides, so the volts across the gap float.
    let volts = powered(&facts, cut);
    assert_eq!(volts.len(), cut.card.len());
    assert!(volts.iter().all(|row| row.across.iter().all(Option::is_some)));
    let shared = sample("one-board");
    let study = Study::of(&shared, &Memo::default());
    let facts = Facts::of(&study);
    let cut = &facts.report.cuts[0];
    let rows = powered(&facts, cut);
    let opposed = rows.iter().find(|r| (r.a.word(), r.b.word()) == ("forward", "reverse")).unwrap();
    // Their negatives are tied: set against each other, both rails stand a supply's voltage apart.
    for across in opposed.across {
        let Some(Volts::Shows(mean, _)) = across else { panic!("{opposed:?}") };
        assert!(mean.abs() > 10.0, "{opposed:?}");
    }
}
