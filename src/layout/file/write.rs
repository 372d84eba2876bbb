//! Writes layouts as text: equal layouts give equal texts.

use serde::Serialize;

use super::format::{VERSION, options};
use super::spans::{Kind, Tokens};
use crate::layout::model::Layout;

/// The text of a layout's file. Equal layouts give equal texts.
pub fn save(layout: &Layout) -> String {
    let mut out = format!("(\n    version: {VERSION},\n");
    let mut field = |name: &str, value: String| {
        let text = laid_out(&value, 4, name.len() + 7);
        out.push_str(&format!("    {name}: {text},\n"));
    };
    field("name", compact(&layout.name));
    if !layout.notes.is_empty() {
        field("notes", compact(&layout.notes));
    }
    field("scale", compact(&layout.scale));
    field("gauge_mm", compact(&layout.gauge_mm));
    field("rail_ohm_per_m", compact(&layout.rail_ohm_per_m));
    if let Some(climate) = &layout.climate {
        field("climate", compact(climate));
    }
    field("next_id", compact(&layout.next_id));
    macro_rules! lists {
        ($($list:ident)*) => {$(
            if !layout.$list.is_empty() {
                out.push_str(concat!("    ", stringify!($list), ": [\n"));
                for entity in layout.$list.values() {
                    out.push_str("        ");
                    out.push_str(&laid_out(&compact(entity), 8, 9));
                    out.push_str(",\n");
                }
                out.push_str("    ],\n");
            }
        )*};
    }
    lists!(joints runs specials cuts bonds labels supplies drivers devices feeds vehicles trains lineups pictures decisions);
    out.push_str(")\n");
    out
}

/// A value on one line. Serialising a layout's values cannot fail: they are plain data, and the text is in memory.
fn compact<T: Serialize>(value: &T) -> String {
    options().to_string(value).unwrap_or_default()
}

/// Width of a line that is not broken further.
const LINE: usize = 100;

/// Sets out a one-line RON value: a bracket that fits on the rest of its line stays on it, any other has each of its
/// items on a line of its own. `indent` is the indentation of the line, `used` what of it is used, comma included.
fn laid_out(compact: &str, indent: usize, used: usize) -> String {
    let pieces: Vec<(Kind, &str)> =
        Tokens::new(compact).map(|token| (token.kind, token.text(compact))).collect();
    let mut out = String::new();
    let mut at = 0;
    lay_out(&pieces, &mut at, indent, used, &mut out);
    out
}

fn lay_out(pieces: &[(Kind, &str)], at: &mut usize, indent: usize, used: usize, out: &mut String) {
    while let Some(&(kind, text)) = pieces.get(*at) {
        match kind {
            Kind::Mark('(' | '[' | '{') => {
                let end = closing(pieces, *at);
                let flat = flat(&pieces[*at..=end]);
                let line = out.len() - out.rfind('\n').map_or(0, |i| i + 1);
                let started = if out.contains('\n') { line } else { used + line };
                if started + flat.chars().count() <= LINE || end == *at + 1 {
                    out.push_str(&flat);
                    *at = end + 1;
                    continue;
                }
                out.push_str(text);
                *at += 1;
                while *at < end {
                    out.push('\n');
                    out.push_str(&" ".repeat(indent + 4));
                    lay_out(pieces, at, indent + 4, used, out);
                    out.push(',');
                    if pieces.get(*at).is_some_and(|p| p.0 == Kind::Mark(',')) {
                        *at += 1;
                    }
                }
                out.push('\n');
                out.push_str(&" ".repeat(indent));
                out.push_str(pieces[end].1);
                *at = end + 1;
            }
            Kind::Mark(')' | ']' | '}' | ',') => return,
            _ => {
                out.push_str(&flat(&pieces[*at..=*at]));
                *at += 1;
            }
        }
    }
}

fn closing(pieces: &[(Kind, &str)], open: usize) -> usize {
    let mut depth = 0usize;
    for (i, (kind, _)) in pieces.iter().enumerate().skip(open) {
        match kind {
            Kind::Mark('(' | '[' | '{') => depth += 1,
            Kind::Mark(')' | ']' | '}') => {
                depth -= 1;
                if depth == 0 {
                    return i;
                }
            }
            _ => {}
        }
    }
    pieces.len() - 1
}

fn flat(pieces: &[(Kind, &str)]) -> String {
    let mut out = String::new();
    for (kind, text) in pieces {
        match (kind, *text) {
            (Kind::Mark(','), _) => out.push_str(", "),
            (Kind::Mark(':'), _) => out.push_str(": "),
            // Zero has no sign that counts: equal layouts give equal texts.
            (Kind::Other, "-0.0") => out.push_str("0.0"),
            (_, text) => out.push_str(text),
        }
    }
    out
}
