//! Waveforms and branch currents of the Gap view against the figures that the check reports.

use gapwright::layout::{CutId, Layout};
use gapwright::straddle::part::Part;
use gapwright::study::cut::Evaluated;
use gapwright::study::judge::Scenario;
use gapwright::study::scope::{Gap, Scope, Signal, Stance, Who};
use gapwright::study::{Known, Memo, Study};

use super::samples::{layouts, sample};

/// The scope of an evaluated situation, as the check judged it.
fn scope(known: &Known, evaluated: &Evaluated, loaded: bool) -> (Scope, Scenario) {
    let mut scenario = evaluated.scenario.clone();
    scenario.acted.extend(&evaluated.judged.exchanged);
    let stand = evaluated.stand.map(|at| &known.case.stands[at]);
    (Scope::of(&known.case, &scenario, stand, loaded).unwrap(), scenario)
}

/// Looks at the worst situation as set now of every place of every sample at which something is joined.
fn worst_now(mut look: impl FnMut(&str, CutId, &Known, &Evaluated)) {
    for (name, layout) in layouts() {
        let study = Study::of(&layout, &Memo::default());
        for (cut, known) in study.now().all_known() {
            let worst = known.result.now.worst.as_ref();
            if let Some(worst) = worst.filter(|worst| !worst.judged.joints.is_empty()) {
                look(&name, cut, known, worst);
            }
        }
    }
}

fn level(scope: &Scope, signal: Signal, joint: usize) -> f64 {
    scope.traces.iter().find(|trace| trace.signal == signal).unwrap().levels[joint].unwrap()
}

#[test]
fn readings_of_the_waveforms_are_the_figures_of_the_check() {
    let (mut compared, mut held_exactly) = (0, 0);
    worst_now(|name, cut, known, worst| {
        let (scope, _) = scope(known, worst, false);
        let held = scope.held(&[]);
        for (at, judged) in worst.judged.drivers.pairs() {
            let signals = [Signal::P(at), Signal::M(at), Signal::Supply(at)];
            for (signal, figures) in signals.into_iter().zip(&judged.figures) {
                let trace = scope.traces.iter().find(|t| t.signal == signal).unwrap();
                let reading = trace.reading(scope.drifting()).unwrap();
                let same = |a: f64, b: f64| (a - b).abs() < 1e-6;
                let all = same(reading.mean, figures.mean)
                    && same(reading.mean_abs, figures.mean_abs)
                    && same(reading.rms, figures.rms)
                    && same(reading.peak, figures.peak);
                assert!(all, "{name} {cut} {signal:?}: {reading:?} is not {figures:?}");
                compared += 1;
                // One pattern, or duties that fall on whole steps of the other's cycle: the phase does not matter.
                let exact = scope.free().len() < 2 || name == "brake-idle";
                let Some(held) = held.as_ref().filter(|_| exact) else { continue };
                let reading = trace.reading(held).unwrap();
                assert!(
                    same(reading.mean, figures.mean) && same(reading.rms, figures.rms),
                    "{name} {cut} {signal:?}, held: {reading:?} is not {figures:?}"
                );
                held_exactly += 1;
            }
        }
    });
    assert!(compared > 200 && held_exactly > 50, "{compared} {held_exactly}");
}

#[test]
fn the_mean_over_all_phases_is_the_figure_of_the_long_run() {
    let mut compared = 0;
    for name in ["matched-throttles", "brake-high", "boosters-out-of-phase", "unequal-supplies"] {
        let layout = sample(name);
        let study = Study::of(&layout, &Memo::default());
        let view = study.now();
        for (_, known) in view.all_known() {
            let Some(worst) = &known.result.now.worst else { continue };
            let (scope, _) = scope(known, worst, false);
            if scope.free().len() != 2 {
                continue;
            }
            let steps = 401;
            let mut mean = vec![0.0; scope.joints()];
            for n in 0..steps {
                let Some(held) = scope.held(&[0.0, f64::from(n) / f64::from(steps)]) else { break };
                mean.iter_mut().zip(held).for_each(|(sum, share)| *sum += share / f64::from(steps));
            }
            for (mean, share) in mean.iter().zip(scope.drifting()) {
                assert!((mean - share).abs() < 0.01, "{name}: {mean} is not about {share}");
            }
            compared += 1;
        }
    }
    assert!(compared > 0);
}

#[test]
fn the_worked_example_carries_its_current_through_named_branches() {
    let layout = sample("brake-idle");
    let study = Study::of(&layout, &Memo::default());
    let view = study.now();
    let (_, known) = view.all_known().next().unwrap();
    let worst = known.result.now.worst.as_ref().unwrap();
    let (scope, scenario) = scope(known, worst, false);
    let joint = scope.worst_joint();
    assert!(scope.in_conflict(joint));
    let moment = scope.moment(&known.case, &scenario, joint).unwrap();
    assert!(moment.conflict && moment.share > 0.0);
    let peak = worst.judged.worst_joint.unwrap().1;
    assert!(peak > 10.0);
    for driver in known.case.wiring.drivers.indices() {
        for leg in 0..2 {
            let feeders = moment
                .amps(|part| {
                    matches!(part, Part::Feeder { driver: d, leg: l, .. } if (d, l) == (driver, leg))
                })
                .unwrap();
            let signal = if leg == 0 { Signal::P(driver) } else { Signal::M(driver) };
            assert!((feeders - level(&scope, signal, joint)).abs() < 1e-9);
            assert!((feeders.abs() - peak).abs() < 1e-6, "the whole current is in every leg");
            // What leaves by the feeders comes out of the half-bridge: its switches and diodes.
            let bridge = |high: bool| {
                let switch = moment.amps(|part| part == Part::Switch { driver, leg, high });
                let diode = moment.amps(|part| part == Part::Diode { driver, leg, high });
                let up = if high { -1.0 } else { 1.0 };
                switch.unwrap_or(0.0) + up * diode.unwrap_or(0.0)
            };
            assert!((bridge(true) + bridge(false) - feeders).abs() < 1e-9);
        }
    }
    // One supply gives it, the other one nothing: B brakes through its two low switches.
    let mut sources: Vec<f64> = (known.case.wiring.supplies.indices())
        .map(|at| moment.amps(|part| part == Part::Source(at)).unwrap())
        .collect();
    sources.sort_by(f64::total_cmp);
    assert!(sources[0].abs() < 1e-9 && (sources[1] - peak).abs() < 1e-6, "{sources:?}");
    // Through the wheels of each rail goes the whole current once in and once out.
    for side in 0..2 {
        let wheels: Vec<f64> = moment
            .flows
            .iter()
            .filter(|flow| matches!(flow.part, Part::Wheels { side: s, .. } if s == side))
            .map(|flow| flow.amps)
            .collect();
        assert_eq!(wheels.len(), 2);
        assert!((wheels[0] + wheels[1]).abs() < 1e-9 && (wheels[0].abs() - peak).abs() < 1e-6);
    }
}

#[test]
fn current_is_kept_at_every_driver_of_every_sample() {
    let mut looked = 0;
    worst_now(|name, cut, known, worst| {
        for loaded in [false, true] {
            let (scope, scenario) = scope(known, worst, loaded);
            for joint in 0..scope.joints() {
                let moment = scope.moment(&known.case, &scenario, joint).unwrap();
                for (at, supply) in known.case.wiring.supplies.pairs() {
                    if supply.split || !scenario.powered[at] {
                        continue;
                    }
                    // What a supply gives goes to its drivers and into its regulators.
                    let gives = moment.amps(|part| part == Part::Source(at)).unwrap();
                    let bleed = moment.amps(|part| part == Part::Bleed(at)).unwrap_or(0.0);
                    let drivers = known.case.wiring.drivers.pairs();
                    let drawn: f64 = drivers
                        .filter(|(_, driver)| driver.supply == at)
                        .map(|(driver, _)| level(&scope, Signal::Supply(driver), joint))
                        .sum();
                    assert!(
                        (gives - bleed - drawn).abs() < 1e-6,
                        "{name} {cut} {joint}: {gives} {bleed} {drawn}"
                    );
                    looked += 1;
                }
            }
        }
    });
    assert!(looked > 100, "{looked}");
}

/// The gap of a sample with one cut that has this name or number.
fn gap(layout: &Layout) -> Gap {
    let plan = gapwright::rails::Plan::derive(layout);
    let cut = *layout.cuts.keys().next().unwrap();
    Gap::of(layout, &plan, cut).unwrap()
}

#[test]
fn where_a_vehicle_stands_best_it_joins_what_the_check_judges() {
    let layout = sample("brake-idle");
    let gap = gap(&layout);
    let study = Study::of(&layout, &Memo::default());
    let view = study.now();
    let (_, known) = view.all_known().next().unwrap();
    for who in gap.all().collect::<Vec<_>>() {
        let Who::Vehicle(id) = who else { panic!("{who:?}") };
        let facing = gapwright::straddle::contacts::Facing::FrontAhead;
        let lead_mm = gap.best_mm(who, facing, [true; 2]);
        let stance = Stance { who, facing, lead_mm, touch: [true; 2] };
        let stand = gap.stand(&stance, false).unwrap();
        let same = known.case.stands.pairs().any(|(at, other)| {
            known.around.stands[at].by.vehicle == Some(id) && other.groups == stand.groups
        });
        assert!(same, "{who:?}: {stand:?}");
        // Clear of the gap nothing is joined; at a step into it something is.
        let (least, most) = gap.reach_mm(who);
        let clear = Stance { lead_mm: least, ..stance };
        assert_eq!(gap.stand(&clear, false), None);
        assert_eq!(gap.stand(&Stance { lead_mm: most, ..stance }, false), None);
        let into = Stance { lead_mm: gap.next_change_mm(&clear, true), ..clear };
        assert!(into.lead_mm > least);
        let touch = [true, false];
        let left = gap.stand(&Stance { touch, ..stance }, false).unwrap();
        assert!(left.joins(0) && !left.joins(1));
    }
}

#[test]
fn the_diesel_joins_from_its_first_to_its_last_wheel() {
    let layout = sample("brake-idle");
    let gap = gap(&layout);
    let who = Who::Vehicle(gapwright::layout::VehicleId(1));
    let facing = gapwright::straddle::contacts::Facing::FrontAhead;
    let joined = |lead_mm: f64| {
        gap.stand(&Stance { who, facing, lead_mm, touch: [true; 2] }, false).is_some()
    };
    // Pickups from 25 to 185 mm behind the coupler; single wheels reach a quarter of a millimetre farther.
    assert!(!joined(24.7) && joined(25.1) && joined(100.0) && joined(184.9) && !joined(185.3));
}

#[test]
fn whatever_stands_at_whatever_gap_has_waveforms_that_are_the_circuits() {
    use gapwright::straddle::contacts::Facing;
    let (mut looked, mut joined) = (0, 0);
    for seed in 0..160 {
        let layout = super::support::random::layout(seed);
        let plan = gapwright::rails::Plan::derive(&layout);
        for &cut in layout.cuts.keys() {
            let Some(gap) = Gap::of(&layout, &plan, cut) else { continue };
            let all: Vec<Who> = gap.all().collect();
            for who in all {
                let (least, most) = gap.reach_mm(who);
                let best_mm = gap.best_mm(who, Facing::FrontAhead, [false; 2]);
                for lead_mm in [least, best_mm, f64::midpoint(least, most), most] {
                    for (facing, touch, loaded) in [
                        (Facing::FrontAhead, [true, true], false),
                        (Facing::RearAhead, [true, false], true),
                    ] {
                        let stance = Stance { who, facing, lead_mm, touch };
                        let stand = gap.stand(&stance, loaded);
                        let scenario = gap.scenario(who, &Default::default(), &[]);
                        let case = gap.case(who);
                        let Ok(scope) = Scope::of(case, &scenario, stand.as_ref(), loaded) else {
                            continue;
                        };
                        looked += 1;
                        joined += usize::from(stand.is_some());
                        whole(&format!("seed {seed}, {cut}, {stance:?}"), &scope);
                        // Of every driver what flows in comes out: legs, supply and ground return.
                        for joint in 0..scope.joints() {
                            let moment = scope.moment(case, &scenario, joint).unwrap();
                            assert_eq!(moment.states.len(), case.wiring.drivers.len());
                            assert!(moment.flows.iter().all(|flow| flow.amps.is_finite()));
                        }
                    }
                }
                let stance =
                    Stance { who, facing: Facing::RearAhead, lead_mm: least, touch: [true; 2] };
                let next = gap.next_change_mm(&stance, true);
                assert!(next > least && next <= most, "seed {seed}, {cut}: {next}");
            }
        }
    }
    assert!(looked > 1000 && joined > 200, "{looked} {joined}");
}

/// The stretches of a span follow each other without a hole, and each is in a joint state that occurs.
#[track_caller]
fn whole(what: &str, scope: &Scope) {
    let span_s = scope.slowest_s().map_or(0.01, |slowest| 2.0 * slowest);
    let stretches = scope.stretches(&[0.0, 0.3, 0.7], 0.0, span_s);
    assert!(!stretches.is_empty(), "{what}");
    assert!(stretches[0].from_s == 0.0, "{what}");
    assert!((stretches[stretches.len() - 1].to_s - span_s).abs() < 1e-12, "{what}");
    for pair in stretches.windows(2) {
        assert!(pair[0].to_s == pair[1].from_s && pair[0].joint != pair[1].joint, "{what}");
    }
    assert!(stretches.iter().all(|s| scope.drifting()[s.joint] > 0.0), "{what}");
    assert!((scope.drifting().iter().sum::<f64>() - 1.0).abs() < 1e-9, "{what}");
    if let Some(held) = scope.held(&[0.0, 0.3, 0.7]) {
        assert!((held.iter().sum::<f64>() - 1.0).abs() < 1e-6, "{what}");
    }
}

#[test]
fn a_board_that_the_rails_wake_is_awake_as_the_check_has_it() {
    let layout = sample("neighbour-wakes");
    let study = Study::of(&layout, &Memo::default());
    let view = study.now();
    let (_, known) = view.all_known().next().unwrap();
    let worst = known.result.now.worst.as_ref().unwrap();
    let gap = gap(&layout);
    let who = gap.all().next().unwrap();
    let asleep = gap.scenario(who, &Default::default(), &[]);
    assert_ne!(asleep, worst.scenario);
    let stand = &known.case.stands[worst.stand.unwrap()];
    let (awake, woke) = gap.awake(who, asleep.clone(), stand);
    assert_eq!((awake, woke), (worst.scenario.clone(), vec![gapwright::layout::DriverId(2)]));
    // With the supply on, nothing has to wake.
    let mut on = layout.clone();
    on.supplies.values_mut().for_each(|supply| supply.powered = true);
    let gap = self::gap(&on);
    let scenario = gap.scenario(who, &Default::default(), &[]);
    assert_eq!(gap.awake(who, scenario.clone(), stand), (scenario, Vec::new()));
}

#[test]
fn a_capacitor_is_charged_as_the_finding_says() {
    use gapwright::findings::{Evidence, check};
    let mut layout = sample("inrush");
    layout.supplies.get_mut(&gapwright::layout::SupplyId(2)).unwrap().powered = false;
    let report = check(&layout);
    let evidence = report.findings.iter().find_map(|found| match &found.evidence {
        Evidence::Inrush(evidence) => Some(evidence),
        _ => None,
    });
    let evidence = evidence.unwrap();
    let study = Study::of(&layout, &Memo::default());
    let view = study.now();
    let (_, known) = view.all_known().next().unwrap();
    let worst = known.result.now.worst.as_ref().unwrap();
    let gap = gap(&layout);
    let who = gap.all().next().unwrap();
    let stand = &known.case.stands[worst.stand.unwrap()];
    let rushes = gap.rushes(who, &worst.scenario, stand, &worst.judged);
    assert_eq!(rushes.len(), 1);
    let rush = &rushes[0];
    assert!((rush.into.peak_a - evidence.amps).abs() < 1e-6, "{rush:?} {evidence:?}");
    assert!((rush.into.decay_s - evidence.tau_s).abs() < 1e-9);
    // After one time constant 1/e of it is left; half of the 490 Hz period it is driven.
    assert!((rush.into.at(rush.into.decay_s) / rush.into.peak_a - (-1.0_f64).exp()).abs() < 1e-12);
    assert!(rush.longest_s.is_some_and(|s| (s - 0.5 / 490.0).abs() < 1e-9), "{rush:?}");
    assert_eq!(rush.trips.len(), evidence.trips.len());
    assert!(rush.trips.iter().all(|(_, after_s)| *after_s == Some(0.00002)), "{rush:?}");
}

#[test]
fn the_filter_of_a_trip_stays_below_its_worst_and_comes_near_it() {
    let layout = sample("railcar-slips-by");
    let study = Study::of(&layout, &Memo::default());
    let view = study.now();
    let (_, known) = view.all_known().next().unwrap();
    let worst = known.result.now.worst.as_ref().unwrap();
    let (scope, _) = scope(known, worst, false);
    let mut compared = 0;
    for trace in &scope.traces {
        let Signal::Trip(at) = trace.signal else { continue };
        let kind = known.case.wiring.drivers[at].trip.as_ref().unwrap().kind;
        // Two seconds are more than six time constants.
        let stretches = scope.stretches(&[], 0.0, 2.0);
        let points = scope.compared((at, kind), &trace.levels, &[], &stretches).unwrap();
        assert_eq!(points[0], [0.0, 0.0]);
        let most = points.iter().map(|point| point[1]).fold(0.0, f64::max);
        let peak = trace.reading(scope.drifting()).unwrap().peak;
        assert!(most < 0.95 * peak, "{most} {peak}");
        let settled = trace.reading(scope.drifting()).unwrap().mean_abs;
        assert!((most - settled).abs() < 0.1 * peak, "{most} {settled}");
        compared += 1;
    }
    assert!(compared > 0);
}

#[test]
fn what_rolls_over_a_gap_trips_stops_and_stays_as_the_drives_say() {
    use gapwright::straddle::contacts::Facing;
    use gapwright::study::GuardId;
    use gapwright::study::run::{Fate, What};
    let mut layout = sample("neighbour-wakes");
    let plan = gapwright::rails::Plan::derive(&layout);
    let main = gapwright::layout::DriverId(1);
    let passing = |layout: &Layout| {
        let gap = gap(layout);
        let who = gap.all().next().unwrap();
        gap.passing(layout, &plan, who, Facing::FrontAhead).unwrap()
    };
    let latched = passing(&layout);
    assert!(latched.along && !latched.pushed && latched.events[0].time_s == 0.0);
    let trips = latched.events.iter().find_map(|event| match &event.what {
        What::Trips { guards, .. } => Some((guards.clone(), event.time_s)),
        _ => None,
    });
    let (guards, time_s) = trips.unwrap();
    assert_eq!(guards, [GuardId::Driver(main)]);
    assert!((time_s - 0.00002).abs() < 1e-9, "{time_s}");
    let end =
        |passing: &gapwright::study::scope::Passing| passing.events.last().unwrap().what.clone();
    assert_eq!(end(&latched), What::Ends(Fate::Stalls));
    // One that tries again does so without end.
    layout.drivers.get_mut(&main).unwrap().trip.as_mut().unwrap().retry_s = Some(0.5);
    let again = passing(&layout);
    assert_eq!(end(&again), What::Ends(Fate::HiccupsForEver));
    let tries =
        again.events.iter().find(|event| matches!(event.what, What::TriesAgain(_))).unwrap();
    assert!((tries.time_s - 0.50002).abs() < 1e-6, "{}", tries.time_s);
    // With the board asleep nothing trips, and it rolls on until all of it stands on the dead side.
    layout.drivers.get_mut(&gapwright::layout::DriverId(2)).unwrap().wake_v = None;
    let asleep = passing(&layout);
    assert!(!asleep.events.iter().any(|event| matches!(event.what, What::Trips { .. })));
    assert_eq!(end(&asleep), What::Ends(Fate::Stalls));
    assert!(asleep.events.last().unwrap().position_mm > 100.0);
}
