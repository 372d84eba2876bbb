//! Words for special work: points, frogs, bridges, and what shorts with no train in some positions.

use super::crossing::verb;
use super::{Speaker, Words, and};
use crate::findings::{Kind, Narrow, SelectorAt, Situation};
use crate::layout::{DeviceKind, Layout, RunEnd, SpecialId, TrackEnd, Work, roads};
use crate::rails::SelectorId;
use crate::report::units::{amps, mm, percent};

/// What a position of a selector is called: "set for the left road", "on cab 2".
pub fn position_words(layout: &Layout, selector: SelectorId, position: u32) -> String {
    match selector {
        SelectorId::Points(id) | SelectorId::Contact(id) => layout
            .specials
            .get(&id)
            .map_or_else(String::new, |s| special_position(layout, &s.work, position)),
        SelectorId::Device(id) => layout
            .devices
            .get(&id)
            .map_or_else(String::new, |d| device_position(layout, &d.kind, position)),
    }
}

fn special_position(layout: &Layout, work: &Work, position: u32) -> String {
    let at = position as usize;
    match work {
        Work::Turnout { toe, exits, .. } => {
            let road =
                roads::hand_word(layout, *toe, exits, work.reach_mm(), at).unwrap_or("right");
            let run = exits.get(at).map_or_else(String::new, |end| format!(" ({})", end.run));
            format!("set for the {road} road{run}")
        }
        Work::Diamond { roads, .. } | Work::Slip { roads, .. } => {
            let pair = roads::road_of(roads, position);
            format!("set from {} to {}", pair[0].run, pair[1].run)
        }
        Work::Turntable { roads, .. } => {
            let end = if at.is_multiple_of(2) { RunEnd::Start } else { RunEnd::End };
            let word = if end == RunEnd::Start { "start" } else { "end" };
            let road =
                roads.get(at / 2).map_or_else(String::new, |road: &TrackEnd| road.run.to_string());
            format!("with the bridge's {word} at {road}")
        }
        Work::Traverser { roads, .. } => {
            let road = roads.get(at).map_or_else(String::new, |road| road.run.to_string());
            format!("with the bridge at {road}")
        }
        Work::Buffer { .. } => String::new(),
    }
}

fn device_position(layout: &Layout, kind: &DeviceKind, position: u32) -> String {
    match (kind, kind.at(position)) {
        (DeviceKind::CabSelector { .. }, Some((origin, _))) => {
            let name = match origin {
                crate::layout::Origin::Driver(id) => layout.drivers.get(&id).map(|d| &d.name),
                crate::layout::Origin::Device(id) => layout.devices.get(&id).map(|d| &d.name),
            };
            match name.filter(|name| !name.is_empty()) {
                Some(name) => format!("on {name}"),
                None => format!("on {origin}"),
            }
        }
        _ => plain_position(kind, position).to_owned(),
    }
}

/// What a position of a device is called that has nothing but these.
pub fn plain_position(kind: &DeviceKind, position: u32) -> &'static str {
    match kind.at(position) {
        None => "off",
        Some((_, true)) => "reversed",
        Some((_, false)) => "normal",
    }
}

/// What a selector is called: its kind, and its name or identity; the kind is left out where the name ends in it.
pub fn selector_name(layout: &Layout, selector: SelectorId) -> String {
    let named = |word: &str, name: &str, id: String| {
        // "Mill selector" says what it is by itself.
        let last = word.rsplit(' ').next().unwrap_or(word);
        if name.is_empty() {
            format!("{word} {id}")
        } else if name.to_lowercase().ends_with(last) {
            name.to_owned()
        } else {
            format!("{word} {name}")
        }
    };
    match selector {
        SelectorId::Points(id) => match layout.specials.get(&id) {
            Some(s) => named(s.work.word(), &s.name, id.to_string()),
            None => id.to_string(),
        },
        SelectorId::Contact(id) => {
            format!("the contact of {}", selector_name(layout, SelectorId::Points(id)))
        }
        SelectorId::Device(id) => match layout.devices.get(&id) {
            Some(d) => named(d.kind.word(), &d.name, id.to_string()),
            None => id.to_string(),
        },
    }
}

impl Speaker<'_> {
    /// "turnout w3 set for the left road and cab selector x2 on cab B".
    pub(super) fn positions(&self, selectors: &[SelectorAt]) -> String {
        let told: Vec<String> = selectors
            .iter()
            .map(|s| {
                let words = position_words(self.layout, s.id, s.position);
                format!("{} {words}", selector_name(self.layout, s.id))
            })
            .collect();
        and(&told)
    }

    /// The special work of the finding: "Turnout w3".
    pub(super) fn special_name(&self, id: SpecialId) -> String {
        super::capital(&selector_name(self.layout, SelectorId::Points(id)))
    }

    pub(super) fn standing(&self, situation: &Situation, now: bool, more: usize) -> Words {
        let peak = amps(situation.peak_a());
        let whose = self.names(&self.finding.drivers);
        let positions = self.positions(&self.finding.selectors);
        let with = if positions.is_empty() {
            "in every position".into()
        } else {
            format!("with {positions}")
        };
        let is_now = if now && !positions.is_empty() { " (as it stands now)" } else { "" };
        let one = self.finding.drivers.len() == 1;
        let says = match self.finding.kind {
            Kind::FedBeyondFrog => format!(
                "{whose} is shorted with no train, at {peak}, {with}{is_now}: a rail beyond live points is fed"
            ),
            Kind::FrogWiredWrong => format!(
                "{whose} is shorted with no train, at {peak}, {with}{is_now}: the frog's contact and the points disagree"
            ),
            _ if one => format!("{whose} is shorted with no train, at {peak}, {with}{is_now}"),
            _ => format!("{whose} fight with no train, at {peak}, {with}{is_now}"),
        };
        let mut why = match self.finding.kind {
            Kind::FedBeyondFrog => format!(
                "Points, closure rails and frog are one metal, and it takes the polarity of the stock rail that the \
                 points touch. A rail beyond the frog is joined to it and fed with a polarity of its own: {with} the two \
                 poles meet in that metal. "
            ),
            Kind::FrogWiredWrong => format!(
                "The points give the frog one polarity and its contact the other: {with} the two poles meet in the frog. "
            ),
            _ if one => {
                format!("A path of metal leads from one of its outputs to the other {with}. ")
            }
            _ => format!(
                "Their outputs are joined by metal in two places, or in one and behind the rails, {with}. "
            ),
        };
        why.push_str(&format!(
            "Computed with {}: {peak}, {} of the time. {}",
            self.settings(situation),
            percent(situation.share),
            self.trips(situation)
        ));
        if more > 0 {
            why.push_str(&format!(" {more} further sets of positions do the like."));
        }
        let advice = match self.finding.kind {
            Kind::FedBeyondFrog => vec![
                "Cut both inner rails beyond the frog (insulated joiners do), between it and the feed.".into(),
                "Between two such turnouts frog to frog, cut both rails between them.".into(),
                "Or take away the feed beyond the frog: the road is then live only when it is set.".into(),
            ],
            Kind::FrogWiredWrong => {
                vec!["Exchange the two wires of the frog's contact.".into()]
            }
            _ if one => vec!["Cut both rails where that path leaves the block, or take one of its feeds away.".into()],
            _ => vec![
                "Cut both rails between what the two feed.".into(),
                "Or make it a rule that these positions are never set together.".into(),
            ],
        };
        Words { says, why: why.trim_end().to_owned(), advice }
    }

    pub(super) fn not_exhausted(&self) -> Words {
        Words {
            says: format!(
                "Not every joint position of the selectors was looked at for standing shorts of {}",
                self.names(&self.finding.drivers)
            ),
            why: "There are too many paths of metal through turnouts and selectors. What was found is right, but there \
                  may be more."
                .into(),
            advice: vec!["Cut the rails into more blocks: fewer paths are left then.".into()],
        }
    }

    /// Live points and their contact between their movements.
    pub(super) fn mid_throw(&self, situation: &Situation) -> Words {
        let peak = amps(situation.peak_a());
        let whose = self.names(&self.finding.drivers);
        let work = self.finding.special.map_or_else(String::new, |id| self.special_name(id));
        let special = self.finding.special.and_then(|id| self.layout.specials.get(&id));
        let order = if special.is_some_and(|special| special.contact.before_points) {
            "The contact is thrown before the points leave their stock rail"
        } else {
            "The contact is thrown after the points have come to the other stock rail"
        };
        let fights = if self.finding.drivers.len() == 1 { "is shorted" } else { "fight" };
        let why = format!(
            "{order}: in between, the points give the metal of the frog the polarity of one stock rail and the contact \
             gives it that of the other. Computed with {}: {peak}. {}",
            self.settings(situation),
            self.trips(situation)
        );
        Words {
            says: format!(
                "{work}: while it is thrown {whose} {fights} at {peak}, for the moment between points and contact"
            ),
            why: why.trim_end().to_owned(),
            advice: vec![
                "Set the contact to break before the points leave one stock rail and to make after they lie at the \
                 other (a break-before-make contact, in the middle of the throw), and tick that it is open while the \
                 points move."
                    .into(),
                "Or cut off the frog all round and bond points and closure rails to their own stock rails: the contact \
                 then feeds the frog alone."
                    .into(),
            ],
        }
    }

    /// One wheel on two rails; widths in mm: between the rails, needed, how far the wheel rolls with both.
    pub(super) fn one_wheel(
        &self,
        situation: &Situation,
        narrow: Narrow,
        now: bool,
        [apart_mm, needs_mm, stretch_mm]: [f64; 3],
    ) -> Words {
        let peak = amps(situation.peak_a());
        let verb = verb(situation.verdict);
        let vehicle = self.vehicle(situation.vehicle);
        let id = self.finding.special;
        let work = id.map_or_else(String::new, |id| self.special_name(id));
        let [apart, needs] = [apart_mm, needs_mm].map(mm);
        let several = id
            .and_then(|id| self.layout.specials.get(&id))
            .is_some_and(|special| special.work.positions() > 1);
        let with = if several {
            let as_now = if now { " (as it stands now)" } else { "" };
            format!("With {}{as_now}, ", self.positions(&self.finding.selectors))
        } else {
            String::new()
        };
        let (says, how) = match narrow {
            Narrow::BeyondFrog => (
                format!("a wheel of {vehicle} bridges the two rails beyond the frog"),
                format!(
                    "the two inner rails are {apart} apart where they begin beyond the frog, and a wheel is {needs} \
                     wide: its tread lies on both"
                ),
            ),
            Narrow::BeforeFrog => (
                format!("a wheel of {vehicle} touches both rails before the frog"),
                format!(
                    "the two rails that run into the frog are {apart} apart where they end, and the back of a wheel \
                     needs {needs}"
                ),
            ),
            Narrow::OpenPoint => (
                format!("the back of a wheel of {vehicle} touches the open point"),
                format!(
                    "the open point stands off its stock rail by {apart}, and the back of a wheel needs {needs}: it \
                     touches the point while its tread lies on the stock rail"
                ),
            ),
        };
        let advice = match narrow {
            Narrow::OpenPoint => vec![
                format!("Set the throw so that the open point stands off by more than {needs}."),
                "Gauge the backs of the wheels: a wheelset that is too narrow touches all the same.".into(),
                "Or bond points and closure rails to their own stock rails, and cut off the frog.".into(),
            ],
            Narrow::BeyondFrog | Narrow::BeforeFrog => vec![
                format!(
                    "Measure between the two rails at the gap; move it to where they are more than {needs} apart."
                ),
                "Or coat the heads of the two rails with lacquer as far as they are nearer than that.".into(),
            ],
        };
        let open = super::capital(&format!("{with}{how}"));
        let why = format!(
            "{open}, for {}. Computed with {}: {peak}, {} of the time. {}",
            mm(stretch_mm),
            self.settings(situation),
            percent(situation.share),
            self.trips(situation)
        );
        Words {
            says: format!("{work}: {says} and {verb} at {peak}"),
            why: why.trim_end().to_owned(),
            advice,
        }
    }

    /// A train on points that are set against it, or on a frog of the wrong polarity.
    pub(super) fn at_points(&self, situation: &Situation, now: bool) -> Words {
        let peak = amps(situation.peak_a());
        let verb = verb(situation.verdict);
        let vehicle = self.vehicle(situation.vehicle);
        let gap = self.gap();
        let positions = self.positions(&self.finding.selectors);
        let flow = format!(
            "The wheels of {vehicle} join {} of both polarities: {peak}, {} of the time. {}",
            self.joined(situation),
            percent(situation.share),
            self.trips(situation)
        );
        if self.finding.kind == Kind::PointsAgainst {
            return Words {
                says: format!("{gap}: set the points before trailing through them, or {vehicle} {verb} at {peak}"),
                why: format!(
                    "With {positions} a train that comes from the other road rolls from a rail of one polarity onto \
                     metal that the points give the other. {flow}"
                ),
                advice: vec![
                    "Set the points for the road that the train comes from.".into(),
                    "Or cut off the frog all round and feed it by a contact, or insulate it: the points then carry the \
                     polarity of their own side."
                        .into(),
                ],
            };
        }
        Words {
            says: format!("{gap}: the frog has the wrong polarity {}{positions}; {vehicle} {verb} at {peak}",
                if now { "now, with " } else { "with " }),
            why: format!(
                "Beyond the frog each inner rail must have the polarity of the toe rail on its own hand, and the frog \
                 that of the road that is set. Here it has the other. {flow}"
            ),
            advice: vec!["Exchange the two wires of the frog's contact, or throw the contact with the points.".into()],
        }
    }
}
