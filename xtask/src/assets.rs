//! `cargo xtask assets`: generates the default sounds, a committed file that nobody writes by hand.
//!
//! In: the recipes of `crates/font`. Out: `assets/default.sf2`, or with `--check` an error if the file
//! differs from them.

use anyhow::{Context, Result, bail};
use std::fs;
use std::path::Path;

/// The file of the default sounds.
const FONT: &str = "assets/default.sf2";

/// Generates or checks the file, and prints its size.
pub fn assets(top: &Path, check: bool) -> Result<()> {
    let generated = chaconne_font::default_font();
    let path = top.join(FONT);
    if check {
        let committed = fs::read(&path).with_context(|| format!("{FONT} could not be read"))?;
        if committed != generated {
            bail!("{FONT} is not up to date: run 'cargo xtask assets' and commit it");
        }
    } else {
        fs::write(&path, &generated).with_context(|| format!("{FONT} could not be written"))?;
    }
    println!("{FONT}  {} bytes", generated.len());
    Ok(())
}
