//! Grading beside the window, and what it brings.

use std::path::Path;

use super::blocks::BlockSet;
use super::choice::{Against, Choice};
use super::density::Density;
use crate::desktop::state::open_film::{OpenFilm, open_film};
use crate::desktop::ui::wording::counted;
use crate::feedback::{Statistics, Summary};
use crate::grading::class::Refused;
use crate::grading::files::{ClassGrade, grade_hand_ins};
use crate::grading::grade::TraceGrade;
use crate::grading::items::{Item, LevelItem};
use crate::grading::private::PrivateText;
use crate::grading::totals::StudentTotal;
use crate::practice::{self, OpenedSet, PracticeGrade};
use crate::progress::Progress;
use crate::units::FilmPoint;

/// What was graded.
#[derive(Clone, Debug)]
pub enum Graded {
    /// Traces of one film against experts.
    Class(Box<ClassGrade>),
    /// Traces of an exercise set against its truth; at least of one film.
    Set(Box<PracticeGrade>),
}

/// What there was to grade.
#[derive(Debug)]
pub enum Found {
    /// It is graded.
    Traces(Graded),
    /// An exercise set of blocks, which are graded in pairs.
    Blocks(BlockSet),
}

impl Graded {
    /// How many films were traced.
    pub fn film_count(&self) -> usize {
        match self {
            Self::Class(_) => 1,
            Self::Set(set) => set.films.len(),
        }
    }

    /// The class of one film.
    pub fn class(&self, film: usize) -> &ClassGrade {
        match self {
            Self::Class(class) => class,
            Self::Set(set) => &set.films[film].class,
        }
    }

    /// Where one film lies; to be asked before names are replaced.
    pub fn film_path(&self, film: usize) -> &Path {
        match self {
            Self::Class(class) => class.reference.film.as_ref(),
            Self::Set(set) => &set.films[film].film_path,
        }
    }

    /// Every student's total.
    pub fn students(&self) -> &[StudentTotal] {
        match self {
            Self::Class(class) => &class.students,
            Self::Set(set) => &set.students,
        }
    }

    /// What belongs to no film or is not there; of a class, all that was not
    /// graded.
    pub fn refused(&self) -> &[Refused] {
        match self {
            Self::Class(class) => &class.refused,
            Self::Set(set) => &set.refused,
        }
    }

    /// Traces film by film.
    pub fn traces(&self) -> Vec<&[TraceGrade]> {
        match self {
            Self::Class(class) => vec![&class.traces],
            Self::Set(set) => set
                .films
                .iter()
                .map(|f| f.class.traces.as_slice())
                .collect(),
        }
    }

    /// Lines of the rubric and thirds of the canals, over every film.
    pub fn items(&self) -> (&[Item], &[LevelItem]) {
        match self {
            Self::Class(class) => (&class.class.items, &class.class.levels),
            Self::Set(set) => (&set.class.items, &set.class.levels),
        }
    }

    /// What a summary on paper is made of.
    pub fn summary(&self) -> Summary<'_> {
        let fact = |name: &str, value: String| (name.to_owned(), value);
        match self {
            Self::Class(class) => Summary {
                title: "one film".to_owned(),
                facts: vec![
                    fact("Film", class.reference.film.clone()),
                    fact("Reference", class.reference.cases.join(", ")),
                    fact("Traces", class.traces.len().to_string()),
                ],
                rubric: &class.rubric,
                students: &class.students,
                refused: class.refused.iter().collect(),
                statistics: Statistics::Class(&class.class),
            },
            Self::Set(set) => Summary {
                title: format!("exercise set of {}", counted(set.film_count, "film")),
                facts: vec![
                    fact("Films traced", set.films.len().to_string()),
                    fact("Reference", "the true canals of synthetic films".to_owned()),
                ],
                rubric: &set.films[0].class.rubric,
                students: &set.students,
                refused: set
                    .films
                    .iter()
                    .flat_map(|film| &film.class.refused)
                    .chain(&set.refused)
                    .collect(),
                statistics: Statistics::Set(&set.class),
            },
        }
    }

    /// Replaces the names of students and files by numbers.
    pub fn numbers_for_names(&mut self) {
        match self {
            Self::Class(class) => class.numbers_for_names(),
            Self::Set(set) => set.numbers_for_names(),
        }
    }

    /// What grading has come to, in one line.
    pub fn words(&self) -> String {
        let (traces, students, passed, films, refused, cancelled) = match self {
            Self::Class(class) => (
                class.traces.len(),
                class.class.students,
                class.class.passed,
                String::new(),
                class.refused.len(),
                class.cancelled,
            ),
            Self::Set(set) => (
                set.students.iter().map(|student| student.traces).sum(),
                set.students
                    .iter()
                    .filter(|student| student.traces > 0)
                    .count(),
                set.students
                    .iter()
                    .filter(|student| student.has_passed == Some(true))
                    .count(),
                format!(" on {}", counted(set.films.len(), "film")),
                set.refused.len()
                    + set
                        .films
                        .iter()
                        .map(|film| film.class.refused.len())
                        .sum::<usize>(),
                set.cancelled,
            ),
        };
        let mut words = format!(
            "{} of {}{films} graded; {} passed",
            counted(traces, "trace"),
            counted(students, "student"),
            counted(passed, "student")
        );
        if refused > 0 {
            words += &format!("; {refused} not graded");
        }
        if cancelled {
            words += "; stopped before the end";
        }
        words
    }
}

/// Grades what was chosen.
///
/// # Errors
/// One line in plain words.
pub fn grade(choice: &Choice, progress: &Progress) -> Result<Found, String> {
    let rubric = choice
        .rubric
        .as_ref()
        .map(|(_, rubric)| rubric.clone())
        .unwrap_or_default();
    let roster = choice.roster.as_ref();
    let roster = roster.map(|(_, roster)| roster.clone()).unwrap_or_default();
    if choice.against == Against::Experts {
        return grade_hand_ins(
            &choice.reference,
            &choice.traces,
            &roster,
            &rubric,
            progress,
        )
        .map(|class| Found::Traces(Graded::Class(Box::new(class))))
        .map_err(|error| error.to_string());
    }
    let set = opened(choice)?;
    if set.films.is_empty() {
        return Ok(Found::Blocks(BlockSet {
            opened: set,
            folder: practice::films_folder(sealed(choice)).to_owned(),
            hand_ins: choice.traces.clone(),
            roster,
        }));
    }
    let graded = practice::grade(
        &set,
        practice::films_folder(sealed(choice)),
        &choice.traces,
        &roster,
        &rubric,
        progress,
    )
    .map_err(|error| error.to_string())?;
    if !graded.films.is_empty() {
        return Ok(Found::Traces(Graded::Set(Box::new(graded))));
    }
    Err(match graded.refused.first() {
        _ if graded.cancelled => "stopped before anything was graded".to_owned(),
        Some(first) => format!("nothing to grade: {}", first.reason),
        None => "nothing to grade: no canal is traced in these cases".to_owned(),
    })
}

/// Writes the truth of the set chosen into `folder`, in the open; what was
/// done, in words.
///
/// # Errors
/// One line in plain words.
pub fn open_truth(choice: &Choice, folder: &Path) -> Result<String, String> {
    let films = practice::films_folder(sealed(choice));
    let written = opened(choice)?
        .write_open(films, folder)
        .map_err(|error| error.to_string())?;
    Ok(format!(
        "Unsealed truth: {} written into {}",
        counted(written.len(), "file"),
        folder.display()
    ))
}

fn sealed(choice: &Choice) -> &Path {
    choice.sealed.as_deref().unwrap_or(Path::new(""))
}

fn opened(choice: &Choice) -> Result<OpenedSet, String> {
    OpenedSet::open(sealed(choice), choice.passphrase.get()).map_err(|error| error.to_string())
}

/// A film with what is drawn over it.
pub struct Pictured {
    pub film: OpenFilm,
    pub density: Option<Density>,
}

/// Opens the film of `class`.
///
/// # Errors
/// One line in plain words, with and without the name of the film.
pub fn pictured(class: &ClassGrade, film: &Path) -> Result<Pictured, PrivateText> {
    let film = open_film(film).map_err(|reason| {
        let unnamed = "the film cannot be opened; without Anonymise the reason is told";
        PrivateText::new(reason, unnamed)
    })?;
    let paths = class.traces.iter().flat_map(|trace| &trace.canals);
    let paths = paths.map(|canal| -> &[FilmPoint] { &canal.picture.path_px });
    Ok(Pictured {
        density: Density::of(paths),
        film,
    })
}
