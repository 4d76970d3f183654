//! The box for what keys play on the armed track: notes, notes of the harmony, or chords, and which chord lies on
//! which key. The letters of the piano and every input sound while it is open, so each change is heard with the
//! next key.
//!
//! In: keys, and what is struck on any input. Out: edits of the track, each press a step of undo.

use super::{Effect, Overlay, Screen};
use crate::action::{KeysAction, Move, Side, Vertical};
use crate::desk::DeskState;
use crate::form::Form;
use crate::key_names::pitch;
use crate::keys_play::{armed, chord_on, harmony};
use chaconne_engine::{Command, Status};
use chaconne_harmony::Harmony;
use chaconne_song::{
    ChordKeys, ChordSymbol, Commit, Edit, KeysPlay, Stack, Track, TrackEdit, TrackId, U7,
};
use std::sync::Arc;

/// A setting of what keys play.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KeysField {
    /// What a key sounds.
    Plays,
    /// How many tones the chords in the key have.
    Stack,
    /// Which tone is the lowest.
    Inversion,
    /// Close or open.
    Spacing,
    /// Whether each chord lies near the one before.
    Leading,
    /// A key, and the chord that lies on it.
    Key,
}

impl KeysField {
    /// All of them, in the order on the screen.
    pub const ALL: [KeysField; 6] = [
        KeysField::Plays,
        KeysField::Stack,
        KeysField::Inversion,
        KeysField::Spacing,
        KeysField::Leading,
        KeysField::Key,
    ];

    /// Its name on the screen.
    pub fn name(self) -> &'static str {
        match self {
            KeysField::Plays => "keys play",
            KeysField::Stack => "chords",
            KeysField::Inversion => "inversion",
            KeysField::Spacing => "spacing",
            KeysField::Leading => "leading",
            KeysField::Key => "key",
        }
    }

    /// What it is for, in a sentence or two.
    pub fn sentence(self) -> &'static str {
        match self {
            KeysField::Plays => {
                "What a key sounds: its own note, the nearest note of the key or of the chart's chord, a chord in \
                 the key, or the chart's chord."
            }
            KeysField::Stack => {
                "How many notes the chords in the key have: triads three, sevenths four, ninths five."
            }
            KeysField::Inversion => {
                "Which note of the chord is the lowest; with leading, in the first chord only."
            }
            KeysField::Spacing => {
                "Close: the notes lie as near together as they can. Open: every second note lies an octave higher."
            }
            KeysField::Leading => {
                "On: each chord takes the position in which its notes move least from the chord before. Off: \
                 always the inversion chosen here."
            }
            KeysField::Key => {
                "Which chord lies on which key: {confirm} types one, {pick-up-chord} picks one up, \
                 {reset-chord} gives back the chord in the key."
            }
        }
    }

    fn beside(self, way: Vertical) -> KeysField {
        let at = KeysField::ALL.iter().position(|&field| field == self).unwrap_or(0);
        KeysField::ALL[way.around(at, KeysField::ALL.len())]
    }
}

/// What waits for a key to be struck.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Waits {
    /// The chord that the key gets; `None` if the key is only chosen.
    pub chord: Option<ChordSymbol>,
    /// What was struck last when the wait began.
    before: Arc<[U7]>,
    /// Whether keys play their own notes meanwhile, so that a key on an input can be told.
    tries: bool,
}

/// The open box.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeysBox {
    /// The track.
    pub track: TrackId,
    /// The setting under the cursor.
    pub field: KeysField,
    /// What a key sounds.
    pub plays: KeysPlay,
    /// The chords that keys play.
    pub keys: ChordKeys,
    /// The chosen key.
    pub key: U7,
    /// Whether a key is to be struck, and what for.
    pub waits: Option<Waits>,
    /// The change of the song that the settings are of.
    revision: u64,
}

impl KeysBox {
    fn new(track: &Track, key: U7, revision: u64) -> KeysBox {
        KeysBox {
            track: track.id,
            field: KeysField::Plays,
            plays: track.keys_play,
            keys: track.chord_keys.clone(),
            key,
            waits: None,
            revision,
        }
    }

    /// The chord on a key.
    pub fn chord(&self, key: U7, harmony: Harmony) -> ChordSymbol {
        chord_on(key, self.plays, &self.keys, harmony)
    }

    /// Whether a key has a chord of its own.
    pub fn is_own(&self, key: U7) -> bool {
        self.keys.own.contains_key(&key)
    }

    /// The inversion as it is heard: a triad has no third one.
    pub fn inversion(&self) -> u8 {
        self.keys.inversion % self.keys.stack.tones() as u8
    }

    /// What the setting under the cursor does as it is set; in braces are the ids of actions.
    pub fn sentence(&self, harmony: Harmony) -> String {
        if let Some(waits) = &self.waits {
            return match waits.chord {
                Some(chord) => format!(
                    "{chord} is picked up: strike the key that is to play it, or go to it with the arrows and press \
                     {{confirm}}."
                ),
                None => "Strike the key that you want to set, on any input.".to_string(),
            };
        }
        let has_chords = self.plays.has_chords();
        match self.field {
            KeysField::Plays => plays_sentence(self.plays, harmony),
            KeysField::Stack if self.plays == KeysPlay::Chart && harmony.chord.is_some() => {
                "No effect here: every key plays the chord of the chart.".to_string()
            }
            KeysField::Key => self.key_sentence(harmony),
            _ if !has_chords => {
                "No effect now: let keys play chords first, in the first setting.".to_string()
            }
            field => field.sentence().to_string(),
        }
    }

    fn key_sentence(&self, harmony: Harmony) -> String {
        let (chord, name) = (self.chord(self.key, harmony), pitch(self.key, harmony.key));
        let own = match (self.is_own(self.key), self.plays) {
            (true, _) => "its own (=)",
            (false, KeysPlay::Chart) if harmony.chord.is_some() => "the chart's",
            (false, _) => "in the key",
        };
        let with = if self.plays.has_chords() { "" } else { "With chords, " };
        let reset = if self.is_own(self.key) { ", {reset-chord} resets it" } else { "" };
        format!(
            "{with}{name} plays {chord}, {own}. {{confirm}} types a chord{reset}, {{pick-up-chord}} picks up the \
             one just played."
        )
    }
}

/// What keys play, in a sentence or two.
fn plays_sentence(plays: KeysPlay, harmony: Harmony) -> String {
    let key = match harmony.key {
        Some(key) => key.to_string(),
        None => "C major".to_string(),
    };
    let without = if harmony.key.is_none() {
        " The song has no key yet: outside this box {edit-song} sets it."
    } else {
        ""
    };
    match plays {
        KeysPlay::Notes => "Every key plays its own note.".to_string(),
        KeysPlay::Scale => format!("Every key plays the nearest note of {key}.{without}"),
        KeysPlay::Chord => format!(
            "Every key plays the nearest note of the chart's chord, and of {key} where the chart has none.{without}"
        ),
        KeysPlay::Chords => format!(
            "White keys play the chords of {key}, C the first. Black keys play the chord that leads to the white \
             key above.{without}"
        ),
        KeysPlay::Chart => format!(
            "Every key plays the chart's chord where you are; where the chart has none, a chord of {key}.{without}"
        ),
    }
}

impl Screen {
    pub(super) fn open_keys_box(&mut self, state: &DeskState) {
        let status = &state.status;
        if let Some(track) = armed(status) {
            let open = KeysBox::new(track, Self::middle(&self.piano), status.revision);
            self.open(Overlay::Keys(Box::new(open)));
        }
    }

    fn middle(piano: &crate::piano::Piano) -> U7 {
        crate::piano::Piano::middle_of(piano.octave())
    }

    /// The open box, if it is on top.
    fn keys_box(&mut self) -> Option<&mut KeysBox> {
        match self.overlays.top_mut() {
            Some(Overlay::Keys(open)) => Some(open),
            _ => None,
        }
    }

    pub(super) fn act_on_keys(
        &mut self,
        action: KeysAction,
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        self.end_wait(out);
        match action {
            KeysAction::PickUp => self.pick_up(&state.status, out),
            KeysAction::Strike => self.wait_for_key(None, &state.status, out),
            KeysAction::Reset => {
                let Some(open) = self.keys_box() else { return };
                open.field = KeysField::Key;
                match open.is_own(open.key) {
                    true => self.put_chord(None, out),
                    false => self.say("This key has no chord of its own."),
                }
            }
        }
    }

    /// Picks up the chord that was played last, or says why not.
    fn pick_up(&mut self, status: &Status, out: &mut Vec<Effect>) {
        if let Some(chord) = self.played.name() {
            return self.wait_for_key(Some(chord), status, out);
        }
        let key = harmony(status).key;
        let notes: Vec<String> = status.struck.iter().map(|&note| pitch(note, key)).collect();
        self.complain(&match notes.is_empty() {
            true => "There is no chord to pick up: play one first, on any input.".to_string(),
            false => format!(
                "{} {} not a chord with a name: play three or more notes together.",
                notes.join(" "),
                if notes.len() == 1 { "is" } else { "are" }
            ),
        });
    }

    /// Waits for a key to be struck. Keys play their own notes meanwhile: what a chord was played with is not
    /// known from its notes.
    fn wait_for_key(&mut self, chord: Option<ChordSymbol>, status: &Status, out: &mut Vec<Effect>) {
        let Some(open) = self.keys_box() else { return };
        let tries = open.plays != KeysPlay::Notes;
        open.field = KeysField::Key;
        open.waits = Some(Waits { chord, before: Arc::clone(&status.struck), tries });
        if tries {
            let edit = Edit::Track(open.track, TrackEdit::KeysPlay(KeysPlay::Notes));
            out.push(Effect::Command(Command::Try(Commit::of(edit))));
        }
    }

    /// Ends the wait for a key, if there is one; returns the chord that was picked up.
    pub(super) fn end_wait(&mut self, out: &mut Vec<Effect>) -> Option<ChordSymbol> {
        let open = self.overlays.keys_mut()?;
        let waits = open.waits.take()?;
        if waits.tries {
            out.push(Effect::Command(Command::EndTry { keep: false }));
        }
        waits.chord
    }

    /// Takes a key that was struck: the cursor goes there, and a chord that was picked up is put there.
    pub(super) fn strike_in_keys_box(&mut self, key: U7, out: &mut Vec<Effect>) {
        let Some(open) = self.keys_box() else { return };
        open.key = key;
        if open.waits.is_some() {
            open.field = KeysField::Key;
            if let Some(chord) = self.end_wait(out) {
                self.put_chord(Some(chord), out);
            }
        }
        self.version += 1;
    }

    /// Puts a chord on the chosen key; `None` gives back the chord in the key.
    pub(super) fn put_chord(&mut self, chord: Option<ChordSymbol>, out: &mut Vec<Effect>) {
        let Some(open) = self.overlays.keys_mut() else { return };
        let key = open.key;
        let known = open.keys.own.get(&key).copied();
        if known == chord {
            return;
        }
        match chord {
            Some(chord) => open.keys.own.insert(key, chord),
            None => open.keys.own.remove(&key),
        };
        let edit = Edit::Track(open.track, TrackEdit::ChordKey(key, chord));
        out.push(Effect::Command(Command::Edit(Commit::of(edit))));
    }

    /// Opens the field for the chord of the chosen key, or puts there what was picked up.
    pub(super) fn confirm_keys_box(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        if let Some(chord) = self.end_wait(out) {
            return self.put_chord(Some(chord), out);
        }
        let harmony = harmony(&state.status);
        let Some(open) = self.keys_box() else { return };
        open.field = KeysField::Key;
        let in_key = chaconne_harmony::chord_on_key(
            open.key,
            harmony.key,
            &ChordKeys { own: Default::default(), ..open.keys.clone() },
        );
        let own = open.keys.own.get(&open.key).copied();
        let form = Form::chord_of_key(open.key, harmony.key, own, in_key);
        self.open(Overlay::Form(form));
    }

    /// Closes the box, or drops what was picked up.
    pub(super) fn cancel_keys_box(&mut self, open: Box<KeysBox>, out: &mut Vec<Effect>) {
        if open.waits.is_some() {
            self.overlays.open(Overlay::Keys(open));
            self.end_wait(out);
        }
    }

    pub(super) fn move_in_keys_box(&mut self, to: Move) {
        let Some(open) = self.keys_box() else { return };
        match to {
            Move::Up => open.field = open.field.beside(Vertical::Up),
            Move::Down => open.field = open.field.beside(Vertical::Down),
            _ => {}
        }
    }

    pub(super) fn step_in_keys_box(&mut self, way: Vertical) {
        if let Some(open) = self.keys_box() {
            open.field = open.field.beside(way);
        }
    }

    /// Moves the letters by an octave, and with them the chosen key of the box.
    pub(super) fn shift_octave(&mut self, way: Vertical) {
        let before = self.piano.octave();
        self.piano.shift_octave(way);
        let by = 12 * (i16::from(self.piano.octave()) - i16::from(before));
        if let Some(open) = self.keys_box() {
            let key = u8::try_from(i16::from(open.key.get()) + by).ok().and_then(U7::new);
            open.key = key.unwrap_or(open.key);
        }
    }

    /// Changes the setting under the cursor by a step.
    pub(super) fn adjust_in_keys_box(&mut self, side: Side, out: &mut Vec<Effect>) {
        let Some(open) = self.keys_box() else { return };
        let (track, right) = (open.track, side == Side::Right);
        let edit = match open.field {
            KeysField::Plays => beside(&KeysPlay::ALL, open.plays, side).map(|plays| {
                open.plays = plays;
                TrackEdit::KeysPlay(plays)
            }),
            KeysField::Stack => beside(&Stack::ALL, open.keys.stack, side).map(|stack| {
                open.keys.stack = stack;
                TrackEdit::ChordStack(stack)
            }),
            KeysField::Inversion => {
                let all: Vec<u8> = (0..open.keys.stack.tones() as u8).collect();
                beside(&all, open.inversion(), side).map(|nth| {
                    open.keys.inversion = nth;
                    TrackEdit::ChordInversion(nth)
                })
            }
            KeysField::Spacing => (open.keys.open != right).then(|| {
                open.keys.open = right;
                TrackEdit::ChordOpen(right)
            }),
            KeysField::Leading => (open.keys.leading != right).then(|| {
                open.keys.leading = right;
                TrackEdit::ChordLeading(right)
            }),
            KeysField::Key => {
                let by = if right { 1 } else { -1 };
                let key = u8::try_from(i16::from(open.key.get()) + by).ok().and_then(U7::new);
                open.key = key.unwrap_or(open.key);
                None
            }
        };
        if let Some(edit) = edit {
            self.end_wait(out);
            self.make(Commit::of(Edit::Track(track, edit)), out);
        }
    }

    /// Keeps the box to the armed track as the song has it, and takes a key that was struck on an input.
    pub(super) fn follow_keys_box(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let status = &state.status;
        let on_top = matches!(self.overlays.top(), Some(Overlay::Keys(_)));
        let Some(open) = self.overlays.keys_mut() else { return };
        let track = armed(status).filter(|track| track.id == open.track);
        let Some(track) = track else {
            self.end_wait(out);
            self.overlays.close_keys();
            return;
        };
        if std::mem::replace(&mut open.revision, status.revision) != status.revision {
            open.keys.clone_from(&track.chord_keys);
            if !open.waits.as_ref().is_some_and(|waits| waits.tries) {
                open.plays = track.keys_play;
            }
        }
        if !on_top {
            self.end_wait(out);
        } else if let Some(key) = open.waits.as_ref().and_then(|waits| new_key(waits, status)) {
            self.strike_in_keys_box(key, out);
        }
    }
}

/// The one key that was struck since a wait began.
fn new_key(waits: &Waits, status: &Status) -> Option<U7> {
    if Arc::ptr_eq(&waits.before, &status.struck) {
        return None;
    }
    let is_new = |key: &&U7| !waits.before.contains(key);
    let new: Vec<&U7> = status.struck.iter().filter(is_new).collect();
    match (&new[..], &status.struck[..]) {
        ([key], _) => Some(**key),
        // One of the chord that was let go.
        ([], [key]) => Some(*key),
        _ => None,
    }
}

/// The next of several, or the one before; none at the ends.
fn beside<T: Copy + PartialEq>(all: &[T], now: T, side: Side) -> Option<T> {
    let at = all.iter().position(|&one| one == now)?;
    let next = match side {
        Side::Left => at.checked_sub(1)?,
        Side::Right => at + 1,
    };
    all.get(next).copied()
}
