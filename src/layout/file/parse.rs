//! Parse errors, placed at their token and explained.

use ron::error::{Error, Position, SpannedError};

use super::error::LoadError;
use super::spans;
use super::spans::{Kind, Token, Tokens};

/// Explains why a text cannot be read as a layout. `text` must be the text that the error is about.
pub(super) fn explain(text: &str, error: &SpannedError) -> LoadError {
    let end = byte_at(text, error.span.end);
    // Some faults are seen before their token is passed, some after its first letter or its last.
    let ahead = token_at(text, end);
    let passed = token_at(text, end.saturating_sub(1));
    let told = |token: Option<Token>, says: String, expected: String, hint: String| {
        let place = token.map_or_else(String::new, |t| in_words(&spans::path_at(text, t.start)));
        let (line, column) = token.map_or_else(
            || (error.span.end.line, error.span.end.col),
            |token| (token.line, token.column),
        );
        LoadError { line, column, says, expected, hint, place }
    };
    // A field's name lies in the value around it.
    let around = |token: Option<Token>, says, expected, hint| {
        let outer = token.and_then(|token| value_around(text, token.start));
        let place = outer.map_or_else(String::new, |t| in_words(&spans::path_at(text, t.start)));
        LoadError { place, ..told(token, says, expected, hint) }
    };
    let quote = |token: Option<Token>| token.map_or_else(|| "the end".into(), |t| quoted(t, text));
    let wrong = |token: Option<Token>, expected: &str, hint: &str| {
        told(token, format!("found {}", quote(token)), expected.into(), hint.into())
    };

    if let Some((line, column)) = open_comment(text) {
        return LoadError {
            line,
            column,
            says: "the comment that starts here never ends".into(),
            expected: "*/ at its end".into(),
            hint: "comments in comments need an end each".into(),
            place: String::new(),
        };
    }
    if let Error::ExpectedStringEnd = error.code {
        let hint = "a quote within a string is written \\\"".into();
        return told(
            passed,
            "the string that starts here never ends".into(),
            "a closing quote".into(),
            hint,
        );
    }
    if ahead.is_none()
        && !matches!(error.code, Error::TrailingCharacters)
        && let Some(open) = spans::open_bracket(text, text.len())
    {
        let says = format!("the bracket {} that is opened here is never closed", open.text(text));
        let expected = format!("{} before the end of the file", closer(open.text(text)));
        return told(Some(open), says, expected, "close it, or add what is missing".into());
    }
    if let Some(token) = ahead.filter(|token| matches!(token.kind, Kind::Mark(')' | ']' | '}')))
        && let Some(open) = spans::open_bracket(text, token.start)
        && closer(open.text(text)) != token.text(text)
    {
        let says = format!(
            "found {}, but the bracket {} opened at line {}, column {} is not closed yet",
            token.text(text),
            open.text(text),
            open.line,
            open.column
        );
        let expected = closer(open.text(text)).to_owned();
        return told(Some(token), says, expected, "close the inner bracket first".into());
    }

    match &error.code {
        Error::NoSuchStructField { expected, found, .. } => around(
            word_before(text, found, end).or(passed),
            format!("there is no field `{found}` here"),
            one_of(expected),
            nearest(found, expected),
        ),
        Error::NoSuchEnumVariant { expected, found, .. } => told(
            word_before(text, found, end).or(passed),
            format!("`{found}` is not among the words that can stand here"),
            one_of(expected),
            nearest(found, expected),
        ),
        Error::DuplicateStructField { field, .. } => around(
            word_before(text, field, end).or(passed),
            format!("the field `{field}` is given twice"),
            "each field once".into(),
            "take one of the two away".into(),
        ),
        Error::MissingStructField { field, .. } => told(
            value_around(text, end),
            format!("the field `{field}` is missing"),
            format!("`{field}: …` within these brackets"),
            "every field without a default must be given".into(),
        ),
        Error::ExpectedDifferentLength { expected, found } => told(
            value_around(text, end),
            match found {
                1 => "there is 1 item in these brackets".into(),
                found => format!("there are {found} items in these brackets"),
            },
            expected.replace("a tuple of size", "a number of items, namely"),
            "a place on the plan is (x, y)".into(),
        ),
        Error::ExpectedComma => match ahead {
            Some(token) if token.start < end => {
                wrong(Some(token), "a whole number", "write it without a decimal point")
            }
            token => around(
                token,
                format!("found {}", quote(token)),
                "a comma, or the closing bracket".into(),
                "a comma is missing before this".into(),
            ),
        },
        Error::ExpectedFloat | Error::FloatUnderscore | Error::UnderscoreAtBeginning => {
            wrong(passed, "a number", "numbers are written like 12, 0.35 or 1e-3, without a unit")
        }
        Error::ExpectedInteger | Error::InvalidIntegerDigit { .. } => {
            wrong(passed, "a whole number", "write it in digits only, without quotes")
        }
        Error::IntegerOutOfBounds => {
            wrong(passed, "a whole number from 0 to 4294967295", "choose another number")
        }
        Error::ExpectedBoolean => wrong(passed, "true or false", "write it without quotes"),
        Error::ExpectedString => {
            wrong(passed, "a text in double quotes", "put double quotes around it")
        }
        Error::InvalidEscape(why) => told(
            passed,
            format!("a backslash in this string cannot be understood ({why})"),
            "\\\\, \\\", \\n, \\t or \\u{…}".into(),
            "a backslash itself is written \\\\".into(),
        ),
        Error::ExpectedArray => {
            wrong(passed, "a list in square brackets", "even one item alone is a list: [ … ]")
        }
        Error::ExpectedArrayEnd => wrong(ahead, "] or a comma", "close the list"),
        Error::ExpectedStructLike | Error::ExpectedNamedStructLike(_) => {
            wrong(ahead, "an opening round bracket", "its fields stand in round brackets: (id: …)")
        }
        Error::ExpectedStructLikeEnd | Error::ExpectedOptionEnd => wrong(
            ahead,
            "a comma, or the closing round bracket",
            "a comma or bracket is missing before this",
        ),
        Error::ExpectedIdentifier => wrong(
            ahead,
            "the name of a field",
            "every value here has a name before it: name: value",
        ),
        Error::ExpectedMapColon => wrong(ahead, "a colon", "a field is written name: value"),
        Error::TrailingCharacters => told(
            ahead,
            format!("found {} after the end of the layout", quote(ahead)),
            "nothing more".into(),
            "a closing bracket before here is one too many, or this belongs further up".into(),
        ),
        Error::InvalidValueForType { expected, found } => {
            told(passed, format!("found {found}"), expected.clone(), String::new())
        }
        Error::Message(message) if message.starts_with("expected an id") => {
            let (expected, found) =
                message.split_once(", found ").unwrap_or((message, "another text"));
            told(
                passed,
                format!("found {found}"),
                expected.trim_start_matches("expected ").into(),
                "the letter says what kind of thing it is".into(),
            )
        }
        Error::Message(message) => told(
            value_around(text, end),
            message.clone(),
            "(value: 0.35, source: Assumed, from: 0.2, to: 0.6), or no range".into(),
            "write source: Assumed, or take `from` and `to` away".into(),
        ),
        other => told(
            ahead.or(passed),
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
