//! Rules for special work and bonds.

use std::collections::{BTreeMap, BTreeSet};

use super::about::About;
use super::device;
use super::ends::Ends;
use super::found::{Found, May, nearest};
use super::frogs::particulars;
use super::limits::MOST_ROADS;
use crate::layout::model::{
    EntityId, JointId, Layout, RunEnd, RunId, Special, Spot, TrackEnd, Work,
};
use crate::layout::words::mm;
use crate::track::roads;

/// What leans on touched entities, and the runs whose lengths that needs.
pub(super) fn near(
    layout: &Layout,
    touched: &BTreeSet<EntityId>,
    entities: &mut BTreeSet<EntityId>,
    runs: &mut BTreeSet<RunId>,
) {
    let any = |kind: fn(&EntityId) -> bool| touched.iter().any(kind);
    // A run that comes to a joint can spoil the special work there.
    let joints: BTreeSet<JointId> = layout
        .runs
        .values()
        .filter(|run| entities.contains(&run.id.into()))
        .flat_map(|run| [run.from, run.to])
        .collect();
    let meets = |run: RunId| {
        let run = layout.runs.get(&run);
        run.is_some_and(|run| joints.contains(&run.from) || joints.contains(&run.to))
    };
    for special in layout.specials.values() {
        let ends = special.work.ends();
        let its_runs = || ends.iter().map(|end| end.run).chain(special.work.bridge());
        let spots = special.contact.sources.iter().flatten().map(|spot| spot.run);
        if touched.contains(&special.id.into())
            || its_runs().chain(spots.clone()).any(|run| entities.contains(&run.into()))
            || its_runs().any(meets)
            || any(|id| matches!(id, EntityId::Special(_)))
        {
            entities.insert(special.id.into());
            runs.extend(its_runs().chain(spots));
        }
    }
    for bond in layout.bonds.values() {
        let its_runs = [bond.from.run, bond.to.run];
        if touched.contains(&bond.id.into())
            || its_runs.iter().any(|&run| entities.contains(&run.into()))
        {
            entities.insert(bond.id.into());
            runs.extend(its_runs);
        }
    }
    if any(|id| matches!(id, EntityId::Device(_) | EntityId::Driver(_) | EntityId::Special(_))) {
        entities.extend(layout.devices.keys().map(|&id| EntityId::from(id)));
    }
}

pub(super) fn faults(
    about: &About,
    ends: &Ends,
    looks: &dyn Fn(EntityId) -> bool,
    found: &mut Found,
) {
    let layout = about.layout;
    let mut taken: BTreeMap<TrackEnd, EntityId> = BTreeMap::new();
    for special in layout.specials.values() {
        let before: Vec<_> = special.work.ends().iter().map(|e| taken.get(e).copied()).collect();
        taken.extend(special.work.ends().into_iter().map(|end| (end, special.id.into())));
        if looks(special.id.into()) {
            work(about, ends, special, &before, found);
        }
    }
    for bond in layout.bonds.values().filter(|b| looks(b.id.into())) {
        found.of(bond.id);
        found.number(bond.id);
        spot(about, "from", bond.from, found);
        spot(about, "to", bond.to, found);
    }
    let circling = device::rows(layout, found);
    for device in layout.devices.values().filter(|d| looks(d.id.into())) {
        device::device(layout, device, circling.contains(&device.id), found);
    }
    device::gangs(layout, looks, found);
}

fn spot(about: &About, field: &str, spot: Spot, found: &mut Found) {
    if !about.layout.runs.contains_key(&spot.run) {
        found.missing(
            &format!("{field}.run"),
            spot.run,
            nearest(about.layout.runs.keys(), spot.run.0),
        );
    } else if let Some(length) = about.sound_length(spot.run) {
        let hint = format!("run {} is {} long", spot.run, mm(length));
        found.value(&format!("{field}.at_mm"), spot.at_mm, May::Be(0.0, length), " mm", &hint);
    }
}

/// The path of a special work's run end in the file.
fn end_field(work: &Work, at: usize) -> String {
    match work {
        Work::Turnout { .. } if at == 0 => "work.toe".into(),
        Work::Turnout { .. } => format!("work.exits[{}]", at - 1),
        Work::Diamond { .. } | Work::Slip { .. } => format!("work.roads[{}][{}]", at / 2, at % 2),
        Work::Turntable { .. } | Work::Traverser { .. } => format!("work.roads[{at}]"),
        Work::Buffer { .. } => "work.end".into(),
    }
}

pub(crate) fn work(
    about: &About,
    ends: &Ends,
    special: &Special,
    taken: &[Option<EntityId>],
    found: &mut Found,
) {
    let layout = about.layout;
    let word = special.work.word();
    found.of(special.id);
    found.number(special.id);
    found.name("name", &special.name);
    found.name("gang", &special.gang);
    let before = found.faults.len();
    let its_ends = special.work.ends();
    for (at, end) in its_ends.iter().enumerate() {
        let field = end_field(&special.work, at);
        if !layout.runs.contains_key(&end.run) {
            found.missing(&format!("{field}.run"), end.run, nearest(layout.runs.keys(), end.run.0));
        } else if its_ends[..at].contains(end) {
            found.add(
                field,
                "the same run end is named twice",
                "a different end of a run for each road",
                "name each run end once",
            );
        } else if let Some(other) = taken.get(at).copied().flatten() {
            found.add(
                field,
                format!("that end of run {} belongs to {other} already", end.run),
                "a run end that no other special work has",
                "put a run between the two",
            );
        }
    }
    if let Some(bridge) = special.work.bridge()
        && !layout.runs.contains_key(&bridge)
    {
        found.missing("work.bridge", bridge, nearest(layout.runs.keys(), bridge.0));
    }
    roads_count(special, found);
    if found.faults.len() > before {
        return;
    }
    match &special.work {
        Work::Turnout { .. } | Work::Diamond { .. } | Work::Slip { .. } => {
            at_one_joint(about, ends, special, found);
        }
        Work::Turntable { .. } | Work::Traverser { .. } | Work::Buffer { .. } => {
            alone(layout, ends, special, found);
        }
    }
    if found.faults.len() == before {
        particulars(about, special, found);
    }
    if special.position >= special.work.positions() {
        found.add(
            "position",
            format!("the {word} has {} positions", special.work.positions()),
            format!("a number from 0 to {}", special.work.positions().saturating_sub(1)),
            "positions count from 0",
        );
    }
    contact(about, special, found);
}

fn roads_count(special: &Special, found: &mut Found) {
    match &special.work {
        Work::Turnout { exits, .. } if !(2..=3).contains(&exits.len()) => found.add(
            "work.exits",
            format!("the turnout has {} exits", exits.len()),
            "two exits, or three for a three-way turnout",
            "name the ends of the runs that lead away from its points",
        ),
        Work::Turntable { roads, .. } | Work::Traverser { roads, .. }
            if !(1..=MOST_ROADS).contains(&roads.len()) =>
        {
            found.add(
                "work.roads",
                format!("the {} has {} roads", special.work.word(), roads.len()),
                format!("from 1 to {MOST_ROADS} roads"),
                "name the ends of the runs that lead up to the bridge",
            );
        }
        Work::Diamond { frog, .. } | Work::Slip { frog, .. } if frog.is_one_metal() => found.add(
            "work.frog",
            format!("the frogs of a {} cannot be one metal with points", special.work.word()),
            "Insulated or Switched",
            "choose Switched for frogs that a contact feeds",
        ),
        _ => {}
    }
}

/// All roads of a turnout or a diamond end at one joint, and nothing else does.
fn at_one_joint(about: &About, ends: &Ends, special: &Special, found: &mut Found) {
    let layout = about.layout;
    let its_ends = special.work.ends();
    let joints: Vec<_> = its_ends.iter().filter_map(|&end| roads::joint_of(layout, end)).collect();
    let Some(&joint) = joints.first() else { return };
    for (at, other) in joints.iter().enumerate() {
        if *other != joint {
            found.add(
                end_field(&special.work, at),
                format!(
                    "this run end is at joint {other}, but {} is at joint {joint}",
                    if matches!(special.work, Work::Turnout { .. }) {
                        "the toe"
                    } else {
                        "the first road"
                    }
                ),
                format!("an end at joint {joint}"),
                "let all its runs end at one joint",
            );
            return;
        }
    }
    let here = ends.get(&joint).map_or(0, Vec::len);
    if here > its_ends.len() {
        found.add(
            "work",
            format!(
                "{here} run ends meet at joint {joint}, {} of them in the {}",
                its_ends.len(),
                special.work.word()
            ),
            "no other run end at its joint",
            "end the other run somewhere else",
        );
    }
}

/// The roads of a turntable, its bridge, and a buffer's end are ends of track.
fn alone(layout: &Layout, ends: &Ends, special: &Special, found: &mut Found) {
    let bridge = special.work.bridge().into_iter().flat_map(|run| {
        [RunEnd::Start, RunEnd::End].map(|end| ("work.bridge".to_owned(), TrackEnd { run, end }))
    });
    let roads = special.work.ends();
    let named = roads.iter().enumerate().map(|(at, &end)| (end_field(&special.work, at), end));
    for (field, end) in named.chain(bridge) {
        let Some(joint) = roads::joint_of(layout, end) else { continue };
        if ends.get(&joint).is_some_and(|here| here.len() > 1) {
            found.add(
                field,
                format!("run {} is joined to another run at joint {joint}", end.run),
                "an end of track",
                format!(
                    "end the run at a joint of its own: a {} joins no rails there",
                    special.work.word()
                ),
            );
        }
    }
    if let Some(bridge) = special.work.bridge()
        && roads.iter().any(|end| end.run == bridge)
    {
        found.add(
            "work.roads",
            format!("run {bridge} is the bridge and a road as well"),
            "roads that are other runs than the bridge",
            "take the bridge out of the list of roads",
        );
    }
}

fn contact(about: &About, special: &Special, found: &mut Found) {
    let (frogs, positions) = (special.work.fed_frogs(), special.work.positions());
    let contact = &special.contact;
    if frogs == 0 {
        if *contact != Default::default() {
            found.add(
                "contact",
                "no frog of this special work is fed by a contact",
                "a contact only with a frog that is Switched or PowerRoutingWithContact",
                "leave the contact away, or choose another kind of frog",
            );
        }
        return;
    }
    if contact.position.is_some_and(|position| position >= positions) {
        found.add(
            "contact.position",
            format!("the contact has {positions} positions"),
            format!("a number from 0 to {}", positions.saturating_sub(1)),
            "leave it away for a contact that follows the points",
        );
    }
    for (field, stated) in
        [("before_points", contact.before_points), ("open_between", contact.open_between)]
    {
        if stated && special.has_contact_lever() {
            found.add(
                format!("contact.{field}"),
                "a contact on a lever of its own is not thrown with the points",
                format!("`{field}` only with `lever: Points`"),
                format!("leave `{field}` away, or leave `lever` away"),
            );
        }
    }
    if contact.sources.is_empty() {
        return;
    }
    if contact.sources.len() != frogs
        || contact.sources.iter().any(|places| places.len() != positions as usize)
    {
        found.add(
            "contact.sources",
            "the list does not have one place per frog and position",
            format!("{frogs} lists (one per frog) of {positions} places (one per position)"),
            "leave it away for a contact that is wired the right way round",
        );
        return;
    }
    for (frog, places) in contact.sources.iter().enumerate() {
        for (position, &place) in places.iter().enumerate() {
            spot(about, &format!("contact.sources[{frog}][{position}]"), place, found);
        }
    }
}
