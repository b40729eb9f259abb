//! What is typed right after the key that opens a question belongs to that
//! question, though its field has the keyboard only some frames later.

use egui::{Context, Event, Key};

use super::keys;

/// Frames after which a question without the keyboard gets it no more.
const MOST_FRAMES: usize = 8;

/// Letters and keys that wait for what they were typed for.
#[derive(Debug, Default)]
pub struct TypedEarly {
    held: Vec<Event>,
    /// A question was open in the last frame.
    asked: bool,
    /// Frames that the question now open has waited for the keyboard.
    waiting: Option<usize>,
}

impl TypedEarly {
    /// Begins a frame: takes away what is too early, and gives back what was.
    pub fn begin(&mut self, ctx: &Context, asks: bool) {
        if asks && !self.asked {
            // What had the keyboard lies behind the question now.
            ctx.memory_mut(|memory| {
                if let Some(behind) = memory.focused() {
                    memory.surrender_focus(behind);
                }
            });
            self.waiting = Some(0);
        }
        self.asked = asks;
        let has_keyboard = ctx.memory(|memory| memory.focused().is_some());
        self.waiting = self
            .waiting
            .filter(|frames| asks && !has_keyboard && *frames < MOST_FRAMES)
            .map(|frames| frames + 1);
        if self.waiting.is_some() {
            ctx.input_mut(|input| {
                let held = &mut self.held;
                held.extend(input.events.extract_if(.., |event| is_typed(event)));
            });
            ctx.request_repaint();
            return;
        }
        let held = std::mem::take(&mut self.held);
        ctx.input_mut(|input| {
            input.events.splice(0..0, held);
            let Some(at) = input.events.iter().position(keys::is_command_key) else {
                return;
            };
            let later = at + 1..;
            let typed = |event: &mut Event| is_typed(event);
            self.held = input.events.extract_if(later, typed).collect();
        });
        if !self.held.is_empty() {
            ctx.request_repaint();
        }
    }
}

/// Typed with the keyboard. Tab moves it, and has done so by now.
fn is_typed(event: &Event) -> bool {
    match event {
        Event::Text(_) | Event::Paste(_) => true,
        Event::Key { key, pressed, .. } => *pressed && *key != Key::Tab,
        _ => false,
    }
}
