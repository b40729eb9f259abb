//! Where along the canal a trace went wrong, in words.

use kurbo::Vec2;

use super::distances::Deviation;
use super::path::MeasuredPath;

/// One sentence per stretch where the trace strays by more than `limit`,
/// orifice first. `unit` is `mm` or `px`, that of the path and the limit.
pub fn stray_sentences(
    reference: &MeasuredPath,
    deviations: &[Deviation],
    limit: f64,
    unit: &str,
) -> Vec<String> {
    stray_stretches(deviations, limit)
        .map(|stretch| sentence(reference, stretch, unit))
        .collect()
}

/// Runs of places where the trace lies farther than `limit` on one side,
/// orifice first.
pub fn stray_stretches(deviations: &[Deviation], limit: f64) -> impl Iterator<Item = &[Deviation]> {
    let strays = move |d: &Deviation| d.offset_mm.abs() > limit;
    deviations
        .chunk_by(move |a, b| {
            strays(a) == strays(b) && (!strays(a) || (a.offset_mm > 0.0) == (b.offset_mm > 0.0))
        })
        .filter(move |stretch| strays(&stretch[0]))
}

fn sentence(reference: &MeasuredPath, stretch: &[Deviation], unit: &str) -> String {
    let worst = stretch.iter().fold(stretch[0], |worst, d| {
        if d.offset_mm.abs() > worst.offset_mm.abs() {
            *d
        } else {
            worst
        }
    });
    let (far, near) = (
        stretch[0].from_end_mm,
        stretch[stretch.len() - 1].from_end_mm,
    );
    let side = side_words(reference, worst);
    let most = worst.offset_mm.abs();
    if stretch.len() == 1 {
        format!("at {far:.1} {unit} from the apex the trace lies {most:.1} {unit} towards {side}")
    } else {
        format!(
            "between {near:.1} and {far:.1} {unit} from the apex the trace lies up to {most:.1} {unit} towards {side}"
        )
    }
}

/// The film axis a deviation points along most.
fn side_words(reference: &MeasuredPath, deviation: Deviation) -> &'static str {
    let station = reference.length_mm() - deviation.from_end_mm;
    let after = reference.stations_mm().partition_point(|&s| s < station);
    let direction = reference.direction(after.clamp(1, reference.segment_count()) - 1);
    let aside = Vec2::new(-direction.y, direction.x) * deviation.offset_mm;
    match (aside.x.abs() >= aside.y.abs(), aside.x > 0.0, aside.y > 0.0) {
        (true, true, _) => "+x (right on the film)",
        (true, false, _) => "−x (left on the film)",
        (false, _, true) => "+y (down on the film)",
        (false, _, false) => "−y (up on the film)",
    }
}
