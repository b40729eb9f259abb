//! Records written from a case, read back by something else.

mod dicom;
mod files;
mod fixture;
mod privacy;
mod robust;
mod shaping;
