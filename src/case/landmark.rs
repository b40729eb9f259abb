//! The landmarks of a canal: single places with a name. One row says all that
//! case, window and record need to know of each.

use super::{Canal, CanalFile, PlaceKind};
use crate::units::FilmPoint;

/// A single place of a canal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Landmark {
    /// Coronal reference point the working length is measured from.
    Reference,
    /// Tip of the file in the canal.
    Tip,
    /// Radiographic apex: the end of the root's outline.
    Apex,
    /// Foramen, where it can be seen.
    Foramen,
}

/// A stroke of a sign about its place; x to the right, y down. On the screen in
/// halves of the sign's size, on the annotated film in 1/500 of its longer side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stroke {
    /// From corner to corner.
    Open(&'static [[f64; 2]]),
    /// The same, closed.
    Closed(&'static [[f64; 2]]),
    /// A circle of this radius about the place.
    Ring(f64),
}

/// All that is known of a landmark.
pub struct LandmarkRow {
    /// Which one.
    pub landmark: Landmark,
    /// Its name for the user.
    pub name: &'static str,
    /// Its name among those of one canal, on a button.
    pub short_name: &'static str,
    /// Its tool's name in menus.
    pub tool_name: &'static str,
    /// Its tool's key.
    pub key: &'static str,
    /// Name of the step that places it.
    pub step: &'static str,
    /// What its tool asks for, to follow "click".
    pub prompt: &'static str,
    /// What is clicked when one's own click noise is measured; `None`: not
    /// measured at this place.
    pub repeated: Option<&'static str>,
    /// Whose click noise it has.
    pub kind: PlaceKind,
    /// Its sign on the screen.
    pub on_screen: &'static [Stroke],
    /// Its sign on the annotated film.
    pub on_record: &'static [Stroke],
    /// What that sign is called in the caption; `None`: not explained.
    pub legend: Option<&'static str>,
    get: fn(&Canal) -> Option<FilmPoint>,
    slot: fn(&mut Canal) -> &mut Option<FilmPoint>,
    /// Its mark that it was suggested, where it can be.
    assisted: fn(&mut Canal) -> Option<&mut bool>,
}

/// Every landmark, in the order of the menus.
pub const LANDMARKS: [LandmarkRow; 4] = [
    LandmarkRow {
        landmark: Landmark::Reference,
        name: "Reference point",
        short_name: "Reference",
        tool_name: "Reference point",
        key: "R",
        step: "Place reference point",
        prompt: "the reference point of the crown",
        repeated: Some("the reference point"),
        kind: PlaceKind::Reference,
        on_screen: &[
            Stroke::Open(&[[-1.6, 0.0], [1.6, 0.0]]),
            Stroke::Open(&[[0.0, 0.0], [0.0, 1.0]]),
        ],
        on_record: &[
            Stroke::Open(&[[-6.0, 0.0], [6.0, 0.0]]),
            Stroke::Open(&[[0.0, -6.0], [0.0, 6.0]]),
        ],
        legend: Some("Cross: reference point."),
        get: |canal| canal.reference_px,
        slot: |canal| &mut canal.reference_px,
        assisted: |_| None,
    },
    LandmarkRow {
        landmark: Landmark::Tip,
        name: "File tip",
        short_name: "Tip alone",
        tool_name: "File tip alone: stop not on the film",
        key: "I",
        step: "Place file tip",
        prompt: "the file's tip",
        repeated: Some("the file's tip"),
        kind: PlaceKind::Tip,
        on_screen: &[Stroke::Closed(&[
            [0.0, -1.0],
            [1.0, 0.0],
            [0.0, 1.0],
            [-1.0, 0.0],
        ])],
        on_record: &[Stroke::Ring(4.0)],
        legend: Some("Ring: file tip."),
        get: |canal| canal.file.as_ref()?.tip_px,
        slot: |canal| {
            let file = canal.file.get_or_insert_with(CanalFile::default);
            &mut file.tip_px
        },
        assisted: |canal| canal.file.as_mut().map(|file| &mut file.assisted),
    },
    LandmarkRow {
        landmark: Landmark::Apex,
        name: "Apex",
        short_name: "Apex",
        tool_name: "Apex",
        key: "A",
        step: "Place apex",
        prompt: "the end of the root's outline, the apex",
        repeated: Some("the apex, the end of the root's outline"),
        kind: PlaceKind::Apex,
        on_screen: &[Stroke::Closed(&[[-1.0, -0.8], [1.0, -0.8], [0.0, 1.0]])],
        on_record: &[Stroke::Closed(&[[0.0, 0.0], [-3.5, 7.0], [3.5, 7.0]])],
        legend: Some("Triangle: radiographic apex."),
        get: |canal| canal.apex_px,
        slot: |canal| &mut canal.apex_px,
        assisted: |canal| Some(&mut canal.apex_assisted),
    },
    LandmarkRow {
        landmark: Landmark::Foramen,
        name: "Foramen",
        short_name: "Foramen",
        tool_name: "Foramen",
        key: "O",
        step: "Place foramen",
        prompt: "the foramen, if it can be seen",
        repeated: None,
        kind: PlaceKind::Apex,
        on_screen: &[Stroke::Ring(1.0), Stroke::Ring(0.4)],
        on_record: &[Stroke::Closed(&[[0.0, 0.0], [-2.1, 4.2], [2.1, 4.2]])],
        legend: None,
        get: |canal| canal.foramen_px,
        slot: |canal| &mut canal.foramen_px,
        assisted: |_| None,
    },
];

impl Landmark {
    /// All that is known of it.
    pub fn row(self) -> &'static LandmarkRow {
        const ROWS: &[LandmarkRow] = &LANDMARKS;
        ROWS.iter()
            .find(|row| row.landmark == self)
            .expect("a test holds that every landmark has a row")
    }

    /// Where it is in a canal.
    pub fn of(self, canal: &Canal) -> Option<FilmPoint> {
        (self.row().get)(canal)
    }

    /// Puts it there, by hand.
    pub fn put(self, canal: &mut Canal, at: FilmPoint) {
        *(self.row().slot)(canal) = Some(at);
        self.mark_assisted(canal, false);
    }

    /// Puts it there as suggested.
    pub fn suggest(self, canal: &mut Canal, at: FilmPoint) {
        self.put(canal, at);
        self.mark_assisted(canal, true);
    }

    /// Says whether it was suggested and not moved since.
    pub fn mark_assisted(self, canal: &mut Canal, assisted: bool) {
        if let Some(mark) = (self.row().assisted)(canal) {
            *mark = assisted;
        }
    }

    /// Takes it away; leaves everything else as it is.
    pub fn clear(self, canal: &mut Canal) {
        if let Some(place) = self.place_mut(canal) {
            *place = None;
        }
        self.mark_assisted(canal, false);
    }

    /// Its place, where it has one.
    pub fn at_mut(self, canal: &mut Canal) -> Option<&mut FilmPoint> {
        self.place_mut(canal)?.as_mut()
    }

    /// Nothing is made where the landmark is not placed.
    fn place_mut(self, canal: &mut Canal) -> Option<&mut Option<FilmPoint>> {
        self.of(canal).is_some().then(|| (self.row().slot)(canal))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each has a row, a key and a place of its own.
    #[test]
    fn every_landmark_has_its_own_row_and_place() {
        let mut keys: Vec<_> = LANDMARKS.iter().map(|row| row.key).collect();
        keys.sort_unstable();
        keys.dedup();
        assert_eq!(keys.len(), LANDMARKS.len());
        for (i, row) in LANDMARKS.iter().enumerate() {
            // Exhaustive: a new landmark is missed here until it has a row.
            match row.landmark {
                Landmark::Reference | Landmark::Tip | Landmark::Apex | Landmark::Foramen => {}
            }
            assert_eq!(row.landmark.row().name, row.name);
            let mut canal = Canal::default();
            row.landmark.clear(&mut canal);
            assert_eq!(canal, Canal::default());
            let at = FilmPoint::new(i as f64, 1.0);
            row.landmark.put(&mut canal, at);
            for other in &LANDMARKS {
                let expected = (other.landmark == row.landmark).then_some(at);
                assert_eq!(other.landmark.of(&canal), expected);
            }
            row.landmark.clear(&mut canal);
            assert_eq!(row.landmark.of(&canal), None);
        }
    }
}
