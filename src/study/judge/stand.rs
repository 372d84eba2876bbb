//! A vehicle or a train standing over the cut, as numbers: which nets its wheels join, for how long, with which loads.

use serde::Serialize;

use crate::straddle::assemble::{GroupTouch, NumericLoad, Touch};
use crate::straddle::contacts::Touched;
use crate::straddle::ix::NetIx;

/// A group of joined pickups over the cut, as numbers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NumericGroup {
    /// Nets under the left and right pickups, with wheels.
    pub touched: [Touched<NetIx>; 2],
    /// Least and largest contact resistance of a wheel, Ω.
    pub wheel_ohm: (f64, f64),
    /// Loads, on where both sides touch.
    pub loads: Vec<NumericLoad>,
}

/// A vehicle or a train standing over the cut, as numbers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NumericStand {
    /// Which of the vehicles or trains it is, by place.
    pub vehicle: usize,
    /// The groups that join nets.
    pub groups: Vec<NumericGroup>,
    /// How far the vehicle rolls with these joins, mm.
    pub length_mm: f64,
    /// Least and largest speed, mm/s.
    pub speed_mm_s: (f64, f64),
    /// A single wheel rather than a pickup group.
    pub single_wheel: bool,
    /// What the vehicle's wiring bears, A: least believable, value, largest.
    pub wiring_a: Option<[f64; 3]>,
}

impl NumericStand {
    /// No wheels but metal of so much resistance from each net to where its side meets, and nothing that rolls.
    pub fn of_metal(touched: [Touched<NetIx>; 2], ohm: f64) -> NumericStand {
        NumericStand {
            vehicle: 0,
            groups: vec![NumericGroup { touched, wheel_ohm: (ohm, ohm), loads: Vec::new() }],
            length_mm: 1.0,
            speed_mm_s: (1.0, 1.0),
            single_wheel: false,
            wiring_a: None,
        }
    }

    /// Whether any group joins nets on a side.
    pub fn joins(&self, side: usize) -> bool {
        self.groups.iter().any(|group| group.touched[side].len() > 1)
    }

    /// The nets that it joins with others, for each group and rail.
    pub fn nets_joined(&self) -> impl Iterator<Item = NetIx> + '_ {
        let sides = self.groups.iter().flat_map(|group| &group.touched);
        sides.filter(|side| side.len() > 1).flatten().map(|touched| touched.0)
    }

    /// How long it takes to roll with these joins at a speed in mm/s, s.
    pub fn rolls_for_s(&self, speed_mm_s: f64) -> f64 {
        self.length_mm / speed_mm_s.max(1e-6)
    }

    /// The same at its least speed.
    pub(super) fn slowest_s(&self) -> f64 {
        self.rolls_for_s(self.speed_mm_s.0)
    }

    /// Its wheels on the rails, clean and without loads.
    pub fn clean(&self) -> Touch {
        self.touch(|group| group.wheel_ohm.0)
    }

    /// Its wheels on the rails at their largest contact resistance, without loads.
    pub(super) fn dirty(&self) -> Touch {
        self.touch(|group| group.wheel_ohm.1)
    }

    fn touch(&self, wheel_ohm: impl Fn(&NumericGroup) -> f64) -> Touch {
        self.groups
            .iter()
            .map(|group| GroupTouch {
                sides: group.touched.clone(),
                wheel_ohm: wheel_ohm(group),
                loads: Vec::new(),
            })
            .collect()
    }

    /// Its wheels on the rails, clean, with the loads.
    pub(super) fn with_loads(&self) -> Touch {
        let mut touch = self.clean();
        for (on, group) in touch.iter_mut().zip(&self.groups) {
            on.loads.clone_from(&group.loads);
        }
        touch
    }

    /// The same with motors at rest, without back-EMF.
    pub(super) fn at_rest(&self) -> Touch {
        let mut touch = self.with_loads();
        for load in touch.iter_mut().flat_map(|group| &mut group.loads) {
            if let NumericLoad::Series { emf_v, .. } = load {
                *emf_v = 0.0;
            }
        }
        touch
    }

    pub(super) fn loaded(&self) -> bool {
        self.groups.iter().any(|group| !group.loads.is_empty())
    }
}
