//! Small piecewise-linear networks: resistors, sources, sources that cannot sink, diodes; solved and verified.
//!
//! The module knows no blocks, trains or drivers. Every branch carries `i = (v_from − v_to + volts) / ohm`; a one-way
//! branch carries only `i ≥ 0`. Such a network is monotone, so it has one solution, whatever the order of its nodes and
//! whichever state its diodes were first guessed to be in.
//!
//! ```
//! use gapwright::circuit::{Network, solve};
//!
//! // A 14 V supply that cannot sink, behind 0.05 Ω, feeds a load of 6.55 Ω through a diode.
//! let mut net = Network::default();
//! let (minus, plus, load) = (net.node(), net.node(), net.node());
//! let supply = net.one_way_source(minus, plus, 14.0, 0.05);
//! let diode = net.diode(plus, load, 0.7, 0.05);
//! net.resistor(load, minus, 6.55);
//! let solution = solve(&net)?;
//! assert!((solution.amps(supply) - 2.0).abs() < 1e-9);
//! assert!((solution.amps(diode) - 2.0).abs() < 1e-9);
//! assert!((solution.between(plus, minus).unwrap_or(0.0) - 13.9).abs() < 1e-9);
//! # Ok::<(), gapwright::circuit::Unsolved>(())
//! ```
mod eliminate;
mod extremes;
mod network;
mod solve;

pub use extremes::{Extremes, FigureAt, Param, ParamRange, extremes};
pub use network::{
    Branch, BranchId, DIODE_LEAK_SIEMENS, MAX_OHM, MAX_VOLTS, MIN_OHM, Network, Node,
    SOURCE_LEAK_SIEMENS,
};
pub use solve::{Sensitivity, Solution, Unsolved, solve, solve_from};

#[cfg(test)]
mod tests;
