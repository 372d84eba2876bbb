//! `points-mid-throw`: live points and the contact that feeds the same metal do not move at once. For the moment between
//! them one takes the polarity of one stock rail and the other that of the other.

use crate::job::Job;
use std::collections::BTreeSet;

use super::units::amps;
use super::words::spaced;
use super::{
    Caution, Class, Cure, Evident, Found, Kind, Near, Place, SelectorAt, Situation, Text, Verdict,
    View, Words,
};
use crate::layout::{DriverId, Frog, Special};
use crate::rails::{Plan, Positions, SelectorId};
use crate::study::fight;

/// Current with no train between the movements of points and contact.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// What flows.
    pub situation: Situation,
}

impl Evident for Evidence {
    fn situation(&self) -> Option<&Situation> {
        Some(&self.situation)
    }
}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    // A contact on a lever of its own is not thrown with the points: its positions are searched beside theirs.
    let both = |special: &&Special| {
        special.work.frog() == Some(Frog::PowerRoutingWithContact)
            && !special.contact.open_between
            && !special.has_contact_lever()
    };
    let specials = view.layout.specials.values().filter(both);
    specials.filter_map(|special| of_special(view, special)).collect()
}

/// The worst moment of any throw from one position to another.
fn of_special(view: &View, special: &Special) -> Option<Found<Evidence>> {
    let layout = view.layout;
    let (points, contact) = (SelectorId::Points(special.id), SelectorId::Contact(special.id));
    let all = 0..special.work.positions();
    let together = |position: u32| {
        let mut positions = Positions::default();
        positions.throw(layout, points, position);
        positions
    };
    // Drivers that meet once both have moved are a finding of those positions.
    let settled: BTreeSet<[DriverId; 2]> =
        all.clone().flat_map(|at| meeting(&view.at(together(at)).plan)).collect();
    let mut worst: Option<([DriverId; 2], [SelectorAt; 2], Situation)> = None;
    for (from, to) in all.clone().flat_map(|from| all.clone().map(move |to| (from, to))) {
        if from == to {
            continue;
        }
        let (blade, fed) = if special.contact.before_points { (from, to) } else { (to, from) };
        let mut positions = together(blade);
        positions.throw(layout, contact, fed);
        let between = view.at(positions);
        for [a, b] in meeting(&between.plan).into_iter().filter(|pair| !settled.contains(pair)) {
            let Some(new) = fight::worst(&between, &[a, b]) else { continue };
            let weight = |s: &Situation| (s.verdict, s.peak_a());
            if worst.as_ref().is_none_or(|(.., old)| weight(&new) > weight(old)) {
                let at = |id, position| SelectorAt { id, position };
                worst = Some(([a, b], [at(points, blade), at(contact, fed)], new));
            }
        }
    }
    let (drivers, selectors, situation) = worst?;
    let blocks = view.plan.blocks.iter();
    let blocks = blocks.filter(|block| drivers.iter().any(|d| block.drivers.contains(d)));
    let blocks = blocks.map(|block| block.id).collect();
    let mut drivers = drivers.to_vec();
    drivers.dedup();
    let verdict = situation.verdict.max(Verdict::Caution);
    Some(Found {
        places: vec![Place::Special(special.id)],
        blocks,
        positions: vec![selectors.to_vec()],
        drivers,
        ..Found::new(Kind::PointsMidThrow, Class::Note, verdict, Evidence { situation })
    })
}

/// Pairs of drivers of which legs end on one net; a driver by itself where both its poles do.
fn meeting(plan: &Plan) -> BTreeSet<[DriverId; 2]> {
    let mut pairs = BTreeSet::new();
    for net in &plan.nets {
        let ends: Vec<(DriverId, bool)> = net
            .legs
            .iter()
            .map(|leg| (leg.driver, leg.is_p))
            .collect::<BTreeSet<_>>()
            .into_iter()
            .collect();
        for (at, &(a, _)) in ends.iter().enumerate() {
            pairs.extend(ends[at + 1..].iter().map(|&(b, _)| [a, b]));
        }
    }
    pairs
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let situation = &e.situation;
    let id = w.finding.special();
    let work = id.map_or_else(String::new, |id| w.special_name(id));
    let special = id.and_then(|id| w.layout.specials.get(&id));
    let order = if special.is_some_and(|special| special.contact.before_points) {
        "The contact is thrown before the points leave their stock rail."
    } else {
        "The contact is thrown after the points have reached the other stock rail."
    };
    let does = if w.finding.drivers.len() == 1 { "is shorted" } else { "fight" };
    Text {
        says: format!(
            "{work}: for a moment of each throw {} {does} at {}; let the contact break before the points move",
            w.names(&w.finding.drivers),
            amps(situation.peak_a())
        ),
        why: format!(
            "{order} In between, the points give the frog the polarity of one stock rail and the contact gives it that of the \
             other."
        ),
        more: spaced(&[&format!("Computed with {}.", w.settings(situation)), &w.trips(situation)]),
        advice: vec![
            "Use a contact that breaks before the points leave one stock rail and makes after they reach the other; then \
             state that it is open while the points move."
                .into(),
            "Or cut off the frog all round and bond points and closure rails to their own stock rails: the contact then \
             feeds the frog alone."
                .into(),
        ],
        cautions: vec![Caution::Rewire, Caution::Saw, Caution::Solder],
    }
}

pub fn cures(_: &Evidence, near: &Near) -> Vec<Cure> {
    near.finding.special().map(|special| Job::BreakBefore(special).into()).into_iter().collect()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};

    pub fn pairs() -> Vec<Pair> {
        let live = |contact: &str| turnout("PowerRoutingWithContact", contact, "", "");
        vec![Pair {
            with: live(""),
            twin: live(", contact: (open_between: true)"),
            class: Class::Note,
            verdict: Verdict::Short,
            peak_a: Some(14.0 / THROUGH_OHM),
            cuts: &[],
            blocks: 2,
            says: "Turnout w1: for a moment of each throw driver d1 is shorted at 16 A; let the contact break before the points move",
        }]
    }
}
