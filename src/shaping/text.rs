//! Findings as plain text for a terminal.

use std::fmt::Write;

use super::findings::{CanalShaping, LevelFinding, ShapingFindings};
use crate::one_line::one_line;
use crate::uncertainty::rounding::{fixed, with_u95};
use crate::units::Quantity;

/// The findings of one comparison.
pub fn findings_text(findings: &ShapingFindings) -> String {
    let mut text = String::new();
    // Writing to a `String` cannot fail.
    let _ = write_findings(&mut text, findings);
    text
}

fn write_findings(out: &mut String, findings: &ShapingFindings) -> std::fmt::Result {
    writeln!(out, "Before: {}", one_line(&findings.before))?;
    writeln!(out, "After:  {}", one_line(&findings.after))?;
    let registration = &findings.registration;
    write!(
        out,
        "Marks: {}; turned by {}°, scale {} (from the {})",
        registration.marks.join(", "),
        fixed(registration.rotation_deg, 2),
        fixed(registration.scale, 4),
        registration.scale_source,
    )?;
    match (registration.residual_mm, registration.error_at_apex_mm) {
        (Some(residual), Some(error)) => writeln!(
            out,
            "; residual {residual:.3} mm, predicted error at the apex {error:.3} mm; mark \
             \"{}\" fits worst ({:.3} mm)",
            registration.worst_mark,
            registration.worst_mark_off_mm.unwrap_or(f64::NAN)
        )?,
        _ => writeln!(
            out,
            "; residual {:.1} px; mark \"{}\" fits worst ({:.1} px)",
            registration.residual_px, registration.worst_mark, registration.worst_mark_off_px
        )?,
    }
    for canal in &findings.canals {
        write_canal(out, canal)?;
    }
    if !findings.warnings.is_empty() {
        writeln!(out, "\nWarnings")?;
    }
    for warning in &findings.warnings {
        match &warning.canal {
            Some(canal) => writeln!(out, "  {}: {}", one_line(canal), one_line(&warning.text))?,
            None => writeln!(out, "  {}", one_line(&warning.text))?,
        }
    }
    Ok(())
}

fn write_canal(out: &mut String, canal: &CanalShaping) -> std::fmt::Result {
    writeln!(out, "\nCanal {}", one_line(&canal.name))?;
    if !canal.levels.is_empty() {
        writeln!(
            out,
            "  from end  {:<17}{:<17}{:<17}{:<17}{:<17}centring",
            "before", "after", "left", "right", "transport"
        )?;
    }
    for level in &canal.levels {
        write_level(out, level)?;
    }
    for (name, straightening) in &canal.straightening_deg {
        if let Some(quantity) = straightening {
            writeln!(
                out,
                "  Straightening, {:<13}{}",
                method_name(name),
                with_u95(*quantity, "°")
            )?;
        }
    }
    for (i, curve) in canal.curves.iter().enumerate() {
        if let (Some(before), Some(after), Some(less)) = (
            curve.turn_before_deg,
            curve.turn_after_deg,
            curve.straightening_deg,
        ) {
            writeln!(
                out,
                "  Curve {} from the end: {} before, {} after, straightened by {}",
                i + 1,
                with_u95(before, "°"),
                with_u95(after, "°"),
                with_u95(less, "°")
            )?;
        }
    }
    if let Some(change) = canal.length_change_mm {
        write!(out, "  Change of length {}", with_u95(change, "mm"))?;
        match canal.length_change_explained_mm {
            Some(explained) => writeln!(
                out,
                ", of which the wider curve alone explains {} mm",
                fixed(explained, 2)
            )?,
            None => writeln!(out)?,
        }
    }
    for finding in &canal.findings {
        writeln!(out, "  {}", finding.text)?;
    }
    Ok(())
}

fn write_level(out: &mut String, level: &LevelFinding) -> std::fmt::Result {
    let cell = |q: Option<Quantity>| q.map_or("–".to_owned(), |q| with_u95(q, ""));
    write!(
        out,
        "  {:>5} mm  {:<17}{:<17}{:<17}{:<17}{:<17}{}",
        fixed(level.from_end_mm, 1),
        cell(level.width_before_mm),
        cell(level.width_after_mm),
        cell(level.removed_left_mm),
        cell(level.removed_right_mm),
        cell(level.transport_mm),
        level.centring_ratio.map_or("–".to_owned(), |r| fixed(r, 2)),
    )?;
    if level.note.is_empty() {
        writeln!(out)
    } else {
        writeln!(out, "  {}", level.note)
    }
}

/// A method's name as readers know it.
pub fn method_name(key: &str) -> &str {
    match key {
        "schneider" => "Schneider",
        "weine" => "Weine",
        "axis_axis" => "axis–axis",
        "pruett" => "Pruett",
        "luiten" => "Luiten",
        "canal_access" => "canal access",
        "net_turn" => "net",
        "total_turn" => "total",
        other => other,
    }
}
