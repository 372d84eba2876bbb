//! Texts broken into lines that fit a width.

use super::face::{Face, printable, width_mm};
use crate::units::bound;

/// What a sum of widths may be beyond the room, mm: their rounding.
const HAIR: f64 = 1e-6;

/// The lines of a text, each at most `width` mm wide. A word that is wider is broken.
pub fn wrap(text: &str, face: Face, size_mm: f64, width: f64) -> Vec<String> {
    let text = bound(&printable(text));
    let space = width_mm(" ", face, size_mm);
    let mut lines: Vec<String> = Vec::new();
    let (mut line, mut reached) = (String::new(), 0.0);
    for word in text.split(' ') {
        for piece in pieces(word, face, size_mm, width) {
            let wide = width_mm(&piece, face, size_mm);
            let needed = if line.is_empty() { wide } else { reached + space + wide };
            if needed > width + HAIR && !line.is_empty() {
                lines.push(std::mem::take(&mut line));
                reached = 0.0;
            }
            if !line.is_empty() {
                line.push(' ');
                reached += space;
            }
            line.push_str(&piece);
            reached += wide;
        }
    }
    lines.push(line);
    lines
}

/// A word, in pieces that are not wider than `width`.
fn pieces(word: &str, face: Face, size_mm: f64, width: f64) -> Vec<String> {
    if width_mm(word, face, size_mm) <= width + HAIR {
        return vec![word.to_owned()];
    }
    let mut out: Vec<String> = Vec::new();
    let (mut piece, mut reached) = (String::new(), 0.0);
    for c in word.chars() {
        let wide = width_mm(c.encode_utf8(&mut [0; 4]), face, size_mm);
        if reached + wide > width && !piece.is_empty() {
            out.push(std::mem::take(&mut piece));
            reached = 0.0;
        }
        piece.push(c);
        reached += wide;
    }
    out.push(piece);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn papers_lines_fit_and_keep_all_words() {
        let text = "The wheels join both rails, and 8.1 A flow for 40 % of the time. Unbreakablyverylongword";
        for width in [12.0, 25.0, 60.0] {
            let lines = wrap(text, Face::Regular, 3.0, width);
            for line in &lines {
                assert!(width_mm(line, Face::Regular, 3.0) <= width + 1e-6, "{line}");
            }
            let whole: String = lines.concat().split_whitespace().collect();
            let same: String = text.split_whitespace().collect();
            assert_eq!(whole, same);
        }
        assert!(wrap(text, Face::Regular, 3.0, 60.0).len() > 1);
    }

    #[test]
    fn papers_lines_keep_a_number_with_its_unit() {
        assert_eq!(bound("8.1 A  flow,  40 %"), "8.1\u{a0}A flow, 40\u{a0}%");
        assert_eq!(wrap("", Face::Regular, 3.0, 10.0), [""]);
    }
}
