//! `cargo xtask assets`: the committed files that are made, not written by hand.
//!
//! In: nothing but the recipes of `crates/font`. Out: `assets/default.sf2`, or with `--check` an
//! error if what lies there is anything else.

use anyhow::{Context, Result, bail};
use std::fs;
use std::path::Path;

/// Where the default sounds lie.
const FONT: &str = "assets/default.sf2";

/// Makes the files, or checks them, and says how large they are.
pub fn assets(top: &Path, check: bool) -> Result<()> {
    let made = chaconne_font::default_font();
    let place = top.join(FONT);
    if check {
        let here = fs::read(&place).with_context(|| format!("{FONT} could not be read"))?;
        if here != made {
            bail!("{FONT} is not what would be made: run 'cargo xtask assets' and commit it");
        }
    } else {
        fs::write(&place, &made).with_context(|| format!("{FONT} could not be written"))?;
    }
    println!("{FONT}  {} bytes", made.len());
    Ok(())
}
