//! What two films say of a canal, as measurements of the structured report.

use super::codes::Code;
use super::measurements::Measurement;
use crate::two_view::TwoViewFindings;
use crate::units::Quantity;

/// Every number found in space.
pub fn measurements(found: &TwoViewFindings) -> Vec<Measurement> {
    let mm = || Code::ucum("mm", "millimeter");
    let degree = || Code::ucum("deg", "degree");
    let angle = || Code::sct("1483009", "Angle");
    let measured =
        |concept: Code, code: &str, meaning: &str, unit: Code, quantity: Quantity| Measurement {
            concept,
            method: Code::own(code, meaning),
            unit,
            value: quantity.value,
            reach: Some([quantity.u95; 2]),
            along: Vec::new(),
        };
    let mut all = vec![
        measured(
            Code::dcm("121211", "Path length"),
            "SPACE_LENGTH",
            "Canal in space from two films, orifice to apex",
            mm(),
            found.length_mm,
        ),
        measured(
            angle(),
            "SPACE_NET",
            "Net curvature in space from two films",
            degree(),
            found.net_turn_deg,
        ),
        measured(
            angle(),
            "SPACE_TOTAL",
            "Total curvature in space from two films",
            degree(),
            found.total_turn_deg,
        ),
    ];
    if let Some(length) = found.working_length_mm {
        all.push(measured(
            Code::sct("410668003", "Length"),
            "SPACE_WL",
            "Working length in space from two films",
            mm(),
            length,
        ));
    }
    for (i, curve) in found.curves.iter().enumerate() {
        let n = i + 1;
        all.push(measured(
            angle(),
            &format!("SPACE{n}_TURN"),
            &format!("Curve {n} in space: turn"),
            degree(),
            curve.turn_deg,
        ));
        all.push(measured(
            Code::sct("131190003", "Radius"),
            &format!("SPACE{n}_RADIUS"),
            &format!("Curve {n} in space: radius"),
            mm(),
            curve.radius_mm,
        ));
        all.push(Measurement {
            concept: angle(),
            method: Code::own(
                &format!("SPACE{n}_PLANE"),
                &format!("Curve {n} in space: plane, 0 is film A, 90 the source"),
            ),
            unit: degree(),
            value: curve.plane_deg,
            reach: curve.plane_u95_deg.map(|u95| [u95; 2]),
            along: Vec::new(),
        });
    }
    all.retain(|m| {
        m.value.is_finite()
            && m.reach
                .is_none_or(|reach| reach.iter().all(|r| r.is_finite()))
    });
    all
}
