//! Elimination of nodes by star-mesh transformation.
//!
//! Why not a library's Cholesky: a network holds leaks of 10⁻¹¹ S beside shorts of 10³ S. In the nodal matrix a leak is
//! lost in the rounding of the diagonal, and a source of 14 V behind 1 mΩ is a pair of injections of 14 kA whose rounding
//! error alone, flowing through a leak, is a volt. Here every edge of the shrinking graph keeps its own conductance and
//! its own source voltage. Taking out node k with neighbours a, b leaves between them `g = g_a·g_b / Σg` and
//! `e = e_ak − e_bk`; parallel edges add. Conductances are only added, multiplied and divided, so each keeps its relative
//! accuracy; source voltages are only averaged and summed along paths, so each keeps an absolute accuracy of a few
//! roundings of the largest one, whatever the conductances. No node's voltage is worse than that.

use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};

/// The eliminations of the graphs seen last, by their nodes and the ends of their branches.
#[derive(Debug, Default)]
pub(super) struct Eliminations {
    at: HashMap<Box<[u32]>, usize>,
    planned: Vec<Elimination>,
    /// Edges and meshes of all that are planned.
    size: usize,
    /// The graph that is asked for: number of nodes, then the two ends of each branch.
    graph: Vec<u32>,
}

/// Graphs are remembered until their edges and meshes come to this many; then all are forgotten. A place has some dozens of
/// graphs, one for each way in which its switches stand, each with a few hundred of them.
const MOST_SIZE: usize = 1 << 19;

impl Eliminations {
    /// The elimination of a graph of `nodes` nodes with these edges (each end < `nodes`).
    pub fn of(
        &mut self,
        nodes: usize,
        ends: impl Iterator<Item = (usize, usize)> + Clone,
    ) -> &mut Elimination {
        self.graph.clear();
        self.graph.push(nodes as u32);
        self.graph.extend(ends.clone().flat_map(|(from, to)| [from as u32, to as u32]));
        if let Some(&at) = self.at.get(&self.graph[..]) {
            return &mut self.planned[at];
        }
        let plan = Elimination::plan(nodes, ends);
        if self.size >= MOST_SIZE {
            self.at.clear();
            self.planned.clear();
            self.size = 0;
        }
        let at = self.planned.len();
        self.size += plan.edges + plan.meshes.len();
        self.at.insert(self.graph.as_slice().into(), at);
        self.planned.push(plan);
        &mut self.planned[at]
    }
}

/// The order of elimination of a graph and the working arrays.
#[derive(Debug, Default)]
pub(super) struct Elimination {
    nodes: usize,
    /// Per node, the smallest node of its connected part.
    pub part: Vec<usize>,
    steps: Vec<Step>,
    spokes: Vec<Spoke>,
    /// Per step, the edges between each pair of its neighbours, in order of (a, b), a < b.
    meshes: Vec<Mesh>,
    /// Per branch, its edge and its direction there.
    edge_of: Vec<Option<(usize, f64)>>,
    edges: usize,
    siemens: Vec<f64>,
    amps: Vec<f64>,
    weight: Vec<f64>,
    emf: Vec<f64>,
    /// Per node, V against its part's reference, after [`Elimination::run`].
    pub volts: Vec<f64>,
}

#[derive(Debug, Clone, Copy)]
struct Step {
    node: usize,
    first: usize,
    last: usize,
}

/// An edge from a neighbour to the node that is taken out.
#[derive(Debug, Clone, Copy)]
struct Spoke {
    neighbour: usize,
    edge: usize,
    /// +1 if the edge's own direction is from the neighbour to the node.
    sign: f64,
}

#[derive(Debug, Clone, Copy)]
struct Mesh {
    edge: usize,
    sign: f64,
}

/// An edge's own direction is from its smaller to its larger node.
fn sign(from: usize, to: usize) -> f64 {
    if from < to { 1.0 } else { -1.0 }
}

fn edge_between(
    adjacent: &mut [Vec<(usize, usize)>],
    a: usize,
    b: usize,
    edges: &mut usize,
) -> usize {
    if let Some(&(_, edge)) = adjacent[a].iter().find(|&&(node, _)| node == b) {
        return edge;
    }
    let edge = *edges;
    *edges += 1;
    adjacent[a].push((b, edge));
    adjacent[b].push((a, edge));
    edge
}

impl Elimination {
    /// Plans the elimination of a graph of `nodes` nodes with these edges (each end < `nodes`).
    fn plan(nodes: usize, ends: impl Iterator<Item = (usize, usize)>) -> Elimination {
        let mut plan = Elimination { nodes, volts: vec![0.0; nodes], ..Elimination::default() };
        let mut adjacent: Vec<Vec<(usize, usize)>> = vec![Vec::new(); nodes];
        for (from, to) in ends {
            plan.edge_of.push(
                (from != to).then(|| {
                    (edge_between(&mut adjacent, from, to, &mut plan.edges), sign(from, to))
                }),
            );
        }
        plan.find_parts(&adjacent);
        plan.order(&mut adjacent);
        plan.weight.resize(plan.spokes.len(), 0.0);
        plan.emf.resize(plan.spokes.len(), 0.0);
        plan
    }

    fn find_parts(&mut self, adjacent: &[Vec<(usize, usize)>]) {
        self.part.clear();
        self.part.resize(self.nodes, usize::MAX);
        let mut open = Vec::new();
        for root in 0..self.nodes {
            if self.part[root] != usize::MAX {
                continue;
            }
            self.part[root] = root;
            open.push(root);
            while let Some(node) = open.pop() {
                for &(next, _) in &adjacent[node] {
                    if self.part[next] == usize::MAX {
                        self.part[next] = root;
                        open.push(next);
                    }
                }
            }
        }
    }

    /// Takes out the node with the fewest neighbours first, of equals the first one, which keeps tree-like wiring sparse.
    fn order(&mut self, adjacent: &mut [Vec<(usize, usize)>]) {
        let mut left = vec![true; self.nodes];
        // A node comes again each time the number of its neighbours changes; the entry of its present number counts.
        let entry =
            |node: usize, adjacent: &[Vec<(usize, usize)>]| Reverse((adjacent[node].len(), node));
        let mut next: BinaryHeap<Reverse<(usize, usize)>> =
            (0..self.nodes).map(|node| entry(node, adjacent)).collect();
        while let Some(Reverse((neighbours, node))) = next.pop() {
            if !left[node] || neighbours != adjacent[node].len() {
                continue;
            }
            left[node] = false;
            let around = std::mem::take(&mut adjacent[node]);
            let first = self.spokes.len();
            for &(neighbour, edge) in &around {
                adjacent[neighbour].retain(|&(other, _)| other != node);
                self.spokes.push(Spoke { neighbour, edge, sign: sign(neighbour, node) });
            }
            for (i, &(a, _)) in around.iter().enumerate() {
                for &(b, _) in &around[i + 1..] {
                    let edge = edge_between(adjacent, a, b, &mut self.edges);
                    self.meshes.push(Mesh { edge, sign: sign(a, b) });
                }
            }
            next.extend(around.iter().map(|&(neighbour, _)| entry(neighbour, adjacent)));
            self.steps.push(Step { node, first, last: self.spokes.len() });
        }
    }

    /// Solves for [`Elimination::volts`] with each branch's conductance (S, > 0) and short-circuit current (A, from its
    /// first to its second end). The last node taken out of each part is its reference.
    pub fn run(&mut self, branches: impl Iterator<Item = (f64, f64)>) {
        self.siemens.clear();
        self.siemens.resize(self.edges, 0.0);
        self.amps.clear();
        self.amps.resize(self.edges, 0.0);
        for (at, (siemens, amps)) in self.edge_of.iter().zip(branches) {
            if let Some((edge, sign)) = *at {
                self.siemens[edge] += siemens;
                self.amps[edge] += sign * amps;
            }
        }
        let mut meshes = self.meshes.iter();
        for step in &self.steps {
            let spokes = &self.spokes[step.first..step.last];
            let weight = &mut self.weight[step.first..step.last];
            let emf = &mut self.emf[step.first..step.last];
            let mut total = 0.0;
            for ((spoke, weight), emf) in spokes.iter().zip(&mut *weight).zip(&mut *emf) {
                let siemens = self.siemens[spoke.edge];
                total += siemens;
                *weight = siemens;
                // A coupling so weak that it has underflowed carries nothing.
                *emf =
                    if siemens > 0.0 { spoke.sign * self.amps[spoke.edge] / siemens } else { 0.0 };
            }
            for a in 0..spokes.len() {
                let siemens_a = weight[a];
                weight[a] = if total > 0.0 { siemens_a / total } else { 0.0 };
                for b in a + 1..spokes.len() {
                    if let Some(mesh) = meshes.next() {
                        let siemens = weight[a] * weight[b];
                        self.siemens[mesh.edge] += siemens;
                        self.amps[mesh.edge] += mesh.sign * siemens * (emf[a] - emf[b]);
                    }
                }
            }
        }
        for step in self.steps.iter().rev() {
            self.volts[step.node] = (step.first..step.last)
                .map(|at| self.weight[at] * (self.volts[self.spokes[at].neighbour] + self.emf[at]))
                .sum();
        }
    }
}
