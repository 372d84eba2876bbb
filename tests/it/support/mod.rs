//! What several tests share: random layouts, layouts redrawn, reports in a form that can be compared.

pub mod crowded;
pub mod dice;
pub mod edits;
pub mod feeding;
pub mod normal;
pub mod power;
pub mod random;
pub mod redrawn;
pub mod renamed;
pub mod schema;
pub mod shrink;
pub mod stock;
pub mod track;
pub mod yards;
