//! The notes of one layer or of all layers of a track, as they are heard along the axis: what the view of
//! the notes draws, and what its cursor finds.
//!
//! In: a stack of layers and its section. Out: notes by key and time. A sheet is made once for each change
//! of what is in it; looking something up costs no more than what is found. Pitch is the key as it is
//! written: a transposition of the song or section shows only in the names of the keys.

use crate::action::Side;
use crate::axis::SIXTEENTH;
use crate::screen::Stack;
use chaconne_engine::{Curves, Felt, felt, half_step, is_heard};
use chaconne_song::{
    Candidate, Groove, Note, NoteRef, PassId, Section, SharedPass, Stroke, Track, U7,
};
use chaconne_time::{Place, Span, Tick};
use std::collections::BTreeSet;
use std::sync::Arc;

/// Notes by key and time.
#[derive(Debug)]
pub struct Sheet {
    /// The section.
    pub section: Arc<Section>,
    /// The track.
    pub track: Arc<Track>,
    /// The track's index in the song.
    pub place: usize,
    /// The layers, top first.
    pub layers: Vec<SheetLayer>,
    /// How many layers the track has, shown here or not.
    pub of: usize,
    /// All of them, top first, each with its mute.
    stack: Vec<(SharedPass, bool)>,
    /// The grooves that they are given.
    grooves: Vec<Option<Arc<Groove>>>,
    /// How many rounds of the section the axis shows: more than one if a pass is longer.
    pub rounds: u64,
}

/// A layer of a sheet.
#[derive(Debug)]
pub struct SheetLayer {
    /// Its pass.
    pub pass: SharedPass,
    /// Its number in the stack, 1 for the lowest.
    pub number: usize,
    /// Whether it is muted.
    pub mute: bool,
    /// Its controllers as they are heard.
    pub curves: Curves,
    /// The layers above it that cover something.
    covers: Vec<SharedPass>,
    /// A note that starts this much before a cover counts as inside it.
    half: Tick,
    /// The notes by key, each key in order of time.
    notes: Vec<Heard>,
    /// Where the notes of each key begin in `notes`, and where those of the last one end.
    keys: Vec<usize>,
    /// The length of the longest note of each key.
    longest: Vec<Tick>,
    /// The softest and the hardest stroke of each key.
    hard: Vec<Option<(U7, U7)>>,
}

/// A note as it is heard in a cycle of its pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Heard {
    /// The start, from the cycle's start.
    pub on: Tick,
    /// The start without groove and human variation.
    meant: Tick,
    /// How long it sounds.
    pub length: Tick,
    /// The key.
    pub key: U7,
    /// The velocity with which it sounds.
    velocity: U7,
    /// Its index among the notes of the pass.
    index: usize,
}

/// A note where it lies on the axis.
#[derive(Debug, Clone, Copy)]
pub struct Lying<'a> {
    /// Its layer.
    pub layer: &'a SheetLayer,
    /// The note.
    pub note: &'a Note,
    /// Where it starts on the axis.
    pub on: Tick,
    /// Where it ends.
    pub off: Tick,
    /// Where it would start without groove and human variation, which never move it into a cover or out of one.
    pub meant: Tick,
    /// The velocity with which it sounds.
    pub velocity: U7,
    /// Where its cycle starts.
    cycle: Tick,
}

impl Lying<'_> {
    /// What it is called.
    pub fn name(&self) -> NoteRef {
        NoteRef { pass: self.layer.pass.id, note: self.note.id }
    }

    /// Where it starts on the axis without feel.
    pub fn start(&self) -> Tick {
        self.cycle + self.note.stroke().start
    }

    /// Where it was played, on the axis.
    pub fn played(&self) -> Tick {
        self.cycle + self.note.played.start
    }
}

impl SheetLayer {
    fn new(
        (pass, mute): &(SharedPass, bool),
        groove: Option<&Groove>,
        number: usize,
        above: &[(SharedPass, bool)],
        (track, section): (&Track, &Section),
    ) -> SheetLayer {
        let feel = pass.feel.as_ref().unwrap_or(&track.feel);
        let felt = felt(pass, feel, groove, &section.metre, &section.tempo);
        let heard = |(index, (note, felt)): (usize, (&Note, Felt))| {
            let (stroke, Felt { on, meant, velocity }) = (note.stroke(), felt);
            let length = stroke.length.min(pass.length);
            Heard { on, meant, length, key: stroke.key, velocity, index }
        };
        let notes = std::iter::zip(pass.notes(), felt).enumerate();
        let mut notes: Vec<Heard> = notes.map(heard).collect();
        notes.sort_by_key(|heard| (heard.key, heard.on, heard.index));
        let first = |key: u8| notes.partition_point(|heard| heard.key.get() < key);
        let keys: Vec<usize> = (0..=128).map(first).collect();
        let longest = |pair: &[usize]| {
            notes[pair[0]..pair[1]].iter().map(|heard| heard.length).max().unwrap_or_default()
        };
        let longest = keys.windows(2).map(longest).collect();
        let hard = |pair: &[usize]| {
            let strokes =
                notes[pair[0]..pair[1]].iter().map(|heard| pass.notes()[heard.index].stroke());
            let velocities = strokes.map(|stroke| stroke.velocity);
            velocities.clone().min().zip(velocities.max())
        };
        let hard = keys.windows(2).map(hard).collect();
        let (curves, half, pass) = (Curves::of(pass), half_step(feel), pass.clone());
        let covering = above.iter().map(|(pass, _)| pass).filter(|pass| !pass.covers.is_empty());
        let covers = covering.cloned().collect();
        SheetLayer { pass, number, mute: *mute, curves, covers, half, notes, keys, longest, hard }
    }

    /// Whether a layer above that sounds silences what is meant for a tick of an axis that begins `base`
    /// after the section was entered. Which layers are silent is given.
    pub fn is_covered(&self, at: Tick, base: Tick, silent: &BTreeSet<PassId>) -> bool {
        self.covers.iter().filter(|above| !silent.contains(&above.id)).any(|above| {
            let (_, into) = (at + base + self.half).cycle(above.length);
            // A cover may begin early, before the start of its cycle.
            let before = into - above.length;
            above.covers.iter().any(|span| span.contains(into) || span.contains(before))
        })
    }

    fn of_key(&self, key: U7) -> &[Heard] {
        let key = usize::from(key.get());
        &self.notes[self.keys[key]..self.keys[key + 1]]
    }

    /// A note as it is heard.
    fn heard_of(&self, note: &Note) -> Option<&Heard> {
        let same = |heard: &&Heard| self.pass.notes()[heard.index].id == note.id;
        self.of_key(note.stroke().key).iter().find(same)
    }

    /// A note where it lies in a cycle that starts at a tick of the axis.
    fn lying(&self, heard: &Heard, cycle: Tick) -> Lying<'_> {
        let (on, meant) = (cycle + heard.on, cycle + heard.meant);
        Lying {
            layer: self,
            note: &self.pass.notes()[heard.index],
            on,
            off: on + heard.length,
            meant,
            velocity: heard.velocity,
            cycle,
        }
    }

    /// The starts of the cycles, on an axis that begins `base` after the section was entered, whose notes
    /// may start in a span.
    fn cycles(&self, span: Span, base: Tick) -> impl Iterator<Item = Tick> + use<> {
        let length = self.pass.length.0.max(1);
        // Notes start less than a length before or after the start of their cycle; feel moves them on.
        let from = (span.from + base).0.div_euclid(length) - 2;
        let to = (span.to + base).0.div_euclid(length) + 2;
        (from..=to).map(move |cycle| Tick(cycle * length) - base)
    }
}

impl Sheet {
    /// The sheet of a stack: of the layer at an index, or of all.
    pub fn new(stack: &Stack, only: Option<usize>, section: &Arc<Section>) -> Sheet {
        let of = stack.layers.len();
        let shown = |index: &usize| only.is_none_or(|only| only == *index);
        let layer = |index: usize| {
            let (layer, above) = (&stack.layers[index], &stack.layers[..index]);
            let groove = stack.grooves[index].as_deref();
            SheetLayer::new(layer, groove, of - index, above, (&stack.track, section))
        };
        let layers: Vec<SheetLayer> = (0..of).filter(shown).map(layer).collect();
        let longest = layers.iter().map(|layer| layer.pass.length).max().unwrap_or_default();
        let round = section.length().0.max(1);
        let rounds = ((longest.0 + round - 1) / round).max(1) as u64;
        let (section, track, place) = (section.clone(), stack.track.clone(), stack.place);
        let (stack, grooves) = (stack.layers.clone(), stack.grooves.clone());
        Sheet { section, track, place, layers, of, stack, grooves, rounds }
    }

    /// Whether a new sheet would be the same.
    pub fn is_of(&self, stack: &Stack, only: Option<usize>, section: &Arc<Section>) -> bool {
        let same = |(one, other): (&(SharedPass, bool), &(SharedPass, bool))| {
            Arc::ptr_eq(&one.0, &other.0) && one.1 == other.1
        };
        let shown: Vec<usize> = self.layers.iter().map(|layer| self.of - layer.number).collect();
        let wanted: Vec<usize> = match only {
            Some(only) => vec![only],
            None => (0..stack.layers.len()).collect(),
        };
        self.of == stack.layers.len()
            && std::iter::zip(&self.stack, &stack.layers).all(same)
            && self.grooves == stack.grooves
            && shown == wanted
            && self.place == stack.place
            && Arc::ptr_eq(&self.section, section)
            && Arc::ptr_eq(&self.track, &stack.track)
    }

    /// The passes of all layers, shown here or not.
    pub fn passes(&self) -> impl Iterator<Item = (PassId, bool)> + '_ {
        self.stack.iter().map(|(pass, mute)| (pass.id, *mute))
    }

    /// The layers that are muted or, if any is soloed, not among those.
    pub fn silent(&self, solo_passes: &BTreeSet<PassId>) -> BTreeSet<PassId> {
        let solo: Vec<PassId> =
            self.passes().map(|(pass, _)| pass).filter(|pass| solo_passes.contains(pass)).collect();
        let silent = self.passes().filter(|(pass, mute)| !is_heard(*pass, *mute, &solo));
        silent.map(|(pass, _)| pass).collect()
    }

    /// How much time the axis shows.
    pub fn length(&self) -> Tick {
        self.section.length() * self.rounds as i64
    }

    /// Which of the rounds on the axis a round is, from 0.
    pub fn turn(&self, round: u64) -> u64 {
        round % self.rounds
    }

    /// Where the axis begins in a round, counted from the entry into the section.
    pub fn base(&self, round: u64) -> Tick {
        // Far fewer rounds than a tick can count.
        self.section.length() * (round - self.turn(round)) as i64
    }

    /// A place on the axis as bar, beat and tick.
    pub fn place_of(&self, at: Tick) -> Place {
        let (turn, into) = at.cycle(self.section.length());
        let place = self.section.metre.place(into);
        Place { bar: place.bar + turn * i64::from(self.section.metre.bars()), ..place }
    }

    /// How many notes there are.
    pub fn count(&self) -> usize {
        self.layers.iter().map(|layer| layer.notes.len()).sum()
    }

    /// The keys that have notes, the lowest first.
    pub fn keys(&self) -> impl Iterator<Item = U7> {
        (0..128).filter_map(U7::new).filter(|key| self.is_used(*key))
    }

    /// Whether a key has notes.
    pub fn is_used(&self, key: U7) -> bool {
        self.layers.iter().any(|layer| !layer.of_key(key).is_empty())
    }

    /// The softest and the hardest stroke of a key, and how many there are; `None` if it has none.
    pub fn velocities(&self, key: U7) -> Option<(U7, U7, usize)> {
        let hard = |layer: &SheetLayer| layer.hard.get(usize::from(key.get())).copied().flatten();
        let ranges = || self.layers.iter().filter_map(hard);
        let (low, high) = (ranges().map(|it| it.0).min()?, ranges().map(|it| it.1).max()?);
        Some((low, high, self.layers.iter().map(|layer| layer.of_key(key).len()).sum()))
    }

    /// The notes of a key that start in a span of the axis.
    pub fn starting(&self, key: U7, span: Span, base: Tick) -> impl Iterator<Item = Lying<'_>> {
        self.layers.iter().flat_map(move |layer| {
            let notes = layer.of_key(key);
            let cycles = if notes.is_empty() { None } else { Some(layer.cycles(span, base)) };
            cycles.into_iter().flatten().flat_map(move |cycle| {
                let from = notes.partition_point(|heard| cycle + heard.on < span.from);
                let to = notes.partition_point(|heard| cycle + heard.on < span.to);
                notes[from..to.max(from)].iter().map(move |heard| layer.lying(heard, cycle))
            })
        })
    }

    /// The notes of a key that start in a span or sound into it.
    pub fn touching(&self, key: U7, span: Span, base: Tick) -> impl Iterator<Item = Lying<'_>> {
        let row = usize::from(key.get());
        let longest = self.layers.iter().map(|layer| layer.longest[row]).max().unwrap_or_default();
        let wide = Span::new(span.from - longest, span.to);
        self.starting(key, wide, base).filter(move |lying| lying.off > span.from)
    }

    /// A note and its layer, if it is here.
    pub fn note(&self, name: NoteRef) -> Option<(&SheetLayer, &Note)> {
        let layer = self.layers.iter().find(|layer| layer.pass.id == name.pass)?;
        let note = layer.pass.notes().iter().find(|note| note.id == name.note)?;
        Some((layer, note))
    }

    /// Where a note lies on the axis, nearest to a tick.
    pub fn nearest(&self, name: NoteRef, to: Tick, base: Tick) -> Option<Lying<'_>> {
        let (layer, note) = self.note(name)?;
        let heard = layer.heard_of(note)?;
        let on = heard.on;
        let whole = Span::new(Tick::ZERO, self.length());
        let cycles = layer.cycles(whole, base);
        // What is early at the top is the top's.
        let seen = cycles.filter(|cycle| *cycle + on > -SIXTEENTH && *cycle + on < whole.to);
        let cycle = seen.min_by_key(|cycle| ((*cycle + on - to).0.abs(), cycle.0))?;
        Some(layer.lying(heard, cycle))
    }

    /// What every note is called.
    pub fn names(&self) -> impl Iterator<Item = NoteRef> {
        self.layers.iter().flat_map(|layer| {
            let pass = layer.pass.id;
            layer.pass.notes().iter().map(move |note| NoteRef { pass, note: note.id })
        })
    }

    /// The strokes of the notes that are wanted, as they are placed.
    pub fn strokes(&self, wanted: impl Fn(&NoteRef) -> bool) -> Vec<Stroke> {
        let layers = self.layers.iter();
        let all = layers.flat_map(|layer| layer.pass.notes().iter().map(move |note| (layer, note)));
        let named =
            |layer: &SheetLayer, note: &Note| NoteRef { pass: layer.pass.id, note: note.id };
        all.filter(|(layer, note)| wanted(&named(layer, note)))
            .map(|(_, note)| note.stroke())
            .collect()
    }

    /// The first or last of the notes that start in a span and meet a condition, in order of time, then
    /// of key.
    pub fn neighbour(
        &self,
        side: Side,
        span: Span,
        base: Tick,
        meets: impl Fn(&Lying) -> bool,
    ) -> Option<Lying<'_>> {
        let all = (0..128).filter_map(U7::new).flat_map(|key| self.starting(key, span, base));
        let found = all.filter(|lying| meets(lying));
        let place =
            |lying: &Lying| (lying.on.max(Tick::ZERO), lying.note.stroke().key, lying.name());
        match side {
            Side::Left => found.max_by_key(place),
            Side::Right => found.min_by_key(place),
        }
    }

    /// The notes that start in a span, for a rule to choose from.
    pub fn candidates_in(&self, span: Span, base: Tick) -> Vec<Candidate> {
        let all = (0..128).filter_map(U7::new).flat_map(|key| self.starting(key, span, base));
        let candidate = |lying: Lying| {
            let stroke = lying.note.stroke();
            let (note, start) = (lying.name(), lying.on);
            Candidate { note, start, key: stroke.key, velocity: stroke.velocity }
        };
        all.map(candidate).collect()
    }

    /// Every note once, where it lies first on the axis.
    pub fn candidates(&self, base: Tick) -> Vec<Candidate> {
        let of = |layer: &'_ SheetLayer| -> Vec<Candidate> {
            let length = layer.pass.length.0.max(1);
            let candidate = |heard: &Heard| {
                let note = &layer.pass.notes()[heard.index];
                let start = Tick((heard.on - base).0.rem_euclid(length));
                Candidate {
                    note: NoteRef { pass: layer.pass.id, note: note.id },
                    start,
                    key: heard.key,
                    velocity: note.stroke().velocity,
                }
            };
            layer.notes.iter().map(candidate).collect()
        };
        self.layers.iter().flat_map(of).collect()
    }
}

#[cfg(test)]
mod tests;
