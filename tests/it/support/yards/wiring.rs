//! The straight yard with other wires, limits, rooms and joiners.

use gapwright::layout::{
    self, Climate, Edit, Joiners, JointId, Layout, LimitKind, Quantity, WireSize,
};

use super::straight::{C1, D2, edited, with_driver, with_supply, yard};

/// The first feed's legs.
pub fn legs(layout: &Layout, ohm: f64) -> Layout {
    let mut feed = layout.feeds[&layout::FeedId(1)].clone();
    feed.ohm = Some(Quantity::given(ohm));
    edited(layout, Edit::Replace(feed.into()))
}

pub fn wired(layout: &Layout, size: WireSize) -> Layout {
    let mut feed = layout.feeds[&layout::FeedId(1)].clone();
    feed.wire = Some(layout::Wire { size, length_m: 1.0, rating_a: None });
    edited(layout, Edit::Replace(feed.into()))
}

pub fn limited(layout: &Layout, supply: u32, amps: f64, kind: LimitKind) -> Layout {
    with_supply(layout, supply, |s| {
        s.limit = Some(layout::Limit { amps: Quantity::given(amps), kind });
    })
}

pub fn in_climate(layout: &Layout, climate: Option<Climate>) -> Layout {
    let edit = Edit::Describe {
        name: None,
        notes: None,
        scale: None,
        gauge_mm: None,
        rail_ohm_per_m: None,
        climate: Some(climate),
    };
    edited(layout, edit)
}

pub fn with_cut(layout: &Layout, change: impl FnOnce(&mut layout::Cut)) -> Layout {
    let mut cut = layout.cuts[&C1].clone();
    change(&mut cut);
    edited(layout, Edit::Replace(cut.into()))
}

pub fn joined(layout: &Layout, joint: u32, joiners: Joiners) -> Layout {
    let joint = layout::Joint { joiners, ..layout.joints[&JointId(joint)].clone() };
    edited(layout, Edit::Replace(joint.into()))
}

/// West and East, and beyond East's feeder a joint and 500 mm more.
pub fn with_a_joint() -> Layout {
    yard(
        r#"
        (id: "j3", x_mm: 2500, y_mm: 0)
        (id: "r2", from: "j2", to: "j3")"#,
    )
}

/// Both drivers on the first supply.
pub fn on_one_supply() -> Layout {
    with_driver(&yard(""), D2, |d| d.supply = layout::SupplyId(1))
}
