//! Studies that the archive has, and the films of the one chosen.

use egui::{Align, Button, Layout, RichText, ScrollArea, Sense, Ui, Vec2};
use egui_extras::{Column, TableBuilder};

use super::thumbnails::Thumbnails;
use crate::archive::{FilmEntry, StudyEntry};
use crate::desktop::ui::palette::{self, text_scale};

/// Columns of the list: head and width at normal text size, points.
const COLUMNS: [(&str, f32); 6] = [
    ("Date", 112.0),
    ("Modality", 76.0),
    ("Patient", 180.0),
    ("Patient ID", 110.0),
    ("Accession", 100.0),
    ("Description", 140.0),
];

/// Side of a film's small picture at normal text size, points.
const PICTURE_SIDE: f32 = 84.0;

/// What stands in a row, column by column.
fn cells(study: &StudyEntry) -> [String; 6] {
    let or = |value: &Option<String>| value.clone().unwrap_or_else(|| "–".to_owned());
    let modalities = study.modalities.as_ref().map(|all| all.join(", "));
    let name = study.patient_name.as_ref().map(|name| readable_name(name));
    [
        or(&study.study_date),
        or(&modalities),
        or(&name),
        or(&study.patient_id),
        or(&study.accession_number),
        or(&study.study_description),
    ]
}

/// `Family^Given` (PS3.5 6.2, PN) as it is read.
fn readable_name(name: &str) -> String {
    let parts = name
        .split('^')
        .map(str::trim)
        .filter(|part| !part.is_empty());
    parts.collect::<Vec<_>>().join(", ")
}

/// The list; only rows in sight are made. The row chosen in this frame.
pub fn studies(ui: &mut Ui, studies: &[StudyEntry], selected: Option<usize>) -> Option<usize> {
    let scale = text_scale(ui);
    let row_height = ui.spacing().interact_size.y;
    let quiet = palette::of(ui).quiet_text;
    let mut chosen = None;
    ScrollArea::horizontal().id_salt("studies").show(ui, |ui| {
        let mut builder = TableBuilder::new(ui)
            .id_salt("study rows")
            .striped(true)
            .auto_shrink(false)
            .sense(Sense::click())
            .cell_layout(Layout::left_to_right(Align::Center));
        for (_, width) in COLUMNS {
            builder = builder.column(Column::exact(width * scale).clip(true));
        }
        builder
            .header(row_height, |mut header| {
                for (head, _) in COLUMNS {
                    header.col(|ui| {
                        ui.label(RichText::new(head).color(quiet));
                    });
                }
            })
            .body(|body| {
                body.rows(row_height, studies.len(), |mut row| {
                    let index = row.index();
                    let is_selected = selected == Some(index);
                    row.set_selected(is_selected);
                    let [date, others @ ..] = cells(&studies[index]);
                    row.col(|ui| {
                        let name = format!("Study {}: {date}, {}", index + 1, others.join(", "));
                        let button = Button::selectable(is_selected, &date);
                        if ui.add(button).accessible_name(name).clicked() {
                            chosen = Some(index);
                        }
                    });
                    for cell in others {
                        row.col(|ui| {
                            ui.add(egui::Label::new(cell).selectable(false));
                        });
                    }
                    // Wherever the row is clicked.
                    if row.response().clicked() {
                        chosen = Some(index);
                    }
                });
            });
    });
    chosen
}

/// The films of a study; the one to be opened.
pub fn films(
    ui: &mut Ui,
    films: &[FilmEntry],
    thumbnails: &Thumbnails,
    is_free: bool,
) -> Option<usize> {
    let mut wanted = None;
    let side = Vec2::splat(PICTURE_SIDE * text_scale(ui));
    if films.is_empty() {
        ui.label("No films in this study");
    }
    ScrollArea::vertical().id_salt("films").show(ui, |ui| {
        for (index, film) in films.iter().enumerate() {
            let facts = [&film.date, &film.modality].into_iter().flatten();
            let facts: Vec<&str> = facts.map(String::as_str).collect();
            let words = match facts.is_empty() {
                true => format!("Film {}", index + 1),
                false => format!("Film {}: {}", index + 1, facts.join(", ")),
            };
            ui.horizontal(|ui| {
                let (place, response) = ui.allocate_exact_size(side, Sense::click());
                ui.painter().rect_filled(place, 3.0, palette::FILM_GROUND);
                if let Some(picture) = thumbnails.of(film) {
                    let size = picture.size_vec2();
                    let fitted = size * (side.x / size.max_elem().max(1.0));
                    let at = egui::Rect::from_center_size(place.center(), fitted);
                    egui::Image::new((picture.id(), fitted)).paint_at(ui, at);
                    response.widget_info(|| {
                        let name = format!("Picture of film {}", index + 1);
                        egui::WidgetInfo::labeled(egui::Role::Image, true, name)
                    });
                }
                if is_free && response.clicked() {
                    wanted = Some(index);
                }
                let button = ui.add_enabled(is_free, Button::new("Open"));
                if button
                    .accessible_name(format!("Open film {}", index + 1))
                    .clicked()
                {
                    wanted = Some(index);
                }
                ui.label(words);
            });
        }
    });
    wanted
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_read_as_they_are_spoken() {
        assert_eq!(readable_name("Quillon^Zzyzx^^Dr"), "Quillon, Zzyzx, Dr");
        assert_eq!(readable_name("Quillon"), "Quillon");
    }
}
