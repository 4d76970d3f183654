//! Files whose tracks share channels and play on several ports, written and read by mido: after an
//! import and an export, each channel of each port sends the same messages at the same ticks.

use chaconne_tests::program;
use chaconne_tests::python::lines_of;
use std::collections::BTreeSet;

/// What a file by mido sends, and what it sends after an import and an export.
fn through(seed: u64) -> (Vec<String>, Vec<String>) {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_string();
    let (theirs, song, ours) = (path("theirs.mid"), path("song.ron"), path("ours.mid"));
    let wrote = lines_of("write_streams.py", &[&theirs, &seed.to_string()]);
    program::run(&["import", &theirs, &song]).ends(0);
    program::run(&["export", &song, "--midi", &ours]).ends(0);
    (wrote, lines_of("read_streams.py", &[&ours]))
}

#[test]
fn shared_channels_on_several_ports_send_the_same_messages_after_import_and_export() {
    let mut ports = BTreeSet::new();
    for seed in 0..12 {
        let (theirs, ours) = through(seed);
        assert!(theirs.len() > 500, "{}", theirs.len());
        ports.extend(theirs.iter().map(|line| line.split(' ').next().unwrap().to_string()));
        let lost: Vec<&String> = theirs.iter().filter(|line| !ours.contains(line)).collect();
        let added: Vec<&String> = ours.iter().filter(|line| !theirs.contains(line)).collect();
        assert!(
            theirs == ours,
            "seed {seed}: {} lost, the first {:?}; {} added, the first {:?}",
            lost.len(),
            &lost[..lost.len().min(8)],
            added.len(),
            &added[..added.len().min(8)],
        );
    }
    assert!(ports.len() > 3, "the seeds cover several ports: {ports:?}");
}
