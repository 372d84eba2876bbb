//! The same railroad drawn in another way: runs from their other ends, the plan moved, turned or mirrored.

use std::collections::BTreeSet;

use gapwright::layout::*;

/// A shape drawn from its other end.
pub fn backwards(shape: Shape) -> Shape {
    match shape {
        Shape::Straight => Shape::Straight,
        Shape::Arc { bend_deg } => Shape::Arc { bend_deg: -bend_deg },
        Shape::Cubic { c1, c2 } => Shape::Cubic { c1: c2, c2: c1 },
    }
}

fn other_rails(rails: Rails) -> Rails {
    match rails {
        Rails::Both => Rails::Both,
        Rails::Left => Rails::Right,
        Rails::Right => Rails::Left,
    }
}

fn other_end(end: RunEnd) -> RunEnd {
    match end {
        RunEnd::Start => RunEnd::End,
        RunEnd::End => RunEnd::Start,
    }
}

fn spots(layout: &mut Layout) -> impl Iterator<Item = &mut Spot> {
    let contacts =
        layout.specials.values_mut().flat_map(|s| s.contact.sources.iter_mut().flatten());
    let bonds = layout.bonds.values_mut().flat_map(|bond| [&mut bond.from, &mut bond.to]);
    contacts.chain(bonds)
}

/// Draws runs from their other ends; all that is on them stays where it is. Runs on bridges are left, for the positions
/// of a turntable count from the start of its bridge.
pub fn runs_turned(layout: &Layout, which: impl Fn(RunId) -> bool) -> Layout {
    let mut turned = layout.clone();
    let bridges: BTreeSet<RunId> =
        layout.specials.values().filter_map(|special| special.work.bridge()).collect();
    let is_turned = |run: RunId| which(run) && !bridges.contains(&run);
    let there = |run: RunId, at_mm: f64| {
        let length = length_mm(layout, &layout.runs[&run]);
        // An end stays an end to the last digit.
        if at_mm == length { 0.0 } else { length - at_mm }
    };
    for run in turned.runs.values_mut().filter(|run| is_turned(run.id)) {
        std::mem::swap(&mut run.from, &mut run.to);
        run.shape = backwards(run.shape);
    }
    for cut in turned.cuts.values_mut().filter(|cut| is_turned(cut.run)) {
        cut.at_mm = there(cut.run, cut.at_mm + cut.stagger_mm);
        cut.rails = other_rails(cut.rails);
    }
    for label in turned.labels.values_mut().filter(|label| is_turned(label.run)) {
        label.at_mm = there(label.run, label.at_mm);
    }
    for feed in turned.feeds.values_mut().filter(|feed| is_turned(feed.run)) {
        feed.at_mm = there(feed.run, feed.at_mm);
        feed.p = feed.p.map(Rail::other);
        feed.m = feed.m.map(Rail::other);
    }
    for spot in spots(&mut turned).filter(|spot| is_turned(spot.run)) {
        spot.at_mm = there(spot.run, spot.at_mm);
        spot.rail = spot.rail.other();
    }
    for special in turned.specials.values_mut() {
        for end in special.work.ends_mut().into_iter().filter(|end| is_turned(end.run)) {
            end.end = other_end(end.end);
        }
    }
    turned
}

/// Moves the plan, and turns it about its origin, degrees counter-clockwise.
pub fn moved(layout: &Layout, (x, y): (f64, f64), degrees: f64) -> Layout {
    let mut moved = layout.clone();
    let (sine, cosine) = degrees.to_radians().sin_cos();
    let place = |(px, py): (f64, f64)| (px * cosine - py * sine + x, px * sine + py * cosine + y);
    for joint in moved.joints.values_mut() {
        (joint.x_mm, joint.y_mm) = place((joint.x_mm, joint.y_mm));
    }
    for run in moved.runs.values_mut() {
        if let Shape::Cubic { c1, c2 } = &mut run.shape {
            (*c1, *c2) = (place(*c1), place(*c2));
        }
    }
    for special in moved.specials.values_mut() {
        if let Work::Turntable { exchange_deg: Some(heading), .. } = &mut special.work {
            *heading = (*heading + degrees + 180.0).rem_euclid(360.0) - 180.0;
        }
    }
    moved
}

/// The railroad in a mirror, vehicles included.
pub fn mirrored(layout: &Layout) -> Layout {
    let mut mirrored = layout.clone();
    for joint in mirrored.joints.values_mut() {
        joint.x_mm = -joint.x_mm;
    }
    for run in mirrored.runs.values_mut() {
        match &mut run.shape {
            Shape::Straight => {}
            Shape::Arc { bend_deg } => *bend_deg = -*bend_deg,
            Shape::Cubic { c1, c2 } => (c1.0, c2.0) = (-c1.0, -c2.0),
        }
    }
    for cut in mirrored.cuts.values_mut() {
        cut.rails = other_rails(cut.rails);
        cut.at_mm += cut.stagger_mm;
        cut.stagger_mm = -cut.stagger_mm;
    }
    for feed in mirrored.feeds.values_mut() {
        feed.p = feed.p.map(Rail::other);
        feed.m = feed.m.map(Rail::other);
    }
    for spot in spots(&mut mirrored) {
        spot.rail = spot.rail.other();
    }
    for special in mirrored.specials.values_mut() {
        match &mut special.work {
            // From one heading through half a turn counter-clockwise is clockwise in the mirror.
            Work::Turntable { exchange_deg: Some(heading), .. } => *heading = -*heading,
            // Left and middle road, left and right, middle and right; or the left road's, and that of the others.
            Work::Turnout { .. } => special.contact.sources.reverse(),
            // At the first ends, at the last ends, the left one, the right one.
            Work::Diamond { .. } | Work::Slip { .. } if special.contact.sources.len() == 4 => {
                special.contact.sources.swap(2, 3);
            }
            _ => {}
        }
    }
    for axle in mirrored.vehicles.values_mut().flat_map(|vehicle| &mut vehicle.axles) {
        std::mem::swap(&mut axle.left, &mut axle.right);
    }
    mirrored
}
