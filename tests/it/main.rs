//! Tests of the engine and the command line from the outside: a layout in, findings and figures out.
#![allow(clippy::unwrap_used)]

mod budgets;
mod bulk;
mod cases;
mod cli;
mod compare;
mod cures;
mod decided;
mod diagnosis;
mod drives;
mod findings;
mod islands;
mod json;
mod laws;
mod loops;
mod outside;
mod papers;
mod pictures;
mod planning;
mod planning_random;
mod planning_sections;
mod reliable;
mod samples;
mod scope;
mod special;
mod standing;
mod support;
mod trains;
mod what_ifs;
mod wiring;
