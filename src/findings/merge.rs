//! The one merge: rules return lists, this makes the list that is reported.
//!
//! 1. What another finding of its kind makes needless is left out.
//! 2. Of one kind, at the same places, of the same parties and things, the worst is kept; the positions are united. What
//!    depends on the settings now is kept apart.
//! 3. Findings with one cause become one finding with all their places.
//! 4. Worst first.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use super::finding::{Finding, Place};
use super::identity::sorted;
use super::table::{self, Kind};
use crate::layout::{DriverId, EntityId};
use crate::study::{Class, SelectorAt, Verdict};

/// Merges what all rules found, in the order of their views: of equal findings the first is kept.
pub fn merge(found: Vec<Finding>) -> Vec<Finding> {
    let mut merged = grouped(worst_of_each(needed(found)));
    merged.sort_by(order);
    merged
}

/// Merges like [`merge`], but keeps findings with one cause apart.
pub fn merge_apart(found: Vec<Finding>) -> Vec<Finding> {
    let mut merged = worst_of_each(needed(found));
    merged.sort_by(order);
    merged
}

/// What makes two findings the same one.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Key {
    kind: Kind,
    places: Vec<Place>,
    drivers: Vec<DriverId>,
    things: Vec<EntityId>,
    now: bool,
}

fn key(finding: &Finding) -> Key {
    let Finding { kind, places, drivers, things, now, .. } = finding;
    let (places, drivers, things) = (sorted(places), sorted(drivers), sorted(things));
    Key { kind: *kind, places, drivers, things, now: *now }
}

/// How a finding weighs beside another of the same kind.
fn weight(finding: &Finding) -> (Class, Verdict) {
    (finding.class, finding.verdict)
}

/// The worst finding of each key, with the positions of all.
fn worst_of_each(found: Vec<Finding>) -> Vec<Finding> {
    let mut kept: Vec<Finding> = Vec::new();
    let mut index: BTreeMap<Key, usize> = BTreeMap::new();
    for mut new in found {
        let at = *index.entry(key(&new)).or_insert(kept.len());
        let Some(old) = kept.get_mut(at) else {
            kept.push(new);
            continue;
        };
        if weight(&new) > weight(old) {
            std::mem::swap(old, &mut new);
        }
        unite(&mut old.positions, new.positions);
    }
    needless_now(&mut kept, &index);
    kept
}

/// Takes out what is reported of the settings now where the same is a fault at least as grave whatever is set.
fn needless_now(kept: &mut Vec<Finding>, index: &BTreeMap<Key, usize>) {
    let always = |finding: &Finding| {
        let always = index.get(&Key { now: false, ..key(finding) }).and_then(|&at| kept.get(at));
        always.is_some_and(|a| a.class == Class::Fault && weight(a) >= weight(finding))
    };
    let needless: Vec<bool> = kept.iter().map(|f| f.now && always(f)).collect();
    let mut needless = needless.into_iter();
    kept.retain(|_| !needless.next().unwrap_or(false));
}

/// Adds sets of positions to those of a finding. A finding without any holds as the selectors stand now, or always: it
/// keeps none.
fn unite(positions: &mut Vec<Vec<SelectorAt>>, more: Vec<Vec<SelectorAt>>) {
    if positions.is_empty() {
        return;
    }
    for set in more {
        if !positions.contains(&set) {
            positions.push(set);
        }
    }
}

/// The findings that no other makes needless.
fn needed(found: Vec<Finding>) -> Vec<Finding> {
    let covering = found.iter().filter(|f| table::has_covers(f.kind)).collect::<Vec<_>>();
    let needed: Vec<bool> =
        found.iter().map(|f| !covering.iter().any(|other| table::covers(other, f))).collect();
    found.into_iter().zip(needed).filter(|(_, needed)| *needed).map(|(f, _)| f).collect()
}

/// One finding per cause: the worst of them, with the places, blocks, drivers and things of all.
fn grouped(mut found: Vec<Finding>) -> Vec<Finding> {
    // Stable: of equal weight the first stands for the others.
    found.sort_by_key(|finding| std::cmp::Reverse(weight(finding)));
    let mut groups: Vec<Finding> = Vec::new();
    for finding in found {
        let mut groups_of_kind = groups
            .iter_mut()
            .filter(|group| group.kind == finding.kind && table::has_groups(group.kind))
            .filter(|group| group.now == finding.now);
        match groups_of_kind.find(|group| table::same_cause(group, &finding)) {
            Some(group) => join(group, finding),
            None => groups.push(finding),
        }
    }
    groups
}

fn join(group: &mut Finding, more: Finding) {
    add(&mut group.places, more.places);
    add(&mut group.blocks, more.blocks);
    add(&mut group.drivers, more.drivers);
    add(&mut group.things, more.things);
    if group.when != more.when {
        group.when = None;
    }
    if more.positions.is_empty() {
        group.positions.clear();
    }
    unite(&mut group.positions, more.positions);
}

/// Adds what a list does not have.
pub(super) fn add<T: PartialEq>(list: &mut Vec<T>, more: Vec<T>) {
    for one in more {
        if !list.contains(&one) {
            list.push(one);
        }
    }
}

/// Faults first, then by verdict; findings of equal weight by kind, then by place.
fn order(a: &Finding, b: &Finding) -> Ordering {
    (b.class == Class::Fault, b.verdict, b.class)
        .cmp(&(a.class == Class::Fault, a.verdict, a.class))
        .then(a.kind.cmp(&b.kind))
        .then_with(|| a.places.cmp(&b.places))
        .then_with(|| a.blocks.cmp(&b.blocks))
        .then_with(|| a.drivers.cmp(&b.drivers))
        .then_with(|| a.things.cmp(&b.things))
        .then_with(|| a.positions.cmp(&b.positions))
        .then_with(|| b.now.cmp(&a.now))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::{BlockId, Found, SelectorAt, SelectorId, blocks_merged, table::Evidence};
    use crate::layout::{CutId, RunId, SpecialId};

    fn found(class: Class, verdict: Verdict, cut: u32, position: Option<u32>) -> Finding {
        let evidence = blocks_merged::Evidence { length_mm: 1.0, names: 2 };
        let evidence = Evidence::BlocksMerged(Box::new(evidence));
        let id = SelectorId::Points(SpecialId(1));
        Found {
            places: vec![Place::Cut(CutId(cut))],
            drivers: vec![DriverId(2), DriverId(1)],
            positions: position
                .map(|position| vec![SelectorAt { id, position }])
                .into_iter()
                .collect(),
            ..Found::new(Kind::BlocksMerged, class, verdict, evidence)
        }
    }

    #[test]
    fn the_worst_of_one_place_is_kept_with_the_positions_of_all() {
        let milder = found(Class::Rule, Verdict::Short, 1, Some(0));
        let graver = found(Class::Fault, Verdict::Caution, 1, Some(1));
        let mut elsewhere = found(Class::Note, Verdict::Clear, 2, None);
        // The order of the parties does not tell findings apart.
        elsewhere.drivers.reverse();
        let merged = merge(vec![milder.clone(), elsewhere, graver, milder]);
        let told: Vec<_> = merged.iter().map(|f| (f.class, f.cuts(), f.positions.len())).collect();
        assert_eq!(told, [(Class::Fault, vec![CutId(1)], 2), (Class::Note, vec![CutId(2)], 0)]);
        assert_eq!(merged[0].selectors()[0].position, 1, "that of the evidence comes first");
    }

    #[test]
    fn what_holds_as_things_stand_names_no_positions() {
        let now = found(Class::Fault, Verdict::Short, 1, None);
        let other = found(Class::Fault, Verdict::Short, 1, Some(1));
        let merged = merge(vec![now.clone(), other]);
        assert_eq!(merged, [now]);
    }

    #[test]
    fn an_identity_names_kind_places_parties_and_positions() {
        let one = found(Class::Fault, Verdict::Short, 1, Some(1));
        assert_eq!(one.id().to_string(), "blocks-merged@c1:d1+d2/w1=1");
        let block = BlockId { run: RunId(3), piece: 0 };
        let bare = Found { places: vec![Place::Block(block)], drivers: Vec::new(), ..one.clone() };
        assert_eq!(bare.id().to_string(), "blocks-merged@b3.0/w1=1");
        // Class, verdict and figures are not part of it.
        let milder = found(Class::Note, Verdict::Clear, 1, Some(1));
        assert_eq!(one.id(), milder.id());
    }
}
