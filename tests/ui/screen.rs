//! A virtual screen with the real program on it, driven by mouse and keys as
//! by a hand, and what other programs see of it.

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// Longest time anything may take before a test fails.
const PATIENCE: Duration = Duration::from_secs(180);
/// Between looks at what the program has done.
const LOOK_EVERY: Duration = Duration::from_millis(100);

/// A screen of its own, with software drawing.
pub struct Screen {
    server: Child,
    display: String,
}

impl Screen {
    /// Starts one; `None`, with the reason printed, where the programs for it
    /// are not installed.
    pub fn start(width: u32, height: u32) -> Option<Self> {
        for program in ["Xvfb", "xclip", "xdotool"] {
            let found = Command::new("sh")
                .args(["-c", &format!("command -v {program}")])
                .output();
            if !found.is_ok_and(|found| found.status.success()) {
                println!("skipped: no window on a real screen, {program} is not installed");
                return None;
            }
        }
        let mut server = Command::new("Xvfb")
            .args(["-displayfd", "1", "-nolisten", "tcp", "-screen", "0"])
            .arg(format!("{width}x{height}x24"))
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("Xvfb starts");
        let mut number = String::new();
        let stdout = server.stdout.take().expect("piped");
        BufReader::new(stdout)
            .read_line(&mut number)
            .expect("Xvfb names its display");
        let display = format!(":{}", number.trim());
        assert!(display.len() > 1, "Xvfb has no display");
        Some(Self { server, display })
    }

    /// A program that sees this screen and no other.
    pub fn command(&self, program: &str) -> Command {
        let mut command = Command::new(program);
        command
            .env("DISPLAY", &self.display)
            .env_remove("WAYLAND_DISPLAY");
        command
    }

    /// Puts text on the clipboard, as another program does.
    pub fn copy_elsewhere(&self, text: &str) {
        let mut xclip = self
            .command("xclip")
            .args(["-selection", "clipboard", "-in"])
            .stdin(Stdio::piped())
            .spawn()
            .expect("xclip starts");
        let mut stdin = xclip.stdin.take().expect("piped");
        stdin.write_all(text.as_bytes()).expect("xclip reads");
        drop(stdin);
        assert!(xclip.wait().expect("xclip ends").success());
    }

    /// What another program pastes.
    pub fn pasted(&self, kind: Option<&str>) -> Vec<u8> {
        let mut xclip = self.command("xclip");
        xclip.args(["-selection", "clipboard", "-out"]);
        if let Some(kind) = kind {
            xclip.args(["-target", kind]);
        }
        xclip.output().expect("xclip runs").stdout
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        // Gone already is as good.
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

/// The program's window on a screen.
pub struct RealWindow<'a> {
    screen: &'a Screen,
    program: Child,
    id: String,
    home: tempfile::TempDir,
}

impl<'a> RealWindow<'a> {
    /// Opens it on a film or case, in a home of its own; waits until the title
    /// names the file.
    pub fn open(screen: &'a Screen, path: &Path) -> Self {
        Self::open_with(screen, path, &[])
    }

    /// The same with variables of the environment.
    pub fn open_with(screen: &'a Screen, path: &Path, variables: &[(&str, &str)]) -> Self {
        let home = tempfile::tempdir().expect("a home");
        let folder = home.path().to_owned();
        let said = folder.join("said");
        let start = || {
            screen
                .command(env!("CARGO_BIN_EXE_lengthfilm"))
                .arg(path)
                .current_dir(&folder)
                .env("HOME", &folder)
                .env("XDG_DATA_HOME", folder.join("data"))
                .env("XDG_CONFIG_HOME", folder.join("config"))
                .env_remove("DBUS_SESSION_BUS_ADDRESS")
                .env("LIBGL_ALWAYS_SOFTWARE", "1")
                .envs(variables.iter().copied())
                .stdout(Stdio::null())
                .stderr(std::fs::File::create(&said).expect("a file"))
                .spawn()
                .expect("the program starts")
        };
        let program = start();
        let name = path.file_name().expect("a file").to_string_lossy();
        let mut window = Self {
            screen,
            program,
            id: String::new(),
            home,
        };
        let mut again = 2;
        window.id = wait_for("the window", || {
            let found = window.xdotool(&["search", "--onlyvisible", "--name", &name]);
            if let Ok(Some(status)) = window.program.try_wait() {
                // A display that has just begun may not serve OpenGL yet.
                let words = std::fs::read_to_string(&said);
                println!("no window, {status}: {}", words.unwrap_or_default());
                assert!(again > 0, "the program ends without a window");
                again -= 1;
                window.program = start();
            }
            found.lines().next().map(str::to_owned)
        });
        window.xdotool(&["windowfocus", "--sync", &window.id]);
        window
    }

    /// The home folder that this program sees.
    pub fn home(&self) -> PathBuf {
        self.home.path().to_owned()
    }

    fn xdotool(&self, arguments: &[&str]) -> String {
        let run = self.screen.command("xdotool").args(arguments).output();
        String::from_utf8_lossy(&run.expect("xdotool runs").stdout).into_owned()
    }

    /// Presses a key, such as `c` or `ctrl+s`.
    pub fn key(&self, keys: &str) {
        self.xdotool(&["key", keys]);
        std::thread::sleep(LOOK_EVERY);
    }

    /// Types letters, one after the other.
    pub fn type_text(&self, text: &str) {
        self.xdotool(&["type", "--delay", "60", text]);
        std::thread::sleep(LOOK_EVERY);
    }

    /// Clicks with the left button.
    pub fn click(&self, [x, y]: [f64; 2]) {
        let place = [x, y].map(|at| format!("{at:.0}"));
        self.xdotool(&["mousemove", "--sync", &place[0], &place[1]]);
        // The pointer rests for a frame, as a hand's does.
        std::thread::sleep(LOOK_EVERY);
        self.xdotool(&["click", "1"]);
        std::thread::sleep(LOOK_EVERY);
    }

    /// Width and height of the window, px.
    pub fn size(&self) -> [f64; 2] {
        let words = self.xdotool(&["getwindowgeometry", "--shell", &self.id]);
        ["WIDTH=", "HEIGHT="].map(|name| {
            let value = words.lines().find_map(|line| line.strip_prefix(name));
            value.expect("a size").trim().parse().expect("a number")
        })
    }

    /// The title shows this.
    pub fn title(&self) -> String {
        self.xdotool(&["getwindowname", &self.id])
    }
}

impl Drop for RealWindow<'_> {
    fn drop(&mut self) {
        let _ = self.program.kill();
        let _ = self.program.wait();
    }
}

/// Looks again and again until there is something to see.
pub fn wait_for<T>(what: &str, mut look: impl FnMut() -> Option<T>) -> T {
    let begun = Instant::now();
    loop {
        if let Some(seen) = look() {
            return seen;
        }
        assert!(begun.elapsed() < PATIENCE, "{what} never came");
        std::thread::sleep(LOOK_EVERY);
    }
}
