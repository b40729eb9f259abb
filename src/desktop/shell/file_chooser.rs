//! The window in which a file or folder is chosen.

use chrono::{DateTime, Local};
use egui::{
    Align, Align2, Button, Context, Id, Key, Layout, Modal, Modifiers, Rect, RichText, Role,
    ScrollArea, Sense, TextEdit, TextStyle, Ui, WidgetInfo,
};

use crate::desktop::state::file_chooser::{Asking, FileChooser, SortBy, Wanted, places};
use crate::desktop::state::preferences::Preferences;
use crate::desktop::ui::palette::{self, text_scale};
use crate::desktop::ui::wording::counted;

/// Widths of the places, of a file's size and of its time at normal text size,
/// points.
const PLACES_WIDTH: f32 = 150.0;
const SIZE_WIDTH: f32 = 76.0;
const TIME_WIDTH: f32 = 126.0;
/// Greatest size of the whole, points.
const MOST_WIDTH: f32 = 860.0;
const MOST_HEIGHT: f32 = 560.0;
/// Rows that Page Up and Page Down go.
const PAGE_ROWS: isize = 10;

/// What has become of the question.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Progress {
    Waiting,
    /// Answered or put aside.
    Done,
}

/// Shows the chooser and lets it be used.
pub fn show(ctx: &Context, chooser: &mut FileChooser, preferences: &Preferences) -> Progress {
    chooser.poll();
    let mut progress = Progress::Waiting;
    if chooser.asking.is_none() {
        keys(ctx, chooser);
    }
    let modal = Modal::new(Id::unique("file chooser")).show(ctx, |ui| {
        let room = ui.ctx().content_rect();
        ui.set_width(MOST_WIDTH.min(room.width() - 60.0));
        let height = MOST_HEIGHT.min(room.height() - 60.0);
        ui.heading(chooser.question.title);
        head(ui, chooser);
        let line = ui.spacing().interact_size.y + ui.spacing().item_spacing.y;
        let list_height = (height - 6.5 * line).max(4.0 * line);
        ui.horizontal_top(|ui| {
            let left = egui::vec2(PLACES_WIDTH * text_scale(ui), list_height);
            ui.allocate_ui_with_layout(left, Layout::top_down_justified(Align::Min), |ui| {
                ui.set_min_size(left);
                show_places(ui, chooser, preferences);
            });
            ui.vertical(|ui| list(ui, chooser, list_height, &mut progress));
        });
        foot(ui, chooser, &mut progress);
    });
    if modal.should_close() {
        ctx.request_repaint();
        match chooser.asking.take() {
            // The name's field takes the keyboard back.
            Some(_) => ctx.memory_mut(|memory| memory.request_focus(Id::unique("file name"))),
            None => progress = Progress::Done,
        }
    }
    progress
}

/// Keys that mean the same wherever the keyboard is.
fn keys(ctx: &Context, chooser: &mut FileChooser) {
    let may_go_up = chooser.name.is_empty();
    let (moves, up) = ctx.input_mut(|input| {
        let mut count = |key| input.count_and_consume_key(Modifiers::NONE, key) as isize;
        let rows = count(Key::ArrowDown) - count(Key::ArrowUp);
        let pages = count(Key::PageDown) - count(Key::PageUp);
        let above = Modifiers::ALT;
        let up = input.consume_key(above, Key::ArrowUp)
            || may_go_up && input.consume_key(Modifiers::NONE, Key::Backspace);
        (rows + PAGE_ROWS * pages, up)
    });
    if moves != 0 {
        chooser.move_cursor(moves);
    }
    if up {
        chooser.go_up(ctx);
    }
}

/// The folder shown, the way up and a new one.
fn head(ui: &mut Ui, chooser: &mut FileChooser) {
    ui.horizontal(|ui| {
        let up = ui
            .add_enabled(chooser.folder().parent().is_some(), Button::new("Up"))
            .on_hover_text("The folder above (Backspace or Alt+Up)")
            .accessible_name("Folder above");
        if up.clicked() {
            chooser.go_up(&ui.ctx().clone());
        }
        let new = ui.button("New folder…").on_hover_text("Make a folder here");
        if new.clicked() {
            chooser.asking = Some(Asking::NewFolder(String::new()));
        }
        let path = chooser.folder().display().to_string();
        ui.add(egui::Label::new(RichText::new(&path).monospace()).truncate())
            .on_hover_text(&path);
    });
}

fn show_places(ui: &mut Ui, chooser: &mut FileChooser, preferences: &Preferences) {
    ScrollArea::vertical().id_salt("places").show(ui, |ui| {
        for (name, folder) in places(&preferences.recent) {
            let here = chooser.folder() == folder;
            let button = Button::selectable(here, &name).truncate();
            let shown = ui
                .add(button)
                .on_hover_text(folder.display().to_string())
                .accessible_name(format!("Place: {name}"));
            if shown.clicked() {
                chooser.go_to(&ui.ctx().clone(), &folder);
            }
        }
    });
}

fn list(ui: &mut Ui, chooser: &mut FileChooser, height: f32, progress: &mut Progress) {
    let scale = text_scale(ui);
    let widths = [SIZE_WIDTH * scale, TIME_WIDTH * scale];
    ui.horizontal(|ui| {
        let name_width = ui.available_width() - widths[0] - widths[1] - 24.0;
        for (by, name, width) in [
            (SortBy::Name, "Name", name_width),
            (SortBy::Size, "Size", widths[0]),
            (SortBy::Time, "Changed", widths[1]),
        ] {
            let (sorted_by, descending) = chooser.order();
            let layout = match by {
                SortBy::Name => Layout::left_to_right(Align::Center),
                SortBy::Size | SortBy::Time => Layout::right_to_left(Align::Center),
            };
            let size = egui::vec2(width, ui.spacing().interact_size.y);
            let head = ui.allocate_ui_with_layout(size, layout, |ui| {
                ui.set_min_size(size);
                let button = Button::new(name).frame(false);
                ui.add(button)
                    .accessible_name(format!("Sort by {}", name.to_lowercase()))
            });
            let head = head.inner;
            if sorted_by == by {
                sort_mark(ui, head.rect, descending);
            }
            if head.clicked() {
                chooser.sort_by(by);
            }
        }
    });
    let row = ui.spacing().interact_size.y;
    let rows = chooser.entries().len();
    let area = ScrollArea::vertical()
        .id_salt(("entries", chooser.folder().to_owned()))
        .auto_shrink(false)
        .max_height(height - 2.0 * row);
    area.show(ui, |ui| {
        if rows == 0 {
            let words = match chooser.hidden_files() {
                _ if chooser.is_reading() => "Reading the folder…".to_owned(),
                0 => "Nothing here".to_owned(),
                files if chooser.wants_folder() => {
                    format!("No folder in here; {}", counted(files, "file"))
                }
                _ => "Nothing of this kind here".to_owned(),
            };
            ui.label(RichText::new(words).color(palette::of(ui).quiet_text));
        }
        ui.spacing_mut().item_spacing.y = 0.0;
        let top = ui.cursor().top();
        let whole = egui::vec2(ui.available_width(), row * rows as f32);
        let (space, _) = ui.allocate_exact_size(whole, Sense::hover());
        let seen = ui.clip_rect();
        let first = ((seen.top() - top) / row).floor().max(0.0) as usize;
        let last = ((seen.bottom() - top) / row).ceil().max(0.0) as usize;
        let row_rect = |at: usize| {
            let corner = space.min + egui::vec2(0.0, row * at as f32);
            Rect::from_min_size(corner, egui::vec2(whole.x, row))
        };
        for at in first..last.min(rows) {
            entry(ui, chooser, at, row_rect(at), widths, progress);
            if chooser.entries().len() != rows {
                // Another folder is shown from the next frame on.
                return;
            }
        }
        let moved = Id::unique("chooser cursor");
        let before = ui
            .data(|data| data.get_temp::<Option<usize>>(moved))
            .flatten();
        if let Some(at) = chooser.cursor.filter(|at| Some(*at) != before) {
            ui.scroll_to_rect(row_rect(at), None);
        }
        ui.data_mut(|data| data.insert_temp(moved, chooser.cursor));
    });
}

/// A small triangle under the heading that the list is sorted by.
fn sort_mark(ui: &Ui, head: Rect, descending: bool) {
    let [tip, base] = if descending { [4.0, 0.0] } else { [0.0, 4.0] };
    let at = head.center_bottom();
    let points = [(0.0, tip), (-4.0, base), (4.0, base)];
    let points = points.map(|(x, y)| at + egui::vec2(x, y - 3.0));
    let colour = palette::of(ui).accent;
    let mark = egui::Shape::convex_polygon(points.to_vec(), colour, egui::Stroke::NONE);
    ui.painter().add(mark);
}

fn entry(
    ui: &mut Ui,
    chooser: &mut FileChooser,
    at: usize,
    rect: Rect,
    [size_width, time_width]: [f32; 2],
    progress: &mut Progress,
) {
    let Some(entry) = chooser.entries().get(at).cloned() else {
        return;
    };
    let is_marked = chooser.marked.contains(&at);
    let id = Id::unique(("entry", chooser.folder(), &entry.name));
    let response = ui.interact(rect, id, Sense::CLICK);
    let kind = if entry.is_folder { "Folder" } else { "File" };
    let spoken = format!("{kind}: {}", entry.name);
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, is_marked, &spoken));
    let palette = palette::of(ui);
    let (ground, words, quiet) = match (is_marked, response.hovered()) {
        (true, _) => (palette.accent, palette.on_accent, palette.on_accent),
        (false, true) => (palette.raised_more, palette.text, palette.quiet_text),
        (false, false) => (palette.panel, palette.text, palette.quiet_text),
    };
    let painter = ui.painter().clone();
    painter.rect_filled(rect, 2.0, ground);
    let font = TextStyle::Body.resolve(ui.style());
    let small = TextStyle::Small.resolve(ui.style());
    let times = rect.right() - 8.0;
    let sizes = times - time_width;
    let names = Rect::from_min_max(rect.min, egui::pos2(sizes - size_width, rect.bottom()));
    let name = if entry.is_folder {
        format!("{}/", entry.name)
    } else {
        entry.name.clone()
    };
    let from = names.left_center() + egui::vec2(8.0, 0.0);
    painter
        .with_clip_rect(names.intersect(ui.clip_rect()))
        .text(from, Align2::LEFT_CENTER, name, font, words);
    if !entry.is_folder {
        let at = egui::pos2(sizes, rect.center().y);
        let size = size_in_words(entry.bytes);
        painter.text(at, Align2::RIGHT_CENTER, size, small.clone(), quiet);
    }
    if let Some(modified) = entry.modified {
        let time: DateTime<Local> = modified.into();
        let at = egui::pos2(times, rect.center().y);
        let time = time.format("%Y-%m-%d %H:%M").to_string();
        painter.text(at, Align2::RIGHT_CENTER, time, small, quiet);
    }
    if response.double_clicked() {
        chooser.point_at(at);
        if chooser.accept(&ui.ctx().clone()) {
            *progress = Progress::Done;
        }
    } else if response.clicked() {
        let modifiers = ui.input(|input| input.modifiers);
        if modifiers.command {
            chooser.toggle(at);
        } else if modifiers.shift {
            chooser.extend_to(at);
        } else {
            chooser.point_at(at);
        }
    }
}

/// Name, kind and the buttons; in their place a question, while there is one.
fn foot(ui: &mut Ui, chooser: &mut FileChooser, progress: &mut Progress) {
    let palette = palette::of(ui);
    match &chooser.fault {
        Some(fault) => ui.colored_label(palette.alarm, fault),
        None => ui.label(RichText::new(hint(chooser)).color(palette.quiet_text)),
    };
    match chooser.asking.clone() {
        Some(Asking::Replace(path)) => {
            let name = path.file_name().unwrap_or_default().to_string_lossy();
            ui.label(format!("{name} is there already. Replace it?"));
            ui.horizontal(|ui| {
                if ui.button("Replace").clicked() && chooser.replace() {
                    *progress = Progress::Done;
                }
                let keep = ui.button("Keep it");
                if ui.memory(|memory| memory.focused().is_none()) {
                    keep.request_focus();
                }
                if keep.clicked() {
                    chooser.asking = None;
                }
            });
        }
        Some(Asking::NewFolder(mut name)) => {
            ui.horizontal(|ui| {
                ui.label("New folder");
                let field = ui
                    .add(TextEdit::singleline(&mut name).desired_width(260.0))
                    .accessible_name("Name of the new folder");
                let entered = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
                if ui.memory(|memory| memory.focused().is_none()) && !entered {
                    field.request_focus();
                }
                chooser.asking = Some(Asking::NewFolder(name));
                if ui.button("Make it").clicked() || entered {
                    chooser.make_folder(&ui.ctx().clone());
                }
                if ui.button("Not now").clicked() {
                    chooser.asking = None;
                }
            });
        }
        None => answer_line(ui, chooser, progress),
    }
}

/// What the keys do, in a few words.
fn hint(chooser: &FileChooser) -> &'static str {
    match chooser.question.wanted {
        Wanted::File => "Type the beginning of a name, or a path; arrows and Enter choose",
        Wanted::Files => "Ctrl or Shift with a click marks several",
        Wanted::Folder => "Enter opens a folder; “Choose this folder” takes it",
        Wanted::NewFile { .. } => "Enter saves; Backspace in an empty field goes up",
    }
}

fn answer_line(ui: &mut Ui, chooser: &mut FileChooser, progress: &mut Progress) {
    let id = Id::unique("file name");
    let mut accepts = false;
    ui.horizontal(|ui| {
        ui.label(if chooser.wants_folder() {
            "Folder"
        } else {
            "Name"
        });
        let width = (ui.available_width() * 0.5).max(160.0);
        let mut name = chooser.name.clone();
        let field = ui
            .add(TextEdit::singleline(&mut name).id(id).desired_width(width))
            .accessible_name("Name of the file");
        let entered = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        if field.changed() {
            chooser.name = name;
            chooser.typed();
        }
        accepts = entered;
        if entered || ui.memory(|memory| memory.focused().is_none()) {
            field.request_focus();
            select_stem(ui, id, &chooser.name);
        }
        let kinds = chooser.question.kinds;
        if kinds.len() > 1 {
            let mut kind = chooser.kind;
            egui::ComboBox::from_id_salt("file kind")
                .selected_text(kinds[kind].name)
                .show_ui(ui, |ui| {
                    for (at, one) in kinds.iter().enumerate() {
                        ui.selectable_value(&mut kind, at, one.name);
                    }
                })
                .response
                .accessible_name("Kind of file");
            if kind != chooser.kind {
                chooser.choose_kind(kind);
            }
        }
        let mut hidden = chooser.shows_hidden();
        if ui.checkbox(&mut hidden, "Hidden files").changed() {
            chooser.show_hidden(hidden);
        }
    });
    ui.horizontal(|ui| {
        let palette = palette::of(ui);
        let name = match chooser.question.wanted {
            Wanted::File | Wanted::Files => "Open",
            Wanted::Folder => "Choose this folder",
            Wanted::NewFile { .. } => "Save here",
        };
        let words = RichText::new(name).color(palette.on_accent).strong();
        if ui.add(Button::new(words).fill(palette.accent)).clicked() {
            if chooser.wants_folder() {
                chooser.choose_folder();
                *progress = Progress::Done;
            } else {
                accepts = true;
            }
        }
        if ui.button("Cancel").clicked() {
            *progress = Progress::Done;
        }
    });
    if accepts && chooser.accept(&ui.ctx().clone()) {
        *progress = Progress::Done;
    }
}

/// Selects the name without its ending, to be typed over.
fn select_stem(ui: &Ui, id: Id, name: &str) {
    use egui::text::{CCursor, CCursorRange};
    let stem = name.split('.').next().unwrap_or(name).chars().count();
    let mut state = egui::text_edit::TextEditState::load(ui.ctx(), id).unwrap_or_default();
    let range = CCursorRange::two(CCursor::new(0), CCursor::new(stem));
    state.cursor.set_char_range(Some(range));
    state.store(ui.ctx(), id);
}

/// A size in three digits or so: "31 kB".
fn size_in_words(bytes: u64) -> String {
    match bytes {
        0..1_000 => format!("{bytes} B"),
        1_000..1_000_000 => format!("{:.0} kB", bytes as f64 / 1e3),
        1_000_000..1_000_000_000 => format!("{:.1} MB", bytes as f64 / 1e6),
        _ => format!("{:.1} GB", bytes as f64 / 1e9),
    }
}
