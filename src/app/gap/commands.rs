//! Requests of the Gap view, and the one place that carries them out.

use std::path::{Path, PathBuf};

use eframe::egui::Context;

use super::super::App;
use super::trial::{self, Tried};
use super::waves::Waves;
use super::{Below, Left, Standing, break_even, suspects};
use crate::drive::SetWord;
use crate::layout::{CutId, write_whole};

/// A wish of the view.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Command {
    /// Show the plan again.
    Back,
    /// Show another gap.
    Choose(CutId),
    /// Stand something there.
    Stand(Standing),
    /// Stand there what is worst at the settings that are shown.
    StandWorst,
    /// Roll the vehicle over the gap, or stop it.
    Play,
    /// Let it roll at its largest speed, or at its least.
    Fast(bool),
    /// Move it to where its wheels join something else.
    Step {
        /// True for on, false for back.
        ahead: bool,
    },
    /// Take in what the vehicle draws, or leave it out.
    Loaded(bool),
    /// Show a pair of settings of the card; `None` for those now.
    Cell(Option<(SetWord, SetWord)>),
    /// Show something else beside the stage.
    Left(Left),
    /// Show something else below the stage.
    Below(Below),
    /// Show the traces otherwise.
    Waves(Waves),
    /// Say that something is done.
    Told(&'static str),
    /// Write a text to a file.
    Write(PathBuf, String),
    /// Work out from which throttle a trip acts.
    BreakEven,
    /// Try something out.
    Try(Tried),
    /// Keep the trial: make it part of the layout.
    Keep,
    /// Discard the trial.
    Discard,
    /// Something about the hunt for a fault.
    Hunt(suspects::Hunt),
}

/// Carries out a request of the view.
pub(super) fn carry_out(app: &mut App, ctx: &Context, command: Command) {
    let view = &mut app.gap;
    match command {
        Command::Back => view.shown = false,
        Command::Choose(cut) => app.look_at_gap(cut),
        Command::Stand(standing) => {
            view.standing = Some(standing);
            view.play = None;
        }
        Command::StandWorst => {
            let chosen = view.standing.take();
            view.kept_touch = chosen.map(|standing| standing.touch).or(view.kept_touch);
            view.play = None;
        }
        Command::Loaded(loaded) => view.loaded = loaded,
        Command::Cell(cell) => view.show_cell(cell),
        Command::Play => app.play_or_pause_at_gap(ctx),
        Command::Fast(fast) => view.fast = fast,
        Command::Step { ahead } => app.step_at_gap(ahead),
        Command::Left(left) => view.left = left,
        Command::Below(below) => view.below = below,
        Command::Waves(waves) => view.waves = waves,
        Command::Told(words) => app.tell(words),
        Command::Write(path, text) => write(app, &path, &text),
        Command::BreakEven => app.gap.break_even = break_even::work_out(app),
        Command::Try(tried) => trial::try_out(app, ctx, tried),
        Command::Keep => trial::keep(app),
        Command::Discard => trial::discard(app),
        Command::Hunt(hunt) => suspects::carry_out(app, ctx, hunt),
    }
}

/// Writes a text to a file and says so, or why it cannot be written: the path then stays to be mended.
fn write(app: &mut App, path: &Path, text: &str) {
    match write_whole(text, path) {
        Ok(()) => {
            app.gap.waves.export = None;
            app.tell(format!("The traces are written to {}.", path.display()));
        }
        Err(why) => app.tell_bad(format!("Could not write {}: {why}", path.display())),
    }
}
