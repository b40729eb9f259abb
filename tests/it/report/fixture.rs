//! One molar with two canals on a synthetic film: the input of every record
//! test. Numbers in the findings are distinct on purpose, so that a test can
//! tell which one it found.

use std::path::{Path, PathBuf};

use lengthfilm::case::{self, Case};
use lengthfilm::film::{Film, Polarity};
use lengthfilm::measure::findings::{
    CanalFindings, CurvatureFindings, CurveFinding, DifficultyFinding, Findings, Quantity,
    ScaleFinding, Warning,
};

/// A case in a folder of its own, with what was measured on it.
pub struct Record {
    pub folder: tempfile::TempDir,
    pub case_path: PathBuf,
    pub case: Case,
    pub film: Film,
    pub findings: Findings,
}

impl Record {
    pub fn out(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }
}

const CASE: &str = r#"{"format": "lengthfilm-case", "version": 1,
 "film": {"path": "film.png", "date": "2026-03-14"},
 "scale": {"objects": [
   {"kind": "file", "canal": "MB", "true_length_mm": 20.0,
    "points_px": [[300.0, 90.0], [310.0, 400.0], [330.0, 690.0], [345.0, 840.0]]},
   {"kind": "ball", "true_diameter_mm": 5.0, "points_px": [[640.0, 120.0], [840.0, 120.0]]}]},
 "tooth": {"notation": "universal", "number": "19"},
 "canals": [
  {"name": "MB", "reference_px": [300.0, 90.0], "reference_name": "MB cusp",
   "trace_px": [[305, 330], [310, 480], [322, 620], [338, 760], [352, 890]],
   "file": {"set_length_mm": 20.0, "tip_px": [345.0, 840.0]}, "apex_px": [352, 890],
   "allowance_mm": 1.0},
  {"name": "=D", "reference_px": [520.0, 95.0], "reference_name": "DB cusp",
   "trace_px": [[515, 330], [512, 480], [505, 620], [490, 760], [470, 880]],
   "file": {"set_length_mm": 19.5, "tip_px": [476.0, 850.0]}, "apex_px": [470, 880],
   "allowance_mm": 0.5}],
 "seed": 7}
"#;

/// Two roots, a crown and a bright instrument, drawn by rule.
pub fn film() -> Film {
    let (width, height) = (900_u32, 1100_u32);
    let mut samples = Vec::with_capacity((width * height) as usize);
    for y in 0..height {
        for x in 0..width {
            let (fx, fy) = (f64::from(x), f64::from(y));
            let bend = ((fy - 500.0).max(0.0) / 400.0).powi(2);
            let root = |axis: f64| {
                let half = 70.0 - (fy - 300.0).max(0.0) * 0.08;
                let inside = (fx - axis).abs() < half && fy < 900.0;
                let canal = (fx - axis).abs() < 7.0;
                (f64::from(u8::from(inside)) * 900.0) - f64::from(u8::from(inside && canal)) * 300.0
            };
            let crown: f64 = if (150.0..330.0).contains(&fy) && (230.0..590.0).contains(&fx) {
                1800.0
            } else {
                0.0
            };
            let bone = 700.0 + 250.0 * (fx / 17.0).sin() * (fy / 23.0).cos();
            let grey = bone + crown.max(root(305.0 + 45.0 * bend)).max(root(515.0 - 45.0 * bend));
            samples.push(grey.clamp(0.0, 4095.0) as u16);
        }
    }
    Film::from_samples(width, height, 12, Polarity::HighIsOpaque, samples).unwrap()
}

pub fn quantity(value: f64, u95: f64) -> Option<Quantity> {
    Some(Quantity { value, u95 })
}

fn curvature(base: f64) -> CurvatureFindings {
    CurvatureFindings {
        schneider_deg: quantity(base + 0.11, 3.1),
        weine_deg: quantity(base + 8.22, 3.9),
        axis_axis_deg: quantity(base + 7.33, 4.4),
        pruett_deg: quantity(base + 9.44, 3.6),
        pruett_radius_mm: quantity(8.55, 1.2),
        luiten_deg: quantity(base + 10.66, 5.2),
        schafer_radius_mm: quantity(9.77, 1.3),
        schafer_curve_length_mm: quantity(6.88, 0.71),
        canal_access_deg: quantity(base / 3.0, 1.4),
        curvature_height_mm: quantity(1.91, 0.22),
        curvature_distance_mm: quantity(7.02, 0.31),
        curvature_distance_from_apex_mm: quantity(6.13, 0.32),
        estrela_radius_mm: None,
        curves: vec![
            CurveFinding {
                turn_deg: quantity(-(base + 9.0), 3.3),
                radius_mm: quantity(8.5, 1.1),
                start_from_apex_mm: Some(6.4),
                end_from_apex_mm: Some(1.3),
            },
            CurveFinding {
                turn_deg: quantity(12.5, 3.4),
                radius_mm: quantity(5.5, 1.6),
                start_from_apex_mm: Some(1.3),
                end_from_apex_mm: Some(0.2),
            },
        ],
        net_turn_deg: quantity(-(base - 3.5), 3.7),
        total_turn_deg: quantity(base + 21.5, 4.7),
        smallest_radius_mm: quantity(5.5, 1.6),
        smallest_radius_from_apex_mm: Some(0.8),
        s_shaped: true,
        difficulty: DifficultyFinding {
            class: "high".to_owned(),
            method: "schneider".to_owned(),
        },
    }
}

fn canal(name: &str, length: f64, tip: f64, allowance_mm: f64) -> CanalFindings {
    CanalFindings {
        name: name.to_owned(),
        curved_length_mm: quantity(length - 6.13, 0.21),
        curved_length_px: Some(568.15),
        chord_mm: quantity(length - 6.71, 0.22),
        reference_to_apex_mm: quantity(length, 0.41),
        tip_to_apex_mm: quantity(tip, 0.15),
        tip_to_apex_straight_mm: quantity(tip - 0.02, 0.16),
        working_length_additive_mm: quantity(length - allowance_mm, 0.31),
        working_length_proportion_mm: quantity(length - allowance_mm + 0.17, 0.43),
        working_length_chart_mm: Some(((length - allowance_mm) * 2.0).floor() / 2.0),
        allowance_mm,
        advice: vec![
            "The tip is 0.5-1 mm short of the apex: acceptable by convention (Ingle).".to_owned(),
            "Confirm the working length electronically and clinically.".to_owned(),
        ],
        curvature: Some(curvature(length)),
    }
}

pub fn findings(case_path: &Path) -> Findings {
    Findings {
        case: case_path.display().to_string(),
        scale: ScaleFinding {
            source: "file".to_owned(),
            description: "2 objects of known length: file in MB (20.0 mm), ball (5.0 mm)".to_owned(),
            mm_per_px: Some(0.0254),
            u_mm_per_px: Some(0.00021),
            magnification: Some(1.053),
        },
        canals: vec![
            canal("MB", 21.37, 1.42, 1.0),
            canal("=D", 20.04, -0.61, 0.5),
        ],
        warnings: vec![
            Warning {
                code: "scale_disagreement".to_owned(),
                text: "The objects of known size disagree beyond their uncertainties; the ball is \
                       the worst. Check its diameter and its points."
                    .to_owned(),
                canal: None,
            },
            Warning {
                code: "beyond_apex".to_owned(),
                text: "The tip lies beyond the radiographic apex: shorten the file before \
                       anything else."
                    .to_owned(),
                canal: Some("=D".to_owned()),
            },
            Warning {
                code: "estrela_short".to_owned(),
                text: "The canal is shorter than the two 6 mm segments this radius needs."
                    .to_owned(),
                canal: Some("MB".to_owned()),
            },
        ],
    }
}

/// The whole record, its case and film saved.
pub fn record() -> Record {
    let folder = tempfile::tempdir().unwrap();
    let case_path = folder.path().join("molar.case.json");
    std::fs::write(&case_path, CASE).unwrap();
    let film = film();
    let picture = image::ImageBuffer::<image::Luma<u16>, _>::from_raw(
        film.width_px(),
        film.height_px(),
        film.samples().iter().map(|s| s * 16).collect::<Vec<u16>>(),
    )
    .unwrap();
    picture.save(folder.path().join("film.png")).unwrap();
    let case = case::load(&case_path).unwrap();
    let findings = findings(&case_path);
    Record {
        folder,
        case_path,
        case,
        film,
        findings,
    }
}
