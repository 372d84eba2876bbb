//! Formations in the tool for special work: their sizes, and what placing one comes to.

use super::state::{Kind, SpecialTool};
use crate::app::form::{DEGREE, Form, MM};
use crate::layout::edit::Refused;
use crate::layout::place::{
    self, LoopWish, MOST_TRACKS, Placed, SidingWish, Site, Throat, YardWish,
};
use crate::layout::{Layout, bulk};
use crate::report::Units;

impl SpecialTool {
    /// Whether it places a crossover together with the track that it goes to.
    pub(super) fn lays_second(&self) -> bool {
        self.kind == Kind::Crossover && self.lays_second
    }

    fn throat(&self, layout: &Layout) -> Throat {
        Throat {
            hand: self.hand,
            frog: self.frog,
            turn_deg: self.turn_deg,
            centres_mm: self.centres_mm.unwrap_or_else(|| bulk::spacing_mm(layout.scale)),
        }
    }

    fn siding(&self, layout: &Layout) -> SidingWish {
        SidingWish { throat: self.throat(layout), length_mm: self.siding_mm }
    }

    fn reversing(&self, layout: &Layout) -> LoopWish {
        let [radius, points] = place::usual_radii_mm(layout.scale);
        LoopWish {
            hand: self.hand,
            frog: self.frog,
            points_mm: self.points_mm.unwrap_or(points),
            radius_mm: self.loop_mm.unwrap_or(radius),
        }
    }
}

/// What placing the tool's formation at a site comes to.
pub(super) fn placed(tool: &SpecialTool, layout: &Layout, site: Site) -> Result<Placed, Refused> {
    match tool.kind {
        Kind::Siding => place::siding(layout, site, &tool.siding(layout)),
        Kind::Yard => {
            let (throat, length_mm) = (tool.throat(layout), tool.siding_mm);
            place::yard(layout, site, &YardWish { throat, tracks: tool.tracks, length_mm })
        }
        Kind::Loop => place::reversing_loop(layout, site, &tool.reversing(layout)),
        _ => place::twin_crossover(layout, site, &tool.throat(layout)),
    }
}

/// The sizes of a formation.
pub(super) fn sizes_form(
    form: &mut Form<'_>,
    tool: &mut SpecialTool,
    layout: &Layout,
    units: Units,
) {
    match tool.kind {
        Kind::Crossover => {
            form.tick("Lay the second track too", &mut tool.lays_second).on_hover_text(
                "A track beside the whole run, on the hand that is chosen, and the crossover to it",
            );
            if tool.lays_second {
                centres_form(form, tool, layout, units);
            }
        }
        Kind::Siding => {
            turn_form(form, tool);
            centres_form(form, tool, layout, units);
            form.number("Length", &mut tool.siding_mm, MM, 1.0..=1e5)
                .on_hover_text("Of the track beside, between its two leads");
            let all = units.length(place::siding_length_mm(&tool.siding(layout)));
            form.hint(&format!("It takes up {all} of the track, from points to points."));
        }
        Kind::Yard => {
            form.whole("Tracks", &mut tool.tracks, 2..=MOST_TRACKS)
                .on_hover_text("The track that is there is one of them");
            turn_form(form, tool);
            centres_form(form, tool, layout, units);
            form.number("Length", &mut tool.siding_mm, MM, 1.0..=1e5)
                .on_hover_text("Of the shortest new track beyond the ladder; all end in one line");
        }
        Kind::Loop => loop_form(form, tool, layout, units),
        _ => {}
    }
}

fn turn_form(form: &mut Form<'_>, tool: &mut SpecialTool) {
    form.number("Turn", &mut tool.turn_deg, DEGREE, 2.0..=45.0)
        .on_hover_text("How far the track turns away before it is parallel again");
}

/// A size that is the scale's usual one until another is typed.
fn usual_form(form: &mut Form<'_>, label: &str, usual: f64, value: &mut Option<f64>, tip: &str) {
    let mut shown = value.unwrap_or(usual);
    form.number(label, &mut shown, MM, 1.0..=1e5).on_hover_text(tip);
    *value = (shown != usual).then_some(shown);
}

fn centres_form(form: &mut Form<'_>, tool: &mut SpecialTool, layout: &Layout, units: Units) {
    let usual = bulk::spacing_mm(layout.scale);
    let tip = "Distance between the centre lines of neighbouring tracks";
    usual_form(form, "Centres", usual, &mut tool.centres_mm, tip);
    form.hint(&format!(
        "Usual at 1:{}: {} between centre lines, 4 m at full size (common practice on straight track, no source).",
        layout.scale,
        units.mm(usual)
    ));
}

fn loop_form(form: &mut Form<'_>, tool: &mut SpecialTool, layout: &Layout, units: Units) {
    let [radius, points] = place::usual_radii_mm(layout.scale);
    usual_form(form, "Loop", radius, &mut tool.loop_mm, "Radius of the loop");
    let tip = "Radius of the diverging road of its points";
    usual_form(form, "Points", points, &mut tool.points_mm, tip);
    let round = units.length(place::loop_length_mm(&tool.reversing(layout)));
    form.hint(&format!(
        "Usual at 1:{}: radii of {} and {}, 40 m and 75 m at full size (common practice, no source). From the points \
         round to them: {round}. The section inside has to be longer than all that a train can bridge.",
        layout.scale,
        units.mm(radius),
        units.mm(points)
    ));
}
