//! Bounds of a layout.

/// Largest number that an identity may have.
pub const LARGEST_NUMBER: u32 = 1_000_000_000;

/// Most entities that a layout may have.
pub const MOST_ENTITIES: usize = 200_000;

/// Longest text that is not a note, in characters. Reports repeat names, and so would grow with their square.
pub const LONGEST_NAME: usize = 4_000;

/// Most wheelsets that a vehicle may have.
pub const MOST_AXLES: usize = 1_000;

/// Most vehicles that a train may have.
pub const MOST_COUPLED: usize = 200;

/// Most wheelsets that the vehicles of a train may have together: what a train joins is looked for wheel against wheel.
pub const MOST_TRAIN_AXLES: usize = 2_000;

/// Most devices that current may pass one after the other.
pub const MOST_IN_A_ROW: usize = 2_000;

/// Most faults that are told at once.
pub const MOST_FAULTS: usize = 200;

/// Most pictures that may lie under the plan.
pub const MOST_PICTURES: usize = 100;

/// How far from the plan's origin a point may lie, mm (10 km).
pub const FARTHEST_MM: f64 = 1e7;

/// Shortest run, mm.
pub const SHORTEST_RUN_MM: f64 = 0.1;

/// Narrowest cut, mm.
pub const NARROWEST_CUT_MM: f64 = 0.01;

/// Widest cut, mm.
pub const WIDEST_CUT_MM: f64 = 50.0;

/// Most roads round a turntable, and most cabs on a selector.
pub const MOST_ROADS: usize = 30;
