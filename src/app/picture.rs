//! Pictures under the plan: those that are read, placing one, finding it under the pointer, painting it.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use eframe::egui::epaint::Vertex;
use eframe::egui::{
    Align2, Color32, Context, Event, FontId, Mesh, Painter, Pos2, Rect, Stroke, TextureHandle,
    TextureOptions, pos2, vec2,
};

use super::App;
use super::aside::Aside;
use super::camera::World;
use super::marks::dashed;
use super::names;
use super::picture_file::{self, Taken, Trouble, pixels};
use super::theme::{RADIUS, Tokens};
use crate::layout::edit::{Edit, Entity};
use crate::layout::picture::{default_opacity, find, folder_of, named};
use crate::layout::{EntityId, Layout, Picture, PictureId};

/// From this many pixels that are shown on, no further picture is read: 512 MiB of a graphics card's memory.
const MOST_PIXELS: usize = 128 * 1024 * 1024;

/// How far a picture that can be read is.
enum State {
    /// A thread is at it.
    Reading(Aside<Result<Taken, Trouble>>),
    /// It is there, with its width and height in the file.
    There(TextureHandle, (u32, u32)),
    /// It cannot be shown.
    Trouble(Trouble),
}

/// Pictures that are read, by the paths that the layout names.
#[derive(Default)]
pub struct Shelf {
    /// Whether files are read on a thread of their own.
    pub aside: bool,
    states: BTreeMap<String, State>,
}

impl Shelf {
    /// Takes in what was read, begins to read what the layout names newly, and lets go of the rest. Returns whether
    /// there is something new to see.
    pub fn update(&mut self, ctx: &Context, layout: &Layout, layout_file: Option<&Path>) -> bool {
        let mut new = false;
        // Whoever comes back to the window may have put a file where it belongs.
        if ctx.input(|i| i.events.contains(&Event::WindowFocused(true))) {
            self.states.retain(|_, state| !matches!(state, State::Trouble(_)));
        }
        self.states.retain(|path, _| layout.pictures.values().any(|p| p.path == *path));
        for state in self.states.values_mut() {
            let State::Reading(answer) = state else { continue };
            let Some(taken) = answer.answer() else { continue };
            let taken = taken.unwrap_or_else(|why| Err(Trouble::Wrong(why)));
            *state = shown(ctx, taken);
            new = true;
        }
        for picture in layout.pictures.values() {
            // One at a time: several large ones at once would take much memory.
            if self.states.values().any(|state| matches!(state, State::Reading(_))) {
                break;
            }
            if !self.states.contains_key(&picture.path) {
                let folder = layout_file.map(folder_of);
                let state = match find(&picture.path, folder.as_deref()) {
                    Some(_) if self.pixels_shown() >= MOST_PIXELS => {
                        State::Trouble(Trouble::Wrong("too many large pictures are shown".into()))
                    }
                    Some(file) => self.begin(ctx, file),
                    None => State::Trouble(trouble_there(&picture.path)),
                };
                self.states.insert(picture.path.clone(), state);
                new = true;
            }
        }
        new
    }

    fn pixels_shown(&self) -> usize {
        let shown = self.states.values().filter_map(|state| match state {
            State::There(texture, _) => Some(texture.size()),
            _ => None,
        });
        shown.map(|[width, height]| width * height).sum()
    }

    fn begin(&self, ctx: &Context, file: PathBuf) -> State {
        let most = ctx.input(|i| i.max_texture_side);
        if self.aside {
            let there = file.clone();
            let work = move |_: &_| picture_file::take(&there, most);
            return State::Reading(Aside::begin(("picture", false), ctx, work));
        }
        shown(ctx, picture_file::take(&file, most))
    }

    /// Width and height of a picture in its file, if that was read.
    pub fn pixels(&self, path: &str) -> Option<(u32, u32)> {
        match self.states.get(path)? {
            State::There(_, pixels) => Some(*pixels),
            _ => None,
        }
    }

    /// Why a picture is not to be seen, as the end of a sentence about its file; `None` if it is.
    pub fn why_not(&self, path: &str) -> Option<String> {
        match self.states.get(path) {
            Some(State::There(..)) => None,
            Some(State::Trouble(Trouble::Gone)) => Some("it is not where it was".into()),
            Some(State::Trouble(Trouble::Wrong(why))) => Some(why.clone()),
            Some(State::Reading(_)) | None => Some("it is being read".into()),
        }
    }

    /// Whether a picture's file cannot be shown as it is.
    pub fn in_trouble(&self, path: &str) -> bool {
        matches!(self.states.get(path), Some(State::Trouble(_)))
    }

    /// Lets go of everything: another layout is opened.
    pub fn clear(&mut self) {
        self.states.clear();
    }

    /// Reads a picture's file anew.
    pub fn look_again(&mut self, path: &str) {
        self.states.remove(path);
    }
}

/// What is at a path that is no file's.
fn trouble_there(path: &str) -> Trouble {
    if Path::new(path).exists() { Trouble::Wrong("it is not a file".into()) } else { Trouble::Gone }
}

fn shown(ctx: &Context, taken: Result<Taken, Trouble>) -> State {
    match taken {
        Ok(taken) => State::There(
            ctx.load_texture("picture", taken.image, TextureOptions::LINEAR),
            taken.pixels,
        ),
        Err(trouble) => State::Trouble(trouble),
    }
}

impl App {
    /// Width and height of a picture, counted in its pixels.
    pub fn extent(&self, picture: &Picture) -> (f64, f64) {
        picture.extent(self.pictures.pixels(&picture.path))
    }

    /// What a typed, chosen or dropped path leads to: the name for the layout, and the picture's pixels; or why not.
    fn picture_there(&self, path: &Path) -> Result<(String, (u32, u32)), String> {
        let folder = self.doc.path.as_deref().map(folder_of);
        let beside = path.to_str().and_then(|text| find(text, folder.as_deref()));
        let file = beside.unwrap_or_else(|| path.to_path_buf());
        let cannot = |why: &str| format!("Could not use {}: {why}.", path.display());
        let pixels = pixels(&file).map_err(|trouble| match trouble {
            Trouble::Gone => cannot("there is no such file"),
            Trouble::Wrong(why) => cannot(&why),
        })?;
        let name = named(&file).ok_or_else(|| {
            cannot("its path has letters that a layout file cannot hold; give it a plain name")
        })?;
        Ok((name, pixels))
    }

    /// Puts a picture under the plan, in the middle of what one sees.
    pub fn add_picture(&mut self, path: &Path) -> Result<(), String> {
        let (path, pixels) = self.picture_there(path)?;
        let (width, height) = (f64::from(pixels.0), f64::from(pixels.1));
        let room = self.canvas.size() * 0.8;
        let points = (f64::from(room.x) / width).min(f64::from(room.y) / height);
        let mm_per_pixel = (points / self.camera.scale * 1e4).round() / 1e4;
        let mm_per_pixel = mm_per_pixel.clamp(1e-4, 1e4);
        let (x, y) = self.camera.centre;
        let corner = (x - width / 2.0 * mm_per_pixel, y + height / 2.0 * mm_per_pixel);
        let picture = Picture {
            id: PictureId(0),
            path,
            x_mm: corner.0.round(),
            y_mm: corner.1.round(),
            mm_per_pixel,
            pixels: Some(pixels),
            turn_deg: 0.0,
            opacity: default_opacity(),
            locked: false,
        };
        let made = self.edit("add a picture", Edit::Add(Entity::Picture(picture)));
        if let Some(id) = made.and_then(|made| made.last().copied()) {
            self.select(id);
        }
        Ok(())
    }

    /// Names another file for a picture, which keeps its width on the plan.
    pub fn exchange_picture(&mut self, id: PictureId, path: &Path) -> Result<(), String> {
        let (path, pixels) = self.picture_there(path)?;
        if let Some(picture) = self.doc.layout().pictures.get(&id).cloned() {
            self.pictures.look_again(&path);
            let new = Picture { path, pixels: picture.pixels.or(Some(pixels)), ..picture };
            self.edit("name a picture's file", Edit::Replace(Entity::Picture(new)));
        }
        Ok(())
    }

    /// The uppermost picture at a place on the plan; those that are locked only if asked for.
    pub fn picture_at(&self, place: World, locked_too: bool) -> Option<&Picture> {
        let mut pictures = self.doc.layout().pictures.values().rev();
        pictures.find(|picture| {
            (locked_too || !picture.locked) && picture.covers(self.extent(picture), place)
        })
    }

    /// The corners of all pictures.
    pub fn pictures_bounds(&self) -> Option<(World, World)> {
        let pictures = self.doc.layout().pictures.values();
        let corners = pictures.flat_map(|picture| picture.corners(self.extent(picture)));
        super::Derived::hull(corners.map(|corner| (corner, corner)))
    }

    /// What a picture is called on the plan: its name, and why it is not to be seen.
    pub fn picture_said(&self, id: PictureId) -> String {
        let name = names::entity_name(self.doc.layout(), id.into());
        let picture = self.doc.layout().pictures.get(&id);
        match picture.and_then(|picture| self.pictures.why_not(&picture.path)) {
            Some(why) => format!("{name}: {why}"),
            None => name,
        }
    }
}

fn on_screen(app: &App, canvas: Rect, picture: &Picture) -> [Pos2; 4] {
    let corners = picture.corners(app.extent(picture));
    corners.map(|corner| app.camera.to_screen(canvas, corner))
}

/// Paints the pictures of a layout, under everything else.
pub fn paint_under(painter: &Painter, app: &App, canvas: Rect, layout: &Layout) {
    for picture in layout.pictures.values() {
        let corners = on_screen(app, canvas, picture);
        if let Some(State::There(texture, _)) = app.pictures.states.get(&picture.path)
            && Rect::from_points(&corners).intersects(canvas)
        {
            painter.add(quad(texture, corners, picture.opacity as f32));
        }
    }
}

/// Paints what must be seen over the track: the edge of a picture that is selected or under the pointer, and the place
/// of one that cannot be shown, with its name and why.
pub fn paint_over(
    painter: &Painter,
    app: &App,
    canvas: Rect,
    layout: &Layout,
    hovered: Option<EntityId>,
    t: &Tokens,
) {
    for picture in layout.pictures.values() {
        let corners = on_screen(app, canvas, picture);
        let seen = Rect::from_points(&corners).intersect(canvas);
        if !seen.is_positive() {
            continue;
        }
        let trouble = app.pictures.why_not(&picture.path);
        let (width, colour) = if app.selection.contains(&picture.id.into()) {
            (2.0, t.accent)
        } else if hovered == Some(picture.id.into()) {
            (1.0, t.accent)
        } else if trouble.is_some() {
            (1.5, t.weak)
        } else {
            continue;
        };
        let dash: &[f32] = if trouble.is_some() { &[8.0, 6.0] } else { &[] };
        for n in 0..4 {
            let edge = [corners[n], corners[(n + 1) % 4]];
            if let Some(edge) = clipped(edge, canvas.expand(20.0)) {
                dashed(painter, &edge, Stroke::new(width, colour), dash);
            }
        }
        if let Some(why) = trouble {
            let words = format!("{}: {why}", picture.file_name());
            // Clear of the first steps, the legend, the scale and the pointer's place.
            let at = (seen.intersect(canvas.shrink2(vec2(0.0, 40.0)))).center_bottom();
            tag(painter, at - vec2(0.0, 14.0), Align2::CENTER_BOTTOM, &words, t);
        }
    }
}

/// Words on a ground of their own, so that they are read over whatever lies there.
pub fn tag(painter: &Painter, at: Pos2, align: Align2, words: &str, t: &Tokens) {
    let galley = painter.layout_no_wrap(words.to_owned(), FontId::proportional(14.0), t.text);
    let rect = align.anchor_size(at, galley.size());
    painter.rect_filled(rect.expand2(vec2(6.0, 3.0)), RADIUS, t.card);
    painter.galley(rect.min, galley, t.text);
}

/// The part of a line that lies within a box: what is far out of view need not be dashed.
fn clipped([a, b]: [Pos2; 2], within: Rect) -> Option<[Pos2; 2]> {
    let along = b - a;
    let (mut from, mut to) = (0.0f32, 1.0f32);
    let sides = [(along.x, a.x, within.x_range()), (along.y, a.y, within.y_range())];
    for (along, at, range) in sides {
        if along.abs() < 1e-6 {
            if !range.contains(at) {
                return None;
            }
            continue;
        }
        let (one, other) = ((range.min - at) / along, (range.max - at) / along);
        from = from.max(one.min(other));
        to = to.min(one.max(other));
    }
    (from <= to).then(|| [a + along * from, a + along * to])
}

fn quad(texture: &TextureHandle, corners: [Pos2; 4], opacity: f32) -> Mesh {
    let mut mesh = Mesh::with_texture(texture.id());
    let color = Color32::WHITE.gamma_multiply(opacity.clamp(0.0, 1.0));
    let of_texture = [pos2(0.0, 0.0), pos2(1.0, 0.0), pos2(1.0, 1.0), pos2(0.0, 1.0)];
    for (pos, uv) in corners.into_iter().zip(of_texture) {
        mesh.vertices.push(Vertex { pos, uv, color });
    }
    mesh.add_triangle(0, 1, 2);
    mesh.add_triangle(0, 2, 3);
    mesh
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use std::time::{Duration, Instant};

    use super::*;

    #[test]
    fn a_line_is_clipped_to_a_box() {
        let within = Rect::from_min_size(Pos2::ZERO, vec2(100.0, 50.0));
        let far = 1e9;
        let level = clipped([pos2(-far, 20.0), pos2(far, 20.0)], within).unwrap();
        assert!(level[0].distance(pos2(0.0, 20.0)) < 100.0, "{level:?}");
        assert!(level[0].distance(level[1]) < 300.0, "{level:?}");
        let inside = [pos2(10.0, 10.0), pos2(20.0, 30.0)];
        assert_eq!(clipped(inside, within), Some(inside));
        assert_eq!(clipped([pos2(0.0, 60.0), pos2(100.0, 60.0)], within), None);
        assert_eq!(clipped([pos2(-10.0, 40.0), pos2(20.0, 90.0)], within), None);
    }

    #[test]
    fn pictures_are_read_beside_the_window_one_after_the_other() {
        let folder = tempfile::tempdir().unwrap();
        let mut layout = Layout::default();
        for n in 1..=3 {
            let path = folder.path().join(format!("{n}.png"));
            image::RgbImage::new(20 * n, 10).save(&path).unwrap();
            let path = path.to_str().unwrap().to_owned();
            let (id, pixels) = (PictureId(n), None);
            let (x_mm, y_mm, mm_per_pixel, turn_deg) = (0.0, 0.0, 1.0, 0.0);
            let picture = Picture {
                id,
                path,
                x_mm,
                y_mm,
                mm_per_pixel,
                pixels,
                turn_deg,
                opacity: 1.0,
                locked: false,
            };
            layout.pictures.insert(id, picture);
        }
        let ctx = Context::default();
        let mut shelf = Shelf { aside: true, ..Shelf::default() };
        let began = Instant::now();
        let paths: Vec<&str> = layout.pictures.values().map(|p| p.path.as_str()).collect();
        while paths.iter().any(|path| shelf.pixels(path).is_none()) {
            shelf.update(&ctx, &layout, None);
            let reading = shelf.states.values().filter(|s| matches!(s, State::Reading(_))).count();
            assert!(reading <= 1, "{reading}");
            assert!(began.elapsed() < Duration::from_secs(60));
            std::thread::sleep(Duration::from_millis(1));
        }
        assert_eq!(shelf.pixels(paths[2]), Some((60, 10)));
        assert!(!shelf.update(&ctx, &layout, None), "nothing new");
        shelf.update(&ctx, &Layout::default(), None);
        assert!(shelf.states.is_empty(), "what no layout names is let go of");
    }
}
