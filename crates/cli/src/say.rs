//! What the program prints: results on standard output, messages on standard error.
//!
//! A reader may close the pipe at any time, as `head` does. That ends the output, not the program.

use crate::exit::Failure;
use chaconne_rig::Rescued;
use std::io::{self, Write};
use std::path::Path;

/// Prints a result. A closed pipe is not an error.
///
/// # Errors
/// Any other failure to write, such as a full disk.
pub fn answer(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(format!("the output cannot be written: {error}").into())
        }
        _ => Ok(()),
    }
}

/// Prints a line about what is happening. Playback continues if nobody reads it.
pub fn progress(line: &str) {
    let mut out = io::stdout().lock();
    let _ = writeln!(out, "{line}").and_then(|()| out.flush());
}

/// Prints a message on standard error.
pub fn message(sentence: &str) {
    // If this fails too, nothing is left to report it on.
    let _ = writeln!(io::stderr().lock(), "{}", plain(sentence));
}

/// Says what became of unsaved changes.
pub fn rescued(rescued: &Rescued) {
    match rescued {
        Rescued::Nothing => {}
        Rescued::Copied(path) => message(&format!(
            "unsaved changes are in {}; 'chaconne sketch' offers to restore them",
            path.display()
        )),
        Rescued::Lost(why) => message(&format!("unsaved changes are lost: {why}")),
    }
}

/// Says that a rescue copy that was restored, but not saved, is offered again.
pub fn still_there(copy: &Path) {
    message(&format!(
        "the changes restored from {} were not saved: 'chaconne sketch' offers them again",
        copy.display()
    ));
}

/// Removes the numbers of system errors, as in `No such file or directory (os error 2)`: the words
/// before them say it all.
pub fn plain(sentence: &str) -> String {
    const MARK: &str = " (os error ";
    let (mut said, mut rest) = (String::new(), sentence);
    while let Some(at) = rest.find(MARK) {
        let (before, after) = (&rest[..at], &rest[at + MARK.len()..]);
        let number =
            after.find(')').filter(|&end| after[..end].bytes().all(|b| b.is_ascii_digit()));
        said.push_str(before);
        match number {
            Some(end) => rest = &after[end + 1..],
            None => {
                said.push_str(MARK);
                rest = after;
            }
        }
    }
    said + rest
}

/// A count with its noun: `1 pass`, `3 passes`.
pub fn counted(count: u64, one: &str, more: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { more })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_numbers_of_system_errors_are_removed() {
        let error = io::Error::from_raw_os_error(2);
        let said = plain(&format!("a.ron cannot be read: {error}; nothing was done"));
        assert_eq!(said.matches("os error").count(), 0, "{said}");
        assert!(said.starts_with("a.ron cannot be read: ") && said.ends_with("; nothing was done"));
        for kept in ["", "a (os error x) b", "(os error 2)", "a (os error 5", "ü (b)"] {
            assert_eq!(plain(kept), kept);
        }
    }
}
