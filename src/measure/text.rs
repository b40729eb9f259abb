//! Findings as plain text for a terminal.

use std::fmt::Write;

use super::assessment::class_words;
use super::assessment_findings::RowFinding;
use super::catalogue::{LENGTHS, LengthRow, name_of_key};
use super::findings::{Budget, CanalFindings, CurvatureFindings, Findings};
use super::input_group::InputGroup;
use crate::case::edit::canal_in_words;
use crate::cautions::CAUTIONS;
use crate::curvature::QUANTITIES;
use crate::one_line::one_line;
use crate::uncertainty::rounding::with_u95;
use crate::units::Quantity;

/// The findings of one case, a line per quantity.
pub fn findings_text(findings: &Findings) -> String {
    let mut text = String::new();
    // Writing to a `String` cannot fail.
    let _ = write_findings(&mut text, findings);
    text
}

fn write_findings(out: &mut String, findings: &Findings) -> std::fmt::Result {
    writeln!(out, "{}", one_line(&findings.case))?;
    write!(out, "Scale: {}", one_line(&findings.scale.description))?;
    if let Some(mm_per_px) = findings.scale.mm_per_px {
        write!(out, ", {mm_per_px:.5} mm/px")?;
    }
    if let Some(magnification) = findings.scale.magnification {
        write!(out, ", magnification {magnification:.3}")?;
    }
    writeln!(out)?;
    let check = findings.film_check.as_ref();
    if let Some(hinders) = check.and_then(|check| check.hinders.as_ref()) {
        writeln!(out, "Film: {}", one_line(hinders))?;
    }
    for canal in &findings.canals {
        write_canal(out, canal)?;
    }
    write_assessment(out, findings)?;
    let mut canals = findings.canals.iter();
    if canals.any(|canal| canal.curvature.is_some()) {
        writeln!(out, "\nCaution\n  {}", CAUTIONS[0].text)?;
    }
    let mut warnings = findings.warnings_beyond_advice().peekable();
    if warnings.peek().is_some() {
        writeln!(out, "\nWarnings")?;
        for warning in warnings {
            let text = one_line(&warning.text);
            match &warning.canal {
                Some(canal) => writeln!(out, "  {}: {text}", one_line(canal))?,
                None => writeln!(out, "  {text}")?,
            }
        }
    }
    writeln!(out)
}

fn write_canal(out: &mut String, canal: &CanalFindings) -> std::fmt::Result {
    let heading = capitalised(&canal_in_words(&canal.name));
    writeln!(out, "\n{}", one_line(&heading))?;
    if let Some(d) = canal.tip_to_apex_mm {
        line(out, "Tip", &tip_words(d))?;
    }
    if let Some(chart) = canal.working_length_chart_mm {
        let note = format!("{chart} mm (allowance {} mm)", canal.allowance_mm);
        line(out, "Working length, chart", &note)?;
    }
    // The tip has been told already.
    let is_tip = |row: &&LengthRow| row.key.starts_with("tip_to_apex");
    for row in LENGTHS.iter().filter(|row| !is_tip(row)) {
        if let Some(quantity) = (row.of)(canal) {
            line(out, row.name, &with_u95(quantity, "mm"))?;
        }
    }
    if let (None, Some(px)) = (canal.curved_length_mm, canal.curved_length_px) {
        line(out, "Curved length", &format!("{px:.1} px (no scale)"))?;
    }
    if let Some(curvature) = &canal.curvature {
        write_curvature(out, curvature)?;
    }
    for (label, key) in [
        ("Working length rests on", "working_length_additive_mm"),
        ("Working length rests on", "working_length_proportion_mm"),
        ("Curve's angle rests on", "curves[0].turn_deg"),
    ] {
        let budget = canal.budget.iter().find(|budget| budget.result == key);
        let has_additive = canal.working_length_additive_mm.is_some();
        if let Some(budget) = budget
            && !(has_additive && key == "working_length_proportion_mm")
        {
            line(out, label, &budget_words(budget))?;
        }
    }
    for advice in &canal.advice {
        writeln!(out, "  {}", one_line(advice))?;
    }
    Ok(())
}

fn write_curvature(out: &mut String, curvature: &CurvatureFindings) -> std::fmt::Result {
    if let Some(words) = curvature.angles_from_words() {
        line(out, "Angles from", words)?;
    }
    for row in QUANTITIES.iter().filter(|row| row.has_interval) {
        if let Some(text) = curvature.words(row, row.dimension.sign()) {
            line(out, row.name, &text)?;
        }
    }
    for (i, curve) in curvature.curves.iter().enumerate() {
        if let Some(turn) = curve.turn_deg {
            let mut text = with_u95(turn, "°");
            if let Some(words) = curve.radius_words("mm") {
                write!(text, ", radius {words}")?;
            }
            if let (Some(schneider), true) = (curve.schneider_deg, curvature.curves.len() > 1) {
                write!(text, ", Schneider {}", with_u95(schneider, "°"))?;
            }
            line(out, &format!("Curve {}", i + 1), &text)?;
        }
    }
    if let Some(p) = curvature.s_shaped_probability.filter(|p| *p >= 0.005) {
        line(out, "S-shaped", &percent_words(p))?;
    }
    match curvature.difficulty.words() {
        Some(text) => line(out, "AAE form 2022, canal-curvature row only", &text),
        None => Ok(()),
    }
}

/// The rows that were assessed, and what they make of the case.
fn write_assessment(out: &mut String, findings: &Findings) -> std::fmt::Result {
    let Some(whole) = findings.assessment.whole_words() else {
        return Ok(());
    };
    writeln!(out, "\nCase difficulty ({})", findings.assessment.form)?;
    line(out, "Whole case", &whole)?;
    let assessed = |row: &&RowFinding| row.class.is_some();
    for row in findings.assessment.rows.iter().filter(assessed) {
        let text = format!("{} ({})", class_words(row), row.source_words());
        line(out, row.name, &text)?;
    }
    Ok(())
}

/// Parts below this share are not worth a word.
const LEAST_SHARE_IN_WORDS: f64 = 0.05;

/// What accounts for an uncertainty: "the file's set length: 68 %, the click on the
/// apex: 20 %".
pub fn budget_words(budget: &Budget) -> String {
    let large = budget
        .lines
        .iter()
        .filter(|line| line.share >= LEAST_SHARE_IN_WORDS);
    let parts: Vec<_> = large
        .map(|line| format!("{}: {}", line.words, percent_words(line.share)))
        .collect();
    parts.join(", ")
}

/// What an uncertainty is mostly made of, as a sentence: "The file's set
/// length accounts for 68 %." `None` when nothing is uncertain.
pub fn leading_words(budget: &Budget) -> Option<String> {
    let first = budget.lines.first()?;
    let group = InputGroup::from_code(&first.input)?;
    let verb = if group.is_plural() {
        "account for"
    } else {
        "accounts for"
    };
    let percent = percent_words(first.share);
    Some(format!("{} {verb} {percent}.", group.label()))
}

/// A share as whole per cent: "68 %".
pub fn percent_words(share: f64) -> String {
    let percent = 100.0 * share;
    if percent > 0.0 && percent < 0.5 {
        "under 1 %".to_owned()
    } else {
        format!("{percent:.0} %")
    }
}

/// The result a budget belongs to, in words: "Working length, additive".
pub fn result_name(key: &str) -> String {
    capitalised(&name_of_key(key))
}

/// With a capital first letter.
pub fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map(|first| first.to_uppercase().collect::<String>() + letters.as_str())
        .unwrap_or_default()
}

fn line(out: &mut String, label: &str, text: &str) -> std::fmt::Result {
    writeln!(out, "  {:<42}{}", capitalised(label), one_line(text))
}

/// A tip's distance in words: "1.2 ± 0.2 mm short of the apex".
pub fn tip_words(tip_to_apex_mm: Quantity) -> String {
    let side = if tip_to_apex_mm.value < 0.0 {
        "beyond the apex"
    } else {
        "short of the apex"
    };
    let distance = Quantity {
        value: tip_to_apex_mm.value.abs(),
        ..tip_to_apex_mm
    };
    format!("{} {side}", with_u95(distance, "mm"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_side_of_the_apex_is_said_in_words() {
        let at = |value| tip_words(Quantity { value, u95: 0.2 });
        assert_eq!(at(1.2), "1.20 ± 0.20 mm short of the apex");
        assert_eq!(at(-0.4), "0.40 ± 0.20 mm beyond the apex");
    }
}
