//! The kinds of object of known size. One row says all that case, window and
//! record need to know of each; how a size is read from its points and how well
//! it is known is in `measure::model::object`.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::ScaleObject;

/// Kinds of scale object (docs/methods.md 3).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ScaleObjectKind {
    /// An endodontic file of known length, traced along its curve.
    File,
    /// Two points of a ruler or grid at a known distance.
    Ruler,
    /// A ball of known diameter.
    Ball,
    /// Two opposite edges of the film, plate or packet itself.
    Plate,
}

/// How an object's points are joined on a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outline {
    /// One after the other.
    Line,
    /// Two points are the ends of a circle's diameter; more lie on its rim.
    Circle,
}

/// The tool that places an object by itself.
pub struct ObjectTool {
    /// Its name in menus.
    pub name: &'static str,
    /// Its key.
    pub key: &'static str,
    /// What it asks for, to follow "Click".
    pub prompt: &'static str,
    /// Name of the step that places a point.
    pub step: &'static str,
    /// After so many points the tool is done; `None`: it takes any number.
    pub most_points: Option<usize>,
}

/// All that is known of a kind of object.
pub struct ObjectRow {
    /// Which one.
    pub kind: ScaleObjectKind,
    /// Its code in a case file and in findings; its name in running text.
    pub code: &'static str,
    /// Its name for the user.
    pub name: &'static str,
    /// Its known size for the user, to be followed by its number.
    pub size_name: &'static str,
    /// Key of its known size in a case file.
    pub size_key: &'static str,
    /// What its points are called.
    pub point_name: &'static str,
    /// How its points are joined.
    pub outline: Outline,
    /// The tool for it; `None`: the tool of files.
    pub tool: Option<ObjectTool>,
    size: fn(&ScaleObject) -> Option<f64>,
    size_mut: fn(&mut ScaleObject) -> &mut Option<f64>,
}

/// Every kind, in the order of the menus.
pub const OBJECTS: [ObjectRow; 4] = [
    ObjectRow {
        kind: ScaleObjectKind::File,
        code: "file",
        name: "File",
        size_name: "Set length of file",
        size_key: "true_length_mm",
        point_name: "point",
        outline: Outline::Line,
        tool: None,
        size: |object| object.true_length_mm,
        size_mut: |object| &mut object.true_length_mm,
    },
    ObjectRow {
        kind: ScaleObjectKind::Ruler,
        code: "ruler",
        name: "Ruler",
        size_name: "Length on ruler",
        size_key: "true_length_mm",
        point_name: "end",
        outline: Outline::Line,
        tool: Some(ObjectTool {
            name: "Ruler: two ends",
            key: "U",
            prompt: "the two ends of a known distance",
            step: "Place ruler end",
            most_points: Some(2),
        }),
        size: |object| object.true_length_mm,
        size_mut: |object| &mut object.true_length_mm,
    },
    ObjectRow {
        kind: ScaleObjectKind::Ball,
        code: "ball",
        name: "Ball",
        size_name: "Diameter of ball",
        size_key: "true_diameter_mm",
        point_name: "rim point",
        outline: Outline::Circle,
        tool: Some(ObjectTool {
            name: "Ball: its rim",
            key: "B",
            prompt: "the ball's rim: both ends of a diameter, or three and more",
            step: "Place ball point",
            most_points: None,
        }),
        size: |object| object.true_diameter_mm,
        size_mut: |object| &mut object.true_diameter_mm,
    },
    ObjectRow {
        kind: ScaleObjectKind::Plate,
        code: "plate",
        name: "Film edges",
        size_name: "Distance of the film's edges",
        size_key: "true_length_mm",
        point_name: "edge",
        outline: Outline::Line,
        tool: Some(ObjectTool {
            name: "Film edges: two opposite ones",
            key: "E",
            prompt: "two opposite edges of the film or plate itself, straight across",
            step: "Place film edge",
            most_points: Some(2),
        }),
        size: |object| object.true_length_mm,
        size_mut: |object| &mut object.true_length_mm,
    },
];

impl ScaleObjectKind {
    /// All that is known of it.
    pub fn row(self) -> &'static ObjectRow {
        const ROWS: &[ObjectRow] = &OBJECTS;
        ROWS.iter()
            .find(|row| row.kind == self)
            .expect("a test holds that every kind has a row")
    }
}

impl ScaleObject {
    /// An object of which nothing else is known yet.
    pub fn new(kind: ScaleObjectKind, canal: Option<String>) -> Self {
        Self {
            kind,
            canal,
            true_length_mm: None,
            true_diameter_mm: None,
            nominal: false,
            points_px: Vec::new(),
            assisted: false,
            extra: serde_json::Map::new(),
        }
    }

    /// Its known length or diameter, mm.
    pub fn known_size_mm(&self) -> Option<f64> {
        (self.kind.row().size)(self)
    }

    /// The same, to be stated.
    pub fn known_size_mm_mut(&mut self) -> &mut Option<f64> {
        (self.kind.row().size_mut)(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each has a row, its code in the case file and its own size.
    #[test]
    fn every_kind_has_its_row() {
        for row in &OBJECTS {
            // Exhaustive: a new kind is missed here until it has a row.
            match row.kind {
                ScaleObjectKind::File
                | ScaleObjectKind::Ruler
                | ScaleObjectKind::Ball
                | ScaleObjectKind::Plate => {}
            }
            assert_eq!(row.kind.row().code, row.code);
            assert_eq!(serde_json::to_value(row.kind).unwrap(), row.code);
            let mut object = ScaleObject::new(row.kind, None);
            *object.known_size_mm_mut() = Some(3.5);
            assert_eq!(object.known_size_mm(), Some(3.5));
            let written = serde_json::to_value(&object).unwrap();
            assert_eq!(written[row.size_key], 3.5);
        }
    }
}
