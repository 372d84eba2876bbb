//! What things without a name of their own are called: by the block that they are in. "Turnout in Sallow yard", or with
//! a number where there are several.

use std::collections::{BTreeMap, BTreeSet};

use super::App;
use super::derived::Derived;
use super::names::{capital, entity_name, origin_name, short_name};
use crate::layout::{EntityId, Layout, RunEnd, RunId, Special, TrackEnd, shown};

/// The words for such things. Things in blocks without a name are not in it: they keep their kind and identity.
#[derive(Debug, Default)]
pub struct Called(BTreeMap<EntityId, String>);

impl Called {
    /// Works them out.
    pub fn of(layout: &Layout, derived: &Derived) -> Self {
        let blocks = Blocks::of(layout, derived);
        // In the order in which they are numbered.
        let mut all: Vec<(EntityId, String, String)> = Vec::new();
        for id in layout.runs.keys() {
            if let Some(place) = blocks.of_run(*id) {
                all.push(((*id).into(), "Run".into(), format!("in {place}")));
            }
        }
        for special in layout.specials.values().filter(|special| special.name.trim().is_empty()) {
            if let Some(block) = blocks.of_special(special) {
                let kind = capital(special.work.word());
                all.push((special.id.into(), kind, format!("in {block}")));
            }
        }
        for feed in layout.feeds.values() {
            if let Some(block) = blocks.at(feed.run, feed.at_mm) {
                let from = origin_name(layout, feed.driver);
                all.push((feed.id.into(), "Feed".into(), format!("from {from} to {block}")));
            }
        }
        for bond in layout.bonds.values() {
            let from = blocks.at(bond.from.run, bond.from.at_mm);
            if let Some((from, to)) = from.zip(blocks.at(bond.to.run, bond.to.at_mm)) {
                let place =
                    if from == to { format!("in {from}") } else { format!("from {from} to {to}") };
                all.push((bond.id.into(), "Bond".into(), place));
            }
        }
        for cut in layout.cuts.values().filter(|cut| cut.name.trim().is_empty()) {
            let beyond = cut.width_mm + cut.stagger_mm.abs() + 1.0;
            let side = |at_mm: f64| blocks.at(cut.run, at_mm);
            if let Some((a, b)) = side(cut.at_mm - beyond).zip(side(cut.at_mm + beyond)) {
                all.push((cut.id.into(), "Gap".into(), format!("between {a} and {b}")));
            }
        }
        Self(numbered(all))
    }
}

/// The words of things, with numbers where several would have the same.
fn numbered(all: Vec<(EntityId, String, String)>) -> BTreeMap<EntityId, String> {
    let mut count: BTreeMap<(String, String), (usize, usize)> = BTreeMap::new();
    for (_, kind, place) in &all {
        count.entry((kind.clone(), place.clone())).or_default().0 += 1;
    }
    let words = all.into_iter().map(|(id, kind, place)| {
        let (several, n) = count.entry((kind.clone(), place.clone())).or_default();
        *n += 1;
        let words =
            if *several > 1 { format!("{kind} {n} {place}") } else { format!("{kind} {place}") };
        (id, words)
    });
    words.collect()
}

/// The names of blocks that the user has named.
struct Blocks<'a> {
    derived: &'a Derived,
    names: Vec<Option<String>>,
}

impl<'a> Blocks<'a> {
    fn of(layout: &Layout, derived: &'a Derived) -> Self {
        let plan = &derived.plan;
        let name = |n: usize| {
            let named = !plan.blocks[n].labels.is_empty();
            named.then(|| shown(&plan.block_name(layout, n)).into_owned())
        };
        Self { derived, names: (0..plan.blocks.len()).map(name).collect() }
    }

    fn name(&self, block: Option<usize>) -> Option<&str> {
        self.names.get(block?)?.as_deref()
    }

    fn at(&self, run: RunId, at_mm: f64) -> Option<&str> {
        self.name(self.derived.plan.block_at(run, at_mm))
    }

    /// The named blocks that a run is in, in their order along it.
    fn of_run(&self, run: RunId) -> Option<String> {
        let stretches = &self.derived.nets.get(&run)?.blocks;
        let mut seen = BTreeSet::new();
        let names: Vec<String> = stretches
            .iter()
            .filter_map(|stretch| self.name(stretch.block))
            .filter(|name| seen.insert(name.to_owned()))
            .map(str::to_owned)
            .collect();
        (!names.is_empty()).then(|| names.join(" and "))
    }

    /// The named block that is nearest to an end of special work, the end of its points first.
    fn of_special(&self, special: &Special) -> Option<&str> {
        let near = |end: TrackEnd| {
            let stretches = self.derived.nets.get(&end.run).map(|nets| &nets.blocks[..])?;
            let mut along = stretches.iter();
            let nearest = match end.end {
                RunEnd::Start => along.find_map(|stretch| stretch.block),
                RunEnd::End => along.rev().find_map(|stretch| stretch.block),
            };
            self.name(nearest)
        };
        special.work.ends().into_iter().find_map(near)
    }
}

impl App {
    /// What a thing is called where it must be told from others of its kind: its name; without one, its kind with the
    /// block that it is in; where that has no name either, its kind and identity.
    pub fn called(&self, id: EntityId) -> String {
        let layout = self.doc.layout();
        if let Some(words) = self.called.0.get(&id) {
            return words.clone();
        }
        match id {
            EntityId::Special(_) | EntityId::Device(_) => short_name(layout, id),
            _ => entity_name(layout, id),
        }
    }

    /// Runs to choose from.
    pub fn run_choices(&self) -> Vec<(RunId, String)> {
        let runs = self.doc.layout().runs.keys();
        runs.map(|id| (*id, self.called((*id).into()))).collect()
    }
}
