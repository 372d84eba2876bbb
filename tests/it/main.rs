//! Tests of the engine and the command line from the outside: a layout in, findings and figures out.
#![allow(clippy::unwrap_used)]

mod outside;
mod findings;
mod laws;
mod cli;
mod samples;
