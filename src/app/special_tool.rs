//! The tools for special work: place it, throw it, bond rails.

use eframe::egui::{Id, Pos2, Ui};

use super::App;
use super::camera::World;
use super::canvas::{end_at_pointer, on_grid, run_at, runs_under};
use super::form::{ANY, DEGREE, FROM_ZERO, Form, MM};
use super::names;
use super::theme::{SPACE, heading};
use super::tools::{action, caution_ui, run_length_ui};
use crate::layout::edit::{Edit, Entity, Refused};
use crate::layout::laying::free_ends;
use crate::layout::place::{
    self, CrossingKind, CrossingWish, Ground, Parting, Placed, Site, TraverserWish, TurnoutWish,
    TurntableWish,
};
use crate::layout::{
    Bond, BondId, EntityId, Frog, Layout, Rail, RunEnd, RunId, SpecialId, Spot, TrackEnd, Work,
    geometry, roads,
};

/// What the tool places.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Kind {
    Turnout,
    Curved,
    Wye,
    ThreeWay,
    Diamond,
    SingleSlip,
    DoubleSlip,
    Crossover,
    Turntable,
    Traverser,
    Buffer,
}

const KINDS: [(Kind, &str); 11] = [
    (Kind::Turnout, "Turnout"),
    (Kind::Curved, "Curved turnout"),
    (Kind::Wye, "Wye"),
    (Kind::ThreeWay, "Three-way turnout"),
    (Kind::Diamond, "Diamond"),
    (Kind::SingleSlip, "Single slip"),
    (Kind::DoubleSlip, "Double slip"),
    (Kind::Crossover, "Crossover"),
    (Kind::Turntable, "Turntable"),
    (Kind::Traverser, "Traverser"),
    (Kind::Buffer, "Buffer"),
];

impl Kind {
    fn word(self) -> String {
        KINDS.iter().find(|(kind, _)| *kind == self).map_or("", |(_, word)| word).to_lowercase()
    }

    fn is_bridge(self) -> bool {
        matches!(self, Kind::Turntable | Kind::Traverser)
    }

    fn crossing(self) -> Option<CrossingKind> {
        match self {
            Kind::Diamond => Some(CrossingKind::Diamond),
            Kind::SingleSlip => Some(CrossingKind::SingleSlip),
            Kind::DoubleSlip => Some(CrossingKind::DoubleSlip),
            _ => None,
        }
    }
}

/// State of the tool that places special work.
#[derive(Debug, Clone, PartialEq)]
pub struct SpecialTool {
    /// What.
    pub kind: Kind,
    /// To which side the diverging road goes.
    pub hand: Rail,
    /// Towards which end of the run the roads leave.
    pub towards: RunEnd,
    /// Frogs.
    pub frog: Frog,
    /// How far the diverging road turns away, degrees.
    pub turn_deg: f64,
    /// Length of roads that are laid, mm.
    pub length_mm: f64,
    /// How far the through road of a curved turnout turns, degrees.
    pub through_deg: f64,
    /// At which angle a second road crosses, degrees.
    pub angle_deg: f64,
    /// Length of a bridge, mm.
    pub bridge_mm: f64,
    /// Bearings of a turntable's roads, as typed.
    pub bearings: String,
    /// Length of a bridge's roads, mm.
    pub road_mm: f64,
    /// How many roads a traverser has.
    pub roads: u32,
    /// From one of them to the next, mm.
    pub spacing_mm: f64,
    /// Typed run.
    pub run: Option<RunId>,
    /// Typed distance, mm.
    pub at_mm: f64,
    /// Typed second run.
    pub other: Option<RunId>,
    /// Typed end of track.
    pub end: Option<TrackEnd>,
    /// Typed place, mm.
    pub x_mm: f64,
    /// Typed place, mm.
    pub y_mm: f64,
}

impl Default for SpecialTool {
    /// Sizes that look right at 1:87 (common practice, no source).
    fn default() -> Self {
        Self {
            kind: Kind::Turnout,
            hand: Rail::Left,
            towards: RunEnd::End,
            frog: Frog::default(),
            turn_deg: 15.0,
            length_mm: 250.0,
            through_deg: 20.0,
            angle_deg: 20.0,
            bridge_mm: 300.0,
            bearings: "0, 150, 165, 180".into(),
            road_mm: 300.0,
            roads: 3,
            spacing_mm: 50.0,
            run: None,
            at_mm: 0.0,
            other: None,
            end: None,
            x_mm: 0.0,
            y_mm: 0.0,
        }
    }
}

/// State of the tool that bonds rails.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BondTool {
    /// The place that was clicked first.
    pub from: Option<Spot>,
    /// Typed places: run, distance, rail.
    pub typed: [(Option<RunId>, f64, Rail); 2],
}

impl Default for BondTool {
    fn default() -> Self {
        Self { from: None, typed: [(None, 0.0, Rail::Left), (None, 0.0, Rail::Left)] }
    }
}

/// Where something is to be placed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Target {
    /// On a run; with another run that crosses it or lies beside it.
    On(RunId, f64, Option<RunId>),
    /// At an end of track.
    End(TrackEnd),
    /// On the ground, mm.
    Ground(f64, f64),
}

fn bearings(text: &str) -> Result<Vec<f64>, Refused> {
    text.split([',', ';', ' '])
        .filter(|word| !word.is_empty())
        .map(|word| {
            word.trim_end_matches('°').parse::<f64>().ok().filter(|v| v.is_finite()).ok_or_else(
                || {
                    Refused(format!(
                        "{word:?} is no angle. Write the bearings as numbers: 0, 150, 180."
                    ))
                },
            )
        })
        .collect()
}

impl SpecialTool {
    /// What placing at a target comes to.
    fn placed(&self, layout: &Layout, target: Target) -> Result<Placed, Refused> {
        let nowhere =
            || Refused(format!("A {} needs track to stand on. Choose a run.", self.kind.word()));
        let site = match target {
            Target::On(run, at_mm, _) => Some(Site { run, at_mm, towards: self.towards }),
            Target::End(TrackEnd { run, end }) => {
                let length = layout.runs.get(&run).map_or(0.0, |r| geometry::length_mm(layout, r));
                let at_mm = if end == RunEnd::Start { 0.0 } else { length };
                Some(Site { run, at_mm, towards: self.towards })
            }
            Target::Ground(..) => None,
        };
        if let Some(kind) = self.kind.crossing() {
            let (angle_deg, length_mm) = (self.angle_deg, self.length_mm.max(1.0) * 2.0);
            let wish = CrossingWish { kind, frog: self.frog, angle_deg, length_mm };
            let Site { run, at_mm, .. } = site.ok_or_else(nowhere)?;
            return match target {
                Target::On(_, _, Some(other)) => {
                    place::crossing_of(layout, (run, at_mm), other, &wish)
                }
                _ => place::crossing(layout, run, at_mm, &wish),
            };
        }
        let ground = match target {
            Target::End(end) => Ground::Before(end),
            Target::Ground(x, y) => Ground::At(x, y),
            Target::On(..) => Ground::At(self.x_mm, self.y_mm),
        };
        match self.kind {
            Kind::Crossover => {
                let other = match target {
                    Target::On(_, _, other) => other,
                    _ => None,
                };
                let site = site.ok_or_else(nowhere)?;
                place::crossover(layout, site, other, self.turn_deg, self.frog)
            }
            Kind::Turntable => {
                let wish = TurntableWish {
                    bridge_mm: self.bridge_mm,
                    roads_deg: bearings(&self.bearings)?,
                    road_mm: self.road_mm,
                    exchange_deg: None,
                };
                place::turntable(layout, ground, &wish)
            }
            Kind::Traverser => {
                let wish = TraverserWish {
                    bridge_mm: self.bridge_mm,
                    roads: self.roads,
                    spacing_mm: self.spacing_mm,
                    road_mm: self.road_mm,
                };
                place::traverser(layout, ground, &wish)
            }
            Kind::Buffer => match target {
                Target::End(end) => place::buffer(layout, end),
                _ => Err(Refused("A buffer stands at a free end of track. Choose one.".into())),
            },
            _ => {
                let parting = match (self.kind, self.hand) {
                    (Kind::Wye, _) => Parting::Wye,
                    (Kind::ThreeWay, _) => Parting::ThreeWay,
                    (_, Rail::Left) => Parting::Left,
                    (_, Rail::Right) => Parting::Right,
                };
                let wish = TurnoutWish {
                    parting,
                    frog: self.frog,
                    turn_deg: self.turn_deg,
                    length_mm: self.length_mm,
                    through_deg: if self.kind == Kind::Curved { self.through_deg } else { 0.0 },
                };
                place::turnout(layout, site.ok_or_else(nowhere)?, &wish)
            }
        }
    }
}

impl App {
    /// What the tool for special work aims at under the pointer.
    pub fn special_target(&self, at: Pos2) -> Option<Target> {
        let tool = &self.tools.special;
        let layout = self.doc.layout();
        let free = free_ends(layout);
        let end = end_at_pointer(self, at);
        // Special work that is there is selected, not built over.
        let held = |end: &TrackEnd| layout.specials.values().any(|s| s.work.ends().contains(end));
        if end.as_ref().is_some_and(held) {
            return None;
        }
        if tool.kind.is_bridge() || tool.kind == Kind::Buffer {
            if let Some(end) = end.filter(|end| free.contains(end)) {
                return Some(Target::End(end));
            }
            let ground = on_grid(self, self.camera.to_world(self.canvas, at));
            return Some(Target::Ground(ground.0, ground.1));
        }
        if let Some(end) = end
            && tool.kind.crossing().is_none()
        {
            return Some(Target::End(end));
        }
        let (run, at_mm) = run_at(self, at)?;
        let other = runs_under(self, at)
            .into_iter()
            .find(|id| *id != run)
            .filter(|_| tool.kind.crossing().is_some());
        Some(Target::On(run, at_mm, other))
    }

    /// What a click there would come to.
    pub fn special_wished(&self, at: Pos2) -> Option<Result<Placed, Refused>> {
        let target = self.special_target(at)?;
        Some(self.tools.special.placed(self.doc.layout(), target))
    }

    /// Places special work.
    pub fn place_special(&mut self, target: Target) {
        let what = format!("place a {}", self.tools.special.kind.word());
        let placed = self.tools.special.placed(self.doc.layout(), target);
        self.do_placed(&what, placed);
    }

    /// Does what a placing comes to; tells what was assumed, and selects what was made.
    pub fn do_placed(
        &mut self,
        what: &str,
        placed: Result<Placed, Refused>,
    ) -> Option<Vec<EntityId>> {
        self.do_placed_field(what, placed, None)
    }

    /// The same of one field: placings of the same field in one gesture are undone as one.
    pub fn do_placed_field(
        &mut self,
        what: &str,
        placed: Result<Placed, Refused>,
        field: Option<Id>,
    ) -> Option<Vec<EntityId>> {
        let placed = match placed {
            Ok(placed) => placed,
            Err(refused) => {
                self.tell_bad(format!("Could not {what}: {refused}"));
                return None;
            }
        };
        let made = self.edit_field(what, placed.edit, field)?;
        if let Some(&id) = placed.specials.first() {
            self.selection = vec![id.into()];
        }
        if let Some(assumed) = placed.assumed {
            self.tell(assumed);
        }
        Some(made)
    }

    /// Throws a selector, and its gang, to a position.
    pub fn throw_to(&mut self, selector: EntityId, position: u32) {
        let layout = self.doc.layout();
        let name = names::entity_name(layout, selector);
        let words = names::position_words(layout, selector, position);
        self.edit(&format!("throw {name} to {words}"), Edit::Throw { selector, position });
    }

    /// Throws a selector to its next position, or the one before.
    pub fn throw_on(&mut self, selector: EntityId, forward: bool) {
        let Some((now, positions)) = names::positions(self.doc.layout(), selector) else { return };
        if positions < 2 {
            let name = names::entity_name(self.doc.layout(), selector);
            self.tell(format!("{name} has one position only: there is nothing to throw."));
            return;
        }
        let step = if forward { 1 } else { positions - 1 };
        self.throw_to(selector, (now + step) % positions);
    }

    /// Throws special work at a place on the plan: a bridge goes to the road that is nearest, and turns round if it is
    /// there already; in the middle of its pit, and with anything else, it goes on to its next position.
    pub fn throw_at(&mut self, id: SpecialId, at: World, forward: bool) {
        let layout = self.doc.layout();
        let Some(special) = layout.specials.get(&id) else { return };
        let per_road = match special.work {
            Work::Turntable { .. } => 2,
            Work::Traverser { .. } => 1,
            _ => return self.throw_on(id.into(), forward),
        };
        // In the middle of the pit no road is meant.
        let pit = self.derived.special.specials.get(&id).and_then(|drawn| drawn.pit);
        if pit.is_some_and(|((x, y), half)| (x - at.0).hypot(y - at.1) < half * 0.4) {
            return self.throw_on(id.into(), forward);
        }
        let place = |end: &TrackEnd| {
            let joint = layout.joints.get(&roads::joint_of(layout, *end)?)?;
            Some((joint.x_mm, joint.y_mm))
        };
        let nearest = special
            .work
            .ends()
            .iter()
            .enumerate()
            .filter_map(|(k, end)| place(end).map(|p| (k as u32, (p.0 - at.0).hypot(p.1 - at.1))))
            .min_by(|a, b| a.1.total_cmp(&b.1));
        let Some((road, _)) = nearest else { return };
        let now = special.position;
        if per_road == 2 && now / 2 == road {
            self.throw_to(id.into(), now ^ 1);
        } else if now != road * per_road {
            self.throw_to(id.into(), road * per_road);
        }
    }

    /// Throws what is selected, if it is one selector. Returns whether it is.
    pub fn throw_selected(&mut self, forward: bool) -> bool {
        let [one] = self.selection.as_slice() else { return false };
        let one = *one;
        if names::positions(self.doc.layout(), one).is_none() {
            return false;
        }
        self.throw_on(one, forward);
        true
    }

    /// Bonds two places.
    pub fn bond(&mut self, from: Spot, to: Spot) {
        let bond = Bond { id: BondId(0), from, to };
        let made = self.edit("bond two rails", Edit::Add(Entity::Bond(bond)));
        if let Some(id) = made.and_then(|made| made.last().copied()) {
            self.selection = vec![id];
        }
    }

    /// A click with the tool that bonds.
    pub fn bond_click(&mut self, spot: Spot) {
        match self.tools.bond.from.take() {
            Some(from) => self.bond(from, spot),
            None => self.tools.bond.from = Some(spot),
        }
    }
}

/// Which way the roads leave.
const WAYS: [(RunEnd, &str); 2] = [(RunEnd::End, "To its end"), (RunEnd::Start, "To its start")];

/// Kinds of frog to choose from.
pub fn frog_choices(one_metal: bool) -> Vec<(Frog, String)> {
    let all = [
        (Frog::Insulated, "Insulated"),
        (Frog::Switched, "Switched"),
        (Frog::PowerRouting, "Power-routing"),
        (Frog::PowerRoutingWithContact, "Power-routing with contact"),
    ];
    all.into_iter()
        .filter(|(frog, _)| one_metal || !frog.is_one_metal())
        .map(|(frog, words)| (frog, words.to_owned()))
        .collect()
}

/// What kinds of frog do.
pub const FROG_HELP: &str = "Insulated: dead.\n\
    Switched: cut off all round, fed by a contact.\n\
    Power-routing: one metal with the points, fed by the rail that they touch.\n\
    Power-routing with contact: the same metal, and a contact feeds it besides.";

/// An end of track in words.
pub fn end_words(layout: &Layout, end: TrackEnd) -> String {
    let word = if end.end == RunEnd::Start { "start" } else { "end" };
    let place = roads::joint_of(layout, end)
        .and_then(|joint| layout.joints.get(&joint))
        .map_or_else(String::new, |j| format!(" ({:.0}, {:.0})", j.x_mm, j.y_mm));
    format!("{word} of run {}{place}", end.run)
}

/// The form of the tool that places special work.
pub fn special_ui(ui: &mut Ui, app: &mut App) {
    let mut tool = app.tools.special.clone();
    let layout = app.doc.layout();
    let mut form = Form::new(ui, "Special work").label_width(64.0);
    let was = tool.kind;
    form.choice("Kind", &mut tool.kind, &KINDS.map(|(kind, word)| (kind, word.to_owned())));
    if tool.kind != was && tool.kind.crossing().is_some() && tool.frog.is_one_metal() {
        tool.frog = Frog::Insulated;
    }
    if matches!(tool.kind, Kind::Turnout | Kind::Curved) {
        let hands = [(Rail::Left, "Left".to_owned()), (Rail::Right, "Right".to_owned())];
        form.choice("Hand", &mut tool.hand, &hands)
            .on_hover_text("To which side the diverging road goes, seen from the points");
    }
    let is_turnout = matches!(
        tool.kind,
        Kind::Turnout | Kind::Curved | Kind::Wye | Kind::ThreeWay | Kind::Crossover
    );
    if is_turnout && tool.kind != Kind::Wye {
        form.choice(
            "Roads go",
            &mut tool.towards,
            &WAYS.map(|(end, words)| (end, words.to_owned())),
        )
        .on_hover_text("Towards which end of the run; at a free end of track they go outwards");
    }
    if is_turnout || tool.kind.crossing().is_some() {
        let choices = frog_choices(is_turnout);
        form.choice("Frogs", &mut tool.frog, &choices).on_hover_text(FROG_HELP);
    }
    if is_turnout {
        form.number("Turn", &mut tool.turn_deg, DEGREE, 0.5..=120.0)
            .on_hover_text("How far the diverging road turns away by its end");
        if tool.kind != Kind::Crossover {
            let radius = tool.length_mm / tool.turn_deg.to_radians();
            form.number("Length", &mut tool.length_mm, MM, 10.0..=1e5).on_hover_text(format!(
                "Length of each road that is laid. Beside a straight road its radius is {radius:.0} mm."
            ));
        }
        if tool.kind == Kind::Curved {
            form.number("Through", &mut tool.through_deg, DEGREE, -120.0..=120.0).on_hover_text(
                "How far the through road turns, at an end of track; left is positive",
            );
        }
    }
    if tool.kind.crossing().is_some() {
        form.number("Angle", &mut tool.angle_deg, DEGREE, -170.0..=170.0)
            .on_hover_text("At which the second road crosses, where it is laid; left is positive");
        form.number("Length", &mut tool.length_mm, MM, 10.0..=1e5)
            .on_hover_text("Of the second road on each side, where it is laid");
    }
    if tool.kind.is_bridge() {
        form.number("Bridge", &mut tool.bridge_mm, MM, 10.0..=1e4);
        if tool.kind == Kind::Turntable {
            form.text("Roads at", &mut tool.bearings, "angles").on_hover_text(
                "Bearings in degrees, counter-clockwise, from the road that is there or from the plan's right",
            );
        } else {
            form.whole("Roads", &mut tool.roads, 1..=29);
            form.number("Spacing", &mut tool.spacing_mm, MM, ANY)
                .on_hover_text("From one road to the next; to the left is positive");
        }
        form.number("Length", &mut tool.road_mm, MM, 10.0..=1e5)
            .on_hover_text("Of each road that is laid");
    }
    ui.add_space(SPACE);
    ui.label(heading("By numbers"));
    let mut form = Form::new(ui, "Special work").label_width(64.0);
    let ends: Vec<(Option<TrackEnd>, String)> =
        free_ends(layout).into_iter().map(|end| (Some(end), end_words(layout, end))).collect();
    let runs: Vec<(Option<RunId>, String)> =
        names::run_choices(layout).into_iter().map(|(id, words)| (Some(id), words)).collect();
    let mut target = None;
    if tool.kind == Kind::Buffer {
        form.choice("End", &mut tool.end, &ends);
        target = tool.end.map(Target::End);
    } else if tool.kind.is_bridge() {
        let mut places = vec![(None, "a place on the plan".to_owned())];
        places.extend(ends);
        form.choice("At", &mut tool.end, &places);
        if tool.end.is_none() {
            form.number("x", &mut tool.x_mm, MM, ANY);
            form.number("y", &mut tool.y_mm, MM, ANY);
        }
        target = Some(tool.end.map_or(Target::Ground(tool.x_mm, tool.y_mm), Target::End));
    } else {
        form.choice("Run", &mut tool.run, &runs);
        form.number("At", &mut tool.at_mm, MM, FROM_ZERO)
            .on_hover_text("Distance along the run from its start");
        let beside = tool.kind == Kind::Crossover;
        if beside || tool.kind.crossing().is_some() {
            let first = if beside { "the run beside it" } else { "a road that is laid" };
            let mut others = vec![(None, first.to_owned())];
            others.extend(runs);
            form.choice(if beside { "To" } else { "Crosses" }, &mut tool.other, &others);
        }
        if let Some(run) = tool.run {
            target = Some(Target::On(run, tool.at_mm, tool.other));
        }
        run_length_ui(ui, app, tool.run);
    }
    app.tools.special = tool;
    if action(ui, "Place it here", target.is_some())
        && let Some(target) = target
    {
        app.place_special(target);
        app.fit_if_out_of_sight();
    }
}

/// The form of the tool that throws.
pub fn throw_ui(ui: &mut Ui, app: &mut App) {
    let layout = app.doc.layout();
    let specials = layout.specials.keys().map(|&id| EntityId::from(id));
    let devices = layout.devices.keys().map(|&id| EntityId::from(id));
    let all: Vec<EntityId> = specials
        .chain(devices)
        .filter(|id| names::positions(layout, *id).is_some_and(|(_, positions)| positions > 1))
        .collect();
    if all.is_empty() {
        ui.label("Nothing on this layout can be thrown yet.");
    }
    let mut form = Form::new(ui, "Throw").label_width(64.0);
    let mut thrown = None;
    for id in all {
        let Some((now, positions)) = names::positions(app.doc.layout(), id) else { continue };
        let choices: Vec<(u32, String)> = (0..positions)
            .map(|position| (position, names::position_words(app.doc.layout(), id, position)))
            .collect();
        let mut position = now;
        form.choice(&names::short_name(app.doc.layout(), id), &mut position, &choices);
        if position != now {
            thrown = Some((id, position));
        }
    }
    if let Some((id, position)) = thrown {
        app.throw_to(id, position);
    }
}

/// The form of the tool that bonds.
pub fn bond_ui(ui: &mut Ui, app: &mut App) {
    let layout = app.doc.layout();
    let runs: Vec<(Option<RunId>, String)> =
        names::run_choices(layout).into_iter().map(|(id, words)| (Some(id), words)).collect();
    let rails = [(Rail::Left, "Left rail".to_owned()), (Rail::Right, "Right rail".to_owned())];
    if let Some(from) = app.tools.bond.from {
        ui.label(format!(
            "From {}. Click where it goes to.",
            names::spot_words(from, app.camera.units)
        ));
    }
    let mut typed = app.tools.bond.typed;
    ui.label(heading("By numbers"));
    for (word, (run, at_mm, rail)) in ["From", "To"].into_iter().zip(&mut typed) {
        let mut form = Form::new(ui, format!("Bond {}", word.to_lowercase())).label_width(64.0);
        form.choice(&format!("{word} run"), run, &runs);
        form.number("At", at_mm, MM, FROM_ZERO);
        form.choice("Rail", rail, &rails);
    }
    app.tools.bond.typed = typed;
    let spot =
        |(run, at_mm, rail): (Option<RunId>, f64, Rail)| run.map(|run| Spot { run, at_mm, rail });
    let both = spot(typed[0]).zip(spot(typed[1]));
    if action(ui, "Bond them", both.is_some())
        && let Some((from, to)) = both
    {
        app.bond(from, to);
    }
    ui.add_space(SPACE);
    caution_ui(
        ui,
        "A bond joins two rails for good. Soldering: power off, good air, and a heat sink on plastic sleepers.",
    );
}
