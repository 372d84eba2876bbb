//! Comparing two designs: findings add up, the work leads from one to the other, and its order is safe where one is.

use gapwright::compare::Comparison;
use gapwright::cure::{Surgery, applied};
use gapwright::findings::{Memo, Study, check};
use gapwright::layout::{Edit, FeedId, Layout, apply};

use super::samples::sample;
use super::support::random;
use super::support::yards::{D1, brake_low_pair, edited, idle, yard};

fn sums(old: &Layout, new: &Layout) -> (usize, usize, usize) {
    let comparison = Comparison::of(old, new);
    let (mended, made, kept) =
        (comparison.mended().len(), comparison.made().len(), comparison.kept().len());
    assert_eq!(mended + kept, check(old).findings.len());
    assert_eq!(made + kept, check(new).findings.len());
    (mended, made, kept)
}

#[test]
fn a_design_compared_with_itself_takes_no_work() {
    for name in ["club", "terminus", "transfer"] {
        let layout = sample(name);
        let comparison = Comparison::of(&layout, &layout);
        assert!(comparison.steps.is_empty() && comparison.is_safe());
        assert!(comparison.mended().is_empty() && comparison.made().is_empty());
    }
}

#[test]
fn the_club_and_its_cure_differ_by_two_jobs() {
    let old = sample("club");
    let surgery = Surgery::of(&Study::of(&old, &Memo::default()));
    let set = surgery.together(&surgery.faults());
    let new = applied(&old, &set.jobs).unwrap();
    let comparison = Comparison::of(&old, &new);
    let mut says: Vec<&str> = comparison.steps.iter().map(|step| step.says.as_str()).collect();
    let mut jobs: Vec<&str> = set.says.iter().map(String::as_str).collect();
    says.sort();
    jobs.sort();
    assert_eq!(says, jobs);
    assert_eq!(comparison.steps.iter().map(|step| step.minutes).sum::<u32>(), 8);
    assert!(comparison.is_safe());
    // Two faults and a note are gone, a note is new: the note of a board that is powered through rails covers more gaps.
    let faults = |list: Vec<&gapwright::findings::Finding>| {
        list.into_iter().filter(|f| f.class == gapwright::findings::Class::Fault).count()
    };
    assert_eq!((faults(comparison.mended()), faults(comparison.made())), (2, 0));
}

#[test]
fn what_one_way_mends_the_other_way_makes() {
    for (old, new) in [
        (sample("brake-idle"), sample("one-board")),
        (yard(""), edited(&yard(""), Edit::Swap { feed: FeedId(2) })),
        (sample("wiring-day"), sample("terminus")),
    ] {
        let (mended, made, kept) = sums(&old, &new);
        assert_eq!(sums(&new, &old), (made, mended, kept));
    }
    for seed in 0..2 {
        let (old, new) = (random::layout(seed), random::layout(seed + 100));
        let (mended, made, kept) = sums(&old, &new);
        assert_eq!(sums(&new, &old), (made, mended, kept), "seed {seed}");
    }
}

#[test]
fn the_safe_order_is_found_whatever_the_order_of_identities() {
    // The old design idles on one side, the new one on the other: to brake on both for a moment would be a new fault at
    // neither end, so the idle state that goes comes first.
    let old = brake_low_pair();
    let sound = idle(&old, D1, gapwright::layout::Idle::HighImpedance);
    let comparison = Comparison::of(&old, &sound);
    assert!(comparison.is_safe() && comparison.steps.len() == 1);
    assert!(comparison.steps[0].says.contains("high-impedance"), "{:?}", comparison.steps);
    // Both feeds exchanged: after one of them the rails oppose, whichever comes first. That is told.
    let plain = yard("");
    let mut both = plain.clone();
    for feed in [1, 2] {
        apply(&mut both, Edit::Swap { feed: FeedId(feed) }).unwrap();
    }
    let comparison = Comparison::of(&plain, &both);
    assert_eq!(comparison.steps.len(), 2);
    assert!(!comparison.is_safe());
    assert!(!comparison.steps[0].makes.is_empty() && comparison.steps[1].makes.is_empty());
}

#[test]
fn the_work_of_a_new_driver_names_the_supply_first() {
    let old = sample("wiring-day");
    let wishes = gapwright::planning::wishes_of(&old);
    let new = gapwright::planning::finished(&old, &wishes).unwrap().layout;
    let comparison = Comparison::of(&old, &new);
    let at = |word: &str| comparison.steps.iter().position(|step| step.says.contains(word));
    assert!(at("Add Viaduct supply") < at("Add Viaduct driver"), "{:#?}", comparison.steps);
    assert!(at("Add Viaduct driver") < at("Connect feeder"), "{:#?}", comparison.steps);
}
