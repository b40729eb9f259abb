//! The cases of a folder that are about given films.

use std::collections::HashSet;
use std::io;
use std::path::{Path, PathBuf};

use super::file::{film_path, load};
use crate::film::hex_digest;
use crate::input_file;

/// Ending of the case files that are looked for.
const CASE_ENDING: &str = ".case.json";

/// What was found for some films.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CasesOfFilms {
    /// Cases about one of the films, by path.
    pub cases: Vec<PathBuf>,
    /// Films that no case is about, in their order.
    pub without_case: Vec<PathBuf>,
    /// Case files that cannot be read, with the reason: they may be about any.
    pub unread: Vec<(PathBuf, String)>,
}

/// The cases in `folder` and below whose film is one of `films`: the very file,
/// or one of the same SHA-256. Links to folders are not followed.
///
/// # Errors
/// A folder, or one of the films, that cannot be read.
pub fn cases_of_films(
    folder: &Path,
    films: &[PathBuf],
    most_film_bytes: u64,
) -> io::Result<CasesOfFilms> {
    let mut own = Vec::with_capacity(films.len());
    for film in films {
        let sha256 = hex_digest(&input_file::read(film, most_film_bytes)?);
        own.push((film.canonicalize()?, sha256));
    }
    let mut paths = Vec::new();
    below(folder, &mut paths)?;
    paths.sort();
    let mut found = CasesOfFilms::default();
    let mut with_case = HashSet::new();
    for path in paths {
        let case = match load(&path) {
            Ok(case) => case,
            Err(error) => {
                found.unread.push((path, error.to_string()));
                continue;
            }
        };
        let named = film_path(&case, &path).canonicalize().ok();
        let hash = case.film.sha256.as_deref().unwrap_or_default();
        let of = own.iter().position(|(film, sha256)| {
            named.as_ref() == Some(film) || sha256.eq_ignore_ascii_case(hash)
        });
        if let Some(of) = of {
            with_case.insert(of);
            found.cases.push(path);
        }
    }
    found.without_case = films
        .iter()
        .enumerate()
        .filter(|(at, _)| !with_case.contains(at))
        .map(|(_, film)| film.clone())
        .collect();
    Ok(found)
}

fn below(folder: &Path, paths: &mut Vec<PathBuf>) -> io::Result<()> {
    for entry in std::fs::read_dir(folder)? {
        let entry = entry?;
        if entry.file_type()?.is_dir() {
            below(&entry.path(), paths)?;
        } else if entry.file_name().to_string_lossy().ends_with(CASE_ENDING) {
            paths.push(entry.path());
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::edit::new_case;
    use crate::case::save;

    #[test]
    fn cases_are_found_by_path_and_by_hash() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::create_dir_all(at("deep/er")).unwrap();
        for (name, bytes) in [
            ("a.dcm", "a"),
            ("b.dcm", "b"),
            ("c.dcm", "c"),
            ("x.dcm", "x"),
        ] {
            std::fs::write(at(name), bytes).unwrap();
        }
        std::fs::write(at("deep/copy of b.dcm"), "b").unwrap();
        let write = |case: &str, film: &str, sha256: Option<&str>| {
            let mut new = new_case(film);
            new.film.sha256 = sha256.map(str::to_owned);
            save(&new, &at(case)).unwrap();
        };
        write("a.case.json", "a.dcm", None);
        // sha256sum of GNU coreutils 9.1 for the letter b.
        let of_b = "3e23e8160039594a33894f6564e1b1348bbd7a0088d42c4acb73eeaed59c009d";
        write("deep/er/b.case.json", "../copy of b.dcm", Some(of_b));
        write("x.case.json", "x.dcm", None);
        std::fs::write(at("torn.case.json"), "{").unwrap();
        std::fs::write(at("notes.json"), "{").unwrap();
        let films = [at("a.dcm"), at("b.dcm"), at("c.dcm")];
        let found = cases_of_films(folder.path(), &films, 100).unwrap();
        assert_eq!(found.cases, [at("a.case.json"), at("deep/er/b.case.json")]);
        assert_eq!(found.without_case, [at("c.dcm")]);
        assert_eq!(found.unread.len(), 1);
        assert_eq!(found.unread[0].0, at("torn.case.json"));
        assert!(cases_of_films(&at("nowhere"), &films, 100).is_err());
        assert!(cases_of_films(folder.path(), &[at("gone.dcm")], 100).is_err());
    }
}
