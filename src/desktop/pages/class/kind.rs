//! What is graded: traces, blocks, or by two people who know no names.

/// What is graded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Kind {
    #[default]
    Traces,
    /// Pairs of blocks before and after shaping.
    Blocks,
    /// By two people who know no names.
    Marking,
}

impl Kind {
    /// Each with its name.
    pub const ALL: [(Kind, &str); 3] = [
        (Kind::Traces, "Traces of films"),
        (Kind::Blocks, "Blocks before and after"),
        (Kind::Marking, "Double marking"),
    ];
}
