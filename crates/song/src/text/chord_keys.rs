//! Chord keys as text, both ways.

use super::layout::ChordKeysText;
use super::line::{Record, quoted};
use super::read::Reader;
use crate::{ChordKeys, OwnChord};
use std::collections::BTreeMap;

impl<'a> Reader<'a> {
    /// Reads the chord keys of a track.
    pub(super) fn chord_keys(&mut self, text: &ChordKeysText<'a>) -> Option<ChordKeys> {
        let usual = ChordKeys::default();
        let stack = self.or(text.stack, usual.stack, |reader, leaf| {
            reader.faults.parsed(leaf, "stack", str::parse)
        });
        let inversion = self.or(text.inversion, usual.inversion, |reader, leaf| {
            let last = i64::from(ChordKeys::LAST_INVERSION);
            reader.faults.number(leaf, "inversion", 0, last).map(|nth| nth as u8)
        });
        let open = self.or(text.open, usual.open, |reader, leaf| reader.faults.flag(leaf, "open"));
        let leading = self
            .or(text.leading, usual.leading, |reader, leaf| reader.faults.flag(leaf, "leading"));
        let own = self.own_chords(text);
        Some(ChordKeys {
            stack: stack?,
            inversion: inversion?,
            open: open?,
            leading: leading?,
            own: own?,
        })
    }

    fn own_chords(
        &mut self,
        text: &ChordKeysText<'a>,
    ) -> Option<BTreeMap<crate::U7, crate::ChordSymbol>> {
        let mut own = Some(BTreeMap::new());
        for &leaf in &text.own {
            let read: Option<OwnChord> = self.faults.parsed(leaf, "own", str::parse);
            match (read, &mut own) {
                (Some(OwnChord(key, chord)), Some(all)) => {
                    if all.insert(key, chord).is_some() {
                        self.faults.add(leaf, "this key has a chord already; give each key one");
                        own = None;
                    }
                }
                _ => own = None,
            }
        }
        own
    }
}

/// The record of chord keys; `None` for the usual ones.
pub(super) fn chord_keys_record(keys: &ChordKeys) -> Option<String> {
    let usual = ChordKeys::default();
    if *keys == usual {
        return None;
    }
    let mut record = Record::new();
    if keys.stack != usual.stack {
        record = record.text("stack", keys.stack);
    }
    let own: Vec<String> =
        keys.own.iter().map(|(&key, &chord)| quoted(&OwnChord(key, chord).to_string())).collect();
    let own = (!own.is_empty()).then(|| format!("[{}]", own.join(", ")));
    let record = record
        .unless(usual.inversion, "inversion", keys.inversion)
        .unless(usual.open, "open", keys.open)
        .unless(usual.leading, "leading", keys.leading)
        .maybe("own", own);
    Some(record.end())
}
