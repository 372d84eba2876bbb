//! The time–current points of a thermal trip.

use std::ops::{Deref, DerefMut};

use serde::{Deserialize, Serialize};

/// A point of a time–current curve.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TripPoint {
    /// Current, as a multiple of the trip's `amps`.
    pub times: f64,
    /// How long that current takes, s.
    pub after_s: f64,
}

/// A few points, as one list: [`TripPoints::MOST`] at most.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Vec<TripPoint>", into = "Vec<TripPoint>")]
pub struct TripPoints {
    points: [TripPoint; TripPoints::MOST],
    count: usize,
}

impl TripPoints {
    /// Most points there can be.
    pub const MOST: usize = 6;

    /// The slow side of the gates that IEC 60127-2 sets a quick-acting (F) fuse link of 125 mA and more, by a published
    /// table of the gates, not the standard itself: not within an hour at 1.5 times its rating, at 2.1 times within
    /// 30 min, and so on.
    pub fn quick_acting() -> Self {
        let point = |times, after_s| TripPoint { times, after_s };
        let mut points = [TripPoint::default(); Self::MOST];
        points[0] = point(1.5, 3600.0);
        points[1] = point(2.1, 1800.0);
        points[2] = point(2.75, 2.0);
        points[3] = point(4.0, 0.3);
        points[4] = point(10.0, 0.02);
        Self { points, count: 5 }
    }

    /// Adds one at the end; there are [`Self::MOST`] at most, and one more is not taken.
    pub fn push(&mut self, point: TripPoint) {
        if let Some(next) = self.points.get_mut(self.count) {
            *next = point;
            self.count += 1;
        }
    }

    /// Takes the last one away.
    pub fn pop(&mut self) {
        if let Some(at) = self.count.checked_sub(1) {
            // What is not there must not tell two equal lists apart.
            self.points[at] = TripPoint::default();
            self.count = at;
        }
    }
}

impl Deref for TripPoints {
    type Target = [TripPoint];

    fn deref(&self) -> &[TripPoint] {
        &self.points[..self.count]
    }
}

impl DerefMut for TripPoints {
    fn deref_mut(&mut self) -> &mut [TripPoint] {
        &mut self.points[..self.count]
    }
}

impl TryFrom<Vec<TripPoint>> for TripPoints {
    type Error = String;

    fn try_from(list: Vec<TripPoint>) -> Result<Self, String> {
        if list.len() > Self::MOST {
            return Err(format!("a trip has {} points, {} are allowed", list.len(), Self::MOST));
        }
        let mut points = Self { points: [TripPoint::default(); Self::MOST], count: 0 };
        list.into_iter().for_each(|point| points.push(point));
        Ok(points)
    }
}

impl From<TripPoints> for Vec<TripPoint> {
    fn from(points: TripPoints) -> Self {
        points.to_vec()
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_list_in_the_file() {
        let text = "[(times:1.5,after_s:3600.0),(times:2.0,after_s:5.0)]";
        let points: TripPoints = ron::from_str(text).unwrap();
        assert_eq!(points.len(), 2);
        assert_eq!(ron::to_string(&points).unwrap(), text);
        let many = format!("[{}]", "(times:1,after_s:1),".repeat(9));
        assert!(ron::from_str::<TripPoints>(&many).is_err());
    }

    #[test]
    fn taken_away_is_as_never_there() {
        let mut points = TripPoints::quick_acting();
        points.push(TripPoint { times: 20.0, after_s: 0.001 });
        points.pop();
        assert_eq!(points, TripPoints::quick_acting());
        for _ in 0..20 {
            points.pop();
        }
        assert!(points.is_empty());
        for _ in 0..20 {
            points.push(TripPoint::default());
        }
        assert_eq!(points.len(), TripPoints::MOST);
    }
}
