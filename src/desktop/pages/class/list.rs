//! The table on the screen: headings that sort, filters, rows to choose.

use std::rc::Rc;

use egui::{
    Align, Button, ComboBox, Label, Layout, Pos2, RichText, Sense, Shape, Stroke, TextEdit, Ui,
    Vec2,
};
use egui_extras::{Column as Width, TableBuilder};

use super::table::{Column, Row, RowOf, SortOrder, Table, Verdict};
use crate::desktop::ui::icons::{self, Icon};
use crate::desktop::ui::palette::{self, text_scale};
use crate::uncertainty::rounding::fixed;

/// The table, and what of it the user has chosen.
pub struct List {
    table: Table,
    /// Rows in the order last shown, with that order.
    shown: Option<(SortOrder, Rc<[usize]>)>,
    pub order: SortOrder,
    pub selected: Option<RowOf>,
    /// Bring the chosen row into view in this frame.
    scroll_to_selected: bool,
}

impl List {
    /// The whole table, nothing chosen.
    pub fn of(table: Table) -> Self {
        Self {
            table,
            shown: None,
            order: SortOrder::default(),
            selected: None,
            scroll_to_selected: false,
        }
    }

    /// Shows other words for the same rows.
    pub fn set_table(&mut self, table: Table) {
        self.table = table;
        self.shown = None;
    }

    /// Rows to show; sorted only when something has changed.
    fn shown(&mut self) -> Rc<[usize]> {
        if let Some((order, rows)) = &self.shown
            && *order == self.order
        {
            return Rc::clone(rows);
        }
        let rows: Rc<[usize]> = self.table.shown(&self.order).into();
        self.shown = Some((self.order.clone(), Rc::clone(&rows)));
        rows
    }

    /// Chooses a row and brings it into view.
    pub fn select(&mut self, row: RowOf) {
        self.selected = Some(row);
        self.scroll_to_selected = true;
    }

    /// Chooses the row `step` further in the order shown.
    pub fn move_selection(&mut self, step: isize) {
        let shown = self.shown();
        let rows = &self.table.rows;
        let now = shown
            .iter()
            .position(|&index| Some(rows[index].of) == self.selected);
        let next = match now {
            None => 0,
            Some(at) => at
                .saturating_add_signed(step)
                .min(shown.len().saturating_sub(1)),
        };
        if let Some(&index) = shown.get(next) {
            self.selected = Some(rows[index].of);
            self.scroll_to_selected = true;
        }
    }

    /// Filters and table.
    pub fn show(&mut self, ui: &mut Ui) {
        let shown = self.shown();
        let rows = self.table.rows.len();
        self.filters(ui, shown.len(), rows);
        let scale = text_scale(ui);
        let row_height = ui.spacing().interact_size.y * 0.95;
        let Self {
            table,
            order,
            selected,
            scroll_to_selected,
            ..
        } = self;
        let table = &*table;
        let at = shown
            .iter()
            .position(|&index| Some(table.rows[index].of) == *selected);
        egui::ScrollArea::horizontal()
            .id_salt("class table")
            .show(ui, |ui| {
                ui.spacing_mut().item_spacing.x = 3.0;
                let mut builder = TableBuilder::new(ui)
                    .id_salt("class rows")
                    .striped(true)
                    .sense(Sense::click())
                    .auto_shrink(false)
                    .cell_layout(Layout::left_to_right(Align::Center));
                for &column in &table.columns {
                    builder = builder.column(width(column, scale));
                }
                if std::mem::take(scroll_to_selected)
                    && let Some(at) = at
                {
                    builder = builder.scroll_to_row(at, None);
                }
                builder
                    .header(row_height, |mut header| {
                        for &column in &table.columns {
                            header.col(|ui| heading(ui, order, column));
                        }
                    })
                    .body(|body| {
                        body.rows(row_height, shown.len(), |mut line| {
                            let row = &table.rows[shown[line.index()]];
                            line.set_selected(Some(row.of) == *selected);
                            for &column in &table.columns {
                                line.col(|ui| {
                                    if cell(ui, table, row, column, *selected) {
                                        *selected = Some(row.of);
                                    }
                                });
                            }
                            if line.response().clicked() {
                                *selected = Some(row.of);
                            }
                        });
                    });
            });
        if shown.is_empty() {
            ui.label(RichText::new("No row fits the filter").color(palette::of(ui).quiet_text));
        }
    }

    fn filters(&mut self, ui: &mut Ui, shown: usize, all: usize) {
        ui.horizontal(|ui| {
            ui.add(
                TextEdit::singleline(&mut self.order.text)
                    .hint_text("Find a student or canal")
                    .desired_width(190.0 * text_scale(ui)),
            )
            .accessible_name("Find a student or canal");
            let any = "any verdict";
            let now = self.order.verdict.map_or(any, Verdict::words);
            ComboBox::from_id_salt("verdict filter")
                .selected_text(now)
                .show_ui(ui, |ui| {
                    ui.selectable_value(&mut self.order.verdict, None, any);
                    for verdict in Verdict::ALL {
                        ui.selectable_value(
                            &mut self.order.verdict,
                            Some(verdict),
                            verdict.words(),
                        );
                    }
                })
                .response
                .accessible_name("Filter by verdict");
            let filtered = !self.order.text.is_empty() || self.order.verdict.is_some();
            if filtered && ui.button("Show all").clicked() {
                self.order.text.clear();
                self.order.verdict = None;
            }
            let count = format!("{shown} of {all} rows");
            ui.label(RichText::new(count).color(palette::of(ui).quiet_text));
        });
    }
}

/// A heading that sorts.
fn heading(ui: &mut Ui, order: &mut SortOrder, column: Column) {
    let text = RichText::new(column.heading()).strong();
    let button = Button::new(text).frame(false).truncate();
    let hint = format!("Sort by {}", column.words());
    let direction = (order.by == column).then_some(order.descending);
    let show = |ui: &mut Ui| {
        let response = ui.add(button).on_hover_text(&hint).accessible_name(&hint);
        if let Some(descending) = direction {
            sort_mark(ui, descending);
        }
        response
    };
    let response = if column.is_number() {
        ui.with_layout(Layout::right_to_left(Align::Center), show)
            .inner
    } else {
        show(ui)
    };
    if response.clicked() {
        order.sort_by(column);
    }
}

/// Points up where small stands first, down where large does.
fn sort_mark(ui: &mut Ui, descending: bool) {
    let (rect, _) = ui.allocate_exact_size(Vec2::splat(7.0), Sense::hover());
    let (base, tip) = if descending {
        (rect.top(), rect.bottom())
    } else {
        (rect.bottom(), rect.top())
    };
    let corners = vec![
        Pos2::new(rect.left(), base),
        Pos2::new(rect.center().x, tip),
        Pos2::new(rect.right(), base),
    ];
    let colour = palette::of(ui).accent;
    ui.painter()
        .add(Shape::convex_polygon(corners, colour, Stroke::NONE));
}

fn width(column: Column, scale: f32) -> Width {
    let points = match column {
        Column::Student => 124.0,
        Column::Canal => 44.0,
        Column::Verdict => 92.0,
        Column::Points => 48.0,
        Column::Measure(_) => (16.0 + 6.4 * column.heading().chars().count() as f32).max(45.0),
    };
    Width::initial(points * scale)
        .at_least(30.0)
        .clip(true)
        .resizable(column == Column::Student)
}

/// Shows one cell; whether it was chosen.
fn cell(ui: &mut Ui, table: &Table, row: &Row, column: Column, selected: Option<RowOf>) -> bool {
    match column {
        Column::Student => {
            let is_selected = selected == Some(row.of);
            let button = Button::selectable(is_selected, row.student.as_str()).truncate();
            return ui.add(button).on_hover_text(&row.student).clicked();
        }
        Column::Canal => {
            ui.add(Label::new(&row.canal).truncate().selectable(false));
        }
        Column::Verdict => verdict(ui, row.verdict, selected == Some(row.of)),
        Column::Points => {
            if let Some(points) = row.points {
                number(ui, format!("{points:.0}/{:.0}", row.points_possible));
            }
        }
        Column::Measure(measure) => {
            let decimals = match measure.unit() {
                "mm" => 2,
                _ => 1,
            };
            if let Some(value) = table.value(row, column) {
                number(ui, fixed(value, decimals));
            }
        }
    }
    false
}

/// A verdict as sign, colour and word.
fn verdict(ui: &mut Ui, verdict: Verdict, is_selected: bool) {
    let palette = palette::of(ui);
    let (icon, colour) = match verdict {
        Verdict::Passed => (Icon::Tick, palette.good),
        Verdict::NotPassed => (Icon::Triangle, palette.caution),
        Verdict::NotTraced => (Icon::Dot, palette.caution),
        Verdict::NotAssessed => (Icon::Dot, palette.quiet_text),
        Verdict::Refused | Verdict::NotHandedIn => (Icon::Square, palette.alarm),
    };
    let colour = if is_selected {
        palette.on_accent
    } else {
        colour
    };
    let side = ui.text_style_height(&egui::TextStyle::Body) * 0.75;
    let (rect, _) = ui.allocate_exact_size(Vec2::splat(side), Sense::hover());
    icons::paint(ui.painter(), icon, rect, colour);
    let text = RichText::new(verdict.words()).color(colour);
    ui.add(Label::new(text).selectable(false).truncate());
}

fn number(ui: &mut Ui, text: String) {
    ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
        ui.add(Label::new(text).selectable(false));
    });
}
