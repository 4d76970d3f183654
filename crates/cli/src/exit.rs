//! How the program ends: its exit codes, and failures as sentences.

use chaconne_rig::{LoadError, Refusal, WriteError};
use std::process::ExitCode;

/// Success.
pub const OK: u8 = 0;
/// A check failed: `check` found a fault, for instance.
pub const NO: u8 = 1;
/// An error, wrong arguments included; a message says which.
pub const FAILED: u8 = 2;
/// A thread panicked; the program released everything that sounded first.
pub const CRASHED: u8 = 101;
/// A signal ended the program early: 128 plus the number of the signal, as shells report it.
pub const SIGNAL: u8 = 128;
/// The number of the signal for a closed terminal (POSIX, SIGHUP).
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
    /// See [`SIGNAL`]; holds the number of the signal.
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

/// Why a command failed: sentences for standard error.
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
            WriteError::Refused(Refusal::Several(..)) => "; --replace overwrites them",
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
        match error {
            LoadError::Midi(sentence) => {
                let hint = "make a song from it with 'chaconne import FILE.mid SONG.ron'";
                format!("{sentence}: {hint}").into()
            }
            other => Failure(other.sentences().to_vec()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exit_codes_for_signals_follow_the_shell_convention() {
        // POSIX, "Exit Status and Errors": above 128; in all common shells 128 plus the number.
        assert_eq!(Ended::Signal(HANG_UP).code(), 129);
        assert_eq!(Ended::Signal(15).code(), 143);
        assert_eq!([Ended::Ok, Ended::No, Ended::Failed].map(Ended::code), [0, 1, 2]);
    }
}
