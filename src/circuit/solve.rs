//! Which one-way branches conduct, what flows, and how that changes with the values.
use std::cell::RefCell;

use super::eliminate::{Elimination, Eliminations};
use super::network::{
    Branch, BranchId, DIODE_LEAK_SIEMENS, MAX_OHM, MAX_VOLTS, MIN_OHM, Network, Node,
    SOURCE_LEAK_SIEMENS,
};

/// Why a network has no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Unsolved {
    /// A resistance is not a number or out of [`MIN_OHM`] to [`MAX_OHM`].
    #[error("branch {}: a resistance of {ohm} Ω is not within 1 mΩ to 1 TΩ", branch.0)]
    Ohm {
        /// Which branch.
        branch: BranchId,
        /// Its resistance, Ω.
        ohm: f64,
    },
    /// A source voltage is not a number or beyond [`MAX_VOLTS`].
    #[error("branch {}: a voltage of {volts} V is not a finite voltage within reason", branch.0)]
    Volts {
        /// Which branch.
        branch: BranchId,
        /// Its source voltage, V.
        volts: f64,
    },
    /// A branch ends at a node that the network does not have.
    #[error("branch {}: it ends at a node of another network", branch.0)]
    Node {
        /// Which branch.
        branch: BranchId,
    },
    /// No state of the one-way branches was found that could be verified.
    #[error(
        "no verified state of the {one_way} diodes and one-way sources was found in {tried} tries"
    )]
    NoState {
        /// How many one-way branches there are.
        one_way: usize,
        /// How many states were tried.
        tried: usize,
    },
}

/// A verified solution. Its methods take nodes and branches of the network it was made from; any other index panics, as
/// it would on a slice, except in [`Solution::between`].
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    volts: Vec<f64>,
    part: Vec<usize>,
    amps: Vec<f64>,
    conducting: Vec<bool>,
}

/// How a weighted sum of branch currents changes with each branch's values.
#[derive(Debug, Clone, PartialEq)]
pub struct Sensitivity {
    /// Per branch: A per Ω of its resistance.
    pub per_ohm: Vec<f64>,
    /// Per branch: A per V of its [`Branch::volts`] (of a diode: per V of the *negative* of its forward voltage).
    pub per_volt: Vec<f64>,
}

impl Solution {
    /// A node's voltage, V, against an arbitrary reference of its connected part.
    pub fn volts(&self, node: Node) -> f64 {
        self.volts[node.0]
    }

    /// `a`'s voltage above `b`, V; none if no chain of branches, conducting or not, joins them.
    pub fn between(&self, a: Node, b: Node) -> Option<f64> {
        let joined = self.part.get(a.0)? == self.part.get(b.0)?;
        joined.then(|| self.volts[a.0] - self.volts[b.0])
    }

    /// A branch's current, A. A one-way branch that is off carries exactly 0: its leak is not shown.
    pub fn amps(&self, branch: BranchId) -> f64 {
        self.amps[branch.0]
    }

    /// Per branch, whether it conducts; always true for one that is not one-way. May differ between two ways to the same
    /// solution only for a branch with neither current nor voltage to block.
    pub fn conducting(&self) -> &[bool] {
        &self.conducting
    }

    /// How `Σ weight·i` over the given branches changes with each branch's values while the diodes keep their states, by
    /// one adjoint solve: by reciprocity `∂i/∂E_k` is the current `î_k` that the weights, put in as sources, drive through
    /// branch k, and a resistance acts as a source of `−i_k` per Ω. Branches that are off count with 0. `net` is the
    /// network that was solved; branches of others in `figure` are ignored.
    pub fn sensitivity(&self, net: &Network, figure: &[(BranchId, f64)]) -> Sensitivity {
        let branches = net.branches();
        let count = branches.len().min(self.amps.len());
        let branches = &branches[..count];
        let mut weights = vec![0.0; count];
        for &(branch, weight) in figure {
            if self.conducting.get(branch.0).copied().unwrap_or(false) && branch.0 < count {
                weights[branch.0] += weight;
            }
        }
        let per_volt: Vec<f64> = with_workspace(net.node_count(), branches, |work| {
            work.run(branches.iter().zip(&self.conducting).zip(&weights).map(
                |((b, on), weight)| {
                    let (siemens, _) = norton(b, b.ohm, *on);
                    (siemens, if *on { weight / b.ohm } else { 0.0 })
                },
            ));
            branches
                .iter()
                .zip(&self.conducting)
                .zip(&weights)
                .map(
                    |((b, on), weight)| {
                        if *on { (across(b, &work.volts) + weight) / b.ohm } else { 0.0 }
                    },
                )
                .collect()
        });
        let per_ohm = per_volt.iter().zip(&self.amps).map(|(hat, amps)| -amps * hat).collect();
        Sensitivity { per_ohm, per_volt }
    }
}

thread_local! {
    static WORKSPACE: RefCell<Eliminations> = RefCell::default();
}

/// Runs with the thread's plan and working arrays for the graph of some branches, so that many solves of one graph plan
/// and allocate once.
fn with_workspace<T>(
    nodes: usize,
    branches: &[Branch],
    run: impl FnOnce(&mut Elimination) -> T,
) -> T {
    let ends = branches.iter().map(|branch| (branch.from.0, branch.to.0));
    WORKSPACE.with(|work| match work.try_borrow_mut() {
        Ok(mut work) => run(work.of(nodes, ends)),
        Err(_) => run(Eliminations::default().of(nodes, ends)),
    })
}

/// Conductance and short-circuit current of a branch in a state, its leak included.
fn norton(branch: &Branch, ohm: f64, on: bool) -> (f64, f64) {
    let siemens = 1.0 / ohm;
    match (branch.one_way, branch.diode, on) {
        (false, _, _) | (true, false, true) => (siemens, siemens * branch.volts),
        (true, false, false) => (SOURCE_LEAK_SIEMENS, SOURCE_LEAK_SIEMENS * branch.volts),
        (true, true, true) => (siemens + DIODE_LEAK_SIEMENS, siemens * branch.volts),
        (true, true, false) => (DIODE_LEAK_SIEMENS, 0.0),
    }
}

fn across(branch: &Branch, volts: &[f64]) -> f64 {
    volts[branch.from.0] - volts[branch.to.0]
}

/// Solves a network.
///
/// # Errors
/// A value out of range, or no state of the one-way branches that could be verified. See [`solve_from`].
pub fn solve(net: &Network) -> Result<Solution, Unsolved> {
    solve_from(net, &[])
}

/// Solves a network from a guess, per branch, of which one-way branches conduct; where the guess is silent, sources do
/// and diodes do not. The guess can change the time it takes and nothing else.
///
/// All branches whose state is contradicted are flipped for some rounds; then only the first of them (Murty's
/// least-index principal pivoting, finite because every one-way branch has a resistance); then, up to 16 one-way
/// branches, all states are tried.
///
/// A branch that carries no more than a leak's current is decided apart, so that floating parts, too, have one answer:
/// voltages that only leaks hold are good to some 10⁻⁵·E, all others to 10⁻¹²·E.
///
/// The answer is verified: with E the largest source voltage in the network, no one-way branch conducts with less than
/// −10⁻¹³·E across its resistance, none blocks more than +10⁻¹³·E, and at each node the currents, leaks included, add up
/// to 0 within 10⁻⁹ of their sum of magnitudes and the rounding of the voltages. Where rounding alone makes two states
/// look wrong, the tolerance is widened, at most to 10⁻⁹·E.
///
/// # Errors
/// A value out of range, or no state of the one-way branches that could be verified: never an unverified answer.
pub fn solve_from(net: &Network, hint: &[bool]) -> Result<Solution, Unsolved> {
    validate(net)?;
    with_workspace(net.node_count(), net.branches(), |work| {
        let mut search = Search::new(net, work);
        for tolerance in [1e-13, 1e-11, 1e-9] {
            search.tolerance = tolerance * search.scale;
            search.guess(hint);
            if search.settle() && search.decide_faint() && search.verified() {
                return Ok(search.solution());
            }
        }
        search.tolerance = 1e-11 * search.scale;
        search.own_resistances();
        if search.enumerate() { Ok(search.solution()) } else { Err(search.unsolved()) }
    })
}

fn validate(net: &Network) -> Result<(), Unsolved> {
    for (at, branch) in net.branches().iter().enumerate() {
        let id = BranchId(at);
        if !(MIN_OHM..=MAX_OHM).contains(&branch.ohm) {
            return Err(Unsolved::Ohm { branch: id, ohm: branch.ohm });
        }
        if branch.volts.is_nan() || branch.volts.abs() > MAX_VOLTS {
            return Err(Unsolved::Volts { branch: id, volts: branch.volts });
        }
        if branch.from.0 >= net.node_count() || branch.to.0 >= net.node_count() {
            return Err(Unsolved::Node { branch: id });
        }
    }
    Ok(())
}

/// Flips in one go before least-index pivoting takes over.
const ROUNDS: usize = 12;
/// The most one-way branches whose states are all tried.
const ENUMERABLE: usize = 16;
/// Stands in for the resistance of a branch that carries a leak's current, Ω.
const FAINT_OHM: f64 = 1e3;
/// What a branch may carry, A per V of the largest source, to be so treated.
const FAINT_AMPS_PER_VOLT: f64 = 1e-8;

struct Search<'a> {
    branches: &'a [Branch],
    work: &'a mut Elimination,
    one_way: Vec<usize>,
    on: Vec<bool>,
    /// Per branch, the resistance to work with, Ω.
    ohm: Vec<f64>,
    /// The largest source voltage, V.
    scale: f64,
    tolerance: f64,
    tried: usize,
}

impl<'a> Search<'a> {
    fn new(net: &'a Network, work: &'a mut Elimination) -> Self {
        let branches = net.branches();
        Self {
            branches,
            work,
            one_way: (0..branches.len()).filter(|&k| branches[k].one_way).collect(),
            on: Vec::with_capacity(branches.len()),
            ohm: Vec::with_capacity(branches.len()),
            scale: branches.iter().fold(0.0, |most, b| b.volts.abs().max(most)),
            tolerance: 0.0,
            tried: 0,
        }
    }

    fn guess(&mut self, hint: &[bool]) {
        self.own_resistances();
        self.on.clear();
        self.on.extend(
            self.branches.iter().enumerate().map(|(k, b)| {
                !b.one_way || hint.get(k).copied().unwrap_or(!b.diode && b.volts > 0.0)
            }),
        );
    }

    fn evaluate(&mut self) {
        self.tried += 1;
        let values = self.branches.iter().zip(&self.ohm).zip(&self.on);
        self.work.run(values.map(|((branch, &ohm), &on)| norton(branch, ohm, on)));
    }

    /// Forward voltage that drives the branch's current through its resistance, V.
    fn drive(&self, k: usize) -> f64 {
        across(&self.branches[k], &self.work.volts) + self.branches[k].volts
    }

    fn violated(&self, k: usize) -> bool {
        let drive = self.drive(k);
        if self.on[k] { drive < -self.tolerance } else { drive > self.tolerance }
    }

    /// Brings the one-way branches into a state that none of them contradicts.
    fn settle(&mut self) -> bool {
        self.flip_all() || self.pivot()
    }

    /// Flips all contradicted branches at once, for some rounds.
    fn flip_all(&mut self) -> bool {
        for _ in 0..ROUNDS {
            self.evaluate();
            let mut flipped = false;
            for at in 0..self.one_way.len() {
                let k = self.one_way[at];
                if self.violated(k) {
                    self.on[k] = !self.on[k];
                    flipped = true;
                }
            }
            if !flipped {
                return true;
            }
        }
        false
    }

    /// Flips the first contradicted branch (Murty). Finite, but how long it may take is bounded here.
    fn pivot(&mut self) -> bool {
        for _ in 0..200 + 50 * self.one_way.len() {
            self.evaluate();
            match self.one_way.iter().copied().find(|&k| self.violated(k)) {
                Some(k) => self.on[k] = !self.on[k],
                None => return true,
            }
        }
        false
    }

    /// Decides the branches that conduct no more than a leak's current through so small a resistance that its sign drowns
    /// in rounding; a wrong sign would hide the voltage that such a branch has to block. With [`FAINT_OHM`] in its place
    /// the sign shows and nothing else changes, for so small a current drops nothing there. One that then turns out to
    /// carry more gets its own resistance back.
    fn decide_faint(&mut self) -> bool {
        let faint = |search: &Self, k: usize| search.on[k] && search.drive(k) <= search.tolerance;
        if !self.one_way.iter().any(|&k| faint(self, k)) {
            return true;
        }
        let mut seen = vec![false; self.branches.len()];
        loop {
            let mut changed = false;
            for at in 0..self.one_way.len() {
                let k = self.one_way[at];
                if self.ohm[k] != self.branches[k].ohm {
                    if self.on[k] && self.drive(k) > FAINT_AMPS_PER_VOLT * self.scale * self.ohm[k]
                    {
                        self.ohm[k] = self.branches[k].ohm;
                        changed = true;
                    }
                } else if !seen[k] && faint(self, k) && self.ohm[k] < FAINT_OHM {
                    seen[k] = true;
                    self.ohm[k] = FAINT_OHM;
                    changed = true;
                }
            }
            if !changed {
                break;
            }
            if !self.settle() {
                return false;
            }
        }
        self.own_resistances();
        self.evaluate();
        !self.one_way.iter().any(|&k| self.violated(k)) || self.settle()
    }

    fn own_resistances(&mut self) {
        self.ohm.clear();
        self.ohm.extend(self.branches.iter().map(|b| b.ohm));
    }

    fn amps(&self, k: usize) -> f64 {
        let branch = &self.branches[k];
        match (branch.one_way, self.on[k]) {
            (false, _) => self.drive(k) / branch.ohm,
            (true, true) => (self.drive(k) / branch.ohm).max(0.0),
            (true, false) => 0.0,
        }
    }

    fn verified(&self) -> bool {
        if self.one_way.iter().any(|&k| self.violated(k)) {
            return false;
        }
        let nodes = self.work.volts.len();
        let (mut sum, mut allowed) = (vec![0.0; nodes], vec![1e-12 * self.scale; nodes]);
        for (branch, &on) in self.branches.iter().zip(&self.on) {
            let (siemens, short) = norton(branch, branch.ohm, on);
            let amps = siemens * across(branch, &self.work.volts) + short;
            let slack = 1e-9 * amps.abs() + 1e-12 * siemens * self.scale;
            let (from, to) = (branch.from.0, branch.to.0);
            sum[from] -= amps;
            sum[to] += amps;
            allowed[from] += slack;
            allowed[to] += slack;
        }
        // Written so that a NaN fails.
        sum.iter().zip(&allowed).all(|(sum, allowed)| sum.abs() <= *allowed)
    }

    fn enumerate(&mut self) -> bool {
        if self.one_way.len() > ENUMERABLE {
            return false;
        }
        for state in 0..1_usize << self.one_way.len() {
            for (bit, &k) in self.one_way.iter().enumerate() {
                self.on[k] = state >> bit & 1 == 1;
            }
            self.evaluate();
            if self.verified() {
                return true;
            }
        }
        false
    }

    fn solution(self) -> Solution {
        Solution {
            amps: (0..self.branches.len()).map(|k| self.amps(k)).collect(),
            volts: self.work.volts.clone(),
            part: self.work.part.clone(),
            conducting: self.on,
        }
    }

    fn unsolved(&self) -> Unsolved {
        Unsolved::NoState { one_way: self.one_way.len(), tried: self.tried }
    }
}

/// The solution by least-index pivoting alone and by trying all states alone, which [`solve`] seldom needs.
#[cfg(test)]
pub(super) fn solve_the_slow_ways(net: &Network, hint: &[bool]) -> [Option<Solution>; 2] {
    [false, true].map(|all_states| {
        with_workspace(net.node_count(), net.branches(), |work| {
            let mut search = Search::new(net, work);
            search.tolerance = 1e-13 * search.scale;
            search.guess(hint);
            let found = if all_states {
                search.enumerate()
            } else {
                search.pivot() && search.decide_faint() && search.verified()
            };
            found.then(|| search.solution())
        })
    })
}
