//! Pairs of clicked or photographed practice blocks with known truth.

use kurbo::Point;
use lengthfilm::case::{Canal, Case, Mark, Walls};
use lengthfilm::film::Film;
use lengthfilm::flatten::{Request, flat_film, flattening};
use lengthfilm::measure::FilmSummary;
use lengthfilm::phantom::block::{BlockSpec, BlockTruth, FACE_MM, Scan, View, photograph};
use lengthfilm::shaping::{
    Comparison, LevelFinding, Picture, ShapingSettings, compare, follow_walls, match_marks_of,
};
use lengthfilm::units::{FilmPoint, Quantity};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// Standard deviation of a click per coordinate, mm.
pub const CLICK_MM: f64 = 0.03;
/// Relative standard deviation of a stated scale (the default of a typed pitch).
const SCALE_SD: f64 = 0.005;

/// Few draws, for studies of many pairs.
pub fn settings(draws: usize) -> ShapingSettings {
    let mut settings = ShapingSettings {
        draws,
        ..ShapingSettings::default()
    };
    settings.measure.draws = 100;
    settings
}

/// How the block lies on a film.
fn shown(after: bool) -> Scan {
    Scan {
        px_per_mm: if after { 43.0 } else { 40.0 },
        turn_rad: if after { 0.12 } else { -0.05 },
        shift_px: if after { [230.0, 60.0] } else { [80.0, 130.0] },
    }
}

/// The films of [`clicked`], rendered.
pub fn scanned(spec: &BlockSpec) -> Option<[Film; 2]> {
    let film = |after: bool| {
        let seed = 2 * spec.seed + u64::from(after);
        Some(photograph(spec, after, &shown(after).view(seed))?.film)
    };
    Some([film(false)?, film(true)?])
}

/// [`clicked`] with the marks of the second film where the films themselves,
/// rendered, put them; `None` where they are not found.
pub fn matched(spec: &BlockSpec, click_mm: f64, own_scale: bool) -> Option<[Picture; 2]> {
    let [before, mut after] = clicked(spec, click_mm, own_scale);
    match_marks_of(&before, &mut after, scanned(spec)?.each_ref()).ok()?;
    after.marks_u_px?;
    Some([before, after])
}

/// The two films of a block with clicks of `click_mm` and, on the second, its
/// own scale or none.
pub fn clicked(spec: &BlockSpec, click_mm: f64, own_scale: bool) -> [Picture; 2] {
    let truth = BlockTruth::new(spec);
    let mut rng = ChaCha8Rng::seed_from_u64(spec.seed ^ 0xC11C);
    let mut noise = || -> f64 { StandardNormal.sample(&mut rng) };
    let mut picture = |after: bool| {
        let shown = shown(after);
        let mut click = |p: Point| {
            let off = Point::new(p.x + click_mm * noise(), p.y + click_mm * noise());
            shown.px(off)
        };
        let length = truth.path().length();
        let along = |step: f64| {
            let count = (length / step).round() as usize;
            (0..=count)
                .rev()
                .map(move |i| length * i as f64 / count as f64)
        };
        let offsets = |s: f64| {
            if after {
                truth.after(s)
            } else {
                truth.before(s)
            }
        };
        let end = if after { truth.short_mm() } else { 0.0 };
        let trace_px = along(1.25).filter(|s| *s >= end).map(|s| {
            let [left, right] = offsets(s);
            click(truth.place(s, 0.5 * (left + right)))
        });
        let trace_px = trace_px.collect();
        let left_px = along(1.0)
            .map(|s| click(truth.place(s, offsets(s)[0])))
            .collect();
        let right_px = along(1.0)
            .map(|s| click(truth.place(s, offsets(s)[1])))
            .collect();
        let outline = |side: usize| {
            let places = along(1.0).map(|s| shown.px(truth.place(s, truth.outline()[side])));
            places.collect::<Vec<_>>()
        };
        let root_outline = Some(Walls {
            left_px: outline(0),
            right_px: outline(1),
            ..Walls::default()
        });
        let marks = truth.marks().into_iter().enumerate().map(|(i, m)| Mark {
            name: (i + 1).to_string(),
            px: click(m),
            extra: Default::default(),
        });
        let marks: Vec<Mark> = marks.collect();
        let mut case = Case::on_film("block.png");
        case.seed = spec.seed.max(1);
        case.click_noise_mm = Some(click_mm.max(1e-3));
        case.marks = marks;
        if !after || own_scale {
            let off = if click_mm > 0.0 {
                SCALE_SD * noise()
            } else {
                0.0
            };
            case.film.pixel_pitch_mm = Some([(1.0 + off) / shown.px_per_mm; 2]);
        }
        case.canals = vec![Canal {
            name: "A".to_owned(),
            trace_px,
            walls: Some(Walls {
                left_px,
                right_px,
                ..Walls::default()
            }),
            root_outline,
            ..Canal::default()
        }];
        picture_of(case, [1400, 1500], if after { "after" } else { "before" })
    };
    [picture(false), picture(true)]
}

fn picture_of(case: Case, [width_px, height_px]: [u32; 2], name: &str) -> Picture {
    Picture {
        case,
        film: FilmSummary {
            width_px,
            height_px,
            ..FilmSummary::default()
        },
        name: name.to_owned(),
        marks_u_px: None,
    }
}

/// The block photographed twice, made flat by its corners, its walls followed
/// on the flat pictures and, if `is_matched`, the marks of the second put where
/// the pictures show them; `None` where walls or marks are not seen.
pub fn photographed(spec: &BlockSpec, is_matched: bool) -> Option<[Picture; 2]> {
    let truth = BlockTruth::new(spec);
    let mut rng = ChaCha8Rng::seed_from_u64(spec.seed ^ 0xF1A7);
    let mut noise = || -> f64 { StandardNormal.sample(&mut rng) };
    let mut picture = |after: bool| {
        let view = View::askew(2 * spec.seed + u64::from(after));
        let photo = photograph(spec, after, &view)?;
        let request = Request {
            corners_px: photo.corners_px,
            size_mm: FACE_MM,
            mm_per_px: None,
            margin_mm: 0.0,
            check: None,
            deeper: None,
            snapped: true,
        };
        let flattening = flattening(request, view.size_px[0], view.size_px[1]).ok()?;
        let flat = flat_film(&photo.film, &flattening)?;
        let pitch = flattening.pitch_mm;
        let mut click = |p: Point, sd: f64| {
            FilmPoint::new((p.x + sd * noise()) / pitch, (p.y + sd * noise()) / pitch)
        };
        let end = if after { truth.short_mm() } else { 0.0 };
        let count = 13;
        let length = truth.path().length();
        let trace_px: Vec<FilmPoint> = (0..=count)
            .map(|i| end + (length - end) * (1.0 - f64::from(i) / f64::from(count)))
            .map(|s| {
                let [left, right] = if after {
                    truth.after(s)
                } else {
                    truth.before(s)
                };
                click(truth.place(s, 0.5 * (left + right)), CLICK_MM)
            })
            .collect();
        let marks = truth.marks().into_iter().enumerate().map(|(i, m)| Mark {
            name: (i + 1).to_string(),
            px: click(m, CLICK_MM),
            extra: Default::default(),
        });
        let marks: Vec<Mark> = marks.collect();
        let mut case = Case::on_film("block.png");
        case.seed = spec.seed.max(1);
        case.click_noise_mm = Some(CLICK_MM);
        case.film.pixel_pitch_mm = Some([pitch; 2]);
        case.marks = marks;
        let walls = follow_walls(&flat, &trace_px).ok()?.walls;
        case.canals = vec![Canal {
            name: "A".to_owned(),
            trace_px,
            walls: Some(walls),
            ..Canal::default()
        }];
        let size = [flat.width_px(), flat.height_px()];
        let name = if after { "after" } else { "before" };
        Some((picture_of(case, size, name), flat))
    };
    let ((before, flat_before), (mut after, flat_after)) = (picture(false)?, picture(true)?);
    if is_matched {
        match_marks_of(&before, &mut after, [&flat_before, &flat_after]).ok()?;
        after.marks_u_px?;
    }
    Some([before, after])
}

/// How often the stated intervals hold the truth, and how far values are off.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    pub inside: usize,
    pub all: usize,
    pub error_sum: f64,
    pub error_squares: f64,
    pub u95_sum: f64,
}

impl Tally {
    fn add(&mut self, found: Option<Quantity>, truth: f64) {
        let Some(found) = found else { return };
        let error = found.value - truth;
        self.all += 1;
        self.inside += usize::from(error.abs() <= found.u95);
        self.error_sum += error;
        self.error_squares += error * error;
        self.u95_sum += found.u95;
    }

    pub fn share(&self) -> f64 {
        self.inside as f64 / self.all as f64
    }

    pub fn bias(&self) -> f64 {
        self.error_sum / self.all as f64
    }

    pub fn rms(&self) -> f64 {
        (self.error_squares / self.all as f64).sqrt()
    }

    pub fn mean_u95(&self) -> f64 {
        self.u95_sum / self.all as f64
    }
}

/// Names of the rows of [`study`].
pub const ROWS: [&str; 5] = [
    "width before",
    "width after",
    "removed left",
    "removed right",
    "transport",
];

/// Tallies over all levels of many pairs.
pub fn study(pairs: impl Iterator<Item = (BlockSpec, [Picture; 2])>, draws: usize) -> [Tally; 5] {
    let settings = settings(draws);
    let mut tallies: [Tally; 5] = Default::default();
    for (spec, [before, after]) in pairs {
        let comparison = compare(&before, &after, &settings).unwrap();
        add(&mut tallies, &spec, &comparison);
    }
    tallies
}

fn add(tallies: &mut [Tally; 5], spec: &BlockSpec, comparison: &Comparison) {
    let truth = BlockTruth::new(spec);
    let levels = &comparison.findings.canals[0].levels;
    let within = |l: &&LevelFinding| (1.0..=13.0).contains(&l.from_end_mm);
    for level in levels.iter().filter(within) {
        let t = truth.level(level.from_end_mm);
        let rows = [
            (level.width_before_mm, t.width_before_mm),
            (level.width_after_mm, t.width_after_mm),
            (level.removed_left_mm, t.removed_left_mm),
            (level.removed_right_mm, t.removed_right_mm),
            (level.transport_mm, t.transport_mm),
        ];
        for (tally, (found, truth)) in tallies.iter_mut().zip(rows) {
            tally.add(found, truth);
        }
    }
}

/// The tallies as a table for docs/before-after.md.
pub fn table(title: &str, tallies: &[Tally; 5]) -> String {
    let mut text = format!(
        "| {title} | intervals | coverage % | bias mm | rms error mm | mean U mm |\n|---|---|---|---|---|---|\n"
    );
    for (name, tally) in ROWS.iter().zip(tallies) {
        text.push_str(&format!(
            "| {name} | {} | {:.1} | {:+.3} | {:.3} | {:.3} |\n",
            tally.all,
            100.0 * tally.share(),
            tally.bias(),
            tally.rms(),
            tally.mean_u95()
        ));
    }
    text
}
