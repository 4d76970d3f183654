//! The rig on FIFOs: bytes in, bytes out, and readers that come and go.

use super::*;
use std::fs::{File, OpenOptions};
use std::io::{Read, Write};

fn fifo(folder: &Path, name: &str) -> PathBuf {
    let path = folder.join(name);
    let made = std::process::Command::new("mkfifo").arg(&path).status().unwrap();
    assert!(made.success());
    path
}

#[test]
fn bytes_in_are_recorded_and_come_out_of_the_port_and_a_late_reader_gets_the_settings() {
    let folder = tempfile::tempdir().unwrap();
    let (keys, synth) = (fifo(folder.path(), "keys"), fifo(folder.path(), "synth"));
    let mut song = song_of("test", &[("A", 1)]);
    let id = song.ids().track();
    let track = Track { program: Some(seven(33)), ..Track::pitched(id, "Bass") };
    Edit::AddTrack { at: 0, track: Arc::new(track) }.apply(&mut song).unwrap();
    let config = RigConfig {
        outs: vec![format!("bytes:{}", synth.display()).parse().unwrap()],
        ins: vec![format!("bytes:{}", keys.display()).parse().unwrap()],
        ..RigConfig::default()
    };
    let rig = Rig::start(song, config).unwrap();
    assert!(rig.notices().is_empty(), "{:?}", rig.notices());
    let mut reader = File::open(&synth).unwrap();
    let mut start = [0; 2];
    reader.read_exact(&mut start).unwrap();
    while start != [0xC0, 33] {
        // The messages that silence the port come first.
        start[0] = start[1];
        reader.read_exact(&mut start[1..]).unwrap();
    }
    rig.command(Command::CountIn(0)).unwrap();
    rig.command(Command::Rounds(Rounds::One)).unwrap();
    rig.command(Command::Record(true)).unwrap();
    wait_for("bar one", || rig.status().at > Tick::ZERO);
    let mut player = OpenOptions::new().write(true).open(&keys).unwrap();
    // Running status, with a clock byte inside a message (MIDI 1.0, "Running Status").
    player.write_all(&[0x95, 50, 0xF8, 90, 52, 91, 50, 0]).unwrap();
    wait_for("the notes", || {
        rig.status().unfinished.as_ref().is_some_and(|pass| pass.notes().len() == 2)
    });
    // When the player is unplugged, the key still down is released.
    drop(player);
    wait_for("the release", || rig.snapshot().stats.sounding == 0);
    rig.command(Command::Stop).unwrap();
    let pass = rig.status().song.passes_in(&rig.status().song.sections[0])[0].clone();
    let played: Vec<(u8, u8, u8)> = pass
        .notes()
        .iter()
        .map(|n| (n.channel.number(), n.played.key.get(), n.played.velocity.get()))
        .collect();
    assert_eq!(played, [(6, 50, 90), (6, 52, 91)]);
    assert_eq!(rig.shutdown().sounding, 0);
    let mut rest = Vec::new();
    reader.read_to_end(&mut rest).unwrap();
    let through = |wanted: [u8; 3]| rest.windows(3).any(|bytes| bytes == wanted);
    assert!(through([0x90, 50, 90]) && through([0x90, 52, 91]), "{rest:02X?}");
    assert!(through([0x80, 50, 64]) && through([0x80, 52, 64]), "{rest:02X?}");
}

#[test]
fn playback_continues_after_a_reader_goes_away() {
    let folder = tempfile::tempdir().unwrap();
    let synth = fifo(folder.path(), "synth");
    let config = RigConfig {
        outs: vec![format!("bytes:{}", synth.display()).parse().unwrap()],
        ..RigConfig::default()
    };
    let rig = Rig::start(song_of("test", &[("A", 1)]), config).unwrap();
    let reader = File::open(&synth).unwrap();
    wait_for("the reader", || rig.snapshot().ports[0].state == PortState::Open);
    rig.command(Command::Click(chaconne_engine::Click::Always)).unwrap();
    rig.command(Command::Play).unwrap();
    wait_for("clicks", || rig.snapshot().ports[0].sent > 2);
    drop(reader);
    wait_for("the loss", || rig.snapshot().ports[0].state == PortState::Lost);
    let round = rig.status().round;
    wait_for("another round", || rig.status().round > round);
    assert_eq!(rig.shutdown().sounding, 0);
}
