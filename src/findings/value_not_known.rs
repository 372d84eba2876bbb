//! `value-not-known`: the verdict at a gap changes within the ranges of assumed values.

use super::shared::crossing;
use super::units::amps;
use super::words::{and, capital, field_of};
use super::{Caution, Cure, Found, Kind, Near, Text, View, Words};

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::ValueNotKnown)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let what: Vec<String> = e.measure.iter().map(|at| field_of(w, at)).collect();
    Text {
        says: format!("{}: not known; measure {}", w.gap(), and(&what)),
        why: format!(
            "With {} the verdict changes within the ranges of the assumed values: computed with the nominal values \
             {} flow at the peak. {} decides.",
            w.settings(&e.situation),
            amps(e.situation.peak_a()),
            capital(&and(&what)),
        ),
        advice: vec![format!("Measure {} and enter it as measured.", and(&what))],
        more: String::new(),
        cautions: vec![Caution::Measure],
    }
}

pub fn cures(_: &Evidence, _: &Near) -> Vec<Cure> {
    Vec::new()
}

#[cfg(test)]
pub(super) mod tests {
    use approx::assert_abs_diff_eq;

    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Evidence as Any, Kind, Verdict, check};
    use crate::layout::{EntityId, Quantity, SupplyId};

    pub fn pairs() -> Vec<Pair> {
        // 14 / (1.73 − 0.05 + R): 8.09 A at 0.05 Ω and 2.27 A at 4.5 Ω, about a threshold of 3 A: the source decides.
        let with = with_supply(&brake_low_pair(), 2, |s| {
            s.source_ohm = Quantity::assumed(2.0, 0.05, 4.5);
        });
        let with = with_supply(&with, 1, |s| s.source_ohm = Quantity::given(4.5));
        let twin = with_supply(&with, 2, |s| s.source_ohm = Quantity::given(2.0));
        vec![Pair {
            with,
            twin,
            class: Class::Fault,
            verdict: Verdict::NotKnown,
            peak_a: None,
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: not known; measure the source resistance of supply s2",
        }]
    }

    #[test]
    fn what_to_measure_is_what_decides() {
        // Nominal: d2's 2 Ω in the place of 0.05 Ω, 14 / 3.68 A; at zero throttle d2 clamps nothing.
        let report = check(&pairs()[0].with);
        let found = the_one(&report, Kind::ValueNotKnown, Class::Fault, Verdict::NotKnown);
        let Any::ValueNotKnown(e) = &found.evidence else { panic!("{found:?}") };
        assert_abs_diff_eq!(e.situation.peak_a(), 14.0 / 3.68, epsilon = 1e-3);
        assert_eq!(e.measure, [(Some(EntityId::Supply(SupplyId(2))), "source_ohm")]);
    }
}
