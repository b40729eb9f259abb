//! Words over the film: the next step at its head, the construction drawn at
//! its foot.

use egui::{Align2, Id, Rect, Sense, Ui, Vec2};

use super::overlay;
use crate::case::Case;
use crate::case::edit::{self, Tool};
use crate::desktop::state::Desk;
use crate::desktop::state::gauge;
use crate::desktop::state::repeats::Repeats;
use crate::desktop::ui::film_paint::label;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::spoken;
use crate::desktop::ui::wording::capitalised;

/// What to do next, in one line at the film's head.
pub fn prompt(ui: &Ui, desk: &Desk<'_>, rect: Rect) -> Option<Rect> {
    let session = &desk.session;
    let repeats = session.repeats.as_ref().filter(|r| r.is_clicking());
    let gauged = gauge::words(desk.workspace, session.tool, &session.gauge);
    let text = repeats.map(Repeats::prompt).or(gauged).or_else(|| {
        let case = desk.workspace.document.case();
        let clicks = session.assist_clicks.len();
        let placing = prompt_text(case, session.tool, session.canal, clicks);
        match (placing, desk.awaits_length()) {
            (Some(placing), true) => Some(format!("{placing}; type the set length")),
            (None, true) => Some("Type the set length".to_owned()),
            (placing, false) => placing,
        }
    });
    let text = text?;
    let font = egui::TextStyle::Heading.resolve(ui.style());
    let head = rect.center_top() + Vec2::new(0.0, 10.0);
    let shown = label(
        ui.painter(),
        head,
        Align2::CENTER_TOP,
        &text,
        font,
        palette::FILM_TEXT,
    );
    spoken(
        &ui.interact(shown, Id::unique("prompt"), Sense::hover()),
        &text,
    );
    Some(shown)
}

/// The construction drawn, with its values, at the film's foot: the words on
/// the film itself cannot be heard.
pub fn spoken_construction(ui: &Ui, desk: &Desk<'_>, rect: Rect) -> Option<Rect> {
    let method = desk.session.construction?;
    let canals = &desk.workspace.last_reading().findings.canals;
    let found = canals.get(desk.session.canal)?.curvature.as_ref()?;
    let text = overlay::construction_words(method, found);
    let font = egui::TextStyle::Body.resolve(ui.style());
    let foot = rect.center_bottom() - Vec2::new(0.0, 10.0);
    let align = Align2::CENTER_BOTTOM;
    let shown = label(
        ui.painter(),
        foot,
        align,
        &text,
        font,
        palette::CONSTRUCTION,
    );
    let place = ui.interact(shown, Id::unique("construction"), Sense::hover());
    spoken(&place, &format!("Drawn on the film: {text}"));
    Some(shown)
}

/// The next click in words; `asked` clicks of an assisting tool are made.
fn prompt_text(case: &Case, tool: Tool, canal: usize, asked: usize) -> Option<String> {
    let name = case.canals.get(canal).map_or(String::new(), |canal| {
        capitalised(&edit::canal_in_words(&canal.name))
    });
    let text = match tool {
        Tool::Select => return None,
        Tool::File => {
            let points = edit::file_object_index(case, canal)
                .map_or(0, |object| case.scale.objects[object].points_px.len());
            match points {
                0 => {
                    format!(
                        "{name}: click the stop, tooth side, where the file leaves it. Stop not \
                         on the film: I, then the tip"
                    )
                }
                1 => format!("{name}: now click the file's tip"),
                _ => format!("{name}: click beside the file where its line should run"),
            }
        }
        Tool::Object(kind) => format!("Click {}", kind.row().tool.as_ref()?.prompt),
        Tool::Trace => {
            format!(
                "{name}: click along the canal, orifice to apex; Enter or a double click finishes"
            )
        }
        Tool::Wall(side) => format!(
            "{name}: click along the {} wall, seen from the orifice; Enter or a double click finishes",
            side.word()
        ),
        Tool::Mark => format!(
            "Click mark {}: a place seen on both films, away from the canal; Esc when all are placed",
            edit::next_mark_name(case)
        ),
        Tool::Landmark(landmark) => format!("{name}: click {}", landmark.row().prompt),
        Tool::FindFile => format!("{name}: click anywhere on the file's shank"),
        Tool::FollowCanal if asked == 0 => format!("{name}: click the canal's orifice"),
        Tool::FollowCanal => format!("{name}: now click the canal's end at the apex"),
        Tool::Distance => "Click two places to measure between them".to_owned(),
        Tool::Angle => "Click three places, the vertex second".to_owned(),
    };
    Some(text)
}
