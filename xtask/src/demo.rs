//! `cargo xtask demo`: builds the program and runs the main job on the demo song.
//!
//! In a terminal it opens the screen, already playing. Without one it records a take in real time,
//! plays a few more rounds, exports the result, and lists the files it wrote. Everything goes to
//! `target/demo`.

use crate::{run, setup};
use anyhow::{Context, Result};
use std::fs;
use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};

const SONG: &str = "assets/demo.ron";
const TAKE: &str = "assets/demo-take.mid";
const FOLDER: &str = "target/demo";

/// Sets up, builds, runs.
pub fn demo(top: &Path, install: bool) -> Result<()> {
    setup::prepare(setup::TO_BUILD, install)?;
    run::step(&mut run::cargo(&["build", "--release", "--package", "chaconne"]))?;
    let folder = top.join(FOLDER);
    fs::create_dir_all(&folder).with_context(|| format!("{FOLDER} could not be created"))?;
    println!("If an instrument or headphones are connected, turn them down first.");
    if io::stdin().is_terminal() && io::stdout().is_terminal() {
        open_screen(top)
    } else {
        run_headless(top)
    }
}

/// The screen works on a copy of the demo song, and never overwrites one that the user has changed.
fn open_screen(top: &Path) -> Result<()> {
    let song = format!("{FOLDER}/sketch.ron");
    if let Some(kept) = set_aside(&top.join(&song), &top.join(SONG))? {
        println!("Your song from the last demo is now {FOLDER}/{kept}.");
    }
    copy_song(top, &song)?;
    run::replace_self(&mut chaconne(&["sketch", &song, "--play"]))
}

fn run_headless(top: &Path) -> Result<()> {
    let song = format!("{FOLDER}/demo.ron");
    let midi = format!("{FOLDER}/demo.mid");
    copy_song(top, &song)?;
    let part = ["--track", "Melody", "--section", "A"];
    let pace = ["--from", TAKE, "--real-time", "--rounds", "2"];
    run::step(chaconne(&["lay", &song]).args(part).args(pace))?;
    run::step(&mut chaconne(&["export", &song, "--midi", &midi, "--replace"]))?;
    println!("Files written:");
    for file in [song, midi] {
        let size =
            fs::metadata(top.join(&file)).with_context(|| format!("{file} was not written"))?.len();
        println!("  {file}  {size} bytes");
    }
    Ok(())
}

fn chaconne(words: &[&str]) -> std::process::Command {
    let mut command = run::cargo(&["run", "--quiet", "--release", "--package", "chaconne", "--"]);
    command.args(words);
    command
}

fn copy_song(top: &Path, to: &str) -> Result<()> {
    fs::copy(top.join(SONG), top.join(to))
        .with_context(|| format!("{SONG} could not be copied to {to}"))?;
    Ok(())
}

/// Renames `song` if it exists and differs from `original`; returns the new file name.
fn set_aside(song: &Path, original: &Path) -> Result<Option<String>> {
    let Ok(bytes) = fs::read(song) else { return Ok(None) };
    if fs::read(original).is_ok_and(|first| first == bytes) {
        return Ok(None);
    }
    let (name, free) = free_name(song);
    fs::rename(song, &free).with_context(|| format!("{FOLDER}/{name} could not be written"))?;
    Ok(Some(name))
}

fn free_name(song: &Path) -> (String, PathBuf) {
    let names = (1u32..).map(|number| format!("sketch-{number}.ron"));
    let mut free = names.map(|name| (song.with_file_name(&name), name));
    let found = free.find(|(path, _)| !path.exists());
    found.map(|(path, name)| (name, path)).expect("a folder holds fewer files than numbers exist")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(name: &str) -> PathBuf {
        let folder = std::env::temp_dir().join(format!("xtask-{name}-{}", std::process::id()));
        fs::create_dir_all(&folder).unwrap();
        folder
    }

    #[test]
    fn a_changed_song_is_set_aside_and_an_unchanged_one_is_not() {
        let folder = folder("set-aside");
        let (song, original) = (folder.join("sketch.ron"), folder.join("demo.ron"));
        fs::write(&original, "first").unwrap();
        assert_eq!(set_aside(&song, &original).unwrap(), None, "nothing there yet");
        fs::write(&song, "first").unwrap();
        assert_eq!(set_aside(&song, &original).unwrap(), None, "unchanged");
        for number in 1..=2 {
            fs::write(&song, format!("mine {number}")).unwrap();
            let kept = set_aside(&song, &original).unwrap().unwrap();
            assert_eq!(kept, format!("sketch-{number}.ron"));
            assert_eq!(fs::read_to_string(folder.join(kept)).unwrap(), format!("mine {number}"));
            assert!(!song.exists());
        }
        fs::remove_dir_all(folder).unwrap();
    }
}
