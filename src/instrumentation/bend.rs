//! Which part of a file lies in a bend of the canal.

/// A part of a file, mm from its tip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FilePart {
    pub from_tip_mm: f64,
    pub to_tip_mm: f64,
}

impl FilePart {
    /// Its length, mm.
    pub fn length_mm(&self) -> f64 {
        self.to_tip_mm - self.from_tip_mm
    }
}

/// The part of a working part of `working_part_mm` that lies in a bend from
/// `end_mm` to `start_mm` (both from the apex, the end nearer to it) while the
/// tip stands `tip_mm` from the apex; `None`: no part.
pub fn part_in_bend(
    end_mm: f64,
    start_mm: f64,
    tip_mm: f64,
    working_part_mm: f64,
) -> Option<FilePart> {
    let part = FilePart {
        from_tip_mm: (end_mm - tip_mm).max(0.0),
        to_tip_mm: (start_mm - tip_mm).min(working_part_mm),
    };
    (part.length_mm() > 0.0).then_some(part)
}
