//! rails
