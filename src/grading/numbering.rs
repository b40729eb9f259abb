//! Numbers in place of names, one per student, and the list that tells whose
//! they are.

use std::collections::HashMap;

use crate::spreadsheet::{Dialect, inert};

/// Numbers given so far, from 1 in the order of asking.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Numbering {
    numbers: HashMap<String, usize>,
}

impl Numbering {
    /// The number of a student, given now where there is none yet.
    pub fn of(&mut self, student: &str) -> String {
        let next = self.numbers.len() + 1;
        let number = self.numbers.entry(student.to_owned()).or_insert(next);
        number.to_string()
    }

    /// Names by number; to be kept apart from what the numbers stand in.
    pub fn key(&self) -> Vec<(usize, &str)> {
        let mut all: Vec<_> = self
            .numbers
            .iter()
            .map(|(name, &n)| (n, name.as_str()))
            .collect();
        all.sort_unstable();
        all
    }

    /// The same as a table.
    pub fn key_table(&self, dialect: Dialect) -> Vec<u8> {
        let header = ["number", "student"].map(str::to_owned).to_vec();
        let key = self.key().into_iter();
        let rows = key.map(|(number, name)| vec![number.to_string(), inert(name)]);
        dialect.bytes(std::iter::once(header).chain(rows))
    }
}
