//! Item analysis: which canal, which third of it and which line of the rubric
//! is hard, and which tells the good from the weak.

use std::collections::BTreeMap;

use serde::Serialize;

use super::grade::{CanalGrade, TraceGrade, Verdict};
use super::measures::Measure;
use crate::agreement::Interval;
use crate::learning::analysis::wilson;
use crate::statistics::correlation;

/// How the students did on one item, by the attempt that counts.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Answers {
    /// Students for whom it could be judged.
    pub students: usize,
    /// Share of them who met it: small for a hard item.
    pub met_share: f64,
    pub met_share_ci95: Interval,
    /// Correlation, over students, of meeting this item with the share met of
    /// all other lines of the rubric: near 0 it tells nothing, below 0 the good
    /// miss it. `null` where all or none met it, or nobody has another line.
    pub discrimination: Option<f64>,
}

/// One line of the rubric on one canal of one film.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Item {
    /// The film, where there are several.
    pub film: Option<String>,
    pub canal: String,
    pub measure: Measure,
    #[serde(flatten)]
    pub answers: Answers,
}

impl Item {
    /// In words.
    pub fn words(&self) -> String {
        let place = place(self.film.as_deref(), &self.canal);
        format!("{place}: {}", self.measure.words())
    }
}

/// A third of a canal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Third {
    Coronal,
    Middle,
    Apical,
}

impl Third {
    /// Each, from the orifice on.
    pub const ALL: [Third; 3] = [Third::Coronal, Third::Middle, Third::Apical];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Third::Coronal => "coronal third",
            Third::Middle => "middle third",
            Third::Apical => "apical third",
        }
    }

    /// The third that a place lies in, by its share of the way from the apex.
    fn at(from_apex: f64) -> Self {
        match from_apex {
            share if share < 1.0 / 3.0 => Third::Apical,
            share if share < 2.0 / 3.0 => Third::Middle,
            _ => Third::Coronal,
        }
    }
}

/// Staying within the rubric's `stray_mm` beside one third of one canal of one
/// film.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LevelItem {
    /// The film, where there are several.
    pub film: Option<String>,
    pub canal: String,
    pub third: Third,
    #[serde(flatten)]
    pub answers: Answers,
}

impl LevelItem {
    /// In words; `stray_mm` as it was judged by.
    pub fn words(&self, stray_mm: f64) -> String {
        let place = place(self.film.as_deref(), &self.canal);
        format!("{place}: within {stray_mm} mm, {}", self.third.words())
    }
}

fn place(film: Option<&str>, canal: &str) -> String {
    film.map_or(canal.to_owned(), |film| format!("{film}, {canal}"))
}

/// What the items are taken from: one film's traces.
pub struct ItemFilm<'a> {
    pub film: Option<&'a str>,
    pub traces: &'a [TraceGrade],
}

/// A canal, with its film where there are several.
type Place<'a> = (Option<&'a str>, &'a str);
/// Students, and whether they met an item.
type Met<'a> = Vec<(&'a str, bool)>;
/// Lines that a student met, of how many that could be judged.
type Totals<'a> = BTreeMap<&'a str, (usize, usize)>;

/// Every line of the rubric that could be judged for at least one student, the
/// hardest first.
pub fn items(films: &[ItemFilm]) -> Vec<Item> {
    let found = hardest_first(films, 1, judged).into_iter();
    let item = |((film, canal), measure, answers): Answered<Measure>| Item {
        film: film.map(str::to_owned),
        canal: canal.to_owned(),
        measure,
        answers,
    };
    found.map(item).collect()
}

/// Every third of a canal that at least one student traced, the hardest first;
/// none without a scale.
pub fn levels<'a>(films: &'a [ItemFilm], stray_mm: f64) -> Vec<LevelItem> {
    let thirds = |canal: &'a CanalGrade| {
        let third = move |third| Some((third, stays_within(canal, third, stray_mm)?));
        Third::ALL.into_iter().filter_map(third)
    };
    let found = hardest_first(films, 0, thirds).into_iter();
    let item = |((film, canal), third, answers): Answered<Third>| LevelItem {
        film: film.map(str::to_owned),
        canal: canal.to_owned(),
        third,
        answers,
    };
    found.map(item).collect()
}

/// What was asked at a place, and how it was answered.
type Answered<'a, K> = (Place<'a>, K, Answers);

/// What `asked` says of each canal was met or not, over all students, the
/// hardest first. `own_lines`: how many of a student's lines each is itself.
fn hardest_first<'a, K: Ord, I: Iterator<Item = (K, bool)>>(
    films: &'a [ItemFilm],
    own_lines: usize,
    asked: impl Fn(&'a CanalGrade) -> I,
) -> Vec<Answered<'a, K>> {
    let mut found: BTreeMap<(Place, K), Met> = BTreeMap::new();
    for (film, student, canal) in canals(films) {
        for (what, is_met) in asked(canal) {
            let key = ((film, canal.name.as_str()), what);
            found.entry(key).or_default().push((student, is_met));
        }
    }
    let totals = totals(films);
    let mut answered: Vec<_> = found
        .into_iter()
        .map(|((place, what), met)| (place, what, answers(&met, &totals, own_lines)))
        .collect();
    answered.sort_by(|a, b| a.2.met_share.total_cmp(&b.2.met_share));
    answered
}

/// Canals of the traces that count, each with its film and student.
fn canals<'a>(
    films: &'a [ItemFilm],
) -> impl Iterator<Item = (Option<&'a str>, &'a str, &'a CanalGrade)> {
    films.iter().flat_map(|film| {
        let traces = film.traces.iter().filter(|trace| trace.counts);
        traces.flat_map(move |trace| {
            let canals = trace.canals.iter();
            canals.map(move |canal| (film.film, trace.student.as_str(), canal))
        })
    })
}

/// The lines that speak for or against the student.
fn judged(canal: &CanalGrade) -> impl Iterator<Item = (Measure, bool)> {
    let lines = canal.lines.iter().filter(|line| line.verdict.counts());
    lines.map(|line| (line.measure, line.verdict == Verdict::Met))
}

fn totals<'a>(films: &'a [ItemFilm]) -> Totals<'a> {
    let mut totals = Totals::new();
    for (_, student, canal) in canals(films) {
        for (_, is_met) in judged(canal) {
            let total = totals.entry(student).or_default();
            total.0 += usize::from(is_met);
            total.1 += 1;
        }
    }
    totals
}

/// Whether the trace keeps within the limit beside a third; `None` where it is
/// not there, or has no scale. How far it ends from the apex is not asked.
fn stays_within(canal: &CanalGrade, third: Third, limit_mm: f64) -> Option<bool> {
    let (places, offsets) = (
        canal.deviations.from_apex_mm.as_ref()?,
        canal.deviations.offset_mm.as_ref()?,
    );
    let length = places.iter().copied().fold(0.0, f64::max);
    let mut own = places
        .iter()
        .zip(offsets)
        .filter(|(place, _)| Third::at(*place / length) == third)
        .filter_map(|(_, offset)| *offset)
        .peekable();
    own.peek()?;
    Some(own.all(|offset| offset.abs() <= limit_mm))
}

/// `own_lines`: how many of a student's lines the item itself is.
fn answers(met: &[(&str, bool)], totals: &Totals, own_lines: usize) -> Answers {
    let count = met.iter().filter(|(_, is_met)| *is_met).count();
    let (own, rest): (Vec<f64>, Vec<f64>) = met
        .iter()
        .filter_map(|(student, is_met)| {
            let &(all_met, all) = totals.get(student)?;
            let others = all.checked_sub(own_lines).filter(|others| *others > 0)?;
            let own = usize::from(*is_met);
            let others_met = all_met - own * own_lines;
            Some((own as f64, others_met as f64 / others as f64))
        })
        .unzip();
    Answers {
        students: met.len(),
        met_share: count as f64 / met.len() as f64,
        met_share_ci95: wilson(count, met.len()),
        discrimination: correlation(&own, &rest),
    }
}
