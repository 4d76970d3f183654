//! Checks that the files named in Markdown pages exist.
//!
//! In: a page, and the paths that exist. Out: faults, each with page and line. Only text in
//! backticks that starts like a path of this project is checked: `crates/time/src/lib.rs`, or
//! `time/src/lib.rs` for short.

use std::path::Path;

/// Folders at the top that a path can start with.
const TOPS: [&str; 5] = ["crates", "tests", "xtask", "docs", "assets"];

/// Whether a file of the project is a Markdown page.
pub fn is_page(file: &str) -> bool {
    file == "README.md" || file == "DEVELOPERS.md" || file.starts_with("docs/")
}

/// Checks one page against the files of the project.
pub fn check(top: &Path, file: &str, page: &str) -> Vec<String> {
    check_text(file, page, |path| top.join(path).exists())
}

fn check_text(file: &str, page: &str, exists: impl Fn(&str) -> bool) -> Vec<String> {
    let mut faults = Vec::new();
    for (index, line) in page.lines().enumerate() {
        for path in line.split('`').skip(1).step_by(2) {
            let found = exists(path) || exists(&format!("crates/{path}"));
            if is_path(path, &exists) && !found {
                let number = index + 1;
                faults.push(format!("{file}:{number}: there is no {path}: correct the name"));
            }
        }
    }
    faults
}

/// Whether a text starts like a path of this project.
fn is_path(text: &str, exists: impl Fn(&str) -> bool) -> bool {
    let Some((first, rest)) = text.split_once('/') else { return false };
    let plain = |c: char| c.is_ascii_alphanumeric() || "/._-".contains(c);
    let short = rest.starts_with("src/") && exists(&format!("crates/{first}"));
    text.chars().all(plain) && (TOPS.contains(&first) || short)
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILES: [&str; 5] =
        ["crates/time", "crates/time/src/tick.rs", "docs/map.md", "tests", "crates/time/src/"];

    fn faults(page: &str) -> Vec<String> {
        check_text("docs/a.md", page, |path| FILES.contains(&path))
    }

    #[test]
    fn paths_that_exist_are_accepted_in_full_and_shortened() {
        let page =
            "see `crates/time/src/tick.rs`, `time/src/tick.rs`, `docs/map.md` and `crates/time`";
        assert_eq!(faults(page), [""; 0]);
    }

    #[test]
    fn a_missing_path_is_reported_with_its_line() {
        let found = faults("first\nsee `time/src/tock.rs` and `crates/gone`");
        assert_eq!(found.len(), 2);
        assert_eq!(found[0], "docs/a.md:2: there is no time/src/tock.rs: correct the name");
    }

    #[test]
    fn other_text_is_not_taken_for_a_path() {
        let page = "`tests/*.ron`, `other/src/a.rs`, `and/or`, `cargo xtask test`, crates/gone, `/dev/midi`";
        assert_eq!(faults(page), [""; 0]);
    }

    #[test]
    fn pages_are_the_readme_the_developers_page_and_the_docs() {
        assert!(is_page("README.md") && is_page("DEVELOPERS.md") && is_page("docs/time.md"));
        assert!(!is_page("tests/data/README.md") && !is_page("crates/time/src/lib.rs"));
    }
}
