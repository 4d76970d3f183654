//! The first start of the program, remembered in the user's state folder.
//!
//! In: a question, once for each start. Out: whether it is the first one. It is a convenience: if
//! nothing can be remembered there, no start is the first.

use crate::state_folder::state_folder;
use std::ffi::OsString;
use std::fs::{self, File};
use std::path::PathBuf;

/// The file that is there once the program was started.
const FILE: &str = "tour-offered";

/// What remembers whether this user has started the program before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FirstStart {
    file: PathBuf,
}

impl FirstStart {
    /// That of this user, beside the [recent songs](crate::RecentSongs); `None` if the environment
    /// names no place for it.
    pub fn of_user(variable: impl Fn(&str) -> Option<OsString>) -> Option<FirstStart> {
        state_folder(variable).map(|folder| FirstStart { file: folder.join(FILE) })
    }

    /// Whether this is the first start. From now on it is not. If that cannot be remembered it is not
    /// either, so that what is offered at the first start is never offered at every start.
    pub fn take(&self) -> bool {
        if let Some(folder) = self.file.parent() {
            let _ = fs::create_dir_all(folder);
        }
        // Of two programs that start together only one creates it.
        File::create_new(&self.file).is_ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_first_start_is_the_first() {
        let folder = tempfile::tempdir().unwrap();
        let first = FirstStart { file: folder.path().join("deep/state").join(FILE) };
        assert_eq!([first.take(), first.take(), first.clone().take()], [true, false, false]);
    }

    #[test]
    fn where_nothing_can_be_remembered_no_start_is_the_first() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("file"), "").unwrap();
        let first = FirstStart { file: folder.path().join("file").join(FILE) };
        assert_eq!([first.take(), first.take()], [false, false]);
        assert_eq!(FirstStart::of_user(|_| None), None);
    }
}
