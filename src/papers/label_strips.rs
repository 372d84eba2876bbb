//! Label strips: a narrow strip per gap and per feeder, to cut out and stick on at its place.

use super::feeder_list::{block_of, rail_word, source};
use super::pieces::{Pieces, first_line};
use super::{Facts, PaperFile, Request, foot, pdf_file, titled};
use crate::drawing::{Document, Face, Role};
use crate::findings::Class;
use crate::layout::Feed;

/// Size of a strip, mm (common practice, no source: it holds two lines that can be read at arm's length).
const STRIP: (f64, f64) = (85.0, 13.0);
/// Margin inside a strip, mm.
const PAD: f64 = 2.0;

pub fn make(facts: &Facts, request: &Request) -> Result<Vec<PaperFile>, String> {
    Ok(vec![pdf_file("labels.pdf", &document(facts, request))?])
}

pub(super) fn document(facts: &Facts, request: &Request) -> Document {
    let title = titled("Label strips", facts, request);
    let mut pieces = Pieces::new(request.paper, STRIP, (&title, &foot(facts, request)));
    for cut in &facts.report.cuts {
        let pairs = facts.pairs(cut);
        let is_fault = facts.findings_at(cut.id).any(|(finding, _)| finding.class == Class::Fault);
        let matches = match (cut.card.is_empty(), is_fault || pairs.is_empty()) {
            (true, _) => "a side is not fed".to_owned(),
            // What must match is no help while it shorts all the same.
            (false, true) => facts.state(cut.id),
            (false, false) => format!("match {}", pairs.join(", or ")),
        };
        strip(&mut pieces, [&format!("Gap {}", facts.gap(cut.id)), &facts.sides(cut), &matches]);
    }
    for feed in facts.layout.feeds.values() {
        let head = format!("Feeder {}", feed.id);
        let from = format!("{} to {}", source(facts, feed.driver), block_of(facts, feed));
        strip(&mut pieces, [&head, &from, &wires(facts, feed)]);
    }
    pieces.done("This layout has no gaps and no feeders, so it needs no labels.")
}

/// "P on the left rail, M on the right rail, seen from joint j1 towards joint j2".
fn wires(facts: &Facts, feed: &Feed) -> String {
    let ends = [("P", feed.p), ("M", feed.m)];
    let ends = ends.into_iter().filter_map(|(terminal, rail)| {
        rail.map(|rail| format!("{terminal} on the {} rail", rail_word(rail)))
    });
    format!("{}, seen {}", ends.collect::<Vec<_>>().join(", "), facts.along(feed.run))
}

/// A strip: what it is, large; what it lies between or joins, beside it; a line below.
fn strip(pieces: &mut Pieces, [head, beside, below]: [&str; 3]) {
    let (x, y) = pieces.place();
    let room = STRIP.0 - 2.0 * PAD;
    let first = first_line(head, Face::Bold, 4.0, room);
    let first = pieces.words((x + PAD, y + 4.6), 4.0, Face::Bold, &first);
    pieces.read(Role::Heading(2, head.to_owned()), vec![first]);
    let lines = [(beside, 8.0), (below, 11.2)].map(|(words, down)| {
        let line = first_line(words, Face::Regular, 2.7, room);
        pieces.words((x + PAD, y + down), 2.7, Face::Regular, &line)
    });
    pieces.read(Role::Paragraph, lines.into());
}
