//! Why a phantom cannot be made.

/// Why a phantom cannot be made.
#[derive(Debug, thiserror::Error)]
pub enum PhantomError {
    /// A value outside what can be built.
    #[error("phantom: `{key}` is {value}; allowed is {low} to {high}")]
    OutOfRange {
        /// Path of the key in the spec.
        key: &'static str,
        /// What it was.
        value: f64,
        /// Least allowed.
        low: f64,
        /// Most allowed.
        high: f64,
    },
    /// Values that exclude each other.
    #[error("phantom: {0}")]
    Contradiction(&'static str),
    /// A film file could not be written or read back.
    #[error(transparent)]
    Film(#[from] crate::film::FilmError),
    /// Another file could not be written.
    #[error("{}: cannot be written: {}", path.display(), crate::atomic_file::reason(.source))]
    Write {
        /// The file.
        path: std::path::PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The built-in demo is damaged.
    #[error("the built-in demo cannot be read: {0}")]
    Demo(#[from] serde_json::Error),
}
