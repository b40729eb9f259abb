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
/// Places on a window of that size, found in its pictures.
const MEAN_HEADING: Pos2 = Pos2::new(310.0, 112.0);
const STUDENT_HEADING: Pos2 = Pos2::new(35.0, 112.0);
const EVERY_TRACE: Pos2 = Pos2::new(812.0, 112.0);
const FIRST_ROW: Pos2 = Pos2::new(45.0, 140.0);
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
        };
        let app = DesktopApp::new(&ctx, setup);
        Self { ctx, app }
    }

    /// One frame; how many triangles it shows.
    fn frame(&mut self, events: Vec<Event>) -> usize {
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, SIZE)),
            events,
            ..RawInput::default()
        };
        let (ctx, app) = (&self.ctx, &mut self.app);
        let output = ctx.run_ui(input, |ui| app.show(ui));
        let shown = ctx.tessellate(output.shapes, output.pixels_per_point);
        let triangles = shown.iter().map(|one| match &one.primitive {
            egui::epaint::Primitive::Mesh(mesh) => mesh.indices.len() / 3,
            egui::epaint::Primitive::Callback(_) => 0,
        });
        triangles.sum()
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
    window.click(FIRST_ROW);
    for layers in ["density", "density and every trace"] {
        let before = window.frame(Vec::new());
        c.bench_function(&format!("hover, {layers}"), |b| {
            let mut step = 0_u16;
            b.iter(|| {
                step = (step + 7) % 500;
                let at = FIRST_ROW + Vec2::new(f32::from(step), f32::from(step) / 2.0);
                window.frame(vec![Event::PointerMoved(at)])
            });
        });
        c.bench_function(&format!("sort, two frames, {layers}"), |b| {
            let mut headings = [MEAN_HEADING, STUDENT_HEADING].into_iter().cycle();
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
            window.button(ON_FILM, false);
        });
        if layers == "density" {
            window.click(EVERY_TRACE);
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
