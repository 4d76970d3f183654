//! `cargo xtask assets`: generates the committed files that nobody writes by hand.
//!
//! In: the recipes of `crates/font`. Out: `assets/default.sf2`, or with `--check` an
//! error if the file there differs.

use anyhow::{Context, Result, bail};
use std::fs;
use std::path::Path;

/// The file of the default sounds.
const FONT: &str = "assets/default.sf2";

/// Generates or checks the file, and prints its size.
pub fn assets(top: &Path, check: bool) -> Result<()> {
    let made = chaconne_font::default_font();
    let place = top.join(FONT);
    if check {
        let here = fs::read(&place).with_context(|| format!("{FONT} could not be read"))?;
        if here != made {
            bail!("{FONT} is not up to date: run 'cargo xtask assets' and commit it");
        }
    } else {
        fs::write(&place, &made).with_context(|| format!("{FONT} could not be written"))?;
    }
    println!("{FONT}  {} bytes", made.len());
    Ok(())
}
