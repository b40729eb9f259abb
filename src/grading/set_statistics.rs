//! What an exercise set as a whole shows.

use std::collections::BTreeMap;

use serde::Serialize;

use super::grade::TraceGrade;
use super::items::{self, Item, ItemFilm, LevelItem};
use super::length_unit::LengthUnit;
use super::lengths::{LengthPairs, Lengths};
use super::statistics::{LengthIcc, Statistic};
use crate::agreement::clustered::ClusteredBlandAltman;
use crate::agreement::icc::{VarianceTable, intraclass_correlations};

/// What an exercise set as a whole shows: films × students.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SetStatistics {
    pub length_unit: &'static str,
    /// Student − truth over all films; the pairs of one student are taken
    /// together.
    pub length_bland_altman: Statistic<ClusteredBlandAltman>,
    /// Films × students, each student's first trace of each film.
    pub length_icc: Statistic<LengthIcc>,
    /// Each line of the rubric on each film, the hardest first.
    pub items: Vec<Item>,
    /// Each third of the canal of each film, the hardest first.
    pub levels: Vec<LevelItem>,
}

/// The statistics of the films of a set, each with its name and its traces.
/// Canals of several films are the subjects of the correlation. `stray_mm`: how
/// far beside the canal a trace may lie.
pub fn set_statistics(films: &[(&str, &[TraceGrade])], stray_mm: f64) -> SetStatistics {
    let lengths = Lengths {
        unit: LengthUnit::Millimetre,
    };
    let mut pairs = LengthPairs::default();
    for (_, traces) in films {
        let own = LengthPairs::of(traces, lengths);
        pairs.drawn.extend(own.drawn);
        pairs.wanted.extend(own.wanted);
        pairs.students.extend(own.students);
    }
    let items: Vec<ItemFilm> = films
        .iter()
        .map(|(film, traces)| ItemFilm {
            film: Some(film),
            traces,
        })
        .collect();
    SetStatistics {
        length_unit: "mm",
        length_bland_altman: Statistic::of(pairs.bland_altman()),
        length_icc: Statistic::of(set_icc(films, lengths)),
        levels: items::levels(&items, stray_mm),
        items: items::items(&items),
    }
}

fn set_icc(films: &[(&str, &[TraceGrade])], lengths: Lengths) -> Result<LengthIcc, String> {
    if films.len() < 2 {
        return Err("one film has no correlation: it needs at least 2".to_owned());
    }
    let mut by_student: BTreeMap<&str, Vec<Option<f64>>> = BTreeMap::new();
    for (index, (_, traces)) in films.iter().enumerate() {
        for trace in traces.iter().filter(|trace| trace.attempt == 1) {
            let row = by_student
                .entry(&trace.student)
                .or_insert_with(|| vec![None; films.len()]);
            row[index] = trace.canals.first().and_then(|canal| lengths.of(canal));
        }
    }
    let all = by_student.len();
    let complete: Vec<Vec<f64>> = by_student
        .into_values()
        .filter_map(|row| row.into_iter().collect())
        .collect();
    if complete.len() < 2 {
        return Err(format!(
            "{} of {all} students traced every film; a correlation needs at least 2",
            complete.len()
        ));
    }
    let table: Vec<Vec<f64>> = (0..films.len())
        .map(|film| complete.iter().map(|student| student[film]).collect())
        .collect();
    let icc = VarianceTable::from_ratings(&table)
        .and_then(|table| intraclass_correlations(&table))
        .map_err(|e| e.to_string())?;
    Ok(LengthIcc {
        icc,
        canals: films.len(),
        students: complete.len(),
        students_left_out: all - complete.len(),
    })
}
