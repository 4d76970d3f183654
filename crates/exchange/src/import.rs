//! Reads a Standard MIDI File as a song.
//!
//! In: the bytes of a file of format 0 or 1. Out: a song of one section with the file's tempi and
//! metres and with one track and one pass for each part; and a remark for everything that was wrong
//! with the file or that a song cannot hold. Feel is off, so the song plays exactly what the file
//! plays.

mod bars;
mod names;
mod notes;
mod part;
mod remarks;
mod stream;

use crate::ImportError;
use crate::reader::{self, File, Meta};
use crate::scale::Scale;
use bars::Reach;
use chaconne_song::{Ids, KeySignature, Letter, Note, NoteId, Pass, Placed, Section, Song, Track};
use chaconne_time::Tempo;
use part::Part;
use remarks::Tally;
use std::sync::Arc;

/// The section that holds the music.
const SECTION: Letter = Letter::A;

/// A song read from a file, and remarks about what was changed or left out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Imported {
    /// The song: one section, A, and no form.
    pub song: Song,
    /// What was wrong with the file, was moved, or does not fit into a song; one sentence each.
    /// Empty if the song holds everything.
    pub remarks: Vec<String>,
}

/// Reads a Standard MIDI File of format 0 or 1. `name` becomes the song's title if the file has
/// none.
///
/// Each track chunk becomes a track; one that plays on several channels becomes a track per
/// channel. If tracks name ports (meta event 21h), the song plays on `port 1`, `port 2` and so on.
/// A channel of a port is one stream: a controller that several tracks move belongs to the track
/// that moves it first, with all of its moves. Positions are scaled to 960 ticks to the quarter and
/// rounded half up. The section is as long as the music, in whole bars, 1..=999; a note released
/// less than a beat after the last bar rings over the end.
///
/// # Errors
/// [`ImportError`] if the bytes are not such a file, count time in frames, or hold more than a song
/// can. Smaller faults become remarks.
pub fn import(bytes: &[u8], name: &str) -> Result<Imported, ImportError> {
    let file = reader::read(bytes)?;
    let mut scale = Scale::new(file.ppq);
    let mut tally = Tally::default();
    let parts = part::parts(&file, &mut scale, &mut tally)?;
    let end = file.tracks.iter().map(|track| track.end).max().unwrap_or(0);
    let played = parts.iter().map(Part::reach).fold(Reach::default(), Reach::or);
    let plan = bars::plan(&file, &mut scale, played, end, &mut tally)?;
    let key = key_of(&file, &mut tally);
    let mut ids = Ids::default();
    let tracks: Vec<Arc<Track>> =
        parts.iter().map(|part| Arc::new(part.track(ids.track()))).collect();
    let mut section = Section::new(SECTION, plan.metre, Tempo::DEFAULT);
    section.tempo = plan.tempo;
    let length = section.length();
    let mut remarks: Vec<String> = file.faults.sentences().collect();
    remarks.extend(scale.remark());
    remarks.extend(tally.sentences(&file, &section.metre));
    let mut song = Song { key, tracks, ..Song::new(&names::title(&file, name), section) };
    for (index, part) in parts.into_iter().enumerate() {
        let mut pass = Pass::empty(ids.pass(), song.tracks[index].id, length);
        fill(&mut pass, part);
        if !pass.is_empty() {
            song.lay(SECTION, pass);
        }
    }
    Ok(Imported { song, remarks })
}

/// Puts a part's notes and moves into its pass, and numbers the notes in the order in which the
/// song stores them.
fn fill(pass: &mut Pass, part: Part) {
    let mut notes = part.notes;
    notes.sort_by_key(|(_, stroke)| (stroke.start, stroke.key));
    let length = pass.length;
    let content = pass.notes_mut();
    let placed = Placed::UNCHANGED;
    let note = |(id, (channel, played))| Note { id: NoteId(id), channel, played, placed };
    content.notes = (1..).zip(notes).map(note).collect();
    content.lanes = part.lanes.into_iter().map(|lane| lane.covering(length)).collect();
    content.sysex = part.sysex;
    pass.sort();
}

/// The first key signature of the file; counts later ones that differ.
fn key_of(file: &File, tally: &mut Tally) -> Option<KeySignature> {
    let metas = file.tracks.iter().flat_map(|track| &track.metas);
    let mut found: Vec<(u64, KeySignature)> = Vec::new();
    for meta in metas.filter(|meta| meta.kind == Meta::KEY) {
        match KeySignature::new(meta.data[0] as i8, meta.data[1] == 1) {
            Some(key) => found.push((meta.at, key)),
            None => tally.keys_unknown += 1,
        }
    }
    found.sort_by_key(|&(at, _)| at);
    let first = found.first()?.1;
    tally.keys_later = found.iter().filter(|&&(_, key)| key != first).count();
    Some(first)
}

/// The tempo in the data of a tempo event, three bytes or more, and whether it was out of range and
/// had to be clamped.
pub(crate) fn tempo_of(data: &[u8]) -> (Tempo, bool) {
    let micros = data.iter().take(3).fold(0, |sum, &byte| sum << 8 | u32::from(byte));
    match Tempo::from_micros(micros) {
        Ok(tempo) => (tempo, false),
        Err(_) if micros > Tempo::SLOWEST.micros() => (Tempo::SLOWEST, true),
        Err(_) => (Tempo::FASTEST, true),
    }
}

pub(crate) use remarks::held_remark;
pub(crate) use stream::ends_notes;

#[cfg(test)]
mod tests;
