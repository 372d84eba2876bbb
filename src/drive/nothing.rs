//! No drive: the rails float.

use super::fields::Field;
use super::kind::{Kind, Output, RunsFrom};
use super::schedule::{Beside, Schedule};
use super::words::SetWord;
use crate::layout::Drive;

pub(super) struct Nothing {}

pub(super) fn new() -> Drive {
    Drive::Nothing
}

pub(super) fn fields<'a>() -> Vec<Field<'a>> {
    Vec::new()
}

impl Kind for Nothing {
    fn name(&self) -> &'static str {
        "Nothing"
    }

    fn settings(&self) -> &'static [SetWord] {
        &[SetWord::Off]
    }

    fn schedule(&self, _word: SetWord, _level: f64, _beside: Beside) -> Schedule {
        Schedule::off()
    }

    fn clock(&self, _period_s: f64) -> RunsFrom<'_> {
        RunsFrom::STEADY
    }

    fn output(&self) -> Output {
        Output::Bridge
    }

    fn feeds(&self) -> bool {
        false
    }
}
