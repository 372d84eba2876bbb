//! The panels: the headline, the list of findings, the throttles, lists that say which.

use super::*;
use gapwright::findings::Class;
use gapwright::layout::{Direction, Edit, Entity, EntityId, Layout, apply};

fn layout(w: &Window) -> Layout {
    w.state().layout().clone()
}

/// A layout that is opened from a file.
fn opened(layout: &Layout, size: (f32, f32)) -> (Window, tempfile::TempDir) {
    let folder = dir();
    let path = folder.path().join("made.gapwright");
    std::fs::write(&path, save(layout)).unwrap();
    let mut w = window_of_size(size.0, size.1);
    open(&mut w, &path);
    (w, folder)
}

/// The names of nodes of a role.
fn names(w: &Window, role: Role) -> Vec<String> {
    w.query_all(by().role(role)).filter_map(|n| n.accesskit_node().label()).collect()
}

/// The rows of the list of findings.
fn rows(w: &Window) -> Vec<String> {
    let all = names(w, Role::Button);
    all.into_iter().filter(|name| name.contains(" at ") && name.contains(": ")).collect()
}

#[test]
fn the_headline_says_that_nothing_is_judged_yet() {
    let mut w = window();
    press(&mut w, "Lay track");
    press(&mut w, "Lay this run");
    assert!(verdict(&w).contains("Nothing to judge yet"), "{}", verdict(&w));
    press(&mut w, "Cut rails");
    set(&mut w, "Cut: At", 500.0);
    press(&mut w, "Cut here");
    assert!(verdict(&w).contains("Nothing to judge yet"), "{}", verdict(&w));
    assert!(!verdict(&w).contains("stall"), "{}", verdict(&w));
    let w = two_blocks();
    assert!(verdict(&w).contains("1 short"), "{}", verdict(&w));
    assert!(verdict(&w).contains("1 cut with a fault"), "{}", verdict(&w));
}

#[test]
fn the_headline_counts_every_gap_as_it_is_set_now() {
    let mut w = two_blocks();
    for driver in ["Driver A", "Driver B"] {
        choose(&mut w, &format!("{driver}: idle state"), "High-impedance");
    }
    assert!(verdict(&w).contains("1 cut clear"), "{}", verdict(&w));
    press(&mut w, "Driver B: Reverse");
    let report = w.state().report();
    assert!(report.findings.iter().all(|f| f.class != Class::Fault || !f.cuts().is_empty()));
    let told = verdict(&w);
    assert!(told.contains("0 cuts clear"), "{told}");
    assert!(
        told.contains("1 cut with a fault") || told.contains("1 cut short as set now"),
        "{told}"
    );
}

#[test]
fn rules_and_notes_are_no_shorts() {
    let w = sample("terminus");
    let report = w.state().report();
    let rules = report.findings.iter().filter(|f| f.class == Class::Rule).count();
    assert!(rules > 0, "the sample has rules");
    let rows = rows(&w);
    let faults = report.findings.iter().filter(|f| f.class == Class::Fault).count();
    let plain = |row: &&String| row.starts_with("rule: ") || row.starts_with("note: ");
    assert_eq!(rows.iter().filter(|row| !plain(row)).count(), faults, "{rows:?}");
    assert_eq!(rows.iter().filter(|row| row.starts_with("rule: ")).count(), rules, "{rows:?}");
}

#[test]
fn after_an_edit_the_list_says_what_it_did() {
    let mut w = two_blocks();
    press(&mut w, "Show findings");
    for driver in ["Driver A", "Driver B"] {
        choose(&mut w, &format!("{driver}: idle state"), "High-impedance");
    }
    assert!(says(&w, "Cured "), "the list says it");
    press(&mut w, "Undo");
    assert!(says(&w, "Undone: ") && !says(&w, "Cured "), "an undo cures nothing");
    assert!(!says(&w, "Undone: 0 back"), "what was cured is back");
    // It is not said for ever, and opening a layout is no edit.
    for _ in 0..40 {
        w.step();
    }
    assert!(!says(&w, "Cured "));
    let w = sample("brake-idle");
    assert!(!says(&w, "Cured "));
}

/// A straight with so many cuts, and a driver for each block if `fed`.
fn long(cuts: u32, fed: bool) -> Layout {
    let mut layout = Layout::default();
    let step = 400.0;
    let edit = |layout: &mut Layout, edit: Edit| drop(apply(layout, edit).unwrap());
    let lay = Edit::Lay {
        from: gapwright::layout::End::New(0.0, 0.0),
        to: gapwright::layout::End::New(step * f64::from(cuts + 1), 0.0),
        shape: gapwright::layout::Shape::Straight,
        length_mm: None,
    };
    edit(&mut layout, lay);
    let run = *layout.runs.keys().next().unwrap();
    for n in 1..=cuts {
        edit(
            &mut layout,
            Edit::Cut {
                run,
                at_mm: step * f64::from(n),
                rails: gapwright::layout::Rails::Left,
                width_mm: 1.0,
                stagger_mm: 0.0,
                made: gapwright::layout::Made::Open,
            },
        );
    }
    if fed {
        let donor = two_blocks();
        let donor = donor.state().layout().clone();
        let supply = donor.supplies.values().next().unwrap().clone();
        let driver = donor.drivers.values().next().unwrap().clone();
        edit(&mut layout, Edit::Add(Entity::Supply(supply)));
        let supply = *layout.supplies.keys().next().unwrap();
        for n in 0..=cuts {
            let name = format!("Cab {}", n + 1);
            let driver = gapwright::layout::Driver { supply, name, ..driver.clone() };
            edit(&mut layout, Edit::Add(Entity::Driver(driver)));
        }
    }
    layout
}

#[test]
fn a_long_list_lays_out_what_is_in_view_and_keys_reach_the_rest() {
    let (mut w, _folder) = opened(&long(300, false), (1400.0, 1000.0));
    let count = w.state().report().findings.len();
    assert!(count >= 300, "{count}");
    if w.query_by_label("Show findings").is_some() {
        press(&mut w, "Show findings");
    }
    let laid_out = rows(&w).len();
    assert!(laid_out < 60, "{laid_out} rows are laid out");
    // Back from the first is the last.
    w.key_press_modifiers(Modifiers::SHIFT, Key::N);
    w.run();
    w.run();
    let there = w.query_all_by_label("Go there").next().expect("the last one is open").rect();
    assert!(there.top() > 0.0 && there.bottom() < 1000.0, "and in view: {there:?}");
    let report = w.state().report();
    let classes = [Class::Note, Class::Rule, Class::Fault];
    let of = |class| report.findings.iter().rfind(|f| f.class == class);
    let last = classes.into_iter().find_map(of).unwrap();
    let units = gapwright::report::Units::Metric;
    let words = gapwright::findings::words(last, report, w.state().layout(), units);
    assert!(says(&w, &words.why), "{}", words.says);
}

#[test]
fn the_strip_goes_to_the_driver_of_what_is_selected() {
    let (mut w, _folder) = opened(&long(40, true), (1280.0, 800.0));
    let cards = |w: &Window| names(w, Role::Slider).len();
    assert!(cards(&w) < 12, "{} cards are laid out", cards(&w));
    let id = *layout(&w).drivers.keys().nth(33).unwrap();
    let card = "Cab 34: throttle";
    assert!(w.query_by_label(card).is_none());
    select(&mut w, &format!("Driver Cab 34 ({id})"));
    w.run();
    let there = w.query_all(by().label(card).role(Role::Slider)).next();
    let there = there.expect("its card is laid out").rect();
    assert!(there.width() >= 110.0, "the slider is {} points wide", there.width());
    // Arrow keys set it by one per cent.
    w.query_all(by().label(card).role(Role::Slider)).next().unwrap().focus();
    w.run();
    let throttle = |w: &Window| layout(w).drivers[&id].setting.throttle;
    let was = throttle(&w);
    w_key(&mut w, Key::ArrowRight);
    w_key(&mut w, Key::ArrowRight);
    assert!((throttle(&w) - was - 0.02).abs() < 1e-9, "{was} {}", throttle(&w));
    w_key(&mut w, Key::ArrowLeft);
    assert!((throttle(&w) - was - 0.01).abs() < 1e-9);
}

#[test]
fn all_throttles_are_set_at_once_as_one_step() {
    let mut w = two_blocks();
    for (entry, direction) in [
        ("All reverse", Direction::Reverse),
        ("All stopped", Direction::Stopped),
        ("All forward", Direction::Forward),
    ] {
        there_and_back(&mut w, entry, |w| {
            press(w, "All throttles");
            press(w, entry);
        });
        assert!(layout(&w).drivers.values().all(|d| d.setting.direction == direction), "{entry}");
    }
    there_and_back(&mut w, "idle states", |w| {
        press(w, "All throttles");
        press(w, "All idle states high-impedance");
    });
    let idle = |d: &gapwright::layout::Driver| match d.drive {
        gapwright::layout::Drive::PwmBridge { idle, .. } => idle,
        _ => panic!("two bridges"),
    };
    assert!(layout(&w).drivers.values().all(|d| idle(d) == Idle::HighImpedance));
    press(&mut w, "All throttles");
    press(&mut w, "All forward");
    assert!(says(&w, "is set like that already"));
}

#[test]
fn lists_say_which_by_the_block() {
    let mut w = two_blocks();
    select(&mut w, "Run r3");
    name_block(&mut w, 200.0, "Sallow yard");
    name_block(&mut w, 1700.0, "Fen");
    press(&mut w, "Special work");
    for at in [700.0, 200.0] {
        let run = w.state().called(gapwright::layout::RunId(3).into());
        choose(&mut w, "Special work: Run", &run);
        set(&mut w, "Special work: At", at);
        press(&mut w, "Place it here");
        assert_eq!(told(&w), "");
    }
    press(&mut w, "Throw");
    let boxes = names(&w, Role::ComboBox);
    let thrown: Vec<&String> = boxes.iter().filter(|name| name.starts_with("Throw: ")).collect();
    let wanted = ["Throw: Turnout 1 in Sallow yard", "Throw: Turnout 2 in Sallow yard"];
    assert_eq!(thrown, wanted, "{boxes:?}");
    press(&mut w, "Feed");
    w.query_all(by().label("Feed: Run").role(Role::ComboBox)).next().unwrap().click_accesskit();
    w.run();
    let choices = names(&w, Role::Button);
    let bare =
        |name: &&String| name.strip_prefix("Run r").is_some_and(|n| n.parse::<u32>().is_ok());
    let there: Vec<&String> = choices.iter().filter(bare).collect();
    assert!(choices.iter().any(|name| name.contains("Run 1 in Sallow yard")), "{choices:?}");
    let unnamed = layout(&w)
        .runs
        .keys()
        .filter(|id| w.state().called(EntityId::Run(**id)) == format!("Run {id}"))
        .count();
    assert_eq!(there.len(), unnamed, "ids only where no block has a name: {there:?}");
}

#[test]
fn the_panel_is_as_wide_as_before_after_a_small_window() {
    let mut w = window_of_size(1600.0, 900.0);
    let width = |w: &Window| {
        let tab = w.query_all_by_label_contains("Findings (").next().unwrap();
        w.ctx.content_rect().right() - tab.rect().left()
    };
    let before = width(&w);
    w.set_size(vec2(780.0, 600.0));
    w.run();
    assert!(width(&w) < before - 50.0, "it gives way: {before} {}", width(&w));
    w.set_size(vec2(1600.0, 900.0));
    w.run();
    w.run();
    assert!((width(&w) - before).abs() < 2.0, "{before} {}", width(&w));
}

#[test]
fn the_card_at_a_reversing_section_says_how_it_is_operated() {
    let mut w = sample("wye");
    let report = w.state().report();
    let finding = report.findings.iter().find(|f| f.kind == Kind::UnbalancedLoop).unwrap();
    let cut = finding.cuts()[0];
    let name = layout(&w).cuts[&cut].name.clone();
    assert!(!name.is_empty());
    select(&mut w, &format!("Cut {name} ({cut})"));
    assert!(says(&w, "Reversing section"));
    let (report, units) = (w.state().report(), gapwright::report::Units::Metric);
    let finding = report.findings.iter().find(|f| f.kind == Kind::UnbalancedLoop).unwrap();
    let words = gapwright::findings::words(finding, report, w.state().layout(), units);
    assert!(!words.advice.is_empty());
    for line in &words.advice {
        assert!(says(&w, line), "{line}");
    }
}

#[test]
fn cautions_stand_where_one_acts() {
    let mut w = two_blocks();
    for (tool, caution) in [
        ("Cut rails", "Before sawing: power off"),
        ("Feed", "Soldering feeders: power off"),
        ("Bond rails", "Soldering: power off"),
    ] {
        press(&mut w, tool);
        assert!(says(&w, caution), "{tool}");
    }
    press(&mut w, "Layout");
    press(&mut w, "Add a device");
    press(&mut w, "Lamp or resistor");
    assert!(says(&w, "Lamps and resistors get hot"));
    let supply = layout(&w).supplies.values().next().unwrap().clone();
    let ohm = layout(&w).devices.values().find_map(|device| match &device.kind {
        gapwright::layout::DeviceKind::Resistor { ohm, .. } => Some(ohm.value),
        _ => None,
    });
    let watts = supply.open_v.value.powi(2) / ohm.unwrap();
    assert!(says(&w, &format!("up to {watts:.0} W")), "{watts}");
    select(&mut w, "Supply A (s5)");
    assert!(!says(&w, "Let them discharge"));
    set(&mut w, "Supply: Bulk capacitance", 10_000.0);
    assert!(says(&w, "Let them discharge"));
    press(&mut w, "Supply: Negative is tied to a shared one");
    assert!(says(&w, "never lift that earth"));
}

/// The last control of each panel can be brought into view, in small windows too, and the plan keeps room beside them.
#[test]
fn the_last_control_of_every_panel_is_reached() {
    for (width, height) in [(1280.0, 800.0), (1024.0, 768.0), (640.0, 480.0)] {
        let size = format!("{width} by {height}");
        let mut w = sample_in(window_of_size(width, height), "brake-idle");
        let whole = egui::Rect::from_min_size(Pos2::ZERO, vec2(width, height)).expand(1.0);
        let plan =
            w.query_all(by().label_contains("Plan, ").role(Role::Canvas)).next().unwrap().rect();
        assert!(plan.width() >= 190.0 && plan.height() >= 150.0, "{size}: {plan:?}");
        let reach = |w: &mut Window, role: Role, name: &str| {
            let find = |w: &Window| {
                let rect = w.query_all(by().label(name).role(role)).last().map(|n| n.rect());
                rect.unwrap_or_else(|| panic!("{size}: {name:?} is not there"))
            };
            w.query_all(by().label(name).role(role)).last().unwrap().scroll_to_me();
            for _ in 0..12 {
                w.step();
            }
            // What is too wide is scrolled to sideways.
            let rect = find(w);
            let upright = rect.top() >= whole.top() && rect.bottom() <= whole.bottom();
            assert!(upright && rect.left() < width, "{size}: {name:?} at {rect:?}");
        };
        select(&mut w, "Driver Pimmerton bridge (d1)");
        reach(&mut w, Role::MultilineTextInput, "Driver: Notes");
        select(&mut w, "Cut Home gap (c1)");
        reach(&mut w, Role::MultilineTextInput, "Cut particulars: Notes");
        let last = layout(&w).drivers.values().last().unwrap().name.clone();
        reach(&mut w, Role::Slider, &format!("{last}: throttle"));
        w_key(&mut w, Key::C);
        if w.query_all(by().label("Cut here").role(Role::Button)).next().is_none() {
            press(&mut w, "Tools");
        }
        reach(&mut w, Role::Button, "Cut here");
    }
}
