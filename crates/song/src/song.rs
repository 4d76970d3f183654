//! The song itself.

use crate::{KeySignature, Letter, NoteId, Pass, PassId, Section, SharedPass, Track, TrackId};
use std::sync::Arc;

/// Hands out the names of new tracks, passes and notes; one count for all three.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Ids {
    last: u32,
}

impl Ids {
    /// A count that goes on after `last`.
    pub fn after(last: u32) -> Ids {
        Ids { last }
    }

    /// Makes sure that `used` is never handed out again.
    pub fn take(&mut self, used: u32) {
        self.last = self.last.max(used);
    }

    fn next(&mut self) -> u32 {
        self.last += 1;
        self.last
    }

    /// A name for a new track.
    pub fn track(&mut self) -> TrackId {
        TrackId(self.next())
    }

    /// A name for a new pass.
    pub fn pass(&mut self) -> PassId {
        PassId(self.next())
    }

    /// A name for a new note.
    pub fn note(&mut self) -> NoteId {
        NoteId(self.next())
    }
}

/// The document. Tracks, sections and passes are shared, so that a copy of a song is cheap and
/// a change to it copies only what it touches.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Song {
    /// What it is called.
    pub title: String,
    /// Its key, where one is set.
    pub key: Option<KeySignature>,
    /// The tracks, in the order in which they are shown and written.
    pub tracks: Vec<Arc<Track>>,
    /// The sections, in the order in which they are shown and written; never empty.
    pub sections: Vec<Arc<Section>>,
    /// The order in which sections are played; empty where none is set yet.
    pub form: Vec<Letter>,
}

impl Song {
    /// The version of the song text this program writes.
    pub const VERSION: u32 = 1;
    /// The most tracks a song may have.
    pub const MAX_TRACKS: usize = 4096;
    /// The highest id a track, pass or note may have; the lowest is 1.
    pub const LAST_ID: u32 = 4_000_000_000;
    /// The most entries a form may have.
    pub const MAX_FORM: usize = 10_000;

    /// A song of one section and no track.
    pub fn new(title: &str, section: Section) -> Song {
        Song {
            title: title.to_string(),
            key: None,
            tracks: Vec::new(),
            sections: vec![Arc::new(section)],
            form: Vec::new(),
        }
    }

    /// A track by its name for life.
    pub fn track(&self, id: TrackId) -> Option<&Arc<Track>> {
        self.tracks.iter().find(|track| track.id == id)
    }

    /// The first track musicians call `name`.
    pub fn track_named(&self, name: &str) -> Option<&Arc<Track>> {
        self.tracks.iter().find(|track| track.name == name)
    }

    /// A section by its letter.
    pub fn section(&self, letter: Letter) -> Option<&Arc<Section>> {
        self.sections.iter().find(|section| section.letter == letter)
    }

    /// A pass, and the section it lies in.
    pub fn pass(&self, id: PassId) -> Option<(&Arc<Section>, &SharedPass)> {
        self.sections.iter().find_map(|section| Some((section, section.pass(id)?)))
    }

    /// The first letter no section has.
    pub fn free_letter(&self) -> Option<Letter> {
        Letter::all().find(|&letter| self.section(letter).is_none())
    }

    /// The passes of all sections.
    pub(crate) fn all_passes(&self) -> impl Iterator<Item = &SharedPass> {
        self.sections.iter().flat_map(|section| &section.passes)
    }

    /// The ids of all tracks, passes and notes.
    pub(crate) fn used_ids(&self) -> impl Iterator<Item = u32> {
        let passes = self.all_passes().map(|pass| pass.id.0);
        let notes = self.all_passes().flat_map(|pass| pass.notes.iter().map(|note| note.id.0));
        self.tracks.iter().map(|track| track.id.0).chain(passes).chain(notes)
    }

    /// A count of names that starts after the highest one in use. Where a file has used names
    /// so high that few are left above, the count starts in the widest stretch of free ones.
    pub fn ids(&self) -> Ids {
        let last = self.used_ids().max().unwrap_or(0);
        if last <= Self::LAST_ID / 2 {
            return Ids::after(last);
        }
        let mut used: Vec<u32> = [0, Self::LAST_ID].into_iter().chain(self.used_ids()).collect();
        used.sort_unstable();
        let widest = used.windows(2).max_by_key(|pair| pair[1] - pair[0]);
        Ids::after(widest.map_or(last, |pair| pair[0]))
    }

    /// The section with that letter, for changing.
    pub(crate) fn section_mut(&mut self, letter: Letter) -> Option<&mut Section> {
        let found = self.sections.iter_mut().find(|section| section.letter == letter)?;
        Some(Arc::make_mut(found))
    }

    /// The pass with that id, for changing.
    pub(crate) fn pass_mut(&mut self, id: PassId) -> Option<&mut Pass> {
        let section = self.sections.iter_mut().find(|section| section.pass(id).is_some())?;
        let pass = Arc::make_mut(section).passes.iter_mut().find(|pass| pass.id == id)?;
        Some(Arc::make_mut(pass))
    }
}
