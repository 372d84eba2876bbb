//! The plan of a layout with the reversing sections that cost least.

use super::cells::CUT;
use super::plan::{Labels, Planned, with_sections};
use super::section::{Candidate, Choice, Control, Ground, Part, REVERSER_CUTS, candidates, kept};
use super::wish::{At, NoPlan, Stretch, Wishes};
use crate::cure::applied;
use crate::job::Job;
use crate::layout::{CutId, Layout, RunId, length_mm, shown};
use crate::rails::{Plan, Within};
use crate::study::loops::Ways;

/// Sets of sections for which the rest is planned.
const MOST_PLANNED: usize = 24;

/// A reversing section of a plan.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Section {
    parts: Vec<Part>,
    /// Ends where both rails are cut anew.
    pub(super) ends: Vec<(RunId, f64)>,
    /// Ends at cuts that are there.
    pub(super) kept: Vec<CutId>,
    /// The stretch that it is, by its index in the wishes with sections.
    pub(super) owner: usize,
    /// True if that is a stretch wished for.
    pub(super) has_name: bool,
    pub(super) control: Control,
}

impl Section {
    /// True if a place is in it.
    pub(super) fn has(&self, run: RunId, at_mm: f64) -> bool {
        self.parts.iter().any(|part| part.has(run, at_mm))
    }
}

/// What turns a reversing section of a plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turned {
    /// An auto-reverser, by itself.
    ByItself,
    /// A reversing switch.
    BySwitch,
    /// What turns it already.
    AsNow,
}

/// A reversing section of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Reversing {
    /// Its name.
    pub name: String,
    /// The nearest of its ends to each other, mm.
    pub apart_mm: Option<f64>,
    /// What turns it.
    pub turned: Turned,
}

/// Plans track that comes back on itself with its rails exchanged.
pub(super) fn with_best_sections(
    layout: &Layout,
    wishes: &Wishes,
    drawn: &Plan,
) -> Result<Planned, NoPlan> {
    let (loops, there) = kept(layout, drawn);
    let ground = Ground::of(layout, drawn, wishes);
    let all = candidates(&ground, &loops, &there);
    let mut choice = Choice::of(drawn, &all, wishes, ground.is_digital());
    let mut best: Option<(u64, Planned)> = None;
    let mut why: Option<NoPlan> = None;
    let (mut planned, mut proved) = (0, false);
    loop {
        let Some((price, set)) = choice.next() else {
            proved = !choice.is_cut_short();
            break;
        };
        if best.as_ref().is_some_and(|(cost, _)| *cost <= price) {
            proved = true;
            break;
        }
        if planned == MOST_PLANNED {
            break;
        }
        planned += 1;
        let set: Vec<&Candidate> = set.iter().map(|&at| &all[at]).collect();
        match of_set(layout, wishes, drawn, &ground, &set) {
            Ok((cost, plan)) if best.as_ref().is_none_or(|(least, _)| cost < *least) => {
                best = Some((cost, plan));
            }
            Ok(_) => {}
            Err(no) => why = why.or(Some(no)),
        }
    }
    match best {
        Some((_, plan)) => Ok(Planned { sections_proved: proved, ..plan }),
        None => Err(why.unwrap_or_else(|| no_room(&ground))),
    }
}

fn no_room(ground: &Ground) -> NoPlan {
    NoPlan(format!(
        "The plan cannot be made: the track comes back on itself with its rails exchanged, and no length of it can be a \
         reversing section. One takes {:.0} mm between any two of its ends, clear of special work, of names of other \
         stretches and of places where a train is held. Move a name, or wish for a shorter train (longest).",
        ground.needs().length_mm
    ))
}

/// The plan with one set of sections, and its cost.
fn of_set(
    layout: &Layout,
    wishes: &Wishes,
    drawn: &Plan,
    ground: &Ground,
    set: &[&Candidate],
) -> Result<(u64, Planned), NoPlan> {
    let mut wishes = wishes.clone();
    let mut sections = Vec::new();
    let unnamed = set.iter().filter(|c| c.owner.is_none()).count();
    for candidate in set {
        let mut section = Section {
            parts: candidate.parts.clone(),
            ends: candidate.ends.clone(),
            kept: candidate.kept.clone(),
            owner: candidate.owner.unwrap_or(wishes.apart.len()),
            has_name: candidate.owner.is_some(),
            control: candidate.control,
        };
        if candidate.owner.is_none() {
            let number =
                if unnamed > 1 { format!(" {}", sections.len() + 1) } else { String::new() };
            let Some(at) = place_in(layout, drawn, &section) else {
                return Err(NoPlan(
                    "The plan cannot be made: a reversing section has no plain track for a feed."
                        .into(),
                ));
            };
            section.owner = wishes.apart.len();
            wishes.apart.push(Stretch::new(&format!("reversing section{number}"), vec![at]));
        }
        sections.push(section);
    }
    let (mut plan, Labels { cost }) = with_sections(layout, &wishes, drawn, &sections)?;
    plan.sections = said(layout, &wishes, &plan, &sections, ground)?;
    let new = sections.iter().filter(|s| s.control == Control::New).count() as u64;
    Ok((cost + new * REVERSER_CUTS * CUT, plan))
}

/// A place in a section for its feed: that of a feed that is there, or the middle of its longest plain track.
fn place_in(layout: &Layout, drawn: &Plan, section: &Section) -> Option<At> {
    let mut feeds = layout.feeds.values().filter(|feed| section.has(feed.run, feed.at_mm));
    if let Some(feed) = feeds.next() {
        return Some(At { run: feed.run, at_mm: feed.at_mm });
    }
    let ends = |run: RunId| {
        let specials = layout.specials.values();
        let ends =
            specials.flat_map(|s| s.work.ends().into_iter().map(move |e| (e, s.work.reach_mm())));
        ends.filter(move |(end, _)| end.run == run).collect::<Vec<_>>()
    };
    let plain = section.parts.iter().filter_map(|part| {
        let length = layout.runs.get(&part.run).map(|run| length_mm(layout, run))?;
        let (mut from, mut to) = (part.from_mm, part.to_mm);
        for (end, reach) in ends(part.run) {
            match end.end {
                crate::layout::RunEnd::Start => from = from.max(reach),
                crate::layout::RunEnd::End => to = to.min(length - reach),
            }
        }
        let at_mm = ((from + to) / 2.0).round();
        let piece =
            drawn.pieces_of(part.run).iter().find(|p| p.from_mm < at_mm && at_mm < p.to_mm)?;
        let sound = from < to && matches!(piece.within, Within::Block(_));
        sound.then_some((to - from, At { run: part.run, at_mm }))
    });
    plain.reduce(|a, b| if b.0 > a.0 { b } else { a }).map(|(_, at)| at)
}

/// The sections of a plan in words, each as long as it has to be.
fn said(
    layout: &Layout,
    wishes: &Wishes,
    plan: &Planned,
    sections: &[Section],
    ground: &Ground,
) -> Result<Vec<Reversing>, NoPlan> {
    let is_cut = |job: &&Job| matches!(job, Job::AddCut { .. } | Job::CutBoth(_));
    let cuts: Vec<Job> = plan.jobs.iter().map(|(job, _)| job).filter(is_cut).cloned().collect();
    let refused = |why| NoPlan(format!("The plan cannot be made: {why}"));
    let cut = applied(layout, &cuts).map_err(refused)?;
    let after = Plan::derive(&cut);
    let ways = Ways::of(&cut, &after);
    let mut said = Vec::new();
    for section in sections {
        let name = wishes.apart[section.owner].name.clone();
        let at = wishes.apart[section.owner].at.first();
        let piece = at.and_then(|at| {
            after
                .pieces
                .iter()
                .position(|p| p.run == at.run && p.from_mm <= at.at_mm && at.at_mm <= p.to_mm)
        });
        let block = piece.map(|piece| after.metal.track.stretches[piece].block);
        let apart_mm = block.and_then(|block| ways.ends_apart(block)).map(|ends| ends.mm);
        if section.control != Control::There
            && apart_mm.is_some_and(|mm| mm <= ground.needs().bridges_mm)
        {
            return Err(NoPlan(format!(
                "The plan cannot be made: two ends of {} would be {:.0} mm apart, and a train bridges {:.0} mm.",
                shown(&name),
                apart_mm.unwrap_or_default(),
                ground.needs().bridges_mm
            )));
        }
        let turned = match section.control {
            Control::There => Turned::AsNow,
            Control::New if ground.is_digital() => Turned::ByItself,
            Control::New => Turned::BySwitch,
        };
        said.push(Reversing { name, apart_mm, turned });
    }
    Ok(said)
}
