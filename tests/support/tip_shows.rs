//! How well a film shows where a file ends, whoever reads it: a matched filter
//! that knows everything but that.
//!
//! The film is rendered without noise, once as it is and once with the file
//! [`SHORTER_MM`] shorter; the difference about the tip is what there is to see.
//! It is laid over the film's noise (the film less the same without noise) at
//! places about the tip, and over the film itself with the file drawn back out
//! of the way. What it answers for itself over the standard deviation of what it
//! answers there is d′: with d′ = 2 one in six is taken for the other.

use lengthfilm::film::Film;
use lengthfilm::phantom::{PhantomSpec, render};
use lengthfilm::units::FilmPoint;

/// Twice what a right tip may be off, mm.
const SHORTER_MM: f64 = 0.3;
/// Out of the way, mm.
const AWAY_MM: f64 = 5.0;
/// The difference is looked at this near to the tip, mm: beyond it lies what a
/// shorter file changes along itself.
const ABOUT_MM: f64 = 0.6;
/// It is laid over places this near to the tip, mm, and this far apart.
const PLACES_MM: f64 = 1.5;
const PLACES_STEP_MM: f64 = 0.06;

/// d′ of a tip against a place a little short of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TipShows {
    /// Against the film's noise alone: no reader does better.
    pub over_noise: f64,
    /// Against noise and what lies about the tip: bone, roots, metal.
    pub over_surroundings: f64,
}

/// A film's opacity, 0..=1.
struct Picture {
    width: usize,
    height: usize,
    values: Vec<f32>,
}

impl Picture {
    fn of(film: &Film) -> Self {
        let full = f32::from(film.max_sample());
        let samples = film.samples().iter();
        Self {
            width: film.width_px() as usize,
            height: film.height_px() as usize,
            values: samples.map(|v| f32::from(*v) / full).collect(),
        }
    }

    fn less(mut self, other: &Self) -> Self {
        let pairs = self.values.iter_mut().zip(&other.values);
        pairs.for_each(|(a, b)| *a -= b);
        self
    }

    fn at(&self, x: isize, y: isize) -> Option<f64> {
        let inside =
            (0..self.width as isize).contains(&x) && (0..self.height as isize).contains(&y);
        inside.then(|| f64::from(self.values[y as usize * self.width + x as usize]))
    }
}

/// `spec` with file `file` (the first, then the others) `by_mm` shorter.
fn shorter(spec: &PhantomSpec, file: usize, by_mm: f64) -> PhantomSpec {
    let mut spec = spec.clone();
    let seconds = usize::from(spec.file.is_some());
    if file < seconds {
        spec.file.iter_mut().for_each(|f| f.set_length_mm -= by_mm);
    } else if let Some(second) = spec.clutter.second_files.get_mut(file - seconds) {
        second.file.set_length_mm -= by_mm;
    }
    spec
}

/// A weight at places about a tip.
type Template = Vec<(isize, isize, f64)>;

/// Standard deviation of what `template` answers on `picture` at places about
/// `tip`.
fn deviation(picture: &Picture, template: &Template, mm_per_px: f64) -> f64 {
    let reach = (PLACES_MM / PLACES_STEP_MM) as isize;
    let step_px = PLACES_STEP_MM / mm_per_px;
    let mut answers = Vec::new();
    for j in -reach..=reach {
        for i in -reach..=reach {
            let mm = PLACES_STEP_MM * (i as f64).hypot(j as f64);
            if mm > PLACES_MM {
                continue;
            }
            let [dx, dy] = [i, j].map(|k| (k as f64 * step_px).round() as isize);
            let laid = template.iter();
            let products = laid.map(|(x, y, w)| Some(w * picture.at(x + dx, y + dy)?));
            answers.extend(products.sum::<Option<f64>>());
        }
    }
    let n = answers.len().max(1) as f64;
    let mean = answers.iter().sum::<f64>() / n;
    (answers.iter().map(|a| (a - mean).powi(2)).sum::<f64>() / n).sqrt()
}

/// How well the film of `spec` shows the end of file `file` (the first, then the
/// others), which lies at `tip`.
pub fn tip_shows(spec: &PhantomSpec, file: usize, tip: FilmPoint, mm_per_px: f64) -> TipShows {
    let picture = |spec: &PhantomSpec| {
        let phantom = render(spec).expect("the drawn spec can be rendered");
        Picture::of(&phantom.film)
    };
    let mut quiet = spec.clone();
    quiet.detector.photons = None;
    quiet.detector.bits = 16;
    quiet.clutter.noise.clear();
    let clean = picture(&quiet);
    let seen = Picture {
        values: clean.values.clone(),
        ..clean
    }
    .less(&picture(&shorter(&quiet, file, SHORTER_MM)));
    let about_px = ABOUT_MM / mm_per_px;
    let reach = about_px.ceil() as isize;
    let (cx, cy) = (tip.x as isize, tip.y as isize);
    let mut template = Template::new();
    for y in cy - reach..=cy + reach {
        for x in cx - reach..=cx + reach {
            let near = FilmPoint::new(x as f64 + 0.5, y as f64 + 0.5).distance_px(tip) <= about_px;
            if let Some(value) = seen.at(x, y).filter(|_| near) {
                template.push((x, y, value));
            }
        }
    }
    let power: f64 = template.iter().map(|(_, _, w)| w * w).sum();
    let noise = picture(spec).less(&clean);
    let over_noise = power / deviation(&noise, &template, mm_per_px).max(1e-12);
    // What is even about the tip tells nothing.
    let mean = template.iter().map(|(_, _, w)| w).sum::<f64>() / template.len().max(1) as f64;
    template.iter_mut().for_each(|(_, _, w)| *w -= mean);
    let power: f64 = template.iter().map(|(_, _, w)| w * w).sum();
    let without = picture(&shorter(spec, file, AWAY_MM));
    TipShows {
        over_noise,
        over_surroundings: power / deviation(&without, &template, mm_per_px).max(1e-12),
    }
}
