//! The traces as a table that other programs read: comma-separated values, two rows for each stretch.

use std::path::{Path, PathBuf};

use eframe::egui::{Id, TextEdit, Ui};

use super::super::theme::{SPACE, small};
use super::commands::Command;
use super::model::Model;
use super::readings::column_name;
use super::scene::Scene;
use super::waves::{Waves, is_shown};
use crate::signal::Stretch;
use crate::study::scope::{Scope, Trace};

/// A field of a table: in quotes where it must be.
fn field(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r', ';']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

/// The table: time in s, whether there is a conflict, and each trace in V or A. Each stretch has a row at its start and one
/// at its end, so that a step is two rows of one time. A trace that floats is empty.
pub(super) fn table(scope: &Scope, traces: &[(String, &Trace)], stretches: &[Stretch]) -> String {
    let mut text = String::from("time (s),conflict");
    for (name, trace) in traces {
        let unit = if trace.signal.is_voltage() { "V" } else { "A" };
        text.push(',');
        text.push_str(&field(&format!("{name} ({unit})")));
    }
    text.push('\n');
    for stretch in stretches {
        for time_s in [stretch.from_s, stretch.to_s] {
            let conflict = u8::from(scope.in_conflict(stretch.joint));
            text.push_str(&format!("{time_s:.9},{conflict}"));
            for (_, trace) in traces {
                text.push(',');
                if let Some(level) = trace.levels.get(stretch.joint).copied().flatten() {
                    // No −0.
                    text.push_str(&format!("{:.6}", if level.abs() < 5e-7 { 0.0 } else { level }));
                }
            }
            text.push('\n');
        }
    }
    text
}

/// The table of what is shown.
fn shown_table(model: &Model, scene: &Scene, scope: &Scope) -> String {
    let waves = &model.view.waves;
    let (from_s, to_s) = waves.window_s(scope);
    let traces: Vec<(String, &Trace)> = (scope.traces.iter())
        .filter(|trace| is_shown(model, scene, trace.signal))
        .map(|trace| (column_name(model, scene, trace.signal), trace))
        .collect();
    table(scope, &traces, &scope.stretches(&waves.delays, from_s, to_s))
}

/// The buttons that give the traces away, and the question for the path.
pub(super) fn export_ui(
    ui: &mut Ui,
    model: &Model,
    scene: &Scene,
    scope: &Scope,
    commands: &mut Vec<Command>,
) {
    let waves = &model.view.waves;
    let ask = |export: Option<String>| Command::Waves(Waves { export, ..waves.clone() });
    ui.add_space(SPACE);
    let Some(path) = &waves.export else {
        ui.horizontal_wrapped(|ui| {
            let tip = "Comma-separated values of the traces that are drawn, for a spreadsheet";
            if ui.button("Write the traces to a file…").on_hover_text(tip).clicked() {
                commands.push(ask(Some(usual_path(model))));
                ui.memory_mut(|m| m.request_focus(path_id()));
            }
            if ui.button("Copy the traces").on_hover_text(tip).clicked() {
                ui.ctx().copy_text(shown_table(model, scene, scope));
                commands.push(Command::Told("The traces are copied."));
            }
        });
        return;
    };
    ui.horizontal_wrapped(|ui| {
        ui.label(small(ui, "File"));
        let mut typed = path.clone();
        let entry = TextEdit::singleline(&mut typed).id(path_id()).desired_width(320.0);
        if ui.add(entry).accessible_name("Path of the traces").changed() {
            commands.push(ask(Some(typed)));
        }
        let there = Path::new(path.trim()).exists();
        let words = if there { "Write over it" } else { "Write" };
        if ui.button(words).clicked() {
            let text = shown_table(model, scene, scope);
            commands.push(Command::Write(PathBuf::from(path.trim()), text));
        }
        if ui.button("Cancel").on_hover_text("Escape, twice").clicked() {
            commands.push(ask(None));
        }
        if there {
            ui.label(small(ui, "There is such a file already."));
        }
    });
}

/// The field of the path, for the focus.
fn path_id() -> Id {
    Id::unique("path of the traces")
}

/// Where the traces go if one does not say otherwise: beside the layout.
fn usual_path(model: &Model) -> String {
    let file = match model.path {
        Some(path) => path.with_extension("traces.csv"),
        None => PathBuf::from("traces.csv"),
    };
    file.display().to_string()
}

#[cfg(test)]
mod tests {
    use super::field;

    #[test]
    fn names_cannot_break_the_table() {
        assert_eq!(field("west bridge, P"), "\"west bridge, P\"");
        assert_eq!(field("a \"b\""), "\"a \"\"b\"\"\"");
        assert_eq!(field("plain"), "plain");
    }
}
