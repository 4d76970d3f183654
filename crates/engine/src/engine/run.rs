//! A run of the transport: what it plays, along which timeline, and where its count-in ends.

use crate::plan::Since;
use crate::route::index_at;
use crate::{Entry, Walk};
use chaconne_song::{Letter, PassId, Song};
use chaconne_time::{Ns, Tempo, Tick, Timeline};
use std::collections::BTreeMap;

/// The transport while it runs.
#[derive(Debug)]
pub(super) struct Run {
    pub timeline: Timeline,
    /// The sections played and to come; the last one may have no end.
    pub entries: Vec<Entry>,
    /// How many rounds they have, if the last one has an end. Counting them takes long for a long route.
    pub rounds: Option<i64>,
    /// The tick at which it started, with its count-in if it has one.
    pub start: Tick,
    /// The tick at which the music begins: where the count-in ends, or where it started. Only the methods here
    /// compare ticks with it, and those of [`Walk::beginning`].
    music: Tick,
    /// Tempi before this tick are on the timeline.
    pub tempo_known: Tick,
    /// Clicks and pulses before this tick were ordered.
    pub clicked: Tick,
    /// Whether another clock sets the tempo in place of the song's own tempi.
    pub led: bool,
    /// When each pass recorded in this run sounds.
    pub since: BTreeMap<PassId, Since>,
    /// Whether recorders got a record strobe and no record exit since.
    pub strobed: bool,
}

impl Run {
    /// A run that begins with these.
    pub fn new(departure: Departure) -> Run {
        let Departure { entries, start, music, ns, tempo, led, .. } = departure;
        Run {
            timeline: Timeline::new(start, ns, tempo),
            entries,
            rounds: None,
            start,
            music,
            // The count-in keeps the tempo that it leads into.
            tempo_known: music,
            clicked: start,
            led,
            since: BTreeMap::new(),
            strobed: false,
        }
    }

    /// Enters a section at a tick, in place of everything planned from there on.
    pub fn enter(&mut self, section: Letter, from: Tick) {
        self.since.clear();
        self.entries.retain(|entry| entry.at < from);
        if let Some(last) = self.entries.last_mut() {
            (last.until, last.cut) = (from, true);
        }
        self.entries.push(Entry { section, at: from, until: Tick::MAX, cut: false });
    }

    /// The tick at which the music begins, and the count-in ends.
    pub fn music(&self) -> Tick {
        self.music
    }

    /// Whether a tick is in the count-in.
    pub fn counts_in(&self, at: Tick) -> bool {
        at < self.music
    }

    /// A tick of the music: in the count-in, the one that it leads to.
    pub fn in_music(&self, at: Tick) -> Tick {
        at.max(self.music)
    }

    /// A walk along it.
    pub fn walk<'a>(&'a self, song: &'a Song) -> Walk<'a> {
        Walk::new(song, &self.entries).beginning(self.music)
    }

    /// The entry in force at a tick; in the count-in, the one that it leads into.
    pub fn entry(&self, at: Tick) -> Entry {
        self.entries[self.index(at)]
    }

    /// The entry in force at a tick, and those to come.
    pub fn entries_from(&self, at: Tick) -> &[Entry] {
        &self.entries[self.index(at)..]
    }

    fn index(&self, at: Tick) -> usize {
        index_at(&self.entries, self.in_music(at))
    }

    /// The tick at which the route ends; [`Tick::MAX`] if it has no end.
    pub fn end(&self) -> Tick {
        self.entries.last().map_or(Tick::ZERO, |entry| entry.until)
    }
}

/// What a run starts with.
#[derive(Debug)]
pub(super) struct Departure {
    /// The sections to play.
    pub entries: Vec<Entry>,
    /// The first tick, with the count-in.
    pub start: Tick,
    /// The tick at which the music begins.
    pub music: Tick,
    /// When the first tick falls.
    pub ns: Ns,
    /// The tempo there.
    pub tempo: Tempo,
    /// The musical time there, in nanoseconds since bar one.
    pub song: Ns,
    /// Whether another clock sets the tempo.
    pub led: bool,
}
