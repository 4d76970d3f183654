//! Imported files, compared with what the standard or independent readers say they contain.

mod streams;

use super::*;
use crate::worked::{self, file, track};
use crate::{ImportError, take};
use chaconne_song::{Control, U7, U14, text};
use chaconne_time::Tick;
use proptest::prelude::*;

/// A note as independent readers report it: channel from 0, key, velocity, start, length.
type PlainNote = (u8, u8, u8, i64, i64);

fn imported(bytes: &[u8]) -> Imported {
    import(bytes, "a file").unwrap()
}

/// The notes of a song in the ticks of a file of `ppq`, in order.
fn notes_at(song: &Song, ppq: i64) -> Vec<PlainNote> {
    let mut notes: Vec<PlainNote> = Vec::new();
    for note in song.passes.values().flat_map(|pass| pass.notes()) {
        let stroke = note.stroke();
        let scaled = |tick: Tick| tick.0 * ppq / 960;
        notes.push((
            note.channel.wire(),
            stroke.key.get(),
            stroke.velocity.get(),
            scaled(stroke.start),
            scaled(stroke.length),
        ));
    }
    notes.sort();
    notes
}

fn assert_remark(imported: &Imported, words: &str) {
    let found = imported.remarks.iter().any(|remark| remark.contains(words));
    assert!(found, "no '{words}' in {:#?}", imported.remarks);
}

fn lane(song: &Song, control: Control) -> Vec<(i64, u16)> {
    let lanes = song.passes_in(&song.sections[0]).into_iter().flat_map(|pass| pass.lanes());
    let points = lanes.filter(|lane| lane.control == control).flat_map(|lane| &lane.points);
    points.map(|point| (point.at.0, point.value.get())).collect()
}

#[test]
fn the_published_example_has_its_notes_and_programs() {
    // Standard MIDI Files 1.0, pp. 12-14.
    for bytes in [worked::a(), worked::a1()] {
        let imported = imported(&bytes);
        let song = &imported.song;
        assert_eq!(
            notes_at(song, 96),
            [(0, 76, 32, 192, 192), (1, 67, 64, 96, 288), (2, 48, 96, 0, 384), (2, 60, 96, 0, 384)]
        );
        let tracks: Vec<_> = song
            .tracks
            .iter()
            .map(|track| (track.name.as_str(), track.channel.unwrap().number(), track.program))
            .collect();
        let program = |number| Some(U7::low_bits(number));
        assert_eq!(
            tracks,
            [
                ("Channel 1", 1, program(5)),
                ("Channel 2", 2, program(46)),
                ("Channel 3", 3, program(70))
            ]
        );
        let section = &song.sections[0];
        assert_eq!((section.length(), section.metre.bars()), (Tick(3840), 1));
        assert_eq!(section.tempo.first(), Tempo::DEFAULT);
        assert!(song.tracks.iter().all(|track| track.pitched && track.feel.grid.is_none()));
        let bare = song.layers(section).all(|(_, pass)| pass.lanes().is_empty());
        assert!(bare, "programs are settings");
        assert!(imported.remarks.is_empty(), "{:?}", imported.remarks);
    }
}

#[test]
fn metre_key_tempo_names_pedal_and_bend_are_imported() {
    // Constructed example B; decoded alike by two independent libraries.
    let imported = imported(&worked::b());
    let song = &imported.song;
    assert_eq!(notes_at(song, 480), [(2, 36, 80, 0, 240), (2, 43, 88, 240, 480)]);
    assert_eq!(song.title, "Tempo");
    assert_eq!(song.key.unwrap().to_string(), "C minor");
    let section = &song.sections[0];
    assert_eq!(section.tempo.first().to_string(), "150");
    assert_eq!(section.metre.first().to_string(), "6/8");
    assert_eq!(section.metre.first().tempo_unit().to_string(), "1/4 dotted");
    let bass = &song.tracks[0];
    assert_eq!((bass.name.as_str(), bass.program), ("Bass", U7::new(33)));
    assert_eq!(lane(song, Control::SUSTAIN), [(1440, 127), (1920, 0)]);
    assert_eq!(lane(song, Control::Bend), [(1920, 8192)]);
    assert!(imported.remarks.is_empty(), "{:?}", imported.remarks);
}

#[test]
fn unknown_chunks_and_long_headers_are_skipped() {
    // Constructed example C; the standard (p. 2) says to skip unknown chunks and extra bytes in a
    // header.
    let imported = imported(&worked::c());
    assert_eq!(notes_at(&imported.song, 96), [(0, 60, 64, 0, 96), (0, 62, 64, 96, 96)]);
    assert_remark(&imported, "1 chunk of unknown type: skipped");
    assert_remark(&imported, "1 text");
}

#[test]
fn time_in_frames_is_refused_with_the_reason() {
    // Constructed example D: E7 28 hexadecimal is 25 frames per second of 40 ticks each.
    let error = import(&worked::d(), "").unwrap_err();
    assert_eq!(error, ImportError::Smpte { frames: 25, ticks: 40 });
    assert!(error.to_string().contains("its bars are unknown"), "{error}");
    assert_eq!(take(&worked::d()).unwrap_err(), error);
}

#[test]
fn a_system_exclusive_message_stays_whole() {
    // Constructed example E: "General MIDI System On" is F0 7E 7F 09 01 F7.
    let imported = imported(&worked::e());
    let pass = &imported.song.passes_in(&imported.song.sections[0])[0];
    assert_eq!(pass.sysex()[0].bytes, worked::hex("F07E7F0901F7"));
    assert_eq!(notes_at(&imported.song, 96), [(0, 69, 100, 0, 96)]);
    assert!(imported.remarks.is_empty(), "{:?}", imported.remarks);
}

#[test]
fn running_status_across_a_meta_event_is_accepted() {
    // Independent readers make the note 96 ticks long.
    let imported = imported(&track("00903C40 00FF010178 603C00 00FF2F00"));
    assert_eq!(notes_at(&imported.song, 96), [(0, 60, 64, 0, 96)]);
    assert_remark(&imported, "with running status from before a meta");
}

#[test]
fn a_missing_end_mark_is_reported() {
    let imported = imported(&track("00903C40 60803C40"));
    assert_eq!(notes_at(&imported.song, 96), [(0, 60, 64, 0, 96)]);
    assert_remark(&imported, "without an end mark");
}

#[test]
fn the_complete_events_of_a_cut_track_are_kept() {
    let mut bytes = track("00903C40 60803C40 00FF2F00");
    bytes.truncate(bytes.len() - 6);
    let imported = imported(&bytes);
    assert_eq!(notes_at(&imported.song, 96).len(), 1);
    assert_remark(&imported, "6 bytes too early");
    assert_remark(&imported, "1 note still held");
}

#[test]
fn a_number_of_five_bytes_is_accepted() {
    // A fifth byte is malformed (Standard MIDI Files 1.0, p. 2).
    let padded = imported(&track("8080808000903C40 60803C40 00FF2F00"));
    assert_eq!(notes_at(&padded.song, 96), [(0, 60, 64, 0, 96)]);
    assert_remark(&padded, "1 number of more than four bytes");
    // This one is 10000000 hexadecimal: 2,796,202 and two thirds quarter notes.
    let error = import(&track("8180808000903C40 60803C40 00FF2F00"), "").unwrap_err();
    assert_eq!(error, ImportError::TooLong(699_051));
}

#[test]
fn two_presses_of_a_key_end_in_the_order_they_started() {
    // Independent readers that pair first in, first out report (0, 96, velocity 64) and (48, 96,
    // velocity 80).
    let imported = imported(&track("00903C40 30903C50 30803C40 30803C40 00FF2F00"));
    assert_eq!(notes_at(&imported.song, 96), [(0, 60, 64, 0, 96), (0, 60, 80, 48, 96)]);
    assert!(imported.remarks.is_empty(), "{:?}", imported.remarks);
}

#[test]
fn every_track_is_read_whatever_the_header_says() {
    let one = "00903C40 60803C40 00FF2F00";
    let two = "00913E40 60813E40 00FF2F00";
    let nought = imported(&file(0, 2, 96, &[one, two]));
    assert_eq!(notes_at(&nought.song, 96).len(), 2);
    assert_remark(&nought, "which means one track, but there are 2");
    let fewer = imported(&file(1, 1, 96, &[one, two]));
    assert_eq!(notes_at(&fewer.song, 96).len(), 2);
    assert_remark(&fewer, "has 1 tracks, but there are 2");
    let more = imported(&file(1, 9, 96, &[one, two]));
    assert_remark(&more, "has 9 tracks, but there are 2");
}

#[test]
fn data_above_127_is_read_as_127() {
    let imported = imported(&track("00903CC8 60803C40 00FF2F00"));
    assert_eq!(notes_at(&imported.song, 96), [(0, 60, 127, 0, 96)]);
    assert_remark(&imported, "1 data byte above 127");
}

#[test]
fn long_meta_events_lose_their_tail_and_short_ones_are_left_out() {
    let bytes = track("00FF510507A1200000 00FF510107 00FF5803030208 00903C40 60803C40 00FF2F00");
    let imported = imported(&bytes);
    assert_eq!(imported.song.sections[0].tempo.first(), Tempo::DEFAULT);
    assert_remark(&imported, "2 meta events too short");
}

#[test]
fn wrong_chunk_lengths_do_not_shorten_a_track() {
    let two = ["00903C40 60803C40 00FF2F00", "00913E40 60813E40 00FF2F00"];
    let good = file(1, 2, 96, &two);
    for (length, words) in [(5u32, "longer than its chunk"), (9, "longer than its chunk")] {
        let mut bytes = good.clone();
        bytes[18..22].copy_from_slice(&length.to_be_bytes());
        let short = imported(&bytes);
        assert_eq!(notes_at(&short.song, 96).len(), 2, "{length}");
        assert_remark(&short, words);
    }
    for length in [20u32, 5000, u32::MAX] {
        let mut bytes = good.clone();
        bytes[18..22].copy_from_slice(&length.to_be_bytes());
        let long = imported(&bytes);
        assert_eq!(notes_at(&long.song, 96).len(), 2, "{length}");
        assert_remark(&long, "shorter than its chunk");
    }
}

#[test]
fn junk_around_tracks_is_skipped() {
    let mut bytes = file(1, 1, 96, &["00903C40 60803C40 00FF2F00"]);
    bytes.splice(14..14, [0, 1, 2, 3, 0xFF]);
    bytes.extend([0; 9]);
    let imported = imported(&bytes);
    assert_eq!(notes_at(&imported.song, 96).len(), 1);
    assert_remark(&imported, "14 stray bytes between chunks");
}

#[test]
fn data_without_a_status_ends_only_its_own_track() {
    let two = ["003C40 603C00 00FF2F00", "00913E40 60813E40 00FF2F00"];
    let imported = imported(&file(1, 2, 96, &two));
    assert_eq!(notes_at(&imported.song, 96).len(), 1);
    assert_remark(&imported, "data bytes that have no status");
}

#[test]
fn split_and_open_system_exclusive_messages_become_whole() {
    // The standard's example of one message in three packets, 200 and 100 ticks apart (Standard
    // MIDI Files 1.0, "<sysex event>"; the bytes are from memory).
    let bytes = track("00F003431200 8148F706431200431200 64F704431200F7 00FF2F00");
    let packets = imported(&bytes);
    let pass = &packets.song.passes_in(&packets.song.sections[0])[0];
    assert_eq!(pass.sysex().len(), 1);
    assert_eq!(pass.sysex()[0].bytes, worked::hex("F0 431200 431200 431200 431200 F7"));
    assert_eq!(pass.sysex()[0].at, Tick(0));
    let open = imported(&track("00F0027E7F 00904564 60804540 00FF2F00"));
    assert_eq!(
        open.song.passes_in(&open.song.sections[0])[0].sysex()[0].bytes,
        worked::hex("F07E7FF7")
    );
    assert_remark(&open, "1 system-exclusive message without an end: ended there");
    let raw = imported(&track("00F702F301 00F703F043F7 00FF2F00"));
    assert_eq!(
        raw.song.passes_in(&raw.song.sections[0])[0].sysex()[0].bytes,
        worked::hex("F043F7")
    );
    assert_remark(&raw, "1 event of raw bytes");
}

#[test]
fn a_marker_with_the_sections_letter_needs_no_remark() {
    // Type 06 is a marker (Standard MIDI Files 1.0, "Marker").
    let alone = imported(&track("00FF060141 00904564 60804540 00FF2F00"));
    assert!(alone.remarks.is_empty(), "{:?}", alone.remarks);
    let more = imported(&track("00FF060141 00FF060142 00904564 8300804540 00FF060141 00FF2F00"));
    assert_remark(&more, "2 markers left out: 'B' at 1.1.0, 'A' at 2.1.0");
    let named = imported(&track("00FF0603414243 00904564 60804540 00FF2F00"));
    assert_remark(&named, "1 marker left out: 'ABC' at 1.1.0");
    let song = crate::testing::two_sections();
    let route = chaconne_engine::Route::form(&song).unwrap();
    let bytes = crate::export(&song, &route, chaconne_engine::View::Corrected).unwrap();
    assert!(!imported(&bytes).remarks.iter().any(|remark| remark.contains("'A' at 1.1")));
}

#[test]
fn tempi_and_metres_become_those_of_the_section() {
    // 120 at bar 1, given twice (the later one counts), 3/4 and 60 at bar 2, 2000 at bar 3, which
    // is too fast for a song; 960 ticks to the quarter.
    let bytes = file(
        1,
        2,
        960,
        &[
            "00FF5103061A80 00FF510307A120 9E00FF580403021808 00FF51030F4240
             9640FF5103007530 00FF2F00",
            "00903C40 BE40803C40 00FF2F00",
        ],
    );
    let imported = imported(&bytes);
    let section = &imported.song.sections[0];
    let tempi: Vec<_> = section.tempo.steps().map(|(at, tempo)| (at.0, tempo.micros())).collect();
    assert_eq!(tempi, [(0, 500_000), (3840, 1_000_000), (6720, 60_000)]);
    let metres = section.metre.changes().iter();
    let metres: Vec<_> = metres.map(|change| (change.bar, change.metre.to_string())).collect();
    assert_eq!(metres, [(1, "4/4".into()), (2, "3/4".into())]);
    assert_remark(&imported, "1 tempo outside 10 to 1000");
}

#[test]
fn settings_that_change_later_stay_in_their_lanes() {
    // Volume is set once, before the first note, so it becomes a setting; program and pan change,
    // so they become lanes.
    let bytes = track(
        "00B00764 00B00A00 00B00002 00B02003 00C005 00903C40 60803C40 00B00A7F 00C006 00FF2F00",
    );
    let imported = imported(&bytes);
    let track = &imported.song.tracks[0];
    assert_eq!(track.levels.volume, U7::new(100));
    assert_eq!((track.program, track.levels.pan), (U7::new(5), None));
    assert_eq!(track.bank, U14::new(2 * 128 + 3));
    assert_eq!(lane(&imported.song, Control::Program), [(0, 5), (960, 6)]);
    assert_eq!(lane(&imported.song, Control::PAN), [(0, 0), (960, 127)]);
    assert!(lane(&imported.song, Control::VOLUME).is_empty());
}

#[test]
fn a_bank_and_program_that_never_change_become_settings() {
    let imported = imported(&track("00B00001 00C005 00903C40 60803C40 00FF2F00"));
    let track = &imported.song.tracks[0];
    assert_eq!((track.bank, track.program), (U14::new(128), U7::new(5)));
    assert!(imported.song.passes_in(&imported.song.sections[0])[0].lanes().is_empty());
}

#[test]
fn a_registered_parameter_is_one_lane() {
    // MIDI 1.0, "RPN": bend range of 12 semitones.
    let bytes = track("00903C40 00B06500 006400 00060C 002600 00657F 00647F 60803C40 00FF2F00");
    let imported = imported(&bytes);
    let pass = &imported.song.passes_in(&imported.song.sections[0])[0];
    assert_eq!(pass.lanes().len(), 1);
    assert_eq!(lane(&imported.song, Control::Registered(U14::default())), [(0, 12 * 128)]);
}

#[test]
fn channel_modes_end_notes_and_reset_controllers() {
    // MIDI 1.0, "Channel Mode"; RP-015: a reset sets modulation to 0 and leaves volume alone.
    let bytes =
        track("00B00140 00B00740 00903C40 30B00750 30B07900 00B07B00 60903E40 60803E40 00FF2F00");
    let imported = imported(&bytes);
    assert_eq!(notes_at(&imported.song, 96), [(0, 60, 64, 0, 96), (0, 62, 64, 192, 96)]);
    assert_eq!(lane(&imported.song, Control::Change(U7::low_bits(1))), [(0, 64), (960, 0)]);
    assert_eq!(lane(&imported.song, Control::VOLUME), [(0, 64), (480, 80)]);
    assert_remark(&imported, "2 channel mode messages");
}

#[test]
fn channel_ten_is_a_drum_track() {
    let imported = imported(&track("00992640 60892640 00FF2F00"));
    let track = &imported.song.tracks[0];
    assert!(!track.pitched && track.feel.rolls && track.feel.grid.is_none());
}

#[test]
fn odd_tracks_and_releases_are_reported() {
    let imported = imported(&track("00803C40 00903C40 00803C40 00FF2F00"));
    assert_eq!(notes_at(&imported.song, 960), [(0, 60, 64, 0, 1)]);
    assert_remark(&imported, "1 note-off for a key that was not down: ignored");
    assert_remark(&imported, "1 note of zero length");
}

#[test]
fn names_are_cleaned_and_made_unique() {
    // Three tracks with the same name in Latin-1, the last one on two channels.
    let bytes = file(
        1,
        3,
        96,
        &[
            "00FF030546 6CF67465 00903C40 60803C40 00FF2F00",
            "00FF030546 6CF67465 00903C40 60803C40 00FF2F00",
            "00FF030546 6CF67465 00903C40 00923C40 60803C40 00823C40 00FF2F00",
        ],
    );
    let song = imported(&bytes).song;
    let names: Vec<&str> = song.tracks.iter().map(|track| track.name.as_str()).collect();
    assert_eq!(
        names,
        ["Fl\u{F6}te", "Fl\u{F6}te 2", "Fl\u{F6}te channel 1", "Fl\u{F6}te channel 3"]
    );
    assert_eq!(song.title, "a file");
}

#[test]
fn bytes_that_are_not_midi_are_refused() {
    let reason = |bytes: &[u8]| import(bytes, "").unwrap_err();
    assert_eq!(reason(b""), ImportError::NotMidi);
    assert_eq!(reason(b"RIFF"), ImportError::NotMidi);
    assert_eq!(reason(b"MThd\0\0\0\x06\0"), ImportError::HeaderCut { found: 9 });
    assert_eq!(
        reason(&worked::hex("4D546864 00000005 0000 0001 0060")),
        ImportError::HeaderLength(5)
    );
    assert_eq!(reason(&file(2, 1, 96, &["00FF2F00"])), ImportError::Format(2));
    assert_eq!(reason(&file(0, 1, 0, &["00FF2F00"])), ImportError::Division);
    assert_eq!(reason(&file(0, 0, 96, &[])), ImportError::NoTrack);
    let chunks = vec![""; 65_536];
    assert_eq!(reason(&file(1, 65_535, 96, &chunks)), ImportError::TooManyChunks(65_535));
    let many = vec!["00C00500FF2F00"; 4097];
    assert_eq!(reason(&file(1, 4097, 96, &many)), ImportError::TooManyTracks(4097));
}

#[test]
fn channels_share_a_track_if_there_would_be_too_many_tracks() {
    let mut tracks = vec!["00903C40 60803C40 00FF2F00"; 4095];
    tracks.push("00903C40 00913C40 60803C40 00813C40 00FF2F00");
    assert_eq!(imported(&file(1, 4096, 96, &tracks[1..])).song.tracks.len(), 4096);
    tracks.push(tracks[4095]);
    let whole = imported(&file(1, 4096, 96, &tracks[1..]));
    assert_eq!(whole.song.tracks.len(), 4096);
    assert_eq!(whole.song.tracks[4095].channel, None);
    assert_eq!(notes_at(&whole.song, 96).len(), 4094 + 4);
    assert_remark(&whole, "not split");
}

#[test]
fn too_many_events_are_refused() {
    let mut bytes = track("00C005");
    let length = (crate::reader::MOST_EVENTS * 2 + 3) as u32;
    bytes[18..22].copy_from_slice(&length.to_be_bytes());
    bytes.resize(22 + length as usize, 0);
    let error = import(&bytes, "").unwrap_err();
    assert_eq!(error, ImportError::TooManyEvents(crate::reader::MOST_EVENTS));
}

#[test]
fn hundreds_of_thousands_of_presses_of_one_key_find_their_releases() {
    // 300,001 presses of one key, then 300,000 releases. A search through all presses for each
    // release would not finish.
    let mut data = worked::hex("00903C40");
    for velocity in [0x40, 0x00] {
        data.extend([0x00, 0x3C, velocity].repeat(300_000));
    }
    let mut bytes = track("");
    bytes[18..22].copy_from_slice(&(data.len() as u32).to_be_bytes());
    bytes.extend(data);
    assert_eq!(notes_at(&imported(&bytes).song, 96).len(), 300_001);
}

/// Asserts that whatever was imported can be written as a song and read back.
fn fits_a_song(bytes: &[u8]) {
    let Ok(imported) = import(bytes, "garbled") else { return };
    let written = text::write(&imported.song);
    let read = text::read(&written).map_err(|errors| format!("{errors:?}"));
    assert_eq!(read, Ok(imported.song));
    assert!(imported.remarks.len() < 60);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn garbled_files_become_songs_or_errors(
        which in 0usize..6,
        changes in prop::collection::vec((0usize..120, any::<u8>()), 0..8),
        cut in prop::option::of(0usize..120),
        more in prop::collection::vec(any::<u8>(), 0..40),
    ) {
        let files = [worked::a, worked::a1, worked::b, worked::c, worked::d, worked::e];
        let mut bytes = files[which]();
        for (at, byte) in changes {
            let at = at % bytes.len();
            bytes[at] = byte;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut);
        }
        bytes.extend(more);
        fits_a_song(&bytes);
        let _ = take(&bytes);
    }

    #[test]
    fn any_bytes_in_a_track_become_songs_or_errors(
        ppq in 1u16..0x8000,
        data in prop::collection::vec(any::<u8>(), 0..400),
        length in any::<u32>(),
        honest in any::<bool>(),
    ) {
        let mut bytes = file(1, 1, ppq, &[""]);
        let length = if honest { data.len() as u32 } else { length };
        bytes[18..22].copy_from_slice(&length.to_be_bytes());
        bytes.extend(data);
        fits_a_song(&bytes);
        let _ = take(&bytes);
    }

    #[test]
    fn any_bytes_are_refused_or_read(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        fits_a_song(&bytes);
    }
}

#[test]
fn every_file_cut_anywhere_keeps_its_complete_events() {
    let files = [worked::a, worked::a1, worked::b, worked::c, worked::e];
    for bytes in files.map(|file| file()) {
        let whole = notes_at(&imported(&bytes).song, 960).len();
        let mut kept = 0;
        for cut in 22..bytes.len() {
            let Ok(part) = import(&bytes[..cut], "") else { continue };
            assert!(!part.remarks.is_empty(), "a cut at {cut} is not reported");
            let notes = notes_at(&part.song, 960).len();
            assert!(notes >= kept, "a cut at {cut} lost notes before it");
            kept = notes;
        }
        assert_eq!(kept, whole, "only the end mark is cut");
    }
}
