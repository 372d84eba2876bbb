//! The faces of the papers: what a text measures, and which characters they have.

use std::borrow::Cow;
use std::cell::RefCell;
use std::collections::HashMap;
use std::sync::OnceLock;

use rustybuzz::{Direction, UnicodeBuffer};

use crate::layout::shown;

/// A face. Both are in the program, so that papers look the same everywhere.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Face {
    /// For reading.
    Regular,
    /// For headings and what stands out.
    Bold,
}

/// Name of the family in the files of the faces.
pub(super) const FAMILY: &str = "Clear Sans";

/// A glyph of a text that is set: its number in the face, its advance and offset as parts of the size, and the bytes of the
/// text that it stands for.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Glyph {
    pub id: u32,
    pub advance: f32,
    pub offset: (f32, f32),
    pub bytes: std::ops::Range<usize>,
}

impl Face {
    /// Both faces.
    pub(super) const ALL: [Face; 2] = [Face::Regular, Face::Bold];

    /// Its file.
    pub(super) fn file(self) -> &'static [u8] {
        match self {
            Face::Regular => include_bytes!("../../assets/fonts/ClearSans-Regular.ttf"),
            Face::Bold => include_bytes!("../../assets/fonts/ClearSans-Bold.ttf"),
        }
    }

    fn parsed(self) -> Option<&'static rustybuzz::Face<'static>> {
        static REGULAR: OnceLock<Option<rustybuzz::Face<'static>>> = OnceLock::new();
        static BOLD: OnceLock<Option<rustybuzz::Face<'static>>> = OnceLock::new();
        let place = match self {
            Face::Regular => &REGULAR,
            Face::Bold => &BOLD,
        };
        place.get_or_init(|| rustybuzz::Face::from_slice(self.file(), 0)).as_ref()
    }

    /// True if both faces have a glyph for a character.
    fn has(c: char) -> bool {
        let has = |face: Face| face.parsed().is_some_and(|face| face.glyph_index(c).is_some());
        Face::ALL.into_iter().all(has)
    }

    /// A text, set.
    pub(super) fn set(self, text: &str) -> Vec<Glyph> {
        let Some(face) = self.parsed() else { return Vec::new() };
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.guess_segment_properties();
        buffer.set_direction(Direction::LeftToRight);
        let set = rustybuzz::shape(face, &[], buffer);
        let em = face.units_per_em() as f32;
        let infos = set.glyph_infos();
        let end = |at: usize| {
            let own = infos[at].cluster;
            let next = infos[at..].iter().find(|info| info.cluster > own);
            next.map_or(text.len(), |info| info.cluster as usize)
        };
        let glyphs = set.glyph_positions().iter().enumerate().map(|(at, place)| Glyph {
            id: infos[at].glyph_id,
            advance: place.x_advance as f32 / em,
            offset: (place.x_offset as f32 / em, place.y_offset as f32 / em),
            bytes: infos[at].cluster as usize..end(at),
        });
        glyphs.collect()
    }
}

/// Most texts whose widths a thread remembers.
const MOST_WIDTHS: usize = 20_000;

thread_local! {
    /// Widths of texts as parts of the size: lists have the same words over and over.
    static WIDTHS: RefCell<[HashMap<String, f64>; 2]> = RefCell::default();
}

/// Width of a text, mm.
pub fn width_mm(text: &str, face: Face, size_mm: f64) -> f64 {
    let part = WIDTHS.with_borrow_mut(|widths| {
        let known = &mut widths[face as usize];
        if let Some(part) = known.get(text) {
            return *part;
        }
        let part = face.set(text).iter().map(|glyph| f64::from(glyph.advance)).sum();
        if known.len() >= MOST_WIDTHS {
            known.clear();
        }
        known.insert(text.to_owned(), part);
        part
    });
    part * size_mm
}

/// A text for a page: what a reader would obey is escaped as [`shown`] does it, and a character that a face lacks is written
/// as its number, such as `{U+65E5}`.
pub fn printable(text: &str) -> Cow<'_, str> {
    let text = shown(text);
    if text.chars().all(Face::has) {
        return text;
    }
    let mut out = String::with_capacity(text.len() * 2);
    for c in text.chars() {
        if Face::has(c) {
            out.push(c);
        } else {
            out.push_str(&format!("{{U+{:04X}}}", u32::from(c)));
        }
    }
    Cow::Owned(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn papers_faces_have_what_the_sheets_write() {
        for c in "Az09 Ωµ×²°–—·…“”±≈≤≥−\u{a0}|".chars() {
            assert!(Face::has(c), "no {c:?}");
        }
    }

    #[test]
    fn papers_texts_are_as_wide_as_their_letters() {
        let one = width_mm("n", Face::Regular, 10.0);
        assert!(one > 3.0 && one < 8.0, "{one}");
        approx::assert_relative_eq!(
            width_mm("nnnn", Face::Regular, 10.0),
            4.0 * one,
            max_relative = 1e-6
        );
        assert!(width_mm("n", Face::Bold, 10.0) > one);
    }

    #[test]
    fn papers_keep_what_they_cannot_write_as_numbers() {
        assert_eq!(printable("Größe 3 Ω"), "Größe 3 Ω");
        assert_eq!(printable("日本"), "{U+65E5}{U+672C}");
        assert_eq!(printable("a\u{1b}b\n"), "a\\u{1b}b\\n");
    }
}
