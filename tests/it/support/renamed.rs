//! The same layout with other identities, or with its entries in another order: done to the text of its file.

use std::collections::BTreeMap;

use gapwright::layout::{self, Layout};

use super::dice::Dice;

/// Each identity of a layout, as it is written, and another in its stead.
pub type Ids = BTreeMap<String, String>;

/// The texts in quotes that are identities, with where they are.
fn identities(text: &str) -> Vec<(usize, &str)> {
    let mut found = Vec::new();
    let mut from = None;
    let mut escaped = false;
    for (at, letter) in text.char_indices() {
        match (letter, from) {
            _ if escaped => escaped = false,
            ('\\', Some(_)) => escaped = true,
            ('"', None) => from = Some(at + 1),
            ('"', Some(start)) => {
                let word = &text[start..at];
                let mut letters = word.chars();
                if letters.next().is_some_and(|c| c.is_ascii_lowercase())
                    && word.len() > 1
                    && letters.all(|c| c.is_ascii_digit())
                {
                    found.push((start, word));
                }
                from = None;
            }
            _ => {}
        }
    }
    found
}

/// Writes identities anew; what is not among `ids` stays.
pub fn with(layout: &Layout, ids: &Ids) -> Layout {
    let text = layout::save(layout);
    let mut new = String::with_capacity(text.len());
    let mut done = 0;
    for (at, id) in identities(&text) {
        new.push_str(&text[done..at]);
        new.push_str(ids.get(id).map_or(id, String::as_str));
        done = at + id.len();
    }
    new.push_str(&text[done..]);
    // The number of the next thing is larger than all.
    let new: String = new
        .lines()
        .filter(|line| !line.trim_start().starts_with("next_id:"))
        .collect::<Vec<_>>()
        .join("\n");
    layout::load(&new).unwrap_or_else(|e| panic!("{e:?}\n{new}")).layout
}

/// The same layout under random other numbers.
pub fn at_random(layout: &Layout, dice: &mut Dice) -> (Layout, Ids) {
    let text = layout::save(layout);
    let mut by_letter: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for (_, id) in identities(&text) {
        let of = by_letter.entry(&id[..1]).or_default();
        if !of.contains(&id) {
            of.push(id);
        }
    }
    let mut ids = Ids::new();
    for (letter, old) in by_letter {
        let mut numbers: Vec<usize> = (1..=2 * old.len()).collect();
        dice.shuffle(&mut numbers);
        ids.extend(old.into_iter().zip(numbers).map(|(id, n)| (id.into(), format!("{letter}{n}"))));
    }
    (with(layout, &ids), ids)
}

/// The same layout with so much added to all its numbers.
pub fn raised(layout: &Layout, by: u32) -> Layout {
    let text = layout::save(layout);
    let raise = |id: &str| {
        let number: u32 = id[1..].parse().unwrap();
        format!("{}{}", &id[..1], number + by)
    };
    let ids: Ids =
        identities(&text).into_iter().map(|(_, id)| (id.to_owned(), raise(id))).collect();
    with(layout, &ids)
}

/// The text of a layout's file with the entries of each list in the opposite order.
pub fn reordered(layout: &Layout) -> String {
    let text = layout::save(layout);
    let mut out = String::new();
    let mut entries: Option<Vec<String>> = None;
    let mut depth = 0_i32;
    for line in text.lines() {
        let opens = line.matches(['(', '[']).count() as i32;
        let closes = line.matches([')', ']']).count() as i32;
        match &mut entries {
            None => {
                out.push_str(line);
                out.push('\n');
                if line.ends_with(": [") {
                    entries = Some(Vec::new());
                    depth = 0;
                }
            }
            Some(list) => {
                if depth == 0 && closes > opens {
                    for entry in entries.take().into_iter().flatten().rev() {
                        out.push_str(&entry);
                    }
                    out.push_str(line);
                    out.push('\n');
                    continue;
                }
                if depth == 0 {
                    list.push(String::new());
                }
                if let Some(entry) = list.last_mut() {
                    entry.push_str(line);
                    entry.push('\n');
                }
                depth += opens - closes;
            }
        }
    }
    out
}
