//! The circuit as the view shows it, computed once per change: the gap, the vehicle there, and the currents.

use std::collections::BTreeMap;
use std::rc::Rc;

use super::super::App;
use super::Standing;
use super::model::Source;
use crate::drive::SetWord;
use crate::findings::{CutReport, Facing as Faces, Situation};
use crate::layout::{CutId, DeviceId, DriverId};
use crate::straddle::contacts::Facing;
use crate::study::SetState;
use crate::study::judge::{Bench, Judged, NumericStand, Scenario};
use crate::study::scope::{Gap, Passing, Rush, Scope, Stance, Who};

/// Revision of a report, and a pair of settings of its card.
type Picked = (u64, Option<(SetWord, SetWord)>);

/// Margins and currents in A that differ by less are the same.
const SAME: f64 = 1e-6;

/// The circuit as the view shows it.
pub(super) struct Scene {
    /// Revision of the layout or copy that it is about, and the cut.
    about: ((bool, u64), CutId),
    pub gap: Rc<Gap>,
    pub stance: Stance,
    /// By which report and for which pair of settings the stance was chosen, unless one has chosen it oneself.
    picked: Option<Picked>,
    /// The contacts of the vehicle, as numbers; `None` if it joins nothing.
    pub stand: Option<NumericStand>,
    loaded: bool,
    /// How the drivers are set, those that are not as they are set now.
    pub settings: BTreeMap<DriverId, SetState>,
    /// The schedules of the drivers with every board asleep whose supply is off.
    asleep: Scenario,
    /// The schedules of the drivers.
    pub scenario: Scenario,
    /// Boards that have woken up because the rails power them.
    pub woke: Vec<DriverId>,
    /// Traces and branch currents, or why there are none.
    pub scope: Result<Scope, String>,
    /// The judgement of the vehicle standing there; `None` if it joins nothing.
    pub judged: Option<Judged>,
    /// The capacitors that are charged from the moment at which the wheels join the rails.
    pub rushes: Vec<Rush>,
    /// What happens at the settings now as it rolls over the gap.
    pub passing: Option<Rc<Passing>>,
}

impl Scene {
    /// The vehicle, as the view holds it.
    pub fn standing(&self) -> Standing {
        let Stance { who, facing, lead_mm, touch } = self.stance;
        Standing { who, facing, lead_mm, touch }
    }
}

/// The situation that the view shows: of the chosen cell of the card, or of now.
pub(super) fn situation<'a>(app: &App, cut: &'a CutReport) -> &'a Situation {
    let cell = app.gap.cell.and_then(|(a, b)| cut.card.iter().find(|c| c.a == a && c.b == b));
    cell.map_or(&cut.now, |cell| &cell.situation)
}

/// Brings the scene up to date with the layout and with what one has chosen.
pub(super) fn update(app: &mut App) {
    let scene = build(app);
    app.gap.scene = scene;
}

/// How the drivers are set, and which devices have acted before.
struct Set<'a> {
    settings: BTreeMap<DriverId, SetState>,
    exchanged: &'a [DeviceId],
}

fn build(app: &App) -> Option<Rc<Scene>> {
    let id = app.gap.cut?;
    let source = Source::of(app);
    let about = (source.revision, id);
    let old = app.gap.scene.as_ref().filter(|old| old.about == about);
    let gap = match old {
        Some(old) => Rc::clone(&old.gap),
        None => Rc::new(Gap::of(source.layout, source.plan, id)?),
    };
    let cut = source.checked.report.cuts.iter().find(|cut| cut.id == id);
    let situation = cut.map(|cut| situation(app, cut));
    // The layout itself says how they are set now, whether it is checked yet or not.
    let set = Set {
        settings: match situation.filter(|_| app.gap.cell.is_some()) {
            Some(situation) => situation.settings.clone(),
            None => Default::default(),
        },
        exchanged: situation.map_or(&[], |situation| &situation.exchanged),
    };
    let standing = app.gap.standing.filter(|standing| gap.all().any(|who| who == standing.who));
    let picked = match standing {
        Some(_) => None,
        None => Some((source.checked.revision, app.gap.cell)),
    };
    let same = old.filter(|old| picked.is_some() && old.picked == picked);
    let stance = match (standing, same) {
        (Some(s), _) => Stance { who: s.who, facing: s.facing, lead_mm: s.lead_mm, touch: s.touch },
        (None, Some(old)) => old.stance,
        (None, None) => worst_stance(&gap, situation, &set, app.gap.kept_touch)?,
    };
    let asleep = gap.scenario(stance.who, &set.settings, set.exchanged);
    let loaded = app.gap.loaded;
    let stand = gap.stand(&stance, loaded);
    let same = old.filter(|old| {
        old.stance.who == stance.who
            && (&old.stand, &old.asleep, old.loaded) == (&stand, &asleep, loaded)
    });
    if let Some(old) = same.filter(|old| old.stance == stance && old.picked == picked) {
        return Some(Rc::clone(old));
    }
    let passes =
        |old: &&Rc<Scene>| (old.stance.who, old.stance.facing) == (stance.who, stance.facing);
    let passing = match old.filter(passes) {
        Some(old) => old.passing.clone(),
        None => gap.passing(source.layout, source.plan, stance.who, stance.facing).map(Rc::new),
    };
    let flows = match same {
        // The same nets are joined: the same currents flow.
        Some(old) => old.flows(),
        None => Flows::of(&gap, &stance, asleep.clone(), loaded),
    };
    let Flows { scenario, woke, scope, judged, rushes } = flows;
    let settings = set.settings;
    Some(Rc::new(Scene {
        about,
        gap,
        stance,
        picked,
        stand,
        loaded,
        settings,
        asleep,
        scenario,
        woke,
        scope,
        judged,
        rushes,
        passing,
    }))
}

/// Currents of a stance.
struct Flows {
    scenario: Scenario,
    woke: Vec<DriverId>,
    scope: Result<Scope, String>,
    judged: Option<Judged>,
    rushes: Vec<Rush>,
}

impl Scene {
    fn flows(&self) -> Flows {
        Flows {
            scenario: self.scenario.clone(),
            woke: self.woke.clone(),
            scope: self.scope.clone(),
            judged: self.judged.clone(),
            rushes: self.rushes.clone(),
        }
    }
}

impl Flows {
    fn of(gap: &Gap, stance: &Stance, asleep: Scenario, loaded: bool) -> Flows {
        let who = stance.who;
        let case = gap.case(who);
        // A verdict leaves out what the vehicle draws.
        let bare = gap.stand(stance, false);
        let (scenario, woke) = match &bare {
            Some(bare) => gap.awake(who, asleep, bare),
            None => (asleep, Vec::new()),
        };
        let stand = gap.stand(stance, loaded);
        let scope = Scope::of(case, &scenario, stand.as_ref(), loaded);
        let judged = bare
            .as_ref()
            .map(|bare| Bench::new(&case.wiring).judge_thoroughly(&scenario, Some(bare)));
        let rushes = match (&bare, &judged) {
            (Some(bare), Some(judged)) if woke.is_empty() => {
                gap.rushes(who, &scenario, bare, judged)
            }
            _ => Vec::new(),
        };
        Flows { scenario, woke, scope: scope.map_err(|why| why.to_string()), judged, rushes }
    }
}

/// How what is worst in a situation stands; the first thing over the middle of the gap where nothing joins anything. Where
/// other contacts are as bad, those that were chosen before stay (`kept`); without any, all wheels touch.
fn worst_stance(
    gap: &Gap,
    situation: Option<&Situation>,
    set: &Set,
    kept: Option<[bool; 2]>,
) -> Option<Stance> {
    let by = situation.and_then(|s| match (s.train, s.vehicle) {
        (Some(train), _) => Some(Who::Train(train)),
        (None, Some(vehicle)) => Some(Who::Vehicle(vehicle)),
        (None, None) => None,
    });
    let who = by.filter(|by| gap.all().any(|who| who == *by)).or_else(|| gap.all().next())?;
    let facing = match situation.map(|s| s.facing) {
        Some(Faces::BToA) => Facing::RearAhead,
        _ => Facing::FrontAhead,
    };
    let joined = situation.map_or([false; 2], |s| {
        [crate::findings::SideWord::Left, crate::findings::SideWord::Right]
            .map(|side| s.joins.iter().any(|join| join.side == side))
    });
    // Wheels on a rail that is not cut join nothing: they touch as well.
    let whole = gap.place.gaps_mm.map(|gap| gap.is_none());
    let touch = match joined {
        [false, false] => [true; 2],
        joined => [0, 1].map(|rail| joined[rail] || whole[rail]),
    };
    let worst = Stance { who, facing, lead_mm: gap.best_mm(who, facing, joined), touch };
    let others = kept.into_iter().chain([[true; 2]]).filter(|touch| *touch != worst.touch);
    let mut others = others.map(|touch| {
        let joins = [0, 1].map(|rail| touch[rail] && !whole[rail]);
        Stance { lead_mm: gap.best_mm(who, facing, joins), touch, ..worst }
    });
    if kept == Some(worst.touch) {
        return Some(worst);
    }
    let judge = |stance: &Stance| {
        let bare = gap.stand(stance, false)?;
        let scenario = gap.scenario(who, &set.settings, set.exchanged);
        let (scenario, _) = gap.awake(who, scenario, &bare);
        Some(Bench::new(&gap.case(who).wiring).judge(&scenario, Some(&bare)))
    };
    let Some(judged) = judge(&worst) else { return Some(worst) };
    let as_bad =
        others.find(|stance| judge(stance).is_some_and(|other| is_as_bad(&other, &judged)));
    Some(as_bad.unwrap_or(worst))
}

/// True if a judgement is no better than another.
fn is_as_bad(new: &Judged, old: &Judged) -> bool {
    let margin = |judged: &Judged| judged.margin.unwrap_or(0.0);
    let peak = |judged: &Judged| judged.worst_joint.map_or(0.0, |(_, amps)| amps);
    new.verdict >= old.verdict && margin(new) <= margin(old) + SAME && peak(new) >= peak(old) - SAME
}
