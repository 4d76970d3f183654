//! Choosing notes by what they have in common.
//!
//! In: notes as whoever asks sees them, and a rule. Out: the notes that the rule takes.

use crate::{NoteRef, U7};
use chaconne_time::{Span, Tick};
use std::collections::BTreeSet;

/// What a rule looks at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Candidate {
    /// Which note.
    pub note: NoteRef,
    /// Where it starts.
    pub start: Tick,
    /// Its key.
    pub key: U7,
    /// Its velocity.
    pub velocity: U7,
}

/// A rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Choice {
    /// Every note.
    All,
    /// Those of one key.
    Key(U7),
    /// Those that start in a span, from a lowest to a highest key.
    Between(Span, U7, U7),
    /// Those struck harder than that.
    Louder(U7),
    /// Those struck softer than that.
    Softer(U7),
    /// Every nth, counted in time from the first: with 2 the first, the third and so on.
    Every(usize),
}

/// The notes that a rule takes.
pub fn choose(choice: Choice, notes: &[Candidate]) -> BTreeSet<NoteRef> {
    let names = |takes: &dyn Fn(&Candidate) -> bool| {
        notes.iter().filter(|note| takes(note)).map(|note| note.note).collect()
    };
    match choice {
        Choice::All => names(&|_| true),
        Choice::Key(key) => names(&|note| note.key == key),
        Choice::Between(span, low, high) => {
            names(&|note| span.contains(note.start) && (low..=high).contains(&note.key))
        }
        Choice::Louder(than) => names(&|note| note.velocity > than),
        Choice::Softer(than) => names(&|note| note.velocity < than),
        Choice::Every(nth) => {
            let mut order: Vec<&Candidate> = notes.iter().collect();
            order.sort_by_key(|note| (note.start, note.key, note.note));
            order.into_iter().step_by(nth.max(1)).map(|note| note.note).collect()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{NoteId, PassId};

    fn note(id: u32, start: i64, key: u8, velocity: u8) -> Candidate {
        let note = NoteRef { pass: PassId(1), note: NoteId(id) };
        let (key, velocity) = (U7::low_bits(key), U7::low_bits(velocity));
        Candidate { note, start: Tick(start), key, velocity }
    }

    #[test]
    fn each_rule_takes_what_it_says() {
        let notes = [
            note(1, 480, 60, 90),
            note(2, 0, 64, 100),
            note(3, 0, 60, 30),
            note(4, 960, 67, 91),
            note(5, 1919, 59, 127),
        ];
        let seven = U7::low_bits;
        let beat = Span::new(Tick(0), Tick(960));
        for (choice, taken) in [
            (Choice::All, &[1, 2, 3, 4, 5][..]),
            (Choice::Key(seven(60)), &[1, 3]),
            (Choice::Between(beat, seven(60), seven(64)), &[1, 2, 3]),
            (Choice::Between(beat, seven(61), seven(127)), &[2]),
            (Choice::Louder(seven(90)), &[2, 4, 5]),
            (Choice::Softer(seven(90)), &[3]),
            (Choice::Every(2), &[1, 3, 5]),
            (Choice::Every(3), &[3, 4]),
            (Choice::Every(0), &[1, 2, 3, 4, 5]),
        ] {
            let found: Vec<u32> = choose(choice, &notes).iter().map(|of| of.note.0).collect();
            assert_eq!(found, taken, "{choice:?}");
        }
    }
}
