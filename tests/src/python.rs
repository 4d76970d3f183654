//! The Python of the tests, which has MIDI and audio libraries that are not ours.

use std::path::{Path, PathBuf};

/// The private environment that `cargo xtask test` and `cargo xtask bench` prepare.
///
/// # Panics
/// If it is missing.
pub fn python() -> PathBuf {
    let top = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let python = std::env::var_os("CHACONNE_PYTHON").map(PathBuf::from);
    let python = python.unwrap_or_else(|| top.join(".venv/bin/python"));
    assert!(
        python.exists(),
        "there is no Python at {}: run 'cargo xtask test', which prepares it",
        python.display()
    );
    python
}
