//! What the window remembers from one run to the next, beside where its panels are: units, recent files, presets.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::layout::{Driver, EntityId, Supply, Vehicle};
use crate::report::Units;

/// Recent files that are kept.
const MOST_RECENT: usize = 10;

/// Equipment that the user keeps for use on any layout.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Preset {
    /// A driver with the supply that it had.
    Driver {
        /// What it is called.
        name: String,
        /// The driver.
        driver: Box<Driver>,
        /// Its supply.
        supply: Box<Supply>,
    },
    /// A supply.
    Supply {
        /// What it is called.
        name: String,
        /// The supply.
        supply: Box<Supply>,
    },
    /// A vehicle.
    Vehicle {
        /// What it is called.
        name: String,
        /// The vehicle.
        vehicle: Box<Vehicle>,
    },
}

impl Preset {
    /// What it is called.
    pub fn name(&self) -> &str {
        match self {
            Preset::Driver { name, .. }
            | Preset::Supply { name, .. }
            | Preset::Vehicle { name, .. } => name,
        }
    }

    /// Whether it is of the kind of a thing on the layout.
    pub fn is_like(&self, id: EntityId) -> bool {
        matches!(
            (self, id),
            (Preset::Driver { .. }, EntityId::Driver(_))
                | (Preset::Supply { .. }, EntityId::Supply(_))
                | (Preset::Vehicle { .. }, EntityId::Vehicle(_))
        )
    }
}

/// All of it. What an older or a newer program wrote is read as far as it is known.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Whether lengths are shown in inches.
    pub inches: bool,
    /// Whether places snap to the grid.
    pub snap: bool,
    /// Files that were opened or saved last, the latest first.
    pub recent: Vec<PathBuf>,
    /// The user's own equipment.
    pub presets: Vec<Preset>,
    /// Whether the first steps are not to be shown again.
    pub knows_first_steps: bool,
}

impl Default for Settings {
    fn default() -> Self {
        let (recent, presets) = Default::default();
        Self { inches: false, snap: true, recent, presets, knows_first_steps: false }
    }
}

impl Settings {
    /// Reads them. A text that is none gives the usual settings, and the reason.
    pub fn read(text: &str) -> (Self, Option<String>) {
        match ron::from_str(text) {
            Ok(settings) => (settings, None),
            Err(error) => (Self::default(), Some(error.to_string())),
        }
    }

    /// As a text.
    pub fn text(&self) -> String {
        ron::to_string(self).unwrap_or_default()
    }

    /// The units of lengths.
    pub fn units(&self) -> Units {
        if self.inches { Units::Imperial } else { Units::Metric }
    }

    /// Puts a file in front of the recent ones.
    pub fn used(&mut self, path: &Path) {
        let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
        self.recent.retain(|old| *old != path);
        self.recent.insert(0, path);
        self.recent.truncate(MOST_RECENT);
    }

    /// Keeps a preset; one of the same kind and name is replaced.
    pub fn keep(&mut self, preset: Preset) {
        let same = |old: &Preset| {
            old.name() == preset.name()
                && std::mem::discriminant(old) == std::mem::discriminant(&preset)
        };
        match self.presets.iter_mut().find(|old| same(old)) {
            Some(old) => *old = preset,
            None => self.presets.push(preset),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::defaults;

    #[test]
    fn they_survive_a_round_and_a_broken_text_is_no_harm() {
        let mut settings = Settings { inches: true, ..Settings::default() };
        settings.used(Path::new("/tmp/a.gapwright"));
        let name = "Branch engine".to_owned();
        settings.keep(Preset::Vehicle { name, vehicle: Box::new(defaults::long_diesel()) });
        assert_eq!(Settings::read(&settings.text()), (settings, None));
        let (usual, why) = Settings::read("(inches: 7");
        assert_eq!(usual, Settings::default());
        assert!(why.is_some());
        // What is not known is passed over.
        let (read, why) = Settings::read("(inches: true, of_a_later_day: 3)");
        assert!(read.inches && why.is_none(), "{why:?}");
    }

    #[test]
    fn recent_files_are_kept_once_and_ten_at_most() {
        let mut settings = Settings::default();
        for n in 0..15 {
            settings.used(Path::new(&format!("/tmp/{n}.gapwright")));
        }
        settings.used(Path::new("/tmp/12.gapwright"));
        assert_eq!(settings.recent.len(), 10);
        assert_eq!(settings.recent[0], Path::new("/tmp/12.gapwright"));
        assert_eq!(settings.recent.iter().filter(|p| p.ends_with("12.gapwright")).count(), 1);
    }
}
