//! Where copies go.

use egui::{ColorImage, Context, Id};

/// A clipboard that says whether it took what was copied.
pub trait Clipboard {
    /// Puts text on it.
    ///
    /// # Errors
    /// Why it cannot, in plain words.
    fn set_text(&mut self, ctx: &Context, text: &str) -> Result<(), String>;

    /// Puts a picture on it.
    ///
    /// # Errors
    /// Why it cannot, in plain words.
    fn set_picture(&mut self, ctx: &Context, picture: &ColorImage) -> Result<(), String>;
}

/// The clipboard of whatever shows the window: told what was copied, it never
/// answers.
pub struct OfTheHost;

impl Clipboard for OfTheHost {
    fn set_text(&mut self, ctx: &Context, text: &str) -> Result<(), String> {
        ctx.copy_text(text.to_owned());
        Ok(())
    }

    fn set_picture(&mut self, ctx: &Context, picture: &ColorImage) -> Result<(), String> {
        ctx.copy_image(picture.clone());
        Ok(())
    }
}

/// What is to be copied once the frame's widgets were shown.
#[derive(Clone, Debug, PartialEq)]
pub enum ToCopy {
    /// The text, and what it is.
    Text(String, &'static str),
    Picture(ColorImage),
}

/// Keeps a picture taken of the window until the next frame copies it.
pub fn keep_picture(ctx: &Context, picture: ColorImage) {
    ctx.data_mut(|data| data.insert_temp(picture_id(), std::sync::Arc::new(picture)));
    ctx.request_repaint();
}

/// The picture kept, once.
pub fn take_picture(ctx: &Context) -> Option<std::sync::Arc<ColorImage>> {
    ctx.data_mut(|data| data.remove_temp(picture_id()))
}

fn picture_id() -> Id {
    Id::unique("picture to copy")
}
