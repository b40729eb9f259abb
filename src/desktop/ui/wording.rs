//! Numbers in words, where the window says them shorter than the printed
//! findings.

pub use crate::measure::capitalised;
use crate::report::numbers::chart;
use crate::uncertainty::rounding::with_u95;
use crate::units::Quantity;

/// Below this a tip counts as at the apex: the half of the last digit shown.
const AT_APEX_MM: f64 = 0.05;

/// Tip-to-apex at arm's length: `1.2 mm short of the apex`.
pub fn tip_in_words(tip_to_apex_mm: f64) -> String {
    if tip_to_apex_mm.abs() < AT_APEX_MM {
        "at the apex".to_owned()
    } else if tip_to_apex_mm > 0.0 {
        format!("{tip_to_apex_mm:.1} mm short of the apex")
    } else {
        format!("{:.1} mm beyond the apex", -tip_to_apex_mm)
    }
}

/// The uncertainty alone: `± 0.31 mm`.
pub fn uncertainty_alone(quantity: Quantity, unit: &str) -> String {
    let both = with_u95(quantity, unit);
    both.find('±')
        .map_or(String::new(), |from| both[from..].to_owned())
}

/// A chart length: two decimals only where quarters need them.
pub fn chart_length(mm: f64) -> String {
    format!("{} mm", chart(mm))
}

/// Where a chart length comes from: `(18.98, rounded down to 0.5)`.
pub fn rounded_from(raw_mm: f64, step_mm: f64) -> String {
    format!("({raw_mm:.2}, rounded down to {step_mm})")
}

/// What the chart length makes of the set length: `lengthen by 1.0 mm, to 19.5
/// mm`.
pub fn set_length_change(set_mm: f64, chart_mm: f64) -> String {
    let change = chart_mm - set_mm;
    let to = chart_length(chart_mm);
    if change.abs() < AT_APEX_MM {
        format!("the set length stays {to}")
    } else if change > 0.0 {
        format!("lengthen by {}, to {to}", chart_length(change))
    } else {
        format!(
            "reduce the set length by {}, to {to}",
            chart_length(-change)
        )
    }
}

/// What the library says of two films before and after shaping, without options
/// of a command line.
pub fn without_options(text: &str) -> String {
    text.replace("(--follow-walls)", "(“Follow walls”)")
        .replace("(flatten)", "(“Make a photograph flat”)")
        .replace(" (--step-mm)", "")
}

/// A count with its noun: "1 trace", "2 traces".
pub fn counted(count: usize, noun: &str) -> String {
    let ending = if count == 1 { "" } else { "s" };
    format!("{count} {noun}{ending}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_side_of_the_apex_is_in_words_not_in_a_sign() {
        assert_eq!(tip_in_words(1.24), "1.2 mm short of the apex");
        assert_eq!(tip_in_words(-0.6), "0.6 mm beyond the apex");
        assert_eq!(tip_in_words(0.02), "at the apex");
        assert_eq!(tip_in_words(-0.049), "at the apex");
    }

    #[test]
    fn the_uncertainty_stands_alone_with_its_unit() {
        let quantity = Quantity {
            value: 20.4,
            u95: 0.314,
        };
        assert_eq!(uncertainty_alone(quantity, "mm"), "± 0.32 mm");
    }

    #[test]
    fn the_change_of_the_set_length_has_a_direction_in_words() {
        assert_eq!(
            set_length_change(18.5, 19.5),
            "lengthen by 1.0 mm, to 19.5 mm"
        );
        let reduced = set_length_change(20.25, 20.0);
        assert_eq!(reduced, "reduce the set length by 0.25 mm, to 20.0 mm");
        assert_eq!(
            set_length_change(20.0, 20.0),
            "the set length stays 20.0 mm"
        );
        assert_eq!(rounded_from(18.984, 0.5), "(18.98, rounded down to 0.5)");
    }

    #[test]
    fn quarters_show_two_decimals() {
        assert_eq!(chart_length(20.0), "20.0 mm");
        assert_eq!(chart_length(20.25), "20.25 mm");
        assert_eq!(chart_length(20.5), "20.5 mm");
    }
}
