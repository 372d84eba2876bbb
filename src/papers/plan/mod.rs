//! The plan: fitted to one page, and to scale in tiles.
//!
//! Blocks are told apart by dash and name, so that the plan reads in black and white.

mod labels;
mod looks;
mod tiles;
mod track;

pub use tiles::MOST_TILES;

use super::flow::Flow;
use super::{Facts, PaperFile, Request, foot, pdf_file, titled};
use crate::drawing::{self, Document, Face, Ink, Page, Placed, Stroke, png, svg, width_mm};
use looks::Looks;
use track::{Names, Place, extent};

/// Dots per inch of the picture.
const DOTS: f64 = 200.0;
/// Height of a line of the legend, mm.
const LINE: f64 = 4.6;
/// Width of an entry of the legend, mm.
const ENTRY: f64 = 66.0;

pub fn make(facts: &Facts, request: &Request) -> Result<Vec<PaperFile>, String> {
    let document = document(facts, request);
    let mut files = vec![pdf_file("plan.pdf", &document)?];
    if let Some(page) = document.pages.first() {
        files.push(PaperFile {
            name: "plan.svg".to_owned(),
            bytes: svg(page, &document.title).into_bytes(),
        });
        let bytes = png(page, &document.title, DOTS)
            .map_err(|why| format!("plan.png cannot be made: {why}"))?;
        files.push(PaperFile { name: "plan.png".to_owned(), bytes });
    }
    if let Some(scale) = request.scale {
        files.push(pdf_file("plan-tiles.pdf", &tiles::document(facts, request, scale)?)?);
    }
    Ok(files)
}

/// The plan on one page, with its legend below it or on a page of its own.
pub(super) fn document(facts: &Facts, request: &Request) -> Document {
    let title = titled("Plan", facts, request);
    let Some(extent) = extent(facts.layout) else {
        let mut flow = Flow::new(request.paper, &title, &foot(facts, request));
        flow.paragraph("This layout has no track, so there is nothing to draw.");
        return flow.done();
    };
    let paper = if extent.w >= extent.h { request.paper.turned() } else { request.paper };
    let mut flow = Flow::new(paper, &title, &foot(facts, request));
    flow.aside(
        "A bar across the track is a gap with its number; half a bar is a gap in that rail only. A triangle is a feeder, a \
         ring is special work. The dash of a line is its block.",
    );
    let looks = Looks::of(facts);
    let below = legend_mm(paper.room_mm(), &looks);
    let beside = below < flow.whole_mm() * 0.35;
    let room = flow.room_mm() - 14.0 - if beside { below + 2.0 } else { 0.0 };
    let place = Place::fitted(&extent, paper.room_mm(), room);
    let words = format!(
        "Track plan with {} gaps and {} blocks; the cut list and the feeder list have the same places in words.",
        facts.report.cuts.len(),
        facts.report.blocks.len()
    );
    let mut left_out = 0;
    flow.figure(&words, place.tall_mm() + 1.0, |x, y| {
        let sketch = track::on_paper(facts, &looks, &place, Names::WhereRoom);
        let (names, without) = sketch.names(&place.whole());
        left_out = without;
        let shapes = sketch.shapes.iter().chain(&names);
        shapes.map(|shape| shape.moved(x, y).plain()).collect()
    });
    let scale = place.scale();
    flow.figure(&format!("Scale bar, 1:{scale:.1}"), 9.0, |x, y| scale_bar(scale, x, y + 1.0));
    if left_out > 0 {
        let n = left_out;
        flow.aside(&format!(
            "{n} {} of feeders and special work found no room here; the plan to scale (--scale) has them.",
            if n == 1 { "name" } else { "names" }
        ));
    }
    if !beside {
        flow.turn();
    }
    legend(facts, &looks, &mut flow);
    flow.done()
}

/// The plan alone, for a page of HTML.
pub(super) fn picture(facts: &Facts) -> Option<Page> {
    let extent = extent(facts.layout)?;
    let place = Place::fitted(&extent, 400.0, 300.0);
    let sketch = track::on_paper(facts, &Looks::of(facts), &place, Names::All);
    let (width_mm, height_mm) = (400.0, place.tall_mm());
    let (names, _) = sketch.names(&place.whole());
    let shapes = sketch.shapes.into_iter().chain(names).map(drawing::Shape::plain).collect();
    Some(Page { width_mm, height_mm, shapes })
}

fn columns(room: f64) -> usize {
    (room / ENTRY).floor().max(1.0) as usize
}

fn legend_mm(room: f64, looks: &Looks) -> f64 {
    looks.len().div_ceil(columns(room)) as f64 * LINE + 3.0
}

/// The dash of each block, as many lines as a page holds at a time.
fn legend(facts: &Facts, looks: &Looks, flow: &mut Flow) {
    let columns = columns(flow.paper().room_mm());
    let entries: Vec<(usize, String)> =
        facts.report.blocks.iter().map(|block| block.name.clone()).enumerate().collect();
    for lines in entries.chunks(columns * 30) {
        let names: Vec<&str> = lines.iter().map(|(_, name)| name.as_str()).collect();
        let high = lines.len().div_ceil(columns) as f64 * LINE;
        flow.figure(&format!("Blocks: {}", names.join(", ")), high, |x, y| {
            let mut shapes: Vec<Placed> = Vec::new();
            for (at, (block, name)) in lines.iter().enumerate() {
                let left = x + (at % columns) as f64 * ENTRY;
                let middle = y + (at / columns) as f64 * LINE + LINE / 2.0;
                let ends = ((left, middle), (left + 22.0, middle));
                shapes.push(drawing::line(ends.0, ends.1, looks.stroke(*block)).plain());
                let room = ENTRY - 26.0;
                let wrapped = drawing::wrap(name, Face::Regular, 2.7, room);
                let more = wrapped.len() > 1;
                let line = wrapped.into_iter().next().unwrap_or_default();
                let line = if more { format!("{line}…") } else { line };
                let at = (left + 23.5, middle + 1.0);
                shapes.push(drawing::text(at, 2.7, Face::Regular, &line).plain());
            }
            shapes
        });
    }
}

/// A bar with its length on the layout, and the scale.
pub(super) fn scale_bar(scale: f64, x: f64, y: f64) -> Vec<Placed> {
    // The longest of 1, 2 and 5 times a power of ten that fits into 60 mm.
    let most = 60.0 * scale;
    let power = 10f64.powf(most.log10().floor());
    let long = [5.0, 2.0, 1.0].map(|n| n * power).into_iter().find(|mm| *mm <= most);
    let long = long.unwrap_or(power);
    let wide = long / scale;
    let mut shapes = Vec::new();
    let fine = || Some(Stroke::solid(0.2, Ink::BLACK));
    for part in 0..4_u32 {
        let area = drawing::Area {
            x: x + wide / 4.0 * f64::from(part),
            y: y + 3.2,
            w: wide / 4.0,
            h: 1.4,
        };
        let fill = if part % 2 == 0 { Some(Ink::BLACK) } else { Some(Ink::WHITE) };
        shapes.push(drawing::rect(area, fine(), fill).plain());
    }
    let end = if long >= 1000.0 { format!("{} m", long / 1000.0) } else { format!("{long} mm") };
    let words = [(x, "0".to_owned()), (x + wide - width_mm(&end, Face::Regular, 2.6), end)];
    for (x, words) in words {
        shapes.push(drawing::text((x, y + 2.4), 2.6, Face::Regular, &words).plain());
    }
    let ratio = if (scale - scale.round()).abs() < 1e-9 {
        format!("Scale 1:{scale:.0}")
    } else {
        format!("Scale 1:{scale:.1}")
    };
    shapes.push(drawing::text((x + wide + 4.0, y + 4.6), 2.9, Face::Bold, &ratio).plain());
    shapes
}
