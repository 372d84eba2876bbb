//! Layouts of one simple pattern, as large as one likes.

use std::fmt::Write;

use gapwright::layout::{self, Layout};

/// One after the other, with commas between.
fn many(count: usize, one: impl Fn(usize) -> String) -> String {
    (0..count).map(one).collect::<Vec<_>>().join(",")
}

fn loaded(text: &str) -> Layout {
    with_engine(text, 210, "(at_mm: 20), (at_mm: 60), (at_mm: 150), (at_mm: 190)")
}

fn with_engine(text: &str, length_mm: usize, axles: &str) -> Layout {
    let all = format!(
        r#"(version: 1, {text}, vehicles: [(id: "v1", length_mm: {length_mm}, axles: [{axles}],
        load: Motor(ohm: 12, emf_v: 5))])"#
    );
    layout::load(&all).unwrap_or_else(|e| panic!("{e:?}\n{all}")).layout
}

/// A driver on the supply of its own number.
fn driver(id: usize, hz: f64) -> String {
    format!(
        r#"(id: "d{id}", supply: "s{id}", drive: PwmBridge(clock: (hz: {hz}), idle: BrakeLow), high_ohm: 0.15,
        low_ohm: 0.15, diode_v: 0.8, diode_ohm: 0.05, trip: (amps: 3, senses: LargerLeg,
        kind: Instant(blanking_s: 0.00001)), setting: (direction: Forward, throttle: 0.4))"#
    )
}

fn supplies(count: usize) -> String {
    many(count, |k| format!(r#"(id: "s{k}", open_v: 14, source_ohm: 0.1)"#))
}

fn line(length_mm: usize) -> String {
    format!(
        r#"joints: [(id: "j0", x_mm: 0, y_mm: 0), (id: "j1", x_mm: {length_mm}, y_mm: 0)],
        runs: [(id: "r0", from: "j0", to: "j1")]"#
    )
}

/// A chain of resistors between a driver and its block.
pub fn device_chain(count: usize) -> Layout {
    let devices = many(count, |k| {
        let from = if k == 0 { "d0".to_owned() } else { format!("x{}", k - 1) };
        format!(r#"(id: "x{k}", kind: Resistor(from: "{from}", ohm: 1))"#)
    });
    loaded(&format!(
        r#"{}, cuts: [(id: "c1", run: "r0", at_mm: 1000, rails: Both)], supplies: [{}], drivers: [{}],
        devices: [{devices}], feeds: [(id: "f1", driver: "x{}", run: "r0", at_mm: 100, p: Right, m: Left)]"#,
        line(2000),
        supplies(1),
        driver(0, 490.0),
        count - 1
    ))
}

/// So many drivers on one block.
pub fn drivers_on_one_block(count: usize) -> Layout {
    let feeds = many(count, |k| {
        format!(r#"(id: "f{k}", driver: "d{k}", run: "r0", at_mm: 100, p: Right, m: Left)"#)
    });
    loaded(&format!(
        r#"{}, cuts: [(id: "c1", run: "r0", at_mm: 1000, rails: Both)], supplies: [{}], drivers: [{}], feeds: [{feeds}]"#,
        line(2000),
        supplies(count),
        many(count, |k| driver(k, 100.0 + 7.7 * k as f64))
    ))
}

/// Blocks of 100 mm, each with a driver of its own that shares no beat with another, and an engine with a pickup in
/// each of them.
pub fn short_blocks(count: usize) -> Layout {
    let cuts = many(count - 1, |k| {
        format!(r#"(id: "c{k}", run: "r0", at_mm: {}, rails: Both)"#, 100 * (k + 1))
    });
    let feeds = many(count, |k| {
        let at = 100 * k + 50;
        format!(r#"(id: "f{k}", driver: "d{k}", run: "r0", at_mm: {at}, p: Right, m: Left)"#)
    });
    let axles = many(count, |k| format!("(at_mm: {})", 10 + 95 * k));
    let text = format!(
        r#"{}, cuts: [{cuts}], supplies: [{}], drivers: [{}], feeds: [{feeds}]"#,
        line(100 * (count + 1)),
        supplies(count),
        many(count, |k| driver(k, (20_000.0 + 10_000.0 * k as f64).sqrt()))
    );
    with_engine(&text, 100 * count, &axles)
}

/// Cuts 29 mm apart, each in one rail only.
pub fn one_rail_cuts(count: usize) -> Layout {
    let rails: Vec<char> = "LRLRRLLLLRRLLRRLLRLLRRLLR".chars().cycle().take(count).collect();
    let cuts = many(count, |k| {
        let rail = if rails[k] == 'L' { "Left" } else { "Right" };
        format!(r#"(id: "c{k}", run: "r0", at_mm: {}, rails: {rail})"#, 15 + 29 * k)
    });
    let feeds = many(count, |k| {
        let at = 5 + 29 * k;
        format!(r#"(id: "f{k}", driver: "d{k}", run: "r0", at_mm: {at}, p: Right, m: Left)"#)
    });
    loaded(&format!(
        r#"{}, cuts: [{cuts}], supplies: [{}], drivers: [{}], feeds: [{feeds}]"#,
        line(29 * count + 25),
        supplies(count),
        many(count, |k| driver(k, 100.0 + 7.7 * k as f64))
    ))
}

/// Runs that lead back to their own joints, all from one driver.
pub fn self_loops(count: usize) -> Layout {
    let x = |k: usize| 1000 * k;
    let joints = many(count, |k| format!(r#"(id: "j{k}", x_mm: {}, y_mm: 0)"#, x(k)));
    let runs = many(count, |k| {
        let (a, b) = (x(k) as i64 - 400, x(k) + 400);
        format!(
            r#"(id: "r{k}", from: "j{k}", to: "j{k}", shape: Cubic(c1: ({a}, 400), c2: ({b}, 400)))"#
        )
    });
    let feeds = many(count, |k| {
        format!(r#"(id: "f{k}", driver: "d0", run: "r{k}", at_mm: 300, p: Right, m: Left)"#)
    });
    loaded(&format!(
        r#"joints: [{joints}], runs: [{runs}], supplies: [{}], drivers: [{}], feeds: [{feeds}]"#,
        supplies(1),
        driver(0, 490.0)
    ))
}

/// Turnouts beside each other, all in one gang, each fed from one driver at its toe.
pub fn turnouts_in_one_gang(count: usize) -> Layout {
    let (mut joints, mut runs, mut specials, mut feeds) =
        (String::new(), String::new(), String::new(), String::new());
    for k in 0..count {
        let (x, n) = (2000.0 * k as f64, 10 * k);
        let [a, b, c, d] = [n, n + 1, n + 2, n + 3];
        write!(
            joints,
            r#"(id: "j{a}", x_mm: {x}, y_mm: 0), (id: "j{b}", x_mm: {}, y_mm: 0), (id: "j{c}", x_mm: {}, y_mm: 0),
            (id: "j{d}", x_mm: {}, y_mm: 46.737),"#,
            x + 300.0,
            x + 700.0,
            x + 595.09
        )
        .unwrap();
        write!(
            runs,
            r#"(id: "r{a}", from: "j{a}", to: "j{b}"), (id: "r{b}", from: "j{b}", to: "j{c}"),
            (id: "r{c}", from: "j{b}", to: "j{d}", shape: Arc(bend_deg: 18)),"#
        )
        .unwrap();
        write!(specials, r#"(id: "w{k}", gang: "g", work: {}),"#, turnout(a, b, c)).unwrap();
        write!(feeds, r#"(id: "f{k}", driver: "d0", run: "r{a}", at_mm: 100, p: Right, m: Left),"#)
            .unwrap();
    }
    loaded(&format!(
        r#"joints: [{joints}], runs: [{runs}], specials: [{specials}], supplies: [{}], drivers: [{}], feeds: [{feeds}]"#,
        supplies(1),
        driver(0, 490.0)
    ))
}

fn turnout(toe: usize, straight: usize, diverging: usize) -> String {
    format!(
        r#"Turnout(toe: (run: "r{toe}", end: End), exits: [(run: "r{straight}", end: Start),
        (run: "r{diverging}", end: Start)], frog: PowerRouting, frog_mm: 178)"#
    )
}

/// A ladder of turnouts, each thrown by itself, every road fed from a second driver beyond its frog.
pub fn ladder(count: usize) -> Layout {
    let (mut joints, mut runs, mut specials, mut feeds) = (
        r#"(id: "j0", x_mm: 0, y_mm: 0), (id: "j1", x_mm: 300, y_mm: 0),"#.to_owned(),
        r#"(id: "r0", from: "j0", to: "j1"),"#.to_owned(),
        String::new(),
        r#"(id: "f0", driver: "d0", run: "r0", at_mm: 100, p: Right, m: Left),"#.to_owned(),
    );
    for k in 0..count {
        let x = 300.0 + 400.0 * k as f64;
        let (here, on, off) = (if k == 0 { 1 } else { 2 * k }, 2 * k + 2, 2 * k + 3);
        let (toe, straight, diverging) = (if k == 0 { 0 } else { 2 * k - 1 }, 2 * k + 1, 2 * k + 2);
        write!(
            joints,
            r#"(id: "j{on}", x_mm: {}, y_mm: 0), (id: "j{off}", x_mm: {}, y_mm: 46.737),"#,
            x + 400.0,
            x + 295.09
        )
        .unwrap();
        write!(
            runs,
            r#"(id: "r{straight}", from: "j{here}", to: "j{on}"),
            (id: "r{diverging}", from: "j{here}", to: "j{off}", shape: Arc(bend_deg: 18)),"#
        )
        .unwrap();
        write!(specials, r#"(id: "w{k}", work: {}),"#, turnout(toe, straight, diverging)).unwrap();
        write!(
            feeds,
            r#"(id: "f{}", driver: "d1", run: "r{diverging}", at_mm: 280, p: Right, m: Left),"#,
            k + 1
        )
        .unwrap();
    }
    loaded(&format!(
        r#"joints: [{joints}], runs: [{runs}], specials: [{specials}], supplies: [{}], drivers: [{}, {}], feeds: [{feeds}]"#,
        supplies(2),
        driver(0, 490.0),
        driver(1, 125.0)
    ))
}
