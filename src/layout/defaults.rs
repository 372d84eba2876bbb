//! What a new supply, driver or vehicle starts from.
