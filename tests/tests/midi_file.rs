//! Standard MIDI Files that we write and another library reads, and files that it writes and we read.
//!
//! The other side is mido, a general Python library for MIDI, in the private environment that
//! `cargo xtask test` prepares. The scripts in `tests/python` print what it reads or writes, line by
//! line. The tests compare that with the events of `perform`.

use chaconne_engine::{Event, Message, Performance, Route, View, Wire, perform};
use chaconne_exchange::{Imported, export, import, take};
use chaconne_song::{
    Channel, Control, Feel, KeySignature, Lane, Letter, Note, Pass, Point, Section, Song, Stroke,
    SysEx, Track, TrackId, U7, U14,
};
use chaconne_tests::python::lines_of;
use chaconne_time::{Metre, MetreMap, NoteValue, Span, Tempo, TempoMap, TempoPoint, Tick};
use std::collections::VecDeque;
use std::sync::Arc;

/// A note: channel from 1, key, velocity, start, length.
type PlainNote = (u8, u8, u8, i64, i64);
/// A message that is not a note: its tick, and its bytes in hexadecimal.
type Sent = (i64, String);

/// The numbers after `word` in every line that starts with it.
fn figures(lines: &[String], word: &str) -> Vec<Vec<i64>> {
    let mut found = Vec::new();
    for line in lines {
        if let Some(rest) = line.strip_prefix(word).and_then(|rest| rest.strip_prefix(' ')) {
            found.push(rest.split(' ').map(|figure| figure.parse().unwrap()).collect());
        }
    }
    found
}

/// The text after `word` in every line that starts with it.
fn rests(lines: &[String], word: &str) -> Vec<String> {
    let rests = lines.iter().filter_map(|line| line.strip_prefix(word)?.strip_prefix(' '));
    rests.map(String::from).collect()
}

/// The notes that mido reads, in order, with their ticks converted by `scale`.
fn notes_read(lines: &[String], scale: impl Fn(i64) -> i64) -> Vec<PlainNote> {
    let notes = figures(lines, "note").into_iter().map(|note| {
        let [_, channel, key, velocity, start, length] = note[..] else { panic!("{note:?}") };
        let (from, to) = (scale(start), scale(start + length));
        (channel as u8, key as u8, velocity as u8, from, to - from)
    });
    let mut notes: Vec<PlainNote> = notes.collect();
    notes.sort();
    notes
}

/// The other messages that mido reads, in order, with their ticks converted by `scale`.
fn others_read(lines: &[String], scale: impl Fn(i64) -> i64) -> Vec<Sent> {
    let sent = rests(lines, "sent").into_iter().map(|rest| {
        let mut parts = rest.splitn(3, ' ');
        let tick = parts.nth(1).unwrap().parse().unwrap();
        (scale(tick), parts.next().unwrap().to_string())
    });
    let mut sent: Vec<Sent> = sent.collect();
    sent.sort();
    sent
}

/// The notes of a performance, and its other messages.
fn played(performance: &Performance) -> (Vec<PlainNote>, Vec<Sent>) {
    let (mut notes, mut sent): (Vec<PlainNote>, Vec<Sent>) = Default::default();
    let mut down: VecDeque<(&Event, u8, u8, u8)> = VecDeque::new();
    for event in &performance.events {
        match &event.wire {
            Wire::Message(Message::NoteOn { channel, key, velocity }) => {
                down.push_back((event, channel.number(), key.get(), velocity.get()));
            }
            Wire::Message(Message::NoteOff { channel, key, .. }) => {
                let same = |held: &(&Event, u8, u8, u8)| {
                    held.0.port == event.port && (held.1, held.2) == (channel.number(), key.get())
                };
                let index = down.iter().position(same).expect("a released key was struck");
                let (on, channel, key, velocity) = down.remove(index).unwrap();
                notes.push((channel, key, velocity, on.at.0, (event.at - on.at).0));
            }
            Wire::Message(message) => sent.push((event.at.0, hex(&message.bytes()))),
            Wire::SysEx(bytes) => sent.push((event.at.0, hex(bytes))),
        }
    }
    assert!(down.is_empty(), "every note ends");
    notes.sort();
    sent.sort();
    (notes, sent)
}

fn hex(bytes: &[u8]) -> String {
    let digits: Vec<String> = bytes.iter().map(|byte| format!("{byte:02X}")).collect();
    digits.join(" ")
}

fn form_of(song: &Song) -> (Route, Performance) {
    let route = Route::form(song).unwrap();
    let performance = perform(song, &route, route.span(), View::Corrected);
    (route, performance)
}

fn seven(value: u8) -> U7 {
    U7::new(value).unwrap()
}

fn stroke(start: i64, length: i64, key: u8, velocity: u8) -> Stroke {
    let (start, length, release) = (Tick(start), Tick(length), U7::CENTRE);
    Stroke { start, length, key: seven(key), velocity: seven(velocity), release }
}

/// A pass of these strokes.
fn pass(song: &Song, track: u32, length: i64, strokes: impl Iterator<Item = Stroke>) -> Pass {
    let mut ids = song.ids();
    let mut pass = Pass::empty(ids.pass(), TrackId(track), Tick(length));
    for played in strokes {
        let channel = Channel::default();
        let (id, placed) = (pass.free_note_id(), Default::default());
        pass.notes_mut().notes.push(Note { id, channel, played, placed });
    }
    pass.sort();
    pass
}

fn push(song: &mut Song, section: usize, pass: Pass) {
    song.lay(song.sections[section].letter, pass);
}

/// Two sections in the form A B A: an uneven drum part that feel pulls to the grid, chords with a pedal,
/// a line with bends that is longer than its section, and a muted part.
fn song() -> Song {
    let bars = |count, metre: Metre| MetreMap::new(count, metre).unwrap();
    let bpm = |text| Tempo::parse_bpm(text).unwrap();
    let mut a = Section::new(Letter::A, bars(4, Metre::common()), bpm("138"));
    let points = [(0, "138"), (7680, "120.5")]
        .map(|(at, text)| TempoPoint { at: Tick(at), tempi: vec![bpm(text)] });
    a.tempo = TempoMap::with_points(points.to_vec()).unwrap();
    let six = Metre::new(6, 8).unwrap().with_tempo_unit("1/4 dotted".parse().unwrap());
    let b = Section::new("B".parse().unwrap(), bars(2, six), bpm("90"));
    let mut song = Song::new("Tin roof", a);
    song.sections.push(Arc::new(b));
    song.form = "A B A".parse().unwrap();
    song.key = KeySignature::new(-3, false);
    let mut drums = Track::drums(TrackId(1), "Drums");
    drums.feel = Feel::off(true).on(NoteValue::SIXTEENTH);
    let mut chords = Track::pitched(TrackId(2), "Chords");
    (chords.channel, chords.program) = (Channel::from_number(5), Some(seven(4)));
    (chords.bank, chords.levels.pan) = (U14::new(129), Some(seven(30)));
    let line = Track::pitched(TrackId(3), "Línea");
    let muted = Track { mute: true, ..Track::pitched(TrackId(4), "Tacet") };
    song.tracks = [drums, chords, line, muted].map(Arc::new).to_vec();
    fill(&mut song);
    song
}

fn fill(song: &mut Song) {
    let uneven =
        (0..32).map(|k| stroke(k * 240 + k * 13 % 31 - 15, 50, 36 + (k % 3) as u8 * 2, 90));
    push(song, 0, pass(song, 1, 7680, uneven));
    let chord = [48, 52, 55].into_iter();
    let held = chord.flat_map(|key| (0..4).map(move |bar| stroke(bar * 3840, 3800, key, 70)));
    let mut chords = pass(song, 2, 15_360, held);
    let (channel, control) = (Channel::default(), Control::SUSTAIN);
    let span = Span::new(Tick(100), Tick(15_360));
    let moves = [(100, 127), (3700, 0), (3900, 127), (15_300, 0)];
    let points = points(&moves);
    chords.notes_mut().lanes.push(Lane { channel, control, span, points });
    let bytes = vec![0xF0, 0x7E, 0x7F, 0x09, 0x01, 0xF7];
    chords.notes_mut().sysex.push(SysEx { at: Tick(960), bytes });
    push(song, 0, chords);
    let long = (0..40).map(|k| stroke(k * 700, 650, 60 + (k * 5 % 24) as u8, 60 + k as u8));
    let mut line = pass(song, 3, 30_720, long);
    let bends: Vec<(i64, u16)> = (0..20).map(|k| (k * 55, 8192 + k as u16 * 100)).collect();
    let span = Span::new(Tick(0), Tick(30_720));
    let control = Control::Bend;
    line.notes_mut().lanes.push(Lane { channel, control, span, points: self::points(&bends) });
    push(song, 0, line);
    let short = (0..3).map(|k| stroke(k * 480, 400, 50 + k as u8, 100));
    push(song, 1, pass(song, 3, 1440, short));
    let silent = (0..4).map(|k| stroke(k * 960, 400, 70, 100));
    push(song, 0, pass(song, 4, 3840, silent));
}

fn points(moves: &[(i64, u16)]) -> Vec<Point> {
    moves.iter().map(|&(at, value)| Point::step(Tick(at), U14::new(value).unwrap())).collect()
}

#[test]
fn another_reader_finds_the_same_notes_at_the_same_ticks() {
    let song = song();
    let (route, performance) = form_of(&song);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ours.mid");
    std::fs::write(&path, export(&song, &route, View::Corrected).unwrap()).unwrap();
    let lines = lines_of("read_midi.py", &[path.to_str().unwrap()]);
    let (notes, sent) = played(&performance);
    assert!(notes.len() > 150, "only {} notes", notes.len());
    assert_eq!(notes_read(&lines, |tick| tick), notes);
    assert_eq!(others_read(&lines, |tick| tick), sent);
    assert_eq!(rests(&lines, "format"), ["1 ppq 960 tracks 4"]);
    // The reader decodes names as Latin-1, so it shows the UTF-8 bytes like this.
    let latin: String = "Línea".bytes().map(char::from).collect();
    let names = ["1 Tin roof", "2 Drums", "3 Chords", &format!("4 {latin}")];
    assert_eq!(rests(&lines, "name"), names);
    assert_eq!(rests(&lines, "held"), [""; 0]);
    assert_eq!(rests(&lines, "key"), ["0 Eb"]);
    assert_eq!(rests(&lines, "marker"), ["0 A", "15360 B", "21120 A"]);
    // Four bars of 4/4 are 15,360 ticks, two of 6/8 are 5,760; 60,000,000 / BPM microseconds.
    assert_eq!(rests(&lines, "metre"), ["0 4 4 24", "15360 6 8 36", "21120 4 4 24"]);
    let tempi = ["0 434783", "7680 497925", "15360 666667", "21120 434783", "28800 497925"];
    assert_eq!(rests(&lines, "tempo"), tempi);
}

#[test]
fn another_reader_finds_one_section_once() {
    let song = song();
    let route = Route::rounds(&song, "B".parse().unwrap(), 1).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("loop.mid");
    std::fs::write(&path, export(&song, &route, View::Corrected).unwrap()).unwrap();
    let lines = lines_of("read_midi.py", &[path.to_str().unwrap()]);
    let performance = perform(&song, &route, route.span(), View::Corrected);
    assert_eq!(notes_read(&lines, |tick| tick), played(&performance).0);
    let ends = figures(&lines, "end");
    assert!(!ends.is_empty() && ends.iter().all(|end| end[1] == 5760), "{ends:?}");
}

/// Imports a file by the other writer and compares it with the writer's own account.
fn foreign(kind: &str, ppq: i64) -> Imported {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("theirs.mid");
    let lines = lines_of("write_midi.py", &[path.to_str().unwrap(), kind, &ppq.to_string()]);
    let bytes = std::fs::read(&path).unwrap();
    let imported = import(&bytes, "theirs").unwrap();
    // Ticks of the file to ticks of the song: to the nearest, halves up.
    let scale = |tick: i64| (tick * 960 * 2 + ppq).div_euclid(2 * ppq);
    let (_, performance) = form_of(&imported.song);
    let (notes, sent) = played(&performance);
    assert_eq!(notes.len(), 140);
    assert_eq!(notes, notes_read(&lines, scale));
    assert_eq!(sent, others_read(&lines, scale));
    let section = &imported.song.sections[0];
    let steps = section.tempo.steps().map(|(at, tempo)| format!("{} {}", at.0, tempo.micros()));
    let written = figures(&lines, "tempo");
    let written = written.iter().map(|figures| format!("{} {}", scale(figures[0]), figures[1]));
    assert_eq!(steps.collect::<Vec<_>>(), written.collect::<Vec<_>>());
    assert_eq!(imported.song.key.unwrap().to_string(), "Eb major");
    assert_eq!(imported.song.title, "Five bars");
    let metres = section.metre.changes().iter();
    let metres: Vec<_> = metres.map(|change| (change.bar, change.metre.to_string())).collect();
    assert_eq!(metres, [(1, "4/4".into()), (4, "6/8".into())]);
    // The raw take has the same messages at the same ticks.
    let take = take(&bytes).unwrap();
    let count = notes.len() * 2 + sent.len();
    assert_eq!((take.events.len(), take.tempo.to_string()), (count, "93.7".into()));
    assert!(take.events.is_sorted_by_key(|event| event.at));
    imported
}

#[test]
fn a_file_by_another_writer_is_imported_without_loss() {
    for ppq in [480, 960] {
        let imported = foreign("1", ppq);
        let names: Vec<&str> = imported.song.tracks.iter().map(|t| t.name.as_str()).collect();
        assert_eq!(names, ["Line", "Chords", "Drums"]);
        assert!(!imported.song.tracks[2].pitched);
        assert_eq!(imported.remarks.len(), 1, "only about the marker: {:?}", imported.remarks);
    }
}

#[test]
fn a_resolution_that_does_not_divide_ours_is_rounded_with_a_remark() {
    let imported = foreign("1", 220);
    let rounded = imported.remarks.iter().find(|remark| remark.contains("rounded from 220"));
    // 960/220 is 48/11, so the nearest tick is at most 5/11 of a tick away.
    assert!(rounded.is_some_and(|remark| remark.contains("0.46 of a tick")), "{rounded:?}");
}

#[test]
fn a_file_of_one_track_is_split_by_channel() {
    let imported = foreign("0", 480);
    let channels: Vec<u8> =
        imported.song.tracks.iter().map(|track| track.channel.unwrap().number()).collect();
    assert_eq!(channels, [1, 5, 10]);
}

#[test]
fn the_program_exports_the_same_notes_that_it_imported() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_string();
    let (theirs, song, ours) = (path("theirs.mid"), path("song.ron"), path("ours.mid"));
    let wrote = lines_of("write_midi.py", &[&theirs, "1", "960"]);
    chaconne_tests::program::run(&["import", &theirs, &song]).ends(0);
    chaconne_tests::program::run(&["check", &song]).ends(0);
    chaconne_tests::program::run(&["export", &song, "--midi", &ours]).ends(0);
    let read = lines_of("read_midi.py", &[&ours]);
    let (theirs, ours) = (notes_read(&wrote, |tick| tick), notes_read(&read, |tick| tick));
    assert_eq!(theirs.len(), 140);
    assert_eq!(theirs, ours);
}
