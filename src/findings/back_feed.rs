//! `back-feed`: a supply's pole is lifted, or current flows into a supply.

use super::shared::crossing;
use super::table;
use super::units::{amps, volts};
use super::words::{and, capital};
use super::{Class, Cure, Finding, Found, Kind, Relation, Text, Verdict, View, Words};
use crate::layout::Layout;

pub use super::shared::crossing::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    crossing::of_kind(view, Kind::BackFeed)
}

/// True for two dead neighbours that are merely powered through their diodes: at nearly every gap it is so alike.
pub(super) fn same_cause(a: &Finding, b: &Finding) -> bool {
    let merely = |f: &Finding| {
        f.class == Class::Note
            && f.verdict <= Verdict::Caution
            && matches!(&f.evidence, table::Evidence::BackFeed(e) if e.relation == Some(Relation::OneDead))
    };
    merely(a) && merely(b)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let Evidence { situation, relation, lifted, sunk, .. } = e;
    let mut parts: Vec<String> = lifted
        .iter()
        .map(|&(id, from, to)| {
            format!("{} is lifted from {} to {}", w.supply(id), volts(from), volts(to))
        })
        .collect();
    parts.extend(sunk.iter().map(|&(id, a)| format!("{} takes back {}", w.supply(id), amps(a))));
    let what =
        if parts.is_empty() { "current flows back into a supply".to_owned() } else { and(&parts) };
    let dead = *relation == Some(Relation::OneDead);
    let mut why = format!(
        "With {} the higher side feeds the lower one through {}: {what}{}.",
        w.settings(situation),
        if dead {
            "the body diodes of the dead driver"
        } else {
            "the lower driver's switches and diodes"
        },
        if situation.share > 0.0 {
            format!(", with up to {}", amps(situation.peak_a()))
        } else {
            "; once its capacitors are charged no current flows".into()
        },
    );
    let bearable = lifted.iter().find_map(|&(id, _, to)| {
        let bears = w.layout.supplies.get(&id)?.bearable_v?;
        Some(format!(
            " {} bears {}; {} would stand on it.",
            capital(&w.supply(id)),
            volts(bears.value),
            volts(to)
        ))
    });
    why.push_str(&bearable.unwrap_or_else(|| {
        if lifted.is_empty() {
            String::new()
        } else {
            " What the pole may bear is not stated, so this is only worth knowing.".into()
        }
    }));
    let trips = w.trips(situation);
    if !trips.is_empty() {
        why.push(' ');
        why.push_str(&trips);
    }
    let cuts = w.finding.cuts();
    let says = match cuts.len() {
        0 | 1 => format!("{}: {what}", w.gap()),
        n => {
            let names: Vec<String> = w
                .report
                .cuts
                .iter()
                .filter(|cut| cuts.contains(&cut.id))
                .map(|cut| cut.name.clone())
                .collect();
            why.push_str(&format!(" The same holds at each of {}.", and(&names)));
            format!("{n} gaps: a board whose supply is off is powered through the rails")
        }
    };
    Text {
        more: String::new(),
        says,
        why,
        advice: vec![
            if dead {
                "Switch neighbouring supplies on and off together.".into()
            } else {
                "Use supplies of the same voltage on neighbouring blocks.".into()
            },
            "State the highest voltage that each supply and board bears, from its data sheet."
                .into(),
        ],
    }
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
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
            with: with,
            twin: twin,
            class: Class::Fault,
            verdict: Verdict::BackFeed,
            peak_a: Some(0.0),
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: supply s2 is lifted from 12.0 V to 18.0 V",
        }]
    }
}
