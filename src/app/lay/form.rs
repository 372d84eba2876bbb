//! The options of the tool that lays runs.

use eframe::egui::Ui;

use super::{How, Lay, Turning, TypedEnd};
use crate::app::App;
use crate::app::form::{ANY, DEGREE, FROM_ZERO, Form, MM};
use crate::app::theme::{SPACE, heading, small};
use crate::app::tools::action;
use crate::layout::JointId;

/// The options of the tool.
pub fn lay_ui(ui: &mut Ui, app: &mut App) {
    crate::app::tools::snap_ui(ui, app);
    let mut lay = app.tools.lay.clone();
    let mut form = Form::new(ui, "Lay").label_width(58.0);
    let hows = [
        (How::Onwards, "On from ends".to_owned()),
        (How::Bend, "With a bend".to_owned()),
        (How::Through, "Three points".to_owned()),
        (How::ByHand, "By hand".to_owned()),
    ];
    form.choice("How", &mut lay.how, &hows);
    let help = match lay.how {
        How::Onwards => {
            "From an end of track it goes on in its direction, in an arc to where you click, and smoothly into another \
             end. Elsewhere it is straight."
        }
        How::Bend => "Every run turns by this much between its ends.",
        How::Through => "Click the start, a place on the way, and the end.",
        How::ByHand => "Hold the button and draw. It becomes smooth curves.",
    };
    form.hint(help);
    if lay.how == How::Bend {
        form.number("Bend", &mut lay.bend_deg, DEGREE, -359.0..=359.0).on_hover_text(
            "How far the run turns between its ends; left is positive, 0 is straight",
        );
    }
    let usual = Lay { least_radius_mm: None, ..lay.clone() }.least_radius_mm(app.doc.layout());
    let mut least = lay.least_radius_mm(app.doc.layout());
    form.number("Tightest", &mut least, MM, FROM_ZERO)
        .on_hover_text("Curves of a smaller radius are marked while they are drawn");
    lay.least_radius_mm = (least != usual).then_some(least);
    ui.add_space(SPACE);
    ui.label(heading("On from the end"));
    let mut form = Form::new(ui, "Lay on").label_width(58.0);
    let ways = [
        (Turning::Straight, "Straight".to_owned()),
        (Turning::Left, "Curve left".to_owned()),
        (Turning::Right, "Curve right".to_owned()),
    ];
    form.choice("Way", &mut lay.turning, &ways);
    match lay.turning {
        Turning::Straight => {
            form.number("Length", &mut lay.length_mm, MM, 1.0..=1e6);
        }
        Turning::Left | Turning::Right => {
            form.number("Radius", &mut lay.radius_mm, MM, 1.0..=1e6);
            form.number("Angle", &mut lay.angle_deg, DEGREE, 0.1..=359.0);
        }
    }
    app.tools.lay = lay;
    if action(ui, "Lay it on", true) {
        app.lay_on();
    }
    ui.label(small(ui, "Enter on the plan does the same."));
    ui.add_space(SPACE);
    by_numbers_ui(ui, app);
}

fn by_numbers_ui(ui: &mut Ui, app: &mut App) {
    let mut lay = app.tools.lay.clone();
    ui.label(heading("By numbers"));
    let joints: Vec<(Option<JointId>, String)> = std::iter::once((None, "a new joint".to_owned()))
        .chain(
            app.doc
                .layout()
                .joints
                .values()
                .map(|j| (Some(j.id), format!("{} ({:.0}, {:.0})", j.id, j.x_mm, j.y_mm))),
        )
        .collect();
    for (what, end) in [("From", &mut lay.start), ("To", &mut lay.end)] {
        let mut form = Form::new(ui, format!("Lay {}", what.to_lowercase())).label_width(58.0);
        form.choice(what, &mut end.joint, &joints);
        if end.joint.is_none() {
            form.number("x", &mut end.x_mm, MM, ANY);
            form.number("y", &mut end.y_mm, MM, ANY);
        }
    }
    app.tools.lay = lay;
    if !action(ui, "Lay this run", true) {
        return;
    }
    let (start, end) = (app.tools.lay.start.end(), app.tools.lay.end.end());
    let how = Lay { through: None, ..app.tools.lay.clone() };
    if let Some(joint) = app.lay_shaped(&how, start, end, false) {
        // The next run goes on from here, as far again.
        let lay = &mut app.tools.lay;
        let from = app.doc.layout().joints.get(&joint).map_or((0.0, 0.0), |j| (j.x_mm, j.y_mm));
        lay.start.joint = Some(joint);
        lay.end = TypedEnd { joint: None, x_mm: from.0 + 1000.0, y_mm: from.1 };
        app.fit_if_out_of_sight();
    }
}
