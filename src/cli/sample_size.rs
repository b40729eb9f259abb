//! `lengthfilm sample-size limits | icc`

use clap::{Args, Subcommand};
use serde_json::json;

use super::output::{CliError, print_json, print_text};
use crate::agreement::sample_size::{
    design_effect, icc_width, limits_power, subjects_for_icc, subjects_for_limits,
};

#[derive(Debug, Args)]
pub struct SampleSize {
    #[command(subcommand)]
    of: Of,
}

#[derive(Debug, Subcommand)]
enum Of {
    /// Subjects for limits of agreement that lie within a margin.
    Limits(Limits),
    /// Subjects for an intraclass correlation with an interval of a width.
    Icc(Icc),
}

/// What several measurements of one student or tooth cost.
#[derive(Debug, Args)]
struct Clusters {
    /// Measurements of one student or tooth.
    #[arg(long, default_value_t = 1.0)]
    per_cluster: f64,
    /// How much they correlate.
    #[arg(long, default_value_t = 0.0)]
    cluster_icc: f64,
    /// Print JSON instead of text.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Args)]
#[command(allow_negative_numbers = true)]
struct Limits {
    /// Expected mean difference.
    #[arg(long)]
    mean: f64,
    /// Expected standard deviation of the differences.
    #[arg(long)]
    sd: f64,
    /// Differences up to this do not matter.
    #[arg(long)]
    margin: f64,
    /// Power wanted.
    #[arg(long, default_value_t = 0.8)]
    power: f64,
    #[command(flatten)]
    clusters: Clusters,
}

#[derive(Debug, Args)]
#[command(allow_negative_numbers = true)]
struct Icc {
    /// Expected intraclass correlation.
    #[arg(long)]
    icc: f64,
    /// Raters of each subject.
    #[arg(long)]
    raters: usize,
    /// Width wanted of its 95 % interval.
    #[arg(long)]
    width: f64,
    #[command(flatten)]
    clusters: Clusters,
}

impl SampleSize {
    /// Works out and prints the number.
    pub fn run(self) -> Result<(), CliError> {
        match self.of {
            Of::Limits(limits) => limits.run(),
            Of::Icc(icc) => icc.run(),
        }
    }
}

impl Clusters {
    /// The number with what clustering costs.
    fn inflated(&self, subjects: f64) -> Result<usize, CliError> {
        let is_share = (0.0..=1.0).contains(&self.cluster_icc);
        if !(self.per_cluster >= 1.0 && self.per_cluster.is_finite() && is_share) {
            return Err(CliError::input(
                "--per-cluster must be at least 1 and --cluster-icc 0 to 1",
            ));
        }
        let effect = design_effect(self.per_cluster, self.cluster_icc);
        Ok((subjects * effect - 1e-9).ceil() as usize)
    }
}

impl Limits {
    fn run(self) -> Result<(), CliError> {
        let numbers = [self.mean, self.sd, self.margin, self.power];
        if numbers.iter().any(|n| !n.is_finite()) || self.sd <= 0.0 || self.margin <= 0.0 {
            return Err(CliError::input("--sd and --margin must be above 0"));
        }
        if !(0.0..1.0).contains(&self.power) {
            return Err(CliError::input("--power must lie between 0 and 1"));
        }
        let found = subjects_for_limits(self.mean, self.sd, self.margin, self.power);
        let pairs = found.ok_or_else(|| {
            CliError::input(format!(
                "limits of {} ± 1.96 × {} never lie within ± {}: no number of subjects will do",
                self.mean, self.sd, self.margin
            ))
        })?;
        let power = limits_power(pairs, self.mean, self.sd, self.margin);
        let needed = self.clusters.inflated(pairs as f64)?;
        if self.clusters.json {
            return print_json(&json!({"pairs": pairs, "power": power, "measurements": needed}));
        }
        let mut text = format!(
            "{pairs} independent pairs: both 95 % intervals of the limits of agreement lie within ± {} with a probability of {:.1} %\n",
            self.margin,
            100.0 * power.unwrap_or(f64::NAN)
        );
        if needed > pairs {
            text += &format!(
                "{needed} where {} come from one student or tooth\n",
                self.clusters.per_cluster
            );
        }
        print_text(&text)
    }
}

impl Icc {
    fn run(self) -> Result<(), CliError> {
        let exact = subjects_for_icc(self.icc, self.raters, self.width).ok_or_else(|| {
            CliError::input(
                "--icc must lie between 0 and 1, --raters be 2 or more, --width above 0",
            )
        })?;
        let subjects = (exact - 1e-9).ceil() as usize;
        let width = icc_width(self.icc, self.raters, subjects);
        let needed = self.clusters.inflated(exact)?;
        if self.clusters.json {
            return print_json(
                &json!({"subjects": subjects, "exact": exact, "width": width, "measurements": needed}),
            );
        }
        let mut text = format!(
            "{subjects} subjects rated by {} raters each: the 95 % interval of an ICC of {} is {} wide\n",
            self.raters, self.icc, self.width
        );
        if needed > subjects {
            text += &format!(
                "{needed} where {} come from one student or tooth\n",
                self.clusters.per_cluster
            );
        }
        print_text(&text)
    }
}
