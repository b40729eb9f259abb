//! What `info` prints about a film.

use std::fmt::Write;

use serde_json::{Value, json};

use super::opened::OpenedFilm;
use super::{Polarity, window::Window};
use crate::one_line::one_line;

/// All facts of a film but who it shows.
pub fn info_json(opened: &OpenedFilm) -> Value {
    let facts = &opened.facts;
    let scale = opened.scale.dicom_scale();
    let warnings: Vec<_> = (opened.scale.warnings.iter())
        .chain(&opened.warnings)
        .collect();
    json!({
        "film": opened.path.display().to_string(),
        "sha256": opened.sha256,
        "format": facts.format,
        "width_px": facts.width_px,
        "height_px": facts.height_px,
        "bits_stored": facts.bits_stored,
        "bits_allocated": facts.bits_allocated,
        "signed": facts.signed,
        "photometric": facts.photometric,
        "radio_opaque": match opened.film.polarity() {
            Polarity::HighIsOpaque => "high",
            Polarity::LowIsOpaque => "low",
        },
        "orientation_applied": facts.orientation_applied,
        "modality": facts.modality,
        "tooth_fdi": facts.tooth.map(|tooth| tooth.fdi()),
        "transfer_syntax": facts.transfer_syntax.as_ref().map(|(uid, name)| json!({
            "uid": uid, "name": name,
        })),
        "sop_class": opened.instance.as_ref().and_then(|instance| {
            let uid = instance.sop_class_uid.as_ref()?;
            Some(json!({
                "uid": uid,
                "name": instance.sop_class_name,
                "from": if instance.sop_class_from_meta { "file meta" } else { "data set" },
            }))
        }),
        "rescale": {
            "slope": opened.film.rescale().slope,
            "intercept": opened.film.rescale().intercept,
        },
        "windows": opened.windows,
        "presentation_lut_shape": facts.presentation_lut_shape,
        "scale_facts": opened.scale.statements,
        "resolution_tags": opened.scale.resolution_tags,
        "calibration_devices": opened.scale.devices,
        "scale": scale.map(|scale| json!({
            "source": scale.source.code(),
            "description": scale.description,
            "pixel_pitch_mm": scale.pitch_mm,
            "plane": scale.plane,
            "magnification": scale.magnification,
        })),
        "warnings": warnings,
    })
}

/// The same for people.
pub fn info_text(opened: &OpenedFilm) -> String {
    let mut lines = Vec::new();
    let facts = &opened.facts;
    lines.push(opened.path.display().to_string());
    lines.push(format!(
        "  {}, {} × {} px, {} bits, {}{}",
        facts.format.name(),
        facts.width_px,
        facts.height_px,
        facts.bits_stored,
        facts.photometric,
        if facts.orientation_applied {
            ", turned upright"
        } else {
            ""
        }
    ));
    if let Some((uid, name)) = &facts.transfer_syntax {
        lines.push(format!("  transfer syntax: {name} ({uid})"));
    }
    if let Some(instance) = &opened.instance {
        let uid = instance.sop_class_uid.as_deref().unwrap_or("not stated");
        let name = instance.sop_class_name.as_deref().unwrap_or("private");
        let place = if instance.sop_class_from_meta {
            ", from the file meta"
        } else {
            ""
        };
        lines.push(format!("  SOP class: {name} ({uid}{place})"));
    }
    if let Some(tooth) = facts.tooth {
        lines.push(format!("  tooth: {} (FDI)", tooth.fdi()));
    }
    for window in &opened.windows {
        lines.push(format!("  window: {}", window_words(window)));
    }
    lines.push("  scale facts:".to_owned());
    for fact in &opened.scale.statements {
        let mut line = format!("    {} = {}", fact.name, fact.value);
        if !fact.unit.is_empty() {
            let _ = write!(line, " {}", fact.unit);
        }
        if let Some(tag) = &fact.tag {
            let _ = write!(line, " {tag}");
        }
        lines.push(line);
    }
    for tag in &opened.scale.resolution_tags {
        lines.push(format!(
            "    {} = {:.5} × {:.5} mm per px (row × column): only on request, it rarely speaks of the detector",
            tag.source, tag.pitch_mm[0], tag.pitch_mm[1]
        ));
    }
    if opened.scale.statements.is_empty() && opened.scale.resolution_tags.is_empty() {
        lines.push("    none".to_owned());
    }
    lines.push(match opened.scale.dicom_scale() {
        Some(scale) => format!(
            "  scale: {} × {} mm per px (row × column); {}",
            scale.pitch_mm[0], scale.pitch_mm[1], scale.description
        ),
        None => "  scale: none; trace an object of known size or enter the pixel pitch".to_owned(),
    });
    for warning in opened.scale.warnings.iter().chain(&opened.warnings) {
        lines.push(format!("  warning: {}", warning.text));
    }
    let lines = lines.iter().map(|line| one_line(line).into_owned() + "\n");
    lines.collect()
}

fn window_words(window: &Window) -> String {
    let explanation = match &window.explanation {
        Some(words) => format!(" ({words})"),
        None => String::new(),
    };
    format!(
        "centre {}, width {}, {:?}{explanation}",
        window.center, window.width, window.function
    )
}
