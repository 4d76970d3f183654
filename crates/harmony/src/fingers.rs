//! Fingers: what is played on an input, made into what sounds.
//!
//! In: the messages of one input, and what keys play at the moment of each. Out: the messages that are heard and
//! recorded, both the same. A release lets go what its press sounded, whatever the keys play by then. A note that
//! two keys sound is released with the last of them.

use crate::chord_keys::sounded;
use crate::{
    PitchClass, Pitches, chord_on_key, nearest, pitches, scale, transposed_chord, transposed_key,
};
use chaconne_midi::Message;
use chaconne_song::{Channel, ChordKeys, ChordSymbol, KeySignature, KeysPlay, U7};
use chaconne_time::{Ns, Tick};
use std::collections::BTreeMap;

/// The harmony in force, as it sounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Harmony {
    /// The key signature, if one is set.
    pub key: Option<KeySignature>,
    /// The chart's chord, if it has one there.
    pub chord: Option<ChordSymbol>,
}

/// What the keys of the armed track play, now and in the near future.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct KeysNow {
    /// What a key sounds.
    pub plays: KeysPlay,
    /// The chords that keys play.
    pub keys: ChordKeys,
    /// The take that is on, by the tick at which it began. The first chord of a take leads on from none.
    pub take: Option<Tick>,
    /// The harmonies, each with the moment from which keys take it; in order. Before the first, keys take the
    /// first. The moment lies a little before the beat at which a chord begins, because an early note takes
    /// the chord that it is early for.
    pub harmonies: Vec<(Ns, Harmony)>,
}

impl Harmony {
    /// The harmony that is heard where this key and this chord are written and transposed by so many semitones.
    pub fn heard(key: Option<KeySignature>, chord: Option<ChordSymbol>, transpose: i32) -> Harmony {
        let key = key.map(|key| transposed_key(key, transpose));
        Harmony { key, chord: chord.map(|chord| transposed_chord(chord, transpose, key)) }
    }
}

impl KeysNow {
    /// The harmony that a key takes which is struck at `stamp`.
    pub fn harmony(&self, stamp: Ns) -> Harmony {
        let after = self.harmonies.partition_point(|&(from, _)| from <= stamp);
        let found = self.harmonies.get(after.saturating_sub(1));
        found.map_or_else(Harmony::default, |&(_, harmony)| harmony)
    }

    /// The keys that sound when a key is struck. `before` are those that the last chord of the same input
    /// sounded.
    fn sounding(&self, stamp: Ns, key: U7, before: &[U7]) -> Vec<U7> {
        let harmony = self.harmony(stamp);
        match means(key, self.plays, &self.keys, harmony) {
            Meant::Note(note) => vec![note],
            Meant::Chord(symbol) => sounded(key, symbol, harmony.key, &self.keys, before),
        }
    }
}

/// What a key means before it is laid out on the keyboard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meant {
    /// One note.
    Note(U7),
    /// A chord.
    Chord(ChordSymbol),
}

/// What a key means, where keys play this, with these chords, over this harmony.
pub fn means(key: U7, plays: KeysPlay, keys: &ChordKeys, harmony: Harmony) -> Meant {
    match (plays, harmony.chord) {
        (KeysPlay::Notes, _) => Meant::Note(key),
        (KeysPlay::Chord, Some(chord @ ChordSymbol::Chord { .. })) => {
            Meant::Note(nearest(key, pitches(chord)))
        }
        (KeysPlay::Scale | KeysPlay::Chord, _) => Meant::Note(nearest(key, scale_of(harmony.key))),
        (KeysPlay::Chart, Some(symbol)) if !keys.own.contains_key(&key) => Meant::Chord(symbol),
        (KeysPlay::Chords | KeysPlay::Chart, _) => {
            Meant::Chord(chord_on_key(key, harmony.key, keys))
        }
    }
}

fn scale_of(key: Option<KeySignature>) -> Pitches {
    let all: [PitchClass; 7] = scale(key.unwrap_or(KeySignature::C_MAJOR));
    all.into_iter().collect()
}

/// A key of an input: its channel and number.
type Key = (Channel, U7);

/// A set of keys, without allocation: every note that is played as it is goes through it.
#[derive(Debug, Clone, Copy, Default)]
struct KeySet([u128; 16]);

impl KeySet {
    fn insert(&mut self, (channel, key): Key) {
        self.0[usize::from(channel.wire())] |= 1 << key.get();
    }

    /// Whether it was in the set.
    fn remove(&mut self, (channel, key): Key) -> bool {
        let keys = &mut self.0[usize::from(channel.wire())];
        let was = *keys >> key.get() & 1 == 1;
        *keys &= !(1 << key.get());
        was
    }
}

/// The fingers on one input.
#[derive(Debug, Clone, Default)]
pub struct Fingers {
    /// The keys that are down and were pressed while keys played their own notes.
    plain: KeySet,
    /// What each other key that is down sounds.
    down: BTreeMap<Key, Vec<U7>>,
    /// How many keys sound each note.
    sounding: BTreeMap<Key, u8>,
    /// What the last chord sounded.
    before: Vec<U7>,
    /// The take that was on then.
    take: Option<Tick>,
}

impl Fingers {
    /// Takes a message that was played at `stamp`, and passes what it sounds to `out`, in order.
    pub fn play(
        &mut self,
        stamp: Ns,
        message: Message,
        now: &KeysNow,
        mut out: impl FnMut(Message),
    ) {
        match message {
            Message::NoteOn { channel, key, .. }
                if now.plays == KeysPlay::Notes && self.down.is_empty() =>
            {
                self.plain.insert((channel, key));
                out(message);
            }
            Message::NoteOn { channel, key, velocity } => {
                if now.take.is_some() && now.take != self.take {
                    self.before.clear();
                }
                self.take = now.take;
                self.let_go((channel, key), U7::CENTRE, &mut out);
                let keys = now.sounding(stamp, key, &self.before);
                for &key in &keys {
                    *self.sounding.entry((channel, key)).or_default() += 1;
                    out(Message::NoteOn { channel, key, velocity });
                }
                if now.plays.has_chords() && !keys.is_empty() {
                    self.before.clone_from(&keys);
                }
                self.down.insert((channel, key), keys);
            }
            Message::NoteOff { channel, key, velocity } => {
                if !self.let_go((channel, key), velocity, &mut out) {
                    out(message);
                }
            }
            Message::KeyPressure { channel, key, value } => match self.down.get(&(channel, key)) {
                Some(keys) => {
                    keys.iter().for_each(|&key| out(Message::KeyPressure { channel, key, value }))
                }
                None => out(message),
            },
            other => out(other),
        }
    }

    /// Releases what a key sounds, except what another key sounds too. Whether the key was down.
    fn let_go(&mut self, key: Key, velocity: U7, out: &mut impl FnMut(Message)) -> bool {
        let channel = key.0;
        if self.plain.remove(key) {
            // A chord may have struck its note since; then it is released with that.
            if !self.sounding.contains_key(&key) {
                out(Message::NoteOff { channel, key: key.1, velocity });
            }
            return true;
        }
        let Some(keys) = self.down.remove(&key) else { return false };
        for key in keys {
            let count = self.sounding.entry((channel, key)).or_default();
            *count = count.saturating_sub(1);
            if *count == 0 {
                self.sounding.remove(&(channel, key));
                out(Message::NoteOff { channel, key, velocity });
            }
        }
        true
    }

    /// Forgets what is down, because the input is gone and what it held is released.
    pub fn lost(&mut self) {
        *self = Fingers::default();
    }
}

#[cfg(test)]
mod tests;
