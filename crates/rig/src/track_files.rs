//! The names of files that hold one track each, and the folder for them.

use std::fs;
use std::path::Path;

/// The most letters of a track's name in the name of its file.
const MOST_LETTERS: usize = 40;

/// The name of a track's file: that of the whole, a number that keeps the order, and the letters of
/// the track's name that every system accepts.
pub(crate) fn name(whole: &str, number: usize, track: &str, extension: &str) -> String {
    let safe = |letter: char| if letter.is_alphanumeric() { letter } else { '-' };
    let name: String = track.trim().chars().take(MOST_LETTERS).map(safe).collect();
    let words: Vec<&str> = name.split('-').filter(|word| !word.is_empty()).collect();
    let name = if words.is_empty() { "track".into() } else { words.join("-") };
    format!("{whole}-{number:02}-{name}.{extension}")
}

/// The name of a file without its extension.
pub(crate) fn stem(path: &Path) -> String {
    path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default()
}

/// Creates the folder unless it exists; the folder that it is in must exist.
///
/// # Errors
/// One sentence that names it.
pub(crate) fn create(folder: &Path) -> Result<(), String> {
    if folder.is_dir() {
        return Ok(());
    }
    if folder.exists() {
        return Err(format!("{} is a file, not a folder", folder.display()));
    }
    let failed = |error| format!("the folder '{}' cannot be created: {error}", folder.display());
    fs::create_dir(folder).map_err(failed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_contain_only_letters_that_every_system_accepts() {
        let whole = stem(Path::new("out/mix.v2.wav"));
        let name = |number, track| name(&whole, number, track, "wav");
        assert_eq!(name(1, "Bass"), "mix.v2-01-Bass.wav");
        assert_eq!(name(12, " ../Línea: 2?/ "), "mix.v2-12-Línea-2.wav");
        assert_eq!(name(3, "///"), "mix.v2-03-track.wav");
        assert!(name(3, &"x".repeat(500)).len() < 60);
    }

    #[test]
    fn only_a_folder_or_nothing_may_be_in_the_place_of_the_folder() {
        let place = tempfile::tempdir().unwrap();
        let folder = place.path().join("tracks");
        assert_eq!((create(&folder), create(&folder)), (Ok(()), Ok(())));
        let file = place.path().join("file");
        fs::write(&file, "").unwrap();
        assert_eq!(create(&file), Err(format!("{} is a file, not a folder", file.display())));
        assert!(
            create(&place.path().join("none/tracks")).unwrap_err().contains("cannot be created")
        );
    }
}
