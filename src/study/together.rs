//! Two vehicles at once: one that joins one rail of two blocks, and one that joins the other rail at another gap, or at
//! the other end of a staggered one.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::View;
use super::cut::{Case, StandAt, Surroundings, numeric};
use super::situation::Known;
use crate::layout::CutId;
use crate::rails::PlanNet;
use crate::straddle::ix::StandIx;

/// Two nets that one rail's pickups join, in order.
pub(crate) type Joined = [PlanNet; 2];

/// A way of standing at a cut.
pub(crate) type Stood = (CutId, StandIx);

/// At most this many ways of standing at one cut join one pair of nets: those with the most contact.
const MOST_STANDS: usize = 2;

/// Pairs of nets that some vehicle joins without joining any other.
#[derive(Default)]
pub(crate) struct Singles {
    /// Where each pair is joined by itself.
    pub stands: BTreeMap<Joined, Vec<Stood>>,
    /// Pairs that one vehicle joins at once.
    pub at_once: BTreeSet<[Joined; 2]>,
}

impl Singles {
    /// Those of all cuts of a view.
    pub fn of(view: &View) -> Singles {
        let mut found = Singles::default();
        for (&cut, known) in &view.known {
            let mut here: BTreeMap<Joined, Vec<StandIx>> = BTreeMap::new();
            for (at, stand) in known.around.stands.pairs().filter(|(_, s)| !s.single_wheel) {
                match joined(stand).as_slice() {
                    [one] => here.entry(*one).or_default().push(at),
                    [a, b] => drop(found.at_once.insert([*a.min(b), *a.max(b)])),
                    _ => {}
                }
            }
            for (pair, mut stands) in here {
                let contact = |at: &StandIx| {
                    let stand = &known.around.stands[*at];
                    let touched = stand.groups.iter().flat_map(|g| &g.touched).flatten();
                    (touched.map(|t| t.1).sum::<u32>(), stand.rolls_mm)
                };
                stands.sort_by(|a, b| {
                    let (a, b) = (contact(a), contact(b));
                    b.0.cmp(&a.0).then(b.1.total_cmp(&a.1))
                });
                let kept = stands.into_iter().take(MOST_STANDS).map(|at| (cut, at));
                found.stands.entry(pair).or_default().extend(kept);
            }
        }
        found
    }
}

/// The pairs of nets that a stand joins, of each rail that joins two; none if some rail joins more.
fn joined(stand: &StandAt) -> Vec<Joined> {
    let sides = stand.groups.iter().flat_map(|group| &group.touched).filter(|side| side.len() > 1);
    let pairs = sides.map(|side| match side.as_slice() {
        [a, b] => Some([a.0.min(b.0), a.0.max(b.0)]),
        _ => None,
    });
    pairs.collect::<Option<_>>().unwrap_or_default()
}

/// True if two vehicles can stand there at the same time: at two gaps, or at one with room for both.
pub(crate) fn has_room(view: &View, x: Stood, y: Stood) -> bool {
    if x.0 != y.0 {
        return true;
    }
    let Some(known) = view.known.get(&x.0) else { return false };
    // From the tail at the farthest to the lead at the nearest, mm on the ruler.
    let least_lead = |s: &StandAt| s.lead_mm;
    let most_tail = |s: &StandAt| s.lead_mm + s.rolls_mm - s.by.length_mm;
    let [one, two] = [x.1, y.1].map(|at| &known.around.stands[at]);
    least_lead(one) <= most_tail(two) || least_lead(two) <= most_tail(one)
}

/// The place of the first vehicle with the second standing as well: solved, with the drivers of the first place as its
/// sides. `None` if the second joins nothing that the first place knows.
pub(crate) fn solved(view: &View, x: Stood, y: Stood) -> Option<Known> {
    let (here, there) = (view.known.get(&x.0)?, view.known.get(&y.0)?);
    let [one, two] = [(here, x.1), (there, y.1)].map(|(known, at)| &known.around.stands[at]);
    let mut stand = here.case.stands[x.1].clone();
    let mut other = there.case.stands[y.1].groups.clone();
    // Along the ruler here, left may be right there: a join has no side as far as currents go.
    for (group, at) in other.iter_mut().zip(&two.groups) {
        group.touched = numeric(&at.touched, &here.around.names);
        if group.touched.iter().all(|side| side.len() < 2) {
            return None;
        }
    }
    stand.groups.extend(other);
    stand.length_mm = stand.length_mm.min(two.rolls_mm);
    let mut at = one.clone();
    at.groups.extend(two.groups.iter().cloned());
    at.rolls_mm = stand.length_mm;
    let case = Case {
        stands: vec![stand].into(),
        footings: Default::default(),
        ..Case::clone(&here.case)
    };
    let around = Surroundings {
        stands: vec![at].into(),
        footings: Default::default(),
        ..Surroundings::clone(&here.around)
    };
    let result = view.solved(&case);
    let selectors = here.selectors.clone();
    Some(Known { case: Arc::new(case), around: Arc::new(around), result, selectors })
}
