//! A network as it is put together.

/// A node of one [`Network`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Node(pub usize);

/// A branch of one [`Network`], by its place in the order in which branches were added.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BranchId(pub usize);

/// The least resistance a branch may have, Ω. Below it [`solve`](super::solve) answers with an error.
pub const MIN_OHM: f64 = 1e-3;
/// The largest resistance a branch may have, Ω. What is more open than this is left out of the network.
pub const MAX_OHM: f64 = 1e12;
/// The largest magnitude of a branch's source voltage, V.
pub const MAX_VOLTS: f64 = 1e9;
/// What an off one-way source still lets through, S, so that a floating pole settles. Never shown in a current.
pub const SOURCE_LEAK_SIEMENS: f64 = 1e-9;
/// What a diode lets through, S, so that a floating part settles. Never shown in a current. A hundredth of a source's
/// leak, so that a floating pole settles at its own supply's voltage and not at half of another's.
pub const DIODE_LEAK_SIEMENS: f64 = 1e-11;

/// A branch: `i = (v_from − v_to + volts) / ohm`, positive from `from` to `to` through it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Branch {
    /// Where the current enters.
    pub from: Node,
    /// Where the current leaves.
    pub to: Node,
    /// Source voltage, V, driving from `from` to `to`. A diode's is the negative of its forward voltage.
    pub volts: f64,
    /// Series resistance, Ω.
    pub ohm: f64,
    /// Whether it carries only `i ≥ 0`.
    pub one_way: bool,
    /// Whether its leak is a diode's (across its two nodes, [`DIODE_LEAK_SIEMENS`]) and not a one-way source's (in
    /// series with `volts`, [`SOURCE_LEAK_SIEMENS`]).
    pub diode: bool,
}

/// A network of two-ended branches. Values are checked by [`solve`](super::solve), not here.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Network {
    nodes: usize,
    branches: Vec<Branch>,
}

impl Network {
    /// An empty network with room for some branches.
    pub fn with_capacity(branches: usize) -> Network {
        Network { nodes: 0, branches: Vec::with_capacity(branches) }
    }

    /// Adds a node.
    pub fn node(&mut self) -> Node {
        self.nodes += 1;
        Node(self.nodes - 1)
    }

    /// Adds a resistor; current is positive from `a` to `b`.
    pub fn resistor(&mut self, a: Node, b: Node, ohm: f64) -> BranchId {
        self.add(Branch { from: a, to: b, volts: 0.0, ohm, one_way: false, diode: false })
    }

    /// Adds a source of `volts` behind `ohm`; current is positive out of `plus`.
    pub fn source(&mut self, minus: Node, plus: Node, volts: f64, ohm: f64) -> BranchId {
        self.add(Branch { from: minus, to: plus, volts, ohm, one_way: false, diode: false })
    }

    /// Adds a source in series with an ideal diode: it feeds and cannot sink.
    pub fn one_way_source(&mut self, minus: Node, plus: Node, volts: f64, ohm: f64) -> BranchId {
        self.add(Branch { from: minus, to: plus, volts, ohm, one_way: true, diode: false })
    }

    /// Adds a diode of forward voltage `vf` (V) in series with `ohm`. Its [`Branch::volts`] is `−vf`.
    pub fn diode(&mut self, anode: Node, cathode: Node, vf: f64, ohm: f64) -> BranchId {
        self.add(Branch { from: anode, to: cathode, volts: -vf, ohm, one_way: true, diode: true })
    }

    /// Adds a branch as it is given.
    pub fn add(&mut self, branch: Branch) -> BranchId {
        self.branches.push(branch);
        BranchId(self.branches.len() - 1)
    }

    /// Sets a branch's series resistance, Ω. A branch that is not of this network is ignored.
    pub fn set_ohm(&mut self, id: BranchId, ohm: f64) {
        if let Some(branch) = self.branches.get_mut(id.0) {
            branch.ohm = ohm;
        }
    }

    /// Sets a branch's source voltage, V: for a diode the *negative* of its forward voltage. A branch that is not of
    /// this network is ignored.
    pub fn set_volts(&mut self, id: BranchId, volts: f64) {
        if let Some(branch) = self.branches.get_mut(id.0) {
            branch.volts = volts;
        }
    }

    /// How many nodes there are; they are `Node(0)` and up.
    pub fn node_count(&self) -> usize {
        self.nodes
    }

    /// The branches, in the order of their ids.
    pub fn branches(&self) -> &[Branch] {
        &self.branches
    }

    /// One branch, if it is of this network.
    pub fn branch(&self, id: BranchId) -> Option<&Branch> {
        self.branches.get(id.0)
    }
}
