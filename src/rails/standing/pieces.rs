//! The block-cut tree of a web: pieces that no single net divides, hung on the nets that divide the whole.
//!
//! Every way from one net to another goes through the same dividing nets in the same order, so it comes down to one
//! way through each piece between them, and nothing outside those pieces matters.

use super::web::Web;

/// A piece, and the two nets of it between which a way is wanted, the lower first.
pub type Link = (usize, [usize; 2]);

/// The pieces of a web. Each part of the web hangs on one net of it, the root.
#[derive(Debug, Clone, Default)]
pub struct Pieces {
    /// Pairs of joined nets of each piece.
    pub pairs: Vec<Vec<[usize; 2]>>,
    /// Net of each piece that is nearest to the root.
    head: Vec<usize>,
    /// Piece of each net on the way to the root; none at the root.
    above: Vec<Option<usize>>,
    /// Pieces between each net and the root.
    depth: Vec<usize>,
    root: Vec<usize>,
}

/// A net on the walk's trail, and its neighbours not yet looked at.
struct Trail {
    net: usize,
    from: Option<usize>,
    next: std::vec::IntoIter<usize>,
}

impl Pieces {
    /// Depth-first, by the lowest net that a branch leads back to. On a stack of its own: a web may be one long chain.
    pub fn of(web: &Web) -> Pieces {
        let nets = web.nets();
        let mut pieces = Pieces {
            above: vec![None; nets],
            depth: vec![0; nets],
            root: (0..nets).collect(),
            ..Pieces::default()
        };
        let mut order: Vec<Option<usize>> = vec![None; nets];
        let mut low = vec![0; nets];
        let mut walked: Vec<usize> = Vec::with_capacity(nets);
        for root in 0..nets {
            if order[root].is_some() {
                continue;
            }
            let enter = |net, from| {
                let next: Vec<usize> = web.near(net).collect();
                Trail { net, from, next: next.into_iter() }
            };
            let mut pairs: Vec<[usize; 2]> = Vec::new();
            order[root] = Some(walked.len());
            low[root] = walked.len();
            walked.push(root);
            let mut trail = vec![enter(root, None)];
            while let Some(last) = trail.last_mut() {
                let (net, from) = (last.net, last.from);
                if let Some(other) = last.next.next() {
                    match order[other] {
                        _ if Some(other) == from => {}
                        Some(seen) => {
                            if order[net].is_some_and(|here| seen < here) {
                                pairs.push([net, other]);
                                low[net] = low[net].min(seen);
                            }
                        }
                        None => {
                            pairs.push([net, other]);
                            order[other] = Some(walked.len());
                            low[other] = walked.len();
                            pieces.root[other] = root;
                            walked.push(other);
                            trail.push(enter(other, Some(net)));
                        }
                    }
                    continue;
                }
                trail.pop();
                let Some(up) = from else { continue };
                low[up] = low[up].min(low[net]);
                if order[up].is_some_and(|here| low[net] >= here) {
                    let start = pairs.iter().rposition(|&pair| pair == [up, net]).unwrap_or(0);
                    pieces.close(up, pairs.split_off(start));
                }
            }
        }
        for net in walked {
            if let Some(piece) = pieces.above[net] {
                pieces.depth[net] = pieces.depth[pieces.head[piece]] + 1;
            }
        }
        pieces
    }

    fn close(&mut self, head: usize, pairs: Vec<[usize; 2]>) {
        for &net in pairs.iter().flatten().filter(|&&net| net != head) {
            self.above[net] = Some(self.head.len());
        }
        self.head.push(head);
        self.pairs.push(pairs);
    }

    /// The pieces between two nets; none if nothing joins the two in any position.
    pub fn links(&self, mut a: usize, mut b: usize) -> Option<Vec<Link>> {
        if self.root.get(a)? != self.root.get(b)? {
            return None;
        }
        let mut links = Vec::new();
        while a != b {
            let (up_a, up_b) = (self.above[a], self.above[b]);
            if let Some(piece) = up_a
                && up_a == up_b
            {
                links.push((piece, [a.min(b), a.max(b)]));
                break;
            }
            let lower = if self.depth[a] >= self.depth[b] { &mut a } else { &mut b };
            let piece = self.above[*lower]?;
            let head = self.head[piece];
            links.push((piece, [head.min(*lower), head.max(*lower)]));
            *lower = head;
        }
        Some(links)
    }
}
