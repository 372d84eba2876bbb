//! The sample layouts: what each must say, and the currents and shares in it against closed forms worked out by hand.
//!
//! Unless a test says otherwise: supplies of 14 V behind 0.1 Ω, switches of 0.15 Ω, body diodes of 0.7 V and 0.05 Ω,
//! 3 m of 0.75 mm² per leg (26 Ω/km by IEC 60228: 0.078 Ω), feeders 0.5 m before the gap and 0.3 m after it on rail
//! of 0.1 Ω/m (0.08 Ω per rail), wheels of 0.02 Ω at best.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use gapwright::findings::{
    self as check, Class, CutReport, Evidence, Finding, Kind, Report, Situation, StateWord, Trips,
    Verdict,
};
use gapwright::layout::{self, DriverId, Layout, Work};
use gapwright::report::Units;
use gapwright::signal::Longest;

pub const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-layouts");

/// Every sample file that there is.
pub fn files() -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(FOLDER)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "gapwright"))
        .collect();
    files.sort();
    files
}

pub fn stem(path: &Path) -> String {
    path.file_stem().unwrap().to_string_lossy().into_owned()
}

/// Every sample with its name.
pub fn layouts() -> Vec<(String, Layout)> {
    files().iter().map(|path| (stem(path), layout::read_path(path).unwrap().layout)).collect()
}

/// The sample of a name.
pub fn sample(name: &str) -> Layout {
    layout::read_path(Path::new(&format!("{FOLDER}/{name}.gapwright"))).unwrap().layout
}

type Said = (Kind, Class, Verdict, &'static [&'static str]);

macro_rules! samples {
    ($(
        $name:ident $file:literal exit $exit:literal says [$($said:expr),* $(,)?] |$report:ident| $figures:block
    )*) => {
        /// Every sample with the exit status of its check.
        pub const EXPECTED: &[(&str, i32)] = &[("club", 1), ("club-redesign", 1), $(($file, $exit),)*];

        $(
            #[test]
            fn $name() {
                let $report = &report($file);
                says($report, &[$($said,)*]);
                assert_eq!(i32::from($report.verdict.is_fault()), $exit);
                $figures
            }
        )*
    };
}

fn report(file: &str) -> Report {
    let loaded = layout::read_path(&Path::new(FOLDER).join(format!("{file}.gapwright"))).unwrap();
    check::check(&loaded.layout)
}

/// Exactly these findings, no more and no fewer.
#[track_caller]
fn says(report: &Report, rightly: &[Said]) {
    let told = |f: &Finding| {
        let cuts: Vec<String> = f.cuts().iter().map(ToString::to_string).collect();
        format!("{} {:?} {} {cuts:?}", f.kind, f.class, f.verdict)
    };
    let mut found: Vec<String> = report.findings.iter().map(told).collect();
    let mut expected: Vec<String> = rightly
        .iter()
        .map(|(kind, class, verdict, cuts)| format!("{kind} {class:?} {verdict} {cuts:?}"))
        .collect();
    found.sort();
    expected.sort();
    assert_eq!(found, expected);
}

#[track_caller]
fn close(found: f64, expected: f64) {
    approx::assert_relative_eq!(found, expected, max_relative = 1e-3, epsilon = 1e-6);
}

fn cut(report: &Report, at: usize) -> &CutReport {
    &report.cuts[at]
}

fn agree(report: &Report) -> &Situation {
    cut(report, 0).agree.as_ref().unwrap()
}

fn disagree(report: &Report) -> &Situation {
    cut(report, 0).disagree.as_ref().unwrap()
}

fn one_dead(report: &Report) -> &Situation {
    cut(report, 0).one_dead.as_ref().unwrap()
}

fn now(report: &Report) -> &Situation {
    &cut(report, 0).now
}

fn now_at(report: &Report, at: usize) -> &Situation {
    &cut(report, at).now
}

fn evidence(report: &Report, kind: Kind) -> &Evidence {
    &report.findings.iter().find(|f| f.kind == kind).unwrap().evidence
}

/// Clear, with nothing flowing.
#[track_caller]
fn quiet(situation: &Situation) {
    assert_eq!(situation.verdict, Verdict::Clear);
    close(situation.share, 0.0);
    close(situation.peak_a(), 0.0);
}

const fn fault(kind: Kind, verdict: Verdict) -> Said {
    (kind, Class::Fault, verdict, &["c1"])
}

/// Directions must match before a train crosses.
const RULE: Said = (Kind::OpposedPolarity, Class::Rule, Verdict::Short, &["c1"]);
/// A neighbour whose supply is off is powered through its diodes; nothing says what it bears.
const LIFTED: Said = (Kind::BackFeed, Class::Note, Verdict::Clear, &["c1"]);
const SURGE: Said = (Kind::Surge, Class::Note, Verdict::Clear, &["c1"]);
/// A block whose feeder stands on another run than the end of its track: the joiners between are plain ones.
const JOINERS: Said = (Kind::RestsOnJoiners, Class::Note, Verdict::Caution, &[]);
const ONE_RAIL: Said = (Kind::OneRailCut, Class::Note, Verdict::Caution, &["c1"]);

/// Wires of both feeds, rails, in a loop through both rails: 4 × 0.078 + 2 × 0.08.
const LOOP_OHM: f64 = 4.0 * 0.078 + 2.0 * 0.08;
/// Contacts of six axles that stand three and three, in a loop through both rails: 4 × 0.02/3.
const SIX_WHEELS_OHM: f64 = 4.0 * 0.02 / 3.0;
/// Contacts of two axles, one and one: 4 × 0.02.
const TWO_WHEELS_OHM: f64 = 4.0 * 0.02;

/// Two supplies of `volts` together in series through both bridges, which both drive: two sources, four switches.
fn opposed_a(volts: f64, contacts_ohm: f64) -> f64 {
    volts / (2.0 * 0.1 + 4.0 * 0.15 + LOOP_OHM + contacts_ohm)
}

/// One bridge drives into the two switches of one side of another that brakes: one source, and three switches
/// outright. Through the fourth the current runs from the pole to the output (or back into the high pole), so that
/// its body diode shares: as seen from outside, 0.15 Ω and 0.7 V + 0.05 Ω side by side are a voltage of
/// 0.7 × 0.15/(0.15 + 0.05) behind 0.15 × 0.05/(0.15 + 0.05).
fn clamp_a(wires_ohm: f64, contacts_ohm: f64) -> f64 {
    let (shared_v, shared_ohm) = (0.7 * 0.15 / 0.2, 0.15 * 0.05 / 0.2);
    (14.0 - shared_v) / (0.1 + 3.0 * 0.15 + shared_ohm + wires_ohm + contacts_ohm)
}

samples! {
    coasting_bridges "coasting-bridges" exit 0 says [RULE, LIFTED, SURGE, JOINERS] |r| {
        quiet(agree(r));
        quiet(now(r));
        // 28 V / (0.2 + 0.6 + 0.472 + 0.0267) = 21.56 A, all the time at full throttle.
        close(disagree(r).peak_a(), opposed_a(28.0, SIX_WHEELS_OHM));
        close(disagree(r).peak_a(), 21.5606);
        close(disagree(r).share, 1.0);
        // Both carry it and both trip.
        assert!(disagree(r).drivers.iter().all(|d| d.trips == Trips::Yes));
        // 0.35 + 0.65 − 0.35 × 0.65.
        let Evidence::Surge(e) = evidence(r, Kind::Surge) else { panic!() };
        let (a, b, both) = (&e.first, &e.second, &e.both);
        close(*a, 0.35);
        close(*b, 0.65);
        close(*both, 0.7725);
        // An unpowered neighbour: 14 V less two diodes of 0.7 V.
        let dead = one_dead(r).drivers.iter().filter_map(|d| d.positive_pole_v).fold(f64::INFINITY, f64::min);
        close(dead, 14.0 - 1.4);
    }

    brake_low "brake-idle" exit 1
        says [fault(Kind::IdleClamp, Verdict::Short), RULE, LIFTED, JOINERS] |r|
    {
        // (14 − 0.525) / (0.1 + 0.45 + 0.0375 + 0.472 + 0.0267) = 12.41 A.
        let peak = clamp_a(LOOP_OHM, SIX_WHEELS_OHM);
        close(peak, 12.406);
        close(agree(r).peak_a(), peak);
        close(disagree(r).peak_a(), opposed_a(28.0, SIX_WHEELS_OHM));
        // West drives while east brakes: 0.4 × 0.2; east drives while west brakes: 0.8 × 0.6.
        let (west, east) = (0.4 * 0.2, 0.8 * 0.6);
        let s = now(r);
        close(s.share, west + east);
        let [a, b] = &s.drivers[..] else { panic!() };
        // Out of the west's P while it drives, into it while the east drives.
        close(a.p.mean, (west - east) * peak);
        close(a.p.mean_abs, (west + east) * peak);
        close(a.p.rms, (west + east).sqrt() * peak);
        close(b.p.mean, -a.p.mean);
        // A braking driver draws nothing from its own supply.
        close(a.supply.mean, west * peak);
        close(a.supply.rms, west.sqrt() * peak);
        close(b.supply.mean, east * peak);
        close(a.supply.peak, peak);
        // Which trips at once: both, 20 µs after the wheels join the rails.
        assert_eq!(s.first, [DriverId(1), DriverId(2)]);
        close(a.trip_after_s.unwrap(), 20e-6);
        // The railcar has one wheel on each rail on each side.
        let railcar = &cut(r, 0).passes_agree[1];
        assert_eq!(railcar.wheels, [[1, 1], [1, 1]].map(|w| w.to_vec()));
        // 54 mm between its axles.
        close(railcar.straddle_mm, 54.0);
    }

    brake_high "brake-high" exit 1
        says [
            fault(Kind::IdleClamp, Verdict::Short),
            RULE,
            LIFTED,
            (Kind::TripNeverActs, Class::Note, Verdict::Caution, &["c1"]), JOINERS,
        ] |r|
    {
        let peak = clamp_a(LOOP_OHM, SIX_WHEELS_OHM);
        close(agree(r).peak_a(), peak);
        let s = now(r);
        // Only the east brakes: the west drives at 0.5 while the east is idle for 0.75. While the east drives the
        // west coasts.
        close(s.share, 0.5 * 0.75);
        let [west, east] = &s.drivers[..] else { panic!() };
        close(west.supply.mean, 0.375 * peak);
        close(east.supply.peak, 0.0);
        // All of it passes the east's outputs, none of it its ground return.
        close(east.p.peak, peak);
        close(east.sensed.unwrap().peak, 0.0);
        assert_eq!((west.trips, east.trips), (Trips::Yes, Trips::No));
        assert_eq!(s.first, [DriverId(1)]);
    }

    directions_must_match "directions-must-match" exit 0
        says [
            (Kind::OpposedPolarity, Class::Rule, Verdict::Short, &["c1", "c2"]),
            (Kind::BackFeed, Class::Note, Verdict::Clear, &["c1", "c2"]),
            (Kind::Surge, Class::Note, Verdict::Clear, &["c1", "c2"]), JOINERS,
        ] |r|
    {
        // From the Fennalow feed 500 mm to the south gap; on to the curve's feed 300 mm, a quarter circle of radius
        // 600 mm and 450 mm. The north gap lies the same way round.
        let rail_m = 0.5 + 0.3 + 0.6 * std::f64::consts::FRAC_PI_2 + 0.45;
        // 3 m of 0.75 mm² on one side, 2 m of 1.5 mm² (13.3 Ω/km) on the other.
        let wires = 2.0 * (0.078 + 0.0266);
        let peak = 28.0 / (0.2 + 0.6 + wires + 2.0 * 0.1 * rail_m + SIX_WHEELS_OHM);
        for cut in &r.cuts {
            quiet(cut.agree.as_ref().unwrap());
            quiet(&cut.now);
            close(cut.disagree.as_ref().unwrap().peak_a(), peak);
        }
    }

    set_against_each_other "set-against-each-other" exit 1
        says [
            (Kind::OpposedPolarity, Class::Fault, Verdict::Short, &["c2"]),
            (Kind::OpposedPolarity, Class::Rule, Verdict::Short, &["c1", "c2"]), (Kind::BackFeed, Class::Note, Verdict::Clear, &["c1", "c2"]), SURGE, JOINERS,
        ] |r|
    {
        let rail_m = 0.5 + 0.3 + 0.6 * std::f64::consts::FRAC_PI_2 + 0.45;
        let wires = 2.0 * (0.078 + 0.0266);
        let peak = 28.0 / (0.2 + 0.6 + wires + 2.0 * 0.1 * rail_m + SIX_WHEELS_OHM);
        quiet(&cut(r, 0).now);
        let north = &cut(r, 1).now;
        // Both in their drive state: 0.5 × 0.3.
        close(north.share, 0.15);
        close(north.peak_a(), peak);
        for driver in &north.drivers {
            close(driver.supply.mean, 0.15 * peak);
            close(driver.supply.rms, 0.15_f64.sqrt() * peak);
        }
    }

    swapped_feed "swapped-feed" exit 1
        says [fault(Kind::SwappedFeed, Verdict::Short), LIFTED, JOINERS] |r|
    {
        close(agree(r).peak_a(), opposed_a(28.0, SIX_WHEELS_OHM));
        close(now(r).share, 0.5 * 0.5);
        quiet(disagree(r));
    }

    unequal_supplies "unequal-supplies" exit 1
        says [
            fault(Kind::BackFeed, Verdict::BackFeed),
            RULE, LIFTED,
            (Kind::Inrush, Class::Note, Verdict::Clear, &["c1"]), JOINERS,
        ] |r|
    {
        // Both drive: the branch's pole stands at the yard's 18 V, no current flows any more.
        let s = agree(r);
        assert_eq!(s.verdict, Verdict::BackFeed);
        close(s.share, 0.0);
        close(s.drivers[1].positive_pole_v.unwrap(), 18.0);
        // (16 − 18) / 16.
        close(s.margin.unwrap(), -0.125);
        close(disagree(r).peak_a(), opposed_a(18.0 + 14.0, SIX_WHEELS_OHM));
        // Both drive: 18 V against the capacitor's 14 V, through one source, four switches, the loop and the capacitor's
        // own 0.3 Ω. It stays below the trip.
        let Evidence::Inrush(e) = evidence(r, Kind::Inrush) else { panic!() };
        let ohm = 0.1 + 0.6 + LOOP_OHM + SIX_WHEELS_OHM + 0.3;
        close(e.from_v, 14.0);
        close(e.to_v, 18.0);
        close(e.amps, 4.0 / ohm);
        close(e.tau_s, ohm * 0.001);
        assert!(e.trips.is_empty());
    }

    neighbour_wakes "neighbour-wakes" exit 1
        says [
            fault(Kind::IdleClamp, Verdict::Short),
            fault(Kind::BackFeed, Verdict::Short),
            RULE, LIFTED, JOINERS,
        ] |r|
    {
        let peak = clamp_a(LOOP_OHM, SIX_WHEELS_OHM);
        close(one_dead(r).peak_a(), peak);
        let s = now(r);
        close(s.peak_a(), peak);
        // As long as the main line drives.
        close(s.share, 0.6);
        // The sleeping supply gives nothing; its board brakes.
        close(s.drivers[1].supply.peak, 0.0);
        assert!(s.states.iter().all(|joint| joint.drivers[&DriverId(2)] == StateWord::BrakeLow));
    }

    inrush "inrush" exit 1
        says [fault(Kind::Inrush, Verdict::Short), RULE, LIFTED, SURGE, JOINERS] |r|
    {
        quiet(agree(r));
        // Nothing flows once the capacitor is charged, but the rush trips.
        assert_eq!(one_dead(r).verdict, Verdict::Short);
        close(one_dead(r).share, 0.0);
        quiet(now(r));
        // 14 V less two diodes of 0.7 V, through one source, two switches, the loop, two diodes, the capacitor's 0.08 Ω.
        let ohm = 0.1 + 0.3 + LOOP_OHM + SIX_WHEELS_OHM + 0.1 + 0.08;
        let Evidence::Inrush(e) = evidence(r, Kind::Inrush) else { panic!() };
        close(e.from_v, 0.0);
        close(e.to_v, 12.6);
        close(e.amps, 12.6 / ohm);
        close(e.tau_s, ohm * 0.0022);
        assert!(e.trips.contains(&DriverId(1)));
    }

    one_board "one-board" exit 1
        says [
            fault(Kind::IdleClamp, Verdict::Short),
            RULE,
            LIFTED, JOINERS,
        ] |r|
    {
        // From the driving P over one rail into the braking side's low switch, which it enters from the output, so
        // its diode stays out of it.
        let there = 0.1 + 0.15 + 2.0 * 0.078 + 0.08 + SIX_WHEELS_OHM / 2.0 + 0.15;
        // Back over the two ties, and beside them over the other rail: low switch, wires, rail, contacts, low switch.
        let (ties, other) = (0.04, 0.3 + 2.0 * 0.078 + 0.08 + SIX_WHEELS_OHM / 2.0);
        close(agree(r).peak_a(), 14.0 / (there + ties * other / (ties + other)));
        // Drives while the other brakes, both ways round: 2 × 0.3 × 0.7.
        close(now(r).share, 0.42);
        close(now(r).drivers[0].p.mean, 0.0);
        let Evidence::IdleClamp(e) = evidence(r, Kind::IdleClamp) else { panic!() };
        assert!(e.one_rail);
        let by_join = e.by_join;
        assert_eq!(by_join[0], Some(Verdict::Short), "both rails");
        assert!(by_join[1].max(by_join[2]) == Some(Verdict::Short), "one rail");
    }

    common_rail_bridges "common-rail-bridges" exit 1
        says [
            (Kind::CommonRailFight, Class::Fault, Verdict::Short, &[]),
            (Kind::CommonRailFight, Class::Rule, Verdict::Short, &[]),
            fault(Kind::OpposedPolarity, Verdict::Short),
            RULE,
            ONE_RAIL, JOINERS,
        ] |r|
    {
        let Evidence::CommonRailFight(e) = evidence(r, Kind::CommonRailFight) else { panic!() };
        let (situation, set_now) = (&e.situation, e.now);
        // Over the common rail with no train: one source, a high and a low switch, both wires. How much rail lies
        // between the feeders is left out.
        close(situation.peak_a(), 14.0 / (0.1 + 0.3 + 2.0 * 0.078));
        close(situation.share, 0.5 * 0.4);
        assert!(set_now);
        // With a train the cut rail is joined as well: two such paths side by side behind one source.
        let (common, joined) = (0.3 + 2.0 * 0.078 + 0.08, 0.3 + 2.0 * 0.078 + 0.08 + SIX_WHEELS_OHM / 2.0);
        let both = common * joined / (common + joined);
        let total = 14.0 / (0.1 + both);
        close(now(r).peak_a(), total * both / common);
    }

    common_rail_split "common-rail-split" exit 0 says [RULE, ONE_RAIL, SURGE, JOINERS] |r| {
        quiet(agree(r));
        quiet(now(r));
        // Both halves in series: two sources, a high and a low switch, the wires and the rail of the output side only.
        close(disagree(r).peak_a(), 28.0 / (0.2 + 0.3 + 2.0 * 0.078 + 0.08 + SIX_WHEELS_OHM / 2.0));
    }

    dcc_beside_dc "dcc-beside-dc" exit 1
        says [fault(Kind::MixedDrive, Verdict::Short), LIFTED, JOINERS] |r|
    {
        assert!(cut(r, 0).agree.is_none());
        // Two sources of 0.1 Ω, four switches, the throttle's 0.5 Ω, against 15 V and half or all of 12 V.
        let ohm = 0.2 + 0.6 + 0.5 + LOOP_OHM + SIX_WHEELS_OHM;
        let s = now(r);
        close(s.peak_a(), 21.0 / ohm);
        close(disagree(r).peak_a(), 27.0 / ohm);
        close(s.share, 0.5);
        // Half of an ordinary "0": 100 µs (NMRA S-9.1).
        close(s.longest_s.seconds().unwrap(), 100e-6);
        // The booster changes sides, the throttle does not. Its trip averages the magnitude: it reaches 4 A after
        // −τ·ln(1 − 4/mean), give or take the ripple of 200 µs.
        let mean = 0.5 * 21.0 / ohm;
        close(s.drivers[1].p.mean, mean);
        let after = -0.01 * (1.0 - 4.0 / mean).ln();
        approx::assert_abs_diff_eq!(s.drivers[0].trip_after_s.unwrap(), after, epsilon = 200e-6);
    }

    boosters_out_of_phase "boosters-out-of-phase" exit 1
        says [fault(Kind::PhaseOpposed, Verdict::Short), LIFTED, JOINERS] |r|
    {
        assert!(cut(r, 0).agree.is_none());
        let peak = opposed_a(30.0, SIX_WHEELS_OHM);
        close(now(r).peak_a(), peak);
        close(now(r).share, 1.0);
        assert_eq!(now(r).longest_s, Longest::Endless);
        close(now(r).drivers[0].p.mean, 0.0);
        close(now(r).drivers[0].p.rms, peak);
        // Steady in magnitude: −τ·ln(1 − 4/peak).
        close(now(r).drivers[0].trip_after_s.unwrap(), -0.01 * (1.0 - 4.0 / peak).ln());
    }

    boosters_in_phase "boosters-in-phase" exit 0 says [LIFTED, JOINERS] |r| {
        quiet(agree(r));
        quiet(now(r));
        assert!(cut(r, 0).disagree.is_none());
    }

    wiring_day "wiring-day" exit 1
        says [
            (Kind::BlocksMerged, Class::Fault, Verdict::Caution, &[]),
            (Kind::DoublyFed, Class::Fault, Verdict::Short, &[]),
            (Kind::Unfed, Class::Fault, Verdict::Stall, &[]),
            (Kind::HalfFed, Class::Fault, Verdict::Stall, &[]), JOINERS,
        ]
        |r|
    {
        let Some(situation) = evidence(r, Kind::DoublyFed).situation() else { panic!() };
        // Set against each other with no train: two supplies, four switches, four wires.
        close(situation.peak_a(), 28.0 / (0.2 + 0.6 + 4.0 * 0.078));
        // 1500 mm of straight and 400 mm of curve up to the first gap.
        let merged = r.blocks.iter().find(|b| b.drivers.len() == 2).unwrap();
        close(merged.length_mm, 1900.0);
        let Evidence::Unfed(e) = evidence(r, Kind::Unfed) else { panic!() };
        // The rest of a 60° curve of 800 mm radius, 900 mm, and 300 mm of the next curve.
        let curve = 800.0 * std::f64::consts::FRAC_PI_3;
        close(e.length_mm, curve - 400.0 + 900.0 + 300.0);
    }

    split_pickup "split-pickup" exit 1
        says [fault(Kind::Stall, Verdict::Stall), RULE, LIFTED, JOINERS] |r|
    {
        let stall = r.findings.iter().find(|f| f.kind == Kind::Stall).unwrap();
        assert_eq!(stall.vehicle.unwrap().to_string(), "v2");
        assert_eq!(agree(r).verdict, Verdict::Stall);
        close(agree(r).share, 0.0);
        close(disagree(r).peak_a(), opposed_a(28.0, SIX_WHEELS_OHM));
        // The diesel alone passes: it has pickups on all wheels.
        let mut loaded =
            layout::read_path(&Path::new(FOLDER).join("split-pickup.gapwright")).unwrap().layout;
        loaded.vehicles.remove(&stall.vehicle.unwrap());
        assert_eq!(check::check(&loaded).verdict, Verdict::Clear);
    }

    railcar_slips_by "railcar-slips-by" exit 1
        says [fault(Kind::IdleClamp, Verdict::Short), RULE, LIFTED, JOINERS] |r|
    {
        // The diesel.
        close(agree(r).peak_a(), clamp_a(LOOP_OHM, SIX_WHEELS_OHM));
        let share = 0.35 * 0.35 + 0.65 * 0.65;
        close(now(r).share, share);
        let railcar = &cut(r, 0).passes_now[1];
        // 54 mm at 400 mm/s. The average climbs to mean·(1 − e^(−t/τ)): 2.3 A by then, and 3 A only after 0.18 s.
        close(railcar.fast.time_s.unwrap(), 0.135);
        let mean = share * clamp_a(LOOP_OHM, TWO_WHEELS_OHM);
        let reached = mean * (1.0 - (-0.135_f64 / 0.3).exp());
        assert!(reached < 2.5, "{reached}");
        assert_eq!(railcar.fast.trips, Trips::No);
        // At 30 mm/s it is over the gap for 1.8 s, and the average is all there: 6.5 A.
        assert!(mean > 6.0);
        assert_eq!(railcar.slow.trips, Trips::Yes);
        assert_eq!(railcar.standing.trips, Trips::Yes);
    }

    not_yet_known "not-yet-known" exit 0
        says [
            fault(Kind::ValueNotKnown, Verdict::NotKnown),
            (Kind::CoinTestFails, Class::Fault, Verdict::NotKnown, &[]),
            (Kind::VoltDrop, Class::Note, Verdict::Caution, &[]),
            RULE, LIFTED, JOINERS,
        ] |r|
    {
        // At 0.8 Ω a leg 5.3 A flow, at 3 Ω less than the trip's 3 A.
        let wires = |ohm: f64| 2.0 * 0.078 + 2.0 * ohm + 2.0 * 0.08;
        close(agree(r).peak_a(), clamp_a(wires(0.8), SIX_WHEELS_OHM));
        assert!(14.0 / (0.1 + 0.6 + wires(3.0) + SIX_WHEELS_OHM) < 2.0);
        close(now(r).share, 2.0 * 0.4 * 0.6);
        let Evidence::ValueNotKnown(e) = evidence(r, Kind::ValueNotKnown) else { panic!() };
        let measure = &e.measure;
        let [(Some(entity), field)] = &measure[..] else { panic!("{measure:?}") };
        assert_eq!((entity.to_string().as_str(), *field), ("f2", "ohm"));
        // The far end of the works, as the rails lie.
        let Evidence::CoinTestFails(coin) = evidence(r, Kind::CoinTestFails) else { panic!() };
        let short = |ohm: f64| 14.0 / (0.1 + 0.3 + 2.0 * ohm + 2.0 * 0.1 * coin.rail_mm[0] / 1000.0 + 0.01);
        close(coin.leg.peak, short(0.8));
        assert!(short(0.3) > 3.0 && short(3.0) < 3.0);
        assert_eq!(coin.measure, *measure);
        // (14 − 5) V / 12 Ω over 0.8 Ω there and back and the rails: more than a tenth of 14 V.
        let Evidence::VoltDrop(e) = evidence(r, Kind::VoltDrop) else { panic!() };
        close(e.load_a, 9.0 / 12.0);
        close(e.wires_ohm, 1.6 + 2.0 * 0.1 * coin.rail_mm[0] / 1000.0 - 0.002);
        // Set against each other it trips at either end: 28 V over 7.1 Ω are still 3.9 A.
        assert_eq!(disagree(r).verdict, Verdict::Short);
        close(disagree(r).peak_a(), 28.0 / (0.8 + wires(0.8) + SIX_WHEELS_OHM));
        assert!(28.0 / (0.8 + wires(3.0) + SIX_WHEELS_OHM) > 3.9);
    }

    matched_throttles "matched-throttles" exit 0 says [RULE, JOINERS] |r| {
        // Not even a pole is lifted: the lower throttle's own regulator blocks.
        quiet(agree(r));
        quiet(now(r));
        // 24 V over two sources of 0.2 Ω, two outputs of 1 Ω, four switches, the loop, and three axles that stand
        // one and two: 2 × (0.02 + 0.01).
        let peak = 24.0 / (0.4 + 2.0 + 0.6 + LOOP_OHM + 0.06);
        close(disagree(r).peak_a(), peak);
        // Steady: the average reaches 2 A after −τ·ln(1 − 2/peak).
        close(disagree(r).drivers[0].trip_after_s.unwrap(), -0.2 * (1.0 - 2.0 / peak).ln());
    }

    trip_above_the_supply "trip-above-the-supply" exit 1
        says [(Kind::SupplyGivesUpFirst, Class::Fault, Verdict::Overload, &[]), RULE, LIFTED, SURGE, JOINERS] |r|
    {
        quiet(agree(r));
        quiet(now(r));
        close(disagree(r).peak_a(), opposed_a(28.0, TWO_WHEELS_OHM));
        let Evidence::SupplyGivesUpFirst(e) = evidence(r, Kind::SupplyGivesUpFirst) else { panic!() };
        close(e.threshold_a, 3.0);
        close(e.limit_a, 2.0);
    }

    // The engine's six axles stand three and three over the gap, both sides fed by one bridge through one pair of wires;
    // the rails between feeder and gap are the loop's own. One gap: what lies on both sides is one block.
    dogbone "dogbone" exit 1 says [
        (Kind::LoopOneCut, Class::Fault, Verdict::Short, &["c1"]),
    ] |r| {
        let Evidence::LoopOneCut(e) = evidence(r, Kind::LoopOneCut) else { panic!() };
        let round = &e.round;
        // Through the crossover, whose curve is measured here in small steps, and back by the east end: 1300 mm, half a
        // circle of 400 mm radius, 2700 mm.
        let at = |t: f64| {
            let u = 1.0 - t;
            let [a, b, c, d] = [u * u * u, 3.0 * u * u * t, 3.0 * u * t * t, t * t * t];
            (-700.0 * a + 100.0 * b - 100.0 * c + 700.0 * d, 400.0 * (a + b - c - d))
        };
        let crossover: f64 = (0..10_000)
            .map(|n| (at(f64::from(n) / 1e4), at(f64::from(n + 1) / 1e4)))
            .map(|(p, q)| (q.0 - p.0).hypot(q.1 - p.1))
            .sum();
        close(round.length_mm, crossover + 1300.0 + std::f64::consts::PI * 400.0 + 2700.0);
        assert_eq!(round.cuts, [layout::CutId(1)]);
    }

    // Metal wheels from 25 mm behind the engine's front to 30 mm before the end of nine wagons of 130 mm.
    wye "wye" exit 1 says [
        (Kind::SectionTooShort, Class::Fault, Verdict::Short, &["c1", "c2"]),
        (Kind::UnbalancedLoop, Class::Fault, Verdict::Short, &["c1", "c2"]),
    ] |r| {
        let Evidence::SectionTooShort(e) = evidence(r, Kind::SectionTooShort) else { panic!() };
        let check::TooShort::Apart(e) = &**e else { panic!() };
        close(e.apart.mm, 1300.0 - 200.0);
        close(e.longest.mm, 210.0 + 9.0 * 130.0 - 30.0 - 25.0);
        // The reverser ends the short at the far end.
        assert!(r.cuts.iter().all(|cut| cut.now.verdict == Verdict::Clear));
    }

    terminus "terminus" exit 1 says [
        (Kind::FedBeyondFrog, Class::Fault, Verdict::Short, &[]),
        (Kind::PointsAgainst, Class::Rule, Verdict::Short, &[]),
        (Kind::PointsAgainst, Class::Rule, Verdict::Short, &[]),
        (Kind::PointsAgainst, Class::Rule, Verdict::Short, &["c1"]),
    ] |r| {
        let Evidence::FedBeyondFrog(e) = evidence(r, Kind::FedBeyondFrog) else { panic!() };
        assert!(e.now);
        // P comes to the live metal through two pairs of wires, since the outer rail of road two runs through; M by the
        // one of road two: 0.1 + 0.3 + 0.078 + 0.078 / 2 Ω. Rails are not in a circuit without a train.
        close(e.situation.peak_a(), 14.0 / (0.1 + 0.3 + 0.078 + 0.039));
    }

    // Two bridges on one supply, opposite: 14 V through the high switch of one and the low switch of the other on each
    // rail that the common one joins.
    two_cabs "two-cabs" exit 0 says [
        // With the cabs exchanged on the two selectors, either way round.
        (Kind::StandingShort, Class::Rule, Verdict::Short, &[]),
        RULE, ONE_RAIL,
    ] |r| {
        let Evidence::StandingShort(e) = evidence(r, Kind::StandingShort) else { panic!() };
        assert!(!e.now);
        // One leg of each: a source, a high and a low switch, two wires, two selectors.
        close(e.situation.peak_a(), 14.0 / (0.1 + 0.3 + 2.0 * (0.078 + 0.02)));
        quiet(now_at(r, 0));
    }

    transfer "transfer" exit 0 says [
        (Kind::MixedDrive, Class::Rule, Verdict::Short, &["c1"]),
        (Kind::MixedDrive, Class::Rule, Verdict::Short, &["c2"]),
        (Kind::BackFeed, Class::Note, Verdict::Clear, &["c2", "c1"]),
    ] |r| {
        // The selector is on the booster: the yard's gap is clear, the main line's a trap.
        quiet(now_at(r, 0));
        assert_eq!(now_at(r, 1).verdict, Verdict::Short);
        // DCC opposes the drive state of the throttle's bridge, half of the time, which drives for half of the time.
        close(now_at(r, 1).share, 0.25);
    }

    turntable "turntable" exit 0 says [(Kind::UnbalancedLoop, Class::Note, Verdict::Clear, &[])] |r| {
        assert!(r.cuts.is_empty());
    }
}

/// Without the pit's ring the same turntable shorts at the roads that half a turn leads to.
#[test]
fn a_turntable_that_exchanges_nothing_opposes_its_roads() {
    let path = Path::new(FOLDER).join("turntable.gapwright");
    let mut layout = layout::read_path(&path).unwrap().layout;
    for special in layout.specials.values_mut() {
        let Work::Turntable { exchange_deg, .. } = &mut special.work else { panic!() };
        *exchange_deg = None;
    }
    let r = check::check(&layout);
    says(
        &r,
        &[
            (Kind::UnbalancedLoop, Class::Fault, Verdict::Short, &[]),
            (Kind::OpposedPolarity, Class::Rule, Verdict::Short, &[]),
        ],
    );
    // Both rails from pole to pole of one bridge: wires of 2 m to the road and to the bridge, 348 mm of road, half the
    // bridge, three wheels on each side.
    let rail = 2.0 * 2.0 * 0.026 + 0.1 * (0.748 - 0.4) + 0.1 * 0.15 + 2.0 * 0.02 / 3.0;
    let Some(situation) = evidence(&r, Kind::OpposedPolarity).situation() else { panic!() };
    close(situation.peak_a(), 14.0 / (0.1 + 0.3 + rail / 2.0));
    // It says in which position, and speaks of no second throttle.
    let told = gapwright::report::text("turntable", &layout, &r, Units::Metric);
    assert!(told.contains("Turntable Kiln Bank (with the bridge's "), "{told}");
    assert!(!told.contains("both throttles") && !told.contains("both drivers"), "{told}");
}

/// A cut at which a rule's trap is set now does not count as clear.
#[test]
fn the_summary_counts_no_trap_as_clear() {
    let path = Path::new(FOLDER).join("transfer.gapwright");
    let layout = layout::read_path(&path).unwrap().layout;
    let summary = |position: u32| {
        let mut layout = layout.clone();
        layout.devices.values_mut().for_each(|device| device.position = position);
        gapwright::report::Tally::of(&check::check(&layout)).words()
    };
    for position in [0, 1] {
        assert_eq!(summary(position), "2 operating rules, 1 cut clear");
    }
}

/// The club's layout has too many findings to list them one by one: they are told by where they are.
#[test]
fn club_redesign() {
    let r = &report("club-redesign");
    let faults: Vec<_> = r.findings.iter().filter(|f| f.class == Class::Fault).collect();
    let [fault] = faults[..] else { panic!("{faults:?}") };
    let cuts: Vec<String> = fault.cuts().iter().map(ToString::to_string).collect();
    assert_eq!((fault.kind, cuts), (Kind::IdleClamp, vec!["c318".to_owned(), "c405".to_owned()]));
    // Two decisions are on what the redesign mends, one is on its new fault and stands on the ground of now.
    let layout = sample("club-redesign");
    let decisions = gapwright::findings::Decisions::of(&layout, r);
    assert_eq!(decisions.past(&layout).len(), 2);
    let at = r.findings.iter().position(|f| f.id() == fault.id()).unwrap();
    let decision = decisions.on(&layout, at).unwrap();
    assert_eq!(decision.owner, "Cleo");
    assert_eq!(gapwright::findings::again(decision, fault), None);
}

#[test]
fn club() {
    let r = &report("club");
    let at = |kind: Kind, class: Class| -> BTreeSet<String> {
        let found = r.findings.iter().filter(|f| f.kind == kind && f.class == class);
        found.flat_map(|f| f.cuts()).map(|id| id.to_string()).collect()
    };
    let set = |ids: &[&str]| ids.iter().map(ToString::to_string).collect::<BTreeSet<String>>();
    // The four gaps of the loop line whose feeders are crossed; the two ends of the line whose board brakes; a rule at
    // every gap between two boards; and nothing else is wrong.
    assert_eq!(at(Kind::SwappedFeed, Class::Fault), set(&["c304", "c305", "c306", "c307"]));
    assert_eq!(at(Kind::IdleClamp, Class::Fault), set(&["c344", "c359"]));
    let lines = [
        "c261", "c262", "c286", "c287", "c302", "c303", "c318", "c319", "c343", "c344", "c359",
        "c360",
    ];
    assert_eq!(at(Kind::OpposedPolarity, Class::Rule), set(&lines));
    // One finding for each cause: two faults, one rule, and four notes.
    let count = |class: Class| r.findings.iter().filter(|f| f.class == class).count();
    let counts = (count(Class::Fault), count(Class::Rule), count(Class::Note));
    assert_eq!(counts, (2, 1, 4), "{:?}", r.findings.iter().map(|f| f.kind).collect::<Vec<_>>());
    assert_eq!((r.blocks.len(), r.cuts.len()), (36, 42));
    // One board against itself over the goods gap: 14 V over its supply and two switches, and twice side by side 627 mm of
    // rail from the gap to the feed of the spur, two feeders of no stated resistance, three wheels on each side. What lies
    // between the gap and the feed of the loop line goes over points and is left out.
    let goods = r.cuts.iter().find(|cut| cut.name == "Sallowmere goods gap").unwrap();
    let rail = 0.1 * (0.6 * 15f64.to_radians() - 0.08 + 0.55);
    let loop_ohm = 0.1 + 0.15 + 0.15 + (rail + 0.002 + 2.0 * 0.02 / 3.0) / 2.0;
    close(goods.agree.as_ref().unwrap().peak_a(), 14.0 / loop_ohm);
}

#[test]
fn every_sample_has_expectations_and_every_expectation_a_sample() {
    let there: BTreeSet<String> = files().iter().map(|path| stem(path)).collect();
    let expected: BTreeSet<String> = EXPECTED.iter().map(|(file, _)| (*file).to_owned()).collect();
    assert_eq!(there, expected);
    assert!(there.len() >= 10);
}

#[test]
fn every_sample_says_what_it_teaches_and_stands_in_the_list() {
    let list = std::fs::read_to_string(Path::new(FOLDER).join("README.md")).unwrap();
    for path in files() {
        let layout = layout::read_path(&path).unwrap().layout;
        assert!(layout.notes.len() > 150, "{}", path.display());
        assert!(layout.notes.contains("tool should"), "{}", path.display());
        assert!(!layout.name.is_empty() && layout.runs.len() >= 3, "{}", path.display());
        assert!(list.contains(&format!("{}.gapwright", stem(&path))), "{}", path.display());
    }
}

/// The words of the reports as a whole, so that a change in them is seen.
#[test]
fn reports_read_as_they_did() {
    for file in [
        "brake-idle",
        "coasting-bridges",
        "dcc-beside-dc",
        "one-board",
        "split-pickup",
        "transfer",
        "turntable",
        "two-cabs",
        "unequal-supplies",
    ] {
        let loaded =
            layout::read_path(&Path::new(FOLDER).join(format!("{file}.gapwright"))).unwrap();
        let found = check::check(&loaded.layout);
        let text = gapwright::report::text(
            &format!("{file}.gapwright"),
            &loaded.layout,
            &found,
            Units::Metric,
        );
        insta::assert_snapshot!(file, text);
    }
}

/// Two drivers that feed a clamp take the plural.
#[test]
fn several_drivers_feed_and_one_feeds() {
    let text = |file: &str| {
        let path = Path::new(FOLDER).join(format!("{file}.gapwright"));
        let layout = layout::read_path(&path).unwrap().layout;
        let text = gapwright::report::text(file, &layout, &check::check(&layout), Units::Metric);
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let club = text("club");
    assert!(club.contains("Wrenlow board and Marrowgate board drive."), "{club}");
    assert!(club.contains("Marrowgate board feed into that clamp"), "{club}");
    assert!(text("one-board").contains("bridge feeds into that clamp"));
}
