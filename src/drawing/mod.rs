//! One description of a drawing: shapes in millimetres, written as SVG, PDF and PNG.
//!
//! A [`Page`] holds shapes, x to the right and y downwards from its upper left corner. A [`Document`] holds pages and their
//! reading order as a tree: each [`Mark`] of a shape stands once in that tree; a shape without a mark is decoration.

mod face;
mod pdf;
mod png;
mod svg;
mod wrap;

pub use face::{Face, printable, width_mm};
pub use pdf::pdf;
pub use png::png;
pub use svg::{escaped, svg, svg_fragment};
pub use wrap::wrap;

/// Number of a shape in the reading order of its document.
pub type Mark = u32;

/// A colour: red, green, blue.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ink(pub u8, pub u8, pub u8);

impl Ink {
    /// Black.
    pub const BLACK: Ink = Ink(0, 0, 0);
    /// A grey for what stands behind; dark enough to read.
    pub const GREY: Ink = Ink(90, 90, 90);
    /// A grey for rules and marks.
    pub const RULE: Ink = Ink(150, 150, 150);
    /// A grey for grounds.
    pub const PALE: Ink = Ink(232, 232, 232);
    /// White.
    pub const WHITE: Ink = Ink(255, 255, 255);
}

/// A part of a path, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// Begins at a point.
    Move(f64, f64),
    /// A straight line to a point.
    Line(f64, f64),
    /// Back to where it began.
    Close,
}

/// Stroke of a path.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroke {
    /// Width, mm.
    pub width_mm: f64,
    /// Colour.
    pub ink: Ink,
    /// Lengths of dashes and of gaps between them, mm, in turn. Empty: no dashes.
    pub dash: Vec<f64>,
}

impl Stroke {
    /// A line without dashes.
    pub fn solid(width_mm: f64, ink: Ink) -> Stroke {
        Stroke { width_mm, ink, dash: Vec::new() }
    }
}

/// A text on one line.
#[derive(Debug, Clone, PartialEq)]
pub struct Text {
    /// Left end, mm.
    pub x_mm: f64,
    /// Base line, mm.
    pub y_mm: f64,
    /// Size of the type, mm.
    pub size_mm: f64,
    /// Face.
    pub face: Face,
    /// Colour.
    pub ink: Ink,
    /// The text, in characters that the faces have. See [`printable`].
    pub text: String,
}

/// A shape.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A path that is stroked, filled, or both.
    Path {
        /// Its parts.
        steps: Vec<Step>,
        /// Its stroke.
        stroke: Option<Stroke>,
        /// Its fill.
        fill: Option<Ink>,
    },
    /// A text.
    Text(Text),
    /// Shapes of which only what is within a window is drawn. Their own marks do not count.
    Window {
        /// The window.
        window: Area,
        /// The shapes.
        shapes: Vec<Placed>,
    },
}

/// A rectangle, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    /// Left side.
    pub x: f64,
    /// Upper side.
    pub y: f64,
    /// Width.
    pub w: f64,
    /// Height.
    pub h: f64,
}

impl Area {
    /// True if two rectangles have a point in common.
    pub fn meets(&self, other: &Area) -> bool {
        self.x <= other.x + other.w
            && other.x <= self.x + self.w
            && self.y <= other.y + other.h
            && other.y <= self.y + self.h
    }

    /// The rectangle, larger by so much on each side.
    pub fn grown(&self, by: f64) -> Area {
        Area { x: self.x - by, y: self.y - by, w: self.w + 2.0 * by, h: self.h + 2.0 * by }
    }
}

/// A shape on a page.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// The shape.
    pub shape: Shape,
    /// Its place in the reading order; `None` for decoration.
    pub mark: Option<Mark>,
}

/// A page.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
    /// Its shapes; a later one lies over an earlier one.
    pub shapes: Vec<Placed>,
}

/// The part that a piece of a document plays for a reader.
#[derive(Debug, Clone, PartialEq)]
pub enum Role {
    /// A heading of a level, counted from 1, with its text.
    Heading(u16, String),
    /// A paragraph.
    Paragraph,
    /// A table.
    Table,
    /// A row of a table.
    Row,
    /// A cell at the head of a column.
    HeadCell,
    /// A cell.
    Cell,
    /// A list.
    List,
    /// An item of a list.
    Item,
    /// A picture, in words.
    Figure(String),
}

/// A node of the reading order.
#[derive(Debug, Clone, PartialEq)]
pub enum Node {
    /// Nodes that are one thing.
    Group(Role, Vec<Node>),
    /// The shapes with a mark.
    Leaf(Mark),
}

/// Pages with their reading order.
#[derive(Debug, Clone, PartialEq)]
pub struct Document {
    /// Title.
    pub title: String,
    /// Pages.
    pub pages: Vec<Page>,
    /// Reading order.
    pub order: Vec<Node>,
}

/// A straight line.
pub fn line(from: (f64, f64), to: (f64, f64), stroke: Stroke) -> Shape {
    polyline(&[from, to], stroke)
}

/// A line through points.
pub fn polyline(points: &[(f64, f64)], stroke: Stroke) -> Shape {
    let steps = points.iter().enumerate().map(|(at, &(x, y))| match at {
        0 => Step::Move(x, y),
        _ => Step::Line(x, y),
    });
    Shape::Path { steps: steps.collect(), stroke: Some(stroke), fill: None }
}

/// A rectangle.
pub fn rect(area: Area, stroke: Option<Stroke>, fill: Option<Ink>) -> Shape {
    let Area { x, y, w, h } = area;
    polygon(&[(x, y), (x + w, y), (x + w, y + h), (x, y + h)], stroke, fill)
}

/// A closed shape through points.
pub fn polygon(points: &[(f64, f64)], stroke: Option<Stroke>, fill: Option<Ink>) -> Shape {
    let mut steps: Vec<Step> = Vec::with_capacity(points.len() + 1);
    for &(x, y) in points {
        steps.push(if steps.is_empty() { Step::Move(x, y) } else { Step::Line(x, y) });
    }
    steps.push(Step::Close);
    Shape::Path { steps, stroke, fill }
}

/// A text with its left end and base line at a point. Characters that the faces lack are written as their numbers.
pub fn text(at: (f64, f64), size_mm: f64, face: Face, text: &str) -> Shape {
    let text = printable(text).into_owned();
    Shape::Text(Text { x_mm: at.0, y_mm: at.1, size_mm, face, ink: Ink::BLACK, text })
}

impl Shape {
    /// The rectangle around it, without the width of strokes; `None` for an empty path.
    pub fn bounds(&self) -> Option<Area> {
        match self {
            Shape::Path { steps, .. } => {
                let points = steps.iter().filter_map(|step| match *step {
                    Step::Move(x, y) | Step::Line(x, y) => Some((x, y)),
                    Step::Close => None,
                });
                around(points)
            }
            Shape::Text(text) => Some(Area {
                x: text.x_mm,
                y: text.y_mm - text.size_mm,
                w: width_mm(&text.text, text.face, text.size_mm),
                h: text.size_mm * 1.3,
            }),
            Shape::Window { window, .. } => Some(*window),
        }
    }

    /// The same in another colour; a path keeps its fill.
    pub fn inked(mut self, ink: Ink) -> Shape {
        match &mut self {
            Shape::Text(text) => text.ink = ink,
            Shape::Path { stroke: Some(stroke), .. } => stroke.ink = ink,
            Shape::Path { .. } | Shape::Window { .. } => {}
        }
        self
    }

    /// The same at another place, so many mm to the right and downwards.
    pub fn moved(&self, dx: f64, dy: f64) -> Shape {
        let step = |step: &Step| match *step {
            Step::Move(x, y) => Step::Move(x + dx, y + dy),
            Step::Line(x, y) => Step::Line(x + dx, y + dy),
            Step::Close => Step::Close,
        };
        match self {
            Shape::Path { steps, stroke, fill } => Shape::Path {
                steps: steps.iter().map(step).collect(),
                stroke: stroke.clone(),
                fill: *fill,
            },
            Shape::Text(text) => {
                Shape::Text(Text { x_mm: text.x_mm + dx, y_mm: text.y_mm + dy, ..text.clone() })
            }
            Shape::Window { window, shapes } => Shape::Window {
                window: Area { x: window.x + dx, y: window.y + dy, ..*window },
                shapes: shapes
                    .iter()
                    .map(|placed| Placed { shape: placed.shape.moved(dx, dy), mark: placed.mark })
                    .collect(),
            },
        }
    }

    /// Decoration.
    pub fn plain(self) -> Placed {
        Placed { shape: self, mark: None }
    }

    /// With a place in the reading order.
    pub fn marked(self, mark: Mark) -> Placed {
        Placed { shape: self, mark: Some(mark) }
    }
}

/// The rectangle around points; `None` without any.
pub fn around(points: impl IntoIterator<Item = (f64, f64)>) -> Option<Area> {
    let mut ends: Option<[f64; 4]> = None;
    for (x, y) in points {
        let [left, top, right, bottom] = ends.unwrap_or([x, y, x, y]);
        ends = Some([left.min(x), top.min(y), right.max(x), bottom.max(y)]);
    }
    ends.map(|[x, y, right, bottom]| Area { x, y, w: right - x, h: bottom - y })
}
