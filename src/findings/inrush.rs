//! `inrush`: at the moment of joining, a higher driver charges the bulk capacitance of the lower one's supply.

use super::shared::at_cut;
use super::units::{amps, ms, volts};
use super::{
    Caution, Class, Cure, Evident, Finding, Found, Kind, Near, Relation, Text, Verdict, View, Words,
};
use crate::job::Job;
use crate::layout::{DriverId, SupplyId};

/// A pole charged at the moment of joining.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The supply.
    pub supply: SupplyId,
    /// From which voltage, V.
    pub from_v: f64,
    /// To which voltage, V.
    pub to_v: f64,
    /// Current at once, A.
    pub amps: f64,
    /// Time constant, s.
    pub tau_s: f64,
    /// Drivers that it trips.
    pub trips: Vec<DriverId>,
    /// How the settings stand to each other.
    pub relation: Relation,
}

impl Evident for Evidence {}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let mut found = Vec::new();
    for (&cut, known) in &view.known {
        let names = &known.around.names;
        let switched = |relation: Relation| {
            known.result.cells.iter().any(|c| c.relation == relation && c.separately_switched)
        };
        let counts = |relation: Relation| {
            relation == Relation::Agree
                || known.result.now_relation == Some(relation)
                || switched(relation)
        };
        let worst = known
            .result
            .inrush
            .iter()
            // Where directions disagree the short itself is told.
            .filter(|i| i.relation != Relation::Disagree)
            .max_by_key(|i| {
                let trips = !i.trips.is_empty();
                (trips && counts(i.relation), i.relation == Relation::Agree, trips)
            });
        let Some(inrush) = worst else { continue };
        let trips = !inrush.trips.is_empty();
        let (class, verdict) = match (trips, counts(inrush.relation)) {
            (true, true) => (Class::Fault, Verdict::Short),
            (true, false) => (Class::Note, Verdict::Short),
            (false, _) => (Class::Note, Verdict::Clear),
        };
        let evidence = Evidence {
            supply: names.supplies[inrush.supply],
            from_v: inrush.from_v,
            to_v: inrush.to_v,
            amps: inrush.amps,
            tau_s: inrush.tau_s,
            trips: inrush.trips.iter().map(|&d| names.drivers[d]).collect(),
            relation: inrush.relation,
        };
        found.push(at_cut(view, cut, Kind::Inrush, class, verdict, evidence));
    }
    found
}

/// True for two notes: at every gap they ask for nothing.
pub(super) fn same_cause(a: &Finding, b: &Finding) -> bool {
    a.class == Class::Note && b.class == Class::Note
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let Evidence { supply, from_v, to_v, amps: current, tau_s, trips, .. } = e;
    let (supply, from_v, to_v, current, tau_s) = (*supply, *from_v, *to_v, *current, *tau_s);
    let name = w.supply(supply);
    // What hangs on a supply that is off has no trip at work.
    let awake: Vec<DriverId> = trips
        .iter()
        .copied()
        .filter(|id| {
            from_v > 0.0 || w.layout.drivers.get(id).is_none_or(|driver| driver.supply != supply)
        })
        .collect();
    let trips = &awake[..];
    let effect = if trips.is_empty() {
        "No trip acts on it.".to_owned()
    } else {
        format!("That trips {}.", w.names(trips))
    };
    Text {
        more: String::new(),
        says: format!(
            "{}: {} rush into {name} when the wheels join the rails{}",
            w.places(),
            amps(current),
            if trips.is_empty() {
                String::new()
            } else {
                format!(", which trips {}", w.names(trips))
            }
        ),
        why: format!(
            "The bulk capacitance of {name} is charged from {} to {}: {} at once, falling with a time constant of \
             {}. {effect}",
            volts(from_v),
            volts(to_v),
            amps(current),
            ms(tau_s),
        ),
        advice: vec![
            "Use supplies of the same voltage, or keep both powered while trains cross.".into(),
        ],
        cautions: vec![Caution::Rewire],
    }
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    // Values of the E6 series (IEC 60063).
    const RESISTORS_OHM: [f64; 6] = [0.47, 1.0, 2.2, 4.7, 10.0, 22.0];
    let mut cures: Vec<Cure> = near.one_voltage().into_iter().map(Cure::from).collect();
    let off = near.finding.drivers.iter().filter_map(|&id| near.switched_together(id).pop());
    cures.extend(off.map(Cure::from));
    cures.extend(RESISTORS_OHM.map(|ohm| Cure::from(Job::LimitInrush { supply: e.supply, ohm })));
    cures
}

#[cfg(test)]
pub(super) mod tests {
    use approx::assert_abs_diff_eq;

    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Evidence as Any, Kind, Verdict, check};

    pub fn pairs() -> Vec<Pair> {
        // 18 V into an empty or lower capacitor: it trips an instant trip.
        let with = yard(
            r#"
            (id: "s1", open_v: 18, source_ohm: 0.05)
            (id: "s2", open_v: 12, source_ohm: 0.05, bulk_f: 0.001, bulk_ohm: 0.05)"#,
        );
        let twin = with_supply(&with, 2, |s| s.bulk_f = None);
        vec![Pair {
            with,
            twin,
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: None,
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: 3.4 A rush into supply s2 when the wheels join the rails, which trips driver d1 and driver d2",
        }]
    }

    #[test]
    fn the_capacitor_is_charged_through_the_whole_loop() {
        // 18 V onto a capacitor at 12 V through one source, four switches, four legs, two rails and its own 0.05 Ω: 1.78 Ω.
        let report = check(&pairs()[0].with);
        let found = the_one(&report, Kind::Inrush, Class::Fault, Verdict::Short);
        let Any::Inrush(e) = &found.evidence else { panic!("{found:?}") };
        assert_abs_diff_eq!(e.from_v, 12.0, epsilon = 1e-3);
        assert_abs_diff_eq!(e.amps, 6.0 / 1.78, epsilon = 1e-3);
        assert_abs_diff_eq!(e.tau_s, 1.78e-3, epsilon = 1e-6);
    }
}
