//! `cargo xtask open-sets`: plays MIDI files that other projects publish.
//!
//! They are fetched into `target/open-sets`, imported, looped, laid, exported and heard. Not part of
//! `cargo xtask test`: the files come over the network, and their licences keep them out of the
//! repository.

use crate::{run, setup, venv};
use anyhow::{Context, Result};
use std::fs;
use std::path::{Path, PathBuf};

/// Fetches the files and runs the tests that need them.
pub fn open_sets(top: &Path, install: bool) -> Result<()> {
    setup::prepare(setup::TO_TEST, install)?;
    let python = venv::prepare(top)?;
    let (files, songs) = (top.join("target/open-sets/files"), top.join("target/open-sets/songs"));
    run::step(
        std::process::Command::new(&python)
            .arg(top.join("tests/python/fetch_open_sets.py"))
            .arg(&files),
    )
    .context("the files could not be fetched")?;
    run::step(&mut run::cargo(&["build", "--package", "chaconne"]))?;
    import(top, &files, &songs)?;
    let ignored = ["--", "--ignored"];
    let heard = ["test", "--package", "chaconne-clock", "--test", "whole"];
    let looped = ["test", "--package", "chaconne-tests", "--test", "open_sets"];
    run::step(run::cargo(&heard).args(ignored).env("CHACONNE_SONGS", &songs))?;
    run::step(run::cargo(&looped).args(ignored).env("CHACONNE_OPEN_SETS", &files))
}

/// Imports every file. One that is refused is named, with the reason.
fn import(top: &Path, files: &Path, songs: &Path) -> Result<()> {
    fs::create_dir_all(songs).context("the folder for the songs could not be created")?;
    let program =
        top.join("target/debug").join(format!("chaconne{}", std::env::consts::EXE_SUFFIX));
    for file in midi_files(files)? {
        let set = file.parent().and_then(Path::file_name).unwrap_or_default().to_string_lossy();
        let name = file.file_stem().unwrap_or_default().to_string_lossy();
        let song = songs.join(format!("{set} {name}.ron"));
        let mut import = std::process::Command::new(&program);
        import.arg("import").args([&file, &song]).arg("--replace");
        if let Err(refused) = run::output(&mut import) {
            println!("{refused:#}");
        }
    }
    Ok(())
}

/// The MIDI files in the folders of a folder.
fn midi_files(folder: &Path) -> Result<Vec<PathBuf>> {
    let mut files = Vec::new();
    for set in fs::read_dir(folder).context("the folder of files could not be read")? {
        let set = set?.path();
        if set.is_dir() {
            for file in fs::read_dir(&set)? {
                files.push(file?.path());
            }
        }
    }
    files.sort();
    Ok(files)
}
