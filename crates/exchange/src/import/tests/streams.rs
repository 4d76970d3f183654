//! Channels that several tracks share, and ports.

use super::*;

/// A file of format 1 with 96 ticks to the quarter and these tracks.
fn tracks(tracks: &[&str]) -> Vec<u8> {
    file(1, tracks.len() as u16, 96, tracks)
}

#[test]
fn tracks_on_one_channel_are_one_stream() {
    // MIDI 1.0: a controller belongs to a channel, so the second track's expression moves the first
    // track's notes as well. Channel 1, expression at 0 by the first, at 96 by the second, at 192
    // by the first.
    let bytes = tracks(&[
        "00B00B40 00903C40 8140B00B50 00803C40 00FF2F00",
        "60B00B20 00904340 60804340 00FF2F00",
    ]);
    let found = imported(&bytes);
    assert_eq!(
        lane(&found.song, Control::Change(U7::low_bits(11))),
        [(0, 0x40), (960, 0x20), (1920, 0x50)]
    );
    assert_eq!(found.song.tracks.len(), 2);
    assert_remark(&found, "1 channel with a controller that several tracks move");
    // The bank and program of one track select the sound of both.
    let bytes = tracks(&["00C005 00FF2F00", "00903C40 60803C40 00FF2F00"]);
    let song = imported(&bytes).song;
    let programs: Vec<Option<U7>> = song.tracks.iter().map(|track| track.program).collect();
    assert_eq!(programs, [U7::new(5)]);
}

#[test]
fn a_release_may_be_in_another_track_of_the_channel() {
    let bytes = tracks(&["00903C40 8340FF2F00", "60803C40 00FF2F00"]);
    let found = imported(&bytes);
    assert_eq!(notes_at(&found.song, 96), [(0, 60, 64, 0, 96)]);
    assert!(found.remarks.is_empty(), "{:?}", found.remarks);
    // But of two tracks that hold the key, each releases its own.
    let bytes = tracks(&["00903C40 8140803C40 00FF2F00", "60903C40 30803C40 00FF2F00"]);
    let notes = notes_at(&imported(&bytes).song, 96);
    assert_eq!(notes, [(0, 60, 64, 0, 192), (0, 60, 64, 96, 48)]);
}

#[test]
fn port_numbers_become_ports() {
    let ports = |chunks: &[&str]| -> Vec<(String, String)> {
        let song = imported(&tracks(chunks)).song;
        song.tracks.iter().map(|track| (track.name.clone(), track.port.clone())).collect()
    };
    let note = "00903C40 60803C40";
    let on = |port: u8| format!("00FF2101{port:02X} {note} 00FF2F00");
    let named = |pairs: &[(&str, &str)]| -> Vec<(String, String)> {
        pairs.iter().map(|&(name, port)| (name.to_string(), port.to_string())).collect()
    };
    // One port needs no name. A track that names none is on the first.
    assert_eq!(ports(&[&on(0), &on(0)]), named(&[("Channel 1", ""), ("Channel 1 2", "")]));
    let plain = format!("{note} 00FF2F00");
    assert_eq!(
        ports(&[&plain, &on(3)]),
        named(&[("Channel 1", "port 1"), ("Channel 1 2", "port 4")])
    );
    // A track that changes its port becomes two.
    let both = format!("{note} 00FF210101 {note} 00FF2F00");
    assert_eq!(
        ports(&[&both]),
        named(&[("Channel 1 port 1", "port 1"), ("Channel 1 port 2", "port 2")])
    );
}

#[test]
fn a_pedal_that_comes_up_at_the_end_adds_no_bar() {
    // 96 ticks to the quarter: a bar of 4/4 is 384 ticks, 83 00 as a number.
    let bytes = worked::track("00B04040 00903C40 60803C40 8220B04000 00FF2F00");
    let song = imported(&bytes).song;
    assert_eq!(song.sections[0].metre.bars(), 1);
    assert_eq!(lane(&song, Control::SUSTAIN), [(0, 64), (3840, 0)]);
}
