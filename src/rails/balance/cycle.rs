//! A cycle as a person sees it on a plan.

use super::Track;

/// How a cycle passes a stretch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Way {
    /// From its start to its end.
    Forward,
    /// From its end to its start.
    Backward,
    /// It only touches its start, as the toe of a turnout from one exit to the other.
    AtStart,
    /// It only touches its end.
    AtEnd,
}

impl Way {
    fn back(self) -> Self {
        match self {
            Way::Forward => Way::Backward,
            Way::Backward => Way::Forward,
            touched => touched,
        }
    }

    /// Whether the whole length of the stretch is on the cycle.
    pub fn is_along(self) -> bool {
        matches!(self, Way::Forward | Way::Backward)
    }
}

/// One stretch on a cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// Index of the stretch.
    pub stretch: usize,
    /// How it is passed.
    pub way: Way,
    /// Whether the metal of this cycle joins the stretch's two rails: once round, no cut is met on at least one of them.
    pub joined: bool,
}

/// One link on a cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Passing {
    /// Index of the link.
    pub link: usize,
    /// Whether it is passed from its first end to its second.
    pub from_first: bool,
}

/// An unbalanced cycle.
#[derive(Debug, Clone, PartialEq)]
pub struct Cycle {
    /// Its stretches in order, from the lowest index on, forward if it can be.
    pub steps: Vec<Step>,
    /// Its links: each leads from the step at its place to the next one, the last back to the first.
    pub links: Vec<Passing>,
    /// Those of its links (indices in the track) that interrupt both rails: none, and no reversing section is possible;
    /// one, and a second cut is needed; two or more, and there is room for a section.
    pub parted_at: Vec<usize>,
    /// Length of the stretches along it, mm.
    pub length_mm: f64,
}

impl Cycle {
    /// Whether its metal joins the two rails of a stretch: a standing short, if that stretch is fed.
    pub fn is_joined(&self) -> bool {
        self.steps.iter().any(|s| s.joined)
    }

    /// From the ways past the stretches and the links between them.
    pub(super) fn new(track: &Track, mut round: Vec<(usize, Way, Passing)>) -> Self {
        let count = round.len();
        let mut best: Option<Vec<(usize, Way, Passing)>> = None;
        for _ in 0..2 {
            let lowest = round.iter().map(|r| r.0).min();
            for start in (0..count).filter(|&k| round.get(k).map(|r| r.0) == lowest) {
                let turned: Vec<_> =
                    round[start..].iter().chain(&round[..start]).copied().collect();
                if best.as_ref().is_none_or(|b| turned < *b) {
                    best = Some(turned);
                }
            }
            round = (0..count)
                .rev()
                .map(|k| {
                    let (stretch, way, _) = round[k];
                    let Passing { link, from_first } = round[(k + count - 1) % count].2;
                    (stretch, way.back(), Passing { link, from_first: !from_first })
                })
                .collect();
        }
        let round = best.unwrap_or_default();
        let joined = joined(track, &round);
        let along = |r: &&(usize, Way, Passing)| r.1.is_along();
        let lengths = round.iter().filter(along).map(|r| positive(track.stretches[r.0].length_mm));
        let parted = round.iter().map(|r| r.2.link).filter(|&l| track.links[l].kind.parts());
        Cycle {
            length_mm: lengths.sum(),
            parted_at: parted.collect(),
            steps: (round.iter().zip(joined))
                .map(|(&(stretch, way, _), joined)| Step { stretch, way, joined })
                .collect(),
            links: round.iter().map(|r| r.2).collect(),
        }
    }
}

/// A length, or nothing if it is no positive number.
pub(super) fn positive(length_mm: f64) -> f64 {
    if length_mm.is_finite() { length_mm.max(0.0) } else { 0.0 }
}

/// Whether, from each step once round, one of the two rails meets no cut.
///
/// Following one rail twice round passes both rails of every step, half the way apart.
fn joined(track: &Track, round: &[(usize, Way, Passing)]) -> Vec<bool> {
    let count = round.len();
    // Cuts met before each place of the two laps, and of two more to save the wrapping round.
    let mut met = vec![0];
    let mut hand = 0;
    for lap in 0..4 {
        for (_, _, Passing { link, from_first }) in round {
            let link = &track.links[*link];
            let beyond = hand ^ usize::from(link.turns());
            let seen_from_first = if *from_first { hand } else { beyond };
            let cut = link.kind.interrupts()[seen_from_first];
            met.push(met[met.len() - 1] + usize::from(cut));
            hand = beyond;
        }
        // An unbalanced cycle arrives on the other rail.
        debug_assert_eq!(hand, usize::from(lap % 2 == 0));
    }
    (0..count).map(|k| [k, k + count].iter().any(|&from| met[from + count] == met[from])).collect()
}
