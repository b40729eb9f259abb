//! Lengths of traces beside those of the reference.

use std::collections::BTreeMap;

use super::grade::{CanalGrade, TraceGrade};
use super::length_unit::LengthUnit;
use super::measures::Measure;
use crate::agreement::AgreementError;
use crate::agreement::bland_altman::LimitConvention;
use crate::agreement::clustered::{ClusteredBlandAltman, clustered_bland_altman};
use crate::agreement::repeatability::{Dahlberg, dahlberg};
use crate::statistics::{mean, sample_sd, t_two_sided_p};

/// Lengths in the unit of the class.
#[derive(Clone, Copy)]
pub struct Lengths {
    pub unit: LengthUnit,
}

impl Lengths {
    /// The length of a trace.
    pub fn of(self, canal: &CanalGrade) -> Option<f64> {
        self.unit
            .pick(canal.curved_length_mm, canal.curved_length_px)
    }

    /// Trace − reference.
    pub fn error_of(self, canal: &CanalGrade) -> Option<f64> {
        let measure = self
            .unit
            .pick(Measure::LengthErrorMm, Measure::LengthErrorPx);
        canal.measures.get(&measure).copied().flatten()
    }
}

/// Lengths drawn and lengths of the reference, with whose they are.
#[derive(Default)]
pub struct LengthPairs<'a> {
    pub drawn: Vec<f64>,
    pub wanted: Vec<f64>,
    pub students: Vec<&'a str>,
}

impl<'a> LengthPairs<'a> {
    /// Those of every canal of every trace.
    pub fn of(traces: &'a [TraceGrade], lengths: Lengths) -> Self {
        let mut pairs = Self::default();
        for trace in traces {
            for canal in &trace.canals {
                if let Some((length, error)) = lengths.of(canal).zip(lengths.error_of(canal)) {
                    pairs.drawn.push(length);
                    pairs.wanted.push(length - error);
                    pairs.students.push(&trace.student);
                }
            }
        }
        pairs
    }

    /// # Errors
    /// Too few students.
    pub fn bland_altman(&self) -> Result<ClusteredBlandAltman, AgreementError> {
        let convention = LimitConvention::default();
        let mut found =
            clustered_bland_altman(&self.drawn, &self.wanted, &self.students, convention)?;
        // Of one reference length alone a correlation would be rounding.
        let first = self.wanted.first().copied().unwrap_or(f64::NAN);
        if self
            .wanted
            .iter()
            .all(|wanted| (wanted - first).abs() < 1e-9)
        {
            found.as_if_independent.correlation = None;
            found.as_if_independent.difference_against_mean = None;
        }
        Ok(found)
    }

    /// Dahlberg's error of all pairs, its test by students.
    ///
    /// # Errors
    /// No pair.
    pub fn dahlberg(&self) -> Result<Dahlberg, AgreementError> {
        let mut found = dahlberg(&self.drawn, &self.wanted)?;
        let mut of_student: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
        let differences = self.drawn.iter().zip(&self.wanted).map(|(a, b)| a - b);
        for (student, difference) in self.students.iter().zip(differences) {
            of_student.entry(student).or_default().push(difference);
        }
        let means: Vec<f64> = of_student.values().map(|own| mean(own)).collect();
        let n = means.len() as f64;
        let sd = sample_sd(&means);
        found.t = (sd > 0.0).then(|| mean(&means) / (sd / n.sqrt()));
        found.p = found.t.and_then(|t| t_two_sided_p(t, n - 1.0));
        Ok(found)
    }
}
