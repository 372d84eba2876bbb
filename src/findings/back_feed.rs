//! `back-feed`: a supply's pole is lifted, or current flows into a supply.

use super::shared::crossing::{self, Change};
use super::table;
use super::units::{amps, volts};
use super::words::{and, capital};
use super::{Caution, Class, Cure, Finding, Found, Kind, Near, Text, Verdict, View, Words};
use crate::layout::SupplyId;

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::BackFeed)
}

/// True for lifts that no stated voltage speaks against, of supplies that are alike on or off; and for findings of one
/// class that the same changes remove.
pub(super) fn same_cause(a: &Finding, b: &Finding) -> bool {
    let (table::Evidence::BackFeed(one), table::Evidence::BackFeed(other)) =
        (&a.evidence, &b.evidence)
    else {
        return false;
    };
    let merely = |f: &Finding, e: &Evidence| {
        f.class == Class::Note && f.verdict <= Verdict::Caution && !e.lifted.is_empty()
    };
    let alike = |e: &Evidence| e.lifted.iter().all(|lift| lift.powered);
    (merely(a, one) && merely(b, other) && alike(one) == alike(other))
        || crossing::same_changes((a, one), (b, other))
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    if !w.woken(&e.situation).is_empty() && e.lifted.is_empty() {
        woken(e, w)
    } else if e.lifted.is_empty() {
        sunk(e, w)
    } else {
        lifted(e, w)
    }
}

/// A board whose supply is off wakes and clamps.
fn woken(e: &Evidence, w: &Words) -> Text {
    let boards = w.names(&w.woken(&e.situation));
    Text {
        says: format!(
            "{}: {boards}, whose supply is off, wakes and clamps the neighbour; {}",
            w.places(),
            w.outcome(e)
        ),
        why: format!(
            "{} and power {boards} through the body diodes of its bridge; it wakes, idles and clamps its rails: {}. It \
             starves itself, falls asleep and wakes again: it hiccups.",
            capital(&w.wheels(e)),
            amps(e.situation.peak_a()),
        ),
        more: w.more(e),
        advice: vec!["Switch neighbouring supplies on and off together.".into()],
        cautions: vec![Caution::Rewire],
    }
}

/// Current flows into a supply that takes it.
fn sunk(e: &Evidence, w: &Words) -> Text {
    let takes: Vec<String> =
        e.sunk.iter().map(|&(id, a)| format!("{} takes back {}", w.supply(id), amps(a))).collect();
    let what = if takes.is_empty() {
        "a source of higher voltage feeds one of lower voltage".to_owned()
    } else {
        and(&takes)
    };
    Text {
        says: format!("{}: {what}; {}", w.places(), w.outcome(e)),
        why: format!(
            "With {} the side of higher voltage feeds the lower one through its switches and diodes: {}.",
            w.settings(&e.situation),
            amps(e.situation.peak_a()),
        ),
        more: w.more(e),
        advice: if e.changes.contains(&Change::OneVoltage) {
            vec!["Use supplies of the same voltage on neighbouring blocks.".into()]
        } else {
            Vec::new()
        },
        cautions: vec![Caution::Rewire],
    }
}

/// A pole stands above what its supply gives.
fn lifted(e: &Evidence, w: &Words) -> Text {
    let off = e.lifted.iter().all(|lift| !lift.powered);
    let parts: Vec<String> = e
        .lifted
        .iter()
        .map(|lift| {
            format!(
                "{} is lifted from {} to {}",
                w.supply(lift.supply),
                volts(lift.own_v),
                volts(lift.to_v)
            )
        })
        .collect();
    let what = and(&parts);
    let bears = |id: SupplyId| w.layout.supplies.get(&id).and_then(|s| s.bearable_v);
    let borne: Vec<String> = e
        .lifted
        .iter()
        .filter_map(|lift| {
            Some(format!(
                "{} bears {}",
                capital(&w.supply(lift.supply)),
                volts(bears(lift.supply)?.value)
            ))
        })
        .collect();
    let several = w.finding.cuts().len() > 1;
    let says = if several && off {
        format!("{}: a board whose supply is off is powered through the rails", w.places())
    } else if several {
        format!("{}: a lower supply is lifted by a higher one", w.places())
    } else {
        format!("{}: {what}", w.places())
    };
    let mut why = format!(
        "With {} {what} through {}; once its capacitors are charged no current flows.",
        w.settings(&e.situation),
        if off { "the body diodes of its driver" } else { "the switches and diodes of its driver" },
    );
    if borne.is_empty() {
        why.push_str(" What the pole may bear is not stated, so this is only worth knowing.");
    } else {
        why.push_str(&format!(" {}.", and(&borne)));
    }
    let mut advice = Vec::new();
    if e.changes.contains(&Change::OneVoltage) {
        advice.push("Use supplies of the same voltage on neighbouring blocks.".into());
    }
    if off {
        advice.push("Switch neighbouring supplies on and off together.".into());
    }
    if borne.is_empty() {
        advice.push(
            "State the highest voltage that each supply and board bears, from its data sheet."
                .into(),
        );
    }
    Text { says, why, more: w.every_place(), advice, cautions: vec![Caution::Rewire] }
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    let mut cures = crossing::cures(e, near);
    cures.extend(near.one_voltage().into_iter().map(Cure::from));
    let off = near.finding.drivers.iter().filter_map(|&id| near.switched_together(id).pop());
    cures.extend(off.map(Cure::from));
    cures
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::{Drive, Quantity};

    pub fn pairs() -> Vec<Pair> {
        // 18 V forward over 12 V forward: nothing flows, but the lower pole stands at 18 V, 2 V beyond what it bears. A's
        // high switch, B's on-switch: no diode drop, as both drive.
        let with = yard(
            r#"
            (id: "s1", open_v: 18, source_ohm: 0.05)
            (id: "s2", open_v: 12, source_ohm: 0.05, bearable_v: 16)
            (id: "d1", supply: "s1", drive: SmoothDc(output_ohm: 0.5), $STAGE, $TRIP, $F(0.4))"#,
        );
        let twin = with_driver(&with, D2, |d| {
            d.drive = Drive::SmoothDc {
                output_ohm: Quantity::given(0.5),
                can_sink: false,
                clamped_at_zero: false,
            };
        });
        vec![Pair {
            with,
            twin,
            class: Class::Fault,
            verdict: Verdict::BackFeed,
            peak_a: Some(0.0),
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: supply s2 is lifted from 12 V to 18 V",
        }]
    }
}
