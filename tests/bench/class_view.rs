//! Time of one frame of the class view with 500 traces of one film: the goal
//! is 16 ms. Input, layout and tessellation count; what the graphics card does
//! does not.

use std::path::{Path, PathBuf};
use std::time::Duration;

use criterion::{Criterion, criterion_group, criterion_main};
use egui::{Context, Event, Modifiers, PointerButton, Pos2, RawInput, Rect, Vec2};
use lengthfilm::desktop::{DesktopApp, Preferences, Setup};
use lengthfilm::phantom::{CanalKind, PhantomSpec, Truth, render};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};
use serde_json::json;

const TRACES: usize = 500;
const SIZE: Vec2 = Vec2::new(1280.0, 720.0);
/// A place on the film, beside the table.
const ON_FILM: Pos2 = Pos2::new(1000.0, 400.0);

/// The true canal, every point off by about 0.1 mm and bent as a whole.
fn trace(truth: &Truth, rng: &mut ChaCha8Rng) -> Vec<[f64; 2]> {
    let normal = Normal::new(0.0, 1.0).expect("a distribution");
    let bow_mm = 0.2 * normal.sample(rng);
    let last = truth.canal_px.len() - 1;
    let points = (0..12).map(|i| {
        let share = f64::from(i) / 11.0;
        let at = truth.canal_px[(share * last as f64) as usize];
        let aside_mm = bow_mm * (std::f64::consts::PI * share).sin() + 0.1 * normal.sample(rng);
        [at.x + aside_mm / truth.mm_per_px[1], at.y]
    });
    points.collect()
}

fn write_case(path: &Path, film: &Path, name: &str, truth: &Truth, rng: &mut ChaCha8Rng) {
    let [row_mm, _] = truth.mm_per_px;
    let case = json!({
        "format": "lengthfilm-case", "version": 1, "film": {"path": film},
        "scale": {"objects": [{"kind": "ruler", "true_length_mm": 10.0,
                               "points_px": [[9.0, 9.0], [9.0, 9.0 + 10.0 / row_mm]]}]},
        "student": {"name": name},
        "canals": [{"name": "C", "trace_px": trace(truth, rng)}],
    });
    std::fs::write(path, case.to_string()).expect("written");
}

/// Four experts and the folder of a class.
fn class(folder: &Path) -> (Vec<PathBuf>, PathBuf) {
    let phantom = render(&PhantomSpec::random(CanalKind::Single, 11)).expect("renders");
    let film = folder.join("film.png");
    phantom.save_png(&film).expect("written");
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    let experts = (0..4).map(|i| {
        let path = folder.join(format!("expert {i}.case.json"));
        write_case(
            &path,
            &film,
            &format!("expert {i}"),
            &phantom.truth,
            &mut rng,
        );
        path
    });
    let experts = experts.collect();
    let traces = folder.join("class");
    std::fs::create_dir(&traces).expect("made");
    for i in 0..TRACES {
        let path = traces.join(format!("{i}.case.json"));
        write_case(
            &path,
            &film,
            &format!("student {i}"),
            &phantom.truth,
            &mut rng,
        );
    }
    (experts, traces)
}

fn input(events: Vec<Event>) -> RawInput {
    RawInput {
        screen_rect: Some(Rect::from_min_size(Pos2::ZERO, SIZE)),
        events,
        ..RawInput::default()
    }
}

struct Window {
    ctx: Context,
    app: DesktopApp,
}

impl Window {
    fn open() -> Self {
        let ctx = Context::default();
        let setup = Setup {
            start: None,
            preferences: Preferences::default(),
            recovery_folder: None,
            data_folder: None,
        };
        let app = DesktopApp::new(&ctx, setup);
        Self { ctx, app }
    }

    /// One frame; how many triangles it shows.
    fn frame(&mut self, events: Vec<Event>) -> usize {
        let (ctx, app) = (&self.ctx, &mut self.app);
        let mut output = ctx.run_ui(input(events), |ui| app.show(ui));
        // There is no graphics card to send them to.
        output.textures_delta.clear();
        let shown = ctx.tessellate(output.shapes, output.pixels_per_point);
        let triangles = shown.iter().map(|one| match &one.primitive {
            egui::epaint::Primitive::Mesh(mesh) => mesh.indices.len() / 3,
            egui::epaint::Primitive::Callback(_) => 0,
        });
        triangles.sum()
    }

    /// Middle of the widget of that name, as screen readers are told.
    fn place_of(&mut self, name: &str) -> Pos2 {
        self.ctx.enable_accesskit();
        let app = &mut self.app;
        let mut output = self.ctx.run_ui(input(Vec::new()), |ui| app.show(ui));
        output.textures_delta.clear();
        self.ctx.disable_accesskit();
        let tree = output.platform_output.accesskit_update.expect("a tree");
        let mut nodes = tree.nodes.iter().map(|(_, node)| node);
        let node = nodes.find(|node| node.label() == Some(name));
        let bounds = node.and_then(|node| node.bounds()).expect(name);
        let middle = |low: f64, high: f64| ((low + high) / 2.0) as f32;
        Pos2::new(middle(bounds.x0, bounds.x1), middle(bounds.y0, bounds.y1))
    }

    fn settle(&mut self) {
        self.frame(Vec::new());
        while self.app.is_busy() {
            std::thread::sleep(Duration::from_millis(2));
            self.frame(Vec::new());
        }
        self.frame(Vec::new());
    }

    fn button(&mut self, pos: Pos2, pressed: bool) -> usize {
        self.frame(vec![
            Event::PointerMoved(pos),
            Event::PointerButton {
                pos,
                button: PointerButton::Primary,
                pressed,
                modifiers: Modifiers::NONE,
            },
        ])
    }

    fn click(&mut self, pos: Pos2) {
        self.frame(vec![Event::PointerMoved(pos)]);
        self.button(pos, true);
        self.button(pos, false);
        self.frame(Vec::new());
    }
}

fn class_view(c: &mut Criterion) {
    let folder = tempfile::tempdir().expect("a folder");
    let (experts, traces) = class(folder.path());
    let mut window = Window::open();
    let ctx = window.ctx.clone();
    window.app.grade_class(&ctx, experts, vec![traces]);
    window.settle();
    let first_row = window.place_of("student 0");
    window.click(first_row);
    let headings = ["Sort by mean distance, mm", "Sort by student"];
    let headings = headings.map(|name| window.place_of(name));
    for layers in ["density", "density and every trace"] {
        c.bench_function(&format!("hover, {layers}"), |b| {
            let mut step = 0_u16;
            b.iter(|| {
                step = (step + 7) % 500;
                let at = first_row + Vec2::new(f32::from(step), f32::from(step) / 2.0);
                window.frame(vec![Event::PointerMoved(at)])
            });
        });
        c.bench_function(&format!("sort, two frames, {layers}"), |b| {
            let mut headings = headings.into_iter().cycle();
            b.iter(|| {
                let heading = headings.next().expect("endless");
                window.button(heading, true) + window.button(heading, false)
            });
        });
        c.bench_function(&format!("move the picture, {layers}"), |b| {
            let mut step = 0_u16;
            window.button(ON_FILM, true);
            b.iter(|| {
                step = (step + 3) % 60;
                let at = ON_FILM + Vec2::splat(f32::from(step));
                window.frame(vec![Event::PointerMoved(at)])
            });
            // Back first: samples must not add up to a way off the film.
            window.frame(vec![Event::PointerMoved(ON_FILM)]);
            window.button(ON_FILM, false);
        });
        if layers == "density" {
            let before = window.frame(Vec::new());
            let every_trace = window.place_of("Every trace");
            window.click(every_trace);
            let with_traces = window.frame(Vec::new());
            assert!(
                with_traces > before + TRACES,
                "every trace is drawn: {with_traces} triangles after {before}"
            );
        }
    }
}

criterion_group!(benches, class_view);
criterion_main!(benches);
