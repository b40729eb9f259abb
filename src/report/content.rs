//! What a record says, in which order.

use super::film_figure::Lettering;
use super::measured_case::MeasuredCase;
use super::methods::OTHER_METHODS;
use super::model::{Block, Figure, FigureGrid, GridRow, Report, Section, Table};
use super::numbers::{ABSENT, chart, or_absent, with_uncertainty};
use super::{assessment, budget, curvature_figures, film_figure, in_space};
use crate::case::Case;
use crate::cautions::CAUTIONS;
use crate::curvature::{CURVATURE_METHODS, DifficultyClass, Method, QUANTITIES};
use crate::measure::capitalised;
use crate::measure::catalogue::LENGTHS;
use crate::measure::film_check_findings::FILM_CHECK_CODES;
use crate::measure::findings::{CanalFindings, CurveFinding, Findings, Warning};
use crate::statistics::Z95;
use crate::uncertainty::rounding::fixed;
use crate::units::Quantity;

/// The record of one case; `identity` names the patient where that was asked
/// for.
pub fn build(measured: &MeasuredCase, identity: &[(String, String)]) -> Report {
    let provenance = &measured.provenance;
    let mut facts = identity.to_vec();
    facts.extend(self::facts(measured));
    let mut sections = Vec::new();
    sections.extend(warnings(measured.findings));
    sections.push(lengths(measured));
    sections.extend(in_space::section(measured));
    sections.extend(uncertainty(measured));
    sections.push(cautions());
    sections.extend(curvature(measured));
    sections.push(citations());
    sections.extend(assessment::section(measured));
    Report {
        title: "Root canal length record".to_owned(),
        subtitle: subtitle(measured),
        facts,
        sections,
        footer: format!(
            "{} · case {} · for teaching and research; confirm electronically and clinically",
            provenance.software,
            &provenance.case_sha256[..12]
        ),
    }
}

fn subtitle(measured: &MeasuredCase) -> String {
    let case = measured.case;
    let tooth = match (&case.tooth, &measured.provenance.tooth_fdi) {
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

fn facts(measured: &MeasuredCase) -> Vec<(String, String)> {
    let (provenance, scale) = (&measured.provenance, &measured.findings.scale);
    let short = |hash: &str| format!("{} …", &hash[..16.min(hash.len())]);
    let mm_per_px = match (scale.mm_per_px, scale.u_mm_per_px) {
        (Some(value), Some(u)) => {
            let u95 = Z95 * u;
            with_uncertainty(Quantity { value, u95 })
        }
        (Some(value), None) => fixed(value, 5),
        (None, _) => "none: results in px only".to_owned(),
    };
    let case_hash = if provenance.saved {
        short(&provenance.case_sha256)
    } else {
        format!("{} (case not saved)", short(&provenance.case_sha256))
    };
    let fact = |name: &str, value: String| (name.to_owned(), value);
    vec![
        fact("Film", provenance.film_name.clone()),
        fact(
            "Film date",
            provenance
                .film_date
                .clone()
                .unwrap_or_else(|| "not stated".to_owned()),
        ),
        fact("Film SHA-256", short(&provenance.film_sha256)),
        fact("Case file", provenance.case_name.clone()),
        fact("Case SHA-256", case_hash),
        fact("Scale source", scale.description.clone()),
        fact("True mm per px", mm_per_px),
        fact(
            "Magnification",
            scale
                .magnification
                .map_or("not known".to_owned(), |m| fixed(m, 3)),
        ),
        fact("Software", provenance.software.clone()),
        fact("Seed", measured.case.seed.to_string()),
    ]
}

/// The warnings; what is said of several canals alike is said once. What the film
/// hinders widens the intervals and is told before the record is made.
fn warnings(findings: &Findings) -> Option<Section> {
    let of_film = |code: &str| FILM_CHECK_CODES.contains(&code);
    let mut told: Vec<(Vec<&str>, &str)> = Vec::new();
    for warning in findings.warnings.iter().filter(|w| !of_film(&w.code)) {
        let canal = warning.canal.as_deref();
        match told.iter_mut().find(|(_, text)| *text == warning.text) {
            Some((canals, _)) => canals.extend(canal),
            None => told.push((canal.into_iter().collect(), &warning.text)),
        }
    }
    if told.is_empty() {
        return None;
    }
    let lines = told
        .into_iter()
        .map(|(canals, text)| match canals.is_empty() {
            true => text.to_owned(),
            false => format!("{}: {text}", canals.join(", ")),
        })
        .collect();
    Some(Section {
        heading: "Warnings".to_owned(),
        blocks: vec![Block::Alert(lines)],
    })
}

fn lengths(measured: &MeasuredCase) -> Section {
    let (case, findings) = (measured.case, measured.findings);
    let figure = Figure {
        drawing: film_figure::draw(measured, Lettering::Page),
        caption: film_figure::legend(),
        alt: format!(
            "The film with the paths and landmarks of {} canals.",
            findings.canals.len()
        ),
    };
    Section {
        heading: "Length card".to_owned(),
        blocks: vec![Block::FigureBeside {
            figure,
            table: length_card(case, findings),
            notes: advice(findings),
        }],
    }
}

/// What each canal's tip calls for, beyond what its warnings say; what holds
/// for several canals is said once, last.
fn advice(findings: &Findings) -> Vec<String> {
    let canals = &findings.canals;
    let is_warning = |canal: &CanalFindings, text: &String| {
        let own = |w: &&Warning| w.canal.as_ref() == Some(&canal.name);
        findings
            .warnings
            .iter()
            .filter(own)
            .any(|w| w.text == *text)
    };
    let givers = |text: &String| canals.iter().filter(|c| c.advice.contains(text)).count();
    let mut notes = Vec::new();
    let mut shared: Vec<&str> = Vec::new();
    for canal in canals {
        let new = canal.advice.iter().filter(|text| !is_warning(canal, text));
        let (common, own): (Vec<&String>, Vec<&String>) = new.partition(|text| givers(text) > 1);
        for text in common {
            if !shared.contains(&text.as_str()) {
                shared.push(text);
            }
        }
        if !own.is_empty() {
            let own: Vec<&str> = own.into_iter().map(String::as_str).collect();
            notes.push(format!("{}: {}", canal.name, own.join(" ")));
        }
    }
    if !shared.is_empty() {
        notes.push(shared.join(" "));
    }
    notes
}

fn length_card(case: &Case, findings: &Findings) -> Table {
    let canals = &findings.canals;
    let mut table = Table::of_quantities(
        if findings.scale.mm_per_px.is_some() {
            "Lengths in mm, value ± U (95 %). Distances from the reference point (bends: start – \
             end; thirds: two limits) are for setting stops and pre-curving."
        } else {
            "No scale: lengths in px only."
        },
        "Canal",
        canals.iter().map(|canal| canal.name.clone()),
    );
    let input = |canal: &CanalFindings| case.canals.iter().find(|c| c.name == canal.name);
    let row = |name: &str, cell: &dyn Fn(&CanalFindings) -> String| -> Vec<String> {
        std::iter::once(name.to_owned())
            .chain(canals.iter().map(cell))
            .collect()
    };
    table.row(row("Reference point", &|canal| {
        input(canal)
            .and_then(|c| c.reference_name.clone())
            .unwrap_or_else(|| "not named".to_owned())
    }));
    table.strong_row(row("Working length, chart", &|canal| {
        canal
            .working_length_chart_mm
            .map_or(ABSENT.to_owned(), chart)
    }));
    let mut line = |name: &str, cell: &dyn Fn(&CanalFindings) -> String| {
        table.row(row(name, cell));
    };
    for row in &LENGTHS {
        line(&capitalised(row.name), &|canal| or_absent((row.of)(canal)));
    }
    line("Allowance", &|canal| fixed(canal.allowance_mm, 2));
    line("Set length of the file", &|canal| {
        input(canal)
            .and_then(|c| c.file.as_ref())
            .and_then(|file| file.set_length_mm)
            .map_or(ABSENT.to_owned(), |mm| fixed(mm, 2))
    });
    line("Canal, px", &|canal| {
        canal
            .curved_length_px
            .map_or(ABSENT.to_owned(), |px| fixed(px, 1))
    });
    let bends = bend_count(canals.iter());
    for bend in 0..bends {
        let which = if bends == 1 {
            "Curve".to_owned()
        } else {
            format!("Curve {}", bend + 1)
        };
        line(&format!("{which}, from reference"), &|canal| {
            bend_from_reference_mm(canal, bend).map_or(ABSENT.to_owned(), |(start, end)| {
                format!("{} – {}", fixed(start, 1), fixed(end, 1))
            })
        });
    }
    line("Thirds, from reference", &|canal| {
        thirds_from_reference_mm(canal).map_or(ABSENT.to_owned(), |(first, second)| {
            format!("{} / {}", fixed(first, 1), fixed(second, 1))
        })
    });
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

fn curvature(measured: &MeasuredCase) -> Option<Section> {
    let canals: Vec<(usize, &CanalFindings)> = measured
        .findings
        .canals
        .iter()
        .enumerate()
        .filter(|(_, canal)| canal.curvature.is_some())
        .collect();
    if canals.is_empty() {
        return None;
    }
    let graphs = curvature_figures::graphs(measured, canals.iter().map(|&(index, _)| index));
    let found: Vec<&CanalFindings> = canals.iter().map(|(_, canal)| *canal).collect();
    let mut blocks = vec![Block::TableBeside {
        table: curvature_table(&found),
        figures: graphs,
    }];
    let rows: Vec<GridRow> = canals
        .iter()
        .map(|&(index, canal)| GridRow {
            name: canal.name.clone(),
            figures: curvature_figures::constructions(measured, index),
        })
        .filter(|row| row.figures.iter().any(Option::is_some))
        .collect();
    if !rows.is_empty() {
        blocks.push(Block::Grid(FigureGrid {
            lead: "How each method is constructed. Grey: fitted path. Thin: the method's lines. \
                   Dotted: its circle. Dots: its landmarks."
                .to_owned(),
            columns: Method::ALL.map(|m| m.name().to_owned()).to_vec(),
            rows,
        }));
    }
    Some(Section {
        heading: "Curvature".to_owned(),
        blocks,
    })
}

fn curvature_table(canals: &[&CanalFindings]) -> Table {
    let mut table = Table::of_quantities(
        "Value ± U (95 %), radii with their interval; turns + clockwise. A dash: see the warnings.",
        "Method",
        canals.iter().map(|canal| canal.name.clone()),
    );
    let mut line = |name: String, cell: &dyn Fn(&CanalFindings) -> String| {
        let cells = canals.iter().map(|canal| cell(canal));
        table.row(std::iter::once(name).chain(cells).collect());
    };
    let angles_from = |canal: &CanalFindings| canal.curvature.as_ref()?.angles_from_words();
    if canals.iter().any(|canal| angles_from(canal).is_some()) {
        line("Angles from".to_owned(), &|canal| {
            angles_from(canal).unwrap_or("the trace").to_owned()
        });
    }
    for row in QUANTITIES.iter().filter(|row| row.has_interval) {
        let name = format!("{}, {}", capitalised(row.name), row.dimension.sign());
        line(name, &|canal| {
            let found = canal.curvature.as_ref();
            found
                .and_then(|found| found.words(row, ""))
                .unwrap_or(ABSENT.to_owned())
        });
    }
    let bend = |canal: &CanalFindings, index: usize| -> Option<CurveFinding> {
        canal.curvature.as_ref()?.curves.get(index).copied()
    };
    for index in 0..bend_count(canals.iter().copied()) {
        let number = index + 1;
        line(format!("Curve {number}: turn, °"), &|canal| {
            or_absent(bend(canal, index).and_then(|curve| curve.turn_deg))
        });
        line(format!("Curve {number}: radius, mm"), &|canal| {
            bend(canal, index)
                .and_then(|curve| curve.radius_words(""))
                .unwrap_or(ABSENT.to_owned())
        });
        line(format!("Curve {number}: from the apex, mm"), &|canal| {
            bend(canal, index)
                .and_then(|curve| Some((curve.start_from_apex_mm?, curve.end_from_apex_mm?)))
                .map_or(ABSENT.to_owned(), |(start, end)| {
                    format!("{} – {}", fixed(start, 1), fixed(end, 1))
                })
        });
    }
    line("S-shaped".to_owned(), &|canal| {
        match canal.curvature.as_ref().is_some_and(|c| c.s_shaped) {
            true => "yes",
            false => "no",
        }
        .to_owned()
    });
    line("Difficulty (curvature row)".to_owned(), &|canal| {
        canal
            .curvature
            .as_ref()
            .and_then(|c| c.difficulty.class.clone())
            .unwrap_or(ABSENT.to_owned())
    });
    line("… low / moderate / high, %".to_owned(), &|canal| {
        canal
            .curvature
            .as_ref()
            .and_then(|c| c.difficulty.probabilities)
            .map_or(ABSENT.to_owned(), |p| {
                let percent = |class| fixed(100.0 * p.of(class), 0);
                DifficultyClass::ALL.map(percent).join(" / ")
            })
    });
    table
}

fn bend_count<'a>(canals: impl Iterator<Item = &'a CanalFindings>) -> usize {
    canals
        .filter_map(|canal| canal.curvature.as_ref())
        .map(|curvature| curvature.curves.len())
        .max()
        .unwrap_or(0)
}

fn uncertainty(measured: &MeasuredCase) -> Option<Section> {
    Some(Section {
        heading: "Uncertainty budget".to_owned(),
        blocks: vec![Block::Table(budget::table(measured.findings)?)],
    })
}

fn cautions() -> Section {
    Section {
        heading: "Cautions".to_owned(),
        blocks: vec![Block::SmallPrint(
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
    let line = |name: &str, what: &str, source: &str| {
        format!("{name}: {what}. {}.", source.trim_end_matches('.'))
    };
    let curvature = CURVATURE_METHODS
        .iter()
        .map(|row| line(row.name, row.meaning, row.source));
    let others = OTHER_METHODS
        .iter()
        .map(|(name, what, source)| line(name, what, source));
    Section {
        heading: "Methods and sources".to_owned(),
        blocks: vec![Block::SmallPrint(curvature.chain(others).collect())],
    }
}
