//! Limits of a layout file: what is too deep, too long or too much is refused at once.

use gapwright::layout::{load, read_path};

use super::{faults_after, marked};

#[test]
fn deep_and_long_texts_are_refused_without_harm() {
    for open in ["(", "[", "{", "(version: 1, joints: [", "Some(", "/*", "r#", "'", "\"", "#!["] {
        let text = open.repeat(100_000);
        assert_eq!(load(&text).unwrap_err().len(), 1, "{open}");
        assert!(load(&format!("(version: 1, notes: {text}")).is_err());
    }
    let (text, place) = marked(&format!("{}§{}", "(".repeat(32), "(".repeat(100_000)));
    let faults = load(&text).unwrap_err();
    assert_eq!((faults[0].line, faults[0].column), place);
    assert!(faults[0].says.contains("too deep"));
}

#[test]
fn too_many_things_are_refused() {
    let mut text = String::from("(version: 1, joints: [");
    for i in 0..200_001 {
        text.push_str(&format!("(id: \"j{i}\", x_mm: 0, y_mm: 0),"));
    }
    text.push_str("])");
    let faults = load(&text).unwrap_err();
    assert_eq!(faults.len(), 1);
    assert!(faults[0].says.contains("200001 things"), "{}", faults[0]);
}

/// Counts at their limits load; one more is refused at once, and told.
#[test]
fn counts_beyond_their_limits_are_refused() {
    let list =
        |n: usize, one: &dyn Fn(usize) -> String| (0..n).map(one).collect::<Vec<_>>().join(",");
    let axles = |n| list(n, &|i| format!("(at_mm: {i})"));
    let vehicle = |n| format!("vehicles: [(id: \"v1\", length_mm: 1000, axles: [{}])]", axles(n));
    let train = |n| {
        format!("trains: [(id: \"t1\", vehicles: [{}])]", list(n, &|_| "(vehicle: \"v1\")".into()))
    };
    let chain = |n| {
        let device = |i: usize| match i {
            0 => "(id: \"x0\", kind: Resistor(from: \"d1\", ohm: 1))".to_owned(),
            i => format!("(id: \"x{i}\", kind: Resistor(from: \"x{}\", ohm: 1))", i - 1),
        };
        let stage = "high_ohm: 1, low_ohm: 1, diode_v: 1, diode_ohm: 1";
        format!(
            "supplies: [(id: \"s1\", open_v: 14, source_ohm: 1)], devices: [{}], drivers: [(id: \"d1\", \
             supply: \"s1\", drive: Nothing, {stage}, setting: (direction: Off))]",
            list(n, &device)
        )
    };
    let name = |n: usize| format!("name: {:?}", "é".repeat(n));
    for (good, bad, says) in [
        (vehicle(1000), vehicle(1001), "the vehicle has 1001 wheelsets"),
        (
            format!("{}, {}", vehicle(10), train(200)),
            format!("{}, {}", vehicle(1), train(201)),
            "the train has 201 vehicles",
        ),
        (
            format!("{}, {}", vehicle(10), train(200)),
            format!("{}, {}", vehicle(11), train(200)),
            "the vehicles of the train have 2200 wheelsets together",
        ),
        (chain(2000), chain(2001), "it is number 2001 of devices in a row"),
        (name(4000), name(4001), "the text has 4001 characters"),
    ] {
        assert!(load(&format!("(version: 1, {good})")).is_ok(), "{says}");
        let faults = load(&format!("(version: 1, {bad})")).unwrap_err();
        assert_eq!(faults.len(), 1, "{says}: {faults:?}");
        assert!(faults[0].says.contains(says), "{}", faults[0]);
    }
    // A circle of devices, however long, is told of as such.
    let circle = chain(2000).replacen("from: \"d1\"", "from: \"x1999\"", 1);
    let faults = load(&format!("(version: 1, {circle})")).unwrap_err();
    assert_eq!(faults.len(), 200);
    assert!(faults.iter().all(|fault| fault.says.contains("fed from itself")));
}

#[test]
fn no_more_faults_are_told_than_anyone_reads() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bad.gapwright");
    let joint = "(id: \"j1\", x_mm: NaN, y_mm: 1e308),";
    for (n, told) in [(50, 149), (50_000, 200)] {
        let text = format!("(version: 1, joints: [{}])", joint.repeat(n));
        // The first has two faults; of each of the others its id is used twice as well.
        assert_eq!(load(&text).unwrap_err().len(), told);
        std::fs::write(&path, text).unwrap();
        let words = read_path(&path).unwrap_err().to_string();
        assert_eq!(words.lines().count(), told + usize::from(told == 200));
        assert_eq!(words.contains("there may be more faults"), told == 200);
    }
    let point = "(times: 1, after_s: 1),";
    let (bad, _) = faults_after(
        "kind: Averaged(tau_s: 0.03)",
        &format!("kind: §Thermal(points: [{}])", point.repeat(7)),
    );
    assert!(bad[0].says.contains("7 points") && bad[0].expected.contains("1 to 6"), "{}", bad[0]);
}
