//! Changes the text of a layout so that it mostly stays one: by tokens and lines, seldom by bytes.

use std::ops::Range;

use libfuzzer_sys::fuzzer_mutate;

/// Numbers at which something often ends or begins.
const NUMBERS: [&str; 18] = [
    "0",
    "-0.0",
    "1",
    "-1",
    "0.01",
    "0.5",
    "1e-9",
    "1e-300",
    "5e-324",
    "1e6",
    "1e9",
    "1e15",
    "1e300",
    "inf",
    "NaN",
    "90",
    "360",
    "4294967295",
];
/// What a number is multiplied by.
const FACTORS: [f64; 8] = [-1.0, 0.1, 0.5, 0.999_999, 1.000_001, 2.0, 10.0, 1000.0];

/// Changes `data[..size]` in place and returns the new size, at most `max_size`.
pub fn mutate(data: &mut [u8], size: usize, max_size: usize, seed: u32) -> usize {
    let mut state = u64::from(seed) | 1 << 40;
    let mut below = move |n: usize| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 16) as usize % n.max(1)
    };
    let mut text = data[..size].to_vec();
    for _ in 0..=below(3) {
        match below(8) {
            0 => return fuzzer_mutate(data, size, max_size),
            // A line is one thing of the layout.
            1 => {
                let mut lines: Vec<&[u8]> = text.split_inclusive(|&b| b == b'\n').collect();
                let (from, to) = (below(lines.len()), below(lines.len()));
                match (lines.is_empty(), below(3)) {
                    (true, _) => {}
                    (_, 0) => drop(lines.remove(from)),
                    (_, 1) => lines.insert(to, lines[from]),
                    _ => lines.swap(from, to),
                }
                text = lines.concat();
            }
            _ => {
                let tokens = tokens(&text);
                let Some(token) = tokens.get(below(tokens.len())) else { continue };
                let old = &text[token.clone()];
                let new = match (kind(old), below(3)) {
                    (b'0', 0) => NUMBERS[below(NUMBERS.len())].into(),
                    (b'0', 1) => {
                        let number: f64 =
                            str::from_utf8(old).ok().and_then(|t| t.parse().ok()).unwrap_or(1.0);
                        format!("{}", number * FACTORS[below(FACTORS.len())]).into_bytes()
                    }
                    (wanted, _) => {
                        let alike: Vec<&Range<usize>> =
                            tokens.iter().filter(|t| kind(&text[(*t).clone()]) == wanted).collect();
                        text[alike[below(alike.len())].clone()].to_vec()
                    }
                };
                text.splice(token.clone(), new);
            }
        }
    }
    if text.len() > max_size {
        return fuzzer_mutate(data, size, max_size);
    }
    data[..text.len()].copy_from_slice(&text);
    text.len()
}

/// Where numbers, words and identities stand.
fn tokens(text: &[u8]) -> Vec<Range<usize>> {
    let inside = |b: &u8| b.is_ascii_alphanumeric() || b"_.+-".contains(b);
    let mut found = Vec::new();
    let mut at = 0;
    for part in text.split(|b| !inside(b)) {
        if !part.is_empty() {
            found.push(at..at + part.len());
        }
        at += part.len() + 1;
    }
    found
}

/// One letter for what can stand in each other's place: numbers, identities by their letter, fields, words.
fn kind(token: &[u8]) -> u8 {
    match token {
        [b'0'..=b'9' | b'-' | b'.', ..] => b'0',
        [letter, rest @ ..] if !rest.is_empty() && rest.iter().all(u8::is_ascii_digit) => *letter,
        [first, ..] if first.is_ascii_uppercase() => b'A',
        _ => b'_',
    }
}
