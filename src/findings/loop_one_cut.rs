//! `loop-one-cut`: track that leads back onto itself the other way round with both rails cut in one place only.

use super::shared::loops;
use super::{Cure, Found, Text, View, Words};
use crate::layout::Layout;

pub use super::shared::loops::Evidence;

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    loops::without_room(view, false)
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    w.loop_without_room(&e.round, &e.longest)
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};

    pub fn pairs() -> Vec<Pair> {
        let fed = |cuts: &[(u32, f64)]| return_loop(cuts, &format!("{ONE_DRIVER} {NAMES}"));
        vec![Pair {
            with: return_loop(&TWO_CUTS[..1], &format!("{ONE_FEED} {NAMES}")),
            twin: fed(TWO_CUTS),
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: None,
            cuts: &[1],
            blocks: 1,
            says: "Main + Loop: a loop with one cut; it needs a second",
        }]
    }
}
