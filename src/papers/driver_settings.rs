//! Driver settings: how each driver and supply is to be set, with the bench test that proves it.

use super::flow::Flow;
use super::table::{Cell, Table};
use super::{Facts, PaperFile, Request, foot, pdf_file, titled};
use crate::drawing::Document;
use crate::drive::{self, SetWord, StateWord, input_states};
use crate::findings::Caution;
use crate::findings::units::{amps, ms, percent, volts};
use crate::layout::{
    AfterTrip, Driver, Idle, InputLine, InputLines, InputTable, LimitKind, Senses, Supply, Trip,
    TripKind,
};

pub fn make(facts: &Facts, request: &Request) -> Result<Vec<PaperFile>, String> {
    Ok(vec![pdf_file("settings.pdf", &document(facts, request))?])
}

pub(super) fn document(facts: &Facts, request: &Request) -> Document {
    let title = titled("Driver settings", facts, request);
    let mut flow = Flow::new(request.paper, &title, &foot(facts, request));
    if facts.layout.drivers.is_empty() && facts.layout.supplies.is_empty() {
        flow.paragraph("This layout has no drivers and no supplies.");
        return flow.done();
    }
    flow.paragraph(
        "Set each driver as the line says, then prove it on the bench: outputs on terminals, no track, no train. Tick what \
         the test has shown.",
    );
    flow.cautions(&[
        Caution::Power,
        Caution::Measure,
        Caution::Guard,
        Caution::Fuse,
        Caution::Listed,
    ]);
    for driver in facts.layout.drivers.values() {
        flow.heading(2, &facts.thing(driver.id));
        let mut table = Table::new(&["Done", "What", "Setting", "Bench test"]);
        for (what, setting, test) in driver_rows(facts, driver) {
            table.row([Cell::Box, Cell::Strong(what.to_owned()), setting.into(), test.into()]);
        }
        flow.table(&table);
    }
    if !facts.layout.supplies.is_empty() {
        flow.heading(2, "Supplies");
        let mut table = Table::new(&["Done", "Supply", "Setting", "Bench test"]);
        for supply in facts.layout.supplies.values() {
            let (setting, test) = supply_row(supply);
            table.row([
                Cell::Box,
                Cell::Strong(facts.thing(supply.id)),
                setting.into(),
                test.into(),
            ]);
        }
        flow.table(&table);
    }
    flow.done()
}

type Line = (&'static str, String, String);

fn driver_rows(facts: &Facts, driver: &Driver) -> Vec<Line> {
    let kind = drive::of(&driver.drive);
    let mut rows: Vec<Line> = vec![(
        "Drive",
        format!("{}, from {}", kind.name(), facts.thing(driver.supply)),
        drive_test(kind.settings()).to_owned(),
    )];
    if let Some(clock) = kind.pwm_clock() {
        let shared = clock.shared.as_ref().map_or_else(
            || "a clock of its own".to_owned(),
            |name| format!("the clock \"{name}\""),
        );
        rows.push((
            "Clock",
            format!("{} Hz from {shared}, within {}", clock.hz, percent(clock.tolerance)),
            "A meter with a frequency range between the outputs at half throttle shows it.".into(),
        ));
    }
    if let Some(idle) = kind.idle() {
        rows.push(("Idle state", idle_words(idle), idle_test(kind.idle_state(false))));
        if let Idle::ByInputs { table, forward, reverse, first_inverted, second_inverted } = idle {
            let inverted = [*first_inverted, *second_inverted];
            rows.push((
                "Inputs",
                inputs_words(idle, *table, [*forward, *reverse], inverted),
                "Disconnect the controller and hold the two inputs high or low by hand: the outputs follow the truth table \
                 of the chip's data sheet."
                    .into(),
            ));
        }
    }
    rows.push(match &driver.trip {
        Some(trip) => ("Trip", trip_words(trip), trip_test(trip)),
        None => (
            "Trip",
            "none stated".to_owned(),
            "Find out whether it has one before it is wired: without it only its supply limits a short.".into(),
        ),
    });
    if driver.lowest_throttle > 0.0 {
        rows.push((
            "Lowest throttle",
            percent(driver.lowest_throttle),
            "Just below it no train moves.".into(),
        ));
    }
    rows.push((
        "As drawn",
        now(driver),
        "This is how it stands in the file; trains run on any setting.".into(),
    ));
    rows
}

/// The test that it drives, and which way round.
fn drive_test(settings: &[SetWord]) -> &'static str {
    if settings.contains(&SetWord::Forward) {
        "Set it forward at half throttle: a DC meter shows P positive over M."
    } else if settings.contains(&SetWord::On) {
        "Switch it on: a true-RMS meter between P and M shows about its supply's voltage. Two boosters of one station show \
         next to nothing from P to P, or one of them is the wrong way round."
    } else {
        "It drives nothing: a meter shows no volts between its terminals."
    }
}

fn now(driver: &Driver) -> String {
    let word = SetWord::from(driver.setting.direction);
    match word.drives() && word != SetWord::On {
        true => format!("{} at {}", word.word(), percent(driver.setting.throttle)),
        false => word.word().to_owned(),
    }
}

fn idle_words(idle: &Idle) -> String {
    match idle {
        Idle::BrakeLow => "brake, both low switches on".to_owned(),
        Idle::BrakeHigh => "brake, both high switches on".to_owned(),
        Idle::HighImpedance => "coast, all switches off (high-impedance)".to_owned(),
        Idle::Opposed => "opposed: the other direction in the off part".to_owned(),
        Idle::ByInputs { .. } => {
            let one = |reverse| match input_states(idle, reverse) {
                Some((_, low)) => low.word(),
                None => "not defined",
            };
            format!("by its inputs: {} when set forward, {} in reverse", one(false), one(true))
        }
    }
}

/// The test of an idle state with a resistor and a meter.
fn idle_test(state: Option<StateWord>) -> String {
    let how = "Throttle at zero, direction forward. Put 10 kΩ from the supply's positive pole to output P, measure P over \
               the negative pole; then 10 kΩ from P to the negative pole, and measure again. The same on M. ";
    let must = match state {
        Some(StateWord::BrakeLow) => "Both outputs stay near 0 V in both tests.",
        Some(StateWord::BrakeHigh) => "Both outputs stay near the supply's voltage in both tests.",
        Some(StateWord::HighImpedance) => {
            "The outputs follow the resistor: near the supply's voltage in the first test, near 0 V in the second."
        }
        Some(StateWord::Forward | StateWord::Reverse) => {
            "A DC meter shows about half the supply's voltage on both outputs in both tests."
        }
        None => "The outputs do what the data sheet says of its idle state.",
    };
    format!("{how}{must}")
}

fn inputs_words(
    idle: &Idle,
    table: InputTable,
    ways: [InputLines; 2],
    inverted: [bool; 2],
) -> String {
    let chip = match table {
        InputTable::TwoInput => "two inputs",
        InputTable::EnablePhase => "enable (first) and phase (second)",
    };
    let line = |lines: InputLines, reverse: bool| {
        let pwm = match lines.pwm {
            InputLine::First => "first",
            InputLine::Second => "second",
        };
        let other = if lines.other_high { "high" } else { "low" };
        let states = input_states(idle, reverse).map_or_else(String::new, |(high, low)| {
            format!(" ({} in the high part, {} in the low one)", high.word(), low.word())
        });
        format!("PWM on the {pwm}, the other {other}{states}")
    };
    let mut out =
        format!("{chip}. Forward: {}. Reverse: {}.", line(ways[0], false), line(ways[1], true));
    for (is, word) in inverted.into_iter().zip(["first", "second"]) {
        if is {
            out.push_str(&format!(" The line of the {word} is inverted."));
        }
    }
    out
}

fn trip_words(trip: &Trip) -> String {
    let kind = match &trip.kind {
        TripKind::Instant { blanking_s } => format!("at once after {}", ms(*blanking_s)),
        TripKind::Sampled { every_s, in_a_row, .. } => {
            format!("sampled every {}, {in_a_row} in a row", ms(*every_s))
        }
        TripKind::Averaged { tau_s } => format!("averaged over {}", ms(*tau_s)),
        TripKind::Thermal { .. } => "thermal".to_owned(),
        TripKind::Chopping => "chopping: it limits and never trips".to_owned(),
    };
    let then = match trip.then {
        AfterTrip::HighImpedance => "then all switches off",
        AfterTrip::BrakeLow => "then it brakes low",
        AfterTrip::BrakeHigh => "then it brakes high",
    };
    let again = match trip.retry_s {
        Some(s) => format!("tries again after {}", ms(s)),
        None => "stays off until it is reset".to_owned(),
    };
    let assumed = if trip.amps.is_assumed() { ", which is assumed" } else { "" };
    format!(
        "{}{assumed}, {kind}, sensed {}; {then}, {again}",
        amps(trip.amps.value),
        senses(trip.senses)
    )
}

fn trip_test(trip: &Trip) -> String {
    let beyond = amps(trip.amps.value * trip.kind.acts_beyond());
    match trip.kind {
        TripKind::Chopping => format!(
            "Load the output with a power resistor that asks for more than {beyond}: the current stays there."
        ),
        _ => format!(
            "At full throttle load the output with power resistors on a heat-proof plate, through an ammeter: it holds well \
             below {beyond} and acts above it."
        ),
    }
}

fn senses(senses: Senses) -> &'static str {
    match senses {
        Senses::SupplyLead => "in the positive supply lead",
        Senses::GroundReturn => "in the negative supply lead",
        Senses::LegP => "in output P",
        Senses::LegM => "in output M",
        Senses::LargerLeg => "in whichever output carries more",
        Senses::HighSwitchP => "in the high switch of P",
        Senses::LowSwitchP => "in the low switch of P",
        Senses::HighSwitchM => "in the high switch of M",
        Senses::LowSwitchM => "in the low switch of M",
    }
}

fn supply_row(supply: &Supply) -> (String, String) {
    let half = if supply.split { " in each half" } else { "" };
    let mut setting = format!("{}{half}", volts(supply.open_v.value));
    if let Some(limit) = &supply.limit {
        let how = match limit.kind {
            LimitKind::Constant => "holds that current",
            LimitKind::FoldBack => "gives less the harder it is loaded",
            LimitKind::Hiccup => "switches off and tries again",
        };
        setting.push_str(&format!("; at most {}, where it {how}", amps(limit.amps.value)));
    }
    match &supply.negative {
        Some(tie) => setting.push_str(&format!("; negative pole tied to {}", tie.name)),
        None => setting.push_str("; isolated from every other supply"),
    }
    let mut test =
        format!("With nothing connected a DC meter shows {}{half}.", volts(supply.open_v.value));
    test.push_str(match &supply.negative {
        Some(_) => " Unplugged, an ohmmeter finds its negative pole joined to the tie.",
        None => " Unplugged, an ohmmeter finds neither pole joined to a pole of another supply.",
    });
    (setting, test)
}
