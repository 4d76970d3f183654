//! The JACK library's C interface, opened at run time. It replaces the published package
//! `jack-sys`, whose build script asks pkg-config for JACK and fails if JACK is not installed.
//!
//! In: the library on the machine, if there is one. Out: its functions under their C names. The
//! workspace's `Cargo.toml` substitutes this package for the published one, for `jack` and `cpal`
//! alike, so that building chaconne needs no part of JACK. Types and signatures are those of
//! `jack-sys` 0.5.1 by Patrick Reisert (MIT OR Apache-2.0; both licences are beside this file); its
//! build script, and the linking code that it generated, are left out.
//!
//! <https://jackaudio.org/api/> documents each function and its arguments.

#![allow(non_camel_case_types, non_upper_case_globals, unsafe_code)]
#![allow(clippy::missing_safety_doc, clippy::too_many_arguments, clippy::unused_unit)]

mod consts;
mod functions;
// Kept as `bindgen` generated it.
#[allow(clippy::all)]
mod types;

pub use consts::*;
pub use functions::*;
pub use types::*;

use libloading::{Error, Library};
use std::sync::LazyLock;

static LIBRARY: LazyLock<Result<Library, Error>> = LazyLock::new(|| {
    // SAFETY: the code JACK runs when it is opened and closed has no requirements for us to meet.
    unsafe { Library::new(JACK_LIB) }
});

/// The library, opened at the first call and never closed.
///
/// # Errors
/// Fails if JACK is not installed. Any function called then panics.
pub fn library() -> Result<&'static Library, &'static Error> {
    LIBRARY.as_ref()
}
