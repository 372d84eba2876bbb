//! Many things at once: turned, mirrored, copied, pasted, aligned, joined; and track parallel to other track.
#![allow(clippy::unwrap_used)]

use std::path::Path;

use approx::assert_abs_diff_eq;
use gapwright::findings::{Class, Kind, Report, Verdict, check};
use gapwright::layout::bulk::{
    Line, align, joints_of, meetings, middle, moved, parallel, paste, piece, spacing_mm,
};
use gapwright::layout::geometry::{curve, rail_at};
use gapwright::layout::{
    Cut, Edit, End, EntityId, Feed, JointId, Layout, Made, Rail, Rails, RunId, Shape, Turn,
    applied, apply, load, read_path, save,
};
use proptest::prelude::*;

use super::samples::FOLDER;

fn samples() -> Vec<(String, Layout)> {
    let mut all: Vec<_> = std::fs::read_dir(FOLDER)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "gapwright"))
        .collect();
    all.sort();
    let read = |path: &Path| read_path(path).unwrap().layout;
    all.iter().map(|path| (path.display().to_string(), read(path))).collect()
}

fn everything(layout: &Layout) -> Vec<EntityId> {
    layout.runs.keys().map(|id| EntityId::Run(*id)).collect()
}

/// What a report says that does not depend on where things are on the plan.
fn gist(report: &Report) -> Vec<(Kind, Class, Verdict, usize)> {
    let mut all: Vec<_> =
        report.findings.iter().map(|f| (f.kind, f.class, f.verdict, f.cuts().len())).collect();
    all.sort_by_key(|gist| format!("{gist:?}"));
    all
}

fn turned(layout: &Layout, mirrored: bool, turn_deg: f64) -> Layout {
    let mut layout = layout.clone();
    let joints = joints_of(&layout, &everything(&layout));
    let about = middle(&layout, &joints).unwrap();
    apply(&mut layout, Edit::Turn { joints, turn: Turn { about, mirrored, turn_deg } }).unwrap();
    layout
}

/// Electricity does not know where north is, nor left from right: a layout that is turned, or mirrored with all its
/// wiring, has the same findings and currents.
#[test]
fn a_turned_or_mirrored_layout_has_the_same_findings_and_currents() {
    for (name, layout) in samples() {
        let before = check(&layout);
        for (mirrored, turn_deg) in [(false, 90.0), (false, 33.0), (true, 0.0), (true, -71.5)] {
            let after = check(&turned(&layout, mirrored, turn_deg));
            assert_eq!(gist(&before), gist(&after), "{name}: {mirrored}, {turn_deg}°");
            for (a, b) in before.cuts.iter().zip(&after.cuts) {
                assert_abs_diff_eq!(a.now.peak_a(), b.now.peak_a(), epsilon = 1e-3);
                assert_eq!(a.now.verdict, b.now.verdict, "{name}: {}", a.name);
            }
        }
    }
}

#[test]
fn four_quarter_turns_or_two_mirrorings_change_nothing() {
    for (name, layout) in samples() {
        let quarter = |layout: &Layout| turned(layout, false, 90.0);
        let round = quarter(&quarter(&quarter(&quarter(&layout))));
        let twice = turned(&turned(&layout, true, 0.0), true, 0.0);
        for again in [round, twice] {
            for (id, joint) in &layout.joints {
                let there = &again.joints[id];
                assert_abs_diff_eq!(joint.x_mm, there.x_mm, epsilon = 1e-9);
                assert_abs_diff_eq!(joint.y_mm, there.y_mm, epsilon = 1e-9);
            }
            assert_eq!(again.cuts, layout.cuts, "{name}");
            assert_eq!(again.feeds, layout.feeds, "{name}");
        }
    }
}

/// A piece that is pasted into nothing is a layout with the same faults.
#[test]
fn a_piece_pasted_elsewhere_has_the_same_faults() {
    for (name, layout) in samples() {
        let copied = piece(&layout, &everything(&layout));
        // It survives the clipboard.
        let copied_again = load(&save(&copied)).unwrap_or_else(|e| panic!("{name}: {e:?}")).layout;
        assert_eq!(copied_again, copied, "{name}");
        let mut new = Layout {
            scale: layout.scale,
            gauge_mm: layout.gauge_mm,
            rail_ohm_per_m: layout.rail_ohm_per_m,
            climate: layout.climate,
            vehicles: layout.vehicles.clone(),
            trains: layout.trains.clone(),
            next_id: 100_000,
            ..Layout::default()
        };
        let (edit, made) = paste(&new, &copied, (5000.0, -700.0)).unwrap();
        apply(&mut new, edit).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert_eq!(made.len(), layout.runs.len() + layout.joints.len(), "{name}");
        // That two names are in one block is no fault of a piece: names stay behind.
        let without_names = |layout: &Layout| {
            let mut gist = gist(&check(layout));
            gist.retain(|(kind, ..)| *kind != Kind::BlocksMerged);
            gist
        };
        assert_eq!(without_names(&layout), without_names(&new), "{name}");
    }
}

#[test]
fn what_is_pasted_beside_the_original_is_fed_by_the_same_drivers_and_has_levers_of_its_own() {
    let (_, layout) = samples().into_iter().find(|(name, _)| name.contains("dogbone")).unwrap();
    let copied = piece(&layout, &everything(&layout));
    let mut both = layout.clone();
    let (edit, _) = paste(&both, &copied, (0.0, 9000.0)).unwrap();
    let inverse = apply(&mut both, edit).unwrap();
    assert_eq!(both.runs.len(), 2 * layout.runs.len());
    assert_eq!(both.specials.len(), 2 * layout.specials.len());
    assert_eq!(both.drivers, layout.drivers);
    for gang in layout.specials.values().map(|s| &s.gang).filter(|gang| !gang.is_empty()) {
        let members = both.specials.values().filter(|s| s.gang == *gang).count();
        assert_eq!(members, layout.specials.values().filter(|s| s.gang == *gang).count());
    }
    apply(&mut both, inverse).unwrap();
    assert_eq!(save(&both), save(&layout));
}

#[test]
fn a_piece_leaves_names_and_what_is_not_whole_behind() {
    let (_, layout) = samples().into_iter().find(|(name, _)| name.contains("wye")).unwrap();
    let one = *layout.runs.keys().next().unwrap();
    let copied = piece(&layout, &[one.into()]);
    assert_eq!(copied.runs.len(), 1);
    assert!(copied.specials.is_empty());
    assert!(copied.cuts.values().all(|cut| cut.name.is_empty() && cut.run == one));
    load(&save(&copied)).unwrap();
}

fn lay(layout: &mut Layout, from: End, to: End, shape: Shape) -> RunId {
    let (_, made) = applied(layout, Edit::Lay { from, to, shape, length_mm: None }).unwrap();
    let Some(EntityId::Run(run)) = made.last() else { panic!() };
    *run
}

fn cut(layout: &mut Layout, run: RunId, at_mm: f64, rails: Rails, stagger_mm: f64) {
    let (width_mm, made) = (0.8, Made::Open);
    apply(layout, Edit::Cut { run, at_mm, rails, width_mm, stagger_mm, made }).unwrap();
}

/// Where everything on the runs is on the plan: cuts rail by rail.
fn on_plan(layout: &Layout) -> Vec<(f64, f64)> {
    let mut places = Vec::new();
    for Cut { run, at_mm, rails, stagger_mm, .. } in layout.cuts.values() {
        for rail in Rail::BOTH.into_iter().filter(|rail| rails.has(*rail)) {
            let along = at_mm + if rail == Rail::Right { *stagger_mm } else { 0.0 };
            places.push(rail_at(layout, &layout.runs[run], along, rail));
        }
    }
    for Feed { run, at_mm, p, m, .. } in layout.feeds.values() {
        for rail in [p, m].into_iter().flatten() {
            places.push(rail_at(layout, &layout.runs[run], *at_mm, *rail));
        }
    }
    places.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    places
}

proptest! {
    /// Two runs, laid in any direction, are made one: everything on them stays where it is.
    #[test]
    fn joined_runs_keep_what_stands_on_them(
        (first_back, second_back) in any::<(bool, bool)>(),
        bend_deg in prop_oneof![Just(0.0), -150.0..150.0f64],
        share in 0.1..0.9f64,
        (at, stagger) in (0.2..0.8f64, -10.0..10.0f64),
    ) {
        let mut layout = Layout::default();
        let shape = if bend_deg == 0.0 { Shape::Straight } else { Shape::Arc { bend_deg } };
        let run = lay(&mut layout, End::New(0.0, 0.0), End::New(1000.0, 200.0), shape);
        let length = curve(&layout, &layout.runs[&run]).length_mm();
        apply(&mut layout, Edit::Split { run, at_mm: share * length }).unwrap();
        let whole = layout.clone();
        // Turn either half round by laying it anew the other way.
        let mut layout = Layout::default();
        let mut middle = None;
        for (n, (run, back)) in whole.runs.values().zip([first_back, second_back]).enumerate() {
            let place = |id: JointId| (whole.joints[&id].x_mm, whole.joints[&id].y_mm);
            let (from, to) = (place(run.from), place(run.to));
            let near = |at: (f64, f64), is_middle: bool| match (is_middle, middle) {
                (true, Some(joint)) => End::At(joint),
                _ => End::New(at.0, at.1),
            };
            let (a, b) = (near(from, n == 1), near(to, n == 0));
            let laid = match (back, run.shape) {
                (false, shape) => lay(&mut layout, a, b, shape),
                (true, Shape::Arc { bend_deg }) => {
                    lay(&mut layout, b, a, Shape::Arc { bend_deg: -bend_deg })
                }
                (true, shape) => lay(&mut layout, b, a, shape),
            };
            if n == 0 {
                let laid = &layout.runs[&laid];
                middle = Some(if back { laid.from } else { laid.to });
            }
        }
        let middle = middle.unwrap();
        for (n, run) in layout.runs.keys().copied().collect::<Vec<_>>().into_iter().enumerate() {
            let length = curve(&layout, &layout.runs[&run]).length_mm();
            cut(&mut layout, run, 0.1 * at * length, [Rails::Left, Rails::Right][n], 0.0);
            if at * length + stagger > 0.0 && at * length + stagger < length {
                cut(&mut layout, run, at * length, Rails::Both, stagger);
            }
        }
        let (before, text) = (on_plan(&layout), save(&layout));
        let inverse = apply(&mut layout, Edit::Join { joint: middle }).unwrap();
        prop_assert_eq!(layout.runs.len(), 1);
        for (a, b) in before.iter().zip(on_plan(&layout)) {
            prop_assert!((a.0 - b.0).hypot(a.1 - b.1) < 1e-6, "{a:?} {b:?}");
        }
        apply(&mut layout, inverse).unwrap();
        prop_assert_eq!(save(&layout), text);
    }

    /// Every place of parallel track is at the distance that was asked for.
    #[test]
    fn parallel_track_is_parallel(
        bends in proptest::collection::vec(prop_oneof![Just(0.0), -60.0..60.0f64], 1..4),
        left_mm in prop_oneof![-80.0..-30.0f64, 30.0..80.0f64],
        from in 0usize..4,
    ) {
        let mut layout = Layout::default();
        let mut runs: Vec<RunId> = Vec::new();
        let mut at = None;
        for bend_deg in bends {
            use gapwright::layout::laying::{bent, end_of_arc, onwards};
            let (start, pose) = match at {
                None => (End::New(0.0, 0.0), gapwright::layout::geometry::Pose {
                    x_mm: 0.0, y_mm: 0.0, dx: 1.0, dy: 0.0,
                }),
                Some(joint) => (End::At(joint), onwards(&layout, joint).unwrap()),
            };
            let to = match bend_deg {
                0.0 => (pose.x_mm + 500.0 * pose.dx, pose.y_mm + 500.0 * pose.dy),
                bend => end_of_arc(pose, 600.0, bend),
            };
            let run = lay(&mut layout, start, End::New(to.0, to.1), bent(bend_deg));
            runs.push(run);
            at = Some(layout.runs[&run].to);
        }
        let count = runs.len();
        runs.rotate_left(from % count);
        // To the left of whichever is named first: they all run the same way here.
        let edit = parallel(&layout, &runs, left_mm).unwrap();
        apply(&mut layout, edit).unwrap();
        prop_assert_eq!(layout.runs.len(), 2 * count);
        // What met before meets again: one joint more than there are runs.
        prop_assert_eq!(layout.joints.len(), 2 * (count + 1));
        let old: Vec<_> = runs.iter().map(|id| curve(&layout, &layout.runs[id])).collect();
        for run in layout.runs.values().filter(|run| !runs.contains(&run.id)) {
            let line = curve(&layout, run);
            for n in 1..10 {
                let pose = line.at(line.length_mm() * f64::from(n) / 10.0);
                let near = old.iter().map(|c| c.closest((pose.x_mm, pose.y_mm)).off_mm);
                let off = near.min_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap();
                // Joints are put at thousandths of a mm.
                prop_assert!((off - left_mm).abs() < 0.05, "{off} {left_mm}");
            }
        }
    }
}

#[test]
fn what_makes_no_one_run_is_not_joined_and_why_is_said() {
    let mut layout = Layout::default();
    lay(&mut layout, End::New(0.0, 0.0), End::New(500.0, 0.0), Shape::Straight);
    let middle = JointId(2);
    let far = lay(&mut layout, End::At(middle), End::New(900.0, 50.0), Shape::Straight);
    let refused = |layout: &Layout, joint| {
        apply(&mut layout.clone(), Edit::Join { joint }).unwrap_err().to_string()
    };
    assert!(
        refused(&layout, middle).contains("at an angle of 7.1°"),
        "{}",
        refused(&layout, middle)
    );
    assert!(refused(&layout, JointId(1)).contains("not between two runs"));
    let joint = layout.joints.get_mut(&layout.runs[&far].to).unwrap();
    joint.y_mm = 0.0;
    let made = Made::InsulatedJoiner;
    let (rails, width_mm, stagger_mm) = (Rails::Both, 0.8, 0.0);
    let joiner = Edit::Cut { run: far, at_mm: 0.0, rails, width_mm, stagger_mm, made };
    let with = apply(&mut layout, joiner).unwrap();
    assert!(refused(&layout, middle).contains("insulated joiner"));
    apply(&mut layout, with).unwrap();
    apply(&mut layout, Edit::Join { joint: middle }).unwrap();
    assert_eq!(layout.runs.len(), 1);
}

#[test]
fn track_inside_a_curve_that_is_too_tight_is_refused() {
    let mut layout = Layout::default();
    let run =
        lay(&mut layout, End::New(0.0, 0.0), End::New(0.0, 100.0), Shape::Arc { bend_deg: 180.0 });
    assert!(parallel(&layout, &[run], 60.0).unwrap_err().0.contains("curves too tightly"));
    parallel(&layout, &[run], -60.0).unwrap();
    assert_eq!(spacing_mm(87.0), 46.0);
    assert!(spacing_mm(0.0).is_finite());
}

#[test]
fn joints_are_aligned() {
    let mut layout = Layout::default();
    lay(&mut layout, End::New(0.0, 0.0), End::New(500.0, 30.0), Shape::Straight);
    lay(&mut layout, End::New(700.0, -20.0), End::New(1000.0, 40.0), Shape::Straight);
    let joints: Vec<JointId> = layout.joints.keys().copied().collect();
    let places = |line| {
        let mut layout = layout.clone();
        let edit = align(&layout, &joints, line);
        apply(&mut layout, edit).unwrap();
        layout.joints.values().map(|j| (j.x_mm, j.y_mm)).collect::<Vec<_>>()
    };
    assert!(places(Line::Level).iter().all(|p| p.1 == 0.0));
    assert_eq!(places(Line::FirstToLast)[0], (0.0, 0.0));
    for (x, y) in places(Line::FirstToLast) {
        assert_abs_diff_eq!(y, x * 0.04, epsilon = 1e-3);
    }
}

#[test]
fn an_end_of_track_that_is_moved_onto_another_one_is_joined_to_it() {
    let mut layout = Layout::default();
    let first = lay(&mut layout, End::New(0.0, 0.0), End::New(500.0, 0.0), Shape::Straight);
    let other = lay(&mut layout, End::New(600.0, 20.0), End::New(900.0, 20.0), Shape::Straight);
    cut(&mut layout, other, 100.0, Rails::Both, 0.0);
    let joints = joints_of(&layout, &[other.into()]);
    let before = save(&layout);
    // Not quite there, nothing is joined.
    let mut near = layout.clone();
    let edit = moved(&near, joints.clone(), (-100.0, -19.0));
    apply(&mut near, edit).unwrap();
    assert_eq!(near.joints.len(), 4);
    let near = meetings(&layout, &joints, (-100.0, -19.0), 5.0);
    assert_eq!(near.len(), 1);
    assert_eq!(near[0].off, (0.0, -1.0));
    let edit = moved(&layout, joints, (-100.0, -20.0));
    let inverse = apply(&mut layout, edit).unwrap();
    assert_eq!(layout.joints.len(), 3);
    assert_eq!(layout.runs[&first].to, layout.runs[&other].from);
    assert_eq!(layout.cuts.values().next().unwrap().at_mm, 100.0);
    apply(&mut layout, inverse).unwrap();
    assert_eq!(save(&layout), before);
}
