//! Gap cards: one small card per gap, to cut out and keep at the place.

use super::flow::SMALL;
use super::{Facts, Paper, PaperFile, Request, foot, pdf_file, titled};
use crate::drawing::{
    self, Area, Document, Face, Ink, Node, Page, Placed, Role, Stroke, width_mm, wrap,
};
use crate::findings::{Class, CutReport, Kind, SetWord};

/// Size of a card, mm: that of a business card (ISO 7810 ID-1 is 85.6 × 54).
pub const CARD: (f64, f64) = (85.0, 55.0);
/// Size of the type, mm.
const TYPE: f64 = 2.3;
/// Distance from line to line, mm.
const LEAD: f64 = TYPE * 1.25;
/// Margin inside a card, mm.
const PAD: f64 = 3.0;
/// Length of a cut mark, mm.
const CROP: f64 = 4.0;

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
    let mut sheet = Sheets::new(request.paper, &foot(facts, request), &title);
    for cut in &facts.report.cuts {
        sheet.card(&card(facts, cut));
    }
    sheet.done()
}

/// Pages of cards.
struct Sheets {
    paper: Paper,
    foot: String,
    title: String,
    grid: (usize, usize),
    pages: Vec<Page>,
    cards: usize,
    next: u32,
    order: Vec<Node>,
}

impl Sheets {
    fn new(paper: Paper, foot: &str, title: &str) -> Sheets {
        let across = ((paper.width_mm - 2.0 * CROP) / CARD.0).floor().max(1.0) as usize;
        let down = ((paper.height_mm - 4.0 * CROP) / CARD.1).floor().max(1.0) as usize;
        let (foot, title, grid) = (foot.to_owned(), title.to_owned(), (across, down));
        Sheets { paper, foot, title, grid, pages: Vec::new(), cards: 0, next: 0, order: Vec::new() }
    }

    /// The upper left corner of the next card, on a new page where one is full.
    fn place(&mut self) -> (f64, f64) {
        let (across, down) = self.grid;
        let at = self.cards % (across * down);
        let left = (self.paper.width_mm - across as f64 * CARD.0) / 2.0;
        let top = (self.paper.height_mm - down as f64 * CARD.1) / 2.0;
        if at == 0 {
            let (width_mm, height_mm) = (self.paper.width_mm, self.paper.height_mm);
            let mut page = Page { width_mm, height_mm, shapes: Vec::new() };
            crop_marks(&mut page, (left, top), self.grid);
            let words = format!("{}  ·  page {}", self.foot, self.pages.len() + 1);
            let line = wrap(&words, Face::Regular, SMALL, self.paper.room_mm()).swap_remove(0);
            let y = height_mm - 4.5;
            let shape = drawing::text((left + 6.0, y), SMALL, Face::Regular, &line);
            page.shapes.push(shape.inked(Ink::GREY).plain());
            self.pages.push(page);
        }
        self.cards += 1;
        (left + (at % across) as f64 * CARD.0, top + (at / across) as f64 * CARD.1)
    }

    fn put(&mut self, placed: Placed) {
        if let Some(page) = self.pages.last_mut() {
            page.shapes.push(placed);
        }
    }

    fn words(&mut self, at: (f64, f64), size: f64, face: Face, words: &str) -> Node {
        self.next += 1;
        let mark = self.next;
        self.put(drawing::text(at, size, face, words).marked(mark));
        Node::Leaf(mark)
    }

    /// A card, and more of them where its lines do not fit on one.
    fn card(&mut self, card: &Card) {
        let (mut x, mut y) = self.place();
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
                (x, y) = self.place();
                reached = self.head(card, (x, y), Some(part));
            }
            leaves.push(self.words((x + PAD, reached + TYPE), TYPE, face, &line));
            reached += LEAD;
        }
        self.order.push(Node::Group(Role::Paragraph, leaves));
    }

    /// Number, name and blocks. Returns where to go on.
    fn head(&mut self, card: &Card, (x, y): (f64, f64), part: Option<usize>) -> f64 {
        let room = CARD.0 - 2.0 * PAD;
        let title = match part {
            None => format!("Gap {}", card.gap),
            Some(part) => format!("Gap {} ({part})", card.gap),
        };
        let line = first_line(&title, Face::Bold, 3.9, room);
        let leaf = self.words((x + PAD, y + PAD + 3.4), 3.9, Face::Bold, &line);
        self.order.push(Node::Group(Role::Heading(2, title), vec![leaf]));
        let sides = first_line(&card.sides.join(" | "), Face::Regular, 2.7, room);
        let leaf = self.words((x + PAD, y + PAD + 7.0), 2.7, Face::Regular, &sides);
        self.order.push(Node::Group(Role::Paragraph, vec![leaf]));
        y + PAD + 8.4
    }

    /// Every pair of settings with its verdict. Returns where to go on.
    fn matrix(&mut self, card: &Card, (x, top): (f64, f64)) -> f64 {
        let left = 19.0;
        let wide = (CARD.0 - 2.0 * PAD - left) / card.columns.len().max(1) as f64;
        let high = 3.5;
        let x = x + PAD;
        let corner = first_line(&card.sides[1], Face::Bold, 2.1, CARD.0 - 2.0 * PAD - left);
        let leaf = self.words((x + left + 0.6, top + 2.3), 2.1, Face::Bold, &corner);
        self.order.push(Node::Group(Role::Paragraph, vec![leaf]));
        let top = top + 3.0;
        let mut rows = Vec::new();
        let own = first_line(&card.sides[0], Face::Bold, 2.1, left - 1.0);
        let mut heads = vec![Node::Group(
            Role::HeadCell,
            vec![self.words((x, top + 2.4), 2.1, Face::Bold, &own)],
        )];
        for (at, word) in card.columns.iter().enumerate() {
            let place = (x + left + at as f64 * wide + 0.6, top + 2.4);
            let leaf = self.words(place, 2.1, Face::Regular, word.word());
            heads.push(Node::Group(Role::HeadCell, vec![leaf]));
        }
        rows.push(Node::Group(Role::Row, heads));
        for (at, (word, cells)) in card.rows.iter().zip(&card.cells).enumerate() {
            let y = top + (at + 1) as f64 * high;
            let leaf = self.words((x, y + 2.4), 2.1, Face::Regular, word.word());
            let mut nodes = vec![Node::Group(Role::HeadCell, vec![leaf])];
            for (column, cell) in cells.iter().enumerate() {
                let at = x + left + column as f64 * wide;
                let clear = cell == "clear" || cell.is_empty();
                let area = Area { x: at, y, w: wide, h: high };
                let ground = if clear { None } else { Some(Ink::PALE) };
                let shape = drawing::rect(area, Some(Stroke::solid(0.12, Ink::GREY)), ground);
                self.put(shape.plain());
                let face = if clear { Face::Regular } else { Face::Bold };
                let size = fitting(cell, face, 2.1, wide - 1.0);
                let leaf = self.words((at + 0.6, y + 2.5), size, face, cell);
                nodes.push(Node::Group(Role::Cell, vec![leaf]));
            }
            rows.push(Node::Group(Role::Row, nodes));
        }
        self.order.push(Node::Group(Role::Table, rows));
        top + (card.rows.len() + 1) as f64 * high + 1.2
    }

    fn done(mut self) -> Document {
        if self.pages.is_empty() {
            self.place();
            let at = (self.paper.margin_mm + 8.0, 40.0);
            let leaf = self.words(
                at,
                4.0,
                Face::Regular,
                "This layout has no gaps, so it needs no cards.",
            );
            self.order.push(Node::Group(Role::Paragraph, vec![leaf]));
        }
        Document { title: self.title, pages: self.pages, order: self.order }
    }
}

/// The first line of a text, with dots where there is more.
fn first_line(text: &str, face: Face, size: f64, room: f64) -> String {
    let mut lines = wrap(text, face, size, room);
    if lines.len() < 2 {
        return lines.pop().unwrap_or_default();
    }
    let mut line = wrap(text, face, size, room - width_mm("…", face, size)).swap_remove(0);
    line.push('…');
    line
}

/// The size at which a word fits, at most `size`.
fn fitting(word: &str, face: Face, size: f64, room: f64) -> f64 {
    let wide = width_mm(&drawing::printable(word), face, size);
    if wide <= room { size } else { size * room / wide }
}

/// Marks outside the cards where to cut, and thin lines between them.
fn crop_marks(page: &mut Page, (left, top): (f64, f64), (across, down): (usize, usize)) {
    let stroke = || Stroke::solid(0.15, Ink::BLACK);
    let (right, bottom) = (left + across as f64 * CARD.0, top + down as f64 * CARD.1);
    let thin = || Stroke { width_mm: 0.1, ink: Ink::RULE, dash: vec![1.0, 1.5] };
    for column in 0..=across {
        let x = left + column as f64 * CARD.0;
        for (from, to) in [(top - CROP, top - 0.8), (bottom + 0.8, bottom + CROP)] {
            page.shapes.push(drawing::line((x, from), (x, to), stroke()).plain());
        }
        page.shapes.push(drawing::line((x, top), (x, bottom), thin()).plain());
    }
    for row in 0..=down {
        let y = top + row as f64 * CARD.1;
        for (from, to) in [(left - CROP, left - 0.8), (right + 0.8, right + CROP)] {
            page.shapes.push(drawing::line((from, y), (to, y), stroke()).plain());
        }
        page.shapes.push(drawing::line((left, y), (right, y), thin()).plain());
    }
}
