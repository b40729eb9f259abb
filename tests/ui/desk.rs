//! The harness all these tests share.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use egui::{DroppedFile, Event, Modifiers, OutputCommand, PointerButton, Pos2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use lengthfilm::case::Case;
use lengthfilm::desktop::{ClassRecord, DesktopApp, RecordKind, Setup, StartWith};
use lengthfilm::units::FilmPoint;

/// Longest time a background job may take before a test fails.
const PATIENCE: Duration = Duration::from_secs(60);

/// A running application with a count of what the user did.
pub struct Desk {
    pub harness: Harness<'static, Running>,
    /// Primary-button presses so far.
    pub clicks: usize,
}

/// The application, and what it has put on the clipboard.
#[derive(Default)]
pub struct Running {
    app: Option<DesktopApp>,
    copied: Option<String>,
}

impl Desk {
    /// Starts the application and waits until what it opens is on screen.
    pub fn start(start: Option<StartWith>, recovery: Option<PathBuf>) -> Self {
        Self::start_stepping(start, recovery, 0.25)
    }

    /// The same with frames `step_s` seconds apart, where the pace counts.
    pub fn start_stepping(
        start: Option<StartWith>,
        recovery: Option<PathBuf>,
        step_s: f32,
    ) -> Self {
        let setup = Setup {
            start,
            recovery_folder: recovery,
            ..Setup::default()
        };
        Self::start_as(setup, step_s)
    }

    /// The same with habits of the user's.
    pub fn start_as(setup: Setup, step_s: f32) -> Self {
        let mut setup = Some(setup);
        let harness = Harness::builder()
            .with_size([1280.0, 720.0])
            .with_max_steps(60)
            .with_step_dt(step_s)
            .build_ui_state(
                move |ui, running: &mut Running| {
                    // The first frame has no application yet, as its look
                    // holds from the next frame on.
                    match &mut running.app {
                        Some(app) => app.show(ui),
                        None => {
                            let setup = setup.take().expect("started once");
                            running.app = Some(DesktopApp::new(ui.ctx(), setup));
                            ui.ctx().request_repaint();
                        }
                    }
                    let copied = ui.ctx().output(|output| {
                        output.commands.iter().find_map(|command| match command {
                            OutputCommand::CopyText(text) => Some(text.clone()),
                            _ => None,
                        })
                    });
                    running.copied = copied.or(running.copied.take());
                },
                Running::default(),
            );
        let mut desk = Self { harness, clicks: 0 };
        desk.settle();
        desk
    }

    /// Starts with a film nobody has measured.
    pub fn with_film(path: &Path) -> Self {
        Self::start(Some(StartWith::Film(path.to_owned())), None)
    }

    /// Lets frames and background jobs run until all is quiet.
    pub fn settle(&mut self) {
        let begun = Instant::now();
        loop {
            self.harness.run();
            if !self.app().is_busy() {
                break;
            }
            assert!(begun.elapsed() < PATIENCE, "a background job does not end");
            std::thread::sleep(Duration::from_millis(2));
        }
        self.harness.run();
    }

    pub fn app(&self) -> &DesktopApp {
        self.harness.state().app.as_ref().expect("started")
    }

    pub fn case(&self) -> &Case {
        self.app().case().expect("a case is open")
    }

    /// Text last put on the clipboard.
    pub fn copied(&self) -> Option<&str> {
        self.harness.state().copied.as_deref()
    }

    /// Where a film point shows.
    pub fn on_screen(&self, x: f64, y: f64) -> Pos2 {
        self.app()
            .screen_from_film(FilmPoint::new(x, y))
            .expect("a film is open")
    }

    /// One frame for one event.
    fn event(&mut self, event: Event) {
        self.harness.event(event);
        self.harness.step();
    }

    fn button(&mut self, pos: Pos2, button: PointerButton, pressed: bool) {
        self.event(Event::PointerButton {
            pos,
            button,
            pressed,
            modifiers: Modifiers::NONE,
        });
    }

    /// Presses and releases the primary button at a place of the film, and
    /// waits until all is quiet.
    pub fn click_film(&mut self, x: f64, y: f64) {
        self.press_film(x, y);
        self.settle();
    }

    /// Presses and releases the primary button at a place of the film without
    /// waiting for what that begins.
    pub fn press_film(&mut self, x: f64, y: f64) {
        let pos = self.on_screen(x, y);
        self.event(Event::PointerMoved(pos));
        self.button(pos, PointerButton::Primary, true);
        self.button(pos, PointerButton::Primary, false);
        self.clicks += 1;
    }

    /// Clicks a place of the film with the right button.
    pub fn right_click_film(&mut self, x: f64, y: f64) {
        let pos = self.on_screen(x, y);
        self.event(Event::PointerMoved(pos));
        self.button(pos, PointerButton::Secondary, true);
        self.button(pos, PointerButton::Secondary, false);
        self.settle();
    }

    /// Presses a key down, or lets it go.
    pub fn hold_key(&mut self, key: egui::Key, pressed: bool) {
        self.event(Event::Key {
            key,
            physical_key: None,
            pressed,
            repeat: false,
            modifiers: Modifiers::NONE,
        });
        self.settle();
    }

    /// Turns the wheel over a place of the screen.
    pub fn wheel(&mut self, pos: Pos2, points: f32) {
        self.event(Event::PointerMoved(pos));
        self.event(Event::MouseWheel {
            unit: egui::MouseWheelUnit::Point,
            delta: egui::vec2(0.0, points),
            phase: egui::TouchPhase::Move,
            source: egui::MouseWheelSource::Unknown,
            modifiers: Modifiers::NONE,
        });
        self.settle();
    }

    /// Where the widget of that accessible name stands.
    pub fn rect_of(&self, label: &str) -> egui::Rect {
        self.harness.get_by_label(label).rect()
    }

    /// Scrolls until the widget of that name can be seen.
    pub fn bring_into_sight(&mut self, label: &str) {
        self.harness.get_by_label(label).scroll_to_me();
        self.settle();
    }

    /// Types into the field of that name, in place of what it holds.
    pub fn type_into(&mut self, label: &str, text: &str) {
        self.harness.get_by_label(label).focus();
        self.settle();
        self.key(Modifiers::COMMAND, egui::Key::A);
        self.type_text(text);
    }

    /// Drags from one place of the film to another, in several moves.
    pub fn drag_film(&mut self, from: [f64; 2], to: [f64; 2]) {
        self.start_drag(from);
        self.continue_drag(from, to);
        self.end_drag(to);
    }

    /// Drags between two places of the screen.
    pub fn drag_screen(&mut self, from: Pos2, to: Pos2) {
        self.event(Event::PointerMoved(from));
        self.button(from, PointerButton::Primary, true);
        self.clicks += 1;
        for part in 1..=4 {
            self.event(Event::PointerMoved(from.lerp(to, part as f32 / 4.0)));
        }
        self.button(to, PointerButton::Primary, false);
        self.settle();
    }

    /// Moves, presses and releases, the first two in one frame.
    pub fn jump_and_press(&mut self, pos: Pos2) {
        // Queued events get a frame each.
        let events = &mut self.harness.input_mut().events;
        events.push(Event::PointerMoved(pos));
        events.push(Event::PointerButton {
            pos,
            button: PointerButton::Primary,
            pressed: true,
            modifiers: Modifiers::NONE,
        });
        self.harness.step();
        self.button(pos, PointerButton::Primary, false);
        self.settle();
    }

    pub fn start_drag(&mut self, from: [f64; 2]) {
        let pos = self.on_screen(from[0], from[1]);
        self.event(Event::PointerMoved(pos));
        self.button(pos, PointerButton::Primary, true);
        self.clicks += 1;
    }

    pub fn continue_drag(&mut self, from: [f64; 2], to: [f64; 2]) {
        for part in 1..=4 {
            let t = f64::from(part) / 4.0;
            let at = self.on_screen(
                from[0] + t * (to[0] - from[0]),
                from[1] + t * (to[1] - from[1]),
            );
            self.event(Event::PointerMoved(at));
        }
    }

    pub fn end_drag(&mut self, to: [f64; 2]) {
        let pos = self.on_screen(to[0], to[1]);
        self.button(pos, PointerButton::Primary, false);
        self.settle();
    }

    /// Clicks the widget of that accessible name.
    pub fn click(&mut self, label: &str) {
        self.harness.get_by_label(label).click();
        self.clicks += 1;
        self.settle();
    }

    /// Clicks the button or choice of that name, whatever words read the same.
    pub fn click_button(&mut self, label: &str) {
        let role = egui::accesskit::Role::Button;
        self.harness.get_by_role_and_label(role, label).click();
        self.clicks += 1;
        self.settle();
    }

    /// Clicks a button that asks for a file and answers with this one; a folder
    /// that is named is gone into, then taken.
    pub fn choose_file(&mut self, button: &str, path: &Path) {
        self.bring_into_sight(button);
        self.click_button(button);
        self.answer_with_file(path);
    }

    /// Answers the question that the chooser asks.
    pub fn answer_with_file(&mut self, path: &Path) {
        self.key(Modifiers::COMMAND, egui::Key::A);
        self.type_text(&path.to_string_lossy());
        self.key(Modifiers::NONE, egui::Key::Enter);
        if self.says("Choose this folder") {
            self.click_button("Choose this folder");
        }
        self.settle();
    }

    /// Presses a key.
    pub fn key(&mut self, modifiers: Modifiers, key: egui::Key) {
        self.harness.key_press_modifiers(modifiers, key);
        self.settle();
    }

    /// Types into whatever has the keyboard.
    pub fn type_text(&mut self, text: &str) {
        for letter in text.chars() {
            self.event(Event::Text(letter.to_string()));
        }
        self.settle();
    }

    /// Some visible text or name contains `part`.
    pub fn says(&self, part: &str) -> bool {
        self.harness
            .query_all_by_label_contains(part)
            .next()
            .is_some()
    }

    /// The button of that name cannot be pressed.
    pub fn is_disabled(&self, label: &str) -> bool {
        let role = egui::accesskit::Role::Button;
        let button = self.harness.get_by_role_and_label(role, label);
        button.accesskit_node().is_disabled()
    }

    /// Everything that can be read in the window: names and values.
    pub fn texts(&self) -> Vec<String> {
        let nodes = self.harness.root().children_recursive();
        let nodes: Vec<_> = nodes.collect();
        let texts = nodes.iter().flat_map(|node| {
            let node = node.accesskit_node();
            [node.label(), node.value()]
        });
        texts.flatten().collect()
    }

    /// Where on the film a handle stands that is named so.
    pub fn place_of(&self, name: &str) -> [f64; 2] {
        let node = self.harness.get_by_label_contains(name);
        let label = node.accesskit_node().label().expect("handles have names");
        let (_, place) = label.rsplit_once("at ").expect("names end with the place");
        let numbers = place.trim_end_matches(" px").split(", ").map(str::parse);
        let numbers: Vec<f64> = numbers.collect::<Result<_, _>>().expect("two numbers");
        [numbers[0], numbers[1]]
    }

    /// Saves the open case to a file, as the file dialog's answer would.
    pub fn save_to(&mut self, path: &Path) {
        let ctx = self.harness.ctx.clone();
        let app = self.harness.state_mut().app.as_mut().expect("started");
        app.save_to(&ctx, path.to_owned());
        self.settle();
    }

    /// Saves a record to a file, as the file dialog's answer would.
    pub fn save_record_to(&mut self, kind: RecordKind, path: &Path) {
        let ctx = self.harness.ctx.clone();
        let app = self.harness.state_mut().app.as_mut().expect("started");
        app.save_record_to(&ctx, kind, path.to_owned());
        self.settle();
    }

    /// Begins to grade a class, as the button of the class view does.
    pub fn grade_class(&mut self, reference: Vec<PathBuf>, traces: Vec<PathBuf>) {
        let ctx = self.harness.ctx.clone();
        let app = self.harness.state_mut().app.as_mut().expect("started");
        app.grade_class(&ctx, reference, traces);
    }

    /// Saves a record of the class, as the file dialog's answer would.
    pub fn save_class_to(&mut self, kind: ClassRecord, path: &Path) {
        let ctx = self.harness.ctx.clone();
        let app = self.harness.state_mut().app.as_mut().expect("started");
        app.save_class_to(&ctx, kind, path);
        self.settle();
    }

    /// Writes the truth of an exercise set in the open, as the folder dialog's
    /// answer would.
    pub fn open_truth_to(&mut self, folder: &Path) {
        let ctx = self.harness.ctx.clone();
        let app = self.harness.state_mut().app.as_mut().expect("started");
        app.open_truth_to(&ctx, folder);
        self.settle();
    }

    /// An orderly end of the window.
    pub fn close(&mut self) {
        self.harness
            .state_mut()
            .app
            .as_mut()
            .expect("started")
            .close();
    }

    /// Runs frames until some text shows.
    pub fn wait_until(&mut self, part: &str) {
        let begun = Instant::now();
        while !self.says(part) {
            assert!(begun.elapsed() < PATIENCE, "{part:?} never shows");
            std::thread::sleep(Duration::from_millis(20));
            self.settle();
        }
    }

    /// Accessible name of the widget that has the keyboard.
    pub fn focused_label(&self) -> Option<String> {
        self.harness
            .root()
            .children_recursive()
            .find(|node| node.is_focused())
            .and_then(|node| node.accesskit_node().label())
    }
}

/// A plain grey film with a lighter bar, as a 16-bit PNG.
pub fn write_film(folder: &Path, name: &str, width: u32, height: u32) -> PathBuf {
    let path = folder.join(name);
    let film = image::ImageBuffer::from_fn(width, height, |x, y| {
        let bar = (x as i64 - i64::from(width) / 2).abs() < 12 && y < height * 3 / 4;
        image::Luma([if bar {
            52_000u16
        } else {
            18_000 + (y % 97) as u16 * 40
        }])
    });
    film.save(&path).expect("the test folder can be written");
    path
}

/// A file dropped on the window.
#[derive(Debug)]
pub struct Dropped(pub PathBuf);

impl DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        std::fs::read(&self.0).map_err(|error| error.to_string())
    }
}
