//! Names of selectors and of their positions.

use super::{Words, and, capital};
use crate::findings::SelectorAt;
use crate::layout::{DeviceKind, Layout, RunEnd, RunId, SpecialId, Work, roads};
use crate::rails::SelectorId;

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
            let named = exits.get(at).and_then(|end| label_on(layout, end.run));
            let alike = |name: &str| {
                let others = exits.iter().enumerate().filter(|(other, _)| *other != at);
                others.filter_map(|(_, end)| label_on(layout, end.run)).any(|other| other == name)
            };
            if let Some(name) = named.filter(|name| !alike(name)) {
                return format!("set for {name}");
            }
            let hand =
                roads::hand_word(layout, *toe, exits, work.reach_mm(), at).unwrap_or("right");
            format!("set for the {hand} road")
        }
        Work::Diamond { roads, .. } | Work::Slip { roads, .. } => {
            let pair = roads::road_of(roads, position);
            format!("set from {} to {}", road(layout, pair[0].run), road(layout, pair[1].run))
        }
        Work::Turntable { roads, .. } => {
            let end = if at.is_multiple_of(2) { RunEnd::Start } else { RunEnd::End };
            let word = if end == RunEnd::Start { "start" } else { "end" };
            let road = roads.get(at / 2).map_or_else(String::new, |end| road(layout, end.run));
            format!("with the bridge's {word} at {road}")
        }
        Work::Traverser { roads, .. } => {
            let road = roads.get(at).map_or_else(String::new, |end| road(layout, end.run));
            format!("with the bridge at {road}")
        }
        Work::Buffer { .. } => String::new(),
    }
}

/// The name that a road goes by: that of the label on its run, or the run.
fn road(layout: &Layout, run: RunId) -> String {
    label_on(layout, run).map_or_else(|| format!("run {run}"), str::to_owned)
}

/// The name of the only label on a run.
fn label_on(layout: &Layout, run: RunId) -> Option<&str> {
    let names = layout.labels.values().filter(|label| label.run == run && !label.name.is_empty());
    let mut names = names.map(|label| label.name.as_str());
    names.next().filter(|_| names.next().is_none())
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
        (_, _) => plain_position(kind, position).to_owned(),
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

impl Words<'_> {
    /// "turnout w3 set for the left road and cab selector x2 on cab B".
    pub(crate) fn positions(&self, selectors: &[SelectorAt]) -> String {
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
    pub(crate) fn special_name(&self, id: SpecialId) -> String {
        capital(&selector_name(self.layout, SelectorId::Points(id)))
    }
}
