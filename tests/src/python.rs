//! The Python of the tests, which has MIDI and audio libraries that are not ours.

use std::path::{Path, PathBuf};
use std::process::Command;

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

/// Runs a script of `tests/python` and returns the lines that it prints.
///
/// # Panics
/// If the script fails; what it wrote to standard error says why.
pub fn lines_of(script: &str, arguments: &[&str]) -> Vec<String> {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("python").join(script);
    let output = Command::new(python())
        .env("PYTHONDONTWRITEBYTECODE", "1")
        .arg(script)
        .args(arguments)
        .output()
        .expect("Python starts");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).expect("UTF-8").lines().map(String::from).collect()
}
