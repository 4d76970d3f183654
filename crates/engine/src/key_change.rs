//! Keys that change while the song plays, at a tick that was asked for.
//!
//! In: by how much the keys of which sections change, and where. Out: which notes sound in which key, and by how
//! much what is played is transposed.
//!
//! What begins at the tick or later is in the new key, and so is what is meant for it: a note within half a grid
//! step before the tick, and an early note of a cycle that begins there. What began before is released at the
//! tick.

use chaconne_song::{Letter, Transpose};
use chaconne_time::{Span, Tick};
use std::collections::BTreeMap;

/// Whose keys are transposed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum KeyOf {
    /// The whole song's.
    Song,
    /// Those of one section, on top of the song's.
    Section(Letter),
}

/// How a transposition is to change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum NewKey {
    /// By so many semitones from what it is, or from what it is about to be; down if negative.
    By(i8),
    /// To this transposition.
    To(Transpose),
}

/// Keys that change at a tick of the run.
#[derive(Debug, Clone)]
pub(crate) struct KeyTurn {
    /// The tick.
    pub at: Tick,
    /// Nothing sounds in the new keys before this tick: until then nobody had asked for them.
    pub floor: Tick,
    /// By how many semitones the keys of each section go up.
    pub by: BTreeMap<Letter, i32>,
    /// Whether the song has the new transpositions. Before that, it has the old ones.
    pub done: bool,
}

impl KeyTurn {
    /// By how many semitones the keys of a section go up.
    pub fn by(&self, section: Letter) -> i32 {
        self.by.get(&section).copied().unwrap_or(0)
    }
}

/// Where the notes of a pass sound in one key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct KeySpan {
    /// From where up to where.
    pub span: Span,
    /// Nothing sounds before this tick.
    pub floor: Tick,
}

impl KeySpan {
    /// From the last change in a section, up to the next one that is planned.
    pub fn before(turns: &[KeyTurn], section: Letter) -> KeySpan {
        let last = turns.iter().rfind(|turn| turn.done && turn.by(section) != 0);
        let next = turns.iter().find(|turn| !turn.done && turn.by(section) != 0);
        KeySpan {
            span: Span::new(
                last.map_or(Tick::MIN, |turn| turn.at),
                next.map_or(Tick::MAX, |turn| turn.at),
            ),
            floor: last.map_or(Tick::MIN, |turn| turn.floor),
        }
    }

    /// From a turn on.
    pub fn from(turn: &KeyTurn) -> KeySpan {
        KeySpan { span: Span::new(turn.at, Tick::MAX), floor: turn.floor }
    }

    /// Whether a note sounds in it that starts at `at`, is meant for a tick up to `meant`, and whose cycle begins
    /// at `cycle`.
    pub fn has(&self, at: Tick, meant: Tick, cycle: Tick) -> bool {
        self.span.contains(at.max(meant).max(cycle))
    }
}

/// By how many semitones what is played is transposed when it is performed: by more from some ticks on.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct Transposition {
    first: i32,
    turns: Vec<(Tick, i32)>,
}

impl Transposition {
    /// The transposition of a section, `now` in the song, for notes that may be meant for what begins up to
    /// `half` after them.
    pub fn along(turns: &[KeyTurn], section: Letter, now: i32, half: Tick) -> Transposition {
        let past = turns.iter().filter(|turn| turn.done).map(|turn| turn.by(section));
        let turns = turns.iter().map(|turn| (turn.at - half, turn.by(section)));
        Transposition {
            first: now - past.sum::<i32>(),
            turns: turns.filter(|&(_, by)| by != 0).collect(),
        }
    }

    /// By how many semitones what was played at a tick is transposed.
    pub fn at(&self, tick: Tick) -> i32 {
        let turns = self.turns.iter().filter(|&&(from, _)| from <= tick);
        self.first + turns.map(|(_, by)| by).sum::<i32>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn turn(at: i64, by: i32, done: bool) -> KeyTurn {
        KeyTurn { at: Tick(at), floor: Tick(at - 500), by: [(Letter::A, by)].into(), done }
    }

    #[test]
    fn what_is_played_has_the_transposition_of_its_time() {
        let turns = [turn(1000, 2, true), turn(2000, -3, true), turn(3000, 5, false)];
        let keys = Transposition::along(&turns, Letter::A, 4, Tick(100));
        let at = |tick| keys.at(Tick(tick));
        assert_eq!([0, 899, 900, 1899, 1900, 2899, 2900].map(at), [5, 5, 7, 7, 4, 4, 9]);
        let other = Transposition::along(&turns, "B".parse().unwrap(), 4, Tick(100));
        assert_eq!([0, 5000].map(|tick| other.at(Tick(tick))), [4, 4]);
    }

    #[test]
    fn a_section_is_in_one_key_from_its_last_change_to_its_next() {
        let turns = [turn(1000, 2, true), turn(2000, -3, true), turn(3000, 5, false)];
        let span = KeySpan::before(&turns, Letter::A);
        assert_eq!((span.span, span.floor), (Span::new(Tick(2000), Tick(3000)), Tick(1500)));
        let always = KeySpan { span: Span::new(Tick::MIN, Tick::MAX), floor: Tick::MIN };
        assert_eq!(KeySpan::before(&turns, "B".parse().unwrap()), always);
        let next = KeySpan::from(&turns[2]);
        // The start of a note, the last tick that it may be meant for, and the start of its cycle.
        for (at, meant, cycle, is_next) in [
            (2800, 2920, 0, false),
            (2880, 3000, 0, true),
            (2700, 2820, 3000, true),
            (3000, 2900, 0, true),
        ] {
            let has = |span: KeySpan| span.has(Tick(at), Tick(meant), Tick(cycle));
            assert_eq!((has(span), has(next)), (!is_next, is_next), "{at} {meant} {cycle}");
        }
    }
}
