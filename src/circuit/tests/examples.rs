use super::*;
use approx::assert_abs_diff_eq;

/// Mean, mean of magnitude and RMS of A's supply, A's output P and B's supply when two bridges that brake low drive
/// 0.4 and 0.8 of the time by independent clocks; and the peak of all supply currents.
fn worked_example(feeder: f64) -> ([[f64; 3]; 3], f64) {
    let mut figures = [[0.0; 3]; 3];
    let mut peak: f64 = 0.0;
    for (a, share_a) in [(FORWARD, 0.4), (BRAKE_LOW, 0.6)] {
        for (b, share_b) in [(FORWARD, 0.8), (BRAKE_LOW, 0.2)] {
            let Pair { net, poles, bridges } = pair([Some(14.0); 2], [a, b], [true; 2], feeder);
            let solution = solve(&net).unwrap();
            let amps = [poles[0].source.unwrap(), bridges[0].feeders[0], poles[1].source.unwrap()]
                .map(|branch| solution.amps(branch));
            for (figure, amps) in figures.iter_mut().zip(amps) {
                figure[0] += share_a * share_b * amps;
                figure[1] += share_a * share_b * amps.abs();
                figure[2] += share_a * share_b * amps * amps;
            }
            peak = peak.max(amps[0]).max(amps[2]);
        }
    }
    (figures.map(|[mean, magnitude, square]| [mean, magnitude, square.sqrt()]), peak)
}

/// Closed form and ngspice 39.
#[test]
fn two_bridges_braking_low_with_long_feeders() {
    let (figures, peak) = worked_example(0.35);
    assert_abs_diff_eq!(peak, 14.0 / 1.73, epsilon = 1e-8);
    assert_abs_diff_eq!(peak, 8.0925, epsilon = 1e-4);
    assert_abs_diff_eq!(figures[0][0], 0.6474, epsilon = 1e-4);
    assert_abs_diff_eq!(figures[0][2], 2.289, epsilon = 1e-3);
    assert_abs_diff_eq!(figures[1][0], -3.237, epsilon = 1e-3);
    assert_abs_diff_eq!(figures[1][1], 4.532, epsilon = 1e-3);
    assert_abs_diff_eq!(figures[1][2], 6.056, epsilon = 1e-3);
    assert_abs_diff_eq!(figures[2][0], 3.884, epsilon = 1e-3);
    assert_abs_diff_eq!(figures[2][2], 5.607, epsilon = 1e-3);
}

/// Closed form and ngspice 39: the drop across a switch makes its body diode share the current.
#[test]
fn two_bridges_braking_low_with_short_feeders() {
    let (figures, peak) = worked_example(0.08);
    assert_abs_diff_eq!(peak, 22.062, epsilon = 1e-3);
    assert_abs_diff_eq!(figures[0][0], 1.765, epsilon = 1e-3);
    assert_abs_diff_eq!(figures[0][2], 6.240, epsilon = 1e-3);
    assert_abs_diff_eq!(figures[1][2], 16.51, epsilon = 1e-2);
    let Pair { net, bridges, .. } = pair([Some(14.0); 2], [FORWARD, BRAKE_LOW], [true; 2], 0.08);
    let solution = solve(&net).unwrap();
    let shared = bridges[1].low_diodes.map(|diode| solution.amps(diode));
    assert!(shared[0] == 0.0 && shared[1] > 5.0, "{shared:?}");
}

#[test]
fn a_braking_drivers_supply_carries_nothing() {
    let Pair { net, poles, bridges } = pair([Some(14.0); 2], [FORWARD, BRAKE_LOW], [true; 2], 0.35);
    let solution = solve(&net).unwrap();
    assert!(solution.amps(poles[1].source.unwrap()) < 1e-9);
    for bridge in bridges {
        for feeder in bridge.feeders {
            assert_abs_diff_eq!(solution.amps(feeder).abs(), 14.0 / 1.73, epsilon = 1e-8);
        }
    }
}

#[test]
fn isolated_supplies_joined_at_one_side_carry_nothing() {
    for legs in [[FORWARD, BRAKE_LOW], [FORWARD, [Leg::Low, Leg::High]], [FORWARD, OFF]] {
        for joined in [[true, false], [false, true]] {
            let Pair { net, poles, bridges } = pair([Some(14.0); 2], legs, joined, 0.08);
            let solution = solve(&net).unwrap();
            for feeder in bridges.iter().flat_map(|b| b.feeders) {
                assert_abs_diff_eq!(solution.amps(feeder), 0.0, epsilon = 1e-6);
            }
            for poles in poles {
                let volts = solution.between(poles.high, poles.low).unwrap();
                assert_abs_diff_eq!(volts, 14.0, epsilon = 1e-6);
            }
        }
    }
}

#[test]
fn a_shared_negative_closes_the_loop_of_one_joined_side() {
    let Pair { mut net, poles, bridges } =
        pair([Some(14.0); 2], [FORWARD, BRAKE_LOW], [true, false], 0.35);
    let tie = net.resistor(poles[1].low, poles[0].low, 0.01);
    let solution = solve(&net).unwrap();
    // R_s, high switch, feeder, contacts, feeder, B's low switch, tie.
    let expected = 14.0 / (0.05 + 0.06 + 0.35 + 0.02 + 0.35 + 0.06 + 0.01);
    assert_abs_diff_eq!(solution.amps(tie), expected, epsilon = 1e-8);
    assert_abs_diff_eq!(solution.amps(bridges[0].feeders[0]), expected, epsilon = 1e-8);
    assert_abs_diff_eq!(solution.amps(bridges[0].feeders[1]), 0.0, epsilon = 1e-8);
    assert!(solution.amps(poles[1].source.unwrap()) < 1e-8);
}

/// 18 V less two forward voltages against a supply of 12 V, of 17 V, and one that is switched off.
#[test]
fn a_pole_is_lifted_only_as_far_as_it_must() {
    for (volts, pole, on) in
        [(Some(12.0), 16.6, false), (Some(17.0), 17.0, true), (None, 16.6, false)]
    {
        let Pair { net, poles, .. } = pair([Some(18.0), volts], [FORWARD, OFF], [true; 2], 0.08);
        let solution = solve(&net).unwrap();
        let between = solution.between(poles[1].high, poles[1].low).unwrap();
        assert_abs_diff_eq!(between, pole, epsilon = 1e-6);
        if let Some(source) = poles[1].source {
            assert_eq!(solution.conducting()[source.0], on);
            assert!(solution.amps(source) < 1e-9);
        }
        assert_abs_diff_eq!(solution.amps(poles[0].source.unwrap()), 0.0, epsilon = 1e-6);
    }
}

#[test]
fn a_supply_that_can_sink_is_charged() {
    let mut net = Network::default();
    let (low, high) = (net.node(), net.node());
    net.one_way_source(low, high, 18.0, 0.05);
    let battery = net.source(low, high, 12.0, 0.15);
    assert_abs_diff_eq!(solve(&net).unwrap().amps(battery), -30.0, epsilon = 1e-9);
}

#[test]
fn parts_that_nothing_joins_have_no_voltage_between_them() {
    let mut net = Network::default();
    let nodes = [net.node(), net.node(), net.node(), net.node(), net.node()];
    net.source(nodes[0], nodes[1], 9.0, 1.0);
    net.source(nodes[2], nodes[3], 5.0, 1.0);
    let solution = solve(&net).unwrap();
    assert_abs_diff_eq!(solution.between(nodes[1], nodes[0]).unwrap(), 9.0, epsilon = 1e-12);
    assert_abs_diff_eq!(solution.between(nodes[2], nodes[3]).unwrap(), -5.0, epsilon = 1e-12);
    assert_eq!(solution.between(nodes[1], nodes[3]), None);
    assert_eq!(solution.between(nodes[4], nodes[0]), None);
    assert_eq!(solution.between(nodes[4], nodes[4]), Some(0.0));
    assert_eq!(solution.between(nodes[0], Node(99)), None);
}

/// 1 mΩ beside leaks of 10 pS: the floating poles settle to the last digits all the same.
#[test]
fn milliohm_shorts_do_not_blur_floating_poles() {
    let mut net = Network::default();
    let mut last = None;
    let mut floating = Vec::new();
    for _ in 0..20 {
        let (low, high, out) = (net.node(), net.node(), net.node());
        net.one_way_source(low, high, 14.0, 1e-3);
        net.resistor(high, out, 1e-3);
        net.diode(low, out, 0.7, 1e-3);
        net.diode(out, high, 0.7, 1e-3);
        if let Some(last) = last {
            net.resistor(last, out, 1e-3);
        }
        last = Some(out);
        floating.push((low, high));
    }
    let solution = solve(&net).unwrap();
    for (low, high) in floating {
        assert_abs_diff_eq!(solution.between(high, low).unwrap(), 14.0, epsilon = 1e-11);
    }
}

#[test]
fn values_out_of_range_are_named() {
    let mut net = Network::default();
    let (a, b) = (net.node(), net.node());
    let branch = net.source(a, b, 1.0, 1.0);
    for ohm in [0.0, 9.9e-4, -1.0, f64::NAN, f64::INFINITY, 1e13] {
        net.set_ohm(branch, ohm);
        assert!(matches!(solve(&net), Err(Unsolved::Ohm { branch: b, .. }) if b == branch));
    }
    net.set_ohm(branch, MIN_OHM);
    for volts in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e10] {
        net.set_volts(branch, volts);
        assert!(matches!(solve(&net), Err(Unsolved::Volts { branch: b, .. }) if b == branch));
    }
    net.set_volts(branch, 0.0);
    assert!(solve(&net).is_ok());
    let stray = net.resistor(a, Node(7), 1.0);
    assert_eq!(solve(&net), Err(Unsolved::Node { branch: stray }));
}

#[test]
fn nothing_and_loops_on_one_node_are_solved() {
    assert!(solve(&Network::default()).is_ok());
    let mut net = Network::default();
    let a = net.node();
    let shorted = net.source(a, a, 5.0, 0.5);
    let blocked = net.diode(a, a, 0.7, 0.5);
    let solution = solve(&net).unwrap();
    assert_abs_diff_eq!(solution.amps(shorted), 10.0, epsilon = 1e-12);
    assert_eq!(solution.amps(blocked), 0.0);
}

/// A hundred bridges in a row, every third braking, every third off: 400 nodes and more.
#[test]
fn a_long_row_of_bridges_is_solved() {
    let mut net = Network::default();
    let mut last: Option<Bridge> = None;
    for k in 0..100 {
        let poles = supply(&mut net, Some(12.0 + f64::from(k % 7)));
        let legs = [FORWARD, BRAKE_LOW, OFF][k as usize % 3];
        let next = bridge(&mut net, poles, legs, 0.1);
        if let Some(last) = last {
            net.resistor(last.rails[0], next.rails[0], 0.02);
            net.resistor(last.rails[1], next.rails[1], 0.02);
        }
        last = Some(next);
    }
    let cold = solve(&net).unwrap();
    let upside_down: Vec<bool> = cold.conducting().iter().map(|on| !on).collect();
    let warm = solve_from(&net, &upside_down).unwrap();
    for k in 0..net.branches().len() {
        assert_abs_diff_eq!(cold.amps(BranchId(k)), warm.amps(BranchId(k)), epsilon = 1e-8);
    }
}
