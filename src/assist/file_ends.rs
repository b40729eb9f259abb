//! The ends of a file along its own line: what the strip filter says of the
//! film there, beside what the film reader says.

use rayon::prelude::*;

use super::centre_line::centre_line;
use super::doubt::{self, EndEvidence};
use super::file_line::{ReadFile, ReadLine};
use super::polyline::arc_lengths_px;
use super::reader::{FilmReading, Sign};
use super::ribbon::normals;
use super::strip::{COLUMNS, Course, End, ROWS, Strip, Told, axis};
use crate::film::Film;
use crate::units::FilmPoint;

/// The row of a strip that lies where the film reader puts the end: a tip has
/// more of the file before it than after.
const TIP_ROW: usize = 112;
const STOP_ROW: usize = 96;
/// How far aside of the line the reader's map is looked at, mm: its peaks are
/// 0.12 mm wide.
const ASIDE_MM: [f64; 5] = [-0.2, -0.1, 0.0, 0.1, 0.2];
/// The reader's map counts as its square root, and nowhere less than this: on
/// tuning films any share between a quarter and all of it does as well.
const MAP_SHARE: f64 = 0.5;
const MAP_FLOOR: f64 = 3e-3;
/// A file shows at least this much of itself, mm.
const LEAST_MM: f64 = 1.0;
/// Rows on either side of an end that are as good: 0.15 mm for tips, 0.2 mm
/// for stops.
const TIP_REACH: usize = 3;
const STOP_REACH: usize = 2;

/// A file with its ends weighed.
#[derive(Clone, Debug)]
pub struct FoundFile {
    /// Coronal end (the stop, where there is a candidate) → tip.
    pub line: Vec<FilmPoint>,
    /// Share of such tips that lie within 0.15 mm, on a film like this.
    pub tip_confidence: f64,
    /// Share of such stops that lie within 0.2 mm, on a film like this; 0
    /// without a candidate.
    pub stop_confidence: f64,
    pub evidence: FileEvidence,
    /// All courses that were looked at.
    pub stops: Vec<FoundStop>,
}

/// A course that a file may take, from its stop or from where it comes into
/// view.
#[derive(Clone, Debug)]
pub struct FoundStop {
    /// From there to the reader's tip.
    pub line: Vec<FilmPoint>,
    /// 0 where no stop is seen.
    pub confidence: f64,
    pub evidence: EndEvidence,
    /// How surely the file that is meant runs along the line to its tip.
    pub to_tip: f64,
}

/// What the confidences of a file rest on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FileEvidence {
    pub tip: EndEvidence,
    pub stop: EndEvidence,
    /// How like the films that confidences were fitted to the film looks, 0..=1.
    pub likeness: f64,
}

/// A strip and what is said of it.
struct Looked {
    axis: Vec<FilmPoint>,
    strip: Strip,
    told: Told,
}

/// The strip about `end` of the file along `line` (coronal to apical), whose
/// end that is by the film reader; `None` off the film.
fn looked_at(film: &Film, end: End, line: &[FilmPoint], px_per_mm: f64) -> Option<Looked> {
    let (at_px, row) = match end {
        End::Tip => (arc_lengths_px(line).last().copied()?, TIP_ROW),
        End::Stop => (0.0, STOP_ROW),
    };
    let axis = axis(end, line, at_px, ROWS, row, px_per_mm);
    let column_px = end.step_mm() * px_per_mm;
    let margin_px = COLUMNS as f64 * column_px;
    let cells = end.cells(film, &axis, margin_px, 1.0 / px_per_mm)?;
    let strip = Strip::along(film, &cells, &axis, COLUMNS, column_px);
    Some(Looked {
        told: Told::of(end, &strip.values),
        axis,
        strip,
    })
}

impl Looked {
    /// How surely the tip lies in each row, by the strip and the reader's map.
    /// `length_mm`: of the line to row [`TIP_ROW`], before which no tip lies.
    fn tip_shares(&self, reading: &FilmReading, length_mm: f64, px_per_mm: f64) -> Vec<f64> {
        let across = normals(&self.axis);
        let rows = self.axis.iter().zip(across).zip(&self.told.rows);
        let before = TIP_ROW as f64 - (length_mm - LEAST_MM) / End::Tip.step_mm();
        let mut shares: Vec<f64> = rows
            .enumerate()
            .map(|(row, ((p, [nx, ny]), told))| {
                if (row as f64) < before {
                    return 0.0;
                }
                let on_map = ASIDE_MM.map(|aside| {
                    let t = aside * px_per_mm;
                    reading.at(Sign::Tip, FilmPoint::new(p.x + t * nx, p.y + t * ny))
                });
                let highest = on_map.into_iter().fold(0.0, f64::max);
                told.max(1e-6) * (highest + MAP_FLOOR).powf(MAP_SHARE)
            })
            .collect();
        let sum: f64 = shares.iter().sum();
        shares.iter_mut().for_each(|s| *s /= sum.max(1e-300));
        shares
    }
}

/// The row about which most of `shares` lies within `reach` rows, to a
/// fraction of a row, and how much that is.
fn best_row(shares: &[f64], reach: usize) -> (f64, f64) {
    let about = |row: usize| row.saturating_sub(reach)..(row + reach + 1).min(shares.len());
    let mass = |row: usize| shares[about(row)].iter().sum::<f64>();
    let best = (0..shares.len())
        .max_by(|&a, &b| mass(a).total_cmp(&mass(b)))
        .unwrap_or(0);
    let moment: f64 = about(best).map(|row| row as f64 * shares[row]).sum();
    (moment / mass(best).max(1e-300), mass(best))
}

/// The line (coronal to apical) cut off at, or carried on to, `row` of the
/// strip about its tip.
fn ended_at(line: &[FilmPoint], axis: &[FilmPoint], row: f64, px_per_mm: f64) -> Vec<FilmPoint> {
    let (k, part) = (row as usize, row.fract());
    let (a, b) = (axis[k.min(ROWS - 1)], axis[(k + 1).min(ROWS - 1)]);
    let tip = FilmPoint::new(a.x + part * (b.x - a.x), a.y + part * (b.y - a.y));
    let lengths = arc_lengths_px(line);
    let total = lengths.last().copied().unwrap_or(0.0);
    let end = total + (row - TIP_ROW as f64) * End::Tip.step_mm() * px_per_mm;
    let kept = lengths.iter().take_while(|l| **l < end - 1e-6).count();
    let mut ended = line[..kept.max(1)].to_vec();
    if row > TIP_ROW as f64 {
        ended.extend(&axis[(TIP_ROW + 1).min(ROWS)..=k.min(ROWS - 1)]);
    }
    ended.push(tip);
    ended.dedup_by(|a, b| a.distance_px(*b) < 1e-6);
    ended
}

/// The line of a file centred, and its stop weighed. `near`: the press; a file
/// that nobody pressed is asked about at its middle.
fn weighed_stop(
    film: &Film,
    reading: &FilmReading,
    read: &ReadLine,
    near: Option<FilmPoint>,
    px_per_mm: f64,
) -> FoundStop {
    let line = centre_line(reading, read, px_per_mm);
    let near = near.unwrap_or(line[line.len() / 2]);
    let course = Course::of(film, &line, near, px_per_mm);
    let [to_stop, to_tip] = course.map_or([0.0; 2], |course| course.ends());
    let mut evidence = EndEvidence {
        along: 0.0,
        value: read.stop.map_or(0.0, |stop| f64::from(stop.value)),
        rival: read.rival,
        course: to_stop,
        press_mm: read.press_mm,
        body: 0.0,
    };
    let mut confidence = 0.0;
    if read.stop.is_some() {
        if let Some(looked) = looked_at(film, End::Stop, &line, px_per_mm) {
            let about = STOP_ROW - STOP_REACH..=STOP_ROW + STOP_REACH;
            evidence.along = looked.told.rows[about].iter().sum();
            evidence.body = looked.strip.stop_body(STOP_ROW);
        }
        confidence = read.doubt.stop_confidence(&evidence);
    }
    FoundStop {
        line,
        confidence,
        evidence,
        to_tip,
    }
}

/// The file `read` with its ends weighed along its own line; `None` without a
/// line.
pub(super) fn found_file(
    film: &Film,
    reading: &FilmReading,
    read: &ReadFile,
    near: Option<FilmPoint>,
    px_per_mm: f64,
) -> Option<FoundFile> {
    let lines = read.lines.par_iter();
    let stops: Vec<FoundStop> = lines
        .map(|line| weighed_stop(film, reading, line, near, px_per_mm))
        .collect();
    let surest = (0..stops.len()).max_by(|&a, &b| {
        let sure = |k: usize| stops[k].confidence;
        sure(a).total_cmp(&sure(b))
    })?;
    let (stop, read_line) = (&stops[surest], &read.lines[surest]);
    let others = stops.iter().enumerate().filter(|(k, _)| *k != surest);
    let rivals = others.map(|(_, other)| other.confidence);
    let stop_confidence = doubt::unrivalled(stop.confidence, rivals.fold(0.0, f64::max));
    let mut line = stop.line.clone();
    let mut tip = EndEvidence {
        along: 0.0,
        value: read.tip_value,
        rival: read.tip_rival,
        course: stop.to_tip,
        press_mm: read_line.press_mm,
        body: 0.0,
    };
    if let Some(looked) = looked_at(film, End::Tip, &line, px_per_mm) {
        let length_px = arc_lengths_px(&line).last().copied().unwrap_or(0.0);
        let shares = looked.tip_shares(reading, length_px / px_per_mm, px_per_mm);
        let (row, mass) = best_row(&shares, TIP_REACH);
        tip.along = mass * (1.0 - looked.told.none - looked.told.beyond);
        line = ended_at(&line, &looked.axis, row, px_per_mm);
    }
    let evidence = FileEvidence {
        tip,
        stop: stop.evidence,
        likeness: reading.likeness,
    };
    Some(FoundFile {
        line,
        tip_confidence: read_line.doubt.tip_confidence(&tip),
        stop_confidence,
        evidence,
        stops,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_row_is_where_most_lies_near_together() {
        let mut shares = vec![0.0; ROWS];
        // A lone peak against a broader and heavier one.
        shares[40] = 0.3;
        for (row, share) in [(99, 0.1), (100, 0.2), (101, 0.3), (102, 0.1)] {
            shares[row] = share;
        }
        let (row, mass) = best_row(&shares, TIP_REACH);
        assert!((mass - 0.7).abs() < 1e-12);
        let mean = (99.0 * 0.1 + 100.0 * 0.2 + 101.0 * 0.3 + 102.0 * 0.1) / 0.7;
        assert!((row - mean).abs() < 1e-9, "{row}");
    }

    /// Rows are 0.05 mm: eight before the reader's tip cut 0.4 mm off, ten
    /// beyond it add half a millimetre, straight on.
    #[test]
    fn a_line_is_cut_off_or_carried_on() {
        let px_per_mm = 20.0;
        let line: Vec<FilmPoint> = (0..200)
            .map(|i| FilmPoint::new(3.0, 2.0 * f64::from(i)))
            .collect();
        let axis = axis(End::Tip, &line, 398.0, ROWS, TIP_ROW, px_per_mm);
        for (row, y) in [(104.0, 390.0), (112.0, 398.0), (122.5, 408.5)] {
            let ended = ended_at(&line, &axis, row, px_per_mm);
            let tip = ended[ended.len() - 1];
            assert!(
                (tip.x - 3.0).abs() < 1e-9 && (tip.y - y).abs() < 1e-9,
                "{tip:?}"
            );
            assert_eq!(ended[0], line[0]);
            assert!(ended.windows(2).all(|w| w[1].y > w[0].y));
        }
    }
}
