//! Tables: columns as wide as their content asks for, rows that stay whole where they fit on a page.

use super::flow::{Flow, tick_box};
use crate::drawing::{self, Area, Face, Ink, Node, Role, Shape, Stroke, width_mm, wrap};

/// Size of the type, mm.
const SIZE: f64 = 2.9;
/// Distance from line to line, mm.
const LEAD: f64 = SIZE * 1.28;
/// Room inside a cell, mm: at its sides, above and below.
const PAD: (f64, f64) = (1.2, 0.9);

/// A cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// A text.
    Text(String),
    /// A text that stands out.
    Strong(String),
    /// A box to tick.
    Box,
    /// Room to write in, mm wide.
    Blank(f64),
}

impl From<String> for Cell {
    fn from(text: String) -> Cell {
        Cell::Text(text)
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Cell {
        Cell::Text(text.to_owned())
    }
}

impl Cell {
    /// The text as a spreadsheet gets it.
    pub fn plain(&self) -> &str {
        match self {
            Cell::Text(text) | Cell::Strong(text) => text,
            Cell::Box | Cell::Blank(_) => "",
        }
    }

    fn face(&self) -> Face {
        match self {
            Cell::Strong(_) => Face::Bold,
            Cell::Text(_) | Cell::Box | Cell::Blank(_) => Face::Regular,
        }
    }

    /// Width without a break, and with a break at every space, mm.
    fn widths(&self) -> (f64, f64) {
        match self {
            Cell::Box => (SIZE, SIZE),
            Cell::Blank(mm) => (*mm, *mm),
            Cell::Text(text) | Cell::Strong(text) => {
                let text = crate::units::bound(&drawing::printable(text));
                let wide = |text: &str| width_mm(text, self.face(), SIZE);
                (wide(&text), text.split(' ').map(wide).fold(0.0, f64::max))
            }
        }
    }

    fn lines(&self, width: f64) -> Vec<String> {
        match self {
            Cell::Box | Cell::Blank(_) => vec![String::new()],
            Cell::Text(text) | Cell::Strong(text) => wrap(text, self.face(), SIZE, width),
        }
    }
}

/// A table.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Table {
    /// Heads of the columns.
    pub heads: Vec<String>,
    /// Rows; each has a cell per column.
    pub rows: Vec<Vec<Cell>>,
}

impl Table {
    /// A table without rows.
    pub fn new(heads: &[&str]) -> Table {
        Table { heads: heads.iter().map(|head| (*head).to_owned()).collect(), rows: Vec::new() }
    }

    /// One more row.
    pub fn row(&mut self, cells: impl IntoIterator<Item = Cell>) {
        self.rows.push(cells.into_iter().collect());
    }

    /// Columns that are not only ticked or written in by hand.
    pub fn written(&self) -> Vec<usize> {
        let by_hand = |at: usize| {
            let is = |row: &Vec<Cell>| matches!(row.get(at), Some(Cell::Box | Cell::Blank(_)));
            !self.rows.is_empty() && self.rows.iter().all(is)
        };
        (0..self.heads.len()).filter(|at| !by_hand(*at)).collect()
    }

    /// The table as comma-separated values, without columns that are filled in by hand. A cell that a spreadsheet would take for a
    /// formula begins with an apostrophe.
    pub fn csv(&self) -> Vec<u8> {
        let columns = self.written();
        let mut writer = csv::Writer::from_writer(Vec::new());
        let heads = columns.iter().map(|&at| harmless(&self.heads[at]));
        // Writing to a list of bytes cannot fail, and all rows are of one length.
        let _ = writer.write_record(heads);
        for row in &self.rows {
            let cells = columns.iter().map(|&at| row.get(at).map_or("", Cell::plain));
            let _ = writer.write_record(cells.map(harmless));
        }
        writer.into_inner().unwrap_or_default()
    }
}

/// A text that no spreadsheet takes for a formula, on one line.
fn harmless(text: &str) -> String {
    let text = crate::layout::shown(text);
    let number = text.parse::<f64>().is_ok();
    match text.chars().next() {
        Some('=' | '+' | '-' | '@') if !number => format!("'{text}"),
        _ => text.into_owned(),
    }
}

/// Widths of the columns, mm: what their content asks for, and less where that is too much.
fn widths(table: &Table, room: f64) -> Vec<f64> {
    let columns = table.heads.len();
    let mut whole = vec![0.0_f64; columns];
    let mut least = vec![0.0_f64; columns];
    let heads = table.heads.iter().map(|head| Cell::Strong(head.clone())).collect::<Vec<_>>();
    for row in std::iter::once(&heads).chain(&table.rows) {
        for (at, cell) in row.iter().take(columns).enumerate() {
            let (wide, narrow) = cell.widths();
            // A head may be broken more often than what stands under it.
            let is_head = std::ptr::eq(row, &heads);
            whole[at] = whole[at].max(if is_head { narrow.max(wide * 0.6) } else { wide });
            least[at] = least[at].max(narrow);
        }
    }
    let pads = 2.0 * PAD.0 * columns as f64;
    let room = (room - pads).max(1.0);
    let (asked, needed): (f64, f64) = (whole.iter().sum(), least.iter().sum());
    let inner: Vec<f64> = if asked <= room {
        // The rest goes to columns of text, as they ask.
        let spare = (room - asked) / asked.max(1.0);
        whole.iter().map(|w| w * (1.0 + spare.min(0.35))).collect()
    } else if needed <= room {
        let share = (room - needed) / (asked - needed).max(1e-9);
        whole.iter().zip(&least).map(|(w, l)| l + (w - l) * share).collect()
    } else {
        // Even single words are too wide: long ones give way first.
        let most = level(&least, room);
        least.iter().map(|l| l.min(most)).collect()
    };
    inner.iter().map(|w| w + 2.0 * PAD.0).collect()
}

/// The width to which wide columns come down so that all fit.
fn level(least: &[f64], room: f64) -> f64 {
    let (mut low, mut high) = (0.0, room);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if least.iter().map(|l| l.min(middle)).sum::<f64>() <= room {
            low = middle;
        } else {
            high = middle;
        }
    }
    low.max(1.0)
}

/// Lays a table into a flow.
pub(super) fn lay(flow: &mut Flow, table: &Table) {
    let widths = widths(table, flow.paper().room_mm());
    let heads: Vec<Cell> = table.heads.iter().map(|head| Cell::Strong(head.clone())).collect();
    let mut rows = Vec::new();
    let first = table.rows.first().map_or(0.0, |row| high(row, &widths));
    flow.need((high(&heads, &widths) + first).min(flow.whole_mm() * 0.5));
    rows.push(draw_row(flow, &heads, &widths, true));
    for row in &table.rows {
        let tall = high(row, &widths);
        if tall > flow.room_mm() && tall <= flow.whole_mm() - 20.0 {
            flow.turn();
            draw_row(flow, &heads, &widths, true);
        }
        rows.push(long_row(flow, row, &heads, &widths));
    }
    flow.tell(Node::Group(Role::Table, rows));
    flow.space(3.0);
}

fn high(row: &[Cell], widths: &[f64]) -> f64 {
    let lines = row.iter().zip(widths).map(|(cell, w)| cell.lines(w - 2.0 * PAD.0).len());
    lines.max().unwrap_or(1) as f64 * LEAD + 2.0 * PAD.1
}

/// A row; one that is higher than a page goes on on the next.
fn long_row(flow: &mut Flow, row: &[Cell], heads: &[Cell], widths: &[f64]) -> Node {
    if high(row, widths) <= flow.room_mm() {
        return draw_row(flow, row, widths, false);
    }
    let mut left: Vec<Vec<String>> =
        row.iter().zip(widths).map(|(cell, w)| cell.lines(w - 2.0 * PAD.0)).collect();
    let mut cells: Vec<Vec<Node>> = vec![Vec::new(); row.len()];
    while left.iter().any(|lines| !lines.is_empty()) {
        let fit = ((flow.room_mm() - 2.0 * PAD.1) / LEAD).floor();
        if fit < 3.0 {
            flow.turn();
            draw_row(flow, heads, widths, true);
            continue;
        }
        let part: Vec<Vec<String>> = left
            .iter_mut()
            .map(|lines| lines.drain(..lines.len().min(fit as usize)).collect())
            .collect();
        let nodes = draw_lines(flow, row, &part, widths, false);
        cells.iter_mut().zip(nodes).for_each(|(all, node)| all.push(node));
    }
    let cells = cells.into_iter().map(|leaves| Node::Group(Role::Cell, leaves));
    Node::Group(Role::Row, cells.collect())
}

fn draw_row(flow: &mut Flow, row: &[Cell], widths: &[f64], head: bool) -> Node {
    let lines: Vec<Vec<String>> =
        row.iter().zip(widths).map(|(cell, w)| cell.lines(w - 2.0 * PAD.0)).collect();
    let leaves = draw_lines(flow, row, &lines, widths, head);
    let role = if head { Role::HeadCell } else { Role::Cell };
    let cells = leaves.into_iter().map(|leaf| Node::Group(role.clone(), vec![leaf]));
    Node::Group(Role::Row, cells.collect())
}

/// Draws a row, or a part of one, and goes below it. Returns the leaf of each cell.
fn draw_lines(
    flow: &mut Flow,
    row: &[Cell],
    lines: &[Vec<String>],
    widths: &[f64],
    head: bool,
) -> Vec<Node> {
    let count = lines.iter().map(Vec::len).max().unwrap_or(1).max(1);
    let tall = count as f64 * LEAD + 2.0 * PAD.1;
    let (left, y) = flow.at();
    let wide: f64 = widths.iter().sum();
    if head {
        let ground = Area { x: left, y, w: wide, h: tall };
        flow.decorate(drawing::rect(ground, None, Some(Ink::PALE)));
    }
    let rule = Stroke::solid(if head { 0.35 } else { 0.15 }, Ink::GREY);
    flow.decorate(drawing::line((left, y + tall), (left + wide, y + tall), rule));
    let mut x = left;
    let mut leaves = Vec::new();
    for ((cell, lines), w) in row.iter().zip(lines).zip(widths) {
        let mark = flow.mark();
        let mut placed: Vec<Shape> = Vec::new();
        match cell {
            Cell::Box => placed.push(tick_box((x + PAD.0, y + PAD.1 + 0.2), SIZE)),
            Cell::Blank(_) => placed.push(drawing::line(
                (x + PAD.0, y + tall - 1.1),
                (x + w - PAD.0, y + tall - 1.1),
                Stroke { width_mm: 0.15, ink: Ink::RULE, dash: vec![0.5, 0.7] },
            )),
            Cell::Text(_) | Cell::Strong(_) => {
                for (at, line) in lines.iter().enumerate() {
                    let base = y + PAD.1 + SIZE * 0.95 + at as f64 * LEAD;
                    placed.push(drawing::text((x + PAD.0, base), SIZE, cell.face(), line));
                }
            }
        }
        flow.page().extend(placed.into_iter().map(|shape| shape.marked(mark)));
        leaves.push(Node::Leaf(mark));
        x += w;
    }
    flow.down(tall);
    leaves
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn papers_tables_leave_no_formula_to_a_spreadsheet() {
        let mut table = Table::new(&["tick", "name", "n"]);
        table.row([Cell::Box, "=1+1".into(), "-3.5".into()]);
        table.row([Cell::Box, "a,\"b\"\n".into(), "+x".into()]);
        let text = String::from_utf8(table.csv()).unwrap_or_default();
        assert_eq!(text, "name,n\n'=1+1,-3.5\n\"a,\"\"b\"\"\\n\",'+x\n");
    }

    #[test]
    fn papers_columns_fill_no_more_than_the_page() {
        let mut table = Table::new(&["one", "two"]);
        table.row(["a".into(), "word ".repeat(200).into()]);
        table.row(["b".repeat(300).into(), "c".into()]);
        for room in [40.0, 186.0, 500.0] {
            let sum: f64 = widths(&table, room).iter().sum();
            assert!(sum <= room + 1e-6, "{sum} of {room}");
        }
    }
}
