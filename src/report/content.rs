//! What a record says, in which order.

use super::film_figure;
use super::methods::{CITATIONS, CURVATURE_ROWS};
use super::model::{Block, Figure, Report, Section, Table};
use super::numbers::{ABSENT, fixed, or_absent, with_uncertainty};
use super::trace::CaseTrace;
use crate::case::Case;
use crate::cautions::CAUTIONS;
use crate::film::Film;
use crate::measure::findings::{CanalFindings, Findings};

/// The record of one case.
pub fn build(case: &Case, film: &Film, findings: &Findings, trace: &CaseTrace) -> Report {
    let mut sections = Vec::new();
    sections.extend(warnings(findings));
    sections.push(lengths(case, film, findings));
    sections.extend(curvature(findings));
    sections.push(scale(findings));
    sections.push(cautions());
    sections.push(citations());
    Report {
        title: "Root canal length record".to_owned(),
        subtitle: subtitle(case, trace),
        facts: facts(case, findings, trace),
        sections,
        footer: format!(
            "{} · case {} · for teaching and research; confirm electronically and clinically",
            trace.software,
            &trace.case_sha256[..12]
        ),
    }
}

fn subtitle(case: &Case, trace: &CaseTrace) -> String {
    let tooth = match (&case.tooth, &trace.tooth_fdi) {
        (Some(tooth), Some(fdi)) if *fdi != tooth.number => {
            format!("Tooth {} (FDI {fdi})", tooth.number)
        }
        (Some(tooth), _) => format!("Tooth {}", tooth.number),
        (None, _) => "Tooth not named".to_owned(),
    };
    let names: Vec<&str> = case.canals.iter().map(|c| c.name.as_str()).collect();
    match names.as_slice() {
        [] => format!("{tooth} · no canal traced"),
        [one] => format!("{tooth} · canal {one}"),
        many => format!("{tooth} · canals {}", many.join(", ")),
    }
}

fn facts(case: &Case, findings: &Findings, trace: &CaseTrace) -> Vec<(String, String)> {
    let short = |hash: &str| format!("{} …", &hash[..16.min(hash.len())]);
    let film_hash = trace.film_sha256.as_deref().map(short);
    let mut facts = vec![
        ("Film".to_owned(), trace.film_name.clone()),
        (
            "Film date".to_owned(),
            trace
                .film_date
                .clone()
                .unwrap_or_else(|| "not stated".to_owned()),
        ),
        ("Scale".to_owned(), findings.scale.description.clone()),
        (
            "Magnification".to_owned(),
            findings
                .scale
                .magnification
                .map_or("not known".to_owned(), |m| fixed(m, 3)),
        ),
        ("Case file".to_owned(), trace.case_name.clone()),
        (
            "Case SHA-256".to_owned(),
            if trace.saved {
                short(&trace.case_sha256)
            } else {
                format!("{} (not saved yet)", short(&trace.case_sha256))
            },
        ),
        ("Software".to_owned(), trace.software.clone()),
        ("Seed".to_owned(), case.seed.to_string()),
    ];
    if let Some(hash) = film_hash {
        facts.insert(2, ("Film SHA-256".to_owned(), hash));
    }
    facts
}

fn warnings(findings: &Findings) -> Option<Section> {
    if findings.warnings.is_empty() {
        return None;
    }
    let lines = findings
        .warnings
        .iter()
        .map(|warning| match &warning.canal {
            Some(canal) => format!("{canal}: {}", warning.text),
            None => warning.text.clone(),
        })
        .collect();
    Some(Section {
        heading: "Warnings".to_owned(),
        blocks: vec![Block::Alert(lines)],
    })
}

fn lengths(case: &Case, film: &Film, findings: &Findings) -> Section {
    let figure = Figure {
        drawing: film_figure::draw(case, film, findings),
        caption: film_figure::LEGEND.to_owned(),
        alt: format!(
            "The film with the paths and landmarks of {} canals.",
            findings.canals.len()
        ),
    };
    let mut blocks = vec![Block::FigureBeside {
        figure,
        table: length_card(case, findings),
    }];
    let advice: Vec<String> = findings
        .canals
        .iter()
        .flat_map(|canal| {
            canal
                .advice
                .iter()
                .map(|advice| format!("{}: {advice}", canal.name))
        })
        .collect();
    if !advice.is_empty() {
        blocks.push(Block::Bullets(advice));
    }
    Section {
        heading: "Length card".to_owned(),
        blocks,
    }
}

fn length_card(case: &Case, findings: &Findings) -> Table {
    let canals = &findings.canals;
    let mut table = Table::of_quantities(
        if findings.scale.mm_per_px.is_some() {
            "Lengths in mm, value ± U (95 %). Distances marked \"from the reference point\" are \
             for setting stops and pre-bending."
        } else {
            "No scale: lengths in px only."
        },
        "Canal",
        canals.iter().map(|canal| canal.name.clone()),
    );
    let input = |canal: &CanalFindings| case.canals.iter().find(|c| c.name == canal.name);
    let mut line = |name: &str, cell: &dyn Fn(&CanalFindings) -> String| {
        let cells: Vec<String> = canals.iter().map(cell).collect();
        if cells.iter().any(|cell| !cell.is_empty()) {
            table.row(std::iter::once(name.to_owned()).chain(cells).collect());
        }
    };
    line("Reference point", &|canal| {
        input(canal)
            .and_then(|c| c.reference_name.clone())
            .unwrap_or_else(|| "not named".to_owned())
    });
    line("Working length, file", &|canal| {
        or_absent(canal.working_length_additive_mm)
    });
    line("Working length, proportion", &|canal| {
        or_absent(canal.working_length_proportion_mm)
    });
    line("Allowance", &|canal| fixed(canal.allowance_mm, 2));
    line("Set length of the file", &|canal| {
        input(canal)
            .and_then(|c| c.file.as_ref())
            .and_then(|file| file.set_length_mm)
            .map_or(ABSENT.to_owned(), |mm| fixed(mm, 2))
    });
    line("Tip to apex, along the path", &|canal| {
        or_absent(canal.tip_to_apex_mm)
    });
    line("Tip to apex, straight", &|canal| {
        or_absent(canal.tip_to_apex_straight_mm)
    });
    line("Reference point to apex", &|canal| {
        or_absent(canal.reference_to_apex_mm)
    });
    line("Canal, orifice to apex", &|canal| {
        or_absent(canal.curved_length_mm)
    });
    line("Straight, orifice to apex", &|canal| {
        or_absent(canal.chord_mm)
    });
    line("Canal, px", &|canal| {
        canal
            .curved_length_px
            .map_or(ABSENT.to_owned(), |px| fixed(px, 1))
    });
    let bends = canals
        .iter()
        .filter_map(|canal| canal.curvature.as_ref())
        .map(|curvature| curvature.curves.len())
        .max()
        .unwrap_or(0);
    for bend in 0..bends {
        let which = if bends == 1 {
            "Bend".to_owned()
        } else {
            format!("Bend {}", bend + 1)
        };
        line(
            &format!("{which}, start to end from the reference point"),
            &|canal| {
                bend_from_reference_mm(canal, bend).map_or(ABSENT.to_owned(), |(start, end)| {
                    format!("{} – {}", fixed(start, 1), fixed(end, 1))
                })
            },
        );
    }
    line("Thirds end, from the reference point", &|canal| {
        thirds_from_reference_mm(canal).map_or(ABSENT.to_owned(), |(first, second)| {
            format!("{} / {}", fixed(first, 1), fixed(second, 1))
        })
    });
    let chart = std::iter::once("Working length for the chart".to_owned())
        .chain(canals.iter().map(|canal| {
            canal
                .working_length_chart_mm
                .map_or(ABSENT.to_owned(), |mm| fixed(mm, 2))
        }))
        .collect();
    table.strong_row(chart);
    let chart = table.rows.pop().expect("just added");
    table.rows.insert(1, chart);
    table
}

/// Where a bend starts and ends along the path from the reference point, mm.
fn bend_from_reference_mm(canal: &CanalFindings, bend: usize) -> Option<(f64, f64)> {
    let whole_mm = canal.reference_to_apex_mm?.value;
    let curve = canal.curvature.as_ref()?.curves.get(bend)?;
    Some((
        whole_mm - curve.start_from_apex_mm?,
        whole_mm - curve.end_from_apex_mm?,
    ))
}

/// Where the coronal and the middle third of the canal end, mm from the
/// reference point.
fn thirds_from_reference_mm(canal: &CanalFindings) -> Option<(f64, f64)> {
    let whole_mm = canal.reference_to_apex_mm?.value;
    let canal_mm = canal.curved_length_mm?.value;
    Some((whole_mm - canal_mm * 2.0 / 3.0, whole_mm - canal_mm / 3.0))
}

fn curvature(findings: &Findings) -> Option<Section> {
    let canals: Vec<&CanalFindings> = findings
        .canals
        .iter()
        .filter(|canal| canal.curvature.is_some())
        .collect();
    if canals.is_empty() {
        return None;
    }
    let mut table = Table::of_quantities(
        "Value ± U (95 %). A dash: the quantity cannot be had; the warnings say why.",
        "Method",
        std::iter::once("Unit".to_owned()).chain(canals.iter().map(|c| c.name.clone())),
    );
    for method in &CURVATURE_ROWS {
        let cells = canals
            .iter()
            .map(|canal| or_absent(canal.curvature.as_ref().and_then(method.of)));
        table.row(
            [method.name.to_owned(), method.unit.sign().to_owned()]
                .into_iter()
                .chain(cells)
                .collect(),
        );
    }
    let mut words = |name: &str, cell: &dyn Fn(&CanalFindings) -> String| {
        table.row(
            [name.to_owned(), String::new()]
                .into_iter()
                .chain(canals.iter().map(|canal| cell(canal)))
                .collect(),
        );
    };
    words("S-shaped", &|canal| {
        match canal.curvature.as_ref().is_some_and(|c| c.s_shaped) {
            true => "yes",
            false => "no",
        }
        .to_owned()
    });
    words("Difficulty, canal-curvature row", &|canal| {
        canal.curvature.as_ref().map_or(ABSENT.to_owned(), |c| {
            match (c.difficulty.class.as_str(), c.difficulty.method.as_str()) {
                ("", _) => ABSENT.to_owned(),
                (class, "") => class.to_owned(),
                (class, method) => format!("{class} ({method})"),
            }
        })
    });
    let mut blocks = vec![Block::Table(table)];
    blocks.extend(bends(&canals));
    Some(Section {
        heading: "Curvature".to_owned(),
        blocks,
    })
}

/// The curve-by-curve table.
fn bends(canals: &[&CanalFindings]) -> Option<Block> {
    let mut table = Table::of_quantities(
        "Curve by curve. A positive angle turns clockwise on the film.",
        "Canal, bend",
        [
            "Turn °",
            "Radius mm",
            "Start, mm from apex",
            "End, mm from apex",
        ]
        .map(str::to_owned),
    );
    for canal in canals {
        let curves = canal.curvature.iter().flat_map(|c| &c.curves);
        for (i, curve) in curves.enumerate() {
            let place = |mm: Option<f64>| mm.map_or(ABSENT.to_owned(), |mm| fixed(mm, 1));
            table.row(vec![
                format!("{}, bend {}", canal.name, i + 1),
                or_absent(curve.turn_deg),
                or_absent(curve.radius_mm),
                place(curve.start_from_apex_mm),
                place(curve.end_from_apex_mm),
            ]);
        }
    }
    (!table.rows.is_empty()).then_some(Block::Table(table))
}

fn scale(findings: &Findings) -> Section {
    let scale = &findings.scale;
    let mut table = Table::of_text("", &["Fact", "Value"]);
    table.row(vec!["Source".to_owned(), scale.description.clone()]);
    table.row(vec![
        "True mm per px".to_owned(),
        match (scale.mm_per_px, scale.u_mm_per_px) {
            (Some(value), Some(u)) => {
                let quantity = crate::units::Quantity {
                    value,
                    u95: 2.0 * u,
                };
                format!("{} (U = 2 u)", with_uncertainty(quantity))
            }
            (Some(value), None) => fixed(value, 5),
            (None, _) => "none: results in px only".to_owned(),
        },
    ]);
    table.row(vec![
        "Magnification".to_owned(),
        scale
            .magnification
            .map_or("not known".to_owned(), |m| fixed(m, 4)),
    ]);
    Section {
        heading: "Scale and magnification".to_owned(),
        blocks: vec![Block::Table(table)],
    }
}

fn cautions() -> Section {
    Section {
        heading: "Cautions".to_owned(),
        blocks: vec![Block::Bullets(
            CAUTIONS
                .iter()
                .map(|caution| match caution.source {
                    "" => caution.text.to_owned(),
                    source => format!("{} [{source}]", caution.text),
                })
                .collect(),
        )],
    }
}

fn citations() -> Section {
    let mut table = Table::of_text("", &["Method", "What is measured", "Source"]);
    for citation in &CITATIONS {
        table.row(
            [citation.method, citation.meaning, citation.source]
                .map(str::to_owned)
                .to_vec(),
        );
    }
    Section {
        heading: "Methods and sources".to_owned(),
        blocks: vec![Block::Table(table)],
    }
}
