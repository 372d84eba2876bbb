//! Cautions: what to mind before following an advice.

/// A danger of following an advice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Caution {
    /// Rails are sawn or ground.
    Saw,
    /// Rails or wires are soldered.
    Solder,
    /// Wires are moved, exchanged or added.
    Rewire,
    /// Something is measured under power.
    Measure,
    /// A trip, a fuse or a supply is changed.
    Guard,
    /// Mains wiring is near.
    Mains,
    /// Hands are on rails, wires or terminals.
    Power,
    /// Something is soldered for a while.
    Fumes,
    /// A wire is new, or comes from a supply that can heat it.
    Fuse,
    /// A supply is bought or connected.
    Listed,
}

impl Caution {
    /// One line for a person.
    pub fn line(self) -> &'static str {
        match self {
            Caution::Saw => {
                "Before you saw or grind a rail, switch all supplies off and take the trains away; wear eye protection."
            }
            Caution::Solder => {
                "Before you solder, switch all supplies off; hot rail stays hot, and melts ties and insulated joiners."
            }
            Caution::Rewire => "Before you change wires, switch all supplies off.",
            Caution::Measure => {
                "Under power, measure on the track side only, one probe at a time. The earthed clip of an oscilloscope \
                 shorts a bridge's output: measure between two probes instead."
            }
            Caution::Guard => {
                "Never set a trip, a fuse or a supply above what the thinnest wire behind it stands, and never bridge a fuse."
            }
            Caution::Mains => {
                "Leave mains wiring to a qualified person. Never disconnect a protective earth."
            }
            Caution::Power => {
                "Unplug every supply, not only its switch, and let the capacitors discharge: a meter must show no volts before \
                 you touch rails, wires or terminals."
            }
            Caution::Fumes => {
                "Solder where the air moves, keep your face out of the fumes, and wash your hands after it."
            }
            Caution::Fuse => {
                "Put a fuse, or a breaker, behind each supply that acts before the thinnest wire behind it gets hot."
            }
            Caution::Listed => {
                "Use mains only through listed supplies in closed cases. Local codes come first, and what they keep for a \
                 licensed electrician is for one."
            }
        }
    }
}
