//! Removal, transport and centring against the level.

use egui::{Color32, RichText, Ui};
use egui_plot::{AxisHints, HLine, Line, LineStyle, Points, uniform_grid_spacer};

use crate::desktop::ui::palette::text_scale;
use crate::desktop::ui::widgets::spoken;
use crate::desktop::ui::{palette, plots};
use crate::shaping::{CanalShaping, LevelFinding};
use crate::uncertainty::rounding::fixed;
use crate::units::Quantity;

/// Height of a plot at normal text size, points.
const HEIGHT: f32 = 150.0;

type Of = fn(&LevelFinding) -> Option<Quantity>;

/// One line of a plot.
struct Series {
    name: &'static str,
    of: Of,
    is_dashed: bool,
}

const fn series(name: &'static str, of: Of, is_dashed: bool) -> Series {
    Series {
        name,
        of,
        is_dashed,
    }
}

/// The plots of one canal, side by side.
pub fn show(ui: &mut Ui, canal: &CanalShaping) {
    let removal = [
        series("left", |l| l.removed_left_mm, false),
        series("right", |l| l.removed_right_mm, true),
    ];
    let transport = [series("transport", |l| l.transport_mm, false)];
    let centring = [series("centring", centring_of, false)];
    ui.columns(3, |columns| {
        plot(
            &mut columns[0],
            canal,
            "Removed, mm: left solid, right dashed",
            &removal,
            0.0,
            0.2,
        );
        plot(
            &mut columns[1],
            canal,
            "Transport, mm: positive to the left",
            &transport,
            0.0,
            0.2,
        );
        plot(
            &mut columns[2],
            canal,
            "Centring: 1 is centred",
            &centring,
            1.0,
            0.5,
        );
    });
}

fn centring_of(level: &LevelFinding) -> Option<Quantity> {
    Some(Quantity {
        value: level.centring_ratio?,
        u95: level.centring_ratio_u95.unwrap_or(0.0),
    })
}

/// One plot with its intervals; `ideal` is where a line is drawn across, `step`
/// the least distance of the numbers beside it.
fn plot(
    ui: &mut Ui,
    canal: &CanalShaping,
    title: &'static str,
    lines: &[Series],
    ideal: f64,
    step: f64,
) {
    let palette = palette::of(ui);
    let count = lines
        .iter()
        .map(|one| values(canal, one).len())
        .max()
        .unwrap_or(0);
    let label = ui.label(RichText::new(title).color(palette.quiet_text).small());
    spoken(
        &label,
        &format!("Plot. {title}, {count} levels of canal {}", canal.name),
    );
    plots::still((title, &canal.name))
        .height(HEIGHT * text_scale(ui))
        .include_x(0.0)
        .include_y(ideal)
        .custom_x_axes(vec![
            AxisHints::new_x()
                .label(RichText::new("mm from the end").small())
                .label_spacing(20.0..=36.0),
        ])
        .custom_y_axes(vec![
            AxisHints::new_y().formatter(|mark, _| fixed(mark.value, 1)),
        ])
        .y_axis_min_width(30.0 * text_scale(ui))
        .x_grid_spacer(uniform_grid_spacer(|_| [1.0, 5.0, 10.0]))
        .y_grid_spacer(uniform_grid_spacer(move |input| {
            // Some four numbers, however high the intervals are.
            let span = input.bounds.1 - input.bounds.0;
            let times = (span / (4.0 * step)).ceil().max(1.0);
            [times * step, 5.0 * times * step, 25.0 * times * step]
        }))
        .show(ui, |plot| {
            plot.hline(HLine::new("", ideal).color(palette.line).width(1.5));
            for (index, one) in lines.iter().enumerate() {
                let colour = if index == 0 {
                    palette.accent
                } else {
                    palette.caution
                };
                draw(plot, &values(canal, one), one, colour);
            }
        });
}

/// Level, mm from the end, and value.
fn values(canal: &CanalShaping, one: &Series) -> Vec<(f64, Quantity)> {
    let levels = canal.levels.iter();
    levels
        .filter_map(|level| Some((level.from_end_mm, (one.of)(level)?)))
        .collect()
}

fn draw(
    plot: &mut egui_plot::PlotUi<'_>,
    values: &[(f64, Quantity)],
    one: &Series,
    colour: Color32,
) {
    for (at, q) in values {
        let ends = vec![[*at, q.value - q.u95], [*at, q.value + q.u95]];
        plot.line(
            Line::new("", ends)
                .color(colour.gamma_multiply(0.6))
                .width(1.0),
        );
    }
    let points: Vec<[f64; 2]> = values.iter().map(|(at, q)| [*at, q.value]).collect();
    let line = Line::new(one.name, points.clone()).color(colour).width(2.0);
    plot.line(if one.is_dashed {
        line.style(LineStyle::dashed_dense())
    } else {
        line
    });
    plot.points(Points::new(one.name, points).radius(2.5).color(colour));
}
