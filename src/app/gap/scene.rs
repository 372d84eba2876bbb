//! The circuit as the view shows it, computed once per change: the gap, the vehicle there, and the currents.

use std::collections::BTreeMap;
use std::rc::Rc;

use super::super::App;
use super::Standing;
use super::model::Source;
use crate::drive::SetWord;
use crate::findings::{CutReport, Facing as Faces, Situation};
use crate::layout::{CutId, DriverId};
use crate::straddle::contacts::Facing;
use crate::study::SetState;
use crate::study::judge::{Bench, Judged, NumericStand, Scenario};
use crate::study::scope::{Gap, Scope, Stance, Who};

/// Revision of a report, and a pair of settings of its card.
type Picked = (u64, Option<(SetWord, SetWord)>);

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
    /// The schedules of the drivers.
    pub scenario: Scenario,
    /// Traces and branch currents, or why there are none.
    pub scope: Result<Scope, String>,
    /// The judgement of the vehicle standing there; `None` if it joins nothing.
    pub judged: Option<Judged>,
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

fn build(app: &App) -> Option<Rc<Scene>> {
    let id = app.gap.cut?;
    let source = Source::of(app);
    let about = (source.revision, id);
    let old = app.gap.scene.as_ref();
    let gap = match old.filter(|old| old.about == about) {
        Some(old) => Rc::clone(&old.gap),
        None => Rc::new(Gap::of(source.layout, source.plan, id)?),
    };
    let cut = source.checked.report.cuts.iter().find(|cut| cut.id == id);
    let situation = cut.map(|cut| situation(app, cut));
    let standing = app.gap.standing.filter(|standing| gap.all().any(|who| who == standing.who));
    let picked = match standing {
        Some(_) => None,
        None => Some((source.checked.revision, app.gap.cell)),
    };
    let same = old.filter(|old| old.about == about && picked.is_some() && old.picked == picked);
    let stance = match (standing, same) {
        (Some(s), _) => Stance { who: s.who, facing: s.facing, lead_mm: s.lead_mm, touch: s.touch },
        (None, Some(old)) => old.stance,
        (None, None) => worst_stance(&gap, situation)?,
    };
    // As they are set now the layout itself says, whether it is checked yet or not.
    let settings = match situation.filter(|_| app.gap.cell.is_some()) {
        Some(situation) => situation.settings.clone(),
        None => Default::default(),
    };
    let exchanged = situation.map_or(&[][..], |situation| &situation.exchanged);
    let scenario = gap.scenario(stance.who, &settings, exchanged);
    let loaded = app.gap.loaded;
    let stand = gap.stand(&stance, loaded);
    let joins_the_same = |old: &&Rc<Scene>| {
        old.about == about
            && old.stance.who == stance.who
            && (&old.stand, &old.scenario, old.loaded) == (&stand, &scenario, loaded)
    };
    let (scope, judged) = match old.filter(joins_the_same) {
        Some(old) if old.stance == stance && old.picked == picked => return Some(Rc::clone(old)),
        // The same nets are joined: the same currents flow.
        Some(old) => (old.scope.clone(), old.judged.clone()),
        None => {
            let case = gap.case(stance.who);
            let scope = Scope::of(case, &scenario, stand.as_ref(), loaded);
            let judged = gap
                .stand(&stance, false)
                .map(|stand| Bench::new(&case.wiring).judge_thoroughly(&scenario, Some(&stand)));
            (scope.map_err(|why| why.to_string()), judged)
        }
    };
    Some(Rc::new(Scene {
        about,
        gap,
        stance,
        picked,
        stand,
        loaded,
        settings,
        scenario,
        scope,
        judged,
    }))
}

/// How what is worst in a situation stands; the first thing over the middle of the gap where nothing joins anything.
fn worst_stance(gap: &Gap, situation: Option<&Situation>) -> Option<Stance> {
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
    let lead_mm = gap.best_mm(who, facing, joined);
    Some(Stance { who, facing, lead_mm, touch })
}
