//! The club-size sample is drawn with the window itself, control by control, as somebody with a plan in hand would.
//!
//! With `GAPWRIGHT_DRAW` set the sample is written anew.

use super::*;
use gapwright::layout::geometry::{closest, curve};
use gapwright::layout::{Layout, RunId};

const FILE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-layouts/club.gapwright");

/// Where the six stations begin along the two straights, mm, with their names.
const STATIONS: [(f64, bool, &str); 6] = [
    (600.0, false, "Pellowdale"),
    (4600.0, false, "Brackenhythe"),
    (8600.0, false, "Sallowmere"),
    (11_400.0, true, "Tumblebeck"),
    (7400.0, true, "Wrenlow"),
    (3400.0, true, "Marrowgate"),
];
/// Length of a station from points to points, mm.
const STATION_MM: f64 = 3000.0;
/// Distance between the two straights, mm.
const WIDTH_MM: f64 = 2400.0;
/// How far inside the oval a loop line lies, mm.
const INSIDE_MM: f64 = 53.0;
/// The lines between stations: a place on each, mm, and its name.
const LINES: [((f64, f64), &str); 6] = [
    ((4100.0, 0.0), "Pellowdale bank"),
    ((8100.0, 0.0), "Brackenhythe cutting"),
    ((13_200.0, 1200.0), "East curve"),
    ((7900.0, 2400.0), "Tumblebeck viaduct"),
    ((3900.0, 2400.0), "Wrenlow bank"),
    ((-1200.0, 1200.0), "West curve"),
];
const NOTES: &str = "An oval of a club, as large as many are: six stations, each with a loop line and sidings, each \
    powered by a board of its own, and a board for each line between them. Two things are wrong: the feeders of one loop \
    line are crossed, and one board idles by switching both low sides on. The tool should find both at their gaps, and \
    nothing else to repair.";

struct Club {
    w: Window,
}

impl Club {
    fn layout(&self) -> &Layout {
        self.w.state().layout()
    }

    /// What a run is called in lists to choose from.
    fn run_name(&self, run: RunId) -> String {
        self.w.state().called(run.into())
    }

    /// The run that lies nearest to a place, and how far along it.
    fn at(&self, place: (f64, f64)) -> (RunId, f64) {
        let near = self.layout().runs.values().map(|run| {
            let found = closest(self.layout(), run, place);
            (found.off_mm.abs(), run.id, found.at_mm)
        });
        let (off, run, at_mm) = near.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap();
        assert!(off < 3.0, "nearest to {place:?} is {run}, {off:.1} mm away");
        (run, (at_mm * 10.0).round() / 10.0)
    }

    /// The joint of the last run that was laid, at its far end.
    fn last_end(&self) -> String {
        format!("Joint {}", self.layout().runs.values().last().unwrap().to)
    }

    /// A place at a distance along the straight of a station and so far inside the oval.
    fn place(station: (f64, bool, &str), along_mm: f64, inside_mm: f64) -> (f64, f64) {
        match station {
            (start, false, _) => (start + along_mm, inside_mm),
            (start, true, _) => (start - along_mm, WIDTH_MM - inside_mm),
        }
    }

    fn turnout(&mut self, at: (f64, f64), hand: &str, towards: &str, frog: &str) -> RunId {
        let (run, at_mm) = self.at(at);
        press(&mut self.w, "Special work");
        choose(&mut self.w, "Special work: Hand", hand);
        choose(&mut self.w, "Special work: Roads go", towards);
        choose(&mut self.w, "Special work: Frogs", frog);
        let called = self.run_name(run);
        choose(&mut self.w, "Special work: Run", &called);
        set(&mut self.w, "Special work: At", at_mm);
        press(&mut self.w, "Place it here");
        assert_eq!(told(&self.w), "");
        *self.layout().runs.keys().last().unwrap()
    }

    /// Lays on from the end that was laid last. Returns the new run.
    fn on(&mut self, way: &str, mm: f64, deg: f64) -> RunId {
        let end = self.last_end();
        select(&mut self.w, &end);
        press(&mut self.w, "Lay track");
        choose(&mut self.w, "Lay on: Way", way);
        if way == "Straight" {
            set(&mut self.w, "Lay on: Length", mm);
        } else {
            set(&mut self.w, "Lay on: Radius", mm);
            set(&mut self.w, "Lay on: Angle", deg);
        }
        press(&mut self.w, "Lay it on");
        assert_eq!(told(&self.w), "");
        w_key(&mut self.w, Key::Escape);
        *self.layout().runs.keys().last().unwrap()
    }

    fn join(&mut self, from: &str, to: &str) {
        press(&mut self.w, "Lay track");
        for (what, joint) in [("Lay from: From", from), ("Lay to: To", to)] {
            let id: u32 = joint.trim_start_matches("Joint j").parse().unwrap();
            let joint = &self.layout().joints[&gapwright::layout::JointId(id)];
            let words = format!("{} ({:.0}, {:.0})", joint.id, joint.x_mm, joint.y_mm);
            choose(&mut self.w, what, &words);
        }
        press(&mut self.w, "Lay this run");
        assert_eq!(told(&self.w), "");
        w_key(&mut self.w, Key::Escape);
    }

    fn cut(&mut self, (run, at_mm): (RunId, f64), name: &str) {
        press(&mut self.w, "Cut rails");
        let called = self.run_name(run);
        choose(&mut self.w, "Cut: Run", &called);
        set(&mut self.w, "Cut: At", at_mm);
        press(&mut self.w, "Cut here");
        assert_eq!(told(&self.w), "");
        let cut = *self.layout().cuts.keys().last().unwrap();
        select(&mut self.w, &format!("Cut {cut}"));
        write(&mut self.w, "Cut particulars: Name", name);
    }

    /// Feeds from a driver (`None`: a new one), so that forward drives round the oval counter-clockwise.
    fn feed(&mut self, (run, at_mm): (RunId, f64), driver: Option<&str>, swapped: bool) {
        let there = &self.layout().runs[&run];
        let pose = curve(self.layout(), there).at(at_mm);
        // Round the middle of the oval: to the right below it, to the left above it.
        let (x, y) = (pose.x_mm - 6000.0, pose.y_mm - WIDTH_MM / 2.0);
        let round = x * pose.dy - y * pose.dx;
        let right = (round > 0.0) != swapped;
        press(&mut self.w, "Feed");
        choose(&mut self.w, "Feed: Driver", driver.unwrap_or("a new driver"));
        let rails = if right { ["Right rail", "Left rail"] } else { ["Left rail", "Right rail"] };
        choose(&mut self.w, "Feed: P to", rails[0]);
        choose(&mut self.w, "Feed: M to", rails[1]);
        let called = self.run_name(run);
        choose(&mut self.w, "Feed: Run", &called);
        set(&mut self.w, "Feed: At", at_mm);
        press(&mut self.w, "Feed here");
        assert_eq!(told(&self.w), "");
    }

    fn name_driver(&mut self, name: &str, idle: &str) {
        let id = *self.layout().drivers.keys().last().unwrap();
        let old = self.layout().drivers[&id].name.clone();
        choose(&mut self.w, &format!("{old}: idle state"), idle);
        select(&mut self.w, &format!("{old} ({id})"));
        write(&mut self.w, "Driver: Name", name);
    }

    fn name_block(&mut self, (run, at_mm): (RunId, f64), name: &str) {
        select(&mut self.w, &format!("Run {run}"));
        super::name_block(&mut self.w, at_mm, name);
        // The name stands where it was wanted.
        let id = *self.layout().labels.keys().last().unwrap();
        select(&mut self.w, &format!("Block name {name} ({id})"));
        set(&mut self.w, "Block: At", at_mm);
        assert_eq!(told(&self.w), "");
    }
}

/// Tracks off a station's loop line, with what they are called.
struct Spur {
    name: String,
    /// The curve that has the gap, and the straight behind it.
    gap: (RunId, f64),
    straight: RunId,
    /// A place behind the gap, mm.
    behind: (f64, f64),
}

impl Club {
    /// A track beyond a turnout: a curve back, with room for a gap, and a straight.
    fn beyond(&mut self, way: &str, long_mm: f64, name: String) -> Spur {
        let gap = self.on(way, 600.0, 15.0);
        let straight = self.on("Straight", long_mm, 0.0);
        let pose = curve(self.layout(), &self.layout().runs[&straight]).at(long_mm - 150.0);
        Spur { name, gap: (gap, 80.0), straight, behind: (pose.x_mm, pose.y_mm) }
    }

    /// Lays a station's loop line and its spurs. Returns the spurs.
    fn lay_station(&mut self, station: (f64, bool, &str), yard: bool) -> Vec<Spur> {
        let at = |along, inside| Club::place(station, along, inside);
        let name = station.2;
        self.turnout(at(0.0, 0.0), "Left", "To its end", "Insulated");
        self.on("Curve right", 600.0, 15.0);
        let from = self.last_end();
        self.turnout(at(STATION_MM, 0.0), "Right", "To its start", "Insulated");
        self.on("Curve left", 600.0, 15.0);
        let to = self.last_end();
        self.join(&from, &to);
        let mut spurs = Vec::new();
        self.turnout(at(800.0, INSIDE_MM), "Left", "To its end", "Insulated");
        spurs.push(self.beyond("Curve right", 700.0, format!("{name} goods")));
        if yard {
            for track in 2..5 {
                let run = spurs[spurs.len() - 1].straight;
                let pose = curve(self.layout(), &self.layout().runs[&run]).at(60.0);
                self.turnout((pose.x_mm, pose.y_mm), "Left", "To its end", "Insulated");
                spurs.push(self.beyond("Curve right", 600.0, format!("{name} yard {track}")));
            }
        }
        self.turnout(at(2200.0, INSIDE_MM), "Right", "To its start", "Insulated");
        spurs.push(self.beyond("Curve left", 700.0, format!("{name} bay")));
        spurs
    }

    /// Cuts, feeds and names a station.
    fn wire_station(&mut self, station: (f64, bool, &str), spurs: &[Spur]) {
        let name = station.2;
        let at = |along, inside| Club::place(station, along, inside);
        for (along, inside, what) in [
            (-60.0, 0.0, "first gap"),
            (STATION_MM + 60.0, 0.0, "last gap"),
            (500.0, INSIDE_MM, "loop, first gap"),
            (STATION_MM - 500.0, INSIDE_MM, "loop, last gap"),
        ] {
            let place = self.at(at(along, inside));
            self.cut(place, &format!("{name} {what}"));
        }
        for spur in spurs {
            self.cut(spur.gap, &format!("{} gap", spur.name));
        }
        let main = self.at(at(STATION_MM / 2.0, 0.0));
        self.feed(main, None, false);
        let board = format!("{name} board");
        self.name_driver(&board, "High-impedance");
        self.name_block(main, name);
        let loop_line = self.at(at(STATION_MM / 2.0, INSIDE_MM));
        // One pair of feeders was crossed when it was soldered.
        self.feed(loop_line, Some(&board), name == "Sallowmere");
        self.name_block(loop_line, &format!("{name} loop"));
        for spur in spurs {
            // What was split since is found again by its place.
            let behind = self.at(spur.behind);
            self.feed(behind, Some(&board), false);
            self.name_block(behind, &spur.name);
        }
    }
}

fn draw() -> Window {
    let mut c = Club { w: window() };
    press(&mut c.w, "Lay track");
    set(&mut c.w, "Lay to: x", 12_000.0);
    press(&mut c.w, "Lay this run");
    w_key(&mut c.w, Key::Escape);
    c.on("Curve left", WIDTH_MM / 2.0, 180.0);
    c.on("Straight", 12_000.0, 0.0);
    c.on("Curve left", WIDTH_MM / 2.0, 180.0);
    let mut all = Vec::new();
    for (n, station) in STATIONS.into_iter().enumerate() {
        all.push(c.lay_station(station, n % 3 == 0));
    }
    for (station, spurs) in STATIONS.into_iter().zip(&all) {
        c.wire_station(station, spurs);
    }
    for (n, (place, name)) in LINES.into_iter().enumerate() {
        let place = c.at(place);
        c.feed(place, None, false);
        // One board came back from repair as it leaves the works.
        let idle = if n == 4 { "Brake-low" } else { "High-impedance" };
        c.name_driver(&format!("{name} board"), idle);
        c.name_block(place, name);
    }
    for vehicle in ["Heron diesel", "Thistle railcar"] {
        press(&mut c.w, "Layout");
        press(&mut c.w, "Add a vehicle");
        press(&mut c.w, vehicle);
    }
    press(&mut c.w, "Layout");
    write(&mut c.w, "Layout: Name", "Ravelmoor and Marrowgate, a club's oval");
    write(&mut c.w, "Layout: Notes", NOTES);
    w_key(&mut c.w, Key::K);
    write(&mut c.w, "Lineup: Name", "All trains run round");
    // Its throttle comes into view with it.
    let board = c.layout().drivers.values().find(|d| d.name == "Tumblebeck board").unwrap().id;
    select(&mut c.w, &format!("Driver Tumblebeck board ({board})"));
    press(&mut c.w, "Tumblebeck board: Reverse");
    w_key(&mut c.w, Key::K);
    write(&mut c.w, "Lineup: Name", "Tumblebeck shunts");
    select(&mut c.w, &format!("Driver Tumblebeck board ({board})"));
    press(&mut c.w, "Tumblebeck board: Forward");
    c.w
}

#[test]
fn the_club_layout_is_drawn_with_the_window() {
    let w = draw();
    let text = file(&w);
    if std::env::var_os("GAPWRIGHT_DRAW").is_some() {
        std::fs::write(FILE, &text).unwrap();
    }
    assert_eq!(text, std::fs::read_to_string(FILE).unwrap());
}
