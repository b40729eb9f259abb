//! Distribution of one measure, and Bland–Altman's plot of the lengths.

use egui::{ComboBox, RichText, Ui};
use egui_plot::{
    Bar, BarChart, HLine, LineStyle, MarkerShape, Plot, PlotPoint, Points, Span, VLine,
};

use super::table::RowOf;
use crate::desktop::ui::widgets::spoken;
use crate::desktop::ui::{palette, plots};
use crate::grading::class::Statistic;
use crate::grading::files::ClassGrade;
use crate::grading::grade::CanalGrade;
use crate::grading::measures::Measure;
use crate::statistics::quantile;
use crate::uncertainty::rounding::{fixed, spaced};

/// Most bars of a histogram.
const MOST_BARS: usize = 40;
/// Which distribution is shown.
#[derive(Clone, Debug, Default)]
pub struct Distribution {
    measure: Option<Measure>,
    canal: Option<String>,
}

/// A plot that takes no input but hovering, with room for `rows` of words
/// under it.
fn still(name: &'static str, ui: &Ui, rows: f32) -> Plot<'static> {
    let row = ui.text_style_height(&egui::TextStyle::Body) + ui.spacing().item_spacing.y;
    plots::still(name).height((ui.available_height() - rows * row).max(140.0))
}

impl Distribution {
    /// Shows the distribution with its limits and the chosen row.
    pub fn show(&mut self, ui: &mut Ui, class: &ClassGrade, selected: Option<RowOf>) {
        let summaries = &class.class.summaries;
        let Some(first) = summaries.first() else {
            ui.label("Nothing graded, nothing to show");
            return;
        };
        let measured = |measure, canal: &str| {
            summaries
                .iter()
                .any(|s| s.measure == measure && s.canal == canal)
        };
        let canal = self.canal.get_or_insert_with(|| first.canal.clone());
        if !summaries.iter().any(|s| &s.canal == canal) {
            canal.clone_from(&first.canal);
        }
        let measure = self.measure.get_or_insert(first.measure);
        if !measured(*measure, canal) {
            *measure = first.measure;
        }
        ui.horizontal_wrapped(|ui| {
            ComboBox::from_id_salt("distribution of")
                .width(280.0)
                .selected_text(measure.words())
                .show_ui(ui, |ui| {
                    for &one in Measure::all() {
                        if measured(one, canal) {
                            ui.selectable_value(measure, one, one.words());
                        }
                    }
                })
                .response
                .accessible_name("Distribution of");
            if class.reference.canals.len() > 1 {
                ComboBox::from_id_salt("distribution canal")
                    .selected_text(canal.as_str())
                    .show_ui(ui, |ui| {
                        for one in &class.reference.canals {
                            ui.selectable_value(canal, one.name.clone(), &one.name);
                        }
                    })
                    .response
                    .accessible_name("Canal of the distribution");
            }
        });
        histogram(ui, class, *measure, canal, selected);
    }
}

fn value_of(canal: &CanalGrade, measure: Measure) -> Option<f64> {
    canal.measures.get(&measure).copied().flatten()
}

fn histogram(
    ui: &mut Ui,
    class: &ClassGrade,
    measure: Measure,
    canal: &str,
    selected: Option<RowOf>,
) {
    let palette = palette::of(ui);
    let unit = measure.unit();
    let mut values: Vec<f64> = class
        .traces
        .iter()
        .flat_map(|trace| &trace.canals)
        .filter(|c| c.name == canal)
        .filter_map(|c| value_of(c, measure))
        .collect();
    let limits = class
        .rubric
        .lines
        .iter()
        .find(|line| line.measure == measure);
    let chosen = chosen_canal(class, selected)
        .filter(|c| c.name == canal)
        .and_then(|c| value_of(c, measure));
    let (width, bars) = bars(&mut values);
    let plot = still("distribution", ui, 5.0)
        .x_axis_label(format!("{}, {unit}", measure.words()))
        .y_axis_label("traces")
        .include_y(0.0);
    plot.show(ui, |plot| {
        if let Some(line) = limits {
            let bounds = [line.at_least, line.at_most];
            if let [Some(low), Some(high)] = bounds {
                plot.add(Span::new("within the limits", low..=high).fill(palette.raised));
            }
            for bound in bounds.into_iter().flatten() {
                let limit = VLine::new("limit", bound).color(palette.caution).width(2.0);
                plot.vline(limit.style(LineStyle::dashed_loose()));
            }
        }
        let chart = BarChart::new("traces", bars)
            .width(width)
            .color(palette.accent);
        plot.bar_chart(chart);
        if let Some(value) = chosen {
            plot.vline(VLine::new("chosen", value).color(palette.alarm).width(3.0));
        }
    });
    summary(ui, class, measure, canal, &mut values);
    if let Some(value) = chosen {
        let value = fixed(value, 2);
        ui.label(format!(
            "Solid line: the trace chosen, {value}{}",
            spaced(unit)
        ));
    }
    if let Some(line) = limits {
        let met = values
            .iter()
            .filter(|&&value| line.is_met_by(value))
            .count();
        let words = format!(
            "Dashed: limits of the rubric, met by {met} of {} ({})",
            values.len(),
            line.source
        );
        ui.label(RichText::new(words).color(palette.quiet_text));
    }
}

fn summary(ui: &mut Ui, class: &ClassGrade, measure: Measure, canal: &str, values: &mut [f64]) {
    let unit = spaced(measure.unit());
    let two = |value| fixed(value, 2);
    let found = class
        .class
        .summaries
        .iter()
        .find(|s| s.measure == measure && s.canal == canal);
    let Some(found) = found else { return };
    let sd = found.sd.map_or("–".to_owned(), |sd| format!("{sd:.2}"));
    let quartiles = [0.25, 0.75].map(|share| quantile(values, share).unwrap_or(f64::NAN));
    let words = format!(
        "{} traces: mean {}, standard deviation {sd}, median {}, quartiles {} to {}, range {} to {}{unit}",
        found.count,
        two(found.mean),
        two(found.median),
        two(quartiles[0]),
        two(quartiles[1]),
        two(found.least),
        two(found.greatest)
    );
    spoken(&ui.label(&words), &words);
}

/// Width of the bars and the bars, by the rule of Freedman and Diaconis
/// (1981, Z Wahrscheinlichkeitstheorie 57:453–76; MEM-H): 2 IQR / ∛n.
fn bars(values: &mut [f64]) -> (f64, Vec<Bar>) {
    let least = values.iter().copied().fold(f64::INFINITY, f64::min);
    let greatest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let range = greatest - least;
    if !(range.is_finite() && range > 0.0) {
        let bars = values
            .first()
            .map(|&value| Bar::new(value, values.len() as f64));
        return (0.05, bars.into_iter().collect());
    }
    let quartile = |values: &mut [f64], share| quantile(values, share).unwrap_or(0.0);
    let spread = quartile(values, 0.75) - quartile(values, 0.25);
    let wanted = 2.0 * spread / (values.len() as f64).cbrt();
    let count = if wanted > 0.0 {
        ((range / wanted).ceil() as usize).clamp(1, MOST_BARS)
    } else {
        MOST_BARS
    };
    let width = range / count as f64;
    let mut counts = vec![0_u32; count];
    for value in values.iter() {
        let bar = (((value - least) / width) as usize).min(count - 1);
        counts[bar] += 1;
    }
    let bars = counts
        .iter()
        .enumerate()
        .map(|(index, &height)| Bar::new(least + (index as f64 + 0.5) * width, f64::from(height)));
    (width, bars.collect())
}

/// The canal a chosen row stands for.
pub fn chosen_canal(class: &ClassGrade, selected: Option<RowOf>) -> Option<&CanalGrade> {
    match selected? {
        RowOf::Canal { trace, canal } => class.traces.get(trace)?.canals.get(canal),
        RowOf::Missing { .. } | RowOf::Refused { .. } => None,
    }
}

/// Mean of both lengths, and trace − reference.
fn length_pair(canal: &CanalGrade, in_mm: bool) -> Option<[f64; 2]> {
    let (length, error) = if in_mm {
        (
            canal.curved_length_mm?,
            value_of(canal, Measure::LengthErrorMm)?,
        )
    } else {
        (
            canal.curved_length_px?,
            value_of(canal, Measure::LengthErrorPx)?,
        )
    };
    Some([length - error / 2.0, error])
}

/// How near the pointer must be to a point to mean it, points of the screen.
const REACH: f32 = 10.0;

/// Bland–Altman's plot of the lengths, student − reference. Points tell whose
/// they are under the pointer; a click chooses the row.
pub fn bland_altman(ui: &mut Ui, class: &ClassGrade, selected: Option<RowOf>) -> Option<RowOf> {
    let palette = palette::of(ui);
    let unit = class.class.length_unit;
    let found = match &class.class.length_bland_altman {
        Statistic::Known(found) => *found,
        Statistic::Refused { refused } => {
            ui.label(format!("No limits of agreement: {refused}"));
            return None;
        }
    };
    let in_mm = unit == "mm";
    let rows: Vec<(RowOf, String, [f64; 2])> = class
        .traces
        .iter()
        .enumerate()
        .flat_map(|(trace, grade)| {
            let canals = grade.canals.iter().enumerate();
            canals.filter_map(move |(canal, own)| {
                let row = RowOf::Canal { trace, canal };
                let name = format!("{}, canal {}", grade.student, own.name);
                Some((row, name, length_pair(own, in_mm)?))
            })
        })
        .collect();
    let pairs: Vec<[f64; 2]> = rows.iter().map(|(_, _, pair)| *pair).collect();
    let chosen = chosen_canal(class, selected).and_then(|canal| length_pair(canal, in_mm));
    ui.label(RichText::new("Length of the canal, student against reference").strong());
    let plot = still("Bland–Altman", ui, 7.0)
        .x_axis_label(format!("mean of student and reference, {unit}"))
        .y_axis_label(format!("student − reference, {unit}"))
        .include_y(found.lower_limit_ci95.low)
        .include_y(found.upper_limit_ci95.high);
    let line = palette.quiet_text;
    let shown = plot.show(ui, |plot| {
        for interval in [
            found.lower_limit_ci95,
            found.bias_ci95,
            found.upper_limit_ci95,
        ] {
            let span = Span::new("", interval.low..=interval.high).axis(egui_plot::Axis::Y);
            plot.add(span.fill(palette.raised_more));
        }
        plot.hline(
            HLine::new("bias", found.bias)
                .color(palette.text)
                .width(1.8),
        );
        for (name, limit) in [
            ("lower limit", found.lower_limit),
            ("upper limit", found.upper_limit),
        ] {
            let limit = HLine::new(name, limit).color(line).width(1.8);
            plot.hline(limit.style(LineStyle::dashed_loose()));
        }
        plot.points(
            Points::new("traces", pairs)
                .radius(3.0)
                .color(palette.accent),
        );
        if let Some(at) = chosen {
            let point = Points::new("chosen", vec![at]).radius(7.0);
            plot.points(point.shape(MarkerShape::Diamond).color(palette.alarm));
        }
    });
    let near = shown.response.hover_pos().and_then(|pointer| {
        let distance = |pair: [f64; 2]| {
            let place = shown.transform.position_from_point(&PlotPoint::from(pair));
            place.distance(pointer)
        };
        let nearest = rows
            .iter()
            .min_by(|a, b| distance(a.2).total_cmp(&distance(b.2)));
        nearest.filter(|row| distance(row.2) <= REACH)
    });
    let mut chosen_by_click = None;
    if let Some((row, name, [_, error])) = near {
        chosen_by_click = shown.response.clicked().then_some(*row);
        let words = format!("{name}: {} {unit}", fixed(*error, 2));
        shown.response.on_hover_text_at_pointer(words);
    }
    for words in [
        format!(
            "Bias {:+.2} {unit} (95 % CI {:+.2} to {:+.2}), standard deviation of the differences {:.2} {unit}, {} pairs of {} students",
            found.bias,
            found.bias_ci95.low,
            found.bias_ci95.high,
            found.sd,
            found.pairs,
            found.clusters
        ),
        format!(
            "Limits of agreement {:+.2} (95 % CI {:+.2} to {:+.2}) to {:+.2} {unit} (95 % CI {:+.2} to {:+.2})",
            found.lower_limit,
            found.lower_limit_ci95.low,
            found.lower_limit_ci95.high,
            found.upper_limit,
            found.upper_limit_ci95.low,
            found.upper_limit_ci95.high
        ),
    ] {
        ui.label(words.replace('-', "−"));
    }
    let note = "Solid: bias. Dashed: limits, bias ± 1.96 standard deviations. Bands: 95 % confidence, the pairs of one student taken together.";
    ui.label(RichText::new(note).color(palette.quiet_text));
    if class.reference.canals.len() == 1 {
        let note = "One canal has one reference length, so its points lie on a line: read bias and limits, not the slope.";
        ui.label(RichText::new(note).color(palette.quiet_text));
    }
    chosen_by_click
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_value_stands_in_one_bar() {
        let mut values: Vec<f64> = (0..100).map(|i| f64::from(i * i) / 1000.0).collect();
        let (width, bars) = bars(&mut values);
        let height: f64 = bars.iter().map(|bar| bar.value).sum();
        assert_eq!(height, 100.0);
        assert!(
            (bars[0].argument - width / 2.0).abs() < 1e-12,
            "starts at 0"
        );
        let end = bars[bars.len() - 1].argument + width / 2.0;
        assert!((end - 9.801).abs() < 1e-9, "{end}");
    }

    #[test]
    fn equal_values_and_none_at_all_are_no_trouble() {
        let (_, equal) = bars(&mut [0.2; 7]);
        assert_eq!((equal.len(), equal[0].value), (1, 7.0));
        assert!(bars(&mut []).1.is_empty());
    }
}
