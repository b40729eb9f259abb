//! What is missing for the next number, in one line.

use crate::case::Case;
use crate::case::edit::file_object_index;
use crate::measure::findings::Findings;

/// The next step for a canal in words; `None` when nothing is missing.
pub fn next_step(case: &Case, findings: &Findings, canal: usize) -> Option<&'static str> {
    let content = case.canals.get(canal)?;
    let found = findings.canals.get(canal)?;
    let file_points = file_object_index(case, canal)
        .map_or(0, |object| case.scale.objects[object].points_px.len());
    let file = content.file.as_ref();
    let has_tip = file.is_some_and(|file| file.tip_px.is_some());
    let has_length = file.is_some_and(|file| file.set_length_mm.is_some());
    let has_trace = content.trace_px.len() > 1;
    let has_scale = findings.scale.mm_per_px.is_some();
    let has_apex = content.apex_px.is_some();
    let step = match (file_points > 0 || has_tip, has_trace) {
        (false, false) => "Mark the file: stop, then tip (F). Without a file: trace the canal (T).",
        (true, _) if !has_tip => "Now mark the file’s tip.",
        _ if !has_apex => "Mark the apex (A).",
        (true, _) if file_points > 1 && !has_length => "Type the set length.",
        _ if content.reference_px.is_none() && file_points < 2 => "Mark the reference point (R).",
        _ if !has_scale => {
            "No scale yet: mark a ruler (U) or a ball (B) of known size, or type the pixel pitch."
        }
        (true, _) if !has_length => "Type the set length for a working length.",
        (true, _) if found.tip_to_apex_mm.is_none() => {
            "Tip to apex not available: see the warnings below."
        }
        _ => return None,
    };
    Some(step)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::Landmark;
    use crate::case::edit::{self, Tool, new_case};
    use crate::measure::findings::{CanalFindings, ScaleFinding};
    use crate::units::FilmPoint;

    fn findings(mm_per_px: Option<f64>) -> Findings {
        Findings {
            case: String::new(),
            draws: None,
            scale: ScaleFinding {
                source: String::new(),
                description: String::new(),
                mm_per_px,
                u_mm_per_px: None,
                magnification: None,
            },
            canals: vec![CanalFindings::default()],
            assessment: Default::default(),
            film_check: None,
            warnings: Vec::new(),
        }
    }

    #[test]
    fn a_stop_beside_the_film_leads_by_tip_apex_reference_and_scale_to_the_set_length() {
        let mut case = new_case("film.png");
        let mut steps = Vec::new();
        for (landmark, y) in [
            (Landmark::Tip, 200.0),
            (Landmark::Apex, 230.0),
            (Landmark::Reference, 10.0),
        ] {
            steps.push(next_step(&case, &findings(None), 0).expect("a step"));
            let tool = Tool::Landmark(landmark);
            edit::place(&mut case, tool, 0, FilmPoint::new(50.0, y)).expect("a new place");
        }
        steps.push(next_step(&case, &findings(None), 0).expect("a step"));
        steps.push(next_step(&case, &findings(Some(0.03)), 0).expect("a step"));
        for (step, named) in steps
            .iter()
            .zip(["file", "apex", "reference", "scale", "set length"])
        {
            assert!(step.contains(named), "{step}");
        }
    }

    #[test]
    fn a_film_without_a_file_leads_by_canal_apex_and_reference_to_a_scale() {
        let mut case = new_case("film.png");
        case.canals[0].trace_px = vec![FilmPoint::new(10.0, 10.0), FilmPoint::new(10.0, 90.0)];
        let next = |case: &Case| next_step(case, &findings(None), 0).expect("a step");
        assert!(next(&case).contains("apex"));
        case.canals[0].apex_px = Some(FilmPoint::new(10.0, 90.0));
        assert!(next(&case).contains("reference"));
        case.canals[0].reference_px = Some(FilmPoint::new(10.0, 2.0));
        assert!(next(&case).contains("No scale"));
        assert_eq!(next_step(&case, &findings(Some(0.03)), 0), None);
    }
}
