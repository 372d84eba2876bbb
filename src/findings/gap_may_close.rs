//! `gap-may-close`: an open gap that warm rails and dry benchwork may close.

use super::shared::at_cut;
use super::{
    Caution, Class, Cure, Evident, Found, Kind, Near, Relation, SideWord, Text, Verdict, View,
    Words,
};
use crate::job::Job;
use crate::layout::{Climate, Cut, CutId, Joiners, Layout, Made, Rail, RunId, length_mm};
use crate::rails::{Plan, cut_place_mm};
use crate::straddle::case::FLOOR_OHM;
use crate::study::cut::Case;
use crate::study::judge::NumericStand;
use crate::study::situation::Known;

/// A gap that may close.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The rails in which it may.
    pub rails: Vec<SideWord>,
    /// Length of rail that moves towards the gap, m.
    pub free_m: f64,
    /// From which temperature, °C.
    pub from_c: f64,
    /// To which temperature, °C.
    pub to_c: f64,
    /// Growth of the rail, mm.
    pub rail_mm: f64,
    /// Movement of the benchwork, mm.
    pub benchwork_mm: f64,
    /// Width of the cut, mm.
    pub width_mm: f64,
}

impl Evident for Evidence {}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let mut found = Vec::new();
    let climate = view.layout.climate.unwrap_or_default();
    for (&id, known) in &view.known {
        let Some(cut) = view.layout.cuts.get(&id).filter(|cut| cut.made == Made::Open) else {
            continue;
        };
        let closing: Vec<(Rail, Moved)> = Rail::BOTH
            .into_iter()
            .filter_map(|rail| Some((rail, moved(view.layout, &view.plan, cut, rail, &climate)?)))
            .filter(|(_, moved)| moved.rail_mm + moved.benchwork_mm >= cut.width_mm)
            .collect();
        let most = closing.iter().map(|c| c.1).max_by(|a, b| a.free_m.total_cmp(&b.free_m));
        let Some(most) = most else { continue };
        // Without a word about the room it is worth knowing, no more.
        let (class, verdict) = if view.layout.climate.is_some() {
            let rails: Vec<Rail> = closing.iter().map(|c| c.0).collect();
            (Class::Fault, merged(view, known, &rails).max(Verdict::Caution))
        } else {
            (Class::Note, Verdict::Caution)
        };
        let evidence = Evidence {
            rails: closing.iter().map(|c| SideWord::from(c.0)).collect(),
            free_m: most.free_m,
            from_c: from_c(cut, &climate),
            to_c: climate.hottest_c,
            rail_mm: most.rail_mm,
            benchwork_mm: most.benchwork_mm,
            width_mm: cut.width_mm,
        };
        found.push(at_cut(view, id, Kind::GapMayClose, class, verdict, evidence));
    }
    found
}

/// How far the two sides of a gap move together in one rail.
#[derive(Debug, Clone, Copy)]
struct Moved {
    free_m: f64,
    rail_mm: f64,
    benchwork_mm: f64,
}

/// From the temperature at cutting, if it is known, else over the whole range.
fn from_c(cut: &Cut, climate: &Climate) -> f64 {
    cut.cut_at_c.unwrap_or(climate.coldest_c)
}

/// A length of rail that nothing holds grows about its middle: half of it towards the gap, on each side.
fn moved(layout: &Layout, plan: &Plan, cut: &Cut, rail: Rail, climate: &Climate) -> Option<Moved> {
    let at_mm = cut_place_mm(cut, rail)?;
    let whole_mm: f64 = [false, true]
        .map(|ahead| rail_mm(layout, plan, (cut.run, rail, at_mm), ahead))
        .iter()
        .sum();
    let free_m = whole_mm / 2000.0;
    let kelvin = (climate.hottest_c - from_c(cut, climate)).max(0.0);
    Some(Moved {
        free_m,
        rail_mm: free_m * climate.rail_um_per_m_k * kelvin / 1000.0,
        benchwork_mm: free_m * climate.benchwork_mm_per_m,
    })
}

/// Length of one rail from a gap to where it can move: the next gap in it, the end of the track, or a joint whose rail
/// joiners are not soldered, mm.
fn rail_mm(
    layout: &Layout,
    plan: &Plan,
    (mut run, mut rail, from_mm): (RunId, Rail, f64),
    mut ahead: bool,
) -> f64 {
    // A cut may stand a hair off the joint.
    const HAIR_MM: f64 = 0.02;
    let mut found = 0.0;
    let mut start = Some(from_mm);
    // Round a ring one comes back to the gap itself.
    for _ in 0..2 * layout.runs.len() + 2 {
        let Some(drawn) = layout.runs.get(&run) else { break };
        let length = length_mm(layout, drawn);
        let here = start.unwrap_or(if ahead { 0.0 } else { length });
        let beyond = |at: f64| {
            let past = if ahead { at - here } else { here - at };
            // The gap one starts from is not the next; one at a joint that one comes through is.
            (if start.is_some() { past > HAIR_MM } else { past >= -HAIR_MM }).then_some(past)
        };
        let next = layout
            .cuts
            .values()
            .filter(|cut| cut.run == run)
            .filter_map(|cut| beyond(cut_place_mm(cut, rail)?))
            .min_by(f64::total_cmp);
        if let Some(past) = next {
            return found + past.max(0.0);
        }
        let rest = if ahead { length - here } else { here };
        found += rest.max(0.0);
        let joint = if ahead { drawn.to } else { drawn.from };
        let slides = layout.joints.get(&joint).is_none_or(|j| j.joiners != Joiners::Soldered);
        // At a gap that stands at the joint there is no joiner.
        let at_gap = start.is_some() && rest <= HAIR_MM;
        if slides && !at_gap {
            break;
        }
        // Special work holds its rails.
        let Some(way) = plan.beyond(run, ahead).filter(|way| way.special.is_none()) else { break };
        if ahead != way.at_start {
            rail = rail.other();
        }
        (run, ahead, start) = (way.run, way.at_start, None);
    }
    found
}

/// What the two blocks do to each other once the gap is closed, at the worst settings that both can have: the case of
/// the cut, with metal in the place of wheels.
fn merged(view: &View, known: &Known, rails: &[Rail]) -> Verdict {
    let [before, after] = known.case.rails;
    let touched = [Rail::Left, Rail::Right].map(|rail| {
        let side = usize::from(rail == Rail::Right);
        match (before[side], after[side]) {
            (Some(a), Some(b)) if rails.contains(&rail) && a != b => vec![(a, 1), (b, 1)],
            _ => Vec::new(),
        }
    });
    let stand = NumericStand::of_metal(touched, FLOOR_OHM);
    let case = Case {
        stands: vec![stand].into(),
        footings: Default::default(),
        ..Case::clone(&known.case)
    };
    let result = view.solved(&case);
    [Relation::Agree, Relation::Disagree]
        .into_iter()
        .filter_map(|relation| result.worst(relation).worst)
        .chain(result.now.worst.clone())
        .map(|evaluated| evaluated.judged.verdict)
        .max()
        .unwrap_or_default()
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let which = match &e.rails[..] {
        [SideWord::Left] => "the left rail",
        [SideWord::Right] => "the right rail",
        _ => "both rails",
    };
    let units = w.units;
    let mut more = format!(
        "{} of rail moves towards it: half of what is free on each side.",
        units.length(e.free_m * 1000.0)
    );
    if w.layout.climate.is_none() {
        more.push_str(" The room's temperatures are not stated; these are assumed.");
    }
    Text {
        says: format!(
            "{}: {which} may close when the room is warm and dry; fill the gap or make it wider",
            w.gap()
        ),
        why: format!(
            "From {} to {} the rail grows by {} towards the gap, and as the benchwork dries it shrinks by {}. Together {} \
             close a gap of {}.",
            units.temperature(e.from_c),
            units.temperature(e.to_c),
            units.fine_mm(e.rail_mm),
            units.fine_mm(e.benchwork_mm),
            units.fine_mm(e.rail_mm + e.benchwork_mm),
            units.fine_mm(e.width_mm)
        ),
        more,
        advice: vec![
            "Fill the gap with a glued piece that insulates.".into(),
            "Or make it wider, or leave slack at unsoldered rail joiners near it.".into(),
            "Or state the temperature at which it was cut.".into(),
        ],
        cautions: vec![Caution::Saw],
    }
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    let cuts = near.finding.cuts();
    let all =
        |job: &dyn Fn(CutId) -> Job| Cure::from(cuts.iter().map(|&c| job(c)).collect::<Vec<_>>());
    let width_mm = ((e.rail_mm + e.benchwork_mm) * 10.0).ceil() / 10.0 + 0.2;
    vec![all(&Job::Fill), all(&|cut| Job::Widen { cut, width_mm })]
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::Climate;

    pub fn pairs() -> Vec<Pair> {
        // Half of 1 m on each side: 1 m · 16.2 µm/m·K · 13 K = 0.2106 mm of rail, and 0.1 mm of benchwork. Merged, the two
        // blocks short as soon as their directions differ.
        let room = in_climate(&yard(""), Some(Climate::default()));
        let with = with_cut(&room, |cut| cut.width_mm = 0.31);
        let twin = with_cut(&room, |cut| cut.width_mm = 0.32);
        vec![Pair {
            with,
            twin,
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: None,
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: both rails may close when the room is warm and dry; fill the gap or make it wider",
        }]
    }
}
