//! The `lengthfilm` program: see [`lengthfilm::cli`].

fn main() -> std::process::ExitCode {
    lengthfilm::cli::run(std::env::args_os())
}
