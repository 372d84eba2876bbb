//! Words about work that was left behind.

use std::time::Duration;

/// The first lines of a long text.
pub fn first_lines(text: &str) -> String {
    const MOST: usize = 8;
    let mut shown = text.lines().take(MOST).collect::<Vec<_>>().join("\n");
    match text.lines().count() {
        all if all > MOST => shown.push_str(&format!("\nand {} more", all - MOST)),
        _ => {}
    }
    shown
}

/// A time in words: "12 minutes ago".
pub fn ago_words(ago: Duration) -> String {
    let counted = |n: u64, word: &str| match n {
        1 => format!("1 {word} ago"),
        n => format!("{n} {word}s ago"),
    };
    match ago.as_secs() {
        0..=59 => "less than a minute ago".to_owned(),
        s @ 60..=3599 => counted(s / 60, "minute"),
        s @ 3600..=86_399 => counted(s / 3600, "hour"),
        s => counted(s / 86_400, "day"),
    }
}
