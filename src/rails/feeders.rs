//! Where feeds end on the rails, as they are wired.

use super::metal::Metal;
use crate::layout::{FeedId, Layout};

/// A leg of a feed on fixed metal, as it is wired.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FeedEnd {
    /// The feed.
    pub feed: FeedId,
    /// True for the leg that its P goes to.
    pub is_p: bool,
    /// Index in [`Metal::nets`].
    pub net: usize,
}

/// The feeds of a layout on its metal.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Feeders {
    /// All legs, by feed.
    pub ends: Vec<FeedEnd>,
    /// By net: indices in `ends`.
    on_net: Vec<Vec<usize>>,
}

impl Feeders {
    /// The feeds of a layout on its metal.
    pub fn derive(layout: &Layout, metal: &Metal) -> Feeders {
        let mut feeders = Feeders { ends: Vec::new(), on_net: vec![Vec::new(); metal.nets.len()] };
        for feed in layout.feeds.values() {
            for (rail, is_p) in [(feed.p, true), (feed.m, false)] {
                if let Some(net) = rail.and_then(|rail| metal.net_at(feed.run, rail, feed.at_mm)) {
                    feeders.on_net[net].push(feeders.ends.len());
                    feeders.ends.push(FeedEnd { feed: feed.id, is_p, net });
                }
            }
        }
        feeders
    }

    /// The legs on a net of fixed metal.
    pub fn on(&self, net: usize) -> impl Iterator<Item = &FeedEnd> {
        self.on_net.get(net).into_iter().flatten().map(|&at| &self.ends[at])
    }

    /// True if no feed ends on a net of fixed metal.
    pub fn none_on(&self, net: usize) -> bool {
        self.on(net).next().is_none()
    }
}
