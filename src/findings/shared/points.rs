//! What a train shorts inside special work: `points-against` where it trails through points that are set for another
//! road, `frog-wired-wrong` where a frog has not the polarity of the road that is set; and at the ends of a bridge, and
//! where a frog's gap is the boundary of two drivers, what it would at a cut.

use super::at_place;
use super::crossing::{self, Evidence};
use crate::findings::{Class, Found, Kind, Place, Relation, Verdict, View};
use crate::study::situation::Known;

pub(super) fn find(view: &View, found: &mut Vec<Found<Evidence>>) {
    for straddle in &view.straddles {
        let mut here: Vec<Found<Evidence>> = Vec::new();
        for known in &straddle.known {
            let special = view.layout.specials.get(&straddle.special);
            let bridge = special.is_some_and(|s| s.work.bridge().is_some());
            // A road that is set against has no driver of its own: the rails of both sides are the neighbour's.
            let one_driver = match known.case.sides {
                [Some(a), Some(b)] => a == b,
                _ => true,
            };
            // A train that goes against what is set is for operators to avoid, whoever feeds the rails.
            if (one_driver || straddle.against) && !bridge {
                here.extend(of_one_driver(view, straddle.against, known));
            } else {
                crossing::place(view, None, known, &mut here);
            }
        }
        // A place without a cut is the special work's own.
        let places = || vec![Place::Special(straddle.special)];
        found.extend(here.into_iter().map(|finding| Found { places: places(), ..finding }));
    }
}

/// A place at track whose points are set for another road.
pub(super) fn against(view: &View, known: &Known) -> Option<Found<Evidence>> {
    of_one_driver(view, true, known)
}

/// One driver on both sides: what it feeds here are its two poles.
fn of_one_driver(view: &View, against: bool, known: &Known) -> Option<Found<Evidence>> {
    // Whatever the one driver is set to: a rule or a fault of the rails depends on no throttle.
    let mut worst = known.result.worst(Relation::Agree);
    worst.merge(&known.result.worst(Relation::Disagree));
    let evaluated = worst.worst.as_ref()?;
    let verdict = evaluated.judged.verdict;
    if verdict <= Verdict::Clear || verdict == Verdict::Stall {
        return None;
    }
    let situation = view.situation(known, evaluated);
    let evidence = Evidence {
        by_join: worst.by_join,
        ..Evidence::bare(situation, Some(Relation::Agree), view.is_now)
    };
    let (kind, class) = if against {
        (Kind::PointsAgainst, Class::Rule)
    } else {
        (Kind::FrogWiredWrong, Class::Fault)
    };
    let finding = at_place(view, Some(known), kind, class, verdict, evidence);
    let positions = Some(known.selectors.clone()).filter(|set| !set.is_empty());
    Some(Found { positions: positions.into_iter().collect(), ..finding })
}
