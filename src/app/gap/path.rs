//! The path of the current as a schematic: the drivers with their switches and diodes, their supplies and ties, the feeders,
//! the rails, and the wheels that join them. It is made from the case, whatever number of drivers that has.

use std::cell::RefCell;

use eframe::egui::{
    Align2, FontId, Painter, Pos2, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2,
};

use super::super::names::shortened;
use super::super::theme::{TIGHT, Tokens, bold, heading, small, strong, tokens};
use super::branches::{self, CARRIES_A, net_name, state_word, supply_name};
use super::commands::Command;
use super::model::Model;
use super::scene::Scene;
use super::symbols::{Ink, beside, diode, plates, switch, wire};
use crate::report::{amps, ms, percent};
use crate::straddle::case::Stage;
use crate::straddle::ix::{DriverIx, NetIx};
use crate::straddle::part::Part;
use crate::study::cut::Case;
use crate::study::scope::MomentAt;

/// Size of a driver's bridge, and height of a row of them, points.
const BRIDGE: [f32; 2] = [250.0, 176.0];
const ROW: f32 = 214.0;
/// Most drivers that are drawn.
const MOST_DRIVERS: usize = 8;

/// The schematic at the first cursor, and its branches in words.
pub(super) fn path_ui(ui: &mut Ui, model: &Model, commands: &mut Vec<Command>) {
    let Some(scene) = model.scene else { return };
    let Ok(scope) = &scene.scope else {
        ui.label(heading("The circuit could not be solved"));
        return;
    };
    let case = scene.gap.case(scene.stance.who);
    let waves = &model.view.waves;
    let at_s = waves.cursor_s(scope);
    let joint = scope.joint_at(&waves.delays, at_s);
    let Some(moment) = scope.moment(case, &scene.scenario, joint) else { return };
    ui.horizontal_wrapped(|ui| {
        let words = if moment.conflict { "in conflict" } else { "not in conflict" };
        ui.label(strong(format!("At cursor A, {}: {words}", ms(at_s))));
        ui.label(small(
            ui,
            format!("drivers stand like this {} of the time", percent(moment.share)),
        ));
        moments_ui(ui, model, joint, commands);
    });
    let drivers = drawn(case, &moment);
    if drivers.is_empty() {
        ui.label(small(ui, "No driver reaches this gap: there is no path to draw."));
        return;
    }
    schematic_ui(ui, model, scene, &moment, &drivers);
    if drivers.len() < case.wiring.drivers.len() {
        ui.label(small(
            ui,
            "Drivers that carry nothing at this moment and meet at no side are not drawn.",
        ));
    }
    branches::branches_ui(ui, model, scene, &moment);
}

/// Steps from one edge to the next, and to the worst.
fn moments_ui(ui: &mut Ui, model: &Model, joint: usize, commands: &mut Vec<Command>) {
    let Some(Ok(scope)) = model.scene.map(|scene| &scene.scope) else { return };
    let waves = &model.view.waves;
    let (from_s, to_s) = waves.window_s(scope);
    let at_s = waves.cursor_s(scope);
    let stretches = scope.stretches(&waves.delays, from_s, to_s);
    let middle = |n: usize| stretches.get(n).map(|s| f64::midpoint(s.from_s, s.to_s));
    let here = stretches.iter().position(|s| s.from_s <= at_s && at_s < s.to_s);
    let mut go = None;
    if ui.button("Moment before").clicked() {
        go = here.and_then(|n| middle(n.checked_sub(1)?));
    }
    if ui.button("Next moment").clicked() {
        go = here.map_or_else(|| middle(0), |n| middle(n + 1));
    }
    let worst = scope.worst_joint() == joint;
    let button = ui.add_enabled(!worst, eframe::egui::Button::new("Worst moment"));
    let mut cursors = waves.cursors;
    if button.clicked() {
        cursors[0] = None;
    }
    if let Some(at_s) = go {
        cursors[0] = Some(at_s);
    }
    if cursors != waves.cursors {
        commands.push(Command::Waves(super::waves::Waves { cursors, ..waves.clone() }));
    }
}

/// The drivers to draw: those of the two sides, then those that carry something.
fn drawn(case: &Case, moment: &MomentAt) -> Vec<(DriverIx, usize)> {
    let mut drawn: Vec<(DriverIx, usize)> = Vec::new();
    for (side, drivers) in case.meeting.iter().enumerate() {
        for &at in drivers {
            if !drawn.iter().any(|(known, _)| *known == at) {
                drawn.push((at, side));
            }
        }
    }
    let carries = |at: DriverIx| {
        moment.flows.iter().any(|flow| {
            matches!(flow.part, Part::Feeder { driver, .. } if driver == at)
                && flow.amps.abs() >= CARRIES_A
        })
    };
    for at in case.wiring.drivers.indices().filter(|at| carries(*at)) {
        if !drawn.iter().any(|(known, _)| *known == at) {
            let left = drawn.iter().filter(|(_, side)| *side == 0).count();
            drawn.push((at, usize::from(left > drawn.len() - left)));
        }
    }
    drawn.truncate(MOST_DRIVERS);
    drawn
}

/// Style of the schematic.
struct Sheet<'a> {
    painter: Painter,
    model: &'a Model<'a>,
    scene: &'a Scene,
    case: &'a Case,
    moment: &'a MomentAt,
    t: &'a Tokens,
    /// The largest current, for how heavy lines are.
    most_a: f64,
    rect: Rect,
    /// Places of words that are drawn already.
    taken: RefCell<Vec<Rect>>,
}

/// Where the outputs of a bridge come out.
struct Placed {
    driver: DriverIx,
    outputs: [Pos2; 2],
    negative: Pos2,
}

fn schematic_ui(
    ui: &mut Ui,
    model: &Model,
    scene: &Scene,
    moment: &MomentAt,
    drivers: &[(DriverIx, usize)],
) {
    let case = scene.gap.case(scene.stance.who);
    let rows = (0..2).map(|side| drivers.iter().filter(|(_, s)| *s == side).count()).max();
    let width = ui.available_width().max(2.0 * BRIDGE[0] + 180.0);
    let height = rows.unwrap_or(1).max(1) as f32 * ROW + 40.0;
    eframe::egui::ScrollArea::horizontal().id_salt("path").show(ui, |ui| {
        let (rect, response) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
        let said = "Schematic of the path of the current; the list below says each branch";
        response.widget_info(|| WidgetInfo::labeled(Role::Image, true, said));
        let t = tokens(ui);
        let most_a = moment.flows.iter().map(|flow| flow.amps.abs()).fold(0.1, f64::max);
        let painter = ui.painter_at(rect);
        painter.rect_filled(rect, 4.0, t.card);
        let taken = RefCell::default();
        let sheet = Sheet { painter, model, scene, case, moment, t, most_a, rect, taken };
        let mut placed = Vec::new();
        let mut row = [0_usize; 2];
        for &(driver, side) in drivers {
            placed.push(sheet.bridge(driver, side, row[side]));
            row[side] += 1;
        }
        sheet.nets(&placed);
        sheet.ties(&placed);
    });
    ui.add_space(TIGHT);
}

impl Sheet<'_> {
    fn ink(&self, amps: f64) -> Ink {
        Ink::of(amps, self.most_a, self.t)
    }

    fn amps(&self, which: impl Fn(Part) -> bool) -> Option<f64> {
        self.moment.amps(which)
    }

    fn text(&self, at: Pos2, align: Align2, words: impl Into<String>, strong: bool) -> Rect {
        let font = if strong { FontId::new(12.0, bold()) } else { FontId::proportional(11.0) };
        let colour = if strong { self.t.text } else { self.t.weak };
        let galley = self.painter.layout_no_wrap(words.into(), font, colour);
        let mut taken = self.taken.borrow_mut();
        let place = beside(&taken, align.anchor_size(at, galley.size()));
        self.painter.galley(place.min, galley, colour);
        taken.push(place);
        place
    }

    /// A current beside a line, where it carries any.
    fn label(&self, at: Pos2, align: Align2, flowing: f64) {
        if flowing.abs() >= CARRIES_A {
            self.text(at, align, amps(flowing.abs()), true);
        }
    }

    /// A driver: its supply, four switches with their diodes, its outputs.
    fn bridge(&self, driver: DriverIx, side: usize, row: usize) -> Placed {
        let [width, height] = BRIDGE;
        let top = self.rect.top() + 30.0 + row as f32 * ROW;
        let left = if side == 0 { self.rect.left() + 8.0 } else { self.rect.right() - 8.0 - width };
        // Distances from the outer edge: mirrored on the right.
        let x = |from_outside: f32| {
            if side == 0 { left + from_outside } else { left + width - from_outside }
        };
        let (positive, negative) = (top, top + height);
        let middle = f32::midpoint(positive, negative);
        let case = &self.case.wiring.drivers[driver];
        let name = shortened(&self.model.driver_at(self.scene, driver), 24);
        let state = self.moment.states.get(driver).map_or("", |state| state_word(*state));
        let align = if side == 0 { Align2::LEFT_BOTTOM } else { Align2::RIGHT_BOTTOM };
        self.text(pos2(x(0.0), positive - 8.0), align, format!("{name}: {state}"), true);
        // The supply, with its poles.
        let gives = self.amps(|part| part == Part::Source(case.supply)).unwrap_or(0.0);
        let ink = self.ink(gives);
        wire(&self.painter, &[pos2(x(14.0), negative), pos2(x(14.0), middle + 5.0)], &ink, gives);
        wire(&self.painter, &[pos2(x(14.0), middle - 5.0), pos2(x(14.0), positive)], &ink, gives);
        plates(&self.painter, pos2(x(14.0), middle), self.t.text);
        let volts = self.moment.poles_v.get(case.supply).copied().flatten();
        let volts = volts.map_or_else(String::new, |volts| format!("{volts:.1} V"));
        let beside = if side == 0 { Align2::LEFT_CENTER } else { Align2::RIGHT_CENTER };
        self.text(pos2(x(26.0), middle - 14.0), beside, volts, true);
        let shares = self.case.wiring.drivers.iter().filter(|d| d.supply == case.supply).count();
        let supply = shortened(&supply_name(self.model, self.scene, case.supply), 13);
        let supply = if shares > 1 { format!("{supply}, shared") } else { supply };
        self.text(pos2(x(26.0), middle), beside, supply, false);
        self.label(pos2(x(26.0), middle + 14.0), beside, gives);
        for (y, high) in [(positive, true), (negative, false)] {
            // From the supply to the first half-bridge flows what both take, on to the second its own.
            let second = self.half_amps(driver, 1, high);
            let both = self.half_amps(driver, 0, high) + second;
            for (from, to, flowing) in [(14.0, 105.0, both), (105.0, 185.0, second)] {
                wire(
                    &self.painter,
                    &[pos2(x(from), y), pos2(x(to), y)],
                    &self.ink(flowing),
                    flowing,
                );
            }
        }
        let legs = if case.stage == Stage::Half { 1 } else { 2 };
        // The output that feeds the left rail, which is the upper one, is above.
        let feeds_left = |leg: usize| {
            let to_left = |net| matches!(self.rail_of(net), Some((_, 0)));
            case.legs[leg].iter().any(|feeder| to_left(feeder.net))
        };
        let upper = usize::from(feeds_left(1) && !feeds_left(0));
        let mut outputs = [pos2(x(width), middle); 2];
        for (leg, output) in outputs.iter_mut().enumerate() {
            let column = x(if leg == 0 { 105.0 } else { 185.0 });
            let y = middle + if leg == upper { -16.0 } else { 16.0 };
            *output = pos2(x(width), y);
            if leg < legs {
                self.half(driver, leg, (column, positive, negative, y), side);
            }
            let out = self.leg_amps(driver, leg);
            let start = if leg < legs { pos2(column, y) } else { pos2(x(14.0), y) };
            wire(&self.painter, &[start, *output], &self.ink(out), out);
            let letter = if leg == 0 { "P" } else { "M" };
            self.text(*output + vec2(0.0, -8.0), Align2::CENTER_CENTER, letter, true);
        }
        Placed { driver, outputs, negative: pos2(x(14.0), negative) }
    }

    /// Current from a pole into a half-bridge, A.
    fn half_amps(&self, driver: DriverIx, leg: usize, high: bool) -> f64 {
        let switch = self.amps(|part| part == Part::Switch { driver, leg, high }).unwrap_or(0.0);
        let diode = self.amps(|part| part == Part::Diode { driver, leg, high }).unwrap_or(0.0);
        // The high diode leads back to its pole.
        if high { switch - diode } else { switch + diode }
    }

    /// Current that leaves an output, A.
    fn leg_amps(&self, driver: DriverIx, leg: usize) -> f64 {
        let own = |part: Part| matches!(part, Part::Feeder { driver: d, leg: l, .. } if (d, l) == (driver, leg));
        self.amps(own).unwrap_or(0.0)
    }

    /// A half-bridge: a switch and a diode to each pole.
    fn half(
        &self,
        driver: DriverIx,
        leg: usize,
        (x, positive, negative, y): (f32, f32, f32, f32),
        side: usize,
    ) {
        let smooth = matches!(self.case.wiring.drivers[driver].stage, Stage::Smooth { .. });
        let aside = if side == 0 { 24.0 } else { -24.0 };
        for high in [true, false] {
            let pole = if high { positive } else { negative };
            let on = self.amps(|part| part == Part::Switch { driver, leg, high });
            let flowing = on.unwrap_or(0.0);
            // Towards the output.
            switch(
                &self.painter,
                (pos2(x, pole), pos2(x, y)),
                on.is_some(),
                &self.ink(flowing),
                flowing,
            );
            let middle = f32::midpoint(pole, y);
            let (beside, align) =
                if side == 0 { (-9.0, Align2::RIGHT_CENTER) } else { (9.0, Align2::LEFT_CENTER) };
            self.label(pos2(x + beside, middle), align, flowing);
            if smooth {
                continue;
            }
            let through =
                self.amps(|part| part == Part::Diode { driver, leg, high }).unwrap_or(0.0);
            // A body diode points up: output to positive, negative to output.
            let (from, to) = if high { (y, pole) } else { (pole, y) };
            let ends = (pos2(x + aside, from), pos2(x + aside, to));
            diode(&self.painter, ends, x, &self.ink(through), through);
            if through.abs() >= CARRIES_A {
                let at = pos2(x + aside + aside.signum() * 9.0, middle);
                let align = if side == 0 { Align2::LEFT_CENTER } else { Align2::RIGHT_CENTER };
                self.label(at, align, through);
            }
        }
    }

    /// The rails with their feeders, and the wheels between them.
    fn nets(&self, placed: &[Placed]) {
        let at = |net: NetIx| self.net_place(net);
        for bridge in placed {
            let legs = &self.case.wiring.drivers[bridge.driver].legs;
            for (leg, feeders) in legs.iter().enumerate() {
                for (place, feeder) in feeders.iter().enumerate() {
                    let own = Part::Feeder { driver: bridge.driver, leg, at: place };
                    let Some(flow) = self.moment.flows.iter().find(|flow| flow.part == own) else {
                        continue;
                    };
                    let (from, to) = (bridge.outputs[leg], at(feeder.net));
                    wire(&self.painter, &[from, to], &self.ink(flow.amps), flow.amps);
                    let middle = from.lerp(to, 0.3);
                    let ohm = if feeder.through.is_some() { "device, " } else { "" };
                    let ohm = format!("{ohm}{:.2} Ω", flow.ohm);
                    let up = if to.y < from.y { -1.0 } else { 1.0 };
                    let away = if to.x > from.x { -18.0 } else { 18.0 };
                    self.text(middle + vec2(away, up * 12.0), Align2::CENTER_CENTER, ohm, false);
                    let word = from.lerp(to, 0.72);
                    self.label(word + vec2(away, up * 10.0), Align2::CENTER_CENTER, flow.amps);
                }
            }
        }
        let mut named: Vec<NetIx> = placed
            .iter()
            .flat_map(|bridge| self.case.wiring.drivers[bridge.driver].legs.iter().flatten())
            .map(|leg| leg.net)
            .chain(self.case.rails.iter().flatten().copied().flatten())
            .collect();
        named.sort();
        named.dedup();
        self.wheels();
        for net in named {
            let place = at(net);
            self.painter.circle_filled(place, 4.0, self.t.text);
            let name = shortened(&net_name(self.model, self.scene, net), 26);
            let (above, align) = match self.rail_of(net) {
                Some((_, 0)) => (-16.0, Align2::CENTER_CENTER),
                _ => (16.0, Align2::CENTER_CENTER),
            };
            self.text(place + vec2(0.0, above), align, name, false);
        }
    }

    /// Which side and rail of the gap a net is.
    fn rail_of(&self, net: NetIx) -> Option<(usize, usize)> {
        let sides = self.case.rails.iter().enumerate();
        sides
            .flat_map(|(side, rails)| {
                rails.iter().enumerate().map(move |(rail, at)| (side, rail, at))
            })
            .find(|(.., at)| **at == Some(net))
            .map(|(side, rail, _)| (side, rail))
    }

    /// Where a net stands: the four rails at the gap in the middle, others below them.
    fn net_place(&self, net: NetIx) -> Pos2 {
        let centre = self.rect.center().x;
        let middle = self.rect.top() + 30.0 + BRIDGE[1] / 2.0;
        match self.rail_of(net) {
            Some((side, rail)) => {
                let x = if side == 0 { -62.0 } else { 62.0 };
                pos2(centre + x, middle + if rail == 0 { -66.0 } else { 66.0 })
            }
            None => pos2(centre - 40.0 + 30.0 * net.0 as f32 % 110.0, middle + ROW * 0.75),
        }
    }

    /// The wheels of what stands there, joined by side, and what it draws.
    fn wheels(&self) {
        let centre = self.rect.center().x;
        let middle = self.rect.top() + 30.0 + BRIDGE[1] / 2.0;
        let star = |group: usize, side: usize| {
            let off = 22.0 + 14.0 * group as f32;
            pos2(centre, middle + if side == 0 { -66.0 + off } else { 66.0 - off })
        };
        for flow in &self.moment.flows {
            match flow.part {
                Part::Wheels { group, side, net } => {
                    let (from, to) = (self.net_place(net), star(group, side));
                    wire(&self.painter, &[from, to], &self.ink(flow.amps), flow.amps);
                    self.painter.circle_filled(to, 3.5, self.t.accent);
                    let at = from.lerp(to, 0.5) + vec2(0.0, if side == 0 { 14.0 } else { -14.0 });
                    self.label(at, Align2::CENTER_CENTER, flow.amps);
                }
                Part::Load { group, .. } => {
                    let (from, to) = (star(group, 0), star(group, 1));
                    wire(&self.painter, &[from, to], &self.ink(flow.amps), flow.amps);
                    self.text(
                        from.lerp(to, 0.5) + vec2(8.0, 0.0),
                        Align2::LEFT_CENTER,
                        "load",
                        false,
                    );
                }
                _ => {}
            }
        }
        let words = match &self.scene.stand {
            Some(_) => shortened(&self.model.who(self.scene.stance.who), 22),
            None => "nothing joins the rails".to_owned(),
        };
        self.text(pos2(centre, middle), Align2::CENTER_CENTER, words, false);
    }

    /// Ties of negative poles to a shared one, as a line below.
    fn ties(&self, placed: &[Placed]) {
        let y = self.rect.bottom() - 12.0;
        let mut ends: Vec<Pos2> = Vec::new();
        for bridge in placed {
            let supply = self.case.wiring.drivers[bridge.driver].supply;
            let Some(tied) = self.amps(|part| part == Part::Tie(supply)) else { continue };
            let foot = pos2(bridge.negative.x, y);
            wire(&self.painter, &[bridge.negative, foot], &self.ink(tied), tied);
            let middle = bridge.negative.lerp(foot, 0.6) + vec2(6.0, 0.0);
            let align = if bridge.negative.x < self.rect.center().x {
                Align2::LEFT_CENTER
            } else {
                Align2::RIGHT_CENTER
            };
            self.label(middle, align, tied);
            ends.push(foot);
        }
        let first = ends.iter().map(|at| at.x).reduce(f32::min);
        let last = ends.iter().map(|at| at.x).reduce(f32::max);
        if let Some((first, last)) = first.zip(last) {
            let line = [pos2(first, y), pos2(last.max(first + 40.0), y)];
            self.painter.line_segment(line, Stroke::new(2.0, self.t.weak));
            let centre = self.rect.center().x;
            self.text(pos2(centre, y - 8.0), Align2::CENTER_CENTER, "shared negative", false);
        }
    }
}
