//! Names beside their places: on no other name, and on no track where there is room.

use crate::drawing::{self, Area, Face, Ink, Shape, Stroke, around, width_mm};

/// A name to be placed.
pub struct Wanted {
    /// Where what it names is, mm on the paper.
    pub at: (f64, f64),
    /// The name.
    pub words: String,
    /// Size of the type, mm.
    pub size: f64,
    /// Face.
    pub face: Face,
    /// True if it is left out rather than put on another name.
    pub can_wait: bool,
}

/// Distances from the place at which a name is tried, mm.
const FAR: [f64; 8] = [1.8, 3.2, 5.0, 7.5, 10.5, 14.5, 19.0, 25.0];
/// Directions in which it is tried.
const TURNS: u32 = 16;
/// From this distance on a line leads to it, mm.
const LEADS: f64 = 2.6;

/// Width and height of a cell in which things are looked up, mm.
const CELL: f64 = 12.0;

/// Things by the cells that they reach into, within a window.
struct Cells {
    window: Area,
    columns: usize,
    cells: Vec<Vec<usize>>,
}

impl Cells {
    fn new(window: Area) -> Cells {
        let count = |mm: f64| ((mm / CELL).ceil().max(0.0) as usize).min(2000) + 1;
        let columns = count(window.w);
        Cells { window, columns, cells: vec![Vec::new(); columns * count(window.h)] }
    }

    /// The cells that a rectangle reaches into; those at the edge stand for what is beyond it.
    fn of(&self, area: &Area) -> impl Iterator<Item = usize> + use<> {
        let columns = self.columns;
        let rows = self.cells.len() / columns;
        let along = |from: f64, long: f64, count: usize| {
            let at = |mm: f64| ((mm / CELL).max(0.0) as usize).min(count - 1);
            at(from)..=at(from + long)
        };
        let across = along(area.x - self.window.x, area.w, columns);
        let down = along(area.y - self.window.y, area.h, rows);
        down.flat_map(move |row| across.clone().map(move |column| row * columns + column))
    }

    fn put(&mut self, what: usize, area: &Area) {
        for cell in self.of(area) {
            self.cells[cell].push(what);
        }
    }

    /// The things whose cells a rectangle reaches into, each once.
    fn near(&self, area: &Area) -> Vec<usize> {
        let mut near: Vec<usize> =
            self.of(area).flat_map(|cell| self.cells[cell].iter().copied()).collect();
        near.sort_unstable();
        near.dedup();
        near
    }
}

/// Names placed on a plan.
pub struct Labels<'a> {
    track: &'a [[(f64, f64); 2]],
    track_in: Cells,
    within: Area,
    taken: Vec<Area>,
    taken_in: Cells,
    /// The shapes so far.
    pub shapes: Vec<Shape>,
    /// Names that found no room.
    pub left_out: usize,
}

impl<'a> Labels<'a> {
    /// No names yet, on a sheet with this track. `taken` is what stands there besides.
    pub fn new(track: &'a [[(f64, f64); 2]], within: Area, taken: Vec<Area>) -> Labels<'a> {
        let (mut track_in, mut taken_in) = (Cells::new(within), Cells::new(within));
        for (at, line) in track.iter().enumerate() {
            if let Some(area) = around(line.iter().copied()) {
                track_in.put(at, &area);
            }
        }
        taken.iter().enumerate().for_each(|(at, area)| taken_in.put(at, area));
        let (shapes, left_out) = (Vec::new(), 0);
        Labels { track, track_in, within, taken, taken_in, shapes, left_out }
    }

    /// Places a name where it is in the way of least.
    pub fn place(&mut self, wanted: &Wanted) {
        let words = drawing::printable(&wanted.words).into_owned();
        let (w, h) = (width_mm(&words, wanted.face, wanted.size), wanted.size);
        let mut best: Option<(f64, Area, f64)> = None;
        for (step, far) in FAR.into_iter().enumerate() {
            for turn in 0..TURNS {
                let angle = f64::from(turn) / f64::from(TURNS) * std::f64::consts::TAU;
                let (dx, dy) = (angle.cos(), -angle.sin());
                let area = Area {
                    x: wanted.at.0 + dx * far + (dx - 1.0) / 2.0 * w,
                    y: wanted.at.1 + dy * far + (dy - 1.0) / 2.0 * h,
                    w,
                    h,
                };
                let cost = self.cost(&area) + step as f64 + if dx == 0.0 { 0.2 } else { 0.0 };
                if best.as_ref().is_none_or(|(least, ..)| cost < *least) {
                    best = Some((cost, area, far));
                }
            }
            // Farther away it only gets worse.
            if best.as_ref().is_some_and(|(least, ..)| *least <= step as f64 + 1.0) {
                break;
            }
        }
        let Some((cost, area, far)) = best else { return };
        if wanted.can_wait && cost >= ON_NAME {
            self.left_out += 1;
            return;
        }
        if far > LEADS {
            let near = (
                wanted.at.0.clamp(area.x, area.x + area.w),
                wanted.at.1.clamp(area.y, area.y + area.h),
            );
            let stroke = Stroke::solid(0.12, Ink::GREY);
            self.shapes.push(drawing::line(wanted.at, near, stroke));
        }
        // A white ground keeps the name readable where it has to lie on a line.
        self.shapes.push(drawing::rect(area.grown(0.25), None, Some(Ink::WHITE)));
        let base = (area.x, area.y + area.h * 0.84);
        self.shapes.push(drawing::text(base, wanted.size, wanted.face, &words));
        let taken = area.grown(0.3);
        self.taken_in.put(self.taken.len(), &taken);
        self.taken.push(taken);
    }

    fn cost(&self, area: &Area) -> f64 {
        let grown = area.grown(0.35);
        let near = self.taken_in.near(&grown);
        let names = near.into_iter().filter(|at| self.taken[*at].meets(&grown)).count();
        let near = self.track_in.near(&grown);
        let lines = near.into_iter().filter(|at| crosses(&self.track[*at], &grown)).count();
        let inside = area.x >= self.within.x
            && area.y >= self.within.y
            && area.x + area.w <= self.within.x + self.within.w
            && area.y + area.h <= self.within.y + self.within.h;
        names as f64 * ON_NAME + lines.min(3) as f64 * ON_TRACK + if inside { 0.0 } else { OUTSIDE }
    }
}

/// What it costs to lie on a name, on track, and over the edge of the plan.
const ON_NAME: f64 = 100.0;
const ON_TRACK: f64 = 6.0;
const OUTSIDE: f64 = 500.0;

/// True if a line has a point in a rectangle (Liang and Barsky's clipping).
fn crosses(line: &[(f64, f64); 2], area: &Area) -> bool {
    let [(x, y), (x2, y2)] = *line;
    let (dx, dy) = (x2 - x, y2 - y);
    let (mut from, mut to) = (0.0_f64, 1.0_f64);
    for (step, room) in
        [(-dx, x - area.x), (dx, area.x + area.w - x), (-dy, y - area.y), (dy, area.y + area.h - y)]
    {
        if step == 0.0 {
            if room < 0.0 {
                return false;
            }
        } else if step < 0.0 {
            from = from.max(room / step);
        } else {
            to = to.min(room / step);
        }
    }
    from <= to
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn papers_lines_cross_rectangles_where_they_do() {
        let area = Area { x: 0.0, y: 0.0, w: 10.0, h: 10.0 };
        assert!(crosses(&[(-5.0, 5.0), (15.0, 5.0)], &area));
        assert!(crosses(&[(5.0, 5.0), (6.0, 5.0)], &area));
        assert!(!crosses(&[(-5.0, 11.0), (15.0, 11.0)], &area));
        assert!(!crosses(&[(-5.0, 0.0), (0.0, -5.0)], &area));
    }

    #[test]
    fn papers_names_lie_on_no_other_name() {
        let track = [[(0.0, 50.0), (100.0, 50.0)]];
        let within = Area { x: 0.0, y: 0.0, w: 100.0, h: 100.0 };
        let mut labels = Labels::new(&track, within, Vec::new());
        for n in 0..8 {
            let at = (45.0 + f64::from(n), 50.0);
            let words = format!("c{n}");
            labels.place(&Wanted { at, words, size: 3.0, face: Face::Bold, can_wait: false });
        }
        let areas = &labels.taken;
        assert_eq!(areas.len(), 8);
        for (at, area) in areas.iter().enumerate() {
            assert!(
                areas[at + 1..].iter().all(|other| !other.grown(-0.3).meets(&area.grown(-0.3)))
            );
            assert!(!crosses(&track[0], &area.grown(-0.4)));
        }
    }
}
