//! Throwing selectors: points, bridges, contacts and devices.

use eframe::egui::{Id, Ui};

use crate::app::camera::World;
use crate::app::form::choice_ui;
use crate::app::{App, names};
use crate::layout::edit::Edit;
use crate::layout::{EntityId, SpecialId, TrackEnd, Work, roads};

impl App {
    /// Throws a selector, and its gang, to a position.
    pub fn throw_to(&mut self, selector: EntityId, position: u32) {
        let layout = self.doc.layout();
        let name = names::entity_name(layout, selector);
        let words = names::position_words(layout, selector, position);
        self.edit(&format!("throw {name} to {words}"), Edit::Throw { selector, position });
    }

    /// Throws a selector to its next position, or the one before.
    pub fn throw_on(&mut self, selector: EntityId, forward: bool) {
        let Some((now, positions)) = names::positions(self.doc.layout(), selector) else { return };
        if positions < 2 {
            let name = names::entity_name(self.doc.layout(), selector);
            self.tell(format!("{name} has one position only: there is nothing to throw."));
            return;
        }
        let step = if forward { 1 } else { positions - 1 };
        self.throw_to(selector, (now + step) % positions);
    }

    /// Throws special work at a place on the plan: a bridge goes to the road that is nearest, and turns round if it is
    /// there already; in the middle of its pit, and with anything else, it goes on to its next position.
    pub fn throw_at(&mut self, id: SpecialId, at: World, forward: bool) {
        let layout = self.doc.layout();
        let Some(special) = layout.specials.get(&id) else { return };
        let per_road = match special.work {
            Work::Turntable { .. } => 2,
            Work::Traverser { .. } => 1,
            _ => return self.throw_on(id.into(), forward),
        };
        // In the middle of the pit no road is meant.
        let pit = self.derived.special.specials.get(&id).and_then(|drawn| drawn.pit);
        if pit.is_some_and(|((x, y), half)| (x - at.0).hypot(y - at.1) < half * 0.4) {
            return self.throw_on(id.into(), forward);
        }
        let place = |end: &TrackEnd| {
            let joint = layout.joints.get(&roads::joint_of(layout, *end)?)?;
            Some((joint.x_mm, joint.y_mm))
        };
        let nearest = special
            .work
            .ends()
            .iter()
            .enumerate()
            .filter_map(|(k, end)| place(end).map(|p| (k as u32, (p.0 - at.0).hypot(p.1 - at.1))))
            .min_by(|a, b| a.1.total_cmp(&b.1));
        let Some((road, _)) = nearest else { return };
        let now = special.position;
        if per_road == 2 && now / 2 == road {
            self.throw_to(id.into(), now ^ 1);
        } else if now != road * per_road {
            self.throw_to(id.into(), road * per_road);
        }
    }

    /// Throws what is selected, if it is one selector. Returns whether it is.
    pub fn throw_selected(&mut self, forward: bool) -> bool {
        let [one] = self.selection.as_slice() else { return false };
        let one = *one;
        if names::positions(self.doc.layout(), one).is_none() {
            return false;
        }
        self.throw_on(one, forward);
        true
    }
}

/// The form of the tool that throws.
pub fn throw_ui(ui: &mut Ui, app: &mut App) {
    let layout = app.doc.layout();
    let specials = layout.specials.keys().map(|&id| EntityId::from(id));
    let devices = layout.devices.keys().map(|&id| EntityId::from(id));
    let all: Vec<EntityId> = specials
        .chain(devices)
        .filter(|id| names::positions(layout, *id).is_some_and(|(_, positions)| positions > 1))
        .collect();
    if all.is_empty() {
        ui.label("Nothing on this layout can be thrown yet.");
    }
    let mut thrown = None;
    for id in all {
        let Some((now, positions)) = names::positions(app.doc.layout(), id) else { continue };
        let choices: Vec<(u32, String)> = (0..positions)
            .map(|position| (position, names::position_words(app.doc.layout(), id, position)))
            .collect();
        let mut position = now;
        // The whole name stands above: beside the box there is room for its beginning only.
        let name = app.called(id);
        ui.label(&name);
        let box_id = Id::unique(("throw", id));
        let width = ui.available_width() - 8.0;
        choice_ui(ui, box_id, &format!("Throw: {name}"), &mut position, &choices, Some(width));
        if position != now {
            thrown = Some((id, position));
        }
    }
    if let Some((id, position)) = thrown {
        app.throw_to(id, position);
    }
}
