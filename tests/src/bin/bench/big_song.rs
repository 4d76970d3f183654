//! The songs that the bench measures: the demo song, one of 1,600 tracks, and busy ones.

use crate::Failure;
use chaconne_song::{
    Channel, Letter, Note, NoteId, Pass, PassId, Section, Song, Stroke, Track, TrackId, U7, text,
};
use chaconne_time::{Metre, MetreMap, Tempo, Tick};
use std::sync::Arc;

/// How many tracks there are.
pub const TRACKS: u32 = 1600;
/// How many of them have notes.
pub const SOUNDING: u32 = 64;
/// How many notes each of those has: sixteenths over four bars.
const NOTES: u32 = 64;

/// The demo song.
pub fn demo() -> Result<Song, Failure> {
    let read = text::read(include_str!("../../../../assets/demo.ron"));
    read.map_err(|errors| errors[0].clone().into())
}

/// The demo song at 120 BPM.
#[cfg(target_os = "linux")]
pub fn demo_at_120() -> Result<Song, Failure> {
    let mut song = demo()?;
    let section = song.sections.first_mut().ok_or("the demo song has no section")?;
    Arc::make_mut(section).tempo = chaconne_time::TempoMap::new(Tempo::DEFAULT);
    Ok(song)
}

/// A song of 1,600 tracks, 64 of which have notes, each on all 16 channels.
pub fn big() -> Result<Song, Failure> {
    song("sixteen hundred", TRACKS, SOUNDING, 0)
}

/// A song whose tracks all play sixteenths, each `apart` ticks after the track before it.
#[cfg(target_os = "linux")]
pub fn busy(tracks: u32, apart: i64) -> Result<Song, Failure> {
    song("busy", tracks, tracks, apart)
}

/// A song in which `sounding` of the tracks have notes, each `apart` ticks after the one before it.
fn song(title: &str, tracks: u32, sounding: u32, apart: i64) -> Result<Song, Failure> {
    let section = Section::new(Letter::A, MetreMap::new(4, Metre::common())?, Tempo::DEFAULT);
    let length = section.length();
    let mut song = Song::new(title, section);
    let all: Vec<Track> =
        (1..=tracks).map(|id| Track::pitched(TrackId(id), &format!("Part {id}"))).collect();
    let step = tracks / sounding;
    for index in 0..sounding {
        let track = TrackId(1 + index * step);
        let mut pass = Pass::empty(PassId(tracks + 1 + index), track, length);
        let note = |number| {
            let mut note = note(1 + number, number, index);
            note.played.start += Tick(apart * i64::from(index));
            note
        };
        pass.notes_mut().notes = (0..NOTES).map(note).collect();
        song.lay(Letter::A, pass);
    }
    song.tracks = all.into_iter().map(Arc::new).collect();
    Ok(song)
}

fn note(id: u32, number: u32, track: u32) -> Note {
    let played = Stroke {
        start: Tick(i64::from(number) * 240),
        length: Tick(200),
        key: U7::low_bits(24 + track as u8),
        velocity: U7::low_bits(60 + (number % 60) as u8),
        release: U7::CENTRE,
    };
    let channel = Channel::from_number((number % 16) as u8 + 1).unwrap_or_default();
    Note { id: NoteId(id), channel, played, placed: Default::default() }
}
