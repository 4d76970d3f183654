//! How the program ends: its exit codes, and failures as sentences.

use chaconne_rig::{LoadError, WriteError};
use std::process::ExitCode;

/// It was done, or the answer is yes.
pub const OK: u8 = 0;
/// The answer is no: `check` has found something wrong.
pub const NO: u8 = 1;
/// It could not be done; a message says why. Wrong arguments end so, too.
pub const FAILED: u8 = 2;
/// A thread panicked; everything that sounded was released first.
pub const CRASHED: u8 = 101;
/// A signal ended it before it was done: 128 and the signal's number, as shells tell it.
pub const SIGNAL: u8 = 128;
/// The number of the signal that tells of a lost terminal (POSIX, SIGHUP).
pub const HANG_UP: i32 = 1;

/// How the program ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// See [`OK`].
    Ok,
    /// See [`NO`].
    No,
    /// See [`FAILED`].
    Failed,
    /// See [`CRASHED`].
    Crashed,
    /// See [`SIGNAL`]: which one.
    Signal(i32),
}

impl Ended {
    /// The exit code.
    pub fn code(self) -> u8 {
        match self {
            Ended::Ok => OK,
            Ended::No => NO,
            Ended::Failed => FAILED,
            Ended::Crashed => CRASHED,
            Ended::Signal(number) => SIGNAL.saturating_add(u8::try_from(number).unwrap_or(0)),
        }
    }
}

impl From<Ended> for ExitCode {
    fn from(ended: Ended) -> ExitCode {
        ExitCode::from(ended.code())
    }
}

/// Why something could not be done: sentences for standard error.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failure(pub Vec<String>);

impl From<String> for Failure {
    fn from(sentence: String) -> Failure {
        Failure(vec![sentence])
    }
}

impl From<WriteError> for Failure {
    fn from(error: WriteError) -> Failure {
        let hint = match &error {
            WriteError::Refused(refusal) if refusal.can_be_confirmed() => {
                "; --replace overwrites it"
            }
            _ => "",
        };
        format!("{error}{hint}").into()
    }
}

impl From<LoadError> for Failure {
    fn from(error: LoadError) -> Failure {
        Failure(error.sentences().to_vec())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signals_are_told_as_shells_tell_them() {
        // POSIX, "Exit Status and Errors": above 128; by all common shells 128 and the number.
        assert_eq!(Ended::Signal(HANG_UP).code(), 129);
        assert_eq!(Ended::Signal(15).code(), 143);
        assert_eq!([Ended::Ok, Ended::No, Ended::Failed].map(Ended::code), [0, 1, 2]);
    }
}
