//! The tool that scales a picture under the plan by two points that are a known distance apart.

use eframe::egui::{Align2, Id, Key, Painter, Pos2, Rect, Stroke, Ui, vec2};

use super::App;
use super::camera::World;
use super::form::{ANY, Form, MM, NUMBER};
use super::names;
use super::picture::tag;
use super::picture_form::choices;
use super::theme::{SPACE, Tokens, heading, small};
use super::tools::{Tool, action};
use crate::layout::edit::{Edit, Entity};
use crate::layout::geometry::Point;
use crate::layout::{Layout, Picture, PictureId};

/// State of the tool.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// The picture in hand.
    pub picture: Option<PictureId>,
    /// The points that were clicked or typed, at most two, in pixels of the picture to the right and downwards.
    points: Vec<Point>,
    /// How far apart they are on the model, mm.
    distance_mm: f64,
    /// The distance is to be typed next.
    ask_distance: bool,
    /// The field in which it is typed.
    field: Option<Id>,
}

impl Default for Trace {
    fn default() -> Self {
        let (picture, points, field) = (None, Vec::new(), None);
        Self { picture, points, distance_mm: 1000.0, ask_distance: false, field }
    }
}

impl Trace {
    /// Lets go of the points. Returns whether there were any.
    pub fn end(&mut self) -> bool {
        !std::mem::take(&mut self.points).is_empty()
    }

    /// Lets go of a picture that is gone; takes the only one there is.
    pub fn forget_what_is_gone(&mut self, layout: &Layout) {
        if self.picture.is_some_and(|id| !layout.pictures.contains_key(&id)) {
            self.picture = None;
            self.end();
        }
        if self.picture.is_none() && layout.pictures.len() == 1 {
            self.picture = layout.pictures.keys().next().copied();
        }
    }

    /// The two points; where none were clicked, the ends of the upper edge.
    fn two(&self, width: f64) -> [Point; 2] {
        let point = |n: usize, edge| self.points.get(n).copied().unwrap_or(edge);
        [point(0, (0.0, 0.0)), point(1, (width, 0.0))]
    }
}

fn distance(picture: &Picture, [a, b]: [Point; 2]) -> f64 {
    (b.0 - a.0).hypot(b.1 - a.1) * picture.mm_per_pixel
}

impl App {
    /// A click of the tool at a place on the plan.
    pub fn trace_click(&mut self, place: World) {
        let chosen = self.tools.trace.picture.and_then(|id| self.doc.layout().pictures.get(&id));
        let chosen = chosen.filter(|picture| picture.covers(self.extent(picture), place));
        let Some(picture) = chosen.or_else(|| self.picture_at(place, true)).cloned() else {
            self.tell("There is no picture there. Click on a picture, or add one first.");
            return;
        };
        if picture.locked {
            let name = names::entity_name(self.doc.layout(), picture.id.into());
            self.tell(format!("{name} is locked. Unlock it in its particulars to scale it."));
            return;
        }
        let trace = &mut self.tools.trace;
        if trace.picture != Some(picture.id) || trace.points.len() > 1 {
            trace.points.clear();
        }
        trace.picture = Some(picture.id);
        // As exact as one can point; a typed number is short.
        let (right, down) = picture.pixel(place);
        trace.points.push(((right * 100.0).round() / 100.0, (down * 100.0).round() / 100.0));
        if let [first, second] = trace.points[..] {
            trace.distance_mm = distance(&picture, [first, second]).round().max(1.0);
            trace.ask_distance = true;
        }
    }

    /// Scales the picture in hand to the distance that was typed.
    fn trace_scale(&mut self) {
        let trace = &self.tools.trace;
        let picture = trace.picture.and_then(|id| self.doc.layout().pictures.get(&id));
        let Some(picture) = picture else { return };
        let [first, second] = trace.two(self.extent(picture).0);
        match picture.scaled(first, second, trace.distance_mm) {
            Some(new) => {
                self.edit("scale a picture", Edit::Replace(Entity::Picture(new)));
            }
            None => self.tell_bad("Could not scale the picture: the two points are one."),
        }
    }
}

/// The panel of the tool.
pub fn trace_ui(ui: &mut Ui, app: &mut App) {
    let pictures = choices(app);
    if !pictures.is_empty() {
        let mut trace = app.tools.trace.clone();
        let scale = picture_ui(ui, app, &mut trace, &pictures);
        app.tools.trace = trace;
        if scale {
            app.trace_scale();
        }
        ui.add_space(SPACE);
    }
    if action(ui, "Add a picture…", true) {
        app.ask_picture(None);
    }
    ui.label(small(ui, "Or drop a PNG or JPEG file on the window."));
}

/// The points and the distance. Returns whether the picture is to be scaled now.
fn picture_ui(
    ui: &mut Ui,
    app: &App,
    trace: &mut Trace,
    pictures: &[(Option<PictureId>, String)],
) -> bool {
    let was = trace.picture;
    let mut form = Form::new(ui, "Trace").label_width(64.0);
    form.choice("Picture", &mut trace.picture, pictures);
    if trace.picture != was {
        trace.end();
    }
    let picture = trace.picture.and_then(|id| app.doc.layout().pictures.get(&id));
    let Some(picture) = picture else { return false };
    let mut two = trace.two(app.extent(picture).0);
    let now = app.camera.units.length(distance(picture, two));
    form.hint(&format!("The points are {now} apart now. How far should they be on the model?"));
    // Asked for before the field is drawn, so that what stands in it is typed over.
    if let (true, Some(field)) = (std::mem::take(&mut trace.ask_distance), trace.field) {
        form.ui.memory_mut(|m| m.request_focus(field));
    }
    let field = form.number("Distance", &mut trace.distance_mm, MM, 0.1..=1e7);
    trace.field = Some(field.id);
    let entered = field.lost_focus() && form.ui.input(|i| i.key_pressed(Key::Enter));
    let scale = action(form.ui, "Scale the picture", !picture.locked);
    form.hint(if picture.locked {
        "It is locked: unlock it in its particulars."
    } else {
        "The first point stays where it is."
    });
    form.ui.add_space(SPACE);
    form.ui.label(heading("Points by numbers"));
    let before = two;
    for (point, name) in two.iter_mut().zip(["First", "Second"]) {
        form.number(&format!("{name} x"), &mut point.0, NUMBER, ANY)
            .on_hover_text("Pixels from the left edge of the picture");
        form.number(&format!("{name} y"), &mut point.1, NUMBER, ANY)
            .on_hover_text("Pixels from the upper edge of the picture");
    }
    if two != before {
        trace.points = two.to_vec();
    }
    (scale || entered) && !picture.locked
}

/// Paints the points that were clicked, over everything else.
pub fn paint(painter: &Painter, app: &App, canvas: Rect, pointer: Option<Pos2>, t: &Tokens) {
    let trace = &app.tools.trace;
    let picture = trace.picture.and_then(|id| app.doc.layout().pictures.get(&id));
    let Some(picture) = picture.filter(|_| app.tools.tool == Tool::Trace) else { return };
    let places: Vec<Pos2> = trace
        .points
        .iter()
        .map(|point| app.camera.to_screen(canvas, picture.place(*point)))
        .collect();
    let stroke = Stroke::new(2.0, t.accent);
    for at in &places {
        painter.circle_stroke(*at, 7.0, stroke);
        painter.line_segment([*at - vec2(12.0, 0.0), *at + vec2(12.0, 0.0)], stroke);
        painter.line_segment([*at - vec2(0.0, 12.0), *at + vec2(0.0, 12.0)], stroke);
    }
    let end = places.get(1).copied().or(pointer);
    if let (Some(from), Some(to)) = (places.first().copied(), end) {
        painter.line_segment([from, to], stroke);
        let mm = f64::from(from.distance(to)) / app.camera.scale;
        let at = from.lerp(to, 0.5) - vec2(0.0, 12.0);
        tag(painter, at, Align2::CENTER_BOTTOM, &app.camera.units.length(mm), t);
    }
}
