//! The catalogue of curvature: every method with its publication, every number
//! with its key, name, code and method.
//!
//! Text, window, CSV, reports, budget, warnings and grading read these two
//! tables, so that a new number is one row here.

use super::{Curvature, CurvatureLandmark, Measured};

/// A published method with a construction of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Method {
    Schneider,
    Weine,
    AxisAxis,
    Pruett,
    Luiten,
    Schafer,
    Gunday,
    Estrela,
}

/// What is known of a [`Method`].
#[derive(Debug)]
pub struct MethodRow {
    pub method: Method,
    /// Name as shown.
    pub name: &'static str,
    /// What it measures.
    pub meaning: &'static str,
    /// Its publication.
    pub source: &'static str,
    /// Landmarks it is built on, each of which can be moved.
    pub landmarks: &'static [CurvatureLandmark],
}

/// All methods, in the order in which they are listed.
pub const CURVATURE_METHODS: [MethodRow; 8] = {
    use CurvatureLandmark::{
        ApicalEnd, AxisStart, CurveEnd, CurveStart, EstrelaApical, EstrelaCoronal, EstrelaJoint,
        LuitenApical, LuitenAxis, Orifice,
    };
    [
        MethodRow {
            method: Method::Schneider,
            name: "Schneider",
            meaning: "coronal axis against the line from the start of the curve to the apex",
            source: "Schneider 1971, Oral Surg Oral Med Oral Pathol 32:271–5",
            landmarks: &[AxisStart, CurveStart, ApicalEnd],
        },
        MethodRow {
            method: Method::Weine,
            name: "Weine",
            meaning: "coronal tangent at the start of the curve against the apical tangent",
            source: "Weine 1982, Endodontic Therapy, 3rd ed.",
            landmarks: &[AxisStart, CurveStart, CurveEnd, ApicalEnd],
        },
        MethodRow {
            method: Method::AxisAxis,
            name: "Axis–axis",
            meaning: "long axes of the coronal and the apical segment",
            source: "after Hankins and ElDeeb 1996, J Endod 22:123–30",
            landmarks: &[AxisStart, CurveStart, CurveEnd, ApicalEnd],
        },
        MethodRow {
            method: Method::Pruett,
            name: "Pruett",
            meaning: "arc tangent to both straight pieces: angle and radius",
            source: "Pruett, Clement and Carnes 1997, J Endod 23:77–85",
            landmarks: &[AxisStart, CurveStart, CurveEnd, ApicalEnd],
        },
        MethodRow {
            method: Method::Luiten,
            name: "Luiten",
            meaning: "first 2 mm of the canal against its last 1 mm",
            source: "Luiten et al. 1995, J Endod 21:26–32",
            landmarks: &[Orifice, LuitenAxis, LuitenApical, ApicalEnd],
        },
        MethodRow {
            method: Method::Schafer,
            name: "Schäfer",
            meaning: "radius and length of the arc from Schneider's angle and its chord",
            source: "Schäfer et al. 2002, J Endod 28:211–6",
            landmarks: &[AxisStart, CurveStart, ApicalEnd],
        },
        MethodRow {
            method: Method::Gunday,
            name: "Günday",
            meaning: "canal access angle, curvature height x and distance y",
            source: "Günday, Sazak and Garip 2005, J Endod 31:796–8",
            landmarks: &[Orifice, AxisStart, CurveStart, ApicalEnd],
        },
        MethodRow {
            method: Method::Estrela,
            name: "Estrela",
            meaning: "circle through two segments of 6 mm",
            source: "Estrela et al. 2008, Braz Dent J 19:114–8",
            landmarks: &[EstrelaCoronal, EstrelaJoint, EstrelaApical],
        },
    ]
};

impl Method {
    /// All methods, in the order of [`CURVATURE_METHODS`].
    pub const ALL: [Self; CURVATURE_METHODS.len()] = {
        let mut all = [Self::Schneider; CURVATURE_METHODS.len()];
        let mut i = 0;
        while i < all.len() {
            all[i] = CURVATURE_METHODS[i].method;
            i += 1;
        }
        all
    };

    /// What is known of it.
    pub fn row(self) -> &'static MethodRow {
        const ROWS: &[MethodRow] = &CURVATURE_METHODS;
        &ROWS[self as usize]
    }

    /// Name as shown.
    pub fn name(self) -> &'static str {
        self.row().name
    }

    /// Its publication.
    pub fn source(self) -> &'static str {
        self.row().source
    }

    /// Landmarks it is built on, each of which can be moved.
    pub fn landmarks(self) -> &'static [CurvatureLandmark] {
        self.row().landmarks
    }
}

/// A number that speaks of the canal as a whole, or of the one curve that its
/// method measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum CurvatureQuantity {
    Schneider,
    Weine,
    AxisAxis,
    Pruett,
    PruettRadius,
    Luiten,
    SchaferRadius,
    SchaferCurveLength,
    CanalAccess,
    CurvatureHeight,
    CurvatureDistance,
    CurvatureDistanceFromApex,
    EstrelaRadius,
    NetTurn,
    TotalTurn,
    SmallestRadius,
    SmallestRadiusFromApex,
}

/// What kind of number a quantity is; decides its unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dimension {
    /// rad in [`Curvature`], ° where it is shown.
    Angle,
    /// Length in the unit of the path.
    Radius,
    /// Length in the unit of the path.
    Length,
}

impl Dimension {
    /// Sign of the unit in which results are shown.
    pub fn sign(self) -> &'static str {
        match self {
            Self::Angle => "°",
            Self::Radius | Self::Length => "mm",
        }
    }

    /// Shown / computed: ° per rad, or 1.
    pub fn shown_per_computed(self) -> f64 {
        match self {
            Self::Angle => 1f64.to_degrees(),
            Self::Radius | Self::Length => 1.0,
        }
    }
}

/// What is known of a [`CurvatureQuantity`].
#[derive(Debug)]
pub struct QuantityRow {
    pub quantity: CurvatureQuantity,
    /// Key of `measure --json` and column of the CSV; its ending is the unit.
    pub key: &'static str,
    /// Code in the private scheme of the structured report.
    pub code: &'static str,
    /// Full name, to stand within a sentence.
    pub name: &'static str,
    /// Name beside that of its method, which may give several numbers.
    pub part: &'static str,
    pub dimension: Dimension,
    /// The method it belongs to; `None`: of the fitted path itself.
    pub method: Option<Method>,
    /// It is stated with an interval of its own; a place along the canal is
    /// not.
    pub has_interval: bool,
    /// The sources of its uncertainty are listed.
    pub has_budget: bool,
    /// The number among the results.
    pub of: fn(&Curvature) -> Measured,
}

/// Every number, in the order of every table.
pub const QUANTITIES: [QuantityRow; 17] = [
    QuantityRow {
        quantity: CurvatureQuantity::Schneider,
        key: "schneider_deg",
        code: "SCHNEIDER",
        name: "Schneider angle",
        part: "",
        dimension: Dimension::Angle,
        method: Some(Method::Schneider),
        has_interval: true,
        has_budget: true,
        of: |c| c.schneider_rad,
    },
    QuantityRow {
        quantity: CurvatureQuantity::Weine,
        key: "weine_deg",
        code: "WEINE",
        name: "Weine angle",
        part: "",
        dimension: Dimension::Angle,
        method: Some(Method::Weine),
        has_interval: true,
        has_budget: true,
        of: |c| c.weine_rad,
    },
    QuantityRow {
        quantity: CurvatureQuantity::AxisAxis,
        key: "axis_axis_deg",
        code: "AXIS_AXIS",
        name: "axis–axis angle",
        part: "",
        dimension: Dimension::Angle,
        method: Some(Method::AxisAxis),
        has_interval: true,
        has_budget: true,
        of: |c| c.axis_axis_rad,
    },
    QuantityRow {
        quantity: CurvatureQuantity::Pruett,
        key: "pruett_deg",
        code: "PRUETT",
        name: "Pruett angle",
        part: "",
        dimension: Dimension::Angle,
        method: Some(Method::Pruett),
        has_interval: true,
        has_budget: true,
        of: |c| c.pruett_rad,
    },
    QuantityRow {
        quantity: CurvatureQuantity::PruettRadius,
        key: "pruett_radius_mm",
        code: "PRUETT_RADIUS",
        name: "Pruett radius",
        part: "radius",
        dimension: Dimension::Radius,
        method: Some(Method::Pruett),
        has_interval: true,
        has_budget: false,
        of: |c| c.pruett_radius,
    },
    QuantityRow {
        quantity: CurvatureQuantity::Luiten,
        key: "luiten_deg",
        code: "LUITEN",
        name: "Luiten angle",
        part: "",
        dimension: Dimension::Angle,
        method: Some(Method::Luiten),
        has_interval: true,
        has_budget: true,
        of: |c| c.luiten_rad,
    },
    QuantityRow {
        quantity: CurvatureQuantity::SchaferRadius,
        key: "schafer_radius_mm",
        code: "SCHAEFER_RADIUS",
        name: "Schäfer radius",
        part: "radius",
        dimension: Dimension::Radius,
        method: Some(Method::Schafer),
        has_interval: true,
        has_budget: false,
        of: |c| c.schafer_radius,
    },
    QuantityRow {
        quantity: CurvatureQuantity::SchaferCurveLength,
        key: "schafer_curve_length_mm",
        code: "SCHAEFER_LENGTH",
        name: "Schäfer curve length",
        part: "length",
        dimension: Dimension::Length,
        method: Some(Method::Schafer),
        has_interval: true,
        has_budget: false,
        of: |c| c.schafer_curve_length,
    },
    QuantityRow {
        quantity: CurvatureQuantity::CanalAccess,
        key: "canal_access_deg",
        code: "CANAL_ACCESS",
        name: "Günday canal access angle",
        part: "access",
        dimension: Dimension::Angle,
        method: Some(Method::Gunday),
        has_interval: true,
        has_budget: true,
        of: |c| c.canal_access_rad,
    },
    QuantityRow {
        quantity: CurvatureQuantity::CurvatureHeight,
        key: "curvature_height_mm",
        code: "CURVE_HEIGHT",
        name: "Günday curvature height x",
        part: "height",
        dimension: Dimension::Length,
        method: Some(Method::Gunday),
        has_interval: true,
        has_budget: false,
        of: |c| c.curvature_height,
    },
    QuantityRow {
        quantity: CurvatureQuantity::CurvatureDistance,
        key: "curvature_distance_mm",
        code: "CURVE_DIST_AD",
        name: "Günday distance y from the orifice, AD",
        part: "distance AD",
        dimension: Dimension::Length,
        method: Some(Method::Gunday),
        has_interval: true,
        has_budget: false,
        of: |c| c.curvature_distance,
    },
    QuantityRow {
        quantity: CurvatureQuantity::CurvatureDistanceFromApex,
        key: "curvature_distance_from_apex_mm",
        code: "CURVE_DIST_DC",
        name: "Günday distance from the apex, DC",
        part: "DC",
        dimension: Dimension::Length,
        method: Some(Method::Gunday),
        has_interval: true,
        has_budget: false,
        of: |c| c.curvature_distance_from_apex,
    },
    QuantityRow {
        quantity: CurvatureQuantity::EstrelaRadius,
        key: "estrela_radius_mm",
        code: "ESTRELA_RADIUS",
        name: "Estrela radius",
        part: "radius",
        dimension: Dimension::Radius,
        method: Some(Method::Estrela),
        has_interval: true,
        has_budget: false,
        of: |c| c.estrela_radius,
    },
    QuantityRow {
        quantity: CurvatureQuantity::NetTurn,
        key: "net_turn_deg",
        code: "NET_TURN",
        name: "net curvature",
        part: "",
        dimension: Dimension::Angle,
        method: None,
        has_interval: true,
        has_budget: true,
        of: |c| Ok(c.net_turn_rad),
    },
    QuantityRow {
        quantity: CurvatureQuantity::TotalTurn,
        key: "total_turn_deg",
        code: "TOTAL_TURN",
        name: "total curvature",
        part: "",
        dimension: Dimension::Angle,
        method: None,
        has_interval: true,
        has_budget: false,
        of: |c| Ok(c.total_turn_rad),
    },
    QuantityRow {
        quantity: CurvatureQuantity::SmallestRadius,
        key: "smallest_radius_mm",
        code: "SMALLEST_RADIUS",
        name: "smallest radius",
        part: "",
        dimension: Dimension::Radius,
        method: None,
        has_interval: true,
        has_budget: false,
        of: |c| c.smallest_radius,
    },
    QuantityRow {
        quantity: CurvatureQuantity::SmallestRadiusFromApex,
        key: "smallest_radius_from_apex_mm",
        code: "SMALLEST_R_PLACE",
        name: "place of the smallest radius, from the apex",
        part: "",
        dimension: Dimension::Length,
        method: None,
        has_interval: false,
        has_budget: false,
        of: |c| c.smallest_radius_from_apex,
    },
];

impl CurvatureQuantity {
    /// Number of quantities.
    pub const COUNT: usize = QUANTITIES.len();

    /// What is known of it.
    pub fn row(self) -> &'static QuantityRow {
        const ROWS: &[QuantityRow] = &QUANTITIES;
        &ROWS[self as usize]
    }

    /// Those of one method, or of the path itself, in table order.
    pub fn of_method(method: Option<Method>) -> impl Iterator<Item = &'static QuantityRow> {
        const ROWS: &[QuantityRow] = &QUANTITIES;
        ROWS.iter().filter(move |row| row.method == method)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The tables are read by position, and a key carries its unit.
    #[test]
    fn every_row_stands_in_its_place() {
        for (place, row) in QUANTITIES.iter().enumerate() {
            assert_eq!(row.quantity as usize, place, "{}", row.key);
            let ending = match row.dimension {
                Dimension::Angle => "_deg",
                Dimension::Radius | Dimension::Length => "_mm",
            };
            assert!(row.key.ends_with(ending), "{}", row.key);
            let twins = QUANTITIES.iter();
            let twins =
                twins.filter(|r| r.key == row.key || r.code == row.code || r.name == row.name);
            assert_eq!(twins.count(), 1, "{}", row.key);
            // DICOM PS3.5 6.2: a code value of representation SH has 16 characters at most.
            assert!(row.code.len() <= 16, "{}", row.code);
        }
        for (place, row) in CURVATURE_METHODS.iter().enumerate() {
            assert_eq!(row.method as usize, place, "{}", row.name);
            assert!(
                CurvatureQuantity::of_method(Some(row.method)).count() > 0,
                "{}",
                row.name
            );
        }
    }
}
