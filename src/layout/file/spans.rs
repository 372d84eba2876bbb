//! Where in a file a value stands: a tolerant scanner of the RON notation.
//!
//! It never fails and never recurses, whatever the text; for text that is not RON its answers are only best guesses.
//! Lines and columns count from 1, columns in characters.

use std::collections::{BTreeMap, BTreeSet};

/// What kind of token it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// A name: a field, a variant, `true`, `None`.
    Word,
    /// A string, raw string, byte string or character.
    Quoted,
    /// A number, or anything else that is neither of the others.
    Other,
    /// One character of punctuation.
    Mark(char),
}

/// One token of the text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Token {
    pub kind: Kind,
    /// Byte at which it starts.
    pub start: usize,
    /// Byte after its last.
    pub end: usize,
    pub line: usize,
    pub column: usize,
}

impl Token {
    pub fn text<'a>(&self, text: &'a str) -> &'a str {
        text.get(self.start..self.end).unwrap_or("")
    }

    pub fn is(&self, mark: char) -> bool {
        self.kind == Kind::Mark(mark)
    }

    fn opens(&self) -> bool {
        matches!(self.kind, Kind::Mark('(' | '[' | '{'))
    }

    fn closes(&self) -> bool {
        matches!(self.kind, Kind::Mark(')' | ']' | '}'))
    }
}

/// The tokens of a text, without white space and comments.
#[derive(Debug, Clone)]
pub(super) struct Tokens<'a> {
    text: &'a str,
    at: usize,
    line: usize,
    column: usize,
    /// Whether a comment was passed.
    pub comments: bool,
    /// Line and column at which a block comment starts that never ends.
    pub open_comment: Option<(usize, usize)>,
}

impl<'a> Tokens<'a> {
    pub fn new(text: &'a str) -> Self {
        Self { text, at: 0, line: 1, column: 1, comments: false, open_comment: None }
    }

    fn rest(&self) -> &'a str {
        self.text.get(self.at..).unwrap_or("")
    }

    fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    fn step(&mut self) {
        if let Some(c) = self.peek() {
            self.at += c.len_utf8();
            self.column += 1;
            if c == '\n' {
                self.line += 1;
                self.column = 1;
            }
        }
    }

    fn steps(&mut self, count: usize) {
        for _ in 0..count {
            self.step();
        }
    }

    fn skip_space(&mut self) {
        loop {
            let rest = self.rest();
            if rest.starts_with("//") {
                self.comments = true;
                while self.peek().is_some_and(|c| c != '\n') {
                    self.step();
                }
            } else if rest.starts_with("/*") {
                self.comments = true;
                let start = (self.line, self.column);
                self.steps(2);
                let mut depth = 1usize;
                while depth > 0 && self.peek().is_some() {
                    if self.rest().starts_with("/*") {
                        depth += 1;
                        self.steps(2);
                    } else if self.rest().starts_with("*/") {
                        depth -= 1;
                        self.steps(2);
                    } else {
                        self.step();
                    }
                }
                if depth > 0 {
                    self.open_comment = Some(start);
                }
            } else if rest.starts_with(|c: char| {
                c.is_whitespace() || matches!(c, '\u{200e}' | '\u{200f}' | '\u{feff}')
            }) {
                self.step();
            } else {
                return;
            }
        }
    }

    /// If a quoted text starts here: steps over it.
    fn quoted(&mut self) -> bool {
        let rest = self.rest();
        let prefix = ["br", "rb", "r", "b", ""].into_iter().find(|prefix| {
            rest.strip_prefix(prefix).is_some_and(|after| {
                let after =
                    if prefix.contains('r') { after.trim_start_matches('#') } else { after };
                after.starts_with('"') || (!prefix.contains('r') && after.starts_with('\''))
            })
        });
        let Some(prefix) = prefix else { return false };
        self.steps(prefix.len());
        if prefix.contains('r') {
            let hashes = self.rest().chars().take_while(|&c| c == '#').count();
            self.steps(hashes + 1);
            let close = format!("\"{}", "#".repeat(hashes));
            while self.peek().is_some() && !self.rest().starts_with(&close) {
                self.step();
            }
            self.steps(close.len());
        } else {
            let quote = self.peek();
            self.step();
            while self.peek().is_some() && self.peek() != quote {
                if self.peek() == Some('\\') {
                    self.step();
                }
                self.step();
            }
            self.step();
        }
        true
    }
}

impl Iterator for Tokens<'_> {
    type Item = Token;

    fn next(&mut self) -> Option<Token> {
        self.skip_space();
        let first = self.peek()?;
        let (start, line, column) = (self.at, self.line, self.column);
        let kind = if self.quoted() {
            Kind::Quoted
        } else if first.is_alphabetic() || first == '_' {
            while self.peek().is_some_and(|c| c.is_alphanumeric() || c == '_') {
                self.step();
            }
            Kind::Word
        } else if first.is_alphanumeric() || matches!(first, '.' | '+' | '-') {
            while self
                .peek()
                .is_some_and(|c| c.is_alphanumeric() || matches!(c, '.' | '+' | '-' | '_'))
            {
                self.step();
            }
            Kind::Other
        } else {
            self.step();
            Kind::Mark(first)
        };
        Some(Token { kind, start, end: self.at, line, column })
    }
}

/// Whether the text has comments.
pub(super) fn has_comments(text: &str) -> bool {
    let mut tokens = Tokens::new(text);
    // A comment at the very end is passed by the call that finds no more tokens.
    while tokens.next().is_some() {}
    tokens.comments
}

/// The first bracket that is nested deeper than `most`, if any.
pub(super) fn too_deep(text: &str, most: usize) -> Option<Token> {
    let mut depth = 0usize;
    Tokens::new(text).find(|token| {
        if token.opens() {
            depth += 1;
        } else if token.closes() {
            depth = depth.saturating_sub(1);
        }
        depth > most
    })
}

/// The last bracket before the byte `before` that is opened and not closed by then.
pub(super) fn open_bracket(text: &str, before: usize) -> Option<Token> {
    let mut open: Vec<Token> = Vec::new();
    for token in Tokens::new(text).take_while(|token| token.start < before) {
        if token.opens() {
            open.push(token);
        } else if token.closes() {
            open.pop();
        }
    }
    open.pop()
}

struct Frame {
    /// Path of the value that the bracket holds.
    base: String,
    /// Items so far.
    index: usize,
    round: bool,
    /// `Some(…)`, which is as good as what is in it.
    some: bool,
}

/// The tokens at which the values of the wanted paths start.
///
/// A path names fields by `.name` and items of lists and tuples by `[number]`, from the outermost value, such as
/// `drivers[2].trip.amps.from`. Variant names do not count: the fields of `drive: PwmBridge(clock: …)` are at
/// `drive.clock`. The outermost value has the empty path.
pub(super) fn places(text: &str, wanted: &BTreeSet<String>) -> BTreeMap<String, Token> {
    let mut found = BTreeMap::new();
    walk(text, |path, token| {
        // Behind the outermost value nothing is wanted, and a text that is no layout can be long.
        if path.is_empty() && found.contains_key(path) {
            return false;
        }
        if wanted.contains(path) {
            found.insert(path.to_owned(), token);
        }
        found.len() < wanted.len()
    });
    found
}

/// The path of the value that starts at a byte, or else of the last one that starts before it.
pub(super) fn path_at(text: &str, byte: usize) -> String {
    let mut last = String::new();
    walk(text, |path, token| {
        if token.start <= byte {
            path.clone_into(&mut last);
        }
        token.start < byte
    });
    last
}

/// Calls `note` with the path and the first token of every value, until it returns false.
fn walk(text: &str, mut note: impl FnMut(&str, Token) -> bool) {
    let mut tokens = Tokens::new(text).peekable();
    let mut frames: Vec<Frame> = Vec::new();
    // An attribute such as #![enable(…)] is no value.
    while tokens.peek().is_some_and(|token| token.is('#')) {
        while tokens.next().is_some_and(|token| !token.is(']')) {}
    }
    while let Some(token) = tokens.next() {
        if token.closes() {
            frames.pop();
            continue;
        }
        if token.is(',') {
            if let Some(frame) = frames.last_mut() {
                frame.index += 1;
            }
            continue;
        }
        let mut start = token;
        let path = match frames.last() {
            None => String::new(),
            Some(frame) if frame.some => frame.base.clone(),
            Some(frame)
                if frame.round
                    && token.kind == Kind::Word
                    && tokens.peek().is_some_and(|next| next.is(':')) =>
            {
                tokens.next();
                let Some(value) = tokens.next() else { break };
                start = value;
                let dot = if frame.base.is_empty() { "" } else { "." };
                format!("{}{dot}{}", frame.base, token.text(text))
            }
            Some(frame) => format!("{}[{}]", frame.base, frame.index),
        };
        let some = start.text(text) == "Some" && tokens.peek().is_some_and(|next| next.is('('));
        if !some && !note(&path, start) {
            return;
        }
        let mut open = start;
        if start.kind == Kind::Word
            && let Some(next) = tokens.peek().filter(|next| next.is('('))
        {
            open = *next;
            tokens.next();
        }
        if open.opens() {
            frames.push(Frame { base: path, index: 0, round: open.is('('), some });
        } else if start.closes() {
            frames.pop();
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn place(text: &str, path: &str) -> Option<(usize, usize)> {
        let found = places(text, &BTreeSet::from([path.to_owned()]));
        found.get(path).map(|t| (t.line, t.column))
    }

    #[test]
    fn paths_lead_to_lines_and_columns_in_characters() {
        let text = "#![enable(implicit_some)]\n(\n  name: \"Öß (a: 1\", /* c /* d */ ( */ runs: [\n    (id: \"r1\"), // (\n    \
                    (id: r#\"r\"2\"#, shape: Cubic(c1: (1, -2), c2: (3, 4)), size: Awg(18), o: Some(7.5)),\n  ],\n)";
        assert_eq!(place(text, ""), Some((2, 1)));
        assert_eq!(place(text, "name"), Some((3, 9)));
        assert_eq!(place(text, "runs"), Some((3, 45)));
        assert_eq!(place(text, "runs[0]"), Some((4, 5)));
        assert_eq!(place(text, "runs[0].id"), Some((4, 10)));
        assert_eq!(place(text, "runs[1].id"), Some((5, 10)));
        assert_eq!(place(text, "runs[1].shape"), Some((5, 27)));
        assert_eq!(place(text, "runs[1].shape.c1[1]"), Some((5, 41)));
        assert_eq!(place(text, "runs[1].size[0]"), Some((5, 69)));
        assert_eq!(place(text, "runs[1].o"), Some((5, 82)));
        assert_eq!(place(text, "runs[2]"), None);
    }

    #[test]
    fn comments_are_told_from_quoted_slashes() {
        assert!(!has_comments(r##"(name: "a // b /* c", notes: r#"" // "#)"##));
        assert!(has_comments("(name: \"a\") // x"));
        assert!(has_comments("(/* x */)"));
        assert!(!has_comments("('\"', \"//\")"));
    }

    #[test]
    fn depth_is_counted_outside_strings_and_comments() {
        assert!(too_deep("((\"((((\", /* (((( */ '('))", 2).is_none());
        assert_eq!(too_deep("((\n (", 2).map(|t| (t.line, t.column)), Some((2, 2)));
    }

    #[test]
    fn the_open_bracket_is_the_innermost_one() {
        let text = "(a: [1, (2)";
        assert_eq!(open_bracket(text, text.len()).unwrap().start, 4);
        assert!(open_bracket("(1)", 3).is_none());
    }
}
