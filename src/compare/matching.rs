//! Which things of two designs are the same one.
//!
//! A design that grew out of another has its identities. One that was drawn anew has others: then what stands at the same
//! place in the same shape, or has the same name, is the same thing. An identity counts before that only where the thing is
//! also still like it was, so that a number that means something else in a new drawing misleads nobody.

use std::collections::{BTreeMap, BTreeSet};
use std::mem::discriminant;

use crate::findings::nearest;
use crate::layout::edit::{all_ids, entity, renamed, turned_round};
use crate::layout::geometry::{Point, Pose, place_at};
use crate::layout::{
    Driver, Entity, EntityId, Joint, Label, Layout, Run, RunId, Special, Supply, length_mm,
};

/// Joints and ends of runs so near are one, mm (judgement: half of what a hand draws apart).
const JOINT_MM: f64 = 3.0;
/// Gaps and feeds so near are one, mm (judgement: a saw cut may wander so far from the drawing).
const THING_MM: f64 = 30.0;

/// Distances along a run that differ by less are one, mm (judgement: finer than a pencil marks).
const LEVEL_MM: f64 = 0.05;

/// Corrections of what is taken for the same.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Corrections {
    /// Pairs of an old and a new thing that are the same one.
    pub same: Vec<(EntityId, EntityId)>,
    /// Things of the new design that are no thing of the old one, though they look like it.
    pub apart: BTreeSet<EntityId>,
}

/// A new design under the identities of the old one.
#[derive(Debug, Clone, PartialEq)]
pub struct Matched {
    /// The new design.
    pub new: Layout,
    /// What was taken for the same under another identity: old, new.
    pub pairs: Vec<(EntityId, EntityId)>,
}

/// Gives the things of a new design the identities that they have in the old one.
///
/// # Errors
/// A correction that names what a design does not have, or things of two kinds, in words.
pub fn matched(old: &Layout, new: &Layout, by: &Corrections) -> Result<Matched, String> {
    for &(one, other) in &by.same {
        if entity(old, one).is_none() {
            return Err(format!("the old design has no {one}"));
        }
        if entity(new, other).is_none() {
            return Err(format!("the new design has no {other}"));
        }
        if discriminant(&one) != discriminant(&other) {
            return Err(format!("{one} and {other} are things of two kinds"));
        }
    }
    for (n, (one, other)) in by.same.iter().enumerate() {
        let twice = |pair: &(EntityId, EntityId)| pair.0 == *one || pair.1 == *other;
        if by.same[..n].iter().any(twice) {
            return Err(format!(
                "{one} and {other}: one of them is the same as another thing already"
            ));
        }
        if by.apart.contains(other) {
            return Err(format!(
                "{other} is said to be the same as {one}, and to be none of the old things"
            ));
        }
    }
    if let Some(missing) = by.apart.iter().find(|id| entity(new, **id).is_none()) {
        return Err(format!("the new design has no {missing}"));
    }
    let mut pairing =
        Pairing { old, new, by, old_of: BTreeMap::new(), taken: BTreeSet::new(), kin: false };
    pairing.pair();
    let Pairing { old_of, .. } = pairing;
    let other = old_of.iter().filter(|(new, old)| new != old);
    let pairs: Vec<(EntityId, EntityId)> = other.map(|(new, old)| (*old, *new)).collect();
    let ids = identities(old, new, &old_of);
    let named = match ids.is_empty() {
        true => new.clone(),
        false => {
            renamed(new, &ids).map_err(|why| format!("the designs cannot be matched: {why}"))?
        }
    };
    let backwards = |run: &&RunId| match (old.runs.get(run), named.runs.get(run)) {
        (Some(was), Some(is)) => (was.from, was.to) == (is.to, is.from) && was.from != was.to,
        _ => false,
    };
    let turned: BTreeSet<RunId> = named.runs.keys().filter(backwards).copied().collect();
    let mut new = turned_round(&named, &turned);
    if !ids.is_empty() {
        new.next_id = new.next_id.max(old.next_id) + ids.len() as u32;
    }
    settle(old, &mut new, &pairs);
    Ok(Matched { new, pairs })
}

/// Takes the drawing of the old design where the same thing was drawn anew: a hand draws it a little elsewhere, and a
/// distance that is counted from the other end differs in its last digits.
fn settle(old: &Layout, new: &mut Layout, pairs: &[(EntityId, EntityId)]) {
    let anew: BTreeSet<EntityId> = pairs.iter().map(|pair| pair.0).collect();
    for (id, joint) in &mut new.joints {
        if let Some(was) = old.joints.get(id).filter(|_| anew.contains(&(*id).into())) {
            (joint.x_mm, joint.y_mm) = (was.x_mm, was.y_mm);
        }
    }
    for (id, run) in &mut new.runs {
        let same_ends = |was: &&Run| (was.from, was.to) == (run.from, run.to);
        let was = old.runs.get(id).filter(same_ends).filter(|_| anew.contains(&(*id).into()));
        if let Some(was) = was {
            run.shape = was.shape;
        }
    }
    for (id, cut) in &mut new.cuts {
        if let Some(was) = old.cuts.get(id) {
            level(&mut cut.at_mm, was.at_mm);
            level(&mut cut.stagger_mm, was.stagger_mm);
        }
    }
    for (id, feed) in &mut new.feeds {
        old.feeds.get(id).into_iter().for_each(|was| level(&mut feed.at_mm, was.at_mm));
    }
    for (id, label) in &mut new.labels {
        old.labels.get(id).into_iter().for_each(|was| level(&mut label.at_mm, was.at_mm));
    }
    for (id, bond) in &mut new.bonds {
        if let Some(was) = old.bonds.get(id) {
            level(&mut bond.from.at_mm, was.from.at_mm);
            level(&mut bond.to.at_mm, was.to.at_mm);
        }
    }
}

/// Makes two distances equal that no rule tells apart.
fn level(new_mm: &mut f64, old_mm: f64) {
    if (*new_mm - old_mm).abs() < LEVEL_MM {
        *new_mm = old_mm;
    }
}

/// New identities of the things of the new design: those of the old design where they are the same, and free ones where an
/// identity means another thing there.
fn identities(
    old: &Layout,
    new: &Layout,
    old_of: &BTreeMap<EntityId, EntityId>,
) -> BTreeMap<EntityId, EntityId> {
    let mut free = old.next_id.max(new.next_id);
    let mut ids = BTreeMap::new();
    for id in all_ids(new) {
        match old_of.get(&id) {
            Some(&known) if known == id => {}
            Some(&known) => drop(ids.insert(id, known)),
            None if entity(old, id).is_some() => {
                ids.insert(id, id.with_number(free));
                free += 1;
            }
            None => {}
        }
    }
    ids
}

/// Pairs while they are found, kind by kind: a kind rests on those before it.
struct Pairing<'a> {
    old: &'a Layout,
    new: &'a Layout,
    by: &'a Corrections,
    /// The old thing of each new one.
    old_of: BTreeMap<EntityId, EntityId>,
    /// Old things that have their new one.
    taken: BTreeSet<EntityId>,
    /// True if the new design grew out of the old one: then an identity says what a name does not.
    kin: bool,
}

impl Pairing<'_> {
    fn pair(&mut self) {
        for &(old, new) in &self.by.same {
            self.put(old, new);
        }
        let mut kinds: Vec<Vec<EntityId>> = Vec::new();
        let mut order: Vec<EntityId> = all_ids(self.new).into_iter().collect();
        order.sort_by_key(|id| (rank(*id), *id));
        for id in order {
            match kinds.last_mut() {
                Some(kind) if discriminant(&kind[0]) == discriminant(&id) => kind.push(id),
                _ => kinds.push(vec![id]),
            }
        }
        for kind in kinds {
            // Joints and runs are paired by now.
            if rank(kind[0]) == 2 || !has_place(kind[0]) {
                let stays = self.old_of.iter().filter(|(new, old)| new == old).count();
                self.kin = 2 * stays >= self.old_of.len();
            }
            self.pair_kind(&kind);
        }
    }

    fn pair_kind(&mut self, news: &[EntityId]) {
        let is_left = |this: &Self, id: EntityId| !this.old_of.contains_key(&id);
        // What has its identity and is just where it was, then what has it and is like it was.
        for exact in [true, false] {
            for &id in news {
                let like = match has_place(id) {
                    true => {
                        let mm = self.distance(id, id);
                        mm.is_some_and(|mm| !exact || mm <= LEVEL_MM)
                    }
                    false => self.kin || self.distance(id, id).is_some(),
                };
                if is_left(self, id) && self.is_free(id) && like {
                    self.put(id, id);
                }
            }
            if exact {
                self.pair_near(news, LEVEL_MM);
            }
        }
        // What is alike, the nearest first.
        self.pair_near(news, f64::INFINITY);
        // What has its identity and is nothing else.
        for &id in news {
            if is_left(self, id) && self.is_free(id) {
                self.put(id, id);
            }
        }
    }

    /// Pairs what is alike and at most so far from each other, mm: first what has one name, then the nearest.
    fn pair_near(&mut self, news: &[EntityId], most_mm: f64) {
        let olds: Vec<EntityId> = all_ids(self.old)
            .into_iter()
            .filter(|id| discriminant(id) == discriminant(&news[0]) && !self.taken.contains(id))
            .collect();
        let mut near: Vec<((bool, u64), EntityId, EntityId)> = Vec::new();
        let is_left = |id: &&EntityId| !self.old_of.contains_key(id) && !self.by.apart.contains(id);
        for &new in news.iter().filter(is_left) {
            let alike = |&old: &EntityId| {
                let mm = self.distance(old, new).filter(|mm| *mm <= most_mm)?;
                let rank = (!self.have_one_name(old, new), (mm * 1000.0).round() as u64);
                Some((rank, old, new))
            };
            near.extend(olds.iter().filter_map(alike));
        }
        for (old, new) in nearest(near) {
            self.put(old, new);
        }
    }

    /// True if both have one name, or neither has one.
    fn have_one_name(&self, old: EntityId, new: EntityId) -> bool {
        let name = |layout: &Layout, id| match entity(layout, id) {
            Some(Entity::Cut(cut)) => cut.name.trim().to_owned(),
            Some(Entity::Special(special)) => special.name.trim().to_owned(),
            _ => String::new(),
        };
        name(self.old, old) == name(self.new, new)
    }

    /// True if the old design has an identity, its new thing is not known, and nobody says that it is another thing.
    fn is_free(&self, id: EntityId) -> bool {
        let there = entity(self.old, id).is_some() && !self.taken.contains(&id);
        there && !self.by.apart.contains(&id)
    }

    fn put(&mut self, old: EntityId, new: EntityId) {
        self.taken.insert(old);
        self.old_of.insert(new, old);
    }

    /// How far an old thing is from a new one that is like it, mm, or 0 where no place counts; `None` if they are not alike.
    fn distance(&self, old: EntityId, new: EntityId) -> Option<f64> {
        match (entity(self.old, old)?, entity(self.new, new)?) {
            (Entity::Joint(one), Entity::Joint(other)) => joints(&one, &other),
            (Entity::Run(one), Entity::Run(other)) => self.runs(&one, &other),
            (Entity::Special(one), Entity::Special(other)) => self.specials(&one, &other),
            (Entity::Cut(one), Entity::Cut(other)) => {
                self.on_runs((one.run, one.at_mm), (other.run, other.at_mm))
            }
            (Entity::Feed(one), Entity::Feed(other)) => {
                self.on_runs((one.run, one.at_mm), (other.run, other.at_mm))
            }
            (Entity::Label(one), Entity::Label(other)) => self.labels(&one, &other),
            (Entity::Supply(Supply { name, .. }), Entity::Supply(other)) => {
                named(&name, &other.name)
            }
            (Entity::Driver(Driver { name, drive, .. }), Entity::Driver(other)) => {
                let alike = discriminant(&drive) == discriminant(&other.drive);
                named(&name, &other.name).filter(|_| alike)
            }
            (Entity::Device(one), Entity::Device(other)) => named(&one.name, &other.name),
            (Entity::Vehicle(one), Entity::Vehicle(other)) => named(&one.name, &other.name),
            (Entity::Train(one), Entity::Train(other)) => named(&one.name, &other.name),
            (Entity::Lineup(one), Entity::Lineup(other)) => named(&one.name, &other.name),
            (Entity::Bond(one), Entity::Bond(other)) => {
                let [from, to] =
                    [(one.from, other.from), (one.to, other.to)].map(|(one, other)| {
                        self.on_runs((one.run, one.at_mm), (other.run, other.at_mm))
                    });
                Some(from?.max(to?))
            }
            // Pictures and decisions are what their identities say.
            (one, other) => (one == other).then_some(0.0),
        }
    }

    /// True if a run of the old design is one of the new.
    fn is_run(&self, old: RunId, new: RunId) -> bool {
        self.old_of.get(&new.into()) == Some(&old.into())
    }

    /// Runs between the same places in the same shape, whichever end they are counted from.
    fn runs(&self, one: &Run, other: &Run) -> Option<f64> {
        let at = |layout: &Layout, run: &Run, part: f64| {
            point(place_at(layout, run, part * length_mm(layout, run)))
        };
        let parts = [0.0, 0.25, 0.5, 0.75, 1.0];
        let apart = |backwards: bool| {
            let apart = parts.map(|part| {
                let there = if backwards { 1.0 - part } else { part };
                distance_mm(at(self.old, one, part), at(self.new, other, there))
            });
            apart.into_iter().fold(0.0, f64::max)
        };
        Some(apart(false).min(apart(true))).filter(|mm| *mm <= JOINT_MM)
    }

    /// Special work of one kind whose ends are of the same runs.
    fn specials(&self, one: &Special, other: &Special) -> Option<f64> {
        let old: BTreeSet<EntityId> = one.work.ends().iter().map(|end| end.run.into()).collect();
        let new: BTreeSet<EntityId> = (other.work.ends().iter())
            .map(|end| self.old_of.get(&end.run.into()).copied().unwrap_or(end.run.into()))
            .collect();
        (discriminant(&one.work) == discriminant(&other.work) && old == new).then_some(0.0)
    }

    fn labels(&self, one: &Label, other: &Label) -> Option<f64> {
        named(&one.name, &other.name)?;
        self.is_run(one.run, other.run).then_some((one.at_mm - other.at_mm).abs())
    }

    /// How far two places on one run are from each other, mm.
    fn on_runs(&self, old: (RunId, f64), new: (RunId, f64)) -> Option<f64> {
        let one = point(place_at(self.old, self.old.runs.get(&old.0)?, old.1));
        let other = point(place_at(self.new, self.new.runs.get(&new.0)?, new.1));
        let near = Some(distance_mm(one, other)).filter(|mm| *mm <= THING_MM);
        near.filter(|_| self.is_run(old.0, new.0))
    }
}

/// True for kinds whose things have a place on the plan; the others are known by their names.
fn has_place(id: EntityId) -> bool {
    matches!(rank(id), 0..=2 | 6..=9)
}

/// Track before what stands on it, supplies before what they feed.
fn rank(id: EntityId) -> u8 {
    match id {
        EntityId::Joint(_) => 0,
        EntityId::Run(_) => 1,
        EntityId::Special(_) => 2,
        EntityId::Supply(_) => 3,
        EntityId::Driver(_) => 4,
        EntityId::Device(_) => 5,
        EntityId::Cut(_) => 6,
        EntityId::Feed(_) => 7,
        EntityId::Bond(_) => 8,
        EntityId::Label(_) => 9,
        EntityId::Vehicle(_) => 10,
        EntityId::Train(_) => 11,
        EntityId::Lineup(_) => 12,
        EntityId::Picture(_) => 13,
        EntityId::Decision(_) => 14,
    }
}

fn joints(one: &Joint, other: &Joint) -> Option<f64> {
    let mm = distance_mm((one.x_mm, one.y_mm), (other.x_mm, other.y_mm));
    (mm <= JOINT_MM).then_some(mm)
}

/// Two things of one name. What has none is known by its identity alone.
fn named(one: &str, other: &str) -> Option<f64> {
    (!one.trim().is_empty() && one.trim() == other.trim()).then_some(0.0)
}

fn point(pose: Pose) -> Point {
    (pose.x_mm, pose.y_mm)
}

fn distance_mm(one: Point, other: Point) -> f64 {
    (one.0 - other.0).hypot(one.1 - other.1)
}
