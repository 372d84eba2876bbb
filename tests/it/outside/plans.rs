//! Standing shorts on random small layouts of turnouts, diamonds, slips and bonds, against brute force: every joint
//! position is set in turn, and petgraph's union-find tells whether a driver's two poles are then joined.

use std::collections::BTreeMap;

use gapwright::layout::*;
use gapwright::rails::standing::{Budget, joined};
use gapwright::rails::{Paths, Plan, Positions, SelectorId};
use petgraph::unionfind::UnionFind;

/// A small source of numbers, the same on every machine (xorshift64*, G. Marsaglia and S. Vigna).
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 33) as usize % n.max(1)
    }

    fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }
}

/// One to three pieces of special work whose far ends are joined at random, with cuts, bonds and feeds at random.
fn layout(dice: &mut Dice) -> Layout {
    let mut layout = Layout::default();
    let mut next = 1;
    let mut fresh = || {
        next += 1;
        next - 1
    };
    let pieces = 1 + dice.below(3);
    let mut free: Vec<TrackEnd> = Vec::new();
    for k in 0..pieces {
        let (x, y) = (k as f64 * 3000.0, 0.0);
        let middle = JointId(fresh());
        layout
            .joints
            .insert(middle, Joint { id: middle, x_mm: x, y_mm: y, joiners: Default::default() });
        let crossing = dice.one_in(4);
        let spokes: &[(f64, f64)] = if crossing {
            &[(-400.0, 50.0), (-400.0, -50.0), (400.0, -50.0), (400.0, 50.0)]
        } else {
            &[
                (-400.0, 0.0),
                (400.0, 0.0),
                (400.0, if k % 2 == 0 { 80.0 } else { -80.0 }),
                (400.0, 160.0),
            ]
        };
        let count = if crossing { 4 } else { 3 + usize::from(dice.one_in(5)) };
        let ends: Vec<TrackEnd> = spokes[..count]
            .iter()
            .map(|&(dx, dy)| {
                let far = JointId(fresh());
                layout.joints.insert(
                    far,
                    Joint { id: far, x_mm: x + dx, y_mm: y + dy, joiners: Default::default() },
                );
                let id = RunId(fresh());
                let inwards = dice.one_in(2);
                let (from, to) = if inwards { (far, middle) } else { (middle, far) };
                let run = Run { id, from, to, shape: Shape::Straight, length_mm: None };
                layout.runs.insert(id, run);
                let (here, there) = if inwards {
                    (RunEnd::End, RunEnd::Start)
                } else {
                    (RunEnd::Start, RunEnd::End)
                };
                free.push(TrackEnd { run: id, end: there });
                TrackEnd { run: id, end: here }
            })
            .collect();
        let frogs =
            [Frog::PowerRouting, Frog::PowerRoutingWithContact, Frog::Switched, Frog::Insulated];
        let frog = frogs[dice.below(4)];
        let work = if crossing {
            let frog = if dice.one_in(2) { Frog::Switched } else { Frog::Insulated };
            let roads = [[ends[0], ends[2]], [ends[1], ends[3]]];
            let (frog_mm, frog_length_mm) = (100.0, 20.0);
            match dice.below(3) {
                0 => Work::Diamond { roads, frog, frog_mm, frog_length_mm },
                double => Work::Slip { roads, double: double == 2, frog, frog_mm, frog_length_mm },
            }
        } else {
            Work::Turnout {
                toe: ends[0],
                exits: ends[1..].to_vec(),
                frog,
                frog_mm: 150.0,
                frog_length_mm: 20.0,
                closures_bonded: !dice.one_in(4),
                exits_bonded: !dice.one_in(4),
                open_mm: 2.0,
            }
        };
        let id = SpecialId(fresh());
        let gang =
            if dice.one_in(6) && work.positions() == 2 { "g".to_owned() } else { String::new() };
        let special = Special {
            id,
            name: String::new(),
            work,
            position: 0,
            contact: Contact::default(),
            gang,
            notes: String::new(),
        };
        layout.specials.insert(id, special);
    }
    // Join some free ends: a run between their far joints.
    while free.len() > 1 && !dice.one_in(3) {
        let a = free.swap_remove(dice.below(free.len()));
        let b = free.swap_remove(dice.below(free.len()));
        let joint = |end: TrackEnd| {
            let run = &layout.runs[&end.run];
            if end.end == RunEnd::Start { run.from } else { run.to }
        };
        let (from, to) = (joint(a), joint(b));
        let id = RunId(fresh());
        layout.runs.insert(id, Run { id, from, to, shape: Shape::Straight, length_mm: None });
    }
    let runs: Vec<RunId> = layout.runs.keys().copied().collect();
    let length = |layout: &Layout, run: RunId| length_mm(layout, &layout.runs[&run]);
    let spot = |layout: &Layout, dice: &mut Dice| {
        let run = runs[dice.below(runs.len())];
        let at_mm = length(layout, run) * (dice.below(99) as f64 + 0.5) / 100.0;
        let rail = if dice.one_in(2) { Rail::Left } else { Rail::Right };
        Spot { run, at_mm, rail }
    };
    for _ in 0..dice.below(4) {
        let Spot { run, at_mm, rail } = spot(&layout, dice);
        let rails = match dice.below(4) {
            0 if rail == Rail::Left => Rails::Left,
            0 => Rails::Right,
            _ => Rails::Both,
        };
        // Two saws do not take away the same piece.
        if layout.cuts.values().any(|c| c.run == run && (c.at_mm - at_mm).abs() < 1.0) {
            continue;
        }
        let id = CutId(fresh());
        layout.cuts.insert(
            id,
            Cut {
                id,
                name: String::new(),
                run,
                at_mm,
                rails,
                width_mm: 0.8,
                stagger_mm: 0.0,
                made: Made::Open,
                cut_at_c: None,
                notes: String::new(),
            },
        );
    }
    if dice.one_in(5) {
        let id = BondId(fresh());
        let (from, to) = (spot(&layout, dice), spot(&layout, dice));
        layout.bonds.insert(id, Bond { id, from, to });
    }
    let supply = defaults::supply();
    let supply = Supply { id: SupplyId(fresh()), ..supply };
    let driver = DriverId(fresh());
    let drive = defaults::pwm_bridge(Idle::BrakeLow);
    layout.drivers.insert(driver, Driver { id: driver, ..defaults::driver(supply.id, drive) });
    layout.supplies.insert(supply.id, supply);
    let mut origins: Vec<Origin> = vec![driver.into()];
    if dice.one_in(3) {
        let id = DeviceId(fresh());
        let kind = if dice.one_in(2) {
            DeviceKind::ReversingSwitch { from: driver.into(), centre_off: dice.one_in(2) }
        } else {
            DeviceKind::CabSelector { cabs: vec![Some(driver.into()), None] }
        };
        let (name, gang, notes) = (String::new(), String::new(), String::new());
        let ohm = default_device_ohm();
        layout.devices.insert(id, Device { id, name, kind, ohm, position: 0, gang, notes });
        origins.push(id.into());
    }
    for _ in 0..1 + dice.below(3) {
        let Spot { run, at_mm, rail } = spot(&layout, dice);
        let id = FeedId(fresh());
        let driver = origins[dice.below(origins.len())];
        let (p, m) = (Some(rail), Some(rail.other()));
        layout.feeds.insert(id, Feed { id, driver, run, at_mm, p, m, wire: None, ohm: None });
    }
    layout.next_id = next;
    layout
}

/// Whether the poles of the driver are joined with everything set so: by the rails, by wires from one origin to several
/// places, by devices.
fn shorted(
    layout: &Layout,
    plan: &Plan,
    driver: DriverId,
    positions: &BTreeMap<SelectorId, u32>,
) -> bool {
    let mut set = Positions::default();
    for (&selector, &position) in positions {
        set.throw(layout, selector, position);
    }
    let plan = plan.at(layout, set.clone());
    let origins: Vec<Origin> = layout
        .drivers
        .keys()
        .map(|&id| id.into())
        .chain(layout.devices.keys().map(|&id| id.into()))
        .collect();
    let nets = plan.nets.len();
    let mut joined = UnionFind::<usize>::new(nets + 2 * origins.len());
    let pole = |origin: Origin, p: bool| {
        nets + 2 * origins.iter().position(|o| *o == origin).unwrap() + usize::from(!p)
    };
    for feed in layout.feeds.values() {
        for (rail, p) in [(feed.p, true), (feed.m, false)] {
            let net = plan.metal.net_at(feed.run, rail.unwrap(), feed.at_mm).unwrap();
            joined.union(plan.net_of_metal[net], pole(feed.driver, p));
        }
    }
    for device in layout.devices.values() {
        let position = set.of(layout, SelectorId::Device(device.id));
        if let Some((from, swapped)) = device.kind.at(position) {
            for p in [true, false] {
                joined.union(pole(from, p), pole(device.id.into(), p != swapped));
            }
        }
    }
    joined.equiv(pole(driver.into(), true), pole(driver.into(), false))
}

/// Tries a number of random layouts; returns how many of them have a short in some position and not in every.
fn against_brute_force(seed: u64, wanted: usize) -> usize {
    let mut dice = Dice(seed);
    let (mut tried, mut telling) = (0, 0);
    while tried < wanted {
        let layout = layout(&mut dice);
        tried += 1;
        if tried % 500 == 1 {
            // What is made here is a layout that could be in a file.
            let text = save(&layout);
            load(&text).unwrap_or_else(|e| panic!("{e:?}\n{text}"));
        }
        let plan = Plan::derive(&layout);
        let paths = Paths::of(&layout, &plan, None);
        let Some((&driver, &[p, m])) = paths.poles.iter().next() else { continue };
        let found = joined(&paths.switched, &[[p, m]], Budget::default());
        assert!(found.exhaustive);
        let mut all: Vec<BTreeMap<SelectorId, u32>> = vec![BTreeMap::new()];
        for &selector in &paths.selectors {
            all = all
                .into_iter()
                .flat_map(|set| {
                    (0..selector.positions(&layout)).map(move |position| {
                        let mut set = set.clone();
                        set.insert(selector, position);
                        set
                    })
                })
                .collect();
        }
        let mut shorts = 0;
        for set in &all {
            let told = found.sets.iter().any(|needs| {
                needs.iter().all(|&(at, mask)| mask >> set[&paths.selectors[at]] & 1 == 1)
            });
            let short = shorted(&layout, &plan, driver, set);
            assert_eq!(told, short, "{set:?}, found {:?} in\n{}", found.sets, save(&layout));
            shorts += usize::from(short);
        }
        telling += usize::from(shorts > 0 && shorts < all.len());
    }
    telling
}

#[test]
fn no_short_is_missed_and_none_invented_on_random_layouts() {
    // Four seeds on as many threads as there are: 100,000 layouts in all.
    let parts: Vec<_> = (1..=4u64)
        .map(|seed| std::thread::spawn(move || against_brute_force(seed * 7919, 25_000)))
        .collect();
    for part in parts {
        let telling = part.join().unwrap();
        assert!(telling > 1_000, "only {telling} layouts short in some positions");
    }
}
