//! What makes a judged conflict: read off the states in which it is worst, never off labels.

use crate::drive::{self, Part, Signal, StateWord};
use crate::straddle::ix::{DriverIx, NetIx, Table};

use super::cut::{Case, Evaluated};

/// Why current flows where it should not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// DCC beside something else.
    Mixed,
    /// DCC beside DCC.
    Phase,
    /// Both drive, one rail positive on one side and negative on the other.
    Opposed,
    /// One drives, the other is in its idle part.
    Clamp,
    /// One feeds the other's supply.
    BackFeed,
}

/// The cause of a situation's conflict, `None` if nothing flows and no pole is lifted.
pub fn cause(case: &Case, evaluated: &Evaluated) -> Option<Cause> {
    let judged = &evaluated.judged;
    let fed = !judged.lifted.is_empty() || !judged.sunk.is_empty();
    let Some((at, _)) = judged.worst_joint else {
        return fed.then_some(Cause::BackFeed);
    };
    let [Some(a), Some(b)] = case.sides else { return Some(Cause::Clamp) };
    let dcc =
        |side: DriverIx| drive::of(&case.controls[side].driver.drive).signal() != Signal::Direct;
    let alive = |side: DriverIx| !evaluated.settings[side].0.is_dead();
    if alive(a) && alive(b) {
        match (dcc(a), dcc(b)) {
            (true, true) if a != b => return Some(Cause::Phase),
            (true, false) | (false, true) => return Some(Cause::Mixed),
            _ => {}
        }
    }
    let parts = &judged.joints.get(at)?.1;
    if !(parts[a].drives && parts[b].drives) {
        let dead_fed = !(evaluated.woke || alive(a) && alive(b));
        return Some(if dead_fed { Cause::BackFeed } else { Cause::Clamp });
    }
    match left_signs(case, [a, b], parts) {
        // A third block that a train brings in opposes them both.
        [Some(x), Some(y)] if x == y && !fed && coupled(case, evaluated) => Some(Cause::Opposed),
        [Some(x), Some(y)] if x == y => Some(Cause::BackFeed),
        _ => Some(Cause::Opposed),
    }
}

/// Whether several pickup groups join nets.
fn coupled(case: &Case, evaluated: &Evaluated) -> bool {
    evaluated.stand.and_then(|at| case.stands.get(at)).is_some_and(|stand| stand.groups.len() > 1)
}

fn left_signs(
    case: &Case,
    [a, b]: [DriverIx; 2],
    parts: &Table<DriverIx, Part>,
) -> [Option<i8>; 2] {
    [(0, a), (1, b)].map(|(side, driver)| left_sign(case, side, driver, parts[driver].state))
}

/// +1 if the left rail of a side of the cut is the positive one when its driver is in a state.
fn left_sign(case: &Case, side: usize, driver: DriverIx, state: StateWord) -> Option<i8> {
    let [left, right] = case.rails[side];
    let on = |leg: usize, net: Option<NetIx>| {
        net.is_some_and(|net| case.wiring.drivers[driver].legs[leg].iter().any(|l| l.net == net))
    };
    let p_left = if on(0, left) || on(1, right) {
        1
    } else if on(0, right) || on(1, left) {
        -1
    } else {
        return None;
    };
    match state {
        StateWord::Forward => Some(p_left),
        StateWord::Reverse => Some(-p_left),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::layout;
    use crate::rails::Plan;
    use crate::study::cut::case_of;

    const BRAKES: &str = "drive: PwmBridge(clock: (hz: 490), idle: BrakeLow)";
    const COASTS: &str = "drive: PwmBridge(clock: (hz: 490), idle: HighImpedance)";
    const DCC: &str = "drive: DccBooster(station: \"yard\")";

    /// The cause at the settings now, of two drivers on supplies of 18 V and `second_v`; `m` tells the second feed.
    fn cause_now(first: [&str; 2], second: [&str; 2], second_v: f64, m: &str) -> Option<Cause> {
        let driver = |id: u32, [drive, setting]: [&str; 2]| {
            format!(
                "(id: \"d{id}\", supply: \"s{id}\", {drive}, high_ohm: 0.1, low_ohm: 0.1, diode_v: 0.7, \
                 diode_ohm: 0.05, setting: (direction: {setting}))"
            )
        };
        let p = if m == "Left" { "Right" } else { "Left" };
        let text = format!(
            r#"(version: 1, joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 2000, y_mm: 0)],
            runs: [(id: "r1", from: "j1", to: "j2")], cuts: [(id: "c1", run: "r1", at_mm: 1000, rails: Both)],
            supplies: [(id: "s1", open_v: 18, source_ohm: 0.1), (id: "s2", open_v: {second_v}, source_ohm: 0.1)],
            drivers: [{}, {}],
            feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 100, p: Right, m: Left),
                (id: "f2", driver: "d2", run: "r1", at_mm: 1900, p: {p}, m: {m})])"#,
            driver(1, first),
            driver(2, second)
        );
        let layout = layout::load(&text).unwrap_or_else(|e| panic!("{e:?}")).layout;
        let plan = Plan::derive(&layout);
        let (case, _) = case_of(&layout, &plan, layout.cuts.values().next().unwrap()).unwrap();
        cause(&case, case.solve().now.worst.as_ref().unwrap())
    }

    const FORWARD: &str = "Forward, throttle: 0.5";
    const FULL: &str = "Forward, throttle: 1";
    const REVERSE: &str = "Reverse, throttle: 0.5";

    #[test]
    fn the_cause_is_read_off_states_and_never_off_labels() {
        // Both drive: opposed by direction, and just so by a swapped feed.
        assert_eq!(
            cause_now([COASTS, FORWARD], [COASTS, REVERSE], 18.0, "Left"),
            Some(Cause::Opposed)
        );
        assert_eq!(
            cause_now([COASTS, FORWARD], [COASTS, FORWARD], 18.0, "Right"),
            Some(Cause::Opposed)
        );
        assert_eq!(cause_now([COASTS, FORWARD], [COASTS, REVERSE], 18.0, "Right"), None);
        assert_eq!(cause_now([COASTS, FORWARD], [COASTS, FORWARD], 18.0, "Left"), None);
        assert_eq!(
            cause_now([BRAKES, FORWARD], [BRAKES, FORWARD], 18.0, "Left"),
            Some(Cause::Clamp)
        );
        assert_eq!(
            cause_now([COASTS, FULL], [BRAKES, "Stopped"], 18.0, "Left"),
            Some(Cause::Clamp)
        );
    }

    #[test]
    fn a_lower_supply_is_fed_back() {
        assert_eq!(cause_now([COASTS, FULL], [COASTS, FULL], 12.0, "Left"), Some(Cause::BackFeed));
        assert_eq!(cause_now([COASTS, FULL], [COASTS, "Off"], 12.0, "Left"), Some(Cause::BackFeed));
        // A dead driver whose supply stands higher than what its diodes let through is left alone.
        assert_eq!(cause_now([COASTS, FULL], [COASTS, "Off"], 18.0, "Left"), None);
    }

    #[test]
    fn dcc_is_told_as_dcc() {
        assert_eq!(cause_now([DCC, "On"], [COASTS, FULL], 18.0, "Left"), Some(Cause::Mixed));
        assert_eq!(cause_now([DCC, "On"], [DCC, "On"], 18.0, "Right"), Some(Cause::Phase));
        assert_eq!(cause_now([DCC, "On"], [DCC, "On"], 18.0, "Left"), None);
        assert_eq!(cause_now([DCC, "On"], [DCC, "Off"], 18.0, "Right"), None);
    }
}
