//! Settings of two drivers against each other.

use serde::Serialize;

use super::kind::Signal;
use super::of;
use super::schedule::Beside;
use super::words::SetWord;
use crate::layout::Drive;

/// How two settings stand to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Relation {
    /// They carry a train on through the cut.
    Agree,
    /// They do not.
    Disagree,
    /// One side is off or unpowered beside a live one.
    OneDead,
}

/// The relation of two settings at a cut where directions continue (`sign` +1) or reverse (−1). `None` if both are dead.
///
/// Settings agree if both drivers give a train the same signal and their signs match. Stopped is the zero end of either
/// direction.
pub fn relation(a: (&Drive, SetWord), b: (&Drive, SetWord), sign: i8) -> Option<Relation> {
    match (a.1.is_dead(), b.1.is_dead()) {
        (true, true) => return None,
        (true, false) | (false, true) => return Some(Relation::OneDead),
        (false, false) => {}
    }
    let (one, two) = (of(a.0), of(b.0));
    let signs = one.sign(a.1).zip(two.sign(b.1)).is_none_or(|(x, y)| x * y == sign);
    let agree = one.signal() == two.signal() && signs;
    Some(if agree { Relation::Agree } else { Relation::Disagree })
}

/// The neighbours of a driver, as they decide its bits. `others` are all other drivers that take part, with their settings.
pub fn beside<'a>(own: &Drive, others: impl IntoIterator<Item = (&'a Drive, SetWord)>) -> Beside {
    let kind = of(own);
    let signal = kind.signal();
    if signal == Signal::Direct {
        return Beside::Other;
    }
    let same =
        others.into_iter().all(|(drive, word)| word.is_dead() || of(drive).signal() == signal);
    if same { Beside::SameStation } else { Beside::Other }
}
