//! Edits: what each does, that each can be taken back to the byte, and that none does harm.
#![allow(clippy::unwrap_used)]

use approx::assert_relative_eq;
use gapwright::drive::{self, SetWord};
use gapwright::layout::{
    Climate, Cut, DriverId, Edit, End, Entity, EntityId, Feed, FeedId, History, Idle, JointId,
    Label, LabelId, Layout, Made, Quantity, Rail, Rails, Run, RunEnd, RunId, Setting, Shape,
    SupplyId, TrackEnd, Turn, Wire, WireSize, applied, apply, defaults, geometry, length_mm, load,
    place, save,
};
use gapwright::layout::{CutId, Direction, Load, VehicleId};

#[path = "layout_edits/curves.rs"]
mod curves;
#[path = "layout_edits/random.rs"]
mod random;

fn lay(layout: &mut Layout, from: End, to: End, shape: Shape) -> (RunId, JointId, JointId) {
    let (_, made) = applied(layout, Edit::Lay { from, to, shape, length_mm: None }).unwrap();
    let Some(&EntityId::Run(run)) = made.last() else { panic!("no run in {made:?}") };
    (run, layout.runs[&run].from, layout.runs[&run].to)
}

fn cut_at(run: RunId, at_mm: f64) -> Edit {
    let (rails, width_mm, stagger_mm, made) = (Rails::Both, 0.8, 0.0, Made::Open);
    Edit::Cut { run, at_mm, rails, width_mm, stagger_mm, made }
}

fn feed_at(driver: DriverId, run: RunId, at_mm: f64) -> Edit {
    let (p, m) = (Some(Rail::Right), Some(Rail::Left));
    Edit::Feed { driver: driver.into(), run, at_mm, p, m, wire: None, ohm: None }
}

fn name_at(run: RunId, at_mm: f64, name: &str) -> Edit {
    Edit::Name { run, at_mm, name: name.into() }
}

fn driver(layout: &mut Layout) -> (SupplyId, DriverId) {
    let (_, made) = applied(layout, Edit::Add(defaults::supply().into())).unwrap();
    let EntityId::Supply(supply) = made[0] else { panic!("no supply") };
    let new = defaults::driver(supply, defaults::pwm_bridge(Idle::BrakeLow));
    let (_, made) = applied(layout, Edit::Add(new.into())).unwrap();
    let EntityId::Driver(driver) = made[0] else { panic!("no driver") };
    (supply, driver)
}

/// One straight run of 1000 mm with a cut at 300 and 700, a feed at 800, a name at 100.
fn plan() -> (Layout, RunId) {
    let mut layout = Layout::default();
    let (run, _, _) = lay(&mut layout, End::New(0.0, 0.0), End::New(1000.0, 0.0), Shape::Straight);
    let (_, driver) = driver(&mut layout);
    for edit in [
        cut_at(run, 300.0),
        cut_at(run, 700.0),
        feed_at(driver, run, 800.0),
        name_at(run, 100.0, "Yard"),
    ] {
        apply(&mut layout, edit).unwrap();
    }
    (layout, run)
}

/// Applies an edit, checks that its inverse gives the same file to the byte and that redoing does too.
fn there_and_back(layout: &mut Layout, edit: Edit) {
    let before = (layout.clone(), save(layout));
    let inverse = apply(layout, edit).unwrap();
    let after = (layout.clone(), save(layout));
    let again = apply(layout, inverse).unwrap();
    assert_eq!((layout.clone(), save(layout)), before);
    apply(layout, again).unwrap();
    assert_eq!((layout.clone(), save(layout)), after);
}

#[test]
fn laying_says_what_it_made_and_joins_at_joints() {
    let mut layout = Layout::default();
    let (first, _, end) =
        lay(&mut layout, End::New(0.0, 0.0), End::New(500.0, 0.0), Shape::Straight);
    let edit = Edit::Lay {
        from: End::At(end),
        to: End::New(900.0, 0.0),
        shape: Shape::Straight,
        length_mm: Some(410.0),
    };
    let (_, made) = applied(&mut layout, edit).unwrap();
    assert_eq!(made, [EntityId::Joint(JointId(4)), EntityId::Run(RunId(5))]);
    assert_eq!(layout.runs[&first].to, layout.runs[&RunId(5)].from);
    assert_relative_eq!(length_mm(&layout, &layout.runs[&RunId(5)]), 410.0);
}

#[test]
fn a_third_run_end_at_a_joint_is_refused_in_plain_words() {
    let mut layout = Layout::default();
    let (_, _, middle) =
        lay(&mut layout, End::New(0.0, 0.0), End::New(500.0, 0.0), Shape::Straight);
    lay(&mut layout, End::At(middle), End::New(900.0, 0.0), Shape::Straight);
    let before = layout.clone();
    let edit = Edit::Lay {
        from: End::At(middle),
        to: End::New(900.0, 300.0),
        shape: Shape::Straight,
        length_mm: None,
    };
    let refused = apply(&mut layout, edit).unwrap_err();
    assert!(refused.0.contains("turnout"), "{refused}");
    assert_eq!(layout, before);
}

#[test]
fn no_run_comes_to_a_joint_at_which_special_work_ends_the_track() {
    let mut layout = Layout::default();
    let (run, _, joint) =
        lay(&mut layout, End::New(0.0, 0.0), End::New(1000.0, 0.0), Shape::Straight);
    let buffer = place::buffer(&layout, TrackEnd { run, end: RunEnd::End }).unwrap();
    apply(&mut layout, buffer.edit).unwrap();
    let before = layout.clone();
    let on = Edit::Lay {
        from: End::At(joint),
        to: End::New(2000.0, 0.0),
        shape: Shape::Straight,
        length_mm: None,
    };
    let refused = apply(&mut layout, on).unwrap_err();
    assert!(refused.0.contains("is joined to another run"), "{refused}");
    assert_eq!(layout, before);
}

#[test]
fn every_kind_of_edit_goes_there_and_back() {
    let (mut layout, run) = plan();
    let supply = *layout.supplies.keys().next().unwrap();
    let driver = *layout.drivers.keys().next().unwrap();
    let feed = *layout.feeds.keys().next().unwrap();
    let joints: Vec<JointId> = layout.joints.keys().copied().collect();
    let cut = layout.cuts.values().next().unwrap().clone();
    for edit in [
        Edit::Lay {
            from: End::At(joints[1]),
            to: End::New(1500.0, 400.0),
            shape: Shape::Arc { bend_deg: 60.0 },
            length_mm: None,
        },
        cut_at(run, 500.0),
        feed_at(driver, run, 20.0),
        name_at(run, 100.0, "Goods yard"),
        name_at(run, 100.0, ""),
        name_at(run, 850.0, "Main"),
        Edit::Add(defaults::wagon().into()),
        Edit::Replace(Cut { notes: "mended".into(), ..cut }.into()),
        Edit::Set { driver, setting: Setting { direction: Direction::Reverse, throttle: 0.1 } },
        Edit::Power { supply, on: false },
        Edit::Swap { feed },
        Edit::Move { joints: joints.clone(), dx_mm: 10.0, dy_mm: -20.0 },
        Edit::Move { joints: vec![joints[1]], dx_mm: 100.0, dy_mm: 40.0 },
        Edit::Split { run, at_mm: 400.0 },
        Edit::Describe {
            name: Some("Brook End".into()),
            notes: None,
            scale: Some(160.0),
            gauge_mm: Some(9.0),
            rail_ohm_per_m: None,
            climate: Some(Some(Climate { hottest_c: 35.0, ..Climate::default() })),
        },
        Edit::Batch(vec![cut_at(run, 50.0), Edit::Batch(vec![Edit::Swap { feed }])]),
        Edit::Delete(vec![run.into(), supply.into()]),
    ] {
        there_and_back(&mut layout, edit);
    }
    assert!(layout.drivers.is_empty() && layout.feeds.is_empty(), "{layout:?}");
}

#[test]
fn naming_replaces_and_takes_away() {
    let (mut layout, run) = plan();
    let id = *layout.labels.keys().next().unwrap();
    apply(&mut layout, name_at(run, 100.0, "Goods yard")).unwrap();
    assert_eq!(layout.labels.len(), 1);
    assert_eq!(layout.labels[&id].name, "Goods yard");
    apply(&mut layout, name_at(run, 100.0, " ")).unwrap();
    assert!(layout.labels.is_empty());
    assert!(apply(&mut layout, name_at(run, 100.0, "")).is_err());
}

#[test]
fn splitting_re_anchors_what_stands_on_the_run() {
    let (mut layout, run) = plan();
    let (_, made) = applied(&mut layout, Edit::Split { run, at_mm: 400.0 }).unwrap();
    let [EntityId::Joint(joint), EntityId::Run(rest)] = made[..] else { panic!("{made:?}") };
    assert_eq!((layout.runs[&run].to, layout.runs[&rest].from), (joint, joint));
    assert_relative_eq!(layout.joints[&joint].x_mm, 400.0);
    let places: Vec<(RunId, f64)> = layout.cuts.values().map(|c| (c.run, c.at_mm)).collect();
    assert_eq!(places, [(run, 300.0), (rest, 300.0)]);
    let feed = layout.feeds.values().next().unwrap();
    assert_eq!((feed.run, feed.at_mm), (rest, 400.0));
    let label = layout.labels.values().next().unwrap();
    assert_eq!((label.run, label.at_mm), (run, 100.0));
}

#[test]
fn splitting_divides_arcs_cubics_and_measured_lengths() {
    let cubic = Shape::Cubic { c1: (300.0, 400.0), c2: (700.0, -250.0) };
    for (shape, measured) in [
        (Shape::Straight, None),
        (Shape::Arc { bend_deg: 120.0 }, None),
        (Shape::Arc { bend_deg: -300.0 }, Some(900.0)),
        (cubic, None),
        (cubic, Some(2000.0)),
    ] {
        let mut layout = Layout::default();
        let edit = Edit::Lay {
            from: End::New(0.0, 0.0),
            to: End::New(1000.0, 100.0),
            shape,
            length_mm: measured,
        };
        apply(&mut layout, edit).unwrap();
        let whole = layout.runs[&RunId(3)].clone();
        let length = length_mm(&layout, &whole);
        let at_mm = length * 0.3;
        let original = geometry::curve(&layout, &whole);
        there_and_back(&mut layout, Edit::Split { run: RunId(3), at_mm });
        let [first, rest] =
            [RunId(3), RunId(5)].map(|id| geometry::curve(&layout, &layout.runs[&id]));
        assert_relative_eq!(first.length_mm(), at_mm, max_relative = 1e-6);
        assert_relative_eq!(rest.length_mm(), length - at_mm, max_relative = 1e-6);
        for i in 0..=10 {
            let along = length * f64::from(i) / 10.0;
            let (ours, whole) = (
                if along <= at_mm { first.at(along) } else { rest.at(along - at_mm) },
                original.at(along),
            );
            assert_relative_eq!(ours.x_mm, whole.x_mm, epsilon = 1e-3);
            assert_relative_eq!(ours.y_mm, whole.y_mm, epsilon = 1e-3);
            assert_relative_eq!(ours.dx, whole.dx, epsilon = 1e-4);
        }
    }
}

#[test]
fn a_split_through_a_staggered_cut_or_at_an_end_is_refused() {
    let (mut layout, run) = plan();
    let edit = Edit::Cut {
        run,
        at_mm: 500.0,
        rails: Rails::Both,
        width_mm: 0.8,
        stagger_mm: 40.0,
        made: Made::Open,
    };
    apply(&mut layout, edit).unwrap();
    for at_mm in [520.0, 0.0, 1000.0, -5.0, f64::NAN] {
        let before = layout.clone();
        assert!(apply(&mut layout, Edit::Split { run, at_mm }).is_err(), "{at_mm}");
        assert_eq!(layout, before);
    }
}

#[test]
fn moving_a_joint_keeps_the_share_of_the_length_but_not_on_measured_runs() {
    let (mut layout, run) = plan();
    let end = layout.runs[&run].to;
    let joiner = Edit::Cut {
        run,
        at_mm: 1000.0,
        rails: Rails::Both,
        width_mm: 0.8,
        stagger_mm: 0.0,
        made: Made::InsulatedJoiner,
    };
    apply(&mut layout, joiner).unwrap();
    apply(&mut layout, Edit::Move { joints: vec![end], dx_mm: -500.0, dy_mm: 0.0 }).unwrap();
    let places: Vec<f64> = layout.cuts.values().map(|c| c.at_mm).collect();
    assert_eq!(places, [150.0, 350.0, 500.0]);
    assert_relative_eq!(layout.feeds.values().next().unwrap().at_mm, 400.0);

    let measured = Run { length_mm: Some(800.0), ..layout.runs[&run].clone() };
    apply(&mut layout, Edit::Replace(measured.into())).unwrap();
    let places: Vec<f64> = layout.cuts.values().map(|c| c.at_mm).collect();
    assert_eq!(places, [240.0, 560.0, 800.0]);
    apply(&mut layout, Edit::Move { joints: vec![end], dx_mm: -200.0, dy_mm: 0.0 }).unwrap();
    let places: Vec<f64> = layout.cuts.values().map(|c| c.at_mm).collect();
    assert_eq!(places, [240.0, 560.0, 800.0]);
}

#[test]
fn control_points_go_along_when_both_ends_move() {
    let mut layout = Layout::default();
    let shape = Shape::Cubic { c1: (100.0, 50.0), c2: (200.0, 50.0) };
    let (run, from, to) = lay(&mut layout, End::New(0.0, 0.0), End::New(300.0, 0.0), shape);
    apply(&mut layout, Edit::Move { joints: vec![from, to, from], dx_mm: 5.0, dy_mm: 7.0 })
        .unwrap();
    let moved = Shape::Cubic { c1: (105.0, 57.0), c2: (205.0, 57.0) };
    assert_eq!(layout.runs[&run].shape, moved);
    assert_eq!(layout.joints[&from].x_mm, 5.0);
    apply(&mut layout, Edit::Move { joints: vec![to], dx_mm: 5.0, dy_mm: 7.0 }).unwrap();
    assert_eq!(layout.runs[&run].shape, moved);
}

#[test]
fn deleting_carries_the_dependents_and_no_more() {
    let (mut layout, run) = plan();
    let end = layout.runs[&run].to;
    let (second, _, _) = lay(&mut layout, End::At(end), End::New(1500.0, 0.0), Shape::Straight);
    apply(&mut layout, Edit::Delete(vec![run.into()])).unwrap();
    assert!(layout.cuts.is_empty() && layout.feeds.is_empty() && layout.labels.is_empty());
    assert_eq!(layout.joints.len(), 2, "the joint of the other run stays");
    assert_eq!((layout.drivers.len(), layout.supplies.len()), (1, 1));
    apply(&mut layout, Edit::Delete(vec![end.into()])).unwrap();
    assert!(layout.runs.is_empty() && layout.joints.is_empty());
    assert!(apply(&mut layout, Edit::Delete(vec![second.into()])).is_err());
}

#[test]
fn a_deleted_vehicle_leaves_its_trains_and_an_emptied_train_goes() {
    let (mut layout, _) = plan();
    let mut vehicle = || {
        let made = applied(&mut layout, Edit::Add(defaults::wagon().into())).unwrap().1;
        let EntityId::Vehicle(id) = made[0] else { panic!("no vehicle") };
        id
    };
    let [a, b, c] = [vehicle(), vehicle(), vehicle()];
    let mut train = defaults::train(&[a, b, c]);
    for coupled in &mut train.vehicles {
        coupled.joined = true;
    }
    let EntityId::Train(long) = applied(&mut layout, Edit::Add(train.into())).unwrap().1[0] else {
        panic!("no train")
    };
    apply(&mut layout, Edit::Add(defaults::train(&[b, b]).into())).unwrap();
    there_and_back(&mut layout, Edit::Delete(vec![b.into()]));
    let left: Vec<(VehicleId, bool)> =
        layout.trains[&long].vehicles.iter().map(|v| (v.vehicle, v.joined)).collect();
    assert_eq!(left, [(a, false), (c, true)], "what joined the pickups to the second is gone");
    assert_eq!(layout.trains.len(), 1, "the train of the second vehicle alone is gone");
    let refused = apply(&mut layout, Edit::Add(defaults::train(&[b]).into())).unwrap_err();
    assert!(refused.0.contains(&b.to_string()), "{refused}");
    assert!(apply(&mut layout, Edit::Add(defaults::train(&[]).into())).is_err());
}

#[test]
fn a_batch_is_all_or_nothing_and_judged_as_a_whole() {
    let (mut layout, run) = plan();
    let before = (layout.clone(), save(&layout));
    let wrong = Edit::Batch(vec![cut_at(run, 500.0), cut_at(run, 5000.0)]);
    let refused = apply(&mut layout, wrong).unwrap_err();
    assert!(refused.0.contains("5000 mm") && refused.0.contains("0 to 1000 mm"), "{refused}");
    assert_eq!((layout.clone(), save(&layout)), before);
    // The first alone would leave a cut beyond the run's end.
    let cut = layout.cuts.values().next().unwrap().clone();
    let run_entity = Run { length_mm: Some(2000.0), ..layout.runs[&run].clone() };
    let edits = vec![
        Edit::Replace(Cut { at_mm: 1500.0, ..cut.clone() }.into()),
        Edit::Replace(run_entity.into()),
        Edit::Replace(Cut { at_mm: 1500.0, ..cut }.into()),
    ];
    apply(&mut layout, Edit::Batch(edits)).unwrap();
}

#[test]
fn ids_are_fresh_and_never_given_again() {
    let (mut layout, run) = plan();
    let next = layout.next_id;
    let (_, made) = applied(&mut layout, cut_at(run, 500.0)).unwrap();
    apply(&mut layout, Edit::Delete(made)).unwrap();
    let (_, made) = applied(&mut layout, cut_at(run, 500.0)).unwrap();
    assert_eq!(made, [EntityId::Cut(CutId(next + 1))]);
    // Adding ignores the identity that the entity carries.
    let label = Label { id: LabelId(1), name: "X".into(), run, at_mm: 1.0 };
    let (_, made) = applied(&mut layout, Edit::Add(label.into())).unwrap();
    assert_eq!(made, [EntityId::Label(LabelId(next + 2))]);
}

#[test]
fn a_refusal_speaks_of_what_the_person_sees() {
    let (mut layout, run) = plan();
    let refused = apply(&mut layout, cut_at(run, 1200.0)).unwrap_err();
    assert_eq!(
        refused.0,
        "The new cut, place: the value is 1200 mm (expected a number from 0 to 1000 mm). \
         Run r3 is 1000 mm long; a distance along it cannot lie beyond."
    );
    let (id, old) = layout.cuts.iter().next().map(|(id, cut)| (*id, cut.clone())).unwrap();
    let wide = Cut { width_mm: 60.0, ..old };
    let refused = apply(&mut layout, Edit::Replace(wide.into())).unwrap_err();
    assert!(refused.0.starts_with(&format!("Cut {id}, width: the value is 60 mm")), "{refused}");
}

#[test]
fn numbers_run_out_politely() {
    let mut layout = load("(version: 1, next_id: 1000000000)").unwrap().layout;
    apply(&mut layout, Edit::Add(defaults::wagon().into())).unwrap();
    assert!(load(&save(&layout)).is_ok());
    let refused = apply(&mut layout, Edit::Add(defaults::wagon().into())).unwrap_err();
    assert!(refused.0.contains("next_id"), "{refused}");
}

#[test]
fn what_is_not_there_is_refused_by_name() {
    let (mut layout, run) = plan();
    let (none, setting) = (RunId(999), Setting { direction: Direction::Off, throttle: 0.0 });
    let before = layout.clone();
    let (driver, supply, feed) = (DriverId(998), SupplyId(998), FeedId(998));
    for (edit, word) in [
        (cut_at(none, 1.0), "no run r999"),
        (name_at(none, 1.0, "X"), "no run r999"),
        (feed_at(driver, run, 1.0), "no driver d998"),
        (Edit::Split { run: none, at_mm: 5.0 }, "no run r999"),
        (Edit::Set { driver, setting }, "no driver d998"),
        (Edit::Power { supply, on: true }, "no supply s998"),
        (Edit::Swap { feed }, "no feed f998"),
        (Edit::Move { joints: vec![JointId(998)], dx_mm: 1.0, dy_mm: 1.0 }, "no joint j998"),
        (Edit::Delete(vec![VehicleId(998).into()]), "no vehicle v998"),
        (Edit::Replace(defaults::wagon().into()), "no vehicle v0"),
        (Edit::Replace(defaults::train(&[]).into()), "no train t0"),
        (
            Edit::Lay {
                from: End::At(JointId(998)),
                to: End::New(0.0, 0.0),
                shape: Shape::Straight,
                length_mm: None,
            },
            "no joint j998",
        ),
    ] {
        let refused = apply(&mut layout, edit).unwrap_err();
        assert!(refused.0.contains(word), "{refused}");
        assert_eq!(layout, before);
    }
}

#[test]
fn a_driver_in_use_cannot_be_given_what_its_drive_does_not_know() {
    let (mut layout, _) = plan();
    let id = *layout.drivers.keys().next().unwrap();
    let on = Setting { direction: Direction::On, throttle: 0.0 };
    let refused = apply(&mut layout, Edit::Set { driver: id, setting: on }).unwrap_err();
    assert!(refused.0.contains("DCC"), "{refused}");
    let fast = Setting { direction: Direction::Forward, throttle: f64::NAN };
    assert!(apply(&mut layout, Edit::Set { driver: id, setting: fast }).is_err());
}

#[test]
fn a_drag_is_one_step_and_saving_is_remembered() {
    let (mut layout, run) = plan();
    let end = layout.runs[&run].to;
    let mut history = History::default();
    let start = save(&layout);
    assert!(!history.is_changed() && !history.can_undo());
    history.do_edit(&mut layout, cut_at(run, 500.0)).unwrap();
    let cut = save(&layout);
    let step = |dx_mm| Edit::Move { joints: vec![end], dx_mm, dy_mm: 1.0 };
    // A drag that begins by not moving must not run into the step before it.
    let still = Edit::Move { joints: vec![end], dx_mm: 0.0, dy_mm: 0.0 };
    history.do_coalesced(&mut layout, still, "drag 1").unwrap();
    for _ in 0..20 {
        history.do_coalesced(&mut layout, step(3.0), "drag 1").unwrap();
    }
    let dragged = save(&layout);
    assert!(history.undo(&mut layout).unwrap());
    assert_eq!(save(&layout), cut);
    assert!(history.redo(&mut layout).unwrap());
    assert_eq!(save(&layout), dragged);
    history.mark_saved();
    assert!(!history.is_changed());
    history.do_coalesced(&mut layout, step(3.0), "drag 1").unwrap();
    assert!(history.is_changed());
    history.undo(&mut layout).unwrap();
    assert_eq!(save(&layout), dragged);
    assert!(!history.is_changed());
    while history.undo(&mut layout).unwrap() {}
    assert_eq!(save(&layout), start);
    assert!(history.is_changed());
    history.redo(&mut layout).unwrap();
    history.do_edit(&mut layout, cut_at(run, 600.0)).unwrap();
    assert!(!history.can_redo());
    assert!(history.is_changed(), "the saved state can no longer be reached");
}

#[test]
fn refused_and_empty_edits_leave_no_step() {
    let (mut layout, run) = plan();
    let mut history = History::default();
    assert!(history.do_edit(&mut layout, cut_at(run, -1.0)).is_err());
    history.do_edit(&mut layout, Edit::Batch(vec![])).unwrap();
    history.do_edit(&mut layout, name_at(run, 100.0, "Yard")).unwrap();
    assert!(!history.can_undo() && !history.is_changed());
}

#[test]
fn every_drive_can_be_set_to_what_it_knows() {
    for drive in drive::examples() {
        let kind = drive::of(&drive);
        let dcc = kind.settings().contains(&SetWord::On);
        let supply = if kind.output().needs_midpoint() {
            defaults::split_supply()
        } else {
            defaults::supply()
        };
        let mut layout = Layout::default();
        let (_, made) = applied(&mut layout, Edit::Add(supply.into())).unwrap();
        let EntityId::Supply(supply) = made[0] else { panic!("no supply") };
        let new: Entity = defaults::driver(supply, drive.clone()).into();
        let (_, made) = applied(&mut layout, Edit::Add(new)).unwrap();
        let EntityId::Driver(driver) = made[0] else { panic!("no driver") };
        for (direction, fits) in [
            (Direction::Forward, !dcc),
            (Direction::Reverse, !dcc),
            (Direction::Stopped, !dcc),
            (Direction::On, dcc),
            (Direction::Off, true),
        ] {
            let setting = Setting { direction, throttle: 0.3 };
            assert_eq!(apply(&mut layout, Edit::Set { driver, setting }).is_ok(), fits);
        }
    }
}
