//! Any series of edits: each is refused without a trace, or done and undone to the byte.
#![no_main]

use std::collections::BTreeMap;

use gapwright::layout::place::{
    self, CrossingKind, CrossingWish, Ground, Leaving, Parting, Site, TraverserWish, TurnoutWish,
    TurntableWish,
};
use gapwright::layout::{
    CutId, Direction, DriverId, Edit, End, Entity, EntityId, FeedId, Frog, History, JointId,
    Layout, Lineup, Made, Rail, Rails, Refused, RunEnd, RunId, Setting, Shape, SupplyId, TrackEnd,
    Turn, bulk, defaults, load, save,
};
use libfuzzer_sys::fuzz_target;

/// What is edited: nothing, or a layout with special work, devices and trains.
const STARTS: [&str; 5] = [
    "(version: 1)",
    include_str!("../../sample-layouts/wye.gapwright"),
    include_str!("../../sample-layouts/turntable.gapwright"),
    include_str!("../../sample-layouts/terminus.gapwright"),
    include_str!("../../sample-layouts/transfer.gapwright"),
];

/// Everything on a layout by its number.
fn numbered(layout: &Layout) -> BTreeMap<u32, EntityId> {
    let mut there = BTreeMap::new();
    macro_rules! take {
        ($($list:ident)*) => {
            $(there.extend(layout.$list.keys().map(|&id| (id.0, EntityId::from(id))));)*
        };
    }
    take!(joints runs cuts labels supplies drivers feeds vehicles specials devices bonds trains lineups);
    there
}

/// One edit from eight bytes. Its numbers are small, so that they often meet something that is there.
fn edit(layout: &Layout, bytes: &[u8; 8]) -> Result<Edit, Refused> {
    let [kind, a, b, c, d, e, f, g] = *bytes;
    let wide = |high: u8, low: u8| f64::from(i16::from_be_bytes([high, low])) / 8.0;
    let (x, y) = (wide(b, c), wide(d, e));
    let run = RunId(u32::from(a) % 64);
    let end = TrackEnd { run, end: [RunEnd::Start, RunEnd::End][usize::from(g % 2)] };
    let number = u32::from(f) % 64;
    let frog = [Frog::Insulated, Frog::PowerRouting, Frog::PowerRoutingWithContact, Frog::Switched]
        [usize::from(f % 4)];
    let shape = match g % 3 {
        0 => Shape::Straight,
        1 => Shape::Arc { bend_deg: wide(f, g) / 8.0 },
        _ => Shape::Cubic { c1: (y, x), c2: (x, wide(f, g)) },
    };
    let joints = vec![JointId(number), JointId(number + 1)];
    let there = numbered(layout);
    let things: Vec<EntityId> =
        [number, u32::from(g) % 64].iter().filter_map(|n| there.get(n).copied()).collect();
    Ok(match kind % 31 {
        0 => Edit::Lay { from: End::New(x, y), to: End::New(y, x), shape, length_mm: None },
        1 => Edit::Lay {
            from: End::At(JointId(number)),
            to: End::New(x, y),
            shape,
            length_mm: Some(wide(e, f)),
        },
        2 => Edit::Cut {
            run,
            at_mm: x,
            rails: [Rails::Both, Rails::Left, Rails::Right][usize::from(g % 3)],
            width_mm: f64::from(f) / 64.0,
            stagger_mm: wide(e, g) / 64.0,
            made: if g & 64 == 0 { Made::Open } else { Made::InsulatedJoiner },
        },
        3 => Edit::Split { run, at_mm: x },
        4 => Edit::Move { joints, dx_mm: x, dy_mm: y },
        5 => Edit::Delete(things),
        6 => Edit::Name { run, at_mm: x, name: char::from(g).to_string() },
        7 => Edit::Add(defaults::supply().into()),
        8 => {
            let mut drives = gapwright::drive::examples();
            let drive = drives.swap_remove(usize::from(g) % drives.len());
            Edit::Add(defaults::driver(SupplyId(number), drive).into())
        }
        9 => Edit::Feed {
            driver: DriverId(number).into(),
            run,
            at_mm: x,
            p: Some(Rail::Right),
            m: (g & 1 == 0).then_some(Rail::Left),
            wire: None,
            ohm: None,
        },
        10 => Edit::Swap { feed: FeedId(number) },
        11 => {
            let vehicle = layout.vehicles.keys().nth(usize::from(g) % 4).copied();
            Edit::Add(defaults::train(vehicle.as_slice()).into())
        }
        12 => Edit::Join { joint: JointId(number) },
        13 => {
            Edit::Turn { joints, turn: Turn { about: (y, x), mirrored: g & 1 == 0, turn_deg: x } }
        }
        14 => Edit::Add(defaults::vehicles().swap_remove(usize::from(g % 5)).into()),
        15 => {
            let parting = [Parting::Left, Parting::Right, Parting::Wye, Parting::ThreeWay]
                [usize::from(d % 4)];
            let wish = TurnoutWish {
                parting,
                frog,
                turn_deg: f64::from(e) / 4.0,
                length_mm: f64::from(g) * 2.0,
                through_deg: 0.0,
            };
            place::turnout(layout, Site { run, at_mm: x, towards: end.end }, &wish)?.edit
        }
        16 => {
            let kind = [CrossingKind::Diamond, CrossingKind::SingleSlip, CrossingKind::DoubleSlip]
                [usize::from(d % 3)];
            let wish = CrossingWish { kind, frog, angle_deg: f64::from(e), length_mm: y };
            if g & 1 == 0 {
                place::crossing(layout, run, x, &wish)?.edit
            } else {
                place::crossing_of(layout, (run, x), RunId(number), &wish)?.edit
            }
        }
        17 => {
            let site = Site { run, at_mm: x, towards: end.end };
            place::crossover(layout, site, None, f64::from(e) / 4.0, frog)?.edit
        }
        18 => {
            let wish = TurntableWish {
                bridge_mm: f64::from(f) * 2.0,
                roads_deg: (0..d % 8).map(|road| f64::from(road) * f64::from(e) / 2.0).collect(),
                road_mm: 100.0,
                exchange_deg: (f & 1 == 0).then_some(f64::from(e)),
            };
            let ground = if f & 2 == 0 { Ground::Before(end) } else { Ground::At(x, y) };
            place::turntable(layout, ground, &wish)?.edit
        }
        19 => {
            let wish = TraverserWish {
                bridge_mm: f64::from(f) * 2.0,
                roads: u32::from(d % 8),
                spacing_mm: f64::from(e),
                road_mm: 100.0,
            };
            place::traverser(layout, Ground::Before(end), &wish)?.edit
        }
        20 => place::buffer(layout, end)?.edit,
        21 => place::deletion(layout, &things)?,
        22 => Edit::Throw { selector: *things.last().unwrap_or(&run.into()), position: g.into() },
        23 => Edit::Add(Lineup::now(layout, "as it stands").into()),
        24 => match layout.lineups.values().next() {
            Some(lineup) => lineup.set(layout),
            None => Edit::Batch(Vec::new()),
        },
        25 => bulk::moved(layout, joints, (x, y)),
        26 => bulk::parallel(layout, &[run, RunId(number)], y)?,
        27 => bulk::paste(layout, &bulk::piece(layout, &things), (x, y))?.0,
        28 => Edit::Set {
            driver: DriverId(number),
            setting: Setting { direction: Direction::Reverse, throttle: x / 64.0 },
        },
        29 => {
            let id = things.iter().find_map(|thing| match thing {
                EntityId::Special(id) => Some(*id),
                _ => None,
            });
            let special = id.and_then(|id| layout.specials.get(&id));
            let Some((special, now)) = special.and_then(|s| Some((s, place::leaving(layout, s)?)))
            else {
                return Ok(Edit::Batch(Vec::new()));
            };
            let parting = [Parting::Left, Parting::Right, now.parting][usize::from(a % 3)];
            let wish = Leaving { parting, turn_deg: now.turn_deg * f64::from(b) / 64.0, ..now };
            place::reshaped(layout, special.id, &wish)?.edit
        }
        _ => match layout.cuts.get(&CutId(number)) {
            Some(cut) => {
                let (rails, at_mm) = (Rails::Both, x);
                Edit::Replace(Entity::Cut(gapwright::layout::Cut { rails, at_mm, ..cut.clone() }))
            }
            None => Edit::Power { supply: SupplyId(number), on: g & 1 == 0 },
        },
    })
}

fuzz_target!(|bytes: &[u8]| {
    let Some((start, bytes)) = bytes.split_first() else { return };
    let start = load(STARTS[usize::from(*start) % STARTS.len()]).expect("the start loads");
    let mut layout = start.layout;
    let mut history = History::default();
    let mut files = vec![save(&layout)];
    let (pieces, _) = bytes.as_chunks::<8>();
    for piece in pieces.iter().take(64) {
        let before = layout.clone();
        let steps = history.undo_steps();
        let done = edit(&layout, piece).and_then(|edit| history.do_edit(&mut layout, edit));
        match done {
            Ok(_) if history.undo_steps() > steps => {
                let file = save(&layout);
                assert_eq!(load(&file).expect("what was saved loads").layout, layout);
                files.push(file);
            }
            _ => assert_eq!(layout, before),
        }
    }
    for file in files.iter().rev().skip(1) {
        assert!(history.undo(&mut layout).expect("undone"));
        assert_eq!(&save(&layout), file);
    }
    for file in files.iter().skip(1) {
        assert!(history.redo(&mut layout).expect("redone"));
        assert_eq!(&save(&layout), file);
    }
});
