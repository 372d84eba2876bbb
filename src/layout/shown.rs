//! Texts of the user as they are displayed: on one line, with nothing in them that a terminal or a reader obeys.

use std::borrow::Cow;
use std::fmt::Write;

/// A name or another text of the user for display: control, escape and bidi characters are written as escapes, such as
/// `\n` or `\u{1b}`.
///
/// A layout keeps its texts as they are. Whatever goes to a terminal or into a line of a report passes here, so that no
/// name can move the cursor, turn the reading direction, or begin a line that looks like a finding.
pub fn shown(text: &str) -> Cow<'_, str> {
    if !text.contains(is_hidden) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        match c {
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '\t' => out.push_str("\\t"),
            c if is_hidden(c) => out.extend(c.escape_unicode()),
            c => out.push(c),
        }
    }
    Cow::Owned(out)
}

/// The text of a JSON document for display: the characters that [`shown`] escapes, as JSON escapes.
///
/// They can be nowhere but in strings of a document, apart from the line breaks between its values, which stay.
pub fn shown_json(document: &str) -> Cow<'_, str> {
    let is_escaped = |c: char| c != '\n' && is_hidden(c);
    if !document.contains(is_escaped) {
        return Cow::Borrowed(document);
    }
    let mut out = String::with_capacity(document.len() + 16);
    for c in document.chars() {
        if is_escaped(c) {
            for unit in c.encode_utf16(&mut [0; 2]) {
                // Writing to a String cannot fail.
                let _ = write!(out, "\\u{unit:04x}");
            }
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// True for characters that are no mark on the page but a command: control characters, line and paragraph separators,
/// marks of the reading direction, and invisible ones that hide what a text says (Unicode 16: general categories Cc, Zl
/// and Zp; properties Bidi_Control and, but for the joiners and variation selectors that scripts need,
/// Default_Ignorable_Code_Point).
fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}' | '\u{1160}'
            | '\u{17b4}' | '\u{17b5}' | '\u{180e}' | '\u{3164}' | '\u{ffa0}'
            | '\u{200b}' | '\u{200e}' | '\u{200f}'
            | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}'
            | '\u{feff}' | '\u{fff0}'..='\u{fffb}'
            | '\u{1bca0}'..='\u{1bca3}' | '\u{1d173}'..='\u{1d17a}'
            | '\u{e0000}'..='\u{e00ff}' | '\u{e01f0}'..='\u{e0fff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_terminal_obeys_is_written_out() {
        for (text, expected) in [
            ("Mill", "Mill"),
            ("Größe Ω – 0.5 µs “Öß” 日本 👩‍🚒", "Größe Ω – 0.5 µs “Öß” 日本 👩‍🚒"),
            ("\u{1b}[31mred\u{1b}[0m", "\\u{1b}[31mred\\u{1b}[0m"),
            ("\u{9b}31m", "\\u{9b}31m"),
            ("a\r\nSHORT  b\tc\0\u{8}\u{7f}", "a\\r\\nSHORT  b\\tc\\u{0}\\u{8}\\u{7f}"),
            ("\u{202e}RTL\u{202c}\u{2066}\u{200f}", "\\u{202e}RTL\\u{202c}\\u{2066}\\u{200f}"),
            ("\u{3164}\u{ffa0}葛\u{e0100}", "\\u{3164}\\u{ffa0}葛\u{e0100}"),
            ("a\u{2028}b\u{2029}c\u{85}d\u{200b}e", "a\\u{2028}b\\u{2029}c\\u{85}d\\u{200b}e"),
        ] {
            assert_eq!(shown(text), expected);
            assert_eq!(shown(text).lines().count(), 1);
        }
    }

    #[test]
    fn a_json_document_keeps_its_meaning() {
        let value = serde_json::json!({ "name": "\u{1b}[2J\u{9b}31m\u{202e}a\u{e0041}\u{7f}\n" });
        let document = format!("{value:#}\n");
        let shown = shown_json(&document);
        assert!(!shown.chars().any(|c| c != '\n' && is_hidden(c)), "{shown}");
        assert_eq!(serde_json::from_str::<serde_json::Value>(&shown).ok(), Some(value));
        assert_eq!(shown.lines().count(), document.lines().count());
    }
}
