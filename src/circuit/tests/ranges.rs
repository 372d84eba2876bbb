use super::*;
use approx::assert_abs_diff_eq;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;

fn range(lo: f64, nominal: f64, hi: f64) -> ParamRange {
    ParamRange { lo, nominal, hi }
}

/// Two bridges, a vehicle's load beside, and the values that are not known: both supplies, the switches, the feeders,
/// the contacts. The figure is A's output current with both sides joined, summed over the given states.
fn figure(states: &[[[Leg; 2]; 2]], values: &[f64]) -> Result<(f64, Vec<f64>), Unsolved> {
    let mut total = 0.0;
    let mut slopes = vec![0.0; values.len()];
    for legs in states {
        let Pair { mut net, poles, bridges } = pair([Some(14.0); 2], *legs, [true; 2], 0.35);
        let switches: Vec<(BranchId, f64)> = (0..net.branches().len())
            .map(BranchId)
            .filter(|&k| net.branches()[k.0].ohm == 0.06)
            .map(|k| (k, 1.0))
            .collect();
        let contacts = (0..net.branches().len())
            .map(BranchId)
            .filter(|&k| net.branches()[k.0].ohm == 0.02)
            .map(|k| (k, 2.0))
            .collect();
        let load = net.resistor(bridges[0].rails[0], bridges[0].rails[1], 20.0);
        let volts = |poles: Poles| vec![(poles.source.unwrap(), 1.0)];
        let ohm = |b: &Bridge| b.feeders.map(|k| (k, 1.0)).to_vec();
        let params = [
            Param { volts_of: volts(poles[0]), ..Param::default() },
            Param { volts_of: volts(poles[1]), ..Param::default() },
            Param { ohm_of: switches, ..Param::default() },
            Param { ohm_of: ohm(&bridges[0]), ..Param::default() },
            Param { ohm_of: ohm(&bridges[1]), ..Param::default() },
            Param { ohm_of: contacts, ..Param::default() },
            Param { ohm_of: vec![(load, 1.0)], ..Param::default() },
        ];
        for (param, &value) in params.iter().zip(values) {
            param.set(&mut net, value);
        }
        let solution = solve(&net)?;
        let output = bridges[0].feeders[0];
        total += solution.amps(output);
        let sensitivity = solution.sensitivity(&net, &[(output, 1.0)]);
        for (slope, param) in slopes.iter_mut().zip(&params) {
            *slope += param.slope(&sensitivity);
        }
    }
    Ok((total, slopes))
}

const BOX: [ParamRange; 7] = [
    ParamRange { lo: 12.0, nominal: 14.0, hi: 18.0 },
    ParamRange { lo: 12.0, nominal: 14.0, hi: 18.0 },
    ParamRange { lo: 0.02, nominal: 0.06, hi: 0.2 },
    ParamRange { lo: 0.02, nominal: 0.35, hi: 0.6 },
    ParamRange { lo: 0.02, nominal: 0.1, hi: 0.6 },
    ParamRange { lo: 0.02, nominal: 0.1, hi: 0.5 },
    ParamRange { lo: 5.0, nominal: 20.0, hi: 100.0 },
];

#[test]
fn the_extremes_of_a_sum_are_its_corners() {
    let found = extremes(&[range(1.0, 2.0, 3.0), range(-1.0, 0.0, 4.0)], &[], &mut |v| {
        Ok::<_, ()>((2.0 * v[0] - v[1], vec![2.0, -1.0]))
    })
    .unwrap();
    assert_eq!((found.min, found.max), (-2.0, 7.0));
    assert_eq!((found.argmin, found.argmax), (vec![1.0, 4.0], vec![3.0, -1.0]));
    assert!(found.exhausted);
}

/// A product slopes both ways: the signs at the nominal point lead astray and all corners must be tried.
#[test]
fn a_saddle_is_tried_in_all_its_corners() {
    let found = extremes(&[range(-3.0, 0.5, 1.0), range(-2.0, 0.5, 1.0)], &[], &mut |v| {
        Ok::<_, ()>((v[0] * v[1], vec![v[1], v[0]]))
    })
    .unwrap();
    assert_eq!((found.min, found.max), (-3.0, 6.0));
    assert!(found.exhausted);
}

/// A figure that is flat at the nominal values and steps up at an end, as a diode that begins to conduct. Along an inert axis
/// nobody looks there.
#[test]
fn both_ends_of_a_flat_axis_are_looked_at_unless_it_is_inert() {
    let search = |inert: &[bool]| {
        extremes(&[range(1.0, 2.0, 3.0), range(0.0, 1.0, 2.0)], inert, &mut |v| {
            let step = if v[1] > 1.5 && v[0] == 2.0 { 5.0 } else { 0.0 };
            Ok::<_, ()>((v[0] + step, vec![1.0, 0.0]))
        })
        .unwrap()
    };
    assert_eq!(search(&[]).max, 7.0);
    let told = search(&[false, true]);
    assert_eq!((told.min, told.max), (1.0, 3.0));
    assert!(told.evaluations < search(&[]).evaluations);
}

/// An exact value has one end: corners that differ in it only are one corner.
#[test]
fn exact_values_make_no_corners() {
    let count = |params: &[ParamRange]| {
        let slopes = [1.0, -1.0, 0.0, 0.0];
        let found = extremes(params, &[], &mut |v| {
            Ok::<_, ()>((v[0] - v[1], slopes[..params.len()].to_vec()))
        })
        .unwrap();
        assert_eq!((found.min, found.max), (-1.0, 3.0));
        found.evaluations
    };
    let two = [range(1.0, 2.0, 3.0), range(0.0, 1.0, 2.0)];
    let four = [two[0], two[1], range(4.0, 4.0, 4.0), range(7.0, 7.0, 7.0)];
    assert_eq!(count(&two), count(&four));
}

#[test]
fn too_many_axes_that_slope_both_ways_are_owned_up_to() {
    let params = [range(-1.0, 0.5, 1.0); 12];
    let found = extremes(&params, &[], &mut |v| {
        let product = |but: usize| (0..12).filter(|&k| k != but).map(|k| v[k]).product::<f64>();
        Ok::<_, ()>((product(99), (0..12).map(product).collect()))
    })
    .unwrap();
    assert!(!found.exhausted);
    assert!(found.evaluations < 4 * 256);
}

#[test]
fn an_error_ends_the_search_and_no_axes_give_the_figure() {
    assert_eq!(extremes(&[range(0.0, 1.0, 2.0)], &[], &mut |_| Err("no")), Err("no"));
    let found = extremes(&[], &[], &mut |_| Ok::<_, ()>((4.0, vec![]))).unwrap();
    assert_eq!((found.min, found.max, found.exhausted), (4.0, 4.0, true));
}

/// The largest current against a clamp: highest voltage, least resistances. The load sits at A's rails: a larger load
/// resistance takes less from A.
#[test]
fn the_worst_of_a_clamp_is_where_it_should_be() {
    let found = extremes(&BOX, &[], &mut |v| figure(&[[FORWARD, BRAKE_LOW]], v)).unwrap();
    assert!(found.exhausted);
    assert_eq!(found.argmax[0], 18.0);
    assert_eq!(found.argmax[2..], [0.02, 0.02, 0.02, 0.02, 5.0]);
    assert_eq!(found.argmin[2..], [0.2, 0.6, 0.6, 0.5, 100.0]);
    let (again, _) = figure(&[[FORWARD, BRAKE_LOW]], &found.argmax).unwrap();
    assert_abs_diff_eq!(again, found.max, epsilon = 1e-9);
}

const STATES: [[[Leg; 2]; 2]; 6] = [
    [FORWARD, BRAKE_LOW],
    [BRAKE_LOW, FORWARD],
    [FORWARD, FORWARD],
    [FORWARD, [Leg::Low, Leg::High]],
    [FORWARD, OFF],
    [OFF, FORWARD],
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// No random point of the box lies beyond the extremes, for each state and for sums over states.
    #[test]
    fn no_sample_lies_beyond_the_extremes(
        first in 0..STATES.len(), count in 1..3_usize,
        samples in prop::collection::vec(prop::collection::vec(0.0..1.0_f64, BOX.len()), 60),
        snap in any::<bool>(),
    ) {
        let states: Vec<_> = (0..count).map(|k| STATES[(first + k) % STATES.len()]).collect();
        let found = extremes(&BOX, &[], &mut |v| figure(&states, v)).unwrap();
        prop_assert!(found.exhausted);
        for sample in samples {
            let values: Vec<f64> = sample.iter().zip(&BOX).map(|(&t, range)| {
                let t = if snap { t.round() } else { t };
                range.lo + t * (range.hi - range.lo)
            }).collect();
            let (value, _) = figure(&states, &values).unwrap();
            prop_assert!(
                (found.min - 1e-6..=found.max + 1e-6).contains(&value),
                "{value} A at {values:?} is beyond {found:?} in {count} from {first}"
            );
        }
    }
}

/// A figure of two branches of a random network in which every value is uncertain, and its box.
fn uncertain(net: &Network) -> (Vec<ParamRange>, Vec<Param>) {
    let mut boxes = Vec::new();
    let mut params = Vec::new();
    for (k, b) in net.branches().iter().enumerate() {
        boxes.push(range(b.ohm * 0.5, b.ohm, b.ohm * 2.0));
        params.push(Param { ohm_of: vec![(BranchId(k), 1.0)], ..Param::default() });
        if b.volts != 0.0 {
            // A negative source's range is given the wrong way round, which must not matter.
            boxes.push(range(b.volts * 0.8, b.volts, b.volts * 1.2));
            params.push(Param { volts_of: vec![(BranchId(k), 1.0)], ..Param::default() });
        }
    }
    (boxes, params)
}

/// In how many of 600 random networks a sample lies beyond the extremes.
fn misses(kinds: u8) -> usize {
    let mut runner = TestRunner::deterministic();
    let specs = prop::collection::vec(super::laws::spec(0..kinds, 0.05), 6..14);
    let mut missed = 0;
    for _ in 0..600 {
        let net = super::laws::build(5, &specs.new_tree(&mut runner).unwrap().current());
        let (boxes, params) = uncertain(&net);
        let parts = [(BranchId(0), 1.0), (BranchId(net.branches().len() - 1), 0.5)];
        let mut eval = |values: &[f64]| {
            let mut net = net.clone();
            for (param, &value) in params.iter().zip(values) {
                param.set(&mut net, value);
            }
            let solution = solve(&net)?;
            let slopes = solution.sensitivity(&net, &parts);
            let figure = parts.iter().map(|&(k, weight)| weight * solution.amps(k)).sum();
            Ok::<(f64, Vec<f64>), Unsolved>((
                figure,
                params.iter().map(|p| p.slope(&slopes)).collect(),
            ))
        };
        let found = extremes(&boxes, &[], &mut eval).unwrap();
        let samples = prop::collection::vec(0.0..1.0_f64, boxes.len());
        let beyond = (0..200).any(|turn| {
            let at = samples.new_tree(&mut runner).unwrap().current();
            let values: Vec<f64> = at
                .iter()
                .zip(&boxes)
                .map(|(&t, b)| b.lo + if turn % 2 == 0 { t.round() } else { t } * (b.hi - b.lo))
                .collect();
            let (value, _) = eval(&values).unwrap();
            !(found.min - 1e-6..=found.max + 1e-6).contains(&value)
        });
        missed += usize::from(beyond && found.exhausted);
    }
    missed
}

#[test]
fn random_networks_seldom_have_a_sample_beyond_the_extremes() {
    let (linear, with_diodes) = (misses(2), misses(5));
    assert!(linear <= 3, "{linear} of 600 without diodes");
    assert!(with_diodes <= 12, "{with_diodes} of 600 with diodes");
}
