//! What makes a layout meaningless: the rules that loading and editing share.
//!
//! A rule yields a [`Fault`] with the entity and the field at which it lies, so that a file's fault can be placed at
//! its line and an edit's can be told to a person.

mod special;

use std::collections::{BTreeMap, BTreeSet};

use super::chain::Origin;
use super::edit::Entity;
use super::geometry::{self, END_TOLERANCE_MM, RunEnd};
use super::ids::{EntityId, JointId, RunId};
use super::lineup::Lineup;
use super::model::{
    Clock, Cut, Direction, Drive, Driver, Feed, Idle, Layout, Load, Made, Rail, Rails, Run, Shape,
    Supply, Train, TripKind, Vehicle, WireSize,
};
use super::picture::Picture;
use super::quantity::{Quantity, Source};
use super::special::TrackEnd;
use super::trip_curve::TripPoint;
use super::wire::LEAST_OHM;

/// Largest number that an identity may have.
pub const LARGEST_NUMBER: u32 = 1_000_000_000;
/// Most entities that a layout may have.
pub const MOST_ENTITIES: usize = 200_000;
/// Most wheelsets that a vehicle may have.
pub const MOST_AXLES: usize = 1_000;
/// Most vehicles that a train may have.
pub const MOST_COUPLED: usize = 200;
/// Most pictures that may lie under the plan.
pub const MOST_PICTURES: usize = 100;
/// How far from the plan's origin a point may lie, mm (10 km).
pub const FARTHEST_MM: f64 = 1e7;
/// Shortest run, mm.
pub const SHORTEST_RUN_MM: f64 = 0.1;
/// Widest cut, mm.
pub const WIDEST_CUT_MM: f64 = 50.0;

const HIGHEST_V: f64 = 100.0;
const HIGHEST_A: f64 = 1_000.0;
const HIGHEST_OHM: f64 = 1e9;
const LONGEST_S: f64 = 1e6;

/// One thing that makes no sense.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// The entity in which it lies; `None`: the layout as a whole.
    pub entity: Option<EntityId>,
    /// The field in the entity, as a path such as `trip.amps.from` or `axles[2].at_mm`; empty: the entity itself.
    pub field: String,
    /// What is wrong.
    pub says: String,
    /// What would be right.
    pub expected: String,
    /// What to do.
    pub hint: String,
}

impl Fault {
    /// Where it lies, in words.
    pub fn place(&self) -> String {
        match (self.entity, self.field.as_str()) {
            (None, "") => "the layout".into(),
            (None, field) => format!("the layout, {field}"),
            (Some(id), "") => format!("{} {id}", kind_word(id)),
            (Some(id), field) => format!("{} {id}, {field}", kind_word(id)),
        }
    }

    /// The whole fault as a sentence or three. An entity that is `new` has no identity yet that a person could know.
    pub fn for_a_person(&self, new: bool) -> String {
        let whose = match self.entity {
            None => "The layout".into(),
            Some(id) if new => format!("The new {}", kind_word(id)),
            Some(id) => capital(&format!("{} {id}", kind_word(id))),
        };
        let field = in_words(&self.field);
        let comma = if field.is_empty() { "" } else { ", " };
        format!(
            "{whose}{comma}{field}: {} (expected {}). {}.",
            self.says,
            self.expected,
            capital(&self.hint)
        )
    }
}

/// A field's path for someone who does not see the file: `trip.amps.value` as "trip, amps".
fn in_words(path: &str) -> String {
    const UNITS: [&str; 11] =
        ["_mm_per_m", "_um_per_m_k", "_mm_s", "_mm", "_ohm", "_v", "_a", "_s", "_f", "_m", "_c"];
    let mut words: Vec<String> = Vec::new();
    for part in path.split(['.', '[']).filter(|part| !part.is_empty() && *part != "value") {
        match part.strip_suffix(']').and_then(|index| index.parse::<usize>().ok()) {
            Some(index) => words.push(format!("number {}", index + 1)),
            None => {
                let bare = UNITS.iter().find_map(|unit| part.strip_suffix(unit)).unwrap_or(part);
                words.push(if bare == "at" { "place".into() } else { bare.replace('_', " ") });
            }
        }
    }
    words.join(", ")
}

/// The word for the kind of thing that an identity is of.
pub fn kind_word(id: EntityId) -> &'static str {
    match id {
        EntityId::Joint(_) => "joint",
        EntityId::Run(_) => "run",
        EntityId::Cut(_) => "cut",
        EntityId::Label(_) => "label",
        EntityId::Supply(_) => "supply",
        EntityId::Driver(_) => "driver",
        EntityId::Feed(_) => "feed",
        EntityId::Vehicle(_) => "vehicle",
        EntityId::Special(_) => "special work",
        EntityId::Device(_) => "device",
        EntityId::Bond(_) => "bond",
        EntityId::Train(_) => "train",
        EntityId::Lineup(_) => "lineup",
        EntityId::Picture(_) => "picture",
    }
}

/// A length in words, mm to a thousandth.
pub fn mm(mm: f64) -> String {
    format!("{} mm", number(mm))
}

fn number(value: f64) -> String {
    if value != 0.0 && value.is_finite() && (value.abs() < 1e-3 || value.abs() >= 1e9) {
        format!("{value:e}")
    } else {
        format!("{}", (value * 1e3).round() / 1e3)
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// All faults of a layout: those of the whole first, then entity by entity.
pub fn faults(layout: &Layout) -> Vec<Fault> {
    faults_within(layout, None)
}

/// The faults of a layout that had none before the given entities were put, changed or removed.
///
/// Looks only at what they can have spoilt, so that an edit of a large layout costs little.
pub fn faults_near(layout: &Layout, touched: &BTreeSet<EntityId>) -> Vec<Fault> {
    faults_within(layout, Some(&Near::new(layout, touched)))
}

/// What can be spoilt by a change of some entities.
struct Near {
    /// The entities themselves and all that leans on them.
    entities: BTreeSet<EntityId>,
    /// The runs whose lengths those need.
    runs: BTreeSet<RunId>,
}

impl Near {
    fn new(layout: &Layout, touched: &BTreeSet<EntityId>) -> Self {
        let mut entities = touched.clone();
        let mut runs: BTreeSet<RunId> = BTreeSet::new();
        for run in layout.runs.values() {
            if touched.contains(&run.id.into())
                || touched.contains(&run.from.into())
                || touched.contains(&run.to.into())
            {
                entities.insert(run.id.into());
                runs.insert(run.id);
            }
        }
        for cut in layout.cuts.values() {
            if entities.contains(&cut.run.into()) || touched.contains(&cut.id.into()) {
                entities.insert(cut.id.into());
                runs.insert(cut.run);
            }
        }
        for label in layout.labels.values() {
            if entities.contains(&label.run.into()) || touched.contains(&label.id.into()) {
                entities.insert(label.id.into());
                runs.insert(label.run);
            }
        }
        for driver in layout.drivers.values() {
            if touched.contains(&driver.supply.into()) {
                entities.insert(driver.id.into());
            }
        }
        special::near(layout, touched, &mut entities, &mut runs);
        for feed in layout.feeds.values() {
            if entities.contains(&feed.run.into())
                || touched.contains(&EntityId::from(feed.driver))
                || touched.contains(&feed.id.into())
            {
                entities.insert(feed.id.into());
                runs.insert(feed.run);
            }
        }
        for train in layout.trains.values() {
            if train.vehicles.iter().any(|coupled| touched.contains(&coupled.vehicle.into())) {
                entities.insert(train.id.into());
            }
        }
        for lineup in layout.lineups.values() {
            if lineup.names().any(|id| touched.contains(&id)) {
                entities.insert(lineup.id.into());
            }
        }
        // Cuts near a joint may meet cuts of the run beyond it.
        let joints: BTreeSet<JointId> = runs
            .iter()
            .filter_map(|id| layout.runs.get(id))
            .flat_map(|run| [run.from, run.to])
            .collect();
        runs.extend(
            layout
                .runs
                .values()
                .filter(|run| joints.contains(&run.from) || joints.contains(&run.to))
                .map(|run| run.id),
        );
        Self { entities, runs }
    }
}

fn faults_within(layout: &Layout, near: Option<&Near>) -> Vec<Fault> {
    let looks = |id: EntityId| near.is_none_or(|near| near.entities.contains(&id));
    let mut found = Found::default();
    let about = About::new(layout, near.map(|near| &near.runs));
    whole(layout, &mut found);
    let ends = ends_at_joints(layout);
    joints_and_their_ends(layout, &ends, &mut found);
    for joint in layout.joints.values().filter(|e| looks(e.id.into())) {
        found.of(joint.id);
        found.number(joint.id);
        found.plan("x_mm", joint.x_mm);
        found.plan("y_mm", joint.y_mm);
    }
    layout.runs.values().filter(|e| looks(e.id.into())).for_each(|e| run(&about, e, &mut found));
    layout.cuts.values().filter(|e| looks(e.id.into())).for_each(|e| cut(&about, e, &mut found));
    for label in layout.labels.values().filter(|e| looks(e.id.into())) {
        found.of(label.id);
        found.number(label.id);
        found.word("name", &label.name);
        found.anchor(&about, label.run, label.at_mm);
    }
    let supplies = layout.supplies.values().filter(|e| looks(e.id.into()));
    supplies.for_each(|e| supply(e, &mut found));
    let drivers = layout.drivers.values().filter(|e| looks(e.id.into()));
    drivers.for_each(|e| driver(&about, e, &mut found));
    let feeds = layout.feeds.values().filter(|e| looks(e.id.into()));
    feeds.for_each(|e| feed(&about, e, &mut found));
    let vehicles = layout.vehicles.values().filter(|e| looks(e.id.into()));
    vehicles.for_each(|e| vehicle(e, &mut found));
    special::faults(&about, &ends, &looks, &mut found);
    let trains = layout.trains.values().filter(|e| looks(e.id.into()));
    trains.for_each(|e| train(layout, e, &mut found));
    let lineups = layout.lineups.values().filter(|e| looks(e.id.into()));
    lineups.for_each(|e| lineup(layout, e, &mut found));
    let pictures = layout.pictures.values().filter(|e| looks(e.id.into()));
    pictures.for_each(|e| picture(e, &mut found));
    cuts_at_one_place(&about, &ends, &mut found);
    found.faults
}

/// The faults of one entity that stands beside a layout, as if it were in it. For an entity whose identity is taken.
pub(super) fn faults_of(layout: &Layout, entity: &Entity) -> Vec<Fault> {
    let mut found = Found::default();
    let about = About::new(layout, None);
    match entity {
        Entity::Joint(e) => {
            found.of(e.id);
            found.plan("x_mm", e.x_mm);
            found.plan("y_mm", e.y_mm);
        }
        Entity::Run(e) => run(&about, e, &mut found),
        Entity::Cut(e) => cut(&about, e, &mut found),
        Entity::Label(e) => {
            found.of(e.id);
            found.word("name", &e.name);
            found.anchor(&about, e.run, e.at_mm);
        }
        Entity::Supply(e) => supply(e, &mut found),
        Entity::Driver(e) => driver(&about, e, &mut found),
        Entity::Feed(e) => feed(&about, e, &mut found),
        Entity::Vehicle(e) => vehicle(e, &mut found),
        Entity::Special(_) | Entity::Device(_) | Entity::Bond(_) => {}
        Entity::Train(e) => train(layout, e, &mut found),
        Entity::Lineup(e) => lineup(layout, e, &mut found),
        Entity::Picture(e) => picture(e, &mut found),
    }
    found.faults
}

/// A layout and the lengths of its runs, mm: as drawn and as they count.
struct About<'a> {
    layout: &'a Layout,
    lengths: BTreeMap<RunId, (f64, f64)>,
}

impl<'a> About<'a> {
    /// Works out the lengths of the given runs, or of all.
    fn new(layout: &'a Layout, runs: Option<&BTreeSet<RunId>>) -> Self {
        let lengths = layout
            .runs
            .values()
            .filter(|run| runs.is_none_or(|runs| runs.contains(&run.id)))
            .map(|run| {
                let drawn = geometry::drawn_length_mm(layout, run);
                (run.id, (drawn, run.length_mm.unwrap_or(drawn)))
            })
            .collect();
        Self { layout, lengths }
    }

    fn drawn_length(&self, run: &Run) -> f64 {
        // A run whose identity is taken is not the one whose length is known.
        let known = self.layout.runs.get(&run.id).filter(|there| std::ptr::eq(*there, run));
        match known.and_then(|run| self.lengths.get(&run.id)) {
            Some((drawn, _)) => *drawn,
            None => geometry::drawn_length_mm(self.layout, run),
        }
    }

    /// The length of a run, if it is one that something can stand on.
    fn sound_length(&self, run: RunId) -> Option<f64> {
        self.lengths.get(&run).map(|(_, mm)| *mm).filter(|mm| mm.is_finite() && *mm > 0.0)
    }
}

/// What a number may be.
#[derive(Clone, Copy)]
enum May {
    /// From the first to the second, both included.
    Be(f64, f64),
    /// Above the first, up to and including the second.
    Exceed(f64, f64),
}

impl May {
    fn allows(self, value: f64) -> bool {
        match self {
            May::Be(from, to) => from <= value && value <= to,
            May::Exceed(from, to) => from < value && value <= to,
        }
    }

    fn words(self, unit: &str) -> String {
        match self {
            May::Be(from, to) => format!("a number from {} to {}{unit}", number(from), number(to)),
            May::Exceed(from, to) => {
                format!("a number above {} and up to {}{unit}", number(from), number(to))
            }
        }
    }
}

const OHM: May = May::Be(LEAST_OHM, HIGHEST_OHM);
const VOLT: May = May::Exceed(0.0, HIGHEST_V);
const AMP: May = May::Exceed(0.0, HIGHEST_A);
const SECONDS: May = May::Exceed(0.0, LONGEST_S);
const CELSIUS: May = May::Be(-50.0, 100.0);
const SHARE: May = May::Be(0.0, 1.0);
const MM_PER_PIXEL: May = May::Be(1e-4, 1e4);

#[derive(Default)]
struct Found {
    faults: Vec<Fault>,
    entity: Option<EntityId>,
}

impl Found {
    fn of(&mut self, id: impl Into<EntityId>) {
        self.entity = Some(id.into());
    }

    fn add(
        &mut self,
        field: impl Into<String>,
        says: impl Into<String>,
        expected: impl Into<String>,
        hint: impl Into<String>,
    ) {
        self.faults.push(Fault {
            entity: self.entity,
            field: field.into(),
            says: says.into(),
            expected: expected.into(),
            hint: hint.into(),
        });
    }

    fn number(&mut self, id: impl Into<EntityId>) {
        let id = id.into();
        if id.number() > LARGEST_NUMBER {
            self.add(
                "id",
                format!("the number of {id} is too large"),
                format!("a number up to {LARGEST_NUMBER}"),
                "give it a smaller number, here and wherever it is named",
            );
        }
    }

    /// Returns whether the value is allowed.
    fn value(&mut self, field: &str, value: f64, may: May, unit: &str, hint: &str) -> bool {
        if may.allows(value) {
            return true;
        }
        let says = if value.is_nan() {
            "the value is not a number".to_owned()
        } else if value.is_infinite() {
            "the value is infinite".to_owned()
        } else {
            format!("the value is {}{unit}", number(value))
        };
        self.add(field, says, may.words(unit), hint);
        false
    }

    fn quantity(&mut self, field: &str, quantity: &Quantity, may: May, unit: &str, hint: &str) {
        let mut sound = self.value(&format!("{field}.value"), quantity.value, may, unit, hint);
        if let Source::Assumed { from, to } = quantity.source {
            sound &= self.value(&format!("{field}.from"), from, may, unit, hint);
            sound &= self.value(&format!("{field}.to"), to, may, unit, hint);
            if !sound {
                return;
            }
            let value = quantity.value;
            if from > to {
                self.add(
                    format!("{field}.from"),
                    format!("the range starts at {} and ends at {}", number(from), number(to)),
                    "a range whose `from` is not above its `to`",
                    "exchange the two",
                );
            } else if !(from <= value && value <= to) {
                self.add(
                    format!("{field}.value"),
                    format!(
                        "the value {} is outside its range from {} to {}",
                        number(value),
                        number(from),
                        number(to)
                    ),
                    "a value within its own range",
                    "widen the range or choose a value inside it",
                );
            }
        }
    }

    fn maybe(&mut self, field: &str, q: Option<&Quantity>, may: May, unit: &str, hint: &str) {
        if let Some(quantity) = q {
            self.quantity(field, quantity, may, unit, hint);
        }
    }

    fn ohm(&mut self, field: &str, quantity: &Quantity) {
        self.quantity(
            field,
            quantity,
            OHM,
            " Ω",
            "a circuit without resistance has no answer: give at least 0.001 Ω",
        );
    }

    fn plan(&mut self, field: &str, value: f64) {
        let may = May::Be(-FARTHEST_MM, FARTHEST_MM);
        self.value(field, value, may, " mm", "places on the plan are in mm of the model");
    }

    fn word(&mut self, field: &str, word: &str) {
        if word.trim().is_empty() {
            self.add(
                field,
                "the name is empty",
                "a name",
                "give it a name, or take the field away",
            );
        }
    }

    /// A reference that leads nowhere. `there` are the identities that would do.
    fn missing(&mut self, field: &str, id: impl Into<EntityId>, there: Option<EntityId>) {
        let id = id.into();
        let kind = kind_word(id);
        self.add(
            field,
            format!("there is no {kind} {id}"),
            format!("the id of a {kind} of this layout"),
            match there {
                Some(near) => format!("the nearest id in use is {near}; or add the {kind} {id}"),
                None => format!("this layout has no {kind} at all: add one"),
            },
        );
    }

    /// Where current comes from must be there.
    fn origin(&mut self, field: &str, layout: &Layout, origin: Origin) {
        match origin {
            Origin::Driver(id) if !layout.drivers.contains_key(&id) => {
                self.missing(field, id, nearest(layout.drivers.keys(), id.0));
            }
            Origin::Device(id) if !layout.devices.contains_key(&id) => {
                self.missing(field, id, nearest(layout.devices.keys(), id.0));
            }
            _ => {}
        }
    }

    fn anchor(&mut self, about: &About, run: RunId, at_mm: f64) {
        if !about.layout.runs.contains_key(&run) {
            self.missing("run", run, nearest(about.layout.runs.keys(), run.0));
            self.value("at_mm", at_mm, May::Be(0.0, FARTHEST_MM), " mm", "distances start at 0");
            return;
        }
        let Some(length) = about.sound_length(run) else { return };
        if !(at_mm >= 0.0 && at_mm <= length + END_TOLERANCE_MM) {
            self.value(
                "at_mm",
                at_mm,
                May::Be(0.0, length),
                " mm",
                &format!("run {run} is {} long; a distance along it cannot lie beyond", mm(length)),
            );
        }
    }
}

fn nearest<'a, I: Copy + Into<EntityId> + 'a>(
    ids: impl Iterator<Item = &'a I>,
    number: u32,
) -> Option<EntityId> {
    ids.map(|&id| id.into()).min_by_key(|id: &EntityId| id.number().abs_diff(number))
}

fn whole(layout: &Layout, found: &mut Found) {
    found.entity = None;
    let scale = May::Be(1.0, 1000.0);
    found.value("scale", layout.scale, scale, "", "the scale is the number behind \"1:\"");
    let gauge = May::Be(1.0, 2000.0);
    found.value("gauge_mm", layout.gauge_mm, gauge, " mm", "the gauge is in mm of the model");
    found.quantity(
        "rail_ohm_per_m",
        &layout.rail_ohm_per_m,
        May::Be(0.0, 1000.0),
        " Ω per m",
        "leave the field away for the usual range",
    );
    if let Some(climate) = &layout.climate {
        let hint = "temperatures of the room are in °C";
        let cold = found.value("climate.coldest_c", climate.coldest_c, CELSIUS, " °C", hint);
        let hot = found.value("climate.hottest_c", climate.hottest_c, CELSIUS, " °C", hint);
        if cold && hot && climate.coldest_c > climate.hottest_c {
            found.add(
                "climate.coldest_c",
                format!(
                    "the coldest is {} °C and the hottest {} °C",
                    number(climate.coldest_c),
                    number(climate.hottest_c)
                ),
                "a lowest temperature that is not above the highest",
                "exchange the two",
            );
        }
        found.value(
            "climate.rail_um_per_m_k",
            climate.rail_um_per_m_k,
            May::Be(0.0, 100.0),
            " µm per m and K",
            "leave the field away for nickel silver",
        );
        found.value(
            "climate.benchwork_mm_per_m",
            climate.benchwork_mm_per_m,
            May::Be(0.0, 50.0),
            " mm per m",
            "leave the field away for framed softwood",
        );
    }
    let largest = largest_number(layout);
    if layout.next_id <= largest && largest <= LARGEST_NUMBER {
        found.add(
            "next_id",
            format!("the next id would be {}, but {largest} is in use", layout.next_id),
            format!("a number above {largest}"),
            "leave the field away to have it worked out",
        );
    } else if layout.next_id > LARGEST_NUMBER + 1 {
        found.add(
            "next_id",
            format!("the next id would be {}, which is too large", layout.next_id),
            format!("a number up to {}", LARGEST_NUMBER + 1),
            "leave the field away to have it worked out",
        );
    }
    let count = layout.joints.len()
        + layout.runs.len()
        + layout.cuts.len()
        + layout.labels.len()
        + layout.supplies.len()
        + layout.drivers.len()
        + layout.feeds.len()
        + layout.vehicles.len()
        + layout.specials.len()
        + layout.devices.len()
        + layout.bonds.len()
        + layout.trains.len()
        + layout.lineups.len()
        + layout.pictures.len();
    if count > MOST_ENTITIES {
        found.add(
            "",
            format!("there are {count} things on this layout"),
            format!("at most {MOST_ENTITIES}"),
            "divide the layout into several files",
        );
    }
    if layout.pictures.len() > MOST_PICTURES {
        found.add(
            "pictures",
            format!("there are {} pictures", layout.pictures.len()),
            format!("at most {MOST_PICTURES}"),
            "join pictures that lie beside each other into one file",
        );
    }
}

/// The largest number that an identity of the layout has; 0 if it has none.
pub(super) fn largest_number(layout: &Layout) -> u32 {
    fn last<I: Copy + Into<EntityId>, T>(map: &BTreeMap<I, T>) -> u32 {
        map.keys().next_back().map_or(0, |&id| id.into().number())
    }
    last(&layout.joints)
        .max(last(&layout.runs))
        .max(last(&layout.cuts))
        .max(last(&layout.labels))
        .max(last(&layout.supplies))
        .max(last(&layout.drivers))
        .max(last(&layout.feeds))
        .max(last(&layout.vehicles))
        .max(last(&layout.specials))
        .max(last(&layout.devices))
        .max(last(&layout.bonds))
        .max(last(&layout.trains))
        .max(last(&layout.lineups))
        .max(last(&layout.pictures))
}

/// The ends of runs at each joint, in the order of the runs.
type Ends = BTreeMap<JointId, Vec<(RunId, RunEnd)>>;

fn ends_at_joints(layout: &Layout) -> Ends {
    let mut ends = Ends::new();
    for run in layout.runs.values() {
        ends.entry(run.from).or_default().push((run.id, RunEnd::Start));
        ends.entry(run.to).or_default().push((run.id, RunEnd::End));
    }
    ends
}

fn joints_and_their_ends(layout: &Layout, ends: &Ends, found: &mut Found) {
    let special = special::ends_held(layout);
    for (joint, ends) in ends {
        if ends.iter().any(|&(run, end)| special.contains(&TrackEnd { run, end })) {
            continue;
        }
        for &(run, end) in ends.iter().skip(2) {
            found.of(run);
            found.add(
                if end == RunEnd::Start { "from" } else { "to" },
                format!(
                    "joint {joint} already joins run {} and run {}, so run {run} cannot end there",
                    ends[0].0, ends[1].0
                ),
                "a joint with one run end at most",
                "a third run end makes a turnout, a fourth a diamond or a slip: say so in `specials`, or end the run at a free joint",
            );
        }
    }
}

fn run(about: &About, run: &Run, found: &mut Found) {
    let layout = about.layout;
    found.of(run.id);
    found.number(run.id);
    let mut ends = true;
    for (field, joint) in [("from", run.from), ("to", run.to)] {
        if !layout.joints.contains_key(&joint) {
            found.missing(field, joint, nearest(layout.joints.keys(), joint.0));
            ends = false;
        }
    }
    let mut shaped = true;
    match run.shape {
        Shape::Straight => {}
        Shape::Arc { bend_deg } => {
            if !(bend_deg.abs() > 0.0 && bend_deg.abs() < 360.0) {
                shaped = false;
                found.add(
                    "shape.bend_deg",
                    if bend_deg.is_finite() {
                        format!("the arc turns by {}°", number(bend_deg))
                    } else {
                        "the turn of the arc is not a finite number".to_owned()
                    },
                    "a turn of more than 0° and less than 360°, positive to the left, negative to the right",
                    "for no turn use shape: Straight",
                );
            }
        }
        Shape::Cubic { c1, c2 } => {
            for (field, value) in [
                ("shape.c1[0]", c1.0),
                ("shape.c1[1]", c1.1),
                ("shape.c2[0]", c2.0),
                ("shape.c2[1]", c2.1),
            ] {
                let may = May::Be(-FARTHEST_MM, FARTHEST_MM);
                let hint = "control points are places on the plan, in mm";
                shaped &= found.value(field, value, may, " mm", hint);
            }
        }
    }
    if let Some(length) = run.length_mm {
        let may = May::Be(SHORTEST_RUN_MM, FARTHEST_MM);
        let hint = "leave the field away to have the drawn length count";
        found.value("length_mm", length, may, " mm", hint);
    }
    if !ends || !shaped {
        return;
    }
    if run.from == run.to && !matches!(run.shape, Shape::Cubic { .. }) {
        found.add(
            "to",
            format!("the run starts and ends at joint {}", run.from),
            "another joint than the one it starts at",
            "only a cubic can lead back to its own joint",
        );
        return;
    }
    let drawn = about.drawn_length(run);
    // Joints with impossible coordinates have faults of their own.
    let placed = [run.from, run.to].iter().all(|id| {
        layout
            .joints
            .get(id)
            .is_some_and(|j| j.x_mm.abs() <= FARTHEST_MM && j.y_mm.abs() <= FARTHEST_MM)
    });
    if placed && !(SHORTEST_RUN_MM..=FARTHEST_MM).contains(&drawn) {
        found.add(
            "shape",
            format!("the run is drawn {} long", mm(drawn)),
            format!("a drawn length from {} to {}", mm(SHORTEST_RUN_MM), mm(FARTHEST_MM)),
            "move its joints, or change its shape",
        );
    }
}

fn cut(about: &About, cut: &Cut, found: &mut Found) {
    found.of(cut.id);
    found.number(cut.id);
    found.anchor(about, cut.run, cut.at_mm);
    let may = May::Exceed(0.0, WIDEST_CUT_MM);
    found.value("width_mm", cut.width_mm, may, " mm", "a saw cut is about 0.8 mm wide");
    if let Some(cut_at_c) = cut.cut_at_c {
        found.value("cut_at_c", cut_at_c, CELSIUS, " °C", "leave it away if it is not known");
    }
    if !cut.stagger_mm.is_finite() {
        let may = May::Be(-FARTHEST_MM, FARTHEST_MM);
        found.value("stagger_mm", cut.stagger_mm, may, " mm", "leave it away for no stagger");
        return;
    }
    if cut.stagger_mm != 0.0 && cut.rails != Rails::Both {
        found.add(
            "stagger_mm",
            "only one rail is cut, so there is nothing to stagger",
            "a stagger only with rails: Both",
            "leave the stagger away and move at_mm instead",
        );
        return;
    }
    let Some(length) = about.sound_length(cut.run) else { return };
    let right = cut.at_mm + cut.stagger_mm;
    let within = |at: f64| (-END_TOLERANCE_MM..=length + END_TOLERANCE_MM).contains(&at);
    if within(cut.at_mm) && !within(right) {
        found.add(
            "stagger_mm",
            format!(
                "the right rail would be cut at {}, but run {} is {} long",
                mm(right),
                cut.run,
                mm(length)
            ),
            format!("a stagger from {} to {}", mm(-cut.at_mm), mm(length - cut.at_mm)),
            "make the stagger smaller, or cut each rail by itself on its own run",
        );
    }
    if cut.made == Made::InsulatedJoiner && within(cut.at_mm) {
        if geometry::end_at(length, cut.at_mm).is_none() {
            found.add(
                "at_mm",
                format!(
                    "an insulated joiner cannot stand at {} on run {}: it joins run ends",
                    mm(cut.at_mm),
                    cut.run
                ),
                format!("0 or {}", number(length)),
                "put it at an end of the run, split the run there, or make it a cut",
            );
        } else if cut.stagger_mm != 0.0 && geometry::end_at(length, right).is_none() {
            found.add(
                "stagger_mm",
                "an insulated joiner stands at the run's end in both rails",
                "no stagger",
                "leave the stagger away",
            );
        }
    }
}

/// Two cuts that would take the same metal: closer in one rail than the wider of them is wide.
fn cuts_at_one_place(about: &About, ends: &Ends, found: &mut Found) {
    let layout = about.layout;
    let mut sides: BTreeMap<(RunId, Rail), Vec<(f64, &Cut)>> = BTreeMap::new();
    for cut in layout.cuts.values() {
        let sound = cut.width_mm > 0.0 && cut.width_mm <= WIDEST_CUT_MM;
        if !sound || about.sound_length(cut.run).is_none() {
            continue;
        }
        let right = if cut.rails == Rails::Both { cut.at_mm + cut.stagger_mm } else { cut.at_mm };
        for (rail, at) in [(Rail::Left, cut.at_mm), (Rail::Right, right)] {
            if cut.rails.has(rail) && at.is_finite() {
                sides.entry((cut.run, rail)).or_default().push((at, cut));
            }
        }
    }
    let mut told: BTreeMap<super::CutId, (super::CutId, Rail)> = BTreeMap::new();
    let mut tell = |a: &Cut, b: &Cut, rail: Rail| {
        // The one with the larger number is the later one.
        told.entry(a.id.max(b.id)).or_insert((a.id.min(b.id), rail));
    };
    for ((_, rail), cuts) in &mut sides {
        cuts.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.id.cmp(&b.1.id)));
        // The cut so far whose width reaches farthest ahead.
        let mut reach: Option<(f64, &Cut)> = None;
        for pair in 0..cuts.len() {
            let (at, cut) = cuts[pair];
            if let Some((end, earlier)) = reach
                && at < end
            {
                tell(earlier, cut, *rail);
            } else if pair > 0 && at - cuts[pair - 1].0 < cut.width_mm {
                tell(cuts[pair - 1].1, cut, *rail);
            }
            if reach.is_none_or(|(end, _)| at + cut.width_mm > end) {
                reach = Some((at + cut.width_mm, cut));
            }
        }
    }
    // Across a joint the same rail goes on: same hand if one run ends and the other starts there, else the other hand.
    for ends in ends.values() {
        let [(run_a, end_a), (run_b, end_b)] = ends[..] else { continue };
        if run_a == run_b {
            continue;
        }
        for rail in Rail::BOTH {
            let other = if end_a == end_b { rail.other() } else { rail };
            let nearest = |run: RunId, end: RunEnd, rail: Rail| {
                let cuts = sides.get(&(run, rail))?;
                match end {
                    RunEnd::Start => cuts.first().copied(),
                    RunEnd::End => {
                        let length = about.sound_length(run)?;
                        cuts.last().map(|&(at, cut)| (length - at, cut))
                    }
                }
            };
            if let (Some((a, cut_a)), Some((b, cut_b))) =
                (nearest(run_a, end_a, rail), nearest(run_b, end_b, other))
                && a.max(0.0) + b.max(0.0) < cut_a.width_mm.max(cut_b.width_mm)
            {
                tell(cut_a, cut_b, if cut_a.id > cut_b.id { rail } else { other });
            }
        }
    }
    for (later, (earlier, rail)) in told {
        let hand = if rail == Rail::Left { "left" } else { "right" };
        found.of(later);
        found.add(
            "at_mm",
            format!("it takes away the same piece of the {hand} rail as cut {earlier}"),
            "cuts in one rail that are farther apart than the wider one is wide",
            format!("move it along the rail, or delete it or cut {earlier}"),
        );
    }
}

fn supply(supply: &Supply, found: &mut Found) {
    found.of(supply.id);
    found.number(supply.id);
    let volts = "voltages are in V";
    found.quantity("open_v", &supply.open_v, VOLT, " V", volts);
    found.ohm("source_ohm", &supply.source_ohm);
    if let Some(limit) = &supply.limit {
        found.quantity("limit.amps", &limit.amps, AMP, " A", "for no limit leave `limit` away");
    }
    let farad = May::Exceed(0.0, 10.0);
    found.maybe("bulk_f", supply.bulk_f.as_ref(), farad, " F", "in F: 1000 µF is 0.001");
    if let Some(ohm) = &supply.bulk_ohm {
        found.ohm("bulk_ohm", ohm);
    }
    if let Some(negative) = &supply.negative {
        found.word("negative.name", &negative.name);
        found.ohm("negative.ohm", &negative.ohm);
    }
    found.maybe("bearable_v", supply.bearable_v.as_ref(), VOLT, " V", volts);
}

fn clock(clock: &Clock, field: &str, found: &mut Found) {
    let hz = May::Be(1.0, 1e6);
    found.value(&format!("{field}.hz"), clock.hz, hz, " Hz", "frequencies are in Hz");
    found.value(
        &format!("{field}.tolerance"),
        clock.tolerance,
        May::Be(0.0, 0.5),
        "",
        "the tolerance is a fraction: one per cent is 0.01",
    );
    if let Some(shared) = &clock.shared {
        found.word(&format!("{field}.shared"), shared);
    }
    if let Some(phase) = clock.phase {
        let field = format!("{field}.phase");
        if clock.shared.is_none() {
            found.add(
                &field,
                "there is a phase, but no shared clock that it could count from",
                "a phase only with `shared`",
                "name the shared clock, or leave the phase away",
            );
        }
        found.value(&field, phase, SHARE, "", "the phase is a fraction of the period");
    }
}

fn driver(about: &About, driver: &Driver, found: &mut Found) {
    found.of(driver.id);
    found.number(driver.id);
    let supply = about.layout.supplies.get(&driver.supply);
    if supply.is_none() {
        let near = nearest(about.layout.supplies.keys(), driver.supply.0);
        found.missing("supply", driver.supply, near);
    }
    let wants_split = matches!(driver.drive, Drive::SplitHalfBridge { .. });
    if let Some(supply) = supply
        && !matches!(driver.drive, Drive::Nothing)
        && wants_split != supply.split
    {
        found.add(
            "supply",
            if wants_split {
                format!("a half-bridge needs a midpoint, but supply {} is not split", supply.id)
            } else {
                format!("supply {} is split, but only a half-bridge uses its midpoint", supply.id)
            },
            if wants_split { "a split supply" } else { "a supply that is not split" },
            "choose another supply, or change `split` of this one",
        );
    }
    match &driver.drive {
        Drive::PwmBridge { clock: c, .. } => clock(c, "drive.clock", found),
        Drive::SmoothDc { output_ohm, .. } => found.ohm("drive.output_ohm", output_ohm),
        Drive::DccBooster { station, skew_s, .. } => {
            found.word("drive.station", station);
            let may = May::Be(-1e-3, 1e-3);
            found.value("drive.skew_s", *skew_s, may, " s", "in s: 5 µs is 0.000005");
        }
        Drive::SplitHalfBridge { clock: c, idle } => {
            clock(c, "drive.clock", found);
            if !matches!(idle, Idle::HighImpedance | Idle::Opposed) {
                found.add(
                    "drive.idle",
                    "a half-bridge on a split supply cannot brake",
                    "HighImpedance or Opposed",
                    "choose one of the two",
                );
            }
        }
        Drive::Nothing => {}
    }
    found.ohm("high_ohm", &driver.high_ohm);
    found.ohm("low_ohm", &driver.low_ohm);
    let diode = May::Be(0.0, 5.0);
    found.quantity("diode_v", &driver.diode_v, diode, " V", "a silicon diode has about 0.7 V");
    found.ohm("diode_ohm", &driver.diode_ohm);
    let rating = "for no rating leave `rating_a` away";
    found.maybe("rating_a", driver.rating_a.as_ref(), AMP, " A", rating);
    trip(driver, found);
    let throttle = "a throttle is a fraction: one third is 0.33";
    found.value("lowest_throttle", driver.lowest_throttle, SHARE, "", throttle);
    found.maybe("wake_v", driver.wake_v.as_ref(), VOLT, " V", "voltages are in V");
    let dcc = matches!(driver.drive, Drive::DccBooster { .. });
    match driver.setting.direction {
        Direction::On if !dcc => found.add(
            "setting.direction",
            "On is for DCC boosters only",
            "Forward, Reverse, Stopped or Off",
            "choose a direction",
        ),
        Direction::Forward | Direction::Reverse | Direction::Stopped if dcc => found.add(
            "setting.direction",
            "a DCC booster has no direction",
            "On or Off",
            "choose On",
        ),
        _ => {}
    }
    found.value("setting.throttle", driver.setting.throttle, SHARE, "", throttle);
}

fn trip(driver: &Driver, found: &mut Found) {
    let Some(trip) = &driver.trip else { return };
    found.quantity("trip.amps", &trip.amps, AMP, " A", "for no trip leave `trip` away");
    trip_kind(&trip.kind, "trip.kind", Some(&driver.drive), found);
    if trip.kind == TripKind::Chopping && trip.retry_s.is_some() {
        found.add(
            "trip.retry_s",
            "what limits cycle by cycle never trips, so it has nothing to try again",
            "no `retry_s` with a chopping limit",
            "leave `retry_s` away",
        );
    }
    if let Some(retry_s) = trip.retry_s {
        let hint = "for a trip that latches leave `retry_s` away";
        found.value("trip.retry_s", retry_s, SECONDS, " s", hint);
    }
}

/// `drive` is that of the driver, if the trip is one.
fn trip_kind(kind: &TripKind, field: &str, drive: Option<&Drive>, found: &mut Found) {
    let seconds = "times are in s: 1 ms is 0.001";
    match *kind {
        TripKind::Instant { blanking_s } => {
            let may = May::Be(0.0, LONGEST_S);
            found.value(&format!("{field}.blanking_s"), blanking_s, may, " s", seconds);
        }
        TripKind::Sampled { every_s, in_a_row, locked_at } => {
            found.value(&format!("{field}.every_s"), every_s, SECONDS, " s", seconds);
            let hint = "how many readings above the threshold in a row it takes";
            let may = May::Be(1.0, 16.0);
            found.value(&format!("{field}.in_a_row"), f64::from(in_a_row), may, "", hint);
            if let Some(at) = locked_at {
                let hint = "the place within the PWM period, as a fraction of it";
                found.value(&format!("{field}.locked_at"), at, SHARE, "", hint);
                if !matches!(drive, Some(Drive::PwmBridge { .. } | Drive::SplitHalfBridge { .. })) {
                    found.add(
                        format!("{field}.locked_at"),
                        "there is no PWM that readings could be locked to",
                        "locked readings only of a PWM bridge or half-bridge",
                        "leave `locked_at` away: the readings run free",
                    );
                }
            }
        }
        TripKind::Averaged { tau_s } => {
            found.value(&format!("{field}.tau_s"), tau_s, SECONDS, " s", seconds);
        }
        TripKind::Thermal { points } => trip_points(&format!("{field}.points"), &points, found),
        TripKind::Chopping if drive.is_none() => found.add(
            field,
            "what limits cycle by cycle never opens",
            "a kind of trip that acts",
            "only drivers chop",
        ),
        TripKind::Chopping => {}
    }
}

fn trip_points(field: &str, points: &[TripPoint], found: &mut Found) {
    if points.is_empty() {
        found.add(
            field,
            "the curve has no points",
            "at least one point",
            "the first is the least current at which it ever acts, such as (times: 1.5, after_s: 3600)",
        );
    }
    let mut before: Option<TripPoint> = None;
    for (i, point) in points.iter().enumerate() {
        let times = "currents are multiples of the trip's `amps`";
        let may = May::Exceed(0.0, 1000.0);
        let mut sound = found.value(&format!("{field}[{i}].times"), point.times, may, "", times);
        let seconds = "times are in s: 1 ms is 0.001";
        let after = format!("{field}[{i}].after_s");
        sound &= found.value(&after, point.after_s, SECONDS, " s", seconds);
        if !sound {
            continue;
        }
        if before.is_some_and(|b| point.times <= b.times || point.after_s >= b.after_s) {
            found.add(
                format!("{field}[{i}]"),
                "the point does not have more current and less time than the one before",
                "points in order of current, each sooner than the one before",
                "list the least current first; more current acts sooner",
            );
        }
        before = Some(*point);
    }
}

fn feed(about: &About, feed: &Feed, found: &mut Found) {
    found.of(feed.id);
    found.number(feed.id);
    found.origin("driver", about.layout, feed.driver);
    found.anchor(about, feed.run, feed.at_mm);
    match (feed.p, feed.m) {
        (None, None) => found.add(
            "",
            "the feed goes to no rail",
            "p, m or both",
            "say to which rail P goes and to which M, such as p: Right, m: Left",
        ),
        (Some(p), Some(m)) if p == m => found.add(
            "m",
            "P and M go to the same rail: the driver would be shorted for ever",
            "two different rails",
            "let M go to the other rail",
        ),
        _ => {}
    }
    if let Some(wire) = &feed.wire {
        match wire.size {
            WireSize::Awg(awg) => {
                let hint = "wire gauge is a whole number; thicker wire has a smaller one";
                let may = May::Be(0.0, 40.0);
                found.value("wire.size[0]", f64::from(awg), may, " AWG", hint);
            }
            WireSize::Mm2(mm2) => {
                let may = May::Exceed(0.0, 100.0);
                found.value("wire.size[0]", mm2, may, " mm²", "the cross-section of the copper");
            }
        }
        let may = May::Be(0.0, 10_000.0);
        found.value("wire.length_m", wire.length_m, may, " m", "the length of one leg, in m");
    }
    if let Some(ohm) = &feed.ohm {
        found.ohm("ohm", ohm);
    }
}

fn vehicle(vehicle: &Vehicle, found: &mut Found) {
    found.of(vehicle.id);
    found.number(vehicle.id);
    let may = May::Exceed(0.0, 100_000.0);
    let long =
        found.value("length_mm", vehicle.length_mm, may, " mm", "the length over the couplers");
    if vehicle.axles.is_empty() {
        found.add(
            "axles",
            "the vehicle has no wheelsets",
            "at least one wheelset",
            "give each as its distance from the front coupler, such as (at_mm: 20)",
        );
    } else if vehicle.axles.len() > MOST_AXLES {
        found.add(
            "axles",
            format!("the vehicle has {} wheelsets", vehicle.axles.len()),
            format!("at most {MOST_AXLES}"),
            "divide it into several vehicles",
        );
    }
    let mut before = f64::NEG_INFINITY;
    for (i, axle) in vehicle.axles.iter().enumerate() {
        let field = format!("axles[{i}].at_mm");
        let end = if long { vehicle.length_mm } else { 100_000.0 };
        let hint =
            "distances count from the front coupler; the vehicle is as long as `length_mm` says";
        if !found.value(&field, axle.at_mm, May::Be(0.0, end), " mm", hint) {
            continue;
        }
        if axle.at_mm <= before {
            found.add(
                field,
                format!("the wheelset at {} follows one at {}", mm(axle.at_mm), mm(before)),
                "wheelsets in order from front to rear",
                "list the wheelset nearest the front coupler first",
            );
        }
        before = before.max(axle.at_mm);
    }
    match &vehicle.load {
        Load::Nothing => {}
        Load::Resistor { ohm } => found.ohm("load.ohm", ohm),
        Load::Motor { ohm, emf_v } => {
            found.ohm("load.ohm", ohm);
            let may = May::Be(0.0, HIGHEST_V);
            found.quantity("load.emf_v", emf_v, may, " V", "voltages are in V");
        }
        Load::Rectifier { ohm, volts } => {
            found.ohm("load.ohm", ohm);
            let may = May::Be(0.0, HIGHEST_V);
            found.quantity("load.volts", volts, may, " V", "voltages are in V");
        }
    }
    let hint = "a clean wheel has about 0.02 Ω, a dirty one 0.5 Ω";
    let low = found.value("contact_ohm.low", vehicle.contact_ohm.low, OHM, " Ω", hint);
    let high = found.value("contact_ohm.high", vehicle.contact_ohm.high, OHM, " Ω", hint);
    if low && high && vehicle.contact_ohm.low > vehicle.contact_ohm.high {
        found.add(
            "contact_ohm.low",
            "the least contact resistance is above the largest",
            "a low that is not above the high",
            "exchange the two",
        );
    }
    let speed = May::Exceed(0.0, 100_000.0);
    let hint = "speeds are in mm of the model per s";
    let from = found.value("speed.from_mm_s", vehicle.speed.from_mm_s, speed, " mm/s", hint);
    let to = found.value("speed.to_mm_s", vehicle.speed.to_mm_s, speed, " mm/s", hint);
    if from && to && vehicle.speed.from_mm_s > vehicle.speed.to_mm_s {
        found.add(
            "speed.from_mm_s",
            "the least speed is above the largest",
            "a speed that is not above `to_mm_s`",
            "exchange the two",
        );
    }
    let may = May::Be(0.0, 20.0);
    found.value("patch_mm", vehicle.patch_mm, may, " mm", "a wheel touches along about 0.5 mm");
    let hint = "for no rating leave `wiring_a` away";
    found.maybe("wiring_a", vehicle.wiring_a.as_ref(), AMP, " A", hint);
    let may = May::Exceed(0.0, 50.0);
    found.value("tread_mm", vehicle.tread_mm, may, " mm", "a tread at 1:87 is about 2.8 mm wide");
}

fn train(layout: &Layout, train: &Train, found: &mut Found) {
    found.of(train.id);
    found.number(train.id);
    if train.vehicles.is_empty() {
        found.add(
            "vehicles",
            "the train has no vehicles",
            "at least one vehicle",
            "list its vehicles from front to rear, such as (vehicle: \"v1\")",
        );
    } else if train.vehicles.len() > MOST_COUPLED {
        found.add(
            "vehicles",
            format!("the train has {} vehicles", train.vehicles.len()),
            format!("at most {MOST_COUPLED}"),
            "divide it into several trains",
        );
    }
    for (i, coupled) in train.vehicles.iter().enumerate() {
        if !layout.vehicles.contains_key(&coupled.vehicle) {
            let near = nearest(layout.vehicles.keys(), coupled.vehicle.0);
            found.missing(&format!("vehicles[{i}].vehicle"), coupled.vehicle, near);
        }
    }
}

fn lineup(layout: &Layout, lineup: &Lineup, found: &mut Found) {
    found.of(lineup.id);
    found.number(lineup.id);
    for (i, throttle) in lineup.throttles.iter().enumerate() {
        if !layout.drivers.contains_key(&throttle.driver) {
            let near = nearest(layout.drivers.keys(), throttle.driver.0);
            found.missing(&format!("throttles[{i}].driver"), throttle.driver, near);
        }
        let field = format!("throttles[{i}].setting.throttle");
        let hint = "a throttle is a fraction: one third is 0.33";
        found.value(&field, throttle.setting.throttle, SHARE, "", hint);
    }
    for (i, at) in lineup.points.iter().enumerate() {
        if !layout.specials.contains_key(&at.special) {
            let near = nearest(layout.specials.keys(), at.special.0);
            found.missing(&format!("points[{i}].special"), at.special, near);
        }
    }
    for (i, at) in lineup.devices.iter().enumerate() {
        if !layout.devices.contains_key(&at.device) {
            let near = nearest(layout.devices.keys(), at.device.0);
            found.missing(&format!("devices[{i}].device"), at.device, near);
        }
    }
}

fn picture(picture: &Picture, found: &mut Found) {
    found.of(picture.id);
    found.number(picture.id);
    found.word("path", &picture.path);
    found.plan("x_mm", picture.x_mm);
    found.plan("y_mm", picture.y_mm);
    let hint = "scale the picture by two points that are a known distance apart";
    found.value("mm_per_pixel", picture.mm_per_pixel, MM_PER_PIXEL, " mm", hint);
    let hint = "a whole turn is 360°";
    found.value("turn_deg", picture.turn_deg, May::Be(-360.0, 360.0), "°", hint);
    let hint = "how strongly it is painted is a fraction: half is 0.5";
    found.value("opacity", picture.opacity, SHARE, "", hint);
    for (i, pixels) in picture.pixels.iter().flat_map(|(w, h)| [*w, *h]).enumerate() {
        let hint = "leave the field away if the size of the picture is not known";
        let may = May::Be(1.0, 1e6);
        found.value(&format!("pixels[{i}]"), f64::from(pixels), may, " pixels", hint);
    }
}
