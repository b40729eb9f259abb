//! The commands: one file each, a thin front to the library.
//!
//! Results go to standard output, messages to standard error. Exit 0: done;
//! 1: the input cannot be used; 2: wrong usage (clap's own code).

mod agreement;
mod archive;
mod before_after;
mod block;
mod flatten;
mod follow;
mod grade;
mod grade_shaping;
mod grading;
mod info;
mod instrument;
mod locate_file;
mod measure;
mod open;
mod output;
mod phantom;
mod point;
mod practice;
mod progress;
mod report;
mod rubric;
mod sample_size;
mod suggest;
mod two_view;

use std::ffi::OsString;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};

pub use output::CliError;

/// Measures root canals on dental periapical radiographs.
///
/// For teaching and research unless cleared locally. Confirm every working
/// length electronically and clinically.
#[derive(Debug, Parser)]
#[command(name = "lengthfilm", version, args_conflicts_with_subcommands = true)]
pub struct Arguments {
    #[command(subcommand)]
    command: Option<Command>,
    /// Case or film to open in the window; the demo case when absent.
    path: Option<PathBuf>,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Recompute and print the findings of cases.
    Measure(measure::Measure),
    /// Print agreement statistics of a subjects × raters table.
    Agreement(agreement::Agreement),
    /// Write the built-in rubric to start from.
    Rubric(rubric::StarterRubric),
    /// How many subjects a study of agreement needs.
    SampleSize(sample_size::SampleSize),
    /// Print learning curves: when each student has shown competence.
    Progress(progress::Progress),
    /// Films from a DICOM archive, records to it.
    Archive(Box<archive::Archive>),
    /// Grade traces of a class against a reference.
    Grade(grade::Grade),
    /// Follow a canal through two or more points.
    Follow(follow::Follow),
    /// Find the file in a canal from one point on it.
    LocateFile(locate_file::LocateFile),
    /// Print the files, roots and canals that a film shows.
    Suggest(suggest::Suggest),
    /// Files in a curved canal: strain, where they bind, shaping card.
    Instrument(instrument::Instrument),
    /// Compare a canal before and after shaping: removal, transport, centring,
    /// straightening.
    BeforeAfter(before_after::BeforeAfter),
    /// Grade a class by what their shaping did: many pairs before and after.
    GradeShaping(grade_shaping::GradeShaping),
    /// Photograph a synthetic practice block before and after shaping, with its
    /// truth.
    Block(block::Block),
    /// Make a photograph of a film or block flat by four corners of known size.
    Flatten(flatten::Flatten),
    /// Print size, depth and every scale fact of a film.
    Info(info::Info),
    /// Write a report of cases: PDF, HTML, CSV, annotated picture, DICOM SR.
    Report(report::Report),
    /// Render a synthetic film with its truth.
    Phantom(phantom::Phantom),
    /// Length, bends and their planes in space from two films of one canal.
    TwoView(two_view::TwoView),
    /// Make exercise films with sealed truth, and grade traces against it.
    #[command(name = "exercise", visible_alias = "practice")]
    Practice(practice::Practice),
}

/// Runs the program on its arguments (the first is the program's name).
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let arguments = match Arguments::try_parse_from(arguments) {
        Ok(arguments) => arguments,
        Err(usage) => {
            // Help and version are asked for; only the rest is wrong usage.
            let code = u8::try_from(usage.exit_code()).unwrap_or(2);
            return match usage.print() {
                Ok(()) => ExitCode::from(code),
                Err(_) => ExitCode::from(2),
            };
        }
    };
    let outcome = match arguments.command {
        None => open::run(arguments.path.as_deref()),
        Some(Command::Measure(command)) => command.run(),
        Some(Command::Agreement(command)) => command.run(),
        Some(Command::Progress(command)) => command.run(),
        Some(Command::SampleSize(command)) => command.run(),
        Some(Command::Rubric(command)) => command.run(),
        Some(Command::Archive(command)) => command.run(),
        Some(Command::Grade(command)) => command.run(),
        Some(Command::Follow(command)) => command.run(),
        Some(Command::LocateFile(command)) => command.run(),
        Some(Command::Suggest(command)) => command.run(),
        Some(Command::Instrument(command)) => command.run(),
        Some(Command::BeforeAfter(command)) => command.run(),
        Some(Command::GradeShaping(command)) => command.run(),
        Some(Command::Block(command)) => command.run(),
        Some(Command::Flatten(command)) => command.run(),
        Some(Command::Info(command)) => command.run(),
        Some(Command::Report(command)) => command.run(),
        Some(Command::Phantom(command)) => command.run(),
        Some(Command::TwoView(command)) => command.run(),
        Some(Command::Practice(command)) => command.run(),
    };
    output::exit_code(outcome)
}
