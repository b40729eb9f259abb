//! Renders the films of `sample-images` again, with truth and cases:
//! `cargo run --release --no-default-features --example make_samples [FOLDER]`.

use std::path::PathBuf;

use lengthfilm::phantom::{PhantomError, render, samples};

fn main() -> Result<(), PhantomError> {
    let folder = std::env::args_os().nth(1).map_or_else(
        || PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("sample-images"),
        PathBuf::from,
    );
    for (name, spec) in samples() {
        let phantom = render(&spec)?;
        let film = if name.ends_with("-dicom") {
            let film = folder.join(format!("{name}.dcm"));
            phantom.save_dicom(&film)?;
            film
        } else {
            let film = folder.join(format!("{name}.png"));
            phantom.save_png(&film)?;
            film
        };
        phantom.save_truth(&folder.join(format!("{name}.truth.json")))?;
        phantom.save_case(&folder.join(format!("{name}.case.json")), &film)?;
        println!("{}", film.display());
    }
    Ok(())
}
