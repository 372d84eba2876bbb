//! Planning: the fewest cuts that keep stretches apart, and feeds that make the check clear.

use gapwright::cure::applied;
use gapwright::findings::{Class, Kind, Memo, check};
use gapwright::job::Job;
use gapwright::layout::{self, Layout, Rail, Rails};
use gapwright::planning::{
    At, Hand, Hold, Longest, Planned, Wishes, audit, finished, plan, wishes_of, wishes_text,
};

/// An oval with a passing siding and a stub yard: main line M, platform road P, loop L, and a yard lead D to three roads.
/// All turnouts are power-routing.
fn oval(more: &str) -> Layout {
    let turnout = |id: u32, toe: &str, exits: &str| {
        format!(
            r#"(id: "w{id}", work: Turnout(toe: {toe}, exits: [{exits}], frog: PowerRouting, frog_mm: 120)),"#
        )
    };
    let end = |run: &str, end: &str| format!(r#"(run: "{run}", end: {end})"#);
    let specials: String = [
        turnout(101, &end("r7", "End"), &[end("r2", "Start"), end("r3", "Start")].join(", ")),
        turnout(102, &end("r4", "Start"), &[end("r2", "End"), end("r3", "End")].join(", ")),
        turnout(103, &end("r4", "End"), &[end("r5", "Start"), end("r8", "Start")].join(", ")),
        turnout(104, &end("r8", "End"), &[end("r9", "Start"), end("r10", "Start")].join(", ")),
        turnout(105, &end("r9", "End"), &[end("r11", "Start"), end("r12", "Start")].join(", ")),
    ]
    .concat();
    let text = format!(
        r#"(version: 1, joints: [
            (id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 1000, y_mm: 0), (id: "j3", x_mm: 2000, y_mm: 0),
            (id: "j4", x_mm: 2000, y_mm: 2000), (id: "j5", x_mm: 0, y_mm: 2000), (id: "j6", x_mm: 2800, y_mm: -300),
            (id: "j7", x_mm: 3400, y_mm: -525), (id: "j8", x_mm: 3300, y_mm: -700), (id: "j9", x_mm: 4000, y_mm: -750),
            (id: "j10", x_mm: 3900, y_mm: -950)],
        runs: [
            (id: "r2", from: "j1", to: "j2"), (id: "r3", from: "j1", to: "j2", shape: Arc(bend_deg: 40)),
            (id: "r4", from: "j2", to: "j3"), (id: "r5", from: "j3", to: "j4", shape: Arc(bend_deg: 180)),
            (id: "r6", from: "j4", to: "j5"), (id: "r7", from: "j5", to: "j1", shape: Arc(bend_deg: 180)),
            (id: "r8", from: "j3", to: "j6"), (id: "r9", from: "j6", to: "j7"), (id: "r10", from: "j6", to: "j8"),
            (id: "r11", from: "j7", to: "j9"), (id: "r12", from: "j7", to: "j10")],
        specials: [{specials}], {more})"#
    );
    layout::load(&text).unwrap_or_else(|errors| panic!("{errors:?}\n{text}")).layout
}

const NAMES: &str = r#"labels: [(id: "n201", name: "M", run: "r4", at_mm: 500), (id: "n202", name: "M", run: "r6", at_mm: 1000),
    (id: "n203", name: "P", run: "r2", at_mm: 500), (id: "n204", name: "L", run: "r3", at_mm: 500),
    (id: "n205", name: "D", run: "r8", at_mm: 500)]"#;

fn planned(layout: &Layout, wishes: &Wishes) -> Planned {
    plan(layout, wishes).unwrap_or_else(|why| panic!("{why}"))
}

fn after(layout: &Layout, planned: &Planned) -> Layout {
    let jobs: Vec<Job> = planned.jobs.iter().map(|(job, _)| job.clone()).collect();
    applied(layout, &jobs).unwrap()
}

fn faults(layout: &Layout) -> Vec<Kind> {
    let report = check(layout);
    report.findings.iter().filter(|f| f.class == Class::Fault).map(|f| f.kind).collect()
}

/// The counts of the table were made by hitting sets over all 32 joint positions of the points.
#[test]
fn an_oval_with_siding_and_yard_takes_as_few_cuts_as_hitting_sets_over_all_positions() {
    let layout = oval(NAMES);
    let wishes = wishes_of(&layout);
    for (rails, cuts, wires) in
        [(Hand::Both, 11, 9), (Hand::Common(Rail::Right), 8, 0), (Hand::Common(Rail::Left), 9, 0)]
    {
        let planned = planned(&layout, &Wishes { rails, ..wishes.clone() });
        assert_eq!(planned.rail_cuts, cuts, "{rails:?}: {:#?}", planned.jobs);
        assert!(planned.fewest_by_labels);
        if wires > 0 {
            assert_eq!(planned.wires, wires, "{:#?}", planned.jobs);
        }
    }
}

#[test]
fn the_main_line_beyond_the_yard_may_go_dead_with_one_cut_less() {
    let layout = oval(&NAMES.replace(r#"(id: "n202", name: "M", run: "r6", at_mm: 1000),"#, ""));
    let planned = planned(&layout, &wishes_of(&layout));
    assert_eq!(planned.rail_cuts, 10, "{:#?}", planned.jobs);
    assert_eq!(planned.wires, 8);
}

#[test]
fn the_check_has_no_fault_after_a_plan_from_bare_track() {
    let layout = oval(NAMES);
    let wishes = wishes_of(&layout);
    assert_eq!(planned(&layout, &wishes).drivers, 4);
    // The main line is so long that it takes a further feeder for a short at its far end to trip anything.
    let finished = finished(&layout, &wishes).unwrap();
    let layout = after(&layout, &finished.planned);
    assert_eq!(layout, finished.layout);
    assert_eq!(faults(&layout), []);
    // Four stretches, each with a driver of its own.
    let report = check(&layout);
    for name in ["M", "P", "L", "D"] {
        let block = report.blocks.iter().find(|b| b.name == name);
        assert_eq!(block.map(|b| b.drivers.len()), Some(1), "{name}");
    }
}

#[test]
fn a_plan_that_was_followed_is_empty() {
    let bare = oval(NAMES);
    let once = after(&bare, &planned(&bare, &wishes_of(&bare)));
    let again = planned(&once, &wishes_of(&once));
    assert_eq!(again.jobs, []);
}

#[test]
fn no_cut_of_a_plan_can_be_left_out() {
    let layout = oval(NAMES);
    let planned = planned(&layout, &wishes_of(&layout));
    let jobs: Vec<Job> = planned.jobs.iter().map(|(job, _)| job.clone()).collect();
    for (at, job) in jobs.iter().enumerate() {
        let Job::AddCut { rails, run, at_mm } = job.clone() else { continue };
        let one_rail = match rails {
            Rails::Both => vec![Rails::Left, Rails::Right],
            _ => vec![],
        };
        let without =
            one_rail.into_iter().map(|rails| Some(Job::AddCut { rails, run, at_mm })).chain([None]);
        for instead in without {
            let mut fewer = jobs.clone();
            match instead {
                Some(job) => fewer[at] = job,
                // Identities are given in order, so the feeds would go to others: bridge it afterwards.
                None => fewer.push(Job::BridgeCut(layout::CutId(layout.next_id + at as u32))),
            }
            let edited = applied(&layout, &fewer).unwrap();
            let (before, now) = (check(&after(&layout, &planned)), check(&edited));
            let worse = now.findings.len() > before.findings.len() || now.verdict > before.verdict;
            let merged = now.blocks.len() < before.blocks.len();
            assert!(worse || merged, "{job:?} is not needed");
        }
    }
}

#[test]
fn names_of_one_block_that_shorts_are_planned_apart_with_the_feeds_that_are_there() {
    let more = format!(
        r#"{NAMES}, supplies: [(id: "s301", open_v: 14, source_ohm: 0.1)],
        drivers: [(id: "d302", supply: "s301", drive: PwmBridge(clock: (hz: 490), idle: HighImpedance),
            high_ohm: 0.15, low_ohm: 0.15, diode_v: 0.7, diode_ohm: 0.05, setting: (direction: Forward, throttle: 0.4))],
        feeds: [(id: "f303", driver: "d302", run: "r4", at_mm: 300, p: Left, m: Right, ohm: 0.1)]"#
    );
    let layout = oval(&more);
    let planned = planned(&layout, &wishes_of(&layout));
    assert_eq!(
        (planned.rail_cuts, planned.wires, planned.drivers),
        (11, 7, 3),
        "{:#?}",
        planned.jobs
    );
    let layout = after(&layout, &planned);
    // The new drivers have no trip to go by where the old one has none.
    let short: Vec<Kind> = faults(&layout)
        .into_iter()
        .filter(|kind| !matches!(kind, Kind::CoinTestFails | Kind::WireTooThin))
        .collect();
    assert_eq!(short, []);
}

#[test]
fn what_cannot_be_planned_is_said() {
    let bare = oval("");
    let why = plan(&bare, &wishes_of(&bare)).unwrap_err().to_string();
    assert!(why.contains("Name at least two stretches"), "{why}");
    let text = "(apart: [(name: \"A\", at: [(run: \"r4\", at_mm: 9000)]), (name: \"B\", at: [(run: \"r2\", at_mm: 1)])])";
    let why = plan(&bare, &wishes_text(text).unwrap()).unwrap_err().to_string();
    assert!(why.contains("9000 mm along run r4"), "{why}");
    let why = wishes_text("(apart: [(name: 3)])").unwrap_err().to_string();
    assert!(why.starts_with("line 1, column"), "{why}");
    let mut loops = super::samples::sample("dogbone");
    loops.labels.clear();
    let why = plan(&loops, &wishes_of(&loops)).unwrap_err().to_string();
    assert!(why.contains("Name the stretch that is to be the main line"), "{why}");
    // No half of the crossover, and no loop between it and the gaps, is as long as that.
    let endless = Wishes {
        longest: Some(Longest::Mm(20_000.0)),
        ..wishes_of(&super::samples::sample("dogbone"))
    };
    let why = plan(&super::samples::sample("dogbone"), &endless).unwrap_err().to_string();
    assert!(why.contains("20200 mm between any two of its ends"), "{why}");
}

#[test]
fn nothing_is_cut_where_nothing_may_be() {
    let layout = oval(NAMES);
    let mut wishes = wishes_of(&layout);
    let free = planned(&layout, &wishes);
    let on_p = |planned: &Planned| {
        let cuts = planned.jobs.iter().filter_map(|(job, _)| match job {
            Job::AddCut { run, at_mm, .. } if run.0 == 2 => Some(*at_mm),
            _ => None,
        });
        cuts.collect::<Vec<f64>>()
    };
    assert!(on_p(&free).iter().any(|mm| *mm < 300.0), "{:?}", on_p(&free));
    wishes.never.push((layout::RunId(2), 0.0, 300.0));
    match plan(&layout, &wishes) {
        Ok(barred) => assert!(on_p(&barred).iter().all(|mm| *mm > 300.0), "{:?}", on_p(&barred)),
        Err(why) => assert!(why.to_string().contains("no room for a gap"), "{why}"),
    }
}

/// The middle of a train that is held on a road of the yard.
fn held(run: u32, may_go_dark: bool) -> Hold {
    Hold { at: At { run: layout::RunId(run), at_mm: 400.0 }, train: None, may_go_dark }
}

#[test]
fn trains_held_beyond_points_take_no_cut_and_blocks_of_their_own_six() {
    let layout = oval(NAMES);
    let mut wishes = wishes_of(&layout);
    let roads = [10, 11, 12];
    wishes.hold = roads.map(|run| held(run, true)).to_vec();
    assert_eq!(planned(&layout, &wishes).rail_cuts, 11);
    // The figure is that of hitting sets over all 32 joint positions.
    wishes.hold = roads.map(|run| held(run, false)).to_vec();
    let plan = planned(&layout, &wishes);
    assert_eq!(plan.rail_cuts, 17, "{:#?}", plan.jobs);
    let switches = plan.jobs.iter().filter(|(job, _)| matches!(job, Job::AddSwitchedFeed { .. }));
    assert_eq!(switches.count(), 3);
    // No gap under the train: 210 mm of it, and 100 mm at each end.
    for (job, _) in &plan.jobs {
        if let Job::AddCut { run, at_mm, .. } = job
            && roads.contains(&run.0)
        {
            assert!((at_mm - 400.0).abs() >= 205.0, "{at_mm}");
        }
    }
    let done = finished(&layout, &wishes).unwrap().layout;
    assert_eq!(faults(&done), []);
    assert_eq!(planned(&done, &wishes).jobs, []);
}

#[test]
fn a_train_that_has_no_room_is_not_held() {
    let layout = oval(NAMES);
    let mut wishes = wishes_of(&layout);
    wishes.hold = vec![Hold { train: Some(Longest::Mm(900.0)), ..held(11, false) }];
    let why = plan(&layout, &wishes).unwrap_err().to_string();
    assert!(why.contains("1100 mm of plain track"), "{why}");
}

const TWO_BRIDGES: &str = r#"supplies: [(id: "s301", open_v: 14, source_ohm: 0.1)],
    drivers: [
        (id: "d302", name: "West", supply: "s301", drive: PwmBridge(clock: (hz: 490), idle: HighImpedance),
            high_ohm: 0.15, low_ohm: 0.15, diode_v: 0.7, diode_ohm: 0.05, setting: (direction: Forward, throttle: 0.4)),
        (id: "d303", name: "East", supply: "s301", drive: PwmBridge(clock: (hz: 490), idle: HighImpedance),
            high_ohm: 0.15, low_ohm: 0.15, diode_v: 0.7, diode_ohm: 0.05, setting: (direction: Forward, throttle: 0.4))],
    feeds: [(id: "f304", driver: "d302", run: "r4", at_mm: 300, p: Left, m: Right, ohm: 0.1)]"#;

#[test]
fn full_bridges_on_one_supply_share_no_rail() {
    let layout = oval(&format!("{NAMES}, {TWO_BRIDGES}"));
    let mut wishes = wishes_of(&layout);
    let of = |wishes: &mut Wishes, name: &str, driver: u32| {
        let stretch = wishes.apart.iter_mut().find(|s| s.name == name).unwrap();
        stretch.driver = Some(layout::DriverId(driver));
    };
    of(&mut wishes, "P", 303);
    wishes.rails = Hand::Common(Rail::Right);
    let why = plan(&layout, &wishes).unwrap_err().to_string();
    assert!(why.contains("West and East are full bridges on one supply"), "{why}");
    wishes.rails = Hand::Both;
    let plan = planned(&layout, &wishes);
    assert_eq!(plan.shared, Vec::<[String; 2]>::new());
    // M is fed by West already.
    of(&mut wishes, "P", 302);
    let plan = planned(&layout, &wishes);
    assert_eq!(plan.shared, [["M".to_owned(), "P".to_owned()]]);
}

#[test]
fn an_audit_says_what_breaks_without_each_cut() {
    let bare = oval(NAMES);
    let wishes = wishes_of(&bare);
    let mut done = finished(&bare, &wishes).unwrap().layout;
    let audited = audit(&done, &wishes, &Memo::default());
    assert!(audited.iter().all(|cut| !cut.breaks.is_empty()), "{audited:#?}");
    let says = audited.iter().flat_map(|cut| &cut.breaks).cloned().collect::<String>();
    assert!(says.contains("are joined"), "{says}");
    // A second gap beside one that is there parts nothing more.
    let needless = Job::AddCut { run: layout::RunId(6), at_mm: 500.0, rails: Rails::Left };
    let next = done.next_id;
    done = applied(&done, &[needless]).unwrap();
    let audited = audit(&done, &wishes, &Memo::default());
    let found = audited.iter().find(|cut| cut.cut.0 == next).unwrap();
    assert_eq!(found.breaks, Vec::<String>::new());
}

#[test]
fn a_hold_that_no_switch_makes_dead_is_refused_and_a_train_that_is_none_too() {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-layouts/dogbone.gapwright");
    let dogbone = layout::read_path(std::path::Path::new(file)).unwrap().layout;
    // The feeder that is there feeds the track of the hold too, and nothing is named that would be cut off.
    let wishes = |train: &str| {
        let text = format!(
            r#"(apart: [(name: "N0", at: [(run: "r4", at_mm: 396)])],
            hold: [(at: (run: "r2", at_mm: 1274), train: Some({train}))])"#
        );
        gapwright::planning::wishes_text(&text).unwrap()
    };
    let why = |train: &str| match finished(&dogbone, &wishes(train)) {
        Err(why) => why.to_string(),
        Ok(done) => panic!("{:#?}", done.planned.jobs),
    };
    let refused = why("Mm(300)");
    assert!(refused.contains("run r2 cannot be switched off"), "{refused}");
    assert!(why("Mm(-1)").contains("no length of a train"));
    assert!(why("Train(\"t99\")").contains("no train t99"));
}
