//! A layout of a size that a club has: 200 turnouts, 60 and more independent unbalanced cycles. Our own invention.

use gapwright::rails::balance::{Link, LinkKind, Stretch, Track};

/// Numbers that look random and are the same every time (a linear congruential generator, Knuth's MMIX constants, from
/// memory).
pub struct Chance(pub u64);

impl Chance {
    pub fn below(&mut self, limit: usize) -> usize {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % limit
    }
}

#[derive(Default)]
struct Builder {
    track: Track,
    blocks: usize,
    cuts: u32,
    turnouts: usize,
}

/// An end of a stretch: whether it is its start.
type End = (usize, bool);

impl Builder {
    fn lay(&mut self, block: usize, length_mm: f64) -> usize {
        self.track.stretches.push(Stretch { length_mm, block });
        self.track.stretches.len() - 1
    }

    fn new_block(&mut self, length_mm: f64) -> usize {
        self.blocks += 1;
        self.lay(self.blocks - 1, length_mm)
    }

    fn metal(&mut self, a: End, b: End) {
        self.track.links.push(Link { ends: [a, b], kind: LinkKind::Metal });
    }

    fn cut(&mut self, a: End, b: End) {
        self.cuts += 1;
        self.track.links.push(Link { ends: [a, b], kind: LinkKind::cut(self.cuts) });
    }

    /// A turnout at the end of a block's line, which goes on beyond it: whether its toe is on the near side. The end at
    /// which its diverging track meets the line.
    fn turnout(&mut self, last: &mut usize, facing: bool) -> End {
        self.turnouts += 1;
        let beyond = self.lay(self.track.stretches[*last].block, 300.0);
        self.metal((*last, false), (beyond, true));
        let near = std::mem::replace(last, beyond);
        if facing { (near, false) } else { (beyond, true) }
    }

    /// A turnout by itself, at the end of a stretch.
    fn at_end(&mut self, stretch: usize) -> End {
        self.turnouts += 1;
        (stretch, false)
    }
}

/// Two sides of a dogbone, 40 blocks each, with crossovers between them, reversing connections, return loops, wyes and
/// passing sidings.
pub fn club(seed: u64) -> Track {
    const BLOCKS: usize = 40;
    let mut chance = Chance(seed);
    let mut b = Builder::default();
    // The first stretch and the last so far of each block, in the order of the way round.
    let mut line: Vec<(usize, usize)> =
        (0..2 * BLOCKS).map(|_| b.new_block(1500.0)).map(|s| (s, s)).collect();
    let count = line.len();
    // Crossovers, on which the run goes on eastward from the top to the bottom.
    for k in 0..10 {
        let top = 4 * k;
        let here = b.turnout(&mut line[top].1, true);
        let there = b.turnout(&mut line[count - 1 - top].1, true);
        b.cut(here, there);
    }
    // Connections that come back to the line the other way round.
    for _ in 0..60 {
        let from = chance.below(count);
        let to = (from + 1 + chance.below(4)) % count;
        let here = b.turnout(&mut line[from].1, true);
        let there = b.turnout(&mut line[to].1, true);
        let connection = b.new_block(800.0);
        b.cut(here, (connection, true));
        b.cut((connection, false), there);
    }
    for _ in 0..12 {
        let (branch, round) = (b.new_block(500.0), b.new_block(3000.0));
        let facing = chance.below(2) == 0;
        let here = b.turnout(&mut line[chance.below(count)].1, facing);
        b.cut(here, (branch, true));
        let toe = b.at_end(branch);
        b.cut(toe, (round, true));
        b.cut((round, false), toe);
    }
    for _ in 0..8 {
        let (one, other) = (b.new_block(900.0), b.new_block(900.0));
        let stub = b.new_block(400.0);
        let facing = chance.below(2) == 0;
        let at = chance.below(count);
        let here = b.turnout(&mut line[at].1, facing);
        let there = b.turnout(&mut line[at].1, !facing);
        b.cut(here, (one, true));
        b.cut(there, (other, true));
        let toe = b.at_end(stub);
        b.cut((one, false), toe);
        b.cut((other, false), toe);
    }
    for _ in 0..6 {
        let at = chance.below(count);
        let here = b.turnout(&mut line[at].1, true);
        let there = b.turnout(&mut line[(at + 1) % count].1, false);
        let siding = b.new_block(1200.0);
        b.cut(here, (siding, true));
        b.cut((siding, false), there);
    }
    for k in 0..count {
        b.cut((line[k].1, false), (line[(k + 1) % count].0, true));
    }
    assert_eq!(b.turnouts, 200);
    b.track
}
