//! The order of work, left of the film: film, scale, canal, file and apex.

use egui::{Button, Id, RichText, ScrollArea, TextEdit, Ui};

use super::dates::checked_date;
use super::tool_button::{line_tool_button, tool_button};
use super::{hand_in, marks, scale};
use crate::case::edit::{self, Tool};
use crate::case::{LANDMARKS, Landmark, Tooth, ToothNotation};
use crate::desktop::state::Desk;
use crate::desktop::state::command::Command;
use crate::desktop::state::edit::Edit;
use crate::desktop::state::session::Dialog;
use crate::desktop::ui::checked_field::CheckedField;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::{select_all, spoken, step_heading};
use crate::desktop::ui::wording::chart_length;
use crate::report::numbers::chart;
use crate::tooth::ToothNumber;

/// Shows the rail.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        film(ui, desk);
        ui.separator();
        canal(ui, desk);
        ui.separator();
        file_and_apex(ui, desk);
        ui.separator();
        scale::show(ui, desk);
        ui.separator();
        marks::show(ui, desk);
    });
}

fn film(ui: &mut Ui, desk: &mut Desk<'_>) {
    step_heading(ui, 1, "Film", true);
    let film = &desk.workspace.film;
    let name = film
        .path
        .as_ref()
        .and_then(|path| path.file_name())
        .map_or_else(
            || "Demo film".to_owned(),
            |name| name.to_string_lossy().into_owned(),
        );
    ui.add(egui::Label::new(&name).truncate());
    let [width, height] = film.size_px();
    let quiet = palette::of(ui).quiet_text;
    let facts = format!("{width} × {height} px, {} bit", film.film.bits_stored());
    ui.label(RichText::new(facts).color(quiet));
    ui.horizontal(|ui| {
        ui.label(RichText::new("Date").color(quiet));
        let stated = desk.workspace.film.taken_on.clone().unwrap_or_default();
        let date = desk
            .workspace
            .document
            .case()
            .film
            .date
            .clone()
            .unwrap_or_default();
        let hint = if stated.is_empty() {
            "yyyy-mm-dd"
        } else {
            &stated
        };
        let field = CheckedField {
            label: "Film date",
            value: &date,
            hint,
            width: 104.0,
        };
        if let Some(date) = field.show(ui, Id::unique("film date"), checked_date) {
            desk.apply(Edit::FilmDate((!date.is_empty()).then_some(date)));
        }
    });
    observer(ui, desk);
    hand_in::show(ui, desk);
}

/// Who measures: kept for the next case too.
fn observer(ui: &mut Ui, desk: &mut Desk<'_>) {
    ui.horizontal(|ui| {
        ui.label(RichText::new("Observer").color(palette::of(ui).quiet_text));
        let stated = desk.workspace.document.case().observer.clone();
        let mut name = stated.unwrap_or_default();
        let field = TextEdit::singleline(&mut name)
            .hint_text("who measures")
            .desired_width(f32::INFINITY);
        if ui.add(field).accessible_name("Who measures").changed() {
            name.trim_start().clone_into(&mut desk.preferences.observer);
            let observer = (!name.trim().is_empty()).then_some(name);
            desk.apply(Edit::Observer(observer));
        }
    });
}

/// Which tooth and canal the clicks speak of.
fn canal(ui: &mut Ui, desk: &mut Desk<'_>) {
    let canals = desk.workspace.document.case().canals.len();
    desk.session.canal = desk.session.canal.min(canals.saturating_sub(1));
    let index = desk.session.canal;
    let traced = desk
        .workspace
        .document
        .case()
        .canals
        .get(index)
        .is_some_and(|c| c.trace_px.len() > 1);
    step_heading(ui, 2, "Tooth and canal", traced);
    tooth(ui, desk);
    ui.horizontal_wrapped(|ui| {
        let found = &desk.workspace.last_reading().findings.canals;
        for (i, canal) in desk.workspace.document.case().canals.iter().enumerate() {
            let length = found.get(i).and_then(|found| found.working_length_chart_mm);
            let mut chip = Button::selectable(i == index, &canal.name).frame_when_inactive(true);
            let mut name = format!("Work on {}", canal.name);
            if let Some(length) = length {
                chip = chip.right_text(RichText::new(chart(length)).small());
                name = format!("{name}, working length {}", chart_length(length));
            }
            let chosen = ui.add(chip).accessible_name(name);
            if chosen.clicked() {
                desk.session.canal = i;
            }
        }
        if ui
            .button("+")
            .on_hover_text(Command::NewCanal.hint(ui.ctx()))
            .accessible_name("New canal")
            .clicked()
        {
            desk.commands.push(Command::NewCanal);
        }
    });
    let Some(content) = desk.workspace.document.case().canals.get(index).cloned() else {
        return;
    };
    ui.horizontal(|ui| {
        let quiet = palette::of(ui).quiet_text;
        ui.label(RichText::new("Name").color(quiet));
        // A buffer of its own: the name may be empty or taken while typed.
        let id = Id::unique(("canal name", index));
        let mut name = ui
            .data(|data| data.get_temp::<String>(id))
            .unwrap_or_else(|| content.name.clone());
        if !ui.memory(|memory| memory.has_focus(id)) {
            name = content.name.clone();
        }
        let response = ui
            .add(TextEdit::singleline(&mut name).id(id).desired_width(90.0))
            .accessible_name("Canal name");
        if std::mem::take(&mut desk.session.focus_canal_name) {
            response.request_focus();
        }
        if response.gained_focus() || response.has_focus() && response.clicked() {
            select_all(ui, id, &name);
        }
        if response.changed() {
            let (canal, name) = (index, name.clone());
            desk.apply(Edit::RenameCanal { canal, name });
        }
        ui.data_mut(|data| data.insert_temp(id, name));
        if ui
            .button("Remove")
            .on_hover_text("Remove this canal with its file")
            .accessible_name("Remove canal")
            .clicked()
        {
            desk.session.dialog = Some(Dialog::RemoveCanal { canal: index });
        }
    });
    usual_names(ui, desk, index);
    let is_traced = content.trace_px.len() > 1;
    line_tool_button(ui, desk, Tool::Trace, is_traced, "Trace canal");
    ui.horizontal(|ui| {
        tool_button(
            ui,
            desk,
            Tool::FollowCanal,
            content.assisted,
            "Follow canal",
        );
        if content.assisted {
            assisted_note(ui, "Canal line");
        }
    });
}

/// Names that the tooth's canals usually go by, as far as they are free.
fn usual_names(ui: &mut Ui, desk: &mut Desk<'_>, index: usize) {
    let case = desk.workspace.document.case();
    let tooth = case.tooth.as_ref();
    let tooth = tooth.and_then(|tooth| ToothNumber::parse(tooth.notation, &tooth.number).ok());
    let names = tooth.map_or(&[][..], ToothNumber::usual_canals);
    let is_free = |name: &&&str| case.canals.iter().all(|canal| canal.name != **name);
    let free: Vec<&str> = names.iter().filter(is_free).copied().collect();
    if free.is_empty() {
        return;
    }
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new("Usual").color(palette::of(ui).quiet_text));
        for name in free {
            let button = ui.small_button(name);
            if button.accessible_name(format!("Name it {name}")).clicked() {
                let (canal, name) = (index, name.to_owned());
                desk.apply(Edit::RenameCanal { canal, name });
            }
        }
    });
}

fn tooth(ui: &mut Ui, desk: &mut Desk<'_>) {
    let now = desk.workspace.document.case().tooth.clone();
    let (number, notation) = match &now {
        Some(tooth) => (tooth.number.clone(), tooth.notation),
        None => (String::new(), desk.preferences.tooth_notation),
    };
    let with = |notation, number: String| Tooth {
        notation,
        number,
        extra: now
            .as_ref()
            .map_or_else(Default::default, |tooth| tooth.extra.clone()),
    };
    ui.horizontal(|ui| {
        let quiet = palette::of(ui).quiet_text;
        ui.label(RichText::new("Tooth").color(quiet));
        let field = CheckedField {
            label: "Tooth number",
            value: &number,
            hint: match notation {
                ToothNotation::Fdi => "e.g. 36",
                ToothNotation::Universal => "e.g. 19",
            },
            width: 72.0,
        };
        let check = |text: &str| match ToothNumber::parse(notation, text) {
            Err(error) if !text.is_empty() => Err(error.to_string()),
            _ => Ok(()),
        };
        if let Some(number) = field.show(ui, Id::unique("tooth number"), check) {
            let tooth = (!number.is_empty()).then(|| with(notation, number));
            desk.apply(Edit::Tooth(tooth));
        }
        for (one, name) in [
            (ToothNotation::Fdi, "FDI"),
            (ToothNotation::Universal, "Universal"),
        ] {
            let button = Button::selectable(one == notation, name);
            if ui.add(button).clicked() && one != notation {
                desk.preferences.tooth_notation = one;
                // The same tooth in the other notation.
                if let Ok(tooth) = ToothNumber::parse(notation, &number) {
                    let number = tooth.in_notation(one);
                    desk.apply(Edit::Tooth(Some(with(one, number))));
                }
            }
        }
    });
}

fn file_and_apex(ui: &mut Ui, desk: &mut Desk<'_>) {
    let index = desk.session.canal;
    let case = desk.workspace.document.case();
    let Some(content) = case.canals.get(index).cloned() else {
        return;
    };
    let object = edit::file_object_index(case, index);
    let file_points = object.map_or(0, |object| case.scale.objects[object].points_px.len());
    let done = content.apex_px.is_some() && file_points > 1;
    step_heading(ui, 3, "File and apex", done);
    tool_button(ui, desk, Tool::File, file_points > 1, "Stop, then tip");
    let assisted = object.is_some_and(|object| case_file_assisted(desk, object));
    ui.horizontal(|ui| {
        tool_button(ui, desk, Tool::FindFile, assisted, "Find file");
        if assisted {
            assisted_note(ui, "File line");
        }
    });
    ui.label(RichText::new("Set length, stop to tip").color(palette::of(ui).quiet_text));
    scale::set_length(ui, desk, index, object);
    let button = |ui: &mut Ui, desk: &mut Desk<'_>, landmark: Landmark| {
        let placed = landmark.of(&content).is_some();
        let name = landmark.row().short_name;
        tool_button(ui, desk, Tool::Landmark(landmark), placed, name);
    };
    button(ui, desk, Landmark::Apex);
    ui.horizontal_wrapped(|ui| {
        for row in &LANDMARKS {
            if row.landmark != Landmark::Apex {
                button(ui, desk, row.landmark);
            }
        }
    });
    ui.horizontal(|ui| {
        ui.label(RichText::new("Reference").color(palette::of(ui).quiet_text));
        let mut name = content.reference_name.unwrap_or_default();
        let response = ui
            .add(
                TextEdit::singleline(&mut name)
                    .hint_text("e.g. MB cusp")
                    .desired_width(f32::INFINITY),
            )
            .accessible_name("Reference point in words");
        if response.changed() {
            let (canal, name) = (index, (!name.is_empty()).then_some(name));
            desk.apply(Edit::ReferenceName { canal, name });
        }
    });
}

fn case_file_assisted(desk: &Desk<'_>, object: usize) -> bool {
    desk.workspace.document.case().scale.objects[object].assisted
}

/// Says that a line is a suggestion nobody has moved.
fn assisted_note(ui: &mut Ui, what: &str) {
    let quiet = palette::of(ui).quiet_text;
    let note = ui.label(RichText::new("assisted").color(quiet));
    spoken(&note, &format!("{what}: assisted"));
    note.on_hover_text("Suggested from the film. Move a point to make it your own.");
}
