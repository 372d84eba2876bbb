//! The engine against what no one here wrote: ngspice, published standards, other programs' graph walks, and facts that
//! people of the trade know.

mod balance;
mod bench;
mod cases;
mod coins;
mod deck;
mod large;
mod nets;
mod ngspice;
mod plans;
mod spice;
mod standards;
mod standing;
mod trade;
mod turnouts;
mod waveforms;
mod worked;
