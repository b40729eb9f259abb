//! What the reader looks for.

/// What the reader looks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sign {
    /// Centre line of a file, from its stop to its tip.
    File,
    /// Tip of a file.
    Tip,
    /// Centre of a stop's tooth-side face.
    Stop,
    /// End of a root.
    Apex,
    /// Centre line of a canal.
    Canal,
}
