//! A copy of the workspace to change, always in the same place, so that what was built stays built.
//!
//! In: the top folder. Out: the copy, without files that are gone from the original.

use crate::tidy;
use anyhow::{Context, Result};
use std::fs;
use std::path::{Path, PathBuf};

const COPY: &str = "target/mutants/copy";
/// What builds leave in the copy.
const BUILT: &str = "target";

/// Copies every file of ours.
pub fn copy(top: &Path) -> Result<PathBuf> {
    let copy = top.join(COPY);
    clear(&copy).with_context(|| format!("{COPY} could not be cleared"))?;
    for file in tidy::files(top)? {
        let (from, to) = (top.join(&file), copy.join(&file));
        if let Some(folder) = to.parent() {
            fs::create_dir_all(folder)
                .with_context(|| format!("no folder for {file} in {COPY}"))?;
        }
        // A file that git still lists may be gone.
        if from.is_file() {
            fs::copy(from, to).with_context(|| format!("{file} could not be copied to {COPY}"))?;
        }
    }
    Ok(copy)
}

/// Removes everything but what was built.
fn clear(copy: &Path) -> Result<()> {
    fs::create_dir_all(copy)?;
    for entry in fs::read_dir(copy)? {
        let entry = entry?;
        if entry.file_name() == BUILT {
            continue;
        }
        if entry.file_type()?.is_dir() {
            fs::remove_dir_all(entry.path())?;
        } else {
            fs::remove_file(entry.path())?;
        }
    }
    Ok(())
}
