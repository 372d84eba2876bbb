//! `shared-negative-short`: one joined rail shorts because the drivers also meet behind the rails.

use super::shared::crossing;
use super::table;
use super::units::amps;
use super::{Caution, Cure, Finding, Found, Kind, Near, Text, View, Words};
use crate::job::Job;

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::SharedNegativeShort)
}

/// True for findings of one class that the same changes remove.
pub(super) fn same_cause(a: &Finding, b: &Finding) -> bool {
    match (&a.evidence, &b.evidence) {
        (
            table::Evidence::SharedNegativeShort(one),
            table::Evidence::SharedNegativeShort(other),
        ) => crossing::same_changes((a, one), (b, other)),
        _ => false,
    }
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    Text {
        says: format!("{}: one bridged rail is enough; {}", w.places(), w.outcome(e)),
        why: format!(
            "{} share a supply or tied negatives, so the current returns behind the rails: {} with {}.",
            super::words::capital(&w.names(&w.finding.drivers)),
            amps(e.situation.peak_a()),
            w.settings(&e.situation),
        ),
        more: w.more(e),
        advice: w.advised(&e.changes),
        cautions: vec![Caution::Rewire, Caution::Mains],
    }
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    let mut cures = crossing::cures(e, near);
    cures.extend(near.apart().into_iter().map(Cure::from));
    cures.extend(near.finding.cuts().into_iter().map(|cut| Job::CutBoth(cut).into()));
    cures
}

#[cfg(test)]
pub(super) mod tests {
    use approx::assert_abs_diff_eq;

    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Evidence as Any, Kind, Verdict, check};
    use crate::layout::{SupplyId, Wheel};

    pub fn pairs() -> Vec<Pair> {
        // One supply, both rails cut, one brakes: source, high switch, two wires, one joined rail, low switch:
        // 14 / (0.05 + 0.06 + 0.7 + 0.02 + 0.06) = 14 / 0.89 = 15.7303 A through one rail.
        let with = yard(
            r#"
            (id: "d1", supply: "s1", $PWM(490, BrakeLow), $STAGE, $TRIP, $F(0.4))
            (id: "d2", supply: "s1", $PWM(125, BrakeLow), $STAGE, $TRIP, $F(0.8))"#,
        );
        // A coach that picks up on the left only never joins the other rail: the shared supply is the cause.
        let with = with_vehicle(&with, |v| {
            for axle in &mut v.axles {
                axle.right = Wheel::Insulated;
            }
        });
        let twin = with_driver(&with, D2, |d| d.supply = SupplyId(2));
        vec![Pair {
            with,
            twin,
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: None,
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: one bridged rail is enough; the long diesel shorts at 16 A",
        }]
    }

    #[test]
    fn one_rail_carries_it_all() {
        // 14 / 0.89 A over one rail, into the braking switch against its body diode.
        let report = check(&pairs()[0].with);
        let found = the_one(&report, Kind::SharedNegativeShort, Class::Fault, Verdict::Short);
        let Any::SharedNegativeShort(e) = &found.evidence else { panic!("{found:?}") };
        assert_abs_diff_eq!(e.situation.peak_a(), 14.0 / 0.89, epsilon = 1e-3);
        assert_eq!(e.by_join[1].max(e.by_join[2]), Some(Verdict::Short));
    }
}
