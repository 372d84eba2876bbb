//! Periodic schedules against each other: shares of time, figures, longest runs, trips, meters.
//!
//! This room knows no track and no words. What it takes is one [`Beat`] per driver (a periodic schedule of parts) and a
//! table of values, one per *joint state* (one part of every beat, see [`Joint`]). What it gives is exact: every figure
//! is a closed form over the merged edges of the schedules, nothing is sampled. Scaling every time by one factor changes
//! nothing but times.
//!
//! # Phases
//! A beat's *phase* is a delay: its first part begins at `phase * period_s` after time zero. Beats of one clock with
//! known phases are one rigid pattern. All other phases are free, each uniform over its circle. Between coincidences of
//! an edge of one beat with an edge of another, or with an end of the window, every mean over time is linear in the phases
//! and a first-order filter's output is linear in `exp(phase/τ)`; so extremes lie at coincidences, and only those are
//! evaluated.
//!
//! # How exact
//! Two free patterns are exact whenever their periods are in a ratio of whole numbers of up to some thousand together,
//! which all usual frequencies are. Otherwise the nearest such ratio stands in, and three and more free patterns are
//! bounded by the two that matter most, with the worst of the others at every instant. Patterns of so many edges that not
//! every coincidence can be evaluated are looked at on a grid of phases, and what can lie between is added. All of these are
//! marked `exact: false`; how far each can be off is in `stand_in`.
mod beat;
mod figures;
mod filter;
mod free;
mod hops;
mod inductance;
mod inrush;
mod longest;
mod pair;
mod phase;
mod range;
mod runs;
mod sampled;
mod spread;
mod stand_in;
mod thermal;
mod trip;
mod triple;
mod waveform;
mod work;

#[cfg(test)]
mod brute;
#[cfg(test)]
mod laws;

pub use beat::{Beat, ClockId, Joint, Part};
pub use figures::{Figures, Meters, figures, meters, shares};
pub use free::{Free, free, phases, repeats_after_s};
pub use inductance::{UH_PER_M_OF_PAIR, pair_inductance_h, resistive_after_s};
pub use inrush::{Inrush, InrushTrip, inrush};
pub use longest::{Longest, NotComputed, longest};
pub use phase::{PhaseCase, phase_case};
pub use range::{FiguresRange, figures_range};
pub use spread::{Spread, mean_spread, rms_spread, share_spread};
pub use thermal::{Curve, MOST_POINTS};
pub use trip::{Trip, TripOutcome, Trips, trip, trip_acts};
pub use waveform::{Stretch, waveform};
