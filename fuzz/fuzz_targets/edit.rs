//! Any series of edits: each is refused without a trace, or done and undone to the byte.
#![no_main]

use gapwright::layout::{
    CutId, Edit, End, EntityId, FeedId, History, JointId, Layout, Made, Rail, Rails, RunId, Shape,
    SupplyId, Turn, VehicleId, defaults, load, save,
};
use libfuzzer_sys::fuzz_target;

/// One edit from eight bytes; numbers are small, so that they often meet something that is there.
fn edit(bytes: &[u8; 8]) -> Edit {
    let [kind, a, b, c, d, e, f, g] = *bytes;
    let wide = |high: u8, low: u8| f64::from(i16::from_be_bytes([high, low])) / 8.0;
    let (x, y) = (wide(b, c), wide(d, e));
    let run = RunId(u32::from(a) % 64);
    let number = u32::from(f) % 64;
    let shape = match g % 3 {
        0 => Shape::Straight,
        1 => Shape::Arc { bend_deg: wide(f, g) / 8.0 },
        _ => Shape::Cubic { c1: (y, x), c2: (x, wide(f, g)) },
    };
    match kind % 15 {
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
        4 => Edit::Move { joints: vec![JointId(number), JointId(number + 1)], dx_mm: x, dy_mm: y },
        5 => Edit::Delete(vec![match g % 4 {
            0 => EntityId::Run(run),
            1 => EntityId::Cut(CutId(number)),
            2 => EntityId::Joint(JointId(number)),
            _ => EntityId::Supply(SupplyId(number)),
        }]),
        6 => Edit::Name { run, at_mm: x, name: char::from(g).to_string() },
        7 => Edit::Add(defaults::supply().into()),
        8 => {
            let drive = defaults::drives().swap_remove(usize::from(g % 8));
            Edit::Add(defaults::driver(SupplyId(number), drive).into())
        }
        9 => Edit::Feed {
            driver: gapwright::layout::DriverId(number).into(),
            run,
            at_mm: x,
            p: Some(Rail::Right),
            m: (g & 1 == 0).then_some(Rail::Left),
            wire: None,
            ohm: None,
        },
        10 => Edit::Swap { feed: FeedId(number) },
        11 => Edit::Add(defaults::train(&[VehicleId(number)]).into()),
        12 => Edit::Join { joint: JointId(number) },
        13 => Edit::Turn {
            joints: vec![JointId(number), JointId(number + 1)],
            turn: Turn { about: (y, x), mirrored: g & 1 == 0, turn_deg: x },
        },
        _ => Edit::Add(defaults::vehicles().swap_remove(usize::from(g % 5)).into()),
    }
}

fuzz_target!(|bytes: &[u8]| {
    let mut layout = Layout::default();
    let mut history = History::default();
    let mut files = vec![save(&layout)];
    let (pieces, _) = bytes.as_chunks::<8>();
    for piece in pieces.iter().take(64) {
        let before = layout.clone();
        match history.do_edit(&mut layout, edit(piece)) {
            Ok(_) => {
                let file = save(&layout);
                if files.last() != Some(&file) {
                    files.push(file);
                }
            }
            Err(_) => assert_eq!(layout, before),
        }
    }
    assert_eq!(load(&save(&layout)).expect("what was saved loads").layout, layout);
    for file in files.iter().rev().skip(1) {
        assert!(history.undo(&mut layout).expect("undone"));
        assert_eq!(&save(&layout), file);
    }
    for file in files.iter().skip(1) {
        assert!(history.redo(&mut layout).expect("redone"));
        assert_eq!(&save(&layout), file);
    }
});
