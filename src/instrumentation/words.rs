//! What may be said of a file in a canal, and how. Nothing else is said: no
//! number of turns, no limit, no verdict, no make and no metal.

use crate::uncertainty::rounding::{fixed, with_u95};
use crate::units::Quantity;

/// What holds for every number, on every page.
pub const NOTES: [&str; 5] = [
    "Nominal round files from geometry alone: the strain is an upper bound for fluted sections.",
    "A comparison of files in this canal and nothing more: published tests of the same instrument \
     differ by a factor of up to 123 (Hülsmann, Donnermeyer and Schäfer 2019).",
    "A turning file is bent to and fro at every turn; torsion is not included.",
    "Play in the canal makes the file's real curve flatter. One film may hide or exaggerate the \
     radius.",
    "A film shows the canal's mesiodistal width only: \"binds\" means binds mesiodistally.",
];

/// "The surface of this nominal file is bent to about 4.4 ± 0.9 % here."
pub fn strain_sentence(file: &str, strain_percent: Quantity) -> String {
    format!(
        "The surface of a nominal {file} is bent to about {} here.",
        with_u95(strain_percent, "%")
    )
}

/// "Its peak lies 5.6 mm from its tip, 6.6 mm from the apex."
pub fn place_sentence(from_tip_mm: f64, from_apex_mm: f64) -> String {
    format!(
        "The peak lies {} mm from its tip, {} mm from the apex.",
        fixed(from_tip_mm, 1),
        fixed(from_apex_mm, 1)
    )
}

/// "25/.06 would be bent 1.8 ± 0.1 times as much as 10/.02."
pub fn ratio_sentence(file: &str, first: &str, times: Quantity) -> String {
    format!(
        "{file} would be bent {} times as much as {first}.",
        with_u95(times, "")
    )
}

/// "Without cutting it binds mesiodistally 6.0 mm from the apex, its tip
/// 2.2 mm from the apex."
pub fn binds_sentence(binds: super::Binds) -> String {
    let place = |value: f64, u95: Option<f64>| match u95 {
        Some(u95) => with_u95(Quantity { value, u95 }, "mm"),
        None => format!("{} mm", fixed(value, 1)),
    };
    let tip = place(binds.passive_tip_from_apex_mm, binds.passive_tip_u95_mm);
    match binds.contact_from_apex_mm {
        Some(contact) => format!(
            "Without cutting it binds mesiodistally {} from the apex, its tip {tip} from the apex.",
            place(contact, binds.contact_u95_mm)
        ),
        None => format!(
            "Without cutting it reaches {tip} from the apex, as far as the walls are traced, \
             without binding mesiodistally."
        ),
    }
}
