//! Where the program keeps what it remembers from one start to the next.

use std::ffi::OsString;
use std::path::PathBuf;

/// The program's own folder for state, in the place that the system has for such files; `None` if the
/// environment does not name one. On Unix that is below the state folder of the XDG Base Directory
/// Specification 0.8: `$XDG_STATE_HOME`, which must be absolute, else `~/.local/state`.
pub fn state_folder(variable: impl Fn(&str) -> Option<OsString>) -> Option<PathBuf> {
    let absolute = |name: &str| variable(name).map(PathBuf::from).filter(|path| path.is_absolute());
    let folder = if cfg!(windows) {
        absolute("LOCALAPPDATA")
    } else if cfg!(target_os = "macos") {
        absolute("HOME").map(|home| home.join("Library/Application Support"))
    } else {
        let in_home = || absolute("HOME").map(|home| home.join(".local/state"));
        absolute("XDG_STATE_HOME").or_else(in_home)
    };
    folder.map(|folder| folder.join("chaconne"))
}

#[cfg(all(test, unix, not(target_os = "macos")))]
mod tests {
    use super::*;

    #[test]
    fn it_is_where_the_system_keeps_state() {
        // XDG Base Directory Specification 0.8, "Environment variables".
        let of = |pairs: &'static [(&str, &str)]| {
            let find = move |name: &str| pairs.iter().find(|(known, _)| *known == name);
            state_folder(move |name| find(name).map(|(_, value)| OsString::from(value)))
        };
        let folder = |path: &str| Some(PathBuf::from(path));
        assert_eq!(of(&[]), None);
        assert_eq!(of(&[("HOME", "/home/ada")]), folder("/home/ada/.local/state/chaconne"));
        assert_eq!(
            of(&[("HOME", "/home/ada"), ("XDG_STATE_HOME", "/var/ada")]),
            folder("/var/ada/chaconne")
        );
        // "All paths set in these environment variables must be absolute. If an implementation
        // encounters a relative path … it should consider the path invalid and ignore it."
        assert_eq!(
            of(&[("HOME", "/home/ada"), ("XDG_STATE_HOME", "state")]),
            folder("/home/ada/.local/state/chaconne")
        );
    }
}
