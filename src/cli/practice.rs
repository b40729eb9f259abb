//! `lengthfilm practice make | grade | open`

use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;

use clap::{Args, Subcommand, ValueEnum};
use serde_json::json;

use super::output::{CliError, print_json, print_text};
use crate::grading::class::Watch;
use crate::grading::rubric::Rubric;
use crate::practice::{self, OpenedSet, Order, PracticeGrade};

#[derive(Debug, Args)]
pub struct Practice {
    #[command(subcommand)]
    step: Step,
}

#[derive(Debug, Subcommand)]
enum Step {
    /// Render a set of films and seal their truth.
    Make(Make),
    /// Grade traces of the set against its truth.
    Grade(GradeSet),
    /// Write the truth in the open, as reference cases for `grade`.
    Open(Open),
}

/// Difficulties, as written on the command line.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum Difficulty {
    Easy,
    Moderate,
    Hard,
}

impl From<Difficulty> for practice::Difficulty {
    fn from(difficulty: Difficulty) -> Self {
        match difficulty {
            Difficulty::Easy => Self::Easy,
            Difficulty::Moderate => Self::Moderate,
            Difficulty::Hard => Self::Hard,
        }
    }
}

#[derive(Debug, Args)]
struct Passphrase {
    /// File whose first line is the educator's passphrase; `-` reads it from
    /// standard input.
    #[arg(long, value_name = "FILE")]
    passphrase_file: PathBuf,
}

impl Passphrase {
    fn read(&self) -> Result<String, CliError> {
        let mut text = String::new();
        if self.passphrase_file == Path::new("-") {
            std::io::stdin()
                .read_to_string(&mut text)
                .map_err(|e| CliError::input(format!("standard input: {e}")))?;
        } else {
            text = std::fs::read_to_string(&self.passphrase_file)
                .map_err(|e| CliError::at(&self.passphrase_file, e))?;
        }
        Ok(text.lines().next().unwrap_or_default().to_owned())
    }
}

#[derive(Debug, Args)]
struct Make {
    /// Films of the set.
    #[arg(long, default_value_t = 10)]
    count: usize,
    /// How hard the canals are to trace.
    #[arg(long, value_enum, default_value_t = Difficulty::Moderate)]
    difficulty: Difficulty,
    /// Makes the same set again. Who knows the seed knows the truth: leave it
    /// out for a set that counts.
    #[arg(long)]
    seed: Option<u64>,
    /// Folder to write into; made if need be.
    #[arg(long, value_name = "FOLDER")]
    out: PathBuf,
    #[command(flatten)]
    passphrase: Passphrase,
    /// Print the names of the files as JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Args)]
#[command(group(clap::ArgGroup::new("form").required(true).multiple(true).args(["json", "csv", "sheets"])))]
struct GradeSet {
    /// Sealed truth of the set.
    #[arg(value_name = "SEALED")]
    sealed: PathBuf,
    #[command(flatten)]
    passphrase: Passphrase,
    /// Cases to grade, or folders of them.
    #[arg(long, required = true, num_args = 1.., value_name = "CASE-or-FOLDER")]
    traces: Vec<PathBuf>,
    /// Limits to grade by; the built-in ones when absent.
    #[arg(long, value_name = "FILE")]
    rubric: Option<PathBuf>,
    /// Print JSON: every film with its traces, and every student.
    #[arg(long)]
    json: bool,
    /// Print CSV: one row per graded canal.
    #[arg(long, conflicts_with = "json")]
    csv: bool,
    /// Write feedback sheets (PDF) into this folder, one subfolder per film.
    #[arg(long, value_name = "FOLDER")]
    sheets: Option<PathBuf>,
    /// Replace sheets that are already there.
    #[arg(long, requires = "sheets")]
    replace: bool,
    /// Replace the names of students and files by numbers.
    #[arg(long)]
    numbers_for_names: bool,
}

#[derive(Debug, Args)]
struct Open {
    /// Sealed truth of the set; its films lie beside it.
    #[arg(value_name = "SEALED")]
    sealed: PathBuf,
    #[command(flatten)]
    passphrase: Passphrase,
    /// Folder to write into; made if need be.
    #[arg(long, value_name = "FOLDER")]
    out: PathBuf,
}

impl Practice {
    /// Runs the step asked for.
    pub fn run(self) -> Result<(), CliError> {
        match self.step {
            Step::Make(make) => make.run(),
            Step::Grade(grade) => grade.run(),
            Step::Open(open) => open.run(),
        }
    }
}

impl Make {
    fn run(self) -> Result<(), CliError> {
        let order = Order {
            count: self.count,
            difficulty: self.difficulty.into(),
            seed: self.seed.unwrap_or_else(rand::random),
        };
        let never = AtomicBool::new(false);
        let watch = Watch {
            progress: &|_, _| {},
            cancel: &never,
        };
        let made = practice::make(order, &self.out, &self.passphrase.read()?, &watch)
            .map_err(CliError::input)?;
        if self.json {
            return print_json(&json!({
                "films": made.films, "cases": made.cases, "sealed": made.sealed,
            }));
        }
        for path in made.files() {
            print_text(&format!("{}\n", path.display()))?;
        }
        Ok(())
    }
}

impl GradeSet {
    fn run(self) -> Result<(), CliError> {
        let rubric = match &self.rubric {
            Some(path) => Rubric::load(path).map_err(CliError::input)?,
            None => Rubric::default(),
        };
        let set =
            OpenedSet::open(&self.sealed, &self.passphrase.read()?).map_err(CliError::input)?;
        let never = AtomicBool::new(false);
        let watch = Watch {
            progress: &|_, _| {},
            cancel: &never,
        };
        let mut graded =
            practice::grade(&set, &self.traces, &rubric, &watch).map_err(CliError::input)?;
        if self.numbers_for_names {
            graded.numbers_for_names();
        }
        if self.json {
            print_json(&graded)?;
        } else if self.csv {
            print_text(&graded.table(&rubric))?;
        }
        let mut failed = self.write_sheets(&graded, &watch)?;
        let refused = graded
            .films
            .iter()
            .flat_map(|film| &film.class.refused)
            .chain(&graded.refused);
        for refused in refused {
            failed += 1;
            eprintln!("lengthfilm: {}", refused.reason);
        }
        let traces: usize = graded.films.iter().map(|f| f.class.traces.len()).sum();
        match failed {
            0 => Ok(()),
            failed => Err(CliError::Some {
                failed,
                total: failed + traces,
            }),
        }
    }

    /// How many sheets could not be written.
    fn write_sheets(&self, graded: &PracticeGrade, watch: &Watch) -> Result<usize, CliError> {
        let Some(folder) = &self.sheets else {
            return Ok(0);
        };
        let sheets = graded
            .write_sheets(folder, self.replace, watch)
            .map_err(CliError::input)?;
        for reason in &sheets.failed {
            eprintln!("lengthfilm: {reason}");
        }
        if !(self.json || self.csv) {
            for path in &sheets.written {
                print_text(&format!("{}\n", path.display()))?;
            }
        }
        Ok(sheets.failed.len())
    }
}

impl Open {
    fn run(self) -> Result<(), CliError> {
        let set =
            OpenedSet::open(&self.sealed, &self.passphrase.read()?).map_err(CliError::input)?;
        let films = practice::films_folder(&self.sealed);
        let written = set.write_open(films, &self.out).map_err(CliError::input)?;
        for path in written {
            print_text(&format!("{}\n", path.display()))?;
        }
        Ok(())
    }
}
