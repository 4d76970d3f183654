//! `cargo xtask tidy`: the house rules that no compiler checks.
//!
//! In: the workspace as cargo and git see it. Out: nothing, or all faults, each in one sentence that
//! says where it is and what would be right.

mod graph;
mod map;
mod panics;
mod paths;
mod purity;
mod text;

use anyhow::{Context, Result, bail};
use std::fs;
use std::path::Path;

pub use text::files;

const MAP: &str = "docs/map.md";

/// Checks every rule and fails if any is broken.
pub fn tidy(top: &Path) -> Result<()> {
    let graph = graph::read()?;
    let page =
        fs::read_to_string(top.join(MAP)).with_context(|| format!("{MAP} could not be read"))?;
    let (rooms, mut faults) = map::parse(&page);
    faults.extend(map::check(&rooms, &graph));
    faults.extend(purity::check(top));
    faults.extend(panics::check(top));
    let files = files(top)?;
    for file in &files {
        faults.extend(text::check(top, file)?);
        if paths::is_page(file) {
            let page = fs::read_to_string(top.join(file))
                .with_context(|| format!("{file} could not be read"))?;
            faults.extend(paths::check(top, file, &page));
        }
    }
    for fault in &faults {
        eprintln!("tidy: {fault}");
    }
    if !faults.is_empty() {
        bail!("{} broken", count(faults.len(), "house rule"));
    }
    println!(
        "tidy: {} and {} keep the house rules",
        count(graph.packages.len(), "package"),
        count(files.len(), "file")
    );
    Ok(())
}

fn count(number: usize, noun: &str) -> String {
    let plural = if number == 1 { "" } else { "s" };
    format!("{number} {noun}{plural}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_agree_with_their_noun() {
        assert_eq!(count(1, "file"), "1 file");
        assert_eq!(count(12, "file"), "12 files");
    }
}
