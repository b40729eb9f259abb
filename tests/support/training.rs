//! Films rendered for training, block by block, as raw arrays that grow.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use rayon::prelude::*;

/// What is rendered, and where to.
#[derive(Args)]
pub struct Rendered {
    folder: PathBuf,
    #[arg(long, default_value_t = 4000)]
    films: u64,
    #[arg(long, default_value_t = 0)]
    skip: u64,
}

/// Name of an array and what a sample adds to it.
pub type Array<S> = (&'static str, fn(&S) -> Vec<u8>);

/// Little-endian bytes of an array's numbers.
pub fn bytes_of<T: Copy, const N: usize>(numbers: &[T], bytes: fn(T) -> [u8; N]) -> Vec<u8> {
    numbers.iter().flat_map(|n| bytes(*n)).collect()
}

/// Appends what `samples` gives for the seeds from `first_seed` on to `arrays`,
/// after every `block` films.
///
/// # Errors
/// The folder cannot be written.
pub fn append_in_blocks<S: Send>(
    rendered: &Rendered,
    first_seed: u64,
    block: usize,
    samples: impl Fn(u64) -> Vec<S> + Sync,
    arrays: &[Array<S>],
) -> std::io::Result<()> {
    std::fs::create_dir_all(&rendered.folder)?;
    let first = first_seed + rendered.skip;
    let seeds: Vec<u64> = (first..first + rendered.films).collect();
    for block in seeds.chunks(block) {
        let samples: Vec<S> = block
            .par_iter()
            .flat_map_iter(|&seed| samples(seed))
            .collect();
        for (name, bytes) in arrays {
            let bytes: Vec<u8> = samples.iter().flat_map(bytes).collect();
            std::fs::File::options()
                .create(true)
                .append(true)
                .open(rendered.folder.join(name))?
                .write_all(&bytes)?;
        }
    }
    Ok(())
}
