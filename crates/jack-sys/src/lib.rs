//! The JACK library's C interface, opened at run time: a stand-in for the published package
//! `jack-sys`, which asks pkg-config for JACK when it is built, and fails where the answer is no.
//!
//! In: the library on the machine, if there is one. Out: its functions under their C names. The
//! workspace's `Cargo.toml` puts this package in the place of the published one, for `jack` and
//! `cpal` alike, so that nothing of JACK is needed to build chaconne. Types and signatures are those
//! of `jack-sys` 0.5.1 by Patrick Reisert (MIT OR Apache-2.0; both licences are beside this file);
//! its build script, and the linking that it wrote, are left out.
//!
//! What each function does and asks of its arguments is documented at <https://jackaudio.org/api/>.

#![allow(non_camel_case_types, non_upper_case_globals, unsafe_code)]
#![allow(clippy::missing_safety_doc, clippy::too_many_arguments, clippy::unused_unit)]

mod consts;
mod functions;
// As `bindgen` wrote it.
#[allow(clippy::all)]
mod types;

pub use consts::*;
pub use functions::*;
pub use types::*;

use libloading::{Error, Library};
use std::sync::LazyLock;

static LIBRARY: LazyLock<Result<Library, Error>> = LazyLock::new(|| {
    // SAFETY: what JACK runs when it is opened and closed asks for nothing of us.
    unsafe { Library::new(JACK_LIB) }
});

/// The library, opened at the first call and never closed.
///
/// # Errors
/// Where there is none on this machine. A function that is called then panics.
pub fn library() -> Result<&'static Library, &'static Error> {
    LIBRARY.as_ref()
}
