//! Shapes that people of the trade know, each drawn as its links.
//!
//! `main> | <loop` is the end of *main* meeting the start of *loop*. Between them stands how the rails go on: `-` metal,
//! `|` a cut in both rails, `[` and `]` in the left and the right one, `o` an end of a turntable. Stretches joined by metal
//! are one block, numbered as they come; each is 100 mm long; cuts are numbered as they come, from 1.
#![allow(clippy::unwrap_used)]

mod sections;
mod shapes;

use super::graph::Parity;
use super::*;

struct Drawn {
    track: Track,
    names: Vec<String>,
}

fn draw(text: &str) -> Drawn {
    let mut names: Vec<String> = Vec::new();
    let mut links = Vec::new();
    let mut cuts = 0;
    for line in text.split(';').map(str::trim).filter(|l| !l.is_empty()) {
        let [from, kind, to] = line.split_whitespace().collect::<Vec<_>>().try_into().unwrap();
        let mut end = |text: &str| {
            let name = text.trim_matches(['<', '>']);
            let stretch = names.iter().position(|n| n == name).unwrap_or_else(|| {
                names.push(name.to_string());
                names.len() - 1
            });
            (stretch, text.starts_with('<'))
        };
        let ends = [end(from), end(to)];
        cuts += u32::from("|[]".contains(kind));
        let kind = match kind {
            "-" => LinkKind::Metal,
            "|" => LinkKind::cut(cuts),
            "[" => LinkKind::Cut { id: cuts, rails: [true, false] },
            "]" => LinkKind::Cut { id: cuts, rails: [false, true] },
            "o" => LinkKind::Gap,
            other => panic!("no link is drawn as {other}"),
        };
        links.push(Link { ends, kind });
    }
    let mut metal = Parity::new(names.len());
    for link in links.iter().filter(|l| l.kind == LinkKind::Metal) {
        metal.join(link.ends[0].0, link.ends[1].0, link.turns());
    }
    let stretches =
        (0..names.len()).map(|s| Stretch { length_mm: 100.0, block: metal.find(s).0 }).collect();
    Drawn { track: Track { stretches, links }, names }
}

impl Drawn {
    /// The cycles in words, one a line: `name>` is passed forward, `<name` backward, `(name` and `name)` touched at its
    /// start and end; a `!` marks what the cycle's metal joins; then the number of its cuts in both rails.
    fn cycles(&self) -> Vec<String> {
        unbalanced(&self.track).cycles.iter().map(|c| self.cycle(c)).collect()
    }

    fn cycle(&self, cycle: &Cycle) -> String {
        let mut words: Vec<String> = Vec::new();
        for Step { stretch, way, joined } in &cycle.steps {
            let name = &self.names[*stretch];
            let mark = if *joined { "!" } else { "" };
            words.push(match way {
                Way::Forward => format!("{name}>{mark}"),
                Way::Backward => format!("<{name}{mark}"),
                Way::AtStart => format!("({name}{mark}"),
                Way::AtEnd => format!("{name}){mark}"),
            });
        }
        format!("{}: {}", words.join(" "), cycle.parted_at.len())
    }

    fn block(&self, name: &str) -> usize {
        self.track.stretches[self.names.iter().position(|n| n == name).unwrap()].block
    }

    /// The sets of the only group, by the first name in each block.
    fn sets(&self, conditions: &Conditions) -> Vec<Vec<&str>> {
        let found = reversing_sections(&self.track, conditions, &Budget::default());
        let [group] = &found.groups[..] else { panic!("{} groups", found.groups.len()) };
        assert!(group.exhaustive && group.all);
        assert!(group.sets.iter().all(|set| set.len() == group.at_least));
        let name = |&block: &usize| self.names[block].as_str();
        group.sets.iter().map(|set| set.iter().map(name).collect()).collect()
    }
}

/// Bars some blocks, and keeps some pairs apart.
fn conditions(drawn: &Drawn, barred: &[&str], apart: &[[&str; 2]]) -> Conditions {
    Conditions {
        barred: barred.iter().map(|n| drawn.block(n)).collect(),
        apart: apart.iter().map(|pair| pair.map(|n| drawn.block(n))).collect(),
    }
}
