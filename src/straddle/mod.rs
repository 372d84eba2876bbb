//! From train geometry to contacts, and from a cut to the numeric case of its electrical neighbourhood.
//!
//! [`path`] walks the track around a cut, [`contacts`] stands vehicles on it, [`case`] collects the drivers that matter
//! and [`chain`] the devices on the way from them, [`assemble`] builds the circuit of one moment. Everything in a case has
//! an index of a type of its own ([`ix`]). No words for people are made here.

pub mod assemble;
pub mod case;
pub mod chain;
pub mod contacts;
pub mod ix;
pub mod part;
pub mod path;
pub mod rake;
