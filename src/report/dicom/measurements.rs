//! Which numbers of a canal the structured report holds, and as what.

use super::codes::Code;
use crate::case::Canal;
use crate::curvature::{Dimension, QUANTITIES};
use crate::measure::capitalised;
use crate::measure::catalogue::{LENGTHS, MeasuredAlong};
use crate::measure::findings::{CanalFindings, CurveFinding, Quantity};
use crate::units::FilmPoint;

/// One number with everything a NUM item needs.
pub struct Measurement {
    pub concept: Code,
    pub method: Code,
    pub unit: Code,
    pub value: f64,
    /// How far its 95 % interval reaches below and above it.
    pub reach: Option<[f64; 2]>,
    /// The line on the film it was measured along.
    pub along: Vec<FilmPoint>,
}

impl Measurement {
    /// With an interval that need not be even about it, where it has one.
    fn with_span(mut self, span: Option<[f64; 2]>) -> Self {
        if let Some([low, high]) = span {
            self.reach = Some([self.value - low, high - self.value].map(|reach| reach.max(0.0)));
        }
        self
    }
}

fn mm() -> Code {
    Code::ucum("mm", "millimeter")
}

fn path_length() -> Code {
    Code::dcm("121211", "Path length")
}

fn distance() -> Code {
    Code::dcm("121206", "Distance")
}

fn length() -> Code {
    Code::sct("410668003", "Length")
}

/// Every number of a canal that can be had.
pub fn of(canal: &Canal, found: &CanalFindings) -> Vec<Measurement> {
    let mut all = lengths(canal, found);
    if let Some(curvature) = &found.curvature {
        for row in QUANTITIES.iter().filter(|row| row.has_interval) {
            let (concept, unit) = match row.dimension {
                Dimension::Angle => (Code::sct("1483009", "Angle"), degree()),
                Dimension::Radius => (Code::sct("131190003", "Radius"), mm()),
                Dimension::Length => (length(), mm()),
            };
            let measured = measured(
                concept,
                Code::own(row.code, &capitalised(row.name)),
                unit,
                curvature[row.quantity],
                &canal.trace_px,
            );
            let span = curvature.span(row.quantity);
            all.extend(measured.map(|measured| measured.with_span(span)));
        }
        for (index, curve) in curvature.curves.iter().enumerate() {
            all.extend(bend(index + 1, curve, &canal.trace_px));
        }
    }
    all
}

fn degree() -> Code {
    Code::ucum("deg", "degree")
}

fn measured(
    concept: Code,
    method: Code,
    unit: Code,
    quantity: Option<Quantity>,
    along: &[FilmPoint],
) -> Option<Measurement> {
    quantity.map(|quantity| Measurement {
        concept,
        method,
        unit,
        value: quantity.value,
        reach: Some([quantity.u95; 2]),
        along: along.to_vec(),
    })
}

fn lengths(canal: &Canal, found: &CanalFindings) -> Vec<Measurement> {
    let trace = &canal.trace_px;
    let ends: Vec<FilmPoint> = trace
        .first()
        .into_iter()
        .chain(trace.last())
        .copied()
        .collect();
    let from_reference: Vec<FilmPoint> = canal
        .reference_px
        .iter()
        .chain(trace.iter())
        .copied()
        .collect();
    let tip = canal.file.as_ref().and_then(|file| file.tip_px);
    let apex = canal.apex_px.or(trace.last().copied());
    let to_apex: Vec<FilmPoint> = tip.into_iter().chain(apex).collect();
    let stated = |method: Code, value: Option<f64>| {
        value.map(|value| Measurement {
            concept: length(),
            method,
            unit: mm(),
            value,
            reach: None,
            along: Vec::new(),
        })
    };
    let in_px = found.curved_length_px.map(|value| Measurement {
        concept: path_length(),
        method: Code::own("CURVED_PX", "Canal along its drawn curve, pixels"),
        unit: Code::ucum("{pixels}", "pixels"),
        value,
        reach: None,
        along: trace.clone(),
    });
    let with_interval = LENGTHS.iter().filter_map(|row| {
        let (concept, along): (_, &[FilmPoint]) = match row.along {
            MeasuredAlong::Trace => (path_length(), trace),
            MeasuredAlong::Chord => (distance(), &ends),
            MeasuredAlong::FromReference => (path_length(), &from_reference),
            MeasuredAlong::TipToApex => (path_length(), &to_apex),
            MeasuredAlong::TipToApexStraight => (distance(), &to_apex),
            MeasuredAlong::Nothing => (length(), &[]),
        };
        let method = Code::own(row.code, row.meaning);
        measured(concept, method, mm(), (row.of)(found), along)
    });
    let alone = [
        in_px,
        stated(
            Code::own("WL_CHART", "Working length for the chart, towards short"),
            found.working_length_chart_mm,
        ),
        stated(
            Code::own("ALLOWANCE", "Allowance from the apex"),
            Some(found.allowance_mm),
        ),
    ];
    with_interval.chain(alone.into_iter().flatten()).collect()
}

/// Turn, radius and place of one bend, numbered from the orifice.
fn bend(number: usize, curve: &CurveFinding, trace: &[FilmPoint]) -> Vec<Measurement> {
    let own = |what: &str, meaning: &str| {
        Code::own(
            &format!("BEND{number}_{what}"),
            &format!("Bend {number}: {meaning}"),
        )
    };
    let place = |method: Code, value: Option<f64>| {
        value.map(|value| Measurement {
            concept: distance(),
            method,
            unit: mm(),
            value,
            reach: None,
            along: Vec::new(),
        })
    };
    [
        measured(
            Code::sct("1483009", "Angle"),
            own("TURN", "turn, + clockwise on the film"),
            degree(),
            curve.turn_deg,
            trace,
        ),
        measured(
            Code::sct("131190003", "Radius"),
            own("RADIUS", "radius"),
            mm(),
            curve.radius_mm,
            trace,
        )
        .map(|radius| radius.with_span(curve.radius_span_mm())),
        place(
            own("START", "start, along the path from the apex"),
            curve.start_from_apex_mm,
        ),
        place(
            own("END", "end, along the path from the apex"),
            curve.end_from_apex_mm,
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
}
