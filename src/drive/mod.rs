//! drive
