//! The forms that the points leave possible, each with its share.

use kurbo::Point;

use super::check::Misfit;
use super::noise::NoiseGrid;
use super::smooth::{SHAPE_MODES, SmoothEntry, SmoothFamily, SmoothForm, Trace};
use super::{Candidate, FitError, FormFit};
use crate::geometry::StraightArcPath;

/// A form of a path that can be fitted to other points near those of the fit.
#[derive(Clone, Debug)]
pub enum Form {
    /// Straight pieces and arcs.
    Pieces(FormFit),
    /// A bend of any shape between straight pieces.
    Smooth(Box<SmoothForm>),
}

/// A form with its share of what is possible.
#[derive(Clone, Debug)]
pub struct WeightedForm {
    /// The form.
    pub form: Form,
    /// Its share; all of a fit add up to 1.
    pub share: f64,
    /// Its path.
    pub path: StraightArcPath,
    /// Where the points would lie without noise: their feet on the path, ends
    /// on ends.
    pub feet: Vec<Point>,
    /// χ² with its degrees of freedom.
    pub(super) misfit: Misfit,
}

impl WeightedForm {
    fn new(form: Form, share: f64, misfit: Misfit, points: &[Point]) -> Option<Self> {
        let path = match &form {
            Form::Pieces(form) => form.path().ok()?,
            Form::Smooth(form) => form.path().ok()?,
        };
        let last = points.len() - 1;
        let foot = |(index, point): (usize, &Point)| match index {
            0 => path.start(),
            _ if index == last => path.end(),
            _ => path.project(*point).foot,
        };
        let feet = points.iter().enumerate().map(foot).collect();
        Some(Self {
            form,
            share,
            path,
            feet,
            misfit,
        })
    }

    /// Whether its points tell all of it.
    pub fn is_closed(&self) -> bool {
        matches!(self.form, Form::Pieces(_))
    }

    /// How much of its net turn no point tells, rad: none where it is made of
    /// straight pieces and arcs.
    pub fn open_turn_rad(&self) -> f64 {
        match &self.form {
            Form::Pieces(_) => 0.0,
            Form::Smooth(form) => form.open_turn_rad(),
        }
    }

    /// The path of this form through other points near its feet; `shape` are
    /// standard normal deviates of what no point tells of a smooth form.
    ///
    /// # Errors
    /// As [`FormFit::refit`] and [`SmoothForm::moved`].
    pub fn refit(
        &self,
        points: &[Point],
        shape: &[f64; SHAPE_MODES],
    ) -> Result<StraightArcPath, FitError> {
        match &self.form {
            Form::Pieces(form) => form.refit(points),
            Form::Smooth(form) => form.moved(points, &self.feet, shape),
        }
    }
}

/// What is left open of a smooth bend, over what the walk leaves open: canals
/// are no random walks. Measured on bends, see docs/accuracy.md; where nothing
/// bends the walk stands as it is.
const BEYOND_THE_WALK: f64 = 1.35;

/// All forms of a fit.
#[derive(Clone, Debug, Default)]
pub(super) struct Family {
    pub forms: Vec<WeightedForm>,
    pub smooth_share: f64,
    pub scatter_ratio: f64,
    /// The likeliest model has no bend.
    straight: bool,
}

/// Forms less likely than this share are left out.
const LEAST_SHARE: f64 = 0.01;
/// Most forms of each class.
const MOST_FORMS: usize = 3;
/// What smooth forms have to make up for in the criterion.
const SMOOTH_COST: f64 = -4.0;
/// Logarithm of how much likelier than the points alone make it a bend is whose
/// curvature grows up to the apex.
const RISE: f64 = 2.0;
/// Shares go with this power of the evidence. Which form a canal has is not
/// drawn from a known lot: with full power the intervals would hold the truth
/// over all canals and miss it in half of those of one shape. Measured, see
/// docs/accuracy.md.
pub(super) const TEMPER: f64 = 0.35;

impl Family {
    pub fn is_smooth(&self) -> bool {
        matches!(
            self.forms.first(),
            Some(WeightedForm {
                form: Form::Smooth(_),
                ..
            })
        ) && !self.straight
    }

    pub fn best_path(&self, straight_arc: StraightArcPath) -> StraightArcPath {
        match self.forms.first() {
            Some(form) if !self.straight => form.path.clone(),
            _ => straight_arc,
        }
    }
}

fn log_sum(logs: impl Iterator<Item = f64> + Clone) -> f64 {
    let most = logs.clone().fold(f64::NEG_INFINITY, f64::max);
    if most.is_finite() {
        most + logs.map(|log| (log - most).exp()).sum::<f64>().ln()
    } else {
        most
    }
}

/// The forms of a trace: `candidates` of straight pieces and arcs, the best
/// first, and smooth ones. `near` is the path of the best candidate; shares go
/// with that `power` of the evidence.
pub(super) fn family(
    trace: &Trace<'_>,
    candidates: &[Candidate],
    near: &StraightArcPath,
    least_sd: f64,
    power: f64,
    grid: &NoiseGrid,
) -> Family {
    let bent = || candidates.iter().filter(|c| c.structure.arc_count() > 0);
    let straight_log = candidates
        .iter()
        .filter(|c| c.structure.arc_count() == 0)
        .map(|c| c.judged.log_evidence)
        .fold(f64::NEG_INFINITY, f64::max);
    let smooth = SmoothFamily::new(*trace, near, least_sd, grid);
    let entries = smooth.entries();
    let prior = -(smooth.walk_count() as f64).ln() - 0.5 * SMOOTH_COST;
    let mut models: Vec<(usize, f64, Model)> = Vec::new();
    for c in bent() {
        let class = c.class();
        models.push((class, c.judged.log_evidence, Model::Pieces(c)));
    }
    for e in &entries {
        let rising = if e.rises_to_apex() { RISE } else { 0.0 };
        let log = e.judged.log_evidence + prior + rising;
        models.push((e.class(), log, Model::Smooth(e)));
    }
    let all = log_sum(models.iter().map(|m| m.1));
    let smooth_log = log_sum(models.iter().filter(|m| m.0 > 3).map(|m| m.1));
    let smooth_share = (smooth_log - all).exp();
    let straight = straight_log >= all;
    let open = if straight { 1.0 } else { BEYOND_THE_WALK };
    let class_logs: Vec<f64> = (0..CLASSES)
        .map(|class| log_sum(models.iter().filter(|m| m.0 == class).map(|m| m.1)))
        .collect();
    let class_sum = log_sum(class_logs.iter().map(|log| power * log));
    let mut forms = Vec::new();
    let mut scatter = 0.0;
    for (class, class_log) in class_logs.iter().enumerate() {
        let class_share = (power * class_log - class_sum).exp();
        if class_share.is_nan() || class_share < LEAST_SHARE {
            continue;
        }
        let mut members: Vec<&(usize, f64, Model)> =
            models.iter().filter(|m| m.0 == class).collect();
        members.sort_by(|a, b| b.1.total_cmp(&a.1));
        let mut chosen: Vec<&(usize, f64, Model)> = Vec::new();
        for m in members {
            if chosen.len() < MOST_FORMS && chosen.iter().all(|c| !c.2.is_like(&m.2)) {
                chosen.push(m);
            }
        }
        let sum = log_sum(chosen.iter().map(|m| power * m.1));
        for (_, log, model) in chosen {
            let share = class_share * (power * log - sum).exp();
            let ratio = match model {
                Model::Pieces(c) => c.judged.variance_ratio,
                Model::Smooth(e) => e.judged.variance_ratio,
            };
            scatter += share * ratio;
            if share < LEAST_SHARE {
                continue;
            }
            let residuals = (trace.points.len() + 2) as f64;
            let form = match model {
                Model::Pieces(c) => Some((
                    Form::Pieces(c.own.clone()),
                    (c.chi_square, residuals - c.parameter_count as f64),
                )),
                Model::Smooth(e) => smooth.form(e, open).map(|(form, parameters)| {
                    let misfit = (e.chi_square, residuals - parameters);
                    (Form::Smooth(Box::new(form)), misfit)
                }),
            };
            forms.extend(
                form.and_then(|(form, misfit)| {
                    WeightedForm::new(form, share, misfit, trace.points)
                }),
            );
        }
    }
    // The likeliest first: shares are tempered and spread over many forms.
    forms.sort_by(|a, b| b.share.total_cmp(&a.share));
    let is_likeliest = |form: &WeightedForm| match &form.form {
        Form::Smooth(_) => smooth_share > 0.5,
        Form::Pieces(form) => {
            smooth_share <= 0.5
                && candidates
                    .iter()
                    .find(|c| c.structure.arc_count() > 0)
                    .is_some_and(|c| &c.own == form)
        }
    };
    if let Some(index) = forms.iter().position(is_likeliest) {
        forms[..=index].rotate_right(1);
    }
    let sum: f64 = forms.iter().map(|f| f.share).sum();
    for form in &mut forms {
        form.share /= sum;
    }
    Family {
        forms,
        smooth_share,
        scatter_ratio: scatter.sqrt(),
        straight,
    }
}

/// A model in the competition.
enum Model<'a> {
    Pieces(&'a Candidate),
    Smooth(&'a SmoothEntry),
}

impl Model<'_> {
    fn is_like(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Smooth(a), Self::Smooth(b)) => a.is_like(b),
            _ => false,
        }
    }
}

const CLASSES: usize = 12;
