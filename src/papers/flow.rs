//! Headings, paragraphs, lists and tables, laid out from page to page.

use super::paper::Paper;
use super::table::{self, Table};
use crate::drawing::{
    self, Area, Document, Face, Ink, Mark, Node, Page, Placed, Role, Shape, Stroke, width_mm, wrap,
};
use crate::findings::Caution;

/// Size of the type of text, mm (9 points).
pub const TEXT: f64 = 3.2;
/// Size of the type of what stands small, mm.
pub const SMALL: f64 = 2.7;
/// Distance from line to line, as a multiple of the size.
const LEAD: f64 = 1.32;
/// Room at the foot of a page for its number, mm.
const FOOT: f64 = 9.0;

/// A document that grows downwards and goes on on a new page where one is full.
pub struct Flow {
    paper: Paper,
    title: String,
    foot: String,
    pages: Vec<Vec<Placed>>,
    y: f64,
    next: Mark,
    order: Vec<Node>,
}

impl Flow {
    /// A document with its title at the head. `foot` stands at the foot of every page.
    pub fn new(paper: Paper, title: &str, foot: &str) -> Flow {
        let mut flow = Flow {
            paper,
            title: title.to_owned(),
            foot: foot.to_owned(),
            pages: vec![Vec::new()],
            y: paper.margin_mm,
            next: 0,
            order: Vec::new(),
        };
        flow.heading(1, title);
        flow
    }

    /// The size of its pages.
    pub fn paper(&self) -> Paper {
        self.paper
    }

    /// Height between here and the foot of the page, mm.
    pub fn room_mm(&self) -> f64 {
        self.paper.height_mm - self.paper.margin_mm - FOOT - self.y
    }

    /// Height of a page for what stands on it, mm.
    pub fn whole_mm(&self) -> f64 {
        self.paper.height_mm - 2.0 * self.paper.margin_mm - FOOT
    }

    /// Left end and upper edge of the next thing, mm.
    pub fn at(&self) -> (f64, f64) {
        (self.paper.margin_mm, self.y)
    }

    /// A new page, unless this one is empty.
    pub fn turn(&mut self) {
        if self.y > self.paper.margin_mm {
            self.pages.push(Vec::new());
            self.y = self.paper.margin_mm;
        }
    }

    /// A new page where less than so much is left, mm.
    pub fn need(&mut self, mm: f64) {
        if self.room_mm() < mm {
            self.turn();
        }
    }

    /// Room, mm.
    pub fn space(&mut self, mm: f64) {
        if self.y > self.paper.margin_mm {
            self.y += mm;
        }
    }

    /// A heading of a level from 1 to 3. Something fits under it.
    pub fn heading(&mut self, level: u16, words: &str) {
        let size = match level {
            1 => 5.6,
            2 => 4.2,
            _ => TEXT,
        };
        self.space(if level == 1 { 0.0 } else { size * 0.9 });
        self.need(size * LEAD + 4.0 * TEXT * LEAD);
        let leaves = self.lines(words, Face::Bold, size, self.paper.room_mm(), 0.0, Ink::BLACK);
        self.order.push(Node::Group(Role::Heading(level, words.to_owned()), leaves));
        self.space(size * 0.25);
    }

    /// A paragraph.
    pub fn paragraph(&mut self, words: &str) {
        let leaves = self.lines(words, Face::Regular, TEXT, self.paper.room_mm(), 0.0, Ink::BLACK);
        self.order.push(Node::Group(Role::Paragraph, leaves));
        self.space(TEXT * 0.5);
    }

    /// A paragraph that stands back.
    pub fn aside(&mut self, words: &str) {
        let leaves = self.lines(words, Face::Regular, SMALL, self.paper.room_mm(), 0.0, Ink::GREY);
        self.order.push(Node::Group(Role::Paragraph, leaves));
        self.space(SMALL * 0.5);
    }

    /// A list; each item with a dash, or with a box to tick.
    pub fn list<S: AsRef<str>>(&mut self, items: &[S], boxes: bool) {
        let indent = if boxes { 6.0 } else { 4.0 };
        let mut nodes = Vec::new();
        for item in items {
            self.need(TEXT * LEAD);
            let (x, y) = self.at();
            let here = self.pages.len();
            let sign = if boxes {
                tick_box((x, y + TEXT * 0.18), TEXT)
            } else {
                drawing::text((x, y + TEXT), TEXT, Face::Regular, "–")
            };
            let room = self.paper.room_mm() - indent;
            let leaves = self.lines(item.as_ref(), Face::Regular, TEXT, room, indent, Ink::BLACK);
            if let Some(page) = self.pages.get_mut(here - 1) {
                page.push(sign.plain());
            }
            nodes.push(Node::Group(Role::Item, leaves));
            self.space(TEXT * 0.25);
        }
        if !nodes.is_empty() {
            self.order.push(Node::Group(Role::List, nodes));
        }
        self.space(TEXT * 0.4);
    }

    /// What to mind, framed.
    pub fn cautions(&mut self, cautions: &[Caution]) {
        let lines: Vec<&str> = cautions.iter().map(|caution| caution.line()).collect();
        if lines.is_empty() {
            return;
        }
        let room = self.paper.room_mm() - 10.0;
        let count: usize = lines.iter().map(|l| wrap(l, Face::Regular, TEXT, room).len()).sum();
        let high = TEXT * (LEAD * (count as f64 + 1.0) + 0.25 * lines.len() as f64) + 3.4;
        self.need(high);
        let (x, y) = self.at();
        let area = Area { x, y, w: self.paper.room_mm(), h: high };
        self.decorate(drawing::rect(area, Some(Stroke::solid(0.4, Ink::BLACK)), None));
        self.decorate(warning_sign((x + 2.2, y + 1.9), TEXT));
        self.y += 2.0;
        let inner = self.paper.room_mm() - 8.0;
        let leaves = self.lines("Take care", Face::Bold, TEXT, inner, 7.0, Ink::BLACK);
        self.order.push(Node::Group(Role::Paragraph, leaves));
        let mut nodes = Vec::new();
        for line in lines {
            let dash = drawing::text((x + 2.5, self.y + TEXT), TEXT, Face::Regular, "–");
            self.decorate(dash);
            let leaves = self.lines(line, Face::Regular, TEXT, room, 7.0, Ink::BLACK);
            nodes.push(Node::Group(Role::Item, leaves));
            self.y += TEXT * 0.25;
        }
        self.order.push(Node::Group(Role::List, nodes));
        self.y = y + high;
        self.space(TEXT);
    }

    /// A table. Its head stands again on each page.
    pub fn table(&mut self, table: &Table) {
        table::lay(self, table);
    }

    /// A picture of a height, mm, made at its place; `words` say what it shows.
    pub fn figure(&mut self, words: &str, high: f64, shapes: impl FnOnce(f64, f64) -> Vec<Placed>) {
        self.need(high);
        let (x, y) = self.at();
        let mark = self.mark();
        let placed = shapes(x, y).into_iter().map(|placed| Placed { mark: Some(mark), ..placed });
        let placed: Vec<Placed> = placed.collect();
        self.page().extend(placed);
        self.order.push(Node::Group(Role::Figure(words.to_owned()), vec![Node::Leaf(mark)]));
        self.y += high;
    }

    /// Lines of a text from here down, `indent` mm from the margin. Returns their places in the reading order.
    fn lines(
        &mut self,
        words: &str,
        face: Face,
        size: f64,
        width: f64,
        indent: f64,
        ink: Ink,
    ) -> Vec<Node> {
        let mark = self.mark();
        for line in wrap(words, face, size, width) {
            self.need(size * LEAD);
            let at = (self.paper.margin_mm + indent, self.y + size);
            let shape = drawing::text(at, size, face, &line).inked(ink);
            self.page().push(shape.marked(mark));
            self.y += size * LEAD;
        }
        vec![Node::Leaf(mark)]
    }

    pub(super) fn mark(&mut self) -> Mark {
        self.next += 1;
        self.next
    }

    pub(super) fn page(&mut self) -> &mut Vec<Placed> {
        if self.pages.is_empty() {
            self.pages.push(Vec::new());
        }
        let last = self.pages.len() - 1;
        &mut self.pages[last]
    }

    pub(super) fn decorate(&mut self, shape: Shape) {
        self.page().push(shape.plain());
    }

    pub(super) fn down(&mut self, mm: f64) {
        self.y += mm;
    }

    pub(super) fn tell(&mut self, node: Node) {
        self.order.push(node);
    }

    /// The document, with the number of each page at its foot.
    pub fn done(self) -> Document {
        let paper = self.paper;
        let count = self.pages.len();
        let y = paper.height_mm - paper.margin_mm;
        let pages = self.pages.into_iter().enumerate().map(|(at, mut shapes)| {
            let number = format!("{} of {count}", at + 1);
            let wide = width_mm(&number, Face::Regular, SMALL);
            let right = paper.width_mm - paper.margin_mm - wide;
            let rule = Stroke::solid(0.2, Ink::RULE);
            let ends = ((paper.margin_mm, y - 4.2), (paper.width_mm - paper.margin_mm, y - 4.2));
            shapes.push(drawing::line(ends.0, ends.1, rule).plain());
            let room = right - paper.margin_mm - 3.0;
            let foot = wrap(&self.foot, Face::Regular, SMALL, room).swap_remove(0);
            for (x, words) in [(paper.margin_mm, foot), (right, number)] {
                let shape = drawing::text((x, y), SMALL, Face::Regular, &words).inked(Ink::GREY);
                shapes.push(shape.plain());
            }
            Page { width_mm: paper.width_mm, height_mm: paper.height_mm, shapes }
        });
        Document { title: self.title, pages: pages.collect(), order: self.order }
    }
}

/// A box to tick, its upper left corner at a point.
pub fn tick_box((x, y): (f64, f64), size: f64) -> Shape {
    let area = Area { x, y, w: size, h: size };
    drawing::rect(area, Some(Stroke::solid(0.3, Ink::BLACK)), None)
}

/// A triangle with a stroke in it, its upper left corner at a point.
fn warning_sign((x, y): (f64, f64), size: f64) -> Shape {
    let (w, h) = (size * 1.15, size);
    let steps = vec![
        drawing::Step::Move(x + w / 2.0, y),
        drawing::Step::Line(x + w, y + h),
        drawing::Step::Line(x, y + h),
        drawing::Step::Close,
        drawing::Step::Move(x + w / 2.0, y + h * 0.35),
        drawing::Step::Line(x + w / 2.0, y + h * 0.85),
    ];
    Shape::Path { steps, stroke: Some(Stroke::solid(0.35, Ink::BLACK)), fill: None }
}
