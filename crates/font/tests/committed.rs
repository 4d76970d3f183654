//! The committed file is what the recipes make.

#[test]
fn the_committed_file_is_what_the_recipes_make() {
    let made = chaconne_font::default_font();
    let committed = include_bytes!("../../../assets/default.sf2");
    assert!(made == committed, "run 'cargo xtask assets' and commit assets/default.sf2");
    assert!(made.len() <= 3_000_000, "{} bytes: the default font may have 3 MB", made.len());
}
