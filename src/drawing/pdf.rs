//! A document as PDF: faces embedded, tagged in reading order, title and language set.

use std::collections::BTreeMap;
use std::num::NonZeroU16;

use krilla::SerializeSettings;
use krilla::color::rgb;
use krilla::destination::XyzDestination;
use krilla::geom::{Path, PathBuilder, Point, Rect, Transform};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, LineCap, Stroke as PdfStroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, Identifier, ListNumbering, Node as TagNode, SpanTag,
    TableHeaderScope, Tag, TagGroup, TagKind, TagTree,
};
use krilla::text::{Font, GlyphId, KrillaGlyph};

use super::face::Face;
use super::{Area, Document, Ink, Mark, Node, Page, Placed, Role, Shape, Step, Stroke, Text};

/// Points in a millimetre.
const POINTS: f64 = 72.0 / 25.4;

/// Places of the marks.
type Ids = BTreeMap<Mark, Vec<Identifier>>;

/// A document as PDF.
///
/// # Errors
/// The file cannot be made; the text says why.
pub fn pdf(document: &Document) -> Result<Vec<u8>, String> {
    let faces = Faces::load()?;
    let settings = SerializeSettings { enable_tagging: true, ..SerializeSettings::default() };
    let mut pdf = krilla::Document::new_with(settings);
    let mut ids: Ids = BTreeMap::new();
    let mut begins: BTreeMap<Mark, (usize, f64)> = BTreeMap::new();
    for (at, page) in document.pages.iter().enumerate() {
        for Placed { shape, mark } in &page.shapes {
            if let (Some(mark), Some(area)) = (mark, shape.bounds()) {
                begins.entry(*mark).or_insert((at, area.y));
            }
        }
        let [w, h] = [page.width_mm, page.height_mm].map(points);
        let size = PageSettings::from_wh(w, h).ok_or("a page has no size")?;
        let mut sheet = pdf.start_page_with(size);
        let mut surface = sheet.surface();
        surface.push_transform(&Transform::from_scale(POINTS as f32, POINTS as f32));
        draw_page(&mut surface, page, &faces, &mut ids)?;
        surface.pop();
        surface.finish();
        sheet.finish();
    }
    let metadata = Metadata::new()
        .title(document.title.clone())
        .language("en".into())
        .creator("Gapwright".into());
    pdf.set_metadata(metadata);
    let mut tree = TagTree::new().with_lang(Some("en".into()));
    tags(&document.order, &mut ids).into_iter().for_each(|node| tree.push(node));
    // What is in no place of the reading order comes last, so that nothing is lost.
    for left in std::mem::take(&mut ids).into_values() {
        let leaves = left.into_iter().map(TagNode::from).collect();
        tree.push(TagGroup::with_children(Tag::P, leaves));
    }
    pdf.set_tag_tree(tree);
    pdf.set_outline(outline(&document.order, &begins));
    pdf.finish().map_err(|why| format!("{why:?}"))
}

struct Faces([Font; 2]);

impl Faces {
    fn load() -> Result<Faces, String> {
        let load = |face: Face| {
            Font::new(face.file().to_vec().into(), 0).ok_or("a face cannot be read".to_owned())
        };
        Ok(Faces([load(Face::Regular)?, load(Face::Bold)?]))
    }

    fn get(&self, face: Face) -> Font {
        match face {
            Face::Regular => self.0[0].clone(),
            Face::Bold => self.0[1].clone(),
        }
    }
}

fn points(mm: f64) -> f32 {
    (mm * POINTS) as f32
}

fn draw_page(
    surface: &mut Surface,
    page: &Page,
    faces: &Faces,
    ids: &mut Ids,
) -> Result<(), String> {
    let mut at = 0;
    while at < page.shapes.len() {
        let mark = page.shapes[at].mark;
        let same = page.shapes[at..].iter().take_while(|placed| placed.mark == mark).count();
        let id = match mark {
            None => surface
                .start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout))),
            Some(_) if page.shapes[at..at + same].iter().all(is_text) => {
                surface.start_tagged(ContentTag::Span(SpanTag::empty()))
            }
            Some(_) => surface.start_tagged(ContentTag::Other),
        };
        for placed in &page.shapes[at..at + same] {
            draw(surface, &placed.shape, faces)?;
        }
        surface.end_tagged();
        if let Some(mark) = mark {
            ids.entry(mark).or_default().push(id);
        }
        at += same;
    }
    Ok(())
}

fn is_text(placed: &Placed) -> bool {
    matches!(placed.shape, Shape::Text(_))
}

fn draw(surface: &mut Surface, shape: &Shape, faces: &Faces) -> Result<(), String> {
    match shape {
        Shape::Path { steps, stroke, fill } => {
            let Some(path) = path_of(steps) else { return Ok(()) };
            surface.set_fill(fill.map(filled));
            surface.set_stroke(stroke.as_ref().map(stroked));
            if fill.is_some() || stroke.is_some() {
                surface.draw_path(&path);
            }
        }
        Shape::Text(text) => write(surface, text, faces),
        Shape::Window { window, shapes } => {
            let Area { x, y, w, h } = *window;
            let area = Rect::from_xywh(x as f32, y as f32, w as f32, h as f32);
            let mut builder = PathBuilder::new();
            builder.push_rect(area.ok_or("a window has no size")?);
            let path = builder.finish().ok_or("a window has no size")?;
            surface.push_clip_path(&path, &FillRule::NonZero);
            for placed in shapes {
                draw(surface, &placed.shape, faces)?;
            }
            surface.pop();
        }
    }
    Ok(())
}

fn path_of(steps: &[Step]) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for step in steps {
        match *step {
            Step::Move(x, y) => builder.move_to(x as f32, y as f32),
            Step::Line(x, y) => builder.line_to(x as f32, y as f32),
            Step::Close => builder.close(),
        }
    }
    builder.finish()
}

fn filled(Ink(r, g, b): Ink) -> Fill {
    let paint = rgb::Color::new(r, g, b).into();
    Fill { paint, opacity: NormalizedF32::ONE, rule: FillRule::NonZero }
}

fn stroked(stroke: &Stroke) -> PdfStroke {
    let Ink(r, g, b) = stroke.ink;
    let dash: Vec<f32> = stroke.dash.iter().map(|mm| *mm as f32).collect();
    PdfStroke {
        paint: rgb::Color::new(r, g, b).into(),
        width: stroke.width_mm as f32,
        line_cap: LineCap::Butt,
        dash: (!dash.is_empty()).then_some(StrokeDash { array: dash, offset: 0.0 }),
        ..PdfStroke::default()
    }
}

fn write(surface: &mut Surface, text: &Text, faces: &Faces) {
    let glyphs: Vec<KrillaGlyph> = text
        .face
        .set(&text.text)
        .into_iter()
        .map(|glyph| {
            let (x, y) = glyph.offset;
            let id = GlyphId::new(glyph.id);
            KrillaGlyph::new(id, glyph.advance, x, y, 0.0, glyph.bytes, None)
        })
        .collect();
    if glyphs.is_empty() {
        return;
    }
    surface.set_fill(Some(filled(text.ink)));
    surface.set_stroke(None);
    let at = Point::from_xy(text.x_mm as f32, text.y_mm as f32);
    let (face, size) = (faces.get(text.face), text.size_mm as f32);
    surface.draw_glyphs(at, &glyphs, face, &text.text, size, false);
}

/// The reading order as tags. Takes what it uses out of `ids`.
fn tags(nodes: &[Node], ids: &mut Ids) -> Vec<TagNode> {
    let mut out = Vec::new();
    for node in nodes {
        match node {
            Node::Leaf(mark) => {
                out.extend(ids.remove(mark).into_iter().flatten().map(TagNode::from));
            }
            Node::Group(role, children) => {
                let children = tags(children, ids);
                if !children.is_empty() {
                    out.push(TagGroup::with_children(tag(role), children).into());
                }
            }
        }
    }
    out
}

fn tag(role: &Role) -> TagKind {
    match role {
        Role::Heading(level, title) => {
            let level = NonZeroU16::new(*level).unwrap_or(NonZeroU16::MIN);
            Tag::Hn(level, Some(title.clone())).into()
        }
        Role::Paragraph => Tag::P.into(),
        Role::Table => Tag::Table.into(),
        Role::Row => Tag::TR.into(),
        Role::HeadCell => Tag::TH(TableHeaderScope::Column).into(),
        Role::Cell => Tag::TD.into(),
        Role::List => Tag::L(ListNumbering::None).into(),
        Role::Item => Tag::LI.into(),
        Role::Figure(words) => Tag::Figure(Some(words.clone())).into(),
    }
}

/// The headings as bookmarks.
fn outline(order: &[Node], begins: &BTreeMap<Mark, (usize, f64)>) -> Outline {
    let mut outline = Outline::new();
    for node in order {
        let Node::Group(Role::Heading(_, title), children) = node else { continue };
        let mark = children.iter().find_map(|child| match child {
            Node::Leaf(mark) => Some(mark),
            Node::Group(..) => None,
        });
        let Some((page, y)) = mark.and_then(|mark| begins.get(mark)) else { continue };
        let to = XyzDestination::new(*page, Point::from_xy(0.0, points(*y)));
        outline.push_child(OutlineNode::new(title.clone(), to));
    }
    outline
}
