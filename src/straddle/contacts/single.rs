//! What a single wheel joins while it rolls over the opening.

use super::stand::{Facing, Stand, Touched};
use super::wheels::wheels;
use crate::layout::{Rail, Vehicle, Wheel};
use crate::rails::PlanNet;
use crate::straddle::path::{Span, net_under};

/// A wheel rolling over the opening bridges it for at most its contact patch. Only joins that no pickup group makes.
pub(super) fn single_wheels(
    spans: &[Span],
    cut_mm: [Option<f64>; 2],
    vehicle: &Vehicle,
    facing: Facing,
    groups: &[Stand],
) -> Vec<Stand> {
    let wheels = wheels(&vehicle.axles, vehicle.length_mm, facing);
    let across = |side: usize, at_mm: f64| -> Option<Touched<PlanNet>> {
        let rail = Rail::BOTH[side];
        let before = net_under(spans, rail, at_mm - 1e-6)?;
        let after = net_under(spans, rail, at_mm + 1e-6)?;
        (before != after).then(|| {
            let mut pair = vec![(before, 1), (after, 1)];
            pair.sort_unstable();
            pair
        })
    };
    let mut found: Vec<Stand> = Vec::new();
    let axles: std::collections::BTreeSet<u64> =
        wheels.iter().map(|w| w.behind_mm.to_bits()).collect();
    for behind in axles.into_iter().map(f64::from_bits) {
        let metal = |side: usize| {
            wheels.iter().any(|w| {
                w.behind_mm == behind && w.rail == Rail::BOTH[side] && w.wheel != Wheel::Insulated
            })
        };
        let together = match cut_mm {
            [Some(left), Some(right)] => (left - right).abs() < vehicle.patch_mm,
            _ => false,
        };
        let ways: &[[bool; 2]] = if together {
            &[[true, true], [true, false], [false, true]]
        } else {
            &[[true, false], [false, true]]
        };
        for way in ways {
            let mut touched: [Touched<PlanNet>; 2] = [Vec::new(), Vec::new()];
            let mut possible = true;
            for side in 0..2 {
                if way[side] {
                    match cut_mm[side].filter(|_| metal(side)).and_then(|at| across(side, at)) {
                        Some(pair) => touched[side] = pair,
                        None => possible = false,
                    }
                }
            }
            let same = |other: &Stand| {
                (0..2).all(|s| {
                    other.touched[s].iter().map(|t| t.0).eq(touched[s].iter().map(|t| t.0))
                })
            };
            if possible && !groups.iter().any(same) && !found.iter().any(same) {
                let at = cut_mm.iter().flatten().next().copied().unwrap_or(0.0);
                found.push(Stand {
                    facing,
                    lead_mm: at + behind,
                    length_mm: vehicle.patch_mm,
                    touched,
                    single_wheel: true,
                });
            }
        }
    }
    found
}
