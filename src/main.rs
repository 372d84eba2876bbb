//! The `gapwright` program: the window, or a verb on the command line.

mod command;

use std::io::{self, IsTerminal};
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;

use clap::{Parser, Subcommand};
use command::{
    Call, CompareCall, CureCall, DiagnoseCall, FAILED, NO_FAULT, Outcome, PapersCall, PlanCall,
    Streams, Works,
};
use gapwright::compare::Corrections;
use gapwright::cure::Surgery;
use gapwright::findings::{self, Checker, Memo};
use gapwright::layout::{self, EntityId, Layout};
use gapwright::papers::Paper;
use gapwright::planning;

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
    /// Exit status: 0 no fault; 1 a fault (stall, back-feed, overload, short); 2 a file cannot be read or checked, the
    /// call is wrong, or nothing can be written; 130 Ctrl+C.
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
    /// Finds the cheapest set of changes that ends the faults of a layout, each proved by checking the layout after it.
    ///
    /// Exit status: 0 no fault is left after the changes; 1 one is; 2 a file cannot be read or written, or the call is
    /// wrong; 130 Ctrl+C.
    Cure {
        /// A layout file; `-` reads standard input.
        file: PathBuf,
        /// One JSON document on standard output.
        #[arg(long)]
        json: bool,
        /// Writes the layout with the changes made to this file.
        #[arg(long, value_name = "OUT")]
        apply: Option<PathBuf>,
    },
    /// Compares two designs of a layout: what the new one mends and makes, and the work to it, in a safe order.
    ///
    /// Exit status: 0 the new design has no fault; 1 it has one; 2 a file cannot be read, or the call is wrong; 130 Ctrl+C.
    Compare {
        /// The old design.
        old: PathBuf,
        /// The new one.
        new: PathBuf,
        /// An old and a new thing that are the same one, such as c3=c12; may be repeated.
        #[arg(long, value_name = "OLD=NEW", value_parser = pair)]
        same: Vec<(EntityId, EntityId)>,
        /// A thing of the new design that is none of the old one's, such as c12; may be repeated.
        #[arg(long, value_name = "NEW")]
        apart: Vec<EntityId>,
        /// One JSON document on standard output.
        #[arg(long)]
        json: bool,
    },
    /// Says which fault explains what was seen at one gap, and what to try next.
    ///
    /// Exit status: 0 one class of faults is all but sure; 1 none is yet; 2 a file cannot be read, the gap or an observation
    /// means nothing, or the call is wrong; 130 Ctrl+C.
    Diagnose {
        /// A layout file; `-` reads standard input.
        file: PathBuf,
        /// The gap, by its name or its identity.
        #[arg(long, value_name = "GAP")]
        at: String,
        /// A file of observations, described in docs/diagnosis.md. Without it: what to try first.
        #[arg(long, value_name = "OBSERVATIONS")]
        saw: Option<PathBuf>,
        /// One JSON document on standard output.
        #[arg(long)]
        json: bool,
    },
    /// Plans where to cut and what to feed, so that stretches of track are controlled apart.
    ///
    /// Without a file of wishes, each name on the layout is a stretch of its own. Cuts and feeds that are there stay.
    /// Exit status: 0 no fault is left after the plan; 1 one is; 2 there is no plan, a file cannot be read or written, or
    /// the call is wrong; 130 Ctrl+C.
    Plan {
        /// A layout file; `-` reads standard input.
        file: PathBuf,
        /// A file of wishes, described in docs/planning.md.
        #[arg(long, value_name = "W")]
        wishes: Option<PathBuf>,
        /// One JSON document on standard output.
        #[arg(long)]
        json: bool,
        /// Writes the layout with the plan applied to this file.
        #[arg(long, value_name = "OUT")]
        apply: Option<PathBuf>,
        /// Says what breaks without each cut that is there, instead of a plan. Exit status 1: nothing needs one of them.
        #[arg(long, conflicts_with = "apply")]
        audit: bool,
    },
    /// Makes papers for the bench: plan, lists, cards and sheets as PDF, SVG, PNG and CSV.
    ///
    /// Sheets: plan, cuts, feeders, ring-out, cards, operators, settings, shopping, findings, work. See docs/papers.md.
    /// Exit status: 0 the layout has no fault; 1 it has one; 2 a file cannot be read or written, or the call is wrong;
    /// 130 Ctrl+C.
    Papers {
        /// A layout file; `-` reads standard input.
        file: PathBuf,
        /// The folder for the papers. It is made if it is not there.
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
        /// Makes these sheets only, with commas between them.
        #[arg(long, value_name = "SHEETS", value_delimiter = ',')]
        only: Vec<String>,
        /// Size of the paper: a4 or letter.
        #[arg(long, value_name = "SIZE", default_value = "a4")]
        paper: Paper,
        /// Makes the plan to this scale too, in tiles to glue together.
        #[arg(long, value_name = "1:N", value_parser = scale)]
        scale: Option<f64>,
        /// Makes one page of HTML too, with plan, findings, cards and search.
        #[arg(long)]
        html: bool,
        /// The old design, for a work order from it to this layout.
        #[arg(long, value_name = "OLD")]
        from: Option<PathBuf>,
    },
}

/// An old and a new identity: `c3=c12`.
fn pair(text: &str) -> Result<(EntityId, EntityId), String> {
    let (old, new) = text.split_once('=').ok_or("write an old and a new one, such as c3=c12")?;
    Ok((old.trim().parse()?, new.trim().parse()?))
}

/// The number behind "1:", with or without it.
fn scale(text: &str) -> Result<f64, String> {
    let number = text.trim().strip_prefix("1:").unwrap_or(text).trim();
    match number.parse::<f64>() {
        Ok(number) if number.is_finite() && number > 0.0 => Ok(number),
        _ => Err("write it as 1:5".to_owned()),
    }
}

fn main() -> ExitCode {
    let Ok(arguments) = Arguments::try_parse() else {
        return ExitCode::from(not_a_call());
    };
    match arguments.verb {
        Some(Verb::Check { files, json, lineups }) => {
            command::keep_quiet();
            stop_at_ctrl_c();
            let call = Call { files, json, lineups };
            ExitCode::from(command::run(&call, |layout| check(layout, json), streams()))
        }
        Some(Verb::Cure { file, json, apply }) => {
            command::keep_quiet();
            stop_at_ctrl_c();
            ExitCode::from(command::cure(&CureCall { file, json, apply }, streams()))
        }
        Some(Verb::Compare { old, new, same, apart, json }) => {
            command::keep_quiet();
            stop_at_ctrl_c();
            let corrections = Corrections { same, apart: apart.into_iter().collect() };
            let call = CompareCall { old, new, corrections, json };
            ExitCode::from(command::compare(&call, streams()))
        }
        Some(Verb::Diagnose { file, at, saw, json }) => {
            command::keep_quiet();
            stop_at_ctrl_c();
            ExitCode::from(command::diagnose(&DiagnoseCall { file, at, saw, json }, streams()))
        }
        Some(Verb::Plan { file, wishes, json, apply, audit }) => {
            command::keep_quiet();
            stop_at_ctrl_c();
            let call = PlanCall { file, wishes, json, apply, audit };
            let works = Works {
                plan: &|layout, wishes| {
                    watched(|memo| planning::finished_with(layout, wishes, memo))
                },
                audit: &|layout, wishes| watched(|memo| planning::audit(layout, wishes, memo)),
            };
            ExitCode::from(command::plan_cuts(&call, &works, streams()))
        }
        Some(Verb::Papers { file, out, only, paper, scale, html, from }) => {
            command::keep_quiet();
            stop_at_ctrl_c();
            let call = PapersCall { file, out, only, paper, scale, html, from };
            ExitCode::from(command::make_papers(&call, streams()))
        }
        None => window(arguments.file),
    }
}

fn streams() -> Streams<io::Stdin, io::StdoutLock<'static>, io::Stderr> {
    Streams {
        input: io::stdin(),
        output: io::stdout().lock(),
        error: io::stderr(),
        pretty: io::stdout().is_terminal(),
    }
}

/// Checks a layout, and for JSON looks for the cures of its findings. On a terminal a long check says how far it is.
fn check(layout: &Layout, json: bool) -> Outcome {
    let progress = Arc::default();
    let work = || {
        let study = Checker::watched(&progress).study(layout);
        if !json {
            return Outcome { report: findings::report_of(&study), cures: None };
        }
        let surgery = Surgery::of(&study);
        Outcome { report: surgery.report().clone(), cures: Some(surgery.all()) }
    };
    if !io::stderr().is_terminal() {
        return work();
    }
    command::shown_while(&progress, &command::WAITS, io::stderr(), work)
}

/// Does some work with a memory. On a terminal long work says how far it is.
fn watched<T>(work: impl FnOnce(&Memo) -> T) -> T {
    let progress = Arc::default();
    let memo = Memo::watched(&progress);
    if !io::stderr().is_terminal() {
        return work(&memo);
    }
    command::shown_while(&progress, &command::WAITS, io::stderr(), || work(&memo))
}

/// Ends the program at Ctrl+C. A report is written only when it is complete, so none is cut off that is not being written.
/// Elsewhere than on Unix the system ends it, as it does where no handler can be had.
fn stop_at_ctrl_c() {
    #[cfg(unix)]
    if let Ok(mut signals) = signal_hook::iterator::Signals::new([signal_hook::consts::SIGINT]) {
        std::thread::spawn(move || {
            signals.forever().next();
            if io::stderr().is_terminal() {
                say(&format!("{}Stopped.", command::CLEAR));
            }
            std::process::exit(i32::from(command::STOPPED));
        });
    }
}

/// Writes what the arguments ask for if they are no call: help, the version, or what is wrong with them. Returns the exit
/// status.
fn not_a_call() -> u8 {
    // A message repeats arguments, so they are read again as they can be shown.
    let shown =
        std::env::args_os().map(|argument| layout::shown(&argument.to_string_lossy()).into_owned());
    match Arguments::try_parse_from(shown) {
        Err(message) if !message.use_stderr() && message.print().is_ok() => NO_FAULT,
        Err(message) if !message.use_stderr() => {
            say("Standard output cannot be written");
            FAILED
        }
        Err(message) => {
            // If standard error cannot be written, no place is left to say so.
            let _ = message.print();
            FAILED
        }
        Ok(_) => {
            say("An argument holds characters that cannot be shown");
            FAILED
        }
    }
}

fn say(line: &str) {
    command::say(&mut io::stderr(), line);
}

#[cfg(feature = "window")]
fn window(file: Option<PathBuf>) -> ExitCode {
    match gapwright::app::run(file) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            // The last part is the cause; what stands before it is where in a library it was met.
            let whole = error.to_string();
            let cause = whole.rsplit(": ").next().unwrap_or(&whole);
            say(&format!(
                "The window cannot be opened: {}\n\
                 It needs a display and a graphics driver. Without them, check a layout with:\n\
                 \n    gapwright check FILE",
                layout::shown(cause)
            ));
            ExitCode::from(FAILED)
        }
    }
}

#[cfg(not(feature = "window"))]
fn window(_file: Option<PathBuf>) -> ExitCode {
    say("This build has no window. Check a layout with:  gapwright check FILE\n\
         or build with the feature `window`.");
    ExitCode::from(FAILED)
}
