//! Faint marks of what the film was found to show, each with a button that
//! takes it.

use egui::{
    Align2, Color32, CursorIcon, Id, Key, Modifiers, Painter, Pos2, Rect, Response, Role, Sense,
    Shape, Stroke, TextStyle, Ui, Vec2, WidgetInfo,
};

use crate::case::Landmark;
use crate::case::edit::{self, Tool};
use crate::desktop::state::Desk;
use crate::desktop::state::assist::{LastSuggestion, confidence_in_words};
use crate::desktop::state::edit::Edit;
use crate::desktop::state::keys;
use crate::desktop::state::offers::{CLEAR, Offer, Offered};
use crate::desktop::state::session::Grip;
use crate::desktop::ui::labels::free_place;
use crate::desktop::ui::palette;
use crate::desktop::view::ViewTransform;
use crate::units::FilmPoint;

/// From a mark to its button, points.
const BESIDE: Vec2 = Vec2::new(16.0, 0.0);
/// Ground around the button's words, points.
const MARGIN: Vec2 = Vec2::new(6.0, 3.0);
/// Half the size of a mark's sign, points.
const SIGN: f32 = 7.0;

/// What is offered now, copied out of the desk.
fn shown(desk: &Desk<'_>) -> Vec<Offer> {
    let session = &desk.session;
    if session.is_blinded() || session.hides_marks || session.grip != Grip::None {
        return Vec::new();
    }
    let case = desk.workspace.document.case();
    let offers = desk.workspace.offers.as_ref();
    let shown = offers.map(|offers| offers.shown(case, session.canal));
    shown.into_iter().flatten().cloned().collect()
}

/// One offer's button in this frame.
pub struct OfferButton {
    offer: Offer,
    text: String,
    rect: Rect,
    focused: bool,
}

/// What the buttons have come to.
#[derive(Default)]
pub struct OfferButtons {
    buttons: Vec<OfferButton>,
    /// The pointer is over one of them.
    pub under_pointer: bool,
}

/// Makes the buttons, and takes the offer whose button was pressed, or the
/// first one on Enter.
pub fn interact(ui: &mut Ui, desk: &mut Desk<'_>, film: &Response, taken: &[Rect]) -> OfferButtons {
    let viewport = film.rect;
    let mut found = OfferButtons::default();
    let view = desk.workspace.view;
    let font = TextStyle::Body.resolve(ui.style());
    let mut taken = taken.to_vec();
    let mut pressed = None;
    let takes_enter = waits_for_enter(ui, desk, film.id);
    for (index, offer) in shown(desk).into_iter().enumerate() {
        let Some(at) = button_place(&offer).map(|at| view.screen_from_film(at)) else {
            continue;
        };
        if !viewport.contains(at) {
            continue;
        }
        let seen = confidence_in_words(offer.confidence);
        let (seen, _) = seen.split_once(':').unwrap_or((seen, ""));
        let key = if index == 0 { " (Enter)" } else { "" };
        let text = format!("{}{key}", offer.label());
        let size = ui
            .painter()
            .layout_no_wrap(text.clone(), font.clone(), Color32::WHITE);
        let wanted = Align2::LEFT_CENTER.anchor_size(at + BESIDE, size.size() + MARGIN * 2.0);
        let rect = free_place(wanted, viewport, &taken);
        taken.push(rect);
        // It takes the drag as well, so that a press on it is not the film's.
        let response = ui
            .interact(rect, Id::unique(("offer", index)), Sense::click_and_drag())
            .on_hover_cursor(CursorIcon::PointingHand)
            .on_hover_text(format!("{seen}. Look before you take it; Escape hides all"));
        response.widget_info(|| {
            WidgetInfo::labeled(Role::Button, true, format!("{}, {seen}", offer.label()))
        });
        found.under_pointer |= response.contains_pointer();
        let enter = index == 0 && takes_enter;
        if pressed.is_none() && (response.clicked() || enter) {
            pressed = Some(offer.clone());
        }
        found.buttons.push(OfferButton {
            focused: response.has_focus() || response.hovered(),
            offer,
            text,
            rect,
        });
    }
    if let Some(offer) = pressed {
        take(desk, &offer);
        found.buttons.clear();
        ui.ctx().request_repaint();
    }
    found
}

/// Enter was pressed, and nothing else has a use for it.
fn waits_for_enter(ui: &Ui, desk: &Desk<'_>, film: Id) -> bool {
    let focused = ui.memory(|memory| memory.focused());
    let is_free = focused.is_none_or(|id| id == film);
    let is_free = is_free && !keys::was_typing(ui.ctx()) && !desk.session.has_dialog();
    let tool = desk.session.tool;
    is_free
        && !tool.draws_line()
        && !desk.session.is_blinded()
        && ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Enter))
}

/// Puts an offer into the case as one step, and goes on to what is missing.
fn take(desk: &mut Desk<'_>, offer: &Offer) {
    let canal = desk.session.canal;
    let mm_per_px = desk.workspace.offers.as_ref().and_then(|o| o.mm_per_px);
    desk.session.stop_assisting();
    desk.apply(Edit::TakeOffer {
        canal,
        offer: Box::new(offer.clone()),
        mm_per_px,
    });
    desk.session.suggested = Some(LastSuggestion {
        revision: desk.workspace.document.revision(),
    });
    let seen = confidence_in_words(offer.confidence);
    let case = desk.workspace.document.case();
    let has_apex = case.canals.get(canal).is_some_and(|c| c.apex_px.is_some());
    let message = match &offer.what {
        Offered::File(file) if file.stop_px.is_none() => {
            format!("Tip taken, {seen}; no stop is seen for certain: no scale from this file")
        }
        Offered::File(_) => format!("File taken, {seen}"),
        Offered::Canal(_) => format!("Canal taken, {seen}"),
        Offered::Apex(_) => format!("Apex taken, {seen}"),
    };
    desk.session.tool = match &offer.what {
        Offered::File(_) if !has_apex => Tool::Landmark(Landmark::Apex),
        _ => Tool::Select,
    };
    if matches!(offer.what, Offered::File(_)) {
        desk.session.focus_length_of = edit::file_object_index(case, canal)
            .filter(|&object| case.scale.objects[object].true_length_mm.is_none());
    }
    desk.session.notify(message);
}

/// Where an offer's button stands: at the end that tells it from the others.
fn button_place(offer: &Offer) -> Option<FilmPoint> {
    match &offer.what {
        Offered::File(file) => {
            let middle = file.points_px.get(file.points_px.len() / 2);
            Some(file.stop_px.or(middle.copied()).unwrap_or(file.tip_px))
        }
        Offered::Canal(points) => points.first().copied(),
        Offered::Apex(at) => Some(*at),
    }
}

/// Paints marks and buttons.
pub fn paint(painter: &Painter, view: &ViewTransform, found: &OfferButtons) {
    for button in &found.buttons {
        mark(painter, view, &button.offer, button.focused);
    }
    let font = TextStyle::Body.resolve(&painter.ctx().global_style());
    for button in &found.buttons {
        let ground = palette::LABEL_GROUND;
        painter.rect_filled(button.rect, 4.0, ground);
        let colour = colour_of(&button.offer);
        let width = if button.focused { 2.0 } else { 1.0 };
        let edge = Stroke::new(width, colour);
        painter.rect_stroke(button.rect, 4.0, edge, egui::StrokeKind::Inside);
        let at = button.rect.min + MARGIN;
        painter.text(
            at,
            Align2::LEFT_TOP,
            &button.text,
            font.clone(),
            palette::FILM_TEXT,
        );
    }
}

impl OfferButtons {
    /// Where the buttons stand.
    pub fn rects(&self) -> impl Iterator<Item = Rect> {
        self.buttons.iter().map(|button| button.rect)
    }
}

fn colour_of(offer: &Offer) -> Color32 {
    match offer.what {
        Offered::File(_) => palette::FILE,
        Offered::Canal(_) => palette::CANAL,
        Offered::Apex(_) => palette::APEX,
    }
}

/// A dotted line or an open sign: nothing placed looks like it.
fn mark(painter: &Painter, view: &ViewTransform, offer: &Offer, strong: bool) {
    let strength = match offer.confidence {
        _ if strong => 1.0,
        c if c >= CLEAR => 0.7,
        _ => 0.45,
    };
    let colour = colour_of(offer).gamma_multiply(strength);
    let halo = Stroke::new(3.0, palette::HALO.gamma_multiply(strength));
    let stroke = Stroke::new(1.5, colour);
    let on_screen = |p: &FilmPoint| view.screen_from_film(*p);
    let dotted = |points: &[FilmPoint]| {
        let line: Vec<Pos2> = points.iter().map(on_screen).collect();
        painter.extend(Shape::dotted_line(&line, colour, 6.0, 1.4));
    };
    let ring = |at: Pos2| {
        painter.circle_stroke(at, SIGN, halo);
        painter.circle_stroke(at, SIGN, stroke);
    };
    match &offer.what {
        Offered::File(file) => {
            dotted(&file.points_px);
            let square = |at: Pos2| {
                let rect = Rect::from_center_size(at, Vec2::splat(1.6 * SIGN));
                painter.rect_stroke(rect, 0.0, halo, egui::StrokeKind::Middle);
                painter.rect_stroke(rect, 0.0, stroke, egui::StrokeKind::Middle);
            };
            square(on_screen(&file.tip_px));
            if let Some(stop) = &file.stop_px {
                square(on_screen(stop));
            }
        }
        Offered::Canal(points) => dotted(points),
        Offered::Apex(at) => ring(on_screen(at)),
    }
}
