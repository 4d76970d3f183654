//! Baking: a pass with its feel and transposition applied, its lanes as gestures, indexed by tick.

use crate::View;
use crate::feel::{self, Felt};
use crate::gestures::{self, Gestures};
use chaconne_song::{
    Channel, Control, Feel, Groove, Lane, NoteId, Pass, PassId, SysEx, U7, transposed,
};
use chaconne_time::{MetreMap, TempoMap, Tick};
use std::sync::Arc;

/// A note as it sounds in a cycle of its pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Sounding {
    /// The start, from the cycle's start; may be negative, or past the pass's end.
    pub on: Tick,
    /// The start before feel.
    pub played: Tick,
    /// The start after quantise, before groove and human variation.
    pub meant: Tick,
    /// Its length, at most that of the pass: a longer note is cut when the pass starts again.
    pub length: Tick,
    pub key: U7,
    pub velocity: U7,
    pub release: U7,
    pub channel: Channel,
    pub note: NoteId,
}

/// A pass ready to be performed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Baked {
    pub pass: PassId,
    /// In order of `on`.
    pub notes: Vec<Sounding>,
    /// One for each controller of each channel.
    pub gestures: Vec<Gestures>,
    pub sysex: Vec<(Tick, Arc<[u8]>)>,
    pub length: Tick,
    /// Half a grid step: a note that starts this close before a cover counts as inside it.
    pub half: Tick,
    /// By how much feel moves a note to later at most.
    pub late: Tick,
}

impl Baked {
    /// Drops what does not depend on the key: the song sends it once, beside the same pass in another key.
    pub fn only_keys(&mut self) {
        let of_key = |gestures: &Gestures| matches!(gestures.control, Control::KeyPressure(_));
        self.gestures.retain(of_key);
        self.sysex.clear();
    }

    /// The range of the starts, extended to include 0 and the length of the pass.
    pub fn reach(&self) -> (Tick, Tick) {
        let first = self.notes.first().map_or(Tick::ZERO, |note| note.on);
        let last = self.notes.last().map_or(Tick::ZERO, |note| note.on);
        (first.min(Tick::ZERO), last.max(self.length))
    }
}

/// What is applied to a pass.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Setting<'g> {
    pub feel: Feel,
    /// The groove that the feel names.
    pub groove: Option<&'g Groove>,
    /// In semitones.
    pub transpose: i32,
}

/// Applies feel and transposition to a pass.
pub(crate) fn bake(
    pass: &Pass,
    Setting { feel, groove, transpose }: Setting<'_>,
    view: View,
    metre: &MetreMap,
    tempo: &TempoMap,
) -> Baked {
    let feel = feel::seen_by(view, feel);
    let groove = groove.filter(|_| feel.groove.is_some());
    let felt = feel::felt(pass, &feel, groove, metre, tempo);
    let mut notes: Vec<Sounding> = std::iter::zip(pass.notes(), felt)
        .map(|(note, Felt { on, meant, velocity })| {
            let stroke = note.stroke();
            Sounding {
                on,
                played: stroke.start,
                meant,
                length: stroke.length.min(pass.length).max(Tick(1)),
                key: transposed(stroke.key, transpose),
                velocity,
                release: stroke.release,
                channel: note.channel,
                note: note.id,
            }
        })
        .collect();
    notes.sort_by_key(|note| (note.on, note.channel, note.key, note.note));
    let late = notes.iter().map(|note| note.on - note.played).max();
    let whole = |message: &SysEx| (message.at, Arc::from(message.bytes.as_slice()));
    Baked {
        pass: pass.id,
        notes,
        gestures: gestures::of(pass.lanes().iter().map(|lane| moves(lane, transpose))),
        sysex: pass.sysex().iter().map(whole).collect(),
        length: pass.length,
        half: feel::half_step(&feel),
        late: late.unwrap_or_default().max(Tick::ZERO),
    }
}

/// A lane as the moves to send. The pressure of one key is transposed with the key.
pub(crate) fn moves(lane: &Lane, transpose: i32) -> Lane {
    let control = match lane.control {
        Control::KeyPressure(key) => Control::KeyPressure(transposed(key, transpose)),
        control => control,
    };
    Lane { control, points: lane.moves(), ..*lane }
}

#[cfg(test)]
mod tests;
