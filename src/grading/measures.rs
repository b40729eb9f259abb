//! Everything a trace is judged by. Keys are those of the JSON, the CSV and
//! the rubric; the ending names the unit.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::sync::LazyLock;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::curvature::{CurvatureQuantity, QUANTITIES};
use crate::measure::findings::{CanalFindings, Quantity};

macro_rules! measures {
    ($($name:ident $key:literal $words:literal,)*) => {
        /// A number a trace is judged by. Errors are trace − reference.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Measure {
            $(#[doc = $words] $name,)*
            /// Error of a number of the catalogue of curvature.
            Curvature(CurvatureQuantity),
        }

        impl Measure {
            const OWN: &[(Measure, &str, &str)] = &[$((Measure::$name, $key, $words),)*];
        }
    };
}

measures! {
    MeanDistanceMm "mean_distance_mm" "mean distance",
    Percentile95Mm "percentile_95_mm" "95th percentile of the distance",
    HausdorffMm "hausdorff_mm" "greatest (Hausdorff) distance",
    FrechetMm "frechet_mm" "Fréchet distance",
    LengthErrorMm "length_error_mm" "error of the canal's length",
    ApexErrorMm "apex_error_mm" "distance between the apex marks",
    TipErrorMm "tip_error_mm" "distance between the file tip marks",
    TipToApexErrorMm "tip_to_apex_error_mm" "error of tip to apex",
    WorkingEndToApexMm "working_end_to_apex_mm" "end of the working length short of the reference's apex",
    WorkingLengthErrorMm "working_length_error_mm" "error of the working length",
    ChartErrorMm "chart_error_mm" "error of the working length for the chart",
    SetLengthErrorMm "set_length_error_mm" "error of the length set on the file",
    ScaleErrorPercent "scale_error_percent" "error of the scale",
    MeanDistancePx "mean_distance_px" "mean distance",
    Percentile95Px "percentile_95_px" "95th percentile of the distance",
    HausdorffPx "hausdorff_px" "greatest (Hausdorff) distance",
    FrechetPx "frechet_px" "Fréchet distance",
    LengthErrorPx "length_error_px" "error of the canal's length",
    ApexErrorPx "apex_error_px" "distance between the apex marks",
    TipErrorPx "tip_error_px" "distance between the file tip marks",
}

/// Places along the canal, which say nothing that another measure does not.
const NOT_JUDGED: [CurvatureQuantity; 2] = [
    CurvatureQuantity::CurvatureDistanceFromApex,
    CurvatureQuantity::SmallestRadiusFromApex,
];

/// A measure with its key and its words.
struct Row {
    measure: Measure,
    key: String,
    words: String,
}

static ROWS: LazyLock<Vec<Row>> = LazyLock::new(|| {
    let own = Measure::OWN.iter().map(|&(measure, key, words)| Row {
        measure,
        key: key.to_owned(),
        words: words.to_owned(),
    });
    let judged = QUANTITIES
        .iter()
        .filter(|row| !NOT_JUDGED.contains(&row.quantity));
    let of_curvature = judged.map(|row| {
        let (stem, unit) = row.key.rsplit_once('_').unwrap_or((row.key, ""));
        Row {
            measure: Measure::Curvature(row.quantity),
            key: format!("{stem}_error_{unit}"),
            words: format!("error of the {}", row.name),
        }
    });
    own.chain(of_curvature).collect()
});

static ALL: LazyLock<Vec<Measure>> = LazyLock::new(|| ROWS.iter().map(|row| row.measure).collect());

impl Measure {
    /// Every measure, in the order of the table.
    pub fn all() -> &'static [Measure] {
        &ALL
    }

    fn row(self) -> Option<&'static Row> {
        ROWS.iter().find(|row| row.measure == self)
    }

    /// The key in JSON, CSV and rubric.
    pub fn key(self) -> &'static str {
        self.row().map_or("", |row| &row.key)
    }

    /// The measure in words.
    pub fn words(self) -> &'static str {
        self.row().map_or("", |row| &row.words)
    }

    /// The measure of that key.
    pub fn from_key(key: &str) -> Option<Self> {
        let row = ROWS.iter().find(|row| row.key == key)?;
        Some(row.measure)
    }

    /// The unit's sign: `mm`, `px`, `%` or `°`.
    pub fn unit(self) -> &'static str {
        match self.key().rsplit('_').next() {
            Some("deg") => "°",
            Some("px") => "px",
            Some("percent") => "%",
            _ => "mm",
        }
    }
}

impl Serialize for Measure {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.key())
    }
}

impl<'de> Deserialize<'de> for Measure {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let key = String::deserialize(deserializer)?;
        Self::from_key(&key).ok_or_else(|| {
            let keys: Vec<&str> = ROWS.iter().map(|row| row.key.as_str()).collect();
            D::Error::custom(format!(
                "unknown measure \"{key}\", expected one of {}",
                keys.join(", ")
            ))
        })
    }
}

impl JsonSchema for Measure {
    fn schema_name() -> Cow<'static, str> {
        "Measure".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let keys = ROWS.iter().map(
            |row| json_schema!({ "const": row.key, "type": "string", "description": row.words }),
        );
        json_schema!({
            "description": "A number a trace is judged by. Errors are trace − reference.",
            "oneOf": keys.collect::<Vec<_>>(),
        })
    }
}

/// Numbers by measure; what could not be had is absent.
pub type Values = BTreeMap<Measure, f64>;

/// The numbers of one canal that are compared by difference, under the
/// measure their error goes by.
pub fn compared_values(found: &CanalFindings) -> Values {
    compared(found, |quantity| quantity.value)
}

/// The expanded uncertainty (95 %) of the same.
pub fn compared_u95(found: &CanalFindings) -> Values {
    let mut all = compared(found, |quantity| quantity.u95);
    all.remove(&Measure::LengthErrorPx);
    all
}

fn compared(found: &CanalFindings, of: fn(Quantity) -> f64) -> Values {
    let value = |quantity: Option<Quantity>| quantity.map(of);
    let working_length = found
        .working_length_additive_mm
        .or(found.working_length_proportion_mm);
    let mut all = vec![
        (Measure::LengthErrorMm, value(found.curved_length_mm)),
        (Measure::LengthErrorPx, found.curved_length_px),
        (Measure::TipToApexErrorMm, value(found.tip_to_apex_mm)),
        (Measure::WorkingLengthErrorMm, value(working_length)),
    ];
    if let Some(c) = &found.curvature {
        let judged = Measure::all().iter().filter_map(|&measure| match measure {
            Measure::Curvature(quantity) => Some((measure, value(c[quantity]))),
            _ => None,
        });
        all.extend(judged);
    }
    all.into_iter()
        .filter_map(|(measure, value)| Some((measure, value.filter(|v| v.is_finite())?)))
        .collect()
}
