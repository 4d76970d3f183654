//! Collects the notes that one track chunk plays on one channel of one port.

use super::remarks::Tally;
use chaconne_song::{Channel, Pairing, Stroke, U7};
use chaconne_time::Tick;

/// The notes so far, and the keys that are held.
pub(super) struct ChunkNotes {
    /// In the order of their presses.
    pub notes: Vec<Stroke>,
    /// The held keys, with one pairing per key, so that a release finds its press at once even if the
    /// file never releases many keys.
    down: Vec<Pairing<usize>>,
    held: usize,
    /// One bit for each key that may be held.
    keys: u128,
}

impl Default for ChunkNotes {
    fn default() -> ChunkNotes {
        ChunkNotes { notes: Vec::new(), down: vec![Pairing::default(); 128], held: 0, keys: 0 }
    }
}

impl ChunkNotes {
    pub fn press(&mut self, at: Tick, channel: Channel, key: U7, velocity: U7) {
        let stroke = Stroke { start: at, length: Tick(1), key, velocity, release: U7::CENTRE };
        self.down[usize::from(key.get())].press(channel, key, self.notes.len());
        self.held += 1;
        self.keys |= 1 << key.get();
        self.notes.push(stroke);
    }

    pub fn release(
        &mut self,
        at: Tick,
        channel: Channel,
        key: U7,
        velocity: U7,
        tally: &mut Tally,
    ) {
        let pairing = &mut self.down[usize::from(key.get())];
        let Some(paired) = pairing.release(channel, key, at, velocity) else { return };
        self.held -= 1;
        let stroke = &mut self.notes[paired.tag];
        stroke.release = paired.release;
        end_at(stroke, paired.end, tally);
    }

    /// Whether a key is held.
    pub fn holds(&self, key: U7) -> bool {
        self.down[usize::from(key.get())].held().next().is_some()
    }

    /// Ends the notes that are still held at the end of the track chunk.
    pub fn finish(&mut self, end: Tick, tally: &mut Tally) {
        tally.held += self.held;
        self.release_all(end, tally);
    }

    pub fn release_all(&mut self, at: Tick, tally: &mut Tally) {
        while self.held > 0 {
            // Only held keys, lowest first: far fewer than all keys.
            let key = self.keys.trailing_zeros() as usize;
            self.keys &= self.keys - 1;
            for index in self.down[key].drain() {
                self.held -= 1;
                end_at(&mut self.notes[index], at, tally);
            }
        }
        self.keys = 0;
    }
}

fn end_at(stroke: &mut Stroke, end: Tick, tally: &mut Tally) {
    let length = end - stroke.start;
    if length < Tick(1) {
        tally.instants += 1;
    }
    stroke.length = length.max(Tick(1));
}
