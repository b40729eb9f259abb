//! What of a shaped canal a rubric can judge.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::truth::TrueBlock;
use crate::grading::rubric_line::Judged;
use crate::shaping::{AberrationKind, CanalShaping, LevelFinding};
use crate::units::Quantity;

/// A number a shaped canal is judged by.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum ShapingMeasure {
    /// Greatest transport of any level, either side.
    GreatestTransportMm,
    /// Mean centring ratio of the levels that have one.
    MeanCentringRatio,
    /// Least centring ratio of any level.
    LeastCentringRatio,
    /// Angle before less angle after, by Schneider's method.
    SchneiderStraighteningDeg,
    /// Length after less length before.
    LengthChangeMm,
    /// Thinnest wall that remains, of any level.
    ThinnestWallMm,
    Zips,
    Elbows,
    Ledges,
    Perforations,
    /// Distance of the traces' ends from the true end of the canal, the greater
    /// of both pictures. This and the following: of an exercise set only.
    EndErrorMm,
    /// Error of the widths before and after, root mean square over the levels.
    WidthErrorMm,
    /// Error of the transport, root mean square over the levels.
    TransportErrorMm,
    /// Zips found where there is none, or missed.
    ZipsMistaken,
}

/// Share of the draws from which a finding by a rule is taken for certain.
const CERTAIN: f64 = 0.95;

/// A value with its expanded uncertainty (95 %), where that is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judgement {
    pub value: f64,
    pub u95: Option<f64>,
}

impl From<Quantity> for Judgement {
    fn from(quantity: Quantity) -> Self {
        Self {
            value: quantity.value,
            u95: Some(quantity.u95),
        }
    }
}

impl ShapingMeasure {
    /// Every measure.
    pub const ALL: [Self; 14] = [
        Self::GreatestTransportMm,
        Self::MeanCentringRatio,
        Self::LeastCentringRatio,
        Self::SchneiderStraighteningDeg,
        Self::LengthChangeMm,
        Self::ThinnestWallMm,
        Self::Zips,
        Self::Elbows,
        Self::Ledges,
        Self::Perforations,
        Self::EndErrorMm,
        Self::WidthErrorMm,
        Self::TransportErrorMm,
        Self::ZipsMistaken,
    ];

    /// It is held against the truth of an exercise set.
    pub fn needs_truth(self) -> bool {
        matches!(
            self,
            Self::EndErrorMm | Self::WidthErrorMm | Self::TransportErrorMm | Self::ZipsMistaken
        )
    }

    /// Findings by a rule are counted.
    pub fn is_count(self) -> bool {
        matches!(
            self,
            Self::Zips | Self::Elbows | Self::Ledges | Self::Perforations | Self::ZipsMistaken
        )
    }

    /// The number of one canal; `None` where it is not available. `truth`: of
    /// the exercise set the canal belongs to.
    pub fn of(self, canal: &CanalShaping, truth: Option<&TrueBlock>) -> Option<Judgement> {
        let quantities = |of: fn(&LevelFinding) -> Option<Quantity>| {
            canal.levels.iter().filter_map(of).collect::<Vec<_>>()
        };
        match self {
            Self::GreatestTransportMm => quantities(|l| l.transport_mm)
                .into_iter()
                .map(|q| Quantity {
                    value: q.value.abs(),
                    ..q
                })
                .max_by(|a, b| a.value.total_cmp(&b.value))
                .map(Judgement::from),
            Self::MeanCentringRatio => {
                let ratios = centring_ratios(canal);
                let count = ratios.len() as f64;
                // Levels share the registration: their errors are taken to go
                // together, which no mean makes smaller.
                (!ratios.is_empty()).then(|| Judgement {
                    value: ratios.iter().map(|r| r.value).sum::<f64>() / count,
                    u95: Some(ratios.iter().map(|r| r.u95).sum::<f64>() / count),
                })
            }
            Self::LeastCentringRatio => centring_ratios(canal)
                .into_iter()
                .min_by(|a, b| a.value.total_cmp(&b.value))
                .map(Judgement::from),
            Self::SchneiderStraighteningDeg => {
                let schneider = canal.straightening_deg.get("schneider").copied();
                schneider.flatten().map(Judgement::from)
            }
            Self::LengthChangeMm => canal.length_change_mm.map(Judgement::from),
            Self::ThinnestWallMm => {
                let sides = quantities(|l| l.remaining_left_mm)
                    .into_iter()
                    .chain(quantities(|l| l.remaining_right_mm));
                sides
                    .min_by(|a, b| a.value.total_cmp(&b.value))
                    .map(Judgement::from)
            }
            Self::Zips => count(canal, AberrationKind::Zip),
            Self::Elbows => count(canal, AberrationKind::Elbow),
            Self::Ledges => count(canal, AberrationKind::Ledge),
            Self::Perforations => count(canal, AberrationKind::Perforation),
            // Against what is known exactly there is nothing uncertain but the
            // student's own clicks, which are what is judged.
            Self::EndErrorMm => exact(truth?.end_error_mm?),
            Self::WidthErrorMm => exact(truth?.width_error_mm(canal)?),
            Self::TransportErrorMm => exact(truth?.transport_error_mm(canal)?),
            Self::ZipsMistaken => {
                let zips = count(canal, AberrationKind::Zip)?;
                let value = (zips.value - truth?.zips()).abs();
                Some(Judgement { value, ..zips })
            }
        }
    }
}

fn exact(value: f64) -> Option<Judgement> {
    Some(Judgement { value, u95: None })
}

fn centring_ratios(canal: &CanalShaping) -> Vec<Quantity> {
    let of = |level: &LevelFinding| {
        Some(Quantity {
            value: level.centring_ratio?,
            u95: level.centring_ratio_u95?,
        })
    };
    canal.levels.iter().filter_map(of).collect()
}

/// Findings of this kind; unsure ones alone leave the count open. `None`
/// without levels, since nothing was looked for then.
fn count(canal: &CanalShaping, kind: AberrationKind) -> Option<Judgement> {
    if canal.levels.is_empty() {
        return None;
    }
    let of_kind = canal.findings.iter().filter(|f| f.kind == kind);
    let (sure, unsure): (Vec<_>, Vec<_>) = of_kind.partition(|f| f.share_of_draws >= CERTAIN);
    Some(Judgement {
        value: sure.len() as f64,
        u95: (sure.is_empty() && !unsure.is_empty()).then_some(unsure.len() as f64),
    })
}

impl Judged for ShapingMeasure {
    fn key(self) -> &'static str {
        match self {
            Self::GreatestTransportMm => "greatest_transport_mm",
            Self::MeanCentringRatio => "mean_centring_ratio",
            Self::LeastCentringRatio => "least_centring_ratio",
            Self::SchneiderStraighteningDeg => "schneider_straightening_deg",
            Self::LengthChangeMm => "length_change_mm",
            Self::ThinnestWallMm => "thinnest_wall_mm",
            Self::Zips => "zips",
            Self::Elbows => "elbows",
            Self::Ledges => "ledges",
            Self::Perforations => "perforations",
            Self::EndErrorMm => "end_error_mm",
            Self::WidthErrorMm => "width_error_mm",
            Self::TransportErrorMm => "transport_error_mm",
            Self::ZipsMistaken => "zips_mistaken",
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::GreatestTransportMm => "greatest transport",
            Self::MeanCentringRatio => "mean centring ratio",
            Self::LeastCentringRatio => "least centring ratio",
            Self::SchneiderStraighteningDeg => "straightening (Schneider)",
            Self::LengthChangeMm => "change of length",
            Self::ThinnestWallMm => "thinnest remaining wall",
            Self::Zips => "zips",
            Self::Elbows => "elbows",
            Self::Ledges => "ledges",
            Self::Perforations => "perforations",
            Self::EndErrorMm => "end of the canal off by",
            Self::WidthErrorMm => "error of the widths",
            Self::TransportErrorMm => "error of the transport",
            Self::ZipsMistaken => "zips mistaken",
        }
    }

    fn unit(self) -> &'static str {
        match self {
            Self::GreatestTransportMm
            | Self::LengthChangeMm
            | Self::ThinnestWallMm
            | Self::EndErrorMm
            | Self::WidthErrorMm
            | Self::TransportErrorMm => "mm",
            Self::SchneiderStraighteningDeg => "°",
            _ => "",
        }
    }
}
