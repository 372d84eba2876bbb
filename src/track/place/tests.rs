#![allow(clippy::unwrap_used)]
use super::*;
use crate::layout::*;
use crate::track::roads::*;
use proptest::prelude::*;

fn straight() -> Layout {
    track(
        r#"(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 1000, y_mm: 0)"#,
        r#"(id: "r1", from: "j1", to: "j2")"#,
    )
}

fn track(joints: &str, runs: &str) -> Layout {
    load(&format!("(version: 1, joints: [{joints}], runs: [{runs}])")).unwrap().layout
}

/// Applies it; taking it back must give the same file, and the draft must be what came out.
#[track_caller]
fn there_and_back(before: &Layout, placed: &Placed) -> Layout {
    let mut layout = before.clone();
    let back = apply(&mut layout, placed.edit.clone()).unwrap();
    let after = layout.clone();
    assert_eq!(after, placed.layout, "the draft is what comes out");
    assert_eq!(load(&save(&after)).unwrap().layout, after, "saved and loaded");
    apply(&mut layout, back).unwrap();
    assert_eq!(save(&layout), save(before));
    after
}

fn wish(parting: Parting) -> TurnoutWish {
    TurnoutWish {
        parting,
        frog: Frog::PowerRouting,
        turn_deg: 15.0,
        length_mm: 250.0,
        through_deg: 0.0,
    }
}

fn site(run: u32, at_mm: f64, towards: RunEnd) -> Site {
    Site { run: RunId(run), at_mm, towards }
}

#[test]
fn a_turnout_in_a_run_parts_on_the_hand_that_was_wished() {
    let layout = straight();
    for (parting, towards, up) in [
        (Parting::Left, RunEnd::End, true),
        (Parting::Right, RunEnd::End, false),
        (Parting::Left, RunEnd::Start, false),
        (Parting::Right, RunEnd::Start, true),
    ] {
        let placed = turnout(&layout, site(1, 500.0, towards), &wish(parting)).unwrap();
        let after = there_and_back(&layout, &placed);
        let special = after.specials.values().next().unwrap();
        let hand = if parting == Parting::Left { "left road" } else { "right road" };
        assert_eq!(position_name(&after, special, 1), hand, "{parting:?} {towards:?}");
        let end = after.runs[&placed.laid[0]].to;
        assert_eq!(after.joints[&end].y_mm > 0.0, up, "{parting:?} {towards:?}");
        // R = 250 mm / 15° = 955 mm; R (1 − cos φ) = 16.5 mm at φ = 10.66°, which is 177.7 mm along the arc.
        let Work::Turnout { frog_mm, .. } = special.work else { panic!() };
        assert!((frog_mm - 177.7).abs() < 1.0, "{frog_mm}");
        assert!(placed.assumed.is_none());
    }
}

#[test]
fn a_turnout_at_an_end_of_track_lays_all_its_roads() {
    let layout = straight();
    for (parting, roads) in [(Parting::Left, 2), (Parting::Wye, 2), (Parting::ThreeWay, 3)] {
        // Whichever way they are wished to leave: the only way is outwards.
        for towards in [RunEnd::Start, RunEnd::End] {
            let wish = TurnoutWish { turn_deg: 20.0, ..wish(parting) };
            let placed = turnout(&layout, site(1, 1000.0, towards), &wish).unwrap();
            let after = there_and_back(&layout, &placed);
            assert_eq!(placed.laid.len(), roads, "{parting:?}");
            let special = &after.specials[&placed.specials[0]];
            assert_eq!(special.work.positions() as usize, roads);
            let far = placed.laid.iter().map(|run| after.joints[&after.runs[run].to].x_mm);
            assert!(far.fold(f64::INFINITY, f64::min) > 1000.0);
        }
    }
}

#[test]
fn where_two_runs_meet_the_points_take_hold_of_both() {
    let layout = track(
        r#"(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 500, y_mm: 0), (id: "j3", x_mm: 1000, y_mm: 0)"#,
        r#"(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j3", to: "j2")"#,
    );
    let placed = turnout(&layout, site(1, 500.0, RunEnd::End), &wish(Parting::ThreeWay)).unwrap();
    let after = there_and_back(&layout, &placed);
    let special = &after.specials[&placed.specials[0]];
    let names: Vec<String> = (0..3).map(|p| position_name(&after, special, p)).collect();
    assert_eq!(names, ["middle road", "left road", "right road"]);
    let refused = turnout(&layout, site(1, 500.0, RunEnd::End), &wish(Parting::Wye)).unwrap_err();
    assert!(refused.0.contains("end of track"), "{refused}");
    let again = turnout(&after, site(1, 500.0, RunEnd::End), &wish(Parting::Left)).unwrap_err();
    assert!(again.0.contains("special work already"), "{again}");
}

#[test]
fn on_a_curve_the_turnout_is_a_curved_one() {
    let layout = track(
        r#"(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 800, y_mm: 800)"#,
        r#"(id: "r1", from: "j1", to: "j2", shape: Arc(bend_deg: 90))"#,
    );
    let placed = turnout(&layout, site(1, 300.0, RunEnd::End), &wish(Parting::Left)).unwrap();
    let after = there_and_back(&layout, &placed);
    let Shape::Arc { bend_deg } = after.runs[&placed.laid[0]].shape else { panic!() };
    // The curve has a radius of 800 mm: 250 mm of it turn by 17.9°.
    assert!((bend_deg - (17.9 + 15.0)).abs() < 0.1, "{bend_deg}");
}

#[test]
fn a_third_run_end_makes_a_turnout_and_a_fourth_a_three_way() {
    let layout = track(
        r#"(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 500, y_mm: 0), (id: "j3", x_mm: 1000, y_mm: 0)"#,
        r#"(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j2", to: "j3")"#,
    );
    let joint = JointId(2);
    let to = |y| End::New(900.0, y);
    let placed = lay(&layout, End::At(joint), &[(to(120.0), Shape::Straight)]).unwrap();
    let after = there_and_back(&layout, &placed);
    let special = after.specials.values().next().unwrap();
    let Work::Turnout { toe, exits, frog_mm, .. } = &special.work else { panic!() };
    assert_eq!((toe.run, exits[0].run), (RunId(1), RunId(2)));
    assert!(*frog_mm > 40.0 && *frog_mm < 80.0, "{frog_mm}");
    let placed = lay(&after, to(-120.0), &[(End::At(joint), Shape::Straight)]).unwrap();
    let three = there_and_back(&after, &placed);
    assert_eq!(three.specials.len(), 1);
    assert_eq!(three.specials.values().next().unwrap().work.positions(), 3);
    // Across the track it is none.
    let refused =
        lay(&layout, End::At(joint), &[(End::New(500.0, 300.0), Shape::Straight)]).unwrap_err();
    assert!(refused.0.contains("no turnout"), "{refused}");
}

#[test]
fn roads_that_hardly_part_have_their_frog_at_the_far_end_and_say_so() {
    let layout = straight();
    let wish = TurnoutWish { turn_deg: 3.0, ..wish(Parting::Left) };
    let placed = turnout(&layout, site(1, 500.0, RunEnd::End), &wish).unwrap();
    let after = there_and_back(&layout, &placed);
    assert!(placed.assumed.as_ref().unwrap().contains("as far out"));
    let reach = after.specials.values().next().unwrap().work.reach_mm();
    assert!(reach <= 250.0 && reach > 200.0, "{reach}");
}

fn crossing_wish(kind: CrossingKind) -> CrossingWish {
    CrossingWish { kind, frog: Frog::Switched, angle_deg: 20.0, length_mm: 400.0 }
}

#[test]
fn crossings_are_laid_or_made_of_two_runs() {
    let layout = straight();
    for kind in [CrossingKind::Diamond, CrossingKind::SingleSlip, CrossingKind::DoubleSlip] {
        for angle_deg in [20.0, -20.0, 90.0, 160.0] {
            let wish = CrossingWish { angle_deg, ..crossing_wish(kind) };
            let placed = crossing(&layout, RunId(1), 500.0, &wish).unwrap();
            let after = there_and_back(&layout, &placed);
            let Some(Special {
                work: Work::Diamond { frog_mm, .. } | Work::Slip { frog_mm, .. },
                ..
            }) = after.specials.values().next()
            else {
                panic!()
            };
            // Half the gauge over the tangent of half the angle.
            let want = if angle_deg == 90.0 { 8.25 } else { 46.8 };
            assert!((frog_mm - want).abs() < 0.1, "{angle_deg}: {frog_mm}");
        }
    }
    let two = track(
        r#"(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 1000, y_mm: 0),
           (id: "j3", x_mm: 900, y_mm: -200), (id: "j4", x_mm: 100, y_mm: 300)"#,
        r#"(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j3", to: "j4", shape: Arc(bend_deg: 30))"#,
    );
    let placed =
        crossing_of(&two, (RunId(1), 0.0), RunId(2), &crossing_wish(CrossingKind::Diamond))
            .unwrap();
    let after = there_and_back(&two, &placed);
    assert_eq!((after.runs.len(), after.joints.len(), after.specials.len()), (4, 5, 1));
    let refused =
        crossing_of(&two, (RunId(1), 0.0), RunId(1), &crossing_wish(CrossingKind::Diamond));
    assert!(refused.unwrap_err().0.contains("do not cross"));
}

#[test]
fn a_crossover_is_two_turnouts_in_a_gang() {
    for reversed in [false, true] {
        let (from, to) = if reversed { ("j4", "j3") } else { ("j3", "j4") };
        let layout = track(
            r#"(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 1500, y_mm: 0),
               (id: "j3", x_mm: 0, y_mm: 50), (id: "j4", x_mm: 1500, y_mm: 50)"#,
            &format!(r#"(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "{from}", to: "{to}")"#),
        );
        for (towards, first_is_left) in [(RunEnd::End, true), (RunEnd::Start, false)] {
            let placed =
                crossover(&layout, site(1, 700.0, towards), None, 15.0, Frog::Switched).unwrap();
            let mut after = there_and_back(&layout, &placed);
            let [a, b] = placed.specials[..] else { panic!() };
            let hand = if first_is_left { "left road" } else { "right road" };
            for id in [a, b] {
                assert_eq!(position_name(&after, &after.specials[&id], 1), hand);
            }
            apply(&mut after, Edit::Throw { selector: a.into(), position: 1 }).unwrap();
            assert_eq!(after.specials[&b].position, 1, "they go together");
        }
        let refused = crossover(&layout, site(1, 1400.0, RunEnd::End), None, 15.0, Frog::Switched);
        assert!(refused.unwrap_err().0.contains("too soon"));
    }
}

#[test]
fn a_turntable_stands_before_an_end_and_turns_to_its_roads() {
    let layout = straight();
    let wish = TurntableWish {
        bridge_mm: 300.0,
        roads_deg: vec![0.0, 90.0, 180.0],
        road_mm: 200.0,
        exchange_deg: None,
    };
    let end = TrackEnd { run: RunId(1), end: RunEnd::End };
    let placed = turntable(&layout, Ground::Before(end), &wish).unwrap();
    let after = there_and_back(&layout, &placed);
    let special = &after.specials[&placed.specials[0]];
    let Work::Turntable { bridge, roads, .. } = &special.work else { panic!() };
    assert_eq!((roads.len(), roads[0]), (3, end), "the road that was there is the first");
    let bridge = &after.runs[bridge];
    let at = |id: &JointId| (after.joints[id].x_mm, after.joints[id].y_mm);
    for position in 0..6 {
        let stand = stand(&after, special, position).unwrap();
        let near = if position % 2 == 0 { &bridge.from } else { &bridge.to };
        let (x, y) = stand.place(at(near));
        let road = at(&joint_of(&after, roads[position as usize / 2]).unwrap());
        let off = (x - road.0).hypot(y - road.1);
        assert!((off - 1.0).abs() < 1e-6, "position {position}: {off} mm off its road");
    }
    // Anywhere on the plan: what ends at the pit's edge is taken as it is.
    let placed = turntable(&layout, Ground::At(1151.0, 0.0), &wish).unwrap();
    let after = there_and_back(&layout, &placed);
    let Work::Turntable { roads, .. } = &after.specials[&placed.specials[0]].work else { panic!() };
    assert_eq!((roads[0], roads.len()), (end, 3));
}

#[test]
fn a_traverser_stands_at_each_road_in_turn() {
    let layout = straight();
    let wish = TraverserWish { bridge_mm: 300.0, roads: 3, spacing_mm: -50.0, road_mm: 400.0 };
    let end = TrackEnd { run: RunId(1), end: RunEnd::End };
    for ground in [Ground::Before(end), Ground::At(2000.0, 500.0)] {
        let placed = traverser(&layout, ground, &wish).unwrap();
        let after = there_and_back(&layout, &placed);
        let special = &after.specials[&placed.specials[0]];
        let shifts: Vec<f64> =
            (0..4).map(|p| stand(&after, special, p).unwrap().shift.1.round()).collect();
        assert_eq!(shifts, [0.0, 0.0, -50.0, -100.0]);
    }
}

#[test]
fn a_buffer_closes_a_free_end_once() {
    let layout = straight();
    let end = TrackEnd { run: RunId(1), end: RunEnd::Start };
    let placed = buffer(&layout, end).unwrap();
    let after = there_and_back(&layout, &placed);
    assert!(buffer(&after, end).is_err());
}

#[test]
fn deleting_takes_special_work_apart() {
    let layout = straight();
    let delete = |layout: &Layout, ids: &[EntityId]| {
        let mut after = layout.clone();
        let back = apply(&mut after, deletion(layout, ids).unwrap()).unwrap();
        let mut again = after.clone();
        apply(&mut again, back).unwrap();
        assert_eq!(save(&again), save(layout));
        after
    };
    let placed = turnout(&layout, site(1, 500.0, RunEnd::End), &wish(Parting::ThreeWay)).unwrap();
    let three = there_and_back(&layout, &placed);
    // Without one road it is a turnout of two.
    let two = delete(&three, &[placed.laid[0].into()]);
    assert_eq!(two.specials.values().next().unwrap().work.positions(), 2);
    // Without itself, or without its toe, its roads lie apart.
    let apart = delete(&three, &[placed.specials[0].into()]);
    assert_eq!((apart.specials.len(), apart.runs.len()), (0, 4));
    let toeless = delete(&three, &[RunId(1).into()]);
    assert_eq!((toeless.specials.len(), toeless.runs.len()), (0, 3));
    let crossed =
        crossing(&layout, RunId(1), 500.0, &crossing_wish(CrossingKind::DoubleSlip)).unwrap();
    let slip = there_and_back(&layout, &crossed);
    assert_eq!(delete(&slip, &[crossed.laid[0].into()]).runs.len(), 3);
    assert_eq!(delete(&slip, &[crossed.specials[0].into()]).runs.len(), 4);
}

#[test]
fn a_turnout_of_another_hand_takes_along_what_follows() {
    let layout = straight();
    let placed = turnout(&layout, site(1, 500.0, RunEnd::End), &wish(Parting::Left)).unwrap();
    let mut layout = placed.layout;
    let (id, leg) = (placed.specials[0], placed.laid[0]);
    let leg_end = layout.runs[&leg].to;
    let at = (layout.joints[&leg_end].x_mm, layout.joints[&leg_end].y_mm);
    let onwards = 15f64.to_radians();
    let far = End::New(at.0 + 400.0 * onwards.cos(), at.1 + 400.0 * onwards.sin());
    let spur = place_one(&mut layout, End::At(leg_end), far);
    // A cut half way along the road, and one on the spur.
    for (run, at_mm) in [(leg, 200.0), (spur, 100.0)] {
        let (rails, made) = (Rails::Both, Made::default());
        let cut = Edit::Cut { run, at_mm, rails, width_mm: 1.0, stagger_mm: 0.0, made };
        apply(&mut layout, cut).unwrap();
    }
    let now = leaving(&layout, &layout.specials[&id]).unwrap();
    assert_eq!(now, Leaving { parting: Parting::Left, turn_deg: 15.0, length_mm: 250.0 });
    let wish = Leaving { parting: Parting::Right, turn_deg: 10.0, length_mm: 300.0 };
    let after = there_and_back(&layout, &reshaped(&layout, id, &wish).unwrap());
    assert_eq!(leaving(&after, &after.specials[&id]), Some(wish));
    assert_eq!(position_name(&after, &after.specials[&id], 1), "right road");
    // The spur is as long as before and leaves the road in its direction: 10 degrees to the right.
    let end = TrackEnd { run: spur, end: RunEnd::Start };
    let pose = away_from(&after, end, 0.0).unwrap();
    assert!((pose.dy.atan2(pose.dx).to_degrees() + 10.0).abs() < 1e-3);
    assert!((length_mm(&after, &after.runs[&spur]) - 400.0).abs() < 1e-3);
    let cut_at: Vec<f64> = after.cuts.values().map(|cut| cut.at_mm).collect();
    assert!((cut_at[0] - 240.0).abs() < 1e-2, "the same share of the road: {cut_at:?}");
    assert!((cut_at[1] - 100.0).abs() < 1e-6);
    // What goes straight on has not moved.
    let through = after.specials[&id].work.ends()[1].run;
    assert_eq!(layout.joints[&layout.runs[&through].to], after.joints[&after.runs[&through].to]);
}

fn place_one(layout: &mut Layout, from: End, to: End) -> RunId {
    let placed = lay(layout, from, &[(to, Shape::Straight)]).unwrap();
    *layout = placed.layout;
    placed.laid[0]
}

#[test]
fn a_road_that_leads_back_to_its_turnout_does_not_swing() {
    let layout = straight();
    let first = turnout(&layout, site(1, 300.0, RunEnd::End), &wish(Parting::Left)).unwrap();
    let (id, leg) = (first.specials[0], first.laid[0]);
    let mut layout = first.layout;
    let (from, to) = (layout.runs[&leg].to, JointId(2));
    let laid = apply(
        &mut layout,
        Edit::Lay {
            from: End::At(from),
            to: End::At(to),
            shape: Shape::Arc { bend_deg: -40.0 },
            length_mm: None,
        },
    );
    laid.unwrap();
    let now = leaving(&layout, &layout.specials[&id]).unwrap();
    let refused = reshaped(&layout, id, &Leaving { parting: Parting::Right, ..now }).unwrap_err();
    assert!(refused.0.contains("leads back to the turnout"), "{refused}");
    let refused = reshaped(&layout, id, &Leaving { parting: Parting::Wye, ..now }).unwrap_err();
    assert!(refused.0.contains("Only the hand"), "{refused}");
}

proptest! {
    /// A turnout that is bent anew is the turnout that would have been placed so at once.
    #[test]
    fn bent_anew_is_as_placed_anew(
        kind in 0..4usize,
        left in any::<bool>(),
        bend in prop_oneof![Just(0.0), -60.0..60.0f64],
        first in (5.0..40.0f64, 150.0..400.0f64),
        then in (5.0..40.0f64, 150.0..400.0f64),
    ) {
        // A wye at the end of a curve may be a turnout in that curve as well.
        let bend = if kind == 3 { 0.0 } else { bend };
        let shape = if bend == 0.0 { String::new() } else { format!(", shape: Arc(bend_deg: {bend})") };
        let layout = track(
            r#"(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 1500, y_mm: 0)"#,
            &format!(r#"(id: "r1", from: "j1", to: "j2"{shape})"#),
        );
        let hand = |left| if left { Parting::Left } else { Parting::Right };
        let (before, after) = match kind {
            0 | 1 => (hand(left), hand(kind == 0)),
            2 => (Parting::ThreeWay, Parting::ThreeWay),
            _ => (Parting::Wye, Parting::Wye),
        };
        let site = if after == Parting::Wye { site(1, 1e9, RunEnd::End) } else { site(1, 400.0, RunEnd::End) };
        let site = Site { at_mm: site.at_mm.min(length_mm(&layout, &layout.runs[&RunId(1)])), ..site };
        let wished = |parting, (turn_deg, length_mm)| TurnoutWish { turn_deg, length_mm, ..wish(parting) };
        let old = turnout(&layout, site, &wished(before, first)).unwrap();
        let anew = turnout(&layout, site, &wished(after, then)).unwrap().layout;
        let leaving = Leaving { parting: after, turn_deg: then.0, length_mm: then.1 };
        let bent = reshaped(&old.layout, old.specials[0], &leaving).unwrap().layout;
        for (id, joint) in &anew.joints {
            let is = &bent.joints[id];
            prop_assert!((is.x_mm - joint.x_mm).hypot(is.y_mm - joint.y_mm) < 3e-3, "{id}: {is:?} {joint:?}");
        }
        let frog = |layout: &Layout| match layout.specials.values().next().unwrap().work {
            Work::Turnout { frog_mm, frog_length_mm, .. } => [frog_mm, frog_length_mm],
            _ => [f64::NAN; 2],
        };
        let (is, should) = (frog(&bent), frog(&anew));
        prop_assert!(is.iter().zip(should).all(|(is, should)| (is - should).abs() < 0.15), "{is:?} {should:?}");
    }
}
