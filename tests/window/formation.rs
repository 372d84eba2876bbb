//! Formations: a passing siding, a yard ladder, a reversing loop, a crossover with its second track, each placed as one.

use super::*;
use std::collections::BTreeMap;

use gapwright::layout::geometry::Point;
use gapwright::layout::{
    Edit, JointId, Layout, RunEnd, TrackEnd, Work, apply, laying, load, roads,
};

fn layout(w: &Window) -> Layout {
    w.state().layout().clone()
}

/// A straight run of three metres, laid from x = 0.
fn one_run() -> Window {
    let mut w = window();
    press(&mut w, "Lay track");
    set(&mut w, "Lay to: x", 3000.0);
    press(&mut w, "Lay this run");
    w
}

fn tool(w: &mut Window, kind: &str) {
    press(w, "Special work");
    choose(w, "Special work: Kind", kind);
}

fn place_at(w: &mut Window, at_mm: f64) {
    set(w, "Special work: At", at_mm);
    press(w, "Place it here");
}

/// Every way over a joint is smooth: from the toe of points to each exit, and between two runs that meet. Returns the
/// sharpest kink, degrees.
fn sharpest_kink(layout: &Layout) -> f64 {
    let mut ways: Vec<(TrackEnd, TrackEnd)> = Vec::new();
    let mut held: Vec<JointId> = Vec::new();
    for special in layout.specials.values() {
        let Work::Turnout { toe, exits, .. } = &special.work else { continue };
        held.extend(roads::joint_of(layout, *toe));
        ways.extend(exits.iter().map(|exit| (*toe, *exit)));
    }
    for joint in layout.joints.keys().filter(|joint| !held.contains(joint)) {
        if let [a, b] = roads::ends_at(layout, *joint)[..] {
            ways.push((a, b));
        }
    }
    let kinks = ways.into_iter().map(|(from, to)| {
        let [a, b] = [from, to].map(|end| roads::away_from(layout, end, 0.0).unwrap());
        (a.dx * b.dy - a.dy * b.dx).atan2(-(a.dx * b.dx + a.dy * b.dy)).to_degrees().abs()
    });
    kinks.fold(0.0, f64::max)
}

fn joint_places(layout: &Layout) -> Vec<Point> {
    layout.joints.values().map(|j| (j.x_mm, j.y_mm)).collect()
}

/// What a formation must be: special work of its own, smooth, no cut and no feed put in, the same after saving.
fn is_sound(w: &Window, turnouts: usize) {
    let there = layout(w);
    assert_eq!(there.specials.len(), turnouts);
    assert!(there.cuts.is_empty() && there.feeds.is_empty(), "nothing is cut or fed unasked");
    assert!(sharpest_kink(&there) < 0.3, "{}°", sharpest_kink(&there));
    assert_eq!(load(&file(w)).unwrap().layout, there, "saved and loaded");
}

#[test]
fn a_passing_siding_is_one_step_by_numbers() {
    let mut w = one_run();
    tool(&mut w, "Passing siding");
    assert!(says(&w, "46 mm between centre lines, 4 m at full size (common practice"));
    there_and_back(&mut w, "a siding", |w| {
        place_at(w, 500.0);
        assert!(says(w, "the siding wants to be a block of its own: cut both rails"));
    });
    is_sound(&w, 2);
    // 800 mm of track, 46 mm to the left of the one that was there.
    let there = layout(&w);
    let beside: Vec<f64> = joint_places(&there)
        .into_iter()
        .filter(|p| (p.1 - 46.0).abs() < 1e-3)
        .map(|p| p.0)
        .collect();
    assert_eq!(beside.len(), 2, "{:?}", joint_places(&there));
    assert!(((beside[0] - beside[1]).abs() - 800.0).abs() < 0.01);
    // Its leads are as long as the form says: 46 mm / tan 7.5° = 349.4 mm each.
    let points: Vec<f64> = there
        .specials
        .values()
        .map(|s| there.joints[&roads::joint_of(&there, s.work.ends()[0]).unwrap()].x_mm)
        .collect();
    assert!((points[0] - 500.0).abs() < 0.01 && (points[1] - 1998.8).abs() < 0.1, "{points:?}");
    assert!(says(&w, "It takes up 1.50 m of the track"), "its whole length");
}

#[test]
fn hand_way_and_sizes_of_a_siding_are_chosen() {
    let mut w = one_run();
    tool(&mut w, "Passing siding");
    choose(&mut w, "Special work: Hand", "Right");
    choose(&mut w, "Special work: Roads go", "To its start");
    set(&mut w, "Special work: Centres", 60.0);
    set(&mut w, "Special work: Length", 500.0);
    set(&mut w, "Special work: Turn", 20.0);
    there_and_back(&mut w, "a siding the other way", |w| place_at(w, 2500.0));
    is_sound(&w, 2);
    // Seen the way it goes, towards the run's start, the right is up on the plan.
    let up: Vec<Point> =
        joint_places(&layout(&w)).into_iter().filter(|p| (p.1 - 60.0).abs() < 1e-3).collect();
    assert_eq!(up.len(), 2);
    assert!(((up[0].0 - up[1].0).abs() - 500.0).abs() < 0.01 && up.iter().all(|p| p.0 < 2500.0));
}

#[test]
fn the_pointer_places_formations_on_track_and_at_a_free_end() {
    let mut w = window();
    w_key(&mut w, Key::L);
    for x in [330.0, 850.0] {
        pointer(&mut w, pos2(x, 480.0));
    }
    w_key(&mut w, Key::Escape);
    tool(&mut w, "Passing siding");
    set(&mut w, "Special work: Length", 300.0);
    there_and_back(&mut w, "a click on the run", |w| pointer(w, pos2(380.0, 480.0)));
    is_sound(&w, 2);
    press(&mut w, "Undo");
    // At a free end the track itself goes on too.
    let runs = layout(&w).runs.len();
    there_and_back(&mut w, "a click on a free end", |w| pointer(w, pos2(850.0, 480.0)));
    is_sound(&w, 2);
    assert_eq!(
        layout(&w).runs.len(),
        runs + 5,
        "main track in two, a lead, the track beside, a lead"
    );
    press(&mut w, "Undo");
    choose(&mut w, "Special work: Kind", "Yard ladder");
    there_and_back(&mut w, "a yard at a free end", |w| pointer(w, pos2(850.0, 480.0)));
    is_sound(&w, 3);
    press(&mut w, "Undo");
    choose(&mut w, "Special work: Kind", "Reversing loop");
    there_and_back(&mut w, "a loop at a free end", |w| pointer(w, pos2(850.0, 480.0)));
    is_sound(&w, 1);
}

#[test]
fn a_yard_ladder_has_its_tracks_side_by_side_and_ends_them_in_a_line() {
    for (tracks, hand, sign) in [(2, "Left", 1.0), (4, "Left", 1.0), (6, "Right", -1.0)] {
        let mut w = one_run();
        tool(&mut w, "Yard ladder");
        choose(&mut w, "Special work: Hand", hand);
        set(&mut w, "Special work: Tracks", f64::from(tracks));
        there_and_back(&mut w, "a yard", |w| place_at(w, 400.0));
        is_sound(&w, tracks as usize - 1);
        let there = layout(&w);
        let mut ends: Vec<Point> = laying::free_ends(&there)
            .into_iter()
            .map(|end| {
                let joint = &there.joints[&roads::joint_of(&there, end).unwrap()];
                (joint.x_mm, sign * joint.y_mm)
            })
            .filter(|place| place.1 > 1.0)
            .collect();
        ends.sort_by(|a, b| a.1.total_cmp(&b.1));
        assert_eq!(ends.len(), tracks as usize - 1);
        for (n, end) in ends.iter().enumerate() {
            assert!((end.1 - 46.0 * (n as f64 + 1.0)).abs() < 1e-2, "{ends:?}");
            assert!((end.0 - ends[0].0).abs() < 1e-2, "{ends:?}");
        }
    }
}

#[test]
fn a_reversing_loop_brings_a_train_back_and_the_check_knows() {
    // At the end of the track, and back into the same track.
    for (at_mm, turnouts) in [(3000.0, 1), (800.0, 2)] {
        let mut w = one_run();
        tool(&mut w, "Reversing loop");
        assert!(says(&w, "radii of 460 mm and 862 mm"));
        there_and_back(&mut w, "a loop", |w| {
            place_at(w, at_mm);
            assert!(says(w, "A train comes back out of this loop the other way round"));
        });
        is_sound(&w, turnouts);
        press(&mut w, "Feed");
        set(&mut w, "Feed: At", 300.0);
        press(&mut w, "Feed here");
        let report = w.state().report();
        assert!(
            report.findings.iter().any(|f| f.kind == Kind::LoopUncut),
            "{at_mm}: {:?}",
            report.findings.iter().map(|f| f.kind).collect::<Vec<_>>()
        );
    }
}

#[test]
fn a_crossover_is_laid_with_its_second_track() {
    let mut w = one_run();
    tool(&mut w, "Crossover");
    let before = file(&w);
    place_at(&mut w, 700.0);
    assert_eq!(file(&w), before, "there is no track beside");
    assert!(says(&w, "There is no other run beside run r3"));
    press(&mut w, "Special work: Lay the second track too");
    there_and_back(&mut w, "track and crossover", |w| {
        place_at(w, 700.0);
        assert!(says(w, "both rails want a cut between the two frogs"));
    });
    is_sound(&w, 2);
    let gangs: Vec<String> = layout(&w).specials.values().map(|s| s.gang.clone()).collect();
    assert!(!gangs[0].is_empty() && gangs[0] == gangs[1]);
}

#[test]
fn what_does_not_fit_is_refused_with_its_reason() {
    let refused = |w: &mut Window, at_mm: f64, why: &str| {
        let before = file(w);
        place_at(w, at_mm);
        assert_eq!(file(w), before, "{why}");
        assert!(says(w, why), "{why}: {}", told(w));
    };
    let mut w = one_run();
    tool(&mut w, "Passing siding");
    refused(&mut w, 2500.0, "and run r3 has 500 mm from here to its end");
    set(&mut w, "Special work: Centres", 20.0);
    refused(&mut w, 500.0, "leave no room for the frogs");
    // Across a track that is there.
    let mut w = one_run();
    press(&mut w, "Lay track");
    for (what, (x, y)) in [("from", (1500.0, 20.0)), ("to", (1500.0, 400.0))] {
        let name = if what == "from" { "From" } else { "To" };
        choose(&mut w, &format!("Lay {what}: {name}"), "a new joint");
        set(&mut w, &format!("Lay {what}: x"), x);
        set(&mut w, &format!("Lay {what}: y"), y);
    }
    press(&mut w, "Lay this run");
    for kind in ["Passing siding", "Yard ladder"] {
        tool(&mut w, kind);
        choose(&mut w, "Special work: Run", "Run r3");
        refused(&mut w, 400.0, "The new track would cross run r6");
    }
    // A loop and a yard want straight track.
    let mut w = window();
    press(&mut w, "Lay track");
    choose(&mut w, "Lay: How", "With a bend");
    set(&mut w, "Lay: Bend", 60.0);
    set(&mut w, "Lay to: x", 3000.0);
    press(&mut w, "Lay this run");
    for kind in ["Yard ladder", "Reversing loop"] {
        tool(&mut w, kind);
        refused(&mut w, 600.0, "curves");
    }
    // A siding follows the curve.
    tool(&mut w, "Passing siding");
    there_and_back(&mut w, "a siding on a curve", |w| place_at(w, 500.0));
    is_sound(&w, 2);
}

#[test]
fn a_formation_of_any_size_is_laid_or_refused_and_never_breaks() {
    use gapwright::layout::place::{SidingWish, Site, Throat, YardWish, siding, yard};
    use gapwright::layout::{End, Frog, Rail, RunId, Shape};
    let mut plain = Layout::default();
    let lay = Edit::Lay {
        from: End::New(0.0, 0.0),
        to: End::New(3000.0, 0.0),
        shape: Shape::Straight,
        length_mm: None,
    };
    apply(&mut plain, lay).unwrap();
    let run: RunId = *plain.runs.keys().next().unwrap();
    let mut counts: BTreeMap<bool, usize> = BTreeMap::new();
    for turn_deg in [1.0, 2.0, 6.0, 12.0, 30.0, 45.0, f64::NAN] {
        for centres_mm in [0.0, 33.0, 46.0, 120.0, 1e9] {
            for (at_mm, towards) in
                [(0.0, RunEnd::End), (700.0, RunEnd::Start), (3000.0, RunEnd::End)]
            {
                let hand = Rail::Left;
                let throat = Throat { hand, frog: Frog::default(), turn_deg, centres_mm };
                let site = Site { run, at_mm, towards };
                for length_mm in [-5.0, 10.0, 900.0, f64::INFINITY] {
                    let made = [
                        siding(&plain, site, &SidingWish { throat, length_mm }),
                        yard(&plain, site, &YardWish { throat, tracks: 5, length_mm }),
                    ];
                    for placed in made {
                        let mut layout = plain.clone();
                        let done = placed.and_then(|placed| apply(&mut layout, placed.edit));
                        assert!(done.is_err() || sharpest_kink(&layout) < 0.5);
                        *counts.entry(done.is_ok()).or_default() += 1;
                    }
                }
            }
        }
    }
    assert!(counts[&true] > 50 && counts[&false] > 50, "{counts:?}");
}
