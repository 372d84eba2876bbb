//! The plan to scale, in tiles that overlap, with an index page.

use super::super::flow::{Flow, SMALL};
use super::super::{Facts, Paper, Request, foot, titled};
use super::looks::Looks;
use super::track::{self, Names, Place, extent};
use crate::drawing::{
    self, Area, Document, Face, Ink, Node, Page, Placed, Role, Shape, Stroke, width_mm, wrap,
};

/// Most pages of tiles.
pub const MOST_TILES: usize = 400;
/// Overlap of neighbouring tiles, mm.
const OVERLAP: f64 = 10.0;
/// Height of the lines above and below a tile, mm.
const HEAD: f64 = 9.0;
/// Length of a cut mark, mm.
const CROP: f64 = 3.0;

/// The tiles of a plan.
struct Grid {
    paper: Paper,
    columns: usize,
    rows: usize,
}

impl Grid {
    /// The size of what a tile shows, mm.
    fn window(paper: Paper) -> (f64, f64) {
        (paper.room_mm() - 2.0 * CROP, paper.tall_mm() - 2.0 * HEAD)
    }

    fn of(paper: Paper, place: &Place) -> Grid {
        let (w, h) = Grid::window(paper);
        let count = |whole: f64, window: f64| {
            ((whole - OVERLAP) / (window - OVERLAP)).ceil().clamp(1.0, 1e6) as usize
        };
        Grid { paper, columns: count(place.wide_mm(), w), rows: count(place.tall_mm(), h) }
    }

    /// The size of all tiles together, mm.
    fn whole(&self) -> (f64, f64) {
        let (w, h) = Grid::window(self.paper);
        let along = |count: usize, window: f64| count as f64 * (window - OVERLAP) + OVERLAP;
        (along(self.columns, w), along(self.rows, h))
    }

    /// What a tile shows, mm on the whole drawing.
    fn area(&self, row: usize, column: usize) -> Area {
        let (w, h) = Grid::window(self.paper);
        let (x, y) = (column as f64 * (w - OVERLAP), row as f64 * (h - OVERLAP));
        Area { x, y, w, h }
    }
}

/// "B3": row B, third column.
fn name(row: usize, column: usize) -> String {
    let mut letters = String::new();
    let mut left = row + 1;
    while left > 0 {
        let digit = (left - 1) % 26;
        letters.insert(0, char::from(b'A' + digit as u8));
        left = (left - 1) / 26;
    }
    format!("{letters}{}", column + 1)
}

/// The index page and the tiles with anything on them.
///
/// # Errors
/// The scale is no scale, or gives too many tiles.
pub fn document(facts: &Facts, request: &Request, scale: f64) -> Result<Document, String> {
    if !(scale.is_finite() && (0.1..=10_000.0).contains(&scale)) {
        return Err("the scale is to be from 1:0.1 to 1:10000".to_owned());
    }
    let words = if scale.fract() == 0.0 { format!("{scale:.0}") } else { format!("{scale}") };
    let title = titled(&format!("Plan 1:{words}, tiles"), facts, request);
    let Some(extent) = extent(facts.layout) else {
        let mut flow = Flow::new(request.paper, &title, &foot(facts, request));
        flow.paragraph("This layout has no track, so there is nothing to draw.");
        return Ok(flow.done());
    };
    let place = Place::to_scale(&extent, scale);
    let grids = [request.paper, request.paper.turned()].map(|paper| Grid::of(paper, &place));
    let [upright, turned] = grids;
    let grid = if upright.columns * upright.rows <= turned.columns * turned.rows {
        upright
    } else {
        turned
    };
    let looks = Looks::of(facts);
    // Of so many, most would have to be empty.
    if grid.columns * grid.rows > 10 * MOST_TILES {
        return Err(too_many(grid.columns * grid.rows));
    }
    let sketch = track::on_paper(facts, &looks, &place, Names::All);
    let bounds: Vec<Option<Area>> = sketch.shapes.iter().map(Shape::bounds).collect();
    let mut tiles: Vec<(usize, usize, Vec<usize>)> = Vec::new();
    for row in 0..grid.rows {
        for column in 0..grid.columns {
            let area = grid.area(row, column);
            let on = |at: &usize| bounds[*at].is_some_and(|b| b.grown(0.7).meets(&area));
            let inside: Vec<usize> = (0..sketch.shapes.len()).filter(on).collect();
            if inside.iter().any(|at| touches(&sketch.shapes[*at], &area)) {
                tiles.push((row, column, inside));
            }
        }
    }
    if tiles.len() > MOST_TILES {
        return Err(too_many(tiles.len()));
    }
    let mut document = index(facts, request, &title, (&grid, &tiles, &place, scale));
    for (row, column, inside) in &tiles {
        // Names are placed tile by tile, so that no tile cuts one off.
        let (names, _) = sketch.names(&grid.area(*row, *column));
        let shapes = inside.iter().map(|at| &sketch.shapes[*at]).chain(&names);
        tile(&mut document, (&grid, *row, *column), (&tiles, scale), shapes);
    }
    Ok(document)
}

fn too_many(tiles: usize) -> String {
    format!(
        "this scale gives {tiles} pages of tiles, more than {MOST_TILES}. Choose a smaller scale, such as twice the number \
         behind \"1:\""
    )
}

/// True if a shape has a point or an edge within an area, not only its bounds around it.
fn touches(shape: &Shape, area: &Area) -> bool {
    match shape {
        Shape::Path { steps, .. } => {
            let mut before: Option<(f64, f64)> = None;
            steps.iter().any(|step| {
                let (drawing::Step::Move(x, y) | drawing::Step::Line(x, y)) = *step else {
                    return false;
                };
                let from = match step {
                    drawing::Step::Line(..) => before.unwrap_or((x, y)),
                    _ => (x, y),
                };
                before = Some((x, y));
                let part = drawing::around([from, (x, y)]);
                part.is_some_and(|part| part.meets(area))
            })
        }
        Shape::Text(_) | Shape::Window { .. } => {
            shape.bounds().is_some_and(|bounds| bounds.meets(area))
        }
    }
}

type Tiles = Vec<(usize, usize, Vec<usize>)>;

/// The first page: the whole plan small, with the tiles over it.
fn index(
    facts: &Facts,
    request: &Request,
    title: &str,
    (grid, tiles, place, scale): (&Grid, &Tiles, &Place, f64),
) -> Document {
    let mut flow = Flow::new(grid.paper, title, &foot(facts, request));
    flow.paragraph(&format!(
        "{} tiles. Print at 100 % (actual size), check the bar on a tile with a rule, cut along the marks, and lay each tile \
         with its left and upper edges on the dashed lines of its neighbours: tiles overlap by {OVERLAP} mm.",
        tiles.len()
    ));
    let (wide, room) = (flow.paper().room_mm(), flow.room_mm() - 14.0);
    let whole = grid.whole();
    let shrink = (wide / whole.0).min(room / whole.1).min(1.0);
    let small = place.shrunk(shrink);
    let looks = Looks::of(facts);
    let track = track::on_paper(facts, &looks, &small, Names::None);
    let names: Vec<String> = tiles.iter().map(|(row, column, _)| name(*row, *column)).collect();
    let words = format!("Index of the tiles: {}", names.join(", "));
    flow.figure(&words, whole.1 * shrink + 1.0, |x, y| {
        let mut shapes: Vec<Placed> =
            track.shapes.iter().map(|shape| shape.moved(x, y).plain()).collect();
        for (row, column, _) in tiles {
            let Area { x: left, y: top, w, h } = grid.area(*row, *column);
            let area =
                Area { x: x + left * shrink, y: y + top * shrink, w: w * shrink, h: h * shrink };
            let stroke = Stroke { width_mm: 0.2, ink: Ink::GREY, dash: vec![1.0, 0.8] };
            shapes.push(drawing::rect(area, Some(stroke), None).plain());
            let size = (area.h * 0.3).clamp(1.4, 5.0).min(area.w * 0.3).max(1.2);
            let words = name(*row, *column);
            let wide = width_mm(&words, Face::Bold, size);
            let middle = (area.x + (area.w - wide) / 2.0, area.y + (area.h + size * 0.7) / 2.0);
            let ground = Area { x: middle.0, y: middle.1 - size * 0.8, w: wide, h: size };
            shapes.push(drawing::rect(ground.grown(0.4), None, Some(Ink::WHITE)).plain());
            shapes.push(drawing::text(middle, size, Face::Bold, &words).plain());
        }
        shapes
    });
    flow.figure("Scale bar of the tiles", 9.0, |x, y| {
        let ratio = format!("Tiles 1:{scale}; this page 1:{:.1}", small.scale());
        vec![drawing::text((x, y + 4.0), 2.9, Face::Bold, &ratio).plain()]
    });
    flow.done()
}

/// One tile.
fn tile<'s>(
    document: &mut Document,
    (grid, row, column): (&Grid, usize, usize),
    (tiles, scale): (&Tiles, f64),
    shapes: impl Iterator<Item = &'s Shape>,
) {
    let paper = grid.paper;
    let area = grid.area(row, column);
    let (left, top) = (paper.margin_mm + CROP, paper.margin_mm + HEAD);
    let (dx, dy) = (left - area.x, top - area.y);
    let inside: Vec<Placed> = shapes.map(|shape| shape.moved(dx, dy).plain()).collect();
    let window = Area { x: left, y: top, ..area };
    let mark = 1_000_000 + document.pages.len() as u32 * 10;
    let mut page: Vec<Placed> = vec![Shape::Window { window, shapes: inside }.marked(mark)];
    crop_marks(&mut page, &window);
    let told = neighbours(&mut page, (grid, row, column), tiles, &window);
    let own = name(row, column);
    let words = format!("Tile {own}, 1:{scale}.  {}", told.join(", "));
    let line = wrap(&words, Face::Bold, 3.4, paper.room_mm() - 110.0).swap_remove(0);
    let at = (left, paper.margin_mm + 4.0);
    page.push(drawing::text(at, 3.4, Face::Bold, &line).marked(mark + 1));
    hundred(&mut page, (paper.width_mm - paper.margin_mm - CROP - 100.0, paper.margin_mm + 1.0));
    let foot = wrap(&document.title, Face::Regular, SMALL, paper.room_mm()).swap_remove(0);
    let y = paper.height_mm - paper.margin_mm;
    page.push(drawing::text((left, y), SMALL, Face::Regular, &foot).inked(Ink::GREY).plain());
    document.order.push(Node::Group(Role::Heading(2, own.clone()), vec![Node::Leaf(mark + 1)]));
    let figure = Role::Figure(format!("Tile {own} of the track plan"));
    document.order.push(Node::Group(figure, vec![Node::Leaf(mark)]));
    let (width_mm, height_mm) = (paper.width_mm, paper.height_mm);
    document.pages.push(Page { width_mm, height_mm, shapes: page });
}

/// Marks where the next tiles are laid on, and names the tiles around in words.
fn neighbours(
    page: &mut Vec<Placed>,
    (grid, row, column): (&Grid, usize, usize),
    tiles: &Tiles,
    window: &Area,
) -> Vec<String> {
    let has = |row: Option<usize>, column: Option<usize>| {
        let (row, column) = (row?, column?);
        let there = row < grid.rows && tiles.iter().any(|(r, c, _)| (*r, *c) == (row, column));
        there.then(|| name(row, column))
    };
    let right = has(Some(row), Some(column + 1));
    let below = has(Some(row + 1), Some(column));
    let Area { x, y, w, h } = *window;
    let mut dashed = |ends: [(f64, f64); 2]| {
        let stroke = Stroke { width_mm: 0.2, ink: Ink::GREY, dash: vec![1.5, 1.5] };
        page.push(drawing::polyline(&ends, stroke).plain());
    };
    if right.is_some() {
        dashed([(x + w - OVERLAP, y), (x + w - OVERLAP, y + h)]);
    }
    if below.is_some() {
        dashed([(x, y + h - OVERLAP), (x + w, y + h - OVERLAP)]);
    }
    let around = [
        ("left", has(Some(row), column.checked_sub(1))),
        ("right", right),
        ("above", has(row.checked_sub(1), Some(column))),
        ("below", below),
    ];
    let told = around.into_iter().filter_map(|(side, tile)| Some(format!("{} {side}", tile?)));
    told.collect()
}

/// A bar of 100 mm, so that one sees whether a printer keeps the scale.
fn hundred(page: &mut Vec<Placed>, (x, y): (f64, f64)) {
    for part in 0..10_u32 {
        let area = Area { x: x + 10.0 * f64::from(part), y, w: 10.0, h: 1.4 };
        let fill = if part % 2 == 0 { Ink::BLACK } else { Ink::WHITE };
        let stroke = Some(Stroke::solid(0.15, Ink::BLACK));
        page.push(drawing::rect(area, stroke, Some(fill)).plain());
    }
    let words = "This bar is 100 mm long if the printer kept the scale.";
    page.push(drawing::text((x, y + 4.2), 2.4, Face::Regular, words).plain());
}

fn crop_marks(page: &mut Vec<Placed>, window: &Area) {
    let Area { x, y, w, h } = *window;
    let stroke = || Stroke::solid(0.2, Ink::BLACK);
    for x in [x, x + w] {
        for (from, to) in [(y - CROP, y - 0.4), (y + h + 0.4, y + h + CROP)] {
            page.push(drawing::line((x, from), (x, to), stroke()).plain());
        }
    }
    for y in [y, y + h] {
        for (from, to) in [(x - CROP, x - 0.4), (x + w + 0.4, x + w + CROP)] {
            page.push(drawing::line((from, y), (to, y), stroke()).plain());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn papers_tiles_are_named_by_row_and_column() {
        assert_eq!(name(0, 0), "A1");
        assert_eq!(name(25, 2), "Z3");
        assert_eq!(name(26, 11), "AA12");
    }
}
