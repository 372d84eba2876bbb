//! Planning of track that comes back on itself with its rails exchanged: reversing sections.

use gapwright::cure::applied;
use gapwright::findings::{Class, Finding, Kind, Memo, check, words};
use gapwright::job::Job;
use gapwright::layout::{self, Layout, Rail, Rails, RunId};
use gapwright::planning::{
    At, Finished, Hold, Longest, Planned, Stretch, Turned, Wishes, audit, finished, plan, wishes_of,
};
use gapwright::rails::Plan;
use gapwright::report::Units;

/// The sample with a DCC booster instead of its bridge, and a vehicle that bridges so much, mm.
fn dogbone(bridges_mm: u32) -> Layout {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-layouts/dogbone.gapwright");
    let text = std::fs::read_to_string(file).unwrap();
    let change = |text: String, from: &str, to: &str| {
        assert!(text.contains(from), "{from}");
        text.replace(from, to)
    };
    let text = change(
        text,
        "drive: PwmBridge(clock: (hz: 490), idle: HighImpedance)",
        r#"drive: DccBooster(station: "club")"#,
    );
    let text =
        change(text, "setting: (direction: Forward, throttle: 0.6)", "setting: (direction: On)");
    let text = change(text, "Instant(blanking_s: 0.00002)", "Instant(blanking_s: 0.002)");
    let last = 25 + bridges_mm;
    let axles = "(at_mm: 25), (at_mm: 45), (at_mm: 65), (at_mm: 145), (at_mm: 165), (at_mm: 185)";
    let text =
        change(text, axles, &format!("(at_mm: 25), (at_mm: {}), (at_mm: {last})", last - 20));
    let text = change(text, "length_mm: 210", &format!("length_mm: {}", last + 25));
    layout::load(&text).unwrap_or_else(|errors| panic!("{errors:?}")).layout
}

fn made(layout: &Layout, wishes: &Wishes) -> Finished {
    finished(layout, wishes).unwrap_or_else(|why| panic!("{why}"))
}

fn faults(layout: &Layout) -> Vec<Kind> {
    let report = check(layout);
    report.findings.iter().filter(|f| f.class == Class::Fault).map(|f| f.kind).collect()
}

fn said(layout: &Layout, found: &Finding) -> String {
    let report = check(layout);
    let text = words(found, &report, layout, Units::Metric);
    [text.says, text.why, text.more, text.advice.concat()].join(" ")
}

fn counts(planned: &Planned) -> (usize, usize) {
    (planned.rail_cuts, planned.reversers)
}

fn new_cuts_on(planned: &Planned, run: u32) -> Vec<f64> {
    let cuts = planned.jobs.iter().filter_map(|(job, _)| match job {
        Job::AddCut { run: on, at_mm, .. } if *on == RunId(run) => Some(*at_mm),
        _ => None,
    });
    cuts.collect()
}

/// Where sections end on a run.
fn ends_on(planned: &Planned, run: u32) -> Vec<f64> {
    let ends = planned.jobs.iter().filter(|(_, reason)| reason.starts_with("ends "));
    let cuts = ends.filter_map(|(job, _)| match job {
        Job::AddCut { run: on, at_mm, .. } if *on == RunId(run) => Some(*at_mm),
        _ => None,
    });
    cuts.collect()
}

#[test]
fn a_second_gap_in_the_crossover_of_the_dogbone_is_enough_for_an_engine() {
    let layout = dogbone(160);
    let Finished { planned, layout: after, .. } = made(&layout, &wishes_of(&layout));
    assert_eq!(counts(&planned), (2, 1), "{:#?}", planned.jobs);
    assert_eq!(planned.sections[0].turned, Turned::ByItself);
    // 300 mm to the frog, half a frog, and 40 mm clear of it: 350 mm along the crossover, whose gap is at 800 mm.
    assert_eq!(new_cuts_on(&planned, 7), [350.0]);
    assert_eq!(planned.sections[0].apart_mm, Some(450.0));
    assert!(planned.sections_proved);
    assert_eq!(faults(&after), []);
}

#[test]
fn the_same_plan_is_too_short_for_a_lit_set_of_five() {
    let short = dogbone(160);
    let plan = made(&short, &wishes_of(&short)).planned;
    let jobs: Vec<Job> = plan.jobs.iter().map(|(job, _)| job.clone()).collect();
    let after = applied(&dogbone(1000), &jobs).unwrap();
    let report = check(&after);
    let found = report.findings.iter().find(|f| f.kind == Kind::SectionTooShort);
    let found = found.unwrap_or_else(|| panic!("{:?}", faults(&after)));
    let says = said(&after, found);
    assert_eq!(found.class, Class::Fault);
    assert!(says.contains("550 mm"), "{says}");
}

#[test]
fn long_trains_take_the_points_with_half_the_crossover() {
    for mm in [1000, 1630] {
        let layout = dogbone(mm);
        let Finished { planned, layout: after, .. } = made(&layout, &wishes_of(&layout));
        assert_eq!(counts(&planned), (4, 1), "{mm}: {:#?}", planned.jobs);
        // The gap that is there is an end: nothing new in the crossover.
        assert!(new_cuts_on(&planned, 7).is_empty());
        assert!(planned.sections[0].apart_mm.unwrap() > f64::from(mm));
        assert!(planned.sections_proved);
        assert_eq!(faults(&after), []);
    }
}

/// A is the north side, B the south side, each with a train of its own.
fn two_sides(occupied: bool) -> Wishes {
    let at = |run: u32, at_mm: f64| At { run: RunId(run), at_mm };
    let side = |name: &str, at: Vec<At>| {
        let mut stretch = Stretch::new(name, at);
        stretch.occupied = occupied;
        stretch
    };
    let apart = vec![
        side("A", vec![at(1, 300.0), at(2, 1500.0)]),
        side("B", vec![at(4, 600.0), at(5, 1500.0)]),
    ];
    Wishes { apart, ..Wishes::default() }
}

#[test]
fn two_sides_with_a_train_on_each_take_a_section_in_each_loop() {
    for mm in [1000, 1630] {
        let layout = dogbone(mm);
        let Finished { planned, layout: after, .. } = made(&layout, &two_sides(true));
        assert_eq!(counts(&planned), (8, 2), "{mm}: {:#?}", planned.jobs);
        assert!(new_cuts_on(&planned, 7).is_empty());
        assert_eq!(faults(&after), [], "{mm}");
        // One side keeps the booster that is there.
        assert_eq!(planned.drivers, 1);
    }
}

/// The section of one engine fits into the crossover, where no train stands.
#[test]
fn two_sides_of_one_engine_each_share_the_section_in_the_crossover() {
    let layout = dogbone(160);
    let Finished { planned, layout: after, .. } = made(&layout, &two_sides(true));
    assert_eq!(counts(&planned), (6, 1), "{:#?}", planned.jobs);
    assert_eq!(faults(&after), []);
}

/// One side may be turned as a whole if no other train is on it.
#[test]
fn a_side_that_no_other_train_is_on_is_turned_as_a_whole() {
    let layout = dogbone(1630);
    let Finished { planned, layout: after, .. } = made(&layout, &two_sides(false));
    assert_eq!(counts(&planned), (4, 1), "{:#?}", planned.jobs);
    assert_eq!(faults(&after), []);
}

#[test]
fn a_plan_with_sections_that_was_followed_is_empty() {
    for (mm, wishes) in [(160, None), (1630, None), (1630, Some(two_sides(true)))] {
        let layout = dogbone(mm);
        let wishes = wishes.unwrap_or_else(|| wishes_of(&layout));
        let after = made(&layout, &wishes).layout;
        let again = plan(&after, &wishes).unwrap();
        assert_eq!(again.jobs, [], "{mm}");
        assert!(again.sections.iter().all(|s| s.turned == Turned::AsNow));
    }
}

#[test]
fn a_section_of_direct_current_holds_the_whole_train_and_has_a_switch() {
    let layout = super::samples::sample("dogbone");
    let wishes = wishes_of(&layout);
    let Finished { planned, layout: after, .. } = made(&layout, &wishes);
    // 210 mm over the couplers, and 100 mm to stop at each end.
    assert_eq!(counts(&planned), (2, 1), "{:#?}", planned.jobs);
    assert_eq!(planned.sections[0].turned, Turned::BySwitch);
    assert_eq!(faults(&after), []);
    let says = gapwright::report::sequences(&planned).concat();
    assert!(says.contains("When the whole train is inside, stop"), "{says}");
    // A train that is 60 mm longer does not fit into either half of the crossover any more.
    let longer = Wishes { longest: Some(Longest::Mm(400.0)), ..wishes };
    assert_eq!(counts(&made(&layout, &longer).planned), (4, 1));
}

#[test]
fn no_section_is_where_a_train_is_held() {
    let layout = dogbone(160);
    let at = At { run: RunId(7), at_mm: 600.0 };
    let hold = vec![Hold { at, train: Some(Longest::Mm(100.0)), may_go_dark: true }];
    let free = plan(&layout, &wishes_of(&layout)).unwrap();
    assert_eq!(ends_on(&free, 7), [350.0]);
    // The main line is not turned around the train either.
    let mut wishes = Wishes { hold, ..wishes_of(&layout) };
    wishes.apart[0].occupied = true;
    let planned = plan(&layout, &wishes).unwrap();
    // The other half of the crossover, from its gap at 800 mm on.
    assert!(matches!(ends_on(&planned, 7)[..], [end] if end > 800.0), "{:#?}", planned.jobs);
}

/// Places where both rails could be cut: each side of each turnout, and the middle of the loops.
const PLACES: [(u32, f64); 12] = [
    (1, 650.0),
    (1, 960.0),
    (2, 800.0),
    (3, 600.0),
    (4, 300.0),
    (4, 900.0),
    (5, 900.0),
    (5, 2000.0),
    (6, 600.0),
    (7, 350.0),
    (7, 580.0),
    (7, 1340.0),
];

/// True if some block can be turned so that the check finds no fault about loops.
fn some_block_can_be_turned(cut: &Layout) -> bool {
    let drawn = Plan::derive(cut);
    let feed = cut.feeds.values().next().unwrap();
    drawn.blocks.iter().enumerate().any(|(n, block)| {
        let pieces = block.pieces.iter().map(|&at| &drawn.pieces[at]);
        let longest = pieces.max_by(|a, b| a.length_mm().total_cmp(&b.length_mm())).unwrap();
        let (run, at_mm) = (longest.run, (longest.from_mm + longest.to_mm) / 2.0);
        let turned = match drawn.block_at(feed.run, feed.at_mm) == Some(n) {
            true => Job::Reverse { feeds: vec![feed.id], automatic: true },
            false => Job::AddReversedFeed {
                from: feed.driver,
                run,
                at_mm,
                p: Rail::Left,
                automatic: true,
            },
        };
        let loops =
            [Kind::LoopUncut, Kind::LoopOneCut, Kind::UnbalancedLoop, Kind::SectionTooShort];
        let found = faults(&applied(cut, &[turned]).unwrap());
        !found.iter().any(|kind| loops.contains(kind))
    })
}

/// The least number of places of [`PLACES`] to cut, by trying all sets of up to two with every block turned.
fn least_by_trying(layout: &Layout) -> Option<usize> {
    let cut_at = |places: &[(u32, f64)]| {
        let both = Rails::Both;
        let jobs =
            places.iter().map(|&(run, at_mm)| Job::AddCut { run: RunId(run), at_mm, rails: both });
        applied(layout, &jobs.collect::<Vec<_>>()).unwrap()
    };
    let pairs = || {
        (0..PLACES.len()).flat_map(|a| (a + 1..PLACES.len()).map(move |b| [PLACES[a], PLACES[b]]))
    };
    let turns = |places: &[(u32, f64)]| some_block_can_be_turned(&cut_at(places));
    if turns(&[]) {
        return Some(0);
    }
    if PLACES.iter().any(|place| turns(&[*place])) {
        return Some(1);
    }
    pairs().any(|two| turns(&two)).then_some(2)
}

/// The check knows nothing of the planning: one place for an engine, two for long trains.
#[test]
fn no_set_of_places_that_the_check_calls_sound_has_fewer_cuts_than_the_plan() {
    for mm in [160, 1000, 1630] {
        let layout = dogbone(mm);
        let planned = plan(&layout, &wishes_of(&layout)).unwrap();
        assert_eq!(least_by_trying(&layout).map(|n| 2 * n), Some(planned.rail_cuts), "{mm}");
    }
}

#[test]
fn no_cut_of_a_plan_with_sections_can_be_left_out() {
    for (mm, wishes) in [(160, None), (1630, None), (1630, Some(two_sides(true)))] {
        let layout = dogbone(mm);
        let wishes = wishes.unwrap_or_else(|| wishes_of(&layout));
        let after = made(&layout, &wishes).layout;
        let audited = audit(&after, &wishes, &Memo::default());
        assert!(audited.iter().all(|cut| !cut.breaks.is_empty()), "{mm}: {audited:#?}");
    }
}
