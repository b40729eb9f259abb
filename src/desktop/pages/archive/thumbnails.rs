//! Small pictures of the films of a study, fetched into memory only.

use std::collections::{HashMap, HashSet};
use std::path::Path;
use std::sync::mpsc::{Receiver, Sender, channel};

use egui::{ColorImage, Context, TextureHandle, TextureOptions};

use super::work::Running;
use crate::archive::{self, FilmEntry, Received, Settings, Way};
use crate::desktop::view::{Pyramid, small_picture};
use crate::film::{self, OpenLimits};

/// Longest side of a small picture, px.
const LONGEST_PX: u32 = 192;
/// Most films of a study that are fetched for their pictures.
const MOST_FILMS: usize = 24;

/// A film's UID and its picture.
type Arrived = (String, ColorImage);

/// The pictures of one study.
#[derive(Default)]
pub struct Thumbnails {
    pictures: HashMap<String, TextureHandle>,
    arriving: Option<Receiver<Arrived>>,
    running: Option<Running>,
    order: Option<Order>,
}

/// What a job needs to fetch them.
pub struct Order {
    settings: Settings,
    study: String,
    films: Vec<String>,
    list: Sender<Arrived>,
    running: Running,
}

impl Thumbnails {
    /// Begins anew for the films of a study; what was under way is stopped.
    pub fn order(&mut self, settings: Settings, study: &str, films: &[FilmEntry]) {
        self.stop();
        self.pictures.clear();
        let (list, receiver) = channel();
        let running = Running::default();
        self.arriving = Some(receiver);
        self.running = Some(running.clone());
        let films = films.iter().take(MOST_FILMS);
        self.order = Some(Order {
            settings,
            study: study.to_owned(),
            films: films.map(|film| film.sop_instance_uid.clone()).collect(),
            list,
            running,
        });
    }

    /// What is to be fetched next.
    pub fn take_order(&mut self) -> Option<Order> {
        self.order.take()
    }

    /// Stops fetching: the archive is wanted for something else.
    pub fn stop(&mut self) {
        if let Some(running) = self.running.take() {
            running.cancel();
        }
        self.arriving = None;
        self.order = None;
    }

    /// Takes those that have arrived since the last frame.
    pub fn take_arrived(&mut self, ctx: &Context) {
        let Some(arriving) = &self.arriving else {
            return;
        };
        for (uid, picture) in arriving.try_iter() {
            // The name of a texture is seen by nobody.
            let texture = ctx.load_texture("film", picture, TextureOptions::LINEAR);
            self.pictures.insert(uid, texture);
        }
    }

    /// The picture of a film, once it is there.
    pub fn of(&self, film: &FilmEntry) -> Option<&TextureHandle> {
        self.pictures.get(&film.sop_instance_uid)
    }
}

impl Order {
    /// Fetches film by film; nothing is written. A film that is not read, or an
    /// archive that does not send, leaves its place empty: opening it says why.
    pub fn fetch(self, ctx: &Context) {
        let mut sink = |received: Received| {
            if let Some(arrived) = small(&received)
                && self.list.send(arrived).is_ok()
            {
                ctx.request_repaint();
            }
            Ok(())
        };
        let none_here = HashSet::new();
        // Without a picture the list is as good.
        let _ = self.running.watched(ctx, |watch| {
            archive::get_films(
                &self.settings,
                &self.study,
                &self.films,
                &none_here,
                Way::Either,
                &mut sink,
                watch,
            )
        });
    }
}

/// The picture of a film that has arrived.
fn small(received: &Received) -> Option<Arrived> {
    let bytes = received.as_file().ok()?;
    let opened = film::open_bytes(Path::new("film"), &bytes, &OpenLimits::default()).ok()?;
    let pyramid = Pyramid::new(&opened.film);
    let picture = small_picture(&opened.film, &pyramid, LONGEST_PX);
    Some((received.sop_instance_uid.clone(), picture))
}
