//! `section-too-short`: a train bridges both ends of a section, and what lies beyond them does not fit; or a block is
//! shorter than what stands over it.

use super::shared::crossing_words::verb;
use super::shared::{crossing, loops};
use super::table;
use super::units::amps;
use super::words::capital;
use super::{Caution, Cure, Evident, Finding, Found, Kind, Near, Situation, Text, View, Words};
use crate::job::Job;

/// How it shows.
#[derive(Debug, Clone, PartialEq)]
#[allow(clippy::large_enum_variant)] // Few are made, and none is kept in an array.
pub enum Evidence {
    /// What a train does at some settings.
    Train(crossing::Evidence),
    /// By its length alone.
    Apart(loops::Apart),
}

impl Evident for Evidence {
    fn situation(&self) -> Option<&Situation> {
        match self {
            Evidence::Train(e) => e.situation(),
            Evidence::Apart(e) => e.situation(),
        }
    }
}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let trains = crossing::of_kind(view, Kind::SectionTooShort).into_iter();
    let mut found: Vec<_> = trains.map(|f| f.map(Evidence::Train)).collect();
    // Lengths do not depend on positions.
    if view.is_now {
        found.extend(loops::too_short(view).into_iter().map(|f| f.map(Evidence::Apart)));
    }
    found
}

/// True if one finding about a section makes another needless: what holds however everything is set goes before what a train
/// does at some settings, and that before a block that is merely shorter than a vehicle.
pub(super) fn covers(finding: &Finding, other: &Finding) -> bool {
    let (Some(graver), Some(milder)) = (rank(finding), rank(other)) else { return false };
    if graver <= milder {
        return false;
    }
    let (cuts, others) = (finding.cuts(), other.cuts());
    let common = cuts.iter().filter(|cut| others.contains(cut)).count();
    match milder {
        // Two ends of the section are among what the train bridges.
        Rank::Train => common > 1,
        Rank::Short | Rank::Section => {
            finding.blocks == other.blocks || (cuts.len() == others.len() && common == cuts.len())
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Rank {
    /// A block that is shorter than a vehicle.
    Short,
    /// What a train does at some settings.
    Train,
    /// A reversing section that trains bridge however everything is set.
    Section,
}

fn rank(finding: &Finding) -> Option<Rank> {
    let table::Evidence::SectionTooShort(evidence) = &finding.evidence else { return None };
    Some(match **evidence {
        Evidence::Train(_) => Rank::Train,
        Evidence::Apart(loops::Apart { reversing: true, .. }) => Rank::Section,
        Evidence::Apart(loops::Apart { reversing: false, .. }) => Rank::Short,
    })
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    match e {
        Evidence::Train(e) => train(e, w),
        Evidence::Apart(e) => by_length(e, w),
    }
}

fn by_length(e: &loops::Apart, w: &Words) -> Text {
    let (block, who) = (w.block(0), w.who(&e.longest));
    let across = if e.apart.across { " across its neighbours" } else { "" };
    let [apart, longest] = [e.apart.mm, e.longest.mm].map(|mm| w.units.mm(mm));
    if !e.reversing {
        return Text {
            says: format!(
                "{block} is shorter than {who} stands long; make it longer than {longest}"
            ),
            why: format!(
                "Two of its ends are {apart} apart, and the joined pickups of {who} reach over {longest}. Standing over it \
                 they join the blocks on both sides."
            ),
            more: String::new(),
            advice: vec![
                format!("Move its gaps until it is longer than {longest}."),
                "Or see that the blocks on both sides agree whenever it is passed.".into(),
            ],
            cautions: vec![Caution::Saw],
        };
    }
    Text {
        says: format!(
            "{block} is too short for a reversing section: {apart} between its ends{across}, {longest} can be bridged; move \
             its gaps apart"
        ),
        why: format!(
            "{}, so its wheels bridge two ends of {block} at once. One end is the wrong way round however the section is \
             set: a short.",
            capital(&w.bridges(&e.longest)),
        ),
        more: format!("{} are missing.", w.units.mm(e.longest.mm - e.apart.mm)),
        advice: vec![
            format!("Move its gaps until more than {longest} of track is between any two of them, as a train runs."),
            "Or let no train through that is longer than that from its first to its last metal wheels.".into(),
        ],
        cautions: vec![Caution::Saw],
    }
}

/// A train joins across a section what does not fit.
fn train(e: &crossing::Evidence, w: &Words) -> Text {
    let vehicle = w.mover(e.situation.train, e.situation.vehicle);
    Text {
        says: format!(
            "{}: {vehicle} bridges {} at once, and what it joins does not fit; it {} at {}",
            w.gap(),
            w.all_gaps(),
            verb(e.situation.verdict),
            amps(e.situation.peak_a()),
        ),
        why: format!(
            "With {} each gap by itself is passed, but {vehicle} is long enough to stand over {} at the same time. Its \
             pickups then join a positive rail to a negative one: {}.",
            w.settings(&e.situation),
            w.all_gaps(),
            amps(e.situation.peak_a()),
        ),
        more: w.more(e),
        advice: vec![
            "Move the gaps apart until no train can stand over all of them at once.".into(),
            "Or see that the blocks beyond them agree whenever such a train passes.".into(),
        ],
        cautions: vec![Caution::Saw],
    }
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    // Under a train the distance is not known beside its length: the ends are moved by steps.
    let rooms_mm = match e {
        Evidence::Apart(e) => vec![e.longest.mm - e.apart.mm + 10.0],
        Evidence::Train(_) => vec![50.0, 150.0, 400.0],
    };
    let cuts = near.finding.cuts().into_iter();
    let moved = cuts.flat_map(|cut| {
        let to = |by: f64| near.beside_cut(cut, by).map(|(_, at_mm)| Job::MoveCut { cut, at_mm });
        let moved = rooms_mm.iter().flat_map(|mm| [*mm, -*mm]).filter_map(to);
        moved.chain([Job::BridgeCut(cut)]).collect::<Vec<Job>>()
    });
    moved.map(Cure::from).collect()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};

    pub fn pairs() -> Vec<Pair> {
        // A loop of 1400 mm between its two gaps, and a train that bridges 1630 mm.
        let fed =
            |cuts: &[(u32, f64)]| return_loop(cuts, &format!("{TWO_DRIVERS} {NAMES} {ORE_TRAIN}"));
        vec![Pair {
            with: fed(TWO_CUTS),
            twin: fed(&[(2, 200.0), (3, 831.0)]),
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: None,
            cuts: &[1, 2],
            blocks: 1,
            says: "Loop is too short for a reversing section: 1400 mm between its ends, 1630 mm can be bridged; move its gaps apart",
        }]
    }
}
