//! The file of changed keys: where it is, reading it, and `keys`, which lists every action.

use crate::args::Keys;
use crate::exit::{Ended, Failure};
use crate::say;
use chaconne_tui::{Keyboard, Keymap, keys_listing};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// The longest file of keys, in bytes.
const LONGEST: u64 = 1 << 20;

/// Lists every action with its id and its keys.
pub fn keys(asked: &Keys) -> Result<Ended, Failure> {
    let keyboard = asked.keyboard.unwrap_or_default();
    let usual = usual_file(|name| std::env::var(name).ok());
    let keymap = match (&asked.keys, usual) {
        (Some(path), _) => read(path, keyboard)?.ok_or_else(|| missing(path))?,
        (None, Some(path)) => read(&path, keyboard)?.unwrap_or_default(),
        (None, None) => Keymap::default(),
    };
    say::answer(&keys_listing(keymap))?;
    Ok(Ended::Ok)
}

/// The keys for the screen, and what is wrong with the usual file, if anything is: then the screen has
/// its own keys, because a player cannot wait for that.
///
/// # Errors
/// If the file that was asked for cannot be read or is wrong.
pub fn for_screen(
    asked: Option<&Path>,
    keyboard: Keyboard,
    variable: impl Fn(&str) -> Option<String>,
) -> Result<(Keymap, Option<String>), Failure> {
    if let Some(path) = asked {
        let keymap = read(path, keyboard)?.ok_or_else(|| missing(path))?;
        return Ok((keymap, None));
    }
    let Some(path) = usual_file(variable) else { return Ok((Keymap::default(), None)) };
    Ok(match read(&path, keyboard) {
        Ok(keymap) => (keymap.unwrap_or_default(), None),
        Err(what) => (Keymap::default(), Some(format!("the usual keys apply: {what}"))),
    })
}

fn missing(path: &Path) -> String {
    format!("there is no file '{}': give --keys a file of keys", path.display())
}

/// Reads a file of keys; `None` if there is none. An error is one sentence with file and line.
fn read(path: &Path, keyboard: Keyboard) -> Result<Option<Keymap>, String> {
    let unreadable = |what: &dyn std::fmt::Display| format!("{}: {what}", path.display());
    let about = match std::fs::metadata(path) {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
        about => about.map_err(|error| unreadable(&error))?,
    };
    if !about.is_file() || about.len() > LONGEST {
        return Err(unreadable(&"this is not a file of keys: use a text file"));
    }
    let text = std::fs::read_to_string(path).map_err(|error| unreadable(&error))?;
    let keymap = Keymap::read(&text, keyboard);
    keymap.map(Some).map_err(|error| format!("{}, {error}", path.display()))
}

/// `keys.ron` in the user's configuration folder: on Linux the one of the XDG Base Directory
/// Specification, 0.8, which ignores a path that is not absolute.
fn usual_file(variable: impl Fn(&str) -> Option<String>) -> Option<PathBuf> {
    let folder = |name: &str| variable(name).map(PathBuf::from).filter(|path| path.is_absolute());
    let home = || folder("HOME");
    let base = if cfg!(target_os = "windows") {
        folder("APPDATA")
    } else if cfg!(target_os = "macos") {
        home().map(|home| home.join("Library/Application Support"))
    } else {
        folder("XDG_CONFIG_HOME").or_else(|| home().map(|home| home.join(".config")))
    };
    base.map(|base| base.join("chaconne").join("keys.ron"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[cfg(target_os = "linux")]
    #[test]
    fn the_usual_file_is_in_the_configuration_folder() {
        let path = |xdg: Option<&str>, home: Option<&str>| {
            let variable = |name: &str| match name {
                "XDG_CONFIG_HOME" => xdg.map(str::to_string),
                "HOME" => home.map(str::to_string),
                _ => None,
            };
            usual_file(variable).map(|path| path.display().to_string())
        };
        let home = Some("/home/me");
        let at = |text: &str| Some(text.to_string());
        assert_eq!(path(Some("/cfg"), home), at("/cfg/chaconne/keys.ron"));
        assert_eq!(path(None, home), at("/home/me/.config/chaconne/keys.ron"));
        assert_eq!(path(Some("cfg"), home), at("/home/me/.config/chaconne/keys.ron"));
        assert_eq!(path(None, None), None);
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_wrong_file_is_refused_if_it_was_asked_for_and_else_noted() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("chaconne").join("keys.ron");
        let variable =
            |name: &str| (name == "XDG_CONFIG_HOME").then(|| folder.path().display().to_string());
        let us = Keyboard::Us;
        assert_eq!(for_screen(None, us, variable).unwrap(), (Keymap::default(), None));
        assert!(
            for_screen(Some(&path), us, variable).unwrap_err().0[0].contains("there is no file")
        );
        std::fs::create_dir(folder.path().join("chaconne")).unwrap();
        std::fs::write(&path, "{\n  \"loop\": { \"mute\": [\"Ctrl-C\"] }\n}\n").unwrap();
        let wrong = format!("{}, line 2: Ctrl-C is always 'quit': use another key", path.display());
        let noted = for_screen(None, us, variable).unwrap();
        assert_eq!(noted, (Keymap::default(), Some(format!("the usual keys apply: {wrong}"))));
        assert_eq!(for_screen(Some(&path), us, variable).unwrap_err(), Failure(vec![wrong]));
        std::fs::write(&path, "{ \"loop\": { \"mute\": [\"x\"] } }").unwrap();
        assert_ne!(for_screen(None, us, variable).unwrap().0, Keymap::default());
    }
}
