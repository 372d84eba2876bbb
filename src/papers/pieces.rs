//! Pages of small pieces of one size to cut out, with cut marks outside them.

use super::Paper;
use super::flow::SMALL;
use crate::drawing::{self, Document, Face, Ink, Node, Page, Placed, Role, Stroke, width_mm, wrap};

/// Length of a cut mark, mm.
const CROP: f64 = 4.0;

/// Pages of pieces.
pub struct Pieces {
    paper: Paper,
    foot: String,
    title: String,
    /// Width and height of a piece, mm.
    size: (f64, f64),
    grid: (usize, usize),
    pages: Vec<Page>,
    placed: usize,
    next: u32,
    order: Vec<Node>,
}

impl Pieces {
    /// No pieces yet, each to be of a size in mm.
    pub fn new(paper: Paper, size: (f64, f64), (title, foot): (&str, &str)) -> Pieces {
        let across = ((paper.width_mm - 2.0 * CROP) / size.0).floor().max(1.0) as usize;
        let down = ((paper.height_mm - 4.0 * CROP) / size.1).floor().max(1.0) as usize;
        Pieces {
            paper,
            foot: foot.to_owned(),
            title: title.to_owned(),
            size,
            grid: (across, down),
            pages: Vec::new(),
            placed: 0,
            next: 0,
            order: Vec::new(),
        }
    }

    /// The upper left corner of the next piece, mm; on a new page where one is full.
    pub fn place(&mut self) -> (f64, f64) {
        let (across, down) = self.grid;
        let at = self.placed % (across * down);
        let left = (self.paper.width_mm - across as f64 * self.size.0) / 2.0;
        let top = (self.paper.height_mm - down as f64 * self.size.1) / 2.0;
        if at == 0 {
            let (width_mm, height_mm) = (self.paper.width_mm, self.paper.height_mm);
            let mut page = Page { width_mm, height_mm, shapes: Vec::new() };
            self.cut_marks(&mut page, (left, top));
            let words = format!("{}  ·  page {}", self.foot, self.pages.len() + 1);
            let line = wrap(&words, Face::Regular, SMALL, self.paper.room_mm()).swap_remove(0);
            let y = height_mm - 4.5;
            let shape = drawing::text((left + 6.0, y), SMALL, Face::Regular, &line);
            page.shapes.push(shape.inked(Ink::GREY).plain());
            self.pages.push(page);
        }
        self.placed += 1;
        (left + (at % across) as f64 * self.size.0, top + (at / across) as f64 * self.size.1)
    }

    /// Draws a shape on the page of the last piece.
    pub fn put(&mut self, placed: Placed) {
        if let Some(page) = self.pages.last_mut() {
            page.shapes.push(placed);
        }
    }

    /// Writes a line of words, as a leaf for the reading order.
    pub fn words(&mut self, at: (f64, f64), size: f64, face: Face, words: &str) -> Node {
        self.next += 1;
        let mark = self.next;
        self.put(drawing::text(at, size, face, words).marked(mark));
        Node::Leaf(mark)
    }

    /// Adds to the reading order.
    pub fn read(&mut self, role: Role, nodes: Vec<Node>) {
        self.order.push(Node::Group(role, nodes));
    }

    /// The document; `none` is what it says without any piece.
    pub fn done(mut self, none: &str) -> Document {
        if self.pages.is_empty() {
            self.place();
            let at = (self.paper.margin_mm + 8.0, 40.0);
            let leaf = self.words(at, 4.0, Face::Regular, none);
            self.read(Role::Paragraph, vec![leaf]);
        }
        Document { title: self.title, pages: self.pages, order: self.order }
    }

    /// Marks outside the pieces where to cut, and thin lines between them.
    fn cut_marks(&self, page: &mut Page, (left, top): (f64, f64)) {
        let (across, down) = self.grid;
        let (wide, high) = self.size;
        let stroke = || Stroke::solid(0.15, Ink::BLACK);
        let (right, bottom) = (left + across as f64 * wide, top + down as f64 * high);
        let thin = || Stroke { width_mm: 0.1, ink: Ink::RULE, dash: vec![1.0, 1.5] };
        for column in 0..=across {
            let x = left + column as f64 * wide;
            for (from, to) in [(top - CROP, top - 0.8), (bottom + 0.8, bottom + CROP)] {
                page.shapes.push(drawing::line((x, from), (x, to), stroke()).plain());
            }
            page.shapes.push(drawing::line((x, top), (x, bottom), thin()).plain());
        }
        for row in 0..=down {
            let y = top + row as f64 * high;
            for (from, to) in [(left - CROP, left - 0.8), (right + 0.8, right + CROP)] {
                page.shapes.push(drawing::line((from, y), (to, y), stroke()).plain());
            }
            page.shapes.push(drawing::line((left, y), (right, y), thin()).plain());
        }
    }
}

/// The first line of a text, with dots where there is more.
pub fn first_line(text: &str, face: Face, size: f64, room: f64) -> String {
    let mut lines = wrap(text, face, size, room);
    if lines.len() < 2 {
        return lines.pop().unwrap_or_default();
    }
    let mut line = wrap(text, face, size, room - width_mm("…", face, size)).swap_remove(0);
    line.push('…');
    line
}
