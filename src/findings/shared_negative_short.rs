//! `shared-negative-short`: both rails are cut, and one bridged rail is enough for a short, because the drivers meet
//! behind the rails as well: on one supply, or on negatives that are tied together.

use super::shared::at_cut;
use super::shared::crossing::{is_for_the_operator, set_against};
use super::{Class, Cure, Found, Kind, Relation, Text, Verdict, View, Words};
use crate::layout::{Layout, Rails};
use crate::study::cause::{Cause, cause};

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let mut found = Vec::new();
    for (&cut, known) in &view.known {
        if view.layout.cuts.get(&cut).is_none_or(|c| c.rails != Rails::Both) {
            continue;
        }
        // One driver on both sides shares whatever it has with itself.
        if matches!(known.case.sides, [Some(a), Some(b)] if a == b) {
            continue;
        }
        // Points that are set against the track are told as such.
        if set_against(view, known).is_some() {
            continue;
        }
        let result = &known.result;
        let one_rail = |by_join: [Option<Verdict>; 3]| {
            by_join[1].max(by_join[2]).filter(|v| v.is_fault() && *v != Verdict::Stall)
        };
        let agree = result.worst(Relation::Agree);
        let disagree = result.worst(Relation::Disagree);
        let now_is_other = view.is_now && result.now_relation != Some(Relation::Agree);
        let (class, worst, relation, now) = if one_rail(agree.by_join).is_some() {
            (Class::Fault, agree, Some(Relation::Agree), false)
        } else if now_is_other && one_rail(result.now.by_join).is_some() {
            (Class::Fault, result.now.clone(), result.now_relation, true)
        } else if one_rail(disagree.by_join).is_some() {
            (Class::Rule, disagree, Some(Relation::Disagree), false)
        } else {
            continue;
        };
        let Some(verdict) = one_rail(worst.by_join) else { continue };
        // The far end of a reversing section, as where the opposition itself is told.
        let opposed = worst.worst.as_ref().and_then(|evaluated| cause(&known.case, evaluated));
        let kind = match (opposed, relation) {
            (Some(Cause::Opposed), Some(Relation::Agree)) => Some(Kind::SwappedFeed),
            (Some(Cause::Opposed), _) => Some(Kind::OpposedPolarity),
            (Some(Cause::Phase), _) => Some(Kind::PhaseOpposed),
            _ => None,
        };
        let at_section = kind.is_some_and(|kind| is_for_the_operator(view, cut, kind));
        let class = if at_section { Class::Rule } else { class };
        let Some(situation) = worst.worst.as_ref().map(|e| view.situation(known, e)) else {
            continue;
        };
        let by_join = worst.by_join;
        let evidence = Evidence { by_join, ..Evidence::bare(situation, relation, now) };
        found.push(at_cut(view, cut, Kind::SharedNegativeShort, class, verdict, evidence));
    }
    found
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let Evidence { situation, by_join, .. } = e;
    let rails = match (
        by_join[1].is_some_and(Verdict::is_fault),
        by_join[2].is_some_and(Verdict::is_fault),
    ) {
        (true, true) => "either rail",
        (true, false) => "the left rail",
        _ => "the right rail",
    };
    let why = format!(
        "Both rails are cut, but the drivers of the two blocks meet behind the rails as well: they share a supply, \
         or their supplies' negatives are tied together. The current returns that way, so one bridged rail is \
         enough ({rails}), by the wheels of one side or at a stagger. That is so with {}. {}",
        w.settings(situation),
        w.trips(situation)
    );
    Text {
 more: String::new(),
        says: format!("{}: one bridged rail is enough for a short", w.gap()),
        why: why.trim_end().to_owned(),
        advice: vec![
            "Give each driver a supply of its own with an isolated negative, and look for hidden ties: a \
             controller board's ground, a USB lead, mains earth. Mains wiring is for qualified people, to local \
             codes."
                .into(),
        ],
    }
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
}

#[cfg(test)]
pub(super) mod tests {
    use approx::assert_abs_diff_eq;

    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Evidence as Any, Kind, Verdict, check};
    use crate::layout::SupplyId;

    pub fn pairs() -> Vec<Pair> {
        // One supply, both rails cut, one brakes: source, high switch, two wires, one joined rail, low switch:
        // 14 / (0.05 + 0.06 + 0.7 + 0.02 + 0.06) = 14 / 0.89 = 15.7303 A through one rail.
        let with = yard(
            r#"
            (id: "d1", supply: "s1", $PWM(490, BrakeLow), $STAGE, $TRIP, $F(0.4))
            (id: "d2", supply: "s1", $PWM(125, BrakeLow), $STAGE, $TRIP, $F(0.8))"#,
        );
        let twin = with_driver(&with, D2, |d| d.supply = SupplyId(2));
        vec![Pair {
            with: with,
            twin: twin,
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: None,
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: one bridged rail is enough for a short",
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
