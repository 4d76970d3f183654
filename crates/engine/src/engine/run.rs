//! A run of the transport: what it plays, along which timeline, and where its count-in ends.

use super::key_changes::Coming;
use crate::key_change::KeyTurn;
use crate::plan::Since;
use crate::route::index_at;
use crate::{Entry, Walk};
use chaconne_song::{Letter, PassId, Song};
use chaconne_time::{Ns, Span, Tempo, Tick, Timeline};
use std::collections::BTreeMap;

/// The transport while it runs.
#[derive(Debug)]
pub(super) struct Run {
    pub timeline: Timeline,
    /// The sections played and to come; the last one may have no end.
    pub entries: Vec<Entry>,
    /// What comes after them.
    pub rest: Rest,
    /// The tick from which the route was appended to itself last.
    pub repeated: Option<Tick>,
    /// How many rounds they have, if the last one has an end. Counting them takes long for a long route.
    pub rounds: Option<i64>,
    /// How many rounds the route has that was asked for; 0 if it has no end.
    pub whole: i64,
    /// The tick at which it started, with its count-in if it has one.
    pub start: Tick,
    /// The tick at which the music begins: where the count-in ends, or where it started. Only the methods here
    /// compare ticks with it, and those of [`Walk::beginning`].
    music: Tick,
    /// Tempi before this tick are on the timeline.
    pub tempo_known: Tick,
    /// Clicks and pulses before this tick were ordered.
    pub clicked: Tick,
    /// Who sets the time.
    pub leads: Leads,
    /// The tick before which the time is held until it is let go, if there is one.
    pub hold: Option<Tick>,
    /// Whether it was said what the time waits for.
    pub told: bool,
    /// The tick of the last hold that was let go; the next one is later.
    pub passed: Tick,
    /// When each pass recorded in this run sounds.
    pub since: BTreeMap<PassId, Since>,
    /// The change of key that is still to come.
    pub coming_key: Option<Coming>,
    /// The ticks at which keys have changed, in order.
    pub key_turns: Vec<KeyTurn>,
    /// Whether recorders got a record strobe and no record exit since.
    pub strobed: bool,
}

impl Run {
    /// A run that begins with these.
    pub fn new(departure: Departure) -> Run {
        let Departure { entries, rest, start, music, ns, tempo, leads, .. } = departure;
        Run {
            timeline: Timeline::new(start, ns, tempo),
            entries,
            rest,
            repeated: None,
            rounds: None,
            whole: 0,
            start,
            music,
            // The count-in keeps the tempo that it leads into.
            tempo_known: music,
            clicked: start,
            leads,
            hold: None,
            told: false,
            passed: Tick::MIN,
            since: BTreeMap::new(),
            coming_key: None,
            key_turns: Vec::new(),
            strobed: false,
        }
    }

    /// Starts afresh with these entries at a tick, because the bars of the section that plays have changed.
    pub fn enter(&mut self, entries: Vec<Entry>, from: Tick) {
        self.since.clear();
        self.repeated = None;
        self.rest.holds = None;
        self.go_on_with(from, true, entries);
    }

    /// Ends the present stay at a tick, and plays these entries from there on instead of what was planned.
    pub fn go_on_with(&mut self, from: Tick, cut: bool, entries: impl IntoIterator<Item = Entry>) {
        self.entries.retain(|entry| entry.at < from);
        if let Some(last) = self.entries.last_mut() {
            (last.until, last.cut) = (from, cut);
        }
        for entry in entries {
            match self.entries.last_mut() {
                // A section that follows itself continues the same stay.
                Some(last) if last.section == entry.section && !last.cut => {
                    last.until = entry.until
                }
                _ => self.entries.push(entry),
            }
        }
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

/// Who sets the time of a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Leads {
    /// The song, by its tempi.
    Song,
    /// Another clock.
    Clock,
    /// A hand that gives the beats.
    Hand,
}

/// What comes after the entries of a run.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Rest {
    /// The sections of the route that was asked for, one for each round; empty if it had no end.
    pub whole: Vec<Letter>,
    /// What is left of it after it was left: one letter for each round.
    pub left: Option<Vec<Letter>>,
    /// Since when the run is away from the route, or was last, and until when.
    pub away: Option<Span>,
    /// Until when the round that plays keeps its place in the route although rounds after it were left out,
    /// and that place, counted from 1. From then on the place follows from what is to come.
    pub holds: Option<(Tick, i64)>,
}

impl Rest {
    /// What comes after the entries of a route that is played from its start.
    pub fn of(song: &Song, entries: &[Entry]) -> Rest {
        let whole = letters_after(song, entries, Tick::MIN).unwrap_or_default();
        Rest { whole, left: None, away: None, holds: None }
    }

    /// Whether a tick belongs to something else than the route.
    pub fn is_away(&self, at: Tick) -> bool {
        self.away.is_some_and(|away| away.contains(at))
    }

    /// The place of the round that plays, if rounds after it were left out.
    pub fn held(&self, at: Tick) -> Option<i64> {
        self.holds.filter(|&(until, _)| at < until).map(|(_, place)| place)
    }

    /// Leaves the route at a turn, if the run is on it until then.
    pub fn leave(&mut self, at: Tick, turn: Tick) {
        if !self.is_away(at) {
            self.away = Some(Span::new(turn, Tick::MAX));
        }
    }

    /// Goes back to the route at a turn, or does not leave it after all.
    pub fn go_back(&mut self, at: Tick, turn: Tick) {
        self.away = self.away.filter(|away| away.from <= at);
        self.holds = self.holds.map(|(until, place)| (until.min(turn), place));
        if let Some(away) = self.away.as_mut().filter(|away| away.contains(at)) {
            away.to = turn;
        }
    }

    /// All letters, to give sections new ones.
    pub fn letters_mut(&mut self) -> impl Iterator<Item = &mut Letter> {
        self.whole.iter_mut().chain(self.left.iter_mut().flatten())
    }
}

/// The sections that begin after a tick, one for each round; `None` if they have no end.
pub(super) fn letters_after(song: &Song, entries: &[Entry], at: Tick) -> Option<Vec<Letter>> {
    if entries.last().is_none_or(|last| last.until == Tick::MAX) {
        return None;
    }
    let rounds = Walk::new(song, entries).rounds(at);
    let coming = rounds.filter(|round| round.start > at);
    Some(coming.map(|round| round.visit.entry.section).collect())
}

/// What a run starts with.
#[derive(Debug)]
pub(super) struct Departure {
    /// The sections to play.
    pub entries: Vec<Entry>,
    /// What comes after them.
    pub rest: Rest,
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
    /// Who sets the time.
    pub leads: Leads,
}
