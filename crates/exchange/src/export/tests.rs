//! Exported files, read back by an independent reader and by our own.

use super::*;
use crate::testing::{lay, section, songs, two_sections};
use crate::worked::hex;
use crate::{import, listing};
use chaconne_engine::{Event, PortIx};
use chaconne_song::{Channel, Track, Transpose, U7};
use midly::Smf;
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// A note: channel and key, velocity, start, length.
type PlainNote = (u8, u8, u8, i64, i64);

/// The notes of a performance.
fn performed(performance: &Performance) -> Vec<PlainNote> {
    let others = pairs(&performance.events);
    let mut notes = Vec::new();
    for (on, off) in performance.events.iter().zip(&others) {
        if let Wire::Message(Message::NoteOn { channel, key, velocity }) = on.wire {
            let end = performance.events[off.expect("every note ends")].at;
            let length = (end - on.at).0;
            notes.push((channel.wire(), key.get(), velocity.get(), on.at.0, length));
        }
    }
    notes.sort();
    notes
}

/// The notes of a file as an independent library reads them, track by track.
fn read_elsewhere(bytes: &[u8]) -> Vec<PlainNote> {
    let smf = Smf::parse(bytes).unwrap();
    assert_eq!(smf.header.timing, Timing::Metrical(u15::new(960)));
    let mut notes: Vec<PlainNote> = Vec::new();
    for track in &smf.tracks {
        let mut now = 0;
        let mut down: BTreeMap<(u8, u8), Vec<(u8, i64)>> = BTreeMap::new();
        for event in track {
            now += i64::from(event.delta.as_int());
            let TrackEventKind::Midi { channel, message } = event.kind else { continue };
            match message {
                MidiMessage::NoteOn { key, vel } => {
                    let held = down.entry((channel.as_int(), key.as_int())).or_default();
                    held.push((vel.as_int(), now));
                }
                MidiMessage::NoteOff { key, .. } => {
                    let held = down.get_mut(&(channel.as_int(), key.as_int())).unwrap();
                    let (velocity, start) = held.remove(0);
                    notes.push((channel.as_int(), key.as_int(), velocity, start, now - start));
                }
                _ => {}
            }
        }
        assert!(down.values().all(Vec::is_empty), "every note ends in its own track");
        assert!(matches!(
            track.last().unwrap().kind,
            TrackEventKind::Meta(MetaMessage::EndOfTrack)
        ));
    }
    notes.sort();
    notes
}

#[test]
fn a_song_of_one_note_has_the_bytes_worked_out_by_hand() {
    // Standard MIDI Files 1.0, pp. 2-10: chunks, numbers and meta events worked out by hand. 4/4
    // is 04 02 18 08, tempo 120 is 07 A1 20; 3840 is 9E 00 and 960 is 87 40 (table on p. 2).
    let mut song = Song::new("T", section("A", 1, Metre::common(), "120"));
    let mut track = Track::pitched(TrackId(1), "Bass");
    track.program = U7::new(33);
    song.tracks.push(Arc::new(track));
    lay(&mut song, "A", 1, 3840, &[(960, 960, 60, 100)]);
    let expected = hex("4D546864 00000006 0001 0002 03C0
         4D54726B 0000001E 00FF030154 00FF060141 00FF580404021808 00FF510307A120 9E00FF2F00
         4D54726B 0000001A 00FF030442617373 00C021 8740903C64 8740803C40 8F00FF2F00");
    let route = Route::form(&song).unwrap();
    assert_eq!(export(&song, &route, View::Corrected).unwrap(), expected);
}

#[test]
fn the_first_track_holds_sections_metres_tempi_and_key() {
    let song = two_sections();
    let route = Route::form(&song).unwrap();
    let bytes = export(&song, &route, View::Corrected).unwrap();
    let smf = Smf::parse(&bytes).unwrap();
    let mut now = 0;
    let mut found = Vec::new();
    for event in &smf.tracks[0] {
        now += event.delta.as_int();
        let TrackEventKind::Meta(meta) = event.kind else { panic!("{event:?}") };
        found.push((now, meta));
    }
    // A click of an eighth is 12 clocks; tempo 93.7 is 640,342 microseconds, 96 is 625,000.
    let common = MetaMessage::TimeSignature(4, 2, 24, 8);
    let odd = MetaMessage::TimeSignature(7, 3, 12, 8);
    let tempo = |micros| MetaMessage::Tempo(u24::new(micros));
    let expected = [
        (0, MetaMessage::TrackName(b"Slow river")),
        (0, MetaMessage::KeySignature(-3, true)),
        (0, MetaMessage::Marker(b"A")),
        (0, common),
        (0, tempo(625_000)),
        (7680, MetaMessage::Marker(b"B")),
        (7680, odd),
        (7680, tempo(640_342)),
        (11_040, MetaMessage::Marker(b"A")),
        (11_040, common),
        (11_040, tempo(625_000)),
        // The last note rings out 220 ticks past the last bar.
        (18_940, MetaMessage::EndOfTrack),
    ];
    assert_eq!(found, expected);
}

/// Each section's key where it begins, as it sounds; the flats of F minor are four, of B minor two sharps.
#[test]
fn the_key_changes_where_a_section_has_another_or_sounds_in_another() {
    let mut song = two_sections();
    song.form = "A A B A".parse().unwrap();
    song.transpose = Transpose::new(-1).unwrap();
    let b = Arc::make_mut(&mut song.sections[1]);
    (b.key, b.transpose) = ("F minor".parse().ok(), Transpose::new(1).unwrap());
    let route = Route::form(&song).unwrap();
    let bytes = export(&song, &route, View::Corrected).unwrap();
    let smf = Smf::parse(&bytes).unwrap();
    let (mut now, mut found) = (0, Vec::new());
    for event in &smf.tracks[0] {
        now += event.delta.as_int();
        if let TrackEventKind::Meta(MetaMessage::KeySignature(fifths, minor)) = event.kind {
            found.push((now, fifths, minor));
        }
    }
    assert_eq!(found, [(0, 2, true), (15_360, -4, true), (18_720, 2, true)]);
}

#[test]
fn a_track_that_plays_nothing_is_left_out() {
    let song = two_sections();
    let once = Route::rounds(&song, song.sections[1].letter, 1).unwrap();
    for (route, names) in [
        (Route::form(&song).unwrap(), vec!["Slow river", "Bass", "Drums"]),
        (once, vec!["Slow river", "Bass"]),
    ] {
        let bytes = export(&song, &route, View::Corrected).unwrap();
        let smf = Smf::parse(&bytes).unwrap();
        let named = smf.tracks.iter().map(|track| match track[0].kind {
            TrackEventKind::Meta(MetaMessage::TrackName(name)) => {
                std::str::from_utf8(name).unwrap()
            }
            other => panic!("{other:?}"),
        });
        assert_eq!(named.collect::<Vec<_>>(), names);
    }
}

#[test]
fn a_route_without_an_end_is_refused() {
    let song = two_sections();
    let route = Route::open(song.sections[0].letter);
    assert_eq!(export(&song, &route, View::Corrected), Err(ExportError::Open));
    assert_eq!(listing(&song, &route, View::Corrected), Err(ExportError::Open));
}

#[test]
fn a_release_is_written_in_the_track_of_its_press() {
    // The second track takes over the key and releases it.
    let event = |at, track, message| Event {
        at: Tick(at),
        track: TrackId(track),
        port: PortIx(0),
        wire: Wire::Message(message),
        voice: None,
    };
    let (channel, key, velocity) = (Channel::default(), U7::CENTRE, U7::MAX);
    let on = Message::NoteOn { channel, key, velocity };
    let off = Message::NoteOff { channel, key, velocity };
    let performance = Performance {
        span: Span::new(Tick(0), Tick(100)),
        ports: vec![String::new()],
        set_up: 0,
        events: vec![event(0, 1, on), event(48, 2, off), event(48, 2, on), event(96, 1, off)],
    };
    let head = |id, name| Head { id: TrackId(id), name, port: None };
    let tracks = vec![head(1, "one"), head(2, "two")];
    let sheet = Sheet { title: "", keys: Vec::new(), tracks };
    let bytes = write(&performance, &[], &sheet).unwrap();
    assert_eq!(read_elsewhere(&bytes), [(0, 64, 127, 0, 48), (0, 64, 127, 48, 48)]);
}

#[test]
fn a_gap_too_long_for_one_number_is_split() {
    // FFFFFFF hexadecimal is the longest (Standard MIDI Files 1.0, p. 2).
    let far = Tick(3 * 0xFFF_FFFF + 5);
    let performance = Performance {
        span: Span::new(Tick(0), far),
        ports: Vec::new(),
        set_up: 0,
        events: Vec::new(),
    };
    let sheet = Sheet { title: "far", keys: Vec::new(), tracks: Vec::new() };
    let bytes = write(&performance, &[], &sheet).unwrap();
    let smf = Smf::parse(&bytes).unwrap();
    let end: i64 = smf.tracks[0].iter().map(|event| i64::from(event.delta.as_int())).sum();
    assert_eq!(Tick(end), far);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, ..ProptestConfig::default() })]

    #[test]
    fn the_file_contains_what_perform_yields(song in songs()) {
        let route = Route::form(&song).unwrap();
        let performance = perform(&song, &route, route.span(), View::Corrected);
        let bytes = export(&song, &route, View::Corrected).unwrap();
        prop_assert_eq!(&bytes, &export(&song, &route, View::Corrected).unwrap());
        let notes = performed(&performance);
        prop_assert_eq!(read_elsewhere(&bytes), notes);
    }

    #[test]
    fn an_exported_file_imports_again(song in songs()) {
        let route = Route::form(&song).unwrap();
        let performance = perform(&song, &route, route.span(), View::Corrected);
        let bytes = export(&song, &route, View::Corrected).unwrap();
        let imported = import(&bytes, "").unwrap();
        let strange: Vec<_> = imported.remarks.iter().filter(|remark| {
            !["marker", "of zero length", "ring past"].iter().any(|known| remark.contains(known))
        }).collect();
        prop_assert!(strange.is_empty(), "{:?}", strange);
        prop_assert_eq!(stored(&imported.song), performed_as_stored(&performance));
        let again = Route::form(&imported.song).unwrap();
        let last = performance.events.last().map_or(Tick(0), |event| event.at);
        if last <= route.span().to {
            prop_assert_eq!(again.span(), route.span());
        }
        prop_assert_eq!(bars_and_tempi(&song, &route), bars_and_tempi(&imported.song, &again));
    }

    #[test]
    fn an_imported_file_plays_the_same(mut song in songs()) {
        // If no two tracks share a channel, there are no conflicts between them to resolve.
        for (index, track) in song.tracks.iter_mut().enumerate() {
            Arc::make_mut(track).channel = Channel::from_number(index as u8 + 1);
        }
        let route = Route::form(&song).unwrap();
        let bytes = export(&song, &route, View::Corrected).unwrap();
        let back = import(&bytes, "").unwrap().song;
        let again = Route::form(&back).unwrap();
        prop_assert_eq!(
            performed_as_stored(&perform(&song, &route, route.span(), View::Corrected)),
            performed_as_stored(&perform(&back, &again, again.span(), View::Corrected))
        );
    }
}

/// The notes of a performance, at least one tick long, as a song stores them.
fn performed_as_stored(performance: &Performance) -> Vec<PlainNote> {
    let one_tick = |(channel, key, velocity, start, length): PlainNote| {
        (channel, key, velocity, start, length.max(1))
    };
    let mut notes: Vec<PlainNote> = performed(performance).into_iter().map(one_tick).collect();
    notes.sort();
    notes
}

/// The notes stored in a song of one section.
fn stored(song: &Song) -> Vec<PlainNote> {
    let notes = song.passes.values().flat_map(|pass| pass.notes());
    let found = notes.map(|note| {
        let stroke = note.stroke();
        let (key, velocity) = (stroke.key.get(), stroke.velocity.get());
        (note.channel.wire(), key, velocity, stroke.start.0, stroke.length.0)
    });
    let mut found: Vec<PlainNote> = found.collect();
    found.sort();
    found
}

fn bars_and_tempi(song: &Song, route: &Route) -> Vec<(Tick, Landmark)> {
    let marks = Walk::along(song, route).landmarks(route.span()).into_iter();
    marks.filter(|(_, mark)| !matches!(mark, Landmark::Section(_))).collect()
}

#[test]
fn everything_besides_notes_comes_back_too() {
    let song = two_sections();
    let route = Route::form(&song).unwrap();
    let bytes = export(&song, &route, View::Corrected).unwrap();
    let imported = import(&bytes, "").unwrap();
    assert_eq!(imported.song.title, "Slow river");
    assert_eq!(imported.song.key, song.key);
    let bass = &imported.song.tracks[0];
    assert_eq!(
        (bass.name.as_str(), bass.program, bass.levels.volume),
        ("Bass", U7::new(33), U7::new(100))
    );
    assert!(!imported.song.tracks[1].pitched);
    let again = Route::form(&imported.song).unwrap();
    let others = |song: &Song, route: &Route| {
        let events = perform(song, route, route.span(), View::Corrected).events.into_iter();
        let key = |event: &Event| match event.wire {
            Wire::Message(Message::NoteOn { .. } | Message::NoteOff { .. }) => None,
            _ => Some((event.at, format!("{:?}", event.wire))),
        };
        let mut others: Vec<_> = events.filter_map(|event| key(&event)).collect();
        others.sort();
        others
    };
    assert_eq!(others(&song, &route), others(&imported.song, &again));
}

#[test]
fn the_files_of_single_tracks_hold_together_what_the_whole_holds() {
    let mut song = two_sections();
    // On channels of their own, no track changes what another one sounds like.
    for (channel, track) in (1..).zip(&mut song.tracks) {
        Arc::make_mut(track).channel = Channel::from_number(channel);
    }
    let route = Route::form(&song).unwrap();
    let whole = export(&song, &route, View::Corrected).unwrap();
    let mut together = Vec::new();
    for track in &song.tracks {
        let bytes = export_track(&song, track.id, &route, View::Corrected).unwrap();
        let smf = Smf::parse(&bytes).unwrap();
        // A track that rings out less long ends earlier.
        let guide = |smf: &Smf<'static>| smf.tracks[0][..smf.tracks[0].len() - 1].to_vec();
        let wholly = Smf::parse(&whole).unwrap();
        assert_eq!(guide(&smf.to_static()), guide(&wholly.to_static()), "the same tempi");
        assert_eq!(smf.tracks.len(), if track.mute { 1 } else { 2 }, "{}", track.name);
        together.extend(read_elsewhere(&bytes));
    }
    together.sort();
    assert_eq!(together, read_elsewhere(&whole));
    assert!(!together.is_empty());
}

#[test]
fn a_track_that_plays_nothing_makes_a_file_without_notes() {
    let mut song = two_sections();
    let silent = Arc::make_mut(&mut song.tracks[0]);
    silent.mute = true;
    let id = silent.id;
    let route = Route::form(&song).unwrap();
    let bytes = export_track(&song, id, &route, View::Corrected).unwrap();
    assert_eq!(Smf::parse(&bytes).unwrap().tracks.len(), 1);
}
