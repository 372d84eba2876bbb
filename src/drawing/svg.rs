//! A page as SVG.

use std::fmt::Write;

use super::face::{FAMILY, Face, width_mm};
use super::{Ink, Page, Placed, Shape, Step, Stroke, Text};

/// A page as an SVG file in millimetres, with a title.
pub fn svg(page: &Page, title: &str) -> String {
    let (w, h) = (number(page.width_mm), number(page.height_mm));
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    // Writing to a String cannot fail.
    let _ = writeln!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\" \
         xml:lang=\"en\">\n<title>{}</title>\n<rect width=\"{w}\" height=\"{h}\" fill=\"#ffffff\"/>",
        escaped(title)
    );
    shapes(&mut out, &page.shapes, &mut 0);
    out.push_str("</svg>\n");
    out
}

/// The shapes of a page as an `svg` element inside a page of HTML, as wide as there is room. `id` is its identity there.
pub fn svg_fragment(page: &Page, title: &str, id: &str) -> String {
    let (w, h) = (number(page.width_mm), number(page.height_mm));
    let (title, id) = (escaped(title), escaped(id));
    let mut out =
        format!("<svg id=\"{id}\" viewBox=\"0 0 {w} {h}\" role=\"img\" aria-label=\"{title}\">\n");
    shapes(&mut out, &page.shapes, &mut 0);
    out.push_str("</svg>\n");
    out
}

/// A text as XML and HTML have it, in content and in attributes. Characters that XML has no place for are left out.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' | '\r' => out.push(' '),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => {}
            c => out.push(c),
        }
    }
    out
}

fn shapes(out: &mut String, placed: &[Placed], windows: &mut usize) {
    for Placed { shape, .. } in placed {
        match shape {
            Shape::Path { steps, stroke, fill } => path(out, steps, stroke.as_ref(), *fill),
            Shape::Text(text) => words(out, text),
            Shape::Window { window, shapes: inside } => {
                *windows += 1;
                let id = format!("w{windows}");
                let [x, y, w, h] = [window.x, window.y, window.w, window.h].map(number);
                let _ = writeln!(
                    out,
                    "<clipPath id=\"{id}\"><rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\"/></clipPath>\n\
                     <g clip-path=\"url(#{id})\">"
                );
                shapes(out, inside, windows);
                out.push_str("</g>\n");
            }
        }
    }
}

fn path(out: &mut String, steps: &[Step], stroke: Option<&Stroke>, fill: Option<Ink>) {
    let mut d = String::new();
    for step in steps {
        let _ = match *step {
            Step::Move(x, y) => write!(d, "M{} {}", number(x), number(y)),
            Step::Line(x, y) => write!(d, "L{} {}", number(x), number(y)),
            Step::Close => write!(d, "Z"),
        };
    }
    let fill = fill.map_or_else(|| "none".to_owned(), colour);
    let _ = write!(out, "<path d=\"{d}\" fill=\"{fill}\"");
    if let Some(Stroke { width_mm, ink, dash }) = stroke {
        let _ = write!(out, " stroke=\"{}\" stroke-width=\"{}\"", colour(*ink), number(*width_mm));
        if !dash.is_empty() {
            let dash: Vec<String> = dash.iter().map(|mm| number(*mm)).collect();
            let _ = write!(out, " stroke-dasharray=\"{}\"", dash.join(" "));
        }
    }
    out.push_str("/>\n");
}

/// A text as wide as it was measured, whatever face a reader has.
fn words(out: &mut String, text: &Text) {
    if text.text.is_empty() {
        return;
    }
    let weight = match text.face {
        Face::Regular => "400",
        Face::Bold => "700",
    };
    let [x, y, size] = [text.x_mm, text.y_mm, text.size_mm].map(number);
    let wide = number(width_mm(&text.text, text.face, text.size_mm));
    let _ = writeln!(
        out,
        "<text x=\"{x}\" y=\"{y}\" font-family=\"'{FAMILY}', sans-serif\" font-size=\"{size}\" font-weight=\"{weight}\" \
         fill=\"{}\" textLength=\"{wide}\" lengthAdjust=\"spacingAndGlyphs\" xml:space=\"preserve\">{}</text>",
        colour(text.ink),
        escaped(&text.text)
    );
}

fn colour(Ink(r, g, b): Ink) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// A length to thousandths of a mm, without needless digits, and never −0.
fn number(mm: f64) -> String {
    let rounded = (mm * 1000.0).round() / 1000.0;
    if rounded == 0.0 || !rounded.is_finite() { "0".to_owned() } else { format!("{rounded}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn papers_svg_escapes_what_xml_obeys() {
        assert_eq!(escaped("<b a=\"1\">&'\u{1}\n"), "&lt;b a=&quot;1&quot;&gt;&amp;&#39; ");
        assert_eq!(number(-0.0001), "0");
        assert_eq!(number(12.3456), "12.346");
    }
}
