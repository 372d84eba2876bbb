//! Parse errors, placed at their token and explained.

use ron::error::{Error, Position, SpannedError};

use super::error::LoadError;
use super::spans;
use super::spans::{Kind, Token, Tokens};
use crate::layout::model::TripPoints;

/// Explains why a text cannot be read as a layout. `text` must be the text that the error is about.
pub(super) fn explain(text: &str, error: &SpannedError) -> LoadError {
    let at = Place::of(text, error);
    unclosed(&at, &error.code)
        .or_else(|| in_fields(&at, &error.code))
        .or_else(|| in_values(&at, &error.code))
        .unwrap_or_else(|| in_marks(&at, &error.code))
}

/// Where a parse error is: its text, and the tokens around it.
struct Place<'a> {
    text: &'a str,
    /// Where the parser stopped.
    position: Position,
    /// The same, as a byte of the text.
    end: usize,
    /// The token there. Some faults are seen before their token is passed, some after its first letter or its last.
    ahead: Option<Token>,
    /// The token that was passed last.
    passed: Option<Token>,
}

impl<'a> Place<'a> {
    fn of(text: &'a str, error: &SpannedError) -> Self {
        let position = error.span.end;
        let end = byte_at(text, position);
        let (ahead, passed) = (token_at(text, end), token_at(text, end.saturating_sub(1)));
        Self { text, position, end, ahead, passed }
    }

    /// A fault at a token.
    fn told(
        &self,
        token: Option<Token>,
        says: String,
        expected: String,
        hint: String,
    ) -> LoadError {
        let place =
            token.map_or_else(String::new, |t| in_words(&spans::path_at(self.text, t.start)));
        let (line, column) = token
            .map_or((self.position.line, self.position.col), |token| (token.line, token.column));
        LoadError { line, column, says, expected, hint, place }
    }

    /// A fault at the name of a field, which lies in the value around it.
    fn around(
        &self,
        token: Option<Token>,
        says: String,
        expected: String,
        hint: String,
    ) -> LoadError {
        let outer = token.and_then(|token| value_around(self.text, token.start));
        let place =
            outer.map_or_else(String::new, |t| in_words(&spans::path_at(self.text, t.start)));
        LoadError { place, ..self.told(token, says, expected, hint) }
    }

    fn quote(&self, token: Option<Token>) -> String {
        token.map_or_else(|| "the end".into(), |t| quoted(t, self.text))
    }

    /// A token that is not what must stand there.
    fn wrong(&self, token: Option<Token>, expected: &str, hint: &str) -> LoadError {
        self.told(token, format!("found {}", self.quote(token)), expected.into(), hint.into())
    }
}

/// Comments, strings and brackets that are never closed.
fn unclosed(at: &Place, code: &Error) -> Option<LoadError> {
    if let Some((line, column)) = open_comment(at.text) {
        return Some(LoadError {
            line,
            column,
            says: "the comment that starts here never ends".into(),
            expected: "*/ at its end".into(),
            hint: "comments in comments need an end each".into(),
            place: String::new(),
        });
    }
    if let Error::ExpectedStringEnd = code {
        let hint = "a quote within a string is written \\\"".into();
        return Some(at.told(
            at.passed,
            "the string that starts here never ends".into(),
            "a closing quote".into(),
            hint,
        ));
    }
    if at.ahead.is_none()
        && !matches!(code, Error::TrailingCharacters)
        && let Some(open) = spans::open_bracket(at.text, at.text.len())
    {
        let says =
            format!("the bracket {} that is opened here is never closed", open.text(at.text));
        let expected = format!("{} before the end of the file", closer(open.text(at.text)));
        return Some(at.told(
            Some(open),
            says,
            expected,
            "close it, or add what is missing".into(),
        ));
    }
    if let Some(token) = at.ahead.filter(|token| matches!(token.kind, Kind::Mark(')' | ']' | '}')))
        && let Some(open) = spans::open_bracket(at.text, token.start)
        && closer(open.text(at.text)) != token.text(at.text)
    {
        let says = format!(
            "found {}, but the bracket {} opened at line {}, column {} is not closed yet",
            token.text(at.text),
            open.text(at.text),
            open.line,
            open.column
        );
        let expected = closer(open.text(at.text)).to_owned();
        return Some(at.told(Some(token), says, expected, "close the inner bracket first".into()));
    }
    None
}

/// Names of fields and of variants, and what is missing or too many within brackets.
fn in_fields(at: &Place, code: &Error) -> Option<LoadError> {
    Some(match code {
        Error::NoSuchStructField { expected, found, .. } => at.around(
            word_before(at.text, found, at.end).or(at.passed),
            format!("there is no field `{found}` here"),
            one_of(expected),
            nearest(found, expected),
        ),
        Error::NoSuchEnumVariant { expected, found, .. } => at.told(
            word_before(at.text, found, at.end).or(at.passed),
            format!("`{found}` is not among the words that can stand here"),
            one_of(expected),
            nearest(found, expected),
        ),
        Error::DuplicateStructField { field, .. } => at.around(
            word_before(at.text, field, at.end).or(at.passed),
            format!("the field `{field}` is given twice"),
            "each field once".into(),
            "take one of the two away".into(),
        ),
        Error::MissingStructField { field, .. } => at.told(
            value_around(at.text, at.end),
            format!("the field `{field}` is missing"),
            format!("`{field}: …` within these brackets"),
            "every field without a default must be given".into(),
        ),
        Error::ExpectedDifferentLength { expected, found } => at.told(
            value_around(at.text, at.end),
            match found {
                1 => "there is 1 item in these brackets".into(),
                found => format!("there are {found} items in these brackets"),
            },
            expected.replace("a tuple of size", "a number of items, namely"),
            "a place on the plan is (x, y)".into(),
        ),
        _ => return None,
    })
}

/// Values of the wrong kind.
fn in_values(at: &Place, code: &Error) -> Option<LoadError> {
    Some(match code {
        Error::ExpectedFloat | Error::FloatUnderscore | Error::UnderscoreAtBeginning => at.wrong(
            at.passed,
            "a number",
            "numbers are written like 12, 0.35 or 1e-3, without a unit",
        ),
        Error::ExpectedInteger | Error::InvalidIntegerDigit { .. } => {
            at.wrong(at.passed, "a whole number", "write it in digits only, without quotes")
        }
        Error::IntegerOutOfBounds => {
            at.wrong(at.passed, "a whole number from 0 to 4294967295", "choose another number")
        }
        Error::ExpectedBoolean => at.wrong(at.passed, "true or false", "write it without quotes"),
        Error::ExpectedString => {
            at.wrong(at.passed, "a text in double quotes", "put double quotes around it")
        }
        Error::InvalidEscape(why) => at.told(
            at.passed,
            format!("a backslash in this string cannot be understood ({why})"),
            "\\\\, \\\", \\n, \\t or \\u{…}".into(),
            "a backslash itself is written \\\\".into(),
        ),
        Error::ExpectedArray => {
            at.wrong(at.passed, "a list in square brackets", "even one item alone is a list: [ … ]")
        }
        Error::InvalidValueForType { expected, found } => {
            at.told(at.passed, format!("found {found}"), expected.clone(), String::new())
        }
        Error::Message(message) if message.starts_with("expected an id") => {
            let (expected, found) =
                message.split_once(", found ").unwrap_or((message, "another text"));
            at.told(
                at.passed,
                format!("found {found}"),
                expected.trim_start_matches("expected ").into(),
                "the letter says what kind of thing it is".into(),
            )
        }
        Error::Message(message) if message.starts_with("a trip has") => at.told(
            value_around(at.text, at.end),
            message.clone(),
            format!("from 1 to {} points", TripPoints::MOST),
            "leave out points that lie nearly on a line between their neighbours".into(),
        ),
        Error::Message(message) => at.told(
            value_around(at.text, at.end),
            message.clone(),
            "(value: 0.35, source: Assumed, from: 0.2, to: 0.6), or no range".into(),
            "write source: Assumed, or take `from` and `to` away".into(),
        ),
        _ => return None,
    })
}

/// Commas, colons, brackets, and all else.
fn in_marks(at: &Place, code: &Error) -> LoadError {
    match code {
        Error::ExpectedComma => match at.ahead {
            Some(token) if token.start < at.end => {
                at.wrong(Some(token), "a whole number", "write it without a decimal point")
            }
            token => at.around(
                token,
                format!("found {}", at.quote(token)),
                "a comma, or the closing bracket".into(),
                "a comma is missing before this".into(),
            ),
        },
        Error::ExpectedArrayEnd => at.wrong(at.ahead, "] or a comma", "close the list"),
        Error::ExpectedStructLike | Error::ExpectedNamedStructLike(_) => at.wrong(
            at.ahead,
            "an opening round bracket",
            "its fields stand in round brackets: (id: …)",
        ),
        Error::ExpectedStructLikeEnd | Error::ExpectedOptionEnd => at.wrong(
            at.ahead,
            "a comma, or the closing round bracket",
            "a comma or bracket is missing before this",
        ),
        Error::ExpectedIdentifier => at.wrong(
            at.ahead,
            "the name of a field",
            "every value here has a name before it: name: value",
        ),
        Error::ExpectedMapColon => at.wrong(at.ahead, "a colon", "a field is written name: value"),
        Error::TrailingCharacters => at.told(
            at.ahead,
            format!("found {} after the end of the layout", at.quote(at.ahead)),
            "nothing more".into(),
            "a closing bracket before here is one too many, or this belongs further up".into(),
        ),
        other => at.told(
            at.ahead.or(at.passed),
            format!("the notation cannot be understood: {other}"),
            "a layout file".into(),
            String::new(),
        ),
    }
}

/// The byte at a line and column.
fn byte_at(text: &str, position: Position) -> usize {
    let mut start = 0;
    for _ in 1..position.line {
        match text[start..].find('\n') {
            Some(i) => start += i + 1,
            None => return text.len(),
        }
    }
    text[start..]
        .char_indices()
        .nth(position.col.saturating_sub(1))
        .map_or(text.len(), |(i, _)| start + i)
}

/// The token that a byte is in, or else the next.
fn token_at(text: &str, byte: usize) -> Option<Token> {
    Tokens::new(text).find(|token| token.end > byte)
}

fn open_comment(text: &str) -> Option<(usize, usize)> {
    let mut tokens = Tokens::new(text);
    while tokens.next().is_some() {}
    tokens.open_comment
}

/// The last word of this spelling that starts before a byte.
fn word_before(text: &str, word: &str, byte: usize) -> Option<Token> {
    Tokens::new(text)
        .take_while(|token| token.start < byte)
        .filter(|token| token.kind == Kind::Word && token.text(text) == word)
        .last()
}

/// The start of the innermost value whose brackets are open at a byte: its variant's word, or its bracket.
fn value_around(text: &str, byte: usize) -> Option<Token> {
    let open = spans::open_bracket(text, byte)?;
    let before = Tokens::new(text).take_while(|token| token.start < open.start).last();
    before.filter(|token| token.kind == Kind::Word && open.is('(')).or(Some(open))
}

fn closer(open: &str) -> &'static str {
    match open {
        "(" => ")",
        "[" => "]",
        _ => "}",
    }
}

fn quoted(token: Token, text: &str) -> String {
    let text = token.text(text);
    let short: String = text.chars().take(40).collect();
    let dots = if short.len() < text.len() { "…" } else { "" };
    if token.kind == Kind::Quoted { format!("{short}{dots}") } else { format!("`{short}{dots}`") }
}

fn one_of(words: &[&str]) -> String {
    match words {
        [] => "nothing".into(),
        [word] => format!("`{word}`"),
        [words @ .., last] => {
            let words: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
            format!("{} or `{last}`", words.join(", "))
        }
    }
}

fn nearest(found: &str, words: &[&str]) -> String {
    // Nothing longer than this is near a field name.
    let found: String = found.to_lowercase().chars().take(64).collect();
    let near = words
        .iter()
        .map(|word| (strsim::levenshtein(&found, &word.to_lowercase()), *word))
        .min()
        .filter(|(steps, word)| *steps <= 3.min(word.len() / 2).max(1));
    match near {
        Some((_, word)) => format!("did you mean `{word}`?"),
        None => "take it away, or choose one of these".into(),
    }
}

/// `runs[0].shape` as "runs, item 1, shape".
fn in_words(path: &str) -> String {
    let mut words: Vec<String> = Vec::new();
    for part in path.split(['.', '[']).filter(|part| !part.is_empty()) {
        match part.strip_suffix(']').and_then(|index| index.parse::<usize>().ok()) {
            Some(index) => words.push(format!("item {}", index + 1)),
            None => words.push(part.to_owned()),
        }
    }
    words.join(", ")
}
