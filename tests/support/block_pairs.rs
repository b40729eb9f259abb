//! Pairs of clicked or photographed practice blocks with known truth.

use std::collections::BTreeMap;

use kurbo::Point;
use lengthfilm::case::{Canal, Case, Mark, WallSide, Walls};
use lengthfilm::film::Film;
use lengthfilm::flatten::{Request, flat_film, flattening, snapped};
use lengthfilm::measure::FilmSummary;
use lengthfilm::phantom::Families;
use lengthfilm::phantom::block::{BlockSpec, BlockTruth, FACE_MM, Look, Scan, View, photograph};
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

/// How a block is photographed and read.
#[derive(Clone, Copy, Debug, Default)]
pub struct Photographing {
    /// Set of looks; `None`: even photographs.
    pub looks: Option<Families>,
    /// The corners are found on the photograph, from clicks 2 px off, or placed by
    /// hand where its edges are not seen; else exact.
    pub snapped: bool,
    /// The marks of the second picture are put where the pictures show them.
    pub matched: bool,
}

/// Standard deviation of a clicked corner that is then snapped to the edges, and
/// of one placed with the magnifier, px.
const CORNER_SD_PX: f64 = 2.0;
const CAREFUL_CORNER_SD_PX: f64 = 1.0;

impl Photographing {
    /// The look of the photograph before or after.
    pub fn look(&self, spec: &BlockSpec, after: bool) -> Look {
        let seed = 2 * spec.seed + u64::from(after);
        self.looks
            .map_or_else(Look::default, |set| Look::of_families(set, seed))
    }
}

/// A flat picture of a block.
pub struct FlatBlock {
    pub film: Film,
    pub pitch_mm: f64,
    /// Its edges were not seen.
    pub corners_by_hand: bool,
}

/// The block photographed and made flat, or why that cannot be.
pub fn flat_block(spec: &BlockSpec, after: bool, how: &Photographing) -> Result<FlatBlock, String> {
    let view = View {
        look: how.look(spec, after),
        ..View::askew(2 * spec.seed + u64::from(after))
    };
    let photo = photograph(spec, after, &view).ok_or("no photograph")?;
    let mut request = Request {
        corners_px: photo.corners_px,
        size_mm: FACE_MM,
        mm_per_px: None,
        margin_mm: 0.0,
        check: None,
        deeper: None,
        snapped: true,
    };
    if how.snapped {
        let mut rng = ChaCha8Rng::seed_from_u64(view.seed ^ 0xC0B4);
        let mut noise = || -> f64 { StandardNormal.sample(&mut rng) };
        let mut clicked = |sd_px: f64| Request {
            corners_px: photo
                .corners_px
                .map(|c| FilmPoint::new(c.x + sd_px * noise(), c.y + sd_px * noise())),
            snapped: false,
            ..request.clone()
        };
        let quick = clicked(CORNER_SD_PX);
        let careful = clicked(CAREFUL_CORNER_SD_PX);
        request = snapped(&photo.film, &quick).unwrap_or(careful);
    }
    let flattening = flattening(request, view.size_px[0], view.size_px[1])
        .map_err(|_| "corners are no rectangle")?;
    let film = flat_film(&photo.film, &flattening).ok_or("no picture")?;
    Ok(FlatBlock {
        corners_by_hand: !flattening.request.snapped,
        film,
        pitch_mm: flattening.pitch_mm,
    })
}

/// Clicks on the flat picture: the canal's trace, and the marks.
pub fn flat_case(spec: &BlockSpec, after: bool, pitch_mm: f64) -> Case {
    let truth = BlockTruth::new(spec);
    let mut rng = ChaCha8Rng::seed_from_u64((2 * spec.seed + u64::from(after)) ^ 0xF1A7);
    let mut click = |p: Point| {
        let mut off = || -> f64 { StandardNormal.sample(&mut rng) };
        let (dx, dy) = (CLICK_MM * off(), CLICK_MM * off());
        FilmPoint::new((p.x + dx) / pitch_mm, (p.y + dy) / pitch_mm)
    };
    let end = if after { truth.short_mm() } else { 0.0 };
    let count = 13;
    let length = truth.path().length();
    let trace_px = (0..=count)
        .map(|i| end + (length - end) * (1.0 - f64::from(i) / f64::from(count)))
        .map(|s| {
            let [left, right] = truth.walls(after, s);
            click(truth.place(s, 0.5 * (left + right)))
        })
        .collect();
    let marks = truth.marks().into_iter().enumerate().map(|(i, m)| Mark {
        name: (i + 1).to_string(),
        px: click(m),
        extra: Default::default(),
    });
    let marks = marks.collect();
    let mut case = Case::on_film("block.png");
    case.seed = spec.seed.max(1);
    case.click_noise_mm = Some(CLICK_MM);
    case.film.pixel_pitch_mm = Some([pitch_mm; 2]);
    case.marks = marks;
    case.canals = vec![Canal {
        name: "A".to_owned(),
        trace_px,
        ..Canal::default()
    }];
    case
}

/// The block photographed twice, made flat by its corners, its walls followed on
/// the flat pictures; or why that cannot be.
pub fn photographed(spec: &BlockSpec, how: &Photographing) -> Result<[Picture; 2], String> {
    let picture = |after: bool| {
        let flat = flat_block(spec, after, how)?;
        let mut case = flat_case(spec, after, flat.pitch_mm);
        let canal = &mut case.canals[0];
        let followed = follow_walls(&flat.film, &canal.trace_px).map_err(|_| "walls not seen")?;
        canal.walls = Some(followed.walls);
        let size = [flat.film.width_px(), flat.film.height_px()];
        let name = match (after, flat.corners_by_hand) {
            (false, false) => "before",
            (true, false) => "after",
            (false, true) => "before, corners by hand",
            (true, true) => "after, corners by hand",
        };
        Ok::<_, String>((picture_of(case, size, name), flat.film))
    };
    let ((before, flat_before), (mut after, flat_after)) = (picture(false)?, picture(true)?);
    if how.matched {
        match_marks_of(&before, &mut after, [&flat_before, &flat_after])
            .map_err(|_| "marks not usable")?;
        after.marks_u_px.ok_or("marks not found on the pictures")?;
    }
    Ok([before, after])
}

/// One point of a followed wall against the truth, px of the flat picture.
#[derive(Clone, Copy, Debug)]
pub struct WallPoint {
    pub from_end_mm: f64,
    /// Across the wall.
    pub error_px: f64,
    pub own_px: f64,
    pub common_px: f64,
    pub mm_per_px: f64,
}

/// The walls followed on one exactly flattened photograph against the truth, and
/// how many sections along the canal could have been read; or why none was.
pub fn followed_points(
    spec: &BlockSpec,
    after: bool,
    looks: Option<Families>,
) -> Result<[Vec<WallPoint>; 2], String> {
    let how = Photographing {
        looks,
        ..Photographing::default()
    };
    let flat = flat_block(spec, after, &how)?;
    let case = flat_case(spec, after, flat.pitch_mm);
    let trace = &case.canals[0].trace_px;
    let walls = follow_walls(&flat.film, trace)
        .map_err(|_| "walls not seen")?
        .walls;
    let truth = BlockTruth::new(spec);
    let length = truth.path().length();
    let side = |side: WallSide| -> Vec<WallPoint> {
        let points = walls.side(side).iter().enumerate();
        points
            .filter_map(|(index, point)| {
                let p = Point::new(point.x * flat.pitch_mm, point.y * flat.pitch_mm);
                let foot = truth.path().project(p);
                let from_end_mm = length - foot.length_at;
                let wall = truth.walls(after, from_end_mm)[side as usize];
                let read = walls.read_point(side, index)?;
                Some(WallPoint {
                    from_end_mm,
                    error_px: (foot.offset - wall) / flat.pitch_mm,
                    own_px: read.own_px,
                    common_px: read.common_px,
                    mm_per_px: flat.pitch_mm,
                })
            })
            .filter(|p| (1.0..=13.0).contains(&p.from_end_mm))
            .collect()
    };
    Ok(WallSide::BOTH.map(side))
}

/// An error beyond this is gross, mm.
const GROSS_MM: f64 = 0.3;

/// How often the stated intervals hold the truth, and how far values are off.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    pub inside: usize,
    pub all: usize,
    pub without: usize,
    pub gross: usize,
    pub error_sum: f64,
    pub error_squares: f64,
    pub u95_sum: f64,
}

impl Tally {
    fn add(&mut self, found: Option<Quantity>, truth: f64) {
        let Some(found) = found else {
            self.without += 1;
            return;
        };
        let error = found.value - truth;
        self.all += 1;
        self.inside += usize::from(error.abs() <= found.u95);
        self.gross += usize::from(error.abs() > GROSS_MM);
        self.error_sum += error;
        self.error_squares += error * error;
        self.u95_sum += found.u95;
    }

    fn merge(&mut self, other: &Self) {
        self.inside += other.inside;
        self.all += other.all;
        self.without += other.without;
        self.gross += other.gross;
        self.error_sum += other.error_sum;
        self.error_squares += other.error_squares;
        self.u95_sum += other.u95_sum;
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

/// Names of the rows of a [`Study`].
pub const ROWS: [&str; 5] = [
    "width before",
    "width after",
    "removed left",
    "removed right",
    "transport",
];

/// Levels that every block has, mm from the end.
const LEVELS_MM: std::ops::RangeInclusive<u32> = 1..=13;

/// Tallies over all levels of many pairs.
#[derive(Clone, Debug, Default)]
pub struct Study {
    pub pairs: usize,
    pub tallies: [Tally; 5],
    /// Why levels have no transport, with their number.
    pub reasons: BTreeMap<String, usize>,
}

impl Study {
    /// A pair, or why there is none.
    pub fn of_pair(spec: &BlockSpec, pair: Result<[Picture; 2], String>, draws: usize) -> Self {
        let compared = pair.and_then(|[before, after]| {
            compare(&before, &after, &settings(draws)).map_err(|error| error.to_string())
        });
        let mut study = Self {
            pairs: 1,
            ..Self::default()
        };
        match compared {
            Ok(comparison) => study.add(spec, &comparison),
            Err(reason) => {
                let levels = LEVELS_MM.count();
                study.tallies.iter_mut().for_each(|t| t.without += levels);
                study.reasons.insert(format!("no pair: {reason}"), levels);
            }
        }
        study
    }

    fn add(&mut self, spec: &BlockSpec, comparison: &Comparison) {
        let truth = BlockTruth::new(spec);
        let levels = &comparison.findings.canals[0].levels;
        for at in LEVELS_MM {
            let at = f64::from(at);
            let t = truth.level(at);
            let level = levels.iter().find(|level| level.from_end_mm == at);
            let found = |of: fn(&LevelFinding) -> Option<Quantity>| level.and_then(of);
            let rows = [
                (found(|l| l.width_before_mm), t.width_before_mm),
                (found(|l| l.width_after_mm), t.width_after_mm),
                (found(|l| l.removed_left_mm), t.removed_left_mm),
                (found(|l| l.removed_right_mm), t.removed_right_mm),
                (found(|l| l.transport_mm), t.transport_mm),
            ];
            for (tally, (found, truth)) in self.tallies.iter_mut().zip(rows) {
                tally.add(found, truth);
            }
            if found(|l| l.transport_mm).is_none() {
                let note = level.map_or("no such level", |level| level.note.as_str());
                *self.reasons.entry(note.to_owned()).or_default() += 1;
            }
        }
    }

    /// Both together.
    pub fn merged(mut self, other: Self) -> Self {
        self.pairs += other.pairs;
        for (tally, other) in self.tallies.iter_mut().zip(&other.tallies) {
            tally.merge(other);
        }
        for (reason, count) in other.reasons {
            *self.reasons.entry(reason).or_default() += count;
        }
        self
    }
}

/// The study of many pairs.
pub fn study(pairs: impl Iterator<Item = (BlockSpec, [Picture; 2])>, draws: usize) -> Study {
    pairs
        .map(|(spec, pair)| Study::of_pair(&spec, Ok(pair), draws))
        .fold(Study::default(), Study::merged)
}

/// The tallies as a table for docs/before-after.md.
pub fn table(title: &str, study: &Study) -> String {
    let mut text = format!(
        "| {title} ({} pairs) | intervals | without, % | coverage % | bias mm | rms error mm | \
         mean U mm | off > {GROSS_MM} mm |\n|---|---|---|---|---|---|---|---|\n",
        study.pairs
    );
    for (name, tally) in ROWS.iter().zip(&study.tallies) {
        text.push_str(&format!(
            "| {name} | {} | {:.1} | {:.1} | {:+.3} | {:.3} | {:.3} | {} |\n",
            tally.all,
            100.0 * tally.without as f64 / (tally.all + tally.without) as f64,
            100.0 * tally.share(),
            tally.bias(),
            tally.rms(),
            tally.mean_u95(),
            tally.gross
        ));
    }
    for (reason, count) in &study.reasons {
        text.push_str(&format!("\nLevels without transport: {count}, {reason}.\n"));
    }
    text
}
