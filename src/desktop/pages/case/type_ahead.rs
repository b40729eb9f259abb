//! Digits typed while no field has the keyboard belong to the set length.

use egui::{Context, Event, Popup};

use crate::desktop::state::Desk;

/// Takes them from the frame's input, for the field of the set length.
pub fn take_digits(ctx: &Context, desk: &mut Desk<'_>) {
    let is_free = !ctx.text_edit_focused()
        && !desk.session.has_dialog()
        && !Popup::is_any_open(ctx)
        && !desk.session.is_blinded();
    if !is_free {
        return;
    }
    ctx.input_mut(|input| {
        input.events.retain(|event| {
            let typed = match event {
                Event::Text(text) | Event::Paste(text) => text.trim(),
                _ => return true,
            };
            let has_digit = typed.contains(|c: char| c.is_ascii_digit());
            let goes_on = !desk.session.typed_ahead.is_empty();
            let is_number = typed
                .chars()
                .all(|c| c.is_ascii_digit() || matches!(c, '.' | ','));
            let taken = is_number && (has_digit || goes_on);
            if taken {
                desk.session.typed_ahead.push_str(typed);
            }
            !taken
        });
    });
}
