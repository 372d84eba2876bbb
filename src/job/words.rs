//! Jobs in a builder's words.

use super::Job;
use crate::drive::input_states;
use crate::layout::{
    CutId, DriverId, EntityId, FeedId, Idle, InputLine, InputLines, Layout, Origin, Rail, Rails,
    RunId, Senses, SupplyId, WireSize, and, shown,
};
use crate::rails::{Plan, Within};

/// Names of the things of a layout, for sentences.
#[derive(Clone, Copy)]
pub struct Names<'a> {
    /// The layout.
    pub layout: &'a Layout,
    /// Its plan: blocks are named from it.
    pub plan: &'a Plan,
}

impl Names<'_> {
    fn named(name: Option<&str>, made: String) -> String {
        name.filter(|name| !name.is_empty()).map_or(made, |name| shown(name).into_owned())
    }

    fn driver(&self, id: DriverId) -> String {
        let name = self.layout.drivers.get(&id).map(|driver| driver.name.as_str());
        Self::named(name, format!("driver {id}"))
    }

    fn supply(&self, id: SupplyId) -> String {
        let name = self.layout.supplies.get(&id).map(|supply| supply.name.as_str());
        Self::named(name, format!("supply {id}"))
    }

    fn origin(&self, origin: Origin) -> String {
        match origin {
            Origin::Driver(id) => self.driver(id),
            Origin::Device(id) => {
                let device = self.layout.devices.get(&id);
                let made = device
                    .map_or_else(|| format!("device {id}"), |d| format!("{} {id}", d.kind.word()));
                Self::named(device.map(|d| d.name.as_str()), made)
            }
        }
    }

    fn special(&self, id: crate::layout::SpecialId) -> String {
        let special = self.layout.specials.get(&id);
        let made = special.map_or_else(|| id.to_string(), |s| format!("{} {id}", s.work.word()));
        Self::named(special.map(|s| s.name.as_str()), made)
    }

    /// "Mill gap", or "gap c1".
    fn cut(&self, id: CutId) -> String {
        let name = self.layout.cuts.get(&id).map(|cut| cut.name.as_str());
        match name.filter(|name| !name.is_empty()) {
            Some(name) if name.to_lowercase().contains("gap") => shown(name).into_owned(),
            Some(name) => format!("gap {}", shown(name)),
            None => format!("gap {id}"),
        }
    }

    /// The block at a place of a run. `None` inside special work and in a stagger zone.
    fn block(&self, run: RunId, at_mm: f64) -> Option<String> {
        let at = self.plan.block_at(run, at_mm)?;
        Some(shown(&self.plan.block_name(self.layout, at)).into_owned())
    }

    /// "in Mill, 420 mm from the start of run r3".
    fn place(&self, run: RunId, at_mm: f64) -> String {
        let there = format!("{at_mm:.0} mm from the start of run {run}");
        match self.block(run, at_mm) {
            Some(block) => format!("in {block}, {there}"),
            None => there,
        }
    }

    /// A thing by its name, or by its kind and identity.
    pub fn thing(&self, id: EntityId) -> String {
        match id {
            EntityId::Feed(id) => self.feed(id),
            EntityId::Cut(id) => self.cut(id),
            EntityId::Driver(id) => self.driver(id),
            EntityId::Supply(id) => self.supply(id),
            EntityId::Device(id) => self.origin(Origin::Device(id)),
            EntityId::Special(id) => self.special(id),
            EntityId::Vehicle(id) => {
                let name = self.layout.vehicles.get(&id).map(|v| v.name.as_str());
                Self::named(name, format!("vehicle {id}"))
            }
            EntityId::Train(id) => {
                let name = self.layout.trains.get(&id).map(|t| t.name.as_str());
                Self::named(name, format!("train {id}"))
            }
            other => other.to_string(),
        }
    }

    /// "feeder f7 (Mill)".
    pub(crate) fn feed(&self, id: FeedId) -> String {
        let feed = self.layout.feeds.get(&id);
        match feed.and_then(|feed| self.block(feed.run, feed.at_mm)) {
            Some(block) => format!("feeder {id} ({block})"),
            None => format!("feeder {id}"),
        }
    }

    fn feeds(&self, ids: &[FeedId]) -> String {
        and(&ids.iter().map(|&id| self.feed(id)).collect::<Vec<_>>())
    }

    fn drivers(&self, ids: &[DriverId]) -> String {
        and(&ids.iter().map(|&id| self.driver(id)).collect::<Vec<_>>())
    }
}

/// Two significant digits.
fn two(value: f64) -> String {
    if value.abs() >= 10.0 { format!("{value:.0}") } else { format!("{value:.1}") }
}

/// What jobs change besides, for those who run trains: each line once.
pub fn also(jobs: &[Job]) -> Vec<&'static str> {
    let mut lines: Vec<&'static str> = Vec::new();
    for line in jobs.iter().filter_map(Job::also) {
        if !lines.contains(&line) {
            lines.push(line);
        }
    }
    lines
}

impl Job {
    /// One sentence in the imperative. `names` are those of the layout before the job.
    pub fn words(&self, names: Names) -> String {
        match self {
            Job::Turn { driver, direction } => format!(
                "Set {} to {}.",
                names.driver(*driver),
                format!("{direction:?}").to_lowercase()
            ),
            Job::Coast(id) => format!(
                "Set the idle state of {} to high-impedance (on many chips: coast instead of brake).",
                names.driver(*id)
            ),
            Job::DriveInputs { driver, idle } => {
                inputs(&names.driver(*driver), names, *driver, idle)
            }
            Job::ExchangePhase(id) => format!(
                "Exchange the two wires of the output of {}, or set its phase the other way.",
                names.driver(*id)
            ),
            Job::TakeDelayAway(id) => format!(
                "Take away what delays the signal to {}: feed it from the station directly.",
                names.driver(*id)
            ),
            Job::FollowStation { driver, station } => format!(
                "Connect {} to the signal of station {}.",
                names.driver(*driver),
                shown(station)
            ),
            Job::OneClock(ids) => {
                format!("Run {} from one PWM clock, in phase.", names.drivers(ids))
            }
            Job::TripAt { driver, amps } => {
                format!("Set the trip of {} to {} A.", names.driver(*driver), two(*amps))
            }
            Job::Sense { driver, senses } => format!(
                "Let the trip of {} sense {}, whichever way the current flows.",
                names.driver(*driver),
                sensed(*senses)
            ),
            Job::ExchangeWires(id) => format!("Exchange the two wires of {}.", names.feed(*id)),
            Job::TakeFeedAway(id) => format!("Take {} away.", names.feed(*id)),
            Job::CompleteFeed(id) => {
                format!("Connect the missing wire of {} to the other rail.", names.feed(*id))
            }
            Job::AddFeed { from, run, at_mm, p } => format!(
                "Add a feeder from {} {}, P to the {} rail.",
                names.origin(*from),
                names.place(*run, *at_mm),
                rail(*p)
            ),
            Job::AddReversedFeed { from, run, at_mm, p, automatic } => format!(
                "Add a feeder from {} through {} {}, P to the {} rail.",
                names.origin(*from),
                reverser(*automatic),
                names.place(*run, *at_mm),
                rail(*p)
            ),
            Job::AddSelectedFeed { cabs, run, at_mm, p } => {
                let cabs: Vec<String> = cabs.iter().map(|&from| names.origin(from)).collect();
                format!(
                    "Add a feeder through a new cab selector for {} {}, P to the {} rail.",
                    and(&cabs),
                    names.place(*run, *at_mm),
                    rail(*p)
                )
            }
            Job::AddSwitchedFeed { from, run, at_mm, p } => format!(
                "Add a feeder from {} through a new switch with an off position {}, P to the {} rail.",
                names.origin(*from),
                names.place(*run, *at_mm),
                rail(*p)
            ),
            Job::Reverse { feeds, automatic } => {
                format!("Lead {} through {}.", names.feeds(feeds), reverser(*automatic))
            }
            Job::AddWire { from, run, at_mm, rail: to, is_p } => format!(
                "Add one wire from {} of {} {}, to the {} rail.",
                if *is_p { "P" } else { "M" },
                names.origin(*from),
                names.place(*run, *at_mm),
                rail(*to)
            ),
            Job::AddDriver { name, like } => match like {
                Some(id) => format!(
                    "Add a driver for {} with a supply of its own, like {}.",
                    shown(name),
                    names.driver(*id)
                ),
                None => format!(
                    "Add a driver for {} with a supply of its own: a bridge that coasts when idle.",
                    shown(name)
                ),
            },
            Job::SelectCab(feeds) => format!(
                "Put one cab selector before {}, so that one driver at a time feeds the block.",
                names.feeds(feeds)
            ),
            Job::Thicken { feed, size } => {
                let size = match size {
                    WireSize::Awg(number) => format!("AWG {number}"),
                    WireSize::Mm2(area) => format!("{area} mm²"),
                };
                format!("Replace the wires of {} by {size}.", names.feed(*feed))
            }
            Job::OpenTie(id) => format!(
                "Separate the negative pole of {} from the others. Never lift a protective earth to do so.",
                names.supply(*id)
            ),
            Job::SwitchTogether(id) => {
                format!("Put {} behind the same switch as the others.", names.supply(*id))
            }
            Job::DriverTogether(id) => {
                format!("Put {} behind the same switch as the others.", names.driver(*id))
            }
            Job::SetVolts { supply, volts } => format!(
                "Set {} to {} V, or replace it by a supply of that voltage.",
                names.supply(*supply),
                two(*volts)
            ),
            Job::OwnSupply(id) => format!(
                "Give {} an isolated supply of its own, of the same values.",
                names.driver(*id)
            ),
            Job::LimitInrush { supply, ohm } => format!(
                "Put a resistor of {} Ω in series with the bulk capacitors of {}.",
                two(*ohm),
                names.supply(*supply)
            ),
            Job::BiggerSupply { supply, amps } => format!(
                "Replace {} by a supply that gives {} A.",
                names.supply(*supply),
                two(*amps)
            ),
            Job::CutBoth(id) => format!("Cut the other rail at {} too.", names.cut(*id)),
            Job::AddCut { run, at_mm, rails } => format!(
                "Cut {} {}.",
                match rails {
                    Rails::Both => "both rails",
                    Rails::Left => "the left rail",
                    Rails::Right => "the right rail",
                },
                names.place(*run, *at_mm)
            ),
            Job::MoveCut { cut, at_mm } => {
                let run = names.layout.cuts.get(cut).map(|cut| cut.run.to_string());
                format!(
                    "Bridge {} and cut anew {at_mm:.0} mm from the start of run {}.",
                    names.cut(*cut),
                    run.unwrap_or_default()
                )
            }
            Job::BridgeCut(id) => format!("Bridge {} in both rails.", names.cut(*id)),
            Job::Widen { cut, width_mm } => {
                format!("Widen {} to {width_mm:.1} mm.", names.cut(*cut))
            }
            Job::Fill(id) => format!(
                "Fill {} with something that does not conduct, and file it flush.",
                names.cut(*id)
            ),
            Job::WireContact(id) => format!(
                "Wire the frog contact of {} so that the frog gets the polarity of the road that is set.",
                names.special(*id)
            ),
            Job::CoupleContact(id) => {
                format!("Couple the frog contact of {} to its points.", names.special(*id))
            }
            Job::BreakBefore(id) => format!(
                "Let the frog contact of {} break before the points move and make after they have moved.",
                names.special(*id)
            ),
            Job::OpenWider { special, open_mm } => {
                format!("Open the points of {} to {open_mm:.1} mm.", names.special(*special))
            }
            Job::Bond(id) => {
                format!("Solder a wire across the rail joiners at joint {id}, on both rails.")
            }
            Job::TakeNameAway(id) => {
                let name = names.layout.labels.get(id).map_or("", |label| label.name.as_str());
                format!("Take the name {} away.", shown(name))
            }
        }
    }

    /// What else it changes for those who run trains. `None` if nothing that a person notices.
    pub fn also(&self) -> Option<&'static str> {
        match self {
            Job::Coast(_) | Job::DriveInputs { .. } => Some(
                "A bridge that coasts runs slow speeds differently, and the motor no longer brakes at zero throttle.",
            ),
            Job::ExchangeWires(_) => Some(
                "On DC, forward on that throttle is then the other way round; check its direction sign.",
            ),
            Job::OneClock(_) => Some("The boards need a wire for the clock, or one controller."),
            Job::SetVolts { .. } => Some("Top speed on those blocks changes with the voltage."),
            Job::TripAt { .. } => Some("A long train may draw more than a low threshold allows."),
            Job::BiggerSupply { .. } => {
                Some("Check that wires and switches stand the higher current.")
            }
            Job::LimitInrush { .. } => {
                Some("The resistor warms under ripple current; size it for that.")
            }
            Job::SwitchTogether(_) | Job::DriverTogether(_) => {
                Some("Neither can be switched off alone any more.")
            }
            Job::Reverse { automatic: false, .. }
            | Job::AddReversedFeed { automatic: false, .. } => {
                Some("Operators throw the reversing switch before a train enters or leaves.")
            }
            Job::AddSelectedFeed { .. } => Some(
                "Operators set the selector to the side that a train comes from, and to the other before it goes on.",
            ),
            Job::AddSwitchedFeed { .. } => {
                Some("Operators switch it off while a train is to stand there.")
            }
            Job::Turn { .. } => Some("That cures it as set now; the same settings short again."),
            Job::SelectCab(_) => Some("One driver at a time has that block."),
            Job::TakeFeedAway(_) => Some("That driver has no say in the block any more."),
            Job::BridgeCut(_) => Some("The blocks on both sides become one."),
            Job::ExchangePhase(_)
            | Job::TakeDelayAway(_)
            | Job::FollowStation { .. }
            | Job::Sense { .. }
            | Job::AddFeed { .. }
            | Job::AddReversedFeed { automatic: true, .. }
            | Job::Reverse { automatic: true, .. }
            | Job::CompleteFeed(_)
            | Job::AddWire { .. }
            | Job::AddDriver { .. }
            | Job::Thicken { .. }
            | Job::OpenTie(_)
            | Job::OwnSupply(_)
            | Job::CutBoth(_)
            | Job::AddCut { .. }
            | Job::MoveCut { .. }
            | Job::Widen { .. }
            | Job::Fill(_)
            | Job::WireContact(_)
            | Job::CoupleContact(_)
            | Job::BreakBefore(_)
            | Job::OpenWider { .. }
            | Job::Bond(_)
            | Job::TakeNameAway(_) => None,
        }
    }
}

fn rail(rail: Rail) -> &'static str {
    match rail {
        Rail::Left => "left",
        Rail::Right => "right",
    }
}

fn reverser(automatic: bool) -> &'static str {
    if automatic { "a new auto-reverser" } else { "a new reversing switch" }
}

fn sensed(senses: Senses) -> &'static str {
    match senses {
        Senses::SupplyLead => "in the lead from the supply",
        Senses::GroundReturn => "in the lead back to the supply",
        Senses::LegP => "in output P",
        Senses::LegM => "in output M",
        Senses::LargerLeg => "in both outputs",
        Senses::HighSwitchP => "in the high switch of P",
        Senses::LowSwitchP => "in the low switch of P",
        Senses::HighSwitchM => "in the high switch of M",
        Senses::LowSwitchM => "in the low switch of M",
    }
}

/// How the control inputs are to be driven, in both directions.
fn inputs(name: &str, names: Names, driver: DriverId, idle: &Idle) -> String {
    let Idle::ByInputs { forward, reverse, first_inverted, second_inverted, .. } = *idle else {
        return format!("Set the idle state of {name} as stated.");
    };
    let line = |lines: InputLines| {
        let (pwm, other) = match lines.pwm {
            InputLine::First => ("first", "second"),
            InputLine::Second => ("second", "first"),
        };
        let level = if lines.other_high { "high" } else { "low" };
        format!("PWM on the {pwm} input with the {other} held {level}")
    };
    let now =
        names.layout.drivers.get(&driver).and_then(|d| crate::drive::of(&d.drive).idle().copied());
    let inverted = match now {
        Some(Idle::ByInputs { first_inverted: one, second_inverted: two, .. })
            if (one, two) != (first_inverted, second_inverted) =>
        {
            let which = match (one != first_inverted, two != second_inverted) {
                (true, true) => "both input lines",
                (true, false) => "the first input line",
                _ => "the second input line",
            };
            format!(" Change whether {which} is inverted.")
        }
        _ => String::new(),
    };
    let coasts = input_states(idle, false)
        .is_some_and(|(_, low)| low == crate::drive::StateWord::HighImpedance);
    let so =
        if coasts { "so that it coasts when idle" } else { "so that its throttle keeps its sense" };
    format!(
        "Drive the control inputs of {name} {so}: forward {}; reverse {}.{inverted}",
        line(forward),
        line(reverse)
    )
}

/// True if a place is on plain track of a block, where one can cut and solder.
pub fn is_plain(plan: &Plan, run: RunId, at_mm: f64) -> bool {
    plan.pieces_of(run).iter().any(|piece| {
        piece.from_mm <= at_mm && at_mm <= piece.to_mm && matches!(piece.within, Within::Block(_))
    })
}
