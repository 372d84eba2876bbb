//! Making a layout smaller while something stays wrong with it.

use gapwright::layout::{Edit, EntityId, Layout, apply};

fn entities(layout: &Layout) -> Vec<EntityId> {
    let mut all: Vec<EntityId> = Vec::new();
    all.extend(layout.runs.keys().map(|&id| EntityId::from(id)));
    all.extend(layout.specials.keys().map(|&id| EntityId::from(id)));
    all.extend(layout.supplies.keys().map(|&id| EntityId::from(id)));
    all.extend(layout.drivers.keys().map(|&id| EntityId::from(id)));
    all.extend(layout.devices.keys().map(|&id| EntityId::from(id)));
    all.extend(layout.cuts.keys().map(|&id| EntityId::from(id)));
    all.extend(layout.feeds.keys().map(|&id| EntityId::from(id)));
    all.extend(layout.trains.keys().map(|&id| EntityId::from(id)));
    all.extend(layout.vehicles.keys().map(|&id| EntityId::from(id)));
    all.extend(layout.bonds.keys().map(|&id| EntityId::from(id)));
    all
}

/// What can be plainer about a layout, entity by entity.
fn plainer(layout: &Layout) -> Vec<Layout> {
    let mut all = Vec::new();
    let mut try_with = |change: &dyn Fn(&mut Layout)| {
        let mut new = layout.clone();
        change(&mut new);
        if new != *layout {
            all.push(new);
        }
    };
    for &id in layout.supplies.keys() {
        let of = |change: fn(&mut gapwright::layout::Supply)| {
            move |layout: &mut Layout| layout.supplies.get_mut(&id).into_iter().for_each(change)
        };
        try_with(&of(|s| s.limit = None));
        try_with(&of(|s| (s.bulk_f, s.bulk_ohm) = (None, None)));
        try_with(&of(|s| s.negative = None));
        try_with(&of(|s| s.bearable_v = None));
        try_with(&of(|s| s.can_sink = false));
        try_with(&of(|s| s.powered = true));
        try_with(&of(|s| s.separately_switched = false));
    }
    for &id in layout.drivers.keys() {
        let of = |change: fn(&mut gapwright::layout::Driver)| {
            move |layout: &mut Layout| layout.drivers.get_mut(&id).into_iter().for_each(change)
        };
        try_with(&of(|d| d.trip = None));
        try_with(&of(|d| d.rating_a = None));
        try_with(&of(|d| d.wake_v = None));
        try_with(&of(|d| d.separately_switched = false));
    }
    for &id in layout.feeds.keys() {
        try_with(&move |layout: &mut Layout| {
            if let Some(feed) = layout.feeds.get_mut(&id) {
                feed.wire = None;
            }
        });
    }
    for &id in layout.cuts.keys() {
        try_with(&move |layout: &mut Layout| {
            if let Some(cut) = layout.cuts.get_mut(&id) {
                cut.stagger_mm = 0.0;
            }
        });
    }
    for &id in layout.runs.keys() {
        try_with(&move |layout: &mut Layout| {
            if let Some(run) = layout.runs.get_mut(&id) {
                run.length_mm = None;
            }
        });
    }
    all
}

/// The smallest layout that can be had by taking things away while `wrong` stays true.
pub fn smallest(layout: &Layout, wrong: impl Fn(&Layout) -> bool) -> Layout {
    let sound = |l: &Layout| gapwright::layout::load(&gapwright::layout::save(l)).is_ok();
    let mut least = layout.clone();
    loop {
        let before = least.clone();
        for id in entities(&before) {
            let mut without = least.clone();
            if apply(&mut without, Edit::Delete(vec![id])).is_ok() && wrong(&without) {
                least = without;
            }
        }
        while let Some(new) = plainer(&least).into_iter().find(|new| sound(new) && wrong(new)) {
            least = new;
        }
        if least == before {
            return least;
        }
    }
}
