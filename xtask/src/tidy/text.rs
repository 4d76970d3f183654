//! Checks that no file of ours contains paths of one machine, or placeholders for unwritten code.
//!
//! In: the files that git tracks or would add. Out: faults, each with file and line. The words to look
//! for are joined from parts, so that this file does not contain them.

use crate::run;
use anyhow::{Context, Result};
use std::fs;
use std::io::ErrorKind;
use std::path::Path;
use std::process::Command;

/// Folders that are private to one machine.
const FOLDERS: [&str; 2] = ["work", "root"];
/// Rust for code that is not written yet, or for a test that does not run.
const PUT_OFF: [&str; 3] =
    [concat!("to", "do!("), concat!("unimple", "mented!("), concat!("#[", "ignore")];
/// Folders without files of ours, to skip if git is not available.
const SKIPPED: [&str; 3] = ["target", ".git", ".venv"];

/// Every file to check, as paths under the top folder: those that git tracks or would add. Without git,
/// every file outside the folders in [`SKIPPED`].
pub fn files(top: &Path) -> Result<Vec<String>> {
    let words = ["ls-files", "-z", "--cached", "--others", "--exclude-standard"];
    let Ok(listed) = run::output(Command::new("git").args(words).current_dir(top)) else {
        let mut found = Vec::new();
        walk(top, "", &mut found)?;
        return Ok(found);
    };
    let names = listed.split(|&byte| byte == 0).filter(|name| !name.is_empty());
    Ok(names.map(|name| String::from_utf8_lossy(name).into_owned()).collect())
}

fn walk(top: &Path, folder: &str, found: &mut Vec<String>) -> Result<()> {
    let place = top.join(folder);
    for entry in fs::read_dir(&place).with_context(|| format!("'{folder}' could not be read"))? {
        let entry = entry?;
        let name = entry.file_name().to_string_lossy().into_owned();
        let path = if folder.is_empty() { name.clone() } else { format!("{folder}/{name}") };
        let kind = entry.file_type()?;
        if kind.is_dir() && !SKIPPED.contains(&name.as_str()) {
            walk(top, &path, found)?;
        } else if kind.is_file() {
            found.push(path);
        }
    }
    Ok(())
}

/// Checks one file. A file that git lists but that has been deleted has no fault.
pub fn check(top: &Path, file: &str) -> Result<Vec<String>> {
    match fs::read(top.join(file)) {
        Ok(bytes) => Ok(check_text(file, &bytes)),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(Vec::new()),
        Err(error) => Err(error).with_context(|| format!("{file} could not be read")),
    }
}

fn check_text(file: &str, bytes: &[u8]) -> Vec<String> {
    let mut faults = Vec::new();
    for (index, line) in bytes.split(|&byte| byte == b'\n').enumerate() {
        let number = index + 1;
        if let Some(folder) = FOLDERS.iter().find(|folder| names_folder(line, folder)) {
            faults.push(format!(
                "{file}:{number}: a path under the top-level folder '{folder}' means something on \
                 one machine only: use a path inside the project"
            ));
        }
        let put_off = PUT_OFF.iter().find(|needle| find(line, needle.as_bytes()).next().is_some());
        if let (Some(needle), true) = (put_off, file.ends_with(".rs")) {
            faults
                .push(format!("{file}:{number}: '{needle}' puts work off: do it, or leave it out"));
        }
    }
    faults
}

/// Whether a path in the line starts with `/folder/`.
fn names_folder(line: &[u8], folder: &str) -> bool {
    let needle = format!("/{folder}/");
    find(line, needle.as_bytes()).any(|at| match at.checked_sub(1) {
        Some(before) => !(line[before].is_ascii_lowercase() || line[before] == b'.'),
        None => true,
    })
}

fn find<'a>(line: &'a [u8], needle: &'a [u8]) -> impl Iterator<Item = usize> + 'a {
    line.windows(needle.len())
        .enumerate()
        .filter(move |(_, part)| *part == needle)
        .map(|(at, _)| at)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn faults(file: &str, text: &str) -> usize {
        check_text(file, text.as_bytes()).len()
    }

    #[test]
    fn a_machine_path_is_reported_with_its_line() {
        let text = format!("fine\nsee /{}/notes\n", "work");
        let found = check_text("docs/a.md", text.as_bytes());
        assert_eq!(found.len(), 1);
        assert!(found[0].starts_with("docs/a.md:2: "), "{found:?}");
        for start in ["", "\"", "(", "=", "file:/"] {
            assert_eq!(faults("a.md", &format!("{start}/{}/x", "root")), 1, "{start}");
        }
    }

    #[test]
    fn a_path_inside_the_project_is_accepted() {
        for start in ["crates", "..", "."] {
            assert_eq!(faults("a.md", &format!("{start}/{}/x", "work")), 0, "{start}");
        }
        assert_eq!(faults("a.md", "the root, at work / play"), 0);
    }

    #[test]
    fn placeholders_are_reported_in_rust_files_only() {
        for needle in PUT_OFF {
            assert_eq!(faults("src/a.rs", &format!("    {needle}")), 1, "{needle}");
            assert_eq!(faults("docs/a.md", needle), 0, "{needle}");
        }
    }

    #[test]
    fn this_file_passes_its_own_check() {
        assert_eq!(check_text("text.rs", include_bytes!("text.rs")), [""; 0]);
    }

    #[test]
    fn binary_files_are_accepted() {
        assert_eq!(check_text("a.mid", b"MThd\xff\xfe\0\n\n"), [""; 0]);
        assert_eq!(check_text("empty", b""), [""; 0]);
    }

    #[test]
    fn without_git_every_folder_but_the_built_ones_is_searched() {
        let top = std::env::temp_dir().join(format!("xtask-walk-{}", std::process::id()));
        for folder in ["src/deep", "target/debug"] {
            fs::create_dir_all(top.join(folder)).unwrap();
        }
        for file in ["a.md", "src/deep/b.rs", "target/debug/c.rs"] {
            fs::write(top.join(file), "x").unwrap();
        }
        let mut found = Vec::new();
        walk(&top, "", &mut found).unwrap();
        found.sort();
        assert_eq!(found, ["a.md", "src/deep/b.rs"]);
        fs::remove_dir_all(top).unwrap();
    }
}
