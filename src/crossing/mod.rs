//! crossing
