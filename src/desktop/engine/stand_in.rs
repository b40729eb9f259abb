//! TEMPORARY, this branch only.
use super::*;
use crate::case::*;
use crate::film::Polarity;
use crate::measure::findings::*;

pub fn decode(bytes: &[u8], path: &Path) -> Result<Film, String> {
    let grey = image::load_from_memory(bytes)
        .map_err(|e| format!("{}: {e}", path.display()))?
        .into_luma16();
    Film::from_samples(grey.width(), grey.height(), 16, Polarity::HighIsOpaque, grey.into_raw())
        .ok_or_else(|| "empty".to_owned())
}

pub fn demo() -> (Case, Film) {
    let (w, h) = (900u32, 1200u32);
    let samples = (0..h)
        .flat_map(|y| (0..w).map(move |x| (x, y)))
        .map(|(x, y)| {
            let (x, y) = (f64::from(x), f64::from(y));
            let centre = 450.0 + 0.0001 * (y - 400.0).max(0.0).powi(2);
            let d = (x - centre).abs();
            let root = if y < 1080.0 && d < 150.0 - y * 0.1 { 0.35 } else { 0.1 };
            let file = if y < 1000.0 && y > 100.0 && d < 8.0 - y * 0.005 { 0.6 } else { 0.0 };
            ((root + file + 0.1 * (y / 40.0).sin().abs()) * 50000.0) as u16
        })
        .collect();
    let film = Film::from_samples(w, h, 16, Polarity::HighIsOpaque, samples).unwrap();
    let mut case = fresh_case("demo");
    let curve = |y: f64| FilmPoint::new(450.0 + 0.0001 * (y - 400.0f64).max(0.0).powi(2), y);
    case.scale.objects.push(ScaleObject {
        kind: ScaleObjectKind::File,
        canal: Some("Canal 1".into()),
        true_length_mm: Some(20.0),
        true_diameter_mm: None,
        nominal: false,
        points_px: [100.0, 400.0, 700.0, 1000.0].map(curve).to_vec(),
        assisted: false,
        extra: Default::default(),
    });
    let c = &mut case.canals[0];
    c.reference_px = Some(curve(100.0));
    c.file = Some(CanalFile { set_length_mm: Some(20.0), tip_px: Some(curve(1000.0)), ..Default::default() });
    c.apex_px = Some(curve(1080.0));
    c.trace_px = [300.0, 500.0, 650.0, 800.0, 950.0, 1080.0].map(curve).to_vec();
    (case, film)
}

fn length(p: &[FilmPoint]) -> f64 {
    p.windows(2).map(|w| w[0].distance_px(w[1])).sum()
}

pub fn read(case: &Case, _film: &OpenFilm) -> Reading {
    let scale = case.scale.objects.iter().find_map(|o| {
        let l = o.true_length_mm.or(o.true_diameter_mm)?;
        (o.points_px.len() >= 2).then(|| l / length(&o.points_px))
    });
    let q = |v: f64| Some(Quantity { value: v, u95: 0.2 });
    let mut drawings = vec![];
    let canals = case
        .canals
        .iter()
        .enumerate()
        .map(|(i, c)| {
            let total = length(&c.trace_px);
            let mut run = 0.0;
            let mut path = vec![];
            for w in c.trace_px.windows(2) {
                let d = w[0].distance_px(w[1]);
                for k in 0..20 {
                    let t = f64::from(k) / 20.0;
                    path.push(PathSample {
                        at: FilmPoint::new(w[0].x + t * (w[1].x - w[0].x), w[0].y + t * (w[1].y - w[0].y)),
                        from_apex_mm: scale.map(|s| (total - run - t * d) * s),
                    });
                }
                run += d;
            }
            let object = crate::desktop::document::file_object_index(case, i);
            drawings.push(CanalDrawing {
                path,
                file: object.map(|o| case.scale.objects[o].points_px.clone()).unwrap_or_default(),
                profile: scale
                    .map(|s| {
                        (0..100)
                            .map(|k| {
                                let d = f64::from(k) / 100.0 * total * s;
                                ProfileSample { from_apex_mm: d, curvature_per_mm: 0.1, low_per_mm: 0.05, high_per_mm: 0.15 }
                            })
                            .collect()
                    })
                    .unwrap_or_default(),
                ..Default::default()
            });
            let tip = c.file.as_ref().and_then(|f| f.tip_px);
            let d = tip.zip(c.apex_px).zip(scale).map(|((t, a), s)| t.distance_px(a) * s * if t.y > a.y { -1.0 } else { 1.0 });
            let allowance = c.allowance_mm.unwrap_or(1.0);
            let wl = d
                .zip(c.file.as_ref().and_then(|f| f.set_length_mm))
                .map(|(d, l)| l + d - allowance);
            CanalFindings {
                name: c.name.clone(),
                curved_length_mm: scale.and_then(|s| q(total * s)),
                curved_length_px: Some(total),
                tip_to_apex_mm: d.and_then(q),
                working_length_additive_mm: wl.and_then(q),
                working_length_chart_mm: wl.map(|w| (w * 2.0).floor() / 2.0),
                allowance_mm: allowance,
                curvature: (c.trace_px.len() >= 4).then(|| CurvatureFindings {
                    schneider_deg: q(24.0),
                    difficulty: DifficultyFinding { class: "moderate".into(), method: "schneider".into() },
                    ..Default::default()
                }),
                ..Default::default()
            }
        })
        .collect();
    Reading {
        findings: Findings {
            case: String::new(),
            scale: ScaleFinding {
                source: if scale.is_some() { "file" } else { "none" }.into(),
                description: if scale.is_some() { "file of known length" } else { "no scale: pixels only" }.into(),
                mm_per_px: scale,
                u_mm_per_px: scale.map(|s| s * 0.01),
                magnification: None,
            },
            canals,
            warnings: vec![],
        },
        drawings,
    }
}
