//! The committed font file matches the recipes.

#[test]
fn the_committed_file_matches_the_recipes() {
    let made = chaconne_font::default_font();
    let committed = include_bytes!("../../../assets/default.sf2");
    assert!(made == committed, "run 'cargo xtask assets' and commit assets/default.sf2");
    assert!(made.len() <= 3_000_000, "{} bytes: the default font may have 3 MB", made.len());
}
