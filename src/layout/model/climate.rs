//! The room that a layout is in, and its rails.

use serde::{Deserialize, Serialize};

use crate::units::Quantity;

/// Resistance of one rail, Ω per m, when the file does not say: nickel silver at about 6 % IACS (from memory) and a
/// section of 1.5 to 4 mm².
pub fn default_rail_ohm_per_m() -> Quantity {
    Quantity::assumed(0.1, 0.07, 0.2)
}

/// The room that the layout stands in, and what it does to rails and benchwork.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Climate {
    /// Lowest temperature, °C.
    #[serde(default = "default_coldest_c")]
    pub coldest_c: f64,
    /// Highest temperature, °C.
    #[serde(default = "default_hottest_c")]
    pub hottest_c: f64,
    /// Thermal growth of the rail, µm per m and K.
    #[serde(default = "default_rail_um_per_m_k")]
    pub rail_um_per_m_k: f64,
    /// How much the benchwork shrinks between the dampest and the driest air, mm per m.
    #[serde(default = "default_benchwork_mm_per_m")]
    pub benchwork_mm_per_m: f64,
}

impl Default for Climate {
    fn default() -> Self {
        Self {
            coldest_c: default_coldest_c(),
            hottest_c: default_hottest_c(),
            rail_um_per_m_k: default_rail_um_per_m_k(),
            benchwork_mm_per_m: default_benchwork_mm_per_m(),
        }
    }
}

/// 15 °C: a room in winter (common practice, no source).
pub fn default_coldest_c() -> f64 {
    15.0
}

/// 28 °C: a room in summer (common practice, no source).
pub fn default_hottest_c() -> f64 {
    28.0
}

/// Nickel silver C75200: 16.2 µm/m·K (from memory).
pub fn default_rail_um_per_m_k() -> f64 {
    16.2
}

/// 0.1 mm per m: framed softwood along the grain (common practice, no source).
pub fn default_benchwork_mm_per_m() -> f64 {
    0.1
}
