//! A section's chart as a whole.

use crate::{Chord, ChordSymbol, Commit, Edit, Label, Section, SectionEdit};
use chaconne_time::Tick;
use std::collections::BTreeMap;

/// Replaces the chords of a section. Those that stay are not touched; the commit is empty if all do.
pub fn chords(section: &Section, to: &[Chord]) -> Commit {
    let by_tick = |chords: &[Chord]| -> BTreeMap<Tick, ChordSymbol> {
        chords.iter().map(|chord| (chord.at, chord.symbol)).collect()
    };
    let (from, to) = (by_tick(&section.chords), by_tick(to));
    let ticks = from.keys().chain(to.keys().filter(|at| !from.contains_key(at)));
    let changed = ticks.filter(|at| from.get(at) != to.get(at));
    let edit =
        |at: &Tick| Edit::Section(section.letter, SectionEdit::Chord(*at, to.get(at).copied()));
    Commit::new(Label::Chords, changed.map(edit).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Song;
    use chaconne_time::{Metre, MetreMap, Tempo};
    use std::sync::Arc;

    fn chart(chords: &[(i64, &str)]) -> Vec<Chord> {
        let chord =
            |&(at, symbol): &(i64, &str)| Chord { at: Tick(at), symbol: symbol.parse().unwrap() };
        chords.iter().map(chord).collect()
    }

    #[test]
    fn only_the_chords_that_differ_are_changed_and_undo_brings_them_back() {
        let metre = MetreMap::new(4, Metre::common()).unwrap();
        let mut song =
            Song::new("chart", Section::new("A".parse().unwrap(), metre, Tempo::DEFAULT));
        let old = chart(&[(0, "C"), (3840, "Am"), (7680, "F")]);
        Arc::make_mut(&mut song.sections[0]).chords = old.clone();
        let new = chart(&[(0, "C"), (1920, "G"), (3840, "Am7")]);
        let commit = chords(&song.sections[0], &new);
        assert_eq!((commit.label, commit.edits.len()), (Label::Chords, 3));
        let inverse = commit.apply(&mut song).unwrap();
        assert_eq!(song.sections[0].chords, new);
        assert!(chords(&song.sections[0], &new).edits.is_empty());
        Edit::apply_all(inverse, &mut song).unwrap();
        assert_eq!(song.sections[0].chords, old);
    }
}
