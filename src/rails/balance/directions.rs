//! Reference directions over the whole track.

use super::graph::{Joined, Parity};
use super::{Link, LinkKind, Track};

/// Reference directions.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Directions {
    /// Of each stretch: +1 from its start to its end, −1 the other way.
    pub of_stretch: Vec<i8>,
    /// Of each link: +1 where the reference directions of its two sides agree, −1 where they meet head on or part: where
    /// an unbalanced cycle is closed.
    pub of_link: Vec<i8>,
}

/// Reference directions, continued same-hand over a spanning forest; +1 at the stretch with the lowest index of each
/// connected part.
///
/// The forest takes metal first, then cuts in one rail, then cuts in both, each in order of their numbers, then gaps: an
/// unbalanced cycle is closed where it is most open.
pub fn directions(track: &Track) -> Directions {
    let mut order: Vec<(usize, &Link)> = track.sound_links().collect();
    order.sort_by_key(|&(at, link)| match link.kind {
        LinkKind::Metal => (0, 0, at),
        LinkKind::Cut { id, .. } => (1 + u8::from(link.kind.parts()), id, at),
        LinkKind::Gap => (3, 0, at),
    });
    let mut joined = Parity::new(track.stretches.len());
    let mut of_link = vec![1; track.links.len()];
    for (at, link) in order {
        let [(a, _), (b, _)] = link.ends;
        if joined.join(a, b, link.turns()) == Joined::Against {
            of_link[at] = -1;
        }
    }
    // The lowest index of a part stands for it.
    let of_stretch =
        (0..track.stretches.len()).map(|s| if joined.find(s).1 { -1 } else { 1 }).collect();
    Directions { of_stretch, of_link }
}
