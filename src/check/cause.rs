//! What makes a judged conflict: read off the states in which it is worst, never off labels.

use crate::drive::StateWord;
use crate::layout::Drive;

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
    let dcc = |side: usize| matches!(case.controls[side].driver.drive, Drive::DccBooster { .. });
    let alive = |side: usize| !evaluated.settings[side].0.is_dead();
    if alive(a) && alive(b) {
        match (dcc(a), dcc(b)) {
            (true, true) if a != b => return Some(Cause::Phase),
            (true, false) | (false, true) => return Some(Cause::Mixed),
            _ => {}
        }
    }
    let parts = &judged.joints.get(at)?.1;
    if !(parts[a].drives && parts[b].drives) {
        let dead_fed = !(alive(a) && alive(b)) && !evaluated.woke;
        return Some(if dead_fed { Cause::BackFeed } else { Cause::Clamp });
    }
    let signs =
        [(0, a), (1, b)].map(|(side, driver)| left_sign(case, side, driver, parts[driver].state));
    match signs {
        [Some(x), Some(y)] if x == y => Some(Cause::BackFeed),
        _ => Some(Cause::Opposed),
    }
}

/// +1 if the left rail of a side of the cut is the positive one when its driver is in a state.
fn left_sign(case: &Case, side: usize, driver: usize, state: StateWord) -> Option<i8> {
    let [left, right] = case.rails[side];
    let on = |leg: usize, net: Option<usize>| {
        net.is_some_and(|net| case.wiring.drivers[driver].legs[leg].iter().any(|l| l.0 == net))
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
