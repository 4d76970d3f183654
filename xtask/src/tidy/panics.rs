//! A program that musicians run must not panic, so every crate that ships denies `unwrap` and
//! `expect`. A line that needs one anyway allows it and says why.
//!
//! In: the crates' root files. Out: a fault for each without the lint.

use std::fs;
use std::path::Path;

/// The crates that ship. `counting` and `xtask` are for tests and developers only, and `jack-sys`
/// stands in for a published package.
const SHIPPED: [&str; 12] = [
    "crates/time/src/lib.rs",
    "crates/midi/src/lib.rs",
    "crates/song/src/lib.rs",
    "crates/engine/src/lib.rs",
    "crates/clock/src/lib.rs",
    "crates/ports/src/lib.rs",
    "crates/sound/src/lib.rs",
    "crates/font/src/lib.rs",
    "crates/exchange/src/lib.rs",
    "crates/rig/src/lib.rs",
    "crates/tui/src/lib.rs",
    "crates/cli/src/main.rs",
];

/// The attribute that denies `unwrap` and `expect` outside of tests.
const DENIED: &str = "#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::expect_used))]";

/// Checks the root file of every crate that ships.
pub fn check(top: &Path) -> Vec<String> {
    let faults = SHIPPED.iter().filter_map(|name| match fs::read_to_string(top.join(name)) {
        Ok(text) => check_text(name, &text),
        Err(error) => Some(format!("{name} could not be read ({error})")),
    });
    faults.collect()
}

fn check_text(name: &str, text: &str) -> Option<String> {
    let is_denied = text.lines().any(|line| line == DENIED);
    (!is_denied).then(|| format!("{name} does not deny unwrap and expect: add the line {DENIED}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_crate_without_the_lint_is_reported() {
        assert_eq!(check_text("lib.rs", &format!("//! A room.\n\n{DENIED}\n\nmod a;\n")), None);
        for text in ["//! A room.\n".to_string(), format!("// {DENIED}\n")] {
            assert!(check_text("lib.rs", &text).is_some_and(|fault| fault.starts_with("lib.rs")));
        }
    }
}
