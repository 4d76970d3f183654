//! Saying things: answers on standard output, messages on standard error.
//!
//! Whoever reads may go away at any time, as `head` does. That ends the saying, not the program.

use crate::exit::Failure;
use std::io::{self, Write};

/// An answer, whole, on standard output. A reader that has gone is no failure.
///
/// # Errors
/// Where it cannot be written for another reason: a full disk, for instance.
pub fn answer(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(format!("the answer cannot be written: {error}").into())
        }
        _ => Ok(()),
    }
}

/// A line on standard output about what goes on. Playing goes on where nobody reads it.
pub fn progress(line: &str) {
    let mut out = io::stdout().lock();
    let _ = writeln!(out, "{line}").and_then(|()| out.flush());
}

/// A message on standard error.
pub fn message(sentence: &str) {
    // Where not even this can be written, there is nobody to tell.
    let _ = writeln!(io::stderr().lock(), "{sentence}");
}
