//! Item analysis: which canal and which line of the rubric is hard, and which
//! tells the good from the weak.

use std::collections::BTreeMap;

use serde::Serialize;

use super::grade::{TraceGrade, Verdict};
use super::measures::Measure;
use crate::agreement::Interval;
use crate::learning::analysis::wilson;
use crate::statistics::correlation;

/// One line of the rubric on one canal of one film.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Item {
    /// The film, where there are several.
    pub film: Option<String>,
    pub canal: String,
    pub measure: Measure,
    /// Students for whom it could be judged, by the attempt that counts.
    pub students: usize,
    /// Share of them who met it: small for a hard item.
    pub met_share: f64,
    pub met_share_ci95: Interval,
    /// Correlation, over students, of meeting this item with the share met of
    /// all others: near 0 it tells nothing, below 0 the good miss it. `null`
    /// where all or none met it, or nobody has another item.
    pub discrimination: Option<f64>,
}

/// What the items are taken from: one film's traces.
pub struct ItemFilm<'a> {
    pub film: Option<&'a str>,
    pub traces: &'a [TraceGrade],
}

/// Every item that could be judged for at least one student, the hardest
/// first.
pub fn analyse(films: &[ItemFilm]) -> Vec<Item> {
    type Key<'a> = (Option<&'a str>, &'a str, Measure);
    let mut answers: BTreeMap<Key, Vec<(&str, bool)>> = BTreeMap::new();
    let mut totals: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
    for film in films {
        for trace in film.traces.iter().filter(|trace| trace.counts) {
            for canal in &trace.canals {
                for line in canal.lines.iter().filter(|line| line.verdict.counts()) {
                    let is_met = line.verdict == Verdict::Met;
                    let key = (film.film, canal.name.as_str(), line.measure);
                    answers
                        .entry(key)
                        .or_default()
                        .push((&trace.student, is_met));
                    let total = totals.entry(&trace.student).or_default();
                    total.0 += usize::from(is_met);
                    total.1 += 1;
                }
            }
        }
    }
    let mut items: Vec<Item> = answers
        .into_iter()
        .map(|((film, canal, measure), answers)| {
            let met = answers.iter().filter(|(_, is_met)| *is_met).count();
            let (own, rest): (Vec<f64>, Vec<f64>) = answers
                .iter()
                .filter_map(|(student, is_met)| {
                    let (all_met, all) = totals[student];
                    let others = all - 1;
                    let own = usize::from(*is_met);
                    (others > 0).then(|| (own as f64, (all_met - own) as f64 / others as f64))
                })
                .unzip();
            Item {
                film: film.map(str::to_owned),
                canal: canal.to_owned(),
                measure,
                students: answers.len(),
                met_share: met as f64 / answers.len() as f64,
                met_share_ci95: wilson(met, answers.len()),
                discrimination: correlation(&own, &rest),
            }
        })
        .collect();
    items.sort_by(|a, b| a.met_share.total_cmp(&b.met_share));
    items
}
