//! Special work, devices and bonds through the window.

use super::*;
use gapwright::layout::{
    DeviceKind, EntityId, Frog, Layout, RunEnd, Special, SpecialId, Work, load,
};

/// A straight run of two metres, laid from x = 0.
fn one_run() -> Window {
    let mut w = window();
    press(&mut w, "Lay track");
    set(&mut w, "Lay to: x", 2000.0);
    press(&mut w, "Lay this run");
    w
}

fn lay(w: &mut Window, from: (f64, f64), to: (f64, f64)) {
    press(w, "Lay track");
    for (what, (x, y)) in [("from", from), ("to", to)] {
        let name = if what == "from" { "From" } else { "To" };
        choose(w, &format!("Lay {what}: {name}"), "a new joint");
        set(w, &format!("Lay {what}: x"), x);
        set(w, &format!("Lay {what}: y"), y);
    }
    press(w, "Lay this run");
}

fn tool(w: &mut Window, kind: &str) {
    press(w, "Special work");
    choose(w, "Special work: Kind", kind);
}

fn layout(w: &Window) -> Layout {
    w.state().layout().clone()
}

fn only(w: &Window) -> Special {
    let specials: Vec<Special> = layout(w).specials.into_values().collect();
    assert_eq!(specials.len(), 1);
    specials[0].clone()
}

fn position(w: &Window, id: u32) -> u32 {
    layout(w).specials[&SpecialId(id)].position
}

/// What was made must survive the file.
fn reloads(w: &Window) {
    let text = file(w);
    assert_eq!(load(&text).unwrap().layout, layout(w), "saved and loaded");
}

fn w_shift(w: &mut Window, key: Key) {
    w.key_press_modifiers(Modifiers::SHIFT, key);
    w.run();
}

pub fn double_click(window: &mut Window, at: Pos2) {
    // In one frame: with a frame for each event the two clicks would be too far apart.
    let button = |pressed| egui::Event::PointerButton {
        pos: at,
        button: egui::PointerButton::Primary,
        pressed,
        modifiers: Modifiers::NONE,
    };
    window.event(egui::Event::PointerMoved(at));
    window.run();
    window.input_mut().events.extend([true, false, true, false].map(button));
    window.step();
    window.run();
    for _ in 0..4 {
        window.step();
    }
}

#[test]
fn turnouts_of_every_kind_are_placed_by_numbers() {
    for (kind, roads) in [("Turnout", 2), ("Curved turnout", 2), ("Three-way turnout", 3)] {
        let mut w = one_run();
        tool(&mut w, kind);
        there_and_back(&mut w, kind, |w| {
            set(w, "Special work: At", 800.0);
            press(w, "Place it here");
        });
        assert_eq!(only(&w).work.positions(), roads, "{kind}");
        reloads(&w);
    }
    // At an end of track, all roads are laid.
    for (kind, runs) in [("Wye", 3), ("Curved turnout", 3), ("Three-way turnout", 4)] {
        let mut w = one_run();
        tool(&mut w, kind);
        there_and_back(&mut w, kind, |w| {
            set(w, "Special work: At", 2000.0);
            press(w, "Place it here");
        });
        assert_eq!(layout(&w).runs.len(), runs, "{kind}");
    }
    // What cannot be is told, and nothing is done.
    let mut w = one_run();
    tool(&mut w, "Wye");
    set(&mut w, "Special work: At", 800.0);
    let before = file(&w);
    press(&mut w, "Place it here");
    assert_eq!(file(&w), before);
    assert!(says(&w, "A wye begins at an end of track"));
}

#[test]
fn crossings_crossovers_bridges_and_buffers_are_placed_by_numbers() {
    for kind in ["Diamond", "Single slip", "Double slip"] {
        let mut w = one_run();
        tool(&mut w, kind);
        there_and_back(&mut w, kind, |w| {
            set(w, "Special work: At", 800.0);
            choose(w, "Special work: Frogs", "Switched");
            press(w, "Place it here");
        });
        assert_eq!(only(&w).work.frog(), Some(Frog::Switched));
        reloads(&w);
    }
    let mut w = one_run();
    lay(&mut w, (600.0, -200.0), (1200.0, 200.0));
    tool(&mut w, "Diamond");
    there_and_back(&mut w, "a diamond of two runs", |w| {
        choose(w, "Special work: Run", "Run r3");
        choose(w, "Special work: Crosses", "Run r6");
        set(w, "Special work: At", 900.0);
        press(w, "Place it here");
    });
    assert_eq!(layout(&w).runs.len(), 4);
    let mut w = one_run();
    lay(&mut w, (0.0, 55.0), (2000.0, 55.0));
    tool(&mut w, "Crossover");
    there_and_back(&mut w, "a crossover", |w| {
        choose(w, "Special work: Run", "Run r3");
        set(w, "Special work: At", 700.0);
        press(w, "Place it here");
    });
    let specials: Vec<Special> = layout(&w).specials.into_values().collect();
    assert_eq!(specials.len(), 2);
    assert!(!specials[0].gang.is_empty() && specials[0].gang == specials[1].gang);
    reloads(&w);
    for (kind, roads) in [("Turntable", 4), ("Traverser", 4)] {
        let mut w = one_run();
        tool(&mut w, kind);
        there_and_back(&mut w, kind, |w| {
            choose(w, "Special work: At", "end of run r3 (2000, 0)");
            press(w, "Place it here");
        });
        assert_eq!(only(&w).work.ends().len(), roads, "{kind}");
        reloads(&w);
        let mut w = one_run();
        tool(&mut w, kind);
        there_and_back(&mut w, "in the open", |w| {
            set(w, "Special work: y", 600.0);
            press(w, "Place it here");
        });
    }
    let mut w = one_run();
    tool(&mut w, "Buffer");
    there_and_back(&mut w, "a buffer", |w| {
        choose(w, "Special work: End", "start of run r3 (0, 0)");
        press(w, "Place it here");
    });
    assert!(matches!(only(&w).work, Work::Buffer { end } if end.end == RunEnd::Start));
    tool(&mut w, "Turntable");
    write(&mut w, "Special work: Roads at", "0, north");
    let before = file(&w);
    press(&mut w, "Place it here");
    assert_eq!(file(&w), before);
    assert!(says(&w, "is no angle"));
}

#[test]
fn the_pointer_places_special_work_and_a_third_run_makes_a_turnout() {
    let mut w = window();
    w_key(&mut w, Key::L);
    for x in [350.0, 800.0] {
        pointer(&mut w, pos2(x, 420.0));
    }
    w_key(&mut w, Key::Escape);
    w_key(&mut w, Key::W);
    there_and_back(&mut w, "a click on the run", |w| pointer(w, pos2(500.0, 420.0)));
    assert_eq!(layout(&w).specials.len(), 1);
    choose(&mut w, "Special work: Kind", "Buffer");
    there_and_back(&mut w, "a click on an end", |w| pointer(w, pos2(350.0, 420.0)));
    choose(&mut w, "Special work: Kind", "Turntable");
    there_and_back(&mut w, "a click on the ground", |w| pointer(w, pos2(600.0, 800.0)));
    let kinds: Vec<&str> = w.state().layout().specials.values().map(|s| s.work.word()).collect();
    assert_eq!(kinds, ["turnout", "buffer", "turntable"]);
    reloads(&w);

    let mut w = window();
    w_key(&mut w, Key::L);
    for x in [350.0, 550.0, 800.0] {
        pointer(&mut w, pos2(x, 420.0));
    }
    w_key(&mut w, Key::Escape);
    there_and_back(&mut w, "a third run end", |w| {
        pointer(w, pos2(550.0, 420.0));
        pointer(w, pos2(750.0, 360.0));
        w_key(w, Key::Escape);
        assert!(says(w, "A third run end makes a turnout"));
    });
    assert_eq!(only(&w).work.word(), "turnout");
    // Where two runs cross, a diamond is made of them.
    w_key(&mut w, Key::L);
    for at in [pos2(400.0, 560.0), pos2(700.0, 560.0)] {
        pointer(&mut w, at);
    }
    w_key(&mut w, Key::Escape);
    for at in [pos2(500.0, 660.0), pos2(600.0, 460.0)] {
        pointer(&mut w, at);
    }
    w_key(&mut w, Key::Escape);
    w_key(&mut w, Key::W);
    choose(&mut w, "Special work: Kind", "Diamond");
    let runs = layout(&w).runs.len();
    there_and_back(&mut w, "where they cross", |w| pointer(w, pos2(550.0, 560.0)));
    assert_eq!(layout(&w).runs.len(), runs + 2, "both are split, none is laid");
}

/// A turnout w6 in a straight run, power-routing.
fn with_turnout() -> Window {
    let mut w = one_run();
    tool(&mut w, "Turnout");
    choose(&mut w, "Special work: Frogs", "Power-routing");
    set(&mut w, "Special work: At", 800.0);
    press(&mut w, "Place it here");
    press(&mut w, "Fit");
    press(&mut w, "Select");
    w
}

fn turnout_id(w: &Window) -> u32 {
    only(w).id.0
}

#[test]
fn a_turnout_is_thrown_in_every_way() {
    let mut w = with_turnout();
    let id = turnout_id(&w);
    let set_for = |road: &str| format!("Turnout w{id}, set for the {road}");
    select(&mut w, &format!("Turnout w{id}"));
    there_and_back(&mut w, "T", |w| w_key(w, Key::T));
    assert_eq!(position(&w, id), 1);
    there_and_back(&mut w, "Shift+T", |w| w_shift(w, Key::T));
    assert_eq!(position(&w, id), 0);
    there_and_back(&mut w, "in its particulars", |w| {
        choose(w, "Special work: Set for", "left road");
    });
    assert_eq!(position(&w, id), 1);
    press(&mut w, "Throw it back");
    // Through the accessibility tree.
    assert!(w.query_by_label(&set_for("right road")).is_some());
    there_and_back(&mut w, "the action of its node", |w| press(w, &set_for("right road")));
    assert_eq!(position(&w, id), 1);
    let at = on_plan(&w, &set_for("left road"));
    there_and_back(&mut w, "a double click", |w| double_click(w, at));
    assert_eq!(position(&w, id), 0);
    // With nothing selected, T takes the tool in hand.
    w_key(&mut w, Key::Escape);
    w_key(&mut w, Key::T);
    there_and_back(&mut w, "a click with the tool", |w| pointer(w, at + vec2(8.0, 5.0)));
    assert_eq!(position(&w, id), 1);
    there_and_back(&mut w, "the tool's list", |w| {
        choose(w, &format!("Throw: Turnout w{id}"), "right road");
    });
    reloads(&w);
}

#[test]
fn throwing_changes_what_the_check_sees() {
    let mut w = with_turnout();
    press(&mut w, "Feed");
    choose(&mut w, "Feed: Run", "Run r3");
    set(&mut w, "Feed: At", 300.0);
    press(&mut w, "Feed here");
    let before = w.state().report().clone();
    let id = turnout_id(&w);
    select(&mut w, &format!("Turnout w{id}"));
    w_key(&mut w, Key::T);
    assert_ne!(&before, w.state().report(), "the road beyond a power-routing frog changes");
}

#[test]
fn a_gang_goes_together_and_a_bridge_goes_where_one_clicks() {
    let mut w = one_run();
    lay(&mut w, (0.0, 55.0), (2000.0, 55.0));
    tool(&mut w, "Crossover");
    choose(&mut w, "Special work: Run", "Run r3");
    set(&mut w, "Special work: At", 700.0);
    press(&mut w, "Place it here");
    there_and_back(&mut w, "throw a gang", |w| w_key(w, Key::T));
    assert!(layout(&w).specials.values().all(|s| s.position == 1));

    let mut w = one_run();
    tool(&mut w, "Turntable");
    choose(&mut w, "Special work: At", "end of run r3 (2000, 0)");
    press(&mut w, "Place it here");
    press(&mut w, "Fit");
    let id = turnout_id(&w);
    // Nothing is selected, so the key takes the tool.
    press(&mut w, "Throw");
    let joint = |w: &Window, road: usize| {
        let layout = layout(w);
        let end = layout.specials[&SpecialId(id)].work.ends()[road];
        let joint = gapwright::layout::roads::joint_of(&layout, end).unwrap();
        on_plan(w, &format!("Joint {joint}"))
    };
    let third = joint(&w, 2);
    there_and_back(&mut w, "to its third road", |w| pointer(w, third));
    assert_eq!(position(&w, id), 4);
    there_and_back(&mut w, "turned round", |w| pointer(w, third));
    assert_eq!(position(&w, id), 5);
    assert!(says(&w, "at road 3, turned round"));
}

#[test]
fn every_particular_of_special_work_goes_there_and_back() {
    let mut w = with_turnout();
    let id = turnout_id(&w);
    select(&mut w, &format!("Turnout w{id}"));
    there_and_back(&mut w, "name", |w| write(w, "Particulars: Name", "Mill points"));
    there_and_back(&mut w, "frog at", |w| set(w, "Particulars: Frog at", 150.0));
    there_and_back(&mut w, "where they part", |w| {
        press(w, "Put it where the roads are one gauge apart");
    });
    there_and_back(&mut w, "frog length", |w| set(w, "Particulars: Frog length", 15.0));
    there_and_back(&mut w, "open point", |w| set(w, "Particulars: Open point", 1.5));
    there_and_back(&mut w, "gang", |w| write(w, "Particulars: Gang", "mill"));
    there_and_back(&mut w, "notes", |w| write(w, "Particulars: Notes", "stiff"));
    there_and_back(&mut w, "turn", |w| set(w, "Roads: Turn", 20.0));
    there_and_back(&mut w, "length", |w| set(w, "Roads: Length", 300.0));
    let diverging = |w: &Window| {
        let layout = layout(w);
        let end = layout.specials[&SpecialId(id)].work.ends()[2];
        layout.joints[&layout.runs[&end.run].to].y_mm
    };
    // 300 mm that turn by 20° end 300 (1 - cos 20°) / (20 π / 180) = 51.8 mm beside the through road.
    assert!((diverging(&w).abs() - 51.83).abs() < 0.01, "{}", diverging(&w));
    let side = diverging(&w);
    there_and_back(&mut w, "hand", |w| {
        let other = if side > 0.0 { "Right" } else { "Left" };
        choose(w, "Roads: Hand", other);
    });
    assert!((diverging(&w) + side).abs() < 1e-3);
    there_and_back(&mut w, "hand by its key", |w| w_key(w, Key::X));
    assert!((diverging(&w) - side).abs() < 1e-3);
    there_and_back(&mut w, "contact", |w| {
        choose(w, "Particulars: Frogs", "Power-routing with contact");
    });
    there_and_back(&mut w, "it stands apart", |w| choose(w, "Particulars: Stands", "left road"));
    there_and_back(&mut w, "exchanged", |w| choose(w, "Particulars: Wires", "Exchanged"));
    there_and_back(&mut w, "before", |w| press(w, "Particulars: Thrown before the points leave"));
    there_and_back(&mut w, "wire by wire", |w| choose(w, "Particulars: Wires", "Wire by wire"));
    there_and_back(&mut w, "one wire", |w| {
        choose(w, "Particulars: left road: rail", "Left rail");
    });
    there_and_back(&mut w, "insulated", |w| choose(w, "Particulars: Frogs", "Insulated"));
    there_and_back(&mut w, "closures", |w| press(w, "Particulars: Closure rails are bonded"));
    there_and_back(&mut w, "beyond", |w| press(w, "Particulars: Rails beyond the frog are bonded"));
    reloads(&w);
    there_and_back(&mut w, "delete", |w| press(w, "Delete"));
    assert_eq!(layout(&w).runs.len(), 3, "its roads stay, apart from each other");

    let mut w = one_run();
    tool(&mut w, "Double slip");
    set(&mut w, "Special work: At", 800.0);
    press(&mut w, "Place it here");
    let id = turnout_id(&w);
    select(&mut w, &format!("Double slip w{id}"));
    for _ in 0..3 {
        w_key(&mut w, Key::T);
    }
    assert_eq!(position(&w, id), 3);
    there_and_back(&mut w, "single", |w| {
        choose(w, "Particulars: Kind", "Single slip");
    });
    assert_eq!(position(&w, id), 2, "a single slip has no fourth position");
    there_and_back(&mut w, "a diamond", |w| choose(w, "Particulars: Kind", "Diamond"));
    there_and_back(&mut w, "a slip again", |w| choose(w, "Particulars: Kind", "Double slip"));
    assert_eq!(layout(&w).runs.len(), 4, "no track is laid anew");
    reloads(&w);

    let mut w = one_run();
    tool(&mut w, "Turntable");
    choose(&mut w, "Special work: At", "end of run r3 (2000, 0)");
    press(&mut w, "Place it here");
    let id = turnout_id(&w);
    select(&mut w, &format!("Turntable w{id}"));
    there_and_back(&mut w, "exchange", |w| press(w, "Particulars: Exchanges from stated"));
    there_and_back(&mut w, "heading", |w| set(w, "Particulars: Exchanges from", 45.0));
    there_and_back(&mut w, "one road less", |w| press(w, "Particulars: take road 3 away"));
    there_and_back(&mut w, "a road more", |w| {
        choose(w, "Particulars: Another road", "start of run r3 (0, 0)");
    });
}

#[test]
fn devices_and_bonds_go_there_and_back() {
    let mut w = two_blocks();
    for kind in [
        "Reversing switch",
        "Auto-reverser",
        "Breaker",
        "Fuse",
        "Lamp or resistor",
        "Diode pair",
        "Cab selector",
    ] {
        there_and_back(&mut w, kind, |w| {
            press(w, "Layout");
            press(w, "Add a device");
            press(w, kind);
        });
        reloads(&w);
    }
    let device = layout(&w).devices.into_values().next_back().unwrap();
    let id: EntityId = device.id.into();
    select(&mut w, &format!("Cab selector {id}"));
    there_and_back(&mut w, "position", |w| choose(w, "Device: Set for", "Driver B"));
    there_and_back(&mut w, "T", |w| w_key(w, Key::T));
    assert_eq!(layout(&w).devices[&device.id].position, 2, "off");
    there_and_back(&mut w, "in the strip of throttles", |w| {
        press(w, &format!("Cab selector {id}: Driver A"));
    });
    there_and_back(&mut w, "device name", |w| {
        write(w, "Device particulars: Name", "Harbour cab");
    });
    there_and_back(&mut w, "a cab", |w| choose(w, "Device particulars: Position 2", "Off"));
    there_and_back(&mut w, "a cab more", |w| press(w, "Add a position"));
    there_and_back(&mut w, "a cab less", |w| press(w, "Device particulars: take position 2 away"));
    there_and_back(&mut w, "gang", |w| write(w, "Device particulars: Gang", "cabs"));
    there_and_back(&mut w, "resistance", |w| set(w, "Device particulars: Resistance", 0.03));
    there_and_back(&mut w, "another kind", |w| {
        choose(w, "Device particulars: Kind", "Reversing switch");
    });
    there_and_back(&mut w, "off in the middle", |w| {
        press(w, "Device particulars: Has an off position in the middle");
    });
    there_and_back(&mut w, "fed from", |w| choose(w, "Device particulars: Fed from", "Driver B"));
    for (kind, field) in [
        ("Breaker", "Device particulars: Acts beyond"),
        ("Fuse", "Device particulars: Rated"),
        ("Lamp or resistor", "Device particulars: In one pole"),
        ("Diode pair", "Device particulars: Forward voltage"),
        ("Auto-reverser", "Device particulars: Acts after"),
    ] {
        there_and_back(&mut w, kind, |w| choose(w, "Device particulars: Kind", kind));
        there_and_back(&mut w, field, |w| set(w, field, 1.25));
    }
    // A feed comes from it.
    select(&mut w, "Feed f7 from Driver A");
    there_and_back(&mut w, "feed from a device", |w| {
        choose(w, "Feed particulars: Driver", "Harbour cab");
    });
    let DeviceKind::AutoReverser { .. } = layout(&w).devices[&device.id].kind else { panic!() };
    reloads(&w);

    press(&mut w, "Bond rails");
    there_and_back(&mut w, "bond by numbers", |w| {
        set(w, "Bond from: At", 200.0);
        set(w, "Bond to: At", 1500.0);
        press(w, "Bond them");
    });
    let bond = layout(&w).bonds.into_values().next().unwrap();
    select(&mut w, &format!("Bond {}", bond.id));
    there_and_back(&mut w, "its rail", |w| choose(w, "Bond: To: rail", "Right rail"));
    there_and_back(&mut w, "its place", |w| set(w, "Bond: From: at", 250.0));
    press(&mut w, "Bond rails");
    press(&mut w, "Fit");
    let at = on_plan(&w, "Cut c4");
    there_and_back(&mut w, "bond by clicks", |w| {
        pointer(w, at - vec2(60.0, 3.0));
        pointer(w, at + vec2(60.0, -3.0));
    });
    assert_eq!(layout(&w).bonds.len(), 2);
    reloads(&w);
}

#[test]
fn special_work_names_every_control_at_every_size_and_distance() {
    for (width, height) in [(1024.0, 768.0), (1920.0, 1080.0)] {
        let mut w = window_of_size(width, height);
        lay(&mut w, (0.0, 0.0), (2000.0, 0.0));
        for kind in ["Three-way turnout", "Double slip", "Turntable"] {
            tool(&mut w, kind);
            if kind == "Turntable" {
                choose(&mut w, "Special work: At", "start of run r3 (0, 0)");
            } else {
                choose(&mut w, "Special work: Run", "Run r3");
                set(&mut w, "Special work: At", if kind == "Double slip" { 500.0 } else { 1200.0 });
            }
            press(&mut w, "Place it here");
        }
        assert_eq!(layout(&w).specials.len(), 3);
        for id in layout(&w).specials.keys() {
            let word = layout(&w).specials[id].work.word().to_owned();
            let mut word = word.chars();
            let name: String = word.next().unwrap().to_uppercase().chain(word).collect();
            select(&mut w, &format!("{name} {id}"));
            press(&mut w, "Go there");
            for _ in 0..4 {
                w_key(&mut w, Key::Plus);
            }
            w_key(&mut w, Key::T);
        }
        press(&mut w, "Light");
        press(&mut w, "Fit");
    }
}

#[test]
fn the_loop_of_the_open_finding_is_drawn_on_the_plan() {
    let mut w = sample("wye");
    let loops = |w: &Window| {
        let shown = w.query_all_by_label_contains("on the plan,");
        shown.map(|n| n.accesskit_node().label().unwrap_or_default()).collect::<Vec<_>>()
    };
    assert!(loops(&w).is_empty(), "with no finding open: {:?}", loops(&w));
    let row = |w: &mut Window| {
        w.query_all_by_label_contains("Loop needs a reversing section at")
            .next()
            .unwrap()
            .click_accesskit();
        w.run();
    };
    row(&mut w);
    let told = w.state().report().findings.iter().find(|f| f.kind == Kind::UnbalancedLoop).unwrap();
    let gapwright::findings::Evidence::UnbalancedLoop(sections) = &told.evidence else { panic!() };
    assert!(!sections.rounds.is_empty());
    assert_eq!(loops(&w).len(), sections.rounds.len().min(4));
    // All of it is in view.
    let canvas = w.get_by_label_contains("Plan, ").rect();
    for node in w.query_all_by_label_contains("on the plan,") {
        assert!(canvas.contains_rect(node.rect()), "{:?} in {canvas:?}", node.rect());
    }
    row(&mut w);
    assert!(loops(&w).is_empty(), "closed again");
}
