//! What the rows of the assessment are read from, and what is known of a row's
//! class.

use crate::assessment::{Shares, certain};
use crate::case::Case;
use crate::curvature::DifficultyClass;
use crate::measure::assessment_findings::MeasuredRow;
use crate::measure::class_probabilities::ClassProbabilities;
use crate::measure::findings::CanalFindings;
use crate::measure::intervals::Intervals;
use crate::measure::model::Model;
use crate::measure::settings::{MeasureSettings, Precision};
use crate::uncertainty::monte_carlo::Draws;

/// What the assessment is made from.
pub struct Evidence<'a> {
    pub model: &'a Model,
    pub case: &'a Case,
    pub canals: &'a [CanalFindings],
    pub intervals: &'a Intervals,
    pub drawn: Option<&'a Draws>,
    pub settings: &'a MeasureSettings,
}

impl Evidence<'_> {
    /// Indices of the tooth's own canals.
    pub fn own_canals(&self) -> Vec<usize> {
        let is_own = |index: &usize| !self.is_neighbour(*index);
        (0..self.case.canals.len()).filter(is_own).collect()
    }

    pub fn is_neighbour(&self, canal: usize) -> bool {
        let entered = self.case.assessment.as_ref();
        let name = &self.case.canals[canal].name;
        entered.is_some_and(|entered| entered.neighbour_canals.contains(name))
    }
}

/// What is known of the class of a row.
pub enum Spread {
    /// Entered, or beyond doubt.
    Certain(DifficultyClass),
    /// In each draw; `None` where a draw gives no class.
    Draws(Vec<Option<DifficultyClass>>),
    /// By the linear law; `None` where no uncertainty was asked for.
    Shares(Option<Shares>),
}

impl Spread {
    /// How likely each class is.
    pub fn shares(&self, evidence: &Evidence) -> Option<ClassProbabilities> {
        match self {
            Self::Certain(class) => {
                let is_asked = evidence.drawn.is_some() || evidence.has_law();
                is_asked.then(|| probabilities(certain(*class)))
            }
            Self::Draws(classes) => {
                let mut counted = [0; 3];
                for class in classes.iter().flatten() {
                    counted[*class as usize] += 1;
                }
                shares_of(counted)
            }
            Self::Shares(shares) => shares.map(probabilities),
        }
    }
}

/// A measured row.
pub struct Measured {
    pub finding: MeasuredRow,
    pub spread: Spread,
}

impl Measured {
    /// A row with its spread.
    pub fn new(evidence: &Evidence, mut finding: MeasuredRow, spread: Spread) -> Self {
        finding.probabilities = spread.shares(evidence);
        Self { finding, spread }
    }
}

impl Evidence<'_> {
    /// Uncertainty was asked for.
    pub fn has_law(&self) -> bool {
        self.settings.precision != Precision::ValuesOnly
    }
}

/// The worst class over several canals, draw by draw.
pub fn worst(canals: impl IntoIterator<Item = Vec<Option<DifficultyClass>>>) -> Spread {
    let mut canals = canals.into_iter();
    let mut worst = canals.next().unwrap_or_default();
    for canal in canals {
        for (worst, class) in worst.iter_mut().zip(canal) {
            *worst = (*worst).max(class);
        }
    }
    Spread::Draws(worst)
}

/// Shares of the worst class over independent canals.
pub fn worst_shares(canals: impl IntoIterator<Item = Option<Shares>>) -> Spread {
    let (mut low, mut below_high) = (1.0, 1.0);
    for shares in canals {
        let Some([of_low, moderate, _]) = shares else {
            return Spread::Shares(None);
        };
        low *= of_low;
        below_high *= of_low + moderate;
    }
    Spread::Shares(Some([low, below_high - low, 1.0 - below_high]))
}

/// Counts as shares; `None` without any.
pub fn shares_of(counted: [usize; 3]) -> Option<ClassProbabilities> {
    let total: usize = counted.iter().sum();
    (total > 0).then(|| probabilities(counted.map(|count| count as f64 / total as f64)))
}

/// A random number of the standard normal distribution for each draw, from a
/// stream of its own that no input of the model uses.
pub fn deviates(drawn: &Draws, seed: u64, stream: u64) -> Vec<f64> {
    use rand::SeedableRng;
    use rand_distr::{Distribution, StandardNormal};
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(u64::MAX - stream);
    (0..drawn.draw_count())
        .map(|_| StandardNormal.sample(&mut rng))
        .collect()
}

/// Shares by class.
pub fn probabilities([low, moderate, high]: Shares) -> ClassProbabilities {
    ClassProbabilities {
        low,
        moderate,
        high,
    }
}
