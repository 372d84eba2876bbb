//! Pictures under the plan, to draw over.

use serde::{Deserialize, Serialize};

use super::ids::PictureId;
use super::skip::is_default;
use crate::track::plane::{Turn, thousandths};
use crate::units::Point;

/// A picture under the plan. The check takes no notice of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Picture {
    /// Identity.
    pub id: PictureId,
    /// The file. In a layout file: from the layout file's folder, with forward slashes, where there is such a way. In
    /// a layout that was read by [`crate::layout::read_path`]: from the root.
    pub path: String,
    /// Place of its upper left corner on the plan, mm to the right.
    pub x_mm: f64,
    /// Place of its upper left corner on the plan, mm upwards.
    pub y_mm: f64,
    /// Width and height of one pixel on the plan, mm.
    pub mm_per_pixel: f64,
    /// How many pixels wide and high it was when it was placed: its size on the plan while the file cannot be read,
    /// and its width when the file is exchanged for a finer or a coarser one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pixels: Option<(u32, u32)>,
    /// Turn about its upper left corner, degrees, counter-clockwise.
    #[serde(default, skip_serializing_if = "is_default")]
    pub turn_deg: f64,
    /// How strongly it is painted, from 0 (not at all) to 1 (as it is).
    #[serde(default = "default_opacity")]
    pub opacity: f64,
    /// Whether the pointer leaves it where it is.
    #[serde(default, skip_serializing_if = "is_default")]
    pub locked: bool,
}

/// 0.5: track that is drawn over it stands out (chosen by eye).
pub fn default_opacity() -> f64 {
    0.5
}

/// Pixels of a picture of which nothing is known.
const UNKNOWN_PIXELS: (u32, u32) = (1000, 1000);

impl Picture {
    /// The name of its file, without folders.
    pub fn file_name(&self) -> &str {
        self.path.rsplit(['/', '\\']).next().unwrap_or(&self.path)
    }

    /// Its width and height, counted in its own pixels, for a file of `there` pixels; without a file, what is known.
    pub fn extent(&self, there: Option<(u32, u32)>) -> (f64, f64) {
        let (known, there) = match (self.pixels, there) {
            (Some(known), Some(there)) => (known, there),
            (Some(one), None) | (None, Some(one)) => (one, one),
            (None, None) => (UNKNOWN_PIXELS, UNKNOWN_PIXELS),
        };
        let width = f64::from(known.0);
        (width, width * f64::from(there.1) / f64::from(there.0.max(1)))
    }

    /// The place on the plan of a point of the picture, counted in pixels to the right and downwards.
    pub fn place(&self, (right, down): Point) -> Point {
        let turn = Turn { about: (self.x_mm, self.y_mm), mirrored: false, turn_deg: self.turn_deg };
        turn.place((self.x_mm + right * self.mm_per_pixel, self.y_mm - down * self.mm_per_pixel))
    }

    /// The point of the picture at a place on the plan, in pixels to the right and downwards.
    pub fn pixel(&self, place: Point) -> Point {
        let turn =
            Turn { about: (self.x_mm, self.y_mm), mirrored: false, turn_deg: -self.turn_deg };
        let (x, y) = turn.place(place);
        ((x - self.x_mm) / self.mm_per_pixel, (self.y_mm - y) / self.mm_per_pixel)
    }

    /// Its corners on the plan, from the upper left one on clockwise as one looks at the picture.
    pub fn corners(&self, (width, height): (f64, f64)) -> [Point; 4] {
        [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)].map(|at| self.place(at))
    }

    /// Whether a place on the plan is on the picture.
    pub fn covers(&self, (width, height): (f64, f64), place: Point) -> bool {
        let (right, down) = self.pixel(place);
        (0.0..=width).contains(&right) && (0.0..=height).contains(&down)
    }

    /// The picture with a point of it (in pixels) at another place on the plan.
    fn with_at(self, pixel: Point, place: Point) -> Self {
        let is = self.place(pixel);
        let (x_mm, y_mm) = (self.x_mm + place.0 - is.0, self.y_mm + place.1 - is.1);
        Self { x_mm: thousandths(x_mm), y_mm: thousandths(y_mm), ..self }
    }

    /// The picture moved by `(dx, dy)` mm.
    pub fn moved(&self, dx_mm: f64, dy_mm: f64) -> Self {
        let (x_mm, y_mm) = (thousandths(self.x_mm + dx_mm), thousandths(self.y_mm + dy_mm));
        Self { x_mm, y_mm, ..self.clone() }
    }

    /// The picture turned about its middle, to an angle in degrees.
    pub fn turned(&self, extent: (f64, f64), turn_deg: f64) -> Self {
        let middle = (extent.0 / 2.0, extent.1 / 2.0);
        Self { turn_deg, ..self.clone() }.with_at(middle, self.place(middle))
    }

    /// The picture scaled so that two points of it (in pixels) are `distance_mm` apart on the plan; the first stays
    /// where it is. `None` for points that are not two, or a distance that is none.
    pub fn scaled(&self, first: Point, second: Point, distance_mm: f64) -> Option<Self> {
        let pixels = (second.0 - first.0).hypot(second.1 - first.1);
        let mm_per_pixel = distance_mm / pixels;
        let sound = pixels > 0.0 && mm_per_pixel.is_finite() && mm_per_pixel > 0.0;
        sound.then(|| Self { mm_per_pixel, ..self.clone() }.with_at(first, self.place(first)))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    use super::*;

    fn picture() -> Picture {
        Picture {
            id: PictureId(1),
            path: "plans/yard.png".into(),
            x_mm: 100.0,
            y_mm: 500.0,
            mm_per_pixel: 2.0,
            pixels: Some((200, 100)),
            turn_deg: 0.0,
            opacity: 0.5,
            locked: false,
        }
    }

    #[test]
    fn pixels_go_to_the_right_and_down_from_the_corner() {
        assert_eq!(picture().place((10.0, 20.0)), (120.0, 460.0));
        let turned = Picture { turn_deg: 90.0, ..picture() };
        assert_eq!(turned.place((10.0, 0.0)), (100.0, 520.0));
        assert_eq!(picture().corners((200.0, 100.0))[2], (500.0, 300.0));
        assert!(picture().covers((200.0, 100.0), (499.0, 301.0)));
        assert!(!picture().covers((200.0, 100.0), (501.0, 301.0)));
    }

    #[test]
    fn a_finer_file_covers_the_same_width() {
        assert_eq!(picture().extent(Some((400, 200))), (200.0, 100.0));
        assert_eq!(picture().extent(None), (200.0, 100.0));
        assert_eq!(Picture { pixels: None, ..picture() }.extent(Some((4, 2))), (4.0, 2.0));
    }

    #[test]
    fn two_points_that_are_one_and_no_distance_scale_nothing() {
        let at = (3.0, 4.0);
        assert_eq!(picture().scaled(at, at, 100.0), None);
        for distance in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(picture().scaled(at, (5.0, 4.0), distance), None);
        }
    }

    proptest! {
        #[test]
        fn a_pixel_and_its_place_are_each_others(
            right in -1e3f64..1e3, down in -1e3f64..1e3, turn_deg in -360f64..360.0,
            mm_per_pixel in 0.01f64..10.0,
        ) {
            let picture = Picture { turn_deg, mm_per_pixel, ..picture() };
            let (x, y) = picture.pixel(picture.place((right, down)));
            assert_relative_eq!(x, right, epsilon = 1e-6);
            assert_relative_eq!(y, down, epsilon = 1e-6);
        }

        #[test]
        fn two_points_come_to_lie_as_far_apart_as_said(
            a in (-1e3f64..1e3, -1e3f64..1e3), b in (-1e3f64..1e3, -1e3f64..1e3),
            turn_deg in -360f64..360.0, distance in 1f64..1e4,
        ) {
            prop_assume!((a.0 - b.0).hypot(a.1 - b.1) > 1.0);
            let picture = Picture { turn_deg, ..picture() };
            let scaled = picture.scaled(a, b, distance).unwrap();
            let (p, q) = (scaled.place(a), scaled.place(b));
            assert_relative_eq!((p.0 - q.0).hypot(p.1 - q.1), distance, max_relative = 1e-9);
            let was = picture.place(a);
            assert_relative_eq!(p.0, was.0, epsilon = 1e-3);
            assert_relative_eq!(p.1, was.1, epsilon = 1e-3);
        }

        #[test]
        fn turning_leaves_the_middle_where_it_is(from in -360f64..360.0, to in -360f64..360.0) {
            let picture = Picture { turn_deg: from, ..picture() };
            let (was, is) = (picture.place((100.0, 50.0)), picture.turned((200.0, 100.0), to));
            assert_relative_eq!(is.place((100.0, 50.0)).0, was.0, epsilon = 1e-3);
            assert_relative_eq!(is.place((100.0, 50.0)).1, was.1, epsilon = 1e-3);
        }
    }
}
