//! Every change that the window offers goes there and back.

use super::*;

#[test]
fn laying_cutting_feeding_and_adding_go_there_and_back() {
    let mut w = window();
    press(&mut w, "Lay track");
    there_and_back(&mut w, "lay a run", |w| press(w, "Lay this run"));
    there_and_back(&mut w, "lay a curve", |w| {
        choose(w, "Lay: How", "With a bend");
        set(w, "Lay: Bend", 60.0);
        set(w, "Lay to: y", 500.0);
        press(w, "Lay this run");
    });
    press(&mut w, "Cut rails");
    there_and_back(&mut w, "cut both rails", |w| {
        set(w, "Cut: At", 400.0);
        press(w, "Cut here");
    });
    there_and_back(&mut w, "cut one rail", |w| {
        choose(w, "Cut: Rails", "Left rail");
        set(w, "Cut: At", 600.0);
        set(w, "Cut: Width", 1.5);
        press(w, "Cut here");
    });
    there_and_back(&mut w, "add a driver with its supply", |w| {
        press(w, "Add a driver with its supply");
    });
    press(&mut w, "Feed");
    there_and_back(&mut w, "feed from a new driver", |w| press(w, "Feed here"));
    there_and_back(&mut w, "feed", |w| {
        choose(w, "Feed: Driver", "Driver A");
        set(w, "Feed: At", 200.0);
        press(w, "Feed here");
    });
    there_and_back(&mut w, "feed the other way round, one leg", |w| {
        choose(w, "Feed: P to", "Left rail");
        choose(w, "Feed: M to", "Not connected");
        set(w, "Feed: At", 500.0);
        press(w, "Feed here");
    });
    for kind in ["PWM bridge", "Smooth DC", "DCC booster", "Split half-bridge", "Nothing"] {
        there_and_back(&mut w, kind, |w| {
            press(w, "Layout");
            press(w, "Add a driver");
            press(w, kind);
        });
    }
    there_and_back(&mut w, "add a supply", |w| {
        press(w, "Layout");
        press(w, "Add a supply");
    });
    for vehicle in gapwright::layout::defaults::vehicles() {
        there_and_back(&mut w, &vehicle.name, |w| {
            press(w, "Layout");
            press(w, "Add a vehicle");
            press(w, &vehicle.name);
        });
    }
    there_and_back(&mut w, "add a train", |w| {
        press(w, "Layout");
        press(w, "Add a train");
    });
    for button in ["Couple a vehicle at the rear", "Train: take vehicle 2 away"] {
        press(&mut w, "Layout");
        press(&mut w, "Add a train");
        press(&mut w, "Couple a vehicle at the rear");
        there_and_back(&mut w, button, |w| press(w, button));
    }
}

#[test]
fn every_setting_goes_there_and_back() {
    let mut w = two_blocks();
    for direction in ["Reverse", "Stopped", "Forward", "Off"] {
        there_and_back(&mut w, direction, |w| press(w, &format!("Driver A: {direction}")));
    }
    there_and_back(&mut w, "throttle", |w| set(w, "Driver A: throttle", 37.5));
    for idle in ["High-impedance", "Brake-high", "Opposed", "Brake-low"] {
        there_and_back(&mut w, idle, |w| choose(w, "Driver A: idle state", idle));
    }
    select(&mut w, "Supply A (s5)");
    there_and_back(&mut w, "switch a supply off", |w| press(w, "Switch off"));
    there_and_back(&mut w, "switch a supply on", |w| press(w, "Switch on"));
}

#[test]
fn every_particular_of_track_goes_there_and_back() {
    let mut w = two_blocks();
    select(&mut w, "Run r3");
    there_and_back(&mut w, "start x", |w| set(w, "Run: Start x", -100.0));
    there_and_back(&mut w, "end y", |w| set(w, "Run: End y", 250.0));
    there_and_back(&mut w, "arc", |w| choose(w, "Run: Shape", "Arc"));
    there_and_back(&mut w, "bend", |w| set(w, "Run: Bend", -30.0));
    there_and_back(&mut w, "cubic", |w| choose(w, "Run: Shape", "Cubic"));
    there_and_back(&mut w, "control point", |w| set(w, "Run: Control 1 y", 90.0));
    there_and_back(&mut w, "measured length", |w| press(w, "Run: Measured length stated"));
    there_and_back(&mut w, "another length", |w| set(w, "Run: Measured length", 2345.0));
    there_and_back(&mut w, "name a block", |w| {
        name_block(w, 200.0, "Harbour");
    });
    there_and_back(&mut w, "split", |w| {
        set(w, "Distance", 600.0);
        press(w, "Split the run");
    });
    select(&mut w, "Joint j1");
    there_and_back(&mut w, "joint y", |w| set(w, "Joint: y", 40.0));
    select(&mut w, "Cut c4");
    there_and_back(&mut w, "cut name", |w| write(w, "Cut particulars: Name", "Yard throat"));
    there_and_back(&mut w, "cut at", |w| set(w, "Cut particulars: At", 350.0));
    there_and_back(&mut w, "cut stagger", |w| set(w, "Cut particulars: Stagger", 5.0));
    there_and_back(&mut w, "cut width", |w| set(w, "Cut particulars: Width", 2.0));
    there_and_back(&mut w, "cut made", |w| choose(w, "Cut particulars: Made", "Filled"));
    there_and_back(&mut w, "cut rails", |w| choose(w, "Cut particulars: Rails", "Right rail"));
    there_and_back(&mut w, "cut notes", |w| write(w, "Cut particulars: Notes", "by the signal"));
    press(&mut w, "Layout");
    there_and_back(&mut w, "layout name", |w| write(w, "Layout: Name", "Fernhollow"));
    there_and_back(&mut w, "layout notes", |w| write(w, "Layout: Notes", "Second try"));
    there_and_back(&mut w, "gauge", |w| set(w, "Layout: Gauge", 9.0));
    there_and_back(&mut w, "scale", |w| set(w, "Layout: Scale 1:", 160.0));
    there_and_back(&mut w, "rail", |w| set(w, "Layout: Rail", 0.2));
}

#[test]
fn every_particular_of_wiring_goes_there_and_back() {
    let mut w = two_blocks();
    select(&mut w, "Feed f7 from Driver A");
    there_and_back(&mut w, "swap", |w| press(w, "Swap P and M"));
    there_and_back(&mut w, "feed at", |w| set(w, "Feed particulars: At", 120.0));
    there_and_back(&mut w, "feed P", |w| choose(w, "Feed particulars: P to", "Not connected"));
    there_and_back(&mut w, "feed driver", |w| choose(w, "Feed particulars: Driver", "Driver B"));
    there_and_back(&mut w, "wire", |w| choose(w, "Feed particulars: Wire", "By AWG number"));
    there_and_back(&mut w, "wire size", |w| set(w, "Feed particulars: AWG", 22.0));
    there_and_back(&mut w, "wire length", |w| set(w, "Feed particulars: Length of a leg", 2.5));
    there_and_back(&mut w, "resistance", |w| press(w, "Feed particulars: Resistance, state"));
    select(&mut w, "Supply A (s5)");
    there_and_back(&mut w, "supply name", |w| write(w, "Supply: Name", "West supply"));
    there_and_back(&mut w, "open voltage", |w| set(w, "Supply: Open voltage", 16.0));
    there_and_back(&mut w, "source", |w| choose(w, "Supply: Open voltage, source", "measured"));
    there_and_back(&mut w, "assumed", |w| choose(w, "Supply: Open voltage, source", "assumed"));
    there_and_back(&mut w, "least", |w| set(w, "Supply: Open voltage, least", 15.0));
    there_and_back(&mut w, "sink", |w| press(w, "Supply: Can take current back"));
    there_and_back(&mut w, "shared", |w| press(w, "Supply: Negative is tied to a shared one"));
    there_and_back(&mut w, "tied to", |w| write(w, "Supply: Tied to", "board"));
    there_and_back(&mut w, "limit", |w| press(w, "Supply: Has a sustained current limit"));
    there_and_back(&mut w, "bearable", |w| press(w, "Supply: Bearable voltage, state"));
    select(&mut w, "Driver A (d6)");
    there_and_back(&mut w, "driver name", |w| write(w, "Driver: Name", "West bridge"));
    there_and_back(&mut w, "frequency", |w| set(w, "Driver: PWM frequency", 125.0));
    there_and_back(&mut w, "inputs", |w| choose(w, "Driver: Idle state", "By control inputs"));
    there_and_back(&mut w, "table", |w| choose(w, "Driver: Truth table", "Enable and phase"));
    there_and_back(&mut w, "line", |w| choose(w, "Driver: Reverse: PWM on", "First"));
    there_and_back(&mut w, "high", |w| press(w, "Driver: Forward: the other input is high"));
    there_and_back(&mut w, "inverted", |w| press(w, "Driver: First input's line is inverted"));
    there_and_back(&mut w, "clock", |w| press(w, "Driver: Runs from a clock that others share"));
    there_and_back(&mut w, "phase", |w| press(w, "Driver: Phase stated"));
    there_and_back(&mut w, "high switch", |w| set(w, "Driver: High switch", 0.08));
    there_and_back(&mut w, "threshold", |w| set(w, "Driver: Threshold", 2.0));
    there_and_back(&mut w, "senses", |w| choose(w, "Driver: Senses in", "Ground return"));
    there_and_back(&mut w, "decides", |w| choose(w, "Driver: Decides", "By an average"));
    there_and_back(&mut w, "constant", |w| set(w, "Driver: Time constant", 80.0));
    there_and_back(&mut w, "no trip", |w| press(w, "Driver: Trips on overcurrent"));
    there_and_back(&mut w, "kind", |w| choose(w, "Driver: Kind of drive", "Smooth DC"));
    there_and_back(&mut w, "clamps", |w| {
        press(w, "Driver: Clamps its rails at zero throttle");
    });
    there_and_back(&mut w, "booster", |w| choose(w, "Driver: Kind of drive", "DCC booster"));
    there_and_back(&mut w, "delay", |w| set(w, "Driver: Delay", 4.0));
    press(&mut w, "Layout");
    press(&mut w, "Add a vehicle");
    press(&mut w, "Heron diesel");
    there_and_back(&mut w, "length", |w| set(w, "Vehicle: Length", 260.0));
    there_and_back(&mut w, "wheel", |w| choose(w, "Vehicle: Wheelset 1 left", "Insulated"));
    there_and_back(&mut w, "wheelset", |w| press(w, "Add a wheelset"));
    there_and_back(&mut w, "without it", |w| press(w, "Vehicle: take wheelset 2 away"));
    there_and_back(&mut w, "draws", |w| choose(w, "Vehicle: Draws", "A rectifier (decoder)"));
    there_and_back(&mut w, "speed", |w| set(w, "Vehicle: Least speed", 20.0));
}

#[test]
fn deleting_goes_there_and_back() {
    let mut w = two_blocks();
    select(&mut w, "Cut c4");
    there_and_back(&mut w, "delete a cut", |w| press(w, "Delete"));
    press(&mut w, "Undo");
    select(&mut w, "Supply A (s5)");
    there_and_back(&mut w, "delete a supply", |w| w_key(w, Key::Delete));
    assert_eq!(w.state().layout().drivers.len(), 1, "its driver went with it");
    select(&mut w, "Run r3");
    there_and_back(&mut w, "delete a run", |w| w_key(w, Key::Delete));
    assert!(w.state().layout().feeds.is_empty());
}
