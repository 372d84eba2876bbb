//! What the window remembers from one run to the next: units, snapping, recent files, presets. Its size and place, its
//! panels, the theme and the scale are remembered by `eframe`.
//!
//! A further thing to remember is a field of [`Settings`] and a line in `onto`.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::layout::{Driver, EntityId, Supply, Vehicle, write_whole};
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

    /// Whether it is of the same kind and name.
    fn is_one_with(&self, other: &Self) -> bool {
        self.name() == other.name() && std::mem::discriminant(self) == std::mem::discriminant(other)
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
    /// Whether the panel on the right is put away.
    pub side_hidden: bool,
    /// Whether the first steps are not to be shown again.
    pub knows_first_steps: bool,
    /// Where the presenter's look is seen from.
    pub room: super::presenter::Room,
    /// Groups of the list of everything that were folded or unfolded, by title: whether they are unfolded.
    pub unfolded: BTreeMap<String, bool>,
    /// From where the recent layouts were looked at last.
    pub views: Vec<View>,
}

/// From where a layout was looked at last.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct View {
    /// Its file.
    pub path: PathBuf,
    /// Point of the plan in the middle of the canvas, mm.
    pub centre_mm: (f64, f64),
    /// Points per mm.
    pub scale: f64,
}

impl Default for Settings {
    fn default() -> Self {
        let (recent, presets, unfolded, views) = Default::default();
        Self {
            inches: false,
            snap: true,
            recent,
            presets,
            side_hidden: false,
            knows_first_steps: false,
            room: Default::default(),
            unfolded,
            views,
        }
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
    fn text(&self) -> io::Result<String> {
        ron::to_string(self).map_err(io::Error::other)
    }

    /// The units of lengths.
    pub fn units(&self) -> Units {
        if self.inches { Units::Imperial } else { Units::Metric }
    }

    /// Puts a file in front of the recent ones.
    pub fn used(&mut self, path: &Path) {
        let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
        // A path that is no text cannot be written down.
        if path.to_str().is_none() {
            return;
        }
        self.recent.retain(|old| *old != path);
        self.recent.insert(0, path);
        self.recent.truncate(MOST_RECENT);
    }

    /// Remembers from where the layout in a file is looked at, for as many files as there are recent ones.
    pub fn seen(&mut self, path: &Path, centre_mm: (f64, f64), scale: f64) {
        let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
        if path.to_str().is_none() {
            return;
        }
        self.views.retain(|view| view.path != path);
        self.views.insert(0, View { path, centre_mm, scale });
        self.views.truncate(MOST_RECENT);
    }

    /// From where the layout in a file was looked at last.
    pub fn view(&self, path: &Path) -> Option<&View> {
        let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
        let sound = |view: &&View| {
            let (x, y) = view.centre_mm;
            view.path == path && x.is_finite() && y.is_finite() && view.scale.is_finite()
        };
        self.views.iter().find(sound)
    }

    /// Keeps a preset; one of the same kind and name is replaced.
    pub fn keep(&mut self, preset: Preset) {
        match self.presets.iter_mut().find(|old| old.is_one_with(&preset)) {
            Some(old) => *old = preset,
            None => self.presets.push(preset),
        }
    }

    /// What this window changed since `base`, done to what another window made of `base` meanwhile.
    fn onto(&self, base: &Self, theirs: &Self) -> Self {
        let recent_same = |a: &PathBuf, b: &PathBuf| a == b;
        let mut recent = joined(&base.recent, &self.recent, &theirs.recent, recent_same);
        recent.truncate(MOST_RECENT);
        Self {
            inches: later(base.inches, self.inches, theirs.inches),
            snap: later(base.snap, self.snap, theirs.snap),
            recent,
            presets: joined(&base.presets, &self.presets, &theirs.presets, Preset::is_one_with),
            side_hidden: later(base.side_hidden, self.side_hidden, theirs.side_hidden),
            room: later(base.room, self.room, theirs.room),
            knows_first_steps: later(
                base.knows_first_steps,
                self.knows_first_steps,
                theirs.knows_first_steps,
            ),
            unfolded: later(&base.unfolded, &self.unfolded, &theirs.unfolded).clone(),
            views: later(&base.views, &self.views, &theirs.views).clone(),
        }
    }
}

fn later<T: PartialEq>(base: T, mine: T, theirs: T) -> T {
    if mine == base { theirs } else { mine }
}

/// Two lists that came of one, as one: what either added is in it, what either took away is not.
fn joined<T: Clone + PartialEq>(
    base: &[T],
    mine: &[T],
    theirs: &[T],
    same: impl Fn(&T, &T) -> bool,
) -> Vec<T> {
    let in_list = |list: &[T], one: &T| list.iter().find(|other| same(other, one)).cloned();
    let kept = mine.iter().filter_map(|one| {
        if base.contains(one) { in_list(theirs, one) } else { Some(one.clone()) }
    });
    let added = theirs
        .iter()
        .filter(|one| in_list(mine, one).is_none() && in_list(base, one).is_none())
        .cloned();
    kept.chain(added).collect()
}

/// The settings in their file, which several windows may have open at once.
#[derive(Debug)]
pub struct Remembered {
    file: PathBuf,
    /// What this window's settings were when it last read or wrote the file.
    base: Settings,
}

impl Remembered {
    /// Reads the settings. What does not read is set aside, so that it is not written over: the usual settings are
    /// given then, and in words what happened.
    pub fn open(file: &Path) -> (Self, Settings, Option<String>) {
        let (settings, wrong) = match fs::read_to_string(file) {
            Ok(text) => Settings::read(&text),
            Err(error) if error.kind() == io::ErrorKind::NotFound => (Settings::default(), None),
            Err(error) => (Settings::default(), Some(error.to_string())),
        };
        let wrong = wrong.map(|why| {
            let aside = file.with_extension("unreadable");
            let lies = match fs::rename(file, &aside) {
                Ok(()) => format!("What it was is set aside in {}", aside.display()),
                Err(_) => format!("It is in {}", file.display()),
            };
            format!(
                "What the window remembered could not be read ({why}). {lies}. The window starts as if it were new; \
                 layouts are not concerned."
            )
        });
        (Self { file: file.to_owned(), base: settings.clone() }, settings, wrong)
    }

    /// Writes the settings if they changed. What another window wrote meanwhile is kept as well.
    ///
    /// # Errors
    /// When they cannot be written; the same settings are not tried again.
    pub fn write(&mut self, settings: &Settings) -> io::Result<()> {
        if *settings == self.base {
            return Ok(());
        }
        let base = std::mem::replace(&mut self.base, settings.clone());
        let theirs = fs::read_to_string(&self.file).ok().map(|text| Settings::read(&text));
        let whole = match theirs {
            Some((theirs, None)) => settings.onto(&base, &theirs),
            _ => settings.clone(),
        };
        if let Some(folder) = self.file.parent() {
            fs::create_dir_all(folder)?;
        }
        write_whole(&whole.text()?, &self.file)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::layout::defaults;

    fn engine(name: &str) -> Preset {
        Preset::Vehicle { name: name.to_owned(), vehicle: Box::new(defaults::long_diesel()) }
    }

    #[test]
    fn two_windows_do_not_write_over_each_other() {
        let folder = tempfile::tempdir().unwrap();
        // The folder is made when it is needed.
        let file = folder.path().join("new/settings.ron");
        let (mut one, mut first, wrong) = Remembered::open(&file);
        assert_eq!((first.clone(), wrong), (Settings::default(), None));
        first.keep(engine("Old"));
        first.used(Path::new("/tmp/old.gapwright"));
        one.write(&first).unwrap();
        let (mut two, mut second, _) = Remembered::open(&file);
        assert_eq!(second, first);

        second.keep(engine("New"));
        second.presets.retain(|preset| preset.name() != "Old");
        second.inches = true;
        two.write(&second).unwrap();
        first.used(Path::new("/tmp/new.gapwright"));
        first.snap = false;
        one.write(&first).unwrap();

        let (_, both, _) = Remembered::open(&file);
        let names: Vec<&str> = both.presets.iter().map(Preset::name).collect();
        assert_eq!(names, ["New"]);
        assert!(both.inches && !both.snap);
        let recent = ["/tmp/new.gapwright", "/tmp/old.gapwright"];
        assert_eq!(both.recent, recent.map(|path| std::path::absolute(path).unwrap()));
    }

    #[test]
    fn what_does_not_read_is_set_aside_and_not_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("settings.ron");
        for broken in [&b"(inches: maybe"[..], b"\xff\xfe\x00", b"", b"[1, 2]"] {
            fs::write(&file, broken).unwrap();
            let (mut remembered, mut settings, wrong) = Remembered::open(&file);
            assert_eq!(settings, Settings::default());
            assert!(wrong.unwrap().contains("settings.unreadable"));
            assert_eq!(fs::read(file.with_extension("unreadable")).unwrap(), broken);
            settings.inches = true;
            remembered.write(&settings).unwrap();
            assert_eq!(Remembered::open(&file).1, settings);
        }
    }

    #[test]
    fn settings_that_cannot_be_written_are_told_once() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("file"), "").unwrap();
        // A file stands where the folder should be.
        let file = folder.path().join("file/settings.ron");
        let (mut remembered, mut settings, _) = Remembered::open(&file);
        settings.inches = true;
        assert!(remembered.write(&settings).is_err());
        assert!(remembered.write(&settings).is_ok(), "nothing has changed since");
    }

    #[test]
    fn they_survive_a_round_and_a_broken_text_is_no_harm() {
        let mut settings = Settings { inches: true, ..Settings::default() };
        settings.used(Path::new("/tmp/a.gapwright"));
        let name = "Branch engine".to_owned();
        settings.keep(Preset::Vehicle { name, vehicle: Box::new(defaults::long_diesel()) });
        assert_eq!(Settings::read(&settings.text().unwrap()), (settings, None));
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
