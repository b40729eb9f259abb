//! Which input spoils a result, and by how much: the budget of METHODS 8,
//! from the linear law.

use super::model::Table;
use super::numbers::{ABSENT, fixed};
use super::subject::Subject;
use crate::measure::{LandmarkKind, LengthOutput, Model, ScalarKind};

/// Lines of the budget: what was uncertain, in words.
const LINES: [(&str, Source); 8] = [
    ("Reference point", Source::Landmark(LandmarkKind::Reference)),
    ("File tip", Source::Landmark(LandmarkKind::Tip)),
    ("Apex", Source::Landmark(LandmarkKind::Apex)),
    ("Points of the trace", Source::Landmark(LandmarkKind::Canal)),
    (
        "Points of scale objects",
        Source::Landmark(LandmarkKind::ScaleObject),
    ),
    (
        "Known length of scale objects",
        Source::Scalar(ScalarKind::KnownLength),
    ),
    (
        "Set length of the file",
        Source::Scalar(ScalarKind::SetLength),
    ),
    (
        "Pixel pitch and magnification",
        Source::Scalar(ScalarKind::FilmScale),
    ),
];

#[derive(Clone, Copy, PartialEq, Eq)]
enum Source {
    Landmark(LandmarkKind),
    Scalar(ScalarKind),
}

/// The results whose budget is printed.
const RESULTS: [(&str, LengthOutput); 2] = [
    ("working length", LengthOutput::Additive),
    ("tip to apex", LengthOutput::TipToApex),
];

/// Standard uncertainties by kind of input, mm, for each canal's working
/// length and tip-to-apex distance; `None` without a scale.
pub fn table(subject: &Subject) -> Option<Table> {
    subject.detector_per_mm()?;
    let columns: Vec<(String, usize)> = subject
        .findings
        .canals
        .iter()
        .enumerate()
        .flat_map(|(canal, found)| {
            RESULTS.map(|(name, output)| {
                let column = Model::canal_offset(canal) + output as usize;
                (format!("{}, {name}", found.name), column)
            })
        })
        .filter(|(_, column)| subject.law.values[*column].is_finite())
        .collect();
    if columns.is_empty() {
        return None;
    }
    let mut table = Table::of_quantities(
        "Standard uncertainty each kind of input adds to a result, mm (linear law, JCGM 100, 5.1). \
         They add as squares.",
        "Input",
        columns.iter().map(|(name, _)| name.clone()),
    );
    for (name, source) in LINES {
        let shares: Vec<f64> = columns
            .iter()
            .map(|(_, column)| share(subject, source, *column))
            .collect();
        if shares.iter().any(|u| *u > 0.0) {
            let cells = shares.iter().map(|&u| match u {
                0.0 => ABSENT.to_owned(),
                u => fixed(u, 3),
            });
            table.row(std::iter::once(name.to_owned()).chain(cells).collect());
        }
    }
    let total = columns
        .iter()
        .map(|(_, column)| fixed(subject.law.standard_uncertainty(*column), 3));
    table.strong_row(
        std::iter::once("Together".to_owned())
            .chain(total)
            .collect(),
    );
    Some(table)
}

/// Root of the summed squares of one kind's contributions to an output.
fn share(subject: &Subject, source: Source, output: usize) -> f64 {
    let inputs = &subject.model.inputs;
    let landmarks = inputs.landmarks().iter().flat_map(|landmark| {
        // x and y of each landmark are inputs of their own.
        [Source::Landmark(landmark.kind); 2]
    });
    let scalars = inputs
        .scalars()
        .iter()
        .map(|scalar| Source::Scalar(scalar.kind));
    landmarks
        .chain(scalars)
        .zip(&subject.law.contributions)
        .filter(|(kind, _)| *kind == source)
        .map(|(_, contributions)| contributions[output].powi(2))
        .sum::<f64>()
        .sqrt()
}
