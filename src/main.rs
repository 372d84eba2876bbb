//! The `gapwright` program: the window, or a check on the command line.

use std::io::{self, IsTerminal, Read, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use gapwright::{findings as check, layout, report};

/// Finds every short a train can make across the gaps of a model railroad powered in blocks.
///
/// Without a verb it opens the window, on FILE if one is given.
#[derive(Parser)]
#[command(name = "gapwright", version, about, args_conflicts_with_subcommands = true)]
struct Arguments {
    #[command(subcommand)]
    verb: Option<Verb>,
    /// A layout file to open in the window.
    file: Option<PathBuf>,
}

#[derive(Subcommand)]
enum Verb {
    /// Checks layout files and says what shorts, why, and what to do about it.
    ///
    /// Exit status: 0 no fault; 1 a fault (stall, back-feed, overload, short); 2 a file cannot be read.
    Check {
        /// Layout files; `-` reads standard input.
        #[arg(required = true)]
        files: Vec<PathBuf>,
        /// One JSON document on standard output (an array for several files).
        #[arg(long)]
        json: bool,
        /// Checks each file also in every one of its lineups: one report more for each.
        #[arg(long)]
        lineups: bool,
    },
}

fn main() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version are no errors; everything else is a wrong call.
            let code = if error.use_stderr() { 2 } else { 0 };
            let _ = error.print();
            return ExitCode::from(code);
        }
    };
    match arguments.verb {
        Some(Verb::Check { files, json, lineups }) => check_files(&files, json, lineups),
        None => window(arguments.file),
    }
}

fn read(path: &Path) -> Result<layout::Layout, String> {
    if path.as_os_str() == "-" {
        let mut bytes = Vec::new();
        io::stdin()
            .read_to_end(&mut bytes)
            .map_err(|error| format!("standard input cannot be read: {error}"))?;
        let text = String::from_utf8(bytes)
            .map_err(|_| "standard input is not text in UTF-8: give it a layout file".to_owned())?;
        return layout::load(&text).map(|loaded| loaded.layout).map_err(|errors| {
            errors.iter().map(|e| format!("-: {e}")).collect::<Vec<_>>().join("\n")
        });
    }
    layout::read_path(path)
        .map(|loaded| loaded.layout)
        .map_err(|error| format!("{}: {error}", shown_path(path)))
}

fn shown_path(path: &Path) -> String {
    layout::shown(&path.display().to_string()).into_owned()
}

/// The layout in each of its lineups, with the lineup's name.
fn in_lineups(layout: &layout::Layout) -> Result<Vec<(String, layout::Layout)>, String> {
    let set = |lineup: &layout::Lineup| {
        let name = match lineup.name.trim() {
            "" => lineup.id.to_string(),
            name => name.to_owned(),
        };
        match lineup.applied(layout) {
            Ok(set) => Ok((name, set)),
            Err(refused) => {
                let words = format!("the lineup {name} cannot be set: {refused}");
                Err(layout::shown(&words).into_owned())
            }
        }
    };
    layout.lineups.values().map(set).collect()
}

/// A layout that is checked: its file, the lineup that it is set to, and the layout itself.
type Checked = (String, Option<String>, layout::Layout);

/// One document, or an array of several; on a terminal with a line for each value.
fn print_json(checked: &[(&Checked, check::Report)]) -> io::Result<()> {
    let documents = checked.iter().map(|((file, lineup, layout), found)| {
        report::document(file, layout, found).in_lineup(lineup.as_deref())
    });
    let stdout = io::stdout();
    let pretty = stdout.is_terminal();
    report::write_documents(stdout.lock(), documents, pretty)
}

fn print_text(checked: &[(&Checked, check::Report)]) -> io::Result<()> {
    let texts = checked.iter().map(|((file, lineup, layout), found)| {
        let told = match lineup {
            Some(lineup) => format!("{file}, lineup \"{lineup}\""),
            None => file.clone(),
        };
        report::text(&told, layout, found, report::Units::Metric)
    });
    let texts: Vec<String> = texts.collect();
    io::stdout().write_all(texts.join("\n").as_bytes())
}

fn check_files(files: &[PathBuf], json: bool, lineups: bool) -> ExitCode {
    let mut layouts: Vec<Checked> = Vec::with_capacity(files.len());
    let mut unreadable = false;
    for path in files {
        match read(path) {
            Ok(layout) => {
                let file = path.display().to_string();
                let more = if lineups { in_lineups(&layout) } else { Ok(Vec::new()) };
                layouts.push((file.clone(), None, layout));
                match more {
                    Ok(more) => layouts.extend(
                        more.into_iter().map(|(name, set)| (file.clone(), Some(name), set)),
                    ),
                    Err(why) => {
                        eprintln!("{}: {why}", shown_path(path));
                        unreadable = true;
                    }
                }
            }
            Err(why) => {
                eprintln!("{why}");
                unreadable = true;
            }
        }
    }
    if unreadable {
        return ExitCode::from(2);
    }
    let checked: Vec<(&Checked, check::Report)> =
        layouts.iter().map(|layout| (layout, check::check(&layout.2))).collect();
    let worst = checked.iter().map(|(_, found)| found.verdict).max().unwrap_or_default();
    // A reader that closes the pipe early has what it wanted.
    let _ = if json { print_json(&checked) } else { print_text(&checked) };
    ExitCode::from(u8::from(worst.is_fault()))
}

#[cfg(feature = "window")]
fn window(file: Option<PathBuf>) -> ExitCode {
    match gapwright::app::run(file) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            // The last part is the cause; what stands before it is where in a library it was met.
            let whole = error.to_string();
            let cause = whole.rsplit(": ").next().unwrap_or(&whole);
            eprintln!(
                "The window cannot be opened: {cause}\n\
                 It needs a display and a graphics driver. Without them, check a layout with:\n\
                 \n    gapwright check FILE"
            );
            ExitCode::from(2)
        }
    }
}

#[cfg(not(feature = "window"))]
fn window(_file: Option<PathBuf>) -> ExitCode {
    eprintln!(
        "This build has no window. Check a layout with:  gapwright check FILE\n\
         or build with the feature `window`."
    );
    ExitCode::from(2)
}
