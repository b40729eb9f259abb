//! `lengthfilm [CASE or FILM]`: the window; without a display the same
//! findings as text, and the annotated picture in the current folder.

use std::path::{Path, PathBuf};

use super::output::{CliError, print_text};
use crate::case::{Case, is_case_path};
use crate::film::{self, OpenLimits, OpenedFilm};
use crate::measure::{self, FilmSummary, MeasureSettings};
use crate::one_line::one_line_path;
use crate::phantom;
use crate::report::{self, Existing, ExportOptions};

/// Opens what was named, or the demo case.
pub fn run(path: Option<&Path>) -> Result<(), CliError> {
    // A wrong path is said at once, not by a window that opens empty.
    if let Some(path) = path
        && !path.is_file()
    {
        return Err(CliError::at(
            path,
            "there is no such file; name a case or a film",
        ));
    }
    if !has_display() {
        return without_window(path, "no display");
    }
    window(path)
}

#[cfg(feature = "desktop")]
fn window(path: Option<&Path>) -> Result<(), CliError> {
    use crate::desktop::{self, DesktopError, StartWith};
    let start = match path {
        None => StartWith::Welcome,
        Some(path) if is_case_path(path) => StartWith::Case(path.to_owned()),
        Some(path) => StartWith::Film(path.to_owned()),
    };
    match desktop::run(start) {
        Ok(()) => Ok(()),
        Err(error @ DesktopError::NoWindow(_)) => without_window(path, &error.to_string()),
    }
}

#[cfg(not(feature = "desktop"))]
fn window(path: Option<&Path>) -> Result<(), CliError> {
    without_window(path, "built without the window")
}

/// A window system can be reached. Only where there is one without these
/// variables (Windows, macOS) is it always tried.
fn has_display() -> bool {
    let set = |name| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    !cfg!(all(unix, not(target_os = "macos"))) || set("DISPLAY") || set("WAYLAND_DISPLAY")
}

/// What a window would have shown.
struct Shown {
    case: Case,
    case_path: PathBuf,
    film: OpenedFilm,
    picture: PathBuf,
}

fn without_window(path: Option<&Path>, why: &str) -> Result<(), CliError> {
    let shown = match path {
        None => demo()?,
        Some(path) if is_case_path(path) => from_case(path)?,
        Some(path) => return film_facts(path, why),
    };
    let settings = MeasureSettings::default();
    let name = shown.case_path.display().to_string();
    let summary = FilmSummary::from(&shown.film);
    let findings = measure::measure(&shown.case, &summary, &name, &settings)
        .map_err(|error| CliError::at(&shown.case_path, error))?;
    print_text(&measure::findings_text(&findings))?;
    let options = ExportOptions {
        existing: Existing::ReplaceNamed,
        ..ExportOptions::default()
    };
    report::write(
        &shown.case,
        &shown.case_path,
        &shown.film,
        &findings,
        &shown.picture,
        &options,
    )
    .map_err(CliError::input)?;
    print_text(&format!(
        "No window ({why}): the findings are above, the annotated film is in {}.\n",
        one_line_path(&shown.picture)
    ))
}

fn demo() -> Result<Shown, CliError> {
    let demo = phantom::demo().map_err(CliError::input)?;
    Ok(Shown {
        case: demo.case,
        case_path: PathBuf::from("demo.case.json"),
        film: demo.film,
        picture: PathBuf::from("lengthfilm-demo.png"),
    })
}

fn from_case(path: &Path) -> Result<Shown, CliError> {
    let (case, film) = measure::open_case(path).map_err(CliError::input)?;
    Ok(Shown {
        case,
        case_path: path.to_owned(),
        film,
        picture: PathBuf::from(format!("{}-annotated.png", case_name(path))),
    })
}

/// The name of a case without its ending.
fn case_name(path: &Path) -> String {
    let file = path.file_name().unwrap_or_default().to_string_lossy();
    let file = file.strip_suffix(".json").unwrap_or(&file);
    file.strip_suffix(".case").unwrap_or(file).to_owned()
}

/// A film alone has no findings yet: its facts are all there is to say.
fn film_facts(path: &Path, why: &str) -> Result<(), CliError> {
    let opened = film::open(path, &OpenLimits::default()).map_err(CliError::input)?;
    print_text(&film::info_text(&opened))?;
    print_text(&format!(
        "No window ({why}): nothing is traced on this film yet, so these are its facts.\n"
    ))
}
