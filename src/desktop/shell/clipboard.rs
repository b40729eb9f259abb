//! The clipboard of the system.

use std::borrow::Cow;

use egui::{ColorImage, Context};

use super::DesktopApp;
use crate::desktop::state::clipboard::{Clipboard, ToCopy, take_picture};

/// The system's clipboard. It keeps what was copied for as long as the window
/// is open.
#[derive(Default)]
pub(super) struct OfTheSystem {
    opened: Option<arboard::Clipboard>,
}

impl OfTheSystem {
    fn with(
        &mut self,
        act: impl FnOnce(&mut arboard::Clipboard) -> Result<(), arboard::Error>,
    ) -> Result<(), String> {
        let opened = match &mut self.opened {
            Some(opened) => opened,
            None => {
                let opened = arboard::Clipboard::new().map_err(|error| error.to_string())?;
                self.opened.insert(opened)
            }
        };
        act(opened).map_err(|error| {
            // A lost connection is opened anew at the next attempt.
            self.opened = None;
            error.to_string()
        })
    }
}

impl Clipboard for OfTheSystem {
    fn set_text(&mut self, _ctx: &Context, text: &str) -> Result<(), String> {
        self.with(|clipboard| clipboard.set_text(text))
    }

    fn set_picture(&mut self, _ctx: &Context, picture: &ColorImage) -> Result<(), String> {
        let [width, height] = picture.size;
        self.with(|clipboard| {
            clipboard.set_image(arboard::ImageData {
                width,
                height,
                bytes: Cow::Borrowed(picture.as_raw()),
            })
        })
    }
}

impl DesktopApp {
    /// Puts copies on `clipboard` instead of the one of the window's host.
    #[must_use]
    pub fn with_clipboard(mut self, clipboard: Box<dyn Clipboard>) -> Self {
        self.clipboard = clipboard;
        self
    }

    /// Copies what this frame has asked for, and says so only once it is done.
    pub(super) fn copy(&mut self, ctx: &Context) {
        let picture = take_picture(ctx).map(|taken| ToCopy::Picture((*taken).clone()));
        for copy in self.session.to_copy.take().into_iter().chain(picture) {
            let (done, what) = match &copy {
                ToCopy::Text(text, what) => (self.clipboard.set_text(ctx, text), *what),
                ToCopy::Picture(picture) => {
                    let done = self.clipboard.set_picture(ctx, picture);
                    (done, "Annotated picture")
                }
            };
            match done {
                Ok(()) => self.session.notify(format!("{what} copied")),
                Err(reason) => self
                    .session
                    .report_error(format!("{what} not copied: {reason}")),
            }
        }
    }
}
