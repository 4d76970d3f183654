//! Checks that each pure room, where time and input are arguments, has the lints that keep it pure.
//!
//! A crate's `clippy.toml` replaces the one at the top, so the rule would silently stop working if the
//! file were missing or lacked a line.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

/// The rooms that read no clock, start no thread and touch no disk.
const PURE: [&str; 7] = [
    "crates/time",
    "crates/midi",
    "crates/song",
    "crates/engine",
    "crates/clock",
    "crates/exchange",
    "crates/font",
];

/// The functions and types whose use each of them must refuse.
const REFUSED: [&str; 10] = [
    "std::time::Instant::now",
    "std::time::SystemTime::now",
    "std::thread::spawn",
    "std::thread::sleep",
    "std::fs::read",
    "std::fs::read_to_string",
    "std::fs::write",
    "std::fs::File",
    "std::collections::HashMap",
    "std::collections::HashSet",
];

/// Checks the lint file of each pure room.
pub fn check(top: &Path) -> Vec<String> {
    let mut faults = Vec::new();
    for room in PURE {
        let name = format!("{room}/clippy.toml");
        match fs::read_to_string(top.join(&name)) {
            Ok(text) => faults.extend(check_text(&name, &text)),
            Err(error) => faults.push(format!("{name} could not be read ({error})")),
        }
    }
    faults
}

fn check_text(name: &str, text: &str) -> Vec<String> {
    let refused = refused(text);
    let missing = REFUSED.iter().filter(|path| !refused.contains(**path));
    missing.map(|path| format!("{name} does not refuse {path}: a pure room has to")).collect()
}

/// Every `path = "..."` of the file, except in lines that are commented out.
fn refused(text: &str) -> BTreeSet<&str> {
    let lines = text.lines().filter(|line| !line.trim_start().starts_with('#'));
    lines
        .flat_map(|line| line.split("path = \"").skip(1))
        .filter_map(|rest| rest.split('"').next())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn full() -> String {
        REFUSED
            .iter()
            .map(|path| format!("    {{ path = \"{path}\", reason = \"x\" }},\n"))
            .collect()
    }

    #[test]
    fn a_file_with_every_line_has_no_fault() {
        assert_eq!(check_text("clippy.toml", &full()), [""; 0]);
    }

    #[test]
    fn a_missing_or_commented_out_rule_is_reported() {
        let thin =
            full().replace("{ path = \"std::thread::spawn\"", "# { path = \"std::thread::spawn\"");
        let faults = check_text("crates/song/clippy.toml", &thin);
        assert_eq!(
            faults,
            ["crates/song/clippy.toml does not refuse std::thread::spawn: a pure room has to"]
        );
        assert_eq!(check_text("clippy.toml", "").len(), REFUSED.len());
    }

    #[test]
    fn a_longer_path_does_not_count_as_a_shorter_one() {
        let thin = full().replace("\"std::fs::read\"", "\"std::fs::read_link\"");
        assert_eq!(check_text("clippy.toml", &thin).len(), 1);
    }
}
