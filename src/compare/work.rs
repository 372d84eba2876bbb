//! The work from one design to another.

use std::collections::BTreeSet;

use crate::findings::{Class, Finding, Kind, Place, apart_of};
use crate::job::{Job, Names};
use crate::layout::edit::{differing, entity, made_like, whole_like};
use crate::layout::{
    Device, Edit, Entity, EntityId, Feed, Layout, Rail, Rails, and, apply, capital,
};
use crate::study::Study;

/// One step of the work.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What to do, a sentence.
    pub says: String,
    /// About how long it takes, minutes (judgement, as for cures).
    pub minutes: u32,
    /// Kinds of faults that stand after it and that neither design has there.
    pub makes: Vec<Kind>,
}

/// Steps that are checked in every order; beyond, the order of things is kept.
const MOST_ORDERED: usize = 40;

/// Something to do: the edit, its sentence, its minutes.
struct Task {
    edit: Edit,
    says: String,
    minutes: u32,
}

/// The steps from one design to another, in an order in which no step makes a fault that neither has, as far as there is
/// one.
pub fn steps(old: &Study, new: &Study) -> Vec<Step> {
    let mut left = tasks(old, new);
    let known: BTreeSet<(Kind, String)> =
        faults(&apart_of(old)).union(&faults(&apart_of(new))).cloned().collect();
    let mut now = old.clone();
    let mut steps = Vec::new();
    while !left.is_empty() {
        let try_all = left.len() <= MOST_ORDERED;
        let mut best: Option<(usize, Study, Vec<Kind>)> = None;
        for (at, task) in left.iter().enumerate() {
            let mut layout: Layout = now.layout().clone();
            if apply(&mut layout, task.edit.clone()).is_err() {
                continue;
            }
            let after = now.revised(layout);
            let makes = made(&apart_of(&after), &known);
            let fewer = best.as_ref().is_none_or(|(.., old)| makes.len() < old.len());
            let is_safe = makes.is_empty();
            if fewer {
                best = Some((at, after, makes));
            }
            if is_safe || !try_all {
                break;
            }
        }
        let Some((at, after, makes)) = best else {
            // None of the remaining tasks applies alone.
            steps.push(together(&mut left));
            break;
        };
        let Task { says, minutes, .. } = left.remove(at);
        steps.push(Step { says, minutes, makes });
        now = after;
    }
    steps
}

/// The remaining tasks as one step.
fn together(left: &mut Vec<Task>) -> Step {
    let minutes = left.iter().map(|task| task.minutes).sum();
    let says: Vec<String> = left.drain(..).map(|task| task.says).collect();
    Step { says: says.join(" And: "), minutes, makes: Vec::new() }
}

/// Kind and place of each fault that does not depend on how things are set.
fn faults(findings: &[Finding]) -> BTreeSet<(Kind, String)> {
    let faults = findings.iter().filter(|f| f.class == Class::Fault);
    let lines = |f: &Finding| -> Vec<(Kind, String)> {
        match &f.places[..] {
            [] => vec![(f.kind, f.drivers.iter().map(ToString::to_string).collect())],
            places => places.iter().map(|p| (f.kind, place(f, p))).collect(),
        }
    };
    faults.flat_map(lines).collect()
}

/// A place of a fault. Blocks get other identities with every cut: theirs is their first run, with what takes part.
fn place(finding: &Finding, place: &Place) -> String {
    match place {
        Place::Block(id) => {
            let drivers: Vec<String> = finding.drivers.iter().map(ToString::to_string).collect();
            format!("{} {}", id.run, drivers.join("+"))
        }
        Place::Cut(_) | Place::Special(_) | Place::Stretch { .. } => place.to_string(),
    }
}

fn made(after: &[Finding], known: &BTreeSet<(Kind, String)>) -> Vec<Kind> {
    let new: BTreeSet<Kind> =
        faults(after).into_iter().filter(|fault| !known.contains(fault)).map(|f| f.0).collect();
    new.into_iter().collect()
}

/// The tasks: track first, then each thing by itself, names and drawings last.
fn tasks(old: &Study, new: &Study) -> Vec<Task> {
    let (was, is) = (old.layout(), new.layout());
    let mut tasks = Vec::new();
    let mut track = Vec::new();
    let mut papers = Vec::new();
    let mut things = Vec::new();
    // Cuts, feeds and names on a run that goes, go with it.
    let stays = |run: crate::layout::RunId| is.runs.contains_key(&run);
    for id in differing(was, is) {
        // Names, notes, throttles and positions are set, not built.
        let bare = |layout| entity(layout, id).map(bare);
        if bare(was) == bare(is) {
            papers.push(id);
            continue;
        }
        let on_gone = match entity(was, id) {
            Some(Entity::Cut(cut)) => !stays(cut.run),
            Some(Entity::Feed(feed)) => !stays(feed.run),
            Some(Entity::Label(label)) => !stays(label.run),
            _ => false,
        };
        match id {
            EntityId::Joint(_) | EntityId::Run(_) | EntityId::Special(_) | EntityId::Bond(_) => {
                track.push(id)
            }
            _ if on_gone => track.push(id),
            EntityId::Label(_) | EntityId::Lineup(_) | EntityId::Picture(_) => papers.push(id),
            // What a club has decided is no work on the layout.
            EntityId::Decision(_) => {}
            _ => things.push(id),
        }
    }
    let runs = track.iter().filter(|id| matches!(id, EntityId::Run(_))).count();
    if !track.is_empty() {
        let minutes = 20 * runs as u32 + 5 * (track.len() - runs) as u32;
        let says = format!("Change the track as drawn: {} changed.", counted(track.len()));
        tasks.push(Task { edit: made_like(&track, is), says, minutes });
    }
    things.sort_by_key(|id| order(*id, is));
    for id in things {
        let (says, minutes) = words(id, old, new);
        tasks.push(Task { edit: made_like(&[id], is), says, minutes });
    }
    let mut rest = Vec::new();
    if !papers.is_empty() {
        rest.push(made_like(&papers, is));
    }
    rest.extend(whole_like(was, is));
    if !rest.is_empty() {
        let says =
            "Set throttles and points as the new design has them; note its names and particulars."
                .to_owned();
        tasks.push(Task { edit: Edit::Batch(rest), says, minutes: 1 });
    }
    tasks
}

/// A thing without its name, its notes and how it is set.
fn bare(thing: Entity) -> Entity {
    match thing {
        Entity::Cut(cut) => cut.unnamed().into(),
        Entity::Supply(supply) => supply.by_itself().into(),
        Entity::Driver(driver) => driver.in_no_setting().into(),
        Entity::Special(special) => special.in_no_position().into(),
        Entity::Device(device) => Device { position: 0, ..device.unnamed() }.into(),
        Entity::Vehicle(vehicle) => vehicle.unnamed().into(),
        Entity::Train(train) => train.unnamed().into(),
        Entity::Joint(_)
        | Entity::Run(_)
        | Entity::Label(_)
        | Entity::Feed(_)
        | Entity::Bond(_)
        | Entity::Lineup(_)
        | Entity::Picture(_)
        | Entity::Decision(_) => thing,
    }
}

fn counted(n: usize) -> String {
    if n == 1 { "one thing".to_owned() } else { format!("{n} things") }
}

/// Order of tasks: supplies, drivers, devices, cuts, feeds; removals last, in the reverse order.
fn order(id: EntityId, new: &Layout) -> (bool, i32) {
    let gone = entity(new, id).is_none();
    let rank = match id {
        EntityId::Vehicle(_) => 0,
        EntityId::Train(_) => 1,
        EntityId::Supply(_) => 2,
        EntityId::Driver(_) => 3,
        EntityId::Device(_) => 4,
        EntityId::Cut(_) => 5,
        _ => 6,
    };
    (gone, if gone { -rank } else { rank })
}

/// A sentence and the minutes for one thing: those of a job that does the same, else what it is.
fn words(id: EntityId, old: &Study, new: &Study) -> (String, u32) {
    let (was, is) = (old.layout(), new.layout());
    let (then, now) = (old.now(), new.now());
    let before = Names { layout: was, plan: &then.plan };
    let after = Names { layout: is, plan: &now.plan };
    if let Some(job) = job_for(id, was, is) {
        return (job.words(before), job.work().minutes);
    }
    match (entity(was, id), entity(is, id)) {
        (None, Some(Entity::Cut(cut))) => {
            let job = Job::AddCut { run: cut.run, at_mm: cut.at_mm, rails: cut.rails };
            (job.words(after), job.work().minutes)
        }
        (None, Some(Entity::Feed(feed))) => (format!("Connect {}.", after.feed(feed.id)), 10),
        (None, Some(_)) => (format!("Add {}.", after.thing(id)), 30),
        (Some(Entity::Feed(then)), Some(Entity::Feed(now))) => {
            feed_words((&then, &now), before, after)
        }
        (Some(Entity::Cut(then)), Some(Entity::Cut(now))) if then.run != now.run => {
            let job = Job::AddCut { run: now.run, at_mm: now.at_mm, rails: now.rails };
            let bridge = Job::BridgeCut(then.id);
            let says = format!("{} {}", bridge.words(before), job.words(after));
            (says, bridge.work().minutes + job.work().minutes)
        }
        (Some(_), None) => (format!("Take {} away.", before.thing(id)), 5),
        _ => (format!("Change {} as the new design has it.", after.thing(id)), 8),
    }
}

/// The changes of a feed in words (place, source, rails, wire), and the minutes.
fn feed_words((then, now): (&Feed, &Feed), before: Names, after: Names) -> (String, u32) {
    let mut says = Vec::new();
    if (then.run, then.at_mm) != (now.run, now.at_mm) {
        let at = now.at_mm.round();
        says.push(format!("move it to {at} mm from the start of run {}", now.run));
    }
    if then.driver != now.driver {
        says.push(format!("connect it to {}", after.thing(now.driver.into())));
    }
    if (then.p, then.m) != (now.p, now.m) {
        let rail = |rail: Option<Rail>| match rail {
            Some(Rail::Left) => "the left rail",
            Some(Rail::Right) => "the right rail",
            None => "no rail",
        };
        says.push(format!("connect P to {} and M to {}", rail(now.p), rail(now.m)));
    }
    if says.is_empty() {
        says.push("give it the wire of the new design".to_owned());
    }
    let minutes = 5 * says.len() as u32 + 5;
    (format!("{}: {}.", capital(&before.feed(now.id)), and(&says)), minutes)
}

/// A job that makes a thing what it is in the new design.
fn job_for(id: EntityId, old: &Layout, new: &Layout) -> Option<Job> {
    let mut jobs: Vec<Job> = Vec::new();
    match (id, entity(old, id), entity(new, id)) {
        (EntityId::Feed(id), _, None) => jobs.push(Job::TakeFeedAway(id)),
        (EntityId::Cut(id), _, None) => jobs.push(Job::BridgeCut(id)),
        (EntityId::Feed(id), Some(_), Some(_)) => {
            jobs.extend([Job::ExchangeWires(id), Job::CompleteFeed(id)]);
        }
        (EntityId::Driver(id), Some(_), Some(Entity::Driver(now))) => {
            jobs.extend([Job::Coast(id), Job::ExchangePhase(id), Job::TakeDelayAway(id)]);
            jobs.push(Job::Turn { driver: id, direction: now.setting.direction });
            if let Some(trip) = &now.trip {
                jobs.push(Job::TripAt { driver: id, amps: trip.amps.value });
                jobs.push(Job::Sense { driver: id, senses: trip.senses });
            }
        }
        (EntityId::Supply(id), Some(_), Some(Entity::Supply(now))) => {
            jobs.extend([Job::OpenTie(id), Job::SwitchTogether(id)]);
            jobs.push(Job::SetVolts { supply: id, volts: now.open_v.value });
        }
        (EntityId::Cut(id), Some(Entity::Cut(was)), Some(Entity::Cut(now))) => {
            if now.rails == Rails::Both {
                jobs.push(Job::CutBoth(id));
            }
            jobs.push(Job::Fill(id));
            jobs.push(Job::Widen { cut: id, width_mm: now.width_mm });
            if was.run == now.run {
                jobs.push(Job::MoveCut { cut: id, at_mm: now.at_mm });
            }
        }
        _ => {}
    }
    jobs.into_iter().find(|job| {
        let mut edited = old.clone();
        let done = job.edits(old).map(|edits| apply(&mut edited, Edit::Batch(edits)));
        matches!(done, Some(Ok(_))) && entity(&edited, id) == entity(new, id)
    })
}
