//! Integration tests: one binary, one module per part.

mod agreement;
mod distances;
mod uncertainty;
