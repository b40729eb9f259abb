//! Writes the man pages and shell completions that a package installs, from
//! the command itself: `cargo run --example packaging -- FOLDER`.

use std::path::{Path, PathBuf};

use clap::CommandFactory;
use clap_complete::{Shell, generate_to};
use lengthfilm::cli::Arguments;

fn main() -> std::io::Result<()> {
    let folder = std::env::args_os()
        .nth(1)
        .map_or_else(|| PathBuf::from("target/packaging"), PathBuf::from);
    std::fs::create_dir_all(&folder)?;
    write_all(&folder)
}

fn write_all(folder: &Path) -> std::io::Result<()> {
    clap_mangen::generate_to(Arguments::command(), folder)?;
    for shell in [Shell::Bash, Shell::Zsh, Shell::Fish] {
        generate_to(shell, &mut Arguments::command(), "lengthfilm", folder)?;
    }
    Ok(())
}
