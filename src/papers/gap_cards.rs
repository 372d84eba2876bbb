//! Gap cards: one small card per gap, to cut out and keep at the place.

use super::pieces::{Pieces, first_line};
use super::{Facts, PaperFile, Request, foot, pdf_file, titled};
use crate::drawing::{self, Area, Document, Face, Ink, Node, Role, Stroke, width_mm, wrap};
use crate::findings::{Class, CutReport, Kind, SetWord};

/// Size of a card, mm: that of a business card (ISO 7810 ID-1 is 85.6 × 54).
pub const CARD: (f64, f64) = (85.0, 55.0);
/// Size of the type, mm.
const TYPE: f64 = 2.3;
/// Distance from line to line, mm.
const LEAD: f64 = TYPE * 1.25;
/// Margin inside a card, mm.
const PAD: f64 = 3.0;

pub fn make(facts: &Facts, request: &Request) -> Result<Vec<PaperFile>, String> {
    Ok(vec![pdf_file("cards.pdf", &document(facts, request))?])
}

/// What stands on a card of a gap: the settings of each side, the verdicts, and lines of text.
pub(super) struct Card {
    /// Number and name of the gap.
    pub gap: String,
    /// Names of the blocks.
    pub sides: [String; 2],
    /// Settings of the first side, one per row.
    pub rows: Vec<SetWord>,
    /// Settings of the second side, one per column.
    pub columns: Vec<SetWord>,
    /// A word per row and column; empty where the pair cannot be.
    pub cells: Vec<Vec<String>>,
    /// Settings that must match before a train crosses.
    pub matches: Vec<String>,
    /// How each train and vehicle passes at the worst of the agreeing settings.
    pub trains: Vec<String>,
}

/// The card of a gap.
pub(super) fn card(facts: &Facts, cut: &CutReport) -> Card {
    let mut rows: Vec<SetWord> = Vec::new();
    let mut columns: Vec<SetWord> = Vec::new();
    for cell in &cut.card {
        if !rows.contains(&cell.a) {
            rows.push(cell.a);
        }
        if !columns.contains(&cell.b) {
            columns.push(cell.b);
        }
    }
    let word = |a: SetWord, b: SetWord| {
        let cell = cut.card.iter().find(|cell| (cell.a, cell.b) == (a, b));
        cell.map_or_else(String::new, |cell| cell.situation.verdict.plain().to_owned())
    };
    let cells = rows.iter().map(|&a| columns.iter().map(|&b| word(a, b)).collect()).collect();
    Card {
        gap: facts.gap(cut.id),
        sides: cut.blocks.map(|id| facts.block(id)),
        cells,
        matches: matches(facts, cut),
        trains: trains(facts, cut),
        rows,
        columns,
    }
}

/// Settings that operators must match at a gap.
fn matches(facts: &Facts, cut: &CutReport) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    if cut.card.is_empty() {
        lines.push("A side is not fed, so nothing is judged here.".to_owned());
    } else {
        let pairs = facts.pairs(cut);
        lines.push(match pairs.is_empty() {
            true => "No pair of settings carries a train through.".to_owned(),
            false => format!("Match: {}.", pairs.join(", or ")),
        });
    }
    let rules = facts.findings_at(cut.id).filter(|(finding, _)| finding.class == Class::Rule);
    for (finding, text) in rules {
        // What must match stands above.
        if finding.kind == Kind::OpposedPolarity {
            continue;
        }
        lines.push(text.says.clone());
        lines.extend(text.advice.iter().cloned());
    }
    let faults = facts.findings_at(cut.id).filter(|(finding, _)| finding.class == Class::Fault);
    lines.extend(faults.map(|(_, text)| format!("Fault: {}", text.says)));
    lines
}

/// How each train and vehicle passes where the settings agree.
fn trains(facts: &Facts, cut: &CutReport) -> Vec<String> {
    let told = cut.passes_agree.iter().map(|pass| {
        let who = match (pass.train, pass.vehicle) {
            (Some(train), _) => facts.thing(train),
            (None, Some(vehicle)) => facts.thing(vehicle),
            (None, None) => "any engine".to_owned(),
        };
        format!("{who}: {}", pass.verdict.plain())
    });
    let mut lines: Vec<String> = told.collect();
    lines.dedup();
    lines
}

pub(super) fn document(facts: &Facts, request: &Request) -> Document {
    let title = titled("Gap cards", facts, request);
    let pieces = Pieces::new(request.paper, CARD, (&title, &foot(facts, request)));
    let mut cards = Cards { pieces };
    for cut in &facts.report.cuts {
        cards.card(&card(facts, cut));
    }
    cards.pieces.done("This layout has no gaps, so it needs no cards.")
}

/// Cards as they are laid out.
struct Cards {
    pieces: Pieces,
}

impl Cards {
    /// A card, and more of them where its lines do not fit on one.
    fn card(&mut self, card: &Card) {
        let (mut x, mut y) = self.pieces.place();
        let wide = CARD.0 - 2.0 * PAD;
        let room = wide - 2.0;
        let mut lines: Vec<(Face, String)> = Vec::new();
        for text in &card.matches {
            let wrapped = wrap(text, Face::Regular, TYPE, room);
            lines.extend(wrapped.into_iter().map(|line| (Face::Regular, line)));
        }
        if !card.trains.is_empty() {
            lines.push((Face::Bold, "Where settings agree:".to_owned()));
            let text = card.trains.join("; ");
            let wrapped = wrap(&text, Face::Regular, TYPE, room);
            lines.extend(wrapped.into_iter().map(|line| (Face::Regular, line)));
        }
        let mut reached = self.head(card, (x, y), None);
        if !card.cells.is_empty() {
            reached = self.matrix(card, (x, reached));
        }
        let mut leaves = Vec::new();
        let mut part = 1;
        for (face, line) in lines {
            if reached + LEAD > y + CARD.1 - PAD {
                part += 1;
                (x, y) = self.pieces.place();
                reached = self.head(card, (x, y), Some(part));
            }
            leaves.push(self.pieces.words((x + PAD, reached + TYPE), TYPE, face, &line));
            reached += LEAD;
        }
        self.pieces.read(Role::Paragraph, leaves);
    }

    /// Number, name and blocks. Returns where to go on.
    fn head(&mut self, card: &Card, (x, y): (f64, f64), part: Option<usize>) -> f64 {
        let room = CARD.0 - 2.0 * PAD;
        let title = match part {
            None => format!("Gap {}", card.gap),
            Some(part) => format!("Gap {} ({part})", card.gap),
        };
        let line = first_line(&title, Face::Bold, 3.9, room);
        let leaf = self.pieces.words((x + PAD, y + PAD + 3.4), 3.9, Face::Bold, &line);
        self.pieces.read(Role::Heading(2, title), vec![leaf]);
        let sides = first_line(&card.sides.join(" | "), Face::Regular, 2.7, room);
        let leaf = self.pieces.words((x + PAD, y + PAD + 7.0), 2.7, Face::Regular, &sides);
        self.pieces.read(Role::Paragraph, vec![leaf]);
        y + PAD + 8.4
    }

    /// Every pair of settings with its verdict. Returns where to go on.
    fn matrix(&mut self, card: &Card, (x, top): (f64, f64)) -> f64 {
        let left = 19.0;
        let wide = (CARD.0 - 2.0 * PAD - left) / card.columns.len().max(1) as f64;
        let high = 3.5;
        let x = x + PAD;
        let corner = first_line(&card.sides[1], Face::Bold, 2.1, CARD.0 - 2.0 * PAD - left);
        let leaf = self.pieces.words((x + left + 0.6, top + 2.3), 2.1, Face::Bold, &corner);
        self.pieces.read(Role::Paragraph, vec![leaf]);
        let top = top + 3.0;
        let mut rows = Vec::new();
        let own = first_line(&card.sides[0], Face::Bold, 2.1, left - 1.0);
        let mut heads = vec![Node::Group(
            Role::HeadCell,
            vec![self.pieces.words((x, top + 2.4), 2.1, Face::Bold, &own)],
        )];
        for (at, word) in card.columns.iter().enumerate() {
            let place = (x + left + at as f64 * wide + 0.6, top + 2.4);
            let leaf = self.pieces.words(place, 2.1, Face::Regular, word.word());
            heads.push(Node::Group(Role::HeadCell, vec![leaf]));
        }
        rows.push(Node::Group(Role::Row, heads));
        for (at, (word, cells)) in card.rows.iter().zip(&card.cells).enumerate() {
            let y = top + (at + 1) as f64 * high;
            let leaf = self.pieces.words((x, y + 2.4), 2.1, Face::Regular, word.word());
            let mut nodes = vec![Node::Group(Role::HeadCell, vec![leaf])];
            for (column, cell) in cells.iter().enumerate() {
                let at = x + left + column as f64 * wide;
                let clear = cell == "clear" || cell.is_empty();
                let area = Area { x: at, y, w: wide, h: high };
                let ground = if clear { None } else { Some(Ink::PALE) };
                let shape = drawing::rect(area, Some(Stroke::solid(0.12, Ink::GREY)), ground);
                self.pieces.put(shape.plain());
                let face = if clear { Face::Regular } else { Face::Bold };
                let size = fitting(cell, face, 2.1, wide - 1.0);
                let leaf = self.pieces.words((at + 0.6, y + 2.5), size, face, cell);
                nodes.push(Node::Group(Role::Cell, vec![leaf]));
            }
            rows.push(Node::Group(Role::Row, nodes));
        }
        self.pieces.read(Role::Table, rows);
        top + (card.rows.len() + 1) as f64 * high + 1.2
    }
}

/// The size at which a word fits, at most `size`.
fn fitting(word: &str, face: Face, size: f64, room: f64) -> f64 {
    let wide = width_mm(&drawing::printable(word), face, size);
    if wide <= room { size } else { size * room / wide }
}
