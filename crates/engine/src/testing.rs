//! Small songs for the tests of this crate, and performances spelled out as short text.

use crate::{Message, Performance, Wire};
use chaconne_song::{
    Channel, Feel, Lane, Letter, Note, Pass, PassId, Placed, Section, Song, Stroke, SysEx, Track,
    TrackId, Transpose, U7,
};
use chaconne_time::{Metre, MetreMap, Span, Tempo, Tick};
use std::sync::Arc;

/// Builds a song whose sections have one bar of four quarters, unless told otherwise.
pub(crate) struct Build {
    song: Song,
    passes: Vec<PassId>,
}

impl Build {
    /// A song with this many pitched tracks, whose ids count from 1.
    pub fn new(tracks: u32) -> Build {
        Build::with_bars(tracks, 1)
    }

    /// The same with this many bars.
    pub fn with_bars(tracks: u32, bars: u32) -> Build {
        let metre = MetreMap::new(bars, Metre::common()).unwrap();
        let mut song = Song::new("test", Section::new(Letter::A, metre, Tempo::DEFAULT));
        for id in 1..=tracks {
            let track = Track::pitched(TrackId(id), &format!("Track {id}"));
            song.tracks.push(Arc::new(track));
        }
        Build { song, passes: Vec::new() }
    }

    /// Another section, like the first but empty.
    pub fn section(mut self, letter: &str) -> Build {
        let first = Arc::clone(&self.song.sections[0]);
        let letter = letter.parse().unwrap();
        let section = Section { letter, layers: Vec::new(), ..(*first).clone() };
        self.song.sections.push(Arc::new(section));
        self
    }

    pub fn form(mut self, letters: &str) -> Build {
        self.song.form = letters.parse().unwrap();
        self
    }

    /// A pass on a track (by index) of the first section: start, length and key of each note.
    pub fn pass(self, track: usize, length: i64, notes: &[(i64, i64, u8)]) -> Build {
        self.pass_in(0, track, length, notes)
    }

    pub fn pass_in(
        mut self,
        section: usize,
        track: usize,
        length: i64,
        notes: &[(i64, i64, u8)],
    ) -> Build {
        let mut ids = self.song.ids();
        let mut pass = Pass::empty(ids.pass(), self.song.tracks[track].id, Tick(length));
        for &(start, length, key) in notes {
            let played = Stroke {
                start: Tick(start),
                length: Tick(length),
                key: U7::low_bits(key),
                velocity: U7::low_bits(100),
                release: U7::CENTRE,
            };
            let (id, channel) = (pass.free_note_id(), Channel::default());
            pass.notes_mut().notes.push(Note { id, channel, played, placed: Placed::UNCHANGED });
        }
        pass.sort();
        self.passes.push(pass.id);
        self.song.lay(self.song.sections[section].letter, pass);
        self
    }

    fn change(mut self, pass: usize, change: impl FnOnce(&mut Pass)) -> Build {
        let id = self.passes[pass];
        change(Arc::make_mut(self.song.passes.get_mut(&id).unwrap()));
        self
    }

    pub fn lane(self, pass: usize, lane: Lane) -> Build {
        self.change(pass, |pass| {
            pass.notes_mut().lanes.push(lane);
            pass.sort();
        })
    }

    pub fn cover(self, pass: usize, from: i64, to: i64) -> Build {
        self.change(pass, |pass| pass.covers.push(Span::new(Tick(from), Tick(to))))
    }

    /// Adds a system-exclusive message of this many bytes to a pass.
    pub fn message(self, pass: usize, at: i64, size: usize) -> Build {
        let mut bytes = vec![0; size];
        (bytes[0], bytes[size - 1]) = (0xF0, 0xF7);
        self.change(pass, |pass| pass.notes_mut().sysex.push(SysEx { at: Tick(at), bytes }))
    }

    /// Mutes a pass in every section.
    pub fn mute_pass(mut self, pass: usize) -> Build {
        let id = self.passes[pass];
        for section in &mut self.song.sections {
            let layers = &mut Arc::make_mut(section).layers;
            layers.iter_mut().filter(|layer| layer.pass == id).for_each(|layer| layer.mute = true);
        }
        self
    }

    /// Adds a pass of another section as the top layer of a section.
    pub fn share(mut self, section: usize, pass: usize) -> Build {
        let layer = chaconne_song::Layer::of(self.passes[pass]);
        Arc::make_mut(&mut self.song.sections[section]).layers.push(layer);
        self
    }

    /// Transposes the song, and one section on top.
    pub fn transpose(mut self, song: i8, section: usize, more: i8) -> Build {
        self.song.transpose = Transpose::new(song).unwrap();
        let section = Arc::make_mut(&mut self.song.sections[section]);
        section.transpose = Transpose::new(more).unwrap();
        self
    }

    pub fn mute_track(mut self, track: usize) -> Build {
        Arc::make_mut(&mut self.song.tracks[track]).mute = true;
        self
    }

    pub fn feel(mut self, track: usize, feel: Feel) -> Build {
        Arc::make_mut(&mut self.song.tracks[track]).feel = feel;
        self
    }

    pub fn song(self) -> Song {
        self.song
    }
}

/// A performance as one line: the tick of each event, then + for a note-on, - for a note-off, c for a
/// controller.
pub(crate) fn spell(performance: &Performance) -> String {
    let words = performance.events.iter().map(|event| {
        let at = event.at.0;
        match &event.wire {
            Wire::Message(Message::NoteOn { key, .. }) => format!("{at}+{key}"),
            Wire::Message(Message::NoteOff { key, .. }) => format!("{at}-{key}"),
            Wire::Message(Message::Change { controller, value, .. }) => {
                format!("{at}c{controller}={value}")
            }
            Wire::Message(other) => format!("{at}{other:?}"),
            Wire::SysEx(bytes) => format!("{at}x{}", bytes.len()),
        }
    });
    words.collect::<Vec<_>>().join(" ")
}
