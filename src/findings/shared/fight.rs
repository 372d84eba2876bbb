//! Drivers against each other with no train on the track.

use std::collections::BTreeSet;

use crate::drive::{self, SetWord};
use crate::findings::{Situation, Verdict, View};
use crate::layout::DriverId;
use crate::rails::CutAt;
use crate::straddle::case::Wiring;
use crate::straddle::ix::DriverIx;
use crate::straddle::path::Tape;
use crate::study::cut::{Case, Evaluated, Settings, Surroundings};
use crate::study::judge::{Bench, CONFLICT_A, Judged};
use crate::study::situation::situation;

/// Conflict of some drivers with no train.
pub(crate) struct Standing {
    /// At the settings now, if they conflict.
    pub now: Option<Situation>,
    /// Worst over the settings that their controls can reach, if they conflict.
    pub worst: Option<Situation>,
}

/// Judges two drivers with no train: as they are set now and, if wanted, over everything that both can be set to.
pub(crate) fn standing(
    view: &View,
    a: DriverId,
    b: DriverId,
    all_settings: bool,
) -> Option<Standing> {
    standing_of(view, &[a, b], all_settings)
}

/// The same for any drivers of which current flows in all.
pub(crate) fn standing_of(
    view: &View,
    drivers: &[DriverId],
    all_settings: bool,
) -> Option<Standing> {
    let layout = view.layout;
    let always: BTreeSet<DriverId> = drivers.iter().copied().collect();
    let (wiring, names) =
        Wiring::around(layout, &view.plan, &BTreeSet::new(), &always, Tape::default());
    let own: Vec<DriverIx> = drivers.iter().filter_map(|id| names.drivers.of(id)).collect();
    let (&x, &y) = (own.first()?, own.last()?);
    let case = Case { sides: [Some(x), Some(y)], ..Case::bare(layout, wiring, &names) };
    let around = Surroundings {
        at: CutAt { before: 0, after: 0, block_before: 0, block_after: 0, sign: 1 },
        names,
        stands: Default::default(),
        footings: Default::default(),
        left_out: 0,
    };
    let mut bench = Bench::new(&case.wiring);
    let now_settings: Settings = case.controls.iter().map(|c| c.now).collect();
    let mut solve = |settings: &Settings| -> Option<Evaluated> {
        let mut powered = case.powered_for(settings);
        for &at in &own {
            powered[case.wiring.drivers[at].supply] = settings[at].0 != SetWord::Unpowered;
        }
        let scenario = case.scenario(settings, &powered);
        let judged = bench.judge_thoroughly(&scenario, None);
        // What flows must flow in these: others on the same rail may fight as well.
        let takes_part = |&at: &DriverIx| {
            judged
                .drivers
                .get(at)
                .is_some_and(|d| d.figures[0].peak.max(d.figures[1].peak) > CONFLICT_A)
        };
        (judged.share > 0.0 && own.iter().all(takes_part))
            .then(|| Evaluated::joined(settings, scenario, None, told(judged)))
    };
    let now = solve(&now_settings);
    let mut worst: Option<Evaluated> = None;
    // Others are off: what these do to each other depends on no throttle set now.
    let mut tried = vec![Settings::filled((SetWord::Off, 0.0), now_settings.len())];
    for &at in own.iter().take_while(|_| all_settings) {
        let kind = drive::of(&case.controls[at].driver.drive);
        let live = kind.settings().iter().filter(|word| !word.is_dead());
        let sets: Vec<(SetWord, f64)> =
            live.flat_map(|&word| kind.levels(word).into_iter().map(move |l| (word, l))).collect();
        let with = |settings: &Settings, set: (SetWord, f64)| {
            let mut settings = settings.clone();
            settings[at] = set;
            settings
        };
        tried = tried.iter().flat_map(|s| sets.iter().map(|&set| with(s, set))).collect();
    }
    for settings in tried.iter().filter(|_| all_settings) {
        let Some(new) = solve(settings) else { continue };
        let peak = |e: &Evaluated| e.judged.worst_joint.map_or(0.0, |w| w.1);
        let weight = |e: &Evaluated| (e.judged.verdict, peak(e));
        if worst.as_ref().is_none_or(|old| weight(&new) > weight(old)) {
            worst = Some(new);
        }
    }
    let tell = |e: Evaluated| {
        let told = situation(&view.plan, &case, &around, &e);
        Situation { parties: drivers.to_vec(), ..told }
    };
    Some(Standing { now: now.map(tell), worst: worst.map(tell) })
}

/// A conflict with no train is worth knowing even where nothing trips.
fn told(judged: Judged) -> Judged {
    Judged { verdict: judged.verdict.max(Verdict::Caution), ..judged }
}
