//! Rules for frogs, and for the roads that part or cross at them.

use std::collections::BTreeMap;

use super::about::About;
use super::found::{Found, May};
use crate::layout::model::{FIRST_FROG, RunId, Special, TrackEnd, Work};
use crate::layout::words::mm;
use crate::track::roads;

pub(super) fn particulars(about: &About, special: &Special, found: &mut Found) {
    let (roads_with_frogs, measures) = match &special.work {
        Work::Turnout { exits, frog_mm, frog_length_mm, open_mm, .. } => {
            let hint = "the open point stands about 2 mm off";
            found.value("work.open_mm", *open_mm, May::Be(0.0, 100.0), " mm", hint);
            (exits.clone(), (*frog_mm, *frog_length_mm))
        }
        Work::Diamond { frog_mm, frog_length_mm, .. }
        | Work::Slip { frog_mm, frog_length_mm, .. } => {
            (special.work.ends(), (*frog_mm, *frog_length_mm))
        }
        Work::Turntable { exchange_deg: Some(degrees), .. } => {
            let may = May::Be(-360.0, 360.0);
            found.value("work.exchange_deg", *degrees, may, "°", "an angle in degrees");
            return;
        }
        _ => return,
    };
    if !frogs_fit(special, measures, found) {
        return;
    }
    frogs_lie_on_roads(about, &roads_with_frogs, found);
    roads_part(about, special, found);
}

/// True if frogs of some measures (how far the middle is from the joint, and the length, mm) do not run into each other.
fn frogs_fit(special: &Special, (frog_mm, length_mm): (f64, f64), found: &mut Found) -> bool {
    let hint = "the distance from the joint to the middle of the frog";
    let sound = found.value("work.frog_mm", frog_mm, May::Be(0.1, 10_000.0), " mm", hint)
        & found.value(
            "work.frog_length_mm",
            length_mm,
            May::Be(0.1, 5_000.0),
            " mm",
            "the length of the frog between its gaps",
        );
    if !sound {
        return false;
    }
    // Frogs on one rail must not run into each other, nor into the joint. The first frog of a three-way turnout lies
    // nearer than the others; those in the middle of a diamond lie about the joint.
    let longest_mm = match &special.work {
        Work::Turnout { exits, .. } if exits.len() == 2 => 2.0 * frog_mm,
        Work::Turnout { .. } => (1.0 - FIRST_FROG) * frog_mm,
        _ => frog_mm,
    };
    if length_mm >= longest_mm {
        found.add(
            "work.frog_length_mm",
            format!(
                "the frog is {} long, its middle {} from the joint",
                mm(length_mm),
                mm(frog_mm)
            ),
            format!("a frog shorter than {}", mm(longest_mm)),
            "make the frog shorter or put it farther away",
        );
        return false;
    }
    if matches!(special.work, Work::Diamond { .. } | Work::Slip { .. }) && length_mm >= frog_mm {
        found.add(
            "work.frog_length_mm",
            format!(
                "the frogs are {} long, and those at the ends only {} from those in the middle",
                mm(length_mm),
                mm(frog_mm)
            ),
            "frogs that do not run into each other",
            "make the frogs shorter",
        );
        return false;
    }
    true
}

/// Frogs must lie on their roads.
fn frogs_lie_on_roads(about: &About, roads_with_frogs: &[TrackEnd], found: &mut Found) {
    let layout = about.layout;
    let mut by_run: BTreeMap<RunId, f64> = BTreeMap::new();
    for other in layout.specials.values() {
        for end in other.work.ends() {
            let toe = matches!(&other.work, Work::Turnout { toe, .. } if *toe == end);
            *by_run.entry(end.run).or_default() += if toe { 0.0 } else { other.work.reach_mm() };
        }
    }
    for end in roads_with_frogs {
        let Some(length) = about.sound_length(end.run) else { continue };
        let wanted = by_run.get(&end.run).copied().unwrap_or(0.0);
        if wanted > length {
            found.add(
                "work.frog_mm",
                format!(
                    "run {} is {} long, and the frogs on it reach {}",
                    end.run,
                    mm(length),
                    mm(wanted)
                ),
                "frogs that lie on their roads",
                "make the run longer, or put the frog nearer to the joint",
            );
        }
    }
}

/// Roads must part, or cross at an angle.
fn roads_part(about: &About, special: &Special, found: &mut Found) {
    let (layout, reach_mm) = (about.layout, special.work.reach_mm());
    match &special.work {
        Work::Turnout { toe, exits, .. } => {
            let Some(offsets) = roads::offsets_mm(layout, *toe, exits, reach_mm) else { return };
            for (at, offset) in offsets.iter().enumerate() {
                if offsets[..at].iter().any(|other| (other - offset).abs() < LEAST_OFFSET_MM) {
                    found.add(
                        format!("work.exits[{at}]"),
                        format!("at {} from the joint two roads lie on each other", mm(reach_mm)),
                        "roads that part, so that one is the left one",
                        "bend one of them away from the other, or move its far end",
                    );
                }
            }
        }
        Work::Diamond { roads: crossing, .. } | Work::Slip { roads: crossing, .. } => {
            match roads::crossing_angle(layout, crossing) {
                // At right angles either end may be the first.
                Some((sine, cosine)) if cosine > -1e-9 && sine.abs() > LEAST_SINE => {}
                Some((_, cosine)) if cosine <= 0.0 => found.add(
                    "work.roads",
                    "the two roads run against each other",
                    "roads whose first ends lie on one side and whose last ends lie on the other",
                    "exchange the two ends of one road",
                ),
                _ => found.add(
                    "work.roads",
                    "the two roads lie on each other",
                    "roads that cross at an angle",
                    "move the far end of one of them",
                ),
            }
        }
        _ => {}
    }
}

/// How far apart two roads must lie at the frog for one to be the left one, mm.
const LEAST_OFFSET_MM: f64 = 0.1;

/// Sine of the least angle at which two roads cross.
const LEAST_SINE: f64 = 0.01;
