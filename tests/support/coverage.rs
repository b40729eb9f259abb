//! How often stated intervals hold the truth: what every study of coverage
//! counts, and its rows in Markdown.

use lengthfilm::measure::findings::Quantity;
use lengthfilm::phantom::CanalKind;

/// One result beside the truth.
#[derive(Clone, Copy, Debug)]
pub struct Outcome {
    pub error: f64,
    pub u95: f64,
}

impl Outcome {
    /// A result and what is true.
    pub fn new(found: Quantity, truth: f64) -> Self {
        Self {
            error: found.value - truth,
            u95: found.u95,
        }
    }

    /// The interval holds the truth.
    pub fn holds(self) -> bool {
        self.error.abs() <= self.u95
    }
}

/// Coverage, bias and spread of one result.
#[derive(Clone, Copy, Debug)]
pub struct Line {
    pub count: usize,
    pub coverage: f64,
    pub bias: f64,
    pub sd: f64,
    pub median_u95: f64,
}

/// `None` of fewer than two.
pub fn line(outcomes: &[Outcome]) -> Option<Line> {
    let count = outcomes.len();
    if count < 2 {
        return None;
    }
    let n = count as f64;
    let bias = outcomes.iter().map(|o| o.error).sum::<f64>() / n;
    let squares: f64 = outcomes.iter().map(|o| (o.error - bias).powi(2)).sum();
    let mut u95: Vec<f64> = outcomes.iter().map(|o| o.u95).collect();
    u95.sort_by(f64::total_cmp);
    Some(Line {
        count,
        coverage: outcomes.iter().filter(|o| o.holds()).count() as f64 / n,
        bias,
        sd: (squares / (n - 1.0)).sqrt(),
        median_u95: u95[count / 2],
    })
}

/// A row of a table after `head`: count, coverage, bias, spread and median U of
/// the result called `name`; nothing of fewer than two.
pub fn row(head: &str, name: &str, outcomes: &[Outcome]) -> String {
    let Some(line) = line(outcomes) else {
        return String::new();
    };
    let digits = if name.ends_with('°') { 2 } else { 3 };
    format!(
        "{head} {} | {:.1} | {:+.digits$} | {:.digits$} | {:.digits$} |\n",
        line.count,
        100.0 * line.coverage,
        line.bias,
        line.sd,
        line.median_u95
    )
}

/// The kind of a canal in words.
pub fn kind_words(kind: CanalKind) -> &'static str {
    match kind {
        CanalKind::Single => "single",
        CanalKind::SShaped => "S-shaped",
        CanalKind::NearlyStraight => "nearly straight",
        CanalKind::LateBend => "late bend",
    }
}
