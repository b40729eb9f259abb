//! Records written from a case, read back by something else.

mod files;
mod fixture;
