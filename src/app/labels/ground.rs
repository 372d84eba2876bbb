//! Occupied ground: what a label must not lie on, in points from the origin of the plan.
//!
//! Track is kept as pieces of lines with a half width, labels as boxes. A uniform grid of cells answers whether a box is
//! free in a time that does not grow with the layout.

use std::collections::HashMap;

/// A place on the plan at one scale, points to the right of and below its origin. `f64`, since a long line seen near is
/// millions of points long.
pub type At = [f64; 2];

/// A box whose sides are level and upright.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    /// Upper left corner.
    pub min: At,
    /// Lower right corner.
    pub max: At,
}

impl Area {
    /// A box around its middle.
    pub fn around(middle: At, size: [f64; 2]) -> Self {
        let half = [size[0] / 2.0, size[1] / 2.0];
        Self {
            min: [middle[0] - half[0], middle[1] - half[1]],
            max: [middle[0] + half[0], middle[1] + half[1]],
        }
    }

    /// The box, larger by `by` points on every side.
    pub fn grown(self, by: f64) -> Self {
        Self {
            min: [self.min[0] - by, self.min[1] - by],
            max: [self.max[0] + by, self.max[1] + by],
        }
    }

    /// True if the boxes share more than an edge.
    pub fn meets(&self, other: &Area) -> bool {
        (0..2).all(|axis| self.min[axis] < other.max[axis] && other.min[axis] < self.max[axis])
    }

    /// True if a line enters the box: it is clipped against one side after another (Liang and Barsky, *A new concept and
    /// method for line clipping*, 1984).
    pub fn holds_part_of(&self, from: At, to: At) -> bool {
        let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
        for axis in 0..2 {
            let along = to[axis] - from[axis];
            if along.abs() < 1e-12 {
                if from[axis] <= self.min[axis] || from[axis] >= self.max[axis] {
                    return false;
                }
                continue;
            }
            let one = (self.min[axis] - from[axis]) / along;
            let other = (self.max[axis] - from[axis]) / along;
            enter = enter.max(one.min(other));
            leave = leave.min(one.max(other));
        }
        enter < leave
    }

    /// True if a line comes nearer to the box than `by` points.
    pub fn is_near(&self, from: At, to: At, by: f64) -> bool {
        if !self.grown(by).holds_part_of(from, to) {
            return false;
        }
        // Within the grown box it may still pass a corner at a distance: the nearest points of a line and a box that it
        // does not enter are a corner and a point of the line, or an end of the line and a point of the box.
        let corners = [self.min, self.max, [self.min[0], self.max[1]], [self.max[0], self.min[1]]];
        self.holds_part_of(from, to)
            || corners.iter().any(|corner| line_distance(from, to, *corner) < by)
            || [from, to].iter().any(|end| self.distance(*end) < by)
    }

    /// Distance of a point from the box, points.
    fn distance(&self, at: At) -> f64 {
        let off =
            [0, 1].map(|axis| (self.min[axis] - at[axis]).max(at[axis] - self.max[axis]).max(0.0));
        off[0].hypot(off[1])
    }
}

/// Distance of a point from a line, points.
fn line_distance(from: At, to: At, at: At) -> f64 {
    let (along, off) = ([to[0] - from[0], to[1] - from[1]], [at[0] - from[0], at[1] - from[1]]);
    let long = along[0] * along[0] + along[1] * along[1];
    let share = if long > 0.0 { (along[0] * off[0] + along[1] * off[1]) / long } else { 0.0 };
    let share = share.clamp(0.0, 1.0);
    (off[0] - along[0] * share).hypot(off[1] - along[1] * share)
}

/// A piece of a line that is drawn so many points wide to either side.
#[derive(Debug, Clone, Copy)]
struct Piece {
    from: At,
    to: At,
    half: f64,
}

#[derive(Debug, Clone, Copy)]
enum Thing {
    Piece(u32),
    Area(u32),
    Leader(u32),
}

/// What is occupied.
#[derive(Debug, Default)]
pub struct Ground {
    cell: f64,
    pieces: Vec<Piece>,
    areas: Vec<Area>,
    leaders: Vec<[At; 2]>,
    cells: HashMap<(i64, i64), Vec<Thing>>,
}

impl Ground {
    /// Free ground, with cells of so many points.
    pub fn new(cell: f64) -> Self {
        Self { cell: cell.max(1.0), ..Self::default() }
    }

    /// Size of its cells, points.
    pub fn cell(&self) -> f64 {
        self.cell
    }

    fn cells_of(&self, area: Area) -> impl Iterator<Item = (i64, i64)> + use<> {
        let low = area.min.map(|v| (v / self.cell).floor() as i64);
        let high = area.max.map(|v| (v / self.cell).floor() as i64);
        (low[0]..=high[0]).flat_map(move |x| (low[1]..=high[1]).map(move |y| (x, y)))
    }

    fn enter(&mut self, area: Area, thing: Thing) {
        for cell in self.cells_of(area) {
            self.cells.entry(cell).or_default().push(thing);
        }
    }

    /// Takes up a line, `half` points wide to either side.
    pub fn take_line(&mut self, from: At, to: At, half: f64) {
        for [a, b] in short_pieces(from, to, self.cell) {
            self.pieces.push(Piece { from: a, to: b, half });
            self.enter(around_line(a, b).grown(half), Thing::Piece(self.pieces.len() as u32 - 1));
        }
    }

    /// Takes up a box.
    pub fn take(&mut self, area: Area) {
        self.areas.push(area);
        self.enter(area, Thing::Area(self.areas.len() as u32 - 1));
    }

    /// Takes up the line from a label to its place, which other labels and leaders keep off.
    pub fn take_leader(&mut self, from: At, to: At) {
        for [a, b] in short_pieces(from, to, self.cell) {
            self.leaders.push([a, b]);
            self.enter(around_line(a, b).grown(1.0), Thing::Leader(self.leaders.len() as u32 - 1));
        }
    }

    /// True if nothing lies in the box.
    pub fn is_free(&self, area: Area) -> bool {
        self.cells_of(area).filter_map(|cell| self.cells.get(&cell)).flatten().all(|thing| {
            match *thing {
                Thing::Piece(n) => {
                    let piece = self.pieces[n as usize];
                    !area.is_near(piece.from, piece.to, piece.half)
                }
                Thing::Area(n) => !area.meets(&self.areas[n as usize]),
                Thing::Leader(n) => {
                    let [from, to] = self.leaders[n as usize];
                    !area.grown(1.0).holds_part_of(from, to)
                }
            }
        })
    }

    /// True if a leader from here to there crosses no label and no other leader. It may cross track.
    pub fn is_clear(&self, from: At, to: At) -> bool {
        self.cells_of(around_line(from, to)).filter_map(|cell| self.cells.get(&cell)).flatten().all(
            |thing| match *thing {
                Thing::Piece(_) => true,
                Thing::Area(n) => !self.areas[n as usize].grown(1.0).holds_part_of(from, to),
                Thing::Leader(n) => !do_cross(self.leaders[n as usize], [from, to]),
            },
        )
    }
}

fn around_line(from: At, to: At) -> Area {
    Area {
        min: [from[0].min(to[0]), from[1].min(to[1])],
        max: [from[0].max(to[0]), from[1].max(to[1])],
    }
}

/// A line in pieces of at most `most` points, so that the box around each is small.
fn short_pieces(from: At, to: At, most: f64) -> impl Iterator<Item = [At; 2]> {
    let long = (to[0] - from[0]).hypot(to[1] - from[1]);
    let count = (long / most).ceil().clamp(1.0, 100_000.0) as u32;
    let at = move |n: u32| {
        let share = f64::from(n) / f64::from(count);
        [from[0] + (to[0] - from[0]) * share, from[1] + (to[1] - from[1]) * share]
    };
    (0..count).map(move |n| [at(n), at(n + 1)])
}

/// True if two lines cross.
fn do_cross(one: [At; 2], other: [At; 2]) -> bool {
    let side =
        |[a, b]: [At; 2], p: At| (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
    side(one, other[0]) * side(one, other[1]) < 0.0
        && side(other, one[0]) * side(other, one[1]) < 0.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_line_takes_its_width_and_no_more() {
        let mut ground = Ground::new(32.0);
        ground.take_line([0.0, 0.0], [400.0, 0.0], 5.0);
        assert!(!ground.is_free(Area::around([200.0, 12.0], [60.0, 16.0])), "8 + 5 > 12");
        assert!(ground.is_free(Area::around([200.0, 14.0], [60.0, 16.0])));
        assert!(ground.is_free(Area::around([470.0, 0.0], [60.0, 16.0])), "beyond its end");
    }

    /// Beside track that runs aslant a box stands as near as beside level track.
    #[test]
    fn a_line_that_passes_a_corner_is_as_far_as_it_is() {
        let area = Area::around([0.0, 0.0], [20.0, 20.0]);
        // From the corner at (10, 10) the line x + y = 20 + d √2 is d away.
        let line = |d: f64| {
            let sum = 20.0 + d * 2f64.sqrt();
            ([sum + 100.0, -100.0], [-100.0, sum + 100.0])
        };
        for by in [0.5, 6.0, 18.0] {
            let ((a, b), (c, d)) = (line(by - 0.01), line(by + 0.01));
            assert!(area.is_near(a, b, by) && !area.is_near(c, d, by), "{by}");
        }
        assert!(area.is_near([0.0, 0.0], [5.0, 0.0], 0.1), "within it");
        assert!(
            area.is_near([15.0, 0.0], [90.0, 0.0], 5.1)
                && !area.is_near([15.0, 0.0], [90.0, 0.0], 4.9)
        );
    }

    #[test]
    fn leaders_cross_track_but_no_label_and_no_leader() {
        let mut ground = Ground::new(32.0);
        ground.take_line([0.0, 0.0], [400.0, 0.0], 5.0);
        assert!(ground.is_clear([50.0, -40.0], [50.0, 40.0]));
        ground.take(Area::around([50.0, 20.0], [10.0, 10.0]));
        assert!(!ground.is_clear([50.0, -40.0], [50.0, 40.0]));
        ground.take_leader([100.0, -40.0], [140.0, 40.0]);
        assert!(!ground.is_clear([140.0, -40.0], [100.0, 40.0]));
        assert!(!ground.is_free(Area::around([120.0, 0.0], [6.0, 6.0])));
    }

    proptest! {
        /// The grid answers as a search through everything does.
        #[test]
        fn the_grid_forgets_nothing(
            lines in prop::collection::vec((-300.0..300.0f64, -300.0..300.0f64, -300.0..300.0f64, -300.0..300.0f64), 0..12),
            boxes in prop::collection::vec((-300.0..300.0f64, -300.0..300.0f64), 0..12),
            x in -300.0..300.0f64, y in -300.0..300.0f64,
        ) {
            let mut ground = Ground::new(24.0);
            let area = Area::around([x, y], [60.0, 18.0]);
            let mut free = true;
            for (ax, ay, bx, by) in lines {
                ground.take_line([ax, ay], [bx, by], 6.0);
                free &= !area.is_near([ax, ay], [bx, by], 6.0);
            }
            for (bx, by) in boxes {
                let other = Area::around([bx, by], [40.0, 20.0]);
                ground.take(other);
                free &= !area.meets(&other);
            }
            prop_assert_eq!(ground.is_free(area), free);
        }
    }
}
