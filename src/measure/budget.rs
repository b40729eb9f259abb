//! What the uncertainty of a result is made of: which input to improve.
//!
//! The share of an input is its part of the result's variance by the linear
//! law (JCGM 100, 5.1; each input's own term of second order included), summed
//! over inputs of a kind. Shares of one result add up to 1.

use super::catalogue::CanalQuantity;
use super::findings::{Budget, BudgetLine, CanalFindings};
use super::input_group::InputGroup;
use super::linear::LinearLaw;
use super::model::Model;

/// The group of each value of a model's flat input vector.
pub fn groups(model: &Model) -> Vec<InputGroup> {
    let clicks = model.inputs.clicks().iter();
    let scalars = model.inputs.scalars().iter();
    clicks
        .flat_map(|click| [InputGroup::Clicks(click.kind); 2])
        .chain(scalars.map(|scalar| InputGroup::Scalar(scalar.kind)))
        .collect()
}

/// Standard uncertainty that each group gives an output (index among the
/// model's outputs), in the output's unit; groups that give none left out,
/// the greatest first.
pub fn contributions(model: &Model, law: &LinearLaw, output: usize) -> Vec<(InputGroup, f64)> {
    let of_inputs: Vec<_> = groups(model).into_iter().zip(law.budget(output)).collect();
    let of_group = |group: InputGroup| {
        let own = of_inputs.iter().filter(|(g, _)| *g == group);
        own.map(|(_, line)| line.contribution.powi(2))
            .sum::<f64>()
            .sqrt()
    };
    let mut found: Vec<_> = InputGroup::ALL
        .into_iter()
        .map(|group| (group, of_group(group)))
        .filter(|(_, u)| *u > 0.0)
        .collect();
    found.sort_by(|a, b| b.1.total_cmp(&a.1));
    found
}

/// The budgets of canal `index`.
pub fn of_canal(
    model: &Model,
    law: &LinearLaw,
    index: usize,
    found: &CanalFindings,
) -> Vec<Budget> {
    let budget = |quantity: CanalQuantity| {
        let output = Model::canal_offset(index) + quantity.output()?;
        let parts = contributions(model, law, output);
        let variance: f64 = parts.iter().map(|(_, u)| u * u).sum();
        let unit = quantity.shown_per_computed();
        let line = |(group, u): (InputGroup, f64)| BudgetLine {
            input: group.code().to_owned(),
            words: group.words().to_owned(),
            share: u * u / variance,
            u: u * unit,
        };
        let remedy = parts.first().map(|(group, _)| group.remedy().to_owned());
        Some(Budget {
            result: quantity.key(),
            lines: parts.into_iter().map(line).collect(),
            remedy,
        })
    };
    let quantities = CanalQuantity::with_budget(found).into_iter();
    quantities.filter_map(budget).collect()
}
