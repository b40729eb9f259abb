//! Strain against distance from the apex, every file of the canal.

use egui::{Align2, RichText, Ui};
use egui_plot::{Line, LineStyle, MarkerShape, PlotPoint, PlotPoints, Points, Text, VLine};

use crate::desktop::ui::widgets::spoken;
use crate::desktop::ui::{palette, plots};
use crate::instrumentation::{CanalAxis, CanalInstruments, FileRequest, surface_strain_at};
use crate::uncertainty::rounding::fixed;

/// Height of the graph, points.
const HEIGHT: f32 = 190.0;
/// Places of a line are this far apart, mm.
const STEP_MM: f64 = 0.05;
/// A pointer this near to a peak means it, points.
const PEAK_REACH: f32 = 10.0;

/// Shows the graph; the place under the pointer, mm from the apex.
pub fn show(
    ui: &mut Ui,
    canal: &CanalInstruments,
    axis: Option<&CanalAxis>,
    requests: &[FileRequest],
    chosen: usize,
    marked_from_apex_mm: Option<f64>,
) -> Option<f64> {
    let axis = axis?;
    let palette = palette::of(ui);
    let title = "Bending strain at the surface, %: an upper bound for fluted sections";
    ui.label(RichText::new(title).color(palette.quiet_text));
    let styles = [
        LineStyle::Solid,
        LineStyle::dashed_dense(),
        LineStyle::dotted_dense(),
        LineStyle::dashed_loose(),
    ];
    // Room for the words above the highest peak.
    let peaks = (0..canal.files.len()).filter_map(|index| peak_of(canal, index));
    let highest = peaks.map(|[_, strain]| strain).fold(0.0, f64::max);
    let plot = plots::still(("strain", &canal.name))
        .height(HEIGHT)
        .x_axis_label("mm from the apex")
        .include_x(0.0)
        .include_y(0.0)
        .include_y(1.18 * highest);
    let response = plot.show(ui, |plot| {
        for (index, (file, request)) in canal.files.iter().zip(requests).enumerate() {
            if file.profile.is_empty() {
                continue;
            }
            let is_chosen = index == chosen;
            let colour = match is_chosen {
                true => palette.accent,
                false => palette.quiet_text,
            };
            let tip_mm = file.tip_from_apex_mm;
            let places = axis.profile(&request.file, tip_mm, STEP_MM);
            let line: PlotPoints<'_> = places
                .iter()
                .map(|place| [place.from_apex_mm, 100.0 * place.strain])
                .collect();
            plot.line(
                Line::new(file.file.clone(), line)
                    .color(colour)
                    .style(styles[index % styles.len()])
                    .width(if is_chosen { 2.5 } else { 1.5 }),
            );
            if let Some(at) = peak_of(canal, index) {
                let shape = MarkerShape::Diamond;
                let radius = if is_chosen { 6.0 } else { 4.0 };
                let point = Points::new(format!("peak of {}", file.file), vec![at]);
                plot.points(point.shape(shape).radius(radius).color(colour));
                let words = format!("{}: {} %", file.file, fixed(at[1], 1));
                let text = RichText::new(words).color(colour);
                let at = PlotPoint::new(at[0], at[1]);
                plot.text(Text::new("", at, text).anchor(Align2::LEFT_BOTTOM));
            }
        }
        if let Some(mm) = marked_from_apex_mm {
            plot.vline(VLine::new("place", mm).color(palette.caution).width(1.5));
        }
    });
    said_at(ui, canal, axis, requests, marked_from_apex_mm);
    let pointer = response.response.hover_pos()?;
    let near = (0..canal.files.len()).find_map(|index| {
        let at = peak_of(canal, index)?;
        let place = response.transform.position_from_point(&PlotPoint::from(at));
        (place.distance(pointer) <= PEAK_REACH).then_some(at[0])
    });
    let free = response.transform.value_from_position(pointer).x;
    Some(near.unwrap_or(free)).filter(|mm| (0.0..=axis.length_mm()).contains(mm))
}

/// Place and height of a file's peak.
fn peak_of(canal: &CanalInstruments, file: usize) -> Option<[f64; 2]> {
    let file = canal.files.get(file)?;
    Some([file.peak_from_apex_mm?, file.peak_strain_percent?.value])
}

/// Strain of a file at a place, per cent; `None` where it does not reach.
pub fn strain_percent_at(
    axis: &CanalAxis,
    request: &FileRequest,
    tip_mm: f64,
    from_apex_mm: f64,
) -> Option<f64> {
    let diameter_mm = request.file.diameter_mm(from_apex_mm - tip_mm)?;
    let curvature = axis.curvature_per_mm(from_apex_mm);
    Some(100.0 * surface_strain_at(diameter_mm, curvature))
}

/// The strains at the place that is marked, in words.
fn said_at(
    ui: &mut Ui,
    canal: &CanalInstruments,
    axis: &CanalAxis,
    requests: &[FileRequest],
    marked_from_apex_mm: Option<f64>,
) {
    let words = match marked_from_apex_mm {
        None => "Point at the graph or the film: the place is shown on both.".to_owned(),
        Some(mm) => {
            let files = canal.files.iter().zip(requests);
            let strains = files.filter(|(file, _)| !file.profile.is_empty());
            let strains: Vec<String> = strains
                .map(|(file, request)| {
                    let tip_mm = file.tip_from_apex_mm;
                    match strain_percent_at(axis, request, tip_mm, mm) {
                        Some(strain) => format!("{} {} %", file.file, fixed(strain, 2)),
                        None => format!("{} does not reach", file.file),
                    }
                })
                .collect();
            format!("{} mm from the apex: {}", fixed(mm, 1), strains.join(", "))
        }
    };
    let response = ui.add(egui::Label::new(&words).truncate());
    spoken(&response, &words);
}
