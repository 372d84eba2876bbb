//! Graphs whose edges keep or turn the direction.

/// An edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Edge {
    pub ends: [usize; 2],
    /// Whether it turns the direction round (sign −1).
    pub turns: bool,
}

impl Edge {
    /// The end that is not `node`; `node` itself for a loop.
    pub fn other(&self, node: usize) -> usize {
        if self.ends[0] == node { self.ends[1] } else { self.ends[0] }
    }
}

/// A graph, which may have several edges between two nodes, and loops.
#[derive(Debug, Clone, Default)]
pub(super) struct Signed {
    pub edges: Vec<Edge>,
    /// Edges at each node, a loop once.
    pub at: Vec<Vec<usize>>,
}

impl Signed {
    /// A graph of the nodes 0…`nodes`, which the edges must not exceed.
    pub fn new(nodes: usize, edges: Vec<Edge>) -> Self {
        let mut at = vec![Vec::new(); nodes];
        for (k, edge) in edges.iter().enumerate() {
            at[edge.ends[0]].push(k);
            if edge.ends[0] != edge.ends[1] {
                at[edge.ends[1]].push(k);
            }
        }
        Signed { edges, at }
    }

    /// Its biconnected components, each as its edges in order, by lowest edge. A loop is one by itself.
    ///
    /// Tarjan's depth-first search, with a stack of its own so that long track cannot exhaust the thread's.
    pub fn biconnected(&self) -> Vec<Vec<usize>> {
        let nodes = self.at.len();
        let (mut seen, mut low, mut next) = (vec![0; nodes], vec![0; nodes], vec![0; nodes]);
        let mut used = vec![false; self.edges.len()];
        let (mut order, mut found) = (0, Vec::new());
        let mut open: Vec<usize> = Vec::new();
        for root in 0..nodes {
            if seen[root] != 0 {
                continue;
            }
            order += 1;
            (seen[root], low[root]) = (order, order);
            let mut path = vec![(root, usize::MAX)];
            while let Some(&(node, via)) = path.last() {
                if let Some(&edge) = self.at[node].get(next[node]) {
                    next[node] += 1;
                    if std::mem::replace(&mut used[edge], true) {
                        continue;
                    }
                    let beyond = self.edges[edge].other(node);
                    if beyond == node {
                        found.push(vec![edge]);
                        continue;
                    }
                    open.push(edge);
                    if seen[beyond] == 0 {
                        order += 1;
                        (seen[beyond], low[beyond]) = (order, order);
                        path.push((beyond, edge));
                    } else {
                        low[node] = low[node].min(seen[beyond]);
                    }
                    continue;
                }
                path.pop();
                let Some(&(parent, _)) = path.last() else { continue };
                low[parent] = low[parent].min(low[node]);
                if low[node] >= seen[parent] {
                    let from = open.iter().rposition(|&e| e == via).unwrap_or(0);
                    let mut component = open.split_off(from);
                    component.sort_unstable();
                    found.push(component);
                }
            }
        }
        found.sort_unstable();
        found
    }

    /// Whether these edges hold an unbalanced cycle.
    pub fn unbalanced(&self, edges: &[usize]) -> bool {
        let mut joined = Parity::new(self.at.len());
        edges.iter().any(|&k| {
            let Edge { ends: [a, b], turns } = self.edges[k];
            joined.join(a, b, turns) == Joined::Against
        })
    }
}

/// What joining two nodes found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Joined {
    /// They were apart.
    Anew,
    /// They were joined, the same way round.
    Alike,
    /// They were joined, the other way round: an unbalanced cycle.
    Against,
}

/// Union-find that knows which way round each node is joined to the others.
#[derive(Debug, Clone)]
pub(super) struct Parity {
    parent: Vec<usize>,
    /// Whether the node is turned against its parent.
    turned: Vec<bool>,
}

impl Parity {
    /// So many nodes, all apart.
    pub fn new(nodes: usize) -> Self {
        Parity { parent: (0..nodes).collect(), turned: vec![false; nodes] }
    }

    /// The node that stands for all those joined to this one, and whether this one is turned against it.
    pub fn find(&mut self, node: usize) -> (usize, bool) {
        let (mut root, mut turned) = (node, false);
        while self.parent[root] != root {
            turned ^= self.turned[root];
            root = self.parent[root];
        }
        let (mut at, mut rest) = (node, turned);
        while self.parent[at] != root && at != root {
            let (up, own) = (self.parent[at], self.turned[at]);
            (self.parent[at], self.turned[at]) = (root, rest);
            (at, rest) = (up, rest ^ own);
        }
        (root, turned)
    }

    /// Joins two nodes, turned against each other or not, unless they are joined already. The lower one's
    /// representative stands for both.
    pub fn join(&mut self, a: usize, b: usize, turns: bool) -> Joined {
        let ((a, at), (b, bt)) = (self.find(a), self.find(b));
        let turns = turns ^ at ^ bt;
        if a == b {
            return if turns { Joined::Against } else { Joined::Alike };
        }
        let (low, high) = (a.min(b), a.max(b));
        (self.parent[high], self.turned[high]) = (low, turns);
        Joined::Anew
    }
}
