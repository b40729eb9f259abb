//! Rows of the form that a film or the tooth's number gives.

use super::evidence::{Evidence, Measured, Spread, worst, worst_shares};
use super::{inclination, opening};
use crate::assessment::{RowKey, position_class, tooth_length_class, tooth_length_shares};
use crate::curvature::DifficultyClass;
use crate::measure::assessment_findings::MeasuredRow;
use crate::measure::catalogue::LengthQuantity;
use crate::measure::class::{ClassShares, classes_drawn};
use crate::measure::model::Model;
use crate::tooth::ToothNumber;
use crate::units::Quantity;

/// What the film, or the tooth's number, says of a row.
pub fn row(evidence: &Evidence, row: RowKey) -> Option<Measured> {
    match row {
        RowKey::Position => position(evidence),
        RowKey::Inclination => inclination::row(evidence),
        RowKey::Curvature => curvature(evidence),
        RowKey::ToothLength => tooth_length(evidence),
        RowKey::ApexOpening => opening::row(evidence),
        _ => None,
    }
}

fn position(evidence: &Evidence) -> Option<Measured> {
    let tooth = evidence.case.tooth.as_ref()?;
    let number = ToothNumber::parse(tooth.notation, &tooth.number).ok()?;
    let class = position_class(number)?;
    let finding = MeasuredRow {
        class,
        probabilities: None,
        value: None,
        unit: "",
        canal: None,
        from: format!("tooth {}", tooth.number),
    };
    Some(Measured::new(evidence, finding, Spread::Certain(class)))
}

/// The canal-curvature row: the worst of the tooth's canals.
fn curvature(evidence: &Evidence) -> Option<Measured> {
    let difficulty = |canal: usize| {
        let found = evidence.canals[canal].curvature.as_ref()?;
        let class = DifficultyClass::from_label(found.difficulty.class.as_deref()?)?;
        let angle = found.difficulty.angle_deg;
        Some((class, angle, found.s_shaped))
    };
    let own: Vec<usize> = evidence.own_canals();
    let found = own
        .iter()
        .filter_map(|&canal| Some((canal, difficulty(canal)?)));
    let (canal, (class, angle, is_s)) = found.clone().max_by(|(_, a), (_, b)| {
        let angle = |found: Option<Quantity>| found.map_or(0.0, |angle| angle.value);
        a.0.cmp(&b.0).then(angle(a.1).total_cmp(&angle(b.1)))
    })?;
    let least_turn = evidence.settings.s_shape_least_turn_rad;
    let spread = match evidence.drawn {
        Some(drawn) => {
            worst(found.filter_map(|(canal, _)| classes_drawn(drawn, canal, least_turn)))
        }
        None => worst_shares(found.map(|(canal, _)| {
            let by_law = || ClassShares::of_law(evidence.intervals, canal, least_turn);
            let shares = evidence.has_law().then(by_law)??.classes;
            Some([shares.low, shares.moderate, shares.high])
        })),
    };
    let name = &evidence.case.canals[canal].name;
    let finding = MeasuredRow {
        class,
        probabilities: None,
        value: angle,
        unit: "deg",
        canal: Some(name.clone()),
        from: match is_s {
            true => format!("S-shaped canal {name}"),
            false => format!("canal {name}, Schneider's angle"),
        },
    };
    Some(Measured::new(evidence, finding, spread))
}

/// The length of the tooth: reference point to apex, the longest of its canals.
fn tooth_length(evidence: &Evidence) -> Option<Measured> {
    let output = |canal| Model::canal_offset(canal) + LengthQuantity::ReferenceToApex as usize;
    let own = evidence.own_canals();
    let found = own.iter().filter_map(|&canal| {
        let length = evidence.canals[canal].reference_to_apex_mm?;
        Some((canal, length))
    });
    let longest = found.clone().max_by(|a, b| a.1.value.total_cmp(&b.1.value));
    let (canal, length) = longest?;
    let class = tooth_length_class(length.value)?;
    let spread = match evidence.drawn {
        Some(drawn) => worst(found.filter_map(|(canal, _)| {
            let lengths = drawn.output(output(canal))?;
            Some(lengths.into_iter().map(tooth_length_class).collect())
        })),
        None => worst_shares(found.map(|(canal, length)| {
            let u = evidence.intervals.standard_uncertainties[output(canal)];
            let shares = || tooth_length_shares(length.value, u);
            evidence.has_law().then(shares)?
        })),
    };
    let name = &evidence.case.canals[canal].name;
    let finding = MeasuredRow {
        class,
        probabilities: None,
        value: Some(length),
        unit: "mm",
        canal: Some(name.clone()),
        from: format!("reference point to apex, canal {name}"),
    };
    Some(Measured::new(evidence, finding, spread))
}
