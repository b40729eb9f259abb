//! Who should hand in, and what is excused.

use std::collections::BTreeMap;
use std::path::Path;

use super::reference_canal::is_same_name;
use crate::atomic_file;
use crate::spreadsheet::read_table;

/// Largest list read, bytes.
const MAX_LIST_BYTES: u64 = 4 << 20;
/// Headings of the column of names.
const NAME_HEADINGS: [&str; 5] = ["student", "name", "students", "names", "participant"];
/// Word that excuses everything.
const EVERYTHING: &str = "all";

/// The students of a class.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Roster {
    /// Films or canals excused, by student, in the order of the list.
    students: Vec<(String, Vec<String>)>,
}

impl Roster {
    /// Reads a list: one student a line, or a table with the columns `student`
    /// and `excused` (names of films apart by `;` or `,`, or `all`).
    ///
    /// # Errors
    /// One clear line.
    pub fn load(path: &Path) -> Result<Self, String> {
        let at = |reason: String| format!("{}: {reason}", path.display());
        let size = std::fs::metadata(path)
            .map_err(|e| at(atomic_file::reading_reason(&e)))?
            .len();
        if size > MAX_LIST_BYTES {
            return Err(at("too large for a list of students".to_owned()));
        }
        let text = crate::spreadsheet::read_text(path, MAX_LIST_BYTES).map_err(at)?;
        Self::parse(&text).map_err(at)
    }

    /// [`Roster::load`] from a text.
    ///
    /// # Errors
    /// One clear line.
    pub fn parse(text: &str) -> Result<Self, String> {
        let rows = read_table(text)?;
        let is = |cell: &str, names: &[&str]| names.iter().any(|name| is_same_name(cell, name));
        let headed = rows
            .first()
            .and_then(|row| row.iter().position(|cell| is(cell, &NAME_HEADINGS)));
        let excused = headed.and_then(|_| rows[0].iter().position(|cell| is(cell, &["excused"])));
        let column = headed.unwrap_or(0);
        let mut found: Vec<(String, Vec<String>)> = Vec::new();
        let mut places: BTreeMap<String, usize> = BTreeMap::new();
        for row in rows.iter().skip(usize::from(headed.is_some())) {
            let cell = row.get(column).map(String::as_str).unwrap_or_default();
            let name: Vec<&str> = cell.split_whitespace().collect();
            if name.is_empty() {
                continue;
            }
            let name = name.join(" ");
            let films = excused.and_then(|at| row.get(at)).map(String::as_str);
            let films = films.unwrap_or_default().split([';', ',', '\n']);
            let films = films.map(str::trim).filter(|film| !film.is_empty());
            let films: Vec<String> = films.map(str::to_owned).collect();
            let place = *places.entry(name.clone()).or_insert_with(|| {
                found.push((name, Vec::new()));
                found.len() - 1
            });
            found[place].1.extend(films);
        }
        if found.is_empty() {
            return Err("no student in the list".to_owned());
        }
        Ok(Self { students: found })
    }

    /// The same with students who are not on the list, excused from nothing.
    #[must_use]
    pub fn with(mut self, students: impl IntoIterator<Item = String>) -> Self {
        for student in students {
            if self.names().all(|name| name != student) {
                self.students.push((student, Vec::new()));
            }
        }
        self
    }

    /// Names in the order of the list.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.students.iter().map(|(name, _)| name.as_str())
    }

    /// Whether a student is excused from the film of that name, with or
    /// without its ending.
    pub fn excuses(&self, student: &str, film: &str) -> bool {
        let own = self.students.iter().find(|(name, _)| name == student);
        let stem = film.rsplit_once('.').map_or(film, |(stem, _)| stem);
        own.is_some_and(|(_, films)| {
            films.iter().any(|excused| {
                [EVERYTHING, film, stem]
                    .iter()
                    .any(|name| is_same_name(name, excused))
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_and_a_table_are_read() {
        let list = Roster::parse("Ann Adler\n\n  Ben   Bach \n").expect("a list");
        assert_eq!(list.names().collect::<Vec<_>>(), ["Ann Adler", "Ben Bach"]);
        let table = "\u{feff}No;Student;Excused\n1;Ann;film-02, film-03.png\n2;Ben;ALL\n3;Cyd;\n";
        let table = Roster::parse(table).expect("a table");
        assert_eq!(table.names().count(), 3);
        for (student, film, excused) in [
            ("Ann", "film-02.png", true),
            ("Ann", "film-03.png", true),
            ("Ann", "film-01.png", false),
            ("Ben", "film-01.png", true),
            ("Cyd", "film-01.png", false),
            ("Dee", "film-01.png", false),
        ] {
            assert_eq!(table.excuses(student, film), excused, "{student} {film}");
        }
        assert!(Roster::parse("\n \n").is_err());
    }
}
