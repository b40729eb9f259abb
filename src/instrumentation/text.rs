//! Findings as text.

use std::fmt::Write as _;

use super::findings::{CanalInstruments, InstrumentFindings};
use super::words::{binds_sentence, place_sentence, ratio_sentence, strain_sentence};
use crate::one_line::one_line;
use crate::uncertainty::rounding::{fixed, with_u95};

/// Everything a person needs, line by line.
pub fn findings_text(findings: &InstrumentFindings) -> String {
    let mut text = String::new();
    let _ = writeln!(text, "{}", one_line(&findings.case));
    for canal in &findings.canals {
        canal_text(&mut text, canal);
    }
    let _ = writeln!(text, "\nNotes");
    for note in &findings.notes {
        let _ = writeln!(text, "  {note}");
    }
    if !findings.warnings.is_empty() {
        let _ = writeln!(text, "\nCheck");
    }
    for warning in &findings.warnings {
        let canal = warning.canal.as_deref();
        let place = canal.map_or(String::new(), |name| format!("canal {}: ", one_line(name)));
        let _ = writeln!(text, "  {place}{}", one_line(&warning.text));
    }
    text
}

fn canal_text(text: &mut String, canal: &CanalInstruments) {
    let _ = writeln!(
        text,
        "\nCanal {} ({})",
        one_line(&canal.name),
        canal.canal_from.words()
    );
    if let Some(length) = canal.working_length_mm {
        let _ = writeln!(text, "  Working length: {}", with_u95(length, "mm"));
    }
    for (number, bend) in canal.bends.iter().enumerate() {
        let turn = bend.turn_deg.map_or("–".to_owned(), |t| with_u95(t, "°"));
        let radius = bend
            .radius_words()
            .unwrap_or_else(|| "not available".to_owned());
        let _ = writeln!(
            text,
            "  Curve {}: {turn}, radius {radius}, {} to {} mm from the apex{} ({})",
            number + 1,
            fixed(bend.start_from_apex_mm, 1),
            fixed(bend.end_from_apex_mm, 1),
            match (bend.start_from_reference_mm, bend.end_from_reference_mm) {
                (Some(start), Some(end)) => format!(
                    ", {} to {} mm from the reference point",
                    fixed(start, 1),
                    fixed(end, 1)
                ),
                _ => String::new(),
            },
            bend.place_words(),
        );
    }
    for file in &canal.files {
        let _ = writeln!(
            text,
            "  {} ({}), tip {} mm from the apex",
            file.file,
            file.colour,
            fixed(file.tip_from_apex_mm, 1)
        );
        if let Some(strain) = file.peak_strain_percent {
            let _ = writeln!(text, "    {}", strain_sentence(&file.file, strain));
        }
        if let (Some(tip), Some(apex)) = (file.peak_from_tip_mm, file.peak_from_apex_mm) {
            let _ = writeln!(text, "    {}", place_sentence(tip, apex));
        }
        if let (Some(times), Some(first)) = (file.times_first, canal.files.first())
            && file.file != first.file
        {
            let _ = writeln!(
                text,
                "    {}",
                ratio_sentence(&file.file, &first.file, times)
            );
        }
        if let Some(binds) = file.binds {
            let _ = writeln!(text, "    {}", binds_sentence(binds));
        }
        for part in &file.in_bends {
            let _ = writeln!(
                text,
                "    In curve {}: {} to {} mm from its tip, {} % of its working part.",
                part.bend,
                fixed(part.from_tip_mm, 1),
                fixed(part.to_tip_mm, 1),
                fixed(part.share_percent, 0)
            );
        }
    }
    if !canal.card.is_empty() {
        let _ = writeln!(text, "  Stop settings");
    }
    for line in &canal.card {
        let stop = line.stop_mm.map_or("not available".to_owned(), |mm| {
            format!("{} mm", fixed(mm, 2))
        });
        let _ = writeln!(text, "    {} ({}): {stop}", line.file, line.colour);
    }
}
