//! `lengthfilm exercise make | grade | open`

use std::io::Read;
use std::path::{Path, PathBuf};

use clap::{Args, Subcommand, ValueEnum};
use serde_json::json;

use super::before_after::Comparing;
use super::grade_shaping::{report_refused_pairs, write_pair_sheets};
use super::grading::Grading;
use super::output::{CliError, print_json, print_paths, report_error};
use crate::grading::numbering::Numbering;
use crate::input_file;
use crate::practice::{self, OpenedSet, SetOf, SetRequest};
use crate::progress::Progress;
use crate::shaping_class::{ClassSettings, ShapingRubric, csv};
use crate::shaping_record::PairSheets;

#[derive(Debug, Args)]
pub struct Practice {
    #[command(subcommand)]
    step: Step,
}

#[derive(Debug, Subcommand)]
enum Step {
    /// Render a set of films, or of blocks before and after shaping, and seal
    /// their truth.
    Make(Make),
    /// Grade traces or pairs of the set against its truth.
    Grade(GradeSet),
    /// Write the unsealed truth, as reference cases for `grade`.
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

/// Longest passphrase file read, bytes.
const MAX_PASSPHRASE_BYTES: u64 = 1 << 16;

impl Passphrase {
    fn read(&self) -> Result<String, CliError> {
        let mut text = String::new();
        if self.passphrase_file == Path::new("-") {
            std::io::stdin()
                .take(MAX_PASSPHRASE_BYTES)
                .read_to_string(&mut text)
                .map_err(|e| CliError::input(format!("standard input: {e}")))?;
        } else {
            text = input_file::read_text(&self.passphrase_file, MAX_PASSPHRASE_BYTES)
                .map_err(|e| CliError::unread(&self.passphrase_file, &e))?;
        }
        Ok(text.lines().next().unwrap_or_default().to_owned())
    }
}

#[derive(Debug, Args)]
struct Make {
    /// Films (or blocks) of the set.
    #[arg(long, default_value_t = 10)]
    count: usize,
    /// Practice blocks, each scanned before and after shaping, instead of films
    /// to trace.
    #[arg(long, conflicts_with = "difficulty")]
    blocks: bool,
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
struct GradeSet {
    /// Sealed truth of the set.
    #[arg(value_name = "SEALED")]
    sealed: PathBuf,
    #[command(flatten)]
    passphrase: Passphrase,
    #[command(flatten)]
    grading: Grading,
    #[command(flatten, next_help_heading = "Sets of blocks")]
    comparing: Comparing,
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
        let request = SetRequest {
            count: self.count,
            of: match self.blocks {
                true => SetOf::Blocks,
                false => SetOf::Films(self.difficulty.into()),
            },
            seed: self.seed.unwrap_or_else(rand::random),
        };
        let passphrase = self.passphrase.read()?;
        let made = practice::make(request, &self.out, &passphrase, &Progress::unwatched())
            .map_err(CliError::input)?;
        if let Some(advice) = practice::passphrase_advice(&passphrase) {
            report_error(&advice);
        }
        if self.json {
            return print_json(&json!({
                "films": made.films, "cases": made.cases, "sealed": made.sealed,
            }));
        }
        print_paths(made.files())
    }
}

impl GradeSet {
    fn run(self) -> Result<(), CliError> {
        let grading = &self.grading;
        let set =
            OpenedSet::open(&self.sealed, &self.passphrase.read()?).map_err(CliError::input)?;
        if set.films.is_empty() {
            return self.grade_blocks(&set);
        }
        let rubric = grading.rubric()?;
        let roster = grading.roster()?;
        let folder = practice::films_folder(&self.sealed);
        let traces = &grading.traces;
        let mut graded = practice::grade(
            &set,
            folder,
            traces,
            &roster,
            &rubric,
            &Progress::unwatched(),
        )
        .map_err(CliError::input)?;
        if grading.numbers_for_names {
            let mut numbers = Numbering::default();
            graded.numbers_for_names_among(&mut numbers);
            grading.write_key(&numbers)?;
        }
        let traces = || graded.films.iter().flat_map(|film| &film.class.traces);
        // Sheets first: whoever stops reading what is printed still has them.
        let mut failed = 0;
        let mut written = Vec::new();
        for film in &graded.films {
            let folder = film.sheet_folder();
            let sheets = grading.write_sheets(&film.class, &film.film_path, folder)?;
            failed += sheets.failed.len();
            written.extend(sheets.written);
        }
        let table = |dialect| graded.table(&rubric, dialect);
        let printed = grading.print(&graded, table, &graded.students, &written);
        let refused = graded
            .films
            .iter()
            .flat_map(|film| &film.class.refused)
            .chain(&graded.refused);
        for refused in refused {
            failed += usize::from(refused.is_file());
            report_error(&refused.line());
        }
        printed?;
        CliError::unless_all(failed, failed + traces().count())
    }
}

impl GradeSet {
    fn grade_blocks(&self, set: &OpenedSet) -> Result<(), CliError> {
        let grading = &self.grading;
        let settings = ClassSettings {
            rubric: match &grading.rubric {
                Some(path) => ShapingRubric::load(path).map_err(CliError::input)?,
                None => ShapingRubric::exercise(),
            },
            shaping: self.comparing.settings()?,
            follow_walls: self.comparing.follow_walls,
        };
        let roster = grading.roster()?;
        let mut sheets = PairSheets::new(grading.numbers_for_names);
        let folder = practice::films_folder(&self.sealed);
        let mut class = practice::grade_blocks(
            set,
            folder,
            &grading.traces,
            &roster,
            &settings,
            &Progress::unwatched(),
            |pair, comparison, films| {
                if grading.sheets.is_some() {
                    sheets.add(pair, comparison, films);
                }
            },
        )
        .map_err(CliError::input)?;
        if grading.numbers_for_names {
            let mut numbers = Numbering::default();
            class.numbers_for_names(&mut numbers);
            grading.write_key(&numbers)?;
        }
        let (written, mut failed) = match &grading.sheets {
            Some(folder) => write_pair_sheets(sheets, folder, grading.replace)?,
            None => (Vec::new(), 0),
        };
        let table = |dialect| csv(&class, dialect);
        let printed = grading.print(&class, table, &class.totals, &written);
        report_refused_pairs(&class);
        failed += class.refused.iter().filter(|one| one.is_file()).count();
        printed?;
        CliError::unless_all(failed, failed + class.pairs.len())
    }
}

impl Open {
    fn run(self) -> Result<(), CliError> {
        let set =
            OpenedSet::open(&self.sealed, &self.passphrase.read()?).map_err(CliError::input)?;
        let films = practice::films_folder(&self.sealed);
        let written = set.write_open(films, &self.out).map_err(CliError::input)?;
        print_paths(&written)
    }
}
