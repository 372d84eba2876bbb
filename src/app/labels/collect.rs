//! What is labelled on the plan: collected once per change of the layout or of its report.

use std::collections::{BTreeMap, HashMap};

use eframe::egui::{Vec2, vec2};

use super::Face;
use crate::app::camera::World;
use crate::app::derived::Derived;
use crate::app::names::{origin_name, shortened};
use crate::app::nets::BlockStretch;
use crate::findings::{Report, Verdict};
use crate::layout::{CutId, EntityId, FeedId, LabelId, Layout, RunId, SpecialId, shown};
use crate::rails::BlockId;
use crate::report::{Standing, Tally};

/// Where a label belongs: a place on a run, or one on the plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Anchor {
    /// So many mm along a run.
    On(RunId, f64),
    /// A place of the plan, mm, with the unit vector to the left of the track there.
    At(World, World),
}

/// What a label says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Key {
    /// The verdict of a cut, or of several whose first one this is.
    Mark(CutId),
    /// The name of a block.
    Block(BlockId),
    /// The name of a cut.
    Cut(CutId),
    /// The driver of a feed.
    Tag(FeedId),
    /// The name of special work.
    Work(SpecialId),
}

impl Key {
    /// The thing that a press on the label selects. `None` for blocks, which the caller looks up.
    pub fn entity(self) -> Option<EntityId> {
        match self {
            Key::Mark(id) | Key::Cut(id) => Some(id.into()),
            Key::Tag(id) => Some(id.into()),
            Key::Work(id) => Some(id.into()),
            Key::Block(_) => None,
        }
    }
}

/// A verdict mark to be placed.
#[derive(Debug, Clone, Copy)]
pub struct MarkItem {
    /// The cut.
    pub cut: CutId,
    /// Where it is.
    pub anchor: Anchor,
    /// What stands against it; `None` while it is not checked.
    pub standing: Option<Standing>,
}

/// A text to be placed.
#[derive(Debug, Clone)]
pub struct TextItem {
    /// What it says.
    pub key: Key,
    /// Its words.
    pub text: String,
    /// Size of its box, points.
    pub size: Vec2,
    /// Where it may belong, the best place first; with the length of track there that it names, mm.
    pub anchors: Vec<(Anchor, f64)>,
}

/// A block's name, as the plan shows it.
#[derive(Debug, Clone, Copy)]
pub struct BlockItem {
    /// Its look: an index into colours and dashes.
    pub look: usize,
    /// The label that names it, if the user named it.
    pub label: Option<LabelId>,
    /// A run of it.
    pub run: RunId,
}

/// Everything that is labelled.
#[derive(Debug, Default)]
pub struct Items {
    /// Verdict marks, by weight.
    pub marks: Vec<MarkItem>,
    /// Names of blocks, the longest first.
    pub blocks: Vec<TextItem>,
    /// Names of cuts.
    pub cuts: Vec<TextItem>,
    /// Tags of feeds.
    pub tags: Vec<TextItem>,
    /// Names of special work.
    pub works: Vec<TextItem>,
    /// What is known of each block that is named.
    pub about_blocks: BTreeMap<BlockId, BlockItem>,
}

/// Sizes of words, points: measured once each.
#[derive(Debug, Default)]
pub struct Measured {
    sizes: HashMap<(String, Face), Vec2>,
}

impl Measured {
    /// Words whose size is kept; more would only be kept for layouts that were closed.
    const MOST: usize = 50_000;

    fn of(&mut self, text: &str, face: Face, measure: &dyn Fn(&str, Face) -> Vec2) -> Vec2 {
        if self.sizes.len() > Self::MOST {
            self.sizes.clear();
        }
        if let Some(known) = self.sizes.get(&(text.to_owned(), face)) {
            return *known;
        }
        let measured = measure(text, face);
        self.sizes.insert((text.to_owned(), face), measured);
        measured
    }
}

/// What the labels are about.
pub struct About<'a> {
    /// The layout.
    pub layout: &'a Layout,
    /// Its geometry.
    pub derived: &'a Derived,
    /// Its report.
    pub report: &'a Report,
    /// What stands against its cuts.
    pub tally: &'a Tally,
}

/// Collects what is labelled. `measure` gives the size of words in points.
pub fn collect(
    about: &About<'_>,
    measured: &mut Measured,
    measure: &dyn Fn(&str, Face) -> Vec2,
) -> Items {
    let mut collecting = Collecting { about, measured, measure };
    let mut items = Items { marks: marks(about), ..Items::default() };
    collecting.blocks(&mut items);
    items.cuts = collecting.cuts();
    items.tags = collecting.tags();
    items.works = collecting.works();
    items
}

/// Marks by weight: faults first, then whatever else is not clear.
fn marks(about: &About<'_>) -> Vec<MarkItem> {
    let mut marks: Vec<MarkItem> = about
        .layout
        .cuts
        .values()
        .map(|cut| MarkItem {
            cut: cut.id,
            anchor: Anchor::On(cut.run, cut.at_mm),
            standing: about.tally.standing(cut.id),
        })
        .collect();
    let weight = |mark: &MarkItem| mark.standing.map_or(Verdict::Clear, Standing::verdict);
    marks.sort_by_key(|mark| (std::cmp::Reverse(weight(mark)), mark.cut));
    marks
}

struct Collecting<'a> {
    about: &'a About<'a>,
    measured: &'a mut Measured,
    measure: &'a dyn Fn(&str, Face) -> Vec2,
}

/// Stretches of one block that may carry its name; more are never needed.
const MOST_STRETCHES: usize = 6;
/// Where along a stretch the name may stand, the best place first.
const SHARES: [f64; 7] = [0.5, 0.35, 0.65, 0.2, 0.8, 0.08, 0.92];

impl Collecting<'_> {
    fn size(&mut self, text: &str, face: Face, room: Vec2) -> Vec2 {
        self.measured.of(text, face, self.measure) + room
    }

    fn blocks(&mut self, items: &mut Items) {
        let About { layout, derived, report, .. } = *self.about;
        // Stretches and labels by block.
        let mut stretches: BTreeMap<usize, Vec<(f64, RunId, f64)>> = BTreeMap::new();
        for (run, nets) in &derived.nets {
            for BlockStretch { from_mm, to_mm, block } in &nets.blocks {
                let Some(block) = block else { continue };
                stretches.entry(*block).or_default().push((to_mm - from_mm, *run, *from_mm));
            }
        }
        let mut labels: BTreeMap<usize, (LabelId, Anchor)> = BTreeMap::new();
        for label in layout.labels.values() {
            let nets = derived.nets.get(&label.run);
            let block = nets.and_then(|nets| nets.block_at(label.at_mm));
            if let Some(block) = block {
                labels.entry(block).or_insert((label.id, Anchor::On(label.run, label.at_mm)));
            }
        }
        let mut named: Vec<(f64, TextItem)> = Vec::new();
        for (block, mut on) in stretches {
            let Some(told) = report.blocks.get(block) else { continue };
            on.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)).then(a.2.total_cmp(&b.2)));
            let longest = on.first().map_or(0.0, |stretch| stretch.0);
            let own = labels.get(&block);
            let run = on.first().map_or(told.id.run, |stretch| stretch.1);
            let look = derived.looks.of(block);
            let about = BlockItem { look, label: own.map(|(id, _)| *id), run };
            items.about_blocks.insert(told.id, about);
            let mut anchors: Vec<(Anchor, f64)> = Vec::new();
            anchors.extend(own.map(|(_, anchor)| (*anchor, longest)));
            for (length, run, from_mm) in on.into_iter().take(MOST_STRETCHES) {
                let at = |share: f64| (Anchor::On(run, from_mm + length * share), length);
                anchors.extend(SHARES.map(at));
            }
            let size = self.size(&told.name, Face::Bold, vec2(10.0, 4.0));
            let key = Key::Block(told.id);
            named.push((longest, TextItem { key, text: told.name.clone(), size, anchors }));
        }
        named.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.key.cmp(&b.1.key)));
        items.blocks = named.into_iter().map(|(_, item)| item).collect();
    }

    fn cuts(&mut self) -> Vec<TextItem> {
        let about = self.about;
        let named = about.layout.cuts.values().filter(|cut| !cut.name.trim().is_empty());
        named
            .map(|cut| {
                let text = shortened(&shown(cut.name.trim()), 32);
                let size = self.size(&text, Face::Plain, vec2(2.0, 0.0));
                let anchors = vec![(Anchor::On(cut.run, cut.at_mm), 0.0)];
                TextItem { key: Key::Cut(cut.id), text, size, anchors }
            })
            .collect()
    }

    fn tags(&mut self) -> Vec<TextItem> {
        let about = self.about;
        let feeds = about.layout.feeds.values();
        feeds
            .map(|feed| {
                let text = shortened(&origin_name(about.layout, feed.driver), 20);
                let size = self.size(&text, Face::Plain, vec2(12.0, 5.0));
                let anchors = vec![(Anchor::On(feed.run, feed.at_mm), 0.0)];
                TextItem { key: Key::Tag(feed.id), text, size, anchors }
            })
            .collect()
    }

    fn works(&mut self) -> Vec<TextItem> {
        let about = self.about;
        let works = about.layout.specials.values().filter_map(|special| {
            Some((special, about.derived.special.specials.get(&special.id)?))
        });
        works
            .map(|(special, drawn)| {
                let name = special.name.trim();
                let text = if name.is_empty() {
                    special.id.to_string()
                } else {
                    shortened(&shown(name), 32)
                };
                let size = self.size(&text, Face::Bold, vec2(6.0, 2.0));
                // Beside the toe, away from the roads; under the pit of a bridge.
                let (dx, dy) = drawn.along;
                let at = drawn.pit.map_or(drawn.at, |(centre, _)| centre);
                let key = Key::Work(special.id);
                TextItem { key, text, size, anchors: vec![(Anchor::At(at, (-dy, dx)), 0.0)] }
            })
            .collect()
    }
}
