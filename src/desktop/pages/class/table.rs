//! The class as a table: one row per canal of each trace, sorted, filtered.

use std::cmp::Ordering;

use alphanumeric_sort::compare_str;

use crate::curvature::CurvatureQuantity;
use crate::grading::files::ClassGrade;
use crate::grading::grade::{CanalGrade, TraceGrade};
use crate::grading::measures::Measure;

/// How a row came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    Passed,
    NotPassed,
    /// The student did not trace this canal.
    NotTraced,
    /// No limit could be held against it.
    NotAssessed,
    /// The file could not be graded.
    Refused,
    /// The student handed nothing in.
    NotHandedIn,
}

impl Verdict {
    /// Every verdict, in the order of the filter.
    pub const ALL: [Verdict; 6] = [
        Verdict::Passed,
        Verdict::NotPassed,
        Verdict::NotTraced,
        Verdict::NotAssessed,
        Verdict::Refused,
        Verdict::NotHandedIn,
    ];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Verdict::Passed => "passed",
            Verdict::NotPassed => "not passed",
            Verdict::NotTraced => "not traced",
            Verdict::NotAssessed => "not assessed",
            Verdict::Refused => "not graded",
            Verdict::NotHandedIn => "not handed in",
        }
    }
}

/// What a row stands for; indices into the class.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RowOf {
    Canal { trace: usize, canal: usize },
    Missing { trace: usize },
    Refused { file: usize },
}

/// A column of the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Column {
    Student,
    Canal,
    Verdict,
    Points,
    Measure(Measure),
}

impl Column {
    /// Its heading.
    pub fn heading(self) -> &'static str {
        match self {
            Column::Student => "Student",
            Column::Canal => "Canal",
            Column::Verdict => "Verdict",
            Column::Points => "Points",
            Column::Measure(measure) => short(measure),
        }
    }

    /// The heading in full, with its unit.
    pub fn words(self) -> String {
        match self {
            Column::Measure(measure) => format!("{}, {}", measure.words(), measure.unit()),
            other => other.heading().to_lowercase(),
        }
    }

    /// Numbers stand right.
    pub fn is_number(self) -> bool {
        matches!(self, Column::Points | Column::Measure(_))
    }
}

/// Heading of a measure in a narrow column.
fn short(measure: Measure) -> &'static str {
    use Measure::*;
    match measure {
        MeanDistanceMm | MeanDistancePx => "Mean",
        Percentile95Mm | Percentile95Px => "95 %",
        HausdorffMm | HausdorffPx => "Hausdorff",
        FrechetMm | FrechetPx => "Fréchet",
        LengthErrorMm | LengthErrorPx => "Length",
        ApexErrorMm | ApexErrorPx => "Apex",
        TipErrorMm | TipErrorPx => "Tip",
        ChartErrorMm => "Chart",
        Curvature(CurvatureQuantity::Schneider) => "Schneider",
        other => other.words(),
    }
}

/// One row.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    pub of: RowOf,
    pub student: String,
    pub canal: String,
    pub verdict: Verdict,
    pub points: Option<f64>,
    pub points_possible: f64,
    /// One value per measure column.
    values: Vec<Option<f64>>,
}

/// What is shown of the table, and in which order.
#[derive(Clone, Debug, PartialEq)]
pub struct SortOrder {
    pub by: Column,
    pub descending: bool,
    /// Part of the student's or canal's name.
    pub text: String,
    pub verdict: Option<Verdict>,
}

impl Default for SortOrder {
    fn default() -> Self {
        Self {
            by: Column::Student,
            descending: false,
            text: String::new(),
            verdict: None,
        }
    }
}

impl SortOrder {
    /// Sorts by a column; by the same one again turns the order round.
    pub fn sort_by(&mut self, column: Column) {
        self.descending = self.by == column && !self.descending;
        self.by = column;
    }
}

/// The rows of a class.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    pub columns: Vec<Column>,
    pub rows: Vec<Row>,
}

impl Table {
    /// All rows, in the order of the files.
    pub fn of(class: &ClassGrade) -> Self {
        let measures = measures(class.reference.scale.mm_per_px.is_some());
        let mut columns = vec![
            Column::Student,
            Column::Canal,
            Column::Verdict,
            Column::Points,
        ];
        columns.extend(measures.iter().map(|&measure| Column::Measure(measure)));
        let mut rows = Vec::new();
        for (index, trace) in class.traces.iter().enumerate() {
            let canals = trace.canals.iter().enumerate();
            rows.extend(canals.map(|(canal, grade)| Row {
                of: RowOf::Canal {
                    trace: index,
                    canal,
                },
                ..row_of_canal(trace, grade, measures)
            }));
            rows.extend(trace.missing_canals.iter().map(|canal| Row {
                of: RowOf::Missing { trace: index },
                student: trace.student.clone(),
                canal: canal.clone(),
                verdict: Verdict::NotTraced,
                points: None,
                points_possible: 0.0,
                values: vec![None; measures.len()],
            }));
        }
        rows.extend(class.refused.iter().enumerate().map(|(file, refused)| Row {
            of: RowOf::Refused { file },
            student: refused.student.clone(),
            canal: String::new(),
            verdict: match refused.is_file() {
                true => Verdict::Refused,
                false => Verdict::NotHandedIn,
            },
            points: None,
            points_possible: 0.0,
            values: vec![None; measures.len()],
        }));
        Self { columns, rows }
    }

    /// Indices of the rows to show.
    pub fn shown(&self, order: &SortOrder) -> Vec<usize> {
        let wanted = order.text.trim().to_lowercase();
        let mut shown: Vec<usize> = (0..self.rows.len())
            .filter(|&index| {
                let row = &self.rows[index];
                order.verdict.is_none_or(|verdict| row.verdict == verdict)
                    && [&row.student, &row.canal]
                        .iter()
                        .any(|name| name.to_lowercase().contains(&wanted))
            })
            .collect();
        match order.by {
            Column::Student => self.sort_by_name(&mut shown, order.descending, |row| &row.student),
            Column::Canal => self.sort_by_name(&mut shown, order.descending, |row| &row.canal),
            _ => shown.sort_by(|&a, &b| self.compare(&self.rows[a], &self.rows[b], order)),
        }
        shown
    }

    /// A measure's value in a row.
    pub fn value(&self, row: &Row, column: Column) -> Option<f64> {
        let at = self.columns.iter().position(|&one| one == column)?;
        let first = self.columns.len() - row.values.len();
        row.values.get(at.checked_sub(first)?).copied().flatten()
    }

    /// Letters whatever their case, numbers within the names by size.
    fn sort_by_name(&self, shown: &mut [usize], descending: bool, name: fn(&Row) -> &String) {
        let keys: Vec<String> = self
            .rows
            .iter()
            .map(|row| name(row).to_lowercase())
            .collect();
        shown.sort_by(|&a, &b| {
            let order = compare_str(&keys[a], &keys[b]);
            if descending { order.reverse() } else { order }
        });
    }

    fn compare(&self, a: &Row, b: &Row, order: &SortOrder) -> Ordering {
        match order.by {
            Column::Verdict if order.descending => b.verdict.cmp(&a.verdict),
            Column::Verdict => a.verdict.cmp(&b.verdict),
            Column::Points => compare_numbers(a.points, b.points, order.descending),
            column => compare_numbers(
                self.value(a, column),
                self.value(b, column),
                order.descending,
            ),
        }
    }
}

/// Numbers by size; what has none stands last either way.
fn compare_numbers(a: Option<f64>, b: Option<f64>, descending: bool) -> Ordering {
    match (a, b) {
        (Some(a), Some(b)) if descending => b.total_cmp(&a),
        (Some(a), Some(b)) => a.total_cmp(&b),
        (Some(_), None) => Ordering::Less,
        (None, Some(_)) => Ordering::Greater,
        (None, None) => Ordering::Equal,
    }
}

/// The measures with a column, in the unit of the class.
fn measures(in_mm: bool) -> &'static [Measure] {
    use Measure::*;
    if in_mm {
        &[
            MeanDistanceMm,
            Percentile95Mm,
            HausdorffMm,
            FrechetMm,
            LengthErrorMm,
            ApexErrorMm,
            TipErrorMm,
            ChartErrorMm,
            Curvature(CurvatureQuantity::Schneider),
        ]
    } else {
        &[
            MeanDistancePx,
            Percentile95Px,
            HausdorffPx,
            FrechetPx,
            LengthErrorPx,
            ApexErrorPx,
            TipErrorPx,
            Curvature(CurvatureQuantity::Schneider),
        ]
    }
}

fn row_of_canal(trace: &TraceGrade, canal: &CanalGrade, measures: &[Measure]) -> Row {
    Row {
        of: RowOf::Canal { trace: 0, canal: 0 },
        student: trace.student.clone(),
        canal: canal.name.clone(),
        verdict: match canal.passed {
            Some(true) => Verdict::Passed,
            Some(false) => Verdict::NotPassed,
            None => Verdict::NotAssessed,
        },
        points: Some(canal.points),
        points_possible: canal.points_possible,
        values: measures
            .iter()
            .map(|measure| canal.measures.get(measure).copied().flatten())
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MEAN: Column = Column::Measure(Measure::MeanDistanceMm);

    fn table(rows: &[(&str, Verdict, Option<f64>)]) -> Table {
        Table {
            columns: vec![Column::Student, MEAN],
            rows: rows
                .iter()
                .map(|&(student, verdict, mean)| Row {
                    of: RowOf::Refused { file: 0 },
                    student: student.to_owned(),
                    canal: "MB".to_owned(),
                    verdict,
                    points: None,
                    points_possible: 0.0,
                    values: vec![mean],
                })
                .collect(),
        }
    }

    fn class() -> Table {
        table(&[
            ("student 10", Verdict::Passed, Some(0.1)),
            ("Student 9", Verdict::NotPassed, Some(0.3)),
            ("torn.case.json", Verdict::Refused, None),
            ("student 2", Verdict::Passed, Some(0.2)),
        ])
    }

    #[test]
    fn names_sort_as_people_count() {
        assert_eq!(class().shown(&SortOrder::default()), [3, 1, 0, 2]);
    }

    #[test]
    fn what_has_no_number_stands_last_in_both_directions() {
        let mut order = SortOrder::default();
        order.sort_by(MEAN);
        assert_eq!(class().shown(&order), [0, 3, 1, 2]);
        order.sort_by(MEAN);
        assert_eq!(class().shown(&order), [1, 3, 0, 2]);
    }

    #[test]
    fn text_and_verdict_filter_together() {
        let order = SortOrder {
            text: " STUDENT".to_owned(),
            verdict: Some(Verdict::Passed),
            ..SortOrder::default()
        };
        assert_eq!(class().shown(&order), [3, 0]);
        let canal = SortOrder {
            text: "mb".to_owned(),
            ..SortOrder::default()
        };
        assert_eq!(class().shown(&canal).len(), 4);
    }
}
